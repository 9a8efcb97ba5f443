#!/usr/bin/env python3
"""Fit, rank, accept, plan and report, as their user runs them: judge_program.py PROGRAM SCENARIOS [CASE].

The logs in scenarios/logs come from a separately written simulation with other equations; their README holds the truth. The
fits that must find a parameter again use logs of this program's own runs (a check of the fitting, not of the physics)."""
import configparser
import csv
import json
import os
import random
import subprocess
import sys
import tempfile
import unittest

PROGRAM, SCENARIOS = os.path.abspath(sys.argv[1]), os.path.abspath(sys.argv[2])
VEHICLE = os.path.join(SCENARIOS, "vehicle-logs.ini")


def run(*arguments, expect=0, env=None):
    done = subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, timeout=300, env=env)
    if done.returncode != expect:
        raise AssertionError(f"exit {done.returncode}, not {expect}: {arguments}\n{done.stderr}")
    return done


def results(folder):
    """Files of a folder of results; not what says where they come from (see repeat_program.py)."""
    return sorted(f for f in os.listdir(folder) if f not in ("case.ini", "provenance.json") and not f.startswith("input-"))


def rank(folder, log, *more):
    run("rank", os.path.join(SCENARIOS, "logs", log), "--vehicle", VEHICLE, "-o", folder, "-q", "--plot", "none", *more)
    with open(os.path.join(folder, "rank.json"), encoding="utf-8") as f:
        return json.load(f)


class Rank(unittest.TestCase):
    """Truths: scenarios/logs/README.md."""

    def check(self, log, truth, low, high):
        with tempfile.TemporaryDirectory() as folder:
            ranking = rank(folder, log)
        causes = ranking["ranking"]
        self.assertAlmostEqual(sum(c["share"] for c in causes), 1, places=6)
        self.assertEqual(sorted((c["share"] for c in causes), reverse=True), [c["share"] for c in causes])
        self.assertIn("healthy", [c["fault"] for c in causes])
        self.assertEqual(causes[0]["fault"], truth)
        self.assertTrue(low <= causes[0]["severity"] <= high, causes[0])
        self.assertTrue(causes[0]["severity_low"] <= causes[0]["severity"] <= causes[0]["severity_high"])
        self.assertIn("channel", ranking["next_reading"])
        for cause in causes:  # what was not looked at closely says nothing
            if cause["dropped_early"]:
                self.assertEqual((cause["speaks_for"], cause["speaks_against"], cause["channels"]), ("", "", {}), cause["fault"])

    def test_short_of_charge(self):
        self.check("bay-short-of-charge.csv", "undercharge", 0.40, 0.80)

    def test_blocked_condenser(self):
        self.check("bay-blocked-condenser.csv", "condenser_blocked", 0.25, 0.60)

    def shares(self, fault, severity, probe):
        """Shares of the causes without and with a reading of `probe`, from a run of the program's own: a check of the judging."""
        with tempfile.TemporaryDirectory() as folder:
            scenario, series = os.path.join(folder, "hot.ini"), os.path.join(folder, "hot", "series.csv")
            with open(scenario, "w", encoding="utf-8") as f:
                print(f"[scenario]\nvehicle = {VEHICLE}\n[conditions]\ndoors_open = 1\nambient_temperature = 33 degC\n"
                      f"compressor_speed = 1500 rpm\n[run]\nduration = 900 s\n[fault {fault}]\nseverity = {severity}", file=f)
            run("run", scenario, "--plot", "none", "-q", "-o", os.path.dirname(series))
            usual = ("time", "suction_pressure", "discharge_pressure", "discharge_temperature", "liquid_line_temperature",
                     "vent_temperature", "cabin_temperature", "ambient_temperature", "compressor_speed", "clutch")
            result = []
            for reading in (usual, usual + (probe,)):
                log = os.path.join(folder, f"log-{len(reading)}.csv")
                with open(series, encoding="utf-8") as f, open(log, "w", encoding="utf-8") as out:
                    lines = list(csv.reader(f))
                    kept = [k for k, head in enumerate(lines[0]) if head.split("[")[0] in reading]
                    for line in lines:
                        print(",".join(line[k] for k in kept), file=out)
                result.append({c["fault"]: c["share"] for c in rank(folder, log)["ranking"]})
            return result

    def test_a_probe_before_the_condenser_tells_hot_air_from_little_air(self):
        """Hot air drawn in again and a covered face do the same to gauges and pipes of a standing vehicle; the air before the
        face tells them apart (common practice, no source)."""
        without, probed = self.shares("hot_air_recirculation", 0.7, "condenser_air_in_temperature")
        self.assertLess(without["hot_air_recirculation"], 0.5)
        self.assertGreater(probed["hot_air_recirculation"], 0.9)

    def test_a_second_clamp_tells_a_narrow_line_from_a_starving_valve(self):
        """Both throttle the same flow; a line, drier or screen that throttles is cold behind the narrow place, a valve is not
        (common practice, no source). Not if they throttle little: the liquid then stays liquid behind either."""
        without, clamped = self.shares("liquid_line_restricted", 0.75, "valve_inlet_temperature")
        self.assertLess(without["liquid_line_restricted"], 0.7)
        self.assertGreater(clamped["liquid_line_restricted"], 0.9)
        _, clamped = self.shares("valve_starving", 0.75, "valve_inlet_temperature")
        self.assertGreater(clamped["valve_starving"], 0.9)


