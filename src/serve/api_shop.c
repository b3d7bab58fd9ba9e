/* The shop: engines, what the cell repeats to, calibrations, ledger, answers given so far. */
#include "base/error.h"
#include "base/as_pointer.h"
#include "base/language.h"
#include "book/keep.h"
#include "book/ledger.h"
#include "desk/calibrated.h"
#include "serve/service.h"
#include <math.h>
#include <string.h>

static void write_levels(struct ew_service *s, const struct ew_desk *desk, struct ew_json *json) {
  const struct ew_spread *levels = ew_service_repeat(s, desk);
  ew_json_open_array(json, "repeatability");
  for (int i = 0; i < EW_LEVELS_COUNT; i++) {
    ew_json_open(json, NULL);
    ew_json_text(json, "level", ew_level_names[i]);
    ew_json_number(json, "relative_sd", levels[i].freedom > 0 ? levels[i].sd : (double)NAN);
    ew_json_number(json, "degrees_of_freedom", levels[i].freedom);
    ew_json_boolean(json, "borrowed", levels[i].borrowed);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static void write_chart(struct ew_json *json, const GArray *rows, const char *kind) {
  gsize count;
  g_autofree double *values = ew_desk_chart_values(rows, kind, &count);
  struct ew_control chart = ew_control_chart(values, count);
  ew_json_open(json, NULL);
  ew_json_text(json, "kind", kind);
  ew_json_numbers(json, "values", values, count);
  ew_json_number(json, "centre", chart.centre);
  ew_json_number(json, "lower", chart.lower);
  ew_json_number(json, "upper", chart.upper);
  ew_json_boolean(json, "in_control", chart.in_control);
  ew_json_close(json);
}

static void write_calibrations(struct ew_service *s, struct ew_json *json) {
  g_autoptr(GArray) rows = ew_calibration_list(s->book, NULL, NULL);
  ew_json_rows(json, "calibrations", rows, ew_calibration_row_json);
  ew_json_open_array(json, "charts");
  write_chart(json, rows, "zero");
  write_chart(json, rows, "check weight");
  ew_json_close_array(json);
}

/* What has to be calibrated or checked, and by when. A calibration of the load cell says how long it holds; zero and
 * check weight are looked at before the first pull of a day (common practice, no source). */
static const struct due {
  const char *kind, *what;
  gboolean daily;
} dues[] = {{"calibration", EW_TEXT("load cell, with weights up and down"), FALSE},
            {"zero", EW_TEXT("zero, before the first pull of a day"), TRUE},
            {"check weight", EW_TEXT("check weight, before the first pull of a day"), TRUE}};

static void write_due(struct ew_book *book, const struct due *due, const GArray *rows,
                      struct ew_json *json) {
  const struct ew_calibration_row *last = NULL;
  for (guint i = 0; i < rows->len; i++)
    if (strcmp(g_array_index(rows, struct ew_calibration_row, i).kind, due->kind) == 0)
      last = &g_array_index(rows, struct ew_calibration_row, i);
  g_autofree char *now = ew_time_now();
  char today[EW_DAY_SIZE] = "";
  ew_book_day(book, now, today, NULL);
  const char *until = last ? last->valid_until : NULL, *state = EW_TEXT("never done");
  if (last && due->daily)
    state = ew_book_is_day(book, last->at, today) ? EW_TEXT("done today") : EW_TEXT("due");
  else if (last)
    state = !until                                      ? EW_TEXT("no date")
            : ew_time_parse(until) < ew_time_parse(now) ? EW_TEXT("overdue")
                                                        : EW_TEXT("holds");
  ew_json_open(json, NULL);
  ew_json_text(json, "kind", due->kind);
  ew_json_text(json, "what", due->what);
  ew_json_text(json, "last_at", last ? last->at : NULL);
  ew_json_text(json, "holds_until", due->daily ? NULL : until);
  ew_json_text(json, "state", state);
  ew_json_close(json);
}

static void write_dues(struct ew_service *s, struct ew_json *json) {
  g_autoptr(GArray) rows = ew_calibration_list(s->book, NULL, NULL);
  ew_json_open_array(json, "calibrations_due");
  for (gsize i = 0; i < G_N_ELEMENTS(dues); i++)
    write_due(s->book, &dues[i], rows, json);
  ew_json_close_array(json);
}

/* Walks through every stored recording: asked apart from the rest. */
gboolean ew_api_ledger(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                       GError **error) {
  (void)r;
  struct ew_json *json = &reply->json;
  struct ew_ledger l;
  if (!ew_ledger_read(s->book, 0, &l, error))
    return FALSE;
  ew_json_integer(json, "recordings", l.recordings);
  ew_json_integer(json, "pulls", l.pulls);
  ew_json_integer(json, "heat_cycles", l.heat_cycles);
  ew_json_number(json, "running_s", l.running_s);
  ew_json_number(json, "highest_speed_rpm", l.highest_rpm);
  ew_json_open_array(json, "above");
  for (int k = 0; k < EW_LEDGER_SPEEDS; k++)
    if (l.above_s[k] > 0) {
      ew_json_open(json, NULL);
      ew_json_number(json, "speed_rpm", 500.0 * k);
      ew_json_number(json, "seconds", l.above_s[k]);
      ew_json_close(json);
    }
  ew_json_close_array(json);
  return TRUE;
}

static void write_verdict(const void *row, struct ew_json *json) {
  const struct ew_verdict_row *v = row;
  ew_json_integer(json, "id", v->id);
  ew_json_text(json, "at", v->at);
  ew_json_text(json, "question", v->question);
  g_autoptr(ew_message) pulls = ew_verdict_asked(v), says = ew_verdict_says(v);
  ew_message_write_member(pulls, "pulls", EW_UNITS_SI, json);
  ew_message_write_member(says, "says", EW_UNITS_SI, json);
  ew_json_boolean(json, "on_an_earlier_reading", v->earlier);
}

gboolean ew_api_shop(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                     GError **error) {
  (void)r;
  struct ew_desk desk = {0};
  if (!ew_desk_open(&desk, s->book, error))
    return FALSE;
  g_autoptr(ew_message) overdue = NULL;
  if (!ew_calibration_overdue(s->book, &overdue, error)) {
    ew_desk_clear(&desk);
    return FALSE;
  }
  ew_message_write_member(overdue, "calibration_overdue", EW_UNITS_SI, &reply->json);
  ew_json_text(&reply->json, "cell", desk.bench.name);
  ew_json_boolean(&reply->json, "logo", ew_service_has_logo(s));
  ew_json_open(&reply->json, "bench");
  ew_fields_write_json(&ew_bench_fields, &desk.bench, &reply->json);
  ew_json_close(&reply->json);
  write_levels(s, &desk, &reply->json);
  write_dues(s, &reply->json);
  write_calibrations(s, &reply->json);
  g_autoptr(GArray) verdicts = ew_verdict_list(s->book, 0, NULL);
  ew_json_rows(&reply->json, "verdicts", verdicts, write_verdict);
  ew_desk_clear(&desk);
  return TRUE;
}

static gboolean read_torque(const struct ew_node *body, const char *key, double *value,
                            GError **error) {
  const char *text = ew_node_text(body, key);
  return text ? ew_quantity_parse(key, text, EW_KIND_TORQUE, value, error)
              : ew_refuse(error, "%s: give a torque with its unit, such as 98.3 N·m", key);
}

/* What a zero is kept with: what the sensor reads since it was set to zero ("left"); nothing: it was left as it reads. NULL with *error. */
static char *zero_facts(const struct ew_node *body, GError **error) {
  const char *left = ew_node_text(body, "left");
  double left_n_m;
  if (!left || !*left)
    return g_strdup("{}");
  if (!ew_quantity_parse("left", left, EW_KIND_TORQUE, &left_n_m, error))
    return NULL;
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  ew_json_number(&json, "left_n_m", left_n_m);
  ew_json_close(&json);
  return g_string_free(json.text, FALSE);
}

gboolean ew_api_calibrations(struct ew_service *s, const struct ew_request *r,
                             struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body)
    return FALSE;
  const char *kind = ew_node_text(body, "kind"), *note = ew_node_text(body, "note");
  gboolean zero = g_strcmp0(kind, "zero") == 0;
  double read, expected = 1;
  if (!zero && g_strcmp0(kind, "check weight") != 0)
    return ew_refuse(error, "kind: give zero or check weight");
  if (!read_torque(body, "read", &read, error) ||
      (!zero && !read_torque(body, "expected", &expected, error)))
    return FALSE;
  if (!zero && !(expected > 0))
    return ew_refuse(error, "expected: the torque of the check weight must be above zero");
  if (note && strlen(note) > 400)
    return ew_refuse(error, "note: longer than 400 bytes");
  g_autofree char *facts = zero ? zero_facts(body, error) : ew_check_weight_facts(read, expected);
  if (!facts)
    return FALSE;
  struct ew_calibration_row row = {.kind = (char *)(zero ? "zero" : "check weight"),
                                   .value = zero ? read : read / expected,
                                   .json = facts,
                                   .note = ew_as_pointer(note && *note ? note : NULL)};
  struct ew_desk desk = {0};
  struct ew_calibration_kept kept = {0};
  gboolean good =
      ew_desk_open(&desk, s->book, error) && ew_desk_calibration_keep(&desk, &row, &kept, error);
  g_autoptr(GArray) rows = good ? ew_calibration_list(s->book, NULL, error) : NULL;
  if (good) {
    ew_json_open_array(&reply->json, "charts");
    write_chart(&reply->json, rows, row.kind);
    ew_json_close_array(&reply->json);
    ew_json_open_array(&reply->json, "held");
    for (guint i = 0; i < kept.held->len; i++)
      ew_json_integer(&reply->json, NULL, g_array_index(kept.held, gint64, i));
    ew_json_close_array(&reply->json);
  }
  ew_calibration_kept_clear(&kept);
  ew_desk_clear(&desk);
  reply->changed = good;
  return good;
}
