#include "base/field.h"

#include "base/mem.h"

#include <ctype.h>
#include <errno.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- names ---------------------------------------------------------------------------------- */

const struct field *field_find(const struct kind *kind, const char *name) {
    for (size_t i = 0; i < kind->n; i++)
        if (strcmp(kind->fields[i].name, name) == 0) return &kind->fields[i];
    return NULL;
}

enum { LONGEST_WORD = 64 };

/* Levenshtein distance (Soviet Physics Doklady 10, 1966, 707), one row at a time. */
static size_t edit_distance(const char *a, const char *b) {
    size_t n = strlen(a), m = strlen(b), row[LONGEST_WORD + 1];
    if (n > LONGEST_WORD || m > LONGEST_WORD) return SIZE_MAX;
    for (size_t j = 0; j <= m; j++)
        row[j] = j;
    for (size_t i = 1; i <= n; i++) {
        size_t diagonal = row[0];
        row[0] = i;
        for (size_t j = 1; j <= m; j++) {
            size_t best =
                diagonal + (tolower((unsigned char)a[i - 1]) != tolower((unsigned char)b[j - 1]));
            if (row[j] + 1 < best) best = row[j] + 1;
            if (row[j - 1] + 1 < best) best = row[j - 1] + 1;
            diagonal = row[j];
            row[j] = best;
        }
    }
    return row[m];
}

const char *field_nearest(const char *word, const char *const *names, size_t n) {
    const char *best = NULL;
    size_t least = SIZE_MAX;
    for (size_t i = 0; i < n; i++) {
        size_t d = edit_distance(word, names[i]);
        if (d < least) {
            least = d;
            best = names[i];
        }
    }
    size_t allowed = best ? (strlen(best) + 2) / 3 : 0;
    return least <= allowed ? best : NULL;
}

/* ---- places in the struct ------------------------------------------------------------------- */

static void *at(void *record, const struct field *f) {
    return (char *)record + f->offset;
}
static const void *at_const(const void *record, const struct field *f) {
    return (const char *)record + f->offset;
}
static const char *hint(const struct field *f) {
    return f->help && *f->help ? f->help : "Look at this field in the help for what it takes.";
}
static double scale_of(const struct field *f) {
    return f->scale != 0 ? f->scale : 1;
}

static void set_unknown(const struct field *f, void *record);

void field_unknown(const struct kind *kind, void *out) {
    memset(out, 0, kind->size);
    for (size_t i = 0; i < kind->n; i++) {
        const struct field *f = &kind->fields[i];
        set_unknown(f, out);
        /* Presets are numbers, words of a choice or static texts: they need no arena. */
        if (f->preset && f->type == FIELD_TEXT)
            *(const char **)at(out, f) = f->preset;
        else if (f->preset)
            field_decode_text(f, f->preset, out, NULL, NULL);
    }
}

static void set_unknown(const struct field *f, void *record) {
    void *p = at(record, f);
    switch (f->type) {
    case FIELD_REAL:
        *(double *)p = NAN;
        break;
    case FIELD_INT:
    case FIELD_CHOICE:
        *(long *)p = FIELD_UNKNOWN;
        break;
    case FIELD_FLAG:
        *(int *)p = -1;
        break;
    case FIELD_TEXT:
    case FIELD_DATE:
        *(const char **)p = NULL;
        break;
    case FIELD_REALS:
        *(struct reals *)p = (struct reals){0};
        break;
    case FIELD_INTS:
        *(struct ints *)p = (struct ints){0};
        break;
    case FIELD_TEXTS:
        *(struct texts *)p = (struct texts){0};
        break;
    case FIELD_TUPLES:
        *(struct tuples *)p = (struct tuples){0};
        break;
    case FIELD_RECORDS:
        *(struct records *)p = (struct records){0};
        break;
    case FIELD_RECORD:
        field_unknown(f->sub, p);
        break;
    case FIELD_JSON:
        *(const json_t **)p = NULL;
        break;
    }
}

/* ---- checking one value --------------------------------------------------------------------- */

static bool has_limits(const struct field *f) {
    return f->min != 0 || f->max != 0;
}

static int judge_number(const struct field *f, double v, struct error *err) {
    if (!isfinite(v))
        return fail(err, ERR_RANGE, "Give an ordinary number, or leave it out if it is unknown.",
                    "%s is not a finite number.", f->label);
    if (!has_limits(f)) return 0;
    const char *unit = f->unit ? f->unit : "";
    if (f->above_min ? v <= f->min : v < f->min)
        return fail(err, ERR_RANGE, hint(f), "%s: %g %s; it must be %s %g.", f->label, v, unit,
                    f->above_min ? "above" : "at least", f->min);
    if (f->max < FIELD_NO_LIMIT && v > f->max)
        return fail(err, ERR_RANGE, hint(f), "%s: %g %s; it must be at most %g.", f->label, v, unit,
                    f->max);
    return 0;
}

