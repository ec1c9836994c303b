/* surface_figure.c - what is judged of a face of the surface model: the whole of it. */
#include "surface_figure.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"
#include "surface.h"

static const double IMITATED = 1e-6;
static const double PI = 3.14159265358979323846;

/* Circles and points around each for PV over the face, for terms of order n: 6 n and n / 2 + 6. */
enum { AROUND = 6, CIRCLES = 6 };

/* One triangle with the face's columns last; lengths along. Returns the columns before them. */
static int face_last(const surface *s, int face, int order, int *from, double *length, double *to,
                     int ld)
{
    int others = 0, n = 0;
    for (int pass = 0; pass < 2; pass++) {
        for (int j = 0; j < s->count[s->highest]; j++) {
            bool own = s->column[j].face == face;
            if (own != (pass == 1) || (own && s->terms.basis->terms[s->column[j].term].n > order))
                continue;
            from[n] = j;
            length[n++] = s->length[j];
        }
        others = pass == 0 ? n : others;
    }
    for (int j = 0; j < n; j++)
        memcpy(to + (size_t)j * (size_t)ld, s->raw + (size_t)from[j] * (size_t)s->ld,
               (size_t)s->rows * sizeof *to);
    memcpy(to + (size_t)n * (size_t)ld, s->raw + (size_t)s->ncolumns * (size_t)s->ld,
           (size_t)s->rows * sizeof *to);
    return others;
}

/* Columns of F become columns of Z: A_Z = A_F R, a = R c; their lengths with them. */
static fw_status to_circle_columns(const surface *s, int flat, int n, int rows, double *a, int ld,
                                   double *length, fw_error *err)
{
    const double *r = s->terms.triangle[flat];
    int full = s->terms.basis->nterms;
    if (!r)
        return FW_OK;
    double *made = fw_alloc((size_t)rows * (size_t)n, sizeof *made);
    if (!made)
        return fw_out_of_memory(err);
    fw_gemm(0, 0, rows, n, n, 1, a, ld, r, full, 0, made, rows);
    for (int j = n; j-- > 0;) {
        double sum = 0;
        for (int i = 0; i <= j; i++)
            sum += pow(length[i] * r[(size_t)i + (size_t)j * (size_t)full], 2);
        length[j] = sqrt(sum);
        memcpy(a + (size_t)j * (size_t)ld, made + (size_t)j * (size_t)rows,
               (size_t)rows * sizeof *a);
    }
    fw_free(made);
    return FW_OK;
}

/* R, z and used of the face's terms, from the stairs over [others | face | rhs]. */
static fw_status take_face(const double *a, int rows, int ld, int others, int nb, const char *used,
                           int rank, smooth *out, fw_error *err)
{
    int skip = 0;
    for (int j = 0; j < others; j++)
        skip += used[j];
    int n = out->nused = rank - skip;
    out->used = fw_alloc((size_t)n, sizeof *out->used);
    out->r = fw_alloc((size_t)n * (size_t)n, sizeof *out->r);
    out->z = fw_alloc((size_t)n, sizeof *out->z);
    if (!out->used || !out->r || !out->z)
        return fw_out_of_memory(err);
    for (int j = 0, k = 0; j < nb; j++)
        if (used[others + j]) {
            memcpy(out->r + (size_t)k * (size_t)n, a + skip + (size_t)(others + j) * (size_t)ld,
                   (size_t)(k + 1) * sizeof *out->r);
            out->used[k++] = j;
        }
    const double *rhs = a + (size_t)(others + nb) * (size_t)ld;
    memcpy(out->z, rhs + skip, (size_t)n * sizeof *out->z);
    out->floor += pow(fw_length(rows - rank, rhs + rank), 2);
    return FW_OK;
}

