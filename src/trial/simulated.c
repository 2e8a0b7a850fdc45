#include "trial/simulated.h"

#include "body/strip.h"
#include "gather/describe.h"
#include "trial/read_back.h"

#include <math.h>
#include <string.h>

enum { MOST_DAYS = 400 };

static const struct field day_fields[] = {
    F_OUT(simulated_day, day, "Day", "days", "Since day 0."),
    F_OUT(simulated_day, measured, "Measured", "", "Mean of the pieces."),
    F_OUT(simulated_day, low, "Simulated, from", "", "5 %."),
    F_OUT(simulated_day, middle, "Simulated", "", "Middle."),
    F_OUT(simulated_day, high, "Simulated, to", "", "95 %."),
    F_COUNT(simulated_day, inside, "Inside", 1, "1: the measured lies in the band."),
};
const struct kind simulated_day_kind = {"simulated_day", "Measured beside simulated",
                                        sizeof(struct simulated_day), FIELDS(day_fields), ""};

/* Means of what is known about the pieces on day 0. */
struct start {
    double around, along, through, curvature;
};

static void add(double *sum, long *n, double v) {
    if (isnan(v)) return;
    *sum += v;
    ++*n;
}

static struct start start_of(const struct trial *t, const struct trial_log *book) {
    double sum[4] = {0};
    long n[4] = {0};
    for (size_t i = 0; i < book->n_pieces; i++) {
        const struct trial_piece *p = &book->pieces[i];
        if (strcmp(p->trial, t->id) != 0) continue;
        add(&sum[0], &n[0], p->around);
        add(&sum[1], &n[1], p->along);
        add(&sum[2], &n[2], p->through);
        add(&sum[3], &n[3], 8 * p->rise / (p->chord * p->chord + 4 * p->rise * p->rise));
    }
    struct start s = {sum[0] / (double)n[0], sum[1] / (double)n[1], sum[2] / (double)n[2],
                      sum[3] / (double)n[3]};
    return s; /* 0/0: not known */
}

static bool of_trial(const struct trial *t, const struct trial_log *book, const char *piece,
                     const struct trial_piece **out) {
    for (size_t i = 0; i < book->n_pieces; i++)
        if (strcmp(book->pieces[i].id, piece) == 0 && strcmp(book->pieces[i].trial, t->id) == 0) {
            *out = &book->pieces[i];
            return true;
        }
    return false;
}

/* The air of each day: of the latest day read not after it, else of the first; 60 % and 18 °C where
 * nobody wrote it down. Both faces in the air. */
static void air_of(struct strip_air *air, size_t days, const struct trial *t,
                   const struct trial_log *book) {
    for (size_t d = 0; d < days; d++) {
        double best = -INFINITY, first = INFINITY;
        air[d] = (struct strip_air){18, 0.60, 1, 1};
        for (size_t i = 0; i < book->n_readings; i++) {
            const struct trial_reading *r = &book->readings[i];
            const struct trial_piece *p;
            if (isnan(r->humidity) || !of_trial(t, book, r->piece, &p)) continue;
            struct trial_piece with = *p;
            if (!with.made_on) with.made_on = t->made_on;
            double day = trial_reading_day(r, &with);
            bool before = day <= (double)d && day > best;
            if (!before && !(best == -INFINITY && day < first)) continue;
            if (before) best = day;
            first = fmin(first, day);
            air[d].humidity = r->humidity;
            if (!isnan(r->temperature)) air[d].temperature = r->temperature;
        }
    }
}

