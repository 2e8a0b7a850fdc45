/* what_if: what a changed making would do, before anything is entered.
 *
 * A what-if holds the leading making (or another) as it stands with the likely material from the
 * strength step, and answers, new and dry, for a changed list of its parts as they are cut: at once
 * from a stand-in fitted to runs around the making, or from the shell itself on a coarse net. The
 * stand-in is learned on a thread of its own and may be asked for while it is not ready. The spread
 * of the material is not in the answers: they compare two makings of the same stuff.
 *
 *     struct what_if *w;
 *     what_if_new(&w, job, "proposed", err);
 *     what_if_learn(w);                       // comes back at once
 *     what_if_shell(&answer, w, parts, n, err);
 *     if (what_if_ready(w)) what_if_quick(&answer, w, parts, n, err);
 *     what_if_free(w);
 *
 * Inputs of the stand-in: for each lath its middle along and across and its stiffness against the
 * making's own (0 absent), the thickness of the sheet, the stiffness of the rim. A part changed in
 * another way is told as `outside`. One thread at a time may ask.
 */
#ifndef RELICT_JOB_WHAT_IF_H
#define RELICT_JOB_WHAT_IF_H

#include "body/controls.h"
#include "job/job.h"

struct what_if;

enum { WHAT_IF_RUNS = 160, WHAT_IF_NET = 600 };

/* Ready to answer from the shell. ERR_MISSING when there is no such making, it has no sheet, or
 * the strength step has not been worked out. Free with what_if_free, which waits for the learning
 * to end at its next row. */
int what_if_new(struct what_if **out, struct job *job, const char *making, struct error *err);
void what_if_free(struct what_if *w);

/* The likely material and history of a making, one number each. */
enum what_if_stuff {
    WHAT_IF_E_ALONG,  /* of the sheet along the grain, MPa */
    WHAT_IF_E_AROUND, /* MPa */
    WHAT_IF_G,        /* MPa */
    WHAT_IF_SET,      /* share of the stem's bend that drying flat takes away */
    WHAT_IF_STEM,     /* radius of the stem, mm */
    WHAT_IF_WOOD_E,   /* of laths and rim, MPa */
    WHAT_IF_DENSITY,  /* of the sheet, g/mm3 */
    WHAT_IF_WOOD_DENSITY,
    WHAT_IF_STUFFS
};
/* The same of parts and material given, without a project; parts are borrowed, their sizes dry. */
int what_if_of(struct what_if **out, const struct part *parts, size_t n,
               const double stuff[WHAT_IF_STUFFS], uint64_t seed, struct error *err);

/* Begins to learn the stand-in (some seconds, all threads); a second call does nothing. */
void what_if_learn(struct what_if *w);
/* Waits for it; 0, or why it failed. */
int what_if_wait(struct what_if *w, struct error *err);
bool what_if_ready(const struct what_if *w);

struct what_if_answer {
    double value[BODY_OUTPUTS], sd[BODY_OUTPUTS]; /* sd NAN from the shell */
    double before[BODY_OUTPUTS];                  /* the making as it stands, same way */
    bool outside; /* the change is not among the inputs, or beyond their range */
    size_t runs;  /* behind the stand-in; 0 from the shell */
    double ms;    /* taken */
};

/* From the shell; with nodes (may be NULL) the form it takes: JSON {points: [[x, y, z], ...] mm,
 * flat: [[x, y], ...] where each lies in the plan, triangles}. Some tens of milliseconds. */
int what_if_shell(struct what_if_answer *out, json_t **nodes, struct what_if *w,
                  const struct part *parts, size_t n, struct error *err);

/* From the stand-in; ERR_CONFLICT while it is being learned. Well under a millisecond. */
int what_if_quick(struct what_if_answer *out, struct what_if *w, const struct part *parts, size_t n,
                  struct error *err);

/* How far the stand-in is from the runs it was fitted to, each left out in turn. */
void what_if_report(const struct what_if *w, struct body_controls_report *out);

/* Keeps a try as a copy: one change holding the making without weight, its parts and its steps.
 * `body` is {of, title, difference, without: [part ids], changes: {part id: {field: value}}} with
 * values as at the edge. Returns the id of the copy in the arena. */
int what_if_keep(const char **id, struct job *job, const json_t *body, struct arena *arena,
                 struct error *err);

#endif
