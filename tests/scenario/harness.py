"""What the scenarios share: the program under test, a folder of its own, and checks that are counted.

A scenario is run as `python3 NAME.py PROGRAM` and ends with the line that script/lib/count-tests adds up.
"""
import json
import os
import shutil
import subprocess
import sys
import tempfile


class Answer:
    """What one run of the program gave."""

    def __init__(self, args, done):
        self.args, self.code = args, done.returncode
        self.out, self.err = done.stdout.decode("utf-8", "replace"), done.stderr.decode("utf-8", "replace")

    @property
    def json(self):
        return json.loads(self.out)

    def __str__(self):
        shown = " ".join(str(a) if len(str(a)) < 60 else str(a)[:57] + "..." for a in self.args)
        return f"`{shown}` gave {self.code}\n    out: {self.out[-600:].strip()}\n    err: {self.err[-600:].strip()}"


def reached_by_all(folder):
    """May any user go there?"""
    while True:
        if not os.stat(folder).st_mode & 0o001:
            return False
        if folder == os.path.dirname(folder):
            return True
        folder = os.path.dirname(folder)


class Scenario:
    def __init__(self):
        self.program = os.path.abspath(sys.argv[1])
        usual = os.path.realpath(tempfile.gettempdir())
        self.folder = tempfile.mkdtemp(prefix="ew-scenario-", dir=usual if reached_by_all(usual) else "/tmp")
        os.chmod(self.folder, 0o755)
        self.passed, self.failed, self.skipped = 0, 0, 0
        self.environment = {"PATH": os.environ.get("PATH", "/usr/bin:/bin"), "HOME": self.folder,
                            "XDG_DATA_HOME": os.path.join(self.folder, "data"), "LC_ALL": "C.UTF-8",
                            "EW_USER": "tester"}
        for name in ("ASAN_OPTIONS", "UBSAN_OPTIONS", "LD_LIBRARY_PATH"):
            if name in os.environ:
                self.environment[name] = os.environ[name]

    def path(self, name):
        return os.path.join(self.folder, name)

    def write(self, name, content):
        data = content.encode("utf-8") if isinstance(content, str) else content
        with open(self.path(name), "wb") as file:
            file.write(data)
        return self.path(name)

    def reachable(self):
        """A copy of the program that another user can run: the clone may lie in a home that is closed to all others."""
        copy = self.path("program-for-others")
        if not os.path.exists(copy):
            shutil.copyfile(self.program, copy)
            os.chmod(copy, 0o755)
        return copy

    def run(self, *args, user=None, timeout=300, **environment):
        done = subprocess.run([self.reachable() if user else self.program, *map(str, args)], capture_output=True, cwd=self.folder,
                              env={**self.environment, **environment}, user=user, timeout=timeout,
                              stdin=subprocess.DEVNULL, check=False)
        return Answer(args, done)

    def check(self, says, truth, seen=""):
        if truth:
            self.passed += 1
        else:
            self.failed += 1
            print(f"[  FAILED  ] {says}\n    {seen}")
        return truth

    def good(self, *args, **more):
        """A run that must succeed in silence on stderr; its answer."""
        answer = self.run(*args, **more)
        self.check(f"{' '.join(map(str, args[:3]))} succeeds", answer.code == 0 and answer.err == "", answer)
        return answer

    def refused(self, says, answer, *words, code=2):
        """Exit code 2, nothing on stdout, one line on stderr that holds every word."""
        lines = answer.err.splitlines()
        truth = (answer.code == code and answer.out == "" and len(lines) == 1 and len(lines[0]) < 700
                 and lines[0].startswith("enginewright: ") and all(w in lines[0] for w in words))
        return self.check(says, truth, f"wanted {code} and {words}; {answer}")

    def skip(self, says, why):
        self.skipped += 1
        print(f"[  SKIPPED ] 1 {says}: {why}")

    def finish(self):
        shutil.rmtree(self.folder, ignore_errors=True)
        if self.failed:
            print(f"[  FAILED  ] {self.failed} check(s), of {self.failed + self.passed}")
        print(f"[  PASSED  ] {self.passed} test(s).")
        sys.exit(1 if self.failed else 0)
