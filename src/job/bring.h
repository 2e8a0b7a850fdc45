/* bring: bringing a file into a project, whatever it is. */
#ifndef RELICT_JOB_BRING_H
#define RELICT_JOB_BRING_H

#include "job/job.h"

struct bring_options {
    const char *as;        /* "finds", "outlines", "photo", "file", a kind's name; NULL: by name
                              and first bytes */
    const json_t *map;     /* of a finds list; NULL: as proposed */
    const char *separator; /* "," or ";" */
    bool decimal_comma;
    const char *why;
    const char *label; /* of a photo */
    double bar_length; /* of a photo, mm; NAN: no scale */
};

/* Brings in one file. *report: {kind, file?, sentence, ...} with, for a finds list, rows accepted
 * and set aside: {"aside": [{id, row, sentence, problems: [...]}], "totals": [...], "remarks":
 * [...]}. */
int job_bring(json_t **report, struct job *job, const char *name, const void *bytes, size_t n,
              const struct bring_options *options, struct error *err);

/* The map the program would use for a finds list, as JSON to correct. */
int job_propose(json_t **map, const char *name, const void *bytes, size_t n,
                const struct bring_options *options, struct error *err);

/* The rows that are still set aside, and totals with and without them. Report as from job_bring. */
int job_aside(json_t **report, struct job *job, struct error *err);

/* Mends a row set aside: cells {heading: text}. Report as from job_bring. */
int job_release(json_t **report, struct job *job, const char *id, const json_t *cells,
                bool as_it_is, const char *why, struct error *err);

#endif
