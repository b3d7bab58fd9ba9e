"""A newcomer's two messy days, from the files of two recorders to a report, by command line alone and without editing a file.

The files come from tests/newcomer/make_day.py, which knows what the engines really make; the program is told only what a person in
the shop knows, and two things wrongly: the absorber's inertia ten times too large, and no barometer after lunch. Every figure of the
reports is held to that truth, which was made by textbook forms and none of the program's code. One page is one page: chromium's
print to PDF and poppler's pdfinfo count, in both papers. Units: no sheet of one system has a unit of the other.
"""
import json
import os
import re
import shutil
import subprocess
import sys

from harness import Scenario

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "newcomer"))
import make_day  # noqa: E402

s = Scenario()
truth = make_day.make(s.path("stick"))
HP, LB_FT = 745.69987158227022, 1.3558179483314004
SHEETS = [("report", "customer"), ("report", "shop"), ("day", None), ("build", None), ("care", None), ("dispatch", None), ("lash", None)]


def text_of(pdf):
    return subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True, check=True).stdout


def pages_of(pdf):
    return int(re.search(r"Pages:\s+(\d+)", subprocess.run(["pdfinfo", pdf], capture_output=True, text=True, check=True).stdout).group(1))


def near(says, found, want, share):
    s.check(f"{says}: {found:.1f} is {want:.1f} to {100 * share:.1f} %", abs(found / want - 1) <= share, (found, want))


def held_question(answer):
    """The question of a held pull, and its number."""
    found, number = re.search(r"HELD: (.*)", answer.out), re.search(r"pull right (\d+)", answer.out)
    return (found.group(1), number.group(1)) if found and number else ("", "0")


def peak(report, word, unit):
    found = re.search(rf"Highest {word} ([\d.,]+) ± ([\d.,]+) {unit} at ([\d,]+) rpm", report)
    s.check(f"the report has its highest {word}", found, report[:1500])
    return tuple(float(f.replace(",", "")) for f in found.groups()) if found else (1.0, 1.0, 1.0)


