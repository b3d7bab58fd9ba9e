"""Room on the disk and in memory: shares of attachments by place, uploads at once, and a floor of free space below which nothing is
taken but what was measured. $EW_FLOOR_MB stands in for a disk that is nearly full."""
import http.client
import json
import os
import shutil
import sqlite3
import subprocess
import threading

import recordings
from door import let_in
from harness import Scenario

s = Scenario()
book = s.path("shop.book")
s.write("engine.yaml", recordings.ENGINE)
s.good("engine", "add", s.path("engine.yaml"), "--book", book)
s.good("pull", "add", s.write("run.csv", recordings.sweep().text()), "--book", book)
NOTE = s.write("note.txt", "a note")


def attach(path, to):
    return s.run("book", "attach", path, "--to", to, "--book", book, "--json")


# ---- each place has its own share, and what was taken back counts for nothing
first = attach(NOTE, "day:2026-11-25").json["id"]
with sqlite3.connect(book) as db:
    db.execute("UPDATE attachment SET bytes_count = ? WHERE id = ?", (1000 << 20, first))
db.close()
second = s.write("second.txt", "another note")
s.refused("a day that is full", attach(second, "day:2026-11-25"), "1000 MB", "2026-11-25")
s.check("the next day has its own share", attach(second, "day:2026-11-26").code == 0)
s.good("book", "detach", first, "--reason", "blurred", "--book", book)
s.check("what was taken back counts for nothing", attach(second, "day:2026-11-25").code == 0)
s.refused("and has to fit when it is put back", s.run("book", "detach", first, "--put-back", "--book", book), "1,000 MB")
with sqlite3.connect(book) as db:
    db.execute("UPDATE attachment SET bytes_count = length(bytes)")
db.close()
s.good("book", "verify", "--book", book)

# ---- many uploads at once
server = subprocess.Popen([s.program, "serve", "--book", book, "--port", "0", "--json"], stdout=subprocess.PIPE, text=True, env=s.environment)
said = json.loads(server.stdout.readline())
port, COOKIE = said["port"], let_in(said)
answers = []


def post(number, size=20 << 20):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=240)
    connection.request("POST", f"/api/v1/attachments?name=film-{number}.bin&to=day:2026-11-27", number.to_bytes(4, "big") + bytes(size), {"Content-Type": "application/octet-stream", "Cookie": COOKIE})
    answer = connection.getresponse()
    answers.append((number, answer.status, answer.read()))
    connection.close()


threads = [threading.Thread(target=post, args=(n,)) for n in range(24)]
for thread in threads:
    thread.start()
for thread in threads:
    thread.join()
s.check("24 at once are kept", sorted(a[1] for a in answers) == [200] * 24, [a[:2] for a in answers if a[1] != 200])
with open(f"/proc/{server.pid}/status", encoding="ascii") as file:
    most_mb = int(next(line for line in file if line.startswith("VmHWM")).split()[1]) / 1024
s.check("24 uploads of 20 MB never take 300 MB of memory", most_mb < 300, most_mb)
s.check("nothing is left beside the book", not [n for n in os.listdir(s.folder) if n.startswith(".upload")], os.listdir(s.folder))
server.terminate()
server.wait(timeout=30)
server.stdout.close()
stored = s.good("book", "attached", "--of", "day:2026-11-27", "--book", book, "--json").json["attachments"]
s.check("each whole", len(stored) == 24 and {a["bytes"] for a in stored} == {(20 << 20) + 4}, len(stored))
s.good("build", "fetch", stored[7]["id"], "--out", s.path("film.bin"), "--book", book)
with open(s.path("film.bin"), "rb") as file:
    number = next(n for n, _, text in answers if json.loads(text)["id"] == stored[7]["id"])
    s.check("and every byte its own", file.read() == number.to_bytes(4, "big") + bytes(20 << 20))

# ---- a disk that is nearly full
nearly = {"EW_FLOOR_MB": "1000000000"}
for says, args in {"a recording": ("pull", "add", s.write("more.csv", recordings.sweep(seed=3).text())), "a file": ("book", "attach", NOTE, "--to", "engine"),
                   "a backup": ("book", "backup", s.path("copy.book")), "practice": ("cell", "record", "--source", "practice:?rate=10000&pace=0")}.items():
    s.refused(f"{says} on a disk that is nearly full", s.run(*args, "--book", book, timeout=60, **nearly), "nearly full", "free some space")
s.check("no half copy", not [n for n in os.listdir(s.folder) if n.startswith("copy.book")])
s.check("what is there is read", s.run("pull", "list", "--book", book, **nearly).code == 0)
lines = "Time [s],RPM [rpm]\n" + "".join(f"{n / 100:.2f},{3000 + n % 7}\n" for n in range(500))
done = subprocess.run([s.program, "cell", "record", "--json", "--source", "stdin:", "--control", "/dev/null", "--book", book], input=lines.encode(), capture_output=True,
                      env={**s.environment, **nearly}, timeout=120, check=False)
events = [json.loads(line) for line in done.stdout.decode().splitlines()]
s.check("what is measured is stored all the same", done.returncode == 0 and max(e.get("stored_rows", 0) for e in events) == 500, (done.returncode, done.stderr))
s.check("and that the disk fills is reported", any(e["event"] == "storage" and e["state"] == "low" and e["why"]["id"] == "desk.disk-low" for e in events), [e["event"] for e in events])
server = subprocess.Popen([s.program, "serve", "--book", book, "--port", "0", "--json"], stdout=subprocess.PIPE, text=True, env={**s.environment, **nearly})
said = json.loads(server.stdout.readline())
port, COOKIE = said["port"], let_in(said)
answers.clear()
post(99)
s.check("an upload is refused before it is all in", answers[0][1] == 507 and b"nearly full" in answers[0][2], answers)
answers.clear()
post(100, 1000)
s.check("a small one as well", answers[0][1] == 400 and b"nearly full" in answers[0][2], answers)
server.terminate()
server.wait(timeout=30)
server.stdout.close()

# ---- practice as fast as it goes, towards the floor
free_mb = shutil.disk_usage(s.folder).free >> 20
flood = s.path("flood.book")
s.good("book", "new", "--book", flood)
answer = s.run("cell", "record", "--source", "practice:?rate=10000&pace=0", "--book", flood, timeout=120, EW_FLOOR_MB=str(free_mb - 80))
size_mb = sum(os.path.getsize(s.path(n)) for n in os.listdir(s.folder) if n.startswith("flood.book")) >> 20
s.check("practice ends by itself at the floor", answer.code in (0, 2) and size_mb < 400 and "nearly full" in answer.out + answer.err, (size_mb, answer))
s.good("book", "verify", "--book", flood)
s.finish()
