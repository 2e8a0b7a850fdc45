/* The recovery experiment of reference/inference.md section 3 with the program itself: known
 * outlines, a share of the edge left in two or three arcs, waviness 2 mm correlated over 60 mm and
 * 0.7 mm pointing error; then error, band width and coverage over the missing part. Printed beside
 * the table there. Arguments: outlines a share (200), rows (4096), first seed (1), one share alone
 * (0.3), "none" for egg and D alone or "biased": named families alone, all points pointed at by one
 * reader who keeps outside of the edge by as much as his own scatter, of which the program knows
 * nothing.
 *
 * The reference table: reference/checks/outline_experiment.csv, correlated model, 60 to 65 outlines
 * a row, 400 particles, written for another program; its truths were ellipse, superellipse, pointed
 * oval, rounded rectangle and an egg.
 */
#include "num/random.h"
#include "shape/outline.h"

#include "check.h"

#include <time.h>

enum { SHARES = 3, FINE = 2880, MOST_POINTS = 400 };
static const double shares[SHARES] = {0.15, 0.30, 0.60};
/* median error %, 90th percentile %, band width %, coverage, all round, coverage of L and W */
static const double table[SHARES][7] = {{5.2, 12, 15.9, 0.88, 0.86, 0.80, 0.88},
                                        {2.3, 7, 6.1, 0.83, 0.79, 0.89, 0.87},
                                        {0.4, 0.8, 1.2, 0.84, 0.80, 0.92, 0.90}};

enum truth { T_ELLIPSE, T_SUPER, T_POINTED, T_ROUNDED, T_STADIUM, T_TAPER, T_EGG, T_D, TRUTHS };
static const char *const truth_words[] = {"ellipse",           "superellipse", "pointed oval",
                                          "rounded rectangle", "stadium",      "taper",
                                          "egg (no family)",   "D (no family)"};

struct made {
    struct plane_point edge[FINE]; /* the true outline, plan, evenly in arc length */
    int kept[FINE];                /* part of a surviving arc */
    double perimeter, length, width;
    struct shape_evidence arc[3];
    size_t arcs;
    double xy[3][2 * MOST_POINTS];
    enum shape_family family; /* SHAPE_FAMILIES: none */
};

/* Egg: an ellipse whose width leans to one end; D: half a rounded rectangle with one round side. */
static void own_ring(struct plane_point *p, size_t n, enum truth t, double a, double b, double k) {
    for (size_t i = 0; i < n; i++) {
        double f = 2 * M_PI * i / n, c = cos(f), s = sin(f);
        if (t == T_EGG)
            p[i] = (struct plane_point){a * c, b * s * sqrt((1 + k * c) / (1 + 0.5 * k * k))};
        else { /* radius of the D about its centre: ellipse on one side, superellipse flat on the
                  other, joined smoothly in direction */
            double round = pow(c * c / (a * a) + s * s / (b * b), -0.5);
            double square = pow(pow(fabs(c / a), 6) + pow(fabs(s / (0.6 * b)), 6), -1.0 / 6);
            double w = 0.5 - 0.5 * tanh(6 * s); /* 1 below */
            double r = w * square + (1 - w) * round;
            p[i] = (struct plane_point){r * c, r * s};
        }
    }
}

static void spread_evenly(struct plane_point *out, double *perimeter, const struct plane_point *in,
                          size_t n, size_t m) {
    double *at = calloc(n + 1, sizeof *at);
    for (size_t i = 0; i < n; i++)
        at[i + 1] = at[i] + hypot(in[(i + 1) % n].x - in[i].x, in[(i + 1) % n].y - in[i].y);
    *perimeter = at[n];
    for (size_t i = 0, k = 0; i < m; i++) {
        double s = at[n] * i / m;
        while (k + 1 < n && at[k + 1] <= s)
            k++;
        double t = (s - at[k]) / (at[k + 1] - at[k]);
        out[i] = (struct plane_point){in[k].x + t * (in[(k + 1) % n].x - in[k].x),
                                      in[k].y + t * (in[(k + 1) % n].y - in[k].y)};
    }
    free(at);
}

