#include "solver/files/refrigerant_file.h"

#include "model/base/utf8.h"
#include "solver/files/json_place.h"
#include "solver/files/text_file.h"

#include <jansson.h>
#include <math.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { FILE_MOST = 4 << 20, PLACE = 160 };

struct reader {
    const char *path, *text;
    struct swh_eos *e;
    char *remark;
    struct swh_error *err;
};

/* an object of the file, and the steps that lead to it */
struct object {
    json_t *at;
    char place[PLACE];
};

int swh_refrigerant_names_file(const char *word)
{
    const size_t n = strlen(word);
    return n > 5 && strcmp(word + n - 5, ".json") == 0;
}

/* ---- what is wrong, and where ---- */

static void refuse(const struct reader *r, const char *place, const char *expected, const char *what, ...)
    __attribute__((format(printf, 4, 5)));
static void refuse(const struct reader *r, const char *place, const char *expected, const char *what, ...)
{
    char text[200];
    long line, column;
    va_list rest;
    if (r->err->status != SWH_OK)
        return;
    va_start(rest, what);
    vsnprintf(text, sizeof text, what, rest);
    va_end(rest);
    swh_json_place(r->text, place, &line, &column);
    swh_error_set(r->err, SWH_ERR_INPUT, "%s: %s", place[0] ? place + (place[0] == '.') : "the file", text);
    swh_error_at(r->err, r->path, line, column);
    swh_error_expected(r->err, "%s", expected);
}

static bool good(const struct reader *r)
{
    return r->err->status == SWH_OK;
}

static void step(char to[PLACE], const char *place, const char *key)
{
    snprintf(to, PLACE, "%.100s.%.50s", place, key);
}

/* ---- pieces ---- */

static json_t *value_of(const struct reader *r, const struct object *o, const char *key, char place[PLACE])
{
    json_t *v = json_object_get(o->at, key);
    step(place, o->place, key);
    if (!v)
        refuse(r, o->place, "one, as in CoolProp's fluid files", "there is no \"%s\"", key);
    return v;
}

static double number(const struct reader *r, const struct object *o, const char *key)
{
    char place[PLACE];
    const json_t *v = value_of(r, o, key, place);
    if (v && !json_is_number(v))
        refuse(r, place, "a number", "is no number");
    return v ? json_number_value(v) : NAN;
}

static double positive(const struct reader *r, const struct object *o, const char *key)
{
    char place[PLACE];
    const double x = number(r, o, key);
    step(place, o->place, key);
    if (good(r) && !(x > 0))
        refuse(r, place, "a number above 0", "is %.6g", x);
    return x;
}

static struct object object_of(const struct reader *r, const struct object *o, const char *key)
{
    struct object to;
    to.at = value_of(r, o, key, to.place);
    if (to.at && !json_is_object(to.at))
        refuse(r, to.place, "an object", "is no object");
    return to;
}

/* element i of the array that o is */
static struct object element(const struct reader *r, const struct object *o, size_t i)
{
    struct object to = {json_array_get(o->at, i), ""};
    snprintf(to.place, PLACE, "%.120s[%zu]", o->place, i);
    if (!json_is_object(to.at))
        refuse(r, to.place, "an object", "is no object");
    return to;
}

static struct object array_of(const struct reader *r, const struct object *o, const char *key)
{
    struct object to;
    to.at = value_of(r, o, key, to.place);
    if (to.at && (!json_is_array(to.at) || json_array_size(to.at) == 0))
        refuse(r, to.place, "a list of objects", "is no list, or an empty one");
    return to;
}

static const char *type_of(const struct reader *r, const struct object *o)
{
    char place[PLACE];
    const char *type = json_string_value(value_of(r, o, "type", place));
    if (!type)
        refuse(r, place, "a word", "is no word");
    return type ? type : "";
}

/* the numbers of a list; how many */
static int numbers(const struct reader *r, const struct object *o, const char *key, double *x, int most)
{
    char place[PLACE];
    const json_t *v = value_of(r, o, key, place);
    const size_t n = json_array_size(v);
    if (v && !json_is_array(v))
        refuse(r, place, "a list of numbers", "is no list");
    if (n > (size_t)most)
        refuse(r, place, "fewer terms", "has %zu numbers, and there is room for %d", n, most);
    for (size_t i = 0; i < n && good(r); i++) {
        char at[PLACE];
        const json_t *one = json_array_get(v, i);
        snprintf(at, sizeof at, "%.120s[%zu]", place, i);
        if (!json_is_number(one) || !isfinite(json_number_value(one)))
            refuse(r, at, "a number", "is no number");
        x[i] = json_number_value(one);
    }
    return good(r) ? (int)n : 0;
}

