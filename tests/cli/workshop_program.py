#!/usr/bin/env python3
"""What a workshop has in hand, as its user hands it over: workshop_program.py PROGRAM SCENARIOS [CASE].

Logs as loggers, scan tools and phones write them, spot sheets, vehicle files from a label. The readings are those of the demo
logs (scenarios/logs: a separately written simulation); the ways of writing them are common practice, no source."""
import csv
import json
import os
import subprocess
import sys
import tempfile
import unittest

PROGRAM, SCENARIOS = os.path.abspath(sys.argv[1]), os.path.abspath(sys.argv[2])
VEHICLE = os.path.join(SCENARIOS, "vehicle-logs.ini")
HEALTHY = os.path.join(SCENARIOS, "logs", "bay-healthy.csv")


def run(*arguments, expect=0, text=None):
    done = subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, timeout=300, input=text)
    if expect is not None and done.returncode != expect:
        raise AssertionError(f"exit {done.returncode}, not {expect}: {arguments}\n{done.stdout}\n{done.stderr}")
    return done


def number(text):
    """A cell: a clock's time in s, a number with point or comma, or nothing."""
    if ":" in text:
        hours, minutes, seconds = text.split(":")
        return int(hours) * 3600 + int(minutes) * 60 + float(seconds)
    return float(text.replace(",", ".") or "nan")


def load(log=HEALTHY, every=5):
    """Rows of a demo log as dictionaries of floats: s, barg, degC, rpm, km/h."""
    with open(log, encoding="utf-8-sig") as f:
        text = f.read()
    rows = list(csv.reader(text.splitlines(), delimiter=";" if ";" in text.split("\n")[0] else ","))
    names = [cell.split("[")[0] for cell in rows[0]]
    return [{n: number(c) for n, c in zip(names, row)} for row in rows[1::every]]


def psi(bar):
    return f"{bar * 14.503774:.1f}"  # NIST SP 811: 1 psi = 6.894757 kPa


def fahrenheit(celsius):
    return f"{celsius * 1.8 + 32:.1f}"


def clock(seconds):
    return f"{int(seconds) // 3600:02d}:{int(seconds) // 60 % 60:02d}:{int(seconds) % 60:02d}"


class InFolder(unittest.TestCase):
    """Each test has an empty folder, which goes with it."""

    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = folder.name

    def path(self, name):
        return os.path.join(self.folder, name)

    def write(self, name, text):
        with open(self.path(name), "w", encoding="utf-8") as f:
            f.write(text)
        return self.path(name)


