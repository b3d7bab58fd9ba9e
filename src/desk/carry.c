/* A reading is as old as the pull that it was said for first, however often it was carried on since: each pull's list
 * of facts (pull/told.h) keeps when. A pull of an earlier program has no such list: its weather is as old as itself. */
#include "desk/carry.h"
#include "base/zone.h"
#include "book/recompute.h"
#include "desk/add.h"
#include "pull/weather.h"
#include "desk/sets.h"
#include <math.h>
#include <string.h>

static const enum ew_told_fact facts[EW_CARRIED_FACTS] = {EW_TOLD_PRESSURE, EW_TOLD_TEMPERATURE,
                                                          EW_TOLD_HUMIDITY};

/* The fields of a set-up that say that fact. */
static const char *const *fields_of(enum ew_told_fact fact) {
  static const char *const pressure[] = {"pressure", NULL},
                           *const temperature[] = {"temperature", NULL},
                           *const humidity[] = {"humidity", "dew_point", "wet_bulb", NULL};
  return fact == EW_TOLD_PRESSURE ? pressure : fact == EW_TOLD_TEMPERATURE ? temperature : humidity;
}

static double *field_at(struct ew_setup *setup, const char *name) {
  g_assert(strcmp(name, "pressure") == 0 || strcmp(name, "temperature") == 0 ||
           strcmp(name, "humidity") == 0 || strcmp(name, "dew_point") == 0 ||
           strcmp(name, "wet_bulb") == 0);
  return strcmp(name, "pressure") == 0      ? &setup->pressure_pa
         : strcmp(name, "temperature") == 0 ? &setup->temperature_k
         : strcmp(name, "humidity") == 0    ? &setup->humidity
         : strcmp(name, "dew_point") == 0   ? &setup->dew_point_k
                                            : &setup->wet_bulb_k;
}

static gboolean sets_field(const char *const *sets, const char *name) {
  for (int i = 0; sets && sets[i]; i++) {
    g_autofree char *given = g_strndup(sets[i], strcspn(sets[i], "="));
    if (strcmp(g_strstrip(given), name) == 0)
      return TRUE;
  }
  return FALSE;
}

gboolean ew_sets_weather(const char *const *sets, enum ew_told_fact fact) {
  for (const char *const *name = fields_of(fact); *name; name++)
    if (sets_field(sets, *name))
      return TRUE;
  return FALSE;
}

static gboolean is_there(struct ew_setup *setup, enum ew_told_fact fact) {
  for (const char *const *name = fields_of(fact); *name; name++)
    if (!isnan(*field_at(setup, *name)))
      return TRUE;
  return FALSE;
}

static void forget(struct ew_setup *setup, enum ew_told_fact fact) {
  for (const char *const *name = fields_of(fact); *name; name++)
    *field_at(setup, *name) = NAN;
}

/* Of the pull before: what of its weather is there, and since when. */
static void take_before(const struct ew_pull_row *prior, struct ew_setup *setup,
                        struct ew_carried *carried) {
  g_assert(prior->id > 0);
  g_autoptr(GArray) told = ew_told_read(prior->told);
  double ran_s = ew_instant(prior->at);
  double stated_s = isnan(setup->weather_age_s) ? 0 : setup->weather_age_s;
  for (int i = 0; i < EW_CARRIED_FACTS; i++) {
    const struct ew_told *one = ew_told_find(told, facts[i]);
    gboolean here = is_there(setup, facts[i]);
    carried->facts[i] = (struct ew_carried_fact){.from = here ? EW_FROM_CARRIED : EW_FROM_UNKNOWN,
                                                 .read_s = ran_s - stated_s,
                                                 .pull = prior->id,
                                                 .old_s = NAN};
    if (here && one && one->at && !isnan(ew_instant(one->at)))
      carried->facts[i].read_s = ew_instant(one->at);
    if (here && one && one->pull)
      carried->facts[i].pull = g_ascii_strtoll(one->pull, NULL, 10);
  }
  setup->weather_age_s = NAN;
}

/* Humidity said in another way replaces the way of before. */
static void replace_now(const char *const *sets, struct ew_setup *setup,
                        struct ew_carried *carried) {
  for (int i = 0; i < EW_CARRIED_FACTS; i++)
    if (ew_sets_weather(sets, facts[i])) {
      forget(setup, facts[i]);
      carried->facts[i] = (struct ew_carried_fact){EW_FROM_TYPED, NAN, 0, NAN};
    }
}

