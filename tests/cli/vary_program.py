"""`run` with --vary, --overlay, --title, and what its pictures say: vary_program.py PROGRAM SCENARIOS TEST_CLASS."""
import csv
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import unittest

PROGRAM, SCENARIOS = (os.path.abspath(p) for p in sys.argv[1:3])


class Case(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp(prefix="swh_vary_")
        self.addCleanup(shutil.rmtree, self.folder)

    def call(self, name, *arguments):
        return subprocess.run([PROGRAM, "run", os.path.join(SCENARIOS, name), *arguments, "-o", self.folder], capture_output=True, text=True, timeout=300)

    def words(self, *path):
        with open(os.path.join(self.folder, *path), encoding="utf-8") as f:
            return re.sub(r"\s+", " ", " ".join(re.findall(r">([^<>]+)<", f.read())))


class Vary(Case):
    KEY = "fault.condenser_blocked.severity"

    def test_one_run_a_value(self):
        done = self.call("condenser_blocked.ini", "--vary", self.KEY + "=0,0.3,80 %", "--overlay", "--plot", "svg", "--title", "Blocked more and more", "-q")
        self.assertEqual((done.returncode, done.stderr), (0, ""))
        folders = sorted(n for n in os.listdir(self.folder) if os.path.isdir(os.path.join(self.folder, n)))
        self.assertEqual(folders, ["condenser_blocked-0", "condenser_blocked-0.3", "condenser_blocked-80-"])
        duty = []
        for name in folders:
            self.assertFalse([n for n in os.listdir(os.path.join(self.folder, name)) if n.endswith(".svg")])
            with open(os.path.join(self.folder, name, "summary.json"), encoding="utf-8") as f:
                duty.append(json.load(f)["peak"]["discharge_pressure"]["value"])
        self.assertLess(duty[1], duty[2])
        words = self.words("overlay.svg")
        self.assertIn("Blocked more and more", words)
        self.assertIn(" 0.3 ", words)

    def test_bad_values(self):
        for text, expected in (("x", "no values"), (self.KEY + "=", "missing"), (self.KEY + "=0,,1", "missing"), (self.KEY + "=" + ",".join("0" * 9), "too many"),
                               (self.KEY + "=0,0", "two runs named"), ("fault.fan_ded.severity=0,1", "nearest is 'fan_dead'"), (self.KEY + "=0,2", "out of range")):
            done = self.call("healthy.ini", "--vary", text, "-q")
            self.assertIn(done.returncode, (2, 3), text)
            self.assertIn(expected, done.stderr)
            self.assertEqual(os.listdir(self.folder), [])

    def test_title_of_one(self):
        self.call("healthy.ini", "--title", "A name of its own", "--plot", "svg", "--set", "run.duration=60 s", "-q")
        self.assertIn("A name of its own", self.words("pressures.svg"))


class Lines(Case):
    """With a cycling clutch a line is the mean with the clutch engaged: taken here from series.csv."""

    def engaged(self, channel, last):
        with open(os.path.join(self.folder, "series.csv"), encoding="utf-8") as f:
            rows = [{k.split("[")[0]: v for k, v in r.items()} for r in csv.DictReader(f)]
        end = float(rows[-1]["time"])
        values = [float(r[channel]) for r in rows if float(r["time"]) > end - last and float(r["clutch"]) > 0.5]
        return sum(values) / len(values)

    def test_starved_valve_pulls_the_low_side_down(self):
        self.call("valve_starved.ini", "--plot", "svg", "-q")
        gauge = self.engaged("suction_pressure", 300) / 1e5 - 1.01325
        words = self.words("pressures.svg")
        label = float(re.search(r"low side (-?[\d.]+) barg", words).group(1))
        self.assertAlmostEqual(label, gauge, delta=0.15)
        self.assertRegex(words, r"low side falls from [\d.]+ barg to " + f"{label:g}")

    def test_label_title_and_table_say_one_number(self):
        """The last minutes with the clutch engaged, in the table that is printed, at the line's end and in the title."""
        for story, low in (("condenser_blocked.ini", 0.15), ("valve_starved.ini", 0.15)):
            printed = self.call(story, "--plot", "svg").stdout
            words = self.words("pressures.svg")
            for channel, label, title, delta in (("discharge_pressure", "high side", "Head", 0.4), ("suction_pressure", "low side", "low side", low)):
                told = re.search(rf"^  {channel} .* (-?[\d.]+) barg$", printed, re.M).group(1)
                with self.subTest(story=story, channel=channel):
                    self.assertEqual(float(re.search(rf"{label} (-?[\d.]+) barg", words).group(1)), float(told))
                    self.assertRegex(words, rf"{title} \w+ from [\d.]+ barg to {told} barg")
                    self.assertAlmostEqual(float(told), self.engaged(channel, 330) / 1e5 - 1.01325, delta=delta)

    def test_title_says_what_happened(self):
        self.call("condenser_blocked.ini", "--plot", "svg", "-q")
        words = self.words("pressures.svg")
        self.assertRegex(words, r"Head climbs from 1[0-9.]+ barg to 2[0-9.]+ barg; .*high-pressure switch opens \d+ times")
        head = self.engaged("discharge_pressure", 300) / 1e5 - 1.01325
        self.assertAlmostEqual(float(re.search(r"high side ([\d.]+) barg", words).group(1)), head, delta=0.6)
        self.assertIn("before the fault", self.words("pressure_enthalpy.svg"))

    def test_story_has_its_own_axis(self):
        """Of a leak that goes on for seven of eight hours: per cent lost, from 0 at half an hour on."""
        self.call("slow_leak.ini", "--plot", "svg", "-q")
        words = self.words("pressures.svg")
        self.assertIn("0 10 20 30 40 50 60 70 80 % of the charge missing", words)
        self.assertNotIn("% of the charge missing", self.call("valve_starved.ini", "--plot", "svg", "-q") and self.words("pressures.svg"))

    def test_cycle_beside_a_healthy_one(self):
        """A fault from the start is compared with a sound machine, run for it; corners have their temperatures."""
        self.call("undercharge.ini", "--plot", "svg", "-q")
        words = self.words("pressure_enthalpy.svg")
        self.assertRegex(words, r"healthy: gas \d+ °C")
        self.assertRegex(words, r"end, [\d.]+ min: gas \d+ °C")
        for corner in ("liquid", "suction", "evaporates at"):
            self.assertRegex(words, corner + r" -?\d+ °C")
        self.assertRegex(words, r"Condensing (climbs|falls|stays)")

    def test_titles_say_what_happened_inside(self):
        self.call("burst_hose.ini", "--plot", "svg", "-q")
        self.assertRegex(self.words("heat_ledger.svg"), r"Shoe friction climbs from \d+ to \d+ W; \d+ % of the heat stays in the metal")
        self.call("slow_leak.ini", "--plot", "svg", "-q")
        self.assertRegex(self.words("charge.svg"), r"Receiver and liquid line empty from 0.4\d+ kg to 0.0\d+ kg; 80 % of the charge of 0.8\d kg was lost")

    def test_slide(self):
        """One picture of 1920 x 1080, its letters at least 3 % of its height, no line told after the weld."""
        self.call("burst_hose.ini", "--plot", "svg", "--plot-style", "slide", "-q")
        self.assertEqual([n for n in os.listdir(self.folder) if n.endswith(".svg")], ["slide.svg"])
        with open(os.path.join(self.folder, "slide.svg"), encoding="utf-8") as f:
            svg = f.read()
        width, height = (float(x) for x in re.search(r'viewBox="0 0 (\d+) (\d+)"', svg).groups())
        self.assertAlmostEqual(width / height, 16 / 9, delta=0.01)
        sizes = [float(x) for x in re.findall(r'font-size="([\d.]+)"', svg)]
        self.assertGreater(min(sizes), 0.029 * height)
        words = self.words("slide.svg")
        self.assertRegex(words, r"A shoe welds to the swash plate after")
        self.assertGreater(float(re.search(r"high side ([\d.]+) barg", words).group(1)), 12)

    def test_survivors_have_their_own_scale(self):
        self.call("healthy.ini", "--plot", "svg", "-q")
        self.assertNotIn("bare metal welds", self.words("body_temperatures.svg"))
        self.assertIn("A clear oil film throughout", self.words("film_oil.svg"))

    def test_a_weld_is_told_until_the_weld(self):
        self.call("undercharge.ini", "--plot", "svg", "-q")
        self.assertIn("bare metal welds", self.words("body_temperatures.svg"))
        self.assertNotIn("low side climbs", self.words("pressures.svg"))


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