class Dialects(InFolder):
    """Ways of writing one log. `check` reads each and says what it took for what."""

    ROWS = load()

    def log(self, head, row, name="log.csv"):
        return self.write(name, head + "".join(row(r) + "\n" for r in self.ROWS))

    def good(self, path, *words, more=()):
        said = run("check", path, *more).stdout
        self.assertIn("good. A log of 300 rows", said)
        for word in words:
            self.assertIn(word, said)
        return said

    def test_lines_about_the_device_and_decimal_commas(self):
        self.good(self.log("Device: Digital Manifold\nSerial;12345\nRefrigerant;R134a\n\n"
                           "Date;Time;LP [bar];HP [bar];To;Tc;T1;T2\n",
                           lambda r: f"14.07.2026;{clock(47000 + r['time'])};{r['suction_pressure']:.2f};"
                           f"{r['discharge_pressure']:.2f};1,0;55,2;12,0;40,1".replace(".", ",").replace("14,07,", "14.07.")),
                  "lines before the line of names", "'LP [bar]' is read as suction_pressure in bar above the air outside",
                  "column 'To' is not used")

    def test_scan_tool(self):
        self.good(self.log("Frame Time,Hi side (psi),Low side (psi),Suction line temp (\u00b0F),Engine RPM,A/C Clutch\n",
                           lambda r: f"2026-07-14 {clock(47000 + r['time'])},{psi(r['discharge_pressure'])},"
                           f"{psi(r['suction_pressure'])},{fahrenheit(r['suction_temperature'])},"
                           f"{r['compressor_speed'] / 1.4:.0f},{'ENGAGED' if r['clutch'] else 'DISENGAGED'}"),
                  "'Hi side (psi)' is read as discharge_pressure in psi", "'Suction line temp (\u00b0F)' is read as suction_temp",
                  "the compressor turns 1.4 times as fast")

    def test_ways_to_write_a_time(self):
        def half(t):
            h, rest = int(t) // 3600, clock(t)[3:]
            return f"{(h + 11) % 12 + 1:02d}:{rest} {'AM' if h < 12 else 'PM'}"
        for first, write in ((47000, lambda t: f"2026-07-14T{clock(t)}Z"), (47000, lambda t: f"07/14/2026 {half(t)}"),
                             (42900, half), (1.7e9, lambda t: f"{t:.0f}"), (1.7e9, lambda t: f"{t * 1000:.0f}")):
            with self.subTest(written=write(first)):
                said = self.good(self.log("Time,LP (psi),HP (psi)\n",
                                          lambda r: f"{write(first + r['time'])},{psi(r['suction_pressure'])},"
                                          f"{psi(r['discharge_pressure'])}"))
                begins, ends = said.split("rows, ")[1].split("\n")[0].replace(" s", "").split(" to ")
                self.assertAlmostEqual(float(ends) - float(begins), self.ROWS[-1]["time"] - self.ROWS[0]["time"], delta=10)

    def test_minutes_of_a_clock_and_of_a_stopwatch(self):
        rows = [r for r in self.ROWS if r["time"] % 60 < 5][:20]
        for write, span in ((lambda k: f"13:{k:02d}", 60), (lambda k: f"0:{k:02d}", 1)):
            path = self.write("log.csv", "Time,LP (psi),HP (psi)\n" + "".join(
                f"{write(k)},{psi(r['suction_pressure'])},{psi(r['discharge_pressure'])}\n" for k, r in enumerate(rows)))
            said = run("check", path, expect=None).stdout
            begins, ends = said.split("rows, ")[1].split("\n")[0].replace(" s", "").split(" to ")
            self.assertAlmostEqual(float(ends) - float(begins), span * (len(rows) - 1), delta=1e-6)

    def test_a_row_of_units(self):
        self.good(self.log("Time,Low pressure,High pressure,Suction temp\ns,psi,psi,\u00b0F\n",
                           lambda r: f"{r['time']},{psi(r['suction_pressure'])},{psi(r['discharge_pressure'])},"
                           f"{fahrenheit(r['suction_temperature'])}"),
                  "units are read from the row below the names", "'Suction temp' is read as suction_temperature in \u00b0F")

    def test_units_in_the_cells(self):
        self.good(self.log("Time,Low side,High side,Vent\n",
                           lambda r: f"{r['time']},{psi(r['suction_pressure'])} psi,{psi(r['discharge_pressure'])} psi,"
                           f"{fahrenheit(r['vent_temperature'])} F"), "'Vent' is read as vent_temperature in F")

    def test_doubled_columns(self):
        write = lambda r: (f"{r['time']},{psi(r['suction_pressure'])},{psi(r['suction_pressure'])},"
                           f"{psi(r['discharge_pressure'])},{fahrenheit(r['liquid_line_temperature'])},seen")
        head = "Time,Low Side PSI,Low Side PSI,AC pressure (psi),Liquid Temp (F),Notes\n"
        self.good(self.log(head, write), "says the same as", "'AC pressure (psi)' is read as discharge_pressure")
        wrong = self.log(head, lambda r: write(dict(r, suction_pressure=r["suction_pressure"] + 1)).replace(
            psi(r["suction_pressure"] + 1), psi(r["suction_pressure"]), 1))
        self.assertEqual(run("check", wrong, expect=3).stderr.count("disagrees with"), 1)

    def test_no_sensor(self):
        said = self.good(self.log("Time,LP (psi),HP (psi),Vent (F)\n",
                                  lambda r: f"{r['time']},{psi(r['suction_pressure'])},{psi(r['discharge_pressure'])},"
                                  + ("6553.5" if r["time"] % 100 < 5 else "OL" if r["time"] % 90 < 5 else
                                     fahrenheit(r["vent_temperature"]))))
        self.assertRegex(said, r"'Vent \(F\)': 15 cells without a reading")

    def test_what_is_wrong_with_a_whole_column_is_said_once(self):
        path = self.log("Time,LP (psi),HP (psi)\n", lambda r: f"{r['time']},{psi(r['suction_pressure'])},off scale")
        errors = run("check", path, expect=3).stderr
        self.assertEqual(errors.count("off scale"), 1)
        self.assertIn("column 'HP (psi)' is wrong in 299 more rows", errors)

    def test_vacuum_is_not_pressure(self):
        path = self.log("Time,Low side (inHg),HP (psi)\n", lambda r: f"{r['time']},10,{psi(r['discharge_pressure'])}")
        self.assertIn("counts vacuum", run("check", path, expect=3).stderr)

    def test_no_names_at_all(self):
        errors = run("check", self.write("log.csv", "This is a letter.\nIt has lines.\n"), expect=3).stderr
        self.assertLess(errors.count("\n"), 6)


