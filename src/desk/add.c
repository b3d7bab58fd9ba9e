/* A file into the book. Reading and reducing are done before the transaction, as they take long; inside it is looked
 * whether another pull came between, and if one did, all is done again (the third time inside). So a set-up is
 * always carried forward from the pull that really was the last.
 *
 * The same bytes, or the same figures saved in another way, are found and not stored twice. */
#include "desk/add.h"
#include "base/words.h"
#include "base/error.h"
#include "base/statistics.h"
#include "book/curve_blob.h"
#include "book/figures.h"
#include "pull/figures.h"
#include "book/room.h"
#include <math.h>
#include <string.h>

#define TRIES_OUTSIDE 3

void ew_added_clear(struct ew_added *a) {
  g_clear_pointer(&a->pull_ids, g_array_unref);
  g_clear_pointer(&a->sha256, g_free);
  g_clear_pointer(&a->notes, g_ptr_array_unref);
}

/* What a file's columns look like, so that a channel map given once is remembered for the next. */
static char *signature_of(const struct ew_table_layout *layout) {
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  for (guint i = 0; i < layout->columns->len; i++) {
    const struct ew_column *column = g_ptr_array_index(layout->columns, i);
    g_checksum_update(sum, (const guchar *)column->name, (gssize)strlen(column->name) + 1);
  }
  return g_strdup(g_checksum_get_string(sum));
}

gboolean ew_apply_sets(struct ew_setup *setup, const char *const *sets, GError **error) {
  for (int i = 0; sets && sets[i]; i++) {
    const char *equals = strchr(sets[i], '=');
    if (!equals)
      return ew_refuse(error, "--set '%s': write name=value, for example --set \"spark=30 deg\"",
                       sets[i]);
    g_autofree char *name = g_strstrip(g_strndup(sets[i], (gsize)(equals - sets[i])));
    g_autofree char *value = g_strstrip(g_strdup(equals + 1));
    if (!ew_field_set(&ew_setup_fields, setup, name, value, error))
      return FALSE;
  }
  return TRUE;
}

/* The last pull of this engine: its set-up is carried forward, without its weather and remarks. */
static gboolean carry_forward(struct ew_desk *desk, gint64 engine_id, struct ew_setup *setup,
                              struct ew_pull_row *last, GError **error) {
  g_autoptr(GError) problem = NULL;
  gboolean any = ew_pull_last(desk->book, engine_id, last, &problem);
  ew_setup_defaults(setup);
  if (problem) {
    g_propagate_error(error, g_steal_pointer(&problem));
    return FALSE;
  }
  if (!any)
    return TRUE;
  if (!ew_record_from_yaml(&ew_setup_fields, "set-up", last->setup, setup, error))
    return FALSE;
  setup->rest_s = setup->spark_measured_deg = NAN;
  g_clear_pointer(&setup->seen, g_free);
  g_clear_pointer(&setup->remark, g_free);
  return TRUE;
}

struct adding {
  struct ew_desk *desk;
  const struct ew_add_options *options;
  struct ew_engine_row engine;
  struct ew_pull_row last;
  struct ew_setup setup;
  struct ew_processed *processed;
  char *map, *at, *day;
  const char *figures; /* digest of what the file says, however it was saved; NULL: no table */
  int run, mounting;
};

static void settle_order(struct adding *a) {
  a->at = a->options->at ? g_strdup(a->options->at) : ew_time_now();
  a->day = g_strndup(a->at, 10);
  gboolean other_day = a->last.day && strcmp(a->last.day, a->day) != 0;
  gboolean stop =
      a->options->after_stop || a->options->remounted || other_day || a->setup.rest_s > 1800;
  a->run = a->last.run + (stop || !a->last.day);
  a->mounting = a->last.mounting + (a->options->remounted || !a->last.day);
}

