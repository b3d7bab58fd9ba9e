/* How curves are computed, seen and changed: the method in force, what another would give of the same raw
 * samples, and making it the method of pulls to come. Stored curves keep the method they were made with. */
#include "base/error.h"
#include "base/language.h"
#include "book/keep.h"
#include "desk/question.h"
#include "serve/service.h"
#include <math.h>
#include <string.h>

#define TRIED_MOST      12
#define TRIED_ROWS_MOST 3000000 /* samples read again: a second or two of the one worker */

static void write_method(const struct ew_method *method, struct ew_json *json) {
  ew_json_open(json, "typed");
  for (gsize i = 0; i < ew_method_fields.count; i++) {
    g_autofree char *shown = ew_field_typed(&ew_method_fields.fields[i], method);
    ew_json_text(json, ew_method_fields.fields[i].name, shown);
  }
  ew_json_close(json);
}

static char *version_of(const char *yaml) {
  return g_compute_checksum_for_string(G_CHECKSUM_SHA256, yaml ? yaml : "", -1);
}

/* NULL with *error. */
static char *version_in_force(struct ew_book *book, GError **error) {
  g_autofree char *yaml = NULL;
  return ew_setting_get(book, "method", &yaml, error) ? version_of(yaml) : NULL;
}

/* The method in force, its table, and the default that it may differ from. */
gboolean ew_api_method(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                       GError **error) {
  (void)r;
  struct ew_desk desk = {0};
  if (!ew_desk_open(&desk, s->book, error))
    return FALSE;
  g_autofree char *version = version_in_force(s->book, error);
  ew_json_text(&reply->json, "version", version);
  write_method(&desk.method, &reply->json);
  ew_json_open_array(&reply->json, "groups");
  ew_service_write_fields("method", EW_TEXT("How curves are computed"), &ew_method_fields,
                          &reply->json);
  ew_json_close_array(&reply->json);
  ew_desk_clear(&desk);
  return version != NULL;
}

static gboolean read_method(const struct ew_node *body, struct ew_method *method, GError **error) {
  const struct ew_node *typed = ew_node_member(body, "typed");
  if (!typed || typed->kind != EW_NODE_MAP)
    return ew_refuse(error, "typed: give the method's fields");
  memset(method, 0, sizeof *method);
  if (!ew_fields_read(&ew_method_fields, typed, "method", NULL, method, error))
    return FALSE;
  return method->band_low < method->band_high ||
         ew_refuse(error, "band_low: the speed band must begin below its end");
}

/* { "typed": {...}, "version": what the page began from }; the answer tells what was in force before,
 * so that it can be taken back. */
gboolean ew_api_method_put(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                           GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  struct ew_method method;
  struct ew_desk desk = {0};
  if (!body || !read_method(body, &method, error))
    return FALSE;
  g_autofree char *was = NULL;
  if (!ew_setting_get(s->book, "method", &was, error))
    return FALSE;
  g_autofree char *version = version_of(was);
  if (g_strcmp0(version, ew_node_text(body, "version")) != 0) {
    return ew_answer_no(
        error, "version: somebody else changed the method meanwhile; look at theirs first");
  }
  if (!ew_desk_open(&desk, s->book, error))
    return FALSE;
  ew_json_open(&reply->json, "before");
  write_method(&desk.method, &reply->json);
  ew_json_close(&reply->json);
  ew_desk_clear(&desk);
  g_autofree char *yaml = ew_fields_write_yaml(&ew_method_fields, &method);
  const struct ew_setting method_now = {
      .key = "method", .value = yaml, .when = EW_SETTING_IF_STILL, .was = was};
  if (!ew_keep_settings(s->book, &method_now, 1, error))
    return FALSE;
  g_autofree char *now = version_in_force(s->book, error);
  ew_json_text(&reply->json, "version", now);
  reply->changed = TRUE;
  return TRUE;
}

