/* chart.c - curves in characters: scales, shapes, gaps, the two kinds of drawing. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "flatwright/report.h"

static char *drawn(bool drawing, fw_chart_scale scale, int n, const fw_chart_panel *panels)
{
    char *text = NULL;
    size_t size = 0;
    fw_screen screen = {.out = open_memstream(&text, &size), .columns = 80, .drawing = drawing};
    fw_chart_draw(&screen, scale, n, panels, "mm", "nm", "none");
    fclose(screen.out);
    return text;
}

static void assert_drawn(bool drawing, fw_chart_scale scale, int n, const fw_chart_panel *panels,
                         const char *want)
{
    char *got = drawn(drawing, scale, n, panels);
    assert_string_equal(got, want);
    free(got);
}

static void assert_scale(int most, double largest, int rows, double step)
{
    fw_chart_scale scale = fw_chart_scale_of(most, largest);
    assert_int_equal(scale.rows, rows);
    assert_close(scale.step, step, 1e-12, 0);
    assert_true(largest <= (scale.rows / 2.0) * scale.step * (1 + 1e-9));
}

static void chooses_scales(void **state)
{
    (void)state;
    assert_scale(9, 16.8, 7, 5);
    assert_scale(9, 4.5, 9, 1);
    assert_scale(9, 4.6, 5, 2);
    assert_scale(9, 1, 5, 0.5);
    assert_scale(5, 16.8, 5, 10);
    assert_scale(5, 2.5, 5, 1);
    assert_scale(3, 12345, 3, 10000);
    assert_scale(9, 3e-7, 7, 1e-7);
    assert_scale(2, 1.5, 3, 1);
    assert_int_equal(fw_chart_scale_of(9, 0).rows, 3);
    assert_int_equal(fw_chart_scale_of(9, NAN).rows, 3);
    assert_int_equal(fw_chart_scale_of(9, INFINITY).rows, 3);
}

/* A straight line from corner to corner: five rows of height 1, ten columns of 1 mm. */
static void draws_a_slope(void **state)
{
    (void)state;
    fw_chart_panel panel = fw_chart_panel_of("0 deg", 10, -5, 5);
    fw_chart_trace(&panel, -5, -2.49);
    fw_chart_trace(&panel, 5, 2.49);
    assert_drawn(false, (fw_chart_scale){5, 1}, 1, &panel,
                 "    nm  0 deg\n"
                 "    +2 |        **|\n"
                 "    +1 |      *** |\n"
                 "     0 | - ****- -|\n"
                 "    -1 | ***      |\n"
                 "    -2 |**        |\n"
                 "    mm  -5      +5\n");
}

/* The same in dots: two across and four down in a cell; the slope is one dot up a dot across. */
static void draws_a_slope_in_dots(void **state)
{
    (void)state;
    fw_chart_panel panel = fw_chart_panel_of("A", 4, 0, 8);
    for (int i = 0; i < 8; i++)
        fw_chart_trace(&panel, i + 0.5, NAN); /* a gap before every point: no line is drawn */
    for (int i = 0; i < 8; i++) {
        panel.last_y = NAN;
        fw_chart_trace(&panel, i + 0.5, i < 4 ? 1.375 - 0.25 * i : -1.375);
    }
    assert_drawn(true, (fw_chart_scale){3, 1}, 1, &panel,
                 "    nm  A\n"
                 "    +1 \xE2\x94\x82\xE2\xA0\x91\xE2\xA2\x84  \xE2\x94\x82\n"
                 "     0 \xE2\x94\x82\xE2\xA0\x84\xE2\xA0\x84\xE2\xA0\x84\xE2\xA0\x84\xE2\x94\x82\n"
                 "    -1 \xE2\x94\x82  \xE2\xA3\x80\xE2\xA3\x80\xE2\x94\x82\n"
                 "    mm  0  8\n");
}

/* The curve is interrupted at NAN; a point alone is a dot. */
static void leaves_gaps(void **state)
{
    (void)state;
    fw_chart_panel panel = fw_chart_panel_of("bored", 10, -5, 5);
    fw_chart_trace(&panel, -4.5, 1);
    fw_chart_trace(&panel, -2.5, 1);
    fw_chart_trace(&panel, 0, NAN);
    fw_chart_trace(&panel, 2.5, 1);
    fw_chart_trace(&panel, 3.5, NAN);
    fw_chart_trace(&panel, 4.5, -1);
    assert_drawn(false, (fw_chart_scale){3, 1}, 1, &panel,
                 "    nm  bored\n"
                 "    +1 |***    *  |\n"
                 "     0 | - - - - -|\n"
                 "    -1 |         *|\n"
                 "    mm  -5      +5\n");
}

static void draws_side_by_side(void **state)
{
    (void)state;
    fw_chart_panel panels[2] = {fw_chart_panel_of("0 deg", 8, -1, 1),
                                fw_chart_panel_of("a title too long", 8, -1, 1)};
    fw_chart_trace(&panels[0], 0.9, 100); /* beyond the scale: at its edge */
    assert_drawn(false, (fw_chart_scale){3, 20}, 2, panels,
                 "    nm  0 deg    a title\n"
                 "   +20 |       *|        |\n"
                 "     0 | - - - -|  none  |\n"
                 "   -20 |        |        |\n"
                 "    mm  -1    +1 -1    +1\n");
}

/* A million points in one panel cost a pass and no memory; every one is seen. */
static void takes_many_points(void **state)
{
    (void)state;
    fw_chart_panel panel = fw_chart_panel_of("many", 40, 0, 1e6);
    for (int i = 0; i < 1000000; i++)
        fw_chart_trace(&panel, i, i == 500000 ? 3 : 0);
    fw_chart_panel expected = fw_chart_panel_of("many", 40, 0, 1e6);
    for (int i = 0; i < 80; i++)
        assert_close(panel.low[i], 0, 0, 0);
    assert_close(panel.high[40], 3, 0, 0);
    assert_close(panel.high[42], 0, 0, 0);
    assert_true(isnan(expected.high[40]));
}

static void cuts_its_width(void **state)
{
    (void)state;
    assert_int_equal(fw_chart_panel_of("", 1000, 0, 1).columns, FW_CHART_COLUMNS);
    assert_int_equal(fw_chart_panel_of("", -3, 0, 1).columns, 4);
    fw_chart_panel panel = fw_chart_panel_of("", 10, 0, 1);
    fw_chart_trace(&panel, -7, 1);
    fw_chart_trace(&panel, 7, 1); /* outside: drawn at the edges, never beyond the arrays */
    assert_close(panel.high[0], 1, 0, 0);
    assert_close(panel.high[19], 1, 0, 0);
    assert_true(isnan(panel.high[20]));
}

static void says_nothing_to_the_ear(void **state)
{
    (void)state;
    fw_screen screen = {.columns = 80, .spoken = true};
    fw_chart_panel panel = fw_chart_panel_of("", 10, 0, 1);
    fw_chart_draw(&screen, (fw_chart_scale){3, 1}, 1, &panel, "mm", "nm", "none");
    assert_int_equal(screen.lines, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(chooses_scales), cmocka_unit_test(draws_a_slope),
        cmocka_unit_test(draws_a_slope_in_dots), cmocka_unit_test(leaves_gaps),
        cmocka_unit_test(draws_side_by_side), cmocka_unit_test(takes_many_points),
        cmocka_unit_test(cuts_its_width), cmocka_unit_test(says_nothing_to_the_ear)};
    return cmocka_run_group_tests_name("chart", tests, NULL, NULL);
}
