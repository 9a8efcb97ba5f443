"""How many times faster a table look-up is than CoolProp's (P, h) update, in one run.

Usage: refrigerant_coolprop.py BENCH_PROGRAM VENV_FOLDER [FLUID]

Both work through the same states (a third each liquid, two-phase, vapour; 1.5 to 25 bar) in the same order and in
turns; of several rounds the quickest counts, in processor time. From CoolProp's time the cost of calling it from
Python is taken away (the loop, and a call of the same object that only returns a number), which counts in its
favour; from ours nothing is. An update of a table there only finds the place in it and what is wanted is worked out
when it is read, so a look-up there is the update with temperature, density and entropy read; here it gives these,
the quality and two derivatives. The bare update is reported too.

Asked for: at least 300 times CoolProp's exact (P, h) update (bare) and 10 times a look-up in its fastest table, on
the mean of the regions.
Of its table backends TTSE and BICUBIC are measured; SVDSBTL takes minutes to make its tables and was not faster.
Newer versions also take whole arrays of gas states at once; that is reported when it works, without a demand.
Leaves with 77 (skipped) when CoolProp cannot be had, 1 when a ratio is missed.
"""
import os
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "model"))
from coolprop_env import restart_inside  # noqa: E402

restart_inside(sys.argv[2])

import numpy as np  # noqa: E402
import CoolProp.CoolProp as CP  # noqa: E402

REGIONS = ("liquid", "two-phase", "vapour")
FLUID = sys.argv[3] if len(sys.argv) > 3 else "R134a"
BATCH = """
import sys, time, numpy as np, CoolProp.CoolProp as CP
CP.set_config_string(CP.ALTERNATIVE_TABLES_DIRECTORY, sys.argv[1])
A = CP.AbstractState("TTSE&HEOS", sys.argv[2])
h = np.linspace(420e3, 450e3, 100000) * A.molar_mass()
P = np.full(len(h), 5e5)
keys = np.array([CP.iDmolar, CP.iT, CP.iSmolar], dtype=np.int32)
out, status, best = np.zeros((len(h), 3)), np.zeros(len(h), dtype=np.int32), 1e30
for k in range(5):
    start = time.process_time()
    A.fast_evaluate(CP.HmolarP_INPUTS, h, P, keys, out, status)
    best = min(best, time.process_time() - start)
print(best / len(h) * 1e9)
"""


def make_states(count):
    """Per region a list of (P, h, rho, u)."""
    source, random = CP.AbstractState("HEOS", FLUID), np.random.default_rng(1)
    states = {region: [] for region in REGIONS}
    for region in REGIONS:
        for _ in range(count):
            P = float(np.exp(random.uniform(np.log(1.5e5), np.log(25e5))))
            source.update(CP.PQ_INPUTS, P, random.uniform(0.02, 0.98))
            if region != "two-phase":
                source.update(CP.PT_INPUTS, P, source.T() + (random.uniform(2, 60) if region == "vapour"
                                                             else -random.uniform(1, 20)))
            states[region].append((P, source.hmass(), source.rhomass(), source.umass()))
    return states


def ours(program, states):
    with tempfile.NamedTemporaryFile("w", suffix=".txt") as f:
        for region in REGIONS:
            for s in states[region]:
                f.write(region + " %.17g %.17g %.17g %.17g\n" % s)
        f.flush()
        text = subprocess.run([program, FLUID, f.name], capture_output=True, text=True, check=True).stdout
    return {(line.split()[0], line.split()[1]): float(line.split()[2]) for line in text.splitlines()}


def time_loop(source, arguments, reads):
    start = time.process_time()
    for h, P in arguments:
        source.update(CP.HmassP_INPUTS, h, P)
        for key in reads:
            source.keyed_output(key)
    return (time.process_time() - start) / len(arguments) * 1e9


def time_overhead(source, arguments, reads):
    """The same number of calls that only fetch a number which is at hand."""
    start = time.process_time()
    for _, _ in arguments:
        source.keyed_output(CP.iP)
        for _ in reads:
            source.keyed_output(CP.iP)
    return (time.process_time() - start) / len(arguments) * 1e9


