"""Lets every kind of call fail in every command, and looks at what the program does then.

faults.py PROGRAM SHIM SCENARIOS [--places | --all] [--seed N] [--only WORD,WORD] [--kind KIND]
Without --all a sample of the calls fails, as the tests want it. With --places the first and the last call of every kind from each place
of the program (seven callers deep) fail in turn, of the commands that take seconds the first; with --all each call, which takes two days.
Of each run is asked:
no crash and no hang; a status that README names, and with it a message; nothing half done in the folder of results, nothing left beside
the files; memory given back; and with status 0 the very results that a run without failures gives.
"""
import argparse
import hashlib
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter

KINDS = {"alloc": {6}, "stream": {6}, "open": {3, 5, 6}, "write": {5, 6}, "flush": {5, 6}, "sync": {5}, "rename": {5}, "thread": set(), "process": {5}}
LOG = "log.csv"
COMMANDS = {
    "run": ["run", "q.ini", "-o", "o"],
    "run-none": ["run", "q.ini", "-o", "o", "--plot", "none", "--json"],
    "replay": ["replay", LOG, "--vehicle", "v.ini", "-o", "o"],
    "check": ["check", "q.ini", LOG],
    "list": ["list", "faults", "--json"],
    "state": ["state", "R134a", "pressure=3barg", "quality=1"],
    "rank": ["rank", LOG, "--vehicle", "v.ini", "-o", "o", "--plot", "none"],
    "accept": ["accept", LOG, "--vehicle", "v.ini", "-o", "o", "--plot", "none"],
    "plan": ["plan", "--vehicle", "v.ini", "--from", "rank.json", "-o", "o", "--plot", "none"],
    "fit": ["fit", LOG, "--vehicle", "v.ini", "--free", "compressor.ua_discharge_heads", "-o", "o"],
    "sweep": ["sweep", "q.ini", "--vary", "charge.fraction=0.8..1:3", "-o", "o"],
    "margin": ["margin", "q.ini", "--vary", "oil.total=20..150 g", "-o", "o", "--plot", "none"],
    "ensemble": ["run", "spread.ini", "--ensemble", "4", "-o", "o"],
    "report": ["report", "r"],
    "vehicle": ["vehicle", "-o", "o/mine.ini", "--refrigerant", "R-134a", "--charge", "740 g", "--expansion", "TXV", "--oil", "PAG 46"],
    "expect": ["expect", "--vehicle", "v.ini", "--cause", "undercharge", "--at", "idle", "-o", "o"],
    "exercise": ["exercise", "condenser_blocked.ini", "-o", "o"],
    "grade": ["grade", "class/car01", "--cause", "fan_dead"],
    "lesson": ["lesson", "q.ini", "-o", "o/lesson.html"],
    "fmu": ["fmu", "q.ini", "-o", "r/unit.fmu"],
}
DEAR = {"rank", "accept", "fit", "margin", "plan", "expect", "exercise", "grade"}  # seconds each
# what tells the time or the machine; a shard of the numbers' last digits does not
VOLATILE = re.compile(rb'"(time|date|seconds|host|commit|elapsed\w*)":.*')


class Bench:
    def __init__(self, program, shim, scenarios):
        self.program, self.shim = os.path.abspath(program), os.path.abspath(shim)
        self.folder = tempfile.mkdtemp(prefix="swh_faults_")
        for name in os.listdir(scenarios):
            if name.endswith(".ini"):
                shutil.copy(os.path.join(scenarios, name), self.folder)
        shutil.copy(os.path.join(scenarios, "vehicle-logs.ini"), self.path("v.ini"))
        self.write("q.ini", "[scenario]\nvehicle = van-valve.ini\n[run]\nduration = 30 s\n")
        self.write("spread.ini", "[scenario]\nvehicle = van-valve.ini\n[compressor]\nclearance = 14 um +- 1 um\n[run]\nduration = 30 s\n")
        with open(os.path.join(scenarios, "logs", "bay-short-of-charge.csv"), "rb") as f:
            rows = f.readlines()
        self.write(LOG, b"".join(rows[:160]))
        self.write("rank.json", '{"ranking": [{"fault": "undercharge", "share": 0.6, "severity": 0.4}, {"fault": "condenser_blocked", '
                                '"share": 0.4, "severity": 0.5}]}')
        self.run(["exercise", "condenser_blocked.ini", "-o", "class", "-q"], {})
        self.run(["run", "q.ini", "-o", "r", "--plot", "none", "-q"], {})

    def path(self, name):
        return os.path.join(self.folder, name)

    def write(self, name, text):
        with open(self.path(name), "wb") as f:
            f.write(text if isinstance(text, bytes) else text.encode())

    def run(self, command, environment):
        env = {**os.environ, "LD_PRELOAD": self.shim, "SWH_REPORT": self.path("report"), "OMP_NUM_THREADS": "2", **environment}
        if os.path.exists(self.path("report")):
            os.remove(self.path("report"))
        done = subprocess.run([self.program, *command], cwd=self.folder, env=env, capture_output=True, timeout=180)
        try:
            with open(self.path("report")) as f:
                words = f.read().split()
            counts = dict(zip(words[::2], map(int, words[1::2])))
        except OSError:
            counts = {}
        return done, counts

    def clear(self):
        shutil.rmtree(self.path("o"), ignore_errors=True)
        for f in os.listdir(self.path("r")):
            if f not in ("series.csv", "events.csv", "summary.json"):
                os.remove(os.path.join(self.path("r"), f))

    def results(self, folder):
        found = {}
        for base, _, names in os.walk(self.path(folder)):
            for n in names:
                if n.endswith(".journal"):
                    continue  # one that could not be removed does no harm: the next run does it
                with open(os.path.join(base, n), "rb") as f:
                    text = VOLATILE.sub(b"", f.read())
                found[os.path.relpath(os.path.join(base, n), self.folder)] = hashlib.sha256(text).hexdigest()
        return found


