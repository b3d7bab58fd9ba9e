/* 1. conditions: weather over the part that counts, fluids at start and end;
 * 2. torque that spins rotor and coupling is added back (in a sweep);
 * 3. the factor to standard air;
 * 4. local regression on the grid of speeds, with standard errors;
 * 5. the other channels by the same weights; BMEP, BSFC and VE from them;
 * 6. the headline: mean of the log of torque over the band of use;
 * 7. warnings. */
#include "pull/reduce.h"
#include "base/error.h"
#include "base/statistics.h"
#include "gas/moist_air.h"
#include "pull/smooth.h"
#include <math.h>
#include <string.h>

#define RAW_MOST 2000

static void warn(struct ew_curve *curve, const char *format, ...) G_GNUC_PRINTF(2, 3);
static void warn(struct ew_curve *curve, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  g_ptr_array_add(curve->warnings, g_strdup_vprintf(format, arguments));
  va_end(arguments);
}

static double mean_of(const double *x, gsize first, gsize last) {
  double sum = 0;
  gsize count = 0;
  for (gsize i = first; x && i < last; i++)
    if (!isnan(x[i]))
      sum += x[i], count++;
  return count ? sum / (double)count : (double)NAN;
}

/* 1 */
static double start_of(const struct ew_series *series, enum ew_channel channel,
                       const struct ew_segment *s) {
  gsize few = MAX((s->last - s->first) / 20, 3);
  return mean_of(ew_series_values(series, channel), s->first, MIN(s->first + few, s->last));
}

static double end_of(const struct ew_series *series, enum ew_channel channel,
                     const struct ew_segment *s) {
  gsize few = MAX((s->last - s->first) / 20, 3);
  const double *x = ew_series_values(series, channel);
  double mean = mean_of(x, s->last - MIN(few, s->last - s->first), s->last);
  return isnan(mean) ? mean_of(x, s->first + (s->last - s->first) / 2, s->last) : mean;
}

static double either(double channel, double setup, const char **from) {
  *from = !isnan(channel) ? "channel" : !isnan(setup) ? "set-up" : "not known";
  return !isnan(channel) ? channel : setup;
}

static struct ew_conditions conditions_of(const struct ew_series *series,
                                          const struct ew_segment *s,
                                          const struct ew_setup *given) {
  struct ew_setup none;
  if (!given)
    ew_setup_defaults(&none);
  const struct ew_setup *setup = given ? given : &none;
  gsize a = s->count_first, b = s->count_last;
  struct ew_conditions c = {
      .rest_s = setup->rest_s,
      .acceleration_rpm_s = s->acceleration_rpm_s,
      .throttle_known = s->throttle_known,
      .full_throttle = s->full_throttle,
      .oil_start_k = start_of(series, EW_CHANNEL_OIL_TEMPERATURE, s),
      .oil_end_k = end_of(series, EW_CHANNEL_OIL_TEMPERATURE, s),
      .coolant_start_k = start_of(series, EW_CHANNEL_COOLANT_TEMPERATURE, s),
      .coolant_end_k = end_of(series, EW_CHANNEL_COOLANT_TEMPERATURE, s),
      .inlet_start_k = start_of(series, EW_CHANNEL_INLET_AIR_TEMPERATURE, s),
      .inlet_end_k = end_of(series, EW_CHANNEL_INLET_AIR_TEMPERATURE, s),
      .fuel_k = start_of(series, EW_CHANNEL_FUEL_TEMPERATURE, s),
  };
  c.pressure_pa = either(mean_of(ew_series_values(series, EW_CHANNEL_BAROMETER), a, b),
                         setup->pressure_pa, &c.pressure_from);
  c.temperature_k =
      either(mean_of(ew_series_values(series, EW_CHANNEL_INLET_AIR_TEMPERATURE), a, b),
             setup->temperature_k, &c.temperature_from);
  double humidity = mean_of(ew_series_values(series, EW_CHANNEL_HUMIDITY), a, b);
  double dew = mean_of(ew_series_values(series, EW_CHANNEL_DEW_POINT), a, b);
  double by_channel = !isnan(dew) ? ew_vapour_from_dew_point_pa(dew)
                      : !isnan(humidity)
                          ? ew_vapour_from_relative_humidity_pa(humidity, c.temperature_k)
                          : (double)NAN;
  c.vapour_pa = either(by_channel, ew_setup_vapour_pa(setup, c.pressure_pa, c.temperature_k),
                       &c.humidity_from);
  return c;
}

