#include "record/canon.h"

#include "base/mem.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- the growing text ----------------------------------------------------------------------- */

void canon_text_free(struct canon_text *text) {
    mem_free(text->v);
    *text = (struct canon_text){0};
}

static bool make_room(struct canon_text *text, size_t n) {
    if (text->failed) return false;
    if (text->room - text->n > n) return true;
    size_t room = text->room ? text->room : 256;
    while (room - text->n <= n) {
        if (room > (size_t)1 << 40) return !(text->failed = true);
        room *= 2;
    }
    char *v = mem_resize(text->v, room, 1);
    if (!v) {
        text->failed = true;
        return false;
    }
    text->v = v;
    text->room = room;
    return true;
}

void canon_add(struct canon_text *text, const void *bytes, size_t n) {
    if (!make_room(text, n)) return;
    if (n) memcpy(text->v + text->n, bytes, n);
    text->n += n;
    text->v[text->n] = 0;
}

static void add_text(struct canon_text *text, const char *s) {
    canon_add(text, s, strlen(s));
}

/* RFC 8259 section 7: quote, backslash and control signs are escaped, nothing else is. */
static char *escape(char *to, char sign) {
    static const char special[] = "\"\\\b\f\n\r\t", letter[] = "\"\\bfnrt";
    const char *at = strchr(special, sign);
    if (!at) return to + sprintf(to, "\\u%04X", (unsigned char)sign);
    *to++ = '\\';
    *to++ = letter[at - special];
    return to;
}

void canon_add_string(struct canon_text *text, const char *s) {
    if (!make_room(text, 6 * strlen(s) + 2)) return; /* each sign may become \u001F */
    char *to = text->v + text->n;
    *to++ = '"';
    for (; *s; s++) {
        if ((unsigned char)*s < 0x20 || *s == '"' || *s == '\\')
            to = escape(to, *s);
        else
            *to++ = *s;
    }
    *to++ = '"';
    *to = 0;
    text->n = (size_t)(to - text->v);
}

/* ---- numbers -------------------------------------------------------------------------------- */

static void add_integer(struct canon_text *text, long v) {
    char digits[24];
    int n = snprintf(digits, sizeof digits, "%ld", v);
    canon_add(text, digits, (size_t)n);
}

/* Most measured numbers have up to three decimals. If v is the double nearest to r / 1000, its
 * fifteen digits are those of r / 1000 with zeros behind, and printing integers is ten times
 * faster than %.15g. */
static bool add_short_number(struct canon_text *text, double v) {
    if (!(fabs(v) < 1e9) || v == 0) return false;
    double r = rint(v * 1000);
    if (r / 1000 != v) return false;
    long thousandths = (long)fabs(r);
    char digits[32], *p = digits + sizeof digits;
    *--p = 0;
    long decimals = thousandths % 1000, whole = thousandths / 1000;
    int places = decimals % 10 ? 3 : decimals % 100 ? 2 : 1;
    for (int i = 3; i > 0; i--, decimals /= 10)
        if (i <= places) *--p = (char)('0' + decimals % 10);
    *--p = '.';
    do
        *--p = (char)('0' + whole % 10);
    while (whole /= 10);
    if (v < 0) *--p = '-';
    add_text(text, p);
    return true;
}

static void add_number(struct canon_text *text, double v) {
    if (isnan(v)) {
        add_text(text, "null");
        return;
    }
    if (add_short_number(text, v)) return;
    char digits[48];
    snprintf(digits, sizeof digits, "%.15g", v);
    char *e = strchr(digits, 'e');
    if (!e) {
        if (!strchr(digits, '.')) strcat(digits, ".0");
        add_text(text, digits);
        return;
    }
    canon_add(text, digits, (size_t)(e - digits) + 1); /* exponent without + and leading zeros */
    e++;
    if (*e == '-') canon_add(text, "-", 1);
    if (*e == '-' || *e == '+') e++;
    while (*e == '0' && e[1])
        e++;
    add_text(text, e);
}

/* ---- structs -------------------------------------------------------------------------------- */

struct canon_kind {
    const struct kind *kind;
    const struct field **fields; /* [kind->n] by name */
    struct canon_kind **subs;    /* [kind->n] beside the fields; NULL where there is none */
    struct canon_text keys;      /* ,"name": of one field after the other */
    size_t *key;                 /* [kind->n + 1] where each begins in it */
};

static int by_name(const void *a, const void *b) {
    const struct field *const *x = a, *const *y = b;
    return strcmp((*x)->name, (*y)->name);
}

static bool write_keys(struct canon_kind *c) {
    for (size_t i = 0; i < c->kind->n; i++) {
        c->key[i] = c->keys.n;
        canon_add(&c->keys, ",", 1);
        canon_add_string(&c->keys, c->fields[i]->name);
        canon_add(&c->keys, ":", 1);
    }
    c->key[c->kind->n] = c->keys.n;
    return !c->keys.failed;
}

