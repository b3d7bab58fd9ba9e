"""A search handed out by PostgreSQL: workers that are killed at any moment, a database that is stopped, crashes and comes back, and the same bytes as
without; what must be refused, tasks that nobody finishes, a line that is cut.

search_leases.py PROGRAM [KILLS]: workers to kill, of four at work (6; the long form has 200). The moments are random, the seed is printed."""
import os
import random
import signal
import socket
import struct
import subprocess
import sys
import threading
import time

import harness
from postgres import Line, Postgres, binaries

KILLS, WORKERS = int(sys.argv[2]) if len(sys.argv) > 2 else 6, 4
s = harness.Scenario()
if not binaries():
    s.skip("leases", "PostgreSQL is not installed (package postgresql-15)")
    s.finish()
pg = Postgres(s.folder)
engine = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "examples", "engines", "flat-four.yaml")
QUESTION = """change:
  - {field: runner_length, from: 200 mm, to: 400 mm}
  - {field: compression, from: 8, to: 9, step: 0.25}
want:
  - {figure: torque, from: 3000 rpm, to: 5000 rpm}
speeds: [3000 rpm, 5000 rpm]
spark: 24 deg
"""
question = s.write("question.yaml", QUESTION)
FIRST = 48
ask = ["engine", "search", engine, question, "--first", str(FIRST), "--rounds", "0", "--cell", "60 mm", "--threads", "1"]
lease = ["--lease", pg.address(), "--task", "2", "--lease-time", "2 s"]
TASKS = FIRST // 2
environment = {**s.environment, **pg.environment()}


def work(*more, address=None, keep="own.txt"):
    words = [*ask, *lease, "--keep", s.path(keep), *more]
    if address:
        words[words.index("--lease") + 1] = address
    return s.run(*words, **pg.environment())


def read(name):
    with open(s.path(name), "rb") as file:
        return file.read()


def forget(*files):
    for name in files:
        if os.path.exists(s.path(name)):
            os.remove(s.path(name))


# 1. without leases; then one worker alone
s.good(*ask, "--shard", "1/1", "--keep", s.path("one.txt"))
s.good("engine", "collect", s.path("reference.txt"), s.path("one.txt"))
reference = read("reference.txt")
answer = work("--gather", s.path("alone.txt"), "--json")
s.check("one worker does it all", answer.code == 0 and answer.json["own_tasks"] == TASKS and answer.json["designs"] == FIRST, answer)
s.check("he says that he begins it", "begins a search of 24 tasks" in answer.err, answer.err)
s.check("the same file as without", read("alone.txt") == reference)
answer = work("--gather", s.path("second.txt"), "--json", keep="another.txt")
s.check("who comes when all is done has nothing to do, and gathers", answer.code == 0 and answer.json["own_tasks"] == 0 and read("second.txt") == reference, answer)
s.check("he is told what he joins", "joins a search" in answer.err, answer.err)

# 2. what is refused
s.refused("no file of its own", s.run(*ask, *lease, **pg.environment()), "--keep")
s.refused("a share and a lease", work("--shard", "1/2"), "--shard")
s.refused("a password in the address", work(address="postgresql://owner:word@/postgres?host=" + pg.socket), "password")
s.refused("nobody answers", work(address="postgresql://owner@/postgres?host=/nowhere"), "the database does not answer", code=3)
s.refused("no time at all", work("--lease-time", "0.1 s"), "--lease-time")
s.refused("no task at all", work("--task", "0"), "--task")
pg.ask("UPDATE enginewright_search.search SET physics = 1")
s.refused("a program of other physics", work(), "physics 1")
key, physics = reference.decode().split("\n")[1].split("\t")[1:3]
pg.ask(f"UPDATE enginewright_search.search SET physics = {physics}")
pg.ask(f"UPDATE enginewright_search.run SET line = replace(line, '.', ',') WHERE key = '{key}'")
pg.ask("UPDATE enginewright_search.task SET done = NULL, until = NULL")
answer = work()
s.check("other figures for a run", answer.code == 2 and "figures of 1 of the runs differ" in answer.err, answer)
pg.ask(f"DELETE FROM enginewright_search.run WHERE key = '{key}'")

# 2a. a server that takes the password and then ends the connection, in its own language: what counts is its SQLSTATE. Codes: PostgreSQL 15, appendix A;
# messages: the same, "Message Formats" (R: authentication, 3 asks for a clear-text password; E: an error's fields)
FALSE_DOORS = [
    ("shuts down while a worker logs in", "57P01", "Verbindung wird abgebrochen aufgrund von Anweisung des Administrators", 3),
    ("is starting", "57P03", "das Datenbanksystem startet", 3),
    ("is full", "53300", "tut mir leid, schon zu viele Verbindungen", 3),
    ("does not take the password", "28P01", "Passwort-Authentifizierung fehlgeschlagen", 2),
    ("does not have the database", "3D000", "Datenbank existiert nicht", 2),
    ("says something with a state's look", "57P03", "Modus:  28P01: nur so gesagt", 3),
]


def message(kind, body):
    return kind + struct.pack("!I", len(body) + 4) + body


def door(folder, state, text):
    """Answers every login with the state, until the test ends."""
    os.mkdir(folder)
    listening = socket.socket(socket.AF_UNIX)
    listening.bind(os.path.join(folder, ".s.PGSQL.5432"))
    listening.listen(8)

    def answer():
        while True:
            client, _ = listening.accept()
            with client:
                client.recv(4096)
                client.sendall(message(b"R", struct.pack("!I", 3)))
                client.recv(4096)
                fields = [b"SSCHWERWIEGEND", b"VFATAL", b"C" + state.encode(), b"M" + text.encode(), b"Fauth.c", b"L1", b"Rlogin"]
                client.sendall(message(b"E", b"\0".join(fields) + b"\0\0"))

    threading.Thread(target=answer, daemon=True).start()


