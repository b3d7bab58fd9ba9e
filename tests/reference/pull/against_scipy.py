#!/usr/bin/env python3
"""A synthetic sweep through `pull curve`, recomputed with NumPy and SciPy.

Sources: W. S. Cleveland, J. Am. Stat. Ass. 74 (1979), for local regression with tricube weights;
F. R. Hampel, J. Am. Stat. Ass. 69 (1974), for the median filter that finds spikes. What is our own is
stated at each step: the window of 7, the limit of 6 scaled median deviations, 4 usual steps as the least
jump, half-width 400 rpm, 250 rpm left out after the load comes on.

Argument: the built program. Everything is recomputed from the file, and agrees to 1e-9 of each figure.
"""
import json
import os
import subprocess
import sys
import tempfile

import numpy as np
from scipy import integrate, linalg, ndimage, signal

program = sys.argv[1]
passed = failed = 0


def check(good, says):
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print("FAILED:", says)


def near(got, want, relative, says):
    got, want = np.asarray(got, float), np.asarray(want, float)
    off = np.max(np.abs(got - want) / np.maximum(np.abs(want), 1e-300)) if got.shape == want.shape else np.inf
    check(off <= relative, f"{says}: off by {off:.3g}, {relative:.1g} allowed")


def ask(path, *options):
    out = subprocess.run([program, *options[:2], path, *options[2:], "--json"], capture_output=True, text=True)
    if out.returncode:
        raise SystemExit(f"{options}: exit {out.returncode}: {out.stderr}")
    return json.loads(out.stdout)


def lagged(path):
    """The curve with a lag of 0.15 s stated for lambda."""
    stated = path + ".yaml"
    with open(stated, "w", encoding="ascii") as out:
        out.write("channels:\n  lambda: { column: Lambda, lag: 0.15 s }\n")
    return ask(path, "pull", "curve", "--standard", "none", "--map", stated)


def sweep(seed, rho, spikes):
    """13 s at 100 Hz from 2000 to 6600 rpm; torque with first-order autoregressive noise and spikes."""
    random = np.random.default_rng(seed)
    n = 1300
    time = np.arange(n) / 100
    speed = 2000 + 350 * time + 40 * np.sin(time / 3)
    u = (speed - 4600) / 2600
    torque = 300 * (1 - 0.25 * u**2 - 0.06 * u**3) + 2 * np.sin(speed / 260)
    noise = signal.lfilter([1], [1, -rho], random.normal(size=n + 200))[200:] * np.sqrt(1 - rho**2)
    torque *= 1 + 0.004 * noise
    at = np.array([150, 333, 334, 480, 700, 701, 905, 1100, 1234])[:spikes]
    torque[at] += np.array([45, -38, -60, 52, 70, 66, -41, 49, -55])[:spikes]
    inlet = 0.88 + 0.02 * np.sin(time)
    return time, speed, torque, inlet, at


def write(path, time, speed, torque, inlet):
    with open(path, "w", encoding="ascii") as out:
        out.write("Time [s],Engine speed [rpm],Torque [N.m],Lambda,Throttle [%]\n")
        for row in zip(time, speed, torque, inlet):
            out.write(",".join(repr(float(v)) for v in row) + ",100\n")


def hampel(x, limit, least):
    """Spikes by SciPy's filters: inside by median_filter, ends by the part of the window that is there."""
    centre = ndimage.median_filter(x, size=7, mode="nearest")
    spread = np.empty_like(x)
    for i in range(len(x)):
        window = x[max(i - 3, 0):i + 4]
        if len(window) < 7:
            centre[i] = np.median(window)
        spread[i] = np.median(np.abs(window - centre[i]))
    away = np.abs(x - centre)
    return (away > least) & (away > limit * 1.4826 * spread)


def clean(x, time):
    steps = np.abs(np.diff(x))
    spike = hampel(x, 6, 4 * np.median(steps))
    good = np.flatnonzero(~spike)
    return np.interp(time, time[good], x[good]), spike


