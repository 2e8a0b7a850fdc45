/* How often what the step "strength" states of the shape holds the truth, over made-up objects of
 * several ways of building. For each way the step states its ranges from runs of the shell on a
 * coarse net and a stand-in; then objects are drawn: material and sizes each from their own
 * starting range, the weight of bark and wood from the tables, and the shell itself works out each
 * on a net four times as fine, without the stand-in. Rates are met within three standard errors
 * clustered by way of building. Arguments: ways of building (5; the long suite takes 25), objects
 * of each (8; 16), possible originals (1024), ways followed day by day (1; 12), objects of which
 * loads, stretches and moments are looked at (60; 400). */
#include "job/strength.h"

#include "num/random.h"
#include "stuff/material.h"

#include "../../unit/job/made_up_parts.h"
#include "honest.h"

#include <ctype.h>

static size_t buildings = 5, objects = 8, originals = 1024, worked = 1, others = 60;
static struct num_random dice;

static double uniform(double a, double b) {
    return a + (b - a) * num_random_uniform(&dice);
}

/* ---- a way of building ---------------------------------------------------------------------- */

enum { EDGE = 96, LATHS_MOST = 7, STEPS = 4 };

struct building {
    struct arena *arena;
    struct part part[LATHS_MOST + 4];
    struct step step[STEPS];
    struct making making;
    struct makings makings;
    struct num_rows *rows;
    struct stage_run run;
    struct strength_inputs in;
    struct strength_work work;
};

static const char *const barks[] = {"Tilia", "Salix", "Ulmus"};

/* A long oval between ellipse and rectangle, laths across it in pockets, a split rim tied on or
 * none. */
static void make_parts(struct building *b) {
    double length = uniform(420, 700), width = length * uniform(0.5, 0.75),
           power = 2 / uniform(2, 3.2), *edge = ARENA_NEW(b->arena, double, 2 * EDGE);
    size_t laths = 2 + num_random_below(&dice, LATHS_MOST - 1), n = 0;
    for (int i = 0; i < EDGE; i++) {
        double t = 2 * M_PI * i / EDGE, c = cos(t), s = sin(t);
        edge[2 * i] = length / 2 * copysign(pow(fabs(c), power), c);
        edge[2 * i + 1] = width / 2 * copysign(pow(fabs(s), power), s);
    }
    struct part *p = &b->part[n++];
    *p = blank(PART_SHEET, "sheet");
    p->taxon = barks[num_random_below(&dice, 3)];
    p->points = (struct tuples){EDGE, 2, edge};
    p->length = length, p->width = width, p->thickness = uniform(2.2, 4.5);
    p->grain = uniform(-20, 20) * M_PI / 180; /* no sheet is cut dead straight: it twists */
    for (size_t i = 0; i < laths; i++) {
        p = &b->part[n++];
        *p = blank(PART_LATH, arena_printf(b->arena, "lath.%zu", i + 1));
        double at = -0.5 + ((double)i + 0.5) / (double)laths;
        p->taxon = "Corylus avellana";
        p->x = 0.86 * length * at, p->y = 0;
        p->length = 0.9 * width * pow(1 - pow(fabs(2 * at * 0.86), 2 / power), power / 2);
        p->width = uniform(16, 26), p->thickness = uniform(2.5, 5);
        p->holding = HOLDING_POCKET;
        p->side = SIDE_WITHIN;
    }
    if (num_random_below(&dice, 2)) {
        p = &b->part[n++];
        *p = blank(PART_RIM, "rim");
        p->taxon = "Corylus avellana";
        p->points = (struct tuples){EDGE, 2, edge};
        p->width = uniform(10, 15), p->thickness = p->width / 2;
        p->length = M_PI * (length + width) / 2;
        p->side = SIDE_BOTH;
        p = &b->part[n++];
        *p = blank(PART_TIE, "tie");
        p->pitch = uniform(30, 80), p->width = 5, p->thickness = 0.8, p->hole = 3;
        p->edge_distance = 12;
    }
    b->makings = (struct makings){&b->making, 1, b->part, n, NULL, 0};
}

/* ---- its order of work ---------------------------------------------------------------------- */

static struct texts named(struct building *b, const char *first, const char *second) {
    const char **v = (const char **)ARENA_NEW(b->arena, char *, 2);
    v[0] = first, v[1] = second;
    return (struct texts){second ? 2 : 1, v};
}

