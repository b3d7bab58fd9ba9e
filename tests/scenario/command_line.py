"""The command line as a stranger meets it: help, examples that run, completion, man page, exit codes,
suggestions, and JSON with the keys that are promised.
"""
import os
import re
import resource
import shutil
import sqlite3
import subprocess

import recordings
import pictures
from harness import Scenario

s = Scenario()

# 1. help of every command, with examples
listing = s.good("help").out
commands = re.findall(r"^  ([a-z-]+(?: [a-z-]+)?)  +\S", listing, re.M)
s.check("help lists thirty commands or more", len(commands) >= 30, commands)
s.check("every line of help fits a screen of 120", all(len(line) <= 120 for line in listing.splitlines()), listing)
examples = []
for command in commands:
    text = s.good("help", *command.split()).out
    here = re.findall(r"^  enginewright (.*)$", text.split("Examples:")[-1], re.M)
    s.check(f"'{command}' has examples of itself", here and here[0].startswith(command), text)
    s.check(f"help of '{command}' fits a screen of 120", all(len(line) <= 120 for line in text.splitlines()
            if not line.startswith("  ")), text)
    s.check(f"'{command}' --help is its help", s.good(*command.split(), "--help").out == text)
    examples += here
for noun in sorted({c.split()[0] for c in commands if " " in c}):
    answer = s.run(noun)
    s.check(f"'{noun}' alone names its verbs",
            answer.code == 2 and f"{noun} " in answer.err and len(answer.err.splitlines()) == 1, answer)
for plain in ((), ("--help",), ("-h",)):
    s.check(f"{plain} shows the list", s.good(*plain).out == listing)
s.check("--version", re.fullmatch(r"enginewright \d+\.\d+\.\d+\n", s.good("--version").out))

# options may stand before the noun, between its words and behind them: the same answer
here = s.path("before.book")
s.good("engine", "add", s.write("before.yaml", recordings.ENGINE), "--book", here)
s.good("--book", here, "--set", "spark=30 deg", "pull", "add", s.write("before.csv", recordings.sweep().text()))
last = s.good("pull", "list", "--book", here, "--units", "us", "--json")
s.check("what stood before the noun was read", last.json["pulls"][0]["setup"]["spark_deg"] == 30 if "setup" in last.json["pulls"][0]
        else len(last.json["pulls"]) == 1, last)
for order in (("--book", here, "--units", "us", "--json", "pull", "list"), (f"--book={here}", "pull", "--units=us", "list", "--json"),
              ("pull", "--json", "--book", here, "--units", "us", "list"), ("--json", "pull", "list", "--units", "us", "--book", here)):
    s.check(f"{[o for o in order if o != here]}: the same answer", s.good(*order).out == last.out)
s.check("help before the noun", s.good("--help", "pull", "add").out == s.good("help", "pull", "add").out)
for says, args, *words in (("an option that no command has", ("--bok", here, "pull", "list"), "--bok", "--book"),
                           ("an option without its value", ("--book",), "--book", "FILE"),
                           ("an option before an option", ("--book", "--json", "pull", "list"), "--book", "FILE"),
                           ("options and no command", ("--book", here), "command"),
                           ("an option of another command", ("--rate", "1 rpm/s", "air", "standards"), "--rate"),
                           ("a command that is none", ("--book", here, "pul", "list"), "pul list", "pull list")):
    s.refused(says, s.run(*args), *words)

group = s.good("help", "pull").out
s.check("help of a group: its commands, a line each", all(f"  {c} " in group for c in commands if c.startswith("pull "))
        and len(group.splitlines()) == sum(c.startswith("pull ") for c in commands) + 2, group)
s.check("'pull --help' is the same", s.good("pull", "--help").out == group)
s.check("no value is marked twice as many", all("......" not in s.good("help", *c.split()).out for c in commands))
# 2. every example of help runs as it stands, in a folder that has what it names
work = s.path("work")
os.makedirs(os.path.join(work, "bin"))
os.symlink(s.program, os.path.join(work, "bin", "enginewright"))
source = os.path.abspath(os.path.join(os.path.dirname(__file__), "..", ".."))
os.symlink(os.path.join(source, "examples"), os.path.join(work, "examples"))
s.good("demo", "--folder", s.path("demo"))
os.makedirs(s.path("data/enginewright"))
shutil.copy(s.path("demo/demo.book"), s.path("data/enginewright/shop.book"))
seeds = {name: n for n, name in enumerate(["run-01", "run-07", "monday", "before", "after", "a1", "a2", "b1", "b2", "x",
                                           "y", "run-02", "run-03", "run-04"])}
