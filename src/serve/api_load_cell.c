/* The load cell calibrated from the page: weights on an arm, as they were hung and read. Tried first: what the line is and what it would put
 * in doubt; then kept. */
#include "base/as_pointer.h"
#include "base/error.h"
#include "book/keep.h"
#include "desk/load_cell.h"
#include "serve/service.h"
#include <math.h>
#include <string.h>

#define NOTE_BYTES    400u
#define VALID_LEAST_S 86400.0
#define VALID_MOST_S  (5 * 365.25 * 86400.0)

struct asked {
  double arm_m, gravity_m_s2, valid_s;
  const char *note;
  gboolean keep;
  GArray *points; /* struct ew_calibration_point */
};

/* `key` of the body, or what is usual; out of range is refused at its field. */
static gboolean read_one(const ew_node *body, const char *key, enum ew_kind kind, double usual,
                         double *value, GError **error) {
  const char *text = ew_node_text(body, key);
  *value = usual;
  if (!text || !*text)
    return TRUE;
  if (ew_quantity_parse(key, text, kind, value, error))
    return TRUE;
  ew_error_at_field(error, key);
  return FALSE;
}

static gboolean refuse_at(const char *field, GError **error) {
  ew_error_at_field(error, field);
  return FALSE;
}

static gboolean read_figures(const ew_node *body, struct asked *a, GError **error) {
  if (!read_one(body, "arm", EW_KIND_LENGTH, NAN, &a->arm_m, error) ||
      !read_one(body, "gravity", EW_KIND_NUMBER, EW_GRAVITY_M_S2, &a->gravity_m_s2, error) ||
      !read_one(body, "valid", EW_KIND_TIME, EW_CALIBRATION_VALID_S, &a->valid_s, error))
    return FALSE;
  if (!(a->arm_m > 0.02 && a->arm_m < 5)) {
    ew_refuse(error, "arm: give its length, between 20 mm and 5 m, such as 500 mm");
    return refuse_at("arm", error);
  }
  if (!(a->gravity_m_s2 > 9.7 && a->gravity_m_s2 < 9.9)) {
    ew_refuse(error, "gravity: %.3f is outside 9.7 to 9.9 m/s2", a->gravity_m_s2);
    return refuse_at("gravity", error);
  }
  if (!(a->valid_s >= VALID_LEAST_S && a->valid_s <= VALID_MOST_S)) {
    ew_refuse(error, "valid: give from 1 day to 5 years, such as 90 d");
    return refuse_at("valid", error);
  }
  return TRUE;
}

/* "weights.2.read": the field of row 2, counted from 1 as the page counts. */
static gboolean refuse_in_row(guint row, const char *key, GError **error) {
  g_autofree char *field = g_strdup_printf("weights.%u.%s", row, key);
  return refuse_at(field, error);
}

static gboolean read_weight(const ew_node *one, guint row, struct asked *a, GError **error) {
  const char *mass_text = one->kind == EW_NODE_MAP ? ew_node_text(one, "mass") : NULL,
             *read_text = one->kind == EW_NODE_MAP ? ew_node_text(one, "read") : NULL;
  double mass, read;
  if (!mass_text || !*mass_text) {
    ew_refuse(error, "weight %u: give what hung there, such as 10 kg; 0 kg is the bare arm", row);
    return refuse_in_row(row, "mass", error);
  }
  if (!read_text || !*read_text) {
    ew_refuse(error, "weight %u: give what was read, such as 49.1 N·m", row);
    return refuse_in_row(row, "read", error);
  }
  if (!ew_quantity_parse("weight", mass_text, EW_KIND_MASS, &mass, error))
    return refuse_in_row(row, "mass", error);
  if (!ew_quantity_parse("read", read_text, EW_KIND_TORQUE, &read, error))
    return refuse_in_row(row, "read", error);
  if (!(mass >= 0 && mass <= 2000)) {
    ew_refuse(error, "weight %u: %.4g kg is outside 0 to 2,000 kg", row, mass);
    return refuse_in_row(row, "mass", error);
  }
  struct ew_calibration_point point = {mass * a->gravity_m_s2 * a->arm_m, read};
  g_array_append_val(a->points, point);
  return TRUE;
}

