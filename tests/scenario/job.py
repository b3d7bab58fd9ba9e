"""The customer's job from the wish to the crate: what is kept, what it adds up to, what goes into the build record, and what a
wrong fact, a second time and a tired person meet. Customers, prices and the engine are invented.

Outside source: sums are worked out again here with Python's decimal module (IEEE 754-2008 decimal arithmetic, half away from zero).
"""
import csv
import html
import io
import json
import os
import re
import shutil
import subprocess
from decimal import ROUND_HALF_UP, Decimal

import recordings
from harness import Scenario

s = Scenario()
root = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")
book = s.path("job.book")
prices = os.path.join(root, "examples", "prices", "shop.csv")
NAME = "summer six"


def do(*words):
    return s.good(*words, "--book", book)


def keeps(*words):
    return s.good(*words, "--book", book, "--json").json


def refused(says, words, *found):
    before = open(book, "rb").read() if not os.path.exists(book + "-wal") else None
    s.refused(says, s.run(*words, "--book", book), *found)
    return before


def show():
    return keeps("job", "show", NAME)


s.good("book", "new", "--book", book)

# ---- the price table ----
refused("a quote without prices", ("job", "new", NAME), "customer")
table = keeps("price", "load", prices)
s.check("the table is version 1", table["added"] and table["records"][0]["version"] == 1, table)
s.check("a table loaded twice adds nothing", keeps("price", "load", prices)["added"] is False)
listed = keeps("price", "list")
with open(prices, newline="", encoding="utf-8") as file:
    rows = {row["code"]: row for row in csv.DictReader(file)}
s.check("every price is the table's", {l["code"]: Decimal(l["price"]) for l in listed["lines"]} == {c: Decimal(r["price"]) for c, r in rows.items()}, listed)
exported = s.write("again.csv", do("price", "export").out)
s.check("what is exported loads as the same", keeps("price", "load", exported)["added"] is False)
HEAD = "code,name,price,currency\n"
for says, text, *words in (("words for a number", HEAD + "a,Alpha,on request,EUR\n", "line 2", "on request", "not a number"),
                           ("a negative price", HEAD + "a,Alpha,1,EUR\nb,Beta,-5,EUR\n", "line 3", "-5", "below zero"),
                           ("two prices for one part", HEAD + "a,Alpha,1,EUR\na,Alpha,2,EUR\n", "line 3", "line 2", "one price"),
                           ("two ways to read it", "code;name;price;currency\na;Alpha;1,234;EUR\n", "line 2", "1,234", "two ways"),
                           ("a currency beside the price", HEAD + "a,Alpha,12.50 EUR,EUR\n", "line 2", "12.50 EUR"),
                           ("no currency at all", "code,name,price\na,Alpha,1\n", "currency"),
                           ("not a table", b"\x89PNG\r\n\x1a\n\0\0", "not a table")):
    refused(says, ("price", "load", s.write("bad.csv", text)), *words)
s.check("nothing of them was kept", keeps("price", "list")["version"] == 1)
comma = s.write("comma.csv", "code;name;price;currency\na;Alpha;12,50;EUR\n")
other = s.path("comma.book")
s.good("book", "new", "--book", other)
s.check("a decimal comma is read", s.good("price", "load", comma, "--book", other, "--json").json["records"][0]["lines"][0]["price"] == "12.5000")
refused("a currency that the table contradicts", ("price", "load", comma, "--currency", "USD"), "USD", "EUR")

# ---- the wish ----
WISH = ("--customer", "B. Hollow", "--wish", "pulls from 2,500, no drama in town", "--power", "195 kW", "--power-speed", "6000 rpm", "--limit",
        "7000 rpm", "--idle", "900 rpm", "--fuel", "98 octane", "--budget", "4000", "--by", "2027-03-31")
for says, words, *found in (("no customer", ("--wish", "x"), "customer"), ("no wish", ("--customer", "x"), "wish"),
                            ("a budget in words", (*WISH, "--budget", "a lot"), "budget", "a lot"),
                            ("a day that is not there", (*WISH, "--by", "2027-02-30"), "2027-02-30"),
                            ("a limit below the power", (*WISH, "--limit", "5000 rpm"), "limit"),
                            ("begun tomorrow", (*WISH, "--at", "2999-01-01"), "2999-01-01", "after today"),
                            ("power without a unit", (*WISH, "--power", "195"), "power")):
    refused(says, ("job", "new", NAME, *words), *found)
