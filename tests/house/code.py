"""Checks of the code itself: direction of includes, exported names, writable data, length of functions, names at the top level,
nothing of the machine it was written on.

Usage: code.py CHECK SOURCE_FOLDER [LIBRARY]      CHECK: includes, rooms, exports, data, length, top, paths
"""
import os
import re
import statistics
import subprocess
import sys

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from repository import tracked  # noqa: E402

# Rooms: what the files of a folder may include besides their own folder's. A path that ends in "/" means all below it.
ROOMS = {
    "model/base": [],
    "model/tables": ["model/base"],
    "model/refrigerant": ["model/base"],
    "model/parts": ["model/base", "model/tables", "model/refrigerant", "model"],
    "model": ["model/"],
    "solver/ode": ["model/base"],
    "solver/simulate": ["model/", "solver/ode"],
    "solver/files": ["model/", "solver/simulate"],
    "solver/study": ["model/", "solver/simulate"],
    "solver/web": ["model/", "solver/simulate", "solver/infer", "solver/steady"],
    "solver/infer": ["model/", "solver/simulate"],
    "solver/steady": ["model/", "solver/simulate", "solver/study"],
    "solver/api": ["model/", "solver/"],
    "solver/api/swashheat": [],
    "solver/fmu": [],
    "plots": ["model/"],
    "plots/page": ["model/", "plots"],
    "plots/pictures": ["model/", "plots", "plots/page"],
    "cli": ["model/", "solver/", "plots", "cli/base"],
    "cli/base": ["model/", "solver/", "plots"],
    "cli/install": ["cli/base"],
    "cli/commands": ["model/", "solver/", "plots", "cli/base"],  # and each below it: itself
}
FOLDERS = {"model": {"model"}, "solver": {"solver", "model"}, "plots": {"plots", "model"}, "cli": {"cli", "plots", "solver", "model"}}
# headers that are not the C library's or POSIX's, and the only files that may include them
PRIVATE = {
    r"(sundials|cvodes|nvector|sunmatrix|sunlinsol|sunnonlinsol)/": r"solver/ode/(ode|jacobian|newton|vector)\.[ch]",
    r"cminpack\.h|minpack\.h": r"solver/infer/least_squares\.c",
    r"pthread\.h": r"solver/simulate/parallel\.[ch]|cli/commands/infer/live_rank\.[ch]",
    r"csv\.h": r"solver/files/csv_\w+\.[ch]|cli/commands/run/series_csv\.c",
    r"ini\.h": r"solver/files/ini\.[ch]",
    r"udunits2\.h": r"solver/files/unit_system\.c",
    r"nettle/": r"cli/base/provenance\.c",
    r"(minizip/)?zip\.h": r"cli/commands/export/cmd_fmu\.c",
    r"jansson\.h": r"(cli|solver/files)/[\w/]+\.[ch]",
}
# what the model may use of the C library: nothing that opens, reads or starts anything
MODEL_LIBC = {"math.h", "string.h", "stdlib.h", "stddef.h", "stdio.h", "stdbool.h", "stdint.h", "stdarg.h", "ctype.h", "float.h", "limits.h", "assert.h"}
# the programs that make tables during the build are not part of the library
MAKER = ("model/refrigerant/tables_program.c", "model/make_sparsity.c", "solver/files/make_known_units.c")
READER = "solver/files/text_file.c"  # opens what the library reads; table_cache.c beside it keeps tables by file descriptors
TOP = {"README.md", "DEVELOPERS.md", "LICENSE", "CMakeLists.txt", "model", "solver", "cli", "tests", "scenarios", "plots"}
LONGEST, P90, MEDIAN = 80, 40, 15


def code(root, folders=tuple(FOLDERS)):
    for name in sorted(tracked(root)):
        if name.split("/")[0] in folders and name.endswith((".c", ".h", ".def")):
            with open(os.path.join(root, name), encoding="utf-8") as f:
                yield name, f.read()


def room(path):
    """The room of a file or header, and what it may include besides its own room."""
    folder = os.path.dirname(path)
    return folder, ROOMS.get(folder) if not folder.startswith("cli/commands/") else ROOMS["cli/commands"]


def rooms(root):
    """Arrows between rooms, and that each room says what it is for: a README, or a header of its own with a long comment."""
    headers = set()
    for name, text in code(root):
        folder, allowed = room(name)
        headers.add(folder)
        if allowed is None:
            yield f"{name}: {folder} is no room that tests/house/code.py knows"
            continue
        for header in re.findall(r'^\s*#\s*include\s+"([^"]+)"', text, re.M):
            to = os.path.dirname(header)
            if to != folder and not any(to == a or (a.endswith("/") and (to + "/").startswith(a)) for a in allowed):
                yield f"{name} includes {header}: {folder} may use only {', '.join(allowed) or 'itself'}"
    for folder in sorted(headers):
        if not os.path.exists(os.path.join(root, folder, "README.md")):
            yield f"{folder} has no README.md that says what the room is for"


