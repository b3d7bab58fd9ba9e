/* A file into the book. Reading and reducing are done before the transaction, as they take long; inside it is looked
 * whether another pull came between, and if one did, all is done again (the third time inside). So a set-up is
 * always carried forward from the pull that really was the last.
 *
 * The same bytes, or the same figures saved in another way, are found and not stored twice. */
#include "desk/add.h"
#include "base/as_pointer.h"
#include "desk/calibrated.h"
#include "base/words.h"
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
#include "desk/recorder.h"
#include "desk/units.h"
#include "desk/when.h"
#include "pull/plausible_kinds.h"
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>
#include <sys/stat.h>

#define TRIES_OUTSIDE 3

void ew_added_clear(struct ew_added *a) {
  g_clear_pointer(&a->pull_ids, g_array_unref);
  g_clear_pointer(&a->sha256, g_free);
  g_clear_pointer(&a->notes, g_ptr_array_unref);
}

/* As a field of a record that nobody filled in. */
static gboolean forget(const struct ew_fields *table, void *record, const char *name,
                       GError **error) {
  const struct ew_field *field = ew_fields_find(table, name);
  if (!field || (field->type != EW_FIELD_QUANTITY && field->type != EW_FIELD_TEXT))
    return ew_field_set(table, record, name, "", error); /* which says what is wrong */
  void *at = (char *)record + field->offset;
  if (field->type == EW_FIELD_QUANTITY)
    *(double *)at = NAN;
  else
    g_clear_pointer((char **)at, g_free);
  return TRUE;
}

gboolean ew_apply_record_sets(const struct ew_fields *table, void *record, const char *const *sets,
                              GError **error) {
  for (int i = 0; sets && sets[i]; i++) {
    const char *equals = strchr(sets[i], '=');
    if (!equals)
      return ew_refuse(error, "set '%s': write name=value, for example --set \"spark=30 deg\"",
                       sets[i]);
    g_autofree char *name = g_strstrip(g_strndup(sets[i], (gsize)(equals - sets[i])));
    g_autofree char *value = g_strstrip(g_strdup(equals + 1));
    if (!(*value ? ew_field_set(table, record, name, value, error)
                 : forget(table, record, name, error)))
      return FALSE;
  }
  return TRUE;
}

gboolean ew_apply_sets(struct ew_setup *setup, const char *const *sets, GError **error) {
  return ew_apply_record_sets(&ew_setup_fields, setup, sets, error);
}

struct adding {
  const struct ew_desk *desk;
  struct ew_desk own; /* this file is read with: a copy, as others go on with theirs */
  const struct ew_add_options *options;
  GBytes *bytes;
  const char *name;
  char *sha256;
  struct ew_table *
      table; /* of the bytes, until it is processed: read once for all that asks it; NULL: read again */
  GArray *pulls; /* struct ew_new_pull */
  struct ew_engine_row engine;
  struct ew_pull_row last; /* added; another one by the time of keeping, and all is done again */
  struct ew_pull_row
      prior;    /* that ran before this one, by its time: a copy of a row of `rows`, not owned */
  GArray *rows; /* struct ew_pull_row: all pulls of the book */
  struct ew_when when;
  struct ew_carried carried;
  struct ew_before before;
  struct ew_setup setup;
  struct ew_processed *processed;
  GPtrArray *findings; /* of GPtrArray of messages: what holds each pull */
  GPtrArray *units;    /* messages: units that nobody named, taken as the book's */
  char *map, *at, *day, *source, *recorder;
  char *clock_zone;     /* of the recorder's own clock; NULL: the shop's */
  gboolean map_is_ours; /* made here, from the book's units: kept for files of this kind */
  ew_message *doubt;    /* of its barometer; NULL: none */
  const char *figures;  /* digest of what the file says, however it was saved; NULL: no table */
  int run, mounting;
};

static double now_s(void) {
  return (double)g_get_real_time() / 1e6;
}

