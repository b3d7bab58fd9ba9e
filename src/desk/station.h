/* The cell's own weather station: what it read when a pull ran, from a recording of its own, imported as a file or taken live beside the
 * engine's.
 *
 * A recording is a station's when it has a barometer, or air temperature and moisture, and neither speed nor torque. Of each fact the last
 * reading at or before the pull counts, never one after it, so that a pull taken live and one imported a week later read the same.
 *
 *   fresh ----> older than the method's weather_age: silent, not used, said
 *     |
 *     +-------> nothing moved for two hours: frozen, not used, said
 *     |
 *     +-------> apart from what was typed or recorded with the pull: the pull is held (desk/doubt.h)
 *
 * Live rows are placed by when they were stored here, so that a station's own clock counts for nothing; a file's by its own clock, which is
 * refused where it runs ahead of the file's time stamp or of this machine (ew_station_check). Calibrations in force then are applied. */
#pragma once
#include "book/store.h"
#include "desk/loaded.h"
#include "pull/told.h"

#define EW_STATION_FACTS    3      /* EW_TOLD_PRESSURE, _TEMPERATURE, _HUMIDITY */
#define EW_STATION_FROZEN_S 7200.0 /* common practice, no source */

struct ew_station_fact {
  double read_s, value; /* Unix seconds; of the set-up's field; NaN: it has none */
  double
      u; /* standard uncertainty by its sensor's calibration, in told's unit; NaN: not calibrated */
  const char *
      field; /* of the set-up: "pressure", "temperature", "humidity", "dew_point", "wet_bulb"; static */
};
struct ew_station_at {
  struct ew_station_fact facts[EW_STATION_FACTS];
  gint64 recording; /* it comes from; 0: no station recorded within the day before */
  gboolean frozen;  /* its readings have not moved for EW_STATION_FROZEN_S */
};
/* Nothing known. */
struct ew_station_at ew_station_nothing(void);
/* At an instant; what is known within the day before it, however old: who asks judges its age. FALSE with *error. */
gboolean ew_station_at(const struct ew_desk *desk, double unix_s, struct ew_station_at *station,
                       GError **error);

/* May a live recording with these headings be one? */
gboolean ew_station_may_be(char *const *headings);
gboolean ew_series_is_station(const struct ew_series *series);
/* The channel map by which such a file is known as a station's from then on, YAML; NULL: it is not one, or `map` says so already. A
 * column that only a station calls so ("Temperature", "Pressure") is named in it. */
char *ew_station_map(const struct ew_series *series, const char *map);
/* When a station's file began: by its own clock or as it was said (`from`), or so that it ended at its time stamp. Refuses a file whose last
 * reading is still to come or lies after its time stamp, and one without any time. *doubt (or NULL): its clock may be an hour behind. */
gboolean ew_station_check(const struct ew_series *series, enum ew_told_from from, double stamp_s,
                          double now_s, const char *name, double *unix_s, ew_message **doubt,
                          GError **error);
