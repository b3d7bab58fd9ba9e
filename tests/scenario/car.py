"""Pulls in the car: the answer in text and JSON, its figures worked out again here by other steps, and what is refused.

Outside source: Newton's law, integrated here over speed (Simpson) where the program steps in time."""
import math
import os

import recordings
from harness import Scenario

s = Scenario()
example = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "examples", "cars", "hill-climb.yaml")
PLAIN = "name: test car\nmass: 900 kg\ngears: [2.6]\nfinal_drive: 3.5\ntyre_radius: 300 mm\ndrag_area: 0.6 m2\ngrip: 500 %\nshift_time: 0 s\n"
book = s.path("car.book")
s.good("book", "new", "--book", book)
for seed in (1, 2, 3, 4):
    text = recordings.sweep(seed=seed, gain=1.03 if seed > 2 else 1).text()
    s.run("pull", "add", s.write(f"run-{seed}.csv", text), "--book", book, "--set", "spark=28 deg" if seed > 2 else "spark=26 deg")
template = s.good("car", "new").out
s.check("the template names every figure", all(w in template for w in ("mass", "gears", "final_drive", "tyre_radius", "drag_area", "grip")), template)
s.refused("the template alone is no car", s.run("car", "worth", s.write("empty.yaml", template), "--pulls", "1", "--book", book), "mass", "not given")

# ---- against a second way of working it out ----
car = s.write("plain.yaml", PLAIN)
answer = s.good("car", "worth", car, "--pulls", "1", "--to", "75 km/h", "--distance", "500 m", "--book", book, "--json").json
curve = s.good("pull", "curve", "1", "--book", book, "--json").json
speeds, torques = curve["speed_rpm"], curve["torque_n_m"]
ratio, r, mass = 2.6 * 3.5, 0.3, 900


def torque(rpm):
    if rpm <= speeds[0]:
        return torques[0]
    i = next(k for k in range(1, len(speeds)) if speeds[k] >= rpm)
    return torques[i - 1] + (torques[i] - torques[i - 1]) * (rpm - speeds[i - 1]) / (speeds[i] - speeds[i - 1])


def net(v):
    return torque(v * ratio / r * 30 / math.pi) * ratio * 0.9 / r - 0.5 * 1.2 * 0.6 * v * v - mass * 9.80665 * 0.015


def simpson(f, a, b, n=20000):
    h = (b - a) / n
    return h / 3 * (f(a) + f(b) + 4 * sum(f(a + h * k) for k in range(1, n, 2)) + 2 * sum(f(a + h * k) for k in range(2, n, 2)))


target = 75 / 3.6
reach = speeds[-1] * math.pi / 30 * r / ratio
if s.check("the test car gets that far in its only gear", reach > target, reach):
    want = simpson(lambda v: mass / net(v), 0, target)
    s.check("the time to a speed", abs(answer["speed_time_s"] - want) < 1e-3, (answer["speed_time_s"], want))
gear = answer["gears"][0]
for v, force in list(zip(gear["speed_m_s"], gear["force_n"]))[1:-1:7]:
    s.check("the tractive curve", abs(force - torque(v * ratio / r * 30 / math.pi) * ratio * 0.9 / r) < 1e-6 * force, (v, force))
s.check("the last gear ends where the pull ends", abs(gear["shift_rpm"] - speeds[-1]) < 1e-9, gear["shift_rpm"])
s.check("uncertainty is carried", 0 < answer["speed_expanded_s"] < answer["speed_time_s"] and answer["contributions_s"]["torque"] < 0 < answer["contributions_s"]["mass"], answer)
combined = 2 * math.sqrt(sum(c * c for c in answer["contributions_s"].values()))
s.check("in quadrature", abs(combined - answer["speed_expanded_s"]) < 1e-9, (combined, answer["speed_expanded_s"]))
s.check("shares sum to one", abs(sum(answer["shares_of_500_rpm"]) - 1) < 1e-9)

# ---- in words ----
told = s.good("car", "worth", example, "--pulls", "1", "2", "--book", book)
for words in ("gear 1: shift at", "gear 5: ends at", "0 to 100 km/h: ", " ± ", "top speed", "grip", "engine's inertia", "an estimate"):
    s.check(f"it says '{words}'", words in told.out, told)