class Bench(unittest.TestCase):
    def test_contradiction_is_refused(self):
        with tempfile.TemporaryDirectory() as folder:
            findings = os.path.join(folder, "findings.ini")
            with open(findings, "w", encoding="utf-8") as f:
                f.write("[findings]\nshoe_seized = yes\ncoating_lost = no\n")
            done = run("rank", os.path.join(SCENARIOS, "logs", "bay-healthy.csv"), "--vehicle", VEHICLE, "-o",
                       folder, "--bench", findings, expect=3)
        self.assertIn("contradict", done.stderr)

    def test_unknown_finding_names_the_nearest(self):
        with tempfile.TemporaryDirectory() as folder:
            findings = os.path.join(folder, "findings.ini")
            with open(findings, "w", encoding="utf-8") as f:
                f.write("[findings]\nshoe_siezed = yes\n")
            done = run("rank", os.path.join(SCENARIOS, "logs", "bay-healthy.csv"), "--vehicle", VEHICLE, "-o",
                       folder, "--bench", findings, expect=3)
        self.assertIn("findings.ini:2", done.stderr)
        self.assertIn("shoe_seized", done.stderr)


class Plan(unittest.TestCase):
    """What a first share between two causes leads to: a test at which their readings lie apart."""

    def test_from_a_ranking(self):
        causes = [{"fault": "undercharge", "share": 0.6, "severity": 0.5}, {"fault": "valve_starving", "share": 0.4, "severity": 0.5}]
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "rank.json")
            with open(path, "w", encoding="utf-8") as f:
                json.dump({"ranking": causes}, f)
            words = run("plan", "--vehicle", VEHICLE, "--from", path, "-o", folder).stdout
            with open(os.path.join(folder, "plan.json"), encoding="utf-8") as f:
                plan = json.load(f)
        tests = plan["tests"]
        safe = [t["separation"] for t in tests if not t["careful"]]
        self.assertEqual(sorted(safe, reverse=True), safe)
        values = [tests[0]["expected"][c["fault"]][tests[0]["best_reading"]]["value"] for c in causes]
        self.assertNotAlmostEqual(values[0], values[1], places=1)
        # common practice, no source: little charge leaves no liquid to cool below saturation, a starving valve backs it up
        idle = next(t for t in tests if t["test"] == "fast_idle")["expected"]
        self.assertGreater(idle["undercharge"]["liquid_line_temperature"]["value"],
                           idle["valve_starving"]["liquid_line_temperature"]["value"])
        for word in ("Never bridge a pressure switch", "never vent", "Hold", "maker's manual"):
            self.assertIn(word, words)

    def test_near_a_limit_only_where_nothing_else_tells(self):
        causes = [{"fault": "condenser_blocked", "share": 0.6, "severity": 0.5},
                  {"fault": "hot_air_recirculation", "share": 0.4, "severity": 0.7}]
        with tempfile.TemporaryDirectory() as folder:
            with open(os.path.join(folder, "rank.json"), "w", encoding="utf-8") as f:
                json.dump({"ranking": causes}, f)
            run("plan", "--vehicle", VEHICLE, "--from", folder, "-o", folder, "-q")
            with open(os.path.join(folder, "plan.json"), encoding="utf-8") as f:
                tests = json.load(f)["tests"]
        self.assertFalse(tests[0]["careful"], tests[0])
        self.assertTrue(any(t["careful"] and t["separation"] > tests[0]["separation"] for t in tests))

    def test_what_is_wrong_in_a_folder_is_said_with_its_file(self):
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "rank.json")
            self.assertIn(path, run("plan", "--vehicle", VEHICLE, "--from", folder, "-o", folder, expect=3).stderr)
            with open(path, "w", encoding="utf-8") as f:
                f.write('{"ranking": [{"fault": "undercha')
            self.assertIn(path + ":1", run("plan", "--vehicle", VEHICLE, "--from", folder, "-o", folder, expect=3).stderr)

    def test_not_a_ranking(self):
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "rank.json")
            with open(path, "w", encoding="utf-8") as f:
                f.write('{"ranking": [{"fault": "bad_luck"}, {"fault": "healthy"}]}')
            done = run("plan", "--vehicle", VEHICLE, "--from", path, "-o", folder, expect=3)
        self.assertIn("rank.json", done.stderr)


class InFolder(unittest.TestCase):
    """Each test has an empty folder, which goes with it."""

    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = folder.name


