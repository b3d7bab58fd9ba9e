/* A pull with its curve, set-up and engine, from the book or from a file, and the history that judges need. History
 * is the last 200 pulls at most; each piece of evidence (the same figures, however often they were stored) counts
 * once. O(pulls looked back) to load, each curve read once. */
#include "book/stream.h"
#include "base/language.h"
#include "desk/loaded.h"
#include "base/words.h"
#include "base/error.h"
#include "base/statistics.h"
#include "book/curve_blob.h"
#include "book/figures.h"
#include "book/found.h"
#include "pull/figures.h"
#include "pull/findings.h"
#include <errno.h>
#include <math.h>
#include <string.h>
#include <sys/stat.h>

#define HISTORY_MOST 200 /* pulls looked back */

EW_MESSAGE(numbered_pull, "desk.numbered-pull", EW_NOTE, "pull {pull}");

void ew_loaded_free(struct ew_loaded *l) {
  if (!l)
    return;
  g_free(l->name);
  ew_message_free(l->numbered);
  g_free(l->recorder);
  g_free(l->evidence);
  g_clear_pointer(&l->differs, g_ptr_array_unref);
  g_clear_pointer(&l->bytes, g_bytes_unref);
  ew_curve_free(l->curve);
  ew_setup_clear(&l->setup);
  ew_engine_clear(&l->engine);
  ew_fields_clear(&ew_bench_fields, &l->bench);
  ew_calibrated_free(l->calibration);
  ew_message_free(l->held);
  ew_pull_row_clear(&l->row);
  g_free(l);
}

static gboolean read_engine(const char *yaml, struct ew_engine *engine, GError **error) {
  g_autoptr(ew_node) root = ew_node_parse("engine", yaml, strlen(yaml), error);
  return root && ew_engine_read(root, "engine", engine, error);
}

gboolean ew_desk_open(struct ew_desk *desk, struct ew_book *book, GError **error) {
  *desk = (struct ew_desk){.book = book};
  ew_method_defaults(&desk->method);
  ew_setup_defaults(&desk->setup);
  g_autofree char *cell = NULL, *method = NULL;
  struct ew_engine_row row = {0};
  gboolean good = !book || (ew_setting_get(book, "cell", &cell, error) &&
                            ew_setting_get(book, "method", &method, error) &&
                            ew_engine_find(book, NULL, &row, error));
  good = good && ew_record_from_yaml(&ew_bench_fields, "cell", cell, &desk->bench, error);
  if (good && method)
    good = ew_record_from_yaml(&ew_method_fields, "method", method, &desk->method, error);
  if (good && row.id)
    good = read_engine(row.yaml, &desk->engine, error);
  else if (good)
    ew_engine_defaults(&desk->engine);
  ew_engine_row_clear(&row);
  return good;
}

void ew_desk_clear(struct ew_desk *desk) {
  ew_fields_clear(&ew_bench_fields, &desk->bench);
  ew_engine_clear(&desk->engine);
  ew_setup_clear(&desk->setup);
  g_clear_pointer(&desk->channel_map, g_free);
  g_clear_pointer(&desk->calibration, ew_calibrated_free);
  g_clear_pointer(&desk->given.sets, g_strfreev);
  g_clear_pointer(&desk->given.cell_sets, g_strfreev);
}

void ew_desk_copy(const struct ew_desk *from, struct ew_desk *to) {
  *to = (struct ew_desk){.book = from->book, .given = from->given};
  to->given.sets = g_strdupv(from->given.sets);
  to->given.cell_sets = g_strdupv(from->given.cell_sets);
  ew_fields_copy(&ew_method_fields, &from->method, &to->method);
  ew_fields_copy(&ew_bench_fields, &from->bench, &to->bench);
  ew_engine_copy(&from->engine, &to->engine);
  ew_fields_copy(&ew_setup_fields, &from->setup, &to->setup);
  to->channel_map = g_strdup(from->channel_map);
  to->calibration = ew_calibrated_copy(from->calibration);
}

struct ew_reduce_facts ew_desk_facts(const struct ew_desk *desk) {
  return (struct ew_reduce_facts){&desk->method, &desk->bench, &desk->engine, &desk->setup,
                                  desk->calibration};
}

