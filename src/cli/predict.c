/* engine predict, fit and vary: the engine that runs before it is built. */
#include "base/number.h"
#include "cli/command.h"
#include "desk/predict.h"
#include "sheet/curves.h"
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#define PREDICT_OPTIONS                                                                            \
  {"book", "FILE", "the shop's book, when the engine is named", FALSE},                            \
      {"speeds", "A:B:STEP", "speeds in rpm (2000 to the engine's top speed by 500)", FALSE},      \
      {"spark", "Q", "total advance; else least for best torque, or what knock leaves", FALSE},    \
      {"lambda", "N", "mixture (else the file's)", FALSE},                                         \
      {"pressure", "Q", "air pressure (1 bar)", FALSE},                                            \
      {"temperature", "Q", "air temperature (25 degC)", FALSE},                                    \
      {"cell", "Q", "cell length of the pipes (40 mm; 10 mm is fine)", FALSE},                     \
      {"tune", "FILE", "knobs from 'engine fit'", FALSE}, {                                        \
    "threads", "N", "threads (all)", FALSE                                                         \
  }

static const struct ew_option_spec predict_options[] = {
    PREDICT_OPTIONS,
    {"trace", "FILE", "crank-angle detail of the highest speed, CSV", FALSE},
    {NULL, NULL, NULL, FALSE}};

static gint cancelled;

static void on_interrupt(int signal_number) {
  (void)signal_number;
  cancelled = 1;
}

static void show_progress(double share, gpointer data) {
  (void)data;
  fprintf(stderr, "\r%3.0f %%", 100 * share);
  if (share >= 1)
    fputs("\r     \r", stderr);
}

struct asked {
  struct ew_engine engine;
  struct ew_prediction_setup setup;
  struct ew_cycle_options options;
  double *speeds;
  int count;
};

static void asked_clear(struct asked *a) {
  ew_engine_clear(&a->engine);
  g_free(a->speeds);
}

static gboolean find_engine(const struct ew_call *call, const char *what, struct ew_engine *engine,
                            GError **error) {
  g_autoptr(ew_node) root = NULL;
  if (g_file_test(what, G_FILE_TEST_EXISTS))
    root = ew_node_read(what, error);
  else {
    g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
    struct ew_engine_row row;
    if (!book)
      return FALSE;
    if (!ew_engine_get(book, what, &row))
      return ew_refuse(error, "'%s': no such file, and no such engine in the book", what);
    root = ew_node_parse(row.name, row.yaml, strlen(row.yaml), error);
    ew_engine_row_clear(&row);
  }
  return root && ew_engine_read(root, what, engine, error);
}

static gboolean read_speeds(const struct ew_call *call, struct asked *a, GError **error) {
  const char *text = ew_call_option(call, "speeds");
  double top = ew_engine_top_speed_rpm(&a->engine);
  double from = 2000, to = isnan(top) ? 7000 : top, step = 500;
  if (text) {
    g_auto(GStrv) parts = g_strsplit(text, ":", 4);
    if (g_strv_length(parts) != 3 || !ew_number_parse(parts[0], &from) ||
        !ew_number_parse(parts[1], &to) || !ew_number_parse(parts[2], &step) || !(step >= 1) ||
        !(to >= from))
      return ew_refuse(error, "--speeds '%s': write FROM:TO:STEP in rpm, for example 2500:7000:250",
                       text);
  }
  if (from < 300 || to > 25000 || (to - from) / step > 400)
    return ew_refuse(
        error,
        "--speeds: %.0f to %.0f by %.0f rpm is outside 300 to 25,000 rpm or more than 400 speeds",
        from, to, step);
  a->count = (int)((to - from) / step + 1e-9) + 1;
  a->speeds = g_new(double, a->count);
  for (int i = 0; i < a->count; i++)
    a->speeds[i] = from + step * i;
  return TRUE;
}

static gboolean read_tune(const struct ew_call *call, struct ew_tune *tune, GError **error) {
  const char *path = ew_call_option(call, "tune");
  ew_fields_defaults(&ew_tune_fields, tune);
  if (!path)
    return TRUE;
  g_autoptr(ew_node) root = ew_node_read(path, error);
  return root && ew_fields_read(&ew_tune_fields, root, path, NULL, tune, error);
}

