"""A machine of one's own: cylinders, faults and schedules that no table knows.

Usage: own_program.py PROGRAM SCENARIOS_FOLDER TEST_CLASS
"""
import csv
import json
import math
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
        shutil.copy(os.path.join(SCENARIOS, "van-valve.ini"), self.path("van.ini"))

    def path(self, name):
        return os.path.join(self.folder, name)

    def write(self, name, text):
        with open(self.path(name), "w", encoding="utf-8") as f:
            f.write(text)

    def call(self, status, *command, words=()):
        done = subprocess.run([PROGRAM, *command], cwd=self.folder, capture_output=True, text=True, timeout=300)
        self.assertEqual(done.returncode, status, done.stderr)
        for w in words:
            self.assertIn(w, done.stderr)
        return done.stdout

    def run_story(self, *more, out="out", story="story.ini"):
        self.call(0, "run", story, "-o", out, "--plot", "none", "-q", *more)
        with open(self.path(f"{out}/summary.json"), encoding="utf-8") as f:
            return json.load(f)

    def series(self, out="out"):
        with open(self.path(f"{out}/series.csv"), encoding="utf-8") as f:
            return [{k.split("[")[0]: float(v) if v else math.nan for k, v in row.items()} for row in csv.DictReader(f)]

    def value(self, key, out="out"):
        """What the resolved case says."""
        section, name = key.split(".")
        with open(self.path(f"{out}/case.ini"), encoding="utf-8") as f:
            body = f.read().split(f"\n[{section}]\n")[1].split("\n[")[0]
        return next(line.split("=")[1].strip() for line in body.splitlines() if line.startswith(name + " ="))


class Cylinders(Case):
    STORY = "[conditions]\ndoors_open = 1\n[run]\nduration = 60 s\n"

    def setUp(self):
        super().setUp()
        self.write("story.ini", self.STORY)

    def swept(self):
        return float(self.value("compressor.displacement").split()[0])

    def test_displacement_is_computed(self):
        """Swept volume is bores x stroke x bore area: the definition."""
        for settings, n, bore, stroke in ((["compressor.cylinders=6"], 6, 31, 23.6), (["compressor.bore=30 mm"], 10, 30, 23.6),
                                          (["compressor.cylinders=14", "compressor.bore=26 mm", "compressor.stroke=20 mm"], 14, 26, 20)):
            self.run_story(*[w for s in settings for w in ("--set", s)])
            self.assertAlmostEqual(self.swept(), n * math.pi / 4 * bore**2 * stroke * 1e-9, delta=1e-12)

    def test_displacement_is_checked(self):
        self.call(2, "run", "story.ini", "-o", "x", "--set", "compressor.displacement=178 cm3", "--set", "compressor.bore=45 mm",
                  words=["10 cylinders of 45 mm bore and 23.6 mm stroke make 375.3 cm3", "the displacement is 178 cm3"])
        self.call(2, "run", "story.ini", "-o", "x", "--set", "compressor.cylinders=7", words=["7 cylinders", "an even number"])
        self.call(2, "run", "story.ini", "-o", "x", "--set", "compressor.model=ten_150", "--set", "compressor.cylinders=6", words=["the displacement is 150 cm3"])
        self.run_story("--set", "compressor.displacement=176 cm3", "--set", "compressor.bore=31 mm")
        self.assertAlmostEqual(self.swept(), 176e-6, delta=1e-18)

    def test_displacement_alone_stays_what_it_was(self):
        first = self.run_story("--set", "compressor.displacement=120 cm3")
        again = self.run_story(story="out/case.ini", out="again")
        self.assertEqual(first["final"], again["final"])
        self.assertAlmostEqual(self.swept(), 120e-6, delta=1e-18)

    def test_fewer_cylinders(self):
        """The same swept volume on six larger bores instead of ten: fewer shoes, each loaded by a larger piston."""
        ten = self.run_story("--set", "compressor.cylinders=10")
        bore = 31 * math.sqrt(10 / 6)
        six = self.run_story("--set", "compressor.cylinders=6", "--set", f"compressor.bore={bore:.6f} mm", out="six")
        self.assertAlmostEqual(ten["final"]["mass_flow"], six["final"]["mass_flow"], delta=0.02 * ten["final"]["mass_flow"])
        # leak past the pistons goes with the length of all rims, n pi d: less for fewer, larger bores
        self.assertAlmostEqual(six["final"]["blowby_share"] / ten["final"]["blowby_share"], 6 * bore / (10 * 31), delta=0.03)
        # viscous and contact terms that do not follow the gas load scale with the number of shoes
        self.assertLess(six["final"]["heat_shoe_friction"], ten["final"]["heat_shoe_friction"] * 1.02)