/* 2 */
struct ew_sample_torque ew_sample_torque(const struct ew_series *series,
                                         const struct ew_segment *segment,
                                         const struct ew_reduce_facts *facts) {
  gsize n = segment->count_last - segment->count_first;
  struct ew_sample_torque t = {n, g_new(double, n), g_new0(double, n), g_new0(double, n), NULL};
  memcpy(t.measured, ew_series_values(series, EW_CHANNEL_TORQUE) + segment->count_first,
         n * sizeof(double));
  if (segment->kind != EW_SEGMENT_SWEEP) {
    t.acceleration = g_new0(double, n);
    return t;
  }
  g_autofree double *all = ew_acceleration_within(
      series, ew_series_values(series, EW_CHANNEL_SPEED), 0.5, segment->first, segment->last);
  t.acceleration = g_memdup2(all + (segment->count_first - segment->first), n * sizeof(double));
  double brake = 0, engine = 0;
  if (!isnan(facts->bench->rotor_inertia_kg_m2))
    brake += facts->bench->rotor_inertia_kg_m2;
  if (!isnan(facts->bench->coupling_inertia_kg_m2))
    brake += facts->bench->coupling_inertia_kg_m2;
  if (facts->engine && !isnan(facts->engine->inertia_kg_m2))
    engine = facts->engine->inertia_kg_m2;
  for (gsize i = 0; i < n; i++) {
    double alpha = t.acceleration[i] * G_PI / 30; /* rad/s2 */
    t.inertia[i] = brake * alpha;
    t.engine_inertia[i] = engine * alpha;
  }
  return t;
}

void ew_sample_torque_clear(struct ew_sample_torque *t) {
  g_free(t->measured);
  g_free(t->inertia);
  g_free(t->engine_inertia);
  g_free(t->acceleration);
}

/* 3 */
/* r of ISO 1585: pressure after the compressor over pressure before it; 1 without one, NaN when a
 * charged engine's manifold pressure was not recorded. */
static double pressure_ratio(const struct ew_curve *curve, const struct ew_series *series,
                             const struct ew_segment *s) {
  if (curve->method.charging == EW_NATURAL || curve->method.charging == EW_COMPENSATED)
    return 1;
  return mean_of(ew_series_values(series, EW_CHANNEL_MANIFOLD_PRESSURE), s->count_first,
                 s->count_last) /
         curve->conditions.pressure_pa;
}

/* qc of ISO 1585, mg of fuel a litre of displacement and cycle, over the pressure ratio. */
static double fuel_parameter(const struct ew_curve *curve, const struct ew_series *series,
                             const struct ew_segment *s, const struct ew_engine *engine) {
  if (!engine || isnan(ew_engine_displacement_m3(engine)))
    return NAN;
  double flow =
      mean_of(ew_series_values(series, EW_CHANNEL_FUEL_FLOW), s->count_first, s->count_last);
  double speed = mean_of(ew_series_values(series, EW_CHANNEL_SPEED), s->count_first, s->count_last);
  double z = ew_engine_cycles_per_turn(engine) < 1 ? 120000 : 60000;
  return z * flow * 1000 / (ew_engine_displacement_m3(engine) * 1000 * speed) /
         pressure_ratio(curve, series, s);
}

static void settle_factor(struct ew_curve *curve, const struct ew_series *series,
                          const struct ew_segment *s, const struct ew_reduce_facts *facts) {
  const struct ew_conditions *c = &curve->conditions;
  enum ew_standard standard = (enum ew_standard)curve->method.standard;
  if (standard != EW_STANDARD_NONE && (isnan(c->pressure_pa) || isnan(c->temperature_k))) {
    curve->factor =
        (struct ew_factor){1, NAN, FALSE, "the weather is not known: nothing was corrected"};
    return;
  }
  struct ew_air air = {c->pressure_pa, c->temperature_k, c->vapour_pa,
                       fuel_parameter(curve, series, s, facts->engine)};
  curve->factor = ew_correction_factor(standard, (enum ew_charging)curve->method.charging, air);
}

