#!/usr/bin/env python3
"""What a cell repeats to: a book of like pulls, and its standard deviations recomputed with NumPy.

Sources: ISO 5725-2 (repeatability standard deviation s_r: pooled within groups) and ISO 5725-6
(repeatability limit r = 2.8 s_r: 1.96 sqrt 2 = 2.7718, rounded up), both from memory. The pulls of the
book are generated here with a fixed seed.
"""
import json
import os
import re
import subprocess
import sys
import tempfile

import numpy as np

program = sys.argv[1]
passed = failed = 0


def check(good, says):
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print("FAILED:", says)


def run(*arguments, is_json=True):
    out = subprocess.run([program, *arguments, *(["--json"] if is_json else [])], capture_output=True, text=True)
    if out.returncode:
        raise SystemExit(f"{arguments}: exit {out.returncode}: {out.stderr}")
    return json.loads(out.stdout) if is_json else out.stdout


def write(path, level, random):
    time = np.arange(1000) / 100
    speed = 2500 + 400 * time
    torque = level * (1 - 0.2 * ((speed - 4800) / 2400)**2) * (1 + 0.002 * random.normal(size=1000))
    with open(path, "w", encoding="ascii") as out:
        out.write("Time [s],Engine speed [rpm],Torque [N.m],Throttle [%]\n")
        for row in zip(time, speed, torque):
            out.write(",".join(repr(float(v)) for v in row) + ",100\n")


def band_log(curve):
    """Mean of the log of torque from 66 to 97 % of the top speed, 6500 rpm: what pulls are compared by."""
    at = np.linspace(0.66 * 6500, 0.97 * 6500, 51)
    return np.trapz(np.log(np.interp(at, curve["speed_rpm"], curve["torque_n_m"])), at) / np.ptp(at)


def main():
    random = np.random.default_rng(20261)
    with tempfile.TemporaryDirectory() as folder:
        book, engine = os.path.join(folder, "shop.book"), os.path.join(folder, "engine.yaml")
        with open(engine, "w", encoding="ascii") as out:
            out.write("name: Test six\ncylinders: 6\ndisplacement: 3.0 L\n")
        run("engine", "add", engine, "--book", book)
        groups = []
        for group in range(3):
            shift = random.normal() * 0.006
            for pull in range(4):
                path = os.path.join(folder, f"pull-{group}-{pull}.csv")
                write(path, 300 * np.exp(shift + 0.004 * random.normal()), random)
                stop = ["--after-stop"] if pull == 0 and group else []
                minute = 10 * group + pull
                run("pull", "add", path, "--book", book, "--at", f"2026-06-12T10:{minute:02d}:00Z",
                    "--set", "pressure=990 hPa", "--set", "temperature=25 degC", "--set", "humidity=50 %", *stop)
                groups.append(group)
        pulls = run("pull", "list", "--book", book)["pulls"]
        check(len(pulls) == 12, f"twelve pulls in the book: {len(pulls)}")
        logs = np.array([band_log(run("pull", "curve", str(n), "--book", book)) for n in sorted(p["id"] for p in pulls)])
        groups = np.array(groups)
        level = run("cell", "repeatability", "--book", book)["levels"]["consecutive"]

        # pooled within the groups
        within = logs - np.array([logs[groups == g].mean() for g in groups])
        expected = np.sqrt(np.sum(within**2) / 9)
        sd = level["relative_sd"]
        check(level["degrees_of_freedom"] == 9, f"degrees of freedom: {level['degrees_of_freedom']}")
        check(abs(sd / expected - 1) < 1e-9, f"s_r {sd} against {expected}")
        check(0.002 < sd < 0.007, f"s_r about the 0.004 that was put in: {sd}")

        printed = run("cell", "repeatability", "--book", book, is_json=False)
        found = re.search(r"back to back\s+([\d.]+) %\s+([\d.]+) %", printed)
        check(found is not None, f"both figures are printed: {printed}")
        check(abs(float(found.group(1)) - 100 * sd) <= 0.0051, "s_r as printed")
        check(abs(float(found.group(2)) - 280 * sd) <= 0.0051, "repeatability limit as printed")
        check(1.96 * np.sqrt(2) < 2.8 < 1.96 * np.sqrt(2) + 0.03, "1.96 sqrt 2, rounded up")


main()
print(f"[  PASSED  ] {passed} test(s).")
if failed:
    print(f"[  FAILED  ] {failed} test(s).")
    sys.exit(1)
