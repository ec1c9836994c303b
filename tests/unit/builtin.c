/* builtin.c - tests of the lists of glasses and lamps: all there, with sources, read back. */
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "flatwright/report.h"
#include "flatwright/units.h"

/* What one of the JSON printers prints, parsed. */
static json_t *printed(void (*print)(FILE *))
{
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    print(out);
    assert_int_equal(fclose(out), 0);
    json_t *json = json_loads(text, 0, NULL);
    free(text);
    assert_non_null(json);
    return json;
}

static double number(const json_t *row, const char *key)
{
    return json_number_value(json_object_get(row, key));
}

static void glasses_json(void **state)
{
    int count;
    const fw_glass *glasses = fw_glasses(&count);
    json_t *json = printed(fw_glasses_json), *rows = json_object_get(json, "glasses");
    (void)state;
    assert_string_equal(json_string_value(json_object_get(json, "format")), "flatwright-glasses/1");
    assert_int_equal(json_array_size(rows), count);
    for (int i = 0; i < count; i++) {
        const json_t *row = json_array_get(rows, i);
        assert_string_equal(json_string_value(json_object_get(row, "name")), glasses[i].name);
        assert_close(number(row, "young_gpa"), glasses[i].young_gpa, 0, 0);
        assert_close(number(row, "expansion_1e6_k"), glasses[i].expansion_1e6_k, 0, 0);
        assert_true(json_string_length(json_object_get(row, "source")) > 10);
    }
    json_decref(json);
}

/* One fringe is half a wavelength of surface at normal incidence: ISO 14999-4. */
static void lights_json(void **state)
{
    int count;
    const fw_lamp *lamps = fw_lamps(&count);
    json_t *json = printed(fw_lights_json), *rows = json_object_get(json, "lights");
    (void)state;
    assert_string_equal(json_string_value(json_object_get(json, "format")), "flatwright-lights/1");
    assert_int_equal(json_array_size(rows), count);
    for (int i = 0; i < count; i++) {
        const json_t *row = json_array_get(rows, i);
        assert_string_equal(json_string_value(json_object_get(row, "name")), lamps[i].name);
        assert_close(number(row, "wavelength_nm"), lamps[i].wavelength_nm, 0, 0);
        assert_close(number(row, "fringe_nm"), lamps[i].wavelength_nm / 2, 1e-15, 0);
        assert_true(json_string_length(json_object_get(row, "source")) > 10);
    }
    json_decref(json);
}

/* In words: every name and source, no line over 80 columns. */
static void in_words(void **state)
{
    char *text = NULL;
    size_t size;
    int nglasses, nlamps;
    const fw_glass *glasses = fw_glasses(&nglasses);
    const fw_lamp *lamps = fw_lamps(&nlamps);
    FILE *out = open_memstream(&text, &size);
    (void)state;
    assert_non_null(out);
    fw_screen screen = {.out = out, .columns = 80};
    fw_glasses_text(&screen);
    fw_lights_text(&screen);
    assert_int_equal(fclose(out), 0);
    for (int i = 0; i < nglasses; i++)
        assert_non_null(strstr(text, glasses[i].name));
    for (int i = 0; i < nlamps; i++)
        assert_non_null(strstr(text, lamps[i].name));
    int sources = 0;
    for (const char *at = text; (at = strstr(at, "  source: ")) != NULL; at++)
        sources++;
    assert_int_equal(sources, nglasses + nlamps);
    for (const char *line = text; *line; line += strcspn(line, "\n") + 1)
        assert_true(strcspn(line, "\n") <= 80);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(glasses_json),
        cmocka_unit_test(lights_json),
        cmocka_unit_test(in_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
