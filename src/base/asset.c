#include "base/asset.h"

#include <string.h>

struct asset {
    const char *name, *begin, *end;
};

extern const struct asset asset_table[]; /* written by data/embed.sh; ends with a NULL name */

const char *asset_find(const char *name, size_t *size) {
    for (const struct asset *a = asset_table; a->name; a++)
        if (strcmp(a->name, name) == 0) {
            if (size) *size = (size_t)(a->end - a->begin);
            return a->begin;
        }
    return NULL;
}

const char *asset_name(size_t i) {
    return asset_table[i].name;
}
