#include "record/names.h"

#include "base/mem.h"

#include <stdint.h>
#include <string.h>

/* Open addressing, at most two thirds full; room is a power of two. */
struct names {
    struct slot {
        const char *text; /* NULL: empty */
        uint64_t hash;
        size_t number;
    } * slots;
    size_t n, room;
};

struct names *names_new(void) {
    return MEM_NEW(struct names, 1);
}

void names_free(struct names *names) {
    if (!names) return;
    mem_free(names->slots);
    mem_free(names);
}

/* FNV-1a, 64 bits (Fowler, Noll, Vo; constants in draft-eastlake-fnv). */
static uint64_t hash_of(const char *text) {
    uint64_t h = 14695981039346656037ull;
    for (; *text; text++)
        h = (h ^ (unsigned char)*text) * 1099511628211ull;
    return h ^ h >> 29;
}

static struct slot *place(const struct names *names, const char *text, uint64_t hash) {
    size_t i = (size_t)hash & (names->room - 1);
    while (names->slots[i].text &&
           (names->slots[i].hash != hash || strcmp(names->slots[i].text, text) != 0))
        i = (i + 1) & (names->room - 1);
    return &names->slots[i];
}

static bool make_room(struct names *names) {
    if (3 * (names->n + 1) < 2 * names->room) return true;
    struct names more = {.n = names->n, .room = names->room ? 2 * names->room : 64};
    more.slots = MEM_NEW(struct slot, more.room);
    if (!more.slots) return false;
    for (size_t i = 0; i < names->room; i++)
        if (names->slots[i].text)
            *place(&more, names->slots[i].text, names->slots[i].hash) = names->slots[i];
    mem_free(names->slots);
    *names = more;
    return true;
}

int names_add(struct names *names, const char *text, size_t *number) {
    if (!make_room(names)) return -1;
    uint64_t hash = hash_of(text);
    struct slot *s = place(names, text, hash);
    if (s->text) {
        *number = s->number;
        return 0;
    }
    *s = (struct slot){text, hash, *number};
    names->n++;
    return 1;
}

bool names_find(const struct names *names, const char *text, size_t *number) {
    if (names->n == 0) return false;
    const struct slot *s = place(names, text, hash_of(text));
    if (s->text && number) *number = s->number;
    return s->text != NULL;
}

size_t names_count(const struct names *names) {
    return names->n;
}
