/* Steps: 1. candidates: files that a channel map names as a station's, and live recordings without an engine; 2. their rows become a series,
 * calibrated; 3. of each fact the last reading at or before the instant; of several candidates the one that read last; 4. frozen or not. */
#include "desk/station.h"
#include "base/error.h"
#include "base/table_frames.h"
#include "base/zone.h"
#include "book/station.h"
#include "desk/calibrated.h"
#include "desk/recorder.h"
#include "gas/moist_air.h"
#include <math.h>
#include <string.h>

#define BACK_S      86400.0 /* an older reading is nobody's */
#define SLACK_S     1.0     /* times of blocks are read to the second */
#define AHEAD_S     600.0   /* by which two clocks may differ */
#define LEAST_ROWS  8       /* fewer say nothing about being frozen */
#define HOUR_S      3600.0
#define HOUR_SLACK  300.0
#define LIVE_BACK_S (EW_STATION_FROZEN_S + 2 * HOUR_S)

static const enum ew_channel moistures[] = {EW_CHANNEL_VAPOUR_PRESSURE, EW_CHANNEL_DEW_POINT,
                                            EW_CHANNEL_HUMIDITY, EW_CHANNEL_WET_BULB};

struct ew_station_at ew_station_nothing(void) {
  struct ew_station_at none = {0};
  for (int i = 0; i < EW_STATION_FACTS; i++)
    none.facts[i] = (struct ew_station_fact){NAN, NAN, NAN, NULL};
  return none;
}

static const struct ew_series_channel *moisture_of(const struct ew_series *series) {
  const struct ew_series_channel *found = NULL;
  for (gsize i = 0; !found && i < G_N_ELEMENTS(moistures); i++)
    found = ew_series_find(series, moistures[i], 0);
  return found;
}

gboolean ew_series_is_station(const struct ew_series *series) {
  if (ew_series_find(series, EW_CHANNEL_SPEED, 0) || ew_series_find(series, EW_CHANNEL_TORQUE, 0) ||
      ew_series_find(series, EW_CHANNEL_POWER, 0) || !series->timed)
    return FALSE;
  return ew_series_find(series, EW_CHANNEL_BAROMETER, 0) ||
         (ew_series_find(series, EW_CHANNEL_INLET_AIR_TEMPERATURE, 0) && moisture_of(series));
}

/* ---- the map of a file ---- */

/* What such a heading means in a file that has no engine in it; common practice, no source. */
static const struct {
  const char *words; /* alternatives, letters only, small */
  enum ew_channel channel;
} only_here[] = {
    {"|pressure|press|druck|pression|presion|pressione|druk|abspressure|absolutepressure|",
     EW_CHANNEL_BAROMETER},
    {"|temperature|temp|temperatur|outdoortemperature|outsidetemperature|roomtemperature|"
     "ambienttemperature|celltemperature|outdoortemp|outsidetemp|roomtemp|ambienttemp|celltemp|"
     "aussentemperatur|raumtemperatur|temperatura|temperatuur|temperaturecelsius|drybulb|",
     EW_CHANNEL_INLET_AIR_TEMPERATURE},
};

static char *letters_of(const char *name) {
  GString *letters = g_string_new("|");
  for (const char *at = name; *at; at++)
    if (g_ascii_isalpha(*at))
      g_string_append_c(letters, g_ascii_tolower(*at));
  g_string_append_c(letters, '|');
  return g_string_free(letters, FALSE);
}

static enum ew_channel meant_here(const struct ew_series_channel *one) {
  g_autofree char *letters = letters_of(one->name);
  for (gsize i = 0; i < G_N_ELEMENTS(only_here); i++)
    if (strlen(letters) > 2 && strstr(only_here[i].words, letters))
      return only_here[i].channel;
  return EW_CHANNELS_COUNT;
}

/* Is that column a barometer, as far as its unit says? */
static gboolean fits(const struct ew_series_channel *one, enum ew_channel channel) {
  struct ew_unit unit;
  return !one->unit ||
         ew_unit_parse(one->name, one->unit, ew_channel_facts[channel].kind, &unit, NULL);
}

