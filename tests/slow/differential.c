/* differential.c - 10^5 small jobs at random, or as many as the argument says, against a dense solve. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "../support/close.h"
#include "../support/design.h"
#include "../support/versus.h"

static long jobs = 100000;
static unsigned long first = 1;

/*
 * Small enough for many, one in fifty larger; at least two rings inside the clear aperture. With one,
 * the datum's slope takes the whole odd part of a diameter, and what is left could be told where the
 * program says undetermined (Known shortfalls in DEVELOPERS.md).
 */
static void random_job(sim *s, unsigned long seed)
{
    design d = design_random(seed);
    d.clear = d.clear && d.nstations > 6;
    if (seed % 50) {
        d.nflats = 2 + d.nflats % 2;
        d.ndiam = 1 + d.ndiam % 2;
        d.nstations = d.clear ? 7 + d.nstations % 2 : 5 + d.nstations % 4;
        d.rounds = d.rounds > 2 ? 2 : d.rounds;
        d.turned = d.turned % 2;
        d.repeats = 0;
    }
    sim_init(s, d.nflats, 200, seed);
    s->sigma_nm = seed % 3 ? 2 : 0;
    s->stated_nm = seed % 5 ? 2 : NAN;
    d.weights = d.weights && seed % 5;
    design_read(&d, s);
}

static void test_jobs(void **state)
{
    versus_tally t = {0};
    (void)state;
    for (long k = 0; k < jobs; k++) {
        sim s;
        random_job(&s, first + (unsigned long)k);
        versus_dense(s.job, &t);
        sim_release(&s);
    }
    print_message("%ld jobs, %d heights; of the faces %d told in full, %d in part, %d with untied "
                  "diameters, %d on a datum of the better stations; %d heights could have been told\n",
                  jobs, t.heights, t.full, t.partial, t.untied, t.restricted, t.less);
    assert_true(t.heights > 0 && t.less <= t.heights / 1000);
}

/* differential [JOBS [FIRST SEED]] */
int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_jobs)};
    if (argc > 1)
        jobs = strtol(argv[1], NULL, 10);
    if (argc > 2)
        first = strtoul(argv[2], NULL, 10);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