class Logs(InFolder):
    """The healthy bay log, changed, judged by a command."""

    HEALTHY = os.path.join(SCENARIOS, "logs", "bay-healthy.csv")

    def log(self, change, rows=None, head=lambda name: name):
        """The healthy bay log with its rows, as dictionaries by channel, changed."""
        path = os.path.join(self.folder, "log.csv")
        with open(self.HEALTHY, encoding="utf-8") as f, open(path, "w", encoding="utf-8") as out:
            lines = list(csv.reader(f))
            names = [cell.split("[")[0] for cell in lines[0]]
            print(",".join(head(cell) for cell in lines[0]), file=out)
            for line in lines[1:rows]:
                cells = dict(zip(names, line))
                change(cells)
                print(",".join(cells[name] for name in names), file=out)
        return path

    def judge(self, command, log, *more, expect=0):
        out = os.path.join(self.folder, command)
        done = run(command, log, "--vehicle", VEHICLE, "-o", out, *more, expect=expect)
        name = os.path.join(out, {"replay": "summary"}.get(command, command) + ".json")
        if not os.path.exists(name):
            return done, None
        with open(name, encoding="utf-8") as f:
            return done, json.load(f)


class Trust(Logs):
    """What the vehicle file is worth, what must be known, and logs that no cause explains. Logs: the healthy one, changed."""

    def test_never_fitted_says_so_first_and_is_never_sure(self):
        log = os.path.join(SCENARIOS, "logs", "bay-short-of-charge.csv")
        done = run("rank", log, "--vehicle", os.path.join(SCENARIOS, "vehicle-papers.ini"), "-o", self.folder, "--plot", "none")
        self.assertTrue(done.stdout.startswith("This vehicle file was never fitted"), done.stdout[:200])
        with open(os.path.join(self.folder, "rank.json"), encoding="utf-8") as f:
            ranking = json.load(f)
        self.assertEqual(ranking["fitted"], "never")
        self.assertLess(ranking["ranking"][0]["share"], 0.8)

    def test_a_gauge_table_leaves_its_mark(self):
        table = os.path.join(self.folder, "table.csv")
        with open(table, "w", encoding="utf-8") as f:
            f.write("suction_pressure[barg],discharge_pressure[barg],vent_temperature[degC],ambient_temperature[degC],"
                    "ambient_humidity[%],compressor_speed[rpm],doors_open\n"
                    "1.6,11,5,21,60,1500,yes\n1.9,13.5,7.5,27,45,1500,yes\n2.3,16,10.5,32,35,1500,yes\n")
        run("fit", table, "--vehicle", os.path.join(SCENARIOS, "vehicle-papers.ini"), "-o", self.folder, "-q", "--plot", "none")
        vehicle = configparser.ConfigParser()
        vehicle.read(os.path.join(self.folder, "vehicle.ini"), encoding="utf-8")
        self.assertEqual(vehicle["fitted"]["rows"], "3")
        self.assertEqual(set(vehicle["fitted"]), {"rows", "suction_pressure", "discharge_pressure", "vent_temperature"})
        done = run("rank", table, "--vehicle", os.path.join(self.folder, "vehicle.ini"), "-o", self.folder, "--plot", "none")
        self.assertIn("fitted to 3 rows", done.stdout)
        with open(os.path.join(self.folder, "rank.json"), encoding="utf-8") as f:
            self.assertEqual(json.load(f)["fitted"], "rows")

    def test_what_drives_the_model_must_be_known(self):
        for channel, said in (("cabin_temperature", "doors"), ("compressor_speed", "compressor_speed"), ("ambient_temperature", "ambient")):
            log = self.log(lambda cells, channel=channel: cells.update({channel: ""}))
            done, ranking = self.judge("rank", log, "-q", "--plot", "none", expect=3)
            self.assertIsNone(ranking, channel)
            self.assertIn(said, done.stderr)

    SHEET = ({"low side[barg]": "1.6", "high side[barg]": "13", "vent[degC]": "14", "ambient[degC]": "30", "compressor_speed[rpm]": "1500", "doors_open": "yes"},
             {"low side[barg]": "1.4", "high side[barg]": "14", "vent[degC]": "13", "ambient[degC]": "30", "compressor_speed[rpm]": "2500", "doors_open": "yes"})

    def sheet(self, change):
        path = os.path.join(self.folder, "sheet.csv")
        rows = [dict(row) for row in self.SHEET]
        change(rows)
        with open(path, "w", encoding="utf-8") as f:
            f.write(",".join(rows[0]) + "\n")
            for row in rows:
                f.write(",".join(row.values()) + "\n")
        return path

    def test_a_sheet_is_asked_for_the_same(self):
        """A column that is not there, or one cell of it."""
        for cell, said in (("ambient[degC]", "ambient_temperature"), ("compressor_speed[rpm]", "compressor_speed"), ("doors_open", "doors")):
            for drop in (lambda rows, cell=cell: [row.pop(cell) for row in rows], lambda rows, cell=cell: rows[1].update({cell: ""})):
                for command in ("rank", "accept"):
                    done, ranking = self.judge(command, self.sheet(drop), "-q", "--plot", "none", expect=3)
                    self.assertIsNone(ranking)
                    self.assertIn(said, done.stderr)

    def test_assumptions_come_first(self):
        def no_ambient(rows):
            for row in rows:
                row.pop("ambient[degC]")
        done, ranking = self.judge("rank", self.sheet(no_ambient), "--plot", "none", "--set", "conditions.ambient_temperature=86 degF")
        self.assertEqual(done.stdout.splitlines()[0], f"Assumed: {ranking['assumed']}.")
        self.assertEqual(ranking["assumed"], "outside air 30.0 degC (given), road speed 0 km/h (not read), humidity 45 % (not read), "
                         "clutch in wherever its switches allow (not read)")

    def test_no_cause_explains_a_log_that_cannot_be(self):
        """Vent air 45 K warmer: no vehicle blows that beside these gauges."""
        def warmer(cells):
            if cells["vent_temperature"]:
                cells["vent_temperature"] = f"{float(cells['vent_temperature']) + 45:.1f}"
        done, ranking = self.judge("rank", self.log(warmer), "--plot", "none")
        self.assertTrue(ranking["none_fits"] and ranking["cannot_tell"], ranking["misfit"])
        self.assertIn("No cause of the list explains this log", ranking["answer"])
        self.assertNotIn("Repair:", done.stdout)
        for cause in ranking["ranking"]:
            self.assertFalse(set(filter(None, cause["speaks_for"].split(", "))) & set(filter(None, cause["speaks_against"].split(", "))))


