/* serve: several people at once over real sockets. Two clients write the same things in turn: no
 * write that was taken is lost and whoever was late is told, with both values. A hundred clients
 * with open streams while something is worked out: all get its end. RELICT_WRITES: how many writes
 * in all (200). */
#include "wire.h"

#include "base/parallel.h"
#include "serve/server_private.h"

#include <pthread.h>

enum { THINGS = 7, CLIENTS = 2 };

struct client {
    const struct wire *w;
    char session[33];
    int number, writes;
    int taken, conflicts, both_told, failed;
};

static long seen_revision(const struct client *c, int thing) {
    char path[64], answer[8192];
    snprintf(path, sizeof path, "/api/history?kind=choice&id=T%d", thing);
    if (wire_get(c->w, path, c->session, answer, sizeof answer) != 200) return 0;
    long newest = 0;
    for (const char *at = answer; (at = strstr(at, "\"revision\":")); at++)
        newest = strtol(at + 11, NULL, 10);
    return newest;
}

/* Writes until taken; a conflict is told with what stands there, and read from there. */
static void write_one(struct client *c, int i) {
    int thing = i % THINGS;
    long seen = -2;
    static const char *const form =
        "{\"kind\":\"choice\",\"id\":\"T%d\",\"expected\":%ld,\"who\":\"client %d\",\"body\":{"
        "\"id\":\"T%d\",\"about\":\"thing\",\"value\":\"%d.%d\"}}";
    char body[300], answer[4096];
    if (i < THINGS) seen = 0; /* both believe it is new */
    for (int tries = 0; tries < 200; tries++) {
        if (seen == -2) seen = seen_revision(c, thing);
        snprintf(body, sizeof body, form, thing, seen, c->number, thing, c->number, i);
        int status = wire_post(c->w, "/api/enter", c->session, body, answer, sizeof answer);
        if (status == 200) {
            c->taken++;
            return;
        }
        if (status != 409) break;
        c->conflicts++;
        const char *present = strstr(answer, "\"present\":"),
                   *revision = present ? strstr(present, "\"revision\":") : NULL;
        char mine[32];
        snprintf(mine, sizeof mine, "%d.%d", c->number, i);
        /* theirs in "present", ours in the sentence */
        if (revision && strstr(answer, mine)) c->both_told++;
        seen = revision ? strtol(revision + 11, NULL, 10) : -2;
    }
    c->failed++;
}

static void *run_client(void *context) {
    struct client *c = context;
    for (int i = 0; i < c->writes; i++)
        write_one(c, i);
    return NULL;
}

static int revisions_of(const struct wire *w, const char *session, int thing) {
    static char answer[1 << 19];
    char path[64];
    snprintf(path, sizeof path, "/api/history?kind=choice&id=T%d", thing);
    assert_int_equal(wire_get(w, path, session, answer, sizeof answer), 200);
    int n = 0;
    for (const char *at = answer; (at = strstr(at, "\"revision\":")); at++)
        n++;
    return n;
}

static void two_clients_lose_nothing(void **state) {
    (void)state;
    const char *wanted = getenv("RELICT_WRITES");
    int writes = wanted ? atoi(wanted) : 200;
    struct wire w;
    wire_begin(&w, &(struct server_options){0});
    struct client c[CLIENTS];
    pthread_t thread[CLIENTS];
    double begun = wire_seconds();
    for (int i = 0; i < CLIENTS; i++) {
        c[i] = (struct client){.w = &w, .number = i, .writes = writes / CLIENTS};
        wire_own(&w, c[i].session);
        assert_int_equal(pthread_create(&thread[i], NULL, run_client, &c[i]), 0);
    }
    for (int i = 0; i < CLIENTS; i++)
        pthread_join(thread[i], NULL);
    double taken = wire_seconds() - begun;
    int kept = 0, all = 0, conflicts = 0, told = 0;
    for (int i = 0; i < THINGS; i++)
        kept += revisions_of(&w, c[0].session, i);
    for (int i = 0; i < CLIENTS; i++) {
        assert_int_equal(c[i].failed, 0);
        all += c[i].taken;
        conflicts += c[i].conflicts;
        told += c[i].both_told;
    }
    check_note("two clients, %d writes taken in %.1f s: %d kept, %d lost; %d conflicts, %d told "
               "with both values",
               all, taken, kept, all - kept, conflicts, told);
    assert_int_equal(all, writes / CLIENTS * CLIENTS);
    assert_int_equal(kept, all);
    assert_int_equal(told, conflicts);
    wire_end(&w);
}

/* ---- a try that takes long ---------------------------------------------------------------------
 */

enum { TRIES = 12 };

static size_t errands(struct wire *w) {
    pthread_mutex_lock(&w->server->lock);
    size_t n = w->server->errands;
    pthread_mutex_unlock(&w->server->lock);
    return n;
}

/* Its lane is held here, as by a shell that is being solved, and more tries wait than the library
 * has threads: who reads or enters is answered all the same, and the tries are when the lane is
 * free. */
