/* wire: a program that is served, and raw requests to it over real sockets. */
#ifndef RELICT_TESTS_WIRE_H
#define RELICT_TESTS_WIRE_H

#include "job/job.h"
#include "serve/server.h"

#include "check.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <stdbool.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

struct wire {
    char folder[64], project[96];
    struct server *server;
    unsigned short port;
    char host[40], cookie_name[24];
    struct arena *arena;
};

static inline double wire_seconds(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static inline void wire_begin(struct wire *w, const struct server_options *options) {
    struct error err = {0};
    struct job *job;
    memset(w, 0, sizeof *w);
    /* in memory where there is such a place: what is tried here is not the disk */
    snprintf(w->folder, sizeof w->folder, "%s/relict-serve-XXXXXX",
             access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp");
    if (!mkdtemp(w->folder)) {
        fail_msg("no folder to work in");
        return;
    }
    snprintf(w->project, sizeof w->project, "%s/p.relict", w->folder);
    w->arena = arena_new();
    /* Accounts of this test know no other files. */
    setenv("XDG_STATE_HOME", w->folder, 1);
    if (job_new(&job, w->project, "Wire", 1, 64, &(struct job_options){.who = "tester"}, &err))
        fail_msg("%s", err.message);
    job_close(job);
    if (server_start(&w->server, w->project, options, &err)) fail_msg("%s", err.message);
    w->port = server_port(w->server);
    snprintf(w->host, sizeof w->host, "127.0.0.1:%u", w->port);
    snprintf(w->cookie_name, sizeof w->cookie_name, "relict%u", w->port);
}

static inline void wire_end(struct wire *w) {
    char command[128];
    server_stop(w->server);
    arena_free(w->arena);
    snprintf(command, sizeof command, "rm -rf '%s'", w->folder);
    assert_int_equal(system(command), 0);
}

static inline int wire_connect(const struct wire *w) {
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0), one = 1;
    struct sockaddr_in at = {.sin_family = AF_INET,
                             .sin_port = htons(w->port),
                             .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    struct timeval most = {20, 0};
    setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &most, sizeof most);
    setsockopt(fd, SOL_SOCKET, SO_SNDTIMEO, &most, sizeof most);
    setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one);
    if (connect(fd, (const struct sockaddr *)&at, sizeof at)) {
        close(fd);
        return -1;
    }
    return fd;
}

static inline bool wire_write(int fd, const void *bytes, size_t n) {
    for (const char *p = bytes; n;) {
        ssize_t k = send(fd, p, n, MSG_NOSIGNAL);
        if (k <= 0) return false;
        p += k;
        n -= (size_t)k;
    }
    return true;
}

/* Reads until the other side closes or `size` is full; 0-terminated. */
static inline size_t wire_read(int fd, char *out, size_t size) {
    size_t n = 0;
    ssize_t k;
    while (n + 1 < size && (k = recv(fd, out + n, size - 1 - n, 0)) > 0)
        n += (size_t)k;
    out[n] = 0;
    return n;
}

/* One request on a connection of its own, ended by us after the sending; the status, 0 when the
 * connection was ended without one. `answer` [size] may be NULL. */
static inline int wire_raw(const struct wire *w, const void *bytes, size_t n, char *answer,
                           size_t size) {
    char own[8192];
    int fd = wire_connect(w), status = 0;
    if (fd < 0) return -1;
    wire_write(fd, bytes, n);
    shutdown(fd, SHUT_WR);
    char *to = answer ? answer : own;
    wire_read(fd, to, answer ? size : sizeof own);
    close(fd);
    sscanf(to, "HTTP/1.1 %d", &status);
    return status;
}

/* A request with the usual headers. session NULL: none. body NULL: GET. */
static inline int wire_ask(const struct wire *w, const char *method, const char *path,
                           const char *session, const char *type, const char *body, char *answer,
                           size_t size) {
    size_t n = body ? strlen(body) : 0, room = n + 2048;
    char *text = test_malloc(room), cookie[96] = "", more[200] = "";
    if (session) snprintf(cookie, sizeof cookie, "Cookie: %s=%s\r\n", w->cookie_name, session);
    if (body)
        snprintf(more, sizeof more,
                 "Origin: http://%s\r\nContent-Type: %s\r\nContent-Length: %zu\r\n", w->host, type,
                 n);
    int k = snprintf(text, room, "%s %s HTTP/1.1\r\nHost: %s\r\n%s%sConnection: close\r\n\r\n%s",
                     method, path, w->host, cookie, more, body ? body : "");
    int status = wire_raw(w, text, (size_t)k, answer, size);
    test_free(text);
    return status;
}

static inline int wire_post(const struct wire *w, const char *path, const char *session,
                            const char *body, char *answer, size_t size) {
    return wire_ask(w, "POST", path, session, "application/json", body, answer, size);
}

static inline int wire_get(const struct wire *w, const char *path, const char *session,
                           char *answer, size_t size) {
    return wire_ask(w, "GET", path, session, NULL, NULL, answer, size);
}

/* Swaps a token for a session; the status. */
static inline int wire_join(const struct wire *w, const char *token, char session[33]) {
    char body[160], answer[2048], find[64];
    snprintf(body, sizeof body, "{\"token\":\"%.80s\"}", token);
    int status = wire_post(w, "/api/join", NULL, body, answer, sizeof answer);
    snprintf(find, sizeof find, "Set-Cookie: %s=", w->cookie_name);
    const char *at = strstr(answer, find);
    snprintf(session, 33, "%.32s", at ? at + strlen(find) : "");
    return status;
}

static inline const char *wire_token(const char *address) {
    const char *key = address ? strstr(address, "#key=") : NULL;
    return key ? key + 5 : "";
}

/* The session of who began the program. */
static inline void wire_own(const struct wire *w, char session[33]) {
    assert_int_equal(wire_join(w, wire_token(server_address(w->server)), session), 200);
}

/* The value of "revision" now. */
static inline long wire_revision(const struct wire *w, const char *session) {
    static char answer[16384];
    assert_int_equal(wire_get(w, "/api/project", session, answer, sizeof answer), 200);
    const char *at = strstr(answer, "\"revision\":");
    assert_non_null(at);
    return strtol(at + 11, NULL, 10);
}

#endif
