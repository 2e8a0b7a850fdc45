/* check: what every test program needs: cmocka with its includes in order, and comparisons of
 * numbers that print what was expected. */
#ifndef RELICT_TESTS_CHECK_H
#define RELICT_TESTS_CHECK_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

/* |got - want| <= tolerance, in the unit of the numbers. A NaN fails. */
#define check_near(got, want, tolerance)                                                           \
    do {                                                                                           \
        double check_g = (got), check_w = (want), check_t = (tolerance);                           \
        if (!(fabs(check_g - check_w) <= check_t))                                                 \
            fail_msg("%s = %.12g, expected %.12g +- %g", #got, check_g, check_w, check_t);         \
    } while (0)

/* |got/want - 1| <= tolerance. */
#define check_rel(got, want, tolerance) check_near((got), (want), (tolerance)*fabs((double)(want)))

/* A call that must succeed; prints the error otherwise. */
#define check_ok(call, err)                                                                        \
    do {                                                                                           \
        if ((call) != 0) {                                                                         \
            char check_text[1400];                                                                 \
            error_text((err), check_text, sizeof check_text);                                      \
            fail_msg("%s: %s", #call, check_text);                                                 \
        }                                                                                          \
    } while (0)

/* Prints a measured figure beside a check, as a TAP comment. Ends the line itself. */
#define check_note(...) (printf("# "), printf(__VA_ARGS__), printf("\n"))

/* Path of a file in the source tree, for reading reference data in tests. Static buffer. */
static inline const char *check_source_path(const char *name) {
    static char path[1024];
    const char *root = getenv("RELICT_SOURCE");
    snprintf(path, sizeof path, "%s/%s", root ? root : ".", name);
    return path;
}

#endif
