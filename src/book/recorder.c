/* Profiles as rows: a version is added, never changed. */
#include "book/recorder.h"
#include "base/error.h"
#include "book/origin.h"
#include "book/sql.h"
#include "book/write.h"
#include <string.h>

#define DB      ew_book_port(book)
#define COLUMNS "id, version, name, yaml, at, who, withdrawn"

static gboolean is_blank(const char *text) {
  return !text || strspn(text, " \t\r\n") == strlen(text);
}

static gboolean check_name(const char *name, GError **error) {
  if (is_blank(name))
    return ew_refuse(error, "recorder: give it a name, such as the one on its case");
  if (strlen(name) > EW_RECORDER_NAME_BYTES)
    return ew_refuse(error, "recorder: a name of %zu bytes, and at most %u are kept: shorten it",
                     strlen(name), EW_RECORDER_NAME_BYTES);
  return !strpbrk(name, ".\r\n") ||
         ew_refuse(error, "recorder '%s': a name has no dot and no line end", name);
}

gint64 ew_recorder_add(struct ew_book *book, const char *name, const char *yaml, const char *who,
                       GError **error) {
  g_assert(ew_book_is_writing(book));
  gint64 last;
  g_autofree char *now = ew_time_now();
  struct ew_origin o;
  if (!check_name(name, error) ||
      !ew_sql_number(DB, &last, error, "SELECT max(version) FROM recorder WHERE name = ?", "t",
                     name) ||
      !ew_origin_new(book, now, &o, error))
    return 0;
  gint64 id =
      ew_sql_insert(DB, error,
                    "INSERT INTO recorder (name, version, yaml, at, who, " EW_ORIGIN_COLUMNS
                    ") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
                    "tittto", name, last + 1, yaml, now, is_blank(who) ? ew_book_who() : who, &o);
  return id && ew_book_log(book, "recorder", name, error) ? id : 0;
}

gboolean ew_recorder_withdraw(struct ew_book *book, const char *name, const char *why,
                              GError **error) {
  g_assert(ew_book_is_writing(book));
  gboolean there;
  if (is_blank(why))
    return ew_refuse(error, "give a reason: what is withdrawn keeps its place with it");
  if (!ew_sql_is(DB, &there, error,
                 "SELECT count(*) FROM recorder WHERE name = ? AND withdrawn IS NULL", "t", name))
    return FALSE;
  if (!there)
    return ew_refuse(error, "recorder '%s': no such recorder in this book", name);
  g_autofree char *detail = g_strdup_printf("%s: %s", name, why);
  return ew_sql_run(DB, error,
                    "UPDATE recorder SET withdrawn = ? WHERE name = ? AND withdrawn IS NULL", "tt",
                    why, name) &&
         ew_book_log(book, "take back a recorder", detail, error);
}

gboolean ew_recorder_mark(struct ew_book *book, const char *fingerprint, const char *name,
                          GError **error) {
  g_assert(ew_book_is_writing(book));
  g_autofree char *now = ew_time_now();
  gboolean good =
      name ? ew_sql_run(DB, error,
                        "INSERT INTO recorder_mark (fingerprint, name, at) VALUES (?, ?, ?) ON "
                        "CONFLICT(fingerprint) DO UPDATE SET name = excluded.name, at = "
                        "excluded.at",
                        "ttt", fingerprint, name, now)
           : ew_sql_run(DB, error, "DELETE FROM recorder_mark WHERE fingerprint = ?", "t",
                        fingerprint);
  return good && ew_book_log(book, "recorder's mark", name ? name : "", error);
}

static struct ew_recorder_row row_of(struct ew_port_rows *s) {
  return (struct ew_recorder_row){ew_sql_int(s, 0),  ew_sql_int(s, 1),  ew_sql_text(s, 2),
                                  ew_sql_text(s, 3), ew_sql_text(s, 4), ew_sql_text(s, 5),
                                  ew_sql_text(s, 6)};
}

static gboolean take_one(struct ew_port_rows *s, GError *problem, struct ew_recorder_row *row,
                         gboolean *found, GError **error) {
  *row = (struct ew_recorder_row){0};
  *found = ew_sql_next(s, &problem);
  if (*found)
    *row = row_of(s);
  ew_sql_done(s);
  return ew_sql_tell(problem, error);
}

gboolean ew_recorder_get(struct ew_book *book, const char *name, gint64 version,
                         struct ew_recorder_row *row, gboolean *found, GError **error) {
  GError *problem = NULL;
  struct ew_port_rows *s =
      ew_sql_query(DB, &problem,
                   "SELECT " COLUMNS " FROM recorder WHERE name = ?1 AND (?2 = 0 OR version = "
                   "?2) ORDER BY version DESC LIMIT 1",
                   "ti", name, version);
  return take_one(s, problem, row, found, error);
}

gboolean ew_recorder_of(struct ew_book *book, const char *fingerprint, struct ew_recorder_row *row,
                        gboolean *found, GError **error) {
  GError *problem = NULL;
  struct ew_port_rows *s = ew_sql_query(
      DB, &problem,
      "SELECT " COLUMNS
      " FROM recorder WHERE name = (SELECT m.name FROM recorder_mark m WHERE m.fingerprint = ?) "
      "AND withdrawn IS NULL ORDER BY version DESC LIMIT 1",
      "t", fingerprint);
  return take_one(s, problem, row, found, error);
}

GArray *ew_recorder_list(struct ew_book *book, const char *name, GError **error) {
  GArray *rows = g_array_new(FALSE, TRUE, sizeof(struct ew_recorder_row));
  g_array_set_clear_func(rows, (GDestroyNotify)ew_recorder_row_clear);
  struct ew_port_rows *s = ew_sql_query(
      DB, error,
      "SELECT " COLUMNS " FROM recorder WHERE name = ?1 OR ?1 IS NULL ORDER BY name, version", "t",
      name);
  while (ew_sql_next(s, error)) {
    struct ew_recorder_row row = row_of(s);
    g_array_append_val(rows, row);
  }
  ew_sql_done(s);
  return rows;
}

GPtrArray *ew_recorder_marks(struct ew_book *book, const char *name, GError **error) {
  GPtrArray *marks = g_ptr_array_new_with_free_func(g_free);
  struct ew_port_rows *s = ew_sql_query(
      DB, error, "SELECT fingerprint FROM recorder_mark WHERE name = ? ORDER BY at, fingerprint",
      "t", name);
  while (ew_sql_next(s, error))
    g_ptr_array_add(marks, ew_sql_text(s, 0));
  ew_sql_done(s);
  return marks;
}

void ew_recorder_row_clear(struct ew_recorder_row *r) {
  char **texts[] = {&r->name, &r->yaml, &r->at, &r->who, &r->withdrawn};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    g_clear_pointer(texts[i], g_free);
}
