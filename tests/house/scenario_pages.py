"""Runs every scenario of the table in scenarios/README.md: passes `check`, ends as the table says, and prints the sentence that its
page quotes, word for word, its numbers to 1 %. The table of readings on each page is what the run gives, to 1 %, and so are the figures
that its prose tells (PROSE below): a sentence with a figure that is neither tested nor a setting fails.

Usage: scenario_pages.py PROGRAM SCENARIOS_FOLDER [--write] [--pictures]
--write puts outcomes, sentences and readings of the program into the page, --pictures draws its pictures anew (64 colours; needs PyPI's Pillow).
"""
import csv
import functools
import glob
import math
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


# ---- readings ----

COLUMNS = [("low side", "suction_pressure", "barg"), ("high side", "discharge_pressure", "barg"), ("superheat", "superheat", "K"), ("subcooling", "subcooling", "K"),
           ("vent", "vent_temperature", "degC"), ("discharge pipe", "discharge_temperature", "degC"), ("rotor", "rotor_temperature", "degC"), ("film over roughness", "film_ratio", "")]
HEAD = "| clutch engaged, last minutes | " + " | ".join(c[0] for c in COLUMNS) + " |\n|" + " --- |" * (len(COLUMNS) + 1)


class Story:
    def __init__(self, name, *options):
        with tempfile.TemporaryDirectory(prefix="swh_") as folder:
            status, self.out, errors = run("run", os.path.join(SCENARIOS, name), *options, "--plot", "none", "-o", folder)
            if status != 0:
                raise AssertionError(errors)
            with open(os.path.join(folder, "summary.json"), encoding="utf-8") as f:
                self.summary = json.load(f)
            with open(os.path.join(folder, "series.csv"), encoding="utf-8") as f:
                rows = csv.reader(f)
                names = [cell.split("[")[0] for cell in next(rows)]
                columns = list(zip(*rows))
        self.at = {n: [float(x) if x else math.nan for x in c] for n, c in zip(names, columns)}
        self.time = self.at["time"]
        self.seizure = self.summary["time_to_seizure_s"]

    def value(self, channel, t):
        return self.at[channel][max(i for i, x in enumerate(self.time) if x <= t + 1e-6)]

    def mean(self, channel, a, b, engaged=True):
        x = [v for v, t, c in zip(self.at[channel], self.time, self.at["clutch"]) if a <= t <= b and (c > 0.5 or not engaged) and not math.isnan(v)]
        return sum(x) / len(x)

    def gauge(self, channel):
        """The mean of the last five minutes (of a short life: the last one) with the clutch engaged."""
        ends = [t for t, c in zip(self.time, self.at["clutch"]) if c > 0.5 and (self.seizure is None or t <= self.seizure - 2)]
        return self.mean(channel, ends[-1] - (60 if ends[-1] < 900 else 300), ends[-1])

    def first(self, channel, holds):
        """When a channel first does it with the clutch engaged, after five minutes [s]."""
        return next(t for t, v, c in zip(self.time, self.at[channel], self.at["clutch"]) if t > 300 and c > 0.5 and holds(v))


@functools.lru_cache(maxsize=None)
def story(name, *options):
    return Story(name, *options)


def faults(name):
    with open(os.path.join(SCENARIOS, name), encoding="utf-8") as f:
        return re.findall(r"^\[fault (\w+)\]", f.read(), re.M)


def sound(name):
    """The same story without its faults."""
    return story(name, *(x for fault in faults(name) for x in ("--set", f"fault.{fault}.severity=0")))


def shown(x, unit):
    x = x / 1e5 - 1.01325 if unit == "barg" else x - 273.15 if unit == "degC" else x
    digits = 2 if unit == "barg" and abs(x) < 10 else 0 if unit == "degC" else 1
    return f"{x:.{digits}f} {unit}".strip().replace("-0.0 ", "0.0 ")


def readings(name):
    rows = ([("a sound machine", sound(name))] if faults(name) else []) + [("this one", story(name))]
    return "\n".join([HEAD] + [f"| {words} | " + " | ".join(shown(s.gauge(channel), unit) for _, channel, unit in COLUMNS) + " |" for words, s in rows])


def between(name):
    return re.compile(r"(<!-- readings " + re.escape(name) + r" -->\n)(.*?)(\n<!-- end -->)", re.S)


# ---- what the prose says ----

def when(name, event):
    """Times at which an event happened [s]."""
    with tempfile.TemporaryDirectory(prefix="swh_") as folder:
        run("run", os.path.join(SCENARIOS, name), "--plot", "none", "-o", folder, "-q")
        with open(os.path.join(folder, "events.csv"), encoding="utf-8") as f:
            return [float(r["time[s]"]) for r in csv.DictReader(f) if r["event"] == event]


def hottest(s, a, b):
    """Whether the rotor is hottest between two times [min]."""
    t = s.summary["peak"]["rotor_temperature"]["time_s"] / 60
    return a - 1 <= t <= b + 1


