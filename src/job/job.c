/* job.c - a job folder read whole: every fault of every file, or a job. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "flatwright/alloc.h"
#include "job/parts.h"

char *fw_path_in(const char *folder, const char *name)
{
    size_t length = strlen(folder), size = length + strlen(name) + 2;
    char *path = fw_alloc(size, 1);
    if (path)
        snprintf(path, size, "%s%s%s", folder, length > 0 && folder[length - 1] == '/' ? "" : "/",
                 name);
    return path;
}

static fw_job *empty_job(const char *folder)
{
    fw_job *job = fw_alloc(1, sizeof *job);
    if (!job)
        return NULL;
    job->light.wavelength_nm = job->sigma_nm = NAN;
    job->gradient_k = job->gap_um = job->eye_mm = NAN;
    job->folder = fw_copy_text(folder);
    if (job->folder)
        return job;
    fw_free(job);
    return NULL;
}

/* Something that is no folder is a fault of the input; one that may not be entered is not. */
static fw_status check_folder(const char *folder, fw_faults *faults, fw_error *err)
{
    struct stat place;
    if (stat(folder, &place) != 0) {
        int why = errno;
        if (why == EACCES || why == ENOMEM || why == EIO)
            return fw_fail(err, FW_SYSTEM, "'%s' cannot be examined: %s", folder, strerror(why));
        fw_fault_add(faults, folder, 0, 0, "there is no such folder");
    } else if (!S_ISDIR(place.st_mode))
        fw_fault_add(faults, folder, 0, 0, "is a file, expected the folder of a job");
    return FW_OK;
}

/* The first n of the files. */
static fw_status read_files(const char *folder, int n, fw_job *job, fw_faults *faults,
                            fw_error *err)
{
    static const char *const names[] = {"job.ini", "readings.csv", "work.csv", "sag.csv"};
    fw_status status = FW_OK;
    bool light_at_fault = false;
    for (int i = 0; i < n && status == FW_OK; i++) {
        char *path = fw_path_in(folder, names[i]);
        if (!path)
            return fw_fail(err, FW_SYSTEM, "no memory");
        if (i == 0)
            status = fw_settings_read(path, job, &light_at_fault, faults, err);
        else if (i == 1)
            status = fw_readings_read(path, job, light_at_fault, false, faults, err);
        else if (i == 2)
            status = fw_work_read(path, job, faults, err);
        else
            status = fw_sag_read(path, job, faults, err);
        fw_free(path);
    }
    return status;
}

static fw_status read_job(const char *folder, int nfiles, fw_job **job, fw_faults *faults,
                          fw_error *err)
{
    *job = NULL;
    *faults = (fw_faults){0};
    fw_job *made = empty_job(folder);
    fw_status status = made ? check_folder(folder, faults, err)
                            : fw_fail(err, FW_SYSTEM, "no memory");
    if (status == FW_OK && faults->count == 0)
        status = read_files(folder, nfiles, made, faults, err);
    if (status == FW_OK && faults->out_of_memory)
        status = fw_fail(err, FW_SYSTEM, "no memory for the faults of '%s'", folder);
    if (status == FW_OK && faults->count > 0) {
        fw_faults_sort(faults);
        status = fw_fail(err, FW_INPUT, "%zu %s in '%s'", faults->count,
                         faults->count == 1 ? "fault" : "faults", folder);
    }
    if (status == FW_OK)
        *job = made;
    else
        fw_job_free(made);
    return status;
}

fw_status fw_job_read(const char *folder, fw_job **job, fw_faults *faults, fw_error *err)
{
    return read_job(folder, 4, job, faults, err);
}

fw_status fw_job_read_set(const char *folder, fw_job **job, fw_faults *faults, fw_error *err)
{
    return read_job(folder, 1, job, faults, err);
}

void fw_job_free(fw_job *job)
{
    if (!job)
        return;
    for (int i = 0; i < job->nflats; i++)
        fw_free(job->flats[i].name);
    for (size_t i = 0; i < job->nscans; i++)
        fw_free(job->scans[i].label);
    for (size_t i = 0; i < job->nwork; i++)
        fw_free(job->work[i].note);
    for (size_t i = 0; i < job->nsag; i++)
        fw_free(job->sag[i].note);
    fw_free(job->flats);
    fw_free(job->scans);
    fw_free(job->readings);
    fw_free(job->work);
    fw_free(job->sag);
    fw_free(job->turns_deg);
    fw_free(job->title);
    fw_free(job->folder);
    fw_free(job);
}

int fw_job_round(const fw_job *job)
{
    int round = 1;
    for (size_t i = 0; i < job->nscans; i++)
        if (job->scans[i].round > round)
            round = job->scans[i].round;
    for (size_t i = 0; i < job->nwork; i++)
        if (job->work[i].round >= round)
            round = job->work[i].round + 1;
    return round;
}

int fw_job_state(const fw_job *job, int flat, int round)
{
    int state = 0;
    for (size_t i = 0; i < job->nwork; i++)
        state += job->work[i].flat == flat && job->work[i].round < round;
    return state;
}
