/* The worker: computing and writing in a thread of its own, with its own door to the project. */
#include "base/file.h"
#include "base/mem.h"
#include "serve/api.h"
#include "serve/server_private.h"
#include "tell/assemble.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

double server_seconds(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

void server_tell(struct server *s, enum stream_kind kind, json_t *o) {
    char *text = json_dumps(o, JSON_COMPACT | JSON_REAL_PRECISION(5));
    if (text) stream_tell(s->hub, kind, text);
    free(text);
    json_decref(o);
}

static int progress(const char *step, double share, const char *what, void *context) {
    struct server *s = context;
    json_t *o = json_pack("{s:s,s:s}", "step", step, "what", what);
    if (share == share) json_object_set_new(o, "share", json_real(share));
    if (s->rough) json_object_set_new(o, "rough", json_true());
    server_tell(s, STREAM_PROGRESS, o);
    return atomic_load(&s->halt);
}

/* Where nothing is known yet a rough answer comes first, so that nobody waits before a blank. */
static int compute(json_t **report, struct server *s, struct job *job, struct error *err) {
    bool made;
    s->rough = true;
    int rc = job_sketch(&made, job, progress, s, err);
    s->rough = false;
    if (rc) return rc;
    return job_compute(report, job, *s->step ? s->step : NULL, progress, s, err);
}

/* ---- papers --------------------------------------------------------------------------------- */

static void drop_folder(const char *path, int depth) {
    enum { DEEPEST = 6 };
    DIR *d = depth < DEEPEST ? opendir(path) : NULL;
    const struct dirent *e;
    char name[4096];
    while (d && (e = readdir(d))) {
        if (strcmp(e->d_name, ".") == 0 || strcmp(e->d_name, "..") == 0) continue;
        int n = snprintf(name, sizeof name, "%s/%s", path, e->d_name);
        if (n < 0 || (size_t)n >= sizeof name) continue;
        if (unlink(name)) drop_folder(name, depth + 1);
    }
    if (d) closedir(d);
    rmdir(path);
}

static int make_folder(char *out, size_t size, struct error *err) {
    const char *base = getenv("TMPDIR");
    int n = snprintf(out, size, "%s/relict-XXXXXX", base && *base ? base : "/tmp");
    if (n > 0 && (size_t)n < size && mkdtemp(out)) return 0;
    *out = 0;
    return fail(err, ERR_FILE, "Is the disk full? TMPDIR names another place.",
                "There is no room for papers on the way to the browser.");
}

static int write_papers(json_t **report, struct server *s, struct job *job, struct error *err) {
    char folder[sizeof s->papers], old[sizeof s->papers];
    json_t *written = NULL;
    int rc = progress("report", 0, "writing the papers", s) ? ERR_STOPPED : 0;
    if (rc) return fail(err, ERR_STOPPED, NULL, "Stopped.");
    long revision = record_revision(job_record(job));
    rc = make_folder(folder, sizeof folder, err);
    if (!rc)
        rc = tell_write_all(&written, job, folder, &(struct hand_options){.paper = PLAN_A4}, err);
    if (rc) {
        if (*folder) drop_folder(folder, 0);
        return rc;
    }
    json_object_set_new(written, "revision", json_integer(revision));
    pthread_mutex_lock(&s->lock);
    memcpy(old, s->papers, sizeof old);
    memcpy(s->papers, folder, sizeof folder);
    json_decref(s->written);
    s->written = written;
    pthread_mutex_unlock(&s->lock);
    if (*old) drop_folder(old, 0);
    *report = json_pack("[{s:s,s:s}]", "step", "papers", "state", "holds");
    return 0;
}

json_t *server_written(struct server *s) {
    pthread_mutex_lock(&s->lock);
    json_t *copy = s->written ? json_deep_copy(s->written) : NULL;
    pthread_mutex_unlock(&s->lock);
    return copy;
}

static bool is_listed(const json_t *list, const char *name) {
    size_t i;
    const json_t *o;
    json_array_foreach(list, i, o) {
        const char *known = json_string_value(json_object_get(o, "name"));
        if (known && strcmp(known, name) == 0) return true;
    }
    return false;
}

int server_paper(const char **bytes, size_t *size, struct server *s, const char *name,
                 struct arena *arena, struct error *err) {
    enum { MOST = 400 << 20 };
    pthread_mutex_lock(&s->lock); /* the folder may be written anew */
    const char *path = is_listed(json_object_get(s->written, "list"), name)
                           ? arena_printf(arena, "%s/%s", s->papers, name)
                           : NULL;
    int rc = path ? file_read(bytes, size, path, MOST, arena, err)
                  : fail(err, ERR_MISSING, "Write the papers first.", "There is no such paper.");
    pthread_mutex_unlock(&s->lock);
    return rc;
}

/* ---- its thread ----------------------------------------------------------------------------- */

static void *work(void *context) {
    struct server *s = context;
    struct error err = {0};
    struct job *job = NULL;
    json_t *report = NULL;
    const struct job_options o = {.who = s->who, .read_only = s->task == TASK_WRITE};
    int rc = job_open(&job, s->project, &o, &err);
    if (!rc)
        rc = s->task == TASK_WRITE ? write_papers(&report, s, job, &err)
                                   : compute(&report, s, job, &err);
    job_close(job);
    json_t *end = json_pack("{s:b,s:s}", "done", rc == 0, "task",
                            s->task == TASK_WRITE ? "write" : "compute");
    if (report) json_object_set_new(end, "report", report);
    if (rc) {
        json_object_set_new(end, "stopped", json_boolean(rc == ERR_STOPPED));
        json_object_set_new(end, "message", json_string(err.message));
        json_object_set_new(end, "remedy", json_string(err.remedy));
    }
    pthread_mutex_lock(&s->lock);
    s->running = false;
    pthread_mutex_unlock(&s->lock);
    server_tell(s, STREAM_END, end);
    return NULL;
}

static int begin(struct server *s, enum server_task task, const char *step, struct error *err) {
    int rc = 0;
    pthread_mutex_lock(&s->lock);
    if (s->running)
        rc = fail(err, ERR_CONFLICT, "Wait until it is done, or stop it.",
                  "Something is being worked out already.");
    else {
        if (s->started) pthread_join(s->thread, NULL);
        snprintf(s->step, sizeof s->step, "%s", step ? step : "");
        s->task = task;
        atomic_store(&s->halt, false);
        s->started = s->running = pthread_create(&s->thread, NULL, work, s) == 0;
        if (!s->running) rc = fail_memory(err);
    }
    pthread_mutex_unlock(&s->lock);
    return rc;
}

int server_compute(struct server *s, const char *step, struct error *err) {
    if (step && stage_index(step, err) == stage_count) return ERR_USAGE;
    return begin(s, TASK_COMPUTE, step, err);
}

int server_write(struct server *s, struct error *err) {
    return begin(s, TASK_WRITE, NULL, err);
}

void server_worker_end(struct server *s) {
    server_halt(s);
    if (s->started) pthread_join(s->thread, NULL);
    if (*s->papers) drop_folder(s->papers, 0);
    json_decref(s->written);
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
