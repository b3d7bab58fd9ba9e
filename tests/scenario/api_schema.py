#!/usr/bin/env python3
"""Real answers of the HTTP interface against their published description in docs/api/*.json.

Outside source: JSON Schema, draft 2020-12 (https://json-schema.org/draft/2020-12), checked by python3-jsonschema. Every
description forbids members that it doesn't name, so a field that the program adds, drops or changes shows here; so does a
route of src/serve/service.h that nobody asks. A book with a demo day, a build record, notes, attachments, a trip, a fit and a
live session answers.
"""
import atexit
import glob
import http.client
import json
import os
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time

import jsonschema

from door import let_in

PROGRAM = sys.argv[1]
ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
DESCRIBED = os.path.join(ROOT, "docs", "api")
passed = failed = 0
FOLDER = tempfile.mkdtemp(prefix="enginewright-schema-")
atexit.register(shutil.rmtree, FOLDER, ignore_errors=True)
os.environ["XDG_CONFIG_HOME"] = os.path.join(FOLDER, "machine")
RECORD = os.environ.get("EW_RECORD_ANSWERS")  # a folder: answers are kept there, to be looked at

# Routes that answer with bytes of another type, by what this test asks of them.
BYTES = {"GET report", "GET logo", "GET sheet", "GET attachments/{id}", "GET backups/file"}


def check(says, good, found=""):
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print(f"FAILED: {says} {found}")


def described():
    """By name: the description, with what it refers to."""
    all_of = {}
    for path in glob.glob(os.path.join(DESCRIBED, "*.json")):
        with open(path, encoding="utf-8") as file:
            all_of[os.path.basename(path)] = json.load(file)
    return all_of


SCHEMAS = described()
STORE = {schema["$id"]: schema for schema in SCHEMAS.values()}


def validator(name):
    schema = SCHEMAS[name + ".json"]
    return jsonschema.Draft202012Validator(schema, resolver=jsonschema.RefResolver(schema["$id"], schema, store=STORE))


def closed(schema, where):
    """Every object names its members; where keys are open (figures by name), it says what they may be."""
    if isinstance(schema, dict):
        if "properties" in schema and isinstance(schema["properties"], dict):
            open_to = schema.get("additionalProperties", True)
            check(f"{where} is closed", open_to is False or isinstance(open_to, dict) and open_to.get("description"))
        for key, value in schema.items():
            closed(value, f"{where}/{key}")
    elif isinstance(schema, list):
        for index, value in enumerate(schema):
            closed(value, f"{where}/{index}")


class Server:
    def __init__(self, book, *options):
        self.book = book
        self.process = subprocess.Popen([PROGRAM, "serve", "--book", book, "--port", "0", "--json", *options],
                                        stdout=subprocess.PIPE, text=True)
        self.said = json.loads(self.process.stdout.readline())
        self.cookie = let_in(self.said)
        self.asked = set()

    def ask(self, method, path, body=None, kind="application/json"):
        connection = http.client.HTTPConnection("127.0.0.1", self.said["port"], timeout=300)
        headers = {"Cookie": self.cookie}
        if body is not None:
            headers["Content-Type"] = kind
        connection.request(method, "/api/v1/" + path, body=body, headers=headers)
        answer = connection.getresponse()
        data = answer.read()
        connection.close()
        route = re.sub(r"/\d+", "/{id}", path.split("?")[0])
        self.asked.add(f"{method} {route}")
        return answer.status, data

    def good(self, method, path, schema, value=None, body=None, kind=None):
        """Asked, done, and what the description says. The answer."""
        if body is None and value is not None:
            body = json.dumps(value)
        status, data = self.ask(method, path, body, kind or "application/json")
        check(f"{method} {path} is done", status == 200, (status, data[:300]))
        answer = json.loads(data)
        matches(f"{method} {path}", schema, answer)
        return answer

    def refused(self, method, path, value, status):
        got, data = self.ask(method, path, None if value is None else json.dumps(value))
        check(f"{method} {path} is refused with {status}", got == status, (got, data[:200]))
        matches(f"{method} {path}, refused", "refusal", json.loads(data))

    def stop(self):
        self.process.send_signal(signal.SIGTERM)
        code = self.process.wait(timeout=60)
        self.process.stdout.close()
        return code


