/* solution_csv.c - the table of heights: header, rows, empty fields, states, full precision. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/fake_result.h"
#include "flatwright/report.h"

static void print_today(FILE *out, const fw_result *result)
{
    fw_solution_csv(out, result, false);
}

static void print_all(FILE *out, const fw_result *result)
{
    fw_solution_csv(out, result, true);
}

static int lines_in(const char *text)
{
    int lines = 0;
    for (; *text; text++)
        lines += *text == '\n';
    return lines;
}

static void prints_the_table(void **state)
{
    (void)state;
    fake_set *fake = fake_new(2, 1, 3);
    fw_point *points = fake->result.faces[1].profile.diameters[0].points;
    points[0].height_nm = 1.0 / 3;
    points[0].clear = false;
    points[2].height_nm = -2.5;
    fake->result.faces[0].profile.diameters[0].points[0].height_nm = 0.5;
    fake->result.faces[0].profile.diameters[0].points[2].height_nm = 0.25;
    char *text = fake_printed(print_today, &fake->result);
    assert_string_equal(text, "flat,state,diameter_deg,position_mm,height_nm,u_nm,clear\n"
                              "A,0,0,-120,0.5,1.4,1\n"
                              "A,0,0,0,1.25,1.4,1\n"
                              "A,0,0,120,0.25,1.4,1\n"
                              "B,0,0,-120,0.3333333333333333,1.4,0\n"
                              "B,0,0,0,-10,1.4,1\n"
                              "B,0,0,120,-2.5,1.4,1\n");
    free(text);
    fake_free(fake);
}

static void leaves_fields_empty(void **state)
{
    (void)state;
    fake_set *fake = fake_new(2, 2, 1);
    fake_undetermine(fake, 1, 1);
    fake->result.faces[0].profile.diameters[0].points[0].u_nm = (double)NAN;
    char *text = fake_printed(print_today, &fake->result);
    assert_non_null(strstr(text, "\nA,0,0,0,1.25,,1\n"));
    assert_non_null(strstr(text, "\nB,0,90,0,,,1\n"));
    free(text);
    fake_free(fake);
}

static void prints_states(void **state)
{
    (void)state;
    fake_set *fake = fake_new(3, 1, 5);
    fake_work(fake, 1);
    char *text = fake_printed(print_today, &fake->result);
    assert_int_equal(lines_in(text), 1 + 10); /* B was not read since */
    assert_null(strstr(text, "\nB,"));
    free(text);
    fake_reread(fake, 1);
    text = fake_printed(print_today, &fake->result);
    assert_int_equal(lines_in(text), 1 + 15);
    assert_non_null(strstr(text, "\nB,1,"));
    assert_null(strstr(text, "\nB,0,"));
    free(text);
    text = fake_printed(print_all, &fake->result);
    assert_int_equal(lines_in(text), 1 + 20);
    assert_true(strstr(text, "\nB,0,") < strstr(text, "\nB,1,"));
    free(text);
    fake_free(fake);
}

/* Names cannot hold these (job.ini refuses them), yet the table would stay a table. */
static void quotes_fields(void **state)
{
    (void)state;
    fake_set *fake = fake_new(2, 1, 1);
    fake_rename(fake, 0, "a,\"b\"\n");
    char *text = fake_printed(print_today, &fake->result);
    assert_non_null(strstr(text, "\n\"a,\"\"b\"\"\n\",0,0,0,"));
    free(text);
    fake_free(fake);
}

/* Nothing read: the header alone. */
static void prints_nothing(void **state)
{
    (void)state;
    fake_set *fake = fake_new(2, 0, 0);
    char *text = fake_printed(print_all, &fake->result);
    assert_int_equal(lines_in(text), 1);
    free(text);
    fake_free(fake);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(prints_the_table), cmocka_unit_test(leaves_fields_empty),
        cmocka_unit_test(prints_states), cmocka_unit_test(quotes_fields),
        cmocka_unit_test(prints_nothing)};
    return cmocka_run_group_tests_name("solution_csv", tests, NULL, NULL);
}
