"""Builds and runs the harnesses.

fuzz.py build FOLDER [LAUNCHER]         makes the program's parts and the harnesses with clang, libFuzzer and sanitizers
fuzz.py units FOLDER                    runs the unit tests that were built with the same sanitizers
fuzz.py program FOLDER                  runs tests of the program with the program so built
fuzz.py run FOLDER SECONDS [NAME...]    gives each harness (all: none named) that long, and prints what it got through
The corpus is kept in FOLDER/corpus, so that a long run goes on where the last one ended. Ends with 77 without clang's libFuzzer.
"""
import os
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))
SCENARIOS = os.path.join(ROOT, "scenarios")
NAMES = ["number", "log", "sheet", "schedule", "columns", "scenario", "set", "journal", "plan", "report", "findings", "line", "fluid"]


def clang():
    """A clang that links with libFuzzer; None if there is none."""
    for name in ["clang"] + [f"clang-{v}" for v in range(20, 12, -1)]:
        if not shutil.which(name):
            continue
        with tempfile.TemporaryDirectory() as d:
            source = os.path.join(d, "x.c")
            with open(source, "w") as f:
                f.write("int LLVMFuzzerTestOneInput(const char *d, unsigned long n) { return 0 * (int)n * !d; }\n")
            if subprocess.run([name, "-fsanitize=fuzzer,address", source, "-o", os.path.join(d, "x")], capture_output=True).returncode == 0:
                return name
    return None


def build(folder, launcher=None):
    compiler = clang()
    if not compiler:
        print("skipped: no clang with libFuzzer")
        return 77
    options = ["-DSWH_FUZZ=ON", "-DSWH_SANITIZE=address,undefined", f"-DCMAKE_C_COMPILER={compiler}", "-DCMAKE_BUILD_TYPE=Fuzz",
               "-DCMAKE_C_FLAGS=-O2 -gline-tables-only -fno-sanitize-recover=undefined -fsanitize=fuzzer-no-link "
               f"-fsanitize-coverage-ignorelist={os.path.join(HERE, 'unwatched.txt')}"]
    if launcher:
        options.append(f"-DCMAKE_C_COMPILER_LAUNCHER={launcher}")
    generator = ["-G", "Ninja"] if shutil.which("ninja") else []
    subprocess.run(["cmake", *generator, "-S", ROOT, "-B", folder, *options], check=True, stdout=subprocess.DEVNULL)
    subprocess.run(["cmake", "--build", folder, "--target", "fuzz", "-j", "2"], check=True)
    return 0


# ---- seeds and dictionaries, from the program's own files and tables: they cannot fall behind ----

def text_of(name, most=4000):
    with open(os.path.join(SCENARIOS, name), "rb") as f:
        return f.read(most)


def lines_of(name, rows):
    with open(os.path.join(SCENARIOS, name), "rb") as f:
        return b"".join(f.readline() for _ in range(rows))


def files(ending, folder=""):
    return sorted(os.path.join(folder, f) for f in os.listdir(os.path.join(SCENARIOS, folder)) if f.endswith(ending))


RANK = (b'{"answer": "a", "ranking": [{"fault": "undercharge", "share": 0.6, "severity": 0.4, "severity_low": 0.3, "severity_high": 0.5}, '
        b'{"fault": "condenser_blocked+fan_dead", "second": "fan_dead", "share": 0.3, "severity": 1e308, "second_severity": -1}, '
        b'{"fault": "healthy", "share": 0.1}]}')
REPORTS = [b'{"outcome": "survives", "complete": true, "peak": {"rotor_temperature": {"value": 350, "unit": "K", "time_s": 3}}, "notes": ["n"], '
           b'"mean": {"duty": 1}, "scenario": "x.ini", "vehicle": null}', RANK, b'{"pass": false, "verdict": "fail", "answer": "a", "reasons": ["x"]}',
           b'{"command": ["swashheat", "run"], "input": [{"path": "x", "sha256": "0"}]}',
           b'{"tests": [{"point": "idle", "reading": "suction_pressure", "prediction": [1, 2]}]}',
           b'[job]\nnumber = 1\ncustomer = somebody\nvehicle = van\ncomplaint = warm air\n', b'[findings]\nblue_rotor = yes\n',
           b'point,suction_pressure[psi],discharge_pressure[psi],compressor_speed[rpm]\nidle,30,200,800\n', b'time[s],event,value,text\n1,clutch_on,1,"x"\n',
           b'{"estimate": [{"key": "condenser.ua_air", "value": 1, "low": 0, "high": 2, "unit": "W/K"}]}']
