"""The book as a file: two recorders by two names, hard links, a log that leads elsewhere, disks that are full or can't be
written, who may read it, and backups that are killed.

Outside sources: SQLite, "How To Corrupt An SQLite Database File" (https://www.sqlite.org/howtocorrupt.html: several links to one file)
and "Write-Ahead Logging" (https://www.sqlite.org/wal.html: read-only databases); setrlimit(2), RLIMIT_FSIZE, for a disk that takes nothing.
"""
import hashlib
import json
import os
import resource
import shutil
import signal
import sqlite3
import stat
import subprocess
import time

import recordings
from harness import Answer, Scenario

s = Scenario()
os.umask(0o022)
LOOKS = (("book", "info"), ("book", "verify"), ("pull", "list"), ("pull", "show", "1"), ("pull", "curve", "1"))


def mode(path):
    return stat.S_IMODE(os.stat(path).st_mode)


def digest(path):
    with open(path, "rb") as file:
        return hashlib.sha256(file.read()).hexdigest()


def shop(name):
    path = s.path(name)
    s.write("engine.yaml", recordings.ENGINE)
    s.good("engine", "add", s.path("engine.yaml"), "--book", path)
    s.good("pull", "add", s.write("run.csv", recordings.sweep().text()), "--book", path)
    return path


# ---- one recorder, by whatever name
book = shop("shop.book")
os.symlink(book, s.path("link.book"))
os.mkdir(s.path("other"))
os.symlink(s.path("other"), s.path("folder"))
os.symlink(book, s.path("other/by-folder.book"))
recorder = subprocess.Popen([s.program, "cell", "record", "--json", "--source", "stdin:", "--control", "/dev/null", "--book", book], stdin=subprocess.PIPE,
                            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=s.environment)


def feed(first, rows=200):
    recorder.stdin.write("".join(f"{(first + n) / 100:.2f},{3000 + n % 7},{n}\n" for n in range(rows)))
    recorder.stdin.flush()


def stored(rows):
    for line in recorder.stdout:
        event = json.loads(line)
        if event["event"] == "commit" and event["stored_rows"] >= rows:
            return True
    return False


recorder.stdin.write("Time [s],RPM [rpm],Number\n")
feed(0)
s.check("the first recorder stores", stored(100))
for says, path in (("its own name", book), ("a symbolic link", s.path("link.book")), ("a link in a linked folder", s.path("folder/by-folder.book"))):
    s.refused(f"a second recorder by {says}", s.run("cell", "record", "--source", "practice:?pace=0&run=wait 1;end", "--book", path, timeout=30), "another recorder")
os.rename(book, s.path("moved.book"))
s.refused("a second recorder by its new name", s.run("cell", "record", "--source", "practice:?pace=0&run=wait 1;end", "--book", s.path("moved.book"), timeout=30), "another recorder")
s.refused("a look by its new name, which lacks its log", s.run("pull", "list", "--book", s.path("moved.book")), "another name")
os.rename(s.path("moved.book"), book)
feed(200)
s.check("the first one goes on", stored(300))
db = sqlite3.connect(book)
s.check("and its recording was never closed", db.execute("SELECT count(*) FROM stream WHERE how IS NOT NULL").fetchone()[0] == 0)
db.close()
recorder.stdin.close()
recorder.stdout.read()
recorder.stdout.close()
s.check("it ends in order", recorder.wait(timeout=30) == 0)
answer = s.run("cell", "record", "--source", "practice:?pace=0&run=wait 1;end", "--book", s.path("link.book"))
s.check("then another may record, through the link too", answer.code == 0, answer)
s.check("nothing is left beside the book", sorted(n for n in os.listdir(s.folder) if n.startswith("shop.book")) == ["shop.book"], os.listdir(s.folder))
s.good("book", "verify", "--book", book)

# ---- two names of one file
os.link(book, s.path("second.book"))
before = digest(book)
for look in LOOKS + (("cell", "record", "--source", "practice:?pace=0&run=wait 1;end"), ("book", "set", "--shop", "x")):
    for path in (book, s.path("second.book")):
        s.refused(f"a file with two names: {look[:2]}", s.run(*look, "--book", path), "hard links", "'cp'")
s.check("and is left as it was", digest(book) == before)
os.remove(s.path("second.book"))
s.good("pull", "list", "--book", book)
for end in ("-wal", "-shm", "-journal"):
    mine = s.write("mine.txt", "mine alone\n" * 400)
    os.symlink(mine, book + end)
    s.refused(f"a {end} that leads elsewhere", s.run("book", "set", "--shop", "x", "--book", book), end)
    os.remove(book + end)
    s.check("nothing is written there", digest(mine) == hashlib.sha256(b"mine alone\n" * 400).hexdigest())


# ---- a disk that takes nothing, and one that can't be written
def full(*args):
    def narrow():
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
    done = subprocess.run([s.program, *map(str, args)], capture_output=True, cwd=s.folder, env=s.environment, stdin=subprocess.DEVNULL, timeout=300, preexec_fn=narrow,
                          check=False)
    return Answer(args, done)


usual = {look: s.good(*look, "--book", book).out for look in LOOKS}
note = "note: this book can only be read"
for look in LOOKS:
    answer = full(*look, "--book", book)
    s.check(f"on a full disk: {' '.join(look)} is read", answer.code == 0 and answer.err == "" and answer.out.split(note)[0].strip() == usual[look].strip(), answer)
