/* fake_result.c - solved jobs made by hand, all numbers invented. */
#include "fake_result.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/alloc.h"

static void *make(size_t count, size_t size)
{
    void *memory = fw_alloc(count, size);
    assert(memory);
    return memory;
}

static void *grow(void *old, size_t count, size_t size)
{
    void *memory = fw_resize(old, count, size);
    assert(memory);
    return memory;
}

static char *copy(const char *text)
{
    char *made = fw_copy_text(text);
    assert(made);
    return made;
}

static fw_profile make_profile(int flat, int ndiameters, int nstations)
{
    fw_profile profile = {true, ndiameters, make((size_t)ndiameters, sizeof(fw_diameter)), true};
    for (int d = 0; d < ndiameters; d++) {
        fw_diameter *diameter = &profile.diameters[d];
        diameter->angle_deg = 180.0 * d / ndiameters;
        diameter->determined = true;
        diameter->npoints = (size_t)nstations;
        diameter->points = make((size_t)nstations, sizeof(fw_point));
        for (int i = 0; i < nstations; i++) {
            double x = nstations > 1 ? 2.0 * i / (nstations - 1) - 1 : 0;
            double size = flat % 3 == 0 ? 2.5 : flat % 3 == 1 ? -20 : 4;
            double height = size * (0.5 - x * x) * (1 + 0.1 * d) + size / 5 * sin(5 * x);
            diameter->points[i] = (fw_point){120 * x, height, 1.4, true, true};
        }
    }
    return profile;
}

static fw_figure make_figure(int flat)
{
    static const fw_figure figures[3] = {
        {.order = 2, .pv = {5.13, 0.94}, .rms = {1.21, 0.22}, .power = {2.96, 0.51},
         .irregularity = {2.11, 0.57}, .symmetric = {0.83, 0.41}, .pv_raw_nm = 9.27,
         .probability_within = 0.98, .verdict = FW_WITHIN, .finer_p = 0.4},
        {.order = 6, .pv = {41.23, 2.34}, .rms = {9.81, 0.62}, .power = {-30.13, 1.12},
         .irregularity = {12.28, 1.53}, .symmetric = {7.31, 1.22}, .pv_raw_nm = 46.02,
         .probability_within = 0, .verdict = FW_OUTSIDE, .finer_p = 0.002, .finer_rms_nm = 2.13,
         .finer = true},
        {.order = 4, .pv = {9.42, 1.86}, .rms = {2.33, 0.41}, .power = {0.42, 1.13},
         .irregularity = {8.04, 1.71}, .symmetric = {2.26, 1.07}, .pv_raw_nm = 14.88,
         .probability_within = 0.61, .verdict = FW_UNDECIDED, .finer_p = 0.7}};
    return figures[flat % 3];
}

/* Power and, on all but the first, astigmatism; on one diameter power alone. */
static void add_terms(fw_figure *figure, int ndiameters)
{
    double power = figure->power.value_nm / 2 / sqrt(3); /* Z_2^0 = sqrt 3 (2 rho^2 - 1) */
    figure->line = ndiameters == 1;
    figure->radius_mm = 120;
    figure->nterms = 3;
    figure->terms = make(3, sizeof *figure->terms);
    figure->terms[0] = (fw_figure_term){2, 0, -power, 0.3};
    figure->terms[1] = (fw_figure_term){2, 2, figure->line ? 0 : power / 4, 0.3};
    figure->terms[2] = (fw_figure_term){2, -2, 0, 0.3};
    if (figure->line)
        for (int t = 1; t < 3; t++)
            figure->terms[t] = (fw_figure_term){2 + t, 0, 0, 0.3};
}

static fw_figure no_figure(void)
{
    fw_quantity none = {NAN, NAN};
    return (fw_figure){.pv = none, .rms = none, .power = none, .irregularity = none,
                       .symmetric = none, .pv_raw_nm = NAN, .probability_within = NAN,
                       .verdict = FW_UNDETERMINED, .finer_p = NAN};
}