/* 4 */
struct grid_work {
  gsize n;             /* samples of the part that counts */
  const double *speed; /* their speeds */
  guint8 *use;
  double *weights;  /* points x n */
  gsize *from, *to; /* per point: where its weights begin and end */
  double *variance; /* per point: of the fit, for noise of variance 1 */
  gsize points;
};

static void make_grid(struct ew_curve *curve, const struct ew_segment *segment) {
  double step = curve->method.grid_step_rpm;
  double first = ceil(segment->low_rpm / step - 1e-9) * step;
  double last = floor((segment->high_rpm + 0.15 * step) / step) * step;
  curve->points = last >= first ? (gsize)((last - first) / step + 1.5) : 0;
  curve->speed_rpm = g_new(double, MAX(curve->points, 1));
  for (gsize j = 0; j < curve->points; j++)
    curve->speed_rpm[j] = first + step * (double)j;
}

static void allocate_points(struct ew_curve *curve) {
  double **arrays[] = {&curve->torque_n_m,   &curve->torque_se_n_m, &curve->power_w,
                       &curve->observed_n_m, &curve->inertia_n_m,   &curve->engine_inertia_n_m,
                       &curve->samples};
  for (gsize i = 0; i < G_N_ELEMENTS(arrays); i++)
    *arrays[i] = g_new0(double, MAX(curve->points, 1));
}

/* Points of the grid with too few samples are dropped from the ends. */
static void weigh(struct ew_curve *curve, struct grid_work *work) {
  gsize kept = 0;
  work->weights = g_new(double, MAX(curve->points * work->n, 1));
  work->from = g_new0(gsize, MAX(curve->points, 1));
  work->to = g_new0(gsize, MAX(curve->points, 1));
  work->variance = g_new0(double, MAX(curve->points, 1));
  for (gsize j = 0; j < curve->points; j++) {
    double *l = work->weights + kept * work->n;
    if (!ew_smooth_weights(work->speed, work->n, curve->speed_rpm[j], curve->method.half_width_rpm,
                           work->use, l))
      continue;
    work->to[kept] = work->n;
    while (work->to[kept] > 0 && l[work->to[kept] - 1] == 0)
      work->to[kept]--;
    while (work->from[kept] < work->to[kept] && l[work->from[kept]] == 0)
      work->from[kept]++;
    curve->speed_rpm[kept++] = curve->speed_rpm[j];
  }
  curve->points = work->points = kept;
}

static double apply(const double *l, const double *y, gsize from, gsize to) {
  double sum = 0;
  for (gsize i = from; i < to; i++)
    if (l[i] != 0)
      sum += l[i] * y[i];
  return sum;
}

/* Noise of the samples about the smooth curve, relative to torque, and its correlation. */
static void settle_noise(struct ew_curve *curve, const struct grid_work *work,
                         const double *torque) {
  g_autofree double *residual = g_new(double, work->n + 1);
  gsize count = 0;
  double squares = 0;
  for (gsize i = 0; i < work->n; i++) {
    double fit = ew_curve_at(curve, curve->observed_n_m, work->speed[i]);
    if (!work->use[i] || isnan(fit) || fit <= 0)
      continue;
    residual[count] = torque[i] / fit - 1;
    squares += residual[count] * residual[count];
    count++;
  }
  double used = 3 + 2.2 * (curve->high_rpm - curve->low_rpm) / curve->method.half_width_rpm;
  curve->noise_sd = count > used + 2 ? sqrt(squares / ((double)count - used)) : (double)NAN;
  curve->noise_correlation = ew_residual_correlation(residual, count);
  gsize tail = 0, middle = 0;
  double tail_squares = 0, middle_squares = 0;
  gsize at = 0;
  for (gsize i = 0; i < work->n; i++) {
    double fit = ew_curve_at(curve, curve->observed_n_m, work->speed[i]);
    if (!work->use[i] || isnan(fit) || fit <= 0)
      continue;
    double r = residual[at++];
    if (work->speed[i] > curve->high_rpm - 500)
      tail++, tail_squares += r * r;
    else if (work->speed[i] > curve->high_rpm - 2000)
      middle++, middle_squares += r * r;
  }
  curve->tail_scatter = tail > 10 && middle > 10
                            ? sqrt(tail_squares / (double)tail / (middle_squares / (double)middle))
                            : (double)NAN;
}

