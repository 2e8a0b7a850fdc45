/* How often the day-by-day bands of a drying strip hold the truth. A strip is drawn: the figures of
 * its material each from their own starting range, and dried in air that changes from day to day,
 * in time steps twelve times as fine as the bands' own; on one day it is weighed, measured and laid
 * beside the bands, which know the material, the sizes and the air. Rates are met within three
 * standard errors clustered by strip. Optional argument: number of strips (40; the long suite 400).
 */
#include "body/strip.h"
#include "num/random.h"

#include "check.h"
#include "honest.h"

enum { DAYS = 40, LOOKS = 6 };

static size_t objects = 40;
static struct num_random dice;

static double uniform(double a, double b) {
    return a + (b - a) * num_random_uniform(&dice);
}

static const char *const words[LOOKS] = {"moisture", "mass",      "width",
                                         "length",   "thickness", "curl"};
static double seen(const struct strip_day *d, int k) {
    const double v[LOOKS] = {d->moisture, d->mass, d->width, d->length, d->thickness, d->curvature};
    return v[k];
}
static struct strip_band band(const struct strip_outcome *o, int k) {
    const struct strip_band v[LOOKS] = {o->moisture, o->mass,      o->width,
                                        o->length,   o->thickness, o->curvature};
    return v[k];
}

/* Bark off a stem or a split lath, free or on a flat former for some days, in a room whose air
 * wanders. */
static struct strip_case strip_of(struct strip_air *air, size_t days) {
    static const char *const materials[] = {"Tilia bark", "Salix bark", "Ulmus bark",
                                            "Corylus avellana (split rod)"};
    size_t m = num_random_below(&dice, 4);
    double humidity = uniform(0.4, 0.7);
    for (size_t i = 0; i < days; i++)
        air[i] = (struct strip_air){.temperature = uniform(15, 22),
                                    .humidity = fmin(fmax(humidity + uniform(-0.1, 0.1), 0.3), 0.9),
                                    .inner_open = 1,
                                    .outer_open = 1};
    double thickness = uniform(2, 5);
    return (struct strip_case){
        .material = materials[m],
        .class = FIELD_UNKNOWN,
        .thickness = thickness,
        .outer_share = NAN,
        .width = uniform(30, 80),
        .length = uniform(150, 300),
        .stem = m == 3 ? NAN : uniform(140, 360),
        .moisture = NAN,
        .diffusion = NAN,
        .shrinkage = NAN,
        .ring_radius = INFINITY,
        .air = air,
        .days = days,
        .held_days = m == 3 || num_random_below(&dice, 2) ? 0 : ceil(uniform(0, (double)days)),
        .former = INFINITY};
}

/* The true strip after the last day. */
static struct strip_day dried(const struct strip *s, const struct strip_case *c,
                              struct arena *arena) {
    struct error err = {0};
    struct strip_state *state;
    enum { STEPS = 288 };
    check_ok(strip_new(&state, s, arena, &err), &err);
    if (c->held_days > 0) strip_hold(state, 0);
    strip_wait(state, 1);
    for (size_t day = 0; day < c->days; day++) {
        if (c->held_days > 0 && (double)day >= c->held_days) strip_release(state);
        for (int k = 0; k < STEPS; k++)
            strip_step(state, 86400.0 / STEPS, &c->air[day]);
    }
    if (c->held_days > 0 && (double)c->days >= c->held_days) strip_release(state);
    return strip_look(state, (double)c->days);
}

static void strips(void **state) {
    (void)state;
    struct honest h[LOOKS] = {0}, all = {0};
    struct error err = {0};
    struct stuff_shelf *shelf;
    check_ok(stuff_shelf_new(&shelf, &err), &err);
    for (size_t i = 0; i < objects; i++) {
        struct arena *arena = arena_new();
        struct strip_air air[DAYS];
        struct strip_outcome out[DAYS + 1];
        struct strip s;
        long standing = 0;
        num_random_begin(&dice, 20261126, num_hash("strip"), i + 1);
        size_t days = 1 + num_random_below(&dice, DAYS);
        const struct strip_case c = strip_of(air, days);
        check_ok(strip_days(out, &standing, shelf, &c, arena, &err), &err);
        /* far from the draws of the bands, which are the first 64 */
        check_ok(
            strip_draw(&s, &standing, shelf, &c, 1000 + num_random_below(&dice, 1000000), &err),
            &err);
        struct strip_day truth = dried(&s, &c, arena);
        for (int k = 0; k < LOOKS; k++) {
            const struct strip_band b = band(&out[days], k);
            if (!(b.p95 - b.p05 > 1e-9 * fabs(b.p50))) continue; /* not wide: straight wood */
            honest_range(&h[k], b.p05, NAN, NAN, b.p95, seen(&truth, k));
            honest_next(&h[k]);
            honest_range(&all, b.p05, NAN, NAN, b.p95, seen(&truth, k));
        }
        honest_next(&all);
        arena_free(arena);
    }
    stuff_shelf_free(shelf);
    check_from(CHECK_ASKED, "bands of a drying strip over made-up strips (three standard errors "
                            "clustered by strip)");
    for (int k = 0; k < LOOKS; k++)
        honest_line(&h[k], "drying strip", words[k]);
    honest_line(&all, "drying strip", "all six");
    check_about("share of what was measured inside 5 to 95 %%");
    check_near(honest_rate(all.sum90, all.n), 0.9,
               3 * fmax(honest_error(all.sum90, all.square90, all.n), sqrt(0.09 / all.n)));
}

int main(int argc, char **argv) {
    if (argc > 1) objects = (size_t)atol(argv[1]);
    const struct CMUnitTest tests[] = {cmocka_unit_test(strips)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
