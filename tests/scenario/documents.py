"""Documents against the program and the tree: every command's JSON is described, every test that a page of methods names is
there, every method has its test, and every source file that names where its method comes from stands in those pages."""
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
        arguments = ["x"] if command in ("build template", "pull export") else []
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
s.finish()
