#!/usr/bin/env python3
"""Live sessions through the command line: the practice cell in and over TCP, files that grow, replays,
peers that are slow, half open, gone and back, two recorders on one book, and pulls judged as they end.

Usage: cell_live.py PROGRAM"""
import json
import os
import socket
import subprocess
import sys
import tempfile
import threading
import time

program = sys.argv[1]
passed = failed = 0


def check(good, says):
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print("FAILED:", says)


def record(book, *sources, more=(), input_text="", timeout=120):
    command = [program, "cell", "record", "--json", "--book", book]
    for source in sources:
        command += ["--source", source]
    ran = subprocess.run(command + list(more), input=input_text, capture_output=True, text=True, timeout=timeout)
    return ran, [json.loads(line) for line in ran.stdout.splitlines()]


def of(news, event):
    return [n for n in news if n["event"] == event]


def verify(book):
    ran = subprocess.run([program, "book", "verify", "--json", "--book", book], capture_output=True, text=True)
    return json.loads(ran.stdout)


def pulls_are_cut_and_judged(folder):
    book = os.path.join(folder, "pulls.book")
    ran, news = record(book, "practice:?pace=30&run=sweep 2500 6500 300;wait 2;sweep 2500 6500 300;wait 2;"
                             "sweep 2500 6500 300;wait 1;end")
    check(ran.returncode == 0, "a practice session ends well: " + ran.stderr)
    pulls = of(news, "pull")
    check(len(pulls) == 3 and all(p["found"] and p["armed"] for p in pulls), f"three pulls are found: {pulls}")
    check(all(abs(p["high_rpm"] - 6500) < 40 for p in pulls), "each reaches its end")
    check(all(p["after_s"] >= 0 for p in pulls), f"it is told how long reducing and judging took: {[p['after_s'] for p in pulls]}")
    check(pulls[0]["verdict"] is None and pulls[1]["verdict"] and pulls[2]["against"] == pulls[1]["pull"],
          "each is judged against the last")
    found = verify(book)
    stored = of(news, "commit")[-1]
    check(found["whole"] and {r["id"]: r["rows"] for r in found["recordings"]}[stored["recording"]] == stored["stored_rows"],
          "verify counts the rows of the live recording")
    again = os.path.join(folder, "again.book")
    ran, news = record(again, f"replay:{book}#{stored['recording']}?speed=100")
    check(of(news, "commit")[-1]["stored_rows"] == stored["stored_rows"], "a replay gives every row again")
    check([round(p["band_mean_n_m"], 6) for p in of(news, "pull")] == [round(p["band_mean_n_m"], 6) for p in pulls],
          "and the same pulls")


def the_seed_decides(folder):
    ends = []
    for k in range(2):
        book = os.path.join(folder, f"seed{k}.book")
        _, news = record(book, "practice:?pace=0&seed=9&run=sweep 2500 6500 300;wait 1;end")
        ends.append([p["band_mean_n_m"] for p in of(news, "pull")])
    check(len(ends[0]) == 1 and ends[0] == ends[1], f"the same seed gives the same pull: {ends}")


def an_unarmed_pull_is_not_judged(folder):
    book = os.path.join(folder, "cold.book")
    _, news = record(book, "practice:?pace=30&run=oil 40;sweep 2500 6500 300;wait 1;end")
    arming = of(news, "arming")
    check(arming and not arming[0]["armed"] and arming[0]["why"]["id"] == "desk.oil-outside-window", f"cold oil refuses arming: {arming}")
    pull = of(news, "pull")[0]
    check(pull["found"] and not pull["armed"] and pull["verdict"] is None, "the pull is kept, and not judged")


def disarmed_by_hand(folder):
    book = os.path.join(folder, "disarmed.book")
    _, news = record(book, "practice:?pace=20&run=oil 90;coolant 80;wait 20;sweep 2500 6500 300;wait 1;end",
                     input_text="disarm\n")
    arming = of(news, "arming")
    check(arming and arming[0]["disarmed"] and arming[0]["why"]["id"] == "desk.disarmed", f"disarming is told with its reason: {arming}")
    pull = of(news, "pull")[0]
    check(pull["found"] and not pull["armed"] and pull["why"] and pull["why"]["id"] == "desk.disarmed", f"a pull while disarmed is kept, not judged: {pull}")
    book = os.path.join(folder, "armed.book")
    _, news = record(book, "practice:?pace=20&run=oil 90;coolant 80;wait 20;sweep 2500 6500 300;wait 1;end",
                     input_text="disarm\narm\n")
    arming = of(news, "arming")
    check([a.get("disarmed") for a in arming[:2]] == [True, False], f"armed again is told: {arming}")
    check(of(news, "pull")[0]["armed"], "and the pull is armed")