class Groups(Case):
    """An oil and a compressor from files of their own."""

    def setUp(self):
        super().setUp()
        os.mkdir(self.path("shop"))
        self.write("shop/oil.ini", "# invented\n[oil]\nviscosity_40 = 68 mm2/s\nviscosity_100 = 13 mm2/s\ndensity = 960 kg/m3\n")
        self.write("shop/six.ini", "[compressor]\ncylinders = 6\nbore = 36 mm\nstroke = 24 mm\nplate_radius = 29 mm\n")
        self.write("story.ini", "[oil]\ngrade = shop/oil.ini\n[compressor]\nmodel = shop/six.ini\n[run]\nduration = 60 s\n")

    def test_files(self):
        by_file = self.run_story()
        self.write("plain.ini", "[oil]\nviscosity_40 = 68 mm2/s\nviscosity_100 = 13 mm2/s\ndensity = 960 kg/m3\n[compressor]\ncylinders = 6\nbore = 36 mm\n"
                   "stroke = 24 mm\nplate_radius = 29 mm\n[run]\nduration = 60 s\n")
        self.assertEqual(by_file["final"], self.run_story(story="plain.ini", out="plain")["final"])
        self.assertAlmostEqual(float(self.value("compressor.displacement").split()[0]), 6 * math.pi / 4 * 36**2 * 24e-9, delta=1e-12)
        self.assertEqual(by_file["final"], self.run_story(story="out/case.ini", out="again")["final"])

    def test_a_key_beside_it_counts_more(self):
        self.write("story.ini", "[oil]\nviscosity_100 = 14 mm2/s\ngrade = shop/oil.ini\n[run]\nduration = 60 s\n")
        self.run_story()
        self.assertEqual(self.value("oil.viscosity_100"), "1.4e-05 m2/s")
        self.run_story("--set", "oil.grade=shop/oil.ini", "--set", "oil.viscosity_40=70 mm2/s")
        self.assertEqual(self.value("oil.viscosity_40"), "7e-05 m2/s")

    def test_mistakes(self):
        self.write("shop/oil.ini", "[oil]\nviscosity_40 = 68 mm2/s\n[friction]\nboundary = 0.1\n")
        self.call(3, "run", "story.ini", "-o", "x", words=["shop/oil.ini:4:1:", "settings of [oil]"])
        self.write("shop/oil.ini", "[oil]\nviscosity_4 = 68 mm2/s\n")
        self.call(3, "run", "story.ini", "-o", "x", words=["shop/oil.ini:2:1:", "viscosity_40"])
        self.write("story.ini", "[oil]\ngrade = shop/none.ini\n")
        self.call(3, "run", "story.ini", "-o", "x", words=["shop/none.ini"])