class Sheet(InFolder):
    """Readings at test points, without a clock."""

    HEAD = "Point,Low side (psi),High side (psi),Vent (F),Ambient (F),Engine rpm,doors open,held\n"
    ROWS = ("idle,41,190,52,92,750,yes,5\n", "1500,35,215,49,92,1500,yes,5\n", "2500,29,240,47,92,2500,yes,\n")

    def test_check_says_what_it_is_good_for(self):
        said = run("check", self.write("sheet.csv", self.HEAD + "".join(self.ROWS))).stdout
        for words in ("good. A spot sheet of 3 points", "Good for: rank, fit. Not for accept (no suction_temperature",
                      "replay (a spot sheet has no course in time", "'Low side (psi)' is read as suction_pressure in psi above"):
            self.assertIn(words, said)

    def test_one_row_is_enough(self):
        self.assertIn("spot sheet of 1 point\n", run("check", self.write("s.csv", self.HEAD + self.ROWS[0])).stdout)

    def test_rows_minutes_apart_are_points(self):
        path = self.write("s.csv", "Test point,Time,Low (psi),High (psi),Ambient (F),Engine rpm\nidle,13:05,41,190,92,750\n"
                          "fast,13:10,35,215,92,1500\n")
        said = run("check", path).stdout
        self.assertIn("spot sheet of 2 points", said)
        self.assertIn("their times are not used", said)

    def test_rows_to_be_filled_in_are_passed_over(self):
        said = run("check", self.write("s.csv", self.HEAD + self.ROWS[0] + "1500,,,,,,,\n")).stdout
        self.assertIn("1 row of the sheet has no reading yet", said)
        errors = run("check", self.write("s.csv", self.HEAD + "1500,,,,,,,\n"), expect=3).stderr
        self.assertIn("s.csv:1:1: a spot sheet without a reading", errors)

    def test_mistakes_have_their_place(self):
        errors = run("check", self.write("s.csv", self.HEAD + "idle,41,high,52,92,750,yes,5\n"), expect=3).stderr
        self.assertIn("s.csv:2:9: 'high' is not a number", errors)

    def test_a_long_file_without_times_is_no_sheet(self):
        errors = run("check", self.write("s.csv", self.HEAD + self.ROWS[0] * 41), expect=3).stderr
        self.assertIn("more than 40 rows without a column of times", errors)


class Uses(InFolder):
    """What `check` says that a log is good for is what the commands take."""

    def test_without_a_suction_pipe(self):
        path = self.write("log.csv", "Time,LP (bar),HP (bar),Vent (C)\n" + "".join(
            f"{r['time']},{r['suction_pressure']},{r['discharge_pressure']},{r['vent_temperature']}\n" for r in load()))
        said = run("check", path).stdout
        self.assertIn("Not for rank (no ambient_temperature, no compressor_speed, nothing says whether the doors were open); nor for "
                      "fit (no ambient_temperature, no compressor_speed); nor for accept (no suction_temperature, "
                      "no discharge_temperature, no ambient_temperature, no compressor_speed, nothing says whether the doors were "
                      "open); nor for replay (no suction_temperature). Conditions that were not read can be given with --set", said)
        run("rank", path, "--vehicle", VEHICLE, "--plot", "none", "-o", self.path("out"), expect=3)
        run("rank", path, "--vehicle", VEHICLE, "--plot", "none", "-o", self.path("out"), "--set", "conditions.doors_open=1", "--set",
            "conditions.ambient_temperature=32 degC", "--set", "conditions.compressor_speed=1750 rpm")

    def test_no_use_at_all(self):
        errors = run("check", self.write("log.csv", "time[s],vehicle_speed[km/h],cabin_temperature[degC]\n1,0,30\n2,0,30\n"),
                     expect=3).stderr
        self.assertIn("log.csv:1:1: no column of readings that any command could use", errors)

    def test_logs_of_no_or_one_row_end_every_command(self):
        head = "Time (s),Low side (psi),High side (psi),Suction (F),Ambient (F),Compressor rpm\n"
        for rows in ("", "0,30,200,60,95,1000\n"):
            path = self.write("log.csv", head + rows)
            for command in (["check"], ["replay", "--vehicle", VEHICLE], ["rank", "--vehicle", VEHICLE],
                            ["accept", "--vehicle", VEHICLE], ["fit", "--vehicle", VEHICLE, "--free", "valve.area"]):
                with self.subTest(command=command[0], rows=len(rows)):
                    run(command[0], path, *command[1:], expect=3)


class Label(InFolder):
    """What a label says, as it says it. NIST SP 811: 1 lb = 0.45359237 kg, 1 psi = 6894.757 Pa, 1 US fl oz = 29.57353 cm3."""

    def test_mixed_numbers(self):
        for text in ("1 3/4 lb", "1-3/4 lb", "1 lb 12 oz", "28 oz", "1.75 lbs", "793.8 g"):
            with self.subTest(text=text):
                self.assertIn("R134a, 794 g (28.0 oz)\n",
                              run("check", self.write("v.ini", f"[charge]\nnominal = {text}\n")).stdout)
        for text in ("1 5 lb", "1 lb 20", "0.5 lb 3 oz", "1 lb 20 oz"):
            with self.subTest(text=text):
                self.assertIn("v.ini:2:11: ", run("check", self.write("v.ini", f"[charge]\nnominal = {text}\n"), expect=3).stderr)

    def test_oil_by_volume(self):
        for text, mass in (("4 fl oz", 117), ("120 ml", 119), ("120 cc", 119), ("120 cm3", 119), ("120 g", 120)):
            with self.subTest(text=text):
                self.assertIn(f"PAG46, {mass} g", run("check", self.write("v.ini", f"[oil]\ntotal = {text}\n")).stdout)

    def test_words_of_the_trade(self):
        for refrigerant, expansion, grade in (("R-134a", "TXV", "PAG 46"), ("HFO-1234yf", "orifice tube", "PAG-100"),
                                              ("1234yf", "H-block", "pag 150"), ("R12", "FOT", "mineral oil")):
            said = run("check", self.write("v.ini", f"[vehicle]\nrefrigerant = {refrigerant}\nexpansion = {expansion}\n"
                                           f"[oil]\ngrade = {grade}\n")).stdout
            self.assertIn("R" + refrigerant.upper().replace("HFO-", "").replace("-", "").lstrip("R").replace("YF", "yf").replace("A", "a"), said)
            self.assertIn("orifice tube with accumulator" if expansion in ("orifice tube", "FOT") else "valve (TXV)", said)
            self.assertIn("MINERAL46" if "mineral" in grade else grade.upper().replace(" ", "").replace("-", ""), said)

    def test_a_bare_pressure_is_a_gauge_reading(self):
        path = self.write("v.ini", "[controls]\nlow_open = 25 psi\nlow_close = 45 psig\n")
        said = run("check", path, "--units", "trade").stdout
        self.assertRegex(said, r"opens at 25(\.0)? psig, closes at 45(\.0)? psig")
        self.assertIn("controls.low_open = 25 psi counts above the air outside (gauge)", said)
        self.assertIn("vacuum", run("check", self.write("w.ini", "[controls]\nlow_open = 10 inHg\n"), expect=3).stderr)


