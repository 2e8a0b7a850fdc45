#include "serve/watch.h"

#include "base/mem.h"
#include "serve/server_private.h"

#include <errno.h>
#include <stdbool.h>
#include <sys/socket.h>
#include <time.h>

/* The slowest upload that is waited for: 20 kB/s, a bad telephone. */
static const double slowest_bytes_per_second = 20e3;

struct watched {
    struct watched *next;
    int descriptor;
    double late; /* moment; 0: never */
};

struct watch {
    pthread_mutex_t lock;
    pthread_cond_t stop;
    pthread_t thread;
    struct watched *all;
    double patience;
    bool stopping;
};

/* Under the lock: a descriptor cannot be closed and given away in between. */
static void shut_late(struct watch *w, double now) {
    for (struct watched *o = w->all; o; o = o->next)
        if (o->late > 0 && now > o->late) {
            shutdown(o->descriptor, SHUT_RDWR);
            o->late = 0;
        }
}

static void *look(void *context) {
    struct watch *w = context;
    pthread_mutex_lock(&w->lock);
    while (!w->stopping) {
        shut_late(w, server_seconds());
        struct timespec until;
        clock_gettime(CLOCK_REALTIME, &until);
        double step = w->patience < 4 ? w->patience / 4 : 1;
        until.tv_nsec += (long)(1e9 * (step < 1 ? step : 0));
        until.tv_sec += (step < 1 ? 0 : 1) + until.tv_nsec / 1000000000;
        until.tv_nsec %= 1000000000;
        pthread_cond_timedwait(&w->stop, &w->lock, &until);
    }
    pthread_mutex_unlock(&w->lock);
    return NULL;
}

struct watch *watch_new(double patience) {
    struct watch *w = mem_alloc(1, sizeof *w);
    if (!w) return NULL;
    w->patience = patience;
    pthread_mutex_init(&w->lock, NULL);
    pthread_cond_init(&w->stop, NULL);
    if (pthread_create(&w->thread, NULL, look, w) == 0) return w;
    mem_free(w);
    return NULL;
}

void watch_free(struct watch *w) {
    if (!w) return;
    pthread_mutex_lock(&w->lock);
    w->stopping = true;
    pthread_cond_signal(&w->stop);
    pthread_mutex_unlock(&w->lock);
    pthread_join(w->thread, NULL);
    while (w->all) {
        struct watched *next = w->all->next;
        mem_free(w->all);
        w->all = next;
    }
    pthread_cond_destroy(&w->stop);
    pthread_mutex_destroy(&w->lock);
    mem_free(w);
}

struct watched *watch_begin(struct watch *w, int descriptor) {
    struct watched *one = mem_alloc(1, sizeof *one);
    if (!one) return NULL;
    pthread_mutex_lock(&w->lock);
    *one = (struct watched){w->all, descriptor, server_seconds() + w->patience};
    w->all = one;
    pthread_mutex_unlock(&w->lock);
    return one;
}

void watch_end(struct watch *w, struct watched *one) {
    if (!one) return;
    pthread_mutex_lock(&w->lock);
    struct watched **p = &w->all;
    while (*p && *p != one)
        p = &(*p)->next;
    if (*p) *p = one->next;
    pthread_mutex_unlock(&w->lock);
    mem_free(one);
}

static void set(struct watch *w, struct watched *one, double late) {
    if (!one) return;
    pthread_mutex_lock(&w->lock);
    one->late = late;
    pthread_mutex_unlock(&w->lock);
}

void watch_expect(struct watch *w, struct watched *one, double bytes) {
    set(w, one, bytes < 0 ? 0 : server_seconds() + w->patience + bytes / slowest_bytes_per_second);
}

void watch_again(struct watch *w, struct watched *one) {
    set(w, one, server_seconds() + w->patience);
}
