#!/usr/bin/env python3
"""What a live session leaves behind and what it asks of the build record: trips with the samples around
them, whole streams as open files, and pulls that are not armed while a step before load is open.

Usage: cell_keep.py PROGRAM"""
import csv
import json
import os
import subprocess

from harness import Scenario

examples = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "examples")
s = Scenario()
SIX = "Hill-climb six"


def record(book, *sources, more=(), text=""):
    args = [s.program, "cell", "record", "--json", "--book", book]
    for source in sources:
        args += ["--source", source]
    ran = subprocess.run(args + list(more), input=text, capture_output=True, text=True, timeout=120, env=s.environment)
    return ran, [json.loads(line) for line in ran.stdout.splitlines()]


def of(news, event):
    return [n for n in news if n["event"] == event]


# ---- a trip and the samples around it
book = s.path("trip.book")
ran, news = record(book, "practice:?pace=0&seed=3&run=wait 20;speed 5000;throttle 60;wait 8;fault oil-pump;wait 20;end",
                   more=["--limit", "7000 rpm", "--rate", "300 rpm/s"], text="")
told = [n for n in of(news, "alarm") if "name" in n]
listed = s.good("cell", "alarms", "--trips", "--book", book, "--json").json["trips"]
s.check("trips are listed with their number", [t["name"] for t in listed] == [t["name"] for t in told] and listed, listed)
one = listed[0]
s.check("and at the time they were told", abs(one["time_s"] - told[0]["time_s"]) < 1e-9, (one, told[0]))
trip = s.good("cell", "alarms", "--trip", one["trip"], "--book", book, "--json").json
times = [row[0] for row in trip["samples"]]
s.check("samples from five seconds before to five after", abs(times[0] - (one["time_s"] - 5)) < 0.02 and
        abs(times[-1] - (one["time_s"] + 5)) < 0.02 and 990 <= len(times) <= 1002, (times[:1], times[-1:], len(times)))
oil = next(i for i, h in enumerate(trip["headings"]) if "il press" in h)
before = [row[oil] for row in trip["samples"] if row[0] < one["time_s"] - 3]
after = [row[oil] for row in trip["samples"] if row[0] > one["time_s"]]
s.check("and they show what happened", min(before) > 2 * max(after[50:100]), (min(before), max(after[50:100])))
short = s.good("cell", "alarms", "--trip", one["trip"], "--before", "0.5 s", "--after", "0 s", "--book", book).out
rows = list(csv.reader(line for line in short.splitlines() if not line.startswith("#")))
s.check("as a table, as far as asked", rows[0] == trip["headings"] and 50 <= len(rows) - 1 <= 52 and
        short.startswith(f"# trip {one['trip']}: {one['action']}"), short[:200])
s.refused("a trip that is none", s.run("cell", "alarms", "--trip", "99", "--book", book), "trip 99 is not one of the 2")
s.refused("a number that is none", s.run("cell", "alarms", "--trip", "x", "--book", book), "--trip 'x'")
s.refused("a time below zero", s.run("cell", "alarms", "--trip", "1", "--before", "-1 s", "--book", book), "below zero")

# ---- whole streams as open files
folder = s.path("out")
out = s.good("book", "export", folder, "--book", book, "--json").json
stored = of(news, "commit")[-1]
s.check("the stream is exported", out["streams"] == 1, out)
name = os.path.join(folder, f"live-{stored['recording']:05d}")
table = list(csv.reader(open(name + ".csv", encoding="utf-8")))
facts = json.load(open(name + ".json", encoding="utf-8"))
s.check("with every stored row", len(table) - 1 == stored["stored_rows"] == facts["rows"], (len(table), stored))
s.check("and its trips, how it ended and what stored meant", [t["name"] for t in facts["trips"]] == [t["name"] for t in listed]
        and facts["how"] == "ended" and facts["durability"] == "power", facts)
window = [[float(v) if v else None for v in row] for row in table[1:] if times[0] <= float(row[0]) <= times[-1]]
s.check("the table holds the very samples of the trip", window == trip["samples"], (len(window), len(trip["samples"])))
verified = s.good("book", "verify", "--book", book, "--json").json
s.check("verify covers the stream", verified["whole"] and {r["id"]: r["rows"] for r in verified["recordings"]}
        [stored["recording"]] == stored["stored_rows"], verified)
db = __import__("sqlite3").connect(book)
db.execute("UPDATE stream_block SET bytes = zeroblob(length(bytes)) WHERE id = (SELECT max(id) FROM stream_block)")
db.commit()
db.close()
s.check("and finds damage in it", s.run("book", "verify", "--book", book).code == 1)

# ---- the build record before load
warm = s.path("warm.book")
ran, news = record(warm, "practice:?pace=0&run=sweep 2500 6500 300;wait 2;end")
s.check("a book without a build record arms as before", [a["armed"] for a in of(news, "arming")] == [True], of(news, "arming"))
s.good("book", "export", s.path("warm"), "--book", warm)
log = s.path("warm/live-00001.csv")

shop = s.path("shop.book")
s.good("build", "load", os.path.join(examples, "build", "hill-climb-six.yaml"), "--book", shop)
_, news = record(shop, f"file:{log}?end=stop", more=["--engine", SIX])
arming = of(news, "arming")
s.check("an open step is told at the start", arming[0]["record_open"] and not arming[0]["armed"] and
        arming[0]["why"]["id"] == "desk.gate-steps-open" and "full throttle proof" in arming[0]["why"]["text"], arming)
s.check("and refuses arming", len(arming) == 2 and not arming[1]["armed"] and arming[1]["why"]["id"] == "desk.gate-steps-open", arming)
pull = of(news, "pull")[0]
s.check("the pull is kept and not judged", pull["found"] and not pull["armed"] and pull["verdict"] is None and
        pull["why"]["id"] == "desk.gate-steps-open", pull)
_, news = record(shop, "practice:?pace=0&run=sweep 2500 6500 300;wait 2;end", more=["--engine", SIX])
s.check("a practice engine has no bolts to check", [a["armed"] for a in of(news, "arming")] == [True], of(news, "arming"))

# ticked while the session runs: armed from then on
running = subprocess.Popen([s.program, "cell", "record", "--json", "--book", shop, "--engine", SIX, "--source", "stdin:"],
                           stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=s.environment)
seen = []


def until(wanted):
    for line in running.stdout:
        seen.append(json.loads(line))
        if wanted(seen[-1]):
            return seen[-1]
    return None


lines = open(log, encoding="utf-8").read().splitlines(keepends=True)
running.stdin.write(lines[0])
running.stdin.flush()
until(lambda n: n["event"] == "arming" and n.get("record_open"))
s.good("build", "tick", "full throttle proof", "second overspeed device tried and working", "--engine", SIX, "--book", shop)
s.check("a step that is done is noticed", until(lambda n: n["event"] == "arming" and n.get("record_open") is False), seen)
running.stdin.writelines(lines[1:])
running.stdin.close()
armed = until(lambda n: n["event"] == "arming")
s.check("and the next pull is armed", armed and armed["armed"], seen[-5:])
until(lambda n: n["event"] == "end")
running.wait(20)

s.finish()