static gboolean read_weights(const ew_node *body, struct asked *a, GError **error) {
  const struct ew_node *list = ew_node_member(body, "weights");
  if (!list || list->kind != EW_NODE_LIST || list->children->len > EW_LOAD_CELL_POINTS_MOST)
    return ew_refuse(error, "weights: give up to %u, each with mass and read",
                     EW_LOAD_CELL_POINTS_MOST);
  for (guint i = 0; i < list->children->len; i++)
    if (!read_weight(list->children->pdata[i], i + 1, a, error))
      return FALSE;
  return TRUE;
}

static gboolean read_asked(const ew_node *body, struct asked *a, GError **error) {
  a->note = ew_node_text(body, "note");
  a->keep = g_strcmp0(ew_node_text(body, "keep"), "yes") == 0;
  if (a->note && strlen(a->note) > NOTE_BYTES)
    return ew_refuse(error, "note: longer than %u bytes", NOTE_BYTES);
  return read_figures(body, a, error) && read_weights(body, a, error);
}

/* Each point with its distance from the line; the greatest of them is its linearity. */
static void write_points(const struct asked *a, const struct ew_calibration *line,
                         struct ew_json *json) {
  double worst = 0;
  ew_json_open_array(json, "hung");
  for (guint i = 0; i < a->points->len; i++) {
    struct ew_calibration_point p = g_array_index(a->points, struct ew_calibration_point, i);
    double off = ew_load_cell_off(line, p);
    worst = fmax(worst, fabs(off));
    ew_json_open(json, NULL);
    ew_json_number(json, "applied_n_m", p.applied);
    ew_json_number(json, "read_n_m", p.read);
    ew_json_number(json, "off_n_m", off);
    ew_json_close(json);
  }
  ew_json_close_array(json);
  ew_json_number(json, "linearity_n_m", worst);
  ew_json_number(json, "largest_n_m", line->largest);
}

static void write_answer(const struct asked *a, const struct ew_calibration *line,
                         const struct ew_calibration_kept *kept, double limit, const char *until,
                         struct ew_json *json) {
  ew_calibration_facts(line, EW_CHANNEL_TORQUE, json);
  write_points(a, line, json);
  ew_json_number(json, "gain_change", kept->change);
  ew_json_number(json, "limit", limit);
  ew_json_boolean(json, "good", kept->good);
  ew_json_text(json, "valid_until", until);
  ew_json_boolean(json, "kept", a->keep);
  ew_json_open_array(json, "held");
  for (guint i = 0; i < kept->held->len; i++)
    ew_json_integer(json, NULL, g_array_index(kept->held, gint64, i));
  ew_json_close_array(json);
}

static gboolean keep_or_try(const struct ew_desk *desk, const struct asked *a,
                            const struct ew_calibration *line, const char *until,
                            struct ew_calibration_kept *kept, GError **error) {
  struct ew_json facts = {.text = g_string_new(NULL)};
  ew_json_open(&facts, NULL);
  ew_calibration_facts(line, EW_CHANNEL_TORQUE, &facts);
  ew_json_close(&facts);
  struct ew_calibration_row row = {.kind = (char *)"calibration",
                                   .valid_until = ew_as_pointer(until),
                                   .value = line->gain,
                                   .json = facts.text->str,
                                   .note = ew_as_pointer(a->note && *a->note ? a->note : NULL)};
  gboolean good = a->keep ? ew_desk_calibration_keep(desk, &row, kept, error)
                          : ew_desk_calibration_try(desk, &row, kept, error);
  g_string_free(facts.text, TRUE);
  return good;
}

gboolean ew_api_load_cell(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                          GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  g_autoptr(GArray) points = g_array_new(FALSE, FALSE, sizeof(struct ew_calibration_point));
  struct asked a = {.points = points};
  struct ew_calibration line;
  struct ew_calibration_kept kept = {0};
  struct ew_desk desk = {0};
  if (!body || !read_asked(body, &a, error) ||
      !ew_load_cell_line((const struct ew_calibration_point *)(void *)points->data, points->len,
                         &line, error))
    return FALSE;
  g_autofree char *until = ew_calibration_until(a.valid_s);
  gboolean good =
      ew_desk_open(&desk, s->book, error) && keep_or_try(&desk, &a, &line, until, &kept, error);
  if (good)
    write_answer(&a, &line, &kept, desk.bench.calibration_limit, until, &reply->json);
  ew_calibration_kept_clear(&kept);
  ew_desk_clear(&desk);
  reply->changed = good && a.keep;
  return good;
}
