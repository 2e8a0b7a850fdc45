#include "gather/stock.h"

#include "gather/day.h"
#include "gather/describe.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

const char *const stock_what_words[] = {"sheet", "strip", "lath", "rod",   "pole",
                                        "bast",  "cord",  "hide", "other", NULL};

/* Common practice, no source: the two numbers of "dry". */
static const double dry_hours = 48, dry_change = 0.005;

static const struct field item_fields[] = {
    F_ID(stock_item, "Short name, as on its tag."),
    F_CHOICE(stock_item, what, "What", stock_what_words, "What it is."),
    F_TEXT(stock_item, species, "Species", "Latin name or genus."),
    F_REFERS(stock_item, stem, "Stem", "stem", "Where it came from."),
    F_DATE(stock_item, taken, "Taken", "Day it left the tree."),
    F_COUNT(stock_item, number, "Number", 100000, "How many alike."),
    F_MM(stock_item, around, "Across", "When taken, across the grain."),
    F_MM(stock_item, along, "Along", "When taken, along the grain."),
    F_MM(stock_item, thickness, "Thickness", "When taken."),
    F_REAL(stock_item, dry_mass, "Dry mass", "g", 0, 1e6, "Ovendry; empty when unknown."),
    F_SHARE(stock_item, start_moisture, "Moisture when taken", 0, 400,
            "Of a small sample dried in an oven: water over dry mass."),
    F_SHARE(stock_item, rest_moisture, "Resting moisture", 0, 40,
            "Where it rests in its room: wood at 50 % humidity rests near 9 %."),
    F_SHARE(stock_item, flatten_least, "Flatten above", 0, 200,
            "Moisture under which the sheet should not be flattened."),
    F_TEXT(stock_item, place, "Place", "Where it lies."),
    F_TEXT(stock_item, use, "For", "The trial or the making it is kept for."),
    F_TEXT(stock_item, note, "Note", "Anything else."),
};
const struct kind stock_item_kind = {"stock_item", "Material in hand", sizeof(struct stock_item),
                                     FIELDS(item_fields), ""};

static const struct field weighing_fields[] = {
    F_ID(weighing, "Short name."),
    F_REFERS(weighing, item, "Item", "stock_item", "What was weighed."),
    {AT(weighing, date), .label = "Day", .type = FIELD_DATE, .required = true, .help = "When."},
    {AT(weighing, hour), .label = "Hour", .unit = "h", .type = FIELD_REAL, .max = 24,
     .preset = "12", .help = "Hour of the day; noon unless said."},
    {AT(weighing, mass), .label = "Mass", .unit = "g", .type = FIELD_REAL, .max = 1e6,
     .above_min = true, .required = true, .help = "As read off the scales."},
    F_SHARE(weighing, humidity, "Humidity", 0, 100, "Of the room."),
    F_REAL(weighing, temperature, "Temperature", "°C", -40, 80, "Of the room."),
    F_TEXT(weighing, note, "Note", "Anything else."),
};
const struct kind weighing_kind = {"weighing", "A weighing", sizeof(struct weighing),
                                   FIELDS(weighing_fields), ""};

struct point {
    double hours, mass; /* from the first weighing */
};

static int by_time(const void *a, const void *b) {
    double x = ((const struct point *)a)->hours, y = ((const struct point *)b)->hours;
    return x < y ? -1 : x > y;
}

/* For one rate: best rest and start mass (least squares, closed form); returns the sum of squares.
 */
static double at_rate(const struct point *p, size_t n, double k, double *rest, double *gone) {
    double se = 0, see = 0, sw = 0, sew = 0, sum = 0;
    for (size_t i = 0; i < n; i++) {
        double e = exp(-k * p[i].hours);
        se += e;
        see += e * e;
        sw += p[i].mass;
        sew += e * p[i].mass;
    }
    double det = (double)n * see - se * se;
    if (!(det > 1e-14 * (double)n * see)) return INFINITY; /* all e alike: no curve to see */
    *gone = ((double)n * sew - se * sw) / det;
    *rest = (sw - *gone * se) / (double)n;
    for (size_t i = 0; i < n; i++) {
        double r = p[i].mass - *rest - *gone * exp(-k * p[i].hours);
        sum += r * r;
    }
    return sum;
}

/* Least squares over the rate: a scan over five decades, then golden section (Kiefer, Proc. AMS 4,
 * 1953, 502). False when there is no curve. */