GBytes *ew_read_file(const char *path, GError **error) {
  struct stat facts;
  if (stat(path, &facts) != 0) {
    ew_refuse(error, "%s: %s", path, g_strerror(errno));
    return NULL;
  }
  const char *why = S_ISDIR(facts.st_mode) ? EW_TEXT("is a folder: name a file in it")
                    : facts.st_size > 1000000000
                        ? EW_TEXT("over 1 GB: cut the recording into parts")
                    : !(S_ISREG(facts.st_mode) || S_ISFIFO(facts.st_mode)) /* a pipe has an end */
                        ? EW_TEXT("not a regular file: a device has no end")
                        : NULL;
  if (why) {
    ew_refuse(error, "%s: %s", path, ew_tr(why));
    return NULL;
  }
  g_autofree char *data = NULL;
  gsize size;
  g_autoptr(GError) problem = NULL;
  if (!g_file_get_contents(path, &data, &size, &problem)) {
    ew_refuse(error, "%s", problem->message);
    return NULL;
  }
  return g_bytes_new_take(g_steal_pointer(&data), size);
}

/* *map NULL: it has none. */
static gboolean read_map(const struct ew_desk *desk, struct ew_channel_map **map, GError **error) {
  *map = NULL;
  if (!desk->channel_map)
    return TRUE;
  g_autoptr(ew_node) root =
      ew_node_parse("channel map", desk->channel_map, strlen(desk->channel_map), error);
  *map = root ? ew_channel_map_read(root, "channel map", error) : NULL;
  return *map != NULL;
}

struct ew_processed *ew_desk_process_table(const struct ew_desk *desk, struct ew_table *table,
                                           const char *name, GError **error) {
  struct ew_channel_map *map;
  if (!read_map(desk, &map, error)) {
    ew_table_free(table);
    return NULL;
  }
  struct ew_reduce_facts facts = ew_desk_facts(desk);
  struct ew_processed *processed = ew_process_table(table, name, map, &facts, error);
  ew_channel_map_free(map);
  return processed;
}

struct ew_processed *ew_desk_process_frames(const struct ew_desk *desk,
                                            const struct ew_frames *frames, const char *name,
                                            GError **error) {
  struct ew_channel_map *map;
  if (!read_map(desk, &map, error))
    return NULL;
  struct ew_reduce_facts facts = ew_desk_facts(desk);
  struct ew_processed *processed = ew_process_frames(frames, name, map, &facts, error);
  ew_channel_map_free(map);
  return processed;
}

struct ew_processed *ew_desk_process(const struct ew_desk *desk, GBytes *bytes, const char *path,
                                     GError **error) {
  struct ew_channel_map *map;
  if (!read_map(desk, &map, error))
    return NULL;
  struct ew_reduce_facts facts = ew_desk_facts(desk);
  gsize size;
  const void *data = g_bytes_get_data(bytes, &size);
  g_autofree char *name = g_path_get_basename(path);
  struct ew_processed *processed = ew_process(data, size, name, map, &facts, error);
  ew_channel_map_free(map);
  return processed;
}

/* Files with the same columns are taken to come from one recorder. */
static char *columns_digest(const struct ew_table_layout *layout) {
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  for (guint i = 0; i < layout->columns->len; i++) {
    const struct ew_column *column = g_ptr_array_index(layout->columns, i);
    g_checksum_update(sum, (const guchar *)column->name, (gssize)strlen(column->name) + 1);
  }
  return g_strdup(g_checksum_get_string(sum));
}

static struct ew_loaded *take_curve(const struct ew_desk *desk, struct ew_processed *processed,
                                    guint part, const char *path) {
  g_assert(part < processed->curves->len && processed->curves->pdata[part]);
  struct ew_loaded *loaded = g_new0(struct ew_loaded, 1);
  loaded->curve = g_ptr_array_index(processed->curves, part);
  processed->curves->pdata[part] = NULL;
  g_autofree char *base = g_path_get_basename(path);
  loaded->name =
      processed->curves->len > 1 ? g_strdup_printf("%s, pull %u", base, part + 1) : g_strdup(base);
  ew_fields_copy(&ew_setup_fields, &desk->setup, &loaded->setup);
  ew_engine_copy(&desk->engine, &loaded->engine);
  ew_fields_copy(&ew_bench_fields, &desk->bench, &loaded->bench);
  loaded->calibration = ew_calibrated_copy(desk->calibration);
  loaded->torque_lag_s = loaded->speed_lag_s = NAN;
  loaded->recorder = columns_digest(processed->layout);
  ew_loaded_facts(desk, loaded);
  return loaded;
}

