/* The mean is taken at the speeds of the first pull's curve. Its torque is known as the budget of one of them says (judge/budget.h): what
 * repeats less well is not divided by the number of pulls, so the figure errs to the wide side. */
#include "desk/car.h"
#include "base/error.h"
#include <math.h>
#include <string.h>

static const struct ew_curve *curve_of(const GPtrArray *pulls, guint i) {
  const struct ew_loaded *loaded = g_ptr_array_index(pulls, i);
  return loaded->curve;
}

/* Held ones are refused by the gate. One recording weighs once, whatever its file or number is called. */
static gboolean stand(const struct ew_desk *desk, const GPtrArray *pulls, GError **error) {
  for (guint i = 0; i < pulls->len; i++) {
    struct ew_loaded *l = g_ptr_array_index(pulls, i);
    if (l->row.discarded)
      return ew_refuse(error, "%s is discarded (%s): name pulls that count", l->name,
                       l->row.discarded);
    for (guint k = 0; k < i; k++) {
      struct ew_loaded *before = g_ptr_array_index(pulls, k);
      if (l->row.id > 0 && before->row.id == l->row.id)
        return ew_refuse(error, "%s is named twice: name each pull once", l->name);
      if (strcmp(ew_desk_evidence(desk, l), ew_desk_evidence(desk, before)) == 0)
        return ew_refuse(error,
                         "%s and %s are the same recording, which would weigh double: name one of "
                         "them",
                         before->name, l->name);
    }
  }
  return TRUE;
}

static double mean_at(const GPtrArray *pulls, double speed_rpm) {
  double sum = 0;
  for (guint i = 0; i < pulls->len; i++)
    sum += ew_curve_at(curve_of(pulls, i), curve_of(pulls, i)->torque_n_m, speed_rpm);
  return sum / pulls->len;
}

static void append(struct ew_car_mean *mean, double speed_rpm, double torque_n_m) {
  g_array_append_val(mean->speed_rpm, speed_rpm);
  g_array_append_val(mean->torque_n_m, torque_n_m);
}

/* A standing limit between two points of the curve becomes its last. */
static void gather(const GPtrArray *pulls, double limit_rpm, struct ew_car_mean *mean) {
  const struct ew_curve *first = curve_of(pulls, 0);
  for (gsize j = 0; j < first->points; j++) {
    double speed = first->speed_rpm[j], torque = mean_at(pulls, speed);
    if (isnan(torque) || speed >= limit_rpm)
      continue;
    append(mean, speed, torque);
  }
  double at_limit = isnan(limit_rpm) ? (double)NAN : mean_at(pulls, limit_rpm);
  if (!isnan(at_limit))
    append(mean, limit_rpm, at_limit);
}

static gboolean reaches(const struct ew_car_mean *mean, double limit_rpm, GError **error) {
  if (mean->speed_rpm->len < 2)
    return isnan(limit_rpm)
               ? ew_refuse(error, "these pulls have no speeds in common: name pulls that were run "
                                  "over the same speeds")
               : ew_refuse(error,
                           "--limit: %.0f rpm lies below the speeds that were run: there is no "
                           "curve left under it",
                           limit_rpm);
  double last = g_array_index(mean->speed_rpm, double, mean->speed_rpm->len - 1);
  return !(limit_rpm > last) ||
         ew_refuse(error,
                   "--limit: %.0f rpm was not run; these pulls end at %.0f rpm, and beyond that "
                   "nothing is known",
                   limit_rpm, last);
}

gboolean ew_desk_car_mean(const struct ew_desk *desk, const GPtrArray *pulls, double limit_rpm,
                          struct ew_car_mean *mean, GError **error) {
  g_assert(pulls->len > 0);
  *mean = (struct ew_car_mean){g_array_new(FALSE, FALSE, sizeof(double)),
                               g_array_new(FALSE, FALSE, sizeof(double)),
                               {0},
                               NAN,
                               FALSE};
  if (!stand(desk, pulls, error) ||
      !ew_desk_all_alike(pulls, EW_ALIKE_SIDE, 0, NULL, NULL, NULL, error)) {
    ew_car_mean_clear(mean);
    return FALSE;
  }
  gather(pulls, limit_rpm, mean);
  if (!reaches(mean, limit_rpm, error)) {
    ew_car_mean_clear(mean);
    return FALSE;
  }
  const struct ew_loaded *first = g_ptr_array_index(pulls, 0);
  const struct ew_curve *c = first->curve;
  gsize peak = ew_curve_peak(c, c->torque_n_m);
  mean->doubt = ew_ask_budget(desk, first, c->speed_rpm[peak]).absolute_n_m / c->torque_n_m[peak];
  mean->inertia_known = first->engine.inertia_kg_m2 > 0;
  guint points = mean->speed_rpm->len;
  mean->engine = (struct ew_car_engine){points, (const double *)(gpointer)mean->speed_rpm->data,
                                        (const double *)(gpointer)mean->torque_n_m->data,
                                        g_array_index(mean->speed_rpm, double, points - 1),
                                        mean->inertia_known ? first->engine.inertia_kg_m2 : 0};
  return TRUE;
}

void ew_car_mean_clear(struct ew_car_mean *mean) {
  g_clear_pointer(&mean->speed_rpm, g_array_unref);
  g_clear_pointer(&mean->torque_n_m, g_array_unref);
}

gboolean ew_desk_car_difference(const struct ew_desk *desk, const struct ew_car *car,
                                const GPtrArray *a, const struct ew_car_mean *mean_a,
                                const GPtrArray *b, const struct ew_car_mean *mean_b,
                                const struct ew_car_run *run, struct ew_car_difference *difference,
                                struct ew_comparison **compared, GError **error) {
  struct ew_question_options options = {
      .margin = NAN, .level = -1, .band_low_rpm = NAN, .band_high_rpm = NAN};
  g_autoptr(GPtrArray) history = g_ptr_array_new();
  g_autoptr(GArray) groups = g_array_new(FALSE, FALSE, sizeof(int));
  struct ew_comparison *c = ew_ask_compare(desk, a, b, history, groups, &options, error);
  *compared = NULL;
  if (!c)
    return FALSE;
  if (c->invalid || isnan(c->low) || isnan(c->high)) {
    g_autofree char *why = c->invalid ? ew_message_text(c->invalid, EW_UNITS_SI) : NULL;
    ew_comparison_free(c);
    return ew_refuse(error,
                     "no difference in the car can be stated: the pulls are not comparable (%s)",
                     why ? why : "-");
  }
  /* the interval of the difference, 95 %, moves the second curve against the first */
  ew_car_difference(car, &mean_a->engine, 0, &mean_b->engine, (c->high - c->low) / 4, run,
                    difference);
  *compared = c;
  return TRUE;
}
