"""An amendment of a whole recording is taken back for all of its pulls, and what was said of one pull alone since stays; the recording
says the same whichever pull is asked. The yardstick is a book in which the wrong amendment was never made: the same to the bit.
"""
import json
import sqlite3

import recordings
from harness import Scenario

s = Scenario()
WEATHER = ("Baro", "Intake Air Temp", "Humidity")
AIR = ["--set", "pressure=985 hPa", "--set", "temperature=22 degC", "--set", "humidity=50 %"]
SPARK = ["--set", "spark=30 deg"]
FOUR = recordings.ENGINE.replace("bench four", "four")
TWO = s.write("two.csv", recordings.sweep(seed=9, sweeps=2).without(*WEATHER).text())


def ask(book, sql):
    db = sqlite3.connect(book)
    rows = db.execute(sql).fetchall()
    db.close()
    return rows


def new_book(name, file=TWO):
    book = s.path(name)
    s.good("book", "new", "--book", book)
    s.good("book", "set", "--cell-file", s.write("cell.yaml", recordings.CELL), "--zone", "Europe/Berlin", "--book", book)
    for engine in ("four", "other"):
        s.good("engine", "add", s.write(f"{engine}.yaml", FOUR.replace("name: four", f"name: {engine}")), "--book", book)
    s.good("pull", "add", file, "--engine", "four", "--at", "2026-03-02 11:00", *AIR, *SPARK, "--book", book)
    return book


def amend(book, *words):
    return s.good("pull", "amend", *words, "--reason", "told wrongly", "--book", book, "--json").json


def facts(book):
    """Of the recording and of each pull, but for which reading it is and when what was said."""
    whole = ask(book, "SELECT channel_map, measured_at, clock, recorder, engine_id FROM recording")
    pulls = ask(book, "SELECT p.id, p.part, p.at, p.day, p.engine_id, p.run, p.mounting, p.setup, p.changed, p.discarded, p.band_mean_n_m, c.digest, c.engine, p.told "
                "FROM pull p JOIN curve c ON c.pull_id = p.id ORDER BY p.id")
    told = [[{k: v for k, v in one.items() if k != "amended"} for one in json.loads(row[-1])] for row in pulls]
    return whole, [row[:-1] for row in pulls], told


def without_setup(answer):
    """Whether its set-up was ever corrected is history, not a fact."""
    whole, pulls, told = answer
    return whole, pulls, [[one for one in rows if one["fact"] != "set-up"] for rows in told]


def undoes(book, pull):
    return [row[0] for row in ask(book, f"SELECT undoes FROM amendment WHERE pull_id = {pull} ORDER BY id")]


WIDE = (("a unit", ["--units", "torque=lb-ft"]), ("its time", ["--at", "2026-03-02 12:30"]), ("its engine", ["--engine", "other"]))
for says, words in WIDE:
    plain = new_book(f"plain-{says.split()[-1]}.book")
    first = facts(plain)
    s.check(f"{says}: two pulls of one recording", len(first[1]) == 2, first)
    amend(plain, "2", "--set", "spark=31 deg")
    want = facts(plain)
    # the other pull was amended by itself since
    book = new_book(f"since-{says.split()[-1]}.book")
    amend(book, "1", *words)
    wrong = facts(book)
    s.check(f"{says}: both were amended by it", all(a != b for a, b in zip(wrong[1], first[1])), (wrong, first))
    amend(book, "2", "--set", "spark=31 deg")
    done = amend(book, "1", "--undo")
    s.check(f"{says}: taken back for both", [row["id"] for row in done["pulls"]] == [1, 2], done["pulls"])
    now = facts(book)
    s.check(f"{says}: the recording and each pull are as if it had never been said, and the spark stays", without_setup(now) == without_setup(want), (now, want))
    s.check(f"{says}: each pull's history says what it took back", undoes(book, 1) == [None, 1] and undoes(book, 2) == [None, None, 2], (undoes(book, 1), undoes(book, 2)))
    verified = s.good("book", "verify", "--book", book, "--json").json
    s.check(f"{says}: the book is whole", verified["whole"] and not verified["problems"], verified)
    # the one that was amended since, asked by its number, takes back what was said of it alone; then the rest, by either
    book = new_book(f"own-{says.split()[-1]}.book")
    amend(book, "1", *words)
    amend(book, "2", "--set", "spark=31 deg")
    before = facts(book)
    s.refused(f"{says}: both at once would say two things of one recording", s.run("pull", "amend", "1", "2", "--undo", "--reason", "x", "--book", book), "take back pull 2 first")
    s.check(f"{says}: nothing of that was stored", facts(book) == before)
    done = amend(book, "2", "--undo")
    s.check(f"{says}: what was said of it alone is taken back alone", [row["id"] for row in done["pulls"]] == [2] and facts(book) == wrong, done["pulls"])
    amend(book, "1", "--undo")
    s.check(f"{says}: and then the rest", without_setup(facts(book)) == without_setup(first), (facts(book), first))
    # nobody amended anything since: by either pull, and both at once
    for pulls in (["1"], ["2"], ["1", "2"]):
        book = new_book(f"plainly-{''.join(pulls)}-{says.split()[-1]}.book")
        amend(book, "1", *words)
        amend(book, *pulls, "--undo")
        s.check(f"{says}: taken back by {pulls}", facts(book) == first, (facts(book), first))

