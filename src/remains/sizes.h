/* sizes: from pieces and measures to how big each part was, fresh and new and dry.
 *
 * In logarithms a reading is (typical size of the part) + (this piece's own difference) - (what
 * time took: material, zone, grain) + (reading error). Typical sizes and alterations are roots of
 * the crowd of possible originals; the readings condition them exactly (linear-Gaussian), so that
 * the object's own rulers act on everything they bear on: one piece read in two states, a joint on
 * two pieces, one part surviving in two zones, dents along a rod against holes in a sheet, a slit
 * against the lath that filled it. An alteration has a part shared by all pieces of a material, a
 * part shared by its zone and a part of each piece's own; the shared ones do not average out.
 * Squashing through the thickness is apart: only rods once round speak of it.
 *
 * Columns this stage makes (<material> etc. are the words of classify.h; sizes in mm):
 *   alter.<material>.<axis>.<state>                 root   fresh / measured, shared by all zones
 *   alter.<material>.<zone>.<axis>.<state>          root   zone's own share of that factor
 *   alter.<material>.<zone>.plane.<state>           root   what an unnoted direction leaves open
 *   grain.<part>.<quantity>.<zone>.<state>          root   wood: which way the rings lay in this
 * size fresh_factor.<material>.<zone>.<axis>.<state>   derived: product; times a reading = fresh
 * size dry_factor.<material>.<axis>                    root   new and dry / fresh squash.<material>
 * root   fresh thickness / pressed thickness - 1 pressed.<part>.thickness root   typical fresh
 * thickness, still pressed size.<part>.<quantity>                          root (thickness:
 * derived) typical fresh size size.<part>.<quantity>.dry                      derived: the same,
 * new and dry own.<piece>.<quantity>                          root   of pieces read more than once
 *   size.<part>.length, size.<part>.length.spread   derived: median, log sd, of the ranks
 *   rank.<part>.length, rank.<part>.length.spread   roots  uniform
 *   break.<part>                                    root   where a half broke, share of the whole
 *   count.<part>                                    root   whole number
 * Stitches that left dents in rods and holes in sheets share size.<rod>.pitch.
 * Axis words: along, around, through, across (wood, nobody knows which), plane (sheet, nobody
 * knows which). State words: ground, wet, treated or the treatment's own word, dried, part_dried.
 * A single reading gets its columns from `remains_measure_columns` when somebody asks.
 *
 * Two readings of one thing that contradict each other: where they differ by less than their own ±
 * they are used as one wider reading, with a flag; otherwise both stand side by side, neither
 * enters a part's size and nothing is averaged.
 *
 * `said` may be NULL: then nothing is said and no single readings are worked out; this is how a
 * later run joins its functions to rows that were kept.
 *
 * Pure; contexts live in the arena, which must live as long as the rows. One thread.
 */
#ifndef RELICT_REMAINS_SIZES_H
#define RELICT_REMAINS_SIZES_H

#include "num/rows.h"
#include "remains/counts.h"
#include "remains/find.h"
#include "remains/find_alteration.h"
#include "remains/lengths.h"
#include "statement/statement.h"

/* One alteration of this find: material, zone, state, axis. */
struct alteration {
    const char *id; /* "bark.E.around.dried", as in the column's name */
    const char *material, *zone, *state_word;
    long state;
    enum axis axis;
    struct alteration_prior prior;
    struct spread loss;   /* share of the fresh size lost, after the evidence */
    size_t shared, local; /* roots; NUM_NO_COLUMN when there is none (state fresh) */
    size_t plane[4];      /* AXIS_PLANE: around shared, local; along shared, local */
    size_t factor;        /* fresh_factor column */
    size_t readings;      /* how many readings bear on it */
};

/* One reading and what it says of its piece alone. */
struct measure_size {
    const struct measure *measure;
    const struct piece *piece;
    long alteration;   /* index; -1: nothing can be undone, `why_not` says why */
    size_t grain;      /* root, or NUM_NO_COLUMN */
    double value;      /* mm: the reading, or the middle of two that differ by less than their ± */
    double plus_minus; /* mm: its ±, or half the range of the two together */
    const struct measure *either; /* the other reading taken together with this one, or NULL */
    bool minimum;                 /* an end is missing: a lower limit */
    bool in_part;                 /* took part in the part's size */
    bool held;                    /* contradicts the rest: kept out, a person chooses */
    double log_sd;                /* of reading error and the piece's own scatter */
    struct spread fresh, dry;     /* mm; NAN when nothing can be undone */
    const char *why_not;
    const char *caution; /* "too coarse ...", the measure's flag */
};

/* One kind of size of one part. */
struct part_size {
    const char *part;     /* "lath" */
    const char *quantity; /* "thickness" */
    const char *material;
    const struct piece *example; /* the first piece of it */
    long quantity_kind;          /* enum quantity */
    enum axis axis;
    size_t pieces, readings;
    double within;                  /* log sd between pieces of the part: best estimate ... */
    double within_low, within_high; /* ... 5 % and 95 % */
    size_t column, dry_column;
    struct spread fresh, dry;
};

/* A figure that was asked of a piece by its neighbours, and refused. */
struct offer_withheld {
    const char *from, *to; /* pieces */
    const char *reason;
};

struct sizes {
    struct alteration *alterations;
    size_t alteration_count;
    struct measure_size *measures; /* in the order of find->measures, those left out omitted */
    size_t measure_count;
    struct part_size *parts;
    size_t part_count;
    struct length_size *lengths;
    size_t length_count;
    struct part_count *counts;
    size_t count_count;
    struct offer_withheld *withheld;
    size_t withheld_count;
};

/* Works out all sizes. `rows` and `said` are added to; everything else lives in the arena. A piece
 * that cannot be used is left out with a reason, never a failure. */
int remains_sizes(struct sizes *out, const struct find *find, struct num_rows *rows,
                  struct statement_set *said, struct arena *arena, struct error *err);

const struct part_size *remains_part_size(const struct sizes *sizes, const char *part,
                                          const char *quantity);
const struct measure_size *remains_measure_size(const struct sizes *sizes, const char *measure);
const struct alteration *remains_alteration(const struct sizes *sizes, const char *material,
                                            const char *zone, enum axis axis,
                                            const char *state_word);

/* Column of the factor that takes a size of this piece, measured in `state` along `axis`, to
 * fresh; made when nobody has asked before. NUM_NO_COLUMN in *col when nothing may be undone. */
int remains_factor(size_t *col, struct sizes *sizes, const struct find *find, struct num_rows *rows,
                   const struct piece *piece, const struct measure *m, enum axis axis,
                   struct arena *arena, struct error *err);

/* Column new-and-dry / fresh for a piece along an axis; made when needed. */
int remains_dry_factor(size_t *col, const struct find *find, struct num_rows *rows,
                       const struct piece *piece, enum axis axis, struct arena *arena,
                       struct error *err);

/* Columns "<measure>.fresh" and "<measure>.dry" of one reading; dry may be NULL. */
int remains_measure_columns(size_t *fresh, size_t *dry, const struct sizes *sizes,
                            const struct find *find, struct num_rows *rows,
                            const struct measure_size *m, struct arena *arena, struct error *err);

/* Quantiles, mean and sd of a column as a spread. */
struct spread remains_spread(const struct num_rows *rows, size_t col);

/* The same of values with weights (NULL: all alike). */
struct spread remains_spread_of(const double *value, const double *weight, size_t n);

/* A lognormal as a spread: mean and sd of the logarithm. */
struct spread remains_spread_lognormal(double log_mean, double log_sd);

#endif