s.check("none of them began a job", keeps("job", "list")["jobs"] == [])
s.check("a job begins", keeps("job", "new", NAME, *WISH, "--at", "2026-03-01")["job"] == 1)
refused("a name that is taken", ("job", "new", NAME.upper(), *WISH), "job 1")
refused("a name that is a number", ("job", "new", "17", *WISH), "17")
refused("a job that is not there", ("job", "show", "sumer six"), "summer six")
s.check("what is not given stays", keeps("job", "wish", NAME, "--budget", "4100", "--at", "2026-03-01")["records"][0]["customer"] == "B. Hollow")
s.check("by number or by name", do("job", "show", "1").out == do("job", "show", NAME).out)

# ---- quote, signature, change ----
ASKED = {"gasket-set": 1, "valve-spring": 8, "pistons": 6, "oil": Decimal("4.5"), "assembly": 26, "dyno": 6}
words = [f"{code}={count}" for code, count in ASKED.items()]
refused("a code with a slip", ("job", "quote", NAME, "gasket-sett=1"), "gasket-set")
refused("less than nothing", ("job", "quote", NAME, "pistons=-6"), "pistons")
refused("no quantity", ("job", "quote", NAME, "pistons"), "CODE=QUANTITY")
refused("a code twice", ("job", "quote", NAME, "pistons=6", "pistons=2"), "pistons")
refused("no lines", ("job", "quote", NAME), "lines")
refused("good until before it was made", ("job", "quote", NAME, *words, "--at", "2026-03-02", "--until", "2026-03-01"), "until")
refused("made before the job", ("job", "quote", NAME, *words, "--at", "2025-03-02"), "2025-03-02", "2026-03-01")
quote = keeps("job", "quote", NAME, *words, "--at", "2026-03-02", "--until", "2026-03-20")
s.check("quote 1 keeps the prices of version 1", quote["records"][0]["quote"] == 1 and quote["records"][0]["prices"] == 1, quote)


def cent(value):
    return value.quantize(Decimal("0.01"), ROUND_HALF_UP)


def total(counts, table_rows):
    return sum(cent(Decimal(table_rows[code]["price"]) * Decimal(count)) for code, count in counts.items())


s.check("the sum by hand", Decimal(show()["total"]["all"]) == total(ASKED, rows), (show()["total"], total(ASKED, rows)))
s.check("the same quote twice is one", keeps("job", "quote", NAME, *words, "--at", "2026-03-03", "--until", "2026-03-20")["added"] is False)
lines = s.write("lines.csv", "code,quantity\n" + "".join(f"{code},{count}\n" for code, count in ASKED.items()))
s.check("and so it is from a file", keeps("job", "quote", NAME, "--lines", lines, "--at", "2026-03-03", "--until", "2026-03-20")["added"] is False)
lost = s.write("lost.csv", open(prices, encoding="utf-8").read().replace("14.75", "1475"))
refused("a decimal mark that was lost on the way", ("price", "load", lost), "valve-spring", "14.75", "1,475.00", "--sure")
dearer = s.write("dearer.csv", open(prices, encoding="utf-8").read().replace("14.75", "16.75"))
s.check("a new table is version 2", keeps("price", "load", dearer)["records"][0]["version"] == 2)
s.check("the quote keeps its prices", Decimal(show()["total"]["all"]) == total(ASKED, rows))
s.check("a quote is sent", keeps("job", "sent", NAME, "--at", "2026-03-02")["added"])
s.check("sent twice on one day is sent once", keeps("job", "sent", NAME, "--at", "2026-03-02")["added"] is False)
s.check("on another day it is sent again", keeps("job", "sent", NAME, "--at", "2026-03-05")["added"])
refused("sent before it was made", ("job", "sent", NAME, "--at", "2026-03-01"), "quote 1")
refused("a change of what is not agreed", ("job", "change", NAME, "more", "dyno=1", "--by", "B. Hollow"), "nothing is agreed")
refused("parts for a quote that nobody signed", ("job", "order", NAME), "not agreed", "--sure")
refused("shipped without a signature", ("job", "end", NAME), "--sure")
refused("signed by nobody", ("job", "agree", NAME), "by")
refused("signed before the quote", ("job", "agree", NAME, "--by", "B. Hollow", "--at", "2026-03-01"), "quote 1")
refused("signed after it was good", ("job", "agree", NAME, "--by", "B. Hollow", "--at", "2026-03-21"), "2026-03-20", "--sure")
refused("another tab's quote", ("job", "agree", NAME, "--quote", "2", "--by", "B. Hollow"), "no quote 2")
s.check("a second quote", keeps("job", "quote", NAME, *words, "head-work=4", "--at", "2026-03-06")["records"][0]["quote"] == 2)
refused("the older one from a tab that was left open", ("job", "agree", NAME, "--quote", "1", "--by", "B. Hollow", "--at", "2026-03-07"), "not the newest", "--sure")
s.check("by version 2's prices", Decimal(show()["total"]["all"]) == total({**ASKED, "head-work": 4}, rows) + 16)
agreed = keeps("job", "agree", NAME, "--quote", "2", "--by", "B. Hollow", "--at", "2026-03-07")
s.check("agreed", agreed["added"] and agreed["records"][0]["quote"] == 2)
s.check("signed twice is signed once", keeps("job", "agree", NAME, "--by", "B. Hollow", "--at", "2026-03-07")["added"] is False)
for says, words_of in (("a third quote", ("job", "quote", NAME, "dyno=1")), ("another wish", ("job", "wish", NAME, "--power", "300 kW")),
                       ("another signature", ("job", "agree", NAME, "--by", "C. Other"))):
    refused(says + " after it was agreed", words_of, "2026-03-07", "job change")
