#!/usr/bin/env python3
"""power_cuts.py IMAGE PROGRAM [--cuts 20] [--starts 4] [--accelerator tcg] [--seed 1] [--keep]: the image of the cell's computer, cut off while it
records a practice engine (cell_machine.py).

The machine starts, a device is paired, and its state is kept. From there it goes on for each cut, records for a while that chance chooses, takes
notes, and is killed. Its disk forgets at each cut what was not flushed, sector by sector at random (volatile_disk.py); qemu itself keeps nothing
back: each write and flush of the machine reaches that disk as the machine sends it. After --starts of the cuts, spread over them, the whole machine
starts again from the very disk that the cut left, its page is asked, and the next cuts go on from there.

After each cut, outside the machine: e2fsck of a copy of the data partition finds nothing once its journal is played back; the book that lies there
is whole (digests, and every curve computed again from raw); each note, each pull and the device that the page had acknowledged are there; nothing
was written to the system's own partitions. Run by hand, or by script/image --try; it takes half an hour.

Outside sources: e2fsck(8), debugfs(8), sqlite3; exit code 1 when a check failed.
"""
import argparse
import glob
import json
import os
import random
import shutil
import subprocess
import sys
import time

from cell_machine import Checks, Machine, Practice

asked = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
asked.add_argument("image")
asked.add_argument("program", nargs="?", default="build-package/enginewright")
asked.add_argument("--cuts", type=int, default=20)
asked.add_argument("--starts", type=int, default=4)
asked.add_argument("--accelerator", default="tcg")
asked.add_argument("--seed", type=int, default=1)
asked.add_argument("--keep", action="store_true")
asked = asked.parse_args()
chance = random.Random(asked.seed)
check = Checks()
READ_ONLY = ("enginewright-start", "system-a")


class Acknowledged:
    """What the page said is kept, and how many rows the book held when the machine was kept."""

    def __init__(self, former=None):
        self.notes, self.pulls, self.rows = (set(former.notes), set(former.pulls), former.rows) if former else (set(), set(), 0)

    def holds(self, where, notes, pulls):
        check(f"each note that was acknowledged is there ({where})", self.notes <= notes, self.notes - notes)
        check(f"each pull that was listed is there ({where})", self.pulls <= pulls, self.pulls - pulls)

    def told(self, machine):
        notes = set()
        for day in {n[1] for n in self.notes}:
            notes |= {(n["text"], day) for n in machine.ask("GET", f"notes?day={day}")[1]["notes"]}
        self.holds("page", notes, {p["id"] for p in machine.ask("GET", "pulls")[1]["pulls"]})


def said(*words):
    done = subprocess.run([os.path.abspath(asked.program), *words], capture_output=True, text=True, check=False, timeout=300)
    try:
        return done.returncode, json.loads(done.stdout)
    except ValueError:
        return done.returncode, done.stdout + done.stderr


def look_outside(machine, known, length):
    """The data partition after the cut, and the book on it; what was found in a line."""
    data, files = os.path.join(machine.folder, "data"), os.path.join(machine.folder, "files")
    machine.data(data)
    shutil.rmtree(files, ignore_errors=True)
    os.mkdir(files)
    journal = subprocess.run(["e2fsck", "-E", "journal_only", "-y", data], capture_output=True, text=True, check=False)
    check("the journal is played back", journal.returncode in (0, 1), journal.stdout[-400:])
    done = subprocess.run(["e2fsck", "-f", "-n", data], capture_output=True, text=True, check=False)
    check("the data partition is whole after the cut", done.returncode == 0, done.stdout[-800:])
    subprocess.run(["debugfs", "-R", f"rdump / {files}", data], capture_output=True, check=False)
    os.remove(data)
    books = glob.glob(files + "/*.book")
    if not check("there is one book", len(books) == 1, books):
        return ""
    waited = os.path.getsize(books[0] + "-wal") if os.path.exists(books[0] + "-wal") else 0
    code, verdict = said("book", "verify", "--book", books[0], "--json")
    if not check("the book is whole", code == 0 and verdict["whole"] is True, verdict):
        return ""
    _, notes = said("book", "notes", "--book", books[0], "--json")
    _, pulls = said("pull", "list", "--book", books[0], "--json")
    days = {n[1] for n in known.notes}
    known.holds("disk", {(n["text"], day) for n in notes["notes"] for day in days}, {p["id"] for p in pulls["pulls"]})
    code, _ = said("book", "check", "--book", books[0], "--json")
    check("the book's own check reads it", code in (0, 1), code)
    rows = sum(r["rows"] for r in verdict["recordings"])
    # how many depends on what this machine leaves to the one in qemu; none at all after ten seconds is a fault
    check("rows were stored before the cut", rows > known.rows or length < 10, (rows, known.rows, length))
    found = f"{waited >> 10} kB of the book's log, {rows - known.rows} rows more, {len(verdict['recordings'])} recordings and {verdict['curves']} curves whole"
    known.rows = rows
    return found


