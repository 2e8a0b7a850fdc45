#include "job/job.h"

#include "base/mem.h"
#include "job/draws.h"
#include "job/job_private.h"
#include "job/kinds.h"
#include "job/seal_trial.h"
#include "job/what_if.h"

#include <errno.h>
#include <pwd.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

/* ---- opening -------------------------------------------------------------------------------- */

static const char *account_name(void) {
    const struct passwd *p = getpwuid(getuid());
    return p && p->pw_name ? p->pw_name : "somebody";
}

/* Folder where this account remembers which project files it closed last; NULL when there is no
 * home: then every file is checked in depth. */
static const char *own_state_folder(struct arena *arena) {
    const char *base = getenv("XDG_STATE_HOME"), *home = getenv("HOME");
    char *folder = base && *base == '/' ? arena_printf(arena, "%s/relict", base)
                   : home && *home      ? arena_printf(arena, "%s/.local/state/relict", home)
                                        : NULL;
    if (!folder) return NULL;
    for (char *p = folder + 1; *p; p++)
        if (*p == '/') {
            *p = 0;
            mkdir(folder, 0700);
            *p = '/';
        }
    return mkdir(folder, 0700) == 0 || errno == EEXIST ? folder : NULL;
}

static int prepare(struct job **out, const char *path, const struct job_options *options,
                   struct error *err) {
    *out = NULL;
    struct job *job = mem_alloc(1, sizeof *job);
    if (!job) return fail_memory(err);
    job->arena = arena_new();
    if (job->arena) {
        job->path = arena_strdup(job->arena, path);
        const char *who = options && options->who ? options->who : account_name();
        job->who = arena_strdup(job->arena, who);
        job->when = options ? arena_strdup(job->arena, options->when) : NULL;
        const char *folder = options ? options->state_folder : NULL;
        job->options.state_folder =
            folder ? arena_strdup(job->arena, folder) : own_state_folder(job->arena);
    }
    if (!job->arena || !job->path || !job->who) {
        job_close(job);
        return fail_memory(err);
    }
    job->options.kinds = job_kinds;
    job->options.n_kinds = job_kind_count();
    job->options.read_only = options && options->read_only;
    *out = job;
    return 0;
}

const char *job_when(struct job *job) {
    if (job->when) return job->when;
    time_t now = time(NULL);
    struct tm tm;
    gmtime_r(&now, &tm);
    strftime(job->moment, sizeof job->moment, "%Y-%m-%dT%H:%M:%SZ", &tm);
    return job->moment;
}

int job_new(struct job **out, const char *path, const char *title, long seed, long draws,
            const struct job_options *options, struct error *err) {
    int rc = prepare(out, path, options, err);
    if (rc) return rc;
    struct job *job = *out;
    const struct record_start start = {
        .title = title, .who = job->who, .when = job_when(job), .seed = seed, .draws = draws};
    rc = record_new(&job->record, path, &start, &job->options, err);
    if (!rc) return 0;
    job_close(job);
    *out = NULL;
    return rc;
}

int job_open(struct job **out, const char *path, const struct job_options *options,
             struct error *err) {
    int rc = prepare(out, path, options, err);
    if (rc) return rc;
    rc = record_open(&(*out)->record, path, &(*out)->options, err);
    if (!rc) return 0;
    job_close(*out);
    *out = NULL;
    return rc;
}

void job_close(struct job *job) {
    if (!job) return;
    what_if_free(job->what_if);
    for (size_t i = 0; i < JOB_MOST_STAGES; i++)
        json_decref(job->summary[i].blocked);
    record_close(job->record, NULL);
    arena_free(job->arena);
    mem_free(job);
}

const char *job_path(const struct job *job) {
    return job->path;
}
struct record *job_record(struct job *job) {
    return job->record;
}
const char *job_who(const struct job *job) {
    return job->who;
}

void job_sign(struct job *job, const char *who) {
    if (strcmp(job->who, who) == 0) return;
    const char *copy = arena_strdup(job->arena, who);
    if (copy) job->who = copy;
}

