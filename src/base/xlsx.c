#include "base/xlsx.h"

#include "base/mem.h"

#include <ctype.h>
#include <expat.h>
#include <limits.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zip.h>

enum {
    MOST_PARTS = 2000,
    MOST_PART_BYTES = 200000000, /* one part, unpacked */
    MOST_BYTES = 400000000,      /* all that are read, unpacked */
    MOST_RATIO = 500,            /* unpacked to packed, for parts above SMALL_PART */
    SMALL_PART = 2000000,
    MOST_DEPTH = 64,
    MOST_ROWS = 1000000,
    MOST_COLUMNS = 1000,
    MOST_CELL = 32767, /* signs in a cell: ECMA-376 gives spreadsheets no more */
    MOST_STYLES = 65536,
};

struct book {
    zip_t *zip;
    struct arena *arena;
    struct error *err;
    int rc;             /* first failure */
    size_t unpacked;    /* bytes so far */
    char workbook[256]; /* part names */
    char first_id[128]; /* relationship id of the first sheet */
    char sheet[256], strings[256], styles[256];
    const char *sheet_name;
    bool from_1904;
    const char **shared; /* [shared_count] */
    size_t shared_count, shared_room;
    struct format {
        long id;
        bool is_date;
    } * formats; /* those the file declares */
    size_t format_count, format_room;
    bool *date_style; /* [style_count] of cellXfs */
    size_t style_count, style_room;
};

static int refuse(struct book *b, const char *what) {
    if (!b->rc)
        b->rc = fail(b->err, ERR_INPUT, "Save the table as CSV in UTF-8 and bring that in.",
                     "The spreadsheet %s.", what);
    return b->rc;
}

static int out_of_memory(struct book *b) {
    if (!b->rc) b->rc = fail_memory(b->err);
    return b->rc;
}

/* Makes room for one more element of a growing list. */
static bool grow(struct book *b, void *list, size_t n, size_t *room, size_t size) {
    if (n < *room) return true;
    size_t more = *room ? 2 * *room : 64;
    void **at = list, *v = mem_resize(*at, more, size);
    if (!v) return out_of_memory(b), false;
    *at = v;
    *room = more;
    return true;
}

/* ---- one XML part --------------------------------------------------------------------------- */

struct xml {
    struct book *book;
    XML_Parser parser;
    int depth;
    void (*open)(struct xml *x, const char *name, const char **attributes);
    void (*close)(struct xml *x, const char *name);
    bool take_text; /* character data goes to text */
    char *text;
    size_t n, room;
    void *state;
};

static void stop(struct xml *x) {
    XML_StopParser(x->parser, XML_FALSE);
}

/* Name without its namespace prefix. */
static const char *local(const char *name) {
    const char *colon = strrchr(name, ':');
    return colon ? colon + 1 : name;
}

static const char *attribute(const char **attributes, const char *name) {
    for (; attributes[0]; attributes += 2)
        if (strcmp(local(attributes[0]), name) == 0) return attributes[1];
    return NULL;
}

static void XMLCALL on_open(void *user, const char *name, const char **attributes) {
    struct xml *x = user;
    if (++x->depth > MOST_DEPTH) refuse(x->book, "is nested too deeply");
    if (!x->book->rc) x->open(x, local(name), attributes);
    if (x->book->rc) stop(x);
}

static void XMLCALL on_close(void *user, const char *name) {
    struct xml *x = user;
    x->depth--;
    if (!x->book->rc && x->close) x->close(x, local(name));
    if (x->book->rc) stop(x);
}

static void XMLCALL on_text(void *user, const char *s, int n) {
    struct xml *x = user;
    if (!x->take_text || x->book->rc) return;
    if (x->n + (size_t)n > 4 * MOST_CELL) {
        refuse(x->book, "has a cell that is too long");
        stop(x);
        return;
    }
    while (x->n + (size_t)n + 1 > x->room)
        if (!grow(x->book, &x->text, x->room, &x->room, 1)) {
            stop(x);
            return;
        }
    memcpy(x->text + x->n, s, (size_t)n);
    x->n += (size_t)n;
    x->text[x->n] = 0;
}

