#!/usr/bin/env python3
"""The set-up said while a session runs: it goes with the next pull that is kept, never with one under way or over, and
nothing of it is lost when a session ends before that pull, or when it was said while the pull before was still being reduced.

Usage: said.py PROGRAM"""
import atexit
import json
import subprocess
import threading
import time

from harness import Scenario

s = Scenario()
BOOK = s.path("said.book")


class Session:
    def __init__(self, *more):
        self.news, self.child = [], subprocess.Popen(
            [s.program, "cell", "record", "--json", "--book", BOOK, "--alarms", "none", "--source", "practice:?rate=50&pace=4&run=oil 90;coolant 80;wait 600", *more],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=s.environment)
        atexit.register(self.child.kill)  # whatever ends the test
        self.reader = threading.Thread(target=self.read, daemon=True)
        self.reader.start()
        self.wait("channels")

    def read(self):
        for line in self.child.stdout:
            self.news.append(json.loads(line))

    def say(self, line):
        self.child.stdin.write(line + "\n")
        self.child.stdin.flush()

    def count(self, event):
        return sum(n["event"] == event for n in self.news)

    def wait(self, event, more=1):
        want = self.count(event) + more if more > 1 else max(1, more)
        for _ in range(1200):
            if self.count(event) >= want:
                return [n for n in self.news if n["event"] == event][-1]
            time.sleep(0.05)
        raise SystemExit(f"no '{event}' in 60 s: {[n['event'] for n in self.news]}")

    def found(self):
        return [n for n in self.news if n["event"] == "pull" and n["found"]]

    def pull(self, meanwhile=()):
        before = len(self.found())  # a machine that stops for a moment leaves a hole in the rows, and no pull: the sweep is run again
        time.sleep(3)  # the cell is back from its last sweep
        for _ in range(3):  # on a busy machine the cell may not be back yet, and takes no sweep: in 20 s (80 of its own) one would be over
            self.say("send sweep 2500 6000 400")
            time.sleep(1.5)  # six seconds of its clock: under way, and not over
            for line in meanwhile:
                self.say(line)
            for _ in range(400):
                if len(self.found()) > before:
                    return self.found()[before]
                time.sleep(0.05)
        raise SystemExit(f"no pull in 60 s: {[n for n in self.news if n['event'] != 'commit'][-12:]}")

    def stop(self):
        self.say("stop")
        self.child.wait(60)
        self.reader.join()


def setup_of(pull):
    shown = s.good("pull", "show", pull, "--book", BOOK, "--json").json
    return shown["setup"], shown.get("changed")


one = Session()
one.say("set spark=28 deg")
one.say("set spark=fast")
one.say("set sparks=28 deg")
one.pull()
setup, _ = setup_of(1)
s.check("what was said goes with the next pull", str(setup.get("spark_deg")).startswith("28"), setup)
refused = [n for n in one.news if n["event"] == "refused"]
s.check("what cannot be is refused, with the field and the reason", len(refused) == 2 and "spark" in json.dumps(refused[0]["why"]), refused)
one.say("set spark=30 deg")
one.say("changed air horns fitted")
one.pull(meanwhile=("set spark=40 deg",))
setup, changed = setup_of(2)
s.check("the second one has its own", str(setup.get("spark_deg")).startswith("30") and changed == "air horns fitted", (setup, changed))
s.check("in a pull nothing is said of the set-up", one.count("refused") == 3, one.news[-8:])
one.pull()
setup, changed = setup_of(3)
s.check("and it is carried forward, the words are not", str(setup.get("spark_deg")).startswith("30") and not changed, (setup, changed))
one.say("set spark=32 deg")
one.say("set lambda=0.9")
one.say("set spark=31 deg")
one.stop()

two = Session()
said = [n.get("set") for n in two.news if n["event"] == "setup"]
s.check("what no pull was kept with is told by the next session", sorted(said) == ["lambda=0.9", "spark=31 deg"], said)
two.pull()
setup, _ = setup_of(4)
s.check("and goes with its first pull", str(setup.get("spark_deg")).startswith("31") and str(setup.get("lambda")).startswith("0.9"), setup)
two.say("set spark=33 deg")
two.stop()

three = Session("--set", "spark=26 deg")
s.check("what a session begins with counts over what was left", not [n for n in three.news if n["event"] == "setup"], three.news)
three.pull()
three.say("set spark=27 deg")
three.pull()
three.pull()
found = [str(setup_of(pull)[0].get("spark_deg"))[:2] for pull in (5, 6, 7)]
s.check("what it began with does not come back once something else was said", found == ["26", "27", "27"], found)
three.stop()
four = Session()
s.check("nothing is left over a second time", not [n for n in four.news if n["event"] == "setup"], four.news)
four.stop()
s.finish()
