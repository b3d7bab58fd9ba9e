/* Long work behind the page: predictions, fits, what-ifs and whether the book is whole, away from the main loop and from the
 * worker thread that has the book.
 *
 *   waiting --a lane is free--> running --> done | refused
 *      \-- a newer one of the same page and kind, or "cancel" --> cancelled
 *
 * Two lanes, a thread each (which gives its runs all processors): what follows a slider never waits for
 * a search. The lanes' threads run at a lower priority than recording and the page. Bounds: 16 jobs
 * alive, 6 of one device, 10 minutes each; the last 32 answers are held. Viewers get the event "job" when
 * one goes on or ends; its answer is asked for by number. */
#pragma once
#include "serve/http.h"

struct ew_cycle_warm;
struct ew_predictor; /* opaque */

enum ew_lane { EW_LANE_QUICK, EW_LANE_LONG };

/* What a job does, in the lane's thread: members of its answer go into `json`. It has to heed
 * `cancel`, and may tell the share done. */
struct ew_job_run {
  const gint *cancel;
  void (*progress)(double share, gpointer data);
  gpointer progress_data;
  struct ew_cycle_warm *warm; /* where this page's last runs left off; NULL in the long lane */
};
struct ew_job_work {
  const char *kind; /* static: "predict" */
  enum ew_lane lane;
  gboolean (*run)(gpointer data, const struct ew_job_run *run, struct ew_json *json,
                  GError **error);
  gpointer data;
  GDestroyNotify free;
  const char *instead; /* static: what is said when it took too long; NULL: of a prediction */
};

struct ew_predictor *ew_predictor_new(struct ew_http *http); /* main thread */
/* Cancels all and waits for the lanes. */
void ew_predictor_free(struct ew_predictor *predictor);

/* The rest from any thread. The job's number, or 0 with an error; `work` is taken either way. An older
 * job of the same device, page and kind is cancelled. */
gint64 ew_predictor_start(struct ew_predictor *predictor, const char *device, const char *page,
                          const struct ew_job_work *work, GError **error);
/* Refuses a number that is not held, or another device's. */
gboolean ew_predictor_cancel(struct ew_predictor *predictor, gint64 id, const char *device,
                             GError **error);
/* job, kind, state, share, refused, answer. */
gboolean ew_predictor_write_json(struct ew_predictor *predictor, gint64 id, struct ew_json *json,
                                 GError **error);
