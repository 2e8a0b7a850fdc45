#include "serve/server.h"

#include "base/mem.h"
#include "serve/api.h"
#include "serve/server_private.h"

#include <arpa/inet.h>
#include <ifaddrs.h>
#include <net/if.h>
#include <netinet/in.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    MOST_CONNECTIONS = 256,
    THREADS = 8,   /* of the library: some may wait in the lanes while others serve */
    SILENCE = 15,  /* seconds */
    PATIENCE = 60, /* seconds */
    HEADER_MEMORY = 64 << 10,
    HALF_A_DAY = 12 * 3600,
    A_MONTH = 31 * 24 * 3600, /* who began the program stays in while it runs */
};

/* The library hands over decoded paths; the raw one is wanted, so that %2e is refused as such. */
static size_t leave_encoded(void *context, struct MHD_Connection *c, char *text) {
    (void)context;
    (void)c;
    return strlen(text);
}

static void add_host(struct server *s, size_t *n, const char *name) {
    if (*n >= SERVER_HOSTS) return;
    snprintf(s->host_texts[*n], sizeof s->host_texts[*n], "%s:%u", name, s->port);
    s->hosts[*n] = s->host_texts[*n];
    s->hosts[++*n] = NULL;
}

static void list_hosts(struct server *s, bool share) {
    size_t n = 0;
    add_host(s, &n, "127.0.0.1");
    add_host(s, &n, "localhost");
    if (s->daemons[1]) add_host(s, &n, "[::1]");
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

/* By poll: the library's epoll way is edge-triggered and misses the end of a request that was cut
 * short when its last bytes came with it. */
static struct MHD_Daemon *daemon_on(struct server *s, const struct sockaddr *at, unsigned flags,
                                    const struct server_options *o) {
    return MHD_start_daemon(
        MHD_USE_POLL_INTERNAL_THREAD | MHD_ALLOW_SUSPEND_RESUME | flags, 0, NULL, NULL,
        server_on_request, s, MHD_OPTION_SOCK_ADDR, at, MHD_OPTION_CONNECTION_LIMIT,
        (unsigned)MOST_CONNECTIONS, MHD_OPTION_CONNECTION_TIMEOUT,
        o->silence ? o->silence : (unsigned)SILENCE, MHD_OPTION_CONNECTION_MEMORY_LIMIT,
        (size_t)HEADER_MEMORY, MHD_OPTION_THREAD_POOL_SIZE, (unsigned)THREADS,
        MHD_OPTION_NOTIFY_COMPLETED, server_on_completed, s, MHD_OPTION_NOTIFY_CONNECTION,
        server_on_connection, s, MHD_OPTION_UNESCAPE_CALLBACK, leave_encoded, NULL, MHD_OPTION_END);
}

static int listen_on(struct server *s, const struct server_options *o, struct error *err) {
    const struct sockaddr_in at = {.sin_family = AF_INET,
                                   .sin_port = htons(o->port),
                                   .sin_addr.s_addr =
                                       htonl(o->share ? INADDR_ANY : INADDR_LOOPBACK)};
    struct MHD_Daemon *d = daemon_on(s, (const struct sockaddr *)&at, 0, o);
    s->daemons[0] = d;
    const union MHD_DaemonInfo *info = d ? MHD_get_daemon_info(d, MHD_DAEMON_INFO_BIND_PORT) : NULL;
    if (!info || !info->port)
        return fail(err, ERR_FILE, "Is another program using it? Leave --port out to take any.",
                    "Port %u cannot be listened on.", o->port);
    s->port = info->port;
    /* A machine without IPv6 does without. */
    const struct sockaddr_in6 at6 = {
        .sin6_family = AF_INET6, .sin6_port = htons(s->port), .sin6_addr = IN6ADDR_LOOPBACK_INIT};
    s->daemons[1] = daemon_on(s, (const struct sockaddr *)&at6, MHD_USE_IPv6, o);
    return 0;
}

/* Reading and trying have doors that cannot write. */
static int open_lanes(struct server *s, const char *project, struct error *err) {
    int rc = 0;
    for (int i = 0; i < LANES && !rc; i++) {
        const struct job_options o = {.who = s->who, .read_only = i != LANE_ENTER};
        rc = job_open(&s->jobs[i], project, &o, err);
    }
    /* The first page asks for the steps: read them while the browser is still being opened. What is
     * wrong with them is told when they are asked for. */
    json_t *steps = NULL;
    if (!rc && !job_steps(&steps, s->jobs[LANE_READ], NULL)) json_decref(steps);
    return rc;
}

int server_start(struct server **out, const char *project, const struct server_options *o,
                 struct error *err) {
    *out = NULL;
    struct server *s = mem_alloc(1, sizeof *s);
    if (!s) return fail_memory(err);
    pthread_mutex_init(&s->lock, NULL);
    pthread_cond_init(&s->idle, NULL);
    for (int i = 0; i < LANES; i++)
        pthread_mutex_init(&s->lanes[i], NULL);
    s->share_for = o->share_for > 0 ? o->share_for : HALF_A_DAY;
    s->project = mem_strdup(project);
    s->who = mem_strdup(o->who);
    s->keys = keyring_new();
    s->hub = stream_hub_new();
    s->watch = watch_new(o->patience > 0 ? o->patience : PATIENCE);
    int rc = s->project && s->keys && s->hub && s->watch ? 0 : fail_memory(err);
    if (!rc) rc = open_lanes(s, project, err);
    if (!rc && !s->who && !(s->who = mem_strdup(job_who(s->jobs[LANE_ENTER]))))
        rc = fail_memory(err);
    if (!rc) rc = listen_on(s, o, err);
    char token[KEY_TEXT];
    if (!rc && !keyring_issue(s->keys, KEY_OWN, server_seconds(), A_MONTH, token))
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
    if (!*s->network || !keyring_issue(s->keys, write ? KEY_WRITE : KEY_READ, server_seconds(),
                                       s->share_for, token))
        return NULL;
    return arena_printf(arena, "http://%s/#key=%s", s->network, token);
}

void server_stop(struct server *s) {
    if (!s) return;
    server_worker_end(s);
    pthread_mutex_lock(&s->lock);
    s->stopping = true;
    while (s->errands)
        pthread_cond_wait(&s->idle, &s->lock);
    pthread_mutex_unlock(&s->lock);
    if (s->hub) stream_hub_close(s->hub);
    for (int i = 0; i < 2; i++)
        if (s->daemons[i]) MHD_stop_daemon(s->daemons[i]);
    stream_hub_free(s->hub);
    watch_free(s->watch);
    for (int i = LANES; i-- > 0;) { /* the one that writes last: its mark is the newest */
        job_close(s->jobs[i]);
        pthread_mutex_destroy(&s->lanes[i]);
    }
    keyring_free(s->keys);
    pthread_cond_destroy(&s->idle);
    pthread_mutex_destroy(&s->lock);
    mem_free(s->project);
    mem_free(s->who);
    mem_free(s);
}
