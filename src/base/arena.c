#include "base/arena.h"

#include "base/mem.h"

#include <stdalign.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

/* Blocks form a list, newest first; each is followed by its bytes. */
struct block {
    struct block *next;
    size_t size, used;
    alignas(max_align_t) unsigned char bytes[];
};

struct arena {
    struct block *blocks;
    size_t total; /* bytes handed out */
    bool failed;
};

enum { FIRST_BLOCK = 4096, LARGEST_STEP = 1 << 20 };

struct arena *arena_new(void) {
    return mem_alloc(1, sizeof(struct arena));
}

void arena_free(struct arena *arena) {
    if (!arena) return;
    for (struct block *b = arena->blocks; b;) {
        struct block *next = b->next;
        mem_free(b);
        b = next;
    }
    mem_free(arena);
}

static struct block *more(struct arena *arena, size_t bytes) {
    size_t grow = arena->blocks ? arena->blocks->size * 2 : FIRST_BLOCK;
    if (grow > LARGEST_STEP) grow = LARGEST_STEP;
    if (grow < bytes) grow = bytes;
    struct block *b = mem_alloc(1, sizeof *b + grow);
    if (!b) return NULL;
    b->size = grow;
    b->next = arena->blocks;
    arena->blocks = b;
    return b;
}

void *arena_alloc(struct arena *arena, size_t count, size_t size) {
    size_t step = alignof(max_align_t), bytes = 0;
    struct block *b = NULL;
    if (!mem_piece_fails() && !(size && count > (SIZE_MAX / 2) / size)) {
        bytes = (count * size + step - 1) / step * step;
        if (bytes == 0) bytes = step;
        b = arena->blocks;
        if (!b || b->size - b->used < bytes) b = more(arena, bytes);
    }
    if (!b) {
        arena->failed = true;
        return NULL;
    }
    void *p = b->bytes + b->used;
    b->used += bytes;
    arena->total += bytes;
    return p;
}

char *arena_copy(struct arena *arena, const void *bytes, size_t n) {
    if (n == SIZE_MAX) return NULL;
    char *p = arena_alloc(arena, n + 1, 1);
    if (p && n) memcpy(p, bytes, n);
    return p;
}

char *arena_strdup(struct arena *arena, const char *text) {
    return text ? arena_copy(arena, text, strlen(text)) : NULL;
}

char *arena_printf(struct arena *arena, const char *format, ...) {
    va_list args, again;
    va_start(args, format);
    va_copy(again, args);
    int n = vsnprintf(NULL, 0, format, args);
    char *p = n < 0 ? NULL : arena_alloc(arena, (size_t)n + 1, 1);
    if (p) vsnprintf(p, (size_t)n + 1, format, again);
    va_end(again);
    va_end(args);
    return p;
}

bool arena_failed(const struct arena *arena) {
    return arena->failed;
}

size_t arena_used(const struct arena *arena) {
    return arena->total;
}
