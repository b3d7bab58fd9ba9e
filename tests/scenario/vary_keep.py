"""A long search that is killed goes on where it stopped, and two that run at once share a file.

Kept answers are one record a line, so files are compared as sets of lines. No time is measured: a search is killed as
soon as its file has a first record, and slow machines only kill it earlier."""
import os
import signal
import subprocess
import time

import harness

s = harness.Scenario()
examples = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "examples", "engines")
engine = os.path.join(examples, "flat-four.yaml")
changes = ["--change", "compression=" + ",".join(f"+0.{i}" for i in range(1, 9)), "--change", "lambda=0.82,0.94", "--grid"]
ask = ["engine", "vary", engine, "--speeds", "4000:4000:1000", "--spark", "26 deg", *changes, "--json"]
VARIANTS = 9 * 3 - 1


def lines(name):
    with open(s.path(name), encoding="utf-8") as file:
        return file.read().splitlines()


def start(name):
    return subprocess.Popen([s.program, *ask, "--keep", s.path(name)], env=s.environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE)


def records(name):
    return lines(name)[1:] if os.path.exists(s.path(name)) else []


# 1. without a stop, and the second time everything is there
whole = s.good(*ask, "--keep", s.path("whole")).json
s.check("a record each", len(records("whole")) == VARIANTS, len(records("whole")))
s.check("nothing was kept before", whole["kept"] == {"taken": 0, "others": VARIANTS, "other_physics": 0, "damaged": 0}, whole["kept"])
before = open(s.path("whole"), "rb").read()
again = s.good(*ask, "--keep", s.path("whole")).json
s.check("all of it is taken the second time", again["kept"]["taken"] == VARIANTS, again["kept"])
s.check("the same answer, digit by digit", again["variants"] == whole["variants"])
s.check("nothing is written that is there", open(s.path("whole"), "rb").read() == before)
plain = s.good(*ask).json
s.check("the same answer without a file", plain["variants"] == whole["variants"] and "kept" not in plain)

# 2. killed three times, each time after at least one more record
for stop in range(3):
    seen = len(records("killed"))
    search = start("killed")
    while search.poll() is None and len(records("killed")) <= seen:
        time.sleep(0.005)
    search.send_signal(signal.SIGKILL)
    search.wait()
stopped = len(records("killed"))
s.check("it was stopped part-way", 0 < stopped, stopped)
resumed = s.good(*ask, "--keep", s.path("killed")).json
s.check("what was done is taken", resumed["kept"]["taken"] >= stopped - 1, (resumed["kept"], stopped))
s.check("the same file, up to order", sorted(lines("killed")) == sorted(lines("whole")))
s.check("the same answer", resumed["variants"] == whole["variants"])

# 3. a torn last record is dropped, and said
data = open(s.path("whole"), "rb").read()
s.write("torn", data[:-40])
torn = s.run(*ask[:-1], "--keep", s.path("torn"))
s.check("a torn record is said", torn.code == 0 and f"taken: {VARIANTS - 1} of {VARIANTS}" in torn.out and "Damaged records, ignored: 1" in torn.out, torn)
s.check("and made again", sorted(lines("torn")) == sorted(lines("whole")))

# 4. two at once: no record twice, and the same answers
both = [start("shared"), start("shared")]
outs = [p.communicate() for p in both]
s.check("both succeed", all(p.returncode == 0 for p in both), outs)
s.check("no record is there twice", sorted(lines("shared")) == sorted(lines("whole")), len(lines("shared")))

# 5. another engine's records in the same file are left alone; humid air is another answer
six = os.path.join(examples, "hill-climb-six.yaml")
other = s.good("engine", "vary", six, "--speeds", "4000:4000:500", "--spark", "26 deg", "--change", "lambda=0.84", "--keep", s.path("whole"), "--json").json
s.check("nothing is taken for another engine", other["kept"]["taken"] == 0 and other["kept"]["others"] == VARIANTS + 1, other["kept"])
s.check("its record is added", len(records("whole")) == VARIANTS + 1)
warm = s.good(*ask, "--temperature", "30 degC", "--keep", s.path("whole")).json
s.check("nothing is taken for other air", warm["kept"]["taken"] == 0, warm["kept"])

# 6. a file that holds something else is left as it was
s.write("mine.yaml", "name: mine\n")
s.refused("another file", s.run(*ask, "--keep", s.path("mine.yaml")), "another file")
s.check("it is not touched", open(s.path("mine.yaml")).read() == "name: mine\n")
s.finish()
