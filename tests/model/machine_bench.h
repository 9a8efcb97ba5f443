/* A machine at one state away from rest, for tests of single closures within it. */
#ifndef SWH_TESTS_MODEL_MACHINE_BENCH_H
#define SWH_TESTS_MODEL_MACHINE_BENCH_H

#include "model/machine.h"

struct machine_bench {
    struct swh_machine m;
    struct swh_inputs in;
    struct swh_modes modes;
    struct swh_flows f;
    double y[SWH_STATE_MAX], dy[SWH_STATE_MAX];
};

static inline double *bench_scalar(struct machine_bench *b, enum swh_scalar s)
{
    return &b->y[b->m.l.scalar + (int)s];
}

static inline double bench_rate(const struct machine_bench *b, enum swh_scalar s)
{
    return b->dy[b->m.l.scalar + (int)s];
}

static inline void bench_compute(struct machine_bench *b)
{
    assert_int_equal(swh_machine_rates(&b->m, &b->in, &b->modes, b->y, b->dy, &b->f), 0);
}

/* Closed circuit of an expansion-valve van, clutch in, low side low and high side high; every node of the
 * body at another temperature. */
static inline void bench_start(struct machine_bench *b)
{
    struct swh_params p;
    struct swh_choices c;
    struct swh_error err = {0};
    memset(b, 0, sizeof *b);
    swh_params_default(&p);
    swh_choices_default(&c);
    swh_inputs_default(&b->in);
    swh_machine_set(&b->m, swh_fluid_get(SWH_R134A), &p, &c);
    assert_int_equal(swh_machine_start(&b->m, &b->in, 0.84, b->y, &err), SWH_OK);
    b->modes = (struct swh_modes){.engaged = 1, .fan_on = 1};
    *bench_scalar(b, SWH_S_speed_ratio) = 1;
    for (int i = 0; i < b->m.l.n_nodes; i++) {
        const double k = i == SWH_NODE_CHAMBER || i == SWH_NODE_SUCTION ? 0.6
                         : i == SWH_NODE_PLENUM                         ? 1.3
                                                                        : 1;
        b->y[b->m.l.M + i] *= k;
        b->y[b->m.l.U + i] *= k * 1.02;
    }
    for (int i = SWH_S_rotor; i <= SWH_S_clutch_face; i++)
        *bench_scalar(b, (enum swh_scalar)i) += 20 + 7.0 * i;
    bench_compute(b);
}

/* a machine is only ever changed as a whole */
static inline void bench_set(struct machine_bench *b, int param, double value)
{
    struct swh_params p = b->m.p;
    swh_param_set(&p, param, value);
    swh_machine_set(&b->m, swh_fluid_get(SWH_R134A), &p, &b->m.c);
    bench_compute(b);
}

#endif