def record_and_cut(machine, number, known, source):
    """Some seconds of recording, with something written down; then the plug. How long, and what it cost the disk."""
    status, answer, _ = machine.ask("POST", "live/start", {"source": source})
    if not check("recording begins", status == 200, answer):
        return None
    begun, last, count = time.monotonic(), time.monotonic() + chance.uniform(5, 30), 0
    while time.monotonic() < last:
        now = machine.ask("GET", "live")[1]["now"]
        text = f"cut {number}, note {count}"
        status, answer, _ = machine.ask("POST", "notes", {"at": now, "text": text})
        if check("a note is taken", status == 200, answer):
            known.notes.add((text, now[:10]))
            count += 1
        known.pulls |= {p["id"] for p in machine.ask("GET", "pulls")[1]["pulls"]}
        time.sleep(chance.uniform(0, 1.5))
    check("it still records", machine.ask("GET", "live")[1]["running"])
    # half of the cuts at any moment, half while something waits for a flush: that is when there is something to lose
    until = time.monotonic() + 5 * (number % 2)
    while time.monotonic() < until and not machine.disk.waiting:
        time.sleep(0.0005)
    return time.monotonic() - begun, *machine.cut()


def whole_again(machine, known):
    """From the very disk that the cut left."""
    machine.disk.settle()
    machine.on()
    live = machine.wait_for_page()
    if not check("the device is still paired, and the recording is told as cut short", live.get("cut_short"), live):
        return
    verdict = machine.verified()
    check("the book is whole by the page", verdict["whole"] and not verdict["problems"], verdict)
    known.told(machine)
    print(f"    whole start: the page answers after {machine.took:.0f} s; {len(known.notes)} notes and {len(known.pulls)} pulls of before are there", flush=True)


practice = Practice(asked.program)
source = f"tcp://10.0.2.2:{practice.port}"
machine = Machine(asked.image, chance, f'SERVE_OPTIONS="--lan --source {source}"\n', asked.accelerator)
known = Acknowledged()
cuts = notes = 0
try:
    before = {label: machine.digest(label) for label in READ_ONLY}
    machine.on()
    machine.wait_for_page()
    print(f"first start: the page answers after {machine.took:.0f} s ({asked.accelerator})", flush=True)
    check("the code on the screen pairs a device", machine.pair(), machine.said()[-500:])
    check("and no link is shown there", "open?key=" not in machine.said())
    machine.disk.guard([(b, b + s) for b, s in map(machine.place, READ_ONLY)])
    machine.keep()
    every = asked.cuts // asked.starts if asked.starts else asked.cuts + 1
    for number in range(1, asked.cuts + 1):
        branch = Acknowledged(known)
        machine.go_on()
        cost = record_and_cut(machine, number, branch, source)
        if cost is None:
            break
        cuts += 1
        notes += len(branch.notes) - len(known.notes)
        found = look_outside(machine, branch, cost[0])
        print(f"cut {number}: after {cost[0]:.1f} s of recording; {cost[1]} sectors waited, {cost[2]} of them lost; {len(branch.notes)} notes and {len(branch.pulls)} pulls "
              f"acknowledged and there; {found}", flush=True)
        if number % max(1, every) == 0:
            whole_again(machine, branch)
            known = branch
            machine.keep()
    check("the machine never wrote to its system", machine.disk.trespasses == 0, machine.disk.trespasses)
    check("and its system is the same, byte for byte", {label: machine.digest(label) for label in READ_ONLY} == before)
finally:
    machine.off()
    practice.end()
print(f"{check.passed} checks passed, {check.failed} failed; {cuts} cuts, {notes} notes acknowledged")
if asked.keep or check.failed:
    print("kept: " + machine.folder)
else:
    shutil.rmtree(machine.folder)
sys.exit(1 if check.failed else 0)
