"""The integrator against SciPy's Radau on the same compiled rates (a shared library with tests/solver/ode_ring.c).

Another method (implicit Runge-Kutta of order 5, Hairer and Wanner) by other authors, so that agreement is no
accident. Exit 77: SciPy is not there. Usage: test_ode_scipy.py LIBRARY
"""
import ctypes
import sys

try:
    import numpy as np
    from scipy.integrate import solve_ivp
except ImportError:
    print("SciPy is not installed")
    sys.exit(77)

N = 42  # RING_STATES; the pump's switch is the first member of struct ring
PERIOD, SEGMENTS, RTOL = 12.0, 4, 1e-7

lib = ctypes.CDLL(sys.argv[1])
vector = ctypes.POINTER(ctypes.c_double)
lib.ring_rates.argtypes = [ctypes.c_double, vector, vector, ctypes.c_void_p]


def pointer(a):
    return a.ctypes.data_as(vector)


def rates(pump):
    switch = ctypes.c_int(pump)

    def f(t, y):
        y, dy = np.ascontiguousarray(y), np.empty(N)
        assert lib.ring_rates(t, pointer(y), pointer(dy), ctypes.byref(switch)) == 0
        return dy

    return f


def by_scipy():
    y = np.empty(N)
    lib.ring_start(pointer(y))
    atol = np.full(N, 1e-8)
    atol[:20] = 1e-13
    for k in range(SEGMENTS):
        s = solve_ivp(rates(1 - k % 2), (0, PERIOD), y, method="Radau", rtol=1e-9, atol=atol)
        assert s.success, s.message
        y = s.y[:, -1]
    return y


def by_us():
    y, stats = np.empty(N), (ctypes.c_long * 64)()
    drift = [ctypes.c_double(), ctypes.c_double()]
    run = lib.ring_run
    run.argtypes = [ctypes.c_double] * 3 + [vector] * 3 + [ctypes.c_void_p]
    done = run(RTOL, PERIOD * SEGMENTS, PERIOD, pointer(y), *map(ctypes.byref, drift), stats)
    assert done == SEGMENTS, done
    return y


theirs, ours = by_scipy(), by_us()
off = np.abs(ours / theirs - 1)
print(f"largest relative difference {off.max():.2e} (state {off.argmax()}), allowed {30 * RTOL:.0e}")
assert np.isfinite(off).all() and off.max() < 30 * RTOL
