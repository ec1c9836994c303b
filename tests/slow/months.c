/* months.c - two hundred sets worked from 100 to 300 nm to the target by the program's own advice. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/months.h"

enum { SETS = 200, FIRST = 5001 };

static int sets = SETS;
static unsigned long first_seed = FIRST;
static bool traced, only_advice;

static int compare(const void *a, const void *b)
{
    const double *x = a, *y = b;
    return (*x > *y) - (*x < *y);
}

static double median(int n, double *x)
{
    qsort(x, (size_t)n, sizeof *x, compare);
    return n > 0 ? 0.5 * (x[(n - 1) / 2] + x[n / 2]) : NAN;
}

/* A row of the table; returns the share of sets that reached the target. */
static double row(const char *name, const months *all, int *spoilt)
{
    double *x[4];
    int n = 0, reached = 0, stopped = 0, well = 0;
    for (int k = 0; k < 4; k++)
        assert_non_null(x[k] = calloc((size_t)sets, sizeof(double)));
    *spoilt = 0;
    for (int i = 0; i < sets; i++) {
        const months *m = &all[i];
        reached += m->reached;
        stopped += m->stopped;
        well += m->stopped_well;
        *spoilt += m->spoilt;
        x[3][i] = m->end_nm;
        if (!m->reached)
            continue;
        x[0][n] = m->spells;
        x[1][n] = m->pairings;
        x[2][n++] = m->hours;
    }
    printf("%-8s %6.1f %% %8.1f %% %8.1f %% %7.0f %9.0f %7.1f %8d %8.1f\n", name,
           100.0 * reached / sets, 100.0 * stopped / sets, stopped ? 100.0 * well / stopped : 0,
           median(n, x[0]), median(n, x[1]), median(n, x[2]), *spoilt, median(sets, x[3]));
    for (int k = 0; k < 4; k++)
        free(x[k]);
    return (double)reached / sets;
}

static void months_of_work(void **state)
{
    (void)state;
    fw_menu *menu = months_menu();
    months *advised = calloc((size_t)sets, sizeof *advised),
           *plain = calloc((size_t)sets, sizeof *plain);
    int spoilt, spoilt_plain;
    assert_non_null(advised);
    assert_non_null(plain);
    for (int i = 0; i < sets; i++) {
        advised[i] = months_run(first_seed + (unsigned long)i, false, menu, traced ? stdout : NULL);
        if (!only_advice)
            plain[i] = months_run(first_seed + (unsigned long)i, true, menu, NULL);
        if (traced || !advised[i].reached)
            printf("seed %lu: %.1f -> %.1f nm, %d spells, %d pairings%s\n",
                   first_seed + (unsigned long)i, advised[i].start_nm, advised[i].end_nm,
                   advised[i].spells, advised[i].pairings, advised[i].spoilt ? ", spoilt" : "");
        fflush(stdout);
    }
    printf("%d sets  reached  said stop  rightly  spells  pairings   hours   spoilt  end, nm\n",
           sets);
    double share = row("advice", advised, &spoilt), other = row("plain", plain, &spoilt_plain);
    free(advised);
    free(plain);
    fw_menu_free(menu);
    assert_true(share >= 0.95 && share > other);
    assert_int_equal(spoilt, 0);
}

/* months [SETS [FIRST_SEED [trace]]] */
int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(months_of_work)};
    sets = argc > 1 ? (int)strtol(argv[1], NULL, 10) : SETS;
    first_seed = argc > 2 ? strtoul(argv[2], NULL, 10) : FIRST;
    traced = argc > 3 && strcmp(argv[3], "trace") == 0;
    only_advice = argc > 3;
    return cmocka_run_group_tests(tests, NULL, NULL);
}
