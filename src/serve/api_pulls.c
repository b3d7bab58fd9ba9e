/* Pulls: the list, curves with their bands, one figure walked back, discards, recordings. */
#include "base/error.h"
#include "base/number.h"
#include "book/keep.h"
#include "desk/add.h"
#include "desk/amend.h"
#include "desk/doubt.h"
#include "desk/question.h"
#include "pull/explain.h"
#include "serve/service.h"
#include <math.h>
#include <string.h>

#define CURVES_MOST 40
#define RAW_MOST    500
#define NEWEST_MOST 1000
#define FIGURES     7 /* of the numbers that are drawn: writing every last one takes most of the time */

static void write_changes(struct ew_json *json, const struct ew_setup *before,
                          const struct ew_setup *now, enum ew_unit_system units) {
  g_autoptr(GPtrArray) changes = before ? ew_setup_changes(before, now) : NULL;
  ew_messages_write_json(changes, "setup_changes", units, json);
}

static void write_row(struct ew_json *json, const struct ew_pull_row *row) {
  ew_json_integer(json, "id", row->id);
  ew_json_integer(json, "recording_id", row->recording_id);
  ew_json_integer(json, "engine_id", row->engine_id);
  ew_json_text(json, "at", row->at);
  ew_json_text(json, "day", row->day);
  ew_json_text(json, "kind", row->kind);
  ew_json_text(json, "purpose", row->purpose);
  ew_json_integer(json, "run", row->run);
  ew_json_integer(json, "mounting", row->mounting);
  ew_json_number(json, "top_speed_rpm", row->top_rpm);
  ew_json_number(json, "band_mean_torque_n_m", row->band_mean_n_m);
  ew_json_text(json, "changed", row->changed);
  ew_json_text(json, "discarded", row->discarded);
  ew_json_text(json, "tripped", row->tripped);
  ew_pull_held_json(row, json);
}

/* The set-up's figures as a person reads them, in the order of the table. */
static void write_setup(struct ew_json *json, const struct ew_setup *setup,
                        enum ew_unit_system units) {
  ew_json_open(json, "setup");
  for (gsize i = 0; i < ew_setup_fields.count; i++) {
    g_autofree char *value = ew_field_show(&ew_setup_fields.fields[i], setup, units);
    if (value)
      ew_json_text(json, ew_setup_fields.fields[i].name, value);
  }
  ew_json_close(json);
}

/* The set-up of the row before: most pulls of a day say the same, and reading it costs more than all else of a row. */
struct said_before {
  gboolean any; /* one could be read */
  struct ew_setup setup;
  const char *yaml; /* of a row whose members stand in the answer, `from` to `to`; NULL: none */
  gsize from, to;
};

static void write_set_up(struct ew_json *json, const struct ew_pull_row *row,
                         struct said_before *before, enum ew_unit_system units) {
  struct ew_setup now = {0};
  gsize at = json->text->len;
  if (before->yaml && g_strcmp0(before->yaml, row->setup) == 0) {
    g_string_append_len(json->text, json->text->str + before->from,
                        (gssize)(before->to - before->from));
    before->from = at;
    before->to = json->text->len;
    write_changes(json, &before->setup, &before->setup, units);
    return;
  }
  if (!ew_record_from_yaml(&ew_setup_fields, "set-up", row->setup, &now, NULL))
    return; /* the next one is compared with the last that could be read */
  write_setup(json, &now, units);
  gsize end = json->text->len;
  write_changes(json, before->any ? &before->setup : NULL, &now, units);
  ew_setup_clear(&before->setup);
  *before = (struct said_before){TRUE, now, row->setup, at, end};
}

/* All pulls; with newest=N the last N of them and the one before, which `*unseen` counts: what changed is said against it. */
static GArray *list_of(struct ew_service *s, const struct ew_request *r, gint64 engine,
                       guint *unseen, GError **error) {
  const char *newest = ew_request_query(r, "newest");
  guint64 most;
  *unseen = 0;
  if (!newest)
    return ew_pull_list(s->book, engine, error);
  if (!g_ascii_string_to_unsigned(newest, 10, 1, NEWEST_MOST, &most, NULL)) {
    ew_refuse(error, "newest: '%.40s' is not a number of pulls from 1 to %d", newest, NEWEST_MOST);
    return NULL;
  }
  GArray *rows = ew_pull_newest(s->book, engine, (guint)most + 1, error);
  *unseen = rows && rows->len > most ? 1 : 0;
  return rows;
}

