"""A recorder's profile: proposed from its first file, used ever after, amended by a further version, withdrawn with a reason.

The recorder is invented: columns without telling names, US units, a clock of its own in another zone, and a lag.
"""
import json
import sqlite3
import time

import recordings
from harness import Scenario
from pages import Page

s = Scenario()
book = s.path("shop.book")
in_book = ["--book", book]
s.good("book", "new", "--zone", "Europe/Berlin", "--cell-file", s.write("cell.yaml", recordings.CELL), *in_book)
s.good("engine", "add", s.write("engine.yaml", recordings.ENGINE), *in_book)


def file(name, seed, preamble="Date,2026-11-30\nTime,09:15:00\n"):
    r = recordings.sweep(seed=seed)
    r.column("Torque")[2] = [t / 1.3558179 for t in r.column("Torque")[2]]
    r.column("Torque")[:2] = ["Load 1", ""]
    r.column("Oil Temp")[2] = [t * 1.8 + 32 for t in r.column("Oil Temp")[2]]
    r.column("Oil Temp")[:2] = ["TC 3", ""]
    return s.write(name, r.text(preamble=preamble))


profile = s.write("profile.yaml", """channels:
  torque: { column: "Load 1", unit: lb-ft }
  oil_temperature: { column: "TC 3", unit: degF }
  lambda: { column: "Lambda", lag: 0.2 s }
ignore: ["Knock Count"]
zone: America/Los_Angeles
""")
made = s.good("recorder", "new", "cell logger", "--like", file("first.csv", 1), "--profile", profile, *in_book, "--json").json
s.check("kept as its first version", made["name"] == "cell logger" and made["version"] == 1, made)
first = s.good("pull", "add", file("run-1.csv", 2), *in_book, "--json").json
curve = s.good("pull", "curve", first["pull_ids"][0], *in_book, "--json").json
at = curve["speed_rpm"].index(5000)
s.check("its files are read by it", abs(curve["observed_torque_n_m"][at] / recordings.torque_n_m(5000) - 1) < 0.004 and
        abs(curve["conditions"]["oil_start_k"] - 358.2) < 1.5, curve["conditions"])
with sqlite3.connect(book) as rows:
    said, told = rows.execute("SELECT at, told FROM pull WHERE id = 1").fetchone()
    recorder, clock = rows.execute("SELECT recorder, clock FROM recording").fetchone()
s.check("its clock is the clock of its own zone", said == "2026-11-30T17:15:00Z", said)
s.check("the recording says by which version", recorder == "cell logger.1" and clock == "file", (recorder, clock))
s.check("and the pull that its units are the profile's", '{"fact":"units","from":"profile"}' in told, told)

more = s.write("more.yaml", "channels:\n  torque: { column: \"Load 1\", unit: N·m }\n  oil_temperature: { column: \"TC 3\", unit: degF }\nzone: America/Los_Angeles\n")
s.check("amended: a further version", s.good("recorder", "amend", "cell logger", "--profile", more, *in_book, "--json").json["version"] == 2)
second = s.good("pull", "add", file("run-2.csv", 3, "Date,2026-11-30\nTime,09:40:00\n"), *in_book, "--json").json
s.check("which later files are read by, and which is doubted where it is wrong",
        [h["finding"]["id"] for h in second["held"]] == ["pull.doubt-torque-unit"], second["held"])
s.check("what was read before keeps its version, and verifies", s.run("book", "verify", *in_book).code == 0)
listed = s.good("recorder", "list", *in_book, "--json").json["recorders"]
s.check("both versions are listed", [(r["name"], r["version"]) for r in listed] == [("cell logger", 1), ("cell logger", 2)], listed)
s.check("the last is shown", s.good("recorder", "show", "cell logger", *in_book, "--json").json["version"] == 2)

other = recordings.sweep(seed=9).text()
proposed = s.good("recorder", "new", "wall logger", "--like", s.write("plain.csv", other), *in_book, "--json").json["profile"]
s.check("without a profile one is proposed", 'torque: {"column":"Torque","unit":"N·m"}' in proposed and "oil_pressure" in proposed, proposed)
third = s.good("pull", "add", s.write("plain-2.csv", recordings.sweep(seed=10).text()), "--at", "2026-11-30 19:00", *in_book, "--json").json
s.check("and changes nothing of what was understood", third["held"] == [], third["held"])

