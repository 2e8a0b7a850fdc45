#include "tell/report_views.h"

#include "tell/grid.h"
#include "tell/table_view.h"

#include <math.h>
#include <string.h>

static const char *word(const char *const *words, long i, long count) {
    return i >= 0 && i < count ? words[i] : NULL;
}

/* The words of footings as they stand in a table: on one line. */
static const char *const footing_cells[FOOTING_COUNT] = {
    "seen", "worked\u00a0out", "from\u00a0a\u00a0parallel", "guessed", "modern\u00a0need"};

static bool same(const char *a, const char *b) {
    return strcmp(a ? a : "", b ? b : "") == 0;
}

bool report_rests_on(const struct tell_dossier *d, const struct statement *s, const char *kind,
                     const char *id, int deep) {
    const struct statement_link *links = s->rests_on.v;
    for (size_t i = 0; i < s->rests_on.n; i++) {
        if (!strcmp(links[i].kind, kind) && !strcmp(links[i].id, id)) return true;
        if (deep > 0 && !strcmp(links[i].kind, "statement")) {
            const struct statement *under = statement_find(d->said, links[i].id);
            if (under && under != s && report_rests_on(d, under, kind, id, deep - 1)) return true;
        }
    }
    return false;
}

/* ---- in short ---- */

static void say_short(struct grid *g, const struct tell_dossier *d, const char *id) {
    const struct statement *s = d->said ? statement_find(d->said, id) : NULL;
    if (!s || tell_is_private(d, s)) return;
    const char *number = statement_number(s, g->arena);
    grid_text(g, number && *number ? tell_leading_to(s->sentence, g->arena) : s->sentence);
    grid_link(g, tell_anchor(d, s));
    const char *state = isfinite(s->value.p50) ? s->state : NULL;
    grid_text(g, arena_printf(g->arena, "%s%s%s", number && *number ? number : "",
                              number && *number && state ? ", " : "",
                              number && *number && state ? state : ""));
    grid_text(g, word(footing_cells, s->footing, FOOTING_COUNT));
}

void report_in_short(struct tell_doc *doc, const struct tell_dossier *d) {
    /* What a reader asks first; an object that has no such part leaves the row out. */
    static const char *const asked[] = {"outline.length",        "outline.width",
                                        "outline.family",        "lath.count",
                                        "lath.width.fresh",      "lath.thickness.fresh",
                                        "sheet.thickness.fresh", "coil.form",
                                        "making.grain",          "shape.made.rise",
                                        "shape.made.stiffness",  "shape.made.weight",
                                        "strength.order.pull",   NULL};
    struct grid g;
    grid_begin(&g, tell_doc_arena(doc),
               (const char *const[]){"what is held", "how much", "footing", NULL});
    for (size_t i = 0; asked[i]; i++)
        say_short(&g, d, asked[i]);
    bool anything = g.rows || (d->makings && d->makings->making_count) || d->n_trials;
    if (!anything) return;
    tell_h1(doc, "short", "In short", 8);
    for (size_t i = 0; d->makings && i < d->makings->making_count; i++) {
        const struct making *m = &d->makings->makings[i];
        char share[40];
        if (!isfinite(m->weight)) continue;
        tell_item(doc, "%s: weight %s among the rivals, %s.", m->title ? m->title : m->id,
                  show_real(share, m->weight, 2), statement_likelihood_word(m->weight));
    }
    for (size_t i = 0; i < d->n_trials; i++) {
        const struct tell_trial *t = &d->trials[i];
        tell_item(doc, "Trial %s: %s %s", t->id, t->question ? t->question : "",
                  t->verdict < 0                   ? "No outcome yet."
                  : t->verdict == LOOK_CANNOT_TELL ? "It cannot tell yet."
                  : t->verdict == LOOK_SUPPORTS    ? "It supports what was foretold."
                                                   : "It does not support what was foretold.");
    }
    grid_end(&g, doc, NULL);
    tell_p(doc, "Each of these stands further on with the chain of reasons behind it.");
}

