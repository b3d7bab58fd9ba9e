#!/usr/bin/env python3
"""The shop through the page's interface: engines found and put in the cell, families, backups, remarks that stay when the
page keeps an engine, and the limits of the alarms with each live frame.

Outside source: SQLite's own integrity check for the backups. The growth of lash is tested in tests/engine."""
import json
import os
import sqlite3
import subprocess
import sys
import tempfile
import time

import page_api
from page_api import PROGRAM, Server, check

EXAMPLES = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "examples", "engines")


def command(*arguments):
    return subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, check=True).stdout


def stored(book, name):
    with sqlite3.connect(f"file:{book}?mode=ro", uri=True) as db:
        return db.execute("SELECT yaml FROM engine WHERE name = ?", (name,)).fetchone()[0]


def remarks_stay(server, book, folder):
    path = os.path.join(folder, "remarked.yaml")
    with open(os.path.join(EXAMPLES, "hill-climb-six.yaml")) as file:
        text = file.read()
    count = text.count("#")
    with open(path, "w") as file:
        file.write(text + "# the last word\n")
    command("engine", "add", path, "--book", book)
    engine = server.json("GET", "engines")[1]["engines"][0]
    status, e = server.json("GET", f"engines/{engine['id']}")
    typed, version = e["typed"], e["version"]
    typed["owner"] = "A. Nobody"
    typed["breathing"]["primary_length"] = "781 mm"
    status, kept = server.json("PUT", "engines", {"typed": typed, "version": version})
    after = stored(book, engine["name"])
    check("the page keeps the engine", status == 200 and "781 mm" in after, (status, kept))
    check("every remark is still there", after.count("#") == count + 1 and "# the last word" in after, after)
    lines = [(a, b) for a, b in zip((text + "# the last word\n").split("\n"), after.split("\n")) if a != b]
    check("and only what changed is another line", len(lines) <= 3, lines[:5])
    status, again = server.json("GET", f"engines/{engine['id']}")
    check("what comes back is what was kept", again["typed"] == typed and again["version"] == kept["version"])
    return engine


def engines(server, first):
    status, made = server.json("PUT", "engines", {"typed": {"name": "Second of the shop", "serial": "EW-0002", "owner": "B. Nobody", "bore": "86 mm"}})
    check("a second engine is kept", status == 200, made)
    listed = server.json("GET", "engines")[1]["engines"]
    check("all stand in the list, the newest in the cell", [e["in_cell"] for e in listed] == [True] + [False] * (len(listed) - 1), listed)
    found = server.json("GET", "engines?find=ew-0002")[1]["engines"]
    check("found by its serial, in any letters", [e["name"] for e in found] == ["Second of the shop"], found)
    check("found by a remark", first["name"] in [e["name"] for e in server.json("GET", "engines?find=the%20last%20word")[1]["engines"]])
    check("found by nothing", server.json("GET", "engines?find=zebra")[1]["engines"] == [])
    status, put = server.json("POST", f"engines/{first['id']}/in-cell", {})
    check("another one is put in the cell, and the one before is told", status == 200 and put["before"] == made["id"], put)
    check("the book says so", server.json("GET", "book")[1]["engine_id"] == first["id"])
    pages = [server.json("GET", f"sheet-pages?kind=care&engine={engine}")[1].get("pages") for engine in (first["id"], first["name"].replace(" ", "%20"), made["id"])]
    check("a sheet of the build is that of the engine asked for, by number or name", all(pages) and pages[0] == pages[1] != pages[2], [len(str(p)) for p in pages])
    check("and refused for an engine that is not there", server.json("GET", "sheet-pages?kind=care&engine=9999")[0] == 400)
    check("no engine of that number", server.json("POST", "engines/9999/in-cell", {})[0] == 400)
    server.json("POST", f"engines/{made['id']}/in-cell", {})
    check("and back", server.json("GET", "book")[1]["engine_id"] == made["id"])
    server.json("POST", f"engines/{first['id']}/in-cell", {})


def families(server):
    status, begun = server.json("POST", "build/start", {"build": "first", "family": "hill", "block": "b1", "head": "h1", "rocker": "r1"})
    check("a build begins", status == 200, begun)
    for valve, cold, hot in (("1 inlet", "0.30 mm", "0.36 mm"), ("1 exhaust", "0.40 mm", "0.44 mm")):
        for record in ({"valve": valve, "cold": cold, "stage": "run-in"}, {"valve": valve, "hot": hot, "stage": "run-in"}):
            status, answer = server.json("POST", "build/records", {"kind": "lash", "record": {**record, "at": "2026-05-04T10:00:00Z"}})
            check(f"lash of {valve} is kept", status == 200, answer)
    family = server.json("GET", "families")[1]["families"]
    check("the family stands there", [f["family"] for f in family] == ["hill"], family)
    growth = {g["side"]: g["mean_m"] for g in family[0]["lash_growth"]}
    check("growth is hot less cold", abs(growth["inlet"] - 0.06e-3) < 1e-9 and abs(growth["exhaust"] - 0.04e-3) < 1e-9, growth)
    check("found by its family", server.json("GET", "engines?find=hill")[1]["engines"] != [])