class Accept(Logs):
    def test_a_healthy_vehicle_passes(self):
        log = os.path.join(SCENARIOS, "logs", "bay-healthy.csv")
        with tempfile.TemporaryDirectory() as folder:
            words = run("accept", log, "--vehicle", VEHICLE, "-o", folder).stdout
            with open(os.path.join(folder, "accept.json"), encoding="utf-8") as f:
                verdict = json.load(f)
        self.assertTrue(verdict["pass"], words)
        self.assertTrue(words.startswith("PASS"))
        self.assertTrue(all(abs(d) <= 3 for d in verdict["deviations"].values()), verdict["deviations"])

    def test_without_a_reading_it_needs_it_does_not_pass(self):
        for missing in (["discharge_temperature"], ["suction_pressure", "vent_temperature"]):
            with self.subTest(missing=missing):
                log = self.log(lambda cells: cells.update((name, "") for name in missing))
                done, verdict = self.judge("accept", log, expect=1)
                self.assertFalse(verdict["pass"])
                self.assertEqual((verdict["verdict"], verdict["missing"]), ("cannot_judge", missing))
                self.assertTrue(done.stdout.startswith(f"FAIL: cannot be accepted: no reading of {', '.join(missing)}.\n"))
                for name in missing:
                    self.assertIn(f"no reading of {name}: it alone tells whether" if name != "discharge_temperature" else
                                  f"no reading of {name}: it alone tells how hot the compressor runs", done.stdout)

    def test_a_probe_that_dropped_out_is_no_reading(self):
        def drop(cells):
            if float(cells["time"]) > 600:
                cells["discharge_pressure"] = "NaN"
        done, verdict = self.judge("accept", self.log(drop), expect=1)
        self.assertEqual((verdict["verdict"], verdict["missing"]), ("cannot_judge", ["discharge_pressure"]))
        self.assertRegex(done.stdout, r"discharge_pressure was read for (39|40) % of the log only")

    def test_a_reading_it_can_do_without_is_named(self):
        def drop(cells):
            cells.update(shell_temperature="", liquid_line_temperature="")
        done, verdict = self.judge("accept", self.log(drop))
        self.assertTrue(verdict["pass"])
        self.assertEqual(verdict["not_judged"], ["shell_temperature", "liquid_line_temperature"])
        self.assertIn("not judged for want of readings: shell_temperature, liquid_line_temperature", done.stdout)

    def test_what_drives_the_model_must_be_known(self):
        log = self.log(lambda cells: cells.update(ambient_temperature=""))
        done, verdict = self.judge("accept", log, expect=3)
        self.assertIsNone(verdict)  # before the first judgement: nothing is written
        self.assertIn('--set "conditions.ambient_temperature=..."', done.stderr)
        self.judge("accept", log, "--set", "conditions.ambient_temperature=33 degC")
        log = self.log(lambda cells: cells.update(cabin_temperature=""))
        done, _ = self.judge("accept", log, expect=3)
        self.assertIn("nothing says whether the doors were open", done.stderr)
        self.assertEqual(self.judge("accept", log, "--set", "conditions.doors_open=1")[1]["not_judged"], ["cabin_temperature"])

    def test_too_short_a_log_is_no_pass(self):
        done, verdict = self.judge("accept", self.log(lambda cells: None, rows=400), expect=1)
        self.assertEqual((verdict["verdict"], verdict["missing"]), ("cannot_judge", []))
        self.assertTrue(done.stdout.startswith("FAIL: cannot be accepted: too short a log."))
        self.assertIn("10 minutes are the least", verdict["reasons"][0])

    def test_a_blocked_condenser_fails(self):
        log = os.path.join(SCENARIOS, "logs", "bay-blocked-condenser.csv")
        with tempfile.TemporaryDirectory() as folder:
            run("accept", log, "--vehicle", VEHICLE, "-o", folder, "-q", expect=1)
            with open(os.path.join(folder, "accept.json"), encoding="utf-8") as f:
                verdict = json.load(f)
            run("report", folder, "-q")
            with open(os.path.join(folder, "report.html"), encoding="utf-8") as f:
                page = f.read()
        self.assertFalse(verdict["pass"])
        self.assertTrue(verdict["reasons"])
        self.assertIn("Never vent refrigerant", page)
        self.assertNotIn("http", page)


