/* The mean of the pulls at the speeds that all of them have, and the columns of the table with their digits, for
 * paper and HTML alike. A channel that no pull has makes no column. */
#include "sheet/report_mean.h"
#include "base/language.h"
#include "base/words.h"
#include "base/number.h"
#include "base/error.h"
#include <math.h>
#include <string.h>

struct ew_report_mean ew_report_mean_of(const struct ew_report *r) {
  struct ew_report_mean m = {0};
  const struct ew_curve *first = g_ptr_array_index(r->curves, 0);
  gsize n = first->points;
  double **arrays[] = {&m.speed, &m.torque, &m.power, &m.low, &m.high};
  for (gsize i = 0; i < G_N_ELEMENTS(arrays); i++)
    *arrays[i] = g_new(double, n);
  for (gsize j = 0; j < n; j++) {
    double sum = 0, speed = first->speed_rpm[j];
    for (guint i = 0; i < r->curves->len; i++) {
      const struct ew_curve *c = g_ptr_array_index(r->curves, i);
      sum += ew_curve_at(c, c->torque_n_m, speed);
    }
    if (isnan(sum))
      continue;
    gsize k = m.points++;
    double torque = sum / r->curves->len;
    m.speed[k] = speed;
    m.torque[k] = ew_shown(EW_KIND_TORQUE, r->units, torque);
    m.power[k] = ew_shown(EW_KIND_POWER, r->units, torque * speed * G_PI / 30);
    m.low[k] = m.torque[k] * (1 - r->expanded_relative);
    m.high[k] = m.torque[k] * (1 + r->expanded_relative);
  }
  return m;
}

void ew_report_mean_clear(struct ew_report_mean *m) {
  g_free(m->speed);
  g_free(m->torque);
  g_free(m->power);
  g_free(m->low);
  g_free(m->high);
}

gboolean ew_report_pair_is_of(const struct ew_report_pair *pair, enum ew_report_reader reader) {
  return reader == EW_REPORT_CUSTOMER
             ? !pair->shop
             : pair->shop || g_utf8_strlen(pair->value, -1) > EW_REPORT_VALUE_CHARS;
}

static const struct ew_report_column columns[] = {
    {EW_TEXT("speed"), "speed", NULL, EW_KIND_ROTATIONAL_SPEED, 0, TRUE, TRUE, 0},
    {EW_TEXT("torque"), "torque", NULL, EW_KIND_TORQUE, 0, TRUE, TRUE, 0},
    {EW_TEXT("power"), "power", NULL, EW_KIND_POWER, 1, TRUE, TRUE, 0},
    {EW_TEXT("BMEP"), "bmep", "bmep", EW_KIND_MEAN_EFFECTIVE_PRESSURE, 2, TRUE, FALSE, 0},
    {EW_TEXT("BSFC"), "bsfc", "bsfc", EW_KIND_SPECIFIC_FUEL, 0, TRUE, TRUE, 0},
    {EW_TEXT("VE"), "ve", "ve", EW_KIND_RATIO, 0, TRUE, FALSE, 0},
    {EW_TEXT("lambda"), "lambda", "lambda", EW_KIND_LAMBDA, 2, TRUE, TRUE, 0},
    {EW_TEXT("AFR"), "afr", "lambda", EW_KIND_AIR_FUEL_RATIO, 1, FALSE, FALSE, 0},
    {EW_TEXT("fuel flow"), "fuel_flow", "fuel_flow", EW_KIND_MASS_FLOW, 1, FALSE, FALSE, 0},
    {EW_TEXT("exhaust"), "exhaust_temperature", "exhaust_temperature", EW_KIND_TEMPERATURE, 0,
     FALSE, FALSE, 0},
    {EW_TEXT("oil"), "oil_pressure", "oil_pressure", EW_KIND_PRESSURE_GAUGE, 1, TRUE, TRUE, 0},
    {EW_TEXT("oil"), "oil_temperature", "oil_temperature", EW_KIND_TEMPERATURE, 0, TRUE, FALSE, 0},
    {EW_TEXT("coolant"), "coolant_temperature", "coolant_temperature", EW_KIND_TEMPERATURE, 0, TRUE,
     FALSE, 0},
};
#define ALWAYS         3  /* speed, torque, power */
#define CYLINDERS_MOST 12 /* columns that fit beside the others */

static double mean_column(const struct ew_report *r, const char *key, int index, double speed) {
  double sum = 0;
  guint count = 0;
  for (guint i = 0; i < r->curves->len; i++) {
    const struct ew_curve *c = g_ptr_array_index(r->curves, i);
    const struct ew_curve_column *column = ew_curve_column(c, key, index);
    double value = column ? ew_curve_at(c, column->values, speed) : (double)NAN;
    if (!isnan(value))
      sum += value, count++;
  }
  return count ? sum / count : (double)NAN;
}

/* Does any pull have it? */
static gboolean has(const struct ew_report *r, const struct ew_report_column *column, int index) {
  if (!column->key)
    return TRUE;
  if (column->kind == EW_KIND_AIR_FUEL_RATIO && isnan(r->stoichiometric_ratio))
    return FALSE;
  for (guint i = 0; i < r->curves->len; i++)
    if (ew_curve_column(g_ptr_array_index(r->curves, i), column->key, index))
      return TRUE;
  return FALSE;
}

