"""Fits, rankings and judgements of the library against those of the commands, by the public names alone.

Usage: infer.py LIBRARY PROGRAM SCENARIOS_FOLDER
"""
import ctypes
import json
import os
import subprocess
import sys
import tempfile
import unittest

LIBRARY, PROGRAM, SCENARIOS = (os.path.abspath(p) for p in sys.argv[1:4])
VEHICLE = os.path.join(SCENARIOS, "vehicle-logs.ini")
KEYS = (b"body.block_shell", b"body.shell_film")
lib = ctypes.CDLL(LIBRARY)
double, pointer, size = ctypes.c_double, ctypes.c_void_p, ctypes.c_size_t
for name, kinds in {"fitted_count": size, "fitted_figure": double, "fitted_correlation": double, "fitted_open": ctypes.c_char_p, "causes_count": size,
                    "verdict_fault": ctypes.c_char_p, "verdict_worst": ctypes.c_char_p, "verdict_deviation": double,
                    "error_text": ctypes.c_char_p}.items():
    getattr(lib, "swh_" + name).restype = kinds


class Wish(ctypes.Structure):
    _fields_ = [(n, ctypes.c_int) for n in ("circuit", "profile", "keep_unknown", "starts", "threads")] + [("holdout", double)]


class Told(ctypes.Structure):
    _fields_ = [("key", ctypes.c_char_p)] + [(n, double) for n in ("value", "low", "high", "spread", "start")] + [
        (n, ctypes.c_int) for n in ("identified", "held", "at_limit")]


class Cause(ctypes.Structure):
    _fields_ = [("fault", ctypes.c_char_p)] + [(n, double) for n in ("share", "severity", "low", "high")]


def log(name):
    return os.path.join(SCENARIOS, "logs", name)


def command(*words, status=(0,)):
    with tempfile.TemporaryDirectory() as out:
        done = subprocess.run([PROGRAM, *words, "--vehicle", VEHICLE, "--json", "--plot", "none", "-o", out], capture_output=True, text=True, timeout=300)
    if done.returncode not in status:
        raise AssertionError(done.stderr)
    return json.loads(done.stdout)


