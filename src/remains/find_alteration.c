#include "remains/find_alteration.h"

#include "base/asset.h"
#include "base/csv.h"
#include "stuff/alteration.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double Z95 = 1.6448536269514722; /* standard normal 95 % point */

static const char *genus_of(const struct piece *p) {
    return p->taxon ? p->taxon : "";
}

const char *remains_alteration_class(const struct piece *p) {
    switch (p->substance) {
    case SUBSTANCE_SPLIT_WOOD:
    case SUBSTANCE_ROUND_WOOD:
        return "wood";
    case SUBSTANCE_BARK:
        return strncmp(genus_of(p), "Betula", 6) == 0 ? "birch_bark" : "bark";
    case SUBSTANCE_BAST:
        return "bast";
    case SUBSTANCE_HIDE:
        return "hide";
    case SUBSTANCE_COIL:
        return "coil";
    default:
        return "";
    }
}

static const char *const table_states[STATE_COUNT] = {"ground",     "wet", "treated", "dried",
                                                      "part_dried", NULL,  NULL,      NULL};

/* g of a loss, and the normal in g whose outer points are those of the loss. */
static double log_factor(double loss) {
    return -log1p(-loss);
}
static void to_normal(struct alteration_prior *a) {
    double low = log_factor(a->p05), high = log_factor(a->p95);
    a->mean = 0.5 * (log_factor(a->p50) + 0.5 * (low + high));
    a->sd = (high - low) / (2 * Z95);
}

static long standing_of(const char *word) {
    for (long i = 0; standing_words[i]; i++)
        if (strcmp(word, standing_words[i]) == 0) return i;
    return STANDING_GUESS;
}

static int row_read(struct alteration_prior *out, const struct csv_row *row, struct arena *arena,
                    struct error *err) {
    const char *const *c = row->cells;
    *out = (struct alteration_prior){.p05 = atof(c[3]) / 100,
                                     .p50 = atof(c[4]) / 100,
                                     .p95 = atof(c[5]) / 100,
                                     .zone_sd = atof(c[6]) / 100,
                                     .own_sd = atof(c[7]) / 100,
                                     .standing = standing_of(c[8]),
                                     .source = c[9]};
    to_normal(out);
    out->fact = arena_printf(arena, "data/alteration_defaults.csv:%ld", row->line);
    return out->fact ? 0 : fail_memory(err);
}

/* Rows of the table are few: it is read again for each question's arena (a fifth of a
 * millisecond), so that nothing is kept between runs. */
static int table_find(struct alteration_prior *out, const char *class, const char *state,
                      const char *direction, struct arena *arena, struct error *err) {
    size_t size;
    const char *text = asset_find("data/alteration_defaults.csv", &size);
    struct csv_table table;
    if (!text) return fail(err, ERR_DAMAGED, NULL, "The table of alterations is missing.");
    int rc = csv_read(&table, text, size, NULL, arena, err);
    if (rc) return rc;
    for (size_t i = 1; i < table.n; i++) {
        const struct csv_row *row = &table.rows[i];
        if (row->n >= 10 && strcmp(row->cells[0], class) == 0 &&
            strcmp(row->cells[1], state) == 0 && strcmp(row->cells[2], direction) == 0)
            return row_read(out, row, arena, err);
    }
    return fail(err, ERR_MISSING, "Enter a figure of your own under `alteration`, with its source.",
                "No figure is known for %s, state %s, direction %s.", class, state, direction);
}

static bool own_fits(const struct own_alteration *a, const struct piece *p, long state,
                     enum axis axis) {
    static const long axis_direction[] = {DIRECTION_ALONG, DIRECTION_AROUND, DIRECTION_THROUGH,
                                          DIRECTION_ACROSS, DIRECTION_AROUND};
    bool dry = state == STATE_NEW_AND_DRY;
    bool states = a->to == state && (a->from == STATE_FRESH || (!dry && a->from == STATE_WET));
    bool substance = a->substance == FIELD_UNKNOWN || a->substance == p->substance;
    bool direction = a->direction == axis_direction[axis] || a->direction == FIELD_UNKNOWN;
    bool taxon = !a->taxon || !*a->taxon ||
                 (p->taxon && strncasecmp(a->taxon, p->taxon, strcspn(a->taxon, " ")) == 0);
    bool zone = !a->zone || !*a->zone || (p->zone && strcmp(a->zone, p->zone) == 0);
    return states && substance && direction && taxon && zone && isfinite(a->p05) &&
           isfinite(a->p95);
}

static bool own_find(struct alteration_prior *out, const struct find *find, const struct piece *p,
                     long state, enum axis axis) {
    for (size_t i = find->alteration_count; i-- > 0;) { /* the latest wins */
        const struct own_alteration *a = &find->alterations[i];
        if (!own_fits(a, p, state, axis)) continue;
        out->p05 = a->p05;
        out->p95 = a->p95;
        out->p50 = isfinite(a->p50) ? a->p50 : 0.5 * (a->p05 + a->p95);
        out->standing = STANDING_MEASURED;
        out->source = a->source;
        out->fact = a->id;
        out->own_figure = true;
        to_normal(out);
        return true;
    }
    return false;
}

static const char *table_axis(const char *class, enum axis axis) {
    bool bark = strstr(class, "bark") != NULL;
    switch (axis) {
    case AXIS_ALONG:
        return "along";
    case AXIS_AROUND:
        return bark ? "around" : "across";
    case AXIS_THROUGH:
        return bark ? "through" : "across";
    case AXIS_PLANE:
        return bark ? "around" : "along";
    default:
        return bark ? "around" : "across";
    }
}

