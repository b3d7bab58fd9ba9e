/* What can be asked of a curve: its value between two points (linear, NaN outside), the log mean of a band, its peak
 * and whether that lies at an end, and itself as JSON. Speeds rise; every column has `points` values. */
#include "base/elementary.h"
#include "pull/curve.h"
#include "pull/findings.h"
#include <math.h>
#include <string.h>

void ew_curve_free(struct ew_curve *curve) {
  if (!curve)
    return;
  double **arrays[] = {&curve->speed_rpm,     &curve->torque_n_m,         &curve->torque_se_n_m,
                       &curve->power_w,       &curve->observed_n_m,       &curve->inertia_n_m,
                       &curve->samples,       &curve->engine_inertia_n_m, &curve->raw_speed_rpm,
                       &curve->raw_torque_n_m};
  for (gsize i = 0; i < G_N_ELEMENTS(arrays); i++)
    g_free(*arrays[i]);
  for (guint i = 0; i < curve->columns->len; i++) {
    g_free(g_array_index(curve->columns, struct ew_curve_column, i).values);
    g_free(g_array_index(curve->columns, struct ew_curve_column, i).se);
  }
  g_array_unref(curve->columns);
  ew_message_free(curve->out_of_range);
  g_ptr_array_unref(curve->warnings);
  g_free(curve);
}

const struct ew_curve_column *ew_curve_column(const struct ew_curve *curve, const char *key,
                                              int index) {
  for (guint i = 0; i < curve->columns->len; i++) {
    const struct ew_curve_column *column =
        &g_array_index(curve->columns, struct ew_curve_column, i);
    if (strcmp(column->key, key) == 0 && (index == 0 || column->index == index))
      return column;
  }
  return NULL;
}

double ew_curve_at(const struct ew_curve *curve, const double *values, double speed) {
  gsize n = curve->points;
  if (n == 0 || !(speed >= curve->speed_rpm[0] && speed <= curve->speed_rpm[n - 1]))
    return NAN;
  if (n == 1)
    return values[0];
  const double *at = curve->speed_rpm;
  gsize i = (gsize)((speed - at[0]) / (at[n - 1] - at[0]) * (double)(n - 1)); /* near it */
  i = MIN(i, n - 2);
  while (i > 0 && speed <= at[i])
    i--;
  while (i + 2 < n && speed > at[i + 1])
    i++;
  g_assert(i + 1 < n && at[i] <= at[i + 1]);
  double share = (speed - at[i]) / (at[i + 1] - at[i]);
  return values[i] + share * (values[i + 1] - values[i]);
}

double ew_curve_band_log(const struct ew_curve *curve, double low, double high) {
  double sum = 0;
  if (curve->points == 0 || curve->speed_rpm[0] > low + 1e-6 ||
      curve->speed_rpm[curve->points - 1] < high - 1e-6 || !(high > low))
    return NAN;
  for (int i = 0; i <= 50; i++) /* trapezia: the ends stand for half a step */
    sum += (i % 50 ? 1 : 0.5) *
           ew_log(ew_curve_at(curve, curve->torque_n_m, low + (high - low) * i / 50));
  return sum / 50;
}

/* Index of the largest of the known values[first..last); `last` when none is known. */
static gsize largest(const double *values, gsize first, gsize last) {
  gsize best = last;
  for (gsize i = first; i < last; i++)
    if (!isnan(values[i]) && (best == last || values[i] > values[best]))
      best = i;
  return best;
}

gsize ew_highest_point(const double *speed, const double *values, const double *relative_se,
                       gsize n, double margin, gboolean *at_end) {
  g_assert(n > 0);
  gsize low = 0, high = n;
  while (low < n && speed[low] < speed[0] + margin)
    low++;
  while (high > low && speed[high - 1] > speed[n - 1] - margin)
    high--;
  gsize best = largest(values, 0, n), inside = largest(values, low, high);
  gboolean end = best < low || best >= high;
  if (end && inside < high) {
    double se = relative_se ? relative_se[best] : (double)NAN;
    gboolean clear = !(values[best] <= values[inside] * (1 + 2 * (isnan(se) ? 0 : se)));
    gboolean rising = best < low ? inside == low : inside == high - 1;
    end = clear || rising;
  }
  if (at_end)
    *at_end = end;
  best = end ? best : inside;
  return best < n ? best : 0;
}

double ew_curve_margin_rpm(const struct ew_curve *curve) {
  return curve->kind == EW_SEGMENT_SWEEP ? curve->method.half_width_rpm / 2 : 1;
}

static gsize peak_of(const struct ew_curve *curve, const double *values, gboolean *at_end) {
  g_autofree double *se = g_new(double, MAX(curve->points, 1));
  for (gsize i = 0; i < curve->points; i++)
    se[i] =
        curve->torque_se_n_m ? curve->torque_se_n_m[i] / fabs(curve->torque_n_m[i]) : (double)NAN;
  return ew_highest_point(curve->speed_rpm, values, se, curve->points, ew_curve_margin_rpm(curve),
                          at_end);
}

gsize ew_curve_peak(const struct ew_curve *curve, const double *values) {
  return peak_of(curve, values, NULL);
}

gboolean ew_curve_peak_is_at_end(const struct ew_curve *curve, const double *values) {
  gboolean at_end;
  peak_of(curve, values, &at_end);
  return at_end;
}

