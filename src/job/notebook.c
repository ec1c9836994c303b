/* notebook.c - readings written into readings.csv: added in turn, or corrected by replacing it. */
#include <errno.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "flatwright/alloc.h"
#include "flatwright/notebook.h"
#include "flatwright/text.h"
#include "job/habits.h"
#include "job/parts.h"
#include "job/turn.h"
#include "job/whole.h"
#include "job/widen.h"

/* What tells that a file is another one, or was written again. */
typedef struct stamp {
    dev_t device;
    ino_t inode;
    off_t size;
    struct timespec time;
} stamp;

struct fw_notebook {
    const fw_job *job;
    char *path;
    stamp seen;    /* when the habits were read, or after the last write of ours */
    bool foreign;  /* others have written since the notebook was opened */
    fw_habits habits;
    bool has_own, has_bare; /* readings with a sigma of their own; without one, from the job neither */
};

/* A file that cannot be looked at is like no other. */
static stamp stamp_of(const char *path)
{
    struct stat place;
    stamp s = {.size = -1};
    if (stat(path, &place) == 0)
        s = (stamp){place.st_dev, place.st_ino, place.st_size, place.st_mtim};
    return s;
}

static bool same(const stamp *a, const stamp *b)
{
    return a->device == b->device && a->inode == b->inode && a->size == b->size &&
           a->time.tv_sec == b->time.tv_sec && a->time.tv_nsec == b->time.tv_nsec;
}

/* Reads the habits anew where the file is no longer the one that was seen. */
static fw_status refresh(fw_notebook *nb, fw_error *err)
{
    stamp now = stamp_of(nb->path);
    if (now.size < 0)
        return fw_fail(err, FW_SYSTEM, "cannot examine '%s': %s", nb->path, strerror(errno));
    if (same(&now, &nb->seen))
        return FW_OK;
    fw_status status = fw_habits_read(nb->path, &nb->habits, err);
    nb->foreign = nb->foreign || nb->seen.inode != 0;
    if (status == FW_OK)
        nb->seen = now;
    return status;
}

fw_status fw_notebook_open(const fw_job *job, fw_notebook **notebook, fw_error *err)
{
    fw_turn turn = {.fd = -1};
    *notebook = NULL;
    fw_notebook *nb = fw_alloc(1, sizeof *nb);
    char *path = fw_path_in(job->folder, "readings.csv");
    fw_status status = nb && path ? FW_OK : fw_out_of_memory(err);
    if (nb)
        *nb = (fw_notebook){.job = job, .path = path};
    for (size_t i = 0; nb && isnan(job->sigma_nm) && i < job->nreadings; i++) {
        nb->has_own = nb->has_own || !isnan(job->readings[i].sigma_nm);
        nb->has_bare = nb->has_bare || isnan(job->readings[i].sigma_nm);
    }
    if (status == FW_OK)
        status = fw_turn_begin(job->folder, path, &turn, err);
    if (status == FW_OK)
        status = refresh(nb, err);
    fw_turn_end(&turn);
    if (status == FW_OK)
        *notebook = nb;
    else if (nb)
        fw_notebook_close(nb);
    else
        fw_free(path);
    return status;
}

void fw_notebook_mend(const char *folder)
{
    fw_turn turn;
    fw_error err;
    char *path = fw_turn_is_pending(folder) ? fw_path_in(folder, "readings.csv") : NULL;
    if (!path)
        return;
    if (fw_turn_begin(folder, path, &turn, &err) != FW_OK) { /* reading the job tells of it */
    }
    fw_turn_end(&turn);
    fw_free(path);
}

void fw_notebook_close(fw_notebook *nb)
{
    if (nb) {
        fw_habits_release(&nb->habits);
        fw_free(nb->path);
    }
    fw_free(nb);
}

/* Columns that the entries need and the file lacks. */
static void lacking(const fw_notebook *nb, const fw_entry *entries, size_t n,
                    bool add[FW_READING_COLUMNS])
{
    memset(add, 0, FW_READING_COLUMNS * sizeof *add);
    for (size_t i = 0; i < n; i++)
        fw_habits_lacking(&nb->habits, nb->job, &entries[i], add);
}

size_t fw_notebook_lacks(const fw_notebook *nb, const fw_entry *entries, size_t n,
                         const char *names[FW_NOTEBOOK_LACKS])
{
    bool add[FW_READING_COLUMNS];
    size_t found = 0;
    lacking(nb, entries, n, add);
    for (int k = 0; k < FW_READING_COLUMNS && found < FW_NOTEBOOK_LACKS; k++)
        if (add[k])
            names[found++] = fw_reading_columns[k].name;
    return found;
}

