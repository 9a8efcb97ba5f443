"""Lines and branches that the tests reach, by folder.

coverage.py BUILD_FOLDER [CTEST_REGEX]   builds with gcc --coverage, runs the tests that match (default: all but benchmarks, fuzzing and
                                          random machines), prints a table and writes BUILD_FOLDER/uncovered.txt (file:line of what no test reached)
Wanted: lines above 95 %, branches above 85 % in model and solver, above 90 and 80 elsewhere.
"""
import collections
import gzip
import json
import os
import shutil
import subprocess
import sys
import tempfile

ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
FOLDERS = {"model": (95, 85), "solver": (95, 85), "plots": (90, 80), "cli": (90, 80)}
LEFT_OUT = "fuzz|bench|rank_study|rank_other|fit_coverage|random_|scipy|coolprop|house_[a-z]*$|sanitized|stress"


def build_and_run(folder, regex):
    flags = "--coverage"  # counts of threads may get lost, but not all of a line's
    generator = ["-G", "Ninja"] if shutil.which("ninja") else []
    subprocess.run(["cmake", *generator, "-S", ROOT, "-B", folder, "-DCMAKE_BUILD_TYPE=Coverage", f"-DCMAKE_C_FLAGS=-O1 {flags}",
                    "-DCMAKE_C_COMPILER=gcc"], check=True, stdout=subprocess.DEVNULL)
    for base, _, names in os.walk(folder):
        for n in names:
            if n.endswith(".gcda"):
                os.remove(os.path.join(base, n))
    # from the beginning: what makes tables while the library is built counts too
    subprocess.run(["cmake", "--build", folder, "-j", "2", "--clean-first"], check=True, stdout=subprocess.DEVNULL)
    chosen = ["-R", regex] if regex else ["-E", LEFT_OUT]
    subprocess.run(["ctest", "-j2", *chosen], cwd=folder, stdout=subprocess.DEVNULL)


def read(folder):
    """{file: ({line: count}, {(line, n): count})}"""
    data = collections.defaultdict(lambda: (collections.Counter(), collections.Counter()))
    objects = [os.path.join(b, n) for b, _, ns in os.walk(folder) for n in ns if n.endswith(".gcda") and "/tests/" not in b]
    with tempfile.TemporaryDirectory() as d:
        for i in range(0, len(objects), 20):
            subprocess.run(["gcov", "--json-format", "--branch-probabilities", "--preserve-paths", *objects[i:i + 20]], cwd=d, check=True,
                           stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            for n in os.listdir(d):
                with gzip.open(os.path.join(d, n)) as f:
                    for file in json.load(f)["files"]:
                        take(data, file)
                os.remove(os.path.join(d, n))
    return data


def take(data, file):
    name = os.path.relpath(os.path.join(ROOT, file["file"]), ROOT)
    if name.split("/")[0] not in FOLDERS or not name.endswith(".c"):
        return
    lines, branches = data[name]
    for line in file["lines"]:
        lines[line["line_number"]] += line["count"]
        for i, b in enumerate(line["branches"]):
            branches[line["line_number"], i] += b["count"]


def share(counts):
    return 100 * sum(c > 0 for c in counts) / max(len(counts), 1)


def main():
    folder = os.path.abspath(sys.argv[1])
    build_and_run(folder, sys.argv[2] if len(sys.argv) > 2 else None)
    data, short = read(folder), 0
    for top, wanted in FOLDERS.items():
        lines = [c for name, (l, _) in data.items() if name.startswith(top + "/") for c in l.values()]
        branches = [c for name, (_, b) in data.items() if name.startswith(top + "/") for c in b.values()]
        got = share(lines), share(branches)
        short |= got[0] < wanted[0] or got[1] < wanted[1]
        print(f"{top:8s} lines {got[0]:5.1f} % of {len(lines)} (wanted {wanted[0]}), branches {got[1]:5.1f} % of {len(branches)} (wanted {wanted[1]})")
    with open(os.path.join(folder, "uncovered.txt"), "w") as f:
        for name in sorted(data):
            f.writelines(f"{name}:{line}\n" for line, count in sorted(data[name][0].items()) if count == 0)
    return int(short)


if __name__ == "__main__":
    sys.exit(main())
