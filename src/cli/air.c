/* air factor, standards, site: what the air does to a figure. */
#include "base/number.h"
#include "cli/command.h"
#include "gas/moist_air.h"
#include "gas/standard_atmosphere.h"
#include "pull/site_adjust.h"
#include <math.h>
#include <string.h>

static const struct ew_option_spec factor_options[] = {
    {"standard", EW_TEXT("NAME"),
     EW_TEXT("correction factor ('air standards' lists them); sae, std, din, jis and observed are "
             "understood too"),
     FALSE},
    {"pressure", "Q", EW_TEXT("station pressure, not reduced to sea level"), FALSE},
    {"temperature", "Q", EW_TEXT("inlet air"), FALSE},
    {"humidity", "Q", EW_TEXT("relative humidity"), FALSE},
    {"dew-point", "Q", EW_TEXT("dew point"), FALSE},
    {"wet-bulb", "Q", EW_TEXT("ventilated wet bulb"), FALSE},
    {"charging", EW_TEXT("HOW"),
     EW_TEXT("natural, mechanical, turbo, turbo-liquid, turbo-r85, compensated"), FALSE},
    {"fuel-parameter", "N",
     EW_TEXT("for iso1585ci: mg of fuel a litre and cycle, over the pressure ratio"), FALSE},
    {NULL, NULL, NULL, FALSE},
};

/* Vapour pressure from whichever humidity is given; NaN without any. */
static gboolean read_humidity(const struct ew_call *call, double pressure, double temperature,
                              double *vapour, GError **error) {
  double humidity, dew, wet;
  if (!ew_call_quantity(call, "humidity", EW_KIND_RATIO, NAN, &humidity, error) ||
      !ew_call_quantity(call, "dew-point", EW_KIND_TEMPERATURE, NAN, &dew, error) ||
      !ew_call_quantity(call, "wet-bulb", EW_KIND_TEMPERATURE, NAN, &wet, error))
    return FALSE;
  int given = !isnan(humidity) + !isnan(dew) + !isnan(wet);
  if (given > 1)
    return ew_refuse(error, "give only one of --humidity, --dew-point and --wet-bulb");
  if (humidity > 1 || humidity < 0)
    return ew_refuse(error, "--humidity: %.0f %% is outside 0 to 100 %%", 100 * humidity);
  if (dew > temperature + 0.05 || wet > temperature + 0.05)
    return isnan(dew) ? ew_refuse(error, "--wet-bulb cannot be above the air temperature")
                      : ew_refuse(error, "--dew-point cannot be above the air temperature");
  *vapour = !isnan(humidity) ? ew_vapour_from_relative_humidity_pa(humidity, temperature)
            : !isnan(dew)    ? ew_vapour_from_dew_point_pa(dew)
            : !isnan(wet)    ? ew_vapour_from_wet_bulb_pa(pressure, temperature, wet)
                             : (double)NAN;
  return *vapour >= 0 || isnan(*vapour) ||
         ew_refuse(error, "--wet-bulb: too far below the air temperature to be real; is the wick "
                          "wet and ventilated?");
}

static gboolean read_air(const struct ew_call *call, struct ew_air *air, GError **error) {
  *air = (struct ew_air){.fuel_mg_per_l_cycle = NAN};
  if (!ew_call_has(call, "pressure") || !ew_call_has(call, "temperature"))
    return ew_refuse(error, "--pressure and --temperature are needed, for example --pressure \"985 "
                            "hPa\" --temperature \"25 degC\"");
  if (!ew_call_quantity(call, "pressure", EW_KIND_PRESSURE_ABSOLUTE, NAN, &air->pressure_pa,
                        error) ||
      !ew_call_quantity(call, "temperature", EW_KIND_TEMPERATURE, NAN, &air->temperature_k,
                        error) ||
      !ew_call_quantity(call, "fuel-parameter", EW_KIND_NUMBER, NAN, &air->fuel_mg_per_l_cycle,
                        error))
    return FALSE;
  if (air->pressure_pa < 5e4 || air->pressure_pa > 108500)
    return ew_refuse(error,
                     "--pressure: %.1f hPa is outside 500 to 1085 hPa, which no weather station "
                     "reads; was it read in the cell?",
                     air->pressure_pa / 100);
  if (air->temperature_k < 230 || air->temperature_k > 340)
    return ew_refuse(error, "--temperature: %.1f °C is outside -43 to 67 °C",
                     air->temperature_k - 273.15);
  return read_humidity(call, air->pressure_pa, air->temperature_k, &air->vapour_pa, error);
}

