"""Two messy test days of our own invention: what a shop's recorders leave on a memory stick, made from a hidden truth.

    python3 make_day.py FOLDER

writes FOLDER/us (a pushrod V8, one recorder without a unit anywhere) and FOLDER/si (a four, another recorder with semicolons and
decimal commas), and FOLDER/truth.json: what the engines really make in standard air, and the facts a person in the shop knows.

The chain from truth to file, each step by its textbook form and none of it from the program:
    torque in standard air          a smooth curve of ours, T(n)
    torque of the day      T / CA,  CA = 1.18 (990 hPa / p_dry) sqrt(T_air / 298 K) - 0.18   (SAE J1349, spark ignition)
    torque at the load cell         T / CA - J dw/dt, J of absorber and coupling; white noise and a slow wander on top
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


def us_day(folder):
    engine, inertia, low, high = Engine(612.0, 4350, 0.80, 34.0), 0.24, 3000, 6300
    day, hertz = Day(engine, inertia, 4711), 50
    morning, noon = (979.0, 26.5, 0.46), (976.0, 29.0, 0.41)

    def run(air, spark, oil=92):
        return day.pull(air, spark, low, high, 300, hertz, oil)

    files = {"LOG0411.CSV": (run(morning, 30, 82), "11/30/2026 09:12:10 AM", True),
             "LOG0412.CSV": (run(morning, 30), "11/30/2026 09:20:31 AM", True),
             # two pulls in one file, idling between them
             "LOG0413.CSV": (joined(run(morning, 30), day.idle(morning, 25, hertz, 92), run(morning, 30), hertz=hertz), "11/30/2026 09:31:02 AM", True),
             "LOG0414.CSV": (run(morning, 34), "11/30/2026 09:45:40 AM", True),
             "LOG0415.CSV": (run(morning, 34), "11/30/2026 09:52:15 AM", True),
             # after lunch the barometer was not plugged in
             "LOG0416.CSV": (run(noon, 34), "11/30/2026 01:20:05 PM", False)}
    for number, (name, (rows, clock, barometer)) in enumerate(files.items(), 411):
        write(os.path.join(folder, "us"), name, us_text(rows, number, clock, barometer))
    return {"best": truth_of(engine, 34, low, high), "base": truth_of(engine, 30, low, high), "low_rpm": low, "high_rpm": high,
            "rotor_inertia_kg_m2": inertia, "displacement_cid": 372.4, "noon": {"baro_inhg": noon[0] / 33.86389, "air_f": fahrenheit(noon[1]), "humidity": noon[2]}}


def si_day(folder):
    engine, inertia, low, high = Engine(214.0, 4800, 0.85, 27.0), 0.085, 3200, 7200
    day, hertz = Day(engine, inertia, 1905), 20
    air = (1008.5, 14.5, 0.62)
    for name, spark, clock_s in (("messung_007.txt", 24, 36915.0), ("messung_008.txt", 24, 37300.5), ("messung_009.txt", 24, 37702.25),
                                 ("messung_010.txt", 27, 38211.0), ("messung_011.txt", 27, 38640.0)):
        write(os.path.join(folder, "si"), name, si_text(day.pull(air, spark, low, high, 350, hertz, 90), clock_s))
    return {"best": truth_of(engine, 27, low, high), "base": truth_of(engine, 24, low, high), "low_rpm": low, "high_rpm": high,
            "rotor_inertia_kg_m2": inertia, "displacement_l": 1.999}


def make(folder):
    truth = {"us": us_day(folder), "si": si_day(folder)}
    with open(os.path.join(folder, "truth.json"), "w", encoding="utf-8") as file:
        json.dump(truth, file, indent=1)
    return truth


if __name__ == "__main__":
    print(json.dumps(make(sys.argv[1]), indent=1))
