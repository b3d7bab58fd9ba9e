#include "cycle/predict.h"
#include "base/error.h"
#include "cycle/pack.h"
#include "cycle/trace.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>
#ifdef _OPENMP
#include <omp.h>
#endif

void ew_cycle_options_defaults(struct ew_cycle_options *options) {
  *options = (struct ew_cycle_options){
      .cell_m = 0.02, .cfl = 0.85, .most_cycles = 40, .tolerance = 1e-3, .spark = EW_SPARK_BEST};
}

void ew_cycle_result_clear(struct ew_cycle_result *result) {
  ew_cycle_trace_free(result->trace);
  memset(result, 0, sizeof *result);
}

static gboolean check_options(const struct ew_cycle_options *o, GError **error) {
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

static gboolean check_job(const struct ew_cycle_job *job, const struct ew_cycle_options *o,
                          GError **error) {
  if (!(job->speed_rpm >= 100 && job->speed_rpm <= 30000))
    return ew_refuse(error, "speed is %g rpm; it must be 100 to 30000", job->speed_rpm);
  if (o->spark == EW_SPARK_GIVEN && !(job->spark_deg >= -40 && job->spark_deg <= 90))
    return ew_refuse(error,
                     "spark at %g rpm is %g degrees before top dead centre; it must be -40 to 90",
                     job->speed_rpm, job->spark_deg);
  return TRUE;
}

/* One layout's runs, most work first: the list that threads take from. */
struct list {
  const struct ew_cycle_job *jobs;
  struct ew_plan **plan; /* by job */
  struct ew_cycle_result *results;
  struct ew_kept **kept; /* by job: what the coarse pass left, for the fine one; or NULL */
  int *order, n, next;
  gboolean coarse;
  int done, all, parts; /* over all layouts and passes, for progress */
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
    if (o->progress)
      o->progress((double)list->done / list->all / list->parts, o->data);
  }
}

static gboolean cancelled(const struct ew_cycle_options *o) {
  return o->cancel && g_atomic_int_get(o->cancel) != 0;
}

static void load(struct ew_pack *pack, int l, const struct list *list, int job) {
  ew_pack_load(pack, l, list->plan[job], &list->jobs[job], list->coarse ? NULL : list->kept[job]);
}

static void finish(struct ew_pack *pack, int l, struct list *list, int job) {
  struct ew_cycle_result *result = &list->results[job];
  if (list->coarse) { /* a coarse run that went wrong is not gone on with */
    struct ew_kept *kept = ew_pack_keep(pack, l);
    ew_pack_take(pack, l, result);
    if (result->converged)
      list->kept[job] = kept;
    else
      ew_kept_free(kept);
  } else {
    ew_pack_take(pack, l, result);
  }
}

