#include "solver/simulate/joint.h"

#include <math.h>
#include <string.h>

static int place_of(const struct swh_joint *j, int param)
{
    for (int i = 0; i < j->n; i++)
        if (j->param[i] == param)
            return i;
    return -1;
}

static int take_place(struct swh_joint *j, int param)
{
    const int at = place_of(j, param);
    if (at >= 0 || j->n == SWH_JOINT_MAX)
        return at;
    j->param[j->n] = param;
    j->r[j->n][j->n] = 1;
    return j->n++;
}

bool swh_joint_set(struct swh_joint *j, int a, int b, double r)
{
    if (a == b || !(r >= -1 && r <= 1))
        return false;
    const int i = take_place(j, a), k = i < 0 ? -1 : take_place(j, b);
    if (k < 0)
        return false;
    j->r[i][k] = j->r[k][i] = r;
    return true;
}

double swh_joint_get(const struct swh_joint *j, int a, int b)
{
    const int i = place_of(j, a), k = place_of(j, b);
    return a == b ? 1 : i < 0 || k < 0 ? 0 : j->r[i][k];
}

/* lower Cholesky factor of the correlations, those off the diagonal times `share`; false if there is none */
static bool factor(struct swh_joint_root *out, const struct swh_joint *j, double share)
{
    for (int i = 0; i < out->n; i++)
        for (int k = 0; k <= i; k++) {
            double sum = i == k ? 1 : share * swh_joint_get(j, out->param[i], out->param[k]);
            for (int m = 0; m < k; m++)
                sum -= out->root[i][m] * out->root[k][m];
            if (i == k && !(sum > 1e-12))
                return false;
            out->root[i][k] = i == k ? sqrt(sum) : sum / out->root[k][k];
        }
    return true;
}

void swh_joint_make_root(const struct swh_joint *j, const struct swh_params *spread,
                         struct swh_joint_root *out)
{
    memset(out, 0, sizeof *out);
    for (int i = 0; i < SWH_PARAM_COUNT; i++) /* in the table's order, whatever order they were read in */
        if (place_of(j, i) >= 0 && swh_param_get(spread, i) > 0)
            out->param[out->n++] = i;
    double share = 1;
    while (!factor(out, j, share))
        share = share > 0.5 ? share - 1e-6 * (1 + 1e5 * (1 - share)) : 0.5 * share;
    for (int i = 0; i < out->n; i++)
        for (int k = 0; k <= i; k++)
            out->root[i][k] *= swh_param_get(spread, out->param[i]);
}
