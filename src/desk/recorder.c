/* A profile is checked whole before it is kept, so that a file that looks so is never refused for it later. */
#include "desk/recorder.h"
#include "base/error.h"
#include "base/json_writer.h"
#include "book/keep.h"
#include "book/recorder.h"
#include "book/stream.h"
#include "desk/record.h"
#include "desk/units.h"
#include <string.h>

void ew_profile_clear(struct ew_profile *profile) {
  g_clear_pointer(&profile->map, g_free);
  g_clear_pointer(&profile->zone, g_free);
}

/* A node as JSON, which is YAML too. */
static void write_node(const struct ew_node *node, struct ew_json *json) {
  if (node->kind == EW_NODE_SCALAR) {
    ew_json_text(json, node->key, node->text);
    return;
  }
  (node->kind == EW_NODE_MAP ? ew_json_open : ew_json_open_array)(json, node->key);
  for (guint i = 0; i < node->children->len; i++)
    write_node(node->children->pdata[i], json);
  (node->kind == EW_NODE_MAP ? ew_json_close : ew_json_close_array)(json);
}

static gboolean take_part(const struct ew_node *part, struct ew_profile *profile,
                          struct ew_json *map, GError **error) {
  static const char *const of_map[] = {"channels", "ignore", "not_fitted", "station", "rate", NULL};
  if (g_strv_contains(of_map, part->key)) {
    write_node(part, map);
    return TRUE;
  }
  if (strcmp(part->key, "zone") != 0 || part->kind != EW_NODE_SCALAR)
    return ew_refuse(error,
                     "profile, line %u: '%s' is not one of channels, ignore, not_fitted, station, "
                     "rate, zone",
                     part->line, part->key);
  g_autoptr(GTimeZone) zone = ew_zone_find(part->text, error);
  g_free(profile->zone);
  profile->zone = g_strdup(part->text);
  return zone != NULL;
}

gboolean ew_profile_read(const char *yaml, struct ew_profile *profile, GError **error) {
  *profile = (struct ew_profile){0};
  g_autoptr(ew_node) root = ew_node_parse("profile", yaml, strlen(yaml), error);
  if (!root)
    return FALSE;
  gboolean good =
      (root->kind == EW_NODE_MAP && root->children->len > 0) ||
      ew_refuse(error, "profile: it is empty; write channels: with a line for each column");
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  for (guint i = 0; good && i < root->children->len; i++)
    good = take_part(root->children->pdata[i], profile, &json, error);
  ew_json_close(&json);
  profile->map = g_string_free(json.text, FALSE);
  g_autoptr(ew_node) again =
      good ? ew_node_parse("profile", profile->map, strlen(profile->map), error) : NULL;
  struct ew_channel_map *map = again ? ew_channel_map_read(again, "profile", error) : NULL;
  ew_channel_map_free(map);
  if (map)
    return TRUE;
  ew_profile_clear(profile);
  return FALSE;
}

char *ew_profile_with(const struct ew_profile *profile, const char *map, GError **error) {
  g_autoptr(ew_node) root = ew_node_parse("map", map, strlen(map), error);
  if (!root || !profile->zone || *map != '{') /* as people write it, a line more is enough */
    return !root           ? NULL
           : profile->zone ? g_strconcat(map, "zone: ", profile->zone, "\n", NULL)
                           : g_strdup(map);
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  for (guint i = 0; i < root->children->len; i++)
    write_node(root->children->pdata[i], &json);
  ew_json_text(&json, "zone", profile->zone);
  ew_json_close(&json);
  return g_string_free(json.text, FALSE);
}

char *ew_fingerprint_of(const struct ew_table_layout *layout) {
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  for (guint i = 0; i < layout->columns->len; i++) {
    const struct ew_column *column = g_ptr_array_index(layout->columns, i);
    g_checksum_update(sum, (const guchar *)column->name, (gssize)strlen(column->name) + 1);
  }
  return g_strdup(g_checksum_get_string(sum));
}

