/* What the search for a combination is worth, measured with the cycle simulation itself.
 *
 *   search_bench grid  ENGINE QUESTION OUT [options]    even designs by brute force; goes on where OUT ends
 *   search_bench ask   ENGINE QUESTION OUT [options]    one search; its designs in the order in which they were run
 *   search_bench judge QUESTION GRID ASKED...           the figures: see search_rows.h
 *   search_bench compare QUESTION GRID GRID
 *   search_bench rehearse QUESTION GRID [options]       the choice alone, of a process learned from the grid: search_rehearse.c
 *
 *   --designs N (of the grid, 10000)  --shard I/N  --seed N  --first N  --rounds N  --batch N  --cell MM  --cfl N
 *   --tolerance N  --threads N  --block N  --seeds N (rehearsed, 20)
 *
 * A row is a design: its number, round, sound or not, where it is on the axes, its figures; a torn last row is run again. */
#include "search_rows.h"
#include "desk/search.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static int designs = 10000, shard, shards = 1, block = 8192, seeds = 20;

static void stop(GError *error) {
  fprintf(stderr, "search_bench: %s\n", error->message);
  exit(2);
}

static void read_engine(const char *path, struct ew_engine *engine) {
  GError *error = NULL;
  g_autoptr(ew_node) root = ew_node_read(path, &error);
  if (!root || !ew_engine_read(root, path, engine, &error))
    stop(error);
}

static gboolean read_options(int count, char **word, struct ew_search_setup *s) {
  for (int i = 0; i + 1 < count; i += 2) {
    const char *name = word[i], *value = word[i + 1];
    int *into = strcmp(name, "--designs") == 0   ? &designs
                : strcmp(name, "--block") == 0   ? &block
                : strcmp(name, "--seeds") == 0   ? &seeds
                : strcmp(name, "--first") == 0   ? &s->first
                : strcmp(name, "--rounds") == 0  ? &s->rounds
                : strcmp(name, "--batch") == 0   ? &s->batch
                : strcmp(name, "--threads") == 0 ? &s->options.threads
                                                 : NULL;
    if (into)
      *into = atoi(value);
    else if (strcmp(name, "--seed") == 0)
      s->seed = g_ascii_strtoull(value, NULL, 10);
    else if (strcmp(name, "--cell") == 0)
      s->options.cell_m = 1e-3 * g_ascii_strtod(value, NULL);
    else if (strcmp(name, "--cfl") == 0)
      s->options.cfl = g_ascii_strtod(value, NULL);
    else if (strcmp(name, "--tolerance") == 0)
      s->options.tolerance = g_ascii_strtod(value, NULL);
    else if (strcmp(name, "--shard") != 0 || sscanf(value, "%d/%d", &shard, &shards) != 2)
      return FALSE;
  }
  return count % 2 == 0 && shard >= 0 && shard < shards && block >= 1;
}

/* ---- by brute force ---- */

static int run_grid(const struct ew_search_setup *s, const char *path) {
  int axes = (int)s->question->axes->len, wishes = (int)s->question->wishes->len;
  g_autofree double *points = g_new(double, (gsize)block *(gsize)axes);
  g_autofree double *figures = g_new(double, (gsize)block *(gsize)wishes);
  g_autofree gboolean *sound = g_new0(gboolean, block);
  struct rows before;
  rows_read(path, axes, wishes, &before);
  rows_mend(path, &before);
  int own = (designs - shard + shards - 1) / shards;
  gint64 began = g_get_monotonic_time();
  for (int at = before.count, some; at < own; at += some) {
    GError *error = NULL;
    some = MIN(block, own - at);
    if (!ew_search_even(s, (guint64)(shard + at * shards), (guint64)shards, some, points, figures,
                        sound, &error))
      stop(error);
    rows_add(path, shard + at * shards, shards, 0, points, figures, sound, some, axes, wishes);
    double seconds = 1e-6 * (double)(g_get_monotonic_time() - began);
    int done = at + some - before.count;
    printf("%d of %d designs, %.1f s, %.2f designs a second\n", at + some, own, seconds,
           done / seconds);
    fflush(stdout);
  }
  rows_clear(&before);
  return 0;
}

/* ---- one search ---- */

static int run_search(const struct ew_search_setup *s, const char *path) {
  struct ew_search_answer a;
  GError *error = NULL;
  gint64 began = g_get_monotonic_time();
  if (!ew_search(s, &a, &error))
    stop(error);
  printf("%d designs, %d unsound, %.1f s, front of %u rows, a difference of the first figure is "
         "worth %.3g\n",
         a.found.designs, a.found.unsound, 1e-6 * (double)(g_get_monotonic_time() - began),
         a.members->len, a.difference_u[0]);
  remove(path);
  for (int i = 0; i < a.found.designs; i++)
    rows_add(path, i, 1, a.found.round[i], a.found.point + i * a.ask.axes,
             a.found.figure + i * a.wishes, a.found.sound + i, 1, a.ask.axes, a.wishes);
  ew_search_answer_clear(&a);
  return 0;
}

int main(int count, char **word) {
  struct ew_search_question question;
  struct ew_search_setup s;
  struct ew_engine engine;
  GError *error = NULL;
  gboolean judge = count > 3 && strcmp(word[1], "judge") == 0;
  gboolean compare = count == 5 && strcmp(word[1], "compare") == 0;
  gboolean grid = count > 4 && strcmp(word[1], "grid") == 0;
  gboolean rehearse = count > 3 && strcmp(word[1], "rehearse") == 0;
  if (!judge && !compare && !grid && !rehearse && !(count > 4 && strcmp(word[1], "ask") == 0))
    return 2;
  const char *path = judge || compare || rehearse ? word[2] : word[3];
  g_autoptr(ew_node) root = ew_node_read(path, &error);
  if (!root || !ew_search_question_read(root, path, NULL, &question, &error))
    stop(error);
  if (judge)
    return rows_judge(&question, word + 3, count - 3);
  if (compare)
    return rows_compare(&question, word + 3);
  ew_search_setup_defaults(&s);
  s.question = &question;
  if (rehearse)
    return read_options(count - 4, word + 4, &s) && seeds >= 1
               ? rows_rehearse(&question, word[3], &s, seeds)
               : 2;
  read_engine(word[2], &engine);
  s.setup = (struct ew_prediction_setup){.engine = &engine,
                                         .lambda = NAN,
                                         .pressure_pa = NAN,
                                         .temperature_k = NAN,
                                         .vapour_pa = NAN,
                                         .spark_deg = NAN};
  ew_fields_defaults(&ew_tune_fields, &s.setup.tune);
  s.options.cell_m = 0.04;
  if (!read_options(count - 5, word + 5, &s))
    return 2;
  int code = grid ? run_grid(&s, word[4]) : run_search(&s, word[4]);
  ew_search_question_clear(&question);
  ew_engine_clear(&engine);
  return code;
}
