/* import_more: outlines, photos, and tables or JSON of any one kind. */
#include "base/file.h"
#include "record/control.h"
#include "record/names.h"
#include "record/record_private.h"
#include "remains/find.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "record/import_private.h"

enum { DEEPEST = 64 };

/* Ends a change that several calls have filled, or takes it back. */
static int finish(struct record *record, int rc, struct error *err) {
    if (!rc) return record_change_commit(record, NULL, err);
    record_change_rollback(record);
    return rc;
}

static int begin(const char **file, struct record *record, const struct import_more *more,
                 const char *role, struct arena *arena, struct error *err) {
    int rc = record_change_begin(record, more->who, more->when,
                                 more->why && *more->why ? more->why : role, err);
    if (!rc &&
        (rc = record_file_add(file, record, more->name, role, more->bytes, more->n, arena, err)))
        record_change_rollback(record);
    return rc;
}

/* jansson bounds depth itself (2048); a document made by people needs little. */
static bool too_deep(const json_t *j, int left) {
    const char *key;
    json_t *value;
    size_t i;
    if (left == 0) return true;
    if (json_is_array(j))
        json_array_foreach(j, i, value) if (too_deep(value, left - 1)) return true;
    if (json_is_object(j))
        json_object_foreach((json_t *)j, key, value) if (too_deep(value, left - 1)) return true;
    return false;
}

static int parse(json_t **out, const struct import_more *more, struct error *err) {
    json_error_t je;
    *out = json_loadb(more->bytes, more->n, JSON_REJECT_DUPLICATES, &je);
    if (*out && !too_deep(*out, DEEPEST)) return 0;
    error_place(err, file_name(more->name), *out ? 0 : je.line, NULL, NULL);
    bool deep = *out != NULL;
    json_decref(*out);
    *out = NULL;
    return fail(err, ERR_INPUT, "Look at the file in an editor; it must be UTF-8 JSON (RFC 8259).",
                "The JSON cannot be read: %s.", deep ? "it is nested too deeply" : je.text);
}

/* ---- one kind, as a table or JSON ---------------------------------------------------------------
 */

struct entries {
    struct record *record;
    const struct kind *kind;
    const char *file;
    struct arena *arena;
    long count;
    int (*complete)(json_t *body, struct record *record, const char *id, struct arena *arena,
                    struct error *err);
};

static int put_body(struct entries *e, const char *id, json_t *body, struct error *err) {
    int rc = e->complete ? e->complete(body, e->record, id, e->arena, err) : 0;
    return rc ? rc : record_put(e->record, e->kind->name, id, body, NULL, err);
}

static const struct field *field_of(const struct kind *kind, const char *heading) {
    char with_unit[120],
        as_printed[160]; /* "value_mm" in open files, "Value, mm" on the blank forms */
    for (size_t i = 0; i < kind->n; i++) {
        const struct field *f = &kind->fields[i];
        snprintf(with_unit, sizeof with_unit, "%s_%s", f->name, f->unit ? f->unit : "");
        for (char *p = with_unit; *p; p++)
            if (*p == '/' || *p == ' ') *p = '_'; /* "mm/m" heads a column as _mm_m */
        snprintf(as_printed, sizeof as_printed, "%s, %s", f->label, f->unit ? f->unit : "");
        if (cell_same(f->name, heading) || cell_same(f->label, heading) ||
            cell_same(with_unit, heading) || cell_same(as_printed, heading))
            return f;
    }
    return NULL;
}

