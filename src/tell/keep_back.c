#include "tell/keep_back.h"

#include "gather/stem.h"
#include "job/kinds.h"
#include "record/record_kinds.h"

#include <ctype.h>
#include <math.h>
#include <regex.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_CHANGED = 4096, SHORT_NAME = 2 };

/* ---- the words ---- */

static bool known(const struct keep_back *k, const char *word) {
    for (size_t i = 0; i < k->n; i++)
        if (!strcmp(k->words[i], word)) return true;
    return false;
}

static int add(struct keep_back *k, const char *word, struct error *err) {
    if (!word || !*word || known(k, word)) return 0;
    if (k->n == k->room) {
        size_t room = k->room ? 2 * k->room : 64;
        const char **more = ARENA_NEW(k->arena, const char *, room);
        if (!more) return fail_memory(err);
        if (k->n) memcpy(more, k->words, k->n * sizeof *more);
        k->words = more;
        k->room = room;
    }
    k->words[k->n] = arena_strdup(k->arena, word);
    return k->words[k->n++] ? 0 : fail_memory(err);
}

static int longest_first(const void *a, const void *b) {
    size_t x = strlen(*(const char *const *)a), y = strlen(*(const char *const *)b);
    return x < y ? 1 : x > y ? -1 : strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* A sentence of a private thing may have been copied elsewhere; a single word is anybody's. */
static bool telling(const char *text) {
    return text && strlen(text) >= 12 && strchr(text, ' ');
}

struct gathering {
    struct keep_back *k;
};

static int take_file(const struct record_entry *e, void *context, struct error *err) {
    struct keep_back *k = ((struct gathering *)context)->k;
    struct record_file f;
    json_t *body = json_loads(e->body, 0, NULL);
    int rc = field_decode(&record_file_kind, body, &f, k->arena, err);
    json_decref(body);
    if (!rc && f.is_private == 1) rc = add(k, f.name, err);
    return rc;
}

static int of_find(struct keep_back *k, const struct find *f, struct error *err) {
    int rc = 0;
    for (size_t i = 0; i < f->piece_count && !rc; i++) {
        const struct piece *p = &f->pieces[i];
        if (p->hidden != 1) continue;
        rc = add(k, p->id, err);
        if (!rc && telling(p->note)) rc = add(k, p->note, err);
        if (!rc && telling(p->part)) rc = add(k, p->part, err);
    }
    for (size_t i = 0; i < f->source_count && !rc; i++) {
        const struct source *s = &f->sources[i];
        if (s->hidden != 1) continue;
        rc = add(k, s->id, err);
        if (!rc) rc = add(k, s->file, err);
        if (!rc && telling(s->title)) rc = add(k, s->title, err);
        if (!rc && telling(s->text)) rc = add(k, s->text, err);
    }
    for (size_t i = 0; i < f->measure_count && !rc; i++)
        if (f->measures[i].piece && known(k, f->measures[i].piece))
            rc = add(k, f->measures[i].id, err);
    for (size_t i = 0; i < f->mark_count && !rc; i++)
        if (f->marks[i].piece && known(k, f->marks[i].piece)) rc = add(k, f->marks[i].id, err);
    return rc;
}

int keep_back_gather(struct keep_back *out, struct job *job, const struct find *find,
                     struct arena *arena, struct error *err) {
    *out = (struct keep_back){.arena = arena};
    int rc = of_find(out, find, err);
    struct records stems = {0};
    if (!rc) rc = record_load(&stems, NULL, job_record(job), &stem_kind_kind, 0, arena, err);
    for (size_t i = 0; i < stems.n && !rc; i++) {
        const char *owner = ((const struct stem *)stems.v)[i].owner;
        if (owner && strlen(owner) > SHORT_NAME) rc = add(out, owner, err);
    }
    struct gathering g = {out};
    if (!rc) rc = record_each(job_record(job), record_file_kind.name, 0, take_file, &g, err);
    if (!rc && out->n) qsort(out->words, out->n, sizeof *out->words, longest_first);
    return rc;
}

/* ---- texts ---- */

static bool of_word(char c) {
    return isalnum((unsigned char)c) || (unsigned char)c >= 0x80;
}

/* First place in `text` where `word` stands by itself; NULL when nowhere. */
static const char *whole(const char *text, const char *word) {
    size_t n = strlen(word);
    for (const char *p = text; (p = strstr(p, word)); p++) {
        bool before = p == text || !of_word(p[-1]) || !of_word(*word);
        bool after = !p[n] || !of_word(p[n]) || !of_word(word[n - 1]);
        if (before && after) return p;
    }
    return NULL;
}

static const char *cut(const struct keep_back *k, const char *text) {
    for (size_t i = 0; i < k->n && text; i++) {
        const char *word = k->words[i];
        if (strlen(word) <= SHORT_NAME && strcmp(text, word)) continue; /* "1" is in every text */
        const char *at, *from = text; /* a word may be part of the mark: never look back */
        while ((at = whole(from, word))) {
            size_t done = (size_t)(at - text) + strlen(KEPT_BACK);
            text = arena_printf(k->arena, "%.*s" KEPT_BACK "%s", (int)(at - text), text,
                                at + strlen(word));
            if (!text) return NULL;
            from = text + done;
        }
    }
    return text;
}

/* 54.12345, -2.34567 becomes 54.1, -2.3; SD 51234 71234 becomes SD 5 7. A pair of numbers with
 * four decimals or more that can be degrees is taken for a place. */
/* Whether a text could hold a pair of coordinates (0) or a letter grid reference (1): asked before
 * the patterns are tried, which costs a hundred times as much. */
static bool may_place(const char *text, size_t pattern) {
    for (const char *p = text; *p; p++) {
        if (pattern == 0 && *p == '.' && strspn(p + 1, "0123456789") >= 4) return true;
        if (pattern == 1 && *p >= 'A' && *p <= 'Z' &&
            strspn(p + 1 + (p[1] == ' '), "0123456789") >= 3)
            return true;
    }
    return false;
}

static const char *coarse(const struct keep_back *k, const char *text) {
    static const char *const patterns[] = {
        "([-+]?[0-9]{1,2}\\.[0-9])[0-9]{3,}([^-+0-9]{1,6})([-+]?[0-9]{1,3}\\.[0-9])[0-9]{3,}",
        "(\\b[A-Z]{1,2} ?[0-9])[0-9]{2,4}( ?)([0-9])[0-9]{2,4}\\b"};
    for (size_t i = 0; i < 2 && text; i++) {
        if (!may_place(text, i)) continue;
        regex_t r;
        regmatch_t m[4];
        if (regcomp(&r, patterns[i], REG_EXTENDED)) return text;
        /* letters with fewer than six figures name a piece or a tree, not a place */
        const char *from = text;
        while (text && !regexec(&r, from, 4, m, 0)) {
            size_t figures = 0;
            for (regoff_t p = m[0].rm_so; p < m[0].rm_eo; p++)
                figures += isdigit((unsigned char)from[p]) != 0;
            if (i == 1 && figures < 6) {
                from += m[0].rm_eo;
                continue;
            }
            size_t done = (size_t)(from - text);
            const char *next =
                arena_printf(k->arena, "%.*s%.*s%.*s%.*s%s", (int)(done + (size_t)m[0].rm_so), text,
                             (int)(m[1].rm_eo - m[1].rm_so), from + m[1].rm_so,
                             (int)(m[2].rm_eo - m[2].rm_so), from + m[2].rm_so,
                             (int)(m[3].rm_eo - m[3].rm_so), from + m[3].rm_so, from + m[0].rm_eo);
            from = next ? next + done + (size_t)m[0].rm_so + 1 : NULL;
            text = next;
        }
        regfree(&r);
    }
    return text;
}

const char *keep_back_text(const struct keep_back *k, const char *text) {
    return text ? coarse(k, cut(k, text)) : NULL;
}

/* A packed file cannot be looked into without unpacking it. */
static bool packed(const char *bytes, size_t n) {
    return n > 4 && (!memcmp(bytes, "PK\3\4", 4) || !memcmp(bytes, "%PDF", 4));
}

bool keep_back_in_file(const struct keep_back *k, const char *bytes, size_t n) {
    enum { BY_CHANCE = 6 }; /* shorter names turn up by chance in a picture's bytes */
    bool text = !memchr(bytes, 0, n);
    if (k->n && packed(bytes, n)) return true;
    for (size_t i = 0; i < k->n; i++) {
        const char *word = k->words[i];
        size_t m = strlen(word);
        if (m <= (text ? SHORT_NAME : BY_CHANCE)) continue;
        const char *p = bytes, *end = bytes + n;
        while ((p = memmem(p, (size_t)(end - p), word, m))) {
            if ((p == bytes || !of_word(p[-1])) && (p + m == end || !of_word(p[m]))) return true;
            p++;
        }
    }
    return false;
}

bool keep_back_names(const struct keep_back *k, const char *text) {
    for (size_t i = 0; i < k->n && text; i++) {
        size_t n = strlen(k->words[i]);
        if (!strncmp(text, k->words[i], n) && (!text[n] || text[n] == '.')) return true;
    }
    return false;
}

/* ---- stored results ---- */

static bool names_private(const struct keep_back *k, const json_t *value) {
    const char *key;
    size_t i;
    json_t *v;
    if (json_is_array(value)) json_array_foreach(value, i, v) {
            if (json_is_string(v) && keep_back_names(k, json_string_value(v))) return true;
        }
    if (json_is_object(value)) json_object_foreach((json_t *)value, key, v) {
            if (!json_is_string(v)) continue;
            const char *text = json_string_value(v);
            if (keep_back_names(k, text)) return true;
            if (!strncmp(text, "piece ", 6) && keep_back_names(k, text + 6)) return true;
        }
    return false;
}

/* What stands for a value: itself, or a text that was cut (new reference); NULL: memory. */
static json_t *cut_value(const struct keep_back *k, json_t *value, struct error *err) {
    if (!json_is_string(value)) return keep_back_json(k, value, err) ? NULL : json_incref(value);
    const char *text = keep_back_text(k, json_string_value(value));
    if (!text) fail_memory(err);
    return text == json_string_value(value) ? json_incref(value) : json_string(text);
}

int keep_back_json(const struct keep_back *k, json_t *value, struct error *err) {
    size_t i;
    const char *key;
    void *next;
    json_t *v;
    if (json_is_array(value)) {
        for (i = json_array_size(value); i-- > 0;) {
            v = json_array_get(value, i);
            /* a row of a table; the list of rows itself is not dropped for a word in it */
            if ((json_is_array(v) || json_is_object(v)) && names_private(k, v)) {
                json_array_remove(value, i);
                continue;
            }
            v = cut_value(k, v, err);
            if (!v || json_array_set_new(value, i, v)) return fail_memory(err);
        }
        return 0;
    }
    if (!json_is_object(value)) return 0;
    json_object_foreach_safe(value, next, key, v) {
        if (keep_back_names(k, key)) {
            json_object_del(value, key);
            continue;
        }
        v = cut_value(k, v, err);
        if (!v || json_object_set_new(value, key, v)) return fail_memory(err);
    }
    return 0;
}

/* ---- structs ---- */

static bool cut_fields(const struct keep_back *k, const struct kind *kind, char *record) {
    bool changed = false;
    for (size_t c = 0; c < kind->n; c++) {
        const struct field *f = &kind->fields[c];
        void *at = record + f->offset;
        if (f->type == FIELD_TEXT) {
            const char **text = at, *was = *text;
            *text = keep_back_text(k, was);
            changed |= was && *text != was;
        } else if (f->type == FIELD_TEXTS) {
            struct texts *list = at;
            for (size_t i = 0; i < list->n; i++) {
                const char *was = list->v[i];
                list->v[i] = keep_back_text(k, was);
                changed |= was && list->v[i] != was;
            }
        } else if (f->type == FIELD_RECORD) {
            changed |= cut_fields(k, f->sub, at);
        } else if (f->type == FIELD_RECORDS) {
            const struct records *list = at;
            for (size_t i = 0; i < list->n; i++)
                changed |= cut_fields(k, f->sub, (char *)list->v + i * f->sub->size);
        }
    }
    return changed;
}

/* Marked private itself, named so, or about a piece that is. */
static bool is_private(const struct keep_back *k, const struct kind *kind, const char *record) {
    const struct field *hidden = field_find(kind, "hidden");
    if (hidden && *(const int *)(const void *)(record + hidden->offset) == 1) return true;
    static const char *const names[] = {"id", "piece", "about"};
    for (size_t i = 0; i < 3; i++) {
        const struct field *f = field_find(kind, names[i]);
        if (!f || f->type != FIELD_TEXT) continue;
        const char *text = *(const char *const *)(const void *)(record + f->offset);
        if (text && i == 2 && !strncmp(text, "piece ", 6)) text += 6;
        if (keep_back_names(k, text)) return true;
    }
    return false;
}

/* A stem's owner is nobody else's business: emptied, not marked. */
static bool empty_owner(const struct kind *kind, char *record) {
    const struct field *owner = field_find(kind, "owner");
    if (!owner || owner->type != FIELD_TEXT) return false;
    const char **name = (const char **)(void *)(record + owner->offset);
    bool had = *name != NULL;
    *name = NULL;
    return had;
}

static void note_changed(struct keep_back *k, const struct kind *kind, const char *record,
                         const char *what) {
    const struct field *id = field_find(kind, "id");
    const char *name = id && id->type == FIELD_TEXT
                           ? *(const char *const *)(const void *)(record + id->offset)
                           : "";
    if (k->n_changed == k->room_changed) {
        size_t room = k->room_changed ? 2 * k->room_changed : 32;
        const char **more = ARENA_NEW(k->arena, const char *, room);
        if (!more || room > MOST_CHANGED) return;
        if (k->n_changed) memcpy(more, k->changed, k->n_changed * sizeof *more);
        k->changed = more;
        k->room_changed = room;
    }
    k->changed[k->n_changed++] = arena_printf(k->arena, "%s %s: %s", kind->name, name, what);
}

size_t keep_back_records(struct keep_back *k, const struct kind *kind, void *records, size_t n,
                         bool count) {
    size_t kept = 0;
    for (size_t i = 0; i < n; i++) {
        char *r = (char *)records + i * kind->size;
        if (is_private(k, kind, r)) {
            k->rows += count;
            continue;
        }
        bool owner = empty_owner(kind, r), changed = cut_fields(k, kind, r);
        k->texts += count && (owner || changed);
        if (count && owner) note_changed(k, kind, r, "the owner is left out");
        if (count && changed)
            note_changed(k, kind, r, "a private name is cut or a place made coarse");
        if (kept != i) memcpy((char *)records + kept * kind->size, r, kind->size);
        kept++;
    }
    return kept;
}

void keep_back_find(struct keep_back *k, struct find *f) {
    f->piece_count = keep_back_records(k, &piece_kind, f->pieces, f->piece_count, false);
    f->measure_count = keep_back_records(k, &measure_kind, f->measures, f->measure_count, false);
    f->mark_count = keep_back_records(k, &mark_kind_kind, f->marks, f->mark_count, false);
    f->outline_count =
        keep_back_records(k, &piece_outline_kind, f->outlines, f->outline_count, false);
    f->source_count = keep_back_records(k, &source_kind, f->sources, f->source_count, false);
    f->choice_count = keep_back_records(k, &choice_kind, f->choices, f->choice_count, false);
    f->handling_count =
        keep_back_records(k, &handling_kind, f->handlings, f->handling_count, false);
    f->alteration_count =
        keep_back_records(k, &own_alteration_kind, f->alterations, f->alteration_count, false);
}

int keep_back_statements(struct statement_set **out, struct keep_back *k,
                         const struct statement_set *said, struct error *err) {
    *out = statement_set_new(k->arena);
    if (!*out) return fail_memory(err);
    int rc = 0;
    for (size_t i = 0; i < statement_count(said) && !rc; i++) {
        struct statement s = *statement_at(said, i);
        /* the links are cut in a copy: the set handed in stays as it is */
        const struct records from = s.rests_on;
        size_t bytes = from.n * statement_link_kind.size;
        s.rests_on.v = bytes ? arena_alloc(k->arena, from.n, statement_link_kind.size) : NULL;
        if (bytes && !s.rests_on.v) return fail_memory(err);
        if (bytes) memcpy(s.rests_on.v, from.v, bytes);
        if (keep_back_records(k, &statement_kind, &s, 1, false)) rc = statement_add(*out, &s, err);
    }
    return rc;
}
