"""Forty wrong facts and more: what is changed in an otherwise sound recording, what the program doubts, and the one amendment that puts it right.

CELL, ENGINE: of the invented day. A row: what it says; what is changed in the recording; options; another cell or engine file; the doubt; what the
named mend begins with; the amendment (options of `pull amend`, or DISCARD where nothing true can be made of the raw).
"""
import recordings

CELL = recordings.CELL + "largest_torque: 500 N·m\nlargest_speed: 9000 rpm\narm: 400 mm\nelevation: 150 m\n"
ENGINE = recordings.ENGINE + "valve_train_limit: 7500 rpm\nbreathing:\n  expected_torque: 195 N·m\n  torque_speed: 4600 rpm\n"
DISCARD = "discard"


def scaled(name, factor, offset=0.0):
    def change(r):
        column = r.column(name)
        column[2] = [v * factor + offset for v in column[2]]
    return change


def renamed(name, other, unit):
    def change(r):
        column = r.column(name)
        column[0], column[1] = other, unit
    return change


def swapped(one, other):
    def change(r):
        a, b = r.column(one), r.column(other)
        a[2], b[2] = b[2], a[2]
    return change


def all_of(*changes):
    def change(r):
        for one in changes:
            one(r)
    return change


def without(*names):
    return lambda r: r.without(*names)


def fahrenheit(name):
    return scaled(name, 1.8, 32)


def unitless(name):
    return renamed(name, name, "")


def power(factor, unit="kW"):
    def change(r):
        r.add("Power", unit, [factor * t * n * 0.104719755 / 1000 for t, n in zip(r.column("Torque")[2], r.column("Engine Speed")[2])])
    return change


def constant(name, unit, value):
    return lambda r: r.add(name, unit, [value] * r.rows)


def cut(r):
    """Half of the file was pasted."""
    half = r.rows * 6 // 10
    for column in r.columns:
        column[2] = column[2][:half]


def standstill(r):
    """A zero that is 20 N·m off, seen while the engine stands."""
    for column in r.columns:
        first = column[2][0]
        column[2] = [0.0 if column[0] == "Engine Speed" else first] * 60 + column[2]
    r.column("Time")[2] = [i / 50 for i in range(r.rows)]
    torque = r.column("Torque")
    torque[2] = [20.0] * 60 + [v + 20 for v in torque[2][60:]]