/* A list of texts in one cell: JSON, or parts between semicolons. */
static int decode_cell(const struct field *f, const char *cell, void *out, struct arena *arena,
                       struct error *err) {
    if (f->type != FIELD_TEXTS || *cell == '[') return field_decode_text(f, cell, out, arena, err);
    struct texts list = {0, ARENA_NEW(arena, const char *, strlen(cell) / 2 + 1)};
    char *copy = arena_strdup(arena, cell);
    if (!list.v || !copy) return fail_memory(err);
    for (char *part = copy, *next; part; part = next) {
        next = strchr(part, ';');
        if (next) *next++ = 0;
        char *trimmed = cell_trim(part, arena);
        if (!trimmed) return fail_memory(err);
        if (*trimmed) list.v[list.n++] = trimmed;
    }
    *(struct texts *)((char *)out + f->offset) = list;
    return 0;
}

static int put_row(struct entries *e, const struct field *const *fields, const struct csv_row *row,
                   struct error *err) {
    void *body = arena_alloc(e->arena, 1, e->kind->size);
    const struct field *own = field_find(e->kind, "id");
    const char *id = NULL;
    if (!body) return fail_memory(err);
    field_unknown(e->kind, body);
    for (size_t c = 0; c < row->n; c++) {
        char *cell = cell_trim(row->cells[c], e->arena);
        if (!cell) return fail_memory(err);
        if (!fields[c]) {
            if (*cell) id = cell; /* the column "id" of a kind that has no such field */
            continue;
        }
        if (!*cell) continue;
        int rc = decode_cell(fields[c], cell, body, e->arena, err);
        if (rc) return rc;
    }
    if (own) id = *(const char **)((char *)body + own->offset);
    if (!id && !(id = arena_printf(e->arena, "%s.r%ld", e->file, row->line)))
        return fail_memory(err);
    if (own) *(const char **)((char *)body + own->offset) = id;
    e->count++;
    if (!e->complete) return record_put_struct(e->record, e->kind, id, body, NULL, err);
    json_t *encoded = field_encode(e->kind, body);
    int rc = encoded ? put_body(e, id, encoded, err) : fail_memory(err);
    json_decref(encoded);
    return rc;
}

static int put_table(struct entries *e, const struct import_more *more, struct error *err) {
    struct csv_table table;
    int rc = import_table(&table, more->name, more->bytes, more->n, NULL, e->arena, err);
    if (rc) return rc;
    const struct csv_row *heading = &table.rows[0];
    const struct field **fields = ARENA_NEW(e->arena, const struct field *, heading->n);
    if (!fields) return fail_memory(err);
    for (size_t c = 0; c < heading->n; c++) {
        fields[c] = field_of(e->kind, heading->cells[c]);
        if (fields[c] || cell_same(heading->cells[c], "id")) continue;
        error_place(err, file_name(more->name), 1, heading->cells[c], NULL);
        return fail(err, ERR_INPUT, "Head the columns with the names of the fields; see the help.",
                    "A %s has no field \"%.60s\".", e->kind->name, heading->cells[c]);
    }
    for (size_t r = 1; r < table.n && !rc; r++) {
        if (table.rows[r].n > heading->n)
            rc = fail(err, ERR_INPUT, "Quote cells that hold commas.",
                      "More cells than the heading has.");
        if (!rc) rc = put_row(e, fields, &table.rows[r], err);
        if (rc) error_place(err, file_name(more->name), table.rows[r].line, NULL, NULL);
    }
    return rc;
}

static int put_json(struct entries *e, const struct import_more *more, struct error *err) {
    json_t *list, *one;
    size_t i;
    int rc = parse(&list, more, err);
    if (rc) return rc;
    if (json_is_object(list)) {
        json_t *array = json_array();
        if (!array || json_array_append_new(array, list)) rc = fail_memory(err);
        list = array;
    }
    json_array_foreach(list, i, one) {
        const char *id = json_string_value(json_object_get(one, "id"));
        if (!id) id = arena_printf(e->arena, "%s.r%zu", e->file, i + 1);
        json_t *body = json_is_object(one) ? json_copy(one) : json_incref(one);
        if (!field_find(e->kind, "id")) json_object_del(body, "id");
        if (!rc) rc = id ? put_body(e, id, body, err) : fail_memory(err);
        json_decref(body);
        if (rc) {
            error_place(err, file_name(more->name), (long)i + 1, NULL, id);
            break;
        }
        e->count++;
    }
    json_decref(list);
    return rc;
}

