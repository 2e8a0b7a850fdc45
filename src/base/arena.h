/* arena: memory that is born and dies together.
 *
 * A stage run, a request, a drawn page each get one; nothing in it is freed singly. Long-lived
 * things do not live in an arena; results are copied out on purpose. Not for two threads at once:
 * give each thread its own. Every call returns NULL when memory is gone; check, and return
 * fail_memory(err).
 *
 *     struct arena *a = arena_new();
 *     double *x = ARENA_NEW(a, double, n);
 *     arena_free(a);
 */
#ifndef RELICT_BASE_ARENA_H
#define RELICT_BASE_ARENA_H

#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>

struct arena;

/* Makes an empty arena; NULL when memory is gone. Free with arena_free. */
struct arena *arena_new(void);

/* Frees the arena and everything in it; NULL is fine. */
void arena_free(struct arena *arena);

/* Returns count * size zeroed bytes, aligned for any type. */
void *arena_alloc(struct arena *arena, size_t count, size_t size);

/* Copies a string, a run of bytes (a terminating 0 is added), or formats one. NULL gives NULL. */
char *arena_strdup(struct arena *arena, const char *text);
char *arena_copy(struct arena *arena, const void *bytes, size_t n);
char *arena_printf(struct arena *arena, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Was anything ever refused? Asked once at the end of a computation, so that no text or list is
 * missing from an answer because memory was. */
bool arena_failed(const struct arena *arena);

/* Bytes handed out so far. */
size_t arena_used(const struct arena *arena);

#define ARENA_NEW(arena, type, n) ((type *)arena_alloc((arena), (n), sizeof(type)))

#endif
