/* methods: every `relict calc` method of every room, in the order of the rooms. */
#ifndef RELICT_JOB_METHODS_H
#define RELICT_JOB_METHODS_H

#include "base/method.h"

/* The i-th method, NULL after the last. */
const struct method *job_method_at(size_t i);

/* By name; NULL with the nearest name in the error's remedy. */
const struct method *job_method_find(const char *name, struct error *err);

#endif
