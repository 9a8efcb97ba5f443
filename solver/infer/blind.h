/* What readings could not have shown: how large each fault must be before one of them leaves the band of a
 * healthy vehicle. */
#ifndef SWH_SOLVER_INFER_BLIND_H
#define SWH_SOLVER_INFER_BLIND_H

#include "solver/infer/spot.h"

struct swh_blind_request {
    const struct swh_case *vehicle;
    struct swh_spot_row point;  /* at which the vehicle was read, on average */
    bool read[SWH_COMPARED];    /* which channels were judged */
    double sigma[SWH_COMPARED]; /* standard deviation of each one's mean from a healthy vehicle's [SI] */
    double most;                /* standard deviations that a channel may lie off */
    int threads;
};

/* least[fault]: the least severity of a few (0.2 to 0.8) that some channel shows; NaN: none does, at any
 * size. Each is run at the one point, held as long as it says. SWH_ERR_MEMORY. */
enum swh_status swh_blind_find(const struct swh_blind_request *q, double least[SWH_FAULT_COUNT],
                               struct swh_error *err);

#endif