def matches(says, schema, answer):
    if RECORD:
        name = f"{schema}--{passed + failed:05d}"
        with open(os.path.join(RECORD, name + ".json"), "w", encoding="utf-8") as file:
            json.dump(answer, file, indent=1)
        if schema + ".json" not in SCHEMAS:
            print("not described yet:", schema)
            return
    problems = sorted(validator(schema).iter_errors(answer), key=lambda e: list(map(str, e.absolute_path)))
    check(f"{says} is as docs/api/{schema}.json says", not problems,
          [f"{'/'.join(map(str, p.absolute_path))}: {p.message[:160]}" for p in problems[:4]])


def book_pages(s):
    book = s.good("GET", "book", "book")
    s.good("GET", "words", "words")
    s.good("GET", "method", "method")
    s.good("GET", "engine-fields", "engine-fields")
    s.good("GET", "setup?units=us", "setup")
    s.good("GET", "shop", "shop")
    s.good("GET", "sending", "sending")
    s.good("GET", "ledger", "ledger")
    s.good("GET", "families", "families")
    s.good("GET", "engines", "engines")
    s.good("GET", "engines?find=six", "engines")
    s.good("GET", "backups", "backups")
    s.good("GET", "devices", "devices")
    s.good("GET", "live", "live")
    s.good("GET", "day", "day")
    s.good("GET", "day?units=us", "day")
    s.good("GET", "pulls", "pulls")
    s.good("GET", "trips", "trips")
    s.good("GET", "notes", "notes")
    s.good("GET", "attachments?of=engine", "attachments") if book["has_engine"] else None
    s.good("GET", "build", "build")
    return book


def pull_pages(s, pulls):
    last, sweep = pulls[-1]["id"], next(p for p in reversed(pulls) if p["purpose"] == "pull")["id"]
    s.good("GET", f"curves?pulls={pulls[0]['id']},{last}", "curves")
    s.good("GET", f"curves?pulls={last}&raw=no", "curves")
    s.good("GET", f"pulls/{sweep}/explain?speed_rpm=5000", "explain")
    s.good("GET", f"pulls/{sweep}/origins", "origins")
    s.good("GET", f"pulls/{sweep}/step-up", "step-up")
    s.good("GET", f"pulls/{sweep}/channels?channels=speed,torque,lambda", "channels")
    s.good("GET", f"trips?pull={sweep}", "trips")
    s.good("POST", f"pulls/{last}/discard", "discarded", {"reason": "a spark lead was off"})
    s.good("GET", "pulls", "pulls")
    s.good("POST", f"pulls/{last}/discard", "discarded", {"take_back": True})
    s.good("GET", f"pulls/{last}/history", "history")
    s.good("POST", f"pulls/{last}/amend", "amended", {"reason": "the barometer was misread", "set": {"pressure": "991 hPa"}})
    s.good("GET", f"pulls/{last}/history", "history")
    s.good("POST", f"pulls/{last}/amend", "amended", {"reason": "it was right", "undo": True})
    s.good("POST", "answers/again", "again", {})
    with sqlite3.connect(s.book, timeout=20) as rows:  # one that waits for an answer
        rows.execute("INSERT INTO hold (pull_id, finding, at, uid, cell, writer, day) SELECT id, '{\"id\":\"test.odd\",\"arguments\":{}}', at, "
                     "'00000000-0000-7000-8000-000000000001', cell, writer, day FROM pull WHERE id = ?", (last,))
    s.good("GET", "pulls", "pulls")
    s.good("POST", f"pulls/{last}/right", "right", {"reason": "the engine was run so"})
    s.good("POST", "found", "found", {"of": "pull", "ids": [last], "text": "plug three is wet", "who": "A. B."})
    s.good("GET", f"trips?pull={last}", "trips")
    return sweep


