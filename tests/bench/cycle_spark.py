#!/usr/bin/env python3
"""What seeking the spark costs: a curve of eight cylinders, 21 speeds, one thread, with a given spark, with the best spark of a fuel that does not knock, and with one
that knock holds back everywhere. User seconds, the best of three alternate rounds; cycles; how near the knock integral ends to its limit.

    cycle_spark.py PROGRAM [OTHER...]

With OTHER, programs of other days run alternately with PROGRAM; what a given spark gives must then be the same bits (or the physics has changed, which is said)."""
import json
import os
import re
import resource
import subprocess
import sys
import tempfile

ROUNDS = 3
ENGINE = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "examples", "engines", "v8-solid.yaml")
LIMIT = 0.88


def run(program, path, *more):
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    done = subprocess.run([program, "engine", "predict", path, "--speeds", "2000:7000:250", "--threads", "1", "--json", *more], capture_output=True, text=True, check=False)
    if done.returncode:
        sys.exit(done.stderr)
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before, json.loads(done.stdout)


def main():
    programs = sys.argv[1:] or sys.exit(__doc__)
    with tempfile.TemporaryDirectory() as folder:
        knocks, free = os.path.join(folder, "knocks.yaml"), os.path.join(folder, "free.yaml")
        text = open(ENGINE, encoding="utf-8").read()
        for path, octane in ((knocks, 98), (free, 135)):
            with open(path, "w", encoding="utf-8") as out:
                out.write(re.sub(r"(?m)^octane: .*$", f"octane: {octane}", text))
        kinds = {"given": (free, "--spark", "25 deg"), "best": (free,), "held back": (knocks,)}
        seconds, answers = {}, {}
        for _ in range(ROUNDS):
            for program in programs:
                for kind, command in kinds.items():
                    took, answers[program, kind] = run(program, *command)
                    seconds[program, kind] = min(took, seconds.get((program, kind), 1e9))
    for program in programs:
        for kind in kinds:
            a = answers[program, kind]
            near = max(abs(k / LIMIT - 1) for k, held in zip(a["knock"], a["knock_limited"]) if held) if any(a["knock_limited"]) else None
            print(json.dumps({"program": program, "kind": kind, "user_s": round(seconds[program, kind], 2), "over_given": round(seconds[program, kind] / seconds[program, "given"], 3), "cycles": sum(a["cycles"]),
                              "settled": sum(a["converged"]), "of": len(a["converged"]), "held_back": sum(a["knock_limited"]), "knock_off": near and round(near, 4),
                              "same_bits": a["torque_n_m"] == answers[programs[0], kind]["torque_n_m"]}))


if __name__ == "__main__":
    main()
