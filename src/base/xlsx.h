/* xlsx: reads the first sheet of a spreadsheet (ECMA-376 Office Open XML, .xlsx) as a table of
 * texts, like csv.h gives.
 *
 * Bounded on purpose: number of parts, their unpacked size, how much smaller they were packed,
 * depth of the XML, rows, columns. Document types and entities are refused. Formulas give their
 * stored value; numbers are written with up to 15 digits, dates as ISO 8601, true and false as
 * words. Merged cells have their value in the first. Nothing is written to disk. Thread-safe.
 */
#ifndef RELICT_BASE_XLSX_H
#define RELICT_BASE_XLSX_H

#include "base/csv.h"

/* Whether the bytes begin like a packed spreadsheet (any ZIP file does). */
int xlsx_is(const void *bytes, size_t n);

/* Reads the first sheet. Rows without any text are left out; row->line is the row number in the
 * sheet. Everything lives in the arena. *sheet (may be NULL): its name. */
int xlsx_read(struct csv_table *out, const char **sheet, const void *bytes, size_t n,
              struct arena *arena, struct error *err);

#endif