s.check("in miles", "328 ft from rest" in s.good("car", "worth", example, "--pulls", "1", "--units", "us", "--book", book).out)
s.check("in German", "aus dem Stand" in s.good("car", "worth", example, "--pulls", "1", "--language", "de", "--book", book).out)
steep = s.good("car", "worth", example, "--pulls", "1", "--grade", "50 %", "--to", "200 km/h", "--book", book)
s.check("what is never reached is said", "not reached" in steep.out and "nan" not in steep.out, steep)
s.check("and is null", s.good("car", "worth", example, "--pulls", "1", "--grade", "50 %", "--to", "200 km/h", "--book", book, "--json").json["speed_time_s"] is None)

# ---- a difference ----
both = s.good("car", "worth", example, "--pulls", "3", "4", "--against", "1", "2", "--book", book, "--json").json
d = both["difference"]
s.check("more torque is quicker", d["speed_time_s"] < 0 and d["distance_time_s"] < 0, d)
s.check("the difference is better known than the time", 0 < d["speed_expanded_s"] < both["speed_expanded_s"], (d, both["speed_expanded_s"]))
before = s.good("car", "worth", example, "--pulls", "1", "2", "--book", book, "--json").json
s.check("and is the difference of both", abs(both["speed_time_s"] - before["speed_time_s"] - d["speed_time_s"]) < 1e-9, (both, before))
s.check("nothing was kept of the comparison", s.run("judge", "explain", "--book", book).code != 0, s.run("judge", "explain", "--book", book))

# ---- the wrong fact ----
REFUSED = [("gears out of order", "gears: [2.6]", "gears: [1.0, 2.6]", ("gears", "gear 2", "in order")),
           ("a mass without a unit", "mass: 900 kg", "mass: 900", ("mass", "unit")),
           ("a drag coefficient for an area", "drag_area: 0.6 m2", "drag_area: 0.33", ("drag_area", "unit")),
           ("a radius as diameter in metres", "300 mm", "1.9 m", ("tyre_radius",)),
           ("words for numbers", "gears: [2.6]", "gears: [first, second]", ("gears",)),
           ("an unknown field", "final_drive", "axle", ("axle",)),
           ("a mass of nothing", "mass: 900 kg", "mass: 0 kg", ("mass",)),
           ("nan", "mass: 900 kg", "mass: nan kg", ("mass",))]
for says, was, now, words in REFUSED:
    s.refused(says, s.run("car", "worth", s.write("wrong.yaml", PLAIN.replace(was, now)), "--pulls", "1", "--book", book), *words)
s.refused("no pulls", s.run("car", "worth", car, "--book", book), "--pulls")
s.refused("a pull that is not there", s.run("car", "worth", car, "--pulls", "99", "--book", book), "99")
s.refused("unlike pulls", s.run("car", "worth", car, "--pulls", "1", "3", "--book", book), "spark")
s.good("pull", "discard", "2", "--reason", "throttle slipped", "--book", book)
s.refused("a discarded pull", s.run("car", "worth", car, "--pulls", "1", "2", "--book", book), "pull 2", "discarded", "throttle slipped")
s.refused("a pull named twice, which would weigh double", s.run("car", "worth", car, "--pulls", "1", "1", "--book", book), "pull 1", "twice")
same = s.write("again.csv", open(s.path("run-1.csv"), encoding="utf-8").read() + "\n")
s.refused("the same recording as two files", s.run("car", "worth", car, "--pulls", s.path("run-1.csv"), same, "--book", book), "same recording", "again.csv")
s.refused("a pull and its own recording", s.run("car", "worth", car, "--pulls", "1", same, "--book", book), "pull 1", "same recording")
s.refused("the same pull on both sides", s.run("car", "worth", car, "--pulls", "3", "--against", "3", "--book", book), "pull 3", "same recording")
s.refused("its recording on the other side", s.run("car", "worth", car, "--pulls", "1", "--against", same, "--book", book), "pull 1", "same recording")
s.refused("among others", s.run("car", "worth", car, "--pulls", "3", "4", "--against", "1", "4", "--book", book), "pull 4")
s.refused("a limit beyond what was run", s.run("car", "worth", car, "--pulls", "1", "--limit", "9900 rpm", "--book", book), "9900", "was not run")
s.refused("a limit below it", s.run("car", "worth", car, "--pulls", "1", "--limit", "600 rpm", "--book", book), "600", "below")
s.refused("a grade in degrees", s.run("car", "worth", car, "--pulls", "1", "--grade", "9 deg", "--book", book), "grade")
s.refused("a wall", s.run("car", "worth", car, "--pulls", "1", "--grade", "400 %", "--book", book), "--grade", "50 %")
s.refused("a file that is not there", s.run("car", "worth", s.path("none.yaml"), "--pulls", "1", "--book", book), "none.yaml")
s.finish()
