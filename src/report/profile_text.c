/* profile_text.c - the flats drawn in characters: a panel a diameter, one scale for all. */
#include <math.h>

#include "report/words.h"

#define CHART_ROWS 9
#define DIAMETERS_DRAWN 8 /* more would bury what matters; the table of `export` has them all */
#define CHART_ROOM 72     /* columns beside the ticks */
#define WIDEST_PANEL 34

fw_chart_panel words_panel(const fw_flat *flat, const fw_diameter *diameter, const char *title,
                           int columns)
{
    double radius = flat->diameter_mm / 2, bore = flat->bore_mm / 2;
    fw_chart_panel panel = fw_chart_panel_of(title, columns, -radius, radius);
    for (size_t i = 0; i < diameter->npoints; i++) {
        const fw_point *point = &diameter->points[i];
        if (bore > 0 && i > 0 && diameter->points[i - 1].position_mm < 0 && point->position_mm > 0)
            fw_chart_trace(&panel, 0, NAN);
        fw_chart_trace(&panel, point->position_mm, point->determined ? point->height_nm : NAN);
    }
    return panel;
}

double words_largest_height(const fw_result *result)
{
    double largest = 1; /* below a nanometre there is nothing to draw but noise */
    for (int f = 0; f < result->job->nflats; f++) {
        const fw_profile *profile = &words_today(result, f)->profile;
        for (int d = 0; d < profile->ndiameters; d++)
            for (size_t i = 0; i < profile->diameters[d].npoints; i++)
                if (profile->diameters[d].points[i].determined)
                    largest = fmax(largest, fabs(profile->diameters[d].points[i].height_nm));
    }
    return largest;
}

/* A point and the diameter it lies on. */
typedef struct place {
    const fw_point *point;
    double angle_deg;
} place;

static void put_place(fw_screen *screen, const char *what, place at)
{
    char height[WORDS_SIZE], position[WORDS_SIZE];
    fw_quantity quantity = {at.point->height_nm, at.point->u_nm};
    fw_screen_put(screen, "%s %s at" FW_BLANK "%s of %g" FW_BLANK "deg", what,
                  words_quantity(quantity, true, height),
                  words_position(at.point->position_mm, position), at.angle_deg);
}

/* The extremes in words: what the picture shows, for those who do not see it. */
static void say_extremes(fw_screen *screen, const fw_profile *profile)
{
    place highest = {NULL, 0}, lowest = {NULL, 0};
    for (int d = 0; d < profile->ndiameters; d++)
        for (size_t i = 0; i < profile->diameters[d].npoints; i++) {
            place here = {&profile->diameters[d].points[i], profile->diameters[d].angle_deg};
            if (!here.point->determined)
                continue;
            if (!highest.point || here.point->height_nm > highest.point->height_nm)
                highest = here;
            if (!lowest.point || here.point->height_nm < lowest.point->height_nm)
                lowest = here;
        }
    if (!highest.point) {
        fw_screen_put(screen, "no height of it can be told.");
        return;
    }
    put_place(screen, "highest", highest);
    put_place(screen, ", lowest", lowest);
    fw_screen_put(screen, ".");
}

static void draw_flat(fw_screen *screen, const fw_result *result, int flat, fw_chart_scale scale)
{
    const fw_profile *profile = &words_today(result, flat)->profile;
    int drawn = profile->ndiameters < DIAMETERS_DRAWN ? profile->ndiameters : DIAMETERS_DRAWN;
    int lines = (drawn + FW_CHART_PANELS - 1) / FW_CHART_PANELS;
    int across = (drawn + lines - 1) / lines;
    int columns = CHART_ROOM / across - 1;
    for (int first = 0; first < drawn; first += across) {
        fw_chart_panel panels[FW_CHART_PANELS];
        char titles[FW_CHART_PANELS][32];
        int count = drawn - first < across ? drawn - first : across;
        for (int p = 0; p < count; p++) {
            const fw_diameter *diameter = &profile->diameters[first + p];
            snprintf(titles[p], sizeof titles[p], "%g deg", diameter->angle_deg);
            panels[p] = words_panel(&result->job->flats[flat], diameter, titles[p],
                                    columns < WIDEST_PANEL ? columns : WIDEST_PANEL);
        }
        fw_chart_draw(screen, scale, count, panels, "mm", "nm", "undetermined");
    }
    if (drawn < profile->ndiameters)
        fw_screen_say(screen, 0, 2,
                      "The first %d of %d diameters are drawn; `flatwright export` has "
                      "them all.",
                      drawn, profile->ndiameters);
}

bool words_any_height(const fw_result *result)
{
    for (int f = 0; f < result->job->nflats; f++) {
        const fw_profile *p = &words_today(result, f)->profile;
        for (int k = 0; k < p->ndiameters; k++)
            for (size_t i = 0; i < p->diameters[k].npoints; i++)
                if (p->diameters[k].points[i].determined)
                    return true;
    }
    return false;
}

void words_profiles(fw_screen *screen, const fw_result *result)
{
    fw_chart_scale scale = fw_chart_scale_of(CHART_ROWS, words_largest_height(result));
    bool told = false, known = words_any_height(result);
    for (int f = 0; f < result->job->nflats; f++) {
        const fw_face *face = words_today(result, f);
        if (face->profile.ndiameters == 0)
            continue;
        if (!told && known && !screen->spoken)
            fw_screen_say(screen, 0, 2, FW_BOLD "Profiles." FW_PLAIN " Height over position, + is "
                                                "high; the same scale for all, a row is %g" FW_BLANK
                                                "nm.", scale.step);
        else if (!told)
            fw_screen_say(screen, 0, 2, FW_BOLD "Profiles." FW_PLAIN "%s",
                          known ? " Highest and lowest places; + is high." : "");
        told = true;
        fw_screen_say(screen, 0, 0, "%s", "");
        fw_screen_begin(screen, 0, 2);
        fw_screen_put(screen, FW_BOLD);
        fw_screen_text(screen, result->job->flats[f].name);
        fw_screen_put(screen, FW_PLAIN ", ");
        if (face->state > 0)
            fw_screen_put(screen, "after %d %s of work, ", face->state,
                          face->state == 1 ? "spell" : "spells");
        if (face->first_round == face->last_round)
            fw_screen_put(screen, "read in round" FW_BLANK "%d: ", face->first_round);
        else
            fw_screen_put(screen, "read in rounds %d to" FW_BLANK "%d: ", face->first_round,
                          face->last_round);
        say_extremes(screen, &face->profile);
        fw_screen_end(screen);
        if (known)
            draw_flat(screen, result, f, scale);
    }
    if (told)
        fw_screen_say(screen, 0, 0, "%s", "");
}
