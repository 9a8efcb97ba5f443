/* Loops shared out among threads, also where no further thread can be made (pthread_create is wrapped at link
 * time). */
#include "solver/simulate/parallel.h"
#include "tests/check.h"

#include <errno.h>
#include <stdatomic.h>
#include <string.h>

int __real_pthread_create(pthread_t *t, const pthread_attr_t *a, void *(*f)(void *), void *user);
int __wrap_pthread_create(pthread_t *t, const pthread_attr_t *a, void *(*f)(void *), void *user);

static int allowed; /* threads that can still be made */

int __wrap_pthread_create(pthread_t *t, const pthread_attr_t *a, void *(*f)(void *), void *user)
{
    return allowed-- > 0 ? __real_pthread_create(t, a, f, user) : EAGAIN;
}

enum { ROUNDS = 1000 };
struct rounds {
    atomic_int done[ROUNDS];
    struct swh_team team;
    int in, most_in;
};

static void one_round(long i, void *user)
{
    struct rounds *r = user;
    atomic_fetch_add(&r->done[i], 1);
    swh_team_enter(&r->team);
    r->in++;
    r->most_in = r->in > r->most_in ? r->in : r->most_in;
    r->in--;
    swh_team_leave(&r->team);
    if (i == 700)
        swh_team_note_memory(&r->team);
}

static void once_each(int can_be_made, int threads)
{
    static struct rounds r;
    memset(&r, 0, sizeof r);
    swh_team_begin(&r.team);
    allowed = can_be_made;
    swh_parallel(ROUNDS, threads, one_round, &r);
    for (int i = 0; i < ROUNDS; i++)
        assert_int_equal(r.done[i], 1);
    assert_int_equal(r.most_in, 1);
    struct swh_error err = {0};
    assert_int_equal(swh_team_status(&r.team), SWH_ERR_MEMORY);
    assert_int_equal(swh_team_end(&r.team, &err), SWH_ERR_MEMORY);
    assert_int_equal(err.status, SWH_ERR_MEMORY);
    assert_true(err.what[0] != '\0');
}

static void test_every_round_once(void **state)
{
    (void)state;
    once_each(1000, 1);
    once_each(1000, 4);
    once_each(1000, 0);
    once_each(1000, 2000);
}

static void test_no_thread_to_be_had(void **state)
{
    (void)state;
    once_each(0, 8);
    once_each(2, 8);
}

static void test_nothing_to_do(void **state)
{
    (void)state;
    allowed = 10;
    swh_parallel(0, 4, one_round, NULL);
    assert_true(swh_processors() >= 1);
}

static void test_first_error_wins(void **state)
{
    (void)state;
    struct swh_team team;
    struct swh_error one = {0}, two = {0}, err = {0};
    swh_error_set(&one, SWH_ERR_SOLVER, "one");
    swh_error_set(&two, SWH_ERR_OUTPUT, "two");
    swh_team_begin(&team);
    assert_int_equal(swh_team_note(&team, SWH_OK, NULL), SWH_OK);
    assert_int_equal(swh_team_status(&team), SWH_OK);
    swh_team_note(&team, one.status, &one);
    swh_team_note(&team, two.status, &two);
    assert_int_equal(swh_team_end(&team, &err), SWH_ERR_SOLVER);
    assert_string_equal(err.what, "one");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_round_once),
        cmocka_unit_test(test_no_thread_to_be_had),
        cmocka_unit_test(test_nothing_to_do),
        cmocka_unit_test(test_first_error_wins),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