def widened(x, x0, half):
    """Near an end the half-width grows by half of what is cut off (our own)."""
    return half + 0.5 * max(0.0, half - min(x0 - x.min(), x.max() - x0))


def local_quadratic(x, y, x0, half):
    half = widened(x, x0, half)
    u = (x - x0) / half
    near_by = np.abs(u) < 1
    weight = (1 - np.abs(u[near_by])**3)**3
    return np.polyfit(u[near_by], y[near_by], 2, w=np.sqrt(weight))[2]


def weights_of(x, x0, half):
    """The row of the hat matrix at x0, by SciPy's least squares."""
    half = widened(x, x0, half)
    u = (x - x0) / half
    near_by = np.flatnonzero(np.abs(u) < 1)
    root = np.sqrt((1 - np.abs(u[near_by])**3)**3)
    design = np.vander(u[near_by], 3, increasing=True) * root[:, None]
    row = np.zeros(len(x))
    row[near_by] = linalg.pinv(design)[0] * root
    return row


def recompute(name, time, speed, torque, inlet, curve, lagging):
    half, step = 400.0, 100.0
    speed_clean, speed_spikes = clean(speed, time)
    torque_clean, torque_spikes = clean(torque, time)
    check(not speed_spikes.any(), f"{name}: a steady speed has no spikes")
    first = np.flatnonzero(speed_clean >= speed_clean[:5].mean() + 250)[0]
    x, y = speed_clean[first:], torque_clean[first:]
    kept = ~torque_spikes[first:]  # what was a spike has no weight, whatever stands in its place
    low, high = x.min(), x.max()
    grid = np.arange(np.ceil(low / step) * step, np.floor((high + 15) / step) * step + 1, step)
    near(curve["speed_rpm"], grid, 0, f"{name}: grid")
    if len(grid) != len(curve["speed_rpm"]):
        return
    want = np.array([local_quadratic(x[kept], y[kept], g, half) for g in grid])
    near(curve["torque_n_m"], want, 1e-9, f"{name}: torque")
    near(curve["observed_torque_n_m"], want, 1e-9, f"{name}: observed torque")
    near(curve["power_w"], want * grid * 2 * np.pi / 60, 1e-9, f"{name}: power")
    check(curve["cleaned"]["spikes"] == torque_spikes[first:].sum(), f"{name}: count of spikes")

    # noise about the curve, along the samples
    inside = (x >= grid[0]) & (x <= grid[-1]) & kept
    residual = y[inside] / np.interp(x[inside], grid, want) - 1
    used = 3 + 2.2 * (high - low) / half  # degrees of freedom that the smooth curve takes (our own)
    noise = np.sqrt(np.sum(residual**2) / (len(residual) - used))
    rho = np.clip(np.sum(residual[1:] * residual[:-1]) / np.sum(residual[:-1]**2), 0, 0.99)
    near(curve["noise_relative"], noise, 1e-9, f"{name}: noise")
    near(curve["noise_correlation"], rho, 1e-9, f"{name}: correlation of noise")

    # standard errors: l' R l with the whole Toeplitz matrix of a first-order process
    correlation = linalg.toeplitz(rho**np.arange(len(x)))
    rows = np.zeros((len(grid), len(x)))
    rows[:, kept] = [weights_of(x[kept], g, half) for g in grid]
    near(rows @ y, want, 1e-9, f"{name}: the two ways to fit agree")
    se = want * noise * np.sqrt(np.einsum("ij,jk,ik->i", rows, correlation, rows))
    near(curve["torque_se_n_m"], se, 1e-8, f"{name}: standard errors")

    # the headline: mean of the log of torque from 65 % of the top speed
    band = curve["band"]
    at, fine = (np.linspace(band["low_rpm"], band["high_rpm"], n) for n in (51, 20001))
    near(band["low_rpm"], 0.65 * high, 1e-12, f"{name}: foot of the band")
    near(band["high_rpm"], min(high, grid[-1]), 1e-12, f"{name}: top of the band")
    for points, allowed in ((at, 1e-9), (fine, 1e-4)):  # by its own 51 points, and by the integral
        mean = np.exp(integrate.trapezoid(np.log(np.interp(points, grid, want)), points) / np.ptp(points))
        near(band["mean_torque_n_m"], mean, allowed, f"{name}: headline by {len(points)} points")

    # no lag is stated, and none is taken; a stated lag of 0.15 s moves 15 samples, and the last 15 are missing
    shifted, spikes = clean(inlet, time)
    for stated, got in ((0, curve), (15, lagging)):
        moved = np.append(shifted[stated:], np.full(stated, np.nan))[first:]
        there = ~np.isnan(moved) & ~np.append(spikes[stated:], np.full(stated, False))[first:]
        want = np.array([local_quadratic(x[there], moved[there], g, half)
                         if g <= x[there].max() + half / 10 else np.nan for g in grid])
        values = np.array([np.nan if v is None else v for v in got["columns"]["lambda"]], float)
        check(np.array_equal(np.isnan(values), np.isnan(want)), f"{name}: lambda where it was measured, {stated} rows")
        known = ~np.isnan(want)
        near(values[known], want[known], 1e-9, f"{name}: lambda, {stated} rows of lag taken out")
    return rho


