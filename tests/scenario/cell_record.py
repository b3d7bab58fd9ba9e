"""The cell's record put right, or said to be right: an odd inertia said right once, by command and by the page, and taken back; a wrong figure
amended from the page as a job that lists first, tells its progress, can be stopped in the middle and goes on; the same at a terminal.

Usage: cell_record.py PROGRAM"""
import http.client
import json
import os
import re
import signal
import sqlite3
import subprocess
import sys
import threading
import time

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import recordings
from door import let_in
from harness import Scenario

s = Scenario()
ODD = "name: cell 1\nrotor_inertia: 0.9 kg·m2\ncoupling_inertia: 0.02 kg·m2\n"


def new_book(name, cell):
    book = s.path(name)
    s.good("book", "new", "--cell-file", s.write("cell.yaml", cell), "--book", book)
    s.good("engine", "add", s.write("engine.yaml", recordings.ENGINE), "--book", book)
    return book


def add(book, seed, at, *more):
    return s.good("pull", "add", s.write(f"{seed}.csv", recordings.sweep(seed=seed, inertia=0.92).text()), "--at", at, "--book", book, *more, "--json").json


def held(answer):
    return [h["finding"]["id"] for h in answer["held"]]


# ---- an inertia that is really odd ----
book = new_book("odd.book", ODD)
first, second = add(book, 1, "2026-11-30 10:00"), add(book, 2, "2026-11-30 10:10")
s.check("a rotor of 0.9 kg·m2 is asked about, and again, as nobody answered", held(first) == ["pull.doubt-inertia-share"] == held(second), (first["held"], second["held"]))
s.check("how to say it is right is said", "cell right" in first["held"][0]["finding"]["text"], first["held"])
for says, args, words in (("without how", [], ("how",)), ("with nothing in it", ["--how", "  "], ("how",)), ("both ways", ["--how", "x", "--take-back"], ("not both",)),
                          ("taken back before it was said", ["--take-back"], ("nothing to take back",))):
    s.refused(says, s.run("cell", "right", *args, "--book", book), *words)
said = s.good("cell", "right", "--how", "run-down, twice, 3 May", "--book", book, "--json").json
s.check("said once: both are used again", said["released"] == [1, 2] and abs(said["right"]["inertia_kg_m2"] - 0.92) < 1e-12 and said["right"]["holds"] and
        said["right"]["who"] == "tester", said)
third = add(book, 3, "2026-11-30 10:20")
s.check("no later pull is asked about", held(third) == [], third["held"])
s.check("a book that was looked through neither", "inertia" not in s.run("book", "check", "--book", book).out, s.run("book", "check", "--book", book).out)
again = s.good("cell", "amend", "--set", "rotor_inertia=9 kg·m2", "--reason", "typing slip", "--since", "3", "--sure", "--book", book, "--json").json
s.check("another inertia is another question", [h["finding"]["id"] for h in again.get("held", []) if isinstance(h, dict)] != [] or
        s.good("pull", "list", "--book", book, "--json").json["pulls"][2].get("held"), again)
s.good("cell", "amend", "--set", "rotor_inertia=0.9 kg·m2", "--reason", "slip of the slip", "--pulls", "3", "--sure", "--book", book)
s.check("as it was said, it is not asked about", not s.good("pull", "list", "--book", book, "--json").json["pulls"][2].get("held"))
s.good("cell", "right", "--take-back", "--book", book)
with sqlite3.connect(book) as rows:
    s.check("taken back", rows.execute("SELECT value FROM setting WHERE key = 'cell inertia right'").fetchone()[0] == "")
