/* circle.c - is the set going round in circles, and what would break it. */
#include <assert.h>
#include <math.h>

#include "shop/circle.h"

static const double GAINED = 1.645; /* one-sided, 5 % */
static const double A_THIRD = 1.0 / 3;
static const double NEXT_TO_NOTHING = 0.25; /* removed, of what was there */
static const double HALF = 0.5;             /* of the irregularity: a figure not of revolution */

/* The stretch looked at: from before the last but one round of polishing to the last readings. */
typedef struct stretch {
    int from, to; /* indices into track->rounds */
} stretch;

static const fw_face *face_in(const fw_track *t, int flat, int round)
{
    int face = t->faces[flat + round * t->result->job->nflats];
    return face < 0 ? NULL : &t->result->faces[face];
}

static const fw_work *work_of(const fw_track *t, size_t spell)
{
    return &t->result->job->work[t->spells[spell].work];
}

/* Spells of the stretch: in which rounds? */
static bool in_stretch(const fw_track *t, const stretch *s, const fw_work *w)
{
    return w->round >= t->rounds[s->from] && w->round < t->rounds[s->to];
}

static bool find_stretch(const fw_track *t, stretch *s)
{
    const fw_job *job = t->result->job;
    int last = 0, works = 0, before = 0;
    for (size_t i = 0; i < job->nscans; i++)
        last = job->scans[i].round > last ? job->scans[i].round : last;
    s->from = s->to = -1;
    for (int r = 0; r < t->nrounds; r++)
        s->to = t->rounds[r] == last ? r : s->to;
    for (size_t i = t->nspells; i-- > 0 && works < 2;) {
        const fw_work *w = work_of(t, i);
        if (w->round >= last)
            continue;
        works += w->round != before;
        before = w->round;
    }
    for (size_t i = 0; i < t->nspells; i++) { /* grinding begins anew */
        const fw_work *w = work_of(t, i);
        if (w->method == FW_GRIND && w->round >= before && w->round < last)
            return false;
    }
    for (int r = 0; r < t->nrounds; r++)
        s->from = t->rounds[r] == before ? r : s->from;
    assert(works < 2 || (s->from >= 0 && s->to >= 0));
    return works == 2;
}

/* Root mean square over the flats known at both ends; their number. */
static int spread(const fw_track *t, const stretch *s, double *before, double *after)
{
    const fw_job *job = t->result->job;
    double first = 0, last = 0;
    int n = 0;
    for (int f = 0; f < job->nflats; f++) {
        const fw_face *a = face_in(t, f, s->from), *b = face_in(t, f, s->to);
        if (!a || !b)
            continue;
        fw_quantity p = fw_track_judged(job, &a->figure), q = fw_track_judged(job, &b->figure);
        if (!isfinite(p.value_nm + p.u_nm + q.value_nm + q.u_nm))
            continue;
        first += p.value_nm * p.value_nm;
        last += q.value_nm * q.value_nm;
        n++;
    }
    *before = n ? sqrt(first / n) : 0;
    *after = n ? sqrt(last / n) : 0;
    return n;
}

/* u of S1 - S2: dS/dy = y / (n S); a flat left alone has one and the same error in both. */
static double gain_u(const fw_track *t, const stretch *s, int n, double before, double after)
{
    const fw_job *job = t->result->job;
    double square = 0;
    for (int f = 0; f < job->nflats; f++) {
        const fw_face *a = face_in(t, f, s->from), *b = face_in(t, f, s->to);
        if (!a || !b)
            continue;
        fw_quantity p = fw_track_judged(job, &a->figure), q = fw_track_judged(job, &b->figure);
        if (!isfinite(p.value_nm + p.u_nm + q.value_nm + q.u_nm))
            continue;
        double one = p.value_nm * p.u_nm / (n * before), two = q.value_nm * q.u_nm / (n * after);
        square += a == b ? (one - two) * (one - two) : one * one + two * two;
    }
    return sqrt(square);
}

