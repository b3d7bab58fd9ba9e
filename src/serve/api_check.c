/* All that looks wrong in the book, from the page: `book check` as a job, as it computes each pull again from raw. */
#include "base/error.h"
#include "desk/book_check.h"
#include "serve/predictor.h"
#include "serve/service.h"

struct asked {
  char *path;
  enum ew_unit_system units;
};

static void asked_free(gpointer data) {
  struct asked *a = data;
  g_free(a->path);
  g_free(a);
}

/* In the lane's thread, with a connection of its own. */
static gboolean run_check(gpointer data, const struct ew_job_run *run, struct ew_json *json,
                          GError **error) {
  const struct asked *a = data;
  struct ew_desk desk = {0};
  g_autoptr(ew_book) book = ew_book_open(a->path, FALSE, error);
  const struct ew_check_ask ask = {.raw = TRUE,
                                   .progress = run->progress,
                                   .progress_data = run->progress_data,
                                   .cancel = run->cancel};
  g_autoptr(GArray) rows =
      book && ew_desk_open(&desk, book, error) ? ew_book_check(&desk, &ask, error) : NULL;
  if (rows)
    ew_book_check_json(rows, "findings", a->units, json);
  ew_desk_clear(&desk);
  return rows != NULL;
}

/* One at a time, as `verify`: asked again, by whomever, the one under way gives way. */
gboolean ew_api_check(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                      GError **error) {
  struct asked *a = g_new0(struct asked, 1);
  a->path = g_strdup(ew_book_path(s->book));
  a->units = ew_service_units(s, r);
  struct ew_job_work work = {.kind = "check",
                             .lane = EW_LANE_LONG,
                             .run = run_check,
                             .data = a,
                             .free = asked_free,
                             .instead =
                                 EW_TEXT("not done within 10 minutes: stop the server and use "
                                         "'enginewright book check', which has no limit")};
  gint64 id = ew_predictor_start(s->predictor, "check", "check", &work, error);
  ew_json_integer(&reply->json, "job", id);
  return id != 0;
}
