"""A trip stays with the pull it happened in: the list, the answers, the report, the page and the next pull know of it,
until somebody writes down what was found; and then again, the second time. Trips between pulls, trips whose pull was
never cut, a pull of another source, and books of an earlier program that have trips in their streams.

Usage: trips.py PROGRAM"""
import json
import os
import re
import socket
import sqlite3
import subprocess
import threading
import time
import urllib.request

from harness import Scenario
from door import let_in

s = Scenario()

# an oil pressure that is low from before the load on: nothing trips below 4,000 rpm
FLOOR = s.write("floor.yaml", """alarms:
  - {name: oil pressure floor, watch: oil_pressure, action: shut down, says: shut throttle keep load, below: 2.0 bar, hold: 0.15 s, speed_above: 4000 rpm}
  - {name: lean, watch: lambda, action: back off, says: back off too lean, above: 0.95, hold: 0.3 s, throttle_above: 90 %}
  - {name: coolant warm, watch: coolant_temperature, action: notice, says: watch the coolant closely, above: 75 degC, hold: 0.3 s, in_pull: yes}
""")
ENGINE = s.write("engine.yaml", open(os.path.join(os.path.dirname(__file__), "..", "..", "examples", "engines",
                                                  "hill-climb-six.yaml"), encoding="utf-8").read())
GOOD = "sweep 2500 6500 300;wait 60;"
LOW = "fault oil-pump;wait 5;sweep 2500 6500 300;wait 20;clear;start;wait 60;"


def record(book, run, seed=7, more=()):
    ran = subprocess.run([s.program, "cell", "record", "--json", "--book", book, "--alarms", FLOOR, "--limit", "7000 rpm",
                          "--rate", "300 rpm/s", "--source", f"practice:?pace=0&seed={seed}&run={run}end", *more],
                         input="", capture_output=True, text=True, timeout=300, env=s.environment)
    s.check("a session ends well", ran.returncode == 0, ran.stderr)
    return [json.loads(line) for line in ran.stdout.splitlines()]


def of(news, event):
    return [n for n in news if n["event"] == event]


def ask(book, *args):
    return s.good(*args, "--book", book, "--json").json


def pulls_of(book):
    return {p["id"]: p for p in ask(book, "pull", "list")["pulls"]}


def step(book, pull):
    return ask(book, "judge", "step-up", pull, "--no-keep")


def compare(book, a, b):
    return ask(book, "compare", a, b, "--no-keep")


def words_of(path):
    return subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True).stdout


def report(book, *more):
    out = s.path("report.pdf")
    answer = s.run("sheet", "report", "--for", "shop", "--book", book, "--out", out, *more)
    return answer, re.sub(r"\s+", " ", words_of(out)) if answer.code == 0 else ""


def a_trip_in_a_pull():
    book = s.path("in.book")
    s.good("engine", "add", ENGINE, "--book", book)
    news = record(book, "wait 30;" + GOOD + GOOD + LOW + GOOD)
    pulls = pulls_of(book)
    s.check("four pulls were cut", len(pulls) == 4, pulls)
    s.check("the trip belongs to the third", [p["id"] for p in pulls.values() if p["tripped"]] == [3], pulls)
    s.check("and says what it was", pulls[3]["tripped"] == "shut down: oil pressure floor", pulls[3])
    trips = ask(book, "cell", "alarms", "--trips")["trips"]
    asking = [t for t in trips if t["action"] == "shut down"]
    s.check("it stands open", [(t["pull"], t["open"]) for t in asking] == [(3, True)], trips)
    s.check("notices are with their pulls, and ask for nothing",
            [(t["pull"], t["open"]) for t in trips if t["action"] == "notice"] == [(1, False)], trips)
    told = of(news, "pull")
    s.check("live: neither it nor the next one is judged", [bool(t["verdict"]) for t in told] == [False, True, False, False], told)
    s.check("live: each says why", all("oil pressure floor" in t["why"]["text"] for t in told[2:]), told)
    for pull in (2, 3, 4):
        answer = step(book, pull)
        s.check(f"step-up of pull {pull}: stop and look", answer["answer"] == "stop and look" and
                answer["says"]["text"].startswith("stop and look: shut down, oil pressure floor, in pull 3"), answer["says"])
    answer = compare(book, 2, 4)
    s.check("a comparison is not safe", answer["unsafe"] and "in pull 3" in answer["safe"]["text"], answer["safe"])
    sweep = s.run("judge", "sweep", "spark", "--pulls", "1", "2", "4", "--no-keep", "--book", book)
    s.check("a sweep of one setting is refused as ever", sweep.code == 2, sweep)
    s.check("the list says so", "TRIPPED: shut down: oil pressure floor" in s.good("pull", "list", "--book", book).out)
    shown = s.good("pull", "show", 3, "--book", book).out
    s.check("and the pull", "tripped: shut down, oil pressure floor, in pull 3" in shown and "nobody has written" in shown, shown)
    made, text = report(book)
    s.check("a report leaves it out and says so", made.code == 0 and "Mean of 3 pulls" in text and "pulls 1, 2, 4 " in text and "Pull 3 tripped: shut down" in text
            and "It is not in the means." in text, text[-2500:])
    s.check("and that the pulls are of the practice cell, not of the engine it names",
            "Pulls 1, 2, 4: of the practice cell, an invented engine." in text, text[-2500:])
    made, text = report(book, "--pulls", "3")
    s.check("asked for by number it is there, and said", made.code == 0 and "because it was asked for by number" in text, text[-2500:])
    s.good("sheet", "day", "--book", book, "--out", s.path("day.pdf"))
    day = re.sub(r"\s+", " ", words_of(s.path("day.pdf")))
    s.check("the sheet of the day has both", "tripped: shut down: oil pressure floor" in day and "nobody has written" in day, day)
    return book, asking[0]["trip"]


