/* Pictures: they appear whole, or not at all with an error that says why. */
#include "tests/plots_demo.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

static struct demo demo;
static char folder[64];

static long file_size(const char *name)
{
    char path[200];
    struct stat st;
    snprintf(path, sizeof path, "%s/%s", folder, name);
    return stat(path, &st) == 0 ? (long)st.st_size : -1;
}

static void test_body_temperatures_png(void **state)
{
    (void)state;
    struct swh_plot_options o;
    struct swh_error err;
    swh_error_clear(&err);
    demo_options(&o, SWH_PLOT_PNG, false, folder);
    assert_int_equal(swh_plot_body_temperatures(&demo.series, &o, &err), SWH_OK);
    assert_true(file_size("body_temperatures.png") > 20000);
}

static int set_up(void **state)
{
    (void)state;
    snprintf(folder, sizeof folder, "/tmp/swh_plots_XXXXXX");
    demo_make(&demo, 1200, 1080, 0.72, true);
    return mkdtemp(folder) ? 0 : -1;
}

static int tear_down(void **state)
{
    (void)state;
    char command[100];
    demo_free(&demo);
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    return system(command);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_body_temperatures_png),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
