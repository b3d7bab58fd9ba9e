"""Comparisons of predictions with what was measured or published, and the misses that are kept by name.

A comparison outside its band fails, unless kept-misses.csv names it: then it is printed as kept, with its reason, and fails only where it is
no longer what it was when it was last looked at, better or worse. A kept miss that is held again, or that nothing compares any more, fails too: it goes off the list.
So no band has to be as wide as what the program does."""
import csv
import os
import sys

HERE = os.path.dirname(os.path.abspath(__file__))


class Comparisons:
    def __init__(self, table):
        """`table`: the name under which kept-misses.csv lists this program's misses, and of its rows."""
        self.table, self.lines = table, []

    def add(self, engine, what, measured, predicted, low, high, digits=3):
        """`measured`: a figure, or None where only a band is published. NaN is never inside a band."""
        self.lines.append({"engine": engine, "what": what, "measured": measured, "predicted": predicted, "low": low, "high": high, "digits": digits,
                           "held": low <= predicted <= high})

    def finish(self, counts=lambda line: True):
        """Prints each line, judges, writes --tsv FILE, and leaves with 1 where something is not as it should be. Lines that do not count (points of curves,
        which their curve's own lines sum up) are printed only."""
        kept = {(r["engine"], r["what"]): r for r in csv.DictReader(open(os.path.join(HERE, "kept-misses.csv"), encoding="utf-8")) if r["table"] == self.table}
        failed, passed, seen = [], 0, set()
        for line in self.lines:
            says, verdict = f"{line['engine']}: {line['what']}", ""
            if counts(line):
                miss = kept.get((line["engine"], line["what"]))
                seen.add((line["engine"], line["what"]))
                wrong = judged(line, miss)
                verdict = "" if line["held"] else f"   kept miss: {miss['why']}" if miss and not wrong else "   MISSED"
                passed += not wrong
                failed += [f"{says}: {wrong}"] if wrong else []
            elif not line["held"]:
                verdict = "   outside"
            measured = "" if line["measured"] is None else f"{line['measured']:.{line['digits']}f}"
            print(f"{says:100} {measured:>9} {line['predicted']:9.{line['digits']}f}   {line['low']:.{line['digits']}f} to {line['high']:.{line['digits']}f}{verdict}")
        asked = lambda what: "--fits" in sys.argv or not what.startswith("torque after a fit")  # fits take minutes, and run where they are asked for
        failed += [f"{engine}: {what}: kept as a miss, and compared by nothing" for engine, what in kept if (engine, what) not in seen and asked(what)]
        self.write()
        counted = [line for line in self.lines if counts(line)]
        print(f"{sum(line['held'] for line in counted)} of {len(counted)} held, {len(kept)} kept as misses")
        for says in failed:
            print(f"[  FAILED  ] {says}")
        print(f"[  PASSED  ] {passed} test(s).")
        sys.exit(1 if failed else 0)

    def write(self):
        if "--tsv" in sys.argv:
            with open(sys.argv[sys.argv.index("--tsv") + 1], "w", encoding="utf-8") as out:
                for r in self.lines:
                    d = r["digits"]
                    measured = "" if r["measured"] is None else f"{r['measured']:.{d}f}"
                    print(self.table, r["engine"], r["what"], measured, f"{r['predicted']:.{d}f}", f"{r['low']:.{d}f}", f"{r['high']:.{d}f}", "held" if r["held"] else "missed",
                          sep="\t", file=out)


def judged(line, miss):
    """None, or what is wrong: the same bits come from every machine, so that a kept miss may move by what rounding does and no more."""
    if line["held"]:
        return f"{line['predicted']:.4g} is inside its band again: take it off kept-misses.csv" if miss else None
    if not miss:
        return f"{line['predicted']:.4g}, outside {line['low']:.4g} to {line['high']:.4g}"
    room = max(1.5 * 10.0 ** -line["digits"], 0.05 * (line["high"] - line["low"]))
    if not abs(line["predicted"] - float(miss["seen"])) <= room:
        return f"{line['predicted']:.4g} where {miss['seen']} is kept as a miss: look why it moved"
    return None