static void XMLCALL on_doctype(void *user, const char *name, const char *system, const char *public,
                               int internal) {
    (void)name, (void)system, (void)public, (void)internal;
    struct xml *x = user;
    refuse(x->book, "declares a document type, which no spreadsheet needs");
    stop(x);
}

static void *xml_malloc(size_t n) {
    return mem_alloc(1, n);
}
static void *xml_realloc(void *p, size_t n) {
    return mem_resize(p, 1, n);
}

/* Unpacks a part piece by piece into the parser, watching size and ratio. */
static int feed(struct xml *x, zip_file_t *file, size_t packed) {
    struct book *b = x->book;
    size_t unpacked = 0;
    for (;;) {
        enum { PIECE = 65536 };
        void *buffer = XML_GetBuffer(x->parser, PIECE);
        if (!buffer) return out_of_memory(b);
        zip_int64_t n = zip_fread(file, buffer, PIECE);
        if (n < 0) return refuse(b, "is damaged: a part of it cannot be unpacked");
        unpacked += (size_t)n;
        b->unpacked += (size_t)n;
        if (unpacked > MOST_PART_BYTES || b->unpacked > MOST_BYTES)
            return refuse(b, "is too large when unpacked");
        if (unpacked > SMALL_PART && unpacked / (packed + 1) > MOST_RATIO)
            return refuse(b, "unpacks to far more than it holds; it may be made to do harm");
        enum XML_Status status = XML_ParseBuffer(x->parser, (int)n, n == 0);
        if (b->rc) return b->rc;
        if (status != XML_STATUS_OK) {
            if (XML_GetErrorCode(x->parser) == XML_ERROR_NO_MEMORY) return out_of_memory(b);
            return refuse(b, "is damaged: a part of it is not in order");
        }
        if (n == 0) return 0;
    }
}

static int read_part(struct book *b, const char *name, struct xml *x) {
    zip_stat_t st;
    if (zip_stat(b->zip, name, 0, &st) || !(st.valid & ZIP_STAT_COMP_SIZE))
        return refuse(b, "lacks a part that it names");
    if ((st.valid & ZIP_STAT_ENCRYPTION_METHOD) && st.encryption_method != ZIP_EM_NONE)
        return refuse(b, "is locked with a password");
    zip_file_t *file = zip_fopen_index(b->zip, st.index, 0);
    if (!file) return refuse(b, "is packed in a way that is not known here");
    static const XML_Memory_Handling_Suite memory = {xml_malloc, xml_realloc, mem_free};
    x->book = b;
    x->parser = XML_ParserCreate_MM(NULL, &memory, NULL);
    if (!x->parser) out_of_memory(b);
    if (x->parser) {
        XML_SetUserData(x->parser, x);
        XML_SetElementHandler(x->parser, on_open, on_close);
        XML_SetCharacterDataHandler(x->parser, on_text);
        XML_SetStartDoctypeDeclHandler(x->parser, on_doctype);
        XML_SetParamEntityParsing(x->parser, XML_PARAM_ENTITY_PARSING_NEVER);
        feed(x, file, st.comp_size);
        XML_ParserFree(x->parser);
    }
    mem_free(x->text);
    zip_fclose(file);
    return b->rc;
}

/* ---- which part is which (ECMA-376 part 2, clause 9: relationships) ---------------------------
 */

/* Joins a relationship's target to the folder of the part that names it. */
static void resolve(char *out, size_t size, const char *from, const char *target) {
    const char *slash = strrchr(from, '/');
    int folder = slash ? (int)(slash - from) + 1 : 0;
    if (*target == '/') {
        snprintf(out, size, "%s", target + 1);
        return;
    }
    while (strncmp(target, "../", 3) == 0 && folder > 0) {
        target += 3;
        folder--;
        while (folder > 0 && from[folder - 1] != '/')
            folder--;
    }
    snprintf(out, size, "%.*s%s", folder, from, target);
}

