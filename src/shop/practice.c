/* practice.c - made-up readings of made-up flats, laid as a job to practise on, round after round. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "adjust/planned.h"
#include "base/draws.h"
#include "flatwright/alloc.h"
#include "flatwright/file.h"
#include "flatwright/notebook.h"
#include "flatwright/number.h"
#include "flatwright/rehearse.h"
#include "flatwright/result.h"
#include "job/parts.h"
#include "job/sheets.h"
#include "shop/madeset.h"
#include "shop/practice.h"

/* How far apart the levels of scans lie, in sigmas. */
static const double LEVEL = 20;

enum { JOB_INI, READINGS, TRUTH, FILES, MARK_SIZE = 4000, LABEL_SIZE = 16, PATH_SIZE = 4096 };
static const char *const names[FILES] = {"job.ini", "readings.csv", "truth.csv"};

typedef struct practice {
    const fw_rehearsal *r;
    unsigned long seed;
    const char *folder;
    gsl_rng *rng;
    madeset set;
    int round;
    fw_job *there;   /* a practice job that goes on; NULL: a new one */
    fw_job *planned; /* the readings of today */
    fw_result *truth; /* of readings without errors */
} practice;

/* What made the flats: of another seed, target or set they would be others. */
static void make_mark(const practice *p, char mark[MARK_SIZE])
{
    static const char *const measures[] = {"pv", "rms", "irregularity"};
    const fw_job *job = p->r->job;
    int n = snprintf(mark, MARK_SIZE, "# Made of seed %lu for %s %.6g nm;", p->seed,
                     measures[job->measure], job->flatness_nm);
    for (int f = 0; f < job->nflats && n < MARK_SIZE; f++)
        n += snprintf(mark + n, (size_t)(MARK_SIZE - n), " %.12g less %.12g", job->flats[f].clear_mm,
                      job->flats[f].bore_mm);
    if (n < MARK_SIZE)
        snprintf(mark + n, (size_t)(MARK_SIZE - n), " mm");
}

/* Decimals that keep a twentieth of sigma. */
static int decimals(double sigma_nm)
{
    double digits = ceil(-log10(sigma_nm / 20));
    return digits < 0 ? 0 : digits > 9 ? 9 : (int)digits;
}

/* The number that stands in a text. */
static double number_in(const char *text)
{
    double number = NAN;
    fw_number_read(text, strlen(text), false, &number);
    return number + 0.0;
}

/* As they stand in the file. */
static void round_readings(fw_job *job, double sigma_nm)
{
    char text[64];
    for (size_t i = 0; i < job->nreadings; i++) {
        fw_reading *r = &job->readings[i];
        snprintf(text, sizeof text, "%.*f", decimals(sigma_nm), r->deviation_nm);
        r->deviation_nm = number_in(text);
        snprintf(text, sizeof text, "%.4g", r->sigma_nm);
        r->sigma_nm = number_in(text);
    }
}

/* Is there a scan like this one, of the same label? */
static bool is_taken(const fw_job *job, size_t n, const fw_scan *like, const char *label)
{
    for (size_t k = 0; k < n; k++) {
        const fw_scan *s = &job->scans[k];
        if (s->round == like->round && s->bottom == like->bottom && s->top == like->top &&
            s->turn_deg == like->turn_deg && s->diameter_deg == like->diameter_deg &&
            strcmp(s->label, label) == 0)
            return true;
    }
    return false;
}

/* Today's scans: of the present round, none under the label of one that is read already. */
static fw_status place_scans(practice *p, fw_error *err)
{
    for (size_t k = 0; k < p->planned->nscans; k++) {
        fw_scan *scan = &p->planned->scans[k];
        char label[LABEL_SIZE] = "";
        scan->round = p->round;
        for (int i = 2; is_taken(p->there, p->there->nscans, scan, label) ||
                        is_taken(p->planned, k, scan, label); i++)
            snprintf(label, sizeof label, "%d", i);
        char *copy = fw_copy_text(label);
        if (!copy)
            return fw_out_of_memory(err);
        fw_free(scan->label);
        scan->label = copy;
    }
    return FW_OK;
}

