"""The shop's faults that want a clock or a disk of their own: a cell whose clock is wrong by hours and years, a full disk under the database,
and one under the cell. Each said aloud, nothing acknowledged lost, and gone on from by itself once it is mended.

`python3 shop_faults.py PROGRAM SHIM`: the shim (clock_jump.c) moves the cell's time of day. The disks are tmpfs of their own, which only root
may mount; else they are skipped aloud.
"""
import hashlib
import os
import sqlite3
import struct
import subprocess
import sys

import recordings
from harness import Scenario
from postgres import PASSWORD, Postgres, binaries

s = Scenario()
if binaries() is None:
    s.skip("the shop's faults", "PostgreSQL is not installed (package postgresql-15)")
    s.finish()
STAYS = {"figures", "life", "outbox", "shop"}
HOURS = 3600


def rows_of(book):
    db = sqlite3.connect(f"file:{book}?mode=ro", uri=True)
    tables = [name for name, in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'") if name not in STAYS]
    rows = {t: sorted(map(repr, db.execute(f"SELECT * FROM {t}"))) for t in tables}
    db.close()
    return rows


def outbox(book):
    db = sqlite3.connect(book)
    row = db.execute("SELECT min(seq), max(seq) FROM outbox").fetchone()
    db.close()
    return row


def shop_in(folder):
    os.makedirs(folder, exist_ok=True)
    server = Postgres(folder)
    s.environment.update(server.environment())
    s.good("shop", "new", server.address("owner"))
    word = PASSWORD.replace("'", "''")
    server.ask(f"CREATE ROLE cell1 LOGIN PASSWORD '{word}' IN ROLE enginewright_cell; CREATE ROLE reader LOGIN PASSWORD '{word}' IN ROLE enginewright_office")
    return server


def same(says, book, address):
    copy = s.path(hashlib.sha256(says.encode()).hexdigest()[:8] + ".book")
    where, _, cell = address.partition("#")
    s.good("shop", "fetch", where, *(("--cell", cell) if cell else ()), "--to", copy)
    a, b = rows_of(book), rows_of(copy)
    s.check(f"{says}: the shop holds the same rows", a == b, [(t, len(a[t]), len(b.get(t, ()))) for t in a if a[t] != b.get(t)])


# ---- a wrong clock ----
server = shop_in(s.path("one"))
book = s.path("cell.book")
s.good("book", "new", "--book", book)
s.good("book", "join", server.address("cell1"), "--cell", "Cell 1", "--book", book)
clock = s.path("clock")
for n, (says, moved) in enumerate((("an hour ahead", HOURS), ("three hours behind", -3 * HOURS), ("ten years ahead", 87660 * HOURS), ("at its maker's first day", -400000 * HOURS))):
    with open(clock, "wb") as file:
        file.write(struct.pack("=q", moved))
    wrong = {"LD_PRELOAD": os.path.abspath(sys.argv[2]), "EW_CLOCK_FILE": clock}
    s.good("book", "note", f"written {says}", "--book", book, **wrong)
    first = outbox(book)[0]
    sent = s.run("book", "ship", "--book", book, "--json", **wrong)
    s.check(f"a clock {says}: all goes, and it is measured", sent.code == 0 and sent.json["sent"] > 0 and abs(sent.json["clock_s"] + moved) < 2 and sent.json["new_writers"] == 0, sent)
    s.good("book", "note", f"and more {says}", "--book", book, **wrong)
    told = s.run("book", "ship", "--book", book, **wrong)
    s.check(f"a clock {says}: it is said", "clock is" in told.out, told)
    s.check(f"a clock {says}: nothing leaves the outbox for it", outbox(book)[0] == first, (outbox(book), first))
    again = s.run("book", "ship", "--book", book, "--json")
    s.check(f"a clock {says} put right: nothing goes twice, nobody is forked", again.code == 0 and again.json["sent"] == 0 and again.json["new_writers"] == 0, again)
same("after four wrong clocks", book, server.address("reader"))
server.stop()


# ---- full disks ----
def disk(name, megabytes):
    folder = s.path(name)
    os.makedirs(folder)
    done = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={megabytes}m,mode=755", "none", folder], capture_output=True, check=False) if os.geteuid() == 0 else None
    return folder if done and done.returncode == 0 else None


def fill(path):
    try:
        with open(path, "wb", buffering=0) as file:
            while file.write(bytes(4096)):
                continue
    except OSError:
        pass


mounted = []
try:
    small = disk("small", 96)
    if not small:
        s.skip("a full disk under the database, and under the cell", "only root may mount a small one")
        s.finish()
    mounted.append(small)
    server = shop_in(os.path.join(small, "two"))
    book = s.path("second.book")
    s.good("book", "new", "--book", book)
    s.good("book", "join", server.address("cell1"), "--cell", "Cell 2", "--book", book)
    s.good("book", "ship", "--book", book)
    kept = server.number("SELECT count(*) FROM enginewright.fact")
    filler = os.path.join(small, "filler")
    fill(filler)
    for n in range(3):
        s.good("book", "attach", s.write(f"photo-{n}.bin", os.urandom(8 << 20)), "--to", "day", "--book", book)
    waits = s.run("book", "ship", "--book", book)
    s.check("a full disk under the database is said, and the cell keeps what it has", waits.code == 3 and len(waits.err.splitlines()) == 1, waits)
    s.good("book", "note", "while the shop's disk is full", "--book", book)
    os.unlink(filler)
    try:
        server.ask("SELECT 1")
    except RuntimeError:  # it went down for want of room
        server.crash()
        server.start()
    s.check("what it had acknowledged is there", server.number("SELECT count(*) FROM enginewright.fact") >= kept)
    sent = s.run("book", "ship", "--book", book, "--json")
    s.check("and with room again the rest goes", sent.code == 0 and sent.json["sent"] > 0, sent)
    same("after a full disk under the database", book, server.address("reader") + "#Cell 2")

    narrow = disk("narrow", 8)
    mounted.append(narrow)
    tight = os.path.join(narrow, "tight.book")
    s.good("book", "new", "--book", tight, EW_FLOOR_MB="0")
    s.good("book", "join", server.address("cell1"), "--cell", "Tight", "--book", tight)
    path = s.write("run.csv", recordings.sweep(seed=4).text())
    pull = s.run("pull", "add", path, "--book", tight, EW_FLOOR_MB="0")
    s.check("a pull goes in", pull.code == 0, pull)
    fill(os.path.join(narrow, "filler"))
    sent = s.run("book", "ship", "--book", tight, "--json")
    s.check("a full disk under the cell: it is said, or all went", sent.code in (0, 3) and len(sent.err.splitlines()) == (sent.code == 3), sent)
    if os.path.exists(os.path.join(narrow, "filler")):
        os.unlink(os.path.join(narrow, "filler"))
    s.good("book", "ship", "--book", tight)
    same("after a full disk under the cell", tight, server.address("reader") + "#Tight")
finally:
    if server.server and server.server.poll() is None:
        server.stop()
    for folder in mounted:
        subprocess.run(["umount", "-l", folder], check=False)
s.finish()
