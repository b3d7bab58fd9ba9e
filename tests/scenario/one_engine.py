"""One engine through everything, by the command line: combination, prediction, build record, practice cell,
recording, curves, verdicts, fit, test report. Then figures are picked off the printed report and each is walked
back to where it came from: to the bytes of the recording (SHA-256 by hashlib), and the arithmetic done again here.

Outside of the project: tricube local regression (Cleveland 1979), SAE J1349's factor (from memory), Buck's 1981
equation for the vapour pressure of water, power = torque x speed, BMEP, BSFC and VE by their definitions.
"""
import csv
import hashlib
import math
import os
import re
import shutil
import subprocess
import sys

from harness import Scenario

s = Scenario()
if not shutil.which("pdftotext"):
    s.skip("one engine through everything", "pdftotext is not installed")
    s.finish()
examples = os.path.abspath(os.path.join(os.path.dirname(__file__), "..", "..", "examples"))
book = ["--book", s.path("one.book")]
NAME = "Hill-climb six"
engine_file = os.path.join(examples, "engines", "hill-climb-six.yaml")

# 1. combination, prediction and build record
s.good("book", "new", "--shop", "Weir Lane Engines", *book)
added = s.good("engine", "add", engine_file, *book, "--json").json
check = s.good("engine", "check", NAME, *book, "--json").json
s.check("the combination's known faults are told", added["warnings"] > 0 and len(check["warnings"]) == added["warnings"], added)
speeds = ["--speeds", "4000:7000:1000", "--spark", "30 deg"]
predicted = s.good("engine", "predict", NAME, *speeds, *book, "--json").json
s.check("the prediction has settled", all(predicted["converged"]), predicted["not_converged_because"])
loaded = s.good("build", "load", os.path.join(examples, "build", "hill-climb-six.yaml"), *book, "--json").json
s.check("the build is of this engine", loaded["added"] > 200 and
        s.good("build", "show", *book, "--json").json["engine"] == NAME, loaded)
no = s.run("build", "check", "--before", "dispatch", *book)
s.check("steps that stand open before dispatch are an answer of no", no.code == 1 and "open" in no.out + no.err, no)

# 2. the cell, a live session, and a day by script: all of this one engine, in this one book
weights = ["--weight", "10 kg=39.2266 N·m", "--weight", "30 kg=117.70 N·m", "--weight", "60 kg=235.35 N·m",
           "--weight", "30 kg=117.66 N·m", "--weight", "10 kg=39.25 N·m"]
live = [line for line in s.good("cell", "record", "--source", "practice:?pace=0&seed=9&run=sweep 2500 6500 300;wait 2;end",
                                "--json", *book).out.splitlines() if '"event":"pull"' in line]
s.check("a live pull is cut out", len(live) == 1 and '"found":true' in live[0], live)
day = open(os.path.join(examples, "days", "hill-climb-six.yaml"), encoding="utf-8").read()
engine = "".join("  " + line + "\n" for line in open(engine_file, encoding="utf-8").read().splitlines())
head, rest = day.split("engine:\n", 1)
s.write("day.yaml", head + "engine:\n" + engine + "cell:\n" + rest.split("\ncell:\n", 1)[1])
s.good("cell", "practice", s.path("day.yaml"), *book)
s.good("cell", "calibrate", "--arm", "400 mm", *weights, *book)
pulls = sorted(s.good("pull", "list", "--engine", NAME, *book, "--json").json["pulls"], key=lambda p: p["id"])  # the file of the first one is of today
s.check("one engine has all the pulls", len(pulls) == len(s.good("pull", "list", *book, "--json").json["pulls"]) > 30, len(pulls))

# 3. verdicts, fit and report
last = [p["id"] for p in pulls[-3:]]
lean = [p["id"] for p in pulls if p["changed"] == "leaner still"]
answer = s.good("compare", "--a", *last, "--b", *lean, *book, "--json").json
s.check("a mixture far too lean is a loss", answer["verdict"] == "loss", answer)
step = s.good("judge", "step-up", last[0], *book, "--json").json
spark = {}
for p in pulls:
    if p["top_speed_rpm"] > 6900 and p["purpose"] == "pull" and p["changed"] in ("two degrees more", "back"):
        spark.setdefault(s.good("pull", "show", p["id"], *book, "--json").json["setup"]["spark_deg"], []).append(p["id"])
