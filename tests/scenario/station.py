"""The cell's own weather station: its file beside the engine's, its readings as a live source of their own. Which reading a pull takes, how
old it may be, and what is said when the station is silent, frozen, an hour off, or at odds with what was typed.

Usage: station.py PROGRAM"""
import datetime
import json
import os
import socket
import sqlite3
import threading
import time

import recordings
from harness import Scenario
from live_cell import Cell

s = Scenario()
DAY = "2026-11-30"


def new_book(name, *more):
    book = s.path(name)
    s.good("book", "new", "--cell-file", s.write("cell.yaml", recordings.CELL), "--book", book, *more)
    s.good("book", "set", "--zone", "Europe/Berlin", "--book", book)
    s.good("engine", "add", s.write("engine.yaml", recordings.ENGINE), "--book", book)
    return book


def bare(seed):
    """A pull without any weather in its file."""
    return recordings.sweep(seed=seed).without("Baro", "Intake Air Temp", "Humidity").text()


def add(book, seed, at, *more, text=None):
    name = s.write(f"{os.path.basename(book)}-{seed}.csv", text or bare(seed))
    return s.good("pull", "add", name, "--at", at, "--book", book, *more, "--json").json


def told(book, pull):
    with sqlite3.connect(book) as rows:
        return {f["fact"]: f for f in json.loads(rows.execute("SELECT told FROM pull WHERE id = ?", (pull,)).fetchone()[0])}


def air(book, pull):
    got = s.good("pull", "explain", pull, "--speed", "5000 rpm", "--book", book, "--json").json
    return got["pressure_pa"], got["temperature_k"], got["vapour_pressure_pa"], got


def ids(answer):
    return [n["id"] for n in answer["notes"]]


def station_file(name, rows, head="Date;Time;Pressure (hPa);Temperature (°C);RH (%)", mtime=None):
    """Rows are (clock "HH:MM", hPa, degC, %); decimal comma, as such boxes write in Germany."""
    text = head + "\n" + "".join(f"30.11.2026;{t}:00;{p:.1f};{c:.1f};{h:.0f}\n".replace(".", ",").replace("30,11,2026", "30.11.2026")
                                 for t, p, c, h in rows)
    path = s.write(name, text)
    when = mtime or datetime.datetime(2026, 11, 30, 22, 0, tzinfo=datetime.timezone.utc).timestamp()
    os.utime(path, (when, when))
    return path


def clock(minutes):
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


# every ten minutes from 08:00 to 12:00: pressure falls 0.1 hPa, air warms 0.2 K
ROWS = [(clock(480 + 10 * k), 985.0 - 0.1 * k, 18 + 0.2 * k, 55 - 0.5 * k) for k in range(25)]

# ---- its file first: pulls take the reading before them ----
book = new_book("day.book")
got = s.good("pull", "add", station_file("wx.csv", ROWS), "--book", book, "--json").json
s.check("a file of weather and no engine is the station's", ids(got)[0] == "desk.station-added" and got["pull_ids"] == [], got)
text = s.run("pull", "add", station_file("wx.csv", ROWS), "--book", book)
s.check("a second time nothing is added", "nothing was added" in text.out, text)
first = add(book, 1, f"{DAY} 10:04")
s.check("that its weather is the station's is said", "desk.weather-by-station" in ids(first), ids(first))
p, t, v, told_air = air(book, 1)
s.check("the reading of 10:00, four minutes before", abs(p - 98380) < 1e-6 and abs(t - 293.55) < 1e-6, (p, t))
facts = told(book, 1)
s.check("origin, when and age of each fact", all(facts[f]["from"] == "station" and facts[f]["at"] == "2026-11-30T09:00:00Z" and facts[f]["age_s"] == 240
                                               for f in ("pressure", "temperature", "humidity")), facts)
