/* Runs of a search. Each run (one plan at one speed) is kept by the digest of its plan, so a design that two questions share is run
 * once. A design is sound when it can be built and every run of it settles. */
#include "desk/search_runs.h"
#include "base/error.h"
#include "base/number.h"
#include "base/words.h"
#include "cycle/backend/backend.h"
#include "cycle/model.h"
#include "desk/vary.h"
#include "engine/check.h"
#include <math.h>
#ifdef _OPENMP
#include <omp.h>
#endif
#include <string.h>

#define TOGETHER 12 /* designs planned, run and kept at a time */
#define TOGETHER_FAR                                                                               \
  8192 /* the same on a device, which wants many beside each other; the last ones leave it idle */
#define REASONS_MOST 8

/* What is kept of a run. */
enum kept { SETTLED, TORQUE, POWER, OCTANE, FUEL, RESIDUAL, PEAK, EXHAUST, KEPT };

static const struct ew_search_wish *wish_at(const struct ew_search_runs *r, int k) {
  return &g_array_index(r->setup->question->wishes, struct ew_search_wish, k);
}

static int runs_each(const struct ew_search_answer *a) {
  return a->speeds + (isnan(a->idle_rpm) ? 0 : 1);
}

static double speed_of(const struct ew_search_answer *a, int i) {
  g_assert(i >= 0 && i < runs_each(a));
  return i < a->speeds ? a->speed_rpm[i] : a->idle_rpm;
}

/* By what it is, not by its figures: the first one's words stand for all of its kind. */
static void count_reason(struct ew_search_answer *a, const char *kind, const char *says) {
  for (guint i = 0; i < a->reasons->len; i++) {
    struct ew_search_reason *one = &g_array_index(a->reasons, struct ew_search_reason, i);
    if (strcmp(one->kind, kind) == 0 || i + 1 == REASONS_MOST) {
      one->count++;
      return;
    }
  }
  struct ew_search_reason one = {g_strdup(kind), g_strdup(says), 1};
  g_array_append_val(a->reasons, one);
}

/* ---- what needs no run ---- */

/* The engine of a set of changes, as far as they are to its file. */
static gboolean varied_engine(const struct ew_search_runs *r, const GArray *set,
                              struct ew_engine *engine, GError **error) {
  struct ew_varying at = {.engine = engine, .spark_deg = NAN};
  ew_engine_copy(r->setup->setup.engine, engine);
  for (guint i = 0; i < set->len; i++)
    if (!ew_vary(&at, &g_array_index(set, struct ew_variation, i), FALSE, NULL, error)) {
      ew_engine_clear(engine);
      return FALSE;
    }
  return TRUE;
}

static double early_figure(const struct ew_search_runs *r, enum ew_search_figure what,
                           const struct ew_engine *engine, const struct ew_engine_check *check,
                           double price) {
  switch (what) {
  case EW_SEARCH_PRICE: return price;
  case EW_SEARCH_PISTON_SPEED:
    return 2 * engine->stroke_m * r->answer->speed_rpm[r->answer->speeds - 1] / 60;
  case EW_SEARCH_INLET_CLEARANCE:
    return check->has_clearance[0] ? check->clearance_zero[0].minimum_m : NAN;
  case EW_SEARCH_EXHAUST_CLEARANCE:
    return check->has_clearance[1] ? check->clearance_zero[1].minimum_m : NAN;
  case EW_SEARCH_CONTACT_LOSS: return fmin(check->contact_loss_rpm[0], check->contact_loss_rpm[1]);
  case EW_SEARCH_TORQUE:
  case EW_SEARCH_POWER:
  case EW_SEARCH_OCTANE:
  case EW_SEARCH_FUEL:
  case EW_SEARCH_RESIDUAL:
  case EW_SEARCH_PEAK_PRESSURE:
  case EW_SEARCH_EXHAUST:
  case EW_SEARCH_FIGURES_COUNT: break;
  }
  g_assert_not_reached();
}

static gboolean needs_check(enum ew_search_figure what) {
  return what == EW_SEARCH_INLET_CLEARANCE || what == EW_SEARCH_EXHAUST_CLEARANCE ||
         what == EW_SEARCH_CONTACT_LOSS;
}

