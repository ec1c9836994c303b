/* verdicts.c - are the stated probabilities true? 2000 simulated sets a model, or as many as is said. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "../support/close.h"
#include "../support/population.h"

static int sets = 2000;

static void run(unsigned long seed, double bow_nm, population kind)
{
    tally t;
    population_run(sets, seed, bow_nm, kind, &t);
    print_message(
        "stated probability   flats   mean stated   share within   off by (binomial sd)\n");
    for (int k = 0; k < BANDS; k++) {
        const band *b = &t.band[k];
        double n = b->flats ? b->flats : 1;
        print_message("%.2f to %.2f        %6d   %11.3f   %12.3f   %+.1f\n", band_edge[k],
                      fmin(band_edge[k + 1], 1), b->flats, b->stated / n, b->within / n, band_z(b));
    }
    print_message("PV: mean error %+.2f nm, rms error %.2f nm, within two u %.3f\n",
                  t.error / t.flats, sqrt(t.square / t.flats), (double)t.covered / t.flats);
    assert_true(t.covered >= 0.9 * t.flats);
    for (int k = 0; k < BANDS && kind <= POPULATION_FACES; k++)
        assert_true(fabs(band_z(&t.band[k])) <= 3);
}

static void calibrated(void **state)
{
    (void)state;
    run(50000, 0, POPULATION_MIXED);
}

/* Warmth that may bow every flat by 3 nm, a sixth to twice the reading noise's share. */
static void calibrated_warm(void **state)
{
    (void)state;
    run(90000, 3, POPULATION_MIXED);
}

/* Odd turns and stations that never meet: PV over the whole face. */
static void calibrated_surfaces(void **state)
{
    (void)state;
    run(50000, 0, POPULATION_FACES);
}

/* Flats that are all alike, of terms that are few: PV is told; probabilities are those of a mixture. */
static void told_of_few_terms(void **state)
{
    (void)state;
    for (population kind = POPULATION_POWER; kind <= POPULATION_COARSE; kind++)
        run(50000, 0, kind);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(calibrated),
                                       cmocka_unit_test(calibrated_warm),
                                       cmocka_unit_test(calibrated_surfaces),
                                       cmocka_unit_test(told_of_few_terms)};
    if (argc > 1)
        sets = (int)strtol(argv[1], NULL, 10);
    return cmocka_run_group_tests_name("verdicts", tests, NULL, NULL);
}
