/* budget_text.c - the budget on the screen and as JSON. All numbers are invented. */
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/fake_result.h"
#include "flatwright/alloc.h"
#include "flatwright/report.h"

static void print_budget(FILE *out, const fw_result *result)
{
    fw_screen screen = {.out = out, .columns = 80};
    fw_budget_text(&screen, result);
}

static void print_json(FILE *out, const fw_result *result)
{
    fw_solution_json(out, result, false);
}

static fake_set *made(void)
{
    fake_set *fake = fake_new(3, 2, 9);
    fw_budget *b = &fake->result.faces[0].budget;
    b->nshares = 3;
    b->shares[0] = (fw_share){FW_SOURCE_UNDETERMINED, 0, NAN, NAN, "read AB turned"};
    b->shares[1] = (fw_share){FW_SOURCE_WARMTH, 6, 0.001, 4, "wait 7 minutes"};
    b->shares[2] = (fw_share){FW_SOURCE_NOISE, 8, 1, 3, ""};
    b->total = (fw_share){.power_nm = 10, .irregularity_nm = NAN, .pv_nm = NAN};
    fake->result.bench.any = true;
    fake->result.bench.flats = fw_alloc(3, sizeof(fw_bench_flat));
    for (int f = 0; f < 3; f++)
        fake->result.bench.flats[f] =
            (fw_bench_flat){.sag_nm = {41, NAN}, .ring_nm = 2, .ring_mm = 85, .points_nm = 7,
                            .points_mm = 81, .shear_nm = 3, .counted = true, .solved = true,
                            .factor = 1.04, .factor_u = 0.03, .bow_nm = NAN, .allowed_k = NAN,
                            .across_s = NAN, .wait_s = NAN};
    fake->result.bench.rise_nm = fake->result.bench.contrast_um = NAN;
    return fake;
}

static void done(fake_set *fake)
{
    fw_free(fake->result.bench.flats);
    fake->result.bench.flats = NULL;
    fake_free(fake);
}

static void test_screen(void **state)
{
    (void)state;
    fake_set *fake = made();
    char *text = fake_printed(print_budget, &fake->result);
    assert_non_null(strstr(text, "undetermined parts       0.00          open     open"));
    assert_non_null(strstr(text, "warmth                   6.00          0.00     4.00"));
    assert_non_null(strstr(text, "together                 10.0          open     open"));
    assert_non_null(strstr(text, "- warmth: wait 7 minutes."));
    assert_null(strstr(text, "- reading noise:"));
    assert_non_null(strstr(text, "41 nm as bottom"));
    free(text);
    done(fake);
}

static void test_json(void **state)
{
    (void)state;
    fake_set *fake = made();
    char *text = fake_printed(print_json, &fake->result);
    json_t *root = json_loads(text, JSON_REJECT_DUPLICATES, NULL);
    assert_non_null(root);
    json_t *flats = json_object_get(root, "flats");
    json_t *budget = json_object_get(json_array_get(flats, 0), "budget");
    json_t *sources = json_object_get(budget, "sources"), *warm = json_array_get(sources, 1);
    assert_int_equal(json_array_size(sources), 3);
    assert_string_equal(json_string_value(json_object_get(warm, "source")), "warmth");
    assert_close(json_number_value(json_object_get(warm, "pv_nm")), 4, 0, 0);
    assert_true(json_is_null(json_object_get(json_array_get(sources, 0), "pv_nm")));
    assert_close(json_number_value(json_object_get(json_object_get(budget, "total"), "power_nm")),
                 10, 0, 0);
    json_t *never = json_object_get(json_array_get(flats, 1), "budget");
    assert_true(json_is_null(json_object_get(never, "total")));
    json_t *bench = json_object_get(json_object_get(root, "bench"), "flats");
    json_t *one = json_array_get(bench, 2);
    assert_close(json_number_value(json_object_get(one, "factor")), 1.04, 0, 0);
    assert_true(json_is_null(json_object_get(one, "sag_top_nm")));
    json_decref(root);
    free(text);
    done(fake);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_screen), cmocka_unit_test(test_json)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
