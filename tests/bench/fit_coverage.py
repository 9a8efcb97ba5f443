#!/usr/bin/env python3
"""Do the 95 % intervals of `fit` hold the truth? fit_coverage.py PROGRAM SCENARIOS [LOGS [SEED [LOW HIGH]]] [circuit] [KIND]

Each log is a bay test of the program's own (steps of speed, doors open, 25 minutes) whose parameters are drawn at random
and hidden from the fit, which starts from the van as it stands in its file. The clamps' lag and pull are the model's; on top
come what the channel table says of the usual instruments: noise of each reading, a constant offset of each instrument, and
display steps. The shell is read every 30 s. Two, three and four parameters are freed in turn, of the body by replay, or with the
word `circuit` of the exchangers, the valve and the suction line by the closed circuit.

KIND spoils the logs: `gaps` (two gaps of 30 to 210 s, one of them over a change of speed), `slow` (a row every 2, 5 or 10 s),
`cycling` (cool air, so that the frost thermostat opens every half minute; a row every 1, 2, 5 or 10 s), `unit`
(a column's unit is written wrongly: gauge pressure called absolute, bar called psi, degC called degF), `stuck` (one reading stays where
it is from some moment on, for five minutes at least).

This is a check of the fitting, not of the physics: fit and log share their equations. Prints one line per set of parameters: intervals
that hold, among them those of parameters that the fit calls told, and logs that it refused with a reason. Ends with 1 if the share of
intervals of told parameters that hold lies outside LOW..HIGH (default 0.90..0.99; of a few one may miss); a log that was refused is none."""
import concurrent.futures
import csv
import json
import math
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile

KIND = sys.argv.pop() if sys.argv[-1] in ("gaps", "slow", "cycling", "unit", "stuck") else ""
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


def run(*arguments, may_refuse=False):
    done = subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, timeout=300, check=False)
    if done.returncode != 0 and not (may_refuse and done.returncode == 3):
        raise RuntimeError(f"{' '.join(arguments)}: {done.stderr}")
    return done


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
    ambient = chance.uniform(22, 28) if KIND == "cycling" else chance.uniform(24, 36)
    with open(scenario, "w", encoding="utf-8") as f:
        f.write(f"[scenario]\ntitle = bay test, invented\nvehicle = {os.path.join(SCENARIOS, 'van-valve.ini')}\n"
                f"schedule = steps.csv\n[conditions]\nambient_temperature = {ambient:.1f} degC\n"
                "ambient_humidity = 0.45\nvehicle_speed = 0 km/h\ndoors_open = 1\n[run]\nduration = 1500 s\n")
    return scenario


def read_badly(value, name, offset, chance):
    noise, _, step = INSTRUMENTS[name]
    x = value + offset + chance.gauss(0, noise)
    return round(x / step) * step if step else x


def spoil_times(chance):
    """Which seconds have a row."""
    if KIND in ("slow", "cycling"):
        every = chance.choice((2, 5, 10) if KIND == "slow" else (1, 2, 5, 10))
        return lambda t: t % every == 0
    if KIND == "gaps":
        change = 300 * chance.randint(1, 4)
        first = change - chance.randint(5, 100)
        gaps = [(first, max(change + 15, first + chance.randint(30, 210)))]
        start = chance.randint(100, 1250)
        gaps.append((start, start + chance.randint(30, 210)))
        return lambda t: not any(a < t < b for a, b in gaps)
    return lambda t: True


def spoil_cells(chance):
    """What is made of a cell: (name, time, text) -> text."""
    if KIND != "stuck":
        return lambda name, t, text: text
    name_stuck = chance.choice(("discharge_temperature", "shell_temperature", "suction_temperature", "discharge_pressure", "suction_pressure"))
    start = chance.randint(200, 1100)
    end = chance.choice((1e9, start + chance.randint(300, 600)))
    last = {}

    def cell(name, t, text):
        if name == name_stuck and start <= t <= end and text:
            return last.setdefault(name, text)
        return text

    return cell


def spoil_head(chance):
    """A wrong unit in the head: the numbers stay those of bar(g) and degC."""
    if KIND != "unit":
        return None
    return chance.choice(({"suction_pressure": "bara", "discharge_pressure": "bara"}, {"suction_pressure": "psig", "discharge_pressure": "psig"},
                          {"suction_temperature": "degF", "discharge_temperature": "degF", "shell_temperature": "degF"},
                          {"discharge_temperature": "degF"}, {"discharge_pressure": "bara"}))


def as_written(name, value):
    return (value - 101325) / 1e5 if name.endswith("pressure") else value - 273.15 if name.endswith("temperature") else value


