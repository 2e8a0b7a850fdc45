#include "gather/need.h"

#include "gather/describe.h"
#include "gather/poles.h"
#include "stuff/material.h"

#include <math.h>
#include <string.h>

const char *const stitch_words[] = {"wrapped", "running", "double running", NULL};

static const struct field need_fields[] = {
    F_REFERS(need, part, "Part", "part", "The part it is for."),
    F_TEXT(need, what, "What", "Sheet, lath, rod, rim, strip, cord, peg, grip, paint."),
    F_TEXT(need, species, "Species", "Of the part."),
    F_OUT(need, number, "Number", "", "Needed."),
    F_OUT(need, length, "Length", "mm", "Fresh, with trim."),
    F_OUT(need, width, "Width", "mm", "Fresh, with trim."),
    F_OUT(need, thickness, "Thickness", "mm", "Fresh."),
    F_OUT(need, total, "In all", "", "In the unit beside it."),
    F_TEXT(need, unit, "Unit", "Of the total."),
    F_OUT(need, surplus, "Surplus", "", "Factor."),
    F_OUT(need, get, "To get", "", "With the surplus."),
    F_TEXT(need, rests_on, "Rests on", "What brought it to the fresh state."),
    {AT(need, outline), .label = "Outline", .unit = "mm", .type = FIELD_TUPLES, .width = 2,
     .help = "Of a sheet, fresh, grain along x."},
    F_CHOICE(need, standing, "Standing", standing_words, "Of the weakest figure."),
};
const struct kind need_kind = {"need", "What has to be got", sizeof(struct need),
                               FIELDS(need_fields), ""};

double gather_cord_length(enum stitch stitch, double n, double pitch, double perimeter,
                          double thickness, double waste) {
    double one = stitch == STITCH_WRAPPED   ? perimeter + pitch
                 : stitch == STITCH_RUNNING ? pitch + thickness
                                            : 2 * (pitch + thickness);
    return n * one * (1 + waste);
}

double gather_rim_perimeter(double width, double height, double sheet) {
    /* Two half ellipses with half-axes width/2 and height make one ellipse. Ramanujan, Quart. J.
     * Math. 45, 1914, 350: h = ((a - b)/(a + b))^2. */
    double a = width / 2, b = height, h = (a - b) * (a - b) / ((a + b) * (a + b));
    return M_PI * (a + b) * (1 + 3 * h / (10 + sqrt(4 - 3 * h))) + 2 * sheet;
}

double gather_coil_length(double inner_radius, double outer_radius, double pitch) {
    return M_PI * (outer_radius * outer_radius - inner_radius * inner_radius) / pitch;
}

double gather_cone_length(double edge_radius, double slant, double pitch) {
    return M_PI * edge_radius * slant / pitch;
}

double gather_paint(double area, double coats, double grams_per_m2) {
    return area * 1e-6 * coats * grams_per_m2;
}

struct need_options gather_need_options(void) {
    return (struct need_options){.shrink_around = NAN,
                                 .shrink_along = NAN,
                                 .shrink_through = NAN,
                                 .trim_around = 25,
                                 .trim_along = 50,
                                 .rod_trim = 20,
                                 .surplus_sheet = 2,
                                 .surplus_rod = 1.5,
                                 .surplus_bast = 1.5,
                                 .waste = 0.30,
                                 .paint_per_m2 = 70,
                                 .stitch = STITCH_WRAPPED};
}

/* ---- to the fresh state -----------------------------------------------------------------------
 */

struct freshener {
    double around, along, through; /* fractions of the fresh size lost */
    const char *rests_on;
    long standing;
};

static double from_tables(const struct part *p, const struct stuff_shelf *shelf, long direction,
                          long *standing) {
    struct stuff_ask ask = stuff_ask(p->taxon ? p->taxon : "", STUFF_SHRINKAGE);
    struct stuff_prior prior;
    struct error ignored = {0};
    ask.direction = direction;
    ask.state = STUFF_DRY;
    ask.class = p->substance == SUBSTANCE_BARK   ? STUFF_BARK
                : p->substance == SUBSTANCE_BAST ? STUFF_BAST
                : p->substance == SUBSTANCE_HIDE ? STUFF_HIDE
                                                 : STUFF_WOOD;
    if (stuff_material_prior(&prior, shelf, &ask, &ignored)) return NAN;
    if (*standing == FIELD_UNKNOWN || prior.standing > *standing) *standing = prior.standing;
    return prior.median;
}

