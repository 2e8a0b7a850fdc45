#include "tell/folder.h"

#include "base/file.h"
#include "base/mem.h"
#include "base/sha256.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

struct entry {
    const char *name, *media, *title;
    char sha256[SHA256_TEXT];
    size_t size;
    bool named;              /* rows bear an id that is no field of theirs */
    const struct kind *kind; /* of a table */
};

struct tell_folder {
    struct arena *arena;
    struct error error;
    const char *path;
    struct tell_folder_words words;
    struct entry *entries;
    size_t n, room;
    struct show_out notes;
};

static const char *keep(struct tell_folder *f, const char *text) {
    if (!text) return NULL;
    const char *copy = arena_strdup(f->arena, text);
    if (!copy) fail_memory(&f->error);
    return copy;
}

int tell_folder_open(struct tell_folder **out, const char *path,
                     const struct tell_folder_words *words, struct error *err) {
    *out = NULL;
    struct tell_folder *f = MEM_NEW(struct tell_folder, 1);
    struct arena *arena = f ? arena_new() : NULL;
    if (!arena) {
        mem_free(f);
        return fail_memory(err);
    }
    f->arena = arena;
    f->path = keep(f, path);
    f->words = *words;
    const char **texts[] = {&f->words.title,   &f->words.text,    &f->words.licence,
                            &f->words.authors, &f->words.date,    &f->words.identifier,
                            &f->words.contact, &f->words.embargo, &f->words.version};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        *texts[i] = keep(f, *texts[i]);
    int code = f->error.code ? fail_memory(err) : file_folder(path, err);
    if (code) {
        arena_free(arena);
        mem_free(f);
        return code;
    }
    *out = f;
    return 0;
}

/* A name that stays in the folder: parts of letters, digits, point, dash, underscore, none of them
 * beginning with a point. */
static bool name_is_safe(const char *name) {
    if (!*name || *name == '/' || strlen(name) > 200) return false;
    for (const char *p = name; *p; p++) {
        bool plain = (*p >= 'a' && *p <= 'z') || (*p >= 'A' && *p <= 'Z') ||
                     (*p >= '0' && *p <= '9') || strchr("._-/", *p);
        if (!plain || (*p == '.' && (p == name || p[-1] == '/')) || (*p == '/' && p[1] == '/'))
            return false;
    }
    return true;
}

void tell_folder_add(struct tell_folder *f, const char *name, const char *media, const char *title,
                     const void *bytes, size_t n) {
    if (f->error.code) return;
    if (!name_is_safe(name)) {
        fail(&f->error, ERR_INPUT, "Rename it.", "\"%.100s\" cannot be the name of a file here.",
             name);
        return;
    }
    char *path = arena_printf(f->arena, "%s/%s", f->path, name);
    char *parent = path ? file_parent(path, f->arena) : NULL;
    if (!parent) {
        fail_memory(&f->error);
        return;
    }
    if (file_folder(parent, &f->error) || file_write(path, bytes, n, true, &f->error)) return;
    if (f->n == f->room) {
        size_t room = f->room ? 2 * f->room : 32;
        struct entry *entries = mem_resize(f->entries, room, sizeof *entries);
        if (!entries) {
            fail_memory(&f->error);
            return;
        }
        f->entries = entries;
        f->room = room;
    }
    struct entry *e = &f->entries[f->n++];
    *e = (struct entry){
        .name = keep(f, name), .media = keep(f, media), .title = keep(f, title), .size = n};
    sha256_text(bytes, n, e->sha256);
}

void tell_folder_take(struct tell_folder *f, const char *name, const char *media, const char *title,
                      struct show_out *out, int code, const struct error *trouble) {
    if (!f->error.code && code) f->error = *trouble;
    if (!f->error.code && !show_out_status(out, &f->error))
        tell_folder_add(f, name, media, title, out->bytes ? out->bytes : "", out->n);
    show_out_deinit(out);
}

void tell_folder_note(struct tell_folder *f, const char *text) {
    show_out_format(&f->notes, "- %s\n", text);
}

size_t tell_folder_count(const struct tell_folder *f) {
    return f->n;
}

const char *tell_folder_name(const struct tell_folder *f, size_t i, const char **title) {
    *title = f->entries[i].title;
    return f->entries[i].name;
}

/* ---- tables ---- */

