"""Whoever sets pulls beside each other goes through one gate: each of its users refuses an unlike pull and says why, and where a question
makes sense of what is unlike it can be asked on purpose, by command and as the page asks, and the answer says so.

Users: what the cell repeats to, the like pulls beside a question, compare, the mean of a report, both sweeps, step-up with a pull named, the
fit of the simulation. (Growth of lash is of builds with the same block, head and rocker: build_record.py.) Unlike: another engine, another cell's record, weather unknown, held.
The day is invented.
"""
import json

import recordings
from harness import Scenario
from wrong_table import CELL, ENGINE
from pages import Page

s = Scenario()
AIR = ["--set", "pressure=985 hPa", "--set", "temperature=22 degC", "--set", "humidity=50 %"]
WEATHER = ("Baro", "Intake Air Temp", "Humidity")
book = s.path("shop.book")
in_book = ["--book", book]
TWIN = ENGINE.replace("bench four", "sister four")
s.good("book", "new", "--cell-file", s.write("cell.yaml", CELL), "--zone", "UTC", *in_book)
for name, text in (("one.yaml", ENGINE), ("two.yaml", TWIN)):
    s.good("engine", "add", s.write(name, text), *in_book)


def add(number, *words, engine="bench four", gain=1.0, high=6500, without=()):
    file = s.write(f"run-{number}.csv", recordings.sweep(seed=number, gain=gain, high=high).without(*WEATHER, *without).text())
    at = f"2026-11-{20 + number // 20} {8 + number % 20 // 3:02}:{number % 3 * 15 + 10:02}"
    return s.good("pull", "add", file, "--engine", engine, "--at", at, *words, *in_book, "--json").json


# 1 to 4: like; 5 another engine of the same size, 6 another cell's record, 7 no weather, 8 held
for n in range(1, 5):
    add(n, *AIR, "--set", "spark=28 deg")
add(5, *AIR, engine="sister four")
add(6, *AIR, "--cell-file", s.write("other.yaml", CELL.replace("arm: 400 mm", "arm: 404 mm")))
s.good("book", "set", "--cell-file", s.path("cell.yaml"), *in_book)
add(7, "--set", "pressure=", "--set", "temperature=", "--set", "humidity=")
add(8, "--set", "pressure=1060 hPa", *AIR[2:])
UNLIKE = {5: ("engine", "engine"), 6: ("cell", "arm"), 7: ("air", None), 8: ("held", "held")}
held = [p["id"] for p in s.good("pull", "list", *in_book, "--json").json["pulls"] if p["held"]]
s.check("what is told wrongly is held, and only that", held == [8], held)


def learned():
    return s.good("cell", "repeatability", *in_book, "--json").json


# ---- the history: the same without them
whole = learned()
before = s.path("before.book")
s.good("book", "new", "--cell-file", s.path("cell.yaml"), "--zone", "UTC", "--book", before)
s.good("engine", "add", s.path("one.yaml"), "--book", before)
for n in range(1, 5):
    s.good("pull", "add", s.path(f"run-{n}.csv"), "--at", f"2026-11-{20 + n // 20} {8 + n % 20 // 3:02}:{n % 3 * 15 + 10:02}", *AIR, "--set", "spark=28 deg", "--book", before)
alone = s.good("cell", "repeatability", "--book", before, "--json").json
first = lambda answer: answer["levels"]
s.check("what the cell repeats to is learned from the like ones alone, but for the last bits of a sum",
        all(abs(first(whole)[level]["relative_sd"] / first(alone)[level]["relative_sd"] - 1) < 1e-9 and first(whole)[level]["degrees_of_freedom"] == first(alone)[level]["degrees_of_freedom"]
            for level in first(alone)), (first(whole), first(alone)))