/* Low, middle and high of the outcome on a day, inside units; a loss turns the band round. */
static void outcome_of(double v[3], const struct trial *t, const struct strip_outcome *o,
                       const struct strip_outcome *zero) {
    const struct strip_band *b = t->outcome == OUTCOME_SHRINK_AROUND  ? &o->width
                                 : t->outcome == OUTCOME_SHRINK_ALONG ? &o->length
                                 : t->outcome == OUTCOME_MASS_LOSS    ? &o->mass
                                                                      : &o->curvature;
    const struct strip_band *z = t->outcome == OUTCOME_SHRINK_AROUND  ? &zero->width
                                 : t->outcome == OUTCOME_SHRINK_ALONG ? &zero->length
                                                                      : &zero->mass;
    bool curl = t->outcome == OUTCOME_CURVATURE;
    v[0] = curl ? b->p05 : 1 - b->p95 / z->p50;
    v[1] = curl ? b->p50 : 1 - b->p50 / z->p50;
    v[2] = curl ? b->p95 : 1 - b->p05 / z->p50;
}

/* What must be known before anything can be simulated; NULL when all is there. */
static const char *lacks(const struct trial *t, const struct start *s,
                         const struct records *series) {
    if (t->outcome != OUTCOME_SHRINK_AROUND && t->outcome != OUTCOME_SHRINK_ALONG &&
        t->outcome != OUTCOME_CURVATURE && t->outcome != OUTCOME_MASS_LOSS)
        return "This outcome is not simulated.";
    if (series->n == 0) return "Nothing was read yet.";
    if (!t->species || !*t->species) return "Enter the species: then the drying can be simulated.";
    if (!(s->through > 0) || !(s->around > 0))
        return "Enter width and thickness of the pieces on day 0: then the drying can be "
               "simulated.";
    if (t->outcome == OUTCOME_CURVATURE && !(fabs(s->curvature) > 0))
        return "Enter chord and rise on day 0: then the curl can be simulated.";
    return NULL;
}

int trial_simulate(struct records *days, const char **why, const struct trial *t,
                   const struct trial_log *book, const struct records *series,
                   const struct stuff_shelf *shelf, struct arena *arena, struct error *err) {
    *days = (struct records){0};
    struct start s = start_of(t, book);
    if ((*why = lacks(t, &s, series))) return 0;
    const struct day_mean *m = series->v;
    size_t last = (size_t)fmin(MOST_DAYS, ceil(m[series->n - 1].day));
    if (last == 0) last = 1;
    struct strip_air *air = ARENA_NEW(arena, struct strip_air, last);
    struct strip_outcome *out = ARENA_NEW(arena, struct strip_outcome, last + 1);
    struct simulated_day *list = ARENA_NEW(arena, struct simulated_day, series->n);
    bool named = strstr(t->species, "bark") || (t->made && strstr(t->made, "lath"));
    const char *material = named ? t->species : arena_printf(arena, "%s bark", t->species);
    if (!air || !out || !list || !material) return fail_memory(err);
    air_of(air, last, t, book);
    struct strip_case c = {.material = material,
                           .class = FIELD_UNKNOWN,
                           .thickness = s.through,
                           .outer_share = NAN,
                           .width = s.around,
                           .length = s.along > 0 ? s.along : 300,
                           .stem = fabs(s.curvature) > 0 ? 2 / fabs(s.curvature) : NAN,
                           .moisture = NAN,
                           .diffusion = NAN,
                           .shrinkage = NAN,
                           .ring_radius = NAN,
                           .air = air,
                           .days = last,
                           .former = NAN};
    long standing;
    struct error trouble = {0};
    int rc = strip_days(out, &standing, shelf, &c, arena, &trouble);
    if (rc == ERR_MEMORY) return fail_memory(err);
    if (rc) {
        *why = arena_strdup(arena, trouble.message);
        return *why ? 0 : fail_memory(err);
    }
    double scale = trial_outcome_scale((enum outcome)t->outcome);
    for (size_t i = 0; i < series->n; i++) {
        if (m[i].day > (double)last) break;
        double v[3];
        outcome_of(v, t, &out[(size_t)lround(m[i].day)], &out[0]);
        list[i] = (struct simulated_day){m[i].day,     m[i].mean,    v[0] / scale,
                                         v[1] / scale, v[2] / scale, 0};
        list[i].inside = list[i].measured >= list[i].low && list[i].measured <= list[i].high;
        days->n++;
    }
    days->v = list;
    return 0;
}
