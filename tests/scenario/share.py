"""A customer's link: what it shows of one engine, and that nothing else is there. The attacks: a wrong token, one of another engine, one
changed by hand, expired, revoked; other methods, bodies, paths, ranges, headers without end, other hosts' names, forwarding headers; viewers
that read slowly, and two hundred at once; behind nginx with TLS (Debian's nginx and openssl; skipped aloud without).

Outside sources: RFC 9110 (methods, ranges), RFC 9112 (Host), TLS and proxying as Debian's nginx does them.
"""
import concurrent.futures
import glob
import http.client
import json
import os
import shutil
import signal
import socket
import ssl
import struct
import subprocess
import time
import zlib

from harness import Scenario

s = Scenario()
MACHINE = os.path.join(s.folder, ".config", "enginewright")
NAME = "shop.example"


def png(shade):
    """A picture of 320 x 200 (ISO/IEC 15948)."""
    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
    rows = b"".join(b"\0" + bytes(v for x in range(320) for v in (x % 256, y, shade)) for y in range(200))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", 320, 200, 8, 2, 0, 0, 0)) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


made = s.good("demo", "--folder", s.path("day"), "--json").json
book = os.path.join(s.folder, made["book"])
SIX = "hill-climb six"
s.write("one.png", png(90))
s.write("two.png", png(91))
s.write("day.png", png(92))
s.write("note.txt", "plugs <look> even\n")
s.good("build", "start", "--book", book)
s.good("build", "agree", "190 kW and no less", "--power", "190 kW", "--torque", "300 N·m", "--book", book)
s.good("book", "attach", s.path("one.png"), "--to", "engine", "--note", 'head <b>"bare"</b> & clean', "--book", book)
s.good("book", "attach", s.path("two.png"), "--to", "pull:1", "--book", book)
s.good("book", "attach", s.path("day.png"), "--to", "day", "--book", book)
s.good("book", "attach", s.path("note.txt"), "--to", "engine", "--book", book)
files = {f["name"]: f["id"] for f in s.good("book", "attached", "--book", book, "--json").json["attachments"]}
with open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "examples", "engines", "hill-climb-six.yaml"), encoding="utf-8") as file:
    s.write("other.yaml", file.read().replace("name: Hill-climb six", "name: other <four>"))
s.good("engine", "add", s.path("other.yaml"), "--book", book)
FOUR = "other <four>"


# ---- a link is made ----
def new(*more):
    return s.run("share", "new", "--book", book, *more)


def day(days):
    return time.strftime("%Y-%m-%d", time.gmtime(time.time() + 86400 * days))


s.refused("which engine?", new("--until", day(9)), "--engine")
s.refused("no such engine", new("--engine", "nine", "--until", day(9)), "nine")
s.refused("until when?", new("--engine", SIX), "--until")
s.refused("until a day that is over", new("--engine", SIX, "--until", day(-2)), "--until", "today on")
s.refused("until for ever", new("--engine", SIX, "--until", day(900)), "400 days")
s.refused("until no day", new("--engine", SIX, "--until", "tomorrow"), "--until")
s.refused("until a day that is none", new("--engine", SIX, "--until", "2027-02-30"), "--until")
s.refused("a picture that is not there", new("--engine", SIX, "--until", day(9), "--photo", "99"), "99")
s.refused("no number", new("--engine", SIX, "--until", day(9), "--photo", "x"), "--photo")
s.refused("what is no picture", new("--engine", SIX, "--until", day(9), "--photo", files["note.txt"]), "not a picture")
s.refused("a picture of the day, which may show another's engine", new("--engine", SIX, "--until", day(9), "--photo", files["day.png"]), "does not belong")
s.refused("a picture of another engine", new("--engine", FOUR, "--until", day(9), "--photo", files["one.png"]), "does not belong")
s.refused("served nowhere", new("--engine", SIX, "--until", day(9), "--at", "shop.example"), "--at")
s.check("nothing was kept of all that", s.good("share", "list", "--book", book, "--json").json["links"] == [])


