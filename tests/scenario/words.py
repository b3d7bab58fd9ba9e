"""Nothing is left in prose. With every text of the catalogue turned around (script/words pseudo) the same questions give the
same verdicts, digests, identifiers, figures and exit codes, on the command line, in a session of the practice cell, from the
server and on paper; what people read is then no longer English; the German has no English left in it, on the demo day, on
sheets and in help; and no text uses a word that docs/words.md rules out, in messages, manual, manual page and comments.

Outside source: gettext's own msgfmt makes the turned catalogue, pdftotext (poppler) reads the sheets.

python3 words.py PROGRAM [--left]   with --left what is still English is listed, room by room, and nothing is judged
"""
import json
import os
import re
import shutil
import sqlite3
import subprocess
import sys
import urllib.error
import urllib.request

from door import let_in
from harness import Scenario

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
WORDS = os.path.join(ROOT, "script", "words")
ROOMS = "base book build cell cli cycle desk engine gas judge pull search serve sheet shop web".split()

LEFT = "--left" in sys.argv
s = Scenario()


# (a) every text has its translation, and each identifier its one meaning
def texts_and_translations():
    done = subprocess.run([sys.executable, WORDS, "check", *ROOMS], capture_output=True, text=True, check=False)
    wanting = {room: [line for line in done.stdout.split("\n") if line.startswith(f"po/de/{room}.po:")] for room in ROOMS}
    for room in ROOMS:
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
        s.check(f"{room}: no word that is ruled out", not found[room], found[room][:3])
    return found


# (c) the scramble
# Members that docs/api calls sentences or names for people; a figure of the same name stays.
FOR_PEOPLE = {"assumed", "limit", "does", "from", "title"}


def without_sentences(tree):
    """A JSON answer without what is rendered: `text` beside an identifier, labels, and members that are for people only."""
    if isinstance(tree, dict):
        drop = {"text"} if "id" in tree else {"about"} if "title" in tree else set()
        drop |= {key for key in FOR_PEOPLE & tree.keys() if isinstance(tree[key], (str, list))}
        if {"label", "section", "kind", "confidence"} <= tree.keys():  # what a figure is called; its key stays
            drop |= {"label", "section", "method"}
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
    return [] if a == b or rendered_alike(at, a, b) else [f"{at}: {a!r} / {b!r}"]


def rendered_alike(at, a, b):
    """Members that are a sentence and nothing else: the refusal's, a field's range, a yes or no as it is shown. The words are
    turned, the figures in them are the same."""
    if not isinstance(a, str) or not isinstance(b, str) or not at.endswith((".error", ".range", ".shown", ".method.engine_inertia")):
        return False
    return re.findall(r"\d[\d.,]*", a) == re.findall(r"\d[\d.,]*", b) and sorted(a) == sorted(b)


def rows_of(book, table, columns):
    with sqlite3.connect(f"file:{book}?mode=ro", uri=True) as db:
        return db.execute(f"SELECT {columns} FROM {table} ORDER BY 1").fetchall()


PSEUDO = s.path("turned.mo")
DAY, BUILD = (os.path.join(ROOT, "examples", kind, "hill-climb-six.yaml") for kind in ("days", "build"))
TARGETS, CHECKLISTS = (os.path.join(ROOT, "examples", "build", name + ".yaml") for name in ("targets", "checklists"))


def on_paper(pdf):
    return subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True, check=True).stdout


def turned(*args, **more):
    return s.run("--language", PSEUDO, *args, **more)


WRITING = {("build", "start"), ("build", "load"), ("pull", "discard")}


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
            ("build", "start", "--build", "turned", *inside), ("build", "load", BUILD, *inside),
            ("build", "check", *inside), ("build", "check", "--before", "load", *inside), ("build", "show", *inside), ("build", "due", *inside),
            ("engine", "predict", os.path.join(ROOT, "examples", "engines", "hill-climb-six.yaml"), "--speeds", "4000:5000:1000"),
            ("judge", "sweep", "spark", *map(str, range(12, 26)), "--no-keep", *inside), ("cell", "alarms", *inside), ("cell", "outputs"),
            ("cell", "calibrations", *inside), ("look", os.path.join(ROOT, "README.md")), ("pull", "discard", "3", "--reason", "a test", *inside),
            ("compare", "--a", "3", "--b", "2", "--no-keep", *inside), ("judge", "step-up", "3", "--no-keep", *inside),
            ("no", "such", "command"), ("pull", "show", "0", *inside)]


