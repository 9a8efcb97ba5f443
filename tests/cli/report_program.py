"""`report` as its user runs it: report_program.py PROGRAM SCENARIOS TEST_CLASS."""
import html.parser
import os
import re
import shutil
import subprocess
import sys
import tempfile
import unittest

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import browser

PROGRAM, SCENARIOS = (os.path.abspath(p) for p in sys.argv[1:3])


class Case(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp(prefix="swh_")
        self.addCleanup(shutil.rmtree, self.folder)

    def write(self, name, text):
        path = os.path.join(self.folder, name)
        os.makedirs(os.path.dirname(path), exist_ok=True)
        with open(path, "wb") as f:
            f.write(text if isinstance(text, bytes) else text.encode())

    def call(self, *arguments):
        return subprocess.run([PROGRAM, *arguments], cwd=self.folder, capture_output=True, text=True, timeout=300)

    def page(self, *more):
        done = self.call("report", "job", *more)
        self.assertEqual((done.returncode, done.stderr), (0, ""))
        with open(os.path.join(self.folder, "job", "report.html"), encoding="utf-8") as f:
            return f.read()


class Visible(html.parser.HTMLParser):
    """The text that a reader sees, without names of files and commands."""

    def __init__(self):
        super().__init__()
        self.hidden, self.text, self.alternatives = 0, [], []

    def handle_starttag(self, tag, attributes):
        self.hidden += tag in ("style", "code", "script")
        self.alternatives += [v for k, v in attributes if k == "alt"]

    def handle_endtag(self, tag):
        self.hidden -= tag in ("style", "code", "script")

    def handle_data(self, data):
        if not self.hidden:
            self.text.append(data)


def visible(page):
    v = Visible()
    v.feed(page)
    return " ".join(v.text + v.alternatives)


class Job(Case):
    """The invented job of scenarios/job-demo, as scenarios/README.md makes it."""

    @classmethod
    def setUpClass(cls):
        cls.whole = tempfile.mkdtemp(prefix="swh_job_")
        cls.job = os.path.join(cls.whole, "job")
        shutil.copytree(os.path.join(SCENARIOS, "job-demo"), cls.job)
        for source, name in (("vehicle-logs.ini", "vehicle.ini"), ("logs/bay-short-of-charge.csv", "before.csv"), ("logs/bay-healthy.csv", "after.csv")):
            shutil.copy(os.path.join(SCENARIOS, source), os.path.join(cls.job, name))
        story = os.path.join(SCENARIOS, "undercharge.ini")
        for arguments in (("rank", "before.csv", "--vehicle", "vehicle.ini", "--bench", "findings.ini", "-o", "1-rank"),
                          ("accept", "after.csv", "--vehicle", "vehicle.ini", "-o", "2-accept"), ("run", story, "-o", "3-story")):
            done = subprocess.run([PROGRAM, *arguments, "-q"], cwd=cls.job, capture_output=True, text=True, timeout=600)
            assert done.returncode in (0, 1), done.stderr

    @classmethod
    def tearDownClass(cls):
        shutil.rmtree(cls.whole)

    def setUp(self):
        super().setUp()
        shutil.copytree(self.job, os.path.join(self.folder, "job"))
        self.html = os.path.join(self.folder, "job", "report.html")

    def append(self, name, text):
        with open(os.path.join(self.folder, "job", name), "a", encoding="utf-8") as f:
            f.write(text)

    def replace(self, name, old, new):
        path = os.path.join(self.folder, "job", name)
        with open(path, encoding="utf-8") as f:
            text = f.read()
        self.assertIn(old, text)
        with open(path, "w", encoding="utf-8") as f:
            f.write(text.replace(old, new))

    def missing(self, page):
        return page.split("Missing in this report", 1)[1].split("</section>", 1)[0] if "Missing in this report" in page else ""

    def test_front_tells_the_job(self):
        page = self.page()
        front = visible(page.split("<details", 1)[0])
        for words in ("A. Invented", "DEMO 134", "148 200 km", "no cold air", "2024-07-18", "I. Madeup", "undercharge", "oily dust", "metal in oil",
                      "Swash plate: one shoe welded", "A healthy one then", "740 g R134a", "125 ml PAG 46", "PASS", "dye", "Never vent", "licensed practice"):
            self.assertIn(words, front)
        self.assertEqual(self.missing(page), "")

    def test_answer_in_three_sentences(self):
        answer = re.search(r'<p class="answer">(.*?)</p>', self.page(), re.S).group(1)
        self.assertEqual(len(re.findall(r"[.](?:\s|$)", visible(answer))), 3, answer)

    def test_gauges_are_the_logs_means(self):
        """The means of the last ten minutes, taken here from the log itself."""
        with open(os.path.join(SCENARIOS, "logs", "bay-short-of-charge.csv"), encoding="utf-8") as f:
            head, *lines = [line.strip().split(",") for line in f if not line.startswith("#")]
        column = {re.sub(r"\[.*", "", h): (i, h) for i, h in enumerate(head)}
        rows = [[float(x) if x else float("nan") for x in line] for line in lines]
        time, clutch = column["time"][0], column["clutch"][0]
        late = [r for r in rows if r[time] >= rows[-1][time] - 600 and r[clutch] >= 0.5]
        for name, row in (("discharge_pressure", "High side"), ("vent_temperature", "Air from the vent")):
            i, header = column[name]
            values = [r[i] for r in late if r[i] == r[i]]
            mean = sum(values) / len(values)
            if "kPa" in header:
                mean = (mean - (0 if "kPag" in header else 101.325)) / 100
            shown = float(re.search(row + r"</th><td>([-\d.]+) ", self.page()).group(1))
            self.assertAlmostEqual(shown, mean, delta=0.02 if "pressure" in name else 0.06, msg=header)

    def test_spot_sheet(self):
        self.write("job/before.csv", "point,low side [psig],high side [psig],vent [degF],ambient [degF],compressor rpm,doors_open\n"
                   "idle,20,250,60,95,900,yes\n1500,16,270,58,95,1500,yes\n")
        page = self.page("--units", "trade")
        self.assertRegex(page, r"Low side</th><td>18 psig</td><td>\d+ psig</td>")
        self.assertRegex(page, r"High side</th><td>260 psig</td><td>\d+ psig</td>")
        self.assertEqual(self.missing(page), "")

    def test_no_keys(self):
        for more in ((), ("--units", "trade")):
            text = visible(self.page(*more))
            text = re.sub(r"\S+\.(ini|csv|json|png|svg)\b", "", text)
            self.assertEqual(re.findall(r"\b[a-z]\w*_\w+|\b(?:conditions|fault)\.\w+", text), [])

    def test_nothing_dropped(self):
        page = self.page()
        pictures = 0
        for folder, _, names in os.walk(os.path.join(self.folder, "job")):
            for name in names:
                if name != "report.html":
                    self.assertIn(os.path.relpath(os.path.join(folder, name), os.path.join(self.folder, "job")), page)
                    pictures += name.endswith((".png", ".svg"))
        self.assertGreaterEqual(page.count("<img "), pictures)
        self.assertNotIn('<details class="appendix" open', page)

    def test_every_number_in_the_units(self):
        page = self.page("--units", "trade")
        appendix = page.split("<details", 1)[1]
        self.assertIn("psig", appendix)
        self.assertIn("degF", page)
        self.assertIn("size: letter", page)
        self.assertGreater(len(re.findall(r">-?[\d.]+ psig", appendix)), 10)
        # a cell that is a quantity; sentences keep the units in which a command wrote them
        self.assertEqual(re.findall(r">(-?[\d.]+ (?:degC|barg|Pa|K)(?: at [\d.]+ (?:min|s))?)<", appendix), [])
        self.assertIn("size: A4", self.page())

    def test_title(self):
        self.assertIn("<h1>Mine &lt;&amp;&gt;</h1>", self.page("--title", "Mine <&>"))

    def test_missing_is_named(self):
        for name, text in (("after.csv", "readings after the repair"), ("vehicle.ini", "what a healthy vehicle reads"), ("findings.ini", None),
                           ("photos/plate.svg", "photos/plate.svg"), ("2-accept/accept.json", "the test after the repair")):
            os.remove(os.path.join(self.folder, "job", name))
            page = self.page()
            if text:
                self.assertIn(text, self.missing(page))
        for key in ("customer", "odometer"):
            self.replace("job.ini", key + " =", "x" + key + " =")
            self.assertIn(f"the {key} of the job", self.missing(self.page()))
        self.replace("job.ini", "refrigerant =", "gas =")
        self.assertIn("how much refrigerant", self.missing(self.page()))
        self.assertIn("how much refrigerant", self.call("report", "job").stdout)

    def test_broken_result(self):
        self.write("job/4-other/rank.json", '{"ranking": [')
        self.write("job/5-other/summary.json", "[1]")
        missing = self.missing(self.page())
        self.assertIn("4-other/rank.json", missing)
        self.assertIn("5-other/summary.json", missing)

    def test_older_results(self):
        self.write("job/1-rank/rank.json", '{"ranking": [{"fault": "ball_of_wool", "share": 0.7}, {"share": "much"}, 3]}')
        self.write("job/2-accept/accept.json", '{"pass": true}')
        page = visible(self.page())
        self.assertIn("ball of wool", page)
        self.assertIn("PASS", page)

    def test_markup(self):
        bad = '<script>alert("1")</script>\' onload='
        self.replace("job.ini", "A. Invented", bad)
        self.write("job/6-x/summary.json", '{"name": "<img src=x>", "outcome": "<b>", "peak": {}}')
        self.write('job/7-x/<i>"a" b.png', b"\x89PNG\r\n\x1a\n")
        page = self.page()
        self.assertNotIn("<script", page)
        self.assertNotIn("<img src=x", page)
        self.assertNotIn("<i>", page)
        self.assertIn("&lt;script&gt;alert(&quot;1&quot;)", page)

    def test_photo_that_is_none(self):
        self.append("job.ini", "")
        self.replace("job.ini", "photos/plate.svg =", "before.csv =")
        self.assertIn("before.csv", self.missing(self.page()))

    def test_mistake_in_the_job(self):
        self.append("job.ini", "[fuond]\nx = y\n")
        done = self.call("report", "job")
        self.assertEqual(done.returncode, 3)
        self.assertRegex(done.stderr, r"job\.ini:\d+:\d+: unknown section \[fuond\].*nearest is \[found\]")
        self.assertFalse(os.path.exists(self.html))

    def test_valid(self):
        self.page()
        self.assertEqual(browser.errors_of_html5lib(self.html), "[]")

    def test_tidy(self):
        self.page()
        self.assertEqual(browser.complaints_of_tidy(self.html), [])

    def test_prints_to_two_sheets(self):
        for more, width in (((), 595), (("--units", "trade"), 612)):
            self.page(*more)
            pages, (w, _) = browser.sheets(self.html)
            self.assertLessEqual(pages, 2)
            self.assertAlmostEqual(w, width, delta=1)

    def test_screen_reader(self):
        self.page()
        self.assertEqual(browser.violations_of_axe(self.html), [])


class Odd(Case):
    """Folders that nobody meant well."""

    def test_unit_that_is_no_word(self):
        self.write("job/summary.json", '{"a": {"value": 1, "unit": 3}, "b": {"value": 1, "unit": null}}')
        self.page()

    def test_markup_in_names(self):
        self.write('job/x" onerror="alert(1).png', b"\x89PNG\r\n\x1a\n")
        self.write("job/rank.json", '{"answer": "<script>alert(2)</script>", "<b>": "\\"q\\""}')
        page = self.page()
        self.assertNotIn('" onerror', page)
        self.assertNotIn("<script", page)
        self.assertNotIn("<b>", page)

    def test_all_of_many_files(self):
        for i in range(300):
            self.write(f"job/run{i}/summary.json", f'{{"answer": "number {i} of the runs"}}')
            self.write(f"job/run{i}/series.csv", "time[s]\n")
        page = self.page()
        for i in range(300):
            self.assertIn(f"number {i} of the runs", page)

    def test_no_results(self):
        self.write("job/a.txt", "nothing")
        done = self.call("report", "job")
        self.assertEqual(done.returncode, 3)
        self.assertIn("no results in this folder", done.stderr)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0]] + sys.argv[3:])
