"""Replays of made-up logs: what a replay takes out of a reading it must put back into its prediction of it.

Usage: replay_program.py PROGRAM SCENARIOS_FOLDER TEST_CLASS
"""
import csv
import os
import subprocess
import sys
import tempfile
import unittest

PROGRAM, SCENARIOS = (os.path.abspath(p) for p in sys.argv[1:3])
CLAMP = 14.0  # degC, well above saturation at 3 bar


class Clamp(unittest.TestCase):
    """A clamp on the suction pipe is pulled toward the air under the bonnet. A log that tells that air's temperature, and one that
    does not, must both predict the clamp as it was read: the law stands once, forward and backward."""

    def predicted_minus_read(self, underhood):
        with tempfile.TemporaryDirectory(prefix="swh_") as folder:
            log = os.path.join(folder, "log.csv")
            head = "time[s],suction_pressure[bar abs],discharge_pressure[bar abs],suction_temperature[degC],compressor_speed[rpm],ambient_temperature[degC],clutch"
            with open(log, "w", encoding="utf-8") as f:
                f.write(head + (",underhood_temperature[degC]\n" if underhood is not None else "\n"))
                for t in range(0, 601, 2):
                    f.write(f"{t},3.0,15,{CLAMP},1500,30,1" + (f",{underhood}\n" if underhood is not None else "\n"))
            out = os.path.join(folder, "out")
            subprocess.run([PROGRAM, "replay", log, "--vehicle", os.path.join(SCENARIOS, "vehicle-logs.ini"), "--plot", "none", "-q", "-o", out], check=True)
            with open(os.path.join(out, "series.csv"), encoding="utf-8") as f:
                rows = list(csv.DictReader(f))
            name = next(c for c in rows[0] if c.startswith("suction_temperature") and not c.startswith("suction_temperature_measured"))
            unit = name[name.index("[") + 1:-1] if "[" in name else "K"
            return float(rows[-1][name]) + (-273.15 if unit == "K" else 0) - CLAMP

    def test_with_logged_bay(self):
        for underhood in (52, 90):
            self.assertAlmostEqual(self.predicted_minus_read(underhood), 0, delta=0.005, msg=f"bay at {underhood} degC")

    def test_without(self):
        self.assertAlmostEqual(self.predicted_minus_read(None), 0, delta=0.005)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
