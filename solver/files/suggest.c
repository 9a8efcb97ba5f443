#include "solver/files/suggest.h"

#include <ctype.h>
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

/* No less than this is the edit distance: how many letters the one has that the other lacks, in whatever
 * order (Bartolini, Ciaccia and Patella 2002, bag distance; a swap changes nothing of it). Letters that share
 * their last five bits count as one, which only lowers it. */
static int bag_distance(const char *a, const char *b)
{
    int more[32] = {0}, above = 0, below = 0;
    for (int i = 0, n = length_of(a); i < n; i++)
        more[lower(a[i]) & 31]++;
    for (int i = 0, n = length_of(b); i < n; i++)
        more[lower(b[i]) & 31]--;
    for (int i = 0; i < 32; i++) {
        above += more[i] > 0 ? more[i] : 0;
        below -= more[i] < 0 ? more[i] : 0;
    }
    return above > below ? above : below;
}

void swh_nearest_offer(struct swh_nearest *n, const char *known)
{
    if (n->best && bag_distance(n->word, known) >= n->distance)
        return;
    const int d = swh_edit_distance(n->word, known);
    if (n->best && d >= n->distance)
        return;
    n->best = known;
    n->distance = d;
}
