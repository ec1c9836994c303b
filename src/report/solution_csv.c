/* solution_csv.c - the heights for a spreadsheet: a row a point. */
#include <math.h>
#include <string.h>

#include "flatwright/report.h"
#include "flatwright/text.h"
#include "report/words.h"

void words_csv(FILE *out, const char *text)
{
    if (!strpbrk(text, ",\"\r\n")) {
        fputs(text, out);
        return;
    }
    putc('"', out);
    for (; *text; text++) {
        if (*text == '"')
            putc('"', out);
        putc(*text, out);
    }
    putc('"', out);
}

/* A comma and a number; nothing after the comma where it cannot be told. */
static void put_number(FILE *out, double value)
{
    char buffer[FW_NUMBER_SIZE];
    putc(',', out);
    if (isfinite(value))
        fputs(fw_number(value, buffer), out);
}

static void put_face(FILE *out, const fw_job *job, const fw_face *face)
{
    for (int d = 0; d < face->profile.ndiameters; d++) {
        const fw_diameter *diameter = &face->profile.diameters[d];
        for (size_t i = 0; i < diameter->npoints; i++) {
            const fw_point *point = &diameter->points[i];
            words_csv(out, job->flats[face->flat].name);
            fprintf(out, ",%d", face->state);
            put_number(out, diameter->angle_deg);
            put_number(out, point->position_mm);
            put_number(out, point->determined ? point->height_nm : NAN);
            put_number(out, point->determined ? point->u_nm : NAN);
            fprintf(out, ",%d\n", point->clear);
        }
    }
}

void fw_solution_csv(FILE *out, const fw_result *result, bool all)
{
    fputs("flat,state,diameter_deg,position_mm,height_nm,u_nm,clear\n", out);
    for (int f = 0; f < result->nfaces; f++)
        if (all || result->today[result->faces[f].flat] == f)
            put_face(out, result->job, &result->faces[f]);
}
