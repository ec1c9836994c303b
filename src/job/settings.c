/* settings.c - job.ini: every key is a row of a table; a new key is a new row. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/nearest.h"
#include "flatwright/show.h"
#include "job/parts.h"
#include "job/settings.h"

static const fw_suffix lengths[] = {{"", 1},     {"mm", 1},    {"cm", 10},
                                    {"m", 1000}, {"in", 25.4}, {NULL, 0}};
static const fw_suffix small_lengths[] = {{"um", 1},     {"\xC2\xB5m", 1}, {"\xCE\xBCm", 1},
                                          {"nm", 0.001}, {"mm", 1000},     {NULL, 0}};
static const fw_suffix heights[] = {{"nm", 1}, {"um", 1000}, {"\xC2\xB5m", 1000},
                                    {"\xCE\xBCm", 1000}, {NULL, 0}};
static const fw_suffix angles[] = {{"", 1}, {"deg", 1}, {"\xC2\xB0", 1}, {NULL, 0}};
static const fw_suffix kelvins[] = {{"", 1}, {"K", 1}, {NULL, 0}};
static const fw_suffix none[] = {{"", 1}, {NULL, 0}};
static const fw_suffix gpa[] = {{"", 1}, {"GPa", 1}, {NULL, 0}};
static const fw_suffix densities[] = {{"", 1}, {"kg/m3", 1}, {NULL, 0}};
static const fw_suffix expansions[] = {{"", 1}, {"1e-6/K", 1}, {NULL, 0}};
static const fw_suffix conductivities[] = {{"", 1}, {"W/mK", 1}, {NULL, 0}};
static const fw_suffix heats[] = {{"", 1}, {"J/kgK", 1}, {NULL, 0}};

/* In the order of the enums. */
static const char *const measures[] = {"pv", "rms", "irregularity", NULL};
static const char *const units[] = {"nm", "um", "fringe", "wave", NULL};
static const char *const levellings[] = {"scan", "setup", NULL};
static const char *const models[] = {"auto", "profile", "surface", NULL};
static const char *const bendings[] = {"correct", "solve", "ignore", NULL};

#define JOB(field) offsetof(fw_draft_job, field)
#define FLAT(field) offsetof(fw_draft_flat, field)
#define QUANTITY fw_convert_quantity

static const fw_setting flat_keys[FW_FLAT_KEYS] = {
    [FW_KEY_CLEAR] = {"flat", "clear", QUANTITY, FLAT(clear_mm),
        "a length above 0 up to 10 m, such as 240 mm", 0, 1e4, true, false, lengths, NULL},
    [FW_KEY_BORE] = {"flat", "bore", QUANTITY, FLAT(bore_mm),
        "a length from 0 to 10 m, such as 30 mm", 0, 1e4, false, false, lengths, NULL},
    [FW_KEY_THICKNESS] = {"flat", "thickness", QUANTITY, FLAT(thickness_mm),
        "a length above 0 up to 10 m, such as 40 mm", 0, 1e4, true, false, lengths, NULL},
    [FW_KEY_GLASS] = {"flat", "glass", fw_convert_glass, FLAT(glass),
        "borosilicate, fused-silica, borosilicate-crown, soda-lime or glass-ceramic",
        0, 0, false, false, NULL, NULL},
    [FW_KEY_YOUNG] = {"flat", "young", QUANTITY, FLAT(young),
        "a modulus above 0 up to 2000 GPa", 0, 2000, true, false, gpa, NULL},
    [FW_KEY_POISSON] = {"flat", "poisson", QUANTITY, FLAT(poisson),
        "a number from 0 to less than 0.5", 0, 0.5, false, true, none, NULL},
    [FW_KEY_DENSITY] = {"flat", "density", QUANTITY, FLAT(density),
        "a density above 0 up to 30000 kg/m3", 0, 30000, true, false, densities, NULL},
    [FW_KEY_EXPANSION] = {"flat", "expansion", QUANTITY, FLAT(expansion),
        "an expansion from -100 to 100, in 1e-6/K", -100, 100, false, false, expansions, NULL},
    [FW_KEY_CONDUCTIVITY] = {"flat", "conductivity", QUANTITY, FLAT(conductivity),
        "a conductivity above 0 up to 5000 W/mK", 0, 5000, true, false, conductivities, NULL},
    [FW_KEY_HEAT] = {"flat", "heat", QUANTITY, FLAT(heat),
        "a specific heat above 0 up to 20000 J/kgK", 0, 20000, true, false, heats, NULL},
};

