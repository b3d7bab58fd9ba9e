"""A search shared out: workers that are killed at any moment, their files collected, and the same bytes as without; shares as launchers number them.

search_shares.py PROGRAM [KILLS]: workers to kill, of four at work (12; the long form has 200). The moments are random, the seed is printed."""
import hashlib
import os
import random
import signal
import subprocess
import sys
import time

import harness

KILLS, WORKERS = int(sys.argv[2]) if len(sys.argv) > 2 else 12, 4
s = harness.Scenario()
engine = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "examples", "engines", "flat-four.yaml")
question = s.write("question.yaml", """change:
  - {field: runner_length, from: 200 mm, to: 400 mm}
  - {field: compression, from: 8, to: 9, step: 0.25}
want:
  - {figure: torque, from: 3000 rpm, to: 5000 rpm}
speeds: [3000 rpm, 5000 rpm]
spark: 24 deg
""")
FIRST = 48
ask = ["engine", "search", engine, question, "--first", str(FIRST), "--rounds", "0", "--cell", "60 mm", "--threads", "1"]


def collected(name, *files):
    s.good("engine", "collect", s.path(name), *files)
    with open(s.path(name), "rb") as file:
        return file.read()


# 1. shares: all of the designs, each once, however many share them
one = s.path("one.txt")
whole = s.good(*ask, "--shard", "1/1", "--keep", one, "--json").json
s.check("one worker runs them all", whole["designs"] == FIRST and whole["shards"] == 1, whole)
reference = collected("reference.txt", one)
s.check("a run of each design and speed", reference.count(b"\n") == 1 + 2 * FIRST, reference.count(b"\n"))

# 2. workers killed and started again
seed = random.randrange(1 << 32)
dice = random.Random(seed)
print(f"seed {seed}, {KILLS} workers to kill")


def start(i):
    return subprocess.Popen([s.program, *ask, "--shard", f"{i + 1}/{WORKERS}", "--keep", s.path(f"part-{i}.txt")],
                            env=s.environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)


def ended_well(worker):
    text = worker.communicate()[1].decode()
    if worker.returncode not in (0, -signal.SIGKILL):
        s.check("a worker ends well", False, (worker.returncode, text[-400:]))


killed, last, until = 0, [None] * WORKERS, time.monotonic() + 1500
at_work = [start(i) for i in range(WORKERS)]
while killed < KILLS and time.monotonic() < until:
    i = dice.randrange(WORKERS)
    time.sleep(dice.random() * 0.4)
    if at_work[i].poll() is None:
        at_work[i].send_signal(signal.SIGKILL)
    ended_well(at_work[i])
    killed += at_work[i].returncode == -signal.SIGKILL
    if at_work[i].returncode == 0 and killed < KILLS:  # its share is done: begin it anew, so that there is somebody to kill
        os.remove(s.path(f"part-{i}.txt"))
    at_work[i] = start(i)
for worker in at_work:
    ended_well(worker)
s.check("so many were killed at work", killed == KILLS, killed)
parts = [s.path(f"part-{i}.txt") for i in range(WORKERS)]
s.check("the same file, byte for byte", collected("after.txt", *parts) == reference)
s.check("in any order, and twice", collected("again.txt", *reversed(parts), one, s.path("after.txt")) == reference)
s.check("no part alone has all", os.path.getsize(parts[0]) < len(reference))

# 3. the search takes its first designs from there
plain = [a for a in ask if a != "--rounds" and a != "0"]
answer = s.good(*plain, "--rounds", "0", "--keep", s.path("after.txt"), "--json").json
s.check("nothing of them is run again", answer["kept"]["taken"] >= 2 * FIRST, answer["kept"])

# 4. as launchers number them
LAUNCHED = [
    ("a Slurm array", {"SLURM_ARRAY_TASK_ID": "7", "SLURM_ARRAY_TASK_MIN": "5", "SLURM_ARRAY_TASK_COUNT": "16"}, 3, 16),
    ("srun", {"SLURM_PROCID": "0", "SLURM_NTASKS": "24"}, 1, 24),
    ("an array of two tasks a job", {"SLURM_ARRAY_TASK_ID": "3", "SLURM_ARRAY_TASK_COUNT": "12", "SLURM_PROCID": "1", "SLURM_NTASKS": "2"}, 8, 24),
    ("mpirun", {"OMPI_COMM_WORLD_RANK": "23", "OMPI_COMM_WORLD_SIZE": "24"}, 24, 24),
]
for says, environment, shard, shards in LAUNCHED:
    seen = s.run(*ask, "--shard", "launcher", "--keep", s.path("after.txt"), "--json", **environment)
    s.check(says, seen.code == 0 and (seen.json["shard"], seen.json["shards"]) == (shard, shards), seen)
WRONG = [
    ("no launcher", "launcher", {}, "--shard"),
    ("an array numbered in steps", "launcher", {"SLURM_ARRAY_TASK_ID": "30", "SLURM_ARRAY_TASK_MIN": "0", "SLURM_ARRAY_TASK_COUNT": "4"}, "one by one"),
    ("a rank without a size", "launcher", {"OMPI_COMM_WORLD_RANK": "0"}, "OMPI_COMM_WORLD_SIZE"),
    ("a rank that is no number", "launcher", {"SLURM_PROCID": "first", "SLURM_NTASKS": "2"}, "SLURM_PROCID"),
    ("a rank beyond the size", "launcher", {"SLURM_PROCID": "2", "SLURM_NTASKS": "2"}, "SLURM_PROCID"),
    ("from 0", "0/4", {}, "1/4"),
    ("beyond the last", "5/4", {}, "1/4"),
    ("not a share", "half", {}, "I/N"),
    ("a fraction of one", "1/1.5", {}, "I/N"),
]
for says, shard, environment, names in WRONG:
    s.refused(says, s.run(*ask, "--shard", shard, "--keep", s.path("none.txt"), **environment), names)
s.refused("a share without a file", s.run(*ask, "--shard", "1/4"), "--keep")
s.check("nothing is begun then", not os.path.exists(s.path("none.txt")))

# 5. what cannot be collected
lines = reference.decode().splitlines()
other = lines[1].split("\t")
other[4] = "1" if other[4] != "1" else "0"
line = "\t".join(other[:-1])
forged = s.write("forged.txt", lines[0] + "\n" + line + "\t" + hashlib.sha256(line.encode()).hexdigest()[:16] + "\n")
s.refused("unlike figures for one run", s.run("engine", "collect", s.path("x.txt"), one, forged), "unlike figures")
s.refused("a file of something else", s.run("engine", "collect", s.path("x.txt"), one, question), "something else")
s.refused("into a file of something else", s.run("engine", "collect", question, one), "something else")
s.refused("a file that is not there", s.run("engine", "collect", s.path("x.txt"), s.path("nowhere.txt")), "nowhere.txt")
s.check("nothing is written then", not os.path.exists(s.path("x.txt")))
torn = s.write("torn.txt", reference[:-7])
seen = s.good("engine", "collect", s.path("y.txt"), torn, s.write("empty.txt", ""), "--json").json
s.check("a torn line is left out, and counted", seen["damaged"] == 1 and seen["runs"] == 2 * FIRST - 1, seen)
s.finish()
