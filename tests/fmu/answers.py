"""What the unit answers to calls that it has no use for, and to a master's mistakes, without any master: through ctypes.

answers.py FOLDER_OF_THE_PROGRAM PROGRAM SCENARIO   (the unit's code lies beside the program)
The standard (FMI 3.0.1, 2.2.6 and 2.3) wants every function to be there; those of types that the unit has no variables of are right for no
variables, and an error for any.
"""
import ctypes
import os
import re
import subprocess
import sys
import tempfile
import unittest
import zipfile

FOLDER, PROGRAM, SCENARIO = sys.argv[1:4]
SOURCE = os.path.join(os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__)))), "solver", "fmu")
OK, ERROR = 0, 3
TYPES = ["Float32", "Int8", "UInt8", "Int16", "UInt16", "Int32", "UInt32", "Int64", "UInt64", "String"]
LOG = ctypes.CFUNCTYPE(None, ctypes.c_void_p, ctypes.c_int, ctypes.c_char_p, ctypes.c_char_p)


def text(name):
    with open(os.path.join(SOURCE, name), encoding="utf-8") as f:
        return f.read()


class Answers(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.unit = ctypes.CDLL(os.path.join(FOLDER, "swashheat-fmu.so"))
        cls.place = tempfile.TemporaryDirectory(prefix="swh_")
        unit = os.path.join(cls.place.name, "unit.fmu")
        subprocess.run([PROGRAM, "fmu", SCENARIO, "-o", unit, "-q"], check=True)
        with zipfile.ZipFile(unit) as z:
            z.extractall(cls.place.name)
        with open(os.path.join(cls.place.name, "modelDescription.xml"), encoding="utf-8") as f:
            cls.token = re.search('instantiationToken="([^"]*)"', f.read()).group(1).encode()

    @classmethod
    def tearDownClass(cls):
        cls.place.cleanup()

    def call(self, name, *arguments):
        """The status; pointers where numbers belong are numbers other than 0."""
        f = getattr(self.unit, "fmi3" + name)
        f.restype, f.argtypes = ctypes.c_int, [ctypes.c_void_p] * (len(arguments) + 1)
        return f(self.instance if hasattr(self, "instance") else None, *arguments)

    def test_all_that_is_refused(self):
        room = ctypes.create_string_buffer(256)
        names = re.findall(r"^REFUSED\((\w+),", text("refused.c"), re.M) + [g + t for t in TYPES for g in ("Get", "Set")]
        self.assertGreater(len(names), 35)
        for name in names:
            status = self.call(name, *[ctypes.addressof(room)] * 9)
            self.assertEqual(status, OK if name == "FreeFMUState" else ERROR, name)
        for name in [g + t for t in [*TYPES, "Clock"] for g in ("Get", "Set")] + ["SetBoolean"]:
            self.assertEqual(self.call(name, 0, 0, 0, 0), OK, name)
        for name in ("GetBinary", "SetBinary"):
            self.assertEqual(self.call(name, 0, 0, 0, 0, 0), OK, name)

    def instantiate(self, token, resources):
        said = []
        log = LOG(lambda environment, status, category, words: said.append((status, words.decode())))
        f = self.unit.fmi3InstantiateCoSimulation
        f.restype = ctypes.c_void_p
        f.argtypes = [ctypes.c_char_p] * 3 + [ctypes.c_bool] * 4 + [ctypes.c_void_p, ctypes.c_size_t, ctypes.c_void_p, LOG, ctypes.c_void_p]
        got = f(b"x", token, resources, False, False, False, False, None, 0, None, log, None)
        self.log = log  # the unit calls it later too
        return got, said

    def test_a_masters_mistakes(self):
        resources = os.path.join(self.place.name, "resources").encode()
        for token, folder, words in ((b"{another}", resources, "another version"), (None, resources, "another version"), (self.token, None, "no folder"),
                                     (self.token, b"r" * 2000, "too long"), (self.token, b"/nowhere/", "/nowhere/case.ini")):
            got, said = self.instantiate(token, folder)
            self.assertIsNone(got)
            self.assertEqual([s for s, _ in said], [ERROR])
            self.assertIn(words, said[0][1])
        self.instance, said = self.instantiate(self.token, resources + b"/")
        self.assertTrue(self.instance, said)
        number, value = (ctypes.c_uint * 1)(), (ctypes.c_double * 1)()
        flag, reached = ctypes.create_string_buffer(3), ctypes.c_double()
        at = lambda x, i=0: ctypes.addressof(x) + i  # noqa: E731
        step = self.unit.fmi3DoStep
        step.restype, step.argtypes = ctypes.c_int, [ctypes.c_void_p, ctypes.c_double, ctypes.c_double, ctypes.c_bool] + [ctypes.c_void_p] * 4
        do = lambda t, h: step(self.instance, t, h, True, at(flag), at(flag, 1), at(flag, 2), at(reached))  # noqa: E731
        self.assertEqual(do(0, 1), ERROR)  # before initialization
        for reference in (899, 901, 999, 5000):
            number[0] = reference
            self.assertEqual(self.call("GetFloat64", at(number), 1, at(value), 1), ERROR, reference)
            self.assertEqual(self.call("SetFloat64", at(number), 1, at(value), 1), ERROR, reference)
        number[0] = 1
        self.assertEqual(self.call("GetFloat64", at(number), 1, at(value), 2), ERROR)  # sizes differ
        self.assertEqual(self.call("SetFloat64", at(number), 1, at(value), 0), ERROR)
        self.assertEqual(self.call("GetBoolean", at(number), 1, at(flag), 1), ERROR)
        self.assertEqual(self.call("GetBoolean", at(number), 1, at(flag), 0), ERROR)
        self.assertEqual(self.call("GetFloat64", at(number), 1, at(value), 1), OK)
        self.assertGreater(value[0], 1e5)
        for phase in ("EnterStepMode", "EnterEventMode", "EvaluateDiscreteStates", "EnterConfigurationMode", "ExitConfigurationMode", "ExitInitializationMode"):
            self.assertEqual(self.call(phase), OK, phase)
        self.assertEqual(do(0, 1), OK)
        self.assertEqual(reached.value, 1)
        number[0] = 1000 + 40  # a parameter, now too late
        self.assertEqual(self.call("SetFloat64", at(number), 1, at(value), 1), ERROR)
        self.assertEqual(self.call("Reset"), OK)
        self.assertEqual(do(0, 1), ERROR)
        self.assertEqual(self.call("Terminate"), OK)
        self.unit.fmi3FreeInstance.argtypes = [ctypes.c_void_p]
        self.unit.fmi3FreeInstance(self.instance)
        self.unit.fmi3FreeInstance(None)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
