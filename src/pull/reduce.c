/* Steps: 1. conditions: weather over the part that counts, fluids at start and end;
 * 2. torque that spins rotor and coupling is added back (in a sweep);
 * 3. the factor to standard air;
 * 4. local regression on the grid of speeds, with standard errors;
 * 5. the other channels by the same weights; BMEP, BSFC and VE from them;
 * 6. the headline: mean of the log of torque over the band of use;
 * 7. warnings.
 * Of these 2 and 4 to 6 are reduce_sweep.c and reduce_steady.c; the rest, the same for both, is here. */
#include "base/elementary.h"
#include "gas/moist_air.h"
#include "pull/findings.h"
#include "pull/reduce_parts.h"
#include <math.h>
#include <string.h>

EW_MESSAGE_PUBLIC(ew_pull_weather_unknown, "pull.weather-unknown", EW_CAUTION,
                  "the weather is not known: nothing was corrected");
EW_MESSAGE(air_impossible, "pull.air-impossible", EW_CAUTION,
           "the barometer's reading is not an air pressure: nothing was corrected");
EW_MESSAGE_PUBLIC(ew_pull_factor, "pull.factor", EW_CAUTION,
                  "correction factor {factor}: {reason}");
EW_MESSAGE(inlet_air_moves, "pull.inlet-air-moves", EW_CAUTION,
           "inlet air changes by {change} during the pull");
EW_MESSAGE(oil_start, "pull.oil-start", EW_CAUTION,
           "oil is at {start} at the start, outside {low} to {high}");
EW_MESSAGE(coolant_start, "pull.coolant-start", EW_CAUTION,
           "coolant starts at {start}, outside {low} to {high}");
EW_MESSAGE_PUBLIC(ew_pull_no_rotor_inertia, "pull.no-rotor-inertia", EW_CAUTION,
                  "the absorber's inertia is not given: the torque that accelerates its rotor is "
                  "not added back");
EW_MESSAGE_PUBLIC_MANY(ew_pull_stuck_samples, "pull.stuck-samples", EW_CAUTION,
                       "{samples} sample of speed or torque is stuck or at the end of its range",
                       "{samples} samples of speed or torque are stuck or at the end of their "
                       "range");
EW_MESSAGE(samples_lost, "pull.samples-lost", EW_CAUTION, "more than one sample in twenty is lost");
EW_MESSAGE(absorber_limit, "pull.absorber-limit", EW_CAUTION,
           "torque exceeds the absorber's limit at {speed}");
EW_MESSAGE_PUBLIC(ew_pull_altered, "pull.altered", EW_CAUTION,
                  "not as kept in the book: {changes}");
EW_MESSAGE(too_few_points, "pull.too-few-points", EW_NOTE,
           "fewer than three points of a curve between {low} and {high}: the pull is too short or "
           "has too few samples");

double ew_reduce_mean(const double *x, gsize first, gsize last) {
  double sum = 0;
  gsize count = 0;
  for (gsize i = first; x && i < last; i++)
    if (!isnan(x[i]))
      sum += x[i], count++;
  return count ? sum / (double)count : (double)NAN;
}

gboolean ew_reduce_uses(const struct ew_series_channel *channel, gsize i, gsize end) {
  const guint8 filled = EW_FLAG_SPIKE | EW_FLAG_DROPOUT | EW_FLAG_BETWEEN;
  return !isnan(channel->values[i]) && i + channel->lag_rows < end &&
         !(channel->flags && (channel->flags[i] & filled));
}

gboolean ew_reduce_in_curve(const struct ew_series_channel *channel) {
  return channel->channel < EW_CHANNELS_COUNT && channel->values &&
         ew_channel_facts[channel->channel].in_curve;
}

void ew_reduce_allocate(struct ew_curve *curve) {
  double **arrays[] = {&curve->torque_n_m,   &curve->torque_se_n_m, &curve->power_w,
                       &curve->observed_n_m, &curve->inertia_n_m,   &curve->engine_inertia_n_m,
                       &curve->samples};
  for (gsize i = 0; i < G_N_ELEMENTS(arrays); i++)
    g_assert(!*arrays[i]); /* made once */
  for (gsize i = 0; i < G_N_ELEMENTS(arrays); i++)
    *arrays[i] = g_new0(double, MAX(curve->points, 1));
}

