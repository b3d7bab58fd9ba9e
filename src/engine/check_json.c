/* What follows from an engine's file, as JSON: figures, and about each its section, kind and method. */
#include "base/language.h"
#include "base/words.h"
#include "engine/balance.h"
#include "engine/check.h"
#include "engine/compression.h"
#include "engine/valve_area.h"
#include <math.h>
#include <string.h>

static void write_figures(const struct ew_engine_check *check, struct ew_json *json) {
  for (guint i = 0; i < check->figures->len; i++) {
    const struct ew_figure *f = &g_array_index(check->figures, struct ew_figure, i);
    g_autofree char *key = g_strconcat(f->key, ew_kind_suffix(f->kind), NULL);
    if (f->list)
      ew_json_numbers(json, key, f->values, f->count);
    else
      ew_json_number(json, key, f->values[0]);
  }
}

static void write_about(const struct ew_engine_check *check, struct ew_json *json) {
  ew_json_open(json, "about");
  for (guint i = 0; i < check->figures->len; i++) {
    const struct ew_figure *f = &g_array_index(check->figures, struct ew_figure, i);
    g_autofree char *key = g_strconcat(f->key, ew_kind_suffix(f->kind), NULL);
    ew_json_open(json, key);
    g_autofree char *label = f->si ? ew_words("%s, %s", ew_tr(f->label), f->si) : NULL;
    ew_json_text(json, "section", ew_tr(f->section));
    ew_json_text(json, "label", label ? label : ew_tr(f->label));
    ew_json_text(json, "kind", ew_kind_name(f->kind));
    ew_json_text(json, "confidence", ew_confidence_word(f->confidence));
    ew_json_text(json, "method", ew_tr(f->method));
    ew_json_close(json);
  }
  ew_json_close(json);
}

static void write_events_at(const struct ew_valve_events *e, const char *key,
                            struct ew_json *json) {
  ew_json_open(json, key);
  ew_json_number(json, "lift_m", e->lift_m);
  ew_json_number(json, "inlet_opens_btdc", e->inlet_opens_btdc_deg);
  ew_json_number(json, "inlet_closes_abdc", e->inlet_closes_abdc_deg);
  ew_json_number(json, "exhaust_opens_bbdc", e->exhaust_opens_bbdc_deg);
  ew_json_number(json, "exhaust_closes_atdc", e->exhaust_closes_atdc_deg);
  ew_json_number(json, "overlap", e->overlap_deg);
  ew_json_close(json);
}

static void write_events(const struct ew_engine_check *check, struct ew_json *json) {
  ew_json_open(json, "valve_events_deg");
  if (check->has_events[0])
    write_events_at(&check->events[0], "at_duration_lift", json);
  if (check->has_events[1])
    write_events_at(&check->events[1], "at_check_lift", json);
  ew_json_close(json);
}

static void write_clearance_at(const struct ew_valve_clearance *c, const char *key,
                               struct ew_json *json) {
  ew_json_open(json, key);
  ew_json_number(json, "minimum_m", c->minimum_m);
  ew_json_number(json, "at_deg", c->at_deg);
  ew_json_close(json);
}

/* The least at running lash under the side's name; both lashes and where under "detail". */
static void write_clearance(const struct ew_engine_check *check, struct ew_json *json) {
  ew_json_open(json, "valve_piston_clearance_m");
  for (int side = EW_INLET; side <= EW_EXHAUST; side++)
    if (check->has_clearance[side])
      ew_json_number(json, ew_side_name(side), check->clearance_running[side].minimum_m);
  ew_json_open(json, "detail");
  for (int side = EW_INLET; side <= EW_EXHAUST; side++) {
    if (!check->has_clearance[side])
      continue;
    ew_json_open(json, ew_side_name(side));
    write_clearance_at(&check->clearance_zero[side], "zero_lash", json);
    write_clearance_at(&check->clearance_running[side], "running_lash", json);
    ew_json_close(json);
  }
  ew_json_close(json);
  ew_json_close(json);
}

/* Lift of both valves and clearance at running lash, for a plot: every 5 degrees. */
static void write_curves(const struct ew_engine_check *check, struct ew_json *json) {
  ew_json_open(json, "curves");
  double angles[145], values[145];
  for (int i = 0; i < 145; i++)
    angles[i] = -360 + 5 * i;
  ew_json_numbers(json, "angle_deg", angles, 145);
  for (int side = EW_INLET; side <= EW_EXHAUST; side++) {
    if (!check->has_motion[side])
      continue;
    for (int i = 0; i < 145; i++)
      values[i] = ew_valve_lift_m(&check->motion[side], angles[i]);
    ew_json_numbers(json, side == EW_INLET ? "inlet_lift_m" : "exhaust_lift_m", values, 145);
    if (!check->has_clearance[side])
      continue;
    for (int i = 0; i < 145; i++)
      values[i] = ew_valve_clearance_at_m(check->engine, side, &check->motion[side], angles[i],
                                          check->motion[side].lash_m);
    ew_json_numbers(json, side == EW_INLET ? "inlet_clearance_m" : "exhaust_clearance_m", values,
                    145);
  }
  ew_json_close(json);
}

