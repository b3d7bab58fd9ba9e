#!/usr/bin/env python3
"""What a paired device may and may not have this machine do; whose rights outlive what; and that whoever steers the session here
waits for nobody out there.

Outside sources: RFC 9110 (status), ISO/IEC 6429 (control characters), setrlimit(2). The network is one of our own when the kernel
allows it (unshare(1)), else an address of this machine.
"""
import hashlib
import json
import os
import re
import resource
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import time

import page_api
from enemy import Device, NEIGHBOURS, timed
from page_api import PROGRAM, Server, check, own_address, run


def ended(server):
    server.json("POST", "live/stop", {})
    for _ in range(1200):
        if not server.json("GET", "live")[1]["running"]:
            return True
        time.sleep(0.05)
    return False


def sources(server, address):
    """A far device starts what was named here, and nothing else; sending is a right of its own."""
    writer, sender, viewer = (Device(server, address).pair(rights) for rights in ("write", "send", "view"))
    start = lambda device, source: device.ask("POST", "/api/v1/live/start", json.dumps({"source": source}))
    steer = lambda device, line: device.ask("POST", "/api/v1/live/control", json.dumps({"line": line}))
    with socket.create_server(("127.0.0.1", 0)) as door:
        door.setblocking(False)
        url = f"tcp://127.0.0.1:{door.getsockname()[1]}"
        for source in (url, url + "?x", "udp://127.0.0.1:7777", "serial:/dev/ttyS0", "serial:/dev/null", "practice:?rate=10000&pace=0"):
            for device in (writer, sender):
                status, text, _ = start(device, source)
                check(f"a far device does not start {source}", status == 403 and b"not named" in text, (status, text))
        status, text, _ = writer.ask("POST", "/api/v1/live/start", json.dumps({"sources": ["practice:", url]}))
        check("nor beside one that it may", status in (400, 403), text)
        try:
            door.accept()
            check("nobody knocked at a door of this machine", False)
        except BlockingIOError:
            check("nobody knocked at a door of this machine", True)
        check("this machine's person names it by starting it", server.json("POST", "live/start", {"source": url})[0] == 200 and ended(server))
        check("then a far device starts it too", start(writer, url)[0] == 200 and ended(server))
        named = json.loads(writer.ask("GET", "/api/v1/live")[1])
        check("and is shown what there is", url in named["named"] and named["may_name"] is False and named["may_send"] is False, named)
    check("a practice session may be begun from afar", start(writer, "practice:?rate=100")[0] == 200)
    status, text, _ = steer(writer, "send throttle 100")
    check("to send is a right of its own", status == 403 and b"right" in text, (status, text))
    check("who may write may mark", steer(writer, "mark smoke")[0] == 200)
    check("who may send sends", steer(sender, "send oil 90")[0] == 200)
    check("who may look does neither", steer(viewer, "mark smoke")[0] == 403 and steer(viewer, "send oil 90")[0] == 403)
    for text in ("\x1b]0;pwned\x07", "a\rb", "a\x7f", "\x9b31m", "\u202egnp"):
        check(f"{text!r} is no mark", steer(sender, "mark " + text)[0] == 400)
        check(f"{text!r} is not sent", steer(sender, "send " + text)[0] == 400)
    check("the session ends", ended(server))
    check("nor is it what was changed", server.json("POST", "live/start", {"source": "practice:", "changed": "\x1b[2J"})[0] == 400)
    check("nor a device's name", Device(server, address).ask("POST", "/api/v1/pair", json.dumps({"code": "00000000", "name": "\x1b[2J"}))[0] == 400)


