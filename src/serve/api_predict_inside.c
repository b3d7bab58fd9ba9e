/* Two more questions to a prediction, from the page: what goes on inside a cylinder at one speed, and which compression ratio fuel and cam
 * ask for. Read as any other (predict_question.h); the first is quick, the second takes its turn behind fits and tables. */
#include "base/error.h"
#include "desk/predict_inside.h"
#include "desk/predict_ratio.h"
#include "serve/predict_question.h"

static gboolean run_inside(gpointer data, const struct ew_job_run *run, struct ew_json *json,
                           GError **error) {
  const struct ew_predict_question *q = data;
  struct ew_cycle_options options = ew_predict_options(q, run);
  struct ew_cycle_result result;
  struct ew_inside *inside = g_new(struct ew_inside, 1);
  gboolean good =
      ew_predict_inside(&q->now.setup, q->speed_rpm[0], &options, &result, inside, error);
  if (good) {
    ew_inside_write_json(&result, inside, q->units, json);
    ew_cycle_result_clear(&result);
  }
  g_free(inside);
  return good;
}

static gboolean run_compression(gpointer data, const struct ew_job_run *run, struct ew_json *json,
                                GError **error) {
  const struct ew_predict_question *q = data;
  struct ew_cycle_options options = ew_predict_options(q, run);
  struct ew_ratio_answer answer;
  if (!ew_predict_ratio(&q->now.setup, q->speed_rpm, q->speeds, &options, &answer, error))
    return FALSE;
  ew_json_numbers(json, "speed_rpm", q->speed_rpm, (gsize)q->speeds);
  ew_ratio_answer_write_json(&answer, json);
  ew_ratio_answer_clear(&answer);
  return TRUE;
}

static gboolean one_speed(const struct ew_predict_question *q, GError **error) {
  return q->speeds == 1 ||
         ew_refuse(error,
                   "from_speed, to_speed: %d speeds; give the same speed in both, the inside of a "
                   "cylinder is drawn at one",
                   q->speeds);
}

static gboolean start(struct ew_service *s, const struct ew_request *r, gboolean inside,
                      struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body)
    return FALSE;
  struct ew_predict_question *q = g_new0(struct ew_predict_question, 1);
  if (!ew_predict_question_read(s, r, body, q, error) || (inside && !one_speed(q, error))) {
    ew_predict_question_free(q);
    return FALSE;
  }
  struct ew_job_work work = {inside ? "inside" : "compression",
                             inside ? EW_LANE_QUICK : EW_LANE_LONG,
                             inside ? run_inside : run_compression, q, ew_predict_question_free};
  return ew_predict_start(s, r, body, &work, reply, error);
}

gboolean ew_api_predict_inside(struct ew_service *s, const struct ew_request *r,
                               struct ew_reply *reply, GError **error) {
  return start(s, r, TRUE, reply, error);
}

gboolean ew_api_predict_compression(struct ew_service *s, const struct ew_request *r,
                                    struct ew_reply *reply, GError **error) {
  return start(s, r, FALSE, reply, error);
}
