/* Variants of an engine, run in batches beside the engine as it is, with what is done kept after each batch, so that
 * a long search goes on where it stopped. Kept answers are taken only when the key (everything that the figures
 * depend on) is the same.
 *
 * The engine as it is is planned and run once; variants of its layout take its numbers of cells, so that a variant's
 * figures depend on the two of them and not on which others were run beside it. */
#include "desk/vary.h"
#include "base/error.h"
#include "base/number.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static void variation_clear(void *v) {
  g_free(((struct ew_variation *)v)->text);
}

GArray *ew_variations_new(void) {
  GArray *all = g_array_new(FALSE, FALSE, sizeof(struct ew_variation));
  g_array_set_clear_func(all, variation_clear);
  return all;
}

void ew_variation_append(GArray *variations, const struct ew_variation *variation) {
  struct ew_variation own = *variation;
  own.text = g_strdup(own.text);
  g_array_append_val(variations, own);
}

/* The different names among them, in the table's order and then the file's. */
static GArray *names_among(const GArray *all) {
  GArray *names = g_array_new(FALSE, FALSE, sizeof(int));
  for (;;) {
    int next = -1, last = names->len ? g_array_index(names, int, names->len - 1) : -1;
    for (guint i = 0; i < all->len; i++) {
      int what = g_array_index(all, struct ew_variation, i).what;
      if (what > last && (next < 0 || what < next))
        next = what;
    }
    if (next < 0)
      return names;
    g_array_append_val(names, next);
  }
}

/* How many combinations; a double, so that it cannot overflow. */
static double combinations(const GArray *all) {
  g_autoptr(GArray) names = names_among(all);
  double count = 1;
  for (guint k = 0; k < names->len; k++) {
    guint values = 0;
    for (guint i = 0; i < all->len; i++)
      values += g_array_index(all, struct ew_variation, i).what == g_array_index(names, int, k);
    count *= values + 1;
  }
  return count - 1;
}

static GPtrArray *grid_of(const GArray *all) {
  g_autoptr(GArray) names = names_among(all);
  GPtrArray *sets = g_ptr_array_new_with_free_func((GDestroyNotify)g_array_unref);
  g_ptr_array_add(sets, g_array_new(FALSE, FALSE, sizeof(struct ew_variation)));
  for (guint k = 0; k < names->len; k++) {
    guint before = sets->len;
    for (guint i = 0; i < all->len; i++) {
      const struct ew_variation *v = &g_array_index(all, struct ew_variation, i);
      for (guint s = 0; v->what == g_array_index(names, int, k) && s < before; s++) {
        GArray *more = g_array_copy(g_ptr_array_index(sets, s));
        g_array_append_val(more, *v);
        g_ptr_array_add(sets, more);
      }
    }
  }
  g_ptr_array_remove_index(sets, 0); /* nothing changed: that is the base */
  g_assert((double)sets->len == combinations(all));
  return sets;
}

GPtrArray *ew_variants_of(const GArray *all, gboolean grid, GError **error) {
  double count = grid ? combinations(all) : all->len;
  if (count > EW_VARIANTS_MOST) {
    ew_refuse(error, "%.0f variants; at most %d are run at once: ask for fewer changes", count,
              EW_VARIANTS_MOST);
    return NULL;
  }
  if (grid)
    return grid_of(all);
  GPtrArray *sets = g_ptr_array_new_with_free_func((GDestroyNotify)g_array_unref);
  for (guint i = 0; i < all->len; i++) {
    GArray *one = g_array_new(FALSE, FALSE, sizeof(struct ew_variation));
    g_array_append_val(one, g_array_index(all, struct ew_variation, i));
    g_ptr_array_add(sets, one);
  }
  return sets;
}

/* The set-up's own variations and one variant's; NULL when there are none. */
static GArray *joined(const GArray *own, const GArray *more) {
  GArray *all = g_array_new(FALSE, FALSE, sizeof(struct ew_variation));
  if (own)
    g_array_append_vals(all, own->data, own->len);
  if (more)
    g_array_append_vals(all, more->data, more->len);
  return all;
}