static gboolean read_air(const struct ew_call *call, struct ew_prediction_setup *s,
                         GError **error) {
  s->vapour_pa = NAN;
  if (!ew_call_quantity(call, "spark", EW_KIND_ANGLE, NAN, &s->spark_deg, error) ||
      !ew_call_quantity(call, "lambda", EW_KIND_LAMBDA, NAN, &s->lambda, error) ||
      !ew_call_quantity(call, "pressure", EW_KIND_PRESSURE_ABSOLUTE, NAN, &s->pressure_pa, error) ||
      !ew_call_quantity(call, "temperature", EW_KIND_TEMPERATURE, NAN, &s->temperature_k, error))
    return FALSE;
  if (s->spark_deg < -40 || s->spark_deg > 90)
    return ew_refuse(error, "--spark: %.1f deg is outside -40 to 90 deg before top dead centre",
                     s->spark_deg);
  if (s->pressure_pa < 4e4 || s->pressure_pa > 4e5)
    return ew_refuse(error, "--pressure: %.0f hPa is outside 400 to 4000 hPa",
                     s->pressure_pa / 100);
  return TRUE;
}

static gboolean read_asked(const struct ew_call *call, struct asked *a, GError **error) {
  double cell, threads;
  *a = (struct asked){0};
  if (!find_engine(call, ew_call_argument(call, 0), &a->engine, error))
    return FALSE;
  ew_cycle_options_defaults(&a->options);
  a->setup.engine = &a->engine;
  if (!read_tune(call, &a->setup.tune, error) || !read_air(call, &a->setup, error) ||
      !read_speeds(call, a, error) ||
      !ew_call_quantity(call, "cell", EW_KIND_LENGTH, 0.04, &cell, error) ||
      !ew_call_quantity(call, "threads", EW_KIND_COUNT, 0, &threads, error)) {
    asked_clear(a);
    return FALSE;
  }
  a->options.cell_m = cell;
  a->options.threads = (int)threads;
  a->options.cancel = &cancelled;
  if (isatty(STDERR_FILENO))
    a->options.progress = show_progress;
  signal(SIGINT, on_interrupt);
  return TRUE;
}

static void clear_results(struct ew_cycle_result *r, int n) {
  for (int i = 0; i < n; i++)
    ew_cycle_result_clear(&r[i]);
  g_free(r);
}

static void write_array(struct ew_json *json, const char *key, const struct ew_cycle_result *r,
                        int n, gsize offset) {
  ew_json_open_array(json, key);
  for (int i = 0; i < n; i++)
    ew_json_number(json, NULL, *(const double *)(const void *)((const char *)&r[i] + offset));
  ew_json_close_array(json);
}

static const struct {
  const char *key;
  gsize offset;
} arrays[] = {
#define A(key, member)                                                                             \
  { key, offsetof(struct ew_cycle_result, member) }
    A("speed_rpm", speed_rpm),
    A("torque_n_m", torque_n_m),
    A("power_w", power_w),
    A("bmep_pa", bmep_pa),
    A("imep_pa", imep_pa),
    A("pmep_pa", pmep_pa),
    A("fmep_pa", fmep_pa),
    A("volumetric_efficiency", volumetric_efficiency),
    A("air_kg_s", air_kg_s),
    A("fuel_kg_s", fuel_kg_s),
    A("bsfc_kg_j", bsfc_kg_j),
    A("residual_fraction", residual_fraction),
    A("peak_pressure_pa", peak_pressure_pa),
    A("peak_deg", peak_deg),
    A("ca10_deg", ca10_deg),
    A("ca50_deg", ca50_deg),
    A("ca90_deg", ca90_deg),
    A("exhaust_k", exhaust_k),
    A("spark_deg", spark_deg),
    A("mbt_deg", mbt_deg),
    A("knock", knock),
    A("octane_needed", octane_needed),
    A("mass_residual", mass_residual),
    A("energy_residual", energy_residual),
    A("torque_residual", torque_residual),
#undef A
};

static void write_prediction(const struct asked *a, const struct ew_cycle_result *r,
                             const struct ew_cycle_effort *effort, const GPtrArray *notes) {
  struct ew_json json = ew_answer_begin();
  for (gsize i = 0; i < G_N_ELEMENTS(arrays); i++)
    write_array(&json, arrays[i].key, r, a->count, arrays[i].offset);
  ew_json_open_array(&json, "converged");
  for (int i = 0; i < a->count; i++)
    ew_json_boolean(&json, NULL, r[i].converged);
  ew_json_close_array(&json);
  ew_json_open_array(&json, "cycles");
  for (int i = 0; i < a->count; i++)
    ew_json_integer(&json, NULL, r[i].cycles);
  ew_json_close_array(&json);
  ew_json_open_array(&json, "knock_limited");
  for (int i = 0; i < a->count; i++)
    ew_json_boolean(&json, NULL, r[i].knock_limited);
  ew_json_close_array(&json);
  ew_json_open_array(&json, "not_converged_because");
  for (int i = 0; i < a->count; i++)
    ew_json_text(&json, NULL, *r[i].reason ? r[i].reason : NULL);
  ew_json_close_array(&json);
  ew_json_number(&json, "wall_s", effort->wall_s);
  ew_json_text(&json, "simd", effort->simd);
  ew_json_integer(&json, "threads", effort->threads);
  ew_json_texts(&json, "assumed", notes);
  ew_answer_end(&json);
}

