/* Predictions from the combination file: curves, a fit to a measured curve, and what-ifs. */
#pragma once
#include "cycle/from_engine.h"
#include "cycle/plan.h"
#include "cycle/predict.h"
#include "desk/loaded.h"
#include "desk/variation.h"

/* A quarter of a difference for what the model itself may have wrong, what the tolerance of
 * convergence leaves of it, and half of what the cells leave of a curve (ew_cycle_cells_u), the rest
 * being shared by both. */
#define EW_DOUBT_OF_DIFFERENCE 0.25
#define EW_DOUBT_OF_TOLERANCE  0.002
#define EW_DOUBT_OF_CELLS      0.5

/* Knobs that a fit may turn, as factors on the model's defaults, with their standard uncertainties. */
struct ew_tune {
  double flow, burn, friction, heat, runner, back_pressure, duration;
  double flow_u, burn_u, friction_u, heat_u, runner_u, back_pressure_u,
      duration_u; /* NaN: not fitted */
  double
      left; /* torque that the fit could not make up for, root mean square, relative; NaN: no fit */
  double
      physics; /* EW_CYCLE_PHYSICS of the fit; NaN: no fit, or one from before these were counted */
};
extern const struct ew_fields ew_tune_fields;
#define EW_TUNE_COUNT 7
/* flow, burn, friction, heat, runner, back_pressure, duration; NULL-terminated */
extern const char *const ew_tune_names[];
/* Bits of the knobs that a list names, "flow,friction"; 0 with *error, which says them all, when one is none. */
unsigned ew_tune_knobs_parse(const char *list, const char *where, GError **error);
double *ew_tune_factor(struct ew_tune *tune, int which);
double *ew_tune_uncertainty(struct ew_tune *tune, int which);
gboolean ew_tune_is_fitted(const struct ew_tune *tune);

struct ew_prediction_setup {
  const struct ew_engine *engine;
  struct ew_tune tune;
  double lambda, pressure_pa, temperature_k, vapour_pa; /* NaN: the file's, 1 bar, 25 °C, dry */
  double spark_deg;                                     /* NaN: sought */
  const GArray *variations;                             /* of struct ew_variation; NULL: none */
};

/* The plan of a set-up, as the options say, spark given where the set-up has one: it goes into *spark_deg
 * (NaN else). like: as ew_cycle_plan_new. What was assumed is added to `notes` (may be NULL). */
struct ew_cycle_plan *ew_predict_plan(const struct ew_prediction_setup *setup,
                                      const struct ew_cycle_options *options,
                                      const struct ew_cycle_plan *like, double *spark_deg,
                                      GPtrArray *notes, GError **error);
/* Models for many set-ups at the same speeds, run together in the lanes. results: setups x speeds,
 * cleared with ew_cycle_result_clear. notes of the first model are added to `notes` (may be NULL). */
gboolean ew_predict_setups(const struct ew_prediction_setup *setups, int count,
                           const double *speed_rpm, int speeds,
                           const struct ew_cycle_options *options, struct ew_cycle_result *results,
                           struct ew_cycle_effort *effort, GPtrArray *notes, GError **error);

/* Least squares of log torque over the knobs named in `turn` (bits), each with a wide prior of 30 %. */
struct ew_tuned {
  struct ew_tune tune;
  int points, evaluations;
  double error_before, error_after; /* root mean square, relative */
  double worst_after, pattern;      /* largest relative residual; lag-1 correlation of residuals */
  double *residual;                 /* relative, per speed */
  const double *speed_rpm;          /* as asked for; the caller's */
  unsigned
      loose; /* bits: knobs that the points do not fix: left as they were, or where that would cost the curve, turned
                   together with the others (their uncertainty is then with those held) */
};
#define EW_TUNED_LEFT_MOST                                                                         \
  0.03 /* more is left over than before any fit: rule of thumb, no source */
gboolean ew_tune_to(const struct ew_prediction_setup *setup, const double *speed_rpm,
                    const double *torque_n_m, int n, unsigned turn,
                    const struct ew_cycle_options *options, struct ew_tuned *tuned, GError **error);
/* Cautions about a fit, messages: what is left over, its pattern, knobs that were let go. */
GPtrArray *ew_tuned_cautions(const struct ew_tuned *tuned);

