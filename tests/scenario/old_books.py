"""Books written by earlier versions of this program (tests/scenario/data/book-N.sql: dumps by sqlite3 of books that the
program of schema N wrote): opened, brought to today's schema whole, every curve computed again to the same bytes. A book
of a later version, and a database of somebody else, are refused and left as they were."""
import hashlib
import os
import sqlite3

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


def program(path):
    return cell(path, "SELECT program FROM curve")


def mark(path):
    return cell(path, "SELECT substr(bytes, 1, 4) FROM curve")


def digest(path):
    with open(path, "rb") as file:
        return hashlib.sha256(file.read()).hexdigest()


s.good("book", "new", "--book", s.path("new.book"))
now = schema(s.path("new.book"))
known = sorted(int(name[5:-4]) for name in os.listdir(os.path.join(here, "data")) if name.startswith("book-"))
s.check("there is a book of every earlier schema", known[:now - 1] == list(range(1, now)), (known, now))
for number in known:
    path = make(number, f"old-{number}.book")
    s.check(f"book {number} is of schema {number}", schema(path) == number)
    answer = s.good("book", "verify", "--book", path, "--json").json
    s.check(f"book {number} is whole", answer["whole"] is True and answer["problems"] == [], answer)
    s.check(f"book {number}: an earlier program's curves are told, and differ little",
            answer["earlier_curves"] <= 1 and answer["earlier_most_relative"] < 0.005, answer)
    s.check(f"book {number} is of today's schema", schema(path) == now, schema(path))
    pulls = s.good("pull", "list", "--book", path, "--json").json["pulls"]
    s.check(f"book {number} keeps its pull", len(pulls) == 1 and pulls[0]["at"].startswith("2026-03-02"), pulls)
    copy = s.path(f"renewed-{number}.book")
    s.good("book", "backup", copy, "--book", path)
    shown = s.good("pull", "curve", 1, "--book", path, "--json").json
    s.check("numbers for keys mean what they meant", shown["method"]["standard"] == "j1349" and shown["kind"] == "sweep" and "bmep_pa" in shown["columns"], shown.get("method"))
    s.check("and are left as they were stored", mark(path) == b"1CWE", mark(path))
    before = program(copy)
    renewed = s.good("book", "renew", "--book", copy, "--json").json["renewed"]
    s.check("curves of an earlier reduction can be computed again", renewed == (before != program(copy)), (renewed, before, program(copy)))
    s.check("and are stored by keys", mark(copy) == (b"3CWE" if renewed else b"1CWE"), mark(copy))
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
s.refused("a database of somebody else", s.run("pull", "list", "--book", other), "no book of this program")
s.check("is left as it was too", digest(other) == before)
s.finish()