refused("a change before what it changes", ("job", "change", NAME, "x", "dyno=1", "--by", "B. Hollow", "--at", "2026-03-06"), "2026-03-07")
refused("a change signed by nobody", ("job", "change", NAME, "x", "dyno=1"), "by")
refused("more taken off than there is", ("job", "change", NAME, "x", "valve-spring=-9", "--by", "B. Hollow"), "valve-spring", "8")
before = Decimal(show()["total"]["all"])
CHANGE = ("job", "change", NAME, "dual springs, 7,200 rpm", "valve-spring=-8", "valve-spring-dual=8", "--limit", "7200 rpm", "--by", "B. Hollow", "--at", "2026-03-09")
s.check("a change", keeps(*CHANGE)["added"])
s.check("typed twice is one change", keeps(*CHANGE)["added"] is False)
s.check("taken off at the price that was agreed", Decimal(show()["total"]["changes"]) == 8 * (Decimal("31.20") - Decimal("16.75")), show()["total"])
s.check("and added to the total", Decimal(show()["total"]["all"]) == before + 8 * (Decimal("31.20") - Decimal("16.75")))
s.check("a change in words alone", keeps("job", "change", NAME, "lighter flywheel", "--by", "B. Hollow", "--at", "2026-03-09")["added"])
s.check("typed twice is one, too", keeps("job", "change", NAME, "lighter flywheel", "--by", "B. Hollow", "--at", "2026-03-09")["added"] is False)
s.check("it has no lines", show()["records"]["change"][1]["lines"] == [], show()["records"]["change"])
s.check("more than the budget is said", "more than the budget, 4100" in do("job", "show", NAME).out)

# ---- parts, before there is an engine ----
refused("a supplier with a slip", ("job", "order", NAME, "--supplier", "Holow Springs"), "Holow Springs")
orders = keeps("job", "order", NAME, "--at", "2026-03-10")["records"]
s.check("one order for each supplier", [o["supplier"] for o in orders] == ["Weir Street Parts", "Anvil Lane", "Hollow Springs"], orders)
s.check("what was changed away is not ordered", "valve-spring" not in [l["code"] for o in orders for l in o["lines"]], orders)
s.check("nothing is ordered twice", keeps("job", "order", NAME)["added"] is False)
late = {row["code"]: (row["due"], row["late"]) for row in show()["ordered"]}
s.check("late by the table's days", late["gasket-set"] == ("2026-03-15", True) and late["pistons"] == ("2026-04-21", True), late)
refused("a part that nobody ordered", ("job", "came", NAME, "valve-spring"), "valve-spring-dual")
refused("come before it was ordered", ("job", "came", NAME, "oil", "--at", "2026-03-09"), "2026-03-10")
refused("none of it", ("job", "came", NAME, "oil", "--quantity", "0"), "quantity")
refused("one number for two pieces", ("job", "came", NAME, "pistons", "--quantity", "2", "--serial", "P1"), "serial")
came = keeps("job", "came", NAME, "VS-480-62", "--batch", "S7-0311", "--at", "2026-03-12")
s.check("by the supplier's number, all that is out", came["records"][0]["code"] == "valve-spring-dual" and came["records"][0]["lines"][0]["quantity"] == "8.0000", came)
refused("all of it has come", ("job", "came", NAME, "valve-spring-dual"), "all of")
refused("more than was ordered", ("job", "came", NAME, "valve-spring-dual", "--quantity", "1", "--batch", "S8"), "more than was ordered", "--sure")
do("job", "came", NAME, "pistons", "--serial", "P1", "--at", "2026-03-13")
refused("one piece twice", ("job", "came", NAME, "pistons", "--serial", "p1"), "P1".lower(), "already")
do("job", "came", NAME, "pistons", "--quantity", "2", "--batch", "A", "--at", "2026-03-13")
refused("one delivery twice", ("job", "came", NAME, "pistons", "--quantity", "2", "--batch", "A", "--at", "2026-03-13"), "already", "--sure")
do("job", "came", NAME, "pistons", "--quantity", "2", "--batch", "A", "--at", "2026-03-13", "--sure")
came_of = {row["code"]: row["come"] for row in show()["ordered"]}
s.check("five pistons have come", came_of["pistons"] == "5.0000" and came_of["oil"] == "0.0000", came_of)

