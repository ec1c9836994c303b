/* closure.c - a check on the readings themselves, before anything is solved. */
#include "closure.h"

#include <math.h>
#include <stdlib.h>

#include "flatwright/alloc.h"
#include "flatwright/lstsq.h"
#include "flatwright/mating.h"

/* An unturned scan as the sum X + Y along a line of X; x is the flat of the lower index. */
typedef struct sum {
    int x, y, angle, flip; /* faces, X's line, the sense of s on it */
    size_t scan;
} sum;

typedef struct sums {
    const fw_net *net;
    size_t n;
    sum *list;   /* by x, angle, y */
    int *mirror; /* per angle: the line at -theta; -1: not read */
} sums;

static int by_line(const void *a, const void *b)
{
    const sum *p = a, *q = b;
    if (p->x != q->x)
        return (p->x > q->x) - (p->x < q->x);
    if (p->angle != q->angle)
        return (p->angle > q->angle) - (p->angle < q->angle);
    return (p->y > q->y) - (p->y < q->y);
}

static const sum *find(const sums *s, int x, int angle, int y)
{
    sum key = {.x = x, .y = y, .angle = angle};
    return angle < 0 ? NULL : bsearch(&key, s->list, s->n, sizeof key, by_line);
}

static void list_sums(sums *s)
{
    const fw_net *net = s->net;
    for (int i = 0; i < net->nscans; i++) {
        const net_scan *scan = &net->scans[i];
        if (scan->piston < 0 ||
            fabs(remainder(net->job->scans[i].turn_deg, 360)) > FW_ANGLE_TOLERANCE_DEG)
            continue;
        int side = net->faces[scan->face[0]].flat < net->faces[scan->face[1]].flat ? 0 : 1;
        s->list[s->n++] = (sum){scan->face[side], scan->face[1 - side], scan->angle[side],
                                scan->flip[side], (size_t)i};
    }
    qsort(s->list, s->n, sizeof *s->list, by_line);
    for (int k = 0; k < net->nangles; k++) {
        double want = fw_line_of(-net->angles_deg[k]).angle_deg;
        s->mirror[k] = -1;
        for (int j = 0; j < net->nangles; j++)
            if (fabs(net->angles_deg[j] - want) <= FW_ANGLE_TOLERANCE_DEG)
                s->mirror[k] = j;
    }
}

/* The readings of a scan along X's line, by position. */
typedef struct placed {
    double position;
    const fw_reading *reading;
} placed;

typedef struct row {
    size_t n;
    placed *list;
} row;

static int by_position(const void *a, const void *b)
{
    const placed *p = a, *q = b;
    if (p->position != q->position)
        return (p->position > q->position) - (p->position < q->position);
    return (p->reading > q->reading) - (p->reading < q->reading);
}

static fw_status lay_row(const sums *s, const sum *at, row *out, fw_error *err)
{
    const fw_job *job = s->net->job;
    const fw_scan *scan = &job->scans[at->scan];
    out->n = scan->count;
    out->list = fw_alloc(scan->count, sizeof *out->list);
    if (!out->list)
        return fw_out_of_memory(err);
    for (size_t i = 0; i < scan->count; i++) {
        const fw_reading *r = &job->readings[scan->first + i];
        out->list[i] = (placed){at->flip * r->position_mm, r};
    }
    bool sorted = true;
    for (size_t i = 1; i < out->n && sorted; i++)
        sorted = by_position(&out->list[i - 1], &out->list[i]) < 0;
    if (!sorted)
        qsort(out->list, out->n, sizeof *out->list, by_position);
    return FW_OK;
}

/* The reading at a point of X's line; NULL: not read there. */
static const fw_reading *reading_at(const row *r, double position)
{
    size_t low = 0, high = r->n;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (r->list[middle].position < position - FW_POSITION_TOLERANCE_MM)
            low = middle + 1;
        else
            high = middle;
    }
    return low < r->n && r->list[low].position <= position + FW_POSITION_TOLERANCE_MM
               ? r->list[low].reading
               : NULL;
}

/*
 * Adds sign * odd(F) at a station of X's line theta to *value and its variance to *variance. The
 * mirror point of (theta, s) is (-theta, s): on the line 180 - theta at -s, on 90 itself at -s.
 */
static bool add_odd(const row *plus, const row *minus, double sign, double position, double *value,
                    double *variance)
{
    const fw_reading *p = reading_at(plus, position), *m = reading_at(minus, -position);
    if (!p || !m)
        return false;
    *value += sign * (p->deviation_nm - m->deviation_nm) / 2;
    *variance += (p->sigma_nm * p->sigma_nm + m->sigma_nm * m->sigma_nm) / 4;
    return true;
}

