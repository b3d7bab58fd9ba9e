/* Calibrations, zeros and check weights as they were done, oldest first; which channel one is of stands in its JSON. Whether the
 * load cell's is missing or overdue is asked here, of the last one. */
#include "base/error.h"
#include "book/origin.h"
#include "book/sql.h"
#include "book/store.h"
#include "book/write.h"
#include <string.h>

#define DB ew_book_port(book)

gboolean ew_calibration_add(struct ew_book *book, const struct ew_calibration_row *r,
                            GError **error) {
  g_assert(ew_book_is_writing(book));
  g_autofree char *now = ew_time_now();
  struct ew_origin o;
  return ew_origin_new(book, r->at ? r->at : now, &o, error) &&
         ew_sql_run(DB, error,
                    "INSERT INTO calibration (kind, at, valid_until, value, json, "
                    "note, " EW_ORIGIN_COLUMNS ") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                    "tttdtto", r->kind, r->at ? r->at : now, r->valid_until, r->value, r->json,
                    r->note, &o) &&
         ew_book_log(book, r->kind, r->note ? r->note : "", error);
}

static void calibration_row_clear(struct ew_calibration_row *r) {
  char **texts[] = {&r->kind, &r->at, &r->valid_until, &r->json, &r->note};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    g_clear_pointer(texts[i], g_free);
}

GArray *ew_calibration_list(struct ew_book *book, const char *kind, GError **error) {
  GArray *rows = g_array_new(FALSE, FALSE, sizeof(struct ew_calibration_row));
  g_array_set_clear_func(rows, (GDestroyNotify)calibration_row_clear);
  struct ew_port_rows *s = ew_sql_query(
      DB, error,
      "SELECT id, kind, at, valid_until, json, note, value FROM calibration WHERE kind = ?1 "
      "OR ?1 IS NULL ORDER BY at, id",
      "t", kind);
  while (ew_sql_next(s, error)) {
    struct ew_calibration_row row = {ew_sql_int(s, 0),   ew_sql_text(s, 1), ew_sql_text(s, 2),
                                     ew_sql_text(s, 3),  ew_sql_text(s, 4), ew_sql_text(s, 5),
                                     ew_sql_double(s, 6)};
    g_array_append_val(rows, row);
  }
  ew_sql_done(s);
  return rows;
}

enum ew_channel ew_calibration_channel(const struct ew_calibration_row *row) {
  g_autoptr(ew_node) root =
      row->json ? ew_node_parse("calibration", row->json, strlen(row->json), NULL) : NULL;
  const struct ew_node *channel = root ? ew_node_member(root, "channel") : NULL;
  return channel && channel->text ? ew_channel_by_key(channel->text) : EW_CHANNEL_TORQUE;
}

void ew_calibration_row_json(const void *row, struct ew_json *json) {
  const struct ew_calibration_row *r = row;
  ew_json_integer(json, "id", r->id);
  ew_json_text(json, "kind", r->kind);
  ew_json_text(json, "at", r->at);
  ew_json_text(json, "valid_until", r->valid_until);
  ew_json_number(json, "value", r->value);
  ew_json_text(json, "note", r->note);
}

EW_MESSAGE(not_calibrated, "book.not-calibrated", EW_CAUTION,
           "no calibration of the load cell is in the book");
EW_MESSAGE(calibration_expired, "book.calibration-expired", EW_CAUTION,
           "the calibration of the load cell expired on {day}");

static ew_message *overdue_of(const GArray *rows) {
  const struct ew_calibration_row *last = NULL;
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_calibration_row *row = &g_array_index(rows, struct ew_calibration_row, i);
    if (ew_calibration_channel(row) == EW_CHANNEL_TORQUE)
      last = row;
  }
  if (!last)
    return ew_message_plain(&not_calibrated);
  g_autofree char *now = ew_time_now();
  if (!last->valid_until || ew_time_parse(last->valid_until) >= ew_time_parse(now))
    return NULL;
  g_autofree char *day = g_strndup(last->valid_until, 10);
  return ew_message(&calibration_expired, ew_say_text("day", day));
}

gboolean ew_calibration_overdue(struct ew_book *book, ew_message **overdue, GError **error) {
  GError *problem = NULL;
  g_autoptr(GArray) rows = ew_calibration_list(book, "calibration", &problem);
  *overdue = problem ? NULL : overdue_of(rows);
  return ew_sql_tell(problem, error);
}
