/* extremes.c - legal numbers at the ends of their ranges: a result or a refusal, never nan or inf. */

/*
 * Divisions by zero and overflows are trapped while everything is read, solved, advised and printed:
 * the process would end by SIGFPE. Invalid operations cannot be: NAN stands for what is not given,
 * and asking whether it is smaller is one; what they lead to is looked for in what is printed. No job
 * may take longer than SECONDS of the processor's time.
 */
#define _GNU_SOURCE
#include <fenv.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/time.h>

#include "../support/close.h"
#include "../support/folder.h"
#include "flatwright/advice.h"
#include "flatwright/report.h"
#include "flatwright/track.h"

enum { SECONDS = 60, TEXT = 400000 };

static char text[TEXT];

static void add(const char *format, ...) __attribute__((format(printf, 1, 2)));

static void add(const char *format, ...)
{
    size_t used = strlen(text);
    va_list args;
    va_start(args, format);
    assert_true(vsnprintf(text + used, sizeof text - used, format, args) <
                (int)(sizeof text - used));
    va_end(args);
}

/* "nan", "inf" as words of their own. */
static void assert_numbers(const char *printed, const char *what)
{
    for (const char *at = printed; (at = strpbrk(at, "ni")) != NULL; at++) {
        bool word = at == printed || strchr(" ,:[-+\n", at[-1]);
        if (word && (strncmp(at, "nan", 3) == 0 || strncmp(at, "inf", 3) == 0) &&
            strchr(" ,]}\n", at[3]))
            fail_msg("%s prints %.60s", what, at > printed + 20 ? at - 20 : printed);
    }
}

static void assert_prints(const fw_result *result, const char *what)
{
    char *printed = NULL;
    size_t size = 0;
    fw_advice *advice = NULL;
    fw_track *track = NULL;
    fw_error err = {FW_OK, ""};
    fw_advise_options how = {0};
    fw_status status = fw_advise(result, &how, &advice, &err);
    if (status == FW_OK)
        status = fw_track_new(result, &track, &err);
    if (status != FW_OK)
        fail_msg("%s: %s", what, err.text);
    FILE *out = open_memstream(&printed, &size);
    assert_non_null(out);
    fw_screen screen = {.out = out, .columns = 80};
    fw_solution_json(out, result, true);
    fw_solution_csv(out, result, true);
    fw_advice_json(out, advice);
    fw_track_json(out, track);
    fw_solution_text(&screen, result);
    fw_summary_advised(&screen, result, advice);
    fw_advice_text(&screen, advice);
    fw_track_text(&screen, track);
    assert_int_equal(fclose(out), 0);
    assert_numbers(printed, what);
    free(printed);
    fw_track_free(track);
    fw_advice_free(advice);
}

typedef enum outcome { REFUSED_READING, REFUSED_SOLVING, SOLVED } outcome;

/* 0: no limit. */
static void limit_time(int seconds)
{
    struct itimerval limit = {{0, 0}, {seconds, 0}};
    assert_int_equal(setitimer(ITIMER_PROF, &limit, NULL), 0);
}

static outcome run(const char *ini, const char *readings, const char *what)
{
    folder at = folder_make();
    fw_job *job = NULL;
    fw_faults faults;
    fw_result *result = NULL;
    fw_error err = {FW_OK, ""};
    outcome got = REFUSED_READING;
    folder_write(&at, "job.ini", ini);
    folder_write(&at, "readings.csv", readings);
    limit_time(SECONDS);
    feclearexcept(FE_ALL_EXCEPT);
    feenableexcept(FE_DIVBYZERO | FE_OVERFLOW);
    fw_status status = fw_job_read(at.path, &job, &faults, &err);
    if (status == FW_INPUT) {
        assert_true(faults.listed > 0 && faults.list[0].text[0] != '\0');
        print_message("%s: %s\n", what, faults.list[0].text);
    }
    else {
        assert_int_equal(status, FW_OK);
        got = REFUSED_SOLVING;
        status = fw_solve(job, NULL, &result, &err);
        if (status == FW_OK) {
            got = SOLVED;
            assert_prints(result, what);
        } else {
            print_message("%s: %s\n", what, err.text);
            assert_int_equal(status, FW_INPUT);
        }
    }
    fedisableexcept(FE_ALL_EXCEPT);
    limit_time(0);
    fw_result_free(result);
    fw_job_free(job);
    fw_faults_release(&faults);
    folder_remove(&at);
    return got;
}

/* Three pairs and a turned one on two diameters; a deviation of `size` times a small whole number. */
static void lay_readings(double size, double sigma, double ratio, double spacing, int stations)
{
    static const struct {
        const char *pair;
        int turn;
    } setups[] = {{"A,B", 0}, {"B,C", 0}, {"C,A", 0}, {"A,B", 45}};
    *text = '\0';
    add("bottom,top,turn_deg,diameter_deg,position_mm,deviation%s\n", sigma > 0 ? ",sigma" : "");
    for (int p = 0; p < 4; p++)
        for (int d = 0; d < 180; d += 45)
            for (int i = 0; i < stations; i++) {
                int k = i - stations / 2, bump = (k * k * (p + 2) + 3 * d / 45 * k + p) % 7 - 3;
                add("%s,%d,%d,%.17g,%.17g", setups[p].pair, setups[p].turn, d, k * spacing,
                    bump * size);
                if (sigma > 0)
                    add(",%.17g", (i + p) % 3 ? sigma : sigma * ratio);
                add("\n");
            }
}

