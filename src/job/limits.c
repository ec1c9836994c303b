/* limits.c - what one key of job.ini cannot tell alone: names, zones, light, supports. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/nearest.h"
#include "flatwright/show.h"
#include "job/parts.h"
#include "job/settings.h"

#define FLATS_LIMIT 100
#define NAME_LIMIT 40
#define NM_LIMIT 1e7
/* A lamp's line and a wavelength typed beside it may differ by rounding, not by the line. */
#define SAME_LINE_NM 0.1

static void report(fw_draft_job *draft, const fw_ini_entry *entry, const char *text)
{
    fw_fault_add(draft->faults, draft->path, entry->line, entry->column, "%s", text);
}

static bool is_name_letter(char c)
{
    return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') ||
           c == '_' || c == '-';
}

/* Checks the name of `length` bytes at the value's `offset`, and that no flat has it yet. */
static bool check_name(fw_draft_job *draft, const fw_ini_entry *entry, size_t offset, size_t length)
{
    char name[NAME_LIMIT + 2], quoted[FW_QUOTED];
    int column = entry->column + (int)offset;
    size_t kept = length < sizeof name ? length : sizeof name - 1;
    memcpy(name, entry->value + offset, kept);
    name[kept] = '\0';
    fw_show_quoted(quoted, name);
    bool good = length <= NAME_LIMIT;
    for (size_t i = 0; i < length; i++)
        good &= is_name_letter(entry->value[offset + i]);
    if (!good) {
        fw_fault_add(draft->faults, draft->path, entry->line, column,
                     "name %s is no name of a flat, expected letters, digits, _ or -, at most %d",
                     quoted, NAME_LIMIT);
        return false;
    }
    if (name[0] == '-') {
        fw_fault_add(draft->faults, draft->path, entry->line, column,
                     "name %s begins with -, which a spreadsheet takes for a formula and the "
                     "command line for an option, expected a letter, a digit or _ first",
                     quoted);
        return false;
    }
    for (int i = 0; i < draft->job->nflats; i++)
        if (strcmp(draft->job->flats[i].name, name) == 0) {
            fw_fault_add(draft->faults, draft->path, entry->line, column,
                         "flat %s stands a second time", quoted);
            return false;
        }
    return true;
}

static int add_flat(fw_job *job, const char *name, size_t length)
{
    char *copy = fw_alloc(length + 1, 1);
    if (!copy)
        return -1;
    memcpy(copy, name, length);
    job->flats[job->nflats++].name = copy;
    return 0;
}

static void drop_flats(fw_job *job)
{
    for (int i = 0; i < job->nflats; i++)
        fw_free(job->flats[i].name);
    job->nflats = 0;
}

int fw_settings_flats(fw_draft_job *draft, const fw_ini_entry *entry)
{
    fw_job *job = draft->job;
    const char *text = entry->value;
    size_t found = draft->faults->count, at = 0;
    job->flats = fw_alloc(FLATS_LIMIT, sizeof *job->flats);
    if (!job->flats)
        return -1;
    while (text[at += strspn(text + at, " \t,")]) {
        size_t length = strcspn(text + at, " \t,");
        if (job->nflats == FLATS_LIMIT) {
            report(draft, entry, "more than 100 flats");
            break;
        }
        if (check_name(draft, entry, at, length) && add_flat(job, text + at, length) < 0)
            return -1;
        at += length;
    }
    if (draft->faults->count == found && job->nflats < 2)
        report(draft, entry, "fewer than two flats, expected two or more names, such as A B C");
    if (draft->faults->count > found)
        drop_flats(job);
    return 0;
}

static void check_required(fw_draft_job *draft)
{
    if (draft->set_line == 0)
        fw_fault_add(draft->faults, draft->path, 0, 0,
                     "section [set] is missing, expected it with flats and diameter");
    else {
        if (!draft->at[FW_KEY_FLATS])
            fw_fault_add(draft->faults, draft->path, draft->set_line, 0,
                         "key 'flats' is missing in [set], expected such as A B C");
        if (!draft->at[FW_KEY_DIAMETER])
            fw_fault_add(draft->faults, draft->path, draft->set_line, 0,
                         "key 'diameter' is missing in [set], expected such as 250 mm");
    }
}

