"""The manual's pictures and its pages hold together: what is shown exists, what exists is shown, every screen is there light
and dark, and none is heavy. script/pictures makes them anew."""
import os
import re
import struct

from harness import Scenario

s = Scenario()
root = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
folder = os.path.join(root, "docs", "manual", "pictures")
shown = set()
for path in [os.path.join(root, "README.md")] + [os.path.join(root, "docs", "manual", n) for n in os.listdir(os.path.join(root, "docs", "manual")) if n.endswith(".md")]:
    text = open(path, encoding="utf-8").read()
    for words, link in re.findall(r"!?\[([^\]]*)\]\(([^)]*\.png)\)", text):
        there = os.path.normpath(os.path.join(os.path.dirname(path), link))
        s.check(f"{os.path.relpath(path, root)} shows a picture that exists", os.path.exists(there), link)
        s.check("a picture has words for those who cannot see it", len(words) > 2, link)
        shown.add(there)
made = sorted(n for n in os.listdir(folder) if n.endswith(".png"))
for name in made:
    path = os.path.join(folder, name)
    s.check("every picture is shown in the manual", path in shown, name)
    with open(path, "rb") as file:
        head = file.read(26)
    s.check("is a PNG", head[:8] == b"\x89PNG\r\n\x1a\n" and struct.unpack(">II", head[16:24])[0] >= 400, name)
    s.check("is under 90 kB", os.path.getsize(path) < 90_000, (name, os.path.getsize(path)))
script = open(os.path.join(root, "tests", "browser", "pictures.mjs"), encoding="utf-8").read()
views = re.findall(r"^  \['([a-z-]+)', '", script, re.M) + ["first", "live", "alarm", "window"]
for view in views:
    for scheme in ("light", "dark"):
        s.check("every view has its picture, light and dark", f"page-{view}-{scheme}.png" in made, (view, scheme))
screens = re.findall(r"\{ key: '([a-z]+)', label:", open(os.path.join(root, "web", "src", "app.tsx"), encoding="utf-8").read())
s.check("every screen of the bar is among the views", screens and all(k in views for k in screens), (screens, views))
s.check("all together under 4 MB", sum(os.path.getsize(os.path.join(folder, n)) for n in made) < 4_000_000)
s.finish()
