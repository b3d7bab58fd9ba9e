/* The figures of a test report: peaks of the mean of the pulls and the mean over the band that all of them reach, each with its
 * expanded uncertainty (judge/budget). A peak at the end of what was run is said to lie there. */
#include "desk/report_parts.h"
#include "base/language.h"
#include "base/number.h"
#include "base/words.h"
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

/* The highest points of the mean of the pulls, where it is supported on both sides or said to lie at the end. */
static struct ew_report_peaks find_peaks(const GPtrArray *pulls) {
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
  struct ew_report_peaks best = {0};
  if (n == 0)
    return best;
  double margin = ew_curve_margin_rpm(c);
  g_assert(n <= c->points);
  gsize most = ew_highest_point(speed, torque, se, n, margin, &best.torque_at_end),
        strong = ew_highest_point(speed, power, se, n, margin, &best.power_at_end);
  g_assert(most < n && strong < n);
  best.torque_n_m = torque[most], best.torque_at_rpm = speed[most];
  best.highest_rpm = speed[n - 1];
  best.power_w = power[strong], best.power_at_rpm = speed[strong];
  return best;
}

static void fill_budget(struct ew_report *r, const struct ew_budget *budget) {
  for (gsize i = 0; i < budget->count; i++) {
    g_autofree char *one =
        ew_quantity_format(EW_KIND_TORQUE, r->units, budget->rows[i].standard_n_m, 2);
    ew_report_pair_add(r->budget, budget->rows[i].from,
                       budget->rows[i].cancels ? ew_words("%s (cancels in a comparison)", one)
                                               : g_strdup(one));
  }
  g_autofree char *absolute = ew_quantity_format(EW_KIND_TORQUE, r->units, budget->expanded_n_m, 1),
                  *compared = ew_quantity_format(EW_KIND_TORQUE, r->units,
                                                 budget->expanded_comparative_n_m, 1);
  ew_report_pair_add(r->budget, EW_TEXT("expanded (95 %)"), ew_words("± %s absolute", absolute));
  ew_report_pair_add(r->budget, EW_TEXT("in a comparison"), g_strdup_printf("± %s", compared));
}

EW_MESSAGE(power_peak, "desk.report-power", EW_NOTE, "highest power {value} {unit} at {speed} rpm");
EW_MESSAGE(power_at_end, "desk.report-power-at-end", EW_NOTE,
           "highest power {value} {unit} at {speed} rpm, where the pulls end: the peak may lie "
           "beyond");
EW_MESSAGE(torque_peak, "desk.report-torque", EW_NOTE,
           "highest torque {value} {unit} at {speed} rpm");
EW_MESSAGE(torque_at_end, "desk.report-torque-at-end", EW_NOTE,
           "highest torque {value} {unit} at {speed} rpm, where the pulls end: the peak may lie "
           "beyond");
EW_MESSAGE_MANY(
    band_mean, "desk.report-mean", EW_NOTE,
    "mean torque {low} to {high} rpm: {value} {unit}. Of {pulls} pull alone.",
    "mean torque {low} to {high} rpm: {value} {unit}. Mean of {pulls} pulls, all of them "
    "shown.");

/* A figure rounded to what its uncertainty deserves, as a text. */
static void add_peak(struct ew_report *r, const struct ew_message_kind *kind, enum ew_kind of,
                     double value, double speed_rpm) {
  double shown = ew_shown(of, r->units, value);
  g_autofree char *text = ew_number_with_uncertainty(shown, shown * r->expanded_relative);
  ew_messages_add(r->results, ew_message(kind, ew_say_text("value", text),
                                         ew_say_text("unit", ew_kind_shown(of, r->units)),
                                         ew_say_figure("speed", speed_rpm, 0)));
}

struct ew_report_peaks ew_report_results(struct ew_report *r, const struct ew_desk *desk,
                                         const GPtrArray *pulls) {
  struct ew_report_peaks best = find_peaks(pulls);
  double low_rpm, high_rpm, band = 0;
  common_band(pulls, &low_rpm, &high_rpm);
  for (guint i = 0; i < pulls->len; i++)
    band += exp(ew_curve_band_log(((struct ew_loaded *)g_ptr_array_index(pulls, i))->curve, low_rpm,
                                  high_rpm)) /
            pulls->len;
  struct ew_budget budget = ew_ask_budget(desk, g_ptr_array_index(pulls, 0), best.torque_at_rpm);
  r->expanded_relative = budget.expanded_n_m / best.torque_n_m;
  add_peak(r, best.power_at_end ? &power_at_end : &power_peak, EW_KIND_POWER, best.power_w,
           best.power_at_rpm);
  add_peak(r, best.torque_at_end ? &torque_at_end : &torque_peak, EW_KIND_TORQUE, best.torque_n_m,
           best.torque_at_rpm);
  double shown = ew_shown(EW_KIND_TORQUE, r->units, band);
  g_autofree char *mean = ew_number_with_uncertainty(shown, shown * r->expanded_relative);
  ew_messages_add(r->results,
                  ew_message(&band_mean, ew_say_count("pulls", pulls->len),
                             ew_say_figure("low", low_rpm, 0), ew_say_figure("high", high_rpm, 0),
                             ew_say_text("value", mean),
                             ew_say_text("unit", ew_kind_shown(EW_KIND_TORQUE, r->units))));
  fill_budget(r, &budget);
  return best;
}