void tell_csv_cell(struct show_out *out, const char *text) {
    if (!text) return;
    /* A spreadsheet takes these for the beginning of a formula; a number may begin so. */
    char *end = NULL;
    bool number = *text && (strtod(text, &end), end && !*end);
    /* An apostrophe of the text's own is doubled: reading takes one off. */
    bool guard = *text && ((!number && strchr("=+-@\t\r", *text)) || *text == '\'');
    if (!guard && !strpbrk(text, ",\"\r\n")) {
        show_out_text(out, text);
        return;
    }
    show_out_text(out, guard ? "\"'" : "\"");
    for (; *text; text++) {
        if (*text == '"') show_out_text(out, "\"");
        show_out_bytes(out, text, 1);
    }
    show_out_text(out, "\"");
}

/* "length_mm", "taper_mm_m": the heading that the folder form of a project has too, so that these
 * tables can be read back. */
static void column_name(struct show_out *out, const struct field *field) {
    show_out_text(out, field->name);
    if (!field->unit || !*field->unit) return;
    show_out_text(out, "_");
    for (const char *p = field->unit; *p; p++) {
        bool plain =
            (*p >= 'a' && *p <= 'z') || (*p >= 'A' && *p <= 'Z') || (*p >= '0' && *p <= '9');
        show_out_bytes(out, plain ? p : "_", 1);
    }
}

static int csv_of(struct show_out *out, const struct kind *kind, const void *records,
                  const char *const *ids, size_t n, bool (*skip)(const void *record),
                  struct error *err) {
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    if (ids) show_out_text(out, "id");
    for (size_t c = 0; c < kind->n; c++) {
        if (c || ids) show_out_text(out, ",");
        column_name(out, &kind->fields[c]);
    }
    show_out_text(out, "\r\n");
    for (size_t i = 0; i < n; i++) {
        const char *record = (const char *)records + i * kind->size;
        if (skip && skip(record)) continue;
        if (ids) tell_csv_cell(out, ids[i]);
        for (size_t c = 0; c < kind->n; c++) {
            if (c || ids) show_out_text(out, ",");
            char *text = field_text(&kind->fields[c], record, arena);
            if (!text) out->failed = true;
            tell_csv_cell(out, text);
        }
        show_out_text(out, "\r\n");
    }
    arena_free(arena);
    return show_out_status(out, err);
}

int tell_csv(struct show_out *out, const struct kind *kind, const void *records, size_t n,
             bool (*skip)(const void *record), struct error *err) {
    return csv_of(out, kind, records, NULL, n, skip, err);
}

void tell_folder_table(struct tell_folder *f, const struct kind *kind, const void *records,
                       size_t n, bool (*skip)(const void *record)) {
    tell_folder_table_named(f, kind, records, NULL, n, skip);
}

void tell_folder_table_named(struct tell_folder *f, const struct kind *kind, const void *records,
                             const char *const *ids, size_t n, bool (*skip)(const void *record)) {
    if (f->error.code) return;
    struct show_out o = {0};
    struct error trouble = {0};
    int code = csv_of(&o, kind, records, ids, n, skip, &trouble);
    char *name = arena_printf(f->arena, "tables/%s.csv", kind->name);
    size_t before = f->n;
    if (!name) fail_memory(&f->error);
    tell_folder_take(f, name ? name : "x", "text/csv", kind->title, &o, code, &trouble);
    if (f->n == before) return;
    f->entries[f->n - 1].kind = kind;
    f->entries[f->n - 1].named = ids != NULL;
}

static const char *type_word(enum field_type type) {
    static const char *const words[] = {"number",
                                        "integer",
                                        "flag: yes or no",
                                        "text",
                                        "date",
                                        "one of the choices",
                                        "numbers",
                                        "integers",
                                        "texts",
                                        "rows of numbers",
                                        "record",
                                        "records",
                                        "json"};
    return words[type];
}

static void dictionary(struct tell_folder *f) {
    struct show_out o = {0};
    show_out_text(&o, "file,column,label,unit,type,least,most,choices,names,meaning\r\n");
    for (size_t i = 0; i < f->n; i++) {
        const struct kind *kind = f->entries[i].kind;
        if (f->entries[i].named)
            show_out_format(&o, "%s,id,Id,,text,,,,,What this row is called.\r\n",
                            f->entries[i].name);
        for (size_t c = 0; kind && c < kind->n; c++) {
            const struct field *d = &kind->fields[c];
            bool limits = d->min != 0 || d->max != 0;
            show_out_text(&o, f->entries[i].name);
            show_out_text(&o, ",");
            column_name(&o, d);
            show_out_text(&o, ",");
            tell_csv_cell(&o, d->label);
            show_out_text(&o, ",");
            tell_csv_cell(&o, d->unit);
            show_out_format(&o, ",%s,", type_word(d->type));
            if (limits && fabs(d->min) < 1e15) show_out_real(&o, d->min, 6);
            show_out_text(&o, ",");
            if (limits && fabs(d->max) < 1e15) show_out_real(&o, d->max, 6);
            show_out_text(&o, ",");
            struct show_out choices = {0};
            for (size_t k = 0; d->choices && d->choices[k]; k++)
                show_out_format(&choices, "%s%s", k ? "; " : "", d->choices[k]);
            tell_csv_cell(&o, choices.bytes);
            o.failed |= choices.failed;
            show_out_deinit(&choices);
            show_out_text(&o, ",");
            tell_csv_cell(&o, d->refers);
            show_out_text(&o, ",");
            tell_csv_cell(&o, d->help);
            show_out_text(&o, "\r\n");
        }
    }
    tell_folder_take(f, "dictionary.csv", "text/csv", "Every column of every table", &o, 0, NULL);
}

