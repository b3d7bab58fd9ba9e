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

s = Scenario()
CELL = recordings.CELL + "largest_torque: 500 N·m\nlargest_speed: 9000 rpm\narm: 400 mm\nelevation: 150 m\n"
ENGINE = recordings.ENGINE + "valve_train_limit: 7500 rpm\nbreathing:\n  expected_torque: 195 N·m\n  torque_speed: 4600 rpm\n"
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


def scaled(name, factor, offset=0.0):
    def change(r):
        column = r.column(name)
        column[2] = [v * factor + offset for v in column[2]]
    return change


def renamed(name, other, unit):
    def change(r):
        column = r.column(name)
        column[0], column[1] = other, unit
    return change


def swapped(one, other):
    def change(r):
        a, b = r.column(one), r.column(other)
        a[2], b[2] = b[2], a[2]
    return change


def all_of(*changes):
    def change(r):
        for one in changes:
            one(r)
    return change


def without(*names):
    return lambda r: r.without(*names)


def fahrenheit(name):
    return scaled(name, 1.8, 32)


def unitless(name):
    return renamed(name, name, "")


def power(factor, unit="kW"):
    def change(r):
        r.add("Power", unit, [factor * t * n * 0.104719755 / 1000 for t, n in zip(r.column("Torque")[2], r.column("Engine Speed")[2])])
    return change


def constant(name, unit, value):
    return lambda r: r.add(name, unit, [value] * r.rows)


def cut(r):
    """Half of the file was pasted."""
    half = r.rows * 6 // 10
    for column in r.columns:
        column[2] = column[2][:half]


def standstill(r):
    """A zero that is 20 N·m off, seen while the engine stands."""
    for column in r.columns:
        first = column[2][0]
        column[2] = [0.0 if column[0] == "Engine Speed" else first] * 60 + column[2]
    r.column("Time")[2] = [i / 50 for i in range(r.rows)]
    torque = r.column("Torque")
    torque[2] = [20.0] * 60 + [v + 20 for v in torque[2][60:]]


