"""Calibration of the load cell, the daily zero and check weight, and what an expired one does."""
import recordings
from harness import Scenario

s = Scenario()
book = s.path("shop.book")
G = 9.80665  # standard gravity (CGPM 1901)
arm = 0.5
s.write("engine.yaml", recordings.ENGINE)
s.good("engine", "add", s.path("engine.yaml"), "--book", book)
s.good("pull", "add", s.write("run.csv", recordings.sweep().text()), "--book", book)


def report(name):
    """The text of a report, by the vector sheet (its letters are outlines, so the PDF is read)."""
    import shutil
    import subprocess
    s.good("sheet", "report", "--out", s.path(name + ".pdf"), "--book", book)
    if not shutil.which("pdftotext"):
        return None
    return subprocess.run(["pdftotext", "-layout", s.path(name + ".pdf"), "-"], capture_output=True, text=True,
                          check=True).stdout


text = report("none")
s.check("a report says that there is no calibration", text is None or "alibrat" in text, text)
info = s.good("book", "info", "--book", book, "--json").json
s.check("and so does the book", info["calibration_overdue"], info)

# up and down, read with a gain of 1/1.02, an offset of -0.5 N·m and 0.3 N·m of hysteresis on the way down
masses = [0, 10, 20, 30, 40, 30, 20, 10, 0]
weights = []
for at, mass in enumerate(masses):
    applied = mass * G * arm
    read = (applied + 0.5) / 1.02 + (0.3 if at > 4 else 0)
    weights.append(f"{mass} kg={read:.6f} N·m")
answer = s.good("cell", "calibrate", "--arm", "500 mm", "--weight", *weights, "--note", "as found", "--book", book,
                "--json").json
s.check("gain", abs(answer["gain"] - 1.02) < 0.002, answer)
s.check("gain's uncertainty is told", 0 < answer["gain_standard_uncertainty"] < 0.002, answer)
s.check("offset, less half of the hysteresis", abs(answer["offset_n_m"] + 0.5 + 0.3 * 1.02 * 4 / 9) < 0.05, answer)
s.check("hysteresis", abs(answer["hysteresis_n_m"] - 0.3) < 1e-9, answer)
s.check("points", answer["points"] == 9, answer)
text = report("valid")
s.check("a valid calibration is no caution", text is None or "verdue" not in text and "xpired" not in text, text)
s.check("the book is content", s.good("book", "info", "--book", book, "--json").json["calibration_overdue"] is None)

# a local gravity is heeded
local = s.good("cell", "calibrate", "--arm", "500 mm", "--gravity", "9.78", "--weight", *weights, "--book", book,
               "--json").json
s.check("local gravity scales the gain", abs(local["gain"] / answer["gain"] - 9.78 / G) < 1e-6, local)

# 1 second of validity has run out when the next command starts: dates are stored to the second
s.good("cell", "calibrate", "--arm", "500 mm", "--weight", *weights, "--valid", "0 s", "--book", book)
records = s.good("cell", "calibrations", "--book", book, "--json").json
s.check("three calibrations are kept", len([r for r in records["records"] if r["kind"] == "calibration"]) == 3, records)
s.check("all with date and end", all(r["at"] and r["valid_until"] for r in records["records"]), records)
s.check("an expired one is told", (records["overdue"] or {}).get("id") == "book.calibration-expired", records)
s.check("in words, too", "caution:" in s.good("cell", "calibrations", "--book", book).out)
text = report("expired")
s.check("an expired calibration is shown in the report", text is None or "xpired" in text or "verdue" in text or
        "ran out" in text, text)
if text is None:
    s.skip("texts of reports", "pdftotext is not installed")

# the daily zero and the check weight, on charts of single values (Shewhart; ISO 7870-2: 3 x mean range / 1.128)
zeros = [0.10, 0.20, 0.15, 0.12]
for number, zero in enumerate(zeros):
    got = s.good("cell", "zero", f"{zero} N·m", "--note", "morning", "--book", book, "--json").json
    s.check("zeros are counted", got["count"] == number + 1 and got["in_control"], got)
ranges = [abs(b - a) for a, b in zip(zeros[:-1], zeros[1:-1])]
centre, half = sum(zeros[:3]) / 3, 3 * (sum(ranges) / len(ranges)) / 1.128
s.check("the chart's centre", abs(got["centre"] - centre) < 1e-9, (got, centre))
s.check("the chart's limits", abs(got["upper"] - centre - half) < 1e-9 and abs(got["lower"] - centre + half) < 1e-9,
        (got, half))
wild = s.run("cell", "zero", "4 N·m", "--book", book, "--json")
s.check("a wild zero is an answer of no, and is kept", wild.code == 1 and wild.json["in_control"] is False and
        wild.json["count"] == 5 and "outside its control limits" in wild.err, wild)
for read in (98.1, 98.2, 98.0, 98.1):
    got = s.good("cell", "check-weight", f"{read} N·m", "98.0665 N·m", "--book", book, "--json").json
s.check("the check weight is a share of what is expected", abs(got["value"] - 98.1 / 98.0665) < 1e-9, got)
s.check("a bad check weight is an answer of no",
        s.run("cell", "check-weight", "90 N·m", "98.0665 N·m", "--book", book).code == 1)
s.check("the book is whole", s.run("book", "verify", "--book", book).code == 0)
s.finish()
