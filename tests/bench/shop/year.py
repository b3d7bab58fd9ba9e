"""A year of a busy shop: a book with many pulls, sent to a shop's store, read in the office; then how long a list, a search, an overlay
and a report take there. Prints a line of JSON a figure: wall and processor time of the program, and what the store itself took.

    python3 year.py PROGRAM [--pulls 100000] [--folder FOLDER] [--ahead] [--filled]

The pulls are copies of a few that the program made, with times, names, engines and digests of their own: their curves are as long as
real ones, their recordings are cut to some kB, since no figure here reads them. What was multiplied is not verified by
'book verify' (a recording's digest is right, the curve is not of that recording).

With --filled the shipping and the first fetching, whose time is linear in the facts, are not waited for: the store gets as many facts of the
same number and mark by one statement, the office's copy is the cell's file; the last facts go and come by the program itself, and what an office asks is
asked as ever."""
import argparse
import hashlib
import http.client
import json
import os
import resource
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time

here = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, os.path.join(here, "..", "..", "scenario"))
import recordings  # noqa: E402
from door import let_in  # noqa: E402
from postgres import PASSWORD, Postgres  # noqa: E402

wanted = argparse.ArgumentParser()
wanted.add_argument("program")
wanted.add_argument("--pulls", type=int, default=100000)
wanted.add_argument("--folder")
wanted.add_argument("--filled", action="store_true")
wanted.add_argument("--ahead", action="store_true", help="what is asked in the office runs before all else on this machine (root)")
told = wanted.parse_args()
program = os.path.abspath(told.program)
folder = told.folder or tempfile.mkdtemp(prefix="ew-year-")
os.makedirs(folder, exist_ok=True)
os.chmod(folder, 0o755)
ENGINES, RAW = 200, 2048
environment = {"PATH": "/usr/bin:/bin", "HOME": folder, "XDG_CACHE_HOME": os.path.join(folder, "cache"), "LC_ALL": "C.UTF-8", "EW_USER": "bench"}


def tell(what, **figures):
    print(json.dumps({"bench": what, "pulls": told.pulls, **{k: round(v, 4) if isinstance(v, float) else v for k, v in figures.items()}}), flush=True)