/* as many numbers as another list of the same term has */
static void as_many(const struct reader *r, const struct object *o, const char *key, double *x, int n,
                    int most)
{
    char place[PLACE];
    const int have = numbers(r, o, key, x, most);
    step(place, o->place, key);
    if (good(r) && have != n)
        refuse(r, place, "lists of one length in a term", "has %d numbers where the term has %d", have, n);
}

/* an exponent that the equation needs whole */
static int whole(const struct reader *r, const struct object *o, const char *key, int i, double x, int most)
{
    char place[PLACE];
    snprintf(place, sizeof place, "%.100s.%.20s[%d]", o->place, key, i);
    if (good(r) && !(x == floor(x) && x >= 0 && x <= most))
        refuse(r, place, "a whole number of the usual size", "is %.6g", x);
    return good(r) ? (int)x : 0;
}

/* ---- residual part ---- */

enum { MOST = SWH_EOS_POWERS };

static bool room_for(const struct reader *r, const struct object *o, int have, int more, int most)
{
    if (have + more > most)
        refuse(r, o->place, "fewer terms", "makes %d terms, and there is room for %d", have + more, most);
    return good(r);
}

static void take_powers(const struct reader *r, const struct object *o)
{
    double n[MOST], t[MOST], d[MOST], l[MOST];
    struct swh_eos *e = r->e;
    const int count = numbers(r, o, "n", n, MOST);
    as_many(r, o, "t", t, count, MOST);
    as_many(r, o, "d", d, count, MOST);
    as_many(r, o, "l", l, count, MOST);
    if (!good(r) || !room_for(r, o, e->power_count, count, SWH_EOS_POWERS))
        return;
    for (int i = 0; i < count; i++) {
        struct swh_eos_power *p = &e->power[e->power_count++];
        p->n = n[i];
        p->t = t[i];
        p->d = whole(r, o, "d", i, d[i], 60);
        p->l = whole(r, o, "l", i, l[i], 7);
    }
}

static void take_gauss(const struct reader *r, const struct object *o)
{
    static const char *const keys[] = {"t", "d", "eta", "epsilon", "beta", "gamma"};
    double n[MOST], x[6][MOST];
    struct swh_eos *e = r->e;
    const int count = numbers(r, o, "n", n, MOST);
    for (int k = 0; k < 6; k++)
        as_many(r, o, keys[k], x[k], count, MOST);
    if (!good(r) || !room_for(r, o, e->gauss_count, count, SWH_EOS_GAUSS))
        return;
    for (int i = 0; i < count; i++) {
        struct swh_eos_gauss *g = &e->gauss[e->gauss_count++];
        g->n = n[i];
        g->t = x[0][i];
        g->d = whole(r, o, "d", i, x[1][i], 60);
        g->eta = x[2][i];
        g->epsilon = x[3][i];
        g->beta = x[4][i];
        g->gamma = x[5][i];
    }
}

static void take_edges(const struct reader *r, const struct object *o)
{
    static const char *const keys[] = {"a", "b", "beta", "A", "B", "C", "D"};
    double n[MOST], x[7][MOST];
    struct swh_eos *e = r->e;
    const int count = numbers(r, o, "n", n, MOST);
    for (int k = 0; k < 7; k++)
        as_many(r, o, keys[k], x[k], count, MOST);
    if (!good(r) || !room_for(r, o, e->edge_count, count, SWH_EOS_EDGES))
        return;
    for (int i = 0; i < count; i++)
        e->edge[e->edge_count++] =
            (struct swh_eos_edge){n[i], x[0][i], x[1][i], x[2][i], x[3][i], x[4][i], x[5][i], x[6][i]};
}

static void take_residual(const struct reader *r, const struct object *eos)
{
    const struct object list = array_of(r, eos, "alphar");
    for (size_t i = 0; i < json_array_size(list.at) && good(r); i++) {
        const struct object o = element(r, &list, i);
        const char *type = good(r) ? type_of(r, &o) : "";
        char place[PLACE];
        step(place, o.place, "type");
        if (strcmp(type, "ResidualHelmholtzPower") == 0)
            take_powers(r, &o);
        else if (strcmp(type, "ResidualHelmholtzGaussian") == 0)
            take_gauss(r, &o);
        else if (strcmp(type, "ResidualHelmholtzNonAnalytic") == 0)
            take_edges(r, &o);
        else
            refuse(r, place,
                   "ResidualHelmholtzPower, ResidualHelmholtzGaussian or ResidualHelmholtzNonAnalytic",
                   "terms of the kind '%.60s' are not known here", type);
    }
}