/* Typed now: read now, or as long ago as was said with it. */
static void settle_ages(double unix_s, const struct ew_method *method, struct ew_setup *setup,
                        struct ew_carried *carried) {
  double oldest = setup->weather_age_s, stated = isnan(oldest) ? 0 : oldest;
  for (int i = 0; i < EW_CARRIED_FACTS; i++) {
    struct ew_carried_fact *f = &carried->facts[i];
    if (f->from == EW_FROM_TYPED)
      f->read_s = unix_s - stated;
    double age = unix_s - f->read_s;
    if (f->from == EW_FROM_STATION)
      oldest = fmax(oldest, age);
    if (f->from != EW_FROM_CARRIED)
      continue;
    if (age > method->weather_age_s || isnan(age)) {
      forget(setup, facts[i]);
      f->from = EW_FROM_UNKNOWN;
      f->old_s = age;
    } else
      oldest = fmax(oldest, age); /* of NaN and a figure: the figure */
  }
  setup->weather_age_s = oldest;
}

/* Typed now counts before it, unless it is `taken`; else the younger reading. */
static void take_station(gboolean taken, struct ew_setup *setup, struct ew_carried *carried) {
  for (int i = 0; i < EW_CARRIED_FACTS; i++) {
    const struct ew_station_fact *s = &carried->station.facts[i];
    struct ew_carried_fact *f = &carried->facts[i];
    gboolean older = f->from == EW_FROM_CARRIED && f->read_s > s->read_s;
    if (!carried->fresh[i] || (!taken && (f->from == EW_FROM_TYPED || older)))
      continue;
    forget(setup, facts[i]);
    *field_at(setup, s->field) = s->value;
    *f = (struct ew_carried_fact){EW_FROM_STATION, s->read_s, 0, NAN};
  }
}

/* What the station read, and how fresh it was. */
static void look_at_station(const struct ew_station_at *station, double unix_s,
                            const struct ew_method *method, struct ew_carried *carried) {
  double youngest = NAN;
  if (station)
    carried->station = *station;
  for (int i = 0; i < EW_CARRIED_FACTS; i++) {
    double age = unix_s - carried->station.facts[i].read_s;
    youngest = fmin(youngest, age); /* of NaN and a figure: the figure */
    carried->fresh[i] = age >= 0 && age <= method->weather_age_s && !carried->station.frozen;
  }
  if (youngest > method->weather_age_s)
    carried->silent_s = youngest;
}

static void begin(struct ew_carried *carried) {
  *carried = (struct ew_carried){.station = ew_station_nothing(), .silent_s = NAN};
  for (int i = 0; i < EW_CARRIED_FACTS; i++)
    carried->facts[i] = (struct ew_carried_fact){EW_FROM_UNKNOWN, NAN, 0, NAN};
}

gboolean ew_carry(const struct ew_pull_row *prior, const char *const *sets, double unix_s,
                  const struct ew_station_at *station, const struct ew_method *method,
                  struct ew_setup *setup, struct ew_carried *carried, GError **error) {
  begin(carried);
  look_at_station(station, unix_s, method, carried);
  ew_setup_defaults(setup);
  if (prior->id) {
    if (!ew_record_from_yaml(&ew_setup_fields, "set-up", prior->setup, setup, error))
      return FALSE;
    setup->rest_s = setup->spark_measured_deg = NAN;
    g_clear_pointer(&setup->seen, g_free);
    g_clear_pointer(&setup->remark, g_free);
    take_before(prior, setup, carried);
  }
  replace_now(sets, setup, carried);
  if (!ew_apply_sets(setup, sets, error))
    return FALSE;
  take_station(FALSE, setup, carried);
  settle_ages(unix_s, method, setup, carried);
  return TRUE;
}

/* ---- a kept pull told otherwise ---- */

/* As its list of facts says. */
static struct ew_carried_fact kept_fact(const struct ew_told *one, double unix_s, gboolean moved) {
  struct ew_carried_fact f = {one->from, NAN, 0, NAN};
  double age = isnan(one->age_s) ? 0 : one->age_s;
  f.read_s = one->from == EW_FROM_TYPED && moved ? unix_s - age : ew_instant(one->at);
  if (one->from == EW_FROM_CARRIED && one->pull)
    f.pull = g_ascii_strtoll(one->pull, NULL, 10);
  return f;
}

