"""Refrigerants from fluid files against CoolProp (PyPI), which also gives the files: exact states, tables, viscosity.

Usage: fluid_files.py SHARED_LIBRARY VENV_FOLDER

Allowed: exact density, enthalpy and entropy differences 1e-6 relative; tables density 0.02 % and temperature 0.05 K, as for the
program's own refrigerants; viscosity 1e-4 relative where the file has a law that is known here, a fifth where it is estimated.
Leaves with 77 (skipped) when CoolProp cannot be had.
"""
import ctypes
import os
import sys
import tempfile

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "model"))
from coolprop_env import restart_inside  # noqa: E402

restart_inside(sys.argv[2])

import numpy as np  # noqa: E402
import CoolProp.CoolProp as CP  # noqa: E402
from property_structs import Cell, State, Tabulated  # noqa: E402

PT, PH, TX = 0, 1, 8
# fluid, are tables made, viscosity allowed. Carbon dioxide has terms that are not analytic at the critical point.
FLUIDS = (("R152A", True, 1e-4), ("n-Propane", True, 1e-4), ("IsoButane", True, 1e-4), ("R1234ze(E)", True, 1e-4), ("R134a", True, 1e-4),
          ("R32", True, 1e-4), ("CO2", False, 0.2))


class Message(ctypes.Structure):
    _fields_ = [("status", ctypes.c_int), ("rest", ctypes.c_char * 4000)]


lib = ctypes.CDLL(sys.argv[1])
double, pointer = ctypes.c_double, ctypes.c_void_p
lib.swh_state_exact.argtypes = [pointer, ctypes.c_int, double, double, pointer, pointer]
lib.swh_refrigerant_read.argtypes = [ctypes.c_char_p, pointer, pointer, pointer]
lib.swh_fluid_make.argtypes = [pointer, pointer, pointer]
lib.swh_fluid_size.restype = ctypes.c_size_t
lib.swh_P_h.argtypes = [pointer, double, double, pointer]
lib.swh_rho_u.argtypes = [pointer, double, double, pointer]


class Fluid:
    """One fluid, here and there, and the largest error of each kind."""

    def __init__(self, name, tables, viscosity):
        self.name, self.worst, self.count = name, {}, 0
        self.viscosity = viscosity
        self.source = CP.AbstractState("HEOS", name)
        self.rho_c = self.source.rhomass_critical()
        self.eos = ctypes.create_string_buffer(1 << 16)
        remark, error = ctypes.create_string_buffer(1000), Message()
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "fluid.json")
            with open(path, "w", encoding="utf-8") as f:
                f.write(CP.get_fluid_param_string(name, "JSON"))
            if lib.swh_refrigerant_read(path.encode(), self.eos, remark, ctypes.byref(error)):
                raise RuntimeError(f"{name}: not read: {error.rest}")
        self.remark = remark.value.decode()
        size = lib.swh_fluid_size()
        self.room = ctypes.create_string_buffer(size + 64)
        self.tables = (ctypes.addressof(self.room) + 63) // 64 * 64
        made = lib.swh_fluid_make(self.eos, self.tables, ctypes.byref(error)) == 0
        if made != tables:
            raise RuntimeError(f"{name}: tables made: {made}: {error.rest}")
        if not made:
            self.tables = None

    def add(self, kind, error, allowed, where):
        self.count += 1
        if not error <= self.worst.get(kind, (-1.0,))[0]:
            self.worst[kind] = (error, allowed, where)

    def exact(self, pair, a, b):
        out = State()
        if lib.swh_state_exact(self.eos, pair, a, b, ctypes.byref(out), None):
            raise RuntimeError(f"{self.name}: no state for pair {pair} of {a!r}, {b!r}")
        return out

    def anchor(self, T):
        self.source.update(CP.QT_INPUTS, 0.0, T)
        mine = self.exact(TX, T, 0.0)
        self.zero = (self.source.hmass() - mine.h, self.source.smass() - mine.s)

    def compare(self, mine, where):
        s, (dh, ds) = self.source, self.zero
        self.add("exact density", abs(mine.rho / s.rhomass() - 1), 1e-6, where)
        self.add("exact enthalpy", abs(s.hmass() - dh - mine.h) / max(abs(mine.h), 1e4), 1e-6, where)
        self.add("exact entropy", abs(s.smass() - ds - mine.s) / max(abs(mine.s), 50), 1e-6, where)

    def compare_tables(self, mine, where):
        if not self.tables:
            return
        q, c, s = Tabulated(), Cell(), self.source
        inside = lib.swh_P_h(self.tables, s.p(), s.hmass() - self.zero[0], ctypes.byref(q)) == 0
        inside &= lib.swh_rho_u(self.tables, s.rhomass(), mine.u, ctypes.byref(c)) == 0
        self.add("states outside the tables", 0.0 if inside else 1.0, 0.5, where)
        self.add("(P, h) table density", abs(q.rho / s.rhomass() - 1), 2e-4, where)
        self.add("(P, h) table temperature, K", abs(q.T - s.T()), 0.05, where)
        allowed = 2e3 + 1e-3 * s.p() if s.rhomass() > self.rho_c else 5e-4 * s.p()
        self.add("(rho, u) table pressure / allowed", abs(c.P - s.p()) / allowed, 1.0, where)
        self.add("(rho, u) table temperature, K", abs(c.T - s.T()), 0.05, where)

    def one_phase(self):
        for P in np.geomspace(max(0.5e5, 1.2 * self.source.trivial_keyed_output(CP.iP_triple)), 40e5, 33):
            for T in np.arange(233.15, 413.2, 4.5):
                where = f"{P / 1e5:.3f} bar, {T - 273.15:.1f} degC"
                try:
                    self.source.update(CP.PT_INPUTS, P, T)
                    mu = self.source.viscosity()
                except ValueError:  # it does not take states that close to saturation
                    continue
                mine = self.exact(PT, P, T)
                self.compare(mine, where)
                self.compare(self.exact(PH, P, self.source.hmass() - self.zero[0]), where + " from P, h")
                self.compare_tables(mine, where)
                self.add("viscosity", abs(mine.mu / mu - 1), self.viscosity, where)

    def saturation(self, cold):
        for T in np.arange(cold, self.source.T_critical() - 0.6, 2.3):
            for x in (0.0, 0.1, 0.6, 1.0):
                self.source.update(CP.QT_INPUTS, x, T)
                where = f"{T - 273.15:.1f} degC, quality {x}"
                mine = self.exact(TX, T, x)
                self.compare(mine, where)
                self.add("exact vapour pressure", abs(mine.P / self.source.p() - 1), 1e-6, where)
                if 0 < x < 1:
                    self.compare_tables(mine, where)

    def report(self):
        bad = 0
        for kind, (error, allowed, where) in self.worst.items():
            bad += not error <= allowed
            print(f"{'ok  ' if error <= allowed else 'BAD '} {self.name:10s} {kind:34s} {error:9.2e} of {allowed:.0e} allowed, at {where}")
        print(f"     {self.name:10s} {self.count} comparisons. {self.remark}")
        return bad


def main():
    bad = 0
    for name, tables, viscosity in FLUIDS:
        fluid = Fluid(name, tables, viscosity)
        if bool(fluid.remark) != (viscosity > 1e-3):
            print(f"BAD  {name}: what it says of its viscosity is '{fluid.remark}'")
            bad += 1
        fluid.anchor(253.15)
        fluid.one_phase()
        fluid.saturation(233.15)
        bad += fluid.report()
    return bad > 0


if __name__ == "__main__":
    sys.exit(main())
