/* What the files of a plan share. Internal to src/cycle/plan*.c, state*.c. */
#pragma once
#include "cycle/plan.h"

#define EW_PLAN_MAGIC       "EWCPLAN\0"
#define EW_PLAN_SEALED_FROM (8 + 2 * sizeof(int64_t) + 32)

gsize ew_plan_section_bytes(const struct ew_cycle_plan *plan, int section);
/* Where the sections begin, by their counts. */
void ew_plan_offsets(const struct ew_cycle_plan *plan, int64_t at[EW_PLAN_SECTIONS]);
/* -0 becomes 0, every NaN the same one. */
void ew_plan_canonical(void *words, gsize bytes);
void ew_plan_digest_of(const struct ew_cycle_plan *plan, uint8_t digest[32]);
/* Adds words in little-endian order. */
void ew_cycle_digest_words(GChecksum *sum, const void *words, gsize bytes);
/* ew_cycle_plan_new, with where the cells and where the gas may be taken from. */
struct ew_cycle_plan *ew_plan_make(const struct ew_cycle_model *model,
                                   const struct ew_cycle_options *options,
                                   const struct ew_cycle_plan *cells_of_plan,
                                   const struct ew_cycle_plan *gas_of_plan, GError **error);
/* The parts of a plan as a model has them; each array as long as the plan's section. */
void ew_plan_view_parts(const struct ew_cycle_plan *plan, struct ew_cycle_cylinder *cylinder,
                        struct ew_cycle_pipe *pipe, struct ew_cycle_volume *volume,
                        struct ew_cycle_valve *valve);
