/* form.h - the matrices of flatwright/form.h, shared by the two files that fill and use them. */
#ifndef FIGURE_FORM_H
#define FIGURE_FORM_H

#include "flatwright/form.h"

struct fw_form {
    int npoints, nterms;
    int nround;     /* terms that are their own mean around a circle */
    int nradii;     /* circles on which the symmetric part is taken */
    double *height; /* npoints x nterms: the terms at the points, without their plane */
    double *bowl;   /* npoints: rho^2 less its mean; h + power bowl is what the sphere leaves */
    double *power;  /* nterms: sagitta of the best-fit sphere */
    double *gram;   /* nterms x nterms: mean products over the area */
    int *round;     /* nround: their indices, ascending */
    double *zone;   /* nradii x nround: what the sphere leaves of them */
};

#endif
