/* track_text.c - the screen of `track` and of grinding: golden text, width, plain characters. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/fake_result.h"
#include "flatwright/text.h"
#include "flatwright/track.h"

/* How it is printed: a pipe, a UTF-8 terminal, or for the ear. */
typedef enum medium { PIPE, TERMINAL, EAR } medium;

static fw_track *look(const fake_set *fake)
{
    fw_track *track = NULL;
    fw_error err;
    assert_int_equal(fw_track_new(&fake->result, &track, &err), FW_OK);
    return track;
}

static char *printed(const fw_track *track, medium how)
{
    char *text = NULL;
    size_t size = 0;
    fw_screen screen = {.out = open_memstream(&text, &size), .columns = 80};
    screen.drawing = screen.colour = how == TERMINAL;
    screen.spoken = how == EAR;
    fw_track_text(&screen, track);
    fclose(screen.out);
    int lines = 0;
    for (const char *c = text; *c; c++)
        lines += *c == '\n';
    assert_int_equal(lines, screen.lines);
    return text;
}

static void assert_prints(const fw_track *track, medium how, const char *want)
{
    char *text = printed(track, how);
    if (strcmp(text, want) != 0)
        print_error("%s\n", text);
    assert_string_equal(text, want);
    free(text);
}

/* Blanks and line breaks made one blank, so that a sentence can be found wherever it breaks. */
static char *joined(const fw_track *track)
{
    char *text = printed(track, PIPE), *to = text;
    for (const char *from = text; *from; from++) {
        char c = (char)(*from == '\n' ? ' ' : *from);
        if (c != ' ' || (to > text && to[-1] != ' '))
            *to++ = c;
    }
    *to = '\0';
    return text;
}

static void assert_says(const fw_track *track, const char *words, bool said)
{
    char *text = joined(track);
    if (!strstr(text, words) == said)
        print_error("'%s' %s:\n%s\n", words, said ? "not in" : "in", text);
    assert_true((strstr(text, words) != NULL) == said);
    free(text);
}

/* No line is wider than 80 columns; sequences of colour take none. */
static void assert_fits(const char *text, bool ascii)
{
    int columns = 0;
    while (*text) {
        unsigned code = 0;
        size_t length = fw_utf8(text, &code);
        assert_true(length > 0);
        if (ascii)
            assert_true(*text == '\n' || (*text >= 0x20 && *text < 0x7f));
        if (*text == '\033')
            length = strcspn(text, "m") + 1;
        else
            columns = *text == '\n' ? 0 : columns + fw_char_width(code);
        assert_true(columns <= 80);
        text += length;
    }
}

/* B was worked and read again: 20.5 nm; then worked once more. */
static fake_set *worked(void)
{
    fake_set *fake = fake_new(3, 4, 9);
    fake_work(fake, 1);
    fake_reread(fake, 1);
    fake->result.faces[fake->result.today[1]].figure.pv.value_nm = 20.5;
    return fake;
}

static void track_golden(void **state)
{
    (void)state;
    fake_set *fake = worked();
    fw_track *track = look(fake);
    assert_prints(track, PIPE,
"Collimator trio, round 2: target PV 10 nm at confidence 0.95.\n"
"Round 1: A 5.13 +- 0.94 nm, within; B 41.2 +- 2.3 nm, outside; C 9.4 +- 1.9 nm,\n"
"  undecided.\n"
"Round 2: A 5.13 +- 0.94 nm, within; B 20.5 +- 2.3 nm, outside; C 9.4 +- 1.9 nm,\n"
"  undecided.\n"
"\n"
"              nm          5              10              20                   50\n"
"A        round 1  ---------*-------       |\n"
"B        round 1                          |                             ---*--\n"
"         round 2                          |          ------*----\n"
"C        round 1             ------------*|------\n"
"                  * figure, - twice its uncertainty, | target\n"
"\n"
"Removed (the mean is not seen by fringes):\n"
"  Round 1, B: lap-on-top 30 min: 8.8 +- 1.9 nm of figure off (rms),\n"
"    17.6 +- 3.8 nm an hour.\n"
"Hours on the lap, and to go (nine in ten lie between the limits):\n"
"  A: no polishing yet; within, nothing to go.\n"
"  B: 30 min, halved every 30 min; about 52 min to go, at least 10 min; the most\n"
"    cannot be told yet.\n"
"  C: no polishing yet; undecided, so measure first; about 13 min to go if it\n"
"    falls like the others; the most cannot be told yet.\n"
"Polishing out: two hours per inch of diameter would be 20 h a flat, a sixth with\n"
"  a fast compound 3.3 h. Clear after an hour is not polished out: look for grey\n"
"  with a bright light grazing it.\n");
    fw_track_free(track);
    fake_free(fake);
}

