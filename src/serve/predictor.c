/* Jobs in two lanes and their end. A job is changed under the mutex only, but for its cancel flag, which is atomic;
 * its answer is written once, by the lane, and freed with the job. States, bounds and priorities: predictor.h. */
#include "serve/predictor.h"
#include "base/error.h"
#include "base/language.h"
#include "serve/followed.h"
#include <math.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#define ALIVE_MOST  16
#define DEVICE_MOST 6
#define HELD        32
#define LONGEST_US  (600 * G_USEC_PER_SEC)
#define TELL_MS     100

enum state { WAITING, RUNNING, DONE, REFUSED, CANCELLED };
static const char *const state_names[] = {"waiting", "running", "done", "refused", "cancelled"};

/* One job; everything but `cancel` under the predictor's mutex. */
struct job {
  struct ew_predictor *home;
  gint64 id, since_us;
  char *device, *page;
  struct ew_job_work work;
  const ew_language *language; /* of whoever asked: the lane's thread takes it for this job */
  enum state state;
  double share, told;
  gboolean tell; /* its state changed and viewers were not told */
  gboolean left; /* no lane holds its address: it ended, or was cancelled before one took it */
  char *refused, *answer;
  gint cancel;
};

/* A thread that takes the oldest waiting job of its lane until there is none, so that a cancelled one waits for nothing. */
struct lane {
  struct ew_predictor *home;
  enum ew_lane which;
  GThreadPool *pool;
  gboolean awake; /* it looks once more before it rests; under the mutex */
};

struct ew_predictor {
  struct ew_http *http;
  guint timer;
  GMutex mutex;
  GQueue jobs; /* struct job*, oldest first */
  gint64 last;
  struct lane lane[2];
  struct ew_followed *followed; /* of the quick lane's thread alone */
};

/* By how much the lanes give way to the rest of the server: somebody waits at a slider, nobody at a search. */
static const int lower[] = {[EW_LANE_QUICK] = 2, [EW_LANE_LONG] = 10};

static gboolean alive(const struct job *j) {
  return j->state == WAITING || j->state == RUNNING;
}

/* With the mutex held, after each arrow of the diagram in predictor.h. */
static void check_job(const struct job *j) {
  g_assert((j->state == DONE) == (j->answer != NULL));
  g_assert((j->state == REFUSED) == (j->refused != NULL));
  g_assert(!j->left || !alive(j)); /* a lane leaves what has ended, and nothing else */
  g_assert(j->state != RUNNING || j->since_us > 0);
}

static void job_free(gpointer data) {
  struct job *j = data;
  if (j->work.free)
    j->work.free(j->work.data);
  g_free(j->device);
  g_free(j->page);
  g_free(j->refused);
  g_free(j->answer);
  g_free(j);
}

/* ---- to the viewers, in the main thread ---- */

static char *news_of(struct job *j) {
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  ew_json_integer(&json, "job", j->id);
  ew_json_text(&json, "state", state_names[j->state]);
  ew_json_number(&json, "share", j->share);
  ew_json_close(&json);
  j->tell = FALSE;
  j->told = j->share;
  return g_string_free(json.text, FALSE);
}

static void tell_viewers(struct ew_predictor *p) {
  g_autoptr(GPtrArray) news = g_ptr_array_new_with_free_func(g_free);
  gint64 now = g_get_monotonic_time();
  g_mutex_lock(&p->mutex);
  for (GList *l = p->jobs.head; l; l = l->next) {
    struct job *j = l->data;
    if (j->state == RUNNING && now - j->since_us > LONGEST_US)
      g_atomic_int_set(&j->cancel, 1);
    if (j->tell || (j->state == RUNNING && fabs(j->share - j->told) >= 0.02))
      g_ptr_array_add(news, news_of(j));
  }
  g_mutex_unlock(&p->mutex);
  for (guint i = 0; i < news->len; i++)
    ew_http_publish(p->http, "job", g_ptr_array_index(news, i));
}

static gboolean on_timer(gpointer user) {
  tell_viewers(user);
  return G_SOURCE_CONTINUE;
}

static gboolean on_ended(gpointer user) {
  tell_viewers(user);
  return G_SOURCE_REMOVE;
}

/* ---- in a lane's thread ---- */

