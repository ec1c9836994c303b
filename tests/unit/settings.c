/* settings.c - job.ini to the job: values, units, defaults, overrides, and every fault by place. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "../support/close.h"
#include "../support/folder.h"
#include "flatwright/units.h"

static fw_job *read_ini(const char *ini)
{
    folder at = folder_make();
    folder_write(&at, "job.ini", ini);
    folder_write(&at, "readings.csv", PLAIN_HEADER);
    fw_job *job = folder_job(&at);
    folder_remove(&at);
    return job;
}

/* The faults of a [set] of three flats with `more` after it (its first line is line 4). */
static void check(const char *more, const char *expected)
{
    char ini[2000];
    snprintf(ini, sizeof ini, "%s%s", PLAIN_INI, more);
    assert_faults(ini, PLAIN_HEADER, expected);
}

static void test_defaults(void **state)
{
    fw_job *job = read_ini(PLAIN_INI);
    (void)state;
    assert_int_equal(job->nflats, 3);
    assert_string_equal(job->title, "");
    for (int i = 0; i < 3; i++) {
        const char name[] = {(char)('A' + i), '\0'};
        assert_string_equal(job->flats[i].name, name);
        assert_close(job->flats[i].diameter_mm, 200, 0, 0);
        assert_close(job->flats[i].clear_mm, 200, 0, 0);
        assert_close(job->flats[i].bore_mm, 0, 0, 0);
        assert_true(isnan(job->flats[i].thickness_mm));
        assert_string_equal(job->flats[i].glass.name, "");
        assert_true(isnan(job->flats[i].glass.young_gpa));
    }
    assert_close(job->flatness_nm, 10, 0, 0);
    assert_int_equal(job->measure, FW_MEASURE_PV);
    assert_close(job->confidence, 0.95, 0, 0);
    assert_string_equal(job->light.source, "");
    assert_true(isnan(job->light.wavelength_nm));
    assert_close(job->light.incidence_deg, 0, 0, 0);
    assert_int_equal(job->unit, FW_UNIT_NM);
    assert_true(isnan(job->sigma_nm));
    assert_int_equal(job->levelling, FW_LEVELLING_SCAN);
    assert_int_equal(job->model, FW_MODEL_AUTO);
    assert_int_equal(job->order, 0);
    assert_int_equal(job->nturns, 0);
    assert_close(job->prior_nm, 1000, 0, 0);
    assert_int_equal(job->support_bottom.kind, FW_SUPPORT_NONE);
    assert_int_equal(job->support_top.kind, FW_SUPPORT_NONE);
    assert_int_equal(job->bending, FW_BENDING_CORRECT);
    assert_true(isnan(job->gradient_k));
    assert_true(isnan(job->gap_um));
    assert_true(isnan(job->eye_mm));
    fw_job_free(job);
}

static const char full_ini[] = "[set]\n"
                               "title = Trio ; of three\n"
                               "flats = one, two_2  three-3\n"
                               "diameter = 10 in\n"
                               "clear = 24cm\n"
                               "bore = 0.02 m\n"
                               "thickness = 40\n"
                               "glass = Fused Silica\n"
                               "young = 72.5 GPa\n"
                               "[target]\n"
                               "flatness = 0.05 wave\n"
                               "measure = irregularity\n"
                               "confidence = 0.9\n"
                               "[light]\n"
                               "source = mercury-green\n"
                               "incidence = 60 deg\n"
                               "[readings]\n"
                               "unit = fringe\n"
                               "sigma = 0.02\n"
                               "levelling = setup\n"
                               "model = surface\n"
                               "order = 6\n"
                               "[plan]\n"
                               "turns = 0, 45 90,-30\n"
                               "prior = 0.5 um\n"
                               "[bench]\n"
                               "support_bottom = ring 8.2 cm\n"
                               "support_top = three 78 mm 30\n"
                               "bending = solve\n"
                               "gradient = 0.02 K\n"
                               "gap = 10 \xC2\xB5m\n"
                               "eye = 2 m\n"
                               "[flat two_2]\n"
                               "bore = 32 mm\n"
                               "poisson = 0.18\n"
                               "[flat three-3]\n"
                               "glass = soda-lime\n"
                               "clear = 200 mm\n";