/* ---- ideal part ---- */

static void add_power(const struct reader *r, const struct object *o, double n, double t)
{
    struct swh_eos_ideal *a = &r->e->ideal;
    if (!room_for(r, o, a->power_count, 1, SWH_EOS_IDEAL))
        return;
    a->power_n[a->power_count] = n;
    a->power_t[a->power_count++] = t;
}

static void add_einstein(const struct reader *r, const struct object *o, double n, double theta)
{
    struct swh_eos_ideal *a = &r->e->ideal;
    if (!room_for(r, o, a->einstein_count, 1, SWH_EOS_IDEAL))
        return;
    a->einstein_n[a->einstein_count] = n;
    a->einstein_theta[a->einstein_count++] = theta;
}

/* n tau^t, or n ln(1 - exp(-theta tau)) with theta = t, or t/T_red where it is given in kelvins */
static void take_pairs(const struct reader *r, const struct object *o, const char *second, double per,
                       void (*add)(const struct reader *, const struct object *, double, double))
{
    double n[SWH_EOS_IDEAL], t[SWH_EOS_IDEAL];
    const int count = numbers(r, o, "n", n, SWH_EOS_IDEAL);
    as_many(r, o, second, t, count, SWH_EOS_IDEAL);
    for (int i = 0; i < count && good(r); i++)
        add(r, o, n[i], t[i] * per);
}

/* cp0/R = sum c T^t: integrated twice, the constants left to the reference state (Span 2000, chapter 3) */
static void take_cp0_poly(const struct reader *r, const struct object *o)
{
    double c[SWH_EOS_IDEAL], t[SWH_EOS_IDEAL];
    const int count = numbers(r, o, "c", c, SWH_EOS_IDEAL);
    as_many(r, o, "t", t, count, SWH_EOS_IDEAL);
    for (int i = 0; i < count && good(r); i++) {
        if (t[i] == 0)
            r->e->ideal.log_tau += c[i];
        else if (t[i] == -1)
            refuse(r, o->place, "another exponent", "a heat capacity that goes with 1/T");
        else
            add_power(r, o, -c[i] * pow(r->e->T_red, t[i]) / (t[i] * (t[i] + 1)), -t[i]);
    }
}

static void take_lead(const struct reader *r, const struct object *o)
{
    r->e->ideal.lead[0] += number(r, o, "a1");
    r->e->ideal.lead[1] += number(r, o, "a2");
}

static void take_ideal_term(const struct reader *r, const struct object *o, const char *type)
{
    char place[PLACE];
    step(place, o->place, "type");
    if (strcmp(type, "IdealGasHelmholtzLead") == 0)
        take_lead(r, o);
    else if (strcmp(type, "IdealGasHelmholtzEnthalpyEntropyOffset") == 0)
        return; /* the reference state is set anew */
    else if (strcmp(type, "IdealGasHelmholtzLogTau") == 0)
        r->e->ideal.log_tau += number(r, o, "a");
    else if (strcmp(type, "IdealGasHelmholtzPower") == 0)
        take_pairs(r, o, "t", 1.0, add_power);
    else if (strcmp(type, "IdealGasHelmholtzPlanckEinstein") == 0)
        take_pairs(r, o, "t", 1.0, add_einstein);
    else if (strcmp(type, "IdealGasHelmholtzPlanckEinsteinFunctionT") == 0)
        take_pairs(r, o, "v", 1.0 / r->e->T_red, add_einstein);
    else if (strcmp(type, "IdealGasHelmholtzCP0Constant") == 0)
        r->e->ideal.log_tau += number(r, o, "cp_over_R");
    else if (strcmp(type, "IdealGasHelmholtzCP0PolyT") == 0)
        take_cp0_poly(r, o);
    else
        refuse(r, place,
               "IdealGasHelmholtz... Lead, LogTau, Power, PlanckEinstein, PlanckEinsteinFunctionT, "
               "CP0Constant, CP0PolyT or EnthalpyEntropyOffset",
               "terms of the kind '%.60s' are not known here", type);
}

