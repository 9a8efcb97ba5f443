"""Machines drawn at random, each run by the program: does it end, and do its books balance?

random_machines.py PROGRAM SCENARIOS [--mixed N] [--few N] [--first I] [--keep FOLDER] [--quiet]
mixed: vehicles of the scenarios with any refrigerant, up to six faults at once, weather and speeds of all kinds, schedules.
few:   one to eight parameters anywhere within their limits.
The number of a machine is its seed: --first 227 --mixed 1 makes machine 227 again (--keep leaves its scenario there).
Asked of each: it ends by itself within two minutes of processor time; 0, or a clean contradiction (3), or it gives up (4) and says in
which state of which part; no number that is none; charge within 1e-9, energy within 1e-6 of the heat moved. Fewer than 1 in 500 may
give up. With --check a sample is held to that; otherwise the counts are printed and judged the same.
"""
import argparse
import json
import math
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
from collections import Counter

VEHICLES = ["van-valve.ini", "van-orifice.ini", "van-rear.ini", "car-compact.ini", "car-small.ini"]
REFRIGERANTS = ["R134a", "R1234yf", "R12"]
GIVES_UP_MOST = 1 / 500


def listed(program, what):
    return json.loads(subprocess.run([program, "list", what, "--json"], check=True, capture_output=True).stdout)


def number(quantity):
    return math.inf if quantity is None or quantity["value"] is None else quantity["value"]


def unit(quantity):
    return "" if quantity["unit"] in (None, "1") else quantity["unit"]


def schedule(rng, folder):
    rows, t = ["time[s],compressor_speed[rpm],vehicle_speed[km/h],fan[1],ambient_temperature[degC]"], 0
    ambient = rng.uniform(-20, 55)
    for _ in range(rng.randint(2, 12)):
        rows.append(f"{t},{rng.choice([0, rng.uniform(600, 7000)]):.0f},{rng.choice([0, rng.uniform(0, 140)]):.0f},{rng.choice([0, 0.5, 1])},"
                    f"{ambient + rng.uniform(-5, 5):.1f}")
        t += rng.randint(5, 300)
    with open(os.path.join(folder, "s.csv"), "w") as f:
        f.write("\n".join(rows) + "\n")


def mixed(rng, tables, folder):
    lines = ["[scenario]", f"vehicle = {rng.choice(VEHICLES)}"]
    with_schedule = rng.random() < 0.3
    if with_schedule:
        lines.append("schedule = s.csv")
        schedule(rng, folder)
    lines += ["[vehicle]", f"refrigerant = {rng.choice(REFRIGERANTS)}", "[conditions]"]
    if not with_schedule:
        lines += [f"ambient_temperature = {rng.uniform(-20, 55):.1f} degC", f"compressor_speed = {rng.choice([0, rng.uniform(300, 7000)]):.0f} rpm",
                  f"vehicle_speed = {rng.choice([0, rng.uniform(0, 140)]):.0f} km/h"]
    lines += [f"ambient_humidity = {rng.random():.2f}", f"recirculation = {rng.randint(0, 1)}", "[run]", f"duration = {rng.choice([120, 600, 1200])} s",
              "output_interval = 5 s"]
    for fault in rng.sample(tables["faults"], rng.choice([0, 1, 1, 2, 3, 6])):
        lines += [f"[fault {fault}]", f"severity = {rng.choice([rng.random(), rng.random(), 1, 0.99, 0.01]):.3f}"]
        if rng.random() < 0.5:
            lines.append(f"start = {rng.choice([0, 30, 200, 600])} s")
            if rng.random() < 0.5:
                lines.append(f"ramp = {rng.choice([10, 100, 600])} s")
    return lines


def few(rng, tables, folder):
    lines = ["[scenario]", f"vehicle = {rng.choice(VEHICLES)}", "[run]", f"duration = {rng.choice([120, 600])} s", "output_interval = 5 s",
             "[conditions]", f"ambient_temperature = {rng.uniform(0, 45):.1f} degC"]
    sections = {}
    for p in rng.sample(tables["parameters"], rng.randint(1, 8)):
        lo, hi = number(p["lowest"]), number(p["highest"])
        x = math.exp(rng.uniform(math.log(lo), math.log(hi))) if lo > 0 and hi / lo > 20 else rng.uniform(lo, hi)
        section, key = p["parameter"].split(".")
        sections.setdefault(section, []).append(f"{key} = {x:.6g} {unit(p['lowest'])}".rstrip())
    for section, entries in sections.items():
        lines += [f"[{section}]", *entries]
    return lines


def tables_of(program):
    # what only weighs logs or says how long and how finely to compute is no part of a machine
    skip = ("run.", "uncertainty.", "probe.")
    parameters = [p for p in listed(program, "parameters") if not p["parameter"].startswith(skip) and math.isfinite(number(p["lowest"])) and
                  number(p["highest"]) < 1e15]
    return {"parameters": parameters, "faults": [f["fault"] for f in listed(program, "faults")]}