/* It was not said for this pull, which ran after another one than was thought: what that one knew. */
static void carry_one(const struct ew_pull_row *prior, int i, struct ew_setup *setup,
                      struct ew_carried *carried) {
  struct ew_setup before = {0};
  struct ew_carried of_before = {0};
  forget(setup, facts[i]);
  carried->facts[i] = (struct ew_carried_fact){EW_FROM_UNKNOWN, NAN, 0, NAN};
  if (!prior->id || !ew_record_from_yaml(&ew_setup_fields, "set-up", prior->setup, &before, NULL))
    return;
  take_before(prior, &before, &of_before);
  carried->facts[i] = of_before.facts[i];
  for (const char *const *name = fields_of(facts[i]); *name; name++)
    *field_at(setup, *name) = *field_at(&before, *name);
  ew_setup_clear(&before);
}

/* How old what is said now was when the pull ran: as it is said, else it was read for it. */
static double stated_age(const char *const *sets, const struct ew_setup *setup) {
  return sets_field(sets, "weather_age") && !isnan(setup->weather_age_s) ? setup->weather_age_s : 0;
}

/* What is said in this request stays said. */
static void take_station_again(const char *const *sets, gboolean taken, struct ew_setup *setup,
                               struct ew_carried *carried) {
  gboolean fresh[EW_CARRIED_FACTS];
  memcpy(fresh, carried->fresh, sizeof fresh);
  for (int i = 0; i < EW_CARRIED_FACTS; i++)
    carried->fresh[i] = fresh[i] && !ew_sets_weather(sets, facts[i]);
  take_station(taken, setup, carried);
  memcpy(carried->fresh, fresh, sizeof fresh);
}

void ew_carry_again(const struct ew_pull_row *prior, const GArray *told, const char *const *sets,
                    double unix_s, gboolean moved, const struct ew_station_at *station,
                    gboolean taken, const struct ew_method *method, struct ew_setup *setup,
                    struct ew_carried *carried) {
  double stated = stated_age(sets, setup), oldest = stated > 0 ? stated : (double)NAN;
  gboolean aged = sets_field(sets, "weather_age");
  begin(carried);
  look_at_station(station, unix_s, method, carried);
  for (int i = 0; i < EW_CARRIED_FACTS; i++) {
    const struct ew_told *one = ew_told_find(told, facts[i]);
    struct ew_carried_fact *f = &carried->facts[i];
    *f = one ? kept_fact(one, unix_s, moved)
             : (struct ew_carried_fact){EW_FROM_UNKNOWN, NAN, 0, NAN};
    if (ew_sets_weather(sets, facts[i]) || (aged && f->from == EW_FROM_TYPED))
      *f = (struct ew_carried_fact){EW_FROM_TYPED, unix_s - stated, 0, NAN};
    else if (one && moved &&
             (f->from == EW_FROM_CARRIED || f->from == EW_FROM_UNKNOWN ||
              f->from == EW_FROM_STATION))
      carry_one(prior, i, setup, carried);
  }
  if (moved || taken)
    take_station_again(sets, taken, setup, carried);
  for (int i = 0; i < EW_CARRIED_FACTS; i++) {
    struct ew_carried_fact *f = &carried->facts[i];
    double age = unix_s - f->read_s;
    if (f->from == EW_FROM_CARRIED && (age > method->weather_age_s || !(age >= 0))) {
      forget(setup, facts[i]);
      *f = (struct ew_carried_fact){EW_FROM_UNKNOWN, NAN, 0, age};
    } else if (f->from == EW_FROM_CARRIED || f->from == EW_FROM_STATION ||
               (f->from == EW_FROM_TYPED && age > 0))
      oldest = fmax(oldest, age); /* of NaN and a figure: the figure */
  }
  if (told->len || aged)
    setup->weather_age_s = oldest;
}

EW_MESSAGE(
    too_old, "desk.weather-too-old", EW_CAUTION,
    "the weather said for pull {pull} is {age} old and is not used: read it again and give it "
    "with --set pressure=..., temperature=..., humidity=...");

ew_message *ew_carried_too_old(const struct ew_carried *carried, gint64 pull) {
  double oldest = NAN;
  for (int i = 0; i < EW_CARRIED_FACTS; i++)
    oldest = fmax(oldest, carried->facts[i].old_s);
  return isnan(oldest) ? NULL
                       : ew_message(&too_old, ew_say_count("pull", pull),
                                    ew_say_quantity("age", EW_KIND_TIME, oldest, 0));
}

EW_MESSAGE(by_station, "desk.weather-by-station", EW_NOTE,
           "weather by the cell's own station, read at {time}");
EW_MESSAGE(
    station_silent, "desk.station-silent", EW_CAUTION,
    "the weather station's last reading is {age} old and is not used: does it still record?");
EW_MESSAGE(station_frozen, "desk.station-frozen", EW_CAUTION,
           "the weather station's readings have not moved for two hours and are not used: does it "
           "still measure?");

