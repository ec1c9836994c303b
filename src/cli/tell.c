/* tell.c - a message on standard error: one line; on a terminal as many as it takes. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "cli/cli.h"
#include "flatwright/text.h"

enum { COLUMNS = 80, HANG = 4 };

/* How wide the next word is, and *bytes <- how long, to the blank behind it. */
static int measure(const char *word, size_t *bytes)
{
    int width = 0;
    *bytes = strcspn(word, " ");
    for (size_t i = 0, n; i < *bytes; i += n) {
        unsigned code = 0;
        n = fw_utf8(word + i, &code);
        width += n ? fw_char_width(code) : 1;
        n = n ? n : 1;
    }
    return width;
}

/* Lines end at blanks only, so that a path stays whole, however long. */
static void put_broken(const char *text)
{
    int column = 0;
    while (*text) {
        size_t blanks = strspn(text, " "), bytes;
        int width = measure(text + blanks, &bytes);
        if (column > HANG && column + (int)blanks + width > COLUMNS) {
            fprintf(stderr, "\n%*s", HANG, "");
            column = HANG;
        } else {
            fprintf(stderr, "%*s", (int)blanks, "");
            column += (int)blanks;
        }
        fwrite(text + blanks, 1, bytes, stderr);
        column += width;
        text += blanks + bytes;
    }
}

void cli_tell(const char *format, ...)
{
    char text[2000];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    if (isatty(STDERR_FILENO))
        put_broken(text);
    else
        fputs(text, stderr);
    fputc('\n', stderr);
}
