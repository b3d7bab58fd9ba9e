"""Recordings as a data logger writes them, of an invented engine whose torque curve is known.

The absorber feels what the engine gives less what its own acceleration takes:
measured = torque(speed) / factor_of_day - inertia * acceleration. Noise has a fixed seed.
"""
import math
import random

INERTIA = 0.105  # kg·m2, rotor and coupling together: what the tests put into the cell's file
CELL = "name: cell 1\nrotor_inertia: 0.085 kg·m2\ncoupling_inertia: 0.02 kg·m2\n"
ENGINE = """name: bench four
bore: 86 mm
stroke: 86 mm
cylinders: 4
fuel: gasoline
"""


def torque_n_m(speed_rpm):
    """A smooth curve with its highest torque of 190 N·m at 4,600 rpm."""
    return 190 * (1 - ((speed_rpm - 4600) / 6500) ** 2)


class Recording:
    """Columns with heading, unit and values, to be changed by a test and then written as text."""

    def __init__(self):
        self.columns = []

    def add(self, name, unit, values):
        self.columns.append([name, unit, list(values)])
        return self

    def column(self, name):
        return next(c for c in self.columns if c[0] == name)

    def without(self, *names):
        self.columns = [c for c in self.columns if c[0] not in names]
        return self

    @property
    def rows(self):
        return len(self.columns[0][2])

    def text(self, delimiter=",", decimal=".", units="brackets", header=True, preamble="", trailer="", end="\n"):
        def figure(value):
            return value if isinstance(value, str) else f"{value:.6g}".replace(".", decimal)

        lines = [preamble.rstrip("\n")] if preamble else []
        if header and units == "brackets":
            lines.append(delimiter.join(f"{n} [{u}]" if u else n for n, u, _ in self.columns))
        elif header:
            lines.append(delimiter.join(n for n, _, _ in self.columns))
        if header and units == "row":
            lines.append(delimiter.join(u or "-" for _, u, _ in self.columns))
        for row in zip(*(c[2] for c in self.columns)):
            lines.append(delimiter.join(figure(v) for v in row))
        if trailer:
            lines.append(trailer)
        return end.join(lines) + end


def sweep(low=2500, high=6500, rate=400, hz=50, noise=0.8, seed=1, gain=1.0, sweeps=1, throttle_pct=100,
          oil_bar=4.5, knock=0, inertia=INERTIA, pressure_hpa=990, temperature_c=25, humidity_pct=50):
    """One or more full-load sweeps, with a light load before and a lift after each."""
    chance = random.Random(seed)
    time, speed, load, accelerating = [], [], [], []
    for _ in range(sweeps):
        plan = [(2.0, 0.0, 20.0), ((high - low) / rate, rate, throttle_pct), (1.5, -rate * 2, 5.0)]
        now = float(low)
        for seconds, acceleration, opened in plan:
            for _ in range(int(round(seconds * hz))):
                time.append(len(time) / hz)
                speed.append(now)
                load.append(opened)
                accelerating.append(acceleration)
                now += acceleration / hz
    torque = []
    for n, opened, acceleration in zip(speed, load, accelerating):
        engine = gain * torque_n_m(n) * (1 if opened > 50 else opened / 100)
        torque.append(engine - inertia * acceleration * math.pi / 30 + chance.gauss(0, noise))
    count = len(time)
    hot = [85 + 6 * i / count for i in range(count)]
    knocks = [knock if i == count // 2 else 0 for i in range(count)]
    r = Recording()
    r.add("Time", "s", time)
    r.add("Engine Speed", "rpm", [n + chance.gauss(0, 2) for n in speed])
    r.add("Torque", "N·m", torque)
    r.add("Throttle", "%", [o + chance.gauss(0, 0.2) for o in load])
    r.add("Oil Pressure", "bar", [oil_bar * (0.7 + 0.3 * n / high) + chance.gauss(0, 0.02) for n in speed])
    r.add("Oil Temp", "°C", hot)
    r.add("Coolant Temp", "°C", [h - 5 for h in hot])
    r.add("Lambda", "", [0.88 + chance.gauss(0, 0.003) for _ in range(count)])
    r.add("Fuel Pressure", "bar", [3.0 + chance.gauss(0, 0.01) for _ in range(count)])
    r.add("Baro", "hPa", [pressure_hpa + chance.gauss(0, 0.05) for _ in range(count)])
    r.add("Intake Air Temp", "°C", [temperature_c + chance.gauss(0, 0.05) for _ in range(count)])
    r.add("Humidity", "%", [humidity_pct + chance.gauss(0, 0.2) for _ in range(count)])
    r.add("Knock Count", "", knocks)
    return r


def full_load_points(gain=1.0):
    """A table of steady points, with no time."""
    speeds = list(range(2000, 6001, 500))
    r = Recording()
    r.add("Speed", "rpm", speeds)
    r.add("Torque", "N·m", [gain * torque_n_m(n) for n in speeds])
    return r