row = [r for r in told_air["uncertainty"] if r["from"].startswith("age of the weather")]
s.check("its age is in the budget", len(row) == 1 and 0 < row[0]["standard_n_m"] < 0.2, told_air["uncertainty"])
shown = s.good("pull", "show", 1, "--book", book).out
s.check("and the pull says so", "the cell's weather station, read 4 min before" in shown and "weather station" in s.good("pull", "explain", 1, "--book", book).out, shown)
s.check("the curve is corrected", s.good("pull", "curve", 1, "--book", book, "--json").json["corrected"] == "corrected" if "corrected" in
        s.good("pull", "curve", 1, "--book", book, "--json").json else told_air["factor"] != 1, told_air["factor"])

# first and last sample, and the half hour behind it
for seed, at, hpa, origin in ((2, "07:59", None, "unknown"), (3, "08:00", 985.0, "station"), (4, "12:00", 982.6, "station"),
                              (5, "12:30", 982.6, "station"), (6, "12:31", None, "unknown")):
    fresh = new_book(f"edge{seed}.book")
    s.good("pull", "add", station_file("wx.csv", ROWS), "--book", fresh)
    answer = add(fresh, seed, f"{DAY} {at}")
    fact = told(fresh, 1)["pressure"]
    s.check(f"a pull at {at}: {origin}", fact["from"] == origin and (hpa is None or abs(air(fresh, 1)[0] - 100 * hpa) < 1e-6), (fact, answer["notes"]))
    if at == "12:31":
        s.check("31 minutes after the last one: silent, and said", "desk.station-silent" in ids(answer), answer["notes"])
        s.check("and the pull is not corrected", air(fresh, 1)[3]["factor"] == 1, air(fresh, 1))

# what is typed with a pull counts, and what is recorded; both are held against the station
near = add(book, 7, f"{DAY} 10:20", "--set", "pressure=985.5 hPa")
s.check("typed 2 hPa beside it: nobody asks, and what was typed counts", near["held"] == [] and told(book, 2)["pressure"]["from"] == "typed" and
        told(book, 2)["temperature"]["from"] == "station", (near["held"], told(book, 2)))
far = add(book, 8, f"{DAY} 10:40", "--set", "pressure=1004 hPa")
held = far["held"]
s.check("typed 20 hPa away: held", len(held) >= 1 and "pull.doubt-station-typed" in [h["finding"]["id"] for h in held], held)
mend = next(h["mend"] for h in held if h["finding"]["id"] == "pull.doubt-station-typed")
s.check("with its mend", mend == "pull amend 3 --weather station", mend)
spark = s.good("pull", "amend", 3, "--set", "spark=30 deg", "--reason", "was not said", "--book", book, "--json").json
s.check("an amendment of something else does not answer it", spark["held"] == [3] or 3 in [h["pull"] for h in spark["held"]], spark["held"])
s.good("pull", "amend", 3, "--weather", "station", "--reason", "a typing slip", "--book", book)
fact = told(book, 3)["pressure"]
s.check("the mend does it", fact["from"] == "station" and "amended" in fact and abs(air(book, 3)[0] - 98340) < 1e-6, (fact, air(book, 3)[0]))
s.check("and it is held no more", not s.good("pull", "list", "--book", book, "--json").json["pulls"][2].get("held"))
s.good("pull", "amend", 3, "--undo", "--reason", "look again", "--book", book)
s.check("taken back, the question waits again", s.good("pull", "list", "--book", book, "--json").json["pulls"][2].get("held"))
s.good("pull", "amend", 3, "--undo", "--reason", "and back", "--book", book)
s.check("the taking back taken back: answered as before", not s.good("pull", "list", "--book", book, "--json").json["pulls"][2].get("held") and
        told(book, 3)["pressure"]["from"] == "station", told(book, 3))
rec = recordings.sweep(seed=9, pressure_hpa=1004, temperature_c=30)
both = add(book, 9, f"{DAY} 11:00", text=rec.text())
s.check("recorded 20 hPa away: held, and the engine's own inlet air 10 K above the room's is nobody's fault",
        "pull.doubt-station-recorded" in [h["finding"]["id"] for h in both["held"]], both["held"])
