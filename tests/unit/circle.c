/* circle.c - sets that go round in circles, and what would break it. */
#include <math.h>

#include "../support/close.h"
#include "../support/past.h"

/* A set with two rounds on A: 40, then `middle`, then `last`; B 20 and C 6 were left alone. */
static void two_rounds(past *s, double middle, double last, double u, double removed)
{
    past_begin(s);
    for (int r = 1; r <= 3; r++)
        past_scan(s, r);
    past_work(s, 1, 0, 0.5, FW_LAP_ON_TOP);
    past_work(s, 2, 0, 0.5, FW_FLAT_ON_TOP);
    past_face(s, 0, 0, 1, 40, u, FW_OUTSIDE);
    past_face(s, 0, 1, 2, middle, u, FW_OUTSIDE);
    past_face(s, 0, 2, 3, last, u, FW_OUTSIDE);
    past_face(s, 1, 0, 1, 20, u, FW_OUTSIDE);
    past_face(s, 2, 0, 1, 6, u, FW_OUTSIDE);
    for (int i = 0; i < 2; i++) {
        size_t spell = (size_t)i;
        past_removal(s, 0, i, 1, &spell, removed, 0.3);
    }
    s->result.round = 3;
}

static double rms3(double a, double b, double c)
{
    return sqrt((a * a + b * b + c * c) / 3);
}

static void sees_gain(void **state)
{
    (void)state;
    past s;
    two_rounds(&s, 30, 22, 2, 5);
    fw_track *t = past_look(&s);
    assert_true(t->circle.known);
    assert_false(t->circle.round);
    assert_int_equal(t->circle.from_round, 1);
    assert_int_equal(t->circle.to_round, 3);
    double one = rms3(40, 20, 6), two = rms3(22, 20, 6);
    assert_close(t->circle.gain.value_nm, one - two, 1e-12, 0);
    /* u by steps of each independent error: A then, A now, B, C (derived) */
    double h = 1e-4, sum = 0;
    double steps[] = {rms3(40 + h, 20, 6) - one, two - rms3(22 + h, 20, 6),
                      rms3(40, 20 + h, 6) - one - rms3(22, 20 + h, 6) + two,
                      rms3(40, 20, 6 + h) - one - rms3(22, 20, 6 + h) + two};
    for (int i = 0; i < 4; i++)
        sum += pow(2 * steps[i] / h, 2);
    assert_close(t->circle.gain.u_nm, sqrt(sum), 1e-4, 0);
    fw_track_free(t);
}

/* What is wrong, and what the bits must be. Removed is compared with the figure's rms, 10 nm. */
static void names_what_breaks_it(void **state)
{
    (void)state;
    past s;
    fw_track *t;
    two_rounds(&s, 41, 39, 1, 5);
    t = past_look(&s);
    assert_true(t->circle.round);
    assert_int_equal(t->circle.breaks, 0);
    fw_track_free(t);
    two_rounds(&s, 41, 39, 1, 13);
    t = past_look(&s);
    assert_int_equal(t->circle.breaks, FW_BREAK_LESS);
    fw_track_free(t);
    two_rounds(&s, 41, 39, 1, 1);
    t = past_look(&s);
    assert_int_equal(t->circle.breaks, FW_BREAK_MORE);
    fw_track_free(t);
    two_rounds(&s, 41, 39, 15, 5);
    t = past_look(&s);
    assert_int_equal(t->circle.breaks, FW_BREAK_MEASURE);
    fw_track_free(t);
    two_rounds(&s, 41, 39, 1, 5);
    s.work[1].method = FW_LAP_ON_TOP;
    s.faces[2].figure.symmetric.value_nm = 3; /* of 19.5 */
    t = past_look(&s);
    assert_int_equal(t->circle.breaks, FW_BREAK_METHOD | FW_BREAK_SIDE);
    fw_track_free(t);
    two_rounds(&s, 41, 39, 1, 5);
    s.faces[2].figure.verdict = FW_UNDECIDED; /* even the worst may be good */
    t = past_look(&s);
    assert_int_equal(t->circle.breaks, FW_BREAK_MEASURE);
    fw_track_free(t);
    two_rounds(&s, 41, 39, 1, 5);
    s.faces[3].figure.pv.value_nm = 90; /* B, left alone */
    t = past_look(&s);
    assert_int_equal(t->circle.breaks, FW_BREAK_FLAT);
    fw_track_free(t);
}

/* Flats that are not known at both ends are left out; without any nothing is said. */
static void circle_of_known_flats(void **state)
{
    (void)state;
    past s;
    two_rounds(&s, 41, 39, 1, 5);
    past_work(&s, 2, 1, 0.5, FW_RING); /* B: worked, and not read again */
    past_face(&s, 1, 1, 0, NAN, NAN, FW_UNDETERMINED);
    fw_track *t = past_look(&s);
    assert_true(t->circle.known);
    assert_close(t->circle.gain.value_nm, sqrt((1600 + 36) / 2.0) - sqrt((1521 + 36) / 2.0), 1e-12,
                 0);
    fw_track_free(t);
    s.faces[4].figure.pv.value_nm = NAN; /* C: read, and not determined */
    t = past_look(&s);
    assert_true(t->circle.known);
    assert_close(t->circle.gain.value_nm, 1, 1e-12, 0);
    assert_close(t->circle.gain.u_nm, sqrt(2), 1e-12, 0);
    fw_track_free(t);
    s.faces[2].figure.pv.u_nm = NAN;
    t = past_look(&s);
    assert_false(t->circle.known);
    assert_true(isnan(t->circle.gain.value_nm));
    fw_track_free(t);
    for (int end = 0; end < 2; end++) { /* nothing there at one end: no rms to compare with */
        two_rounds(&s, 41, 39, 1, 5);
        for (int i = 0; i < s.result.nfaces; i++)
            if (i != (end ? 0 : 2))
                s.faces[i].figure.pv.value_nm = 0;
        t = past_look(&s);
        assert_false(t->circle.known);
        fw_track_free(t);
    }
}

