/* ini.c - job.ini taken apart: what is read, and where it stands. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "flatwright/alloc.h"
#include "job/ini.h"

static char dump[1 << 16];

/* Everything found: "[name argument] line:column", "key=value line:keycolumn:column", faults. */
static const char *parse_bytes(const char *bytes, size_t length)
{
    fw_ini ini;
    fw_faults faults = {0};
    fw_error err;
    char *text = fw_alloc(length + 1, 1);
    size_t filled = 0, next = 0;
    memcpy(text, bytes, length);
    assert_int_equal(fw_ini_parse(text, length, "job.ini", &ini, &faults, &err), FW_OK);
    for (size_t i = 0; i <= ini.nentries; i++) {
        size_t last = i < ini.nentries ? ini.entries[i].section + 1 : ini.nsections;
        for (; next < last; next++) {
            const fw_ini_section *s = &ini.sections[next];
            filled += (size_t)snprintf(dump + filled, sizeof dump - filled, "[%s|%s] %d:%d\n",
                                       s->name, s->argument, s->line, s->column);
        }
        if (i < ini.nentries) {
            const fw_ini_entry *e = &ini.entries[i];
            filled += (size_t)snprintf(dump + filled, sizeof dump - filled, "%s=%s %d:%d:%d\n",
                                       e->key, e->value, e->line, e->key_column, e->column);
        }
    }
    for (size_t i = 0; i < faults.listed; i++)
        filled += (size_t)snprintf(dump + filled, sizeof dump - filled, "%d:%d: %s\n",
                                   faults.list[i].line, faults.list[i].column,
                                   faults.list[i].text);
    fw_faults_release(&faults);
    fw_ini_release(&ini);
    return dump;
}

static const char *parse(const char *text)
{
    return parse_bytes(text, strlen(text));
}

static void test_plain(void **state)
{
    (void)state;
    assert_string_equal(parse("[set]\nflats = A B C\n[flat B]\nbore=32 mm\n"),
                        "[set|] 1:2\nflats=A B C 2:1:9\n[flat|B] 3:2\nbore=32 mm 4:1:6\n");
}

static void test_habits(void **state)
{
    (void)state;
    assert_string_equal(parse("\xEF\xBB\xBF[ set ]\r\n\r\n\t title =  A  trio \t\r\nbore=1"),
                        "[set|] 1:3\ntitle=A  trio 3:3:12\nbore=1 4:1:6\n");
    assert_string_equal(parse("[set]\rbore = 1\r"), "[set|] 1:2\nbore=1 2:1:8\n");
    assert_string_equal(parse("[flat   B-1 ]"), "[flat|B-1] 1:2\n");
}

static void test_comments(void **state)
{
    (void)state;
    assert_string_equal(parse("; a\n# b\n  ; c\n[set] ; d\n[light] # e\n"),
                        "[set|] 4:2\n[light|] 5:2\n");
    assert_string_equal(parse("[set]\na = 1 ; one\nb = 2\t# two\nc = 1;2\nd = a#b\ne = ; none\n"),
                        "[set|] 1:2\na=1 2:1:5\nb=2 3:1:5\nc=1;2 4:1:5\nd=a#b 5:1:5\n"
                        "e= 6:1:5\n");
    assert_string_equal(parse("[set]\na = \"x ; y # z\" ; w\nb = \"say \"\"so\"\"\"\nc = \"\"\n"),
                        "[set|] 1:2\na=x ; y # z 2:1:5\nb=say \"so\" 3:1:5\nc= 4:1:5\n");
}

static void test_faults(void **state)
{
    (void)state;
    assert_string_equal(parse("bore = 1\n"),
                        "1:1: key 'bore' stands before the first section\n");
    assert_string_equal(parse("[set]\n junk ; = x\n= 5\n"),
                        "[set|] 1:2\n"
                        "2:2: line 'junk' is neither a section nor a key, expected 'key = value'\n"
                        "3:1: line '= 5' is neither a section nor a key, expected 'key = value'\n");
    assert_string_equal(parse("[set\na = 1\n"),
                        "[set|] 1:2\na=1 2:1:5\n"
                        "1:1: the section's name has no end, expected ']'\n");
    assert_string_equal(parse("[set] here\n"),
                        "[set|] 1:2\n"
                        "1:7: text 'here' after the section's name, expected nothing more\n");
    assert_string_equal(parse("[set]\na = \"x\n"),
                        "[set|] 1:2\na=x 2:1:5\n2:5: the quoted value has no closing quote\n");
    assert_string_equal(parse("[set]\na = \"x\" y\n"),
                        "[set|] 1:2\na=x 2:1:5\n"
                        "2:9: text 'y' after the closing quote, expected nothing more\n");
}

static void test_junk(void **state)
{
    (void)state;
    assert_string_equal(parse(""), "1:0: is empty, expected the sections of a job\n");
    assert_string_equal(parse("\n\n; nothing\n"),
                        "1:0: is empty, expected the sections of a job\n");
    assert_string_equal(parse_bytes("[set]\na\0b", 9),
                        "2:2: holds binary data (a 0 byte), expected UTF-8 text\n");
    assert_string_equal(parse("[set]\na = 1\x01\n"),
                        "[set|] 1:2\n2:6: byte 0x01 is not text, expected UTF-8 without control "
                        "characters\n");
}

/* The usual library cuts a line at 200 bytes. */
static void test_long_line(void **state)
{
    static char text[20000];
    (void)state;
    size_t filled = (size_t)snprintf(text, sizeof text, "[set]\ntitle = ");
    memset(text + filled, 'x', 10000);
    snprintf(text + filled + 10000, sizeof text - filled - 10000, "\nbore = 1\n");
    const char *found = parse(text);
    assert_int_equal(strlen(found), strlen("[set|] 1:2\ntitle= 2:1:9\nbore=1 3:1:8\n") + 10000);
    assert_string_equal(strstr(found, "bore"), "bore=1 3:1:8\n");
}

static void test_many_lines(void **state)
{
    static char text[40000];
    size_t filled = (size_t)snprintf(text, sizeof text, "[set]\n");
    (void)state;
    for (int i = 0; i < 1000; i++)
        filled += (size_t)snprintf(text + filled, sizeof text - filled, "k%d = %d\n", i, i);
    assert_string_equal(strstr(parse(text), "k999"), "k999=999 1001:1:8\n");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_plain),     cmocka_unit_test(test_habits),
        cmocka_unit_test(test_comments),  cmocka_unit_test(test_faults),
        cmocka_unit_test(test_junk),      cmocka_unit_test(test_long_line),
        cmocka_unit_test(test_many_lines)};
    return cmocka_run_group_tests_name("ini", tests, NULL, NULL);
}