NO_AIR = without("Baro", "Intake Air Temp", "Humidity")
AIR = ["--set", "pressure=995 hPa", "--set", "temperature=25 degC", "--set", "humidity=50 %"]
# says; what is changed in the recording; options; other cell or engine file; the doubt; what its mend begins with
ROWS = [
    ("barometer reduced to sea level, typed", NO_AIR, ["--set", "pressure=1046 hPa", *AIR[2:]], None, "pressure-span", "pull amend 5 --set \"pressure="),
    ("barometer of a mountain, typed", NO_AIR, ["--set", "pressure=780 hPa", *AIR[2:]], None, "pressure-span", "pull amend 5 --set \"pressure="),
    ("barometer 15 hPa off within half an hour", NO_AIR, ["--set", "pressure=1010 hPa", *AIR[2:]], None, "pressure-jump", "pull amend 5 --set \"pressure="),
    ("barometer channel is reduced to sea level", scaled("Baro", 1, 52), [], None, "pressure-", "pull amend 5"),
    ("barometer in inHg under hPa", scaled("Baro", 1 / 33.8638864), [], None, "", "pull amend 5"),
    ("the manifold is taken for the barometer", lambda r: r.column("Baro").__setitem__(2, [700 + 0.03 * n for n in r.column("Engine Speed")[2]]), [], None, "pressure-", "pull amend 5"),
    ("inlet air of 60 °C, typed", NO_AIR, [*AIR[:2], "--set", "temperature=62 degC", *AIR[4:]], None, "air-temperature", "pull amend 5 --set \"temperature="),
    ("inlet air in °F without a unit", all_of(fahrenheit("Intake Air Temp"), unitless("Intake Air Temp")), [], None, "other-unit", "pull amend 5 --units inlet_air_temperature=degF"),
    ("inlet air in °F under °C", fahrenheit("Intake Air Temp"), [], None, "other-unit", "pull amend 5 --units inlet_air_temperature=degF"),
    ("coolant in °F under °C", fahrenheit("Coolant Temp"), [], None, "other-unit", "pull amend 5 --units coolant_temperature=degF"),
    ("oil in °F under °C", fahrenheit("Oil Temp"), [], None, "other-unit", "pull amend 5 --units oil_temperature=degF"),
    ("humidity as a share under per cent", scaled("Humidity", 0.01), [], None, "humidity-low", "pull amend 5 --set \"humidity="),
    ("humidity typed as half a per cent", NO_AIR, [*AIR[:4], "--set", "humidity=0.5 %"], None, "humidity-low", "pull amend 5 --set \"humidity="),
    ("a dew point above the air", all_of(without("Humidity"), constant("Dew Point", "°C", 34.0)), [], None, "vapour-high", "pull amend 5 --set \"dew_point="),
    ("a dew point that the humidity denies", constant("Dew Point", "°C", 2.0), [], None, "humidity-two", "pull amend 5 --set \"humidity="),
    ("a wet bulb in °F under °C, typed", NO_AIR, [*AIR[:4], "--set", "wet_bulb=42 degC"], None, "vapour-high", "pull amend 5"),
    ("torque in lb-ft under N·m", scaled("Torque", 1 / 1.3558), [], None, "torque-unit", "pull amend 5 --units torque=lb-ft"),
    ("torque in lb-ft without a unit", all_of(scaled("Torque", 1 / 1.3558), unitless("Torque")), [], None, "torque-unit", "pull amend 5 --units torque=lb-ft"),
    ("torque in N·m under lb-ft", renamed("Torque", "Torque", "lb-ft"), [], None, "torque-unit", "pull amend 5 --units torque=N·m"),
    ("a load cell on the wrong hole of the arm", scaled("Torque", 1.3), [], None, "torque-before", "pull amend 5"),
    ("torque twice as large", scaled("Torque", 2.2), [], None, "bmep-high", "pull amend 5"),
    ("torque of the wrong sign", scaled("Torque", -1), [], None, "torque-sign", "pull discard 5"),
    ("a zero 20 N·m off", standstill, [], None, "torque-zero", "pull discard 5"),
    ("speed of twice the pulses", scaled("Engine Speed", 2), [], None, "piston-speed", "pull amend 5 --map"),
    ("speed of half the pulses", scaled("Engine Speed", 0.5), [], None, "speed-before", "pull amend 5 --map"),
    ("power of another scale", power(1.5), [], None, "power", "pull amend 5 --map"),
    ("power in hp under kW, torque in lb-ft under N·m", all_of(power(1 / 0.7457), scaled("Torque", 1 / 1.3558)), [], None, "", "pull amend 5"),
    ("lb-ft and hp without units", all_of(power(1 / 0.7457), scaled("Torque", 1 / 1.3558), unitless("Torque"), unitless("Power")), [], None, "power-units", "pull amend 5 --units torque=lb-ft"),
    ("swapped: torque and power", all_of(power(1), swapped("Torque", "Power")), [], None, "", "pull amend 5"),
    ("swapped: coolant and inlet air", swapped("Coolant Temp", "Intake Air Temp"), [], None, "", "pull amend 5"),
    ("swapped: oil pressure and oil temperature", swapped("Oil Pressure", "Oil Temp"), [], None, "", "pull amend 5"),
    ("air-fuel ratio under lambda", lambda r: r.column("Lambda").__setitem__(2, [12.9 for _ in range(r.rows)]), [], None, "ratio-as-lambda", "pull amend 5 --units lambda=AFR"),
    ("lambda as a voltage", scaled("Lambda", 0.3), [], None, "reading", "pull amend 5"),
    ("an air-fuel ratio scaled for ethanol", constant("AFR", "AFR", 7.9), [], None, "lambda-ratio", "pull amend 5 --set \"fuel="),
    ("fuel flow in lb/hr under g/s", constant("Fuel Flow", "g/s", 55), [], None, "fuel-flow", "pull amend 5 --units fuel_flow="),
    ("fuel flow of a tenth", constant("Fuel Flow", "kg/h", 3.2), [], None, "fuel-flow", "pull amend 5 --units fuel_flow="),
    ("air flow in lb/hr under kg/h, of twice the engine", constant("Air Flow", "kg/h", 900), [], None, "air-flow", "pull amend 5 --units air_flow="),
    ("oil pressure in psi under bar", scaled("Oil Pressure", 14.5), [], None, "other-unit", "pull amend 5 --units oil_pressure=psi"),
    ("the second speed has one pulse for two", lambda r: r.add("Dyno Speed", "rpm", [n / 2 for n in r.column("Engine Speed")[2]]), [], None, "second-speed", "pull amend 5 --map"),
    ("spark of 3 degrees for 30", None, ["--set", "spark=3 deg"], None, "spark-step", "pull amend 5 --set \"spark="),
    ("the recorded spark is not the one told", constant("Spark Advance", "deg", 36), [], None, "spark", "pull amend 5 --set \"spark="),
    ("a file that was pasted half", cut, [], None, "cut-off", "pull discard 5"),
    ("an inertia ten times too large", None, [], ("cell", CELL.replace("0.085 kg·m2", "0.85 kg·m2")), "cell-changed", "cell amend"),
    ("an arm of 500 mm for 400", None, [], ("cell", CELL.replace("400 mm", "500 mm")), "cell-changed", "cell amend"),
    ("another engine in the cell: half the size", None, [], ("engine", ENGINE.replace("cylinders: 4", "cylinders: 2").replace("195", "97")), "bmep-high", "pull amend 5 --engine"),
    ("another engine in the cell: five times the size", None, [], ("engine", ENGINE.replace("86 mm", "147 mm").replace("195", "950").replace("7500", "9900")), "", "pull amend 5"),
]


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
for number, (says, change, options, files, doubt, mend) in enumerate(ROWS):
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