static void propose_row(GString *yaml, const struct ew_series_channel *one) {
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  ew_json_text(&json, "column", one->name);
  if (one->unit && one->channel != EW_CHANNEL_TIME && strcmp(one->unit, "1") != 0)
    ew_json_text(&json, "unit", one->unit);
  ew_json_close(&json);
  g_string_append_printf(yaml, "  %s", ew_channel_facts[one->channel].key);
  if (one->index)
    g_string_append_printf(yaml, " %d", one->index);
  g_string_append_printf(yaml, ": %s\n", json.text->str);
  g_string_free(json.text, TRUE);
}

static char *rows_of(const struct ew_series *series) {
  GString *yaml = g_string_new("channels:\n");
  for (guint c = 0; c < series->channels_count; c++)
    if (series->channels[c].channel < EW_CHANNELS_COUNT && series->channels[c].values)
      propose_row(yaml, &series->channels[c]);
  return g_string_free(yaml, FALSE);
}

char *ew_profile_propose(const struct ew_desk *desk, GBytes *bytes, const char *name,
                         GError **error) {
  struct ew_processed *processed = ew_desk_process(desk, bytes, name, error);
  g_autofree char *units = NULL;
  if (processed && desk->book && !desk->channel_map &&
      ew_setting_get(desk->book, "units", &units, error) && g_strcmp0(units, "us") == 0) {
    g_autoptr(GPtrArray) taken = ew_messages_new();
    g_autofree char *map = ew_us_units_map(processed->series, taken);
    struct ew_desk own;
    ew_desk_copy(desk, &own);
    g_free(own.channel_map);
    own.channel_map = g_strdup(map);
    ew_processed_free(processed);
    processed = ew_desk_process(&own, bytes, name, error);
    ew_desk_clear(&own);
  }
  char *yaml = processed ? rows_of(processed->series) : NULL;
  ew_processed_free(processed);
  return yaml;
}

static gboolean knows_any(const struct ew_series *series) {
  for (guint c = 0; c < series->channels_count; c++)
    if (series->channels[c].channel < EW_CHANNELS_COUNT)
      return TRUE;
  return FALSE;
}

gboolean ew_profile_fits(const struct ew_desk *desk, const struct ew_profile *profile,
                         GBytes *bytes, const char *name, GError **error) {
  struct ew_desk own;
  ew_desk_copy(desk, &own);
  g_free(own.channel_map);
  own.channel_map = g_strdup(profile->map);
  struct ew_processed *processed = ew_desk_process(&own, bytes, name, error);
  gboolean good =
      processed && (knows_any(processed->series) ||
                    ew_refuse(error, "%s: by this profile no column of it is a channel", name));
  ew_processed_free(processed);
  ew_desk_clear(&own);
  return good;
}

struct known {
  char *fingerprint;
  const struct ew_channel_map *map; /* of `maps` */
};
struct ew_profiles {
  GPtrArray *maps;
  GArray *known; /* struct known */
};

static void known_clear(void *data) {
  g_free(((struct known *)data)->fingerprint);
}

void ew_profiles_free(struct ew_profiles *profiles) {
  if (!profiles)
    return;
  g_array_unref(profiles->known);
  g_ptr_array_unref(profiles->maps);
  g_free(profiles);
}

static struct ew_channel_map *map_of(const char *yaml, GError **error) {
  struct ew_profile profile;
  if (!ew_profile_read(yaml, &profile, error))
    return NULL;
  g_autoptr(ew_node) root = ew_node_parse("profile", profile.map, strlen(profile.map), error);
  ew_profile_clear(&profile);
  return root ? ew_channel_map_read(root, "profile", error) : NULL;
}

static gboolean take_profile(struct ew_profiles *all, struct ew_book *book,
                             const struct ew_recorder_row *row, GError **error) {
  struct ew_channel_map *map = map_of(row->yaml, error);
  if (!map)
    return FALSE;
  g_ptr_array_add(all->maps, map);
  GError *problem = NULL;
  g_autoptr(GPtrArray) marks = ew_recorder_marks(book, row->name, &problem);
  for (guint i = 0; !problem && i < marks->len; i++) {
    struct known one = {g_strdup(marks->pdata[i]), map};
    g_array_append_val(all->known, one);
  }
  if (problem)
    g_propagate_error(error, problem);
  return problem == NULL;
}