def figures_by_name(plain, scrambled):
    """What is shown of a figure beside its value is a text: its section, its label and the method it comes by."""
    for part in ("section", "label", "method"):
        left = sorted({plain[key][part] for key in plain if plain[key][part] == scrambled[key][part]})
        s.check(f"engine check: the {part} of each figure is a text of the catalogue", len(plain) > 40 and not left, left)


def pipes():
    """The name of a pipe in a message is a text; in the file of a trace it is a key, which no language turns."""
    with open(os.path.join(ROOT, "src", "cycle", "why_not.c")) as file:
        known = set(re.findall(r'{"(\w+)", &', file.read()))
    made = set()
    for name in os.listdir(os.path.join(ROOT, "src", "cycle")):
        if name.startswith("from_engine") and name.endswith(".c"):
            with open(os.path.join(ROOT, "src", "cycle", name)) as file:
                made |= set(re.findall(r'add_pipe\(a, g_strdup(?:_printf)?\("(\w+)', file.read()))
    s.check("each pipe that a model has is named in the catalogue", len(made) > 4 and made == known, made ^ known)
    traces = [s.path("trace.csv"), s.path("turned-trace.csv")]
    heads = []
    for how, path in zip((s.run, turned), traces):
        how("engine", "predict", os.path.join(ROOT, "examples", "engines", "hill-climb-six.yaml"), "--speeds", "4000:4000:1000", "--trace", path, "--threads", "1")
        with open(path) as file:
            heads.append(file.readline())
    s.check("the columns of a trace are keys", heads[0] == heads[1] and "runner 1 end 1 pressure [Pa]" in heads[0], heads)


def scramble():
    subprocess.run([sys.executable, WORDS, "pseudo", PSEUDO], check=True, capture_output=True)
    books, reports = [s.path("english.book"), s.path("turned.book")], [s.path("english.pdf"), s.path("turned.pdf")]
    first, second = (how("cell", "practice", DAY, "--book", book, "--report", report)
                     for how, book, report in zip((s.run, turned), books, reports))
    s.check("the day ends alike", first.code == second.code == 0, (first.code, second.code, second.err[-300:]))
    shop = [reports[0] + ".shop.pdf", reports[1] + ".shop.pdf"]
    for how, book, out in zip((s.run, turned), books, shop):
        how("sheet", "report", "--for", "shop", "--book", book, "--out", out)
    for table, columns in (("curve", "pull_id, digest, bytes"), ("pull", "id, setup, discarded, top_rpm, band_mean_n_m"),
                           ("verdict", "id, question, pair, pulls, says, json"), ("recording", "id, sha256")):
        s.check(f"stored alike: {table}", rows_of(books[0], table, columns) == rows_of(books[1], table, columns))
    texts = [("day", second.out)]
    for ask in questions(books[0]):
        one = s.run(*ask, "--json")
        here = [books[1] if part == books[0] else part for part in ask]
        two = turned(*here, "--json")
        says = " ".join(map(str, ask[:4])).replace(s.folder, "")
        s.check(f"{says}: the same exit code", one.code == two.code, (one.code, two.code, two.err[-300:]))
        if one.code == two.code == 0 and one.out.startswith("{"):
            found = differences(without_sentences(one.json), without_sentences(two.json))
            found = [f for f in found if not re.search(r"\.(path|book|file|took_s|wall_s|size|bytes|identity|at|\w+_at|uid)\b", f)]
            if LEFT:
                for f in found[:10]:
                    print(f"{says}: {f[:160]}")
            else:
                s.check(f"{says}: the same facts", not found, found[:5])
            if ask[:2] == ("engine", "check"):
                figures_by_name(one.json["about"], two.json["about"])
        texts.append((says, turned(*here).out))
        if ask[:2] in WRITING:  # both books are written in as often: their row numbers are compared, too
            s.run(*ask)
    texts.append(("report", on_paper(reports[1])))
    papers = [sorted(re.findall(r"\d+\.\d+", on_paper(report) + on_paper(sheet))) for report, sheet in zip(reports, shop)]  # turned texts turn their order, never a figure
    s.check("the reports have the same figures", papers[0] == papers[1] and len(papers[0]) > 50, [(f, papers[0].count(f), papers[1].count(f)) for f in sorted(set(papers[0] + papers[1])) if papers[0].count(f) != papers[1].count(f)][:8])
    return books, texts


# (d) a session of the practice cell: arming, a trip, a pull that is judged, an exchange of lines
SESSION = "practice:?pace=0&seed=7&run=sweep 2500 6500 300;wait 60;fault oil-pump;wait 5;sweep 2500 6500 300;wait 20;clear;start;wait 60;" \
          "sweep 2500 6500 300;wait 2;nonsense;end"
