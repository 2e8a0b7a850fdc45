/* shelf: what a stuff_shelf is made of; for the files of stuff/ only. */
#ifndef RELICT_STUFF_SHELF_H
#define RELICT_STUFF_SHELF_H

#include "base/arena.h"
#include "stuff/table.h"
#include "stuff/wood.h"

enum { STUFF_OWN_MOST = 256 };

struct stuff_shelf {
    struct arena *arena; /* owns everything, this struct too */
    struct stuff_fact *facts;
    size_t n_facts;
    struct stuff_species *species;
    size_t n_species;
    struct stuff_caution *cautions;
    size_t n_cautions;
    struct stuff_season *seasons;
    size_t n_seasons;
    struct stuff_fact own[STUFF_OWN_MOST];
    size_t n_own;
};

#endif
