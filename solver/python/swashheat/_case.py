"""Cases, runs and steppers."""
import ctypes
import itertools
import json
import math
import os
import subprocess
import tempfile
from collections.abc import Mapping
from ctypes import byref, c_double, c_void_p

import numpy

from ._library import (CHANNELS, ERR_INPUT, ERR_RANGE, ERR_SOLVER, PROGRAM, Course, Error, Happening, call, channel, encode, library)


class Run(Mapping):
    """What came of a run: a mapping from the names of channels to arrays over time.

    outcome    "survives", "protected", "shoe_seized", "bore_seized", "overheated", "burst" or "incomplete"
    complete   False if the integrator could not go on; `stopped` then says why
    figures    duty, time to seizure, errors of the balances ... {name: number}
    course     {channel: {highest, highest_time, lowest, lowest_time, mean, last}}
    events     [{time, name, value, text}]
    measured   a replay's readings, as the run itself; empty else
    """

    FIGURES = ("time_to_seizure_s", "end_time_s", "duty", "charge_drift", "energy_residual", "body_residual", "heat_moved_J",
               "suction_cooling_share", "steps", "rhs_evals", "events")

    def __init__(self, record, stopped=None):
        self.outcome = library.swh_record_outcome(record).decode()
        self.complete = bool(library.swh_record_complete(record))
        self.stopped = stopped
        self.figures = {name: library.swh_record_figure(record, name.encode()) for name in self.FIGURES}
        rows = library.swh_record_rows(record)
        self._column = self._columns(library.swh_record_column, record, rows)
        self.measured = self._columns(library.swh_record_reading, record, rows)
        self.events = [self._event(record, i) for i in range(library.swh_record_events(record))]
        self.course = {name: self._course(record, CHANNELS[name]["index"]) for name in self._column}

    @staticmethod
    def _columns(function, record, rows):
        out = {}
        for name, entry in CHANNELS.items():
            pointer = function(record, entry["index"])
            if not pointer or rows == 0:
                continue
            values = numpy.ctypeslib.as_array(pointer, (rows,)).copy()
            if not numpy.isnan(values).all():
                out[name] = values
        return out

    @staticmethod
    def _event(record, i):
        h = Happening()
        library.swh_record_event(record, i, byref(h))
        return {"time": h.time, "name": h.name.decode(), "value": h.value, "text": h.text.decode()}

    @staticmethod
    def _course(record, index):
        c = Course()
        library.swh_record_course(record, index, byref(c))
        return {name: getattr(c, name) for name, _ in Course._fields_}

    def __getitem__(self, name):
        return self._column[name]

    def __iter__(self):
        return iter(self._column)

    def __len__(self):
        return len(self._column)

    def __repr__(self):
        return f"<Run: {self.outcome}, {len(self['time'])} rows to {self.figures['end_time_s']:g} s>"

    def unit(self, name):
        """SI unit of a channel."""
        return CHANNELS[name]["unit"]

    def to_frame(self):
        """A pandas DataFrame with one column a channel."""
        import pandas
        return pandas.DataFrame(self._column)

    def to_parquet(self, path):
        """Writes the channels as Parquet (pyarrow); the unit of each is in its field's metadata."""
        from .convert import write_parquet
        write_parquet(path, self._column)

    def to_hdf5(self, path):
        """Writes the channels as HDF5 (h5py), one data set a channel with its `unit` as attribute."""
        from .convert import write_hdf5
        write_hdf5(path, self._column)


class Stepper:
    """A machine that is taken further step by step, for whoever computes the rest of the vehicle."""

    def __init__(self, case):
        self._handle = c_void_p()
        call("swh_stepper_new", byref(self._handle), case._handle)

    def close(self):
        if self._handle:
            library.swh_stepper_free(self._handle)
            self._handle = c_void_p()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    __del__ = close

    def set(self, **conditions):
        """Conditions from now on [SI], for example compressor_speed=25, until they are set again."""
        for name, value in conditions.items():
            call("swh_stepper_input", self._handle, name.encode(), value)

    def advance(self, time):
        """Goes on to `time` [s], through all events on the way."""
        call("swh_stepper_advance", self._handle, time)

    def __getitem__(self, name):
        return library.swh_stepper_channel(self._handle, channel(name))

    @property
    def time(self):
        return library.swh_stepper_time(self._handle)

    @property
    def outcome(self):
        return library.swh_stepper_outcome(self._handle).decode()


