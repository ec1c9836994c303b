/* months.c - one set worked to the target by the program's own advice; 200 of them in tests/slow. */
#include "../support/months.h"

#include "../support/close.h"

/* From 122 nm: all three true figures come to 10 nm, and no flat that was good is spoilt. */
static void a_set_comes_home(void **state)
{
    (void)state;
    fw_menu *menu = months_menu();
    months m = months_run(5004, false, menu, NULL);
    fw_menu_free(menu);
    assert_true(m.start_nm > 100);
    assert_true(m.reached);
    assert_true(m.end_nm <= 10);
    assert_in_range(m.spells, 1, MONTHS_SPELLS);
    assert_false(m.spoilt);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_set_comes_home)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