def questions(s, pulls, sweep):
    like = [p["id"] for p in pulls if p["purpose"] == "pull" and not p["discarded"]]
    asked = {"a": like[-4:-2], "b": like[-2:], "margin": "1 %", "keep": True}
    s.good("POST", "compare", "compare", asked)
    s.good("GET", "answers", "answers")
    s.good("POST", "compare", "compare", {"a": [like[0]], "b": [like[-1]], "keep": False})
    s.good("GET", "shop", "shop")
    by_spark = sorted({p["setup"].get("spark"): p["id"] for p in pulls if p["setup"].get("spark")}.items())
    if len(by_spark) >= 3:
        s.good("POST", "sweep", "sweep", {"setting": "spark", "pulls": [i for _, i in by_spark], "keep": False})
    method = s.good("GET", "method", "method")
    typed = dict(method["typed"], half_width="200 rpm")
    s.good("POST", "method/try", "method-try", {"a": [like[-2]], "b": [like[-1]], "typed": typed})
    s.good("POST", "method/try", "method-try", {"a": [sweep], "typed": typed})
    kept = s.good("PUT", "method", "method-put", {"typed": typed, "version": method["version"]})
    s.good("PUT", "method", "method-put", {"typed": method["typed"], "version": kept["version"]})
    s.refused("PUT", "method", {"typed": method["typed"], "version": "0"}, 409)
    s.refused("POST", "compare", {"a": [999], "b": [1]}, 400)


def shop_pages(s):
    s.good("POST", "settings", "done", {"shop": "Weir Lane", "units": "us"})
    s.good("POST", "settings", "done", {"units": "si"})
    s.good("POST", "calibrations", "calibration", {"kind": "zero", "read": "0.3 N·m"})
    s.good("POST", "calibrations", "calibration", {"kind": "zero", "read": "0.3 N·m", "left": "0 N·m"})
    s.refused("POST", "calibrations", {"kind": "zero", "read": "0.3 N·m", "left": "0 kg"}, 400)
    s.good("POST", "calibrations", "calibration", {"kind": "check weight", "read": "120.2 N·m", "expected": "120 N·m", "note": "ten kilograms"})
    s.good("GET", "shop", "shop")
    hung = {"arm": "500 mm", "weights": [{"mass": f"{m} kg", "read": f"{m * 4.9} N·m"} for m in (0, 10, 20, 10, 0)]}
    tried = s.good("POST", "calibrations/weights", "load-cell", hung)
    check("tried, it is not kept", not tried["kept"] and all(c["kind"] != "calibration" for c in s.good("GET", "shop", "shop")["calibrations"]))
    kept = s.good("POST", "calibrations/weights", "load-cell", {**hung, "keep": "yes", "note": "as found"})
    check("kept, with the line that was tried", kept["kept"] and kept["gain"] == tried["gain"] and kept["held"] == tried["held"], (tried, kept))
    for wrong in ({"arm": "500 kg"}, {"arm": "9 m"}, {"gravity": "12"}, {"valid": "-3 d"}, {"valid": "nan d"}, {"weights": hung["weights"][:1]}, {"weights": []}, {"weights": "none"},
                  {"weights": [{"mass": "nan kg", "read": "1 N·m"}] * 3}, {"weights": [{"mass": "-10 kg", "read": "1 N·m"}] * 3}, {"weights": [{"read": "1 N·m"}] * 3}, {"weights": [[]] * 3}, {"note": "x" * 500}):
        s.refused("POST", "calibrations/weights", {**hung, **wrong, "keep": "yes"}, 400)
    s.good("POST", "backups", "backup", {})
    name = s.good("GET", "backups", "backups")["backups"][0]["name"]
    check("a copy is bytes", s.ask("GET", "backups/file?name=" + name)[0] == 200)
    for long in ("verify", "check"):
        job = s.good("POST", long, "job-begun", {})["job"]
        ended(s, job, "job")
    s.good("GET", "cell", "cell")
    s.good("PUT", "cell", "done", {"typed": {"elevation": "120 m"}})
    s.refused("PUT", "cell", {"typed": {"arm": "4 km"}}, 400)
    s.good("POST", "cell/right", "cell-right", {"how": "swung on wires", "who": "A. Weir"})
    s.good("POST", "cell/right", "cell-right", {"take_back": True})
    s.refused("POST", "cell/right", {"how": ""}, 400)
    s.refused("POST", "cell/amend", {"typed": {"arm": "400 mm"}}, 400)
    ended(s, s.good("POST", "cell/amend", "job-begun", {"typed": {"arm": "400 mm"}, "reason": "measured again"})["job"], "job")
    recording = s.good("GET", "pulls", "pulls")["pulls"][0]["recording_id"]
    s.good("POST", "recorders", "recorder-kept", {"recording": str(recording), "name": "the first logger"})
    s.refused("POST", "recorders", {"recording": str(recording), "name": "the first logger"}, 400)
    check("it is listed", [r["name"] for r in s.good("GET", "recorders", "recorders")["recorders"]] == ["the first logger"])
    s.refused("POST", "recorders/withdraw", {"name": "the first logger"}, 400)
    s.refused("POST", "recorders/withdraw", {"name": "another", "reason": "never there"}, 400)
    s.good("POST", "recorders/withdraw", "done", {"name": "the first logger", "reason": "its clock was wrong"})
    check("withdrawn, and still listed", s.good("GET", "recorders", "recorders")["recorders"][0]["withdrawn"] == "its clock was wrong")


