/* Friction and film, each formula computed again from its published form. */
#include "tests/check.h"

#include "model/parts/film.h"
#include "tests/model/machine_bench.h"

static const double PI = 3.14159265358979323846;

static struct swh_params defaults(void)
{
    struct swh_params p;
    swh_params_default(&p);
    return p;
}

static struct swh_film_in at(double N, double mu)
{
    return (struct swh_film_in){.N = N,
                                .dP = 14e5,
                                .mu_shoe = mu,
                                .mu_bore = 1.3 * mu,
                                .mu_bearing = 1.7 * mu,
                                .supply = 0.8,
                                .T_rotor = 350,
                                .T_block = 340,
                                .T_piston = 346};
}

/* Greenwood and Tripp's integral F_5/2(lambda) of the normal distribution of heights, by Simpson's rule */
static double F_5_2(double lambda)
{
    enum { N = 4000 };
    double sum = 0;
    const double h = (9.0 - lambda) / N;
    for (int i = 0; i <= N; i++) {
        const double s = lambda + i * h, f = pow(s - lambda, 2.5) * exp(-0.5 * s * s) / sqrt(2 * PI);
        sum += (i == 0 || i == N ? 1 : i % 2 ? 4 : 2) * f;
    }
    return sum * h / 3;
}

/* Greenwood and Tripp 1970: F_5/2(0) = 0.6166 (their table), and the integral itself beyond. */
static void test_asperities(void **state)
{
    (void)state;
    CHECK_CLOSE(F_5_2(0), 0.6166, 2e-4, 0);
    for (double lambda = 0.25; lambda <= 5; lambda += 0.25) {
        const double share = 1e-3, stiffness_over_p = share / F_5_2(lambda);
        const struct swh_film_sharing s =
            swh_film_share(lambda * sqrt(1 - share), 1e6 * stiffness_over_p, 1e6);
        CHECK_CLOSE(s.share, share, 5e-4, 0);
        CHECK_CLOSE(s.lambda, lambda, 1e-4, 0);
    }
}

/* Johnson, Greenwood and Poon 1972: film and asperities share the load; the film under the rest of it is
 * thicker by 1/sqrt(rest). */
static void test_sharing(void **state)
{
    (void)state;
    double last = 1;
    for (double lambda_0 = 1e-4; lambda_0 < 5; lambda_0 = lambda_0 * 1.05) {
        const struct swh_film_sharing s = swh_film_share(lambda_0, 2e8, 6e6);
        CHECK_BETWEEN(s.share, 0, 1);
        assert_true(s.share <= last);
        last = s.share;
        CHECK_CLOSE(s.lambda * sqrt(1 - s.share), lambda_0, 1e-6, 1e-7);
        CHECK_CLOSE(s.share, 2e8 / 6e6 * F_5_2(s.lambda), 5e-4, 1e-10);
    }
    CHECK_CLOSE(swh_film_share(6.2, 2e8, 6e6).lambda, 6.2, 0, 0);
    CHECK_CLOSE(swh_film_share(0.5, 0, 6e6).lambda, 0.5, 1e-12, 0);
}

/* Load of a shoe: gas force, inertia of the piston (square of speed) and spin of the shoe; Hersey number;
 * five loaded shoes. */
static void test_shoe(void **state)
{
    (void)state;
    const struct swh_params p = defaults();
    const double A = 0.25 * PI * p.compressor_bore * p.compressor_bore;
    for (double N = 15; N <= 100; N *= 1.6) {
        const struct swh_film_in in = at(N, 4e-3);
        struct swh_film f;
        swh_film_eval(&p, &in, &f);
        const double load = 0.55 * A * 14e5 + 60 * (N / 33.3) * (N / 33.3) + 0.5 * N + 20;
        const double V = 2 * PI * N * 0.030, b = 0.013, area = 1.25e-4, pressure = load / area;
        const double root_H = sqrt(4e-3 * (V + 1e-3) / (pressure * b));
        CHECK_CLOSE(f.load, load, 1e-3, 0); /* the pressure difference is rounded near zero */
        CHECK_CLOSE(f.V, V, 1e-14, 0);
        const double lambda_0 = p.friction_film_scale * 0.12 * b * root_H * pow(0.8, 0.9) / 0.45e-6;
        CHECK_CLOSE(f.lambda * sqrt(1 - f.share), lambda_0, 1e-3, 0);
        const double f_v = 4.0 * root_H;
        CHECK_CLOSE(f.f, f_v * (1 - f.share) + 0.12 * f.share, 1e-3, 0);
        CHECK_CLOSE(f.shoe, 5 * f.f * f.load * f.V, 1e-14, 0);
    }
}

/* Blok, Jaeger: at high Peclet number the flash of a band source is 2/sqrt(pi) q sqrt(b/V)/e, e =
 * k/sqrt(alpha); at rest 2 q a/(k sqrt(1.273 pi)). Tian and Kennedy 1994 join them. */
