"""What is refused, and what is odd but usable.

Each refusal is exit code 2 with one line on stderr that names the file or the field, and leaves the
book as it was. What is odd but usable is imported, and the note says what was odd.
"""
import gzip
import io
import os
import random
import zipfile

import recordings
from harness import Scenario

s = Scenario()
good = s.write("good.csv", recordings.sweep().text())
other = s.write("other.csv", recordings.sweep(seed=2, gain=1.01).text())
book = s.path("shop.book")
s.write("engine.yaml", recordings.ENGINE)
s.good("engine", "add", s.path("engine.yaml"), "--book", book)
s.good("pull", "add", good, "--book", book)
s.good("pull", "add", other, "--book", book)


def state():
    """All of the book that a refusal may not change."""
    whole = s.run("book", "verify", "--book", book, "--json")
    pulls = s.run("pull", "list", "--book", book, "--json")
    info = s.run("book", "info", "--book", book, "--json").json["ledger"]
    return whole.code, whole.json["recordings"], whole.json["curves"], pulls.out, info["recordings"]


before = state()
s.check("the book is whole before", before[0] == 0 and before[2] == 2, before)


# 1. files that hold no table of measurements

def zipped():
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w") as archive:
        archive.writestr("a.csv", "1,2\n3,4\n" * 50)
    return data.getvalue()


def changed(seed=1, **columns):
    r = recordings.sweep(seed=seed)
    for name, change in columns.items():
        column = r.column(name.replace("_", " "))
        column[1:] = change(column)
    return r.text()


def unit_of(unit):
    return lambda column: [unit, column[2]]


def values_of(change):
    return lambda column: [column[1], [change(i, v) for i, v in enumerate(column[2])]]


