/* show.c - text of unknown origin made fit to be shown in one line. */
#include <stdio.h>
#include <string.h>

#include "flatwright/show.h"
#include "flatwright/text.h"

char *fw_show(char *out, size_t size, const char *text)
{
    size_t filled = 0, cut = 0; /* cut: where "..." still fits */
    while (*text) {
        char piece[8];
        unsigned code = 0;
        size_t length = fw_utf8(text, &code), shown = length;
        if (length > 0 && fw_char_harmless(code))
            memcpy(piece, text, length);
        else {
            shown = 4;
            length = 1;
            snprintf(piece, sizeof piece, "\\x%02x", (unsigned)(unsigned char)*text);
        }
        if (filled + shown + 1 > size) {
            memcpy(out + cut, "...", 4);
            return out;
        }
        memcpy(out + filled, piece, shown);
        filled += shown;
        text += length;
        if (filled + 4 <= size)
            cut = filled;
    }
    out[filled] = '\0';
    return out;
}

char *fw_show_quoted(char *out, const char *text)
{
    out[0] = '\'';
    fw_show(out + 1, FW_QUOTED - 2, text);
    size_t length = strlen(out);
    out[length] = '\'';
    out[length + 1] = '\0';
    return out;
}

bool fw_show_is_utf8(const char *text)
{
    unsigned code;
    while (*text) {
        size_t length = fw_utf8(text, &code);
        if (length == 0)
            return false;
        text += length;
    }
    return true;
}
