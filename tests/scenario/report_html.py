"""The report as one HTML file: the figures of the PDF (pdftotext of poppler is the peer), no script, nothing fetched, and
what people typed kept as text. Well-formedness by Python's html.parser."""
import html
import html.parser
import math
import os
import re
import shutil
import subprocess

from harness import Scenario

s = Scenario()
made = s.good("demo", "--folder", s.path("day"), "--json").json
book = made["book"]
hostile = "<script>alert(1)</script> & \"Sons\" 'n' <b>"
s.good("book", "set", "--book", book, "--shop", hostile, "--terms", "<img src=x onerror=alert(1)>")


class Reader(html.parser.HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags, self.links, self.text, self.open = set(), [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.links += [value for name, value in attrs if name in ("src", "href", "srcset", "action", "data") or name.startswith("on")]
        if tag not in ("meta", "img", "br"):
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.add(tag)

    def handle_endtag(self, tag):
        s.check(f"</{tag}> closes what was opened last", self.open and self.open.pop() == tag, self.getpos())

    def handle_data(self, data):
        if not self.open or self.open[-1] != "style":
            self.text.append(data)


for units in ("si", "us"):
    page, sheet = s.path(f"{units}.html"), s.path(f"{units}.pdf")
    s.good("sheet", "report", "--for", "shop", "--book", book, "--out", page, "--units", units)
    s.good("sheet", "report", "--for", "shop", "--book", book, "--out", sheet, "--units", units)
    source = open(page, encoding="utf-8").read()
    reader = Reader()
    reader.feed(source)
    s.check("every tag is closed", reader.open == [], reader.open)
    s.check("no script, frame or form", not reader.tags & {"script", "iframe", "object", "embed", "form", "link", "base"}, reader.tags)
    s.check("nothing is fetched", all(link.startswith("data:image/png") for link in reader.links), reader.links)
    s.check("a policy that forbids it", "default-src &#39;none&#39;" in source or "default-src 'none'" in source)
    text = " ".join("".join(reader.text).split())
    s.check("what was typed stands as text", hostile in text, text[:300])
    s.check("no heading of pictures where none were chosen", 'class="photos"' not in source and "Pictures" not in text)
    s.check("under 500 kB", len(source) < 500_000, len(source))
    if not shutil.which("pdftotext"):
        s.skip("the figures are those of the PDF", "pdftotext is not there")
        continue
    paper = subprocess.run(["pdftotext", "-layout", sheet, "-"], capture_output=True, text=True, check=True).stdout
    rows = re.findall(r"^\s*(\d,\d{3}(?:\s+[\d.]+){5,})\s*$", paper, re.M)
    s.check("the table is found in the PDF", len(rows) >= 20, len(rows))
    cells = re.sub(r"<(?:th|td)[^>]*>", " ", re.sub(r"</t[hdr]>|<tr>", " ", source))
    plain = " ".join(html.unescape(cells).split())
    for row in rows:
        s.check(f"the row of {row.split()[0]} is the same", " ".join(row.split()) in plain, row)
    for line in ("Highest power", "Highest torque", "Mean torque"):
        told = re.search(line + r"[^\n]*", paper)
        s.check(f"'{line}' is the same", told and " ".join(told.group(0).split()) in text, told)
    digests = re.findall(r"\b[0-9a-f]{64}\b", paper)
    s.check("so are the digests", digests and all(d in text for d in digests), digests)
# Pulls that end at different speeds and differ in set-up: the mean is over the speeds all of them reach, and it is said.
# The peer is the pulls' own curves: mean of the log of torque over the first one's band.
mixed = s.path("mixed.html")
unlike = s.run("sheet", "report", "--for", "shop", "--book", book, "--out", mixed, "--pulls", "2,34,35")
s.check("pulls that are not alike make no mean by accident", unlike.code == 2 and "not alike" in unlike.err and
        not os.path.exists(mixed), unlike)
s.good("sheet", "report", "--for", "shop", "--book", book, "--out", mixed, "--pulls", "2,34,35", "--despite", "set-up")
source = open(mixed, encoding="utf-8").read()
found = re.search(r"Mean torque ([\d,]+) to ([\d,]+) rpm: (\d+) ± \d+ N·m", source)
s.check("the mean and its band stand in the report", found is not None)
low, high = (float(found.group(k).replace(",", "")) for k in (1, 2))
means = []
for pull in ("2", "34", "35"):
    curve = s.good("pull", "curve", pull, "--book", book, "--json").json
    inside = [math.log(y) for x, y in zip(curve["speed_rpm"], curve["torque_n_m"]) if low <= x <= high]
    means.append(math.exp(sum(inside) / len(inside)))
s.check("it is a mean over the band it names", abs(sum(means) / 3 - float(found.group(3))) < 2, (means, found.group(0)))
s.check("pulls that end at different speeds are told", "The pulls end between" in source)
s.check("and that they are not alike, and in what", "not alike: spark 26 deg" in source)
us = s.path("us-mixed.html")
s.good("sheet", "report", "--for", "shop", "--book", book, "--out", us, "--units", "us")
fuel = [float(x) for x in re.findall(r"<td[^>]*>(0\.\d+)</td>", open(us, encoding="utf-8").read())]
s.check("specific fuel in lb/hp-hr has digits that say something", any(0.4 < x < 0.6 and len(str(x)) >= 4 for x in fuel), fuel[:5])

s.finish()
