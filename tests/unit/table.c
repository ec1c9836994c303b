/* table.c - tables as RFC 4180 defines them and as spreadsheets save them; places of faults. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "../support/close.h"
#include "../support/folder.h"
#include "job/table.h"

static const fw_column columns[] = {{"name", true}, {"size", true}, {"note", false}};

static char dump[1 << 16];

/* Reads dir/t.csv: "line: name|size|note" a row ("-": empty or no column), then the faults. */
static const char *read_table(const folder *at, bool optional)
{
    char path[80];
    fw_table t;
    fw_faults faults = {0};
    fw_error err = {FW_OK, ""};
    fw_row row;
    size_t filled = 0;
    snprintf(path, sizeof path, "%s/t.csv", at->path);
    dump[0] = '\0';
    assert_int_equal(fw_table_open(&t, path, columns, 3, optional, &faults, &err), FW_OK);
    while ((row = fw_table_next(&t, &err)) == FW_ROW) {
        filled += (size_t)snprintf(dump + filled, sizeof dump - filled, "%d: ", t.rows.line);
        for (int i = 0; i < 3; i++) {
            const fw_field *field = fw_table_field(&t, i);
            if (field)
                assert_int_equal(strlen(field->text), field->length);
            filled += (size_t)snprintf(dump + filled, sizeof dump - filled, "%.20s%s",
                                       field ? field->text : "-", i < 2 ? "|" : "\n");
        }
    }
    assert_int_equal(row, FW_ROW_END);
    for (size_t i = 0; i < faults.listed; i++)
        filled += (size_t)snprintf(dump + filled, sizeof dump - filled, "%d:%d: %s\n",
                                   faults.list[i].line, faults.list[i].column,
                                   faults.list[i].text);
    fw_table_close(&t);
    fw_faults_release(&faults);
    return dump;
}

static void check_bytes(const char *bytes, size_t size, const char *expected)
{
    folder at = folder_make();
    folder_write_bytes(&at, "t.csv", bytes, size);
    read_table(&at, false);
    folder_remove(&at);
    assert_string_equal(dump, expected);
}

static void check(const char *text, const char *expected)
{
    check_bytes(text, strlen(text), expected);
}

/* RFC 4180 section 2, rules 1 to 7 in order. */
static void test_rfc4180(void **state)
{
    (void)state;
    check("name,size\r\naaa,1\r\nbbb,2\r\n", "2: aaa|1|-\n3: bbb|2|-\n");
    check("name,size\r\naaa,1\r\nbbb,2", "2: aaa|1|-\n3: bbb|2|-\n");
    check("size,note,name\r\n1,x,aaa\r\n", "2: aaa|1|x\n");
    check("name,size,note\r\naaa,1,\r\n", "2: aaa|1|-\n");
    check("\"name\",\"size\"\r\n\"aaa\",\"1\"\r\nb,2\r\n", "2: aaa|1|-\n3: b|2|-\n");
    check("name,size\r\n\"a\r\nb,b\",1\r\nc,2\r\n", "2: a\r\nb,b|1|-\n4: c|2|-\n");
    check("name,size\r\n\"a\"\"b\",1\r\n\"\"\"\",2\r\n", "2: a\"b|1|-\n3: \"|2|-\n");
}

static void test_spreadsheets(void **state)
{
    (void)state;
    check("\xEF\xBB\xBFname,size\nA,1\n", "2: A|1|-\n");
    check("\xEF\xBB\xBF\"name\",size\nA,1\n", "2: A|1|-\n");
    check("name;size\nA;1,5\n", "2: A|1,5|-\n");
    check("sep=;\r\nname;size\r\nA;1,5\r\n", "3: A|1,5|-\n");
    check("name,size\rA,1\rB,2\r", "2: A|1|-\n3: B|2|-\n");
    check("name,size\nA,1\n\n\r\n  \n", "2: A|1|-\n");
    check("name,size,,\nA,1,,\n,,,\n ; \nB,2,,,\n",
          "2: A|1|-\n5: B|2|-\n4:0: the row has 1 field, expected 2\n");
    check(" name , size \n A , 1 \n\" B \",\" 2\"\n", "2: A|1|-\n3: B|2|-\n");
    check("name,size\r\r\nA,1\r\r\n", "2: A|1|-\n");
}

