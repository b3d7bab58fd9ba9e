/* Reading, cleaning, finding pulls and reducing, in one call. A segment that gives no curve is noted with its
 * reason, or is the reason that there is none at all. */
#include "pull/process.h"
#include "gas/fuel.h"
#include <math.h>

double ew_stoichiometric_of(const struct ew_engine *engine, const struct ew_setup *setup) {
  const struct ew_fuel *fuel = setup ? ew_fuel_find(setup->fuel) : NULL;
  if (fuel)
    return fuel->stoichiometric_ratio;
  if (engine && !isnan(engine->stoichiometric_ratio))
    return engine->stoichiometric_ratio;
  fuel = engine ? ew_fuel_find(engine->fuel) : NULL;
  return fuel ? fuel->stoichiometric_ratio : (double)NAN;
}

void ew_processed_free(struct ew_processed *processed) {
  if (!processed)
    return;
  ew_series_free(processed->series);
  if (processed->segments)
    g_ptr_array_unref(processed->segments);
  if (processed->curves)
    g_ptr_array_unref(processed->curves);
  ew_message_free(processed->why_none);
  ew_table_layout_free(processed->layout);
  g_free(processed);
}

/* A segment that gives no curve is not a pull: the reason is noted, or is why there is none at all. */
static void reduce_all(struct ew_processed *processed, const struct ew_reduce_facts *facts) {
  for (guint i = 0; i < processed->segments->len;) {
    ew_message *why = NULL;
    struct ew_curve *curve =
        ew_reduce(processed->series, g_ptr_array_index(processed->segments, i), facts, &why);
    if (curve) {
      g_ptr_array_add(processed->curves, curve);
      i++;
      continue;
    }
    g_ptr_array_remove_index(processed->segments, i);
    if (processed->segments->len == 0 && !processed->why_none)
      processed->why_none = why;
    else
      ew_messages_add(processed->series->notes, why);
  }
}

struct ew_processed *ew_process_table(struct ew_table *table, const char *name,
                                      const struct ew_channel_map *map,
                                      const struct ew_reduce_facts *facts, GError **error) {
  struct ew_processed *processed = g_new0(struct ew_processed, 1);
  processed->series = ew_series_from_table(
      table, name, map, ew_stoichiometric_of(facts->engine, facts->setup), error);
  if (processed->series) {
    processed->layout = g_steal_pointer(&table->layout);
    for (guint c = 0; c < processed->layout->columns->len; c++)
      g_free(table->columns[c]);
    g_clear_pointer(&table->columns, g_free);
    ew_calibrated_apply(facts->calibration, processed->series);
    processed->cleaned = ew_clean(processed->series, facts->method);
    processed->segments = ew_find_segments(processed->series, facts->method,
                                           processed->series->notes, &processed->why_none);
    processed->curves = g_ptr_array_new_with_free_func((GDestroyNotify)ew_curve_free);
  }
  ew_table_free(table);
  if (processed->series) {
    reduce_all(processed, facts);
    return processed;
  }
  ew_processed_free(processed);
  return NULL;
}

struct ew_processed *ew_process(const void *bytes, gsize size, const char *name,
                                const struct ew_channel_map *map,
                                const struct ew_reduce_facts *facts, GError **error) {
  struct ew_table *table = ew_table_read_bytes(bytes, size, name, error);
  return table ? ew_process_table(table, name, map, facts, error) : NULL;
}

struct ew_processed *ew_process_frames(const struct ew_frames *frames, const char *name,
                                       const struct ew_channel_map *map,
                                       const struct ew_reduce_facts *facts, GError **error) {
  struct ew_table *table = ew_frames_table(frames, name, error);
  return table ? ew_process_table(table, name, map, facts, error) : NULL;
}
