/* making: a whole making from what is known, beside those a person entered. */
#include "job/stage.h"

#include "making/complete.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char *const kinds[] = {"making", "part", "step", NULL};

json_t *stage_makings_encode(const struct makings *m) {
    json_t *o = json_object(), *makings = json_array(), *parts = json_array(),
           *steps = json_array();
    for (size_t i = 0; i < m->making_count; i++)
        json_array_append_new(makings, field_encode(&making_kind, &m->makings[i]));
    for (size_t i = 0; i < m->part_count; i++)
        json_array_append_new(parts, field_encode(&part_kind_kind, &m->parts[i]));
    for (size_t i = 0; i < m->step_count; i++)
        json_array_append_new(steps, field_encode(&step_kind, &m->steps[i]));
    json_object_set_new(o, "makings", makings);
    json_object_set_new(o, "parts", parts);
    json_object_set_new(o, "steps", steps);
    return o;
}

/* Entered ones first: a person's making of greater weight leads. */
static int join(struct makings *out, const struct makings *a, const struct makings *b,
                struct arena *arena, struct error *err) {
    *out = (struct makings){.making_count = a->making_count + b->making_count,
                            .part_count = a->part_count + b->part_count,
                            .step_count = a->step_count + b->step_count};
    out->makings = ARENA_NEW(arena, struct making, out->making_count);
    out->parts = ARENA_NEW(arena, struct part, out->part_count);
    out->steps = ARENA_NEW(arena, struct step, out->step_count);
    if (!out->makings || !out->parts || !out->steps) return fail_memory(err);
    if (a->making_count) memcpy(out->makings, a->makings, a->making_count * sizeof *a->makings);
    if (b->making_count)
        memcpy(out->makings + a->making_count, b->makings, b->making_count * sizeof *b->makings);
    if (a->part_count) memcpy(out->parts, a->parts, a->part_count * sizeof *a->parts);
    if (b->part_count)
        memcpy(out->parts + a->part_count, b->parts, b->part_count * sizeof *b->parts);
    if (a->step_count) memcpy(out->steps, a->steps, a->step_count * sizeof *a->steps);
    if (b->step_count)
        memcpy(out->steps + a->step_count, b->steps, b->step_count * sizeof *b->steps);
    return 0;
}

/* New and dry over fresh, along the grain and around, of the sheet: for the second outline on the
 * plan. */
static void dry_scale(struct stage_run *r) {
    const struct find *f = &r->now->find;
    double scale[2] = {NAN, NAN};
    for (size_t i = 0; i < f->piece_count; i++) {
        const struct piece *p = &f->pieces[i];
        if (p->substance != SUBSTANCE_BARK || p->shape_only == 1) continue;
        for (int k = 0; k < 2; k++) {
            size_t col = NUM_NO_COLUMN;
            if (remains_dry_factor(&col, f, r->rows, p, k ? AXIS_AROUND : AXIS_ALONG, r->arena,
                                   NULL) == 0 &&
                col != NUM_NO_COLUMN)
                scale[k] = num_rows_quantile(r->rows, col, 0.5);
        }
        break;
    }
    if (!isnan(scale[0]) && !isnan(scale[1]))
        json_object_set_new(r->result, "dry", json_pack("[f,f]", scale[0], scale[1]));
}

static const char *millimetres(const struct stage_run *r, double v) {
    const char *text = isnan(v) ? "" : arena_printf(r->arena, fabs(v) >= 1000 ? "%.0f" : "%.4g", v);
    return text ? text : "";
}

static const char *share(const struct stage_run *r, double weight) {
    if (isnan(weight)) return "what if";
    if (weight < 0.01) return "under 1";
    if (weight > 0.99) return weight == 1 ? "100" : "over 99";
    const char *text = arena_printf(r->arena, "%.0f", 100 * weight);
    return text ? text : "";
}

static bool differs(double a, double b) {
    return isnan(a) != isnan(b) || (!isnan(a) && fabs(a - b) > 1e-6 * fabs(a));
}

/* The part of the leading making that has this one's place: of its kind and name. */
static const struct part *counterpart(const struct makings *m, const struct making *lead,
                                      const struct part *p) {
    for (const struct part *q = NULL; (q = makings_part(m, lead->id, p->kind, q));)
        if ((!p->name && !q->name) || (p->name && q->name && strcmp(p->name, q->name) == 0))
            return q;
    return NULL;
}

