"""Days and runs of a shop in four zones, over both changes of its clock, beside Python's zoneinfo (the IANA time zone database).

Los Angeles and Berlin change by an hour, Lord Howe by half of one, Kolkata never; its days end at half past the hour of UTC.
"""
import datetime
import sqlite3
import zoneinfo

import recordings
from harness import Scenario

s = Scenario()
CHANGES = {"America/Los_Angeles": ["2025-03-09", "2025-11-02"], "Europe/Berlin": ["2025-03-30", "2025-10-26"],
           "Asia/Kolkata": ["2025-03-30", "2025-10-26"], "Australia/Lord_Howe": ["2025-04-06", "2025-10-05"]}
TIMES = [(-1, "23:50"), (0, "00:10"), (0, "12:00"), (0, "23:50"), (1, "00:05")]
FILES = [s.write(f"run-{n}.csv", recordings.sweep(seed=n, high=4500).text()) for n in range(len(TIMES) * 2)]


def local(zone, day, offset, clock):
    date = datetime.date.fromisoformat(day) + datetime.timedelta(days=offset)
    return datetime.datetime.combine(date, datetime.time.fromisoformat(clock), zoneinfo.ZoneInfo(zone))


for zone, days in CHANGES.items():
    book = s.path(zone.replace("/", "-") + ".book")
    s.good("book", "new", "--zone", zone, "--cell-file", s.write("cell.yaml", recordings.CELL), "--book", book)
    s.good("engine", "add", s.write("engine.yaml", recordings.ENGINE), "--book", book)
    wanted, run = [], 0
    for number, day in enumerate(days):
        last = None
        for k, (offset, clock) in enumerate(TIMES):
            at = local(zone, day, offset, clock)
            run += at.date() != last
            last = at.date()
            s.good("pull", "add", FILES[number * len(TIMES) + k], "--at", at.strftime("%Y-%m-%d %H:%M"), "--book", book, "--json")
            wanted.append((at.astimezone(datetime.timezone.utc).strftime("%Y-%m-%dT%H:%M:%SZ"), at.date().isoformat(), run))
    with sqlite3.connect(book) as rows:
        got = rows.execute("SELECT at, day, run FROM pull ORDER BY id").fetchall()
    s.check(f"{zone}: instants, days and runs", got == wanted, list(zip(got, wanted)))
    lengths = {(local(zone, d, 1, "00:00").astimezone(datetime.timezone.utc) - local(zone, d, 0, "00:00").astimezone(datetime.timezone.utc)).total_seconds() / 3600
               for d in days}
    s.check(f"{zone}: such days are tried", lengths == {"Asia/Kolkata": {24.0}, "Australia/Lord_Howe": {24.5, 23.5}}.get(zone, {23.0, 25.0}), lengths)
    for day in days:  # every quarter of an hour of the night: left out, shown twice, or plain
        for quarter in range(16):
            clock = f"{quarter // 4:02}:{quarter % 4 * 15:02}"
            early = local(zone, day, 0, clock)
            late = early.replace(fold=1)
            gap = early.astimezone(datetime.timezone.utc).astimezone(early.tzinfo).strftime("%H:%M") != clock
            twice = not gap and early.utcoffset() != late.utcoffset()
            if gap or twice:
                s.refused(f"{zone}, {day} {clock}", s.run("pull", "add", FILES[0], "--at", f"{day} {clock}", "--book", book), "left out" if gap else "twice")
s.finish()
