/* screen.c - words on a screen: wrapping, marks, escapes, what a pipe gets. */
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "../support/close.h"
#include "flatwright/screen.h"
#include "flatwright/text.h"

typedef struct paper {
    fw_screen screen;
    char *text;
    size_t size;
} paper;

static paper *open_paper(int columns)
{
    paper *made = calloc(1, sizeof *made);
    assert_non_null(made);
    made->screen.out = open_memstream(&made->text, &made->size);
    made->screen.columns = columns;
    return made;
}

static void assert_says(paper *sheet, const char *text)
{
    fclose(sheet->screen.out);
    assert_string_equal(sheet->text, text);
    free(sheet->text);
    free(sheet);
}

static void wraps(void **state)
{
    (void)state;
    paper *sheet = open_paper(20);
    fw_screen_say(&sheet->screen, 2, 4, "one two three four five %s", "sixteen seventeen");
    assert_int_equal(sheet->screen.lines, 3);
    assert_says(sheet, "  one two three four\n    five sixteen\n    seventeen\n");
}

/* 20 characters fit in 20 columns, 21 do not. */
static void wraps_at_the_edge(void **state)
{
    (void)state;
    paper *sheet = open_paper(20);
    fw_screen_say(&sheet->screen, 0, 0, "abcdefghij klmnopqrs");
    fw_screen_say(&sheet->screen, 0, 0, "abcdefghij klmnopqrst");
    assert_says(sheet, "abcdefghij klmnopqrs\nabcdefghij\nklmnopqrst\n");
}

static void breaks_long_words(void **state)
{
    (void)state;
    paper *sheet = open_paper(20);
    fw_screen_begin(&sheet->screen, 0, 2);
    fw_screen_text(&sheet->screen, "a 0123456789012345678901234567890123456789 b");
    fw_screen_end(&sheet->screen);
    assert_says(sheet, "a 012345678901234567\n  890123456789012345\n  6789 b\n");
}

static void keeps_numbers_together(void **state)
{
    (void)state;
    paper *sheet = open_paper(20);
    fw_screen_say(&sheet->screen, 0, 0,
                  "the PV is 5.1" FW_BLANK FW_PM FW_BLANK "0.9" FW_BLANK "nm.");
    assert_says(sheet, "the PV is\n5.1 +- 0.9 nm.\n");
}

static void marks_by_kind(void **state)
{
    (void)state;
    paper *plain = open_paper(40), *rich = open_paper(40);
    rich->screen.colour = rich->screen.drawing = true;
    fw_screen_say(&plain->screen, 0, 0, "A " FW_GOOD "within" FW_PLAIN " 1" FW_PM "2");
    fw_screen_say(&rich->screen, 0, 0, "A " FW_GOOD "within" FW_PLAIN " 1" FW_PM "2");
    assert_says(plain, "A within 1+-2\n");
    assert_says(rich, "A \033[1;32mwithin\033[0m 1\xC2\xB1" "2\n");
}

/* Colour takes no room: both break in the same place. */
static void marks_take_no_room(void **state)
{
    (void)state;
    paper *rich = open_paper(20);
    rich->screen.colour = true;
    fw_screen_say(&rich->screen, 0, 0,
                  FW_BOLD "abcdefghij" FW_PLAIN " " FW_BAD "klmnopqrs" FW_PLAIN);
    assert_int_equal(rich->screen.lines, 1);
    assert_says(rich, "\033[1mabcdefghij\033[0m \033[1;31mklmnopqrs\033[0m\n");
}

static void escapes_what_is_harmful(void **state)
{
    (void)state;
    paper *sheet = open_paper(80);
    fw_screen_begin(&sheet->screen, 0, 0);
    fw_screen_text(&sheet->screen, "\033[2J\x07 \x01\x06\x0e\n\t\x7f \x80\xff \xC2\x9B "
                                   "\xE2\x80\xAE "
                                   "\xC2\xB5m");
    fw_screen_end(&sheet->screen);
    assert_says(sheet, "\\x1B[2J\\x07 \\x01\\x06\\x0E\\x0A\\x09\\x7F \\x80\\xFF \\u009B \\u202E "
                       "\xC2\xB5m\n");
}

