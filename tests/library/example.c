/* A vehicle loaded, a condenser blocked by a third, half an hour run; then a
 * machine taken on step by step. */
#include <swashheat/swashheat.h>

#include <stdio.h>
#include <stdlib.h>

static void need(enum swh_status status, const struct swh_error *err)
{
    char text[1200];
    if (status == SWH_OK)
        return;
    fprintf(stderr, "%s\n", swh_error_text(err, text, sizeof text));
    exit(EXIT_FAILURE);
}

int main(int argc, char **argv)
{
    struct swh_error err;
    struct swh_setup *van;
    struct swh_record *run;
    struct swh_course head;
    if (argc != 2)
        return EXIT_FAILURE;
    need(swh_setup_load(&van, argv[1], NULL, &err), &err);
    need(swh_setup_set(van, "conditions.ambient_temperature", 38, "degC", &err), &err);
    need(swh_setup_set(van, "fault.condenser_blocked.severity", 0.33, NULL, &err), &err);
    need(swh_setup_run(van, &run, &err), &err);

    const int discharge = swh_channel_find("discharge_temperature");
    const double *T = swh_record_column(run, discharge);
    const size_t rows = swh_record_rows(run);
    swh_record_course(run, swh_channel_find("discharge_pressure"), &head);
    printf("swashheat %s: %s %s\n", swh_version(), swh_setup_title(van), swh_record_outcome(run));
    printf("run %zu rows, discharge pipe %.6f K at the end, head pressure at most %.0f Pa\n", rows,
           T[rows - 1], head.highest);
    swh_record_free(run);

    struct swh_stepper *machine;
    need(swh_stepper_new(&machine, van, &err), &err);
    for (int second = 1; second <= 600; second++) {
        need(swh_stepper_input(machine, "compressor_speed", second < 300 ? 25 : 40, &err), &err);
        need(swh_stepper_advance(machine, second, &err), &err);
    }
    printf("step discharge pipe %.6f K after %.0f s\n", swh_stepper_channel(machine, discharge),
           swh_stepper_time(machine));
    swh_stepper_free(machine);
    swh_setup_free(van);
    return EXIT_SUCCESS;
}
