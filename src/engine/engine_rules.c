/* Figures that contradict each other. Each rule names both sides and what to do; a rule is satisfied
 * when one of its figures is missing. Tolerances allow for the rounding of published figures. */
#include "engine/engine.h"
#include "base/error.h"
#include <math.h>

/* Published displacements are rounded to a tenth of a litre and to classes; beyond this, one of the
 * figures is another engine's. Between 2 % and this, the check says so. */
#define DISPLACEMENT_TOLERANCE 0.04

typedef gboolean rule(const struct ew_engine *engine, const char *where, GError **error);

static gboolean sizes_agree(const struct ew_engine *engine, const char *where, GError **error) {
  double computed =
      G_PI / 4 * engine->bore_m * engine->bore_m * engine->stroke_m * engine->cylinders;
  if (isnan(computed) || isnan(engine->displacement_stated_m3) ||
      fabs(computed / engine->displacement_stated_m3 - 1) < DISPLACEMENT_TOLERANCE)
    return TRUE;
  return ew_refuse(error,
                   "%s: displacement %.1f cc contradicts bore, stroke and cylinders, which give "
                   "%.1f cc: correct one of them or leave displacement out",
                   where, engine->displacement_stated_m3 * 1e6, computed * 1e6);
}

static gboolean rod_clears_crank(const struct ew_engine *engine, const char *where,
                                 GError **error) {
  double rod = engine->geometry.rod_length_m;
  double needed = engine->stroke_m / 2 + fabs(engine->geometry.pin_offset_m);
  if (isnan(rod) || isnan(needed) || rod > needed * 1.05)
    return TRUE;
  return ew_refuse(
      error,
      "%s: rod_length %.1f mm is too short for a stroke of %.1f mm: it must be longer than "
      "half the stroke and the pin offset together; give it centre to centre",
      where, rod * 1e3, engine->stroke_m * 1e3);
}

static gboolean has_length(const GArray *list, guint want, const char *name, const char *where,
                           GError **error) {
  if (!list || list->len == want)
    return TRUE;
  return ew_refuse(error, "%s: %s has %u values, the engine %u cylinders: give one for each", where,
                   name, list->len, want);
}

static gboolean lists_fit(const struct ew_engine *engine, const char *where, GError **error) {
  guint cylinders = (guint)engine->cylinders;
  const struct ew_engine_geometry *g = &engine->geometry;
  return has_length(engine->compression.chambers, cylinders, "compression: chambers", where,
                    error) &&
         has_length(g->firing_order, cylinders, "geometry: firing_order", where, error) &&
         has_length(g->firing_angles, cylinders, "geometry: firing_angles", where, error) &&
         has_length(g->banks, cylinders, "geometry: banks", where, error);
}

static gboolean order_names_each_once(const struct ew_engine *engine, const char *where,
                                      GError **error) {
  const GArray *order = engine->geometry.firing_order;
  guint seen = 0;
  for (guint i = 0; order && i < order->len; i++) {
    double number = g_array_index(order, double, i);
    guint bit = number >= 1 && number <= engine->cylinders ? 1u << (guint)number : 0;
    if (number != floor(number) || !bit || seen & bit)
      return ew_refuse(
          error,
          "%s: firing_order must name each cylinder from 1 to %d once; '%g' is given twice "
          "or is not one of them",
          where, engine->cylinders, number);
    seen |= bit;
  }
  return TRUE;
}

static gboolean order_needs(const struct ew_engine *engine, const char *where, GError **error) {
  if (!engine->geometry.firing_angles || engine->geometry.firing_order)
    return TRUE;
  return ew_refuse(error, "%s: firing_angles are given without firing_order: give both", where);
}

static gboolean gasket_covers_bore(const struct ew_engine *engine, const char *where,
                                   GError **error) {
  double gasket = engine->compression.gasket_bore_m;
  if (isnan(gasket) || isnan(engine->bore_m) || gasket >= engine->bore_m)
    return TRUE;
  return ew_refuse(error,
                   "%s: gasket_bore %.2f mm is smaller than bore %.2f mm and would hang into the "
                   "cylinder: correct one of them",
                   where, gasket * 1e3, engine->bore_m * 1e3);
}

static gboolean agree(double a, double b, double tolerance) {
  return isnan(a) || isnan(b) || fabs(a - b) <= tolerance;
}

static gboolean centrelines_agree(const struct ew_engine *engine, const char *where,
                                  GError **error) {
  const struct ew_engine_cam *cam = &engine->cam;
  double separation = (cam->inlet_centreline_deg + cam->exhaust_centreline_deg) / 2;
  double advance = cam->lobe_separation_deg - cam->inlet_centreline_deg;
  if (!agree(separation, cam->lobe_separation_deg, 0.5))
    return ew_refuse(error,
                     "%s: lobe_separation %.1f deg contradicts the centrelines, whose mean is "
                     "%.1f deg: correct one or leave it out",
                     where, cam->lobe_separation_deg, separation);
  if (!agree(advance, cam->advance_deg, 0.5))
    return ew_refuse(error,
                     "%s: advance %.1f deg contradicts lobe_separation less inlet_centreline, "
                     "%.1f deg: correct one or leave it out",
                     where, cam->advance_deg, advance);
  return TRUE;
}

