/* basis.h - the polynomials a smooth figure is made of: Zernike on a face, Legendre on a line. */
#ifndef FLATWRIGHT_BASIS_H
#define FLATWRIGHT_BASIS_H

#include <stdbool.h>

#include "status.h"

/* The highest order fw_basis_new accepts. */
#define FW_BASIS_ORDER_MAX 40

/* A term: order n, and on a face the angular order m (m < 0: sine). */
struct fw_term {
    int n, m;
};

/*
 * The terms of orders 2 .. order; what lies below is piston and tilt, and no figure.
 * On a face: by n, within an order by |m|, the cosine before the sine. On a line: P_2, P_3, ...
 */
typedef struct fw_basis {
    bool line; /* one diameter only: Legendre P_n(x), m = 0 */
    int order;
    int nterms;
    struct fw_term *terms;
} fw_basis;

/*
 * R_n^m(rho), the radial polynomial with R_n^m(1) = 1:
 *     R_n^m(rho) = rho^m P_k^(0,m)(2 rho^2 - 1), k = (n - m) / 2, P the Jacobi polynomial.
 *   n, m  in  n >= m >= 0, n - m even
 *   rho   in  distance from the centre over the clear radius; above 1 the polynomial goes on
 * NAN when there is no such polynomial. Cost n / 2 steps of the three-term recurrence; measured
 * error up to n = 40, rho <= 1: below 1e-14 (its largest value is 1).
 * Source: Born & Wolf, Principles of Optics, 9.2 (polynomials); DLMF 18.9.2 (recurrence), from
 * memory.
 * Tests: tests/unit/zernike.c, tests/reference/zernike.c.
 */
double fw_zernike_radial(int n, int m, double rho);

/* sqrt(n + 1) for m = 0, sqrt(2 (n + 1)) else: the factor that gives rms 1 on the unit disc. */
double fw_zernike_norm(int n, int m);

/*
 * The circle polynomial of rms 1 on the unit disc:
 *     fw_zernike_norm(n, m) R_n^|m|(rho) {cos m theta, m >= 0; sin |m| theta, m < 0}.
 *   rho    in  over the clear radius; (-rho, theta) is the point (rho, theta + pi)
 *   theta  in  rad, counter-clockwise looking at the face
 * NAN when there is no such term. Source: Noll, J. Opt. Soc. Am. 66, 207 (1976).
 * Tests: tests/reference/zernike.c, 66 terms at six points.
 */
double fw_zernike(int n, int m, double rho, double theta);

/*
 * Single-number orders. Noll counts from 1, even numbers are cosines (J. Opt. Soc. Am. 66, 207,
 * 1976); OSA / ANSI Z80.28 counts from 0: (n (n + 2) + m) / 2. -1: no such term; the inverses give
 * n = -1.
 * Test: tests/reference/zernike.c, 78 terms.
 */
int fw_zernike_noll(int n, int m);
int fw_zernike_osa(int n, int m);
struct fw_term fw_zernike_from_noll(int j);
struct fw_term fw_zernike_from_osa(int j);

/*
 * Legendre's P_n(x), P_n(1) = 1; its rms on -1 .. 1 is 1 / sqrt(2 n + 1). NAN for n < 0.
 * Recurrence n P_n = (2 n - 1) x P_(n-1) - (n - 1) P_(n-2) (DLMF 18.9.1, from memory).
 * Test: tests/unit/legendre.c.
 */
double fw_legendre(int n, double x);

/*
 * Nodes and weights of Gauss's rule: the integral of f over -1 .. 1 is sum w_i f(x_i), exactly so
 * for polynomials up to degree 2 n - 1.
 *   n     in   number of nodes, n >= 1
 *   x, w  out  n each; x ascending
 * Cost n^2. Source: zeros of P_n by Newton's rule; w = 2 / ((1 - x^2) P_n'(x)^2) (DLMF 3.5.31, from
 * memory). Test: tests/unit/legendre.c.
 */
void fw_gauss(int n, double *x, double *w);

/*
 * A basis of the orders 2 .. order.
 *   line   in   true: Legendre on one diameter; false: Zernike on the face
 *   order  in   0 .. FW_BASIS_ORDER_MAX; below 2 the basis is empty
 *   out    out  owned by the caller (fw_basis_free); untouched on failure
 * Returns FW_OK, FW_INPUT (order out of range) or FW_SYSTEM (memory).
 * Test: tests/unit/basis.c.
 */
fw_status fw_basis_new(bool line, int order, fw_basis **out, fw_error *err);

void fw_basis_free(fw_basis *basis);

/* The number of leading terms whose order is at most k. */
int fw_basis_count(const fw_basis *basis, int k);

/*
 * The value of a term at a point.
 *   term        in  0 .. nterms - 1
 *   rho, theta  in  over the clear radius; rad. On a line x = rho where cos theta >= 0, else -rho:
 *                   theta is 0 for a signed rho, or 0 and pi for the two halves
 */
double fw_basis_value(const fw_basis *basis, int term, double rho, double theta);

/* Its two factors, for rho >= 0: fw_basis_value(basis, term, rho, theta) is their product. */
double fw_basis_radial(const fw_basis *basis, int term, double rho);
double fw_basis_around(const fw_basis *basis, int term, double theta);

#endif