static void reduce_torque(struct ew_curve *curve, struct grid_work *work,
                          const struct ew_sample_torque *t) {
  g_autofree double *whole = g_new(double, MAX(work->n, 1));
  for (gsize i = 0; i < work->n; i++)
    whole[i] =
        t->measured[i] + t->inertia[i] + (curve->method.engine_inertia ? t->engine_inertia[i] : 0);
  for (gsize j = 0; j < curve->points; j++) {
    const double *l = work->weights + j * work->n;
    gsize from = work->from[j], to = work->to[j];
    curve->observed_n_m[j] = apply(l, whole, from, to);
    curve->inertia_n_m[j] = apply(l, t->inertia, from, to);
    curve->engine_inertia_n_m[j] = apply(l, t->engine_inertia, from, to);
    for (gsize i = from; i < to; i++)
      curve->samples[j] += l[i] != 0;
    curve->torque_n_m[j] = curve->factor.factor * curve->observed_n_m[j];
    curve->power_w[j] = curve->torque_n_m[j] * curve->speed_rpm[j] * G_PI / 30;
  }
  settle_noise(curve, work, whole);
  for (gsize j = 0; j < curve->points; j++) {
    work->variance[j] =
        ew_autoregressive_variance(work->weights + j * work->n, work->n, curve->noise_correlation);
    curve->torque_se_n_m[j] = curve->torque_n_m[j] * curve->noise_sd * sqrt(work->variance[j]);
  }
}

/* Corrected samples for drawing behind the curve. */
static void keep_raw(struct ew_curve *curve, const struct grid_work *work,
                     const struct ew_sample_torque *t) {
  gsize stride = work->n / RAW_MOST + 1;
  curve->raw_speed_rpm = g_new(double, work->n / stride + 1);
  curve->raw_torque_n_m = g_new(double, work->n / stride + 1);
  for (gsize i = 0; i < work->n; i += stride)
    if (!isnan(t->measured[i]) && !isnan(work->speed[i])) {
      curve->raw_speed_rpm[curve->raw_points] = work->speed[i];
      curve->raw_torque_n_m[curve->raw_points++] =
          curve->factor.factor * (t->measured[i] + t->inertia[i] +
                                  (curve->method.engine_inertia ? t->engine_inertia[i] : 0));
    }
}

/* 5 */
static struct ew_curve_column *add_column(struct ew_curve *curve, enum ew_channel channel,
                                          int index, const char *key, enum ew_kind kind) {
  struct ew_curve_column column = {channel,
                                   index,
                                   key,
                                   kind,
                                   g_new(double, MAX(curve->points, 1)),
                                   g_new(double, MAX(curve->points, 1))};
  for (gsize j = 0; j < curve->points; j++)
    column.values[j] = column.se[j] = NAN;
  g_array_append_val(curve->columns, column);
  return &g_array_index(curve->columns, struct ew_curve_column, curve->columns->len - 1);
}

