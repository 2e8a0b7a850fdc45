/* random_find: finds lists and outlines as people might bring them, of objects nobody made: some
 * parts there, some not, sizes of one thing in several states, things left out, things unlikely.
 * All random numbers hang on the seed alone. */
#ifndef RELICT_TESTS_RANDOM_FIND_H
#define RELICT_TESTS_RANDOM_FIND_H

#include "num/random.h"

#include "check.h"

struct random_find {
    char csv[40000], geojson[60000], stems[1500];
    size_t csv_n, geojson_n, stems_n;
    struct num_random dice;
    double a, b;  /* half length and width */
    double scale; /* of all lengths */
    int mirrored; /* x of all corners turned over */
};

static inline double rf_uniform(struct random_find *f, double low, double high) {
    return low + (high - low) * num_random_uniform(&f->dice);
}
static inline int rf_below(struct random_find *f, int n) {
    return (int)num_random_below(&f->dice, (uint64_t)n);
}
static inline int rf_chance(struct random_find *f, double p) {
    return num_random_uniform(&f->dice) < p;
}

#define RF_ADD(f, text, n, ...)                                                                    \
    ((n) += (size_t)snprintf((text) + (n), sizeof(text) - (n), __VA_ARGS__))

/* A size cell; empty one time in six. */
static inline void rf_cell(struct random_find *f, double v) {
    if (rf_chance(f, 0.83))
        RF_ADD(f, f->csv, f->csv_n, ",%.1f", v * f->scale);
    else
        RF_ADD(f, f->csv, f->csv_n, ",");
}

static const char *const rf_states[] = {"after treatment", "wet in lab", "dried before treatment",
                                        "in ground"};
static const char *const rf_zones[] = {"W", "E", "centre"};
static const char *const rf_woods[] = {"Corylus avellana", "Salix sp.", "Fraxinus excelsior",
                                       "Quercus robur", "Betula pendula"};
static const char *const rf_barks[] = {"Tilia sp. bark", "Betula pendula bark", "Ulmus sp. bark"};
static const char *const rf_ends[] = {"cut", "broken", "torn", "chamfered 12 mm at 35 deg",
                                      "scarfed 38 mm"};

static inline void rf_row(struct random_find *f, const char *id, const char *part,
                          const char *material, double length, double width, double thickness,
                          double chord, double rise, int holes, double pitch) {
    RF_ADD(f, f->csv, f->csv_n, "%s,%s,%s,%c,%s,%s", id, part, material, 'A' + rf_below(f, 3),
           rf_zones[rf_below(f, 3)], rf_states[rf_below(f, 3)]);
    rf_cell(f, length);
    rf_cell(f, width);
    rf_cell(f, thickness);
    RF_ADD(f, f->csv, f->csv_n, ",%s,%s", rf_ends[rf_below(f, 5)], rf_ends[rf_below(f, 3)]);
    if (chord > 0)
        RF_ADD(f, f->csv, f->csv_n, ",%.1f,%.1f", chord * f->scale, rise * f->scale);
    else
        RF_ADD(f, f->csv, f->csv_n, ",,");
    if (holes > 0)
        RF_ADD(f, f->csv, f->csv_n, ",%d,%.1f,%.1f", holes, pitch * f->scale, 2.6 * f->scale);
    else
        RF_ADD(f, f->csv, f->csv_n, ",,,");
    RF_ADD(f, f->csv, f->csv_n, ",calliper,%.1f,\n", (rf_chance(f, 0.7) ? 0.5 : 2) * f->scale);
}

/* An arc of the edge as a piece's outline: its outer side survives, the other three do not. */
static inline void rf_arc(struct random_find *f, const char *id, double from, double to) {
    enum { N = 9 };
    double x[N + 2], y[N + 2];
    for (int i = 0; i < N; i++) {
        double t = from + (to - from) * i / (N - 1);
        x[i] = f->a * cos(t), y[i] = f->b * sin(t);
    }
    x[N] = 0.6 * x[N - 1], y[N] = 0.6 * y[N - 1];
    x[N + 1] = 0.6 * x[0], y[N + 1] = 0.6 * y[0];
    RF_ADD(f, f->geojson, f->geojson_n,
           "%s{\"type\":\"Feature\",\"properties\":{\"piece\":\"%s\",\"frame\":\"plan\",\"state\":"
           "\"after treatment\",\"surviving\":[1,1,1,1,1,1,1,1,0,0,0]},\"geometry\":{\"type\":"
           "\"Polygon\",\"coordinates\":[[",
           strchr(f->geojson, 'F') && strstr(f->geojson, "Feature\"") ? "," : "", id);
    for (int i = 0; i <= N + 2; i++) {
        int k = i % (N + 2);
        RF_ADD(f, f->geojson, f->geojson_n, "%s[%.2f,%.2f]", i ? "," : "",
               (f->mirrored ? -1 : 1) * x[k] * f->scale, y[k] * f->scale);
    }
    RF_ADD(f, f->geojson, f->geojson_n, "]]}}\n");
}

