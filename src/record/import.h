/* import: bringing evidence in. A wide finds list becomes pieces, measures and marks.
 *
 * A map says what each column is, in which unit, and what the words in it stand for. The program
 * proposes one (import_propose), a person corrects it as JSON. One row yields many measures, also
 * from the words of an end ("chamfered 12 mm at 35 deg") and, where it is safe, of a note. What is
 * unknown stays unknown. A row in which something is wrong is set aside whole, with row, column,
 * value, reason and suggestion, as an entry of kind "set_aside"; nothing is converted in silence;
 * mending one releases that one. The file itself is kept byte for byte.
 *
 * Every call here makes one change of its own, so that it can be undone as a whole.
 */
#ifndef RELICT_RECORD_IMPORT_H
#define RELICT_RECORD_IMPORT_H

#include "base/csv.h"
#include "record/project.h"

/* ---- the map -------------------------------------------------------------------------------- */

/* What a column holds. */
enum import_as {
    IMPORT_IGNORE,
    IMPORT_ID,
    IMPORT_PART,
    IMPORT_MATERIAL,
    IMPORT_TAXON,
    IMPORT_CONFIDENCE,
    IMPORT_ZONE,
    IMPORT_STATE,
    IMPORT_TREATMENT,
    IMPORT_DAY,
    IMPORT_SIZE,      /* of `quantity` */
    IMPORT_TOLERANCE, /* of `quantity`; of all sizes when none is named */
    IMPORT_END,       /* words for an end, between which the length runs */
    IMPORT_EDGE,      /* words for an edge, between which the width runs */
    IMPORT_METHOD,
    IMPORT_OBSERVER,
    IMPORT_DATE,
    IMPORT_FACE,
    IMPORT_DIRECTION,  /* of the length, against the grain */
    IMPORT_RING_ANGLE, /* degrees */
    IMPORT_SOURCE,
    IMPORT_SAME_AS,
    IMPORT_JOINS,
    IMPORT_NOTE,
    IMPORT_AS_COUNT
};
extern const char *const import_as_words[];

struct import_column {
    const char *heading; /* as it stands in the list */
    long as;             /* enum import_as */
    long quantity;       /* enum quantity, for sizes and tolerances */
    const char *unit;    /* "mm", "cm", "m", "in", "degrees", "g", "kg", "percent", "" */
    double tolerance;    /* ± of every value in this column, in its unit; NAN: none */
    long direction;      /* enum direction of these sizes; unknown: by what the piece is */
    const char *why;     /* how the proposal came about */
};

struct import_word {
    const char *of;        /* "state", "confidence", "end", "face", "direction", "substance" */
    const char *from, *to; /* as written; our word */
    const char *treatment; /* for states after treatment: which */
};

struct import_map {
    const char *separator;  /* "," or ";" */
    int decimal_comma;      /* 1: 13,2 is thirteen and a fifth */
    struct records columns; /* struct import_column */
    struct records words;   /* struct import_word */
    long tolerance_means;   /* enum tolerance_means of all ± in the list */
    const char *observer, *date, *method, *treatment; /* where no column says it */
};
extern const struct kind import_map_kind;

/* Reads a table by its first bytes: XLSX (first sheet) or CSV with the separator. What is neither
 * is refused with what it looks like. */
int import_table(struct csv_table *out, const char *name, const void *bytes, size_t n,
                 const char *separator, struct arena *arena, struct error *err);

/* Proposes a map from headings and cells. separator and decimal_comma are the person's switches
 * and are only written down. ERR_MISSING when no column can be the id. */
int import_propose(struct import_map *out, const struct csv_table *table, const char *separator,
                   bool decimal_comma, struct arena *arena, struct error *err);

/* ---- a finds list --------------------------------------------------------------------------- */

struct import_problem {
    const char *column, *value, *reason, *suggestion;
    int doubt; /* 1: possible, but unlikely; may be taken as it is */
};

/* A row set aside: an entry of kind "set_aside". */
struct set_aside {
    const char *id;   /* file and row */
    const char *file; /* id of the kept file; its map has the same id */
    long row;         /* in the file, from 1 */
    struct texts headings, cells;
    struct records problems; /* struct import_problem */
    struct texts mended;     /* "column: before -> after", once it is released */
};
extern const struct kind set_aside_kind;

