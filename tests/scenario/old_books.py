"""Books written by earlier versions of this program (tests/scenario/data/book-N.sql: dumps by sqlite3 of books that the
program of schema N wrote; 13 and 14 are the book of the schema before as the program of theirs brought it up): opened, brought to today's schema whole, every curve computed again to the same bytes. A book
of a later version, and a database of somebody else, are refused and left as they were."""
import calendar
import hashlib
import os
import random
import re
import shutil
import signal
import sqlite3
import subprocess
import time

from harness import Scenario

s = Scenario()
here = os.path.dirname(os.path.abspath(__file__))


def make(number, name):
    path = s.path(name)
    db = sqlite3.connect(path)
    db.executescript(open(os.path.join(here, "data", f"book-{number}.sql"), encoding="utf-8").read())
    db.commit()
    db.close()
    return path


def schema(path):
    db = sqlite3.connect(path)
    version = db.execute("PRAGMA user_version").fetchone()[0]
    db.close()
    return version


def cell(path, sql):
    db = sqlite3.connect(path)
    value = db.execute(sql).fetchone()[0]
    db.close()
    return value


def reduction(path):
    return cell(path, "SELECT reduction FROM curve")


def mark(path):
    return cell(path, "SELECT substr(bytes, 1, 4) FROM curve")


def digest(path):
    with open(path, "rb") as file:
        return hashlib.sha256(file.read()).hexdigest()


NAMED = ("engine", "recording", "pull", "verdict", "calibration", "build", "build_record", "attachment", "note", "mark",
         "alarm_trip", "found", "hold", "amendment", "recorder", "thinning", "change_log")
MADE = {"engine": "added_at", "recording": "added_at", "build": "started_at", "note": "kept_at"}  # else at


def names(path):
    """Of every row that can leave the cell: table, number, name, the time it was made at, cell, writer, day."""
    db = sqlite3.connect(path)
    rows = [(table, *row) for table in NAMED for row in db.execute(
        f"SELECT id, uid, {MADE.get(table, 'at')}, cell, writer, day FROM {table} ORDER BY id")]
    db.close()
    return rows


def unix_ms(uid):
    return int(uid[:8] + uid[9:13], 16)


def told_ms(at):
    at = at if "T" in at else at + "T00:00:00Z"
    whole, _, part = at.rstrip("Z").partition(".")
    return 1000 * calendar.timegm(time.strptime(whole, "%Y-%m-%dT%H:%M:%S")) + round(float("0." + (part or "0")) * 1000)


