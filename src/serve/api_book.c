/* The book as a whole, and the units in which figures are shown. */
#include "base/error.h"
#include "base/labels.h"
#include "base/language.h"
#include "base/zone.h"
#include "desk/sheet_head.h"
#include "book/keep.h"
#include "desk/day.h"
#include "pull/channel.h"
#include "pull/correct.h"
#include "serve/service.h"
#include <string.h>

static void write_system(struct ew_json *json, const char *key, enum ew_kind kind,
                         enum ew_unit_system system) {
  double offset = ew_shown(kind, system, 0);
  ew_json_open(json, key);
  ew_json_text(json, "unit", ew_kind_shown(kind, system));
  ew_json_number(json, "scale", ew_shown(kind, system, 1) - offset);
  ew_json_number(json, "offset", offset);
  ew_json_close(json);
}

/* shown = scale * inside + offset, so that the page needs no table of its own. */
static void write_kinds(struct ew_json *json) {
  ew_json_open_array(json, "kinds");
  for (int kind = 0; kind < EW_KINDS_COUNT; kind++) {
    ew_json_open(json, NULL);
    ew_json_text(json, "name", ew_kind_name((enum ew_kind)kind));
    ew_json_text(json, "suffix", ew_kind_suffix((enum ew_kind)kind));
    write_system(json, "si", (enum ew_kind)kind, EW_UNITS_SI);
    write_system(json, "us", (enum ew_kind)kind, EW_UNITS_US);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static void write_channels(struct ew_json *json) {
  ew_json_open(json, "channels");
  for (int i = 0; i < EW_CHANNELS_COUNT; i++)
    if (ew_channel_facts[i].in_curve)
      ew_json_text(json, ew_channel_facts[i].key, ew_channel_facts[i].label);
  ew_json_close(json);
}

static void write_standards(struct ew_json *json) {
  ew_json_open_array(json, "standards");
  for (int i = 0; i < EW_STANDARDS_COUNT; i++) {
    ew_json_open(json, NULL);
    ew_json_text(json, "key", ew_standard_keys[i]);
    ew_json_text(json, "title", ew_standard_titles[i]);
    ew_json_text(json, "reference", ew_standard_references[i]);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

/* The words in which British and American labels differ, so that the page needs no table of its own. */
static void write_labels(struct ew_json *json) {
  ew_json_open(json, "label_rule");
  ew_json_text(json, "not_after", EW_LABELS_NOT_AFTER);
  ew_json_text(json, "not_before", EW_LABELS_NOT_BEFORE);
  ew_json_close(json);
  ew_json_open_array(json, "label_pairs");
  for (gsize i = 0; i < ew_label_pairs_count; i++) {
    ew_json_open(json, NULL);
    for (int k = 0; k < EW_LABELS_COUNT; k++)
      ew_json_text(json, ew_labels_names[k], ew_label_pairs[i].word[k]);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static const char *const settings[] = {"shop",   "shop_line", "terms", "units",          "paper",
                                       "labels", "window",    "zone",  EW_SHEET_LANGUAGE};

gboolean ew_api_book(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                     GError **error) {
  struct ew_json *json = &reply->json;
  gint64 pulls;
  if (!ew_pull_count(s->book, 0, &pulls, error))
    return FALSE;
  g_autofree char *name = g_path_get_basename(ew_book_path(s->book));
  g_autofree char *identity = ew_book_identity(s->book, error);
  g_autoptr(ew_message) overdue = NULL;
  struct ew_engine_row engine;
  gboolean empty;
  if (!identity || !ew_calibration_overdue(s->book, &overdue, error) ||
      !ew_book_is_empty(s->book, &empty, error) || !ew_engine_find(s->book, NULL, &engine, error))
    return FALSE;
  ew_json_text(json, "program", "enginewright " EW_VERSION);
  ew_json_text(json, "book", name);
  ew_json_text(json, "identity", identity);
  ew_json_boolean(json, "empty", empty);
  ew_json_boolean(json, "may_write", r->may_write);
  ew_json_integer(json, "pulls", pulls);
  ew_json_boolean(json, "has_engine", engine.id != 0);
  ew_json_text(json, "engine", engine.name);
  ew_json_integer(json, "engine_id", engine.id);
  ew_engine_row_clear(&engine);
  ew_json_boolean(json, "lan", s->lan);
  ew_json_boolean(json, "clear_text", s->lan && !s->tls);
  ew_json_boolean(json, "practice", s->practice != NULL);
  ew_message_write_member(overdue, "calibration_overdue", EW_UNITS_SI, json);
  gboolean good = TRUE;
  ew_json_open(json, "settings");
  for (gsize i = 0; i < G_N_ELEMENTS(settings); i++) {
    g_autofree char *value = NULL;
    good = good && ew_setting_get(s->book, settings[i], &value, error);
    ew_json_text(json, settings[i], value);
  }
  ew_json_close(json);
  write_kinds(json);
  write_labels(json);
  write_channels(json);
  write_standards(json);
  return good;
}

/* A test day of an invented engine: the same that `enginewright demo` runs, in the book that is open. */
gboolean ew_api_demo(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                     GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body)
    return FALSE;
  g_autoptr(ew_node) script =
      ew_node_parse("the invented day", s->practice, strlen(s->practice), error);
  if (!script || !ew_run_demo(s->book, script, "the invented day", NULL, NULL, NULL, error))
    return FALSE;
  g_autoptr(GArray) rows = ew_pull_list(s->book, 0, NULL);
  ew_json_integer(&reply->json, "pulls", rows->len);
  reply->changed = TRUE;
  return TRUE;
}

/* What the customer's window shows: keys of channels with commas, and "power". */
static gboolean check_window(const char *value, GError **error) {
  g_auto(GStrv) keys = g_strsplit(value, ",", -1);
  for (int i = 0; keys[i]; i++)
    if (strcmp(keys[i], "power") && ew_channel_by_key(keys[i]) == EW_CHANNELS_COUNT)
      return ew_refuse(error, "window: '%.40s' is neither a channel nor 'power'", keys[i]);
  return TRUE;
}

static gboolean check_setting(const char *key, const char *value, GError **error) {
  enum ew_labels labels;
  if (strlen(value) > 400)
    return ew_refuse(error, "%s: longer than 400 bytes", key);
  if (strcmp(key, "units") == 0 && strcmp(value, "si") && strcmp(value, "us"))
    return ew_refuse(error, "units: '%s' is neither si nor us", value);
  if (strcmp(key, "paper") == 0 && strcmp(value, "a4") && strcmp(value, "letter"))
    return ew_refuse(error, "paper: '%s' is neither a4 nor letter", value);
  if (strcmp(key, "window") == 0)
    return check_window(value, error);
  if (strcmp(key, "zone") == 0) {
    g_autoptr(GTimeZone) zone = ew_zone_find(value, error);
    return zone != NULL;
  }
  if (strcmp(key, EW_SHEET_LANGUAGE) == 0 && *value)
    return ew_language_find(value, error) != NULL;
  if (strcmp(key, "labels") == 0 && !ew_labels_find(value, &labels))
    return ew_refuse(error, "labels: '%s' is neither british nor american", value);
  return TRUE;
}

static gboolean store(struct ew_service *s, const struct ew_node *body, GError **error) {
  g_autoptr(GArray) kept = g_array_new(FALSE, FALSE, sizeof(struct ew_setting));
  for (guint i = 0; i < body->children->len; i++) {
    const struct ew_node *child = g_ptr_array_index(body->children, i);
    gboolean known = FALSE;
    for (gsize k = 0; k < G_N_ELEMENTS(settings); k++)
      known |= strcmp(child->key, settings[k]) == 0;
    known |= strcmp(child->key, "logo") == 0 && g_strcmp0(child->text, "") == 0; /* taken away */
    if (!known || child->kind != EW_NODE_SCALAR)
      return ew_refuse(error, "'%s' is not a setting of the shop", child->key);
    if (!check_setting(child->key, child->text, error)) {
      ew_error_at_field(error, child->key);
      return FALSE;
    }
    struct ew_setting one = {.key = child->key, .value = child->text};
    g_array_append_val(kept, one);
  }
  return ew_keep_settings(s->book, (const struct ew_setting *)(void *)kept->data, kept->len, error);
}

gboolean ew_api_settings(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                         GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body || !store(s, body, error))
    return FALSE;
  reply->changed = TRUE;
  return TRUE;
}