/* ---- entering ------------------------------------------------------------------------------- */

static int finish(struct job *job, int rc, struct error *err) {
    if (!rc) rc = record_change_commit(job->record, NULL, err);
    if (rc && record_in_change(job->record)) record_change_rollback(job->record);
    return rc;
}

/* Puts one body inside a change; what the program itself writes into a trial is put with it. */
static int put(struct job *job, const char *kind, const char *id, const json_t *body, long expected,
               long *revision, struct error *err) {
    json_t *whole = json_is_object(body) ? json_deep_copy(body) : json_incref((json_t *)body);
    struct arena *arena = arena_new();
    int rc = whole && arena ? 0 : fail_memory(err);
    if (!rc && strcmp(kind, "trial") == 0 && json_is_object(whole))
        rc = job_seal_trial(whole, job->record, id, arena, err);
    if (!rc)
        rc = expected < 0
                 ? record_put(job->record, kind, id, whole, revision, err)
                 : record_put_expected(job->record, kind, id, whole, expected, revision, err);
    arena_free(arena);
    json_decref(whole);
    return rc;
}

static int withdraw(struct job *job, const char *kind, const char *id, struct error *err) {
    if (strncmp(kind, "trial", 5) == 0)
        return fail(err, ERR_REFUSED, "Enter it again with what is right: the earlier entry stays.",
                    "A trial is superseded, never deleted, whether it failed or not.");
    return record_withdraw(job->record, kind, id, err);
}

int job_enter(struct job *job, const char *kind, const char *id, const json_t *body, long expected,
              const char *why, long *revision, struct error *err) {
    int rc = record_change_begin(job->record, job->who, job_when(job), why, err);
    if (rc) return rc;
    return finish(job, put(job, kind, id, body, expected, revision, err), err);
}

int job_enter_all(struct job *job, struct job_entry *entries, size_t n, const char *why, size_t *at,
                  struct error *err) {
    int rc = record_change_begin(job->record, job->who, job_when(job), why, err);
    if (rc) return rc;
    for (*at = 0; *at < n; ++*at) {
        struct job_entry *e = &entries[*at];
        rc = e->body ? put(job, e->kind, e->id, e->body, e->expected, &e->revision, err)
                     : withdraw(job, e->kind, e->id, err);
        if (rc) break;
    }
    return finish(job, rc, err);
}

int job_withdraw(struct job *job, const char *kind, const char *id, const char *why,
                 struct error *err) {
    int rc = record_change_begin(job->record, job->who, job_when(job), why, err);
    if (rc) return rc;
    return finish(job, withdraw(job, kind, id, err), err);
}

static int take_newest(const struct record_change *change, void *context, struct error *err) {
    (void)err;
    *(long *)context = change->id;
    return 0;
}

int job_undo(struct job *job, long change, const char *why, struct error *err) {
    int rc = 0;
    if (change == 0) rc = record_changes(job->record, true, 1, take_newest, &change, err);
    if (rc) return rc;
    if (change == 0)
        return fail(err, ERR_MISSING, "Enter or import something first.",
                    "There is nothing to take back.");
    return record_undo(job->record, change, job->who, job_when(job), why, NULL, err);
}

int job_snapshot(struct snapshot *out, struct job *job, struct arena *arena, struct error *err) {
    return snapshot_read(out, job->record, arena, err);
}

int job_what_if(struct what_if **out, struct job *job, const char *making, struct error *err) {
    const char *name = making ? making : "";
    long revision = record_revision(job->record);
    if (job->what_if && job->what_if_revision == revision &&
        strcmp(job->what_if_making, name) == 0) {
        *out = job->what_if;
        return 0;
    }
    what_if_free(job->what_if);
    job->what_if = NULL;
    job->what_if_making = arena_strdup(job->arena, name);
    if (!job->what_if_making) return fail_memory(err);
    int rc = what_if_new(&job->what_if, job, making, err);
    job->what_if_revision = revision;
    *out = job->what_if;
    return rc;
}
