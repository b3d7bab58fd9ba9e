"""The manual and the README, followed to the letter: every block marked `sh` is run, in the order of the pages, in one clean
folder that holds `examples`; a block marked `text` after it quotes lines that must have been printed.

What a page says that cannot be run as it stands here is listed in INSTEAD, with the reason.
"""
import os
import re
import shutil
import signal
import socket
import subprocess
import time

import recordings
from harness import Scenario

s = Scenario()
root = os.path.abspath(os.path.join(os.path.dirname(__file__), "..", ".."))
manual = os.path.join(root, "docs", "manual")
pages = [name for name in re.findall(r"\(([a-z-]+\.md)\)", open(os.path.join(manual, "README.md"), encoding="utf-8").read())]
there = sorted(n for n in os.listdir(manual) if n.endswith(".md") and n != "README.md")
s.check("every page is in the list of pages", sorted(set(pages)) == there, (pages, there))

work = s.path("work")
os.makedirs(os.path.join(work, "bin"))
os.symlink(s.program, os.path.join(work, "bin", "enginewright"))
os.symlink(os.path.join(root, "examples"), os.path.join(work, "examples"))
environment = {**s.environment, "PATH": os.path.join(work, "bin") + ":" + s.environment["PATH"]}
# a logger on this machine, in the place of the one at an address kept for documents (RFC 5737)
logger = subprocess.Popen([s.program, "cell", "simulate", "--port", "0", "--seed", "3"], stdout=subprocess.PIPE, text=True,
                          stdin=subprocess.DEVNULL, env=environment)
port = re.search(r":(\d+)$", logger.stdout.readline().strip()).group(1)
with socket.create_server(("127.0.0.1", 0)) as free:
    other = str(free.getsockname()[1])
INSTEAD = [("tcp://192.0.2.7:5000", f"tcp://127.0.0.1:{port}"), ("--port 5000", f"--port {other}"),
           ("build/enginewright", "enginewright"),
           ("--until 2026-12-31", "--until " + time.strftime("%Y-%m-%d", time.gmtime(time.time() + 30 * 86400))),  # a day to come, whenever this runs
           ("--to mqtts://broker.example/weir/cell-1 --login cell1 --password-file broker.password", "--to mqtt://127.0.0.1:1/weir/cell-1"),  # nobody there: it is tried again
           ("-keyout ca.key", "-nodes -keyout ca.key")]  # a test types no passphrase
ELSEWHERE = {"cell-computer.md": "wants a disk to write to: tests/image",
             "several-cells.md": "wants a database: tests/scenario/shop_manual.py follows it"}
ENDLESS = re.compile(r"^enginewright (cell (record|simulate)|(share )?serve|share publish)(?!.*\bend\b)")  # until Ctrl-C: which a test has to press


def blocks(path):
    """(kind, text) of each fenced block, in order."""
    return re.findall(r"^```(\w*)\n(.*?)^```$", open(path, encoding="utf-8").read(), re.M | re.S)


def script_of(block):
    """The block as a script that stops at the first thing that goes wrong. A command that is marked may answer no."""
    lines = ["set -eo pipefail"]
    for line in block.splitlines():
        for is_written, runs in INSTEAD:
            line = line.replace(is_written, runs)
        command = re.sub(r"\s+#.*$", "", line)
        if ENDLESS.match(command):  # and Ctrl-C is answered with 0
            line = f"timeout --preserve-status -s INT 3 {command}"
        elif line.startswith("openssl "):  # which prints its progress where errors go
            line = f"{line} 2> /dev/null"
        elif "exit code 1" in line:
            line = f"{command} || [ $? = 1 ]"
        lines.append(line)
    return "\n".join(lines) + "\n"


def follow(name, path, folder):
    last, count = "", 0
    for kind, text in blocks(path):
        if kind == "sh":
            done = subprocess.run(["bash", "-c", script_of(text)], cwd=folder, env=environment, capture_output=True, text=True,
                                  timeout=400, check=False, stdin=subprocess.DEVNULL)
            no = [line for line in done.stderr.splitlines() if line.strip()]
            allowed = "exit code 1" in text
            s.check(f"{name}: runs:\n{text}", done.returncode == 0 and (allowed or not no), (done.returncode, done.stderr[-800:]))
            last, count = done.stdout + done.stderr, count + 1
        elif kind == "yaml":  # a part of a file
            continue
        elif kind in ("nginx", "conf", "acl"):  # tests/scenario/share.py and share_live.py serve by them
            continue
        elif kind == "text":
            for line in filter(str.strip, text.splitlines()):
                s.check(f"{name}: still prints '{line}'", line.strip() in last, last[-1500:])
        else:
            s.check(f"{name}: a block is marked sh or text", False, (kind, text[:200]))
    for picture in re.findall(r"!\[[^\]]*\]\(([^)]+)\)", open(path, encoding="utf-8").read()):
        s.check(f"{name}: the picture {picture} is there", os.path.exists(os.path.join(os.path.dirname(path), picture)))
    for link in re.findall(r"[^!]\[[^\]]*\]\(([^)#]+)\)", open(path, encoding="utf-8").read()):
        s.check(f"{name}: the link {link} leads somewhere", "://" in link or
                os.path.exists(os.path.join(os.path.dirname(path), link)), link)
    return count


try:
    for page in pages:
        count = follow(page, os.path.join(manual, page), work)
        s.check(f"{page} has commands that run", count > 0 or page in ELSEWHERE)
    follow("docs/manual/README.md", os.path.join(manual, "README.md"), work)

    # the README: a folder of its own, with the files that it names and the logger's own recordings
    other = s.path("readme")
    os.makedirs(other)
    environment["XDG_DATA_HOME"] = s.path("readme-data")
    os.symlink(os.path.join(root, "examples"), os.path.join(other, "examples"))
    for script in ("run", "test"):
        s.check(f"script/{script} is there and can be run", os.access(os.path.join(root, "script", script), os.X_OK))
    os.makedirs(os.path.join(other, "script"))
    for script in ("run", "test"):  # they install packages and build: continuous integration runs them whole
        s.write(f"readme/script/{script}", "#!/bin/sh\n")
        os.chmod(os.path.join(other, "script", script), 0o755)
    for n, name in enumerate(["monday", "before", "after", "run-01", "run-02", "run-03", "run-04", "run-05"]):
        s.write(f"readme/{name}.csv", recordings.sweep(seed=n + 1).text())
    s.write("readme/cell.yaml", recordings.CELL)
    s.check("the README has commands that run", follow("README.md", os.path.join(root, "README.md"), other) > 2)
finally:
    logger.send_signal(signal.SIGINT)
    logger.wait(timeout=20)
shutil.rmtree(work, ignore_errors=True)
s.finish()
