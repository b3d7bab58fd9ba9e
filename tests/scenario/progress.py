"""How far a long command is: on a terminal a share that never goes back and is taken away at the end, whatever comes of
it; where standard error is not a terminal, nothing."""
import os
import re
import subprocess
import threading

from harness import Scenario

s = Scenario()


def on_terminal(*args):
    """The exit code, what was printed, and everything that the terminal of standard error was sent."""
    master, slave = os.openpty()
    seen = []

    def listen():
        while True:
            try:
                part = os.read(master, 65536)
            except OSError:  # the last writer has gone
                return
            if not part:
                return
            seen.append(part)

    listener = threading.Thread(target=listen, daemon=True)
    listener.start()
    done = subprocess.run([s.program, *map(str, args)], stdout=subprocess.PIPE, stderr=slave, stdin=subprocess.DEVNULL,
                          env=s.environment, cwd=s.folder, check=False)
    os.close(slave)
    listener.join()
    os.close(master)
    return done.returncode, done.stdout.decode(), b"".join(seen).decode()


def left_on_the_line(sent):
    """What a person still sees on the last line of a terminal that was sent this."""
    line, at = [], 0
    for c in sent.rsplit("\n", 1)[-1]:
        if c == "\r":
            at = 0
        else:
            line[at:at + 1] = [c]
            at += 1
    return "".join(line).strip()


def shows(says, *args, least=2):
    code, out, sent = on_terminal(*args)
    shares = [int(share) for share in re.findall(r"(\d+) %", sent)]
    s.check(f"{says} shows how far it is, and never goes back",
            code == 0 and len(shares) >= least and shares == sorted(set(shares)) and shares[-1] == 100, (code, out[-300:], sent))
    s.check(f"{says} leaves nothing of it on the line", left_on_the_line(sent) == "", repr(sent))
    return out


# the demo, in JSON so that no line of it comes between two shares
shows("a demo", "demo", "--folder", s.path("shop"), "--json", least=20)
book = s.path("shop/demo.book")
code, out, sent = on_terminal("demo", "--folder", s.path("second"))
s.check("the lines of a demo stand without a share in them", code == 0 and "%\n" not in sent and left_on_the_line(sent) == "", repr(sent[-200:]))

shows("a renewal", "book", "renew", "--book", book, least=20)
shows("an export", "book", "export", s.path("out"), "--book", book, "--json", least=20)
shows("a backup", "book", "backup", s.path("copy.book"), "--book", book, "--json")
shows("a check", "book", "verify", "--book", book, "--json", least=20)

# a big file: many rows, one pull
rows = "".join(f"{i * 0.002:.3f},{2500 + 0.05 * i:.2f},{300 + (i % 7) * 0.1:.2f}\n" for i in range(80000))
big = s.write("big.csv", "time [s],speed [rpm],torque [N·m]\n" + rows)
shows("a file that is added", "pull", "add", big, "--book", s.path("new.book"), "--set", "pressure=985 hPa", "--set", "temperature=20 °C",
      "--set", "humidity=50 %", "--json", least=3)

# a refusal stands on a line of its own
code, out, sent = on_terminal("book", "backup", s.path("copy.book"), "--book", book)
s.check("a refusal is not written over a share", code == 2 and sent.startswith("enginewright: ") and "already" in sent, repr(sent))

# and to a file or a pipe goes no share at all: good() wants silence on standard error
s.good("book", "renew", "--book", book, "--json")
s.good("book", "backup", s.path("third.book"), "--book", book, "--json")
s.good("book", "export", s.path("again"), "--book", book, "--json")
s.finish()
