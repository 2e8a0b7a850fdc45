/* Any bytes as JSON of a kind (the first byte chooses): checked as for a put, written canonically,
 * decoded again to the same bytes. */
#include "record/canon.h"
#include "record/import.h"
#include "remains/find.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

static void once(const struct kind *kind, const json_t *json, struct canon_text *text) {
    struct arena *a = arena_new();
    void *body = arena_alloc(a, 1, kind->size);
    struct canon_kind *canon = canon_kind_new(kind);
    if (field_decode(kind, json, body, a, NULL) == 0 && canon_check(kind, body, NULL) == 0)
        canon_write(text, canon, body, NULL);
    canon_kind_free(canon);
    arena_free(a);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n) {
    const struct kind *const kinds[] = {&piece_kind,      &measure_kind,  &mark_kind_kind,
                                        &source_kind,     &choice_kind,   &piece_outline_kind,
                                        &import_map_kind, &set_aside_kind};
    if (n == 0) return 0;
    const struct kind *kind = kinds[*bytes % 8];
    json_t *json = json_loadb((const char *)bytes + 1, n - 1, JSON_REJECT_DUPLICATES, NULL);
    struct canon_text first = {0}, second = {0};
    if (json) once(kind, json, &first);
    json_decref(json);
    if (first.v) {
        json = json_loadb(first.v, first.n, JSON_REJECT_DUPLICATES, NULL);
        if (!json) abort();
        once(kind, json, &second);
        if (!second.v || strcmp(first.v, second.v) != 0) abort();
        json_decref(json);
    }
    canon_text_free(&first);
    canon_text_free(&second);
    return 0;
}