for name, seed in seeds.items():
    s.write(f"work/{name}.csv", recordings.sweep(seed=seed + 1).text())
s.write("work/logger.yaml", "channels:\n  torque: { column: Torque, unit: N·m }\n")
s.write("work/cell-1.yaml", recordings.CELL)
s.write("work/my-engine.yaml", recordings.ENGINE)
s.write("work/cam-card.pdf", b"%PDF-1.4\n%%EOF\n")
s.run("sheet", "report", "--out", s.path("work/logo.png"))
shutil.copy(s.path("work/logo.png"), s.path("work/logo-page.png"))
if "build template" in commands:
    s.write("work/my-targets.yaml", s.good("build", "template", "targets").out)
shutil.copy(s.path("demo/demo.book"), s.path("work/jobs.book"))
def round_books():
    """Two cells' books after a whole round of a reference engine: pulls 12 to 15 are the first cell's first visit, 31 and 32 a customer's."""
    mine, theirs = s.path("round.book"), s.path("work/cell2.book")
    for book, cell in ((mine, "Cell 1"), (theirs, "Cell 2")):
        s.good("book", "new", "--cell-file", s.write("round-cell.yaml", recordings.CELL.replace("cell 1", cell)), "--book", book)
        for engine in ("reference four", "customer four"):
            s.good("engine", "add", s.write("round-engine.yaml", recordings.ENGINE.replace("bench four", engine)), "--book", book)
        s.good("round", "new", "winter", "--engine", "reference four", "--cells", "Cell 1,Cell 2", "--pulls", "4", "--book", book)
    seeds = iter(range(400, 500))

    def add(book, engine, count, *more):
        return [s.good("pull", "add", s.write("round.csv", recordings.sweep(seed=next(seeds)).text()), "--engine", engine, "--set", "spark=28 deg", *(more if i == 0 else ()), "--book", book, "--json").json["pull_ids"][0]
                for i in range(count)]

    def visit(book, *more):
        s.good("round", "visit", "winter", *add(book, "reference four", 4, *more), "--book", book)

    add(mine, "customer four", 11)
    s.check("the example's pulls", add(mine, "reference four", 4) == [12, 13, 14, 15])
    shutil.copy(mine, s.path("round-before.book"))
    s.good("round", "visit", "winter", 12, 13, 14, 15, "--book", mine)
    visit(theirs)
    visit(mine, "--remounted")
    add(mine, "customer four", 13)
    add(theirs, "customer four", 5)


if "round new" in commands:
    round_books()