static gboolean store_pull(struct adding *a, gint64 recording_id, guint part, gint64 *id,
                           GError **error) {
  struct ew_curve *curve = g_ptr_array_index(a->processed->curves, part);
  g_autofree char *setup = ew_fields_write_yaml(&ew_setup_fields, &a->setup);
  struct ew_pull_row row = {.recording_id = recording_id,
                            .engine_id = a->engine.id,
                            .part = (int)part,
                            .run = a->run,
                            .mounting = a->mounting,
                            .kind = (char *)ew_segment_kind_names[curve->kind],
                            .at = a->at,
                            .day = a->day,
                            .purpose = (char *)(a->options->purpose ? a->options->purpose : "pull"),
                            .setup = setup,
                            .changed = (char *)a->options->changed,
                            .top_rpm = curve->high_rpm,
                            .band_mean_n_m = curve->band_mean_n_m};
  *id = ew_pull_add(a->desk->book, &row, error);
  if (*id == 0)
    return FALSE;
  g_autoptr(GBytes) bytes = ew_curve_to_bytes(curve);
  g_autofree char *digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);
  if (!ew_curve_has_bytes(curve, bytes)) /* what could not be read again is not stored */
    return ew_fail(error, "part %u of the recording gives a curve that cannot be stored", part + 1);
  g_autofree char *method = ew_fields_write_yaml(&ew_method_fields, &a->desk->method);
  g_autofree char *cell = ew_fields_write_yaml(&ew_bench_fields, &a->desk->bench);
  struct ew_curve_row stored = {method, cell, a->engine.yaml ? a->engine.yaml : (char *)"", digest,
                                bytes};
  return ew_curve_put(a->desk->book, *id, &stored, error);
}

static gboolean store_all(struct adding *a, GBytes *bytes, const char *name, struct ew_added *added,
                          GError **error) {
  struct ew_recording_row row = {.engine_id = a->engine.id,
                                 .rows = (gint64)added->rows,
                                 .channels = (gint64)added->channels,
                                 .name = (char *)name,
                                 .sha256 = added->sha256,
                                 .channel_map = a->map,
                                 .bytes = bytes,
                                 .measured_at = (char *)a->options->at};
  const struct ew_series *series = a->processed->series;
  double length = series->timed ? series->time_s[series->rows - 1] : (double)NAN;
  if (added->recording_id == 0)
    added->recording_id = ew_recording_add(a->desk->book, &row, length, error);
  else if (!ew_recording_reread(a->desk->book, added->recording_id, &row, error))
    return FALSE;
  if (added->recording_id == 0 ||
      (a->figures && !ew_figures_put(a->desk->book, added->recording_id, a->figures, error)))
    return FALSE;
  for (guint i = 0; i < a->processed->curves->len; i++) {
    gint64 id;
    if (!store_pull(a, added->recording_id, i, &id, error))
      return FALSE;
    g_array_append_val(added->pull_ids, id);
  }
  if (a->options->channel_map) {
    g_autofree char *source = signature_of(a->processed->layout);
    return ew_channel_map_put(a->desk->book, source, a->map, error);
  }
  return TRUE;
}

/* A map given now, else the one remembered for files with these columns. */
static void settle_map(struct adding *a, GBytes *bytes, const char *name) {
  if (a->options->channel_map) {
    a->map = g_strdup(a->options->channel_map);
    return;
  }
  gsize size;
  const void *data = g_bytes_get_data(bytes, &size);
  struct ew_table_layout *layout = ew_table_look(data, size, name, NULL);
  if (layout) { /* what cannot be understood here is refused when it is read */
    g_autofree char *source = signature_of(layout);
    a->map = ew_channel_map_get(a->desk->book, source);
    ew_table_layout_free(layout);
  }
}

