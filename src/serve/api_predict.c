/* Predictions for the page: a curve with what it can be wrong by, what-ifs, and the jobs they run as.
 *
 * A prediction is never stored as a measurement, and a predicted knock limit permits nothing. */
#include "base/error.h"
#include "base/node_change.h"
#include "serve/predict_question.h"
#include <math.h>
#include <string.h>

#define VARIANTS_MOST 40

/* Progress of one of two parts. */
struct part {
  const struct ew_job_run *run;
  double from, share;
};

static void tell_part(double share, gpointer data) {
  const struct part *p = data;
  p->run->progress(p->from + share * p->share, p->run->progress_data);
}

/* One side's curve; what it can be wrong by when that is asked for. */
static gboolean run_side(const struct ew_predict_question *q, const struct ew_predict_side *side,
                         const struct ew_cycle_options *options, struct ew_cycle_result *results,
                         struct ew_doubt *doubt, struct ew_cycle_effort *effort, GPtrArray *notes,
                         GError **error) {
  if (q->doubt)
    return ew_predict_doubt(&side->setup, q->speed_rpm, q->speeds, options, results, doubt, effort,
                            notes, error);
  return ew_predict_setups(&side->setup, 1, q->speed_rpm, q->speeds, options, results, effort,
                           notes, error);
}

static void write_curve(const struct ew_predict_question *q, const struct ew_predict_side *side,
                        const struct ew_cycle_result *results, const struct ew_doubt *doubt,
                        const struct ew_cycle_effort *effort, const GPtrArray *notes,
                        struct ew_json *json) {
  ew_prediction_write_json(results, q->speeds, effort, notes, q->units, json);
  ew_json_number(json, "cell_m", q->options.cell_m);
  ew_json_number(json, "octane", ew_predict_octane(&side->setup));
  ew_json_number(json, "compression_ratio", ew_predict_mean_ratio(&side->engine));
  ew_json_boolean(json, "fitted", ew_tune_is_fitted(&side->setup.tune));
  if (q->doubt) {
    ew_json_numbers(json, "torque_standard_uncertainty_n_m", doubt->torque_u_n_m, (gsize)q->speeds);
    g_autoptr(ew_message) from = ew_message_plain(ew_doubt_says(&side->setup));
    ew_json_open(json, "uncertainty_from");
    ew_message_write_json(from, EW_UNITS_SI, json);
    ew_json_close(json);
    ew_doubt_write_narrowings(doubt, json);
  }
}

static void write_gain(const struct ew_predict_question *q, const struct ew_doubt *base,
                       const struct ew_doubt *now, struct ew_json *json) {
  struct ew_prediction_gain gain =
      ew_prediction_gain_of(base, now, q->speed_rpm, q->low_rpm, q->high_rpm);
  g_autoptr(ew_message) says = ew_prediction_gain_says(&gain);
  ew_json_open(json, "gain");
  ew_json_number(json, "relative", gain.relative);
  ew_json_number(json, "relative_standard_uncertainty", gain.relative_u);
  ew_json_number(json, "low_rpm", gain.low_rpm);
  ew_json_number(json, "high_rpm", gain.high_rpm);
  ew_json_boolean(json, "beyond_doubt", gain.beyond_doubt);
  ew_json_open(json, "says");
  ew_message_write_json(says, EW_UNITS_SI, json);
  ew_json_close(json);
  ew_json_close(json);
}

static gboolean run_predict(gpointer data, const struct ew_job_run *run, struct ew_json *json,
                            GError **error) {
  const struct ew_predict_question *q = data;
  struct ew_cycle_options options = ew_predict_options(q, run);
  struct part part = {run, 0, q->against ? 0.5 : 1};
  struct ew_cycle_result *now = g_new0(struct ew_cycle_result, q->speeds),
                         *base = g_new0(struct ew_cycle_result, q->speeds);
  struct ew_doubt now_doubt = {0}, base_doubt = {0};
  struct ew_cycle_effort effort = {0}, base_effort = {0};
  g_autoptr(GPtrArray) notes = ew_messages_new();
  g_autoptr(GPtrArray) base_notes = ew_messages_new();
  options.progress = tell_part;
  options.data = &part;
  gboolean good = run_side(q, &q->now, &options, now, &now_doubt, &effort, notes, error);
  if (good)
    write_curve(q, &q->now, now, &now_doubt, &effort, notes, json);
  part.from = 0.5;
  if (good && q->against) {
    good = run_side(q, &q->base, &options, base, &base_doubt, &base_effort, base_notes, error);
    if (good) {
      ew_json_open(json, "against");
      write_curve(q, &q->base, base, &base_doubt, &base_effort, base_notes, json);
      ew_json_close(json);
      if (q->doubt)
        write_gain(q, &base_doubt, &now_doubt, json);
    }
  }
  ew_doubt_clear(&now_doubt);
  ew_doubt_clear(&base_doubt);
  ew_cycle_results_free(now, q->speeds);
  ew_cycle_results_free(base, q->speeds);
  return good;
}

