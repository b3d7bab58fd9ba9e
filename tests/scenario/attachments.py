#!/usr/bin/env python3
"""Photos, files and notes in the book: kept as they came, taken back and put back, checked, exported; and hostile
files, which the page's server hands out inert.

Outside sources: PNG (ISO/IEC 15948) and JPEG (ISO/IEC 10918-1) as tests/scenario/pictures.py writes them; Exif (CIPA
DC-008); RFC 9110 (Content-Type, Content-Disposition), the Fetch standard (nosniff), CSP level 3 (sandbox); SHA-256 by
Python's hashlib.
"""
import base64
import hashlib
import http.client
import json
import os
import re
import sqlite3
import subprocess
import urllib.parse

import pictures
import recordings
from door import let_in
from harness import Scenario

s = Scenario()
book = s.path("shop.book")
s.write("engine.yaml", recordings.ENGINE)
s.good("engine", "add", s.path("engine.yaml"), "--book", book)
s.good("pull", "add", s.write("run.csv", recordings.sweep().text()), "--book", book)
s.good("build", "start", "--build", "first", "--book", book)


def attach(path, *more):
    return s.good("book", "attach", path, *more, "--book", book, "--json").json["id"]


def attached(*more):
    return s.good("book", "attached", *more, "--book", book, "--json").json["attachments"]


# ---- whom they belong to
PNG, JPEG = pictures.png(64, 48, b"made in a garage at 51.5N"), pictures.jpeg(b"owner: somebody, 51.5N 0.1W", orientation=6)
photo = s.write("plug-4.png", PNG)
ids = {to: attach(photo, "--to", to, "--note", "plug of cylinder 4")
       for to in ("pull:1", "day", "day:2026-11-25", "build", "build:main clearance", "engine")}
s.check("one for each owner", len(set(ids.values())) == len(ids), ids)
s.check("the same bytes to the same owner are kept once", attach(photo, "--to", "pull:1") == ids["pull:1"])
rows = {row["id"]: row for row in attached()}
s.check("with owner, place, type, digest, note and who",
        rows[ids["build:main clearance"]] | {"at": 0} == {
            "id": ids["build:main clearance"], "belongs": "build", "owner_id": 1, "place": "main clearance", "name": "plug-4.png",
            "media": "image/png", "picture": True, "bytes": len(PNG), "sha256": hashlib.sha256(PNG).hexdigest(), "note": "plug of cylinder 4",
            "at": 0, "taken_at": None, "who": "tester", "taken_back": None}, rows)
s.check("of one owner", [r["id"] for r in attached("--of", "pull:1")] == [ids["pull:1"]])
s.check("of a build with all its places", {r["id"] for r in attached("--of", "build")} == {ids["build"], ids["build:main clearance"]})
for to, words in (("pull:99", ["no pull 99"]), ("pull:x", ["pull:x", "pull:12"]), ("day:yesterday", ["yesterday", "2026-11-25"]),
                  ("day:2026-13-41", ["2026-13-41"]), ("engine:none", ["engine 'none'"]), ("build:wing", ["build:wing", "build show"]),
                  ("customer", ["customer", "pull:12"])):
    s.refused(f"to {to}", s.run("book", "attach", photo, "--to", to, "--book", book), *words)
s.refused("an empty file", s.run("book", "attach", s.write("none.txt", b""), "--book", book), "empty")
with open(s.path("big.bin"), "wb") as file:
    file.truncate((64 << 20) + 1)
s.refused("over 64 MB", s.run("book", "attach", s.path("big.bin"), "--book", book), "64 MB")
s.refused("no file", s.run("book", "attach", s.path("not-there.jpg"), "--book", book), "not-there.jpg")
s.refused("a folder", s.run("book", "attach", s.folder, "--book", book))
s.check("nothing is half stored", len(attached("--all")) == len(ids))