/* figures of the early wishes; the others are left alone. */
static gboolean early_figures(const struct ew_search_runs *r, const GArray *set, double price,
                              double *figures, GError **error) {
  struct ew_engine engine;
  struct ew_engine_check *check = NULL;
  if (!varied_engine(r, set, &engine, error))
    return FALSE;
  for (int k = 0; k < r->answer->wishes; k++)
    if (!check && needs_check(wish_at(r, k)->what))
      check = ew_engine_check_new(&engine);
  for (int k = 0; k < r->answer->wishes; k++)
    if (ew_search_figures[wish_at(r, k)->what].early)
      figures[k] = early_figure(r, wish_at(r, k)->what, &engine, check, price);
  if (check)
    ew_engine_check_free(check);
  ew_engine_clear(&engine);
  return TRUE;
}

gboolean ew_search_early_differs(const struct ew_search_runs *r, const double *a, const double *b) {
  const double *point[] = {a, b};
  double figures[2][EW_FIGURES_MOST];
  gboolean any = FALSE, differ = FALSE;
  for (int k = 0; k < r->answer->wishes; k++)
    any |= ew_search_figures[wish_at(r, k)->what].early;
  for (int i = 0; i < 2 && any; i++) {
    g_autoptr(GArray) set = ew_variations_new();
    double price = ew_search_point_is(r->setup->question, point[i], set);
    if (!early_figures(r, set, price, figures[i], NULL))
      return TRUE;
  }
  for (int k = 0; k < r->answer->wishes; k++)
    if (ew_search_figures[wish_at(r, k)->what].early)
      differ |= memcmp(&figures[0][k], &figures[1][k], sizeof(double)) != 0;
  return differ;
}

gboolean ew_search_allowed(const double *point, gpointer data) {
  struct ew_search_runs *r = data;
  double figures[EW_FIGURES_MOST];
  g_autoptr(GArray) set = ew_variations_new();
  g_autoptr(GError) problem = NULL;
  double price = ew_search_point_is(r->setup->question, point, set);
  gboolean limited = FALSE;
  for (int k = 0; k < r->answer->wishes; k++)
    limited |= ew_search_figures[wish_at(r, k)->what].early &&
               (wish_at(r, k)->least > -INFINITY || wish_at(r, k)->most < INFINITY);
  if (!limited) /* working the figures out costs milliseconds, and nothing would be barred by them */
    return TRUE;
  if (!early_figures(r, set, price, figures, &problem)) {
    r->refused++;
    if (!r->refusal)
      r->refusal = g_strdup(problem->message);
    return FALSE;
  }
  gboolean good = TRUE;
  for (int k = 0; k < r->answer->wishes; k++) {
    const struct ew_search_wish *w = wish_at(r, k);
    if (!ew_search_figures[w->what].early || (w->least == -INFINITY && w->most == INFINITY))
      continue;
    double beyond = fmax(w->least - figures[k], figures[k] - w->most);
    r->nearest[k] = fmin(r->nearest[k], beyond);
    if (!(beyond <= 0)) { /* not known is not within */
      r->barred[k]++;
      good = FALSE;
    }
  }
  return good;
}

/* ---- runs ---- */

struct design {
  GArray *set;
  double price, spark_deg;
  struct ew_cycle_plan *plan;
  double (*run)[KEPT]; /* runs_each */
};

static void design_clear(struct design *d) {
  g_clear_pointer(&d->set, g_array_unref);
  g_clear_pointer(&d->plan, ew_cycle_plan_free);
  g_free(d->run);
}

static gboolean plan_design(const struct ew_search_runs *r, struct design *d, GError **error) {
  struct ew_prediction_setup setup = r->setup->setup;
  setup.variations = d->set->len ? d->set : NULL;
  d->plan = ew_predict_plan(&setup, &r->options, r->like, &d->spark_deg, NULL, error);
  return d->plan != NULL;
}

static void keep_result(const struct ew_cycle_result *from, double *to) {
  to[SETTLED] = from->converged;
  to[TORQUE] = from->torque_n_m;
  to[POWER] = from->power_w;
  to[OCTANE] = from->octane_needed;
  to[FUEL] = from->fuel_kg_s;
  to[RESIDUAL] = from->residual_fraction;
  to[PEAK] = from->peak_pressure_pa;
  to[EXHAUST] = from->exhaust_reading_k;
}

/* Runs that are not kept yet, of some designs. */
struct due {
  struct ew_cycle_task *task;
  double **into;
  char (*key)[EW_CYCLE_HEX];
  const struct design **of;
  int count;
};

static char *says_of(const struct design *d) {
  GString *text = g_string_new(NULL);
  for (guint i = 0; i < d->set->len; i++) {
    g_autofree char *one = ew_variation_reads(&g_array_index(d->set, struct ew_variation, i));
    g_string_append_printf(text, "%s%s", i ? ", " : "", one);
  }
  return g_string_free(text, FALSE);
}

