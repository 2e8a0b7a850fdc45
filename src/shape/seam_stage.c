#include "shape/seam_stage.h"

#include <math.h>
#include <string.h>

struct talk {
    const struct shape_seam_input *in;
    struct statement_set *said;
    struct arena *arena;
};

static struct spread normal_spread(double mean, double sd) {
    /* Phi^-1 of 0.995, 0.95 and 0.75 */
    return (struct spread){mean - 2.5758 * sd,
                           mean - 1.6449 * sd,
                           mean - 0.6745 * sd,
                           mean,
                           mean + 0.6745 * sd,
                           mean + 1.6449 * sd,
                           mean + 2.5758 * sd,
                           mean,
                           sd};
}

static int say(const struct talk *t, struct statement *s, const struct shape_seam_find *row,
               struct error *err) {
    s->step = "curve", s->state = t->in->state;
    if (!s->id || !s->sentence) return fail_memory(err);
    int rc = row ? statement_link_add(s, row->entry ? row->entry : "measure", row->id, "reading",
                                      t->arena, err)
                 : 0;
    return rc ? rc : statement_add(t->said, s, err);
}

static struct statement begin(const struct talk *t, const struct shape_seam_find *row,
                              const char *what, const char *sentence) {
    struct statement s = statement_blank();
    s.id = arena_printf(t->arena, "seam.%s.%s", row->name ? row->name : row->id, what);
    s.about = row->name ? arena_printf(t->arena, "piece %s", row->name)
                        : arena_printf(t->arena, "measure %s", row->id);
    s.quantity = what, s.sentence = sentence, s.footing = FOOTING_WORKED_OUT;
    return s;
}

/* ---- one row --------------------------------------------------------------------------------- */

static int say_pitch(const struct talk *t, const struct shape_seam_find *row, double pitch,
                     double u, struct error *err) {
    struct statement s = begin(t, row, "pitch", "The stitches stood this far apart.");
    s.unit = "mm", s.value = normal_spread(pitch, isfinite(u) ? u : 0);
    s.rule = row->n_gaps ? "gaps over the whole number of pitches in each" : "mean over the row";
    int rc = say(t, &s, row, err);
    if (rc || row->rod || !(row->hole > 0)) return rc;
    double left = shape_seam_net_section(row->hole, pitch);
    s = begin(t, row, "section", "So much of the sheet is left between the holes.");
    s.unit = "percent", s.value = spread_exact(100 * left), s.rule = "1 - hole/pitch";
    if (left < SHAPE_NET_STOP)
        s.caution = "will tear: under 0.60 (common practice, no source)";
    else if (left < SHAPE_NET_WARN)
        s.caution = "weak seam: under 0.75 (common practice, no source)";
    return say(t, &s, row, err);
}

enum { TORN_LEAST = 3 }; /* holes in line: fewer may have torn one by one */

/* "holes 2 to 4, holes 7 to 9"; "" when no run is long enough, NULL when memory is gone. */
static const char *torn_where(const struct talk *t, const struct shape_seam_find *row) {
    size_t *first = ARENA_NEW(t->arena, size_t, row->n_torn),
           *count = ARENA_NEW(t->arena, size_t, row->n_torn);
    if (!first || !count) return NULL;
    size_t runs = shape_seam_torn(first, count, row->torn, row->n_torn, TORN_LEAST);
    const char *where = "";
    for (size_t k = 0; where && k < runs; k++)
        where = arena_printf(t->arena, "%s%sholes %zu to %zu", where, k ? ", " : "", first[k] + 1,
                             first[k] + count[k]);
    return where;
}

static int say_torn(const struct talk *t, const struct shape_seam_find *row, struct error *err) {
    const char *where = "";
    if (row->n_torn)
        where = torn_where(t, row);
    else if (row->torn_holes >= TORN_LEAST && row->torn_holes >= row->holes)
        where = arena_printf(t->arena, "holes 1 to %.0f", row->torn_holes);
    else if (row->torn_holes >= TORN_LEAST)
        where = arena_printf(t->arena, "%.0f of its %.0f holes, which ones was not noted",
                             row->torn_holes, row->holes);
    if (!where) return fail_memory(err);
    if (!*where) return 0;
    struct statement s =
        begin(t, row, "torn", arena_printf(t->arena, "The seam tore in line: %s.", where));
    s.footing = FOOTING_SEEN;
    int rc =
        row->torn_mark ? statement_link_add(&s, "mark", row->torn_mark, "tear", t->arena, err) : 0;
    return rc ? rc : say(t, &s, row, err);
}