static gboolean prepare(struct adding *a, GBytes *bytes, const char *name, GError **error) {
  if (a->options->engine && !ew_engine_get(a->desk->book, a->options->engine, &a->engine))
    return ew_refuse(
        error,
        "--engine '%s': no such engine in this book; 'enginewright engine add FILE' adds one",
        a->options->engine);
  if (!a->options->engine)
    ew_engine_get(a->desk->book, NULL, &a->engine);
  if (a->engine.yaml) {
    g_autoptr(ew_node) root =
        ew_node_parse("engine", a->engine.yaml, strlen(a->engine.yaml), error);
    ew_engine_clear(&a->desk->engine);
    if (!root || !ew_engine_read(root, "engine", &a->desk->engine, error))
      return FALSE;
  }
  if (!carry_forward(a->desk, a->engine.id, &a->setup, &a->last, error) ||
      !ew_apply_sets(&a->setup, a->options->sets, error))
    return FALSE;
  settle_map(a, bytes, name);
  if (a->options->method)
    a->desk->method = *a->options->method;
  settle_order(a);
  ew_setup_clear(&a->desk->setup);
  ew_fields_copy(&ew_setup_fields, &a->setup, &a->desk->setup);
  g_free(a->desk->channel_map);
  a->desk->channel_map = g_strdup(a->map);
  a->processed = ew_desk_process(a->desk, bytes, name, error);
  return a->processed != NULL;
}

/* A barometer more than 15 hPa away from the last pulls of this book is likely a reading reduced to sea
 * level (150 m are 18 hPa); common practice, no source. */
static void doubt_pressure(const struct adding *a, struct ew_added *added) {
  g_autoptr(GArray) rows = ew_pull_list(a->desk->book, 0, NULL);
  double known[10];
  gsize count = 0;
  for (guint i = rows->len; i-- > 0 && count < G_N_ELEMENTS(known);) {
    struct ew_loaded *l =
        ew_desk_load_id(a->desk, g_array_index(rows, struct ew_pull_row, i).id, NULL);
    if (l && !isnan(l->curve->conditions.pressure_pa))
      known[count++] = l->curve->conditions.pressure_pa;
    ew_loaded_free(l);
  }
  double usual = ew_median(known, count, EW_NONE_ABSENT);
  for (guint i = 0; count > 0 && i < a->processed->curves->len; i++) {
    double here =
        ((struct ew_curve *)g_ptr_array_index(a->processed->curves, i))->conditions.pressure_pa;
    if (fabs(here - usual) > 1500) {
      g_ptr_array_add(added->notes,
                      ew_words("the barometer reads %.1f hPa, %+.0f hPa from the last pulls: is it "
                               "station pressure, not reduced to sea level?",
                               here / 100, (here - usual) / 100));
      return;
    }
  }
}

static void take_notes(struct adding *a, struct ew_added *added) {
  for (guint i = 0; i < a->processed->series->notes->len; i++)
    g_ptr_array_add(added->notes, g_strdup(g_ptr_array_index(a->processed->series->notes, i)));
  if (a->processed->curves->len == 0 && g_strcmp0(a->options->purpose, "break-in") == 0)
    g_ptr_array_add(added->notes,
                    g_strdup("no pull in it: its hours, heat cycles and seconds above "
                             "each speed are counted"));
  else if (a->processed->curves->len == 0)
    g_ptr_array_add(added->notes, g_strdup_printf("no pull found: %s", a->processed->why_none));
}

static void clear_adding(struct adding *a) {
  ew_engine_row_clear(&a->engine);
  ew_setup_clear(&a->setup);
  ew_pull_row_clear(&a->last);
  ew_processed_free(a->processed);
  g_free(a->map);
  g_free(a->at);
  g_free(a->day);
}

/* Is the pull that the set-up was carried forward from still the engine's last? */
static gboolean is_still_last(const struct adding *a) {
  struct ew_pull_row now;
  ew_pull_last(a->desk->book, a->engine.id, &now, NULL);
  gboolean same = now.id == a->last.id && now.run == a->last.run &&
                  now.mounting == a->last.mounting && g_strcmp0(now.setup, a->last.setup) == 0;
  ew_pull_row_clear(&now);
  return same;
}

/* Prepared, with the transaction begun, and nothing came between. Reducing takes long, so it is done outside the
 * transaction, and again when another pull came first; when they come faster than this reduces, inside. */
