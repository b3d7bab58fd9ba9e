"""A newcomer's two messy days by the page alone: files dropped as a browser sends them, questions answered with the buttons that the page
offers, facts typed into its forms, to the printed report; no command, no file edited. The server is asked what the page asks.

Days and truth: tests/newcomer/make_day.py, made by textbook forms and none of the program's code (see newcomer.py).
"""
import datetime
import os
import re
import shutil
import subprocess
import sys
import urllib.parse
import zoneinfo

from harness import Scenario
from pages import Page

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "newcomer"))
import make_day  # noqa: E402

s = Scenario()
truth = make_day.make(s.path("stick"))
HP, LB_FT = 745.69987158227022, 1.3558179483314004
if not shutil.which("pdftotext"):
    s.skip("a newcomer's day by the page", "pdftotext is not installed")
    s.finish()


class Shop(Page):
    def good(self, says, method, path, body=None):
        status, answer = self.ask(method, path, body)
        s.check(f"{says}: {method} {path}", status == 200, answer)
        return answer

    def drop(self, path, written_at):
        """As the page does it: the bytes, the name, and when the file was written."""
        query = urllib.parse.urlencode({"name": os.path.basename(path), "written_at": written_at})
        with open(path, "rb") as file:
            status, answer = self.ask("POST", "recordings?" + query, file.read(), "application/octet-stream")
        s.check(f"{os.path.basename(path)} is taken", status == 200, answer)
        return answer

    def tap(self, held, reason):
        """The button of a held pull's question: its form, filled in by the program; sent as it is."""
        body = {"reason": reason}
        for ask in held["asks"]:
            s.check("nothing is left to fill in", ask["value"] is not None, ask)
            body.setdefault(ask["what"], {})[ask["name"]] = ask["value"]
        return self.good("a tap", "POST", f"pulls/{held['pull']}/amend", body)

    def amend(self, pull, **told):
        return self.good("typed", "POST", f"pulls/{pull}/amend", {"reason": "from the notebook", **told})

    def sheet(self, **query):
        path = "/api/v1/sheet?" + urllib.parse.urlencode({"format": "pdf", **query})
        import http.client
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)
        connection.request("GET", path, headers={"Cookie": self.cookie})
        response = connection.getresponse()
        data = response.read()
        connection.close()
        s.check("the report is printed", response.status == 200 and data[:5] == b"%PDF-", data[:300])
        return subprocess.run(["pdftotext", "-layout", s.write("sheet.pdf", data), "-"], capture_output=True, text=True, check=True).stdout


def peak(text, word, unit, true):
    found = re.search(rf"Highest {word} ([\d.,]+) ± ([\d.,]+) {unit} at ([\d,]+) rpm", text)
    if s.check(f"the report has its highest {word}", found, text[:1500]):
        value, doubt = (float(f.replace(",", "")) for f in found.groups()[:2])
        s.check(f"{word}: the true {true:.1f} lies within {value} ± {doubt}", abs(value - true) <= doubt and abs(value / true - 1) < 0.012)


def us_day():
    t, stick = truth["us"], s.path("stick/us")
    with Shop(s, s.path("us.book")) as page:
        page.good("the shop", "POST", "settings", {"shop": "Cedar Hollow Engines", "units": "us", "paper": "letter", "zone": "America/Los_Angeles"})
        page.good("the cell, a decimal slipped", "PUT", "cell", {"typed": {"name": "cell 1", "rotor_inertia": "2.4 kg·m2", "arm": "18 in"}})
        page.good("the engine", "PUT", "engines", {"typed": {"name": "pushrod 372", "serial": "PR-372-01", "owner": "R. Alder", "cylinders": "8", "bore": "4.065 in", "stroke": "3.587 in",
                                                            "fuel": "petrol", "agreed_limit": "6300 rpm"}, "version": None})
        evening = "2026-12-01T02:00:00Z"  # the files were copied in the evening; their own clocks say when they ran
        first = page.drop(os.path.join(stick, "LOG0411.CSV"), evening)
        ids = [h["finding"]["id"] for h in first["held"]]
        s.check("units that the file does not name are asked about", "pull.doubt-units" in ids, first["held"])
        s.check("and the inertia, of which only acceleration tells", "pull.doubt-inertia-share" in ids, first["held"])
        page.good("the maker's plate is read", "PUT", "cell", {"typed": {"rotor_inertia": "0.24 kg·m2"}})
        page.amend(1, cell={"rotor_inertia": "0.24 kg·m2"}, purpose="heat", set={"spark": "30 deg"})
        row = page.good("the list", "GET", "pulls")["pulls"][0]
        if row["held"]:
            page.good("all US", "POST", "pulls/1/right", {"reason": "all US"})
        s.check("it ran when its own clock says", row["at"].startswith("2026-11-30T17:12"), row["at"])
        for name in ("LOG0412.CSV", "LOG0413.CSV"):
            s.check(f"{name} is not asked about again", page.drop(os.path.join(stick, name), evening)["held"] == [])
        for name in ("LOG0414.CSV", "LOG0415.CSV"):
            page.drop(os.path.join(stick, name), evening)
        page.amend(5, set={"spark": "34 deg"}, changed="four degrees more")
        page.amend(6, set={"spark": "34 deg"})
        noon = page.drop(os.path.join(stick, "LOG0416.CSV"), evening)
        s.check("without a barometer nothing is corrected, and that is said", any("weather" in n["id"] or "uncorrected" in n["id"] for n in noon["notes"]) or noon["held"], noon)
        for held in noon["held"]:
            page.good("all US", "POST", f"pulls/{held['pull']}/right", {"reason": "all US"})
        found = page.job("check")["answer"]["findings"]
        mend = next((row for row in found if row["finding"]["id"] == "desk.check-no-weather"), None)
        s.check("what looks wrong in the book has it, with its form", mend and mend["pull"] == 7 and [a["name"] for a in mend["asks"]] == ["pressure", "temperature", "humidity"], found)
        page.amend(7, set={"pressure": f"{t['noon']['baro_inhg']:.2f} inHg", "humidity": "41 %"})
        s.check("then nothing looks wrong but the calibration", all(row["pull"] is None for row in page.job("check")["answer"]["findings"]), page.job("check")["answer"])
        answer = page.good("the question", "POST", "compare", {"a": [2, 3, 4], "b": [5, 6, 7]})
        gain = t["best"]["torque_n_m"] / t["base"]["torque_n_m"] - 1
        s.check(f"the answer holds the true gain of {100 * gain:.2f} %", answer["verdict"] == "gain" and answer["relative_interval"][0] <= gain <= answer["relative_interval"][1],
                (answer["verdict"], answer["relative_interval"]))
        text = page.sheet(kind="report", pulls="5,6,7")
        peak(text, "power", "hp", t["best"]["power_w"] / HP)
        peak(text, "torque", "lb-ft", t["best"]["torque_n_m"] / LB_FT)
        plain = re.sub(r"25 °C, 99|kPa dry", "", text)  # the standard's own air
        s.check("no other units on it", not re.search(r"N·m|\bkW\b|°C|\bkPa\b|\blitres?\b", plain), plain)


