#include "serve/stream.h"

#include "base/mem.h"

#include <pthread.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

enum { NEWS = 2048 };

struct stream {
    struct stream *next;
    struct stream_hub *hub;
    struct MHD_Connection *connection;
    bool asleep; /* suspended: to be woken */
    unsigned long seen[STREAM_KINDS];
    bool greeted;
    void (*left)(void *context);
    void *context;
};

struct stream_hub {
    pthread_mutex_t lock;
    struct stream *streams;
    unsigned long count[STREAM_KINDS];
    char news[STREAM_KINDS][NEWS];
    bool closing;
};

static const char *const names[STREAM_KINDS] = {"progress", "end", "changed"};

struct stream_hub *stream_hub_new(void) {
    struct stream_hub *hub = mem_alloc(1, sizeof *hub);
    if (hub) pthread_mutex_init(&hub->lock, NULL);
    return hub;
}

void stream_hub_free(struct stream_hub *hub) {
    if (!hub) return;
    pthread_mutex_destroy(&hub->lock);
    mem_free(hub);
}

/* Under the lock that also guards `asleep`; otherwise a wake-up could be lost. */
static void wake_all(struct stream_hub *hub) {
    for (struct stream *s = hub->streams; s; s = s->next)
        if (s->asleep) {
            s->asleep = false;
            MHD_resume_connection(s->connection);
        }
}

void stream_tell(struct stream_hub *hub, enum stream_kind kind, const char *json) {
    pthread_mutex_lock(&hub->lock);
    snprintf(hub->news[kind], NEWS, "%s", json);
    hub->count[kind]++;
    wake_all(hub);
    pthread_mutex_unlock(&hub->lock);
}

void stream_hub_close(struct stream_hub *hub) {
    pthread_mutex_lock(&hub->lock);
    hub->closing = true;
    wake_all(hub);
    pthread_mutex_unlock(&hub->lock);
}

/* Writes what is new for this stream; 0 when nothing is. */
static size_t news_for(struct stream *s, char *buffer, size_t size) {
    struct stream_hub *hub = s->hub;
    if (!s->greeted) {
        s->greeted = true;
        return (size_t)snprintf(buffer, size, "retry: 2000\n\n");
    }
    for (int k = 0; k < STREAM_KINDS; k++) {
        if (s->seen[k] == hub->count[k]) continue;
        int n = snprintf(buffer, size, "event: %s\ndata: %s\n\n", names[k], hub->news[k]);
        if (n < 0 || (size_t)n >= size) return 0; /* the buffer is larger than any news */
        s->seen[k] = hub->count[k];
        return (size_t)n;
    }
    return 0;
}

static ssize_t read_stream(void *context, uint64_t position, char *buffer, size_t size) {
    struct stream *s = context;
    (void)position;
    pthread_mutex_lock(&s->hub->lock);
    size_t n = news_for(s, buffer, size);
    ssize_t answer = (ssize_t)n;
    if (n == 0 && s->hub->closing)
        answer = MHD_CONTENT_READER_END_OF_STREAM;
    else if (n == 0) {
        s->asleep = true;
        MHD_suspend_connection(s->connection);
    }
    pthread_mutex_unlock(&s->hub->lock);
    return answer;
}

static void end_stream(void *context) {
    struct stream *s = context;
    pthread_mutex_lock(&s->hub->lock);
    for (struct stream **p = &s->hub->streams; *p; p = &(*p)->next)
        if (*p == s) {
            *p = s->next;
            break;
        }
    pthread_mutex_unlock(&s->hub->lock);
    if (s->left) s->left(s->context);
    mem_free(s);
}

struct MHD_Response *stream_open(struct stream_hub *hub, struct MHD_Connection *connection,
                                 void (*left)(void *context), void *context) {
    struct stream *s = mem_alloc(1, sizeof *s);
    if (!s) return NULL;
    *s = (struct stream){.hub = hub, .connection = connection, .left = left, .context = context};
    struct MHD_Response *r =
        MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, NEWS + 256, read_stream, s, end_stream);
    if (!r) {
        mem_free(s);
        return NULL;
    }
    pthread_mutex_lock(&hub->lock);
    memcpy(s->seen, hub->count, sizeof s->seen);
    /* A page that comes while something is under way wants to know at once. */
    if (hub->count[STREAM_PROGRESS]) s->seen[STREAM_PROGRESS]--;
    s->next = hub->streams;
    hub->streams = s;
    pthread_mutex_unlock(&hub->lock);
    MHD_add_response_header(r, "Content-Type", "text/event-stream");
    MHD_add_response_header(r, "Cache-Control", "no-store");
    return r;
}