char *ew_station_map(const struct ew_series *series, const char *map) {
  static const enum ew_channel all[] = {EW_CHANNEL_BAROMETER, EW_CHANNEL_INLET_AIR_TEMPERATURE,
                                        EW_CHANNEL_HUMIDITY,  EW_CHANNEL_DEW_POINT,
                                        EW_CHANNEL_WET_BULB,  EW_CHANNEL_VAPOUR_PRESSURE};
  g_autoptr(GString) rows = g_string_new(NULL);
  g_autoptr(GString) marks = g_string_new(NULL);
  gboolean barometer = FALSE, any = FALSE;
  if (map || !series->timed || ew_series_find(series, EW_CHANNEL_SPEED, 0) ||
      ew_series_find(series, EW_CHANNEL_TORQUE, 0) || ew_series_find(series, EW_CHANNEL_POWER, 0))
    return NULL;
  for (gsize i = 0; i < G_N_ELEMENTS(all); i++) {
    const struct ew_series_channel *found = ew_series_find(series, all[i], 0);
    for (guint c = 0; !found && c < series->channels_count; c++)
      if (series->channels[c].channel == EW_CHANNELS_COUNT &&
          meant_here(&series->channels[c]) == all[i] && fits(&series->channels[c], all[i])) {
        struct ew_json json = {.text = g_string_new(NULL)};
        found = &series->channels[c];
        ew_json_open(&json, NULL);
        ew_json_text(&json, "column", found->name);
        if (found->unit)
          ew_json_text(&json, "unit", found->unit);
        ew_json_close(&json);
        g_string_append_printf(rows, "  %s: %s\n", ew_channel_facts[all[i]].key, json.text->str);
        g_string_free(json.text, TRUE);
      }
    if (!found)
      continue;
    g_string_append_printf(marks, "%s%s", marks->len ? ", " : "", ew_channel_facts[all[i]].key);
    barometer |= all[i] == EW_CHANNEL_BAROMETER;
    any |= all[i] != EW_CHANNEL_BAROMETER && all[i] != EW_CHANNEL_INLET_AIR_TEMPERATURE;
  }
  gboolean air = strstr(marks->str, "inlet_air_temperature") != NULL;
  if (!barometer && !(any && air))
    return NULL;
  return g_strdup_printf("%s%sstation: [%s]\n", rows->len ? "channels:\n" : "", rows->str,
                         marks->str);
}

EW_MESSAGE(hour_behind, "desk.station-hour-behind", EW_CAUTION,
           "the station's file was written {gap} after its last reading: if its clock is an hour "
           "behind (summer time), add it again with --at \"YYYY-MM-DD HH:MM\", when it began");

gboolean ew_station_check(const struct ew_series *series, enum ew_told_from from, double stamp_s,
                          double now_s, const char *name, double *unix_s, ew_message **doubt,
                          GError **error) {
  double run_s = series->rows ? series->time_s[series->rows - 1] : 0;
  *doubt = NULL;
  if (from == EW_FROM_CLOCK)
    return ew_refuse(error,
                     "%s: a weather station's file without a date and clock in it, or a time "
                     "stamp: say when it began with --at \"YYYY-MM-DD HH:MM\"",
                     name);
  if (from == EW_FROM_STAMP)
    *unix_s -= run_s;
  double end_s = *unix_s + run_s, gap_s = stamp_s > 0 ? stamp_s - end_s : (double)NAN;
  if (end_s > now_s + AHEAD_S || gap_s < -AHEAD_S)
    return ew_refuse(error,
                     "%s: its last reading is %.0f min after %s: is the station's clock ahead, or "
                     "of another zone? Say when it began with --at \"YYYY-MM-DD HH:MM\", or give "
                     "the zone in a recorder's profile (recorder new)",
                     name, (gap_s < -AHEAD_S ? -gap_s : end_s - now_s) / 60,
                     gap_s < -AHEAD_S ? ew_tr(EW_TEXT("the file was written"))
                                      : ew_tr(EW_TEXT("now")));
  if (from == EW_FROM_FILE && fabs(gap_s - HOUR_S) < HOUR_SLACK)
    *doubt = ew_message(&hour_behind, ew_say_quantity("gap", EW_KIND_TIME, gap_s, 0));
  return TRUE;
}

/* ---- readings ---- */

struct reading {
  const struct ew_series *series;
  const ew_calibrated *calibration;
  double zero_s; /* Unix seconds of time 0 of the series */
};

/* Row of the last known value at or before the instant; -1. */
static gssize last_row(const struct reading *r, const struct ew_series_channel *one,
                       double unix_s) {
  for (gsize i = r->series->rows; one && i-- > 0;)
    if (r->zero_s + r->series->time_s[i] <= unix_s + SLACK_S && !isnan(one->values[i]))
      return (gssize)i;
  return -1;
}

/* Did nothing of this channel move in the rows of the last two hours? -1: there are too few to say. */
static int is_still(const struct reading *r, const struct ew_series_channel *one, gssize at) {
  const double *t = r->series->time_s;
  gsize count = 0;
  gssize i = at;
  for (; i >= 0 && t[at] - t[i] < EW_STATION_FROZEN_S; i--) {
    if (isnan(one->values[i]))
      continue;
    if (one->values[i] != one->values[at])
      return 0;
    count++;
  }
  return count < LEAST_ROWS || i < 0 ? -1 : 1; /* i < 0: it does not reach so far back */
}

