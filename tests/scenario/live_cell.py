"""A recorder under test and the logger it listens to: rows are sent on the logger's own clock, so that a
minute of running takes as long as the rows take to be read, and nothing waits for wall time.

    with Cell(scenario, "book.book", alarms="...yaml...") as cell:
        cell.rows(300, speed=1200, oil=2.0)     # 3 s at 100 Hz, and the recorder has decided on each
        cell.say("clear all")                   # a line of control
        cell.wait(lambda n: n["event"] == "request")
"""
import json
import os
import socket
import subprocess
import threading

HEAD = {"speed": "RPM [rpm]", "torque": "Torque [N·m]", "throttle": "Throttle [%]", "oil": "Oil pressure [bar]",
        "oil_temp": "Oil temp [°C]", "coolant": "Coolant temp [°C]", "lambda_": "Lambda"}
IDLE = {"speed": 1200.0, "torque": 5.0, "throttle": 3.0, "oil": 2.5, "oil_temp": 90.0, "coolant": 80.0, "lambda_": 1.0}


class Cell:
    def __init__(self, scenario, book, alarms=None, more=(), columns=tuple(HEAD), control="yes", source=None,
                 environment=None):
        self.s, self.columns, self.clock, self.sent = scenario, columns, 0.0, 0
        self.news, self.read, self.lock, self.got = [], 0, threading.Condition(), []
        self.server = socket.create_server(("127.0.0.1", 0))
        url = source or f"tcp://127.0.0.1:{self.server.getsockname()[1]}?control={control}"
        command = [scenario.program, "cell", "record", "--json", "--book", scenario.path(book), "--source", url, *more]
        if alarms is not None:
            given = alarms if alarms == "none" else scenario.write(book + ".yaml", alarms)
            command += ["--alarms", given]
        self.ran = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                                    env={**scenario.environment, **(environment or {})}, text=True)
        threading.Thread(target=self._listen, daemon=True).start()
        self.peer = None
        if source is None:
            self.server.settimeout(30)
            self.peer, _ = self.server.accept()
            threading.Thread(target=self._hear, daemon=True).start()
            self.header()

    def header(self):
        self._send("Time [s]," + ",".join(HEAD[c] for c in self.columns) + "\n")

    def __enter__(self):
        return self

    def __exit__(self, *problem):
        if self.ran.poll() is None:
            self.ran.kill()
        self.ran.wait()
        if self.peer:
            self.peer.close()
        self.server.close()

    def _send(self, text):
        self.peer.sendall(text.encode())

    def _listen(self):
        for line in self.ran.stdout:
            with self.lock:
                self.news.append(json.loads(line))
                self.lock.notify_all()
        with self.lock:
            self.news.append({"event": "over"})
            self.lock.notify_all()

    def _hear(self):
        """What the recorder sends back to the logger, but for its heartbeat."""
        kept = b""
        while True:
            try:
                some = self.peer.recv(4096)
            except OSError:
                return
            if not some:
                return
            kept += some
            while b"\n" in kept:
                line, kept = kept.split(b"\n", 1)
                if line.strip() and line.strip() != b"heartbeat":
                    with self.lock:
                        self.got.append(line.decode().strip())
                        self.lock.notify_all()

    def send_rows(self, count, step=0.01, **values):
        """A value may be a figure, None (nothing is read), or a function of the row's number."""
        now = {**IDLE, **values}
        lines = []
        for i in range(count):
            self.clock += step
            figures = [now[c](i) if callable(now[c]) else now[c] for c in self.columns]
            if figures[0] is not None:
                figures[0] += 0.1 * (i % 5)  # a row that never changes is a logger that hangs
            lines.append(",".join([f"{self.clock:.3f}"] + ["" if v is None else f"{v:.4f}" for v in figures]))
        self._send("\n".join(lines) + "\n")
        self.sent += count

    def rows(self, count, step=0.01, **values):
        self.send_rows(count, step, **values)
        self.wait(lambda n: n["event"] == "commit" and self.stored() >= self.sent, again=True)

    def stored(self):
        most = {}
        for n in self.news:
            if n["event"] == "commit":
                most[n["recording"]] = n["stored_rows"]
        return sum(most.values())

    def say(self, line):
        self.ran.stdin.write(line + "\n")
        self.ran.stdin.flush()

    def wait(self, wanted, again=False, seconds=10):
        """The next news that is wanted, from where the last wait ended (again: from the beginning); None: it never came."""
        at = 0 if again else self.read
        with self.lock:
            while True:
                while at < len(self.news):
                    one = self.news[at]
                    at += 1
                    if one["event"] != "over" and wanted(one):
                        self.read = self.read if again else at
                        return one
                    if one["event"] == "over":
                        return None
                if not self.lock.wait(seconds):
                    return None

    def told(self, line, seconds=10):
        """Waits until the logger was sent this line; True when it was, and it is taken off the list."""
        with self.lock:
            while line not in self.got:
                if not self.lock.wait(seconds):
                    return False
            self.got.remove(line)
            return True

    def stop(self):
        self.say("stop")
        self.ran.wait(60)
        return self.ran.returncode, self.ran.stderr.read()

    def trip(self, name, seconds=10):
        return self.wait(lambda n: n["event"] == "alarm" and n.get("name") == name, seconds=seconds)

    def request(self, name, seconds=10):
        return self.wait(lambda n: n["event"] == "request" and n["name"] == name, seconds=seconds)
