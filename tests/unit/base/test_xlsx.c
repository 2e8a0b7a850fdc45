/* base/xlsx: reading the first sheet, and refusing what was made to do harm. */
#include "base/mem.h"
#include "base/xlsx.h"
#include "check.h"

#include <zip.h>

/* Packs parts (name, text, name, text ..., NULL) into a file in memory. */
struct packed {
    char *bytes;
    size_t n;
};

static struct packed pack(const char *const *parts) {
    zip_error_t ze;
    zip_source_t *s = zip_source_buffer_create(NULL, 0, 0, &ze);
    zip_source_keep(s);
    zip_t *z = zip_open_from_source(s, ZIP_CREATE | ZIP_TRUNCATE, &ze);
    assert_non_null(z);
    for (; parts[0]; parts += 2)
        zip_file_add(z, parts[0], zip_source_buffer(z, parts[1], strlen(parts[1]), 0), 0);
    assert_int_equal(zip_close(z), 0);
    zip_stat_t st;
    zip_source_stat(s, &st);
    struct packed p = {malloc(st.size), st.size};
    zip_source_open(s);
    zip_source_read(s, p.bytes, st.size);
    zip_source_close(s);
    zip_source_free(s);
    return p;
}

#define REL(id, type, target)                                                                      \
    "<Relationship Id=\"" id "\" Type=\"http://x/relationships/" type "\" Target=\"" target "\"/>"
static const char rels[] =
    "<Relationships>" REL("rId1", "officeDocument", "xl/workbook.xml") "</"
                                                                       "Relationships>";
static const char book[] =
    "<workbook xmlns:r=\"http://r\"><workbookPr/><sheets><sheet name=\"Finds\" sheetId=\"1\" "
    "r:id=\"rId2\"/><sheet name=\"Other\" sheetId=\"2\" r:id=\"rId3\"/></sheets></workbook>";
static const char book_rels[] = "<Relationships>" REL("rId2", "worksheet", "worksheets/sheet1.xml")
    REL("rId3", "worksheet", "/xl/worksheets/sheet2.xml") REL("rId4", "styles", "styles.xml")
        REL("rId5", "sharedStrings", "sharedStrings.xml") "</Relationships>";
static const char styles[] =
    "<styleSheet><numFmts><numFmt numFmtId=\"164\" formatCode=\"yyyy&quot;m&quot;\"/><numFmt "
    "numFmtId=\"165\" formatCode=\"0.0&quot; mm&quot;\"/></numFmts><cellStyleXfs><xf "
    "numFmtId=\"14\"/></cellStyleXfs><cellXfs><xf numFmtId=\"0\"/><xf numFmtId=\"14\"/><xf "
    "numFmtId=\"164\"/><xf numFmtId=\"165\"/><xf numFmtId=\"22\"/></cellXfs></styleSheet>";
static const char strings[] = "<sst><si><t>id</t></si><si><r><t>wid</t></r><r><t>th &amp; "
                              "more</t></r><rPh><t>no</t></rPh></si><si><t/></si></sst>";

static struct packed pack_sheet(const char *sheet) {
    const char *const parts[] = {"_rels/.rels",
                                 rels,
                                 "xl/workbook.xml",
                                 book,
                                 "xl/_rels/workbook.xml.rels",
                                 book_rels,
                                 "xl/styles.xml",
                                 styles,
                                 "xl/sharedStrings.xml",
                                 strings,
                                 "xl/worksheets/sheet1.xml",
                                 sheet,
                                 NULL};
    return pack(parts);
}

static const char good[] =
    "<worksheet><sheetData><row r=\"2\"><c r=\"A2\" t=\"s\"><v>0</v></c><c r=\"C2\" "
    "t=\"s\"><v>1</v>"
    "</c></row><row r=\"3\"/><row r=\"5\"><c r=\"A5\" t=\"inlineStr\"><is><t>B&lt;1</t></is></c><c "
    "r=\"B5\" s=\"3\"><v>22.100000000000001</v></c><c><v>1E-3</v></c><c t=\"b\"><v>1</v></c><c "
    "t=\"str\"><f>A1&amp;\"x\"</f><v>made</v></c><c t=\"e\"><v>#REF!</v></c><c s=\"1\"><v>36526</v>"
    "</c><c s=\"2\"><v>61</v></c><c s=\"4\"><v>44927.75</v></c><c s=\"1\"><v>1</v></c><c "
    "t=\"s\"><v>2</v></c></row></sheetData></worksheet>";