def control_goes_first(server, viewer):
    """A flood of slow questions by who may only look. What this machine's person asks is answered while next to none of them is:
    by one queue for all, each answer here would wait for at least one of theirs."""
    ids = [p["id"] for p in server.json("GET", "pulls")[1]["pulls"] if p["purpose"] == "pull" and not p["discarded"]][:6]
    body = json.dumps({"a": ids, "typed": server.json("GET", "method")[1]["typed"]})
    server.json("GET", "ledger")  # once for all: what is asked below is kept
    check("a session begins", server.json("POST", "live/start", {"source": "practice:?rate=50"})[0] == 200)
    check("and speaks", spoke(server))
    waiting = []
    for _ in range(30):
        connection = viewer.open()
        connection.request("POST", "/api/v1/method/try", body=body, headers=viewer.headers())
        waiting.append(connection)
    check("a slow one is answered", waiting.pop(0).getresponse().status == 200)
    before = answered(waiting)
    statuses = [server.json("POST", "live/control", {"line": f"mark {i}"})[0] for i in range(20)]
    statuses += [server.json("GET", "book")[0] for _ in range(20)]
    statuses += [server.json("GET", "ledger")[0] for _ in range(20)]
    statuses += [server.json("POST", "notes", {"at": f"2026-11-25T14:05:{i:02}.000Z", "text": "n"})[0] for i in range(20)]
    after = answered(waiting)
    check("all of this machine's are answered", set(statuses) == {200}, statuses)
    check("while theirs still wait", after < len(waiting) and after - before < 25, (before, after))
    server.json("POST", "live/stop", {})
    check("stop is heard", ended(server))
    for connection in waiting:
        connection.close()


def spoke(server):
    for _ in range(600):
        if any(n["news"]["event"] == "channels" for n in server.json("GET", "live")[1]["news"]):
            return True
        time.sleep(0.05)
    return False


def answered(connections):
    done = 0
    for connection in connections:
        connection.sock.setblocking(False)
        try:
            done += bool(connection.sock.recv(1, socket.MSG_PEEK))
        except BlockingIOError:
            pass
        connection.sock.setblocking(True)
    return done


def kept_answers(server):
    """An answer that was kept is the answer of now."""
    first = server.json("GET", "ledger")[1]
    check("asked again, the same", server.json("GET", "ledger")[1] == first)
    sound = [p["id"] for p in server.json("GET", "pulls")[1]["pulls"] if p["purpose"] == "pull" and not p["discarded"]][-1]
    path = f"curves?pulls={sound}&units=si"
    before = server.json("GET", path)[1]
    server.json("POST", f"pulls/{sound}/discard", {"reason": "to see"})
    after = server.json("GET", path)[1]
    check("what was changed is seen", before["curves"][0]["discarded"] is None and after["curves"][0]["discarded"] == "to see")
    server.json("POST", f"pulls/{sound}/discard", {"take_back": True})
    check("also when it is changed back", server.json("GET", path)[1] == before)
    check("members in another order ask the same, another member does not",
          server.json("GET", f"curves?units=si&pulls={sound}")[1] == before and "raw" not in server.json("GET", path + "&raw=no")[1]["curves"][0])


