"""The second time, and two at a time: recordings added at once, a live pull seen while it is being stored, a server whose
answers were kept while the book changed under it, days imported together, marks whose words look like the program's."""
import json
import http.client
import os
import sqlite3
import subprocess
import time
import threading

import recordings
from door import let_in
from harness import Scenario

s = Scenario()
book = s.path("shop.book")
s.write("engine.yaml", recordings.ENGINE)
s.good("engine", "add", s.path("engine.yaml"), "--book", book)
s.good("pull", "add", s.write("first.csv", recordings.sweep(seed=1).text()), "--set", "spark=28 deg", "--book", book)

# ---- six at once: each is carried forward from the one before it
# of different times, the later ones first: a number each, whoever is taken first
files = [s.write(f"run-{n}.csv", recordings.sweep(seed=10 + n).text()) for n in range(6)]
stamp = int(time.time()) - 5
for n, path in enumerate(files):
    os.utime(path, (stamp - 60 * n, stamp - 60 * n))
adding = [subprocess.Popen([s.program, "pull", "add", path, "--after-stop", "--book", book], env=s.environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
          for path in files]
ends = [(p.communicate()[1], p.returncode) for p in adding]
s.check("six at once are stored", all(code == 0 for _, code in ends), ends)
pulls = s.good("pull", "list", "--book", book, "--json").json["pulls"]
s.check("each after a stop of its own", sorted(p["run"] for p in pulls) == list(range(1, 8)), [p["run"] for p in pulls])
# what the others store is seen by each, whenever it looks: again and again in books of their own, the order by chance
for k in range(6):
    other = s.path(f"again-{k}.book")
    s.good("engine", "add", s.path("engine.yaml"), "--book", other)
    racing = [subprocess.Popen([s.program, "pull", "add", path, "--after-stop", "--set", "spark=28 deg", "--book", other], env=s.environment, stdout=subprocess.DEVNULL) for path in files]
    stored = [p.wait() for p in racing]
    runs = [p["run"] for p in s.good("pull", "list", "--book", other, "--json").json["pulls"]]
    s.check(f"again, {k + 1}: each after a stop of its own", not any(stored) and len(set(runs)) == 6, (stored, runs))
same = time.time()  # one instant: else each is carried forward from what ran before it, whoever is added first
more = [s.write(f"spark-{n}.csv", recordings.sweep(seed=30 + n).text()) for n in range(4)]
for path in more:
    os.utime(path, (same, same))
adding = [subprocess.Popen([s.program, "pull", "add", more[n], "--set", what, "--book", book], env=s.environment,
                           stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
          for n, what in enumerate(("spark=30 deg", "lambda=0.86", "header=long", "plugs=cold"))]
ends = [(p.communicate()[1], p.returncode) for p in adding]
s.check("four more are stored", all(code == 0 for _, code in ends), ends)
# ---- files of one afternoon, taken out of their order: a stop parts those that ran before it from those after, whenever it is told
out_of_order = s.path("order.book")
s.good("engine", "add", s.path("engine.yaml"), "--book", out_of_order)
noon = 1_790_000_000  # of one day
written = {}
for n, (minute, more) in enumerate(((0, ()), (40, ()), (60, ()), (20, ("--after-stop",)), (50, ("--remounted",)), (10, ()), (30, ()))):
    path = s.write(f"order-{n}.csv", recordings.sweep(seed=90 + n).text())
    os.utime(path, (noon + 60 * minute, noon + 60 * minute))
    answer = s.good("pull", "add", path, *more, "--book", out_of_order, "--json").json
    written[answer["pull_ids"][0]] = (minute, [n["id"] for n in answer["notes"]])
rows = sorted(s.good("pull", "list", "--book", out_of_order, "--json").json["pulls"], key=lambda p: written[p["id"]][0])
groups = [(written[p["id"]][0], p["run"], p["mounting"]) for p in rows]
runs = [sum(a[1] != b[1] for a, b in zip(groups[:n], groups[1:n + 1])) for n in range(len(groups))]
s.check("a stop told late parts the pulls around it", runs == [0, 0, 1, 1, 1, 2, 2], groups)
s.check("and no run's number is on both sides of a stop", len({(r, g[1]) for r, g in zip(runs, groups)}) == 3 == len({g[1] for g in groups}), groups)
s.check("what was taken off late counts for those after it", [g[2] for g in groups] == [1, 1, 1, 1, 1, 2, 2], groups)
s.check("it says which pulls moved", [m for m, notes in written.values() if "desk.pulls-moved" in notes] == [20, 50], written)
db = sqlite3.connect(out_of_order)
moves = db.execute("SELECT count(*) FROM change_log WHERE what = 'pull placed'").fetchone()[0]
db.close()
s.check("each move is in the log", moves == 3, moves)
s.good("book", "verify", "--book", out_of_order)
last = s.good("pull", "list", "--book", book, "--json").json["pulls"][-1]["id"]
shown = s.good("pull", "show", last, "--book", book).out
s.check("what each of them set is carried to the last", all(word in shown for word in ("30 deg", "0.86", "cold", "long")), shown)

# ---- a live pull and the way back to its stream come together
live = s.path("live.book")
s.good("book", "new", "--book", live)
apart, done = [], threading.Event()


def look():
    db = sqlite3.connect(f"file:{live}?mode=ro", uri=True, isolation_level=None)
    while not done.is_set():
        both = db.execute("SELECT (SELECT count(*) FROM recording WHERE name LIKE 'live % to %'), (SELECT count(*) FROM stream_pull)").fetchone()
        if both[0] != both[1]:
            apart.append(both)
    db.close()


watcher = threading.Thread(target=look)
watcher.start()
answer = s.run("cell", "record", "--source", "practice:?pace=0&run=sweep 2500 6500 300;wait 1;sweep 2500 6500 300;wait 1;sweep 2500 6500 300;wait 1;end", "--book", live)
done.set()
watcher.join()
cuts = len(s.good("pull", "list", "--book", live, "--json").json["pulls"])
s.check("pulls were cut out", answer.code == 0 and cuts == 3, answer)
s.check("and no look at the book saw one without its stream", not apart, apart[:5])

# ---- what a server keeps between answers follows the book
serving = []
COOKIES = {}


def serve(path):
    server = subprocess.Popen([s.program, "serve", "--book", path, "--port", "0", "--json"], stdout=subprocess.PIPE, text=True, env=s.environment)
    serving.append(server)
    said = json.loads(server.stdout.readline())
    COOKIES[said["port"]] = let_in(said)
    return said["port"]


def curves(port, ids):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    connection.request("GET", f"/api/v1/curves?pulls={ids}", headers={"Cookie": COOKIES[port]})
    answer = connection.getresponse()
    body = answer.read()
    connection.close()
    s.check("the server answers", answer.status == 200, body[:300])
    return json.loads(body)


spread = s.path("spread.book")
s.good("engine", "add", s.path("engine.yaml"), "--book", spread)
for n, gain in enumerate((1, 1.001, 1.04, 0.999, 1.002, 1.0)):
    s.good("pull", "add", s.write(f"spread-{n}.csv", recordings.sweep(seed=50 + n, gain=gain).text()), "--at", f"2026-03-01T1{n}:00:00Z", "--book", spread)
s.good("pull", "discard", 2, "--reason", "try", "--book", spread)
port = serve(spread)
before = curves(port, "1,4")
LOGGED = ("INSERT INTO change_log (at, who, what, detail, day, uid, cell, writer) SELECT '2026-03-02T10:00:00.000000Z', 'tester', 'put right', 'pulls', '2026-03-02', "
          "printf('00000000-0000-7000-8000-%s', lower(hex(randomblob(6)))), cell, writer FROM change_log LIMIT 1")  # as every change is
db = sqlite3.connect(spread)  # one is left out and another put back: as many as before
db.execute("UPDATE pull SET discarded = NULL WHERE id = 2")
db.execute(LOGGED)
db.execute("UPDATE pull SET discarded = 'missed' WHERE id = 3")
db.commit()
db.close()
after, fresh = curves(port, "1,4"), curves(serve(spread), "1,4")
s.check("another set of pulls gives other bands", before != fresh)
s.check("and the server that ran knows it", after == fresh, (str(after)[:300], str(fresh)[:300]))
db = sqlite3.connect(spread)
db.execute("UPDATE pull SET run = run + (id > 3), mounting = mounting + (id > 4)")
db.execute(LOGGED)
db.commit()
db.close()
s.check("so it does when runs and mountings are put right", curves(port, "1,4") == curves(serve(spread), "1,4"))
for server in serving:
    server.terminate()
    s.check("the server ends in order", server.wait(timeout=30) == 0)
    server.stdout.close()

# ---- three days imported together
for says, oil in (("with oil temperature", True), ("without", False)):
    days = s.path(f"days-{oil}.book")
    s.good("engine", "add", s.path("engine.yaml"), "--book", days)
    for n, when in enumerate(("2026-04-03T09:00:00Z", "2026-04-01T09:00:00Z", "2026-04-02T09:00:00Z", "2026-04-03T09:20:00Z")):  # the last day first
        r = recordings.sweep(seed=70 + n)
        s.good("pull", "add", s.write("day.csv", (r if oil else r.without("Oil Temp")).text()), "--at", when, "--book", days)
    cycles = s.good("book", "info", "--book", days, "--json").json["ledger"]["heat_cycles"]
    s.check(f"three days {says} are three heat cycles", cycles == 3, cycles)

# ---- marks in a person's own words
marks = ("sensors, loose plug at the oil sender", "sensors", "smoke, left bank", "100 % throttle; \"sensors\"")
recorder = subprocess.Popen([s.program, "cell", "record", "--json", "--source", "practice:?pace=2&run=wait 600;end", "--book", live], stdin=subprocess.PIPE,
                            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=s.environment)
told = 0
for line in recorder.stdout:
    event = json.loads(line)
    if event["event"] == "commit" and told == 0:
        told = 1
        recorder.stdin.write("".join(f"mark {text}\n" for text in marks))
        recorder.stdin.flush()
    elif event["event"] == "mark":
        told += 1
        if told == 1 + len(marks):
            recorder.stdin.write("stop\n")
            recorder.stdin.flush()
recorder.wait()
recorder.stdin.close()
recorder.stdout.close()
db = sqlite3.connect(live)
day = db.execute("SELECT substr(at, 1, 10) FROM mark").fetchone()[0]
db.close()
port = serve(live)
connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
connection.request("GET", f"/api/v1/notes?day={day}", headers={"Cookie": COOKIES[port]})
shown = [m["text"] for m in json.loads(connection.getresponse().read())["marks"]]
connection.close()
serving[-1].terminate()
serving[-1].wait(timeout=30)
serving[-1].stdout.close()
s.check("every mark is among the notes", shown == list(marks), shown)
s.finish()
