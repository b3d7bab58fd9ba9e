/* The field table of a set-up, what in it is weather and not set-up, and the changes between two in words. Unstated
 * is NaN or NULL, never a default that nobody set. */
#include "pull/setup.h"
#include "gas/moist_air.h"
#include <math.h>
#include <stddef.h>
#include <string.h>

#define AT(member) offsetof(struct ew_setup, member)
#define Q(field, unit, member, low, high)                                                          \
  .name = field, .type = EW_FIELD_QUANTITY, .kind = EW_KIND_##unit, .offset = AT(member),          \
  .minimum = low, .maximum = high
#define T(field, member) .name = field, .type = EW_FIELD_TEXT, .offset = AT(member)

static const struct ew_field fields[] = {
    {Q("spark", ANGLE, spark_deg, -30, 80),
     .help = "total advance commanded, before top dead centre"},
    {Q("spark_measured", ANGLE, spark_measured_deg, -30, 80),
     .help = "total advance seen with a timing light; not given means not checked"},
    {T("advance_curve", advance_curve), .help = "name of the advance curve"},
    {Q("lambda", LAMBDA, lambda_target, 0.5, 1.5), .help = "target mixture"},
    {T("jets", jets), .help = "jets by position"},
    {Q("main_jet", LENGTH, main_jet_m, 0.0003, 0.01), .help = "main jet bore"},
    {Q("air_jet", LENGTH, air_jet_m, 0.0003, 0.01), .help = "air corrector bore"},
    {Q("float_level", LENGTH, float_level_m, -0.1, 0.1), .help = "float level"},
    {Q("lash_inlet", LENGTH, lash_inlet_m, 0, 0.003), .help = "hot lash of the inlet valves"},
    {Q("lash_exhaust", LENGTH, lash_exhaust_m, 0, 0.003), .help = "hot lash of the exhaust valves"},
    {T("plugs", plugs), .help = "plugs fitted"},
    {Q("plug_gap", LENGTH, plug_gap_m, 0.0001, 0.003), .help = "plug gap"},
    {T("oil", oil), .help = "oil in the engine"},
    {Q("oil_level", VOLUME, oil_level_m3, -0.02, 0.02),
     .help = "oil above (+) or below (-) the mark"},
    {T("fuel", fuel), .help = "name of the fuel"},
    {T("fuel_batch", fuel_batch), .help = "drum or batch"},
    {Q("fuel_density", DENSITY, fuel_density_kg_m3, 500, 1300),
     .help = "density of the fuel at its temperature"},
    {T("equipment", equipment), .help = "equipment fitted and driven"},
    {T("header", header), .help = "header and collector"},
    {T("silencer", silencer), .help = "silencer"},
    {T("air_cleaner", air_cleaner), .help = "air cleaner or air horns"},
    {Q("spacer", LENGTH, spacer_m, 0, 0.2), .help = "spacer under carburettor or throttle"},
    {T("parts", parts), .help = "parts changed that no other field names"},
    {Q("limit", ROTATIONAL_SPEED, limit_rpm, 500, 25000), .help = "the rpm limit of this pull"},
    {Q("pressure", PRESSURE_ABSOLUTE, pressure_pa, 5e4, 108500),
     .help = "station pressure, read in the cell and not reduced to sea level"},
    {Q("temperature", TEMPERATURE, temperature_k, 230, 340), .help = "inlet air temperature"},
    {Q("humidity", RATIO, humidity, 0, 1), .help = "relative humidity of the inlet air"},
    {Q("dew_point", TEMPERATURE, dew_point_k, 220, 320), .help = "dew point"},
    {Q("wet_bulb", TEMPERATURE, wet_bulb_k, 273.15, 320), .help = "ventilated wet bulb"},
    {Q("weather_age", TIME, weather_age_s, 0, 1e7),
     .help = "how long before the pull this weather was read; leave it out when it was read for "
             "this pull"},
    {Q("rest", TIME, rest_s, 0, 1e6), .help = "time since the last pull ended"},
    {T("seen", seen),
     .help = "what was seen or heard afterwards: specks on a plug end a sweep and a step-up"},
    {T("remark", remark), .help = "anything else worth noting; it decides nothing"},
};
const struct ew_fields ew_setup_fields = {"a set-up", sizeof(struct ew_setup), fields,
                                          G_N_ELEMENTS(fields)};

