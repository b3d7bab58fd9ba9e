/* A file into the book. Reading and reducing are done before the transaction, as they take long; inside it is looked
 * whether another pull came between, and if one did, all is done again (the third time inside). So a set-up is
 * always carried forward from the pull that really was the last.
 *
 * The same bytes, or the same figures saved in another way, are found and not stored twice. */
#include "desk/add_parts.h"
#include "base/as_pointer.h"
#include "desk/calibrated.h"
#include "base/error.h"
#include "base/statistics.h"
#include "book/keep.h"
#include "book/curve_blob.h"
#include "book/figures.h"
#include "pull/figures.h"
#include "book/recorder.h"
#include "book/room.h"
#include "desk/carry.h"
#include "desk/doubt.h"
#include "desk/place.h"
#include "desk/recorder.h"
#include "desk/units.h"
#include "desk/when.h"
#include "pull/plausible_kinds.h"
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>
#include <sys/stat.h>

#define TRIES_OUTSIDE 3
#define REST_S        1800 /* a longer one was a stop */

void ew_added_clear(struct ew_added *a) {
  g_clear_pointer(&a->pull_ids, g_array_unref);
  g_clear_pointer(&a->sha256, g_free);
  g_clear_pointer(&a->notes, g_ptr_array_unref);
}

static gboolean settle_time(struct adding *a, GBytes *bytes, const char *name, GError **error) {
  gsize size = 0;
  const void *data = bytes ? g_bytes_get_data(bytes, &size) : NULL;
  g_autofree char *units = NULL;
  GTimeZone *zone = ew_book_zone(a->desk->book, error);
  if (!zone || !ew_setting_get(a->desk->book, "units", &units, error))
    return FALSE;
  g_autoptr(GTimeZone) clock = a->clock_zone ? ew_zone_find(a->clock_zone, error) : NULL;
  if (a->clock_zone && !clock)
    return FALSE;
  struct ew_when_ask ask = {.zone = zone,
                            .clock_zone = clock,
                            .typed = a->options->at,
                            .month_first = g_strcmp0(units, "us") == 0,
                            .stamp_s = a->options->stamp_s,
                            .now_s = ew_now_s(),
                            .live = a->options->cut && a->options->stamp_s <= 0,
                            .layout = a->table ? a->table->layout : NULL};
  a->day = g_new0(char, EW_DAY_SIZE);
  if (!ew_when_of(&ask, data, size, name, &a->when, error))
    return FALSE;
  a->at = ew_instant_write(a->when.unix_s);
  a->when.unix_s = ew_instant(a->at); /* as it is stored: equal instants stay equal */
  g_assert(!isnan(a->when.unix_s));
  return ew_book_day(a->desk->book, a->at, a->day, error);
}

/* The pull of this engine that ran last before this one, whenever it was added. */
static void settle_prior(struct adding *a) {
  const struct ew_pull_row *prior = ew_place_prior(a->rows, a->engine.id, a->when.unix_s);
  a->prior = prior ? *prior : (struct ew_pull_row){0};
}

static void settle_order(struct adding *a) {
  const struct ew_place_ask ask = {.rows = a->rows,
                                   .engine_id = a->engine.id,
                                   .unix_s = a->when.unix_s,
                                   .day = a->day,
                                   .stopped = a->options->after_stop || a->setup.rest_s > REST_S,
                                   .remounted = a->options->remounted};
  ew_place_find(&ask, &a->place);
  g_assert(a->place.prior == NULL || a->place.prior->id == a->prior.id);
}

static gboolean any_unit_assumed(const struct ew_series *series) {
  for (guint c = 0; c < series->channels_count; c++)
    if (series->channels[c].unit_assumed)
      return TRUE;
  return FALSE;
}

