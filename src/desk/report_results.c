/* The figures of a test report: peaks of the mean of the pulls and the mean over the band that all of them reach, each with its
 * expanded uncertainty (judge/budget). A peak at the end of what was run is said to lie there. */
#include "desk/report_parts.h"
#include "base/number.h"
#include <math.h>

/* The band of use of the pull that goes least far, as far as all of them reach. */
static void common_band(const GPtrArray *pulls, double *low_rpm, double *high_rpm) {
  *low_rpm = 0;
  *high_rpm = INFINITY;
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_curve *c = ((struct ew_loaded *)g_ptr_array_index(pulls, i))->curve;
    if (c->band_high_rpm < *high_rpm) {
      *low_rpm = c->band_low_rpm;
      *high_rpm = c->band_high_rpm;
    }
  }
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_curve *c = ((struct ew_loaded *)g_ptr_array_index(pulls, i))->curve;
    *low_rpm = fmax(*low_rpm, c->speed_rpm[0]);
  }
}

/* The peaks of the mean of the pulls. Printed, never judged. */
struct peaks {
  double torque_n_m, torque_at_rpm, power_w, power_at_rpm;
  gboolean torque_at_end, power_at_end; /* the highest may lie beyond what was run */
};

/* The highest points of the mean of the pulls, where it is supported on both sides or said to lie at the end. */
static struct peaks find_peaks(const GPtrArray *pulls) {
  const struct ew_curve *c = ((struct ew_loaded *)g_ptr_array_index(pulls, 0))->curve;
  g_autofree double *speed = g_new(double, c->points), *torque = g_new(double, c->points),
                    *power = g_new(double, c->points), *se = g_new(double, c->points);
  gsize n = 0;
  for (gsize j = 0; j < c->points; j++) {
    double sum = 0, squares = 0;
    for (guint i = 0; i < pulls->len; i++) {
      const struct ew_curve *one = ((struct ew_loaded *)g_ptr_array_index(pulls, i))->curve;
      double one_se = ew_curve_at(one, one->torque_se_n_m, c->speed_rpm[j]);
      sum += ew_curve_at(one, one->torque_n_m, c->speed_rpm[j]);
      squares += one_se * one_se;
    }
    if (isnan(sum))
      continue; /* not every pull reaches it */
    speed[n] = c->speed_rpm[j];
    torque[n] = sum / pulls->len;
    power[n] = torque[n] * speed[n] * G_PI / 30;
    se[n] = sqrt(squares) / pulls->len / torque[n];
    n++;
  }
  struct peaks best = {0};
  if (n == 0)
    return best;
  double margin = ew_curve_margin_rpm(c);
  gsize most = ew_highest_point(speed, torque, se, n, margin, &best.torque_at_end),
        strong = ew_highest_point(speed, power, se, n, margin, &best.power_at_end);
  best.torque_n_m = torque[most], best.torque_at_rpm = speed[most];
  best.power_w = power[strong], best.power_at_rpm = speed[strong];
  return best;
}

static void fill_budget(struct ew_report *r, const struct ew_budget *budget) {
  for (gsize i = 0; i < budget->count; i++) {
    g_autofree char *one =
        ew_quantity_format(EW_KIND_TORQUE, r->units, budget->rows[i].standard_n_m, 2);
    ew_report_pair_add(
        r->budget, budget->rows[i].from,
        g_strconcat(one, budget->rows[i].cancels ? " (cancels in a comparison)" : "", NULL));
  }
  g_autofree char *absolute = ew_quantity_format(EW_KIND_TORQUE, r->units, budget->expanded_n_m, 1),
                  *compared = ew_quantity_format(EW_KIND_TORQUE, r->units,
                                                 budget->expanded_comparative_n_m, 1);
  ew_report_pair_add(r->budget, "expanded (95 %)", g_strdup_printf("± %s absolute", absolute));
  ew_report_pair_add(r->budget, "in a comparison", g_strdup_printf("± %s", compared));
}

static void add_peak(struct ew_report *r, const char *what, enum ew_kind kind, double value,
                     double speed_rpm, gboolean at_end) {
  double shown = ew_shown(kind, r->units, value);
  g_autofree char *text = ew_number_with_uncertainty(shown, shown * r->expanded_relative);
  g_autofree char *at = ew_number_thousands(speed_rpm);
  g_ptr_array_add(
      r->results,
      g_strdup_printf("%s %s %s at %s rpm%s", what, text, ew_kind_shown(kind, r->units), at,
                      at_end ? ", where the pulls end: the highest may lie beyond" : ""));
}

void ew_report_results(struct ew_report *r, const struct ew_desk *desk, const GPtrArray *pulls) {
  struct peaks best = find_peaks(pulls);
  double low_rpm, high_rpm, band = 0;
  common_band(pulls, &low_rpm, &high_rpm);
  for (guint i = 0; i < pulls->len; i++)
    band += exp(ew_curve_band_log(((struct ew_loaded *)g_ptr_array_index(pulls, i))->curve, low_rpm,
                                  high_rpm)) /
            pulls->len;
  struct ew_budget budget = ew_ask_budget(desk, g_ptr_array_index(pulls, 0), best.torque_at_rpm);
  r->expanded_relative = budget.expanded_n_m / best.torque_n_m;
  add_peak(r, "Highest power", EW_KIND_POWER, best.power_w, best.power_at_rpm, best.power_at_end);
  add_peak(r, "Highest torque", EW_KIND_TORQUE, best.torque_n_m, best.torque_at_rpm,
           best.torque_at_end);
  double shown = ew_shown(EW_KIND_TORQUE, r->units, band);
  g_autofree char *mean = ew_number_with_uncertainty(shown, shown * r->expanded_relative);
  g_autofree char *low = ew_number_thousands(low_rpm), *high = ew_number_thousands(high_rpm);
  g_ptr_array_add(
      r->results,
      g_strdup_printf("Mean torque %s to %s rpm: %s %s. Mean of %u pull%s, all %u shown.", low,
                      high, mean, ew_kind_shown(EW_KIND_TORQUE, r->units), pulls->len,
                      pulls->len > 1 ? "s" : "", pulls->len));
  fill_budget(r, &budget);
}
