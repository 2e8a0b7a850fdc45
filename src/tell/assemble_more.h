/* assemble_more: inside of assemble.c: trials and season into a dossier. */
#ifndef RELICT_TELL_ASSEMBLE_MORE_H
#define RELICT_TELL_ASSEMBLE_MORE_H

#include "tell/assemble.h"

/* Trials as entered, read back by themselves (nothing is conditioned here). */
int tell_assemble_trials(struct tell_dossier *out, struct job *job, struct arena *arena,
                         struct error *err);

/* From the tables of the step "material": the season drawing and the calendar's events. Needs
 * out->tables, out->drawings and out->find. */
int tell_assemble_season(struct tell_dossier *out, struct arena *arena, struct error *err);

/* Room for the drawings of a dossier: taken once, before the first is added. */
enum { TELL_MOST_DRAWINGS = 64 };
/* Adds a drawing, which becomes the dossier's; NULL is no memory. */
int tell_add_drawing(struct tell_dossier *out, const char *step, const char *name,
                     enum tell_where where, struct show_drawing *drawing, struct error *err);

/* Sections of the predicted form, as made and at each stage of the work, what happens by day, and
 * what decides the shape; and by day what the trials did. Left out where the step has none. */
struct form;
int tell_assemble_sections(struct tell_dossier *out, const struct form *form, const json_t *result,
                           struct arena *arena, struct error *err);
int tell_assemble_series(struct tell_dossier *out, struct arena *arena, struct error *err);

/* The parts as they lie on the stems, from the material step. */
int tell_assemble_layout(struct tell_dossier *out, struct arena *arena, struct error *err);

/* The photographs of the sources, where their files are kept and may leave; two and two. */
int tell_assemble_photos(struct tell_dossier *out, struct job *job, struct arena *arena,
                         struct error *err);

/* The families of outline side by side, from the outline step. */
int tell_assemble_rivals(struct tell_dossier *out, struct arena *arena, struct error *err);

/* The predicted form as made, from the strength step; left NULL when that has none. */
int tell_assemble_form(struct tell_dossier *out, struct arena *arena, struct error *err);

#endif
