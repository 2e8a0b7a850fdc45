#include "trial/scanned.h"

#include "gather/describe.h"
#include "trial/scan.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SCAN_CELLS = 10 /* along the longer side of a map */ };

static const struct field entry_fields[] = {
    F_ID(scan_entry, "Short name of the scan."),
    F_REFERS(scan_entry, trial_piece, "Of the trial's piece", "trial_piece", "What was scanned."),
    F_REFERS(scan_entry, piece, "Of the find's piece", "piece", "What was scanned."),
    F_REFERS(scan_entry, file, "File", "file", "The PLY, STL or OBJ file as it was brought in."),
    F_REAL(scan_entry, unit, "One unit is", "mm", 1e-6, 1e6, "1 for mm, 1000 for m; empty: 1."),
    F_REFERS(scan_entry, against, "Laid on", "scan", "The scan it is compared with."),
    {AT(scan_entry, pairs), .label = "Paired points", .unit = "mm", .type = FIELD_TUPLES,
     .width = 6, .help = "x y z on this scan, x y z on the other; three or more, to begin with."},
    {AT(scan_entry, places), .label = "Bend read at", .unit = "mm", .type = FIELD_TUPLES,
     .width = 3, .help = "x y z on this scan."},
    F_REAL(scan_entry, patch, "Patch", "mm", 0, 1e5,
           "Radius of the patch a bend is read from; empty: 25."),
    F_REAL(scan_entry, tolerance, "Agree within", "mm", 0, 1000, "Empty: 1."),
    F_REAL(scan_entry, correlation, "Independent beyond", "mm", 0, 1e5,
           "Nearer differences are one reading; empty: 20."),
    F_DATE(scan_entry, date, "Scanned on", "Day; needed to count as a reading of a trial."),
    F_TEXT(scan_entry, who, "Scanned by", "Role."),
    F_TEXT(scan_entry, note, "Note", "What else is known of it."),
};
const struct kind scan_entry_kind = {"scan", "Scans", sizeof(struct scan_entry),
                                     FIELDS(entry_fields), "A surface measured in space."};

static const struct field cell_fields[] = {
    F_OUT(scan_cell, x, "Along", "mm", "Middle of the cell."),
    F_OUT(scan_cell, y, "Across", "mm", "Middle of the cell."),
    F_OUT(scan_cell, off, "Difference", "mm", "Plus: outside the other."),
    {AT(scan_cell, points), .label = "Points", .type = FIELD_INT, .help = "In the cell."},
    {AT(scan_cell, beyond), .label = "Beyond", .type = FIELD_INT,
     .help = "1: more than the tolerance and what the registration may be off."},
};
static const struct kind cell_kind = {"scan_cell", "A place of a map", sizeof(struct scan_cell),
                                      FIELDS(cell_fields), ""};

static const struct field bend_fields[] = {
    F_OUT(scan_bend, k1, "Greater bend", "1/mm", "Principal curvature."),
    F_OUT(scan_bend, k2, "Lesser bend", "1/mm", "Minus: it bends the other way (a saddle)."),
    F_OUT(scan_bend, sd, "Error", "1/mm", "Standard deviation of the greater."),
    F_OUT(scan_bend, radius, "Radius", "mm", "One over the greater."),
    F_OUT(scan_bend, residual, "Misfit", "mm", "Root mean square of the patch."),
    {AT(scan_bend, points), .label = "Points", .type = FIELD_INT, .help = "In the patch."},
};
static const struct kind bend_kind = {"scan_bend", "A bend", sizeof(struct scan_bend),
                                      FIELDS(bend_fields), ""};

