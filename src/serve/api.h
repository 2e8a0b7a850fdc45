/* api: what can be asked and told over HTTP, one row each; the same doors as the command line.
 *
 * Handlers are thin: they read a call, ask job/, fill the answer. No SQL, no formulas. The table
 * is the documentation of the interface.
 */
#ifndef RELICT_SERVE_API_H
#define RELICT_SERVE_API_H

#include "job/job.h"
#include "serve/keyring.h"

struct server;

struct api_call {
    struct job *job;
    struct server *server;                              /* for computing; NULL in tests */
    const char *who;                                    /* signs changes */
    const char *(*query)(void *from, const char *name); /* decoded; NULL when absent */
    void *from;
    const json_t *body; /* of POST; NULL otherwise */
    const char *raw;    /* of PUT */
    size_t raw_size;
    struct arena *arena;
    json_t *out;              /* answer: JSON, or */
    const char *bytes, *type; /* bytes of this media type */
    size_t size;
    bool attachment; /* to be saved, not shown */
};

struct api_row {
    const char *method, *path;
    enum key_right right;
    const char *summary; /* what it does */
    const char *takes;   /* query or body, in words */
    int (*handle)(struct api_call *call, struct error *err);
};

/* Ends with a NULL path. */
extern const struct api_row api_table[];

/* The row for a method and path, NULL when there is none; *known tells whether the path exists
 * under another method. */
const struct api_row *api_find(const char *method, const char *path, bool *known);

/* HTTP status for an error code. */
int api_status(int code);

/* What a handler may ask of the server. */
int server_compute(struct server *server, const char *step, struct error *err);
void server_halt(struct server *server);
json_t *server_state(struct server *server);

#endif