def _text(function, *arguments):
    pointer = c_void_p()
    call(function, *arguments[:1], *arguments[1:], byref(pointer))
    if not pointer:
        return None
    text = ctypes.string_at(pointer).decode(errors="replace")
    library.swh_text_free(pointer)
    return text


def _from_text(text, schedule):
    """A case from its own text: what pickling does, so that other processes compute the same bits."""
    with tempfile.TemporaryDirectory() as folder:
        if schedule is not None:
            with open(os.path.join(folder, "schedule.csv"), "w", encoding="utf-8") as f:
                f.write(schedule)
        path = os.path.join(folder, "case.ini")
        with open(path, "w", encoding="utf-8") as f:
            f.write(text)
        return Case.load(path)


def _one(job):
    """One case of a sweep: the course of each channel asked for, and how it ended."""
    case, names, values, results = job
    try:
        for name, value in zip(names, values):
            case[name] = value
        run = case.run()
    except Error as problem:
        if problem.status != ERR_INPUT:
            raise
        return {"outcome": "impossible", "time_to_seizure_s": math.nan, **{name: math.nan for name in results}}
    row = {"outcome": run.outcome if run.complete else "incomplete", "time_to_seizure_s": run.figures["time_to_seizure_s"]}
    for name in results:
        kind, _, of = name.partition("_")
        row[name] = run.course[of][{"peak": "highest", "lowest": "lowest", "mean": "mean", "last": "last"}[kind]] if of in run else math.nan
    return row


