/* Words beside marked points, where they cover neither curves nor one another. */
#include "plots/page/page.h"

#include <math.h>

struct box {
    double left, right, top, bottom;
};

static bool meet(const struct box *a, const struct box *b)
{
    return a->left < b->right && b->left < a->right && a->top < b->bottom && b->top < a->bottom;
}

/* Place number k of the words of a mark at pixel (x, y): above right, above left, below right, below left,
 * and the same farther away. */
static struct box place(double x, double y, double width, int k)
{
    const bool left = k % 2 == 1, below = k % 4 >= 2;
    const int ring = k / 4;
    const double away = 4 + 18 * ring;
    struct box b;
    b.left = left ? x - 10 - width : x + 10;
    b.right = b.left + width;
    b.top = below ? y + away : y - away - SWH_LINE_HEIGHT;
    b.bottom = b.top + SWH_LINE_HEIGHT;
    return b;
}

static bool crosses(const struct swh_panel *n, const struct swh_xy *curve, const struct box *b)
{
    enum { PARTS = 12 };
    double x0 = NAN, y0 = NAN;
    for (size_t i = 0; i < curve->n; i++) {
        const double x1 = swh_panel_pixel(n, curve->x.at[i * curve->x.stride]);
        const double y1 = swh_panel_pixel_y(n, curve->y.at[i * curve->y.stride]);
        for (int k = 0; k <= PARTS; k++) {
            const double x = x0 + (x1 - x0) * k / PARTS, y = y0 + (y1 - y0) * k / PARTS;
            if (x > b->left - 3 && x < b->right + 3 && y > b->top && y < b->bottom)
                return true; /* never for NaN */
        }
        x0 = x1;
        y0 = y1;
    }
    return false;
}

static bool is_free(const struct swh_panel *n, const struct box *b, const struct box *used, size_t count,
                    const struct swh_xy *curve, size_t curves)
{
    if (b->left < n->left || b->right > SWH_PAGE_WIDTH - 10 || b->top < n->top || b->bottom > n->bottom)
        return false;
    for (size_t i = 0; i < count; i++)
        if (meet(b, &used[i]))
            return false;
    for (size_t i = 0; i < curves; i++)
        if (crosses(n, &curve[i], b))
            return false;
    return true;
}

void swh_panel_marks(struct swh_panel *n, const struct swh_plot_mark *mark, size_t count,
                     const struct swh_xy *curve, size_t curves)
{
    enum { PLACES = 24 };
    struct box used[SWH_LABELS_MAX];
    for (size_t i = 0; i < count && i < SWH_LABELS_MAX; i++) {
        const double x = swh_panel_pixel(n, mark[i].x), y = swh_panel_pixel_y(n, mark[i].y);
        const double width = swh_text_width(mark[i].text);
        int k = 0;
        while (k < PLACES) {
            used[i] = place(x, y, width, k);
            if (is_free(n, &used[i], used, i, curve, curves))
                break;
            k++;
        }
        if (k == PLACES)
            used[i] = place(x, y, width, 0);
        const bool left = used[i].left < x;
        swh_page_dot(n->page, x, y);
        swh_page_text(n->page, left ? used[i].right : used[i].left, 0.5 * (used[i].top + used[i].bottom),
                      left ? "right" : "left", mark[i].text, SWH_TEXT_BOXED);
    }
}
