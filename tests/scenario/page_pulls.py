#!/usr/bin/env python3
"""The ways to look at pulls, asked for by HTTP: sweep, next limit, channels against time, another method, where a
figure comes from, and what was set aside.

Outside sources: the factor after SAE J1349 in its published form 1.18 (990 / Pd) sqrt((Tc + 273) / 298) - 0.18 (Pd in
hPa), the factor after DIN 70020 as (1013 / p) sqrt((t + 273) / 293), both on means that Python takes of the recording
itself; the least and the greatest of a channel likewise; and the command line as the peer.
"""
import csv
import http.client
import json
import math
import os
import signal
import subprocess
import sys

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from door import let_in
from harness import Scenario

s = Scenario()
made = s.good("demo", "--folder", s.path("day"), "--json").json
book = made["book"]
in_book = ("--book", book)


class Page:
    def __init__(self):
        self.process = subprocess.Popen([s.program, "serve", *in_book, "--port", "0", "--json"], stdout=subprocess.PIPE,
                                        text=True, env=s.environment)
        said = json.loads(self.process.stdout.readline())
        self.port, self.cookie = said["port"], let_in(said)

    def ask(self, method, path, value=None):
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            body = None if value is None else json.dumps(value)
            connection.request(method, "/api/v1/" + path, body=body, headers={"Cookie": self.cookie, **({"Content-Type": "application/json"} if body else {})})
            response = connection.getresponse()
            return response.status, json.loads(response.read())
        finally:
            connection.close()

    def good(self, method, path, value=None):
        status, answer = self.ask(method, path, value)
        s.check(f"{method} {path} is answered", status == 200, answer)
        return answer

    def refused(self, says, method, path, value, *words, status=400):
        got, answer = self.ask(method, path, value)
        text = answer.get("error", "")
        s.check(says, got == status and all(w in text for w in words), (got, text[:200]))

    def stop(self):
        self.process.send_signal(signal.SIGTERM)
        code = self.process.wait(timeout=30)
        self.process.stdout.close()
        return code


def recording_of(name):
    """The file as Python reads it: columns of numbers by the bare heading."""
    with open(os.path.join(made["recordings"], name), encoding="utf-8") as file:
        rows = list(csv.reader(line for i, line in enumerate(file) if i > 0))
    return {head.split(" [")[0]: [float(row[i]) for row in rows[1:]] for i, head in enumerate(rows[0])}


def near(a, b, relative):
    return a is not None and b is not None and abs(a - b) <= relative * max(abs(b), 1e-12)


def mean(values):
    return sum(values) / len(values)


page = Page()

# 1. a sweep: the answer of the command line, with fit and places beside it
spark = [11, 12, 17, 20, 25]
peer = s.good("judge", "sweep", "spark", "--pulls", *spark, "--no-keep", *in_book, "--json").json
sweep = page.good("POST", "sweep", {"setting": "spark", "pulls": spark})
s.check("the best is that of the command line", sweep["best"] == peer["best"] and sweep["best_interval"] == peer["best_interval"])
setups = {p["id"]: p["setup"] for p in page.good("GET", "pulls")["pulls"]}
s.check("each pull stands at its setting", [f"{x:.0f} deg" for x in sweep["pulls"]["setting"]] == [setups[i]["spark"] for i in spark], sweep["pulls"])
best = min(range(len(sweep["fit"]["setting"])), key=lambda i: sweep["fit"]["relative_loss"][i])
step = sweep["fit"]["setting"][1] - sweep["fit"]["setting"][0]
s.check("the fitted curve is highest at the best", abs(sweep["fit"]["setting"][best] - sweep["best"]) <= step, (sweep["fit"]["setting"][best], sweep["best"]))
page.refused("two settings are no sweep", "POST", "sweep", {"setting": "spark", "pulls": [11, 12]}, "three different settings")
page.refused("a setting that nobody sweeps", "POST", "sweep", {"setting": "colour", "pulls": spark}, "spark")
page.refused("61 pulls are too many", "POST", "sweep", {"setting": "spark", "pulls": [11] * 61}, "60")
looks = len(page.good("GET", "shop")["verdicts"])
page.good("POST", "sweep", {"setting": "spark", "pulls": spark})
s.check("looking at a sweep keeps nothing", len(page.good("GET", "shop")["verdicts"]) == looks)

# 2. the next limit
peer = s.run("judge", "step-up", 7, "--no-keep", *in_book, "--json").json
limit = page.good("GET", "pulls/7/step-up")
s.check("the next limit is that of the command line", limit == peer, (limit.get("says"), peer.get("says")))
worst = min((c for c in limit["checks"] if c["allowance_left"] is not None), key=lambda c: c["allowance_left"])
s.check("what is over its allowance is not passed", worst["allowance_left"] < 0 and worst["answer"] != "no objection", worst)

