#!/usr/bin/env python3
"""A load of minutes of 64 channels at 1 kHz: a server's memory does not grow with its length, the pull is the one that the same rows give as a
file, and a session that is stopped in it tells its end.

A logger sends as fast as it is read, so minutes of its clock are seconds here. 200 MB is what a server may hold."""
import http.client
import json
import math
import os
import socket
import subprocess
import threading
import time

from door import let_in
from harness import Scenario

CHANNELS, RATE, LIMIT_MB, END_S = 64, 1000, 200, 60
s = Scenario()
book, files = s.path("live.book"), s.path("files.book")
HEAD = "Time [s],RPM [rpm],Torque [N·m],TPS [%]," + ",".join(f"T{i} [°C]" for i in range(CHANNELS - 3)) + "\n"
TAILS = [",".join(f"{80 + i + 0.02 * ((k * (i + 3)) % 11):.2f}" for i in range(CHANNELS - 3)) for k in range(997)]


def row(n, at_s):
    """3 s of idle, 40 s of sweep, 3 s of idle, then load without end."""
    if 3 <= at_s < 43:
        speed = 2000 + 112.5 * (at_s - 3)
        return f"{at_s:.3f},{speed:.1f},{240 - 10 * ((speed - 4500) / 1000) ** 2 + 0.5 * math.sin(n):.2f},100,{TAILS[n % 997]}\n"
    if at_s < 46:
        return f"{at_s:.3f},1100,5,2,{TAILS[n % 997]}\n"
    return f"{at_s:.3f},{4000 + n % 37},{200 + 0.1 * (n % 23):.1f},100,{TAILS[n % 997]}\n"


class Logger(threading.Thread):
    def __init__(self, seconds):
        super().__init__(daemon=True)
        self.door = socket.create_server(("127.0.0.1", 0))
        self.url = f"tcp://127.0.0.1:{self.door.getsockname()[1]}"
        self.rows, self.sent, self.over = int(seconds * RATE), threading.Event(), threading.Event()

    def run(self):
        line, _ = self.door.accept()
        line.sendall(HEAD.encode())
        for n in range(0, self.rows, 500):
            line.sendall("".join(row(k, k / RATE) for k in range(n, n + 500)).encode())
        self.sent.set()
        self.over.wait()
        line.close()


def memory_mb(pid, what):
    with open(f"/proc/{pid}/status", encoding="ascii") as status:
        return next(int(one.split()[1]) for one in status if one.startswith(what)) / 1024


s.good("book", "new", "--book", book)
s.good("book", "new", "--book", files)
logger = Logger(250)
logger.start()
server = subprocess.Popen([s.program, "serve", "--book", book, "--port", "0", "--json"], env=s.environment, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
said = json.loads(server.stdout.readline())
cookie = let_in(said)
ended, found = threading.Event(), []


def ask(method, path, value=None):
    line = http.client.HTTPConnection("127.0.0.1", said["port"], timeout=120)
    line.request(method, "/api/v1/" + path, body=None if value is None else json.dumps(value), headers={"Cookie": cookie, "Content-Type": "application/json"})
    answer = line.getresponse()
    body = answer.read()
    line.close()
    return answer.status, body


def look():
    line = http.client.HTTPConnection("127.0.0.1", said["port"], timeout=600)
    line.request("GET", "/api/v1/events", headers={"Cookie": cookie, "Accept": "text/event-stream"})
    try:
        for one in line.getresponse():
            if b'"event":"pull"' in one:
                found.append(json.loads(one[6:])["news"])
            if b"decision_p99_s" in one:
                found.append(json.loads(one[6:])["news"])
                ended.set()
    except OSError:
        pass


threading.Thread(target=look, daemon=True).start()
before_mb = memory_mb(server.pid, "VmRSS")
s.check("a session begins", ask("POST", "live/start", {"sources": [logger.url]})[0] == 200)
s.check("all is sent", logger.sent.wait(300))
time.sleep(1)  # what is in the socket
begun = time.monotonic()
s.check("it is stopped in the load", ask("POST", "live/stop", {})[0] == 200)
logger.over.set()
s.check(f"its end is told within {END_S} s", ended.wait(END_S), found)
took, most_mb = time.monotonic() - begun, memory_mb(server.pid, "VmHWM")
print(f"memory: {before_mb:.0f} MB before, {most_mb:.0f} MB at most; the end came after {took:.1f} s")
s.check(f"no more than {LIMIT_MB} MB", most_mb < LIMIT_MB, most_mb)
end = found[-1] if found else {}
s.check("every row was stored", end.get("all_stored") is True and end["sources"][0]["rows"] == logger.rows, end)
server.terminate()
s.check("the server ends", server.wait(timeout=60) == 0)
server.stdout.close()

pulls = s.good("pull", "list", "--json", "--book", book).json["pulls"]
s.check("the sweep is one pull, the load without end none", len(pulls) == 1, pulls)
s.good("book", "verify", "--book", book)

# ---- the same rows, as the file that they are ----
folder = s.path("out")
s.good("book", "export", folder, "--book", book)
raw = next(name for name in sorted(os.listdir(folder)) if name.endswith(f"{pulls[0]['recording_id']:05d}.raw"))
s.run("pull", "add", os.path.join(folder, raw), "--book", files)
curves = [s.good("pull", "curve", n, "--book", b).out for n, b in ((pulls[0]["id"], book), (1, files))]
s.check("they give the same curve", len(curves[0]) > 500 and curves[0] == curves[1], [c[:300] for c in curves])
with open(os.path.join(folder, raw), encoding="utf-8") as file:
    lines = [[float(x) for x in line.split(",")] for line in file.read().splitlines()[1:][::997]]
sent = [[float(x) for x in row(round(one[0] * RATE), one[0]).split(",")] for one in lines]
s.check("all as they were sent, more rows than are held in memory", len(lines) * 997 > 40 * RATE and lines == sent, (len(lines), lines[:1], sent[:1]))
s.finish()
