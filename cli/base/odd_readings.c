#include "cli/base/odd_readings.h"

#include <stdio.h>
#include <string.h>

/* "the discharge pipe (12.0 degC) is colder than the suction pipe (60.2 degC) while it runs" */
void swh_note_implausible(struct swh_notes *notes, const struct swh_session *s,
                          const struct swh_implausible *w)
{
    static const char *const words[] = {
        "both sides read the same (%s, %s) while it runs: both hoses on one side, or it does not pump",
        "the gauges part at rest (low side %s, high side %s): a gauge's zero, a valve or a hose is not right",
        "the discharge pipe (%s) is colder than the suction pipe (%s) while it runs: are the clamps "
        "exchanged?",
        "the suction pipe (%s) is colder than the refrigerant in it can be (saturation at the low side: %s): "
        "is the low side in another unit (absolute read as gauge?), or a clamp off its pipe?",
        "the discharge pipe (%s) is colder than the refrigerant in it can be (saturation at the high side: "
        "%s): is the "
        "high side in another unit, or a clamp off its pipe?",
        "the liquid line (%s) is hotter than liquid can be (saturation at the high side: %s): is the high "
        "side in "
        "another unit?",
        "the high side condenses at %s while it runs, and the outside air has %s: is the high side in "
        "another "
        "unit?",
        "both sides stand at %s at rest, and liquid in this air has %s: another unit (gauge pressure read as "
        "absolute?), or hardly any refrigerant"};
    const bool pressure =
        w->kind == SWH_IMP_SIDES_EQUAL || w->kind == SWH_IMP_GAUGES_PART || w->kind == SWH_IMP_REST_LOW;
    const enum swh_quantity q = pressure ? SWH_Q_PRESSURE : SWH_Q_TEMPERATURE;
    const enum swh_show show = swh_session_show(s);
    char a[48], b[48], text[400];
    swh_units_text(s->units, show, q, w->a, a, sizeof a);
    swh_units_text(s->units, show, q, w->b, b, sizeof b);
    const char *format = words[w->kind], *first = strstr(format, "%s"), *second = strstr(first + 2, "%s");
    snprintf(text, sizeof text, "%.*s%s%.*s%s%s", (int)(first - format), format, a, (int)(second - first - 2),
             first + 2, b, second + 2);
    swh_note(notes, "%s", text);
}

void swh_note_stuck(struct swh_notes *notes, const char *path, enum swh_channel ch, double from, double to,
                    const char *what)
{
    swh_note(notes, "%s: %s stays where it is, to the last digit, from %.6g s to %.6g s: %s", path,
             swh_channel_table[ch].id, from, to, what);
}
