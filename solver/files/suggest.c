#include "solver/files/suggest.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

enum { LONGEST = 63 };

static int least(int a, int b)
{
    return a < b ? a : b;
}

/* the first letters of a word, small, and how many they are */
static int lower(const char *s, unsigned char out[LONGEST])
{
    int n = 0;
    for (; n < LONGEST && s[n]; n++)
        out[n] = (unsigned char)tolower((unsigned char)s[n]);
    return n;
}

/* Optimal string alignment: Levenshtein's distance with swaps of neighbours, three rows of the table at a
 * time */
int swh_edit_distance(const char *first, const char *second)
{
    unsigned char a[LONGEST], b[LONGEST];
    int row[3][LONGEST + 1];
    const int m = lower(first, a), n = lower(second, b);
    for (int j = 0; j <= n; j++)
        row[0][j] = j;
    for (int i = 1; i <= m; i++) {
        int *now = row[i % 3];
        const int *up = row[(i + 2) % 3], *up2 = row[(i + 1) % 3];
        now[0] = i;
        for (int j = 1; j <= n; j++) {
            const int change = a[i - 1] != b[j - 1];
            now[j] = least(least(up[j] + 1, now[j - 1] + 1), up[j - 1] + change);
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
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
    for (int i = 0; i < LONGEST && a[i]; i++)
        more[tolower((unsigned char)a[i]) & 31]++;
    for (int i = 0; i < LONGEST && b[i]; i++)
        more[tolower((unsigned char)b[i]) & 31]--;
    for (int i = 0; i < 32; i++) {
        above += more[i] > 0 ? more[i] : 0;
        below -= more[i] < 0 ? more[i] : 0;
    }
    return above > below ? above : below;
}

void swh_nearest_offer(struct swh_nearest *n, const char *known)
{
    const int length = (int)strlen(n->word);
    /* cut short: as good as a word with a third of it wrong */
    const bool cut_short = length >= 4 && strstr(known, n->word);
    if (n->best && !cut_short && bag_distance(n->word, known) >= n->distance)
        return;
    const int edits = swh_edit_distance(n->word, known), d = cut_short ? least(edits, length / 3) : edits;
    if (n->best && d >= n->distance)
        return;
    n->best = known;
    n->distance = d;
}

bool swh_nearest_is_near(const struct swh_nearest *n)
{
    return n->best && 3 * n->distance <= (int)strlen(n->word);
}

struct swh_said swh_nearest_said(const struct swh_nearest *n)
{
    struct swh_said said = {""};
    if (swh_nearest_is_near(n))
        snprintf(said.text, sizeof said.text, "; the nearest is '%.64s'", n->best);
    return said;
}