# what the wrong unit asked about is asked again, also of the pull that was amended since
NAKED = s.write("naked.csv", recordings.sweep(seed=9, sweeps=2, gain=0.74).without(*WEATHER).text(units="none"))
book = new_book("asked.book", NAKED)
held = lambda: sorted(pull["id"] for pull in s.good("pull", "list", "--book", book, "--json").json["pulls"] if pull["held"])
asked = held()
amend(book, "1", "--units", "torque=lb-ft")
amend(book, "2", "--set", "spark=31 deg")
s.check("a unit that was said answers the question", held() == [], held())
amend(book, "1", "--undo")
s.check("taken back, it is open again for both", held() == asked, (asked, held()))

# a reading that finds another number of pulls, and back: at half the speed the second sweep, which stops early, is none
def uneven(name, scale=1.0):
    lines = recordings.sweep(seed=9).without(*WEATHER).text().splitlines()
    more = recordings.sweep(seed=10, high=3700).without(*WEATHER).text().splitlines()
    head = next(i for i, line in enumerate(lines) if line[:1].isdigit())
    last = float(lines[-1].split(",")[0])
    rows = lines[head:] + [",".join([f"{float(cells[0]) + last + 0.02:.3f}", *cells[1:]]) for cells in (line.split(",") for line in more[head:])]
    rows = [",".join([cells[0], f"{scale * float(cells[1]):.2f}", *cells[2:]]) for cells in (row.split(",") for row in rows)]
    return s.write(name, "\n".join(lines[:head] + rows) + "\n")


there = lambda book: ask(book, "SELECT id, discarded IS NULL, part >= 0 FROM pull ORDER BY id")
book = new_book("lost.book", uneven("uneven.csv"))
first = facts(book)
s.check("two pulls of unlike length", there(book) == [(1, 1, 1), (2, 1, 1)], there(book))
done = amend(book, "1", "--units", "speed=0.5 rpm")
s.check("the one that is no longer found is discarded, with the reason", there(book) == [(1, 1, 1), (2, 0, 0)] and ask(book, "SELECT discarded FROM pull WHERE id = 2") == [("told wrongly",)], there(book))
s.check("and this is said", [[m["id"] for m in row["changes"]] for row in done["pulls"]][1][-1] == "desk.amend-gone" and done["pulls"][1]["band_mean_torque_n_m"] is None, done["pulls"])
s.check("the book is whole", s.good("book", "verify", "--book", book, "--json").json["whole"])
amend(book, "1", "--undo")
s.check("taken back by the other, it is there again, to the bit", facts(book) == first, (facts(book), first))
amend(book, "1", "--units", "speed=0.5 rpm")
amend(book, "1", "--set", "spark=31 deg")
amend(book, "2", "--undo")
now = facts(book)
s.check("by itself too, and what was said of the other since stays", now[0] == first[0] and now[1][1] == first[1][1] and "31 deg" in now[1][0][7] and there(book) == [(1, 1, 1), (2, 1, 1)], now)
s.refused("a reading that finds none is refused, with why", s.run("pull", "amend", "1", "--units", "speed=0.05 rpm", "--reason", "x", "--book", book), "no pull is found")
s.check("and nothing of it is stored", facts(book) == now)

book = new_book("found.book", uneven("half.csv", 0.5))
s.check("at half the speed there is one", there(book) == [(1, 1, 1)], there(book))
first = facts(book)
done = amend(book, "1", "--units", "speed=2 rpm")
s.check("with the right unit there are two", there(book) == [(1, 1, 1), (2, 1, 1)], there(book))
both = facts(book)
amend(book, "1", "--undo")
now = facts(book)
s.check("taken back, the first is as it was and the second is no longer used", now[0] == first[0] and now[1][0] == first[1][0] and there(book) == [(1, 1, 1), (2, 0, 0)], (now, first))
s.check("its history says why", [m["id"] for m in s.good("pull", "history", "2", "--book", book, "--json").json["amendments"][-1]["changes"]][0] == "desk.amend-undo-of")
amend(book, "1", "--undo")
s.check("and that taken back in turn, both are there", facts(book)[1] == both[1] and facts(book)[0] == both[0], (facts(book), both))
s.check("the book is whole", s.good("book", "verify", "--book", book, "--json").json["whole"])
s.finish()
