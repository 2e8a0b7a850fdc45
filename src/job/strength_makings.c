/* Makings side by side, and the shapes one making can stand in.
 *
 * Rivals are told by shell runs on the same rows of the possible originals as the leading making
 * gets here, no stand-in: few runs, so only the middle and the range. What-if copies are asked for
 * on the screen (job/what_if.h). */
#include "job/strength.h"

#include "base/mem.h"
#include "base/parallel.h"
#include "num/weighted.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { ROWS = 24, CHUNK = 6, BRANCHES = 6 };

struct aside {
    struct strength_work work;
    size_t net;    /* triangles */
    long failures; /* stage_run's */
    double x[ROWS][INPUTS], out[STRENGTH_OUTPUTS][ROWS];
    double times[INPUTS]; /* sizes of the rival over the leading making's */
};

static double picked(const struct body_sheet_out *o, enum body_controls_output which) {
    switch (which) {
    case BODY_OUT_RISE:
        return o->rise;
    case BODY_OUT_EDGE_LIFT:
        return o->edge_lift;
    case BODY_OUT_ACROSS:
        return o->curvature[1];
    case BODY_OUT_TWIST:
        return o->twist;
    case BODY_OUT_STIFFNESS:
        return o->stiffness;
    case BODY_OUT_WEIGHT:
        return o->mass;
    default:
        return NAN;
    }
}

/* A chunk's rows share a model; one whose outline cannot be reached gets its own. */
static int one_row(struct body_sheet_out *out, struct body_sheet_model **model,
                   const struct aside *a, size_t i, struct arena *arena) {
    struct body_sheet sheet;
    double x[INPUTS];
    for (int k = 0; k < INPUTS; k++)
        x[k] = a->x[i][k] * a->times[k];
    const struct as_body_stuff stuff = strength_stuff(&a->work, x);
    int rc = as_body_sheet(&sheet, a->work.makings, a->work.making, &stuff, &a->work.change, arena,
                           NULL);
    if (!rc && (!*model || body_sheet_change(*model, &sheet, NULL))) {
        body_sheet_free(*model);
        *model = NULL;
        rc = body_sheet_new(model, &sheet, a->net, NULL);
    }
    if (!rc) rc = body_sheet_solve(*model, out, NULL);
    if (*model) body_sheet_forget_outline(*model); /* its points die with the arena */
    return rc;
}

static void run_rows(size_t begin, size_t end, size_t index, void *context) {
    (void)index;
    struct aside *a = context;
    struct body_sheet_model *model = NULL;
    for (size_t i = begin; i < end; i++) {
        struct body_sheet_out out;
        /* once memory was gone the step is refused, and no run changes that */
        struct arena *arena = mem_failures() == a->failures ? arena_new() : NULL;
        int rc = arena ? one_row(&out, &model, a, i, arena) : ERR_MEMORY;
        for (int q = 0; q < STRENGTH_OUTPUTS; q++)
            a->out[q][i] =
                rc ? NAN : strength_outputs[q].scale * picked(&out, strength_outputs[q].which);
        arena_free(arena);
    }
    body_sheet_free(model);
}

static void choose(struct aside *a, struct stage_run *r, const struct strength_inputs *in,
                   double weight[ROWS], const double *all) {
    size_t n = num_rows_count(r->rows);
    for (size_t i = 0; i < ROWS; i++) {
        size_t row = i * n / ROWS;
        weight[i] = all[row];
        memcpy(a->x[i], in->all + row * INPUTS, sizeof a->x[i]);
    }
}

static double over(double rival, double leading) {
    return rival > 0 && leading > 0 ? rival / leading : 1;
}

