/* markup.c - HTML and SVG written as they come: a stack of what is open, and nothing else. */
#include <assert.h>
#include <math.h>
#include <stdarg.h>
#include <string.h>

#include "flatwright/text.h"
#include "report/markup.h"

/* Characters that neither XML nor a reader can do with. */
static bool allowed(unsigned code)
{
    bool noncharacter = (code & 0xFFFE) == 0xFFFE || (code >= 0xFDD0 && code <= 0xFDEF);
    return code == '\n' || code == '\t' || (fw_char_harmless(code) && !noncharacter);
}

static void escape(FILE *out, const char *text)
{
    while (*text) {
        unsigned code = 0;
        size_t length = fw_utf8(text, &code);
        if (length == 0 || !allowed(code))
            fputs("\xEF\xBF\xBD", out);
        else if (code == '&')
            fputs("&amp;", out);
        else if (code == '<')
            fputs("&lt;", out);
        else if (code == '>')
            fputs("&gt;", out);
        else if (code == '"')
            fputs("&quot;", out);
        else
            fwrite(text, 1, length, out);
        text += length ? length : 1;
    }
}

/* Ends the tag before contents. */
static void end_tag(markup *m)
{
    if (m->tag)
        putc('>', m->out);
    m->tag = false;
}

void markup_open(markup *m, const char *name)
{
    assert(m->depth < MARKUP_DEPTH);
    end_tag(m);
    putc('<', m->out);
    fputs(name, m->out);
    m->open[m->depth++] = name;
    m->tag = true;
}

void markup_attr_begin(markup *m, const char *name)
{
    assert(m->tag);
    putc(' ', m->out);
    fputs(name, m->out);
    fputs("=\"", m->out);
}

void markup_attr_end(markup *m)
{
    putc('"', m->out);
}

void markup_attr(markup *m, const char *name, const char *value)
{
    markup_attr_begin(m, name);
    escape(m->out, value);
    markup_attr_end(m);
}

void markup_put(markup *m, const char *name, const char *format, ...)
{
    char text[500];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    markup_attr(m, name, text);
}

void markup_number(markup *m, const char *name, double value)
{
    char text[FW_NUMBER_SIZE];
    markup_attr(m, name, fw_number(round(value * 100) / 100 + 0.0, text)); /* no -0 */
}

void markup_text(markup *m, const char *text)
{
    end_tag(m);
    escape(m->out, text);
}

void markup_say(markup *m, const char *format, ...)
{
    char text[1000];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    markup_text(m, text);
}

void markup_close(markup *m)
{
    assert(m->depth > 0);
    end_tag(m);
    fprintf(m->out, "</%s>", m->open[--m->depth]);
    if (m->depth == 0)
        putc('\n', m->out);
}

void markup_void(markup *m)
{
    assert(m->depth > 0 && m->tag);
    fputs("/>", m->out);
    m->tag = false;
    m->depth--;
}

void markup_close_all(markup *m, int count)
{
    while (count-- > 0)
        markup_close(m);
}

void markup_element(markup *m, const char *name, const char *text)
{
    markup_open(m, name);
    markup_text(m, text);
    markup_close(m);
}

void markup_line(markup *m)
{
    end_tag(m);
    putc('\n', m->out);
}
