"""A machine of one's own: cylinders, faults and schedules that no table knows.

Usage: own_program.py PROGRAM SCENARIOS_FOLDER TEST_CLASS
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

PROGRAM, SCENARIOS = (os.path.abspath(p) for p in sys.argv[1:3])


class Case(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp(prefix="swh_")
        self.addCleanup(shutil.rmtree, self.folder)
        shutil.copy(os.path.join(SCENARIOS, "van-valve.ini"), self.path("van.ini"))

    def path(self, name):
        return os.path.join(self.folder, name)

    def write(self, name, text):
        with open(self.path(name), "w", encoding="utf-8") as f:
            f.write(text)

    def call(self, status, *command, words=()):
        done = subprocess.run([PROGRAM, *command], cwd=self.folder, capture_output=True, text=True, timeout=300)
        self.assertEqual(done.returncode, status, done.stderr)
        for w in words:
            self.assertIn(w, done.stderr)
        return done.stdout

    def run_story(self, *more, out="out", story="story.ini"):
        self.call(0, "run", story, "-o", out, "--plot", "none", "-q", *more)
        with open(self.path(f"{out}/summary.json"), encoding="utf-8") as f:
            return json.load(f)

    def series(self, out="out"):
        with open(self.path(f"{out}/series.csv"), encoding="utf-8") as f:
            return [{k.split("[")[0]: float(v) if v else math.nan for k, v in row.items()} for row in csv.DictReader(f)]

    def value(self, key, out="out"):
        """What the resolved case says."""
        section, name = key.split(".")
        with open(self.path(f"{out}/case.ini"), encoding="utf-8") as f:
            body = f.read().split(f"\n[{section}]\n")[1].split("\n[")[0]
        return next(line.split("=")[1].strip() for line in body.splitlines() if line.startswith(name + " ="))


class Cylinders(Case):
    STORY = "[conditions]\ndoors_open = 1\n[run]\nduration = 60 s\n"

    def setUp(self):
        super().setUp()
        self.write("story.ini", self.STORY)

    def swept(self):
        return float(self.value("compressor.displacement").split()[0])

    def test_displacement_is_computed(self):
        """Swept volume is bores x stroke x bore area: the definition."""
        for settings, n, bore, stroke in ((["compressor.cylinders=6"], 6, 31, 23.6), (["compressor.bore=30 mm"], 10, 30, 23.6),
                                          (["compressor.cylinders=14", "compressor.bore=26 mm", "compressor.stroke=20 mm"], 14, 26, 20)):
            self.run_story(*[w for s in settings for w in ("--set", s)])
            self.assertAlmostEqual(self.swept(), n * math.pi / 4 * bore**2 * stroke * 1e-9, delta=1e-12)

    def test_displacement_is_checked(self):
        self.call(2, "run", "story.ini", "-o", "x", "--set", "compressor.displacement=178 cm3", "--set", "compressor.bore=45 mm",
                  words=["10 cylinders of 45 mm bore and 23.6 mm stroke make 375.3 cm3", "the displacement is 178 cm3"])
        self.call(2, "run", "story.ini", "-o", "x", "--set", "compressor.cylinders=7", words=["7 cylinders", "an even number"])
        self.call(2, "run", "story.ini", "-o", "x", "--set", "compressor.model=ten_150", "--set", "compressor.cylinders=6", words=["the displacement is 150 cm3"])
        self.run_story("--set", "compressor.displacement=176 cm3", "--set", "compressor.bore=31 mm")
        self.assertAlmostEqual(self.swept(), 176e-6, delta=1e-18)

    def test_displacement_alone_stays_what_it_was(self):
        first = self.run_story("--set", "compressor.displacement=120 cm3")
        again = self.run_story(story="out/case.ini", out="again")
        self.assertEqual(first["final"], again["final"])
        self.assertAlmostEqual(self.swept(), 120e-6, delta=1e-18)

    def test_fewer_cylinders(self):
        """The same swept volume on six larger bores instead of ten: fewer shoes, each loaded by a larger piston."""
        ten = self.run_story("--set", "compressor.cylinders=10")
        bore = 31 * math.sqrt(10 / 6)
        six = self.run_story("--set", "compressor.cylinders=6", "--set", f"compressor.bore={bore:.6f} mm", out="six")
        self.assertAlmostEqual(ten["final"]["mass_flow"], six["final"]["mass_flow"], delta=0.02 * ten["final"]["mass_flow"])
        # leak past the pistons goes with the length of all rims, n pi d: less for fewer, larger bores
        self.assertAlmostEqual(six["final"]["blowby_share"] / ten["final"]["blowby_share"], 6 * bore / (10 * 31), delta=0.03)
        # viscous and contact terms that do not follow the gas load scale with the number of shoes
        self.assertLess(six["final"]["heat_shoe_friction"], ten["final"]["heat_shoe_friction"] * 1.02)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