static void tell_run(const struct ew_search_runs *r, const struct design *d, const char *key,
                     const double *figures) {
  if (!r->tell)
    return;
  g_autofree char *says = says_of(d);
  r->tell(&(struct ew_kept_line){key, says, figures, KEPT}, r->tell_data);
}

static void find_due(struct ew_search_runs *r, struct design *designs, int n, struct due *due) {
  int each = runs_each(r->answer);
  for (int i = 0; i < n; i++)
    for (int s = 0; designs[i].plan && s < each; s++) {
      struct ew_cycle_task task = {designs[i].plan, speed_of(r->answer, s), designs[i].spark_deg};
      char hex[EW_CYCLE_HEX];
      ew_cycle_task_digest(&task, hex);
      double known[KEPT];
      if (r->keep && ew_kept_file_find(r->keep, hex, KEPT, known)) {
        memcpy(designs[i].run[s], known, sizeof known);
        tell_run(r, &designs[i], hex, known);
        continue;
      }
      g_assert(due->count < n * each);
      due->task[due->count] = task;
      due->into[due->count] = designs[i].run[s];
      due->of[due->count] = &designs[i];
      memcpy(due->key[due->count++], hex, sizeof hex);
    }
}

static gboolean keep_due(struct ew_search_runs *r, const struct due *due, GError **error) {
  g_autofree struct ew_kept_line *lines = g_new(struct ew_kept_line, MAX(due->count, 1));
  g_autoptr(GPtrArray) texts = g_ptr_array_new_with_free_func(g_free);
  for (int i = 0; r->keep && i < due->count; i++) {
    g_ptr_array_add(texts, says_of(due->of[i]));
    lines[i] = (struct ew_kept_line){due->key[i], g_ptr_array_index(texts, i), due->into[i], KEPT};
  }
  return !r->keep || due->count == 0 || ew_kept_file_add(r->keep, lines, due->count, error);
}

static gboolean run_due(struct ew_search_runs *r, struct due *due, GError **error) {
  struct ew_cycle_options options = r->options;
  struct ew_cycle_result *results = g_new0(struct ew_cycle_result, MAX(due->count, 1));
  options.progress = NULL; /* told by designs */
  gboolean good =
      due->count == 0 || ew_cycle_run(due->task, due->count, &options, results, NULL, error);
  for (int i = 0; good && i < due->count; i++) {
    keep_result(&results[i], due->into[i]);
    tell_run(r, due->of[i], due->key[i], due->into[i]);
    g_autoptr(ew_message) why = ew_cycle_why_not(&results[i]);
    g_autofree char *says = why ? ew_message_text(why, EW_UNITS_SI) : NULL;
    if (says)
      count_reason(r->answer, ew_message_id(why), says);
  }
  ew_cycle_results_free(results, due->count);
  return good && keep_due(r, due, error);
}

static gboolean run_designs(struct ew_search_runs *r, struct design *designs, int n,
                            GError **error) {
  gsize most = (gsize)n * (gsize)runs_each(r->answer);
  struct due due = {g_new(struct ew_cycle_task, most), g_new(double *, most),
                    g_malloc(most * EW_CYCLE_HEX), g_new(const struct design *, most), 0};
  find_due(r, designs, n, &due);
  gboolean good = run_due(r, &due, error);
  g_free(due.task);
  g_free(due.into);
  g_free(due.key);
  g_free(due.of);
  return good;
}

/* ---- figures of a design ---- */

static gboolean in_band(const struct ew_search_wish *w, double rpm) {
  return !(rpm < w->from_rpm) && !(rpm > w->to_rpm); /* NaN: no end */
}

/* Mean over speed by the trapezoid rule; one speed alone is its own mean. */
static double mean_torque(const struct ew_search_runs *r, const struct design *d,
                          const struct ew_search_wish *w) {
  double sum = 0, span = 0, last = NAN, only = NAN;
  for (int i = 0; i < r->answer->speeds; i++) {
    double rpm = r->answer->speed_rpm[i];
    if (!in_band(w, rpm))
      continue;
    if (!isnan(last)) {
      sum += (rpm - last) * (d->run[i][TORQUE] + only) / 2;
      span += rpm - last;
    }
    only = d->run[i][TORQUE];
    last = rpm;
  }
  return span > 0 ? sum / span : only;
}

