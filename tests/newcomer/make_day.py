"""Three messy test days of our own invention: what a shop's recorders leave on a memory stick, made from a hidden truth.

    python3 make_day.py FOLDER [SEED]

writes FOLDER/us (a pushrod V8, one recorder without a unit anywhere), FOLDER/si (a four, another recorder with semicolons and
decimal commas) and FOLDER/single (one cylinder, the whole day in one file of kgf·m, PS and mmHg with a psychrometer's two
temperatures); FOLDER/facts.txt, which is all that a person in the shop knows, two things of it wrong; and FOLDER/truth.json: what
the engines really make in standard air. Another SEED than 0 makes other engines and other weather.

The chain from truth to file, each step by its textbook form and none of it from the program:
    torque in standard air          a smooth curve of ours, T(n)
    torque of the day      T / CA,  CA = 1.18 (990 hPa / p_dry) sqrt(T_air / 298 K) - 0.18   (SAE J1349, spark ignition)
    torque at the load cell         T / CA - J dw/dt, J of absorber and coupling; white noise and a slow wander on top
    wet bulb                        p_v = p_w(t_wet) - 6.66e-4 (1 + 1.15e-3 t_wet) p (t_dry - t_wet), Assmann's psychrometer
                                    (D. Sonntag, Z. Meteorol. 40, 1990; constants from memory), solved by halving
    vapour pressure                 Magnus' formula with the constants of the WMO guide no. 8, annex 4.B
    fuel                            a BSFC of ours times power; lambda of ours, times 14.7 as an AFR for petrol

What is wrong with the files is what is wrong with files in practice; common practice, no source.
"""
import json
import math
import os
import random
import sys

HPA, RPM = 100.0, math.pi / 30


def vapour_hpa(celsius, humidity):
    return humidity * 6.112 * math.exp(17.62 * celsius / (243.12 + celsius))


def wet_bulb(pressure_hpa, celsius, humidity):
    low, high, vapour = -20.0, celsius, vapour_hpa(celsius, humidity)
    for _ in range(60):
        wet = (low + high) / 2
        if vapour_hpa(wet, 1) - 6.66e-4 * (1 + 1.15e-3 * wet) * pressure_hpa * (celsius - wet) > vapour:
            high = wet
        else:
            low = wet
    return wet


def factor(pressure_hpa, celsius, humidity):
    return 1.18 * 990 / (pressure_hpa - vapour_hpa(celsius, humidity)) * math.sqrt((celsius + 273.15) / 298) - 0.18


class Engine:
    """Torque in standard air by a parabola through its peak with a softer low end; `spark` moves it as a parabola too."""

    def __init__(self, peak_n_m, at_rpm, droop, best_deg):
        self.peak, self.at, self.droop, self.best = peak_n_m, at_rpm, droop, best_deg

    def torque(self, rpm, spark):
        x = rpm / self.at - 1
        shape = 1 - self.droop * x * x * (1.0 if x > 0 else 0.7) - 0.25 * self.droop * x ** 3
        return self.peak * shape * (1 - 0.0012 * (spark - self.best) ** 2)


