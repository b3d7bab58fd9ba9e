/* engine search --lease: a worker whose tasks a database hands out (shop/lease.h).
 *
 *   joined -> [take -> run, and tell every third of a lease that it is alive -> hand in] until all are done -> gathered (--gather)
 *
 * While the database does not answer, what was run waits, in the worker's own file too; after PATIENCE_S of silence it ends with 3; after FIRST_S
 * when it never answered. */
#include "cli/search_lease.h"
#include "base/error.h"
#include "base/words.h"
#include "cli/command.h"
#include "cycle/model.h"
#include "desk/kept_collect.h"
#include "shop/lease.h"
#include "shop/store.h"
#include <glib/gstdio.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#define LEASE_S    30.0
#define PATIENCE_S 600
#define FIRST_S    15 /* the same before it answered once: a wrong address is reported soon */
#define LOOK_S     1  /* between two looks, while others hold what is left */

struct worker {
  const char *address;
  char *name;
  const gint *stop;
  double lease_s;
  int each;
  gboolean again; /* tasks that were set aside are to be tried again */
  struct ew_leases *leases;
  char *key, *question;
  struct ew_lease_search search;
  gboolean joined, begun;       /* begun: the database was there once */
  gint64 done, silent_since_us; /* tasks of this one; 0: the database answers */
  /* shared with the thread that beats */
  GMutex lock;
  GCond changed;
  gint64 at_work; /* -1: nothing */
  gboolean over;
};

static gboolean is_stopped(const struct worker *w) {
  return w->stop && g_atomic_int_get(w->stop);
}

/* ---- alive ---- */

static gboolean joined_by(struct ew_leases *leases, const struct worker *w, GError **error) {
  gboolean joined;
  return leases && ew_leases_begin(leases, &w->search, &joined, error);
}

/* On a connection of its own, which is made again whenever it is lost. */
static gpointer beat(gpointer data) {
  struct worker *w = data;
  struct ew_leases *own = NULL;
  g_mutex_lock(&w->lock);
  while (!w->over) {
    gint64 until = g_get_monotonic_time() + (gint64)(w->lease_s / 3 * G_USEC_PER_SEC);
    while (!w->over && g_cond_wait_until(&w->changed, &w->lock, until))
      ;
    gint64 task = w->at_work;
    if (w->over || task < 0)
      continue;
    g_mutex_unlock(&w->lock);
    gboolean mine;
    if (!own && !joined_by(own = ew_leases_open(w->address, w->stop, NULL), w, NULL))
      g_clear_pointer(&own, ew_leases_close);
    if (own && !ew_leases_beat(own, w->name, task, w->lease_s, &mine, NULL))
      g_clear_pointer(&own, ew_leases_close);
    g_mutex_lock(&w->lock);
  }
  g_mutex_unlock(&w->lock);
  ew_leases_close(own);
  return NULL;
}

static void works_at(struct worker *w, gint64 task) {
  g_mutex_lock(&w->lock);
  w->at_work = task;
  g_cond_signal(&w->changed);
  g_mutex_unlock(&w->lock);
}

/* ---- the database may be gone for a while ---- */

static void note(const char *text) {
  fprintf(stderr, "enginewright: %s\n", text);
}

/* After a failure that may pass: waits and says TRUE, to try again with a new connection; FALSE, *error kept, when there is no use. */
static gboolean worth_trying(struct worker *w, GError **error) {
  gint64 now = g_get_monotonic_time();
  if (is_stopped(w) || !g_error_matches(*error, EW_ERROR, EW_ERROR_INTERNAL))
    return FALSE;
  if (w->silent_since_us == 0 && w->begun)
    note(ew_tr("the database does not answer; what was run is kept, and it is asked again for ten "
               "minutes"));
  if (w->silent_since_us == 0)
    w->silent_since_us = now;
  if (now - w->silent_since_us > (gint64)(w->begun ? PATIENCE_S : FIRST_S) * G_USEC_PER_SEC)
    return FALSE;
  g_clear_error(error);
  g_clear_pointer(&w->leases, ew_leases_close);
  for (int i = 0; i < 10 && !is_stopped(w); i++)
    g_usleep(G_USEC_PER_SEC / 20);
  return TRUE;
}

static gboolean reach(struct worker *w, GError **error) {
  if (w->leases)
    return TRUE;
  w->leases = ew_leases_open(w->address, w->stop, error);
  return w->leases && (!w->begun || joined_by(w->leases, w, error));
}

typedef gboolean (*ask)(struct worker *w, gpointer about, GError **error);

