/* Predictions for the page: sliders, a curve with what it can be wrong by, a fit to pulls, what-ifs.
 *
 * Every question is read and checked here, with the book; the work is done in the predictor's lanes,
 * without it. A prediction is never stored as a measurement, and a predicted knock limit permits nothing. */
#include "base/error.h"
#include "base/number.h"
#include "desk/vary.h"
#include "engine/compression.h"
#include "serve/predictor.h"
#include "serve/service.h"
#include "serve/turns.h"
#include <math.h>
#include <string.h>

#define SPEEDS_MOST   60
#define VARIANTS_MOST 40
#define CHANGES_MOST  40
#define PULLS_MOST    20
#define POINTS        10
#define CELL_M        0.04

/* One engine as it is to be run. */
struct side {
  struct ew_engine engine;
  gboolean has_engine;
  struct ew_prediction_setup setup;
  GArray *variations;
};

/* A question once it is read. */
struct question {
  struct side now, base;
  gboolean doubt, against;
  enum ew_unit_system units; /* in which turned figures are written */
  double low_rpm, high_rpm;
  struct ew_cycle_options options;
  double *speed_rpm, *torque_n_m; /* torque: measured, for a fit */
  int speeds;
  unsigned turn;
  GArray *changes;
  GPtrArray *sets;
};

static void side_clear(struct side *s) {
  if (s->has_engine)
    ew_engine_clear(&s->engine);
  g_clear_pointer(&s->variations, g_array_unref);
}

static void question_free(gpointer data) {
  struct question *q = data;
  side_clear(&q->now);
  side_clear(&q->base);
  g_free(q->speed_rpm);
  g_free(q->torque_n_m);
  g_clear_pointer(&q->sets, g_ptr_array_unref);
  g_clear_pointer(&q->changes, g_array_unref);
  g_free(q);
}

/* ---- reading ---- */

/* A figure of the request: a JSON number inside, a text with any unit; `otherwise` when it is absent. */
static gboolean read_figure(const struct ew_node *map, const char *key, enum ew_kind kind,
                            double low, double high, double otherwise, double *value,
                            GError **error) {
  const struct ew_node *node = ew_node_member(map, key);
  *value = otherwise;
  if (!node)
    return TRUE;
  if (node->kind != EW_NODE_SCALAR)
    return ew_refuse(error, "%s: one figure is wanted", key);
  if (node->number ? !ew_number_parse(node->text, value)
                   : !ew_quantity_parse(key, node->text, kind, value, error))
    return node->number ? ew_refuse(error, "%s: '%s' is no number", key, node->text) : FALSE;
  if (*value >= low && *value <= high)
    return TRUE;
  g_autofree char *given = ew_quantity_format(kind, EW_UNITS_SI, *value, 2);
  g_autofree char *from = ew_quantity_format(kind, EW_UNITS_SI, low, 2);
  g_autofree char *to = ew_quantity_format(kind, EW_UNITS_SI, high, 2);
  return ew_refuse(error, "%s is %s; it must be %s to %s", key, given, from, to);
}

static const struct ew_node *list_of(const struct ew_node *map, const char *key, guint most,
                                     GError **error) {
  const struct ew_node *list = ew_node_member(map, key);
  gboolean good = list && list->kind == EW_NODE_LIST && list->children->len <= most;
  for (guint i = 0; good && i < list->children->len; i++)
    good = ((const struct ew_node *)g_ptr_array_index(list->children, i))->kind == EW_NODE_SCALAR;
  if (!good)
    ew_refuse(error, "%s: a list of up to %u is wanted", key, most);
  return good ? list : NULL;
}

static gboolean read_changes(const struct ew_node *map, GArray *into, GError **error) {
  const struct ew_node *list = list_of(map, "changes", CHANGES_MOST, error);
  for (guint i = 0; list && i < list->children->len; i++) {
    const struct ew_node *item = g_ptr_array_index(list->children, i);
    if (strlen(item->text) > 200)
      return ew_refuse(error, "changes: one is longer than 200 bytes");
    if (!ew_variation_parse(item->text, into, error))
      return FALSE;
  }
  return list != NULL;
}

