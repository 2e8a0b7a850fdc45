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
    bool attachment;  /* to be saved, not shown */
    const char *name; /* to save it under: plain signs only */
    bool page;        /* a page of ours that stands alone, in a sandbox */
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

/* The interface as a page of Markdown; in the arena. */
char *api_document(struct arena *arena);

/* HTTP status for an error code. */
int api_status(int code);

/* What a handler may ask of the server. */
int server_compute(struct server *server, const char *step, struct error *err);
void server_halt(struct server *server);
json_t *server_state(struct server *server);

/* Begins to write every paper; they are dropped when the server stops. */
int server_write(struct server *server, struct error *err);
/* What was written last: as tell_write_all tells it, with "revision"; NULL when nothing was. */
json_t *server_written(struct server *server);
/* The bytes of one of those files, by its exact name. */
int server_paper(const char **bytes, size_t *size, struct server *server, const char *name,
                 struct arena *arena, struct error *err);

/* Sharing: keys as {id, right, ends (seconds from now), pages}; a new one as {address, sign: [rows
 * of 0 and 1], ends}. ERR_MISSING when the program was not begun with --share. */
json_t *server_keys(struct server *server);
int server_share(json_t **out, struct server *server, bool write, struct arena *arena,
                 struct error *err);
bool server_revoke(struct server *server, long key);

#endif
