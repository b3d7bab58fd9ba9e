"""The same evidence counts once: a file saved again in another way is the same recording, for the book, for both sides of a
comparison, for history, sweeps and reports; a side against itself is refused. And a history that does not span the band
leaves what it cannot tell out, instead of all.

Usage: evidence.py PROGRAM"""
import json
import re
import subprocess
import urllib.error
import urllib.request

import recordings
from harness import Scenario
from door import let_in

s = Scenario()
cell = s.write("cell.yaml", recordings.CELL)


def rec(seed, **more):
    return recordings.sweep(seed=seed, **more)


plain = rec(1)
one = s.write("one.csv", plain.text())
saved = {
    "other line ends": plain.text(end="\r\n").encode(),
    "semicolons and decimal commas": plain.text(delimiter=";", decimal=",").encode(),
    "a mark of its byte order": b"\xef\xbb\xbf" + plain.text().encode(),
    "UTF-16": plain.text().encode("utf-16"),
    "tabs, units in a row, a preamble": plain.text(delimiter="\t", units="row", preamble="Logger 7\nRun 3\n").encode(),
}
again = {says: s.write(f"again-{i}.csv", data) for i, (says, data) in enumerate(saved.items())}
two, three, four = (s.write(f"{n}.csv", rec(n).text()) for n in (2, 3, 4))
book = s.path("shop.book")
s.good("book", "new", "--book", book)
s.good("book", "set", "--cell-file", cell, "--book", book)
weather = ("--set", "pressure=980 hPa", "--set", "temperature=20 degC", "--set", "humidity=40 %")
first = s.good("pull", "add", one, "--book", book, "--json").json
s.check("a pull is added", first["pull_ids"] == [1], first)
for says, path in again.items():
    answer = s.good("pull", "add", path, *weather, "--book", book, "--json").json
    s.check(f"saved again with {says} it is the same recording", answer["known_before"] and answer["recording_id"] == first["recording_id"]
            and any(n["id"] == "desk.same-figures" for n in answer["notes"]), answer)
s.check("one pull stands in the book", len(s.good("pull", "list", "--book", book, "--json").json["pulls"]) == 1)
changed = rec(1)
changed.columns[1][2][100] += 0.5
copy = s.path("copy.book")
s.good("book", "backup", copy, "--book", book)
s.check("one figure more is another recording", s.good("pull", "add", s.write("changed.csv", changed.text()), "--book", copy, "--json").json["pull_ids"] == [2])
for path in (two, three, four):
    s.good("pull", "add", path, "--book", book)


def compare(*args, code=0):
    answer = s.run("compare", *args, "--cell-file", cell, "--json")
    s.check(f"compare {len(args)} words gives {code}", answer.code == code, answer)
    return answer.json if code == 0 else answer


for says, path in again.items():
    s.refused(f"a side against itself: {says}", s.run("compare", one, path, "--cell-file", cell), "are the same recording", "compared with itself")
s.refused("one of several on both sides", s.run("compare", "--a", one, two, "--b", three, again["other line ends"]), "are the same recording")
s.refused("pulls of the book, too", s.run("compare", "1", "1", "--book", book), "pull 1 and pull 1 are the same recording")
s.refused("a pull and its file", s.run("compare", "1", again["UTF-16"], "--book", book), "are the same recording")
history = ("--history", f"1={three}", f"1={four}")
once = compare("--a", one, "--b", two, *history)
twice = compare("--a", one, again["other line ends"], one, "--b", two, two, *history)
keys = ("pulls_a", "pulls_b", "relative_interval", "degrees_of_freedom", "verdict", "relative_difference")
s.check("named twice it counts once", all(once[k] == twice[k] for k in keys) and (twice["pulls_a"], twice["pulls_b"]) == (1, 1), (once, twice))
s.check("and that is said", sum(w["id"] == "desk.same-recording" and "it counts once" in w["text"] for w in twice["warnings"]) == 3, twice["warnings"])
more = compare("--a", one, "--b", two, *history, f"1={one}", f"1={again['UTF-16']}", f"2={three}")
s.check("history lends nothing twice, nor what stands on a side", all(once[k] == more[k] for k in keys), (once, more))
s.refused("an order of what counts once", s.run("compare", "--a", one, one, "--b", two, "--order", "AAB"), "order")

# a sweep
sparks = [(20, 0.985), (24, 0.995), (28, 1.0), (32, 0.996)]
steps = []
for i, (spark, gain) in enumerate(sparks):
    path = s.write(f"spark-{spark}.csv", rec(20 + i, gain=gain).text())
    s.good("pull", "add", path, "--set", f"spark={spark} deg", "--book", book)
    steps.append(str(5 + i))
sweep = s.good("judge", "sweep", "spark", *steps, "--no-keep", "--history", f"1={three}", f"1={four}", "--book", book, "--json").json
twice = s.good("judge", "sweep", "spark", *steps, steps[0], steps[2], "--no-keep", "--history", f"1={three}", f"1={four}", f"1={again['UTF-16']}", f"1={one}",
               "--book", book, "--json").json
s.check("a pull of a sweep counts once", len(twice["pulls"]["setting"]) == len(sweep["pulls"]["setting"]) == 4, twice["pulls"])
short = s.write("short.csv", rec(9, high=5000).text())
low = s.good("judge", "sweep", "spark", *steps, "--no-keep", "--history", f"1={three}", f"1={four}", f"1={short}", "--book", book, "--json").json
s.check("a history pull that does not span the band is left out", low["degrees_of_freedom"] == sweep["degrees_of_freedom"] and low["relative_sd"] == sweep["relative_sd"], (low["relative_sd"], sweep["relative_sd"]))
s.check("and that is said", any(w["id"] == "desk.history-short" and "short.csv of the history does not reach" in w["text"] for w in low["warnings"]), low["warnings"])

# a report
out = s.path("report.pdf")
s.good("sheet", "report", "--for", "shop", "--pulls", "1,2,1", "--book", book, "--out", out)
text = re.sub(r"\s+", " ", subprocess.run(["pdftotext", "-layout", out, "-"], capture_output=True, text=True).stdout)
s.check("a report's mean takes it once", "Mean of 2 pulls" in text and "Pull 1 is the same recording as pull 1: it counts once" in text, text[-1500:])

# the page
server = subprocess.Popen([s.program, "serve", "--book", book, "--port", "0", "--json"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=s.environment)
try:
    said = json.loads(server.stdout.readline())
    at = said["address"].rstrip("/") + "/api/v1/compare"
    try:
        urllib.request.urlopen(urllib.request.Request(at, b'{"a": [1, 2], "b": [2]}', {"Content-Type": "application/json", "Cookie": let_in(said)}), timeout=20)
        code, why = 200, ""
    except urllib.error.HTTPError as problem:
        code, why = problem.code, json.load(problem)["error"]
    s.check("the page refuses it as well", code == 400 and "same recording" in why, (code, why))
finally:
    server.terminate()
    server.wait(20)
s.finish()
