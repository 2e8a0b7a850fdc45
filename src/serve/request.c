/* One request: judged before its body is read, matched, answered. */
#include "base/mem.h"
#include "serve/api_rows.h"
#include "serve/server_private.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    MOST_JSON = 1 << 20, /* bytes */
    MOST_RAW = 200 << 20,
    JSON_DEEPEST = 64,
    MOST_HEADERS = 64,
    MOST_KEY = 4096, /* bytes of the body that brings a key */
};

struct request {
    struct gate_verdict verdict;
    bool judged;
    const struct api_row *row; /* NULL: a screen, joining or the stream */
    char *bytes;
    size_t used;
    struct errand *errand; /* what is being worked for it, or has been */
};

/* A call. A try of the shell takes seconds: it is worked in a thread of its own with the connection
 * suspended, so that none of the library's threads, each of which has many connections, stands and
 * waits for it. (While a connection is suspended the library drops it when the other side ends its
 * sending; therefore what is entered and read, which is short, is done at once.) */
struct errand {
    struct server *server;
    struct MHD_Connection *connection;
    const struct api_row *row;
    struct asked {
        struct MHD_Connection *connection;
        struct arena *arena;
    } asked;
    struct api_call call;
    json_t *body;
    struct error err;
    int rc;
};

static enum MHD_Result collect(void *context, enum MHD_ValueKind kind, const char *name,
                               const char *value) {
    struct gate_request *r = context;
    (void)kind;
    if (r->header_count >= MOST_HEADERS) return MHD_NO;
    ((struct gate_header *)r->headers)[r->header_count++] = (struct gate_header){name, value};
    return MHD_YES;
}

static struct gate_verdict judge(struct server *s, struct MHD_Connection *c, const char *method,
                                 const char *path) {
    struct gate_header headers[MOST_HEADERS];
    struct gate_request r = {.method = method, .path = path, .headers = headers};
    int n = MHD_get_connection_values(c, MHD_HEADER_KIND, NULL, NULL);
    if (n > MOST_HEADERS)
        return (struct gate_verdict){.status = 431, .reason = "There are too many headers."};
    MHD_get_connection_values(c, MHD_HEADER_KIND, collect, &r);
    return gate_judge(&r, &(struct gate_rules){s->hosts, MOST_JSON, MOST_RAW});
}

static enum key_right right_of(struct server *s, struct MHD_Connection *c, char session[KEY_TEXT]) {
    const char *cookies = MHD_lookup_connection_value(c, MHD_HEADER_KIND, "Cookie");
    if (!gate_cookie(cookies, s->cookie, session, KEY_TEXT)) return KEY_NONE;
    return keyring_right(s->keys, session, server_seconds());
}

static const char *query_value(void *from, const char *name) {
    const struct asked *a = from;
    const char *raw = MHD_lookup_connection_value(a->connection, MHD_GET_ARGUMENT_KIND, name);
    char *text = arena_strdup(a->arena, raw);
    if (text) MHD_http_unescape(text);
    return text;
}

static bool too_deep(const json_t *j, int left) {
    if (left == 0) return true;
    size_t i;
    const json_t *v;
    const char *key;
    if (json_is_array(j)) {
        json_array_foreach((json_t *)j, i, v) if (too_deep(v, left - 1)) return true;
    } else if (json_is_object(j)) {
        json_object_foreach((json_t *)j, key, v) if (too_deep(v, left - 1)) return true;
    }
    return false;
}

static int read_body(json_t **out, const struct request *r, struct error *err) {
    json_error_t je;
    *out = json_loadb(r->bytes ? r->bytes : "", r->used, JSON_REJECT_DUPLICATES, &je);
    if (!*out || !json_is_object(*out) || too_deep(*out, JSON_DEEPEST)) {
        json_decref(*out);
        *out = NULL;
        return fail(err, ERR_INPUT, "Send one JSON object.", "The body is not JSON as expected.");
    }
    return 0;
}

