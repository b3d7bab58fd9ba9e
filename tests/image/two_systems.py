#!/usr/bin/env python3
"""two_systems.py IMAGE WORK: an update of the cell's computer put beside what it has, and the way back (script/image --onto, --back), on a disk that
a machine in qemu (cell_machine.py) starts from. WORK is build-image/ARCHITECTURE, where script/image left what it made.

What the disk serves says which system runs: its reads are counted by partition. Run by hand; three starts without hardware help, some minutes each.
Exit code 1 when a check failed.
"""
import os
import random
import shutil
import signal
import subprocess
import sys
import time

from cell_machine import Checks, Machine

check = Checks()
image, work = sys.argv[1], sys.argv[2]
ONTO = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "script", "lib", "image", "onto")


def onto(machine, how):
    return subprocess.run([ONTO, machine.disk_path, work, how], capture_output=True, text=True, check=False)


def start(machine, says, system):
    """From the first line to the page; which system it was."""
    machine.disk.watch({label: machine.place(label) for label in ("system-a", "system-b")})
    machine.on()
    live = machine.wait_for_page()
    read = dict(machine.disk.read_bytes)
    check(f"{says}: system {system} runs", read[f"system-{system}"] > 10 << 20 and read[f"system-{'b' if system == 'a' else 'a'}"] < 10 << 20, read)
    print(f"{says}: the page answers after {machine.took:.0f} s; read {read['system-a'] >> 20} MB of system a, {read['system-b'] >> 20} MB of system b", flush=True)
    return live


def note_there(machine, says):
    _, answer, _ = machine.ask("GET", "notes")
    check(f"{says}: the note is there, and the device is still paired", [n["text"] for n in answer.get("notes", [])] == ["before the update"], answer)


machine = Machine(image, random.Random(1))
try:
    done = onto(machine, "--onto")
    check("a disk that never started has no room for a second system yet: told, and left alone", done.returncode == 2 and "never started" in done.stderr, done.stderr)
    done = onto(machine, "--back")
    check("nor another system to go back to", done.returncode == 2 and "no other system" in done.stderr, done.stderr)

    machine.on()
    live = machine.wait_for_page()
    print(f"first start: the page answers after {machine.took:.0f} s", flush=True)
    check("a device is paired", machine.pair(), machine.said()[-400:])
    status, answer, _ = machine.ask("POST", "notes", {"at": machine.ask("GET", "live")[1]["now"], "text": "before the update"})
    check("a note is taken", status == 200, answer)
    machine.cut()

    half = subprocess.Popen([ONTO, machine.disk_path, work, "--onto"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True)
    time.sleep(1.0)
    os.killpg(half.pid, signal.SIGKILL)
    half.wait()
    chosen = subprocess.run(["mtype", "-i", f"{machine.disk_path}@@{1 << 20}", "::/loader/loader.conf"], capture_output=True, text=True, check=True).stdout
    check("an update that was killed on its way leaves the choice as it was", "system-a" in chosen, chosen)
    done = onto(machine, "--onto")
    check("the system is put beside the one that is there", done.returncode == 0 and "system b" in done.stdout, done.stdout + done.stderr)
    start(machine, "after the update", "b")
    note_there(machine, "after the update")
    machine.cut()

    done = onto(machine, "--back")
    check("the one before is chosen", done.returncode == 0 and "system a starts next" in done.stdout, done.stdout + done.stderr)
    start(machine, "after going back", "a")
    note_there(machine, "after going back")
finally:
    machine.off()
print(f"{check.passed} checks passed, {check.failed} failed")
if check.failed:
    print("kept: " + machine.folder)
else:
    shutil.rmtree(machine.folder)
sys.exit(1 if check.failed else 0)
