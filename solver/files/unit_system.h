/* UDUNITS-2, asked as rarely as possible. The units of the program's own tables are converted by a small
 * table that the build makes with UDUNITS itself; its data files, which take longer to read than a short run
 * to compute, are opened when the first other word turns up, and what was asked once is remembered. */
#ifndef SWH_SOLVER_FILES_UNIT_SYSTEM_H
#define SWH_SOLVER_FILES_UNIT_SYSTEM_H

#include <stdbool.h>

/* si = factor * x + offset for x in the unit `text` */
struct swh_known_unit {
    const char *text, *si;
    double factor, offset;
};
extern const struct swh_known_unit swh_known_units[];
extern const int swh_known_unit_count;

struct swh_unit_system;

/* NULL if memory is short. */
struct swh_unit_system *swh_unit_system_new(void);
void swh_unit_system_free(struct swh_unit_system *s);

enum swh_unit_answer {
    SWH_UNIT_CONVERTS,
    SWH_UNIT_DOES_NOT, /* unknown, of another kind, or no straight line that rises */
    SWH_UNIT_UNREAD    /* UDUNITS' data files cannot be read */
};
/* si = factor * x + offset for x in the unit `text`, si a unit of SI. Thread-safe. */
enum swh_unit_answer swh_unit_system_ask(struct swh_unit_system *s, const char *text, const char *si,
                                         double *factor, double *offset);
/* Was there a question that UDUNITS would have had to answer, and its data files could not be read? */
bool swh_unit_system_unread(struct swh_unit_system *s);

#endif
