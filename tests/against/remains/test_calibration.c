/* Calibration: random true objects are made, cut up, altered by zone and measured; then the stage
 * must find the truth inside its 50 % ranges half of the time and inside its 90 % ranges nine times
 * in ten, within the binomial error of objects (sizes of one object hang together: clustered).
 *
 * Truth is drawn from what is believed beforehand: the ranges of data/alteration_defaults.csv
 * (shared by a find, by a zone, and each piece's own), hand work as the stage takes it. Readings
 * are rounded as a calliper is read. First argument: number of objects (40; the long suite runs
 * 200). */
#include "num/random.h"
#include "remains/sizes.h"

#include "check.h"

static struct num_random dice;
static double normal(void) {
    return num_random_normal(&dice);
}
static double uniform(double a, double b) {
    return a + (b - a) * num_random_uniform(&dice);
}
static double lognormal(double median, double log_sd) {
    return median * exp(log_sd * normal());
}
static double rounded(double v, double step) {
    return round(v / step) * step;
}

/* ---- a true object -------------------------------------------------------------------------- */

enum { WEST, EAST, ZONES };
static const char *const zone_words[] = {"W", "E"};
static const long zone_states[] = {STATE_TREATED, STATE_DRIED};

struct truth {
    double lath_width, lath_thickness, lath_length, rim_width, rim_thickness, pitch, sheet;
    double width_sd, thickness_sd, rim_sd, length_sd, gap_sd;
    double squash_wood, squash_bark;
    double wood_across[ZONES], wood_along[ZONES], bark_plane[ZONES], bark_through[ZONES]; /* g */
    double grain[ZONES][4]; /* of lath width, lath thickness, rim width, rim thickness */
};

struct made {
    struct arena *arena;
    double bias; /* of this object's one reader, in sd of a reading: unknown to the program */
    struct find find;
    struct truth t;
};

static void set_material(struct piece *p, const char *material) {
    bool bark = strstr(material, "bark") != NULL;
    p->material = material;
    p->substance = bark ? SUBSTANCE_BARK : SUBSTANCE_SPLIT_WOOD;
    p->taxon = bark ? "Tilia" : "Corylus avellana";
}

/* One alteration of a find, drawn from its prior: shared part, and one zone's own. */
static double draw_alteration(struct made *o, const char *material, enum axis axis, int zone) {
    struct piece p;
    struct alteration_prior a;
    struct error err = {0};
    field_unknown(&piece_kind, &p);
    p.id = "x";
    p.material = material;
    p.part = "x";
    set_material(&p, material);
    check_ok(remains_alteration_prior(&a, &o->find, &p, zone_states[zone], axis, o->arena, &err),
             &err);
    return a.mean + hypot(a.sd, a.zone_sd) * normal();
}

static void draw_truth(struct made *o) {
    struct truth *t = &o->t;
    t->lath_width = lognormal(24, 0.3);
    t->lath_thickness = lognormal(4, 0.3);
    t->lath_length = lognormal(300, 0.25);
    t->rim_width = lognormal(14, 0.25);
    t->rim_thickness = 0.5 * t->rim_width * exp(0.08 * normal());
    t->pitch = lognormal(18, 0.2);
    t->sheet = lognormal(3.5, 0.3);
    t->width_sd = lognormal(0.05, 0.55);
    t->thickness_sd = lognormal(0.05, 0.55);
    t->rim_sd = lognormal(0.05, 0.55);
    t->length_sd = lognormal(0.08, 0.5);
    t->gap_sd = lognormal(0.035, 0.8);
    t->squash_wood = lognormal(0.05, 1.5);
    t->squash_bark = lognormal(0.05, 1.5);
    for (int z = 0; z < ZONES; z++) {
        t->wood_across[z] = draw_alteration(o, "Corylus avellana", AXIS_ACROSS, z);
        t->wood_along[z] = draw_alteration(o, "Corylus avellana", AXIS_ALONG, z);
        t->bark_plane[z] = draw_alteration(o, "Tilia sp. bark", AXIS_PLANE, z);
        t->bark_through[z] = draw_alteration(o, "Tilia sp. bark", AXIS_THROUGH, z);
        for (int k = 0; k < 4; k++) /* which way the rings lay: a fifth of the middle figure */
            t->grain[z][k] = 0.2 * (z == WEST ? 0.046 : 0.196) * normal();
    }
}

