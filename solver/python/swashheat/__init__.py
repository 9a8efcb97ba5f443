"""Transient heat balance of a swash-plate air-conditioning compressor and its refrigerant circuit.

    import swashheat

    van = swashheat.Case.load("healthy.ini")
    van["conditions.ambient_temperature"] = "38 degC"
    van["fault.condenser_blocked.severity"] = 0.33
    run = van.run()
    run.outcome, run["discharge_temperature"].max()

Numbers are in SI units (K, Pa absolute, kg, s, revolutions per second) unless a text says otherwise. It computes; it does not replace the vehicle
maker's manual, gauges or licensed practice.
"""
from ._case import Case, Run, Stepper
from ._library import Error, channels, commit, keys, version

__version__ = version()
__all__ = ["Case", "Error", "Run", "Stepper", "channels", "commit", "keys", "version"]
