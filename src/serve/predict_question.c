/* A body of JSON into a question that owns all it needs: engine, set-up, changes and measured curve are copied out
 * of the book here, on the request's thread, so that a lane of the predictor never reads the book. */
#include "serve/predict_question.h"
#include "base/node_change.h"
#include "base/error.h"
#include "base/number.h"
#include "desk/variation_file.h"
#include "engine/compression.h"
#include "serve/turns.h"
#include <math.h>
#include <string.h>

#define SPEEDS_MOST 60

static void side_clear(struct ew_predict_side *s) {
  if (s->has_engine)
    ew_engine_clear(&s->engine);
  g_clear_pointer(&s->variations, g_array_unref);
}

void ew_predict_question_free(gpointer data) {
  struct ew_predict_question *q = data;
  side_clear(&q->now);
  side_clear(&q->base);
  g_free(q->speed_rpm);
  g_free(q->torque_n_m);
  g_clear_pointer(&q->sets, g_ptr_array_unref);
  g_clear_pointer(&q->changes, g_array_unref);
  g_free(q);
}

gboolean ew_predict_figure(const struct ew_node *map, const char *key, enum ew_kind kind,
                           double low, double high, double otherwise, double *value,
                           GError **error) {
  const struct ew_node *node = ew_node_member(map, key);
  *value = otherwise;
  if (!node)
    return TRUE;
  if (node->kind != EW_NODE_SCALAR)
    return ew_refuse(error, "%s: give one figure", key);
  if (node->number ? !ew_number_parse(node->text, value)
                   : !ew_quantity_parse(key, node->text, kind, value, error))
    return node->number ? ew_refuse(error, "%s: '%s' is not a number", key, node->text) : FALSE;
  if (*value >= low && *value <= high)
    return TRUE;
  g_autofree char *given = ew_quantity_format(kind, EW_UNITS_SI, *value, 2);
  g_autofree char *from = ew_quantity_format(kind, EW_UNITS_SI, low, 2);
  g_autofree char *to = ew_quantity_format(kind, EW_UNITS_SI, high, 2);
  return ew_refuse(error, "%s is %s; it must be %s to %s", key, given, from, to);
}

const struct ew_node *ew_predict_list(const struct ew_node *map, const char *key, guint most,
                                      GError **error) {
  const struct ew_node *list = ew_node_member(map, key);
  gboolean good = list && list->kind == EW_NODE_LIST && list->children->len <= most;
  for (guint i = 0; good && i < list->children->len; i++)
    good = ((const struct ew_node *)g_ptr_array_index(list->children, i))->kind == EW_NODE_SCALAR;
  if (!good)
    ew_refuse(error, "%s: give a list of up to %u", key, most);
  return good ? list : NULL;
}

static gboolean read_changes(const struct ew_node *map, GArray *into, GError **error) {
  const struct ew_node *list = ew_predict_list(map, "changes", EW_PREDICT_CHANGES_MOST, error);
  for (guint i = 0; list && i < list->children->len; i++) {
    const struct ew_node *item = g_ptr_array_index(list->children, i);
    if (strlen(item->text) > 200)
      return ew_refuse(error, "changes: one is longer than 200 bytes");
    if (!ew_variation_parse(item->text, into, error))
      return FALSE;
  }
  return list != NULL;
}

gboolean ew_predict_tune(const struct ew_node *map, struct ew_tune *tune, GError **error) {
  const struct ew_node *node = ew_node_member(map, "tune");
  ew_fields_defaults(&ew_tune_fields, tune);
  if (node && node->kind != EW_NODE_MAP)
    return ew_refuse(error, "tune: give the knobs of a fit, as 'predict/fit' answers them");
  return !node || (ew_fields_read(&ew_tune_fields, node, "tune", NULL, tune, error) &&
                   ew_tune_agrees(tune, "tune", error));
}