static void truth_make(struct made *m, enum truth t, struct num_random *r) {
    struct plane_point *own = calloc(FINE, sizeof *own);
    double a = 220 + 110 * num_random_uniform(r), b = a * (0.55 + 0.3 * num_random_uniform(r));
    double u = num_random_uniform(r), w = num_random_uniform(r), q = num_random_uniform(r);
    struct shape_form f = {.family = (enum shape_family)t,
                           .a = a,
                           .b = b,
                           .exponent = 2.4 + 1.1 * u,
                           .corner1 = b * (0.2 + 0.6 * u),
                           .taper = 0.6 + 0.35 * w};
    f.corner2 = f.taper * b * (0.2 + 0.6 * q);
    if (t == T_TAPER) f.corner1 = b * (0.2 + 0.6 * u);
    m->family = t <= T_TAPER ? (enum shape_family)t : SHAPE_FAMILIES;
    if (t <= T_TAPER) {
        shape_form_ready(&f);
        shape_form_ring(&f, own, FINE);
    } else
        own_ring(own, FINE, t, a, b, 0.25 + 0.25 * u);
    double lo[2] = {1e9, 1e9}, hi[2] = {-1e9, -1e9};
    for (int i = 0; i < FINE; i++) {
        lo[0] = fmin(lo[0], own[i].x), hi[0] = fmax(hi[0], own[i].x);
        lo[1] = fmin(lo[1], own[i].y), hi[1] = fmax(hi[1], own[i].y);
    }
    m->length = hi[0] - lo[0], m->width = hi[1] - lo[1];
    double turn = 2 * M_PI * num_random_uniform(r), c = cos(turn), s = sin(turn);
    double x = 400 * (num_random_uniform(r) - 0.5), y = 400 * (num_random_uniform(r) - 0.5);
    for (int i = 0; i < FINE; i++)
        own[i] =
            (struct plane_point){x + c * own[i].x - s * own[i].y, y + s * own[i].x + c * own[i].y};
    spread_evenly(m->edge, &m->perimeter, own, FINE, FINE);
    free(own);
}

static const double POINTING = 0.7; /* mm, sd */
static double outward = 0;          /* mm: of a biased reader */

/* Two or three arcs at random places that do not overlap; a point every 10 mm (15 at 60 %). */
static void arcs_make(struct made *m, double share, struct num_random *r) {
    m->arcs = 2 + num_random_below(r, 2);
    memset(m->kept, 0, sizeof m->kept);
    double each = share / m->arcs, gap[4], sum = 0, at = num_random_uniform(r);
    for (size_t k = 0; k < m->arcs; k++)
        sum += gap[k] = -log(num_random_uniform(r));
    double spacing = share > 0.5 ? 15 : 10;
    for (size_t k = 0; k < m->arcs; k++) {
        size_t n = (size_t)floor(each * m->perimeter / spacing) + 1;
        double wave = 2 * num_random_normal(r);
        struct shape_evidence e = {.id = k == 0   ? "arc 1"
                                         : k == 1 ? "arc 2"
                                                  : "arc 3",
                                   .what = SHAPE_EDGE,
                                   .value = NAN,
                                   .chord = NAN,
                                   .u = POINTING,
                                   .offset = NAN,
                                   .angle = NAN,
                                   .pieces = NAN,
                                   .at_random = getenv("RELICT_RECOVERY_NOPLACE")
                                                    ? 0
                                                    : 1, /* arcs_make puts them anywhere alike */
                                   .grain = NAN};
        e.points = (struct tuples){n, 2, m->xy[k]};
        for (size_t i = 0; i < n; i++) {
            double place = at * FINE + i * spacing / m->perimeter * FINE;
            size_t j = (size_t)place % FINE, next = (j + 1) % FINE;
            double tx = m->edge[next].x - m->edge[j].x, ty = m->edge[next].y - m->edge[j].y;
            double l = hypot(tx, ty);
            double out = wave + outward;
            m->xy[k][2 * i] = m->edge[j].x + out * ty / l + POINTING * num_random_normal(r);
            m->xy[k][2 * i + 1] = m->edge[j].y - out * tx / l + POINTING * num_random_normal(r);
            double rho = exp(-spacing / 60);
            wave = rho * wave + 2 * sqrt(1 - rho * rho) * num_random_normal(r);
        }
        for (size_t i = 0; i < (size_t)(each * FINE); i++)
            m->kept[((size_t)(at * FINE) + i) % FINE] = 1;
        m->arc[k] = e;
        at += each + (1 - share) * gap[k] / sum;
    }
}

