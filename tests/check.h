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

/* ---- where a wanted number comes from --------------------------------------------------------
 *
 * check_from names the source of all wanted numbers that follow it in the program. When the
 * environment names a file in RELICT_VALUES each comparison is written there as one line, and
 * tests/against/gather.py makes README.md of that folder from the lines of all programs. A test of
 * the suite "against" compares nothing before it has called check_from. */
enum check_known {
    CHECK_PUBLISHED, /* a publication or standard, read */
    CHECK_MEMORY,    /* a publication, number remembered and not seen again */
    CHECK_DATA,      /* recomputed from a published data set */
    CHECK_EXACT,     /* a closed form, an identity, or an input the program must give back */
    CHECK_SECOND,    /* a second method or an independent program */
    CHECK_PRACTICE,  /* common practice, no source */
    CHECK_ASKED      /* a figure the project set itself: user stories, bounds, invented keys */
};
static const char *const check_known_words[] = {"published",     "from memory",     "data", "exact",
                                                "second method", "common practice", "asked"};
static const char *check_source = "";
static enum check_known check_how = CHECK_PUBLISHED;
static char check_subject[160];

static inline void check_from(enum check_known how, const char *source) {
    check_how = how;
    check_source = source;
    check_subject[0] = 0;
}

/* What is compared, in words, until the next call or source; the expression stands in its place
 * when nothing is said. */
__attribute__((format(printf, 1, 2))) static inline void check_about(const char *format, ...) {
    va_list a;
    va_start(a, format);
    vsnprintf(check_subject, sizeof check_subject, format, a);
    va_end(a);
}

/* One line: file, test, how known, source, subject, expression, low, high, wanted, given. */
static inline void check_value_line(const char *file, const char *test, const char *expression,
                                    double low, double high, double want, double got) {
    const char *path = getenv("RELICT_VALUES");
    FILE *f = path && *path ? fopen(path, "a") : NULL;
    if (!f) return;
    const char *base = strrchr(file, '/');
    char line[1200]; /* one write: programs run side by side */
    int n = snprintf(line, sizeof line, "%s\t%s\t%s\t%s\t%s\t%s\t%.17g\t%.17g\t%.17g\t%.17g\n",
                     base ? base + 1 : file, test, check_known_words[check_how], check_source,
                     check_subject, expression, low, high, want, got);
    if (n > 0 && (size_t)n < sizeof line) fputs(line, f);
    fclose(f);
}

/* |got - want| <= tolerance, in the unit of the numbers. A NaN fails. */
#define check_near(got, want, tolerance)                                                           \
    do {                                                                                           \
        double check_g = (got), check_w = (want), check_t = (tolerance);                           \
        check_value_line(__FILE__, __func__, #got, check_w - check_t, check_w + check_t, check_w,  \
                         check_g);                                                                 \
        if (!(fabs(check_g - check_w) <= check_t))                                                 \
            fail_msg("%s = %.12g, expected %.12g +- %g", #got, check_g, check_w, check_t);         \
    } while (0)

/* |got/want - 1| <= tolerance. */
#define check_rel(got, want, tolerance) check_near((got), (want), (tolerance)*fabs((double)(want)))

/* low <= got <= high; either may be infinite. */
#define check_between(got, low, high)                                                              \
    do {                                                                                           \
        double check_g = (got), check_l = (low), check_h = (high);                                 \
        check_value_line(__FILE__, __func__, #got, check_l, check_h, (double)NAN, check_g);        \
        if (!(check_l <= check_g && check_g <= check_h))                                           \
            fail_msg("%s = %.12g, expected %.12g to %.12g", #got, check_g, check_l, check_h);      \
    } while (0)

/* Makers' experience beside what the program computes: common practice, no source. `rule` is what
 * makers say, `computed` the sweep in numbers. Never fails and is never tuned: it says whether the
 * two agree. */
static inline void check_experience(const char *rule, const char *computed, int agrees) {
    printf("# %s | %s | %s\n", rule, computed, agrees ? "agrees" : "does not agree");
    const char *path = getenv("RELICT_VALUES");
    FILE *f = path && *path ? fopen(path, "a") : NULL;
    if (!f) return;
    fprintf(f, "experience\t%s\t%s\t%s\n", rule, computed,
            agrees ? "agrees" : "**does not agree**");
    fclose(f);
}

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
