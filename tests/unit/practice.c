/* practice.c - tests of made-up readings: marked, the same again, true to the truth, over nothing. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "../support/close.h"
#include "flatwright/rehearse.h"
#include "flatwright/result.h"
#include "flatwright/stroke.h"

static char root[64];
static fw_mate mates[] = {{0, 1, 0}, {1, 2, 0}, {2, 0, 0}, {0, 1, 45}};
static double fan[] = {0, 45, 90, 135}, stations[] = {-90, -60, -30, 0, 30, 60, 90};

static const char *path(const char *name)
{
    static char room[2][200];
    static int turn;
    char *to = room[turn ^= 1];
    snprintf(to, sizeof room[0], "%s/%s", root, name);
    return to;
}

static void put(const char *name, const char *text)
{
    FILE *out = fopen(path(name), "w");
    assert_non_null(out);
    assert_true(fputs(text, out) >= 0);
    assert_int_equal(fclose(out), 0);
}

/* The file's text, to be freed; NULL: there is none. */
static char *get(const char *name)
{
    FILE *in = fopen(path(name), "r");
    char *text = calloc(1, 100000);
    if (in) {
        assert_true(fread(text, 1, 99999, in) < 99999);
        assert_int_equal(fclose(in), 0);
        return text;
    }
    free(text);
    return NULL;
}

static fw_status practise_by(const fw_scheme *plan, const char *from, const char *to,
                             unsigned long seed, fw_error *err)
{
    char folder[200];
    fw_job *job = NULL;
    fw_faults faults;
    fw_rehearsal *r = NULL;
    const fw_scheme scheme = *plan;
    snprintf(folder, sizeof folder, "%s", path(from));
    assert_int_equal(fw_job_read_set(folder, &job, &faults, NULL), FW_OK);
    fw_faults_release(&faults);
    assert_int_equal(fw_rehearse(job, &scheme, &r, NULL), FW_OK);
    fw_status status = fw_practice(r, seed, to ? path(to) : NULL, NULL, err);
    fw_rehearsal_free(r);
    fw_job_free(job);
    return status;
}

static fw_status practise(const char *from, const char *to, unsigned long seed, fw_error *err)
{
    const fw_scheme plan = {4, mates, 4, fan, 7, stations, 1.5, FW_MODEL_AUTO};
    return practise_by(&plan, from, to, seed, err);
}

static int setup(void **state)
{
    (void)state;
    snprintf(root, sizeof root, "/tmp/practice.XXXXXX");
    if (!mkdtemp(root) || mkdir(path("set"), 0777))
        return -1;
    put("set/job.ini", "; a set\r\n [ set ]\r\nflats = Ash Birch Cedar\r\ndiameter = 200 mm\r\n"
                       "title = a \"b\" ; c\r\n[readings]\r\nsigma = 9\r\nunit = nm");
    return 0;
}

static int teardown(void **state)
{
    char command[100];
    (void)state;
    snprintf(command, sizeof command, "rm -rf '%s'", root);
    return system(command);
}

/* Marked in title, comment and every row; the same seed gives the same files, another does not. */
static void marked(void **state)
{
    fw_job *job = NULL;
    fw_faults faults;
    char *text, *again;
    int rows = 0;
    (void)state;
    assert_int_equal(practise("set", "one", 7, NULL), FW_OK);
    assert_int_equal(practise("set", "two", 7, NULL), FW_OK);
    assert_int_equal(practise("set", "three", 8, NULL), FW_OK);
    assert_int_equal(fw_job_read(path("one"), &job, &faults, NULL), FW_OK);
    fw_faults_release(&faults);
    assert_string_equal(job->title, "Practice, invented: a \"b\"");
    assert_int_equal(job->nreadings, 4 * 4 * 7);
    assert_close(job->readings[0].sigma_nm, 1.5, 0, 0);
    text = get("one/readings.csv");
    assert_memory_equal(text, "# Invented: ", 12);
    for (const char *at = text; (at = strstr(at, ",invented\n")); at++)
        rows++;
    assert_int_equal(rows, job->nreadings);
    fw_job_free(job);
    again = get("two/readings.csv");
    assert_string_equal(text, again);
    free(again);
    again = get("three/readings.csv");
    assert_string_not_equal(strchr(text, '\n'), strchr(again, '\n'));
    free(again);
    free(text);
    text = get("one/truth.csv");
    assert_memory_equal(text, "# Invented: ", 12);
    free(text);
}

/* "# Ash: PV 12.3 nm" of truth.csv */
static double true_pv(const char *text, const char *name)
{
    char key[40];
    snprintf(key, sizeof key, "# %s: PV ", name);
    const char *at = strstr(text, key);
    assert_non_null(at);
    return strtod(at + strlen(key), NULL);
}

