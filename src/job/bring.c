#include "job/bring.h"

#include "job/kinds.h"
#include "job/seal_trial.h"
#include "record/import.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

/* ---- what is it ----------------------------------------------------------------------------- */

static bool ends_with(const char *name, const char *end) {
    size_t n = strlen(name), m = strlen(end);
    return n >= m && strcasecmp(name + n - m, end) == 0;
}

static bool begins_with(const char *name, const char *begin) {
    return strncasecmp(name, begin, strlen(begin)) == 0;
}

static bool is_scan(const char *name) {
    return ends_with(name, ".ply") || ends_with(name, ".stl") || ends_with(name, ".obj");
}

/* By first bytes, then by name: photos, outlines, tables named after a kind ("sources.csv",
 * "handling.csv"), finds lists. */
static const char *guess(const char *name, const void *bytes, size_t n) {
    const char *media = record_media(bytes, n);
    if (strncmp(media, "image/", 6) == 0) return "photo";
    if (ends_with(name, ".geojson")) return "outlines";
    if (is_scan(name)) return "file"; /* an entry of the kind "scan" names it */
    const char *slash = strrchr(name, '/'), *base = slash ? slash + 1 : name;
    const char *longest = NULL; /* trial_reading.csv is no list of trials */
    for (size_t i = 0; i < job_kind_count(); i++)
        if (begins_with(base, job_kinds[i]->name) && strcmp(job_kinds[i]->name, "piece") &&
            (!longest || strlen(longest) < strlen(job_kinds[i]->name)))
            longest = job_kinds[i]->name;
    return longest ? longest : "finds";
}

/* ---- reports -------------------------------------------------------------------------------- */

static json_t *aside_of(const struct set_aside *a, struct arena *arena) {
    json_t *o = field_encode(&set_aside_kind, a);
    const struct import_problem *p = a->problems.v;
    const char *text = arena_printf(arena, "Row %ld", a->row);
    for (size_t i = 0; text && i < a->problems.n; i++)
        text = arena_printf(arena, "%s%s %s \"%s\": %s%s%s", text, i ? ";" : ",", p[i].column,
                            p[i].value ? p[i].value : "", p[i].reason,
                            p[i].suggestion ? " Perhaps: " : "",
                            p[i].suggestion ? p[i].suggestion : "");
    if (o && text) json_object_set_new(o, "sentence", json_string(text));
    return o;
}

static json_t *finds_report(const struct import_report *r, struct arena *arena) {
    json_t *o = field_encode(&import_report_kind, r), *aside = json_array();
    json_object_set_new(o, "kind", json_string("finds"));
    const char *sentence = arena_printf(
        arena, "%ld of %ld rows taken: %ld pieces, %ld measures, %ld marks. %ld set aside.",
        r->accepted, r->rows, r->pieces, r->measures, r->marks, r->held);
    json_object_set_new(o, "sentence", json_string(sentence ? sentence : ""));
    for (size_t i = 0; i < r->held_rows.n; i++)
        json_array_append_new(aside, aside_of((const struct set_aside *)r->held_rows.v + i, arena));
    json_object_set_new(o, "aside", aside);
    json_object_del(o, "held_rows");
    return o;
}

/* ---- bringing in ---------------------------------------------------------------------------- */

static int read_map(struct import_map *out, const json_t *json, struct arena *arena,
                    struct error *err) {
    return field_decode(&import_map_kind, json, out, arena, err);
}

static int bring_finds(json_t **report, struct job *job, const char *name, const void *bytes,
                       size_t n, const struct bring_options *o, struct arena *arena,
                       struct error *err) {
    struct import_map map;
    struct import_report r;
    int rc = o->map ? read_map(&map, o->map, arena, err) : 0;
    const struct import_list list = {.name = name,
                                     .bytes = bytes,
                                     .n = n,
                                     .map = o->map ? &map : NULL,
                                     .separator = o->separator,
                                     .decimal_comma = o->decimal_comma,
                                     .who = job_who(job),
                                     .when = job_when(job),
                                     .why = o->why};
    if (!rc) rc = import_finds(&r, job_record(job), &list, arena, err);
    if (!rc) *report = finds_report(&r, arena);
    return rc;
}

static int bring_outlines(json_t **report, struct record *record, const struct import_more *more,
                          struct arena *arena, struct error *err) {
    long count;
    struct control_fit fit;
    int rc = import_outlines(&count, &fit, record, more, NULL, arena, err);
    const char *text = arena_printf(arena, "%ld outlines of pieces.", count);
    if (!rc)
        *report = json_pack("{s:s,s:i,s:s}", "kind", "outline", "count", (int)count, "sentence",
                            text ? text : "");
    return rc;
}