/* ---- statements as a table ---- */

/* A rule without the name of the one thing it speaks of, for rows that stand for several. */
static const char *common_rule(const char *rule, struct arena *arena) {
    const char *see = strstr(rule, ", see "), *then = see ? strchr(see + 2, ',') : NULL;
    if (!see) see = strstr(rule, "; see ");
    return see ? arena_printf(arena, "%.*s%s", (int)(see - rule), rule, then ? then : "") : rule;
}

/* What a statement is about, in a cell: "A12", "side rod". */
static const char *thing_of(const struct statement *s, struct arena *arena) {
    const char *about = s->about ? s->about : "";
    if (!strncmp(about, "piece ", 6)) return about + 6;
    return table_plain_word(strncmp(about, "part ", 5) ? about : about + 5, arena);
}

/* The things of which the same is said, in a row. */
static const char *all_about(const struct tell_dossier *d, size_t first, struct arena *arena,
                             bool (*belongs)(const struct tell_dossier *,
                                             const struct statement *)) {
    const struct statement *s = statement_at(d->said, first);
    struct show_out list = {0};
    for (size_t i = first; i < statement_count(d->said); i++) {
        const struct statement *t = statement_at(d->said, i);
        if (!same(t->sentence, s->sentence) || !same(t->step, s->step) || !belongs(d, t)) continue;
        const char *about = thing_of(t, arena);
        if (list.bytes && strstr(list.bytes, about)) continue;
        show_out_format(&list, "%s%s", list.n ? ", " : "", about);
    }
    const char *text = list.bytes ? arena_strdup(arena, list.bytes) : "";
    show_out_deinit(&list);
    return text;
}

static bool told_before(const struct tell_dossier *d, size_t i) {
    const struct statement *s = statement_at(d->said, i);
    for (size_t k = 0; k < i; k++)
        if (same(statement_at(d->said, k)->sentence, s->sentence) &&
            same(statement_at(d->said, k)->step, s->step))
            return true;
    return false;
}

/* A text that was said in the row before is not said again. */
static const char *unless_said(const char **before, const char *text) {
    bool again = text && *text && same(text, *before);
    *before = text;
    return again ? "as above" : text;
}

void report_statement_table(struct tell_doc *doc, const struct tell_dossier *d, const char *step,
                            bool (*belongs)(const struct tell_dossier *, const struct statement *),
                            const char *title) {
    struct arena *arena = tell_doc_arena(doc);
    struct grid g;
    const char *rule_before = NULL, *care_before = NULL;
    grid_begin(&g, arena,
               (const char *const[]){"of", "what is said", "how much", "footing", "rule and source",
                                     "rests on", "take care", NULL});
    for (size_t i = 0; d->said && i < statement_count(d->said); i++) {
        const struct statement *s = statement_at(d->said, i);
        if (!s->step || strcmp(s->step, step) || tell_is_of_piece(s) || tell_is_private(d, s) ||
            !belongs(d, s))
            continue;
        const char *number = statement_number(s, arena);
        bool in_words = !isfinite(s->value.p50); /* what is said in words is said once */
        if (in_words && told_before(d, i)) continue;
        struct show_out on = {0};
        for (size_t k = 0; k < s->rests_on.n && k < 4; k++) {
            const struct statement_link *l = (const struct statement_link *)s->rests_on.v + k;
            show_out_format(&on, "%s%s", k ? ", " : "", l->id);
        }
        if (s->rests_on.n > 4) show_out_format(&on, " and %zu more", s->rests_on.n - 4);
        const char *about = thing_of(s, arena);
        if (in_words) about = all_about(d, i, arena, belongs);
        const char *rule = s->rule ? in_words ? common_rule(s->rule, arena) : s->rule : "";
        rule = arena_printf(arena, "%s%s%s", rule, s->rule && s->source ? ". " : "",
                            s->source ? s->source : "");
        grid_text(&g, about);
        grid_anchor_whole(&g, s->id);
        grid_text(&g, s->sentence);
        grid_text(&g, number);
        grid_text(&g, word(footing_cells, s->footing, FOOTING_COUNT));
        grid_text(&g, unless_said(&rule_before, rule));
        bool itself = on.bytes && !strcmp(on.bytes, about);
        grid_text(&g, on.bytes && !itself ? arena_strdup(arena, on.bytes) : NULL);
        grid_text(&g, unless_said(&care_before, s->caution ? s->caution : s->doubt));
        show_out_deinit(&on);
    }
    grid_end(&g, doc, title);
}

