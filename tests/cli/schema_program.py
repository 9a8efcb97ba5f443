"""Every JSON that the program writes against its schema (cli/base/results.schema.json), and figures of studies against their own tables.

Usage: schema_program.py PROGRAM SCENARIOS_FOLDER TEST_CLASS
"""
import csv
import json
import math
import os
import shutil
import subprocess
import sys
import tempfile
import unittest

try:
    import jsonschema # the reference reader of schemas; Debian python3-jsonschema or PyPI
except ImportError:
    jsonschema = None

PROGRAM, SCENARIOS = (os.path.abspath(p) for p in sys.argv[1:3])
with open(os.path.join(SCENARIOS, "..", "cli", "base", "results.schema.json"), encoding="utf-8") as schema_file:
    SCHEMA = json.load(schema_file)


class Case(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp(prefix="swh_")
        self.addCleanup(shutil.rmtree, self.folder)

    def ok(self, *command):
        done = subprocess.run([PROGRAM, *command], cwd=SCENARIOS, capture_output=True, text=True, timeout=600)
        self.assertIn(done.returncode, (0, 1), done.stderr)
        return done.stdout

    def rows(self, name):
        with open(os.path.join(self.folder, name), encoding="utf-8") as f:
            return [{k.split("[")[0]: v for k, v in row.items()} for row in csv.DictReader(f)]

    def json(self, name):
        with open(os.path.join(self.folder, name), encoding="utf-8") as f:
            return json.load(f)


@unittest.skipUnless(jsonschema, "no jsonschema here")
class Schema(Case):
    def judge(self, kind, instance):
        jsonschema.Draft202012Validator({**SCHEMA, "$ref": f"#/$defs/{kind}"}).validate(instance)

    def written(self, kind, *command):
        told = json.loads(self.ok(*command, "--json", "-o", self.folder, "--plot", "none"))
        self.judge(kind, told)
        for name in os.listdir(self.folder):
            if name.endswith(".json"):
                self.judge("provenance" if name == "provenance.json" else kind, self.json(name))
        return told

    def test_the_schema_is_one(self):
        jsonschema.Draft202012Validator.check_schema(SCHEMA)

    def test_it_refuses(self):
        told = self.written("summary", "run", "healthy.ini", "--set", "run.duration=30 s")
        for spoil in ({"outcome": "melted"}, {"duty": 1.1}, {"end_time_s": "30"}, {"final": {"vent_temperature": "18 degC"}},
                      {"peak": {"vent_temperature": {"value": 290, "unit": "degC", "time_s": 1}}}):
            with self.assertRaises(jsonschema.ValidationError):
                self.judge("summary", {**told, **spoil})

    def test_run_and_replay(self):
        self.written("summary", "run", "undercharge.ini", "--set", "run.duration=100 s")
        self.written("summary", "replay", "logs/bay-healthy.csv", "--vehicle", "vehicle-logs.ini")

    def test_ensemble(self):
        self.written("ensemble", "run", "healthy.ini", "--set", "run.duration=60 s", "--set", "compressor.clearance=14 um +- 1 um", "--ensemble", "4")

    def test_sweep(self):
        self.written("sweep", "sweep", "healthy.ini", "--set", "run.duration=30 s", "--vary", "charge.fraction=0.5..1:3")

    def test_margin(self):
        self.written("margin", "margin", "healthy.ini", "--fault", "condenser_blocked")

    def test_fit(self):
        self.written("fit", "fit", "logs/bay-healthy.csv", "--vehicle", "vehicle-logs.ini", "--free", "body.block_shell")

    def test_rank(self):
        self.written("rank", "rank", "logs/bay-short-of-charge.csv", "--vehicle", "vehicle-logs.ini")

    def test_accept(self):
        self.written("accept", "accept", "logs/bay-healthy.csv", "--vehicle", "vehicle-logs.ini")

    def test_plan(self):
        self.written("plan", "plan", "--vehicle", "vehicle-logs.ini")

    def test_expect(self):
        told = self.written("expect", "expect", "--vehicle", "vehicle-logs.ini", "--at", "1500,2500", "--cause", "undercharge")
        row = told["points"][0]["rows"][1]
        for spoil in ({"severity": 1.2}, {"outcome": "dies"}, {"readings": {"vent_temperature": 12}}, {"against_healthy": {"superheat": "more"}}):
            point = {**told["points"][0], "rows": [{**row, **spoil}]}
            with self.assertRaises(jsonschema.ValidationError):
                self.judge("expect", {**told, "points": [point]})

    def test_live(self):
        """A log that comes in on the standard input ends in the same JSON as one from a file."""
        with open(os.path.join(SCENARIOS, "logs", "bay-short-of-charge.csv"), encoding="utf-8") as f:
            log = f.read()
        for kind, command in (("summary", "replay"), ("rank", "rank")):
            done = subprocess.run([PROGRAM, command, "-", "--vehicle", "vehicle-logs.ini", "--json", "--plot", "none", "-o", self.folder],
                                  cwd=SCENARIOS, capture_output=True, text=True, input=log, timeout=600)
            self.assertEqual(done.returncode, 0, done.stderr)
            self.judge(kind, json.loads(done.stdout))

    def test_exercise_and_grade(self):
        told = json.loads(self.ok("exercise", "condenser_blocked.ini", "--seed", "3", "--json", "-o", self.folder))
        self.judge("exercise", told)
        self.judge("exercise", self.json("answers/answers.json"))
        with self.assertRaises(jsonschema.ValidationError):
            self.judge("exercise", {"car01": {**told["car01"], "answer": "on the back"}})
        car = os.path.join(self.folder, "car01")
        marks = {}
        for cause, grade in (("condenser_blocked", "right"), ("undercharge", "wrong")):
            marks[grade] = json.loads(self.ok("grade", car, "--cause", cause, "--severity", "0.5", "--json"))
            self.judge("grade", marks[grade])
            self.assertEqual(marks[grade]["grade"], grade)
        del marks["wrong"]["reading"] # whoever is wrong is told what would have told
        for spoilt in (marks["wrong"], {**marks["right"], "points": 2}):
            with self.assertRaises(jsonschema.ValidationError):
                self.judge("grade", spoilt)

    def test_state(self):
        self.judge("state", json.loads(self.ok("state", "R134a", "pressure=3barg", "temperature=10degC", "--json")))

    def test_lists(self):
        for what in ("faults", "findings", "channels", "parameters", "choices", "inputs", "events", "refrigerants", "oils", "compressors"):
            self.judge("list", json.loads(self.ok("list", what, "--json")))
        bore = next(p for p in json.loads(self.ok("list", "parameters", "--json", "--units", "trade")) if p["parameter"] == "compressor.bore")
        self.assertEqual(bore["default"], {"value": 0.031, "unit": "m"})
        # critical point of R-134a, Tillner-Roth and Baehr 1994: 374.21 K, 4.05928 MPa
        fluid = next(r for r in json.loads(self.ok("list", "refrigerants", "--json")) if r["refrigerant"] == "R134a")
        self.assertAlmostEqual(fluid["critical temperature"]["value"], 374.21, delta=0.01)
        self.assertAlmostEqual(fluid["critical pressure"]["value"], 4.05928e6, delta=200)


def ranks(values):
    order = sorted(range(len(values)), key=lambda i: values[i])
    out = [0.0] * len(values)
    for place, i in enumerate(order):
        out[i] = float(place)
    return out


def correlation(a, b):
    ma, mb = sum(a) / len(a), sum(b) / len(b)
    ab = sum((x - ma) * (y - mb) for x, y in zip(a, b))
    return ab / math.sqrt(sum((x - ma) ** 2 for x in a) * sum((y - mb) ** 2 for y in b))


class Studies(Case):
    def test_partial_rank_correlations(self):
        """Two inputs: the partial correlation in terms of the three plain ones (Yule 1907; in any textbook of statistics)."""
        screen = self.ok("sweep", "healthy.ini", "--set", "run.duration=100 s", "--vary", "friction.bearing_torque=0.1..1 N m",
                         "--vary", "conditions.ambient_temperature=28..31 degC", "--sample", "24", "-o", self.folder, "--plot", "none")
        told = self.json("sweep.json")["sensitivities"]
        rows = self.rows("cases.csv")
        x, z, y = (ranks([float(r[k]) for r in rows]) for k in ("friction.bearing_torque", "conditions.ambient_temperature", "peak_rotor_temperature"))
        for a, b, key in ((x, z, "friction.bearing_torque"), (z, x, "conditions.ambient_temperature")):
            ay, by, ab = correlation(a, y), correlation(b, y), correlation(a, b)
            partial = (ay - by * ab) / math.sqrt((1 - by**2) * (1 - ab**2))
            self.assertAlmostEqual(told[key]["rank_correlation"], ay, places=9)
            self.assertAlmostEqual(told[key]["partial_rank_correlation"], partial, places=9)
            self.assertIn(f"rank correlation {ay:+.2f}, {partial:+.2f} with the others held", screen)
            self.assertGreater(partial, 0.5) # more friction, more heat; hotter air, hotter rotor

    def test_sobol_design_is_told(self):
        screen = self.ok("sweep", "healthy.ini", "--set", "run.duration=30 s", "--vary", "friction.bearing_torque=0.1..1 N m",
                         "--vary", "conditions.ambient_temperature=28..31 degC", "--sample", "8", "--sobol", "-o", self.folder, "--plot", "none")
        rows = self.rows("cases.csv")
        keys = ["friction.bearing_torque", "conditions.ambient_temperature"]
        self.assertEqual(len(rows), 8 * 4)
        for point in range(1, 9):
            a, b, *mixed = [r for r in rows if r["point"] == str(point)]
            self.assertEqual((a["matrix"], b["matrix"]), ("A", "B"))
            for key, row in zip(keys, mixed):
                self.assertEqual(row["matrix"], f"A with {key} of B")
                for k in keys:
                    self.assertEqual(row[k], (b if k == key else a)[k])
        told = self.json("sweep.json")["sensitivities"][keys[1]]
        self.assertIn(f"{told['sobol_total']:.2f} +- {told['sobol_total_error']:.2f} in all", screen)
        self.assertNotIn("-0.00", screen)

    def test_members(self):
        """The table of members holds what the ensemble says, and what was drawn for it runs the same by itself."""
        settings = ["--set", "run.duration=200 s", "--set", "friction.film_scale=1.1 +- 0.3", "--set", "compressor.clearance=14 um +- 2 um"]
        self.ok("run", "healthy.ini", *settings, "--set", "oil.total=0.004 kg", "--ensemble", "12", "--seed", "3", "-o", self.folder, "--plot", "none")
        rows, told = self.rows("members.csv"), self.json("ensemble.json")
        self.assertEqual(len(rows), 12)
        self.assertEqual(sum("seized" in r["outcome"] for r in rows), told["seized"])
        self.assertEqual(sorted(told["drawn"]), ["compressor.clearance", "friction.film_scale"])
        self.assertGreater(len({r["friction.film_scale"] for r in rows}), 11)
        one = rows[4]
        self.ok("run", "healthy.ini", *settings, "--set", "oil.total=0.004 kg", "--set", f"friction.film_scale={one['friction.film_scale']}",
                "--set", f"compressor.clearance={one['compressor.clearance']} m", "-o", os.path.join(self.folder, "one"), "--plot", "none",
                "--set", "controls.after_seizure=stop")
        alone = self.json("one/summary.json")
        self.assertEqual(alone["outcome"], one["outcome"])
        self.assertAlmostEqual(alone["end_time_s"], float(one["end_time"]), delta=0.05)
        self.assertAlmostEqual(alone["peak"]["discharge_pressure"]["value"], float(one["peak_discharge_pressure"]), delta=2000)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
