/* basis.c - the terms of orders 2 to a highest one, in the order that lets lower orders lead. */
#include "flatwright/basis.h"

#include <math.h>
#include <stdlib.h>

#include "flatwright/alloc.h"

static void list_terms(fw_basis *basis)
{
    struct fw_term *next = basis->terms;
    for (int n = 2; n <= basis->order; n++) {
        if (basis->line) {
            *next++ = (struct fw_term){n, 0};
            continue;
        }
        for (int m = n % 2; m <= n; m += 2) {
            *next++ = (struct fw_term){n, m};
            if (m)
                *next++ = (struct fw_term){n, -m};
        }
    }
}

static int terms_up_to(bool line, int order)
{
    if (order < 2)
        return 0;
    return line ? order - 1 : (order + 1) * (order + 2) / 2 - 3;
}

fw_status fw_basis_new(bool line, int order, fw_basis **out, fw_error *err)
{
    if (order < 0 || order > FW_BASIS_ORDER_MAX)
        return fw_fail(err, FW_INPUT, "order %d is not in 0 .. %d", order, FW_BASIS_ORDER_MAX);
    int nterms = terms_up_to(line, order);
    fw_basis *basis = fw_alloc(1, sizeof *basis);
    struct fw_term *terms = fw_alloc((size_t)nterms, sizeof *terms);
    if (!basis || !terms) {
        fw_free(basis);
        fw_free(terms);
        return fw_fail(err, FW_SYSTEM, "no memory for %d terms of a figure", nterms);
    }
    *basis = (fw_basis){line, order, nterms, terms};
    list_terms(basis);
    *out = basis;
    return FW_OK;
}

void fw_basis_free(fw_basis *basis)
{
    if (basis)
        fw_free(basis->terms);
    fw_free(basis);
}

int fw_basis_count(const fw_basis *basis, int k)
{
    return terms_up_to(basis->line, k < basis->order ? k : basis->order);
}

double fw_basis_value(const fw_basis *basis, int term, double rho, double theta)
{
    struct fw_term t = basis->terms[term];
    if (basis->line)
        return fw_legendre(t.n, cos(theta) < 0 ? -rho : rho);
    return fw_zernike(t.n, t.m, rho, theta);
}

double fw_basis_radial(const fw_basis *basis, int term, double rho)
{
    struct fw_term t = basis->terms[term];
    return basis->line ? fw_legendre(t.n, rho) : fw_zernike_radial(t.n, abs(t.m), rho);
}

double fw_basis_around(const fw_basis *basis, int term, double theta)
{
    struct fw_term t = basis->terms[term];
    if (basis->line)
        return t.n % 2 && cos(theta) < 0 ? -1 : 1;
    return fw_zernike_norm(t.n, t.m) * (t.m < 0 ? sin(-t.m * theta) : cos(t.m * theta));
}
