/* job: the only door to a project. Command line, screens and paper all come through here.
 *
 * One `struct job` is one open project file for one person. It takes what is entered, runs the
 * steps that are in doubt, keeps their results, and tells what follows. Not for two threads at
 * once: open one for each. JSON handed out is a new reference.
 */
#ifndef RELICT_JOB_JOB_H
#define RELICT_JOB_JOB_H

#include "base/arena.h"
#include "base/error.h"
#include "job/stage.h"

#include <jansson.h>

struct job;

struct job_options {
    const char *who;  /* role or name that signs changes; NULL: the account's name */
    const char *when; /* ISO 8601 moment; NULL: the clock */
    bool read_only;
    const char *state_folder; /* NULL: the account's own (XDG_STATE_HOME) */
};

/* Makes an empty project. draws 0: 4096. On failure *out is NULL and no file is left. */
int job_new(struct job **out, const char *path, const char *title, long seed, long draws,
            const struct job_options *options, struct error *err);
int job_open(struct job **out, const char *path, const struct job_options *options,
             struct error *err);
void job_close(struct job *job);

const char *job_path(const struct job *job);
struct record *job_record(struct job *job); /* for import, merge and folder form; borrowed */
const char *job_who(const struct job *job);
/* Who signs from now on (several people may share one door); the text is copied. */
void job_sign(struct job *job, const char *who);
const char *job_when(struct job *job); /* the moment that signs the next change */

/* ---- entering ------------------------------------------------------------------------------- */

/* Enters one thing as one change. `expected` is the revision the person saw (-1: do not care,
 * 0: it should be new); ERR_CONFLICT with both values when someone was faster. *revision may be
 * NULL. */
int job_enter(struct job *job, const char *kind, const char *id, const json_t *body, long expected,
              const char *why, long *revision, struct error *err);

/* Several things as one change. On failure nothing is entered and *at says which of them it was. */
struct job_entry {
    const char *kind, *id;
    const json_t *body; /* NULL: withdraw it */
    long expected;      /* as in job_enter */
    long revision;      /* filled */
};
int job_enter_all(struct job *job, struct job_entry *entries, size_t n, const char *why, size_t *at,
                  struct error *err);

int job_withdraw(struct job *job, const char *kind, const char *id, const char *why,
                 struct error *err);

/* Takes back a change (0: the newest). */
int job_undo(struct job *job, long change, const char *why, struct error *err);

/* ---- computing ------------------------------------------------------------------------------ */

/* Runs every step up to `last` (NULL: all) that is in doubt. A step that cannot be done (no arc, no
 * sheet) is told in its result and does not stop the others. Stopped: ERR_STOPPED, what is finished
 * stays. *report: [{step, state, blocked?}]. */
int job_compute(json_t **report, struct job *job, const char *last, stage_progress *progress,
                void *context, struct error *err);

/* A first rough answer up to the making, from few possible originals and within seconds, for steps
 * that have none yet. It shows as in doubt, with "rough" in result and state, and goes when the
 * step is worked out properly. *made: whether there was anything to do. */
int job_sketch(bool *made, struct job *job, stage_progress *progress, void *context,
               struct error *err);

/* ---- asking --------------------------------------------------------------------------------- */

/* State of every step: [{step, title, state, why, open}] with state `not begun`, `can start`,
 * `holds` or `in doubt`. */
int job_steps(json_t **out, struct job *job, struct error *err);

/* The statements as last computed, with what is in doubt marked. Lives in the arena. */
int job_statements(struct statement_set **out, struct job *job, struct arena *arena,
                   struct error *err);

/* The stored result of a step; ERR_MISSING with what to do when there is none. */
int job_result(json_t **out, struct job *job, const char *step, struct error *err);

/* Why: the statement `id` with all it rests on, each opened down to measures, pieces, sources and
 * facts: {statement, rests_on: [{role, statement | entry | fact}]}. */
int job_why(json_t **out, struct job *job, const char *id, struct error *err);

/* The what-if of a making (NULL: the leading one) at the project's present revision, kept until
 * another is asked for or something is entered; borrowed. See job/what_if.h. */
struct what_if;
int job_what_if(struct what_if **out, struct job *job, const char *making, struct error *err);

/* One snapshot of everything entered. */
int job_snapshot(struct snapshot *out, struct job *job, struct arena *arena, struct error *err);

#endif
