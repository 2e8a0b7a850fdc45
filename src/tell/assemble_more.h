/* assemble_more: inside of assemble.c: trials and season into a dossier. */
#ifndef RELICT_TELL_ASSEMBLE_MORE_H
#define RELICT_TELL_ASSEMBLE_MORE_H

#include "tell/assemble.h"

/* Trials as entered, read back by themselves (nothing is conditioned here). */
int tell_assemble_trials(struct tell_dossier *out, struct job *job, struct arena *arena,
                         struct error *err);

/* From the tables of the step "material": the season drawing and the calendar's events. Needs
 * out->tables, out->drawings and out->find. */
int tell_assemble_season(struct tell_dossier *out, struct job *job, struct arena *arena,
                         struct error *err);

/* The predicted form as made, from the strength step; left NULL when that has none. */
int tell_assemble_form(struct tell_dossier *out, struct job *job, struct arena *arena,
                       struct error *err);

#endif
