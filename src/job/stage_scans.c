#include "job/stage_scans.h"

#include "trial/trial_words.h"

#include <math.h>
#include <string.h>

static const char *number(struct stage_run *r, double v) {
    const char *text = isnan(v) ? "" : trial_number(v, 3, r->arena);
    return text ? text : "";
}

/* What the statement is about, with its scan and piece among what it rests on. */
static int begin(struct statement *s, struct stage_run *r, const struct scan_entry *e,
                 const struct scan_answer *a, struct error *err) {
    *s = statement_blank();
    s->step = "trials";
    s->about = a->of;
    s->footing = FOOTING_WORKED_OUT;
    s->standing = STANDING_MEASURED;
    int rc = statement_link_add(s, "scan", e->id, "reading", r->arena, err);
    if (!rc && e->piece) rc = statement_link_add(s, "piece", e->piece, "of", r->arena, err);
    if (!rc && e->trial_piece)
        rc = statement_link_add(s, "trial_piece", e->trial_piece, "of", r->arena, err);
    return rc;
}

static int state_difference(struct stage_run *r, const struct scan_entry *e,
                            const struct scan_answer *a, struct error *err) {
    struct statement s;
    int rc = begin(&s, r, e, a, err);
    if (rc) return rc;
    s.id = arena_printf(r->arena, "scan.%s.difference", e->id);
    s.quantity = "difference of the scans";
    s.sentence =
        arena_printf(r->arena, "So far the scan %s lies outside the scan %s, over its surface.",
                     e->id, e->against);
    s.unit = "mm";
    s.value = (struct spread){NAN, a->p05, a->p25, a->median, a->p75, a->p95, NAN, NAN, NAN};
    const char *fit = a->determined
                          ? arena_printf(r->arena, ", registration to %s mm", number(r, a->spread))
                          : "";
    s.rule = arena_printf(r->arena,
                          "laid on by %s, then point to plane; misfit %s mm%s; the range is over "
                          "the surface, about %s independent places",
                          e->pairs.n ? "paired points" : "several starts", number(r, a->rms),
                          fit ? fit : "", number(r, a->independent));
    s.source =
        "Chen & Medioni 1992, Image Vis. Comput. 10, 145; Horn 1987, J. Opt. Soc. Am. A 4, 629";
    s.caution = *a->say ? a->say : NULL;
    if (!s.id || !s.sentence || !s.rule) return fail_memory(err);
    rc = statement_link_add(&s, "scan", e->against, "laid on", r->arena, err);
    return rc ? rc : statement_add(r->said, &s, err);
}

/* A scan of the find as it was lifted, beside what the curve step made of everything else. */
static int beside_the_find(struct statement *s, struct stage_run *r, const struct scan_entry *e,
                           struct error *err) {
    const struct statement *other = e->piece ? statement_find(r->said, "curve.bend") : NULL;
    if (!other) return 0;
    double off = fabs(fabs(s->value.p50) - other->value.p50) / hypot(s->value.sd, other->value.sd);
    s->caution = off > 2 ? "it contradicts curve.bend: as lifted the piece is not bent as in use, "
                           "or one of the readings is wrong"
                         : "it agrees with curve.bend, which was worked out without it";
    return statement_link_add(s, "statement", "curve.bend", "laid beside", r->arena, err);
}

static int state_bend(struct stage_run *r, const struct scan_entry *e, const struct scan_answer *a,
                      size_t i, struct error *err) {
    const struct scan_bend *b = (const struct scan_bend *)a->bends.v + i;
    struct statement s;
    int rc = begin(&s, r, e, a, err);
    if (rc) return rc;
    const double k = 1000 * b->k1, sd = 1000 * b->sd; /* 1/m */
    s.id = arena_printf(r->arena, "scan.%s.bend.%zu", e->id, i + 1);
    s.quantity = "bend";
    s.sentence = arena_printf(r->arena, "So the scan %s bends at its place %zu.", e->id, i + 1);
    s.unit = "1/m";
    s.value = spread_normal(k, sd);
    s.rule = arena_printf(r->arena,
                          "quadric through %ld points; the lesser bend is %s 1/m; misfit %s mm",
                          b->points, number(r, 1000 * b->k2), number(r, b->residual));
    s.source = "do Carmo 1976, Differential Geometry of Curves and Surfaces, 3.3";
    if (!s.id || !s.sentence || !s.rule) return fail_memory(err);
    rc = beside_the_find(&s, r, e, err);
    return rc ? rc : statement_add(r->said, &s, err);
}

static int tables(struct stage_run *r, const struct scan_answer *a, size_t n, struct error *err) {
    json_t *rows =
        stage_table(r, "scans", "Scans, and where they differ",
                    "scan|of|points|triangles|size, mm|laid on|misfit, mm|"
                    "registration, mm|difference, mm|5 to 95 %, mm|within, percent|note");
    json_t *bends = stage_table(r, "bends", "How the scans bend",
                                "scan|of|place|bend, 1/m|plus or minus, 1/m|lesser, 1/m|radius, mm|"
                                "points");
    for (size_t i = 0; rows && bends && i < n; i++, a++) {
        const char *size =
            arena_printf(r->arena, "%.0f x %.0f x %.0f", a->size[0], a->size[1], a->size[2]);
        const char *range = a->laid ? trial_range(a->p05, a->p95, "", r->arena) : "";
        json_array_append_new(rows,
                              json_pack("[s,s,i,i,s,s,s,s,s,s,s,s]", a->id, a->of, (int)a->points,
                                        (int)a->triangles, a->points && size ? size : "",
                                        a->laid ? a->against : "", number(r, a->rms),
                                        number(r, a->spread), number(r, a->median),
                                        range ? range : "", number(r, 100 * a->within), a->say));
        const struct scan_bend *b = a->bends.v;
        for (size_t k = 0; k < a->bends.n; k++) {
            const char *at =
                arena_printf(r->arena, "%.0f, %.0f, %.0f", b[k].at[0], b[k].at[1], b[k].at[2]);
            json_array_append_new(bends,
                                  json_pack("[s,s,s,s,s,s,s,i]", a->id, a->of, at ? at : "",
                                            number(r, 1000 * b[k].k1), number(r, 1645 * b[k].sd),
                                            number(r, 1000 * b[k].k2), number(r, b[k].radius),
                                            (int)b[k].points));
        }
    }
    return rows && bends ? 0 : fail_memory(err);
}

int stage_scans(struct trial_reading **readings, size_t *n, struct stage_run *r,
                struct error *err) {
    const struct snapshot *now = r->now;
    struct records answers;
    *n = 0;
    *readings = NULL;
    if (now->scan_count == 0 || !now->scan_bytes) return 0;
    int rc =
        trial_scans_read(&answers, now->scans, now->scan_count, now->scan_bytes, r->arena, err);
    if (rc) return rc;
    const struct scan_answer *a = answers.v;
    json_t *list = json_array();
    for (size_t i = 0; i < answers.n && !rc; i++) {
        json_array_append_new(list, field_encode(&scan_answer_kind, &a[i]));
        if (a[i].laid) rc = state_difference(r, &now->scans[i], &a[i], err);
        for (size_t k = 0; k < a[i].bends.n && !rc; k++)
            rc = state_bend(r, &now->scans[i], &a[i], k, err);
    }
    json_object_set_new(r->result, "scans", list);
    if (!rc) rc = tables(r, a, answers.n, err);
    return rc ? rc : trial_scans_readings(readings, n, now->scans, &answers, r->arena, err);
}