chance = random.Random(5)
noise = bytes(chance.randrange(256) for _ in range(20000))
files = [
    ("an empty file", "empty.csv", b"", "empty"),
    ("blanks only", "blanks.csv", b"   \n\n  \n", "no table"),
    ("random bytes", "noise.csv", noise, "binary"),
    ("NUL bytes", "nul.csv", b"\0" * 5000, "binary"),
    ("a table with NUL bytes in it", "nuls.csv", b"a,b\n" + b"1,2\n\0\0\0\0,\0\0\n" * 40, "binary"),
    ("a zip renamed", "zip.csv", zipped(), "zip archive"),
    ("a gzip renamed", "gz.csv", gzip.compress(recordings.sweep().text().encode()), "gzip"),
    ("a PDF renamed", "pdf.csv", b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj\n<< /Type /Catalog >>\nendobj\n", "PDF"),
    ("a PNG renamed", "png.csv", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + noise[:500], "picture"),
    ("a JPEG renamed", "jpeg.csv", b"\xff\xd8\xff\xe0\0\x10JFIF\0" + noise[:500], "picture"),
    ("an old spreadsheet renamed", "xls.csv", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 500, "spreadsheet"),
    ("a program renamed", "elf.csv", b"\x7fELF\x02\x01\x01" + b"\0" * 500, "program"),
    ("a database renamed", "sql.csv", b"SQLite format 3\0" + b"\0" * 500, "database"),
    ("words only", "words.csv", b"Dear customer,\nthe engine runs well.\nRegards\n" * 20, "no table"),
    ("a web page", "page.csv", b"<html><head><title>Log</title></head>\n<body><p>none</p></body></html>\n", "no table"),
    ("a header without rows", "header.csv", b"Time [s],Engine Speed [rpm],Torque [N.m]\n", "no table"),
    ("one row of figures", "one.csv", b"Time [s],Engine Speed [rpm],Torque [N.m]\n0,3000,200\n", "one row"),
    ("one row and no header", "bare.csv", b"0,3000,200\n", "one row"),
    ("NaN everywhere", "nan.csv", b"Time,RPM,Torque\n" + b"NaN,NaN,NaN\n" * 300, "no table"),
    ("empty cells everywhere", "gaps.csv", b"Time,RPM,Torque\n" + b",,\n" * 300, "no table"),
    ("one time on all rows", "stuck.csv", b"Time [s],RPM,Torque\n" + b"1.5,3000,200\n" * 300, "one row"),
    ("negative rpm", "negative.csv", changed(Engine_Speed=values_of(lambda i, v: -v)), "Engine Speed", "above 0"),
    ("torque in bar", "bar.csv", changed(Torque=unit_of("bar")), "Torque", "'bar'", "not a unit of torque"),
    ("torque in kg", "kg.csv", changed(Torque=unit_of("kg")), "Torque", "'kg'", "not a unit of torque"),
    ("speed in degrees Celsius", "degc.csv", changed(Engine_Speed=unit_of("°C")), "Engine Speed", "'°C'"),
    ("time in volts", "volt.csv", changed(Time=unit_of("V")), "Time", "'V'", "not a unit of time"),
    ("25,000 columns", "wide.csv", (",".join(["1"] * 25000) + "\n") * 5, "25000 columns", "20000"),
    ("a line of 5 MB", "line.csv", b"a,b\n1,2\n3,4\n" + b"1" * 5_000_000 + b"\n", "longer than 4 MB"),
]
for says, name, content, *words in files:
    path = s.write(name, content)
    for command in (("look", path), ("pull", "curve", path), ("pull", "add", path, "--book", book)):
        s.refused(f"{says}: {command[0]} {command[1] if command[0] == 'pull' else ''}", s.run(*command), name, *words)
    os.unlink(path)

# 2. paths that are no files to read
os.mkdir(s.path("folder"))
locked = s.write("locked.csv", recordings.sweep().text())
os.chmod(locked, 0)
who = "nobody" if os.getuid() == 0 else None
for says, path, words in [("a folder", s.path("folder"), ["folder"]),
                          ("a missing file", s.path("missing.csv"), ["missing.csv", "No such file"]),
                          ("a folder that is a file", good + "/x.csv", ["Not a directory"]),
                          ("a device without an end", "/dev/zero", ["/dev/zero", "device"]),
                          ("an empty name", "", ["No such file"])]:
    s.refused(says + ": look", s.run("look", path), *words)
    s.refused(says + ": add", s.run("pull", "add", path, "--book", book), *words)
s.refused("a file that may not be read: look", s.run("look", locked, user=who, timeout=60), "locked.csv", "ermission")
s.refused("a file that may not be read: curve", s.run("pull", "curve", locked, user=who), "locked.csv", "ermission")

# 3. a line of 1 GB, streamed to disk; and one byte more than is read at all
huge = s.path("huge.csv")
with open(huge, "wb") as file:
    block = b"1234567890" * 400_000
    file.write(b"Time,RPM,Torque\n0,3000,200\n1,3100,201\n")
    for _ in range(249):
        file.write(block)
s.refused("a line of 1 GB: look", s.run("look", huge, timeout=600), "huge.csv", "longer than 4 MB")
s.refused("a line of 1 GB: add", s.run("pull", "add", huge, "--book", book, timeout=600), "huge.csv", "4 MB")
os.truncate(huge, 1_000_000_001)
s.refused("more than 1 GB", s.run("look", huge), "huge.csv", "over 1 GB")
os.unlink(huge)

# 4. YAML files: every command that takes one
laughs = "a: &a [x, x, x]\nb: &b [*a, *a, *a]\nc: [*b, *b, *b]\n"
bombs = [
    ("aliases that multiply", "bomb.yaml", laughs, "anchors"),
    ("an alias alone", "alias.yaml", "name: *x\n", "alias"),
    ("a tag", "tag.yaml", "name: !!python/object:os.system x\n", "tags"),
    ("1,000 levels", "deep.yaml", "a: " + "[" * 1000 + "]" * 1000 + "\n", "32 levels"),
    ("100 MB", "vast.yaml", "name: " + "x" * 100_000_000 + "\n", "4 MB"),
    ("5 MB", "fat.yaml", "name: " + "x" * 5_000_000 + "\n", "4 MB"),
    ("a key twice", "twice.yaml", "name: a\nname: b\n", "line 2", "given twice"),
    ("two documents", "two.yaml", "name: a\n---\nname: b\n", "second document"),
    ("no YAML", "broken.yaml", "name: [a\nb: }\n", "line 2", "not valid YAML"),
    ("a list where lines are wanted", "list.yaml", "- 1\n- 2\n", "list.yaml"),
    ("an empty file", "none.yaml", "", "empty"),
    ("binary", "binary.yaml", noise[:400], "binary.yaml"),
    ("an unknown word", "unknown.yaml", "nmae: x\n", "nmae"),
]
takers = [("engine add", ["engine", "add", "@", "--book", book]),
          ("cell file", ["book", "set", "--cell-file", "@", "--book", book]),
          ("method file", ["book", "set", "--method-file", "@", "--book", book]),
          ("channel map", ["pull", "add", good, "--map", "@", "--book", book]),
          ("method of a curve", ["pull", "curve", good, "--method", "@"]),
          ("cell of a curve", ["pull", "curve", good, "--cell-file", "@"]),
          ("engine of a curve", ["pull", "curve", good, "--engine-file", "@"]),
          ("script of a practice day", ["cell", "practice", "@", "--book", s.path("practice.book")])]
for says, name, content, *words in bombs:
    path = s.write(name, content)
    for taker, command in takers:
        if taker.startswith("script") and name == "unknown.yaml":
            words = ["a day needs"]
        s.refused(f"{taker}: {says}", s.run(*[path if c == "@" else c for c in command]), name, *words)
for says, name, content, taker, *words in [
        ("bore is no mass", "a.yaml", "name: x\nbore: 86 kg\n", 0, "line 2", "bore", "'kg'", "86 mm"),
        ("a figure without its unit", "b.yaml", "name: x\nbore: 86\n", 0, "bore", "unit"),
        ("a bore of 3 m", "c.yaml", "name: x\nbore: 3 m\n", 0, "bore", "3 m"),
        ("an engine without a name", "d.yaml", "bore: 86 mm\n", 0, "name"),
        ("a misspelt field", "e.yaml", "name: x\nstorke: 86 mm\n", 0, "storke", "stroke"),
        ("gauge pressure in a difference", "f.yaml", "pressure_uncertainty: 1 psig\n", 1, "pressure_uncertainty"),
        ("inertia in kg", "g.yaml", "rotor_inertia: 3 kg\n", 1, "rotor_inertia", "'kg'"),
        ("a standard that is none", "h.yaml", "standard: moon\n", 2, "standard", "moon"),
        ("a grid of 1 rpm", "i.yaml", "grid_step: 1 rpm\n", 2, "grid_step"),
        ("a list for one value", "j.yaml", "grid_step: [1, 2]\n", 2, "grid_step", "list"),
        ("a channel that is none", "k.yaml", "channels:\n  torq: { column: Torque }\n", 3, "torq", "torque"),
        ("a channel without its column", "l.yaml", "channels:\n  torque: { unit: N.m }\n", 3, "torque", "column"),
        ("a channel in a wrong unit", "m.yaml", "channels:\n  torque: { column: Torque, unit: psi }\n", 3, "psi"),
        ("a column that is not there", "n.yaml", "channels:\n  torque: { column: Load 1 }\n", 3, "Load 1"),
        ("a lag of a minute", "o.yaml", "channels:\n  torque: { column: Torque, lag: 60 s }\n", 3, "lag", "60 s")]:
    path = s.write(name, content)
    s.refused(says, s.run(*[path if c == "@" else c for c in takers[taker][1]]), *words)

# 5. options and settings
add = ["pull", "add", good, "--book", book]
compare = ["compare", "--a", good, "--b", other]
air = ["air", "factor", "--pressure", "985 hPa", "--temperature", "25 degC"]
notes = s.write("notes.txt", "no book\n" * 300)
for says, command, *words in [
        ("--set without a value", add + ["--set", "spark"], "spark", "name=value"),
        ("--set of an unknown name", add + ["--set", "sparc=30 deg"], "sparc", "spark"),
        ("spark in bar", add + ["--set", "spark=30 bar"], "spark", "'bar'"),
        ("spark without a unit", add + ["--set", "spark=30"], "spark", "unit"),
        ("spark out of range", add + ["--set", "spark=200 deg"], "spark", "200"),
        ("gauge for the barometer", add + ["--set", "pressure=14 psig"], "pressure", "gauge"),
        ("sea level for the barometer", add + ["--set", "pressure=1013 QNH"], "pressure", "sea level"),
        ("humidity of 160 %", add + ["--set", "humidity=160 %"], "humidity"),
        ("lambda as an air-fuel ratio", add + ["--set", "lambda=12.9 AFR"], "lambda", "fuel"),
        ("gallons that do not say which", add + ["--set", "oil_level=1 gal"], "oil_level", "US gal"),
        ("lash as an angle", add + ["--set", "lash_inlet=12 deg"], "lash_inlet"),
        ("text where a figure is wanted", add + ["--set", "rest=soon"], "rest", "soon"),
        ("infinity", add + ["--set", "rest=inf s"], "rest"),
        ("a purpose that is none", add + ["--purpose", "lunch"], "--purpose", "lunch"),
        ("a time that is none", add + ["--at", "yesterday"], "at:", "yesterday"),
        ("an engine that is not there", add + ["--engine", "nobody's"], "engine", "nobody's"),
        ("a standard that is none", add + ["--standard", "moon"], "--standard", "moon"),
        ("an unknown option", add + ["--sett", "x=1"], "--sett", "--set"),
        ("an option without its value", add + ["--at"], "--at", "value"),
        ("two files, one answer in JSON", add + [other, "--json"], "one file at a time"),
        ("no file", ["pull", "add", "--book", book], "FILE"),
        ("units of the moon", ["look", good, "--units", "moon"], "--units", "moon"),
        ("a part that is not there", ["pull", "curve", good, "--part", "7"], "--part 7"),
        ("a speed outside the pull", ["pull", "explain", good, "--speed", "20000 rpm"], "speed"),
        ("a speed without unit", ["pull", "explain", good, "--speed", "6000"], "--speed", "unit"),
        ("a speed in degrees", ["pull", "explain", good, "--speed", "60 deg"], "--speed", "'deg'"),
        ("a pull that is not there", ["pull", "show", "999", "--book", book], "999"),
        ("a pull that is not there, exported", ["pull", "export", "999", "--book", book], "999"),
        ("a pull of no book", ["pull", "show", "3"], "'3'", "--book"),
        ("a discard without a reason", ["pull", "discard", "1", "--book", book], "--reason"),
        ("a discard of nothing", ["pull", "discard", "999", "--reason", "x", "--book", book], "999"),
        ("a discard of a word", ["pull", "discard", "one", "--reason", "x", "--book", book], "one"),
        ("a discard of a pull and a word", ["pull", "discard", "1st", "--reason", "x", "--book", book], "1st"),
        ("one side", ["compare", "--a", good], "both sides"),
        ("one argument", ["compare", good], "two sides"),
        ("--order of other letters", compare + ["--order", "AX"], "order", "AX"),
        ("--order with too many", compare + ["--order", "ABAB"], "order", "2 of A"),
        ("a margin of half", compare + ["--margin", "50 %"], "--margin"),
        ("a margin in bar", compare + ["--margin", "1 bar"], "--margin", "'bar'"),
        ("a negative margin", compare + ["--margin", "-1 %"], "--margin"),
        ("a band upside down", compare + ["--band", "6000:4000"], "--band"),
        ("a band of one end", compare + ["--band", "6000"], "--band"),
        ("a band out of reach", compare + ["--band", "8000:9000"], "band"),
        ("a level that is none", compare + ["--level", "moon"], "--level", "moon"),
        ("history without a group", compare + ["--history", good], "--history", "GROUP=FILE"),
        ("history of a missing file", compare + ["--history", "1=" + s.path("gone.csv")], "gone.csv"),
        ("a sweep of the throttle", ["judge", "sweep", "throttle", good], "throttle", "spark"),
        ("a sweep of two settings", ["judge", "sweep", "spark", "1", "2", "--book", book], "setting"),
        ("a sweep with nothing", ["judge", "sweep", "spark"], "sweep"),
        ("an answer that is not kept", ["judge", "explain", "999", "--book", book], "answer"),
        ("an answer in words", ["judge", "explain", "last", "--book", book], "answer"),
        ("a step-up of nothing", ["judge", "step-up"], "PULL"),
        ("next in degrees", ["judge", "step-up", good, "--next", "6500 deg"], "--next", "'deg'"),
        ("air without a barometer", air[:2] + air[4:], "--pressure"),
        ("air with gauge pressure", air[:3] + ["3 psig"] + air[4:], "--pressure", "gauge"),
        ("air of the stratosphere", air[:3] + ["100 hPa"] + air[4:], "--pressure", "500 to 1085"),
        ("an oven", air[:5] + ["500 degC"], "--temperature"),
        ("no temperature", air[:4], "--temperature"),
        ("temperature in bar", air[:5] + ["25 bar"], "--temperature", "'bar'"),
        ("steam", air + ["--charging", "steam"], "--charging", "steam"),
        ("humidity of 300 %", air + ["--humidity", "300 %"], "umidity"),
        ("a dew point above the air", air + ["--dew-point", "60 degC"], "dew"),
        ("a wet bulb above the dry", air + ["--wet-bulb", "40 degC"], "wet"),
        ("two kinds of humidity", air + ["--humidity", "50 %", "--dew-point", "10 degC"], "humidity"),
        ("a book that is text", ["pull", "list", "--book", notes], "notes.txt", "not a book"),
        ("a book that is a folder", ["pull", "list", "--book", s.path("folder")], "folder"),
        ("a book that is not there", ["book", "verify", "--book", s.path("gone.book")], "gone.book"),
        ("a new book over an old one", ["book", "new", "--book", book], "shop.book", "already"),
        ("a backup over a file", ["book", "backup", good, "--book", book], "good.csv", "already"),
        ("a backup into no folder", ["book", "backup", s.path("no/where.book"), "--book", book], "no/where.book"),
        ("an export into a file", ["book", "export", good, "--book", book], "good.csv"),
        ("a report in words", ["sheet", "report", "--out", "report.doc", "--book", book], "report.doc", ".pdf"),
        ("a report on A3", ["sheet", "report", "--paper", "a3", "--book", book], "--paper", "a3"),
        ("a report on nothing", ["sheet", "report", "--pulls", "999", "--book", book], "999"),
        ("a report of nobody", ["sheet", "report", "--engine", "nobody", "--book", book], "nobody"),
        ("a report into no folder", ["sheet", "report", "--out", s.path("no/r.pdf"), "--book", book], "no/r.pdf"),
        ("a logo that is no picture", ["book", "set", "--logo", good, "--book", book], "logo", "PNG"),
        ("an engine that is not there", ["engine", "show", "nobody", "--book", book], "nobody"),
        ("a zero in bar", ["cell", "zero", "0.3 bar", "--book", book], "zero", "'bar'"),
        ("a check weight of nothing", ["cell", "check-weight", "98 N·m", "0 N·m", "--book", book], "check weight"),
        ("calibration without an arm", ["cell", "calibrate", "--weight", "10 kg=49 N·m", "--book", book], "--arm"),
        ("two points", ["cell", "calibrate", "--arm", "500 mm", "--weight", "10 kg=49 N·m", "20 kg=98 N·m",
                        "--book", book], "three points"),
        ("a weight without its reading", ["cell", "calibrate", "--arm", "500 mm", "--weight", "10 kg",
                                          "--book", book], "--weight", "10 kg"),
        ("a weight in newtons", ["cell", "calibrate", "--arm", "500 mm", "--weight", "98 N=49 N·m", "--book", book],
         "mass", "'N'"),
        ("practice without a book", ["cell", "practice", s.path("engine.yaml")], "--book")]:
    s.refused(says, s.run(*command), *words)
text_book = s.path("notes.txt")
s.check("the text that was called a book is as it was", open(text_book).read() == "no book\n" * 300)

# 6. nothing of all this is in the book
after = state()
s.check("the book is as it was before all refusals", after == before, f"{before}\n{after}")

# 7. odd, but usable: imported, and said
odd = recordings.sweep(seed=3)
half = odd.rows // 2


def reverse(r):
    for column in r.columns:
        column[2] = column[2][::-1]
    return r


def text_with(lines_change, **more):
    lines = recordings.sweep(**more).text().splitlines()
    return "\n".join(lines_change(lines)) + "\n"


for says, name, content, rows, pulls, *words in [
        ("time backwards", "back.csv", reverse(recordings.sweep(seed=4)).text(), odd.rows, 1, "pull.rows-sorted"),
        ("two rows changed places", "swap.csv", text_with(lambda a: a[:60] + [a[61], a[60]] + a[62:], seed=5),
         odd.rows, 1, "out of order"),
        ("a row twice", "again.csv", text_with(lambda a: a[:60] + [a[59]] + a[60:], seed=6), odd.rows, 1,
         "pull.rows-repeated"),
        ("words in the middle", "words2.csv",
         text_with(lambda a: a[:100] + ["knock heard here"] + a[100:], seed=7), odd.rows, 1, "base.table-lines-skipped", "line 101: 'knock heard here'"),
        ("a last row cut off", "cut.csv", recordings.sweep(seed=8).text()[:-40], odd.rows - 1, 1, "cut off"),
        ("no torque at all", "notorque.csv", recordings.sweep(seed=9).without("Torque").text(), odd.rows, 0,
         "no torque was recognised"),
        ("an engine at idle", "idle.csv", recordings.sweep(low=900, high=910, rate=10, seed=10).text(), None, 0,
         "no pull found"),
        ("no time", "notime.csv", recordings.full_load_points().text(), 9, 1),
        ("one name for two columns", "double.csv",
         recordings.sweep(seed=11).add("Torque", "N·m", [0.0] * odd.rows).text(), odd.rows, 1, "base.table-name-twice", "two columns are called 'Torque'"),
        ("oil pressure in °C", "oil.csv", changed(seed=23, Oil_Pressure=unit_of("°C")), odd.rows, 1),
        ("a row with a cell too many", "ragged.csv",
         text_with(lambda a: a[:100] + [a[100] + ",5"] + a[101:], seed=14), odd.rows, 1, "beyond the last column"),
        ("the header again, after a restart", "header2.csv",
         text_with(lambda a: a[:100] + [a[0]] + a[100:], seed=15), odd.rows, 1, "base.table-lines-skipped", "line 101: 'Time"),
        ("10,000 columns", "broad.csv", ",".join(f"spare {i}" for i in range(10000)) + "\n" +
         (",".join(["1.5"] * 10000) + "\n") * 6, 6, 0, "no pull found"),
        ("gaps in torque", "gap.csv", changed(Torque=values_of(lambda i, v: "" if i % 50 == 7 else v)), odd.rows, 1),
        ("a clock that jumps", "jump.csv", changed(Time=values_of(lambda i, v: v + (30 if i > 620 else 0))), odd.rows,
         1, "jumps"),
        ("a clock of whole seconds", "coarse.csv",
         changed(Time=lambda c: ["", [f"14:03:{int(v):02}" for v in c[2]]]), odd.rows, 1, "pull.coarse-clock"),
        ("a pressure at sea level", "qnh.csv", recordings.sweep(seed=12).without("Baro").add(
            "QNH", "hPa", [1013.0] * odd.rows).text(), odd.rows, 1, "pull.sea-level-pressure")]:
    path = s.write(name, content)
    answer = s.run("pull", "add", path, "--book", book, "--json")
    if s.check(f"{says}: imports", answer.code == 0 and answer.err == "", answer):
        got = answer.json
        s.check(f"{says}: rows", rows is None or got["rows"] == rows, (rows, got["rows"], got["notes"]))
        s.check(f"{says}: pulls", len(got["pull_ids"]) == pulls, got)
        s.check(f"{says}: says so", all(any(w in (n["id"], n["text"]) or w in n["text"] for n in got["notes"]) for w in words), (words, got["notes"]))

# 8. a recording that gave no pull is understood with a channel map, later
blind = recordings.sweep(seed=20)
for at, column in enumerate(blind.columns):
    column[0], column[1] = f"CH {chr(65 + at)}", ""
path = s.write("blind.csv", blind.text())
first = s.good("pull", "add", path, "--book", book, "--json").json
s.check("channels without names give no pull", first["pull_ids"] == [], first)
cmap = s.write("map.yaml", "channels:\n  time: { column: CH A, unit: s }\n  speed: { column: CH B, unit: rpm }\n"
               "  torque: { column: CH C, unit: N·m }\n  throttle: { column: CH D, unit: '%' }\n")
second = s.good("pull", "add", path, "--map", cmap, "--book", book, "--json").json
s.check("with a map the same bytes give a pull, and are stored once",
        len(second["pull_ids"]) == 1 and second["recording_id"] == first["recording_id"], second)
# 9. the map is remembered for files with these columns, however they are encoded
def encoded(text, how):
    if how == "CR":
        return text.replace("\n", "\r").encode()
    return text.encode("utf-8-sig" if how == "BOM" else how)


for seed, how in enumerate(("utf-8", "BOM", "utf-16", "utf-16-le", "utf-16-be", "CR"), start=30):
    other_blind = recordings.sweep(seed=seed)
    for at, column in enumerate(other_blind.columns):
        column[0], column[1] = f"CH {chr(65 + at)}", ""
    coded = s.write(f"coded-{how}.csv", encoded(other_blind.text(), how))
    got = s.good("pull", "add", coded, "--book", book, "--json").json
    s.check(f"the map given once is found for a file in {how}", len(got["pull_ids"]) == 1, got)
mac = recordings.sweep(seed=40, hz=500).text().replace("\n", "\r")
long_mac = s.write("long-cr.csv", mac)
got = s.good("pull", "add", long_mac, "--book", book, "--json").json
s.check("lines that end with CR alone, over many chunks", len(mac) > 600_000 and len(got["pull_ids"]) == 1, (len(mac), got))

# 10. an engine is found by its name before a number is taken for its place in the book
numbered = s.path("numbered.book")
for name in ("first", "1", "3"):
    s.good("engine", "add", s.write("n.yaml", f"name: \"{name}\"\nbore: 86 mm\nstroke: 86 mm\ncylinders: 4\n"),
           "--book", numbered)
for asked, want in (("1", "1"), ("2", "1"), ("3", "3"), ("first", "first")):
    shown = s.good("engine", "show", asked, "--book", numbered).out
    s.check(f"engine '{asked}'", shown.split("\n")[0].split()[-1] == want, shown[:80])

# 11. what is written for people is no recording
listed = s.good("book", "info", "--book", book, "--json").json["ledger"]["recordings"]
for name, content, word in (("engine.yaml", recordings.ENGINE, "YAML"), ("map.yaml", open(cmap).read(), "YAML"),
                            ("answer.json", first and s.run("pull", "list", "--book", book, "--json").out, "JSON")):
    s.refused(f"{name} as a recording", s.run("pull", "add", s.write(name, content), "--book", book), name, word)
s.check("and nothing of it is stored", s.run("book", "info", "--book", book, "--json").json["ledger"]["recordings"] == listed)

third = s.good("pull", "add", path, "--book", book, "--json").json
s.check("and then they are known", third["known_before"] and third["pull_ids"] == [], third)
s.check("the book is whole at the end", state()[0] == 0, state())
s.finish()