int import_entries(long *count, struct record *record, const char *kind,
                   const struct import_more *more, struct arena *arena, struct error *err) {
    struct entries e = {.record = record,
                        .kind = record_kind(record, kind),
                        .arena = arena,
                        .complete = more->complete};
    *count = 0;
    if (!e.kind)
        return fail(err, ERR_INPUT, "Look at the list of kinds in the help.",
                    "\"%.60s\" is not a kind of thing known here.", kind);
    int rc = begin(&e.file, record, more, e.kind->title, arena, err);
    if (rc) return rc;
    bool json = strcmp(record_media(more->bytes, more->n), "application/json") == 0;
    rc = finish(record, json ? put_json(&e, more, err) : put_table(&e, more, err), err);
    if (!rc) *count = e.count;
    return rc;
}

/* ---- ids of the pieces that are there
 * -------------------------------------------------------------- */

struct pieces {
    struct names *by_lower; /* lower-case id → number */
    const char **ids;
    size_t n, room;
    struct arena *arena;
};

static char *lower(const char *text, struct arena *arena) {
    char *copy = arena_strdup(arena, text);
    for (char *p = copy; p && *p; p++)
        *p = (char)tolower((unsigned char)*p);
    return copy;
}

static int add_piece(const struct record_entry *entry, void *context, struct error *err) {
    struct pieces *p = context;
    if (p->n == p->room) {
        size_t room = p->room ? 2 * p->room : 64;
        const char **more = ARENA_NEW(p->arena, const char *, room);
        if (!more) return fail_memory(err);
        if (p->n) memcpy((void *)more, (const void *)p->ids, p->n * sizeof *more);
        p->ids = more;
        p->room = room;
    }
    size_t number = p->n;
    char *small = lower(entry->id, p->arena);
    p->ids[p->n] = arena_strdup(p->arena, entry->id);
    if (!small || !p->ids[p->n] || names_add(p->by_lower, small, &number) < 0)
        return fail_memory(err);
    p->n++;
    return 0;
}

static int load_pieces(struct pieces *out, struct record *record, struct arena *arena,
                       struct error *err) {
    *out = (struct pieces){.by_lower = names_new(), .arena = arena};
    return out->by_lower ? record_each(record, "piece", 0, add_piece, out, err) : fail_memory(err);
}

static const char *piece_named(const struct pieces *p, const char *id) {
    size_t number;
    char *small = lower(id, p->arena);
    return small && names_find(p->by_lower, small, &number) ? p->ids[number] : NULL;
}

/* ---- outlines
 * ----------------------------------------------------------------------------------------- */

struct outlines {
    struct record *record;
    struct pieces pieces;
    struct names *used; /* outline ids of this file */
    const char *file;
    double unit; /* mm of one unit of the file */
    const struct control_map *map;
    struct arena *arena;
    long count;
};

static double signed_area(const double *v, size_t n) {
    double twice = 0;
    for (size_t i = 0; i < n; i++) {
        const double *p = v + 2 * i, *q = v + 2 * ((i + 1) % n);
        twice += p[0] * q[1] - q[0] * p[1];
    }
    return twice / 2;
}

