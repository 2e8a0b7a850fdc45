/* stream: server-sent events (HTML standard, section 9.2) to every open page.
 *
 * Each page keeps one stream. News is a count and a text a kind; a slow reader gets the newest of
 * each kind, not every one. Safe from any thread.
 */
#ifndef RELICT_SERVE_STREAM_H
#define RELICT_SERVE_STREAM_H

#include <microhttpd.h>

struct stream_hub;

/* What there is news of. END counts: every stream gets each newest end. */
enum stream_kind { STREAM_PROGRESS, STREAM_END, STREAM_CHANGED, STREAM_KINDS };

struct stream_hub *stream_hub_new(void);
/* After the daemon has stopped. */
void stream_hub_free(struct stream_hub *hub);

/* Puts the newest of a kind (one line of JSON, under 2 kB) before everybody. */
void stream_tell(struct stream_hub *hub, enum stream_kind kind, const char *json);

/* A response that streams to this connection; `left` is called with `context` when it ends. NULL
 * when memory is gone. */
struct MHD_Response *stream_open(struct stream_hub *hub, struct MHD_Connection *connection,
                                 void (*left)(void *context), void *context);

/* Wakes all streams so that they end; the hub takes no more. Before MHD_stop_daemon. */
void stream_hub_close(struct stream_hub *hub);

#endif