# One dot, as a PNG picture
LOGO = bytes.fromhex("89504e470d0a1a0a0000000d49484452000000010000000108060000001f15c4890000000d49444154789c6364f8cf500f00038601805a347d6b0000000049454e44ae426082")


def things_kept(s, pull):
    day = s.good("GET", "day", "day")["day"]
    note = s.good("POST", "notes", "note-added", {"at": day + "T14:05:09.120Z", "text": "smells of fuel"})
    s.good("GET", "notes?day=" + day, "notes")
    s.good("POST", f"notes/{note['id']}/withdraw", "done", {})
    s.good("GET", "notes?day=" + day, "notes")
    s.good("POST", f"notes/{note['id']}/withdraw", "done", {"put_back": True})
    pinned = s.good("POST", f"pulls/{pull}/notes", "note-added", {"speed": "4000 rpm", "text": "flat here", "who": "the fitter"})
    check("the same note again adds nothing", s.good("POST", f"pulls/{pull}/notes", "note-added", {"speed": "4000 rpm", "text": "flat here"}) == {"id": pinned["id"], "added": False})
    s.good("GET", f"curve-notes?pulls={pull}", "curve-notes")
    s.good("POST", f"curve-notes/{pinned['id']}/withdraw", "done", {"why": "the weather"})
    s.good("GET", f"curve-notes?pulls={pull}", "curve-notes")
    s.good("GET", f"pulls/{pull}/history", "history")
    s.good("POST", "logo", "done", body=LOGO, kind="image/png")
    check("its bytes come back", s.ask("GET", "logo") == (200, LOGO))
    s.good("POST", "settings", "done", {"logo": ""})
    check("taken away", s.ask("GET", "logo")[0] == 404)
    added = s.good("POST", f"attachments?name=plan.txt&to=pull:{pull}&note=bolts", "attachment-added", body=b"3 turns\n", kind="application/octet-stream")
    s.good("GET", f"attachments?of=pull:{pull}", "attachments")
    check("its bytes come back", s.ask("GET", f"attachments/{added['id']}") == (200, b"3 turns\n"))
    s.good("POST", f"attachments/{added['id']}/withdraw", "done", {"reason": "the wrong one"})
    s.good("GET", f"attachments?of=pull:{pull}&all=yes", "attachments")
    s.good("POST", f"attachments/{added['id']}/withdraw", "done", {"put_back": True})
    s.good("GET", f"handover", "handover")
    s.good("GET", "sheet-pages?kind=day", "sheet-pages")
    check("a report is bytes", s.ask("GET", "report")[1][:5] == b"%PDF-")
    check("a sheet is bytes", s.ask("GET", "sheet?kind=report&format=pdf")[1][:5] == b"%PDF-")


