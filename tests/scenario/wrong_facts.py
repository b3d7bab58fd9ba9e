"""Facts told wrongly, each put into an otherwise sound day: what the program said, that nothing used the pull, and which
command mends it.

The day is invented. Each row begins with its own copy of the same book: four sound pulls of a four-cylinder of two litres.
"""
import json
import os
import shutil
import sqlite3

import recordings
from harness import Scenario
from wrong_table import AIR, CELL, ENGINE, ROWS, all_of, fahrenheit, scaled

s = Scenario()
base = s.path("base.book")
s.good("book", "new", "--shop", "Weir Lane Engines", "--cell-file", s.write("cell.yaml", CELL), "--zone", "Europe/Berlin",
       "--book", base)
s.good("engine", "add", s.write("engine.yaml", ENGINE), "--book", base)
for number in range(4):
    sound = recordings.sweep(seed=number + 1, gain=1 + 0.001 * (number % 2))
    added = s.good("pull", "add", s.write(f"sound-{number}.csv", sound.text()), "--at", f"2026-11-30 0{8 + number // 4}:{10 + 5 * number}",
                   "--set", "spark=28 deg", "--book", base, "--json").json
    s.check(f"sound pull {number + 1} is not held", added["held"] == [], added)


def digest(book):
    """All that is answered from the book when nobody names a pull."""
    learnt = s.run("cell", "repeatability", "--book", book, "--json")
    with sqlite3.connect(book) as rows:
        counted = [r[0] for r in rows.execute("SELECT id FROM pull WHERE discarded IS NULL AND id NOT IN (SELECT pull_id FROM hold "
                                              "WHERE answered_at IS NULL) ORDER BY id")]
    return learnt.out, counted


before = digest(base)
s.check("the four sound pulls count", before[1] == [1, 2, 3, 4], before)


def prepared(says, files):
    book = s.path("row.book")
    for name in (book, book + "-wal", book + "-shm"):
        if os.path.exists(name):
            os.remove(name)
    shutil.copyfile(base, book)
    if files and files[0] == "engine":
        s.good("engine", "add", s.write("other.yaml", files[1]), "--book", book)
    return book


def wrong(number, says, change, options, files, doubt, mend):
    book = prepared(says, files)
    recording = recordings.sweep(seed=100 + number)
    if change:
        change(recording)
    at = [] if "--at" in options else ["--at", "2026-11-30 08:50"]
    cell = ["--cell-file", s.write("other.yaml", files[1])] if files and files[0] == "cell" else []
    added = s.run("pull", "add", s.write("wrong.csv", recording.text()), *at, *options, *cell, "--book", book, "--json")
    if not s.check(f"{says}: kept", added.code == 0, added):
        return
    held = added.json["held"]
    ids = [h["finding"]["id"] for h in held]
    s.check(f"{says}: held, and for the right reason", any(i.startswith("pull.doubt-" + doubt) for i in ids), (ids, added.json["notes"]))
    s.check(f"{says}: its mend is named", any(h["mend"].startswith(mend) for h in held), held)
    if not files or files[0] != "engine":
        s.check(f"{says}: nothing uses it", digest(book) == before, (before, digest(book)))
    text = s.run("pull", "show", 5, "--book", book)
    s.check(f"{says}: it can be looked at", text.code == 0, text)


count = 0
for number, (says, change, options, files, doubt, mend, _) in enumerate(ROWS):
    wrong(number, says, change, options, files, doubt, mend)
    count += 1
s.check("forty rows and more", count >= 40, count)

# the time said, and the time in the file
book = prepared("day", None)
day = recordings.sweep(seed=300).text(preamble="Date,2026-11-30\nTime,08:52:00\n")
added = s.good("pull", "add", s.write("day.csv", day), "--at", "2026-10-30 08:52", "--book", book, "--json").json
s.check("a wrong month is doubted", [h["finding"]["id"] for h in added["held"]] == ["pull.doubt-time"], added["held"])
book = prepared("day", None)
added = s.good("pull", "add", s.path("day.csv"), "--book", book, "--json").json
with sqlite3.connect(book) as rows:
    at, zone_day, told = rows.execute("SELECT at, day, told FROM pull WHERE id = 5").fetchone()
s.check("the file's own date and clock, by the shop's zone", at == "2026-11-30T07:52:00Z" and zone_day == "2026-11-30" and added["held"] == [], (at, added))
s.check("and where it comes from is kept", {"fact": "time", "from": "file", "at": at} in json.loads(told), told)
s.refused("a time to come", s.run("pull", "add", s.path("day.csv"), "--at", "2031-01-01 10:00", "--book", book), "still to come")
s.refused("a time that the clocks left out", s.run("pull", "add", s.path("day.csv"), "--at", "2026-03-29 02:30", "--book", book), "left out")
s.refused("a time that they showed twice", s.run("pull", "add", s.path("day.csv"), "--at", "2026-10-25 02:30", "--book", book), "twice", "+02:00", "+01:00")

# weather: carried for half an hour, then not; never silently taken as no correction
book = s.path("weather.book")
s.good("book", "new", "--cell-file", s.write("cell.yaml", CELL), "--zone", "Europe/Berlin", "--book", book)
s.good("engine", "add", s.write("engine.yaml", ENGINE), "--book", book)