/* The flat farthest from the target at the end of the stretch, where not all is nothing. */
static int worst_flat(const fw_track *t, const stretch *s)
{
    const fw_job *job = t->result->job;
    int worst = -1;
    double most = 0;
    for (int f = 0; f < job->nflats; f++) {
        const fw_face *face = face_in(t, f, s->to);
        double y = face ? fw_track_judged(job, &face->figure).value_nm : NAN;
        if (y > most) {
            most = y;
            worst = f;
        }
    }
    assert(worst >= 0);
    return worst;
}

/* Too much or too little glass: what each removal took off against what was there, both as rms. */
static unsigned compare_removals(const fw_track *t, const stretch *s)
{
    int n = 0, little = 0, much = 0;
    for (int r = 0; r < t->result->nremovals; r++) {
        const fw_removal *m = &t->result->removals[r];
        const fw_face *before = face_in(t, m->flat, s->from), *from = NULL;
        for (int i = 0; i < t->result->nfaces; i++)
            if (t->result->faces[i].flat == m->flat && t->result->faces[i].state == m->from_state)
                from = &t->result->faces[i];
        if (!before || !from || m->from_state < before->state ||
            !isfinite(m->rms.value_nm + m->rms.u_nm + from->figure.rms.value_nm))
            continue;
        double there = from->figure.rms.value_nm;
        n++;
        much += m->rms.value_nm - 2 * m->rms.u_nm > there;
        little += m->rms.value_nm + 2 * m->rms.u_nm < NEXT_TO_NOTHING * there;
    }
    return (much ? FW_BREAK_LESS : 0u) | (n > 0 && little == n ? FW_BREAK_MORE : 0u);
}

static unsigned compare_methods(const fw_track *t, const stretch *s, int worst)
{
    const fw_work *first = NULL;
    bool one = true, side = false;
    for (size_t i = 0; i < t->nspells; i++) {
        const fw_work *w = work_of(t, i);
        if (!in_stretch(t, s, w))
            continue;
        first = first ? first : w;
        one = one && w->method == first->method;
        side = side || w->method == FW_SIDE;
    }
    const fw_figure *figure = &face_in(t, worst, s->to)->figure;
    bool lopsided = figure->symmetric.value_nm + figure->symmetric.u_nm <
                    HALF * figure->irregularity.value_nm;
    return (one ? FW_BREAK_METHOD : 0u) | (lopsided && !side ? FW_BREAK_SIDE : 0u);
}

static bool all_within(const fw_result *result)
{
    for (int f = 0; f < result->job->nflats; f++)
        if (result->faces[result->today[f]].figure.verdict != FW_WITHIN)
            return false;
    return true;
}

fw_track_circle circle_find(const fw_track *t)
{
    fw_track_circle c = {.gain = {NAN, NAN}};
    stretch s;
    double before, after;
    if (!find_stretch(t, &s))
        return c;
    int n = spread(t, &s, &before, &after);
    if (n == 0 || !(before > 0 && after > 0))
        return c;
    c.known = true;
    c.from_round = t->rounds[s.from];
    c.to_round = t->rounds[s.to];
    c.gain = (fw_quantity){before - after, gain_u(t, &s, n, before, after)};
    c.round = c.gain.value_nm <= GAINED * c.gain.u_nm && !all_within(t->result);
    if (!c.round)
        return c;
    int worst = worst_flat(t, &s);
    c.breaks = compare_removals(t, &s) | compare_methods(t, &s, worst);
    bool undecided = face_in(t, worst, s.to)->figure.verdict == FW_UNDECIDED;
    if (undecided || GAINED * c.gain.u_nm > A_THIRD * after)
        c.breaks |= FW_BREAK_MEASURE;
    if (face_in(t, worst, s.from) == face_in(t, worst, s.to))
        c.breaks |= FW_BREAK_FLAT;
    return c;
}
