/* alloc.h - the one place where memory is asked for and given back. */
#ifndef FLATWRIGHT_ALLOC_H
#define FLATWRIGHT_ALLOC_H

#include <stddef.h>

/*
 * `count` items of `size` bytes, zeroed; NULL when the product overflows or memory is short.
 * A count of 0 gives a valid pointer, so NULL always means failure. Free with fw_free.
 */
void *fw_alloc(size_t count, size_t size);

/* Resizes to `count` items of `size` bytes; on failure NULL, and `old` stays as it was. */
void *fw_resize(void *old, size_t count, size_t size);

/* A copy of `text`; NULL when memory is short. */
char *fw_copy_text(const char *text);

/* Gives memory back; NULL is accepted. */
void fw_free(void *memory);

#endif