static int say_missing(const struct talk *t, const struct shape_seam_find *row,
                       const struct shape_seam *seam, struct error *err) {
    if (!seam->missing) return 0;
    struct statement s =
        begin(t, row, "missing", "Holes are missing where a gap fits several pitches.");
    s.value = spread_exact((double)seam->missing);
    s.footing = FOOTING_GUESSED, s.rival = "the maker left a longer stitch there";
    s.rule = "a gap within 15 % of a pitch of a whole number of pitches";
    return say(t, &s, row, err);
}

/* What the gaps say of groups, of one row or (row NULL) of all together. */
static int say_grouping(const struct talk *t, struct statement *s,
                        const struct shape_seam_groups *g, const struct shape_seam_find *row,
                        struct error *err) {
    s->footing = FOOTING_WORKED_OUT, s->quantity = "grouping";
    s->sentence = "The stitches were evenly spaced.";
    if (g->best > 1 && row)
        s->sentence = arena_printf(t->arena,
                                   "The stitches went in groups of %ld; the first wider gap is "
                                   "gap %ld.",
                                   g->best, g->phase[g->best - 1] + 1);
    else if (g->best > 1)
        s->sentence = arena_printf(t->arena, "The stitches went in groups of %ld.", g->best);
    s->probability = g->posterior[g->best - 1];
    s->rival = g->best == 1 ? "groups whose gaps differ little" : "even spacing, unevenly sewn";
    s->caution = g->decided ? NULL : "undecided: the gaps do not tell even spacing from groups";
    s->rule = row ? "evidence of log-normal gaps for groups of 1 to 6"
                  : "evidence for groups of 1 to 6 added up over the rows, each with its own phase";
    return say(t, s, row, err);
}

static int say_groups(const struct talk *t, const struct shape_seam_find *row,
                      struct shape_seam_groups *g, bool *says, struct error *err) {
    *says = false;
    if (row->n_gaps < 4) return 0;
    int rc = shape_seam_groups(g, row->gap, row->n_gaps, NAN, err);
    if (rc) return rc;
    *says = true;
    struct statement s = begin(t, row, "grouping", "");
    return say_grouping(t, &s, g, row, err);
}

static int say_all_groups(const struct talk *t, const struct shape_seam_groups *g,
                          const struct shape_seam_find *const *of, size_t n, struct error *err) {
    if (n < 2) return 0;
    struct shape_seam_groups all;
    struct statement s = statement_blank();
    int rc = 0;
    shape_seam_groups_together(&all, g, n);
    for (size_t i = 0; i < n && !rc; i++)
        rc = statement_link_add(&s, of[i]->entry ? of[i]->entry : "measure", of[i]->id, "reading",
                                t->arena, err);
    s.id = arena_printf(t->arena, "seam.grouping.%s", t->in->state ? t->in->state : "all");
    s.about = "object";
    return rc ? rc : say_grouping(t, &s, &all, NULL, err);
}

/* Speaks of one row and gives its pitch and number of gaps; 0 gaps when it says too little. */
static int one_row(const struct talk *t, const struct shape_seam_find *row,
                   struct shape_seam_row *sum, double *sd, struct shape_seam_groups *g, bool *says,
                   struct error *err) {
    *sum = (struct shape_seam_row){0, 0, row->u > 0 ? row->u : 0};
    *says = false;
    int rc = say_torn(t, row, err);
    if (rc) return rc;
    if (row->n_gaps >= 2) {
        struct shape_seam seam;
        if (shape_seam_spacing(&seam, row->gap, row->n_gaps, t->arena, NULL)) return 0;
        for (size_t i = 0; i < row->n_gaps; i++)
            sum->gaps += (double)seam.multiple[i];
        sum->pitch = seam.pitch, *sd = seam.sd;
        rc = say_pitch(t, row, seam.pitch, seam.u_pitch, err);
        if (!rc) rc = say_missing(t, row, &seam, err);
        return rc ? rc : say_groups(t, row, g, says, err);
    }
    if (!(row->pitch > 0) || !(row->holes >= 2)) return 0;
    sum->pitch = row->pitch, sum->gaps = row->holes - 1;
    return say_pitch(t, row, row->pitch, sum->u / sum->gaps, err);
}

/* ---- rows together --------------------------------------------------------------------------- */

static bool same(const char *a, const char *b) {
    return a && b && strcmp(a, b) == 0;
}