def points(log, every=1, **more):
    """Three points of a demo log as a sheet: means over the last minute of 8, 15 and 23 minutes, doors open."""
    rows, names = load(log, every), ("suction_pressure[barg]", "discharge_pressure[barg]", "suction_temperature[degC]",
                                     "discharge_temperature[degC]", "vent_temperature[degC]", "ambient_temperature[degC]",
                                     "compressor_speed[rpm]")
    lines = ["point,held[min],doors_open," + ",".join(names)]
    for end in (480, 900, 1400):
        cells = []
        for name in names:
            seen = [r[name.split("[")[0]] for r in rows if end - 60 < r["time"] <= end]
            cells.append(f"{sum(x for x in seen if x == x) / max(1, sum(x == x for x in seen)):.2f}")
        lines.append(f"after {end // 60} min,8,yes," + ",".join(cells))
    return "\n".join(lines) + "\n"


class Readings(InFolder):
    """Sheets and logs judged: what they are taken for, and what cannot be."""

    def judge(self, command, path, *more, expect=0):
        done = run(command, path, "--vehicle", VEHICLE, "--plot", "none", "-o", self.path("out"), *more, expect=expect)
        with open(self.path(f"out/{command}.json"), encoding="utf-8") as f:
            return done.stdout, json.load(f)

    def test_a_sheet_is_ranked(self):
        """Truths: scenarios/logs/README.md."""
        for log, truth in (("bay-healthy.csv", "healthy"), ("bay-short-of-charge.csv", "undercharge")):
            with self.subTest(log=log):
                sheet = self.write("sheet.csv", points(os.path.join(SCENARIOS, "logs", log)))
                self.assertEqual(self.judge("rank", sheet)[1]["ranking"][0]["fault"], truth)

    def test_a_sheet_is_accepted(self):
        sheet = self.write("sheet.csv", points(HEALTHY))
        self.assertTrue(self.judge("accept", sheet)[1]["pass"])

    def test_a_sheet_is_fitted(self):
        sheet = self.write("sheet.csv", points(HEALTHY))
        done = run("fit", sheet, "--vehicle", VEHICLE, "--free", "condenser.ua_air", "--plot", "none", "-o", self.path("out"))
        self.assertIn("Fit of 1 parameter to 1 sheet", done.stdout)

    def changed(self, change):
        rows = load()
        names = list(rows[0])
        units = {"time": "s", "compressor_speed": "rpm", "vehicle_speed": "km/h", "clutch": "1"}
        for r in rows:
            change(r)
        return self.write("log.csv", ",".join(f"{n}[{units.get(n, 'barg' if 'pressure' in n else 'degC')}]" for n in names) + "\n"
                          + "".join(",".join("" if r[n] != r[n] else f"{r[n]:.2f}" for n in names) + "\n" for r in rows))

    def test_what_cannot_be_is_said_before_any_ranking(self):
        def exchange(r):
            r["discharge_temperature"], r["suction_temperature"] = r["suction_temperature"], r["discharge_temperature"]
        cases = ((exchange, "clamps exchanged"),
                 (lambda r: r.update(discharge_pressure=r["suction_pressure"]), "both sides read the same"),
                 (lambda r: r.update(suction_pressure=r["suction_pressure"] + 3.5), "absolute read as gauge"),
                 (lambda r: r.update(discharge_pressure=r["discharge_pressure"] / 14.5), "never rises above"))
        for change, words in cases:
            with self.subTest(words=words):
                said, ranking = self.judge("rank", self.changed(change))
                table = said.index("how likely")
                self.assertIn("No vehicle can have given these readings", said[:table])
                self.assertIn(words, said[:table])
                self.assertNotIn("Repair:", said)
                self.assertTrue(ranking["cannot_tell"])


