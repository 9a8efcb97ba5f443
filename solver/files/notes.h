/* Remarks for the user that are no errors: printed with the summary and kept in summary.json. */
#ifndef SWH_SOLVER_FILES_NOTES_H
#define SWH_SOLVER_FILES_NOTES_H

enum { SWH_NOTES_MAX = 48 };

struct swh_notes {
    char text[SWH_NOTES_MAX][256];
    int count;
};

/* Adds a remark (printf format) unless there are too many or it is there already. */
void swh_note(struct swh_notes *n, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* What ends a remark in print: nothing after a question mark, else a full stop. */
const char *swh_note_end(const char *text);

#endif