static inline void random_find_stems(struct random_find *f) {
    RF_ADD(f, f->stems, f->stems_n,
           "id,species,kind,girth_mm,girth_height_mm,clear_from_mm,clear_length_mm,taper_mm_m,"
           "consent\n");
    for (int i = 0, n = rf_below(f, 4); i < n; i++)
        RF_ADD(f, f->stems, f->stems_n, "L%d,%s,%s,%.0f,1300,300,%.0f,%.0f,%s\n", i,
               rf_chance(f, 0.5) ? "Tilia cordata" : "Corylus avellana",
               rf_chance(f, 0.5) ? "coppice pole" : "living tree", rf_uniform(f, 100, 1800),
               rf_uniform(f, 500, 4000), rf_uniform(f, 2, 15),
               rf_chance(f, 0.7) ? "given" : "asked");
}

/* scale 1, mirrored 0 for a find as it is. */
static inline void random_find_make(struct random_find *f, uint64_t seed, double scale,
                                    int mirrored) {
    memset(f, 0, sizeof *f);
    num_random_begin(&f->dice, 20261127, num_hash("random find"), seed);
    f->scale = scale;
    f->mirrored = mirrored;
    f->a = rf_uniform(f, 120, 400);
    f->b = f->a * rf_uniform(f, 0.5, 0.95);
    char id[16];
    int number = 1;
    const char *wood = rf_woods[rf_below(f, 5)], *bark = rf_barks[rf_below(f, 3)];
    double lath_w = rf_uniform(f, 10, 35), lath_t = rf_uniform(f, 1.5, 6),
           pitch = rf_uniform(f, 8, 30);
    RF_ADD(f, f->csv, f->csv_n,
           "id,part,material,id_conf,zone,state,length_mm,width_mm,thick_mm,end_1,end_2,chord_mm,"
           "sagitta_mm,holes_n,pitch_mm,hole_d_mm,method,tol_mm,note\n");
    RF_ADD(f, f->geojson, f->geojson_n,
           "{\"type\":\"FeatureCollection\",\"relict:frame\":{\"unit\":\"mm\"},\"features\":[\n");
    for (int i = 0, n = rf_below(f, 13); i < n; i++) {
        snprintf(id, sizeof id, "P%02d", number++);
        rf_row(f, id, "cross lath", wood, rf_uniform(f, 20, 2 * f->b),
               lath_w * rf_uniform(f, .9, 1.1), lath_t * rf_uniform(f, .7, 1.2), 0, 0, 0, 0);
    }
    double at = rf_uniform(f, 0, 6.28);
    for (int i = 0, n = 1 + rf_below(f, 7); i < n; i++) {
        snprintf(id, sizeof id, "P%02d", number++);
        int edge = rf_chance(f, 0.6);
        rf_row(f, id, "bark sheet", bark, rf_uniform(f, 40, f->a), rf_uniform(f, 30, f->b),
               rf_uniform(f, 1.5, 5), 0, 0, edge ? 2 + rf_below(f, 8) : 0, pitch);
        if (edge) {
            double wide = rf_uniform(f, 0.2, 0.7);
            rf_arc(f, id, at, at + wide);
            at += wide + rf_uniform(f, 0.05, 0.8);
        }
    }
    for (int i = 0, n = rf_below(f, 6); i < n; i++) {
        snprintf(id, sizeof id, "P%02d", number++);
        double chord = rf_chance(f, 0.4) ? rf_uniform(f, 40, 160) : 0, r = f->b;
        rf_row(f, id, "rim rod (half-round)", wood, rf_uniform(f, 40, 250), rf_uniform(f, 8, 18),
               rf_uniform(f, 4, 9), chord,
               chord > 0 ? r - sqrt(r * r - chord * chord / 4 > 0 ? r * r - chord * chord / 4 : 0)
                         : 0,
               2 + rf_below(f, 9), pitch);
    }
    if (rf_chance(f, 0.4)) {
        snprintf(id, sizeof id, "P%02d", number++);
        rf_row(f, id, "grip (half)", "Fraxinus excelsior", rf_uniform(f, 60, 140), 30, 22, 0, 0, 0,
               0);
    }
    if (rf_chance(f, 0.3)) {
        snprintf(id, sizeof id, "P%02d", number++);
        rf_row(f, id, "coiled ring", "Salix sp. rod foundation; bast stitch",
               rf_uniform(f, 40, 100), rf_uniform(f, 15, 40), 5.2, rf_uniform(f, 40, 90),
               rf_uniform(f, 5, 20), 2 + rf_below(f, 5), 6.3);
    }
    RF_ADD(f, f->geojson, f->geojson_n, "]}\n");
    random_find_stems(f);
}

#endif
