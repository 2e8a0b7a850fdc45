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

/* e^x of four numbers of 0 or less, in place, to some 2e-16 of it; 0 below -700. x = k ln 2 + r
 * with ln 2 in two parts, then Taylor's series to r^13 (|r| < 0.347: the next term is below 5e-18).
 */
static inline void num_four_exp(num_four *x) {
    typedef long long four_whole __attribute__((vector_size(32), aligned(8), may_alias));
    const double round = 0x1.8p52; /* added, it leaves whole numbers only */
    const double to_two = 0x1.71547652b82fep0, high = 0x1.62e42fefa38p-1,
                 low = 0x1.ef35793c7673p-45;
    four_whole tiny = *x < -700.0;
    num_four v = (num_four)((four_whole)*x & ~tiny), k = v * to_two + round, p;
    four_whole power = (four_whole)k << 52;
    k -= round;
    num_four r = (v - k * high) - k * low;
    static const double term[] = {1 / 6227020800.0,
                                  1 / 479001600.0,
                                  1 / 39916800.0,
                                  1 / 3628800.0,
                                  1 / 362880.0,
                                  1 / 40320.0,
                                  1 / 5040.0,
                                  1 / 720.0,
                                  1 / 120.0,
                                  1 / 24.0,
                                  1 / 6.0,
                                  0.5,
                                  1,
                                  1};
    p = (num_four){term[0], term[0], term[0], term[0]};
    for (int i = 1; i < 14; i++)
        p = p * r + term[i];
    *x = (num_four)(((four_whole)p + power) & ~tiny); /* times 2^k, by the exponent */
}

#endif
