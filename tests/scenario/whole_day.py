"""The second opinion by all pulls of a day, asked by a tired person: a pull alone, the same question twenty times, a pull discarded or amended
after the answer, a stop that nobody told, oil that nobody measured, a day over midnight, two engines on one day, a refused question.

Usage: whole_day.py PROGRAM"""
import math
import random

import recordings
from harness import Scenario

s = Scenario()
chance = random.Random(3)


def new_book(name):
    book = s.path(name)
    s.good("book", "new", "--cell-file", s.write("cell.yaml", recordings.CELL), "--book", book)
    s.good("engine", "add", s.write("engine.yaml", recordings.ENGINE), "--book", book)
    return book


def run(book, at, gain, *more, spark="30 deg", scatter=0.002, without=(), rate=400):
    """One pull; torque of `gain`, with 0.2 % from pull to pull."""
    text = recordings.sweep(seed=chance.randrange(10**6), rate=rate, gain=gain * (1 + chance.gauss(0, scatter))).without(*without).text()
    answer = s.good("pull", "add", s.write(f"{at.replace(' ', '-').replace(':', '')}.csv", text), "--at", at, "--set", f"spark={spark}", *more, "--book", book, "--json").json
    return answer["pull_ids"][0]


def ask(book, a, b, *more):
    return s.good("compare", "--a", *a, "--b", *b, *more, "--book", book, "--json").json


def finite(value):
    """Every number of an answer is one."""
    if isinstance(value, dict):
        return all(finite(v) for v in value.values())
    if isinstance(value, list):
        return all(finite(v) for v in value)
    return not isinstance(value, float) or math.isfinite(value)


# ---- a day with one pull a side, and then more ----
book = new_book("day.book")
a, b = [run(book, "2026-11-30 10:00", 1)], [run(book, "2026-11-30 10:04", 1.02, spark="32 deg")]
first = ask(book, a, b)
s.check("one pull a side: the whole day tells no verdict, and why", first["whole_day"] and first["whole_day"]["verdict"] == "undecided" and
        "judge.day-twice" in [n["id"] for n in first["whole_day"]["notes"]], first["whole_day"])
for k in range(3):
    a.append(run(book, f"2026-11-30 10:{8 + 8 * k:02}", 1))
    b.append(run(book, f"2026-11-30 10:{12 + 8 * k:02}", 1.02, spark="32 deg"))
day = ask(book, a, b)["whole_day"]
s.check("four of each: a gain of 2 % is told", day["verdict"] == "gain" and day["relative_interval"][0] < 0.02 < day["relative_interval"][1], day)
s.check("all of the day's pulls took part", day["pulls_today"] == 8 and day["pulls"] == 8, day)

# ---- the same question twenty times ----
before = ask(book, a, b)
for _ in range(20):
    last = ask(book, a, b)
s.check("asked twenty times, the day's difference is the same figure", last["whole_day"]["relative_difference"] == before["whole_day"]["relative_difference"])
s.check("and its interval is never narrower for it", last["whole_day"]["relative_interval"][0] <= before["whole_day"]["relative_interval"][0] and
        last["whole_day"]["relative_interval"][1] >= before["whole_day"]["relative_interval"][1], last["whole_day"]["relative_interval"])

# ---- a pull that is discarded, or amended, after the answer ----
s.good("pull", "discard", b[3], "--reason", "the throttle stuck", "--book", book)
fewer = ask(book, a, b[:3])["whole_day"]
s.check("a discarded pull takes no part any more", fewer["pulls_today"] == 7, fewer)
s.good("pull", "amend", b[2], "--set", "spark=30 deg", "--reason", "the map had not changed", "--book", book)
other = s.run("compare", "--a", *a, "--b", *b[:3], "--book", book, "--json")
s.check("a pull that turns out to be of the other set-up is not taken for B", other.code != 0 or other.json["verdict"] == "not comparable" or
        other.json["whole_day"] is None or other.json["whole_day"]["relative_difference"] != fewer["relative_difference"], other)
