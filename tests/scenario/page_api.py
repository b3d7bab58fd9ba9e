#!/usr/bin/env python3
"""Drives the HTTP interface of `enginewright serve` as a page would, and as nobody should.

Outside sources: RFC 9110 and RFC 9112 (methods, Host), RFC 8259 (JSON), the factor after SAE J1349 in
its published form 1.18 (990 / Pd) sqrt((Tc + 273) / 298) - 0.18, Pd in hPa. Limits are this
program's own (docs/api-http.md).
"""
import atexit
import base64
import hashlib
import http.client
import json
import math
import os
import re
import shutil
import signal
import socket
import ssl
import subprocess
import sys
import tempfile
import threading
import time

from door import let_in

PROGRAM = sys.argv[1]
passed = failed = 0
# This machine's files, of this run only.
MACHINE = tempfile.mkdtemp(prefix="enginewright-machine-")
atexit.register(shutil.rmtree, MACHINE, ignore_errors=True)
os.environ["XDG_CONFIG_HOME"] = MACHINE


def check(says, good, found=""):
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print(f"FAILED: {says} {found}")


class Server:
    def __init__(self, book, deadline_ms=None, options=()):
        environment = dict(os.environ)
        if deadline_ms:
            environment["EW_HTTP_DEADLINE_MS"] = str(deadline_ms)
        self.process = subprocess.Popen([PROGRAM, "serve", "--book", book, "--port", "0", "--json", *options],
                                        stdout=subprocess.PIPE, text=True, env=environment)
        self.said = json.loads(self.process.stdout.readline())
        self.port = self.said["port"]
        self.host = f"127.0.0.1:{self.port}"
        self.known = None

    @property
    def cookie(self):
        """Of this machine's own browser, by the printed link."""
        if not self.known:
            self.known = let_in(self.said)
        return self.known

    def ask(self, method, path, body=None, headers=None):
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            connection.request(method, path, body=body, headers={"Cookie": self.cookie, **(headers or {})})
            response = connection.getresponse()
            return response.status, response.read(), dict(response.getheaders())
        finally:
            connection.close()

    def json(self, method, path, value=None):
        body = None if value is None else json.dumps(value)
        headers = {} if value is None else {"Content-Type": "application/json"}
        status, data, _ = self.ask(method, "/api/v1/" + path, body, headers)
        return status, json.loads(data)

    def raw(self, data, wait=True):
        """Bytes as they are; returns the first line of the answer, or what ended the connection."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=20) as s:
            try:
                s.sendall(data)
                return s.recv(4096).split(b"\r\n")[0].decode("latin-1") if wait else ""
            except OSError as problem:
                return f"closed ({problem.__class__.__name__})"

    def alive(self, after):
        try:
            status, data, _ = self.ask("GET", "/api/v1/book")
            check(f"alive after {after}", status == 200 and b'"kinds"' in data, status)
        except OSError as problem:
            check(f"alive after {after}", False, problem)

    def stop(self):
        self.process.send_signal(signal.SIGTERM)
        code = self.process.wait(timeout=30)
        self.process.stdout.close()
        return code


def run(*arguments):
    return subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, check=False)


def first_minute(folder, recordings):
    """An empty book; two files dropped; an answer in words, the same as the command line gives."""
    server = Server(os.path.join(folder, "new", "shop.book"))
    status, book = server.json("GET", "book")
    check("an empty book opens", status == 200 and book["pulls"] == 0)
    ids = []
    for name in ("run-13.csv", "run-18.csv"):
        with open(os.path.join(recordings, name), "rb") as f:
            data = f.read()
        status, text, _ = server.ask("POST", f"/api/v1/recordings?name={name}", data,
                                     {"Content-Type": "application/octet-stream"})
        added = json.loads(text)
        check(f"{name} is taken", status == 200 and len(added["pull_ids"]) == 1, text[:200])
        check("its digest is that of its bytes", added["sha256"] == hashlib.sha256(data).hexdigest())
        ids.append(added["pull_ids"][0])
        status, text, _ = server.ask("POST", f"/api/v1/recordings?name={name}", data,
                                     {"Content-Type": "application/octet-stream"})
        again = json.loads(text)
        check("the same bytes again add nothing", again["known_before"] and again["pull_ids"] == added["pull_ids"])
    status, answer = server.json("POST", "compare", {"a": ids[:1], "b": ids[1:], "keep": False})
    check("one pull a side and no history: nothing can be told",
          status == 200 and answer["verdict"] == "undecided" and "can't tell yet" in answer["says"]["text"], answer)
    check("and no interval is made up", answer["relative_interval"] == [None, None]
          and answer["says"]["text"].isascii() and "100.0" not in answer["says"]["text"], answer["says"])
    book = os.path.join(folder, "new", "shop.book")
    line = json.loads(run("compare", str(ids[0]), str(ids[1]), "--book", book, "--no-keep", "--json").stdout)
    check("the command line answers the same", line == answer)
    check("SIGTERM ends it in order", server.stop() == 0)


def dry_factor(pressure_pa, vapour_pa, temperature_k):
    pd = (pressure_pa - vapour_pa) / 100
    return 1.18 * (990 / pd) * math.sqrt((temperature_k - 273.15 + 273) / 298) - 0.18


def whole_day(server):
    status, pulls = server.json("GET", "pulls")
    pulls = pulls["pulls"]
    check("the day's pulls are listed", status == 200 and len(pulls) >= 30)
    for most in (1, 7, len(pulls), 1000):
        status, newest = server.json("GET", f"pulls?newest={most}")
        check(f"the newest {most} are the end of that list, word for word, and told as part of it",
              status == 200 and newest == {"of": len(pulls), "pulls": pulls[-most:]}, newest.get("of"))
    for wrong in ("0", "-1", "1001", "7x", ""):
        status, no = server.json("GET", f"pulls?newest={wrong}")
        check(f"newest={wrong} is refused with its range", status == 400 and "from 1 to 1000" in no["error"], (status, no))
    sound = [p["id"] for p in pulls if p["purpose"] == "pull" and not p["discarded"]]
    status, curves = server.json("GET", f"curves?pulls={sound[-1]},{sound[-2]}")
    one = curves["curves"][0]
    n = len(one["curve"]["speed_rpm"])
    check("each point has its band", n > 20 and len(one["curve"]["torque_expanded_n_m"]) == n)
    check("the comparative band is the narrower",
          all(c < a for a, c in zip(one["curve"]["torque_expanded_n_m"], one["curve"]["torque_comparative_n_m"])))
    check("power is torque by angular speed",
          all(abs(p - t * s * math.pi / 30) < 1e-6 * p for p, t, s in
              zip(one["curve"]["power_w"], one["curve"]["torque_n_m"], one["curve"]["speed_rpm"])))
    status, o = server.json("GET", f"pulls/{sound[-1]}/explain?speed_rpm=5500")
    factor = dry_factor(o["pressure_pa"], o["vapour_pressure_pa"], o["temperature_k"])
    check("the factor is that of the published formula", abs(o["factor"] - factor) < 2e-4, (o["factor"], factor))
    walked = (o["measured_torque_n_m"] + o["inertia_torque_n_m"]) * o["factor"]
    check("a figure walks back to its parts", abs(walked - o["torque_n_m"]) < 0.002 * o["torque_n_m"], (walked, o))
    quadrature = math.sqrt(sum(row["standard_n_m"] ** 2 for row in o["uncertainty"]))
    check("the budget adds in quadrature (GUM 5.1.2), k about 2",
          1.9 * quadrature < o["expanded_n_m"] < 2.6 * quadrature, (quadrature, o["expanded_n_m"]))
    status, day = server.json("GET", "day")
    check("the day says where it stands", status == 200 and day["next"] and day["why"] and len(day["stages"]) == 6)
    status, shop = server.json("GET", "shop")
    check("the shop says what the cell repeats to", shop["repeatability"][0]["relative_sd"] < 0.01)
    status, ledger = server.json("GET", "ledger")
    check("the ledger counts recordings", ledger["recordings"] >= len(pulls) and ledger["running_s"] > 600)
    status, pdf, headers = server.ask("GET", f"/api/v1/report?pulls={sound[-1]}&paper=letter&units=us")
    check("the report is a PDF, offered as a file", status == 200 and pdf[:5] == b"%PDF-"
          and headers["Content-Type"] == "application/pdf" and "attachment" in headers["Content-Disposition"])
    status, fields = server.json("GET", "engine-fields")
    check("the form's fields come from the table", {"compression", "inlet"} <= {g["key"] for g in fields["groups"]})
    return sound


def changes(server, sound):
    status, answer = server.json("POST", f"pulls/{sound[-1]}/discard", {"reason": ""})
    check("a discard needs its reason", status == 400 and "reason" in answer["error"])
    status, _ = server.json("POST", f"pulls/{sound[-1]}/discard", {"reason": "throttle cable slipped"})
    _, pulls = server.json("GET", "pulls")
    mine = [p for p in pulls["pulls"] if p["id"] == sound[-1]][0]
    check("a discarded pull keeps its place with its reason", status == 200 and mine["discarded"] == "throttle cable slipped")
    status, _ = server.json("POST", f"pulls/{sound[-1]}/discard", {"take_back": True})
    _, pulls = server.json("GET", "pulls")
    check("it can be taken back", [p for p in pulls["pulls"] if p["id"] == sound[-1]][0]["discarded"] is None)
    for value in ("0.3 N·m", "0.2 N·m", "0.1 lb-ft", "0.25 N·m"):
        status, chart = server.json("POST", "calibrations", {"kind": "zero", "read": value})
    check("a control chart begins with the fourth zero", status == 200 and chart["charts"][0]["centre"] is not None)
    status, answer = server.json("POST", "calibrations", {"kind": "zero", "read": "0.3 bar"})
    check("a pressure is no torque", status == 400 and "read" in answer["error"], answer)
    status, _ = server.json("POST", "settings", {"shop": "Mill Lane", "units": "us"})
    _, book = server.json("GET", "book")
    check("settings are kept", book["settings"]["shop"] == "Mill Lane" and book["settings"]["units"] == "us")
    status, answer = server.json("POST", "settings", {"logo": "x"})
    check("an unknown setting is refused", status == 400)


def engines(server):
    _, book = server.json("GET", "book")
    status, engine = server.json("GET", f"engines/{book['engine_id']}")
    check("an engine comes back as it was typed", status == 200 and "bore" in engine["typed"])
    typed = dict(engine["typed"], bore="3.4 in")
    status, answer = server.json("POST", "engine-check", {"typed": typed})
    check("another unit in a field is read", status == 200 and abs(answer["engine"]["bore_m"] - 0.08636) < 1e-9, answer)
    status, answer = server.json("POST", "engine-check", {"typed": dict(typed, bore="3.4 psi")})
    check("a pressure is no length, and the field is named", status == 400 and "bore" in answer["error"], answer)
    status, _ = server.json("PUT", "engines", {"typed": typed, "version": engine["version"]})
    check("the engine is kept", status == 200)
    status, answer = server.json("PUT", "engines", {"typed": typed, "version": engine["version"]})
    check("an older version is not put over a newer one", status == 409 and "somebody else" in answer["error"], answer)
    _, again = server.json("GET", f"engines/{book['engine_id']}")
    check("what was typed is what is kept", again["typed"]["bore"] == "3.4 in")


def events(server, sound):
    """Two viewers: what one changes, the other is told."""
    s = socket.create_connection(("127.0.0.1", server.port), timeout=20)
    s.sendall(f"GET /api/v1/events HTTP/1.1\r\nHost: {server.host}\r\nCookie: {server.cookie}\r\n\r\n".encode())
    got = b""
    while b"event: hello" not in got:
        got += s.recv(4096)
    server.json("POST", f"pulls/{sound[0]}/discard", {"reason": "seen by two"})
    while b"event: changed" not in got:
        got += s.recv(4096)
    check("a change on one device is told to the other", True)
    s.close()
    server.alive("a viewer that went away")


def build(server):
    """Records from a tablet: kept once, however often they are sent; stop and look above 0.05 mm."""
    _, state = server.json("GET", "build")
    check("no build yet", state["begun"] is False and len(state["valves"]) == 12, state.get("valves"))
    status, answer = server.json("POST", "build/records", {"kind": "lash", "record": {"valve": "1 inlet", "hot": "0.4 mm", "at": "2026-06-12T10:00:00Z"}})
    check("without a build nothing is kept", status == 400, answer)
    status, _ = server.json("POST", "build/start", {"build": "first", "block": "iron", "head": "aluminium", "rocker": "steel shaft", "at": "2026-06-10T08:00:00Z"})
    check("a build begins", status == 200)
    first = {"valve": "5 exhaust", "hot": "0.45 mm", "stage": "run-in", "at": "2026-06-12T10:00:00Z"}
    for again in (True, False, False):
        status, answer = server.json("POST", "build/records", {"kind": "lash", "record": first})
        check("a record is added once", status == 200 and answer["added"] is again, answer)
    for record, says in (({**first, "valve": "9 exhaust"}, "no such valve"), ({**first, "hot": "0.45 bar"}, "no length"),
                         ({"valve": "5 exhaust", "hot": "0.4 mm"}, "no time"), ({**first, "colour": "red"}, "no such field")):
        status, answer = server.json("POST", "build/records", {"kind": "lash", "record": record})
        check(f"{says} is refused", status == 400 and answer["error"], answer)
    status, answer = server.json("POST", "build/records", {"kind": "facts", "record": first})
    check("facts are not changed by a tablet", status == 400)
    server.json("POST", "build/records", {"kind": "lash", "record": {**first, "stage": "after day 1", "hot": "0.54 mm", "at": "2026-06-12T15:00:00Z"}})
    _, state = server.json("GET", "build")
    row = [r for r in state["lash"] if r["valve"] == "5 exhaust"][0]
    check("a change of 0.09 mm says stop", row["stop"] and abs(row["change_m"] - 0.09e-3) < 1e-9, row)
    check("targets come with their origin", any(m["from"] for m in state["measurements"]) and state["steps"])
    # a reading out of all reach is asked about, kept when it is confirmed, and withdrawn with its reason
    wild = {"item": "main clearance", "position": "3", "readings": ["60 mm"], "at": "2026-06-12T16:00:00Z"}
    status, answer = server.json("POST", "build/records", {"kind": "measured", "record": wild})
    check("60 mm of clearance are asked about", status == 422 and "60.000 mm" in answer["error"] and "--" not in answer["error"], answer)
    check("and not kept", not [m for m in server.json("GET", "build?units=si")[1]["readings"] if m["kind"] == "measured"])
    status, answer = server.json("POST", "build/records", {"kind": "measured", "record": {**wild, "sure": "yes"}})
    kept = [m for m in server.json("GET", "build?units=si")[1]["readings"] if m["kind"] == "measured"]
    check("confirmed, they are kept as read", status == 200 and [m["shown"] for m in kept] == ["60.000 mm"], (answer, kept))
    status, answer = server.json("POST", f"build/records/{kept[0]['id']}/withdraw", {})
    check("a reason is wanted", status == 400 and "reason" in answer["error"], answer)
    status, answer = server.json("POST", f"build/records/{kept[0]['id']}/withdraw", {"reason": "a slip"})
    check("and it is withdrawn", status == 200 and not [m for m in server.json("GET", "build?units=si")[1]["readings"] if m["kind"] == "measured"], answer)
    check("once", server.json("POST", f"build/records/{kept[0]['id']}/withdraw", {"reason": "a slip"})[0] == 400)
    lash = [m for m in server.json("GET", "build?units=si")[1]["readings"] if m["kind"] == "lash"]
    check("lash readings are listed, too", len(lash) >= 2 and all(m["id"] and "mm" in m["shown"] for m in lash), lash)
    step = state["steps"][0]
    server.json("POST", "build/records", {"kind": "done", "record": {"list": step["list"], "step": step["step"], "state": "done", "at": "2026-06-12T09:00:00Z"}})
    _, state = server.json("GET", "build")
    check("a step is ticked off", state["steps"][0]["state"] == "done", state["steps"][0])


def live(server):
    """The practice cell behind the page: figures at 20 a second, a pull that lands in the book."""
    _, before = server.json("GET", "pulls")
    for source in ("file:/etc/passwd", "replay:/tmp/a.book#1", "stdin:", "serial:/dev/../etc/passwd", ""):
        status, _ = server.json("POST", "live/start", {"source": source})
        check(f"a page may not record from {source!r}", status == 400)
    status, _ = server.json("POST", "live/control", {"line": "mark too early"})
    check("no session, nothing to mark", status == 400)
    run_script = "practice:?rate=50&pace=10&run=oil 90;coolant 80;start;wait 2;sweep 2500 6500 400;wait 600"
    s = socket.create_connection(("127.0.0.1", server.port), timeout=60)
    s.sendall(f"GET /api/v1/events HTTP/1.1\r\nHost: {server.host}\r\nCookie: {server.cookie}\r\n\r\n".encode())
    for key, text in (("limit", "7000"), ("limit", "7000 Nm"), ("limit", "90000 rpm"), ("limit", "nan rpm"), ("rate", "0 rpm/s"), ("rate", "inf rpm/s"), ("rate", [1])):
        status, answer = server.json("POST", "live/start", {"source": run_script, key: text})
        check(f"{key} {text!r} is refused, and named", status == 400 and key in answer["error"], answer)
    status, _ = server.json("POST", "live/start", {"source": run_script, "changed": "nothing", "limit": "7000 rpm", "rate": "400 rpm/s"})
    check("a live session begins", status == 200)
    status, answer = server.json("POST", "live/start", {"source": run_script})
    check("and no second one beside it", status == 400 and "under way" in answer["error"])
    for line in ("rm -rf", "mark two\nstop", "stop"):
        status, _ = server.json("POST", "live/control", {"line": line})
        check(f"{line!r} is no line of control", status == 400)
    status, _ = server.json("POST", "live/control", {"line": "mark smoke at the tailpipe"})
    check("a mark is taken", status == 200)
    got = b""
    while b'"event":"pull"' not in got:
        data = s.recv(65536)
        if not data:
            break
        got += data
    frames = [json.loads(line[6:]) for line in got.decode().split("\n") if line.startswith('data: {"running"')]
    speeds = [f["values"]["speed"] for f in frames if "speed" in f["values"]]
    check("figures come and move", len(speeds) > 20 and max(speeds) > 6000, len(speeds))
    check("the mark is told", "smoke at the tailpipe" in got.decode())
    s.close()
    armed = [n["news"] for n in server.json("GET", "live")[1]["news"] if n["news"]["event"] == "arming" and "asleep" in n["news"]]
    check("with limit and rate given the overspeed and runaway alarms are awake", armed and not {"runaway", "overspeed"} & {a.get("arguments", {}).get("name", {}).get("text") for a in armed[-1]["asleep"]}, armed)
    check("a pull by hand begins", server.json("POST", "live/control", {"line": "begin"})[0] == 200)
    for _ in range(400):
        if len([n for n in server.json("GET", "live")[1]["news"] if n["news"]["event"] == "arming"]) > len(armed):
            break
        time.sleep(0.02)
    for line in ("send throttle 100", "disarm", "arm", "clear all", "clear overspeed", "begin"):
        status, answer = server.json("POST", "live/control", {"line": line})
        check(f"{line!r} is refused in a pull", status == 400 and "a pull is under way" in answer["error"], (status, answer))
    for line in ("mark a knock", "shut down", "end"):
        check(f"{line!r} is taken in a pull", server.json("POST", "live/control", {"line": line})[0] == 200)
    status, _ = server.json("POST", "live/stop", {})
    check("it can be stopped", status == 200)
    for _ in range(200):
        state = server.json("GET", "live")[1]
        if not state["running"]:
            break
        time.sleep(0.05)
    check("and says so when all is stored", not state["running"] and state["news"][-1]["news"]["event"] == "end"
          and state["news"][-1]["news"]["all_stored"], state["news"][-1])
    _, after = server.json("GET", "pulls")
    check("the pull is in the book", len(after["pulls"]) == len(before["pulls"]) + 1)


def refusals(server):
    get = lambda target, extra="": server.raw(
        f"GET {target} HTTP/1.1\r\nHost: {server.host}\r\nCookie: {server.cookie}\r\n{extra}Connection: close\r\n\r\n".encode("latin-1"))
    for target in ("/../../etc/passwd", "/..%2f..%2fetc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "/app.js%00.html",
                   "//etc/passwd", "/api/v1/../book", "/api/v1/book%00", "/api/v1/%ff", "/a\\b", "/api/v1/book?x=%zz",
                   "http://elsewhere.example/api/v1/book", "/api/v1/pulls/99999999999999999999/explain",
                   "/api/v1/pulls/-1/explain", "/" + "a" * 3000):
        line = get(target)
        check(f"{target[:40]} is refused", " 40" in line or " 41" in line, line)
    server.alive("path tricks")
    for says, head in {
            "no Host (RFC 9112 3.2)": "GET / HTTP/1.1\r\n\r\n",
            "two Hosts (RFC 9112 3.2)": f"GET / HTTP/1.1\r\nHost: {server.host}\r\nHost: {server.host}\r\n\r\n",
            "a forged Host": f"GET /api/v1/book HTTP/1.1\r\nHost: rebound.example:{server.port}\r\nCookie: {server.cookie}\r\n\r\n",
            "another port in Host": f"GET /api/v1/book HTTP/1.1\r\nHost: 127.0.0.1:1\r\nCookie: {server.cookie}\r\n\r\n",
            "a negative length": f"POST /api/v1/compare HTTP/1.1\r\nHost: {server.host}\r\nCookie: {server.cookie}\r\nContent-Length: -5\r\n\r\n",
            "a length of 20 digits": f"POST /api/v1/compare HTTP/1.1\r\nHost: {server.host}\r\nCookie: {server.cookie}\r\nContent-Length: 99999999999999999999\r\n\r\n",
            "100 MB of JSON": f"POST /api/v1/compare HTTP/1.1\r\nHost: {server.host}\r\nCookie: {server.cookie}\r\nContent-Length: 100000000\r\n\r\n",
            "100 MB of recording": f"POST /api/v1/recordings?name=a.csv HTTP/1.1\r\nHost: {server.host}\r\nCookie: {server.cookie}\r\nContent-Length: 100000000\r\n\r\n",
            "a verb of another kind": f"DELETE /api/v1/pulls HTTP/1.1\r\nHost: {server.host}\r\nCookie: {server.cookie}\r\n\r\n",
            "a header of 1 MB": f"GET / HTTP/1.1\r\nHost: {server.host}\r\nX: " + "a" * 1000000 + "\r\n\r\n"}.items():
        line = server.raw(head.encode())
        check(f"{says} is refused", " 4" in line or "closed" in line or line == "", line)
    server.alive("bad heads")
    flood = f"POST /api/v1/compare HTTP/1.1\r\nHost: {server.host}\r\nCookie: {server.cookie}\r\nTransfer-Encoding: chunked\r\n\r\n".encode()
    line = server.raw(flood + (b"10000\r\n" + b"a" * 65536 + b"\r\n") * 40)
    check("a chunked body past the limit is cut off", "200" not in line, line)
    server.alive("an endless body")
    for origin in ("http://elsewhere.example", "null", f"https://{server.host}", f"http://localhost:{server.port}"):
        status, _, _ = server.ask("POST", "/api/v1/settings", '{"shop":"forged"}',
                                  {"Content-Type": "application/json", "Origin": origin})
        check(f"Origin {origin} may not change anything", status == 403, status)
    status, _, _ = server.ask("POST", "/api/v1/settings", '{"shop":"x"}', {"Content-Type": "application/json", "Sec-Fetch-Site": "cross-site"})
    check("a browser's cross-site request is refused", status == 403)
    status, _, _ = server.ask("POST", "/api/v1/settings", '{"shop":"form"}', {"Content-Type": "text/plain"})
    check("a form's content type is refused", status == 400)
    _, book = server.json("GET", "book")
    check("nothing was changed by them", book["settings"]["shop"] == "Mill Lane")
    status, _, _ = server.ask("POST", "/api/v1/settings", '{"shop":"Mill Lane"}',
                              {"Content-Type": "application/json", "Origin": f"http://{server.host}"})
    check("the page itself may", status == 200)
    server.alive("forged origins")


def malformed(server):
    bodies = [b"", b"{", b"[]", b"null", b'{"a":1,"a":2}', b'{"a":NaN}', b'{"a":1e999}', b'{"a":012}', b"{'a':1}",
              b'{"a":"\\u0000"}', b'{"a":"\xff"}', b'{"a":[1],"b":"x"}', b'{"a":[1.5],"b":[2]}', b'{"a":[[1]],"b":[2]}',
              b'{"a":["1,2"],"b":[2]}', b'{"a":[99999],"b":[1]}', b'{"a":[-1],"b":[1]}', b'{"a":[],"b":[1]}',
              b"[" * 100000, b'{"a":' * 100000, b'{"a":[' + b"1," * 200000 + b'1],"b":[1]}', b"\x00" * 1000,
              b'{"a":[1],"b":[2],"margin":"9 lightyears"}', b'{"a":[1],"b":[2],"margin":-1}']
    for body in bodies:
        status, data, _ = server.ask("POST", "/api/v1/compare", body, {"Content-Type": "application/json"})
        check(f"{body[:24]!r} is refused with a reason", status == 400 and json.loads(data)["error"], (status, data[:100]))
    for name in ("", "a/b.csv", "../x", "a" * 300):
        status, _, _ = server.ask("POST", "/api/v1/recordings?name=" + name, b"a,b\n1,2\n", {"Content-Type": "application/octet-stream"})
        check(f"a recording named {name[:10]!r} is refused", status == 400)
    for data in (b"", b"\x00" * 5000, b"<svg onload=alert(1)>", os.urandom(20000)):
        status, text, _ = server.ask("POST", "/api/v1/recordings?name=odd.csv", data, {"Content-Type": "application/octet-stream"})
        check(f"{data[:12]!r} as a recording ends in words", status in (200, 400) and json.loads(text), status)
    server.alive("malformed bodies")


def headers(server):
    status, data, head = server.ask("GET", "/")
    policy = head["Content-Security-Policy"]
    check("the page allows no foreign script", "default-src 'none'" in policy and "unsafe" not in policy, policy)
    style = re.search(rb"<style>(.*?)</style>", data, re.S).group(1)
    allowed = base64.b64encode(hashlib.sha256(style).digest()).decode()
    check("nor style but its own file and the one that stands in it (CSP level 3, hash sources)", f"style-src 'self' 'sha256-{allowed}';" in policy, policy)
    check("of what is asked for besides, none", "sha256" not in server.ask("GET", "/app.js")[2]["Content-Security-Policy"])
    check("the page cannot be framed", "frame-ancestors 'none'" in policy and head["X-Frame-Options"] == "DENY")
    check("types are not guessed", head["X-Content-Type-Options"] == "nosniff")
    check("the page names no other host", b"http://" not in data and b"https://" not in data)
    status, _, again = server.ask("GET", "/app.js", headers={"If-None-Match": server.ask("GET", "/app.js")[2]["ETag"]})
    check("an unchanged file is not sent again (RFC 9110 13.1.2)", status == 304)
    weight = sum(len(server.ask("GET", p, headers={"Accept-Encoding": "gzip"})[1]) for p in ("/", "/early.js", "/app.js", "/shared.js", "/app.css", "/icon.svg"))
    check("the first screen weighs under 100 kB compressed", weight < 100000, weight)


def slow_and_many(book):
    server = Server(book, deadline_ms=1500)
    slow = []
    for _ in range(20):
        s = socket.create_connection(("127.0.0.1", server.port), timeout=20)
        s.sendall(b"GET / HTTP/1.1\r\nHost: ")
        slow.append(s)

    def trickle():
        for _ in range(200):
            for s in slow:
                try:
                    s.send(b"a")
                except OSError:
                    pass
            time.sleep(0.05)

    thread = threading.Thread(target=trickle, daemon=True)
    thread.start()
    server.alive("the slow ones began")
    gone = 0
    for s in slow:
        try:
            while s.recv(1000):
                pass
            gone += 1
        except ConnectionError:
            gone += 1
        except OSError:
            pass
    check("those who trickle are cut off, however slowly they send", gone == len(slow), gone)
    idle = []
    for _ in range(400):
        try:
            idle.append(socket.create_connection(("127.0.0.1", server.port), timeout=5))
        except OSError:
            break
    for s in idle:
        s.close()
    for _ in range(100):
        try:
            if server.ask("GET", "/api/v1/book")[0] == 200:
                break
        except OSError:
            time.sleep(0.1)
    server.alive("400 idle connections")
    deaf = []
    for _ in range(5):
        s = socket.socket()
        s.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
        s.connect(("127.0.0.1", server.port))
        s.sendall(f"GET /api/v1/events HTTP/1.1\r\nHost: {server.host}\r\nCookie: {server.cookie}\r\n\r\n".encode())
        deaf.append(s)
    for _ in range(30):
        server.json("POST", "settings", {"shop": "told to the deaf"})
    server.alive("viewers that never read")
    for s in deaf:
        s.close()
    check("it still ends in order", server.stop() == 0)


def own_address():
    """An address of this machine that is not the loopback; None without a network."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as s:
        try:
            s.connect(("192.0.2.1", 9))
            address = s.getsockname()[0]
        except OSError:
            return None
    return None if address.startswith("127.") else address