def check_names(what, path, clock):
    rows, cells = names(path), cell(path, "SELECT value FROM setting WHERE key = 'cell_uid'")
    wrong = [row for row in rows if not re.fullmatch(r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}", row[2])]
    s.check(f"{what}: every row has a name after RFC 9562, version 7", not wrong, wrong[:3])
    s.check(f"{what}: no two are the same", len({row[2] for row in rows}) == len(rows) > 0)
    if clock:
        wrong = [row for row in rows if abs(unix_ms(row[2]) - told_ms(row[3])) > 1]
        s.check(f"{what}: a name holds the time of its row", not wrong, wrong[:3])
    s.check(f"{what}: all are of this cell", {row[4] for row in rows} == {cells}, {row[4] for row in rows})
    db = sqlite3.connect(path)
    writers = {row[0] for row in db.execute("SELECT uid FROM writer")}
    db.close()
    s.check(f"{what}: each says which copy wrote it", {row[5] for row in rows} <= writers, writers)
    return rows


s.good("book", "new", "--book", s.path("new.book"))
now = schema(s.path("new.book"))
known = sorted(int(name[5:-4]) for name in os.listdir(os.path.join(here, "data")) if name.startswith("book-"))
s.check("there is a book of every earlier schema", known[:now - 1] == list(range(1, now)), (known, now))
for number in known:
    path = make(number, f"old-{number}.book")
    stored = mark(path)
    s.check(f"book {number} is of schema {number}", schema(path) == number)
    answer = s.good("book", "verify", "--book", path, "--json").json
    s.check(f"book {number} is whole", answer["whole"] is True and answer["problems"] == [], answer)
    s.check(f"book {number}: an earlier program's curves are told, and differ little",
            answer["earlier_curves"] <= 1 and answer["earlier_most_relative"] < 0.005, answer)
    s.check(f"book {number} is of today's schema", schema(path) == now, schema(path))
    # names that a step gave hold the time of the row; those of a book that a program wrote itself, when it was kept (a pull is older)
    rows = check_names(f"book {number}", path, clock=number < 12)
    s.check(f"book {number}: nothing was written but its names", len({row[5] for row in rows}) == 1, {row[5] for row in rows})
    if number >= 5:  # from there on a book has an identity, which its copies share
        twin = make(number, f"twin-{number}.book")
        s.good("pull", "list", "--book", twin)
        s.check(f"book {number}: a copy brought up apart agrees on every name", names(twin) == rows)
    pulls = s.good("pull", "list", "--book", path, "--json").json["pulls"]
    s.check(f"book {number} keeps its pull", len(pulls) == 1 and pulls[0]["at"].startswith("2026-03-02"), pulls)
    copy = s.path(f"renewed-{number}.book")
    s.good("book", "backup", copy, "--book", path)
    shown = s.good("pull", "curve", 1, "--book", path, "--json").json
    s.check("numbers for keys mean what they meant", shown["method"]["standard"] == "j1349" and shown["kind"] == "sweep" and "bmep_pa" in shown["columns"], shown.get("method"))
    s.check("and are left as they were stored", mark(path) == stored, (stored, mark(path)))
    before = reduction(copy)
    renewed = s.good("book", "renew", "--book", copy, "--json").json["renewed"]
    s.check("curves of an earlier reduction can be computed again", renewed == (before != reduction(copy)), (renewed, before, reduction(copy)))
    s.check("and are stored by keys", mark(copy) == (b"4CWE" if renewed else stored), mark(copy))
    again = s.good("book", "verify", "--book", copy, "--json").json
    s.check("and then are to the byte this program's", again["whole"] and again["earlier_curves"] == 0, again)
    s.check("once", s.good("book", "renew", "--book", copy, "--json").json["renewed"] == 0)
    s.good("pull", "discard", pulls[0]["id"], "--reason", "try", "--book", path)
    s.good("sheet", "report", "--pulls", "1", "--book", path, "--out", s.path(f"{number}.pdf"))
    if number >= 3:
        s.check("build records stand", "1 inlet" in s.good("build", "show", "--book", path).out)
    if number >= 4:
        files = s.good("book", "attached", "--book", path, "--json").json["attachments"]
        s.check("files and notes stand, and do not say when they were taken", len(files) == 2 and all(f["taken_at"] is None for f in files), files)
        s.check("so do notes", [n["text"] for n in s.good("book", "notes", "--book", path, "--json").json["notes"]] == ["drip at the rear main seal: wiped"])

    if number >= 8:
        blocks = cell(path, "SELECT group_concat(recording_id || ' ' || sequence || ' ' || rows) FROM stream_block")
        s.check("blocks of a live recording have their place", blocks == "2 0 40", blocks)
        s.check("and are read by it", s.good("book", "export", s.path("exported"), "--book", path).code == 0)

# answers of before step 11, in the words of their time: each says which pulls it is about in one way afterwards
worded = make(7, "worded.book")
db = sqlite3.connect(worded)
for pulls in ("pulls 8, 10 against pull 9", "pull 8 against pull 9", "8,10:9", "pulls 8, 10", "8"):
    db.execute("INSERT INTO verdict (at, question, pair, pulls, says, json) VALUES ('2026-03-02T10:00:00Z', 'compare', 'p', ?, 'gain', '')", (pulls,))
db.commit()
db.close()
s.good("pull", "list", "--book", worded)
s.check("what an answer is about is written in one way", cell(worded, "SELECT group_concat(pulls, ' ') FROM (SELECT pulls FROM verdict ORDER BY id)") ==
        "8,10:9 8:9 8,10:9 8,10 8", cell(worded, "SELECT group_concat(pulls, ' ') FROM verdict"))

# killed while it is brought up to date: the book is of one schema or the other, whole, and comes up the next time
seed = int(os.environ.get("EW_SEED", "20269"))
chance = random.Random(seed)
kills = int(os.environ.get("EW_KILLS", "10"))
large = make(7, "large.book")
db = sqlite3.connect(large)
more = db.execute("SELECT bytes FROM recording").fetchone()[0] + bytes(200000)
for i in range(150):  # no pulls of theirs: only their bytes must be moved
    db.execute("INSERT INTO recording (name, bytes, sha256, rows, channels, added_at) VALUES (?, ?, ?, 1, 1, '2026-03-02T10:00:00Z')",
               (f"more {i}", more + bytes([i]), hashlib.sha256(more + bytes([i])).hexdigest()))
db.commit()
db.close()


def bring_up(path):
    return subprocess.Popen([s.program, "pull", "list", "--book", path], env=s.environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)


shutil.copy(large, s.path("timed.book"))
begin = time.monotonic()
s.check("a larger book is brought up to date", bring_up(s.path("timed.book")).wait() == 0)
takes = time.monotonic() - begin
uncut = names(s.path("timed.book"))
killed = 0
for i in range(kills):
    path = s.path("cut.book")
    for end in ("", "-wal", "-shm"):
        if os.path.exists(path + end):
            os.remove(path + end)
    shutil.copy(large, path)
    process = bring_up(path)
    try:
        process.wait(timeout=chance.uniform(0, 1.1 * takes))
    except subprocess.TimeoutExpired:
        process.send_signal(signal.SIGKILL)
    process.communicate()
    killed += process.returncode == -signal.SIGKILL
    left = schema(path)
    s.check(f"cut {i}: of one schema or the other", left in (7, now) and (left == now or process.returncode == -signal.SIGKILL), left)
    s.check(f"cut {i}: whole the next time", s.good("book", "verify", "--book", path, "--json").json["whole"])
    s.check(f"cut {i}: with the same names as one that nobody cut", names(path) == uncut)
print(f"bringing 30 MB up to date takes {1000 * takes:.0f} ms; seed {seed}: {killed} of {kills} were killed")

# a copy writes on under a name of its own; the book that was copied keeps its own
first = s.path("new.book")
s.good("book", "set", "--shop", "first", "--book", first)
shutil.copy(first, s.path("carried.book"))
for path in (first, s.path("carried.book"), first, s.path("carried.book")):
    s.good("book", "set", "--shop", "once more", "--book", path)
one, other = (s.run("book", "log", "--book", path) and [row for row in names(path) if row[0] == "change_log"] for path in (first, s.path("carried.book")))
s.check("each copy has one writer's name", len({row[5] for row in one}) == 1 and len({row[5] for row in other}) == 2, (one, other))
s.check("and they are different", one[-1][5] != other[-1][5] and other[0][5] == one[0][5])
s.check("both are of the same cell", {row[4] for row in one} == {row[4] for row in other})
check_names("a book of today", first, clock=True)

# days are the shop's: the machine's zone is written down when the book is made, and days follow it when it is mended
s.environment["TZ"] = "America/Los_Angeles"
west = s.path("west.book")
s.good("book", "new", "--book", west)
s.check("the machine's zone is written down", s.good("book", "info", "--book", west, "--json").json["zone"] == "America/Los_Angeles")
s.good("book", "note", "late in the evening", "--at", "2026-11-02T07:59:59Z", "--book", west)
s.good("book", "note", "after midnight", "--at", "2026-11-02T08:00:00Z", "--book", west)
s.environment["TZ"] = "Asia/Kolkata"  # another machine: the book's own zone holds


def note_days():
    return [n["day"] for n in s.good("book", "notes", "--book", west, "--json").json["notes"]]


s.check("a day ends at the shop's midnight", note_days() == ["2026-11-01", "2026-11-02"], note_days())
s.good("book", "set", "--zone", "Europe/Berlin", "--book", west)
s.check("days follow a zone that is put right", note_days() == ["2026-11-02", "2026-11-02"], note_days())
for wrong in ("Europe/Atlantis", "+02:00", "", "../../etc/passwd"):
    s.refused(f"the zone '{wrong}'", s.run("book", "set", "--zone", wrong, "--book", west), "time zone")
s.refused("a new book of no zone", s.run("book", "new", "--zone", "Mars/Olympus", "--book", s.path("mars.book")), "Mars/Olympus")
s.check("is not begun", not os.path.exists(s.path("mars.book")))
s.check("and nothing was changed", s.good("book", "info", "--book", west, "--json").json["zone"] == "Europe/Berlin")
del s.environment["TZ"]

later = make(known[-1], "later.book")
db = sqlite3.connect(later)
db.execute(f"PRAGMA user_version = {now + 1}")
db.commit()
db.close()
before = digest(later)
s.refused("a book of a later version", s.run("book", "info", "--book", later), "newer version", "update the program")
s.check("is left as it was", digest(later) == before)
other = s.path("other.db")
db = sqlite3.connect(other)
db.execute("CREATE TABLE mine (x)")
db.commit()
db.close()
before = digest(other)
s.refused("a database of somebody else", s.run("pull", "list", "--book", other), "not a book of this program")
s.check("is left as it was too", digest(other) == before)
s.finish()
