#!/usr/bin/env python3
"""Devices divide the room on the disk: one that sends all it can leaves the next one half, and never keeps a note or a mark from being
taken. On a disk of its own, of a known size (tmpfs(5), in a mount namespace of our own: unshare(1))."""
import json
import os
import re
import subprocess
import sys
import tempfile
import threading

import page_api
from enemy import Device, NEIGHBOURS
from page_api import PROGRAM, Server, check, run

DISK_MB, FILE_MB = 240, 6


def upload(device, number, megabytes=FILE_MB):
    """Another file each, of another day: no place is full."""
    day = f"2026-{1 + number // 28 % 12:02}-{1 + number % 28:02}"
    return device.ask("POST", f"/api/v1/attachments?name=film-{number}.bin&to=day:{day}", number.to_bytes(4, "big") * (megabytes << 18),
                      "application/octet-stream")


def as_much_as_it_can(device, first):
    """Megabytes that it got in, and the last answer."""
    for n in range(60):
        status, text, _ = upload(device, first + n)
        if status != 200:
            break
    return n * FILE_MB, status, text


def greedy(server, address):
    one, two, third = (Device(server, address).pair("write") for _ in range(3))
    got, status, text = as_much_as_it_can(one, 0)
    check("a device that sends all it can is stopped", status == 507 and b"its share of the disk" in text, (got, status, text))
    check("at half of the disk, no more", 4 * FILE_MB <= got <= DISK_MB / 2, got)
    check("its notes are taken all the same", one.ask("POST", "/api/v1/notes", json.dumps({"at": "2026-11-25T14:05:00.000Z", "text": "n"}))[0] == 200)
    second, status, text = as_much_as_it_can(two, 100)
    check("the next one has its share of the rest", second >= FILE_MB and status == 507 and b"its share" in text, (second, status, text))
    check("which is smaller", second < got, (got, second))
    check("the first has no more by waiting", upload(one, 60)[0] == 507)
    check("and the third is not without", upload(third, 200, 1)[0] == 200)
    mine = server.ask("POST", "/api/v1/attachments?name=mine.bin&to=day:2026-12-01", bytes(FILE_MB << 20), {"Content-Type": "application/octet-stream"})
    check("this machine's person is not counted", mine[0] == 200, mine[:2])


def at_once(server, address):
    """Of what may come in at once, too, nobody has all."""
    one, two = Device(server, address).pair("write"), Device(server, address).pair("write")
    hold, answers = [], []
    for n in range(12):
        connection = one.open()
        connection.putrequest("POST", f"/api/v1/attachments?name=slow-{n}.bin&to=day:2026-10-{n + 1:02}")
        for key, value in {**one.headers("application/octet-stream"), "Content-Length": str(40 << 20)}.items():
            connection.putheader(key, value)
        connection.endheaders()
        hold.append(connection)

    def send(connection):
        try:
            connection.send(bytes(39 << 20))
        except OSError:
            pass

    threads = [threading.Thread(target=send, args=(c,)) for c in hold]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    answers.append(upload(two, 300, 1)[0])
    check("while one holds twelve long ones half in, another's file is taken", answers == [200], answers)
    for connection in hold:
        connection.close()


def inside(folder):
    disk = os.path.join(folder, "disk")
    os.mkdir(disk)
    subprocess.run(["ip", "link", "set", "lo", "up"], check=True)
    subprocess.run(["ip", "address", "add", NEIGHBOURS[0] + "/24", "dev", "lo"], check=True)
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={DISK_MB}m", "tmpfs", disk], check=True)
    book = os.path.join(disk, "shop.book")
    run("book", "new", "--book", book)
    for what in (at_once, greedy):
        server = Server(book, options=["--lan"])
        what(server, NEIGHBOURS[0])
        check("it ends in order", server.stop() == 0)
    check("the book is whole", run("book", "verify", "--book", book).returncode == 0)
    subprocess.run(["umount", disk], check=True)


def main():
    with tempfile.TemporaryDirectory(prefix="enginewright-shares-") as folder:
        own = ["unshare", "-rnm"]
        if "--inside" in sys.argv:
            inside(folder)
        elif subprocess.run([*own, "mount", "-t", "tmpfs", "tmpfs", folder], capture_output=True, check=False).returncode != 0:
            print("[  SKIPPED ] 1 shares of a disk: no disk of our own may be made here")
        else:
            done = subprocess.run([*own, sys.executable, os.path.abspath(__file__), PROGRAM, "--inside"], stdout=subprocess.PIPE, text=True, check=False)
            print(re.sub(r"^\[  PASSED  \].*\n", "", done.stdout, flags=re.M), end="")
            page_api.passed += int((re.search(r"PASSED  \] (\d+)", done.stdout) or [0, 0])[1])
            page_api.failed += done.returncode != 0
    print(f"[  PASSED  ] {page_api.passed} test(s).")
    if page_api.failed:
        print(f"[  FAILED  ] {page_api.failed} test(s).")
    return 1 if page_api.failed else 0


if __name__ == "__main__":
    sys.exit(main())
