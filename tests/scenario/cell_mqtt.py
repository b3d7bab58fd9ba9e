#!/usr/bin/env python3
"""MQTT against Debian's own broker on this machine: lines of a topic, and figures by a map.

Usage: cell_mqtt.py PROGRAM"""
import json
import os
import random
import shutil
import socket
import subprocess
import sys
import tempfile
import time

program = sys.argv[1]
broker = shutil.which("mosquitto") or ("/usr/sbin/mosquitto" if os.path.exists("/usr/sbin/mosquitto") else None)
if not broker:
    print("no broker is installed: the MQTT source is not tested")
    print("[  SKIPPED ] 2 test(s).")
    sys.exit(0)
passed = failed = 0


def check(good, says):
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print("FAILED:", says)


def packet(kind, body):
    size, length = len(body), b""
    while True:
        size, digit = divmod(size, 128)
        length += bytes([digit | (128 if size else 0)])
        if not size:
            return bytes([kind]) + length + body


def text(word):
    data = word.encode()
    return len(data).to_bytes(2, "big") + data


class Client:
    """The few packets of MQTT 3.1.1 that a publisher needs."""

    def __init__(self, port):
        self.line = socket.create_connection(("127.0.0.1", port))
        self.line.sendall(packet(0x10, text("MQTT") + bytes([4, 2, 0, 60]) + text("test")))
        assert self.line.recv(4)[0] == 0x20

    def publish(self, topic, payload, retained=False):
        self.line.sendall(packet(0x31 if retained else 0x30, text(topic) + (payload.encode() if isinstance(payload, str) else payload)))


CELL = {"rpm": ("RPM", "rpm"), "tq": ("Torque", "N.m"), "thr": ("Throttle", "%"), "oil": ("Oil pressure", "bar"),
        "oilt": ("Oil temp", "degC"), "cool": ("Coolant temp", "degC")}


def figures(t):
    """A pull from 1 s to 6 s, at 300 rpm a second."""
    loaded = 1 <= t < 6
    rpm = 3000 + 300 * max(0, min(t, 6) - 1)
    return {"rpm": f"{rpm:.1f}", "tq": f"{(250 if loaded else 20) + 0.3 * (t * 977 % 1):.2f}", "thr": "100" if loaded else "10",
            "oil": f"{4.9 + 0.01 * (t * 613 % 1):.3f}", "oilt": "90", "cool": "80"}


