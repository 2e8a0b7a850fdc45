/* alteration: how far a piece has changed size between two states, known beforehand.
 *
 * For sizes of remains: a prior of the loss s in measured = original (1 - s), per class of
 * material, direction, treatment and decay. Steps are put together by their factors (fresh to
 * waterlogged, then treated or dried). It is a prior: the object's own rulers and a user's own
 * figures narrow it. Wood's figures are refused for bark, bast and hide, and the other way round. A
 * swelling is a negative loss. Thread-safe; texts are borrowed from the shelf or lie in the struct.
 *
 *     struct stuff_change c = stuff_change("Corylus avellana (split rod)", "fresh", "after
 * treatment"); c.direction = STUFF_AROUND; c.treatment = "freeze-dried"; struct stuff_alteration a;
 *     if (stuff_alteration_prior(&a, shelf, &c, err)) ...
 */
#ifndef RELICT_STUFF_ALTERATION_H
#define RELICT_STUFF_ALTERATION_H

#include "stuff/material.h"

enum stuff_decay { STUFF_DECAY_SLIGHT, STUFF_DECAY_MIDDLE, STUFF_DECAY_BAD };
extern const char *const stuff_decay_words[];

struct stuff_change {
    const char *material; /* as in a finds list */
    long class;           /* enum stuff_class; FIELD_UNKNOWN: read from the text */
    long layer;           /* enum stuff_layer for bark */
    long direction;       /* enum stuff_direction; FIELD_UNKNOWN: across, wide */
    double ring_angle; /* rad from around towards through, of the measured direction; NAN unknown */
    const char *from, *to; /* "fresh", "new and dry", "in ground", "wet in lab", "after treatment",
                              "dried before treatment", "part-dried" */
    const char *treatment; /* "PEG, freeze-dried"; NULL unknown */
    long decay;            /* enum stuff_decay of waterlogged wood; FIELD_UNKNOWN */
    double moisture_new;   /* fraction, of the piece when new and dry; NAN: 0.12 */
    const char *figures;   /* whose figures somebody wants used; NULL: the material's own */
};

struct stuff_alteration {
    struct stuff_prior loss; /* s in measured = original (1 - s) */
    double log_mean, log_sd; /* of ln(measured / original), for arithmetic in logarithms */
    char steps[320];         /* what was put together, in words */
};

/* A change with everything else unknown. */
struct stuff_change stuff_change(const char *material, const char *from, const char *to);

/* Gives the prior loss. ERR_REFUSED when figures of another class are asked for, or from a state
 * that is not an original one; ERR_MISSING when state or material is unknown. */
int stuff_alteration_prior(struct stuff_alteration *out, const struct stuff_shelf *shelf,
                           const struct stuff_change *change, struct error *err);

#endif