bool fw_notebook_is_current(const fw_notebook *nb)
{
    stamp now = stamp_of(nb->path);
    return !nb->foreign && same(&now, &nb->seen);
}

const double *fw_notebook_stations(const fw_notebook *nb, size_t *n)
{
    *n = nb->habits.nstations;
    return *n > 0 ? nb->habits.stations : NULL;
}

/* A reading without a sigma among others with one has no weight. */
static fw_status check_sigmas(const fw_notebook *nb, const fw_entry *entries, size_t n,
                              fw_error *err)
{
    size_t own = 0;
    for (size_t i = 0; i < n; i++)
        own += !isnan(entries[i].sigma);
    if (!isnan(nb->job->sigma_nm) ||
        !((nb->has_own && own < n) || (nb->has_bare && own > 0) || (own > 0 && own < n)))
        return FW_OK;
    return fw_fail(err, FW_INPUT, "some readings have a sigma of their own and others have none, "
                   "expected [readings] sigma in job.ini for those");
}

/* The rows of the entries, one behind the other. NULL: err tells. */
static char *rows_of(const fw_notebook *nb, const fw_habits *habits, const fw_entry *entries,
                     size_t n, size_t *length, fw_error *err)
{
    size_t room = 256 * (n + 1);
    char *rows = fw_alloc(room, 1);
    *length = 0;
    if (!rows) {
        fw_out_of_memory(err);
        return NULL;
    }
    for (size_t i = 0; i < n; i++) {
        char *row = fw_habits_row(habits, nb->job, &entries[i], err);
        size_t more = row ? strlen(row) : 0;
        if (row && *length + more + 1 > room) {
            room = 2 * room + more + 1;
            char *larger = fw_resize(rows, room, 1);
            if (!larger) {
                fw_out_of_memory(err);
                fw_free(row);
                row = NULL;
            } else
                rows = larger;
        }
        if (!row) {
            fw_free(rows);
            return NULL;
        }
        memcpy(rows + *length, row, more + 1);
        *length += more;
        fw_free(row);
    }
    return rows;
}

/* The rows of the entries as they stand in the file, which first gets the columns in `add`. */
static char *rows_with(const fw_notebook *nb, const fw_entry *entries, size_t n,
                       bool add[FW_READING_COLUMNS], size_t *length, fw_error *err)
{
    fw_habits habits = nb->habits;
    lacking(nb, entries, n, add);
    fw_habits_widen(&habits, add);
    return check_sigmas(nb, entries, n, err) == FW_OK
               ? rows_of(nb, &habits, entries, n, length, err) : NULL;
}

fw_status fw_notebook_try(const fw_notebook *nb, const fw_entry *entries, size_t n, fw_error *err)
{
    bool add[FW_READING_COLUMNS];
    size_t length;
    char *rows = rows_with(nb, entries, n, add, &length, err);
    fw_free(rows);
    return rows ? FW_OK : err->status;
}

/* Appends ready bytes while it is our turn; or replaces the file by one that has the columns too. */
static fw_status write_rows(fw_notebook *nb, fw_turn *turn, const char *bytes, size_t length,
                            const bool add[FW_READING_COLUMNS], fw_error *err)
{
    bool widen = add && memchr(add, 1, FW_READING_COLUMNS);
    fw_status status = widen ? fw_widen(nb->path, add, bytes, length, nb->habits.eol, err)
                             : fw_turn_append(turn, nb->path, bytes, length, nb->habits.eol, err);
    if (status != FW_OK)
        return status;
    if (widen)
        fw_habits_widen(&nb->habits, add);
    nb->seen = stamp_of(nb->path);
    return FW_OK;
}

fw_status fw_notebook_add(fw_notebook *nb, const fw_entry *entries, size_t n, bool only_if_current,
                          fw_error *err)
{
    fw_turn turn;
    bool add[FW_READING_COLUMNS];
    size_t length = 0;
    char *rows = NULL;
    fw_status status = fw_turn_begin(nb->job->folder, nb->path, &turn, err);
    if (status == FW_OK)
        status = refresh(nb, err);
    if (status == FW_OK && only_if_current && nb->foreign)
        status = fw_fail(err, FW_INPUT, "'%s' has changed meanwhile, nothing was written",
                         nb->path);
    if (status == FW_OK && n > 0 && !(rows = rows_with(nb, entries, n, add, &length, err)))
        status = err->status;
    if (status == FW_OK && length > 0)
        status = write_rows(nb, &turn, rows, length, add, err);
    fw_turn_end(&turn);
    fw_free(rows);
    return status;
}