/* The possible originals scatter about the leading making's sizes: a rival's about its own. */
static void scale_sizes(struct aside *a, const char *leading, const char *rival) {
    const struct makings *all = a->work.makings;
    const struct part *sheet = makings_part(all, rival, PART_SHEET, NULL),
                      *first = makings_part(all, leading, PART_SHEET, NULL),
                      *lath = makings_part(all, rival, PART_LATH, NULL),
                      *first_lath = makings_part(all, leading, PART_LATH, NULL);
    for (int k = 0; k < INPUTS; k++)
        a->times[k] = 1;
    a->times[IN_THICKNESS] = over(sheet->thickness, first->thickness);
    a->times[IN_LENGTH] = over(sheet->length, first->length);
    a->times[IN_WIDTH] = over(sheet->width, first->width);
    if (lath && first_lath) a->times[IN_LATH] = over(lath->thickness, first_lath->thickness);
}

/* One making: a row of the table. */
static int put_making(struct stage_run *r, struct aside *a, const struct making *m,
                      const double *weight, json_t *table, struct error *err) {
    static const double p[3] = {0.05, 0.5, 0.95};
    a->work.making = m->id;
    parallel_for(ROWS, CHUNK, run_rows, a);
    size_t solved = 0;
    for (size_t i = 0; i < ROWS; i++)
        solved += (size_t)!isnan(a->out[0][i]);
    json_t *row = json_pack("[s,s,f]", m->id, m->title ? m->title : "", m->weight);
    for (int q = 0; q < STRENGTH_OUTPUTS && row; q++) {
        double v[3];
        if (solved < ROWS / 2) {
            json_array_append_new(row, json_string("not solved"));
            continue;
        }
        int rc = num_quantiles(a->out[q], weight, ROWS, p, 3, v, err);
        if (rc) {
            json_decref(row);
            return rc;
        }
        const struct spread s = spread_sides(v[0], v[1], v[2]);
        json_array_append_new(row, json_string(v[2] - v[0] < 1e-3
                                                   ? arena_printf(r->arena, "%.2g", v[1] + 0.0)
                                                   : stage_range(r, &s)));
    }
    return row && json_array_append_new(table, row) == 0 ? 0 : fail_memory(err);
}

int strength_makings(struct stage_run *r, const struct strength_work *work,
                     const struct strength_inputs *in, struct error *err) {
    const struct makings *all = work->makings;
    size_t rivals = 0;
    for (size_t i = 0; i < all->making_count; i++)
        rivals += (size_t)!isnan(all->makings[i].weight);
    if (rivals < 2) return 0;
    struct aside *a = ARENA_NEW(r->arena, struct aside, 1);
    double weight[ROWS], *every = ARENA_NEW(r->arena, double, num_rows_count(r->rows));
    char heads[400] = "making|title|weight";
    for (size_t k = 0; k < STRENGTH_OUTPUTS; k++)
        snprintf(heads + strlen(heads), sizeof heads - strlen(heads), "|%s",
                 strength_outputs[k].head);
    json_t *table = stage_table(
        r, "makings", "Makings side by side, dry: 24 of the possible originals each", heads);
    if (!a || !every || !table) return fail_memory(err);
    num_rows_weights(r->rows, every);
    *a = (struct aside){
        .work = *work, .net = strength_net(r, STRENGTH_TRIANGLES), .failures = r->failures};
    a->work.change = (struct as_body_change){0};
    choose(a, r, in, weight, every);
    int rc = 0;
    for (size_t i = 0; i < all->making_count && !rc; i++) {
        const struct making *m = &all->makings[i];
        const struct part *sheet = makings_part(all, m->id, PART_SHEET, NULL);
        if (isnan(m->weight) || !sheet || sheet->points.n < 3) continue;
        scale_sizes(a, work->making, m->id);
        rc = put_making(r, a, m, weight, table, err);
    }
    return rc;
}

/* ---- several equilibria --------------------------------------------------------------------- */

/* Shapes whose middles stand less apart than this are one, mm: a person would not see it. */
static const double apart = 2;