ew_message *ew_carried_station(const struct ew_carried *carried, GTimeZone *zone) {
  if (carried->station.recording && carried->station.frozen)
    return ew_message_plain(&station_frozen);
  for (int i = 0; zone && i < EW_CARRIED_FACTS; i++)
    if (carried->facts[i].from == EW_FROM_STATION) {
      g_autofree char *read = ew_instant_write(carried->facts[i].read_s);
      g_autofree char *shown = ew_zone_show(zone, read);
      return ew_message(&by_station, ew_say_text("time", shown));
    }
  return isnan(carried->silent_s)
             ? NULL
             : ew_message(&station_silent,
                          ew_say_quantity("age", EW_KIND_TIME, carried->silent_s, 0));
}

static double u_of(enum ew_told_fact fact, const struct ew_bench *bench, double age_s) {
  double age = isnan(age_s) ? 0 : age_s;
  return fact == EW_TOLD_PRESSURE
             ? hypot(bench->pressure_uncertainty_pa, EW_WEATHER_PRESSURE_PA_S * age)
         : fact == EW_TOLD_TEMPERATURE
             ? hypot(bench->temperature_uncertainty_k, EW_WEATHER_TEMPERATURE_K_S * age)
             : hypot(bench->humidity_uncertainty, EW_WEATHER_HUMIDITY_S * age);
}

/* By its age alone. */
static double moved_u(enum ew_told_fact fact, double age_s) {
  return age_s * (fact == EW_TOLD_PRESSURE      ? EW_WEATHER_PRESSURE_PA_S
                  : fact == EW_TOLD_TEMPERATURE ? EW_WEATHER_TEMPERATURE_K_S
                                                : EW_WEATHER_HUMIDITY_S);
}

/* In the order in which reducing takes the channels of one fact. */
static enum ew_told_from recorded_by(const struct ew_series *series, enum ew_told_fact fact) {
  static const enum ew_channel pressure[] = {EW_CHANNEL_BAROMETER, EW_CHANNELS_COUNT};
  static const enum ew_channel temperature[] = {EW_CHANNEL_INLET_AIR_TEMPERATURE,
                                                EW_CHANNELS_COUNT};
  static const enum ew_channel humidity[] = {EW_CHANNEL_VAPOUR_PRESSURE, EW_CHANNEL_DEW_POINT,
                                             EW_CHANNEL_HUMIDITY, EW_CHANNEL_WET_BULB,
                                             EW_CHANNELS_COUNT};
  const enum ew_channel *at = fact == EW_TOLD_PRESSURE      ? pressure
                              : fact == EW_TOLD_TEMPERATURE ? temperature
                                                            : humidity;
  for (; *at < EW_CHANNELS_COUNT; at++) {
    const struct ew_series_channel *one = ew_series_find(series, *at, 0);
    if (one)
      return one->of_station ? EW_FROM_STATION : EW_FROM_CHANNEL;
  }
  return EW_FROM_CHANNEL;
}

void ew_carried_told(const struct ew_carried *carried, const struct ew_curve *curve,
                     const struct ew_bench *bench, const struct ew_series *series, double unix_s,
                     GArray *told) {
  const struct ew_conditions *c = &curve->conditions;
  const char *const from[EW_CARRIED_FACTS] = {c->pressure_from, c->temperature_from,
                                              c->humidity_from};
  g_autofree char *now = ew_instant_write(unix_s);
  for (int i = 0; i < EW_CARRIED_FACTS; i++) {
    const struct ew_carried_fact *f = &carried->facts[i];
    if (strcmp(from[i], "channel") == 0) {
      ew_told_add(told, facts[i], recorded_by(series, facts[i]), now, NULL, 0,
                  u_of(facts[i], bench, 0));
      continue;
    }
    g_assert(from[i]);
    g_autofree char *read = isnan(f->read_s) ? NULL : ew_instant_write(f->read_s);
    g_autofree char *pull = f->pull && f->from == EW_FROM_CARRIED
                                ? g_strdup_printf("%" G_GINT64_FORMAT, f->pull)
                                : NULL;
    double age = unix_s - f->read_s;
    if (f->from == EW_FROM_UNKNOWN)
      ew_told_add(told, facts[i], EW_FROM_UNKNOWN, NULL, NULL, NAN, NAN);
    else
      ew_told_add(told, facts[i], f->from, read, pull, age,
                  f->from == EW_FROM_STATION && !isnan(carried->station.facts[i].u)
                      ? hypot(carried->station.facts[i].u, moved_u(facts[i], age))
                      : u_of(facts[i], bench, age));
  }
}
