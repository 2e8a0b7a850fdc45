/* why: a statement's chain as lines, and what it comes down to. */
#include "remains/sentence.h"
#include "tell/dossier.h"
#include "tell/report_views.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { MOST_LINES = 400, MOST_NAMED = 24, MOST_SINGLE = 4, MOST_OPENED = 12 };

struct lines {
    struct tell_why *v;
    size_t n;
    const struct tell_dossier *dossier;
    struct arena *arena;
    bool failed;
};

static void line(struct lines *l, int depth, long footing, const char *link, char *text) {
    if (!text) l->failed = true;
    if (l->failed || l->n == MOST_LINES) return;
    l->v[l->n++] = (struct tell_why){depth, text, link, footing};
}

static bool is_ended(const char *text) {
    size_t n = strlen(text);
    return n && strchr(".!?", text[n - 1]);
}

static char *anchor(struct lines *l, const char *kind, const char *id) {
    return arena_printf(l->arena, "%s-%s", kind, id);
}

/* Statements about one piece stand in a table, all states of one size in one row. */
bool tell_is_of_piece(const struct statement *s) {
    return s->step && !strcmp(s->step, "sizes") && s->about && !strncmp(s->about, "piece ", 6) &&
           s->quantity;
}

bool tell_is_private(const struct tell_dossier *d, const struct statement *s) {
    if (!d->find || !s->about || strncmp(s->about, "piece ", 6)) return false;
    const struct piece *p = find_piece(d->find, s->about + 6);
    return p && p->hidden == 1;
}

const char *tell_anchor(const struct tell_dossier *d, const struct statement *s) {
    if (!tell_is_of_piece(s)) return report_material_anchor(d, s);
    for (size_t i = 0; i < statement_count(d->said); i++) {
        const struct statement *t = statement_at(d->said, i);
        if (tell_is_of_piece(t) && !strcmp(t->about, s->about) && !strcmp(t->quantity, s->quantity))
            return t->id;
    }
    return s->id;
}

static char *said_text(struct lines *l, const struct statement *s) {
    char *number = statement_number(s, l->arena);
    if (!number) return NULL;
    const char *sentence = s->sentence ? s->sentence : s->id;
    if (*number && !(sentence = tell_leading_to(sentence, l->arena))) return NULL;
    const char *state = isfinite(s->value.p50) ? s->state : NULL; /* a chance is of no state */
    return arena_printf(l->arena, "%s%s%s%s%s", sentence, *number ? " " : "", number,
                        state ? ", " : "", state ? state : "");
}

static const struct choice *choice_of(const struct find *find, const char *id) {
    for (size_t i = 0; find && i < find->choice_count; i++)
        if (!strcmp(find->choices[i].id, id)) return &find->choices[i];
    return NULL;
}

static const struct source *source_of(const struct find *find, const char *id) {
    for (size_t i = 0; find && i < find->source_count; i++)
        if (!strcmp(find->sources[i].id, id)) return &find->sources[i];
    return NULL;
}

static void choice_line(struct lines *l, int depth, const struct choice *c) {
    line(l, depth, c->footing, anchor(l, "choice", c->id),
         arena_printf(l->arena, "Choice: %s: %s%s%s%s%s%s%s%s%s", c->about ? c->about : c->id,
                      c->value ? c->value : "", c->who ? ", by " : "", c->who ? c->who : "",
                      c->date ? ", " : "", c->date ? c->date : "", c->reason ? ". Because: " : "",
                      c->reason ? c->reason : "", c->rival ? ". Else: " : "",
                      c->rival ? c->rival : ""));
}

/* One thing a statement rests on. */
static void link_line(struct lines *l, int depth, const struct statement_link *k) {
    const struct find *find = l->dossier->find;
    const char *role = k->role ? k->role : k->kind;
    if (!strcmp(k->kind, "measure")) {
        const struct measure *m = find ? find_measure(find, k->id) : NULL;
        if (m) {
            line(l, depth, FOOTING_SEEN, m->piece ? anchor(l, "piece", m->piece) : NULL,
                 arena_printf(l->arena, "%s: %s", m->id, measure_sentence(m, l->arena)));
            return;
        }
    } else if (!strcmp(k->kind, "piece")) {
        const struct piece *p = find ? find_piece(find, k->id) : NULL;
        if (p) {
            line(l, depth, FOOTING_SEEN, anchor(l, "piece", p->id),
                 arena_printf(l->arena, "Piece %s, %s", p->id, p->part ? p->part : "part unknown"));
            return;
        }
    } else if (!strcmp(k->kind, "source")) {
        const struct source *s = source_of(find, k->id);
        if (s) {
            line(l, depth, FIELD_UNKNOWN, anchor(l, "source", s->id),
                 arena_printf(l->arena, "Source %s: %s", s->id, s->title ? s->title : ""));
            return;
        }
    } else if (!strcmp(k->kind, "choice")) {
        const struct choice *c = choice_of(find, k->id);
        if (c) {
            choice_line(l, depth, c);
            return;
        }
    } else if (!strcmp(k->kind, "statement")) {
        const struct statement *s = statement_find(l->dossier->said, k->id);
        if (s) {
            line(l, depth, s->footing, tell_anchor(l->dossier, s), said_text(l, s));
            return;
        }
    }
    if (!strcmp(k->kind, "fact"))
        line(l, depth, FIELD_UNKNOWN, NULL,
             arena_printf(l->arena, "Table figure %s, as %s", k->id, role));
    else
        line(l, depth, FIELD_UNKNOWN, NULL,
             arena_printf(l->arena, "%s: %s (%s)", k->kind, k->id, role));
}

