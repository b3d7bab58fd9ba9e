"""The image of the cell's computer in qemu, its page asked as a tablet would ask, and a practice engine that runs on this machine and is wired
to it by the network.

The machine may be kept as it runs (memory, devices, disk) and gone on from: so that a cut costs seconds and not a start of minutes.

Outside sources: the machine is Debian's qemu with OVMF, its firmware; QMP as qemu's documentation describes it.
"""
import hashlib
import http.client
import json
import os
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


class Checks:
    def __init__(self):
        self.passed = self.failed = 0

    def __call__(self, says, good, found=""):
        if good:
            self.passed += 1
        else:
            self.failed += 1
            print(f"FAILED: {says} {found}", flush=True)
        return good


def free_port():
    with socket.create_server(("127.0.0.1", 0)) as one:
        return one.getsockname()[1]


class Practice:
    """The invented engine behind a logger; it sweeps again and again."""

    def __init__(self, program):
        self.process = subprocess.Popen([os.path.abspath(program), "cell", "simulate", "--port", "0", "--seed", "3"], stdin=subprocess.PIPE,
                                        stdout=subprocess.PIPE, text=True)
        self.port = int(re.search(r":(\d+)", self.process.stdout.readline()).group(1))
        threading.Thread(target=self.process.stdout.read, daemon=True).start()
        self.say("start")
        threading.Thread(target=self.sweep, daemon=True).start()

    def say(self, line):
        try:
            self.process.stdin.write(line + "\n")
            self.process.stdin.flush()
        except (BrokenPipeError, ValueError):
            pass

    def sweep(self):
        while self.process.poll() is None:
            self.say("sweep 2500 6500 600")
            time.sleep(14)

    def end(self):
        self.process.kill()
        self.process.wait()


