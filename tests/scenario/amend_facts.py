"""What follows from an amendment: a new reading is doubted as a new pull is; weather keeps its age; run, mounting and calibration
follow a new time, which is the shop's; files that look the same are read rightly from then on; answers that learned from an amended
pull are marked.

The yardstick is a book that was told rightly from the start: facts, curves and answers are the same to the bit.
"""
import datetime
import json
import os
import signal
import sqlite3
import subprocess
import time

import recordings
from harness import Scenario

s = Scenario()
WEATHER = ("Baro", "Intake Air Temp", "Humidity")
FOUR = recordings.ENGINE.replace("bench four", "four")
AIR = ["--set", "pressure=985 hPa", "--set", "temperature=22 degC", "--set", "humidity=50 %"]
SPARK = ["--set", "spark=30 deg"]


def ask(book, sql, *values):
    db = sqlite3.connect(book)
    rows = db.execute(sql, values).fetchall()
    db.close()
    return rows


def new_book(name, *words):
    book = s.path(name)
    s.good("book", "new", "--book", book)
    s.good("book", "set", "--cell-file", s.write("cell.yaml", recordings.CELL), "--zone", "Europe/Berlin", *words, "--book", book)
    s.good("engine", "add", s.write("four.yaml", FOUR), "--book", book)
    return book


FILES = [s.write(f"run-{n}.csv", recordings.sweep(seed=n, gain=1 if n < 4 else 1.03).without(*WEATHER).text()) for n in range(1, 7)]


def add(book, n, at, *words, file=None):
    return s.good("pull", "add", file or FILES[n - 1], "--engine", "four", "--at", at, *words, "--book", book, "--json")


def amend(book, *words):
    return s.good("pull", "amend", *words, "--reason", "told wrongly", "--book", book, "--json").json


def facts(book):
    return ask(book, "SELECT p.id, p.at, p.day, p.run, p.mounting, p.setup, p.changed, p.band_mean_n_m, c.digest FROM pull p JOIN curve c ON c.pull_id = p.id ORDER BY p.id")


def told(book, pull):
    rows = json.loads(ask(book, "SELECT told FROM pull WHERE id = ?", pull)[0][0])
    return {row["fact"]: row for row in rows}


def plain(book, pull):
    """Where facts come from, without when they were corrected."""
    return {key: {k: v for k, v in row.items() if k != "amended"} for key, row in told(book, pull).items() if key not in ("engine", "set-up")}


def held(book):
    return {pull["id"]: pull["held"]["id"] for pull in s.good("pull", "list", "--book", book, "--json").json["pulls"] if pull["held"]}


# ---- an implausible amendment is kept and held, with its question, and used by nothing
book = new_book("held.book")
for n in range(1, 5):
    add(book, n, f"2026-03-02 1{n}:00", *AIR, *SPARK)
done = amend(book, "4", "--set", "pressure=1025 hPa")
s.check("a barometer that jumps holds the pull, with its mend", [row["pull"] for row in done["held"]] == [4] and done["held"][0]["finding"]["id"].startswith("pull.doubt-pressure")
        and "pull amend 4" in done["held"][0]["mend"], done["held"])
s.check("it is listed as held", list(held(book)) == [4])
text = s.run("compare", "--a", 1, 2, "--b", 4, "--book", book)
s.check("no question uses it", text.code != 0 or "held" in text.out, text)
text = s.good("pull", "amend", "4", "--set", "pressure=1030 hPa", "--reason", "told wrongly", "--book", book).out
s.check("for people too: the question, its mend, and how to say that it is right", "HELD" in text and "pull amend 4" in text and "pull right 4" in text, text)
done = amend(book, "4", "--set", "pressure=985 hPa")
s.check("the right figure lets it go", done["held"] == [] and held(book) == {}, done)
s.good("pull", "amend", "4", "--set", "pressure=1025 hPa", "--reason", "x", "--book", book)
s.good("pull", "right", "4", "--reason", "a storm", "--book", book)
done = amend(book, "4", "--set", "spark=29 deg")
s.check("what somebody said is right is not asked again for another fact", done["held"] == [], done)
done = amend(book, "4", "--set", "pressure=1060 hPa")
s.check("but for a figure that is far from it", [row["pull"] for row in done["held"]] == [4], done)
done = amend(book, "4", "--undo")
s.check("taken back, it is right as it was said to be", done["held"] == [] and held(book) == {}, done)
done = amend(book, "2", "--units", "torque=lb-ft")
s.check("a unit that no engine can have holds it", [row["pull"] for row in done["held"]] == [2], done)
s.good("pull", "amend", "2", "--set", "spark=31 deg", "--reason", "x", "--book", book)
s.check("an amendment of something else does not let it go", 2 in held(book))
s.good("pull", "amend", "2", "--units", "torque=N.m", "--reason", "x", "--book", book)
s.check("that of its unit does", held(book) == {}, held(book))

