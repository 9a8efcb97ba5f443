"""Measurement files made into logs that swashheat reads, and tables into Parquet or HDF5.

    swashheat-convert drive.mf4 --map channels.ini -o drive.csv
    swashheat-convert trace.blf --dbc car.dbc --map channels.ini --raster 0.5 -o drive.parquet

Reads MDF (asammdf), BLF and ASC traces with a DBC (python-can, cantools). The map says which signal is which channel:

    [columns]
    discharge_pressure = P_AC_High, barg
    discharge_temperature = T_AC_Discharge, degC

A unit left out is the one that the file itself gives. Signals come at their own times; they are put on one raster: straight lines between samples, the clutch
held, and blank where a signal is silent for longer than three of its usual steps (and than the raster).
"""
import argparse
import configparser
import os
import sys

import numpy

from ._library import CHANNELS

FORMATS = (".csv", ".parquet", ".h5", ".hdf5")


class Problem(Exception):
    """Something that the user can mend, in one sentence."""


def read_map(path):
    """{channel: (signal, unit or None)} from the [columns] of an INI file."""
    parser = configparser.ConfigParser(inline_comment_prefixes=("#",), interpolation=None, delimiters=("=",))
    parser.optionxform = str
    if not parser.read(path, encoding="utf-8"):
        raise Problem(f"{path}: cannot be read")
    if "columns" not in parser:
        raise Problem(f"{path}: no section [columns]")
    out = {}
    for channel, value in parser["columns"].items():
        if channel not in CHANNELS or channel == "time":
            raise Problem(f"{path}: there is no channel '{channel}' (swashheat list channels shows all)")
        signal, _, unit = (part.strip() for part in value.partition(","))
        out[channel] = (signal, unit or None)
    if not out:
        raise Problem(f"{path}: [columns] is empty")
    return out


def read_mdf(path, wanted):
    """{channel: (times, values, unit)} of an MDF file; times from the start of the measurement [s]."""
    import asammdf
    out = {}
    with asammdf.MDF(path) as mdf:
        for channel, (name, unit) in wanted.items():
            if name not in mdf:
                raise Problem(f"{path}: no signal '{name}' for {channel}")
            group, index = mdf.channels_db[name][0]
            signal = mdf.get(name, group=group, index=index, ignore_invalidation_bits=False)
            values = numpy.asarray(signal.samples)
            if values.dtype.kind not in "biuf":
                raw = mdf.get(name, group=group, index=index, raw=True)
                values = numpy.asarray(raw.samples)
            out[channel] = (numpy.asarray(signal.timestamps, float), values.astype(float), unit or signal.unit or None)
    return out


def read_trace(path, dbc, wanted):
    """{channel: (times, values, unit)} of a CAN trace; times from its first frame [s]."""
    import can
    import cantools
    database = cantools.database.load_file(dbc)
    units = {s.name: s.unit for m in database.messages for s in m.signals}
    messages = {m.frame_id: m for m in database.messages}
    missing = [name for name, _ in wanted.values() if name not in units]
    if missing:
        raise Problem(f"{dbc}: no signal '{missing[0]}'")
    times, values, start = {c: [] for c in wanted}, {c: [] for c in wanted}, None
    with can.LogReader(path) as trace:
        for frame in trace:
            start = frame.timestamp if start is None else start
            message = messages.get(frame.arbitration_id)
            if message is None or frame.is_error_frame or frame.is_remote_frame:
                continue
            try:
                decoded = message.decode(frame.data, decode_choices=False)
            except (cantools.database.errors.DecodeError, ValueError):
                continue # a short or broken frame
            for channel, (name, _) in wanted.items():
                if name in decoded:
                    times[channel].append(frame.timestamp - start)
                    values[channel].append(float(decoded[name]))
    out = {}
    for channel, (name, unit) in wanted.items():
        if not times[channel]:
            raise Problem(f"{path}: no frame carries '{name}'")
        out[channel] = (numpy.array(times[channel]), numpy.array(values[channel]), unit or units[name])
    return out


def on_raster(signals, raster):
    """All signals at the same times: (times, {channel: values}); NaN where a signal is silent."""
    first = min(t[0] for t, _, _ in signals.values() if len(t))
    last = max(t[-1] for t, _, _ in signals.values() if len(t))
    grid = first + raster * numpy.arange(int((last - first) / raster + 1e-9) + 1)
    out = {}
    for channel, (t, x, _) in signals.items():
        keep = numpy.isfinite(x)
        t, x = t[keep], x[keep]
        if len(t) == 0:
            out[channel] = numpy.full(len(grid), numpy.nan)
            continue
        before = numpy.clip(numpy.searchsorted(t, grid + 1e-9, side="right") - 1, 0, len(t) - 1)
        after = numpy.clip(before + 1, 0, len(t) - 1)
        values = x[before] if channel == "clutch" else numpy.interp(grid, t, x)
        usual = float(numpy.median(numpy.diff(t))) if len(t) > 1 else raster
        silent = numpy.where(after > before, t[after] - t[before], 0) > max(3 * usual, 1.5 * raster)
        on_sample = numpy.abs(grid - t[before]) < 1e-6
        outside = (grid < t[0] - raster) | (grid > t[-1] + max(usual, raster))
        values = numpy.where((silent & ~on_sample) | outside, numpy.nan, values)
        out[channel] = values
    return grid, out