sweep = s.good("judge", "sweep", "spark", "--pulls", *[i for degrees in sorted(spark) for i in spark[degrees]], *book,
               "--json").json
s.check("the spark sweep ends by knock", sweep["ended"] and sweep["reason"]["severity"] == "danger" and
        sweep["reason"]["arguments"]["sign"]["message"]["id"] == "judge.knock" and "knock" in sweep["reason"]["text"], sweep)
fit = s.good("engine", "fit", NAME, "--measured", last[0], "--points", "4", "--knobs", "flow", "--spark", "30 deg",
             "--out", s.path("tune.yaml"), *book, "--json").json
s.check("the fit brings the prediction nearer to what was measured",
        fit["relative_error_after"] < fit["relative_error_before"], fit)
curve = s.good("pull", "curve", last[0], *book, "--json").json
for n, torque in zip(fit["speed_rpm"], fit["measured_torque_n_m"]):
    at = curve["speed_rpm"].index(round(n))
    s.check(f"the fit used the observed torque at {n:.0f} rpm, not the corrected one",
            abs(curve["observed_torque_n_m"][at] - torque) < 1e-6, (curve["observed_torque_n_m"][at], torque))
ids = ",".join(map(str, last))
s.good("sheet", "report", "--for", "shop", "--pulls", ids, "--title", "Proof of the six", "--out", s.path("report.pdf"), *book)
report = subprocess.run(["pdftotext", "-layout", s.path("report.pdf"), "-"], capture_output=True, text=True, check=True).stdout
s.good("book", "export", s.path("out"), *book)

# 4. the walk back
raw = {}
for name in os.listdir(s.path("out")):
    if name.endswith(".raw"):
        content = open(s.path("out/" + name), "rb").read()
        raw[hashlib.sha256(content).hexdigest()] = content.decode("utf-8")
INSIDE = {"oil_pressure": ("Oil pressure [bar]", lambda v: v * 1e5), "lambda": ("Lambda", float),
          "oil_temperature": ("Oil temp [°C]", lambda v: v + 273.15), "torque": ("Torque [N·m]", float),
          "coolant_temperature": ("Coolant temp [°C]", lambda v: v + 273.15),
          "fuel_flow": ("Fuel flow [kg/h]", lambda v: v / 3600), "air_flow": ("Air flow [kg/h]", lambda v: v / 3600)}
walked = set()


def table(sha):
    lines = raw[sha].splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("Time [s]"))
    return list(csv.DictReader(lines[start:]))


def solve(matrix, right):
    """Gauss with pivots, for three unknowns."""
    rows = [list(row) + [value] for row, value in zip(matrix, right)]
    for k in range(3):
        p = max(range(k, 3), key=lambda i: abs(rows[i][k]))
        rows[k], rows[p] = rows[p], rows[k]
        for i in range(3):
            if i != k:
                share = rows[i][k] / rows[k][k]
                rows[i] = [a - share * b for a, b in zip(rows[i], rows[k])]
    return [rows[k][3] / rows[k][k] for k in range(3)]


def top_of(pull, figure):
    """The highest speed of a sample in use: behind the last point of the curve."""
    curve = s.good("pull", "curve", pull, *book, "--json").json
    path = s.path("top.csv")
    s.good("pull", "explain", pull, "--speed", f"{curve['speed_rpm'][-1]} rpm", "--figure", figure, "--samples", path, *book)
    return max(float(a["speed_rpm"]) for a in csv.DictReader(open(path, encoding="utf-8")))


def fitted(x, y, x0, h, top):
    """Local quadratic with tricube weights, at x0: Cleveland 1979, written again from the paper's words; near the
    upper end of the samples the half-width grows by half of what is cut off."""
    h += 0.5 * max(0, h - (top - x0))
    u = [(v - x0) / h for v in x]
    w = [(1 - abs(a) ** 3) ** 3 if abs(a) < 1 else 0 for a in u]
    moments = [sum(wi * a ** k for wi, a in zip(w, u)) for k in range(5)]
    right = [sum(wi * a ** k * yi for wi, a, yi in zip(w, u, y)) for k in range(3)]
    return solve([[moments[i + j] for j in range(3)] for i in range(3)], right)[0]