class Case:
    """A vehicle, its faults, the conditions it works under: what is simulated. Numbers by their key: case["charge.fraction"] = 0.8."""

    def __init__(self):
        """The default vehicle, healthy."""
        self._handle = c_void_p()
        call("swh_setup_new", byref(self._handle))

    @classmethod
    def load(cls, scenario, vehicle=None):
        """From a scenario or vehicle file, with `vehicle` instead of the one that the scenario names."""
        self = cls.__new__(cls)
        self._handle = c_void_p()
        call("swh_setup_load", byref(self._handle), encode(scenario), encode(vehicle))
        return self

    def copy(self):
        """A case equal to this one."""
        other = Case.__new__(Case)
        other._handle = c_void_p()
        call("swh_setup_copy", byref(other._handle), self._handle)
        return other

    def __del__(self):
        if getattr(self, "_handle", None):
            library.swh_setup_free(self._handle)
            self._handle = c_void_p()

    def __reduce__(self):
        return _from_text, (self.text(), _text("swh_setup_schedule", self._handle))

    def __repr__(self):
        return f"<Case: {self.title}>"

    @property
    def title(self):
        return library.swh_setup_title(self._handle).decode(errors="replace")

    def text(self, schedule="schedule.csv"):
        """The case as a scenario file: complete, in SI units."""
        return _text("swh_setup_text", self._handle, schedule.encode())

    def save(self, folder):
        """Writes case.ini, and schedule.csv if there is a schedule, into a folder. Returns the path of case.ini."""
        schedule = _text("swh_setup_schedule", self._handle)
        if schedule is not None:
            with open(os.path.join(folder, "schedule.csv"), "w", encoding="utf-8") as f:
                f.write(schedule)
        path = os.path.join(folder, "case.ini")
        with open(path, "w", encoding="utf-8") as f:
            f.write(self.text())
        return path

    def __setitem__(self, key, value):
        """A number [SI], or a text as a scenario file has it: "38 degC", "R1234yf"."""
        if isinstance(value, str):
            call("swh_setup_set_text", self._handle, key.encode(), value.encode())
        else:
            call("swh_setup_set", self._handle, key.encode(), float(value), None)

    def set(self, key, value, unit=None):
        """Sets a number in a unit, SI without one."""
        call("swh_setup_set", self._handle, key.encode(), float(value), encode(unit))

    def __getitem__(self, key):
        """A number [SI], or the word of a choice."""
        room = ctypes.create_string_buffer(64)
        if call("swh_setup_get_text", self._handle, key.encode(), room, len(room), forgive=(ERR_INPUT,)) is None:
            return room.value.decode()
        return self.get(key)

    def get(self, key, unit=None):
        """A number in a unit, SI without one."""
        value = c_double()
        call("swh_setup_get", self._handle, key.encode(), encode(unit), byref(value))
        return value.value

    def check(self):
        """Raises an Error if it cannot be simulated."""
        call("swh_setup_check", self._handle)

    # ---- simulating ----

    def _record(self, function, *arguments):
        record = c_void_p()
        stopped = call(function, self._handle, *arguments, byref(record), forgive=(ERR_RANGE, ERR_SOLVER))
        if not record:
            raise stopped
        try:
            return Run(record, stopped)
        finally:
            library.swh_record_free(record)

    def run(self):
        """Runs it from its start to its end."""
        return self._record("swh_setup_run")

    def replay(self, log, columns=None):
        """Drives the compressor's body with a log's pressures, suction temperature, speed and clutch; `measured` holds its readings."""
        return self._record("swh_setup_replay", encode(log), encode(columns))

    def drive(self, log, columns=None):
        """A new case whose circuit is driven by what a log says of speed, ambient and clutch."""
        other = self.copy()
        call("swh_setup_drive", other._handle, encode(log), encode(columns))
        return other

    def stepper(self):
        """A machine that starts as this case and is taken further step by step."""
        return Stepper(self)

    def sweep(self, vary, results=("peak_rotor_temperature",), processes=None):
        """All combinations of the values in `vary` {key: values [SI]}, computed in `processes` processes.

        Returns arrays: one for each key, "outcome", "time_to_seizure_s", and one for each of `results`: "peak_CHANNEL", "lowest_CHANNEL",
        "mean_CHANNEL" or "last_CHANNEL". A combination that contradicts itself has the outcome "impossible".
        """
        from concurrent.futures import ProcessPoolExecutor
        from multiprocessing import get_context
        for name in results:
            if name.partition("_")[2] not in CHANNELS:
                raise KeyError(name)
        names, values = list(vary), [list(v) for v in vary.values()]
        jobs = [(self, names, point, tuple(results)) for point in itertools.product(*values)]
        if processes == 1:
            rows = [_one((self.copy(), *job[1:])) for job in jobs]
        else:
            count = processes or len(os.sched_getaffinity(0))
            with ProcessPoolExecutor(count, mp_context=get_context("spawn")) as pool:
                rows = list(pool.map(_one, jobs, chunksize=max(1, len(jobs) // (4 * count))))
        out = {name: numpy.array([job[2][i] for job in jobs]) for i, name in enumerate(names)}
        for name in rows[0] if rows else ():
            out[name] = numpy.array([row[name] for row in rows])
        return out

    # ---- what the program computes ----

    def _ask(self, command, logs, options):
        logs = [logs] if isinstance(logs, (str, os.PathLike)) else list(logs)
        with tempfile.TemporaryDirectory() as folder:
            arguments = [PROGRAM, command, *map(os.fspath, logs), "--vehicle", self.save(folder), "--json", "--plot", "none", "-o",
                         os.path.join(folder, "out")]
            for name, value in options.items():
                if value is True:
                    arguments.append(f"--{name}")
                elif value is not None and value is not False:
                    arguments += [f"--{name}", ",".join(value) if isinstance(value, (list, tuple)) else str(value)]
            done = subprocess.run(arguments, capture_output=True, text=True)
        if done.returncode not in (0, 1):
            raise RuntimeError(done.stderr.strip())
        return json.loads(done.stdout)

    def fit(self, logs, free, **options):
        """Estimates the parameters `free` from logs: `estimates` {key: {value, low, high, unit}}, `correlation`, `holdout_rms` ...

        Options are those of `swashheat fit`: columns, starts, holdout, profile=True; with_="circuit" for the closed circuit.
        """
        options = {k.rstrip("_"): v for k, v in options.items()}
        return self._ask("fit", logs, {"free": [free] if isinstance(free, str) else list(free), **options})

    def rank(self, log, **options):
        """Orders possible causes by how well each explains a log: `ranking` [{fault, share, severity ...}], `next_reading`.

        Options are those of `swashheat rank`: columns, bench.
        """
        return self._ask("rank", log, options)

    def accept(self, log, **options):
        """Judges a repaired vehicle by a log: `pass`, `verdict`, `reasons`, `deviations` {channel: standard deviations} ...

        Options are those of `swashheat accept`: columns.
        """
        return self._ask("accept", log, options)
