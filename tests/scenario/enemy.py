#!/usr/bin/env python3
"""Hostile neighbours of `enginewright serve --lan`: every address of the interface with no pairing, with the right to look only,
and with rubbish; one device that asks for everything at once; event streams and connections by the hundred; names
of files and hosts that are traps; the power cut while the page writes; a full disk; a second writer.

Outside sources: RFC 9110 (status), RFC 8259 (JSON), SQLite's integrity check by `book verify`, setrlimit(2). The network is
one of our own when the kernel allows it (user and network namespace, unshare(1)), so that one machine has several neighbours.
"""
import hashlib
import http.client
import json
import os
import random
import re
import resource
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time

import page_api
from page_api import PROGRAM, Server, check, own_address, run

NEIGHBOURS = ["10.9.0.%d" % i for i in range(1, 6)]
HERE = os.path.dirname(os.path.abspath(__file__))


def routes():
    """Verb, path and 'changes something' of everything that can be asked, from the program's own table."""
    with open(os.path.join(HERE, "../../src/serve/service.h"), encoding="utf-8") as file:
        found = re.findall(r'X\((\w+), "([^"]+)", \w+, (TRUE|FALSE), \w+\)', file.read())
    return [(verb, path.replace("{id}", "1"), changes == "TRUE") for verb, path, changes in found]


class Device:
    """A neighbour at an address of its own, with a token or none."""

    def __init__(self, server, address, source=None):
        self.server, self.address, self.source, self.token = server, address, source, None

    def pair(self, rights):
        code = self.server.json("POST", "devices/code", {"rights": rights})[1]["code"]
        status, _, headers = self.ask("POST", "/api/v1/pair", json.dumps({"code": code, "name": rights}))
        check(f"a device is paired to {rights}", status == 200)
        self.token = headers["Set-Cookie"].split(";")[0].split("=")[1]
        return self

    def open(self):
        return http.client.HTTPConnection(self.address, self.server.port, timeout=60,
                                          source_address=(self.source, 0) if self.source else None)

    def headers(self, kind="application/json", more=None):
        return {"Content-Type": kind, **({"Cookie": "ew_device=" + self.token} if self.token else {}), **(more or {})}

    def ask(self, verb, path, body=None, kind="application/json", more=None):
        connection = self.open()
        try:
            connection.request(verb, path, body=body, headers=self.headers(kind, more))
            response = connection.getresponse()
            return response.status, response.read(), dict(response.getheaders())
        finally:
            connection.close()


def rights(server, address):
    """What each kind of device may ask, of every address there is."""
    nobody, viewer = Device(server, address), Device(server, address).pair("view")
    asked = routes()
    check("the table of addresses is read", len(asked) > 50, len(asked))
    for verb, path, changes in asked:
        if path in ("/api/v1/pair", "/api/v1/open"):
            continue
        body = None if verb == "GET" else "{}"
        check(f"{verb} {path} needs pairing", nobody.ask(verb, path, body)[0] == 401)
        if changes:
            check(f"{verb} {path} is not for those who look", viewer.ask(verb, path, body)[0] == 403)
    may = {path for verb, path, changes in asked if verb != "GET" and not changes}
    check("who looks may ask what stores nothing", may == {f"/api/v1/{p}" for p in (
        "method/try", "engine-check", "predict", "predict/sliders", "predict/fit", "predict/vary", "predict/search", "predict/inside", "predict/compression", "predict/1/cancel")}, may)
    for host in ("evil.example", f"evil.example:{server.port}", f"127.0.0.1.evil.example:{server.port}", f"localhost.:{server.port}", ""):
        check(f"Host '{host}' is none of ours", viewer.ask("GET", "/api/v1/book", more={"Host": host})[0] in (400, 421))
    for origin in ("null", "http://evil.example", f"https://{address}:{server.port}", f"http://{address}"):
        check(f"a page of '{origin}' asks nothing", viewer.ask("POST", "/api/v1/method/try", "{}", more={"Origin": origin})[0] == 403)
    check("nor one of the same site", viewer.ask("POST", "/api/v1/method/try", "{}", more={"Sec-Fetch-Site": "same-site"})[0] == 403)
    return viewer


