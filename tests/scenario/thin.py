"""Idle samples of an old live recording become rows at a lower rate, by the book's rule, and nothing that is asked of the book gives another
answer: pulls, figures, hours, trips. What was thinned is worked out again here from a backup of before, with Python's own arithmetic.
Also refused rules, the second time, a run that was changed by hand, kills at any moment, and a shop.

EW_KILLS tells how often it is killed (12). The seed of the moments is printed; EW_SEED sets it.
"""
import csv
import datetime
import hashlib
import json
import math
import os
import random
import shutil
import signal
import sqlite3
import struct
import subprocess
import time

import recordings
from harness import Scenario
from postgres import PASSWORD, Postgres, binaries

s = Scenario()
kills = int(os.environ.get("EW_KILLS", "12"))
seed = int(os.environ.get("EW_SEED", "20263"))
chance = random.Random(seed)
AROUND, DAY = 60.0, 86400.0
book = s.path("cell.book")


def utc(when):
    return when.strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def read(path, sql, *values):
    db = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    rows = db.execute(sql, values).fetchall()
    db.close()
    return rows


def change(path, *statements):
    db = sqlite3.connect(path)
    for sql in statements:
        db.execute(sql)
    db.commit()
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    db.close()


def all_rows(path):
    """Every row of every table, but the names that a copy has of itself."""
    db = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    tables = [t for (t,) in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY 1")]
    rows = {t: sorted(map(repr, db.execute(f"SELECT * FROM {t}"))) for t in tables}
    db.close()
    return rows


def fresh(path, name):
    there = s.path(name)
    for end in ("", "-wal", "-shm"):
        if os.path.exists(there + end):
            os.remove(there + end)
    shutil.copyfile(path, there)
    return there


def age(path, recording, days):
    """A recording that ran at no pace ran so many days ago, a second a second. What it began with says when: its digest is made anew."""
    db = sqlite3.connect(path)
    began = datetime.datetime.now(datetime.timezone.utc) - datetime.timedelta(days=days)
    source, channels = db.execute("SELECT source, channels FROM stream WHERE recording_id = ?", (recording,)).fetchone()
    head = f"live {utc(began)} from {source}: {channels}\n".encode()
    db.execute("UPDATE recording SET bytes = ?, sha256 = ? WHERE id = ?", (head, hashlib.sha256(head).hexdigest(), recording))
    blocks = db.execute("SELECT id, last_s FROM stream_block WHERE recording_id = ?", (recording,)).fetchall()
    for block, last_s in blocks:
        db.execute("UPDATE stream_block SET stored_at = ? WHERE id = ?", (utc(began + datetime.timedelta(seconds=last_s)), block))
    ended = began + datetime.timedelta(seconds=max(last_s for _, last_s in blocks))
    db.execute("UPDATE stream SET began_at = ?, ended_at = ? WHERE recording_id = ?", (utc(began), utc(ended), recording))
    db.commit()
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    db.close()
    return began


def record(run, *more):
    answer = s.run("cell", "record", "--source", f"practice:?pace=0&seed=3&run={run}", "--book", book, *more, timeout=120)
    s.check(f"recorded: {run[:40]}", answer.code in (0, 1), answer)


# ---- three recordings: pulls between long stretches of nothing, a trip, and one of today ----
s.write("engine.yaml", recordings.ENGINE)
s.good("engine", "add", s.path("engine.yaml"), "--book", book)
record("wait 900;sweep 2500 6500 300;wait 900;sweep 2500 6500 300;wait 700;end")
record("wait 600;speed 5000;throttle 60;wait 4;fault oil-pump;wait 12;wait 600;end")
record("wait 400;end")
live = [row[0] for row in read(book, "SELECT recording_id FROM stream ORDER BY recording_id")]
s.check("three recordings", len(live) == 3, live)
first, second, third = live
began = age(book, first, 45)
age(book, second, 44)
pulls = [row[0] for row in read(book, "SELECT id FROM pull ORDER BY id")]
s.check("with pulls and a trip", len(pulls) >= 2 and read(book, "SELECT count(*) FROM alarm_trip")[0][0] >= 1, pulls)
s.good("book", "note", "a drip at the rear seal", "--at", utc(began + datetime.timedelta(seconds=300)), "--book", book)
change(book, "INSERT INTO mark (recording_id, at, time_s, text, uid, cell, writer, day) SELECT r.id, r.added_at, 1500, 'smelt of oil', "
       f"printf('00000000-0000-7000-8000-%s', lower(hex(randomblob(6)))), cell, writer, day FROM recording r WHERE id = {first}")
# one sample stands out where nobody looked: 700 s into the first recording
db = sqlite3.connect(book)
block, columns = db.execute("SELECT b.id, r.channels + 1 FROM stream_block b JOIN recording r ON r.id = b.recording_id WHERE recording_id = ? AND first_s < 700 AND last_s > 700", (first,)).fetchone()
bytes_ = bytearray(db.execute("SELECT bytes FROM stream_block WHERE id = ?", (block,)).fetchone()[0])
struct.pack_into("<d", bytes_, 8 * (columns * 50 + 8), 77.5)  # oil pressure, bar
db.execute("UPDATE stream_block SET bytes = ?, sha256 = ? WHERE id = ?", (bytes(bytes_), hashlib.sha256(bytes_).hexdigest(), block))
db.commit()
db.close()
s.check("the book is whole", s.good("book", "verify", "--book", book, "--json").json["whole"])
s.good("book", "info", "--book", book)

# ---- without a rule all is kept; a rule that is none is refused ----
s.refused("no rule", s.run("book", "thin", "--book", book), "--idle-whole", "everything is kept")
RULES = (("--idle-whole", "-3 days"), ("--idle-whole", "0 days"), ("--idle-whole", "ninety days"), ("--idle-whole", "90"), ("--idle-whole", ""), ("--idle-whole", "nan days"),
         ("--idle-whole", "30 Hz"), ("--idle-whole", "300 years"), ("--idle-whole", "30 days", "--idle-rate", "-1 Hz"), ("--idle-whole", "30 days", "--idle-rate", "0 Hz"),
         ("--idle-whole", "30 days", "--idle-rate", "1"), ("--idle-whole", "30 days", "--idle-rate", "slowly"), ("--idle-whole", "30 days", "--idle-rate", "0.0001 Hz"),
         ("--idle-whole", "30 days", "--idle-around", "0 s"), ("--idle-whole", "30 days", "--idle-around", "-60 s"), ("--idle-whole", "30 days", "--idle-around", "60"),
         ("--idle-whole", "30 days", "--idle-around", "a minute"), ("--idle-rate", "1 Hz"), ("--idle-whole", "all", "--idle-rate", "1 Hz"))
before = all_rows(book)
for rule in RULES:
    s.refused(" ".join(rule), s.run("book", "set", *rule, "--book", book), "--idle-")
s.check("and nothing was kept of them", all_rows(book) == before)
answer = s.good("book", "set", "--idle-whole", "30 days", "--idle-rate", "1 Hz", "--idle-around", f"{AROUND:g} s", "--book", book)
s.check("the rule is said with its units", all(word in answer.out for word in ("30 d", "1 Hz", "60 s")), answer.out)
told = s.good("book", "info", "--book", book, "--json").json
s.check("and stands in the book", told["thinning"] == {"whole_s": 30 * DAY, "rate_hz": 1, "around_s": AROUND}, told["thinning"])
s.good("book", "set", "--idle-rate", "2 Hz", "--book", book)
s.check("one part of it is changed, the rest stays", s.good("book", "info", "--book", book, "--json").json["thinning"] == {"whole_s": 30 * DAY, "rate_hz": 2, "around_s": AROUND})
s.good("book", "set", "--idle-rate", "1 Hz", "--book", book)
taken = fresh(book, "taken-back.book")
s.good("book", "set", "--idle-whole", "all", "--book", taken)
s.check("and taken back", s.good("book", "info", "--book", taken, "--json").json["thinning"] is None)
s.refused("so nothing is thinned", s.run("book", "thin", "--book", taken), "everything is kept")

# ---- what cannot be thinned ----
for asked, words in ((str(third), "too short"), ("999", "no live recording 999"), ("x", "'x'"), ("0", "'0'"), ("-1", "")):
    s.refused(f"recording {asked}", s.run("book", "thin", asked, "--book", book), words)
fast = fresh(book, "fast.book")
s.good("book", "set", "--idle-rate", "1 kHz", "--book", fast)
s.refused("a rate above the recorded", s.run("book", "thin", "--book", fast), "1000 Hz")
s.refused("of one recording too", s.run("book", "thin", str(first), "--book", fast), "rate")
small = fresh(book, "small.book")
s.good("book", "set", "--idle-rate", "30 Hz", "--book", small)
states = {r["id"]: r["state"] for r in s.good("book", "thin", "--look", "--book", small, "--json").json["recordings"]}
s.check("what would give back too little is left", states[first] == states[second] == "small", states)
open_ = fresh(book, "open.book")
change(open_, f"UPDATE stream SET ended_at = NULL, how = NULL, rows = NULL WHERE recording_id = {second}")
s.refused("while a recording is under way", s.run("book", "thin", "--book", open_), "is under way")
s.check("it can be looked at", {r["id"]: r["state"] for r in s.good("book", "thin", "--look", "--book", open_, "--json").json["recordings"]}[second] == "under-way")
hurt = fresh(book, "hurt.book")
change(hurt, f"UPDATE stream_block SET bytes = zeroblob(length(bytes)) WHERE id = {block}")
s.refused("a damaged block is not smoothed over", s.run("book", "thin", str(first), "--book", hurt), "book verify")
s.check("and nothing of it went", read(hurt, "SELECT count(*) FROM thinned")[0][0] == 0)
for value in ("[]", "{}", "7", '{"whole_s":-1,"period_s":1,"around_s":60}', '{"whole_s":1e999,"period_s":1,"around_s":60}'):
    odd = fresh(book, "odd.book")
    change(odd, f"UPDATE setting SET value = '{value}' WHERE key = 'thinning'")
    s.refused(f"a rule that reads {value}", s.run("book", "thin", "--book", odd), "can't be read")

# ---- looked at, then done ----
whole = s.path("whole.book")
s.good("book", "backup", whole, "--book", book)


def answers(path):
    """What people ask of the book."""
    told = {("info",): s.good("book", "info", "--book", path, "--json").json["ledger"], ("trips",): s.good("cell", "alarms", "--trips", "--book", path, "--json").out,
            ("list",): s.good("pull", "list", "--book", path, "--json").out}
    for pull in pulls:
        for words in (("pull", "show"), ("pull", "curve"), ("pull", "explain"), ("pull", "history")):
            answer = s.good(*words, str(pull), "--book", path, "--json").json
            answer.pop("thinned_around", None)
            told[words + (pull,)] = json.dumps(answer, sort_keys=True)
        s.good("pull", "export", str(pull), "--out", s.path("one.csv"), "--book", path)
        told["export", pull] = open(s.path("one.csv"), "rb").read()
    for trip, in read(path, "SELECT id FROM alarm_trip"):
        told["trip", trip] = s.good("cell", "alarms", "--trip", str(trip), "--book", path).out
    told["curves"] = read(path, "SELECT pull_id, bytes, digest FROM curve ORDER BY pull_id")
    return told


asked_before = answers(book)
before = all_rows(book)
look = s.good("book", "thin", "--look", "--book", book, "--json").json
s.check("looking changes nothing", all_rows(book) == before and look["changed"] is False)
by_id = {r["id"]: r for r in look["recordings"]}
s.check("it says what would go", by_id[first]["state"] == by_id[second]["state"] == "thinned" and by_id[third]["state"] == "young", by_id)
said = s.good("book", "thin", "--look", "--book", book)
s.check("and in words", "nothing was changed" in said.out and "30 d" in said.out, said.out)
size = os.path.getsize(book)
done = s.good("book", "thin", "--book", book, "--json").json
s.check("it does what it said", done["recordings"] == look["recordings"] and done["changed"] is True, (done, look))
s.check("most of it goes", done["bytes_after"] < 0.1 * done["bytes_thinned"] and done["bytes_thinned"] > 1e6, done)
gone = done["bytes_thinned"] - done["bytes_after"]
s.check("and the bytes come back", done["file_smaller"] is True and size - os.path.getsize(book) > 0.95 * gone, (size, os.path.getsize(book), gone))
verified = s.good("book", "verify", "--book", book, "--json").json
s.check("the book is whole", verified["whole"] is True and verified["thinned_runs"] == sum(r["runs"] for r in done["recordings"]) > 0, verified)
asked_after = answers(book)
for key in asked_before:
    s.check(f"the same answer as before: {key}", asked_before[key] == asked_after[key], (asked_before[key], asked_after[key]) if key[0] == "info" else "")
log = [row for row in read(book, "SELECT who, detail FROM change_log WHERE what = 'idle samples thinned'")]
s.check("it is in the log: who, and how much", len(log) == 2 and all(who == "tester" and "rows became" in detail for who, detail in log), log)
info = s.good("book", "info", "--book", book, "--json").json["thinned"]
s.check("and in the book's facts", info["recordings"] == 2 and info["bytes"] == done["bytes_thinned"] and info["bytes_after"] == done["bytes_after"], info)
near = s.good("pull", "explain", str(pulls[0]), "--book", book, "--json").json["thinned_around"]
s.check("a pull says how near it is thinned", near["whole_before_s"] >= AROUND and near["whole_after_s"] >= AROUND and near["rate_hz"] == 1 and near["who"] == "tester", near)
s.check("also in words", "thinned to 1 Hz" in s.good("pull", "explain", str(pulls[0]), "--book", book).out)

# ---- worked out again from the backup ----


def blocks_of(path, recording):
    return {sequence: (rows, first_s, last_s, data, digest) for sequence, rows, first_s, last_s, data, digest in
            read(path, "SELECT sequence, rows, first_s, last_s, bytes, sha256 FROM stream_block WHERE recording_id = ?", recording)}


def bins(blocks, columns):
    """Rows of a run by its first second: time and rows of each, then mean, least and greatest of each channel."""
    values = b"".join(block[3] for block in blocks)
    rows = [struct.unpack_from(f"<{columns}d", values, 8 * columns * i) for i in range(len(values) // (8 * columns))]
    sorted_ = {}
    for row in rows:
        sorted_.setdefault(math.floor(row[0] - blocks[0][1]), []).append(row)
    for index in sorted(sorted_):
        group = sorted_[index]
        out = [math.fsum(r[0] for r in group) / len(group), len(group)]
        for c in range(1, columns):
            known = [r[c] for r in group if not math.isnan(r[c])]
            out += [math.fsum(known) / len(known), min(known), max(known)] if known else [math.nan] * 3
        yield out


for recording in (first, second):
    old, new = blocks_of(whole, recording), blocks_of(book, recording)
    columns = read(book, "SELECT channels + 1 FROM recording WHERE id = ?", recording)[0][0]
    runs = read(book, "SELECT first_block, last_block, source_rows, source_bytes, rows, bytes, blocks_sha256 FROM thinned WHERE recording_id = ? ORDER BY first_block", recording)
    left = set(old)
    for a, b, *_ in runs:
        left -= set(range(a, b + 1))
    s.check(f"recording {recording}: what stays is as it was, bit for bit", set(new) == left and all(new[k] == old[k] for k in new))
    s.check("the first and the last stay", 0 in new and max(old) in new)
    for a, b, source_rows, source_bytes, rows, data, digest in runs:
        group = [old[k] for k in range(a, b + 1)]
        chain = hashlib.sha256("".join(f"{k} {old[k][0]} {old[k][4]}\n" for k in range(a, b + 1)).encode()).hexdigest()
        s.check("a run names the blocks that it stands for", digest == chain and source_rows == sum(g[0] for g in group) and source_bytes == sum(len(g[3]) for g in group), (a, b))
        wide = 2 + 3 * (columns - 1)
        have = [struct.unpack_from(f"<{wide}d", data, 8 * wide * i) for i in range(rows)]
        want = list(bins(group, columns))
        good = len(have) == len(want) and len(data) == 8 * wide * rows
        for x, y in zip(have, want):
            for i, (p, q) in enumerate(zip(x, y)):
                mean = i == 0 or (i >= 2 and (i - 2) % 3 == 0)
                good &= (math.isnan(p) and math.isnan(q)) or (abs(p - q) <= 1e-9 * max(1, abs(q)) if mean else p == q)
        s.check("its rows are mean, least and greatest of each second", good, (a, b, len(have), len(want)))
    # what must stay: 60 s around pulls, trips and marks, and around the note by the time of day
    spans = read(whole, "SELECT from_s, to_s FROM stream_pull WHERE recording_id = ?1 UNION ALL SELECT from_s, to_s FROM alarm_trip WHERE recording_id = ?1 "
                 "UNION ALL SELECT time_s, time_s FROM mark WHERE recording_id = ?1", recording)
    if recording == first:
        spans.append((300, 300))
    s.check("something must stay", len(spans) >= (4 if recording == first else 1), spans)
    for from_s, to_s in spans:
        lost = [k for k, b in old.items() if k not in new and b[2] >= from_s - AROUND and b[1] <= to_s + AROUND]
        s.check(f"every sample from {from_s:.0f} to {to_s:.0f} s, and a minute on both sides", not lost, lost)
    highest = max(max(struct.unpack_from(f"<{2 + 3 * (columns - 1)}d", data, 8 * (2 + 3 * (columns - 1)) * i)[2 + 3 * 7 + 2] for i in range(rows)) for _, _, _, _, rows, data, _ in runs)
    if recording == first:
        s.check("a sample that stood out is still seen", highest == 77.5, highest)

# ---- taken out in open form ----
s.good("book", "export", s.path("out"), "--book", book)
facts = json.load(open(s.path(f"out/live-{first:05d}.json"), encoding="utf-8"))
s.check("an export says what was thinned", facts["rows_thinned"] == by_id[first]["rows_thinned"] and len(facts["thinned"]) == by_id[first]["runs"] and facts["rows"] == read(whole, "SELECT rows FROM stream WHERE recording_id = ?", first)[0][0], facts["thinned"][:1])
table = list(csv.reader(open(s.path(f"out/live-{first:05d}.csv"), encoding="utf-8")))
thin = list(csv.reader(open(s.path(f"out/live-{first:05d}-thinned.csv"), encoding="utf-8")))
s.check("a row for each that is there", len(table) - 1 == facts["rows"] - facts["rows_thinned"] + facts["rows_after"] and len(thin) - 1 == facts["rows_after"], (len(table), len(thin)))
times = [float(row[0]) for row in table[1:]]
s.check("in the order of time", times == sorted(times))
s.check("with mean, least and greatest named", thin[0][:3] == ["Time [s]", "Samples", "RPM mean [rpm]"] and "Oil pressure greatest [bar]" in thin[0], thin[0][:6])
s.check("the one that stood out among them", any(row[thin[0].index("Oil pressure greatest [bar]")] == "77.5" for row in thin[1:]))

# ---- the second time ----
before = all_rows(book)
stamp = hashlib.sha256(open(book, "rb").read()).hexdigest()
again = s.good("book", "thin", "--book", book, "--json").json
s.check("thinned twice does nothing", again["changed"] is False and all_rows(book) == before and {r["state"] for r in again["recordings"]} == {"nothing", "young"}, again)
s.check("and writes nothing", again["file_smaller"] is False)
s.good("book", "set", "--idle-rate", "0.1 Hz", "--book", book)
s.check("a run is never thinned again by another rule", s.good("book", "thin", "--book", book, "--json").json["changed"] is False)
s.good("book", "set", "--idle-around", "5 s", "--idle-rate", "1 Hz", "--book", book)
ledger = s.good("book", "info", "--book", book, "--json").json["ledger"]
closer = s.good("book", "thin", "--book", book, "--json").json
s.check("a rule that keeps less thins what it kept before", closer["changed"] is True and closer["bytes_thinned"] > 0, closer)
s.check("whole, and with the same hours", s.good("book", "verify", "--book", book, "--json").json["whole"] and s.good("book", "info", "--book", book, "--json").json["ledger"] == ledger == asked_before[("info",)])
worked_out = fresh(book, "worked-out.book")
change(worked_out, "DELETE FROM life")
s.check("hours are not worked out again from means", s.good("book", "info", "--book", worked_out, "--json").json["ledger"] == ledger)
backup = s.path("after.book")
s.good("book", "backup", backup, "--book", book)
s.check("a backup of it is whole", s.good("book", "verify", "--book", backup, "--json").json["whole"] and all_rows(backup)["thinned"] == all_rows(book)["thinned"])

# ---- changed by hand ----
TAMPER = {"a mean": "UPDATE thinned SET bytes = CAST(substr(bytes, 1, 16) || x'0000000000005940' || substr(bytes, 25) AS BLOB) WHERE id = 1",
          "a count": "UPDATE thinned SET source_rows = source_rows + 1 WHERE id = 1", "a time": "UPDATE thinned SET first_s = first_s + 1 WHERE id = 1",
          "the blocks' digest": "UPDATE thinned SET blocks_sha256 = 'ab' || substr(blocks_sha256, 3) WHERE id = 1", "when it was stored": "UPDATE thinned SET stored_to = '2026-01-01T00:00:00Z' WHERE id = 1",
          "its place": "UPDATE thinned SET last_block = last_block - 1 WHERE id = 1", "it is gone": "DELETE FROM thinned WHERE id = 1", "cut short": "UPDATE thinned SET bytes = substr(bytes, 1, length(bytes) - 8) WHERE id = 1",
          "another recording's": f"UPDATE thinned SET recording_id = {third} WHERE id = 1", "a block more": f"UPDATE stream_block SET sequence = 1 WHERE recording_id = {first} AND sequence = 0"}
for says, sql in TAMPER.items():
    path = fresh(book, "tampered.book")
    change(path, sql)
    answer = s.run("book", "verify", "--book", path)
    s.check(f"verify notices: {says}", answer.code == 1 and "NOT WHOLE" in answer.out, answer)
path = fresh(book, "tampered.book")
change(path, "UPDATE thinning SET life = '{}'", "DELETE FROM life")
s.check("verify notices: hours that were kept", s.run("book", "verify", "--book", path).code == 1)
s.refused("and they are not guessed", s.run("book", "info", "--book", path), "thinned")

# ---- killed at any moment ----
uncut = fresh(whole, "timed.book")
begin = time.monotonic()
s.good("book", "thin", "--book", uncut)
takes = time.monotonic() - begin
want = read(uncut, "SELECT recording_id, first_block, last_block, rows, bytes, blocks_sha256, sha256 FROM thinned ORDER BY 1, 2")
killed = 0
for i in range(kills):
    path = fresh(whole, "cut.book")
    process = subprocess.Popen([s.program, "book", "thin", "--book", path], env=s.environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        process.wait(timeout=chance.uniform(0, 1.1 * takes))
    except subprocess.TimeoutExpired:
        process.send_signal(signal.SIGKILL)
    process.wait()
    killed += process.returncode == -signal.SIGKILL
    s.check(f"kill {i}: whole", s.good("book", "verify", "--book", path, "--json").json["whole"])
    for recording in (first, second):
        runs = read(path, "SELECT count(*) FROM thinned WHERE recording_id = ?", recording)[0][0]
        s.check(f"kill {i}: recording {recording} is whole or thinned", runs in (0, sum(1 for row in want if row[0] == recording)), runs)
    s.good("book", "thin", "--book", path)
    s.check(f"kill {i}: it goes on the next time", read(path, "SELECT recording_id, first_block, last_block, rows, bytes, blocks_sha256, sha256 FROM thinned ORDER BY 1, 2") == want)
print(f"thinning takes {1000 * takes:.0f} ms; seed {seed}: {killed} of {kills} were killed")

# ---- a shop ----
if binaries() is None:
    s.skip("the shop", "PostgreSQL is not installed (package postgresql-15)")
    s.finish()
server = Postgres(s.folder)
s.environment.update(server.environment())
s.good("shop", "new", server.address("owner"))
for login, role in (("cell1", "cell"), ("reader", "office")):
    quoted = PASSWORD.replace("'", "''")
    server.ask(f"CREATE ROLE {login} LOGIN PASSWORD '{quoted}' IN ROLE enginewright_{role}")
cell, office = server.address("cell1"), server.address("reader")
s.good("book", "join", cell, "--cell", "Cell 1", "--book", whole)
states = {r["id"]: r["state"] for r in s.good("book", "thin", "--book", whole, "--json").json["recordings"]}
s.check("nothing goes before the shop has it", states == {first: "not-sent", second: "not-sent", third: "young"}, states)
s.refused("asked for it too", s.run("book", "thin", str(first), "--book", whole), "the shop")
s.good("book", "ship", "--book", whole)
shipped = read(whole, "SELECT max(seq) FROM outbox")[0][0]
blocks = server.number("SELECT count(*) FROM enginewright.fact WHERE what = 'stream_block'")
s.check("the shop has every block", blocks == read(whole, "SELECT count(*) FROM stream_block")[0][0], blocks)
done = s.good("book", "thin", "--book", whole, "--json").json
s.check("then it goes", done["changed"] is True, done)
noted = read(whole, "SELECT what, count(*) FROM outbox WHERE seq > ? GROUP BY what", shipped)
s.check("what is sent of it is the runs, not each block that went", dict(noted)["thinned"] == sum(r["runs"] for r in done["recordings"]) and "stream_block" not in dict(noted), noted)
s.good("book", "ship", "--book", whole)


def same(says, name="Cell 1"):
    copy = s.path(f"copy-{len(os.listdir(s.folder))}.book")
    s.good("shop", "fetch", office, "--cell", name, "--to", copy)
    a, b = all_rows(whole), all_rows(copy)
    wrong = [t for t in a if t not in ("figures", "life", "outbox", "shop") and a[t] != b[t]]
    s.check(f"{says}: the same rows", not wrong, wrong)
    s.check(f"{says}: whole", s.good("book", "verify", "--book", copy, "--json").json["whole"])
    s.check(f"{says}: the same hours", s.good("book", "info", "--book", copy, "--json").json["ledger"] == asked_before[("info",)])
    return copy


copy = same("the office's copy")
s.refused("a copy is not thinned", s.run("book", "thin", str(first), "--book", copy), "can only be read")
s.check("the shop keeps the blocks as they were", server.number("SELECT count(*) FROM enginewright.fact WHERE what = 'stream_block'") == blocks)
s.good("book", "ship", "--from-start", "--book", whole)
writer = read(whole, "SELECT uid FROM writer WHERE first_seq IS NOT NULL ORDER BY first_seq DESC LIMIT 1")[0][0]
copy = same("sent again from its start", writer)
lost = s.path("lost.book")
s.good("shop", "fetch", server.address("cell1"), "--cell", writer, "--to", lost, "--own")
s.check("a lost disk comes back thinned, and whole", s.good("book", "verify", "--book", lost, "--json").json["whole"] and all_rows(lost)["thinned"] == all_rows(whole)["thinned"])
s.check("and is asked the same", {k: v for k, v in answers(lost).items()} == asked_before)
s.good("book", "note", "goes on", "--book", lost)
s.good("book", "ship", "--book", lost)
server.stop()
s.finish()