static const fw_setting job_keys[FW_JOB_KEYS] = {
    [FW_KEY_TITLE] = {"set", "title", fw_convert_text, JOB(title),
        "UTF-8 text", 0, 0, false, false, NULL, NULL},
    [FW_KEY_FLATS] = {"set", "flats", NULL, 0,
        "two or more names, such as A B C", 0, 0, false, false, NULL, NULL},
    [FW_KEY_DIAMETER] = {"set", "diameter", QUANTITY, JOB(diameter_mm),
        "a length above 0 up to 10 m, such as 250 mm", 0, 1e4, true, false, lengths, NULL},
    [FW_KEY_FLATNESS] = {"target", "flatness", fw_convert_amount, JOB(flatness),
        "a height above 0 in nm, um, fringe or wave, such as 10 nm", 0, 0, true, false, NULL, NULL},
    [FW_KEY_MEASURE] = {"target", "measure", fw_convert_word, JOB(measure),
        "pv, rms or irregularity", 0, 0, false, false, NULL, measures},
    [FW_KEY_CONFIDENCE] = {"target", "confidence", QUANTITY, JOB(confidence),
        "a probability between 0.5 and 1, such as 0.95", 0.5, 1, true, true, none, NULL},
    [FW_KEY_SOURCE] = {"light", "source", fw_convert_lamp, JOB(lamp),
        "mercury-green, mercury-blue, helium-yellow, sodium, hene-red or cadmium-red, or a "
        "wavelength instead", 0, 0, false, false, NULL, NULL},
    [FW_KEY_WAVELENGTH] = {"light", "wavelength", QUANTITY, JOB(wavelength_nm),
        "a wavelength from 100 nm to 20 um, such as 546.07 nm", 100, 20000, false, false, heights,
        NULL},
    [FW_KEY_INCIDENCE] = {"light", "incidence", QUANTITY, JOB(incidence_deg),
        "an angle from 0 to less than 90 deg", 0, 90, false, true, angles, NULL},
    [FW_KEY_UNIT] = {"readings", "unit", fw_convert_word, JOB(unit),
        "nm, um, fringe or wave", 0, 0, false, false, NULL, units},
    [FW_KEY_SIGMA] = {"readings", "sigma", QUANTITY, JOB(sigma),
        "a number above 0, in the unit of the readings", 0, 1e300, true, false, none, NULL},
    [FW_KEY_LEVELLING] = {"readings", "levelling", fw_convert_word, JOB(levelling),
        "scan or setup", 0, 0, false, false, NULL, levellings},
    [FW_KEY_MODEL] = {"readings", "model", fw_convert_word, JOB(model),
        "auto, profile or surface", 0, 0, false, false, NULL, models},
    [FW_KEY_ORDER] = {"readings", "order", fw_convert_whole, JOB(order),
        "a whole number from 1 to 40", 1, 40, false, false, NULL, NULL},
    [FW_KEY_TURNS] = {"plan", "turns", fw_convert_turns, JOB(turns),
        "angles in degrees, such as 0 45 90 180", 0, 0, false, false, NULL, NULL},
    [FW_KEY_PRIOR] = {"plan", "prior", QUANTITY, JOB(prior_nm),
        "a height from 0.001 nm to 1 mm in nm or um, such as 1000 nm", 1e-3, 1e6, false, false,
        heights, NULL},
    [FW_KEY_SUPPORT_BOTTOM] = {"bench", "support_bottom", fw_convert_support, JOB(support_bottom),
        "rim, ring RADIUS or three RADIUS ANGLE, such as ring 82 mm", 0, 1e4, true, false, lengths,
        NULL},
    [FW_KEY_SUPPORT_TOP] = {"bench", "support_top", fw_convert_support, JOB(support_top),
        "rim, ring RADIUS or three RADIUS ANGLE, such as three 78 mm 30", 0, 1e4, true, false,
        lengths, NULL},
    [FW_KEY_BENDING] = {"bench", "bending", fw_convert_word, JOB(bending),
        "correct, solve or ignore", 0, 0, false, false, NULL, bendings},
    [FW_KEY_GRADIENT] = {"bench", "gradient", QUANTITY, JOB(gradient_k),
        "a temperature difference from 0 to 100 K", 0, 100, false, false, kelvins, NULL},
    [FW_KEY_GAP] = {"bench", "gap", QUANTITY, JOB(gap_um),
        "a gap above 0 up to 10 mm in um, nm or mm, such as 10 um", 0, 1e4, true, false,
        small_lengths, NULL},
    [FW_KEY_EYE] = {"bench", "eye", QUANTITY, JOB(eye_mm),
        "a distance above 0 up to 1 km, such as 2 m", 0, 1e6, true, false, lengths, NULL},
};

