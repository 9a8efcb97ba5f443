"""Keeps README.md and the program in step: the tables of commands and of faults in the README are what the program prints.

Usage: tables.py PROGRAM README          compares, exit 1 if they differ
       tables.py PROGRAM README --write  puts the program's tables into the README
"""
import difflib
import json
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
    cells = [[f"`{row[h]}`" if h == "fault" else row[h] for h in head] for row in rows]
    return markdown(head, cells)


def main(program, readme, *options):
    with open(readme, encoding="utf-8") as f:
        old = f.read()
    new = old
    for name, table in (("commands", commands(program)), ("faults", faults(program))):
        pattern = rf"(<!-- {name}: [^\n]*-->\n).*?(<!-- end of {name} -->)"
        new, found = re.subn(pattern, lambda m: m[1] + table + "\n" + m[2], new, flags=re.S)
        if found != 1:
            sys.exit(f"{readme}: there are {found} tables of {name}, expected one")
    if "--write" in options:
        with open(readme, "w", encoding="utf-8") as f:
            f.write(new)
    elif old != new:
        print("\n".join(difflib.unified_diff(old.split("\n"), new.split("\n"), readme, "the program", lineterm="")))
        sys.exit(f"{readme} and the program differ; python3 tests/house/tables.py PROGRAM README.md --write mends it")


main(*sys.argv[1:])
