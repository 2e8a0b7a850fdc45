#include "job/kinds.h"

#include "gather/gather.h"
#include "gather/schedule.h"
#include "gather/stem.h"
#include "gather/stock.h"
#include "making/handover.h"
#include "making/making.h"
#include "record/import.h"
#include "remains/find.h"
#include "trial/scanned.h"
#include "trial/trial.h"
#include "trial/trial_plan.h"

const struct kind *const job_kinds[] = {
    &piece_kind,       &measure_kind,       &mark_kind_kind,   &piece_outline_kind,
    &source_kind,      &choice_kind,        &handling_kind,    &own_alteration_kind,
    &making_kind,      &part_kind_kind,     &step_kind,        &stem_kind_kind,
    &stem_fault_kind,  &test_peel_kind,     &stem_visit_kind,  &stock_item_kind,
    &weighing_kind,    &plan_step_kind,     &handover_kind,    &as_made_kind,
    &season_plan_kind, &candidate_kind,     &plan_limits_kind, &trial_kind,
    &trial_piece_kind, &trial_reading_kind, &scan_entry_kind,
};

size_t job_kind_count(void) {
    return sizeof job_kinds / sizeof job_kinds[0];
}