moved = ask(book, a + [b[2]], b[:2])["whole_day"]
s.check("asked as what it was, it counts on that side", moved["pulls_today"] == 7 and moved["relative_difference"] != fewer["relative_difference"], moved)

# ---- a refused question has a reason, and nothing else ----
odd = run(book, "2026-11-30 11:00", 1, spark="32 deg", rate=250)  # another acceleration
for says, more in (("JSON", ["--json"]), ("text", [])):
    answer = s.good("compare", "--a", *a, "--b", odd, "--despite", "start", *more, "--book", book)
    if more:
        s.check("refused: no interval, curve, weights or second opinion", answer.json["verdict"] == "not comparable" and "curve" not in answer.json and
                answer.json["relative_interval"] == [None, None] and answer.json["weights"] == [] and answer.json["whole_day"] is None, answer)
    else:
        s.check("nor in the text", "no interval" in answer.out and "±" not in answer.out and "weighs in the difference" not in answer.out, answer.out)

# ---- a stop that nobody told: the level moves by 1 % between the blocks ----
stop = new_book("stop.book")
a = [run(stop, f"2026-11-30 10:{4 * k:02}", 1) for k in range(3)]
b = [run(stop, f"2026-11-30 11:{4 * k:02}", 1.01, spark="32 deg") for k in range(3)]
day = ask(stop, a, b)["whole_day"]
s.check("an hour of rest counts as a stop, and no gain is told before A came back", day["verdict"] != "gain", day)
s.check("the level may have moved at it", day["relative_interval"][0] < 0.003, day["relative_interval"])

# ---- conditions that nobody measured ----
bare = new_book("bare.book")
a, b = [], []
for k in range(4):
    unmeasured = ("Oil Temp", "Coolant Temp", "Humidity") if k % 2 else ()
    a.append(run(bare, f"2026-11-30 10:{8 * k:02}", 1, "--set", "humidity=50 %", without=unmeasured))
    b.append(run(bare, f"2026-11-30 10:{8 * k + 4:02}", 1.02, "--set", "humidity=50 %", spark="32 deg", without=unmeasured))
answer = ask(bare, a, b, "--despite", "start")
s.check("oil, coolant and humidity of every second pull not known: every figure is a number", finite(answer) and answer["whole_day"] and
        answer["whole_day"]["relative_interval"][0] < 0.02 < answer["whole_day"]["relative_interval"][1], answer["whole_day"])

# ---- over midnight ----
night = new_book("night.book")
a, b = [], []
for k, hour in enumerate(("30 23:40", "30 23:50", "01 00:00", "01 00:10")):
    date = "2026-11-" + hour if hour.startswith("30") else "2026-12-" + hour
    a.append(run(night, date, 1))
    b.append(run(night, date[:-1] + "4", 1.02, spark="32 deg"))
answer = ask(night, a, b)
s.check("a session over midnight is of two dates: the plain answer stands alone", answer["whole_day"] is None and answer["verdict"] in ("gain", "undecided"), answer)
late = ask(night, a[2:], b[2:], "--named-only")
s.check("what ran after midnight has its own day, with the evening before it", late["whole_day"] and late["whole_day"]["pulls"] == 8 and late["whole_day"]["pulls_today"] == 4 and
        late["whole_day"]["days"] == 2, late["whole_day"])

# ---- two engines on one day ----
s.good("engine", "add", s.write("other.yaml", recordings.ENGINE.replace("bench four", "other four")), "--book", night)
for k in range(2):
    run(night, f"2026-12-01 00:{30 + 4 * k}", 1.3, "--engine", "other four")
again = ask(night, a[2:], b[2:], "--named-only")
s.check("another engine's pulls of that day take no part", again["whole_day"]["pulls"] == 8 and
        abs(again["whole_day"]["relative_difference"] - late["whole_day"]["relative_difference"]) < 1e-12, again["whole_day"])
s.finish()