/* What is compared or has a band is not made of first looks. */
static gboolean looks_once(const struct ew_predict_question *q, GError **error) {
  return !q->follows || (!q->doubt && !q->against) ||
         ew_refuse(error, "follow: a first look has no band and is compared with nothing: leave "
                          "out uncertainty and against");
}

gboolean ew_api_predict(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                        GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body)
    return FALSE;
  struct ew_predict_question *q = g_new0(struct ew_predict_question, 1);
  struct ew_node *against = ew_node_member_of(body, "against");
  q->against = against != NULL;
  q->doubt = g_strcmp0(ew_node_text(body, "uncertainty"), "yes") == 0;
  if (!ew_predict_question_read(s, r, body, q, error) || !looks_once(q, error) ||
      (against && !ew_predict_side_read(against, &q->base, q->units, error))) {
    ew_predict_question_free(q);
    return FALSE;
  }
  struct ew_job_work work = {"predict", q->doubt ? EW_LANE_LONG : EW_LANE_QUICK, run_predict, q,
                             ew_predict_question_free};
  return ew_predict_start(s, r, body, &work, reply, error);
}

/* ---- what if ---- */

static gboolean run_vary(gpointer data, const struct ew_job_run *run, struct ew_json *json,
                         GError **error) {
  const struct ew_predict_question *q = data;
  struct ew_cycle_options options = ew_predict_options(q, run);
  struct ew_vary ask = {.setup = q->now.setup,
                        .speed_rpm = q->speed_rpm,
                        .speeds = q->speeds,
                        .options = &options,
                        .most_octane = INFINITY};
  struct ew_variants variants;
  if (!ew_vary_run(&ask, q->sets, &variants, error))
    return FALSE;
  ew_json_numbers(json, "speed_rpm", q->speed_rpm, (gsize)q->speeds);
  ew_variants_write_json(&variants, json);
  ew_variants_clear(&variants);
  return TRUE;
}

static gboolean read_variants(const struct ew_node *body, struct ew_predict_question *q,
                              GError **error) {
  const struct ew_node *list = ew_predict_list(body, "variants", EW_PREDICT_CHANGES_MOST, error);
  q->changes = ew_variations_new();
  for (guint i = 0; list && i < list->children->len; i++) {
    const struct ew_node *item = g_ptr_array_index(list->children, i);
    if (strlen(item->text) > 200 || !ew_variation_parse(item->text, q->changes, error))
      return error && *error ? FALSE : ew_refuse(error, "variants: one is longer than 200 bytes");
  }
  if (!list)
    return FALSE;
  gboolean grid = g_strcmp0(ew_node_text(body, "grid"), "yes") == 0;
  if (q->changes->len == 0)
    return ew_refuse(error, "variants: give a change, for example \"compression=+0.5\"");
  if (q->changes->len > EW_PREDICT_CHANGES_MOST)
    return ew_refuse(error, "variants: %u changes; at most %d are run at once", q->changes->len,
                     EW_PREDICT_CHANGES_MOST);
  q->sets = ew_variants_of(q->changes, grid, error);
  if (!q->sets)
    return FALSE;
  return q->sets->len <= VARIANTS_MOST ||
         ew_refuse(error, "variants: %u combinations; at most %d are run at once", q->sets->len,
                   VARIANTS_MOST);
}

gboolean ew_api_predict_vary(struct ew_service *s, const struct ew_request *r,
                             struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body)
    return FALSE;
  struct ew_predict_question *q = g_new0(struct ew_predict_question, 1);
  if (!ew_predict_question_read(s, r, body, q, error) || !read_variants(body, q, error)) {
    ew_predict_question_free(q);
    return FALSE;
  }
  struct ew_job_work work = {"vary", EW_LANE_LONG, run_vary, q, ew_predict_question_free};
  return ew_predict_start(s, r, body, &work, reply, error);
}

/* ---- jobs ---- */

gboolean ew_api_predict_job(struct ew_service *s, const struct ew_request *r,
                            struct ew_reply *reply, GError **error) {
  return ew_predictor_write_json(s->predictor, r->id, &reply->json, error);
}

gboolean ew_api_predict_cancel(struct ew_service *s, const struct ew_request *r,
                               struct ew_reply *reply, GError **error) {
  (void)reply;
  return ew_predictor_cancel(s->predictor, r->id, ew_predict_device(r), error);
}