# 3. channels against time: thinned, but the least and the greatest of the file are there
channels = page.good("GET", "pulls/12/channels?channels=speed,torque,oil_pressure")
raw = recording_of(channels["recording"])
series = {c["key"]: c for c in channels["series"]}
s.check("three channels as asked", list(series) == ["speed", "torque", "oil_pressure"], list(series))
inside = [i for i, t in enumerate(raw["Time"]) if series["speed"]["time_s"][0] - 1e-9 <= t - raw["Time"][0] <= series["speed"]["time_s"][-1] + 1e-9]
for key, heading, scale in (("speed", "RPM", 1), ("torque", "Torque", 1), ("oil_pressure", "Oil pressure", 1e5)):
    mine, of_file = [v for v in series[key]["value"] if v is not None], [raw[heading][i] * scale for i in inside]
    if series[key]["flagged_count"] == 0:
        s.check(f"thinning keeps the greatest {key}", near(max(mine), max(of_file), 1e-9), (max(mine), max(of_file)))
        s.check(f"thinning keeps the least {key}", near(min(mine), min(of_file), 1e-9), (min(mine), min(of_file)))
    s.check(f"{key} is thinned and in the order of time", len(mine) <= 1001 and series[key]["time_s"] == sorted(series[key]["time_s"]), len(mine))
s.check("a flagged sample is told with its time and what it was", any(
    f["what"] == "spike" and channels["counts_from_s"] - 5 <= f["time_s"] <= channels["counts_to_s"] + 5
    for f in page.good("GET", "pulls/12/channels?channels=lambda")["series"][0]["flagged"]))
page.refused("a channel that is not there", "GET", "pulls/12/channels?channels=colour", None, "no 'colour'")
page.refused("nine channels are too many", "GET", "pulls/12/channels?channels=" + ",".join(["speed"] * 9), None, "8 at most")
page.refused("a pull that is not there", "GET", "pulls/999/channels", None, "999")

# 4. another method, tried from raw, against the published factors
method = page.good("GET", "method")
same = page.good("POST", "method/try", {"a": [12], "b": [17], "typed": method["typed"]})
s.check("the method in force gives what is stored", same["as_stored"] == same["by_this"])
other = dict(method["typed"], standard="din70020")
tried = page.good("POST", "method/try", {"a": [12], "typed": other})
origins = page.good("GET", "pulls/12/origins")
counts = [i for i, t in enumerate(raw["Time"]) if channels["counts_from_s"] <= t - raw["Time"][0] <= channels["counts_to_s"]]
pressure, air = mean([raw["Baro"][i] for i in counts]), mean([raw["Inlet air temp"][i] for i in counts])
din = 1013 / pressure * math.sqrt((air + 273) / 293)
s.check("the factor after DIN 70020", near(tried["by_this"]["a"][0]["factor"], din, 5e-4), (tried["by_this"]["a"][0]["factor"], din))
s.check("torque follows the factor", near(tried["by_this"]["a"][0]["mean_torque_n_m"] / tried["as_stored"]["a"][0]["mean_torque_n_m"],
                                          tried["by_this"]["a"][0]["factor"] / tried["as_stored"]["a"][0]["factor"], 1e-9))
page.refused("13 pulls are too many to compute anew", "POST", "method/try", {"a": list(range(8, 21)), "typed": other}, "12 at most")
page.refused("a band that ends before it begins", "POST", "method/try", {"a": [12], "typed": dict(other, band_low="90 %", band_high="70 %")}, "band_low")
page.refused("a width out of range is named", "POST", "method/try", {"a": [12], "typed": dict(other, half_width="5 rpm")}, "half_width")
page.refused("an unknown field is named", "POST", "method/try", {"a": [12], "typed": dict(other, colour="red")}, "colour")
s.check("trying changed no method", page.good("GET", "method") == method)
kept = page.good("PUT", "method", {"typed": other, "version": method["version"]})
s.check("the answer tells what was before", kept["before"]["typed"] == method["typed"])
page.refused("somebody else's change is not written over", "PUT", "method", {"typed": other, "version": method["version"]}, "somebody else", status=409)
s.check("stored curves keep their method", page.good("GET", "pulls/12/origins")["method"]["standard"] == "j1349")
page.good("PUT", "method", {"typed": method["typed"], "version": kept["version"]})
s.check("taken back, it is what it was", page.good("GET", "method")["typed"] == method["typed"])