def si_day():
    t, stick, berlin = truth["si"], s.path("stick/si"), zoneinfo.ZoneInfo("Europe/Berlin")
    with Shop(s, s.path("si.book")) as page:
        page.good("the shop", "POST", "settings", {"shop": "Ahornweg Motoren", "zone": "Europe/Berlin"})
        page.good("the cell", "PUT", "cell", {"typed": {"name": "Prüfstand 1", "rotor_inertia": f"{t['rotor_inertia_kg_m2']} kg·m2", "arm": "400 mm"}})
        page.good("the engine", "PUT", "engines", {"typed": {"name": "four 2.0", "cylinders": "4", "bore": "86 mm", "stroke": "86.03 mm", "fuel": "petrol", "agreed_limit": "7200 rpm"}, "version": None})

        def drop(name, clock):
            written = datetime.datetime.fromisoformat(f"2026-11-27T{clock}:00").replace(tzinfo=berlin).astimezone(datetime.timezone.utc)
            return page.drop(os.path.join(stick, f"messung_{name}.txt"), written.strftime("%Y-%m-%dT%H:%M:%SZ"))

        first = drop("007", "10:17")
        s.check("an air-fuel ratio under the name of lambda is asked about", [h["finding"]["id"] for h in first["held"]] == ["pull.doubt-ratio-as-lambda"], first["held"])
        page.tap(first["held"][0], "the box sends AFR")
        page.amend(1, purpose="heat", set={"spark": "24 deg"})
        for number, (name, spark, clock) in enumerate((("008", 24, "10:24"), ("009", 24, "10:31"), ("010", 27, "10:39"), ("011", 27, "10:46")), 2):
            s.check(f"{name} is read as its recorder writes, unasked", drop(name, clock)["held"] == [])
            if spark == 27:
                page.amend(number, set={"spark": "27 deg"})
        pulls = page.good("the list", "GET", "pulls")["pulls"]
        s.check("nothing waits any more", not [p for p in pulls if p["held"]], [p["held"] for p in pulls])
        text = page.sheet(kind="report", pulls="4,5")
        peak(text, "power", "kW", t["best"]["power_w"] / 1000)
        peak(text, "torque", "N·m", t["best"]["torque_n_m"])
        s.check("the time has its offset", "+01:00" in text, text[:900])


def us_files_in_an_si_book():
    stick, evening = s.path("stick/us"), "2026-12-01T02:00:00Z"
    with Shop(s, s.path("left.book")) as page:
        page.good("the engine", "PUT", "engines", {"typed": {"name": "left", "cylinders": "8", "displacement": "372.4 cid", "fuel": "petrol"}, "version": None})
        held = page.drop(os.path.join(stick, "LOG0411.CSV"), evening)["held"]
        asked = [h for h in held if h["finding"]["id"] == "pull.doubt-us-units"]
        if s.check("one question for the whole file, with one button", len(asked) == 1 and [(a["what"], a["name"], a["value"]) for a in asked[0]["asks"]] == [("units", "all", "us")], held):
            page.tap(asked[0], "the box writes US units")
            s.check("the next file is not asked", page.drop(os.path.join(stick, "LOG0412.CSV"), evening)["held"] == [])


us_day()
si_day()
us_files_in_an_si_book()
s.finish()
