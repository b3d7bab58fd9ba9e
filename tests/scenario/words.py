"""Nothing is left in prose. With every text of the catalogue turned around (script/words pseudo) the same questions give the
same verdicts, digests, identifiers, figures and exit codes; what people read is then no longer English; and no text uses a
word that docs/words.md rules out.

python3 words.py PROGRAM [--left]   with --left what is still English is listed, room by room, and nothing is judged
"""
import json
import os
import re
import shutil
import sqlite3
import subprocess
import sys

from harness import Scenario

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
WORDS = os.path.join(ROOT, "script", "words")
ROOMS = "base book build cell cli cycle desk engine gas judge pull serve sheet web".split()
# Rooms whose texts are still being put through the catalogue: they are looked at, and not judged.
UNDER_WAY = []

LEFT = "--left" in sys.argv
s = Scenario()


# (a) every text has its translation, and each identifier its one meaning
def texts_and_translations():
    done = subprocess.run([sys.executable, WORDS, "check", *ROOMS], capture_output=True, text=True, check=False)
    wanting = {room: [line for line in done.stdout.split("\n") if line.startswith(f"po/de/{room}.po:")] for room in ROOMS}
    for room in ROOMS:
        if room not in UNDER_WAY:
            s.check(f"{room}: every text is translated", not wanting[room], wanting[room][:3])
    return wanting


def identifiers():
    kinds = {}
    for folder, _, names in os.walk(os.path.join(ROOT, "src")):
        for name in names:
            if not name.endswith((".c", ".h")) or name == "message.h":  # which shows one in its head
                continue
            with open(os.path.join(folder, name)) as file:
                for found in re.findall(r'EW_MESSAGE(?:_PUBLIC|_MANY|_PUBLIC_MANY)?\(\s*\w+,\s*"([^"]+)"', file.read()):
                    kinds.setdefault(found, []).append(name)
    twice = {kind: files for kind, files in kinds.items() if len(files) > 1}
    s.check("each identifier names one kind of message", len(kinds) > 100 and not twice, twice)


# (b) words that are ruled out
def ruled_out():
    with open(os.path.join(ROOT, "docs", "words.md")) as file:
        table = file.read().split("## Ruled out")[1]
    rows = [re.match(r"\| (.+?) \| (.+?) \|$", line) for line in table.split("\n")]
    return [row.group(1) for row in rows if row and row.group(1) not in ("not", "---")]


def uses_of(ruled, text):
    """Does it stand in the text? A row may name where the word is right: 'is no (but "there is no", "is no longer")'."""
    word, _, but = ruled.partition(" (but ")
    for right in re.findall(r'"([^"]+)"', but):
        text = re.sub(r"(?i)(?<!\w)" + re.escape(right) + r"(?!\w)", "", text)
    return re.search(r"(?<![\w'])" + re.escape(word) + r"(?![\w'])", text) is not None


def english_of(room):
    text = subprocess.run([sys.executable, "-c", f"import runpy, sys; sys.argv = ['words']; g = runpy.run_path({WORDS!r}); "
                           f"import json; print(json.dumps([f['msgid'] + ' ' + f.get('msgid_plural', '') "
                           f"for _, f, _ in g['entries'](g['template']({room!r}))]))"],
                          capture_output=True, text=True, check=True).stdout
    return json.loads(text)


def words_of_the_glossary():
    out = ruled_out()
    s.check("the glossary rules words out", len(out) > 10, out)
    found = {room: [(word, text) for text in english_of(room) for word in out
                    if uses_of(word, text)] for room in ROOMS}
    for room in ROOMS:
        if room not in UNDER_WAY:
            s.check(f"{room}: no word that is ruled out", not found[room], found[room][:3])
    return found


# (c) the scramble
def without_sentences(tree):
    """A JSON answer without what is rendered: `text` beside an identifier, labels, and members that are for people only."""
    if isinstance(tree, dict):
        drop = {"text"} if "id" in tree else set()
        if {"label", "section", "kind", "confidence"} <= tree.keys():  # what a figure is called; its key stays
            drop |= {"label", "section"}
        return {key: without_sentences(value) for key, value in tree.items() if key not in drop}
    if isinstance(tree, list):
        return [without_sentences(value) for value in tree]
    return tree


def differences(a, b, at=""):
    """Paths at which two trees differ."""
    if type(a) is not type(b):
        return [f"{at}: {a!r} / {b!r}"]
    if isinstance(a, dict):
        found = [f"{at}.{key}: only in one" for key in a.keys() ^ b.keys()]
        return found + [one for key in a.keys() & b.keys() for one in differences(a[key], b[key], f"{at}.{key}")]
    if isinstance(a, list):
        if len(a) != len(b):
            return [f"{at}: {len(a)} / {len(b)} members"]
        return [one for i, (x, y) in enumerate(zip(a, b)) for one in differences(x, y, f"{at}[{i}]")]
    return [] if a == b else [f"{at}: {a!r} / {b!r}"]


def rows_of(book, table, columns):
    with sqlite3.connect(f"file:{book}?mode=ro", uri=True) as db:
        return db.execute(f"SELECT {columns} FROM {table} ORDER BY 1").fetchall()


