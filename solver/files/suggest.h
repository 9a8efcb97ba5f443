/* The known word nearest to a mistyped one. */
#ifndef SWH_SOLVER_FILES_SUGGEST_H
#define SWH_SOLVER_FILES_SUGGEST_H

#include <stdbool.h>

/* Letters to insert, delete, change or swap with their neighbour to turn a into b, whatever their case. Words
 * longer than 63 letters are compared by their first 63. */
int swh_edit_distance(const char *a, const char *b);

/* Keeps the nearest of the words offered one after another: start with {word, NULL, 0}. */
struct swh_nearest {
    const char *word;
    const char *best; /* NULL while none was offered; points to the caller's word */
    int distance;
};
void swh_nearest_offer(struct swh_nearest *n, const char *known);

/* Is the nearest one near: do a third of the word's letters differ at most, or does it contain the word? */
bool swh_nearest_is_near(const struct swh_nearest *n);
/* "; the nearest is 'WORD'", or nothing where none is near: for the end of what is expected. */
struct swh_said {
    char text[90];
};
struct swh_said swh_nearest_said(const struct swh_nearest *n);

#endif