struct canon_kind *canon_kind_new(const struct kind *kind) {
    struct canon_kind *c = MEM_NEW(struct canon_kind, 1);
    if (!c) return NULL;
    c->kind = kind;
    c->fields = MEM_NEW(const struct field *, kind->n);
    c->subs = MEM_NEW(struct canon_kind *, kind->n);
    c->key = MEM_NEW(size_t, kind->n + 1);
    bool ok = c->fields && c->subs && c->key;
    for (size_t i = 0; ok && i < kind->n; i++)
        c->fields[i] = &kind->fields[i];
    if (ok) qsort((void *)c->fields, kind->n, sizeof *c->fields, by_name);
    if (ok) ok = write_keys(c);
    for (size_t i = 0; ok && i < kind->n; i++)
        if (c->fields[i]->sub) ok = (c->subs[i] = canon_kind_new(c->fields[i]->sub)) != NULL;
    if (ok) return c;
    canon_kind_free(c);
    return NULL;
}

void canon_kind_free(struct canon_kind *c) {
    if (!c) return;
    for (size_t i = 0; c->subs && i < c->kind->n; i++)
        canon_kind_free(c->subs[i]);
    mem_free(c->subs);
    mem_free((void *)c->fields);
    canon_text_free(&c->keys);
    mem_free(c->key);
    mem_free(c);
}

static double edge(const struct field *f, double inside) {
    return f->scale != 0 ? inside / f->scale : inside;
}

static void write_json(struct canon_text *out, const json_t *json);
static void write_struct(struct canon_text *out, const struct canon_kind *canon,
                         const void *record);

static bool is_known(const struct field *f, const void *p) {
    switch (f->type) {
    case FIELD_REAL:
        return !isnan(*(const double *)p);
    case FIELD_INT:
    case FIELD_CHOICE:
        return *(const long *)p != FIELD_UNKNOWN;
    case FIELD_FLAG:
        return *(const int *)p >= 0;
    case FIELD_TEXT:
    case FIELD_DATE:
        return *(const char *const *)p && **(const char *const *)p;
    case FIELD_RECORD:
        return true; /* left out afterwards if nothing is known inside */
    case FIELD_JSON:
        return *(json_t *const *)p != NULL;
    default:
        return ((const struct records *)p)->n > 0; /* every list begins with its count */
    }
}

static void write_list(struct canon_text *out, const struct field *f, const struct canon_kind *sub,
                       const void *p) {
    const struct records *list = p;
    canon_add(out, "[", 1);
    for (size_t i = 0; i < list->n && !out->failed; i++) {
        if (i) canon_add(out, ",", 1);
        if (f->type == FIELD_REALS)
            add_number(out, edge(f, ((const double *)list->v)[i]));
        else if (f->type == FIELD_INTS)
            add_integer(out, ((const long *)list->v)[i]);
        else if (f->type == FIELD_TEXTS)
            canon_add_string(out, ((const char *const *)list->v)[i]);
        else if (f->type == FIELD_RECORDS)
            write_struct(out, sub, (const char *)list->v + i * f->sub->size);
        else {
            const struct tuples *t = p;
            canon_add(out, "[", 1);
            for (size_t k = 0; k < t->width; k++) {
                if (k) canon_add(out, ",", 1);
                add_number(out, edge(f, t->v[i * t->width + k]));
            }
            canon_add(out, "]", 1);
        }
    }
    canon_add(out, "]", 1);
}

static void write_value(struct canon_text *out, const struct field *f, const struct canon_kind *sub,
                        const void *p) {
    switch (f->type) {
    case FIELD_REAL:
        add_number(out, edge(f, *(const double *)p));
        break;
    case FIELD_INT:
        add_integer(out, *(const long *)p);
        break;
    case FIELD_FLAG:
        add_text(out, *(const int *)p ? "true" : "false");
        break;
    case FIELD_CHOICE:
        canon_add_string(out, f->choices[*(const long *)p]);
        break;
    case FIELD_TEXT:
    case FIELD_DATE:
        canon_add_string(out, *(const char *const *)p);
        break;
    case FIELD_RECORD:
        write_struct(out, sub, p);
        break;
    case FIELD_JSON:
        write_json(out, *(json_t *const *)p);
        break;
    default:
        write_list(out, f, sub, p);
        break;
    }
}

static void write_struct(struct canon_text *out, const struct canon_kind *canon,
                         const void *record) {
    bool any = false;
    canon_add(out, "{", 1);
    for (size_t i = 0; i < canon->kind->n; i++) {
        const struct field *f = canon->fields[i];
        const void *p = (const char *)record + f->offset;
        if (!is_known(f, p)) continue;
        size_t before = out->n;
        size_t key = canon->key[i] + !any; /* the first has no comma */
        canon_add(out, canon->keys.v + key, canon->key[i + 1] - key);
        size_t value = out->n;
        write_value(out, f, canon->subs[i], p);
        if (f->type == FIELD_RECORD && out->n == value + 2 && !out->failed) {
            out->n = before; /* {}: nothing known inside */
            out->v[before] = 0;
            continue;
        }
        any = true;
    }
    canon_add(out, "}", 1);
}

