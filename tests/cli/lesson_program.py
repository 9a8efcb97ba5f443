"""`lesson`: the page opens offline, and what it computes is what the program computes: lesson_program.py PROGRAM SCENARIOS TEST_CLASS."""
import csv
import json
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import unittest

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import browser

PROGRAM, SCENARIOS = (os.path.abspath(p) for p in sys.argv[1:3])
HERE = os.path.dirname(os.path.abspath(__file__))
OUTCOMES = ["survives", "shoe_seized", "bore_seized", "protected"]
STORIES = [os.path.join(SCENARIOS, name + ".ini") for name in ("healthy", "condenser_blocked", "undercharge", "fan_dead")]
SETTLED = ("new Promise(done => { const since = Date.now(), look = () => { const d = document.documentElement.dataset; "
           "(d.ready === 'carried' || (d.ready && d.took && ghost)) || Date.now() - since > 60000 ? done(JSON.stringify(d)) : setTimeout(look, 50); }; look(); })")


def node(*arguments):
    if not shutil.which("node"):
        raise unittest.SkipTest("no node")
    done = subprocess.run(["node", *arguments], capture_output=True, text=True, timeout=300)
    if done.returncode != 0:
        raise AssertionError(done.stderr)
    return json.loads(done.stdout)


def drive(path, *steps, size=(1280, 800)):
    os.environ["CHROMIUM"] = browser.chromium()
    if subprocess.run(["node", "--experimental-websocket", "-e", "new WebSocket"], capture_output=True, text=True).stderr.find("not defined") >= 0:
        raise unittest.SkipTest("a node without WebSocket")
    return node("--experimental-websocket", os.path.join(HERE, "drive_browser.mjs"), "file://" + path, *map(str, size), "-", *steps)


