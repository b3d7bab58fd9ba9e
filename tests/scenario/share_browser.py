"""A customer's link in a browser, behind nginx with TLS as the manual sets it up: what is seen while the engine runs, when it falls silent, when
the shop's program is away, and when the link is revoked, expired or changed by hand. Skipped aloud without nginx, openssl or a browser.

Outside sources: Debian's nginx and Chromium."""
import glob
import json
import os
import shutil
import signal
import socket
import subprocess
import threading
import time

from harness import Scenario
from live_cell import Cell

s = Scenario()
here = os.path.dirname(os.path.abspath(__file__))
nginx = shutil.which("nginx", path="/usr/sbin:/usr/bin:/bin")
lacks = [what for what, there in (("nginx", nginx), ("openssl", shutil.which("openssl")), ("node", shutil.which("node")), ("chromium", os.path.exists("/usr/bin/chromium")),
                                  ("playwright-core", os.path.isdir(os.path.join(here, "..", "browser", "node_modules", "playwright-core")))) if not there]
if lacks:
    s.skip("a customer's link in a browser", f"not installed: {', '.join(lacks)}")
    s.finish()
NAME, SIX = "shop.example", "hill-climb six"
made = s.good("demo", "--folder", s.path("day"), "--json").json
book = os.path.join(s.folder, made["book"])


def day(days):
    return time.strftime("%Y-%m-%d", time.gmtime(time.time() + 86400 * days))


def link(*more):
    return s.good("share", "new", "--book", book, "--engine", SIX, "--until", day(9), "--json", *more).json["link"].split("/")[-2]


whole, expired = link("--live", "--channel", "speed", "--channel", "torque", "--channel", "power"), link("--live")


def serve(port=0):
    process = subprocess.Popen([s.program, "share", "serve", "--book", book, "--port", str(port), "--json", "--public-name", NAME], env=s.environment, stdout=subprocess.PIPE, text=True)
    return process, json.loads(process.stdout.readline())["port"]


served, shop_port = serve()


def openssl(*words):
    subprocess.run(["openssl", *words], check=True, capture_output=True, cwd=s.folder)


openssl("req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-days", "30", "-keyout", "site.key", "-out", "site.pem", "-subj", f"/CN={NAME}", "-addext", f"subjectAltName=DNS:{NAME}")
with open(os.path.join(here, "..", "..", "docs", "manual", "customers-link.md"), encoding="utf-8") as file:
    block = file.read().split("```nginx\n")[1].split("```")[0]
with socket.socket() as free:
    free.bind(("127.0.0.1", 0))
    port = free.getsockname()[1]
block = (block.replace("listen 443 ssl", f"listen 127.0.0.1:{port} ssl").replace("127.0.0.1:8090", f"127.0.0.1:{shop_port}")
         .replace("/var/log/nginx/shop.log", s.path("nginx-shop.log")).replace("/etc/ssl/shop/site.pem", s.path("site.pem")).replace("/etc/ssl/shop/site.key", s.path("site.key")))
s.write("nginx.conf", ("user root;\n" if os.geteuid() == 0 else "") + f"daemon off; pid {s.path('nginx.pid')}; error_log {s.path('nginx.log')} warn;\nevents {{ worker_connections 256; }}\n"
        f"http {{ client_body_temp_path {s.path('t1')}; proxy_temp_path {s.path('t2')}; fastcgi_temp_path {s.path('t3')}; uwsgi_temp_path {s.path('t4')}; scgi_temp_path {s.path('t5')};\n{block}\n}}\n")