def customer_jobs(s):
    s.good("GET", "customer-jobs", "customer-jobs")
    table = os.path.join(ROOT, "examples", "prices", "shop.csv")
    s.refused("GET", "customer-jobs/prices", None, 400)
    with open(table, encoding="utf-8", newline="") as file:
        text = file.read()
    loose = text.replace(",currency", "").replace(",EUR", "")
    for bad in ({}, {"table": ""}, {"table": "code,name,price\na,Alpha,dear\n", "currency": "EUR"}, {"table": loose}, {"table": text, "currency": "GBP"}):
        s.refused("POST", "customer-jobs/prices", {"name": "shop.csv", **bad}, 400)
    check("a table without a currency, and one beside it", s.good("POST", "customer-jobs/prices", "customer-job-kept", {"table": loose, "currency": "EUR"})["added"])
    check("the same again adds nothing", s.good("POST", "customer-jobs/prices", "customer-job-kept", {"table": text})["added"] is False)
    s.refused("POST", "customer-jobs/prices", {"name": "shop.csv", "table": text.replace("14.75", "1475")}, 422)
    loaded = s.ask("GET", "customer-jobs/prices")[1]
    check("it comes back as the command line has it", loaded.decode() == subprocess.run([PROGRAM, "price", "export", "--book", s.book], check=True, capture_output=True, text=True).stdout, loaded)
    job = s.good("POST", "customer-jobs", "customer-job-new", {"name": "summer six", "wish": {"customer": "B. Hollow", "wish": "more", "power": "195 kW"}})["job"]
    s.refused("POST", "customer-jobs", {"name": "summer six", "wish": {"customer": "B. Hollow", "wish": "more"}}, 400)
    s.refused("POST", "customer-jobs", {"name": "other"}, 400)
    lines = [{"code": "pistons", "quantity": "6"}, {"code": "assembly", "quantity": "8"}]

    def keep(kind, record, **more):
        return s.good("POST", f"customer-jobs/{job}/records", "customer-job-kept", {"kind": kind, "record": record, **more})

    keep("quote", {"until": "2999-01-01"}, lines=lines)
    check("the same quote twice adds nothing", keep("quote", {"until": "2999-01-01"}, lines=lines)["added"] is False)
    s.refused("POST", f"customer-jobs/{job}/records", {"kind": "order", "record": {}}, 422)
    for kind, record, more in (("sent", {"to": "by post"}, {}), ("agreed", {"by": "B. Hollow"}, {}), ("order", {}, {}),
                               ("come", {"code": "pistons", "batch": "A"}, {"lines": [{"code": "pistons", "quantity": "2"}]}),
                               ("hours", {"code": "assembly", "spent": "3 h"}, {}), ("reminder", {"what": "oil", "running": "10 h"}, {}),
                               ("change", {"what": "more", "by": "B. Hollow"}, {"lines": [{"code": "oil", "quantity": "4.5"}]}),
                               ("engine", {"engine": s.good("GET", "customer-jobs/1", "customer-job")["engine"] or s.good("GET", "book", "book")["engine"]}, {}),
                               ("after", {"what": "ran well", "running": "2 h"}, {}), ("end", {"how": "shipped"}, {})):
        keep(kind, record, **more)
    for bad in ({"kind": "prices", "record": {}}, {"kind": "hours"}, {"kind": "hours", "record": {"code": "assembly", "spent": "80 h"}},
                {"kind": "quote", "record": {}, "lines": "all"}, {"kind": "quote", "record": {}, "lines": [{"code": "a\nb", "quantity": "1"}]},
                {"kind": "change", "record": {"what": "x", "by": "y"}}):
        s.refused("POST", f"customer-jobs/{job}/records", bad, 400)
    whole = s.good("GET", f"customer-jobs/{job}", "customer-job")
    s.refused("GET", "customer-jobs/999", None, 400)
    s.good("GET", "customer-jobs", "customer-jobs")
    s.refused("POST", f"customer-jobs/{whole['records']['agreed'][0]['id']}/withdraw", {"why": "x"}, 400)
    s.good("POST", f"customer-jobs/{whole['records']['hours'][0]['id']}/withdraw", "done", {"why": "of another job"})