static gboolean settle_time(struct adding *a, GBytes *bytes, const char *name, GError **error) {
  gsize size;
  const void *data = g_bytes_get_data(bytes, &size);
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
                            .now_s = now_s(),
                            .live = a->options->cut != NULL,
                            .layout = a->table ? a->table->layout : NULL};
  a->day = g_new0(char, EW_DAY_SIZE);
  if (!ew_when_of(&ask, data, size, name, &a->when, error))
    return FALSE;
  a->at = ew_instant_write(a->when.unix_s);
  a->when.unix_s = ew_instant(a->at); /* as it is stored: equal instants stay equal */
  return ew_book_day(a->desk->book, a->at, a->day, error);
}

static gboolean is_of_this_engine(const struct adding *a, const struct ew_pull_row *row) {
  gint64 this = a->engine.id;
  return row->engine_id == this;
}

/* The pull of this engine that ran last before this one, whenever it was added. */
static void settle_prior(struct adding *a) {
  double last_s = NAN;
  for (guint i = 0; i < a->rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(a->rows, struct ew_pull_row, i);
    double at = is_of_this_engine(a, row) ? ew_instant(row->at) : (double)NAN;
    if (at <= a->when.unix_s && !(at < last_s)) {
      a->prior = *row;
      last_s = at;
    }
  }
}

/* A run that begins among pulls that were added before gets a number that none of them has. */
static int next_run(const struct adding *a) {
  int most = 0;
  for (guint i = 0; i < a->rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(a->rows, struct ew_pull_row, i);
    if (is_of_this_engine(a, row))
      most = MAX(most, row->run);
  }
  return most + 1;
}