# ---- taken back, put back, fetched
s.good("book", "detach", ids["day"], "--reason", "another engine's plug", "--book", book)
s.check("what is taken back stands no longer", ids["day"] not in {r["id"] for r in attached()})
gone = [r for r in attached("--all") if r["id"] == ids["day"]]
s.check("and is kept with its reason", gone and gone[0]["taken_back"] == "another engine's plug", gone)
s.good("build", "fetch", ids["day"], "--out", s.path("back.png"), "--book", book)
with open(s.path("back.png"), "rb") as file:
    s.check("with every byte", file.read() == PNG)
s.good("book", "detach", ids["day"], "--put-back", "--book", book)
s.check("it can be put back", ids["day"] in {r["id"] for r in attached()})
s.refused("without a reason", s.run("book", "detach", ids["day"], "--book", book), "--reason")
s.refused("with both", s.run("book", "detach", ids["day"], "--reason", "x", "--put-back", "--book", book), "--put-back")
s.refused("an unknown one", s.run("book", "detach", "999", "--reason", "x", "--book", book), "no attachment 999")
s.refused("no number", s.run("book", "detach", "one", "--reason", "x", "--book", book), "'one'")
log = [tuple(r) for r in sqlite3.connect(book).execute("SELECT who, what, detail FROM change_log WHERE what LIKE '%attachment%'")]
s.check("each change is in the journal", ("tester", "take back an attachment", f"attachment {ids['day']}: another engine's plug") in log
        and sum(what == "attachment" for _, what, _ in log) == len(ids), log)

# ---- notes
at = "2026-11-25T14:05:09.120Z"
note = s.good("book", "note", "a drip at the seal", "--at", at, "--book", book, "--json").json["id"]
s.check("the same note again is the same note", s.good("book", "note", "a drip at the seal", "--at", at, "--book", book, "--json").json["id"] == note)
s.check("another text is another", s.good("book", "note", "wiped", "--at", at, "--book", book, "--json").json["id"] != note)
s.refused("a note without text", s.run("book", "note", "  ", "--book", book), "text")
s.refused("a note at no time", s.run("book", "note", "x", "--at", "noon", "--book", book), "'noon'")
s.refused("a novel", s.run("book", "note", "x" * 2001, "--book", book), "2000")
notes = s.good("book", "notes", "--day", "2026-11-25", "--book", book, "--json").json["notes"]
s.check("notes of the day", [n["text"] for n in notes] == ["a drip at the seal", "wiped"] and notes[0]["who"] == "tester", notes)

# ---- what a file says it is, and what it is
SCRIPT = b"<script>parent.ran = 1; fetch('/api/v1/book')</script>"
SVG = b'<svg xmlns="http://www.w3.org/2000/svg" onload="ran=1">' + SCRIPT + b"</svg>"
HOSTILE = {  # name, bytes, type that it is served with
    "evil.svg": (SVG, None), "page.html": (b"<!doctype html>" + SCRIPT, None), "evil.png": (SVG + b"\n", None), "photo.jpg": (b"\xff\xd8\xff" + SCRIPT * 9, None),
    "gif.html": (b"GIF89a/*" + SCRIPT + b"*/", None), "tail.png": (PNG + SCRIPT, None), "head.png": (SCRIPT + PNG, None),
    "huge.png": (PNG[:16] + b"\x7f\xff\xff\xff" * 2 + PNG[24:], None), "short.png": (PNG[:-5], None),
    "chunk.png": (PNG[:33] + b"\xff\xff\xff\xf0" + PNG[37:], None), "pdf.pdf": (b"%PDF-1.4\n" + SCRIPT, None), "x.js": (b"alert(1)", None),
    "mail.mht": (b"MIME-Version: 1.0\nContent-Type: text/html\n\n" + SCRIPT, None), "utf7.txt": (b"+ADw-script+AD4-", None),
    "text.png": (pictures.png(5, 5, SCRIPT), "image/png"), "comment.html": (JPEG[:2] + b"\xff\xfe" + (len(SCRIPT) + 2).to_bytes(2, "big") + SCRIPT + JPEG[2:],
                                                                           "image/jpeg"),
    "tail.html": (JPEG + SCRIPT, "image/jpeg"), "webp.txt": (b"RIFF" + (26).to_bytes(4, "little") + b"WEBPVP8 " + (14).to_bytes(4, "little") + b"\x10\x02\0\x9d\x01\x2a" + b"\1\0\1\0" + bytes(4), "image/webp"),
}
server = subprocess.Popen([s.program, "serve", "--book", book, "--port", "0", "--json"], stdout=subprocess.PIPE, text=True, env=s.environment)
said = json.loads(server.stdout.readline())
port, COOKIE = said["port"], let_in(said)


