"""Evidence a second time, and readings that no air has: the same recording cut or rounded, a curve that this program exported, a barometer
that reads gauge pressure or millimetres of mercury, a recorder's clock of another zone, a date and a clock in two columns.

Usage: second_time.py PROGRAM"""
import os

import recordings
from harness import Scenario

s = Scenario()


def new_book(name, *more, cell=recordings.CELL):
    book = s.path(name)
    s.good("book", "new", "--cell-file", s.write("cell.yaml", cell), "--book", book, *more)
    s.good("engine", "add", s.write("engine.yaml", recordings.ENGINE), "--book", book)
    return book


def add(book, name, text, at=None):
    return s.good("pull", "add", s.write(name, text), *(["--at", at] if at else []), "--book", book, "--json").json


def asked(answer):
    return [h["finding"]["id"] for h in answer["held"]]


def counted(book):
    return [p["id"] for p in s.good("pull", "list", "--book", book, "--json").json["pulls"] if not p["held"] and not p["discarded"]]


# ---- the same recording again, otherwise than byte by byte ----
book = new_book("twice.book")
whole = recordings.sweep(seed=1).text()
add(book, "run-1.csv", whole, "2026-11-30 10:00")
add(book, "run-2.csv", recordings.sweep(seed=2).text(), "2026-11-30 10:10")
s.check("two pulls of one engine are two", counted(book) == [1, 2])
lines = whole.splitlines(True)
rounded = lines[0] + "".join(",".join(f"{float(v):.5g}" for v in line.split(",")) + "\n" for line in lines[1:])
for says, name, text in (("cut at its head, the next day", "again.csv", lines[0] + "".join(lines[30:])), ("its figures rounded", "rounded.csv", rounded),
                         ("cut at its tail", "tail.csv", "".join(lines[:-20])), ("with a preamble, and one row lost", "lost.csv", "Logger 7\nOperator;X\n\n" + "".join(lines[:400] + lines[401:]))):
    answer = add(book, name, text, "2026-12-01 10:00")
    s.check(f"{says}: held", "pull.doubt-twice" in asked(answer), answer["held"])
    if answer["pull_ids"]:
        held = next((h for h in answer["held"] if h["finding"]["id"] == "pull.doubt-twice"), None)
        s.check("and whose it is, is said, with what to do", held and "pull 1 " in held["finding"]["text"] and held["mend"] == f"pull discard {answer['pull_ids'][0]}", held)
        s.good("pull", "amend", answer["pull_ids"][0], "--set", "spark=30 deg", "--reason", "something else", "--book", book)
        s.check("an amendment of something else does not answer it", answer["pull_ids"][0] not in counted(book))
        s.good("pull", "discard", answer["pull_ids"][0], "--reason", "the same again", "--book", book)
s.check("only the two count", counted(book) == [1, 2], counted(book))
many = new_book("many.book")
for k in range(12):
    answer = add(many, f"m-{k}.csv", recordings.sweep(seed=200 + k).text(), f"2026-11-30 {10 + k // 6}:{k % 6}5")
    s.check("a sound pull of the same engine is not taken for another", "pull.doubt-twice" not in asked(answer), answer["held"])

# ---- a curve of ours as a recording ----
s.good("pull", "export", 1, "--out", s.path("export.csv"), "--book", book)
answer = s.good("pull", "add", s.path("export.csv"), "--at", "2026-12-01 12:00", "--book", book, "--json").json
s.check("an exported curve is no recording", "pull.doubt-own-export" in asked(answer), answer["held"])

# ---- readings that no air has ----
for value in (0.4, 0.0, -1.2):  # kPa, gauge
    r = recordings.sweep(seed=5)
    c = r.column("Baro")
    c[1], c[2] = "kPa", [value] * len(c[2])
    gauge = new_book(f"gauge{value}.book")
    answer = add(gauge, "gauge.csv", r.text(), "2026-11-30 10:00")
    s.check(f"a barometer of {value} kPa: kept, held and not corrected", len(answer["pull_ids"]) == 1 and any("reading" in i or "pressure" in i for i in asked(answer)) and
            s.good("pull", "curve", 1, "--book", gauge, "--json").json["corrected"] == "uncorrected", answer["held"])
    s.good("pull", "amend", 1, "--units", "barometer=not fitted", "--set", "pressure=990 hPa", "--reason", "a gauge", "--book", gauge)
    s.check("its mend", counted(gauge) == [1] and abs(s.good("pull", "explain", 1, "--book", gauge, "--json").json["pressure_pa"] - 99000) < 1)
    s.check("from raw again", s.run("book", "verify", "--book", gauge).code == 0)