/* What was asked, and what it comes to on this engine: "lambda 0.80", "lambda 0.88 → 0.80". */
static gboolean name_variant(const struct ew_vary *a, const GArray *set, struct ew_variant *one,
                             GError **error) {
  g_autoptr(GArray) all = joined(a->setup.variations, set);
  g_autofree struct ew_reach *reach = g_new(struct ew_reach, MAX(all->len, 1));
  struct ew_prediction_setup setup = a->setup;
  setup.variations = all;
  for (guint i = 0; i < all->len; i++)
    reach[i] = (struct ew_reach){NAN, NAN};
  if (!ew_predict_reach(&setup, reach, error))
    return FALSE;
  GString *text = g_string_new(NULL), *says = g_string_new(NULL);
  guint own = all->len - set->len;
  for (guint i = 0; i < set->len; i++) {
    const struct ew_variation *v = &g_array_index(set, struct ew_variation, i);
    g_autofree char *part = ew_variation_says(v, reach[own + i]);
    g_string_append_printf(text, "%s%s", i ? ", " : "", v->text);
    g_string_append_printf(says, "%s%s", i ? ", " : "", part);
  }
  one->text = g_string_free(text, FALSE);
  one->says = g_string_free(says, FALSE);
  return TRUE;
}

static double mean_torque(const struct ew_cycle_result *r, int n, gboolean upper) {
  g_assert(n > 0);
  double sum = 0;
  int from = upper ? n / 2 : 0, to = upper ? n : (n + 1) / 2;
  for (int i = from; i < to; i++)
    sum += r[i].torque_n_m;
  return sum / MAX(to - from, 1);
}

/* Differences of mean torque below and above the middle of the speeds. Uncertainty: each fitted knob
 * moved by its own, a quarter of the difference for what the model itself may have wrong (rule of
 * thumb), and what cells and tolerance leave of two curves that are nearly the same. */
/* What tolerance and cells leave of a difference of mean torque, variance. */
static double numerics(const struct ew_cycle_result *base, int n, gboolean upper, double cell_m) {
  double speed = base[upper ? (n + n / 2) / 2 : n / 4].speed_rpm;
  double u = EW_DOUBT_OF_CELLS * ew_cycle_cells_u(cell_m, speed);
  return (u * u + EW_DOUBT_OF_TOLERANCE * EW_DOUBT_OF_TOLERANCE) *
         pow(mean_torque(base, n, upper), 2);
}

static void fill_answer(struct ew_variant *v, const struct ew_cycle_result *base,
                        const struct ew_cycle_result *varied, int n, double cell_m) {
  v->lower = mean_torque(varied, n, FALSE) - mean_torque(base, n, FALSE);
  v->upper = mean_torque(varied, n, TRUE) - mean_torque(base, n, TRUE);
  v->lower_u = pow(EW_DOUBT_OF_DIFFERENCE * v->lower, 2) + numerics(base, n, FALSE, cell_m);
  v->upper_u = pow(EW_DOUBT_OF_DIFFERENCE * v->upper, 2) + numerics(base, n, TRUE, cell_m);
  v->converged = v->done = TRUE;
  for (int i = 0; i < n; i++) {
    v->worst_knock = fmax(v->worst_knock, varied[i].knock);
    v->octane = fmax(v->octane, varied[i].octane_needed);
    v->converged &= varied[i].converged && base[i].converged;
  }
}

static double *torques_of(const struct ew_cycle_result *r, int n) {
  double *torque = g_new(double, n);
  for (int i = 0; i < n; i++)
    torque[i] = r[i].torque_n_m;
  return torque;
}

static int by_gain(const void *a, const void *b) {
  const struct ew_variant *x = a, *y = b;
  if (x->beyond != y->beyond)
    return x->beyond - y->beyond;
  return (x->upper + x->lower < y->upper + y->lower) - (x->upper + x->lower > y->upper + y->lower);
}

/* base and varied: curve after curve, the first with the knobs as they are, then one with each moved. */
static void fill_doubt(struct ew_variant *one, const struct ew_cycle_result *base,
                       const struct ew_cycle_result *varied, int curves, int speeds,
                       double cell_m) {
  fill_answer(one, base, varied, speeds, cell_m);
  one->torque_n_m = torques_of(varied, speeds);
  for (int k = 1; k < curves; k++) {
    struct ew_variant other = {0};
    fill_answer(&other, base + k * speeds, varied + k * speeds, speeds, cell_m);
    one->lower_u += pow(other.lower - one->lower, 2);
    one->upper_u += pow(other.upper - one->upper, 2);
  }
  one->lower_u = sqrt(one->lower_u);
  one->upper_u = sqrt(one->upper_u);
}

/* ---- plans ---- */

#define BATCH       12 /* variants run together; what is done is kept after each */
#define CURVES_MOST (1 + EW_TUNE_COUNT)
#define ANSWER      "ew variant 2" /* raised when an answer is made another way of the same curves */