# ---- the engine: one agreement, one list of parts ----
refused("an engine that is not there", ("job", "engine", NAME, "nowhere"), "nowhere")
do("engine", "add", s.write("engine.yaml", recordings.ENGINE))
engine = keeps("pull", "list")  # noqa: F841  the book opens with it
name = recordings.ENGINE.split("name:")[1].split("\n")[0].strip()
refused("an engine without a build", ("job", "engine", NAME, name), "no build")
do("build", "start", "--build", "first build")
s.check("the engine", keeps("job", "engine", NAME, name, "--at", "2026-03-14")["added"])
s.check("named twice is named once", keeps("job", "engine", NAME, name)["added"] is False)
build = keeps("build", "show")
s.check("agreed: the target, then the change", [(a["order"], a.get("power_w"), a.get("limit_rpm")) for a in build["agreed"]]
        == [("target", 195000, 7000), ("change", None, 7200), ("change", None, None)], build["agreed"])
s.check("what came is in the parts", [(p["number"], p.get("batch"), p.get("serial"), p["quantity"]) for p in build["parts"]]
        == [("VS-480-62", "S7-0311", None, "8 each"), ("AL-8605", None, "P1", "1 each"), ("AL-8605", "A", None, "2 each")], build["parts"])
s.check("found by its batch", name in do("build", "find", "S7-0311").out)
s.check("the customer is not in the build record", "Hollow" not in str(build["agreed"]) + str([p.get("note") for p in build["parts"]]), build["agreed"])
proof = show()["proof"]
s.check("promised by the build record", proof["agreed_power_w"] == 195000 and proof["agreed_limit_rpm"] == 7200 and proof["pulls"] == 0, proof)
for seed in (1, 2, 3):
    s.run("pull", "add", s.write(f"run-{seed}.csv", recordings.sweep(seed=seed).text()), "--book", book, "--engine", name)
proof = show()["proof"]
s.check("proved by the last like pulls", proof["pulls"] == 3 and proof["power_w"] > 0 and not proof["build_says_otherwise"], proof)
report = s.path("report.html")
do("sheet", "report", "--out", report, "--engine", name)
s.check("the customer's report judges that promise", "195" in open(report, encoding="utf-8").read())
if shutil.which("pdftotext"):
    do("sheet", "report", "--out", s.path("report.pdf"), "--engine", name)
    paper = " ".join(subprocess.run(["pdftotext", "-layout", s.path("report.pdf"), "-"], capture_output=True, text=True, check=True).stdout.split())
    table = re.search(r'<table class="promise">(.*?)</table>', open(report, encoding="utf-8").read(), re.S).group(1)
    rows = [[html.unescape(re.sub("<[^>]*>", "", cell)).strip() for cell in re.findall(r"<t[hd].*?</t[hd]>", row, re.S)] for row in re.findall("<tr>(.*?)</tr>", table, re.S)]
    s.check("the promises have their heads and a row each", len(rows) >= 3 and rows[0] == ["agreed", "promised", "proved", "answer"], rows)
    for row in rows:
        s.check(f"on paper as in the file: {row}", " ".join(" ".join(row).split()) in paper, paper)
else:
    s.skip("the promises on paper", "pdftotext is not there")
