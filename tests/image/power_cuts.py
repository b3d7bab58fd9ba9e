#!/usr/bin/env python3
"""power_cuts.py IMAGE PROGRAM [--cuts 20] [--accelerator tcg] [--seed 1] [--keep]: the image of the cell's computer in qemu, asked by its page
as a tablet would ask, and cut off while it records a practice engine that runs on this machine and is wired to it by the network.

The disk forgets at each cut what was not flushed (volatile_disk.py). After each: the data partition is whole (e2fsck of a copy, once its
journal is played back, finds nothing), the machine starts, the book is whole (digests, and every curve computed again from raw), and what the
page had acknowledged is there: each note, each pull in the list, the device's pairing. Run by hand, or by script/image --try; it takes minutes.

Outside sources: e2fsck(8); the machine is Debian's qemu with OVMF, its firmware; exit code 1 when a check failed.
"""
import argparse
import http.client
import json
import os
import random
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time

from volatile_disk import VolatileDisk

GUEST = "10.0.2.15:8088"  # qemu's own network for a user: the machine is there, and this one at 10.0.2.2
DISK_BYTES = 6 << 30
START_MB = 1
asked = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
asked.add_argument("image")
asked.add_argument("program", nargs="?", default="build-package/enginewright")
asked.add_argument("--cuts", type=int, default=20)
asked.add_argument("--accelerator", default="tcg")
asked.add_argument("--seed", type=int, default=1)
asked.add_argument("--keep", action="store_true")
asked = asked.parse_args()
chance = random.Random(asked.seed)
folder = tempfile.mkdtemp(prefix="enginewright-image-")
passed = failed = 0


def check(says, good, found=""):
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print(f"FAILED: {says} {found}", flush=True)
    return good


def free_port():
    with socket.create_server(("127.0.0.1", 0)) as one:
        return one.getsockname()[1]


class Practice:
    """The invented engine behind a logger; it sweeps again and again."""

    def __init__(self):
        self.process = subprocess.Popen([os.path.abspath(asked.program), "cell", "simulate", "--port", "0", "--seed", "3"], stdin=subprocess.PIPE,
                                        stdout=subprocess.PIPE, text=True)
        self.port = int(re.search(r":(\d+)", self.process.stdout.readline()).group(1))
        threading.Thread(target=self.process.stdout.read, daemon=True).start()
        self.say("start")
        threading.Thread(target=self.sweep, daemon=True).start()

    def say(self, line):
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def sweep(self):
        while self.process.poll() is None:
            self.say("sweep 2500 6500 600")
            time.sleep(14)


class Machine:
    def __init__(self, practice):
        self.disk_path = os.path.join(folder, "disk.img")
        subprocess.run(["cp", "--sparse=always", asked.image, self.disk_path], check=True)
        os.truncate(self.disk_path, DISK_BYTES)
        settings = os.path.join(folder, "settings")
        with open(settings, "w", encoding="utf-8") as file:
            file.write(f'SERVE_OPTIONS="--lan --source tcp://10.0.2.2:{practice.port}"\n')
        subprocess.run(["mcopy", "-o", "-i", f"{self.disk_path}@@{START_MB << 20}", settings, "::/enginewright.txt"], check=True)
        self.at = os.path.join(folder, "disk")
        self.disk = VolatileDisk(self.disk_path, self.at, chance)
        shutil.copy("/usr/share/OVMF/OVMF_VARS_4M.fd", os.path.join(folder, "vars"))
        self.serial = os.path.join(folder, "serial")
        self.source = f"tcp://10.0.2.2:{practice.port}"
        self.token = None

    def on(self):
        self.port = free_port()
        self.started = time.monotonic()
        open(self.serial, "w", encoding="utf-8").close()
        processor = "Nehalem" if asked.accelerator == "tcg" else "host"  # without AVX, which the program must do without as well
        self.process = subprocess.Popen(
            ["qemu-system-x86_64", "-accel", asked.accelerator, "-cpu", processor, "-machine", "q35", "-smp", "2", "-m", "1024", "-display", "none", "-nodefaults",
             "-serial", "file:" + self.serial, "-no-reboot", "-device", "virtio-rng-pci",
             "-drive", "if=pflash,format=raw,readonly=on,file=/usr/share/OVMF/OVMF_CODE_4M.fd", "-drive", f"if=pflash,format=raw,file={folder}/vars",
             "-drive", f"file=nbd:unix:{self.at},if=virtio,format=raw,cache=writeback",
             "-netdev", f"user,id=n,hostfwd=tcp:127.0.0.1:{self.port}-:8088", "-device", "virtio-net-pci,netdev=n"], stdin=subprocess.DEVNULL)

    def said(self):
        with open(self.serial, encoding="utf-8", errors="replace") as file:
            return file.read()

    def ask(self, verb, path, value=None):
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)
        headers = {"Host": GUEST, "Content-Type": "application/json", **({"Cookie": self.token} if self.token else {})}
        try:
            connection.request(verb, "/api/v1/" + path, None if value is None else json.dumps(value), headers)
            answer = connection.getresponse()
            data = answer.read()
            return answer.status, json.loads(data or b"null"), answer.getheader("Set-Cookie")
        finally:
            connection.close()

    def wait_for_page(self, seconds=900):
        until = time.monotonic() + seconds
        while time.monotonic() < until and self.process.poll() is None:
            try:
                status, answer, _ = self.ask("GET", "live")
                if status in (200, 401):
                    return answer
            except (OSError, http.client.HTTPException, ValueError):
                pass
            time.sleep(1)
        print(self.said()[-3000:])
        sys.exit(f"the page did not answer within {seconds} s; {folder} is kept")

    def pair(self):
        until = time.monotonic() + 300
        while time.monotonic() < until:
            code = re.search(r"code for the first device: (\d+)", self.said())
            if code:
                status, _, cookie = self.ask("POST", "pair", {"code": code.group(1), "name": "tablet"})
                self.token = cookie.split(";")[0]
                return status == 200
            time.sleep(1)
        return False

    def cut(self):
        self.process.kill()
        self.process.wait()
        return self.disk.cut()

    def data_whole(self):
        """e2fsck of a copy of the data partition, as it lies after the cut."""
        table = json.loads(subprocess.run(["sfdisk", "--json", self.disk_path], capture_output=True, check=True).stdout)["partitiontable"]
        part = next(p for p in table["partitions"] if p.get("name") == "enginewright-data")
        copy = os.path.join(folder, "data")
        with open(self.disk_path, "rb") as disk, open(copy, "wb") as file:
            disk.seek(part["start"] * table["sectorsize"])
            left = part["size"] * table["sectorsize"]
            file.truncate(left)
            while left:
                block = disk.read(min(left, 1 << 20))
                if block.strip(b"\0"):
                    file.write(block)
                else:
                    file.seek(len(block), 1)
                left -= len(block)
        subprocess.run(["e2fsck", "-E", "journal_only", "-y", copy], capture_output=True, check=False)
        done = subprocess.run(["e2fsck", "-f", "-n", copy], capture_output=True, text=True, check=False)
        os.remove(copy)
        return done.returncode == 0, done.stdout[-800:]


