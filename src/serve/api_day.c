/* The test day: where it stands, the next step, weather and factor now, the health of the dyno. */
#include "base/error.h"
#include "desk/standing.h"
#include "serve/service.h"
#include <math.h>

static void write_stages(const struct ew_standing *s, enum ew_unit_system units,
                         struct ew_json *json) {
  ew_json_open_array(json, "stages");
  for (int i = 0; i < EW_STAGES; i++) {
    ew_json_open(json, NULL);
    ew_json_text(json, "name", s->stages[i].name);
    ew_json_text(json, "state", ew_stage_words[s->stages[i].state]);
    ew_message_write_member(s->stages[i].says, "says", units, json);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

/* Weather and factor as the last pull had them. */
static void write_air(const struct ew_curve *c, struct ew_json *json) {
  const struct ew_conditions *k = &c->conditions;
  ew_json_open(json, "air");
  ew_json_number(json, "pressure_pa", k->pressure_pa);
  ew_json_text(json, "pressure_from", k->pressure_from);
  ew_json_number(json, "temperature_k", k->temperature_k);
  ew_json_text(json, "temperature_from", k->temperature_from);
  ew_json_number(json, "vapour_pressure_pa", k->vapour_pa);
  ew_json_text(json, "humidity_from", k->humidity_from);
  ew_json_number(json, "factor", c->factor.factor);
  ew_json_boolean(json, "in_range", c->factor.in_range);
  ew_json_text(json, "standard", ew_standard_titles[c->method.standard]);
  ew_json_text(json, "reference", ew_standard_references[c->method.standard]);
  ew_json_number(json, "oil_end_k", k->oil_end_k);
  ew_json_number(json, "coolant_end_k", k->coolant_end_k);
  ew_json_close(json);
}

static void write_engine(const struct ew_loaded *l, struct ew_json *json) {
  ew_json_open(json, "engine");
  ew_json_text(json, "name", l->engine.name);
  ew_json_text(json, "serial", l->engine.serial);
  ew_json_text(json, "owner", l->engine.owner);
  ew_json_text(json, "equipment", l->engine.equipment);
  ew_json_number(json, "displacement_m3", ew_engine_displacement_m3(&l->engine));
  ew_json_number(json, "agreed_limit_rpm", l->engine.agreed_limit_rpm);
  ew_json_close(json);
}

static void write_last(struct ew_service *s, const struct ew_desk *desk, gint64 id,
                       enum ew_unit_system units, struct ew_json *json) {
  struct ew_loaded *l = id ? ew_desk_load_id(desk, id, NULL) : NULL;
  (void)s;
  if (!l)
    return;
  write_engine(l, json);
  write_air(l->curve, json);
  ew_json_open(json, "setup");
  for (gsize i = 0; i < ew_setup_fields.count; i++) {
    g_autofree char *value = ew_field_show(&ew_setup_fields.fields[i], &l->setup, units);
    if (value && !ew_setup_is_condition(&ew_setup_fields.fields[i]))
      ew_json_text(json, ew_setup_fields.fields[i].name, value);
  }
  ew_json_close(json);
  ew_json_text(json, "changed", l->row.changed);
  ew_loaded_free(l);
}

gboolean ew_api_day(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                    GError **error) {
  struct ew_desk desk = {0};
  struct ew_json *json = &reply->json;
  enum ew_unit_system units = ew_service_units(s, r);
  struct ew_standing *standing =
      ew_desk_open(&desk, s->book, error) ? ew_desk_standing(&desk, 0, error) : NULL;
  if (standing) {
    ew_json_text(json, "day", standing->day);
    ew_message_write_member(standing->next, "next", units, json);
    ew_message_write_member(standing->why, "why", units, json);
    write_stages(standing, units, json);
    ew_messages_write_json(standing->mind, "cautions", units, json);
    ew_json_integer(json, "last_pull", standing->last_pull);
    if (standing->step) {
      ew_json_open(json, "step_up");
      ew_step_up_write_json(standing->step, json);
      ew_json_close(json);
    }
    write_last(s, &desk, standing->last_pull, units, json);
  }
  gboolean good = standing != NULL;
  ew_standing_free(standing);
  ew_desk_clear(&desk);
  return good;
}
