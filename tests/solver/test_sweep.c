/* Sweeps: rows against single runs, threads, parts, interruption, journals, bad input. */
#include "cli/commands/sweep/journal.h"
#include "solver/study/sweep.h"
#include "tests/check.h"

#include <dirent.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

enum { CASES = 6 };

static void small_case(struct swh_case *c)
{
    swh_case_default(c);
    c->params.run_duration = 60;
    c->conditions.ambient_temperature = 308.15;
    c->conditions.doors_open = 1;
}

static void begin(struct swh_sweep *s, const struct swh_case *c)
{
    *s = (struct swh_sweep){.base = c, .shards = 1, .threads = 2};
    s->plan =
        (struct swh_sampling){.design = SWH_DESIGN_GRID, .axes = 2, .range = {{0, 0.9, 3}, {20, 60, 2}}};
    assert_int_equal(swh_key_find("fault.condenser_blocked.severity", &s->key[0], NULL), SWH_OK);
    assert_int_equal(swh_key_find("conditions.compressor_speed", &s->key[1], NULL), SWH_OK);
    assert_int_equal(swh_sweep_begin(s, NULL), SWH_OK);
    assert_int_equal(s->plan.count, CASES);
}

static void run_rows(const struct swh_sweep *s, struct swh_sweep_row rows[CASES])
{
    memset(rows, 0, CASES * sizeof *rows);
    assert_int_equal(swh_sweep_run(s, rows, NULL), SWH_OK);
}

static void assert_same_rows(const struct swh_sweep_row *a, const struct swh_sweep_row *b)
{
    assert_memory_equal(a, b, CASES * sizeof *a);
}

/* A row is what swh_run says of that case, to the last bit. */
static void test_rows_are_single_runs(void **state)
{
    (void)state;
    struct swh_case c;
    struct swh_sweep s;
    struct swh_sweep_row rows[CASES];
    small_case(&c);
    begin(&s, &c);
    run_rows(&s, rows);
    for (long i = 0; i < CASES; i++) {
        struct swh_case one;
        static struct swh_summary summary;
        small_case(&one);
        one.fault[SWH_FAULT_condenser_blocked].present = true;
        one.fault[SWH_FAULT_condenser_blocked].severity = (double)(i / 2) * 0.5 * 0.9;
        one.conditions.compressor_speed = i % 2 ? 60 : 20;
        assert_int_equal(swh_run(&one, NULL, &summary, NULL), SWH_OK);
        assert_int_equal((int)rows[i].result, (int)summary.outcome);
        assert_true(rows[i].input[1] == one.conditions.compressor_speed);
        assert_true(rows[i].end_time == summary.end_time && rows[i].duty == summary.duty);
        for (int k = 0; k < SWH_SWEEP_EXTREME_COUNT; k++) {
            const struct swh_sweep_extreme *x = &swh_sweep_extremes[k];
            assert_true(rows[i].extreme[k] == (x->highest ? summary.peak : summary.lowest)[x->channel].value);
        }
    }
    assert_true(rows[1].extreme[SWH_SWEEP_rotor_temperature] > rows[0].extreme[SWH_SWEEP_rotor_temperature]);
    swh_sweep_free(&s);
}

static void test_threads_and_parts_change_nothing(void **state)
{
    (void)state;
    struct swh_case c;
    struct swh_sweep s;
    struct swh_sweep_row two[CASES], one[CASES], parts[CASES];
    small_case(&c);
    begin(&s, &c);
    run_rows(&s, two);
    s.threads = 1;
    run_rows(&s, one);
    assert_same_rows(one, two);
    memset(parts, 0, sizeof parts);
    s.shards = 4;
    const long order[4] = {2, 0, 3, 1};
    for (int k = 0; k < 4; k++) {
        s.shard = order[k];
        assert_int_equal(swh_sweep_run(&s, parts, NULL), SWH_OK);
    }
    assert_same_rows(one, parts);
    swh_sweep_free(&s);
}

/* ---- interruption ---- */

struct keeper {
    struct swh_journal journal;
    int left; /* rows until the end comes */
    bool die; /* by SIGKILL; otherwise by an error as of a full disk */
};

static enum swh_status keep(long index, const struct swh_sweep_row *row, void *user, struct swh_error *err)
{
    struct keeper *k = user;
    if (k->left-- > 0)
        return swh_journal_add(&k->journal, index, row, err);
    if (k->die)
        raise(SIGKILL);
    return swh_error_set(err, SWH_ERR_OUTPUT, "no room");
}

static void make_folder(char folder[64])
{
    snprintf(folder, 64, "/tmp/swh_sweep_XXXXXX");
    assert_non_null(mkdtemp(folder));
}

/* the journal's path; "" if there is none */
static void find_journal(const char *folder, char path[512])
{
    path[0] = '\0';
    DIR *dir = opendir(folder);
    assert_non_null(dir);
    for (struct dirent *d = readdir(dir); d; d = readdir(dir))
        if (strstr(d->d_name, ".journal"))
            snprintf(path, 512, "%s/%.200s", folder, d->d_name);
    closedir(dir);
}

