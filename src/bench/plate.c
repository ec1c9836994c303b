/* plate.c - a disc of glass under its own weight, as a sum of solutions of the plate's equation. */
#include "flatwright/plate.h"

#include <math.h>
#include <string.h>

#define PI 3.14159265358979323846
#define GRAVITY 9.80665
enum { UNKNOWNS = 4 };

/* Moment and Kirchhoff's shear of x^p cos m theta: M x^(p-2) and V x^(p-3), signs left out. */
static double moment(double p, double m, double nu)
{
    return p * (p - 1) + nu * (p - m * m);
}

static double shear(double p, double m, double nu)
{
    return (p - 2) * (p * p - m * m) - (1 - nu) * m * m * (p - 1);
}

/* Solves a small dense system in place by elimination with row exchanges; the answer is in b. */
static void eliminate(int n, double a[UNKNOWNS][UNKNOWNS], double *b)
{
    for (int k = 0; k < n; k++) {
        int best = k;
        for (int i = k + 1; i < n; i++)
            best = fabs(a[i][k]) > fabs(a[best][k]) ? i : best;
        for (int j = 0; j < n; j++) {
            double keep = a[k][j];
            a[k][j] = a[best][j];
            a[best][j] = keep;
        }
        double keep = b[k];
        b[k] = b[best];
        b[best] = keep;
        for (int i = k + 1; i < n; i++) {
            double part = a[i][k] / a[k][k];
            for (int j = k; j < n; j++)
                a[i][j] -= part * a[k][j];
            b[i] -= part * b[k];
        }
    }
    for (int k = n; k-- > 0;) {
        for (int j = k + 1; j < n; j++)
            b[k] -= a[k][j] * b[j];
        b[k] /= a[k][k];
    }
}

/*
 * The endless plate's answer to a step of 1 in w''' (of u = x / beta) times cos m theta at u = 1:
 *     u <= 1: s u^m - l u^(m+2),  u >= 1: s u^(2-m) - l u^-m,  s = 1/(8 m (m-1)), l = 1/(8 m (m+1)).
 */
static double short_part(double m)
{
    return 1 / (8 * m * (m - 1));
}

static double long_part(double m)
{
    return 1 / (8 * m * (m + 1));
}

/* Of every angular order the step is 2 / (2 beta) (1 - b^2) downward: in u, times beta^3. */
static double mode_load(const fw_plate *plate)
{
    return -plate->beta * plate->beta * (1 - plate->bore * plate->bore);
}

/* One angular order: both edges without moment and shear. */
static void fill_mode(fw_plate *plate, int k)
{
    double m = 3.0 * (k + 1), nu = plate->poisson, beta = plate->beta, b = plate->bore;
    int n = b > 0 ? 4 : 2;
    const double power[UNKNOWNS] = {m, m + 2, -m, 2 - m};
    const double at_rim[UNKNOWNS] = {1, 1, pow(b, m), pow(b, m - 2)};
    const double at_bore[UNKNOWNS] = {pow(b, m), pow(b, m + 2), 1, 1};
    double a[UNKNOWNS][UNKNOWNS], *rhs = plate->mode[k], load = mode_load(plate);
    for (int j = 0; j < n; j++) {
        a[0][j] = at_rim[j] * moment(power[j], m, nu) / (m * m);
        a[1][j] = at_rim[j] * shear(power[j], m, nu) / (m * m * m);
        a[2][j] = at_bore[j] * moment(power[j], m, nu) / (m * m);
        a[3][j] = at_bore[j] * shear(power[j], m, nu) / (m * m * m);
    }
    double s = load * short_part(m), l = load * long_part(m);
    double su = s * pow(beta, m - 2), lu = l * pow(beta, m);           /* at the rim */
    double sb = s * pow(b / beta, m), lb = l * pow(b / beta, m + 2);   /* at the bore */
    rhs[0] = -(su * moment(2 - m, m, nu) - lu * moment(-m, m, nu)) / (m * m);
    rhs[1] = -(su * shear(2 - m, m, nu) - lu * shear(-m, m, nu)) / (m * m * m);
    rhs[2] = -(sb * moment(m, m, nu) - lb * moment(m + 2, m, nu)) / (m * m);
    rhs[3] = -(sb * shear(m, m, nu) - lb * shear(m + 2, m, nu)) / (m * m * m);
    eliminate(n, a, rhs);
    for (int j = n; j < UNKNOWNS; j++)
        rhs[j] = 0;
}

