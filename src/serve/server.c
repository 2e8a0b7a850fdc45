#include "serve/server.h"

#include "base/asset.h"
#include "base/mem.h"
#include "serve/api.h"
#include "serve/gate.h"
#include "serve/keyring.h"
#include "serve/stream.h"

#include <arpa/inet.h>
#include <ifaddrs.h>
#include <microhttpd.h>
#include <net/if.h>
#include <netinet/in.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum {
    MOST_CONNECTIONS = 256,
    SLOWEST = 15, /* seconds of silence */
    HEADER_MEMORY = 64 << 10,
    MOST_JSON = 1 << 20, /* bytes */
    MOST_RAW = 200 << 20,
    JSON_DEEPEST = 64,
    MOST_HEADERS = 64,
    MOST_HOSTS = 24,
    HALF_A_DAY = 12 * 3600,
};

struct server {
    char *project;
    char *who;
    struct MHD_Daemon *daemon;
    unsigned short port;
    struct keyring *keys;
    struct stream_hub *hub;
    struct job *job; /* for requests: all on the daemon's one thread */
    char address[128], cookie[32];
    char host_texts[MOST_HOSTS][64];
    const char *hosts[MOST_HOSTS + 1];
    char network[64]; /* first address on the network, with port; "" unshared */

    pthread_mutex_t lock; /* the worker */
    pthread_t thread;
    bool started, running;
    atomic_bool halt;
    char step[24];
};