static int check_number(const struct field *f, double v, struct error *err) {
    int rc = judge_number(f, v, err);
    if (rc) error_place(err, NULL, 0, f->name, NULL);
    return rc;
}

static bool is_date(const char *s) {
    static const int days[] = {31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    int y = 0, m = 1, d = 1, used = 0, n = (int)strlen(s);
    if (n != 4 && n != 7 && n != 10) return false;
    for (int i = 0; i < n; i++)
        if ((i == 4 || i == 7) ? s[i] != '-' : !isdigit((unsigned char)s[i])) return false;
    if (sscanf(s, "%4d%n-%2d%n-%2d%n", &y, &used, &m, &used, &d, &used) < 1) return false;
    if (m < 1 || m > 12 || d < 1 || d > days[m - 1]) return false;
    bool leap = (y % 4 == 0 && y % 100 != 0) || y % 400 == 0;
    return !(m == 2 && d == 29 && !leap);
}

static int choose(const struct field *f, const char *word, long *out, struct error *err) {
    size_t n = 0;
    for (; f->choices[n]; n++)
        if (strcmp(f->choices[n], word) == 0) {
            *out = (long)n;
            return 0;
        }
    char list[300] = "";
    size_t used = 0;
    for (size_t i = 0; i < n && used + 2 < sizeof list; i++) {
        int w = snprintf(list + used, sizeof list - used, "%s%s", i ? ", " : "", f->choices[i]);
        if (w < 0) break;
        used += (size_t)w;
    }
    const char *near = field_nearest(word, f->choices, n);
    char remedy[340];
    if (near)
        snprintf(remedy, sizeof remedy, "Did you mean \"%s\"? Possible: %s.", near, list);
    else
        snprintf(remedy, sizeof remedy, "Possible: %s.", list);
    error_place(err, NULL, 0, f->name, NULL);
    return fail(err, ERR_INPUT, remedy, "%s: \"%.80s\" is not a word known here.", f->label, word);
}

static int set_date(const struct field *f, const char *text, struct error *err) {
    if (is_date(text)) return 0;
    error_place(err, NULL, 0, f->name, NULL);
    return fail(err, ERR_INPUT,
                "Write year-month-day, as 2026-05-01; month or day may be left off.",
                "%s: \"%.40s\" is not a date.", f->label, text);
}

/* ---- reading JSON --------------------------------------------------------------------------- */

static const char *json_word(const json_t *j) {
    switch (json_typeof(j)) {
    case JSON_OBJECT:
        return "an object";
    case JSON_ARRAY:
        return "a list";
    case JSON_STRING:
        return "a text";
    case JSON_INTEGER:
    case JSON_REAL:
        return "a number";
    case JSON_NULL:
        return "null";
    default:
        return "true or false";
    }
}

static int wrong_type(const struct field *f, const char *wanted, const json_t *j,
                      struct error *err) {
    char remedy[200];
    snprintf(remedy, sizeof remedy, "For example: \"%s\": %s", f->name,
             f->example ? f->example : "...");
    error_place(err, NULL, 0, f->name, NULL);
    return fail(err, ERR_INPUT, remedy, "%s should be %s, not %s.", f->label, wanted, json_word(j));
}

static int decode_number(const struct field *f, const json_t *j, double *out, struct error *err) {
    if (!json_is_number(j)) return wrong_type(f, "a number", j, err);
    double v = json_number_value(j);
    int rc = check_number(f, v, err);
    *out = v * scale_of(f);
    return rc;
}

static int decode_integer(const struct field *f, const json_t *j, long *out, struct error *err) {
    double v = json_is_number(j) ? json_number_value(j) : 0.5;
    if (v != floor(v) || fabs(v) > 9e15) return wrong_type(f, "a whole number", j, err);
    *out = (long)v;
    return check_number(f, v, err);
}

static int decode_tuples(const struct field *f, const json_t *j, struct tuples *out,
                         struct arena *arena, struct error *err) {
    size_t n = json_array_size(j);
    size_t width = f->width ? f->width : json_array_size(json_array_get(j, 0));
    double *v = ARENA_NEW(arena, double, n *width);
    if (!v) return fail_memory(err);
    for (size_t i = 0; i < n; i++) {
        const json_t *row = json_array_get(j, i);
        if (!json_is_array(row) || json_array_size(row) != width) {
            error_place(err, NULL, 0, f->name, NULL);
            return fail(err, ERR_INPUT, hint(f), "%s: row %zu should hold %zu numbers.", f->label,
                        i + 1, width);
        }
        for (size_t k = 0; k < width; k++) {
            int rc = decode_number(f, json_array_get(row, k), &v[i * width + k], err);
            if (rc) return rc;
        }
    }
    *out = (struct tuples){n, width, v};
    return 0;
}

static int decode_list(const struct field *f, const json_t *j, void *p, struct arena *arena,
                       struct error *err) {
    if (!json_is_array(j)) return wrong_type(f, "a list", j, err);
    size_t n = json_array_size(j);
    int rc = 0;
    if (f->type == FIELD_TUPLES) return decode_tuples(f, j, p, arena, err);
    size_t size = f->type == FIELD_REALS   ? sizeof(double)
                  : f->type == FIELD_INTS  ? sizeof(long)
                  : f->type == FIELD_TEXTS ? sizeof(char *)
                                           : f->sub->size;
    char *v = arena_alloc(arena, n, size);
    if (!v) return fail_memory(err);
    for (size_t i = 0; i < n && !rc; i++) {
        const json_t *e = json_array_get(j, i);
        void *to = v + i * size;
        if (f->type == FIELD_REALS)
            rc = decode_number(f, e, to, err);
        else if (f->type == FIELD_INTS)
            rc = decode_integer(f, e, to, err);
        else if (f->type == FIELD_RECORDS) {
            rc = field_decode(f->sub, e, to, arena, err);
            if (rc && err && !*err->id)
                snprintf(err->id, sizeof err->id, "%.40s %zu", f->name, i + 1);
        } else if (!json_is_string(e))
            rc = wrong_type(f, "a list of texts", e, err);
        else if (!(*(char **)to = arena_strdup(arena, json_string_value(e))))
            rc = fail_memory(err);
    }
    /* All list structs begin with the count and hold one pointer. */
    *(struct records *)p = (struct records){n, v};
    return rc;
}

static int decode_value(const struct field *f, const json_t *j, void *record, struct arena *arena,
                        struct error *err) {
    void *p = at(record, f);
    switch (f->type) {
    case FIELD_REAL:
        return decode_number(f, j, p, err);
    case FIELD_INT:
        return decode_integer(f, j, p, err);
    case FIELD_FLAG:
        if (!json_is_boolean(j)) return wrong_type(f, "true or false", j, err);
        *(int *)p = json_is_true(j);
        return 0;
    case FIELD_TEXT:
    case FIELD_DATE:
    case FIELD_CHOICE: {
        if (!json_is_string(j)) return wrong_type(f, "a text", j, err);
        const char *s = json_string_value(j);
        if (f->type == FIELD_CHOICE) return choose(f, s, p, err);
        if (f->type == FIELD_DATE && set_date(f, s, err)) return err ? (int)err->code : ERR_INPUT;
        char *c = arena_strdup(arena, s);
        if (!c) return fail_memory(err);
        *(const char **)p = c;
        return 0;
    }
    case FIELD_RECORD:
        return field_decode(f->sub, j, p, arena, err);
    case FIELD_JSON:
        *(const json_t **)p = j;
        return 0;
    default:
        return decode_list(f, j, p, arena, err);
    }
}

static int unexpected_key(const struct kind *kind, const char *key, struct error *err) {
    const char *names[256];
    size_t n = kind->n < 256 ? kind->n : 256;
    for (size_t i = 0; i < n; i++)
        names[i] = kind->fields[i].name;
    const char *near = field_nearest(key, names, n);
    char remedy[200];
    if (near)
        snprintf(remedy, sizeof remedy, "Did you mean \"%s\"?", near);
    else
        snprintf(remedy, sizeof remedy, "Take it out, or look at the list of fields in the help.");
    error_place(err, NULL, 0, key, NULL);
    return fail(err, ERR_INPUT, remedy, "\"%.60s\" is not a field of %s.", key, kind->name);
}

int field_decode(const struct kind *kind, const json_t *json, void *out, struct arena *arena,
                 struct error *err) {
    field_unknown(kind, out);
    if (!json_is_object(json))
        return fail(err, ERR_INPUT, "Put the fields between { and }.",
                    "%s should be an object of named fields.", kind->title);
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)json, key, value) {
        const struct field *f = field_find(kind, key);
        if (!f) return unexpected_key(kind, key, err);
        if (json_is_null(value)) continue;
        int rc = decode_value(f, value, out, arena, err);
        if (rc) return rc;
    }
    for (size_t i = 0; i < kind->n; i++) {
        const struct field *f = &kind->fields[i];
        const json_t *v = json_object_get(json, f->name);
        if (!f->required || (v && !json_is_null(v))) continue;
        error_place(err, NULL, 0, f->name, NULL);
        return fail(err, ERR_MISSING, hint(f), "%s (\"%s\") is needed and not given.", f->label,
                    f->name);
    }
    return 0;
}