/* The work of the job, by which its flats are what they are, goes with the readings. */
static fw_status copy_work(const fw_job *from, fw_job *to, fw_error *err)
{
    to->work = fw_alloc(from->nwork, sizeof *to->work);
    for (size_t w = 0; w < from->nwork && to->work; w++) {
        to->work[w] = from->work[w];
        to->work[w].note = fw_copy_text("");
        to->nwork += to->work[w].note != NULL;
        if (!to->work[w].note)
            return fw_out_of_memory(err);
    }
    return to->work ? FW_OK : fw_out_of_memory(err);
}

/* Flats of the seed, and today's readings of them; errors are never those of an earlier day. */
static fw_status make_up(practice *p, fw_error *err)
{
    double sigma = p->r->scheme.sigma_nm;
    p->rng = draws_new(p->seed);
    if (!p->rng)
        return fw_out_of_memory(err);
    fw_status status = planned_new(p->r->job, &p->r->scheme, &p->planned, err);
    if (!status)
        status = madeset_draw(&p->set, p->r->job, p->seed, p->rng, err);
    if (!status && p->there) {
        gsl_rng_set(p->rng, p->seed + 104729 * (p->there->nreadings + p->there->nskipped));
        if (!(status = place_scans(p, err)))
            status = copy_work(p->there, p->planned, err);
    }
    if (!status)
        status = madeset_read(&p->set, p->planned, true, LEVEL * sigma, p->rng, err);
    if (!status)
        round_readings(p->planned, sigma);
    return status;
}

/*
 * The true heights on the datum: the same readings without errors, solved, which for profiles is
 * the truth itself. For surfaces the solution only says where heights are told. Then the readings
 * are as they were.
 */
