/* The kind of the row is another one then, so no reader takes it for what it was; value and JSON stay. */
#include "book/calibration_back.h"
#include "base/error.h"
#include "base/language.h"
#include "book/sql.h"
#include "book/write.h"
#include <string.h>

#define DB           ew_book_port(book)
#define REASON_BYTES 400u

void ew_calibration_back_clear(struct ew_calibration_row *r) {
  char **texts[] = {&r->kind, &r->at, &r->valid_until, &r->json, &r->note};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    g_clear_pointer(texts[i], g_free);
}

gboolean ew_calibration_find(struct ew_book *book, gint64 id, struct ew_calibration_row *row,
                             GError **error) {
  struct ew_port_rows *s = ew_sql_query(
      DB, error,
      "SELECT id, kind, at, valid_until, json, note, value FROM calibration WHERE id = ?", "i", id);
  *row = (struct ew_calibration_row){0};
  gboolean there = ew_sql_next(s, error);
  if (there)
    *row = (struct ew_calibration_row){ew_sql_int(s, 0),   ew_sql_text(s, 1), ew_sql_text(s, 2),
                                       ew_sql_text(s, 3),  ew_sql_text(s, 4), ew_sql_text(s, 5),
                                       ew_sql_double(s, 6)};
  ew_sql_done(s);
  if (there && !g_str_has_suffix(row->kind, EW_CALIBRATION_BACK))
    return TRUE;
  ew_calibration_back_clear(row);
  if (error && *error)
    return FALSE;
  if (there)
    return ew_refuse(error, "number %lld was taken back already", (long long)id);
  return ew_refuse(error,
                   "there is no calibration, zero or check weight of number %lld: 'cell "
                   "calibrations' lists them",
                   (long long)id);
}

/* How such a row is called from then on; NULL: there is no such kind. */
static const char *back_kind(const char *kind) {
  static const char *const kinds[] = {EW_TEXT("calibration, taken back"),
                                      EW_TEXT("zero, taken back"),
                                      EW_TEXT("check weight, taken back")};
  for (gsize i = 0; i < G_N_ELEMENTS(kinds); i++)
    if (g_str_has_prefix(kinds[i], kind) &&
        strlen(kinds[i]) == strlen(kind) + strlen(EW_CALIBRATION_BACK))
      return kinds[i];
  return NULL;
}

struct back {
  gint64 id;
  const char *reason;
};

static gboolean body(struct ew_book *book, gpointer user, GError **error) {
  const struct back *b = user;
  struct ew_calibration_row row;
  if (!ew_calibration_find(book, b->id, &row, error))
    return FALSE;
  const char *kind = back_kind(row.kind);
  g_autofree char *note =
      g_strconcat(row.note ? row.note : "", row.note && *row.note ? "; " : "", b->reason, NULL);
  ew_calibration_back_clear(&row);
  if (!kind)
    return ew_refuse(error, "number %lld is nothing that could be taken back", (long long)b->id);
  return ew_sql_run(DB, error, "UPDATE calibration SET kind = ?, note = ? WHERE id = ?", "tti",
                    kind, note, b->id) &&
         ew_book_log(book, kind, b->reason, error);
}

gboolean ew_keep_calibration_back(struct ew_book *book, gint64 id, const char *reason,
                                  GError **error) {
  struct back b = {id, reason};
  if (!reason || strspn(reason, " \t\r\n") == strlen(reason))
    return ew_refuse(error, "reason: say in a few words why; it is kept with the row");
  if (strlen(reason) > REASON_BYTES)
    return ew_refuse(error, "reason: %zu bytes, and at most %u are kept: shorten it",
                     strlen(reason), REASON_BYTES);
  return ew_book_write(book, body, &b, error);
}
