/* builtin.c - the built-in glasses and lamps, in words and as JSON, each with its source. */
#include "flatwright/json.h"
#include "flatwright/units.h"

#include "report/words.h"

void fw_glasses_text(fw_screen *screen)
{
    int count;
    const fw_glass *glasses = fw_glasses(&count);
    for (int i = 0; i < count; i++) {
        const fw_glass *g = &glasses[i];
        fw_screen_say(screen, 0, 2, FW_BOLD "%s" FW_PLAIN, g->name);
        fw_screen_say(screen, 2, 2,
                      "young" FW_BLANK "%g" FW_BLANK "GPa, poisson" FW_BLANK "%g, density" FW_BLANK
                      "%g" FW_BLANK "kg/m3, expansion" FW_BLANK
                      "%ge-6/K, conductivity" FW_BLANK "%g" FW_BLANK "W/mK, heat" FW_BLANK "%g"
                      FW_BLANK "J/kgK",
                      g->young_gpa, g->poisson, g->density_kg_m3, g->expansion_1e6_k,
                      g->conductivity_w_mk, g->heat_j_kgk);
        fw_screen_say(screen, 2, 4, "source: %s", fw_glass_source(i));
    }
    fw_screen_say(screen, 0, 0, "In job.ini: glass" FW_BLANK "=" FW_BLANK "%s. A line such as young" FW_BLANK "=" FW_BLANK "70 "
                                "puts a data sheet's value in place of one of these.", glasses[0].name);
}

void fw_glasses_json(FILE *out)
{
    int count;
    const fw_glass *glasses = fw_glasses(&count);
    fw_json json = {.out = out};
    fw_json_object(&json, NULL, FW_JSON_LINES);
    fw_json_text(&json, "format", "flatwright-glasses/1");
    fw_json_array(&json, "glasses", FW_JSON_LINES);
    for (int i = 0; i < count; i++) {
        fw_json_object(&json, NULL, FW_JSON_INLINE);
        fw_json_text(&json, "name", glasses[i].name);
        fw_json_number(&json, "young_gpa", glasses[i].young_gpa);
        fw_json_number(&json, "poisson", glasses[i].poisson);
        fw_json_number(&json, "density_kg_m3", glasses[i].density_kg_m3);
        fw_json_number(&json, "expansion_1e6_k", glasses[i].expansion_1e6_k);
        fw_json_number(&json, "conductivity_w_mk", glasses[i].conductivity_w_mk);
        fw_json_number(&json, "heat_j_kgk", glasses[i].heat_j_kgk);
        fw_json_text(&json, "source", fw_glass_source(i));
        fw_json_close(&json);
    }
    fw_json_close(&json);
    fw_json_close(&json);
}

/* What one band stands for, looking straight down. */
static double fringe_nm(const fw_lamp *lamp)
{
    fw_light light = {.wavelength_nm = lamp->wavelength_nm};
    return fw_unit_nm(FW_UNIT_FRINGE, &light);
}

void fw_lights_text(fw_screen *screen)
{
    int count;
    const fw_lamp *lamps = fw_lamps(&count);
    for (int i = 0; i < count; i++) {
        fw_screen_say(screen, 0, 2, FW_BOLD "%s" FW_PLAIN, lamps[i].name);
        fw_screen_say(screen, 2, 2,
                      "%.10g" FW_BLANK "nm in air; one fringe is %.2f" FW_BLANK
                      "nm of surface, seen straight down",
                      lamps[i].wavelength_nm, fringe_nm(&lamps[i]));
        fw_screen_say(screen, 2, 4, "source: %s", lamps[i].source);
    }
    fw_screen_say(screen, 0, 0, "In job.ini: source" FW_BLANK "=" FW_BLANK "%s. Any other light: "
                                "wavelength" FW_BLANK "=" FW_BLANK "546.07" FW_BLANK "nm. "
                                "Mercury lamps give ultraviolet, and a broken lamp is toxic waste; "
                                "never look along a laser beam.", lamps[0].name);
}

void fw_lights_json(FILE *out)
{
    int count;
    const fw_lamp *lamps = fw_lamps(&count);
    fw_json json = {.out = out};
    fw_json_object(&json, NULL, FW_JSON_LINES);
    fw_json_text(&json, "format", "flatwright-lights/1");
    fw_json_array(&json, "lights", FW_JSON_LINES);
    for (int i = 0; i < count; i++) {
        fw_json_object(&json, NULL, FW_JSON_INLINE);
        fw_json_text(&json, "name", lamps[i].name);
        fw_json_number(&json, "wavelength_nm", lamps[i].wavelength_nm);
        fw_json_number(&json, "fringe_nm", fringe_nm(&lamps[i]));
        fw_json_text(&json, "source", lamps[i].source);
        fw_json_close(&json);
    }
    fw_json_close(&json);
    fw_json_close(&json);
}
