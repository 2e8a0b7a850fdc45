/* Any bytes as a project file: opened as a stranger's, verified, every row read. */
#include "record/project.h"
#include "remains/find.h"

#include <stdint.h>
#include <stdio.h>
#include <unistd.h>

static int look(const struct record_entry *e, void *context, struct error *err) {
    (void)err;
    *(size_t *)context += e->body[0];
    return 0;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n) {
    char path[64];
    snprintf(path, sizeof path, "%s/relict-fuzz-%ld.relict",
             access("/dev/shm", W_OK) ? "/tmp" : "/dev/shm", (long)getpid());
    FILE *f = fopen(path, "wb");
    if (!f) return 0;
    fwrite(bytes, 1, n, f);
    fclose(f);
    static const struct kind *const kinds[] = {&piece_kind, &measure_kind};
    struct record_options options = {.kinds = kinds, .n_kinds = 2};
    struct record *r;
    struct error err = {0};
    if (record_open(&r, path, &options, &err) == 0) {
        struct record_checked checked;
        struct arena *a = arena_new();
        struct records list;
        size_t sum = 0;
        record_verify(&checked, r, NULL, NULL, &err);
        record_each(r, NULL, 0, look, &sum, &err);
        record_load(&list, NULL, r, &piece_kind, 0, a, &err);
        arena_free(a);
        record_close(r, NULL);
    }
    unlink(path);
    return 0;
}