def includes(root):
    for name, text in code(root):
        folder = name.split("/")[0]
        for kind, header in re.findall(r'^\s*#\s*include\s+([<"])([^>"]+)', text, re.M):
            if kind == '"' and header.split("/")[0] not in FOLDERS[folder]:
                yield f"{name} includes {header}: {folder}/ may use only {', '.join(sorted(FOLDERS[folder]))}"
            for pattern, allowed in PRIVATE.items():
                if re.match(pattern + ("" if pattern.endswith("/") else "$"), header) and not re.fullmatch(allowed, name):
                    yield f"{name} includes {header}, which belongs into {allowed}"
            if folder == "model" and kind == "<" and header not in MODEL_LIBC:
                yield f"{name} includes <{header}>: the model is pure functions"
        if folder in ("model", "solver") and name not in (*MAKER, READER):
            for word in re.findall(r"\b(?:printf|fprintf|puts|fopen|popen|exit|abort)\s*\(", text):
                yield f"{name} calls {word}...): only cli/ prints and ends, only {READER} opens files"


def nm(library, *options):
    return subprocess.run(["nm", *options, library], check=True, capture_output=True, text=True).stdout


PUBLIC = ["model/base/error.h", "solver/api/swashheat"]


def declared(root):
    """Functions that the public headers declare, comments left out."""
    for name in tracked(root):
        if name.startswith(tuple(PUBLIC)):
            with open(os.path.join(root, name), encoding="utf-8") as f:
                text = re.sub(r"/\*.*?\*/", "", f.read(), flags=re.S)
            yield from re.findall(r"\b(\w+)\s*\([^()]*\);", text)


def exports(root, library):
    shown = {line.split()[-1].split("@")[0] for line in nm(library, "-D", "--defined-only").splitlines() if " T " in line or " D " in line or " R " in line}
    public = set(declared(root))
    if len(public) < 20:
        yield f"only {len(public)} functions found in {', '.join(PUBLIC)}"
    for name in sorted(shown - public):
        yield f"{library} exports {name}, which no public header declares"
    for name in sorted(public - shown):
        yield f"{library} does not export {name}, which a public header declares"
    for name in sorted(public):
        if not name.startswith("swh_"):
            yield f"{name} is public: its name begins with swh_"


def data(root, library):
    """Writable data in the library: .data and .bss (tables of pointers sit in .data.rel.ro, which is read-only at run time)."""
    listing = subprocess.run(["objdump", "-t", library], check=True, capture_output=True, text=True).stdout
    found = 0
    for line in listing.splitlines():
        columns = line.split()
        if len(columns) < 4 or columns[-1].startswith((".", "_", "completed.", "swh_fini")):
            continue
        section = next((c for c in columns[1:-1] if c.startswith(".") or c == "*COM*"), "")
        found += section == ".rodata" or section.startswith(".data.rel.ro")
        if " O " in line and (section in (".data", ".bss", "*COM*") or section.startswith((".tdata", ".tbss"))):
            yield f"{columns[-1]} is writable data ({section}): model/ and solver/ keep nothing between calls"
    if found == 0:
        yield f"{library}: no constants found either, so this check sees nothing"


def bodies(name, text):
    """Lengths of functions: from the line of the lone opening brace's signature to the closing brace in column one."""
    start = None
    lines = text.splitlines()
    for number, line in enumerate(lines):
        if line == "{":
            start = number
        elif line.startswith("}") and start is not None:
            yield number - start + 2, f"{name}:{start + 1}"
            start = None


def length(root):
    lengths = sorted(b for name, text in code(root) if name.endswith((".c", ".h")) for b in bodies(name, text))
    sizes = [n for n, _ in lengths]
    p90 = sizes[int(0.9 * len(sizes))]
    print(f"{len(sizes)} functions: median {statistics.median(sizes):.0f} lines, 90 % within {p90}, longest {sizes[-1]} ({lengths[-1][1]})")
    if len(sizes) < 500:
        yield f"only {len(sizes)} functions found: has the layout of the code changed?"
    for size, place in lengths:
        if size > LONGEST:
            yield f"{place}: {size} lines, at most {LONGEST}"
    if p90 > P90 or statistics.median(sizes) > MEDIAN:
        yield f"functions grow long: median at most {MEDIAN}, 90 % within {P90}"


def top(root):
    names = {f.split("/")[0] for f in tracked(root)}
    for name in sorted(n for n in names if not n.startswith(".")) :
        if name not in TOP:
            yield f"{name} does not belong at the top level"
    for name in sorted(TOP - names):
        yield f"{name} is missing at the top level"


def paths(root):
    here = os.path.realpath(root)
    for name in tracked(root):
        if name.endswith((".png", ".bin")) or name == "tests/house/code.py":
            continue
        with open(os.path.join(root, name), encoding="utf-8", errors="replace") as f:
            for number, line in enumerate(f, 1):
                if re.search(r"(?<![\w.])/(home|root|Users|work|mnt)/\w|[A-Z]:\\\\Users", line) or here in line:
                    yield f"{name}:{number}: a path of one machine: {line.strip()}"


def main(check, root, *library):
    problems = list({"includes": includes, "rooms": rooms, "exports": exports, "data": data, "length": length, "top": top, "paths": paths}[check](root, *library))
    if problems:
        sys.exit("\n".join(problems))


main(*sys.argv[1:])