/* What the volume above the piston is made of, for a drawing; none when only a ratio is stated. */
static void write_clearance_parts(const struct ew_engine *engine, struct ew_json *json) {
  struct ew_clearance_parts parts = {0};
  double chambers[EW_CYLINDERS_MAX];
  for (int i = 0; i < engine->cylinders; i++) {
    parts = ew_clearance_parts_of(engine, (guint)i);
    chambers[i] = parts.chamber_m3;
  }
  if (isnan(parts.chamber_m3 + parts.gasket_m3 + parts.deck_m3))
    return;
  ew_json_open(json, "clearance_parts_m3");
  ew_json_numbers(json, "chamber", chambers, (gsize)engine->cylinders);
  ew_json_number(json, "gasket", parts.gasket_m3);
  ew_json_number(json, "deck", parts.deck_m3);
  ew_json_number(json, "crevice", parts.crevice_m3);
  ew_json_number(json, "dish", parts.dish_m3);
  ew_json_number(json, "dome", parts.dome_m3);
  ew_json_close(json);
  ew_json_open(json, "quench_bounds");
  ew_json_number(json, "low_m", EW_QUENCH_LOW_M);
  ew_json_number(json, "high_m", EW_QUENCH_HIGH_M);
  ew_json_number(json, "gasket_m", engine->compression.gasket_thickness_m);
  ew_json_number(json, "deck_m", engine->compression.deck_m);
  ew_json_text(json, "from", "common practice, no source");
  ew_json_close(json);
}

static void write_flow(const struct ew_engine *engine, struct ew_json *json) {
  ew_json_open(json, "flow_coefficients");
  for (int side = EW_INLET; side <= EW_EXHAUST; side++) {
    const struct ew_engine_valves *v = ew_side_of(engine, side);
    ew_json_open_array(json, ew_side_name(side));
    for (guint row = 0; v->flows && row < v->flows->len; row++) {
      struct ew_flow_coefficients c = ew_flow_coefficients_at(v, row);
      ew_json_open(json, NULL);
      ew_json_number(json, "lift_m", c.lift_m);
      ew_json_number(json, "flow_m3_s", c.flow_m3_s);
      ew_json_number(json, "on_curtain", c.on_curtain);
      ew_json_number(json, "on_minimum", c.on_minimum);
      ew_json_number(json, "on_head", c.on_head);
      ew_json_close(json);
    }
    ew_json_close_array(json);
  }
  ew_json_close(json);
}

static void write_torsion(const struct ew_engine_check *check, struct ew_json *json) {
  ew_json_open_array(json, "barred_ranges");
  for (gsize i = 0; i < check->barred_count; i++) {
    const struct ew_barred_range *r = &check->barred[i];
    ew_json_open(json, NULL);
    ew_json_number(json, "order", r->order);
    ew_json_number(json, "critical_rpm", r->critical_rpm);
    ew_json_number(json, "from_rpm", r->from_rpm);
    ew_json_number(json, "to_rpm", r->to_rpm);
    ew_json_boolean(json, "strong", r->strong);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

/* The gravest first. */
static void write_warnings(const struct ew_engine_check *check, enum ew_unit_system units,
                           struct ew_json *json) {
  ew_json_open_array(json, "warnings");
  for (int severity = EW_DANGER; severity >= EW_NOTE; severity--)
    for (guint i = 0; i < check->warnings->len; i++) {
      const ew_message *w = g_ptr_array_index(check->warnings, i);
      if ((int)ew_message_severity(w) != severity)
        continue;
      ew_json_open(json, NULL);
      ew_message_write_json(w, units, json);
      ew_json_close(json);
    }
  ew_json_close_array(json);
  ew_messages_write_json(check->left_out, "left_out", units, json);
}

void ew_engine_check_write_json(const struct ew_engine *engine, enum ew_unit_system units,
                                struct ew_json *json) {
  struct ew_engine_check *check = ew_engine_check_new(engine);
  ew_json_open(json, "engine");
  ew_engine_write_json(engine, json);
  ew_json_close(json);
  write_figures(check, json);
  write_events(check, json);
  write_clearance(check, json);
  write_clearance_parts(check->engine, json);
  ew_json_number(json, "contact_loss_speed_rpm",
                 fmin(check->contact_loss_rpm[0], check->contact_loss_rpm[1]));
  ew_json_text(json, "fuel_check",
               check->has_fuel_verdict ? ew_fuel_grade_name(check->fuel.grade) : NULL);
  write_torsion(check, json);
  write_flow(engine, json);
  write_curves(check, json);
  write_warnings(check, units, json);
  write_about(check, json);
  ew_engine_check_free(check);
}