static void reduce_channel(struct ew_curve *curve, const struct grid_work *work,
                           const struct ew_segment *segment,
                           const struct ew_series_channel *channel) {
  const double *y = channel->values + segment->count_first;
  struct ew_curve_column *column =
      add_column(curve, channel->channel, channel->index, ew_channel_facts[channel->channel].key,
                 ew_channel_facts[channel->channel].kind);
  g_autofree guint8 *use = g_new(guint8, MAX(work->n, 1));
  gsize holes = 0;
  for (gsize i = 0; i < work->n; i++) {
    use[i] = work->use[i] && !isnan(y[i]);
    holes += work->use[i] && !use[i];
  }
  g_autofree double *own = holes ? g_new(double, work->n) : NULL;
  for (gsize j = 0; j < curve->points; j++) {
    const double *l = work->weights + j * work->n;
    if (holes) {
      if (!ew_smooth_weights(work->speed, work->n, curve->speed_rpm[j],
                             curve->method.half_width_rpm, use, own))
        continue;
      l = own;
    }
    column->values[j] = apply(l, y, work->from[j], work->to[j]);
  }
  double squares = 0, count = 0;
  for (gsize i = 0; i < work->n; i++) {
    double fit = use[i] ? ew_curve_at(curve, column->values, work->speed[i]) : (double)NAN;
    if (!isnan(fit))
      squares += (y[i] - fit) * (y[i] - fit), count++;
  }
  for (gsize j = 0; count > 10 && j < curve->points; j++)
    column->se[j] = sqrt(squares / count * work->variance[j]);
}

static void derive(struct ew_curve *curve, const struct ew_engine *engine) {
  double displacement = engine ? ew_engine_displacement_m3(engine) : (double)NAN;
  double cycles = engine ? ew_engine_cycles_per_turn(engine) : 0.5;
  if (!isnan(displacement)) {
    struct ew_curve_column *bmep =
        add_column(curve, EW_CHANNELS_COUNT, 0, "bmep", EW_KIND_MEAN_EFFECTIVE_PRESSURE);
    for (gsize j = 0; j < curve->points; j++) {
      bmep->values[j] = 2 * G_PI * curve->torque_n_m[j] / (cycles * displacement);
      bmep->se[j] = 2 * G_PI * curve->torque_se_n_m[j] / (cycles * displacement);
    }
  }
  const struct ew_curve_column *found = ew_curve_column(curve, "fuel_flow", 0);
  if (found) { /* observed fuel over observed power */
    const double *fuel = found->values;
    struct ew_curve_column *bsfc =
        add_column(curve, EW_CHANNELS_COUNT, 0, "bsfc", EW_KIND_SPECIFIC_FUEL);
    for (gsize j = 0; j < curve->points; j++)
      bsfc->values[j] = fuel[j] / (curve->observed_n_m[j] * curve->speed_rpm[j] * G_PI / 30);
  }
  found = ew_curve_column(curve, "air_flow", 0);
  const struct ew_conditions *c = &curve->conditions;
  if (found && !isnan(displacement) && !isnan(c->pressure_pa) && !isnan(c->temperature_k)) {
    const double *air = found->values;
    double dry = (c->pressure_pa - (isnan(c->vapour_pa) ? 0 : c->vapour_pa)) /
                 (EW_GAS_CONSTANT_DRY_AIR * c->temperature_k);
    struct ew_curve_column *ve = add_column(curve, EW_CHANNELS_COUNT, 0, "ve", EW_KIND_RATIO);
    for (gsize j = 0; j < curve->points; j++)
      ve->values[j] = air[j] / (dry * displacement * cycles * curve->speed_rpm[j] / 60);
  }
}

static void reduce_channels(struct ew_curve *curve, const struct grid_work *work,
                            const struct ew_series *series, const struct ew_segment *segment) {
  for (guint c = 0; c < series->channels_count; c++) {
    const struct ew_series_channel *channel = &series->channels[c];
    if (channel->channel < EW_CHANNELS_COUNT && channel->values &&
        ew_channel_facts[channel->channel].in_curve)
      reduce_channel(curve, work, segment, channel);
  }
}

static void count_knock(struct ew_curve *curve, const struct ew_series *series,
                        const struct ew_segment *segment) {
  const double *knock = ew_series_values(series, EW_CHANNEL_KNOCK);
  const double *speed = ew_series_values(series, EW_CHANNEL_SPEED);
  curve->knock_count = knock ? 0 : (double)NAN;
  curve->knock_near_rpm = NAN;
  for (gsize i = segment->first; knock && i < segment->last; i++)
    if (knock[i] > 0) {
      curve->knock_count += knock[i];
      if (isnan(curve->knock_near_rpm))
        curve->knock_near_rpm = speed[i];
    }
}

