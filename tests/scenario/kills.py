"""Imports, and curves that are computed anew, killed at random moments: the book is whole each time.

EW_KILLS tells how often (10). The seed of the moments is printed; EW_SEED sets it.
"""
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import time

import recordings
from harness import Scenario

s = Scenario()
kills = int(os.environ.get("EW_KILLS", "10"))
seed = int(os.environ.get("EW_SEED", "20261"))
chance = random.Random(seed)
book = s.path("shop.book")
s.good("book", "new", "--book", book)
s.good("pull", "add", s.write("first.csv", recordings.sweep(seed=1).text()), "--book", book)
path = s.write("run.csv", recordings.sweep(seed=2, sweeps=6).text())


def start(name):
    body = recordings.sweep(seed=chance.randrange(10**6), sweeps=2).text()
    return subprocess.Popen([s.program, "pull", "add", s.write(name, body), "--book", book], env=s.environment,
                            stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)


first = start("whole.csv")
begin = time.monotonic()
first.communicate()
usual = time.monotonic() - begin  # the moments lie within what an import takes, whatever the machine
killed = done = 0
fresh = s.path("fresh.book")
s.good("book", "backup", fresh, "--book", book)
for number in range(kills):
    if number % 20 == 19:  # a book that only grows makes each look at it longer than the last
        for name in (book, book + "-wal", book + "-shm"):
            if os.path.exists(name):
                os.remove(name)
        shutil.copy(fresh, book)
    before = s.run("book", "verify", "--book", book, "--json").json
    process = start(f"run-{number}.csv")
    try:
        process.wait(timeout=chance.uniform(0, 1.3 * usual))
    except subprocess.TimeoutExpired:
        process.send_signal(signal.SIGKILL)
    error = process.communicate()[1]
    killed += process.returncode == -signal.SIGKILL
    done += process.returncode == 0
    answer = s.run("book", "verify", "--book", book, "--json")
    after = answer.json
    more = (len(after["recordings"]) - len(before["recordings"]), after["curves"] - before["curves"])
    s.check(f"kill {number}: whole, and all or nothing of the import is there",
            answer.code == 0 and after["whole"] and not after["problems"] and more in [(0, 0), (1, 2)] and
            (more == (1, 2) or process.returncode == -signal.SIGKILL), (more, process.returncode, error, answer))
s.check("the book takes an import after all that", start("last.csv").wait() == 0)
s.check("and is whole", s.run("book", "verify", "--book", book).code == 0)

# the same of 'book renew', on a copy whose curves say that an earlier reduction made them
aged = s.path("aged.book")
s.good("book", "backup", aged, "--book", book)
db = sqlite3.connect(aged)
db.execute("UPDATE curve SET reduction = 0")
db.commit()
db.close()


def old_curves(path):
    db = sqlite3.connect(path)
    count = db.execute("SELECT count(*) FROM curve WHERE reduction = 0").fetchone()[0]
    db.close()
    return count


curves = old_curves(aged)


def renew(path):
    return subprocess.Popen([s.program, "book", "renew", "--book", path], env=s.environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)


shutil.copy(aged, s.path("timed.book"))
begin = time.monotonic()
s.check("curves are computed anew", renew(s.path("timed.book")).wait() == 0)
takes = time.monotonic() - begin
cut = 0
for number in range(kills):
    path = s.path("cut.book")
    for name in (path, path + "-wal", path + "-shm"):
        if os.path.exists(name):
            os.remove(name)
    shutil.copy(aged, path)
    process = renew(path)
    try:
        process.wait(timeout=chance.uniform(0, 1.1 * takes))
    except subprocess.TimeoutExpired:
        process.send_signal(signal.SIGKILL)
    process.communicate()
    cut += process.returncode == -signal.SIGKILL
    whole = s.run("book", "verify", "--book", path, "--json").json
    left = old_curves(path)
    s.check(f"cut {number}: whole, and every curve is of one reduction or the other",
            whole["whole"] and whole["curves"] == curves and (left == 0 or process.returncode == -signal.SIGKILL), (whole, left, process.returncode))
    s.check(f"cut {number}: the rest is computed anew", s.run("book", "renew", "--book", path, "--json").json["renewed"] == left, left)
    s.check(f"cut {number}: and nothing is left", old_curves(path) == 0)
print(f"computing {curves} curves anew takes {1000 * takes:.0f} ms: {cut} of {kills} were killed")
print(f"an import takes {1000 * usual:.0f} ms; seed {seed}: {killed} of {kills} imports were killed, {done} had ended before")
s.finish()
