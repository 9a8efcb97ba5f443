"""Runs every scenario of the table in scenarios/README.md: passes `check`, ends as the table says, and prints the sentence that its
page quotes, word for word, its numbers to 1 %.

Usage: scenario_pages.py PROGRAM SCENARIOS_FOLDER [--write]      --write: puts outcomes and sentences of the program into the page
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


NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?")


def same(quoted, printed):
    """The same words, and the same numbers to 1 %, or to the last digit quoted."""
    if NUMBER.sub("N", quoted) != NUMBER.sub("N", printed):
        return False
    for a, b in zip(NUMBER.findall(quoted), NUMBER.findall(printed)):
        digit = 10.0 ** -len(a.partition(".")[2])
        if abs(float(a) - float(b)) > max(0.01 * abs(float(b)), digit):
            return False
    return True


def run(*arguments):
    done = subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, timeout=300)
    return done.returncode, done.stdout, done.stderr


def sentence(first):
    """What the program says of a run, without the run's name."""
    return re.search(r": ((?:A shoe|A piston|The compressor|The gas|No answer|Gas|A hose|The )[^\n]*)$", first).group(1)


def write():
    text = page()
    with tempfile.TemporaryDirectory(prefix="swh_") as folder:
        for name, options, outcome in table():
            _, out, _ = run("run", os.path.join(SCENARIOS, name), *options, "--plot", "none", "-o", folder, "--json")
            row = re.search(r"^\| " + re.escape(name) + r" \| *" + re.escape(" ".join(options)) + r" *\| \w+ \|", text, re.M).group(0)
            text = text.replace(row, re.sub(r"\w+ \|$", json.loads(out)["outcome"] + " |", row))
        for name, command in re.findall(r"^\.build/cli/swashheat run scenarios/(\S+) -o (\S+)$", page(), re.M):
            _, out, _ = run("run", os.path.join(SCENARIOS, name), "--plot", "none", "-o", folder)
            text = re.sub("(" + re.escape(command) + r"\n.*?^> ).*?$", lambda m: m.group(1) + sentence(out.splitlines()[0]), text, count=1, flags=re.M | re.S)
    with open(os.path.join(SCENARIOS, "README.md"), "w", encoding="utf-8") as f:
        f.write(text)


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
                printed = sentence(first)
                self.assertTrue(same(quoted.strip(), printed), f"{printed}\nquoted: {quoted}")

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
    if "--write" in sys.argv:
        sys.exit(write())
    unittest.main(argv=sys.argv[:1])
