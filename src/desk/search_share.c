/* A search's first designs shared out: a share by number (ew_search_share), or some at a time by who hands them out (ew_search_leased). */
#include "base/error.h"
#include "desk/search_runs.h"
#include <string.h>

#define SHARE_AT_ONCE 1024 /* designs of a share, between two words of progress */

/* Its own of the first designs, in order; how many. */
static int own_points(const struct ew_search_ask *ask, int shard, int shards, double *own, int *of,
                      GError **error) {
  g_autofree double *all = g_new(double, (gsize)MAX(ask->first, 1) * (gsize)MAX(ask->axes, 1));
  int n = 0;
  *of = ew_search_first_points(ask, all, error);
  for (int i = shard; i < *of; i += shards)
    memcpy(own + n++ * ask->axes, all + i * ask->axes, sizeof(double) * (gsize)ask->axes);
  g_assert(n <= *of);
  return n;
}

/* Some of its own designs, in order. */
static gboolean run_own(struct ew_search_runs *r, const double *points, int n,
                        struct ew_search_share *share, GError **error) {
  g_autofree double *figures = g_new(double, (gsize)n *(gsize)MAX(r->answer->wishes, 1));
  g_autofree gboolean *sound = g_new0(gboolean, n);
  if (!ew_search_run_points(points, n, figures, sound, r, error))
    return FALSE;
  for (int i = 0; i < n; i++)
    share->unsound += !sound[i];
  share->designs += n;
  return TRUE;
}

static gboolean run_share(struct ew_search_runs *r, const double *points, int n,
                          struct ew_search_share *share, GError **error) {
  const struct ew_search_setup *s = r->setup;
  int axes = r->answer->ask.axes;
  for (int at = 0; at < n; at += SHARE_AT_ONCE) {
    if (!run_own(r, points + at * axes, MIN(SHARE_AT_ONCE, n - at), share, error))
      return FALSE;
    if (s->options.progress)
      s->options.progress((double)share->designs / n, s->options.data);
  }
  return TRUE;
}

static void add_line(const struct ew_kept_line *run, gpointer lines) {
  g_autofree char *line = ew_kept_line_write(run);
  g_string_append_printf(lines, "%s%s", ((GString *)lines)->len ? "\n" : "", line);
}

static gboolean run_leased(struct ew_search_runs *r, const struct ew_search_tasks *t,
                           const double *points, struct ew_search_share *share, GError **error) {
  int axes = r->answer->ask.axes, tasks = (share->of + t->each - 1) / t->each;
  struct ew_search_names names;
  ew_search_names_of(r, points, share->of, t->each, &names);
  gboolean good = t->begin(names.key, names.question, tasks, t->data, error);
  for (int task = 0; good && (good = t->next(&task, t->data, error)) && task >= 0;) {
    g_autoptr(GString) lines = g_string_new(NULL);
    g_autoptr(GError) problem = NULL;
    int from = task * t->each;
    g_assert(task < tasks);
    r->tell = add_line;
    r->tell_data = lines;
    good = run_own(r, points + from * axes, MIN(t->each, share->of - from), share, &problem);
    if (good)
      good = t->done(task, lines->str, t->data, error);
    else {
      t->failed(task, problem->message, t->data);
      g_propagate_error(error, g_steal_pointer(&problem));
    }
  }
  return good;
}

/* tasks NULL: share `shard` of `shards`. */
static gboolean run_some_first(struct ew_search_runs *r, int shard, int shards,
                               const struct ew_search_tasks *tasks, struct ew_search_share *share,
                               GError **error) {
  const struct ew_search_setup *s = r->setup;
  struct ew_search_answer *a = r->answer;
  g_autofree double *points = g_new(double, (gsize)MAX(s->first, 1) * (gsize)MAX(a->ask.axes, 1));
  int n = own_points(&a->ask, shard, shards, points, &share->of, error);
  if (share->of == 0)
    return error && g_error_matches(*error, EW_ERROR, EW_ERROR_NO)
               ? ew_search_none_allowed(r, error)
               : FALSE;
  gboolean good =
      tasks ? run_leased(r, tasks, points, share, error) : run_share(r, points, n, share, error);
  share->kept = ew_kept_file_count(r->keep);
  return good;
}

static gboolean share_of(const struct ew_search_setup *s, int shard, int shards,
                         const struct ew_search_tasks *tasks, struct ew_search_share *share,
                         GError **error) {
  struct ew_search_runs runs = {0};
  struct ew_search_answer a;
  g_assert(shard >= 0 && shard < shards);
  *share = (struct ew_search_share){0};
  if (!s->keep)
    return ew_refuse(error, "%s: give --keep FILE too; the file is all that is left of the work",
                     tasks ? "--lease" : "--shard");
  gboolean good = ew_search_prepare(s, &runs, &a, error) &&
                  run_some_first(&runs, shard, shards, tasks, share, error);
  ew_search_runs_end(&runs);
  ew_search_answer_clear(&a);
  return good;
}

gboolean ew_search_share(const struct ew_search_setup *s, int shard, int shards,
                         struct ew_search_share *share, GError **error) {
  return share_of(s, shard, shards, NULL, share, error);
}

gboolean ew_search_leased(const struct ew_search_setup *s, const struct ew_search_tasks *tasks,
                          struct ew_search_share *share, GError **error) {
  g_assert(tasks->each >= 1);
  return share_of(s, 0, 1, tasks, share, error);
}