static bool fit_curve(const struct point *p, size_t n, double *k, double *rest, double *gone,
                      double *square) {
    double span = p[n - 1].hours, best = INFINITY, low = 0, high = 0;
    for (int i = -25; i <= 25; i++) {
        double rate = pow(10, i / 10.0) / span, s = at_rate(p, n, rate, rest, gone);
        if (!(s < best)) continue;
        best = s;
        low = rate * pow(10, -0.1);
        high = rate * pow(10, 0.1);
    }
    if (!isfinite(best)) return false;
    const double g = (sqrt(5) - 1) / 2;
    for (int i = 0; i < 60; i++) {
        double a = high - g * (high - low), b = low + g * (high - low);
        if (at_rate(p, n, a, rest, gone) < at_rate(p, n, b, rest, gone))
            high = b;
        else
            low = a;
    }
    *k = (low + high) / 2;
    *square = at_rate(p, n, *k, rest, gone);
    return isfinite(*square) && *rest > 0;
}

/* Standard error of the fitted curve at t: first order, from the 3 x 3 normal matrix. */
static double curve_error(const struct point *p, size_t n, double k, double gone, double square,
                          double t) {
    if (n < 4) return NAN;
    double m[3][4] = {{0}}, j[3] = {1, exp(-k * t), -gone * t * exp(-k * t)}, keep[3];
    memcpy(keep, j, sizeof j);
    for (size_t i = 0; i < n; i++) {
        double e = exp(-k * p[i].hours), r[3] = {1, e, -gone * p[i].hours * e};
        for (int a = 0; a < 3; a++)
            for (int b = 0; b < 3; b++)
                m[a][b] += r[a] * r[b];
    }
    for (int a = 0; a < 3; a++)
        m[a][3] = j[a];
    for (int c = 0; c < 3; c++) { /* Gauss with row exchange */
        int best = c;
        for (int r = c + 1; r < 3; r++)
            if (fabs(m[r][c]) > fabs(m[best][c])) best = r;
        for (int q = 0; q < 4; q++) {
            double x = m[c][q];
            m[c][q] = m[best][q];
            m[best][q] = x;
        }
        if (m[c][c] == 0) return NAN;
        for (int r = 0; r < 3; r++)
            for (int q = 3; q >= c && r != c; q--)
                m[r][q] -= m[r][c] / m[c][c] * m[c][q];
    }
    double v = 0;
    for (int a = 0; a < 3; a++)
        v += keep[a] * m[a][3] / m[a][a];
    return v > 0 ? sqrt(v * square / (double)(n - 3)) : 0;
}

static int read_points(struct point *p, const struct weighing *w, size_t n, double *zero,
                       struct error *err) {
    for (size_t i = 0; i < n; i++) {
        long day;
        int rc = gather_day_read(&day, w[i].date, err);
        if (rc) return rc;
        if (!(w[i].mass > 0))
            return fail(err, ERR_RANGE, "Weigh it again.",
                        "Weighing %s: mass %g g; it must be above 0.", w[i].id ? w[i].id : "",
                        w[i].mass);
        p[i] = (struct point){24.0 * (double)day + (isnan(w[i].hour) ? 12 : w[i].hour), w[i].mass};
    }
    qsort(p, n, sizeof *p, by_time);
    *zero = p[0].hours;
    for (size_t i = 0; i < n; i++)
        p[i].hours -= *zero;
    return 0;
}

/* The dry rule on the weighings themselves. */
static void dry_rule(struct stock_answer *out, const struct point *p, size_t n) {
    out->dry = -1;
    out->change_48 = NAN;
    for (size_t i = n - 1; i-- > 0;) {
        /* half an hour's grace: two visits at the same time of day are 48 h apart */
        if (p[n - 1].hours - p[i].hours < dry_hours - 0.5) continue;
        out->change_48 = fabs(p[n - 1].mass - p[i].mass) / p[i].mass;
        out->dry = out->change_48 < dry_change;
        return;
    }
}

static char *day_of(double hours, struct arena *arena) {
    char text[DAY_TEXT];
    if (!(fabs(hours) < 24.0 * 3e6)) return NULL; /* some thousand years off: no day to name */
    gather_day_write((long)floor(hours / 24), text);
    return arena_strdup(arena, text);
}

/* First time from which the curve changes by under 0.5 % in 48 h: gone e^(-kt) (1 - e^(-48 k)) <
 * 0.005 (rest + gone e^(-kt)), solved for t, at the end of those 48 h. */