class Infer(unittest.TestCase):
    def setUp(self):
        self.error = ctypes.create_string_buffer(8192)
        self.setup = pointer()
        self.need(lib.swh_setup_load(ctypes.byref(self.setup), VEHICLE.encode(), None, self.error))
        self.addCleanup(lib.swh_setup_free, self.setup)

    def words(self):
        text = ctypes.create_string_buffer(2000)
        return lib.swh_error_text(self.error, text, size(len(text))).decode()

    def need(self, status):
        self.assertEqual(status, 0, self.words())

    def logs(self, *paths):
        e = pointer()
        self.need(lib.swh_logs_new(ctypes.byref(e), self.error))
        self.addCleanup(lib.swh_logs_free, e)
        for path in paths:
            self.need(lib.swh_logs_add(e, self.setup, path.encode(), None, self.error))
        return e

    def fit(self, e, keys=KEYS, wish=None):
        f = pointer()
        status = lib.swh_setup_fit(self.setup, e, (ctypes.c_char_p * len(keys))(*keys), size(len(keys)), ctypes.byref(wish) if wish else None,
                                   ctypes.byref(f), self.error)
        return f, status

    def test_fit(self):
        f, status = self.fit(self.logs(log("bay-healthy.csv")))
        self.need(status)
        self.addCleanup(lib.swh_fitted_free, f)
        said = command("fit", log("bay-healthy.csv"), "--free", ",".join(k.decode() for k in KEYS))
        self.assertEqual(lib.swh_fitted_count(f), 2)
        for i, key in enumerate(KEYS):
            told = Told()
            self.assertEqual(lib.swh_fitted_get(f, size(i), ctypes.byref(told)), 0)
            want = said["estimates"][key.decode()]
            self.assertEqual(told.key, key)
            for name in ("value", "low", "high", "start"):
                self.assertAlmostEqual(getattr(told, name) / want[name], 1, delta=1e-9, msg=f"{key} {name}")
            self.assertEqual((bool(told.identified), bool(told.held), bool(told.at_limit)), (want["identified"], want["held"], want["at_bound"]))
        for name in ("spread", "holdout_rms", "points", "runs", "starts_agree"):
            self.assertAlmostEqual(lib.swh_fitted_figure(f, name.encode()), said[name], delta=1e-9, msg=name)
        self.assertAlmostEqual(lib.swh_fitted_correlation(f, size(0), size(1)), said["correlation"][KEYS[0].decode()][KEYS[1].decode()], delta=1e-9)
        opened = []
        while (text := lib.swh_fitted_open(f, size(len(opened)))) is not None:
            opened.append(text.decode())
        self.assertEqual(opened, said["cannot_tell"])
        value = double()
        lib.swh_fitted_apply(f, self.setup)
        self.need(lib.swh_setup_get(self.setup, KEYS[0], None, ctypes.byref(value), self.error))
        told = Told()
        lib.swh_fitted_get(f, size(0), ctypes.byref(told))
        self.assertEqual(value.value, told.start if told.held else told.value)
        self.assertEqual(lib.swh_fitted_get(f, size(2), ctypes.byref(told)), -1)

    def test_fit_of_the_circuit(self):
        keys, wish = (b"condenser.ua_air", b"valve.area"), Wish(circuit=1, starts=1, threads=2, holdout=-1)
        f, status = self.fit(self.logs(log("bay-healthy.csv")), keys, wish)
        self.need(status)
        self.addCleanup(lib.swh_fitted_free, f)
        said = command("fit", log("bay-healthy.csv"), "--free", "condenser.ua_air,valve.area", "--with", "circuit", "--starts", "1", "--holdout", "0")
        for i, key in enumerate(keys):
            told = Told()
            lib.swh_fitted_get(f, size(i), ctypes.byref(told))
            self.assertAlmostEqual(told.value / said["estimates"][key.decode()]["value"], 1, delta=1e-9)

    def test_rank(self):
        for name in ("bay-short-of-charge.csv", "bay-healthy.csv"):
            causes = pointer()
            self.need(lib.swh_setup_rank(self.setup, self.logs(log(name)), 0, ctypes.byref(causes), self.error))
            said = command("rank", log(name))["ranking"]
            self.assertEqual(lib.swh_causes_count(causes), len(said))
            for i, want in enumerate(said):
                told = Cause()
                self.assertEqual(lib.swh_causes_get(causes, size(i), ctypes.byref(told)), 0)
                self.assertEqual(told.fault.decode(), want["fault"])
                self.assertAlmostEqual(told.share, want["share"], delta=1e-9)
                self.assertAlmostEqual(told.severity, want["severity"] or 0, delta=1e-9)
            lib.swh_causes_free(causes)

    def test_accept(self):
        for name in ("bay-healthy.csv", "bay-short-of-charge.csv"):
            verdict = pointer()
            self.need(lib.swh_setup_accept(self.setup, self.logs(log(name)), 0, ctypes.byref(verdict), self.error))
            said = command("accept", log(name), status=(0, 1))
            self.assertEqual(bool(lib.swh_verdict_pass(verdict)), said["pass"])
            self.assertEqual(lib.swh_verdict_fault(verdict).decode(), said["worst_fault"])
            self.assertEqual(lib.swh_verdict_worst(verdict).decode(), said["worst_outcome"])
            for channel, deviation in said["deviations"].items():
                self.assertAlmostEqual(lib.swh_verdict_deviation(verdict, lib.swh_channel_find(channel.encode())), deviation, delta=1e-9)
            lib.swh_verdict_free(verdict)

    def test_mistakes(self):
        e, out = self.logs(), pointer()
        self.assertNotEqual(lib.swh_logs_add(e, self.setup, b"none.csv", None, self.error), 0)
        self.assertIn("none.csv", self.words())
        self.assertNotEqual(lib.swh_setup_rank(self.setup, e, 0, ctypes.byref(out), self.error), 0)
        self.assertIn("nothing was read", self.words())
        self.assertNotEqual(self.fit(e)[1], 0)
        healthy = self.logs(log("bay-healthy.csv"))
        self.assertNotEqual(self.fit(healthy, (b"nonsense.key",))[1], 0)
        self.assertIn("no parameter 'nonsense.key'", self.words())
        self.assertNotEqual(self.fit(healthy, (b"run.duration",))[1], 0)
        self.assertIn("run.duration", self.words())


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