# ---- the shop's clock
book = new_book("clock.book")
add(book, 1, "2026-03-02 11:00", *AIR, *SPARK)
amend(book, "1", "--at", "2026-03-02 12:30")
s.check("a time without an offset is the shop's", ask(book, "SELECT at, day FROM pull") == [("2026-03-02T11:30:00.000Z", "2026-03-02")] or
        ask(book, "SELECT at FROM pull")[0][0].startswith("2026-03-02T11:30:00"), ask(book, "SELECT at FROM pull"))
before = facts(book)
for says, at, names in (("an hour that the clocks left out", "2026-03-29 02:30", ["2026-03-29 02:30"]), ("one that they showed twice", "2025-10-26 02:30", ["2025-10-26 02:30"]),
                        ("a day to come", "2031-01-01 10:00", ["still to come"]), ("words", "yesterday", ["yesterday"]), ("a zone that does not exist", "2026-03-02 11:00 Mars/Base", ["Mars"])):
    s.refused(f"time: {says}", s.run("pull", "amend", "1", "--at", at, "--reason", "x", "--book", book), *names)
s.check("nothing of these was stored", facts(book) == before)
s.good("pull", "amend", "1", "--at", "2025-10-26 02:30 +01:00", "--reason", "x", "--book", book)
s.check("with its offset it is known", facts(book)[0][1].startswith("2025-10-26T01:30"), facts(book))
file = s.write("dated.csv", "Date,2026-03-02\nTime,10:15\n" + open(FILES[4], encoding="utf-8").read())
s.good("pull", "add", file, "--engine", "four", *AIR, *SPARK, "--book", book)
done = amend(book, "2", "--at", "2026-03-05 10:15")
s.check("another day than the file says is asked about", [row["finding"]["id"] for row in done["held"]] == ["pull.doubt-time"], done)
s.good("pull", "amend", "2", "--set", "spark=31 deg", "--reason", "x", "--book", book)
s.check("and stays so while the day does", held(book) == {2: "pull.doubt-time"}, held(book))
s.good("pull", "amend", "2", "--at", "2026-03-02 10:20", "--reason", "x", "--book", book)
s.check("its own day does not", held(book) == {})

# ---- told: origin and age follow; to the bit those of a day told rightly
TIMES = {1: "2026-03-02 11:00", 2: "2026-03-02 11:20", 3: "2026-03-02 11:40", 4: "2026-03-03 09:00", 5: "2026-03-03 09:10", 6: "2026-03-03 09:20"}
TELL = {1: AIR + SPARK, 2: [], 3: AIR, 4: AIR, 5: ["--after-stop"], 6: ["--remounted"] + AIR}


def day(name, times=TIMES, tell=TELL, order=(1, 2, 3, 4, 5, 6)):
    one = new_book(name)
    for n in order:
        add(one, n, times[n], *tell[n])
    return one


right = day("right.book")
truth = facts(right)
origins = [plain(right, n) for n in range(1, 7)]
s.check("weather of twenty minutes is carried", origins[1]["pressure"]["from"] == "carried" and origins[1]["pressure"]["age_s"] == 1200, origins[1])
s.check("runs and mountings of the right days", [row[3:5] for row in truth] == [(1, 1), (1, 1), (1, 1), (2, 1), (3, 1), (4, 2)], truth)
PLAIN = {**TELL, 5: AIR}  # nothing of the fifth follows from when the fourth ran
for says, changes, mends, *other in (
        ("the weather of one", dict(tell={**TELL, 3: ["--set", "pressure=990 hPa", *AIR[2:]]}), [["3", "--set", "pressure=985 hPa"]]),
        ("a day", dict(times={**TIMES, 2: "2026-03-04 11:20"}, order=(1, 3, 4, 5, 6, 2)), [["6", "--at", TIMES[2]]]),
        ("an hour", dict(times={**TIMES, 2: "2026-03-02 11:50"}), [["2", "--at", TIMES[2]]]),
        ("an hour, among stops", dict(times={**TIMES, 5: "2026-03-03 09:30"}), [["5", "--at", TIMES[5]]]),
        ("a day, the first of the next", dict(times={**TIMES, 4: "2026-03-02 12:00"}, tell=PLAIN), [["4", "--at", TIMES[4]]], PLAIN)):
    book = day(f"wrong-{says.replace(' ', '-').replace(',', '')}.book", **changes)
    for mend in mends:
        amend(book, *mend)
    if other:
        plainly = day("right-plainly.book", tell=other[0])
        truth, origins = facts(plainly), [plain(plainly, n) for n in range(1, 7)]
    # pulls have their numbers in the order of adding: by time they are those of the right days
    now = sorted(facts(book), key=lambda row: row[1])
    name = {row[0]: want[0] for row, want in zip(now, truth)}
    different = [(a[0], [k for k in range(1, len(a)) if a[k] != b[k]], a[3:5], b[3:5]) for a, b in zip(now, truth) if a[1:] != b[1:]]
    s.check(f"{says}: time, day, run, mounting, set-up and curve are those of the right days", not different, different)
    for row, want in zip(now, origins):
        have = plain(book, row[0])
        for fact in have.values():
            if "pull" in fact:
                fact["pull"] = str(name[int(fact["pull"])])
        s.check(f"{says}: pull {row[0]} has its facts from where they are", {k: v for k, v in have.items() if k != "time"} == {k: v for k, v in want.items() if k != "time"}, (have, want))
    s.check(f"{says}: what was put right says when", any("amended" in fact for fact in told(book, int(mends[0][0])).values()))

