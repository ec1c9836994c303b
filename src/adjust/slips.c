/* slips.c - scans whose diameter or turn looks mistyped. */
#include "flatwright/slips.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"

/* Diameters of an even fan, at least: fewer are even by chance. */
enum { FAN_LEAST = 4 };

/* The flats of a round in one mating, and on which diameters they were read. */
typedef struct mating {
    const fw_scan *scan; /* the first */
    int n;               /* diameters */
    const int *scans;    /* per line of the job: scans along it */
} mating;

typedef struct survey {
    const fw_job *job;
    int nlines, nmatings;
    double *line_deg; /* every diameter of the job once, [0, 180) */
    mating *matings;
    int *line, *of; /* per scan: its line and its mating; -1: it has no readings */
    int *read;      /* per line: matings that read along it */
    int *scans;     /* nmatings x nlines */
} survey;

static bool same_flats(const fw_scan *a, const fw_scan *b)
{
    return a->round == b->round && a->bottom == b->bottom && a->top == b->top;
}

static bool same_turn(const fw_scan *a, const fw_scan *b)
{
    return fabs(remainder(a->turn_deg - b->turn_deg, 360)) <= FW_ANGLE_TOLERANCE_DEG;
}

/* The lines and matings of every scan; it is mostly one of the last. */
static void sort_scans(survey *s)
{
    for (size_t i = 0; i < s->job->nscans; i++) {
        const fw_scan *scan = &s->job->scans[i];
        double deg = fw_line_of(scan->diameter_deg).angle_deg;
        int k = s->nlines, m = s->nmatings;
        s->line[i] = s->of[i] = -1;
        if (!scan->count)
            continue;
        while (k > 0 && fabs(remainder(s->line_deg[k - 1] - deg, 180)) > FW_ANGLE_TOLERANCE_DEG)
            k--;
        while (m > 0 && !(same_flats(s->matings[m - 1].scan, scan) &&
                          same_turn(s->matings[m - 1].scan, scan)))
            m--;
        if (!k)
            s->line_deg[(k = ++s->nlines) - 1] = deg;
        if (!m)
            s->matings[(m = ++s->nmatings) - 1].scan = scan;
        s->line[i] = k - 1;
        s->of[i] = m - 1;
    }
}

static fw_status count_scans(survey *s, fw_error *err)
{
    s->scans = fw_alloc((size_t)s->nmatings * s->nlines, sizeof *s->scans);
    if (!s->scans)
        return fw_out_of_memory(err);
    for (size_t i = 0; i < s->job->nscans; i++)
        if (s->of[i] >= 0 && !s->scans[(size_t)s->of[i] * s->nlines + s->line[i]]++) {
            s->matings[s->of[i]].n++;
            s->read[s->line[i]]++;
        }
    for (int m = 0; m < s->nmatings; m++)
        s->matings[m].scans = s->scans + (size_t)m * s->nlines;
    return FW_OK;
}

static fw_status survey_init(survey *s, const fw_job *job, fw_error *err)
{
    *s = (survey){.job = job};
    s->line_deg = fw_alloc(job->nscans, sizeof *s->line_deg);
    s->matings = fw_alloc(job->nscans, sizeof *s->matings);
    s->line = fw_alloc(job->nscans, sizeof *s->line);
    s->of = fw_alloc(job->nscans, sizeof *s->of);
    s->read = fw_alloc(job->nscans, sizeof *s->read);
    if (!s->line_deg || !s->matings || !s->line || !s->of || !s->read)
        return fw_out_of_memory(err);
    sort_scans(s);
    return count_scans(s, err);
}

static void survey_release(survey *s)
{
    fw_free(s->line_deg);
    fw_free(s->matings);
    fw_free(s->line);
    fw_free(s->of);
    fw_free(s->read);
    fw_free(s->scans);
}

/*
 * The line that `like` has and m, but for its line `out` (-1: none of it), has not, where that is all the
 * difference; -1: it is not.
 */
