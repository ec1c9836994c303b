/* classes.c - rings measured alike, found: same scans, same sides, same weights. */
#include "classes.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/alloc.h"

/* Readings called for before they are looked up. */
enum { AHEAD = 16 };

/* Work space of the search: the present ring's rows, and a table of the classes by hash. */
typedef struct finder {
    fw_net *net;
    net_row *rows; /* of the present ring */
    size_t rows_size;
    size_t table_size; /* power of two */
    int *table;        /* class + 1; 0: empty */
    uint64_t *hash;    /* of each class */
    int size;          /* of classes, hash */
    int *stamp;        /* column of (face, angle, side) in the present class; -1: none */
} finder;

static bool row_before(const net_row *a, const net_row *b)
{
    if (a->scan != b->scan)
        return a->scan < b->scan;
    if (a->sign != b->sign)
        return a->sign > b->sign;
    return a->weight > b->weight;
}

/*
 * Rows of a ring in their lasting order, and its weighted readings; they come by scan, so few ever
 * move. Readings of a ring lie far apart in memory: each is looked up once, and called for ahead.
 */
static void rows_of_ring(finder *f, int ring)
{
    fw_net *net = f->net;
    size_t first = net->ring_first[ring], count = net->ring_first[ring + 1] - first;
    uint32_t *reading = net->ring_reading + first;
    double *weighted = net->weighted + first;
    for (size_t i = 0; i < count; i++) {
        uint32_t index = reading[i];
        if (i + AHEAD < count)
            __builtin_prefetch(&net->job->readings[reading[i + AHEAD]]);
        const fw_reading *r = &net->job->readings[index];
        net_row row = {.scan = r->scan,
                       .sign = net->ring_mm[ring] > 0 ? (r->position_mm > 0 ? 1 : -1) : 0,
                       .weight = net->sigma_known ? 1 / r->sigma_nm : 1};
        size_t k = i;
        for (; k > 0 && row_before(&row, &f->rows[k - 1]); k--) {
            f->rows[k] = f->rows[k - 1];
            reading[k] = reading[k - 1];
            weighted[k] = weighted[k - 1];
        }
        f->rows[k] = row;
        reading[k] = index;
        weighted[k] = row.weight * r->deviation_nm;
    }
}

static uint64_t hash_rows(size_t n, const net_row *rows)
{
    uint64_t hash = 1469598103934665603u, bits; /* FNV-1a by words */
    for (size_t i = 0; i < n; i++) {
        memcpy(&bits, &rows[i].weight, sizeof bits);
        hash = (hash ^ (uint64_t)(unsigned)rows[i].scan) * 1099511628211u;
        hash = (hash ^ (uint64_t)(unsigned)(rows[i].sign + 1)) * 1099511628211u;
        hash = (hash ^ bits ^ bits >> 29) * 1099511628211u;
    }
    return hash;
}

static bool same_rows(const net_class *class, size_t n, const net_row *rows)
{
    if ((size_t) class->nrows != n)
        return false;
    for (size_t i = 0; i < n; i++)
        if (class->rows[i].scan != rows[i].scan || class->rows[i].sign != rows[i].sign ||
            class->rows[i].weight != rows[i].weight)
            return false;
    return true;
}

static bool rows_pair(size_t n, const net_row *rows)
{
    if (n % 2)
        return false;
    for (size_t i = 0; i < n; i += 2)
        if (rows[i].scan != rows[i + 1].scan || rows[i].sign != 1 || rows[i + 1].sign != -1 ||
            rows[i].weight != rows[i + 1].weight)
            return false;
    return true;
}

static int by_column(const void *a, const void *b)
{
    const net_column *x = a, *y = b;
    if (x->face != y->face)
        return (x->face > y->face) - (x->face < y->face);
    if (x->angle != y->angle)
        return (x->angle > y->angle) - (x->angle < y->angle);
    return y->sign - x->sign;
}

static net_column column_of(const fw_net *net, const net_row *row, int side)
{
    const net_scan *scan = &net->scans[row->scan];
    if (row->sign == 0)
        return (net_column){scan->face[side], -1, 0};
    return (net_column){scan->face[side], scan->angle[side], scan->flip[side] * row->sign};
}

static size_t stamp_of(const fw_net *net, net_column c)
{
    return 2 * ((size_t)c.face * ((size_t)net->nangles + 1) + (size_t)(c.angle + 1)) + (c.sign < 0);
}

size_t net_stamps(const fw_net *net)
{
    return 2 * (size_t)net->nfaces * ((size_t)net->nangles + 1);
}

fw_status net_find_columns(const fw_net *net, int *stamps, net_class *class, fw_error *err)
{
    class->columns = fw_alloc(2 * (size_t) class->nrows, sizeof *class->columns);
    if (!class->columns)
        return fw_out_of_memory(err);
    for (int i = 0; i < class->nrows; i++)
        for (int side = 0; side < 2; side++) {
            net_column c = column_of(net, &class->rows[i], side);
            int *stamp = &stamps[stamp_of(net, c)];
            if (*stamp < 0) {
                *stamp = 0;
                class->columns[class->ncolumns++] = c;
            }
        }
    qsort(class->columns, class->ncolumns, sizeof *class->columns, by_column);
    for (int j = 0; j < class->ncolumns; j++)
        stamps[stamp_of(net, class->columns[j])] = j;
    for (int i = 0; i < class->nrows; i++)
        for (int side = 0; side < 2; side++)
            class->rows[i].column[side] =
                stamps[stamp_of(net, column_of(net, &class->rows[i], side))];
    for (int j = 0; j < class->ncolumns; j++)
        stamps[stamp_of(net, class->columns[j])] = -1;
    return FW_OK;
}