# what cannot be is refused, and nothing is kept of it
for says, text, words in [
    ("a column that the file does not have", "channels:\n  torque: { column: \"Load 7\" }\n", ["Load 7"]),
    ("a zone that there is not", "channels:\n  torque: { column: \"Load 1\" }\nzone: Europe/Atlantis\n", ["Europe/Atlantis"]),
    ("a channel that there is not", "channels:\n  torke: { column: \"Load 1\" }\n", ["torke", "torque"]),
    ("a unit that torque does not have", "channels:\n  torque: { column: \"Load 1\", unit: kW }\n", ["torque"]),
    ("a word that a profile does not have", "colour: red\n", ["colour", "channels, ignore, not_fitted, station, rate, zone"]),
    ("a scale of nothing", "channels:\n  torque: { column: \"Load 1\", scale: 0 }\n", ["torque", "scale", "near 0"]),
    ("a scale that is not a number", "channels:\n  torque: { column: \"Load 1\", scale: nan }\n", ["scale"]),
    ("a scale of a million", "channels:\n  torque: { column: \"Load 1\", scale: 1000000 }\n", ["scale", "1000"]),
    ("a fuel beside torque", "channels:\n  torque: { column: \"Load 1\", fuel: petrol }\n", ["fuel", "air_fuel_ratio"]),
    ("a fuel that there is not", "channels:\n  air_fuel_ratio: { column: \"Lambda\", fuel: whisky }\n", ["whisky"]),
    ("a rate without a unit of rate", "rate: 50 rpm\n", ["rate"]),
    ("a rate of nothing", "rate: 0 Hz\n", ["rate", "0.1"]),
    ("a channel named as not fitted that has a column", "channels:\n  torque: { column: \"Load 1\" }\nnot_fitted: [torque]\n", ["torque", "Load 1"]),
    ("not fitted: a channel that there is not", "not_fitted: [oil]\n", ["not_fitted", "oil"]),
    ("nothing", "{}\n", ["empty"]),
]:
    s.refused(says, s.run("recorder", "new", "odd one", "--like", s.path("run-1.csv"), "--profile", s.write("odd.yaml", text), *in_book), *words)
s.refused("no recording to know it by", s.run("recorder", "new", "odd one", "--profile", profile, *in_book), "--like")
s.refused("a name twice", s.run("recorder", "new", "cell logger", "--like", s.path("run-1.csv"), *in_book), "recorder amend")
s.refused("one that is not there", s.run("recorder", "show", "odd one", *in_book), "odd one")
s.refused("withdrawn without a reason", s.run("recorder", "withdraw", "cell logger", *in_book), "reason")
s.check("nothing of it was kept", len(s.good("recorder", "list", *in_book, "--json").json["recorders"]) == 3)
s.good("recorder", "withdraw", "cell logger", "--reason", "sold", *in_book)
fourth = s.run("pull", "add", file("run-4.csv", 11, "Date,2026-11-30\nTime,20:00:00\n"), *in_book, "--json")
s.check("withdrawn: its files are read as the program understands them", fourth.code == 0 and fourth.json["pull_ids"] == [], fourth)

# scale, the fuel of an air-fuel ratio, the rate of rows without a time, and sensors that are not fitted
book = s.path("odd.book")
in_book = ["--book", book]
s.good("book", "new", "--cell-file", s.write("cell.yaml", recordings.CELL), *in_book)
s.good("engine", "add", s.write("e85.yaml", recordings.ENGINE.replace("gasoline", "E85")), *in_book)


def odd(name, seed, time=False):
    """Two pulses a turn, a gauge that shows lambda times 14.7 whatever the fuel, an oil input that hangs in the air, no clock."""
    r = recordings.sweep(seed=seed)
    r.column("Engine Speed")[2] = [2 * v for v in r.column("Engine Speed")[2]]
    r.column("Lambda")[:2] = ["AFR", ""]
    r.column("AFR")[2] = [14.7 * v for v in r.column("AFR")[2]]
    r.column("Oil Pressure")[2] = [99.9] * r.rows
    return s.write(name, (r if time else r.without("Time")).text())


