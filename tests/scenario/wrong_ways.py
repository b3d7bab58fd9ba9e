"""Forty wrong facts by file, by a live session and by the page: each is held, nothing uses it, and one amendment brings every later answer to the
bits of the day that was told rightly from the start.

That day is the same raw with the right facts from the start: the right set-up, engine or cell's record, or a version of the recorder's profile that
says the unit, scale or column (the wrong day's says nothing of them). After the amendment one more sound pull is added to both, so that what is carried on is compared too.
A row that cannot happen by a way says so (NEVER).

EW_WAYS: which of file, live, page are tried (all three).
"""
import datetime
import json
import os
import re
import shutil
import sqlite3
import time
import urllib.parse

import recordings
from harness import Scenario
from pages import Page
from wrong_table import AIR, CELL, DISCARD, ENGINE, ROWS

s = Scenario()
WAYS = os.environ.get("EW_WAYS", "file live page").split()
FILES = ("a file that was pasted half",)
NEVER = {("live", says): "a stream ends where it ends: its last pull is 'cut short', which the recorder says itself" for says in FILES}
NOW = datetime.datetime.now(datetime.timezone.utc)
STARTS = {"live": [(NOW - datetime.timedelta(minutes=m)).strftime("%Y-%m-%dT%H:%M:%SZ") for m in (24, 18, 12, 6)]}
STARTS["file"] = STARTS["page"] = [f"2026-11-30T08:{m}:00Z" for m in (10, 20, 30, 40)]
AT = {"file": "2026-11-30T08:50:00Z", "page": "2026-11-30T08:50:00Z"}
PLAIN = "zone: UTC\n"
NEXT = s.write("next.csv", recordings.sweep(seed=900).text())


def ask(book, sql):
    db = sqlite3.connect(book)
    rows = db.execute(sql).fetchall()
    db.close()
    return rows


def base_of(name, starts):
    book = s.path(name)
    s.good("book", "new", "--shop", "Weir Lane Engines", "--cell-file", s.write("cell.yaml", CELL), "--zone", "UTC", "--book", book)
    s.good("engine", "add", s.write("engine.yaml", ENGINE), "--book", book)
    s.good("recorder", "new", "the logger", "--like", s.write("like.csv", recordings.sweep().text()), "--profile", s.write("plain.yaml", PLAIN), "--book", book)
    for number, at in enumerate(starts):
        sound = s.write(f"sound-{number}.csv", recordings.sweep(seed=number + 1, gain=1 + 0.001 * (number % 2)).text())
        added = s.good("pull", "add", sound, "--at", at, "--set", "spark=28 deg", "--book", book, "--json").json
        s.check(f"sound pull {number + 1} is not held", added["held"] == [], added)
    return book


BASES = {"file": base_of("base.book", STARTS["file"])}
BASES["page"] = BASES["file"]
if "live" in WAYS:
    BASES["live"] = base_of("base-live.book", STARTS["live"])


def copy_of(way, name):
    book = s.path(name)
    for end in ("", "-wal", "-shm"):
        if os.path.exists(book + end):
            os.remove(book + end)
    shutil.copyfile(BASES[way], book)
    return book


def pairs(options):
    """--set "a=1" as the page sends it."""
    return [o.split("=", 1) for k, o in zip(options, options[1:]) if k == "--set"]


def add(way, book, text, options):
    """Pull 5 by that way; the doubts it is held for, as (id, mend)."""
    if way == "file":
        answer = s.run("pull", "add", s.write("wrong.csv", text), "--at", AT[way], *options, "--book", book, "--json")
        return [(h["finding"]["id"], h["mend"]) for h in answer.json["held"]] if answer.code == 0 else [answer.err]
    if way == "page":
        with Page(s, book) as page:
            query = urllib.parse.urlencode({"name": "wrong.csv", "at": AT[way], **dict(pairs(options))})
            status, answer = page.ask("POST", "recordings?" + query, text.encode(), "application/octet-stream")
            return [(h["finding"]["id"], h["mend"]) for h in answer["held"]] if status == 200 else [answer]
    stream = s.write("stream.txt", text)
    answer = s.run("cell", "record", "--source", f"file:{stream}?end=stop", "--alarms", "none", *options, "--book", book, "--json", timeout=60)
    news = [json.loads(line) for line in answer.out.splitlines()]
    pulls = [n for n in news if n["event"] == "pull" and n["found"]]
    s.check("live: one pull", len(pulls) == 1, answer)
    if not pulls:
        return []
    held = [(n["finding"]["id"], n["mend"]) for n in held_of(book)]
    s.check("live: a held pull is not judged, and says why", held == [] or (pulls[0]["verdict"] is None and pulls[0]["why"]), (pulls[0], held))
    return held


