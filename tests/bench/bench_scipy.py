"""The compiled right-hand side driven by SciPy's integrators and by ours.

Usage: bench_scipy.py LIBRARY LOG           benchmark: processor time at equal accuracy, as ratios within this run
       bench_scipy.py LIBRARY LOG --check   test: temperatures of the closed circuit within 0.05 K of SciPy's at common times

Source of the check: SciPy's LSODA (Petzold 1983; Hindmarsh's ODEPACK) and its BDF (Shampine and Reichelt 1997), which share
nothing with CVODES's step control, nor with our linear algebra and sparsity pattern. Ends with 77 where there is no SciPy.

Accuracy is the largest error of any temperature of the compressor's metal and oil at common times, against a run of
ours at a relative tolerance of 1e-10 that stops at every row of the log. SciPy is given our tolerances divided by 0.1, 0.2, 0.5, 1, 1.5, ...;
the first divisor at which it is as accurate as we are counts. It does not carry the ledger; we do. With a cycling clutch all stop and
restart at the same times, and the cheapest of SciPy's tolerances that come within 0.05 K counts: looser ones cost it more, not less.
"""
import ctypes
import os
import sys
import time

for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ[name] = "1"
try:
    import numpy as np
    from scipy.integrate import solve_ivp
except ImportError:
    # a python of one's own before Debian's, which has python3-scipy
    if os.path.exists("/usr/bin/python3") and not os.environ.get("SWH_BENCH_AGAIN"):
        os.environ["SWH_BENCH_AGAIN"] = "1"
        os.execv("/usr/bin/python3", ["/usr/bin/python3"] + sys.argv)
    print("skipped: there is no SciPy here")
    sys.exit(77)

DIVISORS = (0.1, 0.2, 0.5, 1, 1.5, 2, 3, 5, 7, 10, 20, 50, 100, 300, 1000, 3000, 10000)
CYCLING_DIVISORS = (0.5, 1, 2, 5)
METAL = ("rotor", "pistons", "block", "heads", "shell", "oil")
pointer = ctypes.POINTER(ctypes.c_double)


def address(array):
    return array.ctypes.data_as(pointer)


