/* Compression both ways: see the header. The other ratio is run as a variant (vary.h), which gives the difference and its doubt; then alone,
 * for its spark; then today's ratio at that spark. */
#include "desk/predict_ratio.h"
#include "base/error.h"
#include "base/json_writer.h"
#include "base/number.h"
#include "desk/vary.h"
#include "desk/predict_spread.h"
#include "engine/check.h"
#include <math.h>

#define NEARLY 0.3 /* of a ratio: too little to compare */

/* Of the engine as it is run: what its file leaves out is taken by the same rules. */
static gboolean take_advice(const struct ew_prediction_setup *setup, struct ew_ratio_answer *a,
                            GError **error) {
  struct ew_engine engine;
  g_autoptr(GArray) all = ew_predict_assumed(setup, error);
  if (!all)
    return FALSE;
  ew_prior_fill(setup->engine, all, &engine);
  struct ew_engine_check *check = ew_engine_check_new(&engine);
  a->advice = check->advice;
  const struct ew_figure *ratio = ew_engine_check_find(check, "compression_ratio"),
                         *effective = ew_engine_check_find(check, "effective_compression_ratio"),
                         *closes = ew_engine_check_find(check, "effective_closing");
  a->ratio = ratio ? ratio->values[0] : NAN;
  a->effective = effective ? effective->values[0] : NAN;
  a->closes_abdc_deg = closes ? closes->values[0] : NAN;
  ew_engine_check_free(check);
  ew_engine_clear(&engine);
  double wanted = a->advice.wanted_ratio;
  a->other =
      isnan(wanted) || fabs(wanted - a->ratio) < NEARLY ? a->ratio + 1 : round(10 * wanted) / 10;
  return TRUE;
}

static GArray *change_of(const struct ew_ratio_answer *a, GError **error) {
  char buffer[EW_NUMBER_SIZE];
  double by = a->other - a->ratio;
  GArray *all = ew_variations_new();
  g_autofree char *text =
      g_strdup_printf("compression=%s%s", by < 0 ? "-" : "+", ew_number_write(fabs(by), buffer));
  if (ew_variation_parse(text, all, error))
    return all;
  g_array_unref(all);
  return NULL;
}

static gboolean run_difference(const struct ew_vary *ask, const GArray *change,
                               struct ew_ratio_answer *a, GError **error) {
  struct ew_variants v = {0};
  g_autoptr(GPtrArray) sets = ew_variants_of(change, FALSE, error);
  gboolean good = sets && ew_vary_run(ask, sets, &v, error);
  if (good) {
    g_assert(v.count == 1 && v.speeds == a->speeds);
    const struct ew_variant *one = &v.variant[0];
    a->now_n_m = g_memdup2(v.base_n_m, sizeof(double) * (gsize)a->speeds);
    a->other_n_m = g_memdup2(one->torque_n_m, sizeof(double) * (gsize)a->speeds);
    a->lower = one->lower;
    a->lower_u = one->lower_u;
    a->upper = one->upper;
    a->upper_u = one->upper_u;
    a->middle_rpm = v.middle_rpm;
    a->octane_other = one->octane;
  }
  ew_variants_clear(&v);
  return good;
}

/* Today's ratio at each speed's spark of the other: r, the other's results. */
static gboolean run_held(const struct ew_vary *ask, const struct ew_cycle_result *r,
                         struct ew_ratio_answer *a, GError **error) {
  struct ew_cycle_options options = *ask->options;
  double none;
  options.spark = EW_SPARK_GIVEN;
  struct ew_cycle_plan *plan = ew_predict_plan(&ask->setup, &options, NULL, &none, NULL, error);
  if (!plan)
    return FALSE;
  g_autofree struct ew_cycle_task *task = g_new(struct ew_cycle_task, a->speeds);
  struct ew_cycle_result *held = g_new0(struct ew_cycle_result, a->speeds);
  for (int i = 0; i < a->speeds; i++)
    task[i] = (struct ew_cycle_task){plan, ask->speed_rpm[i], r[i].spark_deg};
  gboolean good = ew_cycle_run(task, a->speeds, &options, held, NULL, error);
  a->held_n_m = g_new0(double, a->speeds);
  for (int i = 0; good && i < a->speeds; i++)
    a->held_n_m[i] = held[i].torque_n_m;
  ew_cycle_results_free(held, a->speeds);
  ew_cycle_plan_free(plan);
  return good;
}

