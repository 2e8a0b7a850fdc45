/* keyring: who may read and who may write: tokens handed out, sessions that came of them.
 *
 * A token is shown once (in the address, or as a sign for a phone) and swapped for a session that
 * lives in a cookie. Tokens expire and can be revoked; wrong ones are counted, five a minute for
 * an address. Time is passed in, in seconds. Guarded by its own lock: any thread may call.
 */
#ifndef RELICT_SERVE_KEYRING_H
#define RELICT_SERVE_KEYRING_H

#include <stdbool.h>
#include <stddef.h>

enum { KEY_TEXT = 33, KEYRING_STREAMS = 32 }; /* 128 bits as 32 signs and a 0 */

/* OWN: who began the program; may also hand out and revoke keys. */
enum key_right { KEY_NONE, KEY_READ, KEY_WRITE, KEY_OWN };

struct keyring;

struct keyring *keyring_new(void);
void keyring_free(struct keyring *ring);

/* Makes a token with this right that ends `seconds` after `now`. False when no randomness is to be
 * had or there are too many. */
bool keyring_issue(struct keyring *ring, enum key_right right, double now, double seconds,
                   char token[KEY_TEXT]);

/* Ends every token and session of that right (KEY_NONE: all). */
void keyring_revoke(struct keyring *ring, enum key_right right);

/* Tokens that still hold, for a list: not their texts. Returns how many, at most `most`. */
struct key_line {
    long id;
    enum key_right right;
    double ends;
    int sessions; /* that came of it and still hold */
};
size_t keyring_list(struct keyring *ring, double now, struct key_line *out, size_t most);

/* Ends one token and the sessions that came of it; false when there is none. */
bool keyring_revoke_one(struct keyring *ring, long id);

/* Swaps a token for a session. KEY_NONE: wrong, expired or, with *wait true, too many wrong ones
 * from this address within a minute. */
enum key_right keyring_join(struct keyring *ring, const char *token, const char *address,
                            double now, char session[KEY_TEXT], bool *wait);

/* The right of a session; KEY_NONE when it is unknown or over. */
enum key_right keyring_right(struct keyring *ring, const char *session, double now);

/* Counts open streams of a session; false when it has as many as allowed. */
bool keyring_stream_begin(struct keyring *ring, const char *session);
void keyring_stream_end(struct keyring *ring, const char *session);

#endif
