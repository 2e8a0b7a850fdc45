/* report_material: what is said about material and season, a row for each thing it is said of: what
 * a part needs (length, width, amount, how much to get), each step's days to spare, stems, stock.
 */
#include "tell/grid.h"
#include "tell/report_views.h"

#include <math.h>
#include <string.h>

static const char *const footing_cells[FOOTING_COUNT] = {
    "seen", "worked\u00a0out", "from\u00a0a\u00a0parallel", "guessed", "modern\u00a0need"};

static const char *const needed[] = {"length to get", "width to get", "amount",
                                     "to get with the surplus"};
enum { NEEDED = 4 };

static bool is_material(const struct tell_dossier *d, const struct statement *s) {
    return s->step && !strcmp(s->step, "material") && !tell_is_private(d, s);
}

static bool is_need(const struct statement *s) {
    for (int k = 0; k < NEEDED; k++)
        if (s->quantity && !strcmp(s->quantity, needed[k])) return true;
    return false;
}

static bool is_slack_of_step(const struct statement *s) {
    return s->quantity && !strcmp(s->quantity, "days to spare") && strcmp(s->id, "plan.slack");
}

static const char *footing_of(const struct statement *s) {
    return s->footing >= 0 && s->footing < FOOTING_COUNT ? footing_cells[s->footing] : "";
}

static const char *plain_about(const struct statement *s) {
    const char *about = s->about ? s->about : "";
    return strncmp(about, "part ", 5) ? about : about + 5;
}

static const char *reason(const struct statement *s, struct arena *arena) {
    return arena_printf(arena, "%s%s%s", s->rule ? s->rule : "", s->rule && s->source ? "; " : "",
                        s->source ? s->source : "");
}

/* One part: its statements of the four kinds in one row. */
static void need_row(struct grid *g, const struct tell_dossier *d, size_t first,
                     const char **before) {
    const struct statement *s = statement_at(d->said, first), *of[NEEDED] = {NULL};
    for (size_t i = first; i < statement_count(d->said); i++) {
        const struct statement *t = statement_at(d->said, i);
        for (int k = 0; k < NEEDED; k++)
            if (is_material(d, t) && !strcmp(t->about, s->about) && t->quantity &&
                !strcmp(t->quantity, needed[k]))
                of[k] = t;
    }
    grid_text(g, plain_about(s));
    grid_anchor_whole(g, s->id);
    for (int k = 0; k < NEEDED; k++)
        grid_text(g, of[k] ? statement_number(of[k], g->arena) : NULL);
    grid_text(g, footing_of(s));
    const struct statement *get = of[NEEDED - 1];
    const char *why = reason(s, g->arena), *more = get && get != s ? reason(get, g->arena) : NULL;
    why = more ? arena_printf(g->arena, "%s. To get: %s", why, more) : why;
    grid_text(g, *before && why && !strcmp(*before, why) ? "as above" : why);
    *before = why;
}

static void needs(struct tell_doc *doc, const struct tell_dossier *d) {
    struct grid g;
    const char *before = NULL;
    grid_begin(&g, tell_doc_arena(doc),
               (const char *const[]){"part", "as long as", "as wide as", "takes",
                                     "to get, surplus included", "footing", "rule and source",
                                     NULL});
    for (size_t i = 0; i < statement_count(d->said); i++) {
        const struct statement *s = statement_at(d->said, i);
        bool told = !is_material(d, s) || !is_need(s) || !s->about;
        for (size_t k = 0; k < i && !told; k++) {
            const struct statement *t = statement_at(d->said, k);
            told = is_material(d, t) && is_need(t) && t->about && !strcmp(t->about, s->about);
        }
        if (!told) need_row(&g, d, i, &before);
    }
    grid_end(&g, doc, "What each part needs when it is cut, fresh");
}

/* The least and the most days to spare of the steps, told once; the plan has them all. */
static void slack_row(struct grid *g, const struct tell_dossier *d) {
    const struct statement *least = NULL, *most = NULL, *first = NULL;
    for (size_t i = 0; i < statement_count(d->said); i++) {
        const struct statement *s = statement_at(d->said, i);
        if (!is_material(d, s) || !is_slack_of_step(s) || !isfinite(s->value.p50)) continue;
        if (!first) first = s;
        if (!least || s->value.p50 < least->value.p50) least = s;
        if (!most || s->value.p50 > most->value.p50) most = s;
    }
    if (!first) return;
    grid_text(g, "each step of the plan");
    grid_anchor_whole(g, first->id);
    grid_text(g, "It may begin so many days later than planned; the last safe day of each stands "
                 "in the plan below.");
    grid_text(g, arena_printf(g->arena, "%.0f (%s) to %.0f days (%s)", least->value.p50,
                              least->about, most->value.p50, most->about));
    grid_text(g, footing_of(first));
    grid_text(g, reason(first, g->arena));
    grid_text(g, NULL);
}

void report_material(struct tell_doc *doc, const struct tell_dossier *d) {
    struct grid g;
    bool slack = false;
    const char *before = NULL;
    if (!d->said) return;
    needs(doc, d);
    grid_begin(&g, tell_doc_arena(doc),
               (const char *const[]){"of", "what is said", "how much", "footing", "rule and source",
                                     "take care", NULL});
    for (size_t i = 0; i < statement_count(d->said); i++) {
        const struct statement *s = statement_at(d->said, i);
        if (!is_material(d, s) || is_need(s)) continue;
        if (is_slack_of_step(s)) {
            if (!slack) slack_row(&g, d);
            slack = true;
            continue;
        }
        const char *why = reason(s, g.arena);
        grid_text(&g, plain_about(s));
        grid_anchor_whole(&g, s->id);
        grid_text(&g, s->sentence);
        grid_text(&g, statement_number(s, g.arena));
        grid_text(&g, footing_of(s));
        grid_text(&g, before && why && !strcmp(before, why) ? "as above" : why);
        grid_text(&g, s->caution ? s->caution : s->doubt);
        before = why;
    }
    grid_end(&g, doc, "Season, stems and stock");
}

const char *report_material_anchor(const struct tell_dossier *d, const struct statement *s) {
    if (!is_material(d, s) || (!is_need(s) && !is_slack_of_step(s))) return s->id;
    for (size_t i = 0; i < statement_count(d->said); i++) {
        const struct statement *t = statement_at(d->said, i);
        if (!is_material(d, t)) continue;
        if (is_slack_of_step(s) && is_slack_of_step(t)) return t->id;
        if (is_need(s) && is_need(t) && t->about && s->about && !strcmp(t->about, s->about))
            return t->id;
    }
    return s->id;
}
