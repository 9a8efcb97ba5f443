/* What to do next: the tests that tell the leading causes apart, or confirm one that is told already. Shared
 * by rank and plan, so that both name the same. */
#ifndef SWH_CLI_COMMANDS_INFER_STEPS_H
#define SWH_CLI_COMMANDS_INFER_STEPS_H

#include "cli/commands/infer/draw.h"
#include "solver/infer/direct.h"

/* Below this no test is worth doing; from twice it on a test tells clearly. Standard deviations. */
#define SWH_WORTH_DOING 1.0

struct swh_steps {
    struct swh_test_cause cause[SWH_TEST_CAUSES]; /* the leading ones, best first */
    int causes;
    bool told;   /* the first is told apart already: tests are to confirm it against a healthy vehicle */
    bool locked; /* nothing was read: the compressor may not run */
    struct swh_test_result test[SWH_TESTPOINT_COUNT]; /* bay and road tests, best first, barred ones last */
    enum swh_direct direct[SWH_DIRECT_COUNT]; /* direct tests that tell, those that tell clearly first, the
                                                 quickest of them first */
    double apart[SWH_DIRECT_COUNT];           /* by how many standard deviations each tells */
    int directs;
    const struct swh_test_result *next; /* the bay or road test to do; NULL: none tells */
};

/* The causes of a ranking that are to be told apart: the two best, and what else has 2 %; no pairs unless
 * they lead. */
void swh_steps_from_ranking(struct swh_steps *s, const struct swh_ranking *r);
/* Takes a cause; the two first ones, then singles of 2 % at least. */
void swh_steps_take(struct swh_steps *s, const struct swh_test_cause *cause);
/* Runs the tests at the vehicle's conditions and chooses. SWH_ERR_MEMORY, SWH_ERR_USAGE for fewer than two
 * causes. */
enum swh_status swh_steps_make(const struct swh_log_command *j, struct swh_steps *s, struct swh_error *err);
/* Puts what was read of ambient and humidity into the vehicle's conditions, unless --set gave them. */
void swh_steps_conditions(struct swh_log_command *j, double ambient, double humidity);
/* Means of ambient and humidity over what was read; NaN: not read. */
void swh_steps_read_conditions(const struct swh_log_command *j, double *ambient, double *humidity);

/* "undercharge (61 % of the charge missing)". Returns out. */
const char *swh_steps_cause(const struct swh_test_cause *c, char *out, size_t size);
/* "35.0 degC outside, 45 % humidity". Returns out. */
const char *swh_steps_conditions_words(const struct swh_log_command *j, char *out, size_t size);
/* "348 psig at the high side, 239 degF at the discharge pipe": the one limit at which a test is stopped.
 * Returns out. */
const char *swh_stop_words(const struct swh_log_command *j, char *out, size_t size);
json_t *swh_stop_json(const struct swh_log_command *j);
/* "clearly", "fairly", "hardly": how well so many standard deviations tell. */
const char *swh_apart_word(double apart);
/* What a cause makes a direct test find: "yes, 90 in 100", "290 g". Returns out. */
const char *swh_direct_words(const struct swh_log_command *j, enum swh_direct test,
                             const struct swh_test_cause *c, char *out, size_t size);
/* The bay or road test to do and its reading, with the fields that rank.json calls next_reading; null if none
 * tells. */
json_t *swh_steps_next_json(const struct swh_steps *s);
/* The direct tests that tell. */
json_t *swh_steps_direct_json(const struct swh_log_command *j, const struct swh_steps *s);
/* What is to be done next, as rank says it. */
void swh_steps_print_next(const struct swh_log_command *j, const struct swh_steps *s, FILE *f);

#endif