def link(engine, *more):
    answer = s.good("share", "new", "--book", book, "--engine", engine, "--until", day(9), "--json", *more).json["link"]
    return answer.split("/")[-2]


whole = link(SIX, "--live", "--photo", files["one.png"], "--photo", files["two.png"])
plain, other, expired, revoked = link(SIX), link(FOUR), link(SIX), link(SIX)
tokens = (whole, plain, other, expired, revoked)
s.check("64 hex digits, each another", len(set(tokens)) == 5 and all(len(t) == 64 and set(t) <= set("0123456789abcdef") for t in tokens), tokens)
kept = glob.glob(MACHINE + "/shares-*.json")[0]
text = open(kept, encoding="utf-8").read()
s.check("tokens are kept nowhere", not any(t in text for t in tokens) and not any(t.encode() in open(book, "rb").read() for t in tokens), kept)
s.check("and the file is this account's alone", os.stat(kept).st_mode & 0o777 == 0o600, oct(os.stat(kept).st_mode))


# ---- served ----
class Served:
    def __init__(self, *more, **environment):
        self.process = subprocess.Popen([s.program, "share", "serve", "--book", book, "--port", "0", "--json", *more], env={**s.environment, **environment},
                                        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        self.port = json.loads(self.process.stdout.readline())["port"]

    def get(self, path, method="GET", headers=None, body=None):
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=90)
        line.request(method, path, body=body, headers=headers or {})
        answer = line.getresponse()
        data = answer.read()
        line.close()
        return answer.status, data, dict(answer.getheaders())

    def raw(self, data):
        with socket.create_connection(("127.0.0.1", self.port), timeout=20) as line:
            try:
                line.sendall(data)
                answer = b""
                while piece := line.recv(65536):
                    answer += piece
                return answer
            except OSError:
                return b""

    def memory_mb(self):
        with open(f"/proc/{self.process.pid}/status", encoding="utf-8") as file:
            return int([r for r in file if r.startswith("VmRSS")][0].split()[1]) / 1024

    def stop(self):
        self.process.send_signal(signal.SIGTERM)
        s.check("it ends when it is told to, having said nothing", self.process.communicate(timeout=30)[1] == "" and self.process.returncode == 0, self.process.returncode)


served = Served("--public-name", NAME)
status, page, headers = served.get(f"/{whole}/page")
page = page.decode()
s.check("the page", status == 200 and SIX in page and 'href="report"' in page and f'photo/{files["one.png"]}' in page and day(9) in page, (status, page))
s.check("its words are escaped", "head &lt;b&gt;" in page and "<b>" not in page, page)
s.check("nothing of it is kept by caches or sent on", headers["Cache-Control"] == "no-store" and headers["Referrer-Policy"] == "no-referrer" and
        "default-src 'none'" in headers["Content-Security-Policy"] and "Set-Cookie" not in headers, headers)
status, report, headers = served.get(f"/{whole}/report")
report = report.decode()
s.check("the report says what was agreed and what was proved", status == 200 and "190" in report and "agreed" in report.lower() and "reached" in report and report.count("data:image/png") >= 2, (status, report[:300]))
s.check("no script runs in it", "sandbox" in headers["Content-Security-Policy"] and "<script" not in report, headers)
for name in ("report.pdf", "care.pdf"):
    status, data, headers = served.get(f"/{whole}/{name}")
    s.check(name, status == 200 and data.startswith(b"%PDF") and headers["Content-Type"] == "application/pdf", (status, data[:80]))
status, data, headers = served.get(f"/{whole}/photo/{files['one.png']}")
s.check("a ticked photo is the bytes that were attached", status == 200 and data == png(90) and headers["Content-Type"] == "image/png" and "sandbox" in headers["Content-Security-Policy"], (status, headers))
figures = json.loads(served.get(f"/{whole}/figures")[1])
s.check("figures of the last pulls, each with its ±", len(figures["pulls"]) == 8 and all("±" in p["power"] and "±" in p["torque"] for p in figures["pulls"]) and "No recording" in figures["state"], figures)
s.check("HEAD is GET without the bytes", served.get(f"/{whole}/page", "HEAD")[:2] == (200, b""))
begun = time.monotonic()
again = served.get(f"/{whole}/report.pdf")
s.check("a sheet is drawn once", again[0] == 200 and time.monotonic() - begun < 5)

