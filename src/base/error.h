/* error: what went wrong, where, and what the person can do about it.
 *
 * The caller owns one `struct error` of fixed size, so it works when memory is gone. A function
 * that can fail returns 0 on success and otherwise an `enum error_code`; setting the message and
 * returning the code are one call: `return fail(err, ERR_RANGE, remedy, "...", ...);`.
 * `err` may be NULL everywhere. Three kinds of trouble: the person's input is wrong (this struct);
 * our own code is wrong (assert); an iteration has not converged yet (a result, not an error).
 */
#ifndef RELICT_BASE_ERROR_H
#define RELICT_BASE_ERROR_H

#include <stddef.h>

/* One list: code, exit status of the command line, short name used in JSON. */
#define ERROR_CODE_LIST(X)                                                                         \
    X(ERR_NONE, 0, "none")                                                                         \
    X(ERR_USAGE, 2, "usage")       /* the command's words are off */                               \
    X(ERR_INPUT, 3, "input")       /* a file or value cannot be read as what it should be */       \
    X(ERR_RANGE, 4, "range")       /* a value outside its limits */                                \
    X(ERR_MISSING, 5, "missing")   /* something needed is not there */                             \
    X(ERR_CONFLICT, 6, "conflict") /* two things disagree; a person chooses */                     \
    X(ERR_REFUSED, 7, "refused")   /* could be computed, but must not be (adding across states) */ \
    X(ERR_FILE, 8, "file")         /* the system refused: disk full, read-only, no such file */    \
    X(ERR_DAMAGED, 9, "damaged")   /* a stored thing does not match its hash or schema */          \
    X(ERR_SOLVE, 10, "solve")      /* no equilibrium, singular, no answer; residual is told */     \
    X(ERR_STOPPED, 11, "stopped")  /* a person asked to stop */                                    \
    X(ERR_MEMORY, 12, "memory")

#define ERROR_ENUM(code, status, name) code,
enum error_code { ERROR_CODE_LIST(ERROR_ENUM) };
#undef ERROR_ENUM

struct error {
    enum error_code code;
    char message[512]; /* the thing, its value, the limit */
    char remedy[320];  /* the next step, a whole sentence */
    char file[192];    /* where; "" when not about a file */
    long row;          /* 1 = first line of the file; 0 = unknown */
    char column[64];   /* heading or field name */
    char id[64];       /* of the piece, part, statement ... */
};

/* Sets code, remedy (may be NULL) and formatted message; keeps the place already set. Returns the
 * code, so that it can be returned in the same line. */
int fail(struct error *err, enum error_code code, const char *remedy, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/* Out of memory: touches nothing but the caller's struct. Returns ERR_MEMORY. */
int fail_memory(struct error *err);

/* Adds the place; NULL and 0 leave a part as it is. */
void error_place(struct error *err, const char *file, long row, const char *column, const char *id);

/* Empties err. */
void error_clear(struct error *err);

/* Writes "file, row 3, column x, id A12: message remedy" into text; always terminated. */
void error_text(const struct error *err, char *text, size_t size);

/* Exit status and short name of a code. */
int error_status(enum error_code code);
const char *error_name(enum error_code code);

#endif