def live_session(folder, name, port, client, says, seconds, stop=None):
    """Figures of a pull at 50 a second; `stop`: (topic, from when on it is silent)."""
    topics = os.path.join(folder, name + ".yaml")
    open(topics, "w").write("topics:\n" + "".join(f"  - {{name: {n}, unit: '{u}', topic: {name}/{t}}}\n" for t, (n, u) in CELL.items()))
    recorder = subprocess.Popen([program, "cell", "record", "--json", "--book", os.path.join(folder, name + ".book"), "--source",
                                 f"mqtt://127.0.0.1:{port}/?map={topics}"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    for line in recorder.stdout:
        if json.loads(line).get("what") == "connected":
            break
    time.sleep(0.3)
    begun = time.monotonic()
    while (t := time.monotonic() - begun) < seconds:
        for topic, value in figures(t).items():
            if topic in says and not (stop and stop[0] == topic and t >= stop[1]):
                client.publish(f"{name}/{topic}", value)
        time.sleep(0.02)
    recorder.stdin.write("stop\n")
    recorder.stdin.flush()
    return [json.loads(line) for line in recorder.stdout]


def live_or_not(folder, port, client):
    # a topic that dies within a pull: its last figure does not stand for it
    news = live_session(folder, "dies", port, client, CELL, 7, stop=("oil", 3.0))
    trips = [n for n in news if n.get("name") == "oil pressure sensor lost"]
    check(len(trips) == 1 and trips[0]["in_pull"] and trips[0]["action"] == "shut down", f"a dead oil pressure trips: {trips}")
    requests = [n for n in news if n["event"] == "request"]
    check(bool(requests), "and the shut-down is asked for")
    # all of them alive: nothing is called lost or frozen
    news = live_session(folder, "lives", port, client, CELL, 7)
    check(not [n for n in news if n["event"] == "alarm" and n.get("name")], f"no alarm: {[n for n in news if n['event'] == 'alarm']}")
    armed = [n for n in news if n["event"] == "arming"]
    check(armed and armed[0]["armed"], f"a live cell arms: {armed}")
    # what the broker kept from yesterday does not arm a cell
    for topic, value in figures(0).items():
        client.publish(f"kept/{topic}", value, retained=True)
    news = live_session(folder, "kept", port, client, ("rpm", "tq", "thr"), 7)
    armed = [n for n in news if n["event"] == "arming"]
    check(armed and not armed[0]["armed"] and "oil_pressure" in armed[0]["why"]["arguments"]["key"]["text"], f"retained figures arm nothing: {armed}")
    check(any(n["why"]["arguments"]["what"]["message"]["id"] == "cell.message-retained" for n in news if n["event"] == "source" and n["what"] == "garbage"), "and they are reported")


with tempfile.TemporaryDirectory() as folder:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    settings = os.path.join(folder, "broker.conf")
    open(settings, "w").write(f"listener {port} 127.0.0.1\nallow_anonymous true\n")
    server = subprocess.Popen([broker, "-c", settings], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        for _ in range(100):
            try:
                client = Client(port)
                break
            except (OSError, AssertionError):
                time.sleep(0.05)
        topics = os.path.join(folder, "topics.yaml")
        open(topics, "w").write("topics:\n  - {name: RPM, unit: rpm, topic: a/rpm}\n"
                                "  - {name: Oil pressure, unit: bar, topic: a/oil, scale: 0.1}\n")
        for url, send in ((f"mqtt://127.0.0.1:{port}/cell/lines",
                           [("cell/lines", "Time [s],RPM [rpm]")] + [("cell/lines", f"{i / 10},{1000 + i}") for i in range(50)]),
                          (f"mqtt://127.0.0.1:{port}/?map={topics}",
                           [("a/rpm" if i % 2 else "a/oil", str(40 + i)) for i in range(50)])):
            book = os.path.join(folder, "mqtt.book")
            recorder = subprocess.Popen([program, "cell", "record", "--json", "--book", book, "--source", url, "--for", "4 s"],
                                        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True)
            for line in recorder.stdout:
                if json.loads(line).get("what") == "connected":
                    break
            time.sleep(0.3)
            for topic, payload in send:
                client.publish(topic, payload)
                time.sleep(0.005)
            news = [json.loads(line) for line in recorder.stdout]
            commits = [n for n in news if n["event"] == "commit"]
            check(commits and commits[-1]["stored_rows"] == 50, f"{url}: every message is a row: {commits[-1:]}")
        # rubbish through a real broker: counted and shown, and no figure is made of it
        book = os.path.join(folder, "rubbish.book")
        recorder = subprocess.Popen([program, "cell", "record", "--json", "--book", book, "--source", f"mqtt://127.0.0.1:{port}/?map={topics}"],
                                    stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        for line in recorder.stdout:
            if json.loads(line).get("what") == "connected":
                break
        time.sleep(0.3)
        rng = random.Random(5)
        for i in range(20000):
            body = bytes(rng.randrange(256) for _ in range(rng.choice([0, 1, 2, 5, 40])))
            if not any(48 <= byte <= 57 for byte in body):  # a figure has a digit
                client.publish("a/rpm" if i % 2 else "a/oil", body)
        client.publish("a/rpm", "4321")
        time.sleep(3)  # until all of it is through
        recorder.stdin.write("stop\n")
        recorder.stdin.flush()
        news = [json.loads(line) for line in recorder.stdout]
        garbage = [n for n in news if n.get("what") == "garbage"]
        check(recorder.wait() == 0 and garbage and garbage[0]["why"]["id"] in ("cell.rubbish", "cell.garbage-line") and len(garbage) < 20,
              f"rubbish is shown, and no flood of it: {garbage[:2]}")
        out = os.path.join(folder, "out")
        subprocess.run([program, "book", "export", out, "--book", book], check=True, stdout=subprocess.DEVNULL)
        rows = [line.rstrip("\n").split(",")[1:] for line in open(os.path.join(out, "live-00001.csv"))][1:]
        check(len(rows) > 10000 and rows[-1][0] == "4321" and all(row == ["", ""] for row in rows[:-1]),
              f"no message of rubbish became a figure: {len(rows)} rows, {[r for r in rows if r != ['', '']][:3]}")
        live_or_not(folder, port, client)
    finally:
        server.terminate()
        server.wait()
if failed:
    print(f"[  FAILED  ] {failed} test(s).")
print(f"[  PASSED  ] {passed} test(s).")
sys.exit(1 if failed else 0)
