#include "base/mem.h"

#include <stdatomic.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

static atomic_long asked;
static atomic_long fail_at; /* 0: never */
static atomic_int pieces;   /* pieces of arenas count too */
static atomic_long refused; /* allocations that failed */
static int (*_Atomic first_ask)(void);

static int must_fail(void) {
    long now = atomic_fetch_add(&asked, 1) + 1;
    int (*ask)(void) = atomic_load_explicit(&first_ask, memory_order_relaxed);
    return atomic_load(&fail_at) == now || (ask && ask());
}

static void *noted(void *p) {
    if (!p) atomic_fetch_add(&refused, 1);
    return p;
}

void *mem_alloc(size_t count, size_t size) {
    if (must_fail()) return noted(NULL);
    if (count == 0 || size == 0) count = size = 1;
    if (count > SIZE_MAX / size) return noted(NULL);
    return noted(calloc(count, size));
}

void *mem_bytes(size_t n) {
    if (must_fail()) return noted(NULL);
    return noted(malloc(n ? n : 1));
}

void *mem_resize(void *old, size_t count, size_t size) {
    if (must_fail()) return noted(NULL);
    if (size != 0 && count > SIZE_MAX / size) return noted(NULL);
    size_t bytes = count * size;
    return noted(realloc(old, bytes ? bytes : 1));
}

char *mem_strdup(const char *text) {
    if (!text) return NULL;
    size_t n = strlen(text) + 1;
    char *copy = mem_alloc(n, 1);
    if (copy) memcpy(copy, text, n);
    return copy;
}

void mem_free(void *p) {
    free(p);
}

void mem_fail_nth(long nth) {
    atomic_store(&fail_at, nth > 0 ? atomic_load(&asked) + nth : 0);
}

void mem_fail_pieces(int too) {
    atomic_store(&pieces, too);
}

void mem_ask_first(int (*must_fail_now)(void)) {
    atomic_store(&first_ask, must_fail_now);
}

int mem_piece_fails(void) {
    int fails = atomic_load_explicit(&pieces, memory_order_relaxed) && must_fail();
    if (fails) atomic_fetch_add(&refused, 1);
    return fails;
}

long mem_failures(void) {
    return atomic_load(&refused);
}

long mem_count(void) {
    return atomic_load(&asked);
}