static int only_lack(const survey *s, const mating *m, int out, const mating *like)
{
    int lack = -1;
    if (like->n != m->n + (out < 0))
        return -1;
    for (int k = 0; k < s->nlines; k++) {
        bool has = m->scans[k] && k != out;
        if (has && !like->scans[k])
            return -1;
        if (has || !like->scans[k])
            continue;
        if (lack >= 0)
            return -1;
        lack = k;
    }
    return lack;
}

/* The place that an even fan has and the lines of m, but for `out`, have not; NAN: they are of none. */
static double vacant_place(const survey *s, const mating *m, int out)
{
    int n = m->n + (out < 0), others = n - 1, first = -1;
    double gap = 180.0 / n, places = n * (n - 1) / 2.0;
    if (n < FAN_LEAST)
        return NAN;
    for (int k = 0; k < s->nlines; k++) {
        if (!m->scans[k] || k == out)
            continue;
        first = first < 0 ? k : first;
        double at = remainder(s->line_deg[k] - s->line_deg[first], 180) / gap;
        double place = fmod(round(at + n), n);
        if (fabs(remainder(s->line_deg[k] - s->line_deg[first] - place * gap, 180)) >
            FW_ANGLE_TOLERANCE_DEG)
            return NAN;
        places -= place;
        others--;
    }
    /* Places on the comb are distinct, as the lines are: what is left of their sum is the one that lacks. */
    return others == 0 ? fw_line_of(s->line_deg[first] + places * gap).angle_deg : NAN;
}

/* Named from the end from which the other was named. */
static double name_like(double typed_deg, double line_deg)
{
    return typed_deg >= 0 && typed_deg < 180 ? line_deg
                                             : typed_deg + remainder(line_deg - typed_deg, 180);
}

/* No other pairing reads along this line, and with another instead the pairing is whole. */
static bool wrong_diameter(const survey *s, size_t i, fw_slip *slip)
{
    const mating *m = &s->matings[s->of[i]];
    double typed = s->job->scans[i].diameter_deg, line = s->line_deg[s->line[i]];
    if (s->read[s->line[i]] > 1 || m->scans[s->line[i]] > 1 || m->n < FAN_LEAST - 1)
        return false;
    double meant = vacant_place(s, m, s->line[i]);
    if (isnan(meant) || fabs(remainder(meant - line, 180)) > 90.0 / m->n)
        meant = NAN;
    for (int l = 0; l < s->nmatings && isnan(meant); l++) {
        int lack = &s->matings[l] == m ? -1 : only_lack(s, m, s->line[i], &s->matings[l]);
        meant = lack < 0 ? NAN : s->line_deg[lack];
    }
    if (isnan(meant) || fabs(remainder(meant - line, 180)) <= FW_ANGLE_TOLERANCE_DEG)
        return false;
    *slip = (fw_slip){i, false, typed, name_like(typed, meant)};
    return true;
}

/* All there is of its turn, where the same flats at another turn lack just this diameter. */
static bool wrong_turn(const survey *s, size_t i, fw_slip *slip)
{
    const mating *own = &s->matings[s->of[i]];
    const fw_scan *scan = &s->job->scans[i];
    if (own->n > 1 || own->scans[s->line[i]] > 1)
        return false;
    for (int k = 0; k < s->nmatings; k++) {
        const mating *m = &s->matings[k];
        if (m == own || !same_flats(m->scan, scan) || m->n < FAN_LEAST - 1 ||
            m->scans[s->line[i]])
            continue;
        double vacant = vacant_place(s, m, -1);
        bool whole = !isnan(vacant) &&
                     fabs(remainder(vacant - s->line_deg[s->line[i]], 180)) <= FW_ANGLE_TOLERANCE_DEG;
        for (int l = 0; l < s->nmatings && !whole; l++)
            whole = only_lack(s, m, -1, &s->matings[l]) == s->line[i];
        if (!whole)
            continue;
        *slip = (fw_slip){i, true, scan->turn_deg, m->scan->turn_deg};
        return true;
    }
    return false;
}