mend = next(h["mend"] for h in both["held"] if h["finding"]["id"] == "pull.doubt-station-recorded")
s.check("its mend leaves the recorded column out", "not fitted" in mend and mend.endswith("--weather station"), mend)
import shlex  # noqa: E402
s.good(*shlex.split(mend), "--reason", "the box is off", "--book", book)
s.check("and does it", abs(air(book, 4)[0] - 98320) < 1e-6 and told(book, 4)["temperature"]["from"] == "channel", (air(book, 4)[:2], told(book, 4)))
s.refused("other weather words", s.run("pull", "amend", 1, "--weather", "rain", "--reason", "x", "--book", book), "--weather", "station")
moved = s.good("pull", "amend", 1, "--at", f"{DAY} 11:35", "--reason", "wrong hour", "--book", book, "--json").json
s.check("a pull whose time is amended takes the reading of then", abs(air(book, 1)[0] - 98290) < 1e-6 and told(book, 1)["pressure"]["at"] == "2026-11-30T10:30:00Z",
        (air(book, 1)[0], told(book, 1)["pressure"], moved["held"]))
s.check("all from raw again", s.run("book", "verify", "--book", book).code == 0)

# ---- its file afterwards: which pulls lack it is said, and one command gives it to them; the very bits of the day told rightly ----
late = new_book("late.book")
for seed, at in ((1, "09:04"), (2, "09:20"), (3, "09:34")):
    add(late, seed, f"{DAY} {at}")
answer = s.good("pull", "add", station_file("wx.csv", ROWS), "--book", late, "--json").json
beside = next((n for n in answer["notes"] if n["id"] == "desk.station-pulls"), None)
s.check("pulls that ran meanwhile are named", beside and "1 2 3" in beside["text"], answer["notes"])
s.good("pull", "amend", "--pulls", 1, 2, 3, "--weather", "station", "--reason", "its file came in the evening", "--book", late)
right = new_book("right.book")
s.good("pull", "add", station_file("wx.csv", ROWS), "--book", right)
for seed, at in ((1, "09:04"), (2, "09:20"), (3, "09:34")):
    add(right, seed, f"{DAY} {at}")
bits = [[s.good("pull", "curve", k, "--book", b, "--json").json for k in (1, 2, 3)] for b in (late, right)]
s.check("to the bits of the day told rightly", [c["torque_n_m"] for c in bits[0]] == [c["torque_n_m"] for c in bits[1]])
again = s.good("pull", "amend", "--pulls", 1, 2, 3, "--weather", "station", "--reason", "twice", "--book", late, "--json").json
s.check("a second time nothing changes", again["already"] == 3 and again["pulls"] == [] if "pulls" in again else again["already"] == 3, again)
s.refused("a pull that the station did not see", s.run("pull", "amend", add(late, 9, f"{DAY} 15:00")["pull_ids"][0], "--weather", "station", "--reason", "x",
                                                     "--book", late), "within 30 min", "pull add")

# ---- frozen ----
still = [(clock(480 + 10 * k), 985.0, 18.0, 55) for k in range(25)]
frozen = new_book("frozen.book")
s.good("pull", "add", station_file("still.csv", still), "--book", frozen)
answer = add(frozen, 1, f"{DAY} 10:30")
s.check("two hours without any change: not used, and said", "desk.station-frozen" in ids(answer) and told(frozen, 1)["pressure"]["from"] == "unknown", answer["notes"])
s.refused("nor by an amendment", s.run("pull", "amend", 1, "--weather", "station", "--reason", "x", "--book", frozen), "do not move")
alive = new_book("alive.book")
s.good("pull", "add", station_file("still2.csv", [(c, p, t + (0.1 if k == 10 else 0), h) for k, (c, p, t, h) in enumerate(still)]), "--book", alive)
answer = add(alive, 1, f"{DAY} 10:30")
s.check("one that moved once an hour ago lives", told(alive, 1)["pressure"]["from"] == "station", answer["notes"])