/* ---- makings ---- */

static bool near(double a, double b) {
    return (!isfinite(a) && !isfinite(b)) || fabs(a - b) < 1e-9;
}

/* A part of another way of making that is the same thing. */
static bool is_same_part(const struct part *a, const struct part *b) {
    return a->kind == b->kind && same(a->name, b->name) && same(a->taxon, b->taxon) &&
           near(a->length, b->length) && near(a->width, b->width) &&
           near(a->thickness, b->thickness) && near(a->diameter, b->diameter) &&
           a->side == b->side && a->footing == b->footing;
}

static bool is_in(const struct makings *all, const struct making *m, const struct part *p) {
    for (size_t i = 0; m && i < all->part_count; i++)
        if (same(all->parts[i].making, m->id) && is_same_part(&all->parts[i], p)) return true;
    return false;
}

/* A text and the part of which it was said first. */
struct said_of {
    const char *text, *part;
};

/* The text, or "as the rim" where the part before it has the same. */
static const char *as_before(struct said_of *before, const char *text, const char *part,
                             struct arena *arena) {
    if (text && *text && before->part && same(text, before->text))
        return arena_printf(arena, "as %s", before->part);
    *before = (struct said_of){text, part};
    return text;
}

/* The state of all sizes of a making; -1: they are not of one. */
static long state_of_all(const struct makings *all, const struct making *m) {
    long state = FIELD_UNKNOWN;
    for (size_t i = 0; i < all->part_count; i++) {
        const struct part *p = &all->parts[i];
        if (p->making && strcmp(p->making, m->id)) continue;
        if (state != FIELD_UNKNOWN && p->state != state) return -1;
        state = p->state;
    }
    return state >= 0 && state < STATE_COUNT ? state : -1;
}

static size_t parts(struct tell_doc *doc, const struct makings *all, const struct making *m,
                    const struct making *first) {
    struct arena *arena = tell_doc_arena(doc);
    struct grid g;
    size_t left_out = 0;
    long state = state_of_all(all, m);
    struct said_of rules = {0}, of_pieces = {0};
    grid_begin(&g, arena,
               (const char *const[]){"part", "length mm", "width mm", "thick mm", "diameter mm",
                                     state < 0 ? "state" : "", "where", "footing", "rule or rival",
                                     "pieces", NULL});
    for (size_t i = 0; i < all->part_count; i++) {
        const struct part *p = &all->parts[i];
        if (p->making && strcmp(p->making, m->id)) continue;
        if (m != first && is_in(all, first, p)) {
            left_out++;
            continue;
        }
        struct show_out list = {0};
        for (size_t k = 0; k < p->pieces.n && k < 12; k++)
            show_out_format(&list, "%s%s", k ? ", " : "", p->pieces.v[k]);
        grid_text(&g, p->name ? p->name : p->id);
        grid_anchor(&g, "part", p->id);
        grid_real(&g, p->length, 0);
        grid_real(&g, p->width, 1);
        grid_real(&g, p->thickness, 1);
        grid_real(&g, p->diameter, 1);
        grid_text(&g, state < 0 ? word(state_words, p->state, STATE_COUNT) : NULL);
        grid_text(&g, word(side_words, p->side, 4));
        grid_text(&g, p->footing >= 0 ? word(footing_cells, p->footing, FOOTING_COUNT)
                                      : "no footing yet");
        const char *rule = arena_printf(arena, "%s%s%s", p->rule ? p->rule : "",
                                        p->rule && p->rival ? ". Else: " : "",
                                        p->rival ? p->rival : ""),
                   *pieces = list.bytes ? arena_strdup(arena, list.bytes) : "";
        /* seven laths rest on one rule and the same pieces: said once */
        const char *name = p->name ? p->name : p->id;
        grid_text(&g, as_before(&rules, rule, name, arena));
        grid_text(&g, as_before(&of_pieces, pieces, name, arena));
        show_out_deinit(&list);
    }
    const char *title = left_out ? "What it has otherwise" : "Parts, with what they rest on";
    grid_end(&g, doc,
             state < 0 ? title : arena_printf(arena, "%s, sizes %s", title, state_words[state]));
    return left_out;
}

