#!/usr/bin/env python3
"""What a fit and a ranking cost, in simulations: bench_fit.py PROGRAM SCENARIOS. Processor time of `fit` of four parameters on a
30-minute log of one row a second, over that of one `replay` of it; of `rank` with the whole library on a bay and a road log,
over that of one `run` of the closed circuit on the same drive. All without pictures, best of three (`rank`: once)."""
import os
import resource
import subprocess
import sys
import tempfile
import time

PROGRAM, SCENARIOS = os.path.abspath(sys.argv[1]), os.path.abspath(sys.argv[2])
FREE = "compressor.indicated_efficiency,compressor.ua_discharge_heads,body.shell_film,body.block_capacity"


def cost(*arguments):
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([PROGRAM, *arguments, "-q", "--plot", "none"], check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def longer(path, source, seconds):
    """The log with its last minutes once more at its end, until it is long enough; 1 Hz."""
    with open(source, encoding="utf-8") as f:
        head, *rows = f.read().splitlines()
    rows = [row.split(",", 1) for row in rows]
    step, last = 1.0, float(rows[-1][0])
    tail = rows[-300:]
    while last < seconds:
        for _, rest in tail:
            last += step
            rows.append([f"{last:g}", rest])
    with open(path, "w", encoding="utf-8") as f:
        print(head, *(",".join(row) for row in rows if float(row[0]) <= seconds), sep="\n", file=f)


def drive(folder, name):
    """A scenario in which the healthy vehicle drives as the log says."""
    with open(os.path.join(SCENARIOS, "logs", name + ".csv"), encoding="utf-8-sig") as f:
        lines = f.read().splitlines()
    comma = ";" not in lines[0]
    rows = [line.split("," if comma else ";") for line in lines]
    wanted = [k for k, head in enumerate(rows[0])
              if head.split("[")[0] in ("time", "compressor_speed", "vehicle_speed", "ambient_temperature")]
    last = [""] * len(rows[0])
    schedule = os.path.join(folder, name + "-drive.csv")
    with open(schedule, "w", encoding="utf-8") as f:
        for row in rows:
            last = [new or old for new, old in zip(row, last)]
            print(",".join(last[k].replace(",", ".") for k in wanted), file=f)
    scenario = os.path.join(folder, name + ".ini")
    with open(scenario, "w", encoding="utf-8") as f:
        print(f"[scenario]\nvehicle = {os.path.join(SCENARIOS, 'vehicle-logs.ini')}\nschedule = {schedule}\n[conditions]\n"
              f"doors_open = {int(name.startswith('bay'))}\n[run]\nduration = {float(last[0].replace(',', '.')):g} s", file=f)
    return scenario


def bench_rank(folder, name):
    common = ("--vehicle", os.path.join(SCENARIOS, "vehicle-logs.ini"), "-o", os.path.join(folder, "out"))
    scenario = drive(folder, name)
    run = min(cost("run", scenario, "-o", os.path.join(folder, "out")) for _ in range(3))
    began = time.monotonic()
    ranking = cost("rank", os.path.join(SCENARIOS, "logs", name + ".csv"), *common)
    wall = time.monotonic() - began
    print(f"rank, whole library, {name}: {ranking:.1f} s of processor time, {ranking / run:.0f} runs of its drive ({run:.3f} s each, files "
          f"written); {wall:.1f} s on {os.cpu_count()} cores")


def main():
    vehicle = os.path.join(SCENARIOS, "vehicle-logs.ini")
    with tempfile.TemporaryDirectory() as folder:
        log = os.path.join(folder, "log.csv")
        longer(log, os.path.join(SCENARIOS, "logs", "bay-healthy.csv"), 1800)
        common = (log, "--vehicle", vehicle, "-o", os.path.join(folder, "out"))
        fit = min(cost("fit", *common, "--free", FREE) for _ in range(3))
        replay = min(cost("replay", *common) for _ in range(3))
    print(f"fit of four parameters, 30 minutes at 1 Hz: {fit:.2f} s of processor time, {fit / replay:.0f} replays of it "
          f"({replay:.3f} s each, files written)")
    with tempfile.TemporaryDirectory() as folder:
        for name in ("bay-short-of-charge", "road-air-in-system"):
            bench_rank(folder, name)


if __name__ == "__main__":
    main()