static enum MHD_Result join(struct server *s, struct MHD_Connection *c, const struct request *r) {
    struct error err = {0};
    json_t *body;
    if (read_body(&body, r, &err)) return server_answer_error(c, &err, NULL);
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(c, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    char address[64] = "?", session[KEY_TEXT], cookie[160];
    const struct sockaddr *from = info ? info->client_addr : NULL;
    if (from && from->sa_family == AF_INET)
        inet_ntop(AF_INET, &((const struct sockaddr_in *)(const void *)from)->sin_addr, address,
                  sizeof address);
    else if (from && from->sa_family == AF_INET6)
        inet_ntop(AF_INET6, &((const struct sockaddr_in6 *)(const void *)from)->sin6_addr, address,
                  sizeof address);
    const char *token = json_string_value(json_object_get(body, "token"));
    bool wait = false;
    enum key_right right =
        keyring_join(s->keys, token ? token : "", address, server_seconds(), session, &wait);
    json_decref(body);
    if (right == KEY_NONE)
        return server_answer_refusal(c, wait ? 429 : 403,
                                     wait ? "Too many wrong keys. Wait a minute."
                                          : "This key does not fit or is over. Ask for a new one.");
    snprintf(cookie, sizeof cookie, "%s=%s; Path=/; HttpOnly; SameSite=Strict", s->cookie, session);
    return server_answer_json(
        c, 200, json_pack("{s:b,s:b}", "write", right >= KEY_WRITE, "own", right == KEY_OWN),
        cookie);
}

struct left {
    struct server *server;
    char session[KEY_TEXT];
};

static void stream_left(void *context) {
    struct left *l = context;
    keyring_stream_end(l->server->keys, l->session);
    mem_free(l);
}

static enum MHD_Result open_stream(struct server *s, struct MHD_Connection *c,
                                   const char *session) {
    if (!keyring_stream_begin(s->keys, session))
        return server_answer_refusal(c, 429, "Too many pages are open. Close some.");
    struct left *l = mem_alloc(1, sizeof *l);
    if (!l) return MHD_NO;
    l->server = s;
    memcpy(l->session, session, KEY_TEXT);
    struct MHD_Response *r = stream_open(s->hub, c, stream_left, l);
    if (!r) stream_left(l);
    return server_queue(c, 200, r);
}

/* Changes go through their own door; what only reads never waits for them. */
static enum server_lane lane_of(const struct api_row *row) {
    if (row->right != KEY_READ) return LANE_ENTER;
    return strcmp(row->method, "GET") ? LANE_TRY : LANE_READ;
}

/* Under the lane's lock, which it gives back. */
static int handle(struct api_call *call, const struct api_row *row, struct error *err) {
    struct server *s = call->server;
    enum server_lane lane = lane_of(row);
    call->job = s->jobs[lane];
    if (lane == LANE_ENTER) {
        const char *who = call->body ? api_text(call, "who") : api_word(call, "who");
        job_sign(call->job, who && *who ? who : s->who);
    }
    int rc = row->handle(call, err);
    long revision = rc || row->right != KEY_WRITE ? 0 : record_revision(job_record(call->job));
    pthread_mutex_unlock(&s->lanes[lane]);
    if (revision) server_tell(s, STREAM_CHANGED, json_pack("{s:i}", "revision", (int)revision));
    return rc;
}

static void errand_free(struct errand *e) {
    if (!e) return;
    json_decref(e->call.out);
    json_decref(e->body);
    arena_free(e->asked.arena);
    mem_free(e);
}

static struct errand *errand_new(struct server *s, struct MHD_Connection *c,
                                 const struct api_row *row, const struct request *r) {
    struct errand *e = mem_alloc(1, sizeof *e);
    if (!e) return NULL;
    *e = (struct errand){.server = s, .connection = c, .row = row};
    e->asked.connection = c;
    e->asked.arena = arena_new();
    e->call = (struct api_call){.server = s,
                                .query = query_value,
                                .from = &e->asked,
                                .who = s->who,
                                .raw = r->bytes,
                                .raw_size = r->used,
                                .arena = e->asked.arena};
    if (!e->call.arena) e->rc = fail_memory(&e->err);
    if (!e->rc && r->verdict.changes && !r->verdict.raw) e->rc = read_body(&e->body, r, &e->err);
    e->call.body = e->body;
    return e;
}

static enum MHD_Result errand_answer(struct errand *e) {
    struct MHD_Connection *c = e->connection;
    json_t *out = e->call.out;
    e->call.out = NULL;
    if (e->rc && e->rc != ERR_CONFLICT) {
        json_decref(out);
        out = NULL;
    }
    if (e->rc) return server_answer_error(c, &e->err, out);
    if (!e->call.bytes) return server_answer_json(c, 200, out, NULL);
    json_decref(out);
    return server_answer_bytes(c, &e->call);
}

static void *run_errand(void *context) {
    struct errand *e = context;
    struct server *s = e->server;
    pthread_mutex_lock(&s->lanes[lane_of(e->row)]);
    e->rc = handle(&e->call, e->row, &e->err);
    /* Whoever stops the server waits until this has let go of the connection. */
    pthread_mutex_lock(&s->lock);
    MHD_resume_connection(e->connection); /* from here on the errand is the library's */
    s->errands--;
    pthread_cond_broadcast(&s->idle);
    pthread_mutex_unlock(&s->lock);
    return NULL;
}

/* Begins the thread; the library asks again when it has ended. */
static bool send_errand(struct errand *e) {
    struct server *s = e->server;
    pthread_attr_t alone;
    pthread_t thread;
    if (pthread_attr_init(&alone)) return false;
    pthread_attr_setdetachstate(&alone, PTHREAD_CREATE_DETACHED);
    pthread_mutex_lock(&s->lock);
    bool sent = !s->stopping && pthread_create(&thread, &alone, run_errand, e) == 0;
    if (sent) { /* it cannot resume what is not suspended yet: that too is under the lock */
        s->errands++;
        MHD_suspend_connection(e->connection);
    }
    pthread_mutex_unlock(&s->lock);
    pthread_attr_destroy(&alone);
    if (!sent) e->rc = fail(&e->err, ERR_MEMORY, "Try again.", "Too much is being done at once.");
    return sent;
}

static enum MHD_Result run_row(struct server *s, struct MHD_Connection *c,
                               const struct api_row *row, struct request *r) {
    if (r->errand) return errand_answer(r->errand); /* it has been worked */
    struct errand *e = r->errand = errand_new(s, c, row, r);
    if (!e) return MHD_NO;
    if (e->rc) return errand_answer(e);
    if (lane_of(row) != LANE_TRY) {
        pthread_mutex_lock(&s->lanes[lane_of(row)]);
        e->rc = handle(&e->call, row, &e->err);
        return errand_answer(e);
    }
    return send_errand(e) ? MHD_YES : errand_answer(e);
}

static struct gate_verdict no(int status, const char *reason) {
    return (struct gate_verdict){.status = status, .reason = reason};
}

/* Whether this session may ask this, before any of the body is taken in. */
static struct gate_verdict match(const struct api_row **row, struct server *s,
                                 struct MHD_Connection *c, const char *method, const char *path,
                                 const struct gate_verdict *so_far) {
    *row = NULL;
    if (strncmp(path, "/api/", 5) != 0)
        return so_far->changes ? no(405, "Pages are only read.") : *so_far;
    if (strcmp(path, "/api/join") == 0) {
        if (!so_far->changes || so_far->raw) return no(405, "Send the key.");
        return so_far->length > MOST_KEY ? no(413, "That is too long for a key.") : *so_far;
    }
    char session[KEY_TEXT] = "";
    enum key_right right = right_of(s, c, session);
    if (right == KEY_NONE) return no(401, "Open the address the program printed, with its key.");
    if (strcmp(path, "/api/stream") == 0)
        return so_far->changes ? no(405, "News are only read.") : *so_far;
    bool known;
    *row = api_find(method, path, &known);
    if (!*row)
        return no(known ? 405 : 404,
                  known ? "Not with this method." : "There is no such thing to ask.");
    if ((*row)->right > right)
        return no(403, (*row)->right == KEY_OWN ? "Only who began the program here may do that."
                                                : "This key is for reading only.");
    if (so_far->raw != (strcmp((*row)->method, "PUT") == 0))
        return no(415, "The type of the body is not the one expected here.");
    return *so_far;
}

static enum MHD_Result answer(struct server *s, struct MHD_Connection *c, const char *path,
                              struct request *r) {
    if (r->row) return run_row(s, c, r->row, r);
    if (strncmp(path, "/api/", 5) != 0) return server_answer_screen(c, path);
    if (strcmp(path, "/api/join") == 0) return join(s, c, r);
    char session[KEY_TEXT] = "";
    if (right_of(s, c, session) == KEY_NONE) /* revoked since its headers were read */
        return server_answer_refusal(c, 401, "This key is over.");
    return open_stream(s, c, session);
}

static struct watched *watched_of(struct MHD_Connection *c) {
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(c, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
    return info ? info->socket_context : NULL;
}

void server_on_connection(void *context, struct MHD_Connection *c, void **state,
                          enum MHD_ConnectionNotificationCode what) {
    struct server *s = context;
    if (what == MHD_CONNECTION_NOTIFY_CLOSED) {
        watch_end(s->watch, *state);
        return;
    }
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(c, MHD_CONNECTION_INFO_CONNECTION_FD);
    *state = info ? watch_begin(s->watch, info->connect_fd) : NULL;
}

/* Headers are here; the body is not. */
static enum MHD_Result begin(struct server *s, struct MHD_Connection *c, const char *url,
                             const char *method, void **state) {
    struct request *r = mem_alloc(1, sizeof *r);
    if (!r) return MHD_NO;
    *state = r;
    r->verdict = judge(s, c, method, url);
    if (!r->verdict.status) r->verdict = match(&r->row, s, c, method, url, &r->verdict);
    if (r->verdict.status) return server_answer_refusal(c, r->verdict.status, r->verdict.reason);
    if (r->verdict.length && !(r->bytes = mem_alloc(r->verdict.length + 1, 1))) return MHD_NO;
    r->judged = true;
    watch_expect(s->watch, watched_of(c), (double)r->verdict.length);
    return MHD_YES;
}

enum MHD_Result server_on_request(void *context, struct MHD_Connection *c, const char *url,
                                  const char *method, const char *version, const char *data,
                                  size_t *size, void **state) {
    struct server *s = context;
    struct request *r = *state;
    (void)version;
    if (!r) return begin(s, c, url, method, state);
    if (!r->judged) {
        *size = 0; /* refused already; what still comes is dropped */
        return MHD_YES;
    }
    if (*size) {
        if (*size > r->verdict.length - r->used) return MHD_NO; /* more than was told */
        memcpy(r->bytes + r->used, data, *size);
        r->used += *size;
        *size = 0;
        return MHD_YES;
    }
    if (r->used != r->verdict.length) /* the other side stopped half-way */
        return server_answer_refusal(c, 400, "The body is shorter than was told.");
    watch_expect(s->watch, watched_of(c), -1); /* the rest is ours to take time over */
    return answer(s, c, url, r);
}

void server_on_completed(void *context, struct MHD_Connection *c, void **state,
                         enum MHD_RequestTerminationCode why) {
    struct server *s = context;
    struct request *r = *state;
    (void)why;
    watch_again(s->watch, watched_of(c));
    if (!r) return;
    errand_free(r->errand);
    mem_free(r->bytes);
    mem_free(r);
    *state = NULL;
}
