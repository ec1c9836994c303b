/* bench_words.c - what is said of the bench, and of each share of a budget, case by case. Invented. */
#include <math.h>
#include <string.h>

#include "../support/close.h"
#include "adjust/bench_notes.h"
#include "adjust/budget.h"

enum { FLATS = 9 };

typedef struct bench {
    fw_flat flats[FLATS];
    fw_bench_flat of[FLATS];
    fw_job job;
    fw_result r;
    bench_text text[BENCH_NOTES(FLATS)];
} bench;

/* Everything known, nothing to be said. */
static void lay(bench *b, int n)
{
    static char names[FLATS][16] = {"Ash", "Birch", "Cedar", "Douglas", "Elm", "Fir",
                                    "Gingko", "Hazel", "Ivy"};
    *b = (bench){.job = {.nflats = n, .gradient_k = NAN, .gap_um = 10, .flatness_nm = 30,
                         .support_bottom = {FW_SUPPORT_RING, 60, 0},
                         .support_top = {FW_SUPPORT_RING, 60, 0}}};
    strcpy(b->job.light.source, "mercury-green");
    for (int f = 0; f < n; f++) {
        b->flats[f].name = names[f];
        b->of[f] = (fw_bench_flat){.sag_nm = {5, 4}, .ring_nm = 3, .ring_mm = 68, .points_nm = 6,
                                   .points_mm = 64, .counted = true, .factor = 1,
                                   .factor_u = 0.05, .bow_nm = 2, .allowed_k = 0.02,
                                   .across_s = 375};
    }
    b->job.flats = b->flats;
    b->r.job = &b->job;
    b->r.bench.flats = b->of;
    b->r.bench.contrast_um = 500;
}

static void says(bench *b, const char *want)
{
    assert_int_equal(bench_notes(&b->r, b->text), want != NULL);
    if (want)
        assert_string_equal(b->text[0], want);
}

static void notes(void **state)
{
    (void)state;
    bench b;
    lay(&b, 3);
    says(&b, NULL);
    b.of[0].ring_nm = b.of[2].ring_nm = NAN;
    says(&b, "Ash, Cedar: without thickness and glass the bending cannot be reckoned, and is not "
             "counted");
    b.job.support_bottom.kind = b.job.support_top.kind = FW_SUPPORT_NONE;
    says(&b, NULL);
    lay(&b, 3);
    b.of[1].counted = false;
    says(&b, "Birch: bending is ignored, as job.ini asks");
    lay(&b, 3);
    b.of[1].thick = true;
    says(&b, "Birch: thickness over diameter is above 1/8, where plate theory leaves out what shear "
             "adds: that is counted as uncertainty");
    lay(&b, 3);
    b.job.bending = FW_BENDING_SOLVE;
    b.of[0].solved = b.of[1].solved = true;
    says(&b, "Cedar: no reading tells the bending from the figure, so plate theory is taken off; "
             "read pairs with bottom and top exchanged as well");
    b.of[2].solved = true;
    b.of[2].factor = 1 + 3.1 * hypot(0.05, 0.05);
    says(&b, "Cedar: its bending comes out as 1.22 +- 0.05 of what plate theory says: look at its "
             "thickness, its glass and what carries it");
    b.of[2].factor = 1 - 2.9 * hypot(0.05, 0.05);
    says(&b, NULL);
    lay(&b, 3);
    b.job.gradient_k = 0.05;
    says(&b, NULL);
    b.of[1].bow_nm = NAN;
    says(&b, "Birch: without thickness and the glass's expansion the bow by warmth is not counted");
    lay(&b, 3);
    b.job.support_bottom.kind = FW_SUPPORT_NONE;
    says(&b, "support_bottom is not given: what flats bend in that place is not counted");
    b.job.bending = FW_BENDING_IGNORE;
    says(&b, NULL);
    lay(&b, 3);
    b.job.support_top.kind = FW_SUPPORT_NONE;
    says(&b, "support_top is not given: what flats bend in that place is not counted");
    lay(&b, 3);
    b.job.gap_um = 251;
    says(&b, "over a gap of 251 um the fringes of mercury-green are faint: at 500 um they are gone");
    b.job.gap_um = 250;
    says(&b, NULL);
    b.r.bench.contrast_um = NAN;
    says(&b, NULL);
}

static void many_names(void **state)
{
    (void)state;
    bench b;
    lay(&b, FLATS);
    for (int f = 0; f < FLATS; f++)
        b.of[f].thick = true;
    assert_int_equal(bench_notes(&b.r, b.text), 1);
    assert_memory_equal(b.text[0], "Ash, Birch, Cedar, Douglas, Elm, Fir, Gingko and others: ", 57);
}