static void say_factor(enum ew_standard standard, struct ew_air air, struct ew_factor f, double u,
                       double density) {
  ew_say("%.4f ± %.4f   %s (%s)", f.factor, 2 * u, ew_tr(ew_standard_titles[standard]),
         ew_tr(ew_standard_references[standard]));
  if (isnan(air.vapour_pa))
    ew_say("dry pressure %.2f hPa, humidity not given", f.dry_pressure_pa / 100);
  else
    ew_say("dry pressure %.2f hPa, vapour %.2f hPa (relative humidity %.0f %%, dew point %.1f °C)",
           f.dry_pressure_pa / 100, air.vapour_pa / 100,
           100 * air.vapour_pa / ew_saturation_pressure_pa(air.temperature_k),
           ew_dew_point_k(air.vapour_pa) - 273.15);
  ew_say("air density %.4f kg/m3, density altitude %.0f m (no power factor)", density,
         ew_density_altitude_m(density));
  if (f.why_not)
    ew_say("caution: %s", ew_tr(f.why_not->text));
  ew_say("uncertainty (k = 2) for a barometer to 1 hPa, 0.5 K and 3 %% of humidity (standard)");
}

static gboolean run_factor(const struct ew_call *call, GError **error) {
  enum ew_standard standard = EW_STANDARD_J1349;
  const char *name = ew_call_option(call, "standard"), *how = ew_call_option(call, "charging");
  if (name && !ew_standard_find(name, &standard))
    return ew_refuse(error, "--standard '%s' is not known; 'enginewright air standards' lists them",
                     name);
  int charging = 0;
  while (how && ew_charging_keys[charging] && strcmp(ew_charging_keys[charging], how))
    charging++;
  if (!ew_charging_keys[charging])
    return ew_refuse(error,
                     "--charging '%s' is not one of natural, mechanical, turbo, turbo-liquid, "
                     "turbo-r85, compensated",
                     how);
  struct ew_air air;
  if (!read_air(call, &air, error))
    return FALSE;
  if (standard == EW_STANDARD_ISO1585_CI && isnan(air.fuel_mg_per_l_cycle) &&
      charging != EW_COMPENSATED)
    return ew_refuse(error, "--fuel-parameter is needed for iso1585ci: mg of fuel a litre and "
                            "cycle, over the pressure ratio");
  struct ew_factor f = ew_correction_factor(standard, (enum ew_charging)charging, air);
  double u = ew_factor_uncertainty(standard, (enum ew_charging)charging, air, 100, 0.5, 0.03);
  double density = ew_moist_air_density_kg_m3(air.pressure_pa, air.temperature_k,
                                              isnan(air.vapour_pa) ? 0 : air.vapour_pa);
  if (!call->json) {
    say_factor(standard, air, f, u, density);
    return TRUE;
  }
  struct ew_json json = ew_answer_begin();
  ew_json_text(&json, "standard", ew_standard_keys[standard]);
  ew_json_text(&json, "title", ew_standard_titles[standard]);
  ew_json_number(&json, "factor", f.factor);
  ew_json_number(&json, "factor_standard_uncertainty", u);
  ew_json_number(&json, "pressure_pa", air.pressure_pa);
  ew_json_number(&json, "temperature_k", air.temperature_k);
  ew_json_number(&json, "dry_pressure_pa", f.dry_pressure_pa);
  ew_json_number(&json, "vapour_pressure_pa", air.vapour_pa);
  ew_json_number(&json, "density_kg_m3", density);
  ew_json_number(&json, "density_altitude_m", ew_density_altitude_m(density));
  ew_json_boolean(&json, "in_range", f.in_range);
  g_autoptr(ew_message) why = f.why_not ? ew_message_plain(f.why_not) : NULL;
  ew_message_write_member(why, "out_of_range_because", EW_UNITS_SI, &json);
  ew_answer_end(&json);
  return TRUE;
}
const struct ew_command ew_command_air_factor = {
    .name = "air factor",
    .summary = EW_TEXT("A correction factor to standard air, with its validity and uncertainty"),
    .takes = "",
    .options = factor_options,
    .run = run_factor,
    .examples = "air factor --standard j1349 --pressure \"985 hPa\" --temperature \"35 degC\" "
                "--humidity \"60 %\"\n"
                "air factor --standard std --pressure \"29.1 inHg\" --temperature \"77 degF\" "
                "--dew-point \"55 degF\"",
    .more = EW_TEXT("Give the station pressure as the barometer in the cell reads it. A weather "
                    "service's figure reduced to sea\nlevel is something else and can be 20 % "
                    "wrong in the mountains. A factor applies to full throttle, once.")};