def nobodys(server):
    """Whoever comes from 127.0.0.1 without the secret of this machine: another account, a proxy, a page of another site."""
    stranger = Device(server, "127.0.0.1")
    for verb, path, _ in routes():
        if path in ("/api/v1/pair", "/api/v1/open"):
            continue
        check(f"{verb} {path} wants the secret of this machine", stranger.ask(verb, path, None if verb == "GET" else "{}")[0] == 401)
    check("nor are events told", stranger.ask("GET", "/api/v1/events")[0] == 401)
    check("a made-up secret opens nothing", stranger.ask("GET", "/api/v1/book", more={"Cookie": "ew_here=" + "0" * 64})[0] == 401)
    check("the page's own files are shown", stranger.ask("GET", "/")[0] == 200)
    status, text, headers = stranger.ask("POST", "/api/v1/open", json.dumps({"key": "0" * 32}))
    check("a made-up key opens nothing", status == 400 and b"printed" in text and "Set-Cookie" not in headers, text)
    key = json.dumps({"key": server.said["link"].split("key=")[1]})
    cookie = stranger.ask("POST", "/api/v1/open", key)[2]["Set-Cookie"]
    check("the link's key gives a cookie that no script reads and no other site sends", "HttpOnly" in cookie and "SameSite=Strict" in cookie, cookie)
    kept = os.path.join(page_api.MACHINE, "enginewright", "here.key")
    check("its secret is in a file of this account only", os.stat(kept).st_mode & 0o777 == 0o600)
    mine = {"Cookie": cookie.split(";")[0]}
    check("with it this machine's person is known", stranger.ask("GET", "/api/v1/book", more=mine)[0] == 200)
    for name, value in (("Forwarded", "for=192.0.2.7"), ("Via", "1.1 proxy"), ("X-Forwarded-For", "192.0.2.7"), ("x-forwarded-host", "shop.example"),
                        ("X-Forwarded-Proto", "https"), ("X-Real-IP", "192.0.2.7"), ("X-Client-IP", "192.0.2.7")):
        check(f"a proxy that says {name} is not this machine's person", stranger.ask("GET", "/api/v1/book", more={**mine, name: value})[0] == 401)
        status, text, _ = stranger.ask("POST", "/api/v1/devices/code", '{"rights": "write"}', more={**mine, name: value})
        check("and gets no code to write", status == 401 and b"code" not in json.loads(text), text)
    for host in (f"192.0.2.7:{server.port}", f"{socket.gethostname()}:{server.port}"):
        check(f"nor is who asks for {host}", stranger.ask("GET", "/api/v1/book", more={**mine, "Host": host})[0] in (401, 421))
    return mine


def other_sites(server, mine):
    """What another site's page makes a browser ask, its cookie and all (Fetch Metadata, W3C)."""
    browser = Device(server, "127.0.0.1")
    for site in ("cross-site", "same-site", "rubbish"):
        for path in ("/api/v1/book", "/api/v1/events", "/api/v1/report", "/api/v1/sheet?kind=day&format=pdf", "/app.js"):
            for mode in ("no-cors", "cors"):
                check(f"{site} {mode} {path} is refused", browser.ask("GET", path, more={**mine, "Sec-Fetch-Site": site, "Sec-Fetch-Mode": mode})[0] == 403)
        check(f"a {site} link leads to no answer of the interface", browser.ask("GET", "/api/v1/book", more={**mine, "Sec-Fetch-Site": site, "Sec-Fetch-Mode": "navigate"})[0] == 403)
        check(f"a {site} link leads to the page", browser.ask("GET", "/", more={**mine, "Sec-Fetch-Site": site, "Sec-Fetch-Mode": "navigate"})[0] == 200)
    check("the page itself asks", browser.ask("GET", "/api/v1/book", more={**mine, "Sec-Fetch-Site": "same-origin"})[0] == 200)


