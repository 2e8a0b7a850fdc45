/* stock: material in hand, and how wet it is.
 *
 * Moisture follows from weighings; between and after them from a drying curve fitted to the item's
 * own weighings: w(t) = w_rest + (w_0 - w_rest) exp(-k t), the late term of diffusion and the
 * simplest thin-layer law (Lewis, Ind. Eng. Chem. 13, 1921, 427). Dry is declared when two
 * weighings at least 48 h apart differ by less than 0.5 % (common practice, no source). Pure.
 */
#ifndef RELICT_GATHER_STOCK_H
#define RELICT_GATHER_STOCK_H

#include "base/field.h"

enum stock_what {
    STOCK_SHEET,
    STOCK_STRIP,
    STOCK_LATH,
    STOCK_ROD,
    STOCK_POLE,
    STOCK_BAST,
    STOCK_CORD,
    STOCK_HIDE,
    STOCK_OTHER
};
extern const char *const stock_what_words[];

struct stock_item {
    const char *id;
    long what; /* enum stock_what */
    const char *species, *stem, *taken;
    long number;
    double around, along, thickness; /* mm when taken */
    double dry_mass;                 /* g, ovendry; unknown mostly */
    double start_moisture;           /* fraction, of a sample ovendried when taken */
    double rest_moisture;            /* fraction at which it rests in its room */
    double flatten_least;            /* fraction; under it a sheet should not be flattened */
    const char *place, *use, *note;
};

struct weighing {
    const char *id, *item, *date;
    double hour; /* of the day, 0 to 24; 12 unless said */
    double mass; /* g */
    double humidity, temperature;
    const char *note;
};
extern const struct kind stock_item_kind, weighing_kind;

struct stock_answer {
    long weighings;
    double mass_now, moisture_now; /* at the last weighing; moisture NAN when nothing gives it */
    double rest_mass, rate;        /* fitted: g, 1/h; NAN under 3 weighings */
    double half_hours;             /* until half the water that will go is gone */
    double misfit;                 /* g rms */
    const char *on;                /* the day asked for */
    double mass_on, moisture_on;   /* predicted */
    double moisture_low, moisture_high; /* 95 % of the fit; NAN with 3 weighings (no spare one) */
    double change_48;   /* fraction: last against the latest weighing >= 48 h before */
    long dry;           /* 1 dry, 0 not yet, -1 cannot tell: no weighings 48 h apart */
    const char *dry_by; /* day on which the rule is met by the fit; NULL unknown */
    const char *basis;  /* what moisture rests on */
    const char *say;    /* warnings */
};

/* `on` may be NULL (the day of the last weighing). Errors: ERR_MISSING without a weighing,
 * ERR_RANGE for a mass that is not above 0, ERR_INPUT for a date. Order does not matter. */
int gather_stock(struct stock_answer *out, const struct stock_item *item, const struct weighing *w,
                 size_t n, const char *on, struct arena *arena, struct error *err);

#endif
