/* How often what the step "strength" states of the shape holds the truth, over made-up objects of
 * several ways of building. For each way the step states its ranges from runs of the shell on a
 * coarse net and a stand-in; then objects are drawn: material and sizes each from their own
 * starting range, the weight of bark and wood from the tables, and the shell itself works out each
 * on a net four times as fine, without the stand-in. Rates are met within three standard errors
 * clustered by way of building. Arguments: ways of building (5; the long suite takes 25), objects
 * of each (8; 16), possible originals (1024). */
#include "job/strength.h"

#include "num/random.h"
#include "stuff/material.h"

#include "../../unit/job/made_up_parts.h"
#include "honest.h"

static size_t buildings = 5, objects = 8, originals = 1024, worked = 1;
static struct num_random dice;

static double uniform(double a, double b) {
    return a + (b - a) * num_random_uniform(&dice);
}

/* ---- a way of building ---------------------------------------------------------------------- */

enum { EDGE = 96, LATHS_MOST = 7, STEPS = 4 };

struct building {
    struct arena *arena;
    struct part part[LATHS_MOST + 3];
    struct step step[STEPS];
    struct making making;
    struct makings makings;
    struct num_rows *rows;
    struct stage_run run;
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

/* Sizes as the earlier steps leave them: known within a few percent. */
static void known_size(struct building *b, const char *id, double size, double sd) {
    struct error err = {0};
    size_t col;
    const struct num_dist d = num_dist_lognormal(size, sd);
    check_ok(num_rows_root(b->rows, id, &d, &col, &err), &err);
}

static void build(struct building *b, uint64_t number) {
    struct error err = {0};
    struct stuff_shelf *shelf;
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
    b->work = (struct strength_work){.makings = &b->makings, .making = "m", .sheet = &b->part[0]};
    check_ok(strength_brief(&b->run, &err), &err);
    check_ok(stuff_shelf_new(&shelf, &err), &err);
    check_ok(strength_details(&b->work, &b->run, shelf, &err), &err);
    stuff_shelf_free(shelf);
}

static void pull_down(struct building *b) {
    json_decref(b->run.result);
    num_rows_free(b->rows);
    arena_free(b->arena);
}

/* ---- one object of it ----------------------------------------------------------------------- */

static const char *const roots[INPUTS] = {[IN_DENSITY] = "bark.density",
                                          [IN_WOOD_DENSITY] = "wood.density",
                                          [IN_THICKNESS] = "size.sheet.thickness",
                                          [IN_E_ALONG] = "bark.E.along",
                                          [IN_E_AROUND] = "bark.E.around",
                                          [IN_G] = "bark.G",
                                          [IN_STEM] = "stem.radius",
                                          [IN_SET] = "bark.set",
                                          [IN_LATH] = "size.lath.thickness",
                                          [IN_WOOD_E] = "lath.E",
                                          [IN_LENGTH] = "outline.length",
                                          [IN_WIDTH] = "outline.width"};

static double from_tables(const struct stuff_shelf *shelf, const char *material, long property) {
    struct stuff_prior p;
    struct error err = {0};
    struct stuff_ask ask = stuff_ask(material, (enum stuff_property)property);
    ask.state = STUFF_DRY;
    check_ok(stuff_material_prior(&p, shelf, &ask, &err), &err);
    return num_dist_sample(&p.dist, &dice);
}

/* Material and sizes of one object, each from its starting range. */
static void draw_object(double *x, const struct building *b) {
    for (int k = 0; k < INPUTS; k++) {
        size_t col = num_rows_find(b->rows, roots[k]);
        assert_int_not_equal(col, NUM_NO_COLUMN);
        x[k] = num_dist_sample(num_rows_prior(b->rows, col), &dice);
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
    stuff.density = from_tables(shelf, strength_bark(&b->work, arena), STUFF_DENSITY);
    stuff.wood_density = from_tables(shelf, "Corylus avellana", STUFF_DENSITY);
    stuff_shelf_free(shelf);
    check_ok(as_body_sheet(&sheet, &b->makings, "m", &stuff, NULL, arena, &err), &err);
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

static void judge(const struct honest *h, const char *kind) {
    double a = honest_rate(h->sum50, h->n), b = honest_rate(h->sum90, h->n);
    /* the rates said have an error of their own where few ways happen to agree */
    double n = h->n * (double)objects;
    double ea = fmax(honest_error(h->sum50, h->square50, h->n), sqrt(0.25 / n)),
           eb = fmax(honest_error(h->sum90, h->square90, h->n), sqrt(0.09 / n));
    check_about("%s: share of objects in 25 to 75 %%", kind);
    check_near(a, 0.5, 3 * ea);
    check_about("%s: share of objects in 5 to 95 %%", kind);
    check_near(b, 0.9, 3 * eb);
}

static void shape_of_the_made(void **state) {
    (void)state;
    struct honest h[STRENGTH_OUTPUTS] = {0};
    size_t unsolved = 0;
    for (size_t k = 0; k < buildings; k++) {
        struct building b;
        build(&b, k + 1);
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
        judge(&h[q], strength_outputs[q].head);
    assert_true(unsolved * 20 <= buildings * objects);
}

/* ---- day by day ----------------------------------------------------------------------------- */

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

/* The order of work over the rows, which hold the inputs as roots. */
static void follow(struct building *b) {
    struct error err = {0};
    struct stuff_shelf *shelf;
    struct strength_inputs in = {.standing = STANDING_GUESS};
    size_t n = num_rows_count(b->rows);
    static const double at[3] = {0.01, 0.5, 0.99};
    in.all = ARENA_NEW(b->arena, double, n *INPUTS);
    for (int k = 0; k < INPUTS; k++) {
        double q[3];
        in.col[k] = num_rows_find(b->rows, roots[k]);
        check_ok(num_rows_quantiles(b->rows, in.col[k], at, 3, q), &err);
        in.low[k] = q[0], in.middle[k] = q[1], in.high[k] = q[2];
        for (size_t i = 0; i < n; i++)
            in.all[i * INPUTS + (size_t)k] =
                fmin(fmax(num_rows_values(b->rows, in.col[k])[i], q[0]), q[2]);
    }
    check_ok(stuff_shelf_new(&shelf, &err), &err);
    check_ok(strength_form(&b->run, &b->work, &in, &err), &err);
    check_ok(strength_days(&b->run, &b->work, &in, shelf, &err), &err);
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
        build(&b, 500 + k);
        make_steps(&b);
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

int main(int argc, char **argv) {
    if (argc > 1) buildings = (size_t)atol(argv[1]);
    if (argc > 2) objects = (size_t)atol(argv[2]);
    if (argc > 3) originals = (size_t)atol(argv[3]);
    if (argc > 4) worked = (size_t)atol(argv[4]);
    const struct CMUnitTest tests[] = {cmocka_unit_test(shape_of_the_made),
                                       cmocka_unit_test(day_by_day)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