likes = ["--like", odd("odd.csv", 20)]
text = """channels:
  speed: { column: "Engine Speed", scale: 0.5 }
  air_fuel_ratio: { column: AFR, fuel: %s }
not_fitted: [oil_pressure]
rate: 50 Hz
"""
s.good("recorder", "new", "odd", *likes, "--profile", s.write("odd.yaml", text % "petrol"), *in_book)
added = s.good("pull", "add", odd("odd-1.csv", 21), "--at", "2026-11-30 10:00", *in_book, "--json").json
s.check("rows without a time have the recorder's rate: a sweep is found, and nothing of it is doubted", len(added["pull_ids"]) == 1 and added["held"] == [], added)
curve = s.good("pull", "curve", 1, *in_book, "--json").json
at = curve["speed_rpm"].index(5000)
s.check("the speed is half of what the file says", abs(curve["observed_torque_n_m"][at] / recordings.torque_n_m(5000) - 1) < 0.004, curve["observed_torque_n_m"][at])
# petrol as docs/methods.md has it, C 1 H 1.87: 34.56 (4 + y) / (12.011 + 1.008 y), Heywood (1988), eq. 3.6
petrol = 34.56 * (4 + 1.87) / (12.011 + 1.008 * 1.87)
columns = curve["columns"]
s.check("lambda is by the gauge's fuel, not the engine's", abs(columns["lambda"][at] / (0.88 * 14.7 / petrol) - 1) < 0.005, (columns["lambda"][at], petrol))
s.check("a sensor that is not fitted is in no curve", "oil_pressure_pa" not in columns, list(columns))
timed = s.good("pull", "add", odd("odd-2.csv", 22, time=True), "--map", s.write("rate.yaml", text.replace("50 Hz", "20 Hz") % "petrol"), "--at",
               "2026-11-30 10:10", *in_book, "--json").json
s.check("a rate that the file denies is said, and the file counts", any(n["id"] == "pull.rate-not-so" for n in timed["notes"]) and timed["held"] == [], timed["notes"])
s.check("and again from raw", s.run("book", "verify", *in_book).code == 0)
wrong = s.good("pull", "amend", 1, "--units", "torque=lb-ft", "--reason", "tried", *in_book, "--json")
s.good("pull", "amend", 1, "--undo", "--reason", "taken back", *in_book)
s.check("an amendment of a unit keeps the rest of the profile", s.good("pull", "curve", 1, *in_book, "--json").json == curve)

# proposed with the first file that leaves something open, once; kept from the page under a name, and used from then on
book = s.path("first.book")
in_book = ["--book", book]
s.good("book", "new", "--cell-file", s.write("cell.yaml", recordings.CELL), *in_book)
s.good("engine", "add", s.write("engine.yaml", recordings.ENGINE), *in_book)


def plain(name, seed):
    r = recordings.sweep(seed=seed)
    r.column("Oil Temp")[1] = ""
    return s.write(name, r.text())


unknown = lambda answer: [n for n in answer["notes"] if n["id"] == "desk.recorder-unknown"]
one = s.good("pull", "add", plain("plain-1.csv", 41), "--at", "2026-11-30 10:00", *in_book, "--json").json
s.check("the first file of a recorder asks for its profile, and how to keep it", len(unknown(one)) == 1 and "recorder new" in unknown(one)[0]["text"], one["notes"])
two = s.good("pull", "add", plain("plain-2.csv", 42), "--at", "2026-11-30 10:10", *in_book, "--json").json
s.check("the second does not", unknown(two) == [], two["notes"])
whole = s.good("pull", "add", s.write("whole.csv", recordings.sweep(seed=43).text()), "--at", "2026-11-30 10:20", *in_book, "--json").json
s.check("nor does one that leaves nothing open", unknown(whole) == [], whole["notes"])
with Page(s, book) as page:
    for says, body, words in (("no name", {"recording": "1", "name": ""}, "name"), ("no recording", {"name": "x"}, "recording"), ("a recording that is not there", {"recording": "99", "name": "x"}, "99"),
                              ("a name with a dot", {"recording": "1", "name": "a.b"}, "dot")):
        status, no = page.ask("POST", "recorders", body)
        s.check(f"the page: {says} is refused", status == 400 and words in no["error"], no)
    status, kept = page.ask("POST", "recorders", {"recording": str(one["recording_id"]), "name": "wall box"})
    s.check("a tap keeps it", status == 200 and kept["name"] == "wall box" and kept["version"] == 1 and "oil_temperature" in kept["profile"], kept)
    status, no = page.ask("POST", "recorders", {"recording": "1", "name": "wall box"})
    s.check("a second tap is refused: it is there", status == 400 and "wall box" in no["error"], no)
    status, three = page.ask("POST", "recordings?name=plain-3.csv&at=2026-11-30T10:30:00Z", open(plain("plain-3.csv", 44), "rb").read(), "application/octet-stream")
    s.check("the next file is read by it", status == 200 and three["held"] == [], three)
