/* Pictures of a ranking, a plan and an acceptance, in the judge's folder (it is there), as --plot says. All
 * return SWH_OK or SWH_ERR_OUTPUT. */
#ifndef SWH_CLI_COMMANDS_INFER_DRAW_H
#define SWH_CLI_COMMANDS_INFER_DRAW_H

#include "cli/commands/infer/log_command.h"
#include "plots/plots.h"
#include "solver/infer/accept.h"
#include "solver/infer/test_plan.h"

/* The frame of the three: nothing without pictures; room of `size` bytes, zeroed, for draw(what, room, ..);
 * what is wrong with the data is forgiven, `kept` names what is there without the pictures. */
typedef enum swh_status (*swh_log_command_painter)(const void *what, void *room,
                                                   const struct swh_plot_options *o, struct swh_error *err);
enum swh_status swh_log_command_draw(const struct swh_log_command *j, swh_log_command_painter draw,
                                     const void *what, size_t size, const char *kept, struct swh_error *err);

/* A value with its unit, as the session shows it. Returns out. */
const char *swh_log_command_text(const struct swh_log_command *j, enum swh_quantity q, double si, char *out,
                                 size_t size);

struct swh_rank_drawing {
    const struct swh_log_command *judge;
    const struct swh_ranking *ranking;
    const struct swh_test_result *next; /* NULL: none */
    const char *doubtful;               /* why no answer can be drawn from the log; NULL: it can */
};
/* causes and evidence */
enum swh_status swh_rank_draw(const struct swh_rank_drawing *q, struct swh_error *err);

/* Whether compared channel i speaks for a cause (it explains what health does not), or against it (it leaves
 * much over). Neither, if the cause was not looked at closely. */
bool swh_cause_speaks_for(const struct swh_cause *c, const struct swh_cause *healthy, int i);
bool swh_cause_speaks_against(const struct swh_cause *c, int i);
/* "condenser blocked", or the first of two; of a pair the second, else NULL. */
struct swh_cause_words {
    char first[48], second[48];
};
const char *swh_cause_words(int fault, int second, struct swh_cause_words *out);

/* plan: the first of the tests */
enum swh_status swh_plan_draw(const struct swh_log_command *j, const struct swh_test_result *t,
                              const struct swh_test_cause *cause, int causes, struct swh_error *err);

/* accept: `answer` is the verdict in words */
enum swh_status swh_accept_draw(const struct swh_log_command *j, const struct swh_acceptance *a,
                                const char *answer, bool judged, struct swh_error *err);

#endif
