/* track.c - a solved job looked back over: rounds, spells, hours, and the way to go. */
#include <math.h>
#include <stdlib.h>

#include "flatwright/alloc.h"
#include "flatwright/stats.h"
#include "flatwright/track.h"
#include "shop/circle.h"

#define HOURS_PER_INCH 2.0 /* common practice */
#define MM_PER_INCH 25.4
#define FAST_PART 6.0 /* common practice: a fast compound takes a sixth */

static const double SPELL_SCATTER = 0.25; /* of ln y, assumed */
static const double SCATTER_DOF = 4;      /* how many observations that assumption is worth */
static const double OTHERS = 0.25;        /* how far the fall of one flat is from that of others */
static const double INSIDE = 0.95;        /* one-sided: nine in ten lie between the limits */

/* ln y = level - fall (x - middle), and how well that is known. */
typedef struct line {
    int n;
    double middle, level, fall;
    double var_level, var_fall; /* NAN: not known */
    double scatter;             /* standard deviation of ln y about the line */
    double dof;
} line;

fw_quantity fw_track_judged(const fw_job *job, const fw_figure *figure)
{
    return job->measure == FW_MEASURE_RMS            ? figure->rms
           : job->measure == FW_MEASURE_IRREGULARITY ? figure->irregularity
                                                     : figure->pv;
}

static int by_value(const void *a, const void *b)
{
    int p = *(const int *)a, q = *(const int *)b;
    return (p > q) - (p < q);
}

static int find_face(const fw_result *result, int flat, int state)
{
    for (int i = 0; i < result->nfaces; i++)
        if (result->faces[i].flat == flat && result->faces[i].state == state)
            return result->faces[i].last_round > 0 ? i : -1;
    return -1;
}

static fw_status list_rounds(fw_track *t, fw_error *err)
{
    const fw_job *job = t->result->job;
    size_t most = job->nscans + job->nwork + 1, n = 0;
    t->rounds = fw_alloc(most, sizeof *t->rounds);
    if (!t->rounds)
        return fw_out_of_memory(err);
    for (size_t i = 0; i < job->nscans; i++)
        if (i == 0 || job->scans[i].round != job->scans[i - 1].round)
            t->rounds[n++] = job->scans[i].round;
    for (size_t i = 0; i < job->nwork; i++)
        t->rounds[n++] = job->work[i].round;
    t->rounds[n++] = t->result->round;
    qsort(t->rounds, n, sizeof *t->rounds, by_value);
    for (size_t i = 0; i < n; i++)
        if (t->nrounds == 0 || t->rounds[t->nrounds - 1] != t->rounds[i])
            t->rounds[t->nrounds++] = t->rounds[i];
    t->faces = fw_alloc((size_t)t->nrounds * (size_t)job->nflats, sizeof *t->faces);
    if (!t->faces)
        return fw_out_of_memory(err);
    for (int r = 0; r < t->nrounds; r++)
        for (int f = 0; f < job->nflats; f++)
            t->faces[f + r * job->nflats] =
                find_face(t->result, f, fw_job_state(job, f, t->rounds[r]));
    return FW_OK;
}

static const fw_work *work_of(const fw_track *t, size_t spell)
{
    return &t->result->job->work[t->spells[spell].work];
}

/* Insertion sort by round: the rows are nearly in order, and ties stay as in the file. */
static void sort_spells(fw_track *t)
{
    for (size_t i = 1; i < t->nspells; i++) {
        fw_track_spell spell = t->spells[i];
        int round = t->result->job->work[spell.work].round;
        size_t at = i;
        for (; at > 0 && work_of(t, at - 1)->round > round; at--)
            t->spells[at] = t->spells[at - 1];
        t->spells[at] = spell;
    }
}

static fw_status list_spells(fw_track *t, fw_error *err)
{
    const fw_result *result = t->result;
    t->spells = fw_alloc(result->job->nwork, sizeof *t->spells);
    if (!t->spells)
        return fw_out_of_memory(err);
    fw_quantity none = {NAN, NAN};
    for (size_t i = 0; i < result->job->nwork; i++)
        t->spells[i] = (fw_track_spell){.work = i, .removal = -1, .rms = none, .rate = none};
    for (int r = 0; r < result->nremovals; r++) {
        const fw_removal *m = &result->removals[r];
        for (int w = 0; w < m->nwork; w++) {
            fw_track_spell *spell = &t->spells[m->work[w]];
            spell->removal = r;
            spell->together = m->nwork;
            spell->rms = m->rms;
            if (m->hours > 0)
                spell->rate = (fw_quantity){m->rms.value_nm / m->hours, m->rms.u_nm / m->hours};
        }
    }
    t->nspells = result->job->nwork;
    sort_spells(t);
    return FW_OK;
}

/*
 * Weighted straight line; s^2 from chi^2 and from the assumed scatter, which counts as SCATTER_DOF
 * observations. One point gives a level only.
 */