static void test_full(void **state)
{
    fw_job *job = read_ini(full_ini);
    (void)state;
    assert_string_equal(job->title, "Trio");
    assert_string_equal(job->flats[2].name, "three-3");
    assert_close(job->flats[0].diameter_mm, 254, 0, 0);
    assert_close(job->flats[0].clear_mm, 240, 0, 0);
    assert_close(job->flats[0].bore_mm, 20, 0, 0);
    assert_close(job->flats[0].thickness_mm, 40, 0, 0);
    assert_string_equal(job->flats[0].glass.name, "fused-silica");
    assert_close(job->flats[0].glass.young_gpa, 72.5, 0, 0);
    assert_close(job->flats[0].glass.poisson, 0.17, 0, 0);
    assert_close(job->flats[1].bore_mm, 32, 0, 0);
    assert_close(job->flats[1].glass.young_gpa, 72.5, 0, 0);
    assert_close(job->flats[1].glass.poisson, 0.18, 0, 0);
    assert_string_equal(job->flats[2].glass.name, "soda-lime");
    assert_close(job->flats[2].glass.young_gpa, 72, 0, 0); /* not the 72.5 of the set's glass */
    assert_close(job->flats[2].clear_mm, 200, 0, 0);
    assert_close(job->flatness_nm, 0.05 * 546.074, 1e-15, 0);
    assert_int_equal(job->measure, FW_MEASURE_IRREGULARITY);
    assert_close(job->confidence, 0.9, 0, 0);
    assert_close(job->light.incidence_deg, 60, 0, 0);
    assert_close(job->sigma_nm, 0.02 * 546.074, 1e-14, 0); /* 2 cos 60 deg is 1 */
    assert_int_equal(job->levelling, FW_LEVELLING_SETUP);
    assert_int_equal(job->model, FW_MODEL_SURFACE);
    assert_int_equal(job->order, 6);
    assert_int_equal(job->nturns, 4);
    assert_close(job->turns_deg[1], 45, 0, 0);
    assert_close(job->turns_deg[3], -30, 0, 0);
    assert_close(job->prior_nm, 500, 0, 0);
    assert_int_equal(job->support_bottom.kind, FW_SUPPORT_RING);
    assert_close(job->support_bottom.radius_mm, 82, 1e-15, 0);
    assert_int_equal(job->support_top.kind, FW_SUPPORT_THREE);
    assert_close(job->support_top.radius_mm, 78, 0, 0);
    assert_close(job->support_top.angle_deg, 30, 0, 0);
    assert_int_equal(job->bending, FW_BENDING_SOLVE);
    assert_close(job->gradient_k, 0.02, 0, 0);
    assert_close(job->gap_um, 10, 0, 0);
    assert_close(job->eye_mm, 2000, 0, 0);
    fw_job_free(job);
}

/* Half waves: ISO 14999-4, one fringe spacing is half a wavelength of surface; lines as published. */
static void test_lamps(void **state)
{
    static const struct {
        const char *name;
        double fringe_nm;
    } cases[] = {{"mercury-green", 273.037},  {"helium-yellow", 293.7809},
                 {"sodium", 294.6469},        {"hene-red", 316.40955},
                 {"mercury-blue", 217.91715}, {"cadmium-red", 321.92345}};
    int count;
    (void)state;
    fw_lamps(&count);
    assert_int_equal(count, 6);
    for (int i = 0; i < count; i++) {
        char ini[200];
        snprintf(ini, sizeof ini, "%s[light]\nsource = %s\n[readings]\nunit = fringe\n", PLAIN_INI,
                 cases[i].name);
        fw_job *job = read_ini(ini);
        assert_close(fw_unit_nm(FW_UNIT_FRINGE, &job->light), cases[i].fringe_nm, 1e-12, 0);
        assert_close(fw_unit_nm(FW_UNIT_WAVE, &job->light), 2 * cases[i].fringe_nm, 1e-12, 0);
        assert_string_equal(job->light.source, cases[i].name);
        fw_job_free(job);
    }
}

