"""Results that can be repeated: every folder holds the case whole and where it comes from; computed again from the folder alone it is the same to the
last bit.

Usage: repeat_program.py PROGRAM SCENARIOS_FOLDER TEST_CLASS
"""
import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
import unittest

PROGRAM, SCENARIOS = (os.path.abspath(p) for p in sys.argv[1:3])
# what names files and folders, which are others the second time; remarks on who set what
NAMES = {"scenario", "vehicle", "name", "log", "logs", "folder", "notes", "file", "stem", "title"}


def without_names(x):
    if isinstance(x, dict):
        return {k: without_names(v) for k, v in x.items() if k not in NAMES}
    return [without_names(v) for v in x] if isinstance(x, list) else x


class Case(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp(prefix="swh_")
        self.addCleanup(shutil.rmtree, self.folder)
        self.work = os.path.join(self.folder, "work")
        shutil.copytree(SCENARIOS, self.work)

    def run_in(self, folder, *command):
        done = subprocess.run([PROGRAM, *command], cwd=folder, capture_output=True, text=True, timeout=600)
        self.assertIn(done.returncode, (0, 1), f"{command}\n{done.stderr}")
        return done

    def compute(self, *command):
        """The command's folder, moved away from the files that it was made from."""
        self.run_in(self.work, *command, "-o", os.path.join(self.work, "out"), "--plot", "none", "-q")
        first = os.path.join(self.folder, "first")
        shutil.move(os.path.join(self.work, "out"), first)
        return first

    def provenance(self, folder):
        with open(os.path.join(folder, "provenance.json"), encoding="utf-8") as f:
            return json.load(f)

    def settings(self, folder, name, leave_out=""):
        """Lines of an INI file that set something; not its title, nor a section to be left out."""
        with open(os.path.join(folder, name), encoding="utf-8") as f:
            sections = f.read().split("\n[")
        return [line for section in sections for line in section.splitlines()
                if not (leave_out and section.startswith(leave_out)) and line.strip() and not line.startswith(("#", "title"))]

    def check(self, *command):
        first = self.compute(*command)
        shutil.rmtree(self.work)
        second = os.path.join(self.folder, "second")
        said = self.provenance(first)
        self.assertEqual(said["repeat"][0], "swashheat")
        self.run_in(first, *said["repeat"][1:], "-o", second)
        files = sorted(os.listdir(first))
        self.assertEqual(files, sorted(os.listdir(second)))
        compared = 0
        for name in files:
            with open(os.path.join(first, name), "rb") as a, open(os.path.join(second, name), "rb") as b:
                one, two = a.read(), b.read()
            if name in ("provenance.json", "case.ini"):
                continue
            if name == "vehicle.ini": # of a fit: names its files, and which conditions had been set
                one, two = (self.settings(d, name, "conditions") for d in (first, second))
            if name.endswith(".json"):
                one, two = without_names(json.loads(one)), without_names(json.loads(two))
            self.assertEqual(one, two, name)
            compared += 1
        self.assertGreaterEqual(compared, 2 if len(files) > 3 else 1)
        # and the case is what it was, but for its title
        self.assertEqual(self.settings(first, "case.ini"), self.settings(second, "case.ini"))
        return first, said


class Run(Case):
    def test_schedule_and_fault_in_time(self):
        with open(os.path.join(self.work, "story.ini"), "w", encoding="utf-8") as f:
            f.write("[scenario]\nvehicle = van-orifice.ini\nschedule = summer_drive.csv\ntitle = A story; with a remark\n"
                    "[fault undercharge]\nseverity = 0.3\nstart = 2 min\nramp = 100 s\nend = 20 min\n"
                    "[compressor]\nclearance = 13.7 um +- 1.3 um\n[controls]\nhigh_open = 397.3 psig\n[run]\nduration = 25 min\n"
                    "[cabin]\nstart_temperature = 117.3 degF\n")
        first, said = self.check("run", "story.ini", "--set", "conditions.sun=813.7 W/m2")
        self.assertEqual([i["role"] for i in said["inputs"]], ["scenario", "vehicle", "schedule"])
        self.assertIn("case-schedule.csv", os.listdir(first))
        self.assertIsNone(said["seed"])

    def test_prescribed_pressures(self):
        with open(os.path.join(self.work, "drive.csv"), "w", encoding="utf-8") as f:
            f.write("time[s],suction_pressure[barg],discharge_pressure[psig],suction_temperature[degF],ambient_pressure[mbar],clutch[1]\n"
                    + "".join(f"{t},{2.1 + 0.013 * (t % 7)},{213.7 + 0.7 * (t % 5)},{61.3 + 0.1 * (t % 3)},{1003.7 - t / 97},1\n" for t in range(0, 301, 10)))
        with open(os.path.join(self.work, "ports.ini"), "w", encoding="utf-8") as f:
            f.write("[scenario]\nvehicle = van-valve.ini\nschedule = drive.csv\n[vehicle]\ncircuit = ports\n[run]\nduration = 5 min\n")
        self.check("run", "ports.ini")

    def test_other_refrigerant_and_seizure(self):
        self.check("run", "healthy.ini", "--set", "vehicle.refrigerant=R1234yf", "--set", "oil.total=0.003 kg", "--set", "conditions.compressor_speed=3600 rpm")

    def test_several(self):
        self.run_in(self.work, "run", "healthy.ini", "undercharge.ini", "-o", "both", "--plot", "none", "-q", "--set", "run.duration=100 s")
        for name in ("healthy", "undercharge"):
            folder = os.path.join(self.work, "both", name)
            said = self.provenance(folder)
            self.assertEqual(said["repeat"][:3], ["swashheat", "run", "case.ini"])
            self.run_in(folder, *said["repeat"][1:], "-o", "again")
            with open(os.path.join(folder, "series.csv"), "rb") as a, open(os.path.join(folder, "again", "series.csv"), "rb") as b:
                self.assertEqual(a.read(), b.read())

    def test_ensemble(self):
        first, said = self.check("run", "healthy.ini", "--set", "compressor.clearance=14 um +- 2 um", "--set", "friction.film_scale=1.35 +- 0.2",
                                 "--set", "run.duration=200 s", "--ensemble", "6", "--seed", "11")
        self.assertEqual(said["seed"], 11)


class Study(Case):
    def test_sample(self):
        _, said = self.check("sweep", "healthy.ini", "--set", "run.duration=60 s", "--vary", "friction.film_scale=0.8..1.2",
                             "--vary", "conditions.ambient_temperature=20..45 degC", "--sample", "12")
        self.assertEqual(said["seed"], 1)

    def test_margin(self):
        self.check("margin", "healthy.ini", "--fault", "condenser_blocked")


class Logs(Case):
    LOG = "logs/bay-short-of-charge.csv"

    def test_replay(self):
        first, said = self.check("replay", self.LOG, "--vehicle", "vehicle-logs.ini")
        log = said["inputs"][0]
        with open(os.path.join(SCENARIOS, self.LOG), "rb") as f:
            text = f.read()
        self.assertEqual(log["sha256"], hashlib.sha256(text).hexdigest()) # hashlib is the reference for the checksum
        self.assertEqual(log["bytes"], len(text))
        with open(os.path.join(first, log["copy"]), "rb") as f:
            self.assertEqual(f.read(), text)

    def test_replay_of_a_pipe_says_that_it_is_gone(self):
        with open(os.path.join(self.work, self.LOG), "rb") as f:
            done = subprocess.run([PROGRAM, "replay", "-", "--vehicle", "vehicle-logs.ini", "-o", "out", "--plot", "none", "-q"], cwd=self.work, stdin=f)
        self.assertEqual(done.returncode, 0)
        log = self.provenance(os.path.join(self.work, "out"))["inputs"][0]
        self.assertEqual((log["file"], log["sha256"], log["copy"]), ("-", None, None))

    def test_rank(self):
        with open(os.path.join(self.work, "found.ini"), "w", encoding="utf-8") as f:
            f.write("[findings]\n")
        self.check("rank", self.LOG, "--vehicle", "vehicle-logs.ini", "--bench", "found.ini")

    def test_fit(self):
        self.check("fit", "logs/bay-healthy.csv", "--vehicle", "vehicle-logs.ini", "--free", "body.block_shell,compressor.indicated_efficiency")

    def test_accept(self):
        self.check("accept", "logs/bay-healthy.csv", "--vehicle", "vehicle-logs.ini")

    def test_plan(self):
        self.check("plan", "--vehicle", "vehicle-logs.ini")


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
