"""A stored pull asked for with another factor, weather, cell, method or engine: it is computed with it and the answer says what
differs from what is kept; nothing is stored; and an answer about it is not kept.

Usage: altered.py PROGRAM"""
import recordings
from harness import Scenario

s = Scenario()
book = s.path("shop.book")
cell = s.write("cell.yaml", recordings.CELL)
heavy = s.write("heavy.yaml", recordings.CELL.replace("0.085", "0.185"))
method = s.write("method.yaml", "half_width: 250 rpm\n")
weather = ["--set", "pressure=985 hPa", "--set", "temperature=24 degC", "--set", "humidity=40 %"]
path = s.write("run.csv", recordings.sweep(seed=3).without("Barometer", "Inlet Air", "Humidity").text())
s.good("book", "new", "--book", book)
s.good("book", "set", "--cell-file", cell, "--book", book)
for seed in range(3, 7):
    r = recordings.sweep(seed=seed)
    names = [c[0] for c in r.columns]
    path = s.write(f"run-{seed}.csv", r.without(*[n for n in names if any(w in n.lower() for w in ("baro", "inlet", "hum", "ambient", "air"))]).text())
    s.good("pull", "add", path, *weather, "--book", book)
kept = s.good("pull", "curve", 1, "--book", book, "--json").json
s.check("as kept nothing differs", kept["differs_from_kept"] is None, kept["differs_from_kept"])


def altered(says, *options, differs, like=None):
    answer = s.good("pull", "curve", 1, *options, "--book", book, "--json").json
    s.check(f"{says}: it says what differs", answer["differs_from_kept"] and differs in "; ".join(m["text"] for m in answer["differs_from_kept"]), answer["differs_from_kept"])
    s.check(f"{says}: another curve", answer["torque_n_m"] != kept["torque_n_m"])
    s.check(f"{says}: said in words too", "not as kept in the book: " + "; ".join(m["text"] for m in answer["differs_from_kept"]) in s.good("pull", "curve", 1, *options, "--book", book).out)
    if like:
        direct = s.good("pull", "curve", *like, "--json").json
        s.check(f"{says}: as the file itself gives it", direct["torque_n_m"] == answer["torque_n_m"], (direct["torque_n_m"][:3], answer["torque_n_m"][:3]))
    return answer


file = s.path("run-3.csv")
base = (file, "--cell-file", cell, *weather)
none = altered("no factor", "--standard", "none", differs="method: standard", like=(*base, "--standard", "none"))
s.check("no factor is 1", none["factor"] == 1, none["factor"])
altered("other weather", "--set", "pressure=960 hPa", differs="pressure 985", like=(file, "--cell-file", cell, *weather, "--set", "pressure=960 hPa"))
altered("another rotor", "--cell-file", heavy, differs="cell: rotor inertia", like=(file, "--cell-file", heavy, *weather))
altered("another method", "--method", method, differs="half width", like=(*base, "--method", method))
two = altered("two of them", "--standard", "none", "--set", "pressure=960 hPa", differs="; set-up: pressure")
s.check("what is given is what is kept: nothing differs", s.good("pull", "curve", 1, "--set", "pressure=985 hPa", "--cell-file", cell, "--book", book, "--json").json["differs_from_kept"] is None)
s.check("nothing was stored", s.good("pull", "curve", 1, "--book", book, "--json").json == kept)
s.check("and the book is whole", s.good("book", "verify", "--book", book, "--json").json["whole"])
shown = s.good("pull", "show", 1, "--set", "pressure=960 hPa", "--book", book, "--json").json
s.check("show", "pressure" in shown["differs_from_kept"][0]["text"], shown["differs_from_kept"])
told = s.good("pull", "explain", 1, "--speed", "5000 rpm", "--standard", "none", "--book", book, "--json").json
plain = s.good("pull", "explain", 1, "--speed", "5000 rpm", "--book", book, "--json").json
s.check("explain walks the other one back", told["factor"] == 1 and plain["factor"] != 1 and plain["differs_from_kept"] is None and "standard" in told["differs_from_kept"][0]["text"], (told["factor"], told["differs_from_kept"]))
exported = s.good("pull", "export", 1, "--standard", "none", "--book", book).out
s.check("export", exported != s.good("pull", "export", 1, "--book", book).out)
for words in (("pull", "curve", 1, "--set", "presure=960 hPa"), ("pull", "curve", 1, "--standard", "j9999"), ("pull", "curve", 1, "--set", "pressure=4 hPa")):
    s.refused(" ".join(map(str, words)), s.run(*words, "--book", book))
answer = s.good("compare", "--a", 1, 2, "--b", 3, 4, "--standard", "none", "--book", book, "--json").json
s.check("a comparison of it says so", sum(w["id"] == "desk.answer-not-kept" and "the answer is not kept either" in w["text"] for w in answer["warnings"]) == 4, answer["warnings"])
again = s.good("compare", "--a", 1, 2, "--b", 3, 4, "--book", book, "--json").json
s.check("and is no look", not any(w["id"] == "judge.look" for w in again["warnings"]), again["warnings"])
s.good("judge", "step-up", 1, "--set", "lambda=0.8", "--book", book)
s.finish()