/* ---- reading text --------------------------------------------------------------------------- */

static int text_number(const struct field *f, const char *text, double *out, struct error *err) {
    char *end;
    errno = 0;
    double v = strtod(text, &end);
    while (isspace((unsigned char)*end))
        end++;
    bool plain = strspn(text, " +-.0123456789eE") == strlen(text);
    if (end == text || *end || !plain) {
        error_place(err, NULL, 0, f->name, NULL);
        return fail(err, ERR_INPUT,
                    strchr(text, ',')
                        ? "Write the decimal sign as a point, or switch on decimal commas."
                        : "Write a plain number, as 12.5, or leave it empty.",
                    "%s: \"%.60s\" is not a number.", f->label, text);
    }
    *out = v;
    return check_number(f, v, err);
}

int field_decode_text(const struct field *f, const char *text, void *record, struct arena *arena,
                      struct error *err) {
    void *p = at(record, f);
    if (!text || !*text) {
        set_unknown(f, record);
        return 0;
    }
    double v = 0;
    int rc;
    switch (f->type) {
    case FIELD_REAL:
        rc = text_number(f, text, &v, err);
        if (!rc) *(double *)p = v * scale_of(f);
        return rc;
    case FIELD_INT:
        rc = text_number(f, text, &v, err);
        if (!rc && (v != floor(v) || fabs(v) > 9e15))
            rc = fail(err, ERR_INPUT, hint(f), "%s: %g is not a whole number.", f->label, v);
        if (!rc) *(long *)p = (long)v;
        return rc;
    case FIELD_FLAG: {
        static const char *const yes[] = {"yes", "true", "1"}, *const no[] = {"no", "false", "0"};
        for (int i = 0; i < 3; i++) {
            if (strcmp(text, yes[i]) == 0) return *(int *)p = 1, 0;
            if (strcmp(text, no[i]) == 0) return *(int *)p = 0, 0;
        }
        error_place(err, NULL, 0, f->name, NULL);
        return fail(err, ERR_INPUT, "Write yes or no.", "%s: \"%.40s\" is neither yes nor no.",
                    f->label, text);
    }
    case FIELD_CHOICE:
        return choose(f, text, p, err);
    case FIELD_DATE:
        if (set_date(f, text, err)) return err ? (int)err->code : ERR_INPUT;
        /* fall through */
    case FIELD_TEXT: {
        char *c = arena_strdup(arena, text);
        if (!c) return fail_memory(err);
        *(const char **)p = c;
        return 0;
    }
    default: {
        json_error_t je;
        json_t *j = json_loads(text, JSON_REJECT_DUPLICATES, &je);
        if (!j) {
            error_place(err, NULL, 0, f->name, NULL);
            return fail(err, ERR_INPUT, hint(f), "%s: \"%.60s\" is not a list (%s).", f->label,
                        text, je.text);
        }
        rc = f->type == FIELD_JSON
                 ? fail(err, ERR_INPUT, NULL, "%s cannot be given as one text.", f->label)
                 : decode_value(f, j, record, arena, err);
        json_decref(j);
        return rc;
    }
    }
}