static void make_steps(struct building *b) {
    const struct part *tie = makings_part(&b->makings, "m", PART_TIE, NULL);
    const char *last_lath = NULL;
    for (const struct part *p = NULL; (p = makings_part(&b->makings, "m", PART_LATH, p));)
        last_lath = p->id;
    const struct step made[STEPS] = {
        {.id = "flat", .what = "Flatten it under weights", .days = floor(uniform(1, 6))},
        {.id = "laths", .what = "Push the laths in", .hours = 6},
        {.id = "rim", .what = "Tie the rim on", .hours = 8},
        {.id = "dry", .what = "Let it dry", .days = floor(uniform(10, 40))}};
    size_t n = 0;
    for (size_t i = 0; i < STEPS; i++) {
        if (i == 2 && !tie) continue;
        struct step *s = &b->step[n];
        field_unknown(&step_kind, s);
        s->id = made[i].id, s->what = made[i].what, s->making = "m";
        s->number = (long)++n;
        s->days = made[i].days, s->hours = made[i].hours;
        s->parts = i == 1   ? named(b, last_lath, NULL)
                   : i == 2 ? named(b, "rim", "tie")
                            : named(b, "sheet", NULL);
        if (i == 0) s->moisture_min = 0.3;
        if (i == 3) s->moisture_max = 0.15;
    }
    b->makings.steps = b->step;
    b->makings.step_count = n;
}

/* Sizes as the earlier steps leave them: known within a few percent. */
static void known_size(struct building *b, const char *id, double size, double sd) {
    struct error err = {0};
    size_t col;
    const struct num_dist d = num_dist_lognormal(size, sd);
    check_ok(num_rows_root(b->rows, id, &d, &col, &err), &err);
}

/* Made up, not worked out yet. */
static void begin(struct building *b, uint64_t number) {
    struct error err = {0};
    memset(b, 0, sizeof *b);
    b->arena = arena_new();
    b->making = (struct making){.id = "m", .weight = 1};
    num_random_begin(&dice, 20261126, num_hash("building"), number);
    make_parts(b);
    check_ok(num_rows_new(&b->rows, originals, 300 + number, &err), &err);
    known_size(b, "size.sheet.thickness", b->part[0].thickness, 0.08);
    known_size(b, "size.lath.thickness", b->part[1].thickness, 0.06);
    known_size(b, "outline.length", b->part[0].length, 0.03);
    known_size(b, "outline.width", b->part[0].width, 0.03);
    b->run = (struct stage_run){.rows = b->rows,
                                .said = statement_set_new(b->arena),
                                .made.makings = &b->makings,
                                .result = json_object(),
                                .arena = b->arena};
}

static void work_out(struct building *b, struct stuff_shelf *shelf) {
    struct error err = {0};
    check_ok(strength_begin(&b->work, &b->in, &b->run, shelf, &err), &err);
}

static void build(struct building *b, uint64_t number, bool in_order) {
    struct error err = {0};
    struct stuff_shelf *shelf;
    begin(b, number);
    if (in_order) make_steps(b);
    check_ok(strength_brief(&b->run, &err), &err);
    check_ok(stuff_shelf_new(&shelf, &err), &err);
    work_out(b, shelf);
    stuff_shelf_free(shelf);
}

static void pull_down(struct building *b) {
    json_decref(b->run.result);
    num_rows_free(b->rows);
    arena_free(b->arena);
}

/* ---- one object of it ----------------------------------------------------------------------- */

/* Where each input starts from; sizes as cut, times what drying leaves. */
static const struct {
    const char *root, *left;
} roots[INPUTS] = {[IN_DENSITY] = {"bark.density"},
                   [IN_WOOD_DENSITY] = {"wood.density"},
                   [IN_THICKNESS] = {"size.sheet.thickness", "dry_factor.bark_%s.through"},
                   [IN_E_ALONG] = {"bark.E.along"},
                   [IN_E_AROUND] = {"bark.E.around"},
                   [IN_G] = {"bark.G"},
                   [IN_STEM] = {"stem.radius"},
                   [IN_SET] = {"bark.set"},
                   [IN_LATH] = {"size.lath.thickness", "dry_factor.corylus.across"},
                   [IN_WOOD_E] = {"lath.E"},
                   [IN_LENGTH] = {"outline.length", "dry_factor.bark_%s.along"},
                   [IN_WIDTH] = {"outline.width", "dry_factor.bark_%s.around"}};

