#!/usr/bin/env python3
"""The computer's clock is set by hours, forwards and back, while a session records and a device is being paired: pulls,
alarms, pairing codes, backups and notes go on as if nothing had happened, and the book is whole.

`python3 clock_jump.py PROGRAM SHIM`: the shim (clock_jump.c) moves the time of day of the server alone. That monotonic clocks do
not move with it is clock_gettime(2).
"""
import json
import os
import socket
import struct
import sys
import tempfile
import time

import page_api
from page_api import PROGRAM, Server, check, run

HOURS = 3600

class Clock:
    def __init__(self, folder, shim):
        self.path = os.path.join(folder, "clock")
        self.set(0)
        os.environ["EW_CLOCK_FILE"], os.environ["LD_PRELOAD"] = self.path, shim

    def set(self, seconds):
        mode = "r+b" if os.path.exists(self.path) else "wb"
        with open(self.path, mode) as file: # in place: it is mapped
            file.write(struct.pack("=q", seconds))


def news(server):
    return [n["news"] for n in server.json("GET", "live")[1]["news"]]


def wait_for(server, wanted, what):
    for _ in range(1200):
        found = [n for n in news(server) if wanted(n)]
        if found:
            return found
        time.sleep(0.05)
    check(what, False, news(server)[-5:])
    return []


def alarm(server, clock):
    """An alarm's hold is counted by the samples: neither cut short nor drawn out by the clock."""
    clock.set(-3 * HOURS)
    check("the practice cell is asked for hot oil", server.json("POST", "live/control", {"line": "send oil 125"})[0] == 200)
    for i in range(40):
        clock.set((i % 7 - 3) * HOURS)
        time.sleep(0.01)
    told = wait_for(server, lambda n: n["event"] == "alarm" and n.get("alarm", n.get("name")) == "oil hot", "hot oil is told")
    check("after its hold of 1 s, no more and no less", told and 0.9 < told[0]["held_s"] < 1.2, told)


def session(server, clock):
    """Two sweeps; between and within them the clock is set to and fro."""
    stream = socket.create_connection(("127.0.0.1", server.port), timeout=60)
    stream.sendall(f"GET /api/v1/events HTTP/1.1\r\nHost: {server.host}\r\nCookie: {server.cookie}\r\n\r\n".encode())
    script = "practice:?rate=50&pace=10&run=oil 90;coolant 80;start;wait 2;sweep 2500 6500 400;wait 5;sweep 2500 6500 400;wait 600"
    check("a session begins", server.json("POST", "live/start", {"source": script, "changed": "nothing"})[0] == 200)
    frames, jumps, pulls = [], [5 * HOURS, -7 * HOURS, 48 * HOURS, -1, 0], 0
    text = b""
    while pulls < 2:
        data = stream.recv(65536)
        if not data:
            break
        text += data
        *whole, text = text.split(b"\n\n")
        for event in whole:
            body = event.split(b"data: ", 1)[-1] # before it, perhaps the length of a chunk (RFC 9112, 7.1)
            if b"event: live" in event:
                frames.append(json.loads(body))
                if len(frames) % 10 == 0:
                    clock.set(jumps[len(frames) // 10 % len(jumps)])
            pulls += b'"event":"pull"' in body
    stream.close()
    times = [f["time_s"] for f in frames if f["running"] and f["time_s"] is not None]
    steps = [b - a for a, b in zip(times, times[1:])]
    check("the session's time runs on, never back", times and min(steps) >= 0, min(steps or [-1]))
    check("and never by hours", max(steps) < 600, max(steps))
    stored = [f["since_stored_s"] for f in frames if f["since_stored_s"] is not None]
    check("how long ago was stored is no matter of the clock", stored and 0 <= min(stored) and max(stored) < 60, (min(stored), max(stored)))
    check("both pulls are found", pulls == 2, pulls)
    alarm(server, clock)
    check("a mark is taken", server.json("POST", "live/control", {"line": "mark after the jumps"})[0] == 200)
    wait_for(server, lambda n: n["event"] == "mark" and "after the jumps" in json.dumps(n), "the mark is told")
    server.json("POST", "live/stop", {})
    end = wait_for(server, lambda n: n["event"] == "end", "the session ends")
    check("all is stored", end and end[-1]["all_stored"], end)


def pairing(server, clock):
    """A code holds ten minutes of this machine's running, whatever the clock says."""
    for jump in (9 * HOURS, -9 * HOURS):
        clock.set(0)
        code = server.json("POST", "devices/code", {"rights": "view"})[1]["code"]
        clock.set(jump)
        status, answer = server.json("POST", "pair", {"code": code, "name": "tablet"})
        check(f"a code holds when the clock jumps by {jump // HOURS} h", status == 200, answer)
    code = server.json("POST", "devices/code", {"rights": "view"})[1]["code"]
    for _ in range(5):
        server.json("POST", "pair", {"code": "00000000" if code != "00000000" else "11111111"})
    clock.set(-20 * HOURS)
    check("a dead one does not come alive", server.json("POST", "pair", {"code": code})[0] == 400)


def safe(server, clock):
    names = set()
    for jump in (0, 6 * HOURS, 0, 0, -6 * HOURS, 0):
        clock.set(jump)
        status, made = server.json("POST", "backups", {})
        check("a backup whatever the clock says", status == 200, made)
        names.add(made.get("backup"))
        status, day = server.json("GET", "day")
        check("and the day's page", status == 200, day)
    check("each has a name of its own", len(names) == 6, names)


def main():
    with tempfile.TemporaryDirectory(prefix="enginewright-clock-") as folder:
        clock = Clock(folder, os.path.abspath(sys.argv[2]))
        if run("help").returncode != 0: # a sanitizer wants to be the first library
            print("[  SKIPPED ] 1 clock: this build cannot be loaded with another library before it")
            print("[  PASSED  ] 0 test(s).")
            return 0
        clock.set(1000 * HOURS)
        moved = run("book", "new", "--book", os.path.join(folder, "later.book")).returncode
        clock.set(0)
        check("the clock of the program is moved", moved == 0)
        book = os.path.join(folder, "shop", "shop.book")
        run("book", "new", "--book", book)
        server = Server(book, options=["--lan"])
        try:
            session(server, clock)
            pairing(server, clock)
            safe(server, clock)
            clock.set(0)
        finally:
            check("it ends in order", server.stop() == 0)
        for name in os.listdir(os.path.dirname(book)):
            if name.endswith((".book", ".practice")):
                answer = run("book", "verify", "--book", os.path.join(os.path.dirname(book), name), "--json")
                check(f"{name} is whole", answer.returncode == 0 and json.loads(answer.stdout)["whole"], answer.stdout[-300:])
    print(f"[  PASSED  ] {page_api.passed} test(s).")
    if page_api.failed:
        print(f"[  FAILED  ] {page_api.failed} test(s).")
    return 1 if page_api.failed else 0


if __name__ == "__main__":
    sys.exit(main())