def found(book, trip):
    for text, why in (("", "a text is needed"), ("   ", "a text is needed")):
        s.refused("nothing is not what was found", s.run("cell", "found", trip, "--what", text, "--book", book), why)
    s.refused("a trip that is none", s.run("cell", "found", 99, "--what", "x", "--book", book), "no trip 99")
    s.refused("one that is a word", s.run("cell", "found", "three", "--what", "x", "--book", book), "not a trip number")
    s.refused("neither what nor back", s.run("cell", "found", trip, "--book", book), "--what")
    s.refused("a pull in which nothing tripped", s.run("cell", "found", "--pull", 1, "--what", "x", "--book", book), "nothing tripped")
    s.refused("all or nothing", s.run("cell", "found", trip, 99, "--what", "x", "--book", book), "no trip 99")
    s.check("a refusal wrote nothing", step(book, 4)["answer"] == "stop and look")
    s.good("cell", "found", trip, "--what", "sump 2 l low: filled; filter clean", "--who", "A. Weir", "--book", book)
    answer = step(book, 4)
    s.check("then the next pull is asked as ever", answer["answer"] != "stop and look" and "trip" not in answer["says"]["text"], answer["says"])
    answer = step(book, 3)
    s.check("the pull itself proves nothing", answer["answer"] == "stop and look" or "proves nothing" in answer["says"]["text"], answer["says"])
    s.check("and says what was found, and by whom", any("found 'sump 2 l low: filled; filter clean' (A. Weir, 20" in c["found"]["text"]
                                                        for c in answer["checks"]), answer["checks"])
    answer = compare(book, 2, 4)
    s.check("a comparison is safe again", not answer["unsafe"], answer["safe"])
    answer = compare(book, 2, 3)
    s.check("one that names it says so", any(w["id"] == "desk.used-tripped" and "pull 3 proves nothing" in w["text"] for w in answer["warnings"]), answer["warnings"])
    news = record(book, "wait 60;" + GOOD)
    told = of(news, "pull")[-1]
    s.check("the next live pull is judged, and not against it", told["verdict"] and told["against"] == 4, told)
    made, text = report(book)
    s.check("the report tells what was found, and keeps it out", "pulls 1, 2, 4, 5 " in text, text)
    s.check("with what was found", "found 'sump 2 l low" in text and "It is not in the means." in text, text[-2500:])
    s.good("cell", "found", trip, "--take-back", "that was the other engine", "--book", book)
    s.check("taken back it stands open again", step(book, 4)["answer"] == "stop and look")
    s.refused("and can not be taken back twice", s.run("cell", "found", trip, "--take-back", "x", "--book", book), "nothing is written down")
    s.good("cell", "found", "--pull", 3, "--what", "wire of the sender was off", "--book", book)
    s.check("written by its pull", step(book, 4)["answer"] != "stop and look")
    log = sqlite3.connect(book).execute("SELECT what FROM change_log").fetchall()
    s.check("all of it is in the log", [w for (w,) in log if "found" in w]== ["what was found", "what was found", "take back what was found", "what was found"][1:], log)