environment = {**s.environment, "PATH": os.path.join(work, "bin") + ":" + s.environment["PATH"]}
for number, example in enumerate(examples):
    line = example.replace("/tmp/", f"t{number}-").replace("/media/stick", work)
    if example.startswith("book new"):
        line += " --book new.book" if "--book" not in line else ""
    if line.startswith("engine add"):  # a new engine has no pulls to show
        line += " --book engines.book"
    if line.startswith("engine new >"):
        line = line.replace("my-engine.yaml", "new-engine.yaml")
    if "| man" in line and not shutil.which("man"):
        line = line.split("|")[0]
    if not line.startswith(("build", "recorder show", "recorder list", "recorder amend", "recorder withdraw", "shelf")):  # the demo's day as it stands; these follow each other
        shutil.copy(s.path("demo/demo.book"), s.path("data/enginewright/shop.book"))
    if line.startswith(("cell alarms --trip ", "cell found ")):  # a day on which something has tripped
        s.run("cell", "record", "--source", "practice:?pace=0&run=wait 5;speed 5000;throttle 60;wait 8;fault oil-pump;wait 20;end")
    if "--take-back" in line and line.startswith(("cell found", "pull seen")):  # of what was written before
        s.run(*line.split()[:3], "--what", "soot")
    if line.startswith("cell right --take-back"):
        s.run("cell", "right", "--how", "run-down, twice")
    if line.startswith("cell calibrations --take-back"):
        for read in range(4):
            s.run("cell", "zero", f"0.{read} N·m")
    if line.startswith("pull note") and "--take-back" in line:
        s.run("pull", "note", line.split()[2], "--speed", "4250 rpm", "--text", "dip here")
    if line.startswith("job engine"):
        s.run("build", "start", "--build", "first build", "--book", s.path("work/jobs.book"))
    if "--undo" in line:  # of what was amended before
        s.run("pull", "amend", line.split()[2], "--changed", "a jet", "--reason", "forgotten")
    if line.startswith("pull right"):  # of one that is held
        db = sqlite3.connect(s.path("data/enginewright/shop.book"))
        db.execute("INSERT INTO hold (pull_id, finding, at, uid, cell, writer, day) SELECT id, '{\"id\":\"test.odd\",\"arguments\":{}}', at, "
                   "'00000000-0000-7000-8000-000000000001', cell, writer, day FROM pull WHERE id = ?", (line.split()[2],))
        db.commit()
        db.close()
    if line.startswith("shelf add"):
        s.write("work/parts.yaml", "- place: camshaft\n  parts:\n    - {name: hill climb, price: 360, set: {inlet.duration: 284 deg}}\n")
        s.write("work/parts.csv", "place,name,price,inlet.duration\ncamshaft,fast road,340,274 deg\n")
    if line.startswith("car worth"):  # what 'car new' leaves to be said, of an invented car
        blank = s.good("car", "new").out
        s.write("work/car.yaml", re.sub(r"(?m)^# (mass|gears|final_drive|tyre_radius|drag_area|launch_speed):", r"\1:", blank))
    if line.startswith(("price ", "job ", "sheet quote", "sheet orders")):  # a job's day, in a book of its own
        line += " --book jobs.book"
    if line.startswith("book thin"):  # by the rule that another of its examples makes
        s.run("book", "set", "--idle-whole", "90 days")
    if line.startswith("round new"):
        line = line.replace("winter", "summer")
    if line.startswith("round"):
        shutil.copy(s.path("round-before.book" if "visit" in line else "round.book"), s.path("data/enginewright/shop.book"))
    if line.startswith("build fetch"):
        for more in range(2):
            s.run("build", "attach", s.write(f"work/card-{more}.pdf", f"%PDF-1.4 {more}\n"))
        os.unlink(s.path("work/cam-card.pdf"))
    if "plug-4.jpg" in line or line.startswith("book detach"):
        s.run("book", "attach", s.write("work/plug-4.jpg", pictures.JPEG))
    # these run until they are stopped, compute for minutes (predict.py and search_shares.py run those), or want a shop's store (shop.py) or a
    # day to come (share.py): their
    # options only
    if line.startswith(("cell record", "cell simulate", "serve", "engine predict", "engine fit", "engine vary", "engine search", "engine collect",
                        "book join", "book ship", "shop ", "share ")):
        line += " --help"
    done = subprocess.run(["bash", "-c", f"set -o pipefail; enginewright {line}"], cwd=work, env=environment,
                          capture_output=True, text=True, timeout=120, check=False, stdin=subprocess.DEVNULL)
    no = done.returncode == 1 and len(done.stderr.splitlines()) == 1  # asked, and answered with no
    s.check(f"example runs: {example}", no or (done.returncode == 0 and not done.stderr.strip()),
            (line, done.returncode, done.stderr))

# 3. completion and the man page
completion = s.good("completion").out
s.write("completion.bash", completion)
done = subprocess.run(["bash", "-n", s.path("completion.bash")], capture_output=True, text=True, check=False)
s.check("completion is valid bash", done.returncode == 0 and not done.stderr, done.stderr)


def complete(*words):
    script = (f"source {s.path('completion.bash')}; COMP_WORDS=({' '.join(repr(w) for w in words)}); "
              f"COMP_CWORD={len(words) - 1}; _enginewright; printf '%s\\n' \"${{COMPREPLY[@]}}\"")
    out = subprocess.run(["bash", "-c", script], capture_output=True, text=True, cwd=s.path("work/bin"), check=False)
    return out.stdout.split()


s.check("a noun is completed", complete("enginewright", "pul") == ["pull"], complete("enginewright", "pul"))
s.check("a verb is completed", "explain" in complete("enginewright", "pull", "ex"), complete("enginewright", "pull", "ex"))
s.check("an option is completed", complete("enginewright", "pull", "add", "--cha") == ["--changed"],
        complete("enginewright", "pull", "add", "--cha"))
