/* Where the figures of a pull's table come from: the recording, the method, the factor with what went into it,
 * the channels behind the conditions, and since which pull a figure of the set-up stands. */
#include "base/error.h"
#include "desk/question.h"
#include "serve/service.h"
#include <math.h>
#include <string.h>

static const enum ew_channel behind[] = {
    EW_CHANNEL_SPEED,           EW_CHANNEL_TORQUE,
    EW_CHANNEL_BAROMETER,       EW_CHANNEL_HUMIDITY,
    EW_CHANNEL_DEW_POINT,       EW_CHANNEL_INLET_AIR_TEMPERATURE,
    EW_CHANNEL_OIL_TEMPERATURE, EW_CHANNEL_COOLANT_TEMPERATURE};

static void write_recording(struct ew_service *s, const struct ew_recomputed *again,
                            struct ew_json *json) {
  struct ew_curve_row row;
  ew_json_integer(json, "pull", again->pull.id);
  ew_json_text(json, "recording", again->recording.name);
  ew_json_text(json, "sha256", again->recording.sha256);
  ew_json_text(json, "added_at", again->recording.added_at);
  if (ew_curve_get(s->book, again->pull.id, &row, NULL)) {
    ew_json_text(json, "curve_sha256", row.digest);
    ew_curve_row_clear(&row);
  }
}

static void write_method(const struct ew_method *method, enum ew_unit_system units,
                         struct ew_json *json) {
  ew_json_open(json, "method");
  for (gsize i = 0; i < ew_method_fields.count; i++) {
    g_autofree char *shown = ew_field_show(&ew_method_fields.fields[i], method, units);
    ew_json_text(json, ew_method_fields.fields[i].name, shown);
  }
  ew_json_close(json);
}

/* The points of the curve that the mean is taken of. */
static void write_band(const struct ew_curve *c, struct ew_json *json) {
  gint64 points = 0;
  for (gsize j = 0; j < c->points; j++)
    points += c->speed_rpm[j] >= c->band_low_rpm && c->speed_rpm[j] <= c->band_high_rpm &&
              !isnan(c->torque_n_m[j]);
  ew_json_open(json, "band");
  ew_json_number(json, "low_rpm", c->band_low_rpm);
  ew_json_number(json, "high_rpm", c->band_high_rpm);
  ew_json_number(json, "low_share", c->method.band_low);
  ew_json_number(json, "high_share", c->method.band_high);
  ew_json_number(json, "top_rpm", c->high_rpm);
  ew_json_integer(json, "points", points);
  ew_json_number(json, "mean_torque_n_m", c->band_mean_n_m);
  ew_json_number(json, "relative_se", c->band_mean_se);
  ew_json_close(json);
}

static void write_factor(const struct ew_curve *c, struct ew_json *json) {
  ew_json_open(json, "factor");
  ew_json_number(json, "factor", c->factor.factor);
  ew_json_boolean(json, "in_range", c->factor.in_range);
  ew_message_write_member(c->out_of_range, "why_not", EW_UNITS_SI, json);
  ew_json_text(json, "standard", ew_standard_titles[c->method.standard]);
  ew_json_text(json, "reference", ew_standard_references[c->method.standard]);
  ew_json_number(json, "dry_pressure_pa", c->factor.dry_pressure_pa);
  ew_json_number(json, "pressure_pa", c->conditions.pressure_pa);
  ew_json_text(json, "pressure_from", c->conditions.pressure_from);
  ew_json_number(json, "temperature_k", c->conditions.temperature_k);
  ew_json_text(json, "temperature_from", c->conditions.temperature_from);
  ew_json_number(json, "vapour_pressure_pa", c->conditions.vapour_pa);
  ew_json_text(json, "humidity_from", c->conditions.humidity_from);
  ew_json_close(json);
}

static void write_counts(const struct ew_clean_counts *n, struct ew_json *json) {
  ew_json_integer(json, "spikes", (gint64)n->spikes);
  ew_json_integer(json, "dropouts", (gint64)n->dropouts);
  ew_json_integer(json, "flat", (gint64)n->flat);
  ew_json_integer(json, "saturated", (gint64)n->saturated);
  ew_json_integer(json, "lost", (gint64)n->lost);
}

