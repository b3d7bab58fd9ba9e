/* Priors of what an engine's file leaves out, and the engines with one such figure moved by its standard uncertainty.
 *
 * A prior is the spread of the figure among engines of one kind about what the model takes by rule (cycle/from_engine*.c), as the standard
 * deviation of its logarithm: judgement, no source, but for flow (cycle/head_kind.h). Lengths that waves travel are moved both ways, because
 * the same change may help at one speed and hurt at the next; the rest one
 * way, which a minus turns to the smaller side. Figures are moved one at a time: products of two are left out,
 * and squares add up, as for independent causes. */
#include "desk/predict_spread.h"
#include "base/elementary.h"
#include <math.h>
#include <stddef.h>
#include <string.h>

#define M(member) offsetof(struct ew_engine, member)

static const struct prior {
  const char *field;
  gsize member;
  double u; /* of the logarithm */
  gboolean both;
} priors[] = {
    {"inlet.ramp_height", M(inlet.ramp_height_m), 0,
     FALSE}, /* not moved: they hold what the durations were taken with */
    {"inlet.ramp_length", M(inlet.ramp_length_deg), 0, FALSE},
    {"exhaust.ramp_height", M(exhaust.ramp_height_m), 0, FALSE},
    {"exhaust.ramp_length", M(exhaust.ramp_length_deg), 0, FALSE},
    {"inlet.duration", M(inlet.duration_deg), 0.025, FALSE},
    {"exhaust.duration", M(exhaust.duration_deg), 0.025, FALSE},
    {"inlet.check_duration", M(inlet.check_duration_deg), 0.03, FALSE},
    {"exhaust.check_duration", M(exhaust.check_duration_deg), 0.03, FALSE},
    {"inlet.gross_lift", M(inlet.gross_lift_m), 0.1, FALSE},
    {"exhaust.gross_lift", M(exhaust.gross_lift_m), 0.1, FALSE},
    {"cam.lobe_separation", M(cam.lobe_separation_deg), 0.03, FALSE},
    {"cam.advance", M(cam.advance_deg), 1.0, FALSE},
    {"inlet.head_diameter", M(inlet.head_diameter_m), 0.06, FALSE},
    {"exhaust.head_diameter", M(exhaust.head_diameter_m), 0.06, FALSE},
    {"breathing.runner_length", M(breathing.runner_length_m), 0.35, TRUE},
    {"breathing.runner_diameter", M(breathing.runner_diameter_m), 0.08, FALSE},
    {"breathing.runner_bends", M(breathing.runner_bends), 0.6, FALSE},
    {"breathing.plenum", M(breathing.plenum_m3), 0.4, FALSE},
    {"breathing.throttle_diameter", M(breathing.throttle_diameter_m), -0.12, FALSE},
    {"breathing.cleaner_depression", M(breathing.cleaner_depression_pa), 0.6, FALSE},
    {"breathing.primary_length", M(breathing.primary_length_m), 0.35, TRUE},
    {"breathing.primary_diameter", M(breathing.primary_diameter_m), 0.08, FALSE},
    {"breathing.primary_bends", M(breathing.primary_bends), 0.6, FALSE},
    {"breathing.collector_length", M(breathing.collector_length_m), 0.35, TRUE},
    {"breathing.collector_diameter", M(breathing.collector_diameter_m), 0.1, FALSE},
    {"breathing.back_pressure", M(breathing.back_pressure_pa), 0.6, FALSE},
    {"geometry.rod_length", M(geometry.rod_length_m), 0.06, FALSE},
    {"lambda_target", M(lambda_target), 0.04, FALSE},
};
_Static_assert(2 * G_N_ELEMENTS(priors) <= EW_PRIOR_MOST, "every figure may be moved both ways");

static double *figure_of(struct ew_engine *engine, const struct prior *prior) {
  return (double *)(void *)((char *)engine + prior->member);
}

static const struct ew_cycle_assumed *assumed(const GArray *all, const char *field) {
  for (guint i = 0; i < all->len; i++)
    if (strcmp(g_array_index(all, struct ew_cycle_assumed, i).field, field) == 0)
      return &g_array_index(all, struct ew_cycle_assumed, i);
  return NULL;
}

void ew_prior_fill(const struct ew_engine *engine, const GArray *all, struct ew_engine *filled) {
  ew_engine_copy(engine, filled);
  for (guint i = 0; i < G_N_ELEMENTS(priors); i++) {
    const struct ew_cycle_assumed *a = assumed(all, priors[i].field);
    if (a)
      *figure_of(filled, &priors[i]) = a->value;
  }
}

/* The engine with every figure given that was taken for it, and one of them moved: what was taken for the others does not follow it. */
static void move(const struct ew_prediction_setup *setup, const GArray *all,
                 const struct prior *prior, double by, double share, struct ew_prior *spread) {
  g_assert(spread->setups < EW_PRIOR_MOST);
  int k = spread->setups++;
  struct ew_engine *engine = &spread->engine[k];
  ew_prior_fill(setup->engine, all, engine);
  *figure_of(engine, prior) *= ew_exp(by);
  spread->setup[k] = *setup;
  spread->setup[k].engine = engine;
  spread->field[k] = prior->field;
  spread->share[k] = share;
}

static gboolean can_be_built(struct ew_prior *spread, GError **error) {
  g_autoptr(GArray) all = ew_predict_assumed(&spread->setup[spread->setups - 1], error);
  return all != NULL;
}

/* One side of a figure; the other one where the engine cannot be built so, a lobe for example. */
static gboolean move_either_way(const struct ew_prediction_setup *setup, const GArray *all,
                                const struct prior *prior, double by, double share,
                                struct ew_prior *spread, GError **error) {
  move(setup, all, prior, by, share, spread);
  if (can_be_built(spread, NULL))
    return TRUE;
  ew_engine_clear(&spread->engine[--spread->setups]);
  move(setup, all, prior, -by, share, spread);
  return can_be_built(spread, error);
}

gboolean ew_prior_make(const struct ew_prediction_setup *setup, struct ew_prior *spread,
                       GError **error) {
  spread->setups = 0;
  if (ew_tune_is_fitted(&setup->tune))
    return TRUE;
  g_autoptr(GArray) all = ew_predict_assumed(setup, error);
  gboolean good = all != NULL;
  for (guint i = 0; good && i < G_N_ELEMENTS(priors); i++) {
    const struct prior *p = &priors[i];
    const struct ew_cycle_assumed *a = assumed(all, p->field);
    if (!a || !(a->value > 0) || p->u == 0)
      continue;
    good = move_either_way(setup, all, p, p->u, p->both ? 0.5 : 1, spread, error) &&
           (!p->both || move_either_way(setup, all, p, -p->u, 0.5, spread, error));
  }
  return good;
}

void ew_prior_clear(struct ew_prior *spread) {
  for (int k = 0; k < spread->setups; k++)
    ew_engine_clear(&spread->engine[k]);
  spread->setups = 0;
}
