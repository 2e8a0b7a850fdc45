/* dossier: everything a report, a book or a deposit is written from, gathered by whoever asks.
 *
 * Plain borrowed structs; nothing here opens a project. What other rooms worked out comes as
 * statements, as tables of texts and as drawings, each with the step it belongs to, so that the
 * paper need not know their structs. Thread-safe while nobody changes what is borrowed.
 */
#ifndef RELICT_TELL_DOSSIER_H
#define RELICT_TELL_DOSSIER_H

#include "gather/ical.h"
#include "making/handover.h"
#include "making/making.h"
#include "remains/find.h"
#include "show/plan.h"
#include "show/solid.h"
#include "statement/statement.h"
#include "tell/doc.h"

/* A table another room made, under the step where it belongs ("trials", "material", ...). */
struct tell_part_table {
    const char *step;
    const char *key; /* its name in the step's result ("windows"); NULL */
    struct tell_table table;
    const char *text; /* a sentence before it; NULL */
};

/* A drawing another room's numbers made; stays the caller's. */
enum tell_where { TELL_IN_BOTH, TELL_IN_ARGUMENT, TELL_IN_BOOK };
struct tell_part_drawing {
    const char *step;
    const struct show_drawing *drawing;
    const char *name; /* of its file, without ending; NULL: the step's */
    enum tell_where where;
};

/* An open question and what would settle it. */
struct tell_question {
    const char *question, *settles, *step;
};

/* A trial as the report needs it; what it cannot know is NULL. */
struct tell_trial {
    const char *id, *title, *question;
    const char *prediction, *predicted_on; /* number and date */
    long before; /* 1: the prediction was written before the making; 0: made before it was asked */
    const char *fixed, *varied, *order; /* what was held, what was changed, in what order made */
    const char *maker, *skill, *tools, *room; /* with humidity */
    long n_readings;                          /* raw readings entered */
    const char *copies;                       /* how many and from which trees: the nesting */
    const struct tell_table *nesting; /* tree by tree, its pieces with their outcomes; NULL */
    const char *outcome;              /* in numbers */
    long verdict;                     /* enum look_verdict; FIELD_UNKNOWN: still running */
    const char *changed;              /* what it changed in the statements */
    const char *photos;               /* their sources, each once */
    const char *photo_lost;           /* one of them that no kept file shows; NULL: none */
};

struct keep_back;

struct tell_dossier {
    const char *title;
    const char *file, *moment, *hash; /* moment as 2026-05-01T10:00:00Z */
    const char *version;              /* of the program */
    const char *uuid;                 /* of the project; NULL */
    long seed, draws, revision;
    const struct handover *handover; /* may be NULL */
    const struct find *find;
    const struct makings *makings;
    const struct statement_set *said;
    const struct as_made *as_made;
    size_t n_as_made;
    const struct show_plan *plan; /* may be NULL */
    const struct tell_part_table *tables;
    size_t n_tables;
    const struct tell_part_drawing *drawings;
    size_t n_drawings;
    const struct tell_question *questions;
    size_t n_questions;
    const struct tell_trial *trials;
    size_t n_trials;
    const struct solid *solid; /* the predicted form; NULL: not computed */
    const struct ical_event *events;
    size_t n_events;
    enum look_step steps[9];   /* state of the nine steps */
    int open[9];               /* questions open in each */
    struct keep_back *private; /* what was taken out; NULL: nothing was looked for */
    struct json_t *
        *stored;          /* [stages] what each step stored, without what is private; NULL: none */
    const char *cautions; /* bytes of data/cautions.csv; NULL: none are shown */
    size_t cautions_size;
};

/* The lines of a statement's why: rule and source, raw reading, then what it rests on (each
 * statement opened one step), then the pieces and guesses it comes down to, so that any feature is
 * two steps from its piece or guess. */
int tell_why_lines(struct tell_why **out, size_t *n, const struct tell_dossier *dossier,
                   const struct statement *s, struct arena *arena, struct error *err);

/* Whether the report shows the statement in the table of the pieces' sizes instead of by itself,
 * and the anchor under which a statement stands in the report. */
bool tell_is_of_piece(const struct statement *s);
const char *tell_anchor(const struct tell_dossier *dossier, const struct statement *s);

/* Whether the statement is about a piece that is private: it is handed to nobody. */
bool tell_is_private(const struct tell_dossier *dossier, const struct statement *s);

/* Puts a statement into a document with its number and why. */
int tell_say(struct tell_doc *doc, const struct tell_dossier *dossier, const struct statement *s,
             struct error *err);

/* One line of the checklist of a report (London Charter 2.1 principle 4 and the rest, in
 * reference/trade.md section 4). */