static int branches_of(struct stage_run *r, const struct strength_work *work, const double *x,
                       const struct as_body_change *change, const char *words, json_t *table,
                       size_t *count, double *second, struct error *err) {
    struct body_sheet sheet;
    struct body_sheet_model *model = NULL;
    struct body_branch branch[BRANCHES] = {{0}};
    const struct as_body_stuff stuff = strength_stuff(work, x);
    size_t n = 0;
    int rc = as_body_sheet(&sheet, work->makings, work->making, &stuff, change, r->arena, err);
    if (!rc) rc = body_sheet_new(&model, &sheet, strength_net(r, STRENGTH_TRIANGLES), err);
    if (!rc) {
        const struct body_seeds seeds = {.along = {cos(sheet.grain), sin(sheet.grain), 0},
                                         .across = {-sin(sheet.grain), cos(sheet.grain), 0},
                                         .curvature = 1 / stuff.stem,
                                         .apart = apart};
        body_sheet_hold(model);
        rc = body_equilibria(branch, BRANCHES, &n, body_sheet_shell(model), &seeds, NULL, err);
    }
    for (size_t i = 0; i < n && !rc; i++) {
        struct body_sheet_out look;
        body_state_load(body_sheet_shell(model), branch[i].state);
        body_sheet_look(model, &look);
        if (i == 1) *second = look.rise;
        json_array_append_new(
            table, json_pack("[s,i,s,s,s,s]", words, (int)i + 1,
                             arena_printf(r->arena, "%.2g", 1000 * look.curvature[1] + 0.0),
                             arena_printf(r->arena, "%.2g", 1000 * look.curvature[0] + 0.0),
                             arena_printf(r->arena, "%.3g", look.rise + 0.0),
                             arena_printf(r->arena, "%.3g", branch[i].energy)));
    }
    *count = n;
    for (size_t i = 0; i < BRANCHES; i++)
        body_state_free(branch[i].state);
    body_sheet_free(model);
    return rc;
}

static int say_branches(struct stage_run *r, const struct strength_inputs *in, size_t count,
                        double second, struct error *err) {
    struct statement s = statement_blank();
    s.id = "strength.equilibria";
    s.step = "strength";
    s.about = "object";
    s.quantity = "shapes it can stand in";
    s.sentence = count > 1
                     ? arena_printf(r->arena,
                                    "Dry and finished, it can stand in %zu shapes and be "
                                    "snapped from one to another.",
                                    count)
                     : "Dry and finished, it stands in one shape only and springs back to it.";
    s.unit = "";
    s.state = "new and dry";
    s.footing = FOOTING_WORKED_OUT;
    s.standing = in->standing;
    s.value = spread_exact((double)count);
    s.rule = "searched from the flat sheet and from cylinders about both axes and both ways, with "
             "the middle of every guess about the material; energies in the table of shapes";
    if (count > 1)
        s.caution = arena_printf(r->arena,
                                 "the next shape rises %.3g mm; numbers of this step are of the "
                                 "shape reached from the flat sheet",
                                 second);
    if (!s.sentence) return fail_memory(err);
    if (statement_find(r->said, "sheet.thickness.fresh")) {
        int rc = statement_link_add(&s, "statement", "sheet.thickness.fresh", "thickness", r->arena,
                                    err);
        if (rc) return rc;
    }
    return statement_add(r->said, &s, err);
}

int strength_branches(struct stage_run *r, const struct strength_work *work,
                      const struct strength_inputs *in, struct error *err) {
    static const struct as_body_change made,
        bare = {.no_laths = true, .no_rim = true, .no_grip = true, .no_centre = true};
    double x[INPUTS], second = 0, ignored = 0;
    size_t count = 0, alone = 0;
    json_t *table = stage_table(r, "shapes", "Shapes it can stand in, dry, lowest energy first",
                                "built|shape|bend across, 1/m|bend along, 1/m|rise, mm|"
                                "energy, N mm");
    if (!table) return fail_memory(err);
    strength_middle(in, x);
    struct error why = {0};
    int rc = branches_of(r, work, x, &made, "as proposed", table, &count, &second, &why);
    if (!rc) rc = branches_of(r, work, x, &bare, "the sheet alone", table, &alone, &ignored, &why);
    if (rc && rc != ERR_SOLVE) { /* no shape found: told by the table being short */
        if (err) *err = why;
        return rc;
    }
    return count ? say_branches(r, in, count, second, err) : 0;
}