static size_t count_kind(const struct statement *s, const char *kind) {
    const struct statement_link *links = s->rests_on.v;
    size_t n = 0;
    for (size_t i = 0; i < s->rests_on.n; i++)
        n += !strcmp(links[i].kind, kind);
    return n;
}

/* "41 readings: A01.width, A02.width and 39 more" */
static void named_line(struct lines *l, int depth, const struct statement *s, const char *kind,
                       const char *words) {
    const struct statement_link *links = s->rests_on.v;
    struct show_out o = {0};
    size_t total = count_kind(s, kind), named = 0;
    show_out_format(&o, "%zu %s: ", total, words);
    for (size_t i = 0; i < s->rests_on.n; i++) {
        if (strcmp(links[i].kind, kind)) continue;
        if (named == MOST_NAMED) break;
        show_out_format(&o, "%s%s", named++ ? ", " : "", links[i].id);
    }
    if (total > named) show_out_format(&o, " and %zu more", total - named);
    line(l, depth, FOOTING_SEEN, NULL, o.failed ? NULL : arena_strdup(l->arena, o.bytes));
    show_out_deinit(&o);
}

static void direct(struct lines *l, int depth, const struct statement *s) {
    static const char *const many[][2] = {
        {"measure", "readings"}, {"piece", "pieces"}, {"mark", "marks"}, {"fact", "table figures"}};
    const struct statement_link *links = s->rests_on.v;
    bool folded[4] = {false};
    for (int k = 0; k < 4; k++) {
        folded[k] = count_kind(s, many[k][0]) > MOST_SINGLE;
        if (folded[k]) named_line(l, depth, s, many[k][0], many[k][1]);
    }
    for (size_t i = 0; i < s->rests_on.n; i++) {
        bool skip = depth == 0 && !strcmp(links[i].kind, "statement"); /* opened below */
        for (int k = 0; k < 4; k++)
            skip |= folded[k] && !strcmp(links[i].kind, many[k][0]);
        if (!skip) link_line(l, depth, &links[i]);
    }
}

/* ---- what it comes down to ---- */

struct bottom {
    const char *pieces[512];
    const struct statement *guesses[64], *seen[256];
    size_t n_pieces, n_guesses, n_seen;
};

static void add_piece(struct bottom *b, const char *id) {
    for (size_t i = 0; i < b->n_pieces; i++)
        if (!strcmp(b->pieces[i], id)) return;
    if (b->n_pieces < 512) b->pieces[b->n_pieces++] = id;
}

static void descend(struct bottom *b, const struct tell_dossier *d, const struct statement *s) {
    for (size_t i = 0; i < b->n_seen; i++)
        if (b->seen[i] == s) return;
    if (b->n_seen == 256) return;
    b->seen[b->n_seen++] = s;
    if (s->footing == FOOTING_GUESSED && b->n_guesses < 64) b->guesses[b->n_guesses++] = s;
    const struct statement_link *links = s->rests_on.v;
    for (size_t i = 0; i < s->rests_on.n; i++) {
        const struct statement *next = NULL;
        if (!strcmp(links[i].kind, "statement")) next = statement_find(d->said, links[i].id);
        if (next) descend(b, d, next);
        if (!strcmp(links[i].kind, "piece")) add_piece(b, links[i].id);
        const struct measure *m = NULL;
        if (!strcmp(links[i].kind, "measure") && d->find) m = find_measure(d->find, links[i].id);
        if (m && m->piece) add_piece(b, m->piece);
    }
}

