/* bench: what the bench programs share: a clock, and a line that sets a figure beside what was
 * asked for. Nothing is judged: whether a target was met is told, never a failure. */
#ifndef RELICT_BENCH_H
#define RELICT_BENCH_H

#include "base/error.h"

#include <stdio.h>
#include <stdlib.h>
#include <time.h>

/* Wall seconds from some fixed moment. */
static inline double bench_wall(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Ends the program with the error's words when rc is not 0. */
static inline void bench_need(int rc, const struct error *err) {
    if (!rc) return;
    char text[1200];
    error_text(err, text, sizeof text);
    fprintf(stderr, "%s\n", text);
    exit(1);
}

/* "  opening a project of 100,000 rows      0.002 s    asked: under 0.1 s    met" */
static inline void bench_target(const char *what, double got, double asked, const char *unit) {
    printf("  %-52s %9.4g %-3s asked: %.4g %-3s %s\n", what, got, unit, asked, unit,
           got <= asked ? "met" : "missed");
}

#endif