# 5. where figures come from
dry = origins["factor"]["dry_pressure_pa"] / 100
s.check("pressure is the mean of the column", near(origins["factor"]["pressure_pa"], 100 * pressure, 1e-5), (origins["factor"]["pressure_pa"], pressure))
j1349 = 1.18 * (990 / dry) * math.sqrt((origins["factor"]["temperature_k"] - 273.15 + 273) / 298) - 0.18
s.check("the factor after SAE J1349 from what is shown", near(origins["factor"]["factor"], j1349, 2e-5), (origins["factor"]["factor"], j1349))
s.check("dry is total less vapour", near(origins["factor"]["dry_pressure_pa"], origins["factor"]["pressure_pa"] - origins["factor"]["vapour_pressure_pa"], 1e-12))
digest = subprocess.run(["sha256sum", os.path.join(made["recordings"], origins["recording"])], capture_output=True, text=True, check=True).stdout.split()[0]
s.check("the digest is that of the file", origins["sha256"] == digest, (origins["sha256"], digest))
said = {one["name"]: one for one in page.good("GET", "pulls/25/origins")["setup"]}
first = {name: min(i for i in setups if i <= 25 and all(setups[k].get(name) == setups[25].get(name) for k in setups if i <= k <= 25)) for name in ("spark", "lambda", "limit")}
for name, pull in first.items():
    s.check(f"{name} stands since it was said", said[name]["since_pull"] == pull, (said[name], pull))
curve = page.good("GET", "curves?pulls=12")["curves"][0]["curve"]
s.check("band and mean are those of the curve", origins["band"]["mean_torque_n_m"] == curve["band"]["mean_torque_n_m"] and origins["band"]["points"] == sum(
    curve["band"]["low_rpm"] <= x <= curve["band"]["high_rpm"] for x in curve["speed_rpm"]), origins["band"])
page.refused("no origins of a pull that is not there", "GET", "pulls/999/origins", None, "999")

# 6. a discarded pull that is named is used and told, in comparison and sweep; taken back, nothing is told
def discarded_of(answer):
    """Which pulls an answer says were discarded, each with the reason, as facts; the sentences hold both."""
    told = [w for w in answer["warnings"] if w["id"] == "desk.used-discarded"]
    facts = {w["arguments"]["pull"]["message"]["arguments"]["pull"]["count"]: w["arguments"]["reason"]["text"] for w in told}
    s.check("what is told as a fact stands in its sentence", all(
        w["severity"] == "caution" and f"discarded ({reason})" in w["text"] and str(pull) in w["text"] for w, (pull, reason) in zip(told, facts.items())), told)
    s.check("and no sentence tells it without the facts", len(facts) == len([w for w in answer["warnings"] if "discarded" in w["text"]]), answer["warnings"])
    return facts


asked = {"a": [17, 19], "b": [18]}
told = discarded_of(page.good("POST", "compare", asked))
s.check("at first nothing is set aside", told == {}, told)
page.good("POST", "pulls/18/discard", {"reason": "lost a spark lead"})
answer = page.good("POST", "compare", asked)
by_command = s.run("compare", "--a", 17, 19, "--b", 18, "--no-keep", *in_book, "--json").json["warnings"]
s.check("the page is told the reason", discarded_of(answer) == {18: "lost a spark lead"}, answer["warnings"])
s.check("so is the command line", answer["warnings"] == by_command, by_command)
page.good("POST", "pulls/18/discard", {"take_back": True})
told = discarded_of(page.good("POST", "compare", asked))
s.check("taken back, it counts again", told == {}, told)
page.good("POST", "pulls/12/discard", {"reason": "wrong fuel"})
told = discarded_of(page.good("POST", "sweep", {"setting": "spark", "pulls": spark}))
s.check("a sweep tells it too", told == {12: "wrong fuel"}, told)
page.good("POST", "pulls/12/discard", {"take_back": True})

limit = page.good("GET", "pulls/32/step-up")
s.check("a discarded pull lets no limit go up, and says why", limit["answer"] == "hold" and "discarded (" in limit["says"]["text"] and any(
    c["what"] == "discarded" for c in limit["checks"]), limit["says"])

# 7. many at once
status, many = page.ask("GET", "curves?pulls=" + ",".join(str(i) for i in sorted(setups) if i < 36))
s.check("a whole day of curves", status == 200 and len(many["curves"]) >= 30, status)
page.refused("41 are too many", "GET", "curves?pulls=" + ",".join(["12"] * 41), None, "40 at most")

s.check("the server ends in order", page.stop() == 0)
s.check("the book is whole", s.good("book", "verify", *in_book, "--json").json["whole"])
s.finish()
