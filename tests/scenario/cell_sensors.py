#!/usr/bin/env python3
"""Sources that lie or die, live: a device that falls silent beside others, a file that stops growing, a logger
that repeats one row or greets before its header, rows that cannot be read, strangers on UDP, two sources
that give one channel.

Usage: cell_sensors.py PROGRAM"""
import json
import os
import socket
import subprocess
import sys
import tempfile
import threading
import time

program = sys.argv[1]
passed = failed = 0


def check(good, says):
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print("FAILED:", says)


class Recorder:
    """A session whose news are read as they come."""

    def __init__(self, book, *sources, more=()):
        command = [program, "cell", "record", "--json", "--book", book]
        for source in sources:
            command += ["--source", source]
        self.run = subprocess.Popen(command + list(more), stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        self.news, self.come = [], threading.Condition()
        self.reader = threading.Thread(target=self.read, daemon=True)
        self.reader.start()

    def read(self):
        for line in self.run.stdout:
            with self.come:
                self.news.append(json.loads(line))
                self.come.notify_all()
        with self.come:
            self.come.notify_all()

    def wait(self, which, seconds=20):
        with self.come:
            self.come.wait_for(lambda: any(which(n) for n in self.news), seconds)
            return next((n for n in self.news if which(n)), None)

    def say(self, line):
        self.run.stdin.write(line + "\n")
        self.run.stdin.flush()

    def end(self):
        self.say("stop")
        self.reader.join(20)
        self.run.wait(20)
        return self.news


def alarm(name):
    return lambda n: n["event"] == "alarm" and n.get("name") == name


def what(word):
    return lambda n: n["event"] == "source" and n["what"] == word


class Logger:
    """A logger on TCP: rows of a pull that begins when `load` is set, at 50 a second."""

    COLUMNS = [("RPM", "rpm"), ("Torque", "N.m"), ("Throttle", "%"), ("Oil pressure", "bar"), ("Oil temp", "degC"), ("Coolant temp", "degC")]

    def __init__(self, columns=6, time_column=True):
        self.server = socket.create_server(("127.0.0.1", 0))
        self.url = f"tcp://127.0.0.1:{self.server.getsockname()[1]}"
        self.columns, self.time_column = columns, time_column
        self.load = self.stuck = self.silent = self.gone = False
        threading.Thread(target=self.serve, daemon=True).start()

    def row(self, n, t, loaded_s):
        rpm = 3000 + 300 * min(loaded_s, 20)
        wobble = (n * 7919 % 101) / 101 - 0.5
        return [rpm + 6 * wobble, (250 if self.load else 20) + 2 * wobble, 100 if self.load else 10, 4.9 + 0.02 * wobble, 90, 80][:self.columns]

    def serve(self):
        line, _ = self.server.accept()
        names = (["Time [s]"] if self.time_column else []) + [f"{n} [{u}]" for n, u in self.COLUMNS[:self.columns]]
        begun, load_s, n, text = time.monotonic(), None, 0, ""
        try:
            line.sendall((",".join(names) + "\n").encode())
            while not self.gone:
                t = time.monotonic() - begun
                if self.load and load_s is None:
                    load_s = t
                figures = self.row(n, t, t - load_s if load_s is not None else 0)
                if not self.stuck:
                    text = ",".join(f"{x:.3f}" for x in figures)
                if not self.silent:
                    line.sendall(((f"{t:.4f}," if self.time_column else "") + text + "\n").encode())
                n += 1
                time.sleep(0.02)
        except OSError:
            pass
        line.close()


class Registers:
    """A Modbus TCP device with one register; `dead`: it takes questions and answers no more."""

    def __init__(self, folder, name, unit, scale):
        self.map = os.path.join(folder, "registers.yaml")
        open(self.map, "w").write(f"registers:\n  - {{name: {name}, unit: {unit}, address: 0, scale: {scale}}}\n")
        self.server = socket.create_server(("127.0.0.1", 0))
        self.url = f"modbus://127.0.0.1:{self.server.getsockname()[1]}/1?map={self.map}&every=0.02"
        self.dead, self.value = False, 490
        threading.Thread(target=self.serve, daemon=True).start()

    def serve(self):
        while True:
            line, _ = self.server.accept()
            n = 0
            try:
                while len(asked := line.recv(12)) == 12:
                    if self.dead:
                        continue
                    n += 1
                    line.sendall(asked[:4] + bytes([0, 5]) + asked[6:8] + bytes([2]) + (self.value + n % 3).to_bytes(2, "big"))
            except OSError:
                pass
            line.close()


def a_device_that_dies_beside_others(folder):
    logger, device = Logger(columns=3), Registers(folder, "Oil pressure", "bar", 0.01)
    live = Recorder(os.path.join(folder, "device.book"), logger.url, device.url)
    check(live.wait(lambda n: n["event"] == "commit" and n["source"].startswith("modbus:") and n["stored_rows"] > 50), "the device gives rows")
    logger.load = True
    live.wait(lambda n: n["event"] == "arming")
    time.sleep(1)  # some of the pull with both alive
    check(not alarm("oil pressure sensor lost")(live.news[-1]), "both are alive")
    device.dead = True
    check(live.wait(alarm("oil pressure sensor lost"), 8), "oil pressure of a dead device is lost, though the logger goes on")
    said = next(one["message"]["text"] for one in live.news if alarm("oil pressure sensor lost")(one))
    check("no reading for 0." in said and "limit" not in said, f"it says for how long there was no reading, and names no limit: {said}")
    check(live.wait(lambda n: n["event"] == "request"), "and the shut-down is asked for")
    live.end()
    logger.gone = True


def a_logger_that_repeats_a_row(folder):
    for stamped in (True, False):
        logger = Logger(time_column=stamped)
        live = Recorder(os.path.join(folder, f"repeats{stamped}.book"), logger.url)
        live.wait(lambda n: n["event"] == "commit" and n["stored_rows"] > 60)
        logger.load = True
        check((live.wait(lambda n: n["event"] == "arming") or {}).get("armed"), "a sound logger arms")
        time.sleep(1)
        logger.stuck = True
        check(live.wait(what("stuck"), 10), f"the same row again and again is found, with a time of its own: {stamped}")
        check(live.wait(alarm("oil pressure sensor lost"), 8), "and what it says is not believed")
        logger.stuck = False
        check(live.wait(what("moving again"), 8), "rows that change are believed again")
        live.end()
        logger.gone = True


def an_outage_teaches_nothing(folder):
    logger = Logger()
    live = Recorder(os.path.join(folder, "outage.book"), logger.url)
    live.wait(lambda n: n["event"] == "commit" and n["stored_rows"] > 60)
    logger.silent = True
    check(live.wait(what("lost"), 12), "an outage of five seconds is reported")
    logger.silent = False
    live.wait(lambda n: n["event"] == "gap")
    logger.load = True
    live.wait(lambda n: n["event"] == "arming")
    logger.silent = True
    died = time.monotonic()
    check(live.wait(alarm("oil pressure sensor lost"), 8), f"the next silence is not borne for as long: {time.monotonic() - died:.1f} s")
    live.end()
    logger.gone = True


def a_file_that_stops_growing(folder):
    path = os.path.join(folder, "grows.csv")
    going = threading.Event()
    going.set()

    def write():
        with open(path, "w") as log:
            log.write("Time [s],RPM [rpm],Torque [N.m],Throttle [%],Oil pressure [bar]\n")
            begun, n = time.monotonic(), 0
            while going.is_set():
                n += 1
                t = time.monotonic() - begun
                loaded = t > 1
                log.write(f"{t:.4f},{3000 + 300 * max(0, t - 1):.1f},{250 if loaded else 20}.{n % 10},{100 if loaded else 10},{4.9 + 0.01 * (n % 5):.2f}\n")
                log.flush()
                time.sleep(0.02)

    writer = threading.Thread(target=write)
    writer.start()
    live = Recorder(os.path.join(folder, "grows.book"), f"file:{path}")
    live.wait(lambda n: n["event"] == "arming")
    time.sleep(1)
    going.clear()
    writer.join()
    check(live.wait(alarm("oil pressure sensor lost"), 8), "what a file last said is not what is")
    check(live.wait(what("lost"), 12), "and its silence is reported")
    live.end()


def a_greeting_on_each_connection(folder):
    server = socket.create_server(("127.0.0.1", 0))

    def serve():
        for k in range(3):
            line, _ = server.accept()
            line.sendall(b"Logger ready\nTime [s],RPM [rpm],Torque [N.m],Oil pressure [bar]\n")
            line.sendall("".join(f"{100 * k + i / 100:.2f},{3000 + i},250,4.9\n" for i in range(500)).encode())
            line.close()

    threading.Thread(target=serve, daemon=True).start()
    book = os.path.join(folder, "greeting.book")
    live = Recorder(book, f"tcp://127.0.0.1:{server.getsockname()[1]}")
    check(live.wait(lambda n: n["event"] == "commit" and n["stored_rows"] == 1500), "1,500 rows of three connections are stored")
    news = live.end()
    check(len({n["recording"] for n in news if n["event"] == "commit"}) == 1, "as one recording")
    server.close()


def rows_that_cannot_be_read(folder):
    server = socket.create_server(("127.0.0.1", 0))
    stage = {"now": 0}

    def serve():
        line, _ = server.accept()
        line.sendall(b"Time [s],RPM [rpm],Torque [N.m]\n")
        n = 0
        try:
            while stage["now"] < 3:
                n += 1
                line.sendall(f"{n / 100},3000,5{',7' if stage['now'] == 1 else ''}\n".encode())
                time.sleep(0.01)
        except OSError:
            pass
        line.close()

    threading.Thread(target=serve, daemon=True).start()
    live = Recorder(os.path.join(folder, "unreadable.book"), f"tcp://127.0.0.1:{server.getsockname()[1]}")
    live.wait(lambda n: n["event"] == "commit" and n["stored_rows"] > 50)
    check(not [n for n in live.news if n["event"] == "alarm" and n.get("name")], "no alarm while rows are read")
    stage["now"] = 1
    alarm_now = live.wait(lambda n: n["event"] == "alarm" and str(n.get("name")).startswith("rows cannot be read"))
    check(alarm_now and alarm_now["action"] == "notice", f"rows that cannot be read are an alarm of their own: {alarm_now}")
    live.say("clear all")
    held = live.wait(lambda n: n["event"] == "alarm" and n.get("action") == "clear")
    check(held and held["standing"] >= 1, f"which is not cleared while it goes on: {held}")
    stage["now"] = 2
    check(live.wait(what("readable again")), "and that they can be read again is reported")
    live.say("clear all")
    check(live.wait(lambda n: n["event"] == "alarm" and n.get("action") == "clear" and n["standing"] == 0), "then it is cleared")
    live.end()
    stage["now"] = 3


def strangers(folder):
    ours, other = (socket.socket(socket.AF_INET, socket.SOCK_DGRAM) for _ in range(2))
    for one in (ours, other):
        one.bind(("127.0.0.1", 0))
    for named in (False, True):
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as free:
            free.bind(("127.0.0.1", 0))
            at = free.getsockname()
        book = os.path.join(folder, f"udp{named}.book")
        by_name = f"?from=127.0.0.1:{ours.getsockname()[1]}" if named else ""
        live = Recorder(book, f"udp://127.0.0.1:{at[1]}{by_name}")
        live.wait(lambda n: n["event"] == "started")
        time.sleep(0.2)
        if named:  # the stranger is first, and counts for nothing all the same
            other.sendto(b"Time [s],RPM [rpm]\n1,9999\n", at)
        ours.sendto(b"Time [s],RPM [rpm]\n", at)
        for i in range(100):
            ours.sendto(f"{i / 100},{3000 + i}\n".encode(), at)
            other.sendto(f"{i / 100},9999\n".encode(), at)
        seen = live.wait(what("stranger"))
        check(seen and seen["why"]["id"] == "cell.rubbish" and seen["why"]["arguments"]["count"]["count"] >= 1, f"a stranger is counted and reported: {seen}")
        check(live.wait(lambda n: n["event"] == "commit" and n["stored_rows"] == 100), "the sender's own rows are stored")
        live.end()
        out = os.path.join(folder, f"out{named}")
        subprocess.run([program, "book", "export", out, "--book", book], check=True, stdout=subprocess.DEVNULL)
        check("9999" not in open(os.path.join(out, "live-00001.csv")).read(), "and none of the stranger's")
    ran = subprocess.run([program, "cell", "record", "--book", os.path.join(folder, "no.book"), "--source", "udp://127.0.0.1:0?from=nobody.invalid"],
                         stdin=subprocess.DEVNULL, capture_output=True, text=True)
    check(ran.returncode == 2 and "from=" in ran.stderr, f"a sender that is not found is refused: {ran.stderr}")


def two_sources_of_one_channel(folder):
    logger, device = Logger(), Registers(folder, "Oil pressure", "bar", 0.01)
    live = Recorder(os.path.join(folder, "both.book"), logger.url, device.url)
    said = live.wait(what("second"))
    check(said and said["channel"] == "oil_pressure" and said["counts"] == logger.url, f"which counts is said: {said}")
    live.wait(lambda n: n["event"] == "commit" and n["source"].startswith("modbus:") and n["stored_rows"] > 100)
    check(not [n for n in live.news if n["event"] == "alarm" and n.get("name")], "two that agree are no alarm")
    device.value = 250  # 2.5 bar against 4.9
    apart = live.wait(alarm("two sources disagree: oil_pressure"))
    check(apart and apart["value"] > apart["bound"], f"beyond both doubts is an alarm: {apart}")
    logger.load = True
    live.wait(lambda n: n["event"] == "arming")
    logger.silent = True  # the one that counts dies: the other does not hide it
    check(live.wait(alarm("oil pressure sensor lost"), 8), "the loss of the one that counts is seen")
    live.end()
    logger.gone = True


with tempfile.TemporaryDirectory() as folder:
    for scenario in (a_greeting_on_each_connection, rows_that_cannot_be_read, strangers, two_sources_of_one_channel, a_device_that_dies_beside_others, a_logger_that_repeats_a_row, an_outage_teaches_nothing, a_file_that_stops_growing):
        scenario(folder)
if failed:
    print(f"[  FAILED  ] {failed} test(s).")
print(f"[  PASSED  ] {passed} test(s).")
sys.exit(1 if failed else 0)