const char *const ew_corrected_keys[EW_CORRECTED_COUNT] = {"corrected", "observed", "uncorrected"};

/* By the facts it was stored with: an earlier program kept the reason as a sentence, and its dry pressure tells. */
enum ew_corrected ew_curve_corrected(const struct ew_curve *curve) {
  const ew_message *why = curve->out_of_range;
  if (curve->method.standard == EW_STANDARD_NONE)
    return EW_OBSERVED;
  return isnan(curve->factor.dry_pressure_pa) ||
                 (why && (ew_message_is(why, &ew_pull_weather_unknown) ||
                          ew_message_is(why, &ew_pull_needs_fuel_flow)))
             ? EW_UNCORRECTED
             : EW_CORRECTED;
}

static void write_conditions(const struct ew_conditions *c, struct ew_json *json) {
  ew_json_open(json, "conditions");
  ew_json_number(json, "pressure_pa", c->pressure_pa);
  ew_json_text(json, "pressure_from", c->pressure_from);
  ew_json_number(json, "temperature_k", c->temperature_k);
  ew_json_text(json, "temperature_from", c->temperature_from);
  ew_json_number(json, "vapour_pressure_pa", c->vapour_pa);
  ew_json_text(json, "humidity_from", c->humidity_from);
  ew_json_number(json, "weather_age_s", c->weather_age_s);
  ew_json_number(json, "oil_start_k", c->oil_start_k);
  ew_json_number(json, "oil_end_k", c->oil_end_k);
  ew_json_number(json, "coolant_start_k", c->coolant_start_k);
  ew_json_number(json, "coolant_end_k", c->coolant_end_k);
  ew_json_number(json, "inlet_start_k", c->inlet_start_k);
  ew_json_number(json, "inlet_end_k", c->inlet_end_k);
  ew_json_number(json, "rest_s", c->rest_s);
  ew_json_number(json, "acceleration_rpm_s", c->acceleration_rpm_s);
  ew_json_boolean(json, "full_throttle", c->full_throttle);
  ew_json_close(json);
}

static void write_columns(const struct ew_curve *curve, struct ew_json *json) {
  ew_json_open(json, "columns");
  for (guint i = 0; i < curve->columns->len; i++) {
    const struct ew_curve_column *column =
        &g_array_index(curve->columns, struct ew_curve_column, i);
    g_autofree char *number = column->index ? g_strdup_printf("_%d", column->index) : g_strdup("");
    g_autofree char *key = g_strconcat(column->key, number, ew_kind_suffix(column->kind), NULL);
    ew_json_numbers(json, key, column->values, curve->points);
  }
  ew_json_close(json);
}

void ew_curve_write_json(const struct ew_curve *curve, struct ew_json *json) {
  ew_json_text(json, "kind", ew_segment_kind_names[curve->kind]);
  ew_json_numbers(json, "speed_rpm", curve->speed_rpm, curve->points);
  ew_json_numbers(json, "torque_n_m", curve->torque_n_m, curve->points);
  ew_json_numbers(json, "torque_se_n_m", curve->torque_se_n_m, curve->points);
  ew_json_numbers(json, "power_w", curve->power_w, curve->points);
  ew_json_numbers(json, "observed_torque_n_m", curve->observed_n_m, curve->points);
  ew_json_numbers(json, "inertia_torque_n_m", curve->inertia_n_m, curve->points);
  ew_json_numbers(json, "engine_inertia_torque_n_m", curve->engine_inertia_n_m, curve->points);
  write_columns(curve, json);
  ew_json_number(json, "factor", curve->factor.factor);
  ew_json_boolean(json, "in_range", curve->factor.in_range);
  ew_json_text(json, "corrected", ew_corrected_keys[ew_curve_corrected(curve)]);
  ew_message_write_member(curve->out_of_range, "out_of_range_because", EW_UNITS_SI, json);
  write_conditions(&curve->conditions, json);
  ew_json_open(json, "band");
  ew_json_number(json, "low_rpm", curve->band_low_rpm);
  ew_json_number(json, "high_rpm", curve->band_high_rpm);
  ew_json_number(json, "mean_torque_n_m", curve->band_mean_n_m);
  ew_json_number(json, "relative_se", curve->band_mean_se);
  ew_json_close(json);
  ew_json_open(json, "cleaned");
  ew_json_integer(json, "spikes", (gint64)curve->cleaned.spikes);
  ew_json_integer(json, "dropouts", (gint64)curve->cleaned.dropouts);
  ew_json_integer(json, "flat", (gint64)curve->cleaned.flat);
  ew_json_integer(json, "saturated", (gint64)curve->cleaned.saturated);
  ew_json_integer(json, "lost", (gint64)curve->cleaned.lost);
  ew_json_close(json);
  ew_json_number(json, "noise_relative", curve->noise_sd);
  ew_json_number(json, "noise_correlation", curve->noise_correlation);
  ew_json_number(json, "knock_count", curve->knock_count);
  ew_json_open(json, "method");
  ew_fields_write_json(&ew_method_fields, &curve->method, json);
  ew_json_close(json);
  ew_messages_write_json(curve->warnings, "warnings", EW_UNITS_SI, json);
}
