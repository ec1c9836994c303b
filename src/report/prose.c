/* prose.c - the words of the screens as paragraphs and lists of a page. */
#include "report/prose.h"

#include <string.h>

static void close_list(prose *p)
{
    markup_close_all(p->m, 2); /* the item, the list */
    p->depth--;
}

static void begin(void *to, int first)
{
    prose *p = to;
    p->fresh = true;
    p->marked = false;
    while (p->depth > 0 && p->indents[p->depth - 1] > first)
        close_list(p);
    if (first == 0) {
        markup_line(p->m);
        markup_open(p->m, "p");
        return;
    }
    bool deeper = p->depth == 0 || p->indents[p->depth - 1] < first;
    if (deeper && p->depth < PROSE_DEPTH) {
        markup_line(p->m);
        markup_open(p->m, "ul");
        p->indents[p->depth++] = first;
    } else
        markup_close(p->m); /* the item before */
    markup_open(p->m, "li");
}

static void mark(prose *p, char sign)
{
    static const char *const classes[] = {[2] = "good", [3] = "bad", [4] = "doubt"};
    if (p->marked)
        markup_close(p->m);
    p->marked = sign != FW_PLAIN[0];
    if (!p->marked)
        return;
    markup_open(p->m, "b");
    if (sign != FW_BOLD[0])
        markup_attr(p->m, "class", classes[(int)sign]);
}

/* A hyphen before a number that something else does not go before. */
static bool is_minus(const char *at, char before)
{
    bool apart = before == ' ' || before == '(' || before == FW_BLANK[0] || before == '\0';
    return *at == '-' && apart && at[1] >= '0' && at[1] <= '9';
}

const char *prose_sign(const char *at, char before)
{
    return *at == FW_BLANK[0]      ? "\xC2\xA0"
           : *at == FW_PM[0]       ? "\xC2\xB1"
           : is_minus(at, before) ? "\xE2\x88\x92"
                                  : NULL;
}

/* "- " is a screen's sign of a list, which the page has of its own. */
static void own(void *to, const char *words)
{
    prose *p = to;
    char piece[256], before = '\0';
    size_t used = 0;
    if (p->fresh && strncmp(words, "- ", 2) == 0)
        words += 2;
    p->fresh = p->fresh && !*words;
    for (; *words; before = *words++) {
        const char *put = prose_sign(words, before);
        bool marks = *words >= FW_BOLD[0] && *words <= FW_PLAIN[0];
        if (marks || used + 4 > sizeof piece) {
            piece[used] = '\0';
            if (used)
                markup_text(p->m, piece);
            used = 0;
        }
        if (marks)
            mark(p, *words);
        else if (put) {
            memcpy(piece + used, put, strlen(put));
            used += strlen(put);
        } else
            piece[used++] = *words;
    }
    piece[used] = '\0';
    if (used)
        markup_text(p->m, piece);
}

static void user(void *to, const char *text)
{
    prose *p = to;
    p->fresh = false;
    if (*text)
        markup_element(p->m, "bdi", text);
}

static void end(void *to)
{
    prose *p = to;
    if (p->marked)
        markup_close(p->m);
    p->marked = false;
    if (p->depth == 0)
        markup_close(p->m);
}

void prose_of(prose *p, markup *m)
{
    static const fw_screen_sink sink = {begin, own, user, end};
    *p = (prose){.m = m,
                 .screen = {.columns = 80, .drawing = true, .spoken = true, .sink = &sink, .to = p}};
}

void prose_end(prose *p)
{
    while (p->depth > 0)
        close_list(p);
}