static gboolean read_tune(const struct ew_node *map, struct ew_tune *tune, GError **error) {
  const struct ew_node *node = ew_node_member(map, "tune");
  ew_fields_defaults(&ew_tune_fields, tune);
  if (node && node->kind != EW_NODE_MAP)
    return ew_refuse(error, "tune: the knobs of a fit are wanted, as 'predict/fit' answers them");
  return !node || ew_fields_read(&ew_tune_fields, node, "tune", NULL, tune, error);
}

/* "typed" with "turns" written into it. */
static struct ew_node *turned(struct ew_node *map, enum ew_unit_system units, GError **error) {
  struct ew_node *typed = (struct ew_node *)ew_node_member(map, "typed");
  if (!typed || typed->kind != EW_NODE_MAP) {
    ew_refuse(error, "typed: the engine's fields are wanted");
    return NULL;
  }
  return ew_turns_apply(typed, ew_node_member(map, "turns"), units, error) ? typed : NULL;
}

static gboolean read_side(struct ew_node *map, struct side *s, enum ew_unit_system units,
                          GError **error) {
  const struct ew_node *typed = turned(map, units, error);
  s->has_engine = typed && ew_engine_read(typed, "engine", &s->engine, error);
  if (!s->has_engine)
    return FALSE;
  s->variations = ew_variations_new();
  s->setup = (struct ew_prediction_setup){
      .engine = &s->engine, .lambda = NAN, .vapour_pa = NAN, .variations = s->variations};
  return read_tune(map, &s->setup.tune, error) &&
         (!ew_node_member(map, "changes") || read_changes(map, s->variations, error)) &&
         read_figure(map, "spark", EW_KIND_ANGLE, -40, 90, NAN, &s->setup.spark_deg, error) &&
         read_figure(map, "pressure", EW_KIND_PRESSURE_ABSOLUTE, 4e4, 4e5, NAN,
                     &s->setup.pressure_pa, error) &&
         read_figure(map, "temperature", EW_KIND_TEMPERATURE, 230, 340, NAN,
                     &s->setup.temperature_k, error);
}

static gboolean read_speeds(const struct ew_node *map, struct question *q, GError **error) {
  double top = ew_engine_top_speed_rpm(&q->now.engine), from, to, step;
  top = isnan(top) ? 7000 : CLAMP(top, 2500, 25000);
  if (!read_figure(map, "from_speed", EW_KIND_ROTATIONAL_SPEED, 300, 25000, 2000, &from, error) ||
      !read_figure(map, "to_speed", EW_KIND_ROTATIONAL_SPEED, 300, 25000, top, &to, error) ||
      !read_figure(map, "speed_step", EW_KIND_ROTATIONAL_SPEED, 50, 5000, 500, &step, error))
    return FALSE;
  if (to < from || (to - from) / step > SPEEDS_MOST - 1)
    return ew_refuse(error,
                     "from_speed %.0f, to_speed %.0f, speed_step %.0f: 1 to %d speeds are wanted",
                     from, to, step, SPEEDS_MOST);
  q->speeds = (int)((to - from) / step + 1e-9) + 1;
  q->speed_rpm = g_new(double, q->speeds);
  for (int i = 0; i < q->speeds; i++)
    q->speed_rpm[i] = from + step * i;
  return read_figure(map, "band_low", EW_KIND_ROTATIONAL_SPEED, 300, 25000,
                     q->speed_rpm[q->speeds / 2], &q->low_rpm, error) &&
         read_figure(map, "band_high", EW_KIND_ROTATIONAL_SPEED, 300, 25000,
                     q->speed_rpm[q->speeds - 1], &q->high_rpm, error);
}

static gboolean read_question(struct ew_service *s, const struct ew_request *r,
                              struct ew_node *body, struct question *q, GError **error) {
  q->units = ew_service_units(s, r);
  ew_cycle_options_defaults(&q->options);
  return read_side(body, &q->now, q->units, error) && read_speeds(body, q, error) &&
         read_figure(body, "cell", EW_KIND_LENGTH, 0.01, 0.1, CELL_M, &q->options.cell_m, error);
}

