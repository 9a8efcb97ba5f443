#include "solver/steady/slow.h"

#include <math.h>

static int at(const struct swh_slow *s, int k)
{
    return (int)((s->entries - k) % SWH_SLOW_HISTORY);
}

void swh_slow_clear(struct swh_slow *s)
{
    s->entries = 0;
}

void swh_slow_add(struct swh_slow *s, double time, const double *mean, const double *rate)
{
    const int k = (int)(s->entries++ % SWH_SLOW_HISTORY);
    s->time[k] = time;
    for (int i = 0; i < s->n; i++) {
        s->mean[k][i] = mean[i];
        s->rate[k][i] = rate[i];
    }
}

void swh_slow_date(struct swh_slow *s, double time)
{
    s->time[at(s, 1)] = time;
}

double swh_slow_mean(const struct swh_slow *s, int i, int k)
{
    return s->mean[at(s, k)][i];
}

double swh_slow_rate(const struct swh_slow *s, int i, int k)
{
    return s->rate[at(s, k)][i];
}

double swh_slow_growth(const struct swh_slow *s, int i, int k)
{
    return log(swh_slow_rate(s, i, k) / swh_slow_rate(s, i, k + 1)) /
           (s->time[at(s, k)] - s->time[at(s, k + 1)]);
}

static bool hardly_moves(const struct swh_slow *s, int i, int k)
{
    return fabs(swh_slow_rate(s, i, k)) < s->still[i];
}

double swh_slow_limit(const struct swh_slow *s, int i, int k, double slowest)
{
    const double last = swh_slow_mean(s, i, k), growth = swh_slow_growth(s, i, k);
    if (hardly_moves(s, i, k) && hardly_moves(s, i, k + 1))
        return last;
    return growth * slowest <= -1 ? last - swh_slow_rate(s, i, k) / growth : NAN;
}

/* spread of the last n forecasts of quantity i; NaN if one of them is missing */
static double spread_of(const struct swh_slow *s, int i, int n, double slowest)
{
    double lowest = INFINITY, highest = -INFINITY;
    for (int k = 1; k <= n; k++) {
        const double rest = swh_slow_limit(s, i, k, slowest);
        if (isnan(rest))
            return NAN;
        lowest = fmin(lowest, rest);
        highest = fmax(highest, rest);
    }
    return highest - lowest;
}

bool swh_slow_foreseen(const struct swh_slow *s, int n, double span, double share, double slowest, double far)
{
    while (n + 1 <= s->entries && n < SWH_SLOW_HISTORY && s->time[at(s, 1)] - s->time[at(s, n)] < span)
        n++;
    if (n + 1 > s->entries || n >= SWH_SLOW_HISTORY)
        return false;
    for (int i = 0; i < s->n; i++) {
        const double near = s->near[i];
        if (!isinf(near) && !(spread_of(s, i, n, slowest) < share * near &&
                              fabs(swh_slow_limit(s, i, 1, slowest) - swh_slow_mean(s, i, 1)) < far * near))
            return false;
    }
    return true;
}

static double mean_over(const double *of, int n, const struct swh_slow *s, int k)
{
    double sum = 0;
    for (int i = 0; i < n; i++)
        sum += of[at(s, k + i)];
    return sum / n;
}

/* mean of quantity i over n entries, the last of them the k-th back */
static double level(const struct swh_slow *s, int i, int n, int k)
{
    double sum = 0;
    for (int j = 0; j < n; j++)
        sum += swh_slow_mean(s, i, k + j);
    return sum / n;
}

bool swh_slow_still(const struct swh_slow *s, double apart, double share)
{
    int half = 2;
    while (2 * half <= s->entries && 2 * half <= SWH_SLOW_HISTORY &&
           mean_over(s->time, half, s, 1) - mean_over(s->time, half, s, half + 1) < apart)
        half++;
    if (2 * half > s->entries || 2 * half > SWH_SLOW_HISTORY)
        return false;
    for (int i = 0; i < s->n; i++)
        if (!(fabs(level(s, i, half, 1) - level(s, i, half, half + 1)) < share * s->near[i]))
            return false;
    return true;
}

/* How the rate of a quantity goes on: rate exp(growth t + bend t^2 / 2), as beside a fold, where growth comes
 * up from below. */
struct course {
    double growth, bend; /* 1/s now, 1/s2 */
};

/* From the last three entries, or the last two; growth NaN if it goes to and fro. */
static struct course course_of(const struct swh_slow *s, int i)
{
    const double last = swh_slow_growth(s, i, 1);
    if (s->entries < 3 || isnan(last))
        return (struct course){last, 0};
    const double now = s->time[at(s, 1)], before = s->time[at(s, 2)], first = s->time[at(s, 3)];
    const double bend = (last - swh_slow_growth(s, i, 2)) / (0.5 * (now - first));
    return isnan(bend) ? (struct course){last, 0} : (struct course){last + 0.5 * bend * (now - before), bend};
}

/* time in which it changes the rate by a factor exp(part) at most */
static double time_of(struct course c, double part)
{
    const double g = fabs(c.growth), b = fabs(c.bend);
    return b > 0 ? 2 * part / (g + sqrt(g * g + 2 * part * b)) : part / g;
}

/* integral of exp(growth t + bend t^2 / 2) from 0 to time, by Simpson's rule */
static double reach_of(struct course c, double time)
{
    enum { PARTS = 16 };
    double sum = 0;
    for (int k = 0; k <= PARTS; k++) {
        const double t = time * k / PARTS, weight = k == 0 || k == PARTS ? 1 : k % 2 ? 4 : 2;
        sum += weight * exp(t * (c.growth + 0.5 * c.bend * t));
    }
    return sum * time / (3 * PARTS);
}

/* Time of the project by the leading quantity that changes its rate soonest, and its course; NaN if one of
 * them goes to and fro. */
static double leading_time(const struct swh_slow *s, const int *lead, int n_lead, double part, double longest,
                           struct course *course)
{
    double soonest = longest;
    *course = (struct course){0, 0};
    for (int k = 0; k < n_lead; k++) {
        if (hardly_moves(s, lead[k], 1) && hardly_moves(s, lead[k], 2))
            continue;
        const struct course c = course_of(s, lead[k]);
        if (isnan(c.growth))
            return NAN;
        const double time = time_of(c, part);
        *course = time < soonest || k == 0 ? c : *course;
        soonest = fmin(soonest, time);
    }
    return soonest;
}

double swh_slow_project(const struct swh_slow *s, const int *lead, int n_lead, double part, double longest,
                        const double *most, double *way)
{
    struct course course;
    if (s->entries < 2)
        return 0;
    const double time = leading_time(s, lead, n_lead, part, longest, &course);
    if (isnan(time))
        return NAN;
    const double reach = reach_of(course, time);
    double share = 1;
    for (int i = 0; i < s->n; i++) {
        way[i] = isnan(swh_slow_growth(s, i, 1)) ? 0 : swh_slow_rate(s, i, 1) * reach;
        share = fmin(share, most[i] / fabs(way[i]));
    }
    for (int i = 0; i < s->n; i++)
        way[i] *= share;
    double shorter = time; /* secant on a function that is nearly straight */
    for (int k = 0; k < 20 && share < 1; k++)
        shorter *= share * reach / reach_of(course, shorter);
    return shorter;
}
