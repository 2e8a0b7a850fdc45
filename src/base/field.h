/* field: one descriptor per datum, from which everything else about it is made.
 *
 * A `struct kind` describes a plain C struct field by field: name, unit, type, limits, help and
 * example. Import maps, `relict calc`, stored records, the HTTP interface, forms, the column
 * dictionary of the deposit and the manual are all driven by it, so a thing is said once.
 *
 *     struct arc { double chord, rise; };
 *     static const struct field arc_fields[] = {
 *         {.name = "chord", .label = "Chord", .unit = "mm", .type = FIELD_REAL, .required = true,
 *          .offset = offsetof(struct arc, chord), .min = 0, .max = 1e5,
 *          .help = "Straight distance between the ends of the arc.", .example = "126"}, ... };
 *     const struct kind arc_kind = {"arc", "An arc", sizeof(struct arc), FIELDS(arc_fields), ...};
 *
 * Values inside the struct are in the house's units; `unit` is the unit at the edge and `scale`
 * takes edge to inside (inside = edge * scale; 0 stands for 1). Unknown is NAN for reals, LONG_MIN
 * for integers and choices, -1 for flags, NULL for texts, n = 0 for lists. Nothing here allocates
 * beyond the arena it is given. Thread-safe.
 */
#ifndef RELICT_BASE_FIELD_H
#define RELICT_BASE_FIELD_H

#include "base/arena.h"
#include "base/error.h"

#include <jansson.h>
#include <limits.h>
#include <stdbool.h>
#include <stddef.h>

#define FIELD_UNKNOWN LONG_MIN /* an integer or choice nobody knows */
#define FIELD_NO_LIMIT 1e300

enum field_type {
    FIELD_REAL,    /* double */
    FIELD_INT,     /* long */
    FIELD_FLAG,    /* int: 0, 1, -1 unknown */
    FIELD_TEXT,    /* const char * */
    FIELD_DATE,    /* const char *, ISO 8601: 2026-05-01, also 2026-05 and 2026 */
    FIELD_CHOICE,  /* long: index into choices */
    FIELD_REALS,   /* struct reals */
    FIELD_INTS,    /* struct ints */
    FIELD_TEXTS,   /* struct texts */
    FIELD_TUPLES,  /* struct tuples: list of rows of `width` numbers (points, triangles as reals) */
    FIELD_RECORD,  /* a struct described by `sub`, in place */
    FIELD_RECORDS, /* struct records: list of structs described by `sub` */
    FIELD_JSON     /* json_t *, borrowed from the parsed text: free-form, avoid */
};

struct reals {
    size_t n;
    double *v;
};
struct ints {
    size_t n;
    long *v;
};
struct texts {
    size_t n;
    const char **v;
};
struct tuples {
    size_t n, width;
    double *v; /* [n][width], row-major */
};
struct records {
    size_t n;
    void *v; /* [n] structs of sub->size */
};

struct field {
    const char *name;  /* JSON key, CSV heading, option: lower case, words joined by _ */
    const char *label; /* on screens and paper */
    const char *unit;  /* at the edge: "mm", "degrees", "percent", "" */
    enum field_type type;
    size_t offset;   /* in the struct */
    double min, max; /* at the edge, inclusive; both 0: no limits */
    bool above_min;  /* the minimum itself is not allowed */
    bool required;
    double scale;               /* inside = edge * scale; 0 means 1 */
    size_t width;               /* FIELD_TUPLES: numbers in a row; 0: any, all rows alike */
    const char *const *choices; /* FIELD_CHOICE: words, NULL-terminated */
    const struct kind *sub;     /* FIELD_RECORD, FIELD_RECORDS */
    const char *refers;         /* FIELD_TEXT: the kind whose id this names */
    const char *preset;         /* used when absent, as text at the edge; NULL: unknown */
    const char *help;           /* one sentence */
    const char *example;        /* as JSON text would have it, without quotes */
};

struct kind {
    const char *name;  /* "piece" */
    const char *title; /* "A surviving fragment" */
    size_t size;       /* of the struct */
    const struct field *fields;
    size_t n;
    const char *help; /* a sentence or two, for the manual */
};

#define FIELDS(array) (array), sizeof(array) / sizeof(array)[0]

/* Finds a field by name; NULL if there is none. */
const struct field *field_find(const struct kind *kind, const char *name);

/* The name nearest to `word` among n names, or NULL when none is near (edit distance over a third
 * of the length). For "did you mean". */
const char *field_nearest(const char *word, const char *const *names, size_t n);

/* Fills out (of kind->size bytes) with unknowns and presets. */
void field_unknown(const struct kind *kind, void *out);

/* Reads a JSON object into the struct: types, limits, choices, required and unexpected keys are
 * checked; the error names the field, its value, the limit and what to do. Strings and lists are
 * copied into the arena (FIELD_JSON is borrowed). On failure out is filled as far as it went. */
int field_decode(const struct kind *kind, const json_t *json, void *out, struct arena *arena,
                 struct error *err);

/* Reads one value given as text (a cell, a command's word). An empty text gives unknown. */
int field_decode_text(const struct field *field, const char *text, void *record,
                      struct arena *arena, struct error *err);

/* Makes a JSON object of the struct; unknown values are left out. Returns a new reference, NULL
 * when memory is gone. Numbers are rounded to 15 significant digits on the edge scale. */
json_t *field_encode(const struct kind *kind, const void *record);

/* Writes one value as text at the edge (empty when unknown). Lists are written as JSON.
 * Returns a string in the arena, NULL when memory is gone. */
char *field_text(const struct field *field, const void *record, struct arena *arena);

/* The kind as JSON (for dictionaries and forms). New reference. */
json_t *field_dictionary(const struct kind *kind);

#endif