def network(book):
    """Devices of the network: nothing without a code, then what the code allowed, until revoked."""
    address = own_address()
    if not address:
        print("skipped: this machine has no network address")
        return
    closed = Server(book)
    try:
        socket.create_connection((address, closed.port), timeout=5).close()
        check("without --lan the network gets no answer", False)
    except OSError:
        check("without --lan the network gets no answer", True)
    closed.stop()
    server = Server(book, options=["--lan"])
    check("the address for other devices is told", f"http://{address}:{server.port}/" in server.said["network"], server.said)

    def far(method, path, value=None, token=None, origin=None):
        connection = http.client.HTTPConnection(address, server.port, timeout=30)
        headers = {"Content-Type": "application/json"}
        if token:
            headers["Cookie"] = "ew_device=" + token
        if origin:
            headers["Origin"] = origin
        connection.request(method, path, body=None if value is None else json.dumps(value), headers=headers)
        response = connection.getresponse()
        text, cookie = response.read(), response.getheader("Set-Cookie")
        connection.close()
        return response.status, text, cookie

    check("the page itself is shown to ask for the code", far("GET", "/")[0] == 200)
    for path in ("/api/v1/book", "/api/v1/pulls", "/api/v1/events", "/api/v1/report", "/api/v1/devices"):
        check(f"{path} needs pairing", far("GET", path)[0] == 401)
    check("a made-up token opens nothing", far("GET", "/api/v1/book", token="0" * 64)[0] == 401)
    check("a code cannot be asked for from afar", far("POST", "/api/v1/devices/code", {"rights": "write"})[0] == 401)
    for guess in range(5):
        check("a guess is refused", far("POST", "/api/v1/pair", {"code": f"{guess:08d}"})[0] == 400)
    check("after five guesses the true code is dead too", far("POST", "/api/v1/pair", {"code": server.said["code"]})[0] == 400)
    tokens = {}
    for rights in ("view", "write"):
        _, made = server.json("POST", "devices/code", {"rights": rights})
        check("the picture of the code is a square", len(made["symbol"]) == len(made["symbol"][0]) >= 21)
        status, _, cookie = far("POST", "/api/v1/pair", {"code": made["code"], "name": rights + " tablet"})
        check("a code pairs a device", status == 200 and "HttpOnly" in cookie and "SameSite=Strict" in cookie, cookie)
        tokens[rights] = cookie.split(";")[0].split("=")[1]
        check("and works once", far("POST", "/api/v1/pair", {"code": made["code"]})[0] == 400)
    check("who may look, looks", far("GET", "/api/v1/pulls", token=tokens["view"])[0] == 200)
    check("and does not write", far("POST", "/api/v1/settings", {"shop": "x"}, tokens["view"])[0] == 403)
    backup = server.json("POST", "backups", {})[1]["backup"]
    for verb in ("GET", "HEAD"):
        check(f"and gets no copy of the whole book by {verb}", far(verb, "/api/v1/backups/file?name=" + backup, token=tokens["view"])[0] == 403)
    check("nor runs an invented day", far("POST", "/api/v1/demo", {}, tokens["view"])[0] == 403)
    check("who may write, has the copy", far("GET", "/api/v1/backups/file?name=" + backup, token=tokens["write"])[0] == 200)
    check("who may write, writes", far("POST", "/api/v1/settings", {"shop": "Weir Lane"}, tokens["write"])[0] == 200)
    check("a page of another origin does not, token or not",
          far("POST", "/api/v1/settings", {"shop": "x"}, tokens["write"], "http://elsewhere.example")[0] == 403)
    check("devices are managed here only", far("GET", "/api/v1/devices", token=tokens["write"])[0] == 400)
    _, listed = server.json("GET", "devices")
    mine = [d["id"] for d in listed["devices"] if d["rights"] == "write"][0]
    check("no secret is listed", tokens["write"] not in json.dumps(listed) and "hash" not in json.dumps(listed))
    stream = socket.create_connection((address, server.port), timeout=20)
    stream.sendall(f"GET /api/v1/events HTTP/1.1\r\nHost: {address}:{server.port}\r\nCookie: ew_device={tokens['write']}\r\n\r\n".encode())
    check("a paired device hears events", b"hello" in stream.recv(4096) + stream.recv(4096))
    status, _ = server.json("POST", f"devices/{mine}/revoke", {})
    check("it can be revoked", status == 200 and far("GET", "/api/v1/pulls", token=tokens["write"])[0] == 401)
    try:
        while stream.recv(4096):
            pass
    except ConnectionError:
        pass
    check("and its stream ends", True)
    server.stop()
    again = Server(book, options=["--lan"])
    connection = http.client.HTTPConnection(address, again.port, timeout=30)
    connection.request("GET", "/api/v1/pulls", headers={"Cookie": "ew_device=" + tokens["view"]})
    check("pairing outlives a restart", connection.getresponse().status == 200)
    connection.close()
    check("the network's server ends in order", again.stop() == 0)