class Vehicle(InFolder):
    """A vehicle file from label and look."""

    OPTIONS = ("--refrigerant", "R-134a", "--charge", "1 3/4 lb", "--expansion", "TXV", "--oil", "PAG 46", "--oil-amount", "120 ml",
               "--displacement", "178 cc", "--fans", "220/150 psi", "--evaporators", "2",
               "--switches", "low 25/45 psi, high 400/290 psi", "--pulley-ratio", "160/115")

    def test_from_options(self):
        path = self.path("mine.ini")
        said = run("vehicle", "-o", path, *self.OPTIONS, "--units", "trade", text="").stdout
        for words in (r"R134a, 794 g \(28.0 oz\)", r"PAG46, 119 g .*, 120 cm3", r"valve \(TXV\)", r"178 cm3 per revolution\n",
                      r"low-pressure switch +opens at 25 psig, closes at 45 psig\n", r"fan switch +opens at 150 psig, closes at 220",
                      r"high-pressure switch +opens at 400 psig, closes at 290", r"pulley ratio +1.39", r"never set to readings"):
            self.assertRegex(said, words)
        checked = run("check", path, "--units", "trade").stdout  # what was written is read back as the same
        self.assertIn(said.split("The vehicle")[1].split("\n")[1], checked)

    def test_a_displacement_alone_leaves_the_cylinders_and_says_so(self):
        words = "its cylinders +10 of 31 mm bore and 23.6 mm stroke, of a machine of 178 cm3 +\\(usual, not set\\)"
        self.assertRegex(run("check", self.write("small.ini", "[compressor]\ndisplacement = 120 cm3\n")).stdout, words)
        self.assertNotIn("its cylinders", run("check", self.write("usual.ini", "[compressor]\ndisplacement = 178 cm3\n")).stdout)

    def test_mistakes_name_their_option_and_leave_no_file(self):
        path = self.path("mine.ini")
        errors = run("vehicle", "-o", path, "--refrigerant", "R-135a", "--charge", "1 5 lb", text="", expect=3).stderr
        self.assertIn("--refrigerant: unknown word 'R-135a'", errors)
        self.assertIn("--charge: '1 5 lb' is more than one number", errors)
        self.assertEqual(os.listdir(self.folder), [])

    def test_nothing_is_written_over(self):
        path = self.write("mine.ini", "mine\n")
        run("vehicle", "-o", path, *self.OPTIONS, text="", expect=2)
        with open(path, encoding="utf-8") as f:
            self.assertEqual(f.read(), "mine\n")

    def test_too_little(self):
        self.assertIn("--refrigerant and --charge at least", run("vehicle", "-o", self.path("v.ini"), text="", expect=2).stderr)

    def test_asked_on_a_terminal(self):
        """Ten questions; an answer that is not understood is asked for again."""
        master, slave = os.openpty()
        done = subprocess.Popen([PROGRAM, "vehicle", "-o", self.path("v.ini")], stdin=slave, stdout=subprocess.PIPE,
                                stderr=subprocess.PIPE, text=True)
        os.close(slave)
        os.write(master, b"1234yf\n500 f\n500 g\norifice tube\n\n\n\n\n\n\n1.3\n")
        out, err = done.communicate(timeout=60)
        os.close(master)
        self.assertEqual(done.returncode, 0, err)
        self.assertEqual((err.count("Charge ("), err.count("Pulley ratio (")), (2, 1))
        self.assertIn("R1234yf, 500 g", out)
        self.assertIn("orifice tube with accumulator", out)
        self.assertRegex(out, "pulley ratio +1.3")


class Expect(InFolder):
    """What gauges would read. The signs are those of tests/outside/symptoms.csv and common practice; no figure is asserted."""

    def table(self, *more):
        done = run("expect", "--vehicle", VEHICLE, "--plot", "none", "-o", self.path("out"), *more)
        with open(self.path("out/expect.json"), encoding="utf-8") as f:
            return done.stdout, json.load(f)

    def test_all_causes(self):
        said, table = self.table("--at", "idle,2500", "--ambient", "95degF", "--units", "trade")
        self.assertIn("95.0 degF outside, 45 % humidity, standing, doors open", said)
        self.assertIn("computed only. Never bridge a pressure switch on a vehicle", said)
        for point in table["points"]:
            signs = {row["fault"]: row["against_healthy"] for row in point["rows"]}
            self.assertEqual(set(signs["healthy"].values()), {"alike"})
            for fault, channel, sign in (("undercharge", "subcooling", "below"), ("overcharge", "discharge_pressure", "above"),
                                         ("condenser_blocked", "discharge_pressure", "above"),
                                         ("evaporator_blocked", "suction_pressure", "below"),
                                         ("liquid_line_restricted", "superheat", "above"), ("overspeed", "discharge_pressure", "above")):
                with self.subTest(point=point["point"], fault=fault):
                    self.assertTrue(signs[fault][channel].endswith(sign), signs[fault])
        with open(self.path("out/expect.csv"), encoding="utf-8") as f:
            rows = list(csv.DictReader(f))
        self.assertEqual(len(rows), sum(len(p["rows"]) for p in table["points"]))
        fan = next(r for r in table["points"][0]["rows"] if r["fault"] == "fan_dead")
        self.assertEqual(fan["outcome"], "protected")  # its high-pressure switch opens
        self.assertLess(fan["duty"], 0.9)

    def test_named_causes_and_speeds_of_the_engine(self):
        said, table = self.table("--cause", "undercharge", "--at", "1500", "--set", "controls.pulley_ratio=1.5")
        self.assertIn("engine 1500 rpm (compressor 2250)", said)
        self.assertEqual([r["severity"] for r in table["points"][0]["rows"]], [0, 0.25, 0.5, 0.75])
        self.assertEqual(table["points"][0]["rows"][2]["words"], "50 % of the charge missing")

    def test_wrong_usage(self):
        for more in (("--at", "fast"), ("--cause", "undercharg"), ("--ambient", "95"), ("--severity", "3")):
            with self.subTest(more=more):
                run("expect", "--vehicle", VEHICLE, "-o", self.path("out"), *more, expect=2)
        self.assertFalse(os.path.exists(self.path("out")))