static struct freshener freshen(const struct part *p, const struct need_options *o) {
    struct freshener f = {0, 0, 0, "its size is fresh already", FIELD_UNKNOWN};
    if (p->state == STATE_FRESH) return f;
    bool bark = p->substance == SUBSTANCE_BARK;
    if (bark && o->shrink_around >= 0 && o->shrink_along >= 0) {
        f = (struct freshener){o->shrink_around, o->shrink_along,
                               o->shrink_through >= 0 ? o->shrink_through : 0,
                               "shrinkage of the possible originals", STANDING_COMPUTED};
        return f;
    }
    double a = o->shelf ? from_tables(p, o->shelf, STUFF_AROUND, &f.standing) : NAN;
    double l = o->shelf ? from_tables(p, o->shelf, STUFF_ALONG, &f.standing) : NAN;
    double t = o->shelf ? from_tables(p, o->shelf, STUFF_THROUGH, &f.standing) : NAN;
    if (!(a >= 0) || !(l >= 0)) {
        f.rests_on = "no shrinkage is known: the size is taken as it stands";
        f.standing = STANDING_GUESS;
        return f;
    }
    f.around = a;
    f.along = l;
    f.through = t >= 0 ? t : a;
    f.rests_on = "shrinkage of the tables";
    return f;
}

static double grown(double size, double lost) {
    return size / (1 - lost);
}

/* ---- parts ------------------------------------------------------------------------------------
 */

struct lister {
    struct need_list *out;
    size_t room;
    const struct need_options *o;
    const struct makings *all;
    const char *making;
    struct arena *arena;
};

static struct need *add(struct lister *l, const struct part *p, const char *what) {
    if (l->out->n == l->room) return NULL;
    struct need *n = &l->out->need[l->out->n++];
    *n = (struct need){.part = p->id,
                       .what = what,
                       .species = p->taxon,
                       .number = 1,
                       .length = NAN,
                       .width = NAN,
                       .thickness = NAN,
                       .total = NAN,
                       .surplus = 1,
                       .get = NAN,
                       .standing = FIELD_UNKNOWN,
                       .rests_on = "",
                       .unit = ""};
    return n;
}

static int complain(struct lister *l, const struct part *p, const char *why) {
    l->out->say = arena_printf(l->arena, "%s%s: %s ", l->out->say, p->id, why);
    return l->out->say ? 0 : ERR_MEMORY;
}

static double area_of(const struct tuples *t) {
    double twice = 0;
    for (size_t i = 0; i < t->n; i++) {
        const double *a = t->v + 2 * i, *b = t->v + 2 * ((i + 1) % t->n);
        twice += a[0] * b[1] - a[1] * b[0];
    }
    return fabs(twice) / 2;
}

static double path_of(const struct tuples *t, bool closed) {
    double sum = 0;
    for (size_t i = 0; i + !closed < t->n; i++) {
        const double *a = t->v + 2 * i, *b = t->v + 2 * ((i + 1) % t->n);
        sum += hypot(b[0] - a[0], b[1] - a[1]);
    }
    return sum;
}

/* The outline turned so that the grain lies along x, grown to the fresh state, and the trim added
 * by stretching about its middle: what is drawn on the bark. */
