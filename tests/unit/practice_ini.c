/* practice_ini.c - job.ini of a practice job: what is written anew, and all else as it was typed. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "../support/close.h"
#include "../support/folder.h"
#include "shop/practice.h"

#define BEHIND " ; made up to practise on, nothing was measured\n"
#define TITLE "title = \"Practice, invented\"" BEHIND
#define PROFILE "model = profile ; as it was rehearsed\n"
#define SURFACE "model = surface ; as it was rehearsed\n"

/* What becomes of a job.ini; status as it is told. The caller frees the text. */
static char *settings(const char *ini, char *title, fw_model model)
{
    folder at = folder_make();
    fw_job job = {.folder = at.path, .title = title};
    char *text = NULL;
    size_t size;
    folder_write(&at, "job.ini", ini);
    FILE *out = open_memstream(&text, &size);
    assert_int_equal(practice_settings(&job, model, out, NULL), FW_OK);
    assert_int_equal(fclose(out), 0);
    folder_remove(&at);
    return text;
}

static void becomes(const char *ini, char *title, fw_model model, const char *want)
{
    char *text = settings(ini, title, model);
    assert_string_equal(text, want);
    free(text);
}

static void as_it_was_typed(void **state)
{
    static char none[] = "", plain[] = "a \"b\" c", marked[] = "Practice, invented: d";
    (void)state;
    becomes("\xEF\xBB\xBF[set]\nflats = A B\n", none, FW_MODEL_AUTO,
            "\xEF\xBB\xBF[set]\n" TITLE "flats = A B\n");
    becomes("[set]\r\ntitle=x\r\n title\t= y\r\ntitles = z\r\n", plain, FW_MODEL_AUTO,
            "[set]\r\ntitle = \"Practice, invented: a \"\"b\"\" c\"" BEHIND "titles = z\r\n");
    becomes(" [ set ]\n[settings]\ntitle = kept\n", marked, FW_MODEL_AUTO,
            " [ set ]\ntitle = \"Practice, invented: d\"" BEHIND "[settings]\ntitle = kept\n");
    /* the model, where one is asked for; its section where there is none */
    becomes("[set]\n[readings]\nmodel = surface\nunit = nm\n[view]\nmodel = kept\n", none,
            FW_MODEL_PROFILE,
            "[set]\n" TITLE "[readings]\n" PROFILE "unit = nm\n[view]\nmodel = kept\n");
    becomes("[set]\nflats = A B\n", none, FW_MODEL_SURFACE,
            "[set]\n" TITLE "flats = A B\n\n[readings]\n" SURFACE);
    becomes("", none, FW_MODEL_SURFACE, "\n[set]\n" TITLE "\n[readings]\n" SURFACE);
}

/* A last line without an end, whatever it is. */
static void without_an_end(void **state)
{
    static char none[] = "";
    (void)state;
    becomes("[set]\nflats = A B", none, FW_MODEL_SURFACE,
            "[set]\n" TITLE "flats = A B\n\n[readings]\n" SURFACE);
    becomes("[set]\n[readings]", none, FW_MODEL_PROFILE, "[set]\n" TITLE "[readings]\n" PROFILE);
    becomes("[readings]\n[set]\ntitle = x", none, FW_MODEL_PROFILE,
            "[readings]\n" PROFILE "[set]\n" TITLE);
    becomes("[set]\ntitle = x", none, FW_MODEL_SURFACE,
            "[set]\n" TITLE "\n[readings]\n" SURFACE);
    becomes("[set]", none, FW_MODEL_SURFACE, "[set]\n" TITLE "\n[readings]\n" SURFACE);
}

/* Whatever stands deep within a long line is not a key of its own, wherever it is cut. */
static void long_lines(void **state)
{
    static char none[] = "", ini[4000], want[4200];
    (void)state;
    for (int before = 980; before < 1020; before++) {
        int n = snprintf(ini, sizeof ini, "[set]\n;");
        memset(ini + n, '.', (size_t)before);
        snprintf(ini + n + before, sizeof ini - (size_t)(n + before),
                 "title = a [set] in a comment\nflats = A B\n");
        snprintf(want, sizeof want, "[set]\n" TITLE "%s", ini + strlen("[set]\n"));
        becomes(ini, none, FW_MODEL_AUTO, want);
    }
}

/* Gone, or nothing that can be read, since the job was read. */
static void not_to_be_read(void **state)
{
    static char none[] = "";
    folder at = folder_make();
    fw_job job = {.folder = at.path, .title = none};
    char path[60];
    (void)state;
    snprintf(path, sizeof path, "%s/job.ini", at.path);
    for (int kind = 0; kind < 2; kind++) {
        fw_error err = {0};
        FILE *out = tmpfile();
        assert_non_null(out);
        if (kind == 1)
            assert_int_equal(mkdir(path, 0777), 0);
        assert_int_equal(practice_settings(&job, FW_MODEL_AUTO, out, &err), FW_SYSTEM);
        assert_non_null(strstr(err.text, "cannot read"));
        assert_non_null(strstr(err.text, kind ? "Is a directory" : "No such file"));
        assert_int_equal(fclose(out), 0);
    }
    assert_int_equal(rmdir(path), 0);
    folder_remove(&at);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(as_it_was_typed), cmocka_unit_test(without_an_end),
        cmocka_unit_test(long_lines), cmocka_unit_test(not_to_be_read)};
    return cmocka_run_group_tests_name("practice_ini", tests, NULL, NULL);
}
