/* The sliders of the Predict screen: what can be turned, and the names of what can be asked. */
#include "base/error.h"
#include "gas/combustible.h"
#include "serve/predict_question.h"
#include "serve/turns.h"

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
  gboolean current = ew_tune_agrees(&tune, "kept", NULL);
  ew_json_boolean(json, "kept_fit_is_of_earlier_physics", !current);
  if (!current)
    return TRUE;
  ew_json_open(json, "tune");
  ew_fields_write_json(&ew_tune_fields, &tune, json);
  ew_json_close(json);
  return TRUE;
}

/* Changes that are not in what is typed now: an engine's file does not say them. */
static void write_left(const GArray *left, struct ew_json *json) {
  ew_json_open_array(json, "left");
  for (guint i = 0; i < left->len; i++) {
    g_autofree char *asks = ew_variation_asks(&g_array_index(left, struct ew_variation, i));
    ew_json_text(json, NULL, asks);
  }
  ew_json_close_array(json);
}

/* { "typed": {...}, "changes": [...], "turns": [...], "engine": 3 } */
gboolean ew_api_predict_sliders(struct ew_service *s, const struct ew_request *r,
                                struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  struct ew_engine base, now;
  gint64 id;
  g_autoptr(GArray) left = ew_variations_new();
  if (!body || !ew_predict_engine_id(body, &id, error))
    return FALSE;
  struct ew_node *typed = ew_predict_changed(body, left, error);
  if (!typed || !ew_engine_read(typed, "engine", &base, error))
    return FALSE;
  gboolean good =
      ew_turns_apply(typed, ew_node_member(body, "turns"), ew_service_units(s, r), error) &&
      ew_engine_read(typed, "engine", &now, error);
  if (good) {
    ew_turns_write_json(&base, &now, &reply->json);
    write_names(&reply->json);
    ew_json_number(&reply->json, "top_speed_rpm", ew_engine_top_speed_rpm(&now));
    ew_json_number(&reply->json, "compression_ratio", ew_predict_mean_ratio(&now));
    ew_json_text(&reply->json, "fuel", now.fuel);
    ew_json_open(&reply->json, "typed");
    ew_node_write_json(typed, &reply->json);
    ew_json_close(&reply->json);
    write_left(left, &reply->json);
    ew_engine_clear(&now);
  }
  ew_engine_clear(&base);
  return good && write_kept(s, id, &reply->json, error);
}
