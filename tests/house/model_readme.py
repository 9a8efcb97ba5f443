"""The constants in model/README.md against the tables and the code.

Usage: model_readme.py PROGRAM SOURCE_FOLDER [--write]

A row of a table that begins with a parameter's name in backticks and has four cells holds its default, meaning and source as `list parameters`
shows them; --write brings such rows up to date. A row with a file and a number in backticks: the file holds that text once or more. Every parameter of
compressor, friction, oil and body stands in the document.
"""
import os
import re
import subprocess
import sys

SECTIONS = ("compressor", "friction", "oil", "body")


def parameters(program):
    lines = subprocess.run([program, "list", "parameters"], capture_output=True, text=True, check=True).stdout.splitlines()
    at = [lines[0].index(word) for word in ("parameter", "default", "lowest", "highest", "meaning", "source")]
    known = {}
    for line in lines[1:]:
        cell = [line[a:b].strip() for a, b in zip(at, at[1:] + [None])]
        if cell[0]:
            known[cell[0]] = f"| `{cell[0]}` | {cell[1]} | {cell[4]} | {cell[5]} |"
    return known


def problems(known, root, text):
    seen = set()
    for line in text.splitlines():
        name = re.match(r"\| `([a-z_]+\.[a-z_0-9]+)` \|", line)
        if name and name.group(1) in known:
            seen.add(name.group(1))
            if line != known[name.group(1)]:
                yield f"model/README.md says\n  {line}\nbut the tables say\n  {known[name.group(1)]}"
        elif name:
            yield f"model/README.md names {name.group(1)}, which is no parameter"
        number = re.match(r"\| ([a-z_]+/[a-z_]+\.[ch]) \| `([^`]+)` \|", line)
        if number:
            with open(os.path.join(root, "model", number.group(1)), encoding="utf-8") as f:
                if number.group(2) not in f.read():
                    yield f"model/{number.group(1)} does not hold '{number.group(2)}', which model/README.md quotes"
    for name in known:
        if name.split(".")[0] in SECTIONS and name not in seen:
            yield f"model/README.md does not tell {name}"
    if len(seen) < 60:
        yield f"model/README.md tells only {len(seen)} parameters: is it the document?"


def main():
    program, root = sys.argv[1:3]
    path = os.path.join(root, "model", "README.md")
    with open(path, encoding="utf-8") as f:
        text = f.read()
    known = parameters(program)
    if "--write" in sys.argv[3:]:
        text = re.sub(r"^\| `([a-z_]+\.[a-z_0-9]+)` \|.*$", lambda m: known.get(m.group(1), m.group(0)), text, flags=re.M)
        with open(path, "w", encoding="utf-8") as f:
            f.write(text)
    found = list(problems(known, root, text))
    print("\n".join(found))
    sys.exit(bool(found))


main()
