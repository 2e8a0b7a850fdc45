/* gather: the step "material and season" as the conductor calls it.
 *
 * Pure functions of what a project holds: what is needed for a making, how it is laid out on the
 * stems in view, a first plan of steps from the season tables, the schedule, and its calendar.
 * Every number they show is added to the statements with its footing. Nothing here knows a clock:
 * `as_of` is entered.
 */
#ifndef RELICT_GATHER_GATHER_H
#define RELICT_GATHER_GATHER_H

#include "gather/ical.h"
#include "gather/need.h"
#include "gather/nest.h"
#include "gather/schedule.h"
#include "gather/stem.h"
#include "gather/stock.h"

/* What a person enters about the opening. */
struct season_plan {
    const char *id;
    const char *making;
    struct schedule_options options;
};
extern const struct kind season_plan_kind;

/* Lists what the making needs (gather_need_list) and states it: "need.PART.width" and so on. said
 * may be NULL. */
int gather_needs(struct need_list *out, const struct makings *all, const char *making,
                 const struct need_options *options, struct statement_set *said,
                 struct arena *arena, struct error *err);

/* The sheets of a need list laid out on the stems, each stem whole when it is cut anyway, a quarter
 * of its girth when it lives (half with a named approval); stems without the owner's consent are
 * left out. */
struct stem_layout {
    struct nest_layout nest;
    size_t parts, sheets;
    struct nest_part *part;   /* [parts], sheets of the need list */
    struct nest_sheet *sheet; /* [sheets], unrolled stems */
    const struct stem **stem; /* [sheets] */
    double *share, *start; /* [sheets] share of girth offered; where the strip begins, mm round */
    const char **gives;    /* [sheets] "2 of sheet", or why it gives none */
    size_t n_left_out;
    const struct stem **left_out; /* [n_left_out] of the sheet's wood, or of another */
    const char **why_left_out;    /* [n_left_out] a sentence */
    const char *say;              /* which stems were left out and why; what found no room */
};
/* Whether a stem's bark is that of a sheet that is needed, as far as both are named. */
bool gather_gives_bark(const struct need_list *needs, const struct stem *stem);
int gather_layout(struct stem_layout *out, const struct need_list *needs, const struct stem *stems,
                  size_t n_stems, const struct stem_fault *faults, size_t n_faults,
                  const struct nest_options *options, struct arena *arena, struct error *err);

/* Name under which the season table (data/seasons.csv) knows what gives this need; NULL: not at
 * all.
 */
const char *gather_season_material(const struct need *need);

/* A first plan from what is needed and the season tables: taking each material in its season, its
 * waits, making, drying, freezing, settling, fitting (trade practice; ranges). To be changed by
 * people. */
int gather_plan_draft(struct plan_step **out, size_t *n, const struct need_list *needs,
                      const struct stuff_shelf *shelf, struct arena *arena, struct error *err);

/* The schedule, with its chance, slack and last safe days stated. said may be NULL. */
int gather_schedule(struct schedule *out, const struct plan_step *step, size_t n,
                    const struct schedule_options *options, struct statement_set *said,
                    struct arena *arena, struct error *err);

/* Seasons (those planned for, with an alarm `alarm_days` before), steps and day list as events; the
 * same numbers as the schedule's tables. `project` makes their ids. */
int gather_calendar_events(struct ical_event **out, size_t *n, const struct schedule *plan,
                           double alarm_days, const char *project, struct arena *arena,
                           struct error *err);
extern const struct kind ical_event_kind;

/* Seasons, steps and day list as a calendar file. `project` makes the ids of its events. */
int gather_calendar(char **out, const struct schedule *plan, const char *project, const char *stamp,
                    struct arena *arena, struct error *err);

#endif