static int zone_shrinkage(const struct talk *t, const struct shape_seam_row *sum, const char *zone,
                          struct error *err) {
    size_t n = t->in->n, sheets = 0, rods = 0;
    struct shape_seam_row *sheet = ARENA_NEW(t->arena, struct shape_seam_row, 2 * n),
                          *rod = sheet + n;
    if (!sheet) return fail_memory(err);
    struct statement s = statement_blank();
    for (size_t i = 0; i < n; i++) {
        const struct shape_seam_find *r = &t->in->row[i];
        if (!same(r->zone, zone) || !(sum[i].gaps > 0)) continue;
        if (r->rod)
            rod[rods++] = sum[i];
        else
            sheet[sheets++] = sum[i];
        int rc = statement_link_add(&s, r->entry ? r->entry : "measure", r->id, "reading", t->arena,
                                    err);
        if (rc) return rc;
    }
    struct shape_seam_shrink k;
    if (!sheets || !rods || shape_seam_shrinkage(&k, sheet, sheets, rod, rods, 0, NULL)) return 0;
    s.id = arena_printf(t->arena, "seam.shrink.%s", zone);
    s.about = arena_printf(t->arena, "sheet, zone %s", zone);
    s.quantity = "shrinkage against the rod", s.unit = "percent", s.footing = FOOTING_WORKED_OUT;
    s.sentence = "The sheet shrank this much more along the seam than the rod along its grain.";
    s.value = normal_spread(100 * k.shrink, 100 * k.u);
    s.rule = "the same stitches left dents in the rod and holes in the sheet: 1 - ratio of pitches";
    return say(t, &s, NULL, err);
}

static int say_count(const struct talk *t, const struct shape_seam_row *sum, const double *sd,
                     struct error *err) {
    double length = 0, gaps = 0, spread = 0, known = 0;
    struct statement s = statement_blank();
    for (size_t i = 0; i < t->in->n; i++) {
        if (!(sum[i].gaps > 0)) continue;
        length += sum[i].pitch * sum[i].gaps, gaps += sum[i].gaps;
        if (isfinite(sd[i])) spread += sd[i] * sd[i], known++;
        const struct shape_seam_find *r = &t->in->row[i];
        int rc = statement_link_add(&s, r->entry ? r->entry : "measure", r->id, "reading", t->arena,
                                    err);
        if (rc) return rc;
    }
    struct shape_seam_count c;
    /* Without single gaps: stitches vary by 10 % (reference: sewing has 0.1 to 0.3). */
    double one = known ? sqrt(spread / known) : 0.1 * length / gaps;
    if (!(gaps >= 2) || !(t->in->edge > 0) ||
        shape_seam_count(&c, t->in->edge, t->in->u_edge > 0 ? t->in->u_edge : 0, length / gaps, one,
                         (size_t)gaps, NULL))
        return 0;
    s.id = "seam.count", s.about = "object", s.quantity = "count", s.footing = FOOTING_WORKED_OUT;
    s.sentence = "So many stitches went round the whole edge.";
    s.value = normal_spread(c.expected, c.sd_t), s.value.p05 = c.low, s.value.p95 = c.high;
    s.rule = "edge over mean pitch; errors of pitch, spacing and edge";
    return say(t, &s, NULL, err);
}

int shape_seam_stage(const struct shape_seam_input *in, struct statement_set *said,
                     struct arena *arena, struct error *err) {
    struct talk t = {in, said, arena};
    struct shape_seam_row *sum = ARENA_NEW(arena, struct shape_seam_row, in->n);
    double *sd = ARENA_NEW(arena, double, in->n);
    struct shape_seam_groups *groups = ARENA_NEW(arena, struct shape_seam_groups, in->n);
    const struct shape_seam_find **grouped =
        ARENA_NEW(arena, const struct shape_seam_find *, in->n);
    if (!sum || !sd || !groups || !grouped) return fail_memory(err);
    int rc = 0;
    size_t n_groups = 0;
    for (size_t i = 0; !rc && i < in->n; i++) {
        bool says;
        sd[i] = NAN;
        rc = one_row(&t, &in->row[i], &sum[i], &sd[i], &groups[n_groups], &says, err);
        if (says) grouped[n_groups++] = &in->row[i];
    }
    if (!rc) rc = say_all_groups(&t, groups, grouped, n_groups, err);
    for (size_t i = 0; !rc && i < in->n; i++) {
        bool first = in->row[i].zone != NULL;
        for (size_t k = 0; k < i; k++)
            first &= !same(in->row[k].zone, in->row[i].zone);
        if (first) rc = zone_shrinkage(&t, sum, in->row[i].zone, err);
    }
    return rc ? rc : say_count(&t, sum, sd, err);
}
