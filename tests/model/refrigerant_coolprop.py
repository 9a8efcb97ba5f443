"""Exact equations, tables and viscosities against CoolProp (PyPI) over -40 to 140 degC and 0.3 to 40 bar.

Usage: refrigerant_coolprop.py SHARED_LIBRARY VENV_FOLDER

Allowed: exact density, enthalpy and entropy differences 1e-6 relative; tables density 0.02 % and temperature
0.05 K; viscosity 1e-4 relative. Enthalpy and entropy are compared as differences from saturated liquid at -40 degC.
Leaves with 77 (skipped) when CoolProp cannot be had.
"""
import ctypes
import math
import sys

from coolprop_env import restart_inside

restart_inside(sys.argv[2])

import numpy as np  # noqa: E402
import CoolProp.CoolProp as CP  # noqa: E402
from property_structs import Cell, State, Tabulated  # noqa: E402

FLUIDS = ("R134a", "R1234yf", "R12")
PT, PH, PS, TX = 0, 1, 2, 8
LIQUID_SIDE, GAS_SIDE = -1.0, 2.0


lib = ctypes.CDLL(sys.argv[1])
double = ctypes.c_double
lib.swh_eos_get.restype = ctypes.c_void_p
lib.swh_state_exact.argtypes = [ctypes.c_void_p, ctypes.c_int, double, double, ctypes.POINTER(State), ctypes.c_void_p]
lib.swh_fluid_get.restype = ctypes.c_void_p
lib.swh_P_h.argtypes = [ctypes.c_void_p, double, double, ctypes.POINTER(Tabulated)]
lib.swh_rho_u.argtypes = [ctypes.c_void_p, double, double, ctypes.POINTER(Cell)]


class Worst:
    """The largest error of each kind, where it was, and whether it is allowed."""

    def __init__(self, fluid):
        self.fluid, self.kinds, self.count = fluid, {}, 0

    def add(self, kind, error, allowed, where):
        self.count += 1
        if not error <= self.kinds.get(kind, (-1.0,))[0]:
            self.kinds[kind] = (error, allowed, where)

    def report(self):
        bad = 0
        for kind, (error, allowed, where) in self.kinds.items():
            ok = error <= allowed
            bad += not ok
            print(f"{'ok  ' if ok else 'BAD '} {self.fluid:8s} {kind:34s} {error:9.2e} of {allowed:.0e} allowed, at {where}")
        print(f"     {self.fluid:8s} {self.count} comparisons")
        return bad


def exact(fluid, pair, a, b):
    out = State()
    if lib.swh_state_exact(lib.swh_eos_get(fluid), pair, a, b, ctypes.byref(out), None):
        raise RuntimeError(f"{FLUIDS[fluid]}: no state for pair {pair} of {a!r}, {b!r}")
    return out


def compare_exact(worst, mine, ref, zero, where):
    worst.add("exact density", abs(mine.rho / ref["rho"] - 1.0), 1e-6, where)
    for name, least in (("h", 1e3), ("s", 5.0)):
        difference = ref[name] - zero[1][name]
        error = abs(getattr(mine, name) - getattr(zero[0], name) - difference)
        worst.add(f"exact {name} difference", error / max(abs(difference), least), 1e-6, where)


def compare_tables(worst, fluid, ref, where):
    table, q, c = lib.swh_fluid_get(fluid), Tabulated(), Cell()
    inside = lib.swh_P_h(table, ref["P"], ref["h"], ctypes.byref(q)) == 0
    inside &= lib.swh_rho_u(table, ref["rho"], ref["u"], ctypes.byref(c)) == 0
    worst.add("states outside the tables", 0.0 if inside else 1.0, 0.5, where)
    worst.add("(P, h) table density", abs(q.rho / ref["rho"] - 1.0), 2e-4, where)
    worst.add("(P, h) table temperature, K", abs(q.T - ref["T"]), 0.05, where)
    liquid = ref["rho"] > ref["rho_c"]
    allowed = 2e3 + 1e-3 * ref["P"] if liquid else 5e-4 * ref["P"]
    worst.add("(rho, u) table pressure / allowed", abs(c.P - ref["P"]) / allowed, 1.0, where)
    worst.add("(rho, u) table temperature, K", abs(c.T - ref["T"]), 0.05, where)


def read(source, rho_c):
    return {"P": source.p(), "T": source.T(), "rho": source.rhomass(), "h": source.hmass(), "s": source.smass(),
            "u": source.umass(), "rho_c": rho_c}


def compare_fluid(fluid):
    source = CP.AbstractState("HEOS", FLUIDS[fluid])
    worst, skipped, rho_c = Worst(FLUIDS[fluid]), 0, source.rhomass_critical()
    source.update(CP.QT_INPUTS, 0.0, 233.15)
    zero = (exact(fluid, TX, 233.15, 0.0), read(source, rho_c))
    for P in np.geomspace(0.3e5, 40e5, 97):
        for T in np.arange(233.15, 413.2, 1.5):
            where = f"{P / 1e5:.3f} bar, {T - 273.15:.1f} degC"
            try:
                source.update(CP.PT_INPUTS, P, T)
            except ValueError:  # it does not take states that close to saturation
                skipped += 1
                continue
            ref = read(source, rho_c)
            compare_exact(worst, exact(fluid, PT, P, T), ref, zero, where)
            compare_exact(worst, exact(fluid, PH, P, ref["h"]), ref, zero, where + " from P, h")
            compare_tables(worst, fluid, ref, where)
    for T in np.arange(233.15, source.T_critical() - 0.5, 1.7):
        for x in (0.0, 0.03, 0.2, 0.5, 0.9, 1.0):
            source.update(CP.QT_INPUTS, x, T)
            ref, where = read(source, rho_c), f"{T - 273.15:.1f} degC, quality {x}"
            compare_exact(worst, exact(fluid, TX, T, x), ref, zero, where)
            if 0.0 < x < 1.0:
                compare_exact(worst, exact(fluid, PS, ref["P"], ref["s"]), ref, zero, where + " from P, s")
                compare_tables(worst, fluid, ref, where)
    compare_viscosity(worst, fluid, source)
    print(f"     {FLUIDS[fluid]:8s} {skipped} states CoolProp would not take")
    return worst.report() + (skipped > 100)


def compare_viscosity(worst, fluid, source):
    for P in np.geomspace(0.5e5, 30e5, 12):
        for T in np.arange(243.15, 413.2, 10.0):
            try:
                source.update(CP.PT_INPUTS, P, T)
                mu = source.viscosity()
            except ValueError:
                continue
            where = f"{P / 1e5:.3f} bar, {T - 273.15:.1f} degC"
            worst.add("viscosity", abs(exact(fluid, PT, P, T).mu / mu - 1.0), 1e-4, where)


print("CoolProp", CP.get_global_param_string("version"))
sys.exit(1 if sum(compare_fluid(fluid) for fluid in range(len(FLUIDS))) else 0)
