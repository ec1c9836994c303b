/* stack.c - rows of a least-squares problem, kept small by QR as they come. */
#include "stack.h"

#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"

/* Room for new rows, as many times the columns: QR then works on tall blocks. */
enum { FULL = 2, LEAST = 64 };

fw_status stack_init(stack *s, int ncols, fw_error *err)
{
    *s = (stack){.ncols = ncols, .size = LEAST};
    s->a = fw_alloc((size_t)s->size * ncols, sizeof *s->a);
    return s->a ? FW_OK : fw_out_of_memory(err);
}

void stack_release(stack *s)
{
    fw_free(s->a);
    *s = (stack){0};
}

/* The same rows in an array of `size`, below a triangle of `above`. */
static fw_status move(stack *s, int above, int size, fw_error *err)
{
    double *a = fw_alloc((size_t)size * s->ncols, sizeof *a);
    if (!a)
        return fw_out_of_memory(err);
    for (int j = 0; j < s->ncols; j++) {
        const double *from = s->a + (size_t)j * s->size;
        double *to = a + (size_t)j * size;
        memcpy(to, from, (size_t)s->above * sizeof *a);
        memcpy(to + above, from + s->above, (size_t)s->fresh * sizeof *a);
    }
    fw_free(s->a);
    s->a = a;
    s->above = above;
    s->size = size;
    return FW_OK;
}

fw_status stack_compress(stack *s, fw_error *err)
{
    fw_status status = s->above < s->ncols ? move(s, s->ncols, s->ncols + s->fresh, err) : FW_OK;
    if (!status)
        status = fw_qr_append(s->ncols, s->fresh, s->a, s->size, err);
    if (!status)
        s->fresh = 0;
    return status;
}

double *stack_push(stack *s, int n, fw_error *err)
{
    int full = s->above + FULL * s->ncols + LEAST;
    if (s->above + s->fresh + n > full && stack_compress(s, err))
        return NULL;
    int rows = s->above + s->fresh + n, most = 2 * s->size < full ? 2 * s->size : full;
    if (rows > s->size && move(s, s->above, rows > most ? rows : most, err))
        return NULL;
    s->fresh += n;
    return s->a + (s->above + s->fresh - n);
}
