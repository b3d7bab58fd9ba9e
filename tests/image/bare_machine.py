#!/usr/bin/env python3
"""bare_machine.py DEB: the package on a bare Debian of its own (made by mmdebstrap in a temporary folder, entered by chroot; as root): put in,
run, put over an older one, taken out, purged. Books of every earlier schema are brought up by it, and never touched by what installs it.

Outside sources: apt-get(8), dpkg(1), systemd-analyze(1) on the files as installed. Run by hand; it takes some minutes.
"""
import glob
import hashlib
import json
import os
import re
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time

deb = os.path.abspath(sys.argv[1])
project = os.path.abspath(os.path.join(os.path.dirname(__file__), "..", ".."))
root = tempfile.mkdtemp(prefix="enginewright-bare-", dir="/var/tmp")
passed = failed = 0


def check(says, good, found=""):
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print(f"FAILED: {says} {found}", flush=True)


def run(*command, **more):
    return subprocess.run(command, capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL, **more)


def inside(*command):
    return run("chroot", root, "/usr/bin/env", "-i", "PATH=/usr/sbin:/usr/bin:/sbin:/bin", "HOME=/root", "LC_ALL=C.UTF-8", "DEBIAN_FRONTEND=noninteractive", *command)


def timed(says, *command):
    begun = time.monotonic()
    done = inside(*command)
    print(f"{says}: {time.monotonic() - begun:.1f} s", flush=True)
    check(says, done.returncode == 0, done.stdout[-600:] + done.stderr[-600:])
    return done


def digests():
    return {path: hashlib.sha256(open(path, "rb").read()).hexdigest() for path in glob.glob(root + "/root/books/*.book") + [root + "/var/lib/enginewright/shop.book"]}


def older():
    """The same package under a version before it."""
    folder = tempfile.mkdtemp()
    subprocess.run(["dpkg-deb", "-R", deb, folder], check=True)
    control = os.path.join(folder, "DEBIAN", "control")
    text = open(control, encoding="utf-8").read()
    with open(control, "w", encoding="utf-8") as file:
        file.write(re.sub(r"(?m)^Version: .*$", "Version: 0.0.1", text))
    subprocess.run(["dpkg-deb", "--root-owner-group", "--build", folder, root + "/root/older.deb"], check=True, capture_output=True)
    shutil.rmtree(folder)


def services():
    """As installed: off, read without a complaint, and shut in."""
    for name in ("serve", "record", "share"):
        unit = f"enginewright-{name}.service"
        check(f"{unit} is off", inside("systemctl", "is-enabled", unit).stdout.strip() == "disabled")
        done = inside("systemd-analyze", "verify", "--man=no", f"/usr/lib/systemd/system/{unit}")
        check(f"{unit} is read without a complaint", done.returncode == 0 and unit not in done.stderr, done.stderr)
        done = inside("systemd-analyze", "security", "--offline=true", "--no-pager", "--threshold=" + ("12" if name == "share" else "21"), f"/usr/lib/systemd/system/{unit}")
        check(f"{unit} is shut in", done.returncode == 0, done.stdout[-300:])
        print(done.stdout.strip().splitlines()[-1] if done.stdout else done.stderr, flush=True)


sources = run("apt-get", "indextargets", "--format", "deb $(REPO_URI) $(CODENAME) $(COMPONENT)", "Identifier: Packages", "Origin: Debian").stdout
try:
    begun = time.monotonic()
    subprocess.run(["mmdebstrap", "--quiet", "--mode=root", "--variant=minbase", "--include=systemd,man-db", "bookworm", root, "-"],
                   input="\n".join(sorted(set(sources.splitlines()))) + "\n", text=True, check=True)
    print(f"the bare machine: {time.monotonic() - begun:.0f} s", flush=True)
    for path in ("/dev", "/proc"):
        subprocess.run(["mount", "--rbind", "--make-rslave", path, root + path], check=True)
    shutil.copy("/etc/resolv.conf", root + "/etc/resolv.conf")
    os.makedirs(root + "/root/books")
    for path in glob.glob(os.path.join(project, "tests/scenario/data/book-*.sql")):
        db = sqlite3.connect(f"{root}/root/books/{re.search(r'(book-.*)[.]sql', path).group(1)}.book")
        db.executescript(open(path, encoding="utf-8").read())
        db.commit()
        db.close()
    shutil.copy(deb, root + "/root/own.deb")
    older()
    inside("apt-get", "update", "-qq")
    timed("an older package is put in", "apt-get", "install", "-y", "-qq", "--no-install-recommends", "/root/older.deb")
    check("nothing has made an account", inside("id", "enginewright").returncode != 0)
    timed("the account is made by hand", "systemd-sysusers")
    os.makedirs(root + "/var/lib/enginewright", exist_ok=True)
    check("a day is kept where the services keep it", inside("enginewright", "demo", "--folder", "/root/demo", "--no-page").returncode == 0
          or inside("enginewright", "demo", "--folder", "/root/demo").returncode == 0)
    shutil.copy(root + "/root/demo/demo.book", root + "/var/lib/enginewright/shop.book")
    before = digests()
    timed("this package is put over it", "apt-get", "install", "-y", "-qq", "--no-install-recommends", "/root/own.deb")
    check("no book was touched", digests() == before)
    services()
    check("the manual page is there", "enginewright" in inside("man", "-P", "cat", "enginewright").stdout[:400])
    check("its libraries are all there", "not found" not in inside("ldd", "/usr/bin/enginewright").stdout)
    for path in sorted(glob.glob(root + "/root/books/*.book")):
        book = path[len(root):]
        done = inside("enginewright", "book", "verify", "--book", book, "--json")
        db = sqlite3.connect(path)
        now = db.execute("PRAGMA user_version").fetchone()[0]
        db.close()
        # a dump holds no whole recording of every schema: what counts is that it opens, is brought up, and each curve computes again
        check(f"{book} is brought to today's schema and verified", done.returncode == 0 and json.loads(done.stdout)["whole"], done.stdout[-300:] + done.stderr)
        print(f"{book}: schema {now}", flush=True)
    before = digests()
    timed("removed", "apt-get", "remove", "-y", "-qq", "enginewright")
    check("the program is gone", not os.path.exists(root + "/usr/bin/enginewright"))
    check("every book is there after removing", digests() == before)
    timed("put in again", "apt-get", "install", "-y", "-qq", "--no-install-recommends", "/root/own.deb")
    timed("purged", "apt-get", "purge", "-y", "-qq", "enginewright")
    check("every book is there after purging", digests() == before)
    left = [p for p in run("find", root, "-xdev", "-iname", "*enginewright*", "-not", "-path", root + "/root/*", "-not", "-path", root + "/proc/*", "-not", "-path", root + "/var/cache/man/*").stdout.split() if p != root]
    check("beside books and the account's folder nothing is left", set(left) <= {root + "/var/lib/enginewright"}, left)
finally:
    for path in ("/proc", "/dev"):
        run("umount", "-R", "-l", root + path)
    if not os.path.ismount(root + "/dev") and not os.path.ismount(root + "/proc"):
        shutil.rmtree(root, ignore_errors=True)
print(f"{passed} checks passed, {failed} failed")
sys.exit(1 if failed else 0)
