/* four: four numbers side by side, wherever they lie (inside num only). The compiler makes one
 * vector or four scalars of it: the sums have the same order and bits either way. */
#ifndef RELICT_NUM_FOUR_H
#define RELICT_NUM_FOUR_H

typedef double num_four __attribute__((vector_size(32), aligned(8), may_alias));

/* By address: a vector is no argument on every machine. */
#define NUM_FOUR(p) (*(const num_four *)(p))

static inline double num_four_sum(const num_four *v) {
    return ((*v)[0] + (*v)[1]) + ((*v)[2] + (*v)[3]);
}

#endif