s.check("and it is reported", full("book", "info", "--book", book, "--json").json["read_only"] is True)
before = digest(book)
s.refused("a change on a full disk", full("book", "set", "--shop", "x", "--book", book), "is read-only", code=3)
s.check("changes nothing", digest(book) == before)
keep = sqlite3.connect(book)
keep.execute("PRAGMA wal_autocheckpoint = 0")
keep.execute("UPDATE setting SET value = value")
keep.execute("INSERT INTO setting (key, value) VALUES ('shop_line', 'in the log')")
keep.commit()
for end in ("", "-wal"):
    shutil.copy(book + end, s.path("crashed.book") + end)
keep.close()
s.refused("rows that wait in a log are not passed over", full("pull", "list", "--book", s.path("crashed.book")), "-wal", "free some space")
s.check("with space they are read", s.good("book", "set", "--shop", "y", "--book", s.path("crashed.book")) and
        sqlite3.connect(s.path("crashed.book")).execute("SELECT value FROM setting WHERE key = 'shop_line'").fetchone() == ("in the log",))
old = s.path("old.book")
db = sqlite3.connect(old)
with open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "data", "book-5.sql"), encoding="utf-8") as file:
    db.executescript(file.read())
db.close()
s.refused("an older book on a full disk", full("pull", "list", "--book", old), "copy it", code=2)
if os.getuid() == 0:
    other = 65534
    os.makedirs(s.path("locked"))
    shutil.copy(book, s.path("locked/shop.book"))
    os.chmod(s.path("locked/shop.book"), 0o444)
    os.chmod(s.path("locked"), 0o555)
    probe = s.run("--version", user=other) if os.access(s.program, os.X_OK) else None
    for look in LOOKS:
        answer = s.run(*look, "--book", s.path("locked/shop.book"), user=other)
        s.check(f"may not be written: {' '.join(look)} is read", answer.code == 0 and answer.out.split(note)[0].strip().replace("locked/", "") == usual[look].strip(), answer)
    s.refused("a change", s.run("book", "set", "--shop", "x", "--book", s.path("locked/shop.book"), user=other), "is read-only", code=3)
    s.refused("a recording", s.run("cell", "record", "--source", "practice:?pace=0&run=wait 1;end", "--book", s.path("locked/shop.book"), user=other, timeout=60), "the book is read-only", code=3)
    s.check("leaves nothing", os.listdir(s.path("locked")) == ["shop.book"], os.listdir(s.path("locked")))
    os.chmod(s.path("locked"), 0o755)

# ---- who may read it
s.check("a book is its owner's", mode(book) == 0o600, oct(mode(book)))
s.good("book", "new", "--book", s.path("new.book"))
s.check("a new one too", mode(s.path("new.book")) == 0o600)
s.good("book", "new", "--shared", "--book", s.path("shared.book"))
s.check("unless asked otherwise", mode(s.path("shared.book")) == 0o644)
s.run("cell", "record", "--source", "practice:?pace=0&run=wait 1;end", "--book", s.path("recorded.book"))
s.check("one that a recording made", mode(s.path("recorded.book")) == 0o600)
s.good("book", "backup", s.path("copy.book"), "--book", s.path("shared.book"))
s.check("a backup, of a shared book too", mode(s.path("copy.book")) == 0o600)
s.good("book", "backup", s.path("shared-copy.book"), "--shared", "--book", book)
s.check("a shared backup", mode(s.path("shared-copy.book")) == 0o644)
s.good("book", "export", s.path("open"), "--book", book)
modes = {mode(s.path("open"))} | {mode(os.path.join(s.path("open"), n)) for n in os.listdir(s.path("open"))}
s.check("an export", modes == {0o700, 0o600}, [oct(m) for m in modes])
s.good("book", "export", s.path("shared-open"), "--shared", "--book", book)
modes = {mode(s.path("shared-open"))} | {mode(os.path.join(s.path("shared-open"), n)) for n in os.listdir(s.path("shared-open"))}
s.check("a shared export", modes == {0o755, 0o644}, [oct(m) for m in modes])

# ---- backups that are stopped or killed
db = sqlite3.connect(book)  # many rows, so that a copy takes its time
db.executemany("INSERT INTO change_log (at, who, what, detail, uid, day, cell, writer) SELECT '2026-01-01T00:00:00.000000Z', 'tester', 'filler', ?1, "
               "printf('00000000-0000-7000-8000-%s', lower(hex(randomblob(6)))), '2026-01-01', cell, uid FROM writer ORDER BY uid LIMIT 1", ((os.urandom(20000).hex(),) for _ in range(1500)))
db.commit()
db.close()
os.mkdir(s.path("stick"))


def parts():
    return [n for n in os.listdir(s.path("stick")) if ".part-" in n]


def cut_short(number, how):
    process = subprocess.Popen([s.program, "book", "backup", s.path("stick/friday.book"), "--book", book], env=s.environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    while process.poll() is None and not any(os.path.getsize(os.path.join(s.path("stick"), n)) > (1 << 20) for n in parts()):
        time.sleep(0.001)
    process.send_signal(how)
    process.communicate(timeout=60)
    return process.returncode


for number in range(3):
    code = cut_short(number, signal.SIGTERM)
    s.check("told to end, it leaves nothing", os.listdir(s.path("stick")) == [] and code == 2, (code, os.listdir(s.path("stick"))))
code = cut_short(0, signal.SIGKILL)
s.check("killed, it leaves a part that is no book of that name", code == -signal.SIGKILL and parts() == os.listdir(s.path("stick")), os.listdir(s.path("stick")))
s.write("stick/notes.part-1.txt", "mine")
s.good("book", "backup", s.path("stick/saturday.book"), "--book", book)
s.check("and the next one clears up, but for what isn't its own", sorted(os.listdir(s.path("stick"))) == ["notes.part-1.txt", "saturday.book"], os.listdir(s.path("stick")))
s.good("book", "verify", "--book", s.path("stick/saturday.book"))
s.finish()
