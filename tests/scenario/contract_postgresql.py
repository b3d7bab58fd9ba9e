"""The contract of a book's store (tests/contract/book) with its tables in PostgreSQL, on a server of the scenario's own: every case, every
verb failed at each of its operations, every reader likewise. Outside source: PostgreSQL itself, and its amcheck.

What can't be put there is said by the suite: a copy into a file is pg_dump's affair."""
import re
import subprocess
import sys

from harness import Scenario
from postgres import Postgres, binaries

s = Scenario()
if binaries() is None:
    s.skip("the contract on PostgreSQL", "PostgreSQL is not installed (package postgresql-15)")
    s.finish()
server = Postgres(s.folder)
said = ""
for suite in sys.argv[2:]:
    done = subprocess.run([suite], env={**s.environment, **server.environment(), "EW_POSTGRESQL": server.address("owner")}, capture_output=True, text=True, timeout=500, check=False)
    said += done.stdout + done.stderr
    s.check(f"{suite.rsplit('/', 1)[-1]} holds", done.returncode == 0, said[-3000:])
cases = [line for line in said.splitlines() if line.startswith("postgresql: ")]
left_out = [line for line in cases if line.endswith("left out")]
s.check("only the copy into a file is left out", left_out == ["postgresql: a copy is whole: left out"], left_out)
for says, least in (("verbs, failed at", 300), ("told to run again at", 200), ("readers, failed at", 60)):
    counts = [int(n) for line in cases for n in re.findall(rf"{says} (\d+) operations", line)]
    s.check(f"{says} {counts} operations", counts and min(counts) >= least, (cases, counts))
s.check("twenty cases and more", len(cases) - len(left_out) >= 20, cases)
print("\n".join(line for line in said.splitlines() if "operations" in line or "cases, run" in line))
s.finish()