static void test_units(void **state)
{
    const fw_light none = {"", NAN, 0}, light = {"", 500, 45};
    (void)state;
    assert_close(fw_unit_nm(FW_UNIT_NM, &none), 1, 0, 0);
    assert_close(fw_unit_nm(FW_UNIT_UM, &none), 1000, 0, 0);
    assert_true(isnan(fw_unit_nm(FW_UNIT_FRINGE, &none)));
    assert_true(isnan(fw_unit_nm(FW_UNIT_WAVE, &none)));
    assert_close(fw_unit_nm(FW_UNIT_FRINGE, &light), 500 / sqrt(2), 1e-15, 0); /* closed form */
}

/* The five glasses of the trade have all their values, and a source each. */
static void test_glasses(void **state)
{
    int count;
    const fw_glass *glasses = fw_glasses(&count);
    (void)state;
    assert_int_equal(count, 5);
    for (int i = 0; i < count; i++) {
        assert_true(glasses[i].young_gpa > 60 && glasses[i].young_gpa < 95);
        assert_true(glasses[i].poisson > 0.1 && glasses[i].poisson < 0.3);
        assert_true(glasses[i].density_kg_m3 > 2000 && glasses[i].density_kg_m3 < 3000);
        assert_true(*fw_glass_source(i) != '\0');
    }
    assert_string_equal(fw_glass_source(-1), "");
    assert_string_equal(fw_glass_source(5), "");
}

static void test_wavelength(void **state)
{
    fw_job *job = read_ini(PLAIN_INI "[light]\nwavelength = 0.53 um\n");
    (void)state;
    assert_close(job->light.wavelength_nm, 530, 1e-15, 0);
    assert_string_equal(job->light.source, "");
    fw_job_free(job);
    job = read_ini(PLAIN_INI "[light]\nsource = mercury-green\nwavelength = 546.07 nm\n");
    assert_close(job->light.wavelength_nm, 546.07, 0, 0);
    fw_job_free(job);
    check("[light]\nsource = mercury-green\nwavelength = 632.8 nm\n",
          "job.ini:6:14: wavelength is 632.8 nm, which source 'mercury-green' does not have, "
          "expected 546.074 nm or one of the two keys only\n");
}

static void test_own_glass(void **state)
{
    fw_job *job = read_ini(PLAIN_INI "[flat C]\nyoung = 70\ndensity = 2400 kg/m3\n");
    (void)state;
    assert_string_equal(job->flats[0].glass.name, "");
    assert_string_equal(job->flats[2].glass.name, "own");
    assert_close(job->flats[2].glass.young_gpa, 70, 0, 0);
    assert_close(job->flats[2].glass.density_kg_m3, 2400, 0, 0);
    assert_true(isnan(job->flats[2].glass.poisson));
    fw_job_free(job);
}

