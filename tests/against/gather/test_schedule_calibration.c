/* How often a plan keeps what it says of its days: plans of steps that wait for each other are
 * drawn, then each is lived through once, the days of every step drawn anew. Begun on its "last
 * safe day" at an assurance of 50 and of 90 %, a step's plan must meet the opening in so many plans
 * (in whole days: no less, and begun a day later, less); and a chance of meeting it from the first
 * and the last day of a season must be met as often as it says. Optional argument: number of plans
 * (40; the long suite 400). */
#include "gather/schedule.h"
#include "num/random.h"

#include "check.h"
#include "honest.h"

enum { STEPS = 9 };

static size_t objects = 40;
static struct num_random dice;

static double uniform(double a, double b) {
    return a + (b - a) * num_random_uniform(&dice);
}

struct plan {
    struct arena *arena;
    struct plan_step step[STEPS];
    size_t after[STEPS][2], n;
};

/* The first step is the one that is begun; every other waits for one or two before it. */
static void make_plan(struct plan *p, uint64_t number) {
    *p = (struct plan){.arena = arena_new()};
    num_random_begin(&dice, 20261126, num_hash("plan"), number);
    p->n = 3 + num_random_below(&dice, STEPS - 2);
    for (size_t i = 0; i < p->n; i++) {
        struct plan_step *s = &p->step[i];
        const char **list = (const char **)ARENA_NEW(p->arena, char *, 2);
        field_unknown(&plan_step_kind, s);
        s->id = arena_printf(p->arena, "s%zu", i);
        s->title = s->id;
        s->days_low = floor(uniform(1, 20));
        s->days_usual = s->days_low + floor(uniform(1, 20));
        s->days_high = s->days_usual + floor(uniform(1, 40));
        s->after.v = list;
        for (size_t k = 0; i && k < 1 + num_random_below(&dice, 2); k++) {
            p->after[i][s->after.n] = num_random_below(&dice, i);
            list[s->after.n++] = p->step[p->after[i][k]].id;
        }
    }
}

static struct schedule ask(const struct plan *p, double assurance) {
    struct error err = {0};
    struct schedule out;
    const struct schedule_options o = {.opening = "2029-09-01",
                                       .today = "2028-01-01",
                                       .assurance = assurance,
                                       .alarm_days = 56,
                                       .draws = 4000,
                                       .seed = 1};
    check_ok(gather_schedule_plan(&out, p->step, p->n, &o, p->arena, &err), &err);
    return out;
}

/* Whole days of a triangle, by turning its distribution round. */
static double days_of(const struct plan_step *s) {
    double a = s->days_low, c = s->days_usual, b = s->days_high, u = num_random_uniform(&dice);
    double days = u < (c - a) / (b - a) ? a + sqrt(u * (b - a) * (c - a))
                                        : b - sqrt((1 - u) * (b - a) * (b - c));
    return ceil(days - 1e-9);
}

/* Days from the beginning of the first step to the end of the last that waits for it. */
static double lived(const struct plan *p) {
    double end[STEPS], last = 0;
    for (size_t i = 0; i < p->n; i++) {
        double begin = 0;
        for (size_t k = 0; k < p->step[i].after.n; k++)
            begin = fmax(begin, end[p->after[i][k]]);
        end[i] = begin + days_of(&p->step[i]);
        last = fmax(last, end[i]);
    }
    return last;
}

static double days_to_opening(const char *from) {
    long day, opening;
    struct error err = {0};
    check_ok(gather_day_read(&opening, "2029-09-01", &err), &err);
    check_ok(gather_day_read(&day, from, &err), &err);
    return (double)(opening - day);
}

static void last_safe_days(void **state) {
    (void)state;
    struct honest h = {0};
    double late = 0;
    for (size_t i = 0; i < objects; i++) {
        struct plan p;
        double left[2];
        make_plan(&p, i + 1);
        for (int k = 0; k < 2; k++) {
            struct schedule s = ask(&p, k ? 0.9 : 0.5);
            const struct schedule_row *first = s.rows.v;
            assert_string_equal(first->id, "s0");
            left[k] = days_to_opening(first->last_safe);
        }
        num_random_begin(&dice, 20261127, num_hash("lived"), i + 1);
        double took = lived(&p);
        honest_range(&h, -INFINITY, -INFINITY, left[0], left[1], took);
        late += took <= left[1] - 1;
        honest_next(&h);
        arena_free(p.arena);
    }
    double n = h.n, half = h.sum50 / n, most = h.sum90 / n;
    honest_line(&h, "order of work", "begun on its last safe day it meets the opening");
    check_from(CHECK_ASKED, "last safe days over plans lived through once (three binomial standard "
                            "errors)");
    check_about("share that meet the opening, assurance 50 %%");
    check_near(half, 0.5, 3 * sqrt(0.25 / n));
    check_about("share that meet the opening, assurance 90 %%");
    check_near(most, 0.9, 3 * sqrt(0.09 / n));
    check_note("begun a day after the last safe day (90 %%): %.3f meet it", late / n);
}

static void chances_of_a_season(void **state) {
    (void)state;
    double off = 0, variance = 0, told = 0;
    for (size_t i = 0; i < objects; i++) {
        struct plan p;
        make_plan(&p, 100000 + i);
        p.step[0].window_from = "05-01";
        p.step[0].window_to = "06-30";
        struct schedule s = ask(&p, 0.9);
        num_random_begin(&dice, 20261127, num_hash("season"), i + 1);
        const struct season_row *row = s.seasons.v;
        for (size_t k = 0; k < s.seasons.n; k++) {
            const double chance[2] = {row[k].chance_first, row[k].chance_last};
            const char *const day[2] = {row[k].opens, row[k].closes};
            if (strncmp(row[k].opens, "2029", 4) != 0) continue; /* a year before is no question */
            for (int e = 0; e < 2; e++) {
                off += (lived(&p) <= days_to_opening(day[e])) - chance[e];
                variance += chance[e] * (1 - chance[e]);
                told++;
            }
        }
        arena_free(p.arena);
    }
    check_note("%.0f chances: met oftener than said by %.1f, standard error %.1f", told, off,
               sqrt(variance));
    check_from(CHECK_ASKED, "chances from the first and last day of a season over plans lived "
                            "through once");
    check_about("openings met less those foretold, in standard errors");
    check_near(off / sqrt(variance), 0, 3);
}

int main(int argc, char **argv) {
    if (argc > 1) objects = (size_t)atol(argv[1]);
    const struct CMUnitTest tests[] = {cmocka_unit_test(last_safe_days),
                                       cmocka_unit_test(chances_of_a_season)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