static gboolean run_other_and_held(const struct ew_vary *ask, const GArray *change,
                                   struct ew_ratio_answer *a, GError **error) {
  struct ew_prediction_setup other = ask->setup;
  g_autoptr(GArray) both = g_array_new(FALSE, FALSE, sizeof(struct ew_variation));
  if (other.variations)
    g_array_append_vals(both, other.variations->data, other.variations->len);
  g_array_append_vals(both, change->data, change->len);
  other.variations = both;
  struct ew_prediction_setup pair[] = {ask->setup, other};
  struct ew_cycle_result *r = g_new0(struct ew_cycle_result, 2 * a->speeds);
  gboolean good =
      ew_predict_setups(pair, 2, ask->speed_rpm, a->speeds, ask->options, r, NULL, NULL, error);
  for (int i = 0; good && i < a->speeds; i++)
    a->octane_now = fmax(a->octane_now, r[i].octane_needed);
  good = good && run_held(ask, r + a->speeds, a, error);
  ew_cycle_results_free(r, 2 * a->speeds);
  return good;
}

static double by_spark(const struct ew_ratio_answer *a) {
  g_assert(a->now_n_m && a->other_n_m && a->held_n_m);
  double lost = 0, back = 0;
  for (int i = 0; i < a->speeds; i++) {
    lost += a->other_n_m[i] - a->held_n_m[i];
    back += a->now_n_m[i] - a->held_n_m[i];
  }
  return lost > 0 && back >= 0 ? fmin(back / lost, 1) : NAN;
}

gboolean ew_predict_ratio(const struct ew_prediction_setup *setup, const double *speed_rpm,
                          int speeds, const struct ew_cycle_options *options,
                          struct ew_ratio_answer *a, GError **error) {
  *a = (struct ew_ratio_answer){.speeds = speeds};
  if (!isnan(setup->spark_deg))
    return ew_refuse(error, "a comparison of ratios seeks the spark of each: leave the spark out");
  if (!take_advice(setup, a, error))
    return FALSE;
  struct ew_vary ask = {.setup = *setup,
                        .speed_rpm = speed_rpm,
                        .speeds = speeds,
                        .options = options,
                        .most_octane = INFINITY};
  g_autoptr(GArray) change = change_of(a, error);
  gboolean good = change && run_difference(&ask, change, a, error) &&
                  run_other_and_held(&ask, change, a, error);
  if (good)
    a->by_spark = by_spark(a);
  else
    ew_ratio_answer_clear(a);
  return good;
}

void ew_ratio_answer_clear(struct ew_ratio_answer *a) {
  g_free(a->now_n_m);
  g_free(a->other_n_m);
  g_free(a->held_n_m);
  *a = (struct ew_ratio_answer){0};
}

static void write_pair(struct ew_json *json, const char *key, double low, double high) {
  const double pair[] = {low, high};
  ew_json_numbers(json, key, pair, 2);
}

void ew_ratio_answer_write_json(const struct ew_ratio_answer *a, struct ew_json *json) {
  gsize n = (gsize)a->speeds;
  ew_json_open(json, "compression");
  ew_json_number(json, "ratio", a->ratio);
  ew_json_number(json, "effective_ratio", a->effective);
  write_pair(json, "fuel_stands", a->advice.fuel_easy_ratio, a->advice.fuel_edge_ratio);
  write_pair(json, "cam_wants", a->advice.cam_low_ratio, a->advice.cam_high_ratio);
  write_pair(json, "closing_wanted_abdc_deg", a->advice.closes_early_deg,
             a->advice.closes_late_deg);
  ew_json_number(json, "compared_with", a->other);
  ew_json_numbers(json, "torque_n_m", a->now_n_m, n);
  ew_json_numbers(json, "compared_torque_n_m", a->other_n_m, n);
  ew_json_numbers(json, "torque_at_compared_spark_n_m", a->held_n_m, n);
  ew_json_number(json, "middle_speed_rpm", a->middle_rpm);
  ew_json_number(json, "gain_below_n_m", a->lower);
  ew_json_number(json, "gain_below_standard_uncertainty_n_m", a->lower_u);
  ew_json_number(json, "gain_above_n_m", a->upper);
  ew_json_number(json, "gain_above_standard_uncertainty_n_m", a->upper_u);
  ew_json_number(json, "octane_needed", a->octane_now);
  ew_json_number(json, "compared_octane_needed", a->octane_other);
  ew_json_number(json, "brought_back_by_spark", a->by_spark);
  ew_json_close(json);
}