def acknowledged(machine, notes, pulls):
    _, answer, _ = machine.ask("GET", "notes")
    there = {n["text"] for n in answer["notes"]}
    for day in {n[1] for n in notes}:
        there |= {n["text"] for n in machine.ask("GET", f"notes?day={day}")[1]["notes"]}
    check("each note that was acknowledged is there", {n[0] for n in notes} <= there, {n[0] for n in notes} - there)
    listed = {p["number"] for p in machine.ask("GET", "pulls")[1]["pulls"]}
    check("each pull that was listed is there", pulls <= listed, pulls - listed)


def whole(machine):
    job = machine.ask("POST", "verify", {})[1]["job"]
    while True:
        answer = machine.ask("GET", f"predict/{job}")[1]
        if answer["state"] not in ("running", "waiting"):
            return answer["answer"]
        time.sleep(1)


def record_and_cut(machine, number, notes, pulls):
    """Some seconds of recording, with something written down; then the plug. What it cost."""
    status, answer, _ = machine.ask("POST", "live/start", {"source": machine.source})
    if not check("recording begins", status == 200, answer):
        return None
    begun, last = time.monotonic(), time.monotonic() + chance.uniform(5, 25)
    while time.monotonic() < last:
        at = time.gmtime()
        text = f"cut {number}, note {len(notes)}"
        status, answer, _ = machine.ask("POST", "notes", {"at": time.strftime("%Y-%m-%dT%H:%M:%S.000Z", at), "text": text})
        if check("a note is taken", status == 200, answer):
            notes.append((text, time.strftime("%Y-%m-%d", at)))
        pulls |= {p["number"] for p in machine.ask("GET", "pulls")[1]["pulls"]}
        time.sleep(chance.uniform(0, 1.5))
    check("it still records", machine.ask("GET", "live")[1]["running"])
    length = time.monotonic() - begun
    waited, lost = machine.cut()
    return length, waited, lost


practice = Practice()
machine = Machine(practice)
notes, pulls = [], set()
try:
    machine.on()
    machine.wait_for_page()
    print(f"first start: the page answers after {time.monotonic() - machine.started:.0f} s ({asked.accelerator})", flush=True)
    check("the code on the screen pairs a device", machine.pair(), machine.said()[-500:])
    check("and no link is shown there", "open?key=" not in machine.said())
    for number in range(1, asked.cuts + 1):
        cost = record_and_cut(machine, number, notes, pulls)
        if cost is None:
            break
        good, found = machine.data_whole()
        check("the data partition is whole after the cut", good, found)
        machine.on()
        live = machine.wait_for_page()
        took = time.monotonic() - machine.started
        kept = sum(c["rows"] for c in live["cut_short"])
        check("rows were stored before the cut", kept > 100 * max(0, cost[0] - 10), (kept, cost, live["cut_short"]))
        verdict = whole(machine)
        check("the book is whole", verdict["whole"] and not verdict["problems"], verdict)
        acknowledged(machine, notes, pulls)
        print(f"cut {number}: after {cost[0]:.1f} s of recording, {cost[1]} sectors waited, {cost[2]} of them lost; again after {took:.0f} s, {kept} rows kept, "
              f"{verdict['recordings']} recordings and {verdict['curves']} curves whole, {len(pulls)} pulls, {len(notes)} notes", flush=True)
    machine.cut()
finally:
    machine.process.kill()
    practice.process.kill()
print(f"{passed} checks passed, {failed} failed; {len(notes)} notes and {len(pulls)} pulls acknowledged")
if asked.keep or failed:
    print("kept: " + folder)
else:
    shutil.rmtree(folder)
sys.exit(1 if failed else 0)
