"""The unit of co-simulation under a reference master: fmpy from PyPI validates the description, loads the code, and simulates; the same as `run`.

Usage: fmu.py BUILD SOURCE PROGRAM CLASS
"""
import csv
import json
import os
import subprocess
import sys
import unittest

BUILD, SOURCE, PROGRAM = (os.path.abspath(p) for p in sys.argv[1:4])
VENV = os.path.join(BUILD, "tests", "python-venv")
PYTHON = os.path.join(VENV, "bin", "python")
SCENARIOS = os.path.join(SOURCE, "scenarios")


def prepare():
    if not os.path.exists(PYTHON):
        done = subprocess.run([sys.executable, "-m", "venv", VENV], capture_output=True, text=True)
        if done.returncode:
            print(f"SKIPPED: no virtual environment: {done.stderr[-300:]}")
            sys.exit(77)
    done = subprocess.run([PYTHON, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "fmpy>=0.3.20", "numpy"],
                          capture_output=True, text=True, timeout=900)
    if done.returncode:
        print(f"SKIPPED: the package registry cannot be had: {done.stderr[-300:]}")
        sys.exit(77)
    os.environ["SWH_INSIDE_VENV"] = "1"
    sys.stdout.flush()
    os.execv(PYTHON, [PYTHON] + sys.argv)


if not os.environ.get("SWH_INSIDE_VENV"):
    prepare()

import shutil  # noqa: E402
import tempfile  # noqa: E402

import fmpy  # noqa: E402
import fmpy.validation  # noqa: E402
import numpy  # noqa: E402
from fmpy.fmi3 import FMU3Slave  # noqa: E402


class Case(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp(prefix="swh_")
        self.addCleanup(shutil.rmtree, self.folder)

    def path(self, name):
        return os.path.join(self.folder, name)

    def program(self, *arguments, expect=0):
        done = subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, timeout=300, cwd=SCENARIOS)
        self.assertEqual(done.returncode, expect, done.stderr)
        return done.stdout if expect == 0 else done.stderr

    def unit(self, *arguments):
        self.said = self.program("fmu", *arguments, "-o", self.path("x.fmu"))
        return self.path("x.fmu")

    def series(self, *arguments):
        self.program("run", *arguments, "-o", self.path("run"), "--plot", "none", "-q")
        with open(self.path("run/series.csv"), encoding="utf-8") as f:
            head, *rows = list(csv.reader(f))
        return {n.split("[")[0]: numpy.array([float(r[i]) if r[i] else numpy.nan for r in rows]) for i, n in enumerate(head)}

    def simulate(self, unit, stop, outputs, interval=1.0, **more):
        messages = []
        result = fmpy.simulate_fmu(unit, start_time=more.pop("start", 0.0), stop_time=stop, step_size=interval, output_interval=interval, output=outputs,
                                   logger=lambda *a: messages.append(a), **more)
        self.assertEqual(messages, [])
        return result