def ask(method, path, body=None, headers=None):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    connection.request(method, "/api/v1/" + path, body=body, headers={"Cookie": COOKIE, **(headers or {})})
    answer = connection.getresponse()
    data, head = answer.read(), dict(answer.getheaders())
    connection.close()
    return answer.status, data, head


def post(name, data, to="pull:1", **more):
    return ask("POST", "attachments?" + urllib.parse.urlencode({"name": name, "to": to, **more}), data, {"Content-Type": "application/octet-stream"})


def is_inert(says, head, kind):
    good = (head["Content-Type"] == (kind or "application/octet-stream") and head["X-Content-Type-Options"] == "nosniff"
            and head["Content-Security-Policy"].startswith("default-src 'none'; sandbox;") and "script" not in head["Content-Security-Policy"])
    s.check(says, good and (kind is not None or head.get("Content-Disposition", "").startswith("attachment; ")), head)


known = {}
for name, (data, kind) in HOSTILE.items():
    status, text, _ = post(name, data)
    s.check(f"{name} is kept", status == 200, text)
    known[name] = json.loads(text)["id"]
    status, back, head = ask("GET", f"attachments/{known[name]}")
    s.check(f"{name} comes back whole", status == 200 and back == data, status)
    is_inert(f"{name} is inert", head, kind)
is_inert("a picture to keep is a download too", ask("GET", f"attachments/{known['text.png']}?download=1")[2], "image/png")
sqlite3.connect(book).execute("SELECT 1")
with sqlite3.connect(book) as db:
    db.execute("UPDATE attachment SET media = 'text/html', name = 'a\"; filename=b.html' WHERE id = ?", (known["page.html"],))
head = ask("GET", f"attachments/{known['page.html']}")[2]
is_inert("a book that lies changes nothing", head, None)
s.check("nor does a name that breaks out", head["Content-Disposition"] == 'attachment; filename="a---filename-b.html"', head)

for name, plain in (("../../etc/passwd", "passwd"), ("..\\..\\boot.ini", "boot.ini"), ("/abs/olute.png", "olute.png"), ("...hidden", "hidden"), ("....//", "file"),
                    ("a" * 300 + ".jpg", "a" * 117), ("Kurbelwelle ü.jpg", "Kurbelwelle ü.jpg"), ("\u202egpj.exe", "gpj.exe")):
    status, text, _ = post(name, b"tricky " + name.encode())
    row = [r for r in attached() if status == 200 and r["id"] == json.loads(text)["id"]]
    s.check(f"the name {name[:20]!r} is plain", row and row[0]["name"] == plain, (status, row))
for query in ("name=a%0d%0aX-Evil:%201&to=day", "name=a%00b&to=day", "to=day", "name=&to=day", "name=a", "name=a&to=pull:77", "name=a&to=../day", "name=a&to=day&note=" + "x" * 1001):
    status, text, _ = ask("POST", "attachments?" + query, b"x")
    s.check(f"refused: {query[:40]}", status == 400 and "error" in json.loads(text), (status, text))
for path in ("attachments/0", "attachments/99999", "attachments/-1", "attachments/1%2f..", "attachments/../book", "attachments/1.svg"):
    status, text, _ = ask("GET", path)
    s.check(f"nothing at {path}", status in (400, 404), (status, text[:80]))
