#!/usr/bin/env python3
"""`serve` told to stop at any moment ends in order: exit code 0, nothing on stderr, the book whole. At start-up, idle, with
viewers on the stream of events, while a live session records, while a prediction runs, told twice, and told until it is gone.

Outside sources: POSIX signal(7): a process that a signal killed has no exit code of its own (negative here);
SQLite's own integrity check for the book."""
import http.client
import json
import os
import random
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time

import page_api
from page_api import PROGRAM, check

ROUNDS = int(sys.argv[2]) if len(sys.argv) > 2 else 3
SOURCE = "practice:?rate=50&run=oil 90;coolant 80;sweep 2500 6500 500;wait 600"


class Server(page_api.Server):
    """Keeps what it says on stderr."""

    def __init__(self, book):
        self.process = subprocess.Popen([PROGRAM, "serve", "--book", book, "--port", "0", "--json"],
                                        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        self.said = json.loads(self.process.stdout.readline())
        self.port = self.said["port"]
        self.known = None


def viewer(server):
    s = socket.create_connection(("127.0.0.1", server.port), timeout=20)
    s.sendall(f"GET /api/v1/events HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\nCookie: {server.cookie}\r\n\r\n".encode())
    s.recv(200)
    return s


def idle(server):
    return []


def watched(server):
    return [viewer(server) for _ in range(5)]


def live(server):
    viewers = [viewer(server) for _ in range(3)]
    status, answer = server.json("POST", "live/start", {"source": SOURCE})
    check("a live session begins", status == 200, answer)
    return viewers


def predicting(server):
    engine = server.json("GET", "engines")[1]["engines"][0]["id"]
    typed = server.json("GET", f"engines/{engine}")[1]["typed"]
    viewers = [viewer(server)]
    status, answer = server.json("POST", "predict", {"typed": typed, "page": "tester"})
    check("a prediction begins", status == 200, answer)
    return viewers


class Asking(threading.Thread):
    """A page that asks on and on over one connection, until the server is gone."""

    def __init__(self, server, path):
        super().__init__(daemon=True)
        self.connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=20)
        self.path, self.cookie = path, server.cookie
        self.start()

    def run(self):
        try:
            while True:
                self.connection.request("GET", self.path, headers={"Cookie": self.cookie})
                self.connection.getresponse().read()
        except (OSError, http.client.HTTPException):
            self.connection.close()

    def close(self):
        self.join(timeout=20)
        check("the connection was ended", not self.is_alive())


def asked(server):
    """Requests that follow each other without a pause, some of them about the live session, which is ended first."""
    status, answer = server.json("POST", "live/start", {"source": SOURCE})
    check("a live session begins", status == 200, answer)
    return [Asking(server, "/api/v1/" + path) for path in ("book", "live", "live", "pulls")]


def whole(book):
    with sqlite3.connect(f"file:{book}?mode=ro", uri=True) as db:
        return db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"


def ended(says, process):
    try:
        out, err = process.communicate(timeout=60)
    except subprocess.TimeoutExpired:
        process.kill()
        return check(f"{says}: ends", False, "still there after a minute")
    return check(f"{says}: in order and in silence", process.returncode == 0 and err == "", (process.returncode, err[-400:]))


def told_while(book, what, chance):
    server = Server(book)
    held = what(server)
    time.sleep(chance.random() * 0.4)
    signals = chance.choice([[signal.SIGTERM], [signal.SIGINT], [signal.SIGTERM, signal.SIGTERM], [signal.SIGINT, signal.SIGTERM]])
    for one in signals:
        server.process.send_signal(one)
        if len(signals) > 1:
            time.sleep(chance.random() * 0.02)
    ended(f"{what.__name__}, told {'twice' if len(signals) > 1 else 'once'}", server.process)
    for one in held:
        one.close()


def told_without_end(book):
    """A supervisor that repeats itself until the process is gone: no signal falls into a gap at the end."""
    server = Server(book)
    held = watched(server)
    while server.process.poll() is None:
        server.process.send_signal(signal.SIGTERM)
        time.sleep(0.0001)
    ended("told until it was gone", server.process)
    for one in held:
        one.close()


def told_at_start(book, chance):
    """From the moment the book is opened: its lock file or its own bytes are there; before that there is nothing to end."""
    process = subprocess.Popen([PROGRAM, "serve", "--book", book, "--port", "0", "--json"],
                               stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    while process.poll() is None and not catches(process.pid):
        pass
    time.sleep(chance.random() * 0.02)
    process.send_signal(signal.SIGTERM)
    ended("starting", process)


def catches(pid):
    """Whether the program has taken SIGTERM into its own hands (proc(5), SigCgt)."""
    with open(f"/proc/{pid}/status") as status:
        line = next(line for line in status if line.startswith("SigCgt:"))
    return int(line.split()[1], 16) >> (signal.SIGTERM - 1) & 1


def holds_at_once(book):
    """The signal is caught before the book is opened: a book that must wait for a lock is no reason to die of a signal."""
    db = sqlite3.connect(book, isolation_level=None)
    db.execute("BEGIN EXCLUSIVE")
    process = subprocess.Popen([PROGRAM, "serve", "--book", book, "--port", "0", "--json"],
                               stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    until = time.monotonic() + 20
    while process.poll() is None and not catches(process.pid) and time.monotonic() < until:
        time.sleep(0.005)
    check("the signal is caught before the book is open", process.poll() is None and catches(process.pid), process.returncode)
    process.send_signal(signal.SIGTERM)
    time.sleep(0.05)
    db.execute("ROLLBACK")
    db.close()
    ended("told while it waited for the book", process)


def main():
    chance = random.Random(7)
    with tempfile.TemporaryDirectory(prefix="enginewright-stop-") as folder:
        made = json.loads(subprocess.run([PROGRAM, "demo", "--folder", os.path.join(folder, "day"), "--json"],
                                         capture_output=True, text=True, check=True).stdout)
        book = made["book"]
        example = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "examples", "engines", "hill-climb-six.yaml")
        subprocess.run([PROGRAM, "engine", "add", example, "--book", book], check=True, capture_output=True)
        holds_at_once(book)
        for _ in range(ROUNDS):
            for what in (idle, watched, live, predicting, asked):
                told_while(book, what, chance)
            told_at_start(book, chance)
            told_without_end(book)
        check("the book is whole", whole(book))
    print(f"[  PASSED  ] {page_api.passed} test(s).")
    if page_api.failed:
        print(f"[  FAILED  ] {page_api.failed} test(s).")
    return 1 if page_api.failed else 0


if __name__ == "__main__":
    sys.exit(main())