/* Misclosure with piston and tilt taken off, over the stations of the first scan. */
static fw_status misclosure(const sums *s, const sum *const f[6], bool self, fw_closure *c,
                            bool *enough, fw_error *err)
{
    const fw_job *job = s->net->job;
    const fw_scan *scan = &job->scans[f[0]->scan];
    size_t n = 0, room = scan->count;
    double variance = 0, x[2], square = 0;
    fw_status status = FW_OK;
    row rows[6] = {{0}};
    double *a = fw_alloc(2 * room, sizeof *a), *b = fw_alloc(room, sizeof *b),
           *at = fw_alloc(room, sizeof *at);
    if (!a || !b || !at) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (int i = 0; i < 6; i++)
        if ((status = lay_row(s, f[i], &rows[i], err)))
            goto done;
    for (size_t i = 0; i < room; i++) {
        double position = f[0]->flip * job->readings[scan->first + i].position_mm, value = 0,
               var = 0;
        if (self && position <= FW_POSITION_TOLERANCE_MM)
            continue; /* on 90 degrees the mirror is the other half of the same line */
        if (add_odd(&rows[0], &rows[1], 1, position, &value, &var) &&
            add_odd(&rows[2], &rows[3], -1, position, &value, &var) &&
            add_odd(&rows[4], &rows[5], 1, position, &value, &var)) {
            at[n] = position / s->net->rmax_mm;
            b[n++] = value;
            variance += var;
        }
    }
    int columns = self ? 1 : 2;
    *enough = n > (size_t)columns;
    if (!*enough)
        goto done;
    for (size_t i = 0; i < n; i++) {
        a[i] = at[i];
        if (!self)
            a[i + n] = 1;
    }
    if ((status = fw_lstsq((int)n, columns, a, b, 0, x, NULL, b, NULL, err)))
        goto done;
    for (size_t i = 0; i < n; i++)
        square += b[i] * b[i];
    c->redundancy = (int)n - columns;
    c->rms_nm = sqrt(square / c->redundancy);
    c->expected_nm = sqrt(variance / (double)n);
done:
    for (int i = 0; i < 6; i++)
        fw_free(rows[i].list);
    fw_free(a);
    fw_free(b);
    fw_free(at);
    return status;
}

static fw_status close_triple(const sums *s, const sum *ab, const sum *ac, fw_closure *c,
                              bool *enough, fw_error *err)
{
    const fw_net *net = s->net;
    int theta = ab->angle, mirror = s->mirror[theta];
    const sum *f[6] = {ab,
                       find(s, ab->x, mirror, ab->y),
                       ac,
                       find(s, ab->x, mirror, ac->y),
                       find(s, ab->y, theta, ac->y),
                       find(s, ab->y, mirror, ac->y)};
    *enough = false;
    for (int i = 0; i < 6; i++)
        if (!f[i])
            return FW_OK;
    *c = (fw_closure){.a = net->faces[ab->x].flat,
                      .b = net->faces[ab->y].flat,
                      .c = net->faces[ac->y].flat,
                      .diameter_deg = net->angles_deg[theta]};
    return misclosure(s, f, theta == mirror, c, enough, err);
}

fw_status closures_find(const fw_net *net, fw_closure **out, int *count, fw_error *err)
{
    sums s = {.net = net};
    fw_status status = FW_OK;
    fw_closure *list = NULL;
    int n = 0, size = 0;
    s.list = fw_alloc(net->nscans, sizeof *s.list);
    s.mirror = fw_alloc(net->nangles, sizeof *s.mirror);
    if (!s.list || !s.mirror) {
        status = fw_out_of_memory(err);
        goto done;
    }
    list_sums(&s);
    for (size_t i = 0; i < s.n && !status; i++) {
        const sum *ab = &s.list[i];
        double theta = net->angles_deg[ab->angle];
        if (theta <= FW_ANGLE_TOLERANCE_DEG || theta > 90 + FW_ANGLE_TOLERANCE_DEG ||
            (i > 0 && by_line(ab, ab - 1) == 0))
            continue;
        for (size_t j = i + 1;
             j < s.n && s.list[j].x == ab->x && s.list[j].angle == ab->angle && !status; j++) {
            bool enough = false;
            fw_closure c;
            if (by_line(&s.list[j], &s.list[j - 1]) == 0 ||
                (status = close_triple(&s, ab, &s.list[j], &c, &enough, err)) || !enough)
                continue;
            if (n == size) {
                fw_closure *more = fw_resize(list, size ? 2 * (size_t)size : 16, sizeof *list);
                if (!more) {
                    status = fw_out_of_memory(err);
                    break;
                }
                list = more;
                size = size ? 2 * size : 16;
            }
            list[n++] = c;
        }
    }
done:
    fw_free(s.list);
    fw_free(s.mirror);
    if (status) {
        fw_free(list);
        return status;
    }
    *out = list;
    *count = n;
    return FW_OK;
}
