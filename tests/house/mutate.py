"""Breaks the physics, the integrator and the inference on purpose, one change at a time, and prints which tests notice.

Each mutation names the file, the text that is changed and what it becomes, and the tests that guard it; a guard is one that names the
closure or weight in question, not one that happens to lie near its band. A text that is no longer there is an error: the mutation is to be
brought along with the code. Works on a copy of the repository; takes some minutes.

Usage: mutate.py SOURCE_FOLDER [NAME...]      exit 1 if a mutation survives or cannot be made
       mutate.py SOURCE_FOLDER --there        only whether each can still be made
"""
import os
import shutil
import subprocess
import sys
import tempfile

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from repository import tracked  # noqa: E402

# name, what is broken, file, text, becomes, guards: names of ctests
MUTATIONS = [
    ("throttle", "the throttling loss no longer grows faster than speed", "model/parts/compressor.c",
     "n * (1 + 0.336 * n)", "n * 1.336", "test_compressor test_maps"),
    ("blowby_enthalpy", "blow-by returns with the enthalpy of the chamber", "model/parts/compressor.c",
     "c->m_blowby * c->h_2;", "c->m_blowby * f->node[SWH_NODE_CHAMBER].h;", "test_compressor"),
    ("piston_inertia", "inertia of the piston dropped from the shoe's load", "model/parts/film.c", "+ 60.0 * n * n", "+ 0.0 * n * n", "test_film"),
    ("bore_split", "heat of the bores to block and piston 0.1 and 0.9", "model/parts/body.c", "q->block += 0.6 *", "q->block += 0.1 *", "test_body"),
    ("occupants", "heat of occupants dropped", "model/parts/cabin.c", "75.0 * in->occupants", "0.0 * in->occupants", "test_faults_parts"),
    ("radiation_sign", "sign of the shell's radiation", "model/parts/body.c",
     "(T_bay * T_bay * T_bay * T_bay - T * T * T * T)", "(T * T * T * T - T_bay * T_bay * T_bay * T_bay)", "test_body"),
    ("ncg_spreads", "non-condensable gas spreads ten times faster at rest", "model/parts/ncg.c", "1 / 200.0", "1 / 20.0", "test_faults_parts"),
    ("recirculation_speed", "recirculation fades over 50 m/s instead of 5", "model/parts/ambient.c", "exp(-v / 5.0)", "exp(-v / 50.0)",
     "test_faults_parts"),
    ("wet_suction", "wet suction takes no more heat than gas", "model/parts/compressor.c", "1 + 3 * swh_smooth_step", "1 + 0 * swh_smooth_step",
     "test_compressor"),
    ("piston_contact", "exponent of the piston's contact 4 to 2", "model/parts/film.c", "0.95 * c2 * c2", "0.95 * c2", "test_film"),
    ("clutch_to_shell", "clutch faces do not lose what the shell gains", "model/parts/clutch.c", "y, f, pulley) - to_shell -", "y, f, pulley) -",
     "test_clutch test_faults_parts"),
    ("oil_life", "rate of the oil's life halved", "model/parts/oil.c", "(1.0 / 3600)", "(0.5 / 3600)", "test_oil"),
    ("wear_share", "wear without the contact's share", "model/parts/film.c", "p->friction_wear_coefficient * out->share *",
     "p->friction_wear_coefficient *", "test_film"),
    ("oil_return", "oil return falls with the square of superheat only", "model/parts/oil.c", "(1 + dry2 * dry2)", "(1 + dry2)", "test_oil"),
    ("supply_at_rest", "oil supply moves while the shaft stands", "model/parts/film.c", "m->inv[SWH_S_supply] * turning", "m->inv[SWH_S_supply]",
     "test_film test_oil"),
    ("subcooling_node", "subcooling from another volume", "model/parts/condenser.c", "T_sat - f->node[SWH_NODE_LIQUID].T",
     "T_sat - f->node[SWH_NODE_COND].T", "test_probes test_faults_parts test_volume"),
    ("discharge_clamp", "discharge clamp follows standing gas", "model/parts/probes.c", "grip * (pulled - scalar(m, y, SWH_S_probe_discharge))",
     "(pulled - scalar(m, y, SWH_S_probe_discharge))", "test_probes test_faults_parts"),
    ("bore_gas", "gas in the bores as hot as the discharge", "model/parts/compressor.c", "0.5 * (c->T + in->T_d) - in->T_block",
     "in->T_d - in->T_block", "test_compressor"),
    ("friction_heat", "ten loaded shoes instead of five", "model/parts/film.c", "return 0.5 * p->compressor_cylinders;", "return p->compressor_cylinders;", "test_film"),
    ("flash_form", "flash temperature without the speed's root", "model/parts/film.c", "sqrt(SWH_PI * (1.273 + Pe))", "sqrt(SWH_PI * 1.273)", "test_film"),
    ("stale_gamma", "stale gamma not corrected", "solver/ode/newton.c", "return 2 / (1 + ratio);", "return 1 + 0 * ratio;", "test_ode"),
    ("ledger_norm", "norm not rescaled for ledger sums", "solver/ode/ode.c", "sqrt((double)(active > 0 ? active : 1) / o->n)",
     "sqrt((double)(active > 0 ? o->n : 1) / o->n)", "test_ode_events"),
    ("newton_loose", "convergence test ten times looser", "solver/ode/newton.c", "(1 - gain) <= tol;", "(1 - gain) <= 10 * tol;",
     "test_ode_network"),
    ("relaxation", "quick states get 5 s after a projective step", "solver/steady/cycles.c", "RELAXATION = 45;", "RELAXATION = 5;", "test_cycles"),
    ("pivot", "relative pivot test dropped", "solver/ode/sparse_lu.c", "(fabs(det) > 1e-13 * of)", "(fabs(det) > 0 * of)", "test_sparse_lu_dense"),
    ("starved", "every opening of the low-pressure switch counts as starved", "solver/simulate/engine.c", "return c->T > T_sat + DRY;",
     "return c->T > 0;", "outside_Tables outside_Faults"),
    ("prior_health", "prior of health 4 to 400", "solver/infer/rank.c", "        return 4;\n", "        return 400;\n",
     "test_infer_weights"),
    ("severity_prior", "severity prior of the fan dropped", "solver/infer/rank.c", "return 0.1;", "return 1;", "test_infer_weights"),
    ("unreached", "windows not reached cost nothing", "solver/infer/residuals.c", ": 10 * swh_error_covariance_sigma(w, a)",
     ": 0", "test_infer_weights"),
    ("huber", "limit of the robust loss 2.5 to 250", "solver/infer/fit.c", "huber = 2.5;", "huber = 250;", "test_infer_weights"),
    ("shoe_weld", "a shoe welds at half of the damage", "solver/simulate/engine.c", "w.scuffing[2] - 1;", "w.scuffing[2] - 0.5;", "test_vehicle"),
]