/* One engine, as it is or varied: a plan for the knobs as they are, then one with each fitted knob moved. */
struct planned {
  struct ew_cycle_plan *plan[CURVES_MOST];
  double spark_deg;
};

static void planned_clear(struct planned *p) {
  for (int k = 0; k < CURVES_MOST; k++)
    g_clear_pointer(&p->plan[k], ew_cycle_plan_free);
}

struct search {
  const struct ew_vary *ask;
  int curves, moved[CURVES_MOST]; /* moved: the knob of each but the first */
  struct planned base;
  struct ew_cycle_result *base_curves; /* curves x speeds; NULL until they are run */
  struct ew_kept_file *keep;
};

static gboolean plan_set(const struct search *s, const GArray *set, struct planned *p,
                         GError **error) {
  g_autoptr(GArray) all = joined(s->ask->setup.variations, set);
  for (int k = 0; k < s->curves; k++) {
    struct ew_prediction_setup setup = s->ask->setup;
    setup.variations = all;
    if (k)
      *ew_tune_factor(&setup.tune, s->moved[k]) += *ew_tune_uncertainty(&setup.tune, s->moved[k]);
    const struct ew_cycle_plan *like = s->base.plan[0] ? s->base.plan[0] : p->plan[0];
    p->plan[k] = ew_predict_plan(&setup, s->ask->options, like, &p->spark_deg, NULL, error);
    if (!p->plan[k])
      return FALSE;
  }
  return TRUE;
}

static void search_clear(struct search *s) {
  if (s->base_curves)
    ew_cycle_results_free(s->base_curves, s->curves * s->ask->speeds);
  planned_clear(&s->base);
  ew_kept_file_close(s->keep);
}

static gboolean search_begin(struct search *s, const struct ew_vary *ask, GError **error) {
  struct ew_tune tune = ask->setup.tune;
  *s = (struct search){.ask = ask, .curves = 1};
  for (int k = 0; k < EW_TUNE_COUNT; k++)
    if (*ew_tune_uncertainty(&tune, k) > 0)
      s->moved[s->curves++] = k;
  g_assert(s->curves <= CURVES_MOST);
  return plan_set(s, NULL, &s->base, error);
}

static void add_planned(GChecksum *sum, const struct search *s, const struct planned *p) {
  for (int k = 0; k < s->curves; k++)
    for (int i = 0; i < s->ask->speeds; i++) {
      char hex[EW_CYCLE_HEX];
      struct ew_cycle_task task = {p->plan[k], s->ask->speed_rpm[i], p->spark_deg};
      ew_cycle_task_digest(&task, hex);
      g_checksum_update(sum, (const guchar *)hex, EW_CYCLE_HEX);
    }
}

static void key_of(const struct search *s, const struct planned *p, char *hex) {
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  const double how[] = {EW_DOUBT_OF_DIFFERENCE, EW_DOUBT_OF_CELLS, EW_DOUBT_OF_TOLERANCE, s->curves,
                        s->ask->speeds};
  g_checksum_update(sum, (const guchar *)ANSWER, sizeof ANSWER);
  for (gsize i = 0; i < G_N_ELEMENTS(how); i++) {
    char buffer[EW_NUMBER_SIZE];
    g_checksum_update(sum, (const guchar *)ew_number_write(how[i], buffer), -1);
    g_checksum_update(sum, (const guchar *)"\n", 1);
  }
  add_planned(sum, s, &s->base);
  add_planned(sum, s, p);
  g_strlcpy(hex, g_checksum_get_string(sum), EW_CYCLE_HEX);
}

gboolean ew_vary_key(const struct ew_vary *ask, const GArray *set, char *hex, GError **error) {
  struct search s;
  struct planned p = {0};
  gboolean good = search_begin(&s, ask, error) && plan_set(&s, set, &p, error);
  if (good)
    key_of(&s, &p, hex);
  planned_clear(&p);
  search_clear(&s);
  return good;
}

/* ---- batches ---- */

/* Variants that are run together. */
struct batch {
  int count;
  struct planned planned[BATCH];
  struct ew_variant *into[BATCH];
  char key[BATCH][EW_CYCLE_HEX];
};

static void batch_clear(struct batch *b) {
  for (int i = 0; i < BATCH; i++)
    planned_clear(&b->planned[i]);
  b->count = 0;
}