def client_hello(port, version):
    """A ClientHello of that version and no later (RFC 5246 7.4.1.2, RFC 8422 for the curve), and what comes back."""
    extensions = bytes.fromhex("000a00040002001700" "0b00020100".replace(" ", "")) + bytes.fromhex("000d000a00080403040102030201")
    hello = version.to_bytes(2, "big") + os.urandom(32) + b"\0" + bytes.fromhex("0008" "c02bc02fc009c013" "0100") + len(extensions).to_bytes(2, "big") + extensions
    message = b"\x01" + len(hello).to_bytes(3, "big") + hello
    with socket.create_connection(("127.0.0.1", port), timeout=20) as s:
        s.sendall(b"\x16\x03\x01" + len(message).to_bytes(2, "big") + message)
        try:
            return s.recv(4096)
        except OSError:
            return b""


def encrypted(folder, book):
    """With a certificate the page is served by TLS, and nothing else is."""
    certificate, key = os.path.join(folder, "c.pem"), os.path.join(folder, "k.pem")
    try:
        subprocess.run(["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes",
                        "-days", "2", "-subj", "/CN=127.0.0.1", "-addext", "subjectAltName=IP:127.0.0.1",
                        "-keyout", key, "-out", certificate], check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError):
        print("skipped: openssl makes no certificate here")
        return
    server = Server(book, options=["--certificate", certificate, "--key", key])
    context = ssl.create_default_context(cafile=certificate)
    server.known = let_in(server.said, context)
    connection = http.client.HTTPSConnection("127.0.0.1", server.port, timeout=30, context=context)
    connection.request("POST", "/api/v1/settings", '{"shop":"by TLS"}',
                       {"Content-Type": "application/json", "Origin": f"https://{server.host}", "Cookie": server.cookie})
    check("the page works by TLS", connection.getresponse().status == 200)
    connection.close()
    check("and the address says so", server.said["address"] == f"https://{server.host}/")
    line = server.raw(f"GET /api/v1/book HTTP/1.1\r\nHost: {server.host}\r\n\r\n".encode())
    for version, answer in ((0x0302, "no"), (0x0301, "no"), (0x0303, "a")):
        got = client_hello(server.port, version)
        # RFC 5246: 21 is an alert, 22 a handshake message, 2 ServerHello.
        agreed = len(got) > 5 and got[0] == 22 and got[5] == 2
        check(f"TLS {version - 0x0301}: {answer} ServerHello comes", agreed == (version == 0x0303), got[:16].hex())
    check("plain text is not answered", "200" not in line, line)
    check("the encrypted server ends in order", server.stop() == 0)
    check("a key without its certificate is refused", run("serve", "--book", book, "--port", "0", "--key", key).returncode == 2)


def main():
    with tempfile.TemporaryDirectory(prefix="enginewright-page-") as folder:
        made = json.loads(run("demo", "--folder", os.path.join(folder, "day"), "--json").stdout)
        first_minute(folder, made["recordings"])
        server = Server(made["book"])
        check("the address is printed as JSON", server.said["address"] == f"http://127.0.0.1:{server.port}/")
        headers(server)
        sound = whole_day(server)
        changes(server, sound)
        engines(server)
        events(server, sound)
        build(server)
        live(server)
        refusals(server)
        malformed(server)
        check("it ends in order", server.stop() == 0)
        verified = run("book", "verify", "--book", made["book"], "--json")
        check("the book is whole after all that", json.loads(verified.stdout)["whole"], verified.stdout[:300])
        slow_and_many(made["book"])
        network(made["book"])
        encrypted(folder, made["book"])
    print(f"[  PASSED  ] {passed} test(s).")
    if failed:
        print(f"[  FAILED  ] {failed} test(s).")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
