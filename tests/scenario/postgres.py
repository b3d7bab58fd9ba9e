"""A PostgreSQL of the scenario's own, from Debian's package, in its folder: no port is opened, it listens on a socket there. As root it
runs as another user, since PostgreSQL refuses to run as root."""
import atexit
import glob
import os
import pwd
import shutil
import signal
import socket
import subprocess
import threading
import time

PASSWORD = "a word of the test's own"


def binaries():
    """The folder of initdb and postgres; None: not installed."""
    found = [f for f in glob.glob("/usr/lib/postgresql/*/bin") if os.path.exists(os.path.join(f, "postgres")) and os.path.exists(os.path.join(f, "initdb"))]
    if found:
        return max(found, key=lambda f: int(f.split("/")[4]))
    named = shutil.which("initdb")
    return os.path.dirname(os.path.realpath(named)) if named else None


class Postgres:
    def __init__(self, folder):
        self.bin, self.data, self.socket = binaries(), os.path.join(folder, "pg"), os.path.join(folder, "s")
        self.user, self.server, self.port = None, None, "5432"
        if os.geteuid() == 0:
            for name in ("postgres", "nobody"):
                try:
                    self.user = pwd.getpwnam(name).pw_name
                    break
                except KeyError:
                    continue
        for place in (self.data, self.socket):
            os.mkdir(place, 0o700)
            if self.user:
                shutil.chown(place, self.user)
        os.chmod(self.socket, 0o755)
        word = os.path.join(self.data + "-word")
        with open(word, "w", encoding="utf-8") as file:
            file.write(PASSWORD + "\n")
        os.chmod(word, 0o644)
        self.tool("initdb", "-D", self.data, "-U", "owner", "-A", "scram-sha-256", "--pwfile", word, "-E", "UTF8", "--locale", "C", "--no-sync")
        os.unlink(word)
        self.passwords = os.path.join(folder, "pgpass")
        with open(self.passwords, "w", encoding="utf-8") as file:
            file.write("".join(f"*:*:*:{login}:{PASSWORD}\n" for login in ("owner", "cell1", "cell2", "reader", "nobody")))
        os.chmod(self.passwords, 0o600)
        atexit.register(self.stop)
        self.start()

    def tool(self, name, *words):
        return subprocess.run([os.path.join(self.bin, name), *words], user=self.user, check=True, capture_output=True, cwd="/",
                              env={"PATH": "/usr/bin:/bin", "LC_ALL": "C"}, timeout=120)

    def start(self, *more, port=None):
        """With a port it answers 127.0.0.1, too."""
        self.port = port or self.port
        self.server = subprocess.Popen([os.path.join(self.bin, "postgres"), "-D", self.data, "-k", self.socket, "-c", "listen_addresses=" + ("127.0.0.1" if port else ""), "-p", self.port,
                                        "-c", "shared_buffers=16MB", "-c", "max_connections=20", "-c", "log_min_messages=fatal", *more],
                                       user=self.user, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd="/", start_new_session=True)
        for _ in range(300):
            if self.ask("SELECT 1", check=False).returncode == 0:
                return
            time.sleep(0.1)
        raise RuntimeError("PostgreSQL did not start")

    def environment(self):
        return {"PGPASSFILE": self.passwords}

    def address(self, login="owner", database="postgres", host=None):
        return f"postgresql://{login}@/{database}?host={host or self.socket}"

    def ask(self, sql, login="owner", database="postgres", check=True, limit_s=60):
        done = subprocess.run([os.path.join(self.bin, "psql"), "-XAtq", "-v", "ON_ERROR_STOP=1", "-h", self.socket, "-U", login, "-d", database, "-c", sql],
                              capture_output=True, text=True, timeout=limit_s, env={"PATH": "/usr/bin:/bin", "PGPORT": self.port, **self.environment()}, check=False)
        if check and done.returncode != 0:
            raise RuntimeError(done.stderr)
        return done

    def number(self, sql):
        return int(self.ask(sql).stdout.strip())

    def crash(self):
        """The power goes: nothing is written any more."""
        os.killpg(self.server.pid, signal.SIGKILL)
        self.server.wait()
        pid = os.path.join(self.data, "postmaster.pid")
        if os.path.exists(pid):
            os.unlink(pid)
        time.sleep(0.2)

    def stop(self):
        if self.server.poll() is None:
            self.server.send_signal(signal.SIGINT)
            try:
                self.server.wait(30)
            except subprocess.TimeoutExpired:
                os.killpg(self.server.pid, signal.SIGKILL)
                self.server.wait()


class Line:
    """The network between: a socket that passes bytes on, until it is cut, holds its breath, or takes `slow_s` for each 64 kB either way."""

    def __init__(self, folder, server):
        self.folder, self.server = folder, server
        os.mkdir(folder)
        self.listener = socket.socket(socket.AF_UNIX)
        self.listener.bind(os.path.join(folder, ".s.PGSQL.5432"))
        self.listener.listen(20)
        self.cut, self.hold, self.slow_s, self.pairs = False, False, 0, []
        threading.Thread(target=self.accept, daemon=True).start()

    def accept(self):
        while True:
            try:
                here, _ = self.listener.accept()
            except OSError:
                return
            there = socket.socket(socket.AF_UNIX)
            try:
                there.connect(os.path.join(self.server.socket, ".s.PGSQL.5432"))
            except OSError:
                here.close()
                continue
            if self.cut:
                here.close()
                there.close()
                continue
            self.pairs.append((here, there))
            for a, b in ((here, there), (there, here)):
                threading.Thread(target=self.carry, args=(a, b), daemon=True).start()

    def carry(self, a, b):
        try:
            while data := a.recv(65536):
                time.sleep(self.slow_s)
                while self.hold:
                    time.sleep(0.05)
                b.sendall(data)
        except OSError:
            pass
        for one in (a, b):
            try:
                one.shutdown(socket.SHUT_RDWR)
            except OSError:
                pass

    def break_all(self):
        for pair in self.pairs:
            for one in pair:
                try:
                    one.shutdown(socket.SHUT_RDWR)
                except OSError:
                    pass
        self.pairs = []
