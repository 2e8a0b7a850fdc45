/* sizes_alter: the roots and factor columns of alterations. */
#include "remains/sizes_inside.h"
#include "stuff/table.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Share of an alteration by which a size's place between the rings may move it: wood shrinks about
 * twice as much around as through (Wood Handbook table 4-3), and nobody noted which it was. */
static const double GRAIN_OPEN = 0.2;

const struct piece *model_original(const struct find *find, const struct piece *p) {
    const struct piece *o = p->same_as ? find_piece(find, p->same_as) : NULL;
    return o ? o : p;
}

/* One piece's material may be noted only on its first reading. */
static const struct piece *material_piece(const struct find *find, const struct piece *p) {
    return p->substance == FIELD_UNKNOWN ? model_original(find, p) : p;
}

static int root_factor(size_t *col, struct num_rows *rows, const char *id, double mean, double sd,
                       struct error *err) {
    struct num_dist prior = num_dist_lognormal(exp(mean), fmax(sd, 1e-6));
    return num_rows_root(rows, id, &prior, col, err);
}

static double product(const double *row, void *ctx) {
    const size_t *cols = ctx;
    double f = 1;
    for (size_t i = 0; cols[i] != NUM_NO_COLUMN; i++)
        f *= row[cols[i]];
    return f;
}

/* around^0.8 along^0.2 open */
static double plane_product(const double *row, void *ctx) {
    const size_t *c = ctx;
    double around = row[c[0]] * row[c[1]], along = row[c[2]] * row[c[3]];
    return pow(around, ALTERATION_PLANE_AROUND) * pow(along, 1 - ALTERATION_PLANE_AROUND) *
           row[c[4]];
}

static int derive_product(size_t *col, struct model *m, const char *id, const size_t *from,
                          size_t n, num_row_fn *fn) {
    size_t *ctx = ARENA_NEW(m->arena, size_t, n + 1);
    if (!ctx) return fail_memory(m->err);
    memcpy(ctx, from, n * sizeof *ctx);
    ctx[n] = NUM_NO_COLUMN;
    return num_rows_derive(m->rows, id, from, n, fn, ctx, col, m->err);
}

/* Shared and local root of one plain axis. */
static int axis_roots(size_t *shared, size_t *local, struct model *m, const struct alteration *a,
                      enum axis axis, const struct alteration_prior *prior) {
    char id[200];
    snprintf(id, sizeof id, "alter.%s.%s.%s", a->material, axis_words[axis], a->state_word);
    int rc = root_factor(shared, m->rows, id, prior->mean, prior->sd, m->err);
    if (rc) return rc;
    snprintf(id, sizeof id, "alter.%s.%s.%s.%s", a->material, a->zone, axis_words[axis],
             a->state_word);
    return root_factor(local, m->rows, id, 0, prior->zone_sd, m->err);
}

static int plane_roots(struct alteration *a, struct model *m, const struct piece *p) {
    struct alteration_prior around, along;
    int rc = remains_alteration_prior(&around, m->find, p, a->state, AXIS_AROUND, m->arena, m->err);
    if (!rc)
        rc = remains_alteration_prior(&along, m->find, p, a->state, AXIS_ALONG, m->arena, m->err);
    if (!rc) rc = axis_roots(&a->plane[0], &a->plane[1], m, a, AXIS_AROUND, &around);
    if (!rc) rc = axis_roots(&a->plane[2], &a->plane[3], m, a, AXIS_ALONG, &along);
    if (rc) return rc;
    char id[200];
    snprintf(id, sizeof id, "alter.%s.%s.plane.%s", a->material, a->zone, a->state_word);
    rc = root_factor(&a->local, m->rows, id, 0, ALTERATION_PLANE_OPEN, m->err);
    if (rc) return rc;
    size_t from[] = {a->plane[0], a->plane[1], a->plane[2], a->plane[3], a->local};
    snprintf(id, sizeof id, "fresh_factor.%s.%s.plane.%s", a->material, a->zone, a->state_word);
    return derive_product(&a->factor, m, id, from, 5, plane_product);
}

static int alteration_columns(struct alteration *a, struct model *m, const struct piece *p) {
    char id[200];
    a->shared = a->local = NUM_NO_COLUMN;
    for (size_t i = 0; i < 4; i++)
        a->plane[i] = NUM_NO_COLUMN;
    snprintf(id, sizeof id, "fresh_factor.%s.%s.%s.%s", a->material, a->zone, axis_words[a->axis],
             a->state_word);
    if (a->state == STATE_FRESH) {
        struct num_dist one = num_dist_fixed(1);
        return num_rows_root(m->rows, id, &one, &a->factor, m->err);
    }
    if (a->axis == AXIS_PLANE && strncmp(a->material, "bark", 4) == 0) return plane_roots(a, m, p);
    int rc = axis_roots(&a->shared, &a->local, m, a, a->axis, &a->prior);
    size_t from[] = {a->shared, a->local};
    return rc ? rc : derive_product(&a->factor, m, id, from, 2, product);
}