/* 6 */
static void settle_headline(struct ew_curve *curve, const struct grid_work *work) {
  curve->band_low_rpm = fmax(curve->method.band_low * curve->high_rpm, curve->speed_rpm[0]);
  curve->band_high_rpm =
      fmin(curve->method.band_high * curve->high_rpm, curve->speed_rpm[curve->points - 1]);
  curve->band_mean_n_m = exp(ew_curve_band_log(curve, curve->band_low_rpm, curve->band_high_rpm));
  g_autofree double *sum = g_new0(double, MAX(work->n, 1));
  gsize inside = 0;
  for (gsize j = 0; j < curve->points; j++)
    if (curve->speed_rpm[j] >= curve->band_low_rpm && curve->speed_rpm[j] <= curve->band_high_rpm) {
      inside++;
      for (gsize i = 0; i < work->n; i++)
        sum[i] += work->weights[j * work->n + i];
    }
  for (gsize i = 0; i < work->n; i++)
    sum[i] /= (double)MAX(inside, 1);
  curve->band_mean_se =
      curve->noise_sd * sqrt(ew_autoregressive_variance(sum, work->n, curve->noise_correlation));
}

/* 7 */
static void warn_about(struct ew_curve *curve, const struct ew_series *series,
                       const struct ew_segment *segment, const struct ew_reduce_facts *facts) {
  const struct ew_conditions *c = &curve->conditions;
  for (guint i = 0; i < segment->notes->len; i++)
    warn(curve, "%s", (char *)g_ptr_array_index(segment->notes, i));
  if (curve->factor.why_not)
    warn(curve, "factor %.4f: %s", curve->factor.factor, curve->factor.why_not);
  if (fabs(c->inlet_end_k - c->inlet_start_k) > 2)
    warn(curve, "the inlet air moves %.1f K inside the pull", c->inlet_end_k - c->inlet_start_k);
  if (c->oil_start_k < 353.15 - 1 || c->oil_start_k > 373.15 + 1)
    warn(curve, "the oil starts at %.0f °C, outside 80 to 100 °C", c->oil_start_k - 273.15);
  if (c->coolant_start_k < 345.15 - 1 || c->coolant_start_k > 358.15 + 1)
    warn(curve, "the coolant starts at %.0f °C, outside 72 to 85 °C", c->coolant_start_k - 273.15);
  if (segment->kind == EW_SEGMENT_SWEEP && isnan(facts->bench->rotor_inertia_kg_m2))
    warn(curve, "no inertia of the absorber is stated: the torque that spins it is not added back");
  if (curve->cleaned.flat + curve->cleaned.saturated > 0)
    warn(curve, "%zu samples of speed or torque stand still or at the end of their range",
         curve->cleaned.flat + curve->cleaned.saturated);
  if (curve->cleaned.lost * 20 > segment->count_last - segment->count_first)
    warn(curve, "more than a twentieth of the samples is lost");
  if (!isnan(facts->bench->largest_torque_n_m))
    for (gsize j = 0; j < curve->points; j++)
      if (curve->observed_n_m[j] > facts->bench->largest_torque_n_m) {
        warn(curve, "the absorber's limit of torque is passed at %.0f rpm", curve->speed_rpm[j]);
        break;
      }
  (void)series;
}

static void count_cleaning(struct ew_curve *curve, const struct ew_series *series,
                           const struct ew_segment *s) {
  enum ew_channel channels[] = {EW_CHANNEL_SPEED, EW_CHANNEL_TORQUE};
  for (gsize k = 0; k < G_N_ELEMENTS(channels); k++) {
    struct ew_clean_counts here =
        ew_clean_count(ew_series_find(series, channels[k], 0), s->count_first, s->count_last);
    curve->cleaned.spikes += here.spikes;
    curve->cleaned.dropouts += here.dropouts;
    curve->cleaned.flat += here.flat;
    curve->cleaned.saturated += here.saturated;
    curve->cleaned.lost += here.lost;
  }
}

