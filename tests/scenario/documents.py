"""Documents against the program and the tree: every command's JSON is described, every test that a page of methods names is
there, every method has its test, every source file that names where its method comes from stands in those pages, the interface is
described address by address, and the house names files that exist."""
import glob
import os
import re

from harness import Scenario

s = Scenario()
root = os.path.abspath(os.path.join(os.path.dirname(__file__), "..", ".."))


def read(*path):
    with open(os.path.join(root, *path), encoding="utf-8") as file:
        return file.read()


# 1. docs/api.md: each command that takes --json, by its whole name; those that refuse it are named as such
api = read("docs", "api.md")
commands = re.findall(r"^  ([a-z-]+(?: [a-z-]+)?)  +\S", s.good("help").out, re.M)
s.check("help lists the commands", len(commands) > 50, commands)
for command in commands:
    s.check(f"docs/api.md describes '{command}'", re.search(rf"`{command}[` ]", api), command)
    if "--json" not in s.good("help", *command.split()).out:
        arguments = ["x"] if command in ("build template", "book template", "pull export") else []
        s.refused(f"'{command}' prints a text, and refuses --json", s.run(*command.split(), *arguments, "--json"), "--json", command)
for command in re.findall(r"`([a-z-]+ [a-z-]+)[` ]", re.sub(r"\|[^|]*\|$", "", api, flags=re.M)):
    s.check(f"docs/api.md: '{command}' is a command", command in commands or command.split()[0] not in
            {c.split()[0] for c in commands if " " in c}, command)

# 2. docs/methods*.md: the tests that are named
names = {os.path.basename(path) for kind in ("c", "py", "js") for path in glob.glob(os.path.join(root, "tests", "**", "*." + kind), recursive=True)
         if "node_modules" not in path}
pages = sorted(glob.glob(os.path.join(root, "docs", "methods*.md")))
s.check("there are pages of methods", len(pages) >= 4, pages)
everything = ""
for path in pages:
    text, page = read(path), os.path.basename(path)
    everything += text
    for named in set(re.findall(r"`(tests/[\w/.-]+)`", text)):
        s.check(f"{page}: {named} exists", os.path.exists(os.path.join(root, named)))
    for named in set(re.findall(r"`(test_\w+\.c)`", text)):
        s.check(f"{page}: {named} exists", named in names)
    for named in set(re.findall(r"`(src/[\w/]+\.[ch])`", text)):
        s.check(f"{page}: {named} exists", os.path.exists(os.path.join(root, named)))
    # 3. each method says where it is tested; what is left out, and what holds for all, is no method
    for section in re.split(r"^## ", text, flags=re.M)[1:]:
        title = section.split("\n", 1)[0]
        if title not in ("9. Left out", "6. Speed", "Where a method lives"):
            s.check(f"{page}, '{title}': says where it is tested", re.search(r"[Tt]ested|`tests/|`test_", section), section[:200])

# 4. each source file that names where its method comes from
SOURCE = re.compile(r"[Ss]ources?:|from memory|\b(?:18|19|20)\d\d\b|ISO \d|SAE |NASA|NIST|IAPWS|JCGM")
for room in ("gas", "pull", "judge", "engine", "cycle", "cell"):
    for path in sorted(glob.glob(os.path.join(root, "src", room, "*.c"))):
        head = ""
        for one in (path, path[:-1] + "h"):
            comment = re.match(r"\s*/\*.*?\*/", read(one), re.S) if os.path.exists(one) else None
            head += comment.group(0) if comment else ""
        if SOURCE.search(head):
            name = f"{room}/{os.path.basename(path)[:-2]}"
            s.check(f"docs/methods*.md say where {name} belongs", re.search(rf"\b{name}(\.[ch])?\b", everything), head[:150])

# 5. docs/api-http.md: a row for every address the server knows, and none for another
routes = {(verb, path.replace("{id}", "N")) for verb, path in
          re.findall(r'X\((\w+), "/api/v1/([^"]+)"', read("src", "serve", "service.h"))}
rows = {(verb, path) for verbs, path in re.findall(r"^\| ([A-Z, ]+) \| `([^`?]+)", read("docs", "api-http.md"), re.M)
        for verb in verbs.split(", ")}
s.check("the server has addresses", len(routes) > 40, routes)
s.check("docs/api-http.md describes every address", routes <= rows, routes - rows)
s.check("docs/api-http.md describes no other", rows <= routes, rows - routes)

# 6. docs/book-schema.md: a row for every table of the schema, and none for another
schema = read("src", "book", "sqlite", "schema.c")
tables = set(re.findall(r"CREATE TABLE (\w+) \(", schema))
for before, after in re.findall(r"ALTER TABLE (\w+) RENAME TO (\w+)", schema):
    tables = tables - {before} | {after}
told = set(re.findall(r"^\| `(\w+)` \|", read("docs", "book-schema.md"), re.M))
s.check("the schema has tables", len(tables) > 10, tables)
s.check("docs/book-schema.md describes every table", tables <= told, tables - told)
s.check("docs/book-schema.md describes no other", told <= tables, told - tables)

# 7. docs/architecture.md and CONTRIBUTING.md: every room is named, every file they name is there
house, rooms = read("docs", "architecture.md"), set(os.listdir(os.path.join(root, "src")))
for room in sorted(name for name in rooms if os.path.isdir(os.path.join(root, "src", name))):
    s.check(f"docs/architecture.md names the room '{room}'", f"| `{room}` |" in house)
for page, text in (("docs/architecture.md", house), ("CONTRIBUTING.md", read("CONTRIBUTING.md"))):
    for named in sorted(set(re.findall(r"`((?:src/|web/|tests/|docs/|script/)?[\w-]+/[\w./*-]+?\.(?:c|h|py|md|tsx?|mjs|build))`", text))):
        if "NAME" not in named:
            near = [named, os.path.join("src", named)]
            s.check(f"{page}: {named} exists", any(glob.glob(os.path.join(root, path)) for path in near), named)
s.finish()