static struct alteration *alteration_known(struct sizes *s, const char *material, const char *zone,
                                           enum axis axis, const char *state) {
    for (size_t i = 0; i < s->alteration_count; i++) {
        struct alteration *a = &s->alterations[i];
        if (a->axis == axis && strcmp(a->material, material) == 0 && strcmp(a->zone, zone) == 0 &&
            strcmp(a->state_word, state) == 0)
            return a;
    }
    return NULL;
}

/* The material word of a piece, kept for the run where the model has an index. */
static const char *material_word(struct model *m, const struct piece *p, char *buffer,
                                 size_t size) {
    size_t at = m->material ? model_piece(m, p->id) : NUM_NO_COLUMN;
    if (at != NUM_NO_COLUMN && m->material[at]) return m->material[at];
    remains_material_word(m->find, p, buffer, size);
    if (at != NUM_NO_COLUMN) m->material[at] = arena_strdup(m->arena, buffer);
    return buffer;
}

int model_alteration(long *index, struct model *m, const struct piece *piece,
                     const struct measure *r, enum axis axis) {
    const struct piece *p = material_piece(m->find, piece);
    char buffer[SIZES_WORD], zone[SIZES_WORD], state[SIZES_WORD];
    const char *material = material_word(m, p, buffer, sizeof buffer);
    remains_zone_word(piece, zone, sizeof zone);
    remains_state_word(r, state, sizeof state);
    *index = -1;
    const struct alteration *known = alteration_known(m->out, material, zone, axis, state);
    if (known) {
        *index = known - m->out->alterations;
        return 0;
    }
    struct alteration a = {.state = r->state, .axis = axis, .loss = spread_unknown()};
    int rc = remains_alteration_prior(&a.prior, m->find, p, r->state, axis, m->arena, m->err);
    if (rc) return rc;
    a.material = arena_strdup(m->arena, material);
    a.zone = arena_strdup(m->arena, zone);
    a.state_word = arena_strdup(m->arena, state);
    a.id = arena_printf(m->arena, "%s.%s.%s.%s", material, zone, axis_words[axis], state);
    if (!a.material || !a.zone || !a.state_word || !a.id) return fail_memory(m->err);
    rc = alteration_columns(&a, m, p);
    if (rc) return rc;
    struct sizes *s = m->out;
    if ((s->alteration_count & (s->alteration_count - 1)) == 0) { /* room doubles */
        size_t n = s->alteration_count;
        struct alteration *more = ARENA_NEW(m->arena, struct alteration, n ? 2 * n : 1);
        if (!more) return fail_memory(m->err);
        if (n) memcpy(more, s->alterations, n * sizeof *more);
        s->alterations = more;
    }
    *index = (long)s->alteration_count;
    s->alterations[s->alteration_count++] = a;
    return 0;
}

int model_grain(size_t *col, struct model *m, const struct piece *p, const struct measure *r,
                const struct alteration *a, const char *part, const char *quantity) {
    *col = NUM_NO_COLUMN;
    bool rings = remains_is_wood(material_piece(m->find, p)) || a->axis == AXIS_ACROSS;
    if (a->axis != AXIS_ACROSS || !rings || a->state == STATE_FRESH) return 0;
    double sd = GRAIN_OPEN * fabs(a->prior.mean);
    if (!(sd > 1e-4)) return 0;
    char id[240], state[SIZES_WORD];
    remains_state_word(r, state, sizeof state);
    snprintf(id, sizeof id, "grain.%s.%s.%s", part, quantity, state);
    return root_factor(col, m->rows, id, 0, sd, m->err);
}

/* How much a thing was pressed thinner in the ground: mostly a little, now and then several times
 * (a guess; rods once round decide it where there are any). Fresh over pressed thickness, less 1.
 */
static const double SQUASH_MEDIAN = 0.05, SQUASH_LOG_SD = 1.5;

int model_squash_root(size_t *col, struct model *m, const char *material) {
    *col = NUM_NO_COLUMN;
    if (!*material || strcmp(material, "bast") == 0 || strcmp(material, "hide") == 0) return 0;
    char id[80];
    snprintf(id, sizeof id, "squash.%s", material);
    struct num_dist prior = num_dist_lognormal(SQUASH_MEDIAN, SQUASH_LOG_SD);
    int rc = num_rows_root(m->rows, id, &prior, col, m->err);
    for (size_t i = 0; i < m->squash_count; i++)
        if (m->squash[i].col == *col) return rc;
    if (rc || m->squash_count == SIZES_MATERIALS) return rc;
    struct squash_source *s = &m->squash[m->squash_count++];
    *s = (struct squash_source){arena_strdup(m->arena, material), *col, 0, false};
    return s->material ? 0 : fail_memory(m->err);
}

