/* Parts of a made-up making, for tests of job/. */
#ifndef RELICT_TESTS_MADE_UP_PARTS_H
#define RELICT_TESTS_MADE_UP_PARTS_H

#include "making/making.h"

#include "check.h"

/* The edge of a rectangular sheet, mm. */
static const double corners[8] = {-100, -50, 100, -50, 100, 50, -100, 50};

static inline struct part blank(long kind, const char *id) {
    struct part p;
    field_unknown(&part_kind_kind, &p);
    p.kind = kind;
    p.id = p.name = id;
    p.making = "m";
    p.footing = FOOTING_GUESSED;
    return p;
}

#endif