static void add_tasks(const struct search *s, const struct planned *p, struct ew_cycle_task *tasks,
                      int *n) {
  for (int k = 0; k < s->curves; k++)
    for (int i = 0; i < s->ask->speeds; i++)
      tasks[(*n)++] = (struct ew_cycle_task){p->plan[k], s->ask->speed_rpm[i], p->spark_deg};
}

/* The batch's curves, and with the first of them those of the engine as it is. */
static gboolean run_batch(struct search *s, const struct batch *b,
                          const struct ew_cycle_options *options, GError **error) {
  int each = s->curves * s->ask->speeds, n = 0;
  gsize most = (gsize)each * (gsize)(b->count + 1);
  g_autofree struct ew_cycle_task *tasks = g_new(struct ew_cycle_task, most);
  struct ew_cycle_result *r = g_new0(struct ew_cycle_result, most);
  gboolean first = !s->base_curves;
  if (first)
    add_tasks(s, &s->base, tasks, &n);
  for (int i = 0; i < b->count; i++)
    add_tasks(s, &b->planned[i], tasks, &n);
  g_assert(n == each * (b->count + first));
  gboolean good = ew_cycle_run(tasks, n, options, r, NULL, error);
  if (good && first) {
    s->base_curves = g_new(struct ew_cycle_result, each);
    memcpy(s->base_curves, r, sizeof *r * (gsize)each);
    memset(r, 0, sizeof *r * (gsize)each); /* moved */
  }
  for (int i = 0; good && i < b->count; i++)
    fill_doubt(b->into[i], s->base_curves, r + (i + first) * each, s->curves, s->ask->speeds,
               s->ask->options->cell_m);
  ew_cycle_results_free(r, n);
  return good;
}

static gboolean keep_batch(struct search *s, const struct batch *b, GError **error) {
  g_assert(s->keep && b->count <= BATCH);
  struct ew_kept_row rows[BATCH];
  for (int i = 0; i < b->count; i++) {
    const struct ew_variant *v = b->into[i];
    rows[i] = (struct ew_kept_row){b->key[i],
                                   v->text,
                                   {v->lower, v->upper, v->lower_u, v->upper_u, v->worst_knock,
                                    v->octane, v->converged, s->ask->speeds, v->torque_n_m}};
  }
  return ew_vary_keep_add(s->keep, rows, b->count, error);
}

static gboolean take_kept(struct search *s, const char *key, struct ew_variant *v) {
  g_autofree double *torque = g_new(double, s->ask->speeds);
  struct ew_kept_answer a = {.torque_n_m = torque};
  if (!s->keep || !ew_vary_keep_find(s->keep, key, s->ask->speeds, &a))
    return FALSE;
  v->lower = a.lower;
  v->upper = a.upper;
  v->lower_u = a.lower_u;
  v->upper_u = a.upper_u;
  v->worst_knock = a.worst_knock;
  v->octane = a.octane;
  v->converged = a.converged;
  v->torque_n_m = g_steal_pointer(&torque);
  return v->done = TRUE;
}

/* A figure of the file that the simulation does not use would be answered with "no difference": that is not an answer. */
static gboolean has_effect(const struct search *s, const GArray *set, const struct planned *p,
                           GError **error) {
  for (guint i = 0; i < set->len; i++)
    if (!ew_variation_is_field(&g_array_index(set, struct ew_variation, i)))
      return TRUE;
  return memcmp(p->plan[0]->digest, s->base.plan[0]->digest, sizeof p->plan[0]->digest) != 0 ||
         ew_refuse(error,
                   "change '%s': it changes nothing that the simulation uses, or is what the file "
                   "says already",
                   g_array_index(set, struct ew_variation, 0).text);
}

/* The next variants that have to be run: those that are kept are answered on the way. */
static gboolean fill_batch(struct search *s, GPtrArray *sets, struct ew_variants *answer, guint *at,
                           struct batch *b, GError **error) {
  for (; *at < sets->len && b->count < BATCH; ++*at) {
    const GArray *set = g_ptr_array_index(sets, *at);
    struct ew_variant *v = &answer->variant[*at];
    struct planned *p = &b->planned[b->count];
    if (!name_variant(s->ask, set, v, error) || !plan_set(s, set, p, error) ||
        !has_effect(s, set, p, error))
      return FALSE;
    key_of(s, p, b->key[b->count]);
    if (take_kept(s, b->key[b->count], v))
      planned_clear(p);
    else
      b->into[b->count++] = v;
  }
  return TRUE;
}

/* Progress of one batch as progress of all. */
struct share {
  const struct ew_cycle_options *options;
  guint done, now, all;
};