static int need_sheet(struct lister *l, const struct part *p) {
    struct need *n = add(l, p, "sheet");
    if (!n) return ERR_MEMORY;
    struct freshener f = freshen(p, l->o);
    n->rests_on = f.rests_on;
    n->standing = f.standing;
    n->surplus = l->o->surplus_sheet;
    n->get = ceil(n->surplus);
    n->thickness = grown(p->thickness, f.through);
    double grain = isnan(p->grain) ? 0 : p->grain, c = cos(grain), s = sin(grain);
    double x0 = INFINITY, x1 = -INFINITY, y0 = INFINITY, y1 = -INFINITY;
    size_t points = p->points.n >= 3 ? p->points.n : 4;
    n->outline = (struct tuples){points, 2, ARENA_NEW(l->arena, double, 2 * points)};
    if (!n->outline.v) return ERR_MEMORY;
    double a = p->length / 2, b = p->width / 2;
    const double corner[8] = {-a, -b, a, -b, a, b, -a, b};
    if (p->points.n < 3 && (!(a > 0) || !(b > 0))) {
        l->out->n--;
        return complain(l, p, "a sheet without outline or size.");
    }
    for (size_t i = 0; i < points; i++) {
        const double *q = p->points.n >= 3 ? p->points.v + 2 * i : corner + 2 * i;
        double x = grown(c * q[0] + s * q[1], f.along), y = grown(c * q[1] - s * q[0], f.around);
        n->outline.v[2 * i] = x;
        n->outline.v[2 * i + 1] = y;
        x0 = fmin(x0, x);
        x1 = fmax(x1, x);
        y0 = fmin(y0, y);
        y1 = fmax(y1, y);
    }
    /* rounded up to whole mm, as a sheet is cut (1e-9: a whole number stays one) */
    n->length = ceil(x1 - x0 + 2 * l->o->trim_along - 1e-9);
    n->width = ceil(y1 - y0 + 2 * l->o->trim_around - 1e-9);
    for (size_t i = 0; i < points; i++) {
        double *q = n->outline.v + 2 * i;
        q[0] = (q[0] - (x0 + x1) / 2) * n->length / (x1 - x0);
        q[1] = (q[1] - (y0 + y1) / 2) * n->width / (y1 - y0);
    }
    l->out->sheet_area += n->length * n->width;
    return 0;
}

static int need_stick(struct lister *l, const struct part *p, const char *what, double length) {
    if (!(length > 0)) return complain(l, p, "its length is not known.");
    struct need *n = add(l, p, what);
    if (!n) return ERR_MEMORY;
    struct freshener f = freshen(p, l->o);
    n->rests_on = f.rests_on;
    n->standing = f.standing;
    n->number = p->kind == PART_PEG && p->count > 0 ? (double)p->count : 1;
    n->length = ceil(grown(length, f.along) + 2 * l->o->rod_trim - 1e-9);
    n->width = grown(p->width > 0 ? p->width : p->diameter, f.around);
    n->thickness = grown(p->thickness > 0 ? p->thickness : p->diameter, f.through);
    n->surplus = l->o->surplus_rod;
    n->get = ceil(n->number * n->surplus);
    return 0;
}

static const struct part *first_of(const struct lister *l, long kind) {
    return makings_part(l->all, l->making, kind, NULL);
}

static int need_cord(struct lister *l, const struct part *p) {
    double run = path_of(&p->points, p->points.n > 2), stitches = p->count > 0   ? (double)p->count
                                                                  : p->pitch > 0 ? run / p->pitch
                                                                                 : NAN;
    double pitch = p->pitch > 0 ? p->pitch : run / stitches;
    const struct part *rim = first_of(l, PART_RIM), *sheet = first_of(l, PART_SHEET);
    double bark = sheet && sheet->thickness > 0 ? sheet->thickness : 0;
    double perimeter = NAN, through = bark;
    enum stitch stitch = l->o->stitch >= 0 ? (enum stitch)l->o->stitch : STITCH_WRAPPED;
    if (rim) perimeter = gather_rim_perimeter(rim->width, rim->thickness, bark);
    if (rim) through += 2 * rim->thickness;
    double total = gather_cord_length(stitch, stitches, pitch, perimeter, through, l->o->waste);
    if (!(total > 0))
        return complain(l, p, "stitches, spacing or the section they go round are not known.");
    struct need *n = add(l, p, "cord");
    if (!n) return ERR_MEMORY;
    n->number = stitches;
    n->width = p->width;
    n->thickness = p->thickness;
    n->total = total;
    n->unit = "mm";
    n->surplus = l->o->surplus_bast;
    n->get = ceil(total * n->surplus);
    n->rests_on = stitch == STITCH_WRAPPED ? "stitches x (way round the rim + spacing), and waste"
                                           : "stitches x (spacing + thickness), and waste";
    n->standing = STANDING_COMMON_PRACTICE;
    return 0;
}

static int need_centre(struct lister *l, const struct part *p) {
    double outer = p->diameter / 2, inner = p->inner_diameter / 2;
    double pitch = p->pitch > 0   ? p->pitch
                   : p->count > 0 ? (outer - inner) / (double)p->count
                                  : NAN;
    /* the rod that is coiled, not the disc it makes */
    struct part rod = *p;
    rod.width = rod.diameter = p->thickness > 0 ? p->thickness : pitch;
    return need_stick(l, &rod, "rod", gather_coil_length(inner, outer, pitch));
}