class Fit(unittest.TestCase):
    """A parameter changed behind the fit's back is found again from a noisy log of the program's own run."""

    READINGS = {"suction_pressure": 4e3, "discharge_pressure": 1e4, "suction_temperature": 0.3,
                "discharge_temperature": 0.3, "shell_temperature": 0.6, "liquid_line_temperature": 0.3,
                "vent_temperature": 0.3, "cabin_temperature": 0.3, "ambient_temperature": 0, "compressor_speed": 0,
                "vehicle_speed": 0, "clutch": 0, "time": 0}

    def make_log(self, folder, key, truth, seed, *sets):
        run("run", os.path.join(SCENARIOS, "healthy.ini"), "--set", f"{key}={truth}", "--set", "run.duration=900 s", *sets,
            "--plot", "none", "-q", "-o", os.path.join(folder, "truth"))
        chance = random.Random(seed)
        log = os.path.join(folder, "log.csv")
        with open(os.path.join(folder, "truth", "series.csv"), encoding="utf-8") as f, open(
                log, "w", encoding="utf-8") as out:
            rows = csv.reader(f)
            head = next(rows)
            at = [i for i, name in enumerate(head) if name.split("[")[0] in self.READINGS]
            print(",".join(head[i] for i in at), file=out)
            for row in rows:
                print(",".join(repr(float(row[i]) + chance.gauss(0, self.READINGS[head[i].split("[")[0]]))
                               for i in at), file=out)
        return log

    def check(self, key, truth, unit, si, width, *more, sets=()):
        with tempfile.TemporaryDirectory() as folder:
            log = self.make_log(folder, key, f"{truth} {unit}", 1, *sets)
            run("fit", log, "--vehicle", os.path.join(SCENARIOS, "van-valve.ini"), "--free", key, "-q", "-o", folder,
                *more)
            with open(os.path.join(folder, "fit.json"), encoding="utf-8") as f:
                fit = json.load(f)
            run("check", os.path.join(folder, "vehicle.ini"))
        estimate = fit["estimates"][key]
        self.assertTrue(0.95 * si < estimate["value"] < 1.05 * si, estimate)
        self.assertTrue(estimate["low"] < estimate["value"] < estimate["high"])
        self.assertLess(estimate["high"] / estimate["low"], width)

    def test_closed_circuit(self):
        self.check("condenser.fan_air", 0.42, "kg/s", 0.42, 1.3, "--with", "circuit")

    def test_two_logs_lead_back_to_their_vehicle(self):
        # the file's own values come from a Gauss-Newton of its own (see its head), with 18 parameters free; what it calls
        # uncertainty is what that left over
        file = configparser.ConfigParser()
        file.read(VEHICLE, encoding="utf-8")
        off = {"condenser.ua_air": 0.85, "evaporator.ua_air": 1.15, "valve.area": 0.85}
        truth = {key: float(file[key.split(".")[0]][key.split(".")[1]].split()[0]) for key in off}
        unit = {key: file[key.split(".")[0]][key.split(".")[1]].split()[1] for key in off}
        sets = [word for key, factor in off.items() for word in ("--set", f"{key}={factor * truth[key]} {unit[key]}")]
        with tempfile.TemporaryDirectory() as folder:
            run("fit", *(os.path.join(SCENARIOS, "logs", f"{name}-healthy.csv") for name in ("bay", "road")), "--vehicle", VEHICLE,
                "--with", "circuit", "--holdout", "0", "--free", ",".join(off), *sets, "-q", "-o", folder, "--plot", "none")
            with open(os.path.join(folder, "fit.json"), encoding="utf-8") as f:
                fit = json.load(f)
        for key, estimate in fit["estimates"].items():
            value = estimate["value"] * (1e6 if unit[key] == "mm2" else 1)
            self.assertTrue(0.92 < value / truth[key] < 1.08, (key, value, truth[key]))
            self.assertTrue(estimate["low"] < estimate["value"] < estimate["high"])
        for channel, left in fit["channels"].items():
            allowed = float(file["uncertainty"][channel].split()[0]) * (1e5 if channel.endswith("pressure") else 1)
            self.assertLess(left["rms"], 1.1 * allowed, channel)
        for log in fit["logs"]:
            self.assertLess(log["channels"]["suction_pressure"]["rms"], log["channels"]["suction_pressure"]["before"])

    def test_replay(self):
        # wider: the log has no offsets, but the fit cannot know that, and a clamp's 0.7 K moves this conductance by a tenth. A smaller
        # valve: floodback in the first half minute cools the body by 2 K, and shows in no reading
        self.check("compressor.ua_discharge_heads", 11, "W/K", 11.0, 1.5, sets=("--set", "valve.area=1.2 mm2"))

    def test_profile_starts_and_the_vehicle_written(self):
        key = "compressor.ua_discharge_heads"
        with tempfile.TemporaryDirectory() as folder:
            log = self.make_log(folder, key, "11 W/K", 2)
            run("fit", log, "--vehicle", os.path.join(SCENARIOS, "van-valve.ini"), "--free",
                f"{key},compressor.indicated_efficiency", "--profile", "--starts", "3", "-q", "-o", folder)
            with open(os.path.join(folder, "fit.json"), encoding="utf-8") as f:
                fit = json.load(f)
            vehicle = os.path.join(folder, "vehicle.ini")
            self.assertIn("good", run("check", vehicle).stdout)
            run("replay", log, "--vehicle", vehicle, "-q", "--plot", "none", "-o", os.path.join(folder, "again"))
            with open(os.path.join(folder, "again", "summary.json"), encoding="utf-8") as f:
                again = json.load(f)
        self.assertEqual((fit["starts"], fit["starts_agree"]), (3, 3))
        for name, truth in ((key, 11), ("compressor.indicated_efficiency", 0.80)):
            estimate = fit["estimates"][name]
            self.assertTrue(estimate["profiled"])
            self.assertTrue(estimate["low"] < truth < estimate["high"], estimate)
            self.assertAlmostEqual(fit["correlation"][name][name], 1, places=6)
        self.assertLess(fit["holdout_rms"], 1.5)
        self.assertEqual(again["outcome"], "survives")

    def test_what_the_log_cannot_tell_is_said(self):
        # two ways of the same heat to the shell: one log of one speed sees their sum only
        with tempfile.TemporaryDirectory() as folder:
            log = self.make_log(folder, "body.heads_shell", "10 W/K", 3)
            done = run("fit", log, "--vehicle", os.path.join(SCENARIOS, "van-valve.ini"), "--free",
                       "body.heads_shell,body.block_shell", "-o", folder)
        self.assertRegex(done.stdout, r"Not to be told: .*body\.(heads|block)_shell")

    def test_a_picture_for_each_log(self):
        key = "compressor.ua_discharge_heads"
        with tempfile.TemporaryDirectory() as folder:
            log = self.make_log(folder, key, "11 W/K", 4)
            one = ("fit", log, "--vehicle", os.path.join(SCENARIOS, "van-valve.ini"), "--free", key, "-q", "-o")
            out = os.path.join(folder, "one")
            run(*one, out, "--plot", "svg")
            self.assertEqual(results(out), ["fit.json", "fitted.svg", "vehicle.ini"])
            with open(os.path.join(out, "fitted.svg"), encoding="utf-8") as f:
                picture = f.read()
            with open(os.path.join(out, "fit.json"), encoding="utf-8") as f:
                fit = json.load(f)
            run(*one, out, "--plot", "none")  # leaves what is there
            both = os.path.join(folder, "both")
            run("fit", log, os.path.join(SCENARIOS, "logs", "bay-healthy.csv"), *one[2:], both)
            self.assertEqual(results(both), ["fit.json", "fitted-bay-healthy.png", "fitted-log.png", "vehicle.ini"])
        rms = fit["channels"]["discharge_temperature"]["rms"]
        self.assertIn(f">fitted {rms:.2f} " if rms < 1 else f">fitted {rms:.1f} ", picture)
        self.assertIn(f"{key} fitted: discharge temperature within", picture)
        self.assertIn("grey: not seen by the fit", picture)

    def test_without_gnuplot_the_fit_is_kept(self):
        key = "compressor.ua_discharge_heads"
        with tempfile.TemporaryDirectory() as folder:
            done = subprocess.run([PROGRAM, "fit", os.path.join(SCENARIOS, "logs", "bay-healthy.csv"), "--vehicle", VEHICLE, "--free",
                                   key, "-o", folder], capture_output=True, text=True, timeout=300, env={"PATH": "/nowhere"})
            self.assertEqual(done.returncode, 5, done.stderr)
            self.assertEqual(results(folder), ["fit.json", "vehicle.ini"])
        self.assertIn("fitted.png: cannot start gnuplot", done.stderr)
        self.assertIn(key, done.stdout)

    def test_unknown_parameter(self):
        done = run("fit", os.path.join(SCENARIOS, "logs", "bay-healthy.csv"), "--vehicle", VEHICLE, "--free",
                   "condenser.fan_air,valve.aera", expect=2)
        self.assertIn("valve.area", done.stderr)