/* Reads a ring without its closing point, corrected and in mm. */
static int read_ring(struct tuples *out, struct outlines *o, const json_t *ring,
                     struct error *err) {
    size_t n = json_array_size(ring);
    double *v = ARENA_NEW(o->arena, double, 2 * n + 2);
    if (!v) return fail_memory(err);
    for (size_t i = 0; i < n; i++) {
        const json_t *p = json_array_get(ring, i);
        double x = json_number_value(json_array_get(p, 0));
        double y = json_number_value(json_array_get(p, 1));
        if (!json_is_number(json_array_get(p, 0)) || !json_is_number(json_array_get(p, 1)) ||
            !(fabs(x * o->unit) < 1e5) || !(fabs(y * o->unit) < 1e5))
            return fail(err, ERR_INPUT, "Each corner is [x, y] in mm.",
                        "Corner %zu is not a place on the plan.", i + 1);
        v[2 * i] = x * o->unit;
        v[2 * i + 1] = y * o->unit;
    }
    if (n > 1 && v[0] == v[2 * n - 2] && v[1] == v[2 * n - 1]) n--;
    for (size_t i = 0; o->map && i < n; i++)
        control_apply(o->map, &v[2 * i], &v[2 * i + 1]);
    if (n < 3 || signed_area(v, n) == 0)
        return fail(err, ERR_INPUT, "Give at least three corners that enclose something.",
                    "The outline encloses nothing.");
    *out = (struct tuples){n, 2, v};
    return 0;
}

/* Turns the ring round; side i lay between points i and i + 1. */
static void turn(struct tuples *ring, struct ints *sides) {
    for (size_t i = 0, k = ring->n - 1; i < k; i++, k--)
        for (int c = 0; c < 2; c++) {
            double t = ring->v[2 * i + c];
            ring->v[2 * i + c] = ring->v[2 * k + c];
            ring->v[2 * k + c] = t;
        }
    for (size_t i = 0; sides->n > 1 && i < (sides->n - 1) / 2; i++) {
        long t = sides->v[i]; /* the closing side stays last */
        sides->v[i] = sides->v[sides->n - 2 - i];
        sides->v[sides->n - 2 - i] = t;
    }
}

static int read_sides(struct ints *out, const json_t *list, size_t n, struct arena *arena,
                      struct error *err) {
    *out = (struct ints){0};
    if (!list) return 0;
    out->v = ARENA_NEW(arena, long, n);
    if (!out->v) return fail_memory(err);
    if (json_array_size(list) != n)
        return fail(err, ERR_INPUT, "Give 1 or 0 for each side, in the order of the corners.",
                    "\"surviving\" has %zu sides, the outline %zu.", json_array_size(list), n);
    for (out->n = 0; out->n < n; out->n++) {
        const json_t *side = json_array_get(list, out->n);
        out->v[out->n] = json_is_true(side) || json_integer_value(side) == 1;
    }
    return 0;
}

static int put_holes(struct outlines *o, const char *piece, const json_t *rings,
                     struct error *err) {
    int rc = 0;
    for (size_t i = 1; i < json_array_size(rings) && !rc; i++) {
        struct mark mark;
        field_unknown(&mark_kind_kind, &mark);
        rc = read_ring(&mark.points, o, json_array_get(rings, i), err);
        mark.id = arena_printf(o->arena, "%s.outline_hole.%zu", piece, i);
        mark.piece = piece;
        mark.kind = MARK_HOLE;
        mark.what = "drawn in the outline";
        if (!rc)
            rc = mark.id ? record_put_struct(o->record, &mark_kind_kind, mark.id, &mark, NULL, err)
                         : fail_memory(err);
    }
    return rc;
}

static const char *text_of(const json_t *properties, const char *name) {
    return json_string_value(json_object_get(properties, name));
}