static bool ends_in(const char *text, const char *tail) {
    size_t n = strlen(text), k = strlen(tail);
    return n >= k && strcmp(text + n - k, tail) == 0;
}

static void open_relationship(struct xml *x, const char *name, const char **attributes) {
    struct book *b = x->book;
    const char *type = attribute(attributes, "Type"), *target = attribute(attributes, "Target");
    const char *id = attribute(attributes, "Id"), *from = x->state;
    if (strcmp(name, "Relationship") != 0 || !type || !target) return;
    if (ends_in(type, "/officeDocument") && !*b->workbook)
        resolve(b->workbook, sizeof b->workbook, from, target);
    else if (ends_in(type, "/sharedStrings"))
        resolve(b->strings, sizeof b->strings, from, target);
    else if (ends_in(type, "/styles"))
        resolve(b->styles, sizeof b->styles, from, target);
    else if (ends_in(type, "/worksheet") && id && strcmp(id, b->first_id) == 0)
        resolve(b->sheet, sizeof b->sheet, from, target);
}

static void open_workbook(struct xml *x, const char *name, const char **attributes) {
    struct book *b = x->book;
    if (strcmp(name, "workbookPr") == 0) {
        const char *v = attribute(attributes, "date1904");
        b->from_1904 = v && (strcmp(v, "1") == 0 || strcmp(v, "true") == 0);
    }
    if (strcmp(name, "sheet") != 0 || *b->first_id) return;
    const char *title = attribute(attributes, "name");
    for (; attributes[0]; attributes += 2) /* r:id beside sheetId: only the prefixed one */
        if (strchr(attributes[0], ':') && strcmp(local(attributes[0]), "id") == 0)
            snprintf(b->first_id, sizeof b->first_id, "%s", attributes[1]);
    b->sheet_name = arena_strdup(b->arena, title ? title : "");
    if (!b->sheet_name) out_of_memory(b);
}

static int read_map(struct book *b) {
    char rels[300], folder[256];
    struct xml root = {.open = open_relationship, .state = ""};
    if (read_part(b, "_rels/.rels", &root)) return b->rc;
    if (!*b->workbook) return refuse(b, "holds no workbook; it is another kind of packed file");
    struct xml book = {.open = open_workbook};
    if (read_part(b, b->workbook, &book)) return b->rc;
    if (!*b->first_id) return refuse(b, "holds no sheet");
    resolve(folder, sizeof folder, b->workbook, "_rels/");
    const char *slash = strrchr(b->workbook, '/');
    snprintf(rels, sizeof rels, "%s%.30s.rels", folder, slash ? slash + 1 : b->workbook);
    struct xml parts = {.open = open_relationship, .state = b->workbook};
    if (read_part(b, rels, &parts)) return b->rc;
    return *b->sheet ? 0 : refuse(b, "holds no sheet of cells first (a chart?)");
}

/* ---- styles: which numbers are dates (ECMA-376 part 1, 18.8.30 numFmt) ------------------------
 */

/* A format code shows a date or time if a letter of one stands outside quotes and brackets. */
static bool code_is_date(const char *code) {
    for (; *code; code++) {
        if (*code == '"') {
            const char *end = strchr(code + 1, '"');
            if (!end) return false;
            code = end;
        } else if (*code == '[') {
            const char *end = strchr(code, ']');
            if (!end) return false;
            if (strchr("hmsHMS", code[1])) return true; /* [h]: hours gone by */
            code = end;
        } else if (*code == '\\' || *code == '_' || *code == '*') {
            if (!*++code) return false;
        } else if (strchr("dDmMyYhHsS", *code))
            return true;
    }
    return false;
}

