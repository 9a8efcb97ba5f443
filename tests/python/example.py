"""A page of swashheat in Python: python3 example.py SCENARIOS_FOLDER."""
import sys

import numpy

import swashheat

if __name__ == "__main__":
    scenarios = sys.argv[1]
    print(f"swashheat {swashheat.version()}: {len(swashheat.keys())} numbers can be set, {len(swashheat.channels())} channels read")

    # a what-if run: arrays over time, by name
    van = swashheat.Case.load(f"{scenarios}/healthy.ini")
    van["conditions.ambient_temperature"] = "38 degC"
    healthy = van.run()
    van["fault.condenser_blocked.severity"] = 0.4
    blocked = van.run()
    rise = blocked["discharge_temperature"] - healthy["discharge_temperature"]
    print(f"a condenser that lost 40 % of its air: discharge pipe {rise[-1]:.1f} K hotter after {healthy['time'][-1]:.0f} s, {blocked.outcome}")

    # a map in processes
    charge = van.sweep({"charge.fraction": numpy.linspace(0.3, 1, 4), "conditions.ambient_temperature": [298.15, 308.15]},
                       results=["peak_oil_temperature", "last_superheat"], processes=2)
    worst = charge["peak_oil_temperature"].argmax()
    print(f"hottest oil at a charge of {charge['charge.fraction'][worst]:.2f}: {charge['peak_oil_temperature'][worst] - 273.15:.0f} degC")

    # step by step, with a controller of our own
    with van.stepper() as machine:
        for second in range(1, 301):
            high = machine["discharge_pressure"] > 22e5
            machine.set(compressor_speed=20 if high else 40)
            machine.advance(second)
        print(f"after {machine.time:.0f} s at {machine['discharge_pressure'] / 1e5:.1f} bar: {machine.outcome}")

    # a log: replayed, fitted, explained
    logged = swashheat.Case.load(f"{scenarios}/vehicle-logs.ini")
    replay = logged.replay(f"{scenarios}/logs/bay-healthy.csv")
    off = replay["discharge_temperature"] - replay.measured["discharge_temperature"]
    print(f"replay: discharge pipe {numpy.sqrt(numpy.nanmean(off**2)):.2f} K rms from the log")
    fit = logged.fit(f"{scenarios}/logs/bay-healthy.csv", free=["compressor.indicated_efficiency", "body.block_shell"])
    for key, e in fit["estimates"].items():
        print(f"fit: {key} = {e['value']:.4g} {e['unit']} ({e['low']:.4g} to {e['high']:.4g})")
    causes = logged.rank(f"{scenarios}/logs/bay-short-of-charge.csv")["ranking"]
    print(f"rank: {causes[0]['fault']}, share {causes[0]['share']:.2f}")
