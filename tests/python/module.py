"""The Python module as its user has it: installed by pip from solver/python into a virtual environment of its own.

Usage: module.py BUILD SOURCE PROGRAM CLASS
"""
import csv
import json
import os
import subprocess
import sys
import unittest

BUILD, SOURCE, PROGRAM = (os.path.abspath(p) for p in sys.argv[1:4])
VENV = os.path.join(BUILD, "tests", "python-venv")
PYTHON = os.path.join(VENV, "bin", "python")
SCENARIOS = os.path.join(SOURCE, "scenarios")
CONVERTER = ["asammdf>=8", "python-can>=4", "cantools>=39", "pyarrow", "h5py"]


def pip(*arguments):
    done = subprocess.run([PYTHON, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", *arguments],
                          capture_output=True, text=True, timeout=1200)
    return None if done.returncode == 0 else done.stderr[-2000:]


def prepare(extra):
    """Installs what is missing and starts this script again inside; leaves with 77 where the registry cannot be had."""
    if not os.path.exists(PYTHON):
        done = subprocess.run([sys.executable, "-m", "venv", VENV], capture_output=True, text=True)
        if done.returncode:
            print(f"SKIPPED: no virtual environment: {done.stderr[-300:]}")
            sys.exit(77)
    problem = pip("scikit-build-core>=0.10", "numpy", *extra)
    if problem:
        print(f"SKIPPED: the package registry cannot be had: {problem[-300:]}")
        sys.exit(77)
    problem = pip("--no-build-isolation", "--no-deps", "--force-reinstall", os.path.join(SOURCE, "solver", "python"),
                  f"--config-settings=build-dir={os.path.join(BUILD, 'tests', 'python-wheel')}")
    if problem:
        sys.exit(f"pip install ./solver/python:\n{problem}")
    os.environ["SWH_INSIDE_VENV"] = "1"
    os.environ.pop("PYTHONPATH", None)
    sys.stdout.flush()
    os.execv(PYTHON, [PYTHON] + sys.argv)


if not os.environ.get("SWH_INSIDE_VENV"):
    prepare(CONVERTER if sys.argv[4] == "Converter" else [])

import pickle  # noqa: E402
import shutil  # noqa: E402
import tempfile  # noqa: E402
import threading  # noqa: E402

import numpy  # noqa: E402

import swashheat  # noqa: E402


def program(*arguments, expect=0):
    done = subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, timeout=300)
    if done.returncode != expect:
        raise AssertionError(f"{arguments}: {done.returncode}\n{done.stderr}")
    return done.stdout


def table(path):
    with open(path, encoding="utf-8") as f:
        head, *rows = list(csv.reader(f))
    return {name.split("[")[0]: numpy.array([float(r[i]) if r[i] else numpy.nan for r in rows]) for i, name in enumerate(head)}