def planted(folder, address, made):
    """Rights that came with a book are none, and an old copy of a book revives nobody."""
    book, token = os.path.join(folder, "planted.book"), "ab" * 32
    shutil.copy(made, book)
    devices = {"devices": [{"hash": hashlib.sha256(token.encode()).hexdigest(), "name": "tablet\x1b[2J", "rights": "write", "paired_at": "2026-11-25T14:05:09.120Z"}]}
    with sqlite3.connect(book) as db:
        db.execute("INSERT INTO setting (key, value) VALUES ('devices', ?) ON CONFLICT(key) DO UPDATE SET value = excluded.value", (json.dumps(devices),))
    db.close()
    server = Server(book, options=["--lan"])
    thief = Device(server, address)
    thief.token = token
    check("a token that came in the book opens nothing", thief.ask("GET", "/api/v1/book")[0] == 401)
    check("its owner is told to pair again, in plain words", server.said["pair_again"] == ["tablet\\x1b[2J"], server.said)
    check("the page tells it too", server.json("GET", "devices")[1]["pair_again"] == ["tablet\\x1b[2J"])
    tablet = Device(server, address).pair("write")
    check("paired, it is known", tablet.ask("GET", "/api/v1/book")[0] == 200)
    server.stop()
    with sqlite3.connect(book) as db:
        check("nothing of it is in the book", tablet.token not in "".join(map(str, db.execute("SELECT value FROM setting"))) and
              hashlib.sha256(tablet.token.encode()).hexdigest() not in "".join(map(str, db.execute("SELECT value FROM setting"))))
    db.close()
    old = os.path.join(folder, "old.book")
    shutil.copy(book, old)
    kept = [n for n in os.listdir(os.path.join(page_api.MACHINE, "enginewright")) if n.startswith("devices-")]
    check("but in a file of this account", kept and all(os.stat(os.path.join(page_api.MACHINE, "enginewright", n)).st_mode & 0o777 == 0o600 for n in kept), kept)
    server = Server(book, options=["--lan"])
    again = Device(server, address)
    again.token = tablet.token
    check("told once", server.said["pair_again"] == [], server.said)
    check("pairing outlives a restart", again.ask("GET", "/api/v1/book")[0] == 200)
    check("it is revoked", revoke(server, "write")[0] == 200 and again.ask("GET", "/api/v1/book")[0] == 401)
    server.stop()
    os.replace(old, book)
    server = Server(book, options=["--lan"])
    again.server = server
    check("an old copy of the book revives nobody", again.ask("GET", "/api/v1/book")[0] == 401 and server.json("GET", "devices")[1]["devices"] == [])
    server.stop()


def elsewhere(book, address):
    """A file of devices that others could write, or of another machine, gives nobody a right; two servers of a book agree."""
    server = Server(book, options=["--lan"])
    tablet = Device(server, address).pair("view")
    house = os.path.join(page_api.MACHINE, "enginewright")
    path = max((os.path.join(house, n) for n in os.listdir(house) if n.startswith("devices-")), key=os.path.getmtime)
    second = Server(book, options=["--lan"])
    there = Device(second, address)
    there.token = tablet.token
    check("another server of the book knows it", there.ask("GET", "/api/v1/book")[0] == 200)
    os.chmod(path, 0o666)
    with open(path, "a", encoding="utf-8"):
        os.utime(path)
    check("a file that others can write gives no right", tablet.ask("GET", "/api/v1/book")[0] == 401 and "chmod" in server.json("GET", "devices")[1]["problem"])
    os.chmod(path, 0o600)
    with open(path, encoding="utf-8") as file:
        text = file.read()
    moved = json.dumps({**json.loads(text), "machine": "0" * 64})
    with open(path, "w", encoding="utf-8") as file:
        file.write(moved)
    check("nor does one of another machine", tablet.ask("GET", "/api/v1/book")[0] == 401)
    with open(path, "w", encoding="utf-8") as file:
        file.write(text)
    check("put right, it counts", tablet.ask("GET", "/api/v1/book")[0] == 200)
    check("revoked by one server, it is revoked by both", revoke(second, "view")[0] == 200 and tablet.ask("GET", "/api/v1/book")[0] == 401
          and there.ask("GET", "/api/v1/book")[0] == 401)
    second.stop()
    server.stop()


def revoke(server, name):
    mine = [d["id"] for d in server.json("GET", "devices")[1]["devices"] if d["name"] == name][0]
    return server.json("POST", f"devices/{mine}/revoke", {})