static const char *const sections[] = {"set",  "target", "light", "readings",
                                       "plan", "bench",  "flat"};
#define NSECTIONS (sizeof sections / sizeof sections[0])
#define IN_FLAT 6

/* What a section of the file is. */
typedef struct heading {
    int kind;            /* index into sections; -1: unknown, its keys are passed over */
    fw_draft_flat *flat; /* of [flat NAME] */
} heading;

static int kind_of(const char *name)
{
    for (size_t i = 0; i < NSECTIONS; i++)
        if (strcmp(sections[i], name) == 0)
            return (int)i;
    return -1;
}

static void report_section(fw_draft_job *draft, const fw_ini_section *section)
{
    char quoted[FW_QUOTED], suggestion[FW_SUGGESTION];
    fw_nearest nearest = fw_nearest_start(section->name);
    for (size_t i = 0; i < NSECTIONS; i++)
        fw_nearest_offer(&nearest, sections[i]);
    fw_fault_add(draft->faults, draft->path, section->line, section->column,
                 "unknown section %s, expected set, target, light, readings, plan, bench or "
                 "flat NAME%s", fw_show_quoted(quoted, section->name),
                 fw_nearest_text(&nearest, suggestion));
}

/* The flat that a [flat NAME] speaks of; one that is not known is reported. */
static fw_draft_flat *flat_of(fw_draft_job *draft, const fw_ini_section *section)
{
    char quoted[FW_QUOTED], suggestion[FW_SUGGESTION], known[FW_FLATS_TEXT];
    const fw_job *job = draft->job;
    fw_nearest nearest = fw_nearest_start(section->argument);
    for (int i = 0; i < job->nflats; i++) {
        if (strcmp(job->flats[i].name, section->argument) == 0)
            return &draft->own[i];
        fw_nearest_offer(&nearest, job->flats[i].name);
    }
    if (*section->argument == '\0')
        fw_fault_add(draft->faults, draft->path, section->line, section->column,
                     "section 'flat' names no flat, expected [flat NAME]");
    else if (job->nflats > 0)
        fw_fault_add(draft->faults, draft->path, section->line, section->column,
                     "unknown flat %s%s%s", fw_show_quoted(quoted, section->argument),
                     fw_flats_text(job, known), fw_nearest_text(&nearest, suggestion));
    return &draft->nobody;
}

