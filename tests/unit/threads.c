/* threads.c - heights, uncertainties and advice are the same with one thread of OpenBLAS and two. */
#include <cblas.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/folder.h"
#include "../support/sized.h"
#include "adjust/linalg.h"
#include "flatwright/next.h"
#include "flatwright/result.h"

/* Who runs: this program by itself, since OpenBLAS reads its environment before main. */
static const char *self;

static void tell_quantity(fw_quantity q)
{
    printf("%.17g\n%.17g\n", q.value_nm, q.u_nm);
}

static void tell_face(const fw_face *face)
{
    const fw_profile *p = &face->profile;
    for (int d = 0; d < p->ndiameters; d++)
        for (size_t i = 0; i < p->diameters[d].npoints; i++) {
            const fw_point *x = &p->diameters[d].points[i];
            if (x->determined)
                printf("%.17g\n%.17g\n", x->height_nm, x->u_nm);
        }
    tell_quantity(face->figure.pv);
    tell_quantity(face->figure.rms);
    tell_quantity(face->figure.power);
}

/* The child: all numbers of a job, the threads first. forced: two, whatever the library asks. */
static int tell(const char *path, bool forced)
{
    fw_error err = {0};
    fw_faults faults = {0};
    fw_job *job = NULL;
    fw_result *result = NULL;
    fw_next *next = NULL;
    fw_status status = fw_linalg_ready(&err);
    if (forced)
        openblas_set_num_threads(2);
    printf("%d\n", openblas_get_num_threads());
    if (!status && !(status = fw_job_read(path, &job, &faults, &err)) &&
        !(status = fw_solve(job, NULL, &result, &err)) &&
        !(status = fw_next_pairing(result, &next, &err))) {
        for (int f = 0; f < result->nfaces; f++)
            tell_face(&result->faces[f]);
        printf("%.17g\n%.17g\n", result->fit.chi_square, next->score_nm2);
        for (int i = 0; i < next->ncandidates; i++)
            printf("%.17g\n", next->candidates[i].score_after_nm2);
    }
    if (status)
        fprintf(stderr, "%s\n", err.text);
    fw_next_free(next);
    fw_result_free(result);
    fw_job_free(job);
    fw_faults_release(&faults);
    return status != FW_OK;
}

typedef struct told {
    int threads, n;
    double *value;
} told;

static told listen(const char *path, int threads, bool forced)
{
    char command[500], line[80];
    told t = {0};
    int room = 0;
    snprintf(command, sizeof command, "OPENBLAS_NUM_THREADS=%d '%s' %s '%s'", threads, self,
             forced ? "forced" : "asked", path);
    FILE *in = popen(command, "r");
    assert_non_null(in);
    while (fgets(line, sizeof line, in)) {
        if (t.n == room) {
            room = room ? 2 * room : 1000;
            t.value = realloc(t.value, (size_t)room * sizeof *t.value);
            assert_non_null(t.value);
        }
        t.value[t.n++] = strtod(line, NULL);
    }
    assert_int_equal(pclose(in), 0);
    assert_true(t.n > 20);
    t.threads = (int)t.value[0];
    return t;
}

static double apart(const told *a, const told *b)
{
    double most = 0;
    assert_int_equal(a->n, b->n);
    for (int i = 1; i < a->n; i++) {
        assert_int_equal(isnan(a->value[i]), isnan(b->value[i]));
        if (isnan(a->value[i])) /* nothing to be told */
            continue;
        assert_close(a->value[i], b->value[i], 1e-9, 1e-9);
        most = fmax(most, fabs(a->value[i] - b->value[i]) / fmax(fabs(a->value[i]), 1));
    }
    return most;
}

static void compare(const char *path)
{
    told one = listen(path, 1, false), two = listen(path, 2, false);
    told forced = listen(path, 2, true);
    assert_int_equal(one.threads, 1);
    assert_int_equal(two.threads, 1); /* the library asks for one */
    double asked_apart = apart(&one, &two), forced_apart = apart(&one, &forced);
    print_message("%d numbers at most %.1e apart, %.1e with %d threads\n", one.n - 1, asked_apart,
                  forced_apart, forced.threads);
    free(one.value);
    free(two.value);
    free(forced.value);
}

static void examples(void **state)
{
    (void)state;
    compare("examples/page");
    compare("examples/aurora");
}

/* 36 diameters, whose terms are many; 10^4 readings with gaps, whose rings are all different. */
static void middle_sized(void **state)
{
    const sized jobs[] = {{3, 4, 36, 21, 1, SIZED_EQUAL, 0, 0, 0},
                          {4, 6, 8, 209, 1, SIZED_BY_READING, 0.05, 0, 0}};
    (void)state;
    for (int k = 0; k < 2; k++) {
        folder at = folder_make();
        sized_write(at.path, jobs[k]);
        compare(at.path);
        folder_remove(&at);
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(examples), cmocka_unit_test(middle_sized)};
    self = argv[0];
    if (argc == 3)
        return tell(argv[2], strcmp(argv[1], "forced") == 0);
    return cmocka_run_group_tests_name("threads", tests, NULL, NULL);
}
