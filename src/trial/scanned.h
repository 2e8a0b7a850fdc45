/* scanned: scans that a person brought in, of a trial's piece or of the find: where they differ
 * from another scan, how they bend at named places, and what that is as a reading of a trial.
 *
 * A scan names the kept file (PLY, STL, OBJ), the mm of one unit of it, the scan it is laid on and
 * paired points to begin with. A scan that cannot be read or laid says so in its answer and stops
 * nobody. Pure: the bytes are given; memory from the arena.
 */
#ifndef RELICT_TRIAL_SCANNED_H
#define RELICT_TRIAL_SCANNED_H

#include "base/field.h"
#include "trial/trial.h"

struct scan_entry {
    const char *id;
    const char *trial_piece, *piece; /* of which piece of a trial, or of the find */
    const char *file;                /* id of the kept file */
    double unit;                     /* mm of one unit of the file; unknown: 1 */
    const char *against;             /* scan it is laid on; that one needs triangles */
    struct tuples pairs;             /* x y z here, x y z on the other: three or more, mm */
    struct tuples places;            /* x y z where the bend is read, mm in its own axes */
    double patch; /* mm, radius of the patch a bend is read from; 0 or unknown: 25 */
    double tolerance, correlation; /* mm: agree within; nearer differences are one reading */
    const char *date, *who, *note;
};
extern const struct kind scan_entry_kind;

struct scan_bytes {
    const char *bytes; /* NULL: the file could not be had, `why` says it */
    size_t n;
    const char *why;
};

/* One cell of a map of differences: mean over the points in it, seen along the thinnest axis. */
struct scan_cell {
    double x, y, off;    /* mm; off: + outside the other */
    long points, beyond; /* beyond: 1 when off is more than the tolerance and the registration */
};

struct scan_bend {
    double at[3];            /* mm */
    double k1, k2, sd;       /* 1/mm: greater (plus) and lesser (minus: a saddle); sd of k1 */
    double radius, residual; /* mm */
    long points;
};

struct scan_answer {
    const char *id, *of; /* of: "piece A12", "trial piece T3.1" */
    long points, triangles;
    double size[3];      /* mm along its own axes x, y, z */
    const char *against; /* NULL: laid on nothing */
    double rms, pairs_rms, spread, median, p05, p25, p75, p95, within, independent;
    long determined, laid;       /* laid: 1 when it was laid on the other */
    struct records cells, bends; /* struct scan_cell, struct scan_bend */
    const char *say;             /* whole sentences; "" */
};
extern const struct kind scan_answer_kind;

/* One answer an entry; bytes[n] belong to entry[n]. ERR_MEMORY only: whatever else is wrong with a
 * scan stands in its answer. */
int trial_scans_read(struct records *answers, const struct scan_entry *entry, size_t n,
                     const struct scan_bytes *bytes, struct arena *arena, struct error *err);

/* The bends as readings of the trial's pieces: chord as long as the patch is wide, and the rise
 * under it. A piece's greatest bend counts; scans without a day or without a bend give none.
 * ERR_MEMORY only. */
int trial_scans_readings(struct trial_reading **out, size_t *n, const struct scan_entry *entry,
                         const struct records *answers, struct arena *arena, struct error *err);

#endif