gboolean ew_api_pulls(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                      GError **error) {
  const char *asked = ew_request_query(r, "engine");
  gint64 engine = asked ? g_ascii_strtoll(asked, NULL, 10) : 0, total;
  enum ew_unit_system units = ew_service_units(s, r);
  guint unseen;
  g_autoptr(GArray) rows = list_of(s, r, engine, &unseen, error);
  if (!rows || !ew_pull_count(s->book, engine, &total, error))
    return FALSE;
  struct said_before before = {0};
  ew_json_integer(&reply->json, "of", MAX(total, rows->len));
  ew_json_open_array(&reply->json, "pulls");
  if (unseen)
    before.any =
        ew_record_from_yaml(&ew_setup_fields, "set-up",
                            g_array_index(rows, struct ew_pull_row, 0).setup, &before.setup, NULL);
  for (guint i = unseen; i < rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    ew_json_open(&reply->json, NULL);
    write_row(&reply->json, row);
    write_set_up(&reply->json, row, &before, units);
    ew_json_close(&reply->json);
  }
  ew_json_close_array(&reply->json);
  ew_setup_clear(&before.setup);
  return TRUE;
}

/* Expanded uncertainty (95 %) of every point: absolute, and what remains of it in a comparison. */
static void write_bands(struct ew_service *s, const struct ew_desk *desk, const struct ew_loaded *l,
                        struct ew_json *json) {
  const struct ew_curve *c = l->curve;
  g_autofree double *absolute = g_new(double, c->points + 1);
  g_autofree double *comparative = g_new(double, c->points + 1);
  struct ew_spread repeat = ew_service_repeat(s, desk)[EW_LEVEL_CONSECUTIVE];
  for (gsize j = 0; j < c->points; j++) {
    struct ew_budget b =
        ew_budget(&desk->bench, l->calibration, c, c->torque_n_m[j], c->inertia_n_m[j],
                  c->torque_se_n_m[j], repeat, EW_HOURS_SINCE_ZERO);
    absolute[j] = b.expanded_n_m;
    comparative[j] = b.expanded_comparative_n_m;
  }
  ew_json_numbers(json, "torque_expanded_n_m", absolute, c->points);
  ew_json_numbers(json, "torque_comparative_n_m", comparative, c->points);
}

static void write_raw(const struct ew_curve *c, struct ew_json *json) {
  gsize stride = MAX((c->raw_points + RAW_MOST - 1) / RAW_MOST, 1);
  ew_json_open(json, "raw");
  ew_json_open_array(json, "speed_rpm");
  for (gsize j = 0; j < c->raw_points; j += stride)
    ew_json_number(json, NULL, round(c->raw_speed_rpm[j] * 10) / 10);
  ew_json_close_array(json);
  ew_json_open_array(json, "torque_n_m");
  for (gsize j = 0; j < c->raw_points; j += stride)
    ew_json_number(json, NULL, round(c->raw_torque_n_m[j] * 100) / 100);
  ew_json_close_array(json);
  ew_json_close(json);
}

static void write_peaks(const struct ew_curve *c, struct ew_json *json) {
  gsize power = ew_curve_peak(c, c->power_w), torque = ew_curve_peak(c, c->torque_n_m);
  ew_json_open(json, "peak");
  ew_json_number(json, "power_w", c->power_w[power]);
  ew_json_number(json, "power_speed_rpm", c->speed_rpm[power]);
  ew_json_number(json, "torque_n_m", c->torque_n_m[torque]);
  ew_json_number(json, "torque_speed_rpm", c->speed_rpm[torque]);
  ew_json_boolean(json, "power_at_end", ew_curve_peak_is_at_end(c, c->power_w));
  ew_json_boolean(json, "torque_at_end", ew_curve_peak_is_at_end(c, c->torque_n_m));
  ew_json_close(json);
}

gboolean ew_api_curves(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                       GError **error) {
  const char *ids = ew_request_query(r, "pulls");
  enum ew_unit_system units = ew_service_units(s, r);
  g_autoptr(GPtrArray) pulls = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  gboolean raw = g_strcmp0(ew_request_query(r, "raw"), "no") != 0;
  struct ew_desk desk = {0};
  if (!ids)
    return ew_refuse(error, "which pulls? Ask for ?pulls=1,2,3");
  gboolean good = ew_desk_open(&desk, s->book, error) && ew_service_load(&desk, ids, pulls, error);
  if (good && pulls->len > CURVES_MOST)
    good = ew_refuse(error, "%u pulls at once: %d at most", pulls->len, CURVES_MOST);
  reply->json.figures = FIGURES;
  ew_json_open_array(&reply->json, "curves");
  for (guint i = 0; good && i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    ew_json_open(&reply->json, NULL);
    write_row(&reply->json, &l->row);
    write_setup(&reply->json, &l->setup, units);
    ew_json_number(&reply->json, "limit_rpm", l->setup.limit_rpm);
    write_peaks(l->curve, &reply->json);
    ew_json_open(&reply->json, "curve");
    ew_curve_write_json(l->curve, &reply->json);
    write_bands(s, &desk, l, &reply->json);
    ew_json_close(&reply->json);
    if (raw)
      write_raw(l->curve, &reply->json);
    ew_json_text(&reply->json, "standard", ew_standard_titles[l->curve->method.standard]);
    ew_json_close(&reply->json);
  }
  ew_json_close_array(&reply->json);
  ew_desk_clear(&desk);
  return good;
}

