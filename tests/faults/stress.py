"""What the world does to a program at work: signals at any time, devices that are full, folders that cannot be written, readers that have
gone, descriptors that are closed; for every command that writes.

stress.py PROGRAM SHIM SCENARIOS [--signals N] [--seed N] [--only WORD,WORD]
Of each run is asked: it ends, with a status that README names, or by the signal if that came before the program could ask to be told; every
file that has its own name is whole; what failed is said; nothing in the making is left (after SIGKILL: the next run removes it).
Full devices are a file system in memory of 300 kB where that can be mounted, and a limit on the size of files elsewhere.
"""
import argparse
import json
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter

import faults

WRITE = [name for name in faults.COMMANDS if name not in ("check", "list", "state", "grade")]
SIGNALS = [signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGKILL]


def whole(path):
    """Is a file that has its own name complete?"""
    with open(path, "rb") as f:
        data = f.read()
    if path.endswith(".json"):
        json.loads(data)
        return True
    if path.endswith(".png"):
        return data[:8] == b"\x89PNG\r\n\x1a\n" and b"IEND" in data[-16:]
    if path.endswith(".html"):
        return data.rstrip().endswith(b"</html>")
    if path.endswith(".csv"):
        return data.endswith(b"\n") and len({line.count(b",") for line in data.splitlines()[-2:] if b'"' not in line}) <= 1
    if path.endswith(".fmu"):
        return b"PK\x05\x06" in data[-64:]
    return data.endswith(b"\n") or not data


def broken(bench):
    """What is wrong with the folders of results."""
    wrong = []
    for top in ("o", "r"):
        for base, _, names in os.walk(bench.path(top)):
            for n in names:
                path = os.path.join(base, n)
                if n.endswith(".part"):
                    wrong.append(f"left {n}")
                elif not n.endswith(".journal") and not os.path.islink(path):
                    try:
                        if not whole(path):
                            wrong.append(f"half of {n}")
                    except ValueError as why:
                        wrong.append(f"half of {n}: {why}")
    return wrong


def start(bench, name, **options):
    command = options.pop("command", faults.COMMANDS[name])
    return subprocess.Popen([bench.program, *command], cwd=bench.folder, **options)


def plain(bench, name):
    """(status, seconds) of a run that nothing happens to."""
    bench.clear()
    began = time.time()
    done = subprocess.run([bench.program, *faults.COMMANDS[name]], cwd=bench.folder, capture_output=True, timeout=600)
    return done.returncode, time.time() - began


