/* page_parts.h - the sections of the page. */
#ifndef REPORT_PAGE_PARTS_H
#define REPORT_PAGE_PARTS_H

#include "report/markup.h"
#include "report/views.h"

/* Opens a section with its heading; close it with markup_close. id: one word. */
void page_section(markup *m, const char *id, const char *heading);

/* A paragraph of our own words. */
void page_say(markup *m, const char *words);

/* All pictures of the kinds first .. last, as figures beside each other. */
void page_pictures(markup *m, const views *v, picture_kind first, picture_kind last);

void page_style(markup *m);                      /* <style> */
void page_verdicts(markup *m, const views *v);   /* table of all flats */
void page_budget(markup *m, const views *v);     /* sources of uncertainty, and remedies */
void page_tables(markup *m, const views *v);     /* profiles in numbers */
void page_method(markup *m, const views *v);     /* how it was computed, references, cautions */

#endif