static double mean_fuel(const struct ew_search_runs *r, const struct design *d,
                        const struct ew_search_wish *w) {
  double fuel = 0, power = 0;
  for (int i = 0; i < r->answer->speeds; i++)
    if (in_band(w, r->answer->speed_rpm[i])) {
      fuel += d->run[i][FUEL];
      power += d->run[i][POWER];
    }
  return power > 0 ? fuel / power : NAN;
}

static double most_of(const struct ew_search_runs *r, const struct design *d, enum kept what) {
  double most = NAN;
  for (int i = 0; i < r->answer->speeds; i++)
    most = isnan(d->run[i][what]) ? d->run[i][what] : fmax(most, d->run[i][what]);
  return most;
}

static double run_figure(const struct ew_search_runs *r, const struct design *d,
                         const struct ew_search_wish *w) {
  g_assert(w->what != EW_SEARCH_RESIDUAL || !isnan(r->answer->idle_rpm)); /* its run is the last */
  switch (w->what) {
  case EW_SEARCH_TORQUE: return mean_torque(r, d, w);
  case EW_SEARCH_FUEL: return mean_fuel(r, d, w);
  case EW_SEARCH_POWER: return most_of(r, d, POWER);
  case EW_SEARCH_OCTANE: return most_of(r, d, OCTANE);
  case EW_SEARCH_PEAK_PRESSURE: return most_of(r, d, PEAK);
  case EW_SEARCH_EXHAUST: return most_of(r, d, EXHAUST);
  case EW_SEARCH_RESIDUAL: return d->run[r->answer->speeds][RESIDUAL];
  case EW_SEARCH_PRICE:
  case EW_SEARCH_PISTON_SPEED:
  case EW_SEARCH_INLET_CLEARANCE:
  case EW_SEARCH_EXHAUST_CLEARANCE:
  case EW_SEARCH_CONTACT_LOSS:
  case EW_SEARCH_FIGURES_COUNT: break;
  }
  g_assert_not_reached();
}

static gboolean settled(const struct ew_search_runs *r, const struct design *d) {
  gboolean all = d->plan != NULL;
  for (int s = 0; all && s < runs_each(r->answer); s++)
    all &= d->run[s][SETTLED] == 1;
  return all;
}

/* A figure that is asked for and cannot be worked out is a reason: such a design is not run for nothing without a word. */
static gboolean early_known(const struct ew_search_runs *r, const double *figures) {
  gboolean known = TRUE;
  for (int k = 0; k < r->answer->wishes; k++) {
    const struct ew_search_figure_about *about = &ew_search_figures[wish_at(r, k)->what];
    if (!about->early || isfinite(figures[k]))
      continue;
    g_autofree char *says = ew_words("%s cannot be worked out from the engine's file; 'engine "
                                     "check' says what is missing",
                                     about->key);
    count_reason(r->answer, about->key, says);
    known = FALSE;
  }
  return known;
}

static gboolean figures_of(const struct ew_search_runs *r, const struct design *d,
                           double *figures) {
  gboolean sound =
      settled(r, d) && early_figures(r, d->set, d->price, figures, NULL) && early_known(r, figures);
  for (int k = 0; k < r->answer->wishes; k++)
    if (!sound)
      figures[k] = NAN;
    else if (!ew_search_figures[wish_at(r, k)->what].early)
      figures[k] = run_figure(r, d, wish_at(r, k));
  return sound;
}

/* Each by itself, in as many threads as will run them; what is refused is counted in the order of the designs. */
static void plan_designs(struct ew_search_runs *r, struct design *designs, int n) {
  g_autofree GError **problem = g_new0(GError *, n);
#ifdef _OPENMP
  int threads = r->options.threads > 0 ? r->options.threads : omp_get_max_threads();
#pragma omp parallel for num_threads(MIN(threads, n)) schedule(dynamic)
#endif
  for (int i = 0; i < n; i++)
    plan_design(r, &designs[i], &problem[i]);
  for (int i = 0; i < n; i++)
    if (problem[i]) {
      count_reason(r->answer, problem[i]->message, problem[i]->message);
      g_error_free(problem[i]);
    }
}