class Day:
    def __init__(self, engine, inertia, seed):
        self.engine, self.inertia, self.random = engine, inertia, random.Random(seed)

    def pull(self, air, spark, low, high, rate, hertz, oil_c):
        """Rows of one pull: settle, load up, sweep, let go. SI, but for rpm and degrees Celsius."""
        ca, level, rows, wander = factor(*air), 1 + self.random.gauss(0, 0.0022), [], 0.0
        t_load, t_sweep = 2.5, (high - low) / rate
        for i in range(int((t_load + t_sweep + 2.5) * hertz)):
            t = i / hertz
            wander = 0.97 * wander + self.random.gauss(0, 0.0007)
            if t < t_load:
                rpm, alpha, load = low, 0.0, min(1.0, t / 1.2) ** 2
            elif t < t_load + t_sweep:
                rpm, alpha, load = low + rate * (t - t_load), rate * RPM, 1.0
            else:
                rpm, alpha, load = high - 900 * (t - t_load - t_sweep), -900 * RPM, 0.03
            true = self.engine.torque(rpm, spark) / ca * level * load
            cell = true - self.inertia * alpha + self.engine.peak * (wander + self.random.gauss(0, 0.004))
            rows.append({"t": t, "rpm": rpm + self.random.gauss(0, 2.0), "torque": cell, "load": load,
                         "lambda": 0.87 - 0.01 * (rpm - low) / (high - low) + self.random.gauss(0, 0.003) + (0 if load > 0.5 else 0.12),
                         "fuel_kg_h": max(true * rpm * RPM / 1000, 3.0) * 0.301 * (1 + self.random.gauss(0, 0.006)),
                         "oil_c": oil_c + 0.15 * t, "water_c": 80 + 0.1 * t + self.random.gauss(0, 0.05),
                         "oil_kpa": 130 + 0.055 * rpm + self.random.gauss(0, 3), "air_c": air[1] + self.random.gauss(0, 0.1),
                         "air": air})
        return rows

    def idle(self, air, seconds, hertz, oil_c):
        return [{"t": i / hertz, "rpm": 1150 + self.random.gauss(0, 12), "torque": 14 + self.random.gauss(0, 1.2), "load": 0.04,
                 "lambda": 0.97 + self.random.gauss(0, 0.006), "fuel_kg_h": 4.4 * (1 + self.random.gauss(0, 0.01)), "oil_c": oil_c,
                 "water_c": 79.0, "oil_kpa": 190 + self.random.gauss(0, 3), "air_c": air[1], "air": air} for i in range(int(seconds * hertz))]


def joined(*parts, hertz):
    rows = [row for part in parts for row in part]
    for i, row in enumerate(rows):
        row["t"] = i / hertz
    return rows


def fahrenheit(c):
    return c * 1.8 + 32


def us_text(rows, number, clock, barometer):
    """A recorder that writes no unit at all, begins with lines of its own, and ends with a remark."""
    heads = ["Sample", "Time", "Eng RPM", "Torque", "Power", "A/F", "Fuel Flow", "Oil Prs", "Oil Temp", "H2O Temp", "Carb Air"]
    heads += ["Baro", "Vapor Pressure"] if barometer else []
    lines = [f"Channel recorder log {number:04d}", f"Started: {clock}", "Operator: pete", "", ",".join(heads)]
    for i, r in enumerate(rows):
        lb_ft = r["torque"] / 1.3558179483314004
        cells = [str(i + 1), f"{r['t']:.2f}", f"{r['rpm']:.0f}", f"{lb_ft:.1f}", f"{lb_ft * r['rpm'] / 5252.113:.1f}",
                 f"{14.7 * r['lambda']:.2f}", f"{r['fuel_kg_h'] / 0.45359237:.1f}", f"{r['oil_kpa'] / 6.894757:.1f}",
                 f"{fahrenheit(r['oil_c']):.1f}", f"{fahrenheit(r['water_c']):.1f}", f"{fahrenheit(r['air_c']):.1f}"]
        if barometer:
            cells += [f"{r['air'][0] / 33.86389:.2f}", f"{vapour_hpa(r['air'][1], r['air'][2]) / 33.86389:.3f}"]
        lines.append(",".join(cells))
    return "\r\n".join(lines + ["", "End of log"]) + "\r\n"


def si_text(rows, clock_s):
    """Semicolons, decimal commas, German heads, units in a second row, the clock of the recorder in place of seconds."""
    heads = ["Uhrzeit", "Drehzahl", "Drehmoment", "Lambda", "Kraftstoff", "Öldruck", "Öltemp", "Wassertemp", "Ansaugluft", "Luftdruck", "Feuchte"]
    units = ["h:m:s", "1/min", "Nm", "[-]", "kg/h", "bar", "°C", "°C", "°C", "mbar", "%"]
    lines = ["Messung Prüfstand 1;;;;;;;;;;", ";".join(heads), ";".join(units)]
    for r in rows:
        s = clock_s + r["t"]
        clock = f"{int(s // 3600):02d}:{int(s // 60) % 60:02d}:{s % 60:05.2f}"
        cells = [clock, f"{r['rpm']:.0f}", f"{r['torque']:.2f}", f"{14.7 * r['lambda']:.2f}", f"{r['fuel_kg_h']:.2f}", f"{r['oil_kpa'] / 100:.2f}",
                 f"{r['oil_c']:.1f}", f"{r['water_c']:.1f}", f"{r['air_c']:.1f}", f"{r['air'][0]:.1f}", f"{100 * r['air'][2]:.0f}"]
        lines.append(";".join(cells).replace(".", ","))
    return ("\n".join(lines) + "\n").encode("latin-1")


