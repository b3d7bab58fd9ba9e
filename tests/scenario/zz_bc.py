"""`book check` finds what looks wrong in a book, also what was stored before anybody asked, and names the command that mends it; done as
it says, the book is content. What was said to be right is not asked again, and looking changes nothing.
"""
import sqlite3

import recordings
from harness import Scenario
from pages import Page

s = Scenario()
WEATHER = ("Baro", "Intake Air Temp", "Humidity")
AIR = ["--set", "pressure=985 hPa", "--set", "temperature=22 degC", "--set", "humidity=50 %"]
FILES = [s.write(f"run-{n}.csv", recordings.sweep(seed=n, gain=1 if n < 4 else 1.03).without(*WEATHER).text()) for n in range(1, 9)]


def write(book, sql, *values):
    db = sqlite3.connect(book)
    db.execute(sql, values)
    db.commit()
    db.close()


def ask(book, sql):
    db = sqlite3.connect(book)
    rows = db.execute(sql).fetchall()
    db.close()
    return rows


def new_book(name):
    book = s.path(name)
    s.good("book", "new", "--book", book)
    s.good("book", "set", "--cell-file", s.write("cell.yaml", recordings.CELL), "--zone", "Europe/Berlin", "--book", book)
    for engine in ("four", "six"):
        text = recordings.ENGINE.replace("bench four", engine)
        s.good("engine", "add", s.write(f"{engine}.yaml", text if engine == "four" else text.replace("cylinders: 4", "cylinders: 6")), "--book", book)
    s.good("cell", "calibrate", "--arm", "500 mm", "--weight", "10 kg=49.03 N·m", "20 kg=98.07 N·m", "10 kg=49.03 N·m", "--book", book)
    return book


def add(book, n, at, *words, engine="four", file=None):
    return s.good("pull", "add", file or FILES[n - 1], "--engine", engine, "--at", at, *words, "--book", book, "--json").json


def look(book, *words):
    answer = s.run("book", "check", "--book", book, "--json", *words)
    s.check("exit code 1 where something is found, else 0", answer.code == (1 if answer.json["findings"] else 0), answer)
    return answer.json["findings"]


def found(book, *words):
    return [(row["pull"], row["finding"]["id"]) for row in look(book, *words)]


book = new_book("shop.book")
for n in range(1, 4):
    add(book, n, f"2026-03-02 11:{10 * n}", *AIR)
s.check("nothing looks wrong in a sound book", found(book) == [], look(book))
s.check("and that is said", "nothing in this book looks wrong" in s.good("book", "check", "--book", book).out)

# a pull of before anybody doubted: torque in lb-ft taken as N·m
feet = s.write("feet.csv", recordings.sweep(seed=30, gain=1.0).without(*WEATHER).text().replace("Torque [N·m]", "Torque [lb-ft]"))
add(book, 4, "2026-03-02 11:40", *AIR, file=feet)
waiting = found(book)
s.check("a held pull is listed with its question", waiting and {pull for pull, _ in waiting} == {4}, waiting)
write(book, "DELETE FROM hold")
s.check("one that nobody held is doubted by the rules of today", found(book) == waiting, (found(book), waiting))
s.check("not when only what is stored is looked at", found(book, "--stored") == [])
rows = look(book)
s.check("its mend amends it", all("pull amend 4" in row["mend"] for row in rows), rows)
count = ask(book, "SELECT (SELECT count(*) FROM change_log), (SELECT count(*) FROM hold), (SELECT max(reading) FROM pull)")
look(book)
s.check("looking changes nothing", ask(book, "SELECT (SELECT count(*) FROM change_log), (SELECT count(*) FROM hold), (SELECT max(reading) FROM pull)") == count)
s.good("pull", "amend", "4", "--units", "torque=N.m", "--reason", "the heading is wrong", "--book", book)
s.check("amended, the book is content", found(book) == [], look(book))

# weather
add(book, 5, "2026-03-03 11:00")
s.check("a pull without weather", found(book) == [(5, "desk.check-no-weather")], found(book))
s.good("pull", "amend", "5", *AIR, "--reason", "read in the notebook", "--book", book)
s.check("with it, content", found(book) == [], found(book))
write(book, "UPDATE pull SET told = '[]' WHERE id = 5")
s.check("the weather of yesterday, of a program that did not say so", found(book) == [(5, "desk.check-carried-long")], found(book))
s.good("pull", "amend", "5", "--set", "pressure=986 hPa", "--reason", "read that day", "--book", book)