static double from_table(const struct stuff_shelf *shelf, const char *material, long property,
                         long direction) {
    struct stuff_prior p;
    struct error err = {0};
    struct stuff_ask ask = stuff_ask(material, (enum stuff_property)property);
    ask.state = STUFF_DRY;
    ask.direction = direction;
    check_ok(stuff_material_prior(&p, shelf, &ask, &err), &err);
    return num_dist_sample(&p.dist, &dice);
}

static double from_root(const struct building *b, const char *root) {
    size_t col = num_rows_find(b->rows, root);
    assert_int_not_equal(col, NUM_NO_COLUMN);
    return num_dist_sample(num_rows_prior(b->rows, col), &dice);
}

/* Material and sizes of one object, each from its starting range. The grain lies within 20 degrees
 * of the plan's axes, where what is left along and across differs from along and around by less
 * than a hundredth. */
static void draw_object(double *x, const struct building *b) {
    char genus[20];
    snprintf(genus, sizeof genus, "%s", b->part[0].taxon);
    genus[0] = (char)tolower(genus[0]);
    for (int k = 0; k < INPUTS; k++) {
        x[k] = from_root(b, roots[k].root);
        if (!roots[k].left) continue;
        char name[80];
        snprintf(name, sizeof name, roots[k].left, genus);
        x[k] *= from_root(b, name);
    }
}

/* What the shell says of it on a fine net; false where it finds no rest. */
static bool truth(struct body_sheet_out *out, const struct building *b, uint64_t number) {
    struct error err = {0};
    struct arena *arena = arena_new();
    struct stuff_shelf *shelf;
    struct body_sheet sheet;
    struct body_sheet_model *model = NULL;
    double x[INPUTS];
    num_random_begin(&dice, 20261127, num_hash("object"), number);
    draw_object(x, b);
    struct as_body_stuff stuff = strength_stuff(&b->work, x);
    check_ok(stuff_shelf_new(&shelf, &err), &err);
    stuff.density = from_table(shelf, strength_bark(&b->work, arena), STUFF_DENSITY, FIELD_UNKNOWN);
    stuff.wood_density = from_table(shelf, "Corylus avellana", STUFF_DENSITY, FIELD_UNKNOWN);
    stuff_shelf_free(shelf);
    check_ok(as_body_sheet(&sheet, b->work.makings, "m", &stuff, NULL, arena, &err), &err);
    int rc = body_sheet_new(&model, &sheet, STRENGTH_FINE, &err);
    if (!rc) rc = body_sheet_solve(model, out, &err);
    if (rc) check_note("object %llu: %s", (unsigned long long)number, err.message);
    body_sheet_free(model);
    arena_free(arena);
    return rc == 0;
}

static double told(const struct body_sheet_out *o, enum body_controls_output which) {
    switch (which) {
    case BODY_OUT_RISE:
        return o->rise;
    case BODY_OUT_EDGE_LIFT:
        return o->edge_lift;
    case BODY_OUT_ACROSS:
        return 1000 * o->curvature[1];
    case BODY_OUT_TWIST:
        return 180 / M_PI * o->twist;
    case BODY_OUT_STIFFNESS:
        return o->stiffness;
    default:
        return o->mass;
    }
}

/* ---- rates ---------------------------------------------------------------------------------- */

/* `wide`: its 90 % range is known to be told too widely (doc/calibration.md says why): it is only
 * held not to be too narrow. */
static void judge(const struct honest *h, const char *kind, bool wide) {
    double a = honest_rate(h->sum50, h->n), b = honest_rate(h->sum90, h->n);
    /* the rates said have an error of their own where few ways happen to agree */
    double n = h->n * (double)objects;
    double ea = fmax(honest_error(h->sum50, h->square50, h->n), sqrt(0.25 / n)),
           eb = fmax(honest_error(h->sum90, h->square90, h->n), sqrt(0.09 / n));
    check_about("%s: share of objects in 25 to 75 %%", kind);
    check_near(a, 0.5, 3 * ea);
    check_about("%s: share of objects in 5 to 95 %%", kind);
    if (wide) b = fmin(b, 0.9);
    check_near(b, 0.9, 3 * eb);
}

