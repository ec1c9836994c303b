/* nearest.c - the known name nearest to a mistyped one, by edit distance. */
#include <stdio.h>
#include <string.h>

#include "flatwright/nearest.h"
#include "flatwright/show.h"

#define LONGEST 63

/* What two letters have in common when only case, or the kind of gap, differs. */
static char plain(char c)
{
    if (c >= 'A' && c <= 'Z')
        return (char)(c - 'A' + 'a');
    return c == '_' || c == ' ' ? '-' : c;
}

static int least(int a, int b)
{
    return a < b ? a : b;
}

/* Optimal string alignment: row i of the table holds the distances of a's first i letters. */
static int distance(const char *a, size_t m, const char *b, size_t n)
{
    int rows[3][LONGEST + 1] = {{0}};
    int *before = rows[0], *last = rows[1], *row = rows[2];
    for (size_t j = 0; j <= n; j++)
        last[j] = (int)j;
    for (size_t i = 1; i <= m; i++) {
        row[0] = (int)i;
        for (size_t j = 1; j <= n; j++) {
            char x = plain(a[i - 1]), y = plain(b[j - 1]);
            row[j] = least(last[j - 1] + (x != y), least(last[j], row[j - 1]) + 1);
            if (i > 1 && j > 1 && x == plain(b[j - 2]) && y == plain(a[i - 2]))
                row[j] = least(row[j], before[j - 2] + 1);
        }
        int *free_row = before;
        before = last;
        last = row;
        row = free_row;
    }
    return last[n];
}

/* True when the name goes on where the word ends: "turn" for "turn_deg". */
static bool is_beginning(const char *word, size_t m, const char *name, size_t n)
{
    for (size_t i = 0; i < m && i < n; i++)
        if (plain(word[i]) != plain(name[i]))
            return false;
    return m >= 3 && m < n;
}

fw_nearest fw_nearest_start(const char *word)
{
    return (fw_nearest){.word = word};
}

void fw_nearest_offer(fw_nearest *nearest, const char *name)
{
    size_t m = strlen(nearest->word), n = strlen(name), longer = m > n ? m : n;
    if (longer > LONGEST || m == 0)
        return;
    int d = distance(nearest->word, m, name, n), near = longer < 6 ? 1 : (int)(longer / 3);
    if (is_beginning(nearest->word, m, name, n))
        d = 1;
    if ((size_t)d >= longer || d > near || (nearest->name && d >= nearest->distance))
        return;
    nearest->name = name;
    nearest->distance = d;
}

const char *fw_nearest_text(const fw_nearest *nearest, char *out)
{
    char quoted[FW_QUOTED];
    out[0] = '\0';
    if (nearest->name)
        snprintf(out, FW_SUGGESTION, ", did you mean %s?", fw_show_quoted(quoted, nearest->name));
    return out;
}

bool fw_same_name(const char *a, const char *b)
{
    while (*a && plain(*a) == plain(*b))
        a++, b++;
    return plain(*a) == plain(*b);
}
