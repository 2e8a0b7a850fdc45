/* Any bytes as a spreadsheet; and, when they do not begin as a ZIP file does, as the parts of one
 * (separated by the byte 1e: sheet, shared strings, styles, workbook), packed here, so that the
 * readers behind the packing are reached. */
#include "base/xlsx.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <zip.h>

#define REL(id, type, target)                                                                      \
    "<Relationship Id=\"" id "\" Type=\"http://x/relationships/" type "\" Target=\"" target "\"/>"

static const char rels[] =
    "<Relationships>" REL("rId1", "officeDocument", "xl/workbook.xml") "</Relationships>";
static const char book[] = "<workbook xmlns:r=\"http://r\"><sheets><sheet name=\"A\" "
                           "sheetId=\"1\" r:id=\"rId2\"/></sheets></workbook>";
static const char book_rels[] = "<Relationships>" REL("rId2", "worksheet", "worksheets/sheet1.xml")
    REL("rId4", "styles", "styles.xml")
        REL("rId5", "sharedStrings", "sharedStrings.xml") "</"
                                                          "Relationsh"
                                                          "ips>";

static void add(zip_t *z, const char *name, const void *bytes, size_t n) {
    zip_int64_t i = zip_file_add(z, name, zip_source_buffer(z, bytes, n, 0), 0);
    if (i >= 0) zip_set_file_compression(z, (zip_uint64_t)i, ZIP_CM_STORE, 0);
}

/* The packed file; *n its size. The caller frees. */
static char *pack(const uint8_t *bytes, size_t *n) {
    static const char *const names[] = {"xl/worksheets/sheet1.xml", "xl/sharedStrings.xml",
                                        "xl/styles.xml", "xl/workbook.xml"};
    zip_source_t *s = zip_source_buffer_create(NULL, 0, 0, NULL);
    zip_source_keep(s);
    zip_t *z = zip_open_from_source(s, ZIP_CREATE | ZIP_TRUNCATE, NULL);
    add(z, "_rels/.rels", rels, sizeof rels - 1);
    add(z, "xl/_rels/workbook.xml.rels", book_rels, sizeof book_rels - 1);
    size_t at = 0, part = 0;
    for (; part < 4 && at <= *n; part++) {
        const uint8_t *end = at < *n ? memchr(bytes + at, 0x1e, *n - at) : NULL;
        size_t stop = end ? (size_t)(end - bytes) : *n;
        add(z, names[part], bytes + at, stop - at);
        at = stop + 1;
    }
    if (part < 4) add(z, "xl/workbook.xml", book, sizeof book - 1);
    char *out = NULL;
    zip_stat_t st;
    if (zip_close(z) == 0 && zip_source_stat(s, &st) == 0 && zip_source_open(s) == 0) {
        out = malloc(st.size + 1);
        *n = st.size;
        zip_source_read(s, out, st.size);
        zip_source_close(s);
    } else
        zip_discard(z);
    zip_source_free(s);
    return out;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n) {
    char *packed = n < 2 || bytes[0] != 'P' || bytes[1] != 'K' ? pack(bytes, &n) : NULL;
    struct arena *a = arena_new();
    struct csv_table table;
    struct error err = {0};
    if (xlsx_read(&table, NULL, packed ? packed : (const char *)bytes, n, a, &err) && !*err.message)
        abort();
    arena_free(a);
    free(packed);
    return 0;
}