def build_pages(s):
    s.good("POST", "build/start", "build-started", {"build": "first", "family": "six", "block": "b1", "head": "h1", "rocker": "r1"})
    for cold, hot in (("0.30 mm", "0.36 mm"),):
        for record in ({"valve": "1 inlet", "cold": cold, "stage": "run-in"}, {"valve": "1 inlet", "hot": hot, "stage": "run-in"}):
            s.good("POST", "build/records", "build-record", {"kind": "lash", "record": {**record, "at": "2026-05-04T10:00:00Z"}})
    after = {"what": "ran well", "running": "2 h", "runs": "3", "at": "2026-05-05T10:00:00Z"}
    s.good("POST", "build/records", "build-record", {"kind": "after", "record": after})
    build = s.good("GET", "build", "build")
    line = build["measurements"][0]
    value = line["low_shown"] or "1 mm"
    s.good("POST", "build/records", "build-record",
           {"kind": "measured", "record": {"item": line["item"], "position": line["position"], "readings": [value], "at": "2026-05-04T09:00:00Z"}, "sure": "yes"})
    step = build["steps"][0]
    s.good("POST", "build/records", "build-record",
           {"kind": "done", "record": {"list": step["list"], "step": step["step"], "state": "done", "at": "2026-05-04T09:00:00Z"}})
    build = s.good("GET", "build?units=us", "build")
    s.good("POST", f"build/records/{build['readings'][0]['id']}/withdraw", "done", {"reason": "the wrong cylinder"})
    s.refused("POST", "build/records", {"kind": "lash", "record": {"valve": "1 inlet", "cold": "3.1 mm", "stage": "run-in", "at": "2026-05-04T11:00:00Z"}}, 422)
    again = {"item": line["item"], "position": line["position"], "readings": [value], "at": "2026-05-04T12:00:00Z"}
    kept = s.good("POST", "build/records", "build-record", {"kind": "measured", "record": again, "first": "yes"})
    check("the place in its one spelling", kept == {"added": True, "position": line["position"]}, kept)
    s.refused("POST", "build/records", {"kind": "measured", "record": {**again, "at": "2026-05-04T13:00:00Z"}, "first": "yes"}, 422)
    check("the very same again adds nothing and asks nothing", not s.good("POST", "build/records", "build-record", {"kind": "measured", "record": again, "first": "yes"})["added"])
    for kind, record in (("agreed", {"what": "hill climb", "power": "195 kW", "limit": "7000 rpm"}), ("torques", {"fastener": "main caps", "torque": "95 N·m", "lubricant": "oil"}),
                         ("parts", {"part": "valve springs", "batch": "S7", "life": "12 h", "life_above": "600 s", "life_speed": "6000 rpm"}), ("seen", {"what": "plug", "says": "specks", "grade": "stop", "position": "4"})):
        s.good("POST", "build/records", "build-record", {"kind": kind, "record": {**record, "at": "2026-05-06T10:00:00Z"}})
    s.refused("POST", "build/records", {"kind": "facts", "record": {"block": "iron", "at": "2026-05-06T10:00:00Z"}}, 400)
    kinds = {r["kind"]: r for r in s.good("GET", "build", "build")["readings"]}
    check("each kind is listed with its details", {d["name"] for d in kinds["parts"]["details"]} == {"batch", "life", "life_above", "life_speed"} and kinds["torques"]["shown"], kinds)
    s.good("GET", "build/due", "build-due")
    s.refused("GET", "build/pairing", None, 400)
    s.refused("GET", "build/pairing?clearance=4%20kg", None, 400)
    for n in range(1, 7):
        s.good("POST", "build/records", "build-record", {"kind": "measured", "record": {"item": "cylinder bore", "position": f"{n} top thrust", "readings": [f"85.4{n} mm"], "at": f"2026-05-06T11:0{n}:00Z"}})
        s.good("POST", "build/records", "build-record", {"kind": "measured", "record": {"item": "piston", "position": str(n), "readings": [f"85.3{n} mm"], "at": f"2026-05-06T11:0{n}:00Z"}})
    s.good("GET", "build/pairing?clearance=0.09%20mm", "build-pairing")
    s.good("GET", "families", "families")
    s.good("GET", "handover", "handover")


def engine_pages(s):
    listed = s.good("GET", "engines", "engines")["engines"]
    engine = s.good("GET", f"engines/{listed[0]['id']}", "engine")
    s.good("POST", "engine-check", "engine-check", {"typed": engine["typed"]})
    s.good("PUT", "engines", "engine-put", {"typed": engine["typed"], "version": engine["version"]})
    made = s.good("PUT", "engines", "engine-put", {"typed": {"name": "Second", "bore": "86 mm"}})
    s.good("POST", "engine-check?units=us", "engine-check", {"typed": {"name": "Second", "bore": "86 mm"}})
    s.good("POST", f"engines/{engine['id']}/in-cell", "engine-in-cell", {})
    s.good("GET", f"engines/{made['id']}", "engine")
    with open(os.path.join(ROOT, "examples", "engines", sorted(os.listdir(os.path.join(ROOT, "examples", "engines")))[0]), encoding="utf-8") as file:
        file.read()
    return engine