static double dry_time(double k, double rest, double gone) {
    double a = fabs(gone) * (1 - exp(-dry_hours * k)) - dry_change * gone;
    double x = a > 0 ? dry_change * rest / a : 1; /* e^(-kt) at that time */
    return (x >= 1 ? 0 : -log(x) / k) + dry_hours;
}

static double dry_mass_of(const struct stock_item *s, const struct point *p, double rest,
                          const char **basis) {
    if (s->dry_mass > 0) {
        *basis = "the ovendry mass entered";
        return s->dry_mass;
    }
    if (s->start_moisture >= 0) {
        *basis = "the moisture of a sample when taken; the first weighing stands for that day";
        return p[0].mass / (1 + s->start_moisture);
    }
    if (s->rest_moisture >= 0 && isfinite(rest)) {
        *basis = "the resting moisture expected in its room and the fitted resting mass";
        return rest / (1 + s->rest_moisture);
    }
    *basis = "nothing: enter an ovendry mass, a sample's moisture or the resting moisture";
    return NAN;
}

static char *warnings(const struct stock_answer *a, const struct stock_item *s,
                      struct arena *arena) {
    const char *flat =
        s->what == STOCK_SHEET && s->flatten_least > 0 && a->moisture_on < s->flatten_least
            ? "Too dry to flatten: soak or steam it first. "
            : "";
    const char *dry = a->dry == 0
                          ? "Not yet dry: two weighings 48 h apart still differ by 0.5 % or more. "
                      : a->dry == -1 ? "Weigh it again: there are no two weighings 48 h apart. "
                                     : "";
    const char *wet = a->rate > 0 && a->mass_on > 1.02 * a->mass_now
                          ? "The curve rises: it is taking up water. "
                          : "";
    return arena_printf(arena, "%s%s%s", flat, dry, wet);
}

int gather_stock(struct stock_answer *out, const struct stock_item *item, const struct weighing *w,
                 size_t n, const char *on, struct arena *arena, struct error *err) {
    *out = (struct stock_answer){.weighings = (long)n,
                                 .rest_mass = NAN,
                                 .rate = NAN,
                                 .half_hours = NAN,
                                 .misfit = NAN,
                                 .mass_on = NAN,
                                 .moisture_on = NAN,
                                 .moisture_low = NAN,
                                 .moisture_high = NAN};
    if (n == 0)
        return fail(err, ERR_MISSING, "Weigh it.", "Item %s has no weighing.",
                    item->id ? item->id : "");
    struct point *p = ARENA_NEW(arena, struct point, n);
    if (!p) return fail_memory(err);
    double zero = 0;
    int rc = read_points(p, w, n, &zero, err);
    if (rc) return rc;
    long day = (long)floor((zero + p[n - 1].hours) / 24);
    if (on && *on && (rc = gather_day_read(&day, on, err))) return rc;
    double at = on && *on ? 24.0 * (double)day + 12 - zero : p[n - 1].hours, gone = 0, square = 0;
    out->mass_now = p[n - 1].mass;
    dry_rule(out, p, n);
    bool curve = n >= 3 && p[n - 1].hours > 0 &&
                 fit_curve(p, n, &out->rate, &out->rest_mass, &gone, &square);
    if (!curve) out->rate = out->rest_mass = NAN;
    double dry = dry_mass_of(item, p, out->rest_mass, &out->basis);
    out->moisture_now = out->mass_now / dry - 1;
    out->on = day_of(24.0 * (double)day, arena);
    if (curve) {
        double se = curve_error(p, n, out->rate, gone, square, at);
        double half = n > 3 ? gsl_cdf_tdist_Pinv(0.975, (double)(n - 3)) * se : NAN;
        out->half_hours = log(2) / out->rate;
        out->misfit = sqrt(square / (double)n);
        out->mass_on = out->rest_mass + gone * exp(-out->rate * at);
        out->moisture_on = out->mass_on / dry - 1;
        out->moisture_low = (out->mass_on - half) / dry - 1;
        out->moisture_high = (out->mass_on + half) / dry - 1;
        out->dry_by = day_of(zero + dry_time(out->rate, out->rest_mass, gone), arena);
    } else if (!on || !*on) {
        out->mass_on = out->mass_now;
        out->moisture_on = out->moisture_now;
    }
    out->say = warnings(out, item, arena);
    return out->say && out->on ? 0 : fail_memory(err);
}
