"""One sweep as loggers and spreadsheets of many kinds write it: each file gives the same curve, to the bit.

Delimiters, decimal marks, marks between thousands, quotes, units in brackets or in a row of their own, clocks, line
ends, encodings, preambles, separators behind the last cell.
"""
import recordings
from harness import Scenario

s = Scenario()
sweep = recordings.sweep()


def figure(value, decimal, thousands, places):
    text = f"{value:,.{places}f}"
    return text.replace(",", "\0").replace(".", decimal).replace("\0", thousands)


def clock(seconds, decimal):
    return f"{int(seconds // 3600):02}:{int(seconds // 60) % 60:02}:{seconds % 60:06.3f}".replace(".", decimal)


def written(delimiter=";", decimal=",", thousands="", quote="", units="brackets", time_unit="s", times=None, before="",
            behind="", places=2):
    columns = sweep.columns
    shown = [time_unit if name == "Time" else unit or "-" for name, unit, _ in columns]
    heads = [f"{c[0]} [{u}]" if units == "brackets" else c[0] for c, u in zip(columns, shown)]
    lines = [delimiter.join(quote + h + quote for h in heads) + behind]
    if units == "row":
        lines.append(delimiter.join(shown) + behind)
    if units == "row of brackets":
        lines.append(delimiter.join(f"[{u}]" for u in shown) + behind)
    for row in range(sweep.rows):
        cells = [times(c[2][row], decimal) if times and c[0] == "Time" else
                 figure(float(c[2][row]), decimal, thousands, 3 if c[0] == "Time" else places) for c in columns]
        lines.append(delimiter.join(quote + c + quote for c in cells) + behind)
    return before + "\n".join(lines) + "\n"


german = written(thousands=".")
files = {
    "commas": written(",", "."),
    "decimal commas and thousands points": german,
    "the same with a separator behind each line": written(thousands=".", behind=";"),
    "thousands commas in quotes": written(",", ".", ",", '"'),
    "decimal commas in quotes between commas": written(",", ",", "", '"'),
    "the same with thousands points": written(",", ",", ".", '"'),
    "apostrophes between thousands": written(";", ".", "'"),
    "thin blanks between thousands, tabs": written("\t", ",", "\u202f"),
    "a row of units that says h:m:s": written(units="row", time_unit="h:m:s", times=clock),
    "a row of units in brackets": written(",", ".", units="row of brackets", time_unit="hh:mm:ss.fff", times=clock),
    "a preamble": written(",", ".", before="Logger,7\nSerial,12345\nDate,2026-11-30\nComment,\"all, well\"\n\n"),
    "lines that end with CR": german.replace("\n", "\r"),
    "lines that end with CR LF": german.replace("\n", "\r\n"),
}
for how in ("utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"):
    files[how] = german.encode(how)

whole = {"thousands points in whole numbers": written(thousands=".", places=0),
         "thousands commas in whole numbers": written(decimal=".", thousands=",", places=0)}
reference = {}
for says, content in [*files.items(), *whole.items()]:
    path = s.write("run.csv", content)
    curve = s.run("pull", "curve", path, "--json")
    if not s.check(f"{says}: a curve", curve.code == 0 and curve.err == "", curve):
        continue
    got = {key: curve.json[key] for key in ("speed_rpm", "torque_n_m", "columns")}
    want = reference.setdefault(says in whole, got)
    s.check(f"{says}: the same curve", got == want and len(got["speed_rpm"]) > 10, got)
    s.check(f"{says}: lambda is in it", "lambda" in str(got["columns"]), got["columns"])
    look = s.good("look", path, "--json").json
    s.check(f"{says}: thousands that are not certain are noted",
            any("between thousands" in n["text"] for n in look["notes"]) == (says in whole), look["notes"])

# the same sweep with headings in four more languages, decimal commas and semicolons: common practice, no source. Same bits, none doubted
TONGUES = {
    "German": ("Zeit", "Motordrehzahl", "Drehmoment", "Drosselklappenstellung", "Öldruck", "Öltemperatur", "Kühlwassertemperatur", "Lambda", "Kraftstoffdruck",
               "Luftdruck", "Ansauglufttemperatur", "Luftfeuchte", "Klopfzähler"),
    "French": ("Temps", "Régime moteur", "Couple", "Position papillon", "Pression d'huile", "Température d'huile", "Température d'eau", "Lambda", "Pression carburant",
               "Pression atmosphérique", "Température air admission", "Humidité relative", "Cliquetis"),
    "Spanish": ("Tiempo", "Régimen del motor", "Par", "Posición mariposa", "Presión de aceite", "Temperatura de aceite", "Temperatura del agua", "Lambda",
                "Presión de combustible", "Presión atmosférica", "Temperatura aire admisión", "Humedad relativa", "Detonación"),
    "Italian": ("Tempo", "Giri motore", "Coppia", "Apertura farfalla", "Pressione olio", "Temperatura olio", "Temperatura acqua", "Lambda", "Pressione benzina",
                "Pressione atmosferica", "Temperatura aria aspirata", "Umidità relativa", "Detonazione"),
    "Dutch": ("Tijd", "Motortoerental", "Koppel", "Gasklepstand", "Oliedruk", "Olietemperatuur", "Koelwatertemperatuur", "Lambda", "Brandstofdruk", "Luchtdruk",
              "Inlaatluchttemperatuur", "Luchtvochtigheid", "Pingelen"),
}
english = [c[0] for c in sweep.columns]
wanted = s.good("look", s.write("english.csv", written()), "--json").json["channels"]
for tongue, heads in TONGUES.items():
    for column, head in zip(sweep.columns, heads):
        column[0] = head
    text = written().replace(heads[0] + " [-]", heads[0] + " [s]", 1)
    for column, head in zip(sweep.columns, english):
        column[0] = head
    for how in ("utf-8", "cp1252"):
        path = s.write("tongue.csv", text.encode(how))
        columns = s.good("look", path, "--json").json["channels"]
        s.check(f"{tongue} headings in {how} are the same channels", [c["channel"] for c in columns] == [c["channel"] for c in wanted],
                [(c["column"], c["channel"], w["channel"]) for c, w in zip(columns, wanted) if c["channel"] != w["channel"]])
        got = s.run("pull", "curve", path, "--json")
        s.check(f"{tongue} in {how}: the same curve", got.code == 0 and {key: got.json[key] for key in ("speed_rpm", "torque_n_m", "columns")} == reference[False], got)
s.finish()