struct result {
    double error, band, coverage, all, length, width, length_in, width_in, p_true, seconds;
    double under, over;             /* shares of the missing part where the truth is outside */
    double length_half, width_half; /* inside 25 to 75 % */
    int first, sure, sure_right;
};

/* Truth radius along a direction from the band's centre (outermost crossing), and whether that
 * place survives. */
static double truth_radius(const struct made *m, struct plane_point c, double angle, int *kept) {
    double best = 0, ux = cos(angle), uy = sin(angle);
    for (int i = 0; i < FINE; i++) {
        struct plane_point p = m->edge[i], q = m->edge[(i + 1) % FINE];
        double ha = ux * (p.y - c.y) - uy * (p.x - c.x), hb = ux * (q.y - c.y) - uy * (q.x - c.x);
        if ((ha > 0) == (hb > 0)) continue;
        double t = ha / (ha - hb);
        double r = ux * (p.x + t * (q.x - p.x) - c.x) + uy * (p.y + t * (q.y - p.y) - c.y);
        if (r > best) best = r, *kept = m->kept[i];
    }
    return best;
}

static void judge(struct result *o, const struct made *m, const struct shape_outline *s) {
    double squares = 0, width = 0, under = 0, over = 0;
    int n = 0, in = 0, all = 1;
    for (int k = 0; k < SHAPE_BAND; k++) {
        int kept = 0;
        double r = truth_radius(m, s->centre, 2 * M_PI * k / SHAPE_BAND, &kept);
        const struct shape_band *b = &s->band[k];
        all &= r >= b->low_all && r <= b->high_all;
        if (kept) continue;
        n++;
        squares += pow(b->middle - r, 2), width += b->high - b->low;
        in += r >= b->low && r <= b->high;
        under += r<b->low, over += r> b->high;
    }
    o->under = under / n, o->over = over / n;
    o->error = sqrt(squares / n) / m->length * 100, o->band = width / n / m->length * 100;
    o->coverage = (double)in / n, o->all = all;
    o->length = fabs(s->length.p50 / m->length - 1) * 100;
    o->width = fabs(s->width.p50 / m->width - 1) * 100;
    o->length_in = m->length >= s->length.p05 && m->length <= s->length.p95;
    o->width_in = m->width >= s->width.p05 && m->width <= s->width.p95;
    o->length_half = m->length >= s->length.p25 && m->length <= s->length.p75;
    o->width_half = m->width >= s->width.p25 && m->width <= s->width.p75;
    o->first = s->family[0].family == m->family;
    o->sure = s->family[0].probability > 0.9;
    o->sure_right = o->sure && o->first;
}

/* For trying another prior: RELICT_RECOVERY_UNLIKE, _SQUARE, _ALIKE, _ROUGH, _FAMILIES (bits). */
static void options_from_outside(struct shape_outline_options *o) {
    const struct {
        const char *name;
        double *to;
    } of[] = {{"RELICT_RECOVERY_UNLIKE", &o->unlike},
              {"RELICT_RECOVERY_SQUARE", &o->unlike_square},
              {"RELICT_RECOVERY_ALIKE", &o->alike},
              {"RELICT_RECOVERY_ROUGH", &o->roughness}};
    for (size_t i = 0; i < sizeof of / sizeof *of; i++)
        if (getenv(of[i].name)) *of[i].to = atof(getenv(of[i].name));
    const char *families = getenv("RELICT_RECOVERY_FAMILIES");
    if (families) o->families = (unsigned)atoi(families);
}