def one_page(book, name, *more):
    """The customer's sheet on both papers, as PDF and as HTML printed by a browser."""
    for paper in ("a4", "letter"):
        pdf, page = s.path(f"{name}-{paper}.pdf"), s.path(f"{name}-{paper}.html")
        s.good("sheet", "report", "--book", book, "--paper", paper, "--out", pdf, *more)
        s.good("sheet", "report", "--book", book, "--paper", paper, "--out", page, *more)
        s.check(f"{name}: one page of {paper}", pages_of(pdf) == 1, pages_of(pdf))
        browser = shutil.which("chromium")
        if not browser:
            s.skip(f"{name} printed on {paper}", "chromium is not there")
            continue
        printed = s.path(f"{name}-{paper}-printed.pdf")
        subprocess.run([browser, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer", f"--print-to-pdf={printed}", "file://" + page],
                       capture_output=True, timeout=120, check=False, env={**s.environment, "HOME": s.folder})
        s.check(f"{name}: one page of {paper} when printed", os.path.exists(printed) and pages_of(printed) == 1,
                pages_of(printed) if os.path.exists(printed) else "nothing printed")


FOREIGN = {"us": r"N·m|\bkW\b|\bhPa\b|°C|\bkPa\b|\bbar\b|\bcc\b|\bmm\b|\blitres?\b|\bkg\b|g/kWh|\d ?(?:L|l|ml|cl|g|K|m|cm|cm2|N|J|Pa|MJ/kg|l/min|kg/h|m/s|N/mm)\b",
           "si": r"lb-ft|\bhp\b|inHg|°F|\bpsi\b|\bcid\b|\blb/|\bin\b(?= )(?<=\d in)"}


def units_of_sheets(book, units):
    for kind, reader in SHEETS:
        out = s.path(f"{units}-{kind}-{reader}.pdf")
        s.good("sheet", kind, "--book", book, "--out", out, *(["--for", reader] if reader else []))
        text = " ".join(subprocess.run(["pdftotext", out, "-"], capture_output=True, text=True, check=True).stdout.split())
        # what is the same in both: a rule of the trade in both units, a standard's own reference conditions, chambers in cc
        text = re.sub(r"0\.05 mm \(0\.002 in\)|\((?:25 °C, 99 kPa dry|60 °F, 29\.92 inHg dry)\)|chamber volume, cc|oil level (?:-?[\d,]+ cc|not stated)(?: → -?[\d,]+ cc)?", "", text)
        foreign = [text[max(0, m.start() - 30):m.end() + 10] for m in re.finditer(FOREIGN[units], text)]
        s.check(f"{kind} {reader or ''} of a book in {units} has no other units", not foreign, foreign[:6])


def us_day():
    book, stick, t = s.path("us.book"), s.path("stick/us"), truth["us"]
    cell = s.write("cell.yaml", "name: cell 1\nrotor_inertia: 2.4 kg·m2\narm: 18 in\n")  # a decimal slipped
    engine = s.write("v8.yaml", "name: pushrod 372\nserial: PR-372-01\nowner: R. Alder\ncylinders: 8\nbore: 4.065 in\nstroke: 3.587 in\n"
                                "fuel: petrol\nagreed_limit: 6300 rpm\nequipment: water pump driven\n")
    s.good("book", "new", "--book", book, "--shop", "Cedar Hollow Engines", "--units", "us", "--zone", "America/Los_Angeles", "--paper", "letter",
           "--cell-file", cell)
    told = s.good("book", "info", "--book", book).out
    s.check("what was set is shown", all(w in told for w in ("Cedar Hollow", "us", "America/Los_Angeles", "letter")), told)
    look = s.good("look", os.path.join(stick, "LOG0411.CSV"), "--book", book).out
    for column, unit in (("Torque", "lb-ft"), ("H2O Temp", "degF"), ("Oil Prs", "psi")):
        s.check(f"{column} is looked at as the book will read it", re.search(rf"^{column}\s.*\s{unit}\s", look, re.M), look)
    s.check("A/F is a ratio", re.search(r"^A/F\s+air-fuel ratio", look, re.M), look)
    s.good("engine", "add", engine, "--book", book)
    first = s.good("pull", "add", os.path.join(stick, "LOG0411.CSV"), "--purpose", "heat", "--after-stop", "--set", "spark=30 deg", "--set", "oil_level=-1.2 L",
                   "--book", book)
    questions = re.findall(r"HELD: (.*)", first.out)
    s.check("units that the file does not name are asked about, once", any("lb-ft" in q for q in questions) and "pull right 1" in first.out, first)
    s.check("and an inertia that only acceleration tells", any("what spins rotor and coupling" in q for q in questions), first)
    s.check("the time is the file's, by the shop's clock", "2026-11-30 09:12 -08:00" in first.out, first)
    s.good("pull", "right", "1", "--reason", "all US", "--book", book)  # and the inertia is waved through
    morning = s.good("pull", "add", os.path.join(stick, "LOG0412.CSV"), os.path.join(stick, "LOG0413.CSV"), "--book", book)
    s.check("two files, and two pulls in one of them, unasked but for the inertia", "pull 4:" in morning.out and
            all("spins rotor" in q for q in re.findall(r"HELD: (.*)", morning.out)), morning)
    for held in sorted(set(re.findall(r"pull right (\d+)", morning.out))):
        s.good("pull", "right", held, "--reason", "as the file of the cell says", "--book", book)
    s.check("figures are printed in the book's units", "lb-ft" in morning.out and "N·m" not in morning.out, morning)
    s.good("pull", "add", os.path.join(stick, "LOG0414.CSV"), os.path.join(stick, "LOG0415.CSV"), "--set", "spark=34 deg", "--set",
           "oil_level=0 L", "--changed", "four degrees more", "--book", book)
    noon = s.good("pull", "add", os.path.join(stick, "LOG0416.CSV"), "--book", book)
    s.check("without a barometer nothing is corrected, and the mend is printed", "nothing was corrected" in noon.out and
            "pull amend 7 --set \"pressure=" in noon.out, noon)
    s.refused("two files at one time", s.run("pull", "add", "a.csv", "b.csv", "--at", "2026-11-30 10:00", "--book", book), "--at", "one file")
    question, number = held_question(noon)
    if number != "0":
        s.good("pull", "right", number, "--reason", "all US", "--book", book)
    before = s.good("pull", "list", "--book", book, "--json").json["pulls"]
    last = s.path("before.pdf")
    s.good("sheet", "report", "--book", book, "--out", last)
    s.check("the uncorrected pull is alone, and the sheet says that it is", "Of 1 pull alone" in text_of(last) and "NOT APPLIED" in text_of(last),
            text_of(last)[:1500])
    s.good("pull", "amend", "7", "--set", f"pressure={t['noon']['baro_inhg']:.2f} inHg", "--set", "humidity=41 %", "--reason",
           "read off the wall", "--book", book)
    s.good("cell", "amend", "--set", "rotor_inertia=0.24 kg·m2", "--reason", "the maker's plate", "--sure", "--book", book)
    after = s.good("pull", "list", "--book", book, "--json").json["pulls"]
    s.check("each pull is computed again", all(a["band_mean_torque_n_m"] < b["band_mean_torque_n_m"] for a, b in zip(after[:6], before[:6])), after)
    answer = s.good("compare", "--a", "2", "3", "4", "--b", "5", "6", "7", "--book", book, "--json").json
    gain = t["best"]["torque_n_m"] / t["base"]["torque_n_m"] - 1
    s.check(f"the answer holds the true gain of {100 * gain:.2f} %", answer["verdict"] == "gain" and answer["relative_interval"][0] <= gain <= answer["relative_interval"][1],
            (answer["verdict"], answer["relative_interval"]))
    s.good("build", "start", "--build", "street and strip", "--book", book)
    s.good("build", "agree", "street and strip, pump fuel", "--power", "440 hp", "--torque", "470 lb-ft", "--limit", "6300 rpm", "--book", book)
    sheet = s.path("us.pdf")
    s.good("sheet", "report", "--book", book, "--out", sheet, "--columns", "lambda,afr,fuel_flow")
    text = text_of(sheet)
    power, torque = peak(text, "power", "hp"), peak(text, "torque", "lb-ft")
    near("power", power[0], t["best"]["power_w"] / HP, 0.012)
    near("torque", torque[0], t["best"]["torque_n_m"] / LB_FT, 0.012)
    s.check("the true figures lie within what is printed", abs(power[0] - t["best"]["power_w"] / HP) <= power[1] and
            abs(torque[0] - t["best"]["torque_n_m"] / LB_FT) <= torque[1], (power, torque))
    flat = " ".join(text.split())
    s.check("a promise that is kept", re.search(r"power 440 hp \d+ ± \d+ hp at [\d,]+ rpm reached", flat), flat)
    s.check("a promise that is not", re.search(r"torque 470 lb-ft \d+ ± \d+ lb-ft at [\d,]+ rpm not reached", flat), flat)
    s.check("fuel and air-fuel ratio by choice", "AFR" in text and "lb/hr" in text and "BSFC" not in text, text)
    s.check("facts put right are counted for the customer", "corrected after they ran" in flat, flat)
    s.check("and the reason is the shop's", "the maker's plate" not in flat)
    s.good("sheet", "report", "--book", book, "--out", sheet, "--for", "shop")
    s.check("whose copy has it", "the maker's plate" in text_of(sheet) and re.search(r"\b[0-9a-f]{64}\b", text_of(sheet)))
    s.good("sheet", "care", "--book", book, "--out", sheet)
    care = " ".join(text_of(sheet).split())
    s.check("the care sheet has the proved spark and fuel, and who ran it", "34.0° before top dead centre" in care and "petrol" in care and
            "As it was in pulls 5, 6, 7" in care, care)
    s.check("and names what was put right", "Pull 7 was corrected on" in care and "read off the wall" in care, care)
    kept = s.good("pull", "curve", "6", "--book", book, "--json").json
    s.good("sheet", "report", "--book", book, "--out", sheet, "--standard", "j607")
    other = peak(text_of(sheet), "power", "hp")
    # J607 against J1349 from the day's air by hand: (29.92 inHg dry / p)(T / 520 R)^0.5 over the other (make_day.factor)
    p_dry = 979.0 - make_day.vapour_hpa(26.5, 0.46)
    ratio = (1013.25 / p_dry) * ((26.5 + 273.15) / 288.70556) ** 0.5 / make_day.factor(979.0, 26.5, 0.46)
    near("by another factor", other[0] / power[0], ratio, 0.004)
    s.check("it is marked, and the book stays", "onverted for this sheet" in text_of(sheet) and
            s.good("pull", "curve", "6", "--book", book, "--json").json == kept)
    units_of_sheets(book, "us")
    one_page(book, "us")
    one_page(book, "us-german", "--language", "de", "--columns", "lambda,afr,fuel_flow,bsfc,oil_pressure,oil_temperature")
    wrong = s.run("sheet", "report", "--book", book, "--out", sheet, "--columns", "lambda,exhaust_temperature")
    s.refused("a column that no pull has", wrong, "columns", "exhaust_temperature")
    s.refused("a column that there is none of", s.run("sheet", "report", "--book", book, "--out", sheet, "--columns", "colour"), "colour", "fuel_flow")
    s.refused("a reader that there is none of", s.run("sheet", "report", "--book", book, "--out", sheet, "--for", "me"), "--for", "customer")
    s.refused("a factor that there is none of", s.run("sheet", "report", "--book", book, "--out", sheet, "--standard", "moon"), "moon")
    # the tired person: everything too long, and it is one page all the same
    s.good("book", "set", "--book", book, "--terms", "Payment and liability as agreed in writing. " * 12, "--line", "An address that goes on. " * 12)
    s.good("pull", "amend", "7", "--set", "jets=" + "main 72, air 180, " * 20, "--reason", "all eight of them", "--book", book)
    for n in range(9):
        s.good("build", "seen", "plug", "light tan, strap marked half way, no specks; " * 3, "--position", n % 8 + 1, "--book", book)
    one_page(book, "us-long", "--title", "Proof of the engine after its second rebuild, with the other camshaft, " * 3)


def si_day():
    book, stick, t = s.path("si.book"), s.path("stick/si"), truth["si"]
    cell = s.write("zelle.yaml", f"name: Prüfstand 1\nrotor_inertia: {t['rotor_inertia_kg_m2']} kg·m2\narm: 400 mm\n")
    engine = s.write("four.yaml", "name: four 2.0\nserial: F20-7\nowner: K. Ahorn\ncylinders: 4\nbore: 86 mm\nstroke: 86.03 mm\nfuel: petrol\n"
                                  "agreed_limit: 7200 rpm\n")
    s.good("book", "new", "--book", book, "--shop", "Ahornweg Motoren", "--zone", "Europe/Berlin", "--sheet-language", "de", "--cell-file", cell)
    s.good("engine", "add", engine, "--book", book)
    first = s.good("pull", "add", os.path.join(stick, "messung_007.txt"), "--purpose", "heat", "--set", "spark=24 deg", "--at", "2026-11-27 10:15", "--book", book)
    question, number = held_question(first)
    s.check("an air-fuel ratio under the name of lambda is asked about", "lambda" in question.lower() and number == "1", first)
    mend = re.search(r"to correct it: enginewright (.*) --reason", first.out)
    s.check("with the command that mends it", mend and "lambda=AFR" in mend.group(1), first)
    for name, spark, at in (("008", 24, "10:21"), ("009", 24, "10:28"), ("010", 27, "10:36"), ("011", 27, "10:44")):
        s.good("pull", "add", os.path.join(stick, f"messung_{name}.txt"), "--set", f"spark={spark} deg", "--at", f"2026-11-27 {at}", "--book", book)
    none = s.run("sheet", "report", "--book", book, "--out", s.path("none.pdf"))
    s.refused("held pulls make no report, and that is why", none, "held with an open question: 5")
    s.good(*re.findall(r'"[^"]*"|\S+', mend.group(1).replace('"', "")) if mend else ("pull", "list"), "--reason", "the box sends AFR", "--book", book)
    s.good("pull", "amend", "--since", "2", "--units", "lambda=AFR", "--reason", "the box sends AFR", "--book", book)
    sheet = s.path("si.pdf")
    s.good("sheet", "report", "--book", book, "--out", sheet, "--language", "en")
    text = text_of(sheet)
    power, torque = peak(text, "power", "kW"), peak(text, "torque", "N·m")
    near("power", power[0], t["best"]["power_w"] / 1000, 0.012)
    near("torque", torque[0], t["best"]["torque_n_m"], 0.012)
    s.check("the time has its offset", "+01:00" in text, text[:900])
    s.good("sheet", "report", "--book", book, "--out", sheet)
    s.check("the customer's language is the book's", "Prüfbericht" in text_of(sheet), text_of(sheet)[:300])
    s.good("build", "start", "--build", "first", "--book", book)
    s.good("book", "set", "--sheet-language", "en", "--book", book)
    units_of_sheets(book, "si")
    one_page(book, "si")


def us_files_in_an_si_book():
    """The shop's units were left as they were: one question for the file, one command for the recorder, and it can be taken back."""
    book, stick = s.path("left.book"), s.path("stick/us")
    s.good("book", "new", "--book", book)
    s.good("engine", "add", s.write("left.yaml", "name: left\ncylinders: 8\ndisplacement: 372.4 cid\nfuel: petrol\n"), "--book", book)

    def added(name):
        return s.good("pull", "add", os.path.join(stick, name), "--book", book, "--json").json

    def held(pull):
        return [h["finding"]["id"] for h in pull["held"]]

    first = added("LOG0411.CSV")
    s.check("one question for all its columns", held(first).count("pull.doubt-us-units") == 1 and not any("other-unit" in h or "power-units" in h or "humidity" in h for h in held(first)), held(first))
    s.check("with the command that answers it", "--units all=us" in str(first["held"]), first["held"])
    done = s.good("pull", "amend", "1", "--units", "all=us", "--reason", "it is set to US units", "--book", book).out
    s.check("every column moves", all(w in done for w in ("N·m → lb-ft", "kW → hp", "kg/h → lb/hr", "kPa → psi", "degC → degF", "hPa → inHg")) and "HELD" not in done, done)
    second = added("LOG0412.CSV")
    s.check("the next file of that recorder is read so, unasked", held(second) == [], second)
    show = s.good("pull", "list", "--book", book, "--json").json["pulls"]
    near("two pulls alike", show[1]["band_mean_torque_n_m"], show[0]["band_mean_torque_n_m"], 0.02)
    s.refused("there is nothing left to move", s.run("pull", "amend", "1", "--units", "all=us", "--reason", "x", "--book", book), "all=us", "no column is left")
    s.good("pull", "amend", "1", "--undo", "--reason", "it was not", "--book", book)
    s.check("taken back, it is asked again of the next", "pull.doubt-us-units" in held(added("LOG0414.CSV")))
    both = s.good("pull", "add", os.path.join(s.path("stick/si"), "messung_007.txt"), "--at", "2026-11-27 10:15", "--book", book, "--json").json
    s.check("a file that names its units is not asked", "us-units" not in str(both), both)


us_day()
si_day()
us_files_in_an_si_book()
s.finish()
