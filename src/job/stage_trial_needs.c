#include "job/stage_trial_needs.h"

#include "gather/gather.h"
#include "making/making.h"

#include <math.h>
#include <string.h>

static double middle(const struct num_rows *rows, const char *column) {
    size_t at = num_rows_find(rows, column);
    return at == NUM_NO_COLUMN ? NAN : num_rows_quantile(rows, at, 0.5);
}

static double loss(const struct num_rows *rows, const char *column) {
    double left = middle(rows, column);
    return isnan(left) ? NAN : fmax(0, 1 - left);
}

struct bark_loss stage_bark_loss(const struct num_rows *rows) {
    return (struct bark_loss){loss(rows, "dry_factor.bark.around"),
                              loss(rows, "dry_factor.bark.along"),
                              loss(rows, "dry_factor.bark.through"), middle(rows, "outline.length"),
                              middle(rows, "outline.width")};
}

/* "540 x 330 mm, 4.2 thick" */
static const char *size_of(const struct need *n, struct arena *arena) {
    if (isnan(n->length) || isnan(n->width)) return "";
    const char *text = isnan(n->thickness) ? arena_printf(arena, "%.0f x %.0f", n->length, n->width)
                                           : arena_printf(arena, "%.0f x %.0f x %.2f", n->length,
                                                          n->width, n->thickness);
    return text ? text : "";
}

static int list_by(struct need_list *out, const struct stage_run *r, const char *making,
                   const struct bark_loss *loss, const struct stuff_shelf *shelf,
                   struct error *err) {
    struct need_options options = gather_need_options();
    options.shelf = shelf;
    if (loss) {
        options.shrink_around = loss->around;
        options.shrink_along = loss->along;
        options.shrink_through = loss->through;
    }
    return gather_need_list(out, r->made.makings, making, &options, r->arena, err);
}

/* What a stem says to the sheet of a list; false where it says nothing. */
static bool asked(struct stem_answer *out, const struct stem *s, const struct need_list *list,
                  struct arena *arena) {
    struct error ignored = {0};
    for (size_t i = 0; i < list->n; i++) {
        const struct need *n = &list->need[i];
        if (strcmp(n->what, "sheet") || isnan(n->width) || isnan(n->length)) continue;
        const struct sheet_want want = {.around = n->width,
                                        .along = n->length,
                                        .thickness = isnan(n->thickness) ? 4 : n->thickness};
        return gather_gives_bark(list, s) &&
               !gather_stem_answer(out, s, &want, &gather_closing_default, arena, &ignored);
    }
    return false;
}

/* Whether a stem still gives the sheet when the trials are believed: the same rules, other sizes.
 */
static int stems(struct stage_run *r, const struct need_list *before, const struct need_list *after,
                 struct error *err) {
    if (!r->now->stem_count) return 0;
    json_t *rows = stage_table(r, "stems", "Stems for the sheet, with the trials and without",
                               "stem|fits, without the trials|share of girth, percent|"
                               "fits, with them|share with them, percent|who decides, with them");
    for (size_t i = 0; rows && i < r->now->stem_count; i++) {
        struct stem_answer a, b;
        if (!asked(&a, &r->now->stems[i], before, r->arena) ||
            !asked(&b, &r->now->stems[i], after, r->arena))
            continue;
        json_array_append_new(
            rows, json_pack("[s,s,s,s,s,s]", r->now->stems[i].id, a.fits ? "yes" : "no",
                            arena_printf(r->arena, "%.0f", 100 * a.share), b.fits ? "yes" : "no",
                            arena_printf(r->arena, "%.0f", 100 * b.share), b.permit));
    }
    return rows ? 0 : fail_memory(err);
}

/* The sheet by an outline that the trials moved: its fresh size in the same ratio, trim as before.
 */
static void follow_outline(struct need_list *list, const struct bark_loss *without,
                           const struct bark_loss *with) {
    const struct need_options o = gather_need_options();
    double along = with->length / without->length, around = with->width / without->width;
    for (size_t i = 0; i < list->n; i++) {
        struct need *n = &list->need[i];
        if (strcmp(n->what, "sheet")) continue;
        if (along > 0) /* 1e-9: a whole number stays one */
            n->length = ceil((n->length - 2 * o.trim_along) * along + 2 * o.trim_along - 1e-9);
        if (around > 0)
            n->width = ceil((n->width - 2 * o.trim_around) * around + 2 * o.trim_around - 1e-9);
    }
}

int stage_trial_needs(struct stage_run *r, const struct bark_loss *without,
                      const struct bark_loss *with, struct error *err) {
    const struct making *leading = r->made.makings ? makings_leading(r->made.makings) : NULL;
    if (!leading || isnan(without->around) || isnan(without->along) || isnan(with->around) ||
        isnan(with->along))
        return 0;
    struct stuff_shelf *shelf;
    struct need_list tables, before, after;
    int rc = stuff_shelf_new(&shelf, err);
    if (rc) return rc;
    rc = list_by(&tables, r, leading->id, NULL, shelf, err);
    if (!rc) rc = list_by(&before, r, leading->id, without, shelf, err);
    if (!rc) rc = list_by(&after, r, leading->id, with, shelf, err);
    stuff_shelf_free(shelf);
    if (rc) return rc;
    if (with->length != without->length || with->width != without->width)
        follow_outline(&after, without, with);
    json_t *rows =
        stage_table(r, "needs", "What has to be got, with the trials and without, mm fresh",
                    "part|what|species|by the tables, as in Material|"
                    "by the possible originals, without the trials|with the trials");
    for (size_t i = 0; rows && i < tables.n && i < before.n && i < after.n; i++) {
        const char *a = size_of(&before.need[i], r->arena), *b = size_of(&after.need[i], r->arena);
        if (strcmp(after.need[i].what, "sheet") && !strcmp(a, b)) continue; /* not of bark */
        json_array_append_new(rows, json_pack("[s,s,s,s,s,s]",
                                              tables.need[i].part ? tables.need[i].part : "",
                                              tables.need[i].what,
                                              tables.need[i].species ? tables.need[i].species : "",
                                              size_of(&tables.need[i], r->arena), a, b));
    }
    return rows ? stems(r, &before, &after, err) : fail_memory(err);
}