static gboolean asked(struct worker *w, ask one, gpointer about, GError **error) {
  g_autoptr(GError) problem = NULL;
  while (!(reach(w, &problem) && one(w, about, &problem)))
    if (!worth_trying(w, &problem)) {
      g_propagate_error(error, g_steal_pointer(&problem));
      return FALSE;
    }
  w->silent_since_us = 0;
  return TRUE;
}

/* ---- the tasks ---- */

static gboolean ask_begin(struct worker *w, gpointer about, GError **error) {
  (void)about;
  gint64 opened;
  return ew_leases_begin(w->leases, &w->search, &w->joined, error) &&
         (!w->again || ew_leases_again(w->leases, &opened, error));
}

static gboolean ask_count(struct worker *w, gpointer counts, GError **error) {
  return ew_leases_count(w->leases, counts, error);
}

static gboolean begin(const char *key, const char *question, int tasks, gpointer data,
                      GError **error) {
  struct worker *w = data;
  struct ew_lease_counts counts = {0};
  w->key = g_strdup(key);
  w->question = g_strdup(question);
  w->search = (struct ew_lease_search){w->key, w->question, EW_CYCLE_PHYSICS, tasks};
  if (!asked(w, ask_begin, NULL, error) || !asked(w, ask_count, &counts, error))
    return FALSE;
  w->begun = TRUE;
  g_autofree char *says =
      w->joined
          ? ew_words("joins a search of %d tasks, of which %d are done", tasks, (int)counts.done)
          : ew_words("begins a search of %d tasks in this database; every worker with the same "
                     "engine, question and program joins it",
                     tasks);
  note(says);
  return TRUE;
}

struct taking {
  gint64 task;
  struct ew_lease_counts counts;
};

static gboolean ask_take(struct worker *w, gpointer about, GError **error) {
  struct taking *t = about;
  return ew_leases_take(w->leases, w->name, w->lease_s, &t->task, error) &&
         (t->task >= 0 || ew_leases_count(w->leases, &t->counts, error));
}

/* Waits while others hold what is left: who of them dies leaves it to this one. */
static gboolean next(int *task, gpointer data, GError **error) {
  struct worker *w = data;
  struct taking t = {-1, {0}};
  for (;;) {
    if (is_stopped(w))
      return ew_fail(error, "stopped; what was run is kept, and the same line goes on");
    if (!asked(w, ask_take, &t, error))
      return FALSE;
    if (t.task >= 0 || t.counts.leased == 0)
      break;
    g_usleep(LOOK_S * G_USEC_PER_SEC / 4);
  }
  *task = (int)t.task;
  works_at(w, t.task);
  return TRUE;
}

struct handing {
  int task;
  const char *lines;
};

static gboolean ask_done(struct worker *w, gpointer about, GError **error) {
  const struct handing *h = about;
  return ew_leases_done(w->leases, w->name, h->task, h->lines, error);
}

static gboolean done(int task, const char *lines, gpointer data, GError **error) {
  struct worker *w = data;
  struct handing handing = {task, lines};
  gboolean good = asked(w, ask_done, &handing, error);
  works_at(w, -1);
  w->done += good;
  return good;
}

/* On a connection of its own: the other may be stopped, or in the middle of something. */
static void failed(int task, const char *why, gpointer data) {
  struct worker *w = data;
  works_at(w, -1);
  g_autoptr(ew_leases) own = ew_leases_open(w->address, NULL, NULL);
  if (joined_by(own, w, NULL))
    ew_leases_failed(own, w->name, task, is_stopped(w) ? NULL : why, NULL);
}

/* ---- gathered ---- */

struct gathering {
  FILE *file;
  gint64 lines;
};

static gboolean write_line(const char *line, gpointer data, GError **error) {
  struct gathering *g = data;
  g->lines++;
  return fprintf(g->file, "%s\n", line) > 0 ||
         ew_fail(error, "--gather: the disk takes nothing more");
}

static gboolean ask_read(struct worker *w, gpointer file, GError **error) {
  struct gathering g = {file, 0};
  rewind(g.file);
  return (ftruncate(fileno(g.file), 0) == 0 && fprintf(g.file, "%s\n", EW_SEARCH_RUNS_HEAD) > 0) ||
                 ew_fail(error, "--gather: the disk takes nothing more")
             ? ew_leases_read(w->leases, write_line, &g, error) &&
                   (fflush(g.file) == 0 || ew_fail(error, "--gather: the disk takes nothing more"))
             : FALSE;
}