static void test_comments(void **state)
{
    (void)state;
    check("# 5\" glass, \"open\n\n  # more\nname,size\n#A,1\nB,2\n# end", "6: B|2|-\n");
    check("\"# saved, by a spreadsheet\",\nname,size\n\"#A,1\",\nB,2\n", "4: B|2|-\n");
    check("name,size\n\"# two\nlines\",\nB,2\n", "4: B|2|-\n");
    check("name,size\nA#1,2\n", "2: A#1|2|-\n");
}

static void test_header_faults(void **state)
{
    (void)state;
    check("name,sise,name\nA,1,B\n",
          "2: A|-|-\n1:6: unknown column 'sise', did you mean 'size'?\n"
          "1:11: column 'name' stands a second time, first as column 1\n"
          "1:0: column 'size' is missing\n");
    check("name,,size\nA,1,2\n", "2: A|2|-\n1:6: column 2 has no name\n");
    check("A,1\nB,2\n",
          "1:0: the first line is no header with known columns, expected name, size, note\n");
    check("name\tsize\nA\t1\n",
          "1:0: the columns are separated by tabs, expected commas or semicolons\n");
    check("name,\"size\nA,1\n", "1:6: the quoted value has no closing quote\n");
    check("Name,size\nA,1\n",
          "2: -|1|-\n1:1: unknown column 'Name', did you mean 'name'?\n"
          "1:0: column 'name' is missing\n");
    check("name,si\033[2Jze,size\nA,1,2\n",
          "2: A|2|-\n1:6: unknown column 'si\\x1b[2Jze', expected name, size, note\n");
}

static void test_row_faults(void **state)
{
    (void)state;
    check("name,size\nA\nB,2,3\nC,3,,\nD,4\n",
          "4: C|3|-\n5: D|4|-\n2:0: the row has 1 field, expected 2\n"
          "3:5: the row has 3 fields, expected 2\n");
    check("name,size\nA\"x,1\nB,2\n",
          "3: B|2|-\n2:1: the value has a quote out of place, expected \"...\" with every quote "
          "inside doubled\n");
    check("name,size\nA,\"1\"2\nB,2\n",
          "3: B|2|-\n2:3: the value has a quote out of place, expected \"...\" with every quote "
          "inside doubled\n");
    check("name,size\nA,1\rB,2\nC,3\n",
          "3: C|3|-\n2:1: a bare carriage return stands inside the line\n");
}

/* What follows an open quote is read all the same. */
static void test_open_quote(void **state)
{
    (void)state;
    check("name,size\n\"A,1\nB,2\nC,3\n",
          "3: B|2|-\n4: C|3|-\n2:1: the quoted value has no closing quote\n");
    check("name,size\nA,\"1\nB,2\n\"C,3\nD,4\n",
          "3: B|2|-\n5: D|4|-\n2:3: the value has a quote out of place, expected \"...\" with "
          "every quote inside doubled\n4:1: the quoted value has no closing quote\n");
}

static void test_many_open_quotes(void **state)
{
    char text[4000];
    size_t filled = (size_t)snprintf(text, sizeof text, "name,size\n");
    (void)state;
    for (int i = 0; i < 101; i++)
        filled += (size_t)snprintf(text + filled, sizeof text - filled, "\"A\n");
    folder at = folder_make();
    folder_write(&at, "t.csv", text);
    read_table(&at, false);
    folder_remove(&at);
    assert_non_null(strstr(dump, "too many quoted values without an end, the rest is not read\n"));
}

static void test_junk(void **state)
{
    (void)state;
    check("", "1:0: is empty, expected a header line\n");
    check("\n\n# nothing\n,,\n", "1:0: is empty, expected a header line\n");
    check_bytes("\0\0\0", 3, "1:1: holds binary data (a 0 byte), expected UTF-8 text\n");
    check_bytes("name,size\nA,1\nB\0,2\nC,3\n", 22,
                "2: A|1|-\n3:2: holds binary data (a 0 byte), expected UTF-8 text\n");
    check_bytes("\xFF\xFEn\0a\0", 6, "1:0: is UTF-16 text, expected UTF-8\n");
}

