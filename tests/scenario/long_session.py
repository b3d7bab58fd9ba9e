#!/usr/bin/env python3
"""A long session in which nothing is as it should be: four sources that lie, a device that may only look and asks without a pause, a
disk that takes its time, a clock that leaps. No alarm is lost, each in its order; whoever steers the session here is answered;
memory stays what it is.

    python3 long_session.py PROGRAM CLOCK_SHIM DISK_SHIM [SECONDS]

The sources: one greets, makes noise, repeats its header and hangs up, and carries the speed that is watched; one repeats its last row for
ever; one falls silent and stays on the line; one gives figures that can't be, and another oil pressure than the first. Every few seconds the
first runs beyond the alarm's limit, each time by another figure.

Without SECONDS six times, and nothing is asserted that the machine's speed decides. With SECONDS as long as that, and figures are printed:
from the arrival of a row to the alarms' decision, and until a line of control and a stop are answered; 50 ms are asked of it.
"""
import json
import os
import random
import re
import socket
import subprocess
import sys
import tempfile
import threading
import time

import page_api
from clock_jump import Clock
from enemy import Device, NEIGHBOURS
from page_api import PROGRAM, Server, check, own_address, run

SHIMS = [os.path.abspath(p) for p in sys.argv[2:4]]
SECONDS = float(sys.argv[4]) if len(sys.argv) > 4 and sys.argv[4][0] != "-" else 0
CYCLES, PAUSE_S, LONG_S, STOPS = 6, 3, 120, 300
LIMIT, ASKED_S, MEMORY_MB, LOG_MB = 6500, 0.050, 400, 48
ALARMS = f"""alarms:
  - {{name: overspeed, watch: speed, action: shut down, says: shut throttle keep load, above: {LIMIT} rpm}}
  - {{name: oil hot, watch: oil_temperature, action: notice, says: let the oil cool, above: 120 degC, hold: 0.1 s}}
"""


class Source(threading.Thread):
    """A logger: rows at 50 Hz, by its own clock, until it is stopped."""

    head = ""

    def __init__(self, seed):
        super().__init__(daemon=True)
        self.door = socket.create_server(("127.0.0.1", 0))
        self.url = f"tcp://127.0.0.1:{self.door.getsockname()[1]}"
        self.over, self.chance, self.n, self.line = threading.Event(), random.Random(seed), 0, None

    def send(self, text):
        self.line.sendall(text.encode("latin-1", "replace"))

    def run(self):
        while not self.over.is_set():
            self.line, _ = self.door.accept()
            try:
                self.greet()
                while not self.over.is_set():
                    self.n += 1
                    self.row(self.n / 50)
                    time.sleep(0.02)
            except OSError:
                pass
            self.line.close()

    def greet(self):
        self.send(self.head)

    def end(self):
        self.over.set()


class Noise(Source):
    head = "Time [s],RPM [rpm],Torque [N·m],Oil pressure [bar]\n"

    def __init__(self, seed):
        super().__init__(seed)
        self.speed, self.left = 0, threading.Semaphore(0)

    def greet(self):
        self.send("Logger ready\r\nfirmware 7, all well\r\n\x00\xff\xfe###\n" + self.head)

    def over_limit(self, speed):
        """A few rows of it."""
        self.speed = speed
        self.left.acquire()

    def row(self, at):
        lie = self.chance.random()
        if lie < 0.02:
            self.send(self.chance.choice(["Torque,high\n", "\x07\x1b[2J\xff\xff\n", self.head, ",,,,\n", "Torque,", "\n\n", "9" * 300 + "\n"]))
        if lie > 0.999 and not self.speed:
            raise OSError("hangs up")
        speed = self.speed or 3000 + self.n % 7
        self.send(f"\n{at:.3f},{speed},{20 + self.n % 3},{4 + 0.01 * (self.n % 5):.2f}\n")
        if self.speed:
            self.spoken = getattr(self, "spoken", 0) + 1
            if self.spoken >= 10:
                self.spoken, self.speed = 0, 0
                self.left.release()


class Repeats(Source):
    head = "Time [s],Throttle [%],Coolant temp [degC]\n"

    def row(self, at):
        self.send(f"{min(at, 4):.3f},50,{81 if at < 4 else 82}\n")


class Silent(Source):
    head = "Time [s],Oil temp [degC]\n"

    def row(self, at):
        if self.n % 500 < 100:
            self.send(f"{at:.3f},{90 + self.n % 9 / 10}\n")