class Several(InFolder):
    """Runs beside each other: what a gauge shows, how long was looked at, a table at the end."""

    def test_a_table_at_the_end(self):
        names = [os.path.join(SCENARIOS, n) for n in ("healthy.ini", "undercharge.ini")]
        said = run("run", *names, "--plot", "none", "-o", self.path("out"), "--units", "trade").stdout
        table = said[said.index("outcome"):].splitlines()
        self.assertRegex(table[0], "low +high +vent +gas, hottest +shell, most +clutch")
        self.assertRegex(table[1], r"healthy +lives .* psig +.* psig +.* degF +.* degF +.* degF +\d+ %")
        self.assertRegex(table[2], r"undercharge +shoe welds, ")

    def test_readings_without_v_and_for_how_long(self):
        said = run("run", os.path.join(SCENARIOS, "healthy.ini"), "--plot", "none", "-o", self.path("out")).stdout
        self.assertIn("survives these 30 min", said)
        for name in ("suction_pressure", "superheat", "subcooling", "vent_temperature"):
            self.assertRegex(said, rf"\n  {name} +\S+ \w+ +\S+ \w+ +\S+ \w+ +\S+ \w+\n")
        for word in ("Balance:", "Integrator:"):
            self.assertNotIn(word, said)

    def test_still_warming_is_said(self):
        said = run("run", os.path.join(SCENARIOS, "healthy.ini"), "--plot", "none", "-o", self.path("out"),
                   "--set", "run.duration=21 min").stdout
        self.assertRegex(said, "survives these 21 min; its rotor reaches .* and still warms")
        self.assertIn("Not at rest: the rotor still warms by", said)


class Findings(InFolder):
    """A locked compressor and no log: what was found on bench and vehicle is ranked, and said."""

    def rank(self, text, *more):
        path = self.write("findings.ini", "[findings]\n" + text)
        said = run("rank", *more, "--bench", path, "--vehicle", VEHICLE, "--plot", "none", "-o", self.path("out")).stdout
        with open(self.path("out/rank.json"), encoding="utf-8") as f:
            return said, json.load(f)

    def test_without_a_log(self):
        """What was weighed, measured and seen names the cause that it measures (common practice, no source)."""
        for text, truth in (("refrigerant_recovered = 280 g\nshoe_seized = yes\n", "undercharge"),
                            ("condenser_face = 60 %\nfan_runs = yes\n", "condenser_blocked"), ("fan_runs = no\n", "fan_dead"),
                            ("oil_drained = 40 ml\n", "oil_short"),
                            ("pulley_ratio = 1.4\n", "overspeed"),
                            ("standing_pressure = 120 psi\nstanding_ambient = 77 degF\n", "air_in_system")):
            with self.subTest(found=text):
                said, ranking = self.rank(text)
                self.assertEqual(ranking["ranking"][0]["fault"], truth, said)
                self.assertIn("On bench and vehicle", said)
                told = {f["finding"]: f for f in ranking["findings"]}
                self.assertEqual(set(told), {line.split(" ")[0] for line in text.splitlines()})
                self.assertTrue(any(truth in f["speaks_for"] and f["why"] for f in told.values()), told)

    def test_what_speaks_against(self):
        """A fan that runs at full speed is no dead fan: the share of that cause falls."""
        def share(ranking):
            return next(c["share"] for c in ranking["ranking"] if c["fault"] == "fan_dead")
        before = share(self.rank("shoe_seized = yes\n")[1])
        said, ranking = self.rank("fan_runs = yes\nshoe_seized = yes\n")
        told = {f["finding"]: f for f in ranking["findings"]}
        self.assertEqual(told["fan_runs"]["text"], "yes")
        self.assertLess(share(ranking), 0.5 * before)
        self.assertRegex(said, "fan_runs +yes ")

    def test_with_a_sheet(self):
        sheet = self.write("sheet.csv", points(os.path.join(SCENARIOS, "logs", "bay-short-of-charge.csv")))
        said, ranking = self.rank("refrigerant_recovered = 280 g\n", sheet)
        self.assertEqual(ranking["ranking"][0]["fault"], "undercharge")
        self.assertIn("refrigerant_recovered", said)

    def test_mistakes(self):
        for text, words in (("recovered = 3 oz\n", "unknown finding 'recovered' (expected refrigerant_recovered)"),
                            ("colour = red\n", "unknown finding 'colour' (expected one of"), ("shoe_seized = a bit\n", "yes or no"),
                            ("shoe_siezed = yes\n", "expected shoe_seized")):
            path = self.write("findings.ini", "[findings]\n" + text)
            for command in (["rank", "--bench", path, "--vehicle", VEHICLE], ["check", path]):
                with self.subTest(text=text, command=command[0]):
                    self.assertIn(words, run(*command, expect=3).stderr)
        self.assertIn("--bench FILE", run("rank", "--vehicle", VEHICLE, expect=2).stderr)

    def test_check_prints_what_it_understood(self):
        said = run("check", self.write("f.ini", "[findings]\noil_amount = 60 ml\nfan_runs = true\n")).stdout
        self.assertRegex(said, "oil_amount +59 g")
        self.assertRegex(said, "fan_runs +yes")