class Pictures(InFolder):
    """Pictures of rank, plan and accept: whole, in the results folder, and saying what the JSON beside them says."""

    LOG = os.path.join(SCENARIOS, "logs", "bay-short-of-charge.csv")

    def command(self, name, *more, expect=0, env=None):
        log = () if name == "plan" else (self.LOG,)
        return run(name, *log, "--vehicle", VEHICLE, "-o", self.folder, *more, expect=expect, env=env)

    def text(self, name):
        with open(os.path.join(self.folder, name), encoding="utf-8") as f:
            return f.read()

    def says(self, picture, words):
        self.assertTrue(words in picture, f"not in the picture: {words}")  # without the picture, which is long

    def test_rank(self):
        self.command("rank", "-q", "--plot", "svg")
        self.assertEqual(results(self.folder), ["causes.svg", "evidence.svg", "rank.json"])
        causes, evidence = self.text("causes.svg"), self.text("evidence.svg")
        first = json.loads(self.text("rank.json"))["ranking"][0]
        self.assertEqual(first["fault"], "undercharge")
        self.says(causes, f">{first['severity']:.2f} ({first['severity_low']:.2f} to {first['severity_high']:.2f})<")
        self.says(causes, ">missing fraction of the nominal charge<")
        off = -first["channels"]["discharge_pressure"]["mean"] / 1e5  # reading less prediction
        self.says(evidence, f">{off:+.2f} bar<")
        for picture in (causes, evidence):
            self.assertTrue(picture.rstrip().endswith("</svg>"))
            self.says(picture, "Undercharge (")

    def test_plan(self):
        self.command("plan", "-q", "--plot", "svg", "--units", "trade")
        self.assertEqual(results(self.folder), ["plan.json", "plan.svg", "sheet.csv"])
        test = json.loads(self.text("plan.json"))["tests"][0]
        picture = self.text("plan.svg")
        self.says(picture, test["best_reading"].replace("_", " "))
        expected = test["expected"]["undercharge"][test["best_reading"]]
        # gauge against 101325 Pa; NIST SP 811: 1 psi = 6894.757 Pa, degF = 1.8 K - 459.67
        shown = {"Pa": lambda x: f"{(x - 101325) / 6894.757:.0f} psig", "K": lambda x: f"{1.8 * x - 459.67:.0f} °F"}
        self.says(picture, f">{shown[expected['unit']](expected['value'])}<")
        self.says(picture, "Stop at once above 348 psig")  # 24 bar on the gauge, as the caution says

    def test_accept(self):
        self.command("accept", "-q", "--plot", "svg", expect=1)
        self.assertEqual(results(self.folder), ["accept.json", "accept.svg"])
        picture, verdict = self.text("accept.svg"), json.loads(self.text("accept.json"))
        self.says(picture, verdict["answer"])
        self.says(picture, "% of the charge")
        fails = sum(abs(d) > 3 for d in verdict["deviations"].values())
        self.assertEqual(picture.count(">FAIL<"), fails + 1)  # and the fault that explains the log better

    def test_none_are_drawn_if_none_are_asked_for(self):
        for name, expect in (("rank", 0), ("plan", 0), ("accept", 1)):
            self.command(name, "-q", "--plot", "none", expect=expect)
        self.assertEqual(results(self.folder), ["accept.json", "plan.json", "rank.json", "sheet.csv"])

    def test_without_gnuplot_the_results_are_kept(self):
        for name, picture in (("rank", "causes.png"), ("plan", "plan.png"), ("accept", "accept.png")):
            done = self.command(name, expect=5, env={"PATH": "/nowhere"})
            self.assertIn(f"{picture}: cannot start gnuplot", done.stderr)
            self.assertTrue(done.stdout)
        self.assertEqual(results(self.folder), ["accept.json", "plan.json", "rank.json", "sheet.csv"])


