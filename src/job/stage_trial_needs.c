#include "job/stage_trial_needs.h"

#include "gather/need.h"
#include "making/making.h"

#include <math.h>
#include <string.h>

static double loss(const struct num_rows *rows, const char *column) {
    size_t at = num_rows_find(rows, column);
    return at == NUM_NO_COLUMN ? NAN : fmax(0, 1 - num_rows_quantile(rows, at, 0.5));
}

struct bark_loss stage_bark_loss(const struct num_rows *rows) {
    return (struct bark_loss){loss(rows, "dry_factor.bark.around"),
                              loss(rows, "dry_factor.bark.along"),
                              loss(rows, "dry_factor.bark.through")};
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
    return rows ? 0 : fail_memory(err);
}