static gboolean begin_prepared(struct adding *a, GBytes *bytes, const char *name, GError **error) {
  for (int tries = 0;; tries++) {
    gboolean inside = tries == TRIES_OUTSIDE;
    if (inside && !ew_book_begin(a->desk->book, error))
      return FALSE;
    if (!prepare(a, bytes, name, error)) {
      ew_book_rollback(a->desk->book);
      return FALSE;
    }
    if (!inside && !ew_book_begin(a->desk->book, error))
      return FALSE;
    if (inside || is_still_last(a))
      return TRUE;
    ew_book_rollback(a->desk->book);
    struct adding again = {.desk = a->desk, .options = a->options};
    clear_adding(a);
    *a = again;
  }
}

static gboolean link_also(const struct adding *a, const struct ew_added *added, GError **error) {
  return !a->options->also ||
         a->options->also(a->desk->book, added->recording_id, a->options->also_user, error);
}

/* Inside the transaction. */
static gboolean store(struct adding *a, GBytes *bytes, const char *name, struct ew_added *added,
                      GError **error) {
  added->recording_id = ew_recording_find(a->desk->book, added->sha256);
  added->known_before = added->recording_id != 0;
  /* a recording that gave no pulls before may give some now, with a channel map */
  gboolean anew = added->known_before && a->processed->curves->len > 0 &&
                  !ew_recording_has_pulls(a->desk->book, added->recording_id);
  gint64 like = added->known_before || !a->figures
                    ? 0
                    : ew_figures_find(a->desk->book, a->figures, (gint64)added->rows,
                                      (gint64)added->channels);
  if (like) {
    added->recording_id = like;
    added->known_before = TRUE;
    g_ptr_array_add(added->notes,
                    g_strdup_printf("the same figures are in the book already, saved in another "
                                    "way (recording %" G_GINT64_FORMAT "): nothing was added",
                                    like));
    return link_also(a, added, error);
  }
  if (!added->known_before || anew)
    return store_all(a, bytes, name, added, error) && link_also(a, added, error);
  g_ptr_array_add(added->notes,
                  g_strdup("the same bytes are in the book already: nothing was added"));
  return link_also(a, added, error);
}

gboolean ew_add_bytes(struct ew_desk *desk, GBytes *bytes, const char *name,
                      const struct ew_add_options *options, struct ew_added *added,
                      GError **error) {
  struct adding a = {.desk = desk, .options = options};
  *added = (struct ew_added){.pull_ids = g_array_new(FALSE, FALSE, sizeof(gint64)),
                             .notes = g_ptr_array_new_with_free_func(g_free),
                             .sha256 = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes)};
  gsize size;
  const void *data = g_bytes_get_data(bytes, &size);
  struct ew_steps steps = {options->progress, options->progress_data, 0,
                           3};                                    /* read, reduced, stored */
  g_autofree char *figures = ew_figures_digest(data, size, name); /* before the book is locked */
  ew_step(&steps);
  gboolean good = (options->also || /* a pull just measured is stored while the disk takes it */
                   ew_room_for(ew_book_path(desk->book), g_bytes_get_size(bytes), error)) &&
                  begin_prepared(&a, bytes, name, error);
  a.figures = figures;
  ew_step(&steps);
  if (good) {
    added->rows = a.processed->series->rows;
    added->channels = a.processed->series->channels_count;
    take_notes(&a, added);
    doubt_pressure(&a, added);
    good = store(&a, bytes, name, added, error) && ew_book_commit(desk->book, error);
    if (!good)
      ew_book_rollback(desk->book);
    ew_step(&steps);
  }
  clear_adding(&a);
  if (!good)
    ew_added_clear(added);
  return good;
}

gboolean ew_add_file(struct ew_desk *desk, const char *path, const struct ew_add_options *options,
                     struct ew_added *added, GError **error) {
  g_autoptr(GBytes) bytes = ew_read_file(path, error);
  g_autofree char *base = g_path_get_basename(path);
  return bytes &&
         ew_add_bytes(desk, bytes, options->name ? options->name : base, options, added, error);
}