/* Beside the file that it becomes, and then as 'engine collect' would: so it has the bytes of shares that were collected. */
static gboolean gather(struct worker *w, const char *into, GError **error) {
  struct ew_kept_collected counts;
  g_autofree char *path = g_strdup_printf("%s.part-%d", into, (int)getpid());
  char *const files[] = {path};
  FILE *file = fopen(path, "w+e");
  if (!file)
    return ew_refuse(error, "--gather %s: cannot be written there", into);
  gboolean good = asked(w, ask_read, file, error);
  fclose(file);
  good = good && ew_kept_collect(files, 1, into, EW_SEARCH_RUNS_HEAD, &counts, error);
  g_remove(path);
  return good;
}

/* ---- asked ---- */

static gboolean read_options(const struct ew_call *call, struct worker *w, GError **error) {
  double each;
  if (!ew_call_quantity(call, "lease-time", EW_KIND_TIME, LEASE_S, &w->lease_s, error) ||
      !ew_call_quantity(call, "task", EW_KIND_COUNT, 8, &each, error))
    return FALSE;
  if (!(w->lease_s >= 1 && w->lease_s <= 3600))
    return ew_refuse(error, "--lease-time '%s': write 1 s to 1 h",
                     ew_call_option(call, "lease-time"));
  if (!(each >= 1 && each <= 8192))
    return ew_refuse(error, "--task %.0f: 1 to 8,192 designs at a time", each);
  w->each = (int)each;
  w->again = ew_call_has(call, "again");
  return ew_shop_check_address(w->address, error);
}

static void say_worked(const struct ew_call *call, const struct worker *w,
                       const struct ew_search_share *share, const struct ew_lease_counts *counts) {
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "tasks", counts->tasks);
    ew_json_integer(&json, "done", counts->done);
    ew_json_integer(&json, "set_aside", counts->aside);
    ew_json_integer(&json, "own_tasks", w->done);
    ew_json_integer(&json, "designs", share->designs);
    ew_json_integer(&json, "unsound", share->unsound);
    ew_json_integer(&json, "runs_taken", share->kept.taken);
    ew_answer_end(&json);
    return;
  }
  ew_say("%d of %d tasks were this worker's: %d designs, %d of them did not settle.", (int)w->done,
         (int)counts->tasks, share->designs, share->unsound);
  if (share->kept.taken > 0)
    ew_say("Kept before and taken: %" G_GINT64_FORMAT " runs.", share->kept.taken);
  if (ew_call_has(call, "gather"))
    ew_say("All runs are in %s: 'engine search' with --keep and that file answers.",
           ew_call_option(call, "gather"));
}

static gboolean all_done(struct worker *w, const struct ew_lease_counts *counts, GError **error) {
  if (counts->done == counts->tasks)
    return TRUE;
  g_autofree char *why = w->leases ? ew_leases_why(w->leases) : NULL;
  return ew_answer_no(error,
                      "%d of %d tasks were set aside, each after %d workers that ended without "
                      "handing it in%s%s; when the cause is mended, --again opens them",
                      (int)(counts->tasks - counts->done), (int)counts->tasks, EW_LEASE_TRIES,
                      why ? ": " : "", why ? why : "");
}

gboolean ew_call_search_lease(const struct ew_call *call, const struct ew_search_setup *setup,
                              GError **error) {
  struct ew_search_share share;
  struct ew_lease_counts counts = {0};
  struct worker w = {
      .address = ew_call_option(call, "lease"), .stop = setup->options.cancel, .at_work = -1};
  if (!read_options(call, &w, error))
    return FALSE;
  const char *into = ew_call_option(call, "gather");
  if (into && !ew_call_place(into, error))
    return FALSE;
  struct ew_search_tasks tasks = {w.each, begin, next, done, failed, &w};
  w.name = g_uuid_string_random();
  g_mutex_init(&w.lock);
  g_cond_init(&w.changed);
  GThread *alive = g_thread_new("lease", beat, &w);
  gboolean good = ew_search_leased(setup, &tasks, &share, error) &&
                  asked(&w, ask_count, &counts, error) && all_done(&w, &counts, error) &&
                  (!into || gather(&w, into, error));
  g_mutex_lock(&w.lock);
  w.over = TRUE;
  g_cond_signal(&w.changed);
  g_mutex_unlock(&w.lock);
  g_thread_join(alive);
  if (good)
    say_worked(call, &w, &share, &counts);
  g_mutex_clear(&w.lock);
  g_cond_clear(&w.changed);
  ew_leases_close(w.leases);
  g_free(w.name);
  g_free(w.key);
  g_free(w.question);
  return good;
}
