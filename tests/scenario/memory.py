#!/usr/bin/env python3
"""Memory over a session: what is in use after many marks, trips, answers and stored blocks is what was in use after half as many.

Counted are the blocks of the server that are alive (live_alloc.c), not how much the C library keeps of the system: one block left behind at
each mark, trip or answer would be as many as there were of them, and less than half of that many fails the test. Pages of SQLite's cache
are counted apart: they fill up to a bound of their own (2 MB a connection: https://www.sqlite.org/pragma.html#pragma_cache_size).

Usage: memory.py PROGRAM SHIM. EW_ROUNDS says how many rounds of how many are compared (3)."""
import http.client
import json
import os
import struct
import subprocess
import sys
import time

from door import let_in
from harness import Scenario

s = Scenario()
shim, counted = os.path.abspath(sys.argv[2]), s.path("live")
rounds, EACH = int(os.environ.get("EW_ROUNDS", "3")), 160
with open(counted, "wb") as file:
    file.write(bytes(32))
book = s.path("shop.book")
s.good("book", "new", "--book", book)
server = subprocess.Popen([s.program, "serve", "--book", book, "--port", "0", "--json"], stdout=subprocess.PIPE, text=True,
                          env={**s.environment, "LD_PRELOAD": shim, "EW_LIVE_FILE": counted, "G_SLICE": "always-malloc"})
said = json.loads(server.stdout.readline())
cookie = let_in(said)


def ask(method, path, body=None):
    connection = http.client.HTTPConnection("127.0.0.1", said["port"], timeout=120)
    connection.request(method, f"/api/v1/{path}", json.dumps(body) if body is not None else None, {"Cookie": cookie, "Content-Type": "application/json"})
    answer = connection.getresponse()
    text = answer.read()
    connection.close()
    return answer.status, text


def in_use():
    """The least of some looks: work under way holds memory for a moment."""
    least = None
    for _ in range(40):
        with open(counted, "rb") as file:
            now = struct.unpack("=4q", file.read(32))
        least = now if least is None or now[0] < least[0] else least
        time.sleep(0.02)
    return least


def one_round(number):
    good = 0
    for n in range(EACH):
        good += ask("POST", "live/control", {"line": f"mark {number} {n}"})[0] == 200
        if n % 4 == 0:
            ask("POST", "live/control", {"line": "send oil 125" if n % 8 else "send oil 90"})
        if n % 16 == 0:
            ask("POST", "live/control", {"line": "clear all"})
        good += ask("GET", "live")[0] == 200
        if n % 8 == 0:
            ask("GET", "day")
    s.check(f"round {number}: everything was answered", good == 2 * EACH, good)


status, text = ask("POST", "live/start", {"source": "practice:?rate=50&run=oil 90;coolant 80;start;wait 6000"})
s.check("a session begins", status == 200, text)
one_round(0)  # what is kept once: news, answers, statements, units
seen = []
for number in range(1, rounds + 1):
    one_round(number)
    seen.append(in_use())
grown = [(b[0] - a[0], b[1] - a[1]) for a, b in zip(seen, seen[1:])]
print(f"in use after each round of {EACH}: {[(n[0], n[1]) for n in seen]} blocks and bytes; pages {[n[2] for n in seen]}")
s.check("no more blocks after a round than before it, but for less than one for two marks", max(g[0] for g in grown) < EACH / 2, grown)
s.check("pages stay below their bound of 2 MB for each of 16 connections", seen[-1][3] < 16 * 2.3e6, seen[-1])
s.check("the session ends", ask("POST", "live/stop", {})[0] == 200)
server.terminate()
s.check("the server ends", server.wait(timeout=60) == 0)
server.stdout.close()
s.finish()
