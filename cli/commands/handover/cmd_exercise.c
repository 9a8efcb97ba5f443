/* swashheat exercise: cars for a class, readings and complaints in one folder each, the answers apart. */
#include "cli/base/frame.h"
#include "cli/base/interrupt.h"
#include "cli/base/progress.h"
#include "cli/base/range_option.h"
#include "cli/base/result.h"
#include "cli/commands/handover/class_files.h"
#include "solver/infer/rank.h"

#include <stdlib.h>
#include <string.h>

struct exercise {
    struct swh_frame frame; /* its scenario is the vehicle, or the one car's story */
    unsigned long seed;
    int cars;
    json_t *answers;
};

/* A scenario with a fault is one car: the fault that it ends with. */
static int fault_of_story(const struct swh_case *c)
{
    for (int i = 0; i < SWH_FAULT_COUNT; i++)
        if (c->fault[i].present && c->fault[i].severity > 0)
            return i;
    return SWH_HEALTHY;
}

static enum swh_status one_car(struct exercise *e, int number, bool *taken, struct swh_error *err)
{
    struct swh_class_car car;
    char name[16], folder[600];
    const int fault = fault_of_story(&e->frame.scenario.c);
    snprintf(name, sizeof name, "car%02d", number);
    snprintf(folder, sizeof folder, "%s/%s", e->frame.folder, name);
    for (int i = 0; i < SWH_FAULT_COUNT && fault != SWH_HEALTHY; i++)
        taken[i] = i != fault;
    taken[SWH_FAULT_COUNT] |= fault != SWH_HEALTHY;
    enum swh_status status = swh_class_draw(&car, &e->frame.scenario.c, e->seed, number, taken, err);
    if (status == SWH_OK)
        status = swh_class_write(&car, folder, e->frame.scenario.vehicle, e->frame.session, err);
    if (status == SWH_OK)
        json_object_set_new(e->answers, name, swh_class_answer(&car));
    swh_case_free(&car.c); /* its schedule is its own */
    return status;
}

static enum swh_status all_cars(struct exercise *e, struct swh_error *err)
{
    bool taken[SWH_FAULT_COUNT + 1] = {false};
    struct swh_progress progress;
    enum swh_status status = SWH_OK;
    e->cars = fault_of_story(&e->frame.scenario.c) == SWH_HEALTHY ? SWH_CLASS_CARS : 1;
    swh_progress_begin(&progress, "cars", e->cars, 0, swh_given(e->frame.session, SWH_OPT_quiet));
    for (int i = 1; i <= e->cars && status == SWH_OK; i++) {
        status = one_car(e, i, taken, err);
        swh_progress_step(&progress);
        if (status == SWH_OK && i < e->cars && swh_interrupted())
            status = swh_error_set(err, SWH_ERR_SOLVER,
                                   "interrupted after %d of %d cars; there are no answers", i, e->cars);
    }
    swh_progress_end(&progress);
    return status;
}

static enum swh_status write_answers(struct exercise *e, struct swh_error *err)
{
    struct swh_out out = {0};
    char folder[600];
    snprintf(folder, sizeof folder, "%s/answers", e->frame.folder);
    enum swh_status status = swh_out_begin(&out, folder, err);
    FILE *f = status == SWH_OK ? swh_out_file(&out, "answers.json", err) : NULL;
    if (!f) {
        swh_out_abort(&out);
        return SWH_ERR_OUTPUT;
    }
    swh_json_write(e->answers, f);
    return swh_out_commit(&out, err);
}

static void say(const struct exercise *e)
{
    printf("%d %s in %s: log.csv, sheet.csv, complaint.txt and vehicle.ini each.\n", e->cars,
           e->cars == 1 ? "car" : "cars", e->frame.folder);
    printf("  The answers: %s/answers/answers.json (take that folder away before the class gets the rest).\n",
           e->frame.folder);
    printf("  To grade: swashheat grade %s/car01 --cause NAME --severity X; names: swashheat list faults.\n",
           e->frame.folder);
}

static enum swh_status load(struct exercise *e, struct swh_session *s)
{
    struct swh_error err = {0};
    long seed = 1;
    const char *text = swh_option_value(s, SWH_OPT_seed), *vehicle = swh_option_value(s, SWH_OPT_vehicle);
    if (text && swh_vary_count(text, "--seed", 0, 2000000000L, &seed, &err) != SWH_OK) {
        err.status = SWH_ERR_USAGE;
        return swh_fail(s, &err);
    }
    e->seed = (unsigned long)seed;
    e->frame.session = s;
    if (s->arguments > 0 || vehicle)
        swh_frame_load(&e->frame, s, s->arguments > 0 ? s->argument[0] : vehicle,
                       s->arguments > 0 ? vehicle : NULL);
    else
        swh_case_default(&e->frame.scenario.c);
    if (s->arguments == 0 && vehicle)
        snprintf(e->frame.scenario.vehicle, sizeof e->frame.scenario.vehicle, "%s", vehicle);
    swh_frame_folder(&e->frame, "exercise-%ld", seed);
    return swh_problems_status(&s->problems);
}

enum swh_status swh_cmd_exercise(struct swh_session *s)
{
    struct exercise *e = calloc(1, sizeof *e);
    struct swh_error err = {0};
    if (!e)
        return swh_no_memory(s, "an exercise");
    enum swh_status status = load(e, s);
    e->answers = json_object();
    if (status == SWH_OK) {
        status = all_cars(e, &err);
        if (status == SWH_OK)
            status = write_answers(e, &err);
        if (status != SWH_OK)
            status = swh_fail(s, &err);
    }
    if (status == SWH_OK && swh_given(s, SWH_OPT_json))
        swh_json_write(e->answers, stdout);
    else if (status == SWH_OK && !swh_given(s, SWH_OPT_quiet))
        say(e);
    json_decref(e->answers);
    swh_scenario_free(&e->frame.scenario);
    free(e);
    return status;
}
