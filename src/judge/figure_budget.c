/* Steps, with the symbols of docs/methods.md, "Uncertainty":
 * 1. a measured column: u of its line at what it read, and the standard error of the local regression;
 * 2. BSFC = q / (T w): relative parts of fuel flow and of observed torque, which has no part of the factor's air;
 * 3. VE = m / (rho(p, T, phi) V n): relative parts of air flow; those of the air by differences, as the vapour depends on temperature;
 * 4. BMEP: torque's, in proportion.
 * The displacement and the speed are taken as known: their doubt is below a tenth of the others' (common practice, no source). */
#include "judge/figure_budget.h"
#include "base/language.h"
#include "gas/moist_air.h"
#include "judge/budget_parts.h"
#include "pull/weather.h"
#include <math.h>
#include <string.h>

/* Of the scatter of samples, as in the budget of torque. */
#define SCATTER_FREEDOM 30

struct figuring {
  const struct ew_bench *bench;
  const struct ew_calibrated *calibration;
  const struct ew_curve *curve;
  gsize point;
  double hours;
  struct ew_figure_budget *b;
};

static void add(struct figuring *f, const char *from, enum ew_channel channel, double standard,
                double freedom) {
  if (standard > 0 && f->b->count < EW_FIGURE_ROWS)
    f->b->rows[f->b->count++] = (struct ew_figure_row){from, channel, standard, freedom};
}

static void not_known(struct figuring *f, enum ew_channel channel) {
  f->b->unknown |= (guint64)1 << channel;
}

/* 1; `slope`: of the figure with the channel. */
static void add_channel(struct figuring *f, const struct ew_curve_column *column, double slope) {
  enum ew_channel channel = column->channel;
  double value = column->values[f->point];
  const struct ew_calibrated_line *line = ew_calibrated_find(f->calibration, channel);
  double u = column->index ? (double)NAN : ew_channel_u(f->calibration, channel, value);
  if (!isnan(u))
    add(f, EW_TEXT("calibration, gain and offset"), channel, fabs(slope) * u,
        fmax(line->points - 2, 1));
  else if (channel == EW_CHANNEL_INLET_AIR_TEMPERATURE &&
           !isnan(f->bench->temperature_uncertainty_k))
    add(f, EW_TEXT("sensor, from the cell's record"), channel,
        fabs(slope) * f->bench->temperature_uncertainty_k, INFINITY);
  else
    not_known(f, channel);
  add(f, EW_TEXT("scatter of the samples"), channel, fabs(slope) * column->se[f->point],
      SCATTER_FREEDOM);
}

/* Relative standard uncertainty of observed torque, or of corrected torque, at this point. */
static double torque_share(const struct figuring *f, gboolean corrected, double *freedom) {
  const struct ew_curve *c = f->curve;
  double torque = c->torque_n_m[f->point], standard[EW_BUDGET_ROWS], nu[EW_BUDGET_ROWS], u;
  struct ew_budget b = ew_budget(f->bench, f->calibration, c, torque, c->inertia_n_m[f->point],
                                 c->torque_se_n_m[f->point], (struct ew_spread){0}, f->hours);
  gsize n = 0;
  for (gsize i = 0; i < b.count; i++)
    if (corrected || !b.rows[i].of_air) {
      standard[n] = b.rows[i].standard_n_m;
      nu[n++] = b.rows[i].freedom;
    }
  ew_combine(standard, nu, n, &u, freedom);
  return fabs(u / torque);
}

/* 2 and 4 */
static void add_torque(struct figuring *f, double figure, gboolean corrected) {
  double freedom, share = torque_share(f, corrected, &freedom);
  add(f, corrected ? EW_TEXT("corrected torque") : EW_TEXT("observed torque"), EW_CHANNEL_TORQUE,
      share * fabs(figure), freedom);
}

/* Density of the dry part of the air, by pressure, temperature and relative humidity (NaN: taken as dry). */
static double dry_kg_m3(double pressure_pa, double temperature_k, double humidity) {
  double vapour = isnan(humidity) ? 0 : humidity * ew_saturation_pressure_pa(temperature_k);
  return (pressure_pa - vapour) / (EW_GAS_CONSTANT_DRY_AIR * temperature_k);
}

/* 3 */
static void add_air(struct figuring *f, double figure) {
  const struct ew_conditions *k = &f->curve->conditions;
  struct ew_weather_u u = ew_weather_sensors_u(f->bench, f->calibration, f->curve);
  double p = k->pressure_pa, t = k->temperature_k;
  double humidity = k->vapour_pa / ew_saturation_pressure_pa(t), here = dry_kg_m3(p, t, humidity);
  double age = k->weather_age_s > 0 ? k->weather_age_s : 0;
  double by[] = {
      dry_kg_m3(p + hypot(u.pressure_pa,
                          ew_weather_moved(k->pressure_from, EW_WEATHER_PRESSURE_PA_S, age)),
                t, humidity),
      dry_kg_m3(p,
                t + hypot(u.temperature_k,
                          ew_weather_moved(k->temperature_from, EW_WEATHER_TEMPERATURE_K_S, age)),
                humidity),
      dry_kg_m3(p, t,
                humidity + hypot(u.humidity,
                                 ew_weather_moved(k->humidity_from, EW_WEATHER_HUMIDITY_S, age)))};
  static const enum ew_channel of[] = {EW_CHANNEL_BAROMETER, EW_CHANNEL_INLET_AIR_TEMPERATURE,
                                       EW_CHANNEL_HUMIDITY};
  for (gsize i = 0; i < G_N_ELEMENTS(by); i++)
    add(f, EW_TEXT("air, through its density"), of[i], fabs((by[i] - here) / here * figure),
        INFINITY);
}

static void add_computed(struct figuring *f, const struct ew_curve_column *column) {
  double figure = column->values[f->point];
  gboolean fuel = strcmp(column->key, "bsfc") == 0;
  const struct ew_curve_column *flow =
      ew_curve_column(f->curve, fuel ? "fuel_flow" : "air_flow", 0);
  if (strcmp(column->key, "bmep") == 0) {
    add_torque(f, figure, TRUE);
    return;
  }
  if (!flow) {
    not_known(f, fuel ? EW_CHANNEL_FUEL_FLOW : EW_CHANNEL_AIR_FLOW);
    return;
  }
  add_channel(f, flow, figure / flow->values[f->point]);
  if (fuel)
    add_torque(f, figure, FALSE);
  else
    add_air(f, figure);
}

static void add_up(struct ew_figure_budget *b) {
  double standard[EW_FIGURE_ROWS], freedom[EW_FIGURE_ROWS];
  for (gsize i = 0; i < b->count; i++) {
    standard[i] = b->rows[i].standard;
    freedom[i] = b->rows[i].freedom;
  }
  if (b->unknown || b->count == 0)
    return;
  ew_combine(standard, freedom, b->count, &b->standard, &b->freedom);
  b->expanded = ew_coverage_factor(0.95, b->freedom) * b->standard;
}

struct ew_figure_budget ew_figure_budget(const struct ew_bench *bench,
                                         const struct ew_calibrated *calibration,
                                         const struct ew_curve *curve,
                                         const struct ew_curve_column *column, gsize point,
                                         double hours) {
  struct ew_figure_budget b = {.standard = NAN, .expanded = NAN, .freedom = NAN};
  struct figuring f = {bench, calibration, curve, point, hours, &b};
  g_assert(point < curve->points);
  if (isnan(column->values[point]))
    return b;
  if (column->channel == EW_CHANNELS_COUNT)
    add_computed(&f, column);
  else
    add_channel(&f, column, 1);
  add_up(&b);
  return b;
}
