/* The same bits as of a pull that was told so from the start are the aim: the steps are those of desk/add.c. */
#include "desk/amend_told.h"
#include "base/error.h"
#include "base/zone.h"
#include "book/keep.h"
#include "desk/calibrated.h"
#include <math.h>
#include <string.h>

EW_MESSAGE(run_was, "desk.amend-run", EW_NOTE, "run: {before} → {after}");
EW_MESSAGE(mounting_was, "desk.amend-mounting", EW_NOTE, "mounting: {before} → {after}");
EW_MESSAGE(calibration_now, "desk.amend-calibration", EW_NOTE,
           "calibration: the one in force at that time");
EW_MESSAGE(calibration_of, "desk.amend-calibration-number", EW_NOTE,
           "calibration: number {number} of the cell's");
EW_MESSAGE(calibration_none, "desk.amend-calibration-none", EW_NOTE,
           "calibration: none was in force at that time");

static gboolean has_moved(const struct ew_pull_row *was, const struct ew_recomputed *a) {
  return g_strcmp0(was->at, a->pull.at) != 0;
}

static gboolean is_another_engine(const struct ew_pull_row *was, const struct ew_recomputed *a) {
  gint64 before = was->engine_id;
  return before != a->pull.engine_id;
}

static gboolean is_any_fresh(const struct ew_carried *carried) {
  gboolean any = FALSE;
  for (int i = 0; i < EW_CARRIED_FACTS; i++)
    any |= carried->fresh[i];
  return any;
}

static gboolean settle_weather(const struct ew_desk *desk, const struct ew_amend_ask *ask,
                               const struct ew_amend_rows *rows, const struct ew_pull_row *was,
                               struct ew_recomputed *a, struct ew_carried *carried,
                               GPtrArray *changes, GError **error) {
  static const struct ew_pull_row none = {0};
  double at_s = ew_instant(a->pull.at);
  const struct ew_pull_row *prior = ew_amend_prior(rows, was, a->pull.engine_id, at_s);
  g_autoptr(GArray) told = ew_told_read(was->told);
  struct ew_setup before = {0};
  struct ew_station_at station;
  if (!ew_station_at(desk, at_s, &station,
                     error)) /* also where it stays: it may speak against it */
    return FALSE;
  ew_fields_copy(&ew_setup_fields, &a->setup, &before);
  ew_carry_again(prior ? prior : &none, told, ask->sets, at_s, has_moved(was, a), &station,
                 ask->station, &a->method, &a->setup, carried);
  ew_setup_altered(changes, &before, &a->setup);
  ew_setup_clear(&before);
  return !ask->station || is_any_fresh(carried) ||
         ew_refuse(error,
                   "pull %lld: no weather station of this cell had a reading within %.0f min "
                   "before it%s: add its file with 'pull add', or type the weather",
                   (long long)was->id, a->method.weather_age_s / 60,
                   station.frozen ? ew_tr(EW_TEXT(" (its readings do not move)")) : "");
}

static gboolean settle_calibration(const struct ew_desk *desk, const char *which,
                                   struct ew_recomputed *a, GPtrArray *changes, GError **error) {
  struct ew_calibrated *now;
  gint64 id = which ? g_ascii_strtoll(which, NULL, 10) : 0; /* of "now": 0 */
  if (!(id ? ew_desk_calibrated_by(desk->book, a->pull.at, id, &now, error)
           : ew_desk_calibrated(desk->book, a->pull.at, &now, error)))
    return FALSE;
  g_autofree char *before = ew_calibrated_write(a->calibration), *after = ew_calibrated_write(now);
  if (g_strcmp0(before, after) != 0)
    ew_messages_add(changes, id ? ew_message(&calibration_of, ew_say_count("number", id))
                                : ew_message_plain(now ? &calibration_now : &calibration_none));
  ew_calibrated_free(a->calibration);
  a->calibration = now;
  return TRUE;
}

static void tell_number(GPtrArray *changes, const struct ew_message_kind *kind, int before,
                        int after) {
  if (before != after)
    ew_messages_add(changes,
                    ew_message(kind, ew_say_count("before", before), ew_say_count("after", after)));
}

gboolean ew_amend_settle_place(const struct ew_desk *desk, const struct ew_amend_rows *rows,
                               const struct ew_pull_row *was, const struct ew_pull_row *back,
                               struct ew_recomputed *a, GArray **others, GError **error) {
  char day[EW_DAY_SIZE];
  struct ew_amend_placed placed;
  if (!has_moved(was, a) && !is_another_engine(was, a))
    return TRUE; /* and not what they were at a former reading: others may have moved it since */
  if (!ew_book_day(desk->book, a->pull.at, day, error))
    return FALSE;
  struct ew_amend_put ask = {.was = was,
                             .back = back,
                             .engine_id = a->pull.engine_id,
                             .unix_s = ew_instant(a->pull.at),
                             .day = day,
                             .rest_s = a->setup.rest_s};
  ew_amend_place(rows, &ask, &placed);
  a->pull.run = placed.run;
  a->pull.mounting = placed.mounting;
  g_clear_pointer(others, g_array_unref);
  *others = placed.moved;
  return TRUE;
}