with sqlite3.connect(book) as rows:
    s.check("and says so", rows.execute("SELECT recorder FROM recording ORDER BY id DESC LIMIT 1").fetchone() == ("wall box.1",))

# a profile that was wrong learns from the amendment of its file, and from its undo; what it said nothing of is left
done = s.good("pull", "amend", three["pull_ids"][0], "--units", "oil_temperature=degF", "--reason", "the box sends °F", *in_book, "--json").json
s.check("an amended unit makes a further version of the profile", [n["id"] for n in done["notes"]] == ["desk.amend-profile-learned"], done["notes"])
shown = s.good("recorder", "show", "wall box", *in_book, "--json").json
s.check("with that unit", shown["version"] == 2 and "degF" in shown["profile"] or "°F" in shown["profile"], shown)
hot = plain("plain-4.csv", 45)
r = recordings.sweep(seed=45)
r.column("Oil Temp")[2] = [t * 1.8 + 32 for t in r.column("Oil Temp")[2]]
r.column("Oil Temp")[1] = ""
four = s.good("pull", "add", s.write("plain-4.csv", r.text()), "--at", "2026-11-30 10:40", *in_book, "--json").json
oil = s.good("pull", "curve", four["pull_ids"][0], *in_book, "--json").json["conditions"]["oil_start_k"]
s.check("by which the next file is read", abs(oil - 358.2) < 1.5, oil)
s.good("pull", "amend", three["pull_ids"][0], "--undo", "--reason", "no, it does not", *in_book)
s.check("taken back, the profile is what it was", s.good("recorder", "show", "wall box", *in_book, "--json").json["version"] == 3 and
        "degF" not in s.good("recorder", "show", "wall box", *in_book).out)
s.check("all from raw again", s.run("book", "verify", *in_book).code == 0)

# the cell's own weather station among a recorder's columns: where the weather is from, its calibration, and what was typed beside it
book = s.path("station.book")
in_book = ["--book", book]
s.good("book", "new", "--cell-file", s.write("cell.yaml", recordings.CELL), *in_book)
s.good("engine", "add", s.write("engine.yaml", recordings.ENGINE), *in_book)
text = "channels:\n  barometer: { column: Baro, unit: hPa }\n  humidity: { column: Humidity, unit: \"%\" }\nstation: [barometer, humidity]\n"
s.good("recorder", "new", "cell and station", "--like", s.write("st.csv", recordings.sweep(seed=60).text()), "--profile", s.write("st.yaml", text), *in_book)


def origins(pull):
    with sqlite3.connect(book) as rows:
        return {f["fact"]: f for f in json.loads(rows.execute("SELECT told FROM pull WHERE id = ?", (pull,)).fetchone()[0])}


s.good("pull", "add", s.write("st-1.csv", recordings.sweep(seed=61).text()), "--at", "2026-11-30 10:00", *in_book)
said = origins(1)
s.check("pressure and humidity are the station's, the inlet air is the engine's own sensor's", [said[f]["from"] for f in ("pressure", "humidity", "temperature")] == ["station", "station", "channel"], said)
s.good("cell", "calibrate", "--channel", "barometer", *[w for p in (960, 980, 1000, 1020) for w in ("--point", f"{p} hPa={p + 6} hPa")], *in_book)
time.sleep(1.1)  # calibrations are dated to the second
s.good("pull", "add", s.write("st-2.csv", recordings.sweep(seed=62).text()), *in_book)
got = s.good("pull", "explain", 2, "--speed", "5000 rpm", *in_book, "--json").json
s.check("the station's calibration is on it", abs(got["pressure_pa"] - 98400) < 20 and [line["channel"] for line in got["sensors"]] == ["barometer"], (got["pressure_pa"], got["sensors"]))
s.check("and it is still the station's", origins(2)["pressure"]["from"] == "station", origins(2))
both = s.good("pull", "add", s.write("st-3.csv", recordings.sweep(seed=63).text()), "--set", "pressure=1004 hPa", *in_book, "--json").json
s.check("another figure typed beside it is asked about", [h["finding"]["id"] for h in both["held"]] == ["pull.doubt-typed-two"], both["held"])
s.refused("a station of a channel that there is not", s.run("recorder", "amend", "cell and station", "--profile", s.write("no.yaml", "station: [wind]\n"), *in_book), "wind")
s.finish()