# ---- the attack list ----
nothing = served.get("/" + "0" * 64 + "/page")
s.check("a wrong token finds nothing", nothing[0] == 404 and SIX.encode() not in nothing[1], nothing)


def refused(says, answer, status=404):
    s.check(f"{says}: {status}, and the same words as any other", answer[0] == status and (status != 404 or answer[1] == nothing[1]), (answer[0], answer[1][:200]))


for says, token in (("one digit changed", whole[:-1] + ("0" if whole[-1] != "0" else "1")), ("capitals", whole.upper() if whole.upper() != whole else "A" * 64), ("cut short", whole[:-1]),
                    ("one more", whole + "0"), ("none", ""), ("letters", "g" * 64), ("the digest that is kept", text.split('"hash":"')[1][:64])):
    refused(says, served.get(f"/{token}/page"), 400 if not token else 404)
foreign = served.get(f"/{other}/page")[1].decode()
s.check("the link of another engine shows that engine alone", "other &lt;four&gt;" in foreign and SIX not in foreign and "photo" not in foreign, foreign)
status, data, _ = served.get(f"/{other}/report")
s.check("and no report of this one", SIX.encode() not in data and status in (404, 503), (status, data[:200]))
refused("its link and this one's photo", served.get(f"/{other}/photo/{files['one.png']}"))
refused("photos that were not ticked", served.get(f"/{plain}/photo/{files['one.png']}"))
refused("the photo of the day", served.get(f"/{whole}/photo/{files['day.png']}"))
refused("figures that were not allowed", served.get(f"/{plain}/figures"))
refused("nor their script", served.get(f"/{plain}/figures.js"))
for path in ("/page", "/report", "/api/v1/book", "/api/v1/events", "/api/v1/pulls", "/index.html", "/favicon.ico", "/robots.txt", f"/{whole}", f"/{whole}/api/v1/book", f"/{whole}/Report",
             f"/{whole}/report.pdf/x", f"/{whole}/photo/0", f"/{whole}/photo/-1", f"/{whole}/photo/1e0", f"/{whole}/photo/01x", f"/{whole}/book", f"/x/{whole}/page"):
    refused(path.replace(whole, "TOKEN"), served.get(path))
for path in ("/", "//", f"/{whole}/", f"//{whole}/page", f"/{whole}//page", f"/{whole}/../{whole}/page", f"/{whole}/photo/../page", f"/{whole}/%2e%2e/page", f"/{whole}/..%2fpage", f"/{whole}/page%00",
             f"/{whole}/page%0d%0aX:y", f"/{whole}/pa%ge", f"/{whole}/%5c..%5cpage", f"/{whole}/" + "a" * 3000):
    answer = served.get(path)
    s.check(f"{path.replace(whole, 'TOKEN')[:60]} is no address", answer[0] in (400, 404) and SIX.encode() not in answer[1], answer[0])