def numbers_in(x):
    if isinstance(x, dict):
        for v in x.values():
            yield from numbers_in(v)
    elif isinstance(x, list):
        for v in x:
            yield from numbers_in(v)
    elif isinstance(x, float):
        yield x


def judge(done, seconds, results):
    """(status, what is wrong)"""
    status, errors = done.returncode, done.stderr.decode(errors="replace").strip()
    if status not in (0, 3, 4):
        return status, f"status {status}: {errors[:200]}"
    if status == 3:
        return status, "" if errors.startswith("swashheat: ") and not results else "a contradiction without a word, or with results"
    if results is None:
        return status, f"no results: {errors[:200]}"
    if status == 4:
        named = results["outcome"] == "incomplete" and any(w in errors for w in (" of ", " in "))
        return status, "" if named else f"gave up without saying where: {errors[:200]}"
    if not all(math.isfinite(x) for x in numbers_in(results)):
        return status, "a number that is none"
    for channel in ("rotor_temperature", "suction_pressure", "discharge_pressure"):
        if channel not in results["final"]:
            return status, f"{channel} is no number at the end"
    hottest = {c: p["value"] for c, p in results["peak"].items() if c.endswith("_temperature") and p.get("value") is not None}
    for channel, T in hottest.items():
        if not 150 < T < 1300:
            return status, f"{channel} {T:.0f} K"
    if results["outcome"] == "overheated" and hottest.get("discharge_gas_temperature", 0) < 500:
        return status, f"burnt gas of {hottest.get('discharge_gas_temperature', 0):.0f} K"
    drift, energy = results["charge_drift"], results["energy_residual"]
    if drift is not None and abs(drift) > 1e-9:
        return status, f"charge {drift:.1e}"
    if energy is not None and abs(energy) > 1e-6 and results["heat_moved_J"] > 1e3:
        return status, f"energy {energy:.1e}"
    return status, f"{seconds:.0f} s of processor time" if seconds > 120 else ""


def run_one(program, scenarios, family, seed, tables, keep):
    rng = random.Random(f"{family} {seed}")
    folder = os.path.join(keep, f"{family}-{seed}") if keep else tempfile.mkdtemp(prefix="swh_random_")
    os.makedirs(folder, exist_ok=True)
    try:
        for v in VEHICLES:
            shutil.copy(os.path.join(scenarios, v), folder)
        with open(os.path.join(folder, "x.ini"), "w") as f:
            f.write("\n".join({"mixed": mixed, "few": few}[family](rng, tables, folder)) + "\n")
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        try:
            done = subprocess.run([program, "run", "x.ini", "-q", "--plot", "none", "-o", "o"], cwd=folder, capture_output=True, timeout=900)
        except subprocess.TimeoutExpired:
            return "hang", "hangs", ""
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        try:
            with open(os.path.join(folder, "o", "summary.json")) as f:
                results = json.load(f)
        except OSError:
            results = None
        status, wrong = judge(done, after.ru_utime - before.ru_utime, results)
        return status, wrong, done.stderr.decode(errors="replace").strip()
    finally:
        if not keep:
            shutil.rmtree(folder, ignore_errors=True)


stopped = []


def main():
    signal.signal(signal.SIGTERM, lambda *_: stopped.append(True))  # the counts so far are told
    p = argparse.ArgumentParser()
    p.add_argument("program"), p.add_argument("scenarios")
    p.add_argument("--mixed", type=int, default=0), p.add_argument("--few", type=int, default=0)
    p.add_argument("--first", type=int, default=0), p.add_argument("--keep")
    a = p.parse_args()
    program = os.path.abspath(a.program)
    tables, failed = tables_of(program), 0
    for family, count in (("mixed", a.mixed), ("few", a.few)):
        statuses, given_up, wrongs = Counter(), 0, []
        for seed in range(a.first, a.first + count):
            if stopped:
                break
            status, wrong, errors = run_one(program, a.scenarios, family, seed, tables, a.keep)
            statuses[status] += 1
            given_up += status == 4
            if status == 4:
                print(f"{family} {seed} gives up: {errors[:300]}", flush=True)
            if wrong:
                wrongs.append((seed, wrong))
                print(f"{family} {seed}: {wrong}", flush=True)
        if count:
            count = sum(statuses.values())
            print(f"{family}: {count} machines, " + ", ".join(f"status {k} {v}" for k, v in sorted(statuses.items(), key=str)) +
                  f"; gives up {given_up}; {len(wrongs)} wrong", flush=True)
            failed |= bool(wrongs) or given_up > max(count * GIVES_UP_MOST, 1 if count < 500 else 0)
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
