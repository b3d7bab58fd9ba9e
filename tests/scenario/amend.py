"""A fact that was told wrongly is put right afterwards: the curve, its digest and every later answer are, to the bit, those of
a book that was told rightly from the start. The former reading stays, an answer from it is marked and asked again, a second
device is refused, a request that is killed half-way goes on.

EW_PULLS: how many pulls the large amendment has (120; 1000 takes a minute or two). EW_KILLS, EW_SEED as in kills.py.
"""
import json
import os
import random
import resource
import shutil
import signal
import sqlite3
import subprocess
import threading
import time

import recordings
from harness import Scenario
from pages import Page

s = Scenario()
WEATHER = ("Baro", "Intake Air Temp", "Humidity")
ENGINES = {"four": recordings.ENGINE.replace("bench four", "four"), "six": recordings.ENGINE.replace("bench four", "six").replace("cylinders: 4", "cylinders: 6")}
RIGHT = ["--set", "pressure=985 hPa", "--set", "temperature=22 degC", "--set", "humidity=50 %", "--set", "spark=30 deg"]


def ask(book, sql, *values):
    db = sqlite3.connect(book)
    rows = db.execute(sql, values).fetchall()
    db.close()
    return rows


def new_book(name, cell=recordings.CELL):
    book = s.path(name)
    s.good("book", "new", "--book", book)
    s.good("book", "set", "--cell-file", s.write("cell.yaml", cell), "--book", book)
    for engine, text in ENGINES.items():
        s.good("engine", "add", s.write(f"{engine}.yaml", text), "--book", book)
    return book


FILES = [s.write(f"run-{n}.csv", recordings.sweep(seed=n, gain=1 if n < 4 else 1.03).without(*WEATHER).text()) for n in range(1, 7)]
PLAIN = [s.write(f"plain-{n}.csv", recordings.sweep(seed=n, gain=1 if n < 4 else 1.03).without(*WEATHER).text(units="none")) for n in range(1, 7)]


def add(book, n, *words, file=None, at=None):
    return s.run("pull", "add", file or FILES[n - 1], "--engine", "four", "--at", at or f"2026-03-02T1{n}:00:00Z", *words, "--book", book)


def day(name, tell=lambda n: RIGHT, cell=recordings.CELL, files=FILES, engine="four", at=None):
    book = new_book(name, cell)
    for n in range(1, 7):
        told = tell(n)
        s.check(f"{name}: pull {n} is added", add(book, n, *told, file=files[n - 1], at=at(n) if at else None).code == 0)
    for row in ask(book, "SELECT id FROM pull WHERE EXISTS (SELECT 1 FROM hold WHERE pull_id = pull.id AND answered_at IS NULL)"):
        print(f"  {name}: pull {row[0]} is held on entry")
    return book


def facts(book):
    """What later answers are made of, without when and by whom."""
    return ask(book, "SELECT p.id, p.kind, p.at, p.day, e.name, p.run, p.mounting, p.purpose, p.setup, p.changed, p.top_rpm, p.band_mean_n_m, c.method, c.cell, "
               "c.engine, c.digest, c.bytes FROM pull p JOIN curve c ON c.pull_id = p.id LEFT JOIN engine e ON e.id = p.engine_id ORDER BY p.id")


def answers(book):
    """Asked of a copy, so that looks are counted from the same state."""
    copy = s.path("asked.book")
    for end in ("", "-wal", "-shm"):
        if os.path.exists(copy + end):
            os.remove(copy + end)
    s.good("book", "backup", copy, "--book", book)
    said = [s.run(*words, "--book", copy, "--json") for words in
            (("compare", "--a", 1, 2, 3, "--b", 4, 5, 6, "--no-keep"), ("cell", "repeatability"), ("judge", "step-up", 6), ("pull", "explain", 4, "--rpm", "5000 rpm"), ("pull", "curve", 5))]
    return [(a.code, a.out) for a in said]


right = day("right.book")
truth, truth_answers = facts(right), answers(right)
s.check("the right day says a gain", '"gain"' in truth_answers[0][1], truth_answers[0])