static void take_ideal(const struct reader *r, const struct object *eos)
{
    const struct object list = array_of(r, eos, "alpha0");
    for (size_t i = 0; i < json_array_size(list.at) && good(r); i++) {
        const struct object o = element(r, &list, i);
        const char *type = good(r) ? type_of(r, &o) : "";
        if (good(r))
            take_ideal_term(r, &o, type);
    }
}

/* ---- saturation line ---- */

static void take_ancillary(const struct reader *r, const struct object *all, const char *key,
                           struct swh_eos_ancillary *a)
{
    const struct object o = object_of(r, all, key);
    const char *type = good(r) ? type_of(r, &o) : "";
    const json_t *tau_r = json_object_get(o.at, "using_tau_r");
    char place[PLACE];
    step(place, o.place, "type");
    if (!good(r))
        return;
    if (strcmp(type, "pL") != 0 && strcmp(type, "pV") != 0 && strcmp(type, "rhoV") != 0 &&
        strcmp(type, "rhoL") != 0 && strcmp(type, "rhoLnoexp") != 0)
        refuse(r, place, "pL, pV, rhoL, rhoLnoexp or rhoV",
               "an equation of the kind '%.40s' is not known here", type);
    a->T_r = positive(r, &o, "T_r");
    a->scale = positive(r, &o, "reducing_value");
    a->exponential = strcmp(type, "rhoLnoexp") != 0;
    a->tau_r = json_is_true(tau_r);
    a->count = numbers(r, &o, "n", a->n, SWH_EOS_ANCILLARY);
    as_many(r, &o, "t", a->t, a->count, SWH_EOS_ANCILLARY);
}

/* vapour pressure: in the file under one of three names */
static const char *pressure_key(const json_t *ancillaries)
{
    return json_object_get(ancillaries, "pS") ? "pS" : json_object_get(ancillaries, "pV") ? "pV" : "pL";
}

static void take_saturation(const struct reader *r, const struct object *fluid)
{
    const struct object all = object_of(r, fluid, "ANCILLARIES");
    if (!good(r))
        return;
    take_ancillary(r, &all, pressure_key(all.at), &r->e->psat);
    take_ancillary(r, &all, "rhoL", &r->e->rho_f);
    take_ancillary(r, &all, "rhoV", &r->e->rho_g);
}

/* ---- viscosity ---- */

static void sum_from(const struct reader *r, const struct object *o, const char *n, const char *t,
                     struct swh_eos_sum *s)
{
    s->count = numbers(r, o, n, s->n, SWH_MU_SECOND);
    as_many(r, o, t, s->t, s->count, SWH_MU_SECOND);
}

static void dense_from(const struct reader *r, const struct object *o, struct swh_eos_parts_law *a)
{
    static const char *const keys[] = {"d1", "t1", "gamma", "l"};
    double n[SWH_MU_DENSE], x[4][SWH_MU_DENSE], f[SWH_MU_PACK], d2[SWH_MU_PACK], t2[SWH_MU_PACK];
    a->T_red = positive(r, o, "T_reduce");
    a->rho_red_molar = positive(r, o, "rhomolar_reduce");
    a->dense_count = numbers(r, o, "a", n, SWH_MU_DENSE);
    for (int k = 0; k < 4; k++)
        as_many(r, o, keys[k], x[k], a->dense_count, SWH_MU_DENSE);
    a->packed_count = numbers(r, o, "f", f, SWH_MU_PACK);
    as_many(r, o, "d2", d2, a->packed_count, SWH_MU_PACK);
    as_many(r, o, "t2", t2, a->packed_count, SWH_MU_PACK);
    sum_from(r, o, "g", "h", &a->above);
    sum_from(r, o, "p", "q", &a->below);
    if (!good(r))
        return;
    for (int i = 0; i < a->dense_count; i++)
        a->dense[i] = (struct swh_eos_dense_term){n[i], x[0][i], x[1][i], x[2][i], x[3][i]};
    for (int i = 0; i < a->packed_count; i++)
        a->packed[i] = (struct swh_eos_dense_term){f[i], d2[i], t2[i], 0.0, 0.0};
}

static bool is_kind(const json_t *law, const char *part, const char *type)
{
    const char *have = json_string_value(json_object_get(json_object_get(law, part), "type"));
    return have && strcmp(have, type) == 0;
}