static void finish_light(fw_draft_job *draft)
{
    char text[160];
    fw_light *light = &draft->job->light;
    light->wavelength_nm = draft->lamp ? draft->lamp->wavelength_nm : draft->wavelength_nm;
    light->incidence_deg = draft->incidence_deg;
    if (draft->lamp)
        snprintf(light->source, sizeof light->source, "%s", draft->lamp->name);
    if (!draft->lamp || isnan(draft->wavelength_nm))
        return;
    if (fabs(draft->lamp->wavelength_nm - draft->wavelength_nm) > SAME_LINE_NM) {
        snprintf(text, sizeof text,
                 "wavelength is %.15g nm, which source '%s' does not have, expected %.15g nm or "
                 "one of the two keys only",
                 draft->wavelength_nm, draft->lamp->name, draft->lamp->wavelength_nm);
        report(draft, draft->at[FW_KEY_WAVELENGTH], text);
        draft->light_at_fault = true;
    }
    light->wavelength_nm = draft->wavelength_nm;
}

/* A height given in `unit`, in nm; reported when it is out of range or the unit needs a light. */
static double height_nm(fw_draft_job *draft, int key, double value, fw_unit unit)
{
    char text[120];
    const fw_ini_entry *entry = draft->at[key];
    double height = value * fw_unit_nm(unit, &draft->job->light);
    if (!entry || draft->light_at_fault)
        return height;
    if (isnan(height) && !isnan(value)) {
        snprintf(text, sizeof text,
                 "unit '%s' needs a light, expected source or wavelength in [light]",
                 fw_unit_names[unit]);
        report(draft, entry, text);
    } else if (height > NM_LIMIT || height < 1e-9) {
        snprintf(text, sizeof text, "%s is %.15g nm, expected 1e-9 nm to 10 mm", entry->key,
                 height);
        report(draft, entry, text);
    }
    return height;
}

static void finish_readings(fw_draft_job *draft)
{
    fw_job *job = draft->job;
    job->unit = (fw_unit)draft->unit;
    job->flatness_nm = height_nm(draft, FW_KEY_FLATNESS, draft->flatness.value,
                                 draft->flatness.unit);
    const fw_ini_entry *sigma = draft->at[FW_KEY_SIGMA];
    double unit_nm = fw_unit_nm(job->unit, &job->light);
    if (isnan(unit_nm) && draft->at[FW_KEY_UNIT]) /* said of the unit, not of its sigma as well */
        height_nm(draft, FW_KEY_UNIT, 1, job->unit);
    else if (sigma)
        job->sigma_nm = height_nm(draft, FW_KEY_SIGMA, draft->sigma, job->unit);
}

fw_draft_flat fw_draft_flat_empty(void)
{
    return (fw_draft_flat){.clear_mm = NAN, .bore_mm = NAN, .thickness_mm = NAN, .young = NAN,
                           .poisson = NAN, .density = NAN, .expansion = NAN, .conductivity = NAN,
                           .heat = NAN};
}

/* The entry that decides a key of a flat: its own, else the set's; NULL: neither. */
static const fw_ini_entry *entry_of(const fw_draft_job *draft, const fw_draft_flat *own, int key)
{
    return own->at[key] ? own->at[key] : draft->set.at[key];
}

/* bore < clear <= diameter; said where the narrower statement stands. */
static void check_zones(fw_draft_job *draft, const fw_draft_flat *own, const fw_flat *flat)
{
    char text[160];
    const fw_ini_entry *clear = entry_of(draft, own, FW_KEY_CLEAR);
    const fw_ini_entry *bore = entry_of(draft, own, FW_KEY_BORE);
    if (clear && flat->clear_mm > flat->diameter_mm + FW_EDGE_MM) {
        snprintf(text, sizeof text, "clear is %.15g mm, expected at most the diameter, %.15g mm",
                 flat->clear_mm, flat->diameter_mm);
        report(draft, clear, text);
    }
    if (bore && flat->bore_mm >= flat->clear_mm) {
        bool of_clear = own->at[FW_KEY_CLEAR] && !own->at[FW_KEY_BORE];
        snprintf(text, sizeof text,
                 "bore is %.15g mm, expected less than the clear aperture, %.15g mm",
                 flat->bore_mm, flat->clear_mm);
        report(draft, of_clear ? clear : bore, text);
    }
}

static double first_known(double a, double b)
{
    return isnan(a) ? b : a;
}

static void override_glass(fw_glass *glass, const fw_draft_flat *keys)
{
    double *const to[] = {&glass->young_gpa,         &glass->poisson,
                          &glass->density_kg_m3,     &glass->expansion_1e6_k,
                          &glass->conductivity_w_mk, &glass->heat_j_kgk};
    const double from[] = {keys->young,     keys->poisson,      keys->density,
                           keys->expansion, keys->conductivity, keys->heat};
    bool any = false;
    for (int i = 0; i < 6; i++)
        if (!isnan(from[i])) {
            *to[i] = from[i];
            any = true;
        }
    if (any && glass->name[0] == '\0')
        snprintf(glass->name, sizeof glass->name, "own");
}

