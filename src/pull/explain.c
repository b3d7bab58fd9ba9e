/* The samples behind one point with their weights, and the inputs of a derived figure. It goes the way of reduce.c
 * with the same functions, so that what it shows is what was computed. */
#include "pull/explain.h"
#include "base/language.h"
#include "base/error.h"
#include "gas/moist_air.h"
#include "pull/reduce_parts.h"
#include "pull/smooth.h"
#include <math.h>
#include <string.h>

static gboolean nearest_point(const struct ew_curve *curve, double speed, gsize *point,
                              GError **error) {
  gsize n = curve->points;
  double slack = curve->method.grid_step_rpm;
  if (speed < curve->speed_rpm[0] - slack || speed > curve->speed_rpm[n - 1] + slack)
    return ew_refuse(error, "speed: %#.0f rpm is outside this pull, which has %#.0f to %#.0f rpm",
                     speed, curve->speed_rpm[0], curve->speed_rpm[n - 1]);
  *point = 0;
  for (gsize j = 1; j < n; j++)
    if (fabs(curve->speed_rpm[j] - speed) < fabs(curve->speed_rpm[*point] - speed))
      *point = j;
  return TRUE;
}

/* Rows of [first, last) whose value cleaning touched. */
static gsize count_touched(const struct ew_series_channel *channel, gsize first, gsize last) {
  gsize count = 0;
  for (gsize i = first; channel->flags && i < last; i++)
    count += (channel->flags[i] & (EW_FLAG_SPIKE | EW_FLAG_DROPOUT)) != 0;
  return count;
}

/* The samples that have weight at this speed, in order of time; *touched (may be NULL): see explain.h. */
static GArray *weigh_samples(const struct ew_processed *processed, const struct ew_segment *segment,
                             const struct ew_reduce_facts *facts,
                             const struct ew_series_channel *channel, double speed_rpm,
                             gsize *touched) {
  const struct ew_series *series = processed->series;
  gsize first = segment->count_first, n = segment->count_last - first, from = n, to = 0;
  const struct ew_series_channel *turns = ew_series_find(series, EW_CHANNEL_SPEED, 0);
  const double *speed = turns->values + first, *value = channel->values + first;
  struct ew_sample_torque torque = ew_sample_torque(series, segment, facts);
  g_autofree guint8 *use = g_new(guint8, n);
  g_autofree double *l = g_new(double, n);
  for (gsize i = 0; i < n; i++)
    use[i] = ew_reduce_uses(channel, first + i, segment->count_last) && !isnan(speed[i]) &&
             (channel->channel != EW_CHANNEL_TORQUE ||
              (!isnan(torque.inertia[i]) && !isnan(torque.engine_inertia[i])));
  GArray *samples = g_array_new(FALSE, FALSE, sizeof(struct ew_origin_sample));
  gboolean enough = ew_smooth_weights(speed, n, speed_rpm, facts->method->half_width_rpm, use, l);
  for (gsize i = 0; enough && i < n; i++) {
    if (l[i] == 0)
      continue;
    struct ew_origin_sample one = {series->time_s[first + i],
                                   speed[i],
                                   value[i],
                                   torque.inertia[i],
                                   torque.engine_inertia[i],
                                   torque.acceleration[i],
                                   l[i],
                                   count_touched(turns, first + i, first + i + 1) > 0};
    g_array_append_val(samples, one);
    from = MIN(from, i);
    to = i + 1;
  }
  if (touched)
    *touched = count_touched(channel, first + MIN(from, to), first + to);
  ew_sample_torque_clear(&torque);
  return samples;
}

static void walk_sweep(const struct ew_processed *processed, const struct ew_segment *segment,
                       const struct ew_reduce_facts *facts, struct ew_origin *origin) {
  const struct ew_series_channel *channel = ew_series_find(processed->series, EW_CHANNEL_TORQUE, 0);
  g_autoptr(GArray) samples =
      weigh_samples(processed, segment, facts, channel, origin->speed_rpm, &origin->touched);
  origin->first_s = INFINITY;
  origin->low_rpm = INFINITY;
  for (guint i = 0; i < samples->len; i++) {
    const struct ew_origin_sample *one = &g_array_index(samples, struct ew_origin_sample, i);
    origin->measured_n_m += one->weight * one->value;
    origin->inertia_n_m += one->weight * one->inertia_n_m;
    origin->engine_inertia_n_m += one->weight * one->engine_inertia_n_m;
    origin->samples++;
    origin->first_s = fmin(origin->first_s, one->time_s);
    origin->last_s = fmax(origin->last_s, one->time_s);
    origin->low_rpm = fmin(origin->low_rpm, one->speed_rpm);
    origin->high_rpm = fmax(origin->high_rpm, one->speed_rpm);
    origin->acceleration_rpm_s += one->weight * one->acceleration_rpm_s;
  }
}

gboolean ew_explain(const struct ew_processed *processed, guint pull,
                    const struct ew_reduce_facts *facts, double speed_rpm, struct ew_origin *origin,
                    GError **error) {
  const struct ew_curve *curve = g_ptr_array_index(processed->curves, pull);
  const struct ew_segment *segment = g_ptr_array_index(processed->segments, pull);
  gsize point = 0;
  if (!nearest_point(curve, speed_rpm, &point, error))
    return FALSE;
  *origin = (struct ew_origin){.speed_rpm = curve->speed_rpm[point],
                               .torque_n_m = curve->torque_n_m[point],
                               .power_w = curve->power_w[point],
                               .torque_se_n_m = curve->torque_se_n_m[point]};
  if (segment->kind == EW_SEGMENT_SWEEP)
    walk_sweep(processed, segment, facts, origin);
  else {
    origin->measured_n_m = curve->observed_n_m[point];
    origin->samples = (gsize)curve->samples[point];
    origin->low_rpm = origin->high_rpm = origin->speed_rpm;
    origin->first_s = curve->start_s;
    origin->last_s = curve->end_s;
  }
  return TRUE;
}