/* The order of a rival is told when a step of it differs from the first one's. */
static bool same_order(const struct makings *all, const struct making *m,
                       const struct making *first) {
    for (size_t i = 0; i < all->step_count; i++) {
        const struct step *s = &all->steps[i];
        bool found = !same(s->making, m->id);
        for (size_t k = 0; k < all->step_count && !found; k++)
            found = same(all->steps[k].making, first->id) && all->steps[k].number == s->number &&
                    same(all->steps[k].what, s->what);
        if (!found) return false;
    }
    return true;
}

static void order_of_work(struct tell_doc *doc, const struct makings *all, const struct making *m) {
    struct arena *arena = tell_doc_arena(doc);
    struct grid g;
    grid_begin(&g, arena,
               (const char *const[]){"step", "what", "footing", "evidence for its place", NULL});
    for (size_t i = 0; i < all->step_count; i++) {
        const struct step *s = &all->steps[i];
        if (s->making && strcmp(s->making, m->id)) continue;
        struct show_out list = {0};
        for (size_t k = 0; k < s->statements.n; k++)
            show_out_format(&list, "%s%s", k ? ", " : "", s->statements.v[k]);
        grid_whole(&g, s->number);
        grid_text(&g, s->what);
        grid_text(&g, s->footing >= 0 ? word(footing_cells, s->footing, FOOTING_COUNT)
                                      : "no footing yet");
        grid_text(&g, list.bytes ? arena_strdup(arena, list.bytes) : NULL);
        show_out_deinit(&list);
    }
    grid_end(&g, doc, "Order of work");
}

void report_makings(struct tell_doc *doc, const struct tell_dossier *d) {
    const struct makings *all = d->makings;
    const struct making *first = tell_leading(d);
    for (size_t i = 0; all && i < all->making_count; i++) {
        const struct making *m = &all->makings[i];
        char share[40];
        tell_h2(doc, m->id, m->title ? m->title : m->id);
        if (isfinite(m->weight))
            tell_p(doc, "Weight among the rivals: %s, %s.", show_real(share, m->weight, 2),
                   statement_likelihood_word(m->weight));
        else
            tell_p(doc, "A what-if: a copy with differences, without weight.");
        if (m->difference) tell_p(doc, "What sets it apart: %s.", m->difference);
        if (m->reason)
            tell_p(doc, "Why: %s%s%s%s%s%s.", m->reason, m->who ? " (" : "", m->who ? m->who : "",
                   m->who && m->date ? ", " : "", m->who && m->date ? m->date : "",
                   m->who ? ")" : "");
        size_t left_out = parts(doc, all, m, first);
        if (left_out) tell_p(doc, "Its other %zu parts are those of the likeliest way.", left_out);
        if (m == first || !first || !same_order(all, m, first))
            order_of_work(doc, all, m);
        else
            tell_p(doc, "The order of work is the same.");
    }
}

