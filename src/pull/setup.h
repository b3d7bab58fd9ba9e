/* The set-up of a pull: everything adjustable at its time, and the weather where no channel gives it. */
#pragma once
#include "base/field.h"
#include "base/message.h"

struct ew_setup {
  double spark_deg, spark_measured_deg, lambda_target, main_jet_m, air_jet_m, float_level_m;
  double lash_inlet_m, lash_exhaust_m, plug_gap_m, oil_level_m3, fuel_density_kg_m3, limit_rpm;
  double pressure_pa, temperature_k, humidity, dew_point_k, wet_bulb_k, weather_age_s, rest_s;
  double spacer_m;
  char *jets, *advance_curve, *plugs, *oil, *fuel, *fuel_batch, *equipment, *header, *silencer,
      *air_cleaner, *parts;
  char *seen;   /* what was seen or heard afterwards, on a plug, in the filter: it ends a sweep */
  char *remark; /* anything else that somebody wants to note: it decides nothing */
};
extern const struct ew_fields ew_setup_fields;

/* Fields that describe conditions or remarks and not a deliberate change. */
gboolean ew_setup_is_condition(const struct ew_field *field);

/* What differs between two set-ups, a message for each field ("spark 28 deg → 30 deg"); conditions left out. */
GPtrArray *ew_setup_changes(const struct ew_setup *before, const struct ew_setup *after);
/* The same of one field of any record. */
ew_message *ew_field_change(const struct ew_field *field, const void *before, const void *after);
void ew_setup_defaults(struct ew_setup *setup);
void ew_setup_clear(struct ew_setup *setup);

/* Vapour pressure from whichever of humidity, dew point and wet bulb is given; NaN without any. */
double ew_setup_vapour_pa(const struct ew_setup *setup, double pressure_pa, double temperature_k);