int canon_write(struct canon_text *out, const struct canon_kind *canon, const void *record,
                struct error *err) {
    write_struct(out, canon, record);
    return out->failed ? fail_memory(err) : 0;
}

/* ---- checking ------------------------------------------------------------------------------- */

static int check_number(const struct field *f, double v, struct error *err) {
    if (isfinite(v) && f->min == 0 && f->max == 0) return 0;
    bool low = f->above_min ? v <= f->min : v < f->min;
    if (isfinite(v) && !low && (f->max >= FIELD_NO_LIMIT || v <= f->max)) return 0;
    error_place(err, NULL, 0, f->name, NULL);
    return fail(err, ERR_RANGE, f->help, "%s: %g %s; it must be %s %g and at most %g.", f->label, v,
                f->unit ? f->unit : "", f->above_min ? "above" : "at least", f->min, f->max);
}

static int check_list(const struct field *f, const void *p, struct error *err) {
    const struct records *list = p;
    int rc = 0;
    size_t width = f->type == FIELD_TUPLES ? ((const struct tuples *)p)->width : 1;
    const double *reals = f->type == FIELD_TUPLES ? ((const struct tuples *)p)->v : list->v;
    for (size_t i = 0; i < list->n && !rc; i++) {
        if (f->type == FIELD_RECORDS)
            rc = canon_check(f->sub, (const char *)list->v + i * f->sub->size, err);
        else if (f->type == FIELD_INTS)
            rc = check_number(f, (double)((const long *)list->v)[i], err);
        else if (f->type != FIELD_TEXTS)
            for (size_t k = 0; k < width && !rc; k++)
                rc = check_number(f, edge(f, reals[i * width + k]), err);
    }
    return rc;
}

int canon_check(const struct kind *kind, const void *record, struct error *err) {
    int rc = 0;
    for (size_t i = 0; i < kind->n && !rc; i++) {
        const struct field *f = &kind->fields[i];
        const void *p = (const char *)record + f->offset;
        if (!is_known(f, p)) {
            if (!f->required) continue;
            error_place(err, NULL, 0, f->name, NULL);
            return fail(err, ERR_MISSING, f->help, "%s (\"%s\") is needed and not given.", f->label,
                        f->name);
        }
        if (f->type == FIELD_REAL)
            rc = check_number(f, edge(f, *(const double *)p), err);
        else if (f->type == FIELD_INT)
            rc = check_number(f, (double)*(const long *)p, err);
        else if (f->type == FIELD_RECORD)
            rc = canon_check(f->sub, p, err);
        else if (f->type == FIELD_REALS || f->type == FIELD_INTS || f->type == FIELD_TUPLES ||
                 f->type == FIELD_RECORDS)
            rc = check_list(f, p, err);
    }
    return rc;
}

/* ---- any JSON ------------------------------------------------------------------------------- */

static int by_text(const void *a, const void *b) {
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static void write_object(struct canon_text *out, const json_t *json) {
    size_t n = json_object_size(json), i = 0;
    const char **keys = MEM_NEW(const char *, n);
    if (!keys) {
        out->failed = true;
        return;
    }
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)json, key, value) keys[i++] = key;
    qsort((void *)keys, n, sizeof *keys, by_text);
    canon_add(out, "{", 1);
    for (i = 0; i < n; i++) {
        if (i) canon_add(out, ",", 1);
        canon_add_string(out, keys[i]);
        canon_add(out, ":", 1);
        write_json(out, json_object_get(json, keys[i]));
    }
    canon_add(out, "}", 1);
    mem_free((void *)keys);
}

static void write_json(struct canon_text *out, const json_t *json) {
    switch (json_typeof(json)) {
    case JSON_OBJECT:
        write_object(out, json);
        break;
    case JSON_ARRAY:
        canon_add(out, "[", 1);
        for (size_t i = 0; i < json_array_size(json); i++) {
            if (i) canon_add(out, ",", 1);
            write_json(out, json_array_get(json, i));
        }
        canon_add(out, "]", 1);
        break;
    case JSON_STRING:
        canon_add_string(out, json_string_value(json));
        break;
    case JSON_INTEGER:
        add_integer(out, (long)json_integer_value(json));
        break;
    case JSON_REAL:
        add_number(out, json_real_value(json));
        break;
    case JSON_NULL:
        add_text(out, "null");
        break;
    default:
        add_text(out, json_is_true(json) ? "true" : "false");
        break;
    }
}

int canon_write_json(struct canon_text *out, const json_t *json, struct error *err) {
    write_json(out, json);
    return out->failed ? fail_memory(err) : 0;
}