class Wrong(Source):
    head = "Time [s],Oil pressure [bar],Lambda\n"

    def row(self, at):
        figure = self.chance.choice(["1e308", "-5", "nan", "", "0.9", "inf", "1e-320", "7"])
        self.send(f"{at - (3600 if self.n % 400 == 399 else 0):.3f},{9 + self.n % 3},{figure}\n")


def flood(address, port, token, body):
    """A device that may look, in a process of its own: as many questions as are answered, on eight lines."""
    import http.client

    def ask():
        while True:
            try:
                line = http.client.HTTPConnection(address, port, timeout=300)
                for path in ("method/try", "curves?pulls=1,2,3", "live", "ledger", "method/try", "day"):
                    verb = "POST" if path == "method/try" else "GET"
                    line.request(verb, "/api/v1/" + path, body=body if verb == "POST" else None,
                                 headers={"Content-Type": "application/json", "Cookie": "ew_device=" + token})
                    line.getresponse().read()
            except (OSError, http.client.HTTPException):
                time.sleep(0.01)

    lines = [threading.Thread(target=ask, daemon=True) for _ in range(8)]
    for line in lines:
        line.start()
    sys.stdin.read()  # until the one that began it ends


def echo():
    """Gives back what it is sent: what this machine takes for a question and an answer of no work."""
    with socket.create_server(("127.0.0.1", 0)) as door:
        print(door.getsockname()[1], flush=True)
        line, _ = door.accept()
        while data := line.recv(64):
            line.sendall(data)


class Listener(threading.Thread):
    """What the session says, as a page hears it."""

    def __init__(self, server):
        super().__init__(daemon=True)
        self.server, self.told, self.lock = server, [], threading.Condition()
        self.start()

    def run(self):
        stream = socket.create_connection(("127.0.0.1", self.server.port), timeout=600)
        stream.sendall(f"GET /api/v1/events HTTP/1.1\r\nHost: {self.server.host}\r\nCookie: {self.server.cookie}\r\n\r\n".encode())
        text = b""
        while True:
            try:
                data = stream.recv(65536)
            except OSError:
                data = b""
            if not data:
                return
            *whole, text = (text + data).split(b"\n\n")
            for event in whole:
                if b'"event":"' not in event:
                    continue
                news = json.loads(event.split(b"data: ", 1)[-1].split(b"\r\n")[0])
                with self.lock:
                    self.told.append(news.get("news", news))
                    self.lock.notify_all()

    def wait(self, wanted, after=0):
        """The first news from number `after` on that is wanted, and the number behind it; None: it never came."""
        until = time.monotonic() + LONG_S
        with self.lock:
            while time.monotonic() < until:
                for i in range(after, len(self.told)):
                    if wanted(self.told[i]):
                        return self.told[i], i + 1
                self.lock.wait(1)
        return None, after


def share(values, part):
    return sorted(values)[min(len(values) - 1, int(part * len(values)))] if values else float("nan")


def memory_mb(server, what):
    with open(f"/proc/{server.process.pid}/status", encoding="ascii") as file:
        return int(next(line for line in file if line.startswith(what)).split()[1]) / 1024


def log_mb(book):
    """The write-ahead log beside the book."""
    return os.path.getsize(book + "-wal") / 2**20


class Steering:
    """This machine's person: what he does, and how long he waits for the answer."""

    def __init__(self, server, echo_port):
        self.server, self.waits = server, {"an echo": [], "mark": [], "shut down": [], "clear all": [], "stop": []}
        self.line = socket.create_connection(("127.0.0.1", echo_port))

    def say(self, line):
        begin = time.monotonic()
        self.line.sendall(b"?")
        self.line.recv(64)
        self.waits["an echo"].append(time.monotonic() - begin)
        begin = time.monotonic()
        status, answer = self.server.json("POST", "live/control", {"line": line})
        self.waits["mark" if line.startswith("mark") else line].append(time.monotonic() - begin)
        return status == 200, answer

    def stop(self):
        begin = time.monotonic()
        status, answer = self.server.json("POST", "live/stop", {})
        self.waits["stop"].append(time.monotonic() - begin)
        return status == 200, answer


def cleared(told):
    """The sources go on to disagree: that alarm stands."""
    return bool(told) and told.get("action") == "clear" and "overspeed" not in (told["names"] or "") and "by hand" not in (told["names"] or "")