static void on_progress(double share, gpointer data) {
  struct job *j = data;
  g_mutex_lock(&j->home->mutex);
  j->share = share;
  g_mutex_unlock(&j->home->mutex);
}

/* The next, which runs from here on; NULL: the lane rests. O(jobs held). */
static struct job *begin(struct lane *lane) {
  struct ew_predictor *p = lane->home;
  struct job *next = NULL;
  g_mutex_lock(&p->mutex);
  for (GList *l = p->jobs.head; l && !next; l = l->next) {
    struct job *j = l->data;
    if (j->state == WAITING && j->work.lane == lane->which)
      next = j;
  }
  if (next) {
    next->state = RUNNING;
    next->since_us = g_get_monotonic_time();
    check_job(next);
  } else
    lane->awake = FALSE;
  g_mutex_unlock(&p->mutex);
  return next;
}

static void finish(struct job *j, char *answer, GError *error) {
  struct ew_predictor *p = j->home;
  g_mutex_lock(&p->mutex);
  g_assert(j->state == RUNNING && (answer || error));
  gboolean late = g_get_monotonic_time() - j->since_us > LONGEST_US;
  if (answer)
    j->state = DONE;
  else if (g_atomic_int_get(&j->cancel) && !late)
    j->state = CANCELLED;
  else
    j->state = REFUSED;
  j->answer = answer;
  j->refused =
      j->state != REFUSED ? NULL
      : late              ? g_strdup(ew_tr(j->work.instead ? j->work.instead
                                                           : EW_TEXT("not done within 10 minutes: ask for fewer "
                                                                                  "speeds, fewer variants or longer cells")))
                          : ew_error_says(error, EW_AT_PAGE);
  j->share = 1;
  j->tell = j->left = TRUE;
  check_job(j);
  g_mutex_unlock(&p->mutex);
}

static void run_job(struct job *j) {
  struct ew_predictor *p = j->home;
  struct ew_json json = {.text = g_string_new(NULL)};
  struct ew_job_run run = {.cancel = &j->cancel, .progress = on_progress, .progress_data = j};
  if (j->work.lane == EW_LANE_QUICK)
    run.warm = ew_followed_of(p->followed, j->device, j->page);
  GError *error = NULL;
  ew_json_open(&json, NULL);
  const ew_language *former = ew_language_of_thread(j->language);
  gboolean good = j->work.run(j->work.data, &run, &json, &error);
  ew_json_close(&json);
  finish(j, g_string_free(json.text, !good), error); /* may be freed from here on */
  ew_language_of_thread(former);
  g_clear_error(&error);
  g_idle_add(on_ended, p);
}

static void run_lane(gpointer data, gpointer user) {
  struct lane *lane = data;
  (void)user;
  /* Linux gives each thread its own niceness, and the threads that it makes inherit it; the process's number names its first thread. */
  int server = getpriority(PRIO_PROCESS, (id_t)getpid());
  setpriority(PRIO_PROCESS, (id_t)gettid(), server + lower[lane->which]);
  for (struct job *j; (j = begin(lane));)
    run_job(j);
}

/* ---- asked ---- */

struct ew_predictor *ew_predictor_new(struct ew_http *http) {
  struct ew_predictor *p = g_new0(struct ew_predictor, 1);
  p->http = http;
  g_mutex_init(&p->mutex);
  g_queue_init(&p->jobs);
  p->followed = ew_followed_new();
  for (int i = 0; i < 2; i++)
    p->lane[i] = (struct lane){.home = p,
                               .which = (enum ew_lane)i,
                               .pool = g_thread_pool_new(run_lane, NULL, 1, TRUE, NULL)};
  p->timer = g_timeout_add(TELL_MS, on_timer, p);
  return p;
}

static void cancel(struct job *j) {
  g_atomic_int_set(&j->cancel, 1);
  if (j->state == WAITING) {
    j->state = CANCELLED;
    j->tell = j->left = TRUE;
  }
  check_job(j);
}