MAP = b"[columns]\nsuction_pressure = Low Side, psig\ndischarge_pressure = HP\ntime = Uhr\n\n====\nUhr;Low Side;HP (bar)\n00:00:01;30,5;12\n"


def seeds(name):
    if name == "number":
        found = [b"12.5 mm", b"-1e-5", b"30psig", b"0,4", b"82 degC", b"1e309", b"charge.fraction=0.5..1:4", b"fault.undercharge.severity=0..100%:3",
                b"2026-07-14T13:05:22Z\n1:05:23.5 PM\n13:05", b"kg/cm2", b"W/(m2 K)", b"1234567890123456789012345678901234567890e-30", b"0.1 lb/16"]
        return [f + bytes([i]) for f in found for i in range(40)]  # of each quantity
    if name in ("log", "sheet", "schedule"):
        found = [lines_of(f, 12) for f in files(".csv", "logs") + files(".csv")]
        return found + REPORTS[7:8] + [b"Time,Low (psi),High (psi),Suct F\n\"a\"\"b\",1,2,3\n,,,\n", b"Uhr;ND bar(g)\n0:30;1,5\n1:00;1,6\n",
                                      b"time[s],vehicle_speed[km/h]\n0,80\n920,0\n1500e4100,0\n1520,80\n"]  # found: a time without end
    if name == "columns":
        return [MAP]
    if name == "scenario":
        return [text_of(f) for f in files(".ini")]
    if name == "set":
        found = [b"charge.fraction=0.4\nconditions.ambient_temperature=43 degC", b"fault.undercharge.severity=0.4\nfault.undercharge.start=600 s",
                 b"vehicle.oil=PAG46\ncontrols.high_open=400 psig", b"compressor.clearance=12 um +- 1 um", b"scenario.schedule=x.csv"]
        return found
    if name == "journal":
        return [b"0 0 0x1p-1" + b" 0x1p+3" * 20 + b"\n1 3 nan" + b" -inf" * 24 + b"\n", b"5 1 0x1p0\n-1 2 3\n"]
    if name == "plan":
        return [RANK]
    if name == "report":
        return [bytes([i]) + r for i, r in enumerate(REPORTS)]
    if name == "fluid":
        with open(os.path.join(ROOT, "tests", "cli", "fluids", "r134a.json"), "rb") as f:
            return [f.read()]
    if name == "findings":
        return REPORTS[6:7] + [b"[findings]\nclearance = 30 um\nrotor_colour = straw\n"]
    return [b"state\nR134a\nP=3 bar\nT=20 degC", b"list\nfaults\n--json", b"list\nparameters", b"state\nR1234yf\n-T\n5 degC\nx=0.5", b"--help"]


def words():
    """Keys, channels, units and faults of the tables."""
    found = {"[scenario]", "vehicle", "title", "schedule", "[fault ", "severity", "start", "ramp", "end", "=", "..", "+-", "nan", "1e308", "\xef\xbb\xbf",
             "ranking", "fault", "second", "share", "second_severity", "value", "unit", "outcome", "peak", "pass", "verdict", "[columns]", "[findings]",
             "hh:mm:ss", "bar(g)", "\"", "\"\"", ";", "\t", "#", "[job]"}
    for base, _, names in os.walk(ROOT):
        if "/.build" in base or "/tests" in base:
            continue
        for n in names:
            if not n.endswith(".def"):
                continue
            with open(os.path.join(base, n), encoding="utf-8") as f:
                text = f.read()
            found.update(w for row in re.findall(r"^[A-Z]+\(([^\n]*)", text, re.M) for w in re.findall(r"[a-zA-Z_][\w./%]{1,40}", row.split(", \"")[0]))
            found.update(re.findall(r'"([\w./%]{1,12})"', text))
    return sorted(found)


def write_dictionary(path):
    with open(path, "w", encoding="ascii") as f:
        for word in words():
            f.write('"' + "".join(c if c.isascii() and c.isalnum() or c in "_. []=+-/%()" else "".join(f"\\x{b:02x}" for b in c.encode("latin-1", "replace")) for c in word) + '"\n')


def prepare(folder, name):
    """Corpus, seeds and dictionary of a harness."""
    corpus, start, dictionary = (os.path.join(folder, *p) for p in (("corpus", name), ("seeds", name), ("seeds", name + ".dict")))
    os.makedirs(corpus, exist_ok=True)
    shutil.rmtree(start, ignore_errors=True)
    os.makedirs(start)
    for i, s in enumerate(seeds(name)):
        with open(os.path.join(start, str(i)), "wb") as f:
            f.write(s)
    write_dictionary(dictionary)
    return corpus, start, dictionary