mercury = new_book("mercury.book")
answer = add(mercury, "mm.csv", recordings.sweep(seed=6, pressure_hpa=742).text(), "2026-11-30 10:00")
s.check("742 under hPa is asked about where no height is stated", "pull.doubt-pressure-high-up" in asked(answer) and "mercury" in answer["held"][0]["finding"]["text"], answer["held"])
s.good("pull", "amend", 1, "--units", "barometer=mmHg", "--reason", "an old barometer", "--book", mercury)
s.check("its mend", counted(mercury) == [1] and abs(s.good("pull", "explain", 1, "--book", mercury, "--json").json["pressure_pa"] - 98925) < 30)
high = new_book("high.book", cell=recordings.CELL + "elevation: 2550 m\n")
s.check("nor asked about in a cell that lies there", "pull.doubt-pressure-high-up" not in asked(add(high, "high.csv", recordings.sweep(seed=7, pressure_hpa=742).text(), "2026-11-30 10:00")))
unstated = new_book("unstated.book")
add(unstated, "u-1.csv", recordings.sweep(seed=8, pressure_hpa=742).text(), "2026-11-30 10:00")
s.good("pull", "right", 1, "--reason", "a mountain", "--book", unstated)
s.check("once said to be right, it is not asked about again", asked(add(unstated, "u-2.csv", recordings.sweep(seed=9, pressure_hpa=742).text(), "2026-11-30 10:10")) == [])

# ---- clocks ----
zone = new_book("zone.book")
s.good("book", "set", "--zone", "America/Los_Angeles", "--book", zone)
path = s.write("utc.csv", "Start: 2026-11-30 17:12:00\n" + recordings.sweep(seed=10).text())  # UTC, written as if it were local
os.utime(path, (1796058780, 1796058780))  # 2026-11-30 17:13 UTC
answer = s.good("pull", "add", path, "--book", zone, "--json").json
s.check("a clock eight hours after the file was written is said", "desk.file-clock-ahead" in [n["id"] for n in answer["notes"]], answer["notes"])
path = s.write("local.csv", "Start: 2026-11-30 09:12:00\n" + recordings.sweep(seed=11).text())
os.utime(path, (1796058780, 1796058780))
answer = s.good("pull", "add", path, "--book", zone, "--json").json
s.check("one that is right is not", "desk.file-clock-ahead" not in [n["id"] for n in answer["notes"]], answer["notes"])
r = recordings.sweep(seed=12)
seconds = r.column("Time")[2]
clocks = [f"23:59:{50 + t:06.3f}" if t < 10 else f"00:00:{t - 10:06.3f}" for t in seconds]
two = "Date,Clock," + ",".join(f"{n} [{u}]" if u else n for n, u, _ in r.columns[1:]) + "\n"
for i, clock in enumerate(clocks):
    day = "2026-11-29" if seconds[i] < 10 else "2026-11-30"
    two += f"{day},{clock}," + ",".join(f"{c[2][i]:.6g}" for c in r.columns[1:]) + "\n"
columns = new_book("columns.book")
answer = add(columns, "two.csv", two)
s.check("a date and a clock in two columns are one time, over midnight too", len(answer["pull_ids"]) == 1, answer["notes"])
plain = new_book("plain.book")
add(plain, "one.csv", r.text(), "2026-11-30 10:00")
a, b = (s.good("pull", "curve", 1, "--book", k, "--json").json for k in (columns, plain))
s.check("with the curve of the file that counts seconds", max(abs(x / y - 1) for x, y in zip(a["torque_n_m"], b["torque_n_m"])) < 1e-6)
s.finish()
