/* server: the HTTP side of the screens.
 *
 * Listens on this machine alone unless told to share. One request at a time passes the gate, is
 * matched against the table of the interface (api.c) or of the screens (embedded files), and is
 * answered. Computing runs in a thread of its own with its own door to the project; its progress
 * goes to every open stream, newest value first. Reading never waits for it.
 */
#ifndef RELICT_SERVE_SERVER_H
#define RELICT_SERVE_SERVER_H

#include "base/error.h"
#include "job/job.h"

#include <stdbool.h>

struct server;

struct server_options {
    unsigned short port; /* 0: any free one */
    bool share;          /* listen on all addresses and print signs for phones */
    double share_for;    /* seconds a shared key lasts; 0: twelve hours */
    unsigned silence;    /* seconds until a silent connection is ended; 0: 15 */
    double patience;     /* seconds for one request to come in whole; 0: 60 */
    const char *who;     /* who signs what comes from this machine; NULL: the account */
};

/* Opens the project and begins to listen. */
int server_start(struct server **out, const char *project, const struct server_options *options,
                 struct error *err);

/* Address to open in a browser here, with the token that lets it in. Borrowed. */
const char *server_address(const struct server *server);
unsigned short server_port(const struct server *server);

/* For sharing: the address on the network with a fresh token for reading or writing that ends after
 * share_for. NULL when nothing is shared. */
char *server_share_address(struct server *server, bool write, struct arena *arena);

/* Stops a computation under way, closes streams and frees. */
void server_stop(struct server *server);

#endif