static const struct field answer_fields[] = {
    F_TEXT(scan_answer, id, "Scan", "Its name."),
    F_TEXT(scan_answer, of, "Of", "What was scanned."),
    {AT(scan_answer, points), .label = "Points", .type = FIELD_INT, .help = "Read."},
    {AT(scan_answer, triangles), .label = "Triangles", .type = FIELD_INT, .help = "Read."},
    F_TEXT(scan_answer, against, "Laid on", "The other scan."),
    F_OUT(scan_answer, rms, "Misfit", "mm", "Along the normals, of the points kept."),
    F_OUT(scan_answer, pairs_rms, "Misfit of the pairs", "mm", "When they were given."),
    F_OUT(scan_answer, spread, "Registration", "mm", "By how much the fit may be off at the rim."),
    F_OUT(scan_answer, median, "Median difference", "mm", "Plus: outside."),
    F_OUT(scan_answer, p05, "5 %", "mm", "Of the signed differences."),
    F_OUT(scan_answer, p25, "25 %", "mm", "Of the signed differences."),
    F_OUT(scan_answer, p75, "75 %", "mm", "Of the signed differences."),
    F_OUT(scan_answer, p95, "95 %", "mm", "Of the signed differences."),
    F_OUT_SHARE(scan_answer, within, "Within tolerance", "And the registration's own spread."),
    F_OUT(scan_answer, independent, "Independent readings", "", "Area over correlation area."),
    {AT(scan_answer, determined), .label = "Determined", .type = FIELD_INT,
     .help = "1: no motion is free."},
    {AT(scan_answer, laid), .label = "Laid", .type = FIELD_INT, .help = "1: laid on the other."},
    {AT(scan_answer, cells), .label = "Map", .type = FIELD_RECORDS, .sub = &cell_kind,
     .help = "Differences by place."},
    {AT(scan_answer, bends), .label = "Bends", .type = FIELD_RECORDS, .sub = &bend_kind,
     .help = "At the places named."},
    F_TEXT(scan_answer, say, "Note", "In words."),
};
const struct kind scan_answer_kind = {"scan_answer", "What a scan says", sizeof(struct scan_answer),
                                      FIELDS(answer_fields), ""};

static double or_else(double v, double otherwise) {
    return isnan(v) || !(v > 0) ? otherwise : v;
}

static int add_words(struct scan_answer *a, const char *words, struct arena *arena,
                     struct error *err) {
    a->say = *a->say ? arena_printf(arena, "%s %s", a->say, words) : arena_strdup(arena, words);
    return a->say ? 0 : fail_memory(err);
}

/* ---- one scan by itself --------------------------------------------------------------------- */

static void measure(struct scan_answer *a, const struct scan *s, double low[3]) {
    double high[3] = {-INFINITY, -INFINITY, -INFINITY};
    for (int c = 0; c < 3; c++)
        low[c] = INFINITY;
    for (size_t i = 0; i < s->n; i++)
        for (int c = 0; c < 3; c++) {
            low[c] = fmin(low[c], s->xyz[3 * i + (size_t)c]);
            high[c] = fmax(high[c], s->xyz[3 * i + (size_t)c]);
        }
    for (int c = 0; c < 3; c++)
        a->size[c] = s->n ? high[c] - low[c] : 0;
}

/* Standard deviation of a bend read from n points evenly over a patch of radius R: the part of
 * x^2/2 that y^2 does not explain has the variance R^4/72 (moments of the disc), so
 * sd = residual sqrt(72/n)/R^2; what a quadric leaves out, (R k)^2/4 of k, is added as half a 90 %
 * range. */
static double bend_error(const struct scan_curvature *c, double patch) {
    double noise = c->residual * sqrt(72.0 / (double)c->points) / (patch * patch);
    double bias = patch * patch * c->k1 * c->k1 / 4 * fabs(c->k1);
    return hypot(noise, bias / 1.645);
}

static int read_bends(struct scan_answer *a, const struct scan_entry *e, const struct scan *s,
                      struct arena *arena, struct error *err) {
    struct scan_points tree;
    if (e->places.n == 0) return 0;
    struct scan_bend *b = ARENA_NEW(arena, struct scan_bend, e->places.n);
    int rc = b ? scan_points_build(&tree, s->xyz, s->n, arena, err) : fail_memory(err);
    double patch = or_else(e->patch, 25);
    for (size_t i = 0; i < e->places.n && !rc; i++) {
        struct scan_curvature c;
        struct error why = {0};
        const double *p = e->places.v + 3 * i;
        if (scan_curvature_at(&c, &tree, p, patch, &why)) {
            rc = why.code == ERR_MEMORY ? fail_memory(err) : add_words(a, why.message, arena, err);
            continue;
        }
        if (c.k1 < 0) { /* which side is the outer one is not in a scan: the greater bend is plus */
            c.k1 = -c.k1;
            c.k2 = -c.k2;
        }
        b[a->bends.n++] = (struct scan_bend){{p[0], p[1], p[2]},
                                             c.k1,
                                             c.k2,
                                             bend_error(&c, patch),
                                             fabs(c.k1) > 1e-9 ? 1 / c.k1 : NAN,
                                             c.residual,
                                             (long)c.points};
    }
    a->bends.v = b;
    return rc;
}

/* ---- laid on another ------------------------------------------------------------------------ */

