"""The table of docs/methods-cycle.md: each measured engine and each published trend, before and now, printed from the programs' own output.

    table.py PROGRAM [--fits] [--from FOLDER] [--write FILE]

Runs measured_engines.py, rated_engines.py (odd rows) and trends.py on PROGRAM, and prints their comparisons as one table with the figures of earlier programs
(before.tsv), the reason of each kept miss, and totals. --from: the lines are in FOLDER already (measured.tsv, rated.tsv, trends.tsv). --write replaces what stands between the
marks of the table in FILE. Leaves with 1 where a program did."""
import csv
import os
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
MARKS = "<!-- table.py: begin -->", "<!-- table.py: end -->"
FIELDS = ["table", "engine", "what", "measured", "predicted", "low", "high", "verdict"]
PROGRAMS = [("measured", "measured_engines.py"), ("rated", "rated_engines.py"), ("trends", "trends.py")]


def rows_of(path, fields):
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file, fieldnames=fields, delimiter="\t", quoting=csv.QUOTE_NONE))


def run(program, folder):
    """Whether each was as it should be."""
    good = True
    for name, script in PROGRAMS:
        more = ["--fits"] if name == "measured" and "--fits" in sys.argv else []
        done = subprocess.run([sys.executable, os.path.join(HERE, script), program, "--tsv", os.path.join(folder, name + ".tsv"), *more], capture_output=True, text=True, check=False)
        for line in done.stdout.splitlines():
            if line.startswith("[  FAILED  ]"):
                print(line, file=sys.stderr)
        if done.returncode:
            print(done.stderr, file=sys.stderr)
            good = False
    return good


def band(r):
    return f"{r['low']} to {r['high']}"


def error(r):
    """Of the figure where one was measured; relative where it is a size that is not a percentage already."""
    if not r["measured"]:
        return ""
    measured, off = float(r["measured"]), float(r["predicted"]) - float(r["measured"])
    return f"{off:+.{len(r['predicted'].partition('.')[2])}f}" if "%" in r["what"] or measured == 0 else f"{100 * off / abs(measured):+.0f} %"


def table(folder):
    before = {(r["table"], r["engine"], r["what"]): r for r in rows_of(os.path.join(HERE, "before.tsv"), ["table", "engine", "what", "first", "second"])}
    kept = {(r["table"], r["engine"], r["what"]): r["why"] for r in csv.DictReader(open(os.path.join(HERE, "kept-misses.csv"), encoding="utf-8"))}
    lines, held, then = ["| engine | what | measured | at first | before | now | error | band | |", "|---|---|---|---|---|---|---|---|---|"], 0, [0, 0, 0]
    rows = [r for name, _ in PROGRAMS for r in rows_of(os.path.join(folder, name + ".tsv"), FIELDS) if not r["what"].startswith("torque at ") or "rpm" not in r["what"]]
    last = None
    for r in rows:
        key = r["table"], r["engine"], r["what"]
        old = before.get(key, {"first": "", "second": ""})
        held += r["verdict"] == "held"
        if old["second"]:
            then[0] += 1
            then[1] += float(r["low"]) <= float(old["second"]) <= float(r["high"])
            then[2] += r["verdict"] == "held"
        lines.append(f"| {r['engine'] if r['engine'] != last else ''} | {r['what']} | {r['measured']} | {old['first']} | {old['second']} | {r['predicted']} | {error(r)} | {band(r)} | "
                     f"{'held' if r['verdict'] == 'held' else 'missed: ' + kept.get(key, 'not kept')} |")
        last = r["engine"]
    return lines + ["", f"{held} of {len(rows)} held. Of the {then[0]} that the program before could run it held {then[1]}, and {then[2]} of them are held now."]


def main():
    with tempfile.TemporaryDirectory() as made:
        ready = "--from" in sys.argv
        folder = sys.argv[sys.argv.index("--from") + 1] if ready else made
        good = ready or run(sys.argv[1], folder)
        text = "\n".join(table(folder))
    print(text)
    if "--write" in sys.argv:
        path = sys.argv[sys.argv.index("--write") + 1]
        whole = open(path, encoding="utf-8").read()
        head, rest = whole.split(MARKS[0])
        with open(path, "w", encoding="utf-8") as out:
            out.write(head + MARKS[0] + "\n" + text + "\n" + MARKS[1] + rest.split(MARKS[1])[1])
    sys.exit(not good)


if __name__ == "__main__":
    main()
