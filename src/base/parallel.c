#include "base/parallel.h"

#include <pthread.h>
#include <stdatomic.h>
#include <unistd.h>

enum { MOST_THREADS = 16 };

static atomic_uint wanted; /* 0: ask the machine */

void parallel_set_threads(unsigned threads) {
    atomic_store(&wanted, threads > MOST_THREADS ? MOST_THREADS : threads);
}

unsigned parallel_threads(void) {
    unsigned n = atomic_load(&wanted);
    if (n) return n;
    long cores = sysconf(_SC_NPROCESSORS_ONLN);
    return cores < 1 ? 1 : cores > MOST_THREADS ? MOST_THREADS : (unsigned)cores;
}

size_t parallel_chunks(size_t n, size_t chunk) {
    if (chunk == 0) chunk = 1;
    return n / chunk + (n % chunk != 0);
}

struct loop {
    size_t n, chunk, chunks;
    atomic_size_t next;
    parallel_body *body;
    void *context;
};

static void *work(void *arg) {
    struct loop *loop = arg;
    for (;;) {
        size_t i = atomic_fetch_add(&loop->next, 1);
        if (i >= loop->chunks) return NULL;
        size_t begin = i * loop->chunk, end = begin + loop->chunk;
        loop->body(begin, end < loop->n ? end : loop->n, i, loop->context);
    }
}

void parallel_for(size_t n, size_t chunk, parallel_body *body, void *context) {
    if (chunk == 0) chunk = 1;
    struct loop loop = {.n = n,
                        .chunk = chunk,
                        .chunks = parallel_chunks(n, chunk),
                        .body = body,
                        .context = context};
    pthread_t threads[MOST_THREADS];
    size_t helpers = parallel_threads() - 1, started = 0;
    if (loop.chunks < helpers + 1) helpers = loop.chunks ? loop.chunks - 1 : 0;
    while (started < helpers && pthread_create(&threads[started], NULL, work, &loop) == 0)
        started++;
    work(&loop); /* a thread that could not be started costs time, not the answer */
    for (size_t i = 0; i < started; i++)
        pthread_join(threads[i], NULL);
}
