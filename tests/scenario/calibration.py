"""Calibration of the load cell, the daily zero and check weight, and what an expired one does."""
import json
import math
import os
import sys
import time

import recordings
from harness import Scenario

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "newcomer"))
import make_day  # noqa: E402

s = Scenario()
book = s.path("shop.book")
G = 9.80665  # standard gravity (CGPM 1901)
arm = 0.5
s.write("engine.yaml", recordings.ENGINE)
s.good("engine", "add", s.path("engine.yaml"), "--book", book)
s.good("pull", "add", s.write("run.csv", recordings.sweep().text()), "--book", book)


def report(name):
    """The text of a report, by the vector sheet (its letters are outlines, so the PDF is read)."""
    import shutil
    import subprocess
    s.good("sheet", "report", "--for", "shop", "--out", s.path(name + ".pdf"), "--book", book)
    if not shutil.which("pdftotext"):
        return None
    return subprocess.run(["pdftotext", "-layout", s.path(name + ".pdf"), "-"], capture_output=True, text=True,
                          check=True).stdout


text = report("none")
s.check("a report says that there is no calibration", text is None or "alibrat" in text, text)
info = s.good("book", "info", "--book", book, "--json").json
s.check("and so does the book", info["calibration_overdue"], info)

# up and down, read with a gain of 1/1.02, an offset of -0.5 N·m and 0.3 N·m of hysteresis on the way down
masses = [0, 10, 20, 30, 40, 30, 20, 10, 0]
weights = []
for at, mass in enumerate(masses):
    applied = mass * G * arm
    read = (applied + 0.5) / 1.02 + (0.3 if at > 4 else 0)
    weights.append(f"{mass} kg={read:.6f} N·m")
answer = s.good("cell", "calibrate", "--arm", "500 mm", "--weight", *weights, "--note", "as found", "--book", book,
                "--json").json
s.check("gain", abs(answer["gain"] - 1.02) < 0.002, answer)
s.check("gain's uncertainty is told", 0 < answer["gain_standard_uncertainty"] < 0.002, answer)
s.check("offset, less half of the hysteresis", abs(answer["offset_n_m"] + 0.5 + 0.3 * 1.02 * 4 / 9) < 0.05, answer)
s.check("hysteresis", abs(answer["hysteresis_n_m"] - 0.3) < 1e-9, answer)
s.check("points", answer["points"] == 9, answer)
s.check("how far the gain moved is told", abs(answer["gain_change"] - (answer["gain"] - 1)) < 1e-12, answer)
s.check("2 % is over the limit of 1 %: the pull before it is held", answer["held"] == [1], answer)
held = s.run("sheet", "report", "--for", "shop", "--out", s.path("held.pdf"), "--pulls", "1", "--book", book)
s.check("a held pull is in no report", held.code == 2 and "held" in held.err and "moves the gain by +2" in held.err, held)
compared = s.good("compare", "1", s.write("other.csv", recordings.sweep(seed=7).text()), "--book", book, "--json").json
s.check("and in no comparison", compared["verdict"] == "not comparable" and
        "judge.held" in json.dumps(compared["valid"]), compared["valid"])

# from now on gain and offset are applied to raw: a smoother is linear, so the figure is the line of the raw one
run = s.write("run2.csv", recordings.sweep(seed=2).text())
s.good("pull", "add", run, "--book", book)
raw = s.good("pull", "explain", run, "--speed", "4600 rpm", "--json").json["measured_torque_n_m"]
now = s.good("pull", "explain", "2", "--speed", "4600 rpm", "--book", book, "--json").json
line = now["calibration"]
s.check("the line of the calibration", line["gain"] == answer["gain"] and line["offset_n_m"] == answer["offset_n_m"], line)
s.check("is on the measured torque", abs(now["measured_torque_n_m"] - line["gain"] * raw - line["offset_n_m"]) < 1e-6,
        (raw, now["measured_torque_n_m"]))
