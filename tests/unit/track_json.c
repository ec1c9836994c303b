/* track_json.c - flatwright-track/1, read back by an independent parser (jansson). */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "../support/close.h"
#include "../support/fake_result.h"
#include "flatwright/track.h"

static json_t *printed(const fake_set *fake)
{
    fw_track *track = NULL;
    fw_error err;
    char *text = NULL;
    size_t size = 0;
    assert_int_equal(fw_track_new(&fake->result, &track, &err), FW_OK);
    FILE *out = open_memstream(&text, &size);
    fw_track_json(out, track);
    fclose(out);
    fw_track_free(track);
    json_error_t error;
    json_t *root = json_loads(text, JSON_REJECT_DUPLICATES, &error);
    if (!root)
        print_error("line %d: %s\n%s\n", error.line, error.text, text);
    assert_non_null(root);
    free(text);
    return root;
}

static json_t *get(json_t *from, const char *key)
{
    json_t *value = json_object_get(from, key);
    if (!value)
        print_error("no key '%s'\n", key);
    assert_non_null(value);
    return value;
}

static double number(json_t *from, const char *key)
{
    return json_number_value(get(from, key));
}

static const char *text_of(json_t *from, const char *key)
{
    return json_string_value(get(from, key));
}

static void keeps_the_format(void **state)
{
    (void)state;
    fake_set *fake = fake_new(3, 4, 9);
    fake_work(fake, 1);
    fake_reread(fake, 1);
    fw_face *today = &fake->result.faces[fake->result.today[1]];
    today->figure.pv.value_nm = 20.5;
    json_t *root = printed(fake);
    assert_string_equal(text_of(root, "format"), "flatwright-track/1");
    json_t *rounds = get(root, "rounds");
    assert_int_equal(json_array_size(rounds), 2);
    for (size_t r = 0; r < 2; r++) {
        json_t *round = json_array_get(rounds, r), *flats = get(round, "flats");
        assert_close(number(round, "round"), (double)r + 1, 0, 0);
        assert_int_equal(json_array_size(flats), 3);
        json_t *b = json_array_get(flats, 1);
        assert_string_equal(text_of(b, "name"), "B");
        assert_close(number(b, "state"), (double)r, 0, 0);
        assert_close(number(b, "pv_nm"), r ? 20.5 : 41.23, 0, 0);
        assert_close(number(b, "pv_u_nm"), 2.34, 0, 0);
        assert_close(number(b, "rms_nm"), 9.81, 0, 0);
        assert_close(number(b, "power_nm"), -30.13, 0, 0);
        assert_string_equal(text_of(b, "verdict"), "outside");
        assert_string_equal(text_of(json_array_get(flats, 0), "verdict"), "within");
    }
    json_t *work = json_array_get(get(root, "work"), 0);
    assert_close(number(work, "round"), 1, 0, 0);
    assert_string_equal(text_of(work, "flat"), "B");
    assert_string_equal(text_of(work, "method"), "lap-on-top");
    assert_close(number(work, "hours"), 0.5, 0, 0);
    assert_true(json_is_null(get(work, "removed_mean_nm")));
    assert_close(number(work, "removed_figure_rms_nm"), 8.81, 0, 0);
    assert_close(number(work, "removed_figure_u_nm"), 1.92, 0, 0);
    assert_close(number(work, "rate_nm_per_h"), 17.62, 1e-15, 0);
    assert_null(json_object_get(work, "together"));
    json_t *to_go = get(root, "to_go");
    json_t *a = json_array_get(to_go, 0), *b = json_array_get(to_go, 1);
    assert_int_equal(json_array_size(to_go), 3);
    assert_string_equal(text_of(a, "flat"), "A");
    assert_close(number(a, "hours"), 0, 0, 0); /* within */
    assert_true(json_is_number(get(a, "hours")) && json_is_number(get(a, "hours_high")));
    assert_true(number(b, "hours") > 0 && number(b, "hours_low") <= number(b, "hours"));
    assert_true(json_is_null(get(b, "hours_high"))); /* one spell is no longest time */
    assert_true(json_is_null(get(root, "circle")));
    assert_true(json_is_null(get(root, "grinding")));
    json_decref(root);
    fake_free(fake);
}