static bool same_part(const struct part *a, const struct part *b) {
    return a && b && !differs(a->length, b->length) && !differs(a->width, b->width) &&
           !differs(a->thickness, b->thickness) && !differs(a->diameter, b->diameter) &&
           !differs(a->height, b->height) && !differs(a->x, b->x) && !differs(a->y, b->y) &&
           a->count == b->count;
}

static void part_row(const struct stage_run *r, json_t *rows, const struct part *p) {
    char count[24] = "";
    if (p->count != FIELD_UNKNOWN) snprintf(count, sizeof count, "%ld", p->count);
    json_array_append_new(rows, json_pack("[s,s,s,s,s,s,s,s,s,s]", p->id, p->name ? p->name : "",
                                          millimetres(r, p->length), millimetres(r, p->width),
                                          millimetres(r, p->thickness), millimetres(r, p->diameter),
                                          count, p->footing >= 0 ? footing_words[p->footing] : "",
                                          p->rule ? p->rule : "", p->rival ? p->rival : ""));
}

/* The hazards that belong to the step, by the names a person or the order of work gives them. */
static const char *hazards(const struct stage_run *r, const struct step *s) {
    const char *text = "";
    for (size_t i = 0; i < s->cautions.n && text; i++)
        text = arena_printf(r->arena, "%s%s%s", text, i ? ", " : "", s->cautions.v[i]);
    return text ? text : "";
}

/* The leading making's parts, then what the others have otherwise. */
static int tables(struct stage_run *r, const struct makings *m, struct error *err) {
    const struct making *lead = makings_leading(m);
    json_t *list = stage_table(r, "makings", "Ways of making",
                               "making|title|how likely, percent|parts|otherwise");
    json_t *parts = stage_table(r, "parts", "Parts, sizes fresh",
                                "part|name|length, mm|width, mm|thickness, mm|diameter, mm|count|"
                                "footing|rule|rival");
    json_t *other =
        m->making_count > 1
            ? stage_table(r, "otherwise", "What the other ways of making have otherwise",
                          "part|name|length, mm|width, mm|thickness, mm|diameter, mm|"
                          "count|footing|rule|rival")
            : NULL;
    for (size_t i = 0; list && i < m->making_count; i++) {
        const struct making *k = &m->makings[i];
        int n = 0;
        for (const struct part *p = NULL; (p = makings_part(m, k->id, -1, p)); n++)
            if (lead && strcmp(k->id, lead->id) == 0)
                part_row(r, parts, p);
            else if (other && lead && !same_part(p, counterpart(m, lead, p)))
                part_row(r, other, p);
        json_array_append_new(list, json_pack("[s,s,s,i,s]", k->id, k->title ? k->title : "",
                                              share(r, k->weight), n,
                                              k->difference ? k->difference : ""));
    }
    json_t *steps = stage_table(r, "order", "Order of work",
                                "step|what|hours|days|measure|right|take care|footing");
    for (size_t i = 0; steps && lead && i < m->step_count; i++) {
        const struct step *s = &m->steps[i];
        if (!s->making || strcmp(s->making, lead->id) != 0) continue;
        json_array_append_new(
            steps, json_pack("[i,s,s,s,s,s,s,s]", (int)s->number, s->what ? s->what : "",
                             millimetres(r, s->hours), millimetres(r, s->days),
                             s->measure ? s->measure : "", s->right ? s->right : "", hazards(r, s),
                             s->footing >= 0 ? footing_words[s->footing] : ""));
    }
    return list && parts && steps ? 0 : fail_memory(err);
}

static int run(struct stage_run *r, struct error *err) {
    struct makings proposed, *all = ARENA_NEW(r->arena, struct makings, 1);
    if (!all) return fail_memory(err);
    const struct statement *stem = statement_find(r->said, "curve.stem.radius");
    const struct making_basis basis = {.find = &r->now->find,
                                       .said = r->said,
                                       .outline = r->made.outline,
                                       .radius = stem ? stem->value.p50 : NAN};
    int rc = making_complete(&proposed, &basis, r->arena, err);
    if (rc && r->now->makings.making_count == 0) return rc;
    if (rc) proposed = (struct makings){0}; /* a person's own making stands without an outline */
    rc = join(all, &r->now->makings, &proposed, r->arena, err);
    if (rc) return rc;
    r->made.makings = all;
    json_object_set_new(r->result, "proposal", stage_makings_encode(&proposed));
    dry_scale(r);
    return tables(r, all, err);
}

const struct stage stage_making = {"making", "Making", 6, kinds, false, run};