# ---- each wrong fact, and the amendment that brings the bits of the right day
WRONG = (
    ("without weather", dict(tell=lambda n: RIGHT if n != 4 else ["--set", "pressure=", "--set", "temperature=", "--set", "humidity=", "--set", "spark=30 deg"]), [["4"] + RIGHT[:6]]),
    ("another pressure", dict(tell=lambda n: RIGHT if n != 4 else RIGHT[2:] + ["--set", "pressure=1005 hPa"]), [["4", "5", "6", "--set", "pressure=985 hPa"]]),
    ("another spark", dict(tell=lambda n: RIGHT if n != 2 else RIGHT[:6] + ["--set", "spark=28 deg"]), [["--since", "2", "--set", "spark=30 deg"]]),
    ("an inertia ten times too large", dict(cell=recordings.CELL.replace("0.085", "0.85")), [["--since", "1", "--cell", "rotor_inertia=0.085 kg.m2"]]),
    ("torque in lb-ft", dict(files=[s.write(f"ft-{n}.csv", open(FILES[n - 1], encoding="utf-8").read().replace("Torque [N·m]", "Torque [lb-ft]")) for n in range(1, 7)]),
     [["--pulls", "1", "2", "3", "4", "5", "6", "--units", "torque=N.m"]]),
    ("another engine", dict(), [["--since", "5", "--engine", "six"], ["--since", "5", "--engine", "four"]]),
    ("another day", dict(at=lambda n: f"2026-03-02T1{n}:00:00Z" if n < 6 else "2026-03-02T23:00:00Z"), [["6", "--at", "2026-03-02T16:00:00Z"]]),
    ("another purpose", dict(tell=lambda n: RIGHT + (["--purpose", "heat"] if n == 3 else [])), [["3", "--purpose", "pull"]]),
    ("a change that was none", dict(tell=lambda n: RIGHT + (["--changed", "a jet"] if n == 4 else [])), [["4", "--changed", ""]]),
    ("another factor", dict(tell=lambda n: RIGHT + (["--standard", "none"] if n == 5 else [])), [["5", "--standard", "j1349"]]),
)
for says, how, mends in WRONG:
    book = day(f"{says.replace(' ', '-')}.book", **how)
    wrong = facts(book)
    if says != "another engine":
        s.check(f"{says}: the wrong day differs", wrong != truth)
    for mend in mends:
        done = s.good("pull", "amend", *mend, "--reason", f"told {says}", "--book", book, "--json")
        s.check(f"{says}: something was amended", len(done.json["pulls"]) > 0 if done.code == 0 else False, done)
    now = facts(book)
    different = [(a[0], [k for k, (x, y) in enumerate(zip(a, b)) if x != y]) for a, b in zip(now, truth) if a != b]
    s.check(f"{says}: amended, every fact and every byte of every curve is that of the right day", now == truth, different)
    s.check(f"{says}: and so is every answer", answers(book) == truth_answers)
    former = ask(book, "SELECT count(*), sum(f.digest = c.digest) FROM former f JOIN curve c ON c.pull_id = f.pull_id")
    s.check(f"{says}: the former readings are kept", former[0][0] > 0, former)
    verified = s.good("book", "verify", "--book", book, "--json").json
    s.check(f"{says}: the book is whole", verified["whole"] and not verified["problems"], verified)
    history = s.good("pull", "history", mends[0][0] if mends[0][0].isdigit() else mends[0][1] if mends[0][1].isdigit() else "1", "--book", book, "--json").json
    s.check(f"{says}: its history tells who, when and why", history["amendments"] and history["amendments"][0]["who"] == "tester"
            and history["amendments"][0]["reason"] == f"told {says}" and history["amendments"][0]["changes"], history)

