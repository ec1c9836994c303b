/* warmth.c - a slab of glass evens out and cools: bow, time constants, waiting time. */
#include <math.h>

#include "flatwright/warmth.h"

#define PI 3.14159265358979323846
#define UNEVEN 0.2 /* how much the air at the two faces differs when both are open */

/* Expansion in 1e-6/K and lengths in mm leave nm. */
double fw_warmth_bow_nm(const fw_glass *glass, double diameter_mm, double thickness_mm,
                        double across_k)
{
    return glass->expansion_1e6_k * across_k * diameter_mm * diameter_mm / (8 * thickness_mm);
}

double fw_warmth_across_k(const fw_glass *glass, double diameter_mm, double thickness_mm,
                          double bow_nm)
{
    return 8 * thickness_mm * bow_nm / (glass->expansion_1e6_k * diameter_mm * diameter_mm);
}

double fw_warmth_flux_bow_nm(const fw_glass *glass, double diameter_mm, double flux_w_m2)
{
    return 1e-3 * glass->expansion_1e6_k * flux_w_m2 * diameter_mm * diameter_mm /
           (8 * glass->conductivity_w_mk);
}

double fw_warmth_diffusivity(const fw_glass *glass)
{
    return glass->conductivity_w_mk / (glass->density_kg_m3 * glass->heat_j_kgk);
}

double fw_warmth_conduction_s(const fw_glass *glass, double thickness_mm, bool both)
{
    double t = 1e-3 * thickness_mm, path = both ? t : 2 * t;
    return path * path / (PI * PI * fw_warmth_diffusivity(glass));
}

static double film(double film_w_m2k)
{
    return isnan(film_w_m2k) ? FW_WARMTH_FILM : film_w_m2k;
}

double fw_warmth_air_s(const fw_glass *glass, double thickness_mm, bool both, double film_w_m2k)
{
    double t = 1e-3 * thickness_mm;
    return glass->density_kg_m3 * glass->heat_j_kgk * t / ((both ? 2 : 1) * film(film_w_m2k));
}

double fw_warmth_left_k(const fw_glass *glass, const fw_cooling *c, double seconds)
{
    double inside = fw_warmth_conduction_s(glass, c->thickness_mm, true);
    double whole = fw_warmth_air_s(glass, c->thickness_mm, c->both, c->film_w_m2k) +
                   fw_warmth_conduction_s(glass, c->thickness_mm, c->both);
    double biot = film(c->film_w_m2k) * 1e-3 * c->thickness_mm / glass->conductivity_w_mk;
    return fabs(c->across_k) * exp(-seconds / inside) +
           (c->both ? UNEVEN : 1) * 0.5 * biot * fabs(c->above_k) * exp(-seconds / whole);
}

double fw_warmth_wait_s(const fw_glass *glass, const fw_cooling *cooling, double allowed_k)
{
    double start = fw_warmth_left_k(glass, cooling, 0);
    if (!isfinite(start) || !(allowed_k > 0))
        return NAN;
    if (start <= allowed_k)
        return 0;
    double early = 0, late = 1;
    while (fw_warmth_left_k(glass, cooling, late) > allowed_k && late < 1e12)
        late *= 2;
    for (int i = 0; i < 60; i++) {
        double middle = 0.5 * (early + late);
        if (fw_warmth_left_k(glass, cooling, middle) > allowed_k)
            early = middle;
        else
            late = middle;
    }
    return late;
}