s.refused("a second time", s.run("cell", "right", "--take-back", "--book", book), "nothing to take back")
bare = new_book("bare.book", "name: cell 1\n")
s.refused("of a cell without inertias", s.run("cell", "right", "--how", "guessed", "--book", bare), "states no inertia")
# a pull that waits for something else too is not let go by it
both = new_book("both.book", ODD)
text = recordings.sweep(seed=5, inertia=0.92, humidity_pct=0.5).text()
waits = s.good("pull", "add", s.write("both.csv", text), "--at", "2026-11-30 11:00", "--book", both, "--json").json
s.check("a pull with two questions", "pull.doubt-inertia-share" in held(waits) and len(held(waits)) > 1, waits["held"])
s.check("stays held", s.good("cell", "right", "--how", "run-down", "--book", both, "--json").json["released"] == [] and
        s.good("pull", "list", "--book", both, "--json").json["pulls"][0].get("held"))


# ---- from the page ----
class Page:
    def __init__(self, at):
        self.process = subprocess.Popen([s.program, "serve", "--book", at, "--port", "0", "--json"], stdout=subprocess.PIPE, text=True, env=s.environment)
        said = json.loads(self.process.stdout.readline())
        self.port, self.cookie, self.events = said["port"], let_in(said), []
        threading.Thread(target=self.listen, daemon=True).start()

    def listen(self):
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=600)
        connection.request("GET", "/api/v1/events", headers={"Cookie": self.cookie})
        name = ""
        try:
            for line in connection.getresponse():
                line = line.decode().strip()
                if line.startswith("event:"):
                    name = line[6:].strip()
                elif line.startswith("data:") and name == "job":
                    self.events.append(json.loads(line[5:]))
        except (OSError, http.client.HTTPException, ValueError):
            pass

    def ask(self, method, path, value=None):
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)
        try:
            body = None if value is None else json.dumps(value)
            connection.request(method, "/api/v1/" + path, body=body, headers={"Cookie": self.cookie, **({"Content-Type": "application/json"} if body else {})})
            response = connection.getresponse()
            return response.status, json.loads(response.read())
        finally:
            connection.close()

    def good(self, method, path, value=None):
        status, answer = self.ask(method, path, value)
        s.check(f"{method} {path} is answered", status == 200, answer)
        return answer

    def job(self, number):
        for _ in range(1200):
            now = self.ask("GET", f"predict/{number}")[1]
            if now["state"] not in ("waiting", "running"):
                return now
            time.sleep(0.1)
        return now

    def stop(self):
        self.process.send_signal(signal.SIGTERM)
        self.process.wait(timeout=60)
        self.process.stdout.close()


PULLS = 60
many = new_book("many.book", recordings.CELL)
for k in range(PULLS):
    name = s.write("many.csv", recordings.sweep(seed=100 + k, rate=800, hz=25).text())
    s.run("pull", "add", name, "--at", f"2026-11-30 {8 + k // 12:02d}:{5 * (k % 12):02d}", "--book", many)
page = Page(many)
right = page.good("GET", "cell")["right"]
s.check("nobody said that the inertia is right", right is None, right)
kept = page.good("POST", "cell/right", {"how": "swung on wires", "who": "A. Weir"})
s.check("said from the page", kept["right"]["how"] == "swung on wires" and kept["right"]["who"] == "A. Weir" and kept["released"] == [], kept)
page.good("POST", "cell/right", {"take_back": True})
for says, body, words in (("no figure", {"reason": "x"}, "typed"), ("a wrong unit", {"typed": {"rotor_inertia": "0.09 m"}, "reason": "x"}, "rotor_inertia"),
                          ("no such figure", {"typed": {"colour": "red"}, "reason": "x"}, "colour"), ("without a reason", {"typed": {"rotor_inertia": "0.09 kg·m2"}}, "reason"),
                          ("an empty reason", {"typed": {"rotor_inertia": "0.09 kg·m2"}, "reason": "  "}, "reason")):
    status, answer = page.ask("POST", "cell/amend", body)
    s.check(f"{says} is refused", status == 400 and words in answer["error"], (status, answer))
