/* One call from the bytes of a file to its curves: the path that files, the book, the practice cell
 * and the page all take. */
#pragma once
#include "base/table_frames.h"
#include "pull/reduce.h"

/* What steps make a curve of the same raw and method: raised with every change of them that can move a bit
 * of a curve, so that a book tells a curve of an earlier program from a damaged one.
 * Curves of before it was counted name none. */
#define EW_REDUCTION 5

struct ew_processed {
  struct ew_series *series;
  struct ew_clean_counts cleaned;
  GPtrArray *segments;  /* struct ew_segment* */
  GPtrArray *curves;    /* struct ew_curve*, one a segment */
  ew_message *why_none; /* when there is no pull */
  struct ew_table_layout *layout;
};

struct ew_processed *ew_process(const void *bytes, gsize size, const char *name,
                                const struct ew_channel_map *map,
                                const struct ew_reduce_facts *facts, GError **error);
/* The same of a table that was read; takes it. */
struct ew_processed *ew_process_table(struct ew_table *table, const char *name,
                                      const struct ew_channel_map *map,
                                      const struct ew_reduce_facts *facts, GError **error);
/* The same of rows that are at hand: what ew_process makes of their text. */
struct ew_processed *ew_process_frames(const struct ew_frames *frames, const char *name,
                                       const struct ew_channel_map *map,
                                       const struct ew_reduce_facts *facts, GError **error);
/* Air-fuel ratio at lambda 1 of the fuel in use: of the set-up's fuel, else what the engine's file states, else of its
 * fuel; NaN: not known. Both may be NULL. */
double ew_stoichiometric_of(const struct ew_engine *engine, const struct ew_setup *setup);
void ew_processed_free(struct ew_processed *processed);
