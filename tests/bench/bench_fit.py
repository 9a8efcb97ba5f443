#!/usr/bin/env python3
"""What a fit costs, in replays: bench_fit.py PROGRAM SCENARIOS. Processor time of `fit` of four parameters on a 30-minute log
of one row a second, over that of one `replay` of it; both without pictures, best of three."""
import os
import resource
import subprocess
import sys
import tempfile

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


if __name__ == "__main__":
    main()