static struct ew_curve *begin_curve(const struct ew_series *series,
                                    const struct ew_segment *segment,
                                    const struct ew_reduce_facts *facts) {
  struct ew_curve *curve = g_new0(struct ew_curve, 1);
  curve->kind = segment->kind;
  curve->columns = g_array_new(FALSE, FALSE, sizeof(struct ew_curve_column));
  curve->warnings = g_ptr_array_new_with_free_func(g_free);
  curve->method = *facts->method;
  curve->low_rpm = segment->low_rpm;
  curve->high_rpm = segment->high_rpm;
  curve->start_s = series->time_s[segment->first];
  curve->end_s = series->time_s[segment->last - 1];
  curve->tail_scatter = curve->noise_sd = curve->band_mean_se = NAN;
  curve->conditions = conditions_of(series, segment, facts->setup);
  settle_factor(curve, series, segment, facts);
  count_cleaning(curve, series, segment);
  count_knock(curve, series, segment);
  return curve;
}

static void reduce_sweep(struct ew_curve *curve, const struct ew_series *series,
                         const struct ew_segment *segment, const struct ew_reduce_facts *facts) {
  struct grid_work work = {.n = segment->count_last - segment->count_first,
                           .speed =
                               ew_series_values(series, EW_CHANNEL_SPEED) + segment->count_first};
  struct ew_sample_torque torque = ew_sample_torque(series, segment, facts);
  work.use = g_new(guint8, MAX(work.n, 1));
  for (gsize i = 0; i < work.n; i++)
    work.use[i] = !isnan(torque.measured[i]) && !isnan(work.speed[i]);
  make_grid(curve, segment);
  allocate_points(curve);
  weigh(curve, &work);
  if (curve->points >= 3) {
    reduce_torque(curve, &work, &torque);
    keep_raw(curve, &work, &torque);
    reduce_channels(curve, &work, series, segment);
    settle_headline(curve, &work);
  }
  ew_sample_torque_clear(&torque);
  g_free(work.weights);
  g_free(work.from);
  g_free(work.to);
  g_free(work.variance);
  g_free(work.use);
}

/* Steady points, each the mean of its samples: dwells of a step test, or the rows of a table. */
struct steady_point {
  gsize first, last;
  double speed, torque;
};

static int by_speed(const void *a, const void *b) {
  const struct steady_point *x = a, *y = b;
  return (x->speed > y->speed) - (x->speed < y->speed);
}

/* The rows of a table; of a map, the row of most torque at each speed. */
static GArray *points_of_table(const struct ew_series *series, struct ew_curve *curve) {
  GArray *points = g_array_new(FALSE, FALSE, sizeof(struct steady_point));
  const double *speed = ew_series_values(series, EW_CHANNEL_SPEED);
  const double *torque = ew_series_values(series, EW_CHANNEL_TORQUE);
  for (gsize i = 0; i < series->rows; i++)
    if (!isnan(speed[i]) && !isnan(torque[i])) {
      struct steady_point point = {i, i + 1, speed[i], torque[i]};
      g_array_append_val(points, point);
    }
  g_array_sort(points, by_speed);
  guint kept = 0;
  for (guint i = 0; i < points->len; i++) {
    struct steady_point *here = &g_array_index(points, struct steady_point, i);
    struct steady_point *last = kept ? &g_array_index(points, struct steady_point, kept - 1) : NULL;
    if (last && here->speed == last->speed) {
      if (here->torque > last->torque)
        *last = *here;
    } else
      g_array_index(points, struct steady_point, kept++) = *here;
  }
  if (kept < points->len)
    warn(curve, "an engine map of %u points: the curve is its highest torque at each speed",
         points->len);
  g_array_set_size(points, kept);
  return points;
}

static GArray *points_of_dwells(const struct ew_series *series, const struct ew_segment *segment) {
  GArray *points = g_array_new(FALSE, FALSE, sizeof(struct steady_point));
  const double *speed = ew_series_values(series, EW_CHANNEL_SPEED);
  const double *torque = ew_series_values(series, EW_CHANNEL_TORQUE);
  for (guint d = 0; d < segment->dwells->len; d++) {
    struct ew_dwell dwell = g_array_index(segment->dwells, struct ew_dwell, d);
    struct steady_point point = {dwell.first, dwell.last, mean_of(speed, dwell.first, dwell.last),
                                 mean_of(torque, dwell.first, dwell.last)};
    if (!isnan(point.speed) && !isnan(point.torque))
      g_array_append_val(points, point);
  }
  g_array_sort(points, by_speed);
  return points;
}

