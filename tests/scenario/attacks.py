"""The list of attacks on a shop: on the roles of its store, on a customer's link, on the page behind a proxy, on pairing. Each is tried, each is
refused, and what was attacked is as it was; the counts stand at the end.

    python3 attacks.py PROGRAM

Outside sources: PostgreSQL 15's manual (row security, CREATE FUNCTION "Writing SECURITY DEFINER Functions Safely", GRANT), RFC 9110 (methods, Via),
RFC 9112 (Host, absolute form), RFC 7239 (Forwarded), RFC 6454 (Origin), RFC 6455 (WebSocket's handshake). Hostile input of each address of the page's
interface: enemy.py; the words and states of a link: share.py.
"""
import hashlib
import json
import os
import re
import socket
import sqlite3
import subprocess
import sys
import time

import recordings
from door import let_in
from harness import Scenario
from postgres import PASSWORD, Postgres, binaries

s = Scenario()
tried = {}


def attack(area, says, refused, seen=""):
    tried[area] = tried.get(area, 0) + 1
    s.check(f"{area}: {says}", refused, seen)


# ---- roles of the store ----
def roles():
    server = Postgres(s.folder)
    s.environment.update(server.environment())
    s.good("shop", "new", server.address("owner"))
    word = PASSWORD.replace("'", "''")
    server.ask(";".join(f"CREATE ROLE {login} LOGIN PASSWORD '{word}' IN ROLE enginewright_{role}" for login, role in
                        (("cell1", "cell"), ("cell2", "cell"), ("reader", "office"), ("bench1", "bench"), ("guest", "customer"))))
    with open(server.passwords, "a", encoding="utf-8") as file:
        file.write(f"*:*:*:bench1:{PASSWORD}\n*:*:*:guest:{PASSWORD}\n")
    books = {}
    for n in (1, 2):
        books[n] = s.path(f"cell-{n}.book")
        s.good("book", "new", "--book", books[n])
        s.good("pull", "add", s.write(f"run-{n}.csv", recordings.sweep(seed=n).text()), "--book", books[n])
        s.good("book", "note", f"a secret of cell {n}", "--book", books[n])
        s.good("book", "join", server.address(f"cell{n}"), "--cell", f"Cell {n}", "--book", books[n])
        s.good("book", "ship", "--book", books[n])
    db = {n: sqlite3.connect(books[n]) for n in books}
    writer = {n: db[n].execute("SELECT uid FROM writer WHERE first_seq IS NOT NULL").fetchone()[0] for n in books}
    identity = {n: db[n].execute("SELECT value FROM setting WHERE key = 'identity'").fetchone()[0] for n in books}
    last = server.number(f"SELECT max(seq) FROM enginewright.fact WHERE writer = '{writer[1]}'")
    held = db[1].execute("SELECT sha256 FROM recording ORDER BY id LIMIT 1").fetchone()[0]
    coming = recordings.sweep(seed=77).text()
    expected = hashlib.sha256(coming.encode()).hexdigest()

    def state():
        """Everything the store holds, but for when a shipper last came."""
        return server.ask("SELECT md5(string_agg(t, '')) FROM (SELECT b::text AS t FROM enginewright.book b UNION ALL SELECT w::text FROM enginewright.writer w UNION ALL SELECT f.writer || f.seq || f.digest FROM enginewright.fact f"
                          " UNION ALL SELECT t::text FROM enginewright.thing t UNION ALL SELECT sha256 || length(bytes) FROM enginewright.part ORDER BY 1) q").stdout

    def heads():
        return {c["cell"]: c for c in s.good("shop", "show", server.address("reader"), "--json").json["cells"]}

    before, shown = state(), {k: {f: v for f, v in c.items() if f != "clock_s"} for k, c in heads().items()}
    denied = ("permission denied", "must be owner", "must be superuser", "of the login", "stands elsewhere", "does not exist", "is not changed", "row-level security", "cannot set parameter", "must be a superuser", "must be member", "must have admin option")

    def sql(login, says, statement, empty=False):
        """Refused by the database; with `empty` answered, with nothing in it."""
        answer = server.ask(statement, login=login, check=False)
        good = answer.returncode == 0 and answer.stdout.strip() in ("", "0", "||") if empty else answer.returncode != 0 and any(d in answer.stderr for d in denied)
        attack("roles", f"{login}: {says}", good and "secret" not in answer.stdout + answer.stderr, answer)

    fact = f"'{writer[1]}', {last + 1}, 1, 'note', 1, NULL, NULL, NULL, '{{}}', 'd', '{{}}'"
    row = f"'{writer[1]}', {last + 1}, 1, 'note', '{{}}', 'd', '{{}}'"
    for statement in ("UPDATE enginewright.fact SET body = '{}'", "DELETE FROM enginewright.fact", "TRUNCATE enginewright.fact", "TRUNCATE enginewright.book CASCADE", "UPDATE enginewright.book SET name = 'mine'",
                      "UPDATE enginewright.writer SET login = session_user", "INSERT INTO enginewright.book VALUES ('x', 'x', 'x')", f"INSERT INTO enginewright.fact (writer, seq, mark, what, body, digest, parts) VALUES ({row})",
                      "SELECT bytes FROM enginewright.part", "SELECT * FROM enginewright.thing", "COPY enginewright.fact TO '/tmp/stolen'", "COPY enginewright.fact TO PROGRAM 'cat'",
                      "COPY enginewright.part TO STDOUT", "COPY enginewright.fact FROM PROGRAM 'echo x'", "ALTER TABLE enginewright.fact DISABLE TRIGGER kept", "ALTER TABLE enginewright.fact DISABLE TRIGGER ALL",
                      "ALTER TABLE enginewright.fact DISABLE ROW LEVEL SECURITY", "DROP TABLE enginewright.fact CASCADE", "DROP POLICY cell ON enginewright.fact", "CREATE TABLE enginewright.mine (a int)",
                      "CREATE FUNCTION enginewright.own(text) RETURNS void LANGUAGE sql AS 'SELECT'", "CREATE OR REPLACE FUNCTION enginewright.own(of text) RETURNS void LANGUAGE sql AS 'SELECT'",
                      "ALTER FUNCTION enginewright.put_part SET search_path = public", "CREATE TRIGGER mine BEFORE INSERT ON enginewright.fact EXECUTE FUNCTION enginewright.refuse_change()",
                      "CREATE VIEW enginewright.mine AS SELECT 1", "ALTER VIEW enginewright.head SET (security_invoker = false)", "GRANT enginewright_office TO session_user", "SET ROLE owner", "SET ROLE enginewright_office_x",
                      "SET SESSION AUTHORIZATION owner", "SET session_replication_role = replica", "ALTER ROLE owner PASSWORD 'mine'", "CREATE ROLE mine SUPERUSER", "ALTER SYSTEM SET log_statement = 'all'", "SELECT pg_read_file('/etc/passwd')",
                      "SELECT lo_import('/etc/passwd')", "CREATE EXTENSION adminpack", "CREATE FUNCTION pg_temp.sh(text) RETURNS int LANGUAGE c AS 'libc.so.6', 'system'", "SELECT passwd FROM pg_shadow", "SELECT enginewright.own('x')", "UPDATE enginewright.step SET version = 99", "DROP SCHEMA enginewright CASCADE"):
        for login in ("cell2", "reader", "bench1", "guest"):
            sql(login, statement, statement)
    for login in ("bench1", "guest"):
        for statement in ("SELECT * FROM enginewright.fact", "SELECT * FROM enginewright.book", "SELECT * FROM enginewright.head", f"SELECT enginewright.chain('{writer[1]}')", f"SELECT enginewright.part_of('{held}', '{writer[1]}')",
                          f"SELECT enginewright.reached('{writer[1]}')", f"SELECT enginewright.put_fact({fact})", "SELECT enginewright.join_book('x', 'x')"):
            sql(login, statement, statement)
    for statement in (f"SELECT enginewright.put_fact({fact})", f"SELECT enginewright.join_book('{identity[1]}', 'Cell 1')", f"SELECT enginewright.writer_line('{identity[1]}', 'w', '{writer[1]}', 5)", "SELECT enginewright.put_part('a', 1, 'plain', 'a')",
                      f"SELECT enginewright.note_shipping('{writer[1]}', 1, 0, 0)", "SET ROLE enginewright_cell"):
        sql("reader", statement, statement)

    # another cell's: reading
    for statement in (f"SELECT body FROM enginewright.fact WHERE writer = '{writer[1]}'", f"SELECT * FROM enginewright.writer WHERE uid = '{writer[1]}'", "SELECT * FROM enginewright.book WHERE name = 'Cell 1'", "SELECT * FROM enginewright.head WHERE name = 'Cell 1'",
                      f"SELECT * FROM enginewright.shipping WHERE writer = '{writer[1]}'", f"SELECT * FROM enginewright.chain('{writer[1]}')", f"SELECT * FROM enginewright.part_of('{held}', '{writer[1]}')", f"SELECT * FROM enginewright.part_of('{held}', '{writer[2]}')",
                      f"SELECT enginewright.has_part('{held}')", f"SELECT enginewright.reached('{writer[1]}')", f"SELECT enginewright.mark_at('{writer[1]}', {last})", "SELECT * FROM pg_stats WHERE schemaname = 'enginewright' AND tablename = 'fact' AND attname = 'body'"):
        sql("cell2", statement, statement, empty=True)
    answer = server.ask("CREATE FUNCTION pg_temp.tells(b json) RETURNS bool LANGUAGE plpgsql COST 0.0000001 AS $$ BEGIN RAISE NOTICE '%', b; RETURN true; END $$; SELECT count(*) FROM enginewright.fact WHERE pg_temp.tells(body) AND writer = '" + writer[1] + "'", login="cell2", check=False)
    attack("roles", "cell2: a cheap function that tells what the policy hides", "secret of cell 1" not in answer.stderr + answer.stdout, answer)
    answer = server.ask("CREATE TEMP TABLE fact (writer text, seq bigint, digest text, mark bigint); CREATE TEMP TABLE writer (uid text, login text); INSERT INTO pg_temp.writer VALUES ('" + writer[1] + "', 'cell2');"
                        f"SET search_path = pg_temp, enginewright; SELECT enginewright.put_fact({fact})", login="cell2", check=False)
    attack("roles", "cell2: tables of its own before those that a function reads", answer.returncode != 0 and "of the login" in answer.stderr, answer)
    answer = server.ask("CREATE FUNCTION pg_temp.session_user() RETURNS name LANGUAGE sql AS $$ SELECT 'cell1'::name $$; CREATE FUNCTION pg_temp.coalesce(text, text) RETURNS text LANGUAGE sql AS $$ SELECT 'x' $$;"
                        f"SET search_path = pg_temp, pg_catalog; SELECT enginewright.put_fact({fact})", login="cell2", check=False)
    attack("roles", "cell2: a function of its own in place of the database's", answer.returncode != 0 and "of the login" in answer.stderr, answer)
    s.refused("cell2 reads Cell 1 by the program", s.run("pull", "list", "--book", server.address("cell2") + "#Cell 1"), "Cell 1")
    # another cell's: writing
    for says, statement in (("a fact under cell 1's writer", f"SELECT enginewright.put_fact({fact})"), ("joins cell 1's book", f"SELECT enginewright.join_book('{identity[1]}', 'Cell 1')"),
                            ("a writer of its own in cell 1's book", f"SELECT enginewright.writer_line('{identity[1]}', 'w1', NULL, 1)"), ("that goes on from cell 1's", f"SELECT enginewright.writer_line('{identity[1]}', 'w2', '{writer[1]}', {last + 1})"),
                            ("a writer of its own book that goes on from cell 1's", f"SELECT enginewright.writer_line('{identity[2]}', 'w3', '{writer[1]}', {last + 1})"), ("cell 1's writer in its own book", f"SELECT enginewright.writer_line('{identity[2]}', '{writer[1]}', NULL, 1)"),
                            ("says when cell 1 shipped", f"SELECT enginewright.note_shipping('{writer[1]}', 99999, 0, 0)")):
        sql("cell2", says, statement)
    s.check("nothing of all that changed what the store holds", state() == before)
    now = {k: {f: v for f, v in c.items() if f != "clock_s"} for k, c in heads().items()}
    s.check("and the office sees the same two cells", now == shown, (now, shown))
    # bytes under the name that cell 1's next recording will have
    answer = server.ask(f"SELECT enginewright.put_part('{expected}', {len(coming)}, 'plain', 'poison'); SELECT enginewright.put_part('{held}', 1, 'plain', 'poison')", login="cell2", check=False)
    s.good("pull", "add", s.write("coming.csv", coming), "--book", books[1])
    s.good("book", "attach", s.write("large.bin", bytes(range(256)) * 2000), "--to", "day", "--book", books[1])
    server.ask(f"SELECT enginewright.put_part('{hashlib.sha256(bytes(range(256)) * 2000).hexdigest()}', 512000, 'plain', 'poison')", login="cell2", check=False)
    s.good("book", "ship", "--book", books[1])
    fetched = s.run("shop", "fetch", server.address("reader"), "--cell", "Cell 1", "--to", s.path("fetched.book"))
    attack("roles", "cell2: other bytes under the digest of what cell 1 will send, small and large", fetched.code == 0 and s.run("book", "verify", "--book", s.path("fetched.book")).code == 0, (answer, fetched))
    for d in db.values():
        d.close()
    # the sheet's own login is let in, a wrong password and a login without a password are not
    for login, secret in (("cell1", "wrong"), ("cell1", ""), ("owner", "wrong"), ("stranger", PASSWORD)):
        with open(s.path("wrong-pass"), "w", encoding="utf-8") as file:
            file.write(f"*:*:*:{login}:{secret}\n")
        os.chmod(s.path("wrong-pass"), 0o600)
        answer = s.run("shop", "show", server.address(login), PGPASSFILE=s.path("wrong-pass"))
        attack("roles", f"login {login} by the password '{'its own' if secret == PASSWORD else secret}'", answer.code == 2 and PASSWORD not in answer.err, answer)
    server.stop()


