/* Two marks of a book's state: the store's counts of changes by this connection and by others (O(1)), and digests of
 * the rows that answers depend on (O(pulls), exact). */
#include "book/change.h"
#include "book/sql.h"
#include <string.h>

#define DB ew_book_port(book)

struct ew_change ew_book_change(struct ew_book *book) {
  struct ew_port_change now;
  g_autoptr(GError) unread = NULL; /* the mark says it */
  gboolean known = DB->class->change(DB, &now, &unread);
  return known ? (struct ew_change){TRUE, now.by_others, now.by_this} : (struct ew_change){0};
}

gboolean ew_change_is_same(struct ew_change a, struct ew_change b) {
  return a.known && b.known && a.by_others == b.by_others && a.by_this == b.by_this;
}

gboolean ew_book_last_kept(struct ew_book *book, struct ew_last_kept *last, GError **error) {
  return ew_sql_number(DB, &last->change, error, "SELECT max(id) FROM change_log", "") &&
         ew_sql_number(DB, &last->recording, error, "SELECT max(id) FROM recording", "") &&
         ew_sql_number(DB, &last->pull, error, "SELECT max(id) FROM pull", "");
}

/* While blocks come, what a program of ours changes is a line of the change log or shows in the pulls. */
char *ew_book_change_but_blocks(struct ew_book *book) {
  static const char *const marks[] = {"SELECT max(id) FROM change_log",
                                      "SELECT max(recording_id) FROM stream",
                                      "SELECT count(*) FROM stream WHERE ended_at IS NULL",
                                      "SELECT count(*) FROM stream_pull",
                                      "SELECT max(id) FROM mark",
                                      "SELECT max(id) FROM alarm_trip",
                                      "SELECT max(id) FROM recording",
                                      "SELECT max(id) FROM pull"};
  GString *text = g_string_new(NULL);
  gint64 number;
  gboolean under_way;
  for (gsize i = 0; i < G_N_ELEMENTS(marks); i++)
    if (ew_sql_number(DB, &number, NULL, marks[i], ""))
      g_string_append_printf(text, "%" G_GINT64_FORMAT " ", number);
    else
      return g_string_free(text, TRUE); /* NULL */
  g_autofree char *pulls = ew_pulls_digest(book);
  struct ew_change now = ew_book_change(book);
  if (!pulls || !now.known)
    return g_string_free(text, TRUE);
  g_string_append(text, pulls);
  if (!ew_sql_is(DB, &under_way, NULL, "SELECT count(*) FROM stream WHERE ended_at IS NULL", "") ||
      !under_way)
    g_string_append_printf(text, " %" G_GINT64_FORMAT " %" G_GINT64_FORMAT, now.by_others,
                           now.by_this);
  return g_string_free(text, FALSE);
}

/* FALSE when it can't be read. */
static gboolean add_rows(struct ew_book *book, const char *sql, GChecksum *sum) {
  g_autoptr(GError) problem = NULL;
  struct ew_port_rows *s = ew_sql_query(DB, &problem, sql, "");
  while (ew_sql_next(s, &problem))
    for (int i = 0; i < s->port->class->columns(s); i++) {
      const char *text = ew_sql_peek(s, i);
      g_checksum_update(sum, (const guchar *)(text ? text : ""),
                        text ? (gssize)strlen(text) + 1 : 1);
    }
  ew_sql_done(s);
  g_checksum_update(sum, (const guchar *)"\n", 1); /* a row of one table is not one of the next */
  return problem == NULL;
}

/* Whether a pull counts follows from the trips in it (ew_pull_counts). */
char *ew_pulls_digest(struct ew_book *book) {
  static const char *const parts[] = {
      "SELECT p.id, p.engine_id, p.run, p.mounting, p.day, p.at, p.kind, p.purpose, p.setup, "
      "p.discarded IS NOT NULL, p.told, EXISTS (SELECT 1 FROM hold h WHERE h.pull_id = p.id AND "
      "h.answered_at IS NULL), c.digest, c.reduction FROM pull p LEFT JOIN curve c ON c.pull_id = "
      "p.id ORDER BY p.id",
      "SELECT id, recording_id, time_s, name, action, says FROM alarm_trip ORDER BY id",
      "SELECT trip_id, recording_id, time_s FROM trip_time ORDER BY trip_id, recording_id",
      "SELECT recording_id, from_s, to_s, cut_id FROM stream_pull ORDER BY cut_id",
      "SELECT id, belongs, owner_id, text, withdrawn FROM found ORDER BY id"};
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  for (gsize i = 0; i < G_N_ELEMENTS(parts); i++)
    if (!add_rows(book, parts[i], sum))
      return NULL;
  return g_strdup(g_checksum_get_string(sum));
}
