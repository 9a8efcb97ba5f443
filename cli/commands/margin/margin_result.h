/* What a margin is told as: JSON, words and pictures. */
#ifndef SWH_CLI_COMMANDS_MARGIN_MARGIN_RESULT_H
#define SWH_CLI_COMMANDS_MARGIN_MARGIN_RESULT_H

#include "cli/base/session.h"
#include "solver/steady/margin.h"

#include <jansson.h>
#include <stdio.h>

struct swh_margin_result {
    const struct swh_margin_request *request;
    const struct swh_margin *margin;
    const char *name, *folder;
};

/* SI base units. */
json_t *swh_margin_json(const struct swh_margin_result *r);
void swh_margin_print(const struct swh_margin_result *r, const struct swh_units *units, enum swh_show show,
                      FILE *f);
/* The answer in one sentence. */
void swh_margin_answer(const struct swh_margin_result *r, const struct swh_units *units, enum swh_show show,
                       char *out, size_t size);
/* Distance to the edge in per cent: of today's value, or of the range if that is zero or a temperature. */
double swh_margin_percent(const struct swh_margin_result *r);

/* margin: resting temperature of the rotor against the varied number, the edge marked. */
enum swh_status swh_margin_draw(const struct swh_margin_result *r, const struct swh_session *session,
                                struct swh_error *err);
/* edge: the critical value against the second number. */
enum swh_status swh_margin_draw_edge(const struct swh_margin_result *r, const struct swh_key *second,
                                     const double *at, const double *critical, int n,
                                     const struct swh_session *session, struct swh_error *err);
/* heat_curves: gain and loss, crossings marked. */
enum swh_status swh_margin_draw_heat(const struct swh_heat_curves *h, const char *name, const char *folder,
                                     const struct swh_params *params, const struct swh_session *session,
                                     struct swh_error *err);

#endif