s.check("which is walked back to what was read", abs(line["read_torque_n_m"] - raw) < 1e-6, (raw, line))
rows = {row["from"]: row["standard_n_m"] for row in now["uncertainty"]}
r = line["read_torque_n_m"]  # GUM H.3, at what the load cell read; the factor is 1.00 of the day
own = math.sqrt(answer["offset_standard_uncertainty_n_m"] ** 2 + (r * answer["gain_standard_uncertainty"]) ** 2
                + 2 * r * answer["covariance"])
s.check("its doubt is in the budget, not the cell's", abs(rows["calibration of torque, gain and offset"] - own)
        < 0.05 * own and "load cell gain, from the cell's record" not in rows, (own, rows))
s.check("in words, too", "calibrated: 1.0" in s.good("pull", "explain", "2", "--book", book).out)
text = report("valid")
s.check("a valid calibration is no caution", text is None or "verdue" not in text and "xpired" not in text, text)
s.check("the book is content", s.good("book", "info", "--book", book, "--json").json["calibration_overdue"] is None)

# what makes no line is refused, and nothing is kept of it
for says, bad, words in (("one weight", ["20 kg=98 N·m"] * 4, "one load"),
                         ("readings that fall", ["0 kg=0 N·m", "10 kg=-49 N·m", "20 kg=-98 N·m"], "do not rise"),
                         ("one reading that falls", ["0 kg=0 N·m", "10 kg=49 N·m", "20 kg=9.8 N·m", "30 kg=147 N·m"], "reading 3 (9.80 N·m) is below reading 2"),
                         ("two points", ["0 kg=0 N·m", "10 kg=49 N·m"], "three points")):
    refused = s.run("cell", "calibrate", "--arm", "500 mm", "--weight", *bad, "--book", book)
    s.check(f"{says} is refused", refused.code == 2 and words in refused.err, refused)
s.check("and not kept", len(s.good("cell", "calibrations", "--book", book, "--json").json["records"]) == 1)

# another sensor: a barometer that reads 3 hPa high
points = [f"{p} hPa={p + 3} hPa" for p in (960, 980, 1000, 1020)]
baro = s.good("cell", "calibrate", "--channel", "barometer", "--point", *points, "--book", book, "--json").json
s.check("of its channel", baro["channel"] == "barometer" and abs(baro["offset"] + 300) < 1e-6 and baro["held"] == [], baro)
s.good("pull", "add", s.write("run3.csv", recordings.sweep(seed=3).text()), "--book", book)
pressure = s.good("pull", "explain", "3", "--book", book, "--json").json["pressure_pa"]
s.check("the barometer is put right", abs(pressure - 98700) < 1, pressure)
s.check("the load cell's calibration is not taken for it", s.good("book", "info", "--book", book, "--json")
        .json["calibration_overdue"] is None)

# thermocouple, pressure transducer, lambda, weather station and air flow: the line by hand on what was recorded, in curve and explain
other = s.path("sensors.book")
s.good("book", "new", "--book", other)
s.good("engine", "add", s.path("engine.yaml"), "--book", other)


def sensors(name, seed):
    r = recordings.sweep(seed=seed)
    r.add("Air Flow", "kg/h", [n * 0.07 for n in r.column("Engine Speed")[2]])
    return s.write(name, r.text())


def columns(pull):
    got = s.good("pull", "curve", pull, "--book", other, "--json").json
    return got, got["speed_rpm"].index(5000)