static void bottom_lines(struct lines *l, const struct statement *s) {
    struct bottom *b = ARENA_NEW(l->arena, struct bottom, 1);
    if (!b) {
        l->failed = true;
        return;
    }
    descend(b, l->dossier, s);
    if (b->n_seen < 2) return; /* it rests on nothing said before: the lines above are all */
    struct show_out o = {0};
    for (size_t i = 0; i < b->n_pieces && i < MOST_NAMED; i++)
        show_out_format(&o, "%s%s", i ? ", " : "", b->pieces[i]);
    if (b->n_pieces > MOST_NAMED) show_out_format(&o, " and %zu more", b->n_pieces - MOST_NAMED);
    if (b->n_pieces)
        line(l, 0, FOOTING_SEEN, "pieces",
             arena_printf(l->arena, "It comes down to %zu piece%s: %s", b->n_pieces,
                          b->n_pieces == 1 ? "" : "s", o.bytes ? o.bytes : ""));
    l->failed |= o.failed;
    show_out_deinit(&o);
    for (size_t i = 0; i < b->n_guesses; i++)
        if (b->guesses[i] != s)
            line(l, 0, FOOTING_GUESSED, tell_anchor(l->dossier, b->guesses[i]),
                 arena_printf(l->arena, "and to a guess: %s",
                              b->guesses[i]->sentence ? b->guesses[i]->sentence
                                                      : b->guesses[i]->id));
}

int tell_why_lines(struct tell_why **out, size_t *n, const struct tell_dossier *dossier,
                   const struct statement *s, struct arena *arena, struct error *err) {
    struct lines l = {.dossier = dossier, .arena = arena};
    l.v = ARENA_NEW(arena, struct tell_why, MOST_LINES);
    if (!l.v) return fail_memory(err);
    if (s->rule)
        line(&l, 0, FIELD_UNKNOWN, NULL,
             arena_printf(arena, "Rule: %s%s%s", s->rule,
                          !s->source          ? ""
                          : is_ended(s->rule) ? " Source: "
                                              : ". Source: ",
                          s->source ? s->source : ""));
    else if (s->source)
        line(&l, 0, FIELD_UNKNOWN, NULL, arena_printf(arena, "Source: %s", s->source));
    if (s->standing >= 0 && s->standing < STANDING_COUNT)
        line(&l, 0, FIELD_UNKNOWN, NULL,
             arena_printf(arena, "The weakest table figure behind it is known as: %s",
                          standing_words[s->standing]));
    if (isfinite(s->raw)) {
        char raw[40];
        line(&l, 0, FOOTING_SEEN, NULL,
             arena_printf(arena, "As read: %s %s%s%s", show_real(raw, s->raw, 2),
                          s->unit ? s->unit : "", s->raw_state ? ", " : "",
                          s->raw_state ? s->raw_state : ""));
    }
    const struct statement_link *links = s->rests_on.v;
    direct(&l, 0, s);
    bool fold = count_kind(s, "statement") > MOST_OPENED;
    if (fold) named_line(&l, 0, s, "statement", "statements");
    for (size_t i = 0; i < s->rests_on.n && !fold; i++) {
        const struct statement *under =
            strcmp(links[i].kind, "statement") ? NULL : statement_find(dossier->said, links[i].id);
        if (!under || under == s) continue;
        line(&l, 0, under->footing, tell_anchor(dossier, under), said_text(&l, under));
        direct(&l, 1, under);
    }
    bottom_lines(&l, s);
    if (l.failed) return fail_memory(err);
    *out = l.v;
    *n = l.n;
    return 0;
}

int tell_say(struct tell_doc *doc, const struct tell_dossier *dossier, const struct statement *s,
             struct error *err) {
    struct arena *arena = tell_doc_arena(doc);
    if (!arena) return fail_memory(err);
    struct tell_why *why;
    size_t n;
    int code = tell_why_lines(&why, &n, dossier, s, arena, err);
    if (code) return code;
    char *number = statement_number(s, arena);
    if (!number) return fail_memory(err);
    if (isfinite(s->probability) && isfinite(s->value.p50)) {
        char share[40];
        double p = fmin(fmax(s->probability, 0.01), 0.99); /* 0 and 1 are never printed */
        number = arena_printf(arena, "%s, %s (%s)", number,
                              statement_likelihood_word(s->probability), show_real(share, p, 2));
        if (!number) return fail_memory(err);
    }
    struct tell_said said = {.id = s->id,
                             .sentence = s->sentence ? s->sentence : s->id,
                             .number = *number ? number : NULL,
                             .state = isfinite(s->value.p50) ? s->state : NULL,
                             .footing = s->footing,
                             .caution = s->caution,
                             .doubt = s->doubt,
                             .rival = s->rival,
                             .why = why,
                             .n_why = n};
    tell_statement(doc, &said);
    return tell_doc_status(doc, err);
}