def theirs(source, states, count, reads):
    times = {}
    for region in REGIONS:
        arguments = [(h, P) for P, h, _, _ in states[region][:count]]
        times[region] = max(time_loop(source, arguments, reads) - time_overhead(source, arguments, reads), 1.0)
    return times


def smallest(best, new):
    for key, value in new.items():
        best[key] = min(best.get(key, 1e30), value)


def mean(times, pick):
    return sum(times[pick(region)] for region in REGIONS) / len(REGIONS)


def batch(tables):
    done = subprocess.run([sys.executable, "-c", BATCH, tables, FLUID], capture_output=True, text=True)
    return float(done.stdout) if done.returncode == 0 else None


def make_tables(tables):
    """In a process of their own: version 8.0.0 may crash when it uses tables it has just made."""
    code = ("import sys, CoolProp.CoolProp as CP\n"
            "CP.set_config_string(CP.ALTERNATIVE_TABLES_DIRECTORY, sys.argv[1])\n"
            "CP.AbstractState('TTSE&HEOS', sys.argv[2]).update(CP.HmassP_INPUTS, 420e3, 5e5)\n")
    subprocess.run([sys.executable, "-c", code, tables, FLUID], capture_output=True)


# name: backend, states measured, properties read
CONTENDERS = {
    "exact update": ("HEOS", 150, ()),
    "TTSE": ("TTSE&HEOS", 2000, (CP.iT, CP.iDmass, CP.iSmass)),
    "BICUBIC": ("BICUBIC&HEOS", 2000, (CP.iT, CP.iDmass, CP.iSmass)),
    "TTSE update": ("TTSE&HEOS", 2000, ()),
    "BICUBIC update": ("BICUBIC&HEOS", 2000, ()),
}


def main():
    tables = os.path.join(os.path.dirname(os.path.abspath(sys.argv[2])), "coolprop-tables", "")
    os.makedirs(tables, exist_ok=True)
    make_tables(tables)
    CP.set_config_string(CP.ALTERNATIVE_TABLES_DIRECTORY, tables)
    states = make_states(2000)
    sources = {name: CP.AbstractState(c[0], FLUID) for name, c in CONTENDERS.items()}
    best, mine = {name: {} for name in CONTENDERS}, {}
    for _ in range(3):
        smallest(mine, ours(sys.argv[1], states))
        for name, (_, count, reads) in CONTENDERS.items():
            smallest(best[name], theirs(sources[name], states, count, reads))
    return report(mine, best, batch(tables))


def line(name, times, pick, digits):
    values = [times[pick(r)] for r in REGIONS] + [mean(times, pick)]
    print(f"{name:24s}" + "".join(f"{v:12.{digits}f}" for v in values))


def report(mine, best, array_call):
    print(f"{FLUID}, CoolProp {CP.get_global_param_string('version')}; nanoseconds a look-up")
    print(" " * 24 + "".join(f"{r:>12s}" for r in REGIONS + ("mean",)))
    for name in ("swh_P_h", "swh_rho_u"):
        line(name, mine, lambda r: (r, name), 1)
    for name, times in best.items():
        line("CoolProp " + name, times, lambda r: r, 0)
    means = {name: mean(times, lambda r: r) for name, times in best.items()}
    compare = (("exact (P, h) update", means["exact update"], 300),
               ("fastest table look-up", min(means["TTSE"], means["BICUBIC"]), 10),
               ("fastest bare table update", min(means["TTSE update"], means["BICUBIC update"]), 0))
    missed = 0
    for name in ("swh_P_h", "swh_rho_u"):
        own = mean(mine, lambda r: (r, name))
        for what, other, least in compare:
            missed += other / own < least
            print(f"{name:10s} {other / own:7.1f} times faster than CoolProp's {what}"
                  + (f" (asked for: {least})" if least else ""))
    if array_call:
        print(f"CoolProp's array call, vapour only: {array_call:.0f} ns, "
              f"{array_call / mine['vapour', 'swh_P_h']:.1f} times swh_P_h")
    return 1 if missed else 0


sys.exit(main())
