/* factors.h - the factors of a net's classes, made when asked for and kept while they fit. */
#ifndef ADJUST_FACTORS_H
#define ADJUST_FACTORS_H

#include "block.h"

typedef struct factors {
    const fw_net *net;
    factor **kept; /* one a class, NULL: not kept */
    size_t bytes;
} factors;

/* Bytes of factors kept: enough for any regular design; irregular ones are factored again. */
#define FW_FACTORS_KEPT ((size_t)48 << 20)

fw_status factors_init(factors *store, const fw_net *net, fw_error *err);
void factors_release(factors *store);
/* Borrow the factor of a class, and give it back before the next. */
fw_status factors_get(factors *store, int class, factor **f, fw_error *err);
void factors_put(factors *store, int class, factor *f);

#endif
