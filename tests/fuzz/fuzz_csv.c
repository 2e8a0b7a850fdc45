/* Any bytes as a finds list in CSV: read, a map proposed, each row read. */
#include "record/import_private.h"

#include <stdint.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n) {
    struct arena *a = arena_new();
    struct csv_table table;
    struct import_map map;
    struct error err = {0};
    if (csv_read(&table, (const char *)bytes, n, NULL, a, &err) == 0 &&
        import_propose(&map, &table, NULL, n % 2, a, &err) == 0) {
        const struct import_column *columns = map.columns.v;
        const struct import_column **used =
            ARENA_NEW(a, const struct import_column *, map.columns.n);
        for (size_t c = 0; c < map.columns.n; c++)
            used[c] = &columns[c];
        struct reading reading = {
            .map = &map, .columns = used, .n_columns = map.columns.n, .heading = &table.rows[0]};
        for (size_t r = 1; r < table.n; r++) {
            struct row_made row;
            import_row(&row, &reading, &table.rows[r], a);
        }
    }
    arena_free(a);
    return 0;
}
