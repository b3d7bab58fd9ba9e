#!/usr/bin/env python3
"""Which files the page's form of sources may have read, and who is shown what stands in them.

A path comes from the person at this machine alone, and leads to a file of a logger: whole, without .., no link out of it to where the
system keeps its own. What could not be read is quoted to that person; every other device is told its line's number and what was wrong.

Outside sources: symlink(7), mkfifo(3); for the stream of events WHATWG HTML 9.2. Whom this trusts: docs/manual/whom-this-trusts.md.
"""
import http.client
import json
import os
import sys
import tempfile
import threading
import time

import page_api
from page_api import Server, check, run

SECRET = "kept-for-one-7431"
WORDS = f"a line, {SECRET}, that is no row\n# {SECRET} behind a mark\n"


class Device:
    """Another device, paired, with the right to write."""

    def __init__(self, server):
        self.server = server
        status, made = server.json("POST", "devices/code", {"rights": "write"})
        check("a code is made", status == 200, made)
        status, _, headers = self.ask("POST", "pair", {"code": made["code"], "name": "tablet"}, cookie=None)
        check("a device is paired", status == 200, status)
        self.cookie = headers["Set-Cookie"].split(";")[0]

    def ask(self, method, path, value=None, cookie=""):
        line = http.client.HTTPConnection("127.0.0.1", self.server.port, timeout=60)
        try:
            head = {"Content-Type": "application/json"} if value is not None else {}
            if cookie is not None:
                head["Cookie"] = cookie or self.cookie
            line.request(method, "/api/v1/" + path, body=None if value is None else json.dumps(value), headers=head)
            answer = line.getresponse()
            return answer.status, answer.read().decode(), dict(answer.getheaders())
        finally:
            line.close()


class Listens(threading.Thread):
    """What comes on somebody's stream of events."""

    def __init__(self, server, cookie):
        super().__init__(daemon=True)
        self.line = http.client.HTTPConnection("127.0.0.1", server.port, timeout=60)
        self.line.request("GET", "/api/v1/events", headers={"Cookie": cookie})
        self.answer, self.heard = self.line.getresponse(), ""
        self.start()

    def run(self):
        try:
            while data := self.answer.read1(65536):
                self.heard += data.decode()
        except (OSError, ValueError, http.client.HTTPException, AttributeError):
            pass

    def news(self):
        lines = self.heard.split("\n")
        return [json.loads(line[6:]) for before, line in zip(lines, lines[1:]) if before == "event: news" and line.startswith("data: ")]


def put(server, path):
    status, answer = server.json("POST", "live/source", {"kind": "file", "typed": {"path": path}})
    check(f"{path}: the form answers", status == 200, answer)
    said = [fault["says"] for fault in answer["faults"] if fault["field"] == "path"]
    return answer["url"], said[0] if said else ""


def refused(server, path, words):
    url, says = put(server, path)
    check(f"{path} is refused beside its field, with what is wrong", url is None and words in says, (url, says))
    status, answer = server.json("POST", "live/start", {"sources": [f"file:{path}"]})
    check(f"{path} is not begun by its address either", status == 400, (status, answer))


def paths(server, folder):
    good = os.path.join(folder, "a logger.csv")
    with open(good, "w", encoding="utf-8") as file:
        file.write("Time [s],Engine Speed [rpm],Torque [N.m]\n")
    url, says = put(server, good)
    check("the file of a logger is taken", url == f"file:{good}", (url, says))
    later = os.path.join(folder, "later.csv")
    check("so is one that is not there yet", put(server, later)[0] == f"file:{later}")
    refused(server, "/etc/shadow", "nothing under /etc/")
    refused(server, f"{folder}/../../etc/shadow", "without ..")
    refused(server, "shadow", "the whole path")
    refused(server, "/proc/self/environ", "nothing under /proc/")
    refused(server, "/dev/mem", "nothing under /dev/")
    for name, to, words in (("straight", "/etc/shadow", "nothing under /etc/"), ("device", "/dev/zero", "nothing under /dev/"), ("own", "/proc/self/environ", "nothing under /proc/")):
        link = os.path.join(folder, f"link-{name}.csv")
        os.symlink(to, link)
        refused(server, link, words)
    os.symlink(os.path.join(folder, "link-straight.csv"), os.path.join(folder, "link-of-a-link.csv"))
    refused(server, os.path.join(folder, "link-of-a-link.csv"), "nothing under /etc/")
    os.symlink("/etc", os.path.join(folder, "place"))
    refused(server, os.path.join(folder, "place", "shadow"), "nothing under /etc/")
    near = os.path.join(folder, "near.csv")
    os.symlink(good, near)
    check("a link to a logger's file is followed", put(server, near)[0] == f"file:{near}")
    if os.geteuid() != 0:
        shut = os.path.join(folder, "shut.csv")
        with open(shut, "w", encoding="utf-8"):
            pass
        os.chmod(shut, 0)
        refused(server, shut, "may not read")
    return near