class Steps(InFolder):
    """What to do next: rank and plan say the same, harmless tests first, one limit at which to stop."""

    def plan(self, causes, *more, expect=0, **ranking):
        with open(self.path("rank.json"), "w", encoding="utf-8") as f:
            json.dump({"ranking": causes, **ranking}, f)
        done = run("plan", "--vehicle", VEHICLE, "--from", self.folder, "-o", self.path("plan"), *more, expect=expect)
        if expect:
            return done.stderr, None
        with open(self.path("plan/plan.json"), encoding="utf-8") as f:
            return done.stdout, json.load(f)

    OPEN = [{"fault": "undercharge", "share": 0.5, "severity": 0.5}, {"fault": "valve_starving", "share": 0.4, "severity": 0.5}]
    BLOCKED = [{"fault": "condenser_blocked", "share": 0.6, "severity": 0.5},
               {"fault": "hot_air_recirculation", "share": 0.4, "severity": 0.7}]

    def test_one_limit(self):
        said, plan = self.plan(self.OPEN, "--units", "trade", "--plot", "svg")
        with open(self.path("plan/plan.svg"), encoding="utf-8") as f:
            picture = f.read()
        self.assertAlmostEqual(plan["stop"]["discharge_pressure"]["value"], 24e5 + 101325)
        for text in (said, " ".join(plan["cautions"]), plan["stop"]["text"], picture):  # NIST SP 811: 24 bar are 348 psi
            self.assertIn("348 psig at the high side or 239.0 ", text)
        self.assertNotIn("barg", said)

    def test_predictions_say_what_they_are_for(self):
        said, plan = self.plan(self.OPEN, "--plot", "none", conditions={"ambient_temperature": {"value": 310.15, "unit": "K"}})
        for words in ("Computed for 37.0 degC outside, 45 % humidity (assumed).", "undercharge (50 % of the charge missing)"):
            self.assertIn(words, said)
        self.assertIn("37.0 degC", plan["conditions"])
        other, _ = self.plan(self.OPEN, "--plot", "none", "--set", "conditions.ambient_temperature=25 degC",
                             conditions={"ambient_temperature": {"value": 310.15, "unit": "K"}})
        self.assertIn("25.0 degC outside", other)

    def test_harmless_tests_only_where_they_tell(self):
        said, plan = self.plan(self.BLOCKED, "--plot", "none", "--set", "conditions.ambient_temperature=37 degC")
        self.assertNotIn("unplugged", said)
        barred = [t["test"] for t in plan["tests"] if t["barred"]]
        self.assertIn("fan_off", barred)
        self.assertFalse(plan["next_reading"]["careful"] and any(not t["careful"] and t["separation"] >= 3 for t in plan["tests"]))
        self.assertIn("look_at_face", [d["test"] for d in plan["direct"]])

    def test_direct_tests_with_minutes_and_worth(self):
        said, plan = self.plan(self.OPEN, "--plot", "none")
        weigh = next(d for d in plan["direct"] if d["test"] == "recover_and_weigh")
        self.assertEqual((weigh["minutes"], weigh["tells"]), (30, "clearly"))
        self.assertRegex(said, r"recover the refrigerant and weigh it .*\n +About 30 min; tells clearly")
        self.assertEqual(weigh["expected"]["undercharge"], "370 g")  # half of the 740 g on the label

    def test_what_is_told_apart_is_confirmed(self):
        causes = [{"fault": "undercharge", "share": 0.95, "severity": 0.5}, {"fault": "healthy", "share": 0.05, "severity": 0}]
        said, plan = self.plan(causes, "--plot", "none")
        self.assertTrue(plan["told_apart"])
        self.assertTrue(said.startswith("undercharge (50 % of the charge missing) is told apart already; what confirms it"))
        self.assertLess(said.index("recover the refrigerant"), said.index("Hold "))

    def test_rank_and_plan_name_the_same(self):
        sheet = self.write("sheet.csv", points(os.path.join(SCENARIOS, "logs", "bay-short-of-charge.csv")))
        run("rank", sheet, "--vehicle", VEHICLE, "--plot", "none", "-o", self.path("rank"))
        run("plan", "--from", self.path("rank"), "--vehicle", VEHICLE, "--plot", "none", "-o", self.path("plan"))
        with open(self.path("rank/rank.json"), encoding="utf-8") as f, open(self.path("plan/plan.json"), encoding="utf-8") as g:
            ranking, plan = json.load(f), json.load(g)
        for key in ("test", "channel", "hold_s"):
            self.assertEqual(ranking["next_reading"][key], plan["next_reading"][key])
        self.assertEqual([d["test"] for d in ranking["direct"]], [d["test"] for d in plan["direct"]])

    def test_a_locked_compressor_is_not_run(self):
        path = self.write("findings.ini", "[findings]\nshoe_seized = yes\nfan_runs = yes\n")
        said = run("rank", "--bench", path, "--vehicle", VEHICLE, "--plot", "none", "-o", self.path("rank")).stdout
        self.assertNotIn("Next reading", said)
        said = run("plan", "--from", self.path("rank"), "--vehicle", VEHICLE, "--plot", "none", "-o", self.path("plan")).stdout
        self.assertIn("bay and road tests wait until one runs", said)

    def test_from_is_validated(self):
        good = {"fault": "undercharge", "share": 0.5, "severity": 0.5}
        for bad in ({"severity": 99}, {"severity": -5}, {"severity": 1e308}, {"severity": "0.5"}, {"severity": None}, {"share": 2},
                    {"share": "x"}, {"fault": "undercharge+bad_luck", "second_severity": 0.5}, {"fault": 3},
                    {"fault": "undercharge+undercharge", "second_severity": 0.5}, {"fault": "healthy+undercharge"}):
            with self.subTest(bad=bad):
                errors, _ = self.plan([dict(good, **bad), self.OPEN[1]], expect=3)
                self.assertIn("rank.json: ", errors)
        self.assertFalse(os.path.exists(self.path("plan")))

    def test_a_sheet_to_fill_in(self):
        self.plan(self.OPEN, "--units", "trade", "--plot", "none")
        sheet = self.path("plan/sheet.csv")
        self.assertIn("a spot sheet without a reading", run("check", sheet, expect=3).stderr)
        with open(sheet, encoding="utf-8") as f:
            rows = list(csv.DictReader(f))
        self.assertRegex(rows[0]["expected suction_pressure"], r"^\d+ psig to \d+ psig$")
        for row in rows:  # filled in with what the healthy demo car showed at about that speed
            row.update({"suction_pressure[psig]": "35", "discharge_pressure[psig]": "250", "vent_temperature[degF]": "55",
                        "ambient_temperature[degF]": "90"})
        with open(sheet, "w", encoding="utf-8") as f:
            writer = csv.DictWriter(f, rows[0])
            writer.writeheader()
            writer.writerows(rows)
        said = run("check", sheet).stdout
        self.assertIn(f"spot sheet of {len(rows)} points", said)
        self.assertIn("Good for: rank", said)