/* The page names itself, so that its newer question takes the place of its older one. */
static const char *page_of(const struct ew_node *body, GError **error) {
  const char *page = ew_node_text(body, "page");
  gsize size = page ? strspn(page, "abcdefghijklmnopqrstuvwxyz0123456789-") : 0;
  if (size >= 1 && size <= 40 && page[size] == 0)
    return page;
  ew_refuse(error, "page: a name of this page is wanted, 1 to 40 of a-z, 0-9 and -");
  return NULL;
}

static const char *device_of(const struct ew_request *r) {
  return r->from_here || !r->token ? "here" : r->token;
}

static gboolean start(struct ew_service *s, const struct ew_request *r, const struct ew_node *body,
                      const struct ew_job_work *work, struct ew_reply *reply, GError **error) {
  const char *page = page_of(body, error);
  if (!page) {
    work->free(work->data);
    return FALSE;
  }
  gint64 id = ew_predictor_start(s->predictor, device_of(r), page, work, error);
  ew_json_integer(&reply->json, "job", id);
  return id != 0;
}

static struct ew_cycle_options with(const struct question *q, const struct ew_job_run *run) {
  struct ew_cycle_options options = q->options;
  options.cancel = run->cancel;
  options.progress = run->progress;
  options.data = run->progress_data;
  return options;
}

/* ---- a curve ---- */

/* Progress of one of two parts. */
struct part {
  const struct ew_job_run *run;
  double from, share;
};

static void tell_part(double share, gpointer data) {
  const struct part *p = data;
  p->run->progress(p->from + share * p->share, p->run->progress_data);
}

/* One side's curve; what it can be wrong by when that is asked for. */
static gboolean run_side(const struct question *q, const struct side *side,
                         const struct ew_cycle_options *options, struct ew_cycle_result *results,
                         struct ew_doubt *doubt, struct ew_cycle_effort *effort, GPtrArray *notes,
                         GError **error) {
  if (q->doubt)
    return ew_predict_doubt(&side->setup, q->speed_rpm, q->speeds, options, results, doubt, effort,
                            notes, error);
  return ew_predict_setups(&side->setup, 1, q->speed_rpm, q->speeds, options, results, effort,
                           notes, error);
}

static double mean_ratio(const struct ew_engine *engine) {
  double sum = 0;
  for (int i = 0; i < engine->cylinders; i++)
    sum += ew_compression_ratio(engine, (guint)i) / engine->cylinders;
  return sum;
}

static void write_curve(const struct question *q, const struct side *side,
                        const struct ew_cycle_result *results, const struct ew_doubt *doubt,
                        const struct ew_cycle_effort *effort, const GPtrArray *notes,
                        struct ew_json *json) {
  ew_prediction_write_json(results, q->speeds, effort, notes, json);
  ew_json_number(json, "cell_m", q->options.cell_m);
  ew_json_number(json, "octane", ew_predict_octane(&side->setup));
  ew_json_number(json, "compression_ratio", mean_ratio(&side->engine));
  ew_json_boolean(json, "fitted", ew_tune_is_fitted(&side->setup.tune));
  if (q->doubt) {
    ew_json_numbers(json, "torque_standard_uncertainty_n_m", doubt->torque_u_n_m, (gsize)q->speeds);
    ew_json_text(json, "uncertainty_from", ew_doubt_says(&side->setup.tune));
  }
}

static void write_gain(const struct question *q, const struct ew_doubt *base,
                       const struct ew_doubt *now, struct ew_json *json) {
  struct ew_prediction_gain gain =
      ew_prediction_gain_of(base, now, q->speed_rpm, q->low_rpm, q->high_rpm);
  g_autofree char *says = ew_prediction_gain_says(&gain);
  ew_json_open(json, "gain");
  ew_json_number(json, "relative", gain.relative);
  ew_json_number(json, "relative_standard_uncertainty", gain.relative_u);
  ew_json_number(json, "low_rpm", gain.low_rpm);
  ew_json_number(json, "high_rpm", gain.high_rpm);
  ew_json_boolean(json, "beyond_doubt", gain.beyond_doubt);
  ew_json_text(json, "says", says);
  ew_json_close(json);
}