/* Means of the differences over square cells, seen along the axis in which the scan is thinnest. */
static int map_cells(struct scan_answer *a, const struct scan *s, const struct scan_map *map,
                     const double low[3], double limit, struct arena *arena, struct error *err) {
    int thin = a->size[0] < a->size[1] ? 0 : 1;
    if (a->size[2] <= a->size[thin]) thin = 2;
    int u = thin == 0 ? 1 : 0, v = thin == 2 ? 1 : 2;
    double side = fmax(a->size[u], a->size[v]) / SCAN_CELLS;
    struct scan_cell *c = ARENA_NEW(arena, struct scan_cell, SCAN_CELLS * SCAN_CELLS);
    if (!c) return fail_memory(err);
    if (!(side > 0)) return 0;
    for (size_t i = 0; i < map->n; i++) {
        int x = (int)fmin((s->xyz[3 * i + (size_t)u] - low[u]) / side, SCAN_CELLS - 1);
        int y = (int)fmin((s->xyz[3 * i + (size_t)v] - low[v]) / side, SCAN_CELLS - 1);
        struct scan_cell *k = &c[y * SCAN_CELLS + x];
        k->x = low[u] + (x + 0.5) * side;
        k->y = low[v] + (y + 0.5) * side;
        k->off += map->signed_mm[i];
        k->points++;
    }
    size_t n = 0;
    for (size_t i = 0; i < SCAN_CELLS * SCAN_CELLS; i++) {
        if (!c[i].points) continue;
        c[i].off /= (double)c[i].points;
        c[i].beyond = fabs(c[i].off) > limit;
        c[n++] = c[i];
    }
    a->cells = (struct records){n, c};
    return 0;
}

static int ascending(const void *a, const void *b) {
    const double *p = a, *q = b;
    return *p < *q ? -1 : *p > *q;
}

static int quantiles(struct scan_answer *a, const struct scan_map *map, struct arena *arena,
                     struct error *err) {
    double *d = ARENA_NEW(arena, double, map->n + 1);
    if (!d) return fail_memory(err);
    memcpy(d, map->signed_mm, map->n * sizeof *d);
    qsort(d, map->n, sizeof *d, ascending);
    const double share[] = {0.05, 0.25, 0.75, 0.95};
    double *to[] = {&a->p05, &a->p25, &a->p75, &a->p95};
    for (int k = 0; k < 4 && map->n; k++)
        *to[k] = d[(size_t)(share[k] * (double)(map->n - 1))];
    return 0;
}

static int lay(struct scan_answer *a, const struct scan_entry *e, const struct scan *moving,
               const struct scan *fixed, const double low[3], struct arena *arena,
               struct error *err) {
    struct scan_surface surface;
    struct scan_fit fit;
    struct scan_map map;
    struct scan_motion first;
    struct scan_align_options options = {0};
    size_t n = e->pairs.n;
    double *from = ARENA_NEW(arena, double, 3 * n + 1), *to = ARENA_NEW(arena, double, 3 * n + 1);
    if (!from || !to) return fail_memory(err);
    for (size_t i = 0; i < 3 * n; i++) {
        from[i] = e->pairs.v[6 * (i / 3) + i % 3];
        to[i] = e->pairs.v[6 * (i / 3) + 3 + i % 3];
    }
    int rc = scan_surface_build(&surface, fixed, arena, err);
    if (!rc && n) {
        rc = scan_align_pairs(&first, &a->pairs_rms, from, to, n, err);
        options.first = &first;
    }
    if (!rc) rc = scan_align(&fit, moving, &surface, &options, arena, err);
    double tolerance = or_else(e->tolerance, 1);
    if (!rc)
        rc = scan_map_make(&map, moving, &fit, &surface, tolerance, or_else(e->correlation, 20),
                           arena, err);
    if (rc) return rc;
    a->laid = 1;
    a->rms = fit.rms;
    a->determined = fit.determined;
    a->spread = fit.determined ? fit.spread : NAN;
    a->median = map.median;
    a->within = fit.determined ? map.within : NAN;
    a->independent = map.independent;
    rc = quantiles(a, &map, arena, err);
    if (!rc)
        rc = map_cells(a, moving, &map, low, tolerance + (fit.determined ? fit.spread : 0), arena,
                       err);
    if (!rc && !fit.determined)
        rc = add_words(a,
                       n ? "The surface slides on itself: along it the scan lies only as well as "
                           "the paired points do."
                         : "The surface slides on itself: differences along it cannot be read. "
                           "Give paired points, or scan more of the edge.",
                       arena, err);
    if (!rc && !fit.settled)
        rc = add_words(a, "Laying it was given up before it came to rest.", arena, err);
    return rc;
}

