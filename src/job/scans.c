/* scans.c - finding the scan of a reading: the one before, else by hash. */
#include <limits.h>
#include <stdint.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "job/scans.h"

static bool same(const fw_scan *a, const fw_scan *b)
{
    return a->round == b->round && a->bottom == b->bottom && a->top == b->top &&
           a->turn_deg == b->turn_deg && a->diameter_deg == b->diameter_deg &&
           strcmp(a->label, b->label) == 0;
}

/* One step of FNV-1a over 64 bits at once, with the high bits folded down. */
static uint64_t mix(uint64_t hash, uint64_t value)
{
    hash = (hash ^ value) * UINT64_C(0x100000001b3);
    return hash ^ hash >> 29;
}

static uint64_t bits_of(double value)
{
    uint64_t bits;
    value += 0.0; /* -0 is 0 */
    memcpy(&bits, &value, sizeof bits);
    return bits;
}

static uint64_t hash_of(const fw_scan *key)
{
    uint64_t hash = UINT64_C(0xcbf29ce484222325);
    hash = mix(hash, (uint64_t)key->round);
    hash = mix(hash, (uint64_t)key->bottom << 32 | (uint32_t)key->top);
    hash = mix(hash, bits_of(key->turn_deg));
    hash = mix(hash, bits_of(key->diameter_deg));
    for (const char *c = key->label; *c; c++)
        hash = mix(hash, (unsigned char)*c);
    return mix(hash, hash >> 32);
}

/* The slot that holds an equal scan, or the free one where it belongs. */
static size_t slot_of(const fw_scans *scans, const fw_scan *key)
{
    size_t slot = (size_t)hash_of(key) & (scans->nslots - 1);
    while (scans->slots[slot] && !same(&scans->list[scans->slots[slot] - 1], key))
        slot = (slot + 1) & (scans->nslots - 1);
    return slot;
}

/* Twice the room, at most half of the slots taken. */
static bool grow(fw_scans *scans)
{
    size_t room = scans->room ? 2 * scans->room : 32, nslots = 2 * room;
    fw_scan *list = fw_resize(scans->list, room, sizeof *list);
    if (!list)
        return false;
    scans->list = list;
    int *slots = fw_alloc(nslots, sizeof *slots);
    if (!slots)
        return false;
    fw_free(scans->slots);
    scans->slots = slots;
    scans->nslots = nslots;
    scans->room = room;
    for (size_t i = 0; i < scans->count; i++)
        scans->slots[slot_of(scans, &scans->list[i])] = (int)i + 1;
    return true;
}

int fw_scans_find(fw_scans *scans, const fw_scan *key)
{
    if (scans->count > 0 && same(&scans->list[scans->last], key))
        return (int)scans->last;
    if (scans->count == scans->room && !grow(scans))
        return -1;
    size_t slot = slot_of(scans, key);
    if (!scans->slots[slot]) {
        if (scans->count == INT_MAX)
            return -1;
        fw_scan scan = *key;
        scan.label = fw_copy_text(key->label);
        if (!scan.label)
            return -1;
        scans->list[scans->count++] = scan;
        scans->slots[slot] = (int)scans->count;
    }
    scans->last = (size_t)scans->slots[slot] - 1;
    return (int)scans->last;
}

void fw_scans_release(fw_scans *scans)
{
    for (size_t i = 0; i < scans->count; i++)
        fw_free(scans->list[i].label);
    fw_free(scans->list);
    fw_free(scans->slots);
    *scans = (fw_scans){0};
}