def judge(bench, kind, command, plain, done, counts):
    """What is wrong with a run; empty if nothing."""
    wrong = []
    status, errors = done.returncode, done.stderr.decode(errors="replace")
    if status < 0:
        wrong.append(f"signal {-status}")
    elif status != plain["status"] and status not in KINDS[kind]:
        wrong.append(f"status {status}")
    if status != plain["status"] and "swashheat: " not in errors and kind not in ("write", "flush"):
        wrong.append("no message")
    left = [f for f in bench.results("o") if ".part" in f]
    if left:
        wrong.append(f"left {left}")
    if status == plain["status"]:
        now = {**bench.results("o"), **bench.results("r")}
        if now != plain["results"]:
            wrong.append("other results: " + ", ".join(sorted(k for k in set(now) | set(plain["results"]) if now.get(k) != plain["results"].get(k)))[:200])
        if done.stdout != plain["stdout"] and not errors:
            wrong.append("other words on the standard output")
    if counts.get("live", 0) > plain["live"]:
        wrong.append(f"{counts['live'] - plain['live']} allocations lost")
    return wrong


def places(bench, name, plain_counts):
    """{kind: the calls to let fail}: the first and last of those that come from the same place."""
    bench.clear()
    bench.run(COMMANDS[name], {"SWH_SITES": bench.path("sites")})
    first, last = {}, {}
    with open(bench.path("sites")) as f:
        for line in f:
            kind, n, path = line.split()
            first.setdefault((kind, path), int(n))
            last[kind, path] = int(n)
    chosen = {kind: set() for kind in KINDS}
    for (kind, path), n in first.items():
        chosen[kind].update([n] if name in DEAR else [n, last[kind, path]])
    return {kind: sorted(n for n in ns if n <= plain_counts[kind]) for kind, ns in chosen.items()}


def try_one(bench, name, kind, n, plain):
    bench.clear()
    try:
        done, counts = bench.run(COMMANDS[name], {"SWH_FAIL": kind, "SWH_AT": str(n)})
    except subprocess.TimeoutExpired:
        return ["hangs"], None
    return judge(bench, kind, name, plain, done, counts), done


def main():
    p = argparse.ArgumentParser()
    p.add_argument("program"), p.add_argument("shim"), p.add_argument("scenarios")
    p.add_argument("--all", action="store_true"), p.add_argument("--places", action="store_true"), p.add_argument("--seed", type=int, default=1)
    p.add_argument("--only"), p.add_argument("--kind"), p.add_argument("--most", type=int, default=0)
    a = p.parse_args()
    rng, bench, count, bad = random.Random(a.seed), Bench(a.program, a.shim, a.scenarios), Counter(), []
    try:
        for name in COMMANDS:
            if a.only and name not in a.only.split(","):
                continue
            bench.clear()
            done, counts = bench.run(COMMANDS[name], {})
            if done.returncode not in (0, 1):  # accept may judge fail
                print(f"{name} fails by itself: {done.stderr.decode()}")
                return 1
            plain = {"status": done.returncode, "stdout": done.stdout, "live": counts["live"], "results": {**bench.results("o"), **bench.results("r")}}
            sampled = rng.sample(sorted(KINDS), 1) if name in DEAR and not a.all and not a.places else list(KINDS)
            each = places(bench, name, counts) if a.places else {}
            before = sum(count.values())
            for kind in sampled:
                if a.kind and kind != a.kind:
                    continue
                calls = counts[kind]
                most = calls if a.all else min(calls, 2)
                if a.most:
                    most = min(most, a.most)
                chosen = each.get(kind) or (range(1, calls + 1) if most == calls else sorted(rng.sample(range(1, calls + 1), most)))
                for n in chosen:
                    wrong, done = try_one(bench, name, kind, n, plain)
                    count[kind] += 1
                    for w in wrong:
                        bad.append((name, kind, n, w))
                        print(f"{name}, {kind} {n} of {calls}: {w}; {done.stderr.decode(errors='replace')[:160] if done else ''}", flush=True)
            if a.all or a.places:
                print(f"{name}: {sum(count.values()) - before} runs, {sum(b[0] == name for b in bad)} findings", flush=True)
    finally:
        shutil.rmtree(bench.folder, ignore_errors=True)
    print(f"{sum(count.values())} runs: " + ", ".join(f"{k} {v}" for k, v in count.items()) + f"; {len(bad)} findings")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