static void test_flash(void **state)
{
    (void)state;
    const struct swh_params p = defaults();
    const double b = 0.013, k = 134, alpha = 5.45e-5, e = k / sqrt(alpha);
    for (double N = 1e-3; N < 200; N *= 3) {
        const struct swh_film_in in = at(N, 1e-4);
        struct swh_film f;
        swh_film_eval(&p, &in, &f);
        const double q = p.friction_flash * f.f * f.load / 1.25e-4 * f.V, Pe = f.V * b / (4 * alpha);
        const double flash = f.T_contact - 350;
        CHECK_CLOSE(flash, q * b / (k * sqrt(PI * (1.273 + Pe))), 1e-9, 1e-9);
        if (Pe > 100)
            CHECK_CLOSE(flash, 2 / sqrt(PI) * q * sqrt(b / f.V) / e, 0.01, 0);
    }
}

/* Archard 1953: depth rate = k p V / H of what metal carries, and of that only. */
static void test_wear(void **state)
{
    (void)state;
    const struct swh_params p = defaults();
    for (double mu = 2e-4; mu < 2e-2; mu *= 3) {
        const struct swh_film_in in = at(25, mu);
        struct swh_film f;
        swh_film_eval(&p, &in, &f);
        CHECK_CLOSE(f.wear_rate, 2e-7 * f.share * f.load / 1.25e-4 * f.V / 1.2e9, 1e-12, 0);
        assert_true(mu > 1e-3 || f.share > 0.1);
    }
}

/* Wear of a lubricated pin on disk with PAG, the whole load counted: 8.60e-9 mm3/(N m) (Oh, Cho and Lee 2007,
 * SSP 120, 163). With a twentieth of the load on metal the model's is of that size. */
static void test_wear_of_a_published_test(void **state)
{
    (void)state;
    const struct swh_params p = defaults();
    const double k_over_H = p.friction_wear_coefficient / p.friction_plate_hardness; /* m3/(N m) */
    const double ratio = 0.05 * k_over_H * 1e9 / 8.60e-9;
    CHECK_BETWEEN(ratio, 1.0 / 3, 3);
}

/* Boundary friction rises where adsorbed oil lets go: 0.12 below 140 degC, 0.22 from 180 degC on. */
static void test_desorption(void **state)
{
    (void)state;
    const struct swh_params p = defaults();
    for (int hot = 0; hot < 2; hot++) {
        struct swh_film_in in = at(25, 1e-9);
        struct swh_film f;
        in.T_rotor = 273.15 + (hot ? 181 : 139);
        swh_film_eval(&p, &in, &f);
        CHECK_CLOSE(f.f, hot ? 0.22 : 0.12, 1e-3, 0);
    }
}

/* Clearance: r (alpha_block (T_block - 20 degC) - alpha_piston (T_piston - 20 degC)) on top of the cold one.
 */
static void test_clearance(void **state)
{
    (void)state;
    const struct swh_params p = defaults();
    const double r = 0.5 * 0.031;
    CHECK_CLOSE(swh_film_clearance(&p, 293.15, 293.15), 14e-6, 1e-14, 0);
    CHECK_CLOSE(swh_film_clearance(&p, 340, 370),
                14e-6 + r * (18e-6 * (340 - 293.15) - 20.5e-6 * (370 - 293.15)), 1e-12, 0);
}

/* Pistons: shear mu V^2 A/c on ten bores, and metal contact of the side load that grows with the fourth power
 * of the floor over the clearance. */
static void test_piston(void **state)
{
    (void)state;
    const struct swh_params p = defaults();
    struct swh_film_in in = at(25, 4e-3);
    struct swh_film f, dry;
    swh_film_eval(&p, &in, &f);
    const double V = 2 * 0.0236 * 25, A = 10 * PI * 0.031 * 0.022, c = swh_film_clearance(&p, 340, 346),
                 floor = 1.5e-6;
    const double side = 5 * 0.06 * f.load;
    double contact = 0.05 + 0.95 * pow(floor / c, 4);
    CHECK_CLOSE(f.piston, 1.3 * 4e-3 * V * V * A / c + 0.12 * side * V * contact, 3e-3, 0);
    in.mu_bore = 1e-12;
    for (double T = 346; T < 385; T += 6) { /* a piston that closes its clearance */
        in.T_piston = T;
        swh_film_eval(&p, &in, &dry);
        if (dry.clearance < 3.5e-6)
            break;
        contact = 0.05 + 0.95 * pow(floor / dry.clearance, 4);
        CHECK_CLOSE(dry.piston, 0.12 * side * V * contact, 0.03, 0);
    }
}

static void test_bearing(void **state)
{
    (void)state;
    const struct swh_params p = defaults();
    const struct swh_film_in in = at(25, 4e-3);
    struct swh_film f;
    swh_film_eval(&p, &in, &f);
    CHECK_CLOSE(f.bearing, (0.25 + 12 * 1.7 * 4e-3 + 4e-5 * 5 * f.load) * 2 * PI * 25, 1e-12, 0);
}