def guessers(server, address):
    """Wrong guesses shut out the neighbour that made them, and stop nobody else's pairing."""
    guesser, honest = Device(server, address, NEIGHBOURS[2]), Device(server, address, NEIGHBOURS[3])
    code = server.json("POST", "devices/code", {"rights": "write"})[1]["code"]
    for guess in range(8):
        check("a guess is refused", guesser.ask("POST", "/api/v1/pair", json.dumps({"code": f"{guess:08d}"}))[0] == 400)
    check("after five even the true code is, from there", guesser.ask("POST", "/api/v1/pair", json.dumps({"code": code}))[0] == 400)
    status, text, _ = honest.ask("POST", "/api/v1/pair", json.dumps({"code": code, "name": "honest"}))
    check("and another device is paired", status == 200, text)


def local_crowd(server, mine):
    """Connections and streams of this machine by the hundred: the page still gets in, and one that listens stays while others prove nothing."""
    page = socket.create_connection(("127.0.0.1", server.port), timeout=10)
    page.sendall(f"GET /api/v1/events HTTP/1.1\r\nHost: {server.host}\r\nCookie: {mine['Cookie']}\r\n\r\n".encode())
    check("the page listens", b"200" in page.recv(64))
    crowd = []
    for i in range(300):
        s = socket.socket()
        s.settimeout(5)
        try:
            if i % 2:
                s.bind((f"127.0.0.{2 + i % 100}", 0))
            s.connect(("127.0.0.1", server.port))
            s.sendall(b"GET / HTTP/1.1\r\nHost: ")
            crowd.append(s)
        except OSError:
            s.close()
    server.alive("300 connections of this machine that hold on")
    page.setblocking(False)
    try:
        while page.recv(65536):
            pass
        still = False
    except BlockingIOError:
        still = True
    except OSError:
        still = False
    check("and who listened before them still does", still)
    page.close()
    for _ in range(100):
        s = socket.create_connection(("127.0.0.1", server.port), timeout=10)
        s.sendall(f"GET /api/v1/events HTTP/1.1\r\nHost: {server.host}\r\nCookie: {mine['Cookie']}\r\n\r\n".encode())
        crowd.append(s)
    server.alive("100 streams of this machine")
    for s in crowd:
        s.close()


RUBBISH = ["", "{", "[]", "null", "7", '"x"', "{}", '{"a":1,"a":2}', '{"a":NaN}', "\ufeff{}", "{" + '"a":{' * 40 + "}" * 41, "[" * 100000,
           '{"x":"' + "y" * 200000 + '"}', '{"typed":[]}', '{"typed":{"a":{"b":[[[1]]]}},"page":"p"}', '{"a":[1e308],"b":[-1],"typed":{}}',
           '{"a":["1,2,3"],"b":[{}]}', '{"a":[],"b":[]}', '{"a":1,"b":2,"pulls":3,"page":4}', '{"a":' + json.dumps(list(range(1, 5000))) + "}",
           '{"sources":[{}]}', '{"sources":[[]]}', '{"source":{}}', '{"line":"mark \\u0000"}', '{"line":["mark x"]}', '{"code":{}}', '{"code":"","name":[1]}',
           '{"rights":["write"]}', '{"kind":"zero","read":"1e999 N·m"}', '{"kind":"zero","read":"nan N·m"}', '{"kind":"lash","record":[]}',
           '{"kind":"lash","record":{"valve":{"a":1}}}', '{"reason":{}}', '{"reason":"' + "r" * 5000 + '"}', '{"at":"99999-99-99T99:99:99Z","text":"x"}',
           '{"at":"2026-11-25T14:05:09.120Z","text":""}', '{"at":{},"text":{}}', '{"setting":"spark","pulls":[1,1,1,1],"margin":"-1e300 %"}',
           '{"a":[1],"b":[1],"margin":1e308}', '{"engine":1e300}', '{"engine":-1,"tune":{}}', '{"page":"p","typed":{},"turns":[[]],"changes":{}}',
           '{"page":"p","typed":{},"variants":"compression=+0.5","pulls":"1"}', '{"version":[],"typed":{"half_width":"nan rpm"}}', '{"shop":{"a":"b"}}',
           '{"units":"furlongs","paper":"papyrus"}']