static void say_prediction(const struct asked *a, const struct ew_cycle_result *r,
                           const struct ew_cycle_effort *effort, const GPtrArray *notes,
                           enum ew_unit_system units) {
  ew_say("%7s %9s %8s %6s %7s %9s %8s %8s %7s %8s", "rpm", ew_kind_shown(EW_KIND_TORQUE, units),
         ew_kind_shown(EW_KIND_POWER, units), "VE", ew_kind_shown(EW_KIND_SPECIFIC_FUEL, units),
         "residual", "peak bar", "spark", "CA50", "knock");

  for (int i = 0; i < a->count; i++) {
    ew_say("%7.0f %9.1f %8.1f %6.3f %7.3g %7.1f %% %8.1f %7.1f%s %7.1f %8.2f%s", r[i].speed_rpm,
           ew_shown(EW_KIND_TORQUE, units, r[i].torque_n_m),
           ew_shown(EW_KIND_POWER, units, r[i].power_w), r[i].volumetric_efficiency,
           ew_shown(EW_KIND_SPECIFIC_FUEL, units, r[i].bsfc_kg_j), 100 * r[i].residual_fraction,
           r[i].peak_pressure_pa / 1e5, r[i].spark_deg, r[i].knock_limited ? "k" : " ",
           r[i].ca50_deg, r[i].knock, r[i].converged ? "" : "  DID NOT CONVERGE");
    if (!r[i].converged)
      ew_say("        %s", r[i].reason);
  }
  ew_say("k: held back by the knock integral. A ranking only: prove spark on the dyno, from the "
         "safe side.");
  ew_say("%d speeds in %.2f s of wall time (%s, %d thread%s)", a->count, effort->wall_s,
         effort->simd, effort->threads, effort->threads == 1 ? "" : "s");
  for (guint i = 0; i < notes->len; i++)
    ew_say("assumed: %s", (char *)g_ptr_array_index(notes, i));
}

static gboolean write_trace(const char *path, const struct ew_cycle_trace *t, GError **error) {
  GString *text = g_string_new("crank_deg");
  char buffer[EW_NUMBER_SIZE];
  for (int s = 0; s < t->series; s++)
    g_string_append_printf(text, ",%s [%s]", t->name[s], t->unit[s]);
  g_string_append_c(text, '\n');
  for (int i = 0; i < 720; i++) {
    g_string_append_printf(text, "%d", i);
    for (int s = 0; s < t->series; s++)
      g_string_append_printf(text, ",%s", ew_number_write(t->value[s][i], buffer));
    g_string_append_c(text, '\n');
  }
  g_autoptr(GError) problem = NULL;
  gboolean good = g_file_set_contents(path, text->str, (gssize)text->len, &problem) ||
                  ew_fail(error, "%s", problem->message);
  g_string_free(text, TRUE);
  return good;
}

static gboolean run_predict(const struct ew_call *call, GError **error) {
  struct asked a;
  if (!read_asked(call, &a, error))
    return FALSE;
  const char *trace = ew_call_option(call, "trace");
  a.options.trace = trace != NULL;
  struct ew_cycle_result *r = g_new0(struct ew_cycle_result, a.count);
  struct ew_cycle_effort effort = {0};
  g_autoptr(GPtrArray) notes = g_ptr_array_new_with_free_func(g_free);
  gboolean good =
      ew_predict_setups(&a.setup, 1, a.speeds, a.count, &a.options, r, &effort, notes, error);
  if (good && trace && r[a.count - 1].trace)
    good = write_trace(trace, r[a.count - 1].trace, error);
  if (good && call->json)
    write_prediction(&a, r, &effort, notes);
  else if (good)
    say_prediction(&a, r, &effort, notes, call->units);
  clear_results(r, a.count);
  asked_clear(&a);
  return good;
}
const struct ew_command ew_command_engine_predict = {
    .name = "engine predict",
    .summary = "A torque curve before the engine is built, with knock ranked",
    .takes = "FILE|NAME",
    .least = 1,
    .most = 1,
    .options = predict_options,
    .run = run_predict,
    .examples = "engine predict my-engine.yaml\nengine predict my-engine.yaml --speeds "
                "2500:7000:250 --json\n"
                "engine predict my-engine.yaml --spark \"30 deg\" --trace detail.csv",
    .more = "A cycle simulation: unsteady flow in every pipe, two-zone cylinders. What the file "
            "leaves out is assumed by rule and\n"
            "listed. A predicted knock limit ranks combinations; it is no permission for spark on "
            "a real engine."};