def the_second_time(book):
    news = record(book, "wait 60;" + LOW + GOOD)
    pulls = pulls_of(book)
    tripped = [p["id"] for p in pulls.values() if p["tripped"]]
    s.check("the second time it is with its own pull", tripped == [3, 6], pulls)
    s.check("and not judged", [bool(t["verdict"]) for t in of(news, "pull")] == [False, False], of(news, "pull"))
    answer = step(book, 7)
    s.check("what was found the first time does not answer it", answer["answer"] == "stop and look" and "in pull 6" in answer["says"]["text"], answer["says"])
    s.good("cell", "found", "--pull", 6, "--what", "pump drive sheared: pump replaced", "--book", book)
    s.check("until it is written down too", step(book, 7)["answer"] != "stop and look", step(book, 7)["says"])
    repeat = ask(book, "cell", "repeatability")["levels"]
    s.check("history takes neither", repeat["consecutive"]["degrees_of_freedom"] <= 4, repeat)


def between_and_never_cut():
    book = s.path("between.book")
    s.good("engine", "add", ENGINE, "--book", book)
    # the engine is stopped by the trip before the pull is long enough to be cut
    quick = s.write("quick.yaml", "alarms:\n  - {name: oil pressure floor, watch: oil_pressure, action: shut down, says: shut throttle keep load, below: 2.0 bar, hold: 0.15 s, speed_above: 2500 rpm}\n"
                    "outputs:\n  - {name: shut the throttle, kind: send, line: throttle 0}\n")
    record(book, "wait 30;" + GOOD + LOW + GOOD, more=["--alarms", quick])
    trips = [t for t in ask(book, "cell", "alarms", "--trips")["trips"] if t["action"] == "shut down"]
    pulls = pulls_of(book)
    s.check("a pull that was never cut leaves its trip between two", len(pulls) == 2 and len(trips) == 1 and
            (trips[0]["pull"], trips[0]["after_pull"], trips[0]["before_pull"]) == (0, 1, 2), (trips, pulls))
    s.check("neither of them is marked", not any(p["tripped"] for p in pulls.values()), pulls)
    for pull in (1, 2):
        answer = step(book, pull)
        s.check(f"step-up of pull {pull}: stop and look", answer["says"]["text"].startswith("stop and look: shut down, oil pressure floor, between pull 1 and pull 2"), answer["says"])
    made, text = report(book)
    s.check("the report tells of it", "Alarm tripped: shut down, oil pressure floor, between pull 1 and pull 2" in text, text[-2500:])
    s.good("cell", "found", trips[0]["trip"], "--what", "pick-up was loose", "--book", book)
    s.check("written down, the pulls are judged", step(book, 2)["answer"] != "stop and look" and not compare(book, 1, 2)["unsafe"])
    last = s.path("last.book")
    s.good("engine", "add", ENGINE, "--book", last)
    record(last, "wait 30;" + GOOD + "fault oil-pump;wait 5;sweep 2500 6500 300;", more=["--alarms", quick])
    answer = step(last, 1)
    s.check("after the last pull of a book, too", "after pull 1" in answer["says"]["text"], answer["says"])
    only = s.path("only.book")
    record(only, "fault oil-pump;wait 5;sweep 2500 6500 300;wait 5;", more=["--alarms", quick])
    day = ask_page(only, "day")
    s.check("without any pull the day says stop and look", day["next"]["id"] == "desk.day-next-look" and "outside any pull" in day["why"]["text"], day)
    s.check("and says it once", "stop and look" not in json.dumps([day["why"], day["cautions"]]).lower(), [day["why"], day["cautions"]])


def ask_page(book, *paths, write=None):
    """Answers of the page's interface, from a server of its own."""
    server = subprocess.Popen([s.program, "serve", "--book", book, "--port", "0", "--json"], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                              text=True, env=s.environment)
    try:
        said = json.loads(server.stdout.readline())
        at, mine = said["address"].rstrip("/") + "/api/v1/", {"Cookie": let_in(said)}
        if write:
            request = urllib.request.Request(at + write[0], json.dumps(write[1]).encode(), {"Content-Type": "application/json", **mine})
            try:
                json.load(urllib.request.urlopen(request, timeout=20))
            except urllib.error.HTTPError as problem:
                return problem.code
        answers = [json.load(urllib.request.urlopen(urllib.request.Request(at + path, headers=mine), timeout=20)) for path in paths]
    finally:
        server.terminate()
        server.wait(20)
    return answers[0] if len(answers) == 1 else answers


