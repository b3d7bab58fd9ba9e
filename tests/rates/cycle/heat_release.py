"""Net heat release of a mean cycle, computed alike from measured and from predicted cylinder pressure.

dQ = (g p dV + V dp) / (g - 1) with g = 1.30, of pressure smoothed over five points (Heywood, ch. 9, from memory), from the spark to its
greatest sum; the angles at which 10, 50 and 90 % of that have been released. Such angles are not those of the mass burnt: heat to the walls is
in them."""
import csv
import math

GAMMA = 1.30


def volume_m3(bore_m, stroke_m, rod_m, ratio, deg):
    a, angle = stroke_m / 2, math.radians(deg)
    swept = math.pi / 4 * bore_m ** 2 * stroke_m
    return swept / (ratio - 1) + math.pi / 4 * bore_m ** 2 * (a + rod_m - a * math.cos(angle) - math.sqrt(rod_m ** 2 - (a * math.sin(angle)) ** 2))


def smooth(values):
    return [sum(values[max(0, i - 2):i + 3]) / len(values[max(0, i - 2):i + 3]) for i in range(len(values))]


def angles(deg, pressure_pa, volume, spark_deg):
    """CA10, CA50, CA90; deg rises evenly and holds the closed part of the cycle."""
    p, total, sums = smooth(pressure_pa), 0, []
    for i in range(1, len(deg)):
        if deg[i] > spark_deg:
            dv, dp = volume[i] - volume[i - 1], p[i] - p[i - 1]
            total += (GAMMA * (p[i] + p[i - 1]) / 2 * dv + (volume[i] + volume[i - 1]) / 2 * dp) / (GAMMA - 1)
        sums.append(total)
    most, found = max(sums), []
    for level in (0.1, 0.5, 0.9):
        i = next(k for k, s in enumerate(sums) if s >= level * most)
        before = sums[i - 1] if i else 0
        found.append(deg[i] + (deg[i + 1] - deg[i]) * (level * most - before) / max(sums[i] - before, 1e-9))
    return found


def read_trace(path, firing_deg=0, low=-100, high=110):
    """Degrees after firing top dead centre and pressure of cylinder 1, of a file written with --trace."""
    rows = list(csv.DictReader(open(path, encoding="utf-8")))
    pressure = [float(r["cylinder 1 pressure [Pa]"]) for r in rows]
    deg = list(range(low, high + 1))
    return deg, [pressure[int(d + firing_deg) % 720] for d in deg]