def one_trip(number, first, listener, person):
    """Beyond the limit; the alarm trips with this figure, and the person stops, marks and clears."""
    speed, begin = LIMIT + 100 + number, len(listener.told)
    first.over_limit(speed)
    trip, _ = listener.wait(lambda n: n["event"] == "alarm" and n.get("name") == "overspeed" and n.get("action") == "shut down", begin)
    check(f"trip {number} is told", trip is not None, listener.told[-3:])
    if trip:
        check(f"trip {number} is that one", abs(trip["value"] - speed) < 1, trip)
    for line in ("shut down", f"mark {number}"):
        good, answer = person.say(line)
        check(f"'{line}' is taken", good, answer)
    for _ in range(1000):
        begin = len(listener.told)
        person.say("clear all")
        done, _ = listener.wait(lambda n: n.get("action") == "clear" or n["event"] == "refused", begin)
        if cleared(done):
            break
        time.sleep(0.05)
    check(f"trip {number} is cleared", cleared(done), done)
    return trip["decided_after_s"] if trip else float("nan")


def stops(server, person, listener):
    """Sessions of practice, stopped at once."""
    for _ in range(STOPS):
        begin = len(listener.told)
        status, answer = server.json("POST", "live/start", {"source": "practice:?rate=50"})
        check("practice begins", status == 200, answer)
        listener.wait(lambda n: n["event"] == "channels", begin)
        good, answer = person.stop()
        check("and is stopped", good, answer)
        listener.wait(lambda n: n["event"] == "end", begin)
        while server.json("GET", "live")[1]["running"]:
            time.sleep(0.02)


def session(server, book, clock, sources, echo_port):
    listener, person = Listener(server), Steering(server, echo_port)
    for s in sources:
        s.start()
    status, answer = server.json("POST", "live/start", {"sources": [s.url for s in sources]})
    check("a session of four sources begins", status == 200, answer)
    listener.wait(lambda n: n["event"] == "channels")
    begin, number, decided, resident, logs = time.monotonic(), 0, [], [], []
    chance = random.Random(5)
    while number < CYCLES if not SECONDS else time.monotonic() - begin < SECONDS:
        clock.set(chance.randint(-72, 72) * 3600)
        number += 1
        decided.append(one_trip(number, sources[0], listener, person))
        resident.append((time.monotonic() - begin, memory_mb(server, "VmRSS")))
        logs.append(log_mb(book))
        time.sleep(PAUSE_S if SECONDS else 0.5)
    trips = [n["value"] for n in listener.told if n["event"] == "alarm" and n.get("name") == "overspeed" and n.get("action") == "shut down"]
    check("as many trips as there were, each in its order", [round(v) for v in trips] == [LIMIT + 100 + i + 1 for i in range(number)], trips[-5:])
    for says, wanted in {"that two sources disagree": "disagree", "that a source repeats itself": "repeated", "what is no row": "garbage"}.items():
        check(f"it is told {says}", any(wanted in json.dumps(n) for n in listener.told), listener.told[-3:])
    good, answer = person.stop()
    check("stop is answered", good, answer)
    for s in sources:
        s.end()
    end, _ = listener.wait(lambda n: n["event"] == "end")
    check("the session ends, and all is stored", end and end["all_stored"], end)
    seconds = time.monotonic() - begin
    if SECONDS:
        stops(server, person, listener)
    return {"seconds": seconds, "trips": number, "decided": decided, "waits": person.waits, "resident": resident, "logs": logs, "end": end or {}, "told": listener.told}


def figures(found):
    """One line a figure."""
    print(f"{found['seconds']:.0f} s, {found['trips']} trips, {sum(n['event'] == 'source' for n in found['told'])} news of sources")
    end, asked = found["end"], ASKED_S * 1e3
    print(f"alarms decide: p50 {1e3 * end.get('decision_p50_s', 0):.3f} ms, p99 {1e3 * end.get('decision_p99_s', 0):.3f} ms of the latest rows; "
          f"of the trips p99 {1e3 * share(found['decided'], 0.99):.3f} ms, most {1e3 * max(found['decided']):.3f} ms")
    print(f"rows are stored: p99 {1e3 * end.get('durable_p99_s', 0):.0f} ms on the slow disk")
    for what, waits in found["waits"].items():
        word = "" if what == "an echo" else f" ({'within' if share(waits, 0.99) < ASKED_S else 'MISSES'} {asked:.0f} ms)"
        print(f"{what} is answered: p50 {1e3 * share(waits, 0.5):.1f} ms, p99 {1e3 * share(waits, 0.99):.1f} ms, most {1e3 * max(waits):.1f} ms of {len(waits)}{word}")
    print(f"the log beside the book: {max(found['logs']):.1f} MB at most, {found['logs'][-1]:.1f} MB at the end")
    if len(found["resident"]) > 10:
        late = [r for r in found["resident"] if r[0] > found["seconds"] / 5]
        middle_s, middle = sum(t for t, _ in late) / len(late), sum(m for _, m in late) / len(late)
        slope = sum((t - middle_s) * (m - middle) for t, m in late) / max(1e-9, sum((t - middle_s) ** 2 for t, _ in late))
        print(f"memory: {late[0][1]:.1f} MB after a fifth, {late[-1][1]:.1f} MB at the end, {3600 * slope:+.1f} MB an hour")