/* ---- writing -------------------------------------------------------------------------------- */

/* Rounds to 15 digits, so that 412.35 is written 412.35 after a change of unit and back. */
static json_t *number(const struct field *f, double inside) {
    if (isnan(inside)) return json_null();
    char text[40];
    snprintf(text, sizeof text, "%.15g", inside / scale_of(f));
    return json_real(strtod(text, NULL));
}

static json_t *encode_value(const struct field *f, const void *record) {
    const void *p = at_const(record, f);
    switch (f->type) {
    case FIELD_REAL:
        return isnan(*(const double *)p) ? NULL : number(f, *(const double *)p);
    case FIELD_INT: {
        long v = *(const long *)p;
        return v == FIELD_UNKNOWN ? NULL : json_integer(v);
    }
    case FIELD_FLAG: {
        int v = *(const int *)p;
        return v < 0 ? NULL : json_boolean(v);
    }
    case FIELD_CHOICE: {
        long v = *(const long *)p;
        return v == FIELD_UNKNOWN ? NULL : json_string(f->choices[v]);
    }
    case FIELD_TEXT:
    case FIELD_DATE: {
        const char *s = *(const char *const *)p;
        return s ? json_string(s) : NULL;
    }
    case FIELD_RECORD:
        return field_encode(f->sub, p);
    case FIELD_JSON:
        return json_incref(*(json_t *const *)p);
    default:
        break;
    }
    const struct records *list = p; /* every list begins with its count */
    if (list->n == 0) return NULL;
    json_t *a = json_array();
    for (size_t i = 0; i < list->n; i++) {
        json_t *e = NULL;
        if (f->type == FIELD_REALS)
            e = number(f, ((const struct reals *)p)->v[i]);
        else if (f->type == FIELD_INTS)
            e = json_integer(((const struct ints *)p)->v[i]);
        else if (f->type == FIELD_TEXTS)
            e = json_string(((const struct texts *)p)->v[i]);
        else if (f->type == FIELD_RECORDS)
            e = field_encode(f->sub, (const char *)list->v + i * f->sub->size);
        else {
            const struct tuples *t = p;
            e = json_array();
            for (size_t k = 0; k < t->width; k++)
                json_array_append_new(e, number(f, t->v[i * t->width + k]));
        }
        if (!e || json_array_append_new(a, e)) {
            json_decref(a);
            return NULL;
        }
    }
    return a;
}