static void test_sections_and_keys(void **state)
{
    (void)state;
    check("[ligth]\nsource = x\n",
          "job.ini:4:2: unknown section 'ligth', expected set, target, light, readings, plan, "
          "bench or flat NAME, did you mean 'light'?\n");
    check("[light]\n[light]\n",
          "job.ini:5:2: section [light] stands a second time, first in line 4\n");
    check("[light x]\n",
          "job.ini:4:2: text 'x' in the name of section [light], expected nothing more\n");
    check("bor = 1\n", "job.ini:4:1: unknown key 'bor' in [set], did you mean 'bore'?\n");
    check("  flatness = 1 nm\n",
          "job.ini:4:3: unknown key 'flatness' in [set], it belongs in [target]\n");
    check("[flat B]\ndiameter = 100\n",
          "job.ini:5:1: unknown key 'diameter' in [flat], it belongs in [set]\n");
    check("bore = 1\nbore = 2\n",
          "job.ini:5:1: key 'bore' stands a second time, first in line 4\n");
    check("[flat B]\nbore = 1\n[flat B]\nclear = 5\n",
          "job.ini:6:2: section [flat B] stands a second time, first in line 4\n");
    check("[flat D]\nbore = 1\n", "job.ini:4:2: unknown flat 'D', expected A, B or C\n");
    check("[flat a]\n", "job.ini:4:2: unknown flat 'a', expected A, B or C, did you mean 'A'?\n");
    check("[flat]\n", "job.ini:4:2: section 'flat' names no flat, expected [flat NAME]\n");
    check(
        "bore =\n",
        "job.ini:4:7: key 'bore' has no value, expected a length from 0 to 10 m, such as 30 mm\n");
}

static void test_flats(void **state)
{
    (void)state;
    assert_faults("[set]\nflats = A\ndiameter = 1\n", PLAIN_HEADER,
                  "job.ini:2:9: fewer than two flats, expected two or more names, such as A B C\n");
    assert_faults("[set]\nflats = A B A\ndiameter = 1\n", PLAIN_HEADER,
                  "job.ini:2:13: flat 'A' stands a second time\n");
    assert_faults("[set]\nflats = A B! C/\ndiameter = 1\n", PLAIN_HEADER,
                  "job.ini:2:11: name 'B!' is no name of a flat, expected letters, digits, _ or -, "
                  "at most 40\n"
                  "job.ini:2:14: name 'C/' is no name of a flat, expected letters, digits, _ or -, "
                  "at most 40\n");
    assert_faults("[set]\nflats = A- -B\ndiameter = 1\n", PLAIN_HEADER,
                  "job.ini:2:12: name '-B' begins with -, which a spreadsheet takes for a formula "
                  "and the command line for an option, expected a letter, a digit or _ first\n");
    assert_faults("[set]\n[light]\n", PLAIN_HEADER,
                  "job.ini:1:0: key 'flats' is missing in [set], expected such as A B C\n"
                  "job.ini:1:0: key 'diameter' is missing in [set], expected such as 250 mm\n");
    assert_faults("[light]\n", PLAIN_HEADER,
                  "job.ini:0:0: section [set] is missing, expected it with flats and diameter\n");
}

