/* file.c - files replaced whole: contents, permissions, links, failures that leave nothing. */
#define _XOPEN_SOURCE 700
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "../support/close.h"
#include "flatwright/file.h"

static char folder[] = "build/test-file-XXXXXX";

static char *place(const char *name)
{
    static char path[2][512];
    static int turn;
    turn = !turn;
    snprintf(path[turn], sizeof path[turn], "%s/%s", folder, name);
    return path[turn];
}

static void put(const char *path, const char *text)
{
    FILE *out = fopen(path, "wb");
    assert_non_null(out);
    fputs(text, out);
    assert_int_equal(fclose(out), 0);
}

static void assert_holds(const char *path, const char *text)
{
    char got[256];
    FILE *in = fopen(path, "rb");
    assert_non_null(in);
    got[fread(got, 1, sizeof got - 1, in)] = '\0';
    fclose(in);
    assert_string_equal(got, text);
}

/* Entries of the folder: no draft may be left in it. */
static int entries(void)
{
    int count = -2; /* . and .. */
    DIR *listing = opendir(folder);
    assert_non_null(listing);
    while (readdir(listing))
        count++;
    closedir(listing);
    return count;
}

static int make_folder(void **state)
{
    (void)state;
    mkdir("build", 0777);
    return mkdtemp(folder) ? 0 : -1;
}

static int empty_folder(void **state)
{
    (void)state;
    DIR *listing = opendir(folder);
    for (struct dirent *entry; listing && (entry = readdir(listing));)
        if (entry->d_name[0] != '.') {
            unlink(place(entry->d_name));
            rmdir(place(entry->d_name));
        }
    return listing ? closedir(listing) : -1;
}

static int remove_folder(void **state)
{
    (void)state;
    return rmdir(folder);
}

static void write_whole(const char *path, const char *text)
{
    fw_draft draft;
    fw_error err = {0};
    assert_int_equal(fw_draft_open(path, &draft, &err), FW_OK);
    fputs(text, draft.out);
    assert_int_equal(fw_draft_commit(&draft, &err), FW_OK);
    assert_null(draft.out);
}

static void makes_a_file(void **state)
{
    (void)state;
    struct stat found;
    mode_t mask = umask(027);
    write_whole(place("new.csv"), "new\n");
    umask(mask);
    assert_holds(place("new.csv"), "new\n");
    assert_int_equal(stat(place("new.csv"), &found), 0);
    assert_int_equal(found.st_mode & 0777, 0640);
    assert_int_equal(entries(), 1);
}

static void keeps_permissions(void **state)
{
    (void)state;
    struct stat found;
    put(place("old.csv"), "a longer old text\n");
    assert_int_equal(chmod(place("old.csv"), 0604), 0);
    write_whole(place("old.csv"), "new\n");
    assert_holds(place("old.csv"), "new\n");
    assert_int_equal(stat(place("old.csv"), &found), 0);
    assert_int_equal(found.st_mode & 0777, 0604);
    assert_int_equal(entries(), 1);
}

static void old_file_stays_until_commit(void **state)
{
    (void)state;
    fw_draft draft;
    put(place("old.csv"), "old\n");
    assert_int_equal(fw_draft_open(place("old.csv"), &draft, NULL), FW_OK);
    fputs("half of it", draft.out);
    fflush(draft.out);
    assert_holds(place("old.csv"), "old\n");
    fw_draft_abandon(&draft);
    assert_holds(place("old.csv"), "old\n");
    assert_int_equal(entries(), 1);
    fw_draft_abandon(&draft);
}

static void follows_a_link(void **state)
{
    (void)state;
    struct stat found;
    put(place("target.csv"), "old\n");
    assert_int_equal(symlink("target.csv", place("link.csv")), 0);
    write_whole(place("link.csv"), "new\n");
    assert_int_equal(lstat(place("link.csv"), &found), 0);
    assert_true(S_ISLNK(found.st_mode));
    assert_holds(place("target.csv"), "new\n");
    assert_int_equal(entries(), 2);
}

static void assert_refused(const char *path, const char *why)
{
    fw_draft draft;
    fw_error err = {0};
    int before = entries();
    assert_int_equal(fw_draft_open(path, &draft, &err), FW_SYSTEM);
    assert_int_equal(err.status, FW_SYSTEM);
    assert_non_null(strstr(err.text, why));
    assert_null(draft.out);
    assert_null(draft.target);
    assert_int_equal(entries(), before);
}

static void refuses(void **state)
{
    (void)state;
    assert_int_equal(symlink("nowhere", place("dangling")), 0);
    assert_refused(place("dangling"), "a link to a file that is not there");
    assert_refused(folder, "it is a folder");
    assert_refused(place("no/such.csv"), "No such file or directory");
    assert_refused("", "No such file or directory");
    put(place("file"), "x");
    assert_refused(place("file/below.csv"), "Not a directory");
}

static void passes_to_a_device(void **state)
{
    (void)state;
    write_whole("/dev/null", "gone\n");
    struct stat found;
    assert_int_equal(stat("/dev/null", &found), 0);
    assert_true(S_ISCHR(found.st_mode));
}

/* A disk that is full: the device that always is. */
static void full_disk_is_said(void **state)
{
    (void)state;
    fw_draft draft;
    fw_error err = {0};
    if (access("/dev/full", W_OK) != 0)
        skip();
    assert_int_equal(fw_draft_open("/dev/full", &draft, &err), FW_OK);
    fputs("text", draft.out);
    assert_int_equal(fw_draft_commit(&draft, &err), FW_SYSTEM);
    assert_string_equal(err.text, "cannot write '/dev/full': No space left on device");
    assert_null(draft.target);
}

/* The folder goes while the draft is written: the rename fails, and that is said. */
static void lost_folder_is_said(void **state)
{
    (void)state;
    fw_draft draft;
    fw_error err = {0};
    char inner[512], file[600];
    snprintf(inner, sizeof inner, "%s", place("inner"));
    snprintf(file, sizeof file, "%s/a.csv", inner);
    assert_int_equal(mkdir(inner, 0777), 0);
    assert_int_equal(fw_draft_open(file, &draft, &err), FW_OK);
    assert_int_equal(unlink(draft.temporary), 0);
    assert_int_equal(rmdir(inner), 0);
    fputs("text", draft.out);
    assert_int_equal(fw_draft_commit(&draft, &err), FW_SYSTEM);
    assert_non_null(strstr(err.text, "No such file or directory"));
    assert_null(draft.out);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(makes_a_file, empty_folder),
        cmocka_unit_test_teardown(keeps_permissions, empty_folder),
        cmocka_unit_test_teardown(old_file_stays_until_commit, empty_folder),
        cmocka_unit_test_teardown(follows_a_link, empty_folder),
        cmocka_unit_test_teardown(refuses, empty_folder),
        cmocka_unit_test_teardown(passes_to_a_device, empty_folder),
        cmocka_unit_test_teardown(full_disk_is_said, empty_folder),
        cmocka_unit_test_teardown(lost_folder_is_said, empty_folder)};
    return cmocka_run_group_tests_name("file", tests, make_folder, remove_folder);
}