before = s.good("pull", "add", sensors("before.csv", 31), "--at", "2026-11-30 10:00", "--book", other, "--json").json["pull_ids"][0]
# orifice, ISO 5167-1 (from memory): q is proportional to the root of the differential pressure, so a transducer 6 % high reads a flow of sqrt(1.06)
orifice = math.sqrt(1.06)
for channel, points, column, gain, offset in (
        ("oil_temperature", [f"{t} degC={t * 1.02 + 2} degC" for t in (0, 50, 100, 150)], "oil_temperature_k", 1 / 1.02, None),
        ("oil_pressure", [f"{p} bar={p * 1.10} bar" for p in (0, 2, 4, 6)], "oil_pressure_pa", 1 / 1.10, 0),
        ("lambda", [f"{x}={x + 0.03:.3f}" for x in (0.8, 0.9, 1.0, 1.1)], "lambda", 1, -0.03),
        ("humidity", [f"{h} %={h - 12} %" for h in (20, 40, 60, 80)], None, 1, 0.12),
        ("air_flow", [f"{q} kg/h={q * orifice:.9f} kg/h" for q in (100, 200, 300, 400)], "air_flow_kg_s", 1 / orifice, 0)):
    got = s.good("cell", "calibrate", "--channel", channel, "--point", *points, "--book", other, "--json").json
    s.check(f"{channel}: the gain by hand", abs(got["gain"] - gain) < 1e-6 and (offset is None or abs(got["offset"] - offset) < 1e-6 + abs(1e-4 * offset)), got)
    s.check(f"{channel}: the pull before it is held, as it moved by more than its limit", got["held"] == [before], got)
    for bad, words in (([points[0]], "three points"), ([points[0]] * 3, "one load"),
                       ([p.split("=")[0] + "=" + q.split("=")[1] for p, q in zip(points, reversed(points))], "do not rise")):
        no = s.run("cell", "calibrate", "--channel", channel, "--point", *bad, "--book", other)
        s.check(f"{channel}: {words}", no.code == 2 and words in no.err and no.out == "", no)
text = s.good("pull", "show", before, "--book", other).out
s.check("what a mend would change is said", "oil temperature" in text and "the calibration of" in text and "computed with" in text, text)
after = s.good("pull", "add", sensors("after.csv", 32), "--book", other, "--json").json["pull_ids"][0]
plain = s.path("plain.book")
s.good("book", "new", "--book", plain)
s.good("engine", "add", s.path("engine.yaml"), "--book", plain)
s.good("pull", "add", s.path("after.csv"), "--at", "2026-11-30 10:00", "--book", plain)
was = s.good("pull", "curve", 1, "--book", plain, "--json").json
now, at = columns(after)
for column, by_hand in (("oil_temperature_k", lambda v: (v - 273.15 - 2) / 1.02 + 273.15), ("oil_pressure_pa", lambda v: v / 1.10),
                        ("lambda", lambda v: v - 0.03), ("air_flow_kg_s", lambda v: v / orifice)):
    s.check(f"{column} of a later pull, by hand", abs(now["columns"][column][at] / by_hand(was["columns"][column][at]) - 1) < 1e-6,
            (now["columns"][column][at], was["columns"][column][at]))
p_s = was["conditions"]["vapour_pressure_pa"] / 0.50  # the recording says 50 %
s.check("humidity of a later pull, by hand", abs(now["conditions"]["vapour_pressure_pa"] / (p_s * 0.62) - 1) < 2e-3, (now["conditions"]["vapour_pressure_pa"], p_s))
s.check("and from raw again", s.run("book", "verify", "--book", other).code == 0)

# explain says what each was read as and which line was put on it; their doubt is in the budget
told = s.good("pull", "explain", after, "--speed", "5000 rpm", "--book", other, "--json").json
lines = {line["channel"]: line for line in told["sensors"]}
s.check("explain has the line of each sensor", set(lines) == {"oil_temperature", "oil_pressure", "lambda", "humidity", "air_flow"} and
        all(line["at"] and not line["expired"] for line in lines.values()) and abs(lines["oil_pressure"]["gain"] - 1 / 1.10) < 1e-6 and
        abs(lines["lambda"]["offset"] + 0.03) < 1e-6, lines)