/* ---- all of them ---------------------------------------------------------------------------- */

static const char *what_of(const struct scan_entry *e, struct arena *arena) {
    if (e->trial_piece) return arena_printf(arena, "trial piece %s", e->trial_piece);
    return e->piece ? arena_printf(arena, "piece %s", e->piece) : "nothing named";
}

static size_t named(const struct scan_entry *entry, size_t n, const char *id) {
    size_t i = 0;
    while (id && i < n && strcmp(entry[i].id, id) != 0)
        i++;
    return id ? i : n;
}

/* What failed is told in the answer; only want of memory stops. */
static int tell_failure(int rc, struct scan_answer *a, const struct error *why, struct arena *arena,
                        struct error *err) {
    if (rc == ERR_MEMORY) return fail_memory(err);
    const char *words = arena_printf(arena, "%s %s", why->message, why->remedy);
    return words ? add_words(a, words, arena, err) : fail_memory(err);
}

int trial_scans_read(struct records *answers, const struct scan_entry *entry, size_t n,
                     const struct scan_bytes *bytes, struct arena *arena, struct error *err) {
    struct scan_answer *list = ARENA_NEW(arena, struct scan_answer, n + 1);
    struct scan *scan = ARENA_NEW(arena, struct scan, n + 1);
    double(*low)[3] = arena_alloc(arena, n + 1, sizeof *low);
    *answers = (struct records){n, list};
    if (!list || !scan || !low) return fail_memory(err);
    int rc = 0;
    for (size_t i = 0; i < n && !rc; i++) {
        struct scan_answer *a = &list[i];
        struct error why = {0};
        field_unknown(&scan_answer_kind, a);
        a->id = entry[i].id;
        a->of = what_of(&entry[i], arena);
        a->against = entry[i].against;
        a->say = "";
        a->laid = a->determined = a->points = a->triangles = 0;
        a->cells = a->bends = (struct records){0};
        if (!a->of) return fail_memory(err);
        if (!bytes[i].bytes) {
            rc = add_words(a, bytes[i].why, arena, err);
            continue;
        }
        int bad =
            scan_read(&scan[i], bytes[i].bytes, bytes[i].n, or_else(entry[i].unit, 1), arena, &why);
        if (bad) scan[i] = (struct scan){0};
        if (!bad) {
            a->points = (long)scan[i].n;
            a->triangles = (long)scan[i].triangles;
            measure(a, &scan[i], low[i]);
            bad = read_bends(a, &entry[i], &scan[i], arena, &why);
        }
        if (bad) rc = tell_failure(bad, a, &why, arena, err);
    }
    for (size_t i = 0; i < n && !rc; i++) {
        size_t other = named(entry, n, entry[i].against);
        struct error why = {0};
        if (!entry[i].against || !list[i].points) continue;
        int bad = other == n || other == i || !list[other].triangles
                      ? fail(&why, ERR_MISSING, "Name a scan with triangles that could be read.",
                             "There is no surface \"%s\" to lay it on.", entry[i].against)
                      : lay(&list[i], &entry[i], &scan[i], &scan[other], low[i], arena, &why);
        if (bad) rc = tell_failure(bad, &list[i], &why, arena, err);
    }
    return rc;
}

int trial_scans_readings(struct trial_reading **out, size_t *n, const struct scan_entry *entry,
                         const struct records *answers, struct arena *arena, struct error *err) {
    const struct scan_answer *a = answers->v;
    *n = 0;
    *out = ARENA_NEW(arena, struct trial_reading, answers->n + 1);
    if (!*out) return fail_memory(err);
    for (size_t i = 0; i < answers->n; i++) {
        const struct scan_bend *b = a[i].bends.v;
        double k = 0, half = or_else(entry[i].patch, 25);
        for (size_t m = 0; m < a[i].bends.n; m++)
            if (fabs(b[m].k1) > fabs(k)) k = b[m].k1;
        if (!entry[i].trial_piece || !entry[i].date || k == 0) continue;
        if (fabs(k) * half > 1) half = 1 / fabs(k); /* no chord is longer than the circle is wide */
        struct trial_reading *r = &(*out)[(*n)++];
        field_unknown(&trial_reading_kind, r);
        r->id = arena_printf(arena, "scan %s", entry[i].id);
        r->piece = entry[i].trial_piece;
        r->date = entry[i].date;
        r->chord = 2 * half;
        r->rise = (1 - sqrt(fmax(0, 1 - k * k * half * half))) / fabs(k);
        r->who = entry[i].who;
        if (!r->id) return fail_memory(err);
    }
    return 0;
}