/* Never read since: state 1, and nothing told of it; what its work took off is not known. */
static void tells_nothing_unread(void **state)
{
    (void)state;
    fake_set *fake = fake_new(3, 4, 9);
    fake_work(fake, 1);
    fake_rename(fake, 1, "B\"\n");
    json_t *root = printed(fake);
    json_t *b = json_array_get(get(json_array_get(get(root, "rounds"), 1), "flats"), 1);
    assert_string_equal(text_of(b, "name"), "B\"\n");
    assert_close(number(b, "state"), 1, 0, 0);
    assert_true(json_is_null(get(b, "pv_nm")));
    assert_string_equal(text_of(b, "verdict"), "undetermined");
    json_t *work = json_array_get(get(root, "work"), 0);
    assert_true(json_is_null(get(work, "removed_figure_rms_nm")));
    assert_true(json_is_null(get(work, "rate_nm_per_h")));
    assert_true(json_is_null(get(json_array_get(get(root, "to_go"), 1), "hours")));
    json_decref(root);
    fake_free(fake);
}

/* Two spells read as one: the rows do not share the sum out. */
static void sums_up_together(void **state)
{
    (void)state;
    fake_set *fake = fake_new(3, 4, 9);
    fake_work(fake, 1);
    fake_reread(fake, 1);
    fw_removal *removal = &fake->result.removals[0];
    fw_work spells[2] = {fake->job.work[0], fake->job.work[0]}, *kept = fake->job.work;
    size_t both[2] = {0, 1}, *one = removal->work;
    fake->job.work = spells;
    fake->job.nwork = 2;
    removal->work = both;
    removal->nwork = 2;
    removal->hours = 1;
    json_t *root = printed(fake), *row = json_array_get(get(root, "work"), 1);
    assert_true(json_is_null(get(row, "removed_figure_rms_nm")));
    assert_close(number(row, "rate_nm_per_h"), 8.81, 1e-15, 0);
    assert_close(number(get(row, "together"), "spells"), 2, 0, 0);
    assert_close(number(get(row, "together"), "removed_figure_rms_nm"), 8.81, 0, 0);
    json_decref(root);
    fake->job.work = kept;
    fake->job.nwork = 1;
    removal->work = one;
    fake_free(fake);
}

static void has_grinding(void **state)
{
    (void)state;
    static fw_sag sag[] = {{2, 0, 60, 1.0, 0.05, NULL, 2},
                           {2, 1, 60, 0.1, 0.05, NULL, 3},
                           {2, 2, 60, -0.8, 0.05, NULL, 4}};
    fake_set *fake = fake_new(3, 4, 9);
    fake->job.sag = sag;
    fake->job.nsag = 3;
    json_t *root = printed(fake), *grinding = get(root, "grinding");
    assert_string_equal(text_of(grinding, "decision"), "grind");
    json_t *power = json_array_get(get(grinding, "powers"), 0);
    assert_close(number(power, "power_nm"), 4000, 1e-6, 0); /* 240 mm clear: sag times 4 */
    assert_close(number(power, "power_u_nm"), 200, 1e-6, 0);
    json_t *best = json_array_get(get(grinding, "pairings"), 0);
    assert_string_equal(text_of(best, "top"), "A");
    assert_string_equal(text_of(best, "bottom"), "C");
    assert_close(number(best, "top_less_nm"), 4000, 1e-6, 0);
    json_t *step = json_array_get(get(grinding, "twist"), 3);
    assert_string_equal(text_of(step, "bottom"), "A");
    assert_close(number(step, "turn_deg"), 90, 0, 0);
    json_decref(root);
    fake->job.sag = NULL;
    fake_free(fake);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(keeps_the_format), cmocka_unit_test(tells_nothing_unread),
        cmocka_unit_test(sums_up_together), cmocka_unit_test(has_grinding)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