# ---- undo is an amendment; the former facts and bits are back
book = day("undo.book")
s.good("pull", "amend", "3", "--set", "pressure=960 hPa", "--set", "spark=", "--changed", "a jet", "--reason", "mistaken", "--book", book)
s.check("amended, it differs", facts(book) != truth)
s.good("pull", "amend", "3", "--undo", "--reason", "it was right", "--book", book)
s.check("taken back, it is to the bit what it was", facts(book) == truth)
rows = s.good("pull", "history", "3", "--book", book, "--json").json
s.check("and both are told", rows["reading"] == 3 and rows["amendments"][1]["undoes"] == rows["amendments"][0]["id"], rows)
s.good("pull", "amend", "3", "--units", "torque=lb-ft", "--reason", "mistaken", "--book", book)
s.good("pull", "amend", "3", "--undo", "--reason", "N.m after all", "--book", book)
s.check("a unit of the whole recording too", facts(book) == truth and ask(book, "SELECT channel_map FROM recording WHERE id = 3") == [(None,)])

# ---- parts: a recording whose wrong map found none, one or another number of pulls
two = s.write("two.csv", recordings.sweep(seed=9, sweeps=2).text())
book = new_book("parts.book")
s.good("pull", "add", two, "--engine", "four", "--at", "2026-03-02T10:00:00Z", "--book", book)
before = facts(book)
s.check("two pulls", len(before) == 2, len(before))
wrong = s.run("pull", "amend", "1", "--units", "speed=deg/s", "--reason", "speed in degrees", "--book", book)
after = ask(book, "SELECT id, reading, discarded IS NOT NULL, part FROM pull")
s.check("units under which no pull is found are refused or find them all; nothing is half-stored",
        (wrong.code == 2 and facts(book) == before) or (wrong.code == 0 and len(after) == 2 and all(row[1] == 2 for row in after)), (wrong, after))
if wrong.code == 0:
    s.good("pull", "amend", "1", "--undo", "--reason", "rpm", "--book", book)
    s.check("and back", facts(book) == before)

# ---- answers on an earlier reading
book = day("answers.book", tell=lambda n: RIGHT if n != 4 else RIGHT[2:] + ["--set", "pressure=1010 hPa"])
s.good("compare", "--a", 1, 2, 3, "--b", 4, "--book", book)
s.good("compare", "1", "2", "--book", book)
told = s.good("pull", "amend", "4", "--set", "pressure=985 hPa", "--reason", "another barometer", "--book", book, "--json").json
s.check("the answer that used it is named, and no other", len(told["answers_on_an_earlier_reading"]) == 1, told)
listed = s.good("judge", "again", "--list", "--book", book, "--json").json["answers"]
s.check("it is listed, and not asked yet", len(listed) == 1 and listed[0]["now"] is None and "earlier reading" in listed[0]["before"]["text"], listed)
again = s.good("judge", "again", "--book", book, "--json").json["answers"]
s.check("asked again it has a new answer", len(again) == 1 and again[0]["now"] and again[0]["refused"] is None, again)
s.check("which is on no earlier reading", s.good("judge", "again", "--book", book, "--json").json["answers"] == [])
rows = ask(book, "SELECT pulls, readings FROM verdict ORDER BY id")
s.check("each knows its readings", rows == [("1,2,3,5,6:4", "1.1,2.1,3.1,5.1,6.1:4.1"), ("1:2", "1.1:2.1;3.1,5.1,6.1"), ("1,2,3,5,6:4", "1.1,2.1,3.1,5.1,6.1:4.2")], rows)
page = s.good("sheet", "report", "--for", "shop", "--pulls", "4,5", "--book", book, "--out", s.path("report.html"))
text = open(s.path("report.html"), encoding="utf-8").read()
s.check("a report names the amendment, its day and its reason", "another barometer" in text and "amended" in text)

