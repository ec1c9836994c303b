/* practice.c - made-up readings of made-up flats, laid as a job to practise on. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "adjust/planned.h"
#include "figure/madeup.h"
#include "flatwright/alloc.h"
#include "flatwright/file.h"
#include "flatwright/rehearse.h"
#include "flatwright/result.h"
#include "job/parts.h"
#include "job/sheets.h"

/* Sizes of made-up flats, in targets, and how far apart the levels of scans lie, in sigmas. */
static const double LEAST = 0.5, MOST = 15, LEVEL = 20;

enum { JOB_INI, READINGS, TRUTH, FILES };
static const char *const names[FILES] = {"job.ini", "readings.csv", "truth.csv"};

typedef struct practice {
    const fw_rehearsal *r;
    unsigned long seed;
    const char *folder;
    fw_basis *basis;
    madeup *flats;
    double *size_nm;
    fw_job *planned;
    fw_result *truth; /* of readings without errors */
} practice;

static fw_status make_flats(practice *p, gsl_rng *rng, fw_error *err)
{
    const fw_job *job = p->r->job;
    fw_status status = fw_basis_new(false, MADEUP_ORDER, &p->basis, err);
    p->flats = fw_alloc(job->nflats, sizeof *p->flats);
    p->size_nm = fw_alloc(job->nflats, sizeof *p->size_nm);
    if (!status && (!p->flats || !p->size_nm))
        status = fw_out_of_memory(err);
    for (int f = 0; f < job->nflats && !status; f++) {
        double size = 0;
        p->flats[f] = (madeup){.basis = p->basis, .clear_mm = job->flats[f].clear_mm / 2};
        /* smooth, or zones of revolution: what comes off a lap */
        madeup_draw(&p->flats[f], 1 + (int)gsl_rng_uniform_int(rng, 2), rng);
        p->size_nm[f] = job->flatness_nm * LEAST * pow(MOST / LEAST, gsl_rng_uniform(rng));
        if (!(status = madeup_size(&p->flats[f], job->flats[f].bore_mm / 2, job->measure, &size,
                                   err)))
            madeup_scale(&p->flats[f], p->size_nm[f] / size);
    }
    return status;
}

/* The true heights on the datum: the same readings without errors, solved. */
static fw_status solve_truth(practice *p, gsl_rng *rng, fw_error *err)
{
    for (size_t i = 0; i < p->planned->nreadings; i++)
        p->planned->readings[i].sigma_nm = 0;
    planned_read(p->planned, p->flats, 0, rng);
    for (size_t i = 0; i < p->planned->nreadings; i++)
        p->planned->readings[i].sigma_nm = p->r->scheme.sigma_nm;
    return fw_solve(p->planned, NULL, &p->truth, err);
}

static fw_status make_up(practice *p, fw_error *err)
{
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    if (!rng)
        return fw_out_of_memory(err);
    gsl_rng_set(rng, p->seed);
    fw_status status = planned_new(p->r->job, &p->r->scheme, &p->planned, err);
    if (!status && !(status = make_flats(p, rng, err)) && !(status = solve_truth(p, rng, err)))
        planned_read(p->planned, p->flats, LEVEL * p->r->scheme.sigma_nm, rng);
    gsl_rng_free(rng);
    return status;
}

/* A title in double quotes; a quote in it stands twice. */
static void put_title(FILE *out, const char *title)
{
    static const char mark[] = "Practice, invented";
    bool marked = strncmp(title, mark, strlen(mark)) == 0;
    fprintf(out, "title = \"%s%s", marked ? "" : mark, marked || !*title ? "" : ": ");
    for (; *title; title++) {
        if (*title == '"')
            fputc('"', out);
        fputc(*title, out);
    }
    fputs("\" ; made up to practise on, nothing was measured\n", out);
}

/* Is `line` the key `title`? */
static bool is_title(const char *line)
{
    line += strspn(line, " \t");
    return strncmp(line, "title", 5) == 0 && strchr(" \t=", line[5]);
}

/* Behind the section's name of `text`: are these lines of [set]? */
static bool opens_set(const char *text)
{
    text += 1 + strspn(text + 1, " \t");
    return strncmp(text, "set", 3) == 0 && strchr(" \t]", text[3]);
}

/* The set's job.ini, its title replaced: every other line stays as it was typed. */
static void copy_settings(const practice *p, FILE *in, FILE *out)
{
    char part[1000]; /* a line, or some of a long one */
    bool in_set = false, dropped = false, start = true;
    while (fgets(part, sizeof part, in)) {
        bool whole = strchr(part, '\n') != NULL, opens = false;
        if (start) {
            const char *text = part + (strncmp(part, "\xEF\xBB\xBF", 3) ? 0 : 3);
            text += strspn(text, " \t");
            dropped = in_set && is_title(text);
            opens = *text == '[' && opens_set(text);
            in_set = opens || (in_set && *text != '[');
        }
        if (!dropped)
            fputs(part, out);
        if (opens) { /* its line has ended, or the file has: a section's line is not long */
            fputs(whole ? "" : "\n", out);
            put_title(out, p->r->job->title);
        }
        start = whole;
    }
}

static fw_status write_settings(const practice *p, FILE *out, fw_error *err)
{
    char *path = fw_path_in(p->r->job->folder, names[JOB_INI]);
    FILE *in = path ? fopen(path, "r") : NULL;
    fw_status status = path ? FW_OK : fw_out_of_memory(err);
    if (in)
        copy_settings(p, in, out);
    if (path && (!in || ferror(in)))
        status = fw_fail(err, FW_SYSTEM, "cannot read '%s': %s", path, strerror(errno));
    if (in)
        fclose(in);
    fw_free(path);
    return status;
}