gboolean ew_setup_is_condition(const struct ew_field *field) {
  static const char *const conditions[] = {
      "spark_measured", "limit", "pressure", "temperature", "humidity",     "dew_point",
      "wet_bulb",       "rest",  "seen",     "remark",      "fuel_density", "weather_age"};
  for (gsize i = 0; i < G_N_ELEMENTS(conditions); i++)
    if (strcmp(field->name, conditions[i]) == 0)
      return TRUE;
  return FALSE;
}

EW_MESSAGE(changed_field, "pull.changed-field", EW_NOTE, "{field} {before} → {after}");
EW_MESSAGE(not_stated, "pull.not-stated", EW_NOTE, "not stated");

/* As few as write this figure to a millionth: 28 deg, 0.88. */
static int decimals_of(double shown) {
  int decimals = 0;
  for (double scaled = shown; decimals < 4 && fabs(scaled - round(scaled)) > 1e-6 * fabs(scaled);
       decimals++)
    scaled *= 10;
  return decimals;
}

static struct ew_argument value_of(const char *name, const struct ew_field *field,
                                   const void *record, char **owned) {
  *owned = ew_field_typed(field, record);
  if (!*owned)
    return ew_say_word(name, &not_stated);
  if (field->type != EW_FIELD_QUANTITY)
    return field->type == EW_FIELD_CHOICE ? ew_say_term(name, *owned) : ew_say_text(name, *owned);
  double value = *(const double *)(const void *)((const char *)record + field->offset);
  return ew_say_quantity(name, field->kind, value,
                         decimals_of(ew_shown(field->kind, EW_UNITS_SI, value)));
}

ew_message *ew_field_change(const struct ew_field *field, const void *before, const void *after) {
  g_autofree char *one = NULL, *two = NULL;
  struct ew_argument from = value_of("before", field, before, &one);
  struct ew_argument to = value_of("after", field, after, &two);
  g_autofree char *name = g_strdelimit(g_strdup(field->name), "_", ' ');
  return ew_message_about(ew_message(&changed_field, ew_say_term("field", name), from, to),
                          field->name);
}

GPtrArray *ew_setup_changes(const struct ew_setup *before, const struct ew_setup *after) {
  GPtrArray *changes = ew_messages_new();
  for (gsize i = 0; i < G_N_ELEMENTS(fields); i++) {
    const struct ew_field *field = &fields[i];
    if (ew_setup_is_condition(field) || ew_field_same(field, before, after))
      continue;
    ew_messages_add(changes, ew_field_change(field, before, after));
  }
  return changes;
}

void ew_setup_defaults(struct ew_setup *setup) {
  *setup = (struct ew_setup){0};
  ew_fields_defaults(&ew_setup_fields, setup);
}

void ew_setup_clear(struct ew_setup *setup) {
  ew_fields_clear(&ew_setup_fields, setup);
}

double ew_setup_vapour_pa(const struct ew_setup *setup, double pressure_pa, double temperature_k) {
  if (!isnan(setup->humidity))
    return ew_vapour_from_relative_humidity_pa(setup->humidity, temperature_k);
  if (!isnan(setup->dew_point_k))
    return ew_vapour_from_dew_point_pa(setup->dew_point_k);
  if (!isnan(setup->wet_bulb_k))
    return ew_vapour_from_wet_bulb_pa(pressure_pa, temperature_k, setup->wet_bulb_k);
  return NAN;
}
