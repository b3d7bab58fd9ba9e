/* Holds: rows that are added and answered, never changed otherwise. */
#include "book/hold.h"
#include "base/error.h"
#include "book/origin.h"
#include "book/sql.h"
#include "book/write.h"
#include <string.h>

#define DB ew_book_port(book)

static gboolean is_blank(const char *text) {
  return !text || strspn(text, " \t\r\n") == strlen(text);
}

/* The same question twice: it waits already, or somebody said of what the pull is now that it is right. */
static gboolean is_asked(struct ew_book *book, gint64 pull_id, const char *finding, gboolean *asked,
                         GError **error) {
  return ew_sql_is(DB, asked, error,
                   "SELECT count(*) FROM hold WHERE pull_id = ?1 AND finding = ?2 AND (answered_at "
                   "IS NULL OR (answer = 'right' AND id > coalesce((SELECT max(h.id) FROM hold h "
                   "WHERE h.pull_id = ?1 AND h.answer = 'amended'), 0)))",
                   "it", pull_id, finding);
}

static gboolean add_one(struct ew_book *book, gint64 pull_id, const ew_message *message,
                        guint *added, GError **error) {
  g_assert(pull_id > 0 && message);
  g_autofree char *finding = ew_message_write(message), *now = ew_time_now();
  gboolean asked;
  if (!is_asked(book, pull_id, finding, &asked, error) || asked)
    return asked;
  struct ew_origin o;
  g_autofree char *detail =
      g_strdup_printf("pull %" G_GINT64_FORMAT ": %s", pull_id, ew_message_id(message));
  *added += 1;
  return ew_origin_new(book, now, &o, error) &&
         ew_sql_run(DB, error,
                    "INSERT INTO hold (pull_id, finding, at, " EW_ORIGIN_COLUMNS
                    ") VALUES (?, ?, ?, ?, ?, ?, ?)",
                    "itto", pull_id, finding, now, &o) &&
         ew_book_log(book, "held", detail, error);
}

gboolean ew_hold_add(struct ew_book *book, gint64 pull_id, const GPtrArray *findings, guint *added,
                     GError **error) {
  g_assert(ew_book_is_writing(book));
  guint count = 0;
  gboolean good = TRUE;
  for (int severity = EW_SEVERITIES_COUNT; good && severity-- > 0;)
    for (guint i = 0; good && i < findings->len; i++)
      if ((int)ew_message_severity(findings->pdata[i]) == severity)
        good = add_one(book, pull_id, findings->pdata[i], &count, error);
  if (added)
    *added = count;
  return good;
}

static gboolean check_reason(const char *reason, GError **error) {
  if (is_blank(reason))
    return ew_refuse(error, "reason: say in a few words why it is right");
  return strlen(reason) <= EW_HOLD_REASON_BYTES ||
         ew_refuse(error, "reason: %zu bytes, and at most %u are kept: shorten it", strlen(reason),
                   EW_HOLD_REASON_BYTES);
}

static gboolean check_held(struct ew_book *book, gint64 pull_id, GError **error) {
  gboolean there, held;
  if (!ew_sql_is(DB, &there, error, "SELECT count(*) FROM pull WHERE id = ?", "i", pull_id) ||
      !ew_sql_is(DB, &held, error,
                 "SELECT count(*) FROM hold WHERE pull_id = ? AND answered_at IS NULL", "i",
                 pull_id))
    return FALSE;
  if (!there)
    return ew_refuse_with(error, EW_REMEDY_LIST_PULLS, "there is no pull %lld in this book",
                          (long long)pull_id);
  return held ||
         ew_refuse_with(error, EW_REMEDY_LIST_PULLS,
                        "pull %lld is not held: nothing waits for an answer", (long long)pull_id);
}

static gboolean answer(struct ew_book *book, gint64 pull_id, const char *how, gint64 amendment_id,
                       const char *who, const char *reason, GError **error) {
  g_assert((amendment_id != 0) == (strcmp(how, EW_HOLD_AMENDED) == 0));
  g_assert(strcmp(how, EW_HOLD_RIGHT) == 0 || strcmp(how, EW_HOLD_AMENDED) == 0);
  g_autofree char *now = ew_time_now();
  g_autofree char *amendment =
      amendment_id ? g_strdup_printf("%" G_GINT64_FORMAT, amendment_id) : NULL;
  return ew_sql_run(DB, error,
                    "UPDATE hold SET answered_at = ?, who = ?, answer = ?, reason = ?, "
                    "amendment_id = CAST(? AS INTEGER) WHERE pull_id = ? AND answered_at IS NULL",
                    "tttt"
                    "ti",
                    now, is_blank(who) ? ew_book_who() : who, how, reason, amendment, pull_id);
}

gboolean ew_hold_right(struct ew_book *book, gint64 pull_id, const char *who, const char *reason,
                       GError **error) {
  g_assert(ew_book_is_writing(book));
  if (!check_reason(reason, error) || !check_held(book, pull_id, error))
    return FALSE;
  g_autofree char *plain = g_strstrip(g_strdup(reason));
  g_autofree char *detail = g_strdup_printf("pull %" G_GINT64_FORMAT ": %s", pull_id, plain);
  return answer(book, pull_id, EW_HOLD_RIGHT, 0, who, plain, error) &&
         ew_book_log(book, "right as it is", detail, error);
}

gboolean ew_hold_amended(struct ew_book *book, gint64 pull_id, gint64 amendment_id, const char *who,
                         const char *reason, GError **error) {
  g_assert(ew_book_is_writing(book));
  return answer(book, pull_id, EW_HOLD_AMENDED, amendment_id, who, reason, error);
}

static void row_clear(void *data) {
  struct ew_hold_row *r = data;
  char *texts[] = {r->finding, r->at, r->answered_at, r->who, r->answer, r->reason};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    g_free(texts[i]);
}

GArray *ew_hold_list(struct ew_book *book, gint64 pull_id, GError **error) {
  GArray *rows = g_array_new(FALSE, TRUE, sizeof(struct ew_hold_row));
  g_array_set_clear_func(rows, row_clear);
  struct ew_port_rows *s = ew_sql_query(
      DB, error,
      "SELECT id, pull_id, amendment_id, finding, at, answered_at, who, answer, reason "
      "FROM hold WHERE ?1 = 0 OR pull_id = ?1 ORDER BY id",
      "i", pull_id);
  while (ew_sql_next(s, error)) {
    struct ew_hold_row row = {ew_sql_int(s, 0),  ew_sql_int(s, 1),  ew_sql_int(s, 2),
                              ew_sql_text(s, 3), ew_sql_text(s, 4), ew_sql_text(s, 5),
                              ew_sql_text(s, 6), ew_sql_text(s, 7), ew_sql_text(s, 8)};
    g_array_append_val(rows, row);
  }
  ew_sql_done(s);
  return rows;
}
