/* folder.c - a job folder made for one test, and what reading it says. */
#include "folder.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "close.h"

folder folder_make(void)
{
    folder at;
    snprintf(at.path, sizeof at.path, "build/test-folder-XXXXXX");
    if (!mkdtemp(at.path)) {
        snprintf(at.path, sizeof at.path, "test-folder-XXXXXX");
        assert_non_null(mkdtemp(at.path));
    }
    return at;
}

static void path_of(const folder *at, const char *name, char *path, size_t size)
{
    assert_true(snprintf(path, size, "%s/%s", at->path, name) < (int)size);
}

static void remove_tree(const char *top)
{
    char path[400];
    DIR *dir = opendir(top);
    assert_non_null(dir);
    for (const struct dirent *entry; (entry = readdir(dir)) != NULL;)
        if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0) {
            assert_true(snprintf(path, sizeof path, "%s/%s", top, entry->d_name) <
                        (int)sizeof path);
            if (remove(path) != 0)
                remove_tree(path);
        }
    closedir(dir);
    assert_int_equal(rmdir(top), 0);
}

void folder_remove(const folder *at)
{
    remove_tree(at->path);
}

void folder_write_bytes(const folder *at, const char *name, const void *bytes, size_t size)
{
    char path[200];
    path_of(at, name, path, sizeof path);
    FILE *out = fopen(path, "wb");
    assert_non_null(out);
    assert_int_equal(fwrite(bytes, 1, size, out), size);
    assert_int_equal(fclose(out), 0);
}

void folder_write(const folder *at, const char *name, const char *text)
{
    char path[200];
    path_of(at, name, path, sizeof path);
    if (text)
        folder_write_bytes(at, name, text, strlen(text));
    else
        remove(path);
}

const char *folder_faults(const folder *at)
{
    static char text[1 << 18];
    size_t filled = 0, own = strlen(at->path);
    fw_job *job = NULL;
    fw_faults faults;
    fw_error err = {FW_OK, ""};
    fw_status status = fw_job_read(at->path, &job, &faults, &err);
    text[0] = '\0';
    for (size_t i = 0; i < faults.listed && filled < sizeof text; i++) {
        const fw_fault *fault = &faults.list[i];
        const char *file = fault->file;
        if (strncmp(file, at->path, own) == 0)
            file += file[own] == '/' ? own + 1 : own;
        filled += (size_t)snprintf(text + filled, sizeof text - filled, "%s:%d:%d: %s\n", file,
                                   fault->line, fault->column, fault->text);
    }
    assert_int_equal(status, faults.count > 0 ? FW_INPUT : FW_OK);
    assert_int_equal(err.status, status);
    assert_true((job != NULL) == (status == FW_OK));
    fw_faults_release(&faults);
    fw_job_free(job);
    return text;
}

fw_job *folder_job(const folder *at)
{
    fw_job *job = NULL;
    fw_faults faults;
    fw_error err = {FW_OK, ""};
    if (fw_job_read(at->path, &job, &faults, &err) != FW_OK) {
        for (size_t i = 0; i < faults.listed; i++)
            print_error("%s:%d:%d: %s\n", faults.list[i].file, faults.list[i].line,
                        faults.list[i].column, faults.list[i].text);
        fail_msg("%s", err.text);
    }
    fw_faults_release(&faults);
    return job;
}

void assert_faults(const char *ini, const char *readings, const char *expected)
{
    folder at = folder_make();
    folder_write(&at, "job.ini", ini ? ini : PLAIN_INI);
    folder_write(&at, "readings.csv", readings);
    const char *found = folder_faults(&at);
    folder_remove(&at);
    assert_string_equal(found, expected);
}
