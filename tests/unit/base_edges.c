/* base_edges.c - the edges of memory, paths, terminals and locales. */
#define _XOPEN_SOURCE 700
#include <fcntl.h>
#include <locale.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "../support/close.h"
#include "../support/folder.h"
#include "flatwright/alloc.h"
#include "flatwright/intake.h"
#include "flatwright/number.h"
#include "flatwright/screen.h"
#include "flatwright/stats.h"
#include "flatwright/text.h"

static void test_memory(void **state)
{
    (void)state;
    void *a = fw_alloc(0, 8), *b = fw_alloc(8, 0);
    assert_non_null(a);
    assert_non_null(b);
#if !defined __SANITIZE_ADDRESS__ /* which ends the program there */
    assert_null(fw_alloc(SIZE_MAX / 2, 4));
#endif
    assert_null(fw_resize(a, SIZE_MAX / 2, 4));
    a = fw_resize(a, 0, 8);
    assert_non_null(a);
    b = fw_resize(b, 8, 0);
    assert_non_null(b);
    fw_free(a);
    fw_free(b);
    fw_free(NULL);
}

/* A text whose copy is larger than what may be had. */
static void test_no_memory_for_a_text(void **state)
{
    (void)state;
#if !defined __SANITIZE_ADDRESS__
    struct rlimit before, little;
    const size_t size = (size_t)1 << 28;
    char *text = malloc(size);
    assert_non_null(text);
    memset(text, 'a', size - 1);
    text[size - 1] = '\0';
    assert_int_equal(getrlimit(RLIMIT_AS, &before), 0);
    little = (struct rlimit){size, before.rlim_max};
    assert_int_equal(setrlimit(RLIMIT_AS, &little), 0);
    char *copy = fw_copy_text(text);
    assert_int_equal(setrlimit(RLIMIT_AS, &before), 0);
    assert_null(copy);
    free(text);
#endif
}

/* What reading a file says of a path: whose fault it is. */
static void refused(const fw_job *job, const char *path, fw_status want, const char *why)
{
    fw_intake *intake = NULL;
    fw_faults faults;
    fw_error err = {FW_OK, ""};
    assert_int_equal(fw_intake_read(path, job, &(fw_intake_options){0}, &intake, &faults, &err),
                     want);
    assert_null(intake);
    const char *said = faults.listed > 0 ? faults.list[0].text : err.text;
    if (!strstr(said, why))
        fail_msg("'%s' does not say '%s'", said, why);
    fw_faults_release(&faults);
}

static void test_paths(void **state)
{
    (void)state;
    folder at = folder_make();
    folder_write(&at, "job.ini", PLAIN_INI);
    folder_write(&at, "readings.csv", PLAIN_HEADER);
    fw_job *job = folder_job(&at);
    char path[300];
    struct sockaddr_un name = {.sun_family = AF_UNIX};
    snprintf(path, sizeof path, "%s/nothing", at.path);
    refused(job, path, FW_INPUT, "");
    snprintf(path, sizeof path, "%s/job.ini/below", at.path);
    refused(job, path, FW_INPUT, "Not a directory");
    refused(job, at.path, FW_INPUT, "is a folder, expected a file");
    snprintf(path, sizeof path, "%s/loop", at.path);
    assert_int_equal(symlink("loop", path), 0);
    refused(job, path, FW_INPUT, "symbolic links");
    snprintf(path, sizeof path, "%s/%0250d", at.path, 0);
    memset(path + strlen(at.path) + 1, 'n', 258);
    path[strlen(at.path) + 259] = '\0';
    refused(job, path, FW_INPUT, "too long");
    snprintf(name.sun_path, sizeof name.sun_path, "%s/socket", at.path);
    int listens = socket(AF_UNIX, SOCK_STREAM, 0);
    assert_int_equal(bind(listens, (struct sockaddr *)&name, sizeof name), 0);
    refused(job, name.sun_path, FW_INPUT, "is not a regular file");
    close(listens);
    fw_job_free(job);
    folder_remove(&at);
}

/* The terminal's side of the screen: TERM, NO_COLOR, the locale's characters. */
static void test_terminals(void **state)
{
    (void)state;
    int end = posix_openpt(O_RDWR | O_NOCTTY);
    assert_true(end >= 0);
    assert_int_equal(grantpt(end), 0);
    assert_int_equal(unlockpt(end), 0);
    FILE *out = fopen(ptsname(end), "w");
    assert_non_null(out);
    const char *locales[] = {"C", "C.UTF-8"}, *terms[] = {NULL, "", "dumb", "xterm"},
               *colours[] = {NULL, "", "1"};
    for (int l = 0; l < 2; l++)
        for (int t = 0; t < 4; t++)
            for (int c = 0; c < 3; c++) {
                assert_non_null(setlocale(LC_CTYPE, locales[l]));
                terms[t] ? setenv("TERM", terms[t], 1) : unsetenv("TERM");
                colours[c] ? setenv("NO_COLOR", colours[c], 1) : unsetenv("NO_COLOR");
                fw_screen screen = fw_screen_of(out);
                assert_int_equal(screen.drawing, t == 3 && l == 1);
                assert_int_equal(screen.colour, t == 3 && c < 2);
                assert_int_equal(screen.eight_bit, l == 0);
            }
    setlocale(LC_CTYPE, "C");
    fclose(out);
    close(end);
}