static void make_job(fw_job *job, int nflats)
{
    job->folder = copy("trio");
    job->title = copy("Collimator trio");
    job->nflats = nflats;
    job->flats = make((size_t)nflats, sizeof(fw_flat));
    for (int f = 0; f < nflats; f++) {
        char name[2] = {(char)('A' + f), 0};
        job->flats[f] = (fw_flat){.name = copy(name), .diameter_mm = 250, .clear_mm = 240,
                                  .thickness_mm = 40};
    }
    job->flatness_nm = 10;
    job->confidence = 0.95;
    job->sigma_nm = 2;
    job->light = (fw_light){"mercury-green", 546.07, 0};
    job->nscans = 1;
    job->scans = make(1, sizeof(fw_scan));
    job->scans[0] = (fw_scan){1, 0, 1, 45, 90, copy(""), 0, 0};
}

fake_set *fake_new(int nflats, int ndiameters, int nstations)
{
    fake_set *made = make(1, sizeof *made);
    fw_result *result = &made->result;
    make_job(&made->job, nflats);
    result->job = &made->job;
    result->round = 1;
    result->model = FW_MODEL_PROFILE;
    result->fit = (fw_fit){144, 131, 116, 28, true, 1.02, 29.13, 0.41, 1};
    result->nfaces = nflats;
    result->faces = make((size_t)nflats, sizeof(fw_face));
    result->today = make((size_t)nflats, sizeof(int));
    for (int f = 0; f < nflats; f++) {
        result->faces[f] = (fw_face){f, 0, 1, 1, make_profile(f, ndiameters, nstations),
                                     make_figure(f), {0}, {0, 0, NULL}};
        add_terms(&result->faces[f].figure, ndiameters);
        result->today[f] = f;
    }
    result->worst_mdb_nm = 14.2;
    if (nflats > 2) {
        result->nclosures = 2;
        result->closures = make(2, sizeof(fw_closure));
        result->closures[0] = (fw_closure){0, 1, 2, 0, 7, 2.2, 2.45};
        result->closures[1] = (fw_closure){0, 1, 2, 45, 7, 3.1, 2.45};
    }
    return made;
}

void fake_undetermine(fake_set *fake, int flat, int diameter)
{
    fw_face *face = &fake->result.faces[fake->result.today[flat]];
    fw_quantity power = face->figure.power; /* needs no turned pair, so it may still be told */
    for (int d = 0; d < face->profile.ndiameters; d++) {
        fw_diameter *line = &face->profile.diameters[d];
        if (diameter >= 0 && diameter != d)
            continue;
        line->determined = false;
        for (size_t i = 0; i < line->npoints; i++) {
            line->points[i].determined = false;
            line->points[i].height_nm = line->points[i].u_nm = NAN;
        }
    }
    face->profile.determined = false;
    fw_free(face->figure.terms);
    face->figure = no_figure();
    face->figure.power = power;
}

void fake_work(fake_set *fake, int flat)
{
    fw_result *result = &fake->result;
    fw_job *job = &fake->job;
    int at = result->today[flat] + 1;
    job->work = grow(job->work, job->nwork + 1, sizeof(fw_work));
    job->work[job->nwork] = (fw_work){1, flat, 0.5, FW_LAP_ON_TOP, NAN, NAN, NAN, NAN, copy(""),
                                      (int)job->nwork + 2, NAN, NAN};
    job->nwork++;
    result->faces = grow(result->faces, (size_t)result->nfaces + 1, sizeof(fw_face));
    memmove(result->faces + at + 1, result->faces + at,
            (size_t)(result->nfaces - at) * sizeof(fw_face));
    result->nfaces++;
    for (int f = 0; f < job->nflats; f++)
        result->today[f] += result->today[f] >= at || f == flat;
    result->faces[at] = (fw_face){.flat = flat,
                                  .state = result->faces[at - 1].state + 1,
                                  .figure = no_figure()};
    result->round = 2;
}