static double told_u(const struct reading *r, const struct ew_series_channel *one, double value) {
  const struct ew_calibrated_line *line = ew_calibrated_find(r->calibration, one->channel);
  if (!line || isnan(line->points) || one->channel == EW_CHANNEL_DEW_POINT ||
      one->channel == EW_CHANNEL_WET_BULB || one->channel == EW_CHANNEL_VAPOUR_PRESSURE)
    return NAN; /* of the sensors of moisture only humidity is in the list's unit */
  return ew_calibrated_u(line, ew_calibrated_read_of(line, value));
}

static void take_fact(const struct reading *r, const struct ew_series_channel *one, double unix_s,
                      struct ew_station_fact *fact, int *still) {
  static const struct {
    enum ew_channel channel;
    const char *field;
  } fields[] = {
      {EW_CHANNEL_BAROMETER, "pressure"}, {EW_CHANNEL_INLET_AIR_TEMPERATURE, "temperature"},
      {EW_CHANNEL_HUMIDITY, "humidity"},  {EW_CHANNEL_DEW_POINT, "dew_point"},
      {EW_CHANNEL_WET_BULB, "wet_bulb"},  {EW_CHANNEL_VAPOUR_PRESSURE, "dew_point"}};
  gssize row = last_row(r, one, unix_s);
  if (row < 0)
    return;
  fact->read_s = fmin(r->zero_s + r->series->time_s[row], unix_s);
  fact->value = one->values[row];
  fact->u = told_u(r, one, fact->value);
  for (gsize i = 0; i < G_N_ELEMENTS(fields); i++)
    if (fields[i].channel == one->channel)
      fact->field = fields[i].field;
  if (one->channel == EW_CHANNEL_VAPOUR_PRESSURE)
    fact->value = ew_dew_point_k(fact->value);
  int here = is_still(r, one, row);
  *still = here == 0 || *still == 0 ? 0 : MAX(here, *still); /* one that moves: it lives */
}

static double newest(const struct ew_station_at *s) {
  double at = NAN;
  for (int i = 0; i < EW_STATION_FACTS; i++)
    at = fmax(at, s->facts[i].read_s); /* of NaN and a figure: the figure */
  return at;
}

static void take(const struct reading *r, gint64 recording, double unix_s,
                 struct ew_station_at *best) {
  struct ew_station_at here = ew_station_nothing();
  const struct ew_series_channel *of[] = {
      ew_series_find(r->series, EW_CHANNEL_BAROMETER, 0),
      ew_series_find(r->series, EW_CHANNEL_INLET_AIR_TEMPERATURE, 0), moisture_of(r->series)};
  int still = -1, channels = 0;
  for (int i = 0; i < EW_STATION_FACTS; i++)
    if (of[i]) {
      take_fact(r, of[i], unix_s, &here.facts[i], &still);
      channels++;
    }
  here.recording = recording;
  here.frozen = still == 1 && channels > 1; /* a barometer alone can be still for hours */
  if (newest(&here) >= unix_s - BACK_S && !(newest(best) >= newest(&here)))
    *best = here;
}

static struct ew_channel_map *map_read(const char *yaml) {
  g_autoptr(ew_node) root = yaml ? ew_node_parse("channel map", yaml, strlen(yaml), NULL) : NULL;
  return root ? ew_channel_map_read(root, "channel map", NULL) : NULL;
}

static gboolean take_file(const struct ew_desk *desk, const ew_calibrated *calibration, gint64 id,
                          double unix_s, struct ew_station_at *best, GError **error) {
  struct ew_recording_row row = {0};
  if (!ew_recording_get(desk->book, id, &row, error))
    return FALSE;
  g_autoptr(GBytes) file = ew_recording_file(&row, error);
  if (!file) {
    ew_recording_row_clear(&row);
    return FALSE;
  }
  gsize size;
  const void *bytes = g_bytes_get_data(file, &size);
  struct ew_table *table = ew_table_read_bytes(bytes, size, row.name, NULL);
  struct ew_channel_map *map = map_read(row.channel_map);
  struct ew_series *series = table ? ew_series_from_table(table, row.name, map, NAN, NULL) : NULL;
  if (series && ew_series_is_station(series)) {
    ew_calibrated_apply(calibration, series);
    const struct reading r = {series, calibration, ew_instant(row.measured_at)};
    take(&r, id, unix_s, best);
  }
  ew_series_free(series);
  ew_channel_map_free(map);
  ew_table_free(table);
  ew_recording_row_clear(&row);
  return TRUE;
}

/* ---- live ---- */

struct rows {
  GArray *values; /* double, row by row; times are Unix seconds here */
};

