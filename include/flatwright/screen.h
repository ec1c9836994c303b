/* screen.h - words for a person: wrapped, safe to show, plain where the terminal is plain. */
#ifndef FLATWRIGHT_SCREEN_H
#define FLATWRIGHT_SCREEN_H

#include <stdbool.h>
#include <stdio.h>

/* Marks that may stand in the texts of this program; they take no room but the last two. */
#define FW_BOLD "\001"
#define FW_GOOD "\002"
#define FW_BAD "\003"
#define FW_DOUBT "\004"
#define FW_PLAIN "\005"
#define FW_BLANK "\006" /* a blank where no line is broken */
#define FW_PM "\016"    /* plus or minus: the sign where it can be drawn, "+-" elsewhere */

#define FW_SCREEN_WORD 512

/*
 * Where paragraphs go instead of a screen: a page. begin and end as fw_screen_begin and
 * fw_screen_end; own gets words with the marks above, user the user's text.
 */
typedef struct fw_screen_sink {
    void (*begin)(void *to, int first);
    void (*own)(void *to, const char *words);
    void (*user)(void *to, const char *text);
    void (*end)(void *to);
} fw_screen_sink;

/* A screen or a pipe. Make it with fw_screen_of, or {0} with out, columns set. */
typedef struct fw_screen {
    FILE *out;     /* NULL: nothing is printed, lines are counted */
    int columns;   /* no line is longer; at least 20 */
    bool drawing;  /* UTF-8 signs and drawing characters of our own */
    bool colour;   /* bold and colour by terminal sequences */
    bool eight_bit; /* a terminal that takes no UTF-8: the user's text is shown in ASCII */
    bool spoken;   /* for the ear: words only, no charts */
    int lines;     /* printed so far */

    const fw_screen_sink *sink; /* NULL: a screen. Else ready lines and charts are left out */
    void *to;                   /* the sink's own */

    int column, hang; /* of the paragraph being set: where it stands, where its next line begins */
    bool blank;       /* a blank is owed before the next word */
    int word_bytes, word_width;
    char word[FW_SCREEN_WORD];
} fw_screen;

/*
 * What `out` can show: drawing characters only on a terminal whose locale (LC_CTYPE) is UTF-8,
 * colour only on a terminal, not with NO_COLOR set or TERM=dumb. 80 columns.
 */
fw_screen fw_screen_of(FILE *out);

/* Begins a paragraph: `first` blanks before its first line, `hang` before the others. */
void fw_screen_begin(fw_screen *screen, int first, int hang);

/* Adds words of our own, at most 1 kB, as printf; marks allowed; lines may break at blanks. */
void fw_screen_put(fw_screen *screen, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/*
 * Adds text of the user's, of any length. UTF-8 stays; controls and what is not UTF-8 are shown as
 * \xHH or \uHHHH.
 */
void fw_screen_text(fw_screen *screen, const char *text);

/* Ends the paragraph's last line. */
void fw_screen_end(fw_screen *screen);

/* Prints a ready line as it is, less its blanks at the end: a row of a chart or a table. */
void fw_screen_line(fw_screen *screen, const char *line);

/* A whole paragraph of our own words: begin, put, end. */
void fw_screen_say(fw_screen *screen, int first, int hang, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

#endif