# ---- answers that learned from it, asked again as they were asked
s.good("compare", "--a", 1, 2, "--b", 3, "--margin", "2 %", "--level", "restart", "--band", "4000:6000", "--despite", "cell", "--book", book)
told = s.good("pull", "amend", "6", "--set", "pressure=984 hPa", "--reason", "another barometer", "--book", book, "--json").json
count = ask(book, "SELECT count(*) FROM verdict")[0][0]
s.check("every answer whose scatter was learned from it is named", len(told["answers_on_an_earlier_reading"]) == count, (told, count))
again = s.good("judge", "again", "--book", book, "--json").json["answers"]
s.check("each question is asked again once, in one go", len(again) == 3 and all(one["now"] for one in again), again)
s.check("and none is left", s.good("judge", "again", "--list", "--book", book, "--json").json["answers"] == [])
kept = [json.loads(row[0]) for row in ask(book, "SELECT json FROM verdict WHERE pulls = '1,2:3' ORDER BY id")]
s.check("with its own margin, level, band and what may differ", len(kept) == 2 and kept[0]["asked"] == kept[1]["asked"] and kept[1]["margin"] == 0.02 and kept[1]["level"] == kept[0]["level"]
        and kept[1]["band_low_rpm"] == 4000 and kept[1]["asked"]["despite"] == ["cell"], [one["asked"] for one in kept])

# ---- a held pull is used by nothing until it is answered
book = day("held.book")
db = sqlite3.connect(book)
finding = '{"id":"pull.doubt-bmep-high","about":"torque","arguments":{}}'
db.execute("INSERT INTO hold (pull_id, finding, at, uid, cell, writer, day) SELECT id, ?, at, '00000000-0000-7000-8000-000000000001', cell, writer, day FROM pull WHERE id = 6", (finding,))
db.commit()
db.close()
s.check("it is listed as held", s.good("pull", "list", "--book", book, "--json").json["pulls"][5]["held"]["id"] == "pull.doubt-bmep-high")
s.check("also for people", "HELD" in s.good("pull", "list", "--book", book).out)
s.good("sheet", "report", "--for", "shop", "--engine", "four", "--book", book, "--out", s.path("held.html"))
s.refused("right without a reason", s.run("pull", "right", "6", "--book", book), "reason")
s.refused("right of one that is not held", s.run("pull", "right", "5", "--reason", "x", "--book", book), "5", "not held")
s.refused("right of several, one not held", s.run("pull", "right", "6", "5", "--reason", "x", "--book", book), "5", "not held")
s.check("and nothing was half-stored", ask(book, "SELECT count(answered_at) FROM hold") == [(0,)])
s.good("pull", "right", "6", "--reason", "it is a diesel", "--book", book)
s.check("right as it is, it is used again, with the same answers", s.good("pull", "list", "--book", book, "--json").json["pulls"][5]["held"] is None and answers(book) == truth_answers)

# ---- bad input: one sentence, exit code 2, nothing stored
before = (facts(right), ask(right, "SELECT (SELECT count(*) FROM amendment), (SELECT count(*) FROM former), (SELECT count(*) FROM change_log)"))
for says, words, names in (
        ("a pull that is not there", ["99", "--set", "pressure=985 hPa", "--reason", "x"], ["99"]),
        ("one that is there and one that is not", ["1", "99", "--set", "pressure=985 hPa", "--reason", "x"], ["99"]),
        ("a wrong unit", ["1", "--set", "pressure=985 kg", "--reason", "x"], ["pressure", "kg"]),
        ("no unit", ["1", "--set", "pressure=985", "--reason", "x"], ["pressure", "unit"]),
        ("no reason", ["1", "--set", "pressure=985 hPa"], ["reason"]),
        ("a blank reason", ["1", "--set", "pressure=985 hPa", "--reason", "  "], ["reason"]),
        ("nothing to amend", ["1", "--reason", "x"], ["what was wrong"]),
        ("a value out of range", ["1", "--set", "pressure=5 hPa", "--reason", "x"], ["pressure", "5 hPa", "500 hPa"]),
        ("not a number", ["1", "--set", "pressure=nan hPa", "--reason", "x"], ["pressure"]),
        ("an unknown field", ["1", "--set", "presure=985 hPa", "--reason", "x"], ["presure"]),
        ("no equals sign", ["1", "--set", "pressure", "--reason", "x"], ["pressure"]),
        ("a unit of another kind", ["1", "--units", "torque=degC", "--reason", "x"], ["torque", "degC"]),
        ("an unknown channel", ["1", "--units", "toque=N.m", "--reason", "x"], ["toque"]),
        ("a channel that the recording lacks", ["1", "--units", "air_flow=kg/h", "--reason", "x"], ["air_flow"]),
        ("a time that is none", ["1", "--at", "yesterday", "--reason", "x"], ["yesterday"]),
        ("an engine that is not there", ["1", "--engine", "nobody", "--reason", "x"], ["nobody"]),
        ("a cell field that is none", ["1", "--cell", "arms=1 m", "--reason", "x"], ["arms"]),
        ("a purpose that is none", ["1", "--purpose", "fun", "--reason", "x"], ["fun"]),
        ("a standard that is none", ["1", "--standard", "x9", "--reason", "x"], ["x9"]),
        ("a map that fits no column", ["1", "--map", s.write("bad.yaml", "channels:\n  speed: { column: Nothing }\n  torque: { column: None }\n"), "--reason", "x"], []),
        ("no pull number", ["one", "--changed", "x", "--reason", "x"], ["one"]),
        ("no pull", ["--changed", "x", "--reason", "x"], ["pull"]),
        ("a reading that is over", ["1", "--reading", "7", "--changed", "x", "--reason", "x"], ["reading"]),
        ("undo with more", ["1", "--undo", "--changed", "x", "--reason", "x"], ["--undo"]),
        ("undo of what was never amended", ["1", "--undo", "--reason", "x"], ["never amended"]),
        ("a reason of 3,000 bytes", ["1", "--changed", "x", "--reason", "x" * 3000], ["reason", "3000"])):
    s.refused(says, s.run("pull", "amend", *words, "--book", right), *names)