/* Three rounds on A: 60, then as two_rounds; readings in rounds 1 to 4, the stretch is 2 to 4. */
static void three_rounds(past *s, fw_method first)
{
    past_begin(s);
    for (int r = 1; r <= 4; r++)
        past_scan(s, r);
    past_work(s, 1, 0, 0.5, first);
    past_work(s, 2, 0, 0.5, FW_LAP_ON_TOP);
    past_work(s, 3, 0, 0.5, FW_FLAT_ON_TOP);
    past_face(s, 0, 0, 1, 60, 1, FW_OUTSIDE);
    past_face(s, 0, 1, 2, 40, 1, FW_OUTSIDE);
    past_face(s, 0, 2, 3, 41, 1, FW_OUTSIDE);
    past_face(s, 0, 3, 4, 39, 1, FW_OUTSIDE);
    past_face(s, 1, 0, 1, 20, 1, FW_OUTSIDE);
    past_face(s, 2, 0, 1, 6, 1, FW_OUTSIDE);
    s->result.round = 4;
}

/* Grinding within the stretch begins anew; before and after it it does not. */
static void grinding_and_circles(void **state)
{
    (void)state;
    for (int round = 2; round <= 4; round++) {
        past s;
        three_rounds(&s, FW_GRIND);
        past_work(&s, round, 1, 1, FW_GRIND);
        past_face(&s, 1, 1, 0, NAN, NAN, FW_UNDETERMINED);
        fw_track *t = past_look(&s);
        assert_int_equal(t->circle.known, round == 4);
        assert_int_equal(t->circle.from_round, round == 4 ? 2 : 0);
        fw_track_free(t);
    }
}

/* What was removed before the stretch, or is not known, says nothing of too much or too little. */
static void removals_of_the_stretch(void **state)
{
    (void)state;
    static const size_t spells[] = {0, 1, 2};
    past s;
    three_rounds(&s, FW_RING);
    past_removal(&s, 0, 0, 1, spells, 500, 0.3); /* too much, in round 1 */
    past_removal(&s, 0, 1, 1, spells + 1, 5, 0.3);
    past_removal(&s, 0, 2, 1, spells + 2, 5, 0.3);
    fw_track *t = past_look(&s);
    assert_true(t->circle.round);
    assert_int_equal(t->circle.breaks, 0);
    fw_track_free(t);
    s.removals[1].rms.u_nm = NAN; /* the other one was too little: all that are known were */
    s.removals[2].rms.value_nm = 1;
    t = past_look(&s);
    assert_int_equal(t->circle.breaks, FW_BREAK_MORE);
    fw_track_free(t);
    s.removals[1].from_state = 7; /* of a state that nobody read */
    s.removals[1].rms.u_nm = 0.3;
    t = past_look(&s);
    assert_int_equal(t->circle.breaks, FW_BREAK_MORE);
    fw_track_free(t);
    s.removals[1] = s.removals[0]; /* of a flat that was not known when the stretch began */
    s.removals[1].flat = 1;
    s.faces[4].last_round = 0;
    t = past_look(&s);
    assert_int_equal(t->circle.breaks, FW_BREAK_MORE);
    fw_track_free(t);
}

/* A lopsided flat wants a side, unless sides were worked: then it is the one method, or nothing. */
static void sides_were_worked(void **state)
{
    (void)state;
    for (int both = 0; both < 2; both++)
        for (int first = 0; first < 2; first++) {
            past s;
            two_rounds(&s, 41, 39, 1, 5);
            s.faces[2].figure.symmetric.value_nm = 3;
            s.work[first].method = FW_SIDE;
            s.work[1 - first].method = both ? FW_SIDE : FW_RING;
            fw_track *t = past_look(&s);
            assert_true(t->circle.round);
            assert_int_equal(t->circle.breaks, both ? FW_BREAK_METHOD : 0);
            fw_track_free(t);
        }
}

/* Worse, though nothing but noise: still round. All within: no circle, whatever the gain. */
static void within_is_no_circle(void **state)
{
    (void)state;
    past s;
    two_rounds(&s, 41, 45, 1, 5);
    fw_track *t = past_look(&s);
    assert_true(t->circle.round);
    fw_track_free(t);
    for (int i = 0; i < s.result.nfaces; i++)
        s.faces[i].figure.verdict = FW_WITHIN;
    t = past_look(&s);
    assert_true(t->circle.known);
    assert_false(t->circle.round);
    fw_track_free(t);
}

/* Worked since the last readings: the circle looks at what was read. */
static void unread_work(void **state)
{
    (void)state;
    past s;
    two_rounds(&s, 41, 39, 1, 5);
    past_work(&s, 3, 1, 0.5, FW_RING);
    s.result.round = 4;
    fw_track *t = past_look(&s);
    assert_true(t->circle.known && t->circle.round);
    assert_int_equal(t->circle.to_round, 3);
    assert_int_equal(t->nrounds, 4);
    assert_int_equal(t->faces[1 + 3 * 3], -1);
    fw_track_free(t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sees_gain),               cmocka_unit_test(names_what_breaks_it),
        cmocka_unit_test(circle_of_known_flats),   cmocka_unit_test(grinding_and_circles),
        cmocka_unit_test(removals_of_the_stretch), cmocka_unit_test(sides_were_worked),
        cmocka_unit_test(within_is_no_circle),     cmocka_unit_test(unread_work)
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
