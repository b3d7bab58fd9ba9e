/* What was found: rows that are added and taken back, never changed. */
#include "book/found.h"
#include "base/error.h"
#include "book/origin.h"
#include "book/sql.h"
#include "book/write.h"
#include <string.h>

#define DB ew_book_port(book)

static gboolean is_blank(const char *text) {
  return !text || strspn(text, " \t\r\n") == strlen(text);
}

static gboolean check_owner(struct ew_book *book, const char *belongs, gint64 id, GError **error) {
  gboolean trip = strcmp(belongs, EW_FOUND_TRIP) == 0;
  gboolean there;
  if (!ew_sql_is(DB, &there, error,
                 trip ? "SELECT count(*) FROM alarm_trip WHERE id = ?"
                      : "SELECT count(*) FROM pull WHERE id = ?",
                 "i", id))
    return FALSE;
  if (there)
    return TRUE;
  return trip ? ew_refuse_with(error, EW_REMEDY_LIST_TRIPS, "there is no trip %lld in this book",
                               (long long)id)
              : ew_refuse_with(error, EW_REMEDY_LIST_PULLS, "there is no pull %lld in this book",
                               (long long)id);
}

static gboolean check_texts(const char *text, const char *who, GError **error) {
  if (is_blank(text))
    return ew_refuse(error, "what was found: a text is needed, even when nothing was wrong");
  if (strlen(text) > EW_FOUND_BYTES)
    return ew_refuse(error, "what was found: %zu bytes, and at most %u are kept: shorten it",
                     strlen(text), EW_FOUND_BYTES);
  return !who || strlen(who) <= EW_WHO_BYTES ||
         ew_refuse(error, "who: %zu bytes, and at most %u are kept", strlen(who), EW_WHO_BYTES);
}

gint64 ew_found_add(struct ew_book *book, const char *belongs, gint64 owner_id, const char *text,
                    const char *who, GError **error) {
  g_assert(ew_book_is_writing(book));
  if (!check_owner(book, belongs, owner_id, error) || !check_texts(text, who, error))
    return 0;
  g_autofree char *now = ew_time_now();
  g_autofree char *plain = g_strstrip(g_strdup(text));
  g_autofree char *detail =
      g_strdup_printf("%s %" G_GINT64_FORMAT ": %s", belongs, owner_id, plain);
  struct ew_origin o;
  if (!ew_origin_new(book, now, &o, error))
    return 0;
  gint64 id = ew_sql_insert(
      DB, error,
      "INSERT INTO found (belongs, owner_id, at, who, text, " EW_ORIGIN_COLUMNS
      ") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
      "tittto", belongs, owner_id, now, is_blank(who) ? ew_book_who() : who, plain, &o);
  return id && ew_book_log(book, "what was found", detail, error) ? id : 0;
}

gboolean ew_found_withdraw(struct ew_book *book, const char *belongs, gint64 owner_id,
                           const char *why, GError **error) {
  g_assert(ew_book_is_writing(book));
  if (!check_owner(book, belongs, owner_id, error))
    return FALSE;
  if (is_blank(why))
    return ew_refuse(error, "give a reason: what is withdrawn keeps its place with it");
  gboolean there;
  if (!ew_sql_is(DB, &there, error,
                 "SELECT count(*) FROM found WHERE belongs = ? AND owner_id = ? AND withdrawn IS "
                 "NULL",
                 "ti", belongs, owner_id))
    return FALSE;
  if (!there)
    return ew_refuse(error, "nothing is written down for %s %" G_GINT64_FORMAT, belongs, owner_id);
  g_autofree char *detail = g_strdup_printf("%s %" G_GINT64_FORMAT ": %s", belongs, owner_id, why);
  return ew_sql_run(DB, error,
                    "UPDATE found SET withdrawn = ? WHERE belongs = ? AND owner_id = ? AND "
                    "withdrawn IS NULL",
                    "tti", why, belongs, owner_id) &&
         ew_book_log(book, "take back what was found", detail, error);
}

static void row_clear(void *data) {
  struct ew_found_row *r = data;
  char *texts[] = {r->belongs, r->at, r->who, r->text, r->withdrawn};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    g_free(texts[i]);
}

GArray *ew_found_list(struct ew_book *book, const char *belongs, gint64 owner_id, GError **error) {
  GArray *rows = g_array_new(FALSE, TRUE, sizeof(struct ew_found_row));
  g_array_set_clear_func(rows, row_clear);
  struct ew_port_rows *s =
      ew_sql_query(DB, error,
                   "SELECT id, owner_id, belongs, at, who, text, withdrawn FROM found "
                   "WHERE belongs = ?1 AND (?2 = 0 OR owner_id = ?2) ORDER BY id",
                   "ti", belongs, owner_id);
  while (ew_sql_next(s, error)) {
    struct ew_found_row row = {ew_sql_int(s, 0),  ew_sql_int(s, 1),  ew_sql_text(s, 2),
                               ew_sql_text(s, 3), ew_sql_text(s, 4), ew_sql_text(s, 5),
                               ew_sql_text(s, 6)};
    g_array_append_val(rows, row);
  }
  ew_sql_done(s);
  return rows;
}