/* ---- for other rooms ------------------------------------------------------------------------ */

int remains_factor(size_t *col, struct sizes *sizes, const struct find *find, struct num_rows *rows,
                   const struct piece *piece, const struct measure *r, enum axis axis,
                   struct arena *arena, struct error *err) {
    struct model m = {.out = sizes, .find = find, .rows = rows, .arena = arena, .err = err};
    long index;
    *col = NUM_NO_COLUMN;
    if (!*remains_alteration_class(material_piece(find, piece))) return 0;
    int rc = model_alteration(&index, &m, piece, r, axis);
    if (!rc && index >= 0) *col = sizes->alterations[index].factor;
    return rc;
}

static int keep_dry_source(struct model *m, size_t col, const struct alteration_prior *prior) {
    if (m->dry_count < SIZES_MATERIALS)
        m->dry[m->dry_count++] =
            (struct dry_source){col, prior->fact, prior->source, prior->standing};
    return 0;
}

/* around^0.8 along^0.2 open, as for what time did: so that a trial across the grain is heard by
 * every size whose direction in the sheet nobody noted. */
static double plane_dry(const double *row, void *ctx) {
    const size_t *c = ctx;
    return pow(row[c[0]], ALTERATION_PLANE_AROUND) * pow(row[c[1]], 1 - ALTERATION_PLANE_AROUND) *
           row[c[2]];
}

/* Whether the prior is the mixture of around and along, and not a figure of somebody's own. */
static bool is_mixture(struct model *m, const struct piece *p,
                       const struct alteration_prior *prior) {
    struct alteration_prior around, along;
    double w = ALTERATION_PLANE_AROUND;
    if (remains_dry_prior(&around, m->find, m->shelf, p, AXIS_AROUND, m->arena, NULL) ||
        remains_dry_prior(&along, m->find, m->shelf, p, AXIS_ALONG, m->arena, NULL))
        return false;
    double mean = w * around.mean + (1 - w) * along.mean,
           sd = hypot(hypot(w * around.sd, (1 - w) * along.sd), ALTERATION_PLANE_OPEN);
    return fabs(mean - prior->mean) < 1e-9 && fabs(sd - prior->sd) < 1e-9;
}

static int plane_dry_factor(size_t *col, struct model *m, const struct piece *piece, const char *id,
                            const char *material) {
    char open[100];
    size_t from[3];
    snprintf(open, sizeof open, "dry_open.%s", material);
    int rc = model_dry_factor(&from[0], m, piece, AXIS_AROUND);
    if (!rc) rc = model_dry_factor(&from[1], m, piece, AXIS_ALONG);
    if (!rc) rc = root_factor(&from[2], m->rows, open, 0, ALTERATION_PLANE_OPEN, m->err);
    return rc ? rc : derive_product(col, m, id, from, 3, plane_dry);
}

int model_dry_factor(size_t *col, struct model *m, const struct piece *piece, enum axis axis) {
    const struct piece *p = material_piece(m->find, piece);
    char buffer[SIZES_WORD], id[100];
    struct alteration_prior prior;
    *col = NUM_NO_COLUMN;
    const char *material = material_word(m, p, buffer, sizeof buffer);
    if (!*material) return 0;
    snprintf(id, sizeof id, "dry_factor.%s.%s", material, axis_words[axis]);
    bool plane = axis == AXIS_PLANE && p->substance != SUBSTANCE_HIDE;
    *col = num_rows_find(m->rows, id);
    if (*col != NUM_NO_COLUMN && (!plane || num_rows_prior(m->rows, *col))) return 0;
    if (*col != NUM_NO_COLUMN && m->dry_count) /* met before in this run: its function is joined */
        for (size_t i = 0; i < m->dry_count; i++)
            if (m->dry[i].col == *col) return 0;
    int rc = m->shelf ? 0 : stuff_shelf_new(&m->shelf, m->err);
    if (!rc) rc = remains_dry_prior(&prior, m->find, m->shelf, p, axis, m->arena, m->err);
    if (!rc && plane && is_mixture(m, p, &prior))
        rc = plane_dry_factor(col, m, piece, id, material);
    else if (!rc)
        rc = root_factor(col, m->rows, id, -prior.mean, prior.sd, m->err);
    return rc ? rc : keep_dry_source(m, *col, &prior);
}

int remains_dry_factor(size_t *col, const struct find *find, struct num_rows *rows,
                       const struct piece *piece, enum axis axis, struct arena *arena,
                       struct error *err) {
    struct model m = {.find = find, .rows = rows, .arena = arena, .err = err};
    int rc = model_dry_factor(col, &m, piece, axis);
    stuff_shelf_free(m.shelf);
    return rc;
}