# ---- a customer's link ----
class Process:
    """A server of the program, and what a socket gets from it."""

    def __init__(self, *words, address="127.0.0.1"):
        self.process = subprocess.Popen([s.program, *words, "--port", "0", "--json"], env=s.environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        self.said = json.loads(self.process.stdout.readline())
        self.port, self.address = self.said["port"], address

    def raw(self, data, source=None, wait_s=20):
        """The status of the answer (0: none) and all of it."""
        answer = b""
        try:
            with socket.create_connection((self.address, self.port), timeout=wait_s, source_address=(source, 0) if source else None) as line:
                line.sendall(data if isinstance(data, bytes) else data.encode("latin-1"))
                while piece := line.recv(65536):
                    answer += piece
        except OSError:
            pass
        return (int(answer.split()[1]) if answer.startswith(b"HTTP/1.") else 0), answer

    def ask(self, path, method="GET", host=None, headers=(), body="", **more):
        lines = [f"{method} {path} HTTP/1.1", f"Host: {host or f'{self.address}:{self.port}'}", "Connection: close", *headers] + ([f"Content-Length: {len(body)}"] if body else [])
        return self.raw("\r\n".join(lines) + "\r\n\r\n" + body, **more)

    def stop(self):
        self.process.terminate()
        s.check("it ends when told", self.process.wait(30) == 0, self.process.returncode)


def links(book):
    until = time.strftime("%Y-%m-%d", time.gmtime(time.time() + 9 * 86400))
    made = [s.good("share", "new", "--book", book, "--engine", "hill-climb six", "--until", until, "--json").json["link"].split("/")[-2] for _ in range(3)]
    token, expired, revoked = made
    s.good("share", "revoke", 3, "--book", book)
    served = Process("share", "serve", "--book", book, "--public-name", "shop.example")
    page = Process("serve", "--book", book)
    whole = served.ask(f"/{token}/page")
    s.check("links: the link works", whole[0] == 200 and b"hill-climb six" in whole[1])
    kept = [os.path.join(s.folder, ".config", "enginewright", n) for n in os.listdir(os.path.join(s.folder, ".config", "enginewright")) if n.startswith("shares-")][0]
    with open(kept, encoding="utf-8") as file:
        rows = json.load(file)
    rows["shares"][1]["until"] = "2026-01-01T00:00:00Z"
    with open(kept + ".new", "w", encoding="utf-8") as file:
        json.dump(rows, file)
    os.chmod(kept + ".new", 0o600)
    os.replace(kept + ".new", kept)

    def shut(says, answer, *also):
        attack("links", says, answer[0] in (0, 400, 401, 403, 404, 405, 413, 414, 421, 431, 501, *also) and b"hill-climb six" not in answer[1], (answer[0], answer[1][:200]))

    for at in range(64):
        shut(f"digit {at + 1} of the token changed", served.ask(f"/{token[:at]}{'0' if token[at] != '0' else '1'}{token[at + 1:]}/page"))
    for says, path in (("expired", expired), ("revoked", revoked), ("revoked, asked again", revoked), ("half", token[:32]), ("twice", token + token), ("capitals", token.upper()), ("its digest", hashlib.sha256(token.encode()).hexdigest()), ("percent", "%" + format(ord(token[0]), "x") + token[1:] + "%00"),
                       ("none", "0" * 64), ("a star", "*"), ("two dots", ".."), ("a query", f"?{token}"), ("behind another", f"{'0' * 64}/{token}")):
        shut(f"token: {says}", served.ask(f"/{path}/page"))
    for method in ("POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "PROPFIND", "get", "G" * 3000):
        shut(f"method {method[:8]}", served.ask(f"/{token}/page", method))
    for path in ("/../{t}/page", "/{t}/../page", "/{t}/..;/page", "/{t}/./page", "/{t}/%2e%2e/api/v1/book", "/{t}/..%5c..%5cbook", "/{t}//page", "/{t}/page/", "/{t}/page%00", "/{t}/page;x", "/{t}/photo/../page", "/{t}/photo/1'--", "/{t}/photo/18446744073709551617", "/api/v1/book", "/api/v1/open",
                 "/api/v1/pair", "/api/v1/events", "/{t}/api/v1/book", "/page", "/report.pdf", "/{t}/figures", "/{t}/figures.js", "/{t}/backup"):
        shut(f"path {path}", served.ask(path.replace("{t}", token)))
    for header in (f"Authorization: Bearer {token}", f"Cookie: ew_here={token}", f"Cookie: ew_device={token}", f"Cookie: ew_share={token}", f"X-Token: {token}", f"Referer: https://shop.example/{token}/page", f"X-Original-URL: /{token}/page", f"X-Rewrite-URL: /{token}/page"):
        shut(f"the token in {header.split(':')[0]}", served.ask("/page", headers=[header]))
        shut(f"the token in {header.split(':')[0]}, at the page's own server", page.ask("/api/v1/book", headers=[header]))
    shut("the token at the page's own server", page.ask(f"/{token}/page"))
    shut("the page's key at the link's server", served.ask("/api/v1/open", "POST", headers=["Content-Type: application/json"], body=json.dumps({"key": page.said["link"].split("key=")[1]})))
    shut("a query of 60 kB", served.ask("/page?" + "a" * 60000))
    shut("headers without end", served.raw(f"GET /{token}/page HTTP/1.1\r\nHost: shop.example\r\n" + "X-A: b\r\n" * 9000))
    shut("two hosts", served.raw(f"GET /{token}/page HTTP/1.1\r\nHost: shop.example\r\nHost: evil.example\r\nConnection: close\r\n\r\n"))
    shut("another host in an absolute address", served.ask(f"http://evil.example/{token}/page", host="shop.example"))
    shut("a body behind the question that holds another", served.raw(f"GET /0/page HTTP/1.1\r\nHost: shop.example\r\nContent-Length: 5\r\nTransfer-Encoding: chunked\r\nConnection: close\r\n\r\n0\r\n\r\nGET /{token}/page HTTP/1.1\r\nHost: shop.example\r\n\r\n"))
    shut("a name of another site", served.ask(f"/{token}/page", host="evil.example"))
    for says, headers in (("a script of another site", ("Origin: https://evil.example", "Sec-Fetch-Site: cross-site", "Sec-Fetch-Mode: cors")), ("a picture of another site", ("Sec-Fetch-Site: cross-site", "Sec-Fetch-Mode: no-cors"))):
        shut(says, served.ask(f"/{token}/page", headers=headers))
    status, answer = served.ask(f"/{token}/page", headers=("Upgrade: websocket", "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==", "Sec-WebSocket-Version: 13", "Origin: https://evil.example"))
    attack("links", "a websocket of another site", status != 101, (status, answer[:100]))
    slow = [socket.create_connection(("127.0.0.1", served.port)) for _ in range(200)]
    for one in slow:
        one.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1024)
        one.sendall(f"GET /{token}/report HTTP/1.1\r\nHost: shop.example\r\n\r\n".encode())
    begun = time.monotonic()
    answer = served.ask(f"/{token}/page")
    attack("links", "two hundred that never read", answer[0] == 200 and time.monotonic() - begun < 20, (answer[0], time.monotonic() - begun))
    for one in slow:
        one.close()
    s.good("share", "revoke", 1, "--book", book)
    shut("the working link, revoked while it is served", served.ask(f"/{token}/page"))
    s.check("links: the book was never written to", s.good("book", "verify", "--book", book, "--json").json["whole"] is True)
    served.stop()
    page.stop()


# ---- a proxy on this machine, and pages of other sites ----
FORWARDING = ("X-Forwarded-For: 127.0.0.1", "x-forwarded-for: ::1", "X-Forwarded-Host: 127.0.0.1", "X-Forwarded-Proto: https", "X-Forwarded: for=127.0.0.1", "Forwarded: for=127.0.0.1", "Forwarded: for=\"[::1]\";host=127.0.0.1;proto=http", "Via: 1.1 front", "Via: 1.0 localhost (proxy)",
              "X-Real-IP: 127.0.0.1", "X-Client-IP: 127.0.0.1", "Client-IP: 127.0.0.1", "X-Original-Host: 127.0.0.1", "X-Original-URL: /api/v1/book", "True-Client-IP: 127.0.0.1", "X-Cluster-Client-IP: 127.0.0.1", "X-ProxyUser-Ip: 127.0.0.1", "X-Originating-IP: 127.0.0.1", "X-Remote-IP: 127.0.0.1", "X-Remote-Addr: 127.0.0.1", "X-Host: 127.0.0.1")


def proxies(book):
    page = Process("serve", "--book", book)
    cookie = "Cookie: " + let_in(page.said)
    here = f"127.0.0.1:{page.port}"
    start = json.dumps({"sources": ["practice:"]})

    def shut(says, answer):
        attack("proxy", says, answer[0] in (0, 400, 401, 403, 404, 405, 413, 421, 431, 501) and b'"kinds"' not in answer[1] and b'"code":"' not in answer[1], (answer[0], answer[1][:200]))

    s.check("proxy: the person is let in", page.ask("/api/v1/book", headers=[cookie])[0] == 200)
    for header in FORWARDING:
        shut(f"{header}, with this machine's cookie that a browser sends to the proxy too", page.ask("/api/v1/book", headers=[cookie, header]))
    for header in FORWARDING[:12]:
        shut(f"{header}, without a cookie", page.ask("/api/v1/book", headers=[header]))
        shut(f"{header}: a code to write", page.ask("/api/v1/devices/code", "POST", headers=[cookie, header, "Content-Type: application/json"], body='{"rights":"write"}'))
        shut(f"{header}: a recording begins", page.ask("/api/v1/live/start", "POST", headers=[cookie, header, "Content-Type: application/json"], body=start))
    for host in ("evil.example", f"evil.example:{page.port}", "127.0.0.1.evil.example", f"127.0.0.1.evil.example:{page.port}", f"127.0.0.1:{page.port ^ 1}", f"localhost.evil.example:{page.port}", f"2130706433:{page.port}", f"0x7f.1:{page.port}", f"0.0.0.0:{page.port}", "notpage.example", "page.example.evil.example",
                 f"page.example@evil.example:{page.port}", f"evil.example\t127.0.0.1:{page.port}", f"127.0.0.1:{page.port}@evil.example", f"127.0.0.1:{page.port}#", f"[::ffff:127.0.0.1]:{page.port}", f"127.0.0.1:{page.port}, evil.example"):
        shut(f"a name that points here (rebinding): {host.replace(str(page.port), 'PORT')}", page.ask("/api/v1/book", host=host, headers=[cookie]))
    for line in (f"GET http://evil.example/api/v1/book HTTP/1.1\r\nHost: {here}", f"GET http://{here}/api/v1/book HTTP/1.1\r\nHost: evil.example", f"GET //evil.example/api/v1/book HTTP/1.1\r\nHost: {here}", f"GET /api/v1/book HTTP/1.1\r\nHost: {here}\r\nHost: evil.example",
                 "GET /api/v1/book HTTP/1.1", f"GET /api/v1/book HTTP/1.1\r\nHost : {here}", f"GET /api/v1/book HTTP/1.1\r\nHost: {here}\r\n X-Forwarded-For: 1.2.3.4\r\nVia: 1.1 x", f"CONNECT {here} HTTP/1.1\r\nHost: {here}", f"GET /api/v1/book HTTP/1.1\r\nHost: evil.example\r\nX-Forwarded-Host: {here}"):
        shut(f"as it stands: {line.replace(str(page.port), 'PORT')[:60]!r}", page.raw(f"{line}\r\n{cookie}\r\nConnection: close\r\n\r\n"))
    for origin in ("null", "https://evil.example", "http://evil.example", f"https://{here}", "http://127.0.0.1", f"http://127.0.0.1:{page.port ^ 1}", f"http://localhost.evil.example:{page.port}", f"http://{here}.evil.example", f"http://evil.example#{here}", "file://", "http://page.example:1"):
        for path, body in (("/api/v1/live/start", start), ("/api/v1/devices/code", '{"rights":"write"}'), ("/api/v1/book/note", '{"text":"x"}')):
            shut(f"Origin {origin.replace(str(page.port), 'PORT')} posts to {path}", page.ask(path, "POST", headers=[cookie, f"Origin: {origin}", "Content-Type: application/json"], body=body))
    for site in ("cross-site", "same-site", "none, cross-site"):
        for mode in ("no-cors", "cors", "websocket", "navigate"):
            shut(f"a browser that says {site}, {mode}", page.ask("/api/v1/book", headers=[cookie, f"Sec-Fetch-Site: {site}", f"Sec-Fetch-Mode: {mode}"]))
    for path in ("/", "/api/v1/events", "/api/v1/book"):
        status, answer = page.ask(path, headers=[cookie, "Connection: Upgrade", "Upgrade: websocket", "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==", "Sec-WebSocket-Version: 13", "Origin: https://evil.example", "Sec-Fetch-Site: cross-site"], wait_s=3)
        attack("proxy", f"a websocket of another site to {path}", status != 101 and b'"kinds"' not in answer, (status, answer[:100]))
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"):
        shut(f"a form of another site as {kind}", page.ask("/api/v1/live/start", "POST", headers=[cookie, "Origin: https://evil.example", f"Content-Type: {kind}"], body=start))
    page.stop()


# ---- pairing ----
def pairing(book, addresses):
    address, neighbours = addresses[0], addresses[1:]
    page = Process("serve", "--book", book, "--lan")
    cookie = "Cookie: " + let_in(page.said)
    kind = "Content-Type: application/json"

    def code(rights="write"):
        return json.loads(page.ask("/api/v1/devices/code", "POST", headers=[cookie, kind], body=json.dumps({"rights": rights}))[1].split(b"\r\n\r\n", 1)[1])["code"]

    def pair(given, source, name="tablet"):
        page.address = address
        answer = page.ask("/api/v1/pair", "POST", headers=[kind], body=json.dumps({"code": given, "name": name}), source=source)
        page.address = "127.0.0.1"
        return answer

    def as_device(token, path, method="GET", body="", source=None):
        page.address = address
        answer = page.ask(path, method, headers=[kind, f"Cookie: ew_device={token}"], body=body, source=source)
        page.address = "127.0.0.1"
        return answer

    def token_of(answer):
        return answer[1].split(b"ew_device=")[1].split(b";")[0].decode()

    def shut(says, answer):
        attack("pairing", says, answer[0] in (0, 400, 401, 403, 404, 405, 413, 421, 431) and b"Set-Cookie" not in answer[1] and b'"kinds"' not in answer[1], (answer[0], answer[1][:300]))

    right = code()
    for guess in range(5):
        shut(f"guess {guess + 1} of five", pair(f"{(int(right) + 1 + guess) % 100000000:08d}", neighbours[0]))
    shut("the right code after five guesses", pair(right, neighbours[0]))
    first = pair(right, neighbours[1])
    s.check("pairing: another address is let in", first[0] == 200, first)
    token = token_of(first)
    shut("the code a second time, from there", pair(right, neighbours[1]))
    shut("the code a second time, from elsewhere", pair(right, neighbours[2]))
    former = code()
    shut("a code that a newer one replaced", (code(), pair(former, neighbours[2]))[1])
    for given in ("", " ", "0" * 7, "0" * 9, "abcdefgh", "00000000\u0000", [], {}, None, 12345678, "1e7", "%", "' OR 1=1 --", "0" * 60000):
        shut(f"a code that is none: {str(given)[:12]!r}", pair(given, neighbours[2]))
    look = code("view")
    viewer = token_of(pair(look, neighbours[2]))
    for path, body in (("/api/v1/live/start", '{"sources":["practice:"]}'), ("/api/v1/devices/code", '{"rights":"write"}'), ("/api/v1/note", '{"text":"x"}'), ("/api/v1/live/stop", "{}")):
        shut(f"who may look posts to {path}", as_device(viewer, path, "POST", body))
    for path, body in (("/api/v1/devices/code", '{"rights":"control"}'), ("/api/v1/open", '{"key":"' + "0" * 32 + '"}'), ("/api/v1/live/start", '{"sources":["tcp://127.0.0.1:22"]}')):
        shut(f"who may write posts to {path}", as_device(token, path, "POST", body))
    for says, made in (("one letter changed", ("0" if token[0] != "0" else "1") + token[1:]), ("cut short", token[:-1]), ("with more", token + "0"), ("empty", ""), ("of zeros", "0" * len(token))):
        shut(f"a device's token {says}", as_device(made, "/api/v1/book"))
    page.address = address
    shut("a device's token as this machine's cookie", page.ask("/api/v1/devices/code", "POST", headers=[kind, f"Cookie: ew_here={token}"], body='{"rights":"write"}'))
    shut("this machine's cookie from the network", page.ask("/api/v1/devices/code", "POST", headers=[kind, cookie], body='{"rights":"write"}', source=neighbours[2]))
    shut("the printed key from the network", page.ask("/api/v1/open", "POST", headers=[kind], body=json.dumps({"key": page.said["link"].split("key=")[1]}), source=neighbours[2]))
    page.address = "127.0.0.1"
    listed = json.loads(page.ask("/api/v1/devices", headers=[cookie])[1].split(b"\r\n\r\n", 1)[1])["devices"]
    s.check("pairing: two devices are known", len(listed) == 2, listed)
    s.check("pairing: the token works until it is revoked", as_device(token, "/api/v1/book")[0] == 200)
    for device in listed:
        page.ask(f"/api/v1/devices/{device['id']}/revoke", "POST", headers=[cookie, kind], body="{}")
    shut("a revoked device", as_device(token, "/api/v1/book"))
    shut("a revoked device that writes", as_device(token, "/api/v1/note", "POST", '{"text":"x"}'))
    shut("a revoked viewer", as_device(viewer, "/api/v1/book"))
    last = code()
    page.stop()
    page = Process("serve", "--book", book, "--lan")
    shut("a code of the server that was before", pair(last, neighbours[2]))
    shut("a revoked device after a restart", as_device(token, "/api/v1/book"))
    page.stop()
    told = subprocess.Popen([s.program, "serve", "--book", book, "--lan", "--port", "0"], env=s.environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    time.sleep(2)
    told.terminate()
    text = told.communicate(timeout=30)[0]
    attack("pairing", "tokens over clear text without a word", "clear text" in text, text)


if "--inside" in sys.argv:  # a network of its own: several neighbours on one machine
    near = ["10.9.0.%d" % i for i in range(1, 5)]
    subprocess.run(["ip", "link", "set", "lo", "up"], check=True)
    for one in near:
        subprocess.run(["ip", "address", "add", one + "/24", "dev", "lo"], check=True)
    day = s.good("demo", "--folder", s.path("day"), "--json").json
    pairing(os.path.join(s.folder, day["book"]), near)
    print("attacks tried: " + ", ".join(f"{area} {count}" for area, count in tried.items()))
    s.finish()

if binaries() is None:
    s.skip("the roles of the store", "PostgreSQL is not installed (package postgresql-15)")
else:
    roles()
day = s.good("demo", "--folder", s.path("day"), "--json").json
links(os.path.join(s.folder, day["book"]))
proxies(os.path.join(s.folder, day["book"]))
if subprocess.run(["unshare", "-rn", "ip", "link", "set", "lo", "up"], capture_output=True, check=False).returncode == 0:
    inside = subprocess.run(["unshare", "-rn", sys.executable, os.path.abspath(__file__), s.program, "--inside"], stdout=subprocess.PIPE, text=True, check=False)
    print(re.sub(r"^\[  PASSED  \].*\n", "", inside.stdout, flags=re.M), end="")
    s.passed += int((re.search(r"PASSED  \] (\d+)", inside.stdout) or [0, 0])[1])
    s.failed += inside.returncode != 0
else:
    s.skip("pairing, with several neighbours", "this kernel makes no network of its own (unshare)")
print("attacks tried: " + ", ".join(f"{area} {count}" for area, count in tried.items()))
s.finish()