static fw_status solve_truth(practice *p, fw_job *job, fw_error *err)
{
    double *kept = fw_alloc(job->nreadings, sizeof *kept);
    if (!kept)
        return fw_out_of_memory(err);
    for (size_t i = 0; i < job->nreadings; i++)
        kept[i] = job->readings[i].deviation_nm;
    fw_status status = madeset_read(&p->set, job, false, 0, p->rng, err);
    if (!status)
        status = fw_solve(job, NULL, &p->truth, err);
    for (size_t i = 0; i < job->nreadings; i++)
        job->readings[i].deviation_nm = kept[i];
    fw_free(kept);
    return status;
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

/* Readings of today behind those that are there. */
static fw_status add_readings(const practice *p, fw_error *err)
{
    const fw_job *job = p->planned;
    fw_notebook *notebook = NULL;
    fw_entry *entries = fw_alloc(job->nreadings, sizeof *entries);
    fw_status status = entries ? fw_notebook_open(p->there, &notebook, err) : fw_out_of_memory(err);
    for (size_t i = 0; i < job->nreadings && !status; i++) {
        const fw_reading *r = &job->readings[i];
        const fw_scan *s = &job->scans[r->scan];
        entries[i] = (fw_entry){.round = s->round, .bottom = s->bottom, .top = s->top,
                                .turn_deg = s->turn_deg, .diameter_deg = s->diameter_deg,
                                .position_mm = r->position_mm, .deviation = r->deviation_nm,
                                .unit = FW_UNIT_NM, .sigma = r->sigma_nm, .label = s->label,
                                .note = "invented"};
    }
    if (!status)
        status = fw_notebook_add(notebook, entries, job->nreadings, true, err);
    fw_notebook_close(notebook);
    fw_free(entries);
    return status;
}

static fw_status write_truth(const practice *p, FILE *out, fw_error *err)
{
    const fw_job *job = p->truth->job;
    static const char *const measures[] = {"PV", "rms", "irregularity"};
    char mark[MARK_SIZE];
    make_mark(p, mark);
    fprintf(out, "# Invented: how the made-up flats of readings.csv truly are in round %d.\n%s\n"
                 "# Over the whole face:\n", p->round, mark);
    for (int f = 0; f < job->nflats; f++) {
        double size;
        fw_status status = madeset_size(&p->set, job, f, p->round, &size, err);
        if (status)
            return status;
        fprintf(out, "# %s: %s %.1f nm\n", job->flats[f].name, measures[job->measure], size);
    }
    fputs("# Heights on the datum of `flatwright export`; empty where the readings determine none.\n"
          "flat,state,diameter_deg,position_mm,height_nm\n", out);
    for (int f = 0; f < job->nflats; f++) {
        fw_profile *profile = &p->truth->faces[p->truth->today[f]].profile;
        fw_status status = p->truth->model == FW_MODEL_SURFACE
                               ? madeset_profile(&p->set, job, f, p->round, profile, err)
                               : FW_OK;
        if (status)
            return status;
        for (int d = 0; d < profile->ndiameters; d++)
            for (size_t i = 0; i < profile->diameters[d].npoints; i++) {
                const fw_point *at = &profile->diameters[d].points[i];
                fprintf(out, "%s,%d,%.9g,%.9g,", job->flats[f].name,
                        p->truth->faces[p->truth->today[f]].state, profile->diameters[d].angle_deg,
                        at->position_mm);
                if (at->determined)
                    fprintf(out, "%.4f", at->height_nm);
                fputc('\n', out);
            }
    }
    return FW_OK;
}

/* Opens the draft of the practice job's file number i. */
static fw_status open_draft(const practice *p, int i, fw_draft *draft, fw_error *err)
{
    char *path = fw_path_in(p->folder, names[i]);
    fw_status status = path ? fw_draft_open(path, draft, err) : fw_out_of_memory(err);
    fw_free(path);
    return status;
}

/* All three as drafts first, so that what can fail has failed before any takes its place. */
static fw_status write_files(const practice *p, fw_error *err)
{
    fw_draft drafts[FILES] = {{0}};
    fw_status status = FW_OK;
    for (int i = 0; i < FILES && !status; i++)
        status = open_draft(p, i, &drafts[i], err);
    if (!status)
        status = practice_settings(p->r->job, p->r->scheme.model, drafts[JOB_INI].out, err);
    if (!status) {
        write_readings(p, drafts[READINGS].out);
        status = write_truth(p, drafts[TRUTH].out, err);
    }
    for (int i = FILES - 1; i >= 0; i--) {
        if (!status)
            status = fw_draft_commit(&drafts[i], err);
        else
            fw_draft_abandon(&drafts[i]);
    }
    return status;
}

/* Takes away a job that was laid here a moment ago; without memory, which may be what is short. */
static void unlay(const char *folder, bool made)
{
    char path[PATH_SIZE];
    for (int i = 0; i < FW_SHEETS + FILES; i++) {
        int n = snprintf(path, sizeof path, "%s/%s", folder,
                         i < FW_SHEETS ? fw_sheets[i].name : names[i - FW_SHEETS]);
        if (n < PATH_SIZE)
            unlink(path);
    }
    if (made)
        rmdir(folder);
}

/* A new practice job: in a folder of its own, or in a job of which nothing can be lost. */
static fw_status lay(practice *p, bool own, fw_error *err)
{
    bool made = !own && access(p->folder, F_OK) != 0;
    fw_status status = solve_truth(p, p->planned, err);
    if (!status && !own)
        status = fw_job_new(p->folder, err);
    if (!status && (status = write_files(p, err)) && !own)
        unlay(p->folder, made);
    return status;
}

/* The job with today's readings behind the others. */
static fw_status put_behind(const fw_job *today, fw_job *job, fw_error *err)
{
    size_t nscans = job->nscans, nreadings = job->nreadings;
    fw_scan *scans = fw_resize(job->scans, nscans + today->nscans, sizeof *scans);
    if (!scans)
        return fw_out_of_memory(err);
    job->scans = scans;
    fw_reading *readings =
        fw_resize(job->readings, nreadings + today->nreadings, sizeof *readings);
    if (!readings)
        return fw_out_of_memory(err);
    job->readings = readings;
    for (size_t k = 0; k < today->nscans; k++) {
        scans[nscans + k] = today->scans[k];
        scans[nscans + k].first += nreadings;
        scans[nscans + k].label = fw_copy_text(today->scans[k].label);
        if (!scans[nscans + k].label)
            return fw_out_of_memory(err);
        job->nscans++;
    }
    for (size_t i = 0; i < today->nreadings; i++) {
        readings[nreadings + i] = today->readings[i];
        readings[nreadings + i].scan += (int)nscans;
        job->nreadings++;
    }
    return FW_OK;
}

/*
 * Today's readings behind the others, and the truth of today over all that is read: it is drafted
 * before, so that what can fail has failed before a row is added.
 */
static fw_status go_on(practice *p, fw_error *err)
{
    fw_draft draft = {0};
    fw_status status = put_behind(p->planned, p->there, err);
    if (!status && !(status = solve_truth(p, p->there, err)) &&
        !(status = open_draft(p, TRUTH, &draft, err)) &&
        !(status = write_truth(p, draft.out, err)) && !(status = add_readings(p, err)))
        return fw_draft_commit(&draft, err);
    fw_draft_abandon(&draft);
    return status;
}

/* found <- truth.csv says that its flats were made as ours; any <- there is one. */
static fw_status find_mark(const practice *p, const char *path, bool *found, bool *any,
                           fw_error *err)
{
    char mark[MARK_SIZE], line[MARK_SIZE + 2];
    FILE *in = fopen(path, "r");
    int why = in ? 0 : errno == ENOENT ? 0 : errno;
    *any = in != NULL;
    *found = false;
    make_mark(p, mark);
    while (in && !*found && fgets(line, sizeof line, in)) {
        line[strcspn(line, "\r\n")] = '\0';
        *found = strcmp(line, mark) == 0;
    }
    if (in && ferror(in))
        why = errno ? errno : EIO;
    if (in)
        fclose(in);
    return why ? fw_fail(err, FW_SYSTEM, "cannot read '%s': %s", path, strerror(why)) : FW_OK;
}

/* The job itself: empty, or laid here before, by the same seed, for the same target and set. */
static fw_status look_at_job(practice *p, fw_error *err)
{
    fw_faults faults = {0};
    char *truth = fw_path_in(p->folder, names[TRUTH]);
    bool any = false, ours = false;
    fw_status status = truth ? find_mark(p, truth, &ours, &any, err) : fw_out_of_memory(err);
    if (!status)
        status = fw_job_read(p->folder, &p->there, &faults, err);
    fw_faults_release(&faults);
    bool empty = !status && !p->there->nreadings && !p->there->nskipped && !p->there->nwork;
    if (!status && !ours && any)
        status = fw_fail(err, FW_INPUT,
                         "'%s' is of another seed, set or target, nothing was written", truth);
    else if (!status && !ours && !empty)
        status = fw_fail(err, FW_INPUT,
                         "'%s' has readings or work: nothing written, give another folder",
                         p->folder);
    if (!status && empty) {
        fw_job_free(p->there);
        p->there = NULL;
    }
    p->round = p->there ? fw_job_round(p->there) : 1;
    fw_free(truth);
    return status;
}

fw_status fw_practice(const fw_rehearsal *r, unsigned long seed, const char *folder,
                      fw_practised *done, fw_error *err)
{
    bool own = !folder || strcmp(folder, r->job->folder) == 0;
    practice p = {.r = r, .seed = seed, .folder = own ? r->job->folder : folder, .round = 1};
    fw_status status = own ? look_at_job(&p, err) : FW_OK;
    if (!status)
        status = make_up(&p, err);
    bool goes_on = p.there != NULL;
    if (!status)
        status = goes_on ? go_on(&p, err) : lay(&p, own, err);
    if (!status && done)
        *done = (fw_practised){goes_on, p.round, p.planned->nreadings};
    fw_result_free(p.truth);
    fw_job_free(p.there);
    fw_job_free(p.planned);
    madeset_release(&p.set);
    draws_free(p.rng);
    return status;
}