/* The columns of the file that the conditions were read from, with what cleaning did to them. */
static void write_channels(const struct ew_recomputed *again, struct ew_json *json) {
  const struct ew_segment *part = g_ptr_array_index(again->processed->segments, again->part);
  ew_json_open_array(json, "channels");
  for (gsize i = 0; i < G_N_ELEMENTS(behind); i++) {
    const struct ew_series_channel *c = ew_series_find(again->processed->series, behind[i], 0);
    if (!c || !c->values)
      continue;
    struct ew_clean_counts n = ew_clean_count(c, part->count_first, part->count_last);
    ew_json_open(json, NULL);
    ew_json_text(json, "key", ew_channel_facts[c->channel].key);
    ew_json_text(json, "label", ew_channel_facts[c->channel].label);
    ew_json_text(json, "heading", c->name);
    ew_json_text(json, "unit", c->unit);
    ew_message_write_member(c->why, "why", EW_UNITS_SI, json);
    ew_json_number(json, "lag_s", c->lag_s);
    ew_json_integer(json, "samples", (gint64)(part->count_last - part->count_first));
    write_counts(&n, json);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

/* Back from `at` while the pull before says the same: where the figure was said first. */
static guint said_first(const GArray *rows, guint at, const struct ew_field *field,
                        const char *shown) {
  while (at > 0) {
    struct ew_setup before = {0};
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, at - 1);
    if (!ew_record_from_yaml(&ew_setup_fields, "set-up", row->setup, &before, NULL))
      break;
    g_autofree char *then = ew_field_typed(field, &before);
    ew_setup_clear(&before);
    if (g_strcmp0(then, shown) != 0)
      break;
    at--;
  }
  return at;
}

static void write_since(struct ew_service *s, const struct ew_pull_row *row, struct ew_json *json) {
  struct ew_recording_row recording = {0};
  ew_json_integer(json, "since_pull", row->id);
  ew_json_text(json, "since_at", row->at);
  ew_json_text(json, "changed", row->changed);
  if (!ew_recording_facts(s->book, row->recording_id, &recording, NULL))
    return;
  ew_json_text(json, "recording", recording.name);
  ew_json_text(json, "added_at", recording.added_at);
  ew_recording_row_clear(&recording);
}

static gboolean write_setup(struct ew_service *s, const struct ew_recomputed *again,
                            enum ew_unit_system units, struct ew_json *json, GError **error) {
  g_autoptr(GArray) rows = ew_pull_list(s->book, again->pull.engine_id, error);
  guint at = 0;
  if (!rows)
    return FALSE;
  while (at < rows->len && g_array_index(rows, struct ew_pull_row, at).id != again->pull.id)
    at++;
  if (at == rows->len)
    return ew_fail(error, "pull %" G_GINT64_FORMAT " is not among the pulls of its engine",
                   again->pull.id);
  ew_json_open_array(json, "setup");
  for (gsize i = 0; i < ew_setup_fields.count; i++) {
    const struct ew_field *field = &ew_setup_fields.fields[i];
    g_autofree char *inside = ew_field_typed(field, &again->setup);
    g_autofree char *shown = ew_field_show(field, &again->setup, units);
    if (!inside)
      continue;
    guint first = said_first(rows, at, field, inside);
    ew_json_open(json, NULL);
    ew_json_text(json, "name", field->name);
    ew_json_text(json, "shown", shown);
    write_since(s, &g_array_index(rows, struct ew_pull_row, first), json);
    ew_json_close(json);
  }
  ew_json_close_array(json);
  return TRUE;
}

gboolean ew_api_origins(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                        GError **error) {
  struct ew_recomputed again;
  enum ew_unit_system units = ew_service_units(s, r);
  if (!ew_recompute(s->book, r->id, &again, error))
    return FALSE;
  const struct ew_curve *c = ew_recomputed_curve(&again);
  write_recording(s, &again, &reply->json);
  write_method(&again.method, units, &reply->json);
  write_band(c, &reply->json);
  write_factor(c, &reply->json);
  write_channels(&again, &reply->json);
  gboolean good = write_setup(s, &again, units, &reply->json, error);
  ew_recomputed_clear(&again);
  return good;
}
