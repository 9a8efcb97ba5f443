"""Threads follow what the process was given; many cases in shards, whatever the threads, give the same bits.

Usage: scale_program.py PROGRAM SCENARIOS_FOLDER TEST_CLASS
"""
import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
import unittest

PROGRAM, SCENARIOS = (os.path.abspath(p) for p in sys.argv[1:3])


class Case(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp(prefix="swh_")
        self.addCleanup(shutil.rmtree, self.folder)

    def path(self, name):
        return os.path.join(self.folder, name)

    def sweep(self, out, *more):
        return [PROGRAM, "sweep", os.path.join(SCENARIOS, "healthy.ini"), "--vary", "charge.fraction=0.5..1:6", "--vary",
                "conditions.compressor_speed=20..50 rps:4", "--set", "run.duration=1 h", "-o", self.path(out), "--plot", "none", "-q", *more]


class Threads(Case):
    def most_threads(self, command, affinity=None, **environment):
        """The largest number of threads that the process was seen with."""
        env = {k: v for k, v in os.environ.items() if k not in ("OMP_NUM_THREADS", "SLURM_CPUS_PER_TASK")}
        process = subprocess.Popen(command, env={**env, **environment}, stdout=subprocess.DEVNULL,
                                   preexec_fn=(lambda: os.sched_setaffinity(0, affinity)) if affinity else None)
        seen = 0
        while process.poll() is None:
            try:
                seen = max(seen, len(os.listdir(f"/proc/{process.pid}/task")))
            except FileNotFoundError:
                pass
            time.sleep(0.002)
        self.assertEqual(process.returncode, 0)
        return seen

    def test_allocation(self):
        processors = sorted(os.sched_getaffinity(0))
        if len(processors) < 2:
            self.skipTest("one processor")
        self.assertEqual(self.most_threads(self.sweep("a")), len(processors))
        self.assertEqual(self.most_threads(self.sweep("b"), affinity={processors[0]}), 1)
        self.assertEqual(self.most_threads(self.sweep("c"), SLURM_CPUS_PER_TASK="1"), 1)
        self.assertEqual(self.most_threads(self.sweep("d"), OMP_NUM_THREADS="1,4"), 1)
        self.assertEqual(self.most_threads(self.sweep("e"), OMP_NUM_THREADS="nonsense", SLURM_CPUS_PER_TASK=""), len(processors))
        self.assertEqual(self.most_threads(self.sweep("f", "--threads", "3"), OMP_NUM_THREADS="1"), 3)
        tables = set()
        for name in "abcdef":
            with open(self.path(f"{name}/cases.csv"), "rb") as f:
                tables.add(f.read())
        self.assertEqual(len(tables), 1)

    def test_every_parallel_command_takes_threads(self):
        log, van = os.path.join(SCENARIOS, "logs", "bay-healthy.csv"), os.path.join(SCENARIOS, "vehicle-logs.ini")
        for command in (["rank", log, "--vehicle", van], ["accept", log, "--vehicle", van], ["plan", "--vehicle", van],
                        ["fit", log, "--vehicle", van, "--free", "body.block_shell"], ["expect", "--vehicle", van]):
            self.assertEqual(self.most_threads([PROGRAM, *command, "--threads", "1", "-o", self.path("x"), "--plot", "none", "-q"]), 1, command)

    def test_bad_count(self):
        for bad in ("0", "x", "2x", "5000", ""):
            done = subprocess.run([PROGRAM, "plan", "--vehicle", "v.ini", "--threads", bad], capture_output=True, text=True)
            self.assertEqual(done.returncode, 2)
            self.assertIn("--threads", done.stderr)


class Shards(Case):
    def test_shards_at_the_same_time(self):
        """Six parts, three at a time, against one run of all: the same table to the bit."""
        subprocess.run(self.sweep("whole", "--threads", "2"), check=True)
        parts = [self.sweep("parts", "--shard", f"{i}/6", "--threads", "1") for i in range(1, 7)]
        results = []
        for three in (parts[:3], parts[3:]):
            threads = [threading.Thread(target=lambda c=c: results.append(subprocess.run(c, stdout=subprocess.DEVNULL).returncode)) for c in three]
            for t in threads:
                t.start()
            for t in threads:
                t.join()
        self.assertEqual(results, [0] * 6)
        subprocess.run(self.sweep("parts", "--merge"), check=True)
        for name in ("cases.csv",):
            with open(self.path(f"whole/{name}"), "rb") as a, open(self.path(f"parts/{name}"), "rb") as b:
                self.assertEqual(a.read(), b.read())


if __name__ == "__main__":
    result = unittest.main(argv=[sys.argv[0], *sys.argv[3:]], exit=False).result
    sys.exit(1 if not result.wasSuccessful() else 0)