/* Points for a fit, evenly over the speeds that all these pulls (struct ew_loaded *) have: their mean
 * torque as observed, and their mean weather and set-up put into `setup` where it has none; torque as
 * corrected when the weather is not known. Refuses pulls of unlike spark or mixture. */
gboolean ew_predict_measured(const GPtrArray *pulls, int points, struct ew_prediction_setup *setup,
                             double *speed_rpm, double *torque_n_m, GError **error);

/* The fit that the book keeps with an engine. `found` FALSE: there is none, and `tune` has defaults. */
/* Refuses a fit that was made with another physics than this program's: its knobs mean something else. */
gboolean ew_tune_agrees(const struct ew_tune *tune, const char *where, GError **error);
gboolean ew_tune_kept(struct ew_book *book, gint64 engine, struct ew_tune *tune, gboolean *found,
                      GError **error);
/* `tune` NULL: none is kept any more. In a transaction of its own. */
gboolean ew_tune_keep(struct ew_book *book, gint64 engine, const struct ew_tune *tune,
                      GError **error);

/* What a prediction can be wrong by (predict_doubt.c): the curve again with each knob moved by its
 * standard uncertainty, the fit's or a rule of thumb; with each figure moved that the file leaves out
 * (predict_spread.c); and what neither can make up for. */
#define EW_NARROW_MOST 3
struct ew_doubt {
  double cell_m;        /* of the pipes */
  int speeds, curves;   /* curves: the prediction, then one a knob */
  double *torque_n_m;   /* curves x speeds */
  double *torque_u_n_m; /* standard uncertainty a speed */
  int narrowings; /* what would narrow the band if it were measured, the most first; 0 after a fit */
  struct ew_narrowing {
    const char *field; /* of the engine's file */
    double variance_share;
  } narrow[EW_NARROW_MOST];
};
/* results: speeds, cleared with ew_cycle_result_clear. */
gboolean ew_predict_doubt(const struct ew_prediction_setup *setup, const double *speed_rpm,
                          int speeds, const struct ew_cycle_options *options,
                          struct ew_cycle_result *results, struct ew_doubt *doubt,
                          struct ew_cycle_effort *effort, GPtrArray *notes, GError **error);
void ew_doubt_clear(struct ew_doubt *doubt);
struct ew_json;
/* Where the band comes from; and what would narrow it, as an array of field and variance_share. */
const struct ew_message_kind *ew_doubt_says(const struct ew_prediction_setup *setup);
void ew_doubt_write_narrowings(const struct ew_doubt *doubt, struct ew_json *json);

/* How much more mean torque `now` has than `base` from low to high, and whether that is more than the
 * prediction can be wrong by. */
struct ew_prediction_gain {
  double relative, relative_u, low_rpm, high_rpm;
  gboolean beyond_doubt;
};
struct ew_prediction_gain ew_prediction_gain_of(const struct ew_doubt *base,
                                                const struct ew_doubt *now, const double *speed_rpm,
                                                double low_rpm, double high_rpm);
ew_message *
ew_prediction_gain_says(const struct ew_prediction_gain *gain); /* freed by the caller */

/* What each of the set-up's variations changes, from and to: one a variation. Refuses what cannot be built. */
gboolean ew_predict_reach(const struct ew_prediction_setup *setup, struct ew_reach *reach,
                          GError **error);
/* Octane number that the knock integral takes for this set-up's fuel; NaN when it cannot be built. */
double ew_predict_octane(const struct ew_prediction_setup *setup);
/* What the model takes for figures that the file leaves out (struct ew_cycle_assumed); g_array_unref. */
GArray *ew_predict_assumed(const struct ew_prediction_setup *setup, GError **error);
void ew_cycle_results_free(struct ew_cycle_result *results, int n);

struct ew_json;
void ew_prediction_write_json(const struct ew_cycle_result *results, int n,
                              const struct ew_cycle_effort *effort, const GPtrArray *notes,
                              enum ew_unit_system units, struct ew_json *json);
void ew_tuned_write_json(const struct ew_tuned *tuned, const double *speed_rpm,
                         const double *torque_n_m, struct ew_json *json);
