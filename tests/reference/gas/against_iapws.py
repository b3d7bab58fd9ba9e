#!/usr/bin/env python3
"""Vapour pressure at 100 % humidity against the steam tables of IAPWS-IF97 as python3-iapws has them.

The program uses the IAPWS equation of 1992, which is another equation for the same line: the two agree
within 0.01 % between 5 and 60 degC; 0.02 % is asked.
"""
import json
import subprocess
import sys

from iapws.iapws97 import _PSat_T

program = sys.argv[1]
passed = failed = 0


def check(good, says):
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print("FAILED:", says)


def air(*options):
    out = subprocess.run([program, "air", "factor", "--pressure", "1000 hPa", *options, "--json"],
                         capture_output=True, text=True)
    if out.returncode:
        raise SystemExit(f"{options}: exit {out.returncode}: {out.stderr}")
    return json.loads(out.stdout)


worst = 0
for tenths in range(50, 601, 50):
    celsius = tenths / 10
    steam = 1e6 * _PSat_T(273.15 + celsius)
    got = air("--temperature", f"{celsius} degC", "--humidity", "100 %")["vapour_pressure_pa"]
    worst = max(worst, abs(got / steam - 1))
    check(abs(got / steam - 1) < 2e-4, f"{celsius} degC: {got} Pa against {steam} Pa")
    by_dew = air("--temperature", f"{celsius} degC", "--dew-point", f"{celsius} degC")
    check(abs(by_dew["vapour_pressure_pa"] / got - 1) < 1e-12, f"dew point {celsius} degC")
    check(abs(by_dew["dry_pressure_pa"] + by_dew["vapour_pressure_pa"] - 1e5) < 1e-6,
          f"{celsius} degC: dry and vapour make the whole")
print(f"largest difference {100 * worst:.4f} %")
print(f"[  PASSED  ] {passed} test(s).")
if failed:
    print(f"[  FAILED  ] {failed} test(s).")
    sys.exit(1)