static const struct ew_option_spec fit_options[] = {
    PREDICT_OPTIONS,
    {"measured", "PULL|FILE", "the measured curve", FALSE},
    {"knobs", "LIST", "which of flow, burn, friction, heat (flow,friction,heat)", FALSE},
    {"points", "N", "how many speeds of the curve are used (8)", FALSE},
    {"out", "FILE", "write the tune here, for --tune", FALSE},
    {NULL, NULL, NULL, FALSE}};

static gboolean read_knobs(const struct ew_call *call, unsigned *turn, GError **error) {
  const char *text =
      ew_call_option(call, "knobs") ? ew_call_option(call, "knobs") : "flow,friction,heat";
  g_auto(GStrv) parts = g_strsplit(text, ",", -1);
  *turn = 0;
  for (int i = 0; parts[i]; i++) {
    int k = 0;
    while (ew_tune_names[k] && strcmp(ew_tune_names[k], g_strstrip(parts[i])) != 0)
      k++;
    if (!ew_tune_names[k])
      return ew_refuse(error, "--knobs '%s' is none of flow, burn, friction, heat", parts[i]);
    *turn |= 1u << k;
  }
  return TRUE;
}

/* Even points of the measured curve, and its weather where it is known. */
static gboolean take_measured(const struct ew_call *call, struct asked *a, double **torque,
                              GError **error) {
  const char *what = ew_call_option(call, "measured");
  double points;
  if (!what)
    return ew_refuse(error, "--measured is needed: a pull of the book or a file");
  if (!ew_call_quantity(call, "points", EW_KIND_COUNT, 8, &points, error))
    return FALSE;
  GError *problem = NULL;
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, FALSE, &problem);
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  struct ew_desk desk = {0};
  g_autoptr(GPtrArray) all = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  gboolean good = ew_desk_open(&desk, book, error) && ew_desk_load(&desk, what, all, error);
  if (good) {
    const struct ew_curve *c = ((struct ew_loaded *)g_ptr_array_index(all, 0))->curve;
    gboolean air = !isnan(c->conditions.pressure_pa) && !isnan(c->conditions.temperature_k);
    const double *source = air ? c->observed_n_m : c->torque_n_m;
    a->count = (int)CLAMP(points, 4, 40);
    g_free(a->speeds);
    a->speeds = g_new(double, a->count);
    *torque = g_new(double, a->count);
    double from = c->speed_rpm[0], to = c->speed_rpm[c->points - 1];
    for (int i = 0; i < a->count; i++) {
      a->speeds[i] = from + (to - from) * i / (a->count - 1);
      (*torque)[i] = ew_curve_at(c, source, fmin(a->speeds[i], to));
    }
    if (air && isnan(a->setup.pressure_pa))
      a->setup.pressure_pa = c->conditions.pressure_pa;
    if (air && isnan(a->setup.temperature_k))
      a->setup.temperature_k = c->conditions.temperature_k;
    if (air && isnan(a->setup.vapour_pa))
      a->setup.vapour_pa = c->conditions.vapour_pa;
    const struct ew_setup *s = &((struct ew_loaded *)g_ptr_array_index(all, 0))->setup;
    if (isnan(a->setup.spark_deg))
      a->setup.spark_deg = s->spark_deg;
    if (isnan(a->setup.lambda))
      a->setup.lambda = s->lambda_target;
  }
  ew_desk_clear(&desk);
  return good;
}