static void a_long_try_keeps_nobody_waiting(void **state) {
    (void)state;
    struct wire w;
    char session[33], answer[4096], text[700];
    wire_begin(&w, &(struct server_options){0});
    wire_own(&w, session);
    pthread_mutex_lock(&w.server->lanes[LANE_TRY]);
    int fd[TRIES];
    static const char body[] = "{\"making\":\"none\",\"by\":\"shell\",\"parts\":[]}";
    int n = snprintf(text, sizeof text,
                     "POST /api/what_if HTTP/1.1\r\nHost: %s\r\nCookie: %s=%s\r\n"
                     "Origin: http://%s\r\nContent-Type: application/json\r\n"
                     "Content-Length: %zu\r\nConnection: close\r\n\r\n%s",
                     w.host, w.cookie_name, session, w.host, sizeof body - 1, body);
    for (int i = 0; i < TRIES; i++) {
        fd[i] = wire_connect(&w);
        assert_true(fd[i] >= 0 && wire_write(fd[i], text, (size_t)n));
    }
    double begun = wire_seconds();
    while (errands(&w) < TRIES && wire_seconds() - begun < 10)
        usleep(1000);
    assert_int_equal(errands(&w), TRIES); /* all wait, none in a thread of the library */
    begun = wire_seconds();
    for (int i = 0; i < 40; i++)
        assert_int_equal(wire_get(&w, "/api/project", session, answer, sizeof answer), 200);
    assert_int_equal(wire_post(&w, "/api/enter", session,
                               "{\"kind\":\"choice\",\"id\":\"T\",\"expected\":0,\"body\":{\"id\":"
                               "\"T\",\"about\":\"thing\",\"value\":\"1\"}}",
                               answer, sizeof answer),
                     200);
    double taken = wire_seconds() - begun;
    pthread_mutex_unlock(&w.server->lanes[LANE_TRY]);
    for (int i = 0; i < TRIES; i++) {
        int status = 0;
        wire_read(fd[i], answer, sizeof answer);
        sscanf(answer, "HTTP/1.1 %d", &status);
        assert_int_equal(status, 422); /* a list without parts */
        close(fd[i]);
    }
    check_note("%d tries waiting: 40 readings and an entry in %.2f s, then every try answered",
               TRIES, taken);
    assert_true(taken < 15);
    wire_end(&w);
}

/* ---- a hundred streams ----------------------------------------------------------------------- */

enum { STREAMS = 100, SESSIONS = 4 };

static const char finds[] = "id,part,material,length_mm,width_mm,state\n"
                            "A1,cross lath,split wood,210,18,wet in lab\n"
                            "A2,cross lath,split wood,195,17,wet in lab\n"
                            "A3,rim,withy,400,12,wet in lab\n";

static bool reads_end(int fd, double until) {
    char text[8192];
    size_t n = 0;
    struct timeval most = {0, 200000};
    setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &most, sizeof most);
    while (wire_seconds() < until) {
        ssize_t k = recv(fd, text + n, sizeof text - 1 - n, 0);
        if (k == 0) return false;
        if (k > 0) n += (size_t)k;
        text[n] = 0;
        if (strstr(text, "event: end\ndata: ")) return true;
        if (n > sizeof text / 2) { /* keep the tail */
            memmove(text, text + n - 64, 64);
            n = 64;
        }
    }
    return false;
}

static void a_hundred_streams_get_the_end(void **state) {
    (void)state;
    struct wire w;
    char session[SESSIONS][33], text[300], path[] = "/api/import?name=finds.csv";
    int fd[STREAMS];
    wire_begin(&w, &(struct server_options){0});
    for (int i = 0; i < SESSIONS; i++)
        wire_own(&w, session[i]);
    assert_int_equal(
        wire_ask(&w, "PUT", path, session[0], "application/octet-stream", finds, NULL, 0), 200);
    for (int i = 0; i < STREAMS; i++) {
        fd[i] = wire_connect(&w);
        assert_true(fd[i] >= 0);
        int n = snprintf(text, sizeof text,
                         "GET /api/stream HTTP/1.1\r\nHost: %s\r\nCookie: %s=%s\r\n\r\n", w.host,
                         w.cookie_name, session[i % SESSIONS]);
        assert_true(wire_write(fd[i], text, (size_t)n));
        char head[64];
        assert_true(recv(fd[i], head, sizeof head, 0) > 0); /* it stands */
    }
    assert_int_equal(wire_post(&w, "/api/compute", session[0], "{\"step\":\"sizes\"}", NULL, 0),
                     200);
    double slowest = 0;
    int reads = 0;
    for (int i = 0; i < 20; i++) { /* reading goes on meanwhile */
        double begun = wire_seconds();
        reads += wire_get(&w, "/api/entries?kind=piece", session[1], NULL, 0) == 200;
        slowest = fmax(slowest, wire_seconds() - begun);
    }
    int got = 0;
    double until = wire_seconds() + 60;
    for (int i = 0; i < STREAMS; i++) {
        got += reads_end(fd[i], until);
        close(fd[i]);
    }
    check_note("%d open streams: %d got the end; 20 readings meanwhile, slowest %.0f ms", STREAMS,
               got, 1000 * slowest);
    assert_int_equal(got, STREAMS);
    assert_int_equal(reads, 20);
    wire_end(&w);
}

int main(void) {
    parallel_set_threads(2);
    const struct CMUnitTest tests[] = {cmocka_unit_test(two_clients_lose_nothing),
                                       cmocka_unit_test(a_long_try_keeps_nobody_waiting),
                                       cmocka_unit_test(a_hundred_streams_get_the_end)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
