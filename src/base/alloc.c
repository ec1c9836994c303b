/* alloc.c - the one place where memory is asked for and given back. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/alloc.h"

void *fw_alloc(size_t count, size_t size)
{
    return calloc(count ? count : 1, size ? size : 1);
}

void *fw_resize(void *old, size_t count, size_t size)
{
    if (size && count > SIZE_MAX / size)
        return NULL;
    size_t bytes = count * size;
    return realloc(old, bytes ? bytes : 1);
}

char *fw_copy_text(const char *text)
{
    size_t size = strlen(text) + 1;
    char *copy = fw_alloc(size, 1);
    return copy ? memcpy(copy, text, size) : NULL;
}

void fw_free(void *memory)
{
    free(memory);
}
