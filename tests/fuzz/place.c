/* place.c - a job folder that the fuzzing targets write their bytes into. */
#define _XOPEN_SOURCE 700
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "place.h"

static char folder[64];

static int remove_entry(const char *path, const struct stat *place, int kind, struct FTW *walk)
{
    (void)place, (void)kind, (void)walk;
    return remove(path);
}

static void remove_folder(void)
{
    nftw(folder, remove_entry, 8, FTW_DEPTH | FTW_PHYS);
}

static int remove_inside(const char *path, const struct stat *place, int kind, struct FTW *walk)
{
    return walk->level ? remove_entry(path, place, kind, walk) : 0;
}

void place_empty(void)
{
    if (nftw(place_folder(), remove_inside, 8, FTW_DEPTH | FTW_PHYS) != 0)
        abort();
}

const char *place_folder(void)
{
    if (*folder)
        return folder;
    snprintf(folder, sizeof folder, "%s/fuzz-XXXXXX",
             access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp");
    if (!mkdtemp(folder) || atexit(remove_folder) != 0)
        abort();
    return folder;
}

void place_put(const char *name, const void *bytes, size_t size)
{
    char path[128];
    snprintf(path, sizeof path, "%s/%s", place_folder(), name);
    if (!bytes) {
        remove(path);
        return;
    }
    FILE *out = fopen(path, "wb");
    if (!out || fwrite(bytes, 1, size, out) != size || fclose(out) != 0)
        abort();
}

void place_one(const char *name, const uint8_t *bytes, size_t size)
{
    place_put("job.ini", PLACE_INI, strlen(PLACE_INI));
    place_put("readings.csv", PLACE_READINGS, strlen(PLACE_READINGS));
    place_put("work.csv", NULL, 0);
    place_put("sag.csv", NULL, 0);
    place_put(name, bytes ? (const void *)bytes : "", size);
}

/* What every screen relies on: no control character in the text of a fault. */
static void check_text(const char *text)
{
    if (!*text)
        abort();
    for (; *text; text++)
        if ((unsigned char)*text < ' ' || *text == 127)
            abort();
}

fw_job *place_read(void)
{
    fw_job *job = NULL;
    fw_faults faults;
    fw_error err = {FW_OK, ""};
    fw_status status = fw_job_read(place_folder(), &job, &faults, &err);
    if (status == FW_SYSTEM || (status == FW_OK) != (job != NULL) ||
        (status == FW_INPUT) != (faults.count > 0))
        abort();
    for (size_t i = 0; i < faults.listed; i++)
        check_text(faults.list[i].text);
    if (status)
        check_text(err.text);
    fw_faults_release(&faults);
    return job;
}
