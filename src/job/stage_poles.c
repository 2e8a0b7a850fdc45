/* stage_poles: of the step "material": laths, rods and rims laid out on the poles in view. */
#include "job/stage_poles.h"

#include "gather/poles.h"

#include <math.h>

static json_t *point(double x, double y) {
    return json_pack("[f,f]", round(10 * x) / 10, round(10 * y) / 10);
}

/* The pole from the side, butt at the left: x up it, y across, mm; its bolts in it. */
static json_t *drawn(const struct pole_plan *plan, size_t k, const struct need_list *list,
                     const struct stem *stems, const struct pole_options *o) {
    const struct stem *s = &stems[plan->pole[k]];
    double a = gather_wood_across(s, s->clear_from, o->bark),
           b = gather_wood_across(s, s->clear_from + s->clear_length, o->bark);
    json_t *ring = json_array(), *parts = json_array();
    json_array_append_new(ring, point(0, -a / 2));
    json_array_append_new(ring, point(s->clear_length, -b / 2));
    json_array_append_new(ring, point(s->clear_length, b / 2));
    json_array_append_new(ring, point(0, a / 2));
    for (size_t i = 0; i < plan->n; i++) {
        const struct pole_bolt *p = &plan->bolt[i];
        if (p->stem != plan->pole[k]) continue;
        double end = p->from + p->length, w = p->thin_end / 2;
        json_t *box = json_array();
        json_array_append_new(box, point(p->from, -w));
        json_array_append_new(box, point(end, -w));
        json_array_append_new(box, point(end, w));
        json_array_append_new(box, point(p->from, w));
        json_array_append_new(
            parts, json_pack("{s:s,s:o}", "part", list->need[p->need].what, "ring", box));
    }
    return json_pack("{s:s,s:o,s:o,s:o,s:f,s:f,s:f,s:b}", "stem", s->id, "ring", ring, "faults",
                     json_array(), "parts", parts, "share", 1.0, "start", 0.0, "used",
                     plan->used[k], "pole", 1);
}

static int tables(struct stage_run *r, const struct pole_plan *plan, struct error *err) {
    const struct stem *stems = r->now->stems;
    json_t *bolts = stage_table(r, "poles", "Laths and rods cleft from the poles, butt first",
                                "pole|from the butt, mm|long, mm|wood across its thin end, mm|"
                                "for|blanks|usable, expected");
    for (size_t i = 0; bolts && i < plan->n; i++) {
        const struct pole_bolt *p = &plan->bolt[i];
        json_array_append_new(bolts, json_pack("[s,s,s,s,s,i,s]", stems[p->stem].id,
                                               arena_printf(r->arena, "%.0f", p->from),
                                               arena_printf(r->arena, "%.0f", p->length),
                                               arena_printf(r->arena, "%.0f", p->thin_end),
                                               p->serves ? p->serves : "", (int)p->blanks,
                                               arena_printf(r->arena, "%.1f", p->usable)));
    }
    json_t *left = stage_table(r, "pole_waste", "What is left of each pole",
                               "pole|longest piece left, mm|of its wood in usable blanks, percent|"
                               "waste, percent|why it gives none");
    for (size_t k = 0; left && k < plan->poles; k++)
        json_array_append_new(left,
                              json_pack("[s,s,s,s,s]", stems[plan->pole[k]].id,
                                        arena_printf(r->arena, "%.0f", plan->left[k]),
                                        arena_printf(r->arena, "%.0f", 100 * plan->used[k]),
                                        arena_printf(r->arena, "%.0f", 100 * (1 - plan->used[k])),
                                        plan->none[k]));
    return bolts && left ? 0 : fail_memory(err);
}

int stage_poles(struct stage_run *r, const struct need_list *list, struct error *err) {
    struct pole_plan plan;
    const struct pole_options o = gather_pole_options();
    if (!r->now->stem_count) return 0;
    int rc = gather_poles(&plan, list, r->now->stems, r->now->stem_count, r->now->faults,
                          r->now->fault_count, &o, r->arena, err);
    if (rc) return rc;
    const char *rule = arena_printf(
        r->arena,
        "A saw takes %.0f mm, a cleft face with its shaving %.0f mm; of the blanks %.0f in 100 are "
        "reckoned usable (60 to 75; a first-timer 40). Pith is left out. Common practice. %s",
        o.saw, o.cleft, 100 * o.usable, plan.say);
    if (!rule) return fail_memory(err);
    if (plan.poles || *plan.say) json_object_set_new(r->result, "poles", json_string(rule));
    if (!plan.n) return 0;
    json_t *layouts = json_object_get(r->result, "layouts");
    if (!layouts) {
        layouts = json_array();
        json_object_set_new(r->result, "layouts", layouts);
    }
    for (size_t k = 0; k < plan.poles; k++)
        json_array_append_new(layouts, drawn(&plan, k, list, r->now->stems, &o));
    return tables(r, &plan, err);
}