s.check("an empty body is refused", post("none", b"")[0] == 400)
answer = post("later.txt", b"kept on a tablet", "day:2026-11-25", taken_at="2026-11-25T14:05:09.120Z")
s.check("a file kept on a device says when it was taken", answer[0] == 200, answer)
late = [r for r in attached("--of", "day:2026-11-25") if r["name"] == "later.txt"][0]
s.check("beside when the book got it", late["taken_at"] == "2026-11-25T14:05:09.120Z" and late["at"] not in (None, late["taken_at"]), late)
for wrong in ("yesterday", "2026-11-25T14:05:09", "2026-11-25T14:05:09+01:00"):
    status, text, _ = post("later2.txt", wrong.encode(), "day:2026-11-25", taken_at=wrong)
    s.check(f"taken_at {wrong} is refused", status == 400 and b"taken_at" in text, (status, text))
connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
connection.putrequest("POST", "/api/v1/attachments?name=big&to=day")
connection.putheader("Content-Length", str(100 << 20))
connection.putheader("Cookie", COOKIE)
connection.endheaders()
answer = connection.getresponse()
s.check("100 MB are refused before they are read", answer.status == 413 and b"64 MB" in answer.read(), answer.status)
connection.close()
status, text, _ = post("large.bin", bytes(63 << 20), to="day")
s.check("63 MB are kept", status == 200, text[:80])
s.check("and come back", ask("GET", f"attachments/{json.loads(text)['id']}")[1] == bytes(63 << 20))
s.check("another page's form cannot post", ask("POST", "attachments?name=a&to=day", b"x", {"Origin": "http://evil.example"})[0] == 403)

for body in ('{"at": "2026-11-25T15:00:00Z", "text": "smells of fuel"}',) * 2:
    status, text, _ = ask("POST", "notes", body, {"Content-Type": "application/json"})
    s.check("a note by the page", status == 200, text)
s.check("sent twice it stands once", json.loads(text)["added"] is False, text)
for body in ("{}", '{"at": "noon", "text": "x"}', '{"at": "2026-11-25T15:00:00Z"}', '{"at": "2026-11-25T15:00:00Z", "text": ""}', "[", '{"text": "x"}'):
    s.check(f"refused: {body}", ask("POST", "notes", body, {"Content-Type": "application/json"})[0] == 400)
day = json.loads(ask("GET", "notes?day=2026-11-25")[1])
s.check("the page reads them in order of time", [n["text"] for n in day["notes"]] == ["a drip at the seal", "wiped", "smells of fuel"], day)
s.check("a note is taken back by the page", ask("POST", f"notes/{note}/withdraw", "{}", {"Content-Type": "application/json"})[0] == 200)
s.check("and still there", json.loads(ask("GET", "notes?day=2026-11-25")[1])["notes"][0]["taken_back"] is not None)
for query in ("kind=wing", "format=exe", "kind=care&format=html", "pulls=a", "photos=1;2", "paper=a0", "units=uk", "engine=none", "format=html&photos=99999"):
    s.check(f"no sheet for {query}", ask("GET", "sheet?" + query)[0] == 400)
for kind in ("report", "day", "build", "lash", "degree", "care", "dispatch", "valves"):
    status, data, head = ask("GET", "sheet?kind=" + kind)
    pages = ask("GET", "sheet-pages?kind=" + kind)
    if status != 200:  # what cannot be drawn yet is refused in the same words in both ways
        s.check(f"{kind}: one answer", status == 400 and pages[0] == 400 and pages[1] == data, (data, pages[1][:80]))
        continue
    shown = [base64.b64decode(p.split(",")[1]) for p in json.loads(pages[1])["pages"]]
    s.check(f"{kind}: a PDF and as many pictures as it has pages", data.startswith(b"%PDF-") and shown and all(p.startswith(b"\x89PNG") for p in shown)
            and len(re.findall(rb"/Type\s*/Page\b", data)) in (0, len(shown)), (len(data), len(shown)))
