/* sqlite_memory: SQLite takes its memory where a test says, for it to be counted or to end. Each
 * piece holds its size in the sixteen bytes before it. */
#ifndef RELICT_TESTS_SQLITE_MEMORY_H
#define RELICT_TESTS_SQLITE_MEMORY_H

#include <sqlite3.h>
#include <stddef.h>

static inline int sq_size(void *p) {
    return p ? (int)((size_t *)p)[-2] : 0;
}
static inline int sq_round(int n) {
    return (n + 7) & ~7;
}
static inline int sq_init(void *p) {
    (void)p;
    return SQLITE_OK;
}
static inline void sq_end(void *p) {
    (void)p;
}

/* Call before SQLite is used. */
static inline int sq_memory_from(void *(*take)(int), void (*give)(void *),
                                 void *(*resize)(void *, int)) {
    const sqlite3_mem_methods methods = {take,     give,    resize, sq_size,
                                         sq_round, sq_init, sq_end, NULL};
    return sqlite3_config(SQLITE_CONFIG_MALLOC, &methods); /* which copies them */
}

#endif
