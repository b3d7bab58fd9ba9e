/* Questions to the predictor, as the page asks them: read and checked here, with the book, so that the work
 * can be done without it. Internal to src/serve/api_predict*.c.
 *
 *   body --_question_read--> question --_start--> a lane of the predictor (predictor.h) --> its answer */
#pragma once
#include "desk/vary.h"
#include "serve/predictor.h"
#include "serve/service.h"

#define EW_PREDICT_CHANGES_MOST 40 /* in one question */

/* Of a first look: cells by default, and the change from cycle to cycle that counts as none (docs/methods-cycle.md, 5). */
#define EW_FOLLOW_CELL_M    0.08
#define EW_FOLLOW_TOLERANCE 0.01

/* One engine as it is to be run. */
struct ew_predict_side {
  struct ew_engine engine;
  gboolean has_engine;
  struct ew_prediction_setup setup;
  GArray *variations;
};

/* A question once it is read. */
struct ew_predict_question {
  struct ew_predict_side now, base;
  gboolean doubt, against;
  gboolean
      follows; /* a first look while somebody turns: from where this page's last one left off, at EW_FOLLOW_TOLERANCE */
  enum ew_unit_system units; /* in which turned figures are written */
  double low_rpm, high_rpm;
  struct ew_cycle_options options;
  double *speed_rpm, *torque_n_m; /* torque: measured, for a fit */
  int speeds;
  unsigned turn;
  GArray *changes;
  GPtrArray *sets;
};

/* Engine, speeds, cell length and band of a body; free what was begun whatever came. */
gboolean ew_predict_question_read(struct ew_service *service, const struct ew_request *request,
                                  struct ew_node *body, struct ew_predict_question *question,
                                  GError **error);
gboolean ew_predict_side_read(struct ew_node *map, struct ew_predict_side *side,
                              enum ew_unit_system units, GError **error);
void ew_predict_question_free(gpointer question);

/* A figure of the request: a JSON number inside, a text with any unit; `otherwise` when it is absent. */
gboolean ew_predict_figure(const struct ew_node *map, const char *key, enum ew_kind kind,
                           double low, double high, double otherwise, double *value,
                           GError **error);
/* A list of up to `most` single values; NULL with *error when it is none. */
const struct ew_node *ew_predict_list(const struct ew_node *map, const char *key, guint most,
                                      GError **error);
/* The tune that a body gives; the defaults without one. */
gboolean ew_predict_tune(const struct ew_node *map, struct ew_tune *tune, GError **error);
/* The body's "typed" with its "changes" made in it, for turns to be made after them; NULL with *error. left (struct ew_variation): changes
 * that an engine's file does not say. Once a body: some changes are by so much. */
struct ew_node *ew_predict_changed(struct ew_node *map, GArray *left, GError **error);
/* "engine", a number of the book; 0 without one. */
gboolean ew_predict_engine_id(const struct ew_node *body, gint64 *id, GError **error);
double
ew_predict_mean_ratio(const struct ew_engine *engine); /* of compression, over the cylinders */

const char *ew_predict_device(const struct ew_request *request);
/* Hands the work over and answers with the job's number; frees work->data when it can't. */
gboolean ew_predict_start(struct ew_service *service, const struct ew_request *request,
                          const struct ew_node *body, const struct ew_job_work *work,
                          struct ew_reply *reply, GError **error);
/* The question's options, with the run's own cancel and progress. */
struct ew_cycle_options ew_predict_options(const struct ew_predict_question *question,
                                           const struct ew_job_run *run);