s.refused("history of a pull that is not there", s.run("pull", "history", "99", "--book", right), "99")
after = (facts(right), ask(right, "SELECT (SELECT count(*) FROM amendment), (SELECT count(*) FROM former), (SELECT count(*) FROM change_log)"))
s.check("nothing of all that was stored", before == after)
said = s.good("pull", "amend", "1", "--set", "spark=30 deg", "--reason", "x", "--book", right, "--json").json
s.check("what says so already is left alone", said["already"] == 1 and said["pulls"] == [] and facts(right) == truth, said)

# ---- two devices at once: one of them is refused, in a sentence
book = day("twice.book")
at_once = [subprocess.Popen([s.program, "pull", "amend", "4", "--reading", "1", "--set", f"pressure={p} hPa", "--reason", f"device {p}", "--book", book],
                            env=s.environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE) for p in (980, 990)]
said = [process.communicate()[1].decode() for process in at_once]
codes = sorted(process.returncode for process in at_once)
s.check("one is kept and one is refused", codes == [0, 2] and any("amended meanwhile" in text for text in said), (codes, said))
s.check("and there is one amendment", ask(book, "SELECT count(*), max(reading) FROM amendment") == [(1, 2)])

# the same from two devices of one page
book = day("twice-page.book")
with Page(s, book) as page:
    answers = []
    both = [threading.Thread(target=lambda p=p: answers.append(page.ask("POST", "pulls/4/amend", {"set": {"pressure": f"{p} hPa"}, "reason": f"device {p}", "reading": 1}))) for p in (980, 990)]
    for one in both:
        one.start()
    for one in both:
        one.join()
s.check("by the page one is kept, and one is refused and told to look again", sorted(status for status, _ in answers) == [200, 400] and
        any("amended meanwhile" in answer.get("error", "") for _, answer in answers), answers)
s.check("and there is one amendment", ask(book, "SELECT count(*), max(reading) FROM amendment") == [(1, 2)])

# ---- many: progress, killed half-way and gone on with, cost
count = int(os.environ.get("EW_PULLS", "120"))
book = new_book("many.book")
s.good("pull", "add", FILES[0], *RIGHT, "--engine", "four", "--at", "2026-03-02T10:00:00Z", "--book", book)
db = sqlite3.connect(book)
columns = {table: [row[1] for row in db.execute(f"PRAGMA table_info({table})") if row[1] not in ("id", "uid", "recording_id", "pull_id")] for table in ("recording", "pull", "curve")}
for n in range(2, count + 1):
    name = f"'00000000-0000-7000-8000-{n:012d}'"
    for table, key in (("recording", ""), ("pull", "recording_id, ")):
        c = ", ".join(columns[table])
        db.execute(f"INSERT INTO {table} (id, uid, {key}{c}) SELECT {n}, {name}, {f'{n}, ' if key else ''}{c} FROM {table} WHERE id = 1")
    c = ", ".join(columns["curve"])
    db.execute(f"INSERT INTO curve (pull_id, {c}) SELECT {n}, {c} FROM curve WHERE pull_id = 1")