/* Standard error of the mean of one dwell's torque, its samples first-order autoregressive. */
static double dwell_se(const double *torque, const struct steady_point *point) {
  gsize n = point->last - point->first;
  if (n < 8)
    return NAN;
  g_autofree double *residual = g_new(double, n);
  for (gsize i = 0; i < n; i++)
    residual[i] = torque[point->first + i] - point->torque;
  double rho = ew_residual_correlation(residual, n);
  return ew_standard_deviation(residual, n) * sqrt((1 + rho) / ((double)n * (1 - rho)));
}

static void reduce_steady(struct ew_curve *curve, const struct ew_series *series,
                          const struct ew_segment *segment) {
  GArray *points = segment->kind == EW_SEGMENT_STEPS ? points_of_dwells(series, segment)
                                                     : points_of_table(series, curve);
  const double *torque = ew_series_values(series, EW_CHANNEL_TORQUE);
  curve->points = points->len;
  curve->speed_rpm = g_new0(double, MAX(points->len, 1));
  allocate_points(curve);
  double noise = 0;
  guint known = 0;
  for (guint j = 0; j < points->len; j++) {
    const struct steady_point *point = &g_array_index(points, struct steady_point, j);
    curve->speed_rpm[j] = point->speed;
    curve->observed_n_m[j] = point->torque;
    curve->torque_n_m[j] = curve->factor.factor * point->torque;
    curve->power_w[j] = curve->torque_n_m[j] * point->speed * G_PI / 30;
    curve->torque_se_n_m[j] = curve->factor.factor * dwell_se(torque, point);
    curve->samples[j] = (double)(point->last - point->first);
    if (!isnan(curve->torque_se_n_m[j]) && curve->torque_n_m[j] > 0)
      noise += pow(curve->torque_se_n_m[j] / curve->torque_n_m[j], 2), known++;
  }
  for (guint c = 0; c < series->channels_count; c++) {
    const struct ew_series_channel *channel = &series->channels[c];
    if (channel->channel >= EW_CHANNELS_COUNT || !channel->values ||
        !ew_channel_facts[channel->channel].in_curve)
      continue;
    struct ew_curve_column *column =
        add_column(curve, channel->channel, channel->index, ew_channel_facts[channel->channel].key,
                   ew_channel_facts[channel->channel].kind);
    for (guint j = 0; j < points->len; j++) {
      const struct steady_point *point = &g_array_index(points, struct steady_point, j);
      column->values[j] = mean_of(channel->values, point->first, point->last);
    }
  }
  if (curve->points >= 2) {
    curve->band_low_rpm = fmax(curve->method.band_low * curve->high_rpm, curve->speed_rpm[0]);
    curve->band_high_rpm =
        fmin(curve->method.band_high * curve->high_rpm, curve->speed_rpm[curve->points - 1]);
    curve->band_mean_n_m = exp(ew_curve_band_log(curve, curve->band_low_rpm, curve->band_high_rpm));
    curve->band_mean_se = known ? sqrt(noise) / known : (double)NAN;
  }
  curve->raw_points = 0;
  curve->raw_speed_rpm = g_new0(double, 1);
  curve->raw_torque_n_m = g_new0(double, 1);
  g_array_unref(points);
}

struct ew_curve *ew_reduce(const struct ew_series *series, const struct ew_segment *segment,
                           const struct ew_reduce_facts *facts, GError **error) {
  struct ew_curve *curve = begin_curve(series, segment, facts);
  if (segment->kind == EW_SEGMENT_SWEEP)
    reduce_sweep(curve, series, segment, facts);
  else
    reduce_steady(curve, series, segment);
  if (curve->points < 3) {
    ew_refuse(
        error,
        "%s: fewer than three points of a curve between %.0f and %.0f rpm: the pull is too short "
        "or has too few samples",
        series->name, segment->low_rpm, segment->high_rpm);
    ew_curve_free(curve);
    return NULL;
  }
  derive(curve, facts->engine);
  warn_about(curve, series, segment, facts);
  return curve;
}