void fake_reread(fake_set *fake, int flat)
{
    fw_result *result = &fake->result;
    fw_face *today = &result->faces[result->today[flat]];
    const fw_profile *before = &result->faces[result->today[flat] - 1].profile;
    fw_removal removal = {flat, today->state - 1, today->state, 1, make(1, sizeof(size_t)), 0.5,
                          {0}, {8.81, 1.92}};
    removal.work[0] = fake->job.nwork - 1;
    today->first_round = today->last_round = 2;
    today->figure = make_figure(flat);
    add_terms(&today->figure, before->ndiameters);
    today->profile = make_profile(flat, before->ndiameters, (int)before->diameters[0].npoints);
    removal.profile = make_profile(flat, before->ndiameters, (int)before->diameters[0].npoints);
    for (int d = 0; d < before->ndiameters; d++)
        for (size_t i = 0; i < before->diameters[d].npoints; i++) {
            today->profile.diameters[d].points[i].height_nm *= 0.5;
            removal.profile.diameters[d].points[i].height_nm *= 0.5;
        }
    result->removals = grow(result->removals, (size_t)result->nremovals + 1, sizeof(fw_removal));
    result->removals[result->nremovals++] = removal;
}

void fake_unknown(fake_set *fake, const char *text)
{
    fw_result *result = &fake->result;
    fw_unknown unknown = {.nflats = fake->job.nflats, .ndiameters = 2};
    unknown.flats = make((size_t)unknown.nflats, sizeof(int));
    for (int f = 0; f < unknown.nflats; f++)
        unknown.flats[f] = f;
    unknown.diameters_deg = make(2, sizeof(double));
    unknown.diameters_deg[0] = 45;
    unknown.diameters_deg[1] = 135;
    snprintf(unknown.text, sizeof unknown.text, "%s", text);
    result->unknowns = grow(result->unknowns, (size_t)result->nunknowns + 1, sizeof unknown);
    result->unknowns[result->nunknowns++] = unknown;
}

void fake_suspect(fake_set *fake, int line, bool tied)
{
    fw_result *result = &fake->result;
    result->suspects = grow(result->suspects, (size_t)result->nsuspects + 1, sizeof(fw_suspect));
    result->suspects[result->nsuspects++] =
        (fw_suspect){line, 0, 60, 4.43, 3.52, 14.21, 11.3, tied};
}

void fake_note(fake_set *fake, const char *text)
{
    fw_result *result = &fake->result;
    result->notes = grow(result->notes, (size_t)result->nnotes + 1, sizeof *result->notes);
    snprintf(result->notes[result->nnotes++], sizeof *result->notes, "%s", text);
}

void fake_rename(fake_set *fake, int flat, const char *name)
{
    fw_free(fake->job.flats[flat].name);
    fake->job.flats[flat].name = copy(name);
}

static void free_profile(fw_profile *profile)
{
    for (int d = 0; d < profile->ndiameters; d++)
        fw_free(profile->diameters[d].points);
    fw_free(profile->diameters);
}

static void free_job(fw_job *job)
{
    for (int f = 0; f < job->nflats; f++)
        fw_free(job->flats[f].name);
    for (size_t w = 0; w < job->nwork; w++)
        fw_free(job->work[w].note);
    for (size_t s = 0; s < job->nscans; s++)
        fw_free(job->scans[s].label);
    fw_free(job->flats);
    fw_free(job->work);
    fw_free(job->scans);
    fw_free(job->folder);
    fw_free(job->title);
}

void fake_free(fake_set *fake)
{
    fw_result *result = &fake->result;
    for (int f = 0; f < result->nfaces; f++) {
        free_profile(&result->faces[f].profile);
        fw_free(result->faces[f].figure.terms);
    }
    for (int r = 0; r < result->nremovals; r++) {
        free_profile(&result->removals[r].profile);
        fw_free(result->removals[r].work);
    }
    for (int i = 0; i < result->nunknowns; i++) {
        fw_free(result->unknowns[i].flats);
        fw_free(result->unknowns[i].diameters_deg);
    }
    fw_free(result->faces);
    fw_free(result->today);
    fw_free(result->removals);
    fw_free(result->unknowns);
    fw_free(result->suspects);
    fw_free(result->closures);
    fw_free(result->notes);
    free_job(&fake->job);
    fw_free(fake);
}

char *fake_printed(void (*print)(FILE *out, const fw_result *result), const fw_result *result)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    assert(out);
    print(out, result);
    fclose(out);
    return text;
}