static void tell_share(double part, gpointer data) {
  const struct share *s = data;
  s->options->progress((s->done + part * s->now) / MAX(s->all, 1), s->options->data);
}

static gboolean run_all(struct search *s, GPtrArray *sets, struct ew_variants *answer,
                        GError **error) {
  struct share share = {s->ask->options, 0, 0, sets->len};
  struct ew_cycle_options options = *s->ask->options;
  g_autofree struct batch *batch = g_new0(struct batch, 1);
  gboolean good = TRUE;
  if (options.progress) {
    options.progress = tell_share;
    options.data = &share;
  }
  for (guint at = 0; good && (at < sets->len || !s->base_curves);) {
    good = fill_batch(s, sets, answer, &at, batch, error);
    share.now = at - share.done;
    if (good && (batch->count > 0 || (at == sets->len && !s->base_curves)))
      good = run_batch(s, batch, &options, error) &&
             (!s->keep || batch->count == 0 || keep_batch(s, batch, error));
    share.done = at;
    batch_clear(batch);
  }
  g_assert(!good || s->base_curves);
  return good;
}

static gboolean search(struct search *s, GPtrArray *sets, struct ew_variants *answer,
                       GError **error) {
  if (s->ask->keep && !(s->keep = ew_vary_keep_open(s->ask->keep, error)))
    return FALSE;
  if (!run_all(s, sets, answer, error))
    return FALSE;
  answer->base_n_m = torques_of(s->base_curves, s->ask->speeds);
  answer->keeping = s->keep != NULL;
  if (s->keep)
    answer->kept = ew_kept_file_count(s->keep);
  return TRUE;
}

gboolean ew_vary_run(const struct ew_vary *a, GPtrArray *sets, struct ew_variants *answer,
                     GError **error) {
  *answer = (struct ew_variants){.variant = g_new0(struct ew_variant, MAX(sets->len, 1)),
                                 .count = sets->len,
                                 .speeds = a->speeds,
                                 .middle_rpm = a->speed_rpm[a->speeds / 2]};
  struct search s;
  gboolean good = search_begin(&s, a, error) && search(&s, sets, answer, error);
  search_clear(&s);
  if (!good) {
    ew_variants_clear(answer);
    return FALSE;
  }
  for (guint i = 0; i < answer->count; i++)
    answer->variant[i].beyond = answer->variant[i].octane > a->most_octane;
  qsort(answer->variant, answer->count, sizeof *answer->variant, by_gain);
  return TRUE;
}

void ew_variants_clear(struct ew_variants *v) {
  for (guint i = 0; i < v->count; i++) {
    g_free(v->variant[i].text);
    g_free(v->variant[i].says);
    g_free(v->variant[i].torque_n_m);
  }
  g_free(v->variant);
  g_free(v->base_n_m);
  *v = (struct ew_variants){0};
}

void ew_variants_write_json(const struct ew_variants *v, struct ew_json *json) {
  ew_json_number(json, "middle_speed_rpm", v->middle_rpm);
  ew_json_numbers(json, "base_torque_n_m", v->base_n_m, (gsize)v->speeds);
  ew_json_open_array(json, "variants");
  for (guint i = 0; i < v->count; i++) {
    const struct ew_variant *one = &v->variant[i];
    ew_json_open(json, NULL);
    ew_json_text(json, "change", one->text);
    ew_json_text(json, "says", one->says);
    ew_json_number(json, "torque_below_n_m", one->lower);
    ew_json_number(json, "torque_below_standard_uncertainty_n_m", one->lower_u);
    ew_json_number(json, "torque_above_n_m", one->upper);
    ew_json_number(json, "torque_above_standard_uncertainty_n_m", one->upper_u);
    ew_json_number(json, "knock", one->worst_knock);
    ew_json_number(json, "octane_needed", one->octane);
    ew_json_boolean(json, "converged", one->converged);
    ew_json_boolean(json, "within_limits", !one->beyond);
    ew_json_numbers(json, "torque_n_m", one->torque_n_m, (gsize)v->speeds);
    ew_json_close(json);
  }
  ew_json_close_array(json);
  if (!v->keeping)
    return;
  ew_json_open(json, "kept");
  ew_json_number(json, "taken", (double)v->kept.taken);
  ew_json_number(json, "others", (double)(v->kept.records - v->kept.taken));
  ew_json_number(json, "other_physics", (double)v->kept.older);
  ew_json_number(json, "damaged", (double)(v->kept.damaged + v->kept.torn));
  ew_json_close(json);
}