static void test_values(void **state)
{
    (void)state;
    check("bore = wide\n", "job.ini:4:8: bore 'wide' is not a number, expected a length from 0 to "
                           "10 m, such as 30 mm\n");
    check("bore = 1,5 mm\n",
          "job.ini:4:8: bore '1,5 mm' has a comma where a decimal point belongs, "
          "expected a length from 0 to 10 m, such as 30 mm\n");
    check("bore = 1 ft\n", "job.ini:4:8: bore '1 ft' has the unknown unit 'ft', expected a length "
                           "from 0 to 10 m, such as 30 mm\n");
    check("bore = -1\n",
          "job.ini:4:8: bore '-1' is out of range, expected a length from 0 to 10 m, "
          "such as 30 mm\n");
    check("bore = nan\n",
          "job.ini:4:8: bore 'nan' is not a finite number, expected a length from 0 "
          "to 10 m, such as 30 mm\n");
    check("bore = 1e999 mm\n", "job.ini:4:8: bore '1e999 mm' is too large for a number, expected a "
                               "length from 0 to 10 m, such as 30 mm\n");
    check("bore = 0x10\n",
          "job.ini:4:8: bore '0x10' is not a decimal number, expected a length from "
          "0 to 10 m, such as 30 mm\n");
    check("thickness = 0 mm\n", "job.ini:4:13: thickness '0 mm' is out of range, expected a length "
                                "above 0 up to 10 m, such as 40 mm\n");
    check("glass = fused-silca\n",
          "job.ini:4:9: glass 'fused-silca' is not known, expected borosilicate, fused-silica, "
          "borosilicate-crown, soda-lime or glass-ceramic, did you mean 'fused-silica'?\n");
    check("poisson = 0.5\n",
          "job.ini:4:11: poisson '0.5' is out of range, expected a number from 0 "
          "to less than 0.5\n");
    check("title = \xE9tude\n",
          "job.ini:4:9: title '\\xe9tude' is not UTF-8, expected UTF-8 text\n");
    check("[target]\nflatness = 10\nconfidence = 1\nmeasure = PV\n",
          "job.ini:5:12: flatness '10' has no unit, expected a height above 0 in nm, um, fringe or "
          "wave, such as 10 nm\n"
          "job.ini:6:14: confidence '1' is out of range, expected a probability between 0.5 and 1, "
          "such as 0.95\n"
          "job.ini:7:11: measure 'PV' is not known, expected pv, rms or irregularity, did you mean "
          "'pv'?\n");
    check("[light]\nsource = led\nwavelength = 546\nincidence = 90 deg\n",
          "job.ini:5:10: source 'led' is not known, expected mercury-green, mercury-blue, "
          "helium-yellow, sodium, hene-red or cadmium-red, or a wavelength instead\n"
          "job.ini:6:14: wavelength '546' has no unit, expected a wavelength from 100 nm to 20 um, "
          "such as 546.07 nm\n"
          "job.ini:7:13: incidence '90 deg' is out of range, expected an angle from 0 to less than "
          "90 deg\n");
    check("[readings]\norder = 41\nsigma = 0\nlevelling = plane\nmodel = zernike\n",
          "job.ini:5:9: order '41' is out of range, expected a whole number from 1 to 40\n"
          "job.ini:6:9: sigma '0' is out of range, expected a number above 0, in the unit of the "
          "readings\n"
          "job.ini:7:13: levelling 'plane' is not known, expected scan or setup\n"
          "job.ini:8:9: model 'zernike' is not known, expected auto, profile or surface\n");
    check("[readings]\norder = 2.5\n",
          "job.ini:5:9: order '2.5' is not a whole number, expected a whole number from 1 to 40\n");
    check(
        "[plan]\nturns = 0 45x 90\nprior = 1000\n",
        "job.ini:5:9: turns '0 45x 90' has text after the number, expected angles in degrees, such "
        "as 0 45 90 180\n"
        "job.ini:6:9: prior '1000' has no unit, expected a height from 0.001 nm to 1 mm in nm or um, "
        "such as 1000 nm\n");
    check(
        "[plan]\nturns = 0 inf\n",
        "job.ini:5:9: turns '0 inf' is not a finite number, expected angles in degrees, such as 0 "
        "45 90 180\n");
}

static void test_zones(void **state)
{
    (void)state;
    check("clear = 210 mm\n",
          "job.ini:4:9: clear is 210 mm, expected at most the diameter, 200 mm\n");
    check("clear = 100\nbore = 100\n",
          "job.ini:5:8: bore is 100 mm, expected less than the clear aperture, 100 mm\n");
    check("bore = 50\n[flat B]\nclear = 40\n",
          "job.ini:6:9: bore is 50 mm, expected less than the clear aperture, 40 mm\n");
    check("clear = 100\n[flat B]\nbore = 120\n[flat C]\nclear = 201\n",
          "job.ini:6:8: bore is 120 mm, expected less than the clear aperture, 100 mm\n"
          "job.ini:8:9: clear is 201 mm, expected at most the diameter, 200 mm\n");
}

