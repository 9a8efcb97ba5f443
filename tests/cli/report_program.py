"""`report` as its user runs it: report_program.py PROGRAM SCENARIOS TEST_CLASS."""
import os
import shutil
import subprocess
import sys
import tempfile
import unittest

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
        self.assertNotIn("<b>", page.split("<section>", 1)[1])

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