with Page(s, book) as page:
    for pull, (fact, word) in UNLIKE.items():
        # ---- compare, by command and by the page
        answer = s.run("compare", "--a", 1, 2, "--b", pull, "--no-keep", *in_book, "--json")
        says = answer.json if answer.code in (0, 1) else {}
        s.check(f"compare refuses {fact}", says.get("verdict") == "not comparable", answer)
        s.check(f"compare says why: {fact}", word is None or word in json.dumps(says.get("valid")), says.get("valid"))
        status, there = page.ask("POST", "compare", {"a": [1, 2], "b": [pull]})
        s.check(f"the page's answer is the same: {fact}", status == 200 and there["valid"] == says["valid"] and there["verdict"] == "not comparable", there)
        on_purpose = there["may_be_asked"]
        s.check(f"what may be asked on purpose: {fact}", on_purpose == ([fact] if fact in ("engine", "cell") else []), on_purpose)
        if on_purpose:
            asked = s.run("compare", "--a", 1, 2, "--b", pull, "--despite", fact, "--no-keep", *in_book, "--json")
            s.check(f"asked on purpose there is an answer: {fact}", asked.code in (0, 1) and asked.json["verdict"] != "not comparable", asked)
            s.check(f"which says so: {fact}", any(w["id"] == "judge.on-purpose" for w in asked.json["warnings"]), asked.json["warnings"])
            status, there = page.ask("POST", "compare", {"a": [1, 2], "b": [pull], "despite": fact})
            s.check(f"and so by the page: {fact}", status == 200 and there["verdict"] == asked.json["verdict"] and
                    any(w["id"] == "judge.on-purpose" for w in there["warnings"]), there)
        else:
            no = s.run("compare", "--a", 1, 2, "--b", pull, "--despite", fact, "--no-keep", *in_book)
            s.refused(f"{fact} is not asked about on purpose", no, fact)
        # ---- the like ones beside a question never take it
        beside = s.run("compare", "--a", 1, "--b", 3, "--no-keep", *in_book, "--json")
        used = json.dumps(beside.json.get("weights", [])) if beside.code in (0, 1) else ""
        s.check(f"it is not taken beside a question: {fact}", f'"pull": {pull}' not in used, used)
        # ---- the mean of a report
        s.refused(f"a report's mean refuses {fact}", s.run("sheet", "report", "--pulls", f"1,2,{pull}", "--out", s.path("no.pdf"), *in_book), *([word] if word else []))
        # ---- sweeps
        for sweep in ("spark", "mixture"):
            s.refused(f"a {sweep} sweep refuses {fact}", s.run("judge", "sweep", sweep, "--pulls", 1, 2, 3, pull, "--no-keep", *in_book), *([word] if word else []))
            status, there = page.ask("POST", "sweep", {"setting": sweep, "pulls": [1, 2, 3, pull]})
            s.check(f"and by the page: {sweep}, {fact}", status == 400 and (word or "") in there["error"], there)
        # ---- a fit
        status, engine = page.ask("GET", "engines/1")
        status, fit = page.ask("POST", "predict/fit", {"page": "gate", "typed": engine["typed"], "pulls": [1, pull], "knobs": ["flow"]})
        s.check(f"a fit refuses {fact}", status == 400 and (word or "not alike") in fit["error"], fit)
    s.refused("a fit by command refuses a held pull", s.run("engine", "fit", "bench four", "--measured", 8, "--points", "4", "--knobs", "flow", "--out", s.path("tune.yaml"), *in_book), "held")
    # ---- step-up: the pull that is named as the one before
    for pull, fact in ((5, "engine"), (8, "held")):
        s.refused(f"step-up refuses {fact}", s.run("judge", "step-up", 4, "--before", pull, "--no-keep", *in_book), fact)
    # on purpose: a report's mean over two arms says so on the paper; one of two engines there is not
    s.good("sheet", "report", "--pulls", "1,2,6", "--despite", "cell", "--out", s.path("two.html"), *in_book)
    s.check("a report over two arms on purpose says so", "not alike" in open(s.path("two.html"), encoding="utf-8").read())
    s.refused("a report is of one engine", s.run("sheet", "report", "--pulls", "1,2,5", "--despite", "engine", "--out", s.path("no.pdf"), *in_book), "different engines")

s.finish()