s.check("an option of a one-word command is completed", "--margin" in complete("enginewright", "compare", "--mar"),
        complete("enginewright", "compare", "--mar"))
page = s.good("man").out
s.check("the man page names every command and option", all(c.replace("-", "\\-") in page for c in commands))
s.check("the man page has the exit status", "EXIT STATUS" in page)
if shutil.which("man"):
    done = subprocess.run(["man", "--warnings", "-l", "-"], input=page, capture_output=True, text=True, check=False,
                          env={**s.environment, "MANWIDTH": "100"})
    s.check("man reads the page without a warning", done.returncode == 0 and not done.stderr, done.stderr)
else:
    s.skip("man reads the page", "man is not installed")

# 4. suggestions
for says, args, *words in [("a noun with a slip", ["pul", "add"], "'pul add'", "'pull add'"),
                           ("a verb with a slip", ["pull", "ad"], "'pull ad'", "'pull add'"),
                           ("a word from nowhere", ["frobnicate"], "'frobnicate'", "help"),
                           ("an option with a slip", ["pull", "add", "x", "--chagned", "y"], "--chagned", "--changed"),
                           ("an option of another command", ["pull", "list", "--margin", "1 %"], "--margin", "pull list"),
                           ("a word too many", ["pull", "list", "x"], "x", "no arguments"),
                           ("an engine for what is of the whole book", ["book", "verify", "--engine", "x"], "--engine", "book verify"),
                           ("help of nothing", ["help", "moon"], "moon", "help")]:
    s.refused(says, s.run(*args), *words)

# 5. exit codes: 0 done, 1 an answer of no, 2 bad input, 3 internal
book = s.path("codes.book")
good = s.write("good.csv", recordings.sweep().text())
s.check("0 for what is done", s.run("book", "new", "--book", book).code == 0)
s.run("pull", "add", good, "--book", book)
for value in ("0.1 N·m", "0.2 N·m", "0.1 N·m", "0.2 N·m"):
    s.good("cell", "zero", value, "--book", book)
no = s.run("cell", "zero", "9 N·m", "--book", book)
s.check("1 for an answer of no", no.code == 1 and "outside its control limits" in no.err and no.out, no)
s.check("2 for bad input", s.run("look", s.path("gone.csv")).code == 2)
full = subprocess.run(["bash", "-c", f"'{s.program}' help > /dev/full"], capture_output=True, text=True, check=False)
s.check("3 when the answer cannot be written", full.returncode == 3 and "standard output" in full.stderr, full)

# A stream that was closed before the program began: its number must not go to the next file, be it the book
for closed, name in (("<&-", "input"), ("2>&-", "errors"), ("<&- 2>&-", "both")):
    one = subprocess.run(["bash", "-c", f"'{s.program}' pull list --book '{book}' {closed}"], capture_output=True, text=True, check=False)
    s.check(f"standard {name} closed: the same answer", one.returncode == 0 and one.stdout == s.good("pull", "list", "--book", book).out,
            one)
mute = subprocess.run(["bash", "-c", f"'{s.program}' pull list --book '{book}' >&-"], capture_output=True, text=True, check=False)
s.check("standard output closed: 3, and said", mute.returncode == 3 and "standard output" in mute.stderr, mute)
was = resource.getrusage(resource.RUSAGE_CHILDREN)
for start in ("<&-", "< /", "< /dev/null"):
    one = subprocess.run(["bash", "-c", f"'{s.program}' cell record --source practice: --for '2 s' --book '{s.path('closed.book')}' {start}"],
                         capture_output=True, text=True, check=False)
    now = resource.getrusage(resource.RUSAGE_CHILDREN)
    used, was = now.ru_utime + now.ru_stime - was.ru_utime - was.ru_stime, now
    s.check(f"recording with control {start} does not spin", one.returncode == 0 and used < 1.2, (used, one))
s.good("book", "verify", "--book", s.path("closed.book"))

# 6. JSON of the documented keys (SI inside)
factor = s.good("air", "factor", "--standard", "j1349", "--pressure", "985 hPa", "--temperature", "35 degC", "--humidity",
                "60 %", "--json").json