NO_AIR = without("Baro", "Intake Air Temp", "Humidity")
AIR = ["--set", "pressure=991 hPa", "--set", "temperature=25 degC", "--set", "humidity=50 %"]
# says; what is changed in the recording; options; other cell or engine file; the doubt; what its mend begins with
ROWS = [
    ("barometer reduced to sea level, typed", NO_AIR, ["--set", "pressure=1046 hPa", *AIR[2:]], None, "pressure-span", "pull amend 5 --set \"pressure=", ["--set", "pressure=991 hPa"]),
    ("barometer of a mountain, typed", NO_AIR, ["--set", "pressure=780 hPa", *AIR[2:]], None, "pressure-span", "pull amend 5 --set \"pressure=", ["--set", "pressure=991 hPa"]),
    ("barometer 15 hPa off within half an hour", NO_AIR, ["--set", "pressure=1010 hPa", *AIR[2:]], None, "pressure-jump", "pull amend 5 --set \"pressure=", ["--set", "pressure=991 hPa"]),
    ("barometer channel is reduced to sea level", scaled("Baro", 1, 52), [], None, "pressure-", "pull amend 5", ["--units", "barometer=not fitted", "--set", "pressure=990 hPa"]),
    ("barometer in inHg under hPa", scaled("Baro", 1 / 33.8638864), [], None, "", "pull amend 5", ["--units", "barometer=inHg"]),
    ("the manifold is taken for the barometer", lambda r: r.column("Baro").__setitem__(2, [700 + 0.03 * n for n in r.column("Engine Speed")[2]]), [], None, "pressure-", "pull amend 5", ["--units", "barometer=not fitted", "--set", "pressure=990 hPa"]),
    ("inlet air of 60 °C, typed", NO_AIR, [*AIR[:2], "--set", "temperature=62 degC", *AIR[4:]], None, "air-temperature", "pull amend 5 --set \"temperature=", ["--set", "temperature=25 degC"]),
    ("inlet air in °F without a unit", all_of(fahrenheit("Intake Air Temp"), unitless("Intake Air Temp")), [], None, "other-unit", "pull amend 5 --units inlet_air_temperature=degF", ["--units", "inlet_air_temperature=degF"]),
    ("inlet air in °F under °C", fahrenheit("Intake Air Temp"), [], None, "other-unit", "pull amend 5 --units inlet_air_temperature=degF", ["--units", "inlet_air_temperature=degF"]),
    ("coolant in °F under °C", fahrenheit("Coolant Temp"), [], None, "other-unit", "pull amend 5 --units coolant_temperature=degF", ["--units", "coolant_temperature=degF"]),
    ("oil in °F under °C", fahrenheit("Oil Temp"), [], None, "other-unit", "pull amend 5 --units oil_temperature=degF", ["--units", "oil_temperature=degF"]),
    ("humidity as a share under per cent", scaled("Humidity", 0.01), [], None, "humidity-low", "pull amend 5 ", ["--units", "humidity=1"]),
    ("humidity typed as half a per cent", NO_AIR, [*AIR[:4], "--set", "humidity=0.5 %"], None, "humidity-low", "pull amend 5 ", ["--set", "humidity=50 %"]),
    ("a dew point above the air", all_of(without("Humidity"), constant("Dew Point", "°C", 34.0)), [], None, "vapour-high", "pull amend 5 --units \"dew_point=not fitted\" --set", ["--units", "dew_point=not fitted", "--set", "dew_point=14 degC"]),
    ("a dew point that the humidity denies", constant("Dew Point", "°C", 2.0), [], None, "humidity-two", "pull amend 5 --units \"dew_point=not fitted\" --set", ["--units", "dew_point=not fitted"]),
    ("a wet bulb of 35 °C for 17 °C, typed", NO_AIR, [*AIR[:4], "--set", "wet_bulb=35 degC"], None, "vapour-high", "pull amend 5", ["--set", "wet_bulb=17 degC"]),
    ("torque in lb-ft under N·m", scaled("Torque", 1 / 1.3558), [], None, "torque-unit", "pull amend 5 --units torque=lb-ft", ["--units", "torque=lb-ft"]),
    ("torque in lb-ft without a unit", all_of(scaled("Torque", 1 / 1.3558), unitless("Torque")), [], None, "torque-unit", "pull amend 5 --units torque=lb-ft", ["--units", "torque=lb-ft"]),
    ("torque in N·m under lb-ft", renamed("Torque", "Torque", "lb-ft"), [], None, "torque-unit", "pull amend 5 --units torque=N·m", ["--units", "torque=N·m"]),
    ("a load cell on the wrong hole of the arm", scaled("Torque", 1.3), [], None, "torque-before", "pull amend 5", ["--units", "torque=0.769230769 N·m"]),
    ("torque twice as large", scaled("Torque", 2.2), [], None, "bmep-high", "pull amend 5", ["--units", "torque=0.454545455 N·m"]),
    ("torque of the wrong sign", scaled("Torque", -1), [], None, "torque-sign", "pull amend 5 --units \"torque=-1 N·m\"", ["--units", "torque=-1 N·m"]),
    ("a zero 20 N·m off", standstill, [], None, "torque-zero", "pull discard 5", DISCARD),
    ("speed of twice the pulses", scaled("Engine Speed", 2), [], None, "piston-speed", "pull amend 5 --units \"speed=FACTOR rpm\"", ["--units", "speed=0.5 rpm"]),
    ("speed of half the pulses", scaled("Engine Speed", 0.5), [], None, "speed-before", "pull amend 5 --units \"speed=FACTOR rpm\"", ["--units", "speed=2 rpm"]),
    ("power of another scale", power(1.5), [], None, "power", "pull amend 5 --map", ["--units", "power=not fitted"]),
    ("power in hp under kW, torque in lb-ft under N·m", all_of(power(1 / 0.7457), scaled("Torque", 1 / 1.3558)), [], None, "", "pull amend 5", ["--units", "torque=lb-ft", "--units", "power=hp"]),
    ("lb-ft and hp without units", all_of(power(1 / 0.7457), scaled("Torque", 1 / 1.3558), unitless("Torque"), unitless("Power")), [], None, "power-units", "pull amend 5 --units torque=lb-ft", ["--units", "torque=lb-ft", "--units", "power=hp"]),
    ("swapped: torque and power", all_of(power(1), swapped("Torque", "Power")), [], None, "", "pull amend 5", ["--map", "channels:\n  torque: { column: Power, unit: N·m }\n  power: { column: Torque, unit: kW }\n"]),
    ("swapped: coolant and inlet air", swapped("Coolant Temp", "Intake Air Temp"), [], None, "", "pull amend 5", ["--map", "channels:\n  coolant_temperature: { column: Intake Air Temp }\n  inlet_air_temperature: { column: Coolant Temp }\n"]),
    ("swapped: oil pressure and oil temperature", swapped("Oil Pressure", "Oil Temp"), [], None, "", "pull amend 5", ["--map", "channels:\n  oil_temperature: { column: Oil Pressure, unit: degC }\n  oil_pressure: { column: Oil Temp, unit: bar }\n"]),
    ("air-fuel ratio under lambda", lambda r: r.column("Lambda").__setitem__(2, [12.9 for _ in range(r.rows)]), [], None, "ratio-as-lambda", "pull amend 5 --units lambda=AFR", ["--units", "lambda=AFR"]),
    ("lambda as a voltage", scaled("Lambda", 0.3), [], None, "reading", "pull amend 5", ["--units", "lambda=not fitted"]),
    ("an air-fuel ratio scaled for ethanol", constant("AFR", "AFR", 7.9), [], None, "lambda-ratio", "pull amend 5 --set \"fuel=", ["--map", "channels:\n  air_fuel_ratio: { column: AFR, fuel: ethanol }\n"]),
    ("fuel flow in lb/hr under g/s", constant("Fuel Flow", "g/s", 55), [], None, "fuel-flow", "pull amend 5 --units fuel_flow=", ["--units", "fuel_flow=lb/hr"]),
    ("fuel flow of a tenth", constant("Fuel Flow", "kg/h", 3.2), [], None, "fuel-flow", "pull amend 5 --units fuel_flow=", ["--units", "fuel_flow=10 kg/h"]),
    ("air flow in lb/hr under kg/h, of twice the engine", constant("Air Flow", "kg/h", 900), [], None, "air-flow", "pull amend 5 --units air_flow=", ["--units", "air_flow=lb/hr"]),
    ("oil pressure in psi under bar", scaled("Oil Pressure", 14.5), [], None, "other-unit", "pull amend 5 --units oil_pressure=psi", ["--units", "oil_pressure=psi"]),
    ("the second speed has one pulse for two", lambda r: r.add("Dyno Speed", "rpm", [n / 2 for n in r.column("Engine Speed")[2]]), [], None, "second-speed", "pull amend 5 --units \"speed=FACTOR rpm\"", ["--units", "speed_2=2 rpm"]),
    ("spark of 3 degrees for 30", None, ["--set", "spark=3 deg"], None, "spark-step", "pull amend 5 --set \"spark=", ["--set", "spark=30 deg"]),
    ("the recorded spark is not the one told", constant("Spark Advance", "deg", 36), [], None, "spark", "pull amend 5 --set \"spark=", ["--set", "spark=36 deg"]),
    ("a file that was pasted half", cut, [], None, "cut-off", "pull discard 5", DISCARD),
    ("an inertia ten times too large", None, [], ("cell", CELL.replace("0.085 kg·m2", "0.85 kg·m2")), "inertia-share", "cell amend", ["--cell", "rotor_inertia=0.085 kg·m2"]),
    ("an arm of 500 mm for 400", None, [], ("cell", CELL.replace("400 mm", "500 mm")), "cell-changed", "cell amend", ["--cell", "arm=400 mm"]),
    ("another engine in the cell: half the size", None, [], ("engine", ENGINE.replace("bench four", "bench twin").replace("cylinders: 4", "cylinders: 2").replace("195", "97")), "bmep-high", "pull amend 5 --engine", ["--engine", "bench four", "--set", "spark=28 deg"]),
    ("another engine in the cell: five times the size", None, [], ("engine", ENGINE.replace("bench four", "big four").replace("86 mm", "147 mm").replace("195", "950").replace("7500", "9900")), "", "pull amend 5", ["--engine", "bench four", "--set", "spark=28 deg"]),
]
