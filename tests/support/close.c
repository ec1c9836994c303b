/* close.c - the one comparison of numbers in the tests. */
#include "close.h"

#include <math.h>

void assert_close_at(double got, double want, double rel, double abs, const char *what,
                     const char *file, int line)
{
    if (isfinite(got) && isfinite(want) && fabs(got - want) <= abs + rel * fabs(want))
        return;
    print_error("%s is %.17g, expected %.17g within %.3g + %.3g of it\n", what, got, want, abs,
                rel);
    _fail(file, line);
}