def others(server, device, folder):
    path = os.path.join(folder, "theirs.csv")
    with open(path, "w", encoding="utf-8") as file:
        file.write(WORDS)
    for what in (path, "/etc/shadow", f"{folder}/../{os.path.basename(folder)}/theirs.csv"):
        status, text, _ = device.ask("POST", "live/source", {"kind": "file", "typed": {"path": what}})
        check(f"another device puts no source together: {what}", status == 403 and "on the machine that serves" in text and SECRET not in text, (status, text))
        status, text, _ = device.ask("POST", "live/start", {"sources": [f"file:{what}"]})
        check(f"and begins none: {what}", status in (400, 403) and SECRET not in text, (status, text))
    status, text, _ = device.ask("POST", "live/start", {"sources": [f"replay:{os.path.join(folder, 'elsewhere.book')}#1"]})
    check("nor a recording of another book", status in (400, 403), (status, text))
    status, text, _ = device.ask("POST", "live/control", {"line": "alarms /etc/shadow"})
    check("nor a table of alarms by its path", status == 400, (status, text))
    status, text, _ = device.ask("POST", "live/start", {"sources": ["modbus://127.0.0.1:1/1?map=/etc/shadow"]})
    check("nor a map of a bus by its path", status in (400, 403), (status, text))


def quoted(server, device, folder):
    """Begun by the person here, looked at by both."""
    path = os.path.join(folder, "words.csv")
    rows = "".join(f"{k / 20:.2f},{900 + k % 7},{k % 5}\n" for k in range(200))
    with open(path, "w", encoding="utf-8") as file:
        file.write("Time [s],Engine Speed [rpm],Torque [N.m]\n" + rows + WORDS)
    url, says = put(server, path)
    check("the file is taken", url is not None, says)
    here, there = Listens(server, server.cookie), Listens(server, device.cookie)
    status, answer = server.json("POST", "live/start", {"sources": [url]})
    check("it is begun", status == 200, answer)
    until = time.monotonic() + 20
    garbage = []
    while time.monotonic() < until and not garbage:
        time.sleep(0.1)
        garbage = [one for one in there.news() if one["news"].get("what") == "garbage"]
    time.sleep(0.5)
    mine = [one for one in here.news() if one["news"].get("what") == "garbage"]
    check("the person here is quoted the line", len(mine) > 0 and SECRET in mine[0]["text"] and SECRET in mine[0]["why"], mine)
    check("the other device is told its number", len(garbage) > 0 and "line 202" in garbage[0]["text"] and "line 202" in garbage[0]["why"], garbage)
    check("and what was wrong with it", len(garbage) > 0 and "words between rows" in garbage[0]["text"], garbage)
    check("and its facts say the same", "202" in json.dumps(garbage[0]["news"]["why"]) if garbage else False, garbage)
    check("nothing else of the line reached it", SECRET not in there.heard, there.heard[-2000:])
    check("what begins with # in a file is told to nobody as a reply", f"{SECRET} behind a mark" not in here.heard)
    status, text, _ = device.ask("GET", "live")
    check("nor when it asks afterwards", status == 200 and SECRET not in text and "line 202" in text, text[-600:])
    status, text = server.json("GET", "live")
    check("the person here is, then too", SECRET in json.dumps(text), "")
    german, _ = http.client.HTTPConnection("127.0.0.1", server.port, timeout=60), None
    german.request("GET", "/api/v1/live", headers={"Cookie": device.cookie, "Accept-Language": "de"})
    said = german.getresponse().read().decode()
    check("in German as well", "Zeile 202" in said and SECRET not in said, said[-600:])
    status, answer = device.ask("POST", "live/stop", {})[:2]
    check("it is stopped", status == 200, answer)


def main():
    with tempfile.TemporaryDirectory(prefix="enginewright-sources-") as folder:
        folder = os.path.realpath(folder)
        book = os.path.join(folder, "shop.book")
        made = run("book", "new", "--shop", "Sources", "--book", book)
        check("a book is made", made.returncode == 0, made.stderr)
        server = Server(book, options=("--lan",))
        device = Device(server)
        paths(server, folder)
        others(server, device, folder)
        quoted(server, device, folder)
        check("the server ends in order", server.stop() == 0)
    print(f"[  PASSED  ] {page_api.passed} test(s).")
    if page_api.failed:
        print(f"[  FAILED  ] {page_api.failed} test(s).")
    return page_api.failed > 0


if __name__ == "__main__":
    sys.exit(main())