def safe_keeping(server, book):
    status, made = server.json("POST", "backups", {})
    check("a backup is made", status == 200, made)
    kept = server.json("GET", "backups")[1]
    check("it stands in the list", [b["name"] for b in kept["backups"]] == [made["backup"]], kept)
    copy = os.path.join(book + ".backups", made["backup"])
    with sqlite3.connect(copy) as db:
        check("SQLite finds the copy whole", db.execute("PRAGMA integrity_check").fetchone()[0] == "ok")
    check("and so does book verify", json.loads(command("book", "verify", "--book", copy, "--json"))["whole"])
    with sqlite3.connect(f"file:{book}?mode=ro", uri=True) as db:
        check("it is journalled", db.execute("SELECT count(*) FROM change_log WHERE what = 'backup' AND detail = ?", (made["backup"],)).fetchone()[0] == 1)
    again = server.json("POST", "backups", {})[1]["backup"]
    third = server.json("POST", "backups", {})[1]["backup"]
    check("others within the same second get names of their own", len({made["backup"], again, third}) == 3, (again, third))
    status, begun = server.json("POST", "verify", {})
    check("a check of the book is a job", status == 200 and begun["job"] > 0, begun)
    for _ in range(600):
        told = server.json("GET", f"predict/{begun['job']}")[1]
        if told["state"] not in ("waiting", "running"):
            break
        time.sleep(0.1)
    check("the book is whole", told["state"] == "done" and told["answer"]["whole"] and told["answer"]["curves"] > 0, told)


def backup_file(server, book):
    listed = server.json("GET", "backups")[1]["backups"]
    status, data, headers = server.ask("GET", "/api/v1/backups/file?name=" + listed[0]["name"])
    with open(os.path.join(book + ".backups", listed[0]["name"]), "rb") as file:
        check("a backup is handed out to the byte", status == 200 and data == file.read(), status)
    check("as a download of its name", headers["Content-Disposition"] == f'attachment; filename="{listed[0]["name"]}"', headers)
    with open(os.path.join(book + ".backups", "other.txt"), "w") as file:
        file.write("x")
    os.symlink(book, os.path.join(book + ".backups", "link.book"))
    for name in ("", "..%2F" + os.path.basename(book), "%2Fetc%2Fpasswd", ".book", "none.book", "other.txt", "link.book"):
        status, told = server.json("GET", "backups/file?name=" + name)
        check(f"no way out of the folder: {name}", status == 400 and "name:" in told["error"], (status, told))


def calibrations_due(server, book):
    due = {d["kind"]: d for d in server.json("GET", "shop")[1]["calibrations_due"]}
    check("never done is said", all(d["state"] == "never done" and d["last_at"] is None for d in due.values()) and len(due) == 3, due)
    server.json("POST", "calibrations", {"kind": "zero", "read": "0.3 N·m"})
    with sqlite3.connect(book) as db:
        db.execute("INSERT INTO calibration (uid, kind, at, valid_until, value, json) VALUES (printf('00000000-0000-7000-8000-%s', lower(hex(randomblob(6)))), 'calibration', '2020-01-01T08:00:00Z', '2021-01-01T08:00:00Z', 1, '{}')")
        db.execute("INSERT INTO calibration (uid, kind, at, value, json) VALUES (printf('00000000-0000-7000-8000-%s', lower(hex(randomblob(6)))), 'check weight', '2020-01-02T08:00:00Z', 1, '{}')")
    due = {d["kind"]: d for d in server.json("GET", "shop")[1]["calibrations_due"]}
    check("a zero of today is done", due["zero"]["state"] == "done today", due)
    check("a check weight of another day is due", due["check weight"]["state"] == "due" and due["check weight"]["last_at"].startswith("2020-01-02"), due)
    check("a calibration past its date is overdue", due["calibration"]["state"] == "overdue" and due["calibration"]["holds_until"].startswith("2021"), due)
    with sqlite3.connect(book) as db:
        db.execute("INSERT INTO calibration (uid, kind, at, valid_until, value, json) VALUES (printf('00000000-0000-7000-8000-%s', lower(hex(randomblob(6)))), 'calibration', '2020-06-01T08:00:00Z', '2999-01-01T08:00:00Z', 1, '{}')")
    due = {d["kind"]: d for d in server.json("GET", "shop")[1]["calibrations_due"]}
    check("the last one counts, and holds", due["calibration"]["state"] == "holds" and due["calibration"]["holds_until"].startswith("2999"), due)


