/* surface_rows.h - scans as a few equations in the terms of two faces, pistons and tilts gone. */
#ifndef ADJUST_SURFACE_ROWS_H
#define ADJUST_SURFACE_ROWS_H

#include "net.h"
#include "surface_terms.h"

/* Everything that shares scan terms: one scan (levelling = scan), or the scans of one setting. */
typedef struct surface_group {
    int face[2]; /* bottom, top */
    int nscans;
    const int *scans; /* indices into net->scans */
} surface_group;

/*
 * What a group says, its pistons and tilts eliminated by reflections:
 *     rows equations  [terms of the bottom | terms of the top] c = rhs,  of unit variance,
 * column-major in a with leading dimension ld, from row `from` on.
 */
typedef struct surface_rows {
    int from, rows, ld;
    double *all;      /* the scan terms' columns too: their triangle stands in rows 0 .. from - 1 */
    double *a;        /* all, from the first term of the bottom: 2 nterms + 1 columns */
    int scan_terms;
    char used[3];     /* which of the scan terms count */
    double *length2;  /* 2 nterms: squared lengths of the columns before the elimination */
    double left;      /* chi-square of what no polynomial can explain */
    int eliminated;   /* rank of the scan terms */
    size_t readings;  /* that count here: on both flats clear */
} surface_rows;

/* The groups of a net, by piston. *scans and *groups are the caller's to free. */
fw_status surface_groups(const fw_net *net, int **scans, surface_group **groups, int *ngroups,
                         fw_error *err);

/* Does a reading lie inside both clear apertures and outside both bores? */
bool surface_counts(const fw_net *net, int scan, double position_mm);

/* skip: per reading of the job, true leaves it out; NULL: none. Release with surface_rows_release. */
fw_status surface_rows_new(const fw_net *net, surface_terms *t, const surface_group *g,
                           const bool *skip, surface_rows *out, fw_error *err);
void surface_rows_release(surface_rows *r);

#endif