static const char *const plain = PLAIN_INI "[light]\nsource = mercury-green\n";

static void test_sizes(void **state)
{
    static const double sizes[] = {0,    5e-324, 1e-300, 1e-150, 1e-30, 1e-9,
                                   1e15, 1e30,   1e100,  1e154,  1e200, 1e300};
    (void)state;
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++)
        for (int known = 0; known < 2; known++) {
            char what[80];
            snprintf(what, sizeof what, "deviations of %g nm, sigma %d", sizes[i], known);
            lay_readings(sizes[i], known, 1, 20, 7);
            run(plain, text, what);
        }
}

static void test_sigmas(void **state)
{
    static const double sigmas[] = {1e-300, 1e-150, 1e-9, 1, 1e9, 1e150, 1e300},
                        ratios[] = {1, 1e9, 1e-9, 1e6, 1e-6, 1e3};
    (void)state;
    for (size_t i = 0; i < sizeof sigmas / sizeof *sigmas; i++)
        for (size_t k = 0; k < sizeof ratios / sizeof *ratios; k++) {
            char what[80];
            snprintf(what, sizeof what, "sigma %g nm, ratio %g", sigmas[i], ratios[k]);
            lay_readings(5, sigmas[i], ratios[k], 20, 7);
            run(plain, text, what);
        }
}

static void test_places(void **state)
{
    static const double spacings[] = {1e-300, 1e-6, 1e-3, 0.01, 1};
    (void)state;
    for (size_t i = 0; i < sizeof spacings / sizeof *spacings; i++)
        for (int stations = 1; stations < 8; stations++) {
            char what[80];
            snprintf(what, sizeof what, "%d stations %g mm apart", stations, spacings[i]);
            lay_readings(5, 1, 1, spacings[i], stations);
            run(plain, text, what);
        }
}

static void test_settings(void **state)
{
    static const char *const settings[] = {
        "[target]\nflatness = 1e-300 nm\n", "[target]\nflatness = 1e300 nm\n",
        "[target]\nconfidence = 1\n",       "[target]\nconfidence = 0.5\n",
        "[plan]\nprior = 0.001 nm\n",      "[plan]\nprior = 1 mm\n",
        "[readings]\nsigma = 1e-300\n",  "[readings]\nsigma = 1e300\n",
        "[light]\nwavelength = 1e-300 nm\n[readings]\nunit = fringe\n",
        "[light]\nwavelength = 1e300 nm\n[readings]\nunit = fringe\n",
        "[light]\nwavelength = 500 nm\nincidence = 89.9999999 deg\n[readings]\nunit = fringe\n",
        "[flat A]\nbore = 199.99 mm\n",     "[flat A]\nclear = 1e-9 mm\n",
        "[flat A]\nthickness = 1e-9 mm\nglass = borosilicate\n",
        "[flat A]\nyoung = 1e300\npoisson = 0.499\ndensity = 1e300\n",
    };
    (void)state;
    for (size_t i = 0; i < sizeof settings / sizeof *settings; i++) {
        char ini[400];
        snprintf(ini, sizeof ini, PLAIN_INI "%s", settings[i]);
        lay_readings(5, 0, 1, 20, 9);
        run(ini, text, settings[i]);
    }
    lay_readings(5, 0, 1, 1e-9, 9);
    run("[set]\nflats = A B C\ndiameter = 1e-7 mm\n", text, "a diameter of 1e-7 mm");
    lay_readings(5, 0, 1, 1e6, 9);
    run("[set]\nflats = A B C\ndiameter = 1e7 mm\n", text, "a diameter of 1e7 mm");
}

/* A ring of pairs of `n` flats, one diameter. */
static outcome run_flats(int n)
{
    static char ini[40000];
    size_t used = (size_t)snprintf(ini, sizeof ini, "[set]\ndiameter = 200 mm\nflats =");
    for (int i = 0; i < n; i++)
        used += (size_t)snprintf(ini + used, sizeof ini - used, " F%d", i);
    snprintf(ini + used, sizeof ini - used, "\n[readings]\nsigma = 1\n");
    *text = '\0';
    add("bottom,top,turn_deg,diameter_deg,position_mm,deviation\n");
    for (int i = 0; i < n; i++)
        for (int x = -90; x <= 90; x += 45)
            add("F%d,F%d,0,0,%d,%d\n", i, (i + 1) % n, x, (i * 7 + x) % 5);
    return run(ini, text, "many flats");
}

static void test_many_flats(void **state)
{
    (void)state;
    assert_int_equal(run_flats(40), SOLVED);
    assert_int_equal(run_flats(101), REFUSED_READING);
    assert_int_equal(run_flats(1000), REFUSED_READING);
}

static void test_few(void **state)
{
    (void)state;
    assert_int_equal(run(plain, PLAIN_HEADER "A,B,0,0,0,1\n", "one reading"), SOLVED);
    assert_int_equal(run(plain, PLAIN_HEADER "A,B,0,0,0,1e300\n", "one large reading"),
                     REFUSED_READING);
    assert_int_equal(run(plain, PLAIN_HEADER, "no reading"), SOLVED);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sizes),    cmocka_unit_test(test_sigmas),
        cmocka_unit_test(test_places),   cmocka_unit_test(test_settings),
        cmocka_unit_test(test_many_flats), cmocka_unit_test(test_few),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
