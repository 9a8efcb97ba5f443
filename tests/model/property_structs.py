"""Structs of model/refrigerant/refrigerant.h, as ctypes sees them."""
import ctypes


class State(ctypes.Structure):
    _fields_ = [(n, ctypes.c_double) for n in ("P", "T", "rho", "h", "s", "u", "x", "cp", "cv", "w", "mu")]


class Tabulated(ctypes.Structure):
    _fields_ = [(n, ctypes.c_double) for n in ("T", "rho", "s", "x", "rho_P", "rho_h")]


class Cell(ctypes.Structure):
    _fields_ = [(n, ctypes.c_double) for n in ("P", "T", "h", "x", "h_f", "h_g", "rho_f", "rho_g", "slip")]
