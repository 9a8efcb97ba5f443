"""The program, run as its user runs it: sweep, margin, run --ensemble.

Usage: runaway_program.py PROGRAM SCENARIOS_FOLDER TEST_CLASS

A vehicle is hot, fast, and its low-side switches are defeated, so that losing charge takes the oil from the plate (SAE 980286:
superheat strands oil). Where such an edge lies is a matter of parameters; the checks ask for what must hold wherever it lies.
"""
import csv
import json
import os
import re
import pty
import resource
import select
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import unittest

PROGRAM, SCENARIOS = (os.path.abspath(p) for p in sys.argv[1:3])
SANITIZED = bool(os.environ.get("SWH_SANITIZE"))

STORY = """[scenario]
title = An invented van in a hot yard
vehicle = van.ini
[conditions]
ambient_temperature = 40 degC
compressor_speed = 3000 rpm
vehicle_speed = 15 km/h
doors_open = 1
[fault never_cycling]
severity = 1
[run]
duration = 300 s
"""


class Case(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp(prefix="swh_")
        self.addCleanup(shutil.rmtree, self.folder)
        shutil.copy(os.path.join(SCENARIOS, "van-valve.ini"), self.path("van.ini"))
        self.write("story.ini", STORY)

    def path(self, name):
        return os.path.join(self.folder, name)

    def write(self, name, text):
        with open(self.path(name), "w", encoding="utf-8") as f:
            f.write(text)

    def read(self, name):
        with open(self.path(name), "rb") as f:
            return f.read()

    def rows(self, name):
        with open(self.path(name), newline="", encoding="utf-8") as f:
            return [{k.split("[")[0]: v for k, v in r.items()} for r in csv.DictReader(f)]

    def json(self, name):
        with open(self.path(name), encoding="utf-8") as f:
            return json.load(f)

    def call(self, *arguments, **options):
        return subprocess.run([PROGRAM, *arguments], cwd=self.folder, capture_output=True, timeout=240, **options)

    def ok(self, *arguments, **options):
        done = self.call(*arguments, **options)
        self.assertEqual(done.returncode, 0, done.stderr.decode())
        return done.stdout.decode()

    def fails(self, status, words, *arguments, **options):
        """Ends with `status`; all of `words` stand on standard error, nothing on standard output."""
        done = self.call(*arguments, **options)
        errors = done.stderr.decode()
        self.assertEqual(done.returncode, status, errors)
        for word in words:
            self.assertIn(word, errors)
        self.assertEqual(done.stdout, b"")


class SweepCase(Case):
    CASES = 12

    def sweep(self, out="out", *more):
        return ("sweep", "story.ini", "--vary", "fault.undercharge.severity=0..0.75:4", "--vary",
                "conditions.compressor_speed=1500..3000 rpm:3", "--plot", "none", "-o", out, *more)

    def journal_lines(self, out="out"):
        found = [f for f in os.listdir(self.path(out)) if f.endswith(".journal")] if os.path.isdir(self.path(out)) else []
        return sum(self.read(os.path.join(out, f)).count(b"\n") for f in found)


class Sweep(SweepCase):
    def test_pictures_when_asked(self):
        """gnuplot takes longer than twelve short cases: a sweep draws when --plot says so, and only then."""
        short = ("sweep", "story.ini", "--vary", "fault.undercharge.severity=0..0.4:2", "--set", "run.duration=20 s")
        self.ok(*short, "-o", "plain")
        self.assertEqual([f for f in os.listdir(self.path("plain")) if f.endswith(".png")], [])
        self.ok(*short, "-o", "drawn", "--plot", "png")
        self.assertEqual([f for f in os.listdir(self.path("drawn")) if f.endswith(".png")], ["sweep.png"])

    def test_results(self):
        told = json.loads(self.ok(*self.sweep("out", "--json")))
        self.assertEqual(sorted(os.listdir(self.path("out"))), ["case.ini", "cases.csv", "provenance.json", "sweep.json"])
        self.assertEqual(told, self.json("out/sweep.json"))
        rows = self.rows("out/cases.csv")
        self.assertEqual([r["case"] for r in rows], [str(k + 1) for k in range(self.CASES)])
        self.assertEqual(sum(told["outcomes"].values()), self.CASES)
        for word, count in told["outcomes"].items():
            self.assertEqual(count, sum(r["outcome"] == word for r in rows))
        for r in rows:
            self.assertEqual(r["time_to_seizure"] != "", r["outcome"].endswith("seized"))

    def test_row_is_a_run(self):
        """Each row is what `run` says of the same settings, to all nine digits of the table (test_sweep: to the last bit)."""
        self.ok(*self.sweep())
        for row in (self.rows("out/cases.csv")[k] for k in (0, 5, 11)):
            self.ok("run", "story.ini", "--plot", "none", "-o", "one", "--set", f"fault.undercharge.severity={row['fault.undercharge.severity']}",
                    "--set", f"conditions.compressor_speed={row['conditions.compressor_speed']} rps")
            one = self.json("one/summary.json")
            self.assertEqual(row["outcome"], one["outcome"])
            self.assertEqual(row["cause"], one["cause"] or "")
            self.assertEqual(row["duty"], f"{one['duty']:.9g}")
            for column in ("rotor_temperature", "contact_temperature", "discharge_pressure", "superheat"):
                self.assertEqual(row[f"peak_{column}"], f"{one['peak'][column]['value']:.9g}")
            if one["time_to_seizure_s"] is not None:
                self.assertEqual(row["time_to_seizure"], f"{one['time_to_seizure_s']:.9g}")

    def test_threads(self):
        self.ok(*self.sweep("one", "--threads", "1"))
        self.ok(*self.sweep("two", "--threads", "2"))
        self.assertEqual(self.read("one/cases.csv"), self.read("two/cases.csv"))

    def sample(self, out, *more):
        self.ok("sweep", "story.ini", "--vary", "fault.undercharge.severity=0..0.6", "--vary", "conditions.compressor_speed=1200..2400 rpm",
                "--sample", "8", "--plot", "none", "-o", out, *more)
        return self.read(f"{out}/cases.csv")

    def test_seed(self):
        first = self.sample("a", "--seed", "5")
        self.assertEqual(first, self.sample("b", "--seed", "5"))
        self.assertNotEqual(first, self.sample("c", "--seed", "6"))

    def test_sobol(self):
        self.sample("a", "--sobol")
        self.assertEqual(len(self.rows("a/cases.csv")), 8 * (2 + 2))
        for one in self.json("a/sweep.json")["sensitivities"].values():
            self.assertLessEqual({"sobol_first", "sobol_total"}, set(one))

    def test_bad_ranges(self):
        vary = lambda text, *more: ("sweep", "story.ini", "--vary", text, "-o", "out", *more)
        self.fails(2, ["reversed"], *vary("fault.undercharge.severity=0.8..0.1:4"))
        self.fails(2, ["empty"], *vary("fault.undercharge.severity=0.8..0.8:4"))
        self.fails(2, ["fault.underchage.severity", "nearest is 'fault.undercharge.severity'"], *vary("fault.underchage.severity=0..0.5:3"))
        self.fails(2, ["limits", "0 .. 1"], *vary("fault.undercharge.severity=0..1.5:3"))
        self.fails(2, ["is not a range"], *vary("fault.undercharge.severity=0.5:3"))
        self.fails(2, ["is not a count"], *vary("fault.undercharge.severity=0..0.5:0"))
        self.fails(2, ["how many values"], *vary("fault.undercharge.severity=0..0.5"))
        self.fails(2, ["I/N"], *vary("fault.undercharge.severity=0..0.5:3", "--shard", "5/4"))
        self.fails(2, ["column"], *vary("fault.undercharge.severity=0..0.5:3", "--result", "no_such"))
        self.fails(2, ["nothing to vary"], "sweep", "story.ini", "-o", "out")
        self.assertFalse(os.path.exists(self.path("out")))

    def test_time_left(self):
        """On a terminal a bar with the time left, which leaves nothing behind; no line is longer than a terminal is wide."""
        master, slave = pty.openpty()
        p = subprocess.Popen([PROGRAM, *self.sweep("out", "--threads", "1")], cwd=self.folder, stdout=subprocess.DEVNULL, stderr=slave)
        os.close(slave)
        text, deadline = "", time.monotonic() + 200
        while time.monotonic() < deadline:
            if not select.select([master], [], [], 1)[0] and p.poll() is not None:
                break
            try:
                more = os.read(master, 4096).decode()
            except OSError:  # the other side is closed
                break
            if not more:
                break
            text += more
        os.close(master)
        self.assertEqual(p.wait(), 0)
        for line in text.split("\r"):
            self.assertLessEqual(len(line), 80)
        if text:  # a machine that needs less than a fifth of a second shows nothing
            self.assertIn(f"of {self.CASES}, ", text)
            self.assertIn(" s left", text)
            self.assertEqual(text.split("\r")[-2].strip() + text.split("\r")[-1], "")


class Stopped(SweepCase):
    def whole(self):
        self.ok(*self.sweep("whole"))
        return self.read("whole/cases.csv")

    def resumes(self, done):
        self.assertFalse(os.path.exists(self.path("out/cases.csv")))
        self.assertGreater(done, 0)
        self.assertLess(done, self.CASES)
        again = self.call(*self.sweep())
        self.assertEqual(again.returncode, 0, again.stderr.decode())
        self.assertIn(f"{done} of {self.CASES} cases were done before", again.stderr.decode())
        self.assertEqual(self.read("out/cases.csv"), self.whole())
        self.assertEqual(sorted(os.listdir(self.path("out"))), ["case.ini", "cases.csv", "provenance.json", "sweep.json"])

    def test_killed(self):
        p = subprocess.Popen([PROGRAM, *self.sweep("out", "--threads", "1", "--set", "run.duration=1500 s")], cwd=self.folder,
                             stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        deadline = time.monotonic() + 100
        while self.journal_lines() < 2 and p.poll() is None and time.monotonic() < deadline:
            time.sleep(0.002)
        p.send_signal(signal.SIGKILL)
        self.assertEqual(p.wait(), -signal.SIGKILL, "the sweep was over before it could be killed")
        done = self.journal_lines()
        self.write("story.ini", STORY.replace("duration = 300 s", "duration = 1500 s"))  # the same sweep, said another way
        self.resumes(done)

    @unittest.skipIf(SANITIZED, "the sanitizer's runtime writes files of its own")
    def test_disk_full(self):
        """A limit on the size of files takes the part of a full disk: a few lines fit, then nothing more."""
        def full():
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)  # the write is refused, as on a full disk
            resource.setrlimit(resource.RLIMIT_FSIZE, (1500, 1500))

        self.fails(5, [".journal", "goes on where it stopped"], *self.sweep("out", "--threads", "1"), preexec_fn=full)
        journal = [f for f in os.listdir(self.path("out")) if f.endswith(".journal")]
        lines = self.read(os.path.join("out", journal[0])).split(b"\n")
        self.assertGreater(len(lines), 1)
        self.resumes(len(lines) - 1)

    def test_two_at_once(self):
        """A second process on the same results is refused, the first is not disturbed."""
        p = subprocess.Popen([PROGRAM, *self.sweep("out", "--threads", "1", "--set", "run.duration=1500 s")], cwd=self.folder,
                             stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        while self.journal_lines() < 1 and p.poll() is None:
            time.sleep(0.002)
        if p.poll() is None:
            self.fails(5, ["another process"], *self.sweep("out", "--set", "run.duration=1500 s"))
        self.assertEqual(p.wait(), 0)
        self.assertEqual(len(self.rows("out/cases.csv")), self.CASES)


class Parts(SweepCase):
    """A sweep cut into parts by the engine that README names, GNU parallel."""

    def setUp(self):
        super().setUp()
        engine = shutil.which("parallel")
        if not engine or b"GNU parallel" not in subprocess.run([engine, "--version"], capture_output=True).stdout:
            print("GNU parallel is not installed")
            sys.stdout.flush()
            os._exit(77)

    def test_parallel_and_merge(self):
        self.ok(*self.sweep("whole"))
        home = {**os.environ, "HOME": self.folder, "PARALLEL_HOME": self.path("parallel")}
        command = [PROGRAM, *self.sweep("out", "-q", "--threads", "1", "--shard", "{}/4")]
        subprocess.run(["parallel", "--quote", "-j", "2", *command, ":::", "1", "2", "3", "4"], cwd=self.folder, check=True,
                       capture_output=True, timeout=240, env=home)
        self.assertFalse(os.path.exists(self.path("out/cases.csv")))
        self.ok(*self.sweep("out", "--merge"))
        self.assertEqual(self.read("out/cases.csv"), self.read("whole/cases.csv"))
        self.assertEqual({**self.json("out/sweep.json"), "folder": ""}, {**self.json("whole/sweep.json"), "folder": ""})

    def test_a_part_is_missing(self):
        self.ok(*self.sweep("out", "--shard", "1/3"))
        self.fails(3, [f"{self.CASES - 4} of {self.CASES} cases are not there, the first is number 2"], *self.sweep("out", "--merge"))
        self.assertFalse(os.path.exists(self.path("out/cases.csv")))


class Effects(Case):
    """Sensitivities against differences of full runs; published direction and size of effects against sweeps."""

    def sweep(self, *more, out="out"):
        self.ok("sweep", "story.ini", "--plot", "none", "-o", out, *more)
        return self.rows(f"{out}/cases.csv"), self.json(f"{out}/sweep.json")["sensitivities"]

    def test_differences(self):
        """Over ranges so narrow that the response is a plane, an input's Sobol index is its share of the sum of squared differences
        (d_i = slope times width), and the sign of its rank correlation is that of the difference. Slopes from full runs."""
        ranges = {"conditions.compressor_speed": (1500, 1600, " rpm"), "conditions.ambient_temperature": (30, 31, " degC"),
                  "friction.bearing_torque": (0.2, 0.4, " N m")}
        middle = {k: (lo + hi) / 2 for k, (lo, hi, _) in ranges.items()}

        def peak(at):
            settings = [w for k, v in at.items() for w in ("--set", f"{k}={v}{ranges[k][2]}")]
            self.ok("run", "story.ini", "--plot", "none", "-o", "one", *settings)
            return self.json("one/summary.json")["peak"]["rotor_temperature"]["value"]

        d = {k: peak({**middle, k: hi}) - peak({**middle, k: lo}) for k, (lo, hi, _) in ranges.items()}
        total = sum(x * x for x in d.values())
        vary = [w for k, (lo, hi, unit) in ranges.items() for w in ("--vary", f"{k}={lo}..{hi}{unit}")]
        _, sobol = self.sweep(*vary, "--sample", "128", "--sobol", out="sobol")
        _, rank = self.sweep(*vary, "--sample", "60", out="rank")
        for k, x in d.items():
            self.assertGreater(abs(x), 0.05)
            # the error of an index is what the program says it is, about a tenth for 128 points
            error = sobol[k]["sobol_total_error"]
            self.assertLess(error, 0.2)
            self.assertAlmostEqual(sobol[k]["sobol_total"], x * x / total, delta=3 * error + 0.02)
            if x * x > 0.1 * total:
                self.assertGreater(rank[k]["rank_correlation"] * x, 0)
        strongest = max(d, key=lambda k: abs(d[k]))
        self.assertEqual(strongest, max(sobol, key=lambda k: sobol[k]["sobol_total"]))

    def bench(self, vary):
        self.write("story.ini", STORY.replace("[fault never_cycling]\nseverity = 1\n", "[controls]\ncycling = none\nhigh_pressure = none\n")
                   .replace("40 degC", "30 degC").replace("3000 rpm", "1500 rpm").replace("15 km/h", "0 km/h").replace("300 s", "900 s"))
        rows, _ = self.sweep("--vary", vary)
        return {c: [float(r[c]) for r in rows] for c in rows[0] if c.startswith(("peak_", "lowest_"))}

    def rises(self, values):
        self.assertEqual(values, sorted(values))
        self.assertGreater(values[-1], values[0])

    def test_condenser_air(self):
        """J. Energy Resour. Technol. 117 (1995) 349, simulated: with 40 % of the air missing the rise of pressure is 19 % larger. Qureshi and
        Zubair 2014, measured: condenser pressure and discharge temperature grow ever steeper with blockage. Order and shape."""
        r = self.bench("fault.condenser_blocked.severity=0..0.6:4")
        head = r["peak_discharge_pressure"]
        rise = [h - l for h, l in zip(head, r["lowest_suction_pressure"])]
        self.assertTrue(0.08 < rise[2] / rise[0] - 1 < 0.38, rise)
        for values in (head, r["peak_discharge_temperature"]):
            self.rises(values)
            self.assertGreater(values[3] - values[2], values[2] - values[1])
            self.assertGreater(values[2] - values[1], values[1] - values[0])

    def test_speed(self):
        """Benches of R-134a car systems, published trends: the temperature at the compressor's outlet rises with speed."""
        r = self.bench("conditions.compressor_speed=1000..2500 rpm:4")
        self.rises(r["peak_discharge_temperature"])
        self.rises(r["lowest_suction_pressure"][::-1])

    def test_charge(self):
        """Workshop test of one car, 25 % short: oil in the compressor less, compressor warmer, the high side hardly moves. ASHRAE RP-1173 as
        summarised by a national laboratory: below some 80 % a fully open valve cannot hold the superheat."""
        r = self.bench("fault.undercharge.severity=0..0.6:4")

        def superheat(short):  # its peak is that of the first seconds, whatever the charge
            self.ok("run", "story.ini", "--plot", "none", "-o", "one", "--set", f"fault.undercharge.severity={short}",
                    "--set", "controls.cycling=none")
            return self.json("one/summary.json")["final"]["evaporator_superheat"]
        self.assertGreater(superheat(0.6), superheat(0) + 5)
        self.assertLess(r["lowest_oil_mass"][3], 0.9 * r["lowest_oil_mass"][0])
        self.assertGreater(r["peak_rotor_temperature"][3], r["peak_rotor_temperature"][0])
        self.assertLess(abs(r["peak_discharge_pressure"][1] / r["peak_discharge_pressure"][0] - 1), 0.1)


class Margin(Case):
    def margin(self, *more, out="out"):
        return ("margin", "story.ini", "--plot", "none", "-o", out, *more)

    def test_fault(self):
        told = json.loads(self.ok(*self.margin("--fault", "oil_short", "--json")))
        self.assertEqual(told, self.json("out/margin.json"))
        self.assertTrue(told["today_holds"])
        self.assertEqual(told["today"], 0)
        self.assertIn(told["edge"], ("fold", "threshold"))
        self.assertLess(told["holds_at"], told["critical"])
        self.assertLess(told["critical"], told["lost_at"])
        self.assertLessEqual(told["lost_at"] - told["holds_at"], 0.005)
        self.assertAlmostEqual(told["margin_percent"], 100 * told["critical"])
        # textbook (saddle-node): the way back slows down toward the edge, and the farther beyond it the sooner all is lost
        self.assertLess(told["growth_today_per_s"], 0)
        self.assertGreater(told["growth_edge_per_s"], told["growth_today_per_s"])
        times = [b["time_to_seizure_s"] for b in told["beyond"]]
        self.assertGreaterEqual(len(times), 3)
        self.assertEqual(times, sorted(times, reverse=True))
        self.assertAlmostEqual(sum(abs(s) for s in told["feedbacks"].values() if s is not None), 1, 9)
        # what holds and what is lost, told by single runs of the same length
        for at, seized in ((told["holds_at"], False), (told["beyond"][-1]["at"], True)):
            self.ok("run", "story.ini", "--plot", "none", "-o", "one", "--set", f"fault.oil_short.severity={at}", "--set", "run.duration=7200 s")
            self.assertEqual(self.json("one/summary.json")["outcome"].endswith("seized"), seized)

    def test_words(self):
        text = self.ok(*self.margin("--vary", "fault.oil_short.severity", "--range", "0..1"))
        for words in ("today it is 0", "Margin: ", "dies out in", "Beyond, at", "What drives it", "hot oil is thin", "until it came to rest"):
            self.assertIn(words, text)

    def test_not_in_range(self):
        text = self.ok(*self.margin("--fault", "oil_short", "--range", "0..0.05"))
        self.assertIn("no edge from 0 to 0.05; it runs on at every value tried", text)
        self.assertIn("At 0: survives, rotor at rest", text)
        self.assertIn("At 0.05: survives, rotor at rest", text)
        told = self.json("out/margin.json")
        self.assertEqual((told["edge"], told["critical"]), ("none", None))
        self.assertEqual([told["low_end"]["outcome"], told["high_end"]["outcome"]], ["survives"] * 2)

    def test_limit(self):
        free = json.loads(self.ok(*self.margin("--fault", "oil_short", "--json")))
        rest = [t["rotor_temperature"] for t in free["tried"] if t["holds"]]
        limit = 0.5 * (min(rest) + max(rest)) - 273.15
        told = json.loads(self.ok(*self.margin("--fault", "oil_short", "--json", "--limit", f"rotor_temperature={limit} degC")))
        self.assertEqual(told["edge"], "limit")
        self.assertLess(told["critical"], free["critical"])

    def test_curves(self):
        text = self.ok(*self.margin("--curves"))
        rows = [[float(v) for v in r.values()] for r in self.rows("out/heat_curves.csv") if all(r.values())]
        self.assertGreater(len(rows), 10)
        crossings = self.json("out/margin.json")["crossings"]
        self.assertEqual(crossings[0]["kind"], "stable")
        self.assertIn("stable at", text)
        for c in crossings:  # between the rows beside it the difference changes its sign
            below = [g - l for T, g, l in rows if T <= c["rotor_temperature"]][-1]
            above = [g - l for T, g, l in rows if T > c["rotor_temperature"]][0]
            self.assertEqual(below > 0 > above, c["kind"] == "stable")

    def test_two_keys(self):
        """The edge followed along a second number is where single searches find it (to both tolerances)."""
        against = "conditions.compressor_speed=2400..3000 rpm:4"
        told = json.loads(self.ok(*self.margin("--fault", "oil_short", "--against", against, "--json")))
        edge = told["edge_along"]
        self.assertEqual(len(edge), 4)
        self.assertEqual(len(self.rows("out/edge.csv")), 4)
        self.assertAlmostEqual(edge[-1]["critical"], told["critical"], delta=0.011)
        one = json.loads(self.ok(*self.margin("--fault", "oil_short", "--json", "--set", "conditions.compressor_speed=2400 rpm", out="one")))
        self.assertAlmostEqual(edge[0]["critical"], one["critical"], delta=0.011)

    def test_protected(self):
        """A blocked condenser is the pressure switch's business: margin and sweep both say so, and neither calls it a seizure."""
        self.write("story.ini", STORY.replace("duration = 300 s", "duration = 1800 s").replace("3000 rpm", "1500 rpm"))
        margin = self.ok(*self.margin("--fault", "condenser_blocked", "--range", "0.7..1", "--set", "fault.condenser_blocked.severity=0.7"))
        sweep = self.ok("sweep", "story.ini", "--vary", "fault.condenser_blocked.severity=0.8..1:3", "--plot", "none", "-o", "sweep")
        self.assertEqual(self.json("sweep/sweep.json")["outcomes"]["protected"], 3)
        self.assertIn("it never seizes, and from 0.", margin)
        self.assertIn("to 1 a switch or relief valve protects it", margin)
        self.assertIn("At 1: protected", margin)
        self.assertIn("with the switch defeated the edge may lie there", margin)
        self.assertIn("Each case was followed for 1800 s", sweep)

    def test_overheated(self):
        """Gas hotter than 250 degC, where the property tables end, is past the edge and no seizure: reeds that leak pump the same gas round.
        A single run says the same. (The film is held, so that nothing else breaks first.)"""
        self.write("story.ini", STORY.replace("40 degC", "45 degC").replace("3000 rpm", "5000 rpm") +
                   "[friction]\nfilm_scale = 10\n[oil]\nplate_full = 5 g\n[controls]\nhigh_pressure = none\n[compressor]\nclearance = 40 um\n")
        text = self.ok(*self.margin("--fault", "reed_leaking", "--threads", "2"))
        told = self.json("out/margin.json")
        hot = [t for t in told["tried"] if t["outcome"] == "overheated"]
        self.assertTrue(hot)
        self.assertIn("Overheated: the gas passed 250 degC", text)
        self.assertLessEqual(abs(told["lost_at"] - told["holds_at"]), 0.005)
        for t in hot:
            self.assertFalse(t["holds"])
            self.assertIsNone(t["time_to_seizure_s"])
            self.ok("run", "story.ini", "--plot", "none", "-o", "one", "-q", "--set", f"fault.reed_leaking.severity={t['at']}",
                    "--set", f"run.duration={1.2 * t['time_to_loss_s'] + 1} s")
            self.assertEqual(self.json("one/summary.json")["outcome"], "overheated")

    def test_band(self):
        """What is known worst moves the edge: a band round it in words and numbers, each value beyond once, the time an order of magnitude."""
        text = self.ok(*self.margin("--fault", "oil_short"))
        told = self.json("out/margin.json")
        band = told["band"]
        self.assertTrue(band["low"] < told["critical"] < band["high"])
        self.assertEqual(set(band["by"]), {"film", "supply", "oil_return", "charge"})
        self.assertIn("as far as film, oil and charge are known", text)
        self.assertIn("What is known worst moves it", text)
        beyond = [line for line in text.splitlines() if "Beyond, at" in line]
        self.assertEqual(len(beyond), len(set(line.split(":")[0] for line in beyond)))
        self.assertTrue(all(re.search(r"within seconds|in a minute or two|in minutes|in tens of minutes|in hours", line) for line in beyond))

    def test_bad_input(self):
        self.fails(2, ["oil_shrt", "nearest is 'oil_short'"], *self.margin("--fault", "oil_shrt"))
        self.fails(2, ["nearest is 'friction.film_scale'"], *self.margin("--vary", "friction.film_scal"))
        self.fails(2, ["reversed"], *self.margin("--fault", "oil_short", "--range", "0.5..0"))
        self.fails(2, ["empty"], *self.margin("--fault", "oil_short", "--range", "0.5..0.5"))
        self.fails(3, ["outside the range"], *self.margin("--fault", "oil_short", "--range", "0.5..0.9"))
        self.fails(2, ["leaves its limits"], *self.margin("--fault", "oil_short", "--range", "0..3"))
        self.fails(3, ["act on the same quantity"], *self.margin("--fault", "overcharge", "--set", "fault.undercharge.severity=0.5"))
        self.fails(2, ["nothing to vary"], *self.margin())
        self.fails(2, ["both --fault and --vary"], *self.margin("--fault", "oil_short", "--vary", "friction.film_scale"))
        self.fails(2, ["--against"], *self.margin("--fault", "oil_short", "--against", "conditions.compressor_speed=3000..2000 rpm:3"))
        self.fails(2, ["--limit"], *self.margin("--fault", "oil_short", "--limit", "rotor=150 degC"))
        self.assertFalse(os.path.exists(self.path("out")))


class Ensemble(Case):
    def setUp(self):
        super().setUp()
        self.write("story.ini", STORY + "[fault oil_short]\nseverity = 0.5\n[friction]\nfilm_scale = 1 +- 0.2\n")

    def ensemble(self, out="out", *more):
        return ("run", "story.ini", "--ensemble", "16", "--plot", "none", "-o", out, *more)

    def test_results(self):
        told = json.loads(self.ok(*self.ensemble("out", "--json")))
        self.assertEqual(told, self.json("out/ensemble.json"))
        self.assertEqual((told["members"], told["incomplete"], told["seed"]), (16, 0, 1))
        self.assertEqual(told["probability_of_seizure"], told["seized"] / 16)
        self.assertLessEqual(told["probability_low"], told["probability_of_seizure"])
        self.assertLessEqual(told["probability_of_seizure"], told["probability_high"])
        rows = self.rows("out/ensemble.csv")
        self.assertEqual(float(rows[-1]["time"]), 300)
        for r in rows:
            low, median, high = (float(r[f"rotor_temperature_{b}"]) for b in ("low", "median", "high"))
            self.assertTrue(low <= median <= high)
        spread = [float(r["rotor_temperature_high"]) - float(r["rotor_temperature_low"]) for r in rows]
        self.assertGreater(max(spread), 1)
        self.assertIn("of 16 draws seize: probability", self.ok(*self.ensemble("again")))

    def test_seed(self):
        self.ok(*self.ensemble("a", "--seed", "4", "--threads", "1"))
        self.ok(*self.ensemble("b", "--seed", "4", "--threads", "2"))
        self.ok(*self.ensemble("c", "--seed", "5"))
        for name in ("ensemble.csv", "ensemble.json"):
            self.assertEqual(self.read(f"a/{name}"), self.read(f"b/{name}"))
        self.assertNotEqual(self.read("a/ensemble.csv"), self.read("c/ensemble.csv"))

    def test_bad_input(self):
        self.fails(2, ["is not a count", "from 1 to 100000"], "run", "story.ini", "--ensemble", "0", "-o", "out")
        self.fails(2, ["--seed", "is not a count"], *self.ensemble("out", "--seed", "x"))
        self.write("story.ini", STORY)
        self.fails(3, ["story.ini", "no parameter has a spread"], *self.ensemble())
        self.write("story.ini", STORY + "[friction]\nfilm_scale = 1 +- -0.2\n")
        self.fails(3, ["story.ini"], *self.ensemble())
        self.assertFalse(os.path.exists(self.path("out")))


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
