/* gate: what may come in. Judges one request before anything else looks at it.
 *
 * Pure: no socket, no clock, no memory. The rules are those of a program that listens on a shared
 * network or beside a browser full of other people's pages: one Host, on the list (stops a foreign
 * name that was made to point here); state changed only by our own page (Origin, Sec-Fetch-Site,
 * a body type that no form can send); lengths told beforehand; plain paths.
 */
#ifndef RELICT_SERVE_GATE_H
#define RELICT_SERVE_GATE_H

#include <stdbool.h>
#include <stddef.h>

struct gate_header {
    const char *name, *value; /* value may be NULL */
};

struct gate_request {
    const char *method;
    const char *path; /* as it came, undecoded, without the query */
    const struct gate_header *headers;
    size_t header_count;
};

struct gate_rules {
    const char *const *hosts; /* allowed Host values with port, NULL-terminated */
    size_t most_json;         /* bytes in a JSON body */
    size_t most_raw;          /* bytes in a raw body */
};

struct gate_verdict {
    int status;         /* 0: may pass; otherwise the HTTP status to answer */
    const char *reason; /* for a person, static */
    bool changes;       /* not GET or HEAD */
    bool raw;           /* body is bytes, not JSON */
    size_t length;      /* of the body, as told */
};

struct gate_verdict gate_judge(const struct gate_request *request, const struct gate_rules *rules);

/* Compares two texts of the same length in a time that does not tell where they differ. */
bool gate_same(const char *a, const char *b);

/* Value of one cookie by name in a Cookie header: copied to out (size bytes), false if absent or
 * too long. */
bool gate_cookie(const char *header, const char *name, char *out, size_t size);

#endif