/* a published correlation in the parts that are known here */
static bool take_parts(const struct reader *r, const struct object *law)
{
    struct swh_eos_viscosity_law *v = &r->e->viscosity;
    if (!is_kind(law->at, "dilute", "collision_integral") ||
        !is_kind(law->at, "higher_order", "modified_Batschinski_Hildebrand"))
        return false;
    const bool second = is_kind(law->at, "initial_density", "Rainwater-Friend");
    if (json_object_get(law->at, "initial_density") && !second)
        return false;
    const struct object dilute = object_of(r, law, "dilute"), dense = object_of(r, law, "higher_order");
    v->kind = SWH_MU_PARTS;
    v->epsilon_over_k = positive(r, law, "epsilon_over_k");
    v->sigma = positive(r, law, "sigma_eta");
    v->parts.scale = positive(r, &dilute, "C");
    v->parts.M = positive(r, &dilute, "molar_mass");
    sum_from(r, &dilute, "a", "t", &v->parts.collision);
    if (second) {
        const struct object o = object_of(r, law, "initial_density");
        sum_from(r, &o, "b", "t", &v->parts.second);
    }
    dense_from(r, &dense, &v->parts);
    return true;
}

/* epsilon/k and sigma from the critical point: Chung and others, Ind. Eng. Chem. Res. 27 (1988) 671 */
static void estimate_lennard_jones(struct swh_eos *e)
{
    e->viscosity.epsilon_over_k = e->T_c / 1.2593;
    e->viscosity.sigma = 0.809e-10 * cbrt(1e6 / e->rho_c_molar);
}

static bool take_entropy(const struct reader *r, const struct object *law)
{
    struct swh_eos_entropy_law *a = &r->e->viscosity.entropy;
    const char *type = json_string_value(json_object_get(law->at, "type"));
    if (!type || strcmp(type, "rhosr-CS") != 0)
        return false;
    r->e->viscosity.kind = SWH_MU_ENTROPY;
    estimate_lennard_jones(r->e);
    a->C = positive(r, law, "C");
    a->rhosr = number(r, law, "rhosr_critical");
    a->x_crossover = positive(r, law, "x_crossover");
    as_many(r, law, "c_liq", a->liquid, 4, 4);
    as_many(r, law, "c_vap", a->vapour, 4, 4);
    return true;
}

/* Nothing usable in the file: the same scaling with the polynomials that all fluids share and a factor C in
 * the middle of those fitted to refrigerants (0.79 to 0.91; Bell 2016). */
static void estimate_viscosity(const struct reader *r)
{
    struct swh_eos *e = r->e;
    struct swh_eos_point p;
    e->viscosity.kind = SWH_MU_ENTROPY;
    estimate_lennard_jones(e);
    swh_eos_eval(e, e->critical.T, e->critical.rho, &p);
    e->viscosity.entropy =
        (struct swh_eos_entropy_law){.C = 0.86,
                                     .rhosr = p.rho * p.s_residual,
                                     .x_crossover = 2,
                                     .liquid = {0.6100913843, 0.4508958312, -0.017063, 0.000564},
                                     .vapour = {0.0, 1.2, -0.308598, 0.035317}};
    snprintf(r->remark, SWH_REFRIGERANT_REMARK,
             "%s: no viscosity in the file that is of use here; it is estimated from the residual entropy, "
             "to a fifth",
             e->name);
}

static void take_viscosity(const struct reader *r, const struct object *fluid)
{
    json_t *given = json_object_get(json_object_get(fluid->at, "TRANSPORT"), "viscosity");
    const size_t n = json_is_array(given) ? json_array_size(given) : given ? 1 : 0;
    for (size_t i = 0; i < n && good(r); i++) {
        struct object law = {json_is_array(given) ? json_array_get(given, i) : given, ""};
        step(law.place, fluid->place, "TRANSPORT.viscosity");
        if (json_is_array(given))
            snprintf(law.place + strlen(law.place), 32, "[%zu]", i);
        if (take_entropy(r, &law) || take_parts(r, &law))
            return;
    }
    if (good(r))
        estimate_viscosity(r);
}

/* ---- all ---- */

static void take_name(const struct reader *r, const struct object *fluid)
{
    const struct object info = object_of(r, fluid, "INFO");
    char place[PLACE];
    const json_t *v = good(r) ? value_of(r, &info, "NAME", place) : NULL;
    if (v && (!json_is_string(v) || json_string_length(v) == 0))
        refuse(r, place, "a word", "is no word");
    if (good(r))
        swh_utf8_clean(r->e->name, sizeof r->e->name, json_string_value(v));
}

