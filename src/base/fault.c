/* fault.c - the list of faults: added as they are found, shown in the order of the files. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/fault.h"
#include "flatwright/show.h"

#define TEXT_SIZE 1000

/* Room for one more entry; the list doubles. */
static int make_room(fw_faults *faults)
{
    size_t n = faults->listed;
    if (n & (n - 1) || (n > 0 && n < 8)) /* grown at 0, 8, 16, 32, ... */
        return 1;
    fw_fault *list = fw_resize(faults->list, n ? 2 * n : 8, sizeof *list);
    if (!list)
        return 0;
    faults->list = list;
    return 1;
}

void fw_fault_add(fw_faults *faults, const char *file, int line, int column, const char *format,
                  ...)
{
    char raw[TEXT_SIZE], shown[TEXT_SIZE + 200];
    faults->count++;
    if (faults->listed == FW_FAULTS_LISTED)
        return;
    va_list args;
    va_start(args, format);
    vsnprintf(raw, sizeof raw, format, args);
    va_end(args);

    fw_fault fault = {.line = line, .column = column};
    fault.file = fw_copy_text(file);
    fault.text = fw_copy_text(fw_show(shown, sizeof shown, raw));
    if (!fault.file || !fault.text || !make_room(faults)) {
        fw_free(fault.file);
        fw_free(fault.text);
        faults->out_of_memory = 1;
        return;
    }
    faults->list[faults->listed++] = fault;
}

static int is_settings(const fw_fault *fault)
{
    size_t length = strlen(fault->file);
    return length >= 7 && strcmp(fault->file + length - 7, "job.ini") == 0;
}

/* True when a stands before b, both of one file. */
static int before(const fw_fault *a, const fw_fault *b)
{
    return a->line != b->line ? a->line < b->line : a->column < b->column;
}

/* Insertion: stable, and the list is short and nearly in order as it was found. */
void fw_faults_sort(fw_faults *faults)
{
    fw_fault *list = faults->list;
    size_t head = 0; /* entries of job.ini, moved to the front */
    for (size_t i = 0; i < faults->listed; i++) {
        fw_fault fault = list[i];
        size_t k = i;
        if (is_settings(&fault)) {
            memmove(list + head + 1, list + head, (i - head) * sizeof *list);
            k = head++;
        }
        while (k > 0 && strcmp(list[k - 1].file, fault.file) == 0 && before(&fault, &list[k - 1])) {
            list[k] = list[k - 1];
            k--;
        }
        list[k] = fault;
    }
}

void fw_faults_release(fw_faults *faults)
{
    for (size_t i = 0; i < faults->listed; i++) {
        fw_free(faults->list[i].file);
        fw_free(faults->list[i].text);
    }
    fw_free(faults->list);
    *faults = (fw_faults){0};
}