doors = []
for i, (says, state, text, code) in enumerate(FALSE_DOORS):
    folder = s.path(f"door{i}")
    door(folder, state, text)
    words = [s.program, *ask, "--lease", f"postgresql://owner@/postgres?host={folder}", "--keep", s.path(f"door{i}.txt")]
    doors.append(subprocess.Popen(words, env={**environment, "PGPASSWORD": "x"}, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE))
for (says, state, text, code), worker in zip(FALSE_DOORS, doors):
    said = worker.communicate(timeout=400)[1].decode()
    s.check(f"a server {says}", worker.returncode == code and text in said and ("does not let this program in" in said) == (code == 2), (worker.returncode, said))
    s.check("and neither its state nor its source is shown", "auth.c" not in said and state + ": " not in said, said)

# 3. a task that nobody finishes
pg.ask("UPDATE enginewright_search.task SET done = NULL, until = NULL, tries = 0")
pg.ask("UPDATE enginewright_search.task SET tries = 10, said = 'its worker ran out of memory' WHERE number = 3")
answer = work("--gather", s.path("never.txt"))
s.check("it is set aside, aloud", answer.code == 1 and "1 of 24 tasks were set aside" in answer.err and "ran out of memory" in answer.err, answer)
s.check("nothing is gathered then", not os.path.exists(s.path("never.txt")))
s.check("the others are done", pg.number("SELECT count(*) FROM enginewright_search.task WHERE done IS NOT NULL") == TASKS - 1)
answer = work("--again", "--gather", s.path("again.txt"))
s.check("opened again it is done", answer.code == 0 and read("again.txt") == reference, answer)

# 4. another question in the same database
other = s.write("other.yaml", QUESTION.replace("400 mm", "380 mm"))
words = [*ask, *lease, "--keep", s.path("other.txt"), "--gather", s.path("other-all.txt")]
words[words.index(question)] = other
answer = s.run(*words, **pg.environment())
s.check("it is a search of its own", answer.code == 0 and "begins a search" in answer.err and read("other-all.txt") != reference, answer)

# 5. a line that is cut in the middle
pg.ask("DROP SCHEMA enginewright_search CASCADE")
line = Line(s.path("line"), pg)
worker = subprocess.Popen([s.program, *ask, "--lease", pg.address(host=line.folder), *lease[2:], "--keep", s.path("cut.txt"), "--gather", s.path("cut-all.txt")],
                          env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
for _ in range(3):
    time.sleep(0.5)
    line.break_all()
said = worker.communicate(timeout=300)[1].decode()
s.check("cut three times, and done all the same", worker.returncode == 0 and read("cut-all.txt") == reference, said)

# 6. told to stop: the task is open again at once, and the try does not count
pg.ask("DROP SCHEMA enginewright_search CASCADE")
worker = subprocess.Popen([s.program, *ask, *lease[:2], "--task", "40", "--keep", s.path("stopped.txt")], env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
for _ in range(100):
    time.sleep(0.1)
    if pg.ask("SELECT count(*) FROM enginewright_search.task WHERE worker IS NOT NULL", check=False).stdout.strip() == "1":
        break
worker.send_signal(signal.SIGINT)
said = worker.communicate(timeout=60)[1].decode()
left = pg.ask("SELECT tries, until IS NULL FROM enginewright_search.task WHERE number = 0").stdout.strip()
s.check("stopped, and nothing is lost", worker.returncode not in (0, -signal.SIGINT) and left == "0|t", (worker.returncode, left, said))

# 7. killed at random, and the database with them
seed = random.randrange(1 << 32)
dice = random.Random(seed)
print(f"seed {seed}, {KILLS} workers to kill", flush=True)


def start(i):
    return subprocess.Popen([s.program, *ask, *lease, "--keep", s.path(f"part-{i}.txt")], env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)


def ended_well(worker):
    text = worker.communicate(timeout=600)[1].decode()
    if worker.returncode not in (0, -signal.SIGKILL):
        s.check("a worker ends well", False, (worker.returncode, text[-400:]))


def disturb():
    """The database goes away under the workers: shut down, or with the power."""
    pg.crash() if dice.random() < 0.5 else pg.stop()
    time.sleep(dice.random())
    pg.start()


killed, searches, stops = 0, 0, 0
while killed < KILLS:
    pg.ask("DROP SCHEMA IF EXISTS enginewright_search CASCADE")
    forget(*(f"part-{i}.txt" for i in range(WORKERS)), "gathered.txt")
    at_work = [start(i) for i in range(WORKERS)]
    due = {5} if searches % 3 == 0 else set()  # after so many kills of a search the database goes too
    for n in range(12):
        time.sleep(dice.random() * 0.5)
        i = dice.randrange(WORKERS)
        if at_work[i].poll() is None and killed < KILLS:
            at_work[i].send_signal(signal.SIGKILL)
        elif at_work[i].poll() is None:
            break
        ended_well(at_work[i])
        killed += at_work[i].returncode == -signal.SIGKILL
        if dice.random() < 0.5:
            forget(f"part-{i}.txt")  # its disk went with it
        if n in due:
            disturb()
            stops += 1
        at_work[i] = start(i)
    for worker in at_work:
        ended_well(worker)
    answer = work("--again", "--gather", s.path("gathered.txt"), keep="last.txt")
    s.check(f"search {searches + 1}: the same file, byte for byte", answer.code == 0 and read("gathered.txt") == reference, answer)
    searches += 1
print(f"{killed} workers killed in {searches} searches, the database stopped {stops} times", flush=True)
s.check("so many were killed at work", killed == KILLS, killed)
s.finish()