def run(what, *words, limit_s=None, least=0):
    """What it printed. With a limit the median of three is told and held against it."""
    took = []
    for _ in range(3 if limit_s else 1):
        before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
        done = subprocess.run([program, *words], env=environment, cwd=folder, capture_output=True, check=False)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        if done.returncode != 0:
            sys.exit(f"{words}: {done.returncode} {done.stderr[-600:]}")
        took.append((time.monotonic() - begun, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime))
    wall, cpu = sorted(took)[len(took) // 2]
    figures = {"wall_s": wall, "cpu_s": cpu, "printed": len(done.stdout)}
    if len(done.stdout) < least:
        sys.exit(f"{words}: only {len(done.stdout)} bytes: {done.stdout[:300]}")
    tell(what, **figures, **({"limit_s": limit_s, "pass": wall < limit_s} if limit_s else {}))
    return done.stdout.decode()


def uid(kind, number):
    digest = hashlib.sha256(f"{kind} {number}".encode()).hexdigest()
    return f"01900000-{digest[:4]}-7{digest[4:7]}-8{digest[7:10]}-{digest[10:22]}"


def moment(number):
    return time.strftime("%Y-%m-%dT%H:%M:%S.000Z", time.gmtime(1735689600 + number * 365 * 86400 // told.pulls))


def multiply(book):
    """The rows of the pulls that are there, again and again, each under a name of its own."""
    db = sqlite3.connect(book)
    db.row_factory = sqlite3.Row
    db.execute("PRAGMA synchronous = OFF")
    few = {t: [dict(r) for r in db.execute(f"SELECT * FROM {t} ORDER BY 1")] for t in ("engine", "recording", "pull", "curve", "figures")}
    log = dict(db.execute("SELECT * FROM change_log LIMIT 1").fetchone())
    put = {t: f"INSERT INTO {t} ({', '.join(r)}) VALUES ({', '.join('?' * len(r))})" for t, r in
           [(t, few[t][0]) for t in few] + [("change_log", log)]}
    made = few["engine"][0]
    for e in range(2, ENGINES + 1):
        db.execute(put["engine"], tuple({**made, "id": e, "name": f"engine {e}", "yaml": made["yaml"].replace("name: ", f"name: engine {e} #", 1), "uid": uid("engine", e)}.values()))
    line = db.execute("SELECT max(id) FROM change_log").fetchone()[0]
    for n in range(len(few["pull"]) + 1, told.pulls + 1):
        i, at = n % len(few["pull"]), moment(n)
        raw = few["recording"][i]["bytes"][:RAW] + f"# {n}\n".encode()
        engine, digest = 1 + n % ENGINES, hashlib.sha256(raw).hexdigest()
        db.execute(put["recording"], tuple({**few["recording"][i], "id": n, "engine_id": engine, "bytes": raw, "sha256": digest, "added_at": at, "measured_at": at, "day": at[:10], "uid": uid("recording", n)}.values()))
        db.execute(put["figures"], (n, digest))
        db.execute(put["pull"], tuple({**few["pull"][i], "id": n, "recording_id": n, "engine_id": engine, "at": at, "day": at[:10], "run": 1 + n // (5 * ENGINES), "uid": uid("pull", n)}.values()))
        db.execute(put["curve"], tuple({**few["curve"][i], "pull_id": n}.values()))
        line += 1
        db.execute(put["change_log"], tuple({**log, "id": line, "at": at, "day": at[:10], "what": "pull", "detail": f"pull {n}", "uid": uid("log", n)}.values()))
    db.commit()
    db.close()


server = Postgres(folder)
environment.update(server.environment())
book = os.path.join(folder, "cell.book")
subprocess.run([program, "book", "new", "--book", book], env=environment, check=True, stdout=subprocess.DEVNULL)
with open(os.path.join(folder, "engine.yaml"), "w", encoding="utf-8") as file:
    file.write("name: engine 1\nowner: invented\n")
subprocess.run([program, "engine", "add", os.path.join(folder, "engine.yaml"), "--book", book], env=environment, check=True, stdout=subprocess.DEVNULL)
for seed in range(5):
    with open(os.path.join(folder, f"run-{seed}.csv"), "w", encoding="utf-8") as file:
        file.write(recordings.sweep(seed=seed).text())
    subprocess.run([program, "pull", "add", os.path.join(folder, f"run-{seed}.csv"), "--book", book], env=environment, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
begun = time.monotonic()
multiply(book)
tell("the book is made", wall_s=time.monotonic() - begun, mb=os.path.getsize(book) / 1e6)
run("a shop is laid", "shop", "new", server.address("owner"))
for login, role in (("cell1", "cell"), ("reader", "office")):
    server.ask(f"CREATE ROLE {login} LOGIN PASSWORD '{PASSWORD.replace(chr(39), chr(39) * 2)}' IN ROLE enginewright_{role}")
office = server.address("reader") + "#Cell 1"
run("joined: every row noted", "book", "join", server.address("cell1"), "--cell", "Cell 1", "--book", book)
office_copy = os.path.join(environment["XDG_CACHE_HOME"], "enginewright", f"shop-{hashlib.sha256(office.encode()).hexdigest()[:16]}.book")


def fill():
    """The store as if all but the last facts had come, and the copy as if they had been read."""
    db = sqlite3.connect(book)
    last = db.execute("SELECT max(seq) FROM outbox").fetchone()[0]
    marks = os.path.join(folder, "marks")
    with open(marks, "w", encoding="ascii") as file:
        file.writelines(f"{seq}\t{mark}\n" for seq, mark in db.execute("SELECT seq, mark FROM outbox WHERE seq < ?", (last,)))
    os.chmod(marks, 0o644)
    begins, writer = db.execute("SELECT first_seq, uid FROM writer WHERE first_seq IS NOT NULL").fetchone()
    identity = db.execute("SELECT value FROM setting WHERE key = 'identity'").fetchone()[0]
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    db.close()
    body = json.dumps({"row": {"id": 1, "name": "run.csv", "told": "x" * 400}})
    server.ask(f"INSERT INTO enginewright.writer (uid, book, parent, first_seq, login) VALUES ('{writer}', '{identity}', NULL, {begins}, 'cell1');"
               f"CREATE TEMP TABLE told (n bigint, mark bigint); COPY told FROM '{marks}';"
               "INSERT INTO enginewright.fact (writer, seq, mark, what, number, key, uid, body, digest, parts) SELECT "
               f"'{writer}', n, mark, 'pull', n, NULL, md5(n::text), '{body}', md5(n::text), ARRAY[md5(n::text)] FROM told ORDER BY n; ANALYZE enginewright.fact", limit_s=600)
    return last


def fill_copy():
    os.makedirs(os.path.dirname(office_copy), mode=0o700)
    shutil.copyfile(book, office_copy)
    db = sqlite3.connect(office_copy)
    db.execute("UPDATE shop SET role = 'reads', address = ?", (server.address("reader"),))
    db.execute("DELETE FROM outbox WHERE seq < (SELECT max(seq) FROM outbox)")
    db.commit()
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    db.close()


if told.filled:
    begun = time.monotonic()
    tell("the store is filled", facts=fill(), wall_s=time.monotonic() - begun)
sent = json.loads(run("sent", "book", "ship", "--book", book, "--json"))
tell("facts", facts=sent["sent"], store_mb=server.number("SELECT pg_database_size('postgres')") / 1e6)
run("sent: nothing new", "book", "ship", "--book", book, limit_s=1)
if told.filled:
    fill_copy()
run("the office's copy, the first time", "pull", "show", "1", "--book", office)
# ---- what an office asks, each with its look at the store ----
if told.ahead:
    os.setpriority(os.PRIO_PGRP, server.server.pid, -15)
    os.setpriority(os.PRIO_PROCESS, 0, -15)
tell("load of the machine", load=os.getloadavg()[0])
run("shop show", "shop", "show", server.address("reader"), limit_s=1)
run("list: the pulls of an engine", "pull", "list", "--engine", "engine 7", "--book", office, limit_s=1, least=200)
run("find: a part's batch", "build", "find", "batch 7", "--book", office, limit_s=1)
run("overlay: one of its curves", "pull", "curve", "7", "--book", office, limit_s=1, least=100)
run("report", "sheet", "report", "--pulls", "6,206,406", "--out", os.path.join(folder, "report.pdf"), "--book", office, limit_s=1)
subprocess.run([program, "book", "note", "one more", "--book", book], env=environment, check=True, stdout=subprocess.DEVNULL)
run("one fact more, sent", "book", "ship", "--book", book)
run("and read", "book", "notes", "--book", office, limit_s=1)
run("list: all pulls", "pull", "list", "--json", "--book", office, limit_s=1)

# ---- the same through the page's server, which read the store when it started ----
begun = time.monotonic()
page = subprocess.Popen([program, "serve", "--port", "0", "--json", "--book", office], env=environment, stdout=subprocess.PIPE, text=True)
said = json.loads(page.stdout.readline())
tell("the office's page is up", wall_s=time.monotonic() - begun)
cookie = let_in(said)


def cpu():
    with open(f"/proc/{page.pid}/stat", encoding="ascii") as stat:
        fields = stat.read().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def ask(what, path, least):
    line = http.client.HTTPConnection("127.0.0.1", said["port"], timeout=120)
    took = []
    for _ in range(3):
        before, begun = cpu(), time.monotonic()
        line.request("GET", f"/api/v1/{path}", headers={"Cookie": cookie})
        answer = line.getresponse()
        body = answer.read()
        took.append((time.monotonic() - begun, cpu() - before))
        if answer.status != 200 or len(body) < least:
            sys.exit(f"{path}: {answer.status} {body[:300]}")
    first, (wall, used) = took[0][0], sorted(took)[1]
    tell(what, first_s=first, wall_s=wall, cpu_s=used, bytes=len(body), limit_s=1, **{"pass": max(first, wall) < 1})


ask("page, list: the last 1,000", "pulls?newest=1000", 10000)
ask("page, list: an engine's", "pulls?engine=7", 500)
ask("page, find", "engines?find=engine%2077", 100)
ask("page, overlay of 40", "curves?raw=no&pulls=" + ",".join(str(6 + 200 * i) for i in range(40)), 10000)
ask("page, report", "report?pulls=6,206,406", 1000)
page.terminate()
page.wait(30)
if not told.folder:
    server.stop()
    shutil.rmtree(folder, ignore_errors=True)