static gboolean run_predict(gpointer data, const struct ew_job_run *run, struct ew_json *json,
                            GError **error) {
  const struct question *q = data;
  struct ew_cycle_options options = with(q, run);
  struct part part = {run, 0, q->against ? 0.5 : 1};
  struct ew_cycle_result *now = g_new0(struct ew_cycle_result, q->speeds),
                         *base = g_new0(struct ew_cycle_result, q->speeds);
  struct ew_doubt now_doubt = {0}, base_doubt = {0};
  struct ew_cycle_effort effort = {0}, base_effort = {0};
  g_autoptr(GPtrArray) notes = g_ptr_array_new_with_free_func(g_free);
  g_autoptr(GPtrArray) base_notes = g_ptr_array_new_with_free_func(g_free);
  options.progress = tell_part;
  options.data = &part;
  gboolean good = run_side(q, &q->now, &options, now, &now_doubt, &effort, notes, error);
  if (good)
    write_curve(q, &q->now, now, &now_doubt, &effort, notes, json);
  part.from = 0.5;
  if (good && q->against) {
    good = run_side(q, &q->base, &options, base, &base_doubt, &base_effort, base_notes, error);
    if (good) {
      ew_json_open(json, "against");
      write_curve(q, &q->base, base, &base_doubt, &base_effort, base_notes, json);
      ew_json_close(json);
      if (q->doubt)
        write_gain(q, &base_doubt, &now_doubt, json);
    }
  }
  ew_doubt_clear(&now_doubt);
  ew_doubt_clear(&base_doubt);
  ew_cycle_results_free(now, q->speeds);
  ew_cycle_results_free(base, q->speeds);
  return good;
}

gboolean ew_api_predict(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                        GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body)
    return FALSE;
  struct question *q = g_new0(struct question, 1);
  struct ew_node *against = (struct ew_node *)ew_node_member(body, "against");
  q->against = against != NULL;
  q->doubt = g_strcmp0(ew_node_text(body, "uncertainty"), "yes") == 0;
  if (!read_question(s, r, body, q, error) ||
      (against && !read_side(against, &q->base, q->units, error))) {
    question_free(q);
    return FALSE;
  }
  struct ew_job_work work = {"predict", q->doubt ? EW_LANE_LONG : EW_LANE_QUICK, run_predict, q,
                             question_free};
  return start(s, r, body, &work, reply, error);
}

/* ---- a fit ---- */

static gboolean run_fit(gpointer data, const struct ew_job_run *run, struct ew_json *json,
                        GError **error) {
  const struct question *q = data;
  struct ew_cycle_options options = q->options;
  struct ew_tuned tuned = {0};
  options.cancel = run->cancel;
  if (!ew_tune_to(&q->now.setup, q->speed_rpm, q->torque_n_m, q->speeds, q->turn, &options, &tuned,
                  error))
    return FALSE;
  ew_tuned_write_json(&tuned, q->speed_rpm, q->torque_n_m, json);
  g_free(tuned.residual);
  return TRUE;
}

static gboolean read_knobs(const struct ew_node *body, unsigned *turn, GError **error) {
  const struct ew_node *list = list_of(body, "knobs", EW_TUNE_COUNT, error);
  if (!list)
    return FALSE;
  for (guint i = 0; i < list->children->len; i++) {
    const char *text = ((const struct ew_node *)g_ptr_array_index(list->children, i))->text;
    int k = 0;
    while (ew_tune_names[k] && strcmp(ew_tune_names[k], text) != 0)
      k++;
    if (!ew_tune_names[k])
      return ew_refuse(error, "knobs: '%.40s' is none of flow, burn, friction, heat", text);
    *turn |= 1u << k;
  }
  return TRUE;
}