/* Appends a comment, its line end not yet in it. */
static fw_status add_comment(fw_notebook *nb, const char *comment, fw_error *err)
{
    fw_turn turn;
    size_t length = strlen(comment);
    char *line = fw_alloc(length + 3, 1);
    if (!line)
        return fw_out_of_memory(err);
    fw_status status = fw_turn_begin(nb->job->folder, nb->path, &turn, err);
    if (status == FW_OK)
        status = refresh(nb, err);
    if (status == FW_OK) {
        int n = sprintf(line, "%s%s", comment, nb->habits.eol);
        status = write_rows(nb, &turn, line, (size_t)n, NULL, err);
    }
    fw_turn_end(&turn);
    fw_free(line);
    return status;
}

fw_status fw_notebook_set_stations(fw_notebook *nb, const double *position_mm, size_t n,
                                   fw_error *err)
{
    char *line = fw_alloc(n + 2, FW_NUMBER_SIZE);
    if (!line)
        return fw_out_of_memory(err);
    size_t filled = (size_t)sprintf(line, "# stations:");
    for (size_t i = 0; i < n; i++) {
        char number[FW_NUMBER_SIZE];
        filled += (size_t)sprintf(line + filled, " %s", fw_number(position_mm[i], number));
    }
    fw_status status = add_comment(nb, line, err);
    if (status == FW_OK) {
        nb->habits.nstations = n < FW_STATIONS_LIMIT ? n : FW_STATIONS_LIMIT;
        memcpy(nb->habits.stations, position_mm, nb->habits.nstations * sizeof *position_mm);
    }
    fw_free(line);
    return status;
}

fw_status fw_notebook_skip(fw_notebook *nb, const fw_entry *place, fw_error *err)
{
    char *line = fw_habits_skip_line(nb->job, place);
    if (!line)
        return fw_out_of_memory(err);
    fw_status status = FW_OK;
    if (!fw_habits_has_skip(&nb->habits, line)) {
        status = add_comment(nb, line, err);
        if (status == FW_OK)
            status = fw_habits_note_skip(&nb->habits, line, err);
    }
    fw_free(line);
    return status;
}

bool fw_notebook_is_skipped(const fw_notebook *nb, const fw_entry *place)
{
    char *line = nb->habits.skipped ? fw_habits_skip_line(nb->job, place) : NULL;
    bool skipped = line && fw_habits_has_skip(&nb->habits, line);
    fw_free(line);
    return skipped;
}

/* The last place of a whole line in the text; SIZE_MAX: nowhere. `line` has its end. */
static size_t last_place(const char *text, size_t length, const char *line)
{
    size_t size = strlen(line);
    for (size_t at = length < size ? 0 : length - size + 1; at-- > 0;)
        if ((at == 0 || text[at - 1] == '\n' || text[at - 1] == '\r') &&
            memcmp(text + at, line, size) == 0)
            return at;
    return SIZE_MAX;
}

/* Exchanges one line of the text for another. */
static fw_status exchange(fw_notebook *nb, char **text, size_t *length, const fw_entry *old,
                          const fw_entry *new_one, fw_error *err)
{
    char *before = fw_habits_row(&nb->habits, nb->job, old, err);
    char *after = before ? fw_habits_row(&nb->habits, nb->job, new_one, err) : NULL;
    if (!before || !after) {
        fw_free(before);
        return err->status;
    }
    fw_status status = FW_OK;
    size_t had = strlen(before), has = strlen(after), at = last_place(*text, *length, before);
    if (at == SIZE_MAX)
        status = fw_fail(err, FW_INPUT, "the reading no longer stands in '%s' as it was written",
                         nb->path);
    if (status == FW_OK) {
        char *larger = fw_resize(*text, *length + has + 1, 1);
        if (larger) {
            *text = larger;
            memmove(larger + at + has, larger + at + had, *length - at - had);
            for (size_t i = 0; i < has; i++) /* into the middle: no end is wanted */
                larger[at + i] = after[i];
            *length += has - had;
        } else
            status = fw_out_of_memory(err);
    }
    fw_free(before);
    fw_free(after);
    return status;
}

fw_status fw_notebook_correct(fw_notebook *nb, const fw_entry *old, const fw_entry *new_ones,
                              size_t n, fw_error *err)
{
    fw_turn turn;
    char *text = NULL;
    size_t length = 0;
    fw_status status = fw_turn_begin(nb->job->folder, nb->path, &turn, err);
    if (status == FW_OK)
        status = refresh(nb, err);
    if (status == FW_OK)
        status = fw_whole_read(nb->path, &text, &length, err);
    for (size_t i = 0; status == FW_OK && i < n; i++)
        status = exchange(nb, &text, &length, &old[i], &new_ones[i], err);
    if (status == FW_OK)
        status = fw_whole_replace(nb->path, text, length, err);
    if (status == FW_OK)
        nb->seen = stamp_of(nb->path);
    fw_turn_end(&turn);
    fw_free(text);
    return status;
}
