/* stack.c - rows of a least-squares problem, kept small by QR as they come. */
#include "stack.h"

#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"

/* Room for new rows, as many times the columns: QR then works on tall blocks. */
enum { FULL = 2, LEAST = 64 };

fw_status stack_init(stack *s, int ncols, fw_error *err)
{
    *s = (stack){.ncols = ncols, .size = (1 + FULL) * ncols + LEAST};
    s->a = fw_alloc((size_t)s->size * ncols, sizeof *s->a);
    return s->a ? FW_OK : fw_out_of_memory(err);
}

void stack_release(stack *s)
{
    fw_free(s->a);
    *s = (stack){0};
}

fw_status stack_compress(stack *s, fw_error *err)
{
    fw_status status = fw_qr_append(s->ncols, s->fresh, s->a, s->size, err);
    if (!status)
        s->fresh = 0;
    return status;
}

static fw_status enlarge(stack *s, int n, fw_error *err)
{
    int size = s->ncols + s->fresh + n;
    double *a = fw_alloc((size_t)size * s->ncols, sizeof *a);
    if (!a)
        return fw_out_of_memory(err);
    for (int j = 0; j < s->ncols; j++)
        memcpy(a + (size_t)j * size, s->a + (size_t)j * s->size,
               (size_t)(s->ncols + s->fresh) * sizeof *a);
    fw_free(s->a);
    s->a = a;
    s->size = size;
    return FW_OK;
}

double *stack_push(stack *s, int n, fw_error *err)
{
    if (s->ncols + s->fresh + n > s->size && stack_compress(s, err))
        return NULL;
    if (s->ncols + s->fresh + n > s->size && enlarge(s, n, err))
        return NULL;
    s->fresh += n;
    return s->a + (s->ncols + s->fresh - n);
}