/* w'' + nu w' / x of g(x / beta), beyond beta. */
static double load_moment(double u, double nu, double beta)
{
    double first = (2 * u * log(u) + 1 / u - u) / 4, second = (2 * log(u) + 1 - 1 / (u * u)) / 4;
    return (second + nu * first / u) / (beta * beta);
}

/*
 * The round part. No shear at the bore gives F = -b^2 / 8, the weight on the ring L; no moment at the
 * edges gives A and, with a bore, C.
 */
static void fill_round(fw_plate *plate)
{
    double nu = plate->poisson, beta = plate->beta, b = plate->bore;
    plate->square_log = -b * b / 8;
    plate->load = -beta * beta * (1 - b * b) / 2;
    double rim = (3 + nu) / 16 + plate->square_log * (3 + nu) +
                 plate->load * load_moment(1 / beta, nu, beta);
    plate->square = -rim / (2 * (1 + nu));
    if (b <= 0)
        return;
    double bore = (3 + nu) * b * b / 16 +
                  plate->square_log * (2 * (1 + nu) * log(b) + 3 + nu);
    /* 2 (1 + nu) A - (1 - nu) C = -rim,  2 (1 + nu) A - (1 - nu) C / b^2 = -bore */
    plate->log = (bore - rim) * b * b / ((1 - b * b) * (1 - nu));
    plate->square = (-rim + (1 - nu) * plate->log) / (2 * (1 + nu));
}

fw_plate fw_plate_of(double poisson, double bore, double beta, bool points)
{
    fw_plate plate = {.poisson = poisson, .bore = bore, .points = points};
    plate.beta = beta > 1 ? 1 : beta < bore ? bore : beta;
    fill_round(&plate);
    plate.nmodes = points ? FW_PLATE_MODES : 0;
    for (int k = 0; k < plate.nmodes; k++)
        fill_mode(&plate, k);
    plate.constant = -fw_plate_sag(&plate, plate.beta, 0);
    return plate;
}

static double round_sag(const fw_plate *plate, double x)
{
    double sum = plate->constant + x * x * (x * x / 64 + plate->square), u = x / plate->beta;
    if (plate->bore > 0)
        sum += log(x) * (plate->log + x * x * plate->square_log);
    if (u > 1)
        sum += plate->load * ((u * u + 1) * log(u) - u * u + 1) / 4;
    return sum;
}

/* f (nmodes) <- what stands before cos 3 theta, cos 6 theta ... at x. */
static void modes_at(const fw_plate *plate, double x, double *f)
{
    double u = x / plate->beta, near = u <= 1 ? u : 1 / u, near2 = u <= 1 ? u * u : 1;
    double out2 = u <= 1 ? 1 : u * u, y = x > 0 ? plate->bore / x : 0, load = mode_load(plate);
    double grow = near * near * near, rise = x * x * x, sink = y * y * y;
    double p = 1, q = 1, r = 1;
    for (int k = 0; k < plate->nmodes; k++) {
        double m = 3.0 * (k + 1), inner = 0;
        const double *a = plate->mode[k];
        p *= grow; /* u^m, or u^-m beyond the support */
        q *= rise; /* x^m */
        if (plate->bore > 0)
            inner = (r *= sink) * (a[2] + a[3] / (y * y));
        f[k] = load * p * (short_part(m) * out2 - long_part(m) * near2) +
               q * (a[0] + a[1] * x * x) + inner;
    }
}

/* Sum of f_k cos 3 (k + 1) theta, c = cos 3 theta. */
static double sum_modes(int nmodes, const double *f, double c)
{
    double sum = 0, before = 1, now = c;
    for (int k = 0; k < nmodes; k++) {
        double next = 2 * c * now - before;
        sum += f[k] * now;
        before = now;
        now = next;
    }
    return sum;
}