def main():
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "sweep.csv")
        for seed, rho, spikes in ((1, 0.8, 9), (2, 0.8, 0), (3, 0.3, 5), (4, 0.0, 9)):
            name = f"seed {seed}, correlation {rho}, {spikes} spikes"
            time, speed, torque, inlet, at = sweep(seed, rho, spikes)
            write(path, time, speed, torque, inlet)
            curve = ask(path, "pull", "curve", "--standard", "none")
            found = recompute(name, time, speed, torque, inlet, curve, lagged(path))
            check(found is not None and abs(found - rho) < 0.08, f"{name}: correlation found as put in: {found}")
            check(abs(curve["noise_relative"] / 0.004 - 1) < 0.15, f"{name}: noise found as put in")
            spiked = hampel(torque, 6, 4 * np.median(np.abs(np.diff(torque))))
            check(spiked[at].all(), f"{name}: SciPy sees every spike that was put in")
            looked = ask(path, "look")
            of_torque = next(c for c in looked["channels"] if c["channel"] == "torque")
            check(of_torque["spikes"] == spiked.sum(), f"{name}: spikes in the whole recording")

        # jumps of 4 to 14 N·m on noise of 1.2: around the limit, where its constants decide
        time, speed, torque, inlet, _ = sweep(6, 0.0, 0)
        torque[10:-10:10] += np.linspace(4, 14, 128) * np.resize([1, -1], 128)
        write(path, time, speed, torque, inlet)
        recompute("jumps around the limit", time, speed, torque, inlet,
                  ask(path, "pull", "curve", "--standard", "none"), lagged(path))
        spiked = hampel(torque, 6, 4 * np.median(np.abs(np.diff(torque))))
        check(20 < spiked.sum() < 110, f"some are spikes and some are not: {spiked.sum()}")

        # a filter that is too eager would eat a real corner: a step of ten deviations stays
        time, speed, torque, inlet, _ = sweep(5, 0.0, 0)
        torque[700:] += 25
        write(path, time, speed, torque, inlet)
        curve = ask(path, "pull", "curve", "--standard", "none")
        recompute("a step in torque", time, speed, torque, inlet, curve, lagged(path))
        check(curve["cleaned"]["spikes"] == 0, "a step is no spike")


main()
print(f"[  PASSED  ] {passed} test(s).")
if failed:
    print(f"[  FAILED  ] {failed} test(s).")
    sys.exit(1)