def run_one(folder, seconds, name):
    corpus, start, dictionary = prepare(folder, name)
    repeatable = 1 if float(seconds) <= 5 else 0  # in the tests the same inputs each time; 0 draws others
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    with tempfile.TemporaryDirectory(prefix="swh-fuzz-", dir="/dev/shm" if os.access("/dev/shm", os.W_OK) else None) as place:  # no disk in the way
        done = subprocess.run([os.path.join(folder, "tests", "fuzz", "fuzz_" + name), f"-max_total_time={seconds}", f"-seed={repeatable}", "-timeout=100",
                               "-rss_limit_mb=1500", "-max_len=4096", "-print_final_stats=1", f"-dict={dictionary}", f"-artifact_prefix={folder}/{name}-",
                               corpus, start],
                              stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, errors="replace", cwd=folder,
                              env={**os.environ, "UBSAN_OPTIONS": "print_stacktrace=1", "ASAN_OPTIONS": "detect_stack_use_after_return=0", "TMPDIR": place})
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    took = max(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, 0.1)
    stats = {k: int(v) for k, v in re.findall(r"stat::(\w+):\s+(\d+)", done.stderr)}
    cover, kept = re.findall(r"cov: (\d+)", done.stderr), len(os.listdir(corpus))
    inputs = stats.get("number_of_executed_units", 0)
    found = "none" if done.returncode == 0 else f"status {done.returncode}"
    print(f"{name:10s} {float(seconds):8.0f} {took:11.0f} {inputs:10d} {inputs / took:10.0f} {cover[-1] if cover else '-':>6s} {kept:6d}  {found}", flush=True)
    if done.returncode != 0 or inputs == 0:
        print("\n".join([l for l in done.stderr.splitlines() if not l.startswith("swashheat: ")][-60:]))
        return 1
    return 0


def run(folder, seconds, names):
    if not clang():
        print("skipped: no clang with libFuzzer")
        return 77
    print("harness     seconds processor s     inputs  a second*  edges corpus  finding      (* of processor time)", flush=True)
    return max([run_one(folder, seconds, name) for name in names or NAMES])


# leaks: libudunits2 loses nine bytes for each text that is no unit, libgomp and gnuplot are not ours
SANITIZED = {"UBSAN_OPTIONS": "print_stacktrace=1:halt_on_error=1", "ASAN_OPTIONS": "detect_stack_use_after_return=1:allocator_may_return_null=1",
             "LSAN_OPTIONS": f"suppressions={os.path.join(HERE, 'lost.txt')}:print_suppressions=0", "SWH_SANITIZE": "address,undefined"}
PROGRAM_TESTS = [("unbreakable_program.py", "Text", "Ends", "Folder"), ("cli_program.py", "BadLog", "BadScenario", "Usage", "State"),
                 ("workshop_program.py", "Dialects", "Label"), ("report_program.py", "Odd")]


def sanitized(command, name, cwd=None):
    began = time.time()
    done = subprocess.run(command, cwd=cwd, env={**os.environ, **SANITIZED}, capture_output=True, errors="replace")
    print(f"{name}: {'passed' if done.returncode == 0 else f'status {done.returncode}'} in {time.time() - began:.1f} s", flush=True)
    if done.returncode:
        print(done.stdout[-4000:], done.stderr[-4000:])
    return done.returncode != 0


def units(folder):
    found = sorted(os.path.join(b, n) for b, _, ns in os.walk(os.path.join(folder, "tests")) for n in ns
                   if n.startswith("test_") and os.access(os.path.join(b, n), os.X_OK) and os.path.isfile(os.path.join(b, n)))
    return max([sanitized([path], os.path.basename(path), folder) for path in found], default=77)


def program(folder):
    path, failed = os.path.join(folder, "cli", "swashheat"), 0
    if not os.path.exists(path):
        return 77
    for file, *classes in PROGRAM_TESTS:
        for name in classes:
            failed |= sanitized([sys.executable, os.path.join(ROOT, "tests", "cli", file), path, SCENARIOS, name], f"{file} {name}")
    return int(failed)


if __name__ == "__main__":
    if sys.argv[1] in ("units", "program"):
        sys.exit({"units": units, "program": program}[sys.argv[1]](os.path.abspath(sys.argv[2])))
    if sys.argv[1] == "build":
        sys.exit(build(*sys.argv[2:4]))
    sys.exit(run(os.path.abspath(sys.argv[2]), sys.argv[3], sys.argv[4:]))
