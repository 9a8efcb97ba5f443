"""Runs every scenario of the table in scenarios/README.md: passes `check`, ends as the table says, and prints the sentence that its
page quotes (numbers apart, so that a recalibration does not need new pages, but a changed story does).

Usage: scenario_pages.py PROGRAM SCENARIOS_FOLDER
"""
import glob
import json
import os
import re
import subprocess
import sys
import tempfile
import unittest

PROGRAM, SCENARIOS = (os.path.abspath(p) for p in sys.argv[1:3])
LARGEST_PICTURE = 120_000  # bytes


def page():
    with open(os.path.join(SCENARIOS, "README.md"), encoding="utf-8") as f:
        return f.read()


def table():
    """(scenario, options, outcome) of each row"""
    rows = re.findall(r"^\| (\S+\.ini) \|([^|]*)\| (\w+) \|", page(), re.M)
    return [(name, options.split(), outcome) for name, options, outcome in rows]


def plain(sentence):
    return re.sub(r"[-+]?\d+(\.\d+)?", "N", re.sub(r"\d+ times|once|twice", "N times", sentence.strip()))


def run(*arguments):
    done = subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, timeout=300)
    return done.returncode, done.stdout, done.stderr


class Pages(unittest.TestCase):
    def simulate(self, name, options, *more):
        with tempfile.TemporaryDirectory(prefix="swh_") as folder:
            status, out, errors = run("run", os.path.join(SCENARIOS, name), *options, "--plot", "none", "-o", folder, *more)
        self.assertEqual(status, 0, errors)
        return out

    def test_outcome(self):
        self.assertGreaterEqual(len(table()), 13)
        for name, options, outcome in table():
            with self.subTest(scenario=name, options=options):
                self.assertEqual(json.loads(self.simulate(name, options, "--json"))["outcome"], outcome)

    def test_sentence(self):
        for name, command in re.findall(r"^\.build/cli/swashheat run scenarios/(\S+) -o (\S+)$", page(), re.M):
            with self.subTest(scenario=name):
                quoted = re.search(re.escape(command) + r"\n.*?^> (.*?)$", page(), re.M | re.S).group(1)
                first = self.simulate(name, []).splitlines()[0]
                self.assertTrue(plain(first).endswith(": " + plain(quoted)), f"{first}\nquoted: {quoted}")

    def test_check(self):
        for path in glob.glob(os.path.join(SCENARIOS, "*.ini")):
            with self.subTest(path=path):
                status, _, errors = run("check", path)
                self.assertEqual(status, 0, errors)

    def test_every_scenario_has_its_page_and_picture(self):
        listed = {name for name, _, _ in table()}
        vehicles = {os.path.basename(p) for kind in ("van", "vehicle", "car") for p in glob.glob(os.path.join(SCENARIOS, kind + "-*.ini"))}
        there = {os.path.basename(p) for p in glob.glob(os.path.join(SCENARIOS, "*.ini"))} - vehicles
        self.assertEqual(listed, there)
        for name in listed:
            picture = "pictures/" + name.replace(".ini", ".png")
            self.assertIn(f"({picture})", page())
            self.assertLess(os.path.getsize(os.path.join(SCENARIOS, picture)), LARGEST_PICTURE)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