class Faults(Case):
    """A fault of one's own that does what a known one does must give the known one's run."""
    STORY = "[scenario]\nvehicle = van.ini\n[conditions]\ndoors_open = 1\n[run]\nduration = 400 s\n"
    OWN = "[own_fault dirty_face]\nseverity = 0.4\ncondenser.air_share = 0\n"
    KNOWN = "[fault condenser_blocked]\nseverity = 0.4\n" # condenser.air_share times 1 - severity

    def both(self, when=""):
        self.write("own.ini", self.STORY + self.OWN + when)
        self.write("known.ini", self.STORY + self.KNOWN + when)
        own, known = self.run_story(story="own.ini", out="own"), self.run_story(story="known.ini", out="known")
        return own, known

    def test_from_the_start(self):
        own, known = self.both()
        self.assertEqual(own["peak"]["discharge_pressure"], known["peak"]["discharge_pressure"])
        self.assertIn("own fault dirty_face, severity 0.4 (of condenser.air_share), from before the start", own["notes"])

    def test_in_time(self):
        own, known = self.both("start = 100 s\nramp = 60 s\nend = 300 s\n")
        for a, b in zip(self.series("own"), self.series("known")):
            self.assertEqual(a["time"], b["time"])
            self.assertAlmostEqual(a["discharge_pressure"], b["discharge_pressure"], delta=1)
        self.assertEqual(own["integrator"], known["integrator"])
        self.assertGreater(own["peak"]["discharge_pressure"]["value"], 1.02 * self.series("own")[99]["discharge_pressure"])

    def test_several_keys_again_from_the_folder(self):
        self.write("story.ini", self.STORY + "[own_fault tired]\nseverity = 0.5\nstart = 50 s\nfriction.film_scale = 0.4\ncompressor.reed_leak_area = 2e-6 m2\n")
        first = self.run_story("--set", "own_fault.tired.severity=0.75")
        again = self.run_story(story="out/case.ini", out="again")
        self.assertEqual(first["final"], again["final"])
        plain = self.run_story("--set", "own_fault.tired.severity=0", out="plain")
        self.assertGreater(plain["final"]["film_ratio"], 1.3 * first["final"]["film_ratio"])
        self.assertGreater(plain["final"]["volumetric_efficiency"], first["final"]["volumetric_efficiency"])

    def test_swept(self):
        """A sweep and a margin move the severity of the user's own fault as they move a known one's."""
        self.write("own.ini", self.STORY + self.OWN)
        self.write("known.ini", self.STORY + self.KNOWN)
        rows = {}
        for name, key in (("own", "own_fault.dirty_face.severity"), ("known", "fault.condenser_blocked.severity")):
            self.call(0, "sweep", f"{name}.ini", "--vary", f"{key}=0.1..0.6:3", "-o", name, "--plot", "none", "-q")
            with open(self.path(f"{name}/cases.csv"), encoding="utf-8") as f:
                head, *rest = list(csv.reader(f))
            self.assertEqual([head[i] for i in range(len(head)) if key in head[i]][:1], [f"{key}[1]"])
            rows[name] = rest
        self.assertEqual(rows["own"], rows["known"])
        self.call(2, "sweep", "own.ini", "--vary", "own_fault.dirty_fac.severity=0.1..0.6:3", "-o", "x", words=["the nearest is 'own_fault.dirty_face.severity'"])
        edges = [json.loads(self.call(0, "margin", story, *vary, "--range", "0.3..0.9", "--json", "-o", "m", "--plot", "none"))
                 for story, vary in (("own.ini", ["--vary", "own_fault.dirty_face.severity"]), ("own.ini", ["--fault", "dirty_face"]),
                                     ("known.ini", ["--fault", "condenser_blocked"]))]
        self.assertEqual(edges[0]["key"], "own_fault.dirty_face.severity")
        for edge in edges[:2]:
            self.assertEqual(edge["critical"], edges[2]["critical"])
            self.assertEqual(edge["today"], edges[2]["today"])

    def test_mistakes(self):
        for text, words in (("[own_fault x]\nseverity = 0.5\n", ["story.ini:7:", "no parameters"]),
                            ("[own_fault x]\ncondenser.air_share = 0\n", ["story.ini:7:", "no severity"]),
                            ("[own_fault x]\nseverity = 0.5\ncondenser.air_shar = 0\n", ["story.ini:9:1:", "the nearest is condenser.air_share"]),
                            ("[own_fault x]\nseverity = 0.5\ncondenser.air_share = -1\n", ["story.ini:9:", "out of range"]),
                            ("[own_fault x]\nseverity = 0.5\ncompressor.chamber_volume = 100 cm3\n", ["story.ini:9:1:", "may change while a machine runs"]),
                            ("[own_fault x]\nseverity = 0.5\ncharge.fraction = 0.4\n", ["story.ini:9:1:"]),
                            ("[own_fault undercharge]\nseverity = 0.5\ncondenser.air_share = 0\n", ["story.ini:7:", "no known fault has"]),
                            ("[own_fault x]\nseverity = 0.5\nramp = 10 s\ncondenser.air_share = 0\n", ["a ramp and no start"])):
            self.write("story.ini", self.STORY + text)
            self.call(3, "run", "story.ini", "-o", "x", words=words)
        self.assertFalse(os.path.exists(self.path("x")))