/* ---- cutting up and measuring --------------------------------------------------------------- */

static struct piece *add_piece(struct made *o, const char *part, const char *material, int zone) {
    struct piece *p = &o->find.pieces[o->find.piece_count++];
    field_unknown(&piece_kind, p);
    p->id = arena_printf(o->arena, "P%02zu", o->find.piece_count);
    p->part = part;
    p->material = material;
    p->zone = zone_words[zone];
    set_material(p, material);
    return p;
}

/* A reading with a calliper: true size, error of the stated ±, rounding to half a tenth of it. */
static struct measure *add_measure(struct made *o, const struct piece *p, const char *word,
                                   long quantity, double size, double pm, int zone) {
    struct measure *m = &o->find.measures[o->find.measure_count++];
    field_unknown(&measure_kind, m);
    m->id = arena_printf(o->arena, "%s.%s", p->id, word);
    m->piece = p->id;
    m->quantity = quantity;
    m->value = rounded(size + pm / 1.6449 * (normal() + o->bias), pm / 5);
    m->tolerance = pm;
    m->state = zone_states[zone];
    if (!(m->value > 0)) m->value = pm / 5;
    return m;
}

static void set_ends(struct made *o, struct measure *m, bool first, bool second) {
    m->end_kinds.n = 2;
    m->end_kinds.v = ARENA_NEW(o->arena, long, 2);
    m->end_kinds.v[0] = first ? END_WHOLE : END_BROKEN;
    m->end_kinds.v[1] = second ? END_WHOLE : END_BROKEN;
}

static double own_across(int zone) {
    return (zone == WEST ? 0.003 : 0.01) * normal();
}

static void make_laths(struct made *o) {
    const struct truth *t = &o->t;
    int n = 5 + (int)num_random_below(&dice, 5);
    for (int i = 0; i < n; i++) {
        int z = num_random_below(&dice, 2) ? EAST : WEST;
        double length = lognormal(t->lath_length, t->length_sd);
        double at = num_random_uniform(&dice) < 0.4 || i == 0 ? 1 : uniform(0.2, 0.95);
        struct piece *p = add_piece(o, "cross lath", "Corylus avellana (split rod)", z);
        struct measure *m = add_measure(o, p, "length", QUANTITY_LENGTH,
                                        at * length * exp(-t->wood_along[z]), 0.5, z);
        set_ends(o, m, true, at == 1);
        add_measure(o, p, "width", QUANTITY_WIDTH,
                    lognormal(t->lath_width, t->width_sd) *
                        exp(-t->wood_across[z] - t->grain[z][0] - own_across(z)),
                    0.5, z);
        add_measure(o, p, "thickness", QUANTITY_THICKNESS,
                    lognormal(t->lath_thickness, t->thickness_sd) / (1 + t->squash_wood) *
                        exp(-t->wood_across[z] - t->grain[z][1] - own_across(z)),
                    0.2, z);
    }
}

static void make_row(struct made *o, const struct piece *p, double pitch, double pm, int holes,
                     int zone) {
    double sum = 0;
    for (int k = 1; k < holes; k++)
        sum += lognormal(pitch, o->t.gap_sd);
    struct measure *m = add_measure(o, p, "pitch", QUANTITY_PITCH, sum, pm, zone);
    m->value /= holes - 1;
    m = add_measure(o, p, "holes", QUANTITY_HOLES, holes, 0.001, zone);
    m->value = holes;
}