static void the_first_sheet_is_read(void **state) {
    (void)state;
    struct packed p = pack_sheet(good);
    struct arena *a = arena_new();
    struct csv_table t;
    struct error err = {0};
    const char *name;
    assert_true(xlsx_is(p.bytes, p.n));
    check_ok(xlsx_read(&t, &name, p.bytes, p.n, a, &err), &err);
    assert_string_equal(name, "Finds");
    assert_int_equal(t.n, 2);
    assert_int_equal(t.rows[0].line, 2);
    assert_int_equal(t.rows[0].n, 3);
    assert_string_equal(t.rows[0].cells[0], "id");
    assert_string_equal(t.rows[0].cells[1], "");
    assert_string_equal(t.rows[0].cells[2], "width & more");
    /* Serial dates: ECMA-376 part 1, 18.17.4.1: 1 is 1900-01-01; 36526 is 2000-01-01, 61 is
     * 1900-03-01, 44927.75 is 2023-01-01 18:00 (days counted by hand from 1970-01-01 = 25569). */
    static const char *const want[] = {"B<1",        "22.1",       "0.001",
                                       "true",       "made",       "#REF!",
                                       "2000-01-01", "1900-03-01", "2023-01-01T18:00:00",
                                       "1900-01-01"};
    assert_int_equal(t.rows[1].line, 5);
    assert_int_equal(t.rows[1].n, 10);
    for (size_t i = 0; i < 10; i++)
        assert_string_equal(t.rows[1].cells[i], want[i]);
    arena_free(a);
    free(p.bytes);
}

static void refuse(struct packed p, const char *word) {
    struct arena *a = arena_new();
    struct csv_table t;
    struct error err = {0};
    assert_int_equal(xlsx_read(&t, NULL, p.bytes, p.n, a, &err), ERR_INPUT);
    if (!strstr(err.message, word)) fail_msg("\"%s\" not in \"%s\"", word, err.message);
    assert_true(*err.remedy != 0);
    assert_true(arena_used(a) < 50000000);
    arena_free(a);
    free(p.bytes);
}

static void bombs_are_refused(void **state) {
    (void)state;
    /* A billion laughs: entities are not even declared. */
    refuse(pack_sheet("<!DOCTYPE w [<!ENTITY a \"aaaa\"><!ENTITY b \"&a;&a;\">]><worksheet>&b;"
                      "</worksheet>"),
           "document type");
    /* Thirty million spaces in thirty thousand bytes. */
    size_t n = 30000000;
    char *big = malloc(n + 100);
    strcpy(big, "<worksheet>");
    memset(big + 11, ' ', n);
    strcpy(big + 11 + n, "</worksheet>");
    refuse(pack_sheet(big), "far more");
    /* Nested a thousand deep. */
    char *deep = big;
    *deep = 0;
    for (int i = 0; i < 1000; i++)
        strcpy(deep + 3 * i, "<a>");
    refuse(pack_sheet(deep), "nested");
    free(big);
    refuse(pack_sheet("<worksheet><row><c r=\"XFD1\"><v>1</v></c></row></worksheet>"), "wider");
    refuse(pack_sheet("<worksheet><row><c t=\"s\"><v>99</v></c></row></worksheet>"), "not there");
    refuse(pack_sheet("<worksheet><row>"), "not in order");
    const char *parts[2 * 2100 + 1];
    static char names[2100][8];
    for (int i = 0; i < 2100; i++) {
        snprintf(names[i], sizeof names[i], "%d", i);
        parts[2 * i] = names[i];
        parts[2 * i + 1] = "";
    }
    parts[2 * 2100] = NULL;
    refuse(pack(parts), "too many parts");
    const char *const other[] = {"word/document.xml", "<a/>", NULL};
    refuse(pack(other), "lacks a part");
    char *old = malloc(8);
    memcpy(old, "\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1", 8);
    refuse((struct packed){old, 8}, "password");
}

static void damage_never_crashes(void **state) {
    (void)state;
    struct packed p = pack_sheet(good);
    char *copy = malloc(p.n);
    unsigned long x = 42;
    size_t read = 0;
    for (int i = 0; i < 3000; i++) {
        memcpy(copy, p.bytes, p.n);
        for (int k = 0; k < 1 + i % 4; k++) {
            x = x * 6364136223846793005ul + 1442695040888963407ul; /* Knuth 2, MMIX */
            copy[(x >> 20) % p.n] = (char)(x >> 50);
        }
        struct arena *a = arena_new();
        struct csv_table t;
        struct error err = {0};
        size_t n = i % 5 ? p.n : (x >> 33) % p.n;
        if (xlsx_read(&t, NULL, copy, n, a, &err) == 0)
            read++;
        else
            assert_true(*err.message && *err.remedy);
        arena_free(a);
    }
    assert_true(read < 3000);
    free(copy);
    free(p.bytes);
}

static void every_failed_allocation_is_told(void **state) {
    (void)state;
    struct packed p = pack_sheet(good);
    int rc = 1;
    for (long n = 1; rc; n++) {
        struct arena *a = arena_new();
        struct csv_table t;
        struct error err = {0};
        mem_fail_nth(n);
        rc = xlsx_read(&t, NULL, p.bytes, p.n, a, &err);
        mem_fail_nth(0);
        if (rc) assert_int_equal(rc, ERR_MEMORY);
        assert_true(n < 2000);
        arena_free(a);
    }
    free(p.bytes);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_first_sheet_is_read),
        cmocka_unit_test(bombs_are_refused),
        cmocka_unit_test(damage_never_crashes),
        cmocka_unit_test(every_failed_allocation_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