static void say_tuned(const struct asked *a, struct ew_tuned *t, const double *torque) {
  ew_say("%-9s %8s %8s", "knob", "factor", "±");
  for (int k = 0; k < EW_TUNE_COUNT; k++)
    if (!isnan(*ew_tune_uncertainty(&t->tune, k)))
      ew_say("%-9s %8.3f %8.3f", ew_tune_names[k], *ew_tune_factor(&t->tune, k),
             2 * *ew_tune_uncertainty(&t->tune, k));
  ew_say("\n%7s %10s %10s", "rpm", "measured", "left, %");
  for (int i = 0; i < a->count; i++)
    ew_say("%7.0f %10.1f %+10.1f", a->speeds[i], torque[i], 100 * t->residual[i]);
  ew_say("error of torque, root mean square: %.1f %% before, %.1f %% after; largest left %.1f %%; "
         "%d evaluations",
         100 * t->error_before, 100 * t->error_after, 100 * t->worst_after, t->evaluations);
  if (t->pattern > 0.5)
    ew_say("mind: what is left has a pattern over speed (correlation %.2f): a length, a cam or a "
           "flow figure of the file is off, and no knob "
           "can make up for it",
           t->pattern);
}

static gboolean run_fit(const struct ew_call *call, GError **error) {
  struct asked a;
  unsigned turn;
  g_autofree double *torque = NULL;
  struct ew_tuned tuned;
  if (!read_asked(call, &a, error))
    return FALSE;
  a.options.progress = NULL;
  if (!read_knobs(call, &turn, error) || !take_measured(call, &a, &torque, error) ||
      !ew_tune_to(&a.setup, a.speeds, torque, a.count, turn, &a.options, &tuned, error)) {
    asked_clear(&a);
    return FALSE;
  }
  const char *out = ew_call_option(call, "out");
  g_autofree char *yaml = ew_fields_write_yaml(&ew_tune_fields, &tuned.tune);
  g_autoptr(GError) problem = NULL;
  gboolean good = !out || g_file_set_contents(out, yaml, -1, &problem) ||
                  ew_fail(error, "%s", problem->message);
  if (good && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_open(&json, "tune");
    ew_fields_write_json(&ew_tune_fields, &tuned.tune, &json);
    ew_json_close(&json);
    ew_json_numbers(&json, "speed_rpm", a.speeds, (gsize)a.count);
    ew_json_numbers(&json, "measured_torque_n_m", torque, (gsize)a.count);
    ew_json_numbers(&json, "relative_residual", tuned.residual, (gsize)a.count);
    ew_json_number(&json, "relative_error_before", tuned.error_before);
    ew_json_number(&json, "relative_error_after", tuned.error_after);
    ew_json_number(&json, "residual_correlation", tuned.pattern);
    ew_json_integer(&json, "evaluations", tuned.evaluations);
    ew_answer_end(&json);
  } else if (good)
    say_tuned(&a, &tuned, torque);
  g_free(tuned.residual);
  asked_clear(&a);
  return good;
}
const struct ew_command ew_command_engine_fit = {
    .name = "engine fit",
    .summary = "Turn a few physical knobs so that the prediction meets a measured curve",
    .takes = "FILE|NAME",
    .least = 1,
    .most = 1,
    .options = fit_options,
    .run = run_fit,
    .examples = "engine fit my-engine.yaml --measured 30 --out tune.yaml\nengine predict "
                "my-engine.yaml --tune tune.yaml"};

static const struct ew_option_spec vary_options[] = {
    PREDICT_OPTIONS,
    {"change", "NAME=Q[,Q...]",
     "a change: compression=+0.5, primary_length=-100 mm,+100 mm; may be repeated", TRUE},
    {"most-octane", "N", "variants that ask for more octane stand last", FALSE},
    {"keep", "FILE", "keep what was run, and go on from there the next time", FALSE},
    {"plot", "FILE", "torque curves of the best: .pdf, .svg or .png", FALSE},
    {"grid", NULL, "every combination of the changes, not one at a time", FALSE},
    {NULL, NULL, NULL, FALSE}};

static void variation_clear(void *v) {
  g_free(((struct ew_variation *)v)->text);
}