def ended(s, job, schema):
    for _ in range(3000):
        state = s.good("GET", f"predict/{job}", schema)
        if state["state"] not in ("waiting", "running"):
            return state
        time.sleep(0.1)
    check(f"job {job} ends", False, state)
    return state


def predictions(s, typed, engine_id, pulls):
    s.good("POST", "predict/sliders", "sliders", {"typed": typed, "engine": engine_id})
    quick = {"page": "schema", "typed": typed, "from_speed": 3000, "to_speed": 5000, "speed_step": 1000, "cell": "40 mm"}
    curve = ended(s, s.good("POST", "predict", "job-begun", {**quick, "against": {"typed": typed, "changes": ["compression=+0.5"]}, "band_low": 3000, "band_high": 5000})["job"], "job")
    check("a curve is predicted", curve["state"] == "done", curve)
    vary = ended(s, s.good("POST", "predict/vary", "job-begun", {**quick, "variants": ["compression=+0.5"]})["job"], "job")
    check("a variant is run", vary["state"] == "done", vary)
    inside = ended(s, s.good("POST", "predict/inside", "job-begun", {**quick, "to_speed": 3000})["job"], "job")
    check("one cylinder over one cycle is told", inside["state"] == "done" and len(inside["answer"]["cylinder_pa"]) == 720, inside["state"])
    ratio = ended(s, s.good("POST", "predict/compression", "job-begun", quick)["job"], "job")
    check("compression both ways is told", ratio["state"] == "done" and len(ratio["answer"]["compression"]["cam_wants"]) == 2, ratio)
    search = ended(s, s.good("POST", "predict/search", "job-begun", {"page": "schema", "typed": typed, "first": 8, "rounds": 0, "question": {
        "change": [{"field": "runner_length", "from": "200 mm", "to": "400 mm"}], "want": [{"figure": "torque"}], "speeds": ["4000 rpm"], "spark": "24 deg"}})["job"], "job")
    check("a search is answered", search["state"] == "done" and search["answer"]["front"], search)
    fit = ended(s, s.good("POST", "predict/fit", "job-begun", {**quick, "pulls": pulls, "knobs": ["flow"], "points": 4})["job"], "job")
    check("a fit is made", fit["state"] == "done", fit)
    s.good("POST", "predict/keep", "predict-kept", {"engine": engine_id, "tune": fit["answer"]["tune"]})
    s.good("POST", "predict/sliders", "sliders", {"typed": typed, "engine": engine_id})
    s.good("POST", "predict/keep", "predict-kept", {"engine": engine_id})
    job = s.good("POST", "predict", "job-begun", {**quick, "cell": "10 mm", "uncertainty": True})["job"]
    s.good("POST", f"predict/{job}/cancel", "done", {})
    ended(s, job, "job")


def live_pages(s):
    s.good("GET", "live/source-kinds", "source-kinds")
    s.good("POST", "live/source", "source-put", {"kind": "tcp", "typed": {"host": "192.0.2.7", "port": "5000"}})
    s.good("POST", "live/source", "source-put", {"kind": "can", "typed": {"interface": "can 0"}, "rows": [{"name": "RPM", "id": "99999"}]})
    s.good("POST", "live/source-map", "source-map", {"kind": "mqtt", "text": "topics:\n  - {name: RPM, unit: rpm, topic: cell/rpm}\n"})
    s.good("POST", "live/start", "live-started", {"source": "practice:"})
    for _ in range(300):
        state = s.good("GET", "live", "live")
        if state["running"] and state["news"] and state.get("alarms"):
            break
        time.sleep(0.1)
    s.good("POST", "live/control", "done", {"line": "mark smoke"})
    s.good("POST", "live/control", "done", {"line": "shut down"})
    s.good("GET", "live", "live")
    s.good("POST", "live/stop", "done", {})
    for _ in range(300):
        if not s.good("GET", "live", "live")["running"]:
            break
        time.sleep(0.1)