/* Rows across the edges of the buffer, and one of just under the limit. */
static void test_sizes(void **state)
{
    enum { ROWS = 60000 };
    size_t room = (size_t)4 << 20, filled;
    char *text = malloc(room);
    char last[80];
    folder at = folder_make();
    (void)state;
    filled = (size_t)snprintf(text, room, "name,size,note\n");
    for (int i = 0; i < ROWS; i++)
        filled += (size_t)snprintf(text + filled, room - filled, "n%d,%d,\"%.*s\"\n", i, i, i % 17,
                                   "x\nyyyyyyyyyyyyyyyyy");
    folder_write_bytes(&at, "t.csv", text, filled);

    char path[80];
    fw_table t;
    fw_faults faults = {0};
    fw_error err;
    snprintf(path, sizeof path, "%s/t.csv", at.path);
    assert_int_equal(fw_table_open(&t, path, columns, 3, false, &faults, &err), FW_OK);
    int line = 2;
    for (int i = 0; i < ROWS; i++) {
        assert_int_equal(fw_table_next(&t, &err), FW_ROW);
        snprintf(last, sizeof last, "n%d", i);
        assert_string_equal(fw_table_field(&t, 0)->text, last);
        assert_int_equal(t.rows.line, line);
        line += i % 17 > 1 ? 2 : 1;
    }
    assert_int_equal(fw_table_next(&t, &err), FW_ROW_END);
    assert_int_equal(faults.count, 0);
    fw_table_close(&t);

    filled = (size_t)snprintf(text, room, "name,size,note\nA,1,");
    memset(text + filled, 'x', FW_RECORD_LIMIT - 10);
    filled += FW_RECORD_LIMIT - 10;
    filled += (size_t)snprintf(text + filled, room - filled, "\nB,2,\n");
    folder_write_bytes(&at, "t.csv", text, filled);
    assert_string_equal(read_table(&at, false), "2: A|1|xxxxxxxxxxxxxxxxxxxx\n3: B|2|-\n");

    filled = (size_t)snprintf(text, room, "name,size,note\nA,1,");
    memset(text + filled, 'x', FW_RECORD_LIMIT + 10);
    folder_write_bytes(&at, "t.csv", text, filled + FW_RECORD_LIMIT + 10);
    assert_string_equal(read_table(&at, false), "2:0: the line is longer than 1 MB\n");
    folder_remove(&at);
    free(text);
}

static void test_places(void **state)
{
    char path[80];
    folder at = folder_make();
    (void)state;
    assert_string_equal(read_table(&at, false), "0:0: is missing, every job has one\n");
    assert_string_equal(read_table(&at, true), "");
    snprintf(path, sizeof path, "%s/t.csv", at.path);
    assert_int_equal(mkfifo(path, 0600), 0);
    assert_string_equal(read_table(&at, true), "0:0: is not a regular file\n");
    assert_int_equal(remove(path), 0);
    assert_int_equal(mkdir(path, 0700), 0);
    assert_string_equal(read_table(&at, true), "0:0: is a folder, expected a file\n");
    folder_remove(&at);
}

/* The column of a fault counts bytes of its own line, also behind a value of two lines. */
static void test_fault_place(void **state)
{
    char path[80];
    fw_table t;
    fw_faults faults = {0};
    fw_error err;
    folder at = folder_make();
    (void)state;
    folder_write(&at, "t.csv", "name,note,size\n\"a,\"\"\nb\",  x, 12\n");
    snprintf(path, sizeof path, "%s/t.csv", at.path);
    assert_int_equal(fw_table_open(&t, path, columns, 3, false, &faults, &err), FW_OK);
    assert_int_equal(fw_table_next(&t, &err), FW_ROW);
    fw_table_fault(&t, 0, "name");
    fw_table_fault(&t, 1, "size");
    fw_table_fault(&t, 2, "note");
    const int places[3][2] = {{2, 1}, {3, 9}, {3, 6}};
    for (int i = 0; i < 3; i++) {
        assert_int_equal(faults.list[i].line, places[i][0]);
        assert_int_equal(faults.list[i].column, places[i][1]);
    }
    fw_table_close(&t);
    fw_faults_release(&faults);
    folder_remove(&at);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rfc4180),       cmocka_unit_test(test_spreadsheets),
        cmocka_unit_test(test_comments),      cmocka_unit_test(test_header_faults),
        cmocka_unit_test(test_row_faults),    cmocka_unit_test(test_open_quote),
        cmocka_unit_test(test_many_open_quotes), cmocka_unit_test(test_junk),
        cmocka_unit_test(test_sizes),         cmocka_unit_test(test_places),
        cmocka_unit_test(test_fault_place)};
    return cmocka_run_group_tests_name("table", tests, NULL, NULL);
}