/* What is advised against `source` where its share is pv nm. */
static void advises(bench *b, fw_source source, double pv, const char *want)
{
    fw_face face = {.budget = {.nshares = 1, .shares = {{.source = source, .pv_nm = pv}}}};
    b->r.nfaces = 1;
    b->r.faces = &face;
    budget_advise(&b->r);
    assert_string_equal(face.budget.shares[0].remedy, want);
}

static void remedies(void **state)
{
    (void)state;
    bench b;
    lay(&b, 1);
    for (int source = FW_SOURCE_NOISE; source < FW_SOURCES; source++)
        advises(&b, (fw_source)source, 3, "small beside the target: leave it");
    advises(&b, FW_SOURCE_NOISE, 10, "read every pairing once more, laid anew: it falls by three tenths");
    advises(&b, FW_SOURCE_NOISE, 20.01,
            "read every pairing 5 times as often, each time laid anew: then it is a third of the "
            "target");
    advises(&b, FW_SOURCE_SPREAD, 10,
            "find what changed between the settings (suspects, closures), then read those again");
    advises(&b, FW_SOURCE_UNDETERMINED, NAN,
            "read the pairing that is named with what is undetermined");
    b.of[0].sag_nm[0] = NAN;
    b.of[0].sag_nm[1] = 4.51;
    advises(&b, FW_SOURCE_BENDING, 10,
            "carry it on a ring of 68 mm radius: it sinks 3 nm there instead of 4.5 nm (on three "
            "points at 64 mm 6 nm)");
    b.of[0].sag_nm[0] = 4.49;
    b.of[0].sag_nm[1] = NAN;
    advises(&b, FW_SOURCE_BENDING, 10,
            "read the pairings with bottom and top exchanged as well, and set bending = solve");
    b.job.bending = FW_BENDING_SOLVE;
    advises(&b, FW_SOURCE_BENDING, 10, "read the exchanged pairings once more");
    b.job.gradient_k = 0.05;
    advises(&b, FW_SOURCE_WARMTH, 10, "wait: every 7 minutes make it 2.7 times smaller");
    b.of[0].wait_s = 5399;
    advises(&b, FW_SOURCE_WARMTH, 10,
            "wait 90 minutes: 0.02 K from front to back, now 0.05 K, bows it by a third of the "
            "target");
    b.of[0].wait_s = 5400;
    advises(&b, FW_SOURCE_WARMTH, 10,
            "wait 1.5 hours: 0.02 K from front to back, now 0.05 K, bows it by a third of the "
            "target");
    b.of[0].wait_s = 9000;
    advises(&b, FW_SOURCE_WARMTH, 10,
            "wait 2.5 hours: 0.02 K from front to back, now 0.05 K, bows it by a third of the "
            "target");
    b.job.eye_mm = 1500; /* the false rise falls with the square of the distance */
    advises(&b, FW_SOURCE_VIEW, 12, "move the eye from 1.5 m to 3 m, or bring the flats 4 times nearer");
}

/* Largest first by what the job judges; what is not bounded before all. */
static void ranks(void **state)
{
    (void)state;
    for (int measure = 0; measure < 2; measure++) {
        bench b;
        lay(&b, 1);
        b.job.measure = measure ? FW_MEASURE_IRREGULARITY : FW_MEASURE_PV;
        b.job.eye_mm = 1000;
        fw_face face = {.budget = {.nshares = 4,
                                   .shares = {{FW_SOURCE_NOISE, 1, 9, 4, ""},
                                              {FW_SOURCE_VIEW, 1, 7, 5, ""},
                                              {FW_SOURCE_UNDETERMINED, NAN, NAN, NAN, ""},
                                              {FW_SOURCE_SPREAD, 1, 8, 6, ""}}}};
        static const fw_source want[2][4] = {
            {FW_SOURCE_UNDETERMINED, FW_SOURCE_SPREAD, FW_SOURCE_VIEW, FW_SOURCE_NOISE},
            {FW_SOURCE_UNDETERMINED, FW_SOURCE_NOISE, FW_SOURCE_SPREAD, FW_SOURCE_VIEW}};
        b.r.nfaces = 1;
        b.r.faces = &face;
        budget_advise(&b.r);
        for (int k = 0; k < 4; k++)
            assert_int_equal(face.budget.shares[k].source, want[measure][k]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(notes), cmocka_unit_test(many_names),
                                       cmocka_unit_test(remedies), cmocka_unit_test(ranks)};
    return cmocka_run_group_tests_name("bench_words", tests, NULL, NULL);
}