class Problem:
    def __init__(self, library, log=None):
        self.c = ctypes.CDLL(library)
        self.c.bench_rates.argtypes = [ctypes.c_double, ctypes.c_void_p, ctypes.c_void_p]
        self.c.bench_rates.restype = None
        self.c.bench_jacobian.argtypes = [ctypes.c_double, ctypes.c_void_p, ctypes.c_void_p, ctypes.c_void_p]
        self.c.bench_jacobian.restype = None
        self.c.bench_start.argtypes = [ctypes.c_double, pointer]
        self.c.bench_ours.argtypes = [ctypes.c_double, ctypes.c_double, pointer, ctypes.c_int, pointer, pointer]
        self.c.bench_ours.restype = ctypes.c_long
        self.c.bench_set.argtypes = [ctypes.c_int, pointer, pointer]
        self.c.bench_ours_cycling.argtypes = [ctypes.c_double, ctypes.c_double, pointer, ctypes.c_int, pointer, ctypes.c_int, pointer, pointer]
        self.c.bench_ours_cycling.restype = ctypes.c_long
        self.c.bench_set_cycling.argtypes = [pointer, ctypes.c_int]
        self.time, self.drive = read_log(log) if log else (np.zeros(1), np.zeros((1, 6)))
        self.n = self.c.bench_set(len(self.time) if log else 0, address(self.time), address(self.drive))
        self.full, self.metal = self.c.bench_states(), self.c.bench_metal()
        self.rtol, self.atol = np.empty(self.n), np.empty(self.n)
        self.c.bench_tolerance(address(self.rtol), address(self.atol))

    def start(self, t):
        y = np.zeros(self.full)
        if self.c.bench_start(t, address(y)) != 0:
            sys.exit("no start state")
        return y

    def ours(self, y0, t0, times, tight=0.0):
        out = np.zeros((len(times), self.full))
        began = time.process_time()
        steps = self.c.bench_ours(tight, t0, address(y0), len(times), address(times), address(out))
        spent = time.process_time() - began
        if steps < 0:
            sys.exit("our integrator could not go on")
        return out, spent, steps

    def scipy(self, method, y0, t0, times, divisor):
        dy, rates = np.empty(self.n), self.c.bench_rates
        to = dy.ctypes.data

        def f(t, y):
            rates(t, y.ctypes.data, to)
            return dy.copy()

        def jacobian(t, y):
            J = np.empty((self.n, self.n))
            self.c.bench_jacobian(t, y.ctypes.data, step.ctypes.data, J.ctypes.data)
            return J

        more = {"jac": jacobian} if method == "BDF" else {}
        step = 1e-3 * (self.atol + self.rtol * np.abs(y0[:self.n]))
        began = time.process_time()
        # SciPy's BDF knows one relative tolerance for all states: ours go into the absolute part, by the size of the start state
        atol = (self.atol + self.rtol * np.abs(y0[:self.n])) / divisor
        try:
            done = solve_ivp(f, (t0, times[-1]), y0[:self.n].copy(), method, times, rtol=1e-5 / divisor, atol=atol, **more)
        except ValueError:  # a Jacobian outside the property tables
            return None, time.process_time() - began, 0
        spent = time.process_time() - began
        if not done.success or done.y.shape[1] != len(times):
            return None, spent, 0
        return done.y.T, spent, done.nfev

    def cycling(self):
        """Turns to the van whose thermostat cycles; returns the times at which its clutch changes."""
        edges = np.empty(1000)
        n = self.c.bench_set_cycling(address(edges), len(edges))
        if n < 50:
            sys.exit(f"only {n} changes of the clutch")
        return edges[:n].copy()

    def ours_cycling(self, y0, edges, times, tight=0.0):
        out = np.zeros((len(times), self.full))
        began = time.process_time()
        steps = self.c.bench_ours_cycling(tight, 0.0, address(y0), len(edges), address(edges), len(times), address(times), address(out))
        spent = time.process_time() - began
        if steps < 0:
            sys.exit("our integrator could not go on")
        return out, spent, steps

    def scipy_cycling(self, method, y0, edges, times, divisor):
        """One call per stretch between two changes of the clutch, each beginning where the last one ended."""
        ends = list(edges[edges < times[-1]]) + [times[-1]]
        y, t, rows, calls, spent = y0.copy(), 0.0, [], 0, 0.0
        for k, end in enumerate(ends):
            self.c.bench_clutch(k)
            inside = times[(times > t) & (times <= end)]
            wanted = inside if len(inside) and inside[-1] == end else np.append(inside, end)
            got, its, n = self.scipy(method, y, t, wanted, divisor)
            spent, calls = spent + its, calls + n
            if got is None:
                return None, spent, calls
            rows.extend(got[:len(inside)])
            y[:self.n], t = got[-1], end
        return np.array(rows), spent, calls

    def error(self, a, b):
        at = slice(self.metal, self.metal + len(METAL))
        return float(np.abs(a[:, at] - b[:, at]).max())


def read_log(path):
    """The demo log: comma, bar gauge, degC, rpm, km/h; blanks are bridged. To SI."""
    with open(path, encoding="utf-8") as f:
        head = [cell.split("[")[0] for cell in f.readline().strip().split(",")]
        cells = [[float(c) if c not in ("", "NaN") else np.nan for c in line.strip().split(",")] for line in f]
    table = dict(zip(head, np.array(cells).T))
    t = table["time"]
    to_si = {"suction_pressure": (1e5, 101325), "discharge_pressure": (1e5, 101325), "suction_temperature": (1, 273.15),
             "compressor_speed": (1 / 60, 0), "ambient_temperature": (1, 273.15), "vehicle_speed": (1 / 3.6, 0)}
    columns = []
    for name, (factor, offset) in to_si.items():
        x = table[name]
        good = np.isfinite(x)
        columns.append(np.interp(t, t[good], x[good]) * factor + offset)
    return np.ascontiguousarray(t), np.ascontiguousarray(np.array(columns).T)