/* Of cylinders each its own: exhaust 1, exhaust 2, ... */
static void add_column(GArray *to, const struct ew_report *r, const struct ew_report_column *c) {
  struct ew_report_column one = *c;
  if (c->kind == EW_KIND_TEMPERATURE && strcmp(c->name, "exhaust_temperature") == 0 &&
      has(r, c, 2)) {
    for (one.index = 1; one.index <= CYLINDERS_MOST; one.index++)
      if (has(r, c, one.index))
        g_array_append_val(to, one);
  } else if (has(r, c, 0))
    g_array_append_val(to, one);
}

GArray *ew_report_columns_for(const struct ew_report *r, enum ew_report_reader reader) {
  GArray *to = g_array_new(FALSE, FALSE, sizeof(struct ew_report_column));
  g_auto(GStrv) asked = r->columns ? g_strsplit(r->columns, ",", -1) : NULL;
  for (gsize i = 0; i < G_N_ELEMENTS(columns); i++) {
    const struct ew_report_column *c = &columns[i];
    gboolean shown = asked ? g_strv_contains((const char *const *)asked, c->name)
                           : c->usual && (c->customer || reader == EW_REPORT_SHOP);
    if (i < ALWAYS || shown)
      add_column(to, r, c);
  }
  return to;
}

static const struct ew_report_column *column_named(const char *name) {
  for (gsize i = 0; i < G_N_ELEMENTS(columns); i++)
    if (strcmp(columns[i].name, name) == 0)
      return &columns[i];
  return NULL;
}

gboolean ew_report_columns_check(const struct ew_report *r, GError **error) {
  g_auto(GStrv) asked = r->columns ? g_strsplit(r->columns, ",", -1) : NULL;
  for (guint k = 0; asked && asked[k]; k++) {
    const struct ew_report_column *c = column_named(asked[k]);
    if (!c)
      return ew_refuse(error,
                       "columns: '%.40s' is not one of bmep, bsfc, ve, lambda, afr, fuel_flow, "
                       "exhaust_temperature, oil_pressure, oil_temperature, coolant_temperature",
                       asked[k]);
    if (!has(r, c, 0))
      return c->kind == EW_KIND_AIR_FUEL_RATIO && has(r, column_named("lambda"), 0)
                 ? ew_refuse(error, "columns: afr: the ratio of the fuel at lambda 1 is not known; "
                                    "state the engine's fuel, or leave it out")
                 : ew_refuse(error, "columns: none of these pulls has '%s'; leave it out",
                             asked[k]);
  }
  return TRUE;
}

const char *ew_report_column_unit(const struct ew_report_column *c, enum ew_unit_system units) {
  const char *unit = c->kind == EW_KIND_AIR_FUEL_RATIO ? "" : ew_kind_shown(c->kind, units);
  return *unit ? unit : "-";
}

/* A unit that makes figures a thousand times smaller, or fourteen times larger, asks for other digits. */
static int decimals_of(const struct ew_report_column *column, enum ew_unit_system units) {
  if (units == EW_UNITS_US && column->kind == EW_KIND_SPECIFIC_FUEL)
    return 3;
  if (units == EW_UNITS_US && column->kind == EW_KIND_MEAN_EFFECTIVE_PRESSURE)
    return 0;
  return column->decimals;
}

char *ew_report_cell(const struct ew_report *r, const struct ew_report_mean *m, gsize j,
                     const struct ew_report_column *column) {
  g_assert(j < m->points);
  char buffer[EW_NUMBER_SIZE];
  double value = column->key ? mean_column(r, column->key, column->index, m->speed[j])
                 : column->kind == EW_KIND_TORQUE ? m->torque[j]
                 : column->kind == EW_KIND_POWER  ? m->power[j]
                                                  : m->speed[j];
  if (column->kind == EW_KIND_AIR_FUEL_RATIO)
    value *= r->stoichiometric_ratio;
  else if (column->key)
    value = ew_shown(column->kind, r->units, value);
  if (isnan(value))
    return g_strdup("-");
  return column->kind == EW_KIND_ROTATIONAL_SPEED
             ? ew_number_thousands(value)
             : g_strdup(ew_number_shown(value, decimals_of(column, r->units), buffer));
}

/* The points at multiples of `step`. */
static guint add_round(GArray *rows, const struct ew_report_mean *m, double step) {
  for (guint j = 0; j < m->points; j++)
    if (fabs(remainder(m->speed[j], step)) < 1)
      g_array_append_val(rows, j);
  return rows->len;
}

GArray *ew_report_rows(const struct ew_report_mean *m, guint most) {
  static const double steps[] = {100, 200, 250, 500, 1000};
  GArray *rows = g_array_new(FALSE, FALSE, sizeof(guint));
  for (gsize k = 0; k < G_N_ELEMENTS(steps); k++) {
    guint count = add_round(rows, m, steps[k]);
    if (count <= most && 2 * count >= MIN(most, m->points))
      return rows;
    g_array_set_size(rows, 0);
  }
  guint stride = (guint)MAX((m->points + most - 1) / most, 1);
  for (guint j = 0; j < m->points; j += stride)
    g_array_append_val(rows, j);
  return rows;
}

char *ew_report_caption(const struct ew_report *r) {
  return ew_words(
      ew_tr_many(
          "Line: %u pull. Dots: corrected samples before smoothing. Band: expanded "
          "uncertainty (95 %%) of torque. Detail finer than %#.0f rpm is smoothed. The torque "
          "axis does not start at zero.",
          "Lines: mean of %u pulls, each of them shown thin. Dots: corrected samples before "
          "smoothing. Band: expanded uncertainty (95 %%) of torque. Detail finer than %#.0f "
          "rpm is smoothed. The torque axis does not start at zero.",
          r->curves->len),
      r->curves->len,
      ((const struct ew_curve *)g_ptr_array_index(r->curves, 0))->method.half_width_rpm);
}