do("build", "agree", "by telephone", "--power", "200 kW")
s.check("what was agreed is in the build as text", all(one in do("build", "show", "--engine", name).out for one in ("agreed", "195 kW at 6000 rpm", "by telephone, 200 kW")), do("build", "show", "--engine", name).out)
s.check("an agreement beside the job is said", show()["proof"]["build_says_otherwise"] and "says otherwise" in do("job", "show", NAME).out)
do("job", "new", "other", "--customer", "C. Other", "--wish", "the same engine")
refused("two jobs for one build", ("job", "engine", "other", name), NAME, "--sure")

# ---- hours ----
refused("eighty hours a day", ("job", "hours", NAME, "assembly", "80 h"), "80 h", "24 h")
refused("a time without a unit", ("job", "hours", NAME, "assembly", "8"), "spent")
refused("less than nothing", ("job", "hours", NAME, "assembly", "-3 h"), "spent")
refused("hours of a part", ("job", "hours", NAME, "pistons", "3 h"), "part")
refused("hours before the job", ("job", "hours", NAME, "assembly", "3 h", "--at", "2025-03-15"), "2026-03-01", "--sure")
refused("hours of tomorrow", ("job", "hours", NAME, "assembly", "3 h", "--at", "2999-03-15"), "after today")
HOURS = ("job", "hours", NAME, "assembly", "10 h", "--at", "2026-03-15", "--who", "J. Ash")
s.check("ten hours", keeps(*HOURS)["added"])
refused("typed twice", HOURS, "already", "--sure")
refused("fifteen hours on a day", ("job", "hours", NAME, "dyno", "5 h", "--at", "2026-03-15", "--who", "j. ash"), "15.0 h", "--sure")
refused("more than a day has, over two jobs", ("job", "hours", "other", "dyno", "15 h", "--at", "2026-03-15", "--who", "J. Ash", "--sure"), "25.0 h")
do("job", "hours", NAME, "assembly", "20 h", "--at", "2026-03-16", "--who", "J. Ash", "--sure")
work = {w["code"]: w for w in show()["work"]}
s.check("hours against the quote", work["assembly"]["quoted_s"] == 26 * 3600 and work["assembly"]["spent_s"] == 30 * 3600, work)
s.check("over the quote is said", "over the quote" in do("job", "show", NAME).out)

# ---- the table for the accounts, and paper ----
table = list(csv.DictReader(io.StringIO(do("job", "export", NAME).out)))
quoted = sum(Decimal(row["sum"]) for row in table if row["what"] in ("quote", "change"))
s.check("the exported sums are the total", quoted == Decimal(show()["total"]["all"]), (quoted, show()["total"]))
s.check("each kind is there", {row["what"] for row in table} == {"quote", "change", "order", "come", "hours"}, table[:3])
for kind in ("quote", "orders"):
    for ending in ("pdf", "svg", "png", "html"):
        out = s.path(f"{kind}.{ending}")
        do("sheet", kind, NAME, "--out", out)
        s.check(f"{kind}.{ending} is there", os.path.getsize(out) > 2000)
page = open(s.path("quote.html"), encoding="utf-8").read()
s.check("the quote on a screen says what the paper says, complete in itself",
        all(one in page for one in (NAME, "<h2>Parts and labour</h2>", "Signed by", "default-src 'none'", "B. Hollow")) and "<script" not in page and "src=\"http" not in page, page[-900:])
page = open(s.path("orders.html"), encoding="utf-8").read()
s.check("the order list on a screen has neither prices nor the customer", "Order 1 of" in page and "EUR" not in page and "B. Hollow" not in page, page[-900:])
ODD = "<b>odd & one"
odd = ("--book", s.path("odd.book"))
s.good("book", "new", *odd)
s.good("price", "load", prices, *odd)
s.good("job", "new", ODD, "--customer", "<script>alert(1)</script>", "--wish", "a <i>quick</i> one", *odd)
s.good("job", "quote", ODD, "pistons=1", *odd)
s.good("sheet", "quote", ODD, "--out", s.path("odd.html"), *odd)
page = open(s.path("odd.html"), encoding="utf-8").read()
s.check("marks in a name are text on a screen", "<script" not in page and "&lt;script&gt;" in page and "&lt;i&gt;quick" in page and "<b>odd" not in page)
refused("paper for a quote that is not there", ("sheet", "quote", NAME, "--quote", "7"), "7")
refused("an order list without orders", ("sheet", "orders", "other"), "other")

