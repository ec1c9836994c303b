/* unread.c - a rim that no station reached is spoken of where it is wide, and only there. Invented. */
#include <string.h>

#include "../support/close.h"
#include "../support/simulate.h"
#include "flatwright/result.h"

/*
 * Reads three pairs, one of them turned too, along four diameters to `end` mm, and releases s: is `want`
 * said, and among the notes? "": nothing.
 */
static void read_to(sim *s, double end, const char *want)
{
    double x[9];
    int notes = 0;
    fw_result *r = NULL;
    s->sigma_nm = s->stated_nm = 1;
    sim_stations(9, end, x);
    for (int pair = 0; pair < 3; pair++)
        sim_fan(s, 1, pair, (pair + 1) % 3, 0, 4, 9, x);
    sim_fan(s, 1, 0, 1, 45, 4, 9, x);
    assert_int_equal(fw_solve(s->job, NULL, &r, NULL), FW_OK);
    assert_string_equal(r->unread, want);
    for (int i = 0; i < r->nnotes; i++)
        if (strncmp(r->notes[i], "unread: ", 8) == 0) {
            assert_string_equal(r->notes[i] + 8, want);
            notes++;
        }
    assert_int_equal(notes, want[0] != '\0');
    fw_result_free(r);
    sim_release(s);
}

static void where_it_is_wide(void **state)
{
    static const struct {
        double end;
        const char *want;
    } cases[] = {
        {80, ""},
        {76, ""}, /* a twentieth is left in practice */
        {75.5, "A beyond 75.5 mm of 80, and 2 more; PV and verdict do not speak of that rim"},
        {70, "A beyond 70 mm of 80, and 2 more; PV and verdict do not speak of that rim"},
    };
    (void)state;
    for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        sim s;
        sim_init(&s, 3, 160, 11);
        read_to(&s, cases[k].end, cases[k].want);
    }
}

/* Of B only 62 mm count, and its stations at 52.5 are the last of them. */
static void the_widest_is_named(void **state)
{
    (void)state;
    for (int alone = 0; alone < 2; alone++) {
        sim s;
        sim_init(&s, 3, 160, 12);
        s.job->flats[1].clear_mm = 124;
        s.job->flats[0].clear_mm = s.job->flats[2].clear_mm = alone ? 140 : 160;
        read_to(&s, 70,
                alone ? "B beyond 52.5 mm of 62; PV and verdict do not speak of that rim"
                      : "B beyond 52.5 mm of 62, and 2 more; PV and verdict do not speak of that rim");
    }
}

/* rms is told over the whole aperture, and surfaces are. */
static void where_the_verdict_does(void **state)
{
    (void)state;
    for (int faces = 0; faces < 2; faces++) {
        sim s;
        sim_init(&s, 3, 160, 13);
        s.job->measure = FW_MEASURE_RMS;
        s.job->model = faces ? FW_MODEL_SURFACE : FW_MODEL_PROFILE;
        read_to(&s, 70,
                faces ? "" : "A beyond 70 mm of 80, and 2 more; PV does not speak of that rim");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(where_it_is_wide),
                                       cmocka_unit_test(the_widest_is_named),
                                       cmocka_unit_test(where_the_verdict_does)};
    return cmocka_run_group_tests_name("unread", tests, NULL, NULL);
}
