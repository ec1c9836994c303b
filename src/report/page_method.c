/* page_method.c - how it was computed, on what it rests, and what to take care of. */
#include <math.h>

#include "report/page_parts.h"
#include "report/words.h"

static void list(markup *m, const char *kind, const char *const *items, size_t count)
{
    markup_open(m, kind);
    for (size_t i = 0; i < count; i++) {
        markup_line(m);
        markup_element(m, "li", items[i]);
    }
    markup_close(m);
}

#define LIST(m, kind, items) list(m, kind, items, sizeof(items) / sizeof(items)[0])

static void steps(markup *m, const fw_job *job)
{
    static const char *const known[] = {
        "Two flats face to face show the sum of their surfaces. The bottom's point at radius r and "
        "angle t from its mark meets the top's point at r and turn \xE2\x88\x92 t.",
        "All readings of all rounds are solved together by least squares (orthogonal methods), a "
        "height an unknown, piston and tilt of every scan free; a flat that was worked is a new "
        "surface. What the readings do not carry is named, not filled in.",
        "Heights are told on a datum: the mean, and the slope along each diameter or of the plane, "
        "are taken off. Uncertainties carry the whole covariance; where the scatter of the "
        "readings is larger than stated they are enlarged by the Birge ratio.",
        "What is judged is the smooth figure: circle polynomials of rms one (along one diameter "
        "Legendre polynomials), weighed against the noise; structure finer than that is tested "
        "and counted. Its quantities and their uncertainty come from draws of its joint "
        "distribution.",
        "Within, outside or undecided is decided by the probability that the figure is within the "
        "target.",
        "A reading is pointed out when its standardised residual is larger than chance allows for "
        "the whole set. None is left out silently.",
        "Removal is pressure times speed (Preston), rates are learned from the work itself; times "
        "on the lap are those, none below zero, that leave the least expected departure."};
    LIST(m, "ol", known);
    if (job->levelling == FW_LEVELLING_SETUP)
        page_say(m, "In this job one plane is free for all diameters of a pairing in a round.");
}

static void references(markup *m)
{
    static const char *const works[] = {
        "G. Schulz, J. Schwider: Interferometric testing of smooth surfaces. Progress in Optics "
        "13 (1976).",
        "G. Schulz, J. Grzanna: Absolute flatness testing by the rotation method. Applied Optics "
        "31 (1992) 3767.",
        "ISO 10110-5, ISO 14999-4: quantities of surface form; a fringe spacing is half a "
        "wavelength of surface.",
        "JCGM 100, 101, 106: uncertainty, propagation of distributions, conformity.",
        "R. J. Noll: Zernike polynomials and atmospheric turbulence. J. Opt. Soc. Am. 66 (1976) "
        "207.",
        "W. Baarda: A testing procedure for use in geodetic networks (1968).",
        "F. W. Preston: The theory and design of plate glass polishing machines. J. Soc. Glass "
        "Technol. 11 (1927) 214.",
        "R. E. Wagner, R. R. Shannon: Fabrication of aspherics using a mathematical model for "
        "material removal. Applied Optics 13 (1974) 1683.",
        "C. L. Lawson, R. J. Hanson: Solving Least Squares Problems (1974)."};
    markup_element(m, "h3", "References");
    LIST(m, "ul", works);
}

static void cautions(markup *m)
{
    static const char *const warnings[] = {
        "Local rules and licensed practice come first.",
        "Slurry and glass dust: keep wet, no dry sweeping, a respirator for dry powder.",
        "Heavy glass has sharp edges: two hands, bevel first.",
        "Mercury lamps give ultraviolet, and a broken lamp is toxic waste.",
        "Never look along a laser beam.",
        "Coring and drilling glass: water, guard, goggles. No etching acids."};
    page_section(m, "cautions", "Cautions");
    LIST(m, "ul", warnings);
    markup_close(m);
}

void page_method(markup *m, const views *v)
{
    page_section(m, "method", "How it was computed");
    steps(m, v->result->job);
    references(m);
    markup_close(m);
    cautions(m);
}