static void write_steps(const struct ew_recomputed *again, const struct ew_origin *o,
                        struct ew_json *json) {
  const struct ew_curve *c = ew_recomputed_curve(again);
  ew_json_text(json, "recording", again->recording.name);
  ew_json_text(json, "sha256", again->recording.sha256);
  ew_json_number(json, "speed_rpm", o->speed_rpm);
  ew_json_number(json, "torque_n_m", o->torque_n_m);
  ew_json_number(json, "power_w", o->power_w);
  ew_json_integer(json, "samples", (gint64)o->samples);
  ew_json_integer(json, "samples_touched", (gint64)o->touched);
  ew_json_number(json, "first_s", o->first_s);
  ew_json_number(json, "last_s", o->last_s);
  ew_json_number(json, "low_rpm", o->low_rpm);
  ew_json_number(json, "high_rpm", o->high_rpm);
  ew_json_number(json, "half_width_rpm", c->method.half_width_rpm);
  ew_json_number(json, "measured_torque_n_m", o->measured_n_m);
  ew_json_number(json, "acceleration_rpm_s", o->acceleration_rpm_s);
  ew_json_number(json, "inertia_torque_n_m", o->inertia_n_m);
  ew_json_number(json, "engine_inertia_torque_n_m", o->engine_inertia_n_m);
  ew_json_boolean(json, "engine_inertia_added", c->method.engine_inertia);
  ew_json_number(json, "factor", c->factor.factor);
  ew_json_boolean(json, "in_range", c->factor.in_range);
  ew_json_text(json, "standard", ew_standard_titles[c->method.standard]);
  ew_json_text(json, "reference", ew_standard_references[c->method.standard]);
  ew_json_number(json, "pressure_pa", c->conditions.pressure_pa);
  ew_json_text(json, "pressure_from", c->conditions.pressure_from);
  ew_json_number(json, "temperature_k", c->conditions.temperature_k);
  ew_json_text(json, "temperature_from", c->conditions.temperature_from);
  ew_json_number(json, "vapour_pressure_pa", c->conditions.vapour_pa);
  ew_json_text(json, "humidity_from", c->conditions.humidity_from);
}

static void write_budget(const struct ew_budget *b, double torque, struct ew_json *json) {
  g_autofree char *shown = ew_number_with_uncertainty(torque, b->expanded_n_m);
  ew_json_text(json, "shown", shown);
  ew_json_open_array(json, "uncertainty");
  for (gsize i = 0; i < b->count; i++) {
    ew_json_open(json, NULL);
    ew_json_text(json, "from", b->rows[i].from);
    ew_json_number(json, "standard_n_m", b->rows[i].standard_n_m);
    ew_json_boolean(json, "cancels_in_comparison", b->rows[i].cancels);
    ew_json_close(json);
  }
  ew_json_close_array(json);
  ew_json_number(json, "expanded_n_m", b->expanded_n_m);
  ew_json_number(json, "expanded_comparative_n_m", b->expanded_comparative_n_m);
}

gboolean ew_api_explain(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                        GError **error) {
  const char *text = ew_request_query(r, "speed_rpm");
  struct ew_recomputed again;
  struct ew_desk desk = {0};
  struct ew_origin o;
  double speed = NAN;
  if (text && !ew_number_parse(text, &speed))
    return ew_refuse(error, "speed_rpm: '%.40s' is not a number", text);
  if (!ew_recompute(s->book, r->id, &again, error))
    return FALSE;
  struct ew_reduce_facts facts = ew_recomputed_facts(&again);
  const struct ew_curve *c = ew_recomputed_curve(&again);
  if (isnan(speed))
    speed = c->speed_rpm[ew_curve_peak(c, c->power_w)];
  gboolean good = ew_desk_open(&desk, s->book, error) &&
                  ew_explain(again.processed, again.part, &facts, speed, &o, error);
  if (good) {
    struct ew_spread repeat = ew_service_repeat(s, &desk)[EW_LEVEL_CONSECUTIVE];
    struct ew_budget b = ew_budget(facts.bench, facts.calibration, c, o.torque_n_m, o.inertia_n_m,
                                   o.torque_se_n_m, repeat, EW_HOURS_SINCE_ZERO);
    ew_json_integer(&reply->json, "pull", r->id);
    write_steps(&again, &o, &reply->json);
    write_budget(&b, o.torque_n_m, &reply->json);
    struct ew_curve_row row;
    if (ew_curve_get(s->book, r->id, &row, NULL)) {
      ew_json_text(&reply->json, "curve_sha256", row.digest);
      ew_curve_row_clear(&row);
    }
  }
  ew_recomputed_clear(&again);
  ew_desk_clear(&desk);
  return good;
}

