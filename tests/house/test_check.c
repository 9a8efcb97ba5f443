/* The check must be able to fail: what it accepts and refuses, by plain arithmetic. */
#include "tests/check.h"

static void accepts_what_is_close(void **state)
{
    (void)state;
    assert_true(check_is_close(1.0, 1.0, 0, 0));
    assert_true(check_is_close(100.5, 100.0, 0.005, 0)); /* 0.5 is 0.005 of 100, exactly */
    assert_true(check_is_close(-3.0, -3.25, 0, 0.25));
    assert_true(check_is_close(0.0, 0.0, 0, 0));
}

static void refuses_what_is_not(void **state)
{
    (void)state;
    assert_false(check_is_close(1.0 + 1e-15, 1.0, 0, 0)); /* not compared as float */
    assert_false(check_is_close(100.6, 100.0, 0.005, 0));
    assert_false(check_is_close(1e-9, 0.0, 1e-3, 0)); /* no absolute tolerance: zero means zero */
    assert_false(check_is_close(NAN, 1.0, 0.5, 1));
    assert_false(check_is_close(1.0, NAN, 0.5, 1));
    assert_false(check_is_close(INFINITY, INFINITY, 0.5, 1));
    assert_false(check_is_close(1.0, 2.0, INFINITY, 0));
    assert_false(check_is_close(1.0, 1.5, 0.6, 0));
    assert_false(check_is_close(1.0, 1.0, NAN, 0));
    assert_false(check_is_close(1.0, 1.0, -1e-3, 0));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(accepts_what_is_close),
        cmocka_unit_test(refuses_what_is_not),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