def a_file_that_grows(folder):
    book, path = os.path.join(folder, "file.book"), os.path.join(folder, "log.csv")
    with open(path, "w") as log:
        log.write("Time [s],RPM [rpm]\n0,1000\n")

    def write():
        with open(path, "a") as log:
            for i in range(1, 50):
                log.write(f"{i / 100},{1000 + i}\n")
                log.flush()
                time.sleep(0.005)

    writer = threading.Thread(target=write)
    writer.start()
    _, news = record(book, f"file:{path}", more=["--for", "1.5 s"])
    writer.join()
    check(of(news, "commit")[-1]["stored_rows"] == 50, "every row of a file being written")


def a_peer_that_comes_and_goes(folder):
    book = os.path.join(folder, "tcp.book")
    server = socket.create_server(("127.0.0.1", 0))
    port = server.getsockname()[1]

    def serve():
        one, _ = server.accept()
        one.sendall(b"Time [s],RPM [rpm]\n0,1\n0.1,2\n0.2,3\n")
        time.sleep(0.2)
        one.sendall(b"0.3,")  # a row cut in two by the break
        one.close()
        two, _ = server.accept()
        for byte in b"Time [s],RPM [rpm]\n5,9\n":  # a slow one
            two.sendall(bytes([byte]))
            time.sleep(0.005)
        two.sendall(b"\x00\xff\xfe rubbish\n6,10\n")
        time.sleep(0.3)
        two.sendall(b"Time [s],RPM [rpm],Torque [N.m]\n7,1,2\n")
        time.sleep(3)
        two.close()

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    _, news = record(book, f"tcp://127.0.0.1:{port}", more=["--for", "2.5 s"])
    what = [n["what"] for n in of(news, "source")]
    check(what.count("connected") == 2 and "lost" in what, f"lost and back: {what}")
    check("garbage" in what and "header changed" in what, f"rubbish and a new header are told: {what}")
    check(any(abs(g["length_s"] - 4.8) < 0.01 for g in of(news, "gap")), f"the gap is told: {of(news, 'gap')}")
    last = {}
    for n in of(news, "commit"):
        last[n["recording"]] = n["stored_rows"]
    check(sorted(last.values()) == [1, 5], f"five rows, and one with the new channels: {last}")
    check(verify(book)["whole"], "the book is whole")


def two_sources_at_once(folder):
    book = os.path.join(folder, "two.book")
    _, news = record(book, "practice:?pace=20&run=wait 5;end", "practice:?pace=20&rate=20&seed=2&run=wait 5;end")
    last = {n["source"]: n["stored_rows"] for n in of(news, "commit")}
    check(sorted(last.values())[0] * 4 < sorted(last.values())[1], f"each with its own rate: {last}")


def one_recorder_a_book(folder):
    book = os.path.join(folder, "lock.book")
    first = subprocess.Popen([program, "cell", "record", "--json", "--book", book, "--source", "practice:"],
                             stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True)
    for line in first.stdout:
        if json.loads(line)["event"] == "commit":
            break
    second, _ = record(book, "practice:", timeout=10)
    check(second.returncode == 2 and "another recorder" in second.stderr, "a second recorder is refused")
    first.terminate()
    rest = [json.loads(line) for line in first.stdout]
    check(first.wait(10) == 0 and rest[-1]["event"] == "end", "a terminated recorder ends well")
    found = verify(book)
    check(found["whole"] and found["recordings"][0]["rows"] == of(rest, "commit")[-1]["stored_rows"], "with every row")


