"""The shared library as ctypes sees it: what <swashheat/swashheat.h> declares."""
import ctypes
import os
from ctypes import POINTER, byref, c_char, c_char_p, c_double, c_int, c_long, c_size_t, c_void_p

FOLDER = os.path.dirname(os.path.abspath(__file__))
LIBRARY = os.environ.get("SWASHHEAT_LIBRARY", os.path.join(FOLDER, "libswashheat.so"))
PROGRAM = os.environ.get("SWASHHEAT_PROGRAM", os.path.join(FOLDER, "swashheat-program"))

OK, ERR_USAGE, ERR_INPUT, ERR_RANGE, ERR_SOLVER, ERR_OUTPUT, ERR_MEMORY = range(7)


class ErrorValue(ctypes.Structure):
    _fields_ = [("status", c_int), ("where", c_char * 256), ("line", c_long), ("column", c_long), ("what", c_char * 512),
                ("expected", c_char * 256)]


class KeyEntry(ctypes.Structure):
    _fields_ = [("name", c_char * 64), ("unit", c_char_p), ("help", c_char_p), ("source", c_char_p), ("lowest", c_double),
                ("highest", c_double), ("usual", c_double)]


class ChannelEntry(ctypes.Structure):
    _fields_ = [("name", c_char_p), ("unit", c_char_p), ("help", c_char_p), ("lowest", c_double), ("highest", c_double), ("measured", c_int)]


class Happening(ctypes.Structure):
    _fields_ = [("time", c_double), ("value", c_double), ("name", c_char_p), ("text", c_char_p)]


class Course(ctypes.Structure):
    _fields_ = [(name, c_double) for name in ("highest", "highest_time", "lowest", "lowest_time", "mean", "last")]


class Error(Exception):
    """What went wrong: where it was, what was found, what was expected."""

    def __init__(self, value, text):
        super().__init__(text)
        self.status, self.line, self.column = value.status, value.line, value.column
        self.where, self.what, self.expected = (x.decode(errors="replace") for x in (value.where, value.what, value.expected))


library = ctypes.CDLL(LIBRARY)
ERR = POINTER(ErrorValue)


def declare(name, result, *arguments):
    function = getattr(library, name)
    function.restype, function.argtypes = result, arguments
    return function


declare("swh_version", c_char_p)
declare("swh_commit", c_char_p)
declare("swh_error_text", c_char_p, ERR, c_char_p, c_size_t)
declare("swh_key_count", c_size_t)
declare("swh_key_describe", c_int, c_size_t, POINTER(KeyEntry))
declare("swh_channel_count", c_size_t)
declare("swh_channel_describe", c_int, c_size_t, POINTER(ChannelEntry))
declare("swh_setup_new", c_int, POINTER(c_void_p), ERR)
declare("swh_setup_load", c_int, POINTER(c_void_p), c_char_p, c_char_p, ERR)
declare("swh_setup_copy", c_int, POINTER(c_void_p), c_void_p, ERR)
declare("swh_setup_free", None, c_void_p)
declare("swh_setup_title", c_char_p, c_void_p)
declare("swh_setup_set", c_int, c_void_p, c_char_p, c_double, c_char_p, ERR)
declare("swh_setup_set_text", c_int, c_void_p, c_char_p, c_char_p, ERR)
declare("swh_setup_get", c_int, c_void_p, c_char_p, c_char_p, POINTER(c_double), ERR)
declare("swh_setup_get_text", c_int, c_void_p, c_char_p, c_char_p, c_size_t, ERR)
declare("swh_setup_check", c_int, c_void_p, ERR)
declare("swh_setup_drive", c_int, c_void_p, c_char_p, c_char_p, ERR)
declare("swh_setup_run", c_int, c_void_p, POINTER(c_void_p), ERR)
declare("swh_setup_replay", c_int, c_void_p, c_char_p, c_char_p, POINTER(c_void_p), ERR)
declare("swh_setup_text", c_int, c_void_p, c_char_p, POINTER(c_void_p), ERR)
declare("swh_setup_schedule", c_int, c_void_p, POINTER(c_void_p), ERR)
declare("swh_text_free", None, c_void_p)
declare("swh_record_free", None, c_void_p)
declare("swh_record_rows", c_size_t, c_void_p)
declare("swh_record_column", POINTER(c_double), c_void_p, c_int)
declare("swh_record_reading", POINTER(c_double), c_void_p, c_int)
declare("swh_record_events", c_size_t, c_void_p)
declare("swh_record_event", c_int, c_void_p, c_size_t, POINTER(Happening))
declare("swh_record_outcome", c_char_p, c_void_p)
declare("swh_record_complete", c_int, c_void_p)
declare("swh_record_figure", c_double, c_void_p, c_char_p)
declare("swh_record_course", c_int, c_void_p, c_int, POINTER(Course))
declare("swh_stepper_new", c_int, POINTER(c_void_p), c_void_p, ERR)
declare("swh_stepper_free", None, c_void_p)
declare("swh_stepper_input", c_int, c_void_p, c_char_p, c_double, ERR)
declare("swh_stepper_advance", c_int, c_void_p, c_double, ERR)
declare("swh_stepper_time", c_double, c_void_p)
declare("swh_stepper_channel", c_double, c_void_p, c_int)
declare("swh_stepper_outcome", c_char_p, c_void_p)


def encode(text):
    return None if text is None else os.fsencode(text)


def error_of(value):
    room = ctypes.create_string_buffer(1200)
    return Error(value, library.swh_error_text(byref(value), room, len(room)).decode(errors="replace"))


def call(name, *arguments, forgive=()):
    """Calls a function that fills an error last; raises it, unless its status is among `forgive`. Returns the error or None."""
    value = ErrorValue()
    status = getattr(library, name)(*arguments, byref(value))
    if status == OK:
        return None
    problem = error_of(value)
    if status in forgive:
        return problem
    raise problem


def version():
    """Version of the library."""
    return library.swh_version().decode()


def commit():
    """Commit that the library was built from."""
    return library.swh_commit().decode()


def keys():
    """Everything that can be set: {name: {unit, help, source, lowest, highest, usual}}, SI."""
    out, entry = {}, KeyEntry()
    for i in range(library.swh_key_count()):
        library.swh_key_describe(i, byref(entry))
        out[entry.name.decode()] = {"unit": entry.unit.decode(), "help": entry.help.decode(), "source": entry.source.decode(),
                                    "lowest": entry.lowest, "highest": entry.highest, "usual": entry.usual}
    return out


def channels():
    """Everything that can be read: {name: {index, unit, help, lowest, highest, measured}}, SI."""
    out, entry = {}, ChannelEntry()
    for i in range(library.swh_channel_count()):
        library.swh_channel_describe(i, byref(entry))
        out[entry.name.decode()] = {"index": i, "unit": entry.unit.decode(), "help": entry.help.decode(), "lowest": entry.lowest,
                                    "highest": entry.highest, "measured": bool(entry.measured)}
    return out


CHANNELS = channels()


def channel(name):
    """Index of a channel; KeyError if it is unknown."""
    return CHANNELS[name]["index"]
