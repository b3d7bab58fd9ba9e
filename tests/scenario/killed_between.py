"""A live pull's rows are stored while it is measured, the pull itself only after its end. The recorder is killed before each of its
writes to the disk from the first row on (a slice of them; EW_EVERY=1: all): the book is whole, the next session finds the pull or
there is none to be found, and never is half of it stored.

What there is to be found is asked another way: the live recording is exported as a file, and read as any logger's file is.

Usage: killed_between.py PROGRAM SHIM (kill_at.c)."""
import glob
import json
import os
import shutil
import sqlite3
import subprocess
import sys

import recordings
from harness import Scenario

shim = os.path.abspath(sys.argv[2])
s = Scenario()
every = int(os.environ.get("EW_EVERY", "0"))
SWEEP = "practice:?seed=3&pace=20&run=sweep 2500 6500 300;wait 2;end"
first = s.path("first.book")
s.write("engine.yaml", recordings.ENGINE)
s.good("engine", "add", s.path("engine.yaml"), "--book", first)
s.good("pull", "add", s.write("before.csv", recordings.sweep(seed=1).text()), "--set", "spark=28 deg", "--book", first)


def copy(name):
    for end in ("", "-wal", "-shm"):
        if os.path.exists(first + end):
            shutil.copy(first + end, s.path(name) + end)
    return s.path(name)


def record(book, at, source=SWEEP):
    counted = s.path("count")
    done = subprocess.run([s.program, "cell", "record", "--json", "--book", book, "--source", source, "--durability", "power"],
                          env={**s.environment, "LD_PRELOAD": shim, "EW_KILL_AT": str(at), "EW_KILL_COUNT": counted},
                          capture_output=True, text=True, timeout=120, stdin=subprocess.DEVNULL)
    return done, int(open(counted).read()) if at == 0 else 0


def rows_of(book, sql):
    db = sqlite3.connect(f"file:{book}?mode=ro", uri=True)
    try:
        return db.execute(sql).fetchall()
    finally:
        db.close()


def pulls(book):
    return s.good("pull", "list", "--json", "--book", book).json["pulls"]


whole = copy("whole.book")
done, writes = record(whole, 0)
s.check("undisturbed, the pull is stored", done.returncode == 0 and len(pulls(whole)) == 2, done.stderr)
usual = pulls(whole)[-1]
step = every or max(1, writes // 24)
kept = recovered = none = before = 0
for at in range(1, writes + 1, step):
    book = copy("killed.book")
    done, _ = record(book, at)
    if done.returncode == 0:
        continue  # threads share out the writes another way each time: it was over
    s.check(f"killed before write {at}", done.returncode == -9, done)
    streams = rows_of(book, "SELECT recording_id, how FROM stream")
    if not streams:
        before += 1
        s.check(f"{at}: nothing began, and the book is whole", s.run("book", "verify", "--book", book).code == 0)
        os.remove(book)
        continue
    cuts = rows_of(book, "SELECT cut_id FROM stream_pull")
    half = rows_of(book, "SELECT count(*) FROM recording WHERE id NOT IN (SELECT recording_id FROM stream) AND id NOT IN (SELECT recording_id FROM pull)")[0][0]
    s.check(f"{at}: no recording without its pull, no pull without its place", half == 0 and len(cuts) == len(pulls(book)) - 1, (cuts, half))
    # another way to what there is: the rows as a file, before the next session looks at them
    folder = s.path(f"out-{at}")
    s.good("book", "export", folder, "--book", book)
    files = glob.glob(os.path.join(folder, "**", "live-*.csv"), recursive=True)
    read = s.run("pull", "show", files[0], "--json") if files else None
    there = read is not None and read.code == 0
    shutil.rmtree(folder)
    next_one, _ = record(book, 0, "practice:?pace=0&run=wait 1;end")
    told = [json.loads(line) for line in next_one.stdout.splitlines() if '"recovered"' in line]
    told = [t for t in told if t["event"] == "recovered"]
    now = pulls(book)
    if streams[0][1] is None:
        s.check(f"{at}: the next session says what was cut short", len(told) == 1 and told[0]["recording"] == streams[0][0], next_one.stdout[:2000])
    if cuts:
        kept += 1
        s.check(f"{at}: it was stored, and is there once", len(now) == 2 and (not told or told[0]["pulls"] == []), (now, told))
    elif there:
        recovered += 1
        s.check(f"{at}: its rows have it, and the next session has found it", len(now) == 2 and told and told[0]["pulls"] == [now[-1]["id"]], (now, told))
        asked = rows_of(book, f"SELECT finding FROM hold WHERE answered_at IS NULL AND pull_id = {now[-1]['id']}") # beside other doubts
        s.check(f"{at}: it is held, with a question", any("pull.doubt-recovered" in finding for finding, in asked), asked)
        s.check(f"{at}: its figures are those of the file", abs(now[-1]["band_mean_torque_n_m"] - read.json["band_mean_n_m"] if "band_mean_n_m" in read.json else 0) < 1e-6, read.out[:500])
        again, _ = record(book, 0, "practice:?pace=0&run=wait 1;end")
        s.check(f"{at}: and is found once", again.returncode == 0 and len(pulls(book)) == 2)
        answer = s.run("pull", "right", now[-1]["id"], "--reason", "nothing was changed", "--book", book)
        s.check(f"{at}: a person answers, and it counts", answer.code == 0, answer)
    else:
        none += 1
        s.check(f"{at}: its rows have no pull, and none was made of them", len(now) == 1 and told[0]["pulls"] == [], (now, told))
    s.check(f"{at}: the book is whole", s.run("book", "verify", "--book", book).code == 0)
    for end in ("", "-wal", "-shm"):
        if os.path.exists(book + end):
            os.remove(book + end)
print(f"{writes} writes, every {step}th: stored {kept}, recovered {recovered}, too early for a pull {none}, before the session {before}")
s.check("each of the three was seen", every != 1 or (kept and recovered and none), (kept, recovered, none))
s.check("a pull was recovered", recovered > 0, (kept, recovered, none))
s.finish()