/* Where its facts come from, as they are stored. */
static char *told_of(const struct adding *a, const struct ew_curve *curve) {
  g_autoptr(GArray) told = ew_told_new();
  const struct ew_series *series = a->processed->series;
  ew_carried_told(&a->carried, curve, &a->own.bench, series, a->when.unix_s, told);
  ew_told_add(told, EW_TOLD_TIME, a->when.from, a->at, NULL, NAN, NAN);
  ew_told_add(told, EW_TOLD_UNITS,
              a->recorder                ? EW_FROM_PROFILE
              : a->options->channel_map  ? EW_FROM_TYPED
              : a->map_is_ours           ? EW_FROM_DEFAULT
              : any_unit_assumed(series) ? EW_FROM_DEFAULT
                                         : EW_FROM_FILE,
              NULL, NULL, NAN, NAN);
  ew_told_add(told, EW_TOLD_SETUP, a->prior.id ? EW_FROM_CARRIED : EW_FROM_TYPED, a->prior.at, NULL,
              NAN, NAN);
  ew_told_add(told, EW_TOLD_ENGINE, a->options->engine ? EW_FROM_TYPED : EW_FROM_DEFAULT, NULL,
              NULL, NAN, NAN);
  ew_told_add(told, EW_TOLD_CELL, EW_FROM_DEFAULT, NULL, NULL, NAN, NAN);
  return ew_told_write(told);
}

/* One pull of it with its curve, as the book takes them; texts are the array's. */
static gboolean pull_of(const struct adding *a, guint part, struct ew_new_pull *pull,
                        GError **error) {
  g_assert(part < a->processed->curves->len && a->findings->len > part);
  struct ew_curve *curve = g_ptr_array_index(a->processed->curves, part);
  const char *purpose = a->options->purpose ? a->options->purpose : "pull";
  GBytes *bytes = ew_curve_to_bytes(curve);
  *pull = (struct ew_new_pull){
      .row = {.engine_id = a->engine.id,
              .part = (int)part,
              .run = a->place.run,
              .mounting = a->place.mounting,
              .kind = g_strdup(ew_segment_kind_names[curve->kind]),
              .at = g_strdup(a->at),
              .day = g_strdup(a->day),
              .purpose = g_strdup(purpose),
              .setup = ew_fields_write_yaml(&ew_setup_fields, &a->setup),
              .changed = g_strdup(a->options->changed),
              .told = told_of(a, curve),
              .top_rpm = curve->high_rpm,
              .band_mean_n_m = curve->band_mean_n_m},
      .curve = {.method = ew_fields_write_yaml(&ew_method_fields, &a->own.method),
                .cell = ew_fields_write_yaml(&ew_bench_fields, &a->own.bench),
                .engine = g_strdup(a->engine.yaml ? a->engine.yaml : ""),
                .digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes),
                .bytes = bytes,
                .calibration = ew_calibrated_write(a->own.calibration)},
      .findings = a->findings->pdata[part]};
  return ew_curve_has_bytes(curve, bytes) || /* what could not be read again is not stored */
         ew_fail(error, "part %u of the recording gives a curve that cannot be stored", part + 1);
}

static void new_pull_clear(void *data) {
  struct ew_new_pull *pull = data;
  ew_pull_row_clear(&pull->row);
  ew_curve_row_clear(&pull->curve);
}

/* The profile of the recorder whose files have these columns. */
static gboolean settle_recorder(struct adding *a, const char *fingerprint, gboolean *found,
                                GError **error) {
  struct ew_recorder_row row;
  struct ew_profile profile;
  if (!ew_recorder_of(a->desk->book, fingerprint, &row, found, error))
    return FALSE;
  gboolean good = !*found || ew_profile_read(row.yaml, &profile, error);
  if (good && *found) {
    a->map = g_strdup(profile.map);
    a->recorder = g_strdup_printf("%s.%" G_GINT64_FORMAT, row.name, row.version);
    a->clock_zone = g_strdup(profile.zone);
    ew_profile_clear(&profile);
  }
  ew_recorder_row_clear(&row);
  return good;
}

/* Rows of a live recording are at hand: they are not written and read to be understood. */
static const struct ew_frames *frames_of(const struct ew_add_options *options) {
  return options->cut ? options->cut->frames : NULL;
}