def write_log(series, log, chance):
    offset = {name: chance.gauss(0, sigma) for name, (_, sigma, _) in INSTRUMENTS.items()}
    has_row, cell_of, wrong = spoil_times(chance), spoil_cells(chance), spoil_head(chance)
    with open(series, encoding="utf-8") as f, open(log, "w", encoding="utf-8") as out:
        rows = csv.reader(f)
        head = next(rows)
        at = [(i, cell.split("[")[0]) for i, cell in enumerate(head)
              if cell.split("[")[0] in INSTRUMENTS or cell.startswith("time[")]
        units = {**{n: "barg" for _, n in at if n.endswith("pressure")}, **{n: "degC" for _, n in at if n.endswith("temperature")}, **wrong} if wrong else {}
        print(",".join(f"{name}[{units[name]}]" if name in units else head[i] for i, name in at), file=out)
        for row in rows:
            t = round(float(row[at[0][0]]))
            cells = []
            for i, name in at:
                if name == "time":
                    cells.append(row[i])
                elif name == "shell_temperature" and t % SHELL_EVERY:
                    cells.append("")
                else:
                    value = read_badly(float(row[i]), name, offset[name], chance)
                    cells.append(cell_of(name, t, f"{as_written(name, value) if wrong else value:.7g}"))
            if has_row(t):
                print(",".join(cells), file=out)


def one(number):
    """[(set, key, truth, low, value, high, told)] of one log; empty: refused"""
    chance = random.Random(1000003 * SEED + number)
    which = number % len(SETS)
    truth = truth_of(chance, SETS[which])
    with tempfile.TemporaryDirectory() as folder:
        scenario = write_scenario(folder, chance)
        sets = [x for key, value in truth.items() for x in ("--set", f"{key}={value} {UNITS[key]}".strip())]
        run("run", scenario, "--plot", "none", "-q", "-o", os.path.join(folder, "truth"), *sets)
        log = os.path.join(folder, "log.csv")
        write_log(os.path.join(folder, "truth", "series.csv"), log, chance)
        done = run("fit", log, "--vehicle", os.path.join(SCENARIOS, "van-valve.ini"), "--free", ",".join(truth), "-q", "-o",
                   folder, "--plot", "none", "--holdout", "0", *(["--with", "circuit"] if CIRCUIT else []), may_refuse=True)
        if os.environ.get("FIT_COVERAGE_KEEP"):
            shutil.copytree(folder, os.path.join(os.environ["FIT_COVERAGE_KEEP"], str(number)), dirs_exist_ok=True)
        if done.returncode == 3:
            return [(which, None, done.stderr.splitlines()[0])]
        with open(os.path.join(folder, "fit.json"), encoding="utf-8") as f:
            estimates = json.load(f)["estimates"]
    return [(which, key, value * TO_SI.get(UNITS[key], 1), estimates[key]["low"], estimates[key]["value"], estimates[key]["high"],
             estimates[key]["identified"]) for key, value in truth.items()]


def tell(keys, key, mine):
    held = [row[3] <= row[2] <= row[5] for row in mine]
    told = [row for row in mine if row[6]]
    error = sum(math.log(row[4] / row[2]) for row in mine if row[4] > 0) / max(1, len(mine))
    width = sorted(row[5] / max(row[3], 1e-9) for row in told)[len(told) // 2] if told else math.nan
    print(f"{len(keys)} free  {key:34s} held {sum(held):3d} of {len(mine):3d}; told {len(told):3d}, of these held "
          f"{sum(row[3] <= row[2] <= row[5] for row in told):3d}  mean error {100 * error:+6.2f} %  median high/low {width:.3f}")


def main():
    with concurrent.futures.ThreadPoolExecutor(int(os.environ.get("FIT_COVERAGE_JOBS", "2"))) as pool:
        found = [row for result in pool.map(one, range(LOGS)) for row in result]
    rows = [row for row in found if row[1]]
    refused = [row for row in found if not row[1]]
    for which, keys in enumerate(SETS):
        for key in keys:
            tell(keys, key, [row for row in rows if row[0] == which and row[1] == key])
    told = [row for row in rows if row[6]]
    held = sum(row[3] <= row[2] <= row[5] for row in told)
    share = held / max(1, len(told))
    reasons = {}
    for _, _, why in refused:
        why = re.sub(r"[\d.]+", "N", why.split("log.csv: ")[-1])[:110]
        reasons[why] = reasons.get(why, 0) + 1
    for why, count in sorted(reasons.items(), key=lambda pair: -pair[1]):
        print(f"refused {count:3d}  {why}")
    good = len(told) - held <= max(1, (1 - LOW) * len(told)) and (len(told) < 40 or share <= HIGH) # of a few one may miss
    print(f"{KIND or 'clean'}{', circuit' if CIRCUIT else ''}: of {LOGS} logs {len(refused)} refused; {len(rows)} intervals, "
          f"{sum(row[3] <= row[2] <= row[5] for row in rows)} hold; {len(told)} told, {held} hold: {100 * share:.1f} % "
          f"({'inside' if good else 'OUTSIDE'} {100 * LOW:.0f} to {100 * HIGH:.0f} %)")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
