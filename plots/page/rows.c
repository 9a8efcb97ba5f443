#include "plots/page/rows.h"

#include <math.h>
#include <string.h>

static const struct swh_style line = {"#000000", 1.8, "solid"};

void swh_rows_open(struct swh_panel *n, struct swh_page *page, const struct swh_rows *rows)
{
    swh_panel_open(n, page, rows->top, rows->bottom, rows->quantity, rows->from, rows->to, SWH_Q_NONE, NULL);
    n->left = rows->left;
    n->right = rows->right;
    n->y_numbers_off = true;
    n->x_grid = true;
    n->foot = rows->foot;
    n->foot_below = true;
    n->y.from = 0;
    n->y.to = 1;
    if (rows->ground_to > rows->ground_from) {
        const double x[2] = {rows->ground_from, rows->ground_to}, low[2] = {0, 0}, high[2] = {1, 1};
        const struct swh_xy under = {2, {x, 1}, {low, 1}};
        const struct swh_column over = {high, 1};
        swh_panel_band(n, &under, &over, "#000000", 0.08);
    }
    swh_panel_close(n);
}

static double inside(const struct swh_panel *n, double x)
{
    return fmin(fmax(swh_panel_pixel(n, x), n->left), n->right);
}

/* -1, 1: beyond the left, the right edge */
static int beyond(const struct swh_panel *n, double x)
{
    const double at = swh_panel_pixel(n, x);
    return at < n->left - 0.5 ? -1 : at > n->right + 0.5 ? 1 : 0;
}

static void arrowhead(struct swh_panel *n, double y, int side, double size)
{
    const double x = side < 0 ? n->left : n->right;
    swh_page_stroke(n->page, x - side * size, y - size, x, y, &line);
    swh_page_stroke(n->page, x - side * size, y + size, x, y, &line);
}

static void end_of(struct swh_panel *n, double y, double x)
{
    const int side = beyond(n, x);
    if (side != 0)
        arrowhead(n, y, side, 5);
    else
        swh_page_stroke(n->page, inside(n, x), y - 5, inside(n, x), y + 5, &line);
}

void swh_row_interval(struct swh_panel *n, double y, double low, double high, double width)
{
    struct swh_style style = line;
    if (!isfinite(low) || !isfinite(high) || (beyond(n, low) != 0 && beyond(n, low) == beyond(n, high)))
        return;
    style.width = width;
    swh_page_stroke(n->page, inside(n, low), y, inside(n, high), y, &style);
    end_of(n, y, low);
    end_of(n, y, high);
}

void swh_row_block(struct swh_panel *n, double y0, double y1, double low, double high, const char *colour)
{
    const double a = inside(n, low), b = inside(n, high);
    if (b > a)
        swh_page_block(n->page, a, y0, b, y1, colour);
}

void swh_row_dot(struct swh_panel *n, double y, double x, bool open)
{
    char how[80];
    const int side = isfinite(x) ? beyond(n, x) : 0;
    if (!isfinite(x))
        return;
    if (side != 0) {
        arrowhead(n, y, side, 8);
        arrowhead(n, y, side, 4);
        return;
    }
    snprintf(how, sizeof how, "front point pt 7 ps %g lc rgb '#000000'", swh_page_point(n->page, 1.35));
    swh_page_text(n->page, inside(n, x), y, "center", "", how);
    if (!open)
        return;
    snprintf(how, sizeof how, "front point pt 7 ps %g lc rgb '#ffffff'", swh_page_point(n->page, 0.85));
    swh_page_text(n->page, inside(n, x), y, "center", "", how);
}

static void line_of_name(struct swh_page *p, double x, double y, const char *text, bool bold)
{
    if (bold)
        swh_page_bold(p, x, y, "right", text, 13);
    else
        swh_page_text(p, x, y, "right", text, NULL);
}

void swh_row_name(struct swh_page *p, double x, double y, const char *label, const char *second, bool bold)
{
    char text[96];
    line_of_name(p, x, second ? y - 11 : y, label, bold);
    if (!second)
        return;
    snprintf(text, sizeof text, "and %s", second);
    line_of_name(p, x, y + 11, text, bold);
}

const char *swh_row_share(double share, char *out, size_t n)
{
    if (share < 0.001)
        snprintf(out, n, "< 0.1 %%");
    else
        snprintf(out, n, share < 0.0095 ? "%.1f %%" : "%.0f %%", 100 * share);
    return out;
}

const char *swh_row_list(const char *const *word, size_t words, double room, char *out, size_t n)
{
    out[0] = '\0';
    for (size_t i = 0; i < words; i++) {
        char more[32];
        const size_t used = strlen(out);
        snprintf(more, sizeof more, " and %zu more", words - i);
        const double next = swh_text_width(out) + swh_text_width(word[i]) + 2 * swh_text_width(" ");
        if (i > 0 && next + (i + 1 < words ? swh_text_width(more) : 0) > room) {
            snprintf(out + used, n - used, "%s", more);
            break;
        }
        snprintf(out + used, n - used, "%s%s", i ? ", " : "", word[i]);
    }
    return out;
}