def doors(s):
    code = s.good("POST", "devices/code", "device-code", {"rights": "write"})["code"]
    s.good("POST", "pair", "paired", {"code": code, "name": "tablet"})
    device = s.good("GET", "devices", "devices")["devices"][0]["id"]
    s.good("POST", f"devices/{device}/revoke", "done", {})
    s.good("POST", "open", "done", {"key": s.said["link"].split("key=")[1]})
    s.refused("POST", "pair", {"code": "00000000"}, 400)


def command_line(book, pulls, sweep):
    """What the commands print with --json where it is the same answer."""
    def said(schema, *words):
        done = subprocess.run([PROGRAM, *words, "--book", book, "--json"], capture_output=True, text=True, check=False)
        check(f"{words[:2]} answers", done.returncode in (0, 1) and done.stdout, done.stderr[:300])
        matches(" ".join(words), schema, json.loads(done.stdout))
    like = [str(p["id"]) for p in pulls if p["purpose"] == "pull" and not p["discarded"]]
    by_spark = sorted({p["setup"].get("spark"): str(p["id"]) for p in pulls if p["setup"].get("spark")}.items())
    said("compare", "compare", like[0], like[-1])
    said("step-up", "judge", "step-up", str(sweep))
    note = os.path.join(FOLDER, "plug.txt")
    with open(note, "w", encoding="utf-8") as file:
        file.write("grey")
    said("attachment-added", "book", "attach", note, "--to", f"pull:{like[0]}")
    said("attachments", "book", "attached")
    said("discarded", "pull", "discard", like[0], "--reason", "the throttle stuck")
    said("discarded", "pull", "discard", like[0], "--take-back")
    if len(by_spark) >= 3:
        said("sweep", "judge", "sweep", "spark", *[i for _, i in by_spark])
    for number in ([], ["1"]):
        behind = json.loads(subprocess.run([PROGRAM, "judge", "explain", *number, "--book", book, "--json"], capture_output=True, text=True, check=True).stdout)
        matches("judge explain", "answers", {"day": "2026-06-12", "answers": [behind]})


def every_route(asked):
    with open(os.path.join(ROOT, "src", "serve", "service.h"), encoding="utf-8") as file:
        routes = re.findall(r"X\((GET|POST|PUT), \"/api/v1/([^\"]+)\"", file.read())
    check("the routes are read", len(routes) > 60, len(routes))
    for verb, path in routes:
        check(f"{verb} {path} is asked", f"{verb} {path}" in asked)


def main():
    for name, schema in sorted(SCHEMAS.items()):
        jsonschema.Draft202012Validator.check_schema(schema)
        closed(schema, name)
        check(f"{name} is called what it is", schema["$id"].endswith("/" + name) and schema["title"] and schema["description"], schema["$id"])
    s = Server(os.path.join(FOLDER, "shop.book"), "--lan")
    try:
        book_pages(s)
        with open(os.path.join(FOLDER, "two.csv"), "w", encoding="utf-8") as file:
            file.write("Time [s],RPM,Torque [N·m]\n0,1000,10\n1,1001,11\n")
        s.good("POST", "demo", "demo", {})
        book = book_pages(s)
        pulls = s.good("GET", f"pulls?engine={book['engine_id']}", "pulls")["pulls"]
        sweep = pull_pages(s, pulls)
        questions(s, pulls, sweep)
        things_kept(s, sweep)
        build_pages(s)
        customer_jobs(s)
        engine = engine_pages(s)
        predictions(s, engine["typed"], engine["id"], [sweep])
        with open(os.path.join(FOLDER, "two.csv"), "rb") as file:
            s.good("POST", "recordings?name=two.csv", "recording-added", body=file.read(), kind="application/octet-stream")
        shop_pages(s)
        live_pages(s)
        s.good("GET", "trips?open=yes", "trips")
        doors(s)
        book_pages(s)
        every_route(s.asked)
    finally:
        check("it ends in order", s.stop() == 0)
    command_line(os.path.join(FOLDER, "shop.book"), pulls, sweep)
    with open(os.path.join(DESCRIBED, "meson.build"), encoding="utf-8") as file:
        named = set(re.findall(r"'([\w-]+\.json)'", file.read()))
    check("docs/api/meson.build names every description", named == set(SCHEMAS), named ^ set(SCHEMAS))
    print(f"[  {'PASSED' if not failed else 'FAILED'}  ] {passed} test(s).")
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