def walk(pull, speed, figure="torque"):
    """From a figure of one pull to the cells of its file and back up; the figure, in SI."""
    path = s.path("samples.csv")
    one = s.good("pull", "explain", pull, "--speed", f"{speed} rpm", "--figure", figure, "--samples", path, *book, "--json").json
    if not s.check(f"{figure} of pull {pull}: the digest is that of bytes in the export", one["sha256"] in raw, one["sha256"]):
        return math.nan
    samples = list(csv.DictReader(open(path, encoding="utf-8")))
    key = next(k for k in samples[0] if k.startswith(figure))
    heading, inside = INSIDE[figure]
    lag = one.get("lag_s", 0)
    cells = {round(float(row["Time [s]"]), 3): row for row in table(one["sha256"])}
    same = all(abs(inside(float(cells[round(float(a["time_s"]) + lag, 3)][heading])) - float(a[key])) < 1e-6 * abs(float(a[key])) + 1e-9
               for a in samples if a["touched"] == "0")
    s.check(f"{figure} of pull {pull} at {speed}: each sample is the cell of the file", same and len(samples) > 100 and
            sum(a["touched"] == "1" for a in samples) < 0.05 * len(samples), len(samples))
    y = [float(a[key]) + float(a.get("inertia_torque_n_m", 0)) for a in samples]
    total = sum(float(a["weight"]) * v for a, v in zip(samples, y))
    again = fitted([float(a["speed_rpm"]) for a in samples], y, speed, 400, top_of(pull, figure))
    s.check(f"{figure} of pull {pull} at {speed}: the regression done again", abs(again - total) < 1e-6 * abs(total), (again, total))
    if figure == "torque":
        total *= one["factor"]
        s.check(f"torque of pull {pull} at {speed} is what was stored", abs(total - one["torque_n_m"]) < 1e-6, (total, one))
    else:
        s.check(f"{figure} of pull {pull} at {speed} is what was stored", abs(total - one["value"]) < 1e-6 * abs(total), (total, one))
    return total


def mean(values):
    values = list(values)
    return sum(values) / len(values)


def band_mean(speed, torque, low, high):
    """Exp of the mean of log torque over the band: straight lines between points, a fine trapezium rule."""
    def at(n):
        k = max(j for j in range(len(speed) - 1) if speed[j] <= n + 1e-9)
        return torque[k] + (torque[k + 1] - torque[k]) * (n - speed[k]) / (speed[k + 1] - speed[k])

    steps = 400
    return math.exp(sum((0.5 if i in (0, steps) else 1) * math.log(at(low + (high - low) * i / steps))
                        for i in range(steps + 1)) / steps)


def walk_mean(speed, figure="torque"):
    return mean(walk(i, speed, figure) for i in last)


def printed(says, pattern, value, decimals, scale=1.0):
    """The figure on the paper, against what the walk gave, to the last digit that is printed."""
    found = re.search(pattern, report)
    if not s.check(f"the report prints {says}", found, report[:3000]):
        return
    shown = float(found.group(1).replace(",", ""))
    walked.add(says)
    s.check(f"the report's {says} is what the walk gives", abs(shown - value * scale) <= 0.5001 * 10 ** -decimals, (shown, value * scale))


# who and what: from the engine's fields
volume = math.pi / 4 * 0.0854 ** 2 * 0.0868 * 6
printed("displacement", r"displacement\s+([\d,]+) cc", volume, 0, 1e6)
s.check("engine check has the same", abs(check["displacement_m3"] / volume - 1) < 1e-9)
shown = s.good("pull", "show", last[-1], *book, "--json").json
printed("spark", r"spark ([\d.]+) deg", shown["setup"]["spark_deg"], 0)
printed("lambda of the set-up", r"lambda ([\d.]+)", shown["setup"]["lambda"], 2)