/* In the member's place, under its key. */
static void put_member(struct ew_node *map, struct ew_node *old, struct ew_node *now) {
  for (guint i = 0; i < map->children->len; i++)
    if (g_ptr_array_index(map->children, i) == old) {
      now->key = g_strdup(old->key);
      map->children->pdata[i] = now;
      ew_node_free(old);
      return;
    }
  g_assert_not_reached();
}

/* Each alone: where a file does not say one, the others are made all the same. */
static guint change_each(struct ew_engine *engine, const GArray *asked, GArray *left) {
  guint made = 0;
  for (guint i = 0; i < asked->len; i++) {
    const struct ew_variation *v = &g_array_index(asked, struct ew_variation, i);
    g_autoptr(GArray) one = ew_variations_new();
    ew_variation_append(one, v);
    if (ew_vary_engine(engine, one, NULL))
      made++;
    else
      ew_variation_append(left, v);
  }
  return made;
}

/* The changes that an engine's file can say are made in what was typed, so that a turn afterwards turns what they came to, and ratio and sliders
 * are those of the changed engine. Those it does not say stay in `left`. */
static gboolean change_typed(struct ew_node *map, GArray *left, GError **error) {
  struct ew_node *typed = ew_node_member_of(map, "typed");
  g_autoptr(GArray) asked = ew_variations_new();
  struct ew_engine engine;
  if (!ew_node_member(map, "changes"))
    return TRUE;
  if (!read_changes(map, asked, error) || !ew_engine_read(typed, "engine", &engine, error))
    return FALSE;
  gboolean good = TRUE;
  if (change_each(&engine, asked, left) > 0) {
    struct ew_node *now = ew_engine_reworded(typed, &engine, error);
    good = now != NULL;
    if (now)
      put_member(map, typed, now);
  }
  ew_engine_clear(&engine);
  return good;
}

struct ew_node *ew_predict_changed(struct ew_node *map, GArray *left, GError **error) {
  const struct ew_node *given = ew_node_member(map, "typed");
  if (!given || given->kind != EW_NODE_MAP) {
    ew_refuse(error, "typed: give the engine's fields");
    return NULL;
  }
  return change_typed(map, left, error) ? ew_node_member_of(map, "typed") : NULL;
}

gboolean ew_predict_side_read(struct ew_node *map, struct ew_predict_side *s,
                              enum ew_unit_system units, GError **error) {
  s->variations = ew_variations_new();
  struct ew_node *typed = ew_predict_changed(map, s->variations, error);
  s->has_engine = typed && ew_turns_apply(typed, ew_node_member(map, "turns"), units, error) &&
                  ew_engine_read(typed, "engine", &s->engine, error);
  if (!s->has_engine)
    return FALSE;
  s->setup = (struct ew_prediction_setup){
      .engine = &s->engine, .lambda = NAN, .vapour_pa = NAN, .variations = s->variations};
  return ew_predict_tune(map, &s->setup.tune, error) &&
         ew_predict_figure(map, "spark", EW_KIND_ANGLE, -40, 90, NAN, &s->setup.spark_deg, error) &&
         ew_predict_figure(map, "pressure", EW_KIND_PRESSURE_ABSOLUTE, 3e4, 3e5, NAN,
                           &s->setup.pressure_pa, error) &&
         ew_predict_figure(map, "temperature", EW_KIND_TEMPERATURE, 230, 340, NAN,
                           &s->setup.temperature_k, error);
}

