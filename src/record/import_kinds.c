/* import_kinds: descriptors of maps, rows set aside and reports. */
#include "record/import.h"
#include "remains/find.h"

#define AT(of, member) .name = #member, .offset = offsetof(struct of, member)
#define TEXT(of, member, words, tip)                                                               \
    { AT(of, member), .label = words, .type = FIELD_TEXT, .help = tip }
#define COUNT(of, member, words, tip)                                                              \
    { AT(of, member), .label = words, .type = FIELD_INT, .help = tip }

const char *const import_as_words[] = {
    "ignore",  "id",        "part", "material", "taxon",     "confidence", "zone",
    "state",   "treatment", "day",  "size",     "tolerance", "end",        "edge",
    "method",  "observer",  "date", "face",     "direction", "ring angle", "source",
    "same as", "joins",     "note", NULL};

static const struct field column_fields[] = {
    {AT(import_column, heading), .label = "Heading", .type = FIELD_TEXT, .required = true,
     .help = "The heading as it stands in the list.", .example = "length_mm"},
    {AT(import_column, as), .label = "Holds", .type = FIELD_CHOICE, .choices = import_as_words,
     .required = true, .help = "What the column holds.", .example = "size"},
    {AT(import_column, quantity), .label = "Quantity", .type = FIELD_CHOICE,
     .choices = quantity_words, .help = "Which size, or the size that a tolerance is for.",
     .example = "length"},
    TEXT(import_column, unit, "Unit", "mm, cm, m, in, degrees, g, kg, percent; empty for counts."),
    {AT(import_column, tolerance), .label = "±", .type = FIELD_REAL, .min = 0, .max = 1e4,
     .help = "Of every value in this column, in its unit; goes before the column of tolerances.",
     .example = "0.5"},
    {AT(import_column, direction), .label = "Direction", .type = FIELD_CHOICE,
     .choices = direction_words, .help = "Of these sizes against the grain, where it is known."},
    TEXT(import_column, why, "Why", "How the proposal came about."),
};
static const struct kind column_kind = {"column", "A column of a list",
                                        sizeof(struct import_column), FIELDS(column_fields), ""};

static const struct field word_fields[] = {
    {AT(import_word, of), .label = "Of", .type = FIELD_TEXT, .required = true,
     .help = "state, confidence, end, face, direction or substance.", .example = "state"},
    {AT(import_word, from), .label = "As written", .type = FIELD_TEXT, .required = true,
     .help = "The word in the list.", .example = "after freeze-drying"},
    {AT(import_word, to), .label = "Stands for", .type = FIELD_TEXT, .required = true,
     .help = "Our word for it.", .example = "after treatment"},
    TEXT(import_word, treatment, "Treatment", "For a state after treatment: which."),
};
static const struct kind word_kind = {"word", "A word of a list", sizeof(struct import_word),
                                      FIELDS(word_fields), ""};

static const struct field map_fields[] = {
    {AT(import_map, separator), .label = "Separator", .type = FIELD_TEXT, .preset = ",",
     .help = "The sign between cells: comma or semicolon.", .example = ","},
    {AT(import_map, decimal_comma), .label = "Decimal comma", .type = FIELD_FLAG, .preset = "no",
     .help = "Yes: 13,2 is thirteen and a fifth.", .example = "false"},
    {AT(import_map, columns), .label = "Columns", .type = FIELD_RECORDS, .sub = &column_kind,
     .required = true, .help = "What each column holds."},
    {AT(import_map, words), .label = "Words", .type = FIELD_RECORDS, .sub = &word_kind,
     .help = "What words in the cells stand for."},
    {AT(import_map, tolerance_means), .label = "± means", .type = FIELD_CHOICE,
     .choices = tolerance_words, .preset = "5 to 95 %", .help = "How all ± are to be read."},
    TEXT(import_map, observer, "Observer", "Who measured, where no column says it."),
    {AT(import_map, date), .label = "Date", .type = FIELD_DATE,
     .help = "When, where no column says it."},
    TEXT(import_map, method, "Method", "How, where no column says it."),
    TEXT(import_map, treatment, "Treatment", "Which, for states after treatment."),
};
const struct kind import_map_kind = {
    "import_map", "How a list is read", sizeof(struct import_map), FIELDS(map_fields),
    "Proposed from headings and cells; a person corrects it. Its id is that of the kept file."};