static void run_one(struct result *o, enum truth t, double share, uint64_t seed, size_t rows_n) {
    static struct made m;
    struct num_random r;
    num_random_begin(&r, seed, num_hash("outline.recovery"), (uint64_t)(share * 100));
    truth_make(&m, t, &r);
    arcs_make(&m, share, &r);
    struct error err = {0};
    struct num_rows *rows;
    struct shape_outline_model *model;
    struct shape_outline s;
    struct arena *arena = arena_new();
    struct timespec a, b;
    clock_gettime(CLOCK_MONOTONIC, &a);
    check_ok(num_rows_new(&rows, rows_n, seed, &err), &err);
    struct shape_outline_options options = shape_outline_options_default();
    options_from_outside(&options);
    check_ok(shape_outline_model_new(&model, m.arc, m.arcs, &options, &err), &err);
    struct num_report report;
    check_ok(shape_outline_condition(model, rows, &report, &err), &err);
    check_ok(shape_outline_read(&s, model, rows, arena, &err), &err);
    clock_gettime(CLOCK_MONOTONIC, &b);
    o->seconds = (double)(b.tv_sec - a.tv_sec) + 1e-9 * (double)(b.tv_nsec - a.tv_nsec);
    judge(o, &m, &s);
    if (getenv("RELICT_RECOVERY_EACH"))
        check_note("%-18s %2.0f%% err %5.2f band %5.2f cov %.2f (%.2f under, %.2f over) all %.0f L "
                   "%+.1f%% W %+.1f%% top %s %.2f %s %.2f %s %.2f "
                   "stages %d acc %.2f eff %.0f logZ %.2f",
                   truth_words[t], share * 100, o->error, o->band, o->coverage, o->under, o->over,
                   o->all, (s.length.p50 / m.length - 1) * 100, (s.width.p50 / m.width - 1) * 100,
                   shape_family_words[s.family[0].family], s.family[0].probability,
                   shape_family_words[s.family[1].family], s.family[1].probability,
                   shape_family_words[s.family[2].family], s.family[2].probability, s.stages,
                   s.accepted, s.effective, s.log_evidence);
    num_rows_free(rows);
    shape_outline_model_free(model);
    arena_free(arena);
}