missing = json.loads(ask("GET", "handover")[1])["missing"]
s.check("open steps before dispatch are told first", missing[0]["grave"] and any(m["about"] == "checklist" for m in missing), missing[:3])
s.check("and facts that sheets lack", {"terms", "calibration"} <= {m["about"] for m in missing}, missing)
server.terminate()
s.check("the server ends in order", server.wait(timeout=30) == 0)
server.stdout.close()

# ---- pictures in the report that is sent
jpeg = attach(s.write("dyno.jpg", JPEG), "--to", "pull:1", "--note", "on the <dyno>")
s.good("sheet", "report", "--out", s.path("r.html"), "--photos", f"{jpeg},{ids['pull:1']}", "--book", book)
with open(s.path("r.html"), encoding="utf-8") as file:
    html = file.read()
held = {kind: base64.b64decode(data) for kind, data in re.findall(r'src="data:(image/(?:jpeg|png));base64,([^"]*)"', html)}
s.check("both are in it, with their notes", set(held) == {"image/jpeg", "image/png"} and "on the &lt;dyno&gt;" in html and "<dyno>" not in html, list(held))
s.check("what the camera wrote is not sent", b"51.5N" not in held["image/jpeg"] + held["image/png"] and b"51.5N" in JPEG and b"51.5N" in PNG)
s.check("the picture is the same", held["image/png"] == pictures.png(64, 48) and held["image/jpeg"].endswith(pictures.JPEG[2:]))
s.check("and how it is turned is kept", held["image/jpeg"][2:38] == pictures.jpeg(orientation=6)[2:38], held["image/jpeg"][:40])
s.refused("a file that is no sound picture", s.run("sheet", "report", "--out", s.path("x.html"), "--photos", known["evil.png"], "--book", book), "evil.png", "JPEG or PNG")
s.refused("pictures on paper", s.run("sheet", "report", "--out", s.path("x.pdf"), "--photos", jpeg, "--book", book), "--photos")
s.good("book", "detach", jpeg, "--reason", "blurred", "--book", book)
s.refused("one taken back", s.run("sheet", "report", "--out", s.path("x.html"), "--photos", jpeg, "--book", book), "withdrawn", "blurred")
s.check("nothing was written", not os.path.exists(s.path("x.html")) and not os.path.exists(s.path("x.pdf")))

# ---- verify, export, backup
with sqlite3.connect(book) as db:
    db.execute("UPDATE attachment SET media = 'text/plain', name = 'page.html' WHERE id = ?", (known["page.html"],))
s.check("the book is whole", s.good("book", "verify", "--book", book, "--json").json["whole"])
out = s.good("book", "export", s.path("out"), "--book", book, "--json").json
with open(s.path("out/attachments.json"), encoding="utf-8") as file:
    listed = json.load(file)["attachments"]
s.check("the export holds all, those taken back too", out["attachments"] == len(listed) == len(attached("--all")), out)
for row in listed:
    with open(s.path(f"out/attachment-{row['id']:05d}-{row['name']}"), "rb") as file:
        s.check(f"{row['name'][:30]} is exported as it came", hashlib.sha256(file.read()).hexdigest() == row["sha256"])
with open(s.path("out/notes.json"), encoding="utf-8") as file:
    s.check("notes are exported", len(json.load(file)["notes"]) == 3)
s.good("book", "backup", s.path("copy.book"), "--book", book)
copy = s.good("book", "attached", "--all", "--book", s.path("copy.book"), "--json").json["attachments"]
s.check("a backup holds them", copy == attached("--all"))
with sqlite3.connect(book) as db:
    db.execute("UPDATE attachment SET bytes = CAST(x'00' || substr(bytes, 2) AS BLOB) WHERE id = ?", (ids["engine"],))
hurt = s.run("book", "verify", "--book", book, "--json")
s.check("a changed byte is found", hurt.code == 1 and f"attachment {ids['engine']}" in hurt.json["problems"][0], hurt)
s.check("and is not handed out", s.run("build", "fetch", ids["engine"], "--out", s.path("y"), "--book", book).code == 3)
s.finish()
