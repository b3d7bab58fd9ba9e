/* Runs shared out over threads and lanes.
 *
 *   jobs (models) -> tasks (plans) -> groups of one shape -> list, slowest first -> threads' lanes
 *
 * With fine cells each group runs twice: most cycles on coarse cells, the last few on the fine ones. */
#include "cycle/predict.h"
#include "base/as_pointer.h"
#include "base/error.h"
#include "cycle/pack.h"
#include "cycle/plan_parts.h"
#include "cycle/trace.h"
#include "cycle/warm.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>
#ifdef _OPENMP
#include <omp.h>
#endif

#define PULSE_M_RPM 3450.0 /* 345 m/s for the time of 60 degrees at 1 rpm */
#define PULSE_CELLS 12.0
#define SHORTEST_M  0.01
#define LONGEST_M   0.04
#define CELLS_U     0.016

double ew_cycle_cell_m(double top_speed_rpm) {
  return CLAMP(PULSE_M_RPM / PULSE_CELLS / top_speed_rpm, SHORTEST_M, LONGEST_M);
}

double ew_cycle_cells_u(double cell_m, double speed_rpm) {
  double over = cell_m * speed_rpm * PULSE_CELLS / PULSE_M_RPM;
  return CELLS_U * over * over;
}

void ew_cycle_options_defaults(struct ew_cycle_options *options) {
  *options = (struct ew_cycle_options){
      .cell_m = 0.02, .cfl = 0.85, .most_cycles = 40, .tolerance = 1e-3, .spark = EW_SPARK_BEST};
}

void ew_cycle_result_clear(struct ew_cycle_result *result) {
  ew_cycle_trace_free(result->trace);
  memset(result, 0, sizeof *result);
}

gboolean ew_cycle_options_check(const struct ew_cycle_options *o, GError **error) {
  if (!(o->cell_m >= 0.001 && o->cell_m <= 0.2))
    return ew_refuse(error, "cell length is %g m; it must be 0.001 to 0.2", o->cell_m);
  if (!(o->cfl >= 0.05 && o->cfl <= 1))
    return ew_refuse(error, "CFL number is %g; it must be 0.05 to 1", o->cfl);
  if (o->most_cycles < 3 || o->most_cycles > 10000)
    return ew_refuse(error, "most cycles is %d; it must be 3 to 10000", o->most_cycles);
  if (!(o->tolerance >= 1e-4 && o->tolerance <= 0.1))
    return ew_refuse(error, "tolerance is %g; it must be 1e-4 to 0.1", o->tolerance);
  return TRUE;
}

static gboolean check_task(const struct ew_cycle_task *task, GError **error) {
  if (!(task->speed_rpm >= 100 && task->speed_rpm <= 30000))
    return ew_refuse(error, "speed is %g rpm; it must be 100 to 30000", task->speed_rpm);
  if (task->plan->spark == EW_SPARK_GIVEN && !(task->spark_deg >= -40 && task->spark_deg <= 90))
    return ew_refuse(error,
                     "spark at %g rpm is %g degrees before top dead centre; it must be -40 to 90",
                     task->speed_rpm, task->spark_deg);
  return TRUE;
}

/* One group's runs, most work first: the list that threads take from. */
struct list {
  const struct ew_cycle_task *tasks;
  struct ew_cycle_result *results;
  struct ew_cycle_state **kept; /* by task: what the coarse pass left, for the fine one; or NULL */
  const struct ew_cycle_warm *warm; /* what runs begin from; NULL: still gas */
  struct ew_cycle_state **left;     /* by task: what the final pass leaves; NULL: nothing */
  int *order, n, next;
  enum ew_plan_grid grid;
  int done, all; /* over all groups and passes, for progress */
};

static int take(struct list *list) {
  int job = -1;
#pragma omp critical(ew_cycle_list)
  if (list->next < list->n)
    job = list->order[list->next++];
  return job;
}

static void tell(struct list *list, const struct ew_cycle_options *o) {
#pragma omp critical(ew_cycle_list)
  {
    list->done++;
    g_assert(list->done <= list->all);
    if (o->progress)
      o->progress((double)list->done / list->all, o->data);
  }
}

static gboolean cancelled(const struct ew_cycle_options *o) {
  return o->cancel && g_atomic_int_get(o->cancel) != 0;
}