static void shape_of_the_made(void **state) {
    (void)state;
    struct honest h[STRENGTH_OUTPUTS] = {0};
    size_t unsolved = 0;
    for (size_t k = 0; k < buildings; k++) {
        struct building b;
        build(&b, k + 1, false);
        for (size_t i = 0; i < objects; i++) {
            struct body_sheet_out out;
            if (!truth(&out, &b, 1000 * (k + 1) + i)) {
                unsolved++;
                continue;
            }
            for (size_t q = 0; q < STRENGTH_OUTPUTS; q++) {
                const struct strength_output *o = &strength_outputs[q];
                const struct statement *s =
                    statement_find(b.run.said, arena_printf(b.arena, "shape.made.%s", o->id));
                assert_non_null(s);
                if (getenv("RELICT_EACH"))
                    check_note("%zu.%zu %s: %.4g in %.4g %.4g %.4g %.4g %.4g", k, i, o->id,
                               told(&out, o->which), s->value.p05, s->value.p25, s->value.p50,
                               s->value.p75, s->value.p95);
                honest_range(&h[q], s->value.p05, s->value.p25, s->value.p75, s->value.p95,
                             told(&out, o->which));
            }
        }
        for (size_t q = 0; q < STRENGTH_OUTPUTS; q++)
            honest_next(&h[q]);
        pull_down(&b);
    }
    if (!buildings) return;
    char group[60];
    snprintf(group, sizeof group, "shape, %zu of each way of building", objects);
    check_note("%zu of %zu objects without an answer of the shell", unsolved, buildings * objects);
    check_from(CHECK_ASKED, "stated ranges of the shape over made-up objects (three standard "
                            "errors clustered by way of building)");
    for (size_t q = 0; q < STRENGTH_OUTPUTS; q++)
        honest_line(&h[q], group, strength_outputs[q].head);
    for (size_t q = 0; q < STRENGTH_OUTPUTS; q++)
        judge(&h[q], strength_outputs[q].head, strength_outputs[q].which == BODY_OUT_TWIST);
    assert_true(unsolved * 20 <= buildings * objects);
}

/* ---- day by day ----------------------------------------------------------------------------- */

/* The order of work over the rows. */
static void follow(struct building *b) {
    struct error err = {0};
    struct stuff_shelf *shelf;
    check_ok(stuff_shelf_new(&shelf, &err), &err);
    check_ok(strength_form(&b->run, &b->work, &b->in, &err), &err);
    check_ok(strength_days(&b->run, &b->work, &b->in, shelf, &err), &err);
    stuff_shelf_free(shelf);
}

enum { SEEN = 5 };
static const struct {
    const char *id, *words;
    size_t at; /* in the runs */
    double scale;
} seen[SEEN] = {{"moisture", "moisture", 0, 100},
                {"rise", "rise, mm", 1, 1},
                {"edge_lift", "edge lift, mm", 2, 1},
                {"bend_across", "bend across, 1/m", 3, 1000},
                {"tie_pull", "pull on the ties, N/mm", 4, 1}};

enum { SHEETS = 10, FINER = 1200 };
static const char by_day[] = "shape by day, 10 of each way of building";

static void lay_days(struct honest *h, struct honest *seasons, struct building *b, size_t number) {
    const json_t *days = json_object_get(b->run.result, "days"), *day;
    const struct statement *change = statement_find(b->run.said, "strength.order.seasons");
    struct error err = {0};
    struct stuff_shelf *shelf;
    double y[STRENGTH_DOINGS][STRENGTH_LOOKS], x[INPUTS];
    size_t n, k;
    assert_non_null(change);
    check_ok(stuff_shelf_new(&shelf, &err), &err);
    num_random_begin(&dice, 20261127, num_hash("sheets"), number);
    for (size_t i = 0; i < SHEETS; i++) {
        draw_object(x, b);
        if (strength_days_once(y, &n, &b->run, &b->work, x, 1000 + num_random_below(&dice, 1000000),
                               FINER, shelf, &err)) {
            check_note("sheet %zu of %zu: %s", i, number, err.message);
            error_clear(&err);
            continue;
        }
        assert_int_equal(n, json_array_size(days));
        json_array_foreach(days, k, day) for (int q = 0; q < SEEN; q++) {
            const json_t *v = json_object_get(day, seen[q].id);
            double low = json_number_value(json_array_get(v, 0)),
                   high = json_number_value(json_array_get(v, 2));
            if (!(high - low > 1e-3)) continue; /* held flat, or nothing is tied yet */
            honest_range(&h[q], low, NAN, NAN, high, seen[q].scale * y[k][seen[q].at]);
        }
        honest_range(seasons, change->value.p05, NAN, NAN, change->value.p95,
                     y[n - 2][1] - y[n - 3][1]);
    }
    stuff_shelf_free(shelf);
    for (int q = 0; q < SEEN; q++)
        honest_next(&h[q]);
    honest_next(seasons);
}

