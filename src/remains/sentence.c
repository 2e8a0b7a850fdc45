#include "remains/sentence.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Adds a word with what stands between it and what came before; an empty one is left out. */
static void add(char **text, const char *between, const char *word, struct arena *arena) {
    if (!*text || !word || !*word) return;
    *text = arena_printf(arena, "%s%s%s", *text, **text ? between : "", word);
}

static const char *word_of(const char *const *words, long i) {
    for (long k = 0; words[k]; k++)
        if (k == i) return words[k];
    return NULL;
}

/* As find.h has it: angles and moistures stay as a person wrote them. */
static const char *unit_of(long quantity) {
    switch (quantity) {
    case QUANTITY_HOLES:
    case QUANTITY_ROUNDS:
    case QUANTITY_STITCHES_PER_10_MM:
        return "";
    case QUANTITY_CHAMFER_ANGLE:
        return " degrees";
    case QUANTITY_MASS:
        return " g";
    case QUANTITY_MOISTURE:
        return " %";
    default:
        return " mm";
    }
}

char *measure_sentence(const struct measure *m, struct arena *arena) {
    char value[80] = "not read";
    size_t n = 0;
    if (isfinite(m->value)) n = (size_t)snprintf(value, sizeof value, "%.6g", m->value);
    if (n && isfinite(m->tolerance))
        n += (size_t)snprintf(value + n, sizeof value - n, " ± %.6g", m->tolerance);
    if (n) snprintf(value + n, sizeof value - n, "%s", unit_of(m->quantity));
    char *text = arena_strdup(arena, "");
    add(&text, "", word_of(quantity_words, m->quantity), arena);
    if (m->bound > BOUND_VALUE) add(&text, " ", word_of(bound_words, m->bound), arena);
    add(&text, " ", value, arena);
    add(&text, ", ", word_of(direction_words, m->direction), arena);
    const char *state = word_of(state_words, m->state);
    add(&text, ", ", state ? state : "state unknown", arena);
    add(&text, "; ", m->method, arena);
    add(&text, "; ", m->observer, arena);
    add(&text, ", ", m->date, arena);
    if (m->flag) add(&text, ". Reservation: ", m->flag, arena);
    return text;
}

char *piece_sentence(const struct piece *p, struct arena *arena) {
    char *text = arena_strdup(arena, "");
    add(&text, "", p->part ? p->part : "part unknown", arena);
    add(&text, ", ", p->material, arena);
    if (p->zone) add(&text, ", zone ", p->zone, arena);
    if (p->shape_only == 1) add(&text, "; ", "shape only, no scale", arena);
    if (p->same_as) add(&text, "; a second reading of ", p->same_as, arena);
    add(&text, "; ", p->note, arena);
    return text;
}

static char *mark_sentence(const struct mark *m, struct arena *arena) {
    char *text = arena_strdup(arena, "");
    add(&text, "", word_of(mark_words, m->kind), arena);
    if (m->piece) add(&text, " on ", m->piece, arena);
    add(&text, ", ", word_of(face_words, m->face), arena);
    if (m->over && m->under) {
        add(&text, ": ", m->over, arena);
        add(&text, " over ", m->under, arena);
    }
    if (m->fits) add(&text, ", left by ", m->fits, arena);
    add(&text, ": ", m->what, arena);
    return text;
}

static char *source_sentence(const struct source *s, struct arena *arena) {
    char *text = arena_strdup(arena, "");
    add(&text, "", word_of(source_words, s->kind), arena);
    add(&text, ": ", s->title, arena);
    add(&text, "; ", s->who, arena);
    add(&text, ", ", s->date, arena);
    if (s->text) add(&text, ": ", arena_printf(arena, "“%s”", s->text), arena);
    return text;
}

static char *choice_sentence(const struct choice *c, struct arena *arena) {
    char *text = arena_strdup(arena, "");
    add(&text, "", c->about, arena);
    add(&text, ": ", c->value, arena);
    add(&text, "; ", c->who, arena);
    add(&text, ", ", c->date, arena);
    if (c->reason) add(&text, ". Because: ", c->reason, arena);
    if (c->rival) add(&text, ". Else: ", c->rival, arena);
    return text;
}

static char *handling_sentence(const struct handling *h, struct arena *arena) {
    char *text = arena_strdup(arena, h->allowed == 1   ? "may be handled"
                                     : h->allowed == 0 ? "may not be handled"
                                                       : "nobody asked whether it may be handled");
    add(&text, ": ", h->reason, arena);
    add(&text, "; ", h->what, arena);
    add(&text, "; ", h->who, arena);
    add(&text, ", ", h->date, arena);
    return text;
}

#define FIRST(list, count, id_, say)                                                               \
    for (size_t i = 0; i < (count); i++)                                                           \
        if (strcmp((list)[i].id, (id_)) == 0) return say(&(list)[i], arena)

char *find_sentence(const struct find *f, const char *kind, const char *id, struct arena *arena) {
    if (strcmp(kind, "measure") == 0) FIRST(f->measures, f->measure_count, id, measure_sentence);
    if (strcmp(kind, "piece") == 0) FIRST(f->pieces, f->piece_count, id, piece_sentence);
    if (strcmp(kind, "mark") == 0) FIRST(f->marks, f->mark_count, id, mark_sentence);
    if (strcmp(kind, "source") == 0) FIRST(f->sources, f->source_count, id, source_sentence);
    if (strcmp(kind, "choice") == 0) FIRST(f->choices, f->choice_count, id, choice_sentence);
    if (strcmp(kind, "handling") == 0)
        FIRST(f->handlings, f->handling_count, id, handling_sentence);
    return NULL;
}