def held_of(book):
    """Of pull 5, by the program itself."""
    row = next((p for p in s.run("pull", "list", "--book", book, "--json").json["pulls"] if p["id"] == 5), None)
    return [{"finding": row["held"], "mend": row.get("mend", "")}] if row and row["held"] else []


def used(book):
    """All that is answered from the book when nobody names a pull."""
    return s.run("cell", "repeatability", "--book", book, "--json").out


def facts(book, ids):
    return ask(book, "SELECT p.id, p.kind, e.name, p.purpose, p.setup, p.changed, p.top_rpm, p.band_mean_n_m, p.run, p.mounting, c.method, c.cell, c.engine, "
               f"c.digest, c.bytes, c.calibration FROM pull p JOIN curve c ON c.pull_id = p.id LEFT JOIN engine e ON e.id = p.engine_id WHERE p.id IN ({ids}) ORDER BY p.id")


def answers(book, wrong, after):
    words = [("cell", "repeatability"), ("judge", "step-up", after, "--no-keep"), ("pull", "curve", after), ("compare", "--a", 1, 3, "--b", 2, 4, after, "--no-keep")]
    if wrong:
        words += [("pull", "explain", wrong, "--speed", "5000 rpm"), ("pull", "curve", wrong), ("compare", "--a", 1, 2, 3, 4, "--b", wrong, after, "--no-keep")]
    return [(a.code, a.out) for a in (s.run(*w, "--book", book, "--json") for w in words)]


def unsafe(says, way, book):
    """While it is held."""
    s.check(f"{says}, {way}: no history uses it", used(book) == used(BASES[way]))
    verdict = s.run("compare", "--a", 1, 2, "--b", 5, "--no-keep", "--book", book, "--json")
    s.check(f"{says}, {way}: no verdict", verdict.code in (1, 2) or verdict.json["verdict"] == "not comparable", verdict)
    report = s.run("sheet", "report", "--pulls", "5", "--book", book, "--out", s.path("held.html"))
    s.check(f"{says}, {way}: no report", report.code == 2 and "held" in report.err, report)


def mend(way, book, amend):
    if amend == DISCARD:
        return s.run("pull", "discard", 5, "--reason", "told wrongly", "--book", book).code == 0
    if way == "page":
        names = {"--set": "set", "--units": "units", "--cell": "cell"}
        body = {"reason": "told wrongly"}
        for option, value in zip(amend[::2], amend[1::2]):
            if option in names:
                key, text = value.split("=", 1)
                body.setdefault(names[option], {})[key] = text
            else:
                body[option[2:]] = value
        with Page(s, book) as page:
            status, answer = page.ask("POST", "pulls/5/amend", body)
        return s.check(f"amended by the page {body}", status == 200 and answer["pulls"] != [], answer)
    words = [s.write("mend.yaml", v) if o == "--map" else v for o, v in zip([None] + amend, amend)]
    answer = s.run("pull", "amend", 5, *words, "--reason", "told wrongly", "--book", book, "--json")
    return s.check(f"amended {amend}", answer.code == 0 and answer.json["pulls"] != [], answer)


def profile_of(amend, text):
    """What a recorder's profile says of the same: the amendment's map, or a row for each unit."""
    if "--map" in amend:
        return amend[amend.index("--map") + 1]
    heads = [h.split(" [")[0] for h in text.splitlines()[0].split(",")]
    names = {"barometer": "Baro", "inlet_air_temperature": "Intake Air Temp", "coolant_temperature": "Coolant Temp", "oil_temperature": "Oil Temp",
             "humidity": "Humidity", "torque": "Torque", "speed": "Engine Speed", "lambda": "Lambda", "fuel_flow": "Fuel Flow", "air_flow": "Air Flow",
             "oil_pressure": "Oil Pressure", "speed_2": "Dyno Speed", "power": "Power"}
    rows, absent = [], []
    for option, value in zip(amend[::2], amend[1::2]):
        if option != "--units":
            continue
        key, unit = value.split("=")
        if unit == "not fitted":
            absent.append(key)
            continue
        number, _, name = unit.partition(" ")
        scale = f", scale: {number}" if name and number.lstrip("-").replace(".", "").isdigit() else ""
        assert names[key] in heads
        rows.append(f"  air_fuel_ratio: {{ column: {names[key]} }}" if unit == "AFR" else
                    f"  {key}: {{ column: \"{names[key]}\", unit: \"{name if scale else unit}\"{scale} }}")
    return ("channels:\n" + "\n".join(rows) + "\n" if rows else "") + (f"not_fitted: [{', '.join(absent)}]\n" if absent else "")