static const struct field problem_fields[] = {
    TEXT(import_problem, column, "Column", "Heading of the column."),
    TEXT(import_problem, value, "Value", "What stands there."),
    {AT(import_problem, reason), .label = "Reason", .type = FIELD_TEXT, .required = true,
     .help = "Why it cannot be taken."},
    TEXT(import_problem, suggestion, "Suggestion", "What it may have been meant to be."),
    {AT(import_problem, doubt), .label = "Doubt", .type = FIELD_FLAG, .preset = "no",
     .help = "Yes: it is possible, but unlikely, and may be taken as it is."},
};
static const struct kind problem_kind = {"problem", "What is wrong with a row",
                                         sizeof(struct import_problem), FIELDS(problem_fields), ""};

static const struct field aside_fields[] = {
    {AT(set_aside, id), .label = "Id", .type = FIELD_TEXT, .required = true,
     .help = "File and row."},
    {AT(set_aside, file), .label = "File", .type = FIELD_TEXT, .required = true, .refers = "file",
     .help = "The kept file; its map has the same id."},
    {AT(set_aside, row), .label = "Row", .type = FIELD_INT, .required = true, .min = 1, .max = 1e9,
     .help = "Row in the file, the heading being row 1."},
    {AT(set_aside, headings), .label = "Headings", .type = FIELD_TEXTS, .help = "Of the list."},
    {AT(set_aside, cells), .label = "Cells", .type = FIELD_TEXTS, .help = "As they were written."},
    {AT(set_aside, problems), .label = "Problems", .type = FIELD_RECORDS, .sub = &problem_kind,
     .help = "What is wrong, each with a suggestion."},
    {AT(set_aside, mended), .label = "Mended", .type = FIELD_TEXTS,
     .help = "What was altered to release it."},
};
const struct kind set_aside_kind = {"set_aside", "A row set aside", sizeof(struct set_aside),
                                    FIELDS(aside_fields),
                                    "Kept until a person mends it; then that one is released."};

static const struct field total_fields[] = {
    TEXT(import_total, part, "Part", "What the pieces are taken for."),
    TEXT(import_total, state, "State", "When they were measured; never added across states."),
    COUNT(import_total, rows, "Rows", "Rows taken in."),
    COUNT(import_total, rows_with, "Rows with those set aside", "All rows of the list."),
    {AT(import_total, length), .label = "Length", .unit = "mm", .type = FIELD_REAL,
     .help = "Sum over the rows taken in."},
    {AT(import_total, length_with), .label = "Length with those set aside", .unit = "mm",
     .type = FIELD_REAL, .help = "Sum over all rows, values as written."},
};
static const struct kind total_kind = {"total", "A sum with and without",
                                       sizeof(struct import_total), FIELDS(total_fields), ""};

static const struct field report_fields[] = {
    TEXT(import_report, file, "File", "Id of the kept file."),
    COUNT(import_report, change, "Change", "The change that brought it in; undo takes it back."),
    COUNT(import_report, rows, "Rows", "In the list."),
    COUNT(import_report, accepted, "Taken in", "Rows."),
    COUNT(import_report, held, "Set aside", "Rows."),
    COUNT(import_report, pieces, "Pieces", "Made."),
    COUNT(import_report, measures, "Measures", "Made."),
    COUNT(import_report, marks, "Marks", "Made."),
    {AT(import_report, held_rows), .label = "Rows set aside", .type = FIELD_RECORDS,
     .sub = &set_aside_kind, .help = "With reason and suggestion."},
    {AT(import_report, totals), .label = "Totals", .type = FIELD_RECORDS, .sub = &total_kind,
     .help = "Without and with the rows set aside."},
    {AT(import_report, remarks), .label = "Remarks", .type = FIELD_TEXTS,
     .help = "What was read with a reservation."},
};
const struct kind import_report_kind = {"import_report", "What came of bringing a list in",
                                        sizeof(struct import_report), FIELDS(report_fields), ""};