def the_simulator_is_a_logger(folder):
    book = os.path.join(folder, "sim.book")
    simulator = subprocess.Popen([program, "cell", "simulate", "--pace", "10", "--seed", "4"], stdin=subprocess.PIPE,
                                 stdout=subprocess.PIPE, text=True)
    port = simulator.stdout.readline().rsplit(":", 1)[1].strip()
    ran, news = record(book, f"tcp://127.0.0.1:{port}", more=["--for", "3.2 s"],
                       input_text="send fault head-gasket\nsend sweep 2500 6000 300\nmark the sound changed\nsend nonsense\n")
    simulator.terminate()
    lesson = simulator.communicate()[0]
    check(any(p["found"] for p in of(news, "pull")), "a pull over the socket")
    replies = [n["why"] for n in of(news, "source") if n["what"] == "reply"]
    check(any(r["text"].startswith("ok sweep") for r in replies) and any(r["text"].startswith("refused") for r in replies),
          f"commands are answered: {replies}")
    check("coolant pressure" in lesson, "the lesson tells what was to be noticed")


def a_shut_down_over_the_socket(folder):
    for control in ("?control=yes", ""):
        book = os.path.join(folder, f"stop{len(control)}.book")
        simulator = subprocess.Popen([program, "cell", "simulate", "--seed", "4"], stdin=subprocess.PIPE,
                                     stdout=subprocess.PIPE, text=True)
        port = simulator.stdout.readline().rsplit(":", 1)[1].strip()
        _, news = record(book, f"tcp://127.0.0.1:{port}{control}", more=["--for", "3 s"],
                         input_text="send fault oil-pump\nsend speed 5000\nsend throttle 60\n")
        simulator.terminate()
        simulator.communicate()
        requests = {n["name"]: n["done"] for n in of(news, "request")}
        check(any(n.get("name") == "oil pressure floor" for n in of(news, "alarm")), "oil pressure is lost")
        check(requests.get("shut the throttle") is bool(control), f"asked only where it may be: {control} {requests}")


def the_lesson_tells_what_was_missed(folder):
    book = os.path.join(folder, "lesson.book")
    _, news = record(book, "practice:?pace=0&run=wait 5;speed 4000;throttle 50;wait 5;fault head-gasket;wait 3;throttle 10;wait 2;"
                           "fault lean-cylinder;wait 5;end", more=["--alarms", "none"])
    told = [n["why"]["arguments"] for n in of(news, "source") if n["what"] == "reply" and n["why"]["id"] == "cell.lesson"]
    answers = {t["fault"]["text"]: t["answer"]["message"] for t in told}
    check(len(told) == 2 and answers["head-gasket"]["id"] == "cell.lesson-answered" and
          abs(answers["head-gasket"]["arguments"]["time"]["quantity"] - 3) < 0.05 and
          answers["head-gasket"]["arguments"]["line"]["text"] == "throttle 10" and
          answers["lean-cylinder"]["id"] == "cell.lesson-missed", f"what was answered and what was missed: {told}")


def refusals(folder):
    for source, word in (("nothing:", "not of a known kind"), ("tcp://127.0.0.1", "HOST:PORT"), ("practice:?rate=x", "rate"),
                         ("file:", "path"), ("replay:x", "replay:BOOK#RECORDING"), ("serial:/dev/null?baud=7", "baud")):
        ran, _ = record(os.path.join(folder, "no.book"), source, timeout=10)
        check(ran.returncode == 2 and word in ran.stderr, f"{source} is refused plainly: {ran.stderr}")
    ran, _ = record(os.path.join(folder, "no.book"), timeout=10)
    check(ran.returncode == 2 and "--source" in ran.stderr, "no source is refused")


with tempfile.TemporaryDirectory() as folder:
    for scenario in (pulls_are_cut_and_judged, the_seed_decides, an_unarmed_pull_is_not_judged, disarmed_by_hand, a_file_that_grows,
                     a_peer_that_comes_and_goes, two_sources_at_once, one_recorder_a_book, the_simulator_is_a_logger,
                     a_shut_down_over_the_socket,
                     the_lesson_tells_what_was_missed, refusals):
        scenario(folder)
if failed:
    print(f"[  FAILED  ] {failed} test(s).")
print(f"[  PASSED  ] {passed} test(s).")
sys.exit(1 if failed else 0)