# (scenario, words of its page with a figure, what they say is so)
PROSE = [
    ("healthy.ini", "the hottest thing in the picture by 30 K", lambda s: abs(s.gauge("discharge_gas_temperature") - max(s.gauge(c) for c in ("rotor_temperature", "head_temperature", "contact_temperature", "shell_temperature")) - 30) < 5),
    ("healthy.ini", "suction gas takes nearly nine tenths of the heat that is removed", lambda s: 0.84 < s.summary["suction_cooling_share"] < 0.9),
    ("summer_drive.ini", "(34 to 42 min) is the hottest part", lambda s: hottest(s, 34, 42)),
    ("slow_leak.ini", "from 0.5 h on a tenth of the charge goes each 53 minutes", lambda s: abs((s.value("charge", 1800 + 600) - s.value("charge", 1800 + 600 + 53 * 60)) / s.value("charge", 0) - 0.1) < 0.001),
    ("slow_leak.ini", "up to a third lost the gauges and the vents hardly tell", lambda s: abs(s.value("suction_pressure", 1800 + 25200 / 0.8 / 3) - s.value("suction_pressure", 1700)) < 0.2e5
     and abs(s.value("vent_temperature", 1800 + 25200 / 0.8 / 3) - s.value("vent_temperature", 1700)) < 1),
    ("slow_leak.ini", "The last hour and a half: the low-pressure", lambda s: abs(when("slow_leak.ini", "low_pressure_open")[0] - (28800 - 5400)) < 900),
    ("condenser_blocked.ini", "The head from the fifth minute on", lambda s: s.value("discharge_pressure", 290) < s.value("discharge_pressure", 355) - 2e5),
    ("valve_starved.ini", "for two minutes nothing shows", lambda s: abs(s.value("suction_pressure", 720) - s.value("suction_pressure", 590)) < 0.1e5),
    ("valve_starved.ini", "from a\nquarter of an hour on low side down and superheat up", lambda s: s.mean("suction_pressure", 900, 1020) < s.mean("suction_pressure", 480, 600) - 0.3e5 and s.mean("superheat", 900, 1020) > s.mean("superheat", 480, 600) + 5),
    ("air_after_repair.ini", "After the stop at 25 min the high side\nfalls at once and then stays above", lambda s: s.value("clutch", 1490) > 0.5 > s.value("clutch", 1510) and s.value("discharge_pressure", 3500) > 9.12e5),
    ("air_after_repair.ini", "(9.1 bar absolute at 36 degC)", lambda s: abs(json.loads(run("state", "R134a", "temperature=36degC", "quality=1", "--json")[1])["pressure"]["value"] / 1e5 - 9.1) < 0.05),
    ("hot_soak.ini", "suction gas cools them within two minutes", lambda s: s.value("head_temperature", 3010 + 120) < s.value("head_temperature", 3005) + 2),
]
# figures of the prose that are settings, or no figures at all
SETTINGS = re.compile(r"\b\d+(\.\d+)? (degC|rpm)\b|quarter of an hour|severity=[\d.]+|with 0\.5,|[\w.]+\.(ini|png|csv)|`[^`]*`")


def prose(name):
    """What a page says of a scenario besides commands, sentence, picture and readings."""
    part = next(p for p in re.split(r"^## ", page(), flags=re.M) if f"scenarios/{name} -o" in p)
    part = re.sub(r"```.*?```|^> .*?$|^!\[.*?\)$|<!-- readings.*?<!-- end -->", "", part.partition("\n")[2], flags=re.M | re.S)
    return re.sub(r"\n{2,}", "\n\n", part)


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
    for name in dict.fromkeys(n for n, _, _ in table()):
        table_of = f"<!-- readings {name} -->\n{readings(name)}\n<!-- end -->"
        if between(name).search(text):
            text = between(name).sub(lambda m: table_of, text)
        else:
            picture = f"(pictures/{name.replace('.ini', '.png')})\n"
            text = text.replace(picture, picture + "\n" + table_of + "\n")
    with open(os.path.join(SCENARIOS, "README.md"), "w", encoding="utf-8") as f:
        f.write(text)


def draw():
    from PIL import Image

    for title, name in re.findall(r"^!\[[^\]]*: ([a-z ]+)\]\(pictures/(\w+)\.png\)$", page(), re.M):
        with tempfile.TemporaryDirectory(prefix="swh_") as folder:
            run("run", os.path.join(SCENARIOS, name + ".ini"), "-o", folder, "-q")
            picture = Image.open(os.path.join(folder, title.replace(" ", "_") + ".png")).convert("RGB")
            picture.quantize(64).save(os.path.join(SCENARIOS, "pictures", name + ".png"), optimize=True)


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

    def test_readings(self):
        for name in dict.fromkeys(n for n, _, _ in table()):
            with self.subTest(scenario=name):
                there = between(name).search(page())
                self.assertTrue(there, "no table of readings: scenario_pages.py PROGRAM SCENARIOS --write makes it")
                now = readings(name)
                self.assertTrue(same(there.group(2), now), f"{now}\nin the page: {there.group(2)}")

    def test_prose(self):
        """Every figure that a page tells is so in the run, and none stands there untested."""
        for name, words, holds in PROSE:
            with self.subTest(scenario=name, words=words):
                self.assertIn(words, prose(name))
                self.assertTrue(holds(story(name)))
        for name in dict.fromkeys(n for n, _, _ in table()):
            rest = prose(name)
            for other, words, _ in PROSE:
                rest = rest.replace(words, "") if other == name else rest
            with self.subTest(scenario=name):
                self.assertEqual(re.findall(r".*\d.*", SETTINGS.sub("", rest)), [])

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
    if "--write" in sys.argv or "--pictures" in sys.argv:
        if "--write" in sys.argv:
            write()
        if "--pictures" in sys.argv:
            draw()
        sys.exit()
    unittest.main(argv=sys.argv[:1])