words = s.good("pull", "explain", after, "--speed", "5000 rpm", "--book", other).out
s.check("in words: what was read, and what it is", "oil pressure: read" in words and "lambda: read" in words and "relative humidity: read 50" in words and ": 62" in words, words)
s.check("uncalibrated there is none", s.good("pull", "explain", 1, "--speed", "5000 rpm", "--book", plain, "--json").json["sensors"] == [])
# four points of humidity with a scatter of 1 % each way: u of the line by hand (least squares, GUM H.3), through the factor's slope by differences
s.good("cell", "calibrate", "--channel", "humidity", "--point", "20 %=19 %", "40 %=41 %", "60 %=59 %", "80 %=81 %", "--book", other)
time.sleep(1.1)
scattered = s.good("pull", "add", sensors("scattered.csv", 33), "--book", other, "--json").json["pull_ids"][0]
read, true = [0.19, 0.41, 0.59, 0.81], [0.20, 0.40, 0.60, 0.80]
mean = sum(read) / 4
slope = sum((x - mean) * y for x, y in zip(read, true)) / sum((x - mean) ** 2 for x in read)
residual = math.sqrt(sum((y - sum(true) / 4 - slope * (x - mean)) ** 2 for x, y in zip(read, true)) / 2)
u_line = lambda x: residual * math.sqrt(1 / 4 + (x - mean) ** 2 / sum((v - mean) ** 2 for v in read))


def weather(book, pull):
    got = s.good("pull", "explain", pull, "--speed", "5000 rpm", "--book", book, "--json").json
    return got, next(r["standard_n_m"] for r in got["uncertainty"] if r["from"] == "weather sensors, through the factor")


s.good("pull", "add", s.path("scattered.csv"), "--at", "2026-11-30 10:10", "--book", plain)
(cal, row), (raw_told, row_plain) = weather(other, scattered), weather(plain, 2)
p_hpa, t_c = cal["pressure_pa"] / 100, cal["temperature_k"] - 273.15
by_humidity = (make_day.factor(p_hpa, t_c, 0.51) - make_day.factor(p_hpa, t_c, 0.49)) / 0.02  # SAE J1349, by the textbook form of tests/newcomer
bench_u = 0.03  # of relative humidity, the cell's record where it says nothing
share = cal["torque_n_m"] / cal["factor"] * by_humidity
others = row_plain ** 2 - (share * bench_u) ** 2  # pressure and temperature, which are not calibrated here
s.check("humidity's part of the budget is the calibration's, by hand", abs(row ** 2 - others - (share * u_line(0.50)) ** 2) < 0.02 * row ** 2 and abs(row - row_plain) > 1e-4,
        (row, row_plain, share * u_line(0.50), share * bench_u))

# the figures that the sensors go into: BSFC is not known, as the flow meter for fuel was never calibrated; VE and lambda are, by the law of propagation
def figure(name):
    return s.good("pull", "explain", scattered, "--speed", "5000 rpm", "--figure", name, "--book", other, "--json").json


ve, lam, oil = figure("ve"), figure("lambda"), figure("oil_pressure")
own = {(r["from"], r["channel"]): r["standard"] for r in ve["uncertainty"]}
p_s_now = cal["vapour_pressure_pa"] / 0.50 if abs(cal["vapour_pressure_pa"]) > 0 else 0
dry = cal["pressure_pa"] - cal["vapour_pressure_pa"]
by_hand = ve["value"] * u_line(0.50) * (cal["vapour_pressure_pa"] / (slope * 0.50 + sum(true) / 4 - slope * mean)) / dry  # d ln VE / d phi = ps / (p - phi ps)
s.check("VE: moisture by its calibration, by hand", abs(own[("air, through its density", "humidity")] / by_hand - 1) < 0.02, (own, by_hand))
s.check("VE: air flow, barometer and air are rows of their own", {("calibration, gain and offset", "air_flow"), ("air, through its density", "barometer"),
                                                                 ("air, through its density", "inlet_air_temperature")} <= set(own), own)