class Lesson(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.mkdtemp(prefix="swh_lesson_")
        cls.path = os.path.join(cls.folder, "lesson.html")
        done = subprocess.run([PROGRAM, "lesson", *STORIES, "-o", cls.path, "--title", "A lesson </script>"], capture_output=True, text=True, timeout=300)
        assert done.returncode == 0, done.stderr
        cls.said = done.stdout
        with open(cls.path, encoding="utf-8") as f:
            cls.page = f.read()
        cls.data = json.loads(re.search(r'<script type="application/json" id="data">(.*?)</script>', cls.page, re.S).group(1))
        cls.computes = "const WASM = ''" not in cls.page

    @classmethod
    def tearDownClass(cls):
        shutil.rmtree(cls.folder)


class Page(Lesson):
    """What the page of a class is, and does."""

    def test_one_file(self):
        self.assertNotRegex(self.page, r'(?:src|href)\s*=\s*"(?!data:)')
        self.assertNotIn("https:", re.sub(r"const WASM = '.*?'", "", self.page))
        self.assertLess(len(self.page), 2_000_000)
        self.assertIn("never bridge a switch", self.page)

    def test_valid(self):
        self.assertEqual(browser.errors_of_html5lib(self.path), "[]")

    def test_carries_its_runs(self):
        self.assertEqual([s["stem"] for s in self.data["stories"]], ["healthy", "condenser_blocked", "undercharge", "fan_dead"])
        for story, path in zip(self.data["stories"], STORIES):
            with tempfile.TemporaryDirectory() as folder:
                summary = json.loads(subprocess.run([PROGRAM, "run", path, "--json", "--plot", "none", "-o", folder], capture_output=True, text=True).stdout)
            self.assertEqual(OUTCOMES[story["run"]["outcome"]], summary["outcome"])
            self.assertGreater(len(story["run"]["rows"]), 50)

    def test_opens_offline(self):
        """Without a request, a console message or an exception; the sentence of the first story stands there."""
        out = drive(self.path, SETTLED, "document.getElementById('sentence').textContent", "location.href")
        self.assertEqual(out["console"], [])
        self.assertTrue(all(r.startswith(("file:", "blob:")) for r in out["requests"]), out["requests"])
        self.assertRegex(out["value"][1], r"^Lives through these 30 min")
        if self.computes:
            self.assertEqual(json.loads(out["value"][0])["ready"], "computes")
        else:
            self.assertEqual(json.loads(out["value"][0])["ready"], "carried")

    def test_without_webassembly(self):
        """The carried run is shown, with a word, and nothing can be slid."""
        path = os.path.join(self.folder, "old.html")
        with open(path, "w", encoding="utf-8") as f:
            f.write(self.page.replace("<script>\nconst WASM", "<script>\ndelete globalThis.WebAssembly;\nconst WASM"))
        out = drive(path, SETTLED, "document.getElementById('state').textContent", "document.querySelector('#sliders input').disabled", "document.getElementById('sentence').textContent")
        self.assertEqual(out["console"], [])
        self.assertIn("Nothing is computed here", out["value"][1])
        self.assertTrue(out["value"][2])
        self.assertRegex(out["value"][3], r"^Lives through")

    def test_slider_story_units_and_tabs(self):
        if not self.computes:
            self.skipTest("built without SWH_WEB")
        slide = "(() => { const s = SLIDERS[2]; s.input.value = 0.7; s.input.oninput(); document.documentElement.dataset.took = ''; })()"
        out = drive(self.path, SETTLED, slide, "new Promise(d => setTimeout(d, 100))", SETTLED, "document.getElementById('sentence').textContent", "document.getElementById('units').click()",
                    "document.getElementById('tiles').textContent", "document.querySelectorAll('#stories button')[1].click(); document.documentElement.dataset.took = ''", SETTLED, "document.getElementById('sentence').textContent",
                    "document.getElementById('tab-map').click()", "new Promise(done => { const look = () => map.cell.size ? done(1) : setTimeout(look, 50); look(); })", "map.cell.size", "document.getElementById('tab-exercise').click()", "location.hash",
                    "new Promise(done => { const look = () => state.exercise.run ? done(1) : setTimeout(look, 50); look(); })", "document.querySelector('[data-buy]').click()", "document.getElementById('shop').textContent",
                    "(() => { document.getElementById('guess').value = state.exercise.fault; gradeGuess(); return document.getElementById('verdict').textContent; })()")
        self.assertEqual(out["console"], [])
        self.assertFalse([v for v in out["value"] if isinstance(v, str) and v.startswith("EXCEPTION")], out["value"])
        self.assertIn("°F", out["value"][6])
        self.assertRegex(out["value"][9], r"^Kept alive by a switch")
        self.assertGreater(out["value"][12], 0)
        self.assertRegex(out["value"][14], r"^#car=\d+$")
        self.assertRegex(out["value"][18], r"^Right: 9 points")

    def test_slider_to_picture(self):
        """Well under a second on a busy machine; 0.3 s is the aim on an idle one, and is printed."""
        if not self.computes:
            self.skipTest("built without SWH_WEB")
        slide = "(() => { const s = SLIDERS[0]; s.input.value = %g; s.input.oninput(); document.documentElement.dataset.took = ''; })()"
        steps = [x for v in (0.1, 0.2, 0.3, 0.25, 0.15) for x in (slide % v, "new Promise(d => setTimeout(d, 100))", SETTLED)]
        took = sorted(float(json.loads(v)["took"]) for v in drive(self.path, SETTLED, *steps)["value"][3::3])
        print(f"from slider to picture: {took[0]:.0f} to {took[-1]:.0f} ms")
        self.assertLess(took[0], 1000)

    def test_screen_reader(self):
        self.assertEqual(browser.violations_of_axe(self.path), [])

    def test_widths(self):
        """At a telephone's, a laptop's and a projector's width nothing stands wider than the screen; the letters of a projector are 3 % of its height."""
        for size in ((390, 844), (1280, 800), (1920, 1080)):
            out = drive(self.path, SETTLED, *(f"document.getElementById('tab-{tab}').click(); document.documentElement.scrollWidth" for tab in ("exercise", "bench", "map", "class")),
                        "document.getElementById('letters').click(); parseFloat(getComputedStyle(document.querySelector('#sliders output')).fontSize)", size=size)
            self.assertEqual(out["console"], [])
            self.assertLessEqual(max(out["value"][1:5]), size[0], size)
        self.assertGreater(out["value"][5], 0.029 * 1080)

    def test_prints(self):
        """The class's page fits two sheets; nothing of what is slid is printed."""
        pages, _ = browser.sheets(self.path)
        self.assertLessEqual(pages, 2)

    def test_gain_and_loss(self):
        """The curves of `margin --curves`, the running point on them at rest: made and carried away are one then."""
        if not self.computes:
            self.skipTest("built without SWH_WEB")
        done = "new Promise(done => { const look = () => curves.T.filter(Number.isFinite).length >= 26 ? done(1) : setTimeout(look, 50); look(); })"
        out = drive(self.path, SETTLED, done, "JSON.stringify([curves.T, curves.gain, curves.loss])", "metalHeat(main, main.last)")
        T, gain, loss = json.loads(out["value"][2])
        folder = os.path.join(self.folder, "margin")
        subprocess.run([PROGRAM, "margin", STORIES[0], "--fault", "oil_short", "--curves", "--plot", "none", "-o", folder, "-q"], check=True)
        with open(os.path.join(folder, "heat_curves.csv"), encoding="utf-8") as f:
            rows = [[float(x) if x else None for x in r] for r in list(csv.reader(f))[1:]]
        self.assertEqual(len(rows), len(T))
        for (at, made, lost), x, a, b in zip(rows, T, gain, loss):
            self.assertAlmostEqual(at, x, delta=0.01)
            if made is not None and a is not None:
                self.assertAlmostEqual(a, made, delta=0.01 * made + 5)  # W; hardly anything is made where a switch keeps the clutch out
                self.assertAlmostEqual(b, lost, delta=0.01 * lost + 5)
        made, lost = out["value"][3]
        self.assertAlmostEqual(made / lost, 1, delta=0.02)

    def test_exercise_is_a_car(self):
        """The same number is the same car, in the customer's words for its fault; its readings differ from a healthy car's."""
        if not self.computes:
            self.skipTest("built without SWH_WEB")
        there = "new Promise(done => { const look = () => state.exercise.run ? done(JSON.stringify([state.exercise.fault, state.exercise.severity, document.getElementById('complaint').textContent])) : setTimeout(look, 50); look(); })"
        cars = []
        for number in (3, 8, 3):
            out = drive(self.path, SETTLED, f"location.hash = 'car={number}'; document.getElementById('tab-exercise').click()", there)
            self.assertEqual(out["console"], [])
            cars.append(json.loads(out["value"][2]))
        self.assertEqual(cars[0], cars[2])
        self.assertNotEqual(cars[0][:2], cars[1][:2])
        faults = {f["id"]: f for f in self.data["faults"]}
        for fault, severity, complaint in cars:
            self.assertIn(faults[fault]["complaint"], complaint)
            self.assertTrue(0.1 <= severity <= 0.86)

    def test_bad_input(self):
        for arguments, status, words in ((("nothing.ini",), 3, "No such file"), ((STORIES[0], "-o", "x.txt"), 2, "FILE.html"), ((STORIES[0], "fan_ded.ini"), 3, "fan_ded.ini")):
            done = subprocess.run([PROGRAM, "lesson", *arguments], capture_output=True, text=True, cwd=self.folder)
            self.assertEqual((done.returncode, done.stdout), (status, ""), done.stderr)
            self.assertIn(words, done.stderr)


class Bench(Lesson):
    """The tab for the bench says what the program says."""

    FILL = "(() => { const rows = %s; document.querySelectorAll('#%s input').forEach((e) => { const x = (rows[e.dataset.row] || {})[e.dataset.ch]; e.value = x === undefined ? '' : x; }); })()"
    ANSWERED = "new Promise(done => { const look = () => document.getElementById('answer').textContent && !queue.length && !busy ? done(1) : setTimeout(look, 50); look(); })"

    def bench_page(self, vehicle):
        page = os.path.join(self.folder, "bench.html")
        subprocess.run([PROGRAM, "lesson", STORIES[0], "--vehicle", os.path.join(SCENARIOS, vehicle), "-o", page, "-q"], check=True)
        return page

    def sheet(self, name):
        with open(name, encoding="utf-8") as f:
            return [{k.split("[")[0]: float(v) for k, v in r.items() if "[" in k and not k.startswith("held")} for r in csv.DictReader(f)]

    def test_bench_says_what_rank_says(self):
        """A spot sheet typed into the page: the answer, what the vehicle file is worth and the repair are those of `rank`, word for word, its shares to 1 in 100;
        of the calibrated vehicle and of the one that only its papers describe. Readings are expected at every point."""
        if not self.computes:
            self.skipTest("built without SWH_WEB")
        car = os.path.join(self.folder, "class")
        subprocess.run([PROGRAM, "exercise", STORIES[2], "--vehicle", os.path.join(SCENARIOS, "vehicle-logs.ini"), "--seed", "5", "-o", car, "-q"], check=True)
        sheet = os.path.join(car, "car01", "sheet.csv")
        for vehicle in ("vehicle-logs.ini", "vehicle-papers.ini"):
            here = json.loads(subprocess.run([PROGRAM, "rank", sheet, "--vehicle", os.path.join(SCENARIOS, vehicle), "--json", "--plot", "none", "-o", os.path.join(self.folder, "rank")], capture_output=True, text=True).stdout)
            texts = "['trust', 'answer', 'repair'].map((id) => document.getElementById(id).textContent)"
            table = "[...document.querySelectorAll('#causes tbody tr')].map((r) => [...r.cells].map((c) => c.textContent))"
            points = "document.querySelectorAll('#expected tbody th[colspan]').length"
            out = drive(self.bench_page(vehicle), SETTLED, "document.getElementById('tab-bench').click()", self.FILL % (json.dumps(self.sheet(sheet)), "sheet"), "document.getElementById('rank').click()", self.ANSWERED, texts, table, points)
            self.assertEqual(out["console"], [])
            (trust, answer, repair), rows = out["value"][5:7]
            with self.subTest(vehicle=vehicle):
                self.assertEqual(trust, here["vehicle_file"] + ("." if here["vehicle_file"] else ""))
                same, number = here["answer"].replace("_", " ").replace("+", " + ") + ".", r"\d+(?:\.\d+)?"
                self.assertTrue(re.sub(number, "N", answer).startswith(re.sub(number, "N", same)), (answer, same))
                for a, b in zip(re.findall(number, same), re.findall(number, answer)):
                    self.assertAlmostEqual(float(a), float(b), delta=1.01)  # a share on the edge of two per cents
                self.assertEqual("A look tells" in answer, "look" in here)
                self.assertEqual(bool(repair), not here["cannot_tell"] and here["ranking"][0]["fault"] != "healthy")
                self.assertEqual(rows[0][0], here["ranking"][0]["fault"].replace("_", " "))
                for row, cause in zip(rows, here["ranking"]):
                    self.assertAlmostEqual(float(row[2]), 100 * cause["share"], delta=1)
                self.assertEqual(out["value"][7], 3)

    def test_bench_fits_a_gauge_table(self):
        """Three rows typed into the page give parameters as `fit` finds them, and the vehicle is then one that was fitted to three rows. What three rows leave
        open is much: one start of `fit` itself leaves 3.0 to 4.2 over when the air outside is changed by 0.0003 K, so no more than that can be asked of the page."""
        if not self.computes:
            self.skipTest("built without SWH_WEB")
        table = os.path.join(self.folder, "gauges.csv")
        with open(table, "w", encoding="utf-8") as f:
            f.write("point,held[min],doors_open,suction_pressure[barg],discharge_pressure[barg],vent_temperature[degC],ambient_temperature[degC],compressor_speed[rpm]\n"
                    "idle,5,yes,2.2,14,12,30,1050\n1500,5,yes,1.9,14.8,11.5,30,1500\n2500,5,yes,1.6,15.5,11,30,2500\n")
        folder = os.path.join(self.folder, "fit")
        subprocess.run([PROGRAM, "fit", table, "--vehicle", os.path.join(SCENARIOS, "vehicle-papers.ini"), "--starts", "1", "--plot", "none", "-o", folder, "-q"], check=True)
        with open(os.path.join(folder, "fit.json"), encoding="utf-8") as f:
            fit = json.load(f)
        fitted = "new Promise(done => { const look = () => bench.fitted ? done(JSON.stringify(bench.fitted.set)) : setTimeout(look, 50); look(); })"
        out = drive(self.bench_page("vehicle-papers.ini"), SETTLED, "document.getElementById('tab-bench').click()", self.FILL % (json.dumps(self.sheet(table)), "gauges"), "bench.starts = 1; document.getElementById('fit').click()", fitted,
                    "document.getElementById('fit-state').textContent")
        self.assertEqual(out["console"], [])
        there = dict(json.loads(out["value"][4]))
        self.assertEqual(there["fitted.rows"], 3)
        for key, estimate in fit["estimates"].items():  # along what three rows leave open the two may stop at different places
            self.assertTrue(estimate["low"] < there[key] < estimate["high"], key)
        self.assertRegex(out["value"][5], r"^Fitted to 3 rows")
        self.assertAlmostEqual(float(re.search(r"left over is ([\d.]+) times", out["value"][5]).group(1)), fit["spread"], delta=0.5 * fit["spread"])

    def test_label_asks_what_vehicle_asks(self):
        """The ten questions, in order; an answer changes what is computed."""
        out = drive(self.path, SETTLED, "document.getElementById('tab-bench').disabled || document.getElementById('tab-bench').click()", "[...document.querySelectorAll('#label span')].map((s) => parseInt(s.textContent)).filter(Number.isFinite)",
                    "(() => { const e = document.querySelector('[data-label=\"1\"]'); if (!e) return null; e.value = '600'; e.dispatchEvent(new Event('input', { bubbles: true })); return labelVehicle().set.filter(([k]) => k === 'charge.nominal').pop(); })()")
        if not self.computes:
            return
        self.assertEqual(out["value"][2], list(range(1, 11)))
        self.assertEqual(out["value"][3], ["charge.nominal", 0.6])


class Same(unittest.TestCase):
    """50 random settings in the page's worker and in the program: same outcome, times to a second or 1 %, curves to 1 %."""

    KEYS = [("fault.condenser_blocked.severity", 0, 1, ""), ("fault.undercharge.severity", 0, 0.8, ""), ("fault.oil_short.severity", 0, 0.7, ""), ("fault.fan_dead.severity", 0, 1, ""),
            ("conditions.ambient_temperature", 293.15, 318.15, " K"), ("conditions.compressor_speed", 15, 60, " rpm")]

    def test_fifty(self):
        with tempfile.TemporaryDirectory(prefix="swh_same_") as folder:
            page, cases_file = os.path.join(folder, "lesson.html"), os.path.join(folder, "cases.json")
            subprocess.run([PROGRAM, "lesson", STORIES[0], "-o", page, "-q"], check=True)
            draw, cases = random.Random(20), []
            for _ in range(50):
                chosen = draw.sample(self.KEYS[:4], draw.randint(0, 2)) + self.KEYS[4:]
                cases.append([(key, round(lo + (hi - lo) * draw.random(), 4), unit) for key, lo, hi, unit in chosen])
            with open(cases_file, "w", encoding="utf-8") as f:
                json.dump([[(k, v) for k, v, _ in c] + [("run.output_interval", 5)] for c in cases], f)
            there = node(os.path.join(HERE, "lesson_runs.mjs"), page, cases_file)
            if there is None:
                self.skipTest("built without SWH_WEB")
            worst = 0
            for case, web in zip(cases, there):
                settings = [x for k, v, u in case for x in ("--set", f"{k}={v * 60 if u == ' rpm' else v}{u}")]
                done = subprocess.run([PROGRAM, "run", STORIES[0], *settings, "--set", "run.output_interval=5 s", "--json", "--plot", "none", "-o", os.path.join(folder, "run")], capture_output=True, text=True)
                here = json.loads(done.stdout)
                with self.subTest(case=case):
                    if abs(here["duty"] - 0.5) > 0.005:  # the low-pressure switch protects from half of the time on: a matter of rounding there
                        self.assertEqual(OUTCOMES[web["outcome"]] if web["outcome"] < 4 else web["outcome"], here["outcome"] if here["outcome"] in OUTCOMES else web["outcome"])
                    a, b = web["seizure"], here["time_to_seizure_s"]
                    self.assertEqual(a is None, b is None)
                    if a is not None:
                        self.assertLess(abs(a - b), max(1, 0.01 * b))
                    elif here["outcome"] == "survives" and here["event_count"].get("clutch_off", 0) == 0:
                        for channel in ("suction_pressure", "discharge_pressure", "rotor_temperature", "vent_temperature"):
                            off = abs(web["final"][channel] / here["final"][channel] - 1)
                            worst = max(worst, off)
                            self.assertLess(off, 0.01, channel)
                    else:
                        self.assertLess(abs(web["duty"] - here["duty"]), 0.02)
            print(f"largest difference of a final value: {worst:.1e}")


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