def dry(number):
    return s.write(f"dry-{number}.csv", recordings.sweep(seed=400 + number).without("Baro", "Intake Air Temp", "Humidity").text())


def facts(pull):
    with sqlite3.connect(book) as rows:
        return {f["fact"]: f for f in json.loads(rows.execute("SELECT told FROM pull WHERE id = ?", (pull,)).fetchone()[0])}


def curve(pull):
    return s.good("pull", "curve", pull, "--book", book, "--json").json


s.good("pull", "add", dry(1), "--at", "2026-11-30 08:00", *AIR, "--book", book)
s.check("typed with it", facts(1)["pressure"]["from"] == "typed" and curve(1)["corrected"] == "corrected", facts(1))
s.good("pull", "add", dry(2), "--at", "2026-11-30 08:20", "--book", book)
two = facts(2)["pressure"]
s.check("carried on for 20 minutes, from the first", two["from"] == "carried" and two["pull"] == "1" and abs(two["age_s"] - 1200) < 1e-6, two)
s.check("its uncertainty grows", two["u"] > facts(1)["pressure"]["u"], (two, facts(1)))
s.check("and is in the budget", curve(2)["conditions"]["weather_age_s"] == 1200, curve(2)["conditions"])
rows = {r["from"]: r for r in s.good("pull", "explain", 2, "--speed", "5000 rpm", "--book", book, "--json").json["uncertainty"]}
s.check("as a row of its own that does not cancel", rows["age of the weather, through the factor"]["standard_n_m"] > 0 and
        not rows["age of the weather, through the factor"]["cancels_in_comparison"], rows)
third = s.good("pull", "add", dry(3), "--at", "2026-11-30 08:40", "--book", book, "--json").json
s.check("carried twice it is as old as when it was read: 40 minutes are too many", curve(3)["corrected"] == "uncorrected" and
        any(n["id"] == "desk.weather-too-old" for n in third["notes"]), third["notes"])
s.check("and it is not taken for weather", facts(3)["pressure"]["from"] == "unknown" and
        "pressure" not in str(s.good("pull", "show", 3, "--book", book, "--json").json["setup"].get("pressure_pa", "")), facts(3))
s.good("pull", "add", dry(4), "--at", "2026-11-30 08:45", "--set", "pressure=994 hPa", "--book", book)
s.check("a part of the weather alone corrects nothing", curve(4)["corrected"] == "uncorrected", curve(4)["conditions"])
s.good("pull", "add", dry(5), "--at", "2026-11-30 08:50", *AIR, "--set", "weather_age=25 min", "--book", book)
s.check("an age that was said counts", abs(facts(5)["pressure"]["age_s"] - 1500) < 1e-6 and curve(5)["conditions"]["weather_age_s"] == 1500, facts(5))
s.good("pull", "add", dry(6), "--at", "2026-11-30 09:00", "--book", book)
s.check("and is carried with it", curve(6)["corrected"] == "uncorrected", facts(6))
s.good("pull", "add", dry(7), "--at", "2026-11-30 08:10", "--set", "remark=late", "--book", book)
s.check("a pull added late takes what was told before it ran", facts(7)["pressure"]["pull"] == "1" and
        abs(facts(7)["pressure"]["age_s"] - 600) < 1e-6, facts(7))
text = s.good("pull", "curve", 3, "--book", book).out
s.check("text says so in plain words", "NOT CORRECTED" in text, text)

# a shop of US units: a file without units is read as such a shop writes, asked about once, and remembered
book = s.path("us.book")
s.good("book", "new", "--cell-file", s.write("cell.yaml", CELL.replace("elevation: 150 m\n", "")), "--sheet-units", "us", "--book", book)
s.good("engine", "add", s.write("engine.yaml", ENGINE), "--book", book)


def us_file(seed):
    r = recordings.sweep(seed=seed)
    all_of(scaled("Torque", 1 / 1.3558179), scaled("Baro", 1 / 33.8638864), scaled("Oil Pressure", 14.503774), scaled("Fuel Pressure", 14.503774),
           *[fahrenheit(n) for n in ("Oil Temp", "Coolant Temp", "Intake Air Temp")])(r)
    return r.text(units="none")


first = s.good("pull", "add", s.write("us-1.csv", us_file(501)), "--book", book, "--json").json
got = s.good("pull", "curve", 1, "--book", book, "--json").json
at = got["speed_rpm"].index(5000)
s.check("lb-ft, °F and inHg are read as such", abs(got["observed_torque_n_m"][at] / recordings.torque_n_m(5000) - 1) < 0.004 and
        abs(got["conditions"]["pressure_pa"] - 99000) < 50 and abs(got["conditions"]["oil_start_k"] - 358.2) < 1, got["conditions"])
s.check("and asked about", [h["finding"]["id"] for h in first["held"]] == ["pull.doubt-units"], first["held"])
second = s.good("pull", "add", s.write("us-2.csv", us_file(502)), "--book", book, "--json").json
s.check("once: the next file of this kind is read so without a word", second["held"] == [], second["held"])
s.check("both are the same figures again from raw", s.run("book", "verify", "--book", book).code == 0)
s.finish()