db.commit()
db.close()


def cpu():
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


begin = cpu()
s.good("book", "verify", "--book", book, "--json")
computing = cpu() - begin
shutil.copy(book, s.path("cut.book"))
begin, wall = cpu(), time.monotonic()
done = s.good("pull", "amend", "--since", "1", "--set", "pressure=980 hPa", "--reason", "another barometer", "--book", book, "--json").json
amending, wall = cpu() - begin, time.monotonic() - wall
beyond = 1000 * (amending - computing) / count
print(f"{count} pulls: amended in {1000 * amending / count:.1f} ms of CPU each, {beyond:.1f} ms beyond computing them")
s.check("all are amended", len(done["pulls"]) == count and ask(book, "SELECT count(*) FROM pull WHERE reading = 2") == [(count,)])
s.check("under 10 ms of CPU a pull beyond computing it", beyond < 10, beyond)

# stopped with Ctrl-C: a sentence, exit code 1, whole pulls, and it goes on
shutil.copy(s.path("cut.book"), s.path("stopped.book"))
process = subprocess.Popen([s.program, "pull", "amend", "--since", "1", "--set", "pressure=980 hPa", "--reason", "another barometer", "--book", s.path("stopped.book"), "--json"],
                           env=s.environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
while not ask(s.path("stopped.book"), "SELECT count(*) FROM amendment")[0][0]:
    time.sleep(0.01)
process.send_signal(signal.SIGINT)
out, err = process.communicate()
some = ask(s.path("stopped.book"), "SELECT count(*) FROM pull WHERE reading = 2")[0][0]
s.check("stopped by hand, it says so and what was done", (process.returncode == 1 and b"stopped" in err and json.loads(out)["stopped"] and len(json.loads(out)["pulls"]) == some < count)
        or (process.returncode == 0 and some == count), (process.returncode, err, some))
rest = s.good("pull", "amend", "--since", "1", "--set", "pressure=980 hPa", "--reason", "another barometer", "--book", s.path("stopped.book"), "--json").json
s.check("and goes on with the rest", rest["already"] == some and len(rest["pulls"]) == count - some and facts(s.path("stopped.book")) == facts(book), (some, rest["already"]))

seed = int(os.environ.get("EW_SEED", "20261"))
chance = random.Random(seed)
cut, killed, states = s.path("cut.book"), 0, []
for number in range(int(os.environ.get("EW_KILLS", "5"))):
    process = subprocess.Popen([s.program, "pull", "amend", "--since", "1", "--set", "pressure=980 hPa", "--reason", "another barometer", "--book", cut],
                               env=s.environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        process.wait(timeout=chance.uniform(0.1, 0.6) * wall)
    except subprocess.TimeoutExpired:
        process.send_signal(signal.SIGKILL)
    process.communicate()
    killed += process.returncode == -signal.SIGKILL
    states.append(ask(cut, "SELECT sum(reading = 2), (SELECT count(*) FROM former), (SELECT count(*) FROM amendment) FROM pull")[0])
    s.check(f"kill {number}: each pull is whole, amended or not", len(set(states[-1])) == 1, states[-1])
s.check("each goes on where the last one stopped", states == sorted(states), states)
rest = s.good("pull", "amend", "--since", "1", "--set", "pressure=980 hPa", "--reason", "another barometer", "--book", cut, "--json").json
s.check("and the last one does the rest", len(rest["pulls"]) + rest["already"] == count and facts(cut) == facts(book), (len(rest["pulls"]), rest["already"]))
s.check("once each", ask(cut, "SELECT max(reading) FROM pull") == [(2,)])
print(f"seed {seed}: {killed} killed, after {[state[0] for state in states]} pulls")
s.finish()