static void settle_order(struct adding *a) {
  const struct ew_pull_row *prior = &a->prior;
  gboolean other_day = prior->day && strcmp(prior->day, a->day) != 0;
  gboolean stop =
      a->options->after_stop || a->options->remounted || other_day || a->setup.rest_s > 1800;
  a->run = stop || !prior->day ? next_run(a) : prior->run;
  a->mounting = prior->mounting + (a->options->remounted || !prior->day);
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
  struct ew_curve *curve = g_ptr_array_index(a->processed->curves, part);
  const char *purpose = a->options->purpose ? a->options->purpose : "pull";
  GBytes *bytes = ew_curve_to_bytes(curve);
  *pull = (struct ew_new_pull){
      .row = {.engine_id = a->engine.id,
              .part = (int)part,
              .run = a->run,
              .mounting = a->mounting,
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
  gsize size;
  const void *data = g_bytes_get_data(bytes, &size);
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
  a->map_is_ours = TRUE;
  g_free(a->own.channel_map);
  a->own.channel_map = g_strdup(a->map);
  return process(a, bytes, name, error);
}

/* What speaks against each pull of it, and against the recording as a whole. */
static void doubt_all(struct adding *a) {
  a->findings = g_ptr_array_new_with_free_func((GDestroyNotify)g_ptr_array_unref);
  for (guint i = 0; i < MAX(a->processed->curves->len, 1); i++) {
    GPtrArray *doubts = ew_doubts_of(&a->own, a->processed, i, &a->before);
    ew_doubt_typed(&a->carried, &a->setup, a->processed, i, doubts);
    if (a->when.doubt)
      ew_messages_add(doubts, ew_message_copy(a->when.doubt));
    if (a->units->len)
      ew_messages_add(
          doubts, ew_message_about(ew_message(&ew_doubt_units, ew_say_messages("units", a->units)),
                                   "units"));
    g_ptr_array_add(a->findings, doubts);
  }
}

EW_MESSAGE(no_pull_but_counted, "desk.no-pull-but-counted", EW_NOTE,
           "no pull in it: its hours, heat cycles and seconds above each speed are counted");
EW_MESSAGE(no_pull_found, "desk.file-without-pull", EW_CAUTION, "no pull found: {reason}");
EW_MESSAGE(
    same_figures, "desk.same-figures", EW_NOTE,
    "the same figures are already in the book, saved in another way (recording {recording}): "
    "nothing was added");
EW_MESSAGE(same_bytes, "desk.same-bytes", EW_NOTE,
           "the same bytes are already in the book: nothing was added");

static gboolean prepare(struct adding *a, GBytes *bytes, const char *name, GError **error) {
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
  if (!settle_map(a, bytes, name, error) || !settle_time(a, bytes, name, error) ||
      !(a->rows = ew_pull_list(a->desk->book, 0, error)))
    return FALSE;
  ew_pull_last(a->desk->book, a->engine.id, &a->last, &problem);
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  settle_prior(a);
  if (!ew_carry(&a->prior, a->options->sets, a->when.unix_s, &a->own.method, &a->setup, &a->carried,
                error))
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
      !ew_before_of(&a->own, a->rows, a->engine.id, a->when.unix_s, 0, &a->before, error))
    return FALSE;
  doubt_all(a);
  a->doubt = ew_barometer_moved(&a->own, a->rows, a->processed);
  return TRUE;
}

EW_MESSAGE(time_of_file, "desk.time-of-file", EW_NOTE,
           "it ran at {time}, by the date and clock in the file");
EW_MESSAGE(
    time_of_stamp, "desk.time-of-stamp", EW_NOTE,
    "it ran at {time}, by the file's time stamp: if not, say when with --at \"YYYY-MM-DD HH:MM\"");

EW_MESSAGE(
    recorder_unknown, "desk.recorder-unknown", EW_NOTE,
    "first file with these columns, and some of it was taken as usual: 'enginewright recorder "
    "new NAME --like \"{file}\"' keeps how this recorder's files are read");

/* What a profile would settle: units that nobody named, and for which fuel an air-fuel ratio is scaled. */
static gboolean wants_profile(const struct adding *a) {
  const struct ew_series *series = a->processed->series;
  for (guint c = 0; c < series->channels_count; c++) {
    const struct ew_series_channel *one = &series->channels[c];
    if (one->unit_assumed && one->channel < EW_CHANNELS_COUNT && one->channel != EW_CHANNEL_SPEED)
      return TRUE;
    if (one->unit && g_ascii_strcasecmp(one->unit, "afr") == 0)
      return TRUE;
  }
  return ew_series_find(series, EW_CHANNEL_AIR_FUEL_RATIO, 0) != NULL;
}

#define PROPOSED_KEY   "recorders proposed" /* the beginnings of their fingerprints */
#define PROPOSED_DIGIT 16

/* Once for each kind of file. That it was said is remembered as far as the book takes it: saying it twice does no harm. */
static ew_message *propose_recorder(struct adding *a) {
  if (a->options->cut || a->recorder || a->options->channel_map || a->processed->curves->len == 0 ||
      !wants_profile(a))
    return NULL;
  g_autofree char *fingerprint = ew_fingerprint_of(a->processed->layout), *said = NULL;
  fingerprint[PROPOSED_DIGIT] = 0;
  if (!ew_setting_get(a->desk->book, PROPOSED_KEY, &said, NULL) ||
      (said && strstr(said, fingerprint)))
    return NULL;
  g_autofree char *now = g_strconcat(said ? said : "", said ? " " : "", fingerprint, NULL);
  ew_keep_setting(a->desk->book, PROPOSED_KEY, now, NULL);
  return ew_message(&recorder_unknown, ew_say_text("file", a->name));
}

static ew_message *when_taken(const struct adding *a) {
  GTimeZone *zone = ew_book_zone(a->desk->book, NULL);
  g_autofree char *text = zone ? ew_zone_show(zone, a->at) : g_strdup(a->at);
  return ew_message(a->when.from == EW_FROM_FILE ? &time_of_file : &time_of_stamp,
                    ew_say_text("time", text));
}

static void take_notes(struct adding *a, struct ew_added *added) {
  ew_messages_copy(a->processed->series->notes, added->notes);
  if (a->processed->curves->len == 0 && g_strcmp0(a->options->purpose, "break-in") == 0)
    ew_messages_add(added->notes, ew_message_plain(&no_pull_but_counted));
  else if (a->processed->curves->len == 0)
    ew_messages_add(added->notes,
                    ew_message(&no_pull_found, ew_say_message("reason", a->processed->why_none)));
  if (a->processed->curves->len == 0) /* with a pull they hold it */
    ew_messages_copy(a->findings->pdata[0], added->notes);
  if (a->processed->curves->len)
    ew_messages_add(added->notes, ew_carried_too_old(&a->carried, a->prior.id));
  if (a->when.from == EW_FROM_FILE ||
      (a->when.from == EW_FROM_STAMP && now_s() - a->when.unix_s > 600))
    ew_messages_add(added->notes, when_taken(a));
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
  g_clear_pointer(&a->rows, g_array_unref);
  ew_before_clear(&a->before);
  a->prior = (struct ew_pull_row){0};
  a->map_is_ours = FALSE;
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
  if ((a->options->channel_map || a->map_is_ours) && !a->source)
    a->source = ew_fingerprint_of(a->processed->layout);
  *n = (struct ew_new_recording){
      .row = {.engine_id = a->engine.id,
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
      .pulls = (const struct ew_new_pull *)(void *)a->pulls->data,
      .pulls_count = a->pulls->len,
      .map_source = a->source,
      .map = a->map,
      .cut = a->options->cut,
      .prepare = n->prepare,
      .user = a};
  return TRUE;
}

/* Another pull came first: all of it again, from that one. */
static gboolean prepare_again(struct ew_new_recording *n, gpointer user, GError **error) {
  struct adding *a = user;
  clear_prepared(a);
  return prepare(a, a->bytes, a->name, error) && offer(a, n, error);
}

/* Reducing takes long, so it is done before the book is locked, and again when another pull came first; when they come
 * faster than this reduces, inside. */
static gboolean keep(struct adding *a, struct ew_kept_recording *kept, GError **error) {
  struct ew_new_recording n = {0};
  for (int tries = 0;; tries++) {
    n.prepare = tries < TRIES_OUTSIDE ? NULL : prepare_again;
    if (!prepare_again(&n, a, error) || !ew_keep_recording(a->desk->book, &n, kept, error))
      return FALSE;
    if (!kept->stale)
      return TRUE;
    g_array_unref(kept->pull_ids);
  }
}

static void tell_known(const struct ew_kept_recording *kept, GPtrArray *notes) {
  if (kept->known_figures)
    ew_messages_add(notes, ew_message(&same_figures, ew_say_count("recording", kept->id)));
  else if (kept->known_bytes)
    ew_messages_add(notes, ew_message_plain(&same_bytes));
}

gboolean ew_add_bytes(const struct ew_desk *desk, GBytes *bytes, const char *name,
                      const struct ew_add_options *options, struct ew_added *added,
                      GError **error) {
  gsize size;
  const void *data = g_bytes_get_data(bytes, &size);
  struct ew_steps steps = {options->progress, options->progress_data, 0,
                           3}; /* read, reduced, stored */
  g_autofree char *base = g_path_get_basename(name);
  struct ew_table *table = frames_of(options) ? NULL : ew_table_read_bytes(data, size, base, NULL);
  g_autofree char *figures = frames_of(options) ? ew_figures_digest_frames(frames_of(options))
                             : table            ? ew_figures_digest_table(table)
                                                : NULL;
  *added = (struct ew_added){.notes = ew_messages_new(),
                             .sha256 = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes)};
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
    take_notes(&a, added);
    if (a.doubt)
      ew_messages_add(added->notes, g_steal_pointer(&a.doubt));
    tell_known(&kept, added->notes);
    if (!added->known_before)
      ew_messages_add(added->notes, propose_recorder(&a));
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
