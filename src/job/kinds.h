/* kinds: every kind of thing that a project keeps, from every room. */
#ifndef RELICT_JOB_KINDS_H
#define RELICT_JOB_KINDS_H

#include "base/field.h"

/* [job_kind_count()], without those the record itself brings. */
extern const struct kind *const job_kinds[];
size_t job_kind_count(void);

#endif
