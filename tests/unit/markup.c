/* markup.c - text stays text, whatever it holds; elements nest. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "report/markup.h"
#include "report/prose.h"

/* What `text` becomes inside <p>, or as an attribute. The caller frees. */
static char *written(const char *text, bool attribute)
{
    char *out = NULL;
    size_t size = 0;
    markup m = {.out = open_memstream(&out, &size)};
    assert_non_null(m.out);
    markup_open(&m, "p");
    if (attribute)
        markup_attr(&m, "title", text);
    else
        markup_text(&m, text);
    markup_close(&m);
    fclose(m.out);
    return out;
}

static void check(const char *text, const char *want)
{
    char expected[400];
    for (int attribute = 0; attribute < 2; attribute++) {
        char *got = written(text, attribute);
        snprintf(expected, sizeof expected, attribute ? "<p title=\"%s\"></p>\n" : "<p>%s</p>\n",
                 want);
        assert_string_equal(got, expected);
        free(got);
    }
}

/* XML 1.0, 2.2: Char; 2.4: & and < must be escaped, > after ]] as well. */
static void test_text_stays_text(void **state)
{
    (void)state;
    check("<script>alert('1')</script> ]]> & \"x\"",
          "&lt;script&gt;alert('1')&lt;/script&gt; ]]&gt; &amp; &quot;x&quot;");
    check("&amp; &#60; <!-- -->", "&amp;amp; &amp;#60; &lt;!-- --&gt;");
    check("\xF0\x9F\x94\xAD \xD7\xA9\xD7\x9C\xD7\x95\xD7\x9D \xC3\xA9",
          "\xF0\x9F\x94\xAD \xD7\xA9\xD7\x9C\xD7\x95\xD7\x9D \xC3\xA9");
    check("a\x01\x1B[31m\x7F", "a\xEF\xBF\xBD\xEF\xBF\xBD[31m\xEF\xBF\xBD");
    check("\xE2\x80\xAE" "abc\xE2\x81\xA6", "\xEF\xBF\xBD" "abc\xEF\xBF\xBD"); /* U+202E, U+2066 */
    check("\xFF\xC3(\xEF\xBF\xBF", "\xEF\xBF\xBD\xEF\xBF\xBD(\xEF\xBF\xBD");    /* U+FFFF */
}

static void test_long_text(void **state)
{
    (void)state;
    char *text = malloc(10001);
    assert_non_null(text);
    memset(text, '<', 10000);
    text[10000] = '\0';
    char *got = written(text, false);
    assert_int_equal(strlen(got), 3 + 4 * 10000 + 5);
    free(got);
    free(text);
}

static void test_nesting(void **state)
{
    (void)state;
    char *out = NULL;
    size_t size = 0;
    markup m = {.out = open_memstream(&out, &size)};
    markup_open(&m, "ul");
    markup_open(&m, "li");
    markup_number(&m, "value", -0.001);
    markup_open(&m, "br");
    markup_void(&m);
    markup_element(&m, "b", "x");
    markup_close_all(&m, 2);
    fclose(m.out);
    assert_string_equal(out, "<ul><li value=\"0\"><br/><b>x</b></li></ul>\n");
    assert_int_equal(m.depth, 0);
    free(out);
}

/* What a screen sets in becomes a list, marks become elements, the user's text stays apart. */
static void test_prose(void **state)
{
    (void)state;
    char *out = NULL;
    size_t size = 0;
    markup m = {.out = open_memstream(&out, &size)};
    prose p;
    markup_open(&m, "div");
    prose_of(&p, &m);
    fw_screen *s = &p.screen;
    fw_screen_say(s, 0, 2, FW_BOLD "Why:" FW_PLAIN " 3" FW_BLANK FW_PM FW_BLANK "1, -2 lap-on-3.");
    fw_screen_begin(s, 2, 4);
    fw_screen_put(s, "- ");
    fw_screen_text(s, "<A>");
    fw_screen_text(s, ""); /* leaves nothing behind */
    fw_screen_end(s);
    fw_screen_say(s, 4, 6, "deeper");
    fw_screen_line(s, "a chart");
    fw_screen_say(s, 2, 4, FW_GOOD "second");
    fw_screen_say(s, 0, 0, "after");
    fw_screen_say(s, 2, 0, "again");
    prose_end(&p);
    markup_close(&m);
    fclose(m.out);
    assert_string_equal(out, "<div>\n<p><b>Why:</b> 3\xC2\xA0\xC2\xB1\xC2\xA0" "1, \xE2\x88\x92"
                             "2 lap-on-3.</p>\n<ul><li><bdi>&lt;A&gt;</bdi>\n<ul><li>deeper</li>"
                             "</ul></li><li><b class=\"good\">second</b></li></ul>\n<p>after</p>\n"
                             "<ul><li>again</li></ul></div>\n");
    free(out);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_text_stays_text),
        cmocka_unit_test(test_long_text),
        cmocka_unit_test(test_nesting),
        cmocka_unit_test(test_prose),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
