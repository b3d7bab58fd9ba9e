"""No figure that is not finite is ever printed as a number: not by a cell without a sample, not by a comparison without
history, not by pulls that are equal to the last digit, not by channels that are lost. And no sentence of the program goes
round the one formatter that sees to it.

Usage: figures.py PROGRAM"""
import os
import re
import socket
import subprocess
import threading

import recordings
from harness import Scenario

s = Scenario()
NOT_FINITE = re.compile(r"(?<![A-Za-z])[-+]?(nan|inf|infinity)(?![A-Za-z])", re.IGNORECASE)


def silent_of(says, text):
    found = NOT_FINITE.search(text)
    s.check(f"{says}: no figure that is none", not found, text[max(0, (found.start() if found else 0) - 160):][:400])


def look(says, *args, code=0):
    for more in ((), ("--json",)):
        answer = s.run(*args, *more)
        s.check(f"{says}: exit {code}", answer.code == code, answer)
        silent_of(says, answer.out + answer.err)
    return answer


# a cell from which nothing comes
listener = socket.create_server(("127.0.0.1", 0))
peers = []
threading.Thread(target=lambda: peers.append(listener.accept()), daemon=True).start()
ended = subprocess.run([s.program, "cell", "record", "--book", s.path("silent.book"), "--for", "1 s", "--source",
                        f"tcp://127.0.0.1:{listener.getsockname()[1]}"], input="", capture_output=True, text=True, timeout=60, env=s.environment)
silent_of("a silent source", ended.stdout + ended.stderr)
s.check("says that nothing came", "no sample came" in ended.stdout, ended.stdout[-400:])

# pulls without history, two a side: today alone tells
paths = [s.write(f"p{seed}.csv", recordings.sweep(seed=seed).text()) for seed in range(1, 5)]
two = look("two a side without history", "compare", "--a", paths[0], paths[1], "--b", paths[2], paths[3])
s.check("has a smallest margin from today", 0 < two.json["smallest_margin"] < 1, two.json["smallest_margin"])
shown = s.good("compare", "--a", paths[0], paths[1], "--b", paths[2], paths[3]).out
s.check("and prints it", re.search(r"smallest margin this can show: \d+\.\d %", shown) is not None, shown)
look("one a side", "compare", paths[0], paths[1])
# equal to the last digit of torque, and yet four recordings: another column differs
equal = []
for k in range(4):
    r = recordings.sweep(seed=9)
    r.columns[-1][2][0] += k + 1
    equal.append(s.write(f"e{k}.csv", r.text()))
look("pulls that are equal to the last digit", "compare", "--a", equal[0], equal[1], "--b", equal[2], equal[3])

# one channel after another lost: for a while, at the first and last row, altogether
plain = recordings.sweep(seed=5)
for c in range(1, len(plain.columns)):
    for says, rows in (("first and last", (0, -1)), ("half", range(plain.rows // 2, plain.rows)), ("all", range(plain.rows))):
        r = recordings.sweep(seed=5)
        for row in rows:
            r.columns[c][2][row] = ""
        path = s.write("lost.csv", r.text())
        name = f"{plain.columns[c][0]} lost, {says}"
        for words in (("look", path), ("pull", "curve", path), ("pull", "show", path), ("judge", "step-up", path), ("pull", "explain", path)):
            answer = s.run(*words)
            if answer.code == 2 and "no command" in answer.err:
                continue
            s.check(f"{' '.join(words[:2])}, {name}: answers or refuses", answer.code in (0, 1, 2), answer)
            silent_of(f"{' '.join(words[:2])}, {name}", answer.out + answer.err)

# every sentence with a floating conversion goes through base/words
source = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "src")
CALL = re.compile(r"\b(g_strdup_printf|g_strdup_vprintf|g_string_append_printf|g_string_append_vprintf|g_string_printf|v?f?printf|v?asprintf)\s*\(")
FLOAT = re.compile(r"%[-+ #0]*(\d+|\*)?(\.(\d+|\*))?[fgeEG]")


def call_at(text, start):
    depth, i = 0, text.index("(", start)
    while True:
        c = text[i]
        if c == '"':
            i += 1
            while text[i] != '"':
                i += 2 if text[i] == "\\" else 1
        elif c == "'":
            i += 3 if text[i + 1] == "\\" else 2
        elif c == "(":
            depth += 1
        elif c == ")":
            depth -= 1
            if depth == 0:
                return text[start:i + 1]
        i += 1


round_it = []
for folder, _, names in os.walk(source):
    for name in sorted(names):
        path = os.path.join(folder, name)
        if not name.endswith(".c") or path.endswith(os.path.join("base", "words.c")):
            continue
        text = open(path, encoding="utf-8").read()
        for m in CALL.finditer(text):
            call = call_at(text, m.start())
            if FLOAT.search(call) or "vprintf" in m.group(1):
                round_it.append(f"{os.path.relpath(path, source)}: {' '.join(call.split())[:90]}")
s.check("no sentence with a figure goes round base/words", not round_it, "\n    ".join(round_it))
s.finish()