static void test_light_needed(void **state)
{
    (void)state;
    check("[readings]\nunit = fringe\nsigma = 0.02\n",
          "job.ini:5:8: unit 'fringe' needs a light, expected source or wavelength in [light]\n");
    check("[target]\nflatness = 0.1 wave\n",
          "job.ini:5:12: unit 'wave' needs a light, expected source or wavelength in [light]\n");
    check("[light]\nsource = sodum\n[readings]\nunit = fringe\n", /* one cause, one fault */
          "job.ini:5:10: source 'sodum' is not known, expected mercury-green, mercury-blue, "
          "helium-yellow, sodium, hene-red or cadmium-red, or a wavelength instead, did you mean "
          "'sodium'?\n");
    check("[target]\nflatness = 1e9 um\n",
          "job.ini:5:12: flatness is 1000000000000 nm, expected 1e-9 nm to 10 mm\n");
}

static void test_bench(void **state)
{
    (void)state;
    check("[bench]\nsupport_bottom = ring\nsupport_top = ring 82 kg\n",
          "job.ini:5:18: support_bottom 'ring' is incomplete, expected rim, ring RADIUS or three "
          "RADIUS "
          "ANGLE, such as ring 82 mm\n"
          "job.ini:6:15: support_top 'ring 82 kg' has the unknown unit 'kg', expected rim, ring "
          "RADIUS or three RADIUS ANGLE, such as three 78 mm 30\n");
    check("[bench]\nsupport_bottom = rings 82 mm\nsupport_top = three 78 mm 30 40\n",
          "job.ini:5:18: support_bottom 'rings 82 mm' is not known, expected rim, ring RADIUS or "
          "three RADIUS ANGLE, such as ring 82 mm, did you mean 'ring'?\n"
          "job.ini:6:15: support_top 'three 78 mm 30 40' has text after the support, expected rim, "
          "ring RADIUS or three RADIUS ANGLE, such as three 78 mm 30\n");
    check("[bench]\nsupport_bottom = ring 101\n",
          "job.ini:5:18: radius is 101 mm, outside the flat, expected at most 100 mm\n");
    check("[bench]\nsupport_bottom = ring 10\n[flat B]\nbore = 30\n",
          "job.ini:5:18: radius is 10 mm, in the bore, expected at least 15 mm\n");
    check("[bench]\nsupport_bottom = rim 5\n",
          "job.ini:5:18: support_bottom 'rim 5' has text after the support, expected rim, ring "
          "RADIUS or three RADIUS ANGLE, such as ring 82 mm\n");
    check("[bench]\ngap = 10 um\n",
          "job.ini:5:7: gap stands without eye, expected both or neither\n");
    check("[bench]\neye = 2 m\n",
          "job.ini:5:7: eye stands without gap, expected both or neither\n");
    check("[bench]\ngap = 10\neye = 2 m\n",
          "job.ini:5:7: gap '10' has no unit, expected a gap above 0 up to 10 mm in um, nm or mm, "
          "such as 10 um\n");
    check("[bench]\ngradient = -1 K\nbending = plate\n",
          "job.ini:5:12: gradient '-1 K' is out of range, expected a temperature difference from 0 "
          "to 100 K\n"
          "job.ini:6:11: bending 'plate' is not known, expected correct, solve or ignore\n");
}

static void test_title(void **state)
{
    fw_job *job = read_ini(PLAIN_INI "title = \"Trio #2 ; the large one\" ; invented\n");
    (void)state;
    assert_string_equal(job->title, "Trio #2 ; the large one");
    fw_job_free(job);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_defaults),  cmocka_unit_test(test_full),
        cmocka_unit_test(test_lamps),     cmocka_unit_test(test_units),
        cmocka_unit_test(test_glasses),   cmocka_unit_test(test_wavelength),
        cmocka_unit_test(test_own_glass), cmocka_unit_test(test_sections_and_keys),
        cmocka_unit_test(test_flats),     cmocka_unit_test(test_values),
        cmocka_unit_test(test_zones),     cmocka_unit_test(test_light_needed),
        cmocka_unit_test(test_bench),     cmocka_unit_test(test_title)};
    return cmocka_run_group_tests_name("settings", tests, NULL, NULL);
}