/* The same pulls with curves by the other method, computed from raw. */
static gboolean swap_curves(struct ew_service *s, GPtrArray *pulls, const struct ew_method *method,
                            gsize *rows, GError **error) {
  for (guint i = 0; i < pulls->len; i++) {
    struct ew_loaded *l = g_ptr_array_index(pulls, i);
    struct ew_recomputed again;
    if (!ew_recompute_by(s->book, l->id, method, &again, error))
      return FALSE;
    *rows += again.processed->series->rows;
    if (*rows > TRIED_ROWS_MOST) {
      ew_recomputed_clear(&again);
      return ew_refuse(error, "these recordings hold more than %d samples: choose fewer pulls",
                       TRIED_ROWS_MOST);
    }
    ew_curve_free(l->curve);
    l->curve = g_ptr_array_index(again.processed->curves, again.part);
    again.processed->curves->pdata[again.part] = NULL;
    l->facts.curve =
        l->curve; /* the gate asks of the curve that is compared, not of the one that went */
    ew_recomputed_clear(&again);
  }
  return TRUE;
}

static void write_curve(const struct ew_curve *c, struct ew_json *json) {
  gsize power = ew_curve_peak(c, c->power_w), torque = ew_curve_peak(c, c->torque_n_m);
  ew_json_numbers(json, "speed_rpm", c->speed_rpm, c->points);
  ew_json_numbers(json, "torque_n_m", c->torque_n_m, c->points);
  ew_json_numbers(json, "power_w", c->power_w, c->points);
  ew_json_number(json, "factor", c->factor.factor);
  ew_json_number(json, "band_low_rpm", c->band_low_rpm);
  ew_json_number(json, "band_high_rpm", c->band_high_rpm);
  ew_json_number(json, "mean_torque_n_m", c->band_mean_n_m);
  ew_json_number(json, "peak_power_w", c->power_w[power]);
  ew_json_number(json, "peak_power_rpm", c->speed_rpm[power]);
  ew_json_number(json, "peak_torque_n_m", c->torque_n_m[torque]);
  ew_json_number(json, "peak_torque_rpm", c->speed_rpm[torque]);
  ew_json_boolean(json, "power_at_end", ew_curve_peak_is_at_end(c, c->power_w));
  ew_json_boolean(json, "torque_at_end", ew_curve_peak_is_at_end(c, c->torque_n_m));
}

static void write_curves(const GPtrArray *pulls, const char *key, struct ew_json *json) {
  ew_json_open_array(json, key);
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    ew_json_open(json, NULL);
    ew_json_integer(json, "id", l->id);
    write_curve(l->curve, json);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static gboolean write_answer(const struct ew_desk *desk, const GPtrArray *a, const GPtrArray *b,
                             struct ew_json *json, GError **error) {
  struct ew_question_options q = {
      .margin = 0.01, .level = -1, .band_low_rpm = NAN, .band_high_rpm = NAN, .named_only = TRUE};
  struct ew_comparison *c = ew_ask_compare(desk, a, b, NULL, NULL, &q, error);
  if (!c)
    return FALSE;
  g_autoptr(ew_message) says = ew_comparison_says(c);
  ew_message_write_member(says, "says", EW_UNITS_SI, json);
  ew_comparison_free(c);
  return TRUE;
}

/* { "a": [12], "b": [13], "typed": {...} }: curves and the answer by the stored method and by this one.
 * What the cell repeats to comes from the stored curves both times. */
gboolean ew_api_method_try(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                           GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  struct ew_method method;
  struct ew_desk desk = {0};
  if (!body || !read_method(body, &method, error))
    return FALSE;
  g_autoptr(GPtrArray) a = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  g_autoptr(GPtrArray) b = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  struct ew_json *json = &reply->json;
  gboolean two = ew_node_member(body, "b") != NULL;
  gsize rows = 0;
  gboolean good = ew_desk_open(&desk, s->book, error) &&
                  ew_service_load_list(&desk, body, "a", a, error) &&
                  (!two || ew_service_load_list(&desk, body, "b", b, error));
  if (good && a->len + b->len > TRIED_MOST)
    good = ew_refuse(error, "%u pulls at once: %d at most, each is computed from raw",
                     a->len + b->len, TRIED_MOST);
  for (int by = 0; good && by < 2; by++) {
    good = by == 0 ||
           (swap_curves(s, a, &method, &rows, error) && swap_curves(s, b, &method, &rows, error));
    if (!good)
      break;
    ew_json_open(json, by ? "by_this" : "as_stored");
    write_curves(a, "a", json);
    write_curves(b, "b", json);
    good = !two || write_answer(&desk, a, b, json, error);
    ew_json_close(json);
  }
  ew_desk_clear(&desk);
  return good;
}