/* NULL: it is not a table. */
static char *fingerprint_of(const struct adding *a, GBytes *bytes, const char *name) {
  if (a->table)
    return ew_fingerprint_of(a->table->layout);
  gsize size = 0;
  const void *data = bytes ? g_bytes_get_data(bytes, &size) : NULL;
  struct ew_table_layout *layout = frames_of(a->options) ? ew_frames_layout(frames_of(a->options))
                                                         : ew_table_look(data, size, name, NULL);
  char *fingerprint = layout ? ew_fingerprint_of(layout) : NULL;
  ew_table_layout_free(layout);
  return fingerprint;
}

static gboolean process(struct adding *a, GBytes *bytes, const char *name, GError **error) {
  const struct ew_frames *frames = frames_of(a->options);
  ew_processed_free(a->processed);
  if (frames)
    a->processed = ew_desk_process_frames(&a->own, frames, name, error);
  else if (a->table)
    a->processed = ew_desk_process_table(&a->own, g_steal_pointer(&a->table), name, error);
  else
    a->processed = ew_desk_process(&a->own, bytes, name, error);
  return a->processed != NULL;
}

/* A map given now, else that of the recorder whose files look so, else the one remembered for files with these columns. */
static gboolean settle_map(struct adding *a, GBytes *bytes, const char *name, GError **error) {
  if (a->options->channel_map) {
    a->map = g_strdup(a->options->channel_map);
    return TRUE;
  }
  g_autofree char *source = fingerprint_of(a, bytes, name);
  if (!source)
    return TRUE; /* what cannot be understood here is refused when it is read */
  gboolean found;
  return settle_recorder(a, source, &found, error) &&
         (found || ew_channel_map_get(a->desk->book, source, &a->map, error));
}

/* Read again as a shop of US units writes, where the file names no units: asked about once, then remembered. */
static gboolean settle_units(struct adding *a, GBytes *bytes, const char *name, GError **error) {
  g_autofree char *units = NULL;
  if (!ew_setting_get(a->desk->book, "units", &units, error))
    return FALSE;
  if (a->map || g_strcmp0(units, "us") != 0)
    return TRUE;
  a->map = ew_us_units_map(a->processed->series, a->units);
  if (!a->map)
    return TRUE;
  g_assert(!a->options->channel_map);
  a->map_is_ours = TRUE;
  g_free(a->own.channel_map);
  a->own.channel_map = g_strdup(a->map);
  return process(a, bytes, name, error);
}

/* One question about the whole file in place of one for each of its columns: what it leaves open is asked when it was answered. */
static void ask_us_units(const struct adding *a, GPtrArray *doubts) {
  ew_message *doubt = a->map ? NULL : ew_us_units_doubt(a->processed->series, doubts);
  if (!doubt)
    return;
  for (guint i = doubts->len; i-- > 0;)
    if (ew_us_units_cover(a->processed->series, doubts->pdata[i]))
      g_ptr_array_remove_index(doubts, i);
  g_ptr_array_insert(doubts, 0, doubt);
}

/* What speaks against each pull of it, and against the recording as a whole. */
static void doubt_all(struct adding *a) {
  a->findings = g_ptr_array_new_with_free_func((GDestroyNotify)g_ptr_array_unref);
  for (guint i = 0; i < MAX(a->processed->curves->len, 1); i++) {
    GPtrArray *doubts = ew_doubts_of(&a->own, a->processed, i, &a->before);
    ew_doubt_typed(&a->carried, &a->setup, a->processed, i, doubts);
    ew_doubt_station(&a->carried, &a->setup, a->processed, i, doubts);
    if (!a->options->cut) /* measured just now */
      ew_doubt_second_time(&a->own, a->rows, a->engine.id, a->processed, i, doubts);
    if (a->when.doubt)
      ew_messages_add(doubts, ew_message_copy(a->when.doubt));
    if (a->units->len)
      ew_messages_add(
          doubts, ew_message_about(ew_message(&ew_doubt_units, ew_say_messages("units", a->units)),
                                   "units"));
    ask_us_units(a, doubts);
    if (a->options->doubt)
      ew_messages_add(doubts, ew_message_copy(a->options->doubt));
    g_ptr_array_add(a->findings, doubts);
  }
  g_assert(a->findings->len == MAX(a->processed->curves->len, 1));
}