FACTS = {"alarm": ("name", "action", "says", "watch", "unit"), "arming": ("armed",), "pull": ("found", "armed", "verdict", "against"),
         "end": ("how",), "source": ("what",)}


def facts_of(news):
    """What was decided, and with which identifiers; not when, since two sessions are two."""
    found = []
    for one in news:
        if one["event"] in FACTS:
            ids = [one[key]["id"] for key in ("why", "message", "says") if isinstance(one.get(key), dict)]
            found.append((one["event"], *[one.get(key) if not isinstance(one.get(key), dict) else one[key]["id"] for key in FACTS[one["event"]]], *ids))
    return found


def session(how, book):
    done = how("cell", "record", "--json", "--book", book, "--limit", "7000 rpm", "--rate", "300 rpm/s", "--source", SESSION)
    return done, [json.loads(line) for line in done.out.splitlines()]


def sessions():
    books = [s.path("live-english.book"), s.path("live-turned.book")]
    (one, news), (two, others) = session(s.run, books[0]), session(turned, books[1])
    s.check("the sessions end alike", one.code == two.code, (one.code, two.code, two.err[-300:]))
    a, b = facts_of(news), facts_of(others)
    s.check("a session decides the same", a == b, [pair for pair in zip(a, b) if pair[0] != pair[1]][:3] or (len(a), len(b)))
    s.check("with arming, a trip and pulls in it", {"arming", "alarm", "pull"} <= {fact[0] for fact in a}, sorted({fact[0] for fact in a}))
    for ask in (("cell", "alarms", "--trips"), ("judge", "step-up", "2", "--no-keep"), ("pull", "list")):
        x, y = s.run(*ask, "--book", books[0], "--json"), turned(*ask, "--book", books[1], "--json")
        found = differences(without_sentences(x.json), without_sentences(y.json)) if x.code == y.code == 0 else [(x.code, y.code, x.err)]
        found = [f for f in found if not re.search(r"\.(at|recorded_at|measured_at|day|file|name|uid|found_at)\b", f)]
        s.check(f"after the session, {' '.join(ask[:2])}: the same facts", not found, found[:5])


# (e) the server
PAGES = ["book", "pulls", "pulls/12/explain?speed_rpm=5000", "pulls/12/origins", "pulls/12/step-up", "day", "engine", "engines", "build", "trips", "shop",
         "method", "channels", "curves?pulls=12,13", "live", "handover", "notes", "ledger", "pulls/999/explain?speed_rpm=1", "nothing-here"]


def served(book, *language):
    server = subprocess.Popen([s.program, *language, "serve", "--book", book, "--port", "0", "--json"], stdout=subprocess.PIPE,
                              stderr=subprocess.PIPE, text=True, env=s.environment)
    try:
        said = json.loads(server.stdout.readline())
        at, mine = said["address"].rstrip("/") + "/api/v1/", {"Cookie": let_in(said)}
        answers = {}
        for page in PAGES:
            try:
                with urllib.request.urlopen(urllib.request.Request(at + page, headers=mine), timeout=60) as answer:
                    answers[page] = (answer.status, json.load(answer))
            except urllib.error.HTTPError as problem:
                answers[page] = (problem.code, json.load(problem))
        return answers
    finally:
        server.terminate()
        server.wait(20)


def servers(books):
    one, two = served(books[0]), served(books[1], "--language", PSEUDO)
    for page in PAGES:
        found = differences(without_sentences(one[page][1]), without_sentences(two[page][1])) if one[page][0] == two[page][0] else [(one[page][0], two[page][0])]
        found = [f for f in found if not re.search(r"\.(path|book|server|now|at|\w+_at|uid|backup|folder|size|identity|version|link|since|valid_until)\b", f)]
        s.check(f"the server's {page}: the same facts", not found, found[:5])


# (f) nothing left
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


SHOPS_OWN = " ".join(" ".join(open(file).read().split()) for file in (DAY, BUILD, TARGETS, CHECKLISTS))


def without_own(text):
    """Without what the shop's own files say: the day's script, the build's."""
    for file in (DAY, BUILD, TARGETS, CHECKLISTS):
        with open(file) as lines:
            own = {(quoted or bare).strip() for quoted, bare in re.findall(r': (?:"([^"]+)"|([^{}\[\]"\n]+))', lines.read())}
            own |= {part.strip() for one in own for part in one.split(",")}
        for one in sorted(own, key=len, reverse=True):
            text = text.replace(one, " ") if " " in one else text
    return text


def whose(room_texts, run):
    return next((room for room, texts in room_texts.items() if any(run in text for text in texts)), "?")