static int put_outline(struct outlines *o, const json_t *feature, struct error *err) {
    const json_t *properties = json_object_get(feature, "properties");
    const json_t *geometry = json_object_get(feature, "geometry");
    const json_t *rings = json_object_get(geometry, "coordinates");
    const char *name = text_of(properties, "piece"), *type = text_of(geometry, "type");
    if (!name) name = text_of(feature, "id");
    const char *piece = name ? piece_named(&o->pieces, name) : NULL;
    if (!piece)
        return fail(err, ERR_MISSING, "Bring the finds list in first; name the piece as it does.",
                    "An outline of piece \"%.40s\", which is not in the project.",
                    name ? name : "(none)");
    if (!type || strcmp(type, "Polygon") != 0 || json_array_size(rings) == 0)
        return fail(err, ERR_INPUT, "Draw each piece as one closed polygon.",
                    "The outline of %s is a %.20s.", piece, type ? type : "feature without shape");
    struct piece_outline out;
    field_unknown(&piece_outline_kind, &out);
    int rc = read_ring(&out.points, o, json_array_get(rings, 0), err);
    if (!rc)
        rc = read_sides(&out.surviving, json_object_get(properties, "surviving"), out.points.n,
                        o->arena, err);
    const char *state = text_of(properties, "state"), *frame = text_of(properties, "frame");
    if (!rc && state) out.state = import_word_find(NULL, "state", state, NULL);
    if (!rc && state && out.state == FIELD_UNKNOWN)
        rc = fail(err, ERR_INPUT, import_word_near("state", state),
                  "The state \"%.40s\" is not "
                  "known.",
                  state);
    if (rc) return rc;
    if (signed_area(out.points.v, out.points.n) < 0) turn(&out.points, &out.surviving);
    out.id = arena_printf(o->arena, "%s.outline", piece);
    size_t number = 0;
    for (int k = 2; out.id && names_add(o->used, out.id, &number) == 0; k++)
        out.id = arena_printf(o->arena, "%s.outline.%d", piece, k);
    if (!out.id) return fail_memory(err);
    out.piece = piece;
    if (frame) out.frame = frame;
    out.source = text_of(properties, "source");
    out.corrected = o->map != NULL;
    o->count++;
    rc = record_put_struct(o->record, &piece_outline_kind, out.id, &out, NULL, err);
    return rc ? rc : put_holes(o, piece, rings, err);
}

/* GeoJSON means longitude and latitude unless both sides agree on something else (RFC 7946, 4);
 * ours says so in a member of its own. */
static int read_frame(double *unit, const json_t *root, struct error *err) {
    const char *word = text_of(json_object_get(root, "relict:frame"), "unit");
    *unit = word ? cell_unit_factor(word) : 0;
    if (*unit > 0) return 0;
    return fail(err, ERR_INPUT,
                "Add \"relict:frame\": {\"unit\": \"mm\"} to the file, if that is what they are.",
                "The file does not say that its corners are in mm; GeoJSON means degrees.");
}

static int put_outlines(struct outlines *o, const json_t *root, struct error *err) {
    const json_t *features = json_object_get(root, "features"), *one;
    const char *type = text_of(root, "type");
    size_t i;
    if (!type || strcmp(type, "FeatureCollection") != 0 || json_array_size(features) == 0)
        return fail(err, ERR_INPUT, "Save the outlines as a FeatureCollection.",
                    "The file holds no collection of outlines.");
    int rc = read_frame(&o->unit, root, err);
    if (!rc) rc = load_pieces(&o->pieces, o->record, o->arena, err);
    json_array_foreach(features, i, one) {
        if (!rc && (rc = put_outline(o, one, err))) error_place(err, NULL, (long)i + 1, NULL, NULL);
    }
    return rc;
}

int import_outlines(long *count, struct control_fit *fit, struct record *record,
                    const struct import_more *more, const struct control *control,
                    struct arena *arena, struct error *err) {
    struct control_map map;
    struct outlines o = {.record = record, .arena = arena};
    json_t *root = NULL;
    *count = 0;
    int rc = 0;
    if (control) {
        struct control_fit own;
        rc = control_fit(&map, fit ? fit : &own, control, arena, err);
        o.map = &map;
    }
    if (!rc) rc = parse(&root, more, err);
    if (!rc && !(o.used = names_new())) rc = fail_memory(err);
    if (!rc && !(rc = begin(&o.file, record, more, "outlines", arena, err)))
        rc = finish(record, put_outlines(&o, root, err), err);
    if (rc) error_place(err, file_name(more->name), 0, NULL, NULL);
    names_free(o.pieces.by_lower);
    names_free(o.used);
    json_decref(root);
    if (!rc) *count = o.count;
    return rc;
}

