/* plan_sample: a hand-made plan for tests, with the outline of story 5's sheet: a squared oval
 * 520 x 340 mm (exponent 2.6), three laths, a rim, holes. Invented. */
#ifndef RELICT_TESTS_PLAN_SAMPLE_H
#define RELICT_TESTS_PLAN_SAMPLE_H

#include "show/plan.h"

#include <math.h>

enum { SAMPLE_POINTS = 180, SAMPLE_HOLES = 78 };

struct plan_sample {
    double fresh[2 * SAMPLE_POINTS], dry[2 * SAMPLE_POINTS], rim[2 * SAMPLE_POINTS];
    double laths[3][4];
    struct plan_part parts[4];
    struct plan_hole holes[SAMPLE_HOLES];
    struct plan_slit slits[6];
    struct show_plan plan;
};

/* |x/a|^p + |y/b|^p = 1 by angle. */
static inline void sample_oval(double *xy, size_t n, double a, double b) {
    const double p = 2.6;
    for (size_t i = 0; i < n; i++) {
        double t = 2 * M_PI * (double)i / (double)n, c = cos(t), s = sin(t);
        xy[2 * i] = a * copysign(pow(fabs(c), 2 / p), c);
        xy[2 * i + 1] = b * copysign(pow(fabs(s), 2 / p), s);
    }
}

static inline void plan_sample(struct plan_sample *s, double scale) {
    *s = (struct plan_sample){0};
    sample_oval(s->fresh, SAMPLE_POINTS, 260 * scale, 170 * scale);
    sample_oval(s->dry, SAMPLE_POINTS, 258 * scale, 165 * scale);
    sample_oval(s->rim, SAMPLE_POINTS, 253 * scale, 163 * scale);
    static const char *const ids[] = {"lath-1", "lath-2", "lath-3"};
    static const char *const names[] = {"left lath", "middle lath", "right lath"};
    for (int i = 0; i < 3; i++) {
        double x = (i - 1) * 140 * scale, y = 140 * scale;
        double line[4] = {x, -y, x, y};
        for (int k = 0; k < 4; k++)
            s->laths[i][k] = line[k];
        s->parts[i] = (struct plan_part){.id = ids[i],
                                         .name = names[i],
                                         .kind = PLAN_LATH,
                                         .face = i,
                                         .footing = i == 1 ? FOOTING_SEEN : FOOTING_GUESSED,
                                         .n = 2,
                                         .xy = s->laths[i],
                                         .width = 26,
                                         .fresh = 2 * y,
                                         .dry = 2 * y * 0.996,
                                         .grain = NAN};
        s->slits[2 * i] = (struct plan_slit){x - 13, y - 8, x + 13, y - 8, FOOTING_SEEN};
        s->slits[2 * i + 1] = (struct plan_slit){x - 13, 8 - y, x + 13, 8 - y, FOOTING_SEEN};
    }
    s->parts[3] = (struct plan_part){.id = "rim",
                                     .name = "outer rim rod",
                                     .kind = PLAN_RIM,
                                     .face = FACE_OUTER,
                                     .footing = FOOTING_WORKED_OUT,
                                     .n = SAMPLE_POINTS,
                                     .xy = s->rim,
                                     .closed = true,
                                     .width = 14,
                                     .fresh = NAN,
                                     .dry = 1402 * scale,
                                     .grain = NAN};
    double holes[2 * SAMPLE_HOLES];
    sample_oval(holes, SAMPLE_HOLES, 253 * scale, 163 * scale);
    for (int i = 0; i < SAMPLE_HOLES; i++)
        s->holes[i] = (struct plan_hole){holes[2 * i], holes[2 * i + 1], 2.8, FOOTING_WORKED_OUT};
    s->plan = (struct show_plan){.object = "Sample tray (invented)",
                                 .subject = "plan at true size",
                                 .state = "sizes fresh, and new and dry",
                                 .file = "sample.relict",
                                 .date = "2026-05-01",
                                 .hash = "1a2b3c4d5e6f",
                                 .up = "inner face up",
                                 .n_fresh = SAMPLE_POINTS,
                                 .fresh = s->fresh,
                                 .n_dry = SAMPLE_POINTS,
                                 .dry = s->dry,
                                 .footing = FOOTING_WORKED_OUT,
                                 .grain = 0,
                                 .parts = s->parts,
                                 .n_parts = 4,
                                 .holes = s->holes,
                                 .n_holes = SAMPLE_HOLES,
                                 .slits = s->slits,
                                 .n_slits = 6};
}

#endif
