/* Notes, written once and taken back by a mark with a reason; each write is a line of the change log. */
#include "book/note.h"
#include "base/error.h"
#include "book/origin.h"
#include "book/sql.h"
#include "book/write.h"
#include <math.h>
#include <string.h>

#define DB ew_book_port(book)

static gboolean is_text(const char *text, GError **error) {
  gsize length = text ? strlen(text) : 0;
  if (length == 0 || strspn(text, " \t\n") == length)
    return ew_refuse(error, "note: write a text");
  if (length > EW_NOTE_BYTES)
    return ew_refuse(error, "note: %zu bytes, and at most %u are kept: split it in two", length,
                     EW_NOTE_BYTES);
  return TRUE;
}

gint64 ew_note_add(struct ew_book *book, const char *at, const char *text, gboolean *added,
                   GError **error) {
  g_assert(ew_book_is_writing(book));
  g_autofree char *now = ew_time_now();
  *added = FALSE;
  if (!is_text(text, error))
    return 0;
  if (isnan(ew_time_parse(at)) || strlen(at) > 40 || !g_str_has_suffix(at, "Z")) {
    ew_refuse(error, "at: '%.40s' is not a time in UTC such as 2026-11-25T14:05:09.120Z", at);
    return 0;
  }
  gint64 there;
  if (!ew_sql_number(DB, &there, error, "SELECT id FROM note WHERE at = ? AND text = ?", "tt", at,
                     text) ||
      there)
    return there;
  struct ew_origin o;
  if (!ew_origin_new(book, at, &o, error))
    return 0;
  gint64 id = ew_sql_insert(DB, error,
                            "INSERT INTO note (at, who, text, kept_at, " EW_ORIGIN_COLUMNS
                            ") VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
                            "tttto", at, ew_book_who(), text, now, &o);
  *added = id != 0;
  return id && ew_book_log(book, "note", text, error) ? id : 0;
}

static void row_clear(void *data) {
  struct ew_note_row *r = data;
  char *texts[] = {r->day, r->at, r->who, r->text, r->withdrawn};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    g_free(texts[i]);
}

GArray *ew_note_list(struct ew_book *book, const char *day, GError **error) {
  GArray *rows = g_array_new(FALSE, TRUE, sizeof(struct ew_note_row));
  g_array_set_clear_func(rows, row_clear);
  struct ew_port_rows *s =
      ew_sql_query(DB, error,
                   "SELECT id, day, at, who, text, withdrawn FROM note WHERE day = "
                   "?1 OR ?1 IS NULL ORDER BY at, id",
                   "t", day);
  while (ew_sql_next(s, error)) {
    struct ew_note_row row = {ew_sql_int(s, 0),  ew_sql_text(s, 1), ew_sql_text(s, 2),
                              ew_sql_text(s, 3), ew_sql_text(s, 4), ew_sql_text(s, 5)};
    g_array_append_val(rows, row);
  }
  ew_sql_done(s);
  return rows;
}

gboolean ew_note_withdraw(struct ew_book *book, gint64 id, const char *why, GError **error) {
  g_assert(ew_book_is_writing(book));
  g_autofree char *detail =
      g_strdup_printf("note %" G_GINT64_FORMAT ": %s", id, why ? why : "stands again");
  gboolean there;
  if (!ew_sql_is(DB, &there, error, "SELECT count(*) FROM note WHERE id = ?", "i", id))
    return FALSE;
  if (!there)
    return ew_refuse(error, "there is no note %" G_GINT64_FORMAT " in this book", id);
  return ew_sql_run(DB, error, "UPDATE note SET withdrawn = ? WHERE id = ?", "ti", why, id) &&
         ew_book_log(book, why ? "take back a note" : "put back a note", detail, error);
}