class BadInput(Logs):
    """Logs that a user really brings: each is judged with the right exit status, and what is wrong is said."""

    FIT = ("--free", "compressor.ua_discharge_heads,body.shell_film", "--keep-unknown")
    REFUSED = "these readings cannot be fitted"

    def commands(self):
        return (("fit", self.FIT), ("rank", ("--plot", "none")), ("replay", ("--plot", "none")))

    def notes(self, command, log, *more):
        return " ".join(self.judge(command, log, *more)[1]["notes"])

    def test_no_row_or_one_is_refused_once(self):
        """No command may wait for more of a file that has ended."""
        head = "time[s],suction_pressure[barg],discharge_pressure[barg],suction_temperature[degC],ambient_temperature[degC]\n"
        for rows, said in (("", "a log without rows"), ("0,2,15,12,30\n", "a log of one row")):
            path = os.path.join(self.folder, "short.csv")
            with open(path, "w", encoding="utf-8") as f:
                f.write(head + rows)
            for command in (["rank"], ["accept"], ["fit", "--free", "valve.area"], ["fit", "--with", "circuit", "--free", "valve.area"],
                            ["replay"]):
                done = run(command[0], path, *command[1:], "--vehicle", VEHICLE, "-o", os.path.join(self.folder, "out"), expect=3)
                self.assertEqual(done.stderr.count(said), 1, (command, done.stderr))
            self.assertIn(said, run("check", path, expect=3).stderr)

    def test_constant_channel_is_left_out(self):
        log = self.log(lambda cells: cells.update(discharge_temperature="80"))
        for command, more in self.commands():
            with self.subTest(command=command):
                notes = self.notes(command, log, *more)
                self.assertIn("discharge_temperature never changes: probe loose, or a constant was logged", notes)
                if command != "replay":
                    self.assertIn("discharge_temperature is left out", notes)
        self.assertEqual(self.judge("fit", log, *self.FIT)[1]["channels"].keys(), {"shell_temperature"})

    def test_blank_channel(self):
        log = self.log(lambda cells: cells.update(discharge_temperature="NaN"))
        for command, more in self.commands():
            with self.subTest(command=command):
                notes = self.notes(command, log, *more)
                self.assertIn("discharge_temperature is blank in every row", notes)

    def test_nothing_to_compare_with(self):
        log = self.log(lambda cells: cells.update(discharge_temperature="", shell_temperature=""))
        done, result = self.judge("fit", log, *self.FIT, expect=3)
        self.assertIsNone(result)
        self.assertIn("log.csv: the log has no readings that a prediction could be compared with", done.stderr)

    def test_psi_read_as_bar(self):
        def psi(cells):
            for name in ("suction_pressure", "discharge_pressure"):
                if cells[name]:
                    cells[name] = f"{14.5 * float(cells[name]):.1f}"
        log = self.log(psi)
        for command, more in (*self.commands(), ("accept", ())):
            with self.subTest(command=command):
                done, _ = self.judge(command, log, *more, expect=3)
                self.assertRegex(done.stderr, r"log\.csv:2:\d+: .* barg is out of range, in column "
                                 r"'(suction|discharge)_pressure\[barg\]' .*is it in psig\?")

    def test_bar_read_as_psi(self):
        log = self.log(lambda cells: None, head=lambda name: name.replace("barg", "psig"))
        for command, more in self.commands():
            with self.subTest(command=command):
                notes = self.notes(command, log, *more)
                self.assertIn("is 'discharge_pressure[psig]' really in psig?", notes)
        self.assertIn(self.REFUSED, self.judge("fit", log, *self.FIT[:2], expect=3)[0].stderr)
        done, ranking = self.judge("rank", log)
        self.assertTrue(ranking["cannot_tell"])
        self.assertIn("No vehicle can have given these readings", done.stdout)
        self.assertNotIn("Repair:", done.stdout)

    def test_gauges_exchanged(self):
        def exchange(cells):
            cells["suction_pressure"], cells["discharge_pressure"] = cells["discharge_pressure"], cells["suction_pressure"]
        _, ranking = self.judge("rank", self.log(exchange))
        self.assertIn("are the two columns exchanged?", " ".join(ranking["notes"]))
        self.assertTrue(ranking["cannot_tell"])

    def test_clutch_never_on(self):
        log = self.log(lambda cells: cells.update(clutch="0"))
        for command, more in self.commands():
            with self.subTest(command=command):
                notes = self.notes(command, log, *more)
                self.assertIn("the clutch is never on", notes)
        self.assertIn(self.REFUSED, self.judge("fit", log, *self.FIT[:2], expect=3)[0].stderr)
        ranking = self.judge("rank", log)[1]
        self.assertTrue(ranking["cannot_tell"])
        self.assertIn("cannot tell what ails a compressor at work", ranking["answer"])
        self.judge("accept", log, expect=1)

    def test_too_short_to_tell(self):
        log = self.log(lambda cells: None, rows=100)
        for command, more in self.commands():
            with self.subTest(command=command):
                self.assertIn("too short to tell much", self.notes(command, log, *more))
        done, ranking = self.judge("rank", log)
        self.assertTrue(ranking["cannot_tell"])
        self.assertTrue(ranking["answer"].startswith("The log is too short to tell: less than 5 minutes"))
        self.assertIn(ranking["answer"], done.stdout)
        self.assertNotIn("Repair:", done.stdout)
        self.assertAlmostEqual(ranking["time_at_work_s"], 98, delta=1)
        # long enough to answer, too short to be sure
        ranking = self.judge("rank", self.log(lambda cells: None, rows=400))[1]
        self.assertNotIn("too short", ranking["answer"])
        self.assertIn("the clutch is engaged for 398 s: 10 minutes are a fair minimum", " ".join(ranking["notes"]))
        log = self.log(lambda cells: None, rows=20)
        for command, more in (("fit", self.FIT), ("rank", ()), ("accept", ())):
            with self.subTest(command=command):
                done, _ = self.judge(command, log, *more, expect=3)
                self.assertIn("too short to tell (expected a minute at least", done.stderr)

    def test_a_parameter_at_its_limit_is_said(self):
        def cold(cells):
            if cells["shell_temperature"]:
                cells["shell_temperature"] = "33"
        # no still air cools a shell that well
        log = self.log(lambda cells: (cold(cells), cells.update(discharge_temperature="")))
        with open(log, encoding="utf-8") as f:
            text = f.read().replace(",33,", ",32.9,", 3)  # a channel that never changes would be left out
        with open(log, "w", encoding="utf-8") as f:
            f.write(text)
        done, fit = self.judge("fit", log, "--free", "body.shell_film", "--keep-unknown")
        self.assertTrue(fit["estimates"]["body.shell_film"]["at_bound"])
        self.assertIn("AT ITS UPPER LIMIT", done.stdout)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