gboolean ew_amend_settle(const struct ew_desk *desk, const struct ew_amend_ask *ask,
                         const struct ew_amend_rows *rows, const struct ew_pull_row *was,
                         struct ew_recomputed *a, struct ew_carried *carried, GPtrArray *changes,
                         GArray **others, GError **error) {
  if (!settle_weather(desk, ask, rows, was, a, carried, changes, error) ||
      ((has_moved(was, a) || ask->calibration) &&
       !settle_calibration(desk, ask->calibration, a, changes, error)) ||
      !ew_amend_settle_place(desk, rows, was, NULL, a, others, error))
    return FALSE;
  tell_number(changes, &run_was, was->run, a->pull.run);
  tell_number(changes, &mounting_was, was->mounting, a->pull.mounting);
  return TRUE;
}

/* ---- where each fact comes from ---- */

static gboolean sets_more_than_weather(const char *const *sets) {
  static const enum ew_told_fact weather[] = {EW_TOLD_PRESSURE, EW_TOLD_TEMPERATURE,
                                              EW_TOLD_HUMIDITY};
  for (int i = 0; sets && sets[i]; i++) {
    const char *const one[] = {sets[i], NULL};
    gboolean is_weather = FALSE;
    for (gsize k = 0; k < G_N_ELEMENTS(weather); k++)
      is_weather |= ew_sets_weather(one, weather[k]);
    g_autofree char *name = g_strstrip(g_strndup(sets[i], strcspn(sets[i], "=")));
    if (!is_weather && strcmp(name, "weather_age") != 0)
      return TRUE;
  }
  return FALSE;
}

static void put_typed(GArray *told, enum ew_told_fact fact, char *at, const char *now) {
  const struct ew_told one = {fact, EW_FROM_TYPED, at, NULL, NAN, NAN, NULL};
  ew_told_put(told, one, now);
}

/* Of a pull of an earlier program, which kept no list, only what is said now is known. */
static void put_weather(const struct ew_amend_ask *ask, const struct ew_recomputed *a,
                        const struct ew_carried *carried, const char *now, GArray *told) {
  g_autoptr(GArray) fresh = ew_told_new();
  ew_carried_told(carried, ew_recomputed_curve(a), &a->bench, a->processed->series,
                  ew_instant(a->pull.at), fresh);
  for (guint i = 0; i < fresh->len; i++) {
    const struct ew_told *one = &g_array_index(fresh, struct ew_told, i);
    gboolean said =
        ew_sets_weather(ask->sets, one->fact) || (ask->station && one->from == EW_FROM_STATION);
    if (said || ew_told_find(told, one->fact))
      ew_told_put(told, *one, said ? now : NULL);
  }
}

char *ew_amend_told(const struct ew_amend_ask *ask, const struct ew_recomputed *a,
                    const struct ew_pull_row *was, const struct ew_carried *carried) {
  g_assert(a->processed);
  g_autoptr(GArray) told = ew_told_read(was->told);
  g_autofree char *now = ew_time_now();
  put_weather(ask, a, carried, now, told);
  if (has_moved(was, a))
    put_typed(told, EW_TOLD_TIME, a->pull.at, now);
  if ((ask->units && ask->units[0]) || ask->map)
    put_typed(told, EW_TOLD_UNITS, NULL, now);
  if (sets_more_than_weather(ask->sets))
    put_typed(told, EW_TOLD_SETUP, NULL, now);
  if (ask->engine)
    put_typed(told, EW_TOLD_ENGINE, NULL, now);
  if (ask->cell_sets && ask->cell_sets[0])
    put_typed(told, EW_TOLD_CELL, NULL, now);
  return ew_told_write(told);
}

char *ew_amend_told_of_all(const char *told, const char *of_all) {
  static const enum ew_told_fact facts[] = {EW_TOLD_TIME, EW_TOLD_UNITS, EW_TOLD_ENGINE};
  g_autoptr(GArray) own = ew_told_read(told), all = ew_told_read(of_all);
  for (gsize k = 0; k < G_N_ELEMENTS(facts); k++) {
    const struct ew_told *one = ew_told_find(all, facts[k]);
    for (guint i = own->len; i-- > 0;) {
      struct ew_told *there = &g_array_index(own, struct ew_told, i);
      if (there->fact != facts[k])
        continue;
      g_clear_pointer(&there->amended, g_free); /* that is taken back */
      if (!one)
        g_array_remove_index(own, i);
    }
    if (one)
      ew_told_put(own, *one, one->amended);
  }
  return ew_told_write(own);
}

static gboolean is_among(const GArray *ids, gint64 id) {
  for (guint i = 0; i < ids->len; i++)
    if (g_array_index(ids, gint64, i) == id)
      return TRUE;
  return FALSE;
}

static gboolean is_carried_from(const struct ew_pull_row *row, const GArray *ids) {
  gboolean carried = FALSE;
  if (!row->told || !strstr(row->told, "\"carried\"")) /* most have none: not read */
    return FALSE;
  g_autoptr(GArray) told = ew_told_read(row->told);
  for (guint i = 0; i < told->len; i++) {
    const struct ew_told *one = &g_array_index(told, struct ew_told, i);
    if (one->from == EW_FROM_CARRIED && one->pull)
      carried |= is_among(ids, g_ascii_strtoll(one->pull, NULL, 10));
  }
  return carried;
}

GArray *ew_amend_carried_on(const struct ew_amend_rows *rows, const GArray *ids) {
  GArray *on = g_array_new(FALSE, FALSE, sizeof(gint64));
  for (guint i = 0; i < rows->rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(rows->rows, struct ew_pull_row, i);
    if (!is_among(ids, row->id) && is_carried_from(row, ids))
      g_array_append_val(on, row->id);
  }
  return on;
}
