#include "job/kinds.h"

#include "making/making.h"
#include "remains/find.h"

const struct kind *const job_kinds[] = {
    &piece_kind,  &measure_kind,   &mark_kind_kind, &piece_outline_kind,
    &source_kind, &choice_kind,    &handling_kind,  &own_alteration_kind,
    &making_kind, &part_kind_kind, &step_kind,
};

size_t job_kind_count(void) {
    return sizeof job_kinds / sizeof job_kinds[0];
}
