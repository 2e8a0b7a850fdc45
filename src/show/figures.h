/* figures: whole drawings made of the look's signs, each from a plain struct of numbers.
 *
 * Each returns a new drawing (NULL when memory is gone) that carries its title and one sentence of
 * alternative text; the caller frees it. Bad numbers stick to the drawing: ask its status. Unknown
 * numbers are NAN and left out, never drawn as zero. Pure; thread-safe.
 */
#ifndef RELICT_SHOW_FIGURES_H
#define RELICT_SHOW_FIGURES_H

#include "show/plan.h"

/* ---- as found and as proposed ---- */

struct figure_piece {
    const char *id;
    struct look_ring outline; /* n = 0: no outline; then length and width stand for it */
    const long *surviving;    /* [n] 1 where side i is an original edge; NULL: none is */
    bool placed;              /* the outline lies in the common plan as found */
    double length, width;     /* mm, NAN unknown */
    long ends[2];             /* enum end of the two ends along the length */
    long face;                /* enum face seen */
    double grain;             /* of the outline; NAN: along its length */
    double belongs;           /* probability; below 0.5 it is drawn without hatch */
};

struct figure_thread {
    size_t piece, part; /* indices */
};

struct figure_pair {
    const char *title;
    const struct figure_piece *pieces;
    size_t n_pieces;
    const struct show_plan *plan; /* as proposed; NULL: nothing is proposed yet */
    const struct figure_thread *threads;
    size_t n_threads;
    /* For visitors: no threads and no hatches; the same features numbered 1 to 5 on both sides. */
    bool numbered;
    size_t sheet_piece; /* the piece that stands for the sheet; SIZE_MAX: none */
    double text;        /* size of the names, mm; 0: second text */
    double width;       /* of the drawing, mm; 0: 165 */
    size_t touched;     /* thread drawn as touched; SIZE_MAX: none */
};
/* Both at one scale, threads between; at most seven threads, then "and 31 more". */
struct show_drawing *figure_pair(const struct figure_pair *pair);

/* ---- outline ---- */

struct figure_rival {
    const char *name;
    struct look_ring ring;
    double weight;
    const char *excluded_by; /* reading that excludes it; NULL: it stands */
    double x, y;             /* where */
};

struct figure_outline {
    const char *title, *words; /* words: what it shows and how sure */
    struct look_band band;     /* n = 0: none */
    const struct figure_rival *rivals;
    size_t n_rivals;
    const struct look_ring *edges; /* surviving edges in place */
    size_t n_edges;
    long footing;
    double grain;
    double width;
};
struct show_drawing *figure_outline(const struct figure_outline *outline);

/* ---- rival outlines side by side, at one scale ---- */

struct figure_family {
    const char *name, *fit; /* "taper"; "34 in 100, unlikely" */
    struct look_ring likely;
    const struct look_ring *others; /* some more of its kind, thin */
    size_t n_others;
    const char *excluded_by; /* reading that tells against it; NULL: none does */
    double x, y;             /* where; NAN: no place */
};
/* Four in a row, each in a cell of its own about its middle. */
struct show_drawing *figure_families(const char *title, const char *words,
                                     const struct figure_family *families, size_t n, double width);

/* ---- sections ---- */

struct figure_section {
    const char *title, *words;
    size_t n;
    const double *likely, *low, *high; /* [n][2]: along, height; low and high may be NULL */
    double thickness;                  /* mm, drawn at scale; NAN: as a line */
    const double *marks;               /* [n_marks] distance along of laths, rims: little squares */
    size_t n_marks;
    double width;
};
struct show_drawing *figure_section(const struct figure_section *section);

/* ---- series in time ---- */

struct figure_series {
    const char *title, *words;
    const char *time_unit, *value_unit; /* "days", "percent" */
    size_t n;
    const double *time, *likely, *low, *high; /* [n]; low and high may be NULL */
    size_t n_measured;
    const double *at, *value, *plus_minus; /* [n_measured]; plus_minus may be NULL */
    double width, height;
};
struct show_drawing *figure_series(const struct figure_series *series);

/* ---- season: time runs down the page, each material and the object in a lane of its own; lanes in
 * the order in which they are first named ---- */

struct figure_job {
    const char *name, *lane; /* "split", of "hazel rod" */
    double begin, end;       /* days since 1970-01-01, likely */
    double latest;           /* last day on which it may begin; NAN */
};
struct figure_window {
    const char *lane;
    double from, to;
};
struct figure_season {
    const char *title, *words;
    const struct figure_job *jobs;
    size_t n_jobs;
    const struct figure_window *windows;
    size_t n_windows;
    double opening; /* day; NAN none */
    double width;
};
struct show_drawing *figure_season(const struct figure_season *season);

/* ---- numbers ---- */

/* Sizes of different things under one another, each drawn about its own likely value, so that one
 * sees which is known well and which is not. */
struct figure_spread {
    const char *name;
    const char *number; /* "26.7 mm (25.1 to 28.3)" */
    const struct spread *value;
};
struct show_drawing *figure_spreads(const char *title, const struct figure_spread *rows, size_t n,
                                    double width);

/* Rods cut into shares, one for each thing that is explained. */
struct figure_rod {
    const char *name; /* of what is explained */
    const struct look_share *shares;
    size_t n;
};
struct show_drawing *figure_shares(const char *title, const struct figure_rod *rods, size_t n,
                                   double width);

/* ---- parts laid out on what is at hand: sheet under sheet at one scale ---- */

struct figure_laid {
    const char *name; /* "stem L1: 15 percent used" */
    struct look_ring sheet;
    const struct look_ring *parts, *faults;
    const char *const *part_names; /* [n_parts] */
    size_t n_parts, n_faults;
};
struct show_drawing *figure_layout(const char *title, const char *words,
                                   const struct figure_laid *sheets, size_t n, double width);

/* ---- stages: the sheet cut across, along and from corner to corner, stage under stage, at one
 * scale ---- */

struct figure_stage {
    const char *name;   /* "day 3. Cut the sheet ..." */
    const char *number; /* "rise 51 mm (15 to 100)"; NULL */
    size_t n[3];
    const double *cut[3]; /* [n][2]: place along the cut, height */
};
struct figure_stages {
    const char *title, *words;
    const struct figure_stage *stages;
    size_t n;
    double width;
};
struct show_drawing *figure_stages(const struct figure_stages *stages);

/* A quantity over the sheet. */
struct show_drawing *figure_surface(const char *title, const char *unit,
                                    const struct look_surface *surface, double width);

#endif
