#include "num/random.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>

void openblas_set_num_threads(int threads); /* cblas.h of OpenBLAS; LAPACKE has no door to it */

/* GSL's own handler ends the program; ours is to look at what comes back. Several BLAS threads
 * would add in another order. Both are switched before main, once, because switching them around
 * each call would race between threads. */
__attribute__((constructor)) static void steady(void) {
    gsl_set_error_handler_off();
    openblas_set_num_threads(1);
}

/* Multipliers and Weyl increments: Salmon et al. 2011, section 4.3 (golden ratio and sqrt 3 - 1).
 */
#define PHILOX_M0 0xD2511F53u
#define PHILOX_M1 0xCD9E8D57u
#define PHILOX_W0 0x9E3779B9u
#define PHILOX_W1 0xBB67AE85u

void num_philox(const uint32_t counter[4], const uint32_t key[2], uint32_t out[4]) {
    uint32_t c0 = counter[0], c1 = counter[1], c2 = counter[2], c3 = counter[3];
    uint32_t k0 = key[0], k1 = key[1];
    for (int round = 0; round < 10; round++) {
        uint64_t p0 = (uint64_t)PHILOX_M0 * c0, p1 = (uint64_t)PHILOX_M1 * c2;
        uint32_t n0 = (uint32_t)(p1 >> 32) ^ c1 ^ k0, n2 = (uint32_t)(p0 >> 32) ^ c3 ^ k1;
        c1 = (uint32_t)p1;
        c3 = (uint32_t)p0;
        c0 = n0;
        c2 = n2;
        k0 += PHILOX_W0;
        k1 += PHILOX_W1;
    }
    out[0] = c0;
    out[1] = c1;
    out[2] = c2;
    out[3] = c3;
}

/* Finaliser of MurmurHash3 (Appleby, public domain): every input bit reaches every output bit. */
static uint64_t mix(uint64_t h) {
    h ^= h >> 33;
    h *= 0xff51afd7ed558ccdULL;
    h ^= h >> 33;
    h *= 0xc4ceb9fe1a85ec53ULL;
    h ^= h >> 33;
    return h;
}

uint64_t num_hash(const char *text) {
    uint64_t h = 0xcbf29ce484222325ULL; /* FNV-1a 64: offset basis and prime */
    for (const unsigned char *c = (const unsigned char *)text; *c; c++)
        h = (h ^ *c) * 0x100000001b3ULL;
    return mix(h);
}

uint64_t num_hash_join(uint64_t a, uint64_t b) {
    return mix(a ^ mix(b + 0x9e3779b97f4a7c15ULL));
}

void num_random_begin(struct num_random *r, uint64_t seed, uint64_t name, uint64_t index) {
    uint64_t key = num_hash_join(seed, name);
    r->key[0] = (uint32_t)key;
    r->key[1] = (uint32_t)(key >> 32);
    r->counter[0] = r->counter[1] = 0;
    r->counter[2] = (uint32_t)index;
    r->counter[3] = (uint32_t)(index >> 32);
    r->used = 4;
}

uint32_t num_random_bits(struct num_random *r) {
    if (r->used == 4) {
        num_philox(r->counter, r->key, r->block);
        if (++r->counter[0] == 0) r->counter[1]++;
        r->used = 0;
    }
    return r->block[r->used++];
}

double num_random_uniform(struct num_random *r) {
    uint64_t high = num_random_bits(r), low = num_random_bits(r);
    return ((double)((high << 32 | low) >> 11) + 0.5) * 0x1p-53;
}

double num_random_normal(struct num_random *r) {
    return gsl_cdf_ugaussian_Pinv(num_random_uniform(r));
}

uint64_t num_random_below(struct num_random *r, uint64_t n) {
    /* Throws away the short last run of 2^64, so that every value is equally likely. */
    uint64_t limit = UINT64_MAX - UINT64_MAX % n, v;
    do {
        v = (uint64_t)num_random_bits(r) << 32;
        v |= num_random_bits(r);
    } while (v >= limit);
    return v % n;
}

void num_random_permutation(struct num_random *r, size_t *p, size_t n) {
    for (size_t i = 0; i < n; i++)
        p[i] = i;
    /* Durstenfeld, CACM 7, 1964, 420 (algorithm 235). */
    for (size_t i = n; i-- > 1;) {
        size_t j = (size_t)num_random_below(r, i + 1), t = p[i];
        p[i] = p[j];
        p[j] = t;
    }
}
