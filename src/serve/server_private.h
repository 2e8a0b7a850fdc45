/* The inside of the server, shared by its files; no other room includes it. */
#ifndef RELICT_SERVE_SERVER_PRIVATE_H
#define RELICT_SERVE_SERVER_PRIVATE_H

#include "serve/gate.h"
#include "serve/keyring.h"
#include "serve/server.h"
#include "serve/stream.h"
#include "serve/watch.h"

#include <microhttpd.h>
#include <pthread.h>
#include <stdatomic.h>

enum { SERVER_HOSTS = 24 };

/* One door to the project each, so that reading never blocks entering and neither waits for a try
 * of the shell: a change, a computation that enters nothing, and reading. */
enum server_lane { LANE_ENTER, LANE_TRY, LANE_READ, LANES };

enum server_task { TASK_COMPUTE, TASK_WRITE };

struct server {
    char *project;
    char *who;
    struct MHD_Daemon *daemons[2]; /* IPv4 and, on this machine alone, IPv6 */
    unsigned short port;
    struct keyring *keys;
    bool rough; /* the thread's own: a first rough answer is under way */
    struct stream_hub *hub;
    struct watch *watch;
    struct job *jobs[LANES];
    pthread_mutex_t lanes[LANES];
    char address[128], cookie[32];
    char host_texts[SERVER_HOSTS][64];
    const char *hosts[SERVER_HOSTS + 1];
    char network[64]; /* first address on the network, with port; "" unshared */
    double share_for; /* seconds a shared key lasts */

    pthread_mutex_t lock; /* all below */
    pthread_t thread;
    pthread_cond_t idle; /* told when an errand has ended */
    size_t errands;      /* calls being worked in threads of their own */
    bool stopping;       /* no more are begun */
    bool started, running;
    enum server_task task;
    atomic_bool halt;
    char step[24];
    char papers[96]; /* folder of what was written last; "" none */
    json_t *written; /* what tell_write_all said of it */
};

double server_seconds(void);

/* worker.c: joins the thread, drops what it wrote. */
void server_worker_end(struct server *server);
void server_tell(struct server *server, enum stream_kind kind, json_t *news);

/* answer.c. Queues with the headers that stand on every answer; takes the response over. */
enum MHD_Result server_queue(struct MHD_Connection *c, unsigned status, struct MHD_Response *r);
enum MHD_Result server_answer_json(struct MHD_Connection *c, int status, json_t *o,
                                   const char *cookie);
enum MHD_Result server_answer_refusal(struct MHD_Connection *c, int status, const char *reason);
/* `present` (may be NULL, taken over): what stands there instead, when two changed one thing. */
enum MHD_Result server_answer_error(struct MHD_Connection *c, const struct error *err,
                                    json_t *present);
enum MHD_Result server_answer_screen(struct MHD_Connection *c, const char *path);
struct api_call;
enum MHD_Result server_answer_bytes(struct MHD_Connection *c, const struct api_call *call);

/* request.c: what the library calls for each piece of a request and at its end. */
enum MHD_Result server_on_request(void *context, struct MHD_Connection *c, const char *url,
                                  const char *method, const char *version, const char *data,
                                  size_t *size, void **state);
void server_on_completed(void *context, struct MHD_Connection *c, void **state,
                         enum MHD_RequestTerminationCode why);
/* A connection begins and ends. */
void server_on_connection(void *context, struct MHD_Connection *c, void **state,
                          enum MHD_ConnectionNotificationCode what);

#endif