/* Sum of lengths of one part in one state, without and with the rows set aside (their values as
 * written). Sizes of different states stand apart. */
struct import_total {
    const char *part, *state;
    long rows, rows_with;
    double length, length_with; /* mm */
};

struct import_report {
    const char *file; /* id of the kept file and of its map */
    long change;
    long rows, accepted, held;
    long pieces, measures, marks;
    struct records held_rows; /* struct set_aside */
    struct records totals;    /* struct import_total */
    struct texts remarks;     /* what was read with a reservation */
};
extern const struct kind import_report_kind;

struct import_list {
    const char *name; /* of the file */
    const void *bytes;
    size_t n;
    const struct import_map *map; /* NULL: as proposed */
    const char *separator;        /* when map is NULL; NULL: "," */
    bool decimal_comma;           /* when map is NULL */
    const char *who, *when, *why;
};

/* Brings a finds list in. ERR_CONFLICT when the very same file was brought in before. 100,000 rows
 * take seconds; everything or nothing is stored. */
int import_finds(struct import_report *out, struct record *record, const struct import_list *list,
                 struct arena *arena, struct error *err);

/* Mends a row set aside and takes it in, if nothing is wrong with it any more; otherwise ERR_INPUT
 * with the first problem left, and nothing is changed. cells: {heading: new text}; as_it_is: what
 * is merely unlikely is taken. */
int import_release(struct import_report *out, struct record *record, const char *id,
                   const json_t *cells, bool as_it_is, const char *who, const char *when,
                   const char *why, struct arena *arena, struct error *err);

/* The rows that are still set aside (held_rows), and sums by part and state with and without them;
 * `taken` is what the project holds. */
struct find;
int import_aside(struct import_report *out, struct record *record, const struct find *taken,
                 struct arena *arena, struct error *err);

/* ---- other evidence ------------------------------------------------------------------------- */

struct import_more {
    const char *name; /* of the file */
    const void *bytes;
    size_t n;
    const char *who, *when, *why;
    /* Completes an entry before it is put (what the program itself writes into it); may be NULL. */
    int (*complete)(json_t *body, struct record *record, const char *id, struct arena *arena,
                    struct error *err);
};

/* A table (CSV, XLSX; headings are field names or labels of the kind) or JSON (a list of objects)
 * of any one kind: sources, people's replies, handling notes, choices, marks, measures. All rows
 * or, with the row and column that is wrong, none. *count: entries put. */
int import_entries(long *count, struct record *record, const char *kind,
                   const struct import_more *more, struct arena *arena, struct error *err);

/* Points on the film or photo and where they truly are. */
struct control_point {
    double x, y, true_x, true_y; /* mm */
};
enum { CONTROL_AFFINE, CONTROL_SPLINE };
struct control {
    const struct control_point *points; /* [n] */
    size_t n;
    int method; /* affine (3 points or more) or thin-plate spline (4 or more) */
};
/* How well the correction fits, and what it did. */
struct control_fit {
    double stretch_x, stretch_y; /* along the two axes of the film: 1.01 = it had shrunk by 1 % */
    double residual;             /* mm, root mean square at the points (0 for the spline) */
    double left_out;             /* mm, root mean square error at each point when it is left out;
                                    NAN with too few points */
};

/* Outlines from GeoJSON in mm ("relict:frame": {"unit": "mm"}): one feature a piece, property
 * "piece" (or the feature's id), optional "surviving", "state", "source", "frame". The outer ring
 * becomes the outline, counter-clockwise; inner rings become marks of kind hole. control (may be
 * NULL): undo the stretch of the film. */
int import_outlines(long *count, struct control_fit *fit, struct record *record,
                    const struct import_more *more, const struct control *control,
                    struct arena *arena, struct error *err);

/* A photo: kept, and made a source about the pieces whose ids stand in its label or, failing that,
 * in its file name. *source: its id; *about: the pieces (may be none). bar_length in mm: NAN when
 * there is no scale. */
int import_photo(const char **source, struct texts *about, struct record *record,
                 const struct import_more *more, const char *label, double bar_length,
                 struct arena *arena, struct error *err);

#endif
