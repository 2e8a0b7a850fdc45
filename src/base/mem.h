/* mem: the program's own allocations, so that a test can make the n-th one fail.
 *
 * Every room allocates through here (or through an arena, which does). Memory is zeroed; sizes go
 * through one checked multiply. A failed allocation returns NULL and the caller returns
 * fail_memory(err). Thread-safe.
 */
#ifndef RELICT_BASE_MEM_H
#define RELICT_BASE_MEM_H

#include <stddef.h>

/* Returns count * size zeroed bytes, or NULL when memory is gone or the product overflows.
 * A zero request yields a valid pointer. Free with mem_free. */
void *mem_alloc(size_t count, size_t size);

/* Resizes to count * size bytes; what lies beyond the old size is NOT zeroed. On failure returns
 * NULL and `old` stays valid. */
void *mem_resize(void *old, size_t count, size_t size);

/* Returns n bytes that are NOT zeroed, or NULL: for libraries that ask for malloc's shape. */
void *mem_bytes(size_t n);

/* Copies a string; NULL gives NULL. */
char *mem_strdup(const char *text);

/* Frees; NULL is fine. */
void mem_free(void *p);

/* How many allocations have failed since the program began. A computation during which one did is
 * refused as a whole, that no unknown number in it stands for memory that was gone. */
long mem_failures(void);

/* For tests: the `nth` allocation from now fails (1 = the next one), once. 0 switches it off. */
void mem_fail_nth(long nth);

/* For tests: pieces taken from arenas count as allocations too, and fail as they do. */
void mem_fail_pieces(int too);

/* For tests: asked before each allocation (and each piece, see above); a non-zero answer makes it
 * fail. NULL switches it off. */
void mem_ask_first(int (*must_fail_now)(void));

/* Arenas ask before they hand out a piece: must it fail? */
int mem_piece_fails(void);

/* For tests: how many allocations were asked for since the program began. */
long mem_count(void);

/* A typed array of n zeroed elements. */
#define MEM_NEW(type, n) ((type *)mem_alloc((n), sizeof(type)))

#endif