status, data, _ = served.get(f"/{whole}/page?engine=2&pulls=1&photos=3&book=x")
s.check("what is asked for behind a question mark changes nothing", status == 200 and data.decode() == page)
for method in ("POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "PROPFIND", "CONNECT"):
    status, data, _ = served.get(f"/{whole}/page", method)
    s.check(f"{method} is refused", status in (400, 405, 501) and SIX.encode() not in data, (method, status))
s.check("a GET with a body is refused", served.get(f"/{whole}/page", body=b"x" * 10)[0] == 413)
s.check("and one that never ends", b" 413 " in served.raw(f"GET /{whole}/page HTTP/1.1\r\nHost: 127.0.0.1:{served.port}\r\nTransfer-Encoding: chunked\r\n\r\n".encode())[:40])
status, data, headers = served.get(f"/{whole}/report.pdf", headers={"Range": "bytes=0-10"})
s.check("a range gets all of it, or an error", (status == 200 and data == again[1]) or status == 416, (status, len(data)))
status, data, _ = served.get(f"/{whole}/page", headers={"Range": "bytes=" + ",".join("0-" for _ in range(500))})
s.check("many ranges are not a way to make work", status == 200 and data.decode() == page, status)
s.check("a header of 40 kB is refused", served.get(f"/{whole}/page", headers={"X-Long": "a" * 40000})[0] in (431, 413, 400))
begun = time.monotonic()
s.check("so are headers without end", b" 200 " not in served.raw(b"GET /" + whole.encode() + b"/page HTTP/1.1\r\n" + b"X-A: b\r\n" * 20000)[:20] and time.monotonic() - begun < 20)
for says, host, want in (("this machine's name", f"127.0.0.1:{served.port}", 200), ("localhost", f"localhost:{served.port}", 200), ("the public name", NAME, 200), ("it with a port", NAME + ":443", 200),
                         ("capitals", NAME.upper(), 200), ("another name", "evil.example", 421), ("another port", f"127.0.0.1:{served.port ^ 1}", 421), ("a name that ends alike", "not" + NAME, 421),
                         ("a name that begins alike", NAME + ".evil.example", 421), ("an address of the network", "192.168.1.5", 421), ("none", "", 421)):
    s.check(f"host: {says}", served.get(f"/{whole}/page", headers={"Host": host})[0] == want, (host, served.get(f"/{whole}/page", headers={"Host": host})[0]))
s.check("two hosts", b" 400 " in served.raw(f"GET /{whole}/page HTTP/1.1\r\nHost: {NAME}\r\nHost: evil.example\r\nConnection: close\r\n\r\n".encode())[:40])
for name in ("X-Forwarded-For", "X-Forwarded-Host", "Forwarded", "X-Real-IP", "X-Original-URL", "X-HTTP-Method-Override", "X-Rewrite-URL"):
    value = {"X-Original-URL": "/api/v1/book", "X-Rewrite-URL": "/api/v1/book", "X-HTTP-Method-Override": "DELETE"}.get(name, "127.0.0.1")
    s.check(f"{name} changes nothing", served.get(f"/{whole}/page", headers={name: value})[:2] == (200, page.encode()))
    refused(f"{name} opens nothing", served.get("/api/v1/book", headers={name: value}))
s.check("a page of another site that asks by script is refused", served.get(f"/{whole}/figures", headers={"Origin": "https://evil.example", "Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "cors"})[0] == 403)
s.check("a link in a letter is followed", served.get(f"/{whole}/page", headers={"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"})[0] == 200)

# ---- expired, revoked, damaged ----
s.check("it worked until now", served.get(f"/{revoked}/page")[0] == 200 == served.get(f"/{expired}/page")[0])
ids = {row["id"]: row for row in s.good("share", "list", "--book", book, "--json").json["links"]}
s.check("each is listed", len(ids) == 5 and all(row["state"] == "works" for row in ids.values()), ids)
s.good("share", "revoke", 5, "--book", book)
refused("revoked, while it is served", served.get(f"/{revoked}/page"))
s.refused("revoked twice", s.run("share", "revoke", 5, "--book", book), "no link 5")
s.refused("revoked by a word", s.run("share", "revoke", "five", "--book", book), "five")
stored = json.load(open(kept, encoding="utf-8"))


def keep(change, mode=0o600):
    now = json.loads(json.dumps(stored))
    change(now)
    with open(kept + ".new", "w", encoding="utf-8") as file:
        json.dump(now, file)
    os.chmod(kept + ".new", mode)
    os.replace(kept + ".new", kept)


def past(now):
    now["shares"][3]["until"] = "2026-01-01T00:00:00Z"


keep(past)
refused("expired", served.get(f"/{expired}/page"))
s.check("and is listed as such", [r["state"] for r in s.good("share", "list", "--book", book, "--json").json["links"]].count("expired") == 1)
for says, change, mode in (("a file of another machine", lambda n: n.update(machine="0" * 64), 0o600), ("of another book", lambda n: n.update(book="x"), 0o600), ("that others can read", lambda n: None, 0o644),
                           ("with a day that is none", lambda n: n["shares"][0].update(until="soon"), 0o600), ("with a photo by a word", lambda n: n["shares"][0].update(photos="../1"), 0o600)):
    keep(change, mode)
    refused(f"{says}: nobody sees anything", served.get(f"/{whole}/page"))
    s.refused(f"{says}: said at the shop", s.run("share", "list", "--book", book), os.path.basename(kept))
keep(past)
s.check("and put right, it works again", served.get(f"/{whole}/page")[0] == 200)
s.good("book", "detach", files["two.png"], "--reason", "shows a plate", "--book", book)
refused("a photo that was taken back", served.get(f"/{whole}/photo/{files['two.png']}"))
s.check("and it is gone from the page and the report", b"photo/%d" % files["two.png"] not in served.get(f"/{whole}/page")[1] and served.get(f"/{whole}/report")[1].count(b"data:image/png") == report.count("data:image/png") - 1)
copy = s.path("copy.book")
s.good("book", "backup", copy, "--book", book)
memory = served.memory_mb()
s.check("in 200 MB", memory < 200, memory)

# ---- two hundred at once ----
def asks(_):
    try:
        return served.get(f"/{whole}/figures")[0]
    except OSError:
        return 0


with concurrent.futures.ThreadPoolExecutor(200) as crowd:
    answers = list(crowd.map(asks, range(200)))
s.check("two hundred at once are answered", answers.count(200) == 200 and served.get(f"/{whole}/page")[0] == 200, {a: answers.count(a) for a in set(answers)})
served.stop()

# ---- viewers that read slowly ----
served = Served(EW_HTTP_DEADLINE_MS="3000")
sheet = served.get(f"/{whole}/photo/{files['one.png']}")
lines = []
for _ in range(200):
    line = socket.socket()
    line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
    line.settimeout(20)
    line.connect(("127.0.0.1", served.port))
    line.sendall(f"GET /{whole}/photo/{files['one.png']} HTTP/1.1\r\nHost: 127.0.0.1:{served.port}\r\n\r\n".encode())
    lines.append(line)
begun = time.monotonic()
s.check("two hundred that read slowly do not keep the next one out", served.get(f"/{whole}/page")[0] == 200 and time.monotonic() - begun < 10)
time.sleep(4)
gone = 0
for line in lines:
    try:
        got = 0
        while piece := line.recv(65536):
            got += len(piece)
        gone += got < len(sheet[1])
    except OSError:
        gone += 1
    line.close()
s.check("and are dropped", gone == 200, gone)
s.check("it goes on", served.get(f"/{whole}/page")[0] == 200 and served.memory_mb() < 200, served.memory_mb())
served.stop()

# ---- behind nginx, with TLS ----
if not shutil.which("nginx", path="/usr/sbin:/usr/bin:/bin") or not shutil.which("openssl"):
    s.skip("a link behind nginx with TLS", "nginx or openssl is not installed (packages nginx-light, openssl)")
    s.finish()
served = Served("--public-name", NAME)


def openssl(*words):
    subprocess.run(["openssl", *words], check=True, capture_output=True, cwd=s.folder)


openssl("req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-days", "30", "-keyout", "ca.key", "-out", "ca.pem", "-subj", "/CN=The shop's own authority")
openssl("req", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-keyout", "site.key", "-out", "site.csr", "-subj", f"/CN={NAME}")
s.write("site.ext", f"subjectAltName=DNS:{NAME}\n")
openssl("x509", "-req", "-in", "site.csr", "-CA", "ca.pem", "-CAkey", "ca.key", "-CAcreateserial", "-days", "30", "-extfile", "site.ext", "-out", "site.pem")
manual = open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "docs", "manual", "customers-link.md"), encoding="utf-8").read()
block = manual.split("```nginx\n")[1].split("```")[0]
with socket.socket() as free:
    free.bind(("127.0.0.1", 0))
    port = free.getsockname()[1]
block = (block.replace("listen 443 ssl", f"listen 127.0.0.1:{port} ssl").replace("127.0.0.1:8090", f"127.0.0.1:{served.port}")
         .replace("/var/log/nginx/shop.log", s.path("nginx-shop.log")).replace("/etc/ssl/shop/site.pem", s.path("site.pem")).replace("/etc/ssl/shop/site.key", s.path("site.key")))
s.write("nginx.conf", ("user root;\n" if os.geteuid() == 0 else "") + f"daemon off; pid {s.path('nginx.pid')}; error_log {s.path('nginx.log')} warn; worker_rlimit_nofile 4096;\nevents {{ worker_connections 1024; }}\n"
        f"http {{ client_body_temp_path {s.path('t1')}; proxy_temp_path {s.path('t2')}; fastcgi_temp_path {s.path('t3')}; uwsgi_temp_path {s.path('t4')}; scgi_temp_path {s.path('t5')};\n{block}\n}}\n")
front = subprocess.Popen([shutil.which("nginx", path="/usr/sbin:/usr/bin:/bin"), "-c", s.path("nginx.conf"), "-p", s.folder, "-e", s.path("nginx.log")], stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
trust = ssl.create_default_context(cafile=s.path("ca.pem"))


def through(path, host=NAME, method="GET", sni=NAME):
    with socket.create_connection(("127.0.0.1", port), timeout=60) as line, trust.wrap_socket(line, server_hostname=sni) as safe:
        safe.sendall(f"{method} {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n".encode())
        answer = b""
        while piece := safe.recv(65536):
            answer += piece
    head, _, body = answer.partition(b"\r\n\r\n")
    return int(head.split()[1]), head.decode("latin-1"), body


for _ in range(100):
    try:
        through("/")
        break
    except OSError:
        time.sleep(0.1)
status, head, body = through(f"/{whole}/page")
s.check("behind nginx: the page, by TLS", status == 200 and SIX.encode() in body and "no-store" in head, (status, head, open(s.path("nginx.log"), encoding="utf-8").read()))
s.check("behind nginx: the report", through(f"/{whole}/report.pdf")[2].find(b"%PDF") >= 0)
s.check("behind nginx: nothing else", through("/api/v1/book")[0] == 404 and through("/")[0] in (400, 404) and through(f"/{revoked}/page")[0] == 404 == through(f"/{expired}/page")[0])
s.check("behind nginx: no other method", through(f"/{whole}/page", method="POST")[0] in (403, 405))
s.check("behind nginx: no other name", through(f"/{whole}/page", host="evil.example")[0] != 200)
with concurrent.futures.ThreadPoolExecutor(200) as crowd:
    begun = time.monotonic()
    answers = list(crowd.map(lambda i: through(f"/{whole}/{('page', 'figures')[i % 2]}")[0], range(400)))
    took = time.monotonic() - begun
s.check("behind nginx: 200 viewers, each twice, all answered", answers.count(200) == 400, {a: answers.count(a) for a in set(answers)})
print(f"behind nginx, 200 viewers with TLS: 400 answers in {took:.1f} s; memory {served.memory_mb():.0f} MB")
s.good("share", "revoke", 1, "--book", book)
s.check("behind nginx: revoked at once", through(f"/{whole}/page")[0] == 404)
log = "".join(open(f, encoding="utf-8").read() for f in (s.path("nginx.log"), s.path("nginx-shop.log")))
s.check("no token in a log", whole not in log and not os.path.exists(s.path("access.log")), log[-400:])
front.send_signal(signal.SIGTERM)
front.wait(20)
served.stop()
s.finish()
