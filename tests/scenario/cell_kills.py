#!/usr/bin/env python3
"""Kills the recorder at random moments: every row that it said was stored is in the book, in order and
with its value, the book is whole, and the next recorder tells what was cut short.

Usage: cell_kills.py PROGRAM. EW_KILLS says how often (10); EW_SEED repeats a run."""
import json
import os
import random
import sqlite3
import struct
import subprocess
import sys
import tempfile
import threading
import time

program = sys.argv[1]
kills = int(os.environ.get("EW_KILLS", "10"))
seed = int(os.environ.get("EW_SEED", "20261125"))
rng = random.Random(seed)
passed = failed = 0


def check(good, says):
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print("FAILED:", says)


def feed(process, stop, rate):
    """Rows that carry their own number."""
    try:
        process.stdin.write(b"Time [s],RPM [rpm],Number\n")
        n = 0
        while not stop.is_set():
            lines = b"".join(b"%.4f,%d,%d\n" % ((n + k) / rate, 3000 + (n + k) % 100, n + k) for k in range(20))
            process.stdin.write(lines)
            process.stdin.flush()
            n += 20
            time.sleep(20 / rate)
    except (BrokenPipeError, OSError, ValueError):
        pass


def one(book, durability):
    process = subprocess.Popen([program, "cell", "record", "--json", "--book", book, "--source", "stdin:",
                                "--durability", durability],
                               stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    stop = threading.Event()
    feeder = threading.Thread(target=feed, args=(process, stop, rng.choice([200, 1000, 5000])))
    acknowledged, recovered = {}, []

    def listen():
        for line in process.stdout:
            try:
                news = json.loads(line)
            except ValueError:
                continue  # the line that was being written when the kill came
            if news["event"] == "commit":
                acknowledged[news["recording"]] = news["stored_rows"]
            elif news["event"] == "recovered":
                recovered.append(news)

    listener = threading.Thread(target=listen)
    feeder.start()
    listener.start()
    time.sleep(rng.uniform(0.05, 1.2))
    process.kill()
    process.wait()
    stop.set()
    feeder.join()
    listener.join()
    try:
        process.stdin.close()
    except OSError:
        pass
    return acknowledged, recovered


def numbers(book, recording):
    db = sqlite3.connect(book)
    found = []
    for rows, data in db.execute("SELECT rows, bytes FROM stream_block WHERE recording_id = ? ORDER BY id",
                                 (recording,)):
        values = struct.unpack("<%dd" % (rows * 3), data)
        found += [int(v) for v in values[2::3]]
    db.close()
    return found


with tempfile.TemporaryDirectory() as folder:
    book = os.path.join(folder, "kills.book")
    total = told = 0
    for k in range(kills):
        acknowledged, recovered = one(book, "power" if k % 2 else "process")
        told += len(recovered)
        answer = subprocess.run([program, "book", "verify", "--json", "--book", book], capture_output=True, text=True)
        if not os.path.exists(book) or (not acknowledged and answer.returncode):
            continue  # killed before the book was made
        found = json.loads(answer.stdout)
        rows = {r["id"]: r["rows"] for r in found["recordings"]}
        check(found["whole"], f"kill {k}: the book is not whole: {found['problems']}")
        for recording, stored in acknowledged.items():
            check(rows.get(recording, -1) >= stored,
                  f"kill {k}: {stored} rows were acknowledged, {rows.get(recording)} are there")
            values = numbers(book, recording)
            check(values == list(range(len(values))), f"kill {k}: rows are not the ones that were sent, in order")
            total += stored
    last = subprocess.run([program, "cell", "record", "--json", "--book", book, "--source", "stdin:"],
                          input="Time [s],RPM [rpm]\n0,1\n", capture_output=True, text=True)
    check(last.returncode == 0, "the recorder runs after the kills: " + last.stderr)
    news = [json.loads(line) for line in last.stdout.splitlines()]
    check(any(n["event"] == "commit" and n["stored_rows"] == 1 for n in news), "it stores again")
    check(total > 0 or kills < 3, "rows were acknowledged at all")
    print(f"{kills} kills (seed {seed}): {total} acknowledged rows, all there; {told} cut recordings told of")
if failed:
    print(f"[  FAILED  ] {failed} test(s).")
print(f"[  PASSED  ] {passed} test(s).")
sys.exit(1 if failed else 0)