static gboolean side_agrees(const struct ew_engine_valves *v, const char *side, const char *where,
                            GError **error) {
  double gross = v->lobe_lift_m * v->rocker_ratio;
  double span = v->opens_deg + 180 + v->closes_deg;
  double open_force =
      v->spring_force_n +
      v->spring_rate_n_m * (isnan(gross) ? v->gross_lift_m - v->lash_m : gross - v->lash_m);
  if (!agree(gross / v->gross_lift_m, 1, 0.02))
    return ew_refuse(error,
                     "%s, %s: gross_lift %.2f mm contradicts lobe_lift times rocker_ratio, %.2f "
                     "mm: correct one or leave it out",
                     where, side, v->gross_lift_m * 1e3, gross * 1e3);
  if (!agree(span, v->check_duration_deg, 1))
    return ew_refuse(error,
                     "%s, %s: check_duration %.1f deg contradicts the events, which last %.1f deg: "
                     "correct one or leave it out",
                     where, side, v->check_duration_deg, span);
  if (v->check_lift_m > v->duration_lift_m && v->check_duration_deg >= v->duration_deg)
    return ew_refuse(error,
                     "%s, %s: check_duration %.1f deg at the higher lift can't be longer than "
                     "duration %.1f deg: they may have been swapped",
                     where, side, v->check_duration_deg, v->duration_deg);
  if (v->throat_diameter_m > v->head_diameter_m || v->stem_diameter_m > v->throat_diameter_m)
    return ew_refuse(
        error, "%s, %s: stem_diameter, throat_diameter and head_diameter must grow in that order",
        where, side);
  if (!agree(open_force / v->spring_open_force_n, 1, 0.15))
    return ew_refuse(error,
                     "%s, %s: spring_open_force %.0f N contradicts spring_force and spring_rate, "
                     "which give %.0f N: correct one of them",
                     where, side, v->spring_open_force_n, open_force);
  if (v->spring_bind_m >= v->spring_height_m)
    return ew_refuse(error, "%s, %s: spring_bind %.1f mm is not below spring_height %.1f mm", where,
                     side, v->spring_bind_m * 1e3, v->spring_height_m * 1e3);
  return TRUE;
}

static gboolean rises(const GArray *list) {
  for (guint i = 1; list && i < list->len; i++)
    if (!(g_array_index(list, double, i) > g_array_index(list, double, i - 1)))
      return FALSE;
  return TRUE;
}

static gboolean pairs_fit(const GArray *a, const char *a_name, const GArray *b, const char *b_name,
                          const char *side, const char *where, GError **error) {
  if (!a && !b)
    return TRUE;
  if (!a || !b || a->len != b->len)
    return ew_refuse(error,
                     "%s, %s: %s and %s go in pairs, one value for each: %u and %u are given",
                     where, side, a_name, b_name, a ? a->len : 0, b ? b->len : 0);
  if (!rises(a))
    return ew_refuse(error, "%s, %s: %s must rise from value to value", where, side, a_name);
  return TRUE;
}

static gboolean side_lists(const struct ew_engine_valves *v, const char *side, const char *where,
                           GError **error) {
  if (!pairs_fit(v->flow_lifts, "flow_lifts", v->flows, "flows", side, where, error) ||
      !pairs_fit(v->lobe_angles, "lobe_angles", v->lobe_readings, "lobe_readings", side, where,
                 error))
    return FALSE;
  if (v->flows && isnan(v->flow_depression_pa))
    return ew_refuse(error, "%s, %s: flows mean nothing without flow_depression, such as 7 kPa",
                     where, side);
  return TRUE;
}

static gboolean valves_agree(const struct ew_engine *engine, const char *where, GError **error) {
  return side_agrees(&engine->inlet, "inlet", where, error) &&
         side_agrees(&engine->exhaust, "exhaust", where, error) &&
         side_lists(&engine->inlet, "inlet", where, error) &&
         side_lists(&engine->exhaust, "exhaust", where, error);
}

gboolean ew_engine_agrees(const struct ew_engine *engine, const char *where, GError **error) {
  static rule *const rules[] = {sizes_agree,           rod_clears_crank, lists_fit,
                                order_names_each_once, order_needs,      gasket_covers_bore,
                                centrelines_agree,     valves_agree};
  for (gsize i = 0; i < G_N_ELEMENTS(rules); i++)
    if (!rules[i](engine, where, error))
      return FALSE;
  return TRUE;
}