static gboolean take_rows(const double *values, gsize rows, gsize columns, double stored_s,
                          gpointer user) {
  struct rows *all = user;
  double last_s = values[(rows - 1) * columns];
  for (gsize i = 0; i < rows; i++) {
    double at_s = stored_s - (last_s - values[i * columns]);
    g_array_append_val(all->values, at_s);
    g_array_append_vals(all->values, values + i * columns + 1, (guint)columns - 1);
  }
  return TRUE;
}

/* By the headings alone, before any row is read: weather, and no engine. */
gboolean ew_station_may_be(char *const *headings) {
  gboolean weather = FALSE;
  for (int i = 1; headings[i]; i++) {
    int strength, index;
    g_autofree char *name = g_strndup(headings[i], strcspn(headings[i], "["));
    enum ew_channel channel = ew_channel_by_name(g_strstrip(name), &strength, &index);
    if (channel == EW_CHANNEL_SPEED || channel == EW_CHANNEL_TORQUE || channel == EW_CHANNEL_POWER)
      return FALSE;
    weather |= channel == EW_CHANNEL_BAROMETER || channel == EW_CHANNEL_INLET_AIR_TEMPERATURE ||
               channel == EW_CHANNEL_HUMIDITY || channel == EW_CHANNEL_DEW_POINT;
  }
  return weather;
}

/* Takes the headings and the values. */
static void take_frames(const ew_calibrated *calibration, gint64 id, char **headings,
                        GArray *values, double unix_s, struct ew_station_at *best) {
  gsize columns = g_strv_length(headings);
  if (values->len == columns) { /* one reading is not a series: the same a moment later */
    g_array_set_size(values, (guint)(2 * columns));
    double *rows = (double *)(void *)values->data;
    memcpy(rows + columns, rows, columns * sizeof *rows);
    rows[columns] += 0.001;
  }
  ew_frames frames = {.headings = headings,
                      .rows = values->len / columns,
                      .columns = columns,
                      .values = (double *)(void *)values->data};
  double zero_s = values->len ? frames.values[0] : (double)NAN;
  struct ew_table *table = frames.rows > 1 ? ew_frames_table(&frames, "station", NULL) : NULL;
  struct ew_series *series = table ? ew_series_from_table(table, "station", NULL, NAN, NULL) : NULL;
  if (series && ew_series_is_station(series)) {
    ew_calibrated_apply(calibration, series);
    for (gsize i = 1; i < frames.rows; i++) /* as the series begins with the earliest */
      zero_s = fmin(zero_s, frames.values[i * columns]);
    const struct reading r = {series, calibration, zero_s};
    take(&r, id, unix_s, best);
  }
  ew_series_free(series);
  ew_table_free(table);
}

static gboolean take_stream(const struct ew_desk *desk, const ew_calibrated *calibration, gint64 id,
                            double unix_s, struct ew_station_at *best, GError **error) {
  g_auto(GStrv) headings = ew_stream_headings(desk->book, id, error);
  if (!headings || !ew_station_may_be(headings))
    return headings != NULL;
  g_autoptr(GArray) values = g_array_new(FALSE, FALSE, sizeof(double));
  struct rows rows = {values};
  if (!ew_stream_stored(desk->book, id, unix_s - LIVE_BACK_S, unix_s + SLACK_S, take_rows, &rows,
                        error))
    return FALSE;
  take_frames(calibration, id, headings, values, unix_s, best);
  return TRUE;
}

typedef gboolean (*take_one)(const struct ew_desk *desk, const ew_calibrated *calibration,
                             gint64 id, double unix_s, struct ew_station_at *best, GError **error);

static gboolean take_all(const struct ew_desk *desk, const ew_calibrated *calibration, GArray *ids,
                         take_one take_it, double unix_s, struct ew_station_at *best,
                         GError **error) {
  gboolean good = TRUE;
  for (guint i = 0; good && i < ids->len; i++)
    good = take_it(desk, calibration, g_array_index(ids, gint64, i), unix_s, best, error);
  g_array_unref(ids);
  return good;
}

gboolean ew_station_at(const struct ew_desk *desk, double unix_s, struct ew_station_at *station,
                       GError **error) {
  GError *problem = NULL;
  g_autofree char *at = ew_instant_write(unix_s);
  g_autoptr(ew_calibrated) calibration = NULL;
  *station = ew_station_nothing();
  if (!ew_desk_calibrated(desk->book, at, &calibration, error))
    return FALSE;
  GArray *files = ew_station_files(desk->book, unix_s - BACK_S, unix_s, &problem);
  gboolean good =
      take_all(desk, calibration, files, take_file, unix_s, station, problem ? NULL : error);
  GArray *streams = ew_station_streams(desk->book, unix_s - BACK_S, unix_s, &problem);
  good =
      take_all(desk, calibration, streams, take_stream, unix_s, station, problem ? NULL : error) &&
      good;
  if (problem)
    g_propagate_error(error, problem);
  return good && !problem;
}