static void make_rim_and_sheet(struct made *o) {
    const struct truth *t = &o->t;
    for (int z = 0; z < ZONES; z++)
        for (int i = 0; i < 2; i++) {
            struct piece *p = add_piece(o, "rim rod (half-round)", "Corylus avellana", z);
            double shape = exp(-t->wood_across[z]), uneven = exp(0.07 * normal() / 2);
            add_measure(o, p, "width", QUANTITY_WIDTH,
                        lognormal(t->rim_width, t->rim_sd) * shape *
                            exp(-t->grain[z][2] - own_across(z)) / uneven,
                        0.5, z);
            add_measure(o, p, "thickness", QUANTITY_THICKNESS,
                        lognormal(t->rim_thickness, t->rim_sd) * shape / (1 + t->squash_wood) *
                            exp(-t->grain[z][3] - own_across(z)) * uneven,
                        0.2, z);
            make_row(o, p, t->pitch * exp(-t->wood_along[z]), 0.5,
                     3 + (int)num_random_below(&dice, 8), z);
            p = add_piece(o, "bark sheet", "Tilia sp. bark", z);
            add_measure(o, p, "thickness", QUANTITY_THICKNESS,
                        lognormal(t->sheet, 0.05) / (1 + t->squash_bark) *
                            exp(-t->bark_through[z] - 0.015 * normal()),
                        0.3, z);
            make_row(o, p,
                     t->pitch * exp(-t->bark_plane[z] - (z == WEST ? 0.005 : 0.01) * normal()), 1,
                     3 + (int)num_random_below(&dice, 7), z);
        }
}

/* ---- was the truth inside? ------------------------------------------------------------------ */

struct tally {
    size_t objects;
    double sum50, sum90, square50, square90;
    double n[16], in50[16], in90[16];
};
static const char *const names[] = {"lath width",    "lath thickness",  "lath length", "rim width",
                                    "rim thickness", "pitch",           "sheet",       "W across",
                                    "E across",      "W along",         "E along",     "bark W",
                                    "bark E",        "one lath's width"};

struct score {
    struct tally *tally;
    double n, in50, in90;
};
static void check_one(struct score *s, size_t which, const struct spread *v, double truth) {
    if (!isfinite(v->p50)) return;
    bool in50 = v->p25 <= truth && truth <= v->p75, in90 = v->p05 <= truth && truth <= v->p95;
    s->n++;
    s->in50 += in50;
    s->in90 += in90;
    s->tally->n[which]++;
    s->tally->in50[which] += in50;
    s->tally->in90[which] += in90;
}

static void judge(struct score *s, const struct sizes *z, const struct statement_set *said,
                  const struct truth *t) {
    const struct statement *length = statement_find(said, "lath.length.fresh");
    const double loss[] = {t->wood_across[0], t->wood_across[1], t->wood_along[0],
                           t->wood_along[1],  t->bark_plane[0],  t->bark_plane[1]};
    static const char *const ids[] = {
        "alter.corylus.W.across.treated", "alter.corylus.E.across.dried",
        "alter.corylus.W.along.treated",  "alter.corylus.E.along.dried",
        "alter.bark.W.plane.treated",     "alter.bark.E.plane.dried"};
    check_one(s, 0, &remains_part_size(z, "lath", "width")->fresh, t->lath_width);
    check_one(s, 1, &remains_part_size(z, "lath", "thickness")->fresh, t->lath_thickness);
    if (length) check_one(s, 2, &length->value, t->lath_length);
    check_one(s, 3, &remains_part_size(z, "rim", "width")->fresh, t->rim_width);
    check_one(s, 4, &remains_part_size(z, "rim", "thickness")->fresh, t->rim_thickness);
    check_one(s, 5, &remains_part_size(z, "rim", "pitch")->fresh, t->pitch);
    check_one(s, 6, &remains_part_size(z, "sheet", "thickness")->fresh, t->sheet);
    for (size_t i = 0; i < 6; i++) {
        const struct statement *q = statement_find(said, ids[i]);
        if (q) check_one(s, 7 + i, &q->value, -100 * expm1(-loss[i]));
    }
}