def write_csv(path, grid, table, units):
    """A log as swashheat reads it."""
    with open(path + ".part", "w", encoding="utf-8", newline="") as f:
        f.write(",".join(["time[s]"] + [f"{c}[{units[c]}]" for c in table]) + "\n")
        for k, t in enumerate(grid):
            cells = ["" if numpy.isnan(x[k]) else f"{x[k]:.9g}" for x in table.values()]
            f.write(",".join([f"{t:.6f}".rstrip("0").rstrip(".")] + cells) + "\n")
    os.replace(path + ".part", path)


def write_parquet(path, columns, units=None):
    """Columns of numbers as Parquet; each field's metadata has its unit."""
    import pyarrow
    import pyarrow.parquet
    unit = lambda name: (units or {}).get(name) or CHANNELS[name]["unit"]
    fields = [pyarrow.field(name, pyarrow.float64(), metadata={"unit": unit(name)}) for name in columns]
    table = pyarrow.table(list(columns.values()), schema=pyarrow.schema(fields))
    pyarrow.parquet.write_table(table, path)


def write_hdf5(path, columns, units=None):
    """Columns of numbers as HDF5: one data set a channel, its unit as attribute."""
    import h5py
    with h5py.File(path, "w") as f:
        for name, values in columns.items():
            f.create_dataset(name, data=values).attrs["unit"] = (units or {}).get(name) or CHANNELS[name]["unit"]


def convert(source, target, channel_map, dbc=None, raster=1.0):
    """Converts a file; returns {channel: number of readings}."""
    wanted = read_map(channel_map)
    ending = os.path.splitext(os.fspath(source))[1].lower()
    if os.path.splitext(os.fspath(target))[1].lower() not in FORMATS:
        raise Problem(f"{target}: its ending must be one of {', '.join(FORMATS)}")
    if not os.path.exists(source):
        raise Problem(f"{source}: is not there")
    if ending in (".mf4", ".mdf", ".dat"):
        signals = read_mdf(source, wanted)
    elif ending in (".blf", ".asc", ".trc", ".log"):
        if not dbc:
            raise Problem(f"{source}: a trace needs --dbc FILE")
        signals = read_trace(source, dbc, wanted)
    else:
        raise Problem(f"{source}: the ending '{ending}' is unknown (expected .mf4, .mdf, .dat, .blf, .asc, .trc or .log)")
    for channel, (_, _, unit) in signals.items():
        if not unit and CHANNELS[channel]["unit"] != "1":
            raise Problem(f"{channel_map}: {channel} has no unit, and the file gives none")
    grid, table = on_raster(signals, raster)
    units = {c: u or "1" for c, (_, _, u) in signals.items()}
    ending = os.path.splitext(os.fspath(target))[1].lower()
    if ending == ".csv":
        write_csv(os.fspath(target), grid, table, units)
    else:
        {".parquet": write_parquet, ".h5": write_hdf5, ".hdf5": write_hdf5}[ending](target, {"time": grid, **table}, {"time": "s", **units})
    return {c: int(numpy.isfinite(x).sum()) for c, x in table.items()}


def main(arguments=None):
    parser = argparse.ArgumentParser(prog="swashheat-convert", description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("source", help="measurement file: .mf4 .mdf .dat .blf .asc .trc .log")
    parser.add_argument("-o", "--out", required=True, help="file to write: .csv .parquet .h5")
    parser.add_argument("--map", required=True, help="INI file: [columns] channel = Signal, unit")
    parser.add_argument("--dbc", help="database of the trace's signals")
    parser.add_argument("--raster", type=float, default=1.0, help="seconds between rows (default 1)")
    a = parser.parse_args(arguments)
    if a.raster <= 0:
        parser.error("--raster must be positive")
    try:
        counts = convert(a.source, a.out, a.map, a.dbc, a.raster)
    except (Problem, ImportError, OSError) as problem:
        print(f"swashheat-convert: {problem}", file=sys.stderr)
        return 3
    for channel, count in counts.items():
        print(f"{channel}: {count} readings")
    return 0


if __name__ == "__main__":
    sys.exit(main())
