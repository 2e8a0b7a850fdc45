/* sizes_inside: what the files of the sizes stage share; for them only. */
#ifndef RELICT_REMAINS_SIZES_INSIDE_H
#define RELICT_REMAINS_SIZES_INSIDE_H

#include "remains/better.h"
#include "remains/sizes.h"

enum { SIZES_TERMS = 10, SIZES_WORD = 48 };

/* Readings of one part and quantity. */
struct group {
    char part[SIZES_WORD], quantity[SIZES_WORD];
    long kind;
    const struct piece *example;
    size_t root;     /* size.<part>.<quantity>, or pressed.<part>.thickness */
    size_t readings; /* in it */
    size_t pieces;
    double sigma, sigma_low, sigma_high; /* log sd between pieces (of one gap, for a pitch) */
    double p_between;                    /* how probable its classes differ so much, under priors */
    bool is_pitch;
};

/* Readings that say the same of the same roots: their weighted mean is all they say (sufficiency
 * of the mean for normal errors), so the size of the system does not grow with the find. */
struct reading_class {
    size_t group;
    size_t n_terms;
    struct {
        size_t col;
        double coef;
    } terms[SIZES_TERMS];
    size_t first; /* of the chain of its readings */
    size_t n;
    double y, variance; /* after pooling */
};

/* One reading in a group. */
struct reading {
    size_t measure; /* index in sizes->measures */
    size_t group, class, next;
    double y;        /* ln of the value, any constant taken off */
    double variance; /* reading error and own scatter */
    double spread;   /* this reading's sd between pieces, in units of the group's sigma */
    double weight;   /* probability that the piece belongs */
    size_t unit;     /* pieces that are one piece: same_as and joins */
};

/* A dry_factor column and where its figure comes from. */
struct dry_source {
    size_t col;
    const char *fact, *source;
    long standing;
};

/* A material's squash: its root, and the rods that spoke of it. */
struct squash_source {
    const char *material;
    size_t col;
    size_t rods; /* 0: nothing in the find says anything */
    bool held;   /* the rods contradict what is believed */
};

enum { SIZES_MATERIALS = 64 };

struct model {
    struct sizes *out;
    const struct find *find;
    struct num_rows *rows;
    struct statement_set *said;
    struct arena *arena;
    struct error *err;
    size_t *unit;                /* [pieces] the first piece of the same one */
    size_t *slots, slot_count;   /* index of pieces by id: open addressing, place + 1 */
    size_t *first, *next;        /* [pieces], [measures]: the measures of a piece, as a chain */
    size_t *other;               /* [measures] the reading that contradicts it, or NUM_NO_COLUMN */
    struct measure_size **sized; /* [measures] what became of it, or NULL */
    size_t *next_in_unit;        /* [pieces] */
    unsigned char *read;   /* [groups][pieces] readings of a unit in a group: 0, 1, 2 = more */
    const char **material; /* [pieces] material words */
    struct group *groups;
    size_t group_count;
    struct reading *readings;
    size_t reading_count;
    struct reading_class *classes;
    size_t class_count;
    struct better better; /* readings too coarse, and what to do about it */
    struct dry_source dry[SIZES_MATERIALS];
    size_t dry_count;
    struct squash_source squash[SIZES_MATERIALS];
    size_t squash_count;
    struct stuff_shelf *shelf; /* made when first asked for; freed at the end */
};

/* sizes_alter.c: roots and factors of alterations, made when asked for. */
int model_alteration(long *index, struct model *m, const struct piece *p, const struct measure *r,
                     enum axis axis);
int model_grain(size_t *col, struct model *m, const struct piece *p, const struct measure *r,
                const struct alteration *a, const char *part, const char *quantity);

/* dry_factor column of a piece's material along an axis. */
int model_dry_factor(size_t *col, struct model *m, const struct piece *piece, enum axis axis);

/* sizes_evidence.c: groups, classes, conditioning. */
int model_gather(struct model *m);
int model_condition(struct model *m);
int model_squash(struct model *m);

/* sizes_parts.c: part sizes, lengths, counts. */
int model_parts(struct model *m);
int model_lengths(struct model *m);
int model_counts(struct model *m);

/* sizes_say.c: spreads of single readings, and every statement. */
int model_measures(struct model *m);
int model_say(struct model *m);

/* Squash of a material word: its root, or NUM_NO_COLUMN when none applies. */
int model_squash_root(size_t *col, struct model *m, const char *material);

/* Mean and sd of the sum of the logarithms of some columns. */
void model_log_moments(const struct num_rows *rows, const size_t *cols, size_t n, double *mean,
                       double *sd);

/* Has the reading a rival beyond its ±? Then neither enters a part's size. */
bool model_contradicted(const struct model *m, const struct measure_size *s);

/* Spacings in the row of holes or dents a pitch was read from: 1 when nobody counted. */
double model_gaps(const struct model *m, const struct measure *r);

/* Place of a piece by id, or NUM_NO_COLUMN; its first measure of a quantity that is no rival. */
size_t model_piece(const struct model *m, const char *id);
const struct measure *model_measure_of(const struct model *m, size_t piece, long quantity);

const struct piece *model_original(const struct find *find, const struct piece *p);

#endif