static gboolean read_pulls(struct ew_service *s, const struct ew_node *body, struct question *q,
                           GError **error) {
  const struct ew_node *list = list_of(body, "pulls", PULLS_MOST, error);
  struct ew_desk desk = {0};
  double points;
  if (!list || !read_figure(body, "points", EW_KIND_COUNT, 4, 40, POINTS, &points, error))
    return FALSE;
  g_autoptr(GPtrArray) pulls = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  gboolean good = ew_desk_open(&desk, s->book, error);
  if (good && list->children->len == 0)
    good = ew_refuse(error, "pulls: numbers of pulls are wanted, for example [12, 14]");
  for (guint i = 0; good && i < list->children->len; i++) {
    const char *text = ((const struct ew_node *)g_ptr_array_index(list->children, i))->text;
    good = strchr(text, ',') ? ew_refuse(error, "pulls: numbers of pulls are wanted")
                             : ew_service_load(&desk, text, pulls, error);
  }
  g_free(q->speed_rpm);
  q->speeds = (int)points;
  q->speed_rpm = g_new0(double, q->speeds);
  q->torque_n_m = g_new0(double, q->speeds);
  good = good &&
         ew_predict_measured(pulls, q->speeds, &q->now.setup, q->speed_rpm, q->torque_n_m, error);
  ew_desk_clear(&desk);
  return good;
}

gboolean ew_api_predict_fit(struct ew_service *s, const struct ew_request *r,
                            struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body)
    return FALSE;
  struct question *q = g_new0(struct question, 1);
  if (!read_question(s, r, body, q, error) || !read_knobs(body, &q->turn, error) ||
      !read_pulls(s, body, q, error)) {
    question_free(q);
    return FALSE;
  }
  ew_fields_defaults(&ew_tune_fields, &q->now.setup.tune); /* a fit begins afresh */
  struct ew_job_work work = {"fit", EW_LANE_LONG, run_fit, q, question_free};
  return start(s, r, body, &work, reply, error);
}

static gboolean read_engine_id(const struct ew_node *body, gint64 *id, GError **error) {
  double value;
  if (!read_figure(body, "engine", EW_KIND_COUNT, 0, 1e9, 0, &value, error))
    return FALSE;
  *id = (gint64)value;
  return TRUE;
}

/* { "engine": 3, "tune": {...} }; without a tune the kept one is forgotten */
gboolean ew_api_predict_keep(struct ew_service *s, const struct ew_request *r,
                             struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  struct ew_tune tune;
  struct ew_engine_row row;
  gint64 id;
  if (!body || !read_engine_id(body, &id, error) || !read_tune(body, &tune, error))
    return FALSE;
  g_autofree char *name = g_strdup_printf("%" G_GINT64_FORMAT, id);
  if (!ew_engine_get(s->book, name, &row))
    return ew_refuse(error, "engine: there is no engine %s in this book", name);
  ew_engine_row_clear(&row);
  reply->changed = ew_tune_keep(s->book, id, ew_node_member(body, "tune") ? &tune : NULL, error);
  return reply->changed;
}

/* ---- what if ---- */

static gboolean run_vary(gpointer data, const struct ew_job_run *run, struct ew_json *json,
                         GError **error) {
  const struct question *q = data;
  struct ew_cycle_options options = with(q, run);
  struct ew_vary ask = {.setup = q->now.setup,
                        .speed_rpm = q->speed_rpm,
                        .speeds = q->speeds,
                        .options = &options,
                        .most_octane = INFINITY};
  struct ew_variants variants;
  if (!ew_vary_run(&ask, q->sets, &variants, error))
    return FALSE;
  ew_json_numbers(json, "speed_rpm", q->speed_rpm, (gsize)q->speeds);
  ew_json_numbers(json, "base_torque_n_m", variants.base_n_m, (gsize)q->speeds);
  ew_variants_write_json(&variants, json);
  ew_variants_clear(&variants);
  return TRUE;
}

static gboolean read_variants(const struct ew_node *body, struct question *q, GError **error) {
  const struct ew_node *list = list_of(body, "variants", CHANGES_MOST, error);
  q->changes = ew_variations_new();
  for (guint i = 0; list && i < list->children->len; i++) {
    const struct ew_node *item = g_ptr_array_index(list->children, i);
    if (strlen(item->text) > 200 || !ew_variation_parse(item->text, q->changes, error))
      return error && *error ? FALSE : ew_refuse(error, "variants: one is longer than 200 bytes");
  }
  if (!list)
    return FALSE;
  gboolean grid = g_strcmp0(ew_node_text(body, "grid"), "yes") == 0;
  if (q->changes->len == 0)
    return ew_refuse(error, "variants: a change is wanted, for example \"compression=+0.5\"");
  if (q->changes->len > CHANGES_MOST)
    return ew_refuse(error, "variants: %u changes; at most %d are run at once", q->changes->len,
                     CHANGES_MOST);
  q->sets = ew_variants_of(q->changes, grid);
  return q->sets->len <= VARIANTS_MOST ||
         ew_refuse(error, "variants: %u combinations; at most %d are run at once", q->sets->len,
                   VARIANTS_MOST);
}