def rubbish(server):
    """Bodies of every wrong shape to everything that takes one: refused in one sentence, never an error of the program."""
    for verb, path, _ in routes():
        if verb == "GET":
            for query in ("?pulls=1&pulls=2", "?pulls=" + "9," * 900, "?speed_rpm=nan", "?speed_rpm=1e308", "?engine=-1", "?engine=x", "?of=pull:-1", "?of=engine:%F0%9F%94%A7",
                          "?day=%3C%2F%3Eabcdef", "?kind=../../x&format=html", "?units=x&paper=x", "?channels=" + "torque," * 200, "?find=%25_%25", "?photos=1,2,999"):
                status, _, _ = server.ask("GET", path + query)
                check(f"GET {path}{query[:30]} is answered or refused", status in (200, 400, 404, 409), status)
            continue
        for body in RUBBISH:
            status, text, _ = server.ask(verb, path, body.encode(), {"Content-Type": "application/json"})
            sound = status == 200 or (status in (400, 409, 413) and 3 < len(json.loads(text)["error"]) < 700)
            check(f"{verb} {path} with {body[:50]} is answered or refused in a sentence", sound, (status, text[:300]))
    for name in ("../../../etc/passwd", "a\"; filename=evil.html", "<script>.html", "\u202egnp.exe", "x" * 400, "CON", ".htaccess"):
        path = "/api/v1/attachments?" + page_api_query(name=name, to="engine")
        status, text, _ = server.ask("POST", path, b"<script>1</script>" + name.encode(), {"Content-Type": "application/octet-stream"})
        check(f"a file called {name[:20]} is kept or refused", status in (200, 400), (status, text))
        if status == 200:
            _, _, headers = server.ask("GET", f"/api/v1/attachments/{json.loads(text)['id']}")
            check("and handed out inert", headers["Content-Type"] == "application/octet-stream" and "sandbox" in headers["Content-Security-Policy"]
                  and re.fullmatch(r'attachment; filename="[\w.-]+"', headers["Content-Disposition"], re.ASCII), headers)
    for path in ("/api/v1/attachments/1/../../book", "/api/v1//book", "/api/v1/attachments/%2e%2e", "/api/v1/predict/99999999999999999999", "/api/v1/engines/0x1",
                 "/api/v1/engines/-1", "/api/v1/pulls/1;2/origins", "/api/v1/attachments/1%00", "/..%2f..%2fetc/passwd"):
        check(f"{path} leads nowhere", server.ask("GET", path)[0] in (400, 404))
    server.json("POST", "live/stop", {})
    server.alive("rubbish")


def page_api_query(**facts):
    return "&".join(f"{key}={''.join('%%%02X' % b for b in value.encode())}" for key, value in facts.items())


def takes_turns(server, viewer):
    """One device asks fifty long things at once; this machine's next question waits for one of them, not for fifty."""
    ids = [p["id"] for p in server.json("GET", "pulls")[1]["pulls"] if p["purpose"] == "pull" and not p["discarded"]][:12]
    typed = server.json("GET", "method")[1]["typed"]
    body = json.dumps({"a": ids, "typed": typed})
    waiting = []
    for _ in range(50):
        connection = viewer.open()
        connection.request("POST", "/api/v1/method/try", body=body, headers=viewer.headers())
        waiting.append(connection)
    first = waiting[0].getresponse()
    check("a long question is answered", first.status == 200, first.read()[:200] if first.status != 200 else "")
    status, _ = server.json("GET", "book")
    done = 0
    for connection in waiting[1:]:
        connection.sock.setblocking(False)
        try:
            done += bool(connection.sock.recv(1, socket.MSG_PEEK))
        except BlockingIOError:
            pass
        connection.sock.close()
    check("others take their turn before the fifty are through", status == 200 and done < 40, done)


