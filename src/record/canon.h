/* canon: one way of writing a body, so that equal things have equal bytes and equal hashes.
 *
 * Canonical JSON here: the struct's known fields only, keys sorted by their bytes, no spaces,
 * numbers as field_encode rounds them (15 digits), an empty text counts as unknown and is left
 * out. Written straight from the struct: a hundred thousand rows go through here. The same bytes as
 * json_dumps(field_encode(...), JSON_COMPACT | JSON_SORT_KEYS | JSON_REAL_PRECISION(15)), which a
 * test holds it to. Thread-safe when each thread has its own canon_text.
 */
#ifndef RELICT_RECORD_CANON_H
#define RELICT_RECORD_CANON_H

#include "base/field.h"

/* A text that grows; empty is {0}. */
struct canon_text {
    char *v;
    size_t n, room;
    bool failed; /* memory was gone: everything after is ignored (ask once, at the end) */
};
void canon_text_free(struct canon_text *text);
void canon_add(struct canon_text *text, const void *bytes, size_t n);
void canon_add_string(struct canon_text *text, const char *s); /* as a JSON string */

/* A kind with its fields in sorted order; borrowed kind. NULL when memory is gone. */
struct canon_kind;
struct canon_kind *canon_kind_new(const struct kind *kind);
void canon_kind_free(struct canon_kind *canon);

/* Appends the struct as canonical JSON. ERR_MEMORY only. */
int canon_write(struct canon_text *out, const struct canon_kind *canon, const void *record,
                struct error *err);

/* Checks a struct that did not come through field_decode: numbers finite and inside their limits,
 * choices known, required fields there. */
int canon_check(const struct kind *kind, const void *record, struct error *err);

/* Appends any JSON value in canonical form. */
int canon_write_json(struct canon_text *out, const json_t *json, struct error *err);

#endif