/* A terminal that takes no UTF-8 gets ASCII, whatever the user's text. */
static void eight_bit_terminal(void **state)
{
    (void)state;
    paper *sheet = open_paper(80);
    sheet->screen.eight_bit = true;
    fw_screen_begin(&sheet->screen, 0, 0);
    fw_screen_text(&sheet->screen, "\xC2\xB5m \xF0\x9D\x84\x9E");
    fw_screen_end(&sheet->screen);
    assert_says(sheet, "\\u00B5m \\u1D11E\n");
}

/* Wide characters count two columns, combining marks none. */
static void counts_columns(void **state)
{
    (void)state;
    paper *sheet = open_paper(20);
    fw_screen_begin(&sheet->screen, 0, 0);
    fw_screen_text(&sheet->screen, "\xE5\x85\x89\xE5\xAD\xA6\xE5\xB9\xB3\xE6\x99\xB6 abcdefghijk "
                                   "abcdefghijklmnopqrse\xCC\x81");
    fw_screen_end(&sheet->screen);
    assert_says(sheet, "\xE5\x85\x89\xE5\xAD\xA6\xE5\xB9\xB3\xE6\x99\xB6 abcdefghijk\n"
                       "abcdefghijklmnopqrse\xCC\x81\n");
}

static void only_counts_without_a_file(void **state)
{
    (void)state;
    fw_screen screen = {.columns = 20};
    fw_screen_say(&screen, 0, 0, "one two three four five six seven");
    fw_screen_line(&screen, "a line");
    assert_int_equal(screen.lines, 3);
}

static void cuts_blank_ends(void **state)
{
    (void)state;
    paper *sheet = open_paper(20);
    fw_screen_line(&sheet->screen, "  row   ");
    fw_screen_line(&sheet->screen, "");
    assert_says(sheet, "  row\n\n");
}

/* A pipe: no colour, no drawing, the user's UTF-8 as it is. */
static void knows_a_pipe(void **state)
{
    (void)state;
    int ends[2];
    assert_int_equal(pipe(ends), 0);
    FILE *out = fdopen(ends[1], "w");
    assert_non_null(out);
    fw_screen screen = fw_screen_of(out);
    assert_false(screen.drawing || screen.colour || screen.eight_bit);
    assert_int_equal(screen.columns, 80);
    fclose(out);
    close(ends[0]);
}

static void reads_utf8(void **state)
{
    (void)state;
    unsigned code = 7;
    assert_int_equal(fw_utf8("A", &code), 1);
    assert_int_equal(code, 'A');
    assert_int_equal(fw_utf8("\xC2\xB5", &code), 2);
    assert_int_equal(code, 0xB5);
    assert_int_equal(fw_utf8("\xEF\xBF\xBD", &code), 3);
    assert_int_equal(code, 0xFFFD);
    assert_int_equal(fw_utf8("\xF4\x8F\xBF\xBF", &code), 4);
    assert_int_equal(code, 0x10FFFF);
    static const char *const wrong[] = {"\x80", "\xC1\xBF", "\xC2", "\xE0\x9F\xBF", "\xED\xBF\xBF",
                                        "\xF0\x8F\xBF\xBF", "\xF4\x90\x80\x80", "\xF5\x80\x80\x80",
                                        "\xFF", "\xE2\x82"};
    code = 7;
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        assert_int_equal(fw_utf8(wrong[i], &code), 0);
    assert_int_equal(code, 7);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(wraps), cmocka_unit_test(wraps_at_the_edge),
        cmocka_unit_test(breaks_long_words), cmocka_unit_test(keeps_numbers_together),
        cmocka_unit_test(marks_by_kind), cmocka_unit_test(marks_take_no_room),
        cmocka_unit_test(escapes_what_is_harmful), cmocka_unit_test(eight_bit_terminal),
        cmocka_unit_test(counts_columns), cmocka_unit_test(only_counts_without_a_file),
        cmocka_unit_test(cuts_blank_ends), cmocka_unit_test(knows_a_pipe),
        cmocka_unit_test(reads_utf8)};
    return cmocka_run_group_tests_name("screen", tests, NULL, NULL);
}