GArray *ew_explain_torque_samples(const struct ew_processed *processed, guint pull,
                                  const struct ew_reduce_facts *facts, double speed_rpm,
                                  GError **error) {
  const struct ew_curve *curve = g_ptr_array_index(processed->curves, pull);
  const struct ew_segment *segment = g_ptr_array_index(processed->segments, pull);
  gsize point = 0;
  if (!nearest_point(curve, speed_rpm, &point, error))
    return NULL;
  if (segment->kind != EW_SEGMENT_SWEEP) {
    ew_refuse(error, "samples with weights belong to a sweep; this pull is of %s",
              ew_segment_kind_names[segment->kind]);
    return NULL;
  }
  const struct ew_series_channel *channel = ew_series_find(processed->series, EW_CHANNEL_TORQUE, 0);
  return weigh_samples(processed, segment, facts, channel, curve->speed_rpm[point], NULL);
}

/* The column that `figure` names, as the exported curve names it but for the unit. */
static const struct ew_curve_column *column_of(const struct ew_curve *curve, const char *figure,
                                               GError **error) {
  g_autoptr(GString) known = g_string_new("torque");
  for (guint i = 0; i < curve->columns->len; i++) {
    const struct ew_curve_column *column =
        &g_array_index(curve->columns, struct ew_curve_column, i);
    g_autofree char *name = column->index ? g_strdup_printf("%s_%d", column->key, column->index)
                                          : g_strdup(column->key);
    if (strcmp(name, figure) == 0)
      return column;
    g_string_append_printf(known, ", %s", name);
  }
  ew_refuse(error, "figure: '%s' is not in this curve, which has %s", figure, known->str);
  return NULL;
}

static void add_input(struct ew_figure_origin *origin, const char *name, double value) {
  g_assert(origin->inputs_count < G_N_ELEMENTS(origin->inputs));
  origin->inputs[origin->inputs_count].name = name;
  origin->inputs[origin->inputs_count++].value = value;
}

/* The formulas are those of `derive` in reduce.c, whose results these are. */
static void explain_computed(const struct ew_curve *curve, const struct ew_engine *engine,
                             gsize point, struct ew_figure_origin *origin) {
  g_assert(point < curve->points);
  const char *key = origin->column->key;
  if (strcmp(key, "bmep") == 0) {
    origin->formula = EW_TEXT("2 pi torque / (displacement x cycles per turn)");
    add_input(origin, "torque_n_m", curve->torque_n_m[point]);
    add_input(origin, "displacement_m3", ew_engine_displacement_m3(engine));
    add_input(origin, "cycles_per_turn", ew_engine_cycles_per_turn(engine));
  } else if (strcmp(key, "bsfc") == 0) {
    origin->formula = EW_TEXT("fuel flow / (observed torque x speed)");
    add_input(origin, "fuel_flow_kg_s", ew_curve_column(curve, "fuel_flow", 0)->values[point]);
    add_input(origin, "observed_torque_n_m", curve->observed_n_m[point]);
  } else if (strcmp(key, "ve") == 0) {
    const struct ew_conditions *c = &curve->conditions;
    double vapour = isnan(c->vapour_pa) ? 0 : c->vapour_pa;
    origin->formula =
        EW_TEXT("air flow / (density of the dry air x displacement x cycles per second)");
    add_input(origin, "air_flow_kg_s", ew_curve_column(curve, "air_flow", 0)->values[point]);
    add_input(origin, "dry_air_kg_m3",
              (c->pressure_pa - vapour) / (EW_GAS_CONSTANT_DRY_AIR * c->temperature_k));
    add_input(origin, "displacement_m3", ew_engine_displacement_m3(engine));
    add_input(origin, "cycles_per_turn", ew_engine_cycles_per_turn(engine));
  }
}

gboolean ew_explain_figure(const struct ew_processed *processed, guint pull,
                           const struct ew_reduce_facts *facts, const char *figure,
                           double speed_rpm, struct ew_figure_origin *origin, GError **error) {
  const struct ew_curve *curve = g_ptr_array_index(processed->curves, pull);
  const struct ew_segment *segment = g_ptr_array_index(processed->segments, pull);
  gsize point = 0;
  *origin = (struct ew_figure_origin){.column = column_of(curve, figure, error)};
  if (!origin->column || !nearest_point(curve, speed_rpm, &point, error))
    return FALSE;
  origin->speed_rpm = curve->speed_rpm[point];
  origin->value = origin->column->values[point];
  if (origin->column->channel == EW_CHANNELS_COUNT) {
    explain_computed(curve, facts->engine, point, origin);
    return TRUE;
  }
  origin->channel =
      ew_series_find(processed->series, origin->column->channel, origin->column->index);
  if (segment->kind == EW_SEGMENT_SWEEP)
    origin->samples = weigh_samples(processed, segment, facts, origin->channel, origin->speed_rpm,
                                    &origin->touched);
  return TRUE;
}

void ew_figure_origin_clear(struct ew_figure_origin *origin) {
  if (origin->samples)
    g_array_unref(origin->samples);
}