static bool id_is_date(const struct book *b, long id) {
    for (size_t i = 0; i < b->format_count; i++)
        if (b->formats[i].id == id) return b->formats[i].is_date;
    return (id >= 14 && id <= 22) || (id >= 45 && id <= 47); /* built in, 18.8.30 */
}

static void open_styles(struct xml *x, const char *name, const char **attributes) {
    struct book *b = x->book;
    bool *inside = x->state;
    const char *id = attribute(attributes, "numFmtId");
    if (strcmp(name, "cellXfs") == 0) *inside = true;
    if (strcmp(name, "numFmt") == 0 && id && b->format_count < MOST_STYLES) {
        const char *code = attribute(attributes, "formatCode");
        if (!grow(b, &b->formats, b->format_count, &b->format_room, sizeof *b->formats)) return;
        b->formats[b->format_count++] =
            (struct format){strtol(id, NULL, 10), code && code_is_date(code)};
    }
    if (strcmp(name, "xf") == 0 && *inside && b->style_count < MOST_STYLES) {
        if (!grow(b, &b->date_style, b->style_count, &b->style_room, sizeof *b->date_style)) return;
        b->date_style[b->style_count++] = id && id_is_date(b, strtol(id, NULL, 10));
    }
}

static void close_styles(struct xml *x, const char *name) {
    if (strcmp(name, "cellXfs") == 0) *(bool *)x->state = false;
}

/* ---- shared strings (18.4) ------------------------------------------------------------------- */

struct string_state {
    bool phonetic; /* inside rPh: how to say it, not what it says */
};

static void open_string(struct xml *x, const char *name, const char **attributes) {
    (void)attributes;
    struct string_state *s = x->state;
    if (strcmp(name, "si") == 0) {
        x->n = 0;
        s->phonetic = false;
    }
    if (strcmp(name, "rPh") == 0) s->phonetic = true;
    x->take_text = strcmp(name, "t") == 0 && !s->phonetic;
}

static void close_string(struct xml *x, const char *name) {
    struct book *b = x->book;
    struct string_state *s = x->state;
    x->take_text = false;
    if (strcmp(name, "rPh") == 0) s->phonetic = false;
    if (strcmp(name, "si") != 0) return;
    if (!grow(b, &b->shared, b->shared_count, &b->shared_room, sizeof *b->shared)) return;
    char *copy = arena_copy(b->arena, x->text ? x->text : "", x->n);
    if (!copy) out_of_memory(b);
    b->shared[b->shared_count++] = copy;
}

/* ---- the sheet (18.3.1) ---------------------------------------------------------------------- */

struct sheet_state {
    struct csv_row *rows;
    size_t n, room;
    const char **cells; /* of the row being read */
    size_t cell_count, cell_room;
    long row;    /* number of it */
    size_t next; /* column after the last cell */
    size_t column;
    char type[12];
    long style;
    bool phonetic, seen;
};

/* "AB12" → 27 (from 0). SIZE_MAX when it is none. */
static size_t column_of(const char *reference) {
    size_t column = 0;
    const char *p = reference;
    for (; isupper((unsigned char)*p) && p - reference < 4; p++)
        column = column * 26 + (size_t)(*p - 'A') + 1;
    return p == reference ? SIZE_MAX : column - 1;
}

static void open_sheet(struct xml *x, const char *name, const char **attributes) {
    struct sheet_state *s = x->state;
    const char *r = attribute(attributes, "r"), *v;
    if (strcmp(name, "row") == 0) {
        s->row = r ? strtol(r, NULL, 10) : s->row + 1;
        s->cell_count = s->next = 0;
    } else if (strcmp(name, "c") == 0) {
        s->column = r ? column_of(r) : s->next;
        if (s->column == SIZE_MAX) s->column = s->next;
        s->next = s->column + 1;
        v = attribute(attributes, "t");
        snprintf(s->type, sizeof s->type, "%s", v ? v : "n");
        v = attribute(attributes, "s");
        s->style = v ? strtol(v, NULL, 10) : -1;
        x->n = 0;
        s->phonetic = s->seen = false;
    } else if (strcmp(name, "rPh") == 0)
        s->phonetic = true;
    x->take_text = strcmp(name, "v") == 0 || (strcmp(name, "t") == 0 && !s->phonetic);
    s->seen |= x->take_text;
}

