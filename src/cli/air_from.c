/* Ages in whole minutes: nobody reads a barometer to the second. */
#include "cli/air_from.h"
#include "base/language.h"
#include "base/words.h"
#include "cli/command.h"
#include <math.h>
#include <string.h>

char *ew_call_air_from(const char *from, const char *told, enum ew_told_fact fact) {
  g_autoptr(GArray) facts = strcmp(from, "set-up") == 0 ? ew_told_read(told) : NULL;
  const struct ew_told *one = facts ? ew_told_find(facts, fact) : NULL;
  double minutes = one && !isnan(one->age_s) ? round(one->age_s / 60) : 0;
  if (one && one->from == EW_FROM_STATION)
    return ew_words("the cell's weather station, read %.0f min before", minutes);
  if (one && one->from == EW_FROM_CARRIED && one->pull)
    return ew_words("said for pull %s, %.0f min before", one->pull, minutes);
  return g_strdup(ew_tr(from));
}

void ew_call_say_air(const struct ew_conditions *air, const char *told, enum ew_unit_system units) {
  int fine = units == EW_UNITS_US ? 3 : 2; /* inches of mercury are large */
  g_autofree char *pressure =
      ew_quantity_format(EW_KIND_PRESSURE_ABSOLUTE, units, air->pressure_pa, 2);
  g_autofree char *warm = ew_quantity_format(EW_KIND_TEMPERATURE, units, air->temperature_k, 2);
  g_autofree char *vapour =
      ew_quantity_format(EW_KIND_PRESSURE_ABSOLUTE, units, air->vapour_pa, fine);
  g_autofree char *of_pressure = ew_call_air_from(air->pressure_from, told, EW_TOLD_PRESSURE),
                  *of_air = ew_call_air_from(air->temperature_from, told, EW_TOLD_TEMPERATURE),
                  *of_vapour = ew_call_air_from(air->humidity_from, told, EW_TOLD_HUMIDITY);
  ew_say("   pressure %s (%s), temperature %s (%s), vapour %s (%s)", pressure, of_pressure, warm,
         of_air, vapour, of_vapour);
}