static void one_object(struct tally *tally, uint64_t seed, double bias_sd) {
    struct made o = {.arena = arena_new()};
    struct error err = {0};
    struct num_rows *rows;
    struct sizes sizes;
    num_random_begin(&dice, 20261125, num_hash("calibration"), seed);
    o.find.pieces = ARENA_NEW(o.arena, struct piece, 64);
    o.find.measures = ARENA_NEW(o.arena, struct measure, 256);
    draw_truth(&o);
    if (bias_sd > 0) o.bias = bias_sd * normal();
    make_laths(&o);
    make_rim_and_sheet(&o);
    check_ok(num_rows_new(&rows, 1024, seed, &err), &err);
    struct statement_set *said = statement_set_new(o.arena);
    check_ok(remains_sizes(&sizes, &o.find, rows, said, o.arena, &err), &err);
    struct score s = {.tally = tally};
    judge(&s, &sizes, said, &o.t);
    tally->objects++;
    tally->sum50 += s.in50 / s.n;
    tally->sum90 += s.in90 / s.n;
    tally->square50 += s.in50 / s.n * s.in50 / s.n;
    tally->square90 += s.in90 / s.n * s.in90 / s.n;
    num_rows_free(rows);
    arena_free(o.arena);
}

static size_t objects = 40;

/* A line for doc/calibration.md when the environment names a file (tests/calibration/plot.py). */
static void keep_line(const char *group, const char *kind, double n, double in50, double in90,
                      double se50, double se90) {
    const char *path = getenv("RELICT_CALIBRATION");
    FILE *f = path ? fopen(path, "a") : NULL;
    if (!f) return;
    fprintf(f, "%s\t%s\t%.0f\t%.4f\t%.4f\t%.4f\t%.4f\n", group, kind, n, in50, in90, se50, se90);
    fclose(f);
}

/* Shares inside over `objects` objects; clustered standard errors of all together. */
static void run(struct tally *t, const char *group, double bias_sd, double rate[2], double se[2]) {
    for (size_t i = 0; i < objects; i++)
        one_object(t, i + 1, bias_sd);
    double n = (double)objects;
    rate[0] = t->sum50 / n, rate[1] = t->sum90 / n;
    se[0] = sqrt((t->square50 / n - rate[0] * rate[0]) / (n - 1));
    se[1] = sqrt((t->square90 / n - rate[1] * rate[1]) / (n - 1));
    check_note("%s", group);
    check_note("%-18s %6s %8s %8s", "size", "n", "in 50 %", "in 90 %");
    for (size_t k = 0; k < 14; k++) {
        if (!(t->n[k] > 0)) continue;
        double a = t->in50[k] / t->n[k], b = t->in90[k] / t->n[k];
        check_note("%-18s %6.0f %8.3f %8.3f", names[k], t->n[k], a, b);
        keep_line(group, names[k], t->n[k], a, b, sqrt(a * (1 - a) / t->n[k]),
                  sqrt(b * (1 - b) / t->n[k]));
    }
    keep_line(group, "all", n, rate[0], rate[1], se[0], se[1]);
    check_note("all, %zu objects: 50 %%: %.3f +- %.3f; 90 %%: %.3f +- %.3f (clustered s.e.)",
               objects, rate[0], se[0], rate[1], se[1]);
}

static void rates(void **state) {
    (void)state;
    struct tally t = {0};
    double rate[2], se[2];
    run(&t, "sizes", 0, rate, se);
    /* Three clustered standard errors: a right stage fails one time in 200. */
    check_from(CHECK_ASKED,
               "stated 50 % and 90 % ranges of sizes over synthetic objects (three clustered "
               "standard errors)");
    check_near(rate[0], 0.5, 3 * se[0]);
    check_near(rate[1], 0.9, 3 * se[1]);
}

/* One reader of all pieces of an object reads too much or too little, by an unknown amount of the
 * size of his own scatter. The program does not know of it; his ± is then too small by sqrt 2 for
 * one reading and by more for a mean. What is asked is only that 90 % ranges do not fall under 0.85:
 * doc/calibration.md says so beside the table. */
static void a_biased_reader(void **state) {
    (void)state;
    struct tally t = {0};
    double rate[2], se[2];
    run(&t, "sizes, one biased reader", 1, rate, se);
    check_from(CHECK_ASKED,
               "90 % ranges of sizes when one reader is biased by his own scatter, unknown");
    check_between(rate[1] + 3 * se[1], 0.85, INFINITY);
}

int main(int argc, char **argv) {
    if (argc > 1) objects = (size_t)atol(argv[1]);
    const struct CMUnitTest tests[] = {cmocka_unit_test(rates), cmocka_unit_test(a_biased_reader)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
