/* Variants of an engine, run in batches beside the engine as it is, with what is done kept after each batch, so that
 * a long search goes on where it stopped. Kept rows are taken only when the key (everything that the figures depend
 * on) is the same. */
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

GPtrArray *ew_variants_of(const GArray *all, gboolean grid) {
  GPtrArray *sets = g_ptr_array_new_with_free_func((GDestroyNotify)g_array_unref);
  if (!grid) {
    for (guint i = 0; i < all->len; i++) {
      GArray *one = g_array_new(FALSE, FALSE, sizeof(struct ew_variation));
      g_array_append_val(one, g_array_index(all, struct ew_variation, i));
      g_ptr_array_add(sets, one);
    }
    return sets;
  }
  g_ptr_array_add(sets, g_array_new(FALSE, FALSE, sizeof(struct ew_variation)));
  for (int what = 0; ew_variation_names[what]; what++) {
    guint before = sets->len;
    for (guint i = 0; i < all->len; i++) {
      const struct ew_variation *v = &g_array_index(all, struct ew_variation, i);
      for (guint s = 0; v->what == what && s < before; s++) {
        GArray *more = g_array_copy(g_ptr_array_index(sets, s));
        g_array_append_val(more, *v);
        g_ptr_array_add(sets, more);
      }
    }
  }
  g_ptr_array_remove_index(sets, 0); /* nothing changed: that is the base */
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
  double sum = 0;
  int from = upper ? n / 2 : 0, to = upper ? n : (n + 1) / 2;
  for (int i = from; i < to; i++)
    sum += r[i].torque_n_m;
  return sum / MAX(to - from, 1);
}

/* Differences of mean torque below and above the middle of the speeds. Uncertainty: each fitted knob
 * moved by its own, a quarter of the difference for what the model itself may have wrong (rule of
 * thumb), and what cells and tolerance leave of two curves that are nearly the same. */
