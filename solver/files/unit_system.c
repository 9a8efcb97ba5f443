#include "solver/files/unit_system.h"

#include "solver/simulate/parallel.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <udunits2.h>

enum { REMEMBERED = 256, LONGEST = 61 };

struct answer {
    char text[LONGEST + 1], si[16];
    enum swh_unit_answer answer;
    double factor, offset;
};

struct swh_unit_system {
    struct swh_team one_at_a_time; /* UDUNITS' parser and the memory below are no threads' business */
    ut_system *system;
    bool opened;
    struct answer memory[REMEMBERED];
};

struct swh_unit_system *swh_unit_system_new(void)
{
    struct swh_unit_system *s = calloc(1, sizeof *s);
    if (s)
        swh_team_begin(&s->one_at_a_time);
    return s;
}

void swh_unit_system_free(struct swh_unit_system *s)
{
    if (!s)
        return;
    if (s->system)
        ut_free_system(s->system);
    swh_team_end(&s->one_at_a_time, NULL);
    free(s);
}

static bool open_system(struct swh_unit_system *s)
{
    if (!s->opened) {
        ut_set_error_message_handler(ut_ignore);
        s->system = ut_read_xml(NULL);
    }
    s->opened = true;
    return s->system != NULL;
}

/* factor and offset of `unit` over `si`, if it can be converted by a straight line */
static bool affine(ut_unit *unit, ut_unit *si, struct answer *a)
{
    cv_converter *c = ut_are_convertible(unit, si) ? ut_get_converter(unit, si) : NULL;
    if (!c)
        return false;
    const double at0 = cv_convert_double(c, 0.0), at1 = cv_convert_double(c, 1.0),
                 at2 = cv_convert_double(c, 2.0);
    cv_free(c);
    a->factor = at1 - at0;
    a->offset = at0;
    return isfinite(at0) && a->factor > 0 && fabs(at2 - 2 * at1 + at0) <= 1e-9 * (fabs(at0) + fabs(at2));
}

static void ask_udunits(struct swh_unit_system *s, struct answer *a)
{
    a->answer = SWH_UNIT_UNREAD;
    if (!open_system(s))
        return;
    ut_unit *unit = ut_parse(s->system, a->text, UT_UTF8);
    ut_unit *base = ut_parse(s->system, a->si, UT_UTF8);
    a->answer = unit && base && affine(unit, base, a) ? SWH_UNIT_CONVERTS : SWH_UNIT_DOES_NOT;
    ut_free(unit);
    ut_free(base);
}

/* where the answer to this question is kept, or will be in the place of another */
static struct answer *place_of(struct swh_unit_system *s, const char *text, const char *si)
{
    uint32_t h = 2166136261u;
    for (const char *p = text; *p; p++)
        h = (h ^ (unsigned char)*p) * 16777619u;
    for (const char *p = si; *p; p++)
        h = (h ^ (unsigned char)*p) * 16777619u;
    return &s->memory[h % REMEMBERED];
}

/* A word of the table converts to what the table says and to nothing else. */
static bool is_known(const char *text, const char *si, enum swh_unit_answer *answer, double *factor,
                     double *offset)
{
    bool word = false;
    for (size_t i = 0; i < (size_t)swh_known_unit_count; i++) {
        if (strcmp(swh_known_units[i].text, text) != 0)
            continue;
        word = true;
        if (strcmp(swh_known_units[i].si, si) != 0)
            continue;
        *factor = swh_known_units[i].factor;
        *offset = swh_known_units[i].offset;
        *answer = SWH_UNIT_CONVERTS;
        return true;
    }
    *answer = SWH_UNIT_DOES_NOT;
    return word;
}

enum swh_unit_answer swh_unit_system_ask(struct swh_unit_system *s, const char *text, const char *si,
                                         double *factor, double *offset)
{
    enum swh_unit_answer answer = SWH_UNIT_DOES_NOT;
    if (strlen(text) > LONGEST || strlen(si) >= sizeof s->memory[0].si ||
        is_known(text, si, &answer, factor, offset))
        return answer;
    swh_team_enter(&s->one_at_a_time);
    struct answer *a = place_of(s, text, si);
    if (strcmp(a->text, text) != 0 || strcmp(a->si, si) != 0) {
        strcpy(a->text, text);
        strcpy(a->si, si);
        ask_udunits(s, a);
    }
    answer = a->answer;
    *factor = a->factor;
    *offset = a->offset;
    swh_team_leave(&s->one_at_a_time);
    return answer;
}

bool swh_unit_system_unread(struct swh_unit_system *s)
{
    swh_team_enter(&s->one_at_a_time);
    const bool unread = s->opened && !s->system;
    swh_team_leave(&s->one_at_a_time);
    return unread;
}