/* One thread's work: its first runs, then whatever is left on the list. */
static double run_lanes(const struct ew_kernel *kernel, struct list *list, const int *begin,
                        const struct ew_cycle_options *o, struct ew_cycle_effort *effort) {
  int job[EW_LANES], running = 0, first = begin[0];
  double steps = 0;
  if (first < 0)
    return 0;
  struct ew_pack *pack = ew_pack_new(kernel, list->plan[first], o, list->coarse ? 1 : 2);
  for (int l = 0; l < EW_LANES; l++) {
    job[l] = begin[l];
    int filler = job[l] >= 0 ? job[l] : first; /* an idle lane still holds a sound state */
    load(pack, l, list, filler);
    if (job[l] < 0)
      ew_pack_idle(pack, l);
    running += job[l] >= 0;
  }
  for (gint64 n = 0; running > 0; n++) {
    if (n % 64 == 0 && cancelled(o))
      break;
    if (!ew_pack_step(pack))
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

static void run_layout(const struct ew_kernel *kernel, struct list *list,
                       const struct ew_cycle_options *o, struct ew_cycle_effort *effort) {
  int threads = 1;
#ifdef _OPENMP
  threads = o->threads > 0 ? o->threads : omp_get_max_threads();
#endif
  threads = CLAMP(threads, 1, list->n);
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
    steps += run_lanes(kernel, list, begin + t * EW_LANES, o, effort);
  effort->steps += steps;
}

static int slow_first(const void *a, const void *b, gpointer data) {
  const struct ew_cycle_job *jobs = data;
  double x = jobs[*(const int *)a].speed_rpm, y = jobs[*(const int *)b].speed_rpm;
  return x < y ? -1 : x > y ? 1 : *(const int *)a - *(const int *)b;
}

/* Which runs may share a vector: layout[i] is the first job of the same layout. */
static void sort_layouts(const struct ew_cycle_job *jobs, int n, int *layout) {
  for (int i = 0; i < n; i++) {
    layout[i] = i;
    for (int k = 0; k < i && layout[i] == i; k++)
      if (layout[k] == k && ew_plan_same_layout(jobs[k].model, jobs[i].model))
        layout[i] = k;
  }
}

static gboolean plan_all(struct list *list, double cell_m, const int *layout, GError **error) {
  for (int i = 0; i < list->all; i++) {
    list->plan[i] = NULL;
    for (int k = 0; k < i && !list->plan[i]; k++)
      if (list->jobs[k].model == list->jobs[i].model)
        list->plan[i] = list->plan[k];
    if (!list->plan[i])
      list->plan[i] = ew_plan_new(list->jobs[i].model, cell_m,
                                  layout[i] == i ? NULL : list->plan[layout[i]], error);
    if (!list->plan[i])
      return FALSE;
  }
  return TRUE;
}

static void free_plans(struct list *list) {
  for (int i = list->all - 1; i >= 0; i--) {
    gboolean shared = FALSE;
    for (int k = 0; k < i; k++)
      shared |= list->plan[k] == list->plan[i];
    if (!shared)
      ew_plan_free(list->plan[i]);
    list->plan[i] = NULL;
  }
}

/* All runs once, on cells of this size. */
static gboolean run_pass(const struct ew_kernel *kernel, struct list *list, const int *layout,
                         const struct ew_cycle_options *o, struct ew_cycle_effort *effort,
                         GError **error) {
  gboolean ok = plan_all(list, o->cell_m, layout, error);
  for (int head = 0; ok && head < list->all; head++) {
    list->n = list->next = 0;
    for (int i = 0; i < list->all; i++)
      if (layout[i] == head)
        list->order[list->n++] = i;
    g_qsort_with_data(list->order, list->n, sizeof(int), slow_first, (gpointer)list->jobs);
    if (list->n > 0)
      run_layout(kernel, list, o, effort);
  }
  free_plans(list);
  return ok;
}

#define COARSE_M     0.04
#define FINE_BELOW_M 0.03

static gboolean run_all(const struct ew_kernel *kernel, struct list *list,
                        const struct ew_cycle_options *o, struct ew_cycle_effort *effort,
                        GError **error) {
  g_autofree int *layout = g_new(int, list->all);
  sort_layouts(list->jobs, list->all, layout);
  if (o->cell_m < FINE_BELOW_M) { /* most cycles on coarse cells, the last few on fine ones */
    struct ew_cycle_options coarse = *o;
    coarse.cell_m = COARSE_M;
    coarse.tolerance = MIN(3 * o->tolerance, 0.1);
    coarse.trace = FALSE;
    list->coarse = TRUE;
    list->parts = 2;
    if (!run_pass(kernel, list, layout, &coarse, effort, error))
      return FALSE;
    for (int i = 0; i < list->all; i++)
      ew_cycle_result_clear(&list->results[i]);
    list->coarse = FALSE;
  }
  return cancelled(o) || run_pass(kernel, list, layout, o, effort, error);
}

gboolean ew_cycle_predict_jobs(const struct ew_cycle_job *jobs, int n,
                               const struct ew_cycle_options *o, struct ew_cycle_result *results,
                               struct ew_cycle_effort *effort, GError **error) {
  struct ew_cycle_effort own = {0};
  memset(results, 0, sizeof *results * MAX(n, 0));
  const struct ew_kernel *kernel = ew_kernel_choose(error);
  if (!kernel || !check_options(o, error))
    return FALSE;
  if (n < 1)
    return ew_refuse(error, "no speeds to predict");
  for (int i = 0; i < n; i++)
    if (!check_job(&jobs[i], o, error))
      return FALSE;
  gint64 began = g_get_monotonic_time();
  struct list list = {.jobs = jobs, .results = results, .all = n, .parts = 1};
  list.plan = g_new0(struct ew_plan *, n);
  list.kept = g_new0(struct ew_kept *, n);
  list.order = g_new(int, n);
  gboolean ok = run_all(kernel, &list, o, &own, error);
  for (int i = 0; i < n; i++)
    ew_kept_free(list.kept[i]);
  g_free(list.kept);
  g_free(list.plan);
  g_free(list.order);
  if (ok && cancelled(o))
    ok = ew_refuse(error, "cancelled before all %d runs were done", n);
  own.wall_s = 1e-6 * (g_get_monotonic_time() - began);
  own.simd = kernel->name;
  if (effort)
    *effort = own;
  return ok;
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
