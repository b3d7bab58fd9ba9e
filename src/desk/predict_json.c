/* A prediction and a fit as JSON, for the command line and the page alike; the fit that the book keeps. */
#include "desk/predict.h"
#include "base/words.h"
#include "base/json_writer.h"
#include "book/keep.h"
#include "book/book.h"
#include <math.h>
#include <stddef.h>

static void write_array(struct ew_json *json, const char *key, const struct ew_cycle_result *r,
                        int n, gsize offset) {
  ew_json_open_array(json, key);
  for (int i = 0; i < n; i++)
    ew_json_number(json, NULL, *(const double *)(const void *)((const char *)&r[i] + offset));
  ew_json_close_array(json);
}

static const struct {
  const char *key;
  gsize offset;
} arrays[] = {
#define A(key, member)                                                                             \
  { key, offsetof(struct ew_cycle_result, member) }
    A("speed_rpm", speed_rpm),
    A("torque_n_m", torque_n_m),
    A("power_w", power_w),
    A("bmep_pa", bmep_pa),
    A("imep_pa", imep_pa),
    A("pmep_pa", pmep_pa),
    A("fmep_pa", fmep_pa),
    A("volumetric_efficiency", volumetric_efficiency),
    A("air_kg_s", air_kg_s),
    A("fuel_kg_s", fuel_kg_s),
    A("bsfc_kg_j", bsfc_kg_j),
    A("residual_fraction", residual_fraction),
    A("peak_pressure_pa", peak_pressure_pa),
    A("peak_deg", peak_deg),
    A("ca10_deg", ca10_deg),
    A("ca50_deg", ca50_deg),
    A("ca90_deg", ca90_deg),
    A("exhaust_k", exhaust_k),
    A("exhaust_reading_k", exhaust_reading_k),
    A("pressure_rise_pa_deg", pressure_rise_pa_deg),
    A("spark_deg", spark_deg),
    A("mbt_deg", mbt_deg),
    A("knock", knock),
    A("octane_needed", octane_needed),
    A("mass_residual", mass_residual),
    A("energy_residual", energy_residual),
    A("torque_residual", torque_residual),
#undef A
};

