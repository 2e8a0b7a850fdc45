/* snapshot: everything a project holds at one revision, decoded into the structs of the rooms.
 * Read in one short transaction; stages see nothing else. Lives in the arena it was read into. */
#ifndef RELICT_JOB_SNAPSHOT_H
#define RELICT_JOB_SNAPSHOT_H

#include "gather/gather.h"
#include "making/handover.h"
#include "making/making.h"
#include "record/project.h"
#include "remains/find.h"
#include "trial/scanned.h"
#include "trial/trial.h"
#include "trial/trial_plan.h"

struct snapshot {
    long revision;
    const char *title;
    long seed, draws;
    struct find find;
    struct makings makings; /* as entered */
    const char *today;      /* day of the newest change: what stages take for today */
    struct stem *stems;
    size_t stem_count;
    struct stem_fault *faults;
    size_t fault_count;
    struct test_peel *peels;
    size_t peel_count;
    struct stem_visit *visits;
    size_t visit_count;
    struct stock_item *stock;
    size_t stock_count;
    struct weighing *weighings;
    size_t weighing_count;
    struct plan_step *plan_steps;
    size_t plan_step_count;
    struct season_plan *season_plans;
    size_t season_plan_count;
    struct candidate *candidates;
    size_t candidate_count;
    struct plan_limits *limits;
    size_t limit_count;
    struct trial *trials;
    size_t trial_count;
    struct trial_piece *trial_pieces;
    size_t trial_piece_count;
    struct trial_reading *trial_readings;
    size_t trial_reading_count;
    struct scan_entry *scans;
    size_t scan_count;
    const struct scan_bytes *scan_bytes; /* [scan_count]; NULL until snapshot_scans */
    struct handover *handovers;
    size_t handover_count;
    struct as_made *as_made;
    size_t as_made_count;
};

/* Reads the project as it stands. A body that no longer fits its kind is ERR_DAMAGED or ERR_INPUT
 * with the id; nothing is left out in silence. */
int snapshot_read(struct snapshot *out, struct record *record, struct arena *arena,
                  struct error *err);

/* Adds the kept bytes of the scans; a file that cannot be had is told with its scan. Only the step
 * that reads scans needs them. */
int snapshot_scans(struct snapshot *now, struct record *record, struct arena *arena,
                   struct error *err);

#endif
