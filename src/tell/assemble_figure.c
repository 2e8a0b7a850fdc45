/* assemble_figure: figures of the predicted shape and of time, from what the steps stored. */
#include "tell/assemble_more.h"

#include "job/form.h"
#include "show/figures.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- cutting the predicted form ------------------------------------------------------------- */

struct cut {
    size_t n;
    double *xy; /* [n][2]: place along the cut, height */
};

static int by_place(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* The ways in which the sheet is cut through its middle: across, along, and from corner to corner,
 * which alone shows a sheet that winds. */
enum { CUTS = 3 };
struct way {
    double along[2], middle[2]; /* a unit direction on the flat sheet; a point of the cut */
};

static struct way way_of(const struct form *f, int which) {
    double low[2] = {INFINITY, INFINITY}, high[2] = {-INFINITY, -INFINITY};
    for (size_t i = 0; i < f->nv; i++)
        for (int k = 0; k < 2; k++)
            low[k] = fmin(low[k], f->flat[i][k]), high[k] = fmax(high[k], f->flat[i][k]);
    double x = which == 0 ? 0 : high[0] - low[0], y = which == 1 ? 0 : high[1] - low[1];
    double l = hypot(x, y);
    return (struct way){{x / l, y / l}, {(low[0] + high[0]) / 2, (low[1] + high[1]) / 2}};
}

static double side_of(const struct way *w, const double p[2]) {
    return w->along[0] * (p[1] - w->middle[1]) - w->along[1] * (p[0] - w->middle[0]);
}

static double place_on(const struct way *w, double x, double y) {
    return w->along[0] * x + w->along[1] * y;
}

/* Where the material line of the cut lies in a state, in order along it. Places are those of space,
 * so that the cut is what a straight-edge meets. */
static struct cut cut_of(const struct form *f, const struct form_state *s, int which,
                         struct arena *arena) {
    struct way w = way_of(f, which);
    struct cut out = {0};
    size_t n = 0;
    for (int pass = 0; pass < 2; pass++) {
        /* on the flat sheet, in space, height */
        double(*v)[3] = pass ? (double(*)[3])arena_alloc(arena, n + 1, sizeof(double[3])) : NULL;
        if (pass && !v) return out;
        n = 0;
        for (size_t t = 0; t < f->nf; t++)
            for (int k = 0; k < 3; k++) {
                int a = f->tri[t][k], b = f->tri[t][(k + 1) % 3];
                double fa = side_of(&w, f->flat[a]), fb = side_of(&w, f->flat[b]);
                if ((fa >= 0) == (fb >= 0)) continue;
                double u = fa / (fa - fb);
                const double from[3] = {place_on(&w, f->flat[a][0], f->flat[a][1]),
                                        place_on(&w, s->x[a][0], s->x[a][1]), s->x[a][2]},
                             to[3] = {place_on(&w, f->flat[b][0], f->flat[b][1]),
                                      place_on(&w, s->x[b][0], s->x[b][1]), s->x[b][2]};
                for (int c = 0; c < 3 && pass; c++)
                    v[n][c] = from[c] + u * (to[c] - from[c]);
                n++;
            }
        if (!pass) continue;
        qsort(v, n, sizeof *v, by_place);
        out.xy = ARENA_NEW(arena, double, 2 * n + 2);
        for (size_t i = 0; out.xy && i < n; i++) {
            if (i && v[i][0] - v[i - 1][0] < 1e-6) continue; /* the edge of two triangles */
            out.xy[2 * out.n] = v[i][1];
            out.xy[2 * out.n++ + 1] = v[i][2];
        }
    }
    return out;
}

/* Places at which laths, rim and grip cross the cut. */
static size_t crossings(double *out, size_t room, const struct form *f, const struct form_state *s,
                        int which) {
    struct way w = way_of(f, which);
    size_t n = 0;
    for (size_t i = 0; i < f->n_parts; i++) {
        const struct form_part *p = &f->part[i];
        if (p->kind >= 0 && p->kind < PART_KIND_COUNT && s->without[p->kind]) continue;
        double side = 0, place = 0;
        for (size_t k = 0; k < p->n + (p->closed && p->n > 2); k++) {
            size_t j = k % p->n;
            double flat[2] = {0, 0}, x[2] = {0, 0};
            for (int c = 0; c < 3; c++) {
                int v = f->tri[p->triangle[j]][c];
                for (int q = 0; q < 2; q++)
                    flat[q] += p->w[j][c] * f->flat[v][q], x[q] += p->w[j][c] * s->x[v][q];
            }
            double sk = side_of(&w, flat), pk = place_on(&w, x[0], x[1]);
            if (k && (sk >= 0) != (side >= 0) && n < room)
                out[n++] = place + (pk - place) * side / (side - sk);
            side = sk, place = pk;
        }
    }
    return n;
}

/* ---- as made, and with parts left out ------------------------------------------------------- */

static const struct statement *said(const struct tell_dossier *d, const char *id) {
    return d->said ? statement_find(d->said, id) : NULL;
}

/* The likely cut lifted in the middle by as much as the rise differs: a shallow arc, nothing at the
 * ends. */
static double *lifted(const struct cut *c, double by, struct arena *arena) {
    double *v = ARENA_NEW(arena, double, 2 * c->n);
    double from = c->xy[0], span = c->xy[2 * (c->n - 1)] - from;
    for (size_t i = 0; v && i < c->n; i++) {
        double t = span != 0 ? (c->xy[2 * i] - from) / span : 0;
        v[2 * i] = c->xy[2 * i];
        v[2 * i + 1] = c->xy[2 * i + 1] + by * 4 * t * (1 - t);
    }
    return v;
}

static int as_made(struct tell_dossier *out, const struct form *form, struct arena *arena,
                   struct error *err) {
    static const char *const titles[] = {"The sheet cut across, dry", "The sheet cut along, dry"};
    static const char *const names[] = {"section-across", "section-along"};
    const struct form_state *s = form_state_named(form, "made");
    const struct statement *rise = said(out, "shape.made.rise");
    enum { MOST = 64 };
    double marks[MOST];
    int rc = 0;
    for (int axis = 0; s && axis < 2 && !rc; axis++) {
        struct cut c = cut_of(form, s, axis, arena);
        if (c.n < 2) continue;
        struct figure_section f = {.title = titles[axis],
                                   .n = c.n,
                                   .likely = c.xy,
                                   .thickness = form->thickness,
                                   .marks = marks};
        f.n_marks = crossings(marks, MOST, form, s, axis);
        f.words = "Predicted from the middle of every guess about the material, drawn as thick as "
                  "the sheet; squares are the parts that are cut through.";
        if (axis == 0 && rise && isfinite(rise->value.p05) && isfinite(rise->value.p95)) {
            f.low = lifted(&c, rise->value.p05 - rise->value.p50, arena);
            f.high = lifted(&c, rise->value.p95 - rise->value.p50, arena);
            f.words = arena_printf(
                arena,
                "Predicted from the middle of every guess about the material, drawn as thick as "
                "the "
                "sheet; squares are the parts that are cut through. The middle stands %s over the "
                "long edges; the band lifts it by as much as that range.",
                statement_number(rise, arena));
        }
        rc = tell_add_drawing(out, "strength", names[axis], TELL_IN_BOTH, figure_section(&f), err);
    }
    return rc;
}

/* "12 mm (9 to 15)"; tenths where it is small. */
static const char *of_three(const json_t *v, struct arena *arena) {
    char a[40], b[40], c[40];
    if (json_array_size(v) != 3) return NULL;
    double x[3];
    for (int i = 0; i < 3; i++)
        x[i] = json_number_value(json_array_get(v, (size_t)i));
    int places = fmax(fabs(x[0]), fabs(x[2])) < 10 ? 1 : 0;
    return arena_printf(arena, "%s mm (%s to %s)", show_real(b, x[1], places),
                        show_real(a, x[0], places), show_real(c, x[2], places));
}

static struct figure_stage stage_of(const struct form *form, const struct form_state *s,
                                    const char *name, const char *number, struct arena *arena) {
    struct figure_stage out = {.name = name, .number = number};
    for (int k = 0; k < CUTS; k++) {
        struct cut c = cut_of(form, s, k, arena);
        out.n[k] = c.n;
        out.cut[k] = c.xy;
    }
    return out;
}

static int stages(struct tell_dossier *out, const struct form *form, const json_t *result,
                  bool by_day, struct arena *arena, struct error *err) {
    struct figure_stage list[FORM_STATES];
    const json_t *days = json_object_get(result, "days");
    size_t n = 0;
    for (size_t i = 0; i < form->n_states; i++) {
        const struct form_state *s = &form->state[i];
        if (isfinite(s->day) != by_day) continue;
        char number[40];
        const char *name =
            by_day ? arena_printf(arena, "Day %s. %s", show_real(number, s->day, 0), s->title)
                   : s->title;
        const char *rise = NULL;
        size_t k;
        const json_t *d;
        json_array_foreach(days, k, d) {
            if (!by_day || fabs(json_number_value(json_object_get(d, "day")) - s->day) > 1e-9)
                continue;
            const char *r = of_three(json_object_get(d, "rise"), arena),
                       *e = of_three(json_object_get(d, "edge_lift"), arena);
            if (r && e) rise = arena_printf(arena, "rise %s, edge %s", r, e);
        }
        list[n++] = stage_of(form, s, name, rise, arena);
    }
    if (!n) return 0;
    const struct figure_stages f = {
        .title =
            by_day ? "The predicted shape at each stage" : "The shape with and without each part",
        .words =
            by_day
                ? "The sheet cut through its middle across, along and from corner to corner after "
                  "each step, from the middle of every guess. Rise is the middle over the long "
                  "edges, edge is how far the edge stands off a table, each with its range "
                  "from 5 to 95 in 100."
                : "The sheet cut through its middle across, along and from corner to corner, "
                  "dry, from the middle of every guess; the ranges stand in the table.",
        .stages = list,
        .n = n};
    return tell_add_drawing(out, "strength", by_day ? "stages" : "variants",
                            by_day ? TELL_IN_BOTH : TELL_IN_ARGUMENT, figure_stages(&f), err);
}

/* ---- by day --------------------------------------------------------------------------------- */

struct course {
    size_t n;
    double *day, *low, *middle, *high;
};

static bool course_new(struct course *c, size_t n, struct arena *arena) {
    c->n = 0;
    c->day = ARENA_NEW(arena, double, n + 1);
    c->low = ARENA_NEW(arena, double, n + 1);
    c->middle = ARENA_NEW(arena, double, n + 1);
    c->high = ARENA_NEW(arena, double, n + 1);
    return c->day && c->low && c->middle && c->high;
}

static int day_series(struct tell_dossier *out, const json_t *days, const char *key,
                      const char *title, const char *unit, const char *words, struct arena *arena,
                      struct error *err) {
    struct course c;
    size_t i;
    const json_t *d;
    if (!course_new(&c, json_array_size(days), arena)) return fail_memory(err);
    json_array_foreach(days, i, d) {
        const json_t *v = json_object_get(d, key);
        if (json_array_size(v) != 3) continue;
        c.day[c.n] = json_number_value(json_object_get(d, "day"));
        c.low[c.n] = json_number_value(json_array_get(v, 0));
        c.middle[c.n] = json_number_value(json_array_get(v, 1));
        c.high[c.n++] = json_number_value(json_array_get(v, 2));
    }
    if (c.n < 2) return 0;
    const struct figure_series f = {.title = title,
                                    .words = words,
                                    .time_unit = "days",
                                    .value_unit = unit,
                                    .n = c.n,
                                    .time = c.day,
                                    .likely = c.middle,
                                    .low = c.low,
                                    .high = c.high,
                                    .width = 165,
                                    .height = 62};
    const char *name = arena_printf(arena, "by-day-%s", key);
    return tell_add_drawing(out, "strength", name, TELL_IN_ARGUMENT, figure_series(&f), err);
}

static int by_day(struct tell_dossier *out, const json_t *days, struct arena *arena,
                  struct error *err) {
    const struct statement *holes = said(out, "strength.holes.tie.along");
    const char *bear =
        holes ? arena_printf(arena, " The holes bear %s.", statement_number(holes, arena)) : "";
    int rc = day_series(
        out, days, "moisture", "Drying: moisture of the sheet by day", "percent of its dry mass",
        "Through the order of work, then two months each in a damp room, a dry room "
        "and a store; likely value and range.",
        arena, err);
    if (!rc)
        rc = day_series(out, days, "edge_lift", "How far the edge stands off a table, by day", "mm",
                        "Through the same days; likely value and range.", arena, err);
    if (!rc)
        rc = day_series(out, days, "tie_pull", "Pull on the ties by day", "N on each mm of edge",
                        arena_printf(arena, "Through the same days; likely value and range.%s",
                                     bear ? bear : ""),
                        arena, err);
    return rc;
}

/* ---- shares --------------------------------------------------------------------------------- */

static int by_share(const void *a, const void *b) {
    double x = ((const struct look_share *)a)->share, y = ((const struct look_share *)b)->share;
    return (x < y) - (x > y);
}

static int shares(struct tell_dossier *out, const json_t *table, struct arena *arena,
                  struct error *err) {
    enum { RODS = 8, MOST = 40 };
    static const double least = 0.045; /* what is smaller has no room for its name */
    struct figure_rod rods[RODS];
    const json_t *heads = json_object_get(table, "columns"), *rows = json_object_get(table, "rows");
    size_t n = 0;
    for (size_t c = 1; c < json_array_size(heads) && n < RODS; c++) {
        struct look_share *all = ARENA_NEW(arena, struct look_share, MOST + 2);
        size_t count = 0, kept = 0, r;
        double total = 0, small = 0;
        const json_t *row;
        if (!all) return fail_memory(err);
        json_array_foreach(rows, r, row) {
            if (count == MOST) break;
            const char *name = json_string_value(json_array_get(row, 0));
            double share = json_number_value(json_array_get(row, c)) / 100;
            if (!name || !(share > 0)) continue;
            all[count++] = (struct look_share){arena_strdup(arena, name), share};
            total += share;
        }
        double scale = total > 1 ? 1 / total : 1; /* sampling can make the sum a little over one */
        qsort(all, count, sizeof *all, by_share);
        for (size_t i = 0; i < count; i++) {
            all[i].share *= scale;
            if (all[i].share >= least)
                kept++;
            else
                small += all[i].share;
        }
        size_t rest = count - kept;
        count = kept;
        if (small > 0.004)
            all[count++] =
                (struct look_share){arena_printf(arena, "%zu smaller ones", rest), small};
        if (1 - total > 0.004) all[count++] = (struct look_share){"several at once", 1 - total};
        rods[n++] = (struct figure_rod){
            arena_strdup(arena, json_string_value(json_array_get(heads, c))), all, count};
    }
    if (!n || !json_array_size(rows)) return 0;
    return tell_add_drawing(out, "strength", "shares", TELL_IN_ARGUMENT,
                            figure_shares("What decides the shape and strength", rods, n, 165),
                            err);
}

int tell_assemble_sections(struct tell_dossier *out, const struct form *form, const json_t *result,
                           struct arena *arena, struct error *err) {
    int rc = form ? as_made(out, form, arena, err) : 0;
    if (!rc && form) rc = stages(out, form, result, false, arena, err);
    if (!rc && form) rc = stages(out, form, result, true, arena, err);
    if (!rc) rc = by_day(out, json_object_get(result, "days"), arena, err);
    if (!rc)
        rc = shares(out, json_object_get(json_object_get(result, "tables"), "shares"), arena, err);
    return rc;
}

/* ---- parts laid out on stems ---------------------------------------------------------------- */

static struct look_ring ring_of(const json_t *points, struct arena *arena) {
    double *xy = ARENA_NEW(arena, double, 2 * json_array_size(points) + 2);
    const json_t *p;
    size_t i;
    if (!xy) return (struct look_ring){0, NULL};
    json_array_foreach(points, i, p) {
        xy[2 * i] = json_number_value(json_array_get(p, 0));
        xy[2 * i + 1] = json_number_value(json_array_get(p, 1));
    }
    return (struct look_ring){json_array_size(points), xy};
}

int tell_assemble_layout(struct tell_dossier *out, struct arena *arena, struct error *err) {
    enum { MOST = 16 };
    const json_t *list =
        json_object_get(json_object_get(tell_stored(out, "material"), "result"), "layouts");
    const json_t *one, *p;
    struct figure_laid sheets[MOST];
    size_t n = 0, i, k;
    json_array_foreach(list, i, one) {
        const json_t *parts = json_object_get(one, "parts"),
                     *faults = json_object_get(one, "faults");
        const char *stem = json_string_value(json_object_get(one, "stem"));
        size_t n_parts = json_array_size(parts);
        if (n == MOST || !n_parts) continue; /* a stem on which nothing lies is in the table */
        struct look_ring *rings = ARENA_NEW(arena, struct look_ring, n_parts),
                         *holes = ARENA_NEW(arena, struct look_ring, json_array_size(faults) + 1);
        const char **names = ARENA_NEW(arena, const char *, n_parts);
        char share[40];
        if (!rings || !names || !holes) return fail_memory(err);
        json_array_foreach(parts, k, p) {
            const char *name = json_string_value(json_object_get(p, "part"));
            rings[k] = ring_of(json_object_get(p, "ring"), arena);
            names[k] = arena_strdup(arena, name ? name : "");
        }
        json_array_foreach(faults, k, p) holes[k] = ring_of(p, arena);
        show_real(share, 100 * json_number_value(json_object_get(one, "used")), 0);
        sheets[n++] = (struct figure_laid){
            arena_printf(arena, "%s %s, %s percent of it used",
                         json_is_true(json_object_get(one, "pole")) ? "Pole" : "Stem",
                         stem ? stem : "", share),
            ring_of(json_object_get(one, "ring"), arena),
            rings,
            holes,
            names,
            n_parts,
            json_array_size(faults)};
    }
    if (!n) return 0;
    return tell_add_drawing(
        out, "material", "layout", TELL_IN_BOTH,
        figure_layout(
            "Parts laid out on the stems",
            "Each sheet as it comes off the stem, butt to the left, opened at the mark; parts "
            "lie along the grain, faults are struck through. A pole is seen from the side, sawn "
            "into bolts that are cleft; tinted is waste.",
            sheets, n, 165),
        err);
}

/* ---- trials by day -------------------------------------------------------------------------- */

/* A trial whose days nobody simulates: what was foretold of its end, as a level band. */
static bool foretold(struct course *told, const struct course *seen, const json_t *answer) {
    double middle = json_number_value(json_object_get(answer, "predicted")),
           half = json_number_value(json_object_get(answer, "half"));
    if (!json_is_number(json_object_get(answer, "predicted")) || !(half > 0) || seen->n < 2)
        return false;
    for (told->n = 0; told->n < 2; told->n++) {
        told->day[told->n] = seen->day[told->n ? seen->n - 1 : 0];
        told->low[told->n] = middle - half;
        told->middle[told->n] = middle;
        told->high[told->n] = middle + half;
    }
    return true;
}

static int trial_series(struct tell_dossier *out, const json_t *answer, const json_t *simulated,
                        struct arena *arena, struct error *err) {
    const json_t *series = json_object_get(answer, "series"), *d;
    const char *id = json_string_value(json_object_get(answer, "id")),
               *unit = json_string_value(json_object_get(answer, "unit"));
    struct course seen, told;
    size_t i;
    if (!id || !json_array_size(series)) return 0;
    const json_t *sim = json_object_get(simulated, id);
    if (!course_new(&seen, json_array_size(series), arena) ||
        !course_new(&told, json_array_size(sim) + 2, arena))
        return fail_memory(err);
    json_array_foreach(series, i, d) {
        double low = json_number_value(json_object_get(d, "low")),
               high = json_number_value(json_object_get(d, "high"));
        seen.day[seen.n] = json_number_value(json_object_get(d, "day"));
        seen.middle[seen.n] = json_number_value(json_object_get(d, "mean"));
        seen.high[seen.n++] = (high - low) / 2;
    }
    json_array_foreach(sim, i, d) {
        told.day[told.n] = json_number_value(json_object_get(d, "day"));
        told.low[told.n] = json_number_value(json_object_get(d, "low"));
        told.middle[told.n] = json_number_value(json_object_get(d, "middle"));
        told.high[told.n++] = json_number_value(json_object_get(d, "high"));
    }
    if (seen.n < 2 && told.n < 2) return 0;
    bool simulated_days = told.n > 1, level = !simulated_days && foretold(&told, &seen, answer);
    const char *when = json_string_value(json_object_get(answer, "foretold")), *band = "";
    if (simulated_days)
        band = "Band: what was expected from what was known before. ";
    else if (level)
        band = arena_printf(
            arena, "Level band: what was said of its end and how far that may be off, %s. ",
            when ? when : "before");
    const struct figure_series f = {
        .title = arena_printf(arena, "Trial %s by day", id),
        .words = arena_printf(arena,
                              "%sKnots: mean of the pieces on that day, with half of their range.",
                              band ? band : ""),
        .time_unit = "days",
        .value_unit = unit && *unit ? arena_strdup(arena, unit) : "",
        .n = told.n,
        .time = told.day,
        .likely = told.middle,
        .low = told.n ? told.low : NULL,
        .high = told.n ? told.high : NULL,
        .n_measured = seen.n,
        .at = seen.day,
        .value = seen.middle,
        .plus_minus = seen.high,
        .width = 130,
        .height = 62};
    const char *step = arena_printf(arena, "trial %s", id),
               *name = arena_printf(arena, "trial-%s", id);
    if (!step || !name) return fail_memory(err);
    return tell_add_drawing(out, step, name, TELL_IN_ARGUMENT, figure_series(&f), err);
}

int tell_assemble_series(struct tell_dossier *out, struct arena *arena, struct error *err) {
    const json_t *result = json_object_get(tell_stored(out, "trials"), "result"), *answer,
                 *simulated = json_object_get(result, "simulated");
    int rc = 0;
    size_t i;
    json_array_foreach(json_object_get(result, "answers"), i, answer) {
        if (!rc) rc = trial_series(out, answer, simulated, arena, err);
    }
    return rc;
}