def open_streams(server, viewer, count):
    """Streams of events that were begun to be answered."""
    streams = []
    for _ in range(count):
        s = socket.socket()
        s.settimeout(5)
        try:
            if viewer.source:
                s.bind((viewer.source, 0))
            s.connect((viewer.address, server.port))
            s.sendall(f"GET /api/v1/events HTTP/1.1\r\nHost: {viewer.address}:{server.port}\r\nCookie: ew_device={viewer.token}\r\n\r\n".encode())
            if s.recv(12) == b"HTTP/1.1 200":
                streams.append(s)
                continue
        except OSError:
            pass
        s.close()
    return streams


def pages_come_and_go(server, viewer):
    """A page that is closed leaves its place, long before the next word that it would have been told."""
    for turn in ("first", "second"):
        streams = open_streams(server, viewer, 64)
        check(f"the {turn} 64 streams of one address are served", len(streams) == 64, len(streams))
        for s in streams:
            s.close()
        time.sleep(2)  # the server looks twice a second; its next word comes after ten


def crowds(server, viewer):
    """Streams and connections by the hundred, from several neighbours: the machine itself still gets in."""
    streams = []
    for _ in range(200):
        s = socket.socket()
        try:
            s.settimeout(5)
            s.connect((viewer.address, server.port))
            s.sendall(f"GET /api/v1/events HTTP/1.1\r\nHost: {viewer.address}:{server.port}\r\nCookie: ew_device={viewer.token}\r\n\r\n".encode())
            streams.append(s)
        except OSError:
            s.close()
    server.alive("200 streams of events of one device")
    listed = server.json("GET", "devices")[1]["devices"]
    status, _ = server.json("POST", f"devices/{[d['id'] for d in listed if d['rights'] == 'view'][0]}/revoke", {})
    for s in streams:
        try:
            while s.recv(65536):
                pass
        except OSError:
            pass
        s.close()
    check("revoked, every one of them ends", status == 200 and viewer.ask("GET", "/api/v1/book")[0] == 401)
    crowd, began = [], time.monotonic()
    for i in range(1000):
        s = socket.socket()
        s.settimeout(5)
        try:
            if viewer.source:
                s.bind((NEIGHBOURS[i % len(NEIGHBOURS)], 0))
            s.connect((viewer.address, server.port))
            s.sendall(b"GET / HTTP/1.1\r\nHost: ")
            crowd.append(s)
        except OSError:
            s.close()
    server.alive("a thousand connections of five neighbours that hold on")
    held = 0
    for s in crowd:
        s.setblocking(False)
        try:
            s.recv(1)
        except BlockingIOError:
            held += 1
        except OSError:
            pass
    wanted = 192 if viewer.source else 64  # of all other machines, of one address: docs/api-http.md
    if time.monotonic() - began < 14:  # the server lets go of who is silent for 15 s
        check(f"and that while {wanted} of them held on, no more and no less", held == wanted, held)
    else:
        print("[  SKIPPED ] 1 held connections: this machine took longer to bring the crowd up than the server waits for silence")
    for s in crowd:
        s.close()
    huge = f"GET / HTTP/1.1\r\nHost: {server.host}\r\n".encode() + b"X: " + b"y" * 200_000 + b"\r\n\r\n"
    check("a huge header is refused", "200" not in server.raw(huge))
    server.alive("a huge header")


def network(folder):
    """Run in a network of its own when that is allowed: see main()."""
    inside = "--inside" in sys.argv
    address = NEIGHBOURS[0] if inside else own_address()
    if not address:
        print("[  SKIPPED ] 1 neighbours: no network here, and none of our own may be made")
        return
    book = json.loads(run("demo", "--folder", os.path.join(folder, "day"), "--json").stdout)["book"]
    server = Server(book, deadline_ms=60000, options=["--lan"])  # headers are waited for as long as the crowd needs
    mine = nobodys(server)
    other_sites(server, mine)
    timed(local_crowd, server, mine)
    check("the link opens nothing from afar", Device(server, address).ask("POST", "/api/v1/open", json.dumps({"key": server.said["link"].split("key=")[1]}))[0] == 400)
    if inside:
        guessers(server, address)
    viewer = rights(server, address)
    viewer.source = NEIGHBOURS[1] if inside else None
    # The crowd comes first: a question whose asker has gone is answered all the same, and counts among the
    # connections of its address until then. Fifty of them would leave fourteen places to one neighbour.
    timed(pages_come_and_go, server, viewer)
    timed(crowds, server, viewer)
    timed(takes_turns, server, Device(server, address, viewer.source).pair("view"))
    check("it ends in order", server.stop() == 0)
    server = Server(book)
    timed(rubbish, server)
    check("it ends in order after rubbish", server.stop() == 0)
    whole(book, "all that")


