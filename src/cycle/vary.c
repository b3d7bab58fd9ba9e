#include "cycle/vary.h"
#include "base/error.h"
#include <math.h>

#define STEP 0.05 /* of ln(factor) */

enum { PLAIN, SETTINGS = 1 + EW_KNOBS };

static gboolean all_settled(const struct ew_cycle_result *r, int n, GError **error) {
  for (int i = 0; i < n; i++)
    if (!r[i].converged)
      return ew_refuse(error, "at %g rpm a run did not settle: %s", r[i].speed_rpm, r[i].reason);
  return TRUE;
}

static double spread(const double *slope, const double (*covariance)[EW_KNOBS]) {
  double sum = 0;
  for (int a = 0; a < EW_KNOBS; a++)
    for (int b = 0; b < EW_KNOBS; b++) {
      double c = covariance ? covariance[a][b]
                 : a == b   ? ew_cycle_knobs[a].prior * ew_cycle_knobs[a].prior
                            : 0;
      sum += slope[a] * slope[b] * c;
    }
  return sqrt(fmax(sum, 0));
}

gboolean ew_cycle_vary(const struct ew_cycle_model *from, const struct ew_cycle_model *to,
                       const double *speed_rpm, int n, const double (*covariance)[EW_KNOBS],
                       const struct ew_cycle_options *options, struct ew_cycle_answer *answers,
                       GError **error) {
  int all = 2 * SETTINGS * n;
  struct ew_cycle_model model[2][SETTINGS];
  g_autofree struct ew_cycle_job *jobs = g_new(struct ew_cycle_job, MAX(all, 1));
  g_autofree struct ew_cycle_result *r = g_new0(struct ew_cycle_result, MAX(all, 1));
  struct ew_cycle_options o = *options;
  o.trace = FALSE;
  for (int m = 0; m < 2; m++)
    for (int s = 0; s < SETTINGS; s++) {
      double factor[EW_KNOBS];
      for (int k = 0; k < EW_KNOBS; k++)
        factor[k] = s == k + 1 ? exp(STEP) : 1;
      model[m][s] = ew_cycle_turned(m ? to : from, factor);
      for (int i = 0; i < n; i++)
        jobs[(m * SETTINGS + s) * n + i] = (struct ew_cycle_job){&model[m][s], speed_rpm[i], NAN};
    }
  if (o.spark == EW_SPARK_GIVEN)
    return ew_refuse(error, "a difference is taken at the best or knock-limited spark");
  if (!ew_cycle_predict_jobs(jobs, all, &o, r, NULL, error) || !all_settled(r, all, error))
    return FALSE;
  for (int i = 0; i < n; i++) {
    const struct ew_cycle_result *a = &r[i], *b = &r[SETTINGS * n + i];
    double slope[EW_KNOBS];
    for (int k = 0; k < EW_KNOBS; k++) {
      double turned = b[(k + 1) * n].torque_n_m - a[(k + 1) * n].torque_n_m;
      slope[k] = (turned - (b->torque_n_m - a->torque_n_m)) / STEP;
    }
    double unsettled = 2 * o.tolerance * fmax(fabs(a->torque_n_m), fabs(b->torque_n_m));
    answers[i] = (struct ew_cycle_answer){a->speed_rpm,
                                          a->torque_n_m,
                                          b->torque_n_m,
                                          b->torque_n_m - a->torque_n_m,
                                          hypot(spread(slope, covariance), unsettled),
                                          b->spark_deg - a->spark_deg,
                                          a->octane_needed,
                                          b->octane_needed,
                                          a->knock_limited,
                                          b->knock_limited};
  }
  return TRUE;
}