def the_page(book):
    pulls, trips = ask_page(book, "pulls", "trips")
    s.check("the page has the mark of the pull", [p["id"] for p in pulls["pulls"] if p["tripped"]] == [3], pulls["pulls"][2])
    one = [t for t in trips["trips"] if t["open"]]
    s.check("and the trip with its words", len(one) == 1 and one[0]["text"].startswith("shut down, oil pressure floor, in pull 3"), trips)
    day, up, open_ones = ask_page(book, "day", "pulls/4/step-up", "trips?open=yes")
    s.check("the day says stop and look", day["next"]["id"] == "desk.day-next-look" and "in pull 3" in day["why"]["text"], day["why"])
    s.check("and says it once", "stop and look" not in day["why"]["text"].lower(), day["why"])
    s.check("the next limit too", up["answer"] == "stop and look", up["says"])
    s.check("those that stand open are listed", [t["trip"] for t in open_ones["trips"]] == [one[0]["trip"]], open_ones)
    for body, why in (({"of": "trip", "ids": [], "text": "x"}, "no ids"), ({"of": "cat", "ids": [1], "text": "x"}, "of a cat"),
                      ({"of": "trip", "ids": [one[0]["trip"]], "text": " "}, "no text"), ({"of": "trip", "ids": [4711], "text": "x"}, "no such trip"),
                      ({"of": "trip", "ids": ["1; DROP"], "text": "x"}, "no number"), ({"of": "trip", "ids": [one[0]["trip"]], "text": "x" * 3000}, "too long")):
        s.check(f"the page is refused: {why}", ask_page(book, "day", write=("found", body)) == 400)
    day, trips = ask_page(book, "day", f"trips?pull=3", write=("found", {"of": "trip", "ids": [one[0]["trip"]], "text": "nothing wrong <b>", "who": "B. Holm"}))
    s.check("written from the page it is judged again", day["next"]["id"] != "desk.day-next-look", day["next"])
    s.check("with who wrote it", any(t["found"] == "nothing wrong <b>" and t["found_by"] == "B. Holm" for t in trips["trips"]), trips)
    day = ask_page(book, "day", write=("found", {"of": "trip", "ids": [one[0]["trip"]], "take_back": "wrong engine"}))
    s.check("and taken back there", day["next"]["id"] == "desk.day-next-look", day["next"])


def another_source():
    """Oil pressure comes from one source and the pull is cut out of another, whose clock is 100 s ahead."""
    book = s.path("two.book")
    listeners = [socket.create_server(("127.0.0.1", 0)) for _ in range(2)]
    ready = threading.Barrier(2)

    def speak(listener, head, row, ahead):
        peer = listener.accept()[0]
        peer.sendall((head + "\n").encode())
        ready.wait(20)
        begun = time.monotonic()
        for i in range(600):  # 12 s: idle, a pull of 6 s, idle
            t = i / 50
            while time.monotonic() < begun + t / 2:
                time.sleep(0.002)
            peer.sendall((row(t, ahead) + "\n").encode())
        time.sleep(0.3)
        peer.close()

    def dyno(t, ahead):
        load = 3 <= t < 9
        rpm = 2500 + (t - 3) * 600 if load else 1500
        return f"{t + ahead:.3f},{rpm:.1f},{250 if load else 5},{100 if load else 5}"

    def logger(t, ahead):
        return f"{t + ahead:.3f},{0.09 if 6 < t < 8 else 4.5},90,80"

    table = s.write("two.yaml", "alarms:\n  - {name: oil pressure floor, watch: oil_pressure, action: shut down, says: shut throttle keep load, below: 2.0 bar, hold: 0.15 s}\n")
    threads = [threading.Thread(target=speak, args=(listeners[0], "Time [s],Engine Speed [rpm],Torque [N·m],Throttle [%]", dyno, 100), daemon=True),
               threading.Thread(target=speak, args=(listeners[1], "Time [s],Oil Pressure [bar],Oil Temp [degC],Coolant Temp [degC]", logger, 0), daemon=True)]
    for t in threads:
        t.start()
    addresses = [f"tcp://127.0.0.1:{l.getsockname()[1]}" for l in listeners]
    ran = subprocess.run([s.program, "cell", "record", "--json", "--book", book, "--alarms", table, "--for", "8 s",
                          "--source", addresses[0], "--source", addresses[1]], input="", capture_output=True, text=True, timeout=120, env=s.environment)
    for t in threads:
        t.join(20)
    pulls, trips = pulls_of(book), ask(book, "cell", "alarms", "--trips")["trips"]
    s.check("a pull and a trip, of two recordings", len(pulls) == 1 and len(trips) == 1, (pulls, trips, ran.stdout[-800:], ran.stderr))
    s.check("the trip is in the pull all the same", trips and trips[0]["pull"] == 1 and pulls[1]["tripped"] == "shut down: oil pressure floor", (trips, pulls))
    for listener in listeners:
        listener.close()