static fw_sag sags[] = {{2, 0, 60, 1.0, 0.05, NULL, 2},
                        {2, 1, 60, 0.1, 0.05, NULL, 3},
                        {2, 2, 60, -0.8, 0.05, NULL, 4}};

/* Sags later than the fringes, and with no fringes at all: the figures are left out. */
static void grinding_golden(void **state)
{
    (void)state;
    fake_set *fake = fake_new(3, 4, 9);
    fake->job.sag = sags;
    fake->job.nsag = 3;
    fake->result.fit.readings = 0;
    fw_track *track = look(fake);
    assert_prints(track, PIPE,
"Collimator trio, round 1: target PV 10 nm at confidence 0.95.\n"
"Grinding: grind A on top of C: the upper wears hollow, the lower toward a hump.\n"
"A, round 2: power +4.00 +- 0.20 um (convex): not true to a micrometre.\n"
"B, round 2: power +0.40 +- 0.20 um: true to a micrometre.\n"
"C, round 2: power -3.20 +- 0.20 um (concave): not true to a micrometre.\n"
"Why: A is the more convex of the two with the most to take out, and loses\n"
"  4.00 um of power on top; C below is to gain 3.20 um. After it: A on B, B on C.\n"
"  Short spells, then wash, let them cool and read all sags again.\n"
"Twist: plates always ground with their marks at one turn can share a saddle that\n"
"  mates with itself in every pair, and a spherometer on three feet reads nothing\n"
"  of it. A quarter turn opposes the saddles; a half turn does not. Go through:\n"
"  turn 0 deg: B on A, C on B, A on C\n"
"  turn 90 deg: B on A, C on B, A on C\n"
"  turn 45 deg: B on A, C on B, A on C\n"
"  turn 135 deg: B on A, C on B, A on C\n"
"  The turn goes from the lower plate's mark to the upper plate's,\n"
"  counter-clockwise from above. Where sags ask for the other of two on top, swap\n"
"  them: it makes no difference to the twist.\n"
"Slurry and glass dust: keep wet, no dry sweeping, a respirator for dry powder.\n"
"  Heavy glass with sharp edges: two hands.\n"
"Hours on the lap:\n"
"  A: no polishing yet.\n"
"  B: no polishing yet.\n"
"  C: no polishing yet.\n"
"Polishing out: two hours per inch of diameter would be 20 h a flat, a sixth with\n"
"  a fast compound 3.3 h. Clear after an hour is not polished out: look for grey\n"
"  with a bright light grazing it.\n");
    fake->result.fit.readings = 144;
    assert_says(track, "Round 1: A", true);
    fw_track_free(track);
    fake->job.scans[0].round = 2; /* fringes of the same round: grinding is past */
    track = look(fake);
    assert_says(track, "Grinding: fringes were read since the last sags. A, round 2: power +4.00 "
                       "+- 0.20 um (convex)", true);
    assert_says(track, "Twist", false);
    fw_track_free(track);
    fake->job.sag = NULL;
    fake_free(fake);
}

