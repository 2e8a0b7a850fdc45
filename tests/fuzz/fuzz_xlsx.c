/* Any bytes as a spreadsheet. */
#include "base/xlsx.h"

#include <stdint.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n) {
    struct arena *a = arena_new();
    struct csv_table table;
    struct error err = {0};
    xlsx_read(&table, NULL, bytes, n, a, &err);
    arena_free(a);
    return 0;
}