/* Marks without end, words without blanks, bytes that are no UTF-8: all of it comes out. */
static void test_long_words(void **state)
{
    (void)state;
    char *text = NULL, word[800];
    size_t size = 0;
    fw_screen screen = {.out = open_memstream(&text, &size), .columns = 20};
    fw_screen_begin(&screen, 0, 0);
    memset(word, FW_BOLD[0], sizeof word - 1);
    word[sizeof word - 1] = '\0';
    screen.colour = true;
    fw_screen_put(&screen, "%s", word);
    fw_screen_put(&screen, "a\xFF" "b %s", FW_BOLD FW_PLAIN);
    fw_screen_put(&screen, " c");
    fw_screen_end(&screen);
    fclose(screen.out);
    size_t bold = 0;
    for (const char *at = text; (at = strstr(at, "\033[1m")); at++)
        bold++;
    assert_int_equal(bold, sizeof word);
    assert_non_null(strstr(text, "a\xFF" "b"));
    assert_non_null(strstr(text, "c\n"));
    free(text);
}

/* Numbers read and written the same where the decimal sign is a comma. */
static void test_locale(void **state)
{
    (void)state;
    char place[] = "build/test-locale-XXXXXX", command[200], text[FW_NUMBER_SIZE];
    double value = 0;
    assert_non_null(mkdtemp(place));
    snprintf(command, sizeof command, "localedef -i de_DE -f UTF-8 %s/de_DE.UTF-8 2>%s/said",
             place, place);
    bool made = system(command) == 0;
    setenv("LOCPATH", place, 1);
    if (made && setlocale(LC_NUMERIC, "de_DE.UTF-8")) {
        assert_string_equal(localeconv()->decimal_point, ",");
        assert_string_equal(fw_number(1.25e-30, text), "1.25e-30");
        assert_string_equal(fw_number(1e300, text), "1e+300");
        assert_int_equal(fw_number_read("1.25e-30", 8, false, &value), FW_NUMBER_OK);
        assert_close(value, 1.25e-30, 0, 0);
        assert_int_equal(fw_number_read("1,25e-30", 8, true, &value), FW_NUMBER_OK);
        assert_close(value, 1.25e-30, 0, 0);
        setlocale(LC_NUMERIC, "C");
    } else
        print_message("no locale with a decimal comma could be made\n");
    snprintf(command, sizeof command, "rm -r %s", place);
    assert_int_equal(system(command), 0);
}

static void test_number_faults(void **state)
{
    (void)state;
    double value = 7;
    char digits[700];
    for (int fault = FW_NUMBER_OK; fault <= FW_NUMBER_LONG; fault++)
        for (int other = FW_NUMBER_OK; other < fault; other++)
            assert_string_not_equal(fw_number_text((fw_number_status)fault),
                                    fw_number_text((fw_number_status)other));
    memset(digits, '1', sizeof digits);
    assert_int_equal(fw_number_read(digits, sizeof digits, false, &value), FW_NUMBER_LONG);
    assert_int_equal(fw_number_read("0.0e5", 5, false, &value), FW_NUMBER_OK);
    assert_close(value, 0, 0, 0);
    /* Nothing but zeros, more of them than are counted. */
    memset(digits, '0', sizeof digits);
    fw_number_status status = fw_number_read(digits, 400, false, &value);
    assert_int_equal(status, FW_NUMBER_OK);
    assert_close(value, 0, 0, 0);
}

/* Arguments outside their ranges are answered by nan. */
static void test_statistics(void **state)
{
    (void)state;
    assert_true(isnan(fw_chi_square_quantile(0.5, INFINITY)));
    assert_true(isnan(fw_chi_square_quantile(0.5, 0.5)));
    assert_true(isnan(fw_tau_critical(0.05, INFINITY)));
    assert_true(isnan(fw_tau_critical(0.05, 1)));
    assert_true(isnan(fw_baarda_shift(0.05, 1)));
    /* Far below the mean of ever so many degrees of freedom: certainly above, never below. */
    assert_close(fw_chi_square_tail(1, 1e12), 1, 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_memory),    cmocka_unit_test(test_no_memory_for_a_text),
        cmocka_unit_test(test_paths),     cmocka_unit_test(test_terminals),
        cmocka_unit_test(test_long_words), cmocka_unit_test(test_locale),
        cmocka_unit_test(test_number_faults), cmocka_unit_test(test_statistics)};
    return cmocka_run_group_tests_name("base_edges", tests, NULL, NULL);
}