# ---- taken back ----
ids = {kind: [r["id"] for r in records] for kind, records in show()["records"].items()}
refused("a quote that was agreed", ("job", "withdraw", str(ids["quote"][-1]), "--reason", "x"), "agreed")
refused("an agreement that was changed", ("job", "withdraw", str(ids["agreed"][0]), "--reason", "x"), "change")
refused("an order from which parts came", ("job", "withdraw", str(ids["order"][1]), "--reason", "x"), "come")
refused("without a reason", ("job", "withdraw", str(ids["change"][0])), "why")
refused("a price table", ("job", "withdraw", "1", "--reason", "x"), "price table")
refused("a record that is none", ("job", "withdraw", "999", "--reason", "x"), "999")
do("job", "withdraw", str(ids["come"][0]), "--reason", "they were for another job")
refused("twice", ("job", "withdraw", str(ids["come"][0]), "--reason", "x"), "no active")
s.check("the part went from the build record with it", "S7-0311" not in str(keeps("build", "show")["parts"]))
do("job", "came", NAME, "valve-spring-dual", "--batch", "S7-0312", "--at", "2026-03-12")
s.check("and what comes now goes there at once", "S7-0312" in str(keeps("build", "show")["parts"]))
engine_record = show()["records"]["engine"][0]["id"]
do("job", "withdraw", str(engine_record), "--reason", "the wrong engine")
left = keeps("build", "show")
s.check("the wrong engine's build has nothing of the job", left["parts"] == [] and [a["what"] for a in left["agreed"]] == ["by telephone"], left["agreed"])
do("job", "engine", NAME, name, "--at", "2026-03-14")

# ---- shipped, and after ----
s.check("shipped", keeps("job", "end", NAME, "--at", "2026-04-01")["added"])
s.check("twice is once", keeps("job", "end", NAME, "--at", "2026-04-01")["added"] is False)
refused("shipped on another day", ("job", "end", NAME, "--at", "2026-04-02"), "2026-04-01")
refused("a change after it is shipped", ("job", "change", NAME, "x", "dyno=1", "--by", "B. Hollow"), "2026-04-01")
refused("an order after it is shipped", ("job", "order", NAME), "2026-04-01")
refused("hours after it is shipped", ("job", "hours", NAME, "dyno", "1 h"), "2026-04-01", "--sure")
s.check("a change signed before that", keeps("job", "change", NAME, "one more hour", "dyno=1", "--by", "B. Hollow", "--at", "2026-03-30")["added"])
refused("a reminder of nothing", ("job", "remind", NAME, "valve lash"), "running")
refused("done before it was set", ("job", "remind", NAME, "valve lash", "--done"), "valve lash")
do("job", "remind", NAME, "valve lash", "--running", "1 h", "--at", "2026-04-01")
do("job", "remind", NAME, "freshen-up", "--by", "2999-01-01", "--at", "2026-04-01")
rows_due = keeps("job", "due", NAME)["due"]
s.check("nothing is due yet", [r["due"] for r in rows_due] == [False, False], rows_due)
do("job", "heard", NAME, "first meeting", "--running", "59 min", "--at", "2026-05-01")
s.check("a minute before", not any(r["due"] for r in keeps("job", "due")["due"]))
do("job", "heard", NAME, "second meeting", "--running", "1 min", "--at", "2026-05-02")
rows_due = keeps("job", "due")["due"]
s.check("and at the hour", [(r["what"], r["due"]) for r in rows_due] == [("valve lash", True), ("freshen-up", False)], rows_due)
s.check("heard is in the build record", len(keeps("build", "show")["after"]) == 2)
do("job", "remind", NAME, "valve lash", "--done")
s.check("done is done", [r["what"] for r in keeps("job", "due")["due"]] == ["freshen-up"])
s.check("heard of a job without an engine", s.run("job", "heard", "other", "x", "--book", book).code == 2)
s.check("the list says how far each is", [(j["job"], j["stage"]) for j in keeps("job", "list")["jobs"]] == [(NAME, "shipped"), ("other", "wish")])
out = s.path("exported")
do("book", "export", out)
whole = json.load(open(os.path.join(out, "jobs.json"), encoding="utf-8"))
s.check("the export has jobs and prices", len(whole["jobs"]) == 2 and len(whole["jobs"][0]["come"]) == 4 and whole["shop"]["prices"][0]["version"] == 2, whole["shop"])
s.good("book", "verify", "--book", book)
s.finish()