def whole(book, after):
    answer = run("book", "verify", "--book", book, "--json")
    check(f"the book is whole after {after}", answer.returncode == 0 and json.loads(answer.stdout)["whole"], (answer.stdout[-300:], answer.stderr))


def power_cuts(folder):
    """The server is killed while notes, files, settings, methods and backups are being written: what was answered is there."""
    book, rng = os.path.join(folder, "cut", "shop.book"), random.Random(7)
    kept = {"notes": set(), "files": set()}
    for turn in range(6):
        server = Server(book)
        stop = server.process

        def write(seed, server=server, turn=turn):
            for i in range(100000):
                text = f"{turn}-{seed}-{i}"
                try:
                    if server.json("POST", "notes", {"at": f"2026-11-25T14:{i // 60 % 60:02}:{i % 60:02}.{turn}{seed}0Z", "text": text})[0] == 200:
                        kept["notes"].add(text)
                    data = text.encode() * 5000
                    if server.ask("POST", f"/api/v1/attachments?to=day:2026-11-25&name={text}.bin", data, {"Content-Type": "application/octet-stream"})[0] == 200:
                        kept["files"].add(hashlib.sha256(data).hexdigest())
                    server.json("POST", "settings", {"shop": text})
                    method = server.json("GET", "method")[1]
                    method["typed"]["half_width"] = f"{100 + i % 100} rpm"
                    server.json("PUT", "method", {"typed": method["typed"], "version": method["version"]})
                    server.json("POST", "backups", {})
                except (OSError, http.client.HTTPException, ValueError):
                    return

        threads = [threading.Thread(target=write, args=(seed,)) for seed in range(2)]
        for thread in threads:
            thread.start()
        time.sleep(0.2 + 0.3 * rng.random())
        stop.send_signal(signal.SIGKILL)
        stop.wait()
        stop.stdout.close()
        for thread in threads:
            thread.join()
        whole(book, f"power cut {turn + 1}")
    server = Server(book)
    notes = {n["text"] for n in server.json("GET", "notes?day=2026-11-25")[1]["notes"]}
    files = {a["sha256"] for a in server.json("GET", "attachments?of=day:2026-11-25")[1]["attachments"]}
    check("every note that was answered is there", kept["notes"] and kept["notes"] <= notes, len(kept["notes"] - notes))
    check("every file that was answered is there", kept["files"] and kept["files"] <= files, len(kept["files"] - files))
    server.json("POST", "backups", {})
    left = [n for n in os.listdir(book + ".backups") if ".part-" in n]
    check("halves of backups are swept up", not left, left)
    for name in sorted(os.listdir(book + ".backups"))[-3:]:
        whole(os.path.join(book + ".backups", name), "it was copied")
    server.stop()


def wait_for(server, wanted):
    for _ in range(2400):
        for n in reversed(server.json("GET", "live")[1]["news"]):
            if wanted(n["news"]):
                return n
        time.sleep(0.05)
    return None


def wait_for_storage(server, wanted):
    return wait_for(server, lambda n: n["event"] == "storage" and wanted(n))


