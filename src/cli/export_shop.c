/* What `book export` writes beside recordings and curves: engines as they were typed, and the shop as a whole.
 * Rights of paired devices belong to the machine (serve/devices.h) and are in no book. */
#include "cli/export_shop.h"
#include "base/error.h"
#include "book/store.h"
#include <string.h>

static gboolean write_file(const char *folder, const char *name, const char *text, gssize size,
                           GError **error) {
  g_autofree char *path = g_build_filename(folder, name, NULL);
  g_autoptr(GError) problem = NULL;
  return g_file_set_contents(path, text, size, &problem) || ew_fail(error, "%s", problem->message);
}

gboolean ew_export_engines(struct ew_book *book, const char *folder, GError **error) {
  g_autoptr(GPtrArray) names = ew_engine_names(book, error);
  gboolean good = names != NULL;
  for (guint i = 0; good && i < names->len; i++) {
    struct ew_engine_row row;
    if (!ew_engine_get(book, names->pdata[i], &row, error))
      return FALSE;
    g_autofree char *file = g_strdup_printf("engine-%" G_GINT64_FORMAT ".yaml", row.id);
    good = write_file(folder, file, row.yaml, -1, error);
    ew_engine_row_clear(&row);
  }
  return good;
}

static gboolean write_settings(struct ew_book *book, struct ew_json *json, GError **error) {
  static const char *const keys[] = {"shop",  "shop_line", "terms",          "units",
                                     "paper", "labels",    "sheet_language", "window",
                                     "cell",  "method",    "alarms"};
  gboolean good = TRUE;
  ew_json_open(json, "settings");
  for (gsize i = 0; i < G_N_ELEMENTS(keys); i++) {
    g_autofree char *value = NULL;
    good = good && ew_setting_get(book, keys[i], &value, error);
    ew_json_text(json, keys[i], value);
  }
  ew_json_close(json);
  return good;
}

static void write_calibration(const void *row, struct ew_json *json) {
  const struct ew_calibration_row *r = row;
  ew_json_text(json, "kind", r->kind);
  ew_json_text(json, "at", r->at);
  ew_json_text(json, "valid_until", r->valid_until);
  ew_json_number(json, "value", r->value);
  ew_json_text(json, "details", r->json);
  ew_json_text(json, "note", r->note);
}

static void write_answer(const void *row, struct ew_json *json) {
  const struct ew_verdict_row *v = row;
  ew_json_text(json, "at", v->at);
  ew_json_text(json, "question", v->question);
  ew_json_text(json, "pulls", v->pulls);
  ew_json_text(json, "readings", v->readings);
  g_autoptr(ew_message) says = ew_verdict_says(v);
  ew_message_write_member(says, "says", EW_UNITS_SI, json);
  ew_json_text(json, "details", v->json);
}

gboolean ew_export_shop(struct ew_book *book, const char *folder, GError **error) {
  g_autoptr(GArray) calibrations = ew_calibration_list(book, NULL, NULL);
  g_autoptr(GArray) answers = ew_verdict_list(book, 0, NULL);
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  gboolean good = write_settings(book, &json, error);
  ew_json_rows(&json, "calibrations", calibrations, write_calibration);
  ew_json_rows(&json, "answers", answers, write_answer);
  ew_json_open_array(&json, "log");
  ew_book_write_log(book, &json);
  ew_json_close_array(&json);
  ew_json_close(&json);
  good = good && write_file(folder, "shop.json", json.text->str, (gssize)json.text->len, error);
  g_string_free(json.text, TRUE);
  return good;
}