ask = {"typed": {"rotor_inertia": "0.095 kg·m2"}, "reason": "weighed and swung again"}
listed = page.job(page.good("POST", "cell/amend", ask)["job"])
s.check("it lists first, and changes nothing", listed["state"] == "done" and len(listed["answer"]["concerned"]) == PULLS and "amended" not in listed["answer"] and
        "0.095" in listed["answer"]["concerned"][0]["changes"][0]["text"], str(listed)[:400])
s.check("the record is as it was", "0.085" in page.good("GET", "cell")["typed"]["rotor_inertia"])


def readings():
    with sqlite3.connect(f"file:{many}?mode=ro", uri=True) as rows:
        return [r for (r,) in rows.execute("SELECT reading FROM pull ORDER BY id")]


number = page.good("POST", "cell/amend", {**ask, "sure": "yes"})["job"]
for _ in range(3000):
    if any(e["job"] == number and 0 < e["share"] < 0.6 for e in page.events) or sum(r > 1 for r in readings()) > 3:
        break
    time.sleep(0.01)
page.good("POST", f"predict/{number}/cancel", {})
ended = page.job(number)
done = sum(r > 1 for r in readings())
s.check("stopped in the middle, and it says how far it came", ended["state"] == "done" and ended["answer"]["stopped"] and 0 < done < PULLS and ended["answer"]["amended"] == done, (str(ended)[-200:], done))
number = page.good("POST", "cell/amend", {**ask, "sure": "yes"})["job"]
ended = page.job(number)
s.check("the same again goes on with the rest alone", ended["answer"]["amended"] == PULLS - done and not ended["answer"]["stopped"] and readings() == [2] * PULLS, (str(ended)[-200:], readings()))
shares = [e["share"] for e in page.events if e["job"] == number]
s.check("its progress came as events, and never went back", len(shares) >= 2 and shares == sorted(shares) and shares[-1] == 1, shares)
s.check("the record is the new one", "0.095" in page.good("GET", "cell")["typed"]["rotor_inertia"])
none = page.job(page.good("POST", "cell/amend", {**ask, "sure": "yes"})["job"])
s.check("a third time there is nothing to do", none["answer"] == {"concerned": [], "amended": 0, "stopped": False}, none)
page.stop()
s.check("all from raw again", s.run("book", "verify", "--book", many).code == 0)


# ---- at a terminal: shares that never go back, stopped by Ctrl-C, gone on ----
def on_terminal(*args, interrupt=False):
    master, slave = os.openpty()
    seen = []
    ran = subprocess.Popen([s.program, *map(str, args)], stdout=subprocess.PIPE, stderr=slave, stdin=subprocess.DEVNULL, env=s.environment, cwd=s.folder)
    os.close(slave)
    while True:
        try:
            part = os.read(master, 65536)
        except OSError:
            break
        if not part:
            break
        seen.append(part)
        if interrupt and re.search(rb"\d+ %", b"".join(seen)):
            ran.send_signal(signal.SIGINT)
            interrupt = False
    out = ran.communicate()[0].decode()
    os.close(master)
    return ran.returncode, out, b"".join(seen).decode()


before = readings()
code, out, sent = on_terminal("pull", "amend", "--since", "1", "--set", "spark=31 deg", "--reason", "read off the wrong line", "--book", many, "--json", interrupt=True)
shares = [int(x) for x in re.findall(r"(\d+) %", sent)]
done = sum(b > a for a, b in zip(before, readings()))
s.check("a mass amendment at a terminal shows its share; Ctrl-C ends it after a whole recording, with code 1 and what to do", code == 1 and shares and
        shares == sorted(shares) and 0 < done < PULLS and "goes on with it" in sent, (code, shares, done, sent[-200:]))
code, out, sent = on_terminal("pull", "amend", "--since", "1", "--set", "spark=31 deg", "--reason", "read off the wrong line", "--book", many, "--json")
answer = json.loads(out)
s.check("and goes on", code == 0 and answer["already"] == done and [b - a for a, b in zip(before, readings())] == [1] * PULLS, (code, answer.get("already"), done))
s.check("all from raw again", s.run("book", "verify", "--book", many).code == 0)
s.finish()
