/* stock_take: what there is, in which states, what may be added up, and the rough list of what a
 * maker would have to get. Right after import, before anything is conditioned: material figures
 * only.
 *
 * Pure; everything lives in the arena.
 */
#ifndef RELICT_REMAINS_STOCK_TAKE_H
#define RELICT_REMAINS_STOCK_TAKE_H

#include "remains/find.h"
#include "statement/statement.h"

/* Pieces of one part measured in one state. */
struct stock_line {
    const char *part;  /* as the list calls it */
    const char *state; /* "after treatment", "state not given" */
    long pieces;       /* second readings and pieces without scale left out */
    long whole;        /* with both ends */
    double length;     /* mm, sum of lengths in this state; 0 when there are none */
    double longest;
};

/* Something that must not be done, or must be known, with what to do instead. */
struct stock_remark {
    const char *about; /* part or piece */
    const char *what;
    const char *instead;
};

struct stock_take {
    long rows, pieces, measures, second_readings, shape_only, doubtful;
    struct stock_line *lines;
    size_t line_count;
    struct stock_remark *remarks;
    size_t remark_count;
};

/* Takes stock; said (may be NULL) gets "object.pieces" and one "<piece>.shape_only" each. */
int remains_stock_take(struct stock_take *out, const struct find *find, struct statement_set *said,
                       struct arena *arena, struct error *err);

/* One thing to get. Ranges are what is known at once: 5 to 95 % of the material's figures over the
 * pieces; NAN unknown. All sizes fresh, in mm. */
struct shopping_line {
    const char *part, *material;
    long number_low, number_high;
    const char *number_why;
    double length_low, length_high; /* high NAN: at least */
    double width_low, width_high, thickness_low, thickness_high;
    const char *guess; /* what in this line is a guess, and its rival; NULL when nothing is */
};

struct shopping {
    struct shopping_line *lines;
    size_t line_count;
};

/* The rough list; said (may be NULL) gets "<part>.shopping". */
int remains_shopping(struct shopping *out, const struct find *find, struct statement_set *said,
                     struct arena *arena, struct error *err);

/* As tables {title, columns, rows} for screens and the command line. New reference; NULL when
 * memory is gone. */
json_t *remains_stock_table(const struct stock_take *stock);
json_t *remains_remark_table(const struct stock_take *stock);
json_t *remains_shopping_table(const struct shopping *shopping);

/* ---- means ---------------------------------------------------------------------------------- */

/* A plain mean of raw readings, where one may be taken. */
struct mean_size {
    double mean, sd; /* of the readings, mm */
    double u;        /* standard uncertainty of the mean, from scatter and readings */
    size_t n;
    const char *state;
};

/* The mean of readings that stand in one state and are whole. ERR_REFUSED when they stand in
 * several states, when one is a minimum, a rival or without scale: the reason and what can be done
 * are in the error. */
int remains_mean(struct mean_size *out, const struct find *find, const struct measure *const *v,
                 size_t n, struct error *err);

#endif
