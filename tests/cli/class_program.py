"""`exercise` and `grade` as trainer and student use them: class_program.py PROGRAM SCENARIOS TEST_CLASS."""
import csv
import json
import os
import shutil
import subprocess
import sys
import tempfile
import unittest

PROGRAM, SCENARIOS = (os.path.abspath(p) for p in sys.argv[1:3])
VEHICLE = os.path.join(SCENARIOS, "vehicle-logs.ini")


def call(*arguments, cwd=None):
    return subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, timeout=600, cwd=cwd)


class Set(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.mkdtemp(prefix="swh_class_")
        cls.class7 = os.path.join(cls.folder, "seven")
        done = call("exercise", "--vehicle", VEHICLE, "--seed", "7", "-o", cls.class7)
        assert done.returncode == 0, done.stderr
        with open(os.path.join(cls.class7, "answers", "answers.json"), encoding="utf-8") as f:
            cls.answers = json.load(f)

    @classmethod
    def tearDownClass(cls):
        shutil.rmtree(cls.folder)

    def grade(self, car, cause, *more):
        done = call("grade", os.path.join(self.class7, car), "--cause", cause, "--json", *more)
        self.assertEqual(done.returncode, 0, done.stderr)
        return json.loads(done.stdout)

    def test_ten_cars_of_different_causes(self):
        self.assertEqual(sorted(self.answers), [f"car{i:02d}" for i in range(1, 11)])
        self.assertEqual(len({a["fault"] for a in self.answers.values()}), 10)
        for car in self.answers:
            self.assertEqual(sorted(os.listdir(os.path.join(self.class7, car))), ["complaint.txt", "log.csv", "sheet.csv", "vehicle.ini"])

    def test_files_are_good(self):
        for car in ("car01", "car05"):
            for name in ("log.csv", "sheet.csv"):
                done = call("check", os.path.join(self.class7, car, name))
                self.assertEqual(done.returncode, 0, done.stderr)
                self.assertIn(": good.", done.stdout)

    def test_no_answer_among_the_cars(self):
        for car, answer in self.answers.items():
            for name in ("complaint.txt", "log.csv", "sheet.csv"):
                with open(os.path.join(self.class7, car, name), encoding="utf-8") as f:
                    text = f.read()
                self.assertNotIn(answer["fault"], text)
                self.assertNotIn(answer["fault"].replace("_", " "), text)

    def test_a_seed_is_a_class(self):
        again, other = (os.path.join(self.folder, n) for n in ("again", "eight"))
        for seed, folder in (("7", again), ("8", other)):
            self.assertEqual(call("exercise", "--vehicle", VEHICLE, "--seed", seed, "-o", folder, "-q").returncode, 0)
        for car in self.answers:
            with open(os.path.join(self.class7, car, "log.csv"), "rb") as a, open(os.path.join(again, car, "log.csv"), "rb") as b:
                self.assertEqual(a.read(), b.read())
        with open(os.path.join(other, "answers", "answers.json"), encoding="utf-8") as f:
            self.assertNotEqual({c: a["fault"] for c, a in json.load(f).items()}, {c: a["fault"] for c, a in self.answers.items()})

    def test_instruments_err(self):
        """Two cars of one story differ in their readings by what instruments do: a constant error and noise."""
        story = os.path.join(SCENARIOS, "condenser_blocked.ini")
        rows = []
        for seed in ("1", "2"):
            folder = os.path.join(self.folder, "story" + seed)
            self.assertEqual(call("exercise", story, "--seed", seed, "--units", "trade", "-o", folder, "-q").returncode, 0)
            self.assertEqual([n for n in os.listdir(folder) if n.startswith("car")], ["car01"])
            with open(os.path.join(folder, "car01", "log.csv"), encoding="utf-8") as f:
                rows.append(list(csv.DictReader(f)))
        self.assertIn("discharge_pressure[psig]", rows[0][0])
        ambient = [float(r["ambient_temperature[degF]"]) for r in rows[0]]
        mean = sum(ambient) / len(ambient)
        spread = (sum((x - mean) ** 2 for x in ambient) / len(ambient)) ** 0.5
        self.assertTrue(0.15 < spread < 0.8, spread)  # 0.2 K of noise in degF, with a resolution of 0.1 K

    def test_right(self):
        for car, answer in self.answers.items():
            graded = self.grade(car, answer["fault"], "--severity", str(answer["severity"]))
            self.assertEqual((graded["grade"], graded["points"], graded["severity_right"]), ("right", 1, True))
        far = self.grade("car01", self.answers["car01"]["fault"], "--severity", "100 %" if self.answers["car01"]["severity"] < 0.5 else "0")
        self.assertFalse(far["severity_right"])

    def story(self, name):
        """The folder of one car with the fault of a shipped scenario."""
        folder = os.path.join(self.folder, "one_" + name)
        done = call("exercise", os.path.join(SCENARIOS, name + ".ini"), "--vehicle", VEHICLE, "--seed", "3", "-o", folder, "-q")
        self.assertEqual(done.returncode, 0, done.stderr)
        return os.path.join(folder, "car01")

    def grade_story(self, name, cause):
        done = call("grade", self.story(name), "--cause", cause, "--json")
        self.assertEqual(done.returncode, 0, done.stderr)
        return json.loads(done.stdout)

    def test_reads_alike(self):
        """At standstill a dead fan is a blocked condenser: half a point, and another test than those of the class tells them apart."""
        graded = self.grade_story("condenser_blocked", "fan_dead")
        self.assertEqual((graded["fault"], graded["grade"], graded["points"]), ("condenser_blocked", "reads_alike", 0.5))
        self.assertLess(graded["deviations"], 3)
        if graded["would_have_told"]:
            self.assertNotIn(graded["would_have_told"]["test"], ("idle", "fast_idle", "high_idle"))

    def test_wrong(self):
        graded = self.grade_story("undercharge", "overcharge")
        self.assertEqual((graded["fault"], graded["grade"], graded["points"]), ("undercharge", "wrong", 0))
        self.assertGreater(graded["deviations"], 3)
        self.assertTrue(graded["would_have_told"])
        words = call("grade", self.story("undercharge"), "--cause", "overcharge", "--units", "trade").stdout
        self.assertIn("What would have told", words)
        self.assertNotIn("degC", words)

    def test_bad_input(self):
        car = os.path.join(self.class7, "car01")
        for status, words, arguments in (
            (2, "no cause to grade", ("grade", car)), (2, "'undercharge'", ("grade", car, "--cause", "undercharg")),
            (2, "a severity", ("grade", car, "--cause", "healthy", "--severity", "-0.1")), (2, "a severity", ("grade", car, "--cause", "healthy", "--severity", "2")),
            (3, "no answer", ("grade", self.folder, "--cause", "healthy")), (3, "swashheat: /nowhere: there is no such folder", ("grade", "/nowhere", "--cause", "healthy")),
            (3, "swashheat: class/car01: there is no such folder", ("grade", "class/car01/", "--cause", "healthy")), (3, "no answer for this car", ("grade", os.path.join(self.class7, "answers"), "--cause", "healthy")),
            (2, "a whole number", ("exercise", "--seed", "x")), (3, "No such file", ("exercise", "nothing.ini"))):
            done = call(*arguments, cwd=self.folder)
            self.assertEqual(done.returncode, status, done.stderr)
            self.assertIn(words, done.stderr)
            self.assertEqual(done.stdout, "")


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