class Folder(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp(prefix="swh_")
        self.addCleanup(shutil.rmtree, self.folder)

    def path(self, name):
        return os.path.join(self.folder, name)


class Module(Folder):
    LOG = os.path.join(SCENARIOS, "logs", "bay-healthy.csv")

    def load(self, name):
        return swashheat.Case.load(os.path.join(SCENARIOS, name))

    def same(self, run, series):
        """To the nine digits that series.csv has."""
        self.assertEqual(len(run["time"]), len(series["time"]))
        compared = 0
        for name in run:
            numpy.testing.assert_allclose(run[name], series[name], rtol=1e-8, atol=0, err_msg=name)
            compared += 1
        self.assertGreater(compared, 50)

    def test_it_is_the_installed_one(self):
        self.assertTrue(swashheat.__file__.startswith(VENV), swashheat.__file__)
        self.assertEqual(program("--version").split()[1], swashheat.version())

    def test_example(self):
        done = subprocess.run([sys.executable, os.path.join(SOURCE, "tests", "python", "example.py"), SCENARIOS], capture_output=True, text=True)
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertRegex(done.stdout, r"40 % of its air: discharge pipe \d+\.\d K hotter")
        self.assertRegex(done.stdout, r"rank: \w+, share \d")

    def test_run_is_the_programs(self):
        program("run", os.path.join(SCENARIOS, "summer_drive.ini"), "-o", self.folder, "--plot", "none", "-q", "--set", "fault.undercharge.severity=0.2")
        case = self.load("summer_drive.ini")
        case["fault.undercharge.severity"] = 0.2
        run = case.run()
        self.same(run, table(self.path("series.csv")))
        with open(self.path("events.csv"), encoding="utf-8") as f:
            self.assertEqual(len(run.events), len(f.readlines()) - 1)
        self.assertTrue(run.complete and run.outcome == "survives" and run.stopped is None)

    def test_replay_is_the_programs(self):
        program("replay", self.LOG, "--vehicle", os.path.join(SCENARIOS, "vehicle-logs.ini"), "-o", self.folder, "--plot", "none", "-q")
        run, series = self.load("vehicle-logs.ini").replay(self.LOG), table(self.path("series.csv"))
        numpy.testing.assert_allclose(run["discharge_temperature"], series["discharge_temperature"], rtol=1e-8)
        numpy.testing.assert_allclose(run.measured["discharge_temperature"], series["measured_discharge_temperature"], rtol=1e-8)

    def test_accept_is_the_programs(self):
        """Judged, whatever the verdict is: it is an answer, not an error."""
        short = os.path.join(SCENARIOS, "logs", "bay-short-of-charge.csv")
        told = self.load("vehicle-logs.ini").accept(short)
        said = json.loads(program("accept", short, "--vehicle", os.path.join(SCENARIOS, "vehicle-logs.ini"), "--json", "--plot", "none", "-o", self.folder,
                                  expect=1))
        self.assertFalse(told["pass"])
        self.assertEqual(told["worst_fault"], said["worst_fault"])
        self.assertEqual(told["deviations"], said["deviations"])

    def test_fit_is_the_programs(self):
        import json
        told = json.loads(program("fit", self.LOG, "--vehicle", os.path.join(SCENARIOS, "vehicle-logs.ini"), "--free", "body.block_shell",
                                  "--json", "--plot", "none", "-o", self.path("fit")))
        fit = self.load("vehicle-logs.ini").fit(self.LOG, free="body.block_shell")
        self.assertEqual(fit["estimates"], told["estimates"])

    def test_numbers_and_words(self):
        case = swashheat.Case()
        case["conditions.ambient_temperature"] = "100 degF"
        self.assertAlmostEqual(case["conditions.ambient_temperature"], 310.92777778, places=7)
        case.set("controls.high_open", 400, "psig")
        self.assertAlmostEqual(case.get("controls.high_open", "kPa"), (400 + 14.69594878) * 6.894757293, places=3) # NIST SP 811, from memory
        case["vehicle.refrigerant"] = "R1234yf"
        self.assertEqual(case["vehicle.refrigerant"], "R1234yf")
        with self.assertRaisesRegex(swashheat.Error, "out of range"):
            case["charge.fraction"] = -3
        with self.assertRaisesRegex(swashheat.Error, "nearest is 'film_scale'"):
            case["friction.flim_scale"] = "1"
        with self.assertRaises(swashheat.Error) as caught:
            with open(self.path("x.ini"), "w", encoding="utf-8") as f:
                f.write("[compressor]\nbore = 31\n")
            swashheat.Case.load(self.path("x.ini"))
        self.assertEqual((caught.exception.line, os.path.basename(caught.exception.where)), (2, "x.ini"))
        keys = swashheat.keys()
        self.assertEqual(keys["compressor.bore"]["unit"], "m")
        self.assertEqual(swashheat.channels()["mass_flow"]["unit"], "kg/s")

    def test_bits_of_pickles_copies_and_threads(self):
        case = self.load("summer_drive.ini")
        case["friction.film_scale"] = 1.1 / 3
        runs = [case.run(), pickle.loads(pickle.dumps(case)).run(), case.copy().run()]
        threads = [threading.Thread(target=lambda: runs.append(case.run())) for _ in range(3)]
        for t in threads:
            t.start()
        for t in threads:
            t.join()
        self.assertEqual(len(runs), 6)
        for other in runs[1:]:
            for name in runs[0]:
                self.assertEqual(runs[0][name].tobytes(), other[name].tobytes(), name)

    def test_sweep_in_processes(self):
        case = self.load("healthy.ini")
        case["run.duration"] = 100
        vary = {"charge.fraction": [0.5, 1.0, 1.2], "conditions.compressor_speed": [20.0, 40.0]}
        two, one = (case.sweep(vary, results=["peak_rotor_temperature", "last_superheat"], processes=n) for n in (2, 1))
        for name in two:
            numpy.testing.assert_array_equal(two[name], one[name])
        case["charge.fraction"], case["conditions.compressor_speed"] = 1.0, 40.0
        self.assertEqual(case.run().course["rotor_temperature"]["highest"], two["peak_rotor_temperature"][3])
        with self.assertRaises(KeyError):
            case.sweep(vary, results=["peak_nonsense"])

    def test_impossible_cases_of_a_sweep(self):
        case = self.load("healthy.ini")
        case["run.duration"] = 20
        case["fault.overcharge.severity"] = 0.1
        out = case.sweep({"fault.undercharge.severity": [0.2]}, processes=1)
        self.assertEqual(out["outcome"].tolist(), ["impossible"])

    def test_stepper(self):
        case = self.load("healthy.ini")
        run = case.run()
        with case.stepper() as machine:
            for t in run["time"][1:601]:
                machine.advance(t)
            self.assertAlmostEqual(machine["discharge_temperature"], run["discharge_temperature"][600], delta=0.15)
            self.assertEqual((machine.time, machine.outcome), (600.0, "survives"))
            with self.assertRaises(swashheat.Error):
                machine.advance(1.0)
            with self.assertRaises(KeyError):
                machine["nonsense"]

    def test_driven_by_a_log(self):
        driven = self.load("vehicle-logs.ini").drive(self.LOG)
        run, log = driven.run(), table(self.LOG)
        self.assertGreater(run["time"][-1], 0.95 * (log["time"][-1] - log["time"][0]))
        with self.assertRaises(swashheat.Error):
            driven["conditions.compressor_speed"] = 20.0


class Converter(Folder):
    """Files written by the reference libraries (asammdf, python-can with cantools) from one of the shipped logs."""
    NAMES = {"suction_pressure": ("P_low", "bar"), "discharge_pressure": ("P_high", "bar"), "suction_temperature": ("T_suction", "degC"),
             "discharge_temperature": ("T_discharge", "degC"), "compressor_speed": ("n_comp", "rpm"), "clutch": ("ClutchRelay", "1")}

    def setUp(self):
        super().setUp()
        case = swashheat.Case.load(os.path.join(SCENARIOS, "undercharge.ini"))
        case["run.duration"] = 300
        run = case.run()
        self.time = run["time"]
        self.truth = {"suction_pressure": run["suction_pressure"] / 1e5, "discharge_pressure": run["discharge_pressure"] / 1e5,
                      "suction_temperature": run["suction_temperature"] - 273.15, "discharge_temperature": run["discharge_temperature"] - 273.15,
                      "compressor_speed": run["compressor_speed"] * 60, "clutch": numpy.round(run["clutch"])}
        with open(self.path("map.ini"), "w", encoding="utf-8") as f:
            f.write("[columns]\n" + "".join(f"{c} = {n}, {'bara' if u == 'bar' else u}\n" for c, (n, u) in self.NAMES.items()))

    def convert(self, source, target, *more, expect=0):
        tool = os.path.join(VENV, "bin", "swashheat-convert")
        done = subprocess.run([tool, self.path(source), "--map", self.path("map.ini"), "-o", self.path(target), *more], capture_output=True, text=True)
        self.assertEqual(done.returncode, expect, done.stderr)
        return done.stdout if expect == 0 else done.stderr

    def usable(self, name):
        """The program takes it as a log."""
        program("check", self.path(name), "-q")
        program("replay", self.path(name), "--vehicle", os.path.join(SCENARIOS, "van-valve.ini"), "-o", self.path("out"), "-q", "--plot", "none")

    def write_mdf(self):
        import asammdf
        signals = []
        for channel, (name, unit) in self.NAMES.items():
            step = 10 if "temperature" in channel else 1 # temperatures are sampled slowly
            signals.append(asammdf.Signal(samples=self.truth[channel][::step], timestamps=self.time[::step], name=name, unit=unit))
        mdf = asammdf.MDF(version="4.10")
        for signal in signals:
            mdf.append([signal])
        mdf.save(self.path("drive.mf4"), overwrite=True)
        mdf.close()

    def test_mdf(self):
        self.write_mdf()
        self.assertIn("discharge_pressure: 301 readings", self.convert("drive.mf4", "drive.csv"))
        log = table(self.path("drive.csv"))
        numpy.testing.assert_allclose(log["time"], self.time - self.time[0], atol=1e-6)
        numpy.testing.assert_allclose(log["discharge_pressure"], self.truth["discharge_pressure"], rtol=1e-7)
        numpy.testing.assert_allclose(log["discharge_temperature"][::10], self.truth["discharge_temperature"][::10], rtol=1e-7)
        self.usable("drive.csv")

    def test_parquet_and_hdf5(self):
        import h5py
        import pyarrow.parquet
        self.write_mdf()
        self.convert("drive.mf4", "drive.parquet")
        t = pyarrow.parquet.read_table(self.path("drive.parquet"))
        numpy.testing.assert_allclose(t["discharge_pressure"].to_numpy(), self.truth["discharge_pressure"], rtol=1e-12)
        self.assertEqual(t.schema.field("discharge_pressure").metadata[b"unit"], b"bara")
        self.convert("drive.mf4", "drive.h5")
        with h5py.File(self.path("drive.h5")) as f:
            numpy.testing.assert_allclose(f["suction_pressure"][:], self.truth["suction_pressure"], rtol=1e-12)
            self.assertEqual(f["time"].attrs["unit"], "s")
        run = swashheat.Case.load(os.path.join(SCENARIOS, "healthy.ini")).run()
        run.to_parquet(self.path("run.parquet"))
        run.to_hdf5(self.path("run.h5"))
        back = pyarrow.parquet.read_table(self.path("run.parquet"))
        self.assertEqual(back["oil_temperature"].to_numpy().tobytes(), run["oil_temperature"].tobytes())
        self.assertEqual(back.schema.field("mass_flow").metadata[b"unit"], b"kg/s")

    DBC = """VERSION ""
NS_ :
BS_:
BU_: ECU
BO_ 291 Pressures: 8 ECU
 SG_ P_low : 0|16@1+ (0.001,0) [0|65] "bar" ECU
 SG_ P_high : 16|16@1+ (0.001,0) [0|65] "bar" ECU
 SG_ n_comp : 32|16@1+ (0.1,0) [0|6000] "rpm" ECU
 SG_ ClutchRelay : 48|1@1+ (1,0) [0|1] "1" ECU
BO_ 292 Temperatures: 8 ECU
 SG_ T_suction : 0|16@1- (0.01,0) [-300|300] "degC" ECU
 SG_ T_discharge : 16|16@1- (0.01,0) [-300|300] "degC" ECU
"""

    def write_trace(self, name, gap=None):
        import can
        import cantools
        with open(self.path("car.dbc"), "w", encoding="utf-8") as f:
            f.write(self.DBC)
        database = cantools.database.load_file(self.path("car.dbc"))
        with can.Logger(self.path(name)) as log:
            for k, t in enumerate(self.time):
                if gap and gap[0] < t < gap[1]:
                    continue
                value = {n: float(self.truth[c][k]) for c, (n, _) in self.NAMES.items()}
                for message in database.messages:
                    data = message.encode({s.name: value[s.name] for s in message.signals})
                    log.on_message_received(can.Message(timestamp=1.7e9 + t, arbitration_id=message.frame_id, data=data, is_extended_id=False))
                log.on_message_received(can.Message(timestamp=1.7e9 + t, arbitration_id=0x7df, data=b"\\x01", is_extended_id=False))

    def test_blf(self):
        self.write_trace("trace.blf")
        self.convert("trace.blf", "trace.csv", "--dbc", self.path("car.dbc"))
        log = table(self.path("trace.csv"))
        self.assertEqual(len(log["time"]), len(self.time))
        numpy.testing.assert_allclose(log["discharge_pressure"], self.truth["discharge_pressure"], atol=0.0006)
        numpy.testing.assert_allclose(log["discharge_temperature"], self.truth["discharge_temperature"], atol=0.006)
        self.assertEqual(set(log["clutch"]), set(self.truth["clutch"]))
        self.usable("trace.csv")

    def test_a_gap_stays_blank(self):
        self.write_trace("trace.blf", gap=(100.5, 160.5))
        self.convert("trace.blf", "trace.csv", "--dbc", self.path("car.dbc"))
        log = table(self.path("trace.csv"))
        inside = (log["time"] > 100.5) & (log["time"] < 160.5)
        self.assertTrue(numpy.isnan(log["discharge_pressure"][inside]).all())
        self.assertEqual(numpy.isnan(log["discharge_pressure"][~inside]).sum(), 0)

    def test_mistakes(self):
        self.assertIn("is not there", self.convert("none.mf4", "x.csv", expect=3))
        self.write_trace("trace.blf")
        self.assertIn("needs --dbc", self.convert("trace.blf", "x.csv", expect=3))
        self.assertIn("ending", self.convert("trace.blf", "x.xls", "--dbc", self.path("car.dbc"), expect=3))
        with open(self.path("map.ini"), "w", encoding="utf-8") as f:
            f.write("[columns]\ndischarge_presure = P_high, bara\n")
        self.assertIn("no channel 'discharge_presure'", self.convert("trace.blf", "x.csv", "--dbc", self.path("car.dbc"), expect=3))
        with open(self.path("map.ini"), "w", encoding="utf-8") as f:
            f.write("[columns]\ndischarge_pressure = P_hi, bara\n")
        self.assertIn("no signal 'P_hi'", self.convert("trace.blf", "x.csv", "--dbc", self.path("car.dbc"), expect=3))
        self.assertFalse(os.path.exists(self.path("x.csv")))


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[4:]])