/* Says what a section is, and reports it when it is unknown or stands twice. */
static heading read_heading(fw_draft_job *draft, const fw_ini_section *section, int *first)
{
    char quoted[FW_QUOTED];
    heading h = {kind_of(section->name), NULL};
    if (h.kind < 0) {
        report_section(draft, section);
        return h;
    }
    int *line = &first[h.kind];
    if (h.kind == IN_FLAT) {
        h.flat = flat_of(draft, section);
        line = &h.flat->line;
    } else if (*section->argument)
        fw_fault_add(draft->faults, draft->path, section->line, section->column,
                     "text %s in the name of section [%s], expected nothing more",
                     fw_show_quoted(quoted, section->argument), section->name);
    if (*line == 0)
        *line = section->line;
    else if (h.flat != &draft->nobody)
        fw_fault_add(draft->faults, draft->path, section->line, section->column,
                     "section [%s%s%s] stands a second time, first in line %d", section->name,
                     *section->argument ? " " : "", section->argument, *line);
    return h;
}

/* The k-th key that a section of this kind takes; NULL behind the last. */
static const char *key_of(int kind, int k)
{
    for (int i = 0; i < FW_JOB_KEYS; i++)
        if (strcmp(job_keys[i].section, sections[kind]) == 0 && k-- == 0)
            return job_keys[i].key;
    bool flats = kind == 0 || kind == IN_FLAT;
    return flats && k < FW_FLAT_KEYS ? flat_keys[k].key : NULL;
}

/* Reports a key that its section does not have: it may belong to another, or be mistyped. */
static void report_key(fw_draft_job *draft, int kind, const fw_ini_entry *entry)
{
    char quoted[FW_QUOTED], suggestion[300];
    const char *home = NULL, *key;
    size_t filled = 0;
    fw_nearest nearest = fw_nearest_start(entry->key);
    for (int k = 0; (key = key_of(kind, k)) != NULL; k++)
        fw_nearest_offer(&nearest, key);
    for (int i = 0; i < (int)NSECTIONS; i++)
        for (int k = 0; !home && (key = key_of(i, k)) != NULL; k++)
            if (strcmp(key, entry->key) == 0)
                home = sections[i];
    fw_nearest_text(&nearest, suggestion);
    if (home)
        snprintf(suggestion, sizeof suggestion, ", it belongs in [%s]", home);
    else if (!nearest.name)
        for (int k = 0; (key = key_of(kind, k)) != NULL && filled < sizeof suggestion; k++)
            filled += (size_t)snprintf(suggestion + filled, sizeof suggestion - filled, "%s%s",
                                       k ? ", " : ", expected ", key);
    fw_fault_add(draft->faults, draft->path, entry->line, entry->key_column,
                 "unknown key %s in [%s]%s", fw_show_quoted(quoted, entry->key), sections[kind],
                 suggestion);
}

/* The row of the table for a key; *target and *at: where its value and its place go. */
static const fw_setting *find_key(fw_draft_job *draft, const heading *h, const char *key,
                                  void **target, const fw_ini_entry ***at)
{
    fw_draft_flat *flat = h->kind == 0 ? &draft->set : h->flat;
    for (int k = 0; k < FW_JOB_KEYS; k++)
        if (strcmp(job_keys[k].key, key) == 0 &&
            strcmp(job_keys[k].section, sections[h->kind]) == 0) {
            *target = (char *)draft + job_keys[k].offset;
            *at = &draft->at[k];
            return &job_keys[k];
        }
    for (int k = 0; flat && k < FW_FLAT_KEYS; k++)
        if (strcmp(flat_keys[k].key, key) == 0) {
            *target = (char *)flat + flat_keys[k].offset;
            *at = &flat->at[k];
            return &flat_keys[k];
        }
    return NULL;
}

