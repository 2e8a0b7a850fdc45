/* Any bytes as a formula of x and y: read, worked out, its slope taken. */
#include "num/formula.h"

#include <stdint.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n) {
    static const char *const names[] = {"x", "y"};
    static const double at[] = {1.5, -0.25};
    static const size_t by[] = {0, 1};
    if (n > 4096) return 0;
    char text[4097];
    memcpy(text, bytes, n);
    text[n] = 0;
    struct arena *a = arena_new();
    struct num_formula *f;
    struct error err = {0};
    double slopes[2];
    if (num_formula_read(&f, text, names, 2, a, &err) == 0) {
        num_formula_value(f, at);
        num_formula_slopes(f, at, by, 2, slopes);
    }
    arena_free(a);
    return 0;
}
