"""What a fit says of what it does not know, and the vehicle file that it leaves. Usage: fit_program.py PROGRAM SCENARIOS_FOLDER TEST_CLASS"""
import csv
import json
import math
import os
import re
import subprocess
import sys
import tempfile
import unittest

PROGRAM, SCENARIOS = (os.path.abspath(p) for p in sys.argv[1:3])
LOG, VEHICLE = os.path.join(SCENARIOS, "logs", "bay-healthy.csv"), os.path.join(SCENARIOS, "vehicle-logs.ini")


class Case(unittest.TestCase):
    def setUp(self):
        self.keep = tempfile.TemporaryDirectory(prefix="swh_")
        self.folder = self.keep.name
        self.addCleanup(self.keep.cleanup)

    def path(self, name):
        return os.path.join(self.folder, name)

    def run_program(self, *arguments, expect=0):
        done = subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, timeout=600, check=False)
        self.assertEqual(done.returncode, expect, f"{' '.join(arguments)}\n{done.stderr}")
        return done

    def fit(self, free, *more, log=LOG, vehicle=VEHICLE, expect=0):
        """The program's answer and fit.json."""
        done = self.run_program("fit", log, "--vehicle", vehicle, "--free", free, "-o", self.path("out"), "--plot", "none", *more,
                                expect=expect)
        if expect:
            return done, None
        with open(self.path("out/fit.json"), encoding="utf-8") as f:
            return done, json.load(f)


class Open(Case):
    def test_what_acts_as_a_quotient_only(self):
        # the film's share of the load takes both as film_scale/roughness (model/parts/film.c): twice both is the same machine
        done, fit = self.fit("friction.film_scale,friction.roughness")
        for key, least in (("friction.film_scale", 4), ("friction.roughness", 4)):
            estimate = fit["estimates"][key]
            self.assertFalse(estimate["identified"], key)
            self.assertGreater(estimate["high"] / estimate["low"], least)
        self.assertTrue(any(e["held"] for e in fit["estimates"].values()))
        self.assertIn("friction.film_scale and friction.roughness act as their quotient only: neither of the two is told", done.stdout)
        self.assertEqual(done.stdout.count("Not to be told"), 1, done.stdout)

    def test_a_profile_finds_the_same(self):
        _, fit = self.fit("friction.film_scale,friction.roughness", "--profile")
        for key, estimate in fit["estimates"].items():
            self.assertTrue(estimate["profiled"])
            self.assertFalse(estimate["identified"], key)
            self.assertGreater(estimate["high"] / estimate["low"], 4)
        self.assertGreater(fit["runs"], 150) # each run of the profile is counted

    def test_what_is_told(self):
        _, fit = self.fit("compressor.indicated_efficiency,compressor.ua_discharge_heads")
        for key, estimate in fit["estimates"].items():
            self.assertTrue(estimate["identified"] and not estimate["held"], key)
            self.assertTrue(estimate["low"] < estimate["value"] < estimate["high"], key)
            self.assertTrue(0 < estimate["spread"] < estimate["high"] - estimate["low"], key)

    def test_what_nothing_depends_on(self):
        for key, words in (("run.duration", "is no property of a vehicle"), ("uncertainty.ambient", "is no property of a vehicle"),
                           ("fitted.logs", "is no property of a vehicle"), ("controls.low_open", "nothing that was read depends on"),
                           ("condenser.ua_air", "nothing that was read depends on")):
            done, _ = self.fit(f"body.block_shell,{key}", expect=2)
            self.assertIn(f"{key} {words}" if "is no" in words else f"{words} {key}", done.stderr)
            self.assertFalse(os.path.exists(self.path("out/vehicle.ini")))

    def test_four_starts(self):
        """A log of a circuit with half its charge: from all of it one slides to the end of the receiver's plateau and stays."""
        self.run_program("run", os.path.join(SCENARIOS, "van-valve.ini"), "--set", "charge.fraction=0.5", "--set", "run.duration=900 s",
                         "--set", "conditions.doors_open=1", "-o", self.path("truth"), "--plot", "none", "-q")
        channels = ("time", "suction_pressure", "discharge_pressure", "suction_temperature", "discharge_temperature", "ambient_temperature",
                    "liquid_line_temperature", "vent_temperature", "cabin_temperature", "compressor_speed", "vehicle_speed", "clutch")
        with open(self.path("truth/series.csv"), encoding="utf-8") as f, open(self.path("log.csv"), "w", encoding="utf-8") as out:
            rows = csv.reader(f)
            head = next(rows)
            at = [i for i, cell in enumerate(head) if cell.split("[")[0] in channels]
            print(",".join(head[i] for i in at), file=out)
            for row in rows:
                print(",".join(row[i] for i in at), file=out)
        arguments = ("charge.fraction,condenser.ua_air", "--with", "circuit", "--set", "conditions.doors_open=1")
        for starts, found in ((1, False), (4, True)):
            done, fit = self.fit(*arguments, *(("--starts", "1") if starts == 1 else ()), log=self.path("log.csv"),
                                 vehicle=os.path.join(SCENARIOS, "van-valve.ini"))
            estimate = fit["estimates"]["charge.fraction"]
            self.assertEqual(fit["starts"], starts)
            self.assertEqual(0.49 < estimate["value"] < 0.51, found, done.stdout)
            self.assertTrue(estimate["low"] < 0.5 < estimate["high"], estimate)
        self.assertLess(fit["starts_agree"], 4)
        self.assertEqual("Only 1 of 4 starts reached this fit" in done.stdout, fit["starts_agree"] == 1)


