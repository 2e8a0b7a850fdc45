/* find_alteration: what time did to sizes, before any piece of this find has spoken.
 *
 * A prior for the share of the fresh size that a material has lost in a state and direction, with
 * standing and source (data/alteration_defaults.csv), or a person's own figure in its place. The
 * rule that figures of one substance are never offered to another lives here. Pure; thread-safe.
 *
 * Inside, a loss s is carried as the logarithm of the factor fresh / measured, g = -ln(1 - s): a
 * normal whose 5 % and 95 % points are those of s; sizes in logarithms then add.
 */
#ifndef RELICT_REMAINS_FIND_ALTERATION_H
#define RELICT_REMAINS_FIND_ALTERATION_H

#include "remains/classify.h"

struct alteration_prior {
    double p05, p50, p95; /* share of the fresh size lost; negative: it grew */
    double mean, sd;      /* of g = ln(fresh / measured) over materials of this class */
    double zone_sd;       /* of g between zones of one find */
    double own_sd;        /* of g between pieces of one zone */
    long standing;        /* enum standing */
    const char *source;   /* borrowed from the table or the own figure */
    const char *fact;     /* "data/alteration_defaults.csv:7", or the id of the own figure */
    bool own_figure;
};

/* The table class of a piece: "wood", "bark", "birch_bark", "bast", "hide", "coil"; "" when nothing
 * may be undone for it. */
const char *remains_alteration_class(const struct piece *p);

/* Loss from fresh to the measured state `state` (STATE_FRESH loses nothing; STATE_NEW_AND_DRY is
 * asked of remains_dry_prior). `to` of own figures must be the state, `from` fresh. For AXIS_ACROSS
 * of a bast or hide along is excluded; for AXIS_PLANE along and around are mixed, mostly around.
 * ERR_MISSING when no figure exists. Texts live in the arena. */
int remains_alteration_prior(struct alteration_prior *out, const struct find *find,
                             const struct piece *p, long state, enum axis axis, struct arena *arena,
                             struct error *err);

/* Loss from fresh to new and dry, by the tables of materials (stuff/alteration.h) or an own figure;
 * own_sd and zone_sd are 0. */
struct stuff_shelf;
int remains_dry_prior(struct alteration_prior *out, const struct find *find,
                      const struct stuff_shelf *shelf, const struct piece *p, enum axis axis,
                      struct arena *arena, struct error *err);

/* Share of the way from along to around that a row or edge of unknown direction takes in a sheet:
 * a guess (footing), mean 0.8; and the sd of what that leaves open in g. */
#define ALTERATION_PLANE_AROUND 0.8
#define ALTERATION_PLANE_OPEN 0.02

/* May a figure won on piece `from` be used for piece `to`? True, or false with the reason in words
 * (borrowed). Bark is never treated as wood, one genus never as another, nor one state as another
 * (pass the states the two were measured in). */
bool remains_alteration_may_pass(const struct piece *from, long from_state, const struct piece *to,
                                 long to_state, const char **reason);

#endif
