#include "serve/keyring.h"

#include "base/mem.h"
#include "serve/gate.h"

#include <pthread.h>
#include <stdio.h>
#include <string.h>
#include <sys/random.h>

enum { MOST_TOKENS = 32, MOST_SESSIONS = 128, MOST_ADDRESSES = 64, TRIES = 5 };

struct token {
    char text[KEY_TEXT];
    enum key_right right; /* KEY_NONE: free place */
    double ends;
    long id;
};

struct session {
    struct token token; /* its own text; right, end and id as the token it came from */
    int streams;
};

struct address {
    char text[64];
    double since;
    int wrong;
};

struct keyring {
    pthread_mutex_t lock;
    struct token tokens[MOST_TOKENS];
    struct session sessions[MOST_SESSIONS];
    struct address addresses[MOST_ADDRESSES];
    size_t next_address;
    long last_id;
};

struct keyring *keyring_new(void) {
    struct keyring *ring = mem_alloc(1, sizeof *ring);
    if (ring) pthread_mutex_init(&ring->lock, NULL);
    return ring;
}

void keyring_free(struct keyring *ring) {
    if (!ring) return;
    pthread_mutex_destroy(&ring->lock);
    mem_free(ring);
}

static bool draw(char text[KEY_TEXT]) {
    unsigned char bytes[16];
    if (getrandom(bytes, sizeof bytes, 0) != sizeof bytes) return false;
    for (int i = 0; i < 16; i++)
        snprintf(text + 2 * i, 3, "%02x", bytes[i]);
    return true;
}

bool keyring_issue(struct keyring *ring, enum key_right right, double now, double seconds,
                   char token[KEY_TEXT]) {
    bool done = false;
    pthread_mutex_lock(&ring->lock);
    for (int i = 0; i < MOST_TOKENS && !done; i++) {
        struct token *t = &ring->tokens[i];
        if (t->right != KEY_NONE && t->ends > now) continue;
        if (!draw(t->text)) break;
        t->right = right;
        t->ends = now + seconds;
        t->id = ++ring->last_id;
        memcpy(token, t->text, KEY_TEXT);
        done = true;
    }
    pthread_mutex_unlock(&ring->lock);
    return done;
}

void keyring_revoke(struct keyring *ring, enum key_right right) {
    pthread_mutex_lock(&ring->lock);
    for (int i = 0; i < MOST_TOKENS; i++)
        if (right == KEY_NONE || ring->tokens[i].right == right) ring->tokens[i].right = KEY_NONE;
    for (int i = 0; i < MOST_SESSIONS; i++)
        if (right == KEY_NONE || ring->sessions[i].token.right == right)
            ring->sessions[i].token.right = KEY_NONE;
    pthread_mutex_unlock(&ring->lock);
}

size_t keyring_list(struct keyring *ring, double now, struct key_line *out, size_t most) {
    size_t n = 0;
    pthread_mutex_lock(&ring->lock);
    for (int i = 0; i < MOST_TOKENS && n < most; i++) {
        const struct token *t = &ring->tokens[i];
        if (t->right == KEY_NONE || t->ends <= now) continue;
        out[n] = (struct key_line){.id = t->id, .right = t->right, .ends = t->ends};
        for (int k = 0; k < MOST_SESSIONS; k++) {
            const struct token *s = &ring->sessions[k].token;
            out[n].sessions += s->right != KEY_NONE && s->id == t->id && s->ends > now;
        }
        n++;
    }
    pthread_mutex_unlock(&ring->lock);
    return n;
}

bool keyring_revoke_one(struct keyring *ring, long id) {
    bool found = false;
    pthread_mutex_lock(&ring->lock);
    for (int i = 0; i < MOST_TOKENS; i++)
        if (ring->tokens[i].right != KEY_NONE && ring->tokens[i].id == id) {
            ring->tokens[i].right = KEY_NONE;
            found = true;
        }
    for (int i = 0; i < MOST_SESSIONS; i++)
        if (ring->sessions[i].token.id == id) ring->sessions[i].token.right = KEY_NONE;
    pthread_mutex_unlock(&ring->lock);
    return found;
}

/* The count of this address, begun anew after a minute; the oldest place is given away. */
static struct address *address_of(struct keyring *ring, const char *text, double now) {
    for (int i = 0; i < MOST_ADDRESSES; i++) {
        struct address *a = &ring->addresses[i];
        if (strcmp(a->text, text) == 0) {
            if (now - a->since > 60) {
                a->since = now;
                a->wrong = 0;
            }
            return a;
        }
    }
    struct address *a = &ring->addresses[ring->next_address++ % MOST_ADDRESSES];
    snprintf(a->text, sizeof a->text, "%s", text);
    a->since = now;
    a->wrong = 0;
    return a;
}

static bool open_session(struct keyring *ring, const struct token *from, double now,
                         char session[KEY_TEXT]) {
    for (int i = 0; i < MOST_SESSIONS; i++) {
        struct session *s = &ring->sessions[i];
        if (s->token.right != KEY_NONE && s->token.ends > now) continue;
        if (!draw(s->token.text)) return false;
        s->token.right = from->right;
        s->token.ends = from->ends;
        s->token.id = from->id;
        s->streams = 0;
        memcpy(session, s->token.text, KEY_TEXT);
        return true;
    }
    return false;
}

enum key_right keyring_join(struct keyring *ring, const char *token, const char *address,
                            double now, char session[KEY_TEXT], bool *wait) {
    enum key_right right = KEY_NONE;
    pthread_mutex_lock(&ring->lock);
    struct address *a = address_of(ring, address, now);
    *wait = a->wrong >= TRIES;
    for (int i = 0; i < MOST_TOKENS && !*wait; i++) {
        struct token *t = &ring->tokens[i];
        if (t->right != KEY_NONE && t->ends > now && gate_same(t->text, token) &&
            open_session(ring, t, now, session))
            right = t->right;
    }
    if (right == KEY_NONE && !*wait) a->wrong++;
    pthread_mutex_unlock(&ring->lock);
    return right;
}

static struct session *find(struct keyring *ring, const char *text) {
    for (int i = 0; i < MOST_SESSIONS; i++) {
        struct session *s = &ring->sessions[i];
        if (s->token.right != KEY_NONE && gate_same(s->token.text, text)) return s;
    }
    return NULL;
}

enum key_right keyring_right(struct keyring *ring, const char *session, double now) {
    pthread_mutex_lock(&ring->lock);
    const struct session *s = find(ring, session);
    enum key_right right = s && s->token.ends > now ? s->token.right : KEY_NONE;
    pthread_mutex_unlock(&ring->lock);
    return right;
}

bool keyring_stream_begin(struct keyring *ring, const char *session) {
    pthread_mutex_lock(&ring->lock);
    struct session *s = find(ring, session);
    bool may = s && s->streams < KEYRING_STREAMS;
    if (may) s->streams++;
    pthread_mutex_unlock(&ring->lock);
    return may;
}

void keyring_stream_end(struct keyring *ring, const char *session) {
    pthread_mutex_lock(&ring->lock);
    struct session *s = find(ring, session);
    if (s && s->streams) s->streams--;
    pthread_mutex_unlock(&ring->lock);
}
