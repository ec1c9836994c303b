/* glass.c - what the known glasses are made of, as makers' data sheets print it. */
#include <stddef.h>

#include "flatwright/nearest.h"
#include "flatwright/units.h"
#include "job/parts.h"

#define COUNT ((int)(sizeof glasses / sizeof glasses[0]))

static const fw_glass glasses[] = {
    {"borosilicate", 64, 0.20, 2230, 3.25, 1.13, 750},
    {"fused-silica", 73, 0.17, 2200, 0.55, 1.38, 740},
    {"borosilicate-crown", 82, 0.206, 2510, 7.1, 1.114, 858},
    {"soda-lime", 72, 0.22, 2500, 8.5, 0.9, 800},
    {"glass-ceramic", 91, 0.24, 2530, 0.05, 1.46, 810},
};

static const char *const sources[] = {
    "data sheets of low-expansion borosilicate 3.3",
    "expansion from data sheets of optical fused silica; the rest from memory",
    "from memory of the optical-glass catalogue's borosilicate crown",
    "data sheets of soda-lime float glass",
    "data sheets of zero-expansion glass-ceramic",
};

_Static_assert(sizeof glasses / sizeof glasses[0] == sizeof sources / sizeof sources[0],
               "every glass has a source");

const fw_glass *fw_glasses(int *count)
{
    *count = COUNT;
    return glasses;
}

const char *fw_glass_source(int index)
{
    return index >= 0 && index < COUNT ? sources[index] : "";
}

const fw_glass *fw_glass_find(const char *name)
{
    for (int i = 0; i < COUNT; i++)
        if (fw_same_name(glasses[i].name, name))
            return &glasses[i];
    return NULL;
}
