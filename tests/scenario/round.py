"""A reference engine that runs in each cell and in the first again: the plan, the visits, the figures of ISO 5725-2, and comparisons across cells,
refused before such a round and widened after it. Cells, engines and their numbers are invented: the south cell reads 1.2 % more than the north one.

Outside source: the figures are worked out again here by ISO 5725-2's formulas with the standard library's statistics module, from the curves that
'pull curve' gives."""
import math
import statistics

import recordings
from harness import Scenario

s = Scenario()
READS = {"north": 1.0, "south": 1.012, "west": 0.995}
books = {cell: s.path(cell + ".book") for cell in READS}
ENGINES = {name: s.write(name.replace(" ", "-") + ".yaml", recordings.ENGINE.replace("bench four", name)) for name in ("reference four", "customer four")}
seed = 0


def add(cell, engine, gain=1.0, count=4, *words):
    global seed
    ids = []
    for i in range(count):
        seed += 1
        text = recordings.sweep(seed=seed, gain=gain * READS[cell] * (1 + 0.001 * ((seed * 7) % 5 - 2))).text()
        ids += [str(i) for i in s.good("pull", "add", s.write(f"{cell}-{seed}.csv", text), "--book", books[cell], "--engine", engine, "--set", "spark=28 deg",
                                             *(words if i == 0 else ()), "--json").json["pull_ids"]]
    return ids


for cell, book in books.items():
    s.good("book", "new", "--book", book)
    s.good("book", "set", "--cell-file", s.write(cell + ".yaml", recordings.CELL.replace("cell 1", cell)), "--book", book)
    for file in ENGINES.values():
        s.good("engine", "add", file, "--book", book)
north, south, west = (books[c] for c in ("north", "south", "west"))


def plan(book, *words):
    return s.run("round", "new", "winter", "--engine", "reference four", "--cells", "north,south", *words, "--book", book)


def compare(name="winter", margin="1 %"):
    return s.run("round", "compare", name, "--a", *mine, "--b", *theirs, "--book", north, "--with", south, "--margin", margin, "--json")


# ---- before a round ----
mine, theirs = add("north", "customer four", 1.0, 3), add("south", "customer four", 1.0, 3)
s.refused("a comparison across cells before any round", compare(), "no round 'winter'", "round new")

# ---- the plan ----
for says, words, *found in (("one cell", ("--cells", "north"), "2 to 20"), ("a cell twice", ("--cells", "north,south,north"), "named twice", "way back"),
                            ("another shop's cells", ("--cells", "east,south"), "'north'", "not among"), ("two pulls", ("--pulls", "2"), "3 to 20"),
                            ("words for pulls", ("--pulls", "four"), "four"), ("half a pull", ("--pulls", "3.5"), "3.5"),
                            ("an engine that is not there", ("--engine", "reference six"), "reference six", "engine add")):
    s.refused(says, plan(north, *words), *found)
s.check("planned", plan(north, "--json").json["added"] is True)
s.check("the same again is one plan", plan(north, "--json").json["added"] is False)
s.refused("the same name otherwise", plan(north, "--pulls", "5"), "another name")
show = s.good("round", "show", "winter", "--book", north)
s.check("what comes first is said", "next: run reference four in north" in show.out, show.out)
s.refused("a round that the other cell does not know", s.run("round", "show", "winter", "--book", north, "--with", south), "winter", "south.book")

# ---- the first visit ----
first = add("north", "reference four")
for says, pulls, *found in (("too few", first[:3], "run 1 more"), ("another engine", mine + first[:1], "customer four", "reference four"), ("a pull twice", first[:3] + first[:1], "same recording"),
                            ("a pull that is not there", first[:3] + ["99"], "99"), ("a word", ["x"], "not a pull number")):
    s.refused(says, s.run("round", "visit", "winter", *pulls, "--book", north), *found)
s.good("pull", "discard", first[0], "--reason", "slipped coupling", "--book", north)
s.refused("a discarded pull", s.run("round", "visit", "winter", *first, "--book", north), "discarded")
s.good("pull", "discard", first[0], "--take-back", "--book", north)
s.good("round", "visit", "winter", *first, "--book", north)
s.refused("the visit again", s.run("round", "visit", "winter", *first, "--book", north), "visit 1")
s.good("round", "new", "winter", "--engine", "reference four", "--cells", "north,south", "--book", south)
half = s.good("round", "show", "winter", "--book", north, "--with", south, "--json").json
s.check("south is next", half["next"] == "south" and half["whole"] is False and [c["pulls"] for c in half["cells"]] == [4, 0], half)
s.refused("a comparison with half a round", compare(), "not run to its end", "'reference four', 4 pulls, in south")

# ---- the second, and back ----
there = add("south", "reference four")
s.good("round", "visit", "winter", *there, "--book", south)
s.refused("a third visit of a cell that is not the first", s.run("round", "visit", "winter", *add("south", "reference four"), "--book", south), "was here already")
half = s.good("round", "show", "winter", "--book", south, "--with", north, "--json").json
s.check("north again is next, in whatever order the books are named", half["next"] == "north again", half)
stayed = add("north", "reference four")
s.refused("back without having left", s.run("round", "visit", "winter", *stayed, "--book", north), "never left", "--remounted")
back = add("north", "reference four", 1.0, 4, "--remounted")
s.refused("pulls on either side of a mounting", s.run("round", "visit", "winter", *back[:3], stayed[0], "--book", north), "mounting")
s.good("round", "visit", "winter", *back, "--book", north)
whole = s.good("round", "show", "winter", "--book", north, "--with", south, "--json").json