/* Has scan b a station of scan a; every one of them? */
static bool shares_stations(const fw_job *job, size_t a, size_t b, bool every)
{
    int flip = fw_line_of(job->scans[a].diameter_deg).flip *
               fw_line_of(job->scans[b].diameter_deg).flip;
    for (size_t i = 0; i < job->scans[a].count; i++) {
        double at = flip * job->readings[job->scans[a].first + i].position_mm;
        bool found = false;
        for (size_t j = 0; j < job->scans[b].count && !found; j++)
            found = fabs(job->readings[job->scans[b].first + j].position_mm - at) <=
                    FW_POSITION_TOLERANCE_MM;
        if (found != every)
            return found;
    }
    return every;
}

/* Has another scan of j's mating all the stations of i? */
static bool usual_stations(const survey *s, size_t i, size_t j)
{
    for (size_t k = 0; k < s->job->nscans; k++)
        if (s->of[k] == s->of[j] && k != i && k != j &&
            shares_stations(s->job, i, k, true))
            return true;
    return false;
}

/*
 * Its stations are what another scan lacks and its neighbours have: one on a diameter close by, where no
 * other pairing reads along its own, which is longer or that others read along; or a longer one of the same
 * flats and diameter, where this one is all of its turn.
 */
static bool stray_readings(const survey *s, size_t i, fw_slip *slip)
{
    const fw_job *job = s->job;
    const fw_scan *scan = &job->scans[i];
    const mating *m = &s->matings[s->of[i]];
    double nearest = INFINITY;
    size_t of = i;
    if (m->scans[s->line[i]] > 1)
        return false;
    for (size_t j = 0; j < job->nscans; j++) {
        if (j == i || s->of[j] < 0 || s->matings[s->of[j]].n < FAN_LEAST - 1)
            continue;
        bool longer = job->scans[j].count > scan->count,
             alone = longer && m->n == 1 && s->line[j] == s->line[i] &&
                     same_flats(&job->scans[j], scan),
             only = s->of[j] == s->of[i] && s->read[s->line[i]] == 1 &&
                    (longer || s->read[s->line[j]] > 1);
        if (!(alone || only))
            continue;
        double near = alone ? INFINITY : 60.0 / (m->n - 1), /* a third of the gap between the others */
               away = fabs(remainder(job->scans[j].diameter_deg - scan->diameter_deg, 180));
        if (away > near || away >= nearest || shares_stations(job, i, j, false) ||
            !usual_stations(s, i, j))
            continue;
        nearest = away;
        of = j;
    }
    if (of == i)
        return false;
    bool turn = s->of[of] != s->of[i];
    *slip = (fw_slip){i, turn, turn ? scan->turn_deg : scan->diameter_deg,
                      turn ? job->scans[of].turn_deg
                           : name_like(scan->diameter_deg, s->line_deg[s->line[of]])};
    return true;
}

fw_status fw_slips_find(const fw_job *job, fw_slip **slips, size_t *n, fw_error *err)
{
    survey s;
    fw_slip *list = NULL;
    fw_status status = survey_init(&s, job, err);
    *slips = NULL;
    *n = 0;
    for (size_t i = 0; i < job->nscans && !status; i++) {
        fw_slip slip;
        if (s.of[i] < 0 || !(wrong_turn(&s, i, &slip) || stray_readings(&s, i, &slip) ||
                             wrong_diameter(&s, i, &slip)))
            continue;
        fw_slip *more = fw_resize(list, *n + 1, sizeof *more);
        if (more)
            (list = more)[(*n)++] = slip;
        else
            status = fw_out_of_memory(err);
    }
    survey_release(&s);
    if (status) {
        fw_free(list);
        *n = 0;
    } else
        *slips = list;
    return status;
}
