"""Imports that are killed at random moments: the book is whole each time.

EW_KILLS tells how often (10). The seed of the moments is printed; EW_SEED sets it.
"""
import os
import random
import signal
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
for number in range(kills):
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
print(f"an import takes {1000 * usual:.0f} ms; seed {seed}: {killed} of {kills} imports were killed, {done} had ended before")
s.finish()