static void day_by_day(void **state) {
    (void)state;
    struct honest h[SEEN] = {0}, seasons = {0};
    for (size_t k = 0; k < worked; k++) {
        struct building b;
        build(&b, 500 + k, true);
        follow(&b);
        lay_days(h, &seasons, &b, 500 + k);
        pull_down(&b);
    }
    for (int q = 0; q < SEEN; q++)
        honest_line(&h[q], by_day, seen[q].words);
    honest_line(&seasons, by_day, "change of rise over the seasons, mm");
    check_from(CHECK_ASKED, "stated ranges day by day of made-up objects (three standard errors "
                            "clustered by way of building; one way: of its sheets)");
    for (int q = 0; q < SEEN; q++) {
        double e = worked > 1 ? honest_error(h[q].sum90, h[q].square90, h[q].n) : 0;
        if (!(h[q].n > 0)) continue;
        check_about("%s: share of sheets in 5 to 95 %%", seen[q].words);
        check_near(honest_rate(h[q].sum90, h[q].n), 0.9,
                   3 * fmax(e, sqrt(0.09 / SHEETS / (double)worked)));
    }
}

/* ---- what else it says ---------------------------------------------------------------------- */

/* Load at failure of a row of awl holes, N/mm, worked out here: Lekhnitskii's factor, Whitney and
 * Nuismer's point stress, Peterson's width, as doc/shell.md has them; one truth of what nobody
 * knows (how much fibre an awl takes, the distance of the criterion, how a cord wedges) each. */
static double row_fails(const struct building *b, const struct stuff_shelf *shelf, double t,
                        long runs) {
    const struct part *tie = makings_part(b->work.makings, "m", PART_TIE, NULL);
    const char *bark = strength_bark(&b->work, b->arena);
    long load = runs == STUFF_ALONG ? STUFF_AROUND : STUFF_ALONG;
    double d = tie->hole, p = tie->pitch, edge = tie->edge_distance;
    double along = from_table(shelf, bark, STUFF_TENSION, STUFF_ALONG),
           around = from_table(shelf, bark, STUFF_TENSION, STUFF_AROUND),
           shear = from_table(shelf, bark, STUFF_SHEAR, STUFF_ALONG),
           bearing = from_table(shelf, bark, STUFF_BEARING, load),
           e1 = from_table(shelf, bark, STUFF_E, STUFF_ALONG),
           e2 = from_table(shelf, bark, STUFF_E, STUFF_AROUND),
           g = from_table(shelf, bark, STUFF_G, STUFF_AROUND), nu = 0.35;
    double distance = exp(log(2.0) + 0.65 * num_random_normal(&dice)),
           taken = d * uniform(0.2, 0.8), wedge = exp(log(0.16) + 0.35 * num_random_normal(&dice));
    nu = fmin(nu, 0.95 * sqrt(e1 / e2));
    bool pulled_along = load == STUFF_ALONG;
    double kt = pulled_along ? 1 + sqrt(fmax(0, 2 * (sqrt(e1 / e2) - nu) + e1 / g))
                             : 1 + sqrt(fmax(0, 2 * (sqrt(e2 / e1) - nu * e2 / e1) + e2 / g));
    double x = taken / 2 / (taken / 2 + distance),
           point = 2 / (2 + pow(x, 2) + 3 * pow(x, 4) - (kt - 3) * (5 * pow(x, 6) - 7 * pow(x, 8)));
    double r = taken / p, narrow = (3 - 3.14 * r + 3.67 * r * r - 1.53 * r * r * r) / (1 - r) / 3;
    double tear = 2 * t * (edge - d / 2) * shear * (pulled_along ? 1 : 3) / p,
           parts = (pulled_along ? along : around) * t * fmin(1 - r, point / fmax(1, narrow)),
           cuts = bearing * d * t / p,
           splits = pulled_along ? around * t * edge / 2 / wedge / p : INFINITY;
    return fmin(fmin(tear, parts), fmin(cuts, splits));
}

/* A bar near one end, so that the whole hangs from it. */
static void add_grip(struct building *b) {
    struct part *p = &b->part[b->makings.part_count++];
    *p = blank(PART_GRIP, "grip");
    p->length = uniform(90, 160), p->width = uniform(20, 35), p->thickness = uniform(15, 25);
    p->x = uniform(0.1, 0.3) * b->part[0].length, p->y = 0;
}

