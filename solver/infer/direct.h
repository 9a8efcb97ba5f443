/* Direct tests: looks, scales and rulers that tell causes apart without a road or a bay test. */
#ifndef SWH_SOLVER_INFER_DIRECT_H
#define SWH_SOLVER_INFER_DIRECT_H

#include "solver/infer/findings.h"

enum swh_direct {
#define DIRECT(id, finding, minutes, rest, how) SWH_DIRECT_##id,
#define WATCHES(test, fault, with, without)
#include "solver/infer/direct_tests.def"
#undef DIRECT
#undef WATCHES
    SWH_DIRECT_COUNT
};
struct swh_direct_info {
    const char *id;
    int finding; /* enum swh_finding, -1: none */
    double minutes;
    bool at_rest; /* the compressor may be locked or out */
    const char *how;
};
extern const struct swh_direct_info swh_direct_table[SWH_DIRECT_COUNT];

/* What a cause (enum swh_fault, negative: healthy, at a severity 0..1) makes the test find: of a yes or no
 * its chance 0..1, else the value (SI). NaN where the test tells nothing of it. */
double swh_direct_expects(enum swh_direct test, const struct swh_case *vehicle, int fault, double severity);
/* How far the test tells two causes apart, in standard deviations: of a value its difference over the
 * measure's; of a sign the root of the symmetric divergence of its chances (Jeffreys 1946; for normal
 * distributions of one width that is the same). */
double swh_direct_apart(enum swh_direct test, const struct swh_case *vehicle, int a, double severity_a, int b,
                        double severity_b);
/* Is it answered by yes or no? */
bool swh_direct_is_sign(enum swh_direct test);

#endif