void ew_predictor_free(struct ew_predictor *p) {
  if (!p)
    return;
  g_source_remove(p->timer);
  g_mutex_lock(&p->mutex);
  for (GList *l = p->jobs.head; l; l = l->next)
    cancel(l->data);
  g_mutex_unlock(&p->mutex);
  for (int i = 0; i < 2; i++)
    g_thread_pool_free(p->lane[i].pool, FALSE, TRUE);
  while (g_idle_remove_by_data(p))
    ;
  g_queue_clear_full(&p->jobs, job_free);
  ew_followed_free(p->followed);
  g_mutex_clear(&p->mutex);
  g_free(p);
}

/* The oldest answers are let go when there are too many. A job that its lane has not left stays, as the
 * lane holds its address. */
static void let_go(struct ew_predictor *p) {
  for (GList *l = p->jobs.head, *next; l && p->jobs.length > HELD; l = next) {
    struct job *j = l->data;
    next = l->next;
    if (j->left) {
      g_assert(!alive(j)); /* its lane holds the address of the others */
      job_free(j);
      g_queue_delete_link(&p->jobs, l);
    }
  }
}

static gboolean has_room(struct ew_predictor *p, const char *device, GError **error) {
  int all = 0, own = 0;
  for (GList *l = p->jobs.head; l; l = l->next) {
    const struct job *j = l->data;
    all += alive(j);
    own += alive(j) && strcmp(j->device, device) == 0;
  }
  if (own < DEVICE_MOST && all < ALIVE_MOST)
    return TRUE;
  return ew_answer_no(
      error,
      "%d predictions are under way, %d of them from this device (at most %d and %d): wait for "
      "one, or cancel it",
      all, own, ALIVE_MOST, DEVICE_MOST);
}

gint64 ew_predictor_start(struct ew_predictor *p, const char *device, const char *page,
                          const struct ew_job_work *work, GError **error) {
  g_mutex_lock(&p->mutex);
  for (GList *l = p->jobs.head; l; l = l->next) {
    struct job *j = l->data;
    if (alive(j) && strcmp(j->device, device) == 0 && strcmp(j->page, page) == 0 &&
        strcmp(j->work.kind, work->kind) == 0)
      cancel(j);
  }
  let_go(p);
  gboolean good = has_room(p, device, error);
  struct job *j = good ? g_new0(struct job, 1) : NULL;
  if (j) {
    *j = (struct job){.home = p,
                      .id = ++p->last,
                      .device = g_strdup(device),
                      .page = g_strdup(page),
                      .work = *work,
                      .language = ew_language_now()};
    g_queue_push_tail(&p->jobs, j);
    g_assert(work->lane < G_N_ELEMENTS(p->lane) && j->id > 0);
    struct lane *lane = &p->lane[work->lane];
    if (!lane->awake)
      g_thread_pool_push(lane->pool, lane, NULL);
    lane->awake = TRUE;
  } else if (work->free)
    work->free(work->data);
  gint64 id = j ? j->id : 0;
  g_mutex_unlock(&p->mutex);
  return id;
}

static struct job *find(struct ew_predictor *p, gint64 id, GError **error) {
  for (GList *l = p->jobs.head; l; l = l->next)
    if (((struct job *)l->data)->id == id)
      return l->data;
  ew_refuse(error, "job %" G_GINT64_FORMAT " is no longer held; ask again", id);
  return NULL;
}

gboolean ew_predictor_cancel(struct ew_predictor *p, gint64 id, const char *device,
                             GError **error) {
  g_mutex_lock(&p->mutex);
  struct job *j = find(p, id, error);
  gboolean good = j && (strcmp(j->device, device) == 0 ||
                        ew_refuse(error, "job %" G_GINT64_FORMAT " belongs to another device", id));
  if (good && alive(j))
    cancel(j);
  g_mutex_unlock(&p->mutex);
  return good;
}

gboolean ew_predictor_write_json(struct ew_predictor *p, gint64 id, struct ew_json *json,
                                 GError **error) {
  g_mutex_lock(&p->mutex);
  const struct job *j = find(p, id, error);
  if (j) {
    ew_json_integer(json, "job", j->id);
    ew_json_text(json, "kind", j->work.kind);
    ew_json_text(json, "state", state_names[j->state]);
    ew_json_number(json, "share", j->share);
    ew_json_text(json, "refused", j->refused);
    if (j->answer)
      g_string_append_printf(json->text, ",\"answer\":%s", j->answer);
  }
  g_mutex_unlock(&p->mutex);
  return j != NULL;
}