static int need_paint(struct lister *l, const struct part *p) {
    double area =
        p->width > 0 ? p->width * path_of(&p->points, p->points.n > 2) : area_of(&p->points);
    double coats = p->coats > 0 ? p->coats : 2;
    if (!(area > 0)) return complain(l, p, "the painted area is not known.");
    struct need *n = add(l, p, "paint");
    if (!n) return ERR_MEMORY;
    n->total = gather_paint(area, coats, l->o->paint_per_m2);
    n->unit = "g";
    n->number = coats;
    n->surplus = 1.5; /* common practice, no source: what stays in pot and brush */
    n->get = ceil(n->total * n->surplus);
    n->rests_on = "area x coats x dry earth a coat";
    n->standing = STANDING_COMMON_PRACTICE;
    return 0;
}

static int need_part(struct lister *l, const struct part *p) {
    switch (p->kind) {
    case PART_SHEET:
        return need_sheet(l, p);
    case PART_LATH:
        return need_stick(l, p, "lath", p->length);
    case PART_RIM:
        return need_stick(l, p, "rim",
                          p->length > 0 ? p->length : path_of(&p->points, p->points.n > 2));
    case PART_PEG:
        return need_stick(l, p, "peg", p->length);
    case PART_GRIP:
        return need_stick(l, p, "grip", p->length);
    case PART_CENTRE:
        return need_centre(l, p);
    case PART_PAINT:
        return need_paint(l, p);
    case PART_TIE:
    case PART_SEAM:
        return need_cord(l, p);
    default:
        return 0;
    }
}

int gather_need_list(struct need_list *out, const struct makings *all, const char *making,
                     const struct need_options *options, struct arena *arena, struct error *err) {
    *out = (struct need_list){.say = ""};
    struct lister l = {out, 0, options, all, making, arena};
    for (const struct part *p = NULL; (p = makings_part(all, making, -1, p));)
        l.room++;
    if (l.room == 0)
        return fail(err, ERR_MISSING, "Work out the making first.", "Making \"%s\" has no parts.",
                    making ? making : "");
    out->need = ARENA_NEW(arena, struct need, l.room);
    if (!out->need) return fail_memory(err);
    for (const struct part *p = NULL; (p = makings_part(all, making, -1, p));)
        if (need_part(&l, p)) return fail_memory(err);
    return 0;
}

/* ---- in hand -------------------------------------------------------------------------------- */

/* An unknown size of the item does not serve a need that has one. */
static bool reaches(double has, double wanted) {
    return isnan(wanted) || has >= wanted;
}

static bool serves(const struct stock_item *item, const struct need *need) {
    if (item->what < 0 || item->what >= STOCK_OTHER || !need->what) return false;
    bool rod = item->what == STOCK_ROD && strcmp(need->what, "rim") == 0;
    if (!rod && strcmp(stock_what_words[item->what], need->what) != 0) return false;
    if (!gather_same_genus(item->species, need->species)) return false;
    bool sheet = item->what == STOCK_SHEET;
    return reaches(item->along, need->length) && (!sheet || reaches(item->around, need->width));
}

int gather_need_in_hand(struct need_in_hand *out, const struct need *need,
                        const struct stock_item *stock, size_t n_stock, long *used,
                        struct arena *arena, struct error *err) {
    *out = (struct need_in_hand){0, need->get, ""};
    if (!isnan(need->total)) return 0; /* cord and paint: by length and weight, not by pieces */
    for (size_t i = 0; i < n_stock && out->still > 0; i++) {
        const struct stock_item *item = &stock[i];
        long left = (item->number > 0 ? item->number : 0) - used[i];
        if (left <= 0 || !serves(item, need)) continue;
        if (item->use && *item->use) {
            out->say = arena_printf(arena, "%s%s%s would do, but is kept for: %s", out->say,
                                    *out->say ? "; " : "", item->id, item->use);
            if (!out->say) return fail_memory(err);
            continue;
        }
        long take = (long)fmin((double)left, ceil(out->still));
        used[i] += take;
        out->number += (double)take;
        out->still = fmax(0, out->still - (double)take);
        out->say =
            arena_printf(arena, "%s%s%ld of %s", out->say, *out->say ? "; " : "", take, item->id);
        if (!out->say) return fail_memory(err);
    }
    return 0;
}