def run(*command, **options):
    return subprocess.run(command, capture_output=True, text=True, **options)


def build(copy, guards):
    """Builds what the guards need; the message of a build that fails, or None."""
    targets = sorted({g if g.startswith("test_") else "swashheat" for g in guards.split()}) or ["swashheat"]
    done = run("cmake", "--build", os.path.join(copy, ".build"), "-j", "2", "--target", *targets)
    return None if done.returncode == 0 else done.stdout[-2000:]


def text_to_change(root, mutation):
    """(text of the file, None), or (None, why it cannot be changed)"""
    _, _, path, old, _, _ = mutation
    with open(os.path.join(root, path), encoding="utf-8") as f:
        text = f.read()
    found = text.count(old) if old else 0
    return (text, None) if found == 1 else (None, f"cannot be made: '{old}' stands {found} times in {path}")


def all_there(root):
    problems = [f"{m[0]} {text_to_change(root, m)[1]}" for m in MUTATIONS if text_to_change(root, m)[1]]
    print("\n".join(problems) or f"{len(MUTATIONS)} mutations can be made")
    return 1 if problems else 0


def try_one(copy, mutation):
    name, what, path, old, new, guards = mutation
    place = os.path.join(copy, path)
    text, problem = text_to_change(copy, mutation)
    if problem:
        return problem
    with open(place, "w", encoding="utf-8") as f:
        f.write(text.replace(old, new))
    problem = build(copy, guards)
    tests = run("ctest", "--test-dir", os.path.join(copy, ".build"), "-R", "^(" + guards.replace(" ", "|") + ")$", "--no-tests=error")
    with open(place, "w", encoding="utf-8") as f:
        f.write(text)
    if problem:
        return f"does not build: {problem}"
    if "No tests were found" in tests.stdout + tests.stderr:
        return f"no test is called {guards}"
    failed = [line.split("- ")[1].split()[0] for line in tests.stdout.splitlines() if "(Failed)" in line]
    return None if failed and not print(f"{name}: noticed by {', '.join(failed)}") else f"survives {guards}"


def main(root, *names):
    if names == ("--there",):
        sys.exit(all_there(root))
    copy = tempfile.mkdtemp(prefix="swh_mutate_")
    for name in tracked(root):
        os.makedirs(os.path.join(copy, os.path.dirname(name)), exist_ok=True)
        shutil.copy2(os.path.join(root, name), os.path.join(copy, name))
    if run("cmake", "-S", copy, "-B", os.path.join(copy, ".build")).returncode or build(copy, ""):
        sys.exit("the copy does not build")
    left = 0
    for mutation in MUTATIONS:
        if names and mutation[0] not in names:
            continue
        problem = try_one(copy, mutation)
        if problem:
            left += 1
            print(f"{mutation[0]} ({mutation[1]}): {problem}")
    shutil.rmtree(copy)
    print(f"{len(MUTATIONS) if not names else len(names)} mutations, {left} not noticed")
    sys.exit(1 if left else 0)


main(*sys.argv[1:])