/* ---- descriptors ---- */

static void key(struct show_out *o, const char *name, const char *value) {
    if (!value || !*value) return;
    show_out_format(o, ",\"%s\":", name);
    show_out_json(o, value);
}

/* RO-Crate 1.1: the metadata file describes itself, the root, each file and its makers. */
static void crate(struct tell_folder *f) {
    struct show_out o = {0};
    const struct tell_folder_words *w = &f->words;
    show_out_text(&o, "{\"@context\":\"https://w3id.org/ro/crate/1.1/context\",\"@graph\":[\n"
                      "{\"@id\":\"ro-crate-metadata.json\",\"@type\":\"CreativeWork\","
                      "\"conformsTo\":{\"@id\":\"https://w3id.org/ro/crate/1.1\"},"
                      "\"about\":{\"@id\":\"./\"}},\n{\"@id\":\"./\",\"@type\":\"Dataset\"");
    key(&o, "name", w->title ? w->title : "A reconstruction");
    key(&o, "description", w->text ? w->text : "What was handed over.");
    key(&o, "datePublished", w->date ? w->date : "2000-01-01");
    key(&o, "identifier", w->identifier);
    key(&o, "version", w->version);
    show_out_text(&o, ",\"license\":{\"@id\":\"LICENCE.txt\"}");
    if (w->authors) show_out_text(&o, ",\"author\":[{\"@id\":\"#authors\"}]");
    show_out_text(&o, ",\"hasPart\":[");
    for (size_t i = 0; i < f->n; i++) {
        show_out_text(&o, i ? ",{\"@id\":" : "{\"@id\":");
        show_out_json(&o, f->entries[i].name);
        show_out_text(&o, "}");
    }
    show_out_text(&o, "]}");
    if (w->authors) {
        show_out_text(&o, ",\n{\"@id\":\"#authors\",\"@type\":\"Organization\",\"name\":");
        show_out_json(&o, w->authors);
        show_out_text(&o, "}");
    }
    for (size_t i = 0; i < f->n; i++) {
        const struct entry *e = &f->entries[i];
        show_out_text(&o, ",\n{\"@id\":");
        show_out_json(&o, e->name);
        show_out_text(&o, ",\"@type\":\"File\"");
        key(&o, "name", e->title);
        key(&o, "encodingFormat", e->media);
        show_out_format(&o, ",\"contentSize\":\"%zu\",\"sha256\":\"%s\"}", e->size, e->sha256);
    }
    show_out_text(&o, "\n]}\n");
    tell_folder_take(f, "ro-crate-metadata.json", "application/ld+json", "What this folder holds",
                     &o, 0, NULL);
}

static const char *schema_type(const struct field *d) {
    switch (d->type) {
    case FIELD_REAL:
        return "number";
    case FIELD_INT:
        return "integer";
    default:
        return "string";
    }
}