gboolean ew_api_predict_vary(struct ew_service *s, const struct ew_request *r,
                             struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body)
    return FALSE;
  struct question *q = g_new0(struct question, 1);
  if (!read_question(s, r, body, q, error) || !read_variants(body, q, error)) {
    question_free(q);
    return FALSE;
  }
  struct ew_job_work work = {"vary", EW_LANE_LONG, run_vary, q, question_free};
  return start(s, r, body, &work, reply, error);
}

/* ---- jobs ---- */

gboolean ew_api_predict_job(struct ew_service *s, const struct ew_request *r,
                            struct ew_reply *reply, GError **error) {
  return ew_predictor_write_json(s->predictor, r->id, &reply->json, error);
}

gboolean ew_api_predict_cancel(struct ew_service *s, const struct ew_request *r,
                               struct ew_reply *reply, GError **error) {
  (void)reply;
  return ew_predictor_cancel(s->predictor, r->id, device_of(r), error);
}

/* ---- sliders, and the names of what can be asked ---- */

static void write_names(struct ew_json *json) {
  g_auto(GStrv) fuels = g_strsplit(ew_combustible_names(), ", ", -1);
  ew_json_open_array(json, "fuels");
  for (int i = 0; fuels[i]; i++)
    ew_json_text(json, NULL, fuels[i]);
  ew_json_close_array(json);
  ew_json_open_array(json, "changes");
  for (int i = 0; ew_variation_names[i]; i++) {
    ew_json_open(json, NULL);
    ew_json_text(json, "name", ew_variation_names[i]);
    ew_json_text(json, "help", ew_variation_help(i));
    ew_json_close(json);
  }
  ew_json_close_array(json);
  ew_json_open_array(json, "knobs");
  for (int i = 0; ew_tune_names[i]; i++) {
    ew_json_open(json, NULL);
    ew_json_text(json, "name", ew_tune_names[i]);
    ew_json_text(json, "help", ew_fields_find(&ew_tune_fields, ew_tune_names[i])->help);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static gboolean write_kept(struct ew_service *s, gint64 engine, struct ew_json *json,
                           GError **error) {
  struct ew_tune tune;
  gboolean found;
  if (!ew_tune_kept(s->book, engine, &tune, &found, error))
    return FALSE;
  if (!found)
    return TRUE;
  ew_json_open(json, "tune");
  ew_fields_write_json(&ew_tune_fields, &tune, json);
  ew_json_close(json);
  return TRUE;
}

/* { "typed": {...}, "turns": [...], "engine": 3 } */
gboolean ew_api_predict_sliders(struct ew_service *s, const struct ew_request *r,
                                struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  struct ew_engine base, now;
  gint64 id;
  const struct ew_node *given = body ? ew_node_member(body, "typed") : NULL;
  if (!body || !read_engine_id(body, &id, error))
    return FALSE;
  if (!given || given->kind != EW_NODE_MAP)
    return ew_refuse(error, "typed: the engine's fields are wanted");
  if (!ew_engine_read(given, "engine", &base, error))
    return FALSE;
  const struct ew_node *typed = turned(body, ew_service_units(s, r), error);
  gboolean good = typed && ew_engine_read(typed, "engine", &now, error);
  if (good) {
    ew_turns_write_json(&base, &now, &reply->json);
    write_names(&reply->json);
    ew_json_number(&reply->json, "top_speed_rpm", ew_engine_top_speed_rpm(&now));
    ew_json_number(&reply->json, "compression_ratio", mean_ratio(&now));
    ew_json_text(&reply->json, "fuel", now.fuel);
    ew_json_open(&reply->json, "typed");
    ew_node_write_json(typed, &reply->json);
    ew_json_close(&reply->json);
    ew_engine_clear(&now);
  }
  ew_engine_clear(&base);
  return good && write_kept(s, id, &reply->json, error);
}
