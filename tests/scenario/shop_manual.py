"""Two cells and an office on one machine, from the manual alone: the commands of "Several cells, one shop" as they stand there, each person in a
home of its own that holds nothing else.

What is not as it stands: passwords are set by a statement and not typed at a prompt, and the server listens on another port."""
import os
import re
import shlex
import socket
import subprocess

import recordings
from harness import Scenario
from postgres import PASSWORD, Postgres, binaries

s = Scenario()
if binaries() is None:
    s.skip("the manual's shop", "PostgreSQL is not installed (package postgresql-15)")
    s.finish()
with socket.create_server(("127.0.0.1", 0)) as free:
    port = str(free.getsockname()[1])
server = Postgres(s.folder)
server.stop()
server.start(port=port)
page = open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "docs", "manual", "several-cells.md"), encoding="utf-8").read()
blocks = [re.sub(r"^    ", "", b, flags=re.M).strip().splitlines() for b in re.findall(r"(?:^    .*\n)+", page, re.M)]
blocks, rounds = blocks[:3], blocks[3:]
s.check("the page has three blocks: the database, a cell, the office; and those of a round, which round.py follows", len(blocks) == 3 and
        all(line.startswith("enginewright round ") for block in rounds for line in block), (blocks, rounds))
tools = s.path("bin")
os.makedirs(tools)
os.symlink(s.program, os.path.join(tools, "enginewright"))
PATH = f"{tools}:{server.bin}:/usr/bin:/bin"
line = re.search(r"`(shop\.example:5432:weir:cell1:THE-PASSWORD)`", page)
s.check("it says how a password is kept", line is not None)


def home(name, **more):
    """A person's clean home, with the password file that the page asks for."""
    folder = s.path(name)
    os.makedirs(folder)
    if "PGPASSFILE" not in more:
        kept = line.group(1).replace("localhost", "shop.example").replace("5432", port).replace("cell1", name).replace("THE-PASSWORD", PASSWORD.replace(":", "\\:"))
        with open(os.path.join(folder, ".pgpass"), "w", encoding="utf-8") as file:
            file.write(kept + "\n")
        os.chmod(os.path.join(folder, ".pgpass"), 0o600)
    return {"HOME": folder, "PATH": PATH, "LC_ALL": "C.UTF-8", "PGPORT": port, "PGHOSTADDR": "127.0.0.1", "EW_USER": name, **more}


def does(says, command, who, code=0):
    done = subprocess.run(["bash", "-c", command], env=who, cwd=who["HOME"], capture_output=True, text=True, timeout=120, check=False, stdin=subprocess.DEVNULL)
    s.check(f"{says}: {command[:60]}", done.returncode == code, (done.returncode, done.stdout[-300:], done.stderr[-500:]))
    return done.stdout


database = home("postgres", PGPASSFILE=server.passwords, PGHOST=server.socket, PGUSER="owner")
del database["PGHOSTADDR"]
quoted = PASSWORD.replace("'", "''")
for command in blocks[0]:
    typed = re.search(r'-c "\\password (\w+)"', command)
    if typed:
        command = command.replace(typed.group(0), "-c " + shlex.quote(f"ALTER ROLE {typed.group(1)} PASSWORD '{quoted}'"))
    does("the database", command, database)
cells = {}
for name, called in (("cell1", "Cell 1"), ("cell2", "Cell 2")):
    cells[name] = home(name)
    for command in blocks[1]:
        does(called, re.sub(r"\s+#.*$", "", command).replace("cell1@", f"{name}@").replace("Cell 1", called), cells[name])
for n, (name, who) in enumerate(cells.items()):
    path = os.path.join(who["HOME"], "run.csv")
    with open(path, "w", encoding="utf-8") as file:
        file.write(recordings.sweep(seed=70 + n).text())
    does("a pull", "enginewright pull add run.csv 2>/dev/null", who)
    does("is sent", "enginewright book ship", who)
office = home("reader")
for command in blocks[2]:
    command = re.sub(r"\s+#[^\"]*$", "", command)
    if " serve " in command:
        command = "timeout --preserve-status -s INT 3 " + command + " --port 0"
    out = does("the office", command, office)
    if "shop show" in command:
        s.check("both cells stand there", "Cell 1" in out and "Cell 2" in out, out)
    if "pull list" in command:
        s.check("and the pull", "sweep" in out, out)
for name in cells:
    does("a cell may not read the other", f"enginewright pull list --book 'postgresql://{name}@shop.example/weir#Cell {3 - int(name[-1])}'", cells[name], code=2)
does("a forgotten password file is told", "rm .pgpass; enginewright shop show postgresql://reader@shop.example/weir", office, code=2)
server.stop()
s.finish()