/* What the spherometer can say besides: true, in doubt, no sigma, a zero that is off. */
static void grinding_words(void **state)
{
    (void)state;
    fw_sag sag[3];
    fake_set *fake = fake_new(3, 4, 9);
    memcpy(sag, sags, sizeof sag);
    fake->job.sag = sag;
    fake->job.nsag = 3;
    for (int f = 0; f < 3; f++)
        sag[f].sag_um = 0.05 * f;
    fw_track *track = look(fake);
    assert_says(track, "Grinding: go on to polish: every power is true to a micrometre. A, round "
                       "2: power +0.00 +- 0.20 um: true to a micrometre.", true);
    assert_says(track, "Finish the grinding with the turns below", true);
    fw_track_free(track);
    for (int f = 0; f < 3; f++)
        sag[f].sigma_um = 0.5;
    track = look(fake);
    assert_says(track, "read the sags again, do not grind", true);
    assert_says(track, "A wider ring tells more", true);
    fw_track_free(track);
    for (int f = 0; f < 3; f++)
        sag[f].sigma_um = NAN;
    track = look(fake);
    assert_says(track, "Grinding: read each sag again, or give sigma_um: no uncertainty is known.",
                true);
    assert_says(track, "Twist", false);
    fw_track_free(track);
    memcpy(sag, sags, sizeof sag);
    track = look(fake);
    track->grind->mated[0] = 1;
    track->grind->mated[1] = 2;
    track->grind->zero = (fw_quantity){-1400, 141};
    assert_says(track, "B and C were ground together last. If they mate by now, their powers are "
                       "equal and opposite, and the spherometer's zero is off by -1.40 +- 0.14 um "
                       "of power", true);
    fw_track_free(track);
    fake->job.sag = NULL;
    fake_free(fake);
}

/* Each cure in words, and one where the numbers point to none. */
static void circle_words(void **state)
{
    (void)state;
    static const char *const cures[] = {"repeat the pairings, or add a turn", "work shorter spells",
                                        "work longer", "change the method or the stroke",
                                        "work the high side", "work the worst flat"};
    fake_set *fake = worked();
    fw_track *track = look(fake);
    assert_says(track, "circles", false);
    track->circle = (fw_track_circle){true, false, 1, 3, {12.3, 2.1}, 0};
    assert_says(track, "From round 1 to 3 the set gained +12.3 +- 2.1 nm", true);
    assert_says(track, "circles", false);
    track->circle = (fw_track_circle){true, true, 1, 3, {1.3, 2.1}, 0};
    assert_says(track, "Going round in circles: from round 1 to 3 the set gained +1.3 +- 2.1 nm, "
                       "which is not significant. What would break it: another flat, or another "
                       "stroke", true);
    for (unsigned i = 0; i < 6; i++) {
        track->circle.breaks = 1u << i;
        for (unsigned j = 0; j < 6; j++)
            assert_says(track, cures[j], i == j);
    }
    fw_track_free(track);
    fake_free(fake);
}

/* Time to go, in all the ways that it can or cannot be told. */
static void to_go_words(void **state)
{
    (void)state;
    fake_set *fake = worked();
    fw_track *track = look(fake);
    track->flats[1].to_go = (fw_track_hours){2.5, 0.5, 14};
    assert_says(track, "about 2.5 h to go, at least 30 min, at most 14 h.", true);
    track->flats[1].to_go = (fw_track_hours){0.5, 0, 1};
    assert_says(track, "about 30 min to go, at most 60 min.", true);
    track->flats[1].to_go = (fw_track_hours){NAN, NAN, NAN};
    track->flats[1].fall_per_h = -0.2;
    assert_says(track, "30 min; no end in sight", true);
    track->flats[1].fall_per_h = NAN;
    assert_says(track, "not known before a spell has been measured", true);
    track->flats[1].nread = 0;
    track->flats[1].ground_h = 3;
    assert_says(track, "30 min after 3.0 h of grinding; time to go not known: its figure was not "
                       "read.", true);
    track->own_flat = 1;
    track->own_h = 14;
    assert_says(track, "Your own first flat tells better: B had 14 h when it could first be read.",
                true);
    fw_track_free(track);
    fake_free(fake);
}