def nothing_left(texts):
    names = re.findall(r"^  ([a-z][a-z -]*?)  ", s.run("help").out, flags=re.M)
    texts = texts + [(f"help {name}", turned("help", *name.split()).out) for name in names]
    left = [(says, run) for says, text in texts for run in english_in(without_own(text)) if " ".join(run.split()[-3:]) not in SHOPS_OWN and " ".join(run.split()[:3]) not in SHOPS_OWN]
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


# (g) German: English words that German does not have. Keys, options, addresses and examples of commands stay as they are.
ENGLISH = re.compile(r"(?<![\w./=<-])(the|is|are|of|and|not|with|for|this|that|were|from|by|be|has|have|which|when|while|than|its|it|to|yet|nothing|known|"
                     r"pulls|set-up|speed|mixture|never|unknown|rpm|yes)(?![\w./=>-])", re.I)
KEYS = re.compile(r"\bengine, cell, set-up, start\b|\bcell, set-up\b|\bstart, stop, speed N.*|'[^']*'|\"[^\"]*\"|`[^`]*`|--\S+|% of \w+|\w+\([\w ]*\)|\b[A-Z]{2,}\b|^  [a-z_]+ {2,}|\b[a-z]+_[a-z_]+\b")


def english_words(text):
    found = []
    for line in text.split("\n"):
        if not line.lstrip().startswith(("enginewright", "build/", "/")) and (hit := ENGLISH.search(KEYS.sub(" ", line))):
            found.append(f"{hit.group(1)}: {line.strip()[:140]}")
    return found


def german():
    folder = s.path("deutsch")
    say = lambda *args: s.run("--language", "de", *args)
    demo = say("demo", "--folder", folder)
    inside = ("--book", os.path.join(folder, "demo.book"))
    shown = [("demo", demo.out), ("report", on_paper(os.path.join(folder, "report.pdf")))]
    say("build", "start", "--build", "Neuaufbau", *inside)
    for kind in ("day", "build", "care", "degree", "lash", "dispatch"):
        made = say("sheet", kind, "--out", s.path(kind + ".pdf"), *inside)
        if made.code == 0:
            shown.append((f"sheet {kind}", on_paper(s.path(kind + ".pdf"))))
    asked = [ask for ask in questions(inside[1]) if ask[:2] not in (("build", "load"), ("build", "start"), ("cell", "alarms"))]
    shown += [(" ".join(map(str, ask[:3])).replace(s.folder, ""), say(*ask).out) for ask in asked]
    for name in re.findall(r"^  ([a-z][a-z -]*?)  ", s.run("help").out, flags=re.M):
        shown.append((f"help {name}", re.split(r"^Beispiele:", say("help", *name.split()).out, flags=re.M)[0]))
    s.check("sheets, questions and help were looked at in German", len(shown) > 100, len(shown))
    return [(says, found) for says, text in shown for found in english_words(text)]


# (h) the glossary holds for what people read and for what builders read
def manual_and_comments():
    out, found = ruled_out(), []
    for folder, _, names in os.walk(os.path.join(ROOT, "docs", "manual")):
        for name in sorted(name for name in names if name.endswith(".md")):
            with open(os.path.join(folder, name)) as file:
                text = file.read()
            found += [(name, word) for word in out if uses_of(word, text)]
    found += [("the manual page", word) for word in out if uses_of(word, s.run("help", "--man").out)]
    for folder, _, names in os.walk(os.path.join(ROOT, "src")):
        for name in sorted(names):
            if name.endswith((".c", ".h")):
                with open(os.path.join(folder, name)) as file:
                    comments = re.sub(r"\s*\n \*\s*", " ", " ".join(re.findall(r"/\*.*?\*/", file.read(), flags=re.DOTALL)))
                found += [(name, word) for word in out if uses_of(word, comments)]
    return found


texts_and_translations()
identifiers()
words_of_the_glossary()
BOOKS, shown = scramble()
pipes()
sessions()
servers(BOOKS)
left = nothing_left(shown)
if LEFT:
    for room in ROOMS + ["?"]:
        for says, run in left.get(room, []):
            print(f"{room:8} {says}: {run}")
    for says, run in german():
        print(f"German   {says}: {run}")
    for name, word in manual_and_comments():
        print(f"glossary {name}: {word}")
for room in ROOMS + ["?"]:
    s.check(f"{room}: nothing is left in English", not left.get(room), left.get(room, [])[:5])
if not LEFT:
    rest = german()
    s.check("no English is left in the German", not rest, rest[:10])
    rest = manual_and_comments()
    s.check("the manual, its page and the comments keep to the glossary", not rest, rest[:10])
s.finish()
