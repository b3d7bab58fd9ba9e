"""The services of the Debian package: systemd reads them without a complaint, finds them shut in, and what they start does what they say, by the
account's folders alone.

Outside source: systemd-analyze verify, and systemd-analyze security --offline (an exposure from 0 to 10; below 2.1 is asked for the page and the
recorder, which talk to the network and to serial lines, and below 1.2 for customers' links).
"""
import glob
import json
import os
import re
import shlex
import shutil
import signal
import stat
import subprocess
import time

from harness import Scenario

s = Scenario()
root = os.path.abspath(os.path.join(os.path.dirname(__file__), "..", ".."))
units = {os.path.basename(f)[:-8]: open(f, encoding="utf-8").read() for f in glob.glob(os.path.join(root, "systemd", "*.service"))}
s.check("three of them", sorted(units) == ["enginewright-record", "enginewright-serve", "enginewright-share"], sorted(units))
package = open(os.path.join(root, "script", "package"), encoding="utf-8").read()
s.check("the package brings them and enables none", "systemd/*.service" in package and not re.search(r"systemctl|deb-systemd|DEBIAN/(postinst|preinst)", package))

if shutil.which("systemd-analyze"):
    for name, text in units.items():
        path = s.write(name + ".service", text.replace("/usr/bin/enginewright", s.program))
        done = subprocess.run(["systemd-analyze", "verify", "--man=no", path], capture_output=True, text=True, timeout=120, check=False)
        s.check(f"{name}: systemd reads it", done.returncode == 0 and name not in done.stderr, done.stderr)
        threshold = "12" if name.endswith("share") else "21"
        done = subprocess.run(["systemd-analyze", "security", "--offline=true", "--no-pager", f"--threshold={threshold}", path], capture_output=True, text=True, timeout=120, check=False)
        s.check(f"{name}: shut in", done.returncode == 0, done.stdout[-600:])
        print(done.stdout.strip().splitlines()[-1])
else:
    s.skip("systemd's own look at the services", "systemd-analyze is not installed (package systemd)")


# ---- what they start, without systemd ----
def started(name, options):
    """The line of ExecStart as systemd expands it, with the folders of this scenario."""
    text = units[name]
    line = re.search(r"^ExecStart=(.*)$", text, re.M).group(1).replace("$$", "$").replace("/usr/bin/enginewright", s.program).replace("/run/enginewright-serve", s.path("run"))
    words = [w for word in shlex.split(line) for w in (shlex.split(options) if re.fullmatch(r"\$[A-Z_]+", word) else [word])]
    environment = dict(s.environment)
    for pair in re.search(r"^Environment=(.*)$", text, re.M).group(1).split():
        key, value = pair.split("=")
        environment[key] = value.replace("/var/lib", s.path("state")).replace("/var/cache", s.path("cache"))
    return subprocess.Popen(words, env=environment, cwd="/", stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


for folder in ("state/enginewright", "cache/enginewright", "run"):
    os.makedirs(s.path(folder), mode=0o700)
serve = started("enginewright-serve", "--port 0 --json")
link = s.path("run/link")
for _ in range(200):
    if os.path.exists(link) and os.path.getsize(link) > 10:
        break
    time.sleep(0.1)
said = json.load(open(link, encoding="utf-8"))
s.check("the link is in a file that the account alone reads", "key=" in said["link"] and stat.S_IMODE(os.stat(link).st_mode) == 0o600, (said, oct(os.stat(link).st_mode)))
s.check("the book is where the account may write", os.path.exists(s.path("state/enginewright/shop.book")), os.listdir(s.path("state/enginewright")))
record = started("enginewright-record", '--source "practice:?pace=0&run=sweep 2500 6500 300;wait 2;end" --json')
out, err = record.communicate(timeout=120)
s.check("the recorder records beside it, with nobody at its input", record.returncode == 0 and '"event":"pull"' in out.replace(" ", ""), (record.returncode, out[-400:], err))
share = started("enginewright-share", "--port 0 --json --public-name shop.example")
s.check("customers' links are answered", json.loads(share.stdout.readline())["port"] > 0)
for process in (serve, share):
    process.send_signal(signal.SIGTERM)
    out, err = process.communicate(timeout=60)
    s.check("they end when they are told to, and the journal holds no key", process.returncode == 0 and "key=" not in out + err, (out, err))
outside = [p for p in glob.glob(s.path("*")) if os.path.basename(p) not in ("state", "cache", "run", ".config") and not p.endswith(".service")]
s.check("nothing was written elsewhere", not outside, outside)
s.finish()
