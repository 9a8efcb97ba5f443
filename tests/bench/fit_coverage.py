#!/usr/bin/env python3
"""Do the 95 % intervals of `fit` hold the truth? fit_coverage.py PROGRAM SCENARIOS [LOGS [SEED [LOW HIGH]]] [circuit]

Each log is a bay test of the program's own (steps of speed, doors open, 25 minutes) whose parameters are drawn at random
and hidden from the fit, which starts from the van as it stands in its file. The clamps' lag and pull are the model's; on top
come what the channel table says of the usual instruments: noise of each reading, a constant offset of each instrument, and
display steps. The shell is read every 30 s. Two, three and four parameters are freed in turn, of the body by replay, or with the
word `circuit` of the exchangers, the valve and the suction line by the closed circuit.

This is a check of the fitting, not of the physics: fit and log share their equations. Prints one line per set of parameters
and ends with 1 if the share of intervals that hold lies outside LOW..HIGH (default 0.90..0.99)."""
import concurrent.futures
import csv
import json
import math
import os
import random
import subprocess
import sys
import tempfile

CIRCUIT = sys.argv[-1] == "circuit"
if CIRCUIT:
    del sys.argv[-1]
PROGRAM, SCENARIOS = os.path.abspath(sys.argv[1]), os.path.abspath(sys.argv[2])
LOGS = int(sys.argv[3]) if len(sys.argv) > 3 else 200
SEED = int(sys.argv[4]) if len(sys.argv) > 4 else 1
LOW, HIGH = (float(x) for x in (sys.argv[5:7] if len(sys.argv) > 6 else (0.90, 0.99)))

# key: lowest and highest truth, SI
TRUTHS = {
    "compressor.indicated_efficiency": (0.72, 0.94),
    "compressor.ua_discharge_heads": (5.0, 14.0),
    "body.shell_film": (7.0, 22.0),
    "body.block_capacity": (1400.0, 3200.0),
}
UNITS = {"compressor.indicated_efficiency": "", "compressor.ua_discharge_heads": "W/K", "body.shell_film": "W/m2/K",
         "body.block_capacity": "J/K"}
if CIRCUIT:
    TRUTHS = {"condenser.ua_air": (550.0, 1000.0), "valve.area": (1.9, 3.4), "evaporator.ua_air": (320.0, 800.0),
              "suction_line.ua": (1.5, 5.0)}
    UNITS = {"condenser.ua_air": "W/K", "valve.area": "mm2", "evaporator.ua_air": "W/K", "suction_line.ua": "W/K"}
TO_SI = {"mm2": 1e-6}
SETS = [list(TRUTHS)[:2], list(TRUTHS)[:3], list(TRUTHS)]
# channel: noise, offset (model/tables/channels.def), display step; SI
INSTRUMENTS = {
    "suction_pressure": (4e3, 5e3, 5e3),
    "discharge_pressure": (1e4, 1.5e4, 1e4),
    "suction_temperature": (0.3, 0.7, 0.1),
    "discharge_temperature": (0.3, 0.7, 0.1),
    "shell_temperature": (0.6, 1.2, 0.5),
    "ambient_temperature": (0.2, 0.5, 0.1),
    "compressor_speed": (0.15, 0.2, 1 / 60),
    "vehicle_speed": (0, 0, 0),
    "clutch": (0, 0, 0),
}
if CIRCUIT:
    INSTRUMENTS.update({name: (0.3, 0.7, 0.1) for name in ("liquid_line_temperature", "vent_temperature", "cabin_temperature")})
SHELL_EVERY = 30


def run(*arguments):
    done = subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, timeout=300, check=False)
    if done.returncode != 0:
        raise RuntimeError(f"{' '.join(arguments)}: {done.stderr}")


def truth_of(chance, keys):
    return {key: math.exp(chance.uniform(math.log(TRUTHS[key][0]), math.log(TRUTHS[key][1]))) for key in keys}


def write_schedule(path, chance):
    speeds = chance.sample([800, 1200, 1500, 2000, 2500], 5)
    with open(path, "w", encoding="utf-8") as f:
        print("time[s],compressor_speed[rpm]", file=f)
        for i, speed in enumerate(speeds):
            print(f"{300 * i + (5 if i else 0)},{speed}\n{300 * (i + 1) - 1},{speed}", file=f)