class Refrigerant(Case):
    """R-134a from a fluid file is the program's own R-134a: same published equation, tables made when the file is first used."""
    STORY = "[scenario]\nvehicle = van.ini\n[vehicle]\nrefrigerant = shop/r134a.json\n[conditions]\ndoors_open = 1\n[run]\nduration = 300 s\n"

    def setUp(self):
        super().setUp()
        os.mkdir(self.path("shop"))
        shutil.copy(os.path.join(os.path.dirname(os.path.abspath(__file__)), "fluids", "r134a.json"), self.path("shop/r134a.json"))
        self.write("story.ini", self.STORY)
        with open(self.path("shop/r134a.json"), encoding="utf-8") as f:
            self.text = f.read()
        os.mkdir(self.path("kept"))
        os.environ["XDG_CACHE_HOME"] = self.path("kept")
        self.addCleanup(os.environ.pop, "XDG_CACHE_HOME")

    def kept(self):
        folder = self.path("kept/swashheat")
        return [os.path.join(folder, name) for name in os.listdir(folder)] if os.path.isdir(folder) else []

    def test_same_as_the_programs_own(self):
        own, known = self.run_story(), self.run_story("--set", "vehicle.refrigerant=R134a", out="known")
        for name in ("rotor_temperature", "discharge_temperature", "suction_pressure", "discharge_pressure", "mass_flow", "oil_viscosity"):
            self.assertAlmostEqual(own["final"][name] / known["final"][name], 1, delta=1e-4, msg=name)
        self.assertLess(abs(own["charge_drift"]), 1e-9)
        # the equation's critical point is found again to the digits that the program's own is written with
        for pair in (("pressure=10bar", "temperature=90degC"), ("temperature=374.2 K", "quality=0.4"), ("pressure=20barg", "enthalpy=300 kJ/kg")):
            a, b = (json.loads(self.call(0, "state", fluid, *pair, "--json")) for fluid in ("shop/r134a.json", "R134a"))
            for name in ("pressure", "temperature", "density", "enthalpy", "entropy", "viscosity"):
                self.assertAlmostEqual(a[name]["value"] / b[name]["value"], 1, delta=3e-7, msg=f"{pair} {name}")

    def test_tables_are_kept(self):
        first = self.run_story()
        file, = self.kept()
        with open(file, "rb") as f:
            whole = f.read()
        os.utime(file, (1, 1))
        self.assertEqual(self.run_story(out="again")["final"], first["final"])
        self.assertEqual(os.stat(file).st_mtime, 1, "read, not made again")
        with open(file, "wb") as f:  # a bit gone wrong, and a file cut short: made again
            f.write(whole[:3000000] + bytes([whole[3000000] ^ 1]) + whole[3000001:])
        self.assertEqual(self.run_story(out="again")["final"], first["final"])
        with open(file, "rb") as f:
            self.assertEqual(f.read(), whole)
        with open(file, "wb") as f:
            f.write(whole[:5000])
        self.assertEqual(self.run_story(out="again")["final"], first["final"])
        self.assertEqual(self.kept(), [file], "nothing half-written is left")
        shutil.rmtree(self.path("kept"))
        with open(self.path("kept"), "w", encoding="utf-8") as f:  # no folder to keep them in
            f.write("in the way\n")
        self.assertEqual(self.run_story(out="again")["final"], first["final"])

    def test_again_from_the_folder(self):
        first = self.run_story()
        os.remove(self.path("shop/r134a.json"))
        self.assertEqual(self.value("vehicle.refrigerant"), "case-refrigerant.json")
        self.assertEqual(self.run_story(story="out/case.ini", out="again")["final"], first["final"])
        with open(self.path("out/provenance.json"), encoding="utf-8") as f:
            self.assertIn("refrigerant", [i["role"] for i in json.load(f)["inputs"]])

    def test_a_fitted_vehicle_keeps_it(self):
        log = os.path.join(SCENARIOS, "logs", "bay-healthy.csv")
        shutil.copy(os.path.join(SCENARIOS, "vehicle-logs.ini"), self.path("logs.ini"))
        self.call(0, "fit", log, "--vehicle", "logs.ini", "--set", "vehicle.refrigerant=shop/r134a.json", "--free", "body.block_shell", "-o", "fit",
                  "--plot", "none", "-q")
        with open(self.path("fit/vehicle.ini"), encoding="utf-8") as f:
            self.assertIn("refrigerant = case-refrigerant.json", f.read())
        self.call(0, "check", "fit/vehicle.ini")

    def test_check_names_it(self):
        self.write("shop/r134a.json", self.text.replace('"R134a"', '"Blue gas"'))
        self.assertIn("Blue gas", self.call(0, "check", "story.ini"))

    def test_what_is_not_in_the_file_is_said(self):
        fluid = json.loads(self.text)
        del fluid["TRANSPORT"]
        self.write("shop/r134a.json", json.dumps([fluid]))  # a list of one, as CoolProp prints it
        self.assertTrue(any("no viscosity in the file" in note for note in self.run_story()["notes"]))
        estimated, known = (json.loads(self.call(0, "state", name, "pressure=10bar", "temperature=90degC", "--json"))
                            for name in ("shop/r134a.json", "R134a"))
        self.assertIn("no viscosity", estimated["remark"])
        self.assertAlmostEqual(estimated["viscosity"]["value"] / known["viscosity"]["value"], 1, delta=0.2)

    def place(self, *found):
        """Line and column of what stands behind these words, each looked for behind the one before."""
        at = 0
        for words in found:
            at = self.text.index(words, at) + len(words)
        return f"shop/r134a.json:{self.text.count(chr(10), 0, at) + 1}:{at - self.text.rfind(chr(10), 0, at)}:"

    def test_mistakes(self):
        def broken(old, new, *words):
            self.assertIn(old, self.text)
            self.write("shop/r134a.json", self.text.replace(old, new, 1))
            self.call(3, "run", "story.ini", "-o", "x", words=words)
        broken('"gas_constant": 8.314471', '"gas_constant": "8.3"', self.place('"gas_constant": '), "EOS[0].gas_constant: is no number", "a number")
        broken('"gas_constant": 8.314471,', "", self.place('"EOS": [\n    '), 'there is no "gas_constant"')
        broken("ResidualHelmholtzPower", "ResidualHelmholtzSoup", "alphar[0].type", "'ResidualHelmholtzSoup' are not known here", "ResidualHelmholtzGaussian")
        broken("IdealGasHelmholtzLogTau", "IdealGasHelmholtzTea", self.place('"a": -1.629789,\n', '"type": '), "'IdealGasHelmholtzTea'")
        broken("0.05586817, ", "", "alphar[0].t: has 21 numbers where the term has 20")
        broken('"molar_mass": 0.102032', '"molar_mass": -0.1', self.place('"molar_mass": '), "a number above 0")
        broken('"pseudo_pure": false', '"pseudo_pure": true', self.place('"pseudo_pure": '), "bubble and dew points differ")
        broken('"EOS": [', '"EOS" [', "shop/r134a.json:", "':' expected", "JSON in the form of CoolProp's fluid files")
        broken('"T": 374.21', '"T": 250', "STATES.critical", "critical point of the equation")
        broken('"Ttriple": 169.85', '"Ttriple": 220', "a vapour pressure of", "less than 500 Pa")
        self.write("story.ini", self.STORY.replace("r134a.json", "none.json"))
        self.call(3, "run", "story.ini", "-o", "x", words=["shop/none.json"])
        self.assertFalse(os.path.exists(self.path("x")))
        self.assertEqual(self.kept(), [])


