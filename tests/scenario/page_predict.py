#!/usr/bin/env python3
"""Predictions through the page's interface: the same figures as the command line, work that never holds the page up,
a newer question in the place of an older one, rights, and questions that nobody should ask.

No outside source: `engine predict` and `engine vary` are the same model asked another way. The physics is tested in
tests/reference/cycle."""
import json
import os
import subprocess
import sys
import tempfile
import threading
import time

import page_api
from page_api import PROGRAM, Server, check

EXAMPLES = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "examples", "engines")
SIX = os.path.join(EXAMPLES, "hill-climb-six.yaml")
FEW = {"from_speed": 3000, "to_speed": 6000, "speed_step": 1000, "cell": "80 mm"}
AT = ["--speeds", "3000:6000:1000", "--cell", "80 mm"]


def told(*arguments):
    done = subprocess.run([PROGRAM, "engine", *arguments, "--json"], capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


def wait(server, job, seconds=120):
    until = time.monotonic() + seconds
    while True:
        status, answer = server.json("GET", f"predict/{job}")
        if status != 200 or answer["state"] not in ("waiting", "running"):
            return answer
        if time.monotonic() > until:
            raise RuntimeError(f"job {job} does not end: {answer}")
        time.sleep(0.02)


def asked(server, path, question):
    status, answer = server.json("POST", path, {"page": "test", **question})
    return wait(server, answer["job"]) if status == 200 else {"state": "refused at once", "refused": answer["error"], "status": status}


def as_the_command_line(server, typed, folder):
    """Sliders, a curve and what-ifs give what the command line gives for the same engine."""
    status, sliders = server.json("POST", "predict/sliders", {"typed": typed})
    by = {f'{s["group"]}.{s["name"]}': s for s in sliders["sliders"]}
    check("sliders come from the engine's fields", status == 200 and by["breathing.primary_length"]["value"] == 0.86, sliders)
    check("each has room to both sides", all(s["low"] <= s["value"] <= s["high"] and s["low"] < s["high"] for s in by.values()), by)
    check("a figure that does nothing is none", "compression.ratio" not in by and "breathing.throttle_diameter" not in by, list(by))
    turns = [{"group": "breathing", "name": "primary_length", "to": 0.76}, {"group": "compression", "name": "chambers", "to": "43 cc"},
             {"group": "inlet", "name": "duration", "to": "290 deg"}, {"group": "", "name": "fuel", "to": "E85"}]
    status, turned = server.json("POST", "predict/sliders", {"typed": typed, "turns": turns})
    t = turned["typed"]
    check("a figure is turned as it would be typed", t["breathing"]["primary_length"] == "760 mm" and t["fuel"] == "E85", t)
    check("a list is turned as a whole", len(t["compression"]["chambers"]) == 6 and
          abs({f'{s["group"]}.{s["name"]}': s for s in turned["sliders"]}["compression.chambers"]["value"] - 43e-6) < 1e-9, t["compression"])
    check("durations are turned together", t["inlet"]["check_duration"] == "254 deg" and t["inlet"]["duration"] == "290 deg", t["inlet"])
    for to, want in (("+40 mm", 0.9), ("-5 %", 0.817), ("95 %", 0.817), ("−40 mm", 0.82), ("30 in", 0.762), (0.76, 0.76)):
        one = server.json("POST", "predict/sliders", {"typed": typed, "turns": [{"group": "breathing", "name": "primary_length", "to": to}]})[1]
        got = {f'{s["group"]}.{s["name"]}': s for s in one["sliders"]}["breathing.primary_length"]["value"]
        check(f"turned to {to}: a sign changes by, a percentage scales, else it sets", abs(got - want) < 1e-9, got)
    path = os.path.join(folder, "turned.yaml")
    with open(path, "w", encoding="utf-8") as f:
        json.dump(t, f)  # JSON is YAML
    answer = asked(server, "predict", {"typed": typed, "turns": turns, "uncertainty": True, **FEW})["answer"]
    line = told("predict", path, *AT, "--uncertainty")
    for key in ("speed_rpm", "torque_n_m", "power_w", "volumetric_efficiency", "fuel_kg_s", "bsfc_kg_j", "residual_fraction",
                "octane_needed", "spark_deg", "knock_limited", "converged", "torque_standard_uncertainty_n_m", "assumed"):
        check(f"{key} is that of the command line", answer[key] == line[key], (answer[key], line[key]))
    base = told("predict", SIX, *AT)["torque_n_m"]
    both = asked(server, "predict", {"typed": typed, "turns": turns[:1], "uncertainty": True, "against": {"typed": typed}, **FEW})["answer"]
    check("the base stands beside it", both["against"]["torque_n_m"] == base)
    gain = both["gain"]
    mean = lambda torque: sum(t for t, n in zip(torque, both["speed_rpm"]) if gain["low_rpm"] <= n <= gain["high_rpm"])
    check("the difference is that of the means", abs(mean(both["torque_n_m"]) / mean(base) - 1 - gain["relative"]) < 1e-12, gain)
    check("and is judged", gain["beyond_doubt"] == (abs(gain["relative"]) > 2 * gain["relative_standard_uncertainty"]) and
          gain["says"]["id"] == ("desk.gain-beyond-doubt" if gain["beyond_doubt"] else "desk.gain-within-doubt"), gain)
    same = asked(server, "predict", {"typed": typed, "uncertainty": True, "against": {"typed": typed}, **FEW})["answer"]["gain"]
    check("nothing turned: nothing beyond doubt", same["relative"] == 0 and not same["beyond_doubt"], same)
    given = asked(server, "predict", {"typed": typed, "spark": "25 deg", "changes": ["compression=+0.5"], **FEW})["answer"]
    check("a given spark is kept to", given["spark_deg"] == [25.0] * 4, given["spark_deg"])
    changed(server, typed)
    looks(server, typed)
    changes = ["compression=+0.5", "primary_length=-100 mm,+100 mm"]
    table = asked(server, "predict/vary", {"typed": typed, "variants": changes, **FEW})["answer"]
    line = told("vary", SIX, *AT, "--change", changes[0], "--change", changes[1])
    check("the table of variants is that of engine vary", table["variants"] == line["variants"], (table, line))


def changed(server, typed):
    """Changes are made before turns, and what is told is of the engine that has them."""
    ratio = lambda **asked_for: server.json("POST", "predict/sliders", {"typed": typed, **asked_for})[1]["compression_ratio"]
    higher = asked(server, "predict", {"typed": typed, "changes": ["compression=+0.5"], **FEW})["answer"]
    check("the ratio that is told is the changed one, to the seven digits that a file is written with", abs(higher["compression_ratio"] - ratio() - 0.5) < 1e-5 and
          abs(ratio(changes=["compression=+0.5"]) - ratio() - 0.5) < 1e-5, (higher["compression_ratio"], ratio()))
    turn = [{"group": "breathing", "name": "runner_length", "to": 0.3}]
    both = {"typed": typed, "changes": ["runner_length=0.45 m", "spark=25 deg"], "turns": turn}
    sliders = server.json("POST", "predict/sliders", both)[1]
    of = {s["name"]: s for s in sliders["sliders"]}["runner_length"]
    check("a slider begins at what a change came to, and a turn goes on from there", (of["base"], of["value"]) == (0.45, 0.3), of)
    check("what an engine's file does not say is left", sliders["left"] == ["spark=25 deg"], sliders["left"])
    check("a turn after a change is what is run", asked(server, "predict", {**both, "changes": both["changes"][:1], **FEW})["answer"]["torque_n_m"] ==
          asked(server, "predict", {"typed": typed, "turns": turn, **FEW})["answer"]["torque_n_m"])


def looks(server, typed):
    """A first look begins where the page's last one left off; it is near what it is from still gas, and has no band."""
    few, longer = {**FEW, "follow": True}, [{"group": "breathing", "name": "primary_length", "to": "+20 mm"}]
    first = asked(server, "predict", {"typed": typed, **few})["answer"]
    again = asked(server, "predict", {"typed": typed, "turns": longer, **few})["answer"]
    still = asked(server, "predict", {"typed": typed, "turns": longer, **FEW})["answer"]
    off = max(abs(a / b - 1) for a, b in zip(again["torque_n_m"], still["torque_n_m"]))
    check("a first look is near what it is from still gas", off < 0.015 and all(again["converged"]), off)
    check("in fewer cycles", sum(again["cycles"]) < 0.7 * sum(first["cycles"]), (first["cycles"], again["cycles"]))
    for says, cell, good in (("cells of the longest that the model takes", "200 mm", True), ("longer ones", "210 mm", False)):
        got = asked(server, "predict", {"typed": typed, **few, "cell": cell})
        check(f"{says}: {'answered' if good else 'refused at once'}", got["state"] == ("done" if good else "refused at once"), got)
    for part in ({"uncertainty": True}, {"against": {"typed": typed}}):
        no = asked(server, "predict", {"typed": typed, **few, **part})
        check(f"a first look with {list(part)[0]} is refused", no.get("status") == 400 and "first look" in no["refused"], no)


def fits(server, typed, engine):
    """A fit to pulls of the book; kept, used, and let go."""
    pulls = [p["id"] for p in server.json("GET", "pulls")[1]["pulls"] if p["purpose"] == "pull" and not p["discarded"]]
    fit = asked(server, "predict/fit", {"typed": typed, "pulls": pulls[-2:], "knobs": ["flow", "friction"], "points": 5, "cell": "80 mm"})["answer"]
    check("the fit lessens the error", fit["relative_error_after"] < fit["relative_error_before"], fit)
    check("what is left is kept with the knobs", abs(fit["tune"]["left"] - fit["relative_error_after"]) < 1e-12 and fit["tune"]["flow_u"] > 0, fit)
    status, _ = server.json("POST", "predict/keep", {"engine": engine, "tune": fit["tune"]})
    kept = server.json("POST", "predict/sliders", {"typed": typed, "engine": engine})[1]["tune"]
    check("a fit is kept with its engine", status == 200 and kept == fit["tune"], (kept, fit["tune"]))
    answer = asked(server, "predict", {"typed": typed, "tune": kept, **FEW})["answer"]
    check("and used", answer["fitted"] and answer["torque_n_m"] != asked(server, "predict", {"typed": typed, **FEW})["answer"]["torque_n_m"])
    server.json("POST", "predict/keep", {"engine": engine})
    check("and let go", "tune" not in server.json("POST", "predict/sliders", {"typed": typed, "engine": engine})[1])
    unlike = next(((a, b) for a in pulls for b in pulls if spark(server, a) != spark(server, b)), None)
    if unlike:
        no = asked(server, "predict/fit", {"typed": typed, "pulls": list(unlike), "knobs": ["flow"]})
        check("pulls of unlike spark are not mixed", "not alike" in (no["refused"] or "") and "spark" in no["refused"], no)


def spark(server, pull):
    if not hasattr(server, "sparks"):
        server.sparks = {p["id"]: p["setup"].get("spark") for p in server.json("GET", "pulls")[1]["pulls"]}
    return server.sparks[pull]


def never_in_the_way(server, typed):
    """Long work leaves the page free; a newer question takes the older one's place; cancelled is cancelled."""
    long = {"typed": typed, "from_speed": 2000, "to_speed": 7000, "speed_step": 100, "cell": "10 mm", "uncertainty": True}
    _, first = server.json("POST", "predict", {"page": "one", **long})
    _, vary = server.json("POST", "predict/vary", {"page": "one", "typed": typed, "variants": ["compression=+0.5"] * 20, "cell": "20 mm"})
    status, _ = server.json("GET", "book")
    state = server.json("GET", f'predict/{first["job"]}')[1]["state"]
    check("the page is answered while work is under way", status == 200 and state in ("waiting", "running"), state)
    quick = asked(server, "predict", {"page": "two", "typed": typed, **FEW})
    check("what follows a slider does not wait for a search", quick["state"] == "done" and
          server.json("GET", f'predict/{vary["job"]}')[1]["state"] in ("waiting", "running"), quick["state"])
    _, second = server.json("POST", "predict", {"page": "one", "typed": typed, **FEW})
    check("a newer question takes the place of the older", wait(server, first["job"])["state"] == "cancelled")
    check("and is answered", wait(server, second["job"])["state"] == "done")
    status, _ = server.json("POST", f'predict/{vary["job"]}/cancel', {})
    check("a search can be cancelled", status == 200 and wait(server, vary["job"])["state"] == "cancelled")
    made = [server.json("POST", "predict", {"page": f"page-{i}", **long}) for i in range(9)]
    refused = [a["error"] for s, a in made if s == 409]
    check("a device has six under way and no more", len(refused) == 3 and "cancel" in refused[0], made)
    for s, a in made:
        if s == 200:
            server.json("POST", f'predict/{a["job"]}/cancel', {})
    for s, a in made:
        if s == 200:
            check("all are cancelled", wait(server, a["job"])["state"] == "cancelled")
    for i in range(40):
        wait(server, server.json("POST", "predict", {"page": "many", "typed": typed, "from_speed": 3000, "to_speed": 3000, "cell": "100 mm"})[1]["job"])
    check("old answers are let go", server.json("GET", f'predict/{second["job"]}')[0] == 400)


def many_at_once(server, typed):
    """Many pages turn sliders at once: each last question is answered or refused, and the server lives."""
    ends = []

    def turn(page):
        for i in range(12):
            status, a = server.json("POST", "predict", {"page": f"page-{page}", "typed": typed, "cell": "100 mm", "from_speed": 4000 + i, "to_speed": 4000 + i})
        ends.append(wait(server, a["job"])["state"] if status == 200 else status)

    threads = [threading.Thread(target=turn, args=(i,)) for i in range(5)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    check("the last question of every page is answered", ends == ["done"] * 5, ends)


def hostile(server, typed):
    good = {"page": "test", "typed": typed, **FEW}
    turn = lambda **t: {"turns": [t]}
    for says, path, part, *words in [
        ("no page", "predict", {"page": ""}, "page"), ("a page with a path in it", "predict", {"page": "../x"}, "page"),
        ("a page as long as a book", "predict", {"page": "a" * 41}, "page"), ("no engine", "predict", {"typed": None}, "typed"),
        ("an engine that is a list", "predict", {"typed": [1]}, "typed"), ("an unknown field", "predict", {"typed": {**typed, "borre": 1}}, "borre"),
        ("cells of dust", "predict", {"cell": "1 um"}, "cell"), ("cells of nothing", "predict", {"cell": 0}, "cell"), ("cells of a mile", "predict", {"cell": 1609}, "cell"),
        ("a cell that is none", "predict", {"cell": "NaN m"}, "cell"), ("a list for a figure", "predict", {"cell": [0.04]}, "cell"),
        ("too many speeds", "predict", {"speed_step": 50, "to_speed": 20000}, "60 speeds"), ("speeds backwards", "predict", {"to_speed": 2000}, "speeds"),
        ("a step of nothing", "predict", {"speed_step": 0}, "speed_step"), ("a speed in kilograms", "predict", {"from_speed": "3 kg"}, "from_speed"),
        ("a spark after the bottom", "predict", {"spark": "-170 deg"}, "spark"), ("the air of the deep sea", "predict", {"pressure": 4e7}, "pressure"),
        ("boiling air", "predict", {"temperature": "400 K"}, "temperature"), ("a change that is none", "predict", {"changes": ["compresion=+1"]}, "compression"),
        ("a thousand changes", "predict", {"changes": ["compression=+1"] * 1000}, "changes"), ("changes within changes", "predict", {"changes": [["compression=+1"]]}, "changes"),
        ("a change as long as a book", "predict", {"changes": ["compression=+" + "1" * 300]}, "200 bytes"),
        ("a tune that is a text", "predict", {"tune": "kept"}, "tune"), ("a tune beyond reason", "predict", {"tune": {"flow": 99}}, "flow"),
        ("a knob that is none", "predict", {"tune": {"luck": 2}}, "luck"), ("a base that is nothing", "predict", {"against": {}}, "typed"),
        ("a turn of no figure", "predict", turn(group="breathing", name="nothing", to=1), "nothing"),
        ("a turn of a figure that is none to turn", "predict", turn(group="", name="bore", to=0.1), "bore"), ("a turn without an end", "predict", turn(group="cam", name="advance"), "turns"),
        ("a turn beyond the field", "predict", turn(group="breathing", name="primary_length", to="9 m"), "primary_length"),
        ("a turn in the wrong unit", "predict", turn(group="breathing", name="primary_length", to="5 kg"), "primary_length"),
        ("a turn of what the engine has not", "predict", turn(group="cam", name="advance", to=2), "advance"),
        ("a thousand turns", "predict", {"turns": [{"group": "cam", "name": "inlet_centreline", "to": 100}] * 1000}, "turns"),
        ("turns that are none", "predict", {"turns": [5]}, "turns"), ("no variants", "predict/vary", {"variants": []}, "variants"),
        ("variants by the thousand", "predict/vary", {"variants": ["compression=" + ",".join(["+0.1"] * 90)]}, "variants"),
        ("a grid that explodes", "predict/vary", {"grid": True, "variants": [f"{n}=+1,+2,+3,+4" for n in ("compression", "lambda", "octane")]}, "combinations"),
        ("a fit to nothing", "predict/fit", {"pulls": [], "knobs": ["flow"]}, "pulls"), ("a fit to a pull that is none", "predict/fit", {"pulls": [99999], "knobs": ["flow"]}, "99999"),
        ("a fit to a file", "predict/fit", {"pulls": ["/etc/passwd"], "knobs": ["flow"]}, "passwd"), ("a fit to two in one", "predict/fit", {"pulls": ["1,2"], "knobs": ["flow"]}, "pulls"),
        ("a fit of luck", "predict/fit", {"pulls": [34], "knobs": ["luck"]}, "luck"), ("a fit of too many points", "predict/fit", {"pulls": [34], "knobs": ["flow"], "points": 1e9}, "points"),
        ("keeping with an engine that is none", "predict/keep", {"engine": 4242, "tune": {"flow": 1}}, "4242"),
    ]:
        status, answer = server.json("POST", path, {**good, **part})
        check(f"{says} is refused, by name", status == 400 and all(w in answer["error"] for w in words), (status, answer))
    for path in ("predict/0", "predict/999999", "predict/1e9", "predict/-1"):
        check(f"GET {path} is no job", server.json("GET", path)[0] in (400, 404))
    check("what cannot run is refused when it runs", asked(server, "predict", {**good, "changes": ["compression=-20"]})["state"] in ("refused", "refused at once"))
    server.alive("hostile predictions")


def rights(book, typed, engine):
    """A device that may look may predict, and keeps nothing; one device's work is not another's to cancel."""
    address = page_api.own_address()
    if not address:
        print("skipped: this machine has no network address")
        return
    server = Server(book, options=["--lan"])
    far = page_api.http.client.HTTPConnection

    def ask(method, path, value=None, token=None):
        c = far(address, server.port, timeout=30)
        headers = {"Content-Type": "application/json", **({"Cookie": "ew_device=" + token} if token else {})}
        c.request(method, "/api/v1/" + path, None if value is None else json.dumps(value), headers)
        r = c.getresponse()
        text, cookie = r.read(), r.getheader("Set-Cookie")
        c.close()
        return r.status, json.loads(text), cookie

    question = {"page": "far", "typed": typed, **FEW}
    check("a stranger predicts nothing", ask("POST", "predict", question)[0] == 401)
    _, made = server.json("POST", "devices/code", {"rights": "view"})
    token = ask("POST", "pair", {"code": made["code"], "name": "tablet"})[2].split(";")[0].split("=")[1]
    status, job, _ = ask("POST", "predict", question, token)
    check("who may look may predict", status == 200, job)
    if status == 200:
        status, answer = server.json("POST", f'predict/{job["job"]}/cancel', {})
        check("another device's work is not cancelled", status == 400 and "another" in answer["error"], answer)
        check("and ends", wait(server, job["job"])["state"] == "done")
    check("who may look keeps no fit", ask("POST", "predict/keep", {"engine": engine, "tune": {"flow": 1}}, token)[0] == 403)
    check("nor an engine", ask("PUT", "engines", {"typed": typed}, token)[0] == 403)
    server.stop()


def main():
    with tempfile.TemporaryDirectory() as folder:
        made = json.loads(subprocess.run([PROGRAM, "demo", "--folder", os.path.join(folder, "day"), "--json"], capture_output=True, text=True, check=True).stdout)
        book = made["book"]
        subprocess.run([PROGRAM, "engine", "add", SIX, "--book", book], capture_output=True, check=True)
        server = Server(book)
        engine = server.json("GET", "book")[1]["engine_id"]
        typed = server.json("GET", f"engines/{engine}")[1]["typed"]
        as_the_command_line(server, typed, folder)
        fits(server, typed, engine)
        never_in_the_way(server, typed)
        many_at_once(server, typed)
        hostile(server, typed)
        server.json("POST", "predict", {"page": "last", "typed": typed, "cell": "10 mm", "uncertainty": True})
        check("it ends in order with work under way", server.stop() == 0)
        rights(book, typed, engine)
    print(f"[  PASSED  ] {page_api.passed} test(s).")
    if page_api.failed:
        print(f"[  FAILED  ] {page_api.failed} test(s).")
    sys.exit(1 if page_api.failed else 0)


main()
