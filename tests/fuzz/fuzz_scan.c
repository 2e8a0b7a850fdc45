/* Any bytes as a scan (PLY, STL, OBJ): read, and what was read must be whole. */
#include "trial/scan.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n) {
    struct arena *a = arena_new();
    struct scan s;
    struct error err = {0};
    if (scan_read(&s, (const char *)bytes, n, 1, a, &err) == 0) {
        for (size_t i = 0; i < 3 * s.n; i++)
            if (!isfinite(s.xyz[i])) abort();
        for (size_t i = 0; i < 3 * s.triangles; i++)
            if (s.corner[i] >= s.n) abort();
    } else if (!*err.message)
        abort();
    arena_free(a);
    return 0;
}
