/* table: the reference facts that travel inside the program, each with unit, standing and source.
 *
 * A shelf holds the tables of data/ (woods, barks, fibres, moisture, joints, trees, pigments,
 * seasons) and the values a person measured himself, which stand before any table. It is read once
 * and not changed by look-ups, so several threads may share one. Everything a look-up returns is
 * borrowed from the shelf and dies with it.
 *
 *     struct stuff_shelf *shelf;
 *     if (stuff_shelf_new(&shelf, err)) return err->code;
 *     struct stuff_query q = {.quantity = "shrinkage", .material = "willow", .direction =
 * "around"}; const struct stuff_fact *f = stuff_fact_next(shelf, &q, NULL);
 *     stuff_shelf_free(shelf);
 */
#ifndef RELICT_STUFF_TABLE_H
#define RELICT_STUFF_TABLE_H

#include "base/error.h"
#include "base/field.h"
#include "statement/statement.h"

#include <stddef.h>

struct stuff_shelf;

/* One row. Texts are never NULL ("" when the row has none); numbers are NAN when absent. */
struct stuff_fact {
    const char *table; /* "data/emc.csv"; "own" for a person's own value */
    long line;         /* line in that file; number of the own value */
    const char *quantity, *material, *layer, *direction, *state, *condition;
    double value;       /* central value (median where `family` is given), in `unit` */
    double low, high;   /* range; 5 % and 95 % points where `family` is given */
    const char *unit;   /* as the table has it: "%", "GPa", "kg/m3" */
    const char *family; /* of the distribution, "" when the row is a plain figure */
    const char *text;   /* a formula or a finding in words */
    const char *source, *note;
    long standing; /* enum standing */
};

/* What to look for; NULL matches anything. `condition` matches the beginning of the row's. */
struct stuff_query {
    const char *table, *quantity, *material, *layer, *direction, *state, *condition;
};

/* A value measured by the person's own team: overrides the tables wherever material, layer,
 * property, direction and state are the same ("" and NULL: any). Numbers in house units. */
struct stuff_own {
    const char *material, *layer, *property, *direction, *state;
    double median, p05, p95;
    const char *family; /* word of num_family; NULL: lognormal when all are positive, else normal */
    const char *source; /* who, when, how: needed */
};
extern const struct kind stuff_own_kind;

/* A hazard and what to do about it. */
struct stuff_caution {
    const char *hazard, *caution, *more, *source;
    long standing;
};

/* A season window or a wait; months and days as "05-01"; waits NAN when there is none. */
struct stuff_season {
    const char *material, *step, *begins, *ends, *unit, *source, *note;
    double wait_least, wait_most;
    long standing;
};

/* Reads all tables. ERR_DAMAGED when an embedded table does not parse (a fault of the build).
 * Free with stuff_shelf_free. Cost: some milliseconds. */
int stuff_shelf_new(struct stuff_shelf **out, struct error *err);
void stuff_shelf_free(struct stuff_shelf *shelf);

/* The same with a person's own values on it (records of struct stuff_own). */
int stuff_shelf_with(struct stuff_shelf **out, const struct records *own, struct error *err);

/* Adds a person's own value (copied). Refuses one without source, or with points out of order. */
int stuff_shelf_own(struct stuff_shelf *shelf, const struct stuff_own *own, struct error *err);

/* Returns the first fact after `after` (NULL: from the beginning) that matches, or NULL. */
const struct stuff_fact *stuff_fact_next(const struct stuff_shelf *shelf,
                                         const struct stuff_query *query,
                                         const struct stuff_fact *after);

/* The i-th own value as a fact (its numbers in house units, unit ""), NULL after the last. */
const struct stuff_fact *stuff_own_at(const struct stuff_shelf *shelf, size_t i);

/* The i-th caution and season, NULL after the last. */
const struct stuff_caution *stuff_caution_at(const struct stuff_shelf *shelf, size_t i);
const struct stuff_season *stuff_season_at(const struct stuff_shelf *shelf, size_t i);

/* Finds a caution whose hazard contains the word; NULL if none. */
const struct stuff_caution *stuff_caution_find(const struct stuff_shelf *shelf, const char *word);

/* Factor from a unit of the tables to house units (mm, N, MPa, g, s, fractions); NAN when the
 * unit is not one of them. */
double stuff_unit_factor(const char *unit);

#endif