/* Days since 1899-12-31 as year-month-day. The 1900 system counts a 29 February 1900 that never
 * was (ECMA-376 part 1, 18.17.4.1), so serials above 59 are one day ahead. Civil date from a day
 * count: Hinnant, "chrono-compatible low-level date algorithms", civil_from_days. */
static char *iso_date(struct book *b, double serial) {
    double whole = floor(serial), part = serial - whole;
    long seconds = lround(part * 86400);
    if (seconds >= 86400) {
        seconds = 0;
        whole += 1;
    }
    if (whole < 0 || whole > 2958465) return NULL; /* beyond 9999-12-31 */
    int h = (int)(seconds / 3600), m = (int)(seconds / 60 % 60), sec = (int)(seconds % 60);
    if (whole == 0 && !b->from_1904) return arena_printf(b->arena, "%02d:%02d:%02d", h, m, sec);
    long day = (long)whole; /* to days since 1970-01-01 */
    day = b->from_1904 ? day - 24107 : day - (day > 59 ? 25569 : 25568);
    long z = day + 719468, era = (z >= 0 ? z : z - 146096) / 146097, doe = z - era * 146097;
    long yoe = (doe - doe / 1460 + doe / 36524 - doe / 146096) / 365;
    long doy = doe - (365 * yoe + yoe / 4 - yoe / 100), mp = (5 * doy + 2) / 153;
    int dd = (int)(doy - (153 * mp + 2) / 5 + 1), mm = (int)(mp < 10 ? mp + 3 : mp - 9);
    long yy = yoe + era * 400 + (mm <= 2);
    if (seconds == 0) return arena_printf(b->arena, "%04ld-%02d-%02d", yy, mm, dd);
    return arena_printf(b->arena, "%04ld-%02d-%02dT%02d:%02d:%02d", yy, mm, dd, h, m, sec);
}

static const char *number_text(struct book *b, struct sheet_state *s, const char *text) {
    char *end;
    double v = strtod(text, &end);
    if (end == text || *end || !isfinite(v)) return arena_strdup(b->arena, text);
    bool date = s->style >= 0 && (size_t)s->style < b->style_count && b->date_style[s->style];
    char *iso = date ? iso_date(b, v) : NULL;
    return iso ? iso : arena_printf(b->arena, "%.15g", v);
}

static const char *cell_text(struct xml *x, struct sheet_state *s) {
    struct book *b = x->book;
    const char *text = x->n ? x->text : "";
    if (strcmp(s->type, "s") == 0) {
        char *end;
        unsigned long i = strtoul(text, &end, 10);
        if (end == text || *end || i >= b->shared_count) {
            refuse(b, "is damaged: a cell names a text that is not there");
            return NULL;
        }
        return b->shared[i];
    }
    if (strcmp(s->type, "b") == 0) return strcmp(text, "1") == 0 ? "true" : "false";
    if (strcmp(s->type, "n") == 0) return number_text(b, s, text);
    return arena_copy(b->arena, text, x->n);
}

static void close_cell(struct xml *x, struct sheet_state *s) {
    struct book *b = x->book;
    if (!s->seen || (x->n == 0 && strcmp(s->type, "s") != 0)) return;
    if (s->column >= MOST_COLUMNS) {
        refuse(b, "is wider than a thousand columns");
        return;
    }
    const char *text = cell_text(x, s);
    if (!text && !b->rc) out_of_memory(b);
    if (!text || !*text) return;
    while (s->cell_count <= s->column) {
        if (!grow(b, &s->cells, s->cell_count, &s->cell_room, sizeof *s->cells)) return;
        s->cells[s->cell_count++] = "";
    }
    s->cells[s->column] = text;
}

