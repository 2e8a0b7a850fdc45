/* calc_season: `relict calc schedule` and `stock`. */
#include "gather/describe.h"
#include "gather/gather_methods.h"
#include "gather/schedule.h"
#include "gather/stock.h"

struct schedule_in {
    struct schedule_options options;
    struct records steps;
};
#define OPTION(member) .name = #member, .offset = offsetof(struct schedule_in, options.member)
static const struct field schedule_in_fields[] = {
    {OPTION(opening), .label = "Opening", .type = FIELD_DATE, .required = true,
     .help = "Day it must be ready."},
    {OPTION(today), .label = "Today", .type = FIELD_DATE, .required = true,
     .help = "Day the plan begins."},
    {AT(schedule_in, steps), .label = "Steps", .type = FIELD_RECORDS, .sub = &plan_step_kind,
     .required = true, .help = "What is done and waited for."},
    SCHEDULE_FIELDS(schedule_in),
};
static const struct kind schedule_in_kind = {"schedule", "An opening and the way to it",
                                             sizeof(struct schedule_in), FIELDS(schedule_in_fields),
                                             ""};
static const struct field schedule_out_fields[] = {
    F_OUT_SHARE(schedule, chance, "Chance", "Of meeting the opening with this plan."),
    F_OUT_SHARE(schedule, chance_error, "Its error", "Standard error, from the number of futures."),
    F_DATE(schedule, ready, "Ready", "With usual durations."),
    F_OUT(schedule, slack, "To spare", "days", "From there to the opening."),
    F_LIST(schedule, seasons, "Seasons", season_row_kind, "One by one."),
    F_LIST(schedule, rows, "Plan", schedule_row_kind, "Step by step."),
    F_LIST(schedule, tasks, "Day list", day_task_kind, "What is due on which day."),
    F_TEXT(schedule, say, "Warnings", "In whole sentences."),
};
static const struct kind schedule_out_kind = {
    "schedule_answer", "The plan", sizeof(struct schedule), FIELDS(schedule_out_fields), ""};

static int run_schedule(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct schedule_in *i = in;
    return gather_schedule_plan(out, i->steps.v, i->steps.n, &i->options, arena, err);
}

const struct method gather_method_schedule = {
    "schedule",
    "Works back from an opening to the last safe day of each step",
    "critical path with random durations (Malcolm et al., Operations Research 7, 1959, 646), "
    "triangles; seasons: makers' "
    "practice",
    "Seasons are northern lowland starting values: replace them by what test peels say.",
    &schedule_in_kind,
    &schedule_out_kind,
    run_schedule,
    "{\"opening\": \"2029-09-01\", \"today\": \"2027-09-01\", \"draws\": 500, \"steps\": [{\"id\": "
    "\"peel\", \"title\": "
    "\"Peel the sheet\", \"days_usual\": 0, \"window_from\": \"05-01\", \"window_to\": \"06-30\", "
    "\"spring\": true, "
    "\"material\": \"sheet bark\"}, {\"id\": \"make\", \"title\": \"Make\", \"after\": [\"peel\"], "
    "\"days_low\": 8, "
    "\"days_usual\": 10, \"days_high\": 15}, {\"id\": \"dry\", \"title\": \"Dry\", \"after\": "
    "[\"make\"], \"days_low\": 28, "
    "\"days_usual\": 56, \"days_high\": 70, \"tend\": \"Weigh and turn\", \"tend_every\": 7}]}",
};

/* ---- stock ------------------------------------------------------------------------------------
 */

struct stock_in {
    struct stock_item item;
    struct records weighings;
    const char *on;
};
static const struct field stock_in_fields[] = {
    {AT(stock_in, item), .label = "Item", .type = FIELD_RECORD, .sub = &stock_item_kind,
     .required = true, .help = "What was weighed."},
    {AT(stock_in, weighings), .label = "Weighings", .type = FIELD_RECORDS, .sub = &weighing_kind,
     .required = true, .help = "In any order."},
    F_DATE(stock_in, on, "On", "Day for which moisture is wanted; left out: the last weighing."),
};
static const struct kind stock_in_kind = {"stock", "An item and its weighings",
                                          sizeof(struct stock_in), FIELDS(stock_in_fields), ""};
static const struct field stock_out_fields[] = {
    F_OUT(stock_answer, mass_now, "Mass", "g", "At the last weighing."),
    F_OUT_SHARE(stock_answer, moisture_now, "Moisture", "At the last weighing."),
    F_OUT(stock_answer, rest_mass, "Resting mass", "g", "Fitted."),
    F_OUT(stock_answer, rate, "Rate", "1/h", "Fitted."),
    F_OUT(stock_answer, half_hours, "Half time", "h", "Until half the water that will go is gone."),
    F_OUT(stock_answer, misfit, "Misfit", "g", "Root mean square."),
    F_DATE(stock_answer, on, "Day", "For which it is predicted."),
    F_OUT(stock_answer, mass_on, "Mass then", "g", "Predicted."),
    F_OUT_SHARE(stock_answer, moisture_on, "Moisture then", "Predicted."),
    F_OUT_SHARE(stock_answer, moisture_low, "From", "95 % of the fit; needs four weighings."),
    F_OUT_SHARE(stock_answer, moisture_high, "To", "95 % of the fit."),
    F_OUT_SHARE(stock_answer, change_48, "Change in 48 h", "Of the mass."),
    {AT(stock_answer, dry), .label = "Dry", .type = FIELD_INT,
     .help = "1 dry, 0 not yet, -1 cannot tell."},
    F_DATE(stock_answer, dry_by, "Dry by", "Day on which the rule is met by the fit."),
    F_TEXT(stock_answer, basis, "Moisture rests on", "Where the dry mass comes from."),
    F_TEXT(stock_answer, say, "Warnings", "In whole sentences."),
};
static const struct kind stock_out_kind = {
    "stock_answer", "How wet it is", sizeof(struct stock_answer), FIELDS(stock_out_fields), ""};

static int run_stock(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct stock_in *i = in;
    return gather_stock(out, &i->item, i->weighings.v, i->weighings.n, i->on, arena, err);
}

const struct method gather_method_stock = {
    "stock",
    "Works out moisture from weighings, predicts it, and says when it is dry",
    "thin-layer drying: Lewis, Ind. Eng. Chem. 13, 1921, 427; dry: two weighings 48 h apart differ "
    "by under 0.5 % (common "
    "practice, no source)",
    NULL,
    &stock_in_kind,
    &stock_out_kind,
    run_stock,
    "{\"item\": {\"id\": \"S1\", \"what\": \"sheet\", \"start_moisture\": 95, \"flatten_least\": "
    "40}, \"weighings\": [{\"id\": "
    "\"a\", \"date\": \"2028-05-02\", \"mass\": 412}, {\"id\": \"b\", \"date\": \"2028-05-04\", "
    "\"mass\": 351}, {\"id\": \"c\", "
    "\"date\": \"2028-05-07\", \"mass\": 298}, {\"id\": \"d\", \"date\": \"2028-05-14\", \"mass\": "
    "247}], \"on\": "
    "\"2028-05-20\"}",
};
