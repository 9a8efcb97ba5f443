/* Means over the cycles of a clutch, and projective steps: what is moved, and how long the rest is waited
 * for. */
#include "solver/simulate/engine.h"
#include "solver/steady/cycles.h"
#include "tests/check.h"

#include <stdlib.h>

static int stands(double t, const double *y, double *dy, void *user)
{
    (void)t;
    (void)y;
    for (int i = 0; i < *(const int *)user; i++)
        dy[i] = 0;
    return 0;
}

/* an engine as far as cycles look into it: a layout and an integrator whose states stand */
struct fixture {
    struct swh_engine engine;
    struct swh_cycles cycles;
    double *y, *tolerance;
    const char **names;
    int n;
};

static struct fixture *start(void)
{
    struct fixture *x = calloc(1, sizeof *x);
    assert_non_null(x);
    x->engine.machine.l = swh_layout_make(1, 0);
    x->n = x->engine.machine.l.n;
    x->y = malloc((size_t)x->n * sizeof *x->y);
    x->tolerance = malloc((size_t)x->n * sizeof *x->tolerance);
    x->names = malloc((size_t)x->n * sizeof *x->names);
    assert_true(x->y && x->tolerance && x->names);
    for (int i = 0; i < x->n; i++) {
        x->y[i] = 300;
        x->tolerance[i] = 1;
        x->names[i] = "state";
    }
    const struct swh_ode_problem p = {.n = x->n,
                                      .names = x->names,
                                      .rhs = stands,
                                      .rtol = x->tolerance,
                                      .atol = x->tolerance,
                                      .user = &x->n};
    struct swh_error err = {0};
    x->engine.ode = swh_ode_create(&p, 0, x->y, &err);
    assert_non_null(x->engine.ode);
    swh_cycles_start(&x->cycles, &x->engine, 0, 0);
    return x;
}

static void end(struct fixture *x)
{
    swh_ode_free(x->engine.ode);
    free(x->y);
    free(x->tolerance);
    free(x->names);
    free(x);
}

/* After a projective step gas, walls and film still are where the old metal had them. Fins and clamps settle
 * with time constants of 5 to 15 s (params.def), so three of the slowest pass before anything is averaged
 * again; a block that began earlier would take their way for the metal's. */
static void test_quick_states_relax_after_a_projective_step(void **state)
{
    (void)state;
    struct fixture *x = start();
    const double way[SWH_CYCLES_SLOW] = {2, 1};
    assert_false(swh_cycles_clutch(&x->cycles, 10, true));
    assert_true(x->cycles.open);
    swh_cycles_shift(&x->cycles, 100, way);
    assert_false(x->cycles.open);
    CHECK_CLOSE(x->engine.shift[SWH_S_rotor], 2, 0, 1e-15);
    CHECK_CLOSE(x->engine.shift[SWH_S_piston], 1, 0, 1e-15);
    swh_cycles_clutch(&x->cycles, 144, true);
    assert_false(x->cycles.open);
    swh_cycles_clutch(&x->cycles, 146, true);
    assert_true(x->cycles.open);
    end(x);
}

/* a block is made of whole cycles: it ends with the first engagement after 25 s, never at a disengagement */
static void test_blocks_are_whole_cycles(void **state)
{
    (void)state;
    struct fixture *x = start();
    swh_cycles_clutch(&x->cycles, 0, true);
    swh_cycles_clutch(&x->cycles, 20, true);
    assert_int_equal(x->cycles.blocks, 0);
    swh_cycles_clutch(&x->cycles, 30, false);
    assert_int_equal(x->cycles.blocks, 0);
    swh_cycles_clutch(&x->cycles, 32, true);
    assert_int_equal(x->cycles.blocks, 1);
    CHECK_CLOSE(x->cycles.middle[0], 16, 0, 1e-12);
    end(x);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_quick_states_relax_after_a_projective_step),
                                       cmocka_unit_test(test_blocks_are_whole_cycles)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