class Machine:
    def __init__(self, image, chance, settings="", accelerator="tcg"):
        self.accelerator = accelerator
        self.folder = tempfile.mkdtemp(prefix="enginewright-image-", dir="/var/tmp")
        self.disk_path = os.path.join(self.folder, "disk.img")
        subprocess.run(["cp", "--sparse=always", image, self.disk_path], check=True)
        os.truncate(self.disk_path, DISK_BYTES)
        if settings:
            path = os.path.join(self.folder, "settings")
            with open(path, "w", encoding="utf-8") as file:
                file.write(settings)
            subprocess.run(["mcopy", "-o", "-i", f"{self.disk_path}@@{START_MB << 20}", path, "::/enginewright.txt"], check=True)
        self.at = os.path.join(self.folder, "disk")
        self.disk = VolatileDisk(self.disk_path, self.at, chance)
        shutil.copy("/usr/share/OVMF/OVMF_VARS_4M.fd", os.path.join(self.folder, "vars"))
        self.serial = os.path.join(self.folder, "serial")
        self.kept = os.path.join(self.folder, "kept")
        self.process = self.token = None

    # ---- power ----
    def on(self, going_on=False):
        self.port = free_port()
        self.started = time.monotonic()
        self.monitor = os.path.join(self.folder, f"monitor-{self.port}")
        if not going_on:
            open(self.serial, "w", encoding="utf-8").close()
        processor = "Nehalem" if self.accelerator == "tcg" else "host"  # without AVX, which the program must do without as well
        self.process = subprocess.Popen(
            ["qemu-system-x86_64", "-accel", self.accelerator, "-cpu", processor, "-machine", "q35", "-smp", "2", "-m", "1024",
             "-display", "none", "-nodefaults", "-serial", "file:" + (os.devnull if going_on else self.serial),
             "-no-reboot", "-device", "virtio-rng-pci", "-qmp", f"unix:{self.monitor},server=on,wait=off",
             "-drive", "if=pflash,format=raw,readonly=on,file=/usr/share/OVMF/OVMF_CODE_4M.fd", "-drive", f"if=pflash,format=raw,file={self.folder}/vars",
             "-drive", f"file=nbd:unix:{self.at},if=none,id=disk,format=raw,cache=writeback", "-device", "virtio-blk-pci,drive=disk,discard=off,write-zeroes=off",
             "-netdev", f"user,id=n,hostfwd=tcp:127.0.0.1:{self.port}-:8088", "-device", "virtio-net-pci,netdev=n",
             *(["-incoming", f"exec:cat {self.kept}"] if going_on else [])], stdin=subprocess.DEVNULL)

    def off(self):
        if self.process:
            self.process.kill()
            self.process.wait()

    def cut(self):
        """The plug. How many sectors waited for a flush, and how many of them lost their last state."""
        self.off()
        return self.disk.cut()

    def told(self, command, **arguments):
        """One command to qemu; its answer."""
        with socket.socket(socket.AF_UNIX) as line:
            line.connect(self.monitor)
            stream = line.makefile("rw", encoding="utf-8")
            stream.readline()
            for one in ({"execute": "qmp_capabilities"}, {"execute": command, "arguments": arguments}):
                stream.write(json.dumps(one) + "\n")
                stream.flush()
                while True:
                    answer = json.loads(stream.readline())
                    if "return" in answer or "error" in answer:
                        break
            if "error" in answer:
                sys.exit(f"qemu: {command}: {answer['error']['desc']}")
            return answer["return"]

    def keep(self):
        """The machine as it runs, into a file; from now on its disk is the same again at each going on."""
        self.told("stop")
        self.told("migrate", uri=f"exec:cat > {self.kept}")
        while self.told("query-migrate").get("status") not in ("completed", "failed"):
            time.sleep(0.3)
        if self.told("query-migrate")["status"] == "failed":
            sys.exit("qemu could not keep the running machine")
        self.off()
        self.disk.mark()

    def go_on(self):
        self.disk.rewind()
        self.on(going_on=True)
        until = time.monotonic() + 300
        while time.monotonic() < until:
            try:
                status = self.told("query-status")["status"]
                if status == "running":
                    return
                if status == "paused":  # as it was kept
                    self.told("cont")
            except (OSError, ValueError):
                pass
            time.sleep(0.2)
        sys.exit("qemu did not go on from what it kept")

    # ---- the page ----
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

    def wait_for_page(self, seconds=1200):
        """What the page says first; how long it took stands in self.took."""
        until = time.monotonic() + seconds
        while time.monotonic() < until and self.process.poll() is None:
            try:
                status, answer, _ = self.ask("GET", "live")
                if status in (200, 401):
                    self.took = time.monotonic() - self.started
                    return answer
            except (OSError, http.client.HTTPException, ValueError):
                pass
            time.sleep(1)
        print(self.said()[-3000:])
        sys.exit(f"the page did not answer within {seconds} s; {self.folder} is kept")

    def pair(self):
        until = time.monotonic() + 300
        while time.monotonic() < until:
            code = re.search(r"code for the first device: (\d+)", self.said())
            if code:
                status, _, cookie = self.ask("POST", "pair", {"code": code.group(1), "name": "tablet"})
                self.token = cookie and cookie.split(";")[0]
                return status == 200
            time.sleep(1)
        return False

    def verified(self):
        """What 'is the book whole?' answers."""
        job = self.ask("POST", "verify", {})[1]["job"]
        while True:
            answer = self.ask("GET", f"predict/{job}")[1]
            if answer["state"] not in ("running", "waiting"):
                return answer["answer"]
            time.sleep(1)

    # ---- the disk, from outside ----
    def place(self, label):
        """Begin and length of a partition, in bytes. The table itself is never written after the first start."""
        table = json.loads(subprocess.run(["sfdisk", "--json", self.disk_path], capture_output=True, check=True).stdout)["partitiontable"]
        part = next(p for p in table["partitions"] if p.get("name") == label)
        return part["start"] * table["sectorsize"], part["size"] * table["sectorsize"]

    def digest(self, label):
        begin, size = self.place(label)
        digest = hashlib.sha256()
        for at in range(begin, begin + size, 1 << 22):
            digest.update(self.disk.read(at, min(1 << 22, begin + size - at)))
        return digest.hexdigest()

    def data(self, path):
        """The data partition as it lies on the disk, into a file."""
        begin, size = self.place("enginewright-data")
        with open(path, "wb") as file:
            file.truncate(size)
            for at in range(0, size, 1 << 20):
                block = self.disk.read(begin + at, min(1 << 20, size - at))
                if block.count(0) != len(block):
                    file.seek(at)
                    file.write(block)