static void fill_answer(struct ew_variant *v, const struct ew_cycle_result *base,
                        const struct ew_cycle_result *varied, int n) {
  v->lower = mean_torque(varied, n, FALSE) - mean_torque(base, n, FALSE);
  v->upper = mean_torque(varied, n, TRUE) - mean_torque(base, n, TRUE);
  v->lower_u = pow(EW_DOUBT_OF_DIFFERENCE * v->lower, 2) +
               pow(EW_DOUBT_OF_CELLS * mean_torque(base, n, FALSE), 2);
  v->upper_u = pow(EW_DOUBT_OF_DIFFERENCE * v->upper, 2) +
               pow(EW_DOUBT_OF_CELLS * mean_torque(base, n, TRUE), 2);
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

static void fill_doubt(struct ew_variant *one, const struct ew_cycle_result *r, int v, int variants,
                       int knobs, int speeds) {
  fill_answer(one, r, r + v * speeds, speeds);
  one->torque_n_m = torques_of(r + v * speeds, speeds);
  for (int k = 1; k <= knobs; k++) {
    struct ew_variant other = {0};
    fill_answer(&other, r + k * variants * speeds, r + (k * variants + v) * speeds, speeds);
    one->lower_u += pow(other.lower - one->lower, 2);
    one->upper_u += pow(other.upper - one->upper, 2);
  }
  one->lower_u = sqrt(one->lower_u);
  one->upper_u = sqrt(one->upper_u);
}

/* Runs `count` variants together with the engine as it is, whose curve goes into `base`. */
static gboolean run_variants(const struct ew_vary *a, const struct ew_cycle_options *options,
                             GArray *const *sets, int count, struct ew_variant **answers,
                             double **base, GError **error) {
  int variants = count + 1, knobs = 0, moved[EW_TUNE_COUNT];
  struct ew_tune tune = a->setup.tune;
  for (int k = 0; k < EW_TUNE_COUNT; k++)
    if (*ew_tune_uncertainty(&tune, k) > 0)
      moved[knobs++] = k;
  int all = variants * (knobs + 1);
  g_autofree struct ew_prediction_setup *setups = g_new(struct ew_prediction_setup, all);
  g_autoptr(GPtrArray) joins = g_ptr_array_new_with_free_func((GDestroyNotify)g_array_unref);
  struct ew_cycle_result *r = g_new0(struct ew_cycle_result, (gsize)all * (gsize)a->speeds);
  for (int v = 0; v < variants; v++)
    g_ptr_array_add(joins, joined(a->setup.variations, v ? sets[v - 1] : NULL));
  for (int k = 0; k <= knobs; k++)
    for (int v = 0; v < variants; v++) {
      struct ew_prediction_setup *s = &setups[k * variants + v];
      *s = a->setup;
      s->variations = g_ptr_array_index(joins, v);
      if (k)
        *ew_tune_factor(&s->tune, moved[k - 1]) += *ew_tune_uncertainty(&s->tune, moved[k - 1]);
    }
  gboolean good =
      ew_predict_setups(setups, all, a->speed_rpm, a->speeds, options, r, NULL, NULL, error);
  if (good && !*base)
    *base = torques_of(r, a->speeds);
  for (int v = 1; good && v < variants; v++)
    fill_doubt(answers[v - 1], r, v, variants, knobs, a->speeds);
  ew_cycle_results_free(r, all * a->speeds);
  return good;
}

/* ---- what was run is kept, so that a long search goes on where it stopped ---- */

static void add_figures(GChecksum *sum, const double *figures, gsize count) {
  char buffer[EW_NUMBER_SIZE];
  for (gsize i = 0; i < count; i++) {
    g_checksum_update(sum, (const guchar *)ew_number_write(figures[i], buffer), -1);
    g_checksum_update(sum, (const guchar *)"\n", 1);
  }
}

char *ew_vary_key(const struct ew_vary *a, const char *program) {
  g_autofree char *engine = ew_engine_write_yaml(a->setup.engine);
  g_autofree char *tune = ew_fields_write_yaml(&ew_tune_fields, &a->setup.tune);
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  g_checksum_update(sum, (const guchar *)program, (gssize)strlen(program) + 1);
  g_checksum_update(sum, (const guchar *)engine, (gssize)strlen(engine) + 1);
  g_checksum_update(sum, (const guchar *)tune, (gssize)strlen(tune) + 1);
  const struct ew_prediction_setup *s = &a->setup;
  const struct ew_cycle_options *o = a->options;
  const double figures[] = {s->lambda, s->pressure_pa, s->temperature_k, s->vapour_pa, s->spark_deg,
                            o->cell_m, o->cfl,         o->most_cycles,   o->tolerance, a->speeds};
  add_figures(sum, figures, G_N_ELEMENTS(figures));
  add_figures(sum, a->speed_rpm, (gsize)a->speeds);
  for (guint i = 0; s->variations && i < s->variations->len; i++) {
    const char *text = g_array_index(s->variations, struct ew_variation, i).text;
    g_checksum_update(sum, (const guchar *)text, (gssize)strlen(text) + 1);
  }
  return g_strdup(g_checksum_get_string(sum));
}

static gboolean keep_answers(const char *path, const char *key, const struct ew_variant *answers,
                             guint n, int speeds, GError **error) {
  GString *text = g_string_new(NULL);
  char buffer[EW_NUMBER_SIZE];
  g_string_append_printf(text, "# variants of %s\n", key);
  for (guint i = 0; i < n; i++) {
    const struct ew_variant *v = &answers[i];
    if (!v->done)
      continue;
    double figures[] = {v->lower,       v->upper,  v->lower_u,  v->upper_u,
                        v->worst_knock, v->octane, v->converged};
    g_string_append(text, v->text);
    for (gsize k = 0; k < G_N_ELEMENTS(figures); k++)
      g_string_append_printf(text, "\t%s", ew_number_write(figures[k], buffer));
    for (int k = 0; k < speeds; k++)
      g_string_append_printf(text, "\t%s", ew_number_write(v->torque_n_m[k], buffer));
    g_string_append_c(text, '\n');
  }
  g_autoptr(GError) problem = NULL;
  gboolean good = g_file_set_contents(path, text->str, (gssize)text->len, &problem) ||
                  ew_fail(error, "%s", problem->message);
  g_string_free(text, TRUE);
  return good;
}

static void take_row(char **cells, guint count, struct ew_variant *answers, guint n, int speeds) {
  double figures[7];
  for (guint i = 0; i < n; i++) {
    struct ew_variant *v = &answers[i];
    if (v->done || strcmp(v->text, cells[0]) != 0 || count != (guint)(8 + speeds))
      continue;
    gboolean good = TRUE;
    for (int k = 0; k < 7; k++)
      good &= ew_number_parse(cells[1 + k], &figures[k]);
    double *torque = g_new(double, speeds);
    for (int k = 0; k < speeds; k++)
      good &= ew_number_parse(cells[8 + k], &torque[k]);
    if (!good) {
      g_free(torque);
      return;
    }
    *v = (struct ew_variant){.text = v->text,
                             .says = v->says,
                             .lower = figures[0],
                             .upper = figures[1],
                             .lower_u = figures[2],
                             .upper_u = figures[3],
                             .worst_knock = figures[4],
                             .octane = figures[5],
                             .converged = figures[6] != 0,
                             .done = TRUE,
                             .torque_n_m = torque};
    return;
  }
}

static gboolean take_kept(const char *path, const char *key, struct ew_variant *answers, guint n,
                          int speeds, GError **error) {
  g_autofree char *text = NULL;
  if (!g_file_test(path, G_FILE_TEST_EXISTS))
    return TRUE;
  if (!g_file_get_contents(path, &text, NULL, NULL))
    return ew_refuse(error, "%s: cannot be read", path);
  g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
  g_autofree char *first = g_strdup_printf("# variants of %s", key);
  if (!lines[0] || strcmp(lines[0], first) != 0)
    return ew_refuse(error,
                     "--keep %s: what is kept there belongs to another engine, tune, air, speeds "
                     "or version of this program: name another file",
                     path);
  for (int i = 1; lines[i]; i++) {
    g_auto(GStrv) cells = g_strsplit(lines[i], "\t", -1);
    if (cells[0])
      take_row(cells, g_strv_length(cells), answers, n, speeds);
  }
  return TRUE;
}

#define BATCH 12 /* variants run together; what is done is kept after each */

/* Progress of one batch as progress of all. */
struct share {
  const struct ew_cycle_options *options;
  guint done, all;
};

static void tell_share(double share, gpointer data) {
  const struct share *s = data;
  s->options->progress(((double)s->done + share) / s->all, s->options->data);
}

static gboolean run_all(const struct ew_vary *a, GPtrArray *sets, struct ew_variants *answer,
                        GError **error) {
  g_autofree char *key = ew_vary_key(a, EW_VERSION);
  guint n = sets->len, at = 0;
  struct share share = {a->options, 0, MAX((n + BATCH - 1) / BATCH, 1)};
  struct ew_cycle_options options = *a->options;
  if (options.progress) {
    options.progress = tell_share;
    options.data = &share;
  }
  for (guint i = 0; i < n; i++)
    if (!name_variant(a, g_ptr_array_index(sets, i), &answer->variant[i], error))
      return FALSE;
  if (a->keep && !take_kept(a->keep, key, answer->variant, n, a->speeds, error))
    return FALSE;
  do {
    GArray *some[BATCH];
    struct ew_variant *into[BATCH];
    int count = 0;
    for (; at < n && count < BATCH; at++)
      if (!answer->variant[at].done) {
        some[count] = g_ptr_array_index(sets, at);
        into[count++] = &answer->variant[at];
      }
    if ((count > 0 || !answer->base_n_m) &&
        !run_variants(a, &options, some, count, into, &answer->base_n_m, error))
      return FALSE;
    share.done++;
    if (a->keep && count > 0 && !keep_answers(a->keep, key, answer->variant, n, a->speeds, error))
      return FALSE;
  } while (at < n);
  return TRUE;
}

gboolean ew_vary_run(const struct ew_vary *a, GPtrArray *sets, struct ew_variants *answer,
                     GError **error) {
  *answer = (struct ew_variants){.variant = g_new0(struct ew_variant, MAX(sets->len, 1)),
                                 .count = sets->len,
                                 .speeds = a->speeds,
                                 .middle_rpm = a->speed_rpm[a->speeds / 2]};
  if (!run_all(a, sets, answer, error)) {
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
}
