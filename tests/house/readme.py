"""Runs the README's (and DEVELOPERS') shell blocks, each in order, in one throw-away folder that holds a copy of the scenarios.

Every ```sh block must end with status 0; when a ```text block follows, each of its lines must appear in the output in that
order, words exactly and numbers within 10 % (figures move a little when the model is calibrated; larger moves must be
looked at and written down). The two commands of the first block install and build: they are only checked to be there.

Usage: readme.py PROGRAM SOURCE_FOLDER DOCUMENT
"""
import os
import re
import shutil
import subprocess
import sys
import tempfile

NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
TOLERANCE = 0.10


def same(line, wanted):
    if NUMBER.sub("#", line).split() != NUMBER.sub("#", wanted).split():
        return False
    pairs = zip(NUMBER.findall(line), NUMBER.findall(wanted))
    return all(abs(float(a) - float(b)) <= TOLERANCE * abs(float(b)) for a, b in pairs)


def compare(shown, output):
    lines = iter(output.splitlines())
    for wanted in shown.strip().splitlines():
        if not any(same(line, wanted) for line in lines):
            return f"shown but not printed (numbers within {TOLERANCE:.0%}): {wanted.strip()}"
    return None


def blocks(text):
    """Pairs of a shell block and the text block right after it, or None."""
    found = re.findall(r"^```(\w+)\n(.*?)^```$", text, re.M | re.S)
    for i, (kind, body) in enumerate(found):
        follows = found[i + 1] if i + 1 < len(found) else ("", "")
        if kind == "sh":
            yield body, follows[1] if follows[0] == "text" else None


def installs(body, source):
    """The blocks that build everything anew: their scripts must exist and parse."""
    scripts = re.findall(r"^sh ((?:scenarios|tests)/\S+\.sh)$", body, re.M)
    for script in scripts:
        subprocess.run(["sh", "-n", os.path.join(source, script)], check=True)
    return bool(scripts) or re.search(r"^(cmake|ctest|python3 tests)", body, re.M) is not None


def main(program, source, document):
    program, source = os.path.abspath(program), os.path.abspath(source)
    with open(os.path.join(source, document), encoding="utf-8") as f:
        text = f.read()
    folder = tempfile.mkdtemp(prefix="swh_readme_")
    shutil.copytree(os.path.join(source, "scenarios"), os.path.join(folder, "scenarios"))
    environment = dict(os.environ, PATH=os.path.dirname(program) + os.pathsep + os.environ["PATH"])
    failures, ran = [], 0
    for body, shown in blocks(text):
        if installs(body, source):
            continue
        done = subprocess.run(["sh", "-euc", body], cwd=folder, env=environment, capture_output=True, text=True, timeout=300)
        ran += 1
        if done.returncode != 0:
            failures.append(f"status {done.returncode}:\n{body}{done.stderr}")
        elif shown:
            problem = compare(shown, done.stdout)
            if problem:
                failures.append(f"{problem}\n{body}")
    shutil.rmtree(folder)
    print(f"{document}: {ran} blocks run, {len(failures)} failed")
    if ran == 0 and document.endswith("README.md"):
        failures.append(f"{document}: no block was run")
    if failures:
        sys.exit("\n".join(failures))


main(*sys.argv[1:4])