def kgf_text(rows):
    """One file a day: tabulators, remarks behind a sign, time in milliseconds since the recorder was switched on, units in brackets."""
    heads = ["ms", "RPM", "Torque (kgf.m)", "Power [PS]", "AFR", "Head temp [C]", "Oil [C]", "Dry bulb [C]", "Wet bulb [C]", "Baro [mmHg]"]
    lines = ["# single cylinder, bench 2", "# firmware 3.1; cal 2026-02-11", "\t".join(heads)]
    for r in rows:
        kgf_m = r["torque"] / 9.80665
        lines.append("\t".join([f"{418250 + 1000 * r['t']:.0f}", f"{r['rpm']:.0f}", f"{kgf_m:.3f}", f"{r['torque'] * r['rpm'] * RPM / 735.49875:.2f}", f"{14.7 * r['lambda']:.2f}",
                                 f"{r['water_c'] + 75:.0f}", f"{r['oil_c']:.0f}", f"{r['air_c']:.1f}", f"{wet_bulb(*r['air']):.1f}", f"{r['air'][0] / 1.33322387:.1f}"]))
    return "\n".join(lines) + "\n"


def write(folder, name, data):
    os.makedirs(folder, exist_ok=True)
    with open(os.path.join(folder, name), "wb") as file:
        file.write(data if isinstance(data, bytes) else data.encode("utf-8"))


def truth_of(engine, spark, low, high):
    """Peaks in standard air, and the mean of torque over [low, high]."""
    speeds = [low + (high - low) * i / 2000 for i in range(2001)]
    torque = [engine.torque(n, spark) for n in speeds]
    power = [t * n * RPM for t, n in zip(torque, speeds)]
    return {"torque_n_m": max(torque), "torque_rpm": speeds[torque.index(max(torque))], "power_w": max(power),
            "power_rpm": speeds[power.index(max(power))], "spark_deg": spark}


class Drawn:
    """Figures of a day: as they stand for seed 0, moved within their share for any other."""

    def __init__(self, seed):
        self.random = random.Random(seed) if seed else None

    def of(self, value, share):
        return value if not self.random else value * (1 + self.random.uniform(-share, share))

    def degrees(self, value):
        return value if not self.random else value + self.random.randint(-3, 3)

    def engine(self, peak_n_m, at_rpm, droop, best_deg):
        return Engine(self.of(peak_n_m, 0.12), self.of(at_rpm, 0.06), self.of(droop, 0.1), best_deg)

    def air(self, hpa, celsius, humidity):
        return self.of(hpa, 0.025), self.of(celsius, 0.3), self.of(humidity, 0.3)


def us_day(folder, drawn, seed):
    best, low, high = drawn.degrees(34), 3000, 6300
    engine, inertia = drawn.engine(612.0, 4350, 0.80, float(best)), round(drawn.of(0.24, 0.3), 3)
    day, hertz = Day(engine, inertia, 4711 + seed), 50
    morning, noon = drawn.air(979.0, 26.5, 0.46), drawn.air(976.0, 29.0, 0.41)

    def run(air, spark, oil=92):
        return day.pull(air, spark, low, high, 300, hertz, oil)

    files = {"LOG0411.CSV": (run(morning, best - 4, 82), "11/30/2026 09:12:10 AM", True),
             "LOG0412.CSV": (run(morning, best - 4), "11/30/2026 09:20:31 AM", True),
             # two pulls in one file, idling between them
             "LOG0413.CSV": (joined(run(morning, best - 4), day.idle(morning, 25, hertz, 92), run(morning, best - 4), hertz=hertz), "11/30/2026 09:31:02 AM", True),
             "LOG0414.CSV": (run(morning, best), "11/30/2026 09:45:40 AM", True),
             "LOG0415.CSV": (run(morning, best), "11/30/2026 09:52:15 AM", True),
             # after lunch the barometer was not plugged in
             "LOG0416.CSV": (run(noon, best), "11/30/2026 01:20:05 PM", False)}
    for number, (name, (rows, clock, barometer)) in enumerate(files.items(), 411):
        write(os.path.join(folder, "us"), name, us_text(rows, number, clock, barometer))
    return {"best": truth_of(engine, best, low, high), "base": truth_of(engine, best - 4, low, high), "low_rpm": low, "high_rpm": high,
            "rotor_inertia_kg_m2": inertia, "displacement_cid": 372.4, "noon": {"baro_inhg": noon[0] / 33.86389, "air_f": fahrenheit(noon[1]), "humidity": noon[2]}}


