/* annular.c - the columns of a bored flat against Mahajan's annular polynomials. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "../support/close.h"
#include "../support/refdata.h"
#include "../support/simulate.h"
#include "adjust/surface_terms.h"

enum { TOP = 8 };

/* Along theta = 0 a column less its plane is sqrt((m ? 2 : 1) (n + 1)) R_n^m(rho; epsilon). */
static void compare(const refdata *table, int row, surface_terms *t, const double *along)
{
    int n = (int)ref_number(table, row, "n"), m = (int)ref_number(table, row, "m");
    double p[TOP + 1];
    for (int k = 1; k <= 4; k++) {
        char name[16];
        snprintf(name, sizeof name, "rho%d", k);
        double rho = ref_number(table, row, name), sum = 0;
        snprintf(name, sizeof name, "R%d", k);
        surface_legendre(TOP, rho, p);
        for (int j = 0; j < t->basis->nterms; j++)
            if (t->basis->terms[j].n == n && t->basis->terms[j].m == m)
                for (int l = 0; l <= TOP; l++)
                    sum += along[l + j * (TOP + 1)] * p[l];
        assert_close(sum, sqrt((m ? 2 : 1) * (n + 1.0)) * ref_number(table, row, name), 0, 1e-11);
    }
}

/* Mahajan, J. Opt. Soc. Am. 71, 75 (1981): values by exact Gram-Schmidt, see the table's header. */
static void columns_are_annular(void **state)
{
    refdata *table = ref_open("annular-radial.csv");
    int compared = 0;
    (void)state;
    for (int i = 0; i < ref_rows(table); i++) {
        double epsilon = ref_number(table, i, "epsilon");
        surface_terms t = {0};
        double along[(TOP + 1) * 42];
        sim s;
        if (ref_number(table, i, "n") < 2)
            continue;
        sim_init(&s, 1, 200, 1);
        s.job->flats[0].bore_mm = 200 * epsilon;
        assert_int_equal(surface_terms_init(&t, s.job, TOP, NULL), FW_OK);
        assert_int_equal(surface_along(&t, 0, 0, 0, true, along, NULL), FW_OK);
        compare(table, i, &t, along);
        compared++;
        surface_terms_release(&t);
        sim_release(&s);
    }
    assert_true(compared > 60);
    ref_close(table);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(columns_are_annular)};
    return cmocka_run_group_tests_name("annular", tests, NULL, NULL);
}