class Handover(InFolder):
    """accept: what the readings could not have shown, the worst hour with what was found, no switch hidden."""

    def judge(self, command, path, *more, expect=0):
        done = run(command, path, "--vehicle", VEHICLE, "--plot", "none", "-o", self.path("out"), *more, expect=expect)
        with open(self.path(f"out/{command}.json"), encoding="utf-8") as f:
            return done.stdout, json.load(f)

    def test_a_pass_says_what_it_could_not_see(self):
        said, verdict = self.judge("accept", HEALTHY)
        self.assertTrue(said.startswith("PASS: nothing in these readings speaks against the vehicle"))
        self.assertIn("these readings could not have shown, at any size:", said)
        shown = {o["fault"]: o["shown_from_severity"] for o in verdict["could_not_show"]}
        self.assertIsNone(shown["oil_return_lost"])
        self.assertGreater(shown["undercharge"], 0)
        self.assertRegex(said, "discharge_pressure +\\S+ barg +\\S+ barg +\\S+ barg to \\S+ barg\n")
        self.assertIn("with a sound vehicle of this file", said)

    def test_the_worst_hour_has_what_was_found(self):
        said, verdict = self.judge("accept", os.path.join(SCENARIOS, "logs", "bay-blocked-condenser.csv"), expect=1)
        self.assertEqual(verdict["worst_fault"], "condenser_blocked")
        self.assertRegex(said, "worst hour, computed at .* with \\d+ % of the condenser air lost: ")
        self.assertRegex(said, "discharge_pressure .* OUTSIDE\n")

    def test_a_switch_is_not_hidden(self):
        """Whichever pressure the worst hour just reaches: a switch that opens there is told."""
        for opens in (26, 25, 24, 23.5):
            said, verdict = self.judge("accept", HEALTHY, "--set", f"controls.high_open={opens} barg", "--set",
                                       f"controls.high_close={opens - 6} barg", expect=None)
            if verdict["worst_outcome"] == "protected":
                break
        self.assertEqual(verdict["worst_outcome"], "protected")
        self.assertIn("KEPT ALIVE BY A SWITCH only", said)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
