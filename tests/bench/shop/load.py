"""Four cells of 64 channels at 1 kHz into one store on this machine, a page open on each: how far the store is behind, rows a second, and how
long the alarms take to decide while the network is well, slow (0.15 s each way for every 64 kB), silent, and gone.

    python3 load.py PROGRAM [--seconds 60] [--others 30] [--cells 4] [--rate 1000] [--channels 64]

A line of JSON a figure. The loggers are threads of this script and take their share of the machine; each sends rows as text over TCP."""
import argparse
import http.client
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time

here = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, os.path.join(here, "..", "..", "scenario"))
from door import let_in  # noqa: E402
from postgres import PASSWORD, Line, Postgres  # noqa: E402

wanted = argparse.ArgumentParser()
wanted.add_argument("program")
wanted.add_argument("--seconds", type=float, default=60)
wanted.add_argument("--others", type=float, help="seconds of each state of the network but the first (half of --seconds)")
wanted.add_argument("--cells", type=int, default=4)
wanted.add_argument("--rate", type=int, default=1000)
wanted.add_argument("--channels", type=int, default=64)
told = wanted.parse_args()
others = told.seconds / 2 if told.others is None else told.others
program = os.path.abspath(told.program)
folder = tempfile.mkdtemp(prefix="ew-load-")
os.chmod(folder, 0o755)
environment = {"PATH": "/usr/bin:/bin", "HOME": folder, "XDG_CONFIG_HOME": os.path.join(folder, "config"), "LC_ALL": "C.UTF-8", "EW_USER": "bench"}
ALARMS = "alarms:\n  - {name: overspeed, watch: speed, action: shut down, says: shut throttle keep load, above: 9000 rpm}\n"
BATCH_S = 0.02


def tell(what, **figures):
    print(json.dumps({"bench": what, **{k: round(v, 4) if isinstance(v, float) else v for k, v in figures.items()}}), flush=True)


class Logger(threading.Thread):
    """Speed, torque, oil pressure and many more, quantised as a converter of 12 bits does; by its own clock."""

    def __init__(self):
        super().__init__(daemon=True)
        self.door = socket.create_server(("127.0.0.1", 0))
        self.url = f"tcp://127.0.0.1:{self.door.getsockname()[1]}"
        self.over, self.rows = False, 0
        rest = told.channels - 3
        self.head = "Time [s],RPM [rpm],Torque [N·m],Oil pressure [bar]," + ",".join(f"T{i} [°C]" for i in range(rest)) + "\n"
        self.tails = [",".join([f"{4000 + k % 37}", f"{200 + 0.1 * (k % 23):.1f}", f"{4.5 + 0.01 * (k % 7):.2f}"] + [f"{80 + i + 0.02 * ((k * (i + 3)) % 11):.2f}" for i in range(rest)]) for k in range(997)]

    def run(self):
        line, _ = self.door.accept()
        line.sendall(self.head.encode())
        begun = time.monotonic()
        try:
            while not self.over:
                due = int((time.monotonic() - begun) * told.rate)
                if due > self.rows:
                    line.sendall("".join(f"{n / told.rate:.3f},{self.tails[n % 997]}\n" for n in range(self.rows, due)).encode())
                    self.rows = due
                time.sleep(BATCH_S)
        except OSError:
            pass
        line.close()


