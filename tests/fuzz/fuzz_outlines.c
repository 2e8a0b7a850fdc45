/* Any bytes as outlines of pieces in GeoJSON: all of it comes in, or nothing and a reason. */
#include "record/import.h"

#include "fuzz_scratch.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n) {
    struct record *r = job_record(scratch(400));
    struct arena *a = arena_new();
    struct import_more more = {.name = "o.geojson",
                               .bytes = bytes,
                               .n = n,
                               .who = "tester",
                               .when = "2026-05-01",
                               .why = ""};
    struct error err = {0};
    long count, before = record_revision(r);
    if (import_outlines(&count, NULL, r, &more, NULL, a, &err)) {
        if (!*err.message || record_revision(r) != before) abort();
    }
    arena_free(a);
    return 0;
}
