"""The books of machines that stand, start and level out: charge to 1e-9 and energy to 1e-6 of what is there, at any tolerance.

Both are laws of nature, so they need no other source; that the integrator keeps linear invariants is a property of BDF (Rosenbaum,
J. Comput. Phys. 20 (1976) 259). Machines and drives are drawn at random, the same ones in every run, with the conditions that have cost
charge before: a shaft that stands while the pressures level out, inputs that jump, cold refrigerant.

Usage: books_program.py PROGRAM SCENARIOS_FOLDER TEST_CLASS
"""
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import unittest

PROGRAM, SCENARIOS = (os.path.abspath(p) for p in sys.argv[1:3])
HEAD = "time[s],compressor_speed[rpm],ambient_temperature[degC],vehicle_speed[km/h],clutch[1],fan[1]\n"


def schedule(draw, duration):
    """Rows some seconds or minutes apart; every third with a shaft that stands."""
    rows, t = [], 0.0
    while t < duration:
        speed = draw.choice([0, draw.randint(600, 6000), draw.randint(600, 6000)])
        rows.append(f"{t:.1f},{speed},{draw.uniform(-20, 50):.1f},{draw.choice([0, draw.uniform(0, 120)]):.1f},"
                    f"{draw.choice([0, 1, 1])},{draw.choice([0, 1, 1])}\n")
        t += draw.choice([0.1, 1.0, 5.0, draw.uniform(5, 200)])
    return HEAD + "".join(rows)


def story(draw, duration):
    fault = draw.choice(["reed_leaking", "oil_short", "overcharge", "undercharge", "never_cycling"])
    severity = draw.uniform(0, 0.25 if fault == "overcharge" else 1)
    return (f"[scenario]\ntitle = books\nvehicle = {draw.choice(['van-valve', 'van-orifice', 'van-rear', 'car-compact'])}.ini\n"
            f"schedule = drive.csv\n[vehicle]\nrefrigerant = {draw.choice(['R134a', 'R134a', 'R1234yf'])}\n[run]\nduration = {duration} s\n"
            f"output_interval = 60 s\n[conditions]\nambient_temperature = {draw.uniform(-15, 45):.1f} degC\n"
            f"doors_open = {draw.uniform(0, 1):.2f}\nblower = {draw.uniform(0.05, 1):.2f}\n[fault {fault}]\nseverity = {severity:.3f}\n")


class Books(unittest.TestCase):
    def books(self, where, story, drive="", tolerance=1, look=False):
        with tempfile.TemporaryDirectory(prefix="swh_") as folder:
            for name in os.listdir(SCENARIOS):
                if name.endswith(".ini"):
                    shutil.copy(os.path.join(SCENARIOS, name), folder)
            for name, text in (("drive.csv", drive), ("story.ini", story)):
                with open(os.path.join(folder, name), "w") as f:
                    f.write(text)
            done = subprocess.run([PROGRAM, "run", "story.ini", "-o", "out", "-q", "--plot", "none", "--set", f"run.tolerance={tolerance}"],
                                  cwd=folder, capture_output=True, text=True, timeout=300)
            path = os.path.join(folder, "out", "summary.json")
            self.assertTrue(os.path.exists(path), f"{where}: {done.stderr}")
            with open(path) as f:
                summary = json.load(f)
            self.assertEqual(done.returncode if look else 0, 0, done.stderr)
        for channel, lowest in summary["lowest"].items() if look else ():
            if channel.startswith("charge"):
                self.assertGreater(lowest["value"], -1e-6, channel)
        for channel, peak in summary["peak"].items() if look else ():
            if channel.endswith("_temperature"):
                self.assertLess(peak["value"], 525, channel)
        self.assertLess(abs(summary["charge_drift"]), 1e-9, where)
        self.assertLess(abs(summary["energy_residual"]), 1e-6, where)
        return done

    def close(self, seed, tolerance, duration=600):
        draw = random.Random(seed)
        drive, tale = schedule(draw, duration), story(draw, duration)
        self.books(f"machine {seed} at {tolerance} times the usual tolerances", tale, drive, tolerance)

    def test_leak_to_nothing(self):
        """All of the charge leaves while the machine runs: the run goes on to its end, and what left is what is missing."""
        for vehicle in ("van-valve", "van-orifice", "van-rear", "car-compact", "car-small"):
            for refrigerant, severity in (("R134a", 1), ("R1234yf", 0.99), ("R12", 0.95)):
                done = self.books(f"{vehicle} with {refrigerant}, severity {severity}",
                                  f"[scenario]\nvehicle = {vehicle}.ini\n[vehicle]\nrefrigerant = {refrigerant}\n[run]\nduration = 800 s\n"
                                  f"output_interval = 5 s\n[fault undercharge]\nseverity = {severity}\nstart = 600 s\n")
                self.assertEqual(done.returncode, 0, done.stderr)

    def test_air_presses_nothing_out(self):
        """Air at its worst in a circuit that leaks empty: no part holds less than nothing, none gets hotter than burnt gas."""
        self.books("air and a leak", "[scenario]\nvehicle = car-small.ini\n[run]\nduration = 900 s\noutput_interval = 5 s\n[conditions]\n"
                   "ambient_temperature = 49.2 degC\ncompressor_speed = 2556 rpm\n[fault air_in_system]\nseverity = 1\nstart = 200 s\n"
                   "[fault undercharge]\nseverity = 1\nstart = 30 s\n[fault condenser_blocked]\nseverity = 0.911\n", look=True)

    def test_many_machines(self):
        for seed in range(48):
            with self.subTest(machine=seed):
                self.close(seed, [1, 10, 0.1][seed % 3])


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], defaultTest=sys.argv[3])