# air and factor, from the raw columns of the last pull
origin = s.good("pull", "explain", last[-1], *book, "--json").json
rows = table(origin["sha256"])
top = max(range(len(rows)), key=lambda i: float(rows[i]["RPM [rpm]"]))
loaded_rows = [r for r in rows[:top] if float(r["Throttle [%]"]) > 95 and float(r["RPM [rpm]"]) > 2750]
pressure = mean(float(r["Baro [hPa]"]) for r in loaded_rows) * 100
kelvin = mean(float(r["Inlet air temp [°C]"]) for r in loaded_rows) + 273.15
humidity = mean(float(r["Humidity [%]"]) for r in loaded_rows) / 100
celsius = kelvin - 273.15
vapour = humidity * 611.21 * math.exp((18.678 - celsius / 234.5) * celsius / (257.14 + celsius))  # Buck 1981
s.check("air pressure from raw", abs(origin["pressure_pa"] - pressure) < 3, (origin["pressure_pa"], pressure))
s.check("temperature from raw", abs(origin["temperature_k"] - kelvin) < 0.05, (origin["temperature_k"], kelvin))
s.check("vapour from raw, after Buck", abs(origin["vapour_pressure_pa"] / vapour - 1) < 0.01, (origin["vapour_pressure_pa"], vapour))
printed("air pressure", r"inlet air\s+([\d.]+) hPa", origin["pressure_pa"], 1, 0.01)
printed("air temperature", r"inlet air\s+[\d.]+ hPa, ([\d.]+) °C", origin["temperature_k"] - 273.15, 1)
printed("vapour pressure", r"vapour ([\d.]+) hPa", origin["vapour_pressure_pa"], 1, 0.01)
factor = 1.18 * (99000 / (origin["pressure_pa"] - origin["vapour_pressure_pa"])) * math.sqrt(origin["temperature_k"] / 298.15) - 0.18
s.check("factor from raw air", abs(origin["factor"] - factor) < 1e-4, (origin["factor"], factor))
printed("factor", r"dry\): ([\d.]+)", factor, 4)
times = [float(r["Time [s]"]) for r in loaded_rows]
revs = [float(r["RPM [rpm]"]) for r in loaded_rows]
slope = sum((t - mean(times)) * (n - mean(revs)) for t, n in zip(times, revs)) / sum((t - mean(times)) ** 2 for t in times)
printed("acceleration", r"sweep at ([\d,]+) rpm/s", slope, 0)

# results
found = re.search(r"Highest torque ([\d.]+) ± ([\d.]+) N·m at ([\d,]+) rpm", report)
torque_at = int(found.group(3).replace(",", ""))
torque = walk_mean(torque_at)
printed("highest torque", r"Highest torque ([\d.]+)", torque, 0)
found = re.search(r"Highest power ([\d.]+) ± ([\d.]+) kW at ([\d,]+) rpm", report)
power_at = int(found.group(3).replace(",", ""))
power = walk_mean(power_at) * power_at * math.pi / 30
printed("highest power", r"Highest power ([\d.]+)", power, 0, 1e-3)
budget = s.good("pull", "explain", last[0], "--speed", f"{torque_at} rpm", *book, "--json").json
printed("uncertainty of torque", r"Highest torque [\d.]+ ± ([\d.]+)", budget["expanded_n_m"], 0)
printed("absolute uncertainty", r"± ([\d.]+) N·m absolute", budget["expanded_n_m"], 1)
combined = math.sqrt(sum(r["standard_n_m"] ** 2 for r in budget["uncertainty"]))
s.check("quadrature of the budget, Student's factor between 1.96 and 2.6", 1.95 < budget["expanded_n_m"] / combined < 2.6, budget)
for row in budget["uncertainty"]:
    tail = {"load cell gain, from the cell's record": "load cell gain", "repeatability of a pull": "repeatability of a pull",
            "re-mounting": "re-mounting"}.get(row["from"])
    if tail:
        printed(f"budget: {tail}", tail + r"[^\d]*([\d.]+) N·m", row["standard_n_m"], 2)
gain = s.good("cell", "calibrations", *book, "--json").json["records"]
s.check("the gain's uncertainty has its calibration in the book", any(r["kind"] == "calibration" or "calib" in r["kind"] for r in gain), gain)
band = []
for i in last:
    curve = s.good("pull", "curve", i, *book, "--json").json
    low, high = curve["band"]["low_rpm"], curve["band"]["high_rpm"]
    band.append(band_mean(curve["speed_rpm"], curve["torque_n_m"], low, high))
    s.check(f"band mean of pull {i} from its curve", abs(band[-1] / curve["band"]["mean_torque_n_m"] - 1) < 1e-4, band)
first = s.good("pull", "curve", last[0], *book, "--json").json["band"]
printed("band's lower end", r"Mean torque ([\d,]+) to", first["low_rpm"], 0)
printed("band's upper end", r"Mean torque [\d,]+ to ([\d,]+) rpm", first["high_rpm"], 0)
printed("mean torque", r"rpm: ([\d.]+) ± [\d.]+ N·m\. Mean of", mean(s.good("pull", "show", i, *book, "--json").json["band"]["mean_torque_n_m"]
                                                                for i in last), 0)

