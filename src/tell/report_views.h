/* report_views: inside of report.c: the argument seen as a whole. */
#ifndef RELICT_TELL_REPORT_VIEWS_H
#define RELICT_TELL_REPORT_VIEWS_H

#include "tell/dossier.h"

/* What it comes to, on the first pages: the sizes, the ways of making with their weights, what the
 * trials said, each pointing to its place. */
void report_in_short(struct tell_doc *doc, const struct tell_dossier *dossier);

/* The ways of making, the first whole, each rival by what it has otherwise. */
void report_makings(struct tell_doc *doc, const struct tell_dossier *dossier);

/* Choices, and matters on which people hold different views, in their own words. */
void report_choices(struct tell_doc *doc, const struct tell_dossier *dossier);

/* What stands without the trials, and without each parallel. */
void report_without(struct tell_doc *doc, const struct tell_dossier *dossier);

/* Which headline figures rest on each piece, view, trial and source. */
void report_falls(struct tell_doc *doc, const struct tell_dossier *dossier);

/* Statements that say the same kind of thing about many things, as one table. */
void report_statement_table(struct tell_doc *doc, const struct tell_dossier *dossier,
                            const char *step,
                            bool (*belongs)(const struct tell_dossier *, const struct statement *),
                            const char *title);

/* What is said about material and season, a row for each thing; the anchor of a statement in it. */
void report_material(struct tell_doc *doc, const struct tell_dossier *dossier);
const char *report_material_anchor(const struct tell_dossier *dossier, const struct statement *s);

/* Whether a statement rests on an entry, itself or by what it rests on. */
bool report_rests_on(const struct tell_dossier *dossier, const struct statement *s,
                     const char *kind, const char *id, int deep);

#endif