def a_book_of_before(book):
    """As an earlier program left it: trips in streams, pulls linked, nothing else."""
    old = s.path("old.book")
    db = sqlite3.connect(old)
    db.executescript(open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "data", "book-5.sql"), encoding="utf-8").read())
    db.execute("PRAGMA foreign_keys = OFF")
    db.execute("ATTACH ? AS now", (book,))
    for (table,) in db.execute("SELECT name FROM main.sqlite_schema WHERE type = 'table'").fetchall():
        columns = ", ".join(r[1] for r in db.execute(f"PRAGMA main.table_info({table})"))
        db.execute(f"DELETE FROM main.{table}")
        db.execute(f"INSERT INTO main.{table} ({columns}) SELECT {columns} FROM now.{table}")
    db.execute("UPDATE main.stream_block SET id = recording_id << 32 | (SELECT sequence FROM now.stream_block n WHERE n.id = main.stream_block.id)")
    files = s.path("cut-files")  # a pull kept a file of its own then
    s.good("book", "export", files, "--book", book)
    for (cut,) in db.execute("SELECT cut_id FROM main.stream_pull").fetchall():
        with open(os.path.join(files, f"recording-{cut:05d}.raw"), "rb") as file:
            db.execute("UPDATE main.recording SET bytes = ? WHERE id = ?", (file.read(), cut))
    db.commit()
    s.check("it is as a program of schema 5 wrote it", db.execute("PRAGMA main.user_version").fetchone() == (5,))
    db.close()
    pulls = pulls_of(old)
    s.check("an old book's trip is in its pull", [p["id"] for p in pulls.values() if p["tripped"]] == [3], pulls)
    s.check("and stands open", step(old, 4)["answer"] == "stop and look", step(old, 4)["says"])
    s.good("cell", "found", "--pull", 3, "--what", "written down years ago in the red folder", "--book", old)
    s.check("until it is written down", step(old, 4)["answer"] != "stop and look")
    whole = ask(old, "book", "verify")
    s.check("the book is whole", whole["whole"], whole)
    folder = s.path("export")
    s.good("book", "export", folder, "--book", old)
    exported = [json.load(open(os.path.join(folder, f), encoding="utf-8")) for f in sorted(os.listdir(folder)) if f.startswith("live-") and f.endswith(".json")]
    s.check("export has what was found", any(t["found"] == "written down years ago in the red folder" and t["pull"] == 3 for e in exported for t in e["trips"]), exported)


def a_replay_asks_for_nothing(book):
    stream = ask(book, "cell", "alarms", "--trips")["trips"][0]["recording"]
    again = s.path("replayed.book")
    ran = subprocess.run([s.program, "cell", "record", "--json", "--book", again, "--alarms", FLOOR, "--source", f"replay:{book}#{stream}?speed=100"],
                         input="", capture_output=True, text=True, timeout=300, env=s.environment)
    trips = [t for t in ask(again, "cell", "alarms", "--trips")["trips"] if t["action"] == "shut down"]
    s.check("a replay trips again, and asks nobody to look", ran.returncode == 0 and trips and not any(t["open"] for t in trips), trips)


book, trip = a_trip_in_a_pull()
copy = s.path("page.book")
s.good("book", "backup", copy, "--book", book)
a_book_of_before(book)
the_page(copy)
found(book, trip)
the_second_time(book)
between_and_never_cut()
another_source()
a_replay_asks_for_nothing(book)
s.finish()
