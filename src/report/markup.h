/* markup.h - HTML and SVG written as they come, nested rightly by construction. */
#ifndef REPORT_MARKUP_H
#define REPORT_MARKUP_H

#include <stdbool.h>
#include <stdio.h>

#define MARKUP_DEPTH 32

/*
 * A page or picture being written; starts as {.out = file}. Elements are closed by a stack, so that
 * none can cross another; what is written is XML, and HTML as well (the polyglot subset: empty
 * elements only where HTML has them, no entities but the five of XML). Names of elements and
 * attributes are ours. Wrong order of calls is a broken promise of the caller (assert); what cannot
 * be written stays in `out` for the caller to find (ferror).
 * Source: XML 1.0, 2.2 (characters) and 2.4 (escapes). Test: tests/unit/markup.c.
 */
typedef struct markup {
    FILE *out;
    int depth;
    bool tag;    /* the innermost element's tag is still open: attributes may follow */
    const char *open[MARKUP_DEPTH];
} markup;

/* Opens an element; its attributes follow, then its contents. */
void markup_open(markup *m, const char *name);

/* An attribute of the element just opened. value: any text. */
void markup_attr(markup *m, const char *name, const char *value);

/* The same, as printf, at most 500 bytes. */
void markup_put(markup *m, const char *name, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* A number to at most two decimals, as coordinates want it. */
void markup_number(markup *m, const char *name, double value);

/* An attribute written in pieces to m->out, by plain characters that need no escape. */
void markup_attr_begin(markup *m, const char *name);
void markup_attr_end(markup *m);

/*
 * Text of any origin and length: & < > and quotes are escaped; invalid UTF-8, controls, line and
 * bidi controls and noncharacters become U+FFFD each; tabs and line ends stay.
 */
void markup_text(markup *m, const char *text);

/* The same, as printf, at most 1000 bytes. */
void markup_say(markup *m, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Closes the innermost element; after the outermost a line ends. */
void markup_close(markup *m);

/* Closes an element that has no contents: <br/>. */
void markup_void(markup *m);

/* Closes so many elements. */
void markup_close_all(markup *m, int count);

/* A whole element with text in it. */
void markup_element(markup *m, const char *name, const char *text);

/* A line ends here, for who reads the source. */
void markup_line(markup *m);

#endif
