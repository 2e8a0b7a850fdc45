/* random: numbers that look random and are a pure function of (seed, name, index, position).
 *
 * Philox 4x32 with ten rounds (Salmon, Moraes, Dror & Shaw, "Parallel random numbers: as easy as
 * 1, 2, 3", SC'11, 2011). The key is made of the project's seed and a hash of a name ("outline",
 * "shrink.bark.around"); the counter holds an index (a row, a trial) and the position in that
 * stream. So any thread may draw row 817 without drawing the 816 before it, and nothing asked for
 * earlier changes what comes later. No global state; a `struct num_random` belongs to one thread.
 *
 *     struct num_random r;
 *     num_random_begin(&r, seed, num_hash("outline.move"), row);
 *     double u = num_random_uniform(&r);
 */
#ifndef RELICT_NUM_RANDOM_H
#define RELICT_NUM_RANDOM_H

#include <stddef.h>
#include <stdint.h>

struct num_random {
    uint32_t key[2];
    uint32_t counter[4]; /* position low, position high, index low, index high */
    uint32_t block[4];   /* the words of the present block */
    unsigned used;       /* words of the block already handed out, 4 = all */
};

/* Ten rounds of Philox 4x32 on one counter. */
void num_philox(const uint32_t counter[4], const uint32_t key[2], uint32_t out[4]);

/* 64 bits from a text: FNV-1a (Fowler, Noll & Vo; IETF draft-eastlake-fnv), then a finalising mix
 * so that names that differ in the last letter differ in every bit. */
uint64_t num_hash(const char *text);

/* Joins two 64-bit values into one; not symmetric. */
uint64_t num_hash_join(uint64_t a, uint64_t b);

/* Begins the stream (seed, name, index) at its first number. */
void num_random_begin(struct num_random *r, uint64_t seed, uint64_t name, uint64_t index);

uint32_t num_random_bits(struct num_random *r);

/* Uniform in the open interval (0, 1): (k + 1/2) / 2^53, never 0 or 1. */
double num_random_uniform(struct num_random *r);

/* Standard normal, by the inverse of the distribution function (one uniform each). */
double num_random_normal(struct num_random *r);

/* Whole number in [0, n), exactly uniform; n >= 1. */
uint64_t num_random_below(struct num_random *r, uint64_t n);

/* Fills p[n] with a random permutation of 0 .. n-1. */
void num_random_permutation(struct num_random *r, size_t *p, size_t n);

#endif