/* Three ways to a weld, each from its own threshold on and at its own rate; none while the shaft only starts.
 */
static void test_scuffing(void **state)
{
    (void)state;
    const struct swh_params p = defaults();
    const struct swh_film sound = {.share = 0.5, .T_contact = 234.9 + 273.15, .V = 4.71};
    struct swh_scuff_rates r = swh_film_scuffing(&p, &sound, 199.9 + 273.15, 25);
    CHECK_CLOSE(r.film + r.contact + r.plate, 0, 0, 0);
    const struct swh_film lost = {.share = 0.7, .T_contact = 245 + 273.15, .V = 2 * 4.71};
    r = swh_film_scuffing(&p, &lost, 220 + 273.15, 50);
    CHECK_CLOSE(r.film, 2 / 40.0, 1e-12, 0);
    CHECK_CLOSE(r.contact, 1 / 5.0, 1e-9, 0);
    CHECK_CLOSE(r.plate, 1 / 30.0, 1e-9, 0);
    r = swh_film_scuffing(&p, &lost, 220 + 273.15, 5);
    CHECK_CLOSE(r.film + r.contact + r.plate, 0, 0, 0);
}

/* ---- in the machine ---- */

/* Each film is as hot as what it runs on: shoes as the plate, bores as the mean of piston and block, bearings
 * as the oil. */
static void test_own_temperatures(void **state)
{
    (void)state;
    static struct machine_bench b;
    bench_start(&b);
    const double T_rotor = *bench_scalar(&b, SWH_S_rotor), T_oil = *bench_scalar(&b, SWH_S_oil);
    const double T_bore = 0.5 * (*bench_scalar(&b, SWH_S_piston) + *bench_scalar(&b, SWH_S_block));
    const double diluted = swh_oil_dilution(&b.m.p, b.m.fluid, T_oil, b.f.node[SWH_NODE_CHAMBER].P, 0);
    CHECK_CLOSE(b.f.film.mu, diluted * swh_walther_viscosity(&b.m.walther, T_rotor), 1e-12, 0);
    CHECK_CLOSE(b.f.film.mu_bore, diluted * swh_walther_viscosity(&b.m.walther, T_bore), 1e-12, 0);
    const double mu_oil = diluted * swh_walther_viscosity(&b.m.walther, T_oil);
    CHECK_CLOSE(b.f.film.bearing, (0.25 + 12 * mu_oil + 4e-5 * 5 * b.f.film.load) * 2 * PI * b.f.N, 1e-12, 0);
}

/* Supply: full from 40 g on, whatever more there is; it follows the oil in the compressor while that turns,
 * and stands with it. Liquid in the chamber washes part of it off. */
static void test_supply(void **state)
{
    (void)state;
    static struct machine_bench b;
    bench_start(&b);
    *bench_scalar(&b, SWH_S_supply) = 0.7;
    for (double oil = 0.01; oil < 0.15; oil += 0.02) {
        *bench_scalar(&b, SWH_S_oil_comp) = oil;
        bench_compute(&b);
        const double wanted = fmin(oil / 0.040, 1), turning = b.f.N / (b.f.N + 2);
        CHECK_CLOSE(bench_rate(&b, SWH_S_supply), (wanted - 0.7) / 75 * turning, 0.05, 4e-4);
    }
    *bench_scalar(&b, SWH_S_wetness) = 0;
    bench_compute(&b);
    const double dry = b.f.film.lambda * sqrt(1 - b.f.film.share), mu = b.f.film.mu;
    *bench_scalar(&b, SWH_S_wetness) = 1;
    bench_compute(&b);
    const double wet = b.f.film.lambda * sqrt(1 - b.f.film.share);
    CHECK_CLOSE(wet / dry, pow(1 - 0.3, 0.9) * sqrt(b.f.film.mu / mu), 1e-9, 0);
    b.modes.engaged = 0;
    *bench_scalar(&b, SWH_S_speed_ratio) = 0;
    bench_compute(&b);
    CHECK_CLOSE(bench_rate(&b, SWH_S_supply), 0, 0, 0);
    CHECK_CLOSE(bench_rate(&b, SWH_S_wetness), 0, 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_asperities), cmocka_unit_test(test_sharing),
        cmocka_unit_test(test_shoe),       cmocka_unit_test(test_flash),
        cmocka_unit_test(test_wear),       cmocka_unit_test(test_wear_of_a_published_test),
        cmocka_unit_test(test_desorption), cmocka_unit_test(test_clearance),
        cmocka_unit_test(test_piston),     cmocka_unit_test(test_bearing),
        cmocka_unit_test(test_scuffing),   cmocka_unit_test(test_own_temperatures),
        cmocka_unit_test(test_supply)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