/* ---- photos
 * ------------------------------------------------------------------------------------------- */

static bool part_of_id(char c) {
    return isalnum((unsigned char)c) || (unsigned char)c >= 0x80;
}

/* Pieces whose ids stand as words in the text. */
static int find_named(struct texts *out, const struct pieces *pieces, const char *text,
                      struct arena *arena, struct error *err) {
    const char **v = ARENA_NEW(arena, const char *, strlen(text) / 2 + 1);
    if (!v) return fail_memory(err);
    *out = (struct texts){0, v};
    for (const char *p = text; *p;) {
        size_t n = 0;
        while (part_of_id(p[n]))
            n++;
        if (n == 0) {
            p++;
            continue;
        }
        char *word = arena_copy(arena, p, n);
        if (!word) return fail_memory(err);
        const char *id = piece_named(pieces, word);
        for (size_t i = 0; i < out->n; i++)
            if (strcmp(v[i], id ? id : "") == 0) id = NULL;
        if (id) v[out->n++] = id;
        p += n;
    }
    return 0;
}

static int put_photo(const char **source, struct texts *about, struct record *record,
                     const struct import_more *more, const char *label, double bar_length,
                     const char *file, struct arena *arena, struct error *err) {
    struct pieces pieces;
    int rc = load_pieces(&pieces, record, arena, err);
    if (!rc && label && *label) rc = find_named(about, &pieces, label, arena, err);
    if (!rc && about->n == 0) rc = find_named(about, &pieces, file_name(more->name), arena, err);
    names_free(pieces.by_lower);
    struct source s;
    field_unknown(&source_kind, &s);
    s.id = *source = arena_printf(arena, "photo.%s", file);
    s.kind = SOURCE_PHOTO;
    s.title = label && *label ? label : file_name(more->name);
    s.about = *about;
    s.file = file_name(more->name);
    s.bar_length = bar_length;
    if (rc || !s.id) return rc ? rc : fail_memory(err);
    return record_put_struct(record, &source_kind, s.id, &s, NULL, err);
}

/* What a browser can hold and a screen can show; a larger picture is refused before it is kept. */
static int judge_photo(const struct import_more *more, struct error *err) {
    enum { MOST_BYTES = 40 << 20, MOST_PIXELS = 100000000 };
    const char *media = record_media(more->bytes, more->n);
    error_place(err, file_name(more->name), 0, NULL, NULL);
    if (strncmp(media, "image/", 6) != 0)
        return fail(err, ERR_INPUT, "Choose a JPEG, PNG, TIFF or WebP picture.",
                    "This is no photo: it looks like %s.", media);
    if (more->n > MOST_BYTES)
        return fail(err, ERR_INPUT, "Save it as a JPEG of at most 40 MB.",
                    "The picture has %.0f MB, more than can be shown.", (double)more->n / 1e6);
    double pixels = import_pixels(more->bytes, more->n);
    if (pixels > MOST_PIXELS)
        return fail(err, ERR_INPUT, "Save it again with at most 100 million pixels.",
                    "The picture has %.0f million pixels, more than can be shown.", pixels / 1e6);
    return 0;
}

int import_photo(const char **source, struct texts *about, struct record *record,
                 const struct import_more *more, const char *label, double bar_length,
                 struct arena *arena, struct error *err) {
    const char *file;
    *source = NULL;
    *about = (struct texts){0};
    int rc = judge_photo(more, err);
    if (!rc) rc = begin(&file, record, more, "photo", arena, err);
    if (rc) return rc;
    rc = finish(record, put_photo(source, about, record, more, label, bar_length, file, arena, err),
                err);
    return rc;
}
