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
        where = {"log": self.path("log.csv"), "vehicle": os.path.join(SCENARIOS, "van-valve.ini")}
        done, _ = self.fit(*arguments, "--starts", "1", expect=3, **where)
        self.assertIn("the model does not follow these readings", done.stderr)
        done, fit = self.fit(*arguments, **where)
        estimate = fit["estimates"]["charge.fraction"]
        self.assertEqual(fit["starts"], 4)
        self.assertTrue(estimate["low"] < 0.5 < estimate["high"] and 0.49 < estimate["value"] < 0.51, done.stdout)
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

    def test_an_ensemble_draws_from_fit_json(self):
        """--from fit.json on another vehicle file draws what the fitted file draws."""
        self.fit(self.FREE)
        arguments = ("run", os.path.join(SCENARIOS, "healthy.ini"), "--ensemble", "5", "--set", "run.duration=5 s", "--plot", "none", "-q")
        self.run_program(*arguments, "--vehicle", VEHICLE, "--from", self.path("out/fit.json"), "-o", self.path("json"))
        self.run_program(*arguments, "--vehicle", self.path("out/vehicle.ini"), "-o", self.path("ini"))
        tables = []
        for name in ("json", "ini"):
            with open(self.path(f"{name}/members.csv"), encoding="utf-8") as f:
                tables.append(list(csv.DictReader(f)))
        for one, other in zip(*tables):
            self.assertEqual(one.keys(), other.keys())
            for head in list(one)[1:3]: # vehicle.ini has six digits
                self.assertAlmostEqual(float(one[head]) / float(other[head]), 1, delta=2e-4, msg=head)
        self.assertIn("--from without --ensemble", self.run_program(*arguments[:2], "--from", self.path("out/fit.json"), expect=2).stderr)
        with open(self.path("no.json"), "w", encoding="utf-8") as f:
            f.write('{"estimates": {"valve.aera": {"value": 1, "unit": "m2"}}}')
        self.assertIn("valve.aera: no such parameter", self.run_program(*arguments, "--from", self.path("no.json"), expect=3).stderr)

    def test_correlations_are_read_with_care(self):
        for line, words in (("valve.area with valve.aera = 0.5", "unknown key 'valve.area with valve.aera'"),
                            ("valve.area with valve.spring = 1.5", "a correlation of '1.5'"),
                            ("valve.area with valve.area = 1", "two parameters")):
            with open(self.path("van.ini"), "w", encoding="utf-8") as f:
                f.write(f"[correlation]\n{line}\n")
            self.assertIn(words, self.run_program("check", self.path("van.ini"), expect=3).stderr)


class Logs(Case):
    """Logs with gaps, a slow clock, a wrong unit or a probe that stays where it is."""

    FREE = "compressor.indicated_efficiency,compressor.ua_discharge_heads"

    def spoiled(self, name, head=lambda text: text, row=lambda t, cells, heads: cells):
        """The healthy bay log with its head and rows changed; None: no row."""
        with open(LOG, encoding="utf-8-sig") as f:
            heads, *rows = list(csv.reader(f))
        with open(self.path(name), "w", encoding="utf-8") as f:
            print(head(",".join(heads)), file=f)
            for cells in rows:
                kept = row(float(cells[0]), list(cells), [h.split("[")[0] for h in heads])
                if kept:
                    print(",".join(kept), file=f)
        return self.path(name)

    def test_gaps_are_listed_and_no_straight_lines(self):
        """Gaps over all three changes of speed move a conductance by a hundredth; straight lines moved it by a twelfth."""
        gaps = ((360, 470), (700, 810), (1060, 1200))
        log = self.spoiled("gaps.csv", row=lambda t, cells, heads: None if any(a < t < b for a, b in gaps) else cells)
        done = self.run_program("check", log, "--vehicle", VEHICLE)
        self.assertRegex(done.stdout, r"the log has gaps: 11\d s after 3(59|60) s, 11\d s after (699|700) s, 14\d s after 10(59|60) s")
        key = "compressor.ua_discharge_heads"
        with_gaps, whole = (self.fit(self.FREE, log=one)[1]["estimates"] for one in (log, LOG))
        self.assertLess(abs(math.log(with_gaps[key]["value"] / whole[key]["value"])), 0.04)

    def test_a_wrong_unit_is_refused(self):
        for head, words in ((lambda text: text.replace("temperature[degC]", "temperature[degF]"), "colder than the refrigerant in it can be"),
                            (lambda text: text.replace("pressure[barg]", "pressure[psig]"), "these readings cannot be fitted")):
            done, _ = self.fit(self.FREE, log=self.spoiled("unit.csv", head=head), expect=3)
            self.assertIn(words, done.stderr)
            self.assertFalse(os.path.exists(self.path("out/vehicle.ini")))

    def test_a_probe_that_stays(self):
        def stuck(channel):
            last = {}

            def row(t, cells, heads):
                k = heads.index(channel)
                if t > 400 and cells[k]:
                    cells[k] = last.setdefault(k, cells[k])
                return cells
            return row
        done, fit = self.fit(self.FREE, log=self.spoiled("discharge.csv", row=stuck("discharge_temperature")))
        self.assertRegex(done.stdout, r"discharge_temperature stays where it is, to the last digit, from 40\d s to \d+ s: left out there")
        self.assertLess(fit["channels"]["discharge_temperature"]["points"], 20) # of 39
        done, _ = self.fit(self.FREE, log=self.spoiled("suction.csv", row=stuck("suction_pressure")), expect=3)
        self.assertIn("suction_pressure stays where it is", done.stderr)
        self.assertRegex(self.run_program("check", self.path("suction.csv")).stdout, r"suction_pressure stays where it is, to the last digit, from 40\d s")

    def test_check_says_what_cannot_be(self):
        log = self.spoiled("unit.csv", head=lambda text: text.replace("temperature[degC]", "temperature[degF]"))
        self.assertIn("colder than the refrigerant in it can be", self.run_program("check", log).stdout)
        self.assertNotIn("colder", self.run_program("check", LOG).stdout)

    def test_a_clock_too_slow_for_the_clutch(self):
        log = self.spoiled("slow.csv", row=lambda t, cells, heads: (
            cells[:heads.index("clutch")] + [str(int(t // 10 % 2))] if t % 10 == 0 else None))
        done, _ = self.fit(self.FREE, log=log, expect=3)
        self.assertRegex(done.stderr, r"the clutch stays in for \d+ s at a time and there is a row every 10 s")

    def test_what_does_not_fit_says_so(self):
        """Another machine's log: no vehicle file, and the answer in kelvins against the instruments."""
        def hot(t, cells, heads):
            k = heads.index("discharge_temperature")
            if cells[k]:
                cells[k] = f"{float(cells[k]) + 15 + t % 40:.1f}"
            return cells
        done, _ = self.fit("body.block_shell", log=self.spoiled("hot.csv", row=hot), expect=3)
        self.assertRegex(done.stderr, r"discharge_temperature is off by [\d.]+ K, [\d.]+ times what instruments and a sound model leave \(4\.1 K\)")
        self.assertFalse(os.path.exists(self.path("out/vehicle.ini")))
        with open(self.path("out/fit.json"), encoding="utf-8") as f:
            fit = json.load(f)
        self.assertFalse(fit["fits"])
        self.assertFalse(fit["estimates"]["body.block_shell"]["identified"])
        done, fit = self.fit("body.block_shell", "--keep-unknown", log=self.path("hot.csv"))
        self.assertTrue(os.path.exists(self.path("out/vehicle.ini")))


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