PSEUDO = s.path("turned.mo")


def turned(*args, **more):
    return s.run("--language", PSEUDO, *args, **more)


# What is asked of the demo day's book; the same in both languages.
def questions(book):
    inside = ("--book", book)
    return [("pull", "list", *inside), ("pull", "show", 12, *inside), ("pull", "curve", 12, *inside),
            ("pull", "curve", 12, "--standard", "none", *inside), ("pull", "explain", 12, "5000 rpm", *inside),
            ("compare", "--a", "13", "--b", "12", "--no-keep", *inside),
            ("compare", "--a", "5", "--b", "12", "--no-keep", *inside),
            ("compare", "--a", "13", "--b", "13", "--no-keep", *inside),
            ("judge", "step-up", "13", "--no-keep", *inside), ("judge", "step-up", "999", "--no-keep", *inside),
            ("cell", "repeat", *inside), ("book", "verify", *inside), ("book", "info", *inside),
            ("engine", "check", os.path.join(ROOT, "examples", "engines", "v8-solid.yaml")),
            ("air", "factor", "--pressure", "985 hPa", "--temperature", "40 degC", "--humidity", "50 %"),
            ("no", "such", "command"), ("pull", "show", "0", *inside)]


def scramble():
    subprocess.run([sys.executable, WORDS, "pseudo", PSEUDO], check=True, capture_output=True)
    english, other = s.path("english"), s.path("turned")
    first, second = s.run("demo", "--folder", english), turned("demo", "--folder", other)
    s.check("the demo day ends alike", first.code == second.code == 0, (first.code, second.code, second.err[-300:]))
    books = [next((os.path.join(folder, name) for folder, _, names in os.walk(place) for name in names
                   if name.endswith(".book")), None) for place in (english, other)]
    if not s.check("each has its book", all(books), books):
        return first, second, []
    for table, columns in (("curve", "pull_id, digest, bytes"), ("pull", "id, setup, discarded, top_rpm, band_mean_n_m"),
                           ("verdict", "id, question, pair, pulls, says, json"), ("recording", "id, sha256")):
        s.check(f"stored alike: {table}", rows_of(books[0], table, columns) == rows_of(books[1], table, columns))
    texts = [("demo", second.out)]
    for ask in questions(books[0]):
        one = s.run(*ask, "--json")
        here = [books[1] if part == books[0] else part for part in ask]
        two = turned(*here, "--json")
        says = " ".join(map(str, ask[:4])).replace(s.folder, "")
        s.check(f"{says}: the same exit code", one.code == two.code, (one.code, two.code, two.err[-300:]))
        if one.code == two.code == 0 and one.out.startswith("{"):
            found = differences(without_sentences(one.json), without_sentences(two.json))
            found = [f for f in found if not re.search(r"\.(path|book|file|took_s|size|bytes|identity)\b", f)]
            if LEFT:
                for f in found[:10]:
                    print(f"{says}: {f[:160]}")
            else:
                s.check(f"{says}: the same facts", not found, found[:5])
        texts.append((says, turned(*here).out))
    return first, second, texts


# (d) nothing left
FUNCTION = set("the is are was were of to and not with for from that this no on at by an or it be has have its in as than".split())


def english_in(text):
    """Runs of three and more lower-case words of which two are function words: no turned text has them."""
    found = []
    for line in text.split("\n"):
        for run in re.findall(r"(?:\b[a-z]{1,12}\b[ ,;:]{1,2}){2,}\b[a-z]{1,12}\b", line):
            words = re.findall(r"[a-z]+", run)
            if sum(word in FUNCTION for word in words) >= 2:
                found.append(run)
    return found


def whose(room_texts, run):
    for room, texts in room_texts.items():
        if any(run in text for text in texts):
            return room
    return "?"


def nothing_left(texts):
    names = re.findall(r"^  ([a-z][a-z -]*?)  ", s.run("help").out, flags=re.M)
    texts = texts + [(f"help {name}", turned("help", *name.split()).out) for name in names]
    left = [(says, run) for says, text in texts for run in english_in(text)]
    sources = {}
    for room in ROOMS[:-1]:
        parts = []
        for folder, _, files in os.walk(os.path.join(ROOT, "src", room)):
            for name in files:
                if name.endswith((".c", ".h")):
                    with open(os.path.join(folder, name)) as file:
                        parts.append(re.sub(r'"\s*\n\s*"', "", file.read()))
        sources[room] = parts
    by_room = {}
    for says, run in left:
        by_room.setdefault(whose(sources, run), []).append((says, run))
    return by_room


wanting = texts_and_translations()
identifiers()
ruled = words_of_the_glossary()
_, _, shown = scramble()
left = nothing_left(shown)
if LEFT:
    for room in ROOMS + ["?"]:
        print(f"{room:8} not translated {len(wanting.get(room, [])):4}  ruled out {len(ruled.get(room, [])):3}  still English "
              f"{len(left.get(room, [])):4}")
        for says, run in left.get(room, [])[:6]:
            print(f"           {says}: {run}")
for room in ROOMS:
    if room not in UNDER_WAY:
        s.check(f"{room}: nothing is left in English", not left.get(room), left.get(room, [])[:5])
s.finish()
