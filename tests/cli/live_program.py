#!/usr/bin/env python3
"""Live logs on the standard input, from a writer that is slow, stops, or is killed: live_program.py PROGRAM SCENARIOS [CASE]."""
import json
import os
import queue
import signal
import subprocess
import sys
import tempfile
import threading
import time
import unittest

PROGRAM, SCENARIOS = os.path.abspath(sys.argv[1]), os.path.abspath(sys.argv[2])
VEHICLE = os.path.join(SCENARIOS, "vehicle-logs.ini")
SHORT = os.path.join(SCENARIOS, "logs", "bay-short-of-charge.csv")
PATIENCE = 120  # s


class Live:
    """The program with its input held open; its remarks come line by line."""

    def __init__(self, folder, *arguments):
        self.folder = folder
        self.process = subprocess.Popen([PROGRAM, *arguments, "--vehicle", VEHICLE, "-o", folder, "--plot", "none"],
                                        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        self.lines, self.remarks = queue.Queue(), []
        for pipe, take in ((self.process.stderr, self.lines.put), (self.process.stdout, lambda line: None)):
            threading.Thread(target=lambda pipe=pipe, take=take: [take(line) for line in pipe], daemon=True).start()

    def feed(self, text):
        self.process.stdin.write(text)
        self.process.stdin.flush()

    def wait_for(self, words):
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            try:
                line = self.lines.get(timeout=0.2)
            except queue.Empty:
                if self.process.poll() is not None and self.lines.empty():
                    break
                continue
            self.remarks.append(line)
            if words in line:
                return line
        raise AssertionError(f"'{words}' was not said: {self.remarks}")

    def end(self, expect=0):
        self.process.stdin.close()
        code = self.process.wait(timeout=PATIENCE)
        if code != expect:
            raise AssertionError(f"exit {code}, not {expect}: {self.remarks}")

    def summary(self, name="summary.json"):
        with open(os.path.join(self.folder, name), encoding="utf-8") as f:
            return json.load(f)


def rows(path=SHORT):
    with open(path, encoding="utf-8") as f:
        return f.readlines()


def fast_rows(seconds, rate):
    """The first rows of the log at a higher rate: each second's readings again with times between."""
    lines = rows()
    out = [lines[0]]
    for line in lines[1:1 + seconds]:
        clock, rest = line.split(",", 1)
        out += [f"{float(clock) + k / rate:.6g},{rest}" for k in range(rate)]
    return out


class Replay(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = folder.name

    def test_says_where_they_part_while_rows_come(self):
        live = Live(self.folder, "replay", "-", "--set", "compressor.indicated_efficiency=0.6")
        live.feed("".join(rows()[:700]))
        line = live.wait_for("they part")
        self.assertIn("discharge_temperature reads", line)
        self.assertIn("below its prediction", line)
        self.assertIsNone(live.process.poll())
        self.assertFalse(os.path.exists(os.path.join(self.folder, "series.csv")))
        live.end()
        self.assertEqual(live.summary()["outcome"], "survives")

    def test_a_row_is_answered_within_seconds_of_the_log(self):
        """With 1 row a second the replay is never more than 10 rows behind: what is seen parting at 300 s is said at 310."""
        live = Live(self.folder, "replay", "-")
        lines = rows()
        at = lines[0].split(",").index("discharge_temperature[degC]")
        hot = []
        for line in lines[1:]:
            cells = line.split(",")
            if float(cells[0]) > 300 and cells[at]:
                cells[at] = "180"
            hot.append(",".join(cells))
        live.feed(lines[0] + "".join(line for line in hot if float(line.split(",")[0]) <= 320))
        self.assertLessEqual(float(live.wait_for("discharge_temperature reads").split()[0]), 312)
        live.end()

    def test_keeps_up_with_100_rows_a_second(self):
        text = fast_rows(60, 100)
        live = Live(self.folder, "replay", "-")
        begin = time.monotonic()
        live.feed("".join(text))
        live.end()
        self.assertLess(time.monotonic() - begin, 30)  # 60 s of readings
        with open(os.path.join(self.folder, "series.csv"), encoding="utf-8") as f:
            self.assertEqual(sum(1 for _ in f), len(text))

    def test_half_a_line_at_the_end_is_left_out(self):
        live = Live(self.folder, "replay", "-")
        live.feed("".join(rows()[:300]) + "300.0,3.1,12")
        live.end()
        self.assertIn("the log ends in the middle of a line, which is left out", live.summary()["notes"])

    def test_half_a_line_waits_for_its_rest(self):
        live = Live(self.folder, "replay", "-")
        lines = rows()
        live.feed("".join(lines[:200]) + lines[200][:7])
        time.sleep(0.3)
        live.feed(lines[200][7:] + lines[201])
        live.end()
        with open(os.path.join(self.folder, "series.csv"), encoding="utf-8") as f:
            self.assertEqual(sum(1 for _ in f), 202)

    def test_a_bad_row_is_named(self):
        live = Live(self.folder, "replay", "-")
        lines = rows()
        live.feed("".join(lines[:100]) + lines[99])
        live.wait_for("-:101:1: time 99 s a second time")
        live.end(3)
        self.assertFalse(os.path.exists(os.path.join(self.folder, "series.csv")))

    def test_nothing_comes(self):
        for text in ("", rows()[0], "".join(rows()[:2])):
            with self.subTest(text=text[:20]):
                live = Live(self.folder, "replay", "-")
                live.feed(text)
                live.end(3)

    def test_interrupted_keeps_what_came(self):
        live = Live(self.folder, "replay", "-", "--set", "compressor.indicated_efficiency=0.6")
        live.feed("".join(rows()[:700]))
        live.wait_for("they part")
        live.process.send_signal(signal.SIGINT)
        live.process.wait(timeout=PATIENCE)
        self.assertIn(live.process.returncode, (0, 4))
        self.assertGreater(live.summary()["peak"]["rotor_temperature"]["value"], 300)

    def test_nobody_reads_the_answer(self):
        """A broken pipe is an output that cannot be written (5), and nothing to be said; the results folder is whole all the same."""
        reader, writer = os.pipe()
        os.close(reader)
        with open(SHORT, encoding="utf-8") as log:
            done = subprocess.run([PROGRAM, "replay", "-", "--vehicle", VEHICLE, "-o", self.folder, "--plot", "none"],
                                  stdin=log, stdout=writer, stderr=subprocess.PIPE, timeout=PATIENCE, check=False)
        os.close(writer)
        self.assertEqual(done.returncode, 5, done.stderr)
        self.assertNotIn(b"swashheat: ", done.stderr)
        self.assertTrue(os.path.exists(os.path.join(self.folder, "summary.json")))


class Rank(unittest.TestCase):
    def test_the_ranking_firms_up(self):
        lines = rows()
        with tempfile.TemporaryDirectory() as folder:
            live = Live(folder, "rank", "-")
            live.feed("".join(lines[:400]))
            live.wait_for("discharge_pressure reads")  # a third of the truth's charge: low pressure soon
            time.sleep(2.5)  # slower than any file
            live.feed("".join(lines[400:410]))
            time.sleep(1)
            live.feed("".join(lines[410:700]) + lines[700][:9])  # taken while the causes are ranked
            live.process.stdin.close()
            live.wait_for("so far undercharge")
            self.assertEqual(live.process.wait(timeout=PATIENCE), 0)
            ranking = live.summary("rank.json")
        self.assertEqual(ranking["ranking"][0]["fault"], "undercharge")
        self.assertIn("the log ends in the middle of a line, which is left out", ranking["notes"])


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
