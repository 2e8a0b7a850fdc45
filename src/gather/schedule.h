/* schedule: what order of work still meets the opening.
 *
 * Steps follow one another, some only in a season. Durations are ranges: each of `draws` futures
 * draws every step's days from a triangle (low, usual, high). Backward from the opening gives the
 * last day on which a step may begin; forward from the plan gives the chance of meeting the date.
 * Seasons are looked at one by one: a season is safe when even its last day meets the opening.
 * Deterministic for a seed; no clock: `today` comes from the caller. Windows are northern lowland
 * starting values (trade reference 2.11); spring moves them (`later_degrees`, `higher_m`).
 */
#ifndef RELICT_GATHER_SCHEDULE_H
#define RELICT_GATHER_SCHEDULE_H

#include "base/field.h"
#include "gather/day.h"

struct plan_step {
    const char *id;
    const char *title;
    struct texts after;                     /* ids of steps that must be finished */
    double days_low, days_usual, days_high; /* of work or waiting; 0 for a moment */
    const char *window_from, *window_to; /* "05-01", "06-30": may begin only then; NULL: any time */
    int spring;           /* the window waits for spring and moves with latitude and height */
    int just_in_time;     /* begun as late as what follows allows (soaking) */
    const char *tend;     /* what must be done while it lasts: "turn the sheets" */
    double tend_every;    /* days */
    const char *material; /* what the season is of, for messages: "sheet bark" */
};
extern const struct kind plan_step_kind;

struct schedule_options {
    const char *opening, *today;
    double assurance;     /* share of futures in which a "last safe day" still meets the opening */
    double later_degrees; /* degrees of latitude north of where the windows hold */
    double higher_m;      /* metres above it */
    double alarm_days;    /* before a window opens; 56 */
    long draws;
    long seed;
};
/* Descriptors of all of them but the two days, for a struct that holds them in `options`. */
#define SCHEDULE_FIELD(of, member) .name = #member, .offset = offsetof(struct of, options.member)
#define SCHEDULE_FIELDS(of)                                                                        \
    {SCHEDULE_FIELD(of, assurance),                                                                \
     .label = "Assurance",                                                                         \
     .unit = "percent",                                                                            \
     .scale = 0.01,                                                                                \
     .type = FIELD_REAL,                                                                           \
     .max = 100,                                                                                   \
     .preset = "90",                                                                               \
     .help = "Share of futures in which a last safe day still meets the opening."},                \
        {SCHEDULE_FIELD(of, later_degrees),                                                        \
         .label = "North by",                                                                      \
         .unit = "degrees of latitude",                                                            \
         .type = FIELD_REAL,                                                                       \
         .min = -30,                                                                               \
         .max = 30,                                                                                \
         .preset = "0",                                                                            \
         .help = "Of where the seasons hold; spring comes 4 days a degree later."},                \
        {SCHEDULE_FIELD(of, higher_m),                                                             \
         .label = "Higher by",                                                                     \
         .unit = "m",                                                                              \
         .type = FIELD_REAL,                                                                       \
         .min = -4000,                                                                             \
         .max = 4000,                                                                              \
         .preset = "0",                                                                            \
         .help = "Spring comes 4 days later for each 120 m."},                                     \
        {SCHEDULE_FIELD(of, alarm_days),                                                           \
         .label = "Warn before",                                                                   \
         .unit = "days",                                                                           \
         .type = FIELD_REAL,                                                                       \
         .max = 1000,                                                                              \
         .preset = "56",                                                                           \
         .help = "Before a season opens."},                                                        \
        {SCHEDULE_FIELD(of, draws),                                                                \
         .label = "Futures",                                                                       \
         .type = FIELD_INT,                                                                        \
         .min = 1,                                                                                 \
         .max = 100000,                                                                            \
         .preset = "4096",                                                                         \
         .help = "How many are drawn."},                                                           \
    {                                                                                              \
        SCHEDULE_FIELD(of, seed), .label = "Seed", .type = FIELD_INT, .max = 1e15, .preset = "1",  \
                                  .help = "Of the futures."                                        \
    }

struct season_row {
    const char *step;
    const char *opens, *closes;
    double slack_first; /* days to spare when the step begins on the first day, usual durations */
    double slack_last;  /* on the last day: negative when too late */
    const char *last;   /* last day of the season that meets the opening, usual; NULL: none */
    double chance_first, chance_last; /* of meeting the opening, over the futures */
    long safe;                        /* the whole season is safe */
    long marked;                      /* the latest safe season: the one to plan for */
    const char *alarm;                /* warn on this day */
    const char *missed;               /* what it means to miss it */
};

struct schedule_row {
    const char *id, *title;
    const char *begin, *end; /* planned, usual durations */
    const char *latest;      /* last day to begin with usual durations */
    const char *last_safe;   /* last day to begin with the assurance asked for */
    double slack;            /* days from `begin` to `latest` */
    double days;             /* usual */
    const char *alarm;       /* NULL without a window */
};

struct day_task {
    const char *date, *step, *what;
};

struct schedule {
    double chance;          /* of meeting the opening with the plan */
    double chance_error;    /* standard error of that, from the number of futures */
    const char *ready;      /* planned day of completion, usual durations */
    double slack;           /* days from there to the opening */
    struct records rows;    /* struct schedule_row */
    struct records seasons; /* struct season_row */
    struct records tasks;   /* struct day_task: the day list */
    const char *say;        /* warnings in whole sentences; "" when there are none */
};
extern const struct kind season_row_kind, schedule_row_kind, day_task_kind;

/* Errors: ERR_INPUT for a date or window that cannot be read, ERR_MISSING for an unknown step in
 * `after`, ERR_CONFLICT for steps that wait for each other, ERR_RANGE for durations. An opening
 * that cannot be met is an answer. Cost: draws x steps. */
int gather_schedule_plan(struct schedule *out, const struct plan_step *step, size_t steps,
                         const struct schedule_options *options, struct arena *arena,
                         struct error *err);

#endif
