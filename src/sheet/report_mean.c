/* The mean of the pulls at the speeds that all of them have, and the columns of the table with their digits, for
 * paper and HTML alike. A channel that no pull has makes no column. */
#include "sheet/report_mean.h"
#include "base/language.h"
#include "base/words.h"
#include "base/number.h"
#include <math.h>

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

const struct ew_report_column ew_report_columns[] = {
    {EW_TEXT("speed"), NULL, EW_KIND_ROTATIONAL_SPEED, 0},
    {EW_TEXT("torque"), NULL, EW_KIND_TORQUE, 0},
    {EW_TEXT("power"), NULL, EW_KIND_POWER, 1},
    {EW_TEXT("BMEP"), "bmep", EW_KIND_MEAN_EFFECTIVE_PRESSURE, 2},
    {EW_TEXT("BSFC"), "bsfc", EW_KIND_SPECIFIC_FUEL, 0},
    {EW_TEXT("VE"), "ve", EW_KIND_RATIO, 0},
    {EW_TEXT("lambda"), "lambda", EW_KIND_LAMBDA, 2},
    {EW_TEXT("oil"), "oil_pressure", EW_KIND_PRESSURE_GAUGE, 1},
    {EW_TEXT("oil"), "oil_temperature", EW_KIND_TEMPERATURE, 0},
    {EW_TEXT("coolant"), "coolant_temperature", EW_KIND_TEMPERATURE, 0},
};

const gsize ew_report_columns_count = G_N_ELEMENTS(ew_report_columns);

static double mean_column(const struct ew_report *r, const char *key, double speed) {
  double sum = 0;
  guint count = 0;
  for (guint i = 0; i < r->curves->len; i++) {
    const struct ew_curve *c = g_ptr_array_index(r->curves, i);
    const struct ew_curve_column *column = ew_curve_column(c, key, 0);
    double value = column ? ew_curve_at(c, column->values, speed) : (double)NAN;
    if (!isnan(value))
      sum += value, count++;
  }
  return count ? sum / count : (double)NAN;
}

gboolean ew_report_has(const struct ew_report *r, const struct ew_report_column *column) {
  if (!column->key)
    return TRUE;
  for (guint i = 0; i < r->curves->len; i++)
    if (ew_curve_column(g_ptr_array_index(r->curves, i), column->key, 0))
      return TRUE;
  return FALSE;
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
  char buffer[EW_NUMBER_SIZE];
  double value;
  if (column->key)
    value = ew_shown(column->kind, r->units, mean_column(r, column->key, m->speed[j]));
  else
    value = column->kind == EW_KIND_TORQUE  ? m->torque[j]
            : column->kind == EW_KIND_POWER ? m->power[j]
                                            : m->speed[j];
  return column->kind == EW_KIND_ROTATIONAL_SPEED
             ? ew_number_thousands(value)
             : g_strdup(ew_number_shown(value, decimals_of(column, r->units), buffer));
}

gsize ew_report_stride(const struct ew_report_mean *m) {
  return m->points > 24 ? (gsize)ceil((double)m->points / 24.0) : 1;
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