static void load(struct ew_pack *pack, int l, const struct list *list, int job) {
  const struct ew_cycle_task *task = &list->tasks[job];
  struct ew_pack_start start = {NULL, NULL};
  if (list->warm && task->plan->grids == 1)
    start.state = ew_cycle_warm_at(list->warm, task->plan, task->speed_rpm, &start.of);
  else if (list->grid == EW_GRID_FINAL)
    start.state = list->kept[job];
  if (!start.state)
    start.of = NULL;
  ew_pack_load(pack, l, task->plan, task->speed_rpm, task->spark_deg, &start);
}

static void finish(struct ew_pack *pack, int l, struct list *list, int job) {
  struct ew_cycle_result *result = &list->results[job];
  if (list->grid == EW_GRID_COARSE) { /* a failed coarse run is not continued */
    struct ew_cycle_state *kept = ew_pack_keep(pack, l);
    ew_pack_take(pack, l, result);
    if (result->converged)
      list->kept[job] = kept;
    else
      ew_cycle_state_free(kept);
  } else {
    struct ew_cycle_state *left = list->left ? ew_pack_keep(pack, l) : NULL;
    ew_pack_take(pack, l, result);
    if (left && result->converged)
      list->left[job] = left;
    else
      ew_cycle_state_free(left);
  }
}

#define STEPS_A_CALL 256 /* between two looks at whether it is cancelled */

/* One thread's work: its first runs, then whatever is left on the list. */
static double run_lanes(const struct ew_cycle_backend *backend, struct list *list, const int *begin,
                        const struct ew_cycle_options *o, struct ew_cycle_effort *effort) {
  int job[EW_LANES], running = 0, first = begin[0];
  double steps = 0;
  if (first < 0)
    return 0;
  struct ew_pack *pack = ew_pack_new(backend, list->tasks[first].plan, list->grid,
                                     o->trace && list->grid == EW_GRID_FINAL);
  for (int l = 0; l < EW_LANES; l++) {
    job[l] = begin[l];
    int filler = job[l] >= 0 ? job[l] : first; /* an idle lane still holds a sound state */
    load(pack, l, list, filler);
    if (job[l] < 0)
      ew_pack_idle(pack, l);
    running += job[l] >= 0;
  }
  while (running > 0 && !cancelled(o)) {
    if (!ew_pack_step(pack, STEPS_A_CALL))
      continue;
    for (int l = 0; l < EW_LANES; l++) {
      if (job[l] < 0 || !ew_pack_finished(pack, l))
        continue;
      finish(pack, l, list, job[l]);
      steps += list->results[job[l]].steps;
      tell(list, o);
      job[l] = take(list);
      if (job[l] >= 0)
        load(pack, l, list, job[l]);
      else
        running--;
    }
  }
#pragma omp critical(ew_cycle_list)
  {
    effort->cells = ew_pack_cells(pack);
    effort->ends = ew_pack_ends(pack);
    ew_pack_effort(pack, effort);
  }
  ew_pack_free(pack);
  return steps;
}

static int thread(void) {
#ifdef _OPENMP
  return omp_get_thread_num();
#else
  return 0;
#endif
}

static int team(void) {
#ifdef _OPENMP
  return omp_get_num_threads();
#else
  return 1;
#endif
}

/* ---- many packs beside each other ---- */

#define PACKS_MOST    4096 /* what a device is asked for; it takes as many as its memory holds */
#define STEPS_AT_ONCE 20000
#define TURNS_FROM    16 /* packs that are worth two groups */

struct beside {
  struct ew_pack *pack;
  int job[EW_LANES]; /* -1: idle */
};

/* A pack's lanes at the beginning: its share of the list, the rest idle. Every lane holds a sound state. */
static void begin_beside(struct beside *b, struct list *list) {
  for (int l = 0; l < EW_LANES; l++) {
    b->job[l] = take(list);
    load(b->pack, l, list, b->job[l] >= 0 ? b->job[l] : list->order[0]);
    if (b->job[l] < 0)
      ew_pack_idle(b->pack, l);
  }
}

/* Steps of what finished; the lane takes the next run. */
static double judge_beside(struct beside *b, struct list *list, const struct ew_cycle_options *o) {
  double steps = 0;
  if (!ew_pack_judge(b->pack))
    return 0;
  for (int l = 0; l < EW_LANES; l++) {
    if (b->job[l] < 0 || !ew_pack_finished(b->pack, l))
      continue;
    finish(b->pack, l, list, b->job[l]);
    steps += list->results[b->job[l]].steps;
    tell(list, o);
    b->job[l] = take(list);
    if (b->job[l] >= 0)
      load(b->pack, l, list, b->job[l]);
  }
  return steps;
}