static fw_status grow_table(finder *f, fw_error *err)
{
    fw_net *net = f->net;
    int size = f->size ? 2 * f->size : 64;
    net_class *classes = fw_resize(net->classes, size, sizeof *classes);
    if (!classes)
        return fw_out_of_memory(err);
    net->classes = classes;
    uint64_t *hash = fw_resize(f->hash, size, sizeof *hash);
    if (!hash)
        return fw_out_of_memory(err);
    f->hash = hash;
    int *table = fw_alloc(4 * (size_t)size, sizeof *table);
    if (!table)
        return fw_out_of_memory(err);
    fw_free(f->table);
    f->table = table;
    f->table_size = 4 * (size_t)size;
    f->size = size;
    for (int c = 0; c < net->nclasses; c++) {
        size_t slot = hash[c] & (f->table_size - 1);
        while (table[slot])
            slot = (slot + 1) & (f->table_size - 1);
        table[slot] = c + 1;
    }
    return FW_OK;
}

static fw_status add_class(finder *f, int ring, size_t n, uint64_t hash, size_t slot, fw_error *err)
{
    fw_net *net = f->net;
    net_class *class = &net->classes[net->nclasses];
    *class = (net_class){.centre = net->ring_mm[ring] <= 0, .nrows = (int)n};
    class->paired = !class->centre && rows_pair(n, f->rows);
    f->hash[net->nclasses] = hash;
    f->table[slot] = ++net->nclasses;
    class->rows = fw_alloc(n, sizeof *class->rows);
    if (!class->rows)
        return fw_out_of_memory(err);
    memcpy(class->rows, f->rows, n * sizeof *class->rows);
    return net_find_columns(net, f->stamp, class, err);
}

static fw_status class_of_ring(finder *f, int ring, fw_error *err)
{
    fw_net *net = f->net;
    size_t n = net->ring_first[ring + 1] - net->ring_first[ring];
    fw_status status;
    if (net->nclasses == f->size && (status = grow_table(f, err)))
        return status;
    rows_of_ring(f, ring);
    uint64_t hash = hash_rows(n, f->rows);
    size_t slot = hash & (f->table_size - 1);
    assert(f->table); /* the first ring finds no room and makes it */
    for (; f->table[slot]; slot = (slot + 1) & (f->table_size - 1)) {
        int c = f->table[slot] - 1;
        if (f->hash[c] == hash && same_rows(&net->classes[c], n, f->rows))
            break;
    }
    if (!f->table[slot] && (status = add_class(f, ring, n, hash, slot, err)))
        return status;
    net->ring_class[ring] = f->table[slot] - 1;
    net->classes[f->table[slot] - 1].nrings++;
    return FW_OK;
}

/* Each class learns its rings; each ring, where its heights begin. */
static fw_status list_rings(fw_net *net, fw_error *err)
{
    for (int c = 0; c < net->nclasses; c++) {
        net_class *class = &net->classes[c];
        class->rings = fw_alloc(class->nrings, sizeof *class->rings);
        if (!class->rings)
            return fw_out_of_memory(err);
        class->nrings = 0;
    }
    for (int r = 0; r < net->nrings; r++) {
        net_class *class = &net->classes[net->ring_class[r]];
        class->rings[class->nrings++] = r;
        net->ring_height[r + 1] = net->ring_height[r] + (size_t) class->ncolumns;
    }
    return FW_OK;
}

fw_status net_find_classes(fw_net *net, fw_error *err)
{
    finder f = {.net = net};
    fw_status status = FW_OK;
    size_t stamps = net_stamps(net);
    for (int r = 0; r < net->nrings; r++)
        if (net->ring_first[r + 1] - net->ring_first[r] > f.rows_size)
            f.rows_size = net->ring_first[r + 1] - net->ring_first[r];
    f.rows = fw_alloc(f.rows_size, sizeof *f.rows);
    f.stamp = fw_alloc(stamps, sizeof *f.stamp);
    net->weighted = fw_alloc(net->nreadings, sizeof *net->weighted);
    net->ring_class = fw_alloc(net->nrings, sizeof *net->ring_class);
    net->ring_height = fw_alloc((size_t)net->nrings + 1, sizeof *net->ring_height);
    if (!f.rows || !f.stamp || !net->weighted || !net->ring_class || !net->ring_height) {
        status = fw_out_of_memory(err);
        goto done;
    }
    memset(f.stamp, -1, stamps * sizeof *f.stamp);
    for (int r = 0; r < net->nrings && !status; r++)
        status = class_of_ring(&f, r, err);
    if (!status)
        status = list_rings(net, err);
done:
    fw_free(f.rows);
    fw_free(f.stamp);
    fw_free(f.table);
    fw_free(f.hash);
    return status;
}