static int ascending(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double percentile(const struct result *r, size_t n, size_t offset, double p) {
    double *v = calloc(n, sizeof *v);
    for (size_t i = 0; i < n; i++)
        v[i] = *(const double *)((const char *)&r[i] + offset);
    qsort(v, n, sizeof *v, ascending);
    double at = p * (n - 1), f = floor(at);
    double q = v[(size_t)f] + (at - f) * (v[(size_t)fmin(f + 1, n - 1)] - v[(size_t)f]);
    free(v);
    return q;
}

static double mean_of(const struct result *r, size_t n, size_t offset, double *error) {
    double sum = 0, squares = 0;
    for (size_t i = 0; i < n; i++)
        sum += *(const double *)((const char *)&r[i] + offset) / n;
    for (size_t i = 0; i < n; i++)
        squares += pow(*(const double *)((const char *)&r[i] + offset) - sum, 2);
    if (error) *error = n > 1 ? sqrt(squares / (n - 1) / n) : NAN; /* clustered by outline */
    return sum;
}

/* Lines for doc/calibration.md when the environment names a file (tests/calibration/plot.py). */
static void keep_lines(const char *group, double share, const struct result *r, size_t n) {
    const char *path = getenv("RELICT_CALIBRATION");
    FILE *f = path ? fopen(path, "a") : NULL;
    if (!f) return;
    static const struct {
        const char *kind;
        size_t half, in;
    } of[] = {{"length", offsetof(struct result, length_half), offsetof(struct result, length_in)},
              {"width", offsetof(struct result, width_half), offsetof(struct result, width_in)},
              {"edge, place by place", 0, offsetof(struct result, coverage)},
              {"edge, all round", 0, offsetof(struct result, all)}};
    for (int k = 0; k < 4; k++) {
        double se90, se50 = 0, in = mean_of(r, n, of[k].in, &se90);
        double half = of[k].half ? mean_of(r, n, of[k].half, &se50) : NAN;
        fprintf(f, "%s\t%s, %.0f %% of the edge left\t%zu\t%.4f\t%.4f\t%.4f\t%.4f\n", group,
                of[k].kind, 100 * share, n, half, in, se50, se90);
    }
    fclose(f);
}

#define P(M, Q) percentile(r, n, offsetof(struct result, M), Q)
#define MEAN(M) mean_of(r, n, offsetof(struct result, M), NULL)

static void print_row(const char *name, const struct result *r, size_t n) {
    double se, cover = mean_of(r, n, offsetof(struct result, coverage), &se);
    int first = 0, sure = 0, right = 0;
    for (size_t i = 0; i < n; i++)
        first += r[i].first, sure += r[i].sure, right += r[i].sure_right;
    check_note(
        "  %-20s n %3zu  error %4.1f (%4.1f)  band %5.1f  coverage %.2f ± %.2f  all round %.2f  "
        "L %.1f/%.2f  W %.1f/%.2f  first %.2f  sure %d of %d  %.1f s",
        name, n, P(error, 0.5), P(error, 0.9), P(band, 0.5), cover, se, MEAN(all), P(length, 0.5),
        MEAN(length_in), P(width, 0.5), MEAN(width_in), (double)first / n, right, sure,
        MEAN(seconds));
}

static size_t per_share = 200, rows_n = 0;
static uint64_t first_seed = 1;
static double only_share = 0; /* 0: all three */
static int named_too = 1;     /* 0: egg and D alone */
static int none_too = 1;      /* 0: named families alone */

static int miss(const char *words, double figure, double beside) {
    char text[200];
    snprintf(text, sizeof text, words, figure, beside);
    check_note("  MISSED: %s", text);
    return 1;
}

static void recovery(void **state) {
    (void)state;
    int missed = 0, far = 0;
    for (int k = 0; k < SHARES; k++) {
        if (only_share > 0 && fabs(shares[k] - only_share) > 0.001) continue;
        size_t n = 0, outside = 0;
        struct result *in = calloc(per_share, sizeof *in), *out = calloc(per_share, sizeof *out);
        for (size_t i = 0; i < per_share; i++) {
            if (named_too)
                run_one(&in[n++], (enum truth)(i % 6), shares[k], first_seed + i, rows_n);
            if (none_too && i % 4 < 2) /* egg and D in turn, half as many */
                run_one(&out[outside++], i % 4 ? T_D : T_EGG, shares[k], first_seed + i, rows_n);
        }
        check_note("%.0f %% of the edge", shares[k] * 100);
        check_note(
            "  %-20s         error %4.1f (%4.1f)  band %5.1f  coverage %.2f         all round "
            "%.2f  L     %.2f  W     %.2f",
            "reference table", table[k][0], table[k][1], table[k][2], table[k][3], table[k][4],
            table[k][5], table[k][6]);
        if (n) print_row("named families", in, n);
        struct result each[400];
        for (int t = 0; t < TRUTHS; t++) {
            size_t m = 0;
            for (size_t i = 0; i < (t < T_EGG ? n : outside); i++)
                if (t < T_EGG ? (int)(i % 6) == t : (int)(i % 2) == t - T_EGG)
                    each[m++] = t < T_EGG ? in[i] : out[i];
            if (m) print_row(truth_words[t], each, m);
        }
        fflush(stdout);
        keep_lines(outward > 0 ? "outline, named families, one biased reader"
                               : "outline, named families",
                   shares[k], in, n);
        if (outside) keep_lines("outline, egg and D", shares[k], out, outside);
        double se, cover = mean_of(in, n, offsetof(struct result, coverage), &se);
        double median = percentile(in, n, offsetof(struct result, error), 0.5);
        /* Coverage 0.85 to 0.95, met by the interval clustered by outline (two standard errors when
         * few outlines are run); error no worse than the table, with the same allowance. */
        double slack = per_share >= 200 ? 1 : 2;
        missed += n && (cover + slack * se < 0.85 || cover - slack * se > 0.95)
                      ? miss("named families: coverage %.3f ± %.3f; 0.85 to 0.95 asked", cover, se)
                      : 0;
        far += n && (cover + slack * se < 0.80 || cover - slack * se > 0.99);
        double most = per_share >= 200 ? 1.1 : 1.6;
        missed += n && median > most * table[k][0]
                      ? miss("named families: error %.2f %%, table %.2f %%", median, table[k][0])
                      : 0;
        far += n && median > 2 * most * table[k][0];
        double none = outside ? mean_of(out, outside, offsetof(struct result, coverage), &se) : 1;
        missed += none + slack * se < 0.75
                      ? miss("egg and D: coverage %.3f ± %.3f; 0.75 asked", none, se)
                      : 0;
        far += none + slack * se < 0.65;
        free(in);
        free(out);
    }
    check_note("%d of the figures asked are missed", missed);
    if (getenv("RELICT_RECOVERY_TOLD") ? far : missed)
        fail_msg("%d of the figures asked are missed, %d of them by far", missed, far);
}

int main(int argc, char **argv) {
    if (argc > 1) per_share = (size_t)atol(argv[1]);
    if (argc > 2) rows_n = (size_t)atol(argv[2]);
    if (argc > 3) first_seed = (uint64_t)atol(argv[3]);
    if (argc > 4) only_share = atof(argv[4]);
    if (argc > 5) named_too = strcmp(argv[5], "none") != 0;
    if (argc > 5 && strcmp(argv[5], "biased") == 0) none_too = 0, outward = POINTING;
    const struct CMUnitTest tests[] = {cmocka_unit_test(recovery)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