/* Moment about the grip's middle, N mm, of parts weighed one by one. */
static double hangs(const struct building *b, const double *x) {
    const struct part *grip = makings_part(b->work.makings, "m", PART_GRIP, NULL);
    double scale = x[IN_LENGTH] / b->work.sheet->length, mass = 0, lever = 0,
           area = 0; /* the made-up outline lies evenly about 0, laths and rim with it */
    const double *o = b->work.sheet->points.v;
    for (int i = 0; i < EDGE; i++) {
        int j = (i + 1) % EDGE;
        area += (o[2 * i] * o[2 * j + 1] - o[2 * j] * o[2 * i + 1]) / 2;
    }
    mass =
        fabs(area) * scale * x[IN_WIDTH] / b->work.sheet->width * x[IN_THICKNESS] * x[IN_DENSITY];
    lever = mass * -grip->x * scale;
    for (size_t i = 0; i < b->work.makings->part_count; i++) {
        const struct part *p = &b->work.makings->parts[i];
        double m = p->kind == PART_LATH  ? p->length * p->width * x[IN_LATH]
                   : p->kind == PART_RIM ? p->length * M_PI / 4 * p->width * p->thickness
                                         : 0;
        double at = p->kind == PART_LATH ? p->x : 0;
        lever += m * x[IN_WOOD_DENSITY] * (at - grip->x) * scale;
    }
    return fabs(lever) * 9.80665e-3;
}

enum { OTHERS = 4 };

static void lay_other(struct honest *h, const struct building *b, const char *id, double truth) {
    const struct statement *s = statement_find(b->run.said, id);
    if (!s) return;
    honest_range(h, s->value.p05, s->value.p25, s->value.p75, s->value.p95, truth);
    honest_next(h);
}

static void what_else_it_says(void **state) {
    (void)state;
    static const char *const kinds[OTHERS] = {"load at failure, row along",
                                              "load at failure, row around",
                                              "stretch when flattened", "moment at the grip"};
    struct honest h[OTHERS] = {0};
    struct error err = {0};
    struct stuff_shelf *shelf;
    check_ok(stuff_shelf_new(&shelf, &err), &err);
    for (size_t k = 0; k < others; k++) {
        struct building b;
        double x[INPUTS];
        begin(&b, 2000 + k);
        add_grip(&b);
        work_out(&b, shelf);
        check_ok(strength_hand(&b.run, &b.work, &b.in, shelf, &err), &err);
        check_ok(strength_rows(&b.run, &b.work, &b.in, shelf, &err), &err);
        num_random_begin(&dice, 20261128, num_hash("other"), k);
        draw_object(x, &b);
        if (makings_part(b.work.makings, "m", PART_TIE, NULL)) {
            lay_other(&h[0], &b, "strength.holes.tie.along",
                      row_fails(&b, shelf, x[IN_THICKNESS], STUFF_ALONG));
            lay_other(&h[1], &b, "strength.holes.tie.around",
                      row_fails(&b, shelf, x[IN_THICKNESS], STUFF_AROUND));
        }
        double cut = x[IN_THICKNESS] / b.work.left.through;
        lay_other(&h[2], &b, "strength.flattening",
                  100 * cut / 2 / fmax(x[IN_STEM] - cut / 2, cut));
        lay_other(&h[3], &b, "strength.balance", hangs(&b, x));
        pull_down(&b);
    }
    stuff_shelf_free(shelf);
    if (!others) return;
    check_from(CHECK_ASKED, "stated loads, stretches and moments over made-up objects (three "
                            "standard errors)");
    for (size_t q = 0; q < OTHERS; q++) {
        honest_line(&h[q], "strength", kinds[q]);
        assert_true(h[q].n * 4 >= (double)others);
        check_about("%s: share of objects in 5 to 95 %%", kinds[q]);
        check_near(honest_rate(h[q].sum90, h[q].n), 0.9, 3 * sqrt(0.09 / h[q].n));
        if (h[q].no_half) continue;
        check_about("%s: share of objects in 25 to 75 %%", kinds[q]);
        check_near(honest_rate(h[q].sum50, h[q].n), 0.5, 3 * sqrt(0.25 / h[q].n));
    }
}

int main(int argc, char **argv) {
    if (argc > 1) buildings = (size_t)atol(argv[1]);
    if (argc > 2) objects = (size_t)atol(argv[2]);
    if (argc > 3) originals = (size_t)atol(argv[3]);
    if (argc > 4) worked = (size_t)atol(argv[4]);
    if (argc > 5) others = (size_t)atol(argv[5]);
    const struct CMUnitTest tests[] = {cmocka_unit_test(shape_of_the_made),
                                       cmocka_unit_test(day_by_day),
                                       cmocka_unit_test(what_else_it_says)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