/* The sum of ((h - truth) / u)^2 over the heights at one row of truth.csv. */
static double misfit(const fw_result *r, const char *row, int *n)
{
    char name[32];
    double value[3], sum = 0;
    int flat = 0;
    size_t length = strcspn(row, ",");
    assert_true(length < sizeof name && row[length] == ',');
    memcpy(name, row, length);
    name[length] = 0;
    char *at_number = (char *)row + length;
    strtol(at_number + 1, &at_number, 10); /* the state */
    for (int i = 0; i < 3; i++) {
        assert_true(*at_number == ',');
        value[i] = strtod(at_number + 1, &at_number);
    }
    double angle = value[0], position = value[1], height = value[2];
    while (strcmp(r->job->flats[flat].name, name) != 0)
        flat++;
    const fw_profile *p = &r->faces[r->today[flat]].profile;
    for (int d = 0; d < p->ndiameters; d++)
        for (size_t i = 0; i < p->diameters[d].npoints; i++) {
            const fw_point *at = &p->diameters[d].points[i];
            if (fabs(p->diameters[d].angle_deg - angle) > 0.01 ||
                fabs(at->position_mm - position) > 0.01)
                continue;
            sum += pow((at->height_nm - height) / at->u_nm, 2);
            ++*n;
        }
    return sum;
}

/* Solved, the readings of eight seeds give the truth back: rms of (h - truth) / u near 1. */
static void true_to_truth(void **state)
{
    enum { SEEDS = 8 };
    double square = 0;
    int n = 0;
    (void)state;
    for (int seed = 11; seed < 11 + SEEDS; seed++) {
        char folder[16], file[32];
        fw_job *job = NULL;
        fw_faults faults;
        fw_result *r = NULL;
        snprintf(folder, sizeof folder, "p%d", seed);
        snprintf(file, sizeof file, "p%d/truth.csv", seed);
        assert_int_equal(practise("set", folder, (unsigned long)seed, NULL), FW_OK);
        assert_int_equal(fw_job_read(path(folder), &job, &faults, NULL), FW_OK);
        fw_faults_release(&faults);
        assert_int_equal(fw_solve(job, NULL, &r, NULL), FW_OK);
        char *text = get(file);
        for (int f = 0; f < 3; f++) { /* over the whole face; the diameters read see part of it */
            const fw_figure *figure = &r->faces[r->today[f]].figure;
            double pv = true_pv(text, job->flats[f].name), u = figure->pv.u_nm;
            assert_true(pv >= 4.9 && pv <= 150.1);
            assert_true(figure->pv.value_nm < pv + 4 * u && figure->pv.value_nm > pv / 3 - 4 * u);
        }
        const char *row = strstr(text, "height_nm\n") + 10;
        for (; *row; row = strchr(row, '\n') + 1)
            square += misfit(r, row, &n);
        free(text);
        fw_result_free(r);
        fw_job_free(job);
    }
    assert_int_equal(n, SEEDS * 3 * 4 * 7);
    print_message("rms of (told - true) / u: %.2f\n", sqrt(square / n));
    assert_true(sqrt(square / n) > 0.85 && sqrt(square / n) < 1.15);
}

static void refuse(const char *from, const char *to, const char *file, const char *why)
{
    fw_error err = {0};
    char *before = get(file), *settings = get("set/job.ini");
    assert_int_equal(practise(from, to, 1, &err), FW_INPUT);
    if (!strstr(err.text, why))
        fail_msg("'%s' does not say '%s'", err.text, why);
    char *after = get(file), *same = get("set/job.ini");
    assert_string_equal(before, after);
    assert_string_equal(settings, same);
    free(before);
    free(after);
    free(settings);
    free(same);
}

/* Never over readings, not even skipped ones, nor work, nor another job. */
static void over_nothing(void **state)
{
    static const char header[] =
        "bottom,top,turn_deg,diameter_deg,position_mm,deviation,skip\n";
    char text[200];
    (void)state;
    snprintf(text, sizeof text, "%sAsh,Birch,0,0,10,1,1\n", header);
    put("set/readings.csv", text);
    refuse("set", NULL, "set/readings.csv", "has readings or work");
    put("set/readings.csv", header);
    put("set/work.csv", "round,flat,hours,method\n1,Ash,1,grind\n");
    refuse("set", NULL, "set/work.csv", "has readings or work");
    put("set/work.csv", "round,flat,hours,method\n1,Ash,x,grind\n");
    refuse("set", NULL, "set/work.csv", "1 fault");
    assert_int_equal(unlink(path("set/work.csv")), 0);
    put("set/truth.csv", "mine\n");
    refuse("set", NULL, "set/truth.csv", "of another seed, set or target");
    assert_int_equal(unlink(path("set/truth.csv")), 0);
    assert_int_equal(mkdir(path("five"), 0777), 0);
    put("five/sag.csv", "round,flat,ring_mm,sag_um\n");
    refuse("set", "five", "five/sag.csv", "exists, nothing was written");
    assert_null(get("five/job.ini"));
    /* and into the empty job itself */
    assert_int_equal(practise("set", NULL, 2, NULL), FW_OK);
    refuse("set", NULL, "set/readings.csv", "of another seed, set or target");
}

