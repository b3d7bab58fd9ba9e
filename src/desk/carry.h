/* What a pull takes over from the one before it: its set-up, without remarks; and its weather, as long as that holds. */
#pragma once
#include "book/store.h"
#include "desk/station.h"
#include "pull/method.h"
#include "pull/series.h"
#include "pull/told.h"

/* One fact of the weather: pressure, temperature, or humidity in whichever way it was said. */
struct ew_carried_fact {
  enum ew_told_from
      from; /* typed with this pull, the cell's own station's, carried, or unknown: none of them */
  double read_s; /* Unix seconds; NaN: not known */
  gint64 pull;   /* that it was said for first; 0: this one */
  double old_s;  /* it was there but too old to be carried: so old; NaN */
};
#define EW_CARRIED_FACTS 3 /* EW_TOLD_PRESSURE, _TEMPERATURE, _HUMIDITY */
struct ew_carried {
  struct ew_carried_fact facts[EW_CARRIED_FACTS];
  struct ew_station_at station;     /* what the cell's own weather station read, used or not */
  gboolean fresh[EW_CARRIED_FACTS]; /* it was young enough, and alive */
  double
      silent_s; /* its last reading was so old that none was used; NaN: it was not, or there is no station */
};

/* The set-up of a pull that runs at `unix_s`: of `prior` (id 0: there is none), changed by `sets` ("spark=30 deg",
 * NULL-terminated; may be NULL). Weather that was typed now counts; else the younger of the station's reading and what is carried. Weather of before is kept while it is not older than the method's weather_age, else
 * cleared; setup->weather_age_s is the oldest that is kept. */
gboolean ew_carry(const struct ew_pull_row *prior, const char *const *sets, double unix_s,
                  const struct ew_station_at *station, const struct ew_method *method,
                  struct ew_setup *setup, struct ew_carried *carried, GError **error);
/* The same of a pull that is kept, when something of it is stated otherwise: `sets` name what is said of its weather now (their values
 * stand in `setup` already), and it ran at `unix_s`, `moved` when that is not when it was thought to. What was said for it stays as
 * old as it was; what was carried from a pull before is as old as its reading, and is carried again, from `prior`, when it moved.
 * `station` (NULL: nothing is known): what the station read at that time; it is taken when the pull moves, or when it is asked for
 * (`taken`: then it goes before what was typed, too).
 * `told`: its facts so far; of an earlier program's pull, without any, nothing but what is said now is touched. */
void ew_carry_again(const struct ew_pull_row *prior, const GArray *told, const char *const *sets,
                    double unix_s, gboolean moved, const struct ew_station_at *station,
                    gboolean taken, const struct ew_method *method, struct ew_setup *setup,
                    struct ew_carried *carried);
/* Does one of them say something of the weather? */
gboolean ew_sets_weather(const char *const *sets, enum ew_told_fact fact);
/* What was there and is too old, as a message; NULL when nothing is. */
ew_message *ew_carried_too_old(const struct ew_carried *carried, gint64 pull);
/* What is to be said of the station's part in it, if anything: it was used, is silent, or frozen. */
ew_message *ew_carried_station(const struct ew_carried *carried, GTimeZone *zone);
/* The facts of the weather of a curve computed with it, into a list. What was recorded is the cell's own weather station's where the
 * recorder's profile says so of its column. */
void ew_carried_told(const struct ew_carried *carried, const struct ew_curve *curve,
                     const struct ew_bench *bench, const struct ew_series *series, double unix_s,
                     GArray *told);