def full_disk(folder):
    """No more room while the page writes and a session records: told with 500 in a sentence, the rest goes on."""
    book = os.path.join(folder, "full", "shop.book")
    Server(book).stop()
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    size = os.path.getsize(book) + 600_000
    server = Server(book)
    resource.prlimit(server.process.pid, resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))
    statuses = []
    for i in range(8):
        status, text, _ = server.ask("POST", f"/api/v1/attachments?to=day:2026-11-25&name={i}.bin", os.urandom(200_000), {"Content-Type": "application/octet-stream"})
        statuses.append(status)
        check("a file on a full disk is kept or told", status == 200 or (status == 500 and len(json.loads(text)["error"]) > 10), (status, text[:200]))
    check("it was full", 500 in statuses and 200 in statuses, statuses)
    status, text, _ = server.ask("POST", "/api/v1/backups", "{}", {"Content-Type": "application/json"})
    check("so is a backup", status in (200, 500), (status, text[:200]))
    server.alive("a full disk")
    status, _ = server.json("POST", "live/start", {"source": "practice:?rate=1000&pace=10&run=oil 90;coolant 80;start;wait 2;sweep 2500 6500 40;wait 6000"})
    check("a session begins while there is room for it", status == 200)
    news = wait_for_storage(server, lambda n: not n["good"])
    check("that the disk is full is told", news and "NOT STORED" in news["text"] and news["news"]["message"]["severity"] == "danger", news)
    server.alive("a session on a full disk")
    resource.prlimit(server.process.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    news = wait_for_storage(server, lambda n: n["good"])
    check("with room again, what waited is stored", news and news["news"]["message"]["id"] == "desk.stored-again" and "nothing that was waiting was lost" in news["text"], news)
    server.json("POST", "live/stop", {})
    end = wait_for(server, lambda n: n["event"] == "end")
    check("to the last row", end and end["news"]["all_stored"], end)
    check("the server ends in order", server.stop() == 0)
    whole(book, "a full disk")
    whole(book + ".practice", "a session on a full disk")
    check("no half copy stands", not [n for n in os.listdir(book + ".backups") if ".part-" in n] if os.path.isdir(book + ".backups") else True)


def second_writer(folder):
    """The command line writes into the book that the page's server serves and a session records into."""
    book = os.path.join(folder, "two", "shop.book")
    server = Server(book)
    run("book", "set", "practice", "yes", "--book", book)
    status, said = server.json("POST", "live/start", {"source": "practice:?rate=100&pace=5&run=oil 90;coolant 80;start;wait 600"})
    own = os.path.join(os.path.dirname(book), said.get("own_book") or os.path.basename(book))
    check("a session begins", status == 200, said)
    for _ in range(200):
        if os.path.exists(own) and any(n["news"]["event"] != "start" for n in server.json("GET", "live")[1]["news"]):
            break
        time.sleep(0.05)
    for i in range(12):
        for target in {own, book}:
            done = run("book", "note", f"from the bench {i}", "--book", target)
            check("the command line writes beside it", done.returncode == 0, done.stderr)
        check("and so does the page", server.json("POST", "settings", {"shop": f"shop {i}"})[0] == 200)
    server.json("POST", "live/stop", {})
    for _ in range(400):
        state = server.json("GET", "live")[1]
        if not state["running"]:
            break
        time.sleep(0.05)
    last = state["news"][-1]["news"]
    check("the session stored all", last["event"] == "end" and last["all_stored"], state["news"][-1])
    check("the server ends in order beside a second writer", server.stop() == 0)
    for target in {own, book}:
        whole(target, "two writers")


def timed(work, *arguments):
    began = time.monotonic()
    work(*arguments)
    if os.environ.get("EW_TIMES"):
        print(f"{work.__name__}: {time.monotonic() - began:.1f} s")


def main():
    if "--inside" in sys.argv:
        subprocess.run(["ip", "link", "set", "lo", "up"], check=True)
        for address in NEIGHBOURS:
            subprocess.run(["ip", "address", "add", address + "/24", "dev", "lo"], check=True)
        with tempfile.TemporaryDirectory(prefix="enginewright-enemy-") as folder:
            network(folder)
    else:
        with tempfile.TemporaryDirectory(prefix="enginewright-enemy-") as folder:
            timed(power_cuts, folder)
            timed(full_disk, folder)
            timed(second_writer, folder)
            if subprocess.run(["unshare", "-rn", "ip", "link", "set", "lo", "up"], capture_output=True, check=False).returncode == 0:
                inside = subprocess.run(["unshare", "-rn", sys.executable, os.path.abspath(__file__), PROGRAM, "--inside"], stdout=subprocess.PIPE, text=True, check=False)
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
    sys.exit(main())