def one_signal(bench, name, number, after, status):
    bench.clear()
    p = start(bench, name, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    try:
        p.wait(after)
    except subprocess.TimeoutExpired:
        p.send_signal(number)
    try:
        errors = p.communicate(timeout=120)[1].decode(errors="replace")
    except subprocess.TimeoutExpired:
        p.kill()
        p.communicate()
        return "hangs", [f"does not end after {number.name}"]
    wrong = []
    if p.returncode not in (status, 4, 5, -number):
        wrong.append(f"status {p.returncode}: {errors[:150]}")
    if p.returncode in (4, 5) and p.returncode != status and "swashheat: " not in errors:
        wrong.append("no message")
    if p.returncode == -signal.SIGKILL and name != "vehicle":  # the next run tidies up; a vehicle file is never written over
        again = subprocess.run([bench.program, *faults.COMMANDS[name]], cwd=bench.folder, capture_output=True, timeout=600)
        if again.returncode != status:
            wrong.append(f"then status {again.returncode}: {again.stderr.decode(errors='replace')[:150]}")
    ended = "killed" if p.returncode == -number else "told" if p.returncode != status else "done"
    return ended, wrong + broken(bench)


def signals(bench, names, times, rng):
    bad, counts = 0, Counter()
    for name in names:
        status, seconds = plain(bench, name)
        for i in range(times):
            number, after = SIGNALS[i % len(SIGNALS)], rng.uniform(0, 1.1 * seconds)
            ended, wrong = one_signal(bench, name, number, after, status)
            counts[ended] += 1
            bad += bool(wrong)
            for w in wrong:
                print(f"{name}, {number.name} after {after:.2f} of {seconds:.2f} s: {w}", flush=True)
    print(f"signals: {sum(counts.values())} runs, " + ", ".join(f"{k} {v}" for k, v in sorted(counts.items())) + f"; {bad} findings", flush=True)
    return bad


# ---- devices ----

def small_device(place):
    """A file system that is soon full; False where it cannot be mounted."""
    return subprocess.run(["mount", "-t", "tmpfs", "-o", "size=300k", "swashheat-tests", place], capture_output=True).returncode == 0


def limited(size):
    def apply():
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
    return apply


def nobody():
    os.setgid(65534)
    os.setuid(65534)


def redirected(command, place):
    """The command with its results in `place`; None for one that writes beside what it reads."""
    if "-o" not in command:
        return None
    at = command.index("-o") + 1
    return [*command[:at], os.path.join(place, os.path.basename(command[at]) or "o"), *command[at + 1:]]


def judge_device(bench, name, what, done, status, must_fail):
    heard = done.stderr is not None and not (what.startswith("descriptors") and "2" in what)
    errors, wrong = done.stderr.decode(errors="replace") if done.stderr else "", broken(bench)
    if done.returncode not in (status, 5) or (must_fail and done.returncode != 5):
        wrong.append(f"status {done.returncode}: {errors[:150]}")
    if done.returncode == 5 and heard and what != "nobody reads" and "swashheat: " not in errors:
        wrong.append("no message")
    for w in wrong:
        print(f"{name}, {what}: {w}", flush=True)
    return bool(wrong)


def device_runs(bench, name):
    """(what, must it fail, keywords of the run)"""
    command = faults.COMMANDS[name]
    for size in (1, 1500, 20000):
        yield f"files of {size} bytes", size == 1, {"preexec_fn": limited(size)}
    full = os.open("/dev/full", os.O_WRONLY)
    yield "standard output full", False, {"stdout": full}
    yield "standard output and error full", False, {"stdout": full, "stderr": full}
    os.close(full)
    reader, writer = os.pipe()
    os.close(reader)
    yield "nobody reads", False, {"stdout": writer}
    os.close(writer)
    for fds in ((0,), (1,), (2,), (0, 1), (1, 2), (0, 1, 2)):
        yield f"descriptors {fds} closed", False, {"preexec_fn": lambda fds=fds: [os.close(fd) for fd in fds]}
    if os.getuid() == 0 and "-o" in command:
        closed = tempfile.mkdtemp(dir=bench.folder)
        os.chmod(bench.folder, 0o755)
        os.chmod(closed, 0o555)
        yield "a folder that cannot be written", True, {"command": redirected(command, closed), "preexec_fn": nobody}


def devices(bench, names):
    bad = count = 0
    for name in names:
        status, _ = plain(bench, name)
        for what, must_fail, options in device_runs(bench, name):
            bench.clear()
            command = options.pop("command", faults.COMMANDS[name])
            options = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **options}
            done = subprocess.run([bench.program, *command], cwd=bench.folder, timeout=600, **options)
            bad += judge_device(bench, name, what, done, status, must_fail)
            count += 1
        bench.clear()
        os.makedirs(bench.path("o"), exist_ok=True)
        moved = redirected(faults.COMMANDS[name], bench.path("o"))
        if moved and small_device(bench.path("o")):
            try:
                for free in (0, 3000, 30000):  # what is left of the device
                    for n in os.listdir(bench.path("o")):
                        path = bench.path(os.path.join("o", n))
                        shutil.rmtree(path) if os.path.isdir(path) else os.remove(path)
                    with open(bench.path("o/fill"), "wb") as f:
                        f.write(b"\n" * (300 * 1024 - free))
                    done = subprocess.run([bench.program, *moved], cwd=bench.folder, capture_output=True, timeout=600)
                    bad += judge_device(bench, name, f"{free} bytes left on the device", done, status, False)
                    count += 1
            finally:
                subprocess.run(["umount", bench.path("o")], check=True)
    print(f"devices: {count} runs; {bad} findings", flush=True)
    return bad


def main():
    p = argparse.ArgumentParser()
    p.add_argument("program"), p.add_argument("shim"), p.add_argument("scenarios")
    p.add_argument("--signals", type=int, default=2), p.add_argument("--seed", type=int, default=1), p.add_argument("--only")
    a = p.parse_args()
    bench, names = faults.Bench(a.program, a.shim, a.scenarios), a.only.split(",") if a.only else WRITE
    try:
        return int(signals(bench, names, a.signals, random.Random(a.seed)) + devices(bench, names) > 0)
    finally:
        shutil.rmtree(bench.folder, ignore_errors=True)


if __name__ == "__main__":
    sys.exit(main())