gboolean ew_desk_has_pulls(const struct ew_processed *processed, const char *path, GError **error) {
  if (processed->curves->len > 0)
    return TRUE;
  g_assert(processed->why_none);
  g_autofree char *why = ew_message_text(processed->why_none, EW_UNITS_SI);
  return ew_refuse_with(error, EW_REMEDY_LOOK, "%s: no pull found: %s", path, why);
}

static gboolean load_file(const struct ew_desk *desk, const char *path, GPtrArray *into,
                          GError **error) {
  g_autoptr(GBytes) bytes = ew_read_file(path, error);
  struct ew_processed *processed = bytes ? ew_desk_process(desk, bytes, path, error) : NULL;
  if (!processed)
    return FALSE;
  gboolean good = ew_desk_has_pulls(processed, path, error);
  for (guint i = 0; i < processed->curves->len; i++) {
    struct ew_loaded *loaded = take_curve(desk, processed, i, path);
    loaded->bytes = g_bytes_ref(bytes);
    loaded->part = i;
    g_ptr_array_add(into, loaded);
  }
  ew_processed_free(processed);
  return good;
}

/* What was seen after the pull belongs to it, whenever somebody wrote it down. */
static void join_seen(struct ew_book *book, struct ew_loaded *loaded) {
  g_autoptr(GArray) found = ew_found_list(book, EW_FOUND_PULL, loaded->id, NULL);
  for (guint i = 0; i < found->len; i++) {
    const struct ew_found_row *row = &g_array_index(found, struct ew_found_row, i);
    if (row->withdrawn)
      continue;
    g_autofree char *before = loaded->setup.seen;
    loaded->setup.seen =
        before && *before ? g_strdup_printf("%s; %s", before, row->text) : g_strdup(row->text);
  }
}

/* How its recording was read, and the question that is open. */
static gboolean read_told(const struct ew_desk *desk, struct ew_loaded *l, GError **error) {
  g_autofree char *map = NULL;
  if (!ew_recording_told(desk->book, l->row.recording_id, &l->recorder, &map, error))
    return FALSE;
  char *version = l->recorder ? strrchr(l->recorder, '.') : NULL;
  if (version) /* one recorder, whichever version of its profile */
    *version = 0;
  g_autoptr(ew_node) root = map ? ew_node_parse("channel map", map, strlen(map), NULL) : NULL;
  struct ew_channel_map *rows = root ? ew_channel_map_read(root, "channel map", NULL) : NULL;
  l->torque_lag_s = ew_channel_map_lag_s(rows, EW_CHANNEL_TORQUE);
  l->speed_lag_s = ew_channel_map_lag_s(rows, EW_CHANNEL_SPEED);
  ew_channel_map_free(rows);
  if (l->row.held && !(l->held = ew_message_read(l->row.held, strlen(l->row.held), error)))
    return FALSE;
  return TRUE;
}

struct ew_loaded *ew_desk_load_id(const struct ew_desk *desk, gint64 id, GError **error) {
  g_assert(desk->book);
  struct ew_loaded *loaded = g_new0(struct ew_loaded, 1);
  struct ew_curve_row row = {0};
  loaded->id = id;
  loaded->name = ew_exact("pull %" G_GINT64_FORMAT, id);
  loaded->numbered = ew_message(&numbered_pull, ew_say_count("pull", id));
  gboolean good =
      ew_pull_get(desk->book, id, &loaded->row, error) &&
      ew_curve_get(desk->book, id, &row, error) &&
      ew_record_from_yaml(&ew_setup_fields, "set-up", loaded->row.setup, &loaded->setup, error) &&
      ew_record_from_yaml(&ew_bench_fields, "cell", row.cell, &loaded->bench, error);
  if (good && *row.engine)
    good = read_engine(row.engine, &loaded->engine, error);
  else if (good)
    ew_engine_defaults(&loaded->engine);
  if (good) {
    gsize size;
    const void *bytes = g_bytes_get_data(row.bytes, &size);
    loaded->curve = ew_curve_from_bytes(bytes, size);
    good = loaded->curve != NULL ||
           ew_refuse_with(error, EW_REMEDY_VERIFY, "pull %lld: its stored curve cannot be read",
                          (long long)id);
  }
  good = good && ew_calibrated_parse(row.calibration, &loaded->calibration, error) &&
         read_told(desk, loaded, error);
  loaded->earlier = good && ew_curve_is_earlier(&row);
  ew_curve_row_clear(&row);
  if (!good) {
    ew_loaded_free(loaded);
    return NULL;
  }
  loaded->part = (guint)loaded->row.part;
  join_seen(desk->book, loaded);
  ew_loaded_facts(desk, loaded);
  return loaded;
}

