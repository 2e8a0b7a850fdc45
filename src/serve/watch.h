/* watch: how long one request may take, however slowly it trickles in.
 *
 * The library ends a connection that is silent; one that sends a byte now and then it keeps for
 * ever. Each connection has a moment by which its next request must be here and answered; a thread
 * looks once in a while and shuts what is late. Safe from any thread.
 */
#ifndef RELICT_SERVE_WATCH_H
#define RELICT_SERVE_WATCH_H

struct watch;
struct watched; /* one connection */

/* `patience`: seconds for a request to come in whole. NULL when memory or threads are gone. */
struct watch *watch_new(double patience);
/* After all connections are gone. */
void watch_free(struct watch *watch);

/* A connection on this descriptor begins and ends; NULL when memory is gone (then it is not
 * watched). */
struct watched *watch_begin(struct watch *watch, int descriptor);
void watch_end(struct watch *watch, struct watched *one);

/* The body of this many bytes is to come: more time for more. Negative: take all the time there is
 * (a stream). */
void watch_expect(struct watch *watch, struct watched *one, double bytes);

/* The request is answered; the next may begin. */
void watch_again(struct watch *watch, struct watched *one);

#endif