struct tell_check {
    const char *group, *item;
    long done;           /* 1 yes, 0 no, -1 does not apply */
    const char *missing; /* what is missing and where to enter it; "" when done */
};
int tell_checklist(struct tell_check **out, size_t *n, const struct tell_dossier *dossier,
                   struct arena *arena, struct error *err);

/* Why the pages say draft, in a sentence; NULL when nothing is missing. */
const char *tell_draft_reason(const struct tell_check *list, size_t n, struct arena *arena);

/* The points as JSON: [{of, point, done: "yes", "no" or "does not apply", missing}]. New reference,
 * NULL when memory is gone. */
json_t *tell_check_encode(const struct tell_check *list, size_t n);

/* How many statements are guesses; how many have no footing. */
size_t tell_guesses(const struct tell_dossier *dossier);
size_t tell_without_footing(const struct tell_dossier *dossier);

/* Options of a document about the dossier; `draft` as tell_draft_reason gave it. */
struct tell_doc_options tell_options(const struct tell_dossier *dossier, const char *title,
                                     const char *draft);

/* Puts the drawings of a step into a document, but those that belong elsewhere only; copies. */
void tell_drawings_of(struct tell_doc *doc, const struct tell_dossier *dossier, const char *step,
                      enum tell_where except);
/* One drawing by the name of its file. */
void tell_drawing_of(struct tell_doc *doc, const struct tell_dossier *dossier, const char *name);
/* The same for the tables of a step, and for one of them. Long lists that say one thing again and
 * again (days, stems) are told shorter than they are kept. */
void tell_tables_of(struct tell_doc *doc, const struct tell_dossier *dossier, const char *step);
void tell_table_of(struct tell_doc *doc, const struct tell_dossier *dossier, const char *step,
                   const char *key);
/* A table of a step; NULL when there is none. Its column; n_columns when there is none. */
const struct tell_table *tell_table_named(const struct tell_dossier *dossier, const char *step,
                                          const char *key);
size_t tell_column(const struct tell_table *table, const char *head);
/* A table without some of its columns (NULL-terminated). */
void tell_rows_but(struct tell_doc *doc, const struct tell_table *table,
                   const char *const *without);

/* ---- documents ---- */

/* The argument: everything a reader needs to question the reconstruction. */
int tell_report(struct tell_doc **out, const struct tell_dossier *dossier, struct error *err);

/* The making book: material, cut list, order of work with what to measure, the cautions. */
int tell_book(struct tell_doc **out, const struct tell_dossier *dossier, struct error *err);

/* One trial on one page, with room for the readings. */
int tell_trial_sheet(struct tell_doc **out, const struct tell_dossier *dossier,
                     const struct tell_trial *trial, struct error *err);

/* One page for whoever owns the trees: what is asked for, what it does, who decides. */
int tell_landowner(struct tell_doc **out, const struct tell_dossier *dossier, struct error *err);

/* Blank cards to write finds on, field by field as the import reads them. */
int tell_forms(struct tell_doc **out, const struct tell_dossier *dossier, struct error *err);

/* For visitors: the label draft (30 to 50 words, sentences under 25), the crushed and the fresh
 * with the same five features numbered. `large` for large print. */
int tell_label(struct tell_doc **out, const struct tell_dossier *dossier, bool large,
               struct error *err);

/* The label's sentences alone; *words: how many words. In the arena. */
char *tell_label_text(const struct tell_dossier *dossier, size_t *words, size_t *longest,
                      struct arena *arena);

/* The page to take to the wood: girth in, yield and harm out, from a table worked out here; it
 * saves a stem as JSON that `relict enter FILE stem ID` takes. ERR_MISSING without a sheet. */
int tell_wood(struct tell_doc **out, const struct tell_dossier *dossier, struct error *err);

/* The making of greatest weight; NULL when there is none. */
const struct making *tell_leading(const struct tell_dossier *dossier);

/* Bare drawing of the pieces and the object, without hatches' threads but with the same features
 * numbered on both (at most five); NULL when memory is gone. */
struct show_drawing *tell_pair(const struct tell_dossier *dossier, bool numbered, double width,
                               double text, struct arena *arena);

/* A plan from the parts of a making, in the arena; false when it has no sheet and no lath. */
bool tell_plan_of(struct show_plan *out, const struct tell_dossier *dossier,
                  const struct making *making, struct arena *arena);

/* The plan as it goes on paper: beside the object lies the flat pattern of each part that stands as
 * a cone. The dossier's own plan when there is none. NULL when memory is gone or there is no plan.
 */
const struct show_plan *tell_plan_with_patterns(const struct tell_dossier *dossier,
                                                struct arena *arena);

#endif