fw_status surface_smooth(adjustment *a, int face, const fw_profile *profile, int most, smooth *out,
                         fw_error *err)
{
    const surface *s = a->surface;
    int order = s->highest < most ? s->highest : most > s->order ? most : s->order;
    order = order < s->cap[face] ? order : s->cap[face];
    smooth made = {.order = s->order < order ? s->order : order};
    int n = s->count[s->highest], ld = s->rows;
    (void)profile;
    fw_status status = fw_basis_new(false, order, &made.basis, err);
    if (status)
        return status;
    int nb = made.basis->nterms, *from = fw_alloc((size_t)n, sizeof *from);
    double *t = fw_alloc((size_t)ld * ((size_t)n + 1), sizeof *t);
    double *length = fw_alloc((size_t)n, sizeof *length);
    char *used = fw_alloc((size_t)n, sizeof *used);
    if (!from || !t || !length || !used) {
        status = fw_out_of_memory(err);
        goto done;
    }
    int others = face_last(s, face, order, from, length, t, ld);
    if ((status = to_circle_columns(s, a->net->faces[face].flat, nb, ld,
                                    t + (size_t)others * (size_t)ld, ld, length + others, err)))
        goto done;
    int rank = fw_qr_stairs(ld, others + nb, 1, t, ld, length, IMITATED, used);
    made.floor = s->left;
    if (!(status = take_face(t, ld, ld, others, nb, used, rank, &made, err)))
        made.ndata = made.nused + (int)a->redundancy;
done:
    fw_free(from);
    fw_free(t);
    fw_free(length);
    fw_free(used);
    if (status)
        smooth_release(&made);
    else
        *out = made;
    return status;
}

/* Terms beyond the face's cap are in no basis: what is in it has to be told. */
fw_status surface_countable(const adjustment *a, int face, const fw_profile *profile,
                            const fw_basis *basis, bool *countable, fw_error *err)
{
    (void)a;
    (void)face;
    (void)profile;
    (void)err;
    for (int j = 0; j < basis->nterms; j++)
        countable[j] = true;
    return FW_OK;
}

/* Circles close toward the rim and the bore, where polynomials turn fastest. */
static int lay_grid(double bore, int order, int circles, double *rho, double *theta)
{
    int n = 0, around = AROUND * order;
    for (int k = 0; k < circles; k++) {
        double t = bore + (1 - bore) * (bore > 0 ? (1 - cos(PI * k / (circles - 1))) / 2
                                                 : sin(PI / 2 * k / (circles - 1)));
        for (int i = 0; i < around; i++) {
            rho[n] = t;
            theta[n++] = 2 * PI * i / around;
            if (t <= 0)
                break;
        }
    }
    return n;
}

static fw_status grid_new(double bore, int order, double **rho, double **theta, int *n,
                          fw_error *err)
{
    int circles = order / 2 + CIRCLES;
    *rho = fw_alloc((size_t)circles * (size_t)(AROUND * order), sizeof **rho);
    *theta = fw_alloc((size_t)circles * (size_t)(AROUND * order), sizeof **theta);
    if (!*rho || !*theta)
        return fw_out_of_memory(err);
    *n = lay_grid(bore, order, circles, *rho, *theta);
    return FW_OK;
}

fw_status surface_form(const adjustment *a, int face, const fw_profile *profile,
                       const fw_basis *basis, fw_form **out, fw_error *err)
{
    const net_face *f = &a->net->faces[face];
    double bore = f->bore_mm / f->clear_mm, *rho = NULL, *theta = NULL;
    int n = 0;
    (void)profile;
    fw_status status = grid_new(bore, basis->order, &rho, &theta, &n, err);
    if (!status)
        status = fw_form_new(basis, bore, n, rho, theta, out, err);
    fw_free(rho);
    fw_free(theta);
    return status;
}

/*
 * Where stations meet, what the surfaces leave beyond the ring-by-ring fit is structure finer than
 * the order (F test). It is counted on both flats of a pairing alike. Where no station meets another,
 * sigma and structure cannot be told apart: then the residuals enlarge every uncertainty, and a note
 * says so.
 */
fw_status surface_finer(adjustment *a, int face, const fw_profile *profile, const smooth *s,
                        finer *out, fw_error *err)
{
    const net_face *f = &a->net->faces[face];
    finer made = {.p = a->surface->excess_p, .rms_nm = a->surface->excess_rms_nm};
    fw_status status = FW_OK;
    (void)profile;
    made.significant = made.p < FW_SIGMA_TEST_LEVEL;
    if (made.significant) {
        status = grid_new(f->bore_mm / f->clear_mm, s->basis->order, &made.rho, &made.theta,
                          &made.n, err);
        made.mean = fw_alloc((size_t)made.n, sizeof *made.mean);
        made.sd = fw_alloc((size_t)made.n, sizeof *made.sd);
        if (!status && (!made.mean || !made.sd))
            status = fw_out_of_memory(err);
        for (int i = 0; i < made.n && !status; i++)
            made.sd[i] = made.rms_nm;
    } else
        made.rms_nm = 0;
    if (status)
        finer_release(&made);
    else
        *out = made;
    return status;
}
