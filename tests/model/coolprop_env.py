"""A throw-away virtual environment with CoolProp from PyPI, kept in the build folder until that is deleted.

python_with_coolprop(FOLDER) returns the interpreter's path, or None with a plain word on standard output when the
package cannot be had (no network, no registry, no venv module).
"""
import os
import subprocess
import sys
import venv

# Versions before 6.6 lack parts of the interface used here.
REQUIREMENTS = ["CoolProp>=6.6", "numpy"]


def works(python):
    return os.path.exists(python) and subprocess.run([python, "-c", "import CoolProp, numpy"],
                                                     capture_output=True).returncode == 0


def python_with_coolprop(folder):
    python = os.path.join(folder, "bin", "python")
    if works(python):
        return python
    try:
        venv.create(folder, with_pip=True, clear=True)
        done = subprocess.run([python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check"] + REQUIREMENTS,
                              capture_output=True, text=True, timeout=300)
    except (OSError, subprocess.SubprocessError) as problem:
        print(f"SKIPPED: no virtual environment with CoolProp: {problem}")
        return None
    if done.returncode or not works(python):
        reason = (done.stderr.strip().splitlines() or ["it does not import"])[-1]
        print(f"SKIPPED: CoolProp could not be installed from the package registry: {reason}")
        return None
    return python


def restart_inside(folder):
    """Runs the calling script again with that interpreter, or leaves with 77 (skipped)."""
    if os.environ.get("SWH_INSIDE_VENV"):
        return
    python = python_with_coolprop(folder)
    if not python:
        sys.exit(77)
    os.environ["SWH_INSIDE_VENV"] = "1"
    sys.stdout.flush()
    os.execv(python, [python] + sys.argv)