# ---- a stop goes with the pull that told it: those after its old place and after its new one are numbered again, and back
book = day("stops.book", tell={**TELL, 2: ["--after-stop"] + AIR})
numbers = [row[3:5] for row in facts(book)]
s.check("a stop before the second", numbers == [(1, 1), (2, 1), (2, 1), (3, 1), (4, 1), (5, 2)], numbers)
done = amend(book, "2", "--at", "2026-03-03 09:15")
now = [row[3:5] for row in facts(book)]
s.check("it goes with it, and those around are of their runs again", now == [(1, 1), (2, 1), (1, 1), (3, 1), (4, 1), (5, 2)], now)
s.check("which moved is said", [m["arguments"]["pulls"]["text"] for m in done["notes"] if m["id"] == "desk.amend-others-moved"] == ["3"], done["notes"])
amend(book, "6", "--at", "2026-03-03 08:00")
s.check("what was taken off before counts for those that ran after it", [row[4] for row in facts(book)] == [1, 2, 1, 2, 2, 2], facts(book))
amend(book, "6", "--undo")
done = amend(book, "2", "--undo")
s.check("taken back, all have the numbers they had", [row[3:5] for row in facts(book)] == numbers, facts(book))
s.check("and who moved is said", [m["arguments"]["pulls"]["text"] for m in done["notes"] if m["id"] == "desk.amend-others-moved"] == ["3"], done["notes"])
s.good("book", "verify", "--book", book)

book = day("carried.book")
done = amend(book, "1", "--set", "pressure=980 hPa")
s.check("who took the weather over is named", [(m["id"], m["arguments"]["pulls"]["text"]) for m in done["notes"]] == [("desk.amend-carried-on", "2")], done)
done = amend(book, "--pulls", "1", "2", "--set", "temperature=21 degC")
s.check("but not when it is amended with it", done["notes"] == [], done)

# ---- the calibration in force at the new time
book = new_book("calibrated.book")
add(book, 1, "2026-03-02 11:00", *AIR, *SPARK)
s.good("cell", "calibrate", "--arm", "500 mm", "--weight", "10 kg=49.1 N·m", "20 kg=98.3 N·m", "10 kg=49.1 N·m", "--book", book)
s.check("a calibration of today does not count for March", ask(book, "SELECT calibration FROM curve") == [(None,)])
time.sleep(1.1)  # times are told to the second
now = datetime.datetime.now(datetime.timezone.utc).strftime("%Y-%m-%dT%H:%M:%SZ")
done = amend(book, "1", "--at", now)
s.check("moved to today the pull has it, and it is said", ask(book, "SELECT calibration FROM curve")[0][0] and "desk.amend-calibration" in [m["id"] for m in done["pulls"][0]["changes"]], done)
done = amend(book, "1", "--undo")
s.check("taken back it has none", ask(book, "SELECT calibration, digest FROM curve") == ask(book, "SELECT NULL, digest FROM former WHERE reading = 1"))

# ---- files that look the same
book = new_book("us.book", "--sheet-units", "us")
FEET = [recordings.sweep(seed=n, gain=0.74).without(*WEATHER).text(units="none") for n in range(21, 24)]
add(book, 1, "2026-03-02 11:00", *AIR, *SPARK, file=s.write("feet-1.csv", FEET[0]))
s.check("a file without units is asked about, once", list(held(book)) == [1], held(book))
s.good("pull", "amend", "1", "--set", "spark=31 deg", "--reason", "x", "--book", book)
s.check("an amendment of the spark does not answer for its units", held(book) == {1: "pull.doubt-units"}, held(book))
done = amend(book, "1", "--units", "torque=N.m")
s.check("that of a unit does, and files like it are read so", done["held"] == [] and [m["id"] for m in done["notes"]] == ["desk.amend-map-learned"], done)
add(book, 2, "2026-03-02 11:10", file=s.write("feet-2.csv", FEET[1]))
means = [row[0] for row in ask(book, "SELECT band_mean_n_m FROM pull ORDER BY id")]
s.check("the next one is read in N·m", abs(means[1] / means[0] - 1) < 0.01, means)
amend(book, "1", "--undo")
add(book, 3, "2026-03-02 11:20", file=s.write("feet-3.csv", FEET[2]))
means = [row[0] for row in ask(book, "SELECT band_mean_n_m FROM pull ORDER BY id")]
s.check("taken back, they are read as before", abs(means[2] / means[0] - 1) < 0.01 and means[0] > 1.3 * means[1], means)
done = amend(new := (lambda b: (add(b, 1, "2026-03-02 11:00", *AIR, *SPARK), b)[1])(new_book("none.book")), "--pulls", "1", "--units", "oil_pressure=psi")
s.check("where nothing was remembered, it is said that the next file is read as this was", [m["id"] for m in done["notes"]] == ["desk.amend-map-not-learned"], done)
s.finish()
