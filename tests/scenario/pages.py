"""The program's server on one book, asked as the page asks it."""
import http.client
import json
import signal
import subprocess
import time

from door import let_in


class Page:
    def __init__(self, scenario, book):
        self.process = subprocess.Popen([scenario.program, "serve", "--book", book, "--port", "0", "--json"], stdout=subprocess.PIPE, text=True,
                                        env=scenario.environment)
        said = json.loads(self.process.stdout.readline())
        self.port, self.cookie = said["port"], let_in(said)

    def ask(self, method, path, body=None, kind="application/json"):
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        data = json.dumps(body) if kind == "application/json" and body is not None else body
        connection.request(method, "/api/v1/" + path, body=data, headers={"Cookie": self.cookie, **({"Content-Type": kind} if data is not None else {})})
        response = connection.getresponse()
        answer = response.status, json.loads(response.read())
        connection.close()
        return answer

    def job(self, path, body=None):
        """Long work, followed until it ends: its answer."""
        number = self.ask("POST", path, body or {})[1]["job"]
        while True:
            now = self.ask("GET", f"predict/{number}")[1]
            if now["state"] not in ("waiting", "running"):
                return now
            time.sleep(0.05)

    def __enter__(self):
        return self

    def __exit__(self, *problem):
        self.process.send_signal(signal.SIGTERM)
        self.process.wait(timeout=30)
        self.process.stdout.close()