/* The energy sheet: shares of the fuel's heating value. */
static const struct {
  const char *key;
  gsize offset;
} energies[] = {
#define E(member)                                                                                  \
  { #member, offsetof(struct ew_cycle_result, energy.member) }
    E(brake), E(friction), E(pumping), E(walls), E(unburned), E(exhaust), E(unexplained),
#undef E
};

void ew_prediction_write_json(const struct ew_cycle_result *r, int n,
                              const struct ew_cycle_effort *effort, const GPtrArray *notes,
                              enum ew_unit_system units, struct ew_json *json) {
  for (gsize i = 0; i < G_N_ELEMENTS(arrays); i++)
    write_array(json, arrays[i].key, r, n, arrays[i].offset);
  ew_json_open(json, "energy");
  for (gsize i = 0; i < G_N_ELEMENTS(energies); i++)
    write_array(json, energies[i].key, r, n, energies[i].offset);
  ew_json_close(json);
  ew_json_open_array(json, "converged");
  for (int i = 0; i < n; i++)
    ew_json_boolean(json, NULL, r[i].converged);
  ew_json_close_array(json);
  ew_json_open_array(json, "cycles");
  for (int i = 0; i < n; i++)
    ew_json_integer(json, NULL, r[i].cycles);
  ew_json_close_array(json);
  ew_json_open_array(json, "knock_limited");
  for (int i = 0; i < n; i++)
    ew_json_boolean(json, NULL, r[i].knock_limited);
  ew_json_close_array(json);
  ew_json_open_array(json, "not_converged_because");
  for (int i = 0; i < n; i++) {
    g_autoptr(ew_message) why = ew_cycle_why_not(&r[i]);
    ew_message_write_member(why, NULL, units, json);
  }
  ew_json_close_array(json);
  ew_json_number(json, "wall_s", effort->wall_s);
  ew_json_text(json, "simd", effort->simd);
  ew_json_integer(json, "threads", effort->threads);
  ew_messages_write_json(notes, "assumed", units, json);
}

EW_MESSAGE(pattern_left, "desk.fit-pattern", EW_CAUTION,
           "what is left has a pattern over speed: a length, a cam or a flow figure in the file is "
           "wrong, and no knob can make up for it");
EW_MESSAGE(too_much_left, "desk.fit-too-much-left", EW_CAUTION,
           "{left} of torque is left over, more than the model is off by before any fit ({usual}): "
           "is this curve of this engine, at full load, in this air?");
EW_MESSAGE(shape_left, "desk.fit-shape", EW_CAUTION,
           "what these knobs cannot make: predicted is {low} against measured at {low_speed} and "
           "{high} at {high_speed}");
EW_MESSAGE(far_off, "desk.fit-far", EW_CAUTION,
           "{knob} came out at {factor}, farther from 1 than engines differ: it makes up for "
           "something else that the file has wrong or leaves out");
EW_MESSAGE(not_fixed, "desk.fit-not-fixed", EW_CAUTION,
           "the points do not fix {knob}: it stays as it was");

EW_MESSAGE(not_fixed_alone, "desk.fit-not-fixed-alone", EW_CAUTION,
           "the points fix {knob} only together with the others: the curve is met, but do not read "
           "{knob} by itself");

/* How far a factor may come out, as its logarithm: 0.67 to 1.5; silencers differ more, 0.37 to 2.7, and cams
 * less, 0.86 to 1.16. And what is left, relative, that is too
 * little to have a pattern worth reading. Rules of thumb, no source. */
#define FAR_LOG          0.4
#define FAR_SILENCER_LOG 1.0
#define FAR_DURATION_LOG 0.15
#define NOTHING_LEFT     0.005

/* Where the curve is missed most, on either side: which part of its shape is missing. */
static ew_message *shape_of(const struct ew_tuned *t) {
  int low = 0, high = 0;
  for (int i = 1; i < t->points; i++) {
    if (t->residual[i] < t->residual[low])
      low = i;
    if (t->residual[i] > t->residual[high])
      high = i;
  }
  return ew_message(&shape_left, ew_say_share("low", t->residual[low], 1),
                    ew_say_quantity("low_speed", EW_KIND_ROTATIONAL_SPEED, t->speed_rpm[low], 0),
                    ew_say_share("high", t->residual[high], 1),
                    ew_say_quantity("high_speed", EW_KIND_ROTATIONAL_SPEED, t->speed_rpm[high], 0));
}

static double far_log(int knob) {
  const char *name = ew_tune_names[knob];
  if (strcmp(name, "back_pressure") == 0)
    return FAR_SILENCER_LOG;
  return strcmp(name, "duration") == 0 ? FAR_DURATION_LOG : FAR_LOG;
}

GPtrArray *ew_tuned_cautions(const struct ew_tuned *t) {
  GPtrArray *cautions = ew_messages_new();
  if (!(t->error_after <= EW_TUNED_LEFT_MOST)) {
    ew_messages_add(cautions, ew_message(&too_much_left, ew_say_share("left", t->error_after, 1),
                                         ew_say_share("usual", EW_TUNED_LEFT_MOST, 0)));
    if (t->points > 1)
      ew_messages_add(cautions, shape_of(t));
  }
  if (t->pattern > 0.5 && !(t->error_after <= NOTHING_LEFT))
    ew_messages_add(cautions, ew_message_plain(&pattern_left));
  for (int k = 0; k < EW_TUNE_COUNT; k++) {
    struct ew_tune tune = t->tune;
    double factor = *ew_tune_factor(&tune, k);
    if (!isnan(*ew_tune_uncertainty(&tune, k)) && !(fabs(log(factor)) <= far_log(k)))
      ew_messages_add(cautions, ew_message(&far_off, ew_say_text("knob", ew_tune_names[k]),
                                           ew_say_figure("factor", factor, 2)));
  }
  for (int k = 0; k < EW_TUNE_COUNT; k++)
    if (t->loose & (1u << k)) {
      struct ew_tune tune = t->tune;
      gboolean turned = !isnan(*ew_tune_uncertainty(&tune, k));
      ew_messages_add(cautions, ew_message(turned ? &not_fixed_alone : &not_fixed,
                                           ew_say_text("knob", ew_tune_names[k])));
    }
  return cautions;
}

void ew_tuned_write_json(const struct ew_tuned *t, const double *speed_rpm,
                         const double *torque_n_m, struct ew_json *json) {
  ew_json_open(json, "tune");
  ew_fields_write_json(&ew_tune_fields, &t->tune, json);
  ew_json_close(json);
  ew_json_numbers(json, "speed_rpm", speed_rpm, (gsize)t->points);
  ew_json_numbers(json, "measured_torque_n_m", torque_n_m, (gsize)t->points);
  ew_json_numbers(json, "relative_residual", t->residual, (gsize)t->points);
  ew_json_number(json, "relative_error_before", t->error_before);
  ew_json_number(json, "relative_error_after", t->error_after);
  ew_json_number(json, "relative_worst_after", t->worst_after);
  ew_json_number(json, "residual_correlation", t->pattern);
  g_autoptr(GPtrArray) cautions = ew_tuned_cautions(t);
  ew_messages_write_json(cautions, "cautions", EW_UNITS_SI, json);
  ew_json_open_array(json, "not_fixed");
  for (int k = 0; k < EW_TUNE_COUNT; k++)
    if (t->loose & (1u << k))
      ew_json_text(json, NULL, ew_tune_names[k]);
  ew_json_close_array(json);
  ew_json_integer(json, "evaluations", t->evaluations);
}

static char *key_of_kept(gint64 engine) {
  return g_strdup_printf("tune %" G_GINT64_FORMAT, engine);
}

gboolean ew_tune_kept(struct ew_book *book, gint64 engine, struct ew_tune *tune, gboolean *found,
                      GError **error) {
  g_autofree char *key = key_of_kept(engine);
  g_autofree char *yaml = NULL;
  *found = FALSE;
  if (!ew_setting_get(book, key, &yaml, error))
    return FALSE;
  ew_fields_defaults(&ew_tune_fields, tune);
  *found = yaml && *yaml;
  return !*found || ew_record_from_yaml(&ew_tune_fields, "the kept tune", yaml, tune, error);
}

gboolean ew_tune_keep(struct ew_book *book, gint64 engine, const struct ew_tune *tune,
                      GError **error) {
  g_autofree char *key = key_of_kept(engine);
  g_autofree char *yaml = tune ? ew_fields_write_yaml(&ew_tune_fields, tune) : g_strdup("");
  return ew_keep_setting(book, key, yaml, error);
}
