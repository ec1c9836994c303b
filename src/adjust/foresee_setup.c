/* foresee_setup.c - a candidate's equations on the rings of a cell, and the terms it brings. */
#include <math.h>

#include "flatwright/mating.h"
#include "foresee.h"

int foresee_terms(const outlook *o, const knot *s)
{
    int pistons = o->plane ? 1 : o->ndiameters, tilts = o->plane ? 2 : o->ndiameters;
    return s->sees[0] * pistons + s->sees[1] * tilts;
}

/* What setup p reads on diameter k, to one side. */
static equation equation_of(const outlook *o, const cell *c, const setup *p, int k, int sign)
{
    int flip = p->flip[k] < 0 ? -1 : 1;
    equation r = {.coef = {1, c->kind == CELL_ODD ? flip : 1}, .diameter = k};
    r.at[0] = (place){p->bottom, o->diameter[k], sign};
    r.at[1] = (place){p->top, p->line[k], c->kind == CELL_PLAIN ? sign * flip : 1};
    if (c->centre)
        for (int side = 0; side < 2; side++)
            r.at[side] = (place){r.at[side].flat, -1, 0};
    r.t0 = c->kind == CELL_ODD ? 0 : c->kind == CELL_EVEN ? sqrt(2) : 1;
    r.t1 = c->centre || c->kind == CELL_EVEN ? 0 : c->kind == CELL_ODD ? sqrt(2) : sign;
    for (int side = 0; side < 2; side++)
        r.column[side] = c->find[outlook_slot(o, r.at[side])];
    return r;
}

int foresee_equations(const outlook *o, const cell *c, const setup *p, equation *rows)
{
    int n = 0;
    if (!p || !c->sides || !c->glass[p->bottom] || !c->glass[p->top])
        return 0;
    for (int k = 0; k < o->ndiameters; k++)
        for (int sign = 1; sign >= -1; sign -= 2)
            if (sign > 0 ? c->sides & 1 : c->kind == CELL_PLAIN && c->sides & 2)
                rows[n++] = equation_of(o, c, p, k, sign);
    return n;
}

int foresee_entries(const outlook *o, const knot *s, const equation *r, int index[3], double c0[3],
                    double c1[3])
{
    double theta = o->line_deg[o->diameter[r->diameter]] * FW_RAD;
    int n = 0, tilt = s->sees[0] ? (o->plane ? 1 : o->ndiameters) : 0;
    for (int a = 0; a < 3; a++)
        c0[a] = c1[a] = 0;
    if (s->sees[0]) {
        index[n] = o->plane ? 0 : r->diameter;
        c0[n++] = r->t0;
    }
    if (!s->sees[1])
        return n;
    index[n] = tilt + (o->plane ? 0 : r->diameter);
    c1[n++] = r->t1 * (o->plane ? cos(theta) : 1);
    if (o->plane) {
        index[n] = tilt + 1;
        c1[n++] = r->t1 * sin(theta);
    }
    return n;
}

static bool same_place(place a, place b)
{
    return a.flat == b.flat && a.line == b.line && a.sign == b.sign;
}

double foresee_apart(const outlook *o, const equation *a, const equation *b)
{
    double sum = 0;
    for (int i = 0; i < 2; i++)
        for (int j = 0; j < 2 && a->column[i] < 0; j++)
            if (same_place(a->at[i], b->at[j]))
                sum += o->prior_nm * o->prior_nm * a->coef[i] * b->coef[j];
    return sum;
}