def si_day(folder, drawn, seed):
    best, low, high = drawn.degrees(27), 3200, 7200
    engine, inertia = drawn.engine(214.0, 4800, 0.85, float(best)), round(drawn.of(0.085, 0.3), 4)
    day, hertz = Day(engine, inertia, 1905 + seed), 20
    air = drawn.air(1008.5, 14.5, 0.62)
    for name, spark, clock_s in (("messung_007.txt", best - 3, 36915.0), ("messung_008.txt", best - 3, 37300.5), ("messung_009.txt", best - 3, 37702.25),
                                 ("messung_010.txt", best, 38211.0), ("messung_011.txt", best, 38640.0)):
        write(os.path.join(folder, "si"), name, si_text(day.pull(air, spark, low, high, 350, hertz, 90), clock_s))
    return {"best": truth_of(engine, best, low, high), "base": truth_of(engine, best - 3, low, high), "low_rpm": low, "high_rpm": high,
            "rotor_inertia_kg_m2": inertia, "displacement_l": 1.999}


def single_day(folder, drawn, seed):
    best, low, high = drawn.degrees(30), 3500, 7500
    engine, inertia = drawn.engine(46.0, 5400, 0.7, float(best)), round(drawn.of(0.019, 0.3), 4)
    day, hertz = Day(engine, inertia, 5077 + seed), 25
    air = drawn.air(1013.0, 19.0, 0.55)
    parts = []
    for spark in (best, best, best - 5, best - 5, best):
        parts += [day.idle(air, 40, hertz, 88), day.pull(air, spark, low, high, 400, hertz, 90)]
    write(os.path.join(folder, "single"), "bench2.log", kgf_text(joined(*parts, hertz=hertz)))
    return {"best": truth_of(engine, best, low, high), "base": truth_of(engine, best - 5, low, high), "low_rpm": low, "high_rpm": high,
            "rotor_inertia_kg_m2": inertia, "displacement_l": 0.499}


def facts(truth):
    us, si, single = truth["us"], truth["si"], truth["single"]
    noon = us["noon"]
    return f"""Cedar Hollow, America/Los_Angeles, US units: pushrod V8, bore 4.065 in, stroke 3.587 in, petrol, agreed limit 6300 rpm, arm 18 in.
Rotor and coupling {10 * us["rotor_inertia_kg_m2"]:g} kg·m2, from a note on the wall (the maker's plate says {us["rotor_inertia_kg_m2"]:g}).
LOG0411 for heat, LOG0411 to 0413 at {us["base"]["spark_deg"]} degrees, 0414 to 0416 at {us["best"]["spark_deg"]}.
After lunch the barometer was not plugged in; on the wall: {noon["baro_inhg"]:.2f} inHg, {100 * noon["humidity"]:.0f} %.

Ahornweg Motoren, Europe/Berlin: four, 86 x 86.03 mm, petrol, agreed limit 7200 rpm, arm 400 mm, rotor and coupling {si["rotor_inertia_kg_m2"]:g} kg·m2.
2026-11-27 from a quarter past ten; 007 for heat, 007 to 009 at {si["base"]["spark_deg"]} degrees, 010 and 011 at {si["best"]["spark_deg"]}.

Bench 2, Europe/Dublin: single, 90 x 78.4 mm, petrol, agreed limit 7500 rpm, arm 250 mm, rotor and coupling {single["rotor_inertia_kg_m2"]:g} kg·m2.
2026-11-28 from two in the afternoon, all in one file: the first for heat, two at {single["best"]["spark_deg"]} degrees, two at {single["base"]["spark_deg"]}, one at {single["best"]["spark_deg"]} again.
"""


def make(folder, seed=0):
    drawn = Drawn(seed)
    truth = {"us": us_day(folder, drawn, seed), "si": si_day(folder, drawn, seed), "single": single_day(folder, drawn, seed)}
    with open(os.path.join(folder, "truth.json"), "w", encoding="utf-8") as file:
        json.dump(truth, file, indent=1)
    with open(os.path.join(folder, "facts.txt"), "w", encoding="utf-8") as file:
        file.write(facts(truth))
    return truth


if __name__ == "__main__":
    make(sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 0)
