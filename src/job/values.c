/* values.c - the values of job.ini: a word, a number with its unit, a list; whole or refused. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/nearest.h"
#include "flatwright/number.h"
#include "flatwright/show.h"
#include "job/parts.h"
#include "job/settings.h"

#define TURNS_LIMIT 1000
#define TURN_LIMIT_DEG 3600

static void report(const fw_place *place, const char *what, const char *expected, const char *more)
{
    char quoted[FW_QUOTED];
    const fw_ini_entry *e = place->entry;
    fw_fault_add(place->faults, place->path, e->line, e->column, "%s %s %s, expected %s%s", e->key,
                 fw_show_quoted(quoted, e->value), what, expected, more);
}

int fw_convert_text(const fw_place *place, const fw_setting *setting, void *target)
{
    if (!fw_show_is_utf8(place->entry->value))
        report(place, "is not UTF-8", setting->expected, "");
    *(const char **)target = place->entry->value;
    return 0;
}

int fw_convert_word(const fw_place *place, const fw_setting *setting, void *target)
{
    char suggestion[FW_SUGGESTION];
    fw_nearest nearest = fw_nearest_start(place->entry->value);
    for (int i = 0; setting->words[i]; i++) {
        if (strcmp(setting->words[i], place->entry->value) == 0) {
            *(int *)target = i;
            return 0;
        }
        fw_nearest_offer(&nearest, setting->words[i]);
    }
    report(place, "is not known", setting->expected, fw_nearest_text(&nearest, suggestion));
    return 0;
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

/* The number that *text begins with, and the blanks behind it; *text moves on. */
static bool take_number(const fw_place *place, const char **text, const char *expected,
                        double *value)
{
    size_t used = 0;
    fw_number_status fault = fw_number_prefix(*text, strlen(*text), false, value, &used);
    if (fault == FW_NUMBER_OK && (*text)[used] == ',')
        fault = FW_NUMBER_COMMA;
    if (fault == FW_NUMBER_OK && *value == 0 && ((*text)[used] | 0x20) == 'x')
        fault = FW_NUMBER_HEX;
    if (fault != FW_NUMBER_OK) {
        report(place, fault == FW_NUMBER_EMPTY ? "is incomplete" : fw_number_text(fault), expected,
               "");
        return false;
    }
    *text += used;
    while (is_blank(**text))
        ++*text;
    return true;
}

/* The factor of the unit `name`, of `length` bytes; 0: unknown. */
static double factor_of(const fw_suffix *units, const char *name, size_t length)
{
    for (; units->name; units++)
        if (strlen(units->name) == length && memcmp(units->name, name, length) == 0)
            return units->factor;
    return 0;
}

/* A number that may stand without a unit and has none to choose from. */
static bool is_bare(const fw_setting *setting)
{
    const fw_suffix *units = setting->units;
    return units && units[0].name && !*units[0].name && !units[1].name;
}

static void report_unit(const fw_place *place, const fw_setting *setting, const char *unit)
{
    char what[FW_QUOTED + 40], quoted[FW_QUOTED];
    if (*unit == '\0')
        report(place, "has no unit", setting->expected, "");
    else {
        snprintf(what, sizeof what, is_bare(setting) ? "has %s after the number"
                                                     : "has the unknown unit %s",
                 fw_show_quoted(quoted, unit));
        report(place, what, setting->expected, "");
    }
}

static bool is_in_range(const fw_setting *setting, double value)
{
    return (setting->above ? value > setting->low : value >= setting->low) &&
           (setting->below ? value < setting->high : value <= setting->high);
}

int fw_convert_quantity(const fw_place *place, const fw_setting *setting, void *target)
{
    const char *text = place->entry->value;
    double value = 0;
    if (!take_number(place, &text, setting->expected, &value))
        return 0;
    double factor = factor_of(setting->units, text, strlen(text));
    if (factor == 0)
        report_unit(place, setting, text);
    else if (!is_in_range(setting, value * factor))
        report(place, "is out of range", setting->expected, "");
    else
        *(double *)target = value * factor;
    return 0;
}

int fw_convert_whole(const fw_place *place, const fw_setting *setting, void *target)
{
    long value = 0;
    const char *text = place->entry->value;
    fw_number_status fault = fw_integer_read(text, strlen(text), &value);
    if (fault != FW_NUMBER_OK)
        report(place, "is not a whole number", setting->expected, "");
    else if (!is_in_range(setting, (double)value))
        report(place, "is out of range", setting->expected, "");
    else
        *(int *)target = (int)value;
    return 0;
}

/* A height whose unit may be of the light; the range is checked when the light is known. */
int fw_convert_amount(const fw_place *place, const fw_setting *setting, void *target)
{
    const char *text = place->entry->value;
    fw_amount amount = {0, FW_UNIT_NM};
    if (!take_number(place, &text, setting->expected, &amount.value))
        return 0;
    if (!fw_unit_find(text, &amount.unit))
        report_unit(place, setting, text);
    else if (!(amount.value > 0))
        report(place, "is out of range", setting->expected, "");
    else
        *(fw_amount *)target = amount;
    return 0;
}