s.check("air factor has its keys", {"factor", "dry_pressure_pa", "vapour_pressure_pa", "in_range"} <= factor.keys(), factor)
# The figures by hand from the formulas of the standard (after SAE J1349: 1.18 (99/pd) sqrt(T/298) - 0.18) and
# Hyland and Wexler's saturation pressure at 35 °C, 5,628 Pa (ASHRAE Fundamentals, table of moist air).
vapour = 0.6 * 5628
byhand = 1.18 * 99000 / (98500 - vapour) * ((35 + 273) / 298) ** 0.5 - 0.18
s.check("air factor's vapour pressure", abs(factor["vapour_pressure_pa"] - vapour) < 5, factor)
s.check("air factor's dry pressure", abs(factor["dry_pressure_pa"] - (98500 - vapour)) < 5, factor)
s.check("air factor's factor", abs(factor["factor"] - byhand) < 2e-4 and factor["in_range"] is True, (factor, byhand))
for name, alias in [("j1349", "sae"), ("j607", "std"), ("iso1585", None), ("din70020", "din"), ("jisd1001", "jis"),
                    ("none", "observed")]:
    one = s.good("air", "factor", "--standard", name, *["--pressure", "985 hPa", "--temperature", "35 degC", "--humidity",
                                                       "60 %"], "--json").json
    s.check(f"{name} gives a factor", 0.9 < one["factor"] < 1.2, one)
    if alias:
        two = s.good("air", "factor", "--standard", alias, *["--pressure", "985 hPa", "--temperature", "35 degC",
                                                            "--humidity", "60 %"], "--json").json
        s.check(f"{alias} is {name}", one["factor"] == two["factor"] and two["standard"] == name, two)
s.check("observed is 1", s.good("air", "factor", "--standard", "observed", "--pressure", "900 hPa", "--temperature",
                                "35 degC", "--json").json["factor"] == 1)
listed = {row["name"] for row in s.good("air", "standards", "--json").json["standards"]}
s.check("air standards lists them", {"j1349", "j607", "iso1585", "din70020", "jisd1001", "none"} <= listed, listed)
curve = s.good("pull", "curve", good, "--json").json
arrays = ["speed_rpm", "torque_n_m", "torque_se_n_m", "power_w"]
s.check("pull curve has its arrays", all(isinstance(curve[k], list) and len(curve[k]) == len(curve["speed_rpm"]) > 20
                                         for k in arrays), curve.keys())
s.check("power is torque times speed", all(abs(p - t * n * 3.141592653589793 / 30) < 1e-6 * p for n, t, p in
                                           zip(curve["speed_rpm"], curve["torque_n_m"], curve["power_w"])))
added = s.good("pull", "add", s.write("more.csv", recordings.sweep(seed=8).text()), "--book", book, "--json").json
s.check("pull add has its keys", {"pull_ids", "rows", "channels", "sha256"} <= added.keys() and added["rows"] == 675 and
        added["channels"] == 13 and re.fullmatch("[0-9a-f]{64}", added["sha256"]), added)
files = [s.write(f"c{i}.csv", recordings.sweep(seed=30 + i, gain=1 + 0.03 * (i % 2)).text()) for i in range(4)]
history = [s.write(f"h{i}.csv", recordings.sweep(seed=50 + i, gain=1 + 0.002 * (i % 3)).text()) for i in range(6)]
verdict = s.good("compare", "--a", files[0], files[2], "--b", files[1], files[3], "--history",
                 *[f"{i // 3}={h}" for i, h in enumerate(history)], "--margin", "1 %", "--json").json
s.check("compare has its keys", {"verdict", "relative_difference", "relative_interval", "pulls_needed", "warnings"}
        <= verdict.keys(), verdict.keys())
s.check("compare: 3 % more is a gain", verdict["verdict"] == "gain" and len(verdict["relative_interval"]) == 2 and
        verdict["relative_interval"][0] < 0.03 < verdict["relative_interval"][1] and verdict["pulls_needed"] == 0, verdict)
lone = s.good("compare", files[0], files[1], "--json").json
s.check("one file a side and no history is undecided", lone["verdict"] == "undecided" and lone["pulls_needed"] > 0, lone)
quoted = s.good("pull", "curve", good, "--units", "us").out
s.check("--units us prints lb-ft and hp", "lb-ft" in quoted and "hp" in quoted, quoted[:200])
locale = s.run("pull", "curve", good, "--json", LC_ALL="de_DE.UTF-8", LANG="de_DE.UTF-8")
s.check("a German locale changes no figure", locale.out == s.run("pull", "curve", good, "--json").out)
s.finish()
