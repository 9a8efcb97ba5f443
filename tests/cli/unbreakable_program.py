"""What an attacker or a failing system may do to the program: names that are commands, descriptors that are closed, threads that
cannot be made, files that are links, two runs in one folder, a gnuplot that hangs, signals.

Usage: unbreakable_program.py PROGRAM SCENARIOS_FOLDER TEST_CLASS
"""
import json
import os
import re
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import unittest

PROGRAM, SCENARIOS = (os.path.abspath(p) for p in sys.argv[1:3])
SANITIZED = bool(os.environ.get("SWH_SANITIZE"))
QUICK = "[scenario]\nvehicle = van.ini\ntitle = A short story\n[run]\nduration = 60 s\n"


class Case(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp(prefix="swh_")
        self.addCleanup(shutil.rmtree, self.folder)
        shutil.copy(os.path.join(SCENARIOS, "van-valve.ini"), self.path("van.ini"))
        shutil.copy(os.path.join(SCENARIOS, "vehicle-logs.ini"), self.path("vehicle-logs.ini"))
        self.write("q.ini", QUICK)

    def path(self, name):
        return os.path.join(self.folder, name)

    def write(self, name, text):
        os.makedirs(os.path.dirname(self.path(name)), exist_ok=True)
        with open(self.path(name), "wb") as f:
            f.write(text if isinstance(text, bytes) else text.encode())

    def read(self, name):
        with open(self.path(name), "rb") as f:
            return f.read()

    def call(self, *arguments, timeout=300, **options):
        return subprocess.run([PROGRAM, *arguments], cwd=self.folder, capture_output=True, timeout=timeout, **options)

    def ends(self, status, *arguments, words=(), **options):
        done = self.call(*arguments, **options)
        errors = done.stderr.decode(errors="replace")
        self.assertEqual(done.returncode, status, errors)
        for w in words:
            self.assertIn(w, errors)
        return done

    def everything(self):
        return {os.path.join(base, f) for base, _, files in os.walk(self.folder) for f in files}

    def log(self, name, head="Time,suction_pressure[barg],discharge_pressure[barg],suction_temperature[degC],discharge_temperature[degC],"
                             "compressor_speed[rpm],clutch[1]", rows=90, last=""):
        text = head + "\n" + "".join(f"{t},{2.2 + 0.001 * (t % 7):.3f},{14.5 + 0.01 * (t % 5):.2f},{18 + 0.1 * (t % 3):.1f},80,1500,1\n"
                                     for t in range(rows)) + last
        self.write(name, text)

    def gnuplot(self, script):
        """A gnuplot of our own, first in the PATH."""
        self.write("bin/gnuplot", "#!/bin/sh\n" + script + "\n")
        os.chmod(self.path("bin/gnuplot"), 0o755)
        return {**os.environ, "PATH": self.path("bin") + ":" + os.environ["PATH"]}


class Names(Case):
    """Names of files and folders are data wherever they go."""

    def test_a_folder_that_looks_like_a_command(self):
        for folder in ["|touch PWN", "'; system(\"touch PWN\") #", "`touch PWN`", "$(touch PWN)", "~", "a'b\"c"]:
            self.ends(0, "run", "q.ini", "-q", "-o", folder)
            self.assertFalse(os.path.exists(self.path("PWN")), folder)
            pictures = [f for f in os.listdir(self.path(folder)) if f.endswith(".png")]
            self.assertGreater(len(pictures), 3, folder)

    def test_a_log_whose_name_is_a_script(self):
        name = 's\nsystem("touch PWN")\n#.csv'
        self.log(name)
        self.ends(2, "replay", name, "--vehicle", "vehicle-logs.ini", "-q", words=["control character"])
        self.assertFalse(os.path.exists(self.path("PWN")))
        for name in ["|touch PWN.csv", "';system('touch PWN');'.csv"]:
            self.log(name)
            self.ends(0, "replay", name, "--vehicle", "vehicle-logs.ini", "-q")
            self.assertFalse(os.path.exists(self.path("PWN")), name)


class Descriptors(Case):
    def closing(self, fds, *arguments, **options):
        text = " ".join(f"{fd}>&-" if fd else "0<&-" for fd in fds)
        return subprocess.run(["sh", "-c", f'exec "$@" {text}', "sh", PROGRAM, *arguments], cwd=self.folder, timeout=300, **options)

    def test_messages_stay_out_of_results(self):
        log = os.path.join(SCENARIOS, "logs", "bay-short-of-charge.csv")
        with open(log, "rb") as f:
            done = self.closing([2], "replay", "-", "--vehicle", "vehicle-logs.ini", "--plot", "none", "-o", "o", stdin=f,
                                stdout=subprocess.DEVNULL)
        self.assertEqual(done.returncode, 0)
        self.assertNotIn(b"prediction", self.read("o/series.csv"))

    def test_quiet_needs_no_standard_output(self):
        self.assertEqual(self.closing([1], "run", "q.ini", "-q", "--plot", "none", "-o", "o", stderr=subprocess.PIPE).returncode, 0)
        done = self.closing([1], "run", "q.ini", "--plot", "none", "-o", "o", stderr=subprocess.PIPE)
        self.assertEqual(done.returncode, 5, done.stderr)
        self.assertEqual(self.closing([0, 1, 2], "run", "q.ini", "-q", "-o", "p").returncode, 0)
        self.assertTrue(os.path.exists(self.path("p/body_temperatures.png")))

    def test_no_standard_input(self):
        done = self.closing([0], "check", "-", stderr=subprocess.PIPE, stdout=subprocess.PIPE)
        self.assertEqual(done.returncode, 3, done.stderr)


class Folder(Case):
    def test_links_are_not_followed(self):
        """The names of files in the making cannot be foretold, so there is nothing to lead astray; final names are replaced."""
        self.write("precious", "precious")
        os.mkdir(self.path("o"))
        for name in ["series.csv", "summary.json", "body_temperatures.png"]:
            os.symlink("../precious", self.path("o/" + name))
        script = 'ln -s ../precious o/.series.csv.$$; ln -s ../precious o/body_temperatures.png.$$.part; exec "$@"'
        done = subprocess.run(["sh", "-c", script, "sh", PROGRAM, "run", "q.ini", "-o", "o", "-q"], cwd=self.folder, timeout=300)
        self.assertEqual(done.returncode, 0)
        self.assertEqual(self.read("precious"), b"precious")
        self.assertFalse(os.path.islink(self.path("o/series.csv")))

    def test_what_killed_runs_left_is_removed(self):
        self.write("slow.ini", QUICK.replace("60 s", "100000 s"))
        p = subprocess.Popen([PROGRAM, "run", "slow.ini", "-o", "o", "-q"], cwd=self.folder)
        for _ in range(500):
            time.sleep(0.02)
            if os.path.isdir(self.path("o")) and len(os.listdir(self.path("o"))) >= 2:
                break
        p.kill()
        p.wait()
        self.assertTrue(any(f.endswith(".part") for f in os.listdir(self.path("o"))))
        self.write("o/.mine.part", "not ours")
        self.ends(0, "run", "q.ini", "-o", "o", "-q", "--plot", "none")
        self.assertEqual(sorted(os.listdir(self.path("o"))), [".mine.part", "case.ini", "events.csv", "provenance.json", "series.csv", "summary.json"])

    def test_long_names(self):
        """A name is taken whole or refused, never cut."""
        for n, status in ((100, 0), (200, 0), (240, 5), (300, 5)):
            name = "n" * n + ".ini"
            self.ends(status, "vehicle", "-o", name, "--refrigerant", "R-134a", "--charge", "740 g", "--expansion", "TXV", "-q",
                      words=["File name too long"] if status else [])
            self.assertEqual(os.path.exists(self.path(name)) if n < 250 else False, status == 0)
        self.assertFalse([f for f in os.listdir(self.folder) if f.endswith(".part")])

    def test_a_second_run_is_refused(self):
        self.write("slow.ini", QUICK.replace("60 s", "100000 s"))
        p = subprocess.Popen([PROGRAM, "run", "slow.ini", "-o", "o", "-q"], cwd=self.folder)
        for _ in range(500):
            time.sleep(0.02)
            if os.path.isdir(self.path("o")) and len(os.listdir(self.path("o"))) >= 2:
                break
        self.ends(5, "run", "q.ini", "-o", "o", "-q", "--plot", "none", words=["another process is at work", "o"])
        self.assertEqual(p.poll(), None)
        p.kill()
        p.wait()
        self.ends(0, "run", "q.ini", "-o", "o", "-q", "--plot", "none")

    def test_all_or_nothing(self):
        """One of the names cannot be had: what stood there before stands there still."""
        self.ends(0, "run", "q.ini", "-o", "o", "-q", "--plot", "none")
        before = {f: self.read("o/" + f) for f in ["series.csv", "events.csv"]}
        os.remove(self.path("o/summary.json"))
        os.makedirs(self.path("o/summary.json/x"))
        self.ends(5, "run", "q.ini", "-o", "o", "-q", "--plot", "none", "--set", "conditions.ambient_temperature=40 degC",
                  words=["summary.json"])
        self.assertEqual({f: self.read("o/" + f) for f in before}, before)
        self.assertEqual(sorted(os.listdir(self.path("o"))), ["case.ini", "events.csv", "provenance.json", "series.csv", "summary.json"])
        os.rename(self.path("o/events.csv"), self.path("events"))
        os.remove(self.path("o/series.csv"))
        self.ends(5, "run", "q.ini", "-o", "o", "-q", "--plot", "none")
        self.assertEqual(sorted(os.listdir(self.path("o"))), ["case.ini", "provenance.json", "summary.json"])


class Gnuplot(Case):
    def run_with(self, script, status, *words, **options):
        return self.ends(status, "run", "q.ini", "-o", "o", "-q", words=words, env=self.gnuplot(script), **options)

    def clean(self):
        self.assertFalse([f for f in os.listdir(self.path("o")) if f.endswith(".part") or f.endswith(".png")])
        self.assertTrue(os.path.exists(self.path("o/summary.json")))

    def test_fails_or_floods(self):
        for script, words in [("exit 3", "could not draw"), ("cat >/dev/null; echo nonsense >&2; exit 1", "nonsense"),
                              ("yes >&2", "gnuplot"), ("exit 0", "gnuplot"), ("cat >/dev/null", "drew nothing"),
                              ("head -c 300000000 /dev/zero", "more than 256 MB"), ("kill -9 $$", "signal 9")]:
            if script == "yes >&2":
                continue  # it ends with the time limit only: see test_plots.c
            self.run_with(script, 5, words)
            self.clean()

    def test_a_signal_ends_the_drawing(self):
        for number in [signal.SIGINT, signal.SIGTERM]:
            p = subprocess.Popen([PROGRAM, "run", "q.ini", "-o", "o", "-q"], cwd=self.folder, stderr=subprocess.PIPE,
                                 env=self.gnuplot("echo $$ >pid; sleep 1000"))
            for _ in range(500):
                time.sleep(0.02)
                if os.path.exists(self.path("pid")) and self.read("pid"):
                    break
            began = time.time()
            p.send_signal(number)
            self.assertEqual(p.wait(20), 4)
            self.assertIn(b"interrupted while pictures were drawn", p.stderr.read())
            p.stderr.close()
            self.assertLess(time.time() - began, 10)
            self.assertFalse(os.path.exists("/proc/" + self.read("pid").decode().strip()))
            os.remove(self.path("pid"))
            self.clean()


class Text(Case):
    """Titles, headers and names come out as valid UTF-8, without escape sequences, wherever they go."""
    ESCAPE = "\x1b]0;owned\x07"

    def clean(self, done):
        for text in (done.stdout, done.stderr):
            text.decode()
            self.assertFalse([c for c in text if c < 32 and c not in (9, 10, 13)], text)

    def test_escapes(self):
        self.log("log.csv", head="Time,suction_pressure[barg],discharge_pressure[barg],suction_temperature[degC],"
                                 "discharge_temperature[degC],compressor_speed[rpm],clutch[1],\x1b[31mred\x1b[2J\x07\u009b31m")
        self.write("log.csv", self.read("log.csv").replace(b"\n", b",\n").replace(b"\xc2\x9b31m,\n", b"\xc2\x9b31m\n", 1))
        done = self.ends(0, "check", "log.csv")
        self.assertIn(b"red", done.stdout)
        self.clean(done)
        self.clean(self.ends(2, "run", "q.ini", "-q", "--set", "scenario.title=" + self.ESCAPE))
        self.write("bad.ini", QUICK.replace("A short story", "A " + self.ESCAPE))
        self.clean(self.ends(3, "run", "bad.ini", words=["bad.ini:3:", "control character"]))

    def test_other_encodings(self):
        """Latin-1 in a header, a title and a file's name: notes and names stay, in valid UTF-8."""
        name = b"caf\xe9.csv"
        self.log("log.csv", head="Time,suction_pressure[barg],discharge_pressure[barg],suction_temperature[degC],"
                                 "discharge_temperature[degC],compressor_speed[rpm],clutch[1],Temp\u00e9rature")
        text = self.read("log.csv").decode().replace("1500,1\n", "1500,1,5\n").encode("latin-1")
        with open(os.path.join(os.fsencode(self.folder), name), "wb") as f:
            f.write(text)
        done = subprocess.run([PROGRAM, "replay", name, "--vehicle", "vehicle-logs.ini", "-o", "o", "--plot", "svg"], cwd=self.folder,
                              capture_output=True, timeout=300)
        self.assertEqual(done.returncode, 0, done.stderr)
        self.clean(done)
        summary = json.loads(self.read("o/summary.json"))
        self.assertEqual(summary["scenario"], "caf?.csv")
        self.assertTrue(any("Temp?rature" in n for n in summary["notes"]), summary["notes"])
        self.svg("o")
        self.ends(0, "report", "o", "-q")
        self.read("o/report.html").decode()

    def svg(self, folder):
        import xml.dom.minidom
        pictures = [f for f in os.listdir(self.path(folder)) if f.endswith(".svg")]
        self.assertGreater(len(pictures), 2)
        for picture in pictures:
            xml.dom.minidom.parseString(self.read(os.path.join(folder, picture)))

    def test_long_titles_are_cut_between_letters(self):
        title = "\u00e9" * 85
        self.write("long.ini", QUICK.replace("A short story", title))
        self.ends(0, "run", "long.ini", "-o", "o", "-q", "--plot", "svg", "--set", "conditions.ambient_temperature=41 degC",
                  "--set", "charge.fraction=0.9", "--set", "conditions.ambient_humidity=0.3")
        self.svg("o")
        name = json.loads(self.read("o/summary.json"))["name"]
        self.assertTrue(name.startswith(title[:60]), name)
        for command in (["sweep", "long.ini", "--vary", "charge.fraction=0.9..1:2", "-q", "-o", "s", "--plot", "none"],
                        ["run", "long.ini", "--ensemble", "2", "-q", "-o", "e", "--plot", "none"]):
            self.call(*command)
        self.assertTrue(json.loads(self.read("s/sweep.json"))["scenario"].startswith(title[:60]))

    def test_a_calibrated_vehicle_reads_back(self):
        """However long the names of the logs are."""
        logs = []
        for i in range(3):
            logs.append(f"{'a-rather-long-name-' * 6}{i}.csv")
            shutil.copy(os.path.join(SCENARIOS, "logs", "bay-healthy.csv"), self.path(logs[-1]))
        self.ends(0, "fit", *logs[:2], "--vehicle", "vehicle-logs.ini", "--free", "compressor.ua_discharge_heads", "-q", "-o", "o", "--plot", "none")
        self.ends(0, "check", "o/vehicle.ini", "-q")


class Limits(Case):
    """Files without end, without sense, or of another kind."""

    def test_endless(self):
        self.log("log.csv")
        began = time.time()
        self.ends(3, "replay", "log.csv", "--vehicle", "vehicle-logs.ini", "--columns", "/dev/zero", words=["/dev/zero"], timeout=60)
        self.write("zero.ini", "[scenario]\nvehicle = /dev/zero\n")
        self.ends(3, "run", "zero.ini", words=["/dev/zero"], timeout=60)
        for device in ["/dev/zero", "/dev/urandom"]:
            self.ends(3, "check", device, words=[device], timeout=60)
        self.assertLess(time.time() - began, 30)

    def test_many_lines(self):
        self.write("many.ini", "[scenario]\n" + "".join(f"k{i} = 1\n" for i in range(300000)))
        began = time.time()
        self.ends(3, "check", "many.ini", words=["5000 lines"])
        self.assertLess(time.time() - began, 10)

    def test_clocks(self):
        """A clock's hours have limits as numbers have."""
        for last in ["1e308:00:00", "999999999:00:00", "99999999999999999999:00:00"]:
            self.log("log.csv", last=f"{last},2.2,14.5,18,80,1500,1\n")
            self.write("log.csv", self.read("log.csv").replace(b"\n0,", b"\n00:00:00,"))
            text = self.read("log.csv").decode().splitlines()
            rows = [text[0]] + [f"00:{i // 60:02d}:{i % 60:02d}," + r.split(",", 1)[1] for i, r in enumerate(text[1:-1])] + [text[-1]]
            self.write("log.csv", "\n".join(rows) + "\n")
            done = self.ends(3, "check", "log.csv", words=["log.csv:92", "time"])
            self.assertNotIn(b"inf", done.stdout + done.stderr)

    def test_a_pipe_is_read_once(self):
        self.log("log.csv")
        os.mkfifo(self.path("pipe"))
        p = subprocess.Popen(["sh", "-c", "cat log.csv > pipe"], cwd=self.folder)
        done = self.ends(0, "check", "pipe", timeout=30)
        p.wait(10)
        self.assertIn(b"90 rows", done.stdout)

    def test_names_of_dots(self):
        for name in ["...csv", "..csv", ".csv", "..."]:
            self.log(name)
            done = self.ends(0, "replay", name, "--vehicle", "vehicle-logs.ini", "--plot", "none")
            self.assertIn(b"Results: results/log\n", done.stdout)
        self.assertFalse(os.path.exists(self.path("series.csv")) or os.path.exists(self.path("results/series.csv")))

    def test_zero_bytes(self):
        self.log("log.csv", head="Time,suction_pressure[barg],discharge_pressure[barg],suction_temperature[degC],"
                                 "discharge_temperature[degC],compressor_speed[rpm],clutch[\0]")
        self.ends(3, "check", "log.csv", words=["log.csv:1:", "zero byte"])
        self.log("log.csv")
        self.write("log.csv", self.read("log.csv").decode().encode("utf-16-le"))
        self.ends(3, "check", "log.csv", words=["log.csv:1:", "UTF-16"])

    def test_limits_as_they_are_printed(self):
        head, *lines = self.ends(0, "list", "parameters").stdout.decode().splitlines()
        at = [head.index(title) for title in ("parameter", "lowest", "highest", "meaning")]
        listed = [{"parameter": line.split()[0], "lowest": line[at[1]:at[2]].strip(), "highest": line[at[2]:at[3]].strip()} for line in lines]
        self.assertGreater(len(listed), 200)
        wrong = []
        for p in listed:
            for end in ("lowest", "highest"):
                if p[end] == "-":
                    continue
                done = self.call("check", "q.ini", "-q", "--set", f"{p['parameter']}={p[end]}")
                if b"out of range" in done.stderr:
                    wrong.append((p["parameter"], end, done.stderr))
        self.assertEqual(wrong, [])
        self.ends(2, "check", "q.ini", "--set", "controls.high_open=58.988 barg", words=["out of range"])

    def test_rankings_of_others(self):
        """What plan reads back is held to what rank can have written."""
        def plan(status, **cause):
            causes = [{"fault": "fan_dead", "share": 0.6, "severity": 0.5, **cause}, {"fault": "healthy", "share": 0.4}]
            self.write("rank.json", json.dumps({"ranking": causes}))
            return self.ends(status, "plan", "--vehicle", "vehicle-logs.ini", "--from", "rank.json", "-q", "-o", "o", "--plot", "none").stderr
        for severity in (99, -5, 1e308, "0.5", True, None, [0.5]):
            self.assertIn(b"a severity that is no number from 0 to 1", plan(3, severity=severity))
        for name in ("undercharge+overcharge", "valve_flooding+valve_starving", "fan_dead+condenser_blocked", "fan_dead+fan_dead"):
            self.assertIn(b"undo or repeat each other", plan(3, fault=name, second_severity=0.5))
        for name in ("nobody", "fan_dead+nobody", "healthy+fan_dead", "fan_dead+"):
            self.assertIn(b"this program does not know", plan(3, fault=name, second_severity=0.5))
        self.assertFalse(os.path.exists(self.path("o")))
        plan(0, fault="undercharge+fan_dead", second_severity=0.5)

    def test_many_files(self):
        """A job's folder of some hundred files is read whole; one that is no job's, `report /`, is refused soon."""
        self.ends(0, "run", "q.ini", "-o", "r", "-q", "--plot", "none")
        for i in range(300):
            self.write(f"r/a/f{i:04d}.json", f'{{"k{i}": {i}}}')
        self.ends(0, "report", "r", "-q")
        self.assertEqual(len(set(re.findall(rb"f\d{4}\.json", self.read("r/report.html")))), 300)
        for i in range(4000):
            self.write(f"r/b/{i}.txt", "")
        os.remove(self.path("r/report.html"))
        errors = self.ends(3, "report", "r", words=["more files than a job can have"]).stderr
        self.assertEqual(errors.count(b"\n"), 1)
        self.assertFalse(os.path.exists(self.path("r/report.html")))

    def test_json_of_others(self):
        self.ends(0, "run", "q.ini", "-o", "r", "-q", "--plot", "none")
        self.write("r/deep.json", "[" * 100000)
        self.write("r/odd.json", '{"a":{"value":1,"unit":3},"b\\u0000":1,"c":"\\u001b[31m"}')
        with open(self.path("r/large.json"), "wb") as f:
            f.truncate(1 << 34)
        self.ends(0, "report", "r", "-q")
        self.assertNotIn(b"\x1b", self.read("r/report.html"))


class Ends(Case):
    """What ends a run is what the machine reached, not what the integrator tried on its way."""

    def run_with(self, status, *settings):
        sets = [a for s in settings for a in ("--set", s)]
        done = self.ends(status, "run", "q.ini", "-o", "o", "-q", "--plot", "none", *sets)
        return done, json.loads(self.read("o/summary.json"))

    def test_a_coil_hotter_than_its_fuse_stays_open(self):
        """A fuse is a one-way thing: above its temperature it is open, whether or not it was seen to get there."""
        _, results = self.run_with(0, "run.start_body_temperature=140 degC", "clutch.fuse_temperature=90 degC")
        self.assertEqual(results["outcome"], "protected")
        events = self.read("o/events.csv").decode().splitlines()
        self.assertTrue(events[1].startswith("0,fuse_open,413"), events)
        self.assertNotIn("clutch_on", "".join(events))
        _, results = self.run_with(0, "run.start_body_temperature=85 degC", "clutch.fuse_temperature=90 degC")
        self.assertNotIn("fuse_open", self.read("o/events.csv").decode().splitlines()[1])

    def test_cold_gas_is_not_called_burnt(self):
        """A tried state beyond the hot end of the tables is no overheated gas: the machine itself was cold."""
        self.write("q.ini", "[scenario]\nvehicle = van.ini\n[run]\nduration = 120 s\n[controls]\ncycling = none\nfan_off = 32.955 barg\n"
                   "[conditions]\nambient_temperature = -6.03 degC\nambient_humidity = 0.65\ncompressor_speed = 3942 rpm\nvehicle_speed = 0 km/h\n"
                   "sun = 357 W/m2\nblower = 0.34\nrecirculation = 0.58\ndoors_open = 0\n[condenser]\nair_pressure = 8.85948 bar\n"
                   "[receiver]\nvolume = 5 L\n[compressor]\nseal_length = 53.911 mm\n[freeze]\noil_supply = 1.5\n")
        done = self.call("run", "q.ini", "-o", "o", "-q", "--plot", "none")
        results = json.loads(self.read("o/summary.json"))
        hottest = results["peak"]["discharge_gas_temperature"]["value"]
        self.assertTrue(results["outcome"] != "overheated" or hottest > 500, (results["outcome"], hottest, done.stderr))


class Incomplete(Case):
    def test_no_answer_is_called_one(self):
        """A run that is stopped before its end says `incomplete`, never `survives`."""
        self.write("slow.ini", QUICK.replace("60 s", "200000 s"))
        p = subprocess.Popen([PROGRAM, "run", "slow.ini", "-o", "o", "--plot", "none"], cwd=self.folder, stdout=subprocess.PIPE,
                             stderr=subprocess.PIPE)
        for _ in range(500):
            time.sleep(0.02)
            parts = [f for f in os.listdir(self.path("o")) if f.startswith(".series")] if os.path.isdir(self.path("o")) else []
            if parts and os.path.getsize(self.path("o/" + parts[0])) > 100000:
                break
        p.send_signal(signal.SIGINT)
        out, err = p.communicate(timeout=60)
        self.assertEqual(p.returncode, 4, err)
        summary = json.loads(self.read("o/summary.json"))
        self.assertEqual(summary["outcome"], "incomplete")
        self.assertFalse(summary["complete"])
        self.assertIn(b"No answer", out)
        self.assertNotIn(b"survives", out)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