front = subprocess.Popen([nginx, "-c", s.path("nginx.conf"), "-p", s.folder, "-e", s.path("nginx.log")], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
viewer = subprocess.Popen(["node", os.path.join(here, "share_browser.mjs"), str(port), s.folder], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
viewer.stdout.readline()


def do(*words):
    viewer.stdin.write(" ".join(words) + "\n")
    viewer.stdin.flush()
    return json.loads(viewer.stdout.readline())


def until(says, wanted, seconds=40):
    end = time.monotonic() + seconds
    while not wanted(saw := do("look")) and time.monotonic() < end:
        time.sleep(0.3)
    return s.check(says, wanted(saw), saw)


saw = do("open", f"/{whole}/page")
s.check("the link opens", saw["status"] == 200 and SIX in saw["text"].lower() and "This link works until" in saw["text"], saw)
until("the last pulls stand there, each with its ±", lambda saw: len(saw["figures"]) == 8 and all("±" in cell for row in saw["figures"] for cell in row[1:]))
until("nobody runs it", lambda saw: saw["now"] == [] and "not being recorded" in saw["state"])


class Runs(threading.Thread):
    def __init__(self, cell):
        super().__init__(daemon=True)
        self.cell, self.on, self.over = cell, True, False
        self.start()

    def run(self):
        while not self.over:
            if self.on:
                self.cell.send_rows(10, speed=5432.0, torque=250.0, throttle=100.0)
            time.sleep(0.1)


with Cell(s, book, alarms="none", more=("--engine", SIX)) as cell:
    runs = Runs(cell)
    until("it runs: seen without a reload", lambda saw: len(saw["now"]) == 3 and saw["now"][0][1].startswith("5432") and "not corrected" in saw["state"])
    do("picture", "running")
    runs.on = False
    until("silent: dashes", lambda saw: len(saw["now"]) == 3 and all(row[1] == "–" for row in saw["now"]))
    runs.on = True
    until("and again", lambda saw: len(saw["now"]) == 3 and saw["now"][0][1].startswith("5432"))
    served.kill()
    served.wait()
    until("the shop's program is away: no figure stands, and it is said", lambda saw: saw["now"] == [] and "does not answer" in saw["state"] and "does not answer" in saw["line"])
    served, _ = serve(shop_port)
    until("back: the page goes on by itself", lambda saw: len(saw["now"]) == 3 and saw["now"][0][1].startswith("5432"))
    runs.over = True
    runs.join()
    code, said = cell.stop()
    s.check("the recording ended well", code == 0 and cell.stored() == cell.sent, (code, said))
saw = do("open", f"/{whole}/report")
s.check("the report opens in the browser", saw["status"] == 200 and "text/html" in saw["type"] and not saw["faults"], saw)
s.check("with its pictures", all(do("frame")["images"]), saw)
do("picture", "report")
saw = do("open", f"/{whole[:-1]}{'0' if whole[-1] != '0' else '1'}/page")
s.check("changed by hand: nothing, in words", saw["status"] == 404 and SIX not in saw["text"].lower(), saw)
saw = do("open", "/")
s.check("no link at all: nothing", saw["status"] in (400, 404) and SIX not in saw["text"].lower(), saw)
saw = do("open", f"/{expired}/page")
s.check("the other link works", saw["status"] == 200, saw)
kept = glob.glob(os.path.join(s.folder, ".config", "enginewright", "shares-*.json"))[0]
with open(kept, encoding="utf-8") as file:
    stored = json.load(file)
stored["shares"][1]["until"] = "2026-01-01T00:00:00Z"
with open(kept + ".new", "w", encoding="utf-8") as file:
    json.dump(stored, file)
os.chmod(kept + ".new", 0o600)
os.replace(kept + ".new", kept)
saw = do("open", f"/{expired}/page")
s.check("expired: nothing", saw["status"] == 404 and SIX not in saw["text"].lower(), saw)
do("open", f"/{whole}/page")
until("the first still works", lambda saw: len(saw["figures"]) == 8)
s.good("share", "revoke", 1, "--book", book)
until("revoked while it is looked at: nothing new comes, and it is said", lambda saw: saw["now"] == [] and "does not answer" in saw["line"])
saw = do("open", f"/{whole}/page")
s.check("and gone at the next look", saw["status"] == 404 and SIX not in saw["text"].lower(), saw)
hosts = do("hosts")["hosts"]
s.check("the page asks nobody else", set(hosts) == {NAME}, hosts)
viewer.stdin.write("end\n")
viewer.stdin.close()
viewer.wait(60)
front.send_signal(signal.SIGTERM)
front.wait(20)
served.send_signal(signal.SIGTERM)
served.wait(20)
s.finish()