const char *ew_desk_evidence(const struct ew_desk *desk, struct ew_loaded *l) {
  if (l->evidence)
    return l->evidence;
  gsize size = 0;
  const void *data = l->bytes ? g_bytes_get_data(l->bytes, &size) : NULL;
  g_autofree char *figures = data ? ew_figures_digest(data, size, l->name) : NULL;
  if (!data && l->id) /* what can't be read is reported when the command or request ends */
    ew_figures_of(desk->book, l->row.recording_id, &figures, NULL);
  l->evidence = figures ? g_strdup_printf("%s;%u", figures, l->part)
                        : g_strdup_printf("%s;%u", l->name, l->part);
  return l->evidence;
}

static gboolean is_number(const char *text) {
  for (const char *c = text; *c; c++)
    if (!g_ascii_isdigit(*c))
      return FALSE;
  return *text != 0;
}

static gboolean anything_given(const struct ew_given *g) {
  return g->method || g->standard || g->cell || g->engine || g->map || g->sets;
}

/* In place of the stored curve, set-up and engine, those of what was given. */
static gboolean load_altered(const struct ew_desk *desk, struct ew_loaded *l, GError **error) {
  g_autoptr(GPtrArray) differs = ew_messages_new();
  struct ew_recomputed again;
  if (!ew_desk_recompute(desk, l->id, &again, differs, error))
    return FALSE;
  g_assert(again.processed && again.part < again.processed->curves->len);
  ew_curve_free(l->curve);
  l->curve = again.processed->curves->pdata[again.part];
  again.processed->curves->pdata[again.part] = NULL;
  g_autofree char *seen = g_steal_pointer(&l->setup.seen);
  ew_setup_clear(&l->setup);
  ew_fields_copy(&ew_setup_fields, &again.setup, &l->setup);
  if (!l->setup.seen)
    l->setup.seen = g_steal_pointer(&seen);
  ew_engine_clear(&l->engine);
  ew_engine_copy(&again.engine, &l->engine);
  ew_fields_clear(&ew_bench_fields, &l->bench);
  ew_fields_copy(&ew_bench_fields, &again.bench, &l->bench);
  ew_calibrated_free(l->calibration);
  l->calibration = g_steal_pointer(&again.calibration);
  ew_recomputed_clear(&again);
  l->earlier = FALSE;
  ew_loaded_facts(desk, l);
  if (differs->len) {
    ew_messages_add(l->curve->warnings,
                    ew_message(&ew_pull_altered, ew_say_messages("changes", differs)));
    l->differs = g_steal_pointer(&differs);
  }
  return TRUE;
}

void ew_differs_json(const GPtrArray *differs, struct ew_json *json) {
  if (differs)
    ew_messages_write_json(differs, "differs_from_kept", EW_UNITS_SI, json);
  else
    ew_json_text(json, "differs_from_kept", NULL);
}

gboolean ew_desk_load(const struct ew_desk *desk, const char *what, GPtrArray *into,
                      GError **error) {
  g_auto(GStrv) parts = g_strsplit(what, ",", -1);
  gboolean numbers = TRUE;
  for (int i = 0; parts[i]; i++)
    numbers &= is_number(parts[i]);
  if (!numbers || !parts[0])
    return load_file(desk, what, into, error);
  if (!desk->book)
    return ew_refuse_with(error, EW_REMEDY_OPEN_BOOK, "'%s' is a pull number, and no book is open",
                          what);
  for (int i = 0; parts[i]; i++) {
    struct ew_loaded *loaded = ew_desk_load_id(desk, g_ascii_strtoll(parts[i], NULL, 10), error);
    if (!loaded || (anything_given(&desk->given) && !load_altered(desk, loaded, error))) {
      ew_loaded_free(loaded);
      return FALSE;
    }
    g_assert(loaded->id > 0 && loaded->curve);
    g_ptr_array_add(into, loaded);
  }
  return TRUE;
}