static line fit_line(int n, const double *x, const double *y, const double *u)
{
    double sum = 0, sx = 0, sy = 0, sxx = 0, sxy = 0, chi = 0;
    line l = {.n = n, .fall = NAN, .var_fall = NAN};
    for (int pass = 0; pass < 3; pass++)
        for (int i = 0; i < n; i++) {
            double height = fmax(y[i], u[i]); /* what is below its uncertainty is nothing more */
            double part = u[i] / height, ln = log(height);
            double w = 1 / (part * part + SPELL_SCATTER * SPELL_SCATTER);
            if (pass == 0) {
                sum += w;
                sx += w * x[i];
                sy += w * ln;
            } else if (pass == 1) {
                sxx += w * (x[i] - sx / sum) * (x[i] - sx / sum);
                sxy += w * (x[i] - sx / sum) * ln;
            } else if (sxx > 0) {
                double left = ln - sy / sum - sxy / sxx * (x[i] - sx / sum);
                chi += w * left * left;
            }
        }
    l.middle = sx / sum;
    l.level = sy / sum;
    l.dof = SCATTER_DOF + (n > 2 ? n - 2 : 0);
    double s2 = (SCATTER_DOF + chi) / l.dof;
    l.scatter = SPELL_SCATTER * sqrt(s2);
    l.var_level = s2 / sum;
    if (n > 1 && sxx > 0) {
        l.fall = -sxy / sxx;
        l.var_fall = s2 / sxx;
    }
    return l;
}

/*
 * The line through a flat's states whose figure is known; x counts the hours of polishing since it
 * was last ground.
 */
static fw_status fit_flat(const fw_track *t, int flat, line *out, fw_track_flat *entry,
                          fw_error *err)
{
    double hours = 0;
    int n = 0, state = 0;
    double *x = fw_alloc(3 * (t->nspells + 1), sizeof *x);
    if (!x)
        return fw_out_of_memory(err);
    double *y = x + t->nspells + 1, *u = y + t->nspells + 1;
    for (size_t s = 0; s <= t->nspells; s++) {
        const fw_work *w = s > 0 ? work_of(t, s - 1) : NULL;
        if (w && w->flat != flat)
            continue;
        state += w != NULL;
        if (w && w->method == FW_GRIND) {
            entry->ground_h += w->hours;
            hours = n = 0;
        } else if (w)
            hours += w->hours;
        int face = find_face(t->result, flat, state);
        fw_quantity q = {NAN, NAN};
        if (face >= 0)
            q = fw_track_judged(t->result->job, &t->result->faces[face].figure);
        if (isfinite(q.value_nm) && q.u_nm >= 0 && fmax(q.value_nm, q.u_nm) > 0) {
            x[n] = hours;
            y[n] = q.value_nm;
            u[n++] = q.u_nm;
        }
    }
    *out = n > 0 ? fit_line(n, x, y, u) : (line){.fall = NAN, .var_fall = NAN};
    entry->polished_h = hours;
    entry->nread = n;
    fw_free(x);
    return FW_OK;
}

/* The weighted mean of the others' falls; how far flats differ from each other is allowed for. */
static void pool(int nflats, const line *lines, int but, line *pooled)
{
    double sum = 0, mean = 0, chi = 0;
    int n = 0;
    *pooled = (line){.fall = NAN, .var_fall = NAN};
    for (int f = 0; f < nflats; f++)
        if (f != but && lines[f].var_fall > 0) {
            sum += 1 / lines[f].var_fall;
            mean += lines[f].fall / lines[f].var_fall;
            n++;
        }
    if (n == 0)
        return;
    mean /= sum;
    for (int f = 0; f < nflats; f++)
        if (f != but && lines[f].var_fall > 0)
            chi += (lines[f].fall - mean) * (lines[f].fall - mean) / lines[f].var_fall;
    pooled->fall = mean;
    pooled->var_fall = fmax(1, n > 1 ? chi / (n - 1) : 1) / sum + OTHERS * OTHERS * mean * mean;
}

/* Two states alone say little, so the others are weighed in. From three on a flat is on its own. */
static void lend_fall(line *l, const line *pooled)
{
    if (isnan(pooled->fall) || l->n > 2)
        return;
    double own = l->var_fall > 0 ? 1 / l->var_fall : 0, other = 1 / pooled->var_fall;
    l->fall = ((own > 0 ? own * l->fall : 0) + other * pooled->fall) / (own + other);
    l->var_fall = 1 / (own + other);
}

/* Where the figure counts as done: room for the verdict's confidence is left below the target. */
static double goal_of(const fw_job *job, double u)
{
    double room = isfinite(u) ? fw_normal_quantile(job->confidence) * u : 0;
    return fmax(job->flatness_nm - room, job->flatness_nm / 2);
}

/*
 * Fieller: the g = x - middle with (M - b g)^2 <= t^2 (V + g^2 Vb), M = level - ln goal, and V the
 * variance of the level and of a single figure about the line.
 */