/* Heights of a flat in truth.csv, row by row; returns how many. */
static int true_heights(const char *text, const char *flat, double *height)
{
    int n = 0;
    for (const char *row = strstr(text, "height_nm\n") + 10; *row; row = strchr(row, '\n') + 1)
        if (strncmp(row, flat, strlen(flat)) == 0) {
            const char *end = strchr(row, '\n');
            while (end[-1] != ',')
                end--;
            height[n++] = strtod(end, NULL);
        }
    return n;
}

static void add_line(const char *name, const char *line)
{
    FILE *out = fopen(path(name), "a");
    assert_non_null(out);
    assert_true(fputs(line, out) >= 0);
    assert_int_equal(fclose(out), 0);
}

/*
 * Round after round: what the rows of work.csv take off is missing in the readings that follow. An
 * hour of a stroke takes off its computed profile times a rate and a shape of the hand: checked as
 * the correlation with fw_stroke_at. A flat that was not worked stays what it was.
 */
static void goes_on(void **state)
{
    enum { N = 4 * 7 };
    double before[N], after[N], ash[2][N], r[N], theta[N], unit[N];
    fw_stroke stroke = fw_stroke_usual(FW_LAP_ON_TOP);
    fw_disc disc = {100, 0};
    fw_error err;
    fw_job *job = NULL;
    fw_faults faults;
    fw_result *solved = NULL;
    (void)state;
    assert_int_equal(practise("set", "month", 5, NULL), FW_OK);
    char *text = get("month/truth.csv");
    assert_int_equal(true_heights(text, "Birch", before), N);
    assert_int_equal(true_heights(text, "Ash", ash[0]), N);
    free(text);
    add_line("month/work.csv", "1,Birch,2,lap-on-top,,,,,\n");
    assert_int_equal(practise("month", NULL, 5, NULL), FW_OK);
    text = get("month/truth.csv");
    assert_non_null(strstr(text, "in round 2"));
    assert_int_equal(true_heights(text, "Birch", after), N);
    assert_int_equal(true_heights(text, "Ash", ash[1]), N);
    for (int i = 0; i < N; i++) {
        assert_close(ash[1][i], ash[0][i], 0, 0.01);
        r[i] = fabs(stations[i % 7]);
        theta[i] = (fan[i / 7] + (stations[i % 7] < 0 ? 180 : 0)) * 0.017453292519943295;
    }
    assert_int_equal(fw_stroke_at(&stroke, &disc, N, r, theta, unit, NULL), FW_OK);
    double mean = 0, off = 0, xx = 0, xy = 0, yy = 0;
    for (int i = 0; i < N; i++) {
        mean += unit[i] / N;
        off += (before[i] - after[i]) / N; /* the datum takes most of it */
    }
    for (int i = 0; i < N; i++) {
        double x = unit[i] - mean, y = before[i] - after[i] - off;
        xx += x * x;
        xy += x * y;
        yy += y * y;
    }
    print_message("rate %.0f nm/h, correlation %.3f\n", xy / xx / 2, xy / sqrt(xx * yy));
    assert_true(xy / xx / 2 > 60 && xy / xx / 2 < 400);
    assert_true(xy / sqrt(xx * yy) > 0.6);
    /* Solved, today's readings give today's truth back. */
    assert_int_equal(fw_job_read(path("month"), &job, &faults, NULL), FW_OK);
    fw_faults_release(&faults);
    assert_int_equal(job->nreadings, 2 * 4 * 4 * 7);
    assert_int_equal(fw_solve(job, NULL, &solved, NULL), FW_OK);
    double square = 0;
    int n = 0;
    for (const char *row = strstr(text, "height_nm\n") + 10; *row; row = strchr(row, '\n') + 1)
        square += misfit(solved, row, &n);
    assert_int_equal(n, 3 * N);
    assert_true(sqrt(square / n) > 0.7 && sqrt(square / n) < 1.3);
    fw_result_free(solved);
    fw_job_free(job);
    free(text);
    /* The same once more: a repeat, told apart, with other errors. */
    assert_int_equal(practise("month", NULL, 5, NULL), FW_OK);
    text = get("month/readings.csv");
    assert_non_null(strstr(text, "\n2,Ash,Birch,0,0,-90,"));
    assert_non_null(strstr(text, ",2,invented\n"));
    free(text);
    /* What nobody knows. */
    add_line("month/work.csv", "2,Cedar,1,grind,,,,,\n");
    char *there = get("month/readings.csv");
    assert_int_equal(practise("month", NULL, 5, &err), FW_INPUT);
    assert_non_null(strstr(err.text, "of work.csv takes off nobody knows what"));
    text = get("month/readings.csv");
    assert_string_equal(text, there);
    free(text);
    free(there);
}