static void resumes(struct swh_sweep *s, const char *folder, long kept)
{
    struct swh_sweep_row whole[CASES], resumed[CASES];
    char path[512];
    long restored = 0;
    s->finished = NULL;
    run_rows(s, whole);
    find_journal(folder, path);
    const int fd = open(path, O_WRONLY | O_APPEND); /* a line that a crash cut off */
    assert_true(fd >= 0 && write(fd, "4 0 0x1.8p", 10) == 10 && close(fd) == 0);
    memset(resumed, 0, sizeof resumed);
    assert_int_equal(swh_journal_restore(folder, s, false, resumed, &restored, NULL), SWH_OK);
    assert_int_equal(restored, kept);
    struct keeper k = {.left = 100};
    assert_int_equal(swh_journal_open(&k.journal, folder, s, NULL), SWH_OK);
    s->finished = keep;
    s->user = &k;
    assert_int_equal(swh_sweep_run(s, resumed, NULL), SWH_OK);
    assert_int_equal(100 - k.left, CASES - kept);
    swh_journal_close(&k.journal);
    assert_same_rows(whole, resumed);
    memset(resumed, 0, sizeof resumed); /* the journal alone now holds every row, bit for bit */
    assert_int_equal(swh_journal_restore(folder, s, true, resumed, &restored, NULL), SWH_OK);
    assert_int_equal(restored, CASES);
    assert_same_rows(whole, resumed);
    swh_journal_remove(folder, s);
    assert_int_equal(rmdir(folder), 0);
}

static void test_killed_in_the_middle(void **state)
{
    (void)state;
    struct swh_case c;
    struct swh_sweep s;
    char folder[64];
    make_folder(folder);
    small_case(&c);
    begin(&s, &c);
    s.threads = 1; /* no pool of threads is carried over a fork */
    const pid_t child = fork();
    if (child == 0) {
        struct keeper k = {.left = 2, .die = true};
        struct swh_sweep_row rows[CASES] = {0};
        swh_journal_open(&k.journal, folder, &s, NULL);
        s.finished = keep;
        s.user = &k;
        swh_sweep_run(&s, rows, NULL);
        _exit(0);
    }
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL);
    resumes(&s, folder, 2);
    swh_sweep_free(&s);
}

static void test_disk_full_in_the_middle(void **state)
{
    (void)state;
    struct swh_case c;
    struct swh_sweep s;
    struct swh_sweep_row rows[CASES] = {0};
    struct swh_error err = {0};
    char folder[64];
    make_folder(folder);
    small_case(&c);
    begin(&s, &c);
    struct keeper k = {.left = 3};
    assert_int_equal(swh_journal_open(&k.journal, folder, &s, NULL), SWH_OK);
    s.finished = keep;
    s.user = &k;
    assert_int_equal(swh_sweep_run(&s, rows, &err), SWH_ERR_OUTPUT);
    assert_string_equal(err.what, "no room");
    swh_journal_close(&k.journal);
    resumes(&s, folder, 3);
    swh_sweep_free(&s);
}

static void test_other_sweeps_keep_apart(void **state)
{
    (void)state;
    struct swh_case c, other;
    struct swh_sweep s;
    small_case(&c);
    begin(&s, &c);
    const uint64_t before = swh_sweep_fingerprint(&s);
    assert_true(swh_sweep_fingerprint(&s) == before);
    other = c;
    other.params.friction_film_scale *= 1 + 1e-15;
    s.base = &other;
    assert_true(swh_sweep_fingerprint(&s) != before);
    s.base = &c;
    s.plan.range[0].hi = 0.91;
    assert_true(swh_sweep_fingerprint(&s) != before);
    swh_sweep_free(&s);
}

/* ---- bad input ---- */

static void refused(struct swh_sweep s, const char *word)
{
    struct swh_error err = {0};
    assert_int_equal(swh_sweep_begin(&s, &err), SWH_ERR_INPUT);
    assert_non_null(strstr(err.what, word));
    swh_sweep_free(&s);
}

static void test_bad_input(void **state)
{
    (void)state;
    struct swh_case c;
    struct swh_sweep good, s;
    struct swh_key key;
    small_case(&c);
    begin(&good, &c);
    assert_int_equal(swh_key_find("fault.no_such.severity", &key, NULL), SWH_ERR_INPUT);
    assert_int_equal(swh_key_find("charge", &key, NULL), SWH_ERR_INPUT);
    s = good;
    s.plan.range[0].hi = 1.2;
    refused(s, "limits");
    s = good;
    s.plan.range[0] = (struct swh_range){0.5, 0.2, 3};
    refused(s, "reversed");
    s = good;
    s.key[1] = s.key[0];
    s.plan.range[1] = s.plan.range[0];
    refused(s, "twice");
    s = good;
    s.shard = 4;
    s.shards = 4;
    refused(s, "part");
    c.schedule.given[SWH_IN_compressor_speed] = true;
    s = good;
    refused(s, "schedule");
    swh_sweep_free(&good);
}

/* What contradicts itself is a row that says so, not the end of the sweep. */
static void test_impossible_case_is_a_row(void **state)
{
    (void)state;
    struct swh_case c;
    struct swh_sweep_row rows[2] = {0};
    small_case(&c);
    struct swh_sweep s = {.base = &c, .shards = 1, .threads = 1};
    s.plan = (struct swh_sampling){.design = SWH_DESIGN_GRID, .axes = 1, .range = {{0.5, 1, 2}}};
    assert_int_equal(swh_key_find("fault.undercharge.severity", &s.key[0], NULL), SWH_OK);
    assert_int_equal(swh_sweep_begin(&s, NULL), SWH_OK);
    assert_int_equal(swh_sweep_run(&s, rows, NULL), SWH_OK);
    assert_true(rows[0].result != SWH_CASE_IMPOSSIBLE && rows[1].result == SWH_CASE_IMPOSSIBLE);
    assert_true(isnan(rows[1].extreme[0]));
    swh_sweep_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_killed_in_the_middle),
                                       cmocka_unit_test(test_disk_full_in_the_middle),
                                       cmocka_unit_test(test_rows_are_single_runs),
                                       cmocka_unit_test(test_threads_and_parts_change_nothing),
                                       cmocka_unit_test(test_other_sweeps_keep_apart),
                                       cmocka_unit_test(test_bad_input),
                                       cmocka_unit_test(test_impossible_case_is_a_row)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