/* Takes one line; -1: no memory. */
static int read_entry(fw_draft_job *draft, const heading *h, const fw_ini_entry *entry)
{
    void *target = NULL;
    const fw_ini_entry **at = NULL;
    if (h->kind < 0)
        return 0;
    const fw_setting *setting = find_key(draft, h, entry->key, &target, &at);
    if (!setting) {
        report_key(draft, h->kind, entry);
        return 0;
    }
    if (*at) {
        if (h->flat != &draft->nobody)
            fw_fault_add(draft->faults, draft->path, entry->line, entry->key_column,
                         "key '%s' stands a second time, first in line %d", entry->key,
                         (*at)->line);
        return 0;
    }
    *at = entry;
    fw_place place = {draft->faults, draft->path, entry};
    if (*entry->value == '\0' && setting->convert != fw_convert_text) {
        fw_fault_add(draft->faults, draft->path, entry->line, entry->column,
                     "key '%s' has no value, expected %s", entry->key, setting->expected);
        return 0;
    }
    if (!setting->convert) /* the flats: read before */
        return 0;
    return setting->convert(&place, setting, target);
}

/* The flats come first: other sections speak of them. */
static int read_flats(fw_draft_job *draft, const fw_ini *ini)
{
    for (size_t i = 0; i < ini->nentries; i++) {
        const fw_ini_entry *entry = &ini->entries[i];
        if (strcmp(entry->key, "flats") == 0 && *entry->value &&
            strcmp(ini->sections[entry->section].name, "set") == 0)
            return fw_settings_flats(draft, entry);
    }
    return 0;
}

static int read_all(fw_draft_job *draft, const fw_ini *ini)
{
    int first[NSECTIONS] = {0};
    heading h = {-1, NULL};
    size_t next = 0; /* section to come */
    for (size_t i = 0; i <= ini->nentries; i++) {
        size_t last = i < ini->nentries ? ini->entries[i].section + 1 : ini->nsections;
        while (next < last)
            h = read_heading(draft, &ini->sections[next++], first);
        if (i == ini->nentries)
            break;
        size_t before = draft->faults->count;
        if (read_entry(draft, &h, &ini->entries[i]) < 0)
            return -1;
        if (h.kind == 2 && draft->faults->count > before)
            draft->light_at_fault = true;
    }
    draft->set_line = first[0];
    return 0;
}

fw_status fw_settings_read(const char *path, fw_job *job, bool *light_at_fault, fw_faults *faults,
                           fw_error *err)
{
    fw_ini ini;
    fw_draft_job draft = {
        .job = job, .faults = faults, .path = path, .title = "", .diameter_mm = NAN,
        .confidence = 0.95, .wavelength_nm = NAN, .sigma = NAN, .prior_nm = 1000,
        .gradient_k = NAN, .gap_um = NAN, .eye_mm = NAN, .flatness = {10, FW_UNIT_NM},
        .unit = FW_UNIT_NM, .support_bottom = {.radius_mm = NAN}, .support_top = {.radius_mm = NAN},
        .set = fw_draft_flat_empty(), .nobody = fw_draft_flat_empty()};
    fw_status status = fw_ini_read(path, &ini, faults, err);
    if (status != FW_OK || ini.nsections == 0) {
        *light_at_fault = true; /* nothing is known of it */
        goto done;
    }
    status = FW_SYSTEM;
    if (read_flats(&draft, &ini) < 0)
        goto no_memory;
    draft.own = fw_alloc((size_t)job->nflats, sizeof *draft.own);
    if (!draft.own)
        goto no_memory;
    for (int i = 0; i < job->nflats; i++)
        draft.own[i] = fw_draft_flat_empty();
    if (read_all(&draft, &ini) < 0)
        goto no_memory;
    *light_at_fault = draft.light_at_fault;
    status = fw_settings_finish(&draft, err);
    goto done;
no_memory:
    fw_fail(err, FW_SYSTEM, "no memory for '%s'", path);
done:
    fw_free(draft.own);
    fw_free(draft.turns.list);
    fw_ini_release(&ini);
    return status;
}
