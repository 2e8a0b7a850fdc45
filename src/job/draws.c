#include "job/draws.h"

#include "base/sha256.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* The file: "relict draws 1\n", the key and a line end, the hash of the bytes and a line end, the
 * bytes. */
static const char head[] = "relict draws 1\n";
enum { HEAD = sizeof head - 1, KEY = SHA256_TEXT - 1, PREFIX = HEAD + 2 * (KEY + 1) };

static void name_of(char *name, size_t size, const char *project, const char *step,
                    const char *suffix) {
    snprintf(name, size, "%s-draws-%s%s", project, step, suffix);
}

static char *read_all(const char *name, size_t *n) {
    FILE *f = fopen(name, "rb");
    if (!f) return NULL;
    char *bytes = NULL;
    if (fseek(f, 0, SEEK_END) == 0) {
        long size = ftell(f);
        rewind(f);
        if (size > PREFIX && (bytes = malloc((size_t)size))) *n = fread(bytes, 1, (size_t)size, f);
    }
    fclose(f);
    return bytes;
}

void draws_load(struct num_rows **out, const char *project, const char *step, const char *key) {
    *out = NULL;
    char name[4096], hash[SHA256_TEXT];
    size_t n = 0;
    name_of(name, sizeof name, project, step, "");
    char *bytes = read_all(name, &n);
    if (bytes && n > PREFIX && memcmp(bytes, head, HEAD) == 0 &&
        memcmp(bytes + HEAD, key, KEY) == 0) {
        sha256_text(bytes + PREFIX, n - PREFIX, hash);
        if (memcmp(bytes + HEAD + KEY + 1, hash, KEY) == 0 &&
            num_rows_load(out, bytes + PREFIX, n - PREFIX, NULL))
            *out = NULL;
    }
    free(bytes);
}

void draws_save(const struct num_rows *rows, const char *project, const char *step,
                const char *key) {
    struct arena *arena = arena_new();
    char *bytes = NULL, name[4096], part[4096], hash[SHA256_TEXT];
    size_t n = 0;
    if (arena && num_rows_save(rows, &bytes, &n, arena, NULL) == 0) {
        name_of(name, sizeof name, project, step, "");
        name_of(part, sizeof part, project, step, ".part");
        sha256_text(bytes, n, hash);
        FILE *f = fopen(part, "wb");
        if (f) {
            bool good =
                fprintf(f, "%s%s\n%s\n", head, key, hash) == PREFIX && fwrite(bytes, 1, n, f) == n;
            good = fclose(f) == 0 && good;
            if (!good || rename(part, name)) unlink(part);
        }
    }
    arena_free(arena);
}