/* Some designs, planned and run together. `points` NULL: the one design that changes nothing. */
static gboolean run_some(struct ew_search_runs *r, const double *points, int n, double *figures,
                         gboolean *sound, GError **error) {
  g_autofree struct design *designs = g_new0(struct design, n);
  int axes = (int)r->setup->question->axes->len;
  gboolean good = TRUE;
  for (int i = 0; i < n; i++) {
    struct design *d = &designs[i];
    d->set = ew_variations_new();
    d->run = g_malloc0(sizeof *d->run * (gsize)runs_each(r->answer));
    if (points)
      d->price = ew_search_point_is(r->setup->question, points + i * axes, d->set);
    for (guint k = 0; r->more && k < r->more->len; k++)
      ew_variation_append(d->set, &g_array_index(r->more, struct ew_variation, k));
  }
  plan_designs(r, designs, n);
  good = run_designs(r, designs, n, error);
  for (int i = 0; i < n; i++) {
    if (good)
      sound[i] = figures_of(r, &designs[i], figures + i * r->answer->wishes);
    design_clear(&designs[i]);
  }
  return good;
}

gboolean ew_search_run_points(const double *points, int n, double *figures, gboolean *sound,
                              gpointer data, GError **error) {
  struct ew_search_runs *r = data;
  int axes = (int)r->setup->question->axes->len;
  const struct ew_cycle_backend *backend = ew_cycle_backend_choose(error);
  if (!backend)
    return FALSE;
  int together = backend->step_many ? TOGETHER_FAR : TOGETHER;
  for (int at = 0; at < n; at += together)
    if (!run_some(r, points + at * axes, MIN(together, n - at), figures + at * r->answer->wishes,
                  sound + at, error))
      return FALSE;
  return TRUE;
}

gboolean ew_search_run_base(struct ew_search_runs *r, double *figures, gboolean *sound,
                            GError **error) {
  return run_some(r, NULL, 1, figures, sound, error);
}

/* ---- begun and ended ---- */

gboolean ew_search_runs_begin(struct ew_search_runs *r, const struct ew_search_setup *setup,
                              struct ew_search_answer *answer, double cell_m, GError **error) {
  g_assert(answer->wishes >= 1 && answer->wishes <= EW_FIGURES_MOST);
  *r = (struct ew_search_runs){.setup = setup, .answer = answer, .options = setup->options};
  r->options.cell_m = cell_m;
  r->options.spark = (enum ew_cycle_spark)setup->question->spark;
  for (int k = 0; k < EW_FIGURES_MOST; k++)
    r->nearest[k] = INFINITY;
  double spark;
  r->like = ew_predict_plan(&setup->setup, &r->options, NULL, &spark, NULL, error);
  return r->like && (!setup->keep || (r->keep = ew_kept_file_open(setup->keep, "--keep",
                                                                  EW_SEARCH_RUNS_HEAD, error)));
}

void ew_search_runs_end(struct ew_search_runs *r) {
  g_clear_pointer(&r->like, ew_cycle_plan_free);
  g_free(r->refusal);
  ew_kept_file_close(r->keep);
}

static void add_double(GChecksum *sum, double value) {
  g_checksum_update(sum, (const guchar *)&value, sizeof value);
}

void ew_search_names_of(const struct ew_search_runs *r, const double *points, int n, int each,
                        struct ew_search_names *names) {
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  const char *name = r->setup->setup.engine->name;
  char hex[EW_CYCLE_HEX];
  for (int i = 0; i < n * (int)r->setup->question->axes->len; i++)
    add_double(sum, points[i]);
  for (int i = 0; i < runs_each(r->answer); i++)
    add_double(sum, speed_of(r->answer, i));
  add_double(sum, r->setup->setup.spark_deg);
  add_double(sum, r->options.spark);
  add_double(sum, r->options.cell_m);
  add_double(sum, each);
  for (guint j = 0; j < r->setup->question->axes->len;
       j++) /* an end of each axis, as it would be read */
    for (int end = 0; end < 2; end++) {
      g_autofree char *says =
          ew_search_axis_says(g_ptr_array_index(r->setup->question->axes, j), end);
      g_checksum_update(sum, (const guchar *)says, (gssize)strlen(says) + 1);
    }
  g_checksum_update(sum, (const guchar *)(name ? name : ""), name ? (gssize)strlen(name) : 0);
  g_autoptr(GChecksum) whole = g_checksum_copy(sum);
  struct ew_cycle_task as_it_is = {r->like, r->answer->speed_rpm[0], r->setup->setup.spark_deg};
  ew_cycle_task_digest(&as_it_is, hex);
  g_checksum_update(whole, (const guchar *)hex, (gssize)strlen(hex));
  add_double(whole, EW_CYCLE_PHYSICS);
  g_strlcpy(names->question, g_checksum_get_string(sum), sizeof names->question);
  g_strlcpy(names->key, g_checksum_get_string(whole), sizeof names->key);
}