static fw_track_hours reach(const line *l, double goal, double x_now)
{
    fw_track_hours h = {NAN, NAN, NAN};
    double t = fw_student_quantile(INSIDE, l->dof), b = l->fall, m = l->level - log(goal);
    double a = b * b - t * t * l->var_fall;
    double c = m * m - t * t * (l->var_level + l->scatter * l->scatter);
    double root = m * m * b * b - a * c, past = x_now - l->middle;
    if (!(b > 0))
        return h;
    h.hours = fmax(m / b - past, 0);
    h.low = 0;
    if (a > 0) {
        root = fmax(root, 0); /* never below but by rounding */
        h.low = fmax((m * b - sqrt(root)) / a - past, 0);
        h.high = fmax((m * b + sqrt(root)) / a - past, 0);
    } else if (root >= 0 && a < 0) /* beyond the larger root: at the fastest fall that could be */
        h.low = fmax((m * b - sqrt(root)) / a - past, 0);
    h.low = fmin(h.low, h.hours);
    return h;
}

static void tell_to_go(const fw_track *t, int flat, line l)
{
    const fw_result *result = t->result;
    const fw_figure *today = &result->faces[result->today[flat]].figure;
    fw_track_flat *entry = &t->flats[flat];
    entry->fall_per_h = l.fall;
    entry->u_fall = sqrt(l.var_fall);
    entry->to_go = (fw_track_hours){NAN, NAN, NAN};
    if (today->verdict == FW_WITHIN)
        entry->to_go = (fw_track_hours){0, 0, 0};
    else if (l.n > 0 && isfinite(l.fall))
        entry->to_go = reach(&l, goal_of(result->job, fw_track_judged(result->job, today).u_nm),
                             entry->polished_h);
}

static fw_status list_flats(fw_track *t, fw_error *err)
{
    int n = t->result->job->nflats;
    fw_status status = FW_OK;
    line *lines = fw_alloc((size_t)n, sizeof *lines);
    t->flats = fw_alloc((size_t)n, sizeof *t->flats);
    if (!lines || !t->flats) {
        fw_free(lines);
        return fw_out_of_memory(err);
    }
    for (int f = 0; f < n && !status; f++)
        status = fit_flat(t, f, &lines[f], &t->flats[f], err);
    for (int f = 0; f < n && !status; f++) {
        line pooled, own = lines[f];
        pool(n, lines, f, &pooled);
        t->flats[f].own = !isnan(own.fall);
        lend_fall(&own, &pooled);
        tell_to_go(t, f, own);
    }
    fw_free(lines);
    return status;
}

/* Hours on a flat, since it was ground, before its first readings. */
static double hours_before(const fw_track *t, const fw_face *face)
{
    double hours = 0;
    int state = 0;
    for (size_t s = 0; s < t->nspells && state < face->state; s++) {
        const fw_work *w = work_of(t, s);
        if (w->flat != face->flat)
            continue;
        hours = w->method == FW_GRIND ? 0 : hours + w->hours;
        state++;
    }
    return hours;
}

static void reckon(fw_track *t)
{
    const fw_result *result = t->result;
    double diameter = 0;
    const fw_face *first = NULL;
    for (int f = 0; f < result->job->nflats; f++)
        diameter = fmax(diameter, result->job->flats[f].diameter_mm);
    t->usual_h = HOURS_PER_INCH * diameter / MM_PER_INCH;
    t->fast_h = t->usual_h / FAST_PART;
    t->own_h = NAN;
    t->own_flat = -1;
    for (int i = 0; i < result->nfaces; i++) {
        const fw_face *face = &result->faces[i];
        bool earliest = face->last_round > 0 && (i == 0 || face[-1].flat != face->flat);
        if (earliest && (!first || face->first_round < first->first_round))
            first = face;
    }
    if (first && hours_before(t, first) > 0) {
        t->own_h = hours_before(t, first);
        t->own_flat = first->flat;
    }
}

fw_status fw_track_new(const fw_result *result, fw_track **out, fw_error *err)
{
    fw_status status;
    fw_track *t = fw_alloc(1, sizeof *t);
    if (!t)
        return fw_out_of_memory(err);
    t->result = result;
    if ((status = list_rounds(t, err)) != FW_OK || (status = list_spells(t, err)) != FW_OK ||
        (status = list_flats(t, err)) != FW_OK)
        goto done;
    t->circle = circle_find(t);
    reckon(t);
    if (result->job->nsag > 0 && (status = fw_grind_new(result->job, &t->grind, err)) != FW_OK)
        goto done;
    *out = t;
    t = NULL;
done:
    fw_track_free(t);
    return status;
}

void fw_track_free(fw_track *track)
{
    if (!track)
        return;
    fw_free(track->rounds);
    fw_free(track->faces);
    fw_free(track->spells);
    fw_free(track->flats);
    fw_grind_free(track->grind);
    fw_free(track);
}