class Cell:
    def __init__(self, number, server, line):
        self.name, self.book, self.known, self.news = f"Cell {number}", os.path.join(folder, f"cell-{number}.book"), None, 0
        for words in (["book", "new"], ["cell", "alarms", "--alarms", alarms, "--keep"], ["book", "join", server.address("cell1", host=line.folder), "--cell", self.name]):
            done = subprocess.run([program, *words, "--book", self.book], env=environment, capture_output=True, text=True, check=False)
            if done.returncode != 0:
                sys.exit(f"{words}: {done.stderr}")
        self.logger = Logger()
        self.logger.start()
        self.process = subprocess.Popen([program, "serve", "--book", self.book, "--port", "0", "--json"], env=environment, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        self.said = json.loads(self.process.stdout.readline())
        self.cookie = let_in(self.said)
        self.end = threading.Event()
        self.ended = {}
        threading.Thread(target=self.look, daemon=True).start()
        status, answer = self.ask("POST", "live/start", {"sources": [self.logger.url]})
        if status != 200:
            sys.exit(f"{self.name} does not begin: {answer}")

    def ask(self, method, path, value=None):
        line = http.client.HTTPConnection("127.0.0.1", self.said["port"], timeout=60)
        line.request(method, "/api/v1/" + path, body=None if value is None else json.dumps(value), headers={"Cookie": self.cookie, "Content-Type": "application/json"})
        answer = line.getresponse()
        body = json.loads(answer.read() or "{}")
        line.close()
        return answer.status, body

    def look(self):
        """A page that is open."""
        line = http.client.HTTPConnection("127.0.0.1", self.said["port"], timeout=600)
        line.request("GET", "/api/v1/events", headers={"Cookie": self.cookie, "Accept": "text/event-stream"})
        answer = line.getresponse()
        for row in answer:
            if row.startswith(b"data: "):
                self.news += 1
                if b"decision_p99_s" in row:
                    self.ended = json.loads(row[6:])["news"]
                    self.end.set()

    def stop(self):
        self.logger.over = True
        self.ask("POST", "live/stop", {})
        self.end.wait(60)
        self.process.send_signal(signal.SIGTERM)
        self.process.wait(60)
        return self.ended


def memory_mb(pid):
    with open(f"/proc/{pid}/status", encoding="ascii") as status:
        return next(int(row.split()[1]) for row in status if row.startswith("VmRSS")) / 1024


LAG = """SELECT count(*), sum((body->'row'->>'rows')::bigint), percentile_disc(0.5) WITHIN GROUP (ORDER BY lag), percentile_disc(0.99) WITHIN GROUP (ORDER BY lag), max(lag)
 FROM (SELECT body, extract(epoch FROM at - (body->'row'->>'stored_at')::timestamptz) AS lag FROM enginewright.fact WHERE what = 'stream_block' AND at > '{since}') q"""


def phase(what, cells, server, line, seconds, **state):
    """As long as it takes, in one state of the network; each phase has sessions of its own."""
    for key, value in state.items():
        setattr(line, key, value)
    if line.cut:
        line.break_all()
    since = server.ask("SELECT clock_timestamp()").stdout.strip()
    before, begun = [c.news for c in cells], time.monotonic()
    rows = [c.logger.rows for c in cells]
    time.sleep(seconds)
    took = time.monotonic() - begun
    sent = sum(c.logger.rows for c in cells) - sum(rows)
    count, kept, middle, late, most = (server.ask(LAG.format(since=since)).stdout.strip().split("|"))
    tell(what, seconds=took, rows_sent_s=sent / took, rows_stored_s=int(kept or 0) / took, blocks=int(count), lag_p50_s=float(middle or "nan"), lag_p99_s=float(late or "nan"), lag_most_s=float(most or "nan"),
         news_s=(sum(c.news for c in cells) - sum(before)) / took, memory_mb=max(memory_mb(c.process.pid) for c in cells))


alarms = os.path.join(folder, "alarms.yaml")
with open(alarms, "w", encoding="utf-8") as file:
    file.write(ALARMS)
server = Postgres(folder)
environment.update(server.environment())
subprocess.run([program, "shop", "new", server.address("owner")], env=environment, check=True, stdout=subprocess.DEVNULL)
server.ask(f"CREATE ROLE cell1 LOGIN PASSWORD '{PASSWORD.replace(chr(39), chr(39) * 2)}' IN ROLE enginewright_cell")
for number, (what, seconds, state) in enumerate((("well", told.seconds, {}), ("slow: 0.15 s each way", others, {"slow_s": 0.15}), ("silent: connected, nothing comes back", others, {"hold": True}), ("gone", others, {"cut": True}))):
    line = Line(os.path.join(folder, f"line-{number}"), server)
    cells = [Cell(f"{n} {what.split(':')[0]}", server, line) for n in range(1, told.cells + 1)]
    time.sleep(3)
    phase(what, cells, server, line, seconds, **state)
    line.hold, line.cut, line.slow_s = False, False, 0
    ends = [c.stop() for c in cells]
    tell(f"{what}: the alarms decide", decision_p50_ms=1e3 * max(e.get("decision_p50_s", float("nan")) for e in ends), decision_p99_ms=1e3 * max(e.get("decision_p99_s", float("nan")) for e in ends),
         all_stored=all(e.get("all_stored") for e in ends), limit_ms=50)
tell("the store", mb=server.number("SELECT pg_database_size('postgres')") / 1e6,
     raw_mb=server.number("SELECT coalesce(sum(size), 0) FROM enginewright.part") / 1e6, packed_mb=server.number("SELECT coalesce(sum(length(bytes)), 0) FROM enginewright.part") / 1e6)
server.stop()
shutil.rmtree(folder, ignore_errors=True)