/* A file of weather and no engine is the cell's own station's, and is remembered as such. */
static gboolean settle_station(struct adding *a, GBytes *bytes, const char *name, GError **error) {
  const struct ew_series *series = a->processed->series;
  if (a->processed->curves->len || a->options->cut)
    return TRUE;
  g_autofree char *map = ew_station_map(series, a->map_is_ours ? NULL : a->map);
  if (map && !a->map) {
    a->map = g_steal_pointer(&map);
    a->map_is_ours = TRUE;
    g_free(a->own.channel_map);
    a->own.channel_map = g_strdup(a->map);
    if (!process(a, bytes, name, error))
      return FALSE;
    series = a->processed->series;
  } else if (map) { /* its units are the book's: what it is goes with them */
    g_autofree char *both = strstr(map, "channels:") ? NULL : g_strconcat(a->map, map, NULL);
    if (both) {
      g_free(a->map);
      a->map = g_steal_pointer(&both);
    }
  }
  a->is_station = a->map && strstr(a->map, "station") && ew_series_is_station(series);
  if (!a->is_station)
    return TRUE;
  g_clear_pointer(&a->when.doubt, ew_message_free);
  if (!ew_station_check(series, a->when.from, a->options->stamp_s, ew_now_s(), name,
                        &a->when.unix_s, &a->when.doubt, error))
    return FALSE;
  g_free(a->at);
  a->at = ew_instant_write(a->when.unix_s);
  return ew_book_day(a->desk->book, a->at, a->day, error);
}

static gboolean prepare(struct adding *a, GBytes *bytes, const char *name, GError **error) {
  g_assert(!a->processed && !a->rows && !a->map); /* cleared */
  if (!ew_book_last_kept(a->desk->book, &a->before_all, error))
    return FALSE;
  if (!(a->options->engine ? ew_engine_get : ew_engine_find)(a->desk->book, a->options->engine,
                                                             &a->engine, error))
    return FALSE;
  if (a->engine.yaml) {
    g_autoptr(ew_node) root =
        ew_node_parse("engine", a->engine.yaml, strlen(a->engine.yaml), error);
    ew_engine_clear(&a->own.engine);
    if (!root || !ew_engine_read(root, "engine", &a->own.engine, error))
      return FALSE;
  }
  GError *problem = NULL;
  a->units = ew_messages_new();
  if (a->options->method)
    a->own.method = *a->options->method;
  if (!settle_map(a, bytes, name, error) || !settle_time(a, bytes, name, error))
    return FALSE;
  /* the last one first: a pull that comes between the two reads makes this stale; read after the rows, it would hide that they lack it */
  ew_pull_last(a->desk->book, a->engine.id, &a->last, &problem);
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  if (!(a->rows = ew_pull_list(a->desk->book, 0, error)))
    return FALSE;
  settle_prior(a);
  struct ew_station_at station;
  if (!ew_station_at(a->desk, a->when.unix_s, &station, error) ||
      !ew_carry(&a->prior, a->options->sets, a->when.unix_s, &station, &a->own.method, &a->setup,
                &a->carried, error))
    return FALSE;
  settle_order(a);
  g_clear_pointer(&a->own.calibration, ew_calibrated_free);
  if (!ew_desk_calibrated(a->desk->book, a->at, &a->own.calibration, error))
    return FALSE;
  ew_setup_clear(&a->own.setup);
  ew_fields_copy(&ew_setup_fields, &a->setup, &a->own.setup);
  g_free(a->own.channel_map);
  a->own.channel_map = g_strdup(a->map);
  if (!process(a, bytes, name, error) || !settle_units(a, bytes, name, error) ||
      !settle_station(a, bytes, name, error) ||
      !ew_before_of(&a->own, a->rows, a->engine.id, a->when.unix_s, 0, &a->before, error))
    return FALSE;
  doubt_all(a);
  a->doubt = ew_barometer_moved(&a->own, a->rows, a->processed);
  return TRUE;
}