def not_stored(book, address):
    """The disk is full as a device is revoked: what the list says is what the next start says."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    server = Server(book, options=["--lan"])
    tablet = Device(server, address).pair("write")
    code = server.json("POST", "devices/code", {"rights": "view"})[1]["code"]
    resource.prlimit(server.process.pid, resource.RLIMIT_FSIZE, (0, resource.RLIM_INFINITY))
    status, answer = revoke(server, "write")
    check("a revocation that could not be stored says so", status == 500 and "still in force" in answer["error"], answer)
    listed = [d["name"] for d in server.json("GET", "devices")[1]["devices"]]
    check("the device is still listed, and in force", listed == ["write"] and tablet.ask("GET", "/api/v1/book")[0] == 200, listed)
    status, text, headers = Device(server, address).ask("POST", "/api/v1/pair", json.dumps({"code": code, "name": "other"}))
    check("a pairing that could not be stored gives no right", status == 500 and "Set-Cookie" not in headers, text)
    check("and lists nobody", len(server.json("GET", "devices")[1]["devices"]) == 1)
    server.process.kill()
    server.process.wait()
    server.process.stdout.close()
    server = Server(book, options=["--lan"])
    tablet.server = server
    check("the next start says the same", [d["name"] for d in server.json("GET", "devices")[1]["devices"]] == listed and tablet.ask("GET", "/api/v1/book")[0] == 200)
    check("then it is revoked", revoke(server, "write")[0] == 200 and tablet.ask("GET", "/api/v1/book")[0] == 401)
    server.process.kill()
    server.process.wait()
    server.process.stdout.close()
    server = Server(book, options=["--lan"])
    tablet.server = server
    check("for good", tablet.ask("GET", "/api/v1/book")[0] == 401)
    server.stop()


def terminal(folder):
    """Other people's words steer no terminal: names of channels and marks, on a line and in JSON."""
    hostile = "\x1b]0;pwned\x07\x9b31m\x7f"
    path = os.path.join(folder, "hostile.csv")
    with open(path, "w", encoding="utf-8") as file:
        file.write(f"Time [s],Engine speed [rpm],Torque [N·m],{hostile}\n" + "".join(f"{i / 50},{2000 + i},{200 + i % 7},1\n" for i in range(400)))
    book = os.path.join(folder, "hostile.book")
    shown = [run("look", path), run("look", path, "--json"), run("look", os.path.join(folder, "no\x1b[2Jsuch.csv"))]
    recorded = subprocess.run([PROGRAM, "cell", "record", "--book", book, "--source", f"file:{path}", "--source", "practice:?rate=50", "--for", "2 s", "--alarms", "none"],
                              input=f"mark {hostile}\n", capture_output=True, text=True, check=False, timeout=120)
    practised = subprocess.run([PROGRAM, "cell", "record", "--book", book, "--source", "practice:?rate=50", "--for", "1 s"], input=f"mark {hostile}\nsend {hostile}\n",
                               capture_output=True, text=True, check=False, timeout=120)
    for done in (*shown, recorded, practised):
        words = done.stdout + done.stderr
        check(f"{' '.join(done.args[1:3])} writes nothing that steers", words and not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f]", words), repr(words[-400:]))
    check("the mark is told, in plain words", "\\x1b]0;pwned" in practised.stdout, practised.stdout[-400:])


def network(folder):
    inside = "--inside" in sys.argv
    address = NEIGHBOURS[0] if inside else own_address()
    if not address:
        print("[  SKIPPED ] 1 neighbours: no network here, and none of our own may be made")
        return
    made = json.loads(run("demo", "--folder", os.path.join(folder, "day"), "--json").stdout)["book"]
    timed(planted, folder, address, made)
    timed(elsewhere, made, address)
    timed(not_stored, made, address)
    server = Server(made, options=["--lan"])
    timed(sources, server, address)
    timed(kept_answers, server)
    timed(control_goes_first, server, Device(server, address).pair("view"))
    check("it ends in order", server.stop() == 0)


def main():
    with tempfile.TemporaryDirectory(prefix="enginewright-neighbours-") as folder:
        if "--inside" in sys.argv:
            subprocess.run(["ip", "link", "set", "lo", "up"], check=True)
            subprocess.run(["ip", "address", "add", NEIGHBOURS[0] + "/24", "dev", "lo"], check=True)
            network(folder)
        else:
            timed(terminal, folder)
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