/* Decimals that keep a twentieth of sigma. */
static int decimals(double sigma_nm)
{
    double digits = ceil(-log10(sigma_nm / 20));
    return digits < 0 ? 0 : digits > 9 ? 9 : (int)digits;
}

static void write_readings(const practice *p, FILE *out)
{
    const fw_job *job = p->planned;
    double sigma = p->r->scheme.sigma_nm;
    fprintf(out,
            "# Invented: made-up flats, read by a made-up reader. Nothing here was measured.\n"
            "# Seed %lu; errors of standard deviation %.4g nm; the truth is in truth.csv: look\n"
            "# there when you have made up your mind.\n"
            "round,bottom,top,turn_deg,diameter_deg,position_mm,deviation,unit,sigma,scan,note\n",
            p->seed, sigma);
    for (size_t i = 0; i < job->nreadings; i++) {
        const fw_reading *r = &job->readings[i];
        const fw_scan *s = &job->scans[r->scan];
        fprintf(out, "1,%s,%s,%.9g,%.9g,%.9g,%.*f,nm,%.4g,%s,invented\n",
                job->flats[s->bottom].name, job->flats[s->top].name, s->turn_deg, s->diameter_deg,
                r->position_mm, decimals(sigma), r->deviation_nm, sigma, s->label);
    }
}

static void write_truth(const practice *p, FILE *out)
{
    const fw_job *job = p->planned;
    static const char *const measures[] = {"PV", "rms", "irregularity"};
    fprintf(out, "# Invented: how the made-up flats of readings.csv (seed %lu) truly are. Over the "
                 "whole face:\n", p->seed);
    for (int f = 0; f < job->nflats; f++)
        fprintf(out, "# %s: %s %.1f nm\n", job->flats[f].name, measures[job->measure],
                p->size_nm[f]);
    fputs("# Heights on the datum of `flatwright export`; empty where the plan determines none.\n"
          "flat,state,diameter_deg,position_mm,height_nm\n", out);
    for (int f = 0; f < job->nflats; f++) {
        const fw_profile *profile = &p->truth->faces[p->truth->today[f]].profile;
        for (int d = 0; d < profile->ndiameters; d++)
            for (size_t i = 0; i < profile->diameters[d].npoints; i++) {
                const fw_point *at = &profile->diameters[d].points[i];
                fprintf(out, "%s,0,%.9g,%.9g,", job->flats[f].name, profile->diameters[d].angle_deg,
                        at->position_mm);
                if (at->determined)
                    fprintf(out, "%.4f", at->height_nm);
                fputc('\n', out);
            }
    }
}

/* A job of which nothing can be lost: no reading, not even a skipped one, and no work. */
static fw_status check_empty(const char *folder, fw_error *err)
{
    fw_faults faults;
    fw_job *there = NULL;
    char *truth = fw_path_in(folder, names[TRUTH]);
    fw_status status = truth ? fw_job_read(folder, &there, &faults, err) : fw_out_of_memory(err);
    if (truth)
        fw_faults_release(&faults);
    if (!status && (there->nreadings || there->nskipped || there->nwork))
        status = fw_fail(err, FW_INPUT, "'%s' has readings or work, nothing was written; give "
                                        "another folder", folder);
    if (!status && access(truth, F_OK) == 0)
        status = fw_fail(err, FW_INPUT, "'%s' exists, nothing was written", truth);
    fw_free(truth);
    fw_job_free(there);
    return status;
}

/* All three as drafts first, so that what can fail has failed before any takes its place. */
static fw_status write_files(const practice *p, fw_error *err)
{
    fw_draft drafts[FILES] = {{0}};
    fw_status status = FW_OK;
    for (int i = 0; i < FILES && !status; i++) {
        char *path = fw_path_in(p->folder, names[i]);
        status = path ? fw_draft_open(path, &drafts[i], err) : fw_out_of_memory(err);
        fw_free(path);
    }
    if (!status)
        status = write_settings(p, drafts[JOB_INI].out, err);
    if (!status) {
        write_readings(p, drafts[READINGS].out);
        write_truth(p, drafts[TRUTH].out);
    }
    for (int i = FILES - 1; i >= 0; i--) {
        if (!status)
            status = fw_draft_commit(&drafts[i], err);
        else
            fw_draft_abandon(&drafts[i]);
    }
    return status;
}

/* Takes away a job that was laid here a moment ago. */
static void unlay(const char *folder, bool made)
{
    for (int i = 0; i < FW_SHEETS + FILES; i++) {
        char *path = fw_path_in(folder, i < FW_SHEETS ? fw_sheets[i].name : names[i - FW_SHEETS]);
        if (path)
            unlink(path);
        fw_free(path);
    }
    if (made)
        rmdir(folder);
}

fw_status fw_practice(const fw_rehearsal *r, unsigned long seed, const char *folder, fw_error *err)
{
    bool own = !folder || strcmp(folder, r->job->folder) == 0;
    practice p = {.r = r, .seed = seed, .folder = own ? r->job->folder : folder};
    bool made = !own && access(folder, F_OK) != 0;
    fw_status status = make_up(&p, err);
    if (!status)
        status = own ? check_empty(p.folder, err) : fw_job_new(folder, err);
    if (!status && (status = write_files(&p, err)) && !own)
        unlay(folder, made);
    fw_result_free(p.truth);
    fw_job_free(p.planned);
    fw_basis_free(p.basis);
    fw_free(p.flats);
    fw_free(p.size_nm);
    return status;
}
