"""Keeps documents and the program in step: the tables of commands and of faults in them are what the program prints.

Usage: tables.py PROGRAM          compares, exit 1 if they differ
       tables.py PROGRAM --write  puts the program's tables into the documents
"""
import difflib
import json
import os
import re
import subprocess
import sys


def output(program, *arguments):
    return subprocess.run([program, *arguments], check=True, capture_output=True, text=True).stdout


def markdown(head, rows):
    lines = ["| " + " | ".join(head) + " |", "|" + " --- |" * len(head)]
    return "\n".join(lines + ["| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |" for row in rows])


def commands(program):
    rows = re.findall(r"^  ([a-z]+) +(\S.*)$", output(program, "--help"), re.M)
    return markdown(["command", "what it does"], [[f"`{name}`", words] for name, words in rows])


def faults(program):
    rows = json.loads(output(program, "list", "faults", "--json"))
    head = list(rows[0])
    words = lambda cell: f"{cell['value']:g}" if isinstance(cell, dict) else cell
    cells = [[f"`{row[h]}`" if h == "fault" else words(row[h]) for h in head] for row in rows]
    return markdown(head, cells)


def bring(path, name, table, write):
    """Compares one document's table with the program's, or puts the program's there."""
    with open(path, encoding="utf-8") as f:
        old = f.read()
    pattern = rf"(<!-- {name}: [^\n]*-->\n).*?(<!-- end of {name} -->)"
    new, found = re.subn(pattern, lambda m: m[1] + table + "\n" + m[2], old, flags=re.S)
    if found != 1:
        sys.exit(f"{path}: there are {found} tables of {name}, expected one")
    if write:
        with open(path, "w", encoding="utf-8") as f:
            f.write(new)
    elif old != new:
        print("\n".join(difflib.unified_diff(old.split("\n"), new.split("\n"), path, "the program", lineterm="")))
        sys.exit(f"{path} and the program differ; python3 tests/house/tables.py PROGRAM --write mends it")


def main(program, *options):
    root = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")
    write = "--write" in options
    bring(os.path.join(root, "README.md"), "commands", commands(program), write)
    bring(os.path.join(root, "model", "tables", "README.md"), "faults", faults(program), write)


main(*sys.argv[1:])