/* Data Package descriptor (Frictionless, "data-package" profile) for the tables. */
static void package(struct tell_folder *f) {
    struct show_out o = {0};
    show_out_text(&o, "{\"profile\":\"data-package\",\"name\":\"reconstruction\"");
    key(&o, "title", f->words.title);
    show_out_text(&o, ",\"resources\":[");
    bool first = true;
    for (size_t i = 0; i < f->n; i++) {
        const struct entry *e = &f->entries[i];
        if (!e->kind) continue;
        show_out_format(
            &o,
            "%s\n{\"name\":\"%s\",\"path\":\"%s\",\"profile\":\"tabular-data-resource\","
            "\"format\":\"csv\",\"mediatype\":\"text/csv\",\"encoding\":\"utf-8\","
            "\"bytes\":%zu,\"hash\":\"sha256:%s\",\"schema\":{\"fields\":[",
            first ? "" : ",", e->kind->name, e->name, e->size, e->sha256);
        first = false;
        if (e->named)
            show_out_text(&o, "{\"name\":\"id\",\"type\":\"string\",\"title\":\"Id\","
                              "\"description\":\"What this row is called.\"}");
        for (size_t c = 0; c < e->kind->n; c++) {
            show_out_text(&o, c || e->named ? ",{\"name\":\"" : "{\"name\":\"");
            column_name(&o, &e->kind->fields[c]);
            show_out_format(&o, "\",\"type\":\"%s\"", schema_type(&e->kind->fields[c]));
            key(&o, "title", e->kind->fields[c].label);
            key(&o, "description", e->kind->fields[c].help);
            show_out_text(&o, "}");
        }
        show_out_text(&o, "]}}");
    }
    show_out_text(&o, "]}\n");
    tell_folder_take(f, "datapackage.json", "application/json", "The tables, for programs", &o, 0,
                     NULL);
}

static void readme(struct tell_folder *f) {
    struct show_out o = {0};
    const struct tell_folder_words *w = &f->words;
    show_out_format(&o, "%s\n\n%s\n\n", w->title ? w->title : "A reconstruction",
                    w->text ? w->text : "");
    if (w->invented) show_out_text(&o, "The object and all about it are invented.\n\n");
    if (w->authors) show_out_format(&o, "By: %s\n", w->authors);
    if (w->date) show_out_format(&o, "Date: %.10s\n", w->date);
    if (w->identifier) show_out_format(&o, "Identifier: %s\n", w->identifier);
    if (w->contact) show_out_format(&o, "Contact: %s\n", w->contact);
    if (w->embargo) show_out_format(&o, "Embargo: %s\n", w->embargo);
    show_out_format(&o, "Written by: relict %s\n\n", w->version ? w->version : "");
    if (w->moment)
        show_out_format(
            &o,
            "To make the project again from this folder, with relict %s and no network:\n"
            "  relict export FOLDER again.relict --when %s\n"
            "  relict compute again.relict\n"
            "What people entered is then the same but for what is listed as left out or "
            "made coarse below; on the same machine so is every stored result "
            "(results/step-*.json).\n\n",
            w->version ? w->version : "", w->moment);
    show_out_text(
        &o,
        "Units: lengths in mm, angles in degrees, masses in g, moisture and shrinkage in percent, "
        "temperature in degrees Celsius; each column says its own in dictionary.csv.\n"
        "Tables: CSV, UTF-8, comma, point decimal, dates as year-month-day. An empty cell is "
        "unknown. A text that a spreadsheet would take for a formula begins with an apostrophe "
        "that is not part of it.\n"
        "Frame: x to the right, y up, in mm, seen from the outer face. The .geojson files are not "
        "in longitude and latitude; a map program will draw them off the coast of Africa.\n"
        "Ranges: 5 % to 95 % of the possible originals unless said otherwise.\n\nFiles\n");
    for (size_t i = 0; i < f->n; i++)
        show_out_format(&o, "  %-36s %s\n", f->entries[i].name,
                        f->entries[i].title ? f->entries[i].title : "");
    show_out_text(&o,
                  "  checksums.sha256                     SHA-256 of every file (sha256sum -c)\n");
    show_out_format(&o, "\nLeft out or made coarser\n%s\n",
                    f->notes.n ? f->notes.bytes : "  nothing\n");
    tell_folder_take(f, "README.txt", "text/plain", "Read this first", &o, 0, NULL);
}

static void checksums(struct tell_folder *f) {
    struct show_out o = {0};
    for (size_t i = 0; i < f->n; i++)
        show_out_format(&o, "%s  %s\n", f->entries[i].sha256, f->entries[i].name);
    tell_folder_take(f, "checksums.sha256", "text/plain", "SHA-256 of every file", &o, 0, NULL);
}

int tell_folder_close(struct tell_folder *f, struct error *err) {
    struct show_out o = {0};
    show_out_format(&o, "Licence: %s\n",
                    f->words.licence ? f->words.licence : "none has been stated; ask before use");
    tell_folder_take(f, "LICENCE.txt", "text/plain", "Licence", &o, 0, NULL);
    dictionary(f);
    package(f);
    readme(f);
    crate(f);
    checksums(f);
    int code = (int)f->error.code;
    if (code && err) *err = f->error;
    mem_free(f->entries);
    show_out_deinit(&f->notes);
    arena_free(f->arena);
    mem_free(f);
    return code;
}