struct ew_profiles *ew_profiles_read(struct ew_book *book, GError **error) {
  struct ew_profiles *all = g_new0(struct ew_profiles, 1);
  all->maps = g_ptr_array_new_with_free_func((GDestroyNotify)ew_channel_map_free);
  all->known = g_array_new(FALSE, FALSE, sizeof(struct known));
  g_array_set_clear_func(all->known, known_clear);
  GError *problem = NULL;
  g_autoptr(GArray) rows = ew_recorder_list(book, NULL, &problem);
  for (guint i = 0; !problem && i < rows->len; i++) {
    const struct ew_recorder_row *row = &g_array_index(rows, struct ew_recorder_row, i);
    gboolean last = i + 1 == rows->len ||
                    strcmp(row->name, g_array_index(rows, struct ew_recorder_row, i + 1).name) != 0;
    if (last && !row->withdrawn)
      take_profile(all, book, row, &problem);
  }
  if (!problem)
    return all;
  g_propagate_error(error, problem);
  ew_profiles_free(all);
  return NULL;
}

const struct ew_channel_map *ew_profiles_find(const struct ew_profiles *profiles,
                                              char *const *names, guint count) {
  if (!profiles || profiles->known->len == 0)
    return NULL;
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  g_checksum_update(sum, (const guchar *)"Time", sizeof "Time");
  for (guint i = 0; i < count; i++)
    g_checksum_update(sum, (const guchar *)names[i], (gssize)strlen(names[i]) + 1);
  for (guint i = 0; i < profiles->known->len; i++) {
    const struct known *one = &g_array_index(profiles->known, struct known, i);
    if (strcmp(one->fingerprint, g_checksum_get_string(sum)) == 0)
      return one->map;
  }
  return NULL;
}

EW_MESSAGE(session_former, "desk.session-reads-former", EW_CAUTION,
           "a session records now: its screen and its alarms go by the profiles of when it began, "
           "and its pulls are read by this one; end it and begin again before the next pull");

ew_message *ew_recorder_session(struct ew_book *book) {
  g_autoptr(GArray) open = ew_stream_unfinished(book, NULL);
  return open->len && ew_record_is_under_way(ew_book_path(book)) ? ew_message_plain(&session_former)
                                                                 : NULL;
}

/* The last version of this name; refuses one that is in use. */
static gboolean free_name(struct ew_book *book, const char *name, gint64 *version, GError **error) {
  struct ew_recorder_row row = {0};
  gboolean there = FALSE;
  if (!ew_recorder_get(book, name, 0, &row, &there, error))
    return FALSE;
  gboolean used = there && !row.withdrawn;
  *version = there ? row.version : 0;
  ew_recorder_row_clear(&row);
  return !used ||
         ew_refuse(error, "recorder '%s': already in this book; 'recorder amend' changes it", name);
}

static gboolean keep_like(const struct ew_desk *desk, const struct ew_recording_row *row,
                          const char *name, const char *who, char **yaml, GError **error) {
  g_autoptr(GBytes) bytes = ew_recording_file(row, error);
  if (!bytes)
    return FALSE;
  gsize size;
  const void *data = g_bytes_get_data(bytes, &size);
  struct ew_table_layout *layout = ew_table_look(data, size, row->name, error);
  g_autofree char *fingerprint = layout ? ew_fingerprint_of(layout) : NULL;
  ew_table_layout_free(layout);
  *yaml = fingerprint ? ew_profile_propose(desk, bytes, row->name, error) : NULL;
  return *yaml && ew_keep_recorder(desk->book, name, *yaml, who, fingerprint, error);
}

gboolean ew_recorder_keep_like(const struct ew_desk *desk, gint64 recording, const char *name,
                               const char *who, gint64 *version, char **yaml, GError **error) {
  struct ew_recording_row row = {0};
  *yaml = NULL;
  if (!free_name(desk->book, name, version, error) ||
      !ew_recording_get(desk->book, recording, &row, error))
    return FALSE;
  gboolean good = row.frames ? ew_refuse(error,
                                         "recording %" G_GINT64_FORMAT
                                         ": of a live session; its sources are in the "
                                         "sensors' file",
                                         recording)
                             : keep_like(desk, &row, name, who, yaml, error);
  ew_recording_row_clear(&row);
  *version += good;
  return good;
}
