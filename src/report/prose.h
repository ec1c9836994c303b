/* prose.h - the words of the screens as paragraphs and lists of a page. */
#ifndef REPORT_PROSE_H
#define REPORT_PROSE_H

#include "flatwright/screen.h"
#include "report/markup.h"

#define PROSE_DEPTH 4

/*
 * Gets what a screen would print: a paragraph that begins at the margin becomes <p>, one that is set
 * in becomes an item of a list, deeper ones lists within it. The user's text stands in <bdi>.
 * Make it with prose_of, print to its screen, then prose_end. Test: tests/unit/prose.c.
 */
typedef struct prose {
    markup *m;
    fw_screen screen; /* print here; borrowed pointer to this prose: do not copy afterwards */
    int depth;        /* lists that are open, each with an item open */
    int indents[PROSE_DEPTH];
    bool fresh;       /* nothing of this paragraph is out yet */
    bool marked;      /* <b> is open */
} prose;

void prose_of(prose *p, markup *m);
void prose_end(prose *p);

/* What a character of our words becomes on a page: blank, plus or minus, minus; NULL: itself. */
const char *prose_sign(const char *at, char before);

#endif