# a row of the table, each cell of it
ROW = r"\n\s+5,000" + r"\s+([\d.]+)" * 9
cells = re.search(ROW, report).groups()
at = 5000
torque = walk_mean(at)
fuel, air = walk_mean(at, "fuel_flow"), walk_mean(at, "air_flow")
each = {"torque": (torque, 0), "power": (torque * at * math.pi / 30 / 1000, 1), "BMEP": (4 * math.pi * torque / volume / 1e5, 2),
        "BSFC": (mean(walk(i, at, "fuel_flow") / (walk(i, at) / s.good("pull", "explain", i, *book, "--json").json["factor"]
                                                 * at * math.pi / 30) for i in last) * 3.6e9, 0)}


def volumetric(i):
    one = s.good("pull", "explain", i, *book, "--json").json
    density = (one["pressure_pa"] - one["vapour_pressure_pa"]) / (287.05 * one["temperature_k"])
    return walk(i, at, "air_flow") / (density * volume * at / 120)


each["VE"] = (mean(map(volumetric, last)) * 100, 0)
each["lambda"] = (walk_mean(at, "lambda"), 2)
each["oil pressure"] = (walk_mean(at, "oil_pressure") / 1e5, 1)
each["oil temperature"] = (walk_mean(at, "oil_temperature") - 273.15, 0)
each["coolant temperature"] = (walk_mean(at, "coolant_temperature") - 273.15, 0)
for shown, (says, (value, decimals)) in zip(cells, each.items()):
    walked.add(says + " at 5,000 rpm")
    s.check(f"the table's {says} at 5,000 rpm", abs(float(shown) - value) <= 0.5001 * 10 ** -decimals, (shown, value))
for i in last:
    for figure, pieces in (("bmep", 3), ("bsfc", 2), ("ve", 4)):
        one = s.good("pull", "explain", i, "--speed", "5000 rpm", "--figure", figure, *book, "--json").json
        s.check(f"{figure} of pull {i} says of what it is computed", len(one["inputs"]) == pieces and one["formula"], one)

s.refused("a figure that is none", s.run("pull", "explain", last[0], "--figure", "moon", *book), "moon", "lambda", "bmep")
s.refused("samples of what is computed", s.run("pull", "explain", last[0], "--figure", "bmep", "--samples", s.path("x.csv"), *book),
          "--samples", "bmep", "computed")

# the verdict, from the bands of the pulls it names
flat = " ".join(report.split())
says = re.search(r"compared, [^:]*?: ([+-][\d.]+) % \(([+-][\d.]+) % to ([+-][\d.]+) %\)[^:]*: loss", flat[flat.rfind("mixture sweep"):])
printed_difference = re.findall(r"([+-][\d.]+) % \([+-][\d.]+ % to [+-][\d.]+ %\), [\d,]+ rpm to [\d,]+ rpm: loss", flat)
s.check("the verdict asked for stands on the report", printed_difference and says is not None, flat[-2500:])
walked.add("difference of the verdict")
s.check("with the answer's figure", abs(float(printed_difference[-1]) - 100 * answer["relative_difference"]) < 0.0501,
        (printed_difference, answer["relative_difference"]))


def side(ids):
    return mean(math.log(s.good("pull", "curve", i, *book, "--json").json["band"]["mean_torque_n_m"]) for i in ids)


s.check("which the bands of its pulls give, but for the drift that was taken out",
        abs(side(lean) - side(last) - math.log1p(answer["relative_difference"])) < 0.006, (side(lean) - side(last), answer))
s.check("the spark's answer stands on the report", f"{sweep['best']:.1f}" in flat, sweep["best"])
s.check("the step-up's answer stands on the report", f"pull {last[0]}: {step['answer']}" in flat, step)

# raw data
for i in last:
    sha = re.search(rf"pull {i}\s+([0-9a-f]{{64}})", report)
    s.check(f"the digest printed for pull {i} is that of the bytes", sha and sha.group(1) in raw, sha)
    walked.add(f"digest of pull {i}")
whole = s.good("book", "verify", *book, "--json").json
s.check("and the book is whole", whole["whole"], whole)
s.check("twenty figures or more were walked back", len(walked) >= 20, sorted(walked))
sys.stdout.flush()
s.finish()