static gboolean any_beside(const struct beside *b, int packs) {
  for (int p = 0; p < packs; p++)
    for (int l = 0; l < EW_LANES; l++)
      if (b[p].job[l] >= 0)
        return TRUE;
  return FALSE;
}

/* A device steps all packs at once; between cycles the threads judge them. */
static void run_group_beside(const struct ew_cycle_backend *backend, struct list *list,
                             const struct ew_cycle_options *o, struct ew_cycle_effort *effort,
                             int threads, int packs) {
  g_autofree struct ew_pack **pack = g_new0(struct ew_pack *, packs);
  g_autofree struct beside *b = g_new0(struct beside, packs);
  double steps = 0;
  packs = ew_pack_new_many(backend, list->tasks[list->order[0]].plan, list->grid, packs, pack);
#pragma omp parallel for num_threads(threads) schedule(dynamic)
  for (int p = 0; p < packs; p++) {
    b[p].pack = pack[p];
    begin_beside(&b[p], list);
  }
  while (any_beside(b, packs) && !cancelled(o)) {
    ew_pack_step_many(pack, packs, STEPS_AT_ONCE);
#pragma omp parallel for num_threads(threads) schedule(dynamic) reduction(+ : steps)
    for (int p = 0; p < packs; p++)
      steps += judge_beside(&b[p], list, o);
  }
#pragma omp critical(ew_cycle_list)
  {
    effort->cells = ew_pack_cells(pack[0]);
    effort->ends = ew_pack_ends(pack[0]);
    effort->steps += steps;
    for (int p = 0; p < packs; p++)
      ew_pack_effort(pack[p], effort);
  }
  for (int p = 0; p < packs; p++)
    ew_pack_free(pack[p]);
}

/* Two groups of packs take turns, so that the device steps the one while the threads judge the other. */
static void run_beside(const struct ew_cycle_backend *backend, struct list *list,
                       const struct ew_cycle_options *o, struct ew_cycle_effort *effort,
                       int threads) {
  int packs = CLAMP((list->n + EW_LANES - 1) / EW_LANES, 1, PACKS_MOST);
  int groups = packs >= TURNS_FROM && threads > 1 ? 2 : 1;
#ifdef _OPENMP
  int levels = omp_get_max_active_levels();
  omp_set_max_active_levels(MAX(levels, 2));
#endif
#pragma omp parallel for num_threads(groups) schedule(static, 1)
  for (int g = 0; g < groups; g++)
    run_group_beside(backend, list, o, effort, threads, (packs + groups - 1) / groups);
#ifdef _OPENMP
  omp_set_max_active_levels(levels);
#endif
}

static void run_pass(const struct ew_cycle_backend *backend, struct list *list,
                     const struct ew_cycle_options *o, struct ew_cycle_effort *effort) {
  int threads = 1;
#ifdef _OPENMP
  threads = o->threads > 0 ? o->threads : omp_get_max_threads();
#endif
  threads = CLAMP(threads, 1, list->n);
  if (backend->step_many && !(o->trace && list->grid == EW_GRID_FINAL)) {
    effort->threads = MAX(effort->threads, threads);
    run_beside(backend, list, o, effort, threads);
    return;
  }
  /* The slowest runs decide when all is done: with few runs to a lane, the first thread takes only
   * half a vector of them, which steps faster. */
  int fair = CLAMP((list->n + threads - 1) / threads, 1, EW_LANES);
  gboolean hurry = threads > 1 && fair > EW_LANES / 2 && list->n < 2 * threads * EW_LANES;
  g_autofree int *begin = g_new(int, threads *EW_LANES);
  for (int t = 0; t < threads; t++)
    for (int l = 0; l < EW_LANES; l++)
      begin[t * EW_LANES + l] = l < (hurry && t == 0 ? EW_LANES / 2 : fair) ? take(list) : -1;
  effort->threads = MAX(effort->threads, threads);
  double steps = 0;
#pragma omp parallel num_threads(threads) reduction(+ : steps)
  for (int t = thread(); t < threads; t += team()) /* the team may be smaller than asked for */
    steps += run_lanes(backend, list, begin + t * EW_LANES, o, effort);
  effort->steps += steps;
}

static int slow_first(const void *a, const void *b, gpointer data) {
  const struct ew_cycle_task *tasks = data;
  double x = tasks[*(const int *)a].speed_rpm, y = tasks[*(const int *)b].speed_rpm;
  return x < y ? -1 : x > y ? 1 : *(const int *)a - *(const int *)b;
}