/* Spells that were read as one, and those not read: said so; old ones are left to --json. */
static void spells_words(void **state)
{
    (void)state;
    fake_set *fake = worked();
    fw_track *track = look(fake);
    track->spells[0].rms = (fw_quantity){1, 1.9};
    assert_says(track, "30 min; less figure off than the readings show, 1.90 nm (rms).", true);
    track->spells[0].rms.value_nm = NAN;
    assert_says(track, "30 min; what it took off is not known.", true);
    fw_track_free(track);
    fake_free(fake);
    fake = fake_new(3, 4, 9);
    fw_scan scans[30], *kept = fake->job.scans;
    for (int r = 0; r < 30; r++) {
        scans[r] = kept[0];
        scans[r].round = r + 1;
    }
    fake->job.scans = scans;
    fake->job.nscans = 30;
    fake->result.round = 30;
    track = look(fake);
    assert_says(track, "18 earlier rounds are in --json. Round 19: A", true);
    assert_says(track, "Round 18:", false);
    fw_track_free(track);
    fake->job.scans = kept;
    fake->job.nscans = 1;
    fake_free(fake);
}

/* Many strokes between two readings are one line: how many, how long, of what kinds. */
static void spells_together(void **state)
{
    (void)state;
    fake_set *fake = worked();
    fw_work rows[3], *kept = fake->job.work;
    fw_removal *m = &fake->result.removals[0];
    fw_removal before = *m;
    for (int i = 0; i < 3; i++) {
        rows[i] = kept[0];
        rows[i].round = i == 2 ? 2 : 1;
        rows[i].method = i == 0 ? FW_RING : FW_SIDE;
        rows[i].hours = i == 0 ? 0.5 : 0.005;
    }
    size_t of[] = {0, 1, 2};
    m->work = of;
    m->nwork = 3;
    fake->job.work = rows;
    fake->job.nwork = 3;
    fw_track *track = look(fake);
    assert_says(track, "Rounds 1 to 2, B: 3 rows, 31 min (ring 30 min, side under 1 min): 8.8 +- "
                       "1.9 nm of figure off (rms)", true);
    assert_says(track, "Rounds 1 to 2, B: 3 rows, 31 min (ring 30 min, side under 1 min): 8.8 +- "
                       "1.9 nm of figure off (rms), 17.6 +- 3.8 nm an hour. Hours on", true);
    fw_track_free(track);
    fake->job.work[1].method = fake->job.work[2].method = FW_RING;
    track = look(fake);
    assert_says(track, "Rounds 1 to 2, B: 3 rows, ring 31 min: 8.8", true);
    fw_track_free(track);
    *m = before;
    fake->job.work = kept;
    fake->job.nwork = 1;
    fake_free(fake);
}

/* Long names, large rounds, many flats, nothing known: no line over 80, no chart for the ear. */
static void fits_everywhere(void **state)
{
    (void)state;
    static const medium media[] = {PIPE, TERMINAL, EAR};
    for (int which = 0; which < 4; which++) {
        fake_set *fake = which == 1 ? fake_new(9, 4, 9) : worked();
        if (which == 0) {
            fake_rename(fake, 0, "the-first-flat-of-the-new-set-of-three");
            fake_rename(fake, 1, "\xC3\xA9toile-deux");
            fake->result.faces[1].first_round = 12345678;
            fake->job.sag = sags;
            fake->job.nsag = 3;
        }
        if (which == 2)
            for (int f = 0; f < 3; f++)
                fake_undetermine(fake, f, -1);
        if (which == 3)
            fake->result.faces[1].figure.pv.u_nm = 1e4;
        fw_track *track = look(fake);
        for (int m = 0; m < 3; m++) {
            char *text = printed(track, media[m]);
            assert_fits(text, media[m] == PIPE && which != 0);
            assert_true((strstr(text, "twice its uncertainty") != NULL) == (media[m] != EAR));
            free(text);
        }
        fw_track_free(track);
        fake->job.sag = NULL;
        fake_free(fake);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(track_golden),   cmocka_unit_test(grinding_golden),
        cmocka_unit_test(grinding_words), cmocka_unit_test(circle_words),
        cmocka_unit_test(to_go_words),    cmocka_unit_test(spells_words), cmocka_unit_test(spells_together),
        cmocka_unit_test(fits_everywhere)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
