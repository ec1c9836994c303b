/* report_memory.c - every way to run out of memory in what is printed and drawn. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/fake_result.h"
#include "../support/refuse.h"
#include "flatwright/page.h"
#include "flatwright/report.h"

/* What is printed, and where to; nobody reads it. */
typedef struct sheet {
    FILE *out;
    fake_set *fake;
    fw_advice advice;
    fw_track *track;
    const char *picture;
    bool polar, all;
} sheet;

static fw_status print_page(void *data, fw_error *err)
{
    sheet *s = data;
    return fw_page_html(s->out, &s->advice, s->track, err);
}

static fw_status print_names(void *data, fw_error *err)
{
    sheet *s = data;
    return fw_page_names(s->out, &s->advice, s->track, err);
}

static fw_status print_picture(void *data, fw_error *err)
{
    sheet *s = data;
    return fw_page_picture(s->out, &s->advice, s->track, s->picture, err);
}

static fw_status print_grid(void *data, fw_error *err)
{
    sheet *s = data;
    return fw_grid_csv(s->out, &s->fake->result, s->polar, s->all, err);
}

static void begin(sheet *s)
{
    *s = (sheet){.out = fopen("/dev/null", "w"), .fake = fake_new(3, 2, 5)};
    assert_non_null(s->out);
    s->advice = (fw_advice){.result = &s->fake->result, .decision = FW_DECIDE_MEASURE,
                            .reason = FW_REASON_NOISE, .flat = 2};
    assert_int_equal(fw_track_new(&s->fake->result, &s->track, NULL), FW_OK);
}

static void end(sheet *s)
{
    fw_track_free(s->track);
    fake_free(s->fake);
    fclose(s->out);
}

static void test_page(void **state)
{
    (void)state;
    sheet s;
    begin(&s);
    assert_true(refuse_each(print_page, &s, FW_OK, REFUSE_SPARE_NONE) > 5);
    assert_true(refuse_each(print_names, &s, FW_OK, REFUSE_SPARE_NONE) > 3);
    end(&s);
}

/* Each by its name, as print_names gives them. */
static void test_pictures(void **state)
{
    (void)state;
    sheet s;
    char *names = NULL;
    size_t size = 0, n = 0;
    begin(&s);
    FILE *listed = open_memstream(&names, &size);
    assert_int_equal(fw_page_names(listed, &s.advice, s.track, NULL), FW_OK);
    fclose(listed);
    for (char *name = strtok(names, "\n"); name; name = strtok(NULL, "\n"), n++) {
        s.picture = name;
        assert_true(refuse_each(print_picture, &s, FW_OK, REFUSE_SPARE_NONE) > 3);
    }
    assert_true(n > 4);
    s.picture = "nothing";
    assert_true(refuse_each(print_picture, &s, FW_INPUT, REFUSE_SPARE_NONE) > 3);
    free(names);
    end(&s);
}

static void test_grid(void **state)
{
    (void)state;
    sheet s;
    begin(&s);
    assert_true(refuse_each(print_grid, &s, FW_OK, REFUSE_SPARE_NONE) >= 2);
    s.polar = s.all = true;
    s.fake->job.flats[0].bore_mm = 60;
    fake_work(s.fake, 0);
    assert_true(refuse_each(print_grid, &s, FW_OK, REFUSE_SPARE_NONE) >= 2);
    s.all = false;
    assert_true(refuse_each(print_grid, &s, FW_OK, REFUSE_SPARE_NONE) >= 2);
    end(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_page), cmocka_unit_test(test_pictures),
                                       cmocka_unit_test(test_grid)};
    return cmocka_run_group_tests_name("report_memory", tests, NULL, NULL);
}
