/* field.c - values of a table's row: converted, checked, reported where they are wrong. */
#include <stdio.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/nearest.h"
#include "flatwright/number.h"
#include "flatwright/show.h"
#include "job/field.h"
#include "job/parts.h"

static const char *name_of(const fw_table *t, int column)
{
    return t->columns[column].name;
}

static void report_number(fw_table *t, int column, fw_number_status fault, const char *expected)
{
    char quoted[FW_QUOTED];
    const fw_field *field = fw_table_field(t, column);
    fw_table_fault(t, column, "%s %s %s, expected %s", name_of(t, column),
                   fw_show_quoted(quoted, field->text), fw_number_text(fault), expected);
}

static bool is_within(double value, const fw_range *range)
{
    return value <= range->high && (range->above ? value > range->low : value >= range->low);
}

/* An empty value of a column that must have one; a column that is not there was reported before. */
static bool report_empty(fw_table *t, int column, const char *expected)
{
    if (t->slot[column] >= 0)
        fw_table_fault(t, column, "%s is empty, expected %s", name_of(t, column), expected);
    return false;
}

/* Converts a value that is there; reports it when it is no number, or out of range. */
static bool take_number(fw_table *t, int column, const fw_field *field, const fw_range *range,
                        double *value)
{
    double number = 0;
    fw_number_status fault = fw_number_read(field->text, field->length, t->comma, &number);
    if (fault == FW_NUMBER_OK && is_within(number, range)) {
        *value = number;
        return true;
    }
    if (fault != FW_NUMBER_OK)
        report_number(t, column, fault, range->expected);
    else
        fw_table_fault(t, column, "%s is %.15g, expected %s", name_of(t, column), number,
                       range->expected);
    return false;
}

bool fw_field_number_or(fw_table *t, int column, const fw_range *range, double *value)
{
    const fw_field *field = fw_table_field(t, column);
    return !field || take_number(t, column, field, range, value);
}

bool fw_field_number(fw_table *t, int column, const fw_range *range, double *value)
{
    const fw_field *field = fw_table_field(t, column);
    return field ? take_number(t, column, field, range, value)
                 : report_empty(t, column, range->expected);
}

bool fw_field_round(fw_table *t, int column, int *value)
{
    static const char expected[] = "a whole number from 1 to 9999";
    const fw_field *field = fw_table_field(t, column);
    long round = 0;
    if (!field)
        return !t->columns[column].required || report_empty(t, column, expected);
    fw_number_status fault = fw_integer_read(field->text, field->length, &round);
    if (fault == FW_NUMBER_TRAILING) /* 1.5 */
        fault = FW_NUMBER_WORD;
    if (fault != FW_NUMBER_OK) {
        char quoted[FW_QUOTED];
        fw_table_fault(t, column, "%s is %s, expected %s", name_of(t, column),
                       fw_show_quoted(quoted, field->text), expected);
        return false;
    }
    if (round < 1 || round > FW_ROUND_LIMIT) {
        fw_table_fault(t, column, "%s is %ld, expected %s", name_of(t, column), round, expected);
        return false;
    }
    *value = (int)round;
    return true;
}

const char *fw_flats_text(const fw_job *job, char *out)
{
    size_t filled = 0;
    out[0] = '\0';
    for (int i = 0; i < job->nflats; i++) {
        const char *before = i == 0 ? ", expected " : i == job->nflats - 1 ? " or " : ", ";
        filled += (size_t)snprintf(out + filled, FW_FLATS_TEXT - filled, "%s%s", before,
                                   job->flats[i].name);
        if (filled >= FW_FLATS_TEXT) {
            out[0] = '\0';
            break;
        }
    }
    return out;
}

bool fw_field_flat(fw_table *t, int column, const fw_job *job, int *flat)
{
    char quoted[FW_QUOTED], suggestion[FW_SUGGESTION], known[FW_FLATS_TEXT];
    const fw_field *field = fw_table_field(t, column);
    *flat = -1;
    if (!field)
        return report_empty(t, column, "the name of a flat");
    for (int i = 0; i < job->nflats; i++)
        if (strcmp(job->flats[i].name, field->text) == 0) {
            *flat = i;
            return true;
        }
    if (job->nflats == 0)
        return true;
    fw_nearest nearest = fw_nearest_start(field->text);
    for (int i = 0; i < job->nflats; i++)
        fw_nearest_offer(&nearest, job->flats[i].name);
    fw_table_fault(t, column, "unknown flat %s%s%s", fw_show_quoted(quoted, field->text),
                   fw_flats_text(job, known), fw_nearest_text(&nearest, suggestion));
    return false;
}

char *fw_field_text(fw_table *t, int column, bool *good)
{
    char quoted[FW_QUOTED];
    const fw_field *field = fw_table_field(t, column);
    if (field && !fw_show_is_utf8(field->text)) {
        fw_table_fault(t, column, "%s %s is not UTF-8 text", name_of(t, column),
                       fw_show_quoted(quoted, field->text));
        *good = false;
    }
    return fw_copy_text(field ? field->text : "");
}

bool fw_field_word(fw_table *t, int column, const char *const *words, int count, int *value)
{
    char quoted[FW_QUOTED], suggestion[FW_SUGGESTION], list[120];
    const fw_field *field = fw_table_field(t, column);
    size_t filled = 0;
    for (int i = 0; field && i < count; i++)
        if (strcmp(words[i], field->text) == 0) {
            *value = i;
            return true;
        }
    for (int i = 0; i < count && filled < sizeof list; i++)
        filled += (size_t)snprintf(list + filled, sizeof list - filled, "%s%s",
                                   i == 0 ? "" : i == count - 1 ? " or " : ", ", words[i]);
    if (!field)
        return report_empty(t, column, list);
    fw_nearest nearest = fw_nearest_start(field->text);
    for (int i = 0; i < count; i++)
        fw_nearest_offer(&nearest, words[i]);
    fw_table_fault(t, column, "unknown %s %s, expected %s%s", name_of(t, column),
                   fw_show_quoted(quoted, field->text), list,
                   fw_nearest_text(&nearest, suggestion));
    return false;
}