static int bring_photo(json_t **report, struct record *record, const struct import_more *more,
                       const struct bring_options *o, struct arena *arena, struct error *err) {
    const char *source;
    struct texts about;
    double bar = o->bar_length > 0 ? o->bar_length : NAN;
    int rc = import_photo(&source, &about, record, more, o->label, bar, arena, err);
    if (rc) return rc;
    json_t *pieces = json_array();
    for (size_t i = 0; i < about.n; i++)
        json_array_append_new(pieces, json_string(about.v[i]));
    const char *text =
        arena_printf(arena, "Photo %s kept%s%s.", source,
                     about.n ? ", about " : "; it names no piece", about.n ? about.v[0] : "");
    *report = json_pack("{s:s,s:s,s:o,s:s}", "kind", "photo", "source", source, "about", pieces,
                        "sentence", text ? text : "");
    return 0;
}

/* Any other file, kept byte for byte under its name. */
static int bring_file(json_t **report, struct record *record, const struct import_more *more,
                      struct arena *arena, struct error *err) {
    const char *id;
    int rc = record_change_begin(record, more->who, more->when, more->why, err);
    if (rc) return rc;
    rc = record_file_add(&id, record, more->name, "file", more->bytes, more->n, arena, err);
    if (!rc) rc = record_change_commit(record, NULL, err);
    if (rc) {
        if (record_in_change(record)) record_change_rollback(record);
        return rc;
    }
    bool scan = is_scan(more->name);
    const char *text =
        arena_printf(arena, "The file is kept as %s.%s", id,
                     scan ? " Enter a scan that names it: of which piece, and laid on what." : "");
    *report = json_pack("{s:s,s:s,s:s}", "kind", "file", "file", id, "sentence", text ? text : "");
    return 0;
}

static int bring_entries(json_t **report, struct record *record, const char *kind,
                         const struct import_more *more, struct arena *arena, struct error *err) {
    long count;
    int rc = import_entries(&count, record, kind, more, arena, err);
    const char *text = arena_printf(arena, "%ld of kind %s.", count, kind);
    if (!rc)
        *report = json_pack("{s:s,s:i,s:s}", "kind", kind, "count", (int)count, "sentence",
                            text ? text : "");
    return rc;
}

/* What was stored stays stored when there is no memory left for telling of it: then the words say
 * so, that nobody brings it in twice. `before`: record_commits before. */
static int stored_yet(int rc, struct record *record, long before, const char *what,
                      struct error *err) {
    if (!rc || record_commits(record) == before) return rc;
    return fail(err, (enum error_code)rc, "Do not bring it in again; look at it in the project.",
                "%s was stored whole, but memory ran out while the account of it was made.", what);
}

int job_bring(json_t **report, struct job *job, const char *name, const void *bytes, size_t n,
              const struct bring_options *o, struct error *err) {
    *report = NULL;
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    const char *as = o->as ? o->as : guess(name, bytes, n);
    const struct import_more more = {.name = name,
                                     .bytes = bytes,
                                     .n = n,
                                     .who = job_who(job),
                                     .when = job_when(job),
                                     .why = o->why,
                                     .complete = strcmp(as, "trial") ? NULL : job_seal_trial};
    struct record *record = job_record(job);
    long before = record_commits(record);
    int rc = strcmp(as, "finds") == 0      ? bring_finds(report, job, name, bytes, n, o, arena, err)
             : strcmp(as, "outlines") == 0 ? bring_outlines(report, record, &more, arena, err)
             : strcmp(as, "photo") == 0    ? bring_photo(report, record, &more, o, arena, err)
             : strcmp(as, "file") == 0     ? bring_file(report, record, &more, arena, err)
                                           : bring_entries(report, record, as, &more, arena, err);
    if (!rc && !*report) rc = fail_memory(err);
    rc = stored_yet(rc, record, before, name, err);
    if (rc) error_place(err, err && *err->file ? NULL : name, 0, NULL, NULL);
    arena_free(arena);
    return rc;
}

int job_propose(json_t **out, const char *name, const void *bytes, size_t n,
                const struct bring_options *o, struct error *err) {
    *out = NULL;
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    struct csv_table table;
    struct import_map map;
    int rc = import_table(&table, name, bytes, n, o->separator, arena, err);
    if (!rc) rc = import_propose(&map, &table, o->separator, o->decimal_comma, arena, err);
    if (!rc && !(*out = field_encode(&import_map_kind, &map))) rc = fail_memory(err);
    arena_free(arena);
    return rc;
}

int job_aside(json_t **report, struct job *job, struct error *err) {
    *report = NULL;
    struct arena *arena = arena_new();
    struct snapshot now;
    struct import_report r;
    if (!arena) return fail_memory(err);
    int rc = job_snapshot(&now, job, arena, err);
    if (!rc) rc = import_aside(&r, job_record(job), &now.find, arena, err);
    if (!rc && !(*report = finds_report(&r, arena))) rc = fail_memory(err);
    arena_free(arena);
    return rc;
}

int job_release(json_t **report, struct job *job, const char *id, const json_t *cells,
                bool as_it_is, const char *why, struct error *err) {
    *report = NULL;
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    struct import_report r;
    long before = record_commits(job_record(job));
    int rc = import_release(&r, job_record(job), id, cells, as_it_is, job_who(job), job_when(job),
                            why, arena, err);
    if (!rc && !(*report = finds_report(&r, arena))) rc = fail_memory(err);
    rc = stored_yet(rc, job_record(job), before, id, err);
    arena_free(arena);
    return rc;
}
