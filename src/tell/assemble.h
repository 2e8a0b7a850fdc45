/* assemble: gathers from an open project what screens and paper are made of.
 *
 * The only file of this room that asks job/. Everything lives in the arena handed in, but for the
 * drawings, which tell_dossier_drop frees.
 */
#ifndef RELICT_TELL_ASSEMBLE_H
#define RELICT_TELL_ASSEMBLE_H

#include "job/job.h"
#include "tell/dossier.h"
#include "tell/hand_over.h"

/* Fills a dossier from the project as it stands; needs nothing to have been computed. */
int tell_assemble(struct tell_dossier *out, struct job *job, struct arena *arena,
                  struct error *err);

/* The same without tables and drawings of the steps, for one picture. */
int tell_assemble_bare(struct tell_dossier *out, struct job *job, struct arena *arena,
                       struct error *err);

/* The same with what the plan of the season is drawn from, and that drawing. */
int tell_assemble_plan_of_season(struct tell_dossier *out, struct job *job, struct arena *arena,
                                 struct error *err);

/* What a step stored, without what is private; NULL when there is nothing. Borrowed. */
const json_t *tell_stored(const struct tell_dossier *dossier, const char *step);

/* Frees the drawings and stored results of an assembled dossier. */
void tell_dossier_drop(struct tell_dossier *dossier);

/* One drawing by name: "found", "proposed", or a step. ERR_MISSING when there is none yet, with
 * what to do. Free with show_drawing_free. */
int tell_picture_named(struct show_drawing **out, struct job *job, const char *name,
                       struct error *err);

/* Writes every paper and every open file into `folder`. *written: {"files": n, "list":
 * [{name, title}], "not": [{name, why, remedy}]}; new reference. */
int tell_write_all(json_t **written, struct job *job, const char *folder,
                   const struct hand_options *paper, struct error *err);

#endif