/*
 * Rehearsed as surfaces: job.ini says so from then on, and the truth is on the surfaces' datum:
 * what is told is off it by its uncertainty, before and after work; a flat not worked stays.
 */
static void by_surfaces(void **state)
{
    enum { LINES = 7, MATES = 5, N = 9, MOST = 200 };
    fw_mate odd[MATES] = {{0, 1, 0}, {1, 2, 0}, {2, 0, 0}, {0, 1, 47}, {1, 2, 111}};
    double lines[LINES] = {3, 29, 56, 80, 107, 131, 158}, x[N], before[MOST], after[MOST];
    const fw_scheme plan = {MATES, odd, LINES, lines, N, x, 1.5, FW_MODEL_SURFACE};
    (void)state;
    for (int i = 0; i < N; i++)
        x[i] = 24 * (i - 4);
    for (int round = 1; round <= 2; round++) {
        fw_job *job = NULL;
        fw_faults faults;
        fw_result *solved = NULL;
        double square = 0;
        int n = 0;
        assert_int_equal(practise_by(&plan, round == 1 ? "set" : "smooth",
                                     round == 1 ? "smooth" : NULL, 9, NULL), FW_OK);
        char *text = get("smooth/job.ini");
        assert_non_null(strstr(text, "[readings]\r\nmodel = surface ; as it was rehearsed\n"));
        assert_null(strstr(strstr(text, "model") + 1, "model"));
        free(text);
        assert_int_equal(fw_job_read(path("smooth"), &job, &faults, NULL), FW_OK);
        fw_faults_release(&faults);
        assert_int_equal(job->model, FW_MODEL_SURFACE);
        assert_int_equal(fw_solve(job, NULL, &solved, NULL), FW_OK);
        text = get("smooth/truth.csv");
        for (const char *row = strstr(text, "height_nm\n") + 10; *row; row = strchr(row, '\n') + 1)
            if (round == 1 || *row == 'A') /* work leaves more than order 10 */
                square += misfit(solved, row, &n);
        print_message("round %d: rms of (told - true) / u: %.2f\n", round, sqrt(square / n));
        assert_true(n > 100 && sqrt(square / n) > 0.6 && sqrt(square / n) < 1.4);
        int nash = true_heights(text, "Ash", round == 1 ? before : after);
        assert_true(nash > 50 && nash <= MOST);
        for (int i = 0; i < nash && round == 2; i++)
            assert_close(after[i], before[i], 0, 0.01);
        free(text);
        fw_result_free(solved);
        fw_job_free(job);
        if (round == 1)
            add_line("smooth/work.csv", "1,Birch,1,lap-on-top,,,,,\n");
    }
    /* A job.ini without [readings] gets one; a model that it names is left out. */
    static const char *const typed[] = {"[set]\nflats = A B C\ndiameter = 200 mm",
                                        "[set]\nflats = A B C\ndiameter = 200 mm\n[readings]\n"
                                        "unit = nm\n model=profile ; mine\nsigma = 1\n"};
    assert_int_equal(mkdir(path("bare"), 0777), 0);
    for (int k = 0; k < 2; k++) {
        fw_job *job = NULL;
        fw_faults faults;
        put("bare/job.ini", typed[k]);
        assert_int_equal(practise_by(&plan, "bare", k ? "kept" : "added", 3, NULL), FW_OK);
        assert_int_equal(fw_job_read(path(k ? "kept" : "added"), &job, &faults, NULL), FW_OK);
        fw_faults_release(&faults);
        assert_int_equal(job->model, FW_MODEL_SURFACE);
        fw_job_free(job);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(marked), cmocka_unit_test(true_to_truth),
                                       cmocka_unit_test(over_nothing), cmocka_unit_test(goes_on),
                                       cmocka_unit_test(by_surfaces)};
    return cmocka_run_group_tests(tests, setup, teardown);
}
