"""Books that somebody else made to hurt: structure that this program never made, values that its tables forbid, figures
beyond every range, pages changed at random. Each is refused in one sentence or read as far as it goes; nothing crashes,
nothing is written by looking, nothing hangs.

Outside source: what SQLite's own documentation advises for files that aren't trusted (https://www.sqlite.org/security.html).
EW_MUTATIONS tells how many of the values and pages are tried (60; all: every value); EW_SEED sets the seed, which is printed.
"""
import hashlib
import os
import random
import re
import shutil
import sqlite3
import struct

import pictures
import recordings
from harness import Scenario

s = Scenario()
good = s.path("good.book")
LOOKS = (("book", "info"), ("book", "verify"), ("pull", "list"), ("pull", "show", "1"), ("pull", "curve", "1"), ("sheet", "report", "--out", s.path("out.pdf")))
MORE = (("sheet", "day", "--out", s.path("out.pdf")), ("book", "export", s.path("exported")), ("job", "list"), ("job", "show", "1"), ("job", "due"), ("build", "show"), ("cell", "repeatability"), ("cell", "calibrations"),
        ("compare", "1", "2"), ("book", "attached", "--all"), ("book", "notes"), ("engine", "show"), ("sheet", "care", "--out", s.path("out.pdf")),
        ("cell", "alarms", "tripped"), ("pull", "explain", "1", "--rpm", "5000 rpm"))