def write_scenario(folder, chance):
    write_schedule(os.path.join(folder, "steps.csv"), chance)
    scenario = os.path.join(folder, "bay.ini")
    with open(scenario, "w", encoding="utf-8") as f:
        f.write(f"[scenario]\ntitle = bay test, invented\nvehicle = {os.path.join(SCENARIOS, 'van-valve.ini')}\n"
                f"schedule = steps.csv\n[conditions]\nambient_temperature = {chance.uniform(24, 36):.1f} degC\n"
                "ambient_humidity = 0.45\nvehicle_speed = 0 km/h\ndoors_open = 1\n[run]\nduration = 1500 s\n")
    return scenario


def read_badly(value, name, offset, chance):
    noise, _, step = INSTRUMENTS[name]
    x = value + offset + chance.gauss(0, noise)
    return round(x / step) * step if step else x


def write_log(series, log, chance):
    offset = {name: chance.gauss(0, sigma) for name, (_, sigma, _) in INSTRUMENTS.items()}
    with open(series, encoding="utf-8") as f, open(log, "w", encoding="utf-8") as out:
        rows = csv.reader(f)
        head = next(rows)
        at = [(i, cell.split("[")[0]) for i, cell in enumerate(head)
              if cell.split("[")[0] in INSTRUMENTS or cell.startswith("time[")]
        print(",".join(head[i] for i, _ in at), file=out)
        for row in rows:
            cells = []
            for i, name in at:
                if name == "time":
                    cells.append(row[i])
                elif name == "shell_temperature" and round(float(row[at[0][0]])) % SHELL_EVERY:
                    cells.append("")
                else:
                    cells.append(f"{read_badly(float(row[i]), name, offset[name], chance):.7g}")
            print(",".join(cells), file=out)


def one(number):
    """[(set, key, truth, low, value, high)] of one log"""
    chance = random.Random(1000003 * SEED + number)
    which = number % len(SETS)
    truth = truth_of(chance, SETS[which])
    with tempfile.TemporaryDirectory() as folder:
        scenario = write_scenario(folder, chance)
        sets = [x for key, value in truth.items() for x in ("--set", f"{key}={value} {UNITS[key]}".strip())]
        run("run", scenario, "--plot", "none", "-q", "-o", os.path.join(folder, "truth"), *sets)
        log = os.path.join(folder, "log.csv")
        write_log(os.path.join(folder, "truth", "series.csv"), log, chance)
        run("fit", log, "--vehicle", os.path.join(SCENARIOS, "van-valve.ini"), "--free", ",".join(truth), "-q", "-o",
            folder, "--plot", "none", "--holdout", "0", *(["--with", "circuit"] if CIRCUIT else []))
        with open(os.path.join(folder, "fit.json"), encoding="utf-8") as f:
            estimates = json.load(f)["estimates"]
    return [(which, key, value * TO_SI.get(UNITS[key], 1), estimates[key]["low"], estimates[key]["value"], estimates[key]["high"])
            for key, value in truth.items()]


def main():
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        rows = [row for result in pool.map(one, range(LOGS)) for row in result]
    good = True
    for which, keys in enumerate(SETS):
        for key in keys:
            mine = [row for row in rows if row[0] == which and row[1] == key]
            held = sum(low <= truth <= high for _, _, truth, low, _, high in mine)
            error = sum(math.log(value / truth) for _, _, truth, _, value, _ in mine) / max(1, len(mine))
            width = sorted(high / max(low, 1e-9) for _, _, _, low, _, high in mine)[len(mine) // 2] if mine else math.nan
            print(f"{len(keys)} free  {key:34s} held {held:3d} of {len(mine):3d}  mean error {100 * error:+6.2f} %  "
                  f"median high/low {width:.3f}")
    held = sum(low <= truth <= high for _, _, truth, low, _, high in rows)
    share = held / len(rows)
    good = LOW <= share <= HIGH
    print(f"all: {held} of {len(rows)} intervals from {LOGS} logs hold the truth: {100 * share:.1f} % "
          f"({'inside' if good else 'OUTSIDE'} {100 * LOW:.0f} to {100 * HIGH:.0f} %)")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
