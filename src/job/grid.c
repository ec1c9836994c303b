/* grid.c - a sheet in memory: cells by row, each with its place in the file. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "job/grid.h"
#include "job/rows.h"

#define GRID_LIMIT ((size_t)1 << 28) /* bytes of text */

/* Room for one more; the list doubles. */
static bool make_room(void **list, size_t *room, size_t need, size_t size)
{
    if (need <= *room)
        return true;
    size_t more = 2 * need + 64;
    void *larger = fw_resize(*list, more, size);
    if (!larger)
        return false;
    *list = larger;
    *room = more;
    return true;
}

/* Lines that have one outside quotes. */
static size_t lines_with(const fw_rows *rows, char separator)
{
    bool open = false, has = false;
    size_t n = 0;
    for (size_t i = rows->start; i < rows->end; i++) {
        char c = rows->buffer[i];
        open = open != (c == '"');
        has = has || (!open && c == separator);
        if (c == rows->eol) {
            n += has;
            has = false;
        }
    }
    return n + has;
}

/*
 * The separator that most lines have. Of equals the tab, then the semicolon: commas beside them are
 * decimal signs.
 */
static char find_separator(const fw_rows *rows)
{
    static const char separators[] = "\t;,";
    char best = ',';
    size_t most = 0;
    for (const char *s = separators; *s; s++) {
        size_t n = lines_with(rows, *s);
        if (n > most) {
            most = n;
            best = *s;
        }
    }
    return best;
}

static bool add_text(fw_grid *g, const fw_field *field)
{
    void *texts = g->texts;
    if (!make_room(&texts, &g->room, g->used + field->length + 1, 1))
        return false;
    g->texts = texts;
    memcpy(g->texts + g->used, field->text, field->length + 1);
    g->used += field->length + 1;
    return true;
}

static bool add_row(fw_grid *g, const fw_rows *rows)
{
    size_t n = rows->seen < rows->nfields ? rows->seen : rows->nfields;
    void *list = g->rows, *cells = g->cells;
    bool good = make_room(&list, &g->rows_room, g->nrows + 1, sizeof *g->rows);
    g->rows = list;
    good = make_room(&cells, &g->cells_room, g->ncells + n, sizeof *g->cells) && good;
    g->cells = cells;
    int *place = good ? fw_alloc(2 * n + 1, sizeof *place) : NULL;
    if (!place)
        return false;
    fw_rows_places(rows, n, place, place + n);
    g->rows[g->nrows] = (fw_grid_row){g->ncells, n, rows->line};
    for (size_t i = 0; i < n && good; i++) {
        g->cells[g->ncells++] = (fw_cell){g->used, place[i], place[n + i]};
        good = add_text(g, &rows->fields[i]);
    }
    g->nrows++;
    fw_free(place);
    return good;
}

fw_status fw_grid_read(const char *path, fw_grid *g, fw_faults *faults, fw_error *err)
{
    fw_rows rows;
    bool missing;
    fw_row row = FW_ROW_END;
    *g = (fw_grid){.path = path, .faults = faults};
    fw_status status = fw_rows_open(&rows, path, true, &missing, faults, err);
    if (status == FW_OK && missing)
        fw_fault_add(faults, path, 0, 0, "there is no such file");
    if (status == FW_OK && !rows.stopped) {
        fw_rows_separate(&rows, find_separator(&rows));
        g->comma = rows.separator != ',';
        while (status == FW_OK && (row = fw_rows_next(&rows, err)) == FW_ROW) {
            if (g->nrows == 0 && strncmp(rows.fields[0].text, "sep=", 4) == 0)
                continue;
            if (!add_row(g, &rows))
                status = fw_out_of_memory(err);
            else if (g->used > GRID_LIMIT) {
                fw_fault_add(faults, path, rows.line, 0, "the file is too large to be added at once");
                break;
            }
        }
    }
    if (status == FW_OK && row == FW_ROW_FAILED)
        status = FW_SYSTEM;
    fw_rows_close(&rows);
    return status;
}

void fw_grid_release(fw_grid *g)
{
    fw_free(g->rows);
    fw_free(g->cells);
    fw_free(g->texts);
    *g = (fw_grid){0};
}

void fw_grid_fault(const fw_grid *g, size_t row, size_t i, const char *format, ...)
{
    char text[512];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    const fw_grid_row *r = &g->rows[row];
    const fw_cell *cell = i < r->count ? &g->cells[r->first + i] : NULL;
    int line = cell ? cell->line : r->line, column = cell ? cell->column : 0;
    for (size_t k = 0; k < g->faults->listed; k++) /* one heading stands over many readings */
        if (g->faults->list[k].line == line && g->faults->list[k].column == column)
            return;
    fw_fault_add(g->faults, g->path, line, column, "%s", text);
}
