/* balance.c - what a ring's readings cannot tell of its heights, by following them. */
#include "balance.h"

#include <math.h>

#include "flatwright/alloc.h"

/* A height in a tree of heights: its parent, itself at the root, and its sign relative to that. */
typedef struct node {
    int parent;
    int sign;
    bool torn; /* at a root: no x but 0 */
    int size;  /* at a root: heights; then the number of its null vector, -1: none */
} node;

/* The root of a height, and the sign of the height to it; shortens the way. */
static int root_of(node *at, int i, int *sign)
{
    int root = i, s = 1;
    for (; at[root].parent != root; root = at[root].parent)
        s *= at[root].sign;
    *sign = s;
    while (at[i].parent != root && i != root) {
        int next = at[i].parent, own = at[i].sign;
        at[i].parent = root;
        at[i].sign = s;
        s *= own;
        i = next;
    }
    return root;
}

/* x_a = sign x_b from now on. */
static void bind(node *at, int a, int b, int sign)
{
    int sa, sb, ra = root_of(at, a, &sa), rb = root_of(at, b, &sb);
    if (ra == rb) {
        at[ra].torn = at[ra].torn || sa != sign * sb;
        return;
    }
    int keep = at[ra].size < at[rb].size ? rb : ra, give = keep == ra ? rb : ra;
    at[give].parent = keep;
    at[give].sign = sa * sb * sign;
    at[keep].size += at[give].size;
    at[keep].torn = at[keep].torn || at[give].torn;
}

fw_status balance_null(const block *k, double **null, int *rank, fw_error *err)
{
    int n = k->n, d = 0, sign;
    node *at = fw_alloc(n, sizeof *at);
    double *z = NULL;
    if (!at)
        return fw_out_of_memory(err);
    for (int i = 0; i < n; i++)
        at[i] = (node){i, 1, false, 1};
    for (int i = 0; i < k->m; i++)
        bind(at, k->column[2 * i], k->column[2 * i + 1],
             k->entry[2 * i] * k->entry[2 * i + 1] > 0 ? -1 : 1);
    for (int i = 0; i < n; i++)
        d += at[i].parent == i && !at[i].torn;
    z = fw_alloc((size_t)n * d, sizeof *z);
    if (!z) {
        fw_free(at);
        return fw_out_of_memory(err);
    }
    for (int i = 0, next = 0; i < n; i++) { /* the set's own vector takes the place of `parent` */
        int root = root_of(at, i, &sign);
        if (root == i && !at[i].torn)
            z[i + (size_t)next++ * n] = 1 / sqrt(at[i].size);
    }
    for (int i = 0; i < n; i++) {
        int root = root_of(at, i, &sign);
        for (int j = 0; root != i && j < d; j++)
            z[i + (size_t)j * n] = sign * z[root + (size_t)j * n];
    }
    fw_free(at);
    *null = z;
    *rank = n - d;
    return FW_OK;
}
