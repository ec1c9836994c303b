/* stack.h - rows of a least-squares problem, kept small by QR as they come. */
#ifndef ADJUST_STACK_H
#define ADJUST_STACK_H

#include <stddef.h>

#include "flatwright/status.h"

/*
 * Rows of ncols numbers, column-major with leading dimension size: a triangle of `above` rows, which
 * are ncols, or 0 as long as none was made; below it fresh ones; rows beyond are zero.
 */
typedef struct stack {
    int ncols, above, fresh, size;
    double *a;
} stack;

fw_status stack_init(stack *s, int ncols, fw_error *err);
void stack_release(stack *s);

/*
 * Makes room for n zero rows and returns the address of the first (leading dimension s->size), or
 * NULL with err. Fresh rows are brought into the triangle when the stack is full: nothing is lost of
 * the least-squares problem they pose.
 */
double *stack_push(stack *s, int n, fw_error *err);

/* Brings all rows into the triangle, which is there then even of no rows. */
fw_status stack_compress(stack *s, fw_error *err);

#endif