def rightly(options, amend):
    """The options of who told it rightly."""
    said = dict(pairs(options))
    for key, value in pairs(amend):
        said.pop(key, None)
        if value:
            said[key] = value
    return [w for key, value in said.items() for w in ("--set", f"{key}={value}")]


def recorder(book, text, profile):
    """A further version for files like this one; the pull after it is of the first kind again."""
    s.good("recorder", "amend", "the logger", "--like", s.write("like.csv", text), "--profile", s.write("profile.yaml", profile), "--book", book)


def told_rightly(way, text, options, amend):
    book = copy_of(way, "right.book")
    if amend == DISCARD:
        return book
    recorder(book, text, profile_of(amend, text) + PLAIN)
    held = add(way, book, text, rightly(options, amend))
    s.check(f"{way}: told rightly it is not held", held == [], held)
    return book


def prepared(way, files):
    book = copy_of(way, "wrong.book")
    if files and files[0] == "engine":
        s.run("engine", "add", s.write("other.yaml", files[1]), "--book", book)
    elif files:
        s.good("book", "set", "--cell-file", s.write("other.yaml", files[1]), "--book", book)
    return book


def after(way, book):
    at = [] if way == "live" else ["--at", "2026-11-30T09:00:00Z"]
    added = s.run("pull", "add", NEXT, *at, "--engine", "bench four", "--book", book, "--json")
    return added.json["pull_ids"][0] if s.check(f"{way}: the pull after it is sound", added.code == 0 and added.json["held"] == [], added) else None


def tried(number, way, row):
    says, change, options, files, doubt, named, amend = row
    recording = recordings.sweep(seed=100 + number)
    if change:
        change(recording)
    text, book = recording.text(), prepared(way, files)
    recorder(book, text, PLAIN)
    held = add(way, book, text, options)
    if not s.check(f"{says}, {way}: held, and for the right reason", any(h[0].startswith("pull.doubt-" + doubt) for h in held), held):
        return
    unsafe(says, way, book)
    if not mend(way, book, amend):
        return
    if files and files[0] == "cell":
        s.good("book", "set", "--cell-file", s.path("cell.yaml"), "--book", book)
    right = told_rightly(way, text, options, amend)
    soon = time.time() + 60  # live, a sweep sent at once has times ahead of the clock: the next pull is after it in both books, however slow the machine
    os.utime(NEXT, (soon, soon))
    for one in (book, right):
        recorder(one, open(NEXT, encoding="utf-8").read(), PLAIN)
    mine, theirs = after(way, book), after(way, right)
    if amend == DISCARD:
        s.check(f"{says}, {way}: set aside, the next pull has the bits of a day without it",
                [r[12:] for r in facts(book, mine)] == [r[12:] for r in facts(right, theirs)] and used(book) == used(right))
        return
    one, other = ([tuple(f if k != 4 or way != "live" else re.sub("weather_age.*", "", f) for k, f in enumerate(r)) for r in facts(b, "5, 6")]
                  for b in (book, right))  # live, a pull's age goes by this machine's clock
    different = [(a[0], k, a[k], b[k]) for a, b in zip(one, other) for k in range(len(a)) if a[k] != b[k] and k != 14]
    s.check(f"{says}, {way}: amended once, it has the bits of the day told rightly", one == other, str(different)[:900])
    first, second = answers(book, 5, 6), answers(right, 5, 6)
    s.check(f"{says}, {way}: and so has every later answer", first == second, [(i, a[:2], b[:2]) for i, (a, b) in enumerate(zip(first, second)) if a != b][:1])


only = os.environ.get("EW_ROW")
for number, row in enumerate(ROWS):
    for way in WAYS:
        if (way, row[0]) in NEVER or (only and only not in row[0]):
            continue
        tried(number, way, row)
print(f"{len(ROWS)} wrong facts by {', '.join(WAYS)}; {len(NEVER)} cannot happen: {'; '.join(f'{a}: {b} ({w})' for (w, a), b in NEVER.items())}")
s.finish()