# ---- its clock ----
ahead = new_book("clock.book")
written = datetime.datetime(2026, 11, 30, 11, 0, tzinfo=datetime.timezone.utc).timestamp()  # 12:00 in Berlin, when it was copied
s.refused("an hour ahead of its own time stamp", s.run("pull", "add", station_file("ahead.csv", [(clock(540 + 10 * k), p, t, h) for k, (_, p, t, h) in enumerate(ROWS)],
                                                                                      mtime=written), "--book", ahead), "60 min after the file was written", "--at")
s.check("and nothing of it is kept", s.good("book", "info", "--book", ahead, "--json").json.get("recordings", 0) in (0, []), s.good("book", "info", "--book", ahead, "--json").json)
behind = s.good("pull", "add", station_file("behind.csv", [(clock(420 + 10 * k), p, t, h) for k, (_, p, t, h) in enumerate(ROWS)], mtime=written), "--book", ahead, "--json").json
s.check("an hour behind it: asked", "desk.station-hour-behind" in ids(behind), behind["notes"])
plain = new_book("plain.book")
s.check("on time: nothing is asked", "desk.station-hour-behind" not in ids(s.good("pull", "add", station_file("wx.csv", ROWS, mtime=written), "--book", plain, "--json").json))
zoned = new_book("zoned.book")
s.good("recorder", "new", "roof", "--like", station_file("wx.csv", ROWS), "--profile",
       s.write("roof.yaml", 'channels:\n  barometer: { column: "Pressure", unit: hPa }\n  inlet_air_temperature: { column: "Temperature", unit: degC }\n'
                            "station: [barometer, inlet_air_temperature, humidity]\nzone: UTC\n"), "--book", zoned)
s.good("pull", "add", station_file("wx.csv", ROWS), "--book", zoned)
add(zoned, 1, f"{DAY} 11:04")
s.check("a station on UTC, by its profile: 10:00 UTC is 11:00 here", abs(air(zoned, 1)[0] - 98380) < 1e-6, (air(zoned, 1)[0], told(zoned, 1)["pressure"]))

# ---- calibrated ----
cal = new_book("cal.book")
s.good("cell", "calibrate", "--channel", "barometer", *[w for p in (960, 980, 1000, 1020) for w in ("--point", f"{p} hPa={p + 6} hPa")], "--book", cal)
now = datetime.datetime.now()
rows = [((now - datetime.timedelta(minutes=10 * (6 - k))), 990.0 - 0.1 * k, 20.0 + 0.1 * k, 50.0) for k in range(7)]
zone = s.good("book", "set", "--zone", "UTC", "--book", cal)
utc = datetime.datetime.now(datetime.timezone.utc)
rows = [(utc - datetime.timedelta(minutes=10 * (6 - k)), 990.0 - 0.1 * k, 20.0 + 0.1 * k, 50.0) for k in range(7)]
time.sleep(1.1)
s.good("pull", "add", s.write("now.csv", "Timestamp,Barometer [hPa],Air Temp [degC],Humidity [%]\n" +
                              "".join(f"{w:%Y-%m-%d %H:%M:%S},{p:.1f},{t:.1f},{h:.0f}\n" for w, p, t, h in rows)), "--book", cal)
s.good("pull", "add", s.write("now-pull.csv", bare(77)), "--book", cal)
s.check("the station's calibration is on what it read", abs(air(cal, 1)[0] - (98940 - 600)) < 1, air(cal, 1)[0])

# ---- live: a source of its own beside the engine's; its own clock counts for nothing ----


class Station:
    """A box on the roof that sends a line when it is told to; its clock is an hour behind."""

    def __init__(self):
        self.server = socket.create_server(("127.0.0.1", 0))
        self.url = f"tcp://127.0.0.1:{self.server.getsockname()[1]}"
        self.peer, self.ready, self.at = None, threading.Event(), time.time() - 3600
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self):
        self.peer, _ = self.server.accept()
        self.peer.sendall(b"Time [s],Barometer [hPa],Air Temp [degC],Humidity [%]\n")
        self.ready.set()

    def says(self, hpa, celsius, percent):
        self.ready.wait(20)
        self.at += 1
        self.peer.sendall(f"{self.at:.1f},{hpa:.2f},{celsius:.2f},{percent:.1f}\n".encode())


