/* A fit of the prediction to pulls of the book, and the one that the book keeps with an engine. */
#include "base/error.h"
#include "serve/predict_question.h"
#include <string.h>

#define PULLS_MOST 20
#define POINTS     10

static gboolean run_fit(gpointer data, const struct ew_job_run *run, struct ew_json *json,
                        GError **error) {
  const struct ew_predict_question *q = data;
  struct ew_cycle_options options = ew_predict_options(q, run);
  struct ew_tuned tuned = {0};
  if (!ew_tune_to(&q->now.setup, q->speed_rpm, q->torque_n_m, q->speeds, q->turn, &options, &tuned,
                  error))
    return FALSE;
  ew_tuned_write_json(&tuned, q->speed_rpm, q->torque_n_m, json);
  g_free(tuned.residual);
  return TRUE;
}

static gboolean read_knobs(const struct ew_node *body, unsigned *turn, GError **error) {
  const struct ew_node *list = ew_predict_list(body, "knobs", EW_TUNE_COUNT, error);
  if (!list)
    return FALSE;
  for (guint i = 0; i < list->children->len; i++) {
    const char *text = ((const struct ew_node *)g_ptr_array_index(list->children, i))->text;
    unsigned knob = ew_tune_knobs_parse(text, "knobs:", error);
    if (!knob)
      return FALSE;
    *turn |= knob;
  }
  return TRUE;
}

static gboolean read_pulls(struct ew_service *s, const struct ew_node *body,
                           struct ew_predict_question *q, GError **error) {
  const struct ew_node *list = ew_predict_list(body, "pulls", PULLS_MOST, error);
  struct ew_desk desk = {0};
  double points;
  if (!list || !ew_predict_figure(body, "points", EW_KIND_COUNT, 4, 40, POINTS, &points, error))
    return FALSE;
  g_autoptr(GPtrArray) pulls = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  gboolean good = ew_desk_open(&desk, s->book, error);
  if (good && list->children->len == 0)
    good = ew_refuse(error, "pulls: give pull numbers, for example [12, 14]");
  for (guint i = 0; good && i < list->children->len; i++) {
    const char *text = ((const struct ew_node *)g_ptr_array_index(list->children, i))->text;
    good = strchr(text, ',') ? ew_refuse(error, "pulls: give pull numbers")
                             : ew_service_load(&desk, text, pulls, error);
  }
  g_free(q->speed_rpm);
  q->speeds = (int)points;
  q->speed_rpm = g_new0(double, q->speeds);
  q->torque_n_m = g_new0(double, q->speeds);
  good = good &&
         ew_predict_measured(pulls, q->speeds, &q->now.setup, q->speed_rpm, q->torque_n_m, error);
  ew_desk_clear(&desk);
  return good;
}

gboolean ew_api_predict_fit(struct ew_service *s, const struct ew_request *r,
                            struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body)
    return FALSE;
  struct ew_predict_question *q = g_new0(struct ew_predict_question, 1);
  if (!ew_predict_question_read(s, r, body, q, error) || !read_knobs(body, &q->turn, error) ||
      !read_pulls(s, body, q, error)) {
    ew_predict_question_free(q);
    return FALSE;
  }
  ew_fields_defaults(&ew_tune_fields, &q->now.setup.tune); /* a fit begins afresh */
  struct ew_job_work work = {"fit", EW_LANE_LONG, run_fit, q, ew_predict_question_free};
  return ew_predict_start(s, r, body, &work, reply, error);
}

/* { "engine": 3, "tune": {...} }; without a tune the kept one is forgotten */
gboolean ew_api_predict_keep(struct ew_service *s, const struct ew_request *r,
                             struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  struct ew_tune tune;
  struct ew_engine_row row;
  gint64 id;
  if (!body || !ew_predict_engine_id(body, &id, error) || !ew_predict_tune(body, &tune, error))
    return FALSE;
  g_autofree char *name = g_strdup_printf("%" G_GINT64_FORMAT, id);
  if (!ew_engine_get(s->book, name, &row, error))
    return FALSE;
  ew_engine_row_clear(&row);
  reply->changed = ew_tune_keep(s->book, id, ew_node_member(body, "tune") ? &tune : NULL, error);
  return reply->changed;
}