def make():
    s.write("engine.yaml", recordings.ENGINE)
    s.good("engine", "add", s.path("engine.yaml"), "--book", good)
    for seed in (1, 2):
        s.good("pull", "add", s.write(f"run-{seed}.csv", recordings.sweep(seed=seed).text()), "--at", f"2026-03-0{seed}T10:00:00Z", "--book", good)
    s.good("build", "start", "--build", "first", "--book", good)
    s.good("build", "measure", "main clearance", "1", "2.4 thou", "2.5 thou", "--book", good)
    s.good("build", "part", "piston", "--batch", "B7", "--book", good)
    s.good("price", "load", os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "examples", "prices", "shop.csv"), "--book", good)
    s.good("job", "new", "six", "--customer", "A. Weir", "--wish", "more", "--book", good)
    s.good("job", "quote", "six", "pistons=6", "assembly=8", "--book", good)
    s.good("book", "attach", s.write("plug.png", pictures.png(8, 8)), "--to", "pull:1", "--note", "plug", "--book", good)
    s.good("book", "note", "a drip at the seal", "--book", good)
    s.good("cell", "check-weight", "98.2 N.m", "98.1 N.m", "--book", good)
    s.good("compare", "1", "2", "--book", good)
    live = s.run("cell", "record", "--source", "practice:?pace=0&seed=3&run=wait 2;speed 5000;throttle 60;wait 4;fault oil-pump;wait 12;end", "--book", good)
    s.check("a live recording", live.code in (0, 1), live)
    s.good("cell", "found", "1", "--what", "sump low", "--who", "tester", "--book", good)
    s.run("cell", "record", "--source", "practice:?pace=0&seed=3&run=wait 200;end", "--book", good)
    s.good("book", "set", "--idle-whole", "10 ms", "--idle-around", "10 ms", "--book", good)
    s.check("idle samples are thinned", s.good("book", "thin", "--book", good, "--json").json["changed"])
    s.good("book", "info", "--book", good)  # what it works out is kept
    db = sqlite3.connect(good)
    db.execute("INSERT INTO mark (recording_id, at, time_s, text, uid, cell, writer, day) SELECT s.recording_id, began_at, 1.5, 'smoke', printf('00000000-0000-7000-8000-%s', lower(hex(randomblob(6)))), cell, writer, day FROM stream s JOIN recording r ON r.id = s.recording_id")
    db.execute("INSERT INTO stream_pull (recording_id, cut_id, from_s, to_s, near) SELECT min(recording_id), 1, 0, 1, '[]' FROM stream")
    name = "printf('00000000-0000-7000-8000-%s', lower(hex(randomblob(6))))"
    who = f"{name}, cell, writer, day FROM pull WHERE id = 2"
    what = '{"id":"test.odd","arguments":{}}'
    db.execute(f"INSERT INTO amendment (pull_id, reading, at, who, reason, changes, uid, cell, writer, day) SELECT id, 2, at, 'me', 'wrong', '{what}', {who}")
    db.execute(f"INSERT INTO hold (pull_id, finding, at, answered_at, who, answer, reason, amendment_id, uid, cell, writer, day) SELECT id, '{what}', at, at, 'me', 'amended', 'wrong', 1, {who}")
    db.execute(f"INSERT INTO recorder (name, version, yaml, at, who, uid, cell, writer, day) SELECT 'bench', 1, '', at, 'me', {who}")
    db.execute("INSERT INTO recorder_mark (fingerprint, name, at) VALUES ('abc', 'bench', '2026-03-02T10:00:00Z')")
    db.execute("INSERT INTO former (pull_id, reading, part, kind, at, day, engine_id, run, mounting, purpose, setup, told, method, cell_record, engine, bytes, digest, program) SELECT p.id, 1, part, kind, at, day, engine_id, run, mounting, purpose, setup, told, method, c.cell, engine, bytes, digest, program FROM pull p JOIN curve c ON c.pull_id = p.id WHERE p.id = 2")
    db.execute("UPDATE pull SET reading = 2 WHERE id = 2")
    db.execute("INSERT INTO shop (address, role, joined_at, shipped, shipped_at, clock_s) VALUES ('postgresql://shop.example/weir', 'cell', '2026-03-02T10:00:00Z', 1, '2026-03-02T10:00:00Z', 0.1)")
    db.execute("INSERT INTO outbox (seq, mark, what, number, key) VALUES (1, 1, 'pull', 1, NULL)")
    db.execute("INSERT INTO outbox (seq, mark, what, number, key) VALUES (2, 2, 'setting', NULL, 'paper')")
    db.commit()
    empty = [t for (t,) in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'") if not db.execute(f"SELECT count(*) FROM {t}").fetchone()[0]]
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    db.close()
    s.check("a book with a row in every table", set(empty) <= {"channel_map"}, empty)


def copy(name):
    path = s.path(name)
    for end in ("", "-wal", "-shm"):
        if os.path.exists(path + end):
            os.remove(path + end)
    shutil.copy(good, path)
    return path


def schema(path, edit):
    """Edits the text of the schema behind SQLite's back: edit(db) with writable_schema on."""
    db = sqlite3.connect(path, isolation_level=None)
    db.execute("PRAGMA writable_schema = ON")
    edit(db)
    db.execute("PRAGMA writable_schema = RESET")
    db.close()


def spoil(path, table, column, value):
    """A value that the table forbids, with the table's text as it was: NOT NULL and STRICT are taken off and put back."""
    kept = {}

    def strip(db):
        kept["sql"] = db.execute("SELECT sql FROM sqlite_schema WHERE name = ?", (table,)).fetchone()[0]
        loose = re.sub(r" NOT NULL| REFERENCES \w+\(\w+\)", "", kept["sql"]).replace(" STRICT", "")
        db.execute("UPDATE sqlite_schema SET sql = ? WHERE name = ?", (loose, table))

    schema(path, strip)
    db = sqlite3.connect(path)
    try:
        db.execute(f"UPDATE {table} SET {column} = {value}")
        db.commit()
    except sqlite3.Error:
        return False
    finally:
        db.close()
        schema(path, lambda db: db.execute("UPDATE sqlite_schema SET sql = ? WHERE name = ?", (kept["sql"], table)))
    return True


def digest(path):
    with open(path, "rb") as file:
        return hashlib.sha256(file.read()).hexdigest()


def sound(says, answer, codes=(0, 1, 2, 3)):
    """Whatever it says, it says it in order: a code of its own, at most one line of complaint, no killed program, no sanitizer."""
    lines = answer.err.splitlines()
    return s.check(says, answer.code in codes and len(lines) <= 1 and "Sanitizer" not in answer.err and "runtime error" not in answer.err and
                   "CRITICAL" not in answer.err and (answer.code < 2 or (len(lines) == 1 and lines[0].startswith("enginewright: "))), answer)


def foreign(says, path, *words):
    """Refused by every command, and left as it was."""
    db = sqlite3.connect(path)  # an honest log of writes holds nothing that this must wait for
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    db.close()
    before = digest(path)
    for look in LOOKS + (("pull", "add", s.path("run-1.csv")), ("book", "backup", s.path("never.book")), ("cell", "record", "--source", "practice:?pace=0&run=wait 1;end")):
        s.refused(f"{says}: {' '.join(look[:2])}", s.run(*look, "--book", path, timeout=60), *words)
    s.check(f"{says}: nothing was written", digest(path) == before)


make()
for look in LOOKS:
    s.check(f"the book as it is: {look}", s.run(*look, "--book", good).code == 0, look)

# ---- a sheet that lacks a part is none: it would say that nobody ran it
path = copy("lacking.book")
s.check("a pull's purpose is taken away", spoil(path, "pull", "purpose", "NULL"))
for sheet in ("day", "report"):
    out = s.path(f"lacking-{sheet}.pdf")
    s.refused(f"sheet {sheet} of pulls that can't be read", s.run("sheet", sheet, "--out", out, "--book", path), "damaged")
    s.check(f"and no sheet {sheet} is left", not os.path.exists(out))

# ---- structure that this program never made
path = copy("version.book")
for version in (-7, 0, -2**31):
    db = sqlite3.connect(path)
    db.execute(f"PRAGMA user_version = {version}")
    db.close()
    foreign(f"version {version}", path, "version.book")
STRUCTURE = {
    "a trigger that eats rows": "CREATE TRIGGER eats AFTER INSERT ON recording BEGIN DELETE FROM recording WHERE id = new.id; END",
    "a trigger that rewrites torque": "CREATE TRIGGER lies AFTER INSERT ON pull BEGIN UPDATE pull SET band_mean_n_m = 999; END",
    "a view": "CREATE VIEW extra AS SELECT * FROM pull",
    "a view that never ends": "CREATE VIEW endless AS WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n) SELECT x FROM n",
    "a table of somebody else": "CREATE TABLE other (x)",
    "an index of somebody else": "CREATE INDEX slow ON pull(purpose)",
    "a column more": "ALTER TABLE pull ADD COLUMN extra TEXT",
    "a generated column": "ALTER TABLE pull ADD COLUMN twice REAL GENERATED ALWAYS AS (top_rpm * 2) VIRTUAL",
    "an index less": "DROP INDEX pull_engine",
    "a table that is another table's view": "ALTER TABLE note RENAME TO other; CREATE VIEW note AS SELECT * FROM other",
    "a column renamed": "ALTER TABLE note RENAME COLUMN kept_at TO stored_at",
}
for says, sql in STRUCTURE.items():
    path = copy("structure.book")
    db = sqlite3.connect(path)
    db.executescript(sql)
    db.close()
    foreign(says, path, "structure")
TEXTS = {
    "NOT NULL taken off": ("note", "text TEXT NOT NULL", "text TEXT"),
    "STRICT taken off": ("pull", ") STRICT", ")"),
    "a check that never ends": ("curve", "program TEXT NOT NULL", "program TEXT NOT NULL CHECK (length(hex(zeroblob(100000000))) > 0)"),
    "a default that runs": ("note", "withdrawn TEXT", "withdrawn TEXT DEFAULT (hex(randomblob(9)))"),
    "a key that cascades": ("curve", "REFERENCES pull(id)", "REFERENCES pull(id) ON DELETE CASCADE"),
}
for says, (table, old, new) in TEXTS.items():
    path = copy("text.book")
    schema(path, lambda db: db.execute("UPDATE sqlite_schema SET sql = replace(sql, ?, ?) WHERE name = ?", (old, new, table)))
    foreign(says, path, "structure")

# ---- values that no table of this program takes
blocks = {"2^61 rows": 2**61, "no rows": 0, "rows below zero": -1, "all the rows there are": 2**63 - 1, "rows that overflow with the columns": 2**60 + 1}
for says, rows in blocks.items():
    path = copy("blocks.book")
    db = sqlite3.connect(path)
    db.execute("UPDATE stream_block SET rows = ?", (rows,))
    db.commit()
    db.close()
    answer = s.run("book", "verify", "--book", path)
    s.check(f"a block of {says} is found", answer.code == 1 and "block" in answer.out + answer.err, answer)
    s.refused(f"a block of {says} is not read", s.run("book", "export", s.path("blocks"), "--book", path), "block")
    shutil.rmtree(s.path("blocks"), ignore_errors=True)
    sound(f"a block of {says} in the ledger", s.run("book", "info", "--book", path))
for says, channels in {"not JSON": "{", "a number": "7", "a list of numbers": "[1,2]", "a name less": '[{"name":"x","unit":"bar"}]', "no unit": '[{"name":"x"}]',
                       "none": "[]", "another name": None}.items():
    path = copy("channels.book")
    db = sqlite3.connect(path)
    if channels is None:
        channels = db.execute("SELECT channels FROM stream").fetchone()[0].replace("Oil", "Oi1")
    db.execute("UPDATE stream SET channels = ?", (channels,))
    db.commit()
    db.close()
    answer = s.run("book", "verify", "--book", path)
    s.check(f"channels that are {says} are found", answer.code == 1 and "channels" in answer.out + answer.err, answer)
    for look in LOOKS + (("book", "export", s.path("channels")),):
        sound(f"channels that are {says}: {look[:2]}", s.run(*look, "--book", path))
    shutil.rmtree(s.path("channels"), ignore_errors=True)

# ---- a curve's bytes, with the digest that fits them
db = sqlite3.connect(good)
blob = db.execute("SELECT bytes FROM curve WHERE pull_id = 1").fetchone()[0]
db.close()


def with_curve(bytes_):
    path = copy("curve.book")
    db = sqlite3.connect(path)
    db.execute("UPDATE curve SET bytes = ?, digest = ? WHERE pull_id = 1", (bytes_, hashlib.sha256(bytes_).hexdigest()))
    db.commit()
    db.close()
    return path


def put(offset, data):
    return blob[:offset] + data + blob[offset + len(data):]


method = blob.index(struct.pack("<3d", 100, 400, 250))
for says, bytes_ in {
        "a standard that nobody knows": blob.replace(b"j1349\0", b"j1350\0"), "a standard of 2^40 letters": put(blob.index(b"j1349\0") - 8, struct.pack("<q", 2**40)),
        "points 1e-9 rpm apart": put(method, struct.pack("<d", 1e-9)), "a window that is no number": put(method + 8, struct.pack("<d", float("nan"))),
        "the mark of another": b"XXXX" + blob[4:], "cut short": blob[:-8], "longer": blob + b"\0", "empty": b""}.items():
    path = with_curve(bytes_)
    s.refused(f"a curve with {says}", s.run("pull", "curve", "1", "--book", path), "curve")
    answer = s.run("book", "verify", "--book", path)
    s.check(f"a curve with {says} is found", answer.code == 1 and "pull 1" in answer.out + answer.err, answer)
    for look in LOOKS:
        sound(f"a curve with {says}: {look[:2]}", s.run(*look, "--book", path))

# ---- every value of every table, and pages changed at random
seed = int(os.environ.get("EW_SEED", "13"))
chance = random.Random(seed)
wanted = os.environ.get("EW_MUTATIONS", "60")
db = sqlite3.connect(good)
columns = [(t, c[1], c[2]) for (t,) in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%'").fetchall()
           for c in db.execute(f"PRAGMA table_info({t})").fetchall()]
db.close()
VALUES = {"TEXT": ("NULL", "''", "CAST(x'41ff42' AS TEXT)", "CAST(x'4100' AS TEXT)", "'%s%n{'", "7", "printf('%.*c', 70000, 'x')"),
          "INTEGER": ("NULL", "-9223372036854775808", "9223372036854775807", "0", "-1", "1.5", "'x'"),
          "REAL": ("NULL", "9e999", "-9e999", "1e300", "-1", "'x'"), "BLOB": ("NULL", "x''", "zeroblob(1)", "7", "randomblob(9999)")}
plan = [(t, c, v) for t, c, kind in columns for v in VALUES[kind]]
if wanted != "all":
    plan = chance.sample(plan, int(wanted))
for table, column, value in plan:
    path = copy("value.book")
    if not spoil(path, table, column, value):
        continue
    for look in LOOKS + (MORE if wanted == "all" else tuple(chance.sample(MORE, 2))):
        sound(f"{table}.{column} = {value}: {' '.join(look[:2])}", s.run(*look, "--book", path, timeout=60))
        shutil.rmtree(s.path("exported"), ignore_errors=True)
size = os.path.getsize(good)
for number in range(200 if wanted == "all" else int(wanted) // 2):
    path = copy("page.book")
    with open(path, "r+b") as file:
        for _ in range(chance.choice((1, 3, 30))):
            at = chance.randrange(0, size) if chance.random() < 0.6 else chance.randrange(0, size // 4096) * 4096 + chance.randrange(0, 110)
            file.seek(max(at, 16))
            file.write(chance.choice((b"\0", b"\xff", b"\x7f", bytes([chance.randrange(256)]), chance.randbytes(4), chance.randbytes(60))))
    for look in LOOKS + tuple(chance.sample(MORE, 2)):
        sound(f"page {number}: {' '.join(look[:2])}", s.run(*look, "--book", path, timeout=60))
        shutil.rmtree(s.path("exported"), ignore_errors=True)
print(f"seed {seed}: {len(plan)} values")
s.finish()