class Unit(Case):
    # steps end where the master wants, a run's where they like: within the integrator's tolerance the same
    CLOSE = {"discharge_temperature": 0.15, "rotor_temperature": 0.05, "oil_temperature": 0.05, "suction_pressure": 600, "discharge_pressure": 1500,
             "film_ratio": 0.01, "oil_mass": 5e-5, "heat_suction_block": 3, "cabin_temperature": 0.02}

    def same(self, result, series, scale=1):
        worst = {}
        for name, within in self.CLOSE.items():
            if name not in result.dtype.names:
                continue
            t = result["time"]
            expected = numpy.interp(t, series["time"], series[name])
            worst[name] = float(numpy.nanmax(numpy.abs(result[name] - expected)[t > 10]))
            self.assertLess(worst[name], scale * within, name)
        self.assertGreaterEqual(len(worst), 5)
        print(", ".join(f"{n} {w:.2g}" for n, w in worst.items()))

    def test_description_is_valid(self):
        for arguments in (["healthy.ini"], ["van-orifice.ini"], ["van-valve.ini", "--part", "body"], ["summer_drive.ini"]):
            unit = self.unit(*arguments)
            self.assertEqual(fmpy.validation.validate_fmu(unit), [])
        self.assertRegex(self.said, r"the whole circuit for co-simulation \(FMI 3.0, \S+\): \d+ inputs, \d+ outputs, \d+ parameters")

    def test_whole_circuit_is_run(self):
        unit = self.unit("healthy.ini")
        series = self.series("healthy.ini")
        self.same(self.simulate(unit, 1800, list(self.CLOSE)), series)

    def test_parameters_and_faults(self):
        unit = self.unit("healthy.ini")
        series = self.series("healthy.ini", "--set", "fault.condenser_blocked.severity=0.4", "--set", "compressor.clearance=17 um",
                             "--set", "conditions.ambient_temperature=311.15 K")
        start = {"fault.condenser_blocked.severity": 0.4, "compressor.clearance": 17e-6, "conditions.ambient_temperature": 311.15}
        self.same(self.simulate(unit, 900, list(self.CLOSE), start_values=start), series)

    def test_inputs_over_time(self):
        """The master's drive against the same drive as a schedule."""
        drive = [(0, 25.0), (300, 25.0), (300.5, 45.0), (700, 45.0), (701, 20.0), (900, 20.0)]
        with open(self.path("drive.csv"), "w", encoding="utf-8") as f:
            f.write("time[s],compressor_speed[rps]\n" + "".join(f"{t},{x}\n" for t, x in drive))
        with open(self.path("story.ini"), "w", encoding="utf-8") as f:
            f.write(f"[scenario]\nvehicle = {SCENARIOS}/van-valve.ini\nschedule = drive.csv\n[conditions]\ndoors_open = 1\n[controls]\ncycling = none\n[run]\nduration = 900 s\n")
        series = self.series(self.path("story.ini"))
        with open(self.path("unit.ini"), "w", encoding="utf-8") as f:
            f.write(f"[scenario]\nvehicle = {SCENARIOS}/van-valve.ini\n[conditions]\ndoors_open = 1\n[controls]\ncycling = none\n[run]\nduration = 900 s\n")
        signals = numpy.array(drive, dtype=[("time", float), ("conditions.compressor_speed", float)])
        result = self.simulate(self.unit(self.path("unit.ini")), 900, list(self.CLOSE), interval=0.5, input=signals)
        # a master holds inputs over its steps: half a step of delay on the ramps
        t = result["time"]
        calm = ~(((t > 299) & (t < 330)) | ((t > 699) & (t < 730)))
        for name in ("discharge_temperature", "rotor_temperature", "oil_temperature"):
            expected = numpy.interp(t, series["time"], series[name])
            self.assertLess(numpy.max(numpy.abs(result[name] - expected)[calm]), 0.3, name)

    def test_schedule_of_the_scenario(self):
        unit = self.unit("summer_drive.ini")
        names = {v.name: v.causality for v in fmpy.read_model_description(unit).modelVariables}
        self.assertNotIn("conditions.compressor_speed", names) # the schedule gives it
        self.assertEqual(names["conditions.doors_open"], "input")
        series = self.series("summer_drive.ini")
        result = self.simulate(unit, 900, ["rotor_temperature", "compressor_speed", "cabin_temperature", "oil_temperature", "oil_mass", "film_ratio"], start_values={})
        numpy.testing.assert_allclose(result["compressor_speed"], numpy.interp(result["time"], series["time"], series["compressor_speed"]), atol=1e-6)

    def test_body_alone(self):
        """Pressures, suction temperature and speed in; temperatures, film and heat out: a run's own pressures give the run's own body."""
        with open(self.path("ports.csv"), "w", encoding="utf-8") as f:
            f.write("time[s],suction_pressure[bara],discharge_pressure[bara],suction_temperature[K],compressor_speed[rps]\n")
            rows = [(t, 3 + 0.2 * numpy.sin(t / 60), 12 + 6 * min(t, 300) / 300, 288 + 4 * min(t, 200) / 200, 25 + 10 * (t > 400)) for t in range(0, 601, 10)]
            f.write("".join(",".join(f"{x:.9g}" for x in r) + "\n" for r in rows))
        with open(self.path("ports.ini"), "w", encoding="utf-8") as f:
            f.write(f"[scenario]\nvehicle = {SCENARIOS}/van-valve.ini\nschedule = ports.csv\n[vehicle]\ncircuit = ports\n[run]\nduration = 600 s\n")
        series = self.series(self.path("ports.ini"))
        signals = numpy.array([(r[0], 1e5 * r[1], 1e5 * r[2], r[3], r[4]) for r in rows],
                              dtype=[("time", float)] + [(f"conditions.{n}", float) for n in ("suction_pressure", "discharge_pressure", "suction_temperature", "compressor_speed")])
        unit = self.unit("van-valve.ini", "--part", "body")
        self.assertIn("the compressor's body", self.said)
        outputs = ["discharge_temperature", "rotor_temperature", "oil_temperature", "film_ratio", "shaft_power", "heat_suction_block"]
        result = self.simulate(unit, 600, outputs, interval=1.0, input=signals)
        calm = (result["time"] < 400) | (result["time"] > 425)
        for name, within in (("discharge_temperature", 0.3), ("rotor_temperature", 0.2), ("oil_temperature", 0.2), ("shaft_power", 25), ("heat_suction_block", 4)):
            expected = numpy.interp(result["time"], series["time"], series[name])
            self.assertLess(numpy.max(numpy.abs(result[name] - expected)[calm]), within, name)

    def test_later_start_reset_and_two_at_once(self):
        unit = self.unit("healthy.ini")
        description = fmpy.read_model_description(unit)
        folder = fmpy.extract(unit, self.path("extracted"))
        of = {v.name: v.valueReference for v in description.modelVariables}
        units = [FMU3Slave(guid=description.guid, unzipDirectory=folder, modelIdentifier="swashheat", instanceName=f"u{i}") for i in range(2)]
        values = []
        for u in units:
            u.instantiate()
        for again in range(2):
            for u in units:
                u.enterInitializationMode(startTime=100.0)
                self.assertAlmostEqual(u.getFloat64([of["rotor_temperature"]])[0], 305.15, delta=0.5)
                u.setFloat64([of["conditions.ambient_temperature"]], [300.0])
                self.assertAlmostEqual(u.getFloat64([of["ambient_temperature"]])[0], 300.0, places=6)
                u.exitInitializationMode()
            for k in range(60):
                for u in units:
                    u.doStep(currentCommunicationPoint=100.0 + k, communicationStepSize=1.0)
            values.append([u.getFloat64([of["discharge_temperature"]])[0] for u in units])
            self.assertEqual(units[0].getFloat64([of["time"]])[0], 160.0)
            for u in units:
                u.reset()
        self.assertEqual(len({v for pair in values for v in pair}), 1)
        for u in units:
            u.freeInstance()

    def test_what_a_master_does_wrong(self):
        unit = self.unit("healthy.ini")
        description = fmpy.read_model_description(unit)
        folder = fmpy.extract(unit, self.path("extracted"))
        of = {v.name: v.valueReference for v in description.modelVariables}

        def slave(guid=description.guid):
            return FMU3Slave(guid=guid, unzipDirectory=folder, modelIdentifier="swashheat", instanceName="u")

        with self.assertRaises(Exception):
            slave("{another}").instantiate()
        u = slave()
        u.instantiate()
        u.enterInitializationMode()
        for reference, value in ((of["conditions.ambient_temperature"], 1e4), (of["discharge_temperature"], 300.0), (77777, 1.0)):
            with self.assertRaises(Exception):
                u.setFloat64([reference], [value])
        u.exitInitializationMode()
        with self.assertRaises(Exception):
            u.setFloat64([of["compressor.bore"]], [0.03])
        u.doStep(currentCommunicationPoint=0.0, communicationStepSize=1.0)
        u.terminate()
        u.freeInstance()

    def test_seizure_is_told(self):
        unit = self.unit("healthy.ini", "--set", "oil.total=0.001 kg", "--set", "conditions.compressor_speed=3600 rpm")
        self.program("run", "healthy.ini", "--set", "oil.total=0.001 kg", "--set", "conditions.compressor_speed=3600 rpm", "-o", self.path("run"), "-q", "--plot", "none")
        with open(self.path("run/summary.json"), encoding="utf-8") as f:
            when = json.load(f)["time_to_seizure_s"]
        result = self.simulate(unit, numpy.ceil(when) + 10, ["seized", "rotor_temperature"])
        first = result["time"][result["seized"].astype(bool)][0]
        self.assertAlmostEqual(first, when, delta=3)

    def test_command(self):
        self.assertIn("no such file", self.program("fmu", "nowhere.ini", expect=3).lower())
        self.program("fmu", "healthy.ini", "-o", "/proc/no/such/folder/x.fmu", expect=5)
        self.assertEqual(os.listdir(self.folder), [])
        a, b = self.path("a.fmu"), self.path("b.fmu")
        self.program("fmu", "healthy.ini", "-o", a, "-q")
        self.program("fmu", "healthy.ini", "-o", b, "-q")
        with open(a, "rb") as f, open(b, "rb") as g:
            self.assertEqual(f.read(), g.read())

    def test_declarations_are_the_standards(self):
        """Our declarations and another copy of the standard's headers, in one compilation: a difference is an error."""
        headers = os.path.join(os.path.dirname(fmpy.__file__), "c-code")
        if not os.path.exists(os.path.join(headers, "fmi3Functions.h")):
            self.skipTest("this fmpy has no headers")
        for name in ("fmu.c", "refused.c"):
            with open(os.path.join(SOURCE, "solver", "fmu", name), encoding="utf-8") as f:
                text = f.read().replace('#include "solver/fmu/fmi3.h"', '#include "fmi3Functions.h"')
            with open(self.path(name), "w", encoding="utf-8") as f:
                f.write(text)
            done = subprocess.run(["cc", "-std=c11", "-fsyntax-only", "-Werror", "-I", headers, "-I", SOURCE, "-I", os.path.join(BUILD, "solver", "include"),
                                   self.path(name)], capture_output=True, text=True)
            self.assertEqual(done.returncode, 0, done.stderr)
        with open(os.path.join(headers, "fmi3Functions.h"), encoding="utf-8") as f:
            import re
            wanted = set(re.findall(r"fmi3FullName\((fmi3\w+)\)", f.read()))
        exported = subprocess.run(["nm", "-D", "--defined-only", os.path.join(BUILD, "cli", "swashheat-fmu.so")], capture_output=True, text=True).stdout
        exported = {line.split()[-1] for line in exported.splitlines() if " T " in line}
        self.assertEqual(wanted - exported, set())
        self.assertTrue(all(name.startswith("fmi3") for name in exported), exported)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[4:]])
