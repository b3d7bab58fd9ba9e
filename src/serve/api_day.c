/* The test day: where it stands, the next step, weather and factor now, the health of the dyno. */
#include "base/error.h"
#include "desk/attach.h"
#include "desk/behind.h"
#include "desk/standing.h"
#include "serve/service.h"
#include <math.h>
#include <string.h>

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

/* "compare", "spark sweep", "mixture sweep", "step-up": the last of each, by its place; -1: none. */
#define QUESTIONS 4
static const char *const questions[QUESTIONS] = {"compare", "spark sweep", "mixture sweep",
                                                 "step-up"};

static void find_last(struct ew_book *book, const GArray *verdicts, const GArray *pulls,
                      const char *day, int last[QUESTIONS]) {
  for (int k = 0; k < QUESTIONS; k++)
    last[k] = -1;
  for (guint i = 0; i < verdicts->len; i++) {
    const struct ew_verdict_row *v = &g_array_index(verdicts, struct ew_verdict_row, i);
    for (int k = 0; k < QUESTIONS; k++)
      if (strcmp(v->question, questions[k]) == 0 && ew_answer_is_of_day(book, v, pulls, day))
        last[k] = (int)i;
  }
}

static void write_answer(const struct ew_verdict_row *v, enum ew_unit_system units,
                         struct ew_json *json) {
  g_autoptr(ew_behind) behind = ew_behind_read(v);
  g_autoptr(ew_message) says = ew_verdict_says(v);
  ew_json_open(json, NULL);
  ew_json_integer(json, "id", v->id);
  ew_json_text(json, "at", v->at);
  ew_json_text(json, "question", v->question);
  ew_message_write_member(says, "says", units, json);
  ew_json_boolean(json, "on_an_earlier_reading", v->earlier);
  ew_behind_write_json(behind, units, json);
  ew_json_close(json);
}

/* The last answer of each question of a day, with what lies behind it. O(answers of the book + pulls). */
gboolean ew_api_answers(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                        GError **error) {
  const char *asked = ew_request_query(r, "day");
  g_autofree char *day = asked ? g_strdup(asked) : ew_desk_day(s->book, error);
  GError *problem = NULL;
  int last[QUESTIONS];
  if (!day)
    return FALSE;
  if (strlen(day) != 10)
    return ew_refuse(error, "day: '%.40s' is not a date such as 2026-11-25", day);
  g_autoptr(GArray) pulls = ew_pull_list(s->book, 0, error);
  g_autoptr(GArray) verdicts = pulls ? ew_verdict_list(s->book, 0, &problem) : NULL;
  if (problem)
    g_propagate_error(error, problem);
  if (!verdicts || problem)
    return FALSE;
  find_last(s->book, verdicts, pulls, day, last);
  ew_json_text(&reply->json, "day", day);
  ew_json_open_array(&reply->json, "answers");
  for (int k = 0; k < QUESTIONS; k++)
    if (last[k] >= 0)
      write_answer(&g_array_index(verdicts, struct ew_verdict_row, last[k]), ew_service_units(s, r),
                   &reply->json);
  ew_json_close_array(&reply->json);
  return TRUE;
}