/* Sets of variations to run: one at a time, or all combinations of different names. */
static GPtrArray *variants_of(const GArray *all, gboolean grid) {
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

static char *variant_text(const GArray *set) {
  GString *text = g_string_new(NULL);
  for (guint i = 0; i < set->len; i++)
    g_string_append_printf(text, "%s%s", i ? ", " : "",
                           g_array_index(set, struct ew_variation, i).text);
  return g_string_free(text, FALSE);
}

static double mean_torque(const struct ew_cycle_result *r, int n, gboolean upper) {
  double sum = 0;
  int from = upper ? n / 2 : 0, to = upper ? n : (n + 1) / 2;
  for (int i = from; i < to; i++)
    sum += r[i].torque_n_m;
  return sum / MAX(to - from, 1);
}

struct answer {
  char *text;
  double lower, upper, lower_u, upper_u, worst_knock, octane;
  gboolean converged, done, beyond; /* beyond: asks for more octane than --most-octane */
  double *torque;                   /* at the speeds */
};

/* Differences of mean torque below and above the middle of the speeds. Uncertainty: each fitted knob
 * moved by its own, and a quarter of the difference for what the model itself may have wrong (rule
 * of thumb). */
static void fill_answer(struct answer *v, const struct ew_cycle_result *base,
                        const struct ew_cycle_result *varied, int n) {
  v->lower = mean_torque(varied, n, FALSE) - mean_torque(base, n, FALSE);
  v->upper = mean_torque(varied, n, TRUE) - mean_torque(base, n, TRUE);
  v->lower_u = pow(v->lower / 4, 2);
  v->upper_u = pow(v->upper / 4, 2);
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
  const struct answer *x = a, *y = b;
  if (x->beyond != y->beyond)
    return x->beyond - y->beyond;
  return (x->upper + x->lower < y->upper + y->lower) - (x->upper + x->lower > y->upper + y->lower);
}

/* Runs `count` variants together with the engine as it is, whose curve goes into `base`. */
static gboolean run_variants(struct asked *a, GArray *const *sets, int count,
                             struct answer **answers, double **base, GError **error) {
  int variants = count + 1, knobs = 0, moved[EW_TUNE_COUNT];
  for (int k = 0; k < EW_TUNE_COUNT; k++)
    if (*ew_tune_uncertainty(&a->setup.tune, k) > 0)
      moved[knobs++] = k;
  int all = variants * (knobs + 1);
  g_autofree struct ew_prediction_setup *setups = g_new(struct ew_prediction_setup, all);
  struct ew_cycle_result *r = g_new0(struct ew_cycle_result, (gsize)all * (gsize)a->count);
  for (int k = 0; k <= knobs; k++)
    for (int v = 0; v < variants; v++) {
      struct ew_prediction_setup *s = &setups[k * variants + v];
      *s = a->setup;
      s->variations = v ? sets[v - 1] : NULL;
      if (k)
        *ew_tune_factor(&s->tune, moved[k - 1]) += *ew_tune_uncertainty(&s->tune, moved[k - 1]);
    }
  struct ew_cycle_effort effort;
  gboolean good =
      ew_predict_setups(setups, all, a->speeds, a->count, &a->options, r, &effort, NULL, error);
  if (good && !*base)
    *base = torques_of(r, a->count);
  for (int v = 1; good && v < variants; v++) {
    struct answer *one = answers[v - 1];
    fill_answer(one, r, r + v * a->count, a->count);
    one->torque = torques_of(r + v * a->count, a->count);
    for (int k = 1; k <= knobs; k++) {
      struct answer other = {0};
      fill_answer(&other, r + k * variants * a->count, r + (k * variants + v) * a->count, a->count);
      one->lower_u += pow(other.lower - one->lower, 2);
      one->upper_u += pow(other.upper - one->upper, 2);
    }
    one->lower_u = sqrt(one->lower_u);
    one->upper_u = sqrt(one->upper_u);
  }
  clear_results(r, all * a->count);
  return good;
}

/* ---- what was run is kept, so that a long search goes on where it stopped ---- */

/* What the kept answers belong to: engine, knobs, air and speeds. */
static char *key_of(const struct asked *a) {
  g_autofree char *engine = ew_engine_write_yaml(&a->engine);
  g_autofree char *tune = ew_fields_write_yaml(&ew_tune_fields, &a->setup.tune);
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  g_checksum_update(sum, (const guchar *)engine, -1);
  g_checksum_update(sum, (const guchar *)tune, -1);
  g_checksum_update(sum, (const guchar *)a->speeds, (gssize)(sizeof(double) * (gsize)a->count));
  double air[] = {a->setup.lambda, a->setup.pressure_pa, a->setup.temperature_k, a->setup.spark_deg,
                  a->options.cell_m};
  for (gsize i = 0; i < G_N_ELEMENTS(air); i++) {
    char buffer[EW_NUMBER_SIZE];
    g_checksum_update(sum, (const guchar *)ew_number_write(air[i], buffer), -1);
  }
  return g_strdup(g_checksum_get_string(sum));
}

static gboolean keep_answers(const char *path, const char *key, const struct answer *answers,
                             guint n, int speeds, GError **error) {
  GString *text = g_string_new(NULL);
  char buffer[EW_NUMBER_SIZE];
  g_string_append_printf(text, "# variants of %s\n", key);
  for (guint i = 0; i < n; i++) {
    const struct answer *v = &answers[i];
    if (!v->done)
      continue;
    double figures[] = {v->lower,       v->upper,  v->lower_u,  v->upper_u,
                        v->worst_knock, v->octane, v->converged};
    g_string_append(text, v->text);
    for (gsize k = 0; k < G_N_ELEMENTS(figures); k++)
      g_string_append_printf(text, "\t%s", ew_number_write(figures[k], buffer));
    for (int k = 0; k < speeds; k++)
      g_string_append_printf(text, "\t%s", ew_number_write(v->torque[k], buffer));
    g_string_append_c(text, '\n');
  }
  g_autoptr(GError) problem = NULL;
  gboolean good = g_file_set_contents(path, text->str, (gssize)text->len, &problem) ||
                  ew_fail(error, "%s", problem->message);
  g_string_free(text, TRUE);
  return good;
}

static void take_row(char **cells, guint count, struct answer *answers, guint n, int speeds) {
  double figures[7];
  for (guint i = 0; i < n; i++) {
    struct answer *v = &answers[i];
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
    *v =
        (struct answer){v->text,    figures[0],      figures[1], figures[2], figures[3], figures[4],
                        figures[5], figures[6] != 0, TRUE,       FALSE,      torque};
  }
}

static gboolean take_kept(const char *path, const char *key, struct answer *answers, guint n,
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
                     "--keep %s: what is kept there belongs to another engine, tune, air or "
                     "speeds: name another file",
                     path);
  for (int i = 1; lines[i]; i++) {
    g_auto(GStrv) cells = g_strsplit(lines[i], "\t", -1);
    if (cells[0])
      take_row(cells, g_strv_length(cells), answers, n, speeds);
  }
  return TRUE;
}