json_t *field_encode(const struct kind *kind, const void *record) {
    json_t *object = json_object();
    for (size_t i = 0; object && i < kind->n; i++) {
        const struct field *f = &kind->fields[i];
        json_t *v = encode_value(f, record);
        if (v && json_object_set_new(object, f->name, v)) {
            json_decref(object);
            return NULL;
        }
    }
    return object;
}

char *field_text(const struct field *f, const void *record, struct arena *arena) {
    json_t *v = encode_value(f, record);
    if (!v || json_is_null(v)) {
        json_decref(v);
        return arena_strdup(arena, "");
    }
    char *text = NULL;
    if (json_is_string(v))
        text = arena_strdup(arena, json_string_value(v));
    else if (json_is_boolean(v))
        text = arena_strdup(arena, json_is_true(v) ? "yes" : "no");
    else if (json_is_integer(v))
        text = arena_printf(arena, "%" JSON_INTEGER_FORMAT, json_integer_value(v));
    else if (json_is_real(v))
        text = arena_printf(arena, "%.15g", json_real_value(v));
    else {
        char *dumped = json_dumps(v, JSON_COMPACT | JSON_REAL_PRECISION(15));
        text = arena_strdup(arena, dumped);
        free(dumped);
    }
    json_decref(v);
    return text;
}

static const char *type_name(enum field_type t) {
    static const char *const names[] = {"number", "integer", "flag",     "text",  "date",
                                        "choice", "numbers", "integers", "texts", "rows",
                                        "record", "records", "free"};
    return names[t];
}

json_t *field_dictionary(const struct kind *kind) {
    json_t *list = json_array();
    for (size_t i = 0; list && i < kind->n; i++) {
        const struct field *f = &kind->fields[i];
        json_t *o = json_object();
        json_object_set_new(o, "name", json_string(f->name));
        json_object_set_new(o, "label", json_string(f->label));
        json_object_set_new(o, "type", json_string(type_name(f->type)));
        if (f->unit && *f->unit) json_object_set_new(o, "unit", json_string(f->unit));
        if (f->required) json_object_set_new(o, "required", json_true());
        if (has_limits(f)) {
            if (f->min > -FIELD_NO_LIMIT)
                json_object_set_new(o, f->above_min ? "above" : "min", json_real(f->min));
            if (f->max < FIELD_NO_LIMIT) json_object_set_new(o, "max", json_real(f->max));
        }
        if (f->choices) {
            json_t *c = json_array();
            for (size_t k = 0; f->choices[k]; k++)
                json_array_append_new(c, json_string(f->choices[k]));
            json_object_set_new(o, "choices", c);
        }
        if (f->width) json_object_set_new(o, "width", json_integer((json_int_t)f->width));
        if (f->refers) json_object_set_new(o, "refers", json_string(f->refers));
        if (f->preset) json_object_set_new(o, "preset", json_string(f->preset));
        if (f->help) json_object_set_new(o, "help", json_string(f->help));
        if (f->example) json_object_set_new(o, "example", json_string(f->example));
        if (f->sub) json_object_set_new(o, "fields", field_dictionary(f->sub));
        json_array_append_new(list, o);
    }
    return list;
}
