/* match.c - values that are meant to be the same are made one. */
#include "match.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/alloc.h"

static size_t slot_of(const match *m, double value)
{
    uint64_t bits;
    value += 0.0; /* -0 is 0 */
    memcpy(&bits, &value, sizeof bits);
    bits ^= bits >> 32;
    bits *= 0x9E3779B97F4A7C15u; /* golden ratio: spreads neighbouring values */
    size_t slot = (size_t)(bits >> 20) & (m->size - 1);
    while (m->group[slot] >= 0 && m->value[slot] != value)
        slot = (slot + 1) & (m->size - 1);
    return slot;
}

static fw_status grow(match *m, fw_error *err)
{
    match bigger = {.size = m->size ? 2 * m->size : 256, .count = m->count};
    bigger.value = fw_alloc(bigger.size, sizeof *bigger.value);
    bigger.group = fw_alloc(bigger.size, sizeof *bigger.group);
    if (!bigger.value || !bigger.group) {
        match_release(&bigger);
        return fw_out_of_memory(err);
    }
    memset(bigger.group, -1, bigger.size * sizeof *bigger.group);
    for (size_t i = 0; i < m->size; i++)
        if (m->group[i] >= 0) {
            size_t slot = slot_of(&bigger, m->value[i]);
            bigger.value[slot] = m->value[i];
            bigger.group[slot] = 0;
        }
    match_release(m);
    *m = bigger;
    return FW_OK;
}

fw_status match_add(match *m, double value, fw_error *err)
{
    if (2 * (m->count + 1) > m->size) {
        fw_status status = grow(m, err);
        if (status)
            return status;
    }
    size_t slot = slot_of(m, value);
    if (m->group[slot] < 0) {
        m->group[slot] = 0;
        m->value[slot] = value + 0.0;
        m->count++;
    }
    return FW_OK;
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

fw_status match_group(match *m, double tolerance, fw_error *err)
{
    size_t n = 0;
    double *sorted = fw_alloc(m->count, sizeof *sorted);
    double *centre = fw_alloc(m->count, sizeof *centre);
    if (!sorted || !centre) {
        fw_free(sorted);
        fw_free(centre);
        return fw_out_of_memory(err);
    }
    for (size_t i = 0; i < m->size; i++)
        if (m->group[i] >= 0)
            sorted[n++] = m->value[i];
    qsort(sorted, n, sizeof *sorted, ascending);
    m->ngroups = 0;
    double start = 0;
    for (size_t i = 0; i < n; i++) {
        if (i == 0 || sorted[i] - start > tolerance) {
            start = sorted[i];
            m->ngroups++;
        }
        centre[m->ngroups - 1] = start + (sorted[i] - start) / 2;
        m->group[slot_of(m, sorted[i])] = m->ngroups - 1;
    }
    fw_free(sorted);
    m->centre = centre;
    return FW_OK;
}

int match_find(const match *m, double value)
{
    return m->group[slot_of(m, value)];
}

void match_release(match *m)
{
    fw_free(m->value);
    fw_free(m->group);
    fw_free(m->centre);
    *m = (match){0};
}
