/* method: a computation that stands open to anyone as `relict calc NAME`.
 *
 * A method takes a plain struct and fills a plain struct, both described by a kind; the command
 * line, the HTTP interface and the manual are made from that. Methods are pure: no file, screen,
 * clock or global. Each room lists its methods in one `struct method_list`, collected in
 * job/methods.c.
 */
#ifndef RELICT_BASE_METHOD_H
#define RELICT_BASE_METHOD_H

#include "base/field.h"

struct method {
    const char *name;   /* "arc": lower case, words joined by - */
    const char *title;  /* one line: what it works out */
    const char *source; /* publications of the equations */
    const char *text;   /* some sentences on what it assumes and when it fails; may be NULL */
    const struct kind *in, *out;
    /* in and out are structs of in->size and out->size; out comes filled with unknowns. */
    int (*run)(const void *in, void *out, struct arena *arena, struct error *err);
    const char *example; /* a complete JSON input that works */
};

struct method_list {
    const struct method *const *v;
    size_t n;
};

#define METHODS(array)                                                                             \
    { (array), sizeof(array) / sizeof(array)[0] }

/* Runs a method on a JSON object. *out is a new reference: the output fields plus "method" and
 * "source". Warnings a method wants to give are ordinary output fields. */
int method_run(json_t **out, const struct method *method, const json_t *in, struct error *err);

/* Writes the manual page of one method: fields in and out with units, limits, an example that
 * works. Returns text in the arena, NULL when memory is gone. */
char *method_help(const struct method *method, struct arena *arena);

#endif