static double now_seconds(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* ---- the worker ----------------------------------------------------------------------------- */

static void tell_json(struct server *s, enum stream_kind kind, json_t *o) {
    char *text = json_dumps(o, JSON_COMPACT | JSON_REAL_PRECISION(5));
    if (text) stream_tell(s->hub, kind, text);
    free(text);
    json_decref(o);
}

static int progress(const char *step, double share, const char *what, void *context) {
    struct server *s = context;
    json_t *o = json_pack("{s:s,s:s}", "step", step, "what", what);
    if (share == share) json_object_set_new(o, "share", json_real(share));
    tell_json(s, STREAM_PROGRESS, o);
    return atomic_load(&s->halt);
}

static void *work(void *context) {
    struct server *s = context;
    struct error err = {0};
    struct job *job = NULL;
    json_t *report = NULL;
    int rc = job_open(&job, s->project, &(struct job_options){.who = s->who}, &err);
    if (!rc) rc = job_compute(&report, job, *s->step ? s->step : NULL, progress, s, &err);
    job_close(job);
    json_t *o = json_pack("{s:b}", "done", rc == 0);
    if (report) json_object_set_new(o, "report", report);
    if (rc) {
        json_object_set_new(o, "message", json_string(err.message));
        json_object_set_new(o, "remedy", json_string(err.remedy));
    }
    pthread_mutex_lock(&s->lock);
    s->running = false;
    pthread_mutex_unlock(&s->lock);
    tell_json(s, STREAM_END, o);
    return NULL;
}

int server_compute(struct server *s, const char *step, struct error *err) {
    if (step && stage_index(step, err) == stage_count) return ERR_USAGE;
    int rc = 0;
    pthread_mutex_lock(&s->lock);
    if (s->running)
        rc = fail(err, ERR_CONFLICT, "Wait until it is done, or stop it.",
                  "Something is being worked out already.");
    else {
        if (s->started) pthread_join(s->thread, NULL);
        snprintf(s->step, sizeof s->step, "%s", step ? step : "");
        atomic_store(&s->halt, false);
        s->started = s->running = pthread_create(&s->thread, NULL, work, s) == 0;
        if (!s->running) rc = fail_memory(err);
    }
    pthread_mutex_unlock(&s->lock);
    return rc;
}

void server_halt(struct server *s) {
    atomic_store(&s->halt, true);
}

json_t *server_state(struct server *s) {
    pthread_mutex_lock(&s->lock);
    json_t *o = json_boolean(s->running);
    pthread_mutex_unlock(&s->lock);
    return o;
}

/* ---- answers -------------------------------------------------------------------------------- */

/* On every answer (W3C CSP 3; Fetch standard; Referrer Policy). */
static const char *const safe_headers[][2] = {
    {"Content-Security-Policy",
     "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
     "connect-src 'self'; font-src 'self'; worker-src 'self'; object-src 'none'; base-uri 'none'; "
     "frame-ancestors 'none'; form-action 'self'"},
    {"X-Content-Type-Options", "nosniff"},
    {"Referrer-Policy", "no-referrer"},
    {"Cross-Origin-Resource-Policy", "same-origin"},
    {"Cross-Origin-Opener-Policy", "same-origin"},
};

static enum MHD_Result queue(struct MHD_Connection *c, unsigned status, struct MHD_Response *r) {
    if (!r) return MHD_NO;
    for (size_t i = 0; i < sizeof safe_headers / sizeof safe_headers[0]; i++)
        MHD_add_response_header(r, safe_headers[i][0], safe_headers[i][1]);
    enum MHD_Result done = MHD_queue_response(c, status, r);
    MHD_destroy_response(r);
    return done;
}

static enum MHD_Result answer_json(struct MHD_Connection *c, int status, json_t *o,
                                   const char *cookie) {
    char *text = o ? json_dumps(o, JSON_COMPACT | JSON_ENCODE_ANY | JSON_REAL_PRECISION(15)) : NULL;
    json_decref(o);
    if (!text) return MHD_NO;
    struct MHD_Response *r =
        MHD_create_response_from_buffer(strlen(text), text, MHD_RESPMEM_MUST_FREE);
    if (r) {
        MHD_add_response_header(r, "Content-Type", "application/json; charset=utf-8");
        MHD_add_response_header(r, "Cache-Control", "no-store");
        if (cookie) MHD_add_response_header(r, "Set-Cookie", cookie);
    }
    return queue(c, (unsigned)status, r);
}

static enum MHD_Result answer_refusal(struct MHD_Connection *c, int status, const char *reason) {
    return answer_json(c, status,
                       json_pack("{s:{s:s,s:s}}", "error", "message", reason, "remedy", ""), NULL);
}

/* `present` (may be NULL, taken over): what stands there instead, when two changed one thing. */
static enum MHD_Result answer_error(struct MHD_Connection *c, const struct error *err,
                                    json_t *present) {
    json_t *o =
        json_pack("{s:{s:s,s:s,s:s,s:s,s:s}}", "error", "code", error_name(err->code), "message",
                  err->message, "remedy", err->remedy, "column", err->column, "id", err->id);
    if (present) json_object_set_new(json_object_get(o, "error"), "present", present);
    return answer_json(c, api_status((int)err->code), o, NULL);
}

static const char *media_of(const char *name) {
    static const char *const types[][2] = {{".html", "text/html; charset=utf-8"},
                                           {".js", "text/javascript; charset=utf-8"},
                                           {".css", "text/css; charset=utf-8"},
                                           {".svg", "image/svg+xml"},
                                           {".json", "application/json"},
                                           {".woff", "font/woff"},
                                           {".ttf", "font/ttf"},
                                           {".png", "image/png"},
                                           {".webmanifest", "application/manifest+json"}};
    const char *dot = strrchr(name, '.');
    for (size_t i = 0; dot && i < sizeof types / sizeof types[0]; i++)
        if (strcmp(dot, types[i][0]) == 0) return types[i][1];
    return "application/octet-stream";
}

/* Screens: names in the table of embedded files under web/, nothing else. */
static enum MHD_Result answer_screen(struct MHD_Connection *c, const char *path) {
    char name[420];
    size_t n;
    snprintf(name, sizeof name, "web%s", strcmp(path, "/") ? path : "/index.html");
    const char *bytes = asset_find(name, &n);
    if (!bytes) return answer_refusal(c, 404, "There is no such page.");
    struct MHD_Response *r =
        MHD_create_response_from_buffer(n, (void *)bytes, MHD_RESPMEM_PERSISTENT);
    if (r) {
        MHD_add_response_header(r, "Content-Type", media_of(name));
        MHD_add_response_header(r, "Cache-Control", "no-cache");
    }
    return queue(c, 200, r);
}

/* ---- one request ---------------------------------------------------------------------------- */

struct request {
    struct gate_verdict verdict;
    bool judged;
    char *bytes;
    size_t used;
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
    return keyring_right(s->keys, session, now_seconds());
}

struct asked {
    struct MHD_Connection *connection;
    struct arena *arena;
};

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
    if (read_body(&body, r, &err)) return answer_error(c, &err, NULL);
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(c, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    char address[64] = "?", session[KEY_TEXT], cookie[160];
    if (info && info->client_addr->sa_family == AF_INET)
        inet_ntop(AF_INET, &((struct sockaddr_in *)info->client_addr)->sin_addr, address,
                  sizeof address);
    const char *token = json_string_value(json_object_get(body, "token"));
    bool wait = false;
    enum key_right right =
        keyring_join(s->keys, token ? token : "", address, now_seconds(), session, &wait);
    json_decref(body);
    if (right == KEY_NONE)
        return answer_refusal(c, wait ? 429 : 403,
                              wait ? "Too many wrong keys. Wait a minute."
                                   : "This key does not fit or is over. Ask for a new one.");
    snprintf(cookie, sizeof cookie, "%s=%s; Path=/; HttpOnly; SameSite=Strict", s->cookie, session);
    return answer_json(c, 200, json_pack("{s:b}", "write", right == KEY_WRITE), cookie);
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
        return answer_refusal(c, 429, "Too many pages are open. Close some.");
    struct left *l = mem_alloc(1, sizeof *l);
    if (!l) return MHD_NO;
    l->server = s;
    memcpy(l->session, session, KEY_TEXT);
    struct MHD_Response *r = stream_open(s->hub, c, stream_left, l);
    if (!r) stream_left(l);
    return queue(c, 200, r);
}

static enum MHD_Result run_row(struct server *s, struct MHD_Connection *c,
                               const struct api_row *row, const struct request *r) {
    struct error err = {0};
    json_t *body = NULL;
    struct asked asked = {c, arena_new()};
    struct api_call call = {.job = s->job,
                            .server = s,
                            .query = query_value,
                            .from = &asked,
                            .who = s->who,
                            .arena = asked.arena};
    int rc = call.arena ? 0 : fail_memory(&err);
    if (!rc && r->verdict.changes && !r->verdict.raw) rc = read_body(&body, r, &err);
    call.body = body;
    call.raw = r->bytes;
    call.raw_size = r->used;
    if (!rc && r->verdict.changes) {
        const char *who =
            body ? json_string_value(json_object_get(body, "who")) : query_value(&asked, "who");
        job_sign(s->job, who && *who ? who : s->who);
    }
    if (!rc) rc = row->handle(&call, &err);
    enum MHD_Result done;
    if (rc) {
        if (rc != ERR_CONFLICT) {
            json_decref(call.out);
            call.out = NULL;
        }
        done = answer_error(c, &err, call.out);
    } else if (call.bytes) {
        struct MHD_Response *m =
            MHD_create_response_from_buffer(call.size, (void *)call.bytes, MHD_RESPMEM_MUST_COPY);
        if (m) {
            MHD_add_response_header(m, "Content-Type", call.type);
            MHD_add_response_header(m, "Cache-Control", "no-store");
            if (call.attachment) MHD_add_response_header(m, "Content-Disposition", "attachment");
        }
        done = queue(c, 200, m);
    } else
        done = answer_json(c, 200, call.out, NULL);
    if (!rc && row->right == KEY_WRITE)
        tell_json(s, STREAM_CHANGED,
                  json_pack("{s:i}", "revision", (int)record_revision(job_record(s->job))));
    json_decref(body);
    arena_free(call.arena);
    return done;
}

static enum MHD_Result answer(struct server *s, struct MHD_Connection *c, const char *method,
                              const char *path, const struct request *r) {
    if (strncmp(path, "/api/", 5) != 0)
        return r->verdict.changes ? answer_refusal(c, 405, "Pages are only read.")
                                  : answer_screen(c, path);
    if (strcmp(path, "/api/join") == 0)
        return r->verdict.changes ? join(s, c, r) : answer_refusal(c, 405, "Send the key.");
    char session[KEY_TEXT] = "";
    enum key_right right = right_of(s, c, session);
    if (right == KEY_NONE)
        return answer_refusal(c, 401, "Open the address the program printed, with its key.");
    if (strcmp(path, "/api/stream") == 0) return open_stream(s, c, session);
    bool known;
    const struct api_row *row = api_find(method, path, &known);
    if (!row)
        return answer_refusal(c, known ? 405 : 404,
                              known ? "Not with this method." : "There is no such thing to ask.");
    if (row->right > right) return answer_refusal(c, 403, "This key is for reading only.");
    if (r->verdict.raw != (strcmp(row->method, "PUT") == 0))
        return answer_refusal(c, 415, "The type of the body is not the one expected here.");
    return run_row(s, c, row, r);
}

static enum MHD_Result on_request(void *context, struct MHD_Connection *c, const char *url,
                                  const char *method, const char *version, const char *data,
                                  size_t *size, void **state) {
    struct server *s = context;
    struct request *r = *state;
    (void)version;
    if (!r) { /* headers are here; the body is not */
        r = mem_alloc(1, sizeof *r);
        if (!r) return MHD_NO;
        *state = r;
        r->verdict = judge(s, c, method, url);
        if (r->verdict.status) return answer_refusal(c, r->verdict.status, r->verdict.reason);
        if (r->verdict.length && !(r->bytes = mem_alloc(r->verdict.length + 1, 1))) return MHD_NO;
        r->judged = true;
        return MHD_YES;
    }
    if (!r->judged) return MHD_YES;
    if (*size) {
        if (*size > r->verdict.length - r->used) return MHD_NO; /* more than was told */
        memcpy(r->bytes + r->used, data, *size);
        r->used += *size;
        *size = 0;
        return MHD_YES;
    }
    return answer(s, c, method, url, r);
}

static void on_completed(void *context, struct MHD_Connection *c, void **state,
                         enum MHD_RequestTerminationCode why) {
    struct request *r = *state;
    (void)context;
    (void)c;
    (void)why;
    if (!r) return;
    mem_free(r->bytes);
    mem_free(r);
    *state = NULL;
}

/* The library hands over decoded paths; the raw one is wanted, so that %2e is refused as such. */
static size_t leave_encoded(void *context, struct MHD_Connection *c, char *text) {
    (void)context;
    (void)c;
    return strlen(text);
}

/* ---- starting and stopping ------------------------------------------------------------------ */

static void add_host(struct server *s, size_t *n, const char *name) {
    if (*n >= MOST_HOSTS) return;
    snprintf(s->host_texts[*n], sizeof s->host_texts[*n], "%s:%u", name, s->port);
    s->hosts[*n] = s->host_texts[*n];
    s->hosts[++*n] = NULL;
}

static void list_hosts(struct server *s, bool share) {
    size_t n = 0;
    add_host(s, &n, "127.0.0.1");
    add_host(s, &n, "localhost");
    struct ifaddrs *all = NULL;
    if (!share || getifaddrs(&all)) return;
    for (const struct ifaddrs *a = all; a; a = a->ifa_next) {
        char text[INET_ADDRSTRLEN];
        if (!a->ifa_addr || a->ifa_addr->sa_family != AF_INET || (a->ifa_flags & IFF_LOOPBACK))
            continue;
        inet_ntop(AF_INET, &((struct sockaddr_in *)a->ifa_addr)->sin_addr, text, sizeof text);
        if (!*s->network) snprintf(s->network, sizeof s->network, "%s:%u", text, s->port);
        add_host(s, &n, text);
    }
    freeifaddrs(all);
}

static int listen_on(struct server *s, const struct server_options *o, struct error *err) {
    struct sockaddr_in at = {.sin_family = AF_INET,
                             .sin_port = htons(o->port),
                             .sin_addr.s_addr = htonl(o->share ? INADDR_ANY : INADDR_LOOPBACK)};
    s->daemon = MHD_start_daemon(
        MHD_USE_AUTO_INTERNAL_THREAD | MHD_ALLOW_SUSPEND_RESUME, 0, NULL, NULL, on_request, s,
        MHD_OPTION_SOCK_ADDR, (struct sockaddr *)&at, MHD_OPTION_CONNECTION_LIMIT,
        (unsigned)MOST_CONNECTIONS, MHD_OPTION_CONNECTION_TIMEOUT, (unsigned)SLOWEST,
        MHD_OPTION_CONNECTION_MEMORY_LIMIT, (size_t)HEADER_MEMORY, MHD_OPTION_NOTIFY_COMPLETED,
        on_completed, NULL, MHD_OPTION_UNESCAPE_CALLBACK, leave_encoded, NULL, MHD_OPTION_END);
    const union MHD_DaemonInfo *info =
        s->daemon ? MHD_get_daemon_info(s->daemon, MHD_DAEMON_INFO_BIND_PORT) : NULL;
    if (!info || !info->port)
        return fail(err, ERR_FILE, "Is another program using it? Leave --port out to take any.",
                    "Port %u cannot be listened on.", o->port);
    s->port = info->port;
    return 0;
}

int server_start(struct server **out, const char *project, const struct server_options *o,
                 struct error *err) {
    *out = NULL;
    struct server *s = mem_alloc(1, sizeof *s);
    if (!s) return fail_memory(err);
    pthread_mutex_init(&s->lock, NULL);
    s->project = mem_strdup(project);
    s->who = mem_strdup(o->who);
    s->keys = keyring_new();
    s->hub = stream_hub_new();
    int rc = s->project && s->keys && s->hub ? 0 : fail_memory(err);
    if (!rc) rc = job_open(&s->job, project, &(struct job_options){.who = s->who}, err);
    if (!rc && !s->who && !(s->who = mem_strdup(job_who(s->job)))) rc = fail_memory(err);
    if (!rc) rc = listen_on(s, o, err);
    char token[KEY_TEXT];
    if (!rc && !keyring_issue(s->keys, KEY_WRITE, now_seconds(), HALF_A_DAY, token))
        rc = fail(err, ERR_FILE, "Try again.", "The system gives no random numbers.");
    if (rc) {
        server_stop(s);
        return rc;
    }
    list_hosts(s, o->share);
    snprintf(s->cookie, sizeof s->cookie, "relict%u", s->port);
    snprintf(s->address, sizeof s->address, "http://127.0.0.1:%u/#key=%s", s->port, token);
    *out = s;
    return 0;
}

const char *server_address(const struct server *s) {
    return s->address;
}
unsigned short server_port(const struct server *s) {
    return s->port;
}

char *server_share_address(struct server *s, bool write, struct arena *arena) {
    char token[KEY_TEXT];
    if (!*s->network ||
        !keyring_issue(s->keys, write ? KEY_WRITE : KEY_READ, now_seconds(), HALF_A_DAY, token))
        return NULL;
    return arena_printf(arena, "http://%s/#key=%s", s->network, token);
}

void server_stop(struct server *s) {
    if (!s) return;
    server_halt(s);
    if (s->started) pthread_join(s->thread, NULL);
    if (s->hub) stream_hub_close(s->hub);
    if (s->daemon) MHD_stop_daemon(s->daemon);
    stream_hub_free(s->hub);
    job_close(s->job);
    keyring_free(s->keys);
    pthread_mutex_destroy(&s->lock);
    mem_free(s->project);
    mem_free(s->who);
    mem_free(s);
}
