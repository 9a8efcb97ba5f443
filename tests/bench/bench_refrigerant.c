/* Time per look-up of the property tables: bench_refrigerant FLUID FILE
 *
 * FILE holds states, one a line: REGION P h rho u (SI). Prints, for each region in the order of the file,
 * REGION FUNCTION NANOSECONDS, the smallest of several rounds: whatever else the machine does only adds time.
 * The loop around the call is counted too. */
#include "model/refrigerant/refrigerant.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { MOST = 20000, ROUNDS = 9, CALLS = 200000 };

struct states {
    char region[16];
    int count;
    double P[MOST], h[MOST], rho[MOST], u[MOST];
};

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec * 1e9 + (double)t.tv_nsec;
}

/* what is added up and printed last, so that no call can be left out */
static double kept;

static double round_P_h(const struct swh_fluid *f, const struct states *s)
{
    struct swh_ph_props q;
    double start = now(), sum = 0.0;
    int n = 0;
    for (; n < CALLS; n += s->count)
        for (int i = 0; i < s->count; i++) {
            swh_P_h(f, s->P[i], s->h[i], &q);
            sum += q.rho;
        }
    kept += sum;
    return (now() - start) / n;
}

static double round_rho_u(const struct swh_fluid *f, const struct states *s)
{
    struct swh_cell_props c;
    double start = now(), sum = 0.0;
    int n = 0;
    for (; n < CALLS; n += s->count)
        for (int i = 0; i < s->count; i++) {
            swh_rho_u(f, s->rho[i], s->u[i], &c);
            sum += c.P;
        }
    kept += sum;
    return (now() - start) / n;
}

static void measure(const struct swh_fluid *f, const struct states *s)
{
    double P_h = 1e30, rho_u = 1e30;
    if (s->count == 0)
        return;
    for (int k = 0; k < ROUNDS; k++) {
        double a = round_P_h(f, s), b = round_rho_u(f, s);
        P_h = a < P_h ? a : P_h;
        rho_u = b < rho_u ? b : rho_u;
    }
    printf("%s swh_P_h %.3f\n%s swh_rho_u %.3f\n", s->region, P_h, s->region, rho_u);
}

int main(int argc, char **argv)
{
    static struct states s;
    char region[16];
    double P, h, rho, u;
    int r = argc == 3 ? swh_refrigerant_find(argv[1]) : -1;
    FILE *in = r >= 0 ? fopen(argv[2], "r") : NULL;
    if (!in) {
        fprintf(stderr, "usage: bench_refrigerant FLUID STATES_FILE\n");
        return 2;
    }
    const struct swh_fluid *f = swh_fluid_get((enum swh_refrigerant)r);
    while (fscanf(in, "%15s %lf %lf %lf %lf", region, &P, &h, &rho, &u) == 5) {
        if (strcmp(region, s.region) != 0 || s.count == MOST) {
            measure(f, &s);
            s.count = 0;
            memcpy(s.region, region, sizeof region);
        }
        s.P[s.count] = P;
        s.h[s.count] = h;
        s.rho[s.count] = rho;
        s.u[s.count++] = u;
    }
    measure(f, &s);
    fclose(in);
    fprintf(stderr, "(%g)\n", kept);
    return 0;
}