/* What prepare made; what was given stays. */
static void clear_prepared(struct adding *a) {
  ew_engine_row_clear(&a->engine);
  ew_setup_clear(&a->setup);
  ew_pull_row_clear(&a->last);
  g_clear_pointer(&a->processed, ew_processed_free);
  g_clear_pointer(&a->map, g_free);
  g_clear_pointer(&a->at, g_free);
  g_clear_pointer(&a->day, g_free);
  g_clear_pointer(&a->source, g_free);
  g_clear_pointer(&a->doubt, ew_message_free);
  g_clear_pointer(&a->when.doubt, ew_message_free);
  g_clear_pointer(&a->recorder, g_free);
  g_clear_pointer(&a->clock_zone, g_free);
  g_clear_pointer(&a->findings, g_ptr_array_unref);
  g_clear_pointer(&a->units, g_ptr_array_unref);
  g_clear_pointer(&a->place.moved, g_array_unref);
  g_clear_pointer(&a->rows, g_array_unref);
  ew_before_clear(&a->before);
  a->prior = (struct ew_pull_row){0};
  a->map_is_ours = a->is_station = FALSE;
}

/* What was prepared, as the book takes it. FALSE with *error when a curve cannot be stored. */
static gboolean offer(struct adding *a, struct ew_new_recording *n, GError **error) {
  const struct ew_series *series = a->processed->series;
  g_array_set_size(a->pulls, 0);
  for (guint i = 0; i < a->processed->curves->len; i++) {
    struct ew_new_pull pull;
    gboolean good = pull_of(a, i, &pull, error);
    g_array_append_val(a->pulls, pull);
    if (!good)
      return FALSE;
  }
  g_assert(a->pulls->len == a->processed->curves->len && a->processed->series);
  if ((a->options->channel_map || a->map_is_ours) && !a->source)
    a->source = ew_fingerprint_of(a->processed->layout);
  *n = (struct ew_new_recording){
      .row = {.engine_id = a->is_station ? 0 : a->engine.id,
              .rows = (gint64)series->rows,
              .channels = (gint64)series->channels_count,
              .name = ew_as_pointer(a->name),
              .sha256 = a->sha256,
              .channel_map = a->map,
              .bytes = a->bytes,
              .measured_at = a->when.from == EW_FROM_CLOCK ? NULL : a->at,
              .recorder = a->recorder,
              .clock = ew_as_pointer(ew_told_from_keys[a->when.from])},
      .run_s = series->timed ? series->time_s[series->rows - 1] : (double)NAN,
      .figures = a->figures,
      .last = &a->last,
      .before = &a->before_all,
      .pulls = (const struct ew_new_pull *)(void *)a->pulls->data,
      .pulls_count = a->pulls->len,
      .moved = (const struct ew_pull_place *)(void *)a->place.moved->data,
      .moved_count = a->place.moved->len,
      .map_source = a->source,
      .map = a->map,
      .cut = a->options->cut,
      .prepare = n->prepare,
      .user = a};
  return TRUE;
}

/* Another pull or fact came first: all of it again, from that one. */
static gboolean prepare_again(struct ew_new_recording *n, gpointer user, GError **error) {
  struct adding *a = user;
  clear_prepared(a);
  return prepare(a, a->bytes, a->name, error) && offer(a, n, error);
}

/* Reducing takes long, so it is done before the book is locked, and again when another pull or fact came first; when they come
 * faster than this reduces, inside. */
static gboolean keep(struct adding *a, struct ew_kept_recording *kept, GError **error) {
  struct ew_new_recording n = {0};
  for (int tries = 0;; tries++) {
    n.prepare = tries < TRIES_OUTSIDE ? NULL : prepare_again;
    if (!prepare_again(&n, a, error) || !ew_keep_recording(a->desk->book, &n, kept, error))
      return FALSE;
    g_assert(!kept->stale || !n.prepare); /* prepared inside, none can come between */
    if (!kept->stale)
      return TRUE;
    g_array_unref(kept->pull_ids);
  }
}

