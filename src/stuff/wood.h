/* wood: species, and handbook figures for a species with what stands in when there is none.
 *
 * A figure is looked for in this order, and how far it had to go is said and widens it: the
 * species; the average of its genus; other species of the genus; all hardwoods or softwoods of the
 * tables. Only for wood: bark, bast and hide have their own files and are never given wood's
 * figures. All texts are borrowed from the shelf. Thread-safe.
 */
#ifndef RELICT_STUFF_WOOD_H
#define RELICT_STUFF_WOOD_H

#include "base/error.h"
#include "stuff/table.h"

#include <stdbool.h>

struct stuff_species {
    const char *name;  /* "willow, black"; as the tables have it */
    const char *latin; /* "Salix nigra"; "Salix spp." for a genus */
    const char *genus;
    const char *also; /* other names, separated by "; " */
    bool softwood;
    bool whole_genus;
};

/* What a name was taken for. */
struct stuff_taxon {
    const struct stuff_species *species; /* NULL: nothing known */
    bool exact;                          /* false: only the genus was recognised */
};

/* Recognises "Corylus avellana (split rod)", "Salix sp.", "lime", "oak, white". */
struct stuff_taxon stuff_taxon_find(const struct stuff_shelf *shelf, const char *text);

/* The i-th species, NULL after the last. */
const struct stuff_species *stuff_species_at(const struct stuff_shelf *shelf, size_t i);

/* How far a figure was fetched. */
enum stuff_reach { STUFF_OF_SPECIES, STUFF_OF_GENUS, STUFF_OF_RELATIVES, STUFF_OF_KIND };

/* A figure of a wood: lognormal about `median` (house units). */
struct stuff_wood_figure {
    double median;
    double log_sd;  /* within the species, and between species when it was fetched from afar */
    long standing;  /* enum standing, lowered to analogy or guess with the reach */
    long reach;     /* enum stuff_reach */
    size_t species; /* how many species it rests on */
    const struct stuff_fact *fact; /* the row, or the first of them */
};

/* Looks up `quantity` ("shrinkage", "E_bending", "rupture_modulus", "specific_gravity",
 * "compression_along", "compression_across", "shear_along", "elastic_ratio", "poisson_ratio") in
 * `direction` (NULL: any) under `condition` ("green", "12% MC"; NULL: any). ERR_MISSING when no
 * wood has it. Within-species spread: coefficients of variation of the Wood Handbook. */
int stuff_wood_figure(struct stuff_wood_figure *out, const struct stuff_shelf *shelf,
                      struct stuff_taxon taxon, const char *quantity, const char *direction,
                      const char *condition, struct error *err);

/* Moisture fraction at which strength begins to change on drying (Mp, Wood Handbook Table 5-13;
 * 0.25 for a species not listed). */
double stuff_wood_intersection(const struct stuff_shelf *shelf, struct stuff_taxon taxon);

#endif