def pull_of(cell, gain=1.0):
    cell.rows(100, speed=2500, torque=20, throttle=20)
    n0 = 2500.0
    for k in range(8):  # ten seconds of a sweep, in blocks
        cell.rows(100, speed=lambda i, k=k: n0 + 400 * (k + i / 100), torque=lambda i, k=k: gain * recordings.torque_n_m(n0 + 400 * (k + i / 100)),
                  throttle=100, oil=4.5, lambda_=0.88)
    cell.rows(200, speed=3000, torque=5, throttle=3)
    return cell.wait(lambda n: n["event"] == "pull", seconds=60)


live = new_book("live.book")
box = Station()
with Cell(s, "live.book", alarms="none", more=["--source", box.url]) as cell:
    box.says(981.2, 21.0, 47)
    cell.wait(lambda n: n["event"] == "commit" and n.get("source", "") == box.url, again=True, seconds=5)
    time.sleep(1.5)
    first = pull_of(cell)
    s.check("a pull beside it is cut", first and first.get("found"), first)
    for k in range(5):
        box.says(983.0 + 0.1 * k, 21.5, 47)
    time.sleep(1.5)
    second = pull_of(cell)
    code, err = cell.stop()
s.check("the session ends well", code == 0, err)
pulls = s.good("pull", "list", "--book", live, "--json").json["pulls"]
s.check("two pulls", len(pulls) == 2, pulls)
if len(pulls) == 2:
    s.check("the first has the station's first and only reading", told(live, 1)["pressure"]["from"] == "station" and abs(air(live, 1)[0] - 98120) < 1e-6 and
            told(live, 1)["pressure"]["age_s"] < 60, (told(live, 1), air(live, 1)[:2]))
    s.check("the second its later one, whatever the box's clock says", told(live, 2)["pressure"]["from"] == "station" and abs(air(live, 2)[0] - 98340) < 1e-6, (told(live, 2), air(live, 2)[:2]))
silent = Station()
with Cell(s, "live.book", alarms="none", more=["--source", silent.url]) as cell:
    third = pull_of(cell, gain=1.01)
    code, err = cell.stop()
pulls = s.good("pull", "list", "--book", live, "--json").json["pulls"]
s.check("a station that says nothing: the last reading is carried with its age", len(pulls) == 3 and told(live, 3)["pressure"]["from"] in ("carried", "station") and
        told(live, 3)["pressure"]["age_s"] > 0 and abs(air(live, 3)[0] - 98340) < 1e-6, (third, told(live, len(pulls))))
s.check("all from raw again", s.run("book", "verify", "--book", live).code == 0)

# ---- a profile amended while a session records: said, as the session goes on by what it read when it began ----
during = new_book("during.book")
s.good("recorder", "new", "bench box", "--like", s.write("like.csv", recordings.sweep(seed=80).text()), "--book", during)
quiet = s.good("recorder", "amend", "bench box", "--like", s.path("like.csv"), "--book", during, "--json").json
s.check("nobody records: nothing is said", quiet["session"] is None, quiet)
with Cell(s, "during.book", alarms="none") as cell:
    cell.rows(100)
    busy = s.good("recorder", "amend", "bench box", "--like", s.path("like.csv"), "--book", during, "--json").json
    s.check("somebody records: it is said", (busy["session"] or {}).get("id") == "desk.session-reads-former", busy)
    cell.stop()

# ---- a file that is not one ----
odd = new_book("odd.book")
r = s.good("pull", "add", s.write("temps.csv", "Time [s],Oil Temp [degC],Air Temp [degC]\n" + "".join(f"{k},{80 + k},{20 + k / 10}\n" for k in range(20))), "--book", odd, "--json").json
s.check("an engine's temperatures without a barometer are not a station", "desk.station-added" not in ids(r), r["notes"])
s.finish()