def network(folder):
    address = NEIGHBOURS[0] if "--inside" in sys.argv else own_address()
    if not address:
        print("[  SKIPPED ] 1 a long session: no network here, and none of our own may be made")
        return
    book = json.loads(run("demo", "--folder", os.path.join(folder, "day"), "--json").stdout)["book"]
    table = os.path.join(folder, "alarms.yaml")
    with open(table, "w", encoding="utf-8") as file:
        file.write(ALARMS)
    check("the alarms are kept", run("cell", "alarms", "--alarms", table, "--keep", "--book", book).returncode == 0)
    clock = Clock(folder, ":".join(SHIMS))
    os.environ["EW_SLOW_MS"] = "40"
    server = Server(book, options=["--lan"])
    viewer = Device(server, address).pair("view")
    ids = [p["id"] for p in server.json("GET", "pulls")[1]["pulls"] if p["purpose"] == "pull"][:6]
    body = json.dumps({"a": ids, "typed": server.json("GET", "method")[1]["typed"]})
    quiet = {k: v for k, v in os.environ.items() if k not in ("LD_PRELOAD", "EW_SLOW_MS")}
    flooder = subprocess.Popen(["nice", "-n", "5", sys.executable, os.path.abspath(__file__), PROGRAM, *SHIMS, "--flood", address, str(server.port), viewer.token, body],
                               stdin=subprocess.PIPE, env=quiet)
    echoes = subprocess.Popen([sys.executable, os.path.abspath(__file__), PROGRAM, *SHIMS, "--echo"], stdout=subprocess.PIPE, text=True, env=quiet)
    try:
        found = session(server, book, clock, [kind(i) for i, kind in enumerate((Noise, Repeats, Silent, Wrong))], int(echoes.stdout.readline()))
    finally:
        echoes.kill()
        echoes.wait()
        echoes.stdout.close()
        flooder.stdin.close()
        flooder.wait(timeout=60)
    most = memory_mb(server, "VmHWM")
    check(f"it never took {MEMORY_MB} MB", most < MEMORY_MB, most)
    check(f"the log beside the book never took {LOG_MB} MB", max(found["logs"]) < LOG_MB, max(found["logs"]))
    if SECONDS:
        figures(found)
    clock.set(0)
    check("it ends in order", server.stop() == 0)
    del os.environ["EW_SLOW_MS"]
    answer = run("book", "verify", "--book", book, "--json")
    check("the book is whole", answer.returncode == 0 and json.loads(answer.stdout)["whole"], answer.stdout[-300:])


def main():
    with tempfile.TemporaryDirectory(prefix="enginewright-long-") as folder:
        Clock(folder, ":".join(SHIMS))
        can = run("help").returncode == 0  # a sanitizer wants to be the first library
        del os.environ["LD_PRELOAD"]
        if not can:
            print("[  SKIPPED ] 1 a long session: this build cannot be loaded with another library before it")
        elif "--inside" in sys.argv:
            subprocess.run(["ip", "link", "set", "lo", "up"], check=True)
            subprocess.run(["ip", "address", "add", NEIGHBOURS[0] + "/24", "dev", "lo"], check=True)
            network(folder)
        elif subprocess.run(["unshare", "-rn", "ip", "link", "set", "lo", "up"], capture_output=True, check=False).returncode == 0:
            inside = subprocess.run(["unshare", "-rn", sys.executable, os.path.abspath(__file__), *sys.argv[1:], "--inside"], stdout=subprocess.PIPE, text=True, check=False)
            print(re.sub(r"^\[  PASSED  \].*\n", "", inside.stdout, flags=re.M), end="")
            page_api.passed += int((re.search(r"PASSED  \] (\d+)", inside.stdout) or [0, 0])[1])
            page_api.failed += inside.returncode != 0
        else:
            network(folder)
    print(f"[  PASSED  ] {page_api.passed} test(s).")
    if page_api.failed:
        print(f"[  FAILED  ] {page_api.failed} test(s).")
    return 1 if page_api.failed else 0


if __name__ == "__main__":
    if "--echo" in sys.argv:
        echo()
    elif "--flood" in sys.argv:
        where = sys.argv.index("--flood") + 1
        flood(sys.argv[where], int(sys.argv[where + 1]), *sys.argv[where + 2:where + 4])
    else:
        sys.exit(main())