#define BATCH 12 /* variants run together; what is done is kept after each */

static gboolean run_all(struct asked *a, GPtrArray *sets, struct answer *answers, const char *keep,
                        double **base, GError **error) {
  g_autofree char *key = key_of(a);
  guint n = sets->len, at = 0;
  for (guint i = 0; i < n; i++)
    answers[i].text = variant_text(g_ptr_array_index(sets, i));
  if (keep && !take_kept(keep, key, answers, n, a->count, error))
    return FALSE;
  do {
    GArray *some[BATCH];
    struct answer *into[BATCH];
    int count = 0;
    for (; at < n && count < BATCH; at++)
      if (!answers[at].done) {
        some[count] = g_ptr_array_index(sets, at);
        into[count++] = &answers[at];
      }
    if ((count > 0 || !*base) && !run_variants(a, some, count, into, base, error))
      return FALSE;
    if (keep && count > 0 && !keep_answers(keep, key, answers, n, a->count, error))
      return FALSE;
  } while (at < n);
  return TRUE;
}

static gboolean plot_variants(const char *path, const struct asked *a, const struct answer *answers,
                              guint n, const double *base, enum ew_unit_system units,
                              GError **error) {
  enum ew_format format;
  const double *curves[7] = {base};
  const char *labels[7] = {"the engine as it is"};
  gsize count = 1;
  if (!ew_format_of(path, FALSE, &format))
    return ew_refuse(error, "--plot '%s': the name ends with .pdf, .svg or .png", path);
  for (guint i = 0; i < n && count < G_N_ELEMENTS(curves); i++)
    if (answers[i].converged) {
      curves[count] = answers[i].torque;
      labels[count++] = answers[i].text;
    }
  g_autofree char *stamp = ew_time_now();
  g_autofree char *title =
      g_strdup_printf("What if: %s", a->engine.name ? a->engine.name : "engine");
  struct ew_curves sheet = {
      .title = title,
      .caption =
          "Predicted, not measured: differences rank, and the first lines are the best of what was "
          "asked. A predicted knock limit is no permission for spark. The axis does not begin at "
          "zero.",
      .units = units,
      .points = (gsize)a->count,
      .curves = count,
      .speed_rpm = a->speeds,
      .torque_n_m = curves,
      .labels = labels};
  return ew_curves_draw(&sheet, path, format, EW_PAPER_A4, stamp, error);
}