/* ---- groups ---- */

/* Tasks of one shape, which may share a vector: indices, in their order. O(n). */
static GPtrArray *groups_of(const struct ew_cycle_task *tasks, int n, gint64 *look_ups) {
  GPtrArray *groups = g_ptr_array_new_with_free_func((GDestroyNotify)g_array_unref);
  g_autoptr(GHashTable) by_plan = g_hash_table_new(NULL, NULL);
  g_autoptr(GHashTable) by_shape = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  for (int i = 0; i < n; i++) {
    GArray *group = g_hash_table_lookup(by_plan, tasks[i].plan);
    ++*look_ups;
    if (!group) {
      char shape[EW_CYCLE_HEX];
      ew_cycle_plan_shape(tasks[i].plan, shape);
      group = g_hash_table_lookup(by_shape, shape);
      ++*look_ups;
      if (!group) {
        group = g_array_new(FALSE, FALSE, sizeof(int));
        g_ptr_array_add(groups, group);
        g_hash_table_insert(by_shape, g_strdup(shape), group);
      }
      g_hash_table_insert(by_plan, ew_as_pointer(tasks[i].plan), group);
    }
    g_array_append_val(group, i);
  }
  return groups;
}

/* All runs of a group: on its coarse grid where it has one, then on the final one. */
static void run_group(const struct ew_cycle_backend *backend, struct list *list, GArray *group,
                      const struct ew_cycle_options *o, struct ew_cycle_effort *effort) {
  const int *task = (const int *)(void *)group->data;
  int grids = (int)list->tasks[task[0]].plan->grids;
  for (int grid = grids - 1; grid >= 0 && !cancelled(o); grid--) {
    list->grid = (enum ew_plan_grid)grid;
    list->order = (int *)(void *)group->data;
    list->n = (int)group->len;
    list->next = 0;
    g_qsort_with_data(list->order, list->n, sizeof(int), slow_first, ew_as_pointer(list->tasks));
    run_pass(backend, list, o, effort);
    for (int i = 0; i < list->n; i++) {
      if (grid > 0)
        ew_cycle_result_clear(&list->results[task[i]]);
      else
        g_clear_pointer(&list->kept[task[i]], ew_cycle_state_free);
    }
  }
}

static void run_groups(const struct ew_cycle_backend *backend, struct list *list, int n,
                       const struct ew_cycle_options *o, struct ew_cycle_effort *effort) {
  g_autoptr(GPtrArray) groups = groups_of(list->tasks, n, &effort->look_ups);
  for (guint i = 0; i < groups->len; i++)
    run_group(backend, list, g_ptr_array_index(groups, i), o, effort);
}

static gboolean all_steady(const struct list *list, int n) {
  int steady = 0;
  while (steady < n && list->results[steady].converged)
    steady++;
  return steady == n;
}

/* Where the runs before left off; all from still gas where that leads nowhere. What they leave is held for the next, unless they were cut
 * short. */
static void run_warm(const struct ew_cycle_backend *backend, struct list *list, int n,
                     const struct ew_cycle_options *o, struct ew_cycle_effort *effort) {
  g_autofree double *speed_rpm = g_new(double, n);
  list->warm = o->warm;
  list->left = g_new0(struct ew_cycle_state *, n);
  for (int i = 0; i < n; i++)
    speed_rpm[i] = list->tasks[i].speed_rpm;
  run_groups(backend, list, n, o, effort);
  if (!all_steady(list, n) && !cancelled(o)) {
    list->warm = NULL;
    list->done = 0;
    for (int i = 0; i < n; i++) {
      ew_cycle_result_clear(&list->results[i]);
      g_clear_pointer(&list->left[i], ew_cycle_state_free);
    }
    run_groups(backend, list, n, o, effort);
  }
  if (!cancelled(o)) {
    ew_cycle_warm_take(o->warm, list->tasks[0].plan, speed_rpm, list->left, n);
    memset(list->left, 0, sizeof(*list->left) * (gsize)n);
  }
  for (int i = 0; i < n; i++)
    ew_cycle_state_free(list->left[i]);
  g_clear_pointer(&list->left, g_free);
}

