/* Speed and memory of the server: the first screen of a project, a project of 2,000 pieces, many
 * readers at once, and the memory at rest. Usage: bench_serve [PROJECT] (the tray) */
#include "bench.h"

#include "job/bring.h"
#include "job/job.h"
#include "serve/server.h"

#include <arpa/inet.h>
#include <math.h>
#include <netinet/in.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

struct bench {
    struct server *server;
    unsigned short port;
    char session[33];
};

static long resident_mb(void) {
    FILE *f = fopen("/proc/self/statm", "r");
    long pages = 0;
    if (f && fscanf(f, "%*d %ld", &pages) != 1) pages = 0;
    if (f) fclose(f);
    return pages * sysconf(_SC_PAGESIZE) / (1 << 20);
}

/* Bytes of the whole answer; 0 on failure. */
static size_t ask(const struct bench *b, const char *text, char *out, size_t size) {
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    struct sockaddr_in at = {.sin_family = AF_INET,
                             .sin_port = htons(b->port),
                             .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    size_t all = 0;
    ssize_t n;
    char rest[65536];
    if (connect(fd, (const struct sockaddr *)&at, sizeof at) == 0 &&
        write(fd, text, strlen(text)) == (ssize_t)strlen(text))
        while ((n = read(fd, rest, sizeof rest)) > 0) {
            if (out && all < size)
                memcpy(out + all, rest, (size_t)n < size - all ? (size_t)n : size - all);
            all += (size_t)n;
        }
    close(fd);
    return all;
}

static size_t get(const struct bench *b, const char *path) {
    char text[600];
    snprintf(text, sizeof text,
             "GET %s HTTP/1.1\r\nHost: 127.0.0.1:%u\r\nCookie: relict%u=%s\r\nConnection: "
             "close\r\n\r\n",
             path, b->port, b->port, b->session);
    return ask(b, text, NULL, 0);
}

static int begin(struct bench *b, const char *project) {
    struct error err = {0};
    char text[600], answer[4096] = "", body[80];
    if (server_start(&b->server, project, &(struct server_options){0}, &err)) {
        printf("%s\n", err.message);
        return 1;
    }
    b->port = server_port(b->server);
    snprintf(body, sizeof body, "{\"token\":\"%s\"}",
             strstr(server_address(b->server), "#key=") + 5);
    snprintf(text, sizeof text,
             "POST /api/join HTTP/1.1\r\nHost: 127.0.0.1:%u\r\nOrigin: http://127.0.0.1:%u\r\n"
             "Content-Type: application/json\r\nContent-Length: %zu\r\nConnection: close\r\n\r\n%s",
             b->port, b->port, strlen(body), body);
    ask(b, text, answer, sizeof answer - 1);
    const char *cookie = strstr(answer, "Set-Cookie: "), *is = cookie ? strchr(cookie, '=') : NULL;
    snprintf(b->session, sizeof b->session, "%.32s", is ? is + 1 : "");
    return 0;
}

static double milliseconds(const struct bench *b, const char *path, size_t *bytes) {
    double begun = bench_wall();
    *bytes = get(b, path);
    return 1000 * (bench_wall() - begun);
}

static void table(const struct bench *b, const char *what, const char *const *paths) {
    printf("%s\n", what);
    for (; *paths; paths++) {
        size_t bytes;
        double first = milliseconds(b, *paths, &bytes), again = milliseconds(b, *paths, &bytes);
        printf("  %-40s %8.1f kB  first %7.1f ms  again %7.1f ms\n", *paths, (double)bytes / 1000,
               first, again);
    }
}

static const char *const tray[] = {"/",
                                   "/main.js",
                                   "/api/project",
                                   "/api/statements",
                                   "/api/picture?name=found",
                                   "/api/picture?name=proposed",
                                   "/api/result?step=making",
                                   "/api/checklist",
                                   "/api/wood",
                                   NULL};
static const char *const many[] = {
    "/api/project", "/api/entries?kind=piece", "/api/entries?kind=measure",
    "/api/aside",   "/api/picture?name=found", NULL};

/* ---- readers at once ------------------------------------------------------------------------- */

struct reader {
    const struct bench *b;
    double slowest;
};

static void *read_often(void *context) {
    struct reader *r = context;
    size_t bytes;
    for (int i = 0; i < 25; i++)
        r->slowest = fmax(r->slowest, milliseconds(r->b, "/api/project", &bytes));
    return NULL;
}

static void readers(const struct bench *b) {
    enum { READERS = 20 };
    pthread_t thread[READERS];
    struct reader r[READERS];
    double begun = bench_wall(), slowest = 0;
    for (int i = 0; i < READERS; i++) {
        r[i] = (struct reader){b, 0};
        pthread_create(&thread[i], NULL, read_often, &r[i]);
    }
    for (int i = 0; i < READERS; i++) {
        pthread_join(thread[i], NULL);
        slowest = fmax(slowest, r[i].slowest);
    }
    double seconds = bench_wall() - begun;
    printf("%d readers, 25 times each the project: %.0f a second, slowest %.0f ms\n", READERS,
           25 * READERS / seconds, slowest);
}

/* ---- 2,000 pieces ---------------------------------------------------------------------------- */

static int two_thousand(const char *path) {
    struct error err = {0};
    struct job *job;
    json_t *report = NULL;
    size_t room = 2000 * 80 + 200, n;
    char *text = malloc(room);
    n = (size_t)snprintf(text, room, "id,part,material,length_mm,width_mm,state\n");
    for (int i = 0; i < 2000; i++)
        n += (size_t)snprintf(text + n, room - n, "P%04d,cross lath,split wood,%d,%d,wet in lab\n",
                              i, 100 + i % 200, 15 + i % 12);
    const struct bring_options o = {.separator = ",", .bar_length = NAN};
    int rc = job_new(&job, path, "2,000 pieces", 1, 0, NULL, &err);
    if (!rc) rc = job_bring(&report, job, "finds.csv", text, n, &o, &err);
    if (rc) printf("%s\n", err.message);
    json_decref(report);
    free(text);
    job_close(job);
    return rc;
}

int main(int count, char **words) {
    const char *project = count > 1 ? words[1] : "out/demo/tray.relict";
    char folder[] = "/tmp/relict-bench-XXXXXX", path[100], command[100];
    struct bench b;
    size_t bytes;
    if (!mkdtemp(folder) || begin(&b, project)) return 1;
    table(&b, "The tray", tray);
    readers(&b);
    usleep(500000);
    bench_target("memory at rest, the tray", (double)resident_mb(), 150, "MB");
    server_stop(b.server);

    snprintf(path, sizeof path, "%s/many.relict", folder);
    if (two_thousand(path) || begin(&b, path)) return 1;
    table(&b, "2,000 pieces", many);
    bench_target("2,000 pieces with their readings, to the page",
                 (milliseconds(&b, "/api/entries?kind=piece", &bytes) +
                  milliseconds(&b, "/api/entries?kind=measure", &bytes)) /
                     1000,
                 1, "s");
    bench_target("memory, 2,000 pieces", (double)resident_mb(), 150, "MB");
    server_stop(b.server);
    snprintf(command, sizeof command, "rm -rf %s", folder);
    return system(command);
}
