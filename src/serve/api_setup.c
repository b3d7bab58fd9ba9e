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

/* As it could be typed: the page steps figures, and sends them back. */
static void write_typed(const struct ew_setup *setup, enum ew_unit_system units,
                        struct ew_json *json) {
  const ew_language *readers = ew_language_of_thread(ew_language_english());
  for (gsize i = 0; i < ew_setup_fields.count; i++) {
    const struct ew_field *field = &ew_setup_fields.fields[i];
    g_autofree char *value =
        is_of_one_pull(field->name) ? NULL : ew_field_show(field, setup, units);
    if (value)
      ew_json_text(json, field->name, value);
  }
  ew_language_of_thread(readers);
}

/* The engine's last pull with its set-up; *id 0: it has none. */
static gboolean read_last(struct ew_book *book, gint64 engine_id, gint64 *id,
                          struct ew_setup *setup, GError **error) {
  struct ew_pull_row last;
  g_autoptr(GError) problem = NULL;
  gboolean any = ew_pull_last(book, engine_id, &last, &problem);
  gboolean good = !problem && (!any || ew_record_from_yaml(&ew_setup_fields, "set-up", last.setup,
                                                           setup, &problem));
  *id = any ? last.id : 0;
  ew_pull_row_clear(&last);
  if (problem)
    g_propagate_error(error, g_steal_pointer(&problem));
  return good;
}

gboolean ew_api_setup(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                      GError **error) {
  ew_json_open_array(&reply->json, "groups");
  ew_service_write_fields("setup", "Set-up", &ew_setup_fields, &reply->json);
  ew_json_close_array(&reply->json);
  struct ew_engine_row engine = {0};
  struct ew_setup setup;
  gint64 pull_id;
  ew_setup_defaults(&setup);
  gboolean good = ew_engine_find(s->book, NULL, &engine, error) &&
                  read_last(s->book, engine.id, &pull_id, &setup, error);
  if (good) {
    ew_json_text(&reply->json, "engine", engine.name);
    ew_json_integer(&reply->json, "pull", pull_id);
    ew_json_open(&reply->json, "now");
    write_typed(&setup, ew_service_units(s, r), &reply->json);
    ew_json_close(&reply->json);
  }
  ew_setup_clear(&setup);
  ew_engine_row_clear(&engine);
  return good;
}