gboolean ew_cycle_run(const struct ew_cycle_task *tasks, int n, const struct ew_cycle_options *o,
                      struct ew_cycle_result *results, struct ew_cycle_effort *effort,
                      GError **error) {
  struct ew_cycle_effort own = {0};
  if (effort)
    *effort = own;
  memset(results, 0, sizeof *results * (gsize)MAX(n, 0));
  const struct ew_cycle_backend *backend = o->backend ? o->backend : ew_cycle_backend_choose(error);
  if (!backend)
    return FALSE;
  if (n < 1)
    return ew_refuse(error, "no speeds to predict");
  struct list list = {.tasks = tasks, .results = results};
  for (int i = 0; i < n; i++) {
    if (!check_task(&tasks[i], error))
      return FALSE;
    list.all += (int)tasks[i].plan->grids;
  }
  gint64 began = g_get_monotonic_time();
  list.kept = g_new0(struct ew_cycle_state *, n);
  if (o->warm)
    run_warm(backend, &list, n, o, &own);
  else
    run_groups(backend, &list, n, o, &own);
  for (int i = 0; i < n; i++)
    ew_cycle_state_free(list.kept[i]);
  g_free(list.kept);
  own.wall_s = 1e-6 * (double)(g_get_monotonic_time() - began);
  own.simd = backend->name;
  if (effort)
    *effort = own;
  return !cancelled(o) || ew_refuse(error, "cancelled before all %d runs were done", n);
}

void ew_cycle_task_digest(const struct ew_cycle_task *task, char *hex) {
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  double words[] = {task->speed_rpm, task->plan->spark == EW_SPARK_GIVEN ? task->spark_deg : NAN};
  ew_plan_canonical(words, sizeof words);
  g_checksum_update(sum, task->plan->digest, sizeof task->plan->digest);
  ew_cycle_digest_words(sum, words, sizeof words);
  const struct ew_cycle_backend *backend = ew_cycle_backend_choose(NULL);
  if (backend && backend->tolerance > 0) { /* its results are others, and were once further off */
    double tolerance = backend->tolerance;
    g_checksum_update(sum, (const guchar *)backend->name, -1);
    ew_cycle_digest_words(sum, &tolerance, sizeof tolerance);
  }
  g_strlcpy(hex, g_checksum_get_string(sum), EW_CYCLE_HEX);
}

/* ---- models ---- */

gboolean ew_cycle_predict_jobs(const struct ew_cycle_job *jobs, int n,
                               const struct ew_cycle_options *o, struct ew_cycle_result *results,
                               struct ew_cycle_effort *effort, GError **error) {
  g_autoptr(GPtrArray) plans = g_ptr_array_new_with_free_func((GDestroyNotify)ew_cycle_plan_free);
  g_autoptr(GHashTable) by_model = g_hash_table_new(NULL, NULL);
  g_autofree struct ew_cycle_task *tasks = g_new0(struct ew_cycle_task, MAX(n, 1));
  memset(results, 0, sizeof *results * (gsize)MAX(n, 0));
  if (effort)
    *effort = (struct ew_cycle_effort){0};
  if (!o->backend && !ew_cycle_backend_choose(error)) /* before any work */
    return FALSE;
  for (int i = 0; i < n; i++) {
    struct ew_cycle_plan *plan = g_hash_table_lookup(by_model, jobs[i].model);
    if (!plan) {
      plan = ew_cycle_plan_new(jobs[i].model, o, i ? tasks[0].plan : NULL, error);
      if (!plan)
        return FALSE;
      g_ptr_array_add(plans, plan);
      g_hash_table_insert(by_model, ew_as_pointer(jobs[i].model), plan);
    }
    tasks[i] = (struct ew_cycle_task){plan, jobs[i].speed_rpm, jobs[i].spark_deg};
  }
  gboolean good = ew_cycle_run(tasks, n, o, results, effort, error);
  if (effort) {
    effort->plans = plans->len;
    effort->look_ups += n;
  }
  return good;
}

gboolean ew_cycle_predict(const struct ew_cycle_model *model, const double *speed_rpm,
                          const double *spark_deg, int n, const struct ew_cycle_options *options,
                          struct ew_cycle_result *results, struct ew_cycle_effort *effort,
                          GError **error) {
  g_autofree struct ew_cycle_job *jobs = g_new(struct ew_cycle_job, MAX(n, 1));
  for (int i = 0; i < n; i++)
    jobs[i] = (struct ew_cycle_job){model, speed_rpm[i], spark_deg ? spark_deg[i] : NAN};
  return ew_cycle_predict_jobs(jobs, n, options, results, effort, error);
}