# ---- the figures ----
def log_mean(book, pull):
    c = s.good("pull", "curve", pull, "--book", book, "--json").json
    x, y, low, high = c["speed_rpm"], c["torque_n_m"], whole["band_low_rpm"], whole["band_high_rpm"]

    def at(n):
        i = next((k for k in range(1, len(x)) if x[k] >= n - 1e-9), len(x) - 1)
        return y[i - 1] + (y[i] - y[i - 1]) * (n - x[i - 1]) / (x[i] - x[i - 1])

    return sum((1 if 0 < k < 50 else 0.5) * math.log(at(low + (high - low) * k / 50)) for k in range(51)) / 50


visits = [[log_mean(north, p) for p in first], [log_mean(south, p) for p in there]]
again = [log_mean(north, p) for p in back]
within = statistics.mean(statistics.variance(v) for v in visits)
means = [statistics.mean(v) for v in visits]
between = max((4 * statistics.variance(means) - within) / 4, 0)
for key, want in (("repeatability_sd", math.sqrt(within)), ("between_cells_sd", math.sqrt(between)), ("reproducibility_sd", math.sqrt(within + between)),
                  ("came_back_by", math.expm1(statistics.mean(again) - means[0]))):
    s.check(f"{key} by the standard's formula", abs(whole[key] - want) < 1e-9, (whole[key], want))
s.check("the cells' difference is what was invented", abs(math.exp(means[1] - means[0]) - 1.012) < 0.003, means)
text = s.good("round", "show", "winter", "--book", north, "--with", south).out
s.check("two cells alone cannot say which is off", "cannot be known" in text and "ISO 5725-2" in text, text)

# ---- across cells, after it ----
answer = compare().json
apart = math.expm1(means[1] - means[0])
s.check("an engine that is the same in both is not said to be better", answer["verdict"] in ("undecided", "same") and answer["relative_interval"][0] < 0 < answer["relative_interval"][1], answer)
s.check("it is not corrected: the cells' difference shows", abs(answer["relative_difference"] - apart) < 0.006, (answer["relative_difference"], apart))
s.check("what the cells do is said", any(w["id"] == "judge.cells-between" for w in answer["warnings"]), answer["warnings"])
theirs = add("south", "customer four", 1.08, 3, "--after-stop")
answer = compare().json
s.check("a gain larger than cells can make is found", answer["verdict"] == "gain" and answer["relative_interval"][0] > 0.02, answer)
half_width = (answer["relative_interval"][1] - answer["relative_interval"][0]) / 2
s.check("the interval holds the cells' difference", half_width > 1.9 * apart, (half_width, apart))
s.refused("both sides in one cell", s.run("round", "compare", "winter", "--a", *mine, "--b", *first[:1], "--book", north, "--with", north), "once")
s.refused("without the other book", s.run("round", "compare", "winter", "--a", *mine, "--b", *theirs, "--book", north))
s.refused("without pulls", s.run("round", "compare", "winter", "--a", *mine, "--book", north, "--with", south), "--b")
s.refused("a margin of half", compare(margin="50 %"), "margin")

# ---- a pull of the round is discarded afterwards: the round no longer holds ----
s.good("pull", "discard", there[1], "--reason", "boost leak seen later", "--book", south)
s.refused("a round with a discarded pull", compare(), "discarded")
s.good("pull", "discard", there[1], "--take-back", "--book", south)
s.check("and taken back it does again", compare().json["verdict"] == "gain")

# ---- a cell that was not in it ----
s.refused("a cell that the round never came to", s.run("round", "compare", "winter", "--a", *mine, "--b", *add("west", "customer four", 1.0, 1), "--book", north, "--with", west, south), "west")

# ---- three cells: the odd one is named ----
for cell in READS:
    s.good("round", "new", "Spring", "--engine", "reference four", "--cells", "north,south,west", "--pulls", "3", "--book", books[cell])
    s.good("round", "visit", "spring", *add(cell, "reference four", 1.0, 3, "--remounted"), "--book", books[cell])
s.good("round", "visit", "spring", *add("north", "reference four", 0.97, 3, "--remounted"), "--book", north)
three = s.good("round", "show", "spring", "--book", north, "--with", west, south)
s.check("an engine that came back changed is said", "came back changed" in three.out, three.out)
found = s.good("round", "show", "spring", "--book", north, "--with", west, south, "--json").json
s.check("critical values are there with three cells", found["grubbs_critical_5"] is not None and abs(found["grubbs_critical_5"] - 1.155) < 0.002, found)
wide = s.good("round", "compare", "spring", "--a", *mine, "--b", *theirs, "--book", north, "--with", south, west, "--json").json
s.check("and makes comparisons wider", wide["relative_interval"][0] < answer["relative_interval"][0], (wide["relative_interval"], answer["relative_interval"]))
s.check("the round goes with the book", s.good("book", "backup", s.path("copy.book"), "--book", north).code == 0
        and s.good("round", "show", "winter", "--book", s.path("copy.book"), "--with", south, "--json").json["whole"])
s.finish()
