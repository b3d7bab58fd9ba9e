/* The set-up as the next pull would carry it: that of the engine's last pull, by the field table. What is said of it
 * during a session goes by live/control ("set spark=30 deg"). */
#include "base/error.h"
#include "base/language.h"
#include "desk/loaded.h"
#include "serve/service.h"
#include <math.h>

/* What a new pull doesn't inherit. */
static gboolean is_of_one_pull(const char *name) {
  return g_strcmp0(name, "rest") == 0 || g_strcmp0(name, "spark_measured") == 0 ||
         g_strcmp0(name, "seen") == 0 || g_strcmp0(name, "remark") == 0;
}

static gboolean write_now(struct ew_service *s, const struct ew_request *r, struct ew_json *json,
                          GError **error) {
  struct ew_engine_row engine = {0};
  ew_engine_get(s->book, NULL, &engine);
  struct ew_pull_row last;
  g_autoptr(GError) problem = NULL;
  gboolean any = ew_pull_last(s->book, engine.id, &last, &problem);
  struct ew_setup setup;
  ew_setup_defaults(&setup);
  ew_json_text(json, "engine", engine.name);
  ew_json_integer(json, "pull", any ? last.id : 0);
  gboolean good = !any || ew_record_from_yaml(&ew_setup_fields, "set-up", last.setup, &setup,
                                              problem ? NULL : &problem);
  /* as it could be typed: the page steps figures, and sends them back */
  const ew_language *readers = ew_language_of_thread(ew_language_english());
  ew_json_open(json, "now");
  for (gsize i = 0; good && any && i < ew_setup_fields.count; i++) {
    const struct ew_field *field = &ew_setup_fields.fields[i];
    g_autofree char *value =
        is_of_one_pull(field->name) ? NULL : ew_field_show(field, &setup, ew_service_units(s, r));
    if (value)
      ew_json_text(json, field->name, value);
  }
  ew_json_close(json);
  ew_language_of_thread(readers);
  ew_setup_clear(&setup);
  ew_pull_row_clear(&last);
  ew_engine_row_clear(&engine);
  if (problem)
    g_propagate_error(error, g_steal_pointer(&problem));
  return good && !(error && *error);
}

gboolean ew_api_setup(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                      GError **error) {
  ew_json_open_array(&reply->json, "groups");
  ew_service_write_fields("setup", "Set-up", &ew_setup_fields, &reply->json);
  ew_json_close_array(&reply->json);
  return write_now(s, r, &reply->json, error);
}
