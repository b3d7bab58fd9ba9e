#!/usr/bin/env python3
"""The practice cell under the template's alarms: a clean day of 31 pulls raises none; each fault raises
its own, is stored with where to look, and a shut-down shuts the throttle with the load kept on.

Usage: cell_alarms.py PROGRAM"""
import json
import os
import shutil
import subprocess
import sys
import tempfile

program = sys.argv[1]
passed = failed = 0


def check(good, says):
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print("FAILED:", says)


def record(book, run, more=(), seed=1, input_text=""):
    ran = subprocess.run([program, "cell", "record", "--json", "--book", book, "--limit", "7000 rpm", "--rate", "300 rpm/s",
                          "--source", f"practice:?pace=0&seed={seed}&run={run}", *more],
                         input=input_text, capture_output=True, text=True, timeout=600)
    return ran, [json.loads(line) for line in ran.stdout.splitlines()]


def trips(news):
    return [n for n in news if n["event"] == "alarm" and "name" in n]


with tempfile.TemporaryDirectory() as folder:
    day = os.path.join(folder, "day.book")
    sparks = [26, 26, 26, 28, 26, 28, 26, 28, 30, 28, 30, 28, 30, 28, 30]
    lambdas = [0.88, 0.85, 0.91, 0.88]
    run = ["sweep 2500 4500 300", "wait 60", "sweep 2500 5500 300", "wait 60", "lambda 0.84", "sweep 2500 6300 300", "wait 60",
           "sweep 2500 6300 300", "wait 60", "lambda 0.88"]
    for spark in sparks:
        run += [f"spark {spark}", "sweep 2500 6950 300", "wait 60"]
    for value in lambdas:
        run += [f"lambda {value}", "sweep 2500 6950 300", "wait 60"]
    run += ["stop", "wait 30", "start", "wait 60"]
    for _ in range(8):
        run += ["sweep 2500 6950 300", "wait 60"]
    ran, news = record(day, ";".join(run) + ";end")
    pulls = [n for n in news if n["event"] == "pull"]
    check(len(pulls) == 31 and all(p["found"] for p in pulls), f"31 pulls are found: {len(pulls)}")
    check(trips(news) == [], f"a clean day raises no alarm: {[(t['name'], t['time_s']) for t in trips(news)]}")
    check(all(p["after_s"] < 60 for p in pulls), "pulls are reduced while the day goes on")

    wanted = {"lean-cylinder": "exhaust hot", "oil-aeration": "oil pressure falling", "fuel-starvation": "fuel pressure falling",
              "sticking-absorber": "runaway", "lost-crank": "speed sensor lost", "valve-contact": "torque falling",
              "poor-fuel": "knock", "head-gasket": "coolant pressure rising", "oil-pump": "oil pressure least"}
    for fault, name in wanted.items():
        book = os.path.join(folder, fault + ".book")
        shutil.copy(day, book)
        seen = []
        for warm in ("sweep 2500 6950 300;wait 30;", ""):
            _, news = record(book, f"wait 20;{warm}fault {fault};wait 1;sweep 2500 6950 300;wait 10;end", seed=77)
            seen = trips(news)
            if warm:
                break
        check(any(t["name"] == name for t in seen), f"{fault} raises '{name}': {[t['name'] for t in seen]}")
        check(all(len(t["says"].split()) == 4 for t in seen), "each says in four words what to do")
        check(len({t["name"] for t in seen}) == len(seen), "each is told once")
        listed = json.loads(subprocess.run([program, "cell", "alarms", "--trips", "--json", "--book", book],
                                           capture_output=True, text=True).stdout)["trips"]
        check([t["name"] for t in listed] == [t["name"] for t in seen], f"{fault}: trips are stored as they were told")
        requests = [n["name"] for n in news if n["event"] == "request"]
        if any(t["action"] == "shut down" for t in seen):
            check(requests[:1] == ["shut the throttle"], f"{fault}: the throttle is asked shut first: {requests}")
        else:
            check(requests == [], f"{fault}: nothing is asked of the dyno")

    one = os.path.join(folder, "off.book")
    ran, news = record(one, "fault oil-pump;wait 5;end", more=["--alarms", "none"])
    check(trips(news) == [] and any(n.get("action") == "asleep" for n in news), "no alarms at all is told")
    ran, _ = record(one, "end", more=["--alarms", os.path.join(folder, "no.yaml")])
    check(ran.returncode == 2, "a missing table is refused")
    ran = subprocess.run([program, "cell", "alarms", "--template"], capture_output=True, text=True)
    own = os.path.join(folder, "own.yaml")
    open(own, "w").write(ran.stdout.replace("above: 120 degC", "above: 80 degC"))
    kept = subprocess.run([program, "cell", "alarms", "--alarms", own, "--keep", "--book", one], capture_output=True, text=True)
    check(kept.returncode == 0, "a table is kept: " + kept.stderr)
    _, news = record(one, "wait 10;end")
    check([t["name"] for t in trips(news)] == ["oil hot"], f"the book's own table is used: {trips(news)}")
if failed:
    print(f"[  FAILED  ] {failed} test(s).")
print(f"[  PASSED  ] {passed} test(s).")
sys.exit(1 if failed else 0)