# time, engine, recordings
add(book, 6, "2026-03-03 11:10", *AIR)
add(book, 7, "2026-03-03 11:10", *AIR)
s.check("two recordings of one time", found(book) == [(7, "desk.check-same-time")], found(book))
s.good("pull", "amend", "7", "--at", "2026-03-03 11:20", "--reason", "the notebook", "--book", book)
s.check("told apart, content", found(book) == [], found(book))
write(book, "UPDATE pull SET engine_id = (SELECT id FROM engine WHERE name = 'six') WHERE id = 6")
rows = [row for row in look(book) if row["finding"]["id"] == "desk.check-engine-between"]
s.check("another engine between two pulls, within minutes", [row["pull"] for row in rows] == [6] and rows[0]["mend"] == 'pull amend 6 --engine "four"', rows)
s.good("pull", "amend", "6", "--engine", "four", "--reason", "the list was wrong", "--book", book)
s.check("put right, content", found(book) == [], found(book))

# answers
s.good("compare", "--a", 1, 2, "--b", 6, 7, "--book", book)
s.check("an answer is no fault", found(book) == [], found(book))
s.good("pull", "amend", "2", "--set", "pressure=984.5 hPa", "--reason", "read again", "--book", book)
s.check("one on an earlier reading is", [(pull, kind) for pull, kind in found(book)] == [(None, "desk.answer-on-earlier-reading")], found(book))
s.check("its mend is to ask again", look(book)[0]["mend"] == "judge again")
s.good("judge", "again", "--book", book)
s.check("asked again, content", found(book) == [], found(book))
write(book, "UPDATE pull SET engine_id = (SELECT id FROM engine WHERE name = 'six') WHERE id IN (6, 7)")
kinds = [kind for _, kind in found(book)]
s.check("an answer about pulls that are not alike by what is known now", "desk.check-not-alike" in kinds, look(book))
write(book, "UPDATE pull SET engine_id = (SELECT id FROM engine WHERE name = 'four') WHERE id IN (6, 7)")

# the same on the page, as a job; what a button offers mends it, sent as the form sends it
feet = s.write("feet-2.csv", recordings.sweep(seed=31, gain=1.0).without(*WEATHER).text().replace("Torque [N·m]", "Torque [lb-ft]"))
add(book, 8, "2026-03-03 11:40", *AIR, file=feet)
with Page(s, book) as page:
    job = page.job("check")
    rows = job["answer"]["findings"]
    s.check("the page finds what the command finds", job["state"] == "done" and rows == look(book), (job, look(book)))
    mine = [row for row in rows if row["pull"] is not None and row["finding"]["id"] == "pull.doubt-torque-unit"] or rows
    asks = mine[0]["asks"]
    s.check("with what a form asks for", asks and all(set(a) == {"what", "name", "value", "shows"} for a in asks), rows)
    status, curves = page.ask("GET", f"curves?pulls={mine[0]['pull']}")
    s.check("the pull has the same mend", curves["curves"][0]["asks"] == asks and curves["curves"][0]["mend"] == mine[0]["mend"], curves["curves"][0].get("asks"))
    body = {"reason": "the heading is wrong", "units": {"torque": "N.m"}}
    status, answer = page.ask("POST", f"pulls/{mine[0]['pull']}/amend", body)
    got=[r for r in page.job("check")["answer"]["findings"] if r["pull"]==8]
    if got:
        import subprocess as _s
        print("STALE CLI", len([r for r in look(book) if r["pull"]==8]), "again", len([r for r in page.job("check")["answer"]["findings"] if r["pull"]==8]), got[0]["finding"]["id"], answer)
        print(_s.run(["sqlite3", book, "select id,reading,at,recording_id from pull where id>=6; select id,pull_id,at,reading,undoes,changes from amendment; select * from hold where pull_id=8"],capture_output=True,text=True).stdout[:2500])
    again = [row for row in page.job("check")["answer"]["findings"] if row["asks"] and row["asks"][0]["what"] == "again"]
    if again:
        page.ask("POST", "answers/again", {})
        s.check("asked again, too", not [r for r in page.job("check")["answer"]["findings"] if r["finding"]["id"] == "desk.answer-on-earlier-reading"])

# calibration, and for people
write(book, "DELETE FROM calibration")
answer = s.run("book", "check", "--book", book)
s.check("no calibration is said, with what to do, for people", answer.code == 1 and "cell calibrate" in answer.out, answer)
s.refused("an option that there is not", s.run("book", "check", "--deep", "--book", book), "deep")
s.finish()
