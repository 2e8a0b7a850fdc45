#include "base/csv.h"

#include "base/mem.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_ROWS = 1000000, MOST_CELLS = 1000 };

struct reader {
    const char *p, *end;
    char separator;
    long line;
    size_t most_cells;
    struct arena *arena;
    struct error *err;
    const char **cells; /* of the row being read; grows */
    size_t room;
};

static int broken(struct reader *r, size_t cell, const char *remedy, const char *what) {
    error_place(r->err, NULL, r->line, NULL, NULL);
    return fail(r->err, ERR_INPUT, remedy, "Line %ld, cell %zu: %s", r->line, cell + 1, what);
}

/* Length of a well-formed UTF-8 sign (Unicode 15 table 3-7), 0 if it is not one. */
static size_t utf8_length(const unsigned char *p, size_t left) {
    if (p[0] < 0x80) return 1;
    size_t n = p[0] >= 0xC2 && p[0] <= 0xDF   ? 2
               : (p[0] & 0xF0) == 0xE0        ? 3
               : p[0] >= 0xF0 && p[0] <= 0xF4 ? 4
                                              : 0;
    if (n == 0 || left < n) return 0;
    for (size_t i = 1; i < n; i++)
        if ((p[i] & 0xC0) != 0x80) return 0;
    if (p[0] == 0xE0 && p[1] < 0xA0) return 0;
    if (p[0] == 0xED && p[1] > 0x9F) return 0;
    if (p[0] == 0xF0 && p[1] < 0x90) return 0;
    if (p[0] == 0xF4 && p[1] > 0x8F) return 0;
    return n;
}

static int check_text(struct reader *r) {
    const char *p = r->p;
    long line = 1;
    while (p < r->end) {
        size_t n = utf8_length((const unsigned char *)p, (size_t)(r->end - p));
        if (n == 0 || *p == 0) {
            r->line = line;
            return broken(r, 0, "Save the table as CSV in UTF-8 and try again.",
                          n == 0 ? "bytes that are not UTF-8."
                                 : "a NUL byte; this is not a text file.");
        }
        line += *p == '\n';
        p += n;
    }
    return 0;
}

/* Reads a quoted cell; r->p stands behind the opening quote. */
static int quoted(struct reader *r, size_t cell, const char **out) {
    const char *begin = r->p;
    size_t doubled = 0;
    for (;; r->p++) {
        if (r->p >= r->end)
            return broken(r, cell, "Close the quotation mark.", "a quoted cell without an end.");
        if (*r->p == '\n') r->line++;
        if (*r->p != '"') continue;
        if (r->p + 1 >= r->end || r->p[1] != '"') break;
        doubled++;
        r->p++;
    }
    char *copy = arena_alloc(r->arena, (size_t)(r->p - begin) - doubled + 1, 1), *to = copy;
    if (!copy) return fail_memory(r->err);
    for (const char *q = begin; q < r->p; q++) {
        *to++ = *q;
        if (*q == '"') q++; /* a doubled quote stands for one */
    }
    *out = copy;
    r->p++;
    if (r->p < r->end && *r->p != r->separator && *r->p != '\n' && *r->p != '\r')
        return broken(r, cell, "Put the whole cell in quotation marks.",
                      "text after a closing quote.");
    return 0;
}

static int plain(struct reader *r, size_t cell, const char **out) {
    const char *begin = r->p;
    while (r->p < r->end && *r->p != r->separator && *r->p != '\n' && *r->p != '\r') {
        if (*r->p == '"')
            return broken(r, cell, "Put the whole cell in quotation marks and double those inside.",
                          "a quotation mark inside an unquoted cell.");
        r->p++;
    }
    *out = arena_copy(r->arena, begin, (size_t)(r->p - begin));
    return *out ? 0 : fail_memory(r->err);
}

/* Reads one row; an empty line gives n = 0. */
static int row(struct reader *r, struct csv_row *out) {
    out->line = r->line;
    out->n = 0;
    if (r->p < r->end && *r->p == '\n') {
        r->p++;
        r->line++;
        return 0;
    }
    for (;;) {
        if (out->n == r->most_cells)
            return broken(r, out->n, "Is the separator right? Look at the switch for semicolons.",
                          "too many cells in one row.");
        if (out->n == r->room) {
            size_t room = r->room ? 2 * r->room : 64;
            const char **more = mem_resize((void *)r->cells, room, sizeof *more);
            if (!more) return fail_memory(r->err);
            r->cells = more;
            r->room = room;
        }
        bool is_quoted = r->p < r->end && *r->p == '"';
        if (is_quoted) r->p++;
        int rc =
            is_quoted ? quoted(r, out->n, &r->cells[out->n]) : plain(r, out->n, &r->cells[out->n]);
        if (rc) return rc;
        out->n++;
        if (r->p >= r->end) break;
        char c = *r->p++;
        if (c == r->separator) continue;
        if (c == '\r' && (r->p >= r->end || *r->p++ != '\n'))
            return broken(r, out->n - 1, "Save the table again with ordinary line ends.",
                          "a carriage return without a line feed.");
        r->line++;
        break;
    }
    if (out->n == 1 && !*r->cells[0]) out->n = 0; /* CRLF alone */
    out->cells = ARENA_NEW(r->arena, const char *, out->n);
    if (!out->cells) return fail_memory(r->err);
    memcpy((void *)out->cells, (const void *)r->cells, out->n * sizeof *out->cells);
    return 0;
}

int csv_read(struct csv_table *out, const char *text, size_t n, const struct csv_options *options,
             struct arena *arena, struct error *err) {
    *out = (struct csv_table){0};
    struct reader r = {.p = text,
                       .end = text + n,
                       .separator = ',',
                       .line = 1,
                       .arena = arena,
                       .err = err,
                       .most_cells = MOST_CELLS};
    size_t most_rows = MOST_ROWS, room = 0;
    if (options && options->separator) r.separator = options->separator;
    if (options && options->most_cells) r.most_cells = options->most_cells;
    if (options && options->most_rows) most_rows = options->most_rows;
    if (n >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0) r.p += 3;
    int rc = check_text(&r);
    for (const char *p = r.p; p < r.end; p++)
        room += *p == '\n';
    if (room > most_rows) room = most_rows;
    struct csv_row *rows = rc ? NULL : ARENA_NEW(arena, struct csv_row, room + 1);
    if (!rc && !rows) rc = fail_memory(err);
    size_t count = 0;
    while (!rc && r.p < r.end) {
        if (count > most_rows - 1) {
            rc = broken(&r, 0, "Split the file into parts and bring them in one by one.",
                        "more rows than can be taken at once.");
            break;
        }
        rc = row(&r, &rows[count]);
        if (!rc && rows[count].n) count++;
    }
    mem_free((void *)r.cells);
    *out = (struct csv_table){count, rows};
    return rc;
}

void csv_write_cell(FILE *to, const char *text, int guard) {
    bool formula = false;
    if (guard && *text && strchr("=+-@", *text)) {
        char *end;
        strtod(text, &end);
        formula = end == text || *end != 0;
    }
    bool quote = formula || strpbrk(text, ",;\"\r\n") != NULL;
    if (!quote) {
        fputs(text, to);
        return;
    }
    fputs(formula ? "\"'" : "\"", to);
    for (; *text; text++) {
        if (*text == '"') fputc('"', to);
        fputc(*text, to);
    }
    fputc('"', to);
}
