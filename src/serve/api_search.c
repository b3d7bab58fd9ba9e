/* A question to the search, from the page: run as a long job (predictor.h), so that what follows a slider never waits for it.
 *
 * The body is that of a prediction ("typed", "tune", "pressure", ...) with "question", an object as desk/search_question.h has it, and
 * how many designs. Nothing of it is kept. */
#include "base/error.h"
#include "base/language.h"
#include "base/node_change.h"
#include "desk/search.h"
#include "desk/shelf.h"
#include "serve/predict_question.h"
#include <math.h>

struct asked {
  struct ew_predict_question *side; /* its engine and air */
  gboolean has_question;
  struct ew_search_question question;
  struct ew_search_setup setup;
};

static void asked_free(gpointer data) {
  struct asked *q = data;
  if (q->has_question)
    ew_search_question_clear(&q->question);
  ew_predict_question_free(q->side);
  g_free(q);
}

static gboolean run_search(gpointer data, const struct ew_job_run *run, struct ew_json *json,
                           GError **error) {
  struct asked *q = data;
  struct ew_search_answer answer;
  struct ew_search_setup setup = q->setup;
  setup.options.cancel = run->cancel;
  setup.options.progress = run->progress;
  setup.options.data = run->progress_data;
  if (!ew_search(&setup, &answer, error))
    return FALSE;
  ew_search_answer_write_json(&setup, &answer, json);
  ew_search_answer_clear(&answer);
  return TRUE;
}

static gboolean read_asked(struct ew_node *body, const GPtrArray *shelf, struct asked *q,
                           enum ew_unit_system units, GError **error) {
  const struct ew_node *question = ew_node_member(body, "question");
  double first, rounds, batch, seed;
  if (!question)
    return ew_refuse(error, "question: say what may be changed, and what is wanted");
  if (!ew_predict_side_read(body, &q->side->now, units, error))
    return FALSE;
  q->has_question = ew_search_question_read(question, "question", shelf, &q->question, error);
  if (!q->has_question ||
      !ew_predict_figure(body, "first", EW_KIND_COUNT, 8, 500, 40, &first, error) ||
      !ew_predict_figure(body, "rounds", EW_KIND_COUNT, 0, 20, 3, &rounds, error) ||
      !ew_predict_figure(body, "batch", EW_KIND_COUNT, 1, 50, 15, &batch, error) ||
      !ew_predict_figure(body, "seed", EW_KIND_COUNT, 0, 1e9, 1, &seed, error))
    return FALSE;
  ew_search_setup_defaults(&q->setup);
  q->setup.setup = q->side->now.setup;
  q->setup.question = &q->question;
  q->setup.options.cell_m = 0.04;
  q->setup.first = (int)first;
  q->setup.rounds = (int)rounds;
  q->setup.batch = (int)batch;
  q->setup.seed = (guint64)seed;
  q->setup.setup.spark_deg = q->question.spark == EW_SPARK_GIVEN ? q->question.spark_deg : NAN;
  return TRUE;
}

gboolean ew_api_predict_search(struct ew_service *s, const struct ew_request *r,
                               struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body)
    return FALSE;
  g_autoptr(GPtrArray) shelf = ew_shelf_load(s->book, NULL, error);
  if (!shelf || !ew_shelf_take_prices(s->book, shelf, NULL, error))
    return FALSE;
  struct asked *q = g_new0(struct asked, 1);
  q->side = g_new0(struct ew_predict_question, 1);
  if (!read_asked(body, shelf, q, ew_service_units(s, r), error)) {
    asked_free(q);
    return FALSE;
  }
  struct ew_job_work work = {
      "search",
      EW_LANE_LONG,
      run_search,
      q,
      asked_free,
      EW_TEXT("this search took longer than ten minutes: ask for fewer designs or speeds")};
  return ew_predict_start(s, r, body, &work, reply, error);
}
