/* track.c - rounds and what was done in them; hours of polishing; grinding. */
#include <math.h>

#include "../support/close.h"
#include "../support/past.h"

static void lists_rounds(void **state)
{
    (void)state;
    static const size_t first[] = {0};
    past s;
    past_falling(&s, 1);
    past_removal(&s, 0, 0, 1, first, 13, 2);
    fw_track *t = past_look(&s);
    assert_int_equal(t->nrounds, 3);
    for (int r = 0; r < 3; r++) {
        assert_int_equal(t->rounds[r], r + 1);
        assert_int_equal(t->faces[0 + 3 * r], r); /* the state of that round */
        assert_int_equal(t->faces[1 + 3 * r], 3); /* read once, still good */
    }
    assert_int_equal(t->nspells, 2);
    assert_int_equal(t->spells[0].together, 1);
    assert_close(t->spells[0].rms.value_nm, 13, 0, 0);
    assert_close(t->spells[0].rate.value_nm, 13, 0, 0);
    assert_int_equal(t->spells[1].removal, -1);
    assert_true(isnan(t->spells[1].rate.value_nm));
    assert_null(t->grind);
    fw_track_free(t);
}

/* Rows out of order; two spells of 0.5 and 1.5 h between two readings share one removal. */
static void shares_removal(void **state)
{
    (void)state;
    static const size_t both[] = {1, 0};
    past s;
    past_begin(&s);
    past_scan(&s, 1);
    past_scan(&s, 1000000);
    past_work(&s, 2, 0, 1.5, FW_RING);
    past_work(&s, 1, 0, 0.5, FW_LAP_ON_TOP);
    past_face(&s, 0, 0, 1, 100, 2, FW_OUTSIDE);
    past_face(&s, 0, 2, 1000000, 60, 2, FW_OUTSIDE);
    past_face(&s, 1, 0, 1, NAN, NAN, FW_UNDETERMINED);
    past_face(&s, 2, 0, 1, NAN, NAN, FW_UNDETERMINED);
    past_removal(&s, 0, 0, 2, both, 12, 1);
    s.result.round = 1000000;
    fw_track *t = past_look(&s);
    assert_int_equal(t->nrounds, 3); /* 1, 2, 1000000 */
    assert_int_equal(t->faces[3], -1); /* state 1 was never read */
    assert_int_equal(s.work[t->spells[0].work].round, 1);
    assert_int_equal(s.work[t->spells[1].work].round, 2);
    for (int i = 0; i < 2; i++) {
        assert_int_equal(t->spells[i].together, 2);
        assert_close(t->spells[i].rate.value_nm, 6, 1e-15, 0);
        assert_close(t->spells[i].rate.u_nm, 0.5, 1e-15, 0);
    }
    assert_close(t->flats[0].polished_h, 2, 0, 0);
    assert_int_equal(t->flats[0].nread, 2);
    assert_true(isnan(t->flats[1].to_go.hours)); /* no figure: nothing to tell */
    fw_track_free(t);
}

/* Grinding begins anew: only hours and states after it count. */
static void grinding_starts_anew(void **state)
{
    (void)state;
    past s;
    past_begin(&s);
    for (int r = 1; r <= 3; r++)
        past_scan(&s, r);
    past_work(&s, 1, 0, 7, FW_LAP_ON_TOP);
    past_work(&s, 1, 0, 3, FW_GRIND);
    past_work(&s, 1, 0, 20, FW_FLAT_ON_TOP);
    past_work(&s, 2, 0, 1, FW_FLAT_ON_TOP);
    past_face(&s, 0, 0, 1, 1000, 1, FW_OUTSIDE);
    past_face(&s, 0, 3, 2, 80, 1, FW_OUTSIDE);
    past_face(&s, 0, 4, 3, 40, 1, FW_OUTSIDE);
    past_face(&s, 1, 0, 2, 40, 1, FW_OUTSIDE);
    past_face(&s, 2, 0, 2, 40, 1, FW_OUTSIDE);
    s.result.round = 3;
    fw_track *t = past_look(&s);
    assert_close(t->flats[0].polished_h, 21, 0, 0);
    assert_close(t->flats[0].ground_h, 3, 0, 0);
    assert_int_equal(t->flats[0].nread, 2);
    assert_close(t->flats[0].fall_per_h, log(2), 1e-3, 0);
    assert_false(t->circle.known); /* one round of polishing since */
    fw_track_free(t);
}

/* 254 mm is ten inches: 20 h (common practice). B, read first, had 14 h by then. */
static void reckons_polishing_out(void **state)
{
    (void)state;
    past s;
    past_begin(&s);
    past_scan(&s, 2);
    past_work(&s, 1, 1, 14, FW_FLAT_ON_TOP);
    past_work(&s, 2, 0, 9, FW_FLAT_ON_TOP);
    past_face(&s, 0, 1, 3, 50, 1, FW_OUTSIDE);
    past_face(&s, 1, 1, 2, 50, 1, FW_OUTSIDE);
    past_face(&s, 2, 0, 3, 50, 1, FW_OUTSIDE);
    s.result.round = 3;
    fw_track *t = past_look(&s);
    assert_close(t->usual_h, 20, 1e-12, 0);
    assert_close(t->fast_h, 20.0 / 6, 1e-12, 0);
    assert_int_equal(t->own_flat, 1);
    assert_close(t->own_h, 14, 0, 0);
    fw_track_free(t);
    past_begin(&s); /* hours on A are not B's, and what grinding took away does not count */
    past_scan(&s, 3);
    past_work(&s, 1, 0, 5, FW_FLAT_ON_TOP);
    past_work(&s, 1, 1, 3, FW_FLAT_ON_TOP);
    past_work(&s, 1, 1, 2, FW_GRIND);
    past_work(&s, 2, 1, 11, FW_FLAT_ON_TOP);
    past_face(&s, 0, 1, 4, 50, 1, FW_OUTSIDE);
    past_face(&s, 1, 3, 3, 50, 1, FW_OUTSIDE);
    past_face(&s, 2, 0, 4, 50, 1, FW_OUTSIDE);
    s.result.round = 4;
    t = past_look(&s);
    assert_int_equal(t->own_flat, 1);
    assert_close(t->own_h, 11, 0, 0);
    fw_track_free(t);
    past_falling(&s, 1); /* all were read before any work */
    t = past_look(&s);
    assert_int_equal(t->own_flat, -1);
    assert_true(isnan(t->own_h));
    fw_track_free(t);
}

static void has_grinding(void **state)
{
    (void)state;
    past s;
    past_begin(&s);
    s.sag[0] = (fw_sag){1, 0, 50, 0.5, 0.1, NULL, 2};
    s.job.nsag = 1;
    for (int f = 0; f < 3; f++) {
        s.faces[f] = (fw_face){.flat = f, .figure = {.pv = {NAN, NAN}, .verdict = FW_UNDETERMINED}};
        s.today[f] = f;
    }
    s.result.nfaces = 3;
    fw_track *t = past_look(&s);
    assert_non_null(t->grind);
    assert_true(t->grind->due);
    fw_track_free(t);
    fw_track *none = NULL;
    fw_error err;
    s.sag[0].sag_um = 90000;
    assert_int_equal(fw_track_new(&s.result, &none, &err), FW_INPUT);
    assert_null(none);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lists_rounds),          cmocka_unit_test(shares_removal),
        cmocka_unit_test(grinding_starts_anew),  cmocka_unit_test(reckons_polishing_out),
        cmocka_unit_test(has_grinding)
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