def demo_of_an_empty_book(folder):
    """The same day as the command runs; kept whole, once, and only where no work stands."""
    made = json.loads(command("demo", "--folder", os.path.join(folder, "peer"), "--json"))
    peer = json.loads(command("pull", "list", "--book", made["book"], "--json"))["pulls"]
    book = os.path.join(folder, "empty.book")
    command("book", "new", "--shop", "Our own shop", "--book", book)
    server = Server(book)
    check("a new book is empty", server.json("GET", "book")[1]["empty"] is True)
    status, answer = server.json("POST", "demo", {})
    check("the day is run", status == 200 and answer["pulls"] == len(peer), (status, answer))
    own = json.loads(command("pull", "list", "--book", book, "--json"))["pulls"]
    check("the same pulls as the command's", [(p["purpose"], p["band_mean_torque_n_m"]) for p in own] == [(p["purpose"], p["band_mean_torque_n_m"]) for p in peer], own[:2])
    about = server.json("GET", "book")[1]
    check("a shop's own name stays", about["settings"]["shop"] == "Our own shop" and about["empty"] is False, about["settings"])
    with sqlite3.connect(f"file:{book}?mode=ro", uri=True) as db:
        check("it is journalled", db.execute("SELECT count(*) FROM change_log WHERE what = 'demo'").fetchone()[0] == 1)
    status, told = server.json("POST", "demo", {})
    check("and not a second time", status == 400 and "empty book" in told["error"], (status, told))
    check("nothing came of that", len(server.json("GET", "pulls")[1]["pulls"]) == len(peer))
    server.stop()
    worked = os.path.join(folder, "worked.book")
    command("book", "new", "--shop", "x", "--book", worked)
    command("book", "note", "a first note", "--book", worked)
    server = Server(worked)
    check("a book with a note holds work", server.json("POST", "demo", {})[0] == 400 and server.json("GET", "pulls")[1]["pulls"] == [])
    server.stop()


def which_book(folder):
    """Two books of one name: what was meant for one is not taken by the other."""
    names = [os.path.join(folder, place, "shop.book") for place in ("one", "two")]
    for name in names:
        command("book", "new", "--shop", "x", "--book", name)
    servers = [Server(name) for name in names]
    identities = [server.json("GET", "book")[1]["identity"] for server in servers]
    check("each book has an identity", len(set(identities)) == 2 and all(len(i) == 32 for i in identities), identities)
    note = {"at": "2026-11-25T14:05:09.120Z", "text": "a drip"}
    check("its own is taken", servers[0].json("POST", "notes?book=" + identities[0], note)[0] == 200)
    status, told = servers[1].json("POST", "notes?book=" + identities[0], note)
    check("another's is not", status == 412 and "another book" in told["error"], (status, told))
    check("and nothing of it stands there", servers[1].json("GET", "notes?day=2026-11-25")[1]["notes"] == [])
    copy = os.path.join(folder, "copy.book")
    command("book", "backup", copy, "--book", names[0])
    third = Server(copy)
    check("a copy is the same book", third.json("GET", "book")[1]["identity"] == identities[0])
    for server in (*servers, third):
        server.stop()


def main():
    with tempfile.TemporaryDirectory(prefix="enginewright-shop-") as folder:
        made = json.loads(command("demo", "--folder", os.path.join(folder, "day"), "--json"))
        server = Server(made["book"])
        says = command("judge", "sweep", "spark", "12", "13", "17", "18", "--no-keep", "--book", made["book"]).splitlines()[0]
        check("a best outside what was tested has no figure", says.startswith("best above 30 deg, outside what was tested"), says)
        first = remarks_stay(server, made["book"], folder)
        engines(server, first)
        families(server)
        safe_keeping(server, made["book"])
        backup_file(server, made["book"])
        calibrations_due(server, made["book"])
        check("it ends in order", server.stop() == 0)
        demo_of_an_empty_book(folder)
        which_book(folder)
    print(f"[  PASSED  ] {page_api.passed} test(s).")
    if page_api.failed:
        print(f"[  FAILED  ] {page_api.failed} test(s).")
    return 1 if page_api.failed else 0


if __name__ == "__main__":
    sys.exit(main())