static void close_row(struct xml *x, struct sheet_state *s) {
    struct book *b = x->book;
    if (s->cell_count == 0) return;
    if (s->n >= MOST_ROWS) {
        refuse(b, "has more than a million rows");
        return;
    }
    if (!grow(b, &s->rows, s->n, &s->room, sizeof *s->rows)) return;
    const char **cells = ARENA_NEW(b->arena, const char *, s->cell_count);
    if (!cells) {
        out_of_memory(b);
        return;
    }
    memcpy((void *)cells, (const void *)s->cells, s->cell_count * sizeof *cells);
    s->rows[s->n++] = (struct csv_row){s->cell_count, cells, s->row};
    s->cell_count = 0;
}

static void close_sheet(struct xml *x, const char *name) {
    struct sheet_state *s = x->state;
    x->take_text = false;
    if (strcmp(name, "rPh") == 0)
        s->phonetic = false;
    else if (strcmp(name, "c") == 0)
        close_cell(x, s);
    else if (strcmp(name, "row") == 0)
        close_row(x, s);
}

static int read_sheet(struct csv_table *out, struct book *b) {
    struct sheet_state s = {0};
    struct xml x = {.open = open_sheet, .close = close_sheet, .state = &s};
    int rc = read_part(b, b->sheet, &x);
    struct csv_row *rows = rc ? NULL : ARENA_NEW(b->arena, struct csv_row, s.n);
    if (!rc && !rows) rc = out_of_memory(b);
    if (!rc) {
        if (s.n) memcpy(rows, s.rows, s.n * sizeof *rows);
        *out = (struct csv_table){s.n, rows};
    }
    mem_free(s.rows);
    mem_free((void *)s.cells);
    return rc;
}

/* ---- the whole ------------------------------------------------------------------------------ */

int xlsx_is(const void *bytes, size_t n) {
    return n >= 4 && memcmp(bytes, "PK\3\4", 4) == 0;
}

static int read_all(struct csv_table *out, struct book *b) {
    if (zip_get_num_entries(b->zip, 0) > MOST_PARTS)
        return refuse(b, "is packed from too many parts");
    if (read_map(b)) return b->rc;
    bool inside = false;
    struct xml styles = {.open = open_styles, .close = close_styles, .state = &inside};
    if (*b->styles && read_part(b, b->styles, &styles)) return b->rc;
    struct string_state string = {0};
    struct xml strings = {.open = open_string, .close = close_string, .state = &string};
    if (*b->strings && read_part(b, b->strings, &strings)) return b->rc;
    return read_sheet(out, b);
}

int xlsx_read(struct csv_table *out, const char **sheet, const void *bytes, size_t n,
              struct arena *arena, struct error *err) {
    *out = (struct csv_table){0};
    if (sheet) *sheet = "";
    struct book b = {.arena = arena, .err = err};
    static const unsigned char old[] = {0xD0, 0xCF, 0x11, 0xE0};
    if (n >= sizeof old && memcmp(bytes, old, sizeof old) == 0)
        return refuse(&b, "is locked with a password, or in the old binary form");
    zip_error_t ze;
    zip_error_init(&ze);
    zip_source_t *source = zip_source_buffer_create(bytes, n, 0, &ze);
    if (source) b.zip = zip_open_from_source(source, ZIP_RDONLY, &ze);
    if (!b.zip) {
        bool memory = !source || zip_error_code_zip(&ze) == ZIP_ER_MEMORY;
        if (source) zip_source_free(source);
        zip_error_fini(&ze);
        return memory ? out_of_memory(&b) : refuse(&b, "is damaged, or no spreadsheet at all");
    }
    zip_error_fini(&ze);
    int rc = read_all(out, &b);
    if (sheet && !rc) *sheet = b.sheet_name;
    zip_discard(b.zip);
    mem_free((void *)b.shared);
    mem_free(b.formats);
    mem_free(b.date_style);
    return rc;
}