static void take_constants(const struct reader *r, const struct object *fluid, const struct object *eos)
{
    struct swh_eos *e = r->e;
    char place[PLACE];
    const struct object states = object_of(r, eos, "STATES");
    const struct object reducing = good(r) ? object_of(r, &states, "reducing") : states;
    const struct object of_fluid = good(r) ? object_of(r, fluid, "STATES") : states;
    const struct object critical = good(r) ? object_of(r, &of_fluid, "critical") : states;
    step(place, eos->place, "pseudo_pure");
    if (good(r) && json_is_true(json_object_get(eos->at, "pseudo_pure")))
        refuse(r, place, "false: one substance",
               "a blend taken as one substance, whose bubble and dew points differ");
    if (!good(r))
        return;
    e->M = positive(r, eos, "molar_mass");
    e->R_molar = positive(r, eos, "gas_constant");
    e->T_triple = positive(r, eos, "Ttriple");
    e->T_max_published = positive(r, eos, "T_max");
    e->T_red = positive(r, &reducing, "T");
    e->rho_red_molar = positive(r, &reducing, "rhomolar");
    e->T_c = positive(r, &critical, "T");
    e->P_c = positive(r, &critical, "p");
    e->rho_c_molar = positive(r, &critical, "rhomolar");
}

static void complete(const struct reader *r)
{
    if (swh_eos_find_critical(r->e))
        refuse(r, ".STATES.critical", "a critical point of the equation nearby",
               "the equation has none there");
    else if (swh_eos_set_reference(r->e))
        refuse(r, ".EOS", "saturated liquid at 0 degC, or at the triple point if that is warmer",
               "the equation gives no saturated liquid");
}

static void take_fluid(const struct reader *r, json_t *root)
{
    struct object fluid = {root, ""};
    if (json_is_array(root)) /* a list of one, as CoolProp prints it */
        fluid = element(r, &fluid, 0);
    if (good(r) && !json_is_object(fluid.at))
        refuse(r, fluid.place, "an object: a fluid file of CoolProp", "is no object");
    const struct object list = good(r) ? array_of(r, &fluid, "EOS") : fluid;
    const struct object eos = good(r) ? element(r, &list, 0) : fluid;
    void (*const part[])(const struct reader *, const struct object *) = {take_residual, take_ideal};
    if (good(r))
        take_name(r, &fluid);
    if (good(r))
        take_constants(r, &fluid, &eos);
    for (int i = 0; i < 2 && good(r); i++)
        part[i](r, &eos);
    if (good(r))
        take_saturation(r, &fluid);
    if (good(r))
        complete(r);
    if (good(r))
        take_viscosity(r, &fluid);
}

static char *read_whole(const char *path, struct swh_error *err)
{
    FILE *f;
    if (swh_text_open(path, &f, err) != SWH_OK)
        return NULL;
    char *text = malloc(FILE_MOST + 1);
    const size_t n = text ? fread(text, 1, FILE_MOST + 1, f) : 0;
    swh_text_close(f);
    if (!text)
        swh_error_set(err, SWH_ERR_MEMORY, "no memory to read %.200s", path);
    else if (n > FILE_MOST) {
        swh_error_set(err, SWH_ERR_INPUT, "is larger than 4 MiB");
        swh_error_at(err, path, 0, 0);
        swh_error_expected(err, "a fluid file");
        free(text);
        text = NULL;
    } else {
        text[n] = '\0';
    }
    return text;
}

enum swh_status swh_refrigerant_read(const char *path, struct swh_eos *e, char remark[SWH_REFRIGERANT_REMARK],
                                     struct swh_error *err)
{
    struct swh_error inside = {0};
    json_error_t syntax;
    memset(e, 0, sizeof *e);
    remark[0] = '\0';
    char *text = read_whole(path, &inside);
    json_t *root = text ? json_loads(text, 0, &syntax) : NULL;
    const struct reader r = {path, text, e, remark, &inside};
    if (text && !root) {
        swh_error_set(&inside, SWH_ERR_INPUT, "%s", syntax.text);
        swh_error_at(&inside, path, syntax.line, syntax.column);
        swh_error_expected(&inside, "JSON in the form of CoolProp's fluid files");
    } else if (root) {
        take_fluid(&r, root);
    }
    json_decref(root);
    free(text);
    if (inside.status != SWH_OK && err)
        *err = inside;
    return inside.status;
}