s.check("VE: the sum is theirs, and expanded", abs(ve["expanded"] ** 2 / sum(v * v for v in own.values()) / 2.0 ** 2 - 1) < 0.6 and ve["not_calibrated"] == [], ve)
s.check("lambda and oil pressure have theirs", lam["expanded"] > 0 and oil["expanded"] > 0 and lam["uncertainty"][0]["channel"] == "lambda", (lam, oil))
bare_one = s.good("pull", "explain", 1, "--speed", "5000 rpm", "--figure", "lambda", "--book", plain, "--json").json
s.check("never calibrated: no sum is given, and the sensor is named", bare_one["expanded"] is None and bare_one["not_calibrated"] == ["lambda"], bare_one)
s.check("in words, too", "was not calibrated" in s.good("pull", "explain", 1, "--speed", "5000 rpm", "--figure", "lambda", "--book", plain).out)

# a calibration that was wrong (the arm was read off another dyno) is taken back: pulls that it was applied to are held, and one command
# computes them with what is in force without it
back = s.path("back.book")
s.good("book", "new", "--book", back)
s.good("engine", "add", s.path("engine.yaml"), "--book", back)
s.good("cell", "calibrate", "--arm", "500 mm", "--weight", *weights, "--book", back)
time.sleep(1.1)
s.good("pull", "add", s.write("b1.csv", recordings.sweep(seed=41).text()), "--book", back)
right_bits = s.good("pull", "curve", 1, "--book", back, "--json").json["torque_n_m"]
s.good("cell", "calibrate", "--arm", "400 mm", "--weight", *weights, "--book", back)
time.sleep(1.1)
s.good("pull", "add", s.write("b2.csv", recordings.sweep(seed=42).text()), "--book", back)
for says, args, words in (("a number that there is not", ["--take-back", 9, "--reason", "x"], ("number 9",)), ("without a reason", ["--take-back", 2], ("reason",)),
                          ("with nothing in it", ["--take-back", 2, "--reason", "  "], ("reason",))):
    s.refused("taken back: " + says, s.run("cell", "calibrations", *args, "--book", back), *words)
taken = s.good("cell", "calibrations", "--take-back", 2, "--reason", "the arm is 500 mm", "--book", back, "--json").json
s.check("the pull that it was applied to is held", taken["held"] == [2], taken)
s.refused("twice", s.run("cell", "calibrations", "--take-back", 2, "--reason", "x", "--book", back), "already")
s.check("the list says so", "taken back" in s.good("cell", "calibrations", "--book", back).out)
for pull in (1, 2):
    s.good("pull", "amend", pull, "--set", "spark=30 deg", "--reason", "something else", "--book", back)
s.check("an amendment of something else does not answer it", s.good("pull", "list", "--book", back, "--json").json["pulls"][1]["held"])
s.refused("another word than now", s.run("pull", "amend", 2, "--calibration", "best", "--reason", "x", "--book", back), "calibration", "now")
s.refused("the one that was taken back", s.run("pull", "amend", 2, "--calibration", 2, "--reason", "x", "--book", back), "taken back")
s.good("pull", "amend", 2, "--calibration", "now", "--reason", "the arm is 500 mm", "--book", back)
s.check("its mend", not s.good("pull", "list", "--book", back, "--json").json["pulls"][1]["held"])
clean = s.path("clean.book")
s.good("book", "new", "--book", clean)
s.good("engine", "add", s.path("engine.yaml"), "--book", clean)
s.good("cell", "calibrate", "--arm", "500 mm", "--weight", *weights, "--book", clean)
time.sleep(1.1)
s.good("pull", "add", s.write("b3.csv", recordings.sweep(seed=42).text()), "--book", clean)  # written now: it ran after the calibration
s.check("to the bits of a book that never had it", s.good("pull", "curve", 2, "--book", back, "--json").json["torque_n_m"] ==
        s.good("pull", "curve", 1, "--book", clean, "--json").json["torque_n_m"])
