"""How many tasks a second a PostgreSQL hands out to idle workers, by how many tasks there are and how many workers ask; printed.

search_queue.py [MOST]: 1,000 ... MOST (100,000) tasks; 1, 4 and 16 workers of pgbench, each takes a task and hands in the 40 lines of eight designs at five
speeds. The statements are those of src/shop/postgresql/lease.c; the server is one of its own, as Debian sets it up, synced to the disk."""
import os
import subprocess
import sys
import tempfile

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
sys.path.insert(0, os.path.join(ROOT, "tests", "scenario"))
from postgres import Postgres, binaries  # noqa: E402 pylint: disable=wrong-import-position

LINES = 40
SOURCE = open(os.path.join(ROOT, "src", "shop", "postgresql", "lease.c"), encoding="utf-8").read()
TABLES = "".join(part.split('"')[1] for part in SOURCE.split("static const char tables[] =")[1].split(";\n\n")[0].splitlines() if '"' in part)
TAKE = """\\set worker random(1, 1000000000)
UPDATE enginewright_search.task SET worker = :worker::text, tries = tries + 1, until = clock_timestamp() + make_interval(secs => 30) WHERE search = 'x' AND
 number = (SELECT number FROM enginewright_search.task WHERE search = 'x' AND done IS NULL AND tries < 10 AND (until IS NULL OR until < clock_timestamp())
 ORDER BY number LIMIT 1 FOR UPDATE SKIP LOCKED) RETURNING number AS task \\gset
BEGIN;
INSERT INTO enginewright_search.run (search, key, line) SELECT 'x', md5(:task::text || '-' || n) || md5(n::text), repeat('1234567890', 25) FROM generate_series(1, %d) n ORDER BY 2
 ON CONFLICT (search, key) DO NOTHING;
UPDATE enginewright_search.task SET done = clock_timestamp() WHERE search = 'x' AND number = :task AND done IS NULL;
COMMIT;
""" % LINES

if not binaries():
    sys.exit("PostgreSQL is not installed (package postgresql-15)")
most = int(sys.argv[1]) if len(sys.argv) > 1 else 100000
with tempfile.TemporaryDirectory() as folder:
    os.chmod(folder, 0o755)
    pg = Postgres(folder)
    script = os.path.join(folder, "take.sql")
    with open(script, "w", encoding="utf-8") as file:
        file.write(TAKE)
    tasks = 1000
    while tasks <= most:
        for workers in (1, 4, 16):
            pg.ask("DROP SCHEMA IF EXISTS enginewright_search CASCADE")
            pg.ask(TABLES)
            pg.ask("INSERT INTO enginewright_search.search (key, question, physics, tasks) VALUES ('x', 'x', 1, %d)" % tasks)
            pg.ask("INSERT INTO enginewright_search.task (search, number) SELECT 'x', n FROM generate_series(0, %d - 1) n" % tasks)
            each = min(tasks // workers, 400 // workers + 1)
            done = subprocess.run([os.path.join(pg.bin, "pgbench"), "-n", "-c", str(workers), "-t", str(each), "-f", script, "-h", pg.socket, "-U", "owner", "postgres"],
                                  capture_output=True, text=True, check=False, env={"PATH": "/usr/bin:/bin", **pg.environment()}, timeout=120)
            rate = [line for line in done.stdout.splitlines() if line.startswith("tps")]
            bytes_ = pg.number("SELECT pg_total_relation_size('enginewright_search.run') / greatest(count(*), 1) FROM enginewright_search.run")
            print(f"{tasks:8d} tasks, {workers:2d} workers: {rate[0].split('(')[0] if rate else done.stderr[-200:]} ({workers * each} tasks of {LINES} runs; {bytes_} bytes a run)", flush=True)
        tasks *= 10