/* ---- choices and views ---- */

static const struct source *source_of(const struct find *f, const char *id) {
    for (size_t i = 0; id && i < f->source_count; i++)
        if (f->sources[i].id && !strcmp(f->sources[i].id, id) && f->sources[i].hidden != 1)
            return &f->sources[i];
    return NULL;
}

static bool is_disputed(const struct find *f, size_t which) {
    const struct choice *c = &f->choices[which];
    for (size_t i = 0; i < f->choice_count; i++)
        if (i != which && same(f->choices[i].about, c->about) &&
            !same(f->choices[i].value, c->value))
            return true;
    return false;
}

static void disputes(struct tell_doc *doc, const struct find *f) {
    bool any = false;
    for (size_t i = 0; i < f->choice_count; i++) {
        if (!is_disputed(f, i)) continue;
        bool told = false;
        for (size_t k = 0; k < i && !told; k++)
            told = same(f->choices[k].about, f->choices[i].about) && is_disputed(f, k);
        if (told) continue;
        if (!any) tell_h2(doc, "disputes", "Who disagrees");
        any = true;
        tell_p(doc, "On %s:", f->choices[i].about ? f->choices[i].about : "one matter");
        for (size_t k = i; k < f->choice_count; k++) {
            const struct choice *c = &f->choices[k];
            if (!same(c->about, f->choices[i].about)) continue;
            const struct source *s = source_of(f, c->source);
            tell_item(doc, "%s%s%s holds: %s%s%s.%s%s%s", c->who ? c->who : "somebody",
                      c->date ? ", " : "", c->date ? c->date : "", c->value ? c->value : "",
                      c->reason ? ", because " : "", c->reason ? c->reason : "",
                      s && s->text ? " In their words: \"" : "", s && s->text ? s->text : "",
                      s && s->text ? "\"" : "");
        }
    }
    if (any) tell_p(doc, "None of these views is struck out and none is averaged with another.");
}

/* Replies that no disputed choice has quoted. */
static void replies(struct tell_doc *doc, const struct find *f) {
    bool any = false;
    for (size_t i = 0; i < f->source_count; i++) {
        const struct source *s = &f->sources[i];
        bool quoted = false;
        if (s->kind != SOURCE_REPLY || !s->text || s->hidden == 1) continue;
        for (size_t k = 0; k < f->choice_count && !quoted; k++)
            quoted = same(f->choices[k].source, s->id) && is_disputed(f, k);
        if (quoted) continue;
        if (!any) tell_h2(doc, "replies", "Replies of those who were asked");
        any = true;
        tell_item(doc, "%s%s%s: \"%s\"", s->who ? s->who : "A reply", s->date ? ", " : "",
                  s->date ? s->date : "", s->text);
    }
}

void report_choices(struct tell_doc *doc, const struct tell_dossier *d) {
    const struct find *f = d->find;
    struct grid g;
    grid_begin(&g, tell_doc_arena(doc),
               (const char *const[]){"about", "held", "else it could be", "because", "footing",
                                     "who", "date", NULL});
    for (size_t i = 0; f && i < f->choice_count; i++) {
        const struct choice *c = &f->choices[i];
        grid_text(&g, c->about);
        grid_anchor(&g, "choice", c->id);
        grid_text(&g, c->value);
        grid_text(&g, c->rival);
        grid_text(&g, c->reason);
        grid_text(&g, word(footing_cells, c->footing, FOOTING_COUNT));
        grid_text(&g, c->who);
        grid_text(&g, c->date);
    }
    tell_h1(doc, "choices", "Choices, rivals and who saw it otherwise", 4);
    tell_p(doc, "Each view stands signed and dated beside its rival; none is struck out.");
    if (!g.rows) tell_p(doc, "No choice is entered.");
    grid_end(&g, doc, NULL);
    if (!f) return;
    disputes(doc, f);
    replies(doc, f);
}
