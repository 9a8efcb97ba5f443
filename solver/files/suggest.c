#include "solver/files/suggest.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

enum { LONGEST = 63 };

static int least(int a, int b)
{
    return a < b ? a : b;
}

static int length_of(const char *s)
{
    return (int)strnlen(s, LONGEST);
}

static int lower(char c)
{
    return tolower((unsigned char)c);
}

/* Optimal string alignment: Levenshtein's distance with swaps of neighbours, three rows of the table at a
 * time */
int swh_edit_distance(const char *a, const char *b)
{
    int row[3][LONGEST + 1];
    const int m = length_of(a), n = length_of(b);
    for (int j = 0; j <= n; j++)
        row[0][j] = j;
    for (int i = 1; i <= m; i++) {
        int *now = row[i % 3];
        const int *up = row[(i + 2) % 3], *up2 = row[(i + 1) % 3];
        now[0] = i;
        for (int j = 1; j <= n; j++) {
            const int change = lower(a[i - 1]) != lower(b[j - 1]);
            now[j] = least(least(up[j] + 1, now[j - 1] + 1), up[j - 1] + change);
            if (i > 1 && j > 1 && lower(a[i - 1]) == lower(b[j - 2]) && lower(a[i - 2]) == lower(b[j - 1]))
                now[j] = least(now[j], up2[j - 2] + 1);
        }
    }
    return row[m % 3][n];
}

void swh_nearest_offer(struct swh_nearest *n, const char *known)
{
    /* no nearer than by how much longer one is than the other */
    if (n->best && abs(length_of(n->word) - length_of(known)) >= n->distance)
        return;
    const int d = swh_edit_distance(n->word, known);
    if (n->best && d >= n->distance)
        return;
    n->best = known;
    n->distance = d;
}