double fw_plate_sag(const fw_plate *plate, double x, double theta)
{
    double f[FW_PLATE_MODES];
    modes_at(plate, x, f);
    return round_sag(plate, x) + sum_modes(plate->nmodes, f, cos(3 * theta));
}

static double curvature(const fw_plate *plate, double x)
{
    double u = x / plate->beta, sum = x * x / 4 + 4 * plate->square;
    if (plate->bore > 0)
        sum += 4 * plate->square_log * (log(x) + 1);
    return sum + (u > 1 ? plate->load * log(u) / (plate->beta * plate->beta) : 0);
}

double fw_plate_shear(const fw_plate *plate, double thin, double x)
{
    double tau = thin * thin / (5 * (1 - plate->poisson));
    return -tau * (curvature(plate, x) - curvature(plate, plate->beta));
}

void fw_plate_size(const fw_plate *plate, double clear, double *pv, double *rms)
{
    enum { RADII = 128, ANGLES = 24 };
    int nangles = plate->nmodes ? ANGLES + 1 : 1;
    double high = -INFINITY, low = INFINITY, sum = 0, square = 0, weight = 0;
    double f[FW_PLATE_MODES], c[ANGLES + 1];
    for (int k = 0; k < nangles; k++)
        c[k] = cos(PI * k / ANGLES);
    for (int i = 0; i <= RADII; i++) {
        double x = plate->bore + (clear - plate->bore) * i / RADII;
        double ring = x * (i == 0 || i == RADII ? 1 : i % 2 ? 4 : 2); /* Simpson's rule */
        double round = round_sag(plate, x);
        modes_at(plate, x, f);
        for (int k = 0; k < nangles; k++) {
            double w = round + sum_modes(plate->nmodes, f, c[k]);
            double part = ring * (nangles > 1 && (k == 0 || k == ANGLES) ? 0.5 : 1);
            high = fmax(high, w);
            low = fmin(low, w);
            sum += part * w;
            square += part * w * w;
            weight += part;
        }
    }
    *pv = high - low;
    *rms = sqrt(fmax(square / weight - sum * sum / (weight * weight), 0));
}

/* Golden section: PV falls to the best ring and rises beyond it. */
double fw_plate_best_ring(double poisson, double bore, double clear)
{
    const double golden = 0.61803398874989484820;
    double low = fmax(bore, 0.3), high = 1, rms, pv[2], at[2];
    for (int k = 0; k < 2; k++) {
        at[k] = k ? low + golden * (high - low) : high - golden * (high - low);
        fw_plate plate = fw_plate_of(poisson, bore, at[k], false);
        fw_plate_size(&plate, clear, &pv[k], &rms);
    }
    while (high - low > 1e-4) {
        int k = pv[0] < pv[1] ? 0 : 1; /* the better one stays, the other side is cut off */
        if (k == 0)
            high = at[1];
        else
            low = at[0];
        at[1 - k] = at[k];
        pv[1 - k] = pv[k];
        at[k] = k ? low + golden * (high - low) : high - golden * (high - low);
        fw_plate plate = fw_plate_of(poisson, bore, at[k], false);
        fw_plate_size(&plate, clear, &pv[k], &rms);
    }
    return (low + high) / 2;
}

double fw_plate_unit_nm(const fw_flat *flat)
{
    const fw_glass *g = &flat->glass;
    double a2 = flat->diameter_mm * flat->diameter_mm / 4, t = flat->thickness_mm;
    return 1e-6 * 12 * g->density_kg_m3 * GRAVITY * (1 - g->poisson * g->poisson) * a2 * a2 /
           (g->young_gpa * t * t);
}

bool fw_plate_on(const fw_flat *flat, const fw_support *support, fw_plate *out)
{
    double a = flat->diameter_mm / 2, bore = flat->bore_mm / flat->diameter_mm;
    if (support->kind == FW_SUPPORT_NONE || isnan(fw_plate_unit_nm(flat)))
        return false;
    double beta = support->kind == FW_SUPPORT_RIM ? 1 : support->radius_mm / a;
    *out = fw_plate_of(flat->glass.poisson, bore, beta, support->kind == FW_SUPPORT_THREE);
    return true;
}