gboolean ew_api_discard(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                        GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  struct ew_pull_row row;
  if (!body || !ew_pull_get(s->book, r->id, &row, error))
    return FALSE;
  ew_pull_row_clear(&row);
  const char *reason = ew_node_text(body, "reason");
  gboolean back = g_strcmp0(ew_node_text(body, "take_back"), "yes") == 0;
  if (!back && (!reason || !*reason || strlen(reason) > 400))
    return ew_refuse(error, "reason: say why, in one line; a discarded pull is kept with it");
  if (!ew_keep_discard(s->book, r->id, back ? "" : reason, error))
    return FALSE;
  ew_json_integer(&reply->json, "id", r->id);
  ew_json_text(&reply->json, "discarded", back ? NULL : reason);
  reply->changed = TRUE;
  return TRUE;
}

/* Fields of the set-up in the query become "name=value" as the command line gives them. */
static GPtrArray *sets_of(const struct ew_request *r) {
  GPtrArray *sets = g_ptr_array_new_with_free_func(g_free);
  for (gsize i = 0; i < ew_setup_fields.count; i++) {
    const char *name = ew_setup_fields.fields[i].name, *value = ew_request_query(r, name);
    if (value && *value)
      g_ptr_array_add(sets, g_strdup_printf("%s=%s", name, value));
  }
  g_ptr_array_add(sets, NULL);
  return sets;
}

static void write_ids_of(struct ew_service *s, gint64 recording, struct ew_json *json) {
  g_autoptr(GArray) rows = ew_pull_list(s->book, 0, NULL);
  ew_json_integer(json, "recording_id", recording);
  ew_json_open_array(json, "pull_ids");
  for (guint i = 0; i < rows->len; i++)
    if (g_array_index(rows, struct ew_pull_row, i).recording_id == recording)
      ew_json_integer(json, NULL, g_array_index(rows, struct ew_pull_row, i).id);
  ew_json_close_array(json);
}

static gboolean check_options(const struct ew_add_options *o, GError **error) {
  if (o->purpose && strcmp(o->purpose, "pull") && strcmp(o->purpose, "heat") &&
      strcmp(o->purpose, "break-in"))
    return ew_refuse(error, "purpose: '%.40s' is not one of pull, heat, break-in", o->purpose);
  return !o->changed || strlen(o->changed) <= 400 ||
         ew_refuse(error, "changed: longer than 400 bytes");
}

gboolean ew_api_recordings(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                           GError **error) {
  const char *name = ew_request_query(r, "name");
  if (!name || !*name || strlen(name) > 200 || strchr(name, '/'))
    return ew_refuse(error, "name: the file's name is needed, without folders");
  if (g_bytes_get_size(r->body) == 0)
    return ew_refuse(error, "%s: the file is empty", name);
  g_autoptr(GPtrArray) sets = sets_of(r);
  const char *changed = ew_request_query(r, "changed");
  double written = ew_instant(ew_request_query(r, "written_at")); /* not known: NaN, and no stamp */
  struct ew_add_options options = {.sets = (const char *const *)sets->pdata,
                                   .changed = changed && *changed ? changed : NULL,
                                   .purpose = ew_request_query(r, "purpose"),
                                   .at = ew_request_query(r, "at"),
                                   .stamp_s = isnan(written) ? 0 : written,
                                   .after_stop = ew_request_query(r, "after_stop") != NULL,
                                   .remounted = ew_request_query(r, "remounted") != NULL};
  struct ew_added added;
  struct ew_desk desk = {0};
  if (!check_options(&options, error))
    return FALSE;
  gboolean good = ew_desk_open(&desk, s->book, error) &&
                  ew_add_bytes(&desk, r->body, name, &options, &added, error);
  ew_desk_clear(&desk);
  if (!good)
    return FALSE;
  write_ids_of(s, added.recording_id, &reply->json);
  ew_json_integer(&reply->json, "rows", (gint64)added.rows);
  ew_json_integer(&reply->json, "channels", (gint64)added.channels);
  ew_json_text(&reply->json, "sha256", added.sha256);
  ew_json_boolean(&reply->json, "known_before", added.known_before);
  ew_messages_write_json(added.notes, "notes", EW_UNITS_SI, &reply->json);
  ew_held_json(s->book, added.pull_ids, &reply->json);
  reply->changed = !added.known_before;
  ew_added_clear(&added);
  return TRUE;
}