static gboolean read_speeds(const struct ew_node *map, struct ew_predict_question *q,
                            GError **error) {
  double top = ew_engine_top_speed_rpm(&q->now.engine), from, to, step;
  top = isnan(top) ? 7000 : CLAMP(top, 2500, 25000);
  if (!ew_predict_figure(map, "from_speed", EW_KIND_ROTATIONAL_SPEED, 300, 25000, 2000, &from,
                         error) ||
      !ew_predict_figure(map, "to_speed", EW_KIND_ROTATIONAL_SPEED, 300, 25000, top, &to, error) ||
      !ew_predict_figure(map, "speed_step", EW_KIND_ROTATIONAL_SPEED, 50, 5000, 500, &step, error))
    return FALSE;
  if (to < from || (to - from) / step > SPEEDS_MOST - 1)
    return ew_refuse(error, "from_speed %.0f, to_speed %.0f, speed_step %.0f: give 1 to %d speeds",
                     from, to, step, SPEEDS_MOST);
  q->speeds = (int)((to - from) / step + 1e-9) + 1;
  q->speed_rpm = g_new(double, q->speeds);
  for (int i = 0; i < q->speeds; i++)
    q->speed_rpm[i] = from + step * i;
  return ew_predict_figure(map, "band_low", EW_KIND_ROTATIONAL_SPEED, 300, 25000,
                           q->speed_rpm[q->speeds / 2], &q->low_rpm, error) &&
         ew_predict_figure(map, "band_high", EW_KIND_ROTATIONAL_SPEED, 300, 25000,
                           q->speed_rpm[q->speeds - 1], &q->high_rpm, error);
}

gboolean ew_predict_question_read(struct ew_service *s, const struct ew_request *r,
                                  struct ew_node *body, struct ew_predict_question *q,
                                  GError **error) {
  q->units = ew_service_units(s, r);
  ew_cycle_options_defaults(&q->options);
  if (!ew_predict_side_read(body, &q->now, q->units, error) || !read_speeds(body, q, error))
    return FALSE;
  q->follows = g_strcmp0(ew_node_text(body, "follow"), "yes") == 0;
  if (q->follows)
    q->options.tolerance = EW_FOLLOW_TOLERANCE;
  double usual = q->follows ? EW_FOLLOW_CELL_M : ew_cycle_cell_m(q->speed_rpm[q->speeds - 1]);
  return ew_predict_figure(body, "cell", EW_KIND_LENGTH, 0.01, 0.2, usual, &q->options.cell_m,
                           error);
}

gboolean ew_predict_engine_id(const struct ew_node *body, gint64 *id, GError **error) {
  double value;
  if (!ew_predict_figure(body, "engine", EW_KIND_COUNT, 0, 1e9, 0, &value, error))
    return FALSE;
  *id = (gint64)value;
  return TRUE;
}

double ew_predict_mean_ratio(const struct ew_engine *engine) {
  double sum = 0;
  for (int i = 0; i < engine->cylinders; i++)
    sum += ew_compression_ratio(engine, (guint)i) / engine->cylinders;
  return sum;
}

/* The page names itself, so that its newer question takes the place of its older one. */
static const char *page_of(const struct ew_node *body, GError **error) {
  const char *page = ew_node_text(body, "page");
  gsize size = page ? strspn(page, "abcdefghijklmnopqrstuvwxyz0123456789-") : 0;
  if (size >= 1 && size <= 40 && page[size] == 0)
    return page;
  ew_refuse(error, "page: give a name of this page, 1 to 40 of a-z, 0-9 and -");
  return NULL;
}

const char *ew_predict_device(const struct ew_request *r) {
  return r->from_here ? "here" : r->token ? r->token : "nobody";
}

gboolean ew_predict_start(struct ew_service *s, const struct ew_request *r,
                          const struct ew_node *body, const struct ew_job_work *work,
                          struct ew_reply *reply, GError **error) {
  const char *page = page_of(body, error);
  if (!page) {
    work->free(work->data);
    return FALSE;
  }
  gint64 id = ew_predictor_start(s->predictor, ew_predict_device(r), page, work, error);
  ew_json_integer(&reply->json, "job", id);
  return id != 0;
}

struct ew_cycle_options ew_predict_options(const struct ew_predict_question *q,
                                           const struct ew_job_run *run) {
  struct ew_cycle_options options = q->options;
  options.cancel = run->cancel;
  options.progress = run->progress;
  options.data = run->progress_data;
  options.warm = q->follows ? run->warm : NULL;
  return options;
}