static gboolean add(const struct ew_desk *desk, GBytes *bytes, const char *sha256,
                    const char *figures, struct ew_table *table, const char *name,
                    const struct ew_add_options *options, struct ew_added *added, GError **error) {
  struct ew_steps steps = {options->progress, options->progress_data, 0,
                           3}; /* read, reduced, stored */
  *added = (struct ew_added){.notes = ew_messages_new(), .sha256 = g_strdup(sha256)};
  struct adding a = {.desk = desk,
                     .options = options,
                     .bytes = bytes,
                     .name = name,
                     .sha256 = added->sha256,
                     .figures = figures,
                     .table = table,
                     .pulls = g_array_new(FALSE, FALSE, sizeof(struct ew_new_pull))};
  ew_desk_copy(desk, &a.own);
  g_array_set_clear_func(a.pulls, new_pull_clear);
  struct ew_kept_recording kept;
  ew_step(&steps);
  gboolean good = (options->cut || /* a pull just measured is stored while the disk takes it */
                   ew_room_for(ew_book_path(desk->book), g_bytes_get_size(bytes), error)) &&
                  keep(&a, &kept, error);
  ew_step(&steps);
  if (good) {
    added->recording_id = kept.id;
    added->known_before = kept.known_bytes || kept.known_figures;
    added->pull_ids = kept.pull_ids;
    added->rows = a.processed->series->rows;
    added->channels = a.processed->series->channels_count;
    ew_add_notes(&a, &kept, added);
    ew_step(&steps);
  }
  clear_prepared(&a);
  ew_table_free(a.table);
  ew_desk_clear(&a.own);
  g_array_unref(a.pulls);
  if (!good)
    ew_added_clear(added);
  return good;
}

gboolean ew_add_bytes(const struct ew_desk *desk, GBytes *bytes, const char *name,
                      const struct ew_add_options *options, struct ew_added *added,
                      GError **error) {
  g_assert(!options->cut);
  gsize size;
  const void *data = g_bytes_get_data(bytes, &size);
  g_autofree char *base = g_path_get_basename(name);
  struct ew_table *table = ew_table_read_bytes(data, size, base, NULL);
  g_autofree char *figures = table ? ew_figures_digest_table(table) : NULL,
                  *sha256 = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);
  return add(desk, bytes, sha256, figures, table, name, options, added, error);
}

gboolean ew_add_cut(const struct ew_desk *desk, const char *name,
                    const struct ew_add_options *options, struct ew_added *added, GError **error) {
  GError *problem = NULL;
  const struct ew_frames *frames = frames_of(options);
  g_autoptr(GBytes) bytes = options->cut->place ? NULL : ew_frames_text(frames, &problem);
  g_autofree char *sha256 = bytes     ? g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes)
                            : problem ? NULL
                                      : ew_frames_digest(frames, &problem);
  g_autofree char *figures = problem ? NULL : ew_figures_digest_frames(frames, &problem);
  if (problem) {
    *added = (struct ew_added){0};
    g_propagate_error(error, problem);
    return FALSE;
  }
  return add(desk, bytes, sha256, figures, NULL, name, options, added, error);
}

gboolean ew_add_file(const struct ew_desk *desk, const char *path,
                     const struct ew_add_options *options, struct ew_added *added, GError **error) {
  g_autoptr(GBytes) bytes = ew_read_file(path, error);
  g_autofree char *base = g_path_get_basename(path);
  struct ew_add_options own = *options;
  GStatBuf facts;
  if (own.stamp_s <= 0 && g_stat(path, &facts) == 0 && S_ISREG(facts.st_mode))
    own.stamp_s = (double)facts.st_mtim.tv_sec + 1e-9 * (double)facts.st_mtim.tv_nsec;
  return bytes && ew_add_bytes(desk, bytes, own.name ? own.name : base, &own, added, error);
}