class Written(Case):
    FREE = "compressor.indicated_efficiency,compressor.ua_discharge_heads,body.shell_film"

    def text(self, name="vehicle.ini"):
        with open(self.path(f"out/{name}"), encoding="utf-8") as f:
            return f.read()

    def test_values_spreads_and_ranges(self):
        _, fit = self.fit(self.FREE, "--set", "evaporator.air=0.215 kg/s +- 0.01 kg/s")
        text, estimates = self.text(), fit["estimates"]
        self.assertIn("good", self.run_program("check", self.path("out/vehicle.ini")).stdout)
        self.assertIn("air = 0.215 kg/s +- 0.01 kg/s", text) # not fitted: its spread stays
        for key, unit in (("compressor.indicated_efficiency", ""), ("compressor.ua_discharge_heads", " W/K")):
            number = r"([\d.e+-]+)" + unit
            found = re.search(rf"# fitted: 95 % interval {number} to {number}\n{key.split('.')[1]} = {number} \+- {number}\n", text)
            self.assertTrue(found, (key, text))
            for got, name in zip(found.groups(), ("low", "high", "value", "spread")):
                self.assertAlmostEqual(float(got) / estimates[key][name], 1, delta=1e-3)
        r = fit["correlation"]["compressor.indicated_efficiency"]["compressor.ua_discharge_heads"]
        self.assertIn(f"compressor.ua_discharge_heads with compressor.indicated_efficiency = {r:.4f}", text)

    def test_open_ones_are_commented_out(self):
        _, fit = self.fit(self.FREE)
        self.assertTrue(fit["estimates"]["body.shell_film"]["held"])
        self.assertIn("# open: anything from 1 W/m2/K to ", self.text())
        self.assertIn("\n# shell_film = 12 W/m2/K\n", self.text())
        self.assertNotIn("\nshell_film", self.text())
        _, kept = self.fit(self.FREE, "--keep-unknown")
        self.assertFalse(kept["estimates"]["body.shell_film"]["held"])
        self.assertIn("\nshell_film = ", self.text())

    def test_a_held_one_keeps_the_value_it_had(self):
        self.fit(self.FREE, "--set", "body.shell_film=15 W/m2/K")
        self.assertIn("\n# shell_film = 15 W/m2/K\nshell_film = 15 W/m2/K\n", self.text())

    def test_an_ensemble_draws_from_it(self):
        """Draws of the file's vehicle have its correlation; the resolved case repeats them."""
        _, fit = self.fit("compressor.indicated_efficiency,compressor.ua_discharge_heads,body.block_capacity")
        told = [key for key, e in fit["estimates"].items() if not e["held"]]
        self.assertGreaterEqual(len(told), 2)
        arguments = ("--ensemble", "60", "--seed", "2", "--set", "run.duration=5 s", "--plot", "none", "-q")
        self.run_program("run", os.path.join(SCENARIOS, "healthy.ini"), "--vehicle", self.path("out/vehicle.ini"), *arguments, "-o",
                         self.path("ensemble"))
        self.run_program("run", self.path("ensemble/case.ini"), *arguments, "-o", self.path("again"))
        tables = []
        for name in ("ensemble", "again"):
            with open(self.path(f"{name}/members.csv"), encoding="utf-8") as f:
                tables.append(f.read())
        self.assertEqual(*tables)
        rows = list(csv.DictReader(tables[0].splitlines()))
        columns = [[float(v) for head, v in row.items() if head.split("[")[0] == key] for key in told[:2] for row in rows]
        a, b = ([c[0] for c in columns[:60]], [c[0] for c in columns[60:]])
        ma, mb = sum(a) / 60, sum(b) / 60
        r = sum((x - ma) * (y - mb) for x, y in zip(a, b)) / math.sqrt(sum((x - ma) ** 2 for x in a) * sum((y - mb) ** 2 for y in b))
        wanted = fit["correlation"][told[0]][told[1]]
        self.assertLess(abs(math.atanh(r) - math.atanh(wanted)), 3.5 / math.sqrt(57), (r, wanted)) # Fisher 1915
        sd = math.sqrt(sum((x - ma) ** 2 for x in a) / 59)
        self.assertTrue(0.7 < sd / fit["estimates"][told[0]]["spread"] < 1.35)

    def test_correlations_are_read_with_care(self):
        for line, words in (("valve.area with valve.aera = 0.5", "unknown key 'valve.area with valve.aera'"),
                            ("valve.area with valve.spring = 1.5", "a correlation of '1.5'"),
                            ("valve.area with valve.area = 1", "two parameters")):
            with open(self.path("van.ini"), "w", encoding="utf-8") as f:
                f.write(f"[correlation]\n{line}\n")
            self.assertIn(words, self.run_program("check", self.path("van.ini"), expect=3).stderr)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