/* A direction in the sheet that nobody noted: g = 0.8 around + 0.2 along, and an open part. */
static void mix_plane(struct alteration_prior *around, const struct alteration_prior *along) {
    double w = ALTERATION_PLANE_AROUND, v = 1 - w;
    around->mean = w * around->mean + v * along->mean;
    around->sd = sqrt(w * w * around->sd * around->sd + v * v * along->sd * along->sd +
                      ALTERATION_PLANE_OPEN * ALTERATION_PLANE_OPEN);
}

static int plane_prior(struct alteration_prior *out, const struct find *find, const struct piece *p,
                       long state, struct arena *arena, struct error *err) {
    struct alteration_prior along;
    int rc = remains_alteration_prior(&along, find, p, state, AXIS_ALONG, arena, err);
    if (!rc) rc = remains_alteration_prior(out, find, p, state, AXIS_AROUND, arena, err);
    if (rc) return rc;
    mix_plane(out, &along);
    out->p05 = -expm1(-(out->mean - Z95 * out->sd));
    out->p50 = -expm1(-out->mean);
    out->p95 = -expm1(-(out->mean + Z95 * out->sd));
    return 0;
}

/* One direction from fresh to new and dry, by the tables of materials. */
static int dry_direction(struct alteration_prior *out, const struct stuff_shelf *shelf,
                         const struct piece *p, long direction, struct arena *arena,
                         struct error *err) {
    const char *material = p->material && *p->material ? p->material : p->taxon ? p->taxon : "wood";
    if (material == p->taxon) /* a tree's name alone would be its wood */
        material = p->substance == SUBSTANCE_BARK   ? arena_printf(arena, "%s bark", p->taxon)
                   : p->substance == SUBSTANCE_BAST ? arena_printf(arena, "%s bast", p->taxon)
                                                    : p->taxon;
    if (!material) return fail_memory(err);
    struct stuff_change change = stuff_change(material, "fresh", "new and dry");
    struct stuff_alteration a;
    change.direction = direction;
    change.ring_angle = p->ring_angle;
    if (p->substance == SUBSTANCE_COIL || remains_is_wood(p)) change.class = STUFF_WOOD;
    int rc = stuff_alteration_prior(&a, shelf, &change, err);
    if (rc) return rc;
    *out =
        (struct alteration_prior){.p05 = a.loss.p05,
                                  .p50 = a.loss.median,
                                  .p95 = fmin(a.loss.p95, 0.9),
                                  .mean = -a.log_mean,
                                  .sd = a.log_sd,
                                  .standing = a.loss.standing,
                                  .source = arena_strdup(arena, a.loss.source),
                                  .fact = arena_printf(arena, "%s:%ld", a.loss.table, a.loss.line)};
    return out->source && out->fact ? 0 : fail_memory(err);
}

int remains_dry_prior(struct alteration_prior *out, const struct find *find,
                      const struct stuff_shelf *shelf, const struct piece *p, enum axis axis,
                      struct arena *arena, struct error *err) {
    static const long directions[] = {STUFF_ALONG, STUFF_AROUND, STUFF_THROUGH, STUFF_ACROSS,
                                      STUFF_AROUND};
    struct alteration_prior along;
    *out = (struct alteration_prior){0};
    if (own_find(out, find, p, STATE_NEW_AND_DRY, axis)) return 0;
    int rc = dry_direction(out, shelf, p, directions[axis], arena, err);
    if (rc || axis != AXIS_PLANE || p->substance == SUBSTANCE_HIDE) return rc;
    rc = dry_direction(&along, shelf, p, STUFF_ALONG, arena, err);
    if (!rc) mix_plane(out, &along);
    return rc;
}

int remains_alteration_prior(struct alteration_prior *out, const struct find *find,
                             const struct piece *p, long state, enum axis axis, struct arena *arena,
                             struct error *err) {
    const char *class = remains_alteration_class(p);
    *out = (struct alteration_prior){
        .standing = STANDING_STANDARD, .source = "by definition", .fact = "by definition"};
    if (!*class)
        return fail(err, ERR_MISSING, "Say what it is made of, or keep its size as measured.",
                    "Piece %s: nothing is known that could be undone for its material.", p->id);
    if (state == STATE_FRESH) return 0;
    if (state < 0 || state >= STATE_COUNT || !table_states[state])
        return fail(err, ERR_MISSING, "Enter the state it was measured in.",
                    "Piece %s: its state when measured is not known.", p->id);
    if (strstr(class, "bark") && axis == AXIS_PLANE)
        return plane_prior(out, find, p, state, arena, err);
    int rc = table_find(out, class, table_states[state], table_axis(class, axis), arena, err);
    if (rc == ERR_MISSING && state == STATE_PART_DRIED) /* the dried figure, which is wider */
        rc = table_find(out, class, "dried", table_axis(class, axis), arena, err);
    if (own_find(out, find, p, state, axis)) {
        if (err) error_clear(err);
        return 0;
    }
    return rc;
}

bool remains_alteration_may_pass(const struct piece *from, long from_state, const struct piece *to,
                                 long to_state, const char **reason) {
    const char *a = remains_alteration_class(from), *b = remains_alteration_class(to);
    const char *g = genus_of(from), *h = genus_of(to);
    *reason = NULL;
    if (strstr(b, "bark") && !strstr(a, "bark"))
        *reason = "wood shrinks in another way than bark: its figures are never used for bark";
    else if (strcmp(a, b) != 0 || !*a)
        *reason = "it is another substance, which changes in another way";
    else if (!*g || !*h || strncasecmp(g, h, strcspn(g, " ")) != 0)
        *reason = "it is another genus, or one of the two is not identified";
    else if (from_state != to_state)
        *reason = "it was measured in another state";
    return *reason == NULL;
}