s.good("cell", "calibrate", "--arm", "505 mm", "--weight", *weights, "--book", back)
s.good("pull", "amend", 1, 2, "--calibration", 3, "--reason", "the arm measured again, and it was so then", "--book", back)
s.check("or by the number of a later one: both read a hundredth higher", abs(s.good("pull", "curve", 1, "--book", back, "--json").json["torque_n_m"][5] / right_bits[5] - 1.01) < 3e-4)
s.check("from raw again", s.run("book", "verify", "--book", back).code == 0)

# a local gravity is heeded
local = s.good("cell", "calibrate", "--arm", "500 mm", "--gravity", "9.78", "--weight", *weights, "--book", book,
               "--json").json
s.check("local gravity scales the gain", abs(local["gain"] / answer["gain"] - 9.78 / G) < 1e-6, local)

# 1 second of validity has run out when the next command starts: dates are stored to the second
s.good("cell", "calibrate", "--arm", "500 mm", "--weight", *weights, "--valid", "0 s", "--book", book)
records = s.good("cell", "calibrations", "--book", book, "--json").json
s.check("four calibrations are kept", len([r for r in records["records"] if r["kind"] == "calibration"]) == 4, records)
s.check("all with date and end", all(r["at"] and r["valid_until"] for r in records["records"]), records)
s.check("an expired one is told", (records["overdue"] or {}).get("id") == "book.calibration-expired", records)
s.check("in words, too", "caution:" in s.good("cell", "calibrations", "--book", book).out)
text = report("expired")
s.check("an expired calibration is shown in the report", text is None or "xpired" in text or "verdue" in text or
        "ran out" in text, text)
if text is None:
    s.skip("texts of reports", "pdftotext is not installed")

# the daily zero and the check weight, on charts of single values (Shewhart; ISO 7870-2: 3 x mean range / 1.128)
zeros = [0.10, 0.20, 0.15, 0.12]
for number, zero in enumerate(zeros):
    got = s.good("cell", "zero", f"{zero} N·m", "--note", "morning", "--book", book, "--json").json
    s.check("zeros are counted", got["count"] == number + 1 and got["in_control"], got)
ranges = [abs(b - a) for a, b in zip(zeros[:-1], zeros[1:-1])]
centre, half = sum(zeros[:3]) / 3, 3 * (sum(ranges) / len(ranges)) / 1.128
s.check("the chart's centre", abs(got["centre"] - centre) < 1e-9, (got, centre))
s.check("the chart's limits", abs(got["upper"] - centre - half) < 1e-9 and abs(got["lower"] - centre + half) < 1e-9,
        (got, half))
# the check weight is put right by what is in force before it is judged: the calibration, and the zero of this morning
for share in (1.0004, 1.0011, 0.9996, 1.0004):
    read = share * 98.0665 / answer["gain"] + 0.12
    got = s.good("cell", "check-weight", f"{read:.6f} N·m", "98.0665 N·m", "--book", book, "--json").json
    s.check("a good check weight holds nothing", got["held"] == [] and got["in_control"], got)
s.check("the check weight is a share of what is expected", abs(got["value"] - 1.0004) < 1e-6, got)
time.sleep(1.1)  # times are kept to the second
s.good("pull", "add", s.write("run4.csv", recordings.sweep(seed=4).text()), "--book", book)
bad = s.run("cell", "check-weight", "90 N·m", "98.0665 N·m", "--book", book, "--json")
s.check("a bad check weight is an answer of no", bad.code == 1 and not bad.json["in_control"], bad)
s.check("and holds the pulls since the last good one, no others", bad.json["held"] == [4], bad.json)
wild = s.run("cell", "zero", "4 N·m", "--book", book, "--json")
s.check("a wild zero is an answer of no, and is kept", wild.code == 1 and wild.json["in_control"] is False and
        wild.json["count"] == 5 and "outside its control limits" in wild.err, wild)
s.check("the book is whole", s.run("book", "verify", "--book", book).code == 0)
s.finish()