int fw_convert_glass(const fw_place *place, const fw_setting *setting, void *target)
{
    char suggestion[FW_SUGGESTION];
    int count;
    const fw_glass *glasses = fw_glasses(&count), *glass = fw_glass_find(place->entry->value);
    fw_nearest nearest = fw_nearest_start(place->entry->value);
    for (int i = 0; i < count; i++)
        fw_nearest_offer(&nearest, glasses[i].name);
    if (!glass)
        report(place, "is not known", setting->expected, fw_nearest_text(&nearest, suggestion));
    *(const fw_glass **)target = glass;
    return 0;
}

int fw_convert_lamp(const fw_place *place, const fw_setting *setting, void *target)
{
    char suggestion[FW_SUGGESTION];
    int count;
    const fw_lamp *lamps = fw_lamps(&count), *lamp = fw_lamp_find(place->entry->value);
    fw_nearest nearest = fw_nearest_start(place->entry->value);
    for (int i = 0; i < count; i++)
        fw_nearest_offer(&nearest, lamps[i].name);
    if (!lamp)
        report(place, "is not known", setting->expected, fw_nearest_text(&nearest, suggestion));
    *(const fw_lamp **)target = lamp;
    return 0;
}

/* The kind of support that the value's first word names; NONE: reported as unknown. */
static fw_support_kind take_kind(const fw_place *place, const fw_setting *setting,
                                 const char **text)
{
    static const char *const kinds[] = {"rim", "ring", "three"};
    char word[16], suggestion[FW_SUGGESTION];
    size_t length = strcspn(*text, " \t");
    snprintf(word, sizeof word, "%.*s", (int)(length < sizeof word ? length : sizeof word), *text);
    fw_nearest nearest = fw_nearest_start(word);
    for (int i = 0; i < 3; i++) {
        if (strcmp(kinds[i], word) == 0) {
            *text += length + strspn(*text + length, " \t");
            return (fw_support_kind)(FW_SUPPORT_RIM + i);
        }
        fw_nearest_offer(&nearest, kinds[i]);
    }
    report(place, "is not known", setting->expected, fw_nearest_text(&nearest, suggestion));
    return FW_SUPPORT_NONE;
}

/* A length at *text, with or without a unit, something else may follow. */
static bool take_length(const fw_place *place, const fw_setting *setting, const char **text,
                        double *length_mm)
{
    char unit[16];
    double value = 0;
    if (!take_number(place, text, setting->expected, &value))
        return false;
    bool bare = **text == '-' || **text == '+' || (**text >= '0' && **text <= '9');
    size_t length = bare ? 0 : strcspn(*text, " \t");
    double factor = factor_of(setting->units, *text, length);
    if (factor == 0) {
        snprintf(unit, sizeof unit, "%.*s", (int)(length < sizeof unit ? length : sizeof unit),
                 *text);
        report_unit(place, setting, unit);
        return false;
    }
    *length_mm = value * factor;
    *text += length + strspn(*text + length, " \t");
    return true;
}

/* "rim", "ring 82 mm", "three 78 mm 30": a word, a length, an angle. */
int fw_convert_support(const fw_place *place, const fw_setting *setting, void *target)
{
    const char *text = place->entry->value;
    fw_support support = {take_kind(place, setting, &text), NAN, 0};
    bool has_radius = support.kind == FW_SUPPORT_RING || support.kind == FW_SUPPORT_THREE;
    if (support.kind == FW_SUPPORT_NONE)
        return 0;
    if (has_radius && !take_length(place, setting, &text, &support.radius_mm))
        return 0;
    if (support.kind == FW_SUPPORT_THREE &&
        !take_number(place, &text, setting->expected, &support.angle_deg))
        return 0;
    if (support.kind == FW_SUPPORT_THREE && strcmp(text, "deg") == 0)
        text += 3;
    if (*text)
        report(place, "has text after the support", setting->expected, "");
    else if ((has_radius && !is_in_range(setting, support.radius_mm)) ||
             fabs(support.angle_deg) > TURN_LIMIT_DEG)
        report(place, "is out of range", setting->expected, "");
    else
        *(fw_support *)target = support;
    return 0;
}

/* Angles with blanks or commas between them. */
int fw_convert_turns(const fw_place *place, const fw_setting *setting, void *target)
{
    fw_turns *turns = target;
    const char *text = place->entry->value;
    double list[TURNS_LIMIT];
    int count = 0;
    while (*text) {
        size_t length = strcspn(text, " \t,"), used = 0;
        double turn = 0;
        fw_number_status fault = fw_number_prefix(text, length, false, &turn, &used);
        if (fault == FW_NUMBER_OK && used < length)
            fault = FW_NUMBER_TRAILING;
        if (fault != FW_NUMBER_OK || fabs(turn) > TURN_LIMIT_DEG || count == TURNS_LIMIT) {
            report(place, fault != FW_NUMBER_OK      ? fw_number_text(fault)
                          : count == TURNS_LIMIT     ? "is too long"
                                                     : "is out of range",
                   setting->expected, "");
            return 0;
        }
        list[count++] = turn;
        text += length + strspn(text + length, " \t");
        if (*text == ',')
            text += 1 + strspn(text + 1, " \t");
    }
    double *copy = fw_alloc((size_t)count, sizeof *copy);
    if (!copy)
        return -1;
    memcpy(copy, list, (size_t)count * sizeof *copy);
    fw_free(turns->list);
    *turns = (fw_turns){count, copy};
    return 0;
}
