/* screen.c - words for a person: a word at a time, each put where it still fits. */
#define _XOPEN_SOURCE 700 /* langinfo.h with CODESET, fileno */
#include <langinfo.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "flatwright/screen.h"
#include "flatwright/text.h"

#define PUT_SIZE 1024

fw_screen fw_screen_of(FILE *out)
{
    const char *term = getenv("TERM"), *no_colour = getenv("NO_COLOR");
    bool terminal = isatty(fileno(out)) == 1;
    bool able = terminal && term && *term && strcmp(term, "dumb") != 0;
    bool utf8 = strcmp(nl_langinfo(CODESET), "UTF-8") == 0;
    return (fw_screen){.out = out,
                       .columns = 80,
                       .drawing = able && utf8,
                       .colour = able && !(no_colour && *no_colour),
                       .eight_bit = terminal && !utf8};
}

static void print(fw_screen *screen, const char *bytes, size_t count)
{
    if (screen->out)
        fwrite(bytes, 1, count, screen->out);
}

static void print_blanks(fw_screen *screen, int count)
{
    for (int i = 0; i < count; i++)
        print(screen, " ", 1);
}

void fw_screen_begin(fw_screen *screen, int first, int hang)
{
    if (screen->sink) {
        screen->sink->begin(screen->to, first);
        return;
    }
    print_blanks(screen, first);
    screen->column = first;
    screen->hang = hang;
    screen->blank = false;
    screen->word_bytes = screen->word_width = 0;
}

/* Puts the word in hand where it fits; the word may be marks only. */
static void set_word(fw_screen *screen)
{
    int blank = screen->blank ? 1 : 0;
    if (screen->word_bytes == 0)
        return;
    if (screen->word_width > 0 &&
        screen->column + blank + screen->word_width > screen->columns) {
        print(screen, "\n", 1);
        screen->lines++;
        print_blanks(screen, screen->hang);
        screen->column = screen->hang;
    } else if (screen->word_width > 0) {
        print_blanks(screen, blank);
        screen->column += blank;
    }
    print(screen, screen->word, (size_t)screen->word_bytes);
    screen->column += screen->word_width;
    if (screen->word_width > 0)
        screen->blank = false;
    screen->word_bytes = screen->word_width = 0;
}

/* Adds a character to the word in hand; a word that fills a line is broken. */
static void add(fw_screen *screen, const char *bytes, size_t count, int width)
{
    if (screen->word_width + width > screen->columns - screen->hang ||
        screen->word_bytes + (int)count > FW_SCREEN_WORD)
        set_word(screen);
    memcpy(screen->word + screen->word_bytes, bytes, count);
    screen->word_bytes += (int)count;
    screen->word_width += width;
}

static void add_blank(fw_screen *screen)
{
    set_word(screen);
    screen->blank = screen->column > 0;
}

/* Adds what a mark stands for; false when `mark` is none. */
static bool add_mark(fw_screen *screen, char mark)
{
    static const char *const sequences[] = {
        NULL, "\033[1m", "\033[1;32m", "\033[1;31m", "\033[1;33m", "\033[0m"};
    if (mark == FW_BLANK[0])
        add(screen, " ", 1, 1);
    else if (mark == FW_PM[0] && screen->drawing)
        add(screen, "\xC2\xB1", 2, 1);
    else if (mark == FW_PM[0])
        add(screen, "+-", 2, 2);
    else if (mark < FW_BOLD[0] || mark > FW_PLAIN[0])
        return false;
    else if (screen->colour)
        add(screen, sequences[(int)mark], strlen(sequences[(int)mark]), 0);
    return true;
}

static void add_own(fw_screen *screen, const char *text)
{
    if (screen->sink) {
        screen->sink->own(screen->to, text);
        return;
    }
    while (*text) {
        unsigned code = 0;
        size_t length = fw_utf8(text, &code);
        if (length == 0)
            length = 1;
        if (*text == ' ')
            add_blank(screen);
        else if (!add_mark(screen, *text))
            add(screen, text, length, fw_char_width(code));
        text += length;
    }
}

void fw_screen_put(fw_screen *screen, const char *format, ...)
{
    char text[PUT_SIZE];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    add_own(screen, text);
}

/* Adds a character's code in place of the character. */
static void add_code(fw_screen *screen, bool byte, unsigned code)
{
    char shown[16] = "";
    int width = snprintf(shown, sizeof shown, byte ? "\\x%02X" : "\\u%04X", code);
    add(screen, shown, (size_t)width, width);
}

void fw_screen_text(fw_screen *screen, const char *text)
{
    if (screen->sink) {
        screen->sink->user(screen->to, text);
        return;
    }
    while (*text) {
        unsigned code = 0;
        size_t length = fw_utf8(text, &code);
        bool plain = length > 0 && fw_char_harmless(code) && !(screen->eight_bit && code > 0x7E);
        if (*text == ' ')
            add_blank(screen);
        else if (plain)
            add(screen, text, length, fw_char_width(code));
        else
            add_code(screen, length < 2, length < 2 ? (unsigned char)*text : code);
        text += length ? length : 1;
    }
}

void fw_screen_end(fw_screen *screen)
{
    if (screen->sink) {
        screen->sink->end(screen->to);
        return;
    }
    set_word(screen);
    print(screen, "\n", 1);
    screen->lines++;
    screen->column = 0;
    screen->blank = false;
}

void fw_screen_line(fw_screen *screen, const char *line)
{
    size_t length = strlen(line);
    if (screen->sink)
        return;
    while (length > 0 && line[length - 1] == ' ')
        length--;
    print(screen, line, length);
    print(screen, "\n", 1);
    screen->lines++;
}

void fw_screen_say(fw_screen *screen, int first, int hang, const char *format, ...)
{
    char text[PUT_SIZE];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    fw_screen_begin(screen, first, hang);
    add_own(screen, text);
    fw_screen_end(screen);
}