def compare(title, problem, y0, t0, times, repeats):
    reference, _, _ = problem.ours(y0, t0, times, 1e-10)
    spent, steps, out = 1e9, 0, None
    for _ in range(repeats):
        out, once, steps = problem.ours(y0, t0, times)
        spent = min(spent, once)
    wanted = problem.error(out, reference)
    print(f"{title}: {problem.n} states, {times[-1] - t0:.0f} s; ours {1e3 * spent:.1f} ms, {steps} steps, within {wanted:.1e} K of the run at 1e-10")
    worst = 1e9
    for method in ("LSODA", "BDF"):
        for divisor in DIVISORS:
            y, its, calls = problem.scipy(method, y0, t0, times, divisor)
            error = np.inf if y is None else problem.error(y, reference)
            if error <= max(wanted, 1e-6):
                worst = min(worst, its / spent)
                print(f"  {method:5} tolerances / {divisor}: {1e3 * its:.0f} ms, {calls} evaluations, within {error:.1e} K; ratio {its / spent:.1f}")
                break
        else:
            print(f"  {method:5} was not as accurate at any tolerance tried")
    return worst


def compare_cycling(problem):
    edges = problem.cycling()
    y0 = problem.start(0.0)
    times = np.arange(30.0, 1800.1, 30.0)
    reference, _, _ = problem.ours_cycling(y0, edges, times, 1e-9)
    runs = [problem.ours_cycling(y0, edges, times) for _ in range(3)]
    out, spent, steps = min(runs, key=lambda r: r[1])
    wanted = problem.error(out, reference)
    print(f"closed circuit, {len(edges)} changes of the clutch: {problem.n} states, 1800 s; ours {1e3 * spent:.0f} ms, {steps} steps "
          f"({steps / len(edges):.0f} per change), within {wanted:.1e} K of the run at 1e-9")
    for method in ("LSODA", "BDF"):
        tried = [(problem.scipy_cycling(method, y0, edges, times, divisor), divisor) for divisor in CYCLING_DIVISORS]
        good = [(its, calls, problem.error(y, reference), divisor) for (y, its, calls), divisor in tried if y is not None]
        good = [g for g in good if g[2] <= max(wanted, 0.05)]  # what is asked of two integrators; ours may be better
        if good:
            its, calls, error, divisor = min(good)
            print(f"  {method:5} tolerances / {divisor}: {1e3 * its:.0f} ms, {calls} evaluations, within {error:.1e} K; ratio {its / spent:.1f}")
        else:
            print(f"  {method:5} did not come within 0.05 K at any tolerance tried")


def closed_start(problem):
    """The closed circuit a minute after the start, when nothing violent is left."""
    y0 = problem.start(0.0)
    return problem.ours(y0, 0.0, np.array([60.0]))[0][0]


def benchmark(library, log):
    body = Problem(library, log)
    t0 = float(body.time[0])
    ratio = compare("body driven by a log", body, body.start(t0), t0, np.arange(t0 + 30, body.time[-1], 30.0), 5)
    print(f"  least ratio {ratio:.1f}, wanted at least 10")
    closed = Problem(library)
    y0 = closed_start(closed)
    compare("closed circuit, no events", closed, y0, 60.0, np.arange(90.0, 1261.0, 30.0), 5)
    compare_cycling(closed)


def check(library):
    problem = Problem(library)
    y0 = closed_start(problem)
    times = np.arange(90.0, 361.0, 30.0)
    ours, _, _ = problem.ours(y0, 60.0, times)
    moved = float(np.abs(ours[-1, problem.metal] - y0[problem.metal]))
    print(f"rotor moved by {moved:.1f} K in {times[-1] - 60:.0f} s")
    if moved < 2:
        sys.exit("nothing moved: this stretch tests nothing")
    for method in ("LSODA", "BDF"):
        for divisor in (10, 50, 100, 1000):  # LSODA begins with explicit steps and may leave the property tables on them
            theirs, _, calls = problem.scipy(method, y0, 60.0, times, divisor)
            if theirs is not None:
                break
        if theirs is None:
            sys.exit(f"SciPy's {method} gave up")
        error = problem.error(ours, theirs)
        print(f"SciPy's {method}: temperatures within {error:.4f} K, {calls} evaluations")
        if not error < 0.05:
            sys.exit("more than 0.05 K apart")


if "--check" in sys.argv:
    check(os.path.abspath(sys.argv[1]))
else:
    benchmark(os.path.abspath(sys.argv[1]), sys.argv[2])