/* A flat's own glass is taken as it is known: what [set] says is of the set's glass, not of it. */
static fw_glass glass_of(const fw_draft_flat *set, const fw_draft_flat *own)
{
    fw_glass glass = {"", NAN, NAN, NAN, NAN, NAN, NAN};
    if (own->glass)
        glass = *own->glass;
    else {
        if (set->glass)
            glass = *set->glass;
        override_glass(&glass, set);
    }
    override_glass(&glass, own);
    return glass;
}

static void fill_flat(const fw_draft_job *draft, const fw_draft_flat *own, fw_flat *flat)
{
    const fw_draft_flat *set = &draft->set;
    flat->diameter_mm = draft->diameter_mm;
    flat->clear_mm = first_known(first_known(own->clear_mm, set->clear_mm), draft->diameter_mm);
    flat->bore_mm = first_known(first_known(own->bore_mm, set->bore_mm), 0);
    flat->thickness_mm = first_known(own->thickness_mm, set->thickness_mm);
    flat->glass = glass_of(set, own);
}

static void finish_flats(fw_draft_job *draft)
{
    fw_job *job = draft->job;
    fw_flat common;
    const fw_draft_flat nothing = fw_draft_flat_empty();
    fill_flat(draft, &nothing, &common);
    check_zones(draft, &nothing, &common);
    for (int i = 0; i < job->nflats; i++) {
        const fw_draft_flat *own = &draft->own[i];
        fill_flat(draft, own, &job->flats[i]);
        if (own->at[FW_KEY_CLEAR] || own->at[FW_KEY_BORE])
            check_zones(draft, own, &job->flats[i]);
    }
}

/* A support stands under glass: inside the rim, outside the largest bore. */
static void check_support(fw_draft_job *draft, int key, const fw_support *support)
{
    char text[160];
    double radius = draft->diameter_mm / 2, bore = 0;
    for (int i = 0; i < draft->job->nflats; i++)
        bore = fmax(bore, draft->job->flats[i].bore_mm / 2);
    if (!draft->at[key])
        return;
    if (support->radius_mm > radius + FW_EDGE_MM)
        snprintf(text, sizeof text,
                 "radius is %.15g mm, outside the flat, expected at most %.15g mm",
                 support->radius_mm, radius);
    else if (support->radius_mm < bore - FW_EDGE_MM)
        snprintf(text, sizeof text, "radius is %.15g mm, in the bore, expected at least %.15g mm",
                 support->radius_mm, bore);
    else
        return;
    report(draft, draft->at[key], text);
}

static void finish_bench(fw_draft_job *draft)
{
    fw_job *job = draft->job;
    const fw_ini_entry *gap = draft->at[FW_KEY_GAP], *eye = draft->at[FW_KEY_EYE];
    job->support_bottom = draft->support_bottom;
    job->support_top = draft->support_top;
    job->bending = (fw_bending)draft->bending;
    job->gradient_k = draft->gradient_k;
    job->gap_um = draft->gap_um;
    job->eye_mm = draft->eye_mm;
    check_support(draft, FW_KEY_SUPPORT_BOTTOM, &job->support_bottom);
    check_support(draft, FW_KEY_SUPPORT_TOP, &job->support_top);
    if (gap && !eye)
        report(draft, gap, "gap stands without eye, expected both or neither");
    if (eye && !gap)
        report(draft, eye, "eye stands without gap, expected both or neither");
}

fw_status fw_settings_finish(fw_draft_job *draft, fw_error *err)
{
    fw_job *job = draft->job;
    job->title = fw_copy_text(draft->title);
    if (!job->title)
        return fw_fail(err, FW_SYSTEM, "no memory for '%s'", draft->path);
    check_required(draft);
    finish_light(draft);
    finish_readings(draft);
    finish_flats(draft);
    finish_bench(draft);
    job->measure = (fw_measure)draft->measure;
    job->confidence = draft->confidence;
    job->levelling = (fw_levelling)draft->levelling;
    job->model = (fw_model)draft->model;
    job->order = draft->order;
    job->prior_nm = draft->prior_nm;
    job->nturns = draft->turns.count;
    job->turns_deg = draft->turns.list;
    draft->turns = (fw_turns){0, NULL};
    return FW_OK;
}
