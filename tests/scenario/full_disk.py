"""A disk that takes no more, in the middle of everything that writes: told in one line with exit code 3, nothing
half-written, what was there before still whole. A limit on the size of a file stands in for the full disk
(setrlimit(2), RLIMIT_FSIZE; the signal that goes with it is ignored, so that writes fail as on a full disk)."""
import hashlib
import os
import resource
import signal
import subprocess

from harness import Answer, Scenario

s = Scenario()


def limited(size, *args):
    def narrow():
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
    done = subprocess.run([s.program, *map(str, args)], capture_output=True, cwd=s.folder, env=s.environment,
                          stdin=subprocess.DEVNULL, timeout=300, preexec_fn=narrow, check=False)
    return Answer(args, done)


def digest(path):
    with open(path, "rb") as file:
        return hashlib.sha256(file.read()).hexdigest()


made = s.good("demo", "--folder", s.path("day"), "--json").json
book, recordings, report = made["book"], made["recordings"], made["report"]

before = digest(report)
for name in ("report.pdf", "report.svg", "report.png"):
    s.refused(f"{name} on a full disk is told", limited(20_000, "sheet", "report", "--book", book, "--out", os.path.join(s.folder, name)), name, code=3)
s.check("no half sheet is left", not [n for n in os.listdir(s.folder) if n.startswith("report")], os.listdir(s.folder))
s.refused("a sheet over an older one", limited(20_000, "sheet", "report", "--book", book, "--out", report), "report.pdf", code=3)
s.check("leaves the older one as it was", digest(report) == before)

s.refused("a new book", limited(4_000, "book", "new", "--book", s.path("new.book")), "new.book", code=3)
s.check("leaves no empty file behind", not [n for n in os.listdir(s.folder) if n.startswith("new.book")], os.listdir(s.folder))
s.good("book", "new", "--book", s.path("new.book"))

s.refused("a backup", limited(200_000, "book", "backup", s.path("copy.book"), "--book", book), code=3)
s.check("leaves no half copy", not [n for n in os.listdir(s.folder) if n.startswith("copy")], os.listdir(s.folder))
answer = limited(100_000, "book", "export", s.path("open"), "--book", book)
s.check("an export is told", answer.code == 3 and len(answer.err.splitlines()) == 1, answer)

for size in (50_000, 100_000, 200_000, 400_000, 800_000):
    answer = limited(size, "pull", "add", os.path.join(recordings, "run-12.csv"), "--book", s.path("new.book"))
    s.check(f"a recording with {size} bytes left is stored or told", answer.code in (0, 3) and len(answer.err.splitlines()) == (answer.code == 3), answer)
    s.good("book", "verify", "--book", s.path("new.book"))
    if answer.code == 0:
        break
s.check("and goes in when there is room", answer.code == 0 or s.good("pull", "add", os.path.join(recordings, "run-12.csv"), "--book", s.path("new.book")).code == 0)
s.check("once", len(s.good("pull", "list", "--book", s.path("new.book"), "--json").json["pulls"]) == 1)
s.check("the day's book never changed", "whole" in s.good("book", "verify", "--book", book).out)
s.finish()
