/* engine predict, fit and vary: the engine that runs before it is built. */
#include "base/number.h"
#include "base/words.h"
#include "cli/predict_asked.h"
#include "cli/predict_plot.h"
#include "cli/predict_said.h"
#include "desk/predict.h"
#include "desk/vary.h"
#include "sheet/curves.h"
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>

#define PREDICT_OPTIONS                                                                            \
  {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book, when the engine is named"), FALSE},          \
      {"speeds", EW_TEXT("A:B:STEP"),                                                              \
       EW_TEXT("speeds in rpm (2000 to the engine's top speed by 500)"), FALSE},                   \
      {"spark", "Q",                                                                               \
       EW_TEXT("total advance (default: the least for best torque, or what knock leaves)"),        \
       FALSE},                                                                                     \
      {"lambda", "N", EW_TEXT("mixture (default: the file's)"), FALSE},                            \
      {"pressure", "Q", EW_TEXT("air pressure (1 bar)"), FALSE},                                   \
      {"temperature", "Q", EW_TEXT("air temperature (25 degC)"), FALSE},                           \
      {"humidity", "Q", EW_TEXT("relative humidity of that air (0 %)"), FALSE},                    \
      {"cell", "Q",                                                                                \
       EW_TEXT("cell length of the pipes (by the highest speed: 40 mm up to 7,200 rpm, 24 mm at "  \
               "12,000)"),                                                                         \
       FALSE},                                                                                     \
      {"tune", EW_TEXT("FILE"),                                                                    \
       EW_TEXT("knobs from 'engine fit', or 'kept': the fit that the book keeps with the engine"), \
       FALSE},                                                                                     \
  {                                                                                                \
    "threads", "N", EW_TEXT("threads (all)"), FALSE                                                \
  }

static const struct ew_option_spec predict_options[] = {
    PREDICT_OPTIONS,
    {"trace", EW_TEXT("FILE"), EW_TEXT("crank-angle detail of the highest speed, CSV"), FALSE},
    {"plot", EW_TEXT("FILE"),
     EW_TEXT("the curve, and one cylinder over one cycle: two pages, .pdf, .svg or .png"), FALSE},
    {"at", "N", EW_TEXT("speed of that cycle (the speed of highest power)"), FALSE},
    {"measured", EW_TEXT("PULL|FILE"), EW_TEXT("a measured curve to lay under it"), FALSE},
    {"paper", "a4|letter", EW_TEXT("paper (a4)"), FALSE},
    {"uncertainty", NULL, EW_TEXT("also the curve's uncertainty (runs it again for each knob)"),
     FALSE},
    {"energy", NULL,
     EW_TEXT("also where the fuel's heat goes, the steepest pressure rise, and what a thermocouple "
             "in the exhaust reads"),
     FALSE},
    {"compression", NULL,
     EW_TEXT(
         "also which ratio this fuel stands and this cam wants, and what it is worth (four more "
         "curves)"),
     FALSE},
    {NULL, NULL, NULL, FALSE}};

static gint cancelled;

static void on_interrupt(int signal_number) {
  (void)signal_number;
  cancelled = 1;
}

struct asked {
  struct ew_engine engine;
  struct ew_prediction_setup setup;
  struct ew_cycle_options options;
  double *speeds;
  int count;
  double cell_m; /* as asked for; NaN: by the highest speed */
};

static void choose_cells(struct asked *a) {
  a->options.cell_m = isnan(a->cell_m) ? ew_cycle_cell_m(a->speeds[a->count - 1]) : a->cell_m;
}

static void asked_clear(struct asked *a) {
  ew_engine_clear(&a->engine);
  g_free(a->speeds);
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
    return ew_refuse(error,
                     "--speeds: %#.0f to %#.0f by %#.0f rpm is outside 300 to 25,000 rpm or more "
                     "than 400 speeds",
                     from, to, step);
  a->count = (int)((to - from) / step + 1e-9) + 1;
  a->speeds = g_new(double, a->count);
  for (int i = 0; i < a->count; i++)
    a->speeds[i] = from + step * i;
  return TRUE;
}

static gboolean read_asked(const struct ew_call *call, struct asked *a, GError **error) {
  double cell, threads;
  *a = (struct asked){0};
  if (!ew_call_engine(call, ew_call_argument(call, 0), &a->engine, error))
    return FALSE;
  ew_cycle_options_defaults(&a->options);
  a->setup.engine = &a->engine;
  if (!ew_call_tune(call, &a->setup.tune, error) ||
      !ew_call_prediction_air(call, &a->setup, error) || !read_speeds(call, a, error) ||
      !ew_call_quantity(call, "cell", EW_KIND_LENGTH, NAN, &cell, error) ||
      !ew_call_quantity(call, "threads", EW_KIND_COUNT, 0, &threads, error)) {
    asked_clear(a);
    return FALSE;
  }
  a->cell_m = cell;
  choose_cells(a);
  a->options.threads = (int)threads;
  a->options.cancel = &cancelled;
  a->options.progress = ew_call_progress();
  signal(SIGINT, on_interrupt);
  return TRUE;
}

static void answer_prediction(const struct asked *a, const struct ew_cycle_result *r,
                              const struct ew_doubt *doubt, const struct ew_cycle_effort *effort,
                              const GPtrArray *notes, const struct ew_ratio_answer *ratio,
                              enum ew_unit_system units) {
  struct ew_json json = ew_answer_begin();
  ew_prediction_write_json(r, a->count, effort, notes, units, &json);
  if (doubt->torque_u_n_m) {
    ew_json_numbers(&json, "torque_standard_uncertainty_n_m", doubt->torque_u_n_m, (gsize)a->count);
    g_autoptr(ew_message) from = ew_message_plain(ew_doubt_says(&a->setup));
    ew_json_open(&json, "uncertainty_from");
    ew_message_write_json(from, units, &json);
    ew_json_close(&json);
    ew_doubt_write_narrowings(doubt, &json);
  }
  if (ratio->now_n_m)
    ew_ratio_answer_write_json(ratio, &json);
  ew_answer_end(&json);
}

static gboolean run_predict(const struct ew_call *call, GError **error) {
  struct asked a;
  struct ew_predict_plot plot;
  if (!ew_predict_plot_read(call, &plot, error) || !read_asked(call, &a, error)) {
    ew_predict_plot_clear(&plot);
    return FALSE;
  }
  const char *trace = ew_call_option(call, "trace");
  a.options.trace = trace != NULL;
  struct ew_cycle_result *r = g_new0(struct ew_cycle_result, a.count);
  struct ew_cycle_effort effort = {0};
  g_autoptr(GPtrArray) notes = ew_messages_new();
  struct ew_doubt doubt = {0};
  gboolean good =
      ew_call_has(call, "uncertainty")
          ? ew_predict_doubt(&a.setup, a.speeds, a.count, &a.options, r, &doubt, &effort, notes,
                             error)
          : ew_predict_setups(&a.setup, 1, a.speeds, a.count, &a.options, r, &effort, notes, error);
  if (good && trace && r[a.count - 1].trace)
    good = ew_write_trace(trace, r[a.count - 1].trace, error);
  if (good && plot.path)
    good = ew_predict_plot_draw(
        &plot,
        &(struct ew_predict_drawn){&a.setup, &a.options, r, a.speeds, a.count, &doubt, notes},
        call->units, error);
  struct ew_ratio_answer ratio = {0};
  if (good && ew_call_has(call, "compression"))
    good = ew_predict_ratio(&a.setup, a.speeds, a.count, &a.options, &ratio, error);
  if (good && call->json)
    answer_prediction(&a, r, &doubt, &effort, notes, &ratio, call->units);
  else if (good) {
    ew_say_prediction(r, a.count, &effort, notes, call->units);
    if (ew_call_has(call, "energy"))
      ew_say_energy(r, a.count, call->units);
    if (doubt.torque_u_n_m)
      ew_say_doubt(&a.setup, a.speeds, &doubt, call->units);
    if (ratio.now_n_m)
      ew_say_ratio(&ratio, a.speeds, call->units);
  }
  ew_predict_plot_clear(&plot);
  ew_ratio_answer_clear(&ratio);
  ew_doubt_clear(&doubt);
  ew_cycle_results_free(r, a.count);
  asked_clear(&a);
  return good;
}
const struct ew_command ew_command_engine_predict = {
    .name = "engine predict",
    .summary = EW_TEXT("A torque curve before the engine is built, with knock ranked"),
    .takes = EW_TEXT("FILE|NAME"),
    .least = 1,
    .most = 1,
    .options = predict_options,
    .run = run_predict,
    .examples =
        "engine predict my-engine.yaml\nengine predict my-engine.yaml --speeds "
        "2500:7000:250 --json\n"
        "engine predict my-engine.yaml --spark \"30 deg\" --trace detail.csv\n"
        "engine predict my-engine.yaml --uncertainty --energy --compression\n"
        "engine predict my-engine.yaml --uncertainty --plot prediction.pdf --at \"5500 rpm\"",
    .more = EW_TEXT("A cycle simulation: unsteady flow in every pipe, two-zone cylinders. What the "
                    "file leaves out is assumed by rule and\nlisted. A predicted knock limit ranks "
                    "combinations; it is not permission for spark on a real engine.")};

static const struct ew_option_spec fit_options[] = {
    PREDICT_OPTIONS,
    {"measured", EW_TEXT("PULL|FILE"), EW_TEXT("the measured curve"), FALSE},
    {"knobs", EW_TEXT("LIST"),
     EW_TEXT("which of flow, burn, friction, heat, runner, back_pressure, duration "
             "(flow,friction,heat)"),
     FALSE},
    {"points", "N", EW_TEXT("how many speeds of the curve are used (8)"), FALSE},
    {"out", EW_TEXT("FILE"), EW_TEXT("write the tune here, for --tune"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static gboolean read_knobs(const struct ew_call *call, unsigned *turn, GError **error) {
  const char *text = ew_call_option(call, "knobs");
  *turn = ew_tune_knobs_parse(text ? text : "flow,friction,heat", "--knobs", error);
  return *turn != 0;
}

/* Even points of the measured curve, and its weather where it is known. */
static gboolean take_measured(const struct ew_call *call, struct asked *a, double **torque,
                              GError **error) {
  const char *what = ew_call_option(call, "measured");
  double points;
  if (!what)
    return ew_refuse(error, "--measured is needed: a pull of the book, or a file");
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
    g_ptr_array_set_size(all, 1); /* the first pull of a file */
    a->count = (int)CLAMP(points, 4, 40);
    g_free(a->speeds);
    a->speeds = g_new(double, a->count);
    *torque = g_new(double, a->count);
    good = ew_predict_measured(all, a->count, &a->setup, a->speeds, *torque, error);
    if (good)
      choose_cells(a);
  }
  ew_desk_clear(&desk);
  return good;
}

static gboolean run_fit(const struct ew_call *call, GError **error) {
  struct asked a;
  unsigned turn;
  g_autofree double *torque = NULL;
  struct ew_tuned tuned;
  if (!read_asked(call, &a, error))
    return FALSE;
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
    ew_tuned_write_json(&tuned, a.speeds, torque, &json);
    ew_answer_end(&json);
  } else if (good)
    ew_say_tuned(&tuned, a.speeds, torque, a.count);
  g_free(tuned.residual);
  asked_clear(&a);
  return good;
}
const struct ew_command ew_command_engine_fit = {
    .name = "engine fit",
    .summary = EW_TEXT("Fit a few physical knobs so that the prediction matches a measured curve"),
    .takes = EW_TEXT("FILE|NAME"),
    .least = 1,
    .most = 1,
    .options = fit_options,
    .run = run_fit,
    .examples = "engine fit my-engine.yaml --measured 30 --out tune.yaml\nengine predict "
                "my-engine.yaml --tune tune.yaml"};

static const struct ew_option_spec vary_options[] = {
    PREDICT_OPTIONS,
    {"change", EW_TEXT("NAME=Q[,Q...]"),
     EW_TEXT("a change: compression=+0.5 or -5 % changes, lambda=0.80 sets; may be repeated"),
     TRUE},
    {"most-octane", "N", EW_TEXT("list variants that need more octane last"), FALSE},
    {"keep", EW_TEXT("FILE"), EW_TEXT("keep what was run, and continue from there next time"),
     FALSE},
    {"plot", EW_TEXT("FILE"), EW_TEXT("torque curves of the best: .pdf, .svg or .png"), FALSE},
    {"grid", NULL, EW_TEXT("every combination of the changes, not one change at a time"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static gboolean plot_variants(const char *path, const struct asked *a, const struct ew_variants *v,
                              enum ew_unit_system units, GError **error) {
  enum ew_format format;
  const double *curves[7] = {v->base_n_m};
  const char *labels[7] = {ew_tr("the engine as it is")};
  gsize count = 1;
  if (!ew_format_of(path, FALSE, &format))
    return ew_refuse(error, "--plot '%s': the name must end with .pdf, .svg or .png", path);
  for (guint i = 0; i < v->count && count < G_N_ELEMENTS(curves); i++)
    if (v->variant[i].converged) {
      curves[count] = v->variant[i].torque_n_m;
      labels[count++] = v->variant[i].says;
    }
  g_autofree char *stamp = ew_time_now();
  g_autofree char *title =
      ew_words("What if: %s", a->engine.name ? a->engine.name : ew_tr("engine"));
  struct ew_curves sheet = {
      .title = title,
      .caption = ew_tr("Predicted, not measured: differences rank, and the first lines are the "
                       "best of what was asked. A predicted knock limit is not permission for "
                       "spark. The axis does not begin at zero."),
      .units = units,
      .points = (gsize)a->count,
      .curves = count,
      .speed_rpm = a->speeds,
      .torque_n_m = curves,
      .labels = labels};
  return ew_curves_draw(&sheet, path, format, EW_PAPER_A4, stamp, error);
}

static gboolean answer_vary(const struct ew_call *call, const struct asked *a,
                            const struct ew_variants *v, GError **error) {
  const char *plot = ew_call_option(call, "plot");
  if (plot && !plot_variants(plot, a, v, call->units, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_variants_write_json(v, &json);
    ew_answer_end(&json);
  } else {
    ew_say_variants(v);
    if (v->keeping)
      ew_say_kept(v);
  }
  return TRUE;
}

static gboolean run_vary(const struct ew_call *call, GError **error) {
  struct asked a;
  g_autofree const char **changes = ew_call_options(call, "change");
  g_autoptr(GArray) all = ew_variations_new();
  for (int i = 0; changes[i]; i++)
    if (!ew_variation_parse(changes[i], all, error))
      return FALSE;
  if (all->len == 0)
    return ew_refuse(error, "--change is needed, for example --change compression=+0.5");
  g_autoptr(GPtrArray) sets = ew_variants_of(all, ew_call_has(call, "grid"), error);
  if (!sets)
    return FALSE;
  if (!read_asked(call, &a, error))
    return FALSE;
  struct ew_vary ask = {.setup = a.setup,
                        .speed_rpm = a.speeds,
                        .speeds = a.count,
                        .options = &a.options,
                        .keep = ew_call_option(call, "keep")};
  struct ew_variants v = {0};
  gboolean good =
      ew_call_quantity(call, "most-octane", EW_KIND_NUMBER, INFINITY, &ask.most_octane, error) &&
      ew_vary_run(&ask, sets, &v, error) && answer_vary(call, &a, &v, error);
  ew_variants_clear(&v);
  asked_clear(&a);
  return good;
}
const struct ew_command ew_command_engine_vary = {
    .name = "engine vary",
    .summary =
        EW_TEXT("What if: compression, cam, lengths, mixture, altitude, as differences with their "
                "uncertainty"),
    .takes = EW_TEXT("FILE|NAME"),
    .least = 1,
    .most = 1,
    .options = vary_options,
    .run = run_vary,
    .examples = "engine vary my-engine.yaml --change compression=+0.5 --change \"cam_advance=-4 "
                "deg,+4 deg\"\n"
                "engine vary my-engine.yaml --tune tune.yaml --change \"primary_length=-150 "
                "mm,+150 mm\" --change \"runner_length=-50 mm,+50 mm\" --grid\n"
                "engine vary my-engine.yaml --change lambda=0.84,0.92 --change \"primary_length=-5 "
                "%,+5 %\"",
    .more =
        EW_TEXT("A figure without a sign sets, + or - changes by that much, % scales; the answer "
                "says from what to what.\nChanges: compression, cam_advance, inlet_centreline, "
                "exhaust_centreline, runner_length, runner_diameter,\nprimary_length, "
                "primary_diameter, spark, lambda, octane, port_flow, altitude, air_temperature; or "
                "any\nfigure of the engine's file that the simulation uses: bore, "
                "inlet.head_diameter, breathing.plenum. The best comes first.")};