static gboolean run_standards(const struct ew_call *call, GError **error) {
  (void)error;
  static const char *const pressures[] = {
#define X(id, key, title, reference, pressure) pressure,
      EW_STANDARDS(X)
#undef X
  };
  struct ew_json json = {0};
  if (call->json) {
    json = ew_answer_begin();
    ew_json_open_array(&json, "standards");
  }
  for (int i = 0; i < EW_STANDARDS_COUNT; i++) {
    if (!call->json) {
      ew_say("%-10s %-62s %s; %s pressure", ew_standard_keys[i], ew_tr(ew_standard_titles[i]),
             ew_tr(ew_standard_references[i]), ew_tr(pressures[i]));
      continue;
    }
    ew_json_open(&json, NULL);
    ew_json_text(&json, "name", ew_standard_keys[i]);
    ew_json_text(&json, "title", ew_standard_titles[i]);
    ew_json_text(&json, "reference", ew_standard_references[i]);
    ew_json_text(&json, "pressure", pressures[i]);
    ew_json_close(&json);
  }
  if (call->json) {
    ew_json_close_array(&json);
    ew_answer_end(&json);
  }
  return TRUE;
}
const struct ew_command ew_command_air_standards = {
    .name = "air standards",
    .summary = EW_TEXT("The correction factors that this program knows"),
    .takes = "",
    .run = run_standards,
    .examples = "air standards"};

static const struct ew_option_spec site_options[] = {
    {"engine", EW_TEXT("KIND"),
     EW_TEXT("diesel-air, diesel-heat, diesel-turbo, diesel-cooled, spark"), FALSE},
    {"pressure", "Q", EW_TEXT("site pressure"), FALSE},
    {"temperature", "Q", EW_TEXT("site air temperature"), FALSE},
    {"humidity", "Q", EW_TEXT("site relative humidity"), FALSE},
    {"coolant", "Q", EW_TEXT("charge coolant temperature, for diesel-cooled"), FALSE},
    {"efficiency", "Q", EW_TEXT("mechanical efficiency (80 %)"), FALSE},
    {NULL, NULL, NULL, FALSE},
};

static gboolean run_site(const struct ew_call *call, GError **error) {
  const char *kind = ew_call_option(call, "engine");
  int engine = 0;
  while (kind && ew_site_engine_keys[engine] && strcmp(ew_site_engine_keys[engine], kind))
    engine++;
  if (!kind || !ew_site_engine_keys[engine])
    return ew_refuse(
        error,
        "--engine '%s' is not one of diesel-air, diesel-heat, diesel-turbo, diesel-cooled, spark",
        kind ? kind : "");
  struct ew_site site;
  struct ew_air air;
  if (!read_air(call, &air, error) ||
      !ew_call_quantity(call, "humidity", EW_KIND_RATIO, 0.3, &site.relative_humidity, error) ||
      !ew_call_quantity(call, "coolant", EW_KIND_TEMPERATURE, NAN, &site.coolant_k, error) ||
      !ew_call_quantity(call, "efficiency", EW_KIND_RATIO, 0.8, &site.mechanical_efficiency, error))
    return FALSE;
  if (!(site.mechanical_efficiency > 0.3 && site.mechanical_efficiency <= 1))
    return ew_refuse(error, "--efficiency: %.2f is outside 30 to 100 %%",
                     site.mechanical_efficiency);
  site.pressure_pa = air.pressure_pa;
  site.temperature_k = air.temperature_k;
  struct ew_site_adjustment a = ew_site_adjust((enum ew_site_engine)engine, site);
  if (!call->json) {
    ew_say("power at the site is %.4f of the power at reference conditions; fuel per power is %.4f",
           a.power_ratio, a.consumption_ratio);
    ew_say("after ISO 3046-1 (from memory): from 100 kPa, 25 °C, 30 %%. This works the opposite "
           "way from a dyno factor.");
    return TRUE;
  }
  struct ew_json json = ew_answer_begin();
  ew_json_number(&json, "k", a.k);
  ew_json_number(&json, "power_ratio", a.power_ratio);
  ew_json_number(&json, "fuel_ratio", a.consumption_ratio);
  ew_answer_end(&json);
  return TRUE;
}
const struct ew_command ew_command_air_site = {
    .name = "air site",
    .summary = EW_TEXT("Power at a site from power at reference conditions, after ISO 3046-1"),
    .takes = "",
    .options = site_options,
    .run = run_site,
    .examples = "air site --engine spark --pressure \"93 kPa\" --temperature \"308 K\" --humidity "
                "\"50 %\""};