struct ew_curve_column *ew_reduce_column(struct ew_curve *curve, enum ew_channel channel, int index,
                                         const char *key, enum ew_kind kind) {
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

void ew_reduce_band(struct ew_curve *curve) {
  curve->band_low_rpm = fmax(curve->method.band_low * curve->high_rpm, curve->speed_rpm[0]);
  curve->band_high_rpm =
      fmin(curve->method.band_high * curve->high_rpm, curve->speed_rpm[curve->points - 1]);
  curve->band_mean_n_m =
      ew_exp(ew_curve_band_log(curve, curve->band_low_rpm, curve->band_high_rpm));
}

/* 1 */
static double start_of(const struct ew_series *series, enum ew_channel channel,
                       const struct ew_segment *s) {
  gsize few = MAX((s->last - s->first) / 20, 3);
  return ew_reduce_mean(ew_series_values(series, channel), s->first, MIN(s->first + few, s->last));
}

static double end_of(const struct ew_series *series, enum ew_channel channel,
                     const struct ew_segment *s) {
  gsize few = MAX((s->last - s->first) / 20, 3);
  const double *x = ew_series_values(series, channel);
  double mean = ew_reduce_mean(x, s->last - MIN(few, s->last - s->first), s->last);
  return isnan(mean) ? ew_reduce_mean(x, s->first + (s->last - s->first) / 2, s->last) : mean;
}

static double either(double channel, double setup, const char **from) {
  *from = !isnan(channel) ? EW_TEXT("channel")
          : !isnan(setup) ? EW_TEXT("set-up")
                          : EW_TEXT("not known");
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
  c.pressure_pa = either(ew_reduce_mean(ew_series_values(series, EW_CHANNEL_BAROMETER), a, b),
                         setup->pressure_pa, &c.pressure_from);
  c.temperature_k =
      either(ew_reduce_mean(ew_series_values(series, EW_CHANNEL_INLET_AIR_TEMPERATURE), a, b),
             setup->temperature_k, &c.temperature_from);
  double humidity = ew_reduce_mean(ew_series_values(series, EW_CHANNEL_HUMIDITY), a, b);
  double dew = ew_reduce_mean(ew_series_values(series, EW_CHANNEL_DEW_POINT), a, b);
  double vapour = ew_reduce_mean(ew_series_values(series, EW_CHANNEL_VAPOUR_PRESSURE), a, b);
  double wet = ew_reduce_mean(ew_series_values(series, EW_CHANNEL_WET_BULB), a, b);
  double by_channel = !isnan(vapour) ? vapour
                      : !isnan(dew)  ? ew_vapour_from_dew_point_pa(dew)
                      : !isnan(humidity)
                          ? ew_vapour_from_relative_humidity_pa(humidity, c.temperature_k)
                          : ew_vapour_from_wet_bulb_pa(c.pressure_pa, c.temperature_k, wet);
  c.vapour_pa = either(by_channel, ew_setup_vapour_pa(setup, c.pressure_pa, c.temperature_k),
                       &c.humidity_from);
  gboolean told = strcmp(c.pressure_from, "set-up") == 0 ||
                  strcmp(c.temperature_from, "set-up") == 0 ||
                  strcmp(c.humidity_from, "set-up") == 0;
  c.weather_age_s = told ? setup->weather_age_s : (double)NAN;
  return c;
}

/* 3 */
/* r of ISO 1585: pressure after the compressor over pressure before it; 1 without one, NaN when a
 * charged engine's manifold pressure was not recorded. */
static double pressure_ratio(const struct ew_curve *curve, const struct ew_series *series,
                             const struct ew_segment *s) {
  if (curve->method.charging == EW_NATURAL || curve->method.charging == EW_COMPENSATED)
    return 1;
  return ew_reduce_mean(ew_series_values(series, EW_CHANNEL_MANIFOLD_PRESSURE), s->count_first,
                        s->count_last) /
         curve->conditions.pressure_pa;
}

/* qc of ISO 1585, mg of fuel a litre of displacement and cycle, over the pressure ratio. */
static double fuel_parameter(const struct ew_curve *curve, const struct ew_series *series,
                             const struct ew_segment *s, const struct ew_engine *engine) {
  if (!engine || isnan(ew_engine_displacement_m3(engine)))
    return NAN;
  double flow =
      ew_reduce_mean(ew_series_values(series, EW_CHANNEL_FUEL_FLOW), s->count_first, s->count_last);
  double speed =
      ew_reduce_mean(ew_series_values(series, EW_CHANNEL_SPEED), s->count_first, s->count_last);
  double z = ew_engine_cycles_per_turn(engine) < 1 ? 120000 : 60000;
  return z * flow * 1000 / (ew_engine_displacement_m3(engine) * 1000 * speed) /
         pressure_ratio(curve, series, s);
}

static void settle_factor(struct ew_curve *curve, const struct ew_series *series,
                          const struct ew_segment *s, const struct ew_reduce_facts *facts) {
  const struct ew_conditions *c = &curve->conditions;
  enum ew_standard standard = (enum ew_standard)curve->method.standard;
  if (standard != EW_STANDARD_NONE && (isnan(c->pressure_pa) || isnan(c->temperature_k))) {
    curve->factor = (struct ew_factor){1, NAN, FALSE, &ew_pull_weather_unknown};
    return;
  }
  struct ew_air air = {c->pressure_pa, c->temperature_k, c->vapour_pa,
                       fuel_parameter(curve, series, s, facts->engine)};
  curve->factor = ew_correction_factor(standard, (enum ew_charging)curve->method.charging, air);
  if (!(curve->factor.factor > 0) || !isfinite(curve->factor.factor)) /* a gauge reading */
    curve->factor = (struct ew_factor){1, NAN, FALSE, &air_impossible};
}

/* 5 */
static void derive(struct ew_curve *curve, const struct ew_engine *engine) {
  double displacement = engine ? ew_engine_displacement_m3(engine) : (double)NAN;
  double cycles = engine ? ew_engine_cycles_per_turn(engine) : 0.5;
  if (!isnan(displacement)) {
    struct ew_curve_column *bmep =
        ew_reduce_column(curve, EW_CHANNELS_COUNT, 0, "bmep", EW_KIND_MEAN_EFFECTIVE_PRESSURE);
    for (gsize j = 0; j < curve->points; j++) {
      bmep->values[j] = 2 * G_PI * curve->torque_n_m[j] / (cycles * displacement);
      bmep->se[j] = 2 * G_PI * curve->torque_se_n_m[j] / (cycles * displacement);
    }
  }
  const struct ew_curve_column *found = ew_curve_column(curve, "fuel_flow", 0);
  if (found) { /* observed fuel over observed power */
    const double *fuel = found->values;
    struct ew_curve_column *bsfc =
        ew_reduce_column(curve, EW_CHANNELS_COUNT, 0, "bsfc", EW_KIND_SPECIFIC_FUEL);
    for (gsize j = 0; j < curve->points; j++)
      bsfc->values[j] = fuel[j] / (curve->observed_n_m[j] * curve->speed_rpm[j] * G_PI / 30);
  }
  found = ew_curve_column(curve, "air_flow", 0);
  const struct ew_conditions *c = &curve->conditions;
  if (found && !isnan(displacement) && !isnan(c->pressure_pa) && !isnan(c->temperature_k)) {
    const double *air = found->values;
    double dry = (c->pressure_pa - (isnan(c->vapour_pa) ? 0 : c->vapour_pa)) /
                 (EW_GAS_CONSTANT_DRY_AIR * c->temperature_k);
    struct ew_curve_column *ve = ew_reduce_column(curve, EW_CHANNELS_COUNT, 0, "ve", EW_KIND_RATIO);
    for (gsize j = 0; j < curve->points; j++)
      ve->values[j] = air[j] / (dry * displacement * cycles * curve->speed_rpm[j] / 60);
  }
}

static void count_knock(struct ew_curve *curve, const struct ew_series *series,
                        const struct ew_segment *segment) {
  const double *knock = ew_series_values(series, EW_CHANNEL_KNOCK);
  const double *speed = ew_series_values(series, EW_CHANNEL_SPEED);
  curve->knock_count = knock ? 0 : (double)NAN;
  curve->knock_near_rpm = NAN;
  double near = NAN; /* the last speed that was known */
  for (gsize i = segment->first; knock && i < segment->last; i++) {
    near = isnan(speed[i]) ? near : speed[i];
    if (knock[i] > 0) {
      curve->knock_count += knock[i];
      if (isnan(curve->knock_near_rpm))
        curve->knock_near_rpm = near;
    }
  }
}

/* 7 */
/* A start more than 1 K outside the window; one that is not known is not outside. */
static void warn_start(GPtrArray *to, const struct ew_message_kind *kind, double start_k,
                       double low_k, double high_k) {
  if (start_k < low_k - 1 || start_k > high_k + 1)
    ew_messages_add(to, ew_message(kind, ew_say_quantity("start", EW_KIND_TEMPERATURE, start_k, 0),
                                   ew_say_quantity("low", EW_KIND_TEMPERATURE, low_k, 0),
                                   ew_say_quantity("high", EW_KIND_TEMPERATURE, high_k, 0)));
}

static void warn_about(struct ew_curve *curve, const struct ew_segment *segment,
                       const struct ew_reduce_facts *facts) {
  const struct ew_conditions *c = &curve->conditions;
  GPtrArray *to = curve->warnings;
  ew_messages_copy(segment->notes, to);
  if (curve->out_of_range)
    ew_messages_add(to,
                    ew_message(&ew_pull_factor, ew_say_figure("factor", curve->factor.factor, 4),
                               ew_say_message("reason", curve->out_of_range)));
  double moved = c->inlet_end_k - c->inlet_start_k;
  if (fabs(moved) > 2)
    ew_messages_add(to,
                    ew_message(&inlet_air_moves,
                               ew_say_change("change", EW_KIND_TEMPERATURE_DIFFERENCE, moved, 1)));
  warn_start(to, &oil_start, c->oil_start_k, 353.15, 373.15);
  warn_start(to, &coolant_start, c->coolant_start_k, 345.15, 358.15);
  if (segment->kind == EW_SEGMENT_SWEEP && isnan(facts->bench->rotor_inertia_kg_m2))
    ew_messages_add(to, ew_message_plain(&ew_pull_no_rotor_inertia));
  gsize stuck = curve->cleaned.flat + curve->cleaned.saturated;
  if (stuck > 0)
    ew_messages_add(to, ew_message(&ew_pull_stuck_samples, ew_say_count("samples", (gint64)stuck)));
  if (curve->cleaned.lost * 20 > segment->count_last - segment->count_first)
    ew_messages_add(to, ew_message_plain(&samples_lost));
  for (gsize j = 0; j < curve->points; j++)
    if (curve->observed_n_m[j] > facts->bench->largest_torque_n_m) { /* not known: FALSE */
      ew_messages_add(to,
                      ew_message(&absorber_limit, ew_say_quantity("speed", EW_KIND_ROTATIONAL_SPEED,
                                                                  curve->speed_rpm[j], 0)));
      break;
    }
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
  g_assert(segment->first < segment->last && segment->last <= series->rows);
  g_assert(segment->count_first >= segment->first && segment->count_last <= segment->last);
  struct ew_curve *curve = g_new0(struct ew_curve, 1);
  curve->kind = segment->kind;
  curve->columns = g_array_new(FALSE, FALSE, sizeof(struct ew_curve_column));
  curve->warnings = ew_messages_new();
  curve->method = *facts->method;
  curve->low_rpm = segment->low_rpm;
  curve->high_rpm = segment->high_rpm;
  curve->start_s = series->time_s[segment->first];
  curve->end_s = series->time_s[segment->last - 1];
  curve->tail_scatter = curve->noise_sd = curve->band_mean_se = NAN;
  curve->conditions = conditions_of(series, segment, facts->setup);
  settle_factor(curve, series, segment, facts);
  curve->out_of_range = curve->factor.why_not ? ew_message_plain(curve->factor.why_not) : NULL;
  count_cleaning(curve, series, segment);
  count_knock(curve, series, segment);
  return curve;
}

/* What everybody who is handed a curve relies on: ew_curve_at, peaks, bands, comparisons. */
static void check_curve(const struct ew_curve *c) {
  g_assert(c->points >= 3 && !(c->start_s > c->end_s) && !(c->low_rpm > c->high_rpm));
  for (gsize j = 1; j < c->points; j++)
    g_assert(!(c->speed_rpm[j] < c->speed_rpm[j - 1]));
  for (guint i = 0; i < c->columns->len; i++) {
    const struct ew_curve_column *column = &g_array_index(c->columns, struct ew_curve_column, i);
    g_assert(column->key && column->values && column->se);
  }
}

struct ew_curve *ew_reduce(const struct ew_series *series, const struct ew_segment *segment,
                           const struct ew_reduce_facts *facts, ew_message **why_not) {
  struct ew_curve *curve = begin_curve(series, segment, facts);
  if (segment->kind == EW_SEGMENT_SWEEP)
    ew_reduce_sweep(curve, series, segment, facts);
  else
    ew_reduce_steady(curve, series, segment);
  if (curve->points < 3) {
    *why_not = ew_message(&too_few_points,
                          ew_say_quantity("low", EW_KIND_ROTATIONAL_SPEED, segment->low_rpm, 0),
                          ew_say_quantity("high", EW_KIND_ROTATIONAL_SPEED, segment->high_rpm, 0));
    ew_curve_free(curve);
    return NULL;
  }
  derive(curve, facts->engine);
  warn_about(curve, segment, facts);
  check_curve(curve);
  return curve;
}