static void say_variants(const struct asked *a, const struct answer *answers, int n) {
  double middle = a->speeds[a->count / 2];
  g_autofree char *below = g_strdup_printf("to %.0f", middle),
                  *above = g_strdup_printf("%.0f on", middle);
  ew_say("%-44s %18s %18s %10s", "change", below, above, "octane");
  for (int i = 0; i < n; i++)
    ew_say("%-44s %+8.1f ± %4.1f N·m %+8.1f ± %4.1f N·m %10.0f%s", answers[i].text,
           answers[i].lower, 2 * answers[i].lower_u, answers[i].upper, 2 * answers[i].upper_u,
           answers[i].octane,
           !answers[i].converged ? "  DID NOT CONVERGE"
           : answers[i].beyond   ? "  beyond --most-octane"
                                 : "");
  ew_say("Mean torque against the engine as it is; ± at 95 %%: the fit's knobs, and a quarter of "
         "the difference for the model (rule of thumb).");
  ew_say("octane: what the knock integral asks for, ± 3 to 4; a ranking only: prove it from the "
         "safe side.");
}

static gboolean run_vary(const struct ew_call *call, GError **error) {
  struct asked a;
  g_autofree const char **changes = ew_call_options(call, "change");
  g_autoptr(GArray) all = g_array_new(FALSE, FALSE, sizeof(struct ew_variation));
  g_array_set_clear_func(all, variation_clear);
  for (int i = 0; changes[i]; i++)
    if (!ew_variation_parse(changes[i], all, error))
      return FALSE;
  if (all->len == 0)
    return ew_refuse(error, "--change is needed, for example --change compression=+0.5");
  g_autoptr(GPtrArray) sets = variants_of(all, ew_call_has(call, "grid"));
  if (sets->len > 500)
    return ew_refuse(error, "--grid: %u variants, and at most 500 are run at once", sets->len);
  if (!read_asked(call, &a, error))
    return FALSE;
  double most;
  g_autofree double *base = NULL;
  g_autofree struct answer *answers = g_new0(struct answer, sets->len);
  const char *plot = ew_call_option(call, "plot");
  gboolean good = ew_call_quantity(call, "most-octane", EW_KIND_NUMBER, INFINITY, &most, error) &&
                  run_all(&a, sets, answers, ew_call_option(call, "keep"), &base, error);
  for (guint i = 0; i < sets->len; i++)
    answers[i].beyond = answers[i].octane > most;
  if (good)
    qsort(answers, sets->len, sizeof *answers, by_gain);
  if (good && plot)
    good = plot_variants(plot, &a, answers, sets->len, base, call->units, error);
  if (good && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_number(&json, "middle_speed_rpm", a.speeds[a.count / 2]);
    ew_json_open_array(&json, "variants");
    for (guint i = 0; i < sets->len; i++) {
      ew_json_open(&json, NULL);
      ew_json_text(&json, "change", answers[i].text);
      ew_json_number(&json, "torque_below_n_m", answers[i].lower);
      ew_json_number(&json, "torque_below_standard_uncertainty_n_m", answers[i].lower_u);
      ew_json_number(&json, "torque_above_n_m", answers[i].upper);
      ew_json_number(&json, "torque_above_standard_uncertainty_n_m", answers[i].upper_u);
      ew_json_number(&json, "knock", answers[i].worst_knock);
      ew_json_number(&json, "octane_needed", answers[i].octane);
      ew_json_boolean(&json, "converged", answers[i].converged);
      ew_json_boolean(&json, "within_limits", !answers[i].beyond);
      ew_json_numbers(&json, "torque_n_m", answers[i].torque, (gsize)a.count);
      ew_json_close(&json);
    }
    ew_json_close_array(&json);
    ew_answer_end(&json);
  } else if (good)
    say_variants(&a, answers, (int)sets->len);
  for (guint i = 0; i < sets->len; i++) {
    g_free(answers[i].text);
    g_free(answers[i].torque);
  }
  asked_clear(&a);
  return good;
}
const struct ew_command ew_command_engine_vary = {
    .name = "engine vary",
    .summary = "What if: compression, cam, lengths, mixture, altitude, as differences with their "
               "uncertainty",
    .takes = "FILE|NAME",
    .least = 1,
    .most = 1,
    .options = vary_options,
    .run = run_vary,
    .examples = "engine vary my-engine.yaml --change compression=+0.5 --change \"cam_advance=-4 "
                "deg,+4 deg\"\n"
                "engine vary my-engine.yaml --tune tune.yaml --change \"primary_length=-150 "
                "mm,+150 mm\" --change \"runner_length=-50 mm,+50 mm\" --grid",
    .more = "Changes: compression, cam_advance, inlet_centreline, exhaust_centreline, "
            "runner_length, runner_diameter, primary_length,\n"
            "primary_diameter, spark, lambda, octane, altitude, air_temperature. The best comes "
            "first."};