class Schedule(Case):
    """A schedule drives parameters too."""
    STORY = "[scenario]\nvehicle = van.ini\nschedule = drive.csv\n[conditions]\ndoors_open = 1\n[run]\nduration = 400 s\n"

    def test_a_constant_column_is_a_setting(self):
        self.write("story.ini", self.STORY)
        self.write("drive.csv", "time[s],condenser.air_share[1],compressor_speed[rpm]\n0,0.7,1500\n400,0.7,1500\n")
        driven = self.run_story()
        self.write("drive.csv", "time[s],compressor_speed[rpm]\n0,1500\n400,1500\n")
        said = self.run_story("--set", "condenser.air_share=0.7", out="said")
        self.assertEqual(driven["final"], said["final"])

    def test_a_ramp_is_a_ramping_fault(self):
        self.write("story.ini", self.STORY)
        self.write("drive.csv", "# body.engine_temperature is not driven here\ntime[s];condenser.air_share[1]\n0;1\n100;1\n160;0.6\n400;0.6\n")
        driven = self.run_story()
        self.write("known.ini", self.STORY.replace("schedule = drive.csv\n", "") + "[fault condenser_blocked]\nseverity = 0.4\nstart = 100 s\nramp = 60 s\n")
        known = self.run_story(story="known.ini", out="known")
        for a, b in zip(self.series(), self.series("known")):
            self.assertAlmostEqual(a["discharge_pressure"], b["discharge_pressure"], delta=0.002 * b["discharge_pressure"])
        self.assertAlmostEqual(driven["final"]["rotor_temperature"], known["final"]["rotor_temperature"], delta=0.05)
        self.assertLess(abs(driven["charge_drift"]), 1e-9)
        self.assertLess(abs(driven["energy_residual"]), 1e-6)
        again = self.run_story(story="out/case.ini", out="again")
        self.assertEqual(driven["final"], again["final"])

    def test_units_of_a_column(self):
        """One temperature in three units; in degF it differs in its last bit, which a cycling clutch makes millikelvin of."""
        self.write("story.ini", self.STORY)
        final = {}
        for unit, first, second in (("degC", 80, 120), ("K", 353.15, 393.15), ("degF", 176, 248)):
            self.write("drive.csv", f"time[s],body.engine_temperature[{unit}]\n0,{first}\n200,{second}\n400,{second}\n")
            final[unit] = self.run_story(out=unit)["final"]
        self.assertEqual(final["degC"], final["K"])
        self.assertAlmostEqual(final["degC"]["shell_temperature"], final["degF"]["shell_temperature"], delta=0.02)
        hot = {"final": final["degC"]}
        self.assertGreater(hot["final"]["heat_bracket"], 0)

    def test_mistakes(self):
        self.write("story.ini", self.STORY)
        for text, words in (("time[s],condenser.air_shar[1]\n0,1\n", ["drive.csv:1", "condenser.air_share"]),
                            ("time[s],condenser.air_share[1]\n0,1\n10,-2\n", ["drive.csv:3:", "out of range"]),
                            ("time[s],condenser.air_share[1]\n0,\n10,1\n", ["drive.csv", "no value of condenser.air_share in the first row"]),
                            ("time[s],condenser.air_share[degC]\n0,1\n", ["drive.csv:1:", "degC"]),
                            ("time[s],charge.fraction[1]\n0,1\n", ["drive.csv", "may change while a machine runs"])):
            self.write("drive.csv", text)
            self.call(3, "run", "story.ini", "-o", "x", words=words)
        self.write("drive.csv", "time[s],condenser.air_share[1]\n0,1\n")
        self.call(2, "sweep", "story.ini", "-o", "x", "--vary", "condenser.air_share=0.5..1:3", words=["condenser.air_share", "drive schedule"])


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
