/* Answers as rows: what was asked about which readings of which pulls. An answer is on an earlier reading when a pull that
 * it was asked about was amended since; answers of before pulls could be amended are of their first readings. */
#include "book/store.h"
#include "base/as_pointer.h"
#include "base/error.h"
#include "book/origin.h"
#include "book/sql.h"
#include "book/write.h"
#include <string.h>

#define DB ew_book_port(book)

/* ---- readings ---- */

/* Those that are no longer the first, by pull. NULL with *error. O(pulls). */
static GHashTable *readings_now(struct ew_book *book, GError **error) {
  GError *problem = NULL;
  GHashTable *now = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, g_free);
  struct ew_port_rows *s =
      ew_sql_query(DB, &problem, "SELECT id, reading FROM pull WHERE reading > 1", "");
  while (ew_sql_next(s, &problem)) {
    gint64 both[] = {ew_sql_int(s, 0), ew_sql_int(s, 1)};
    g_hash_table_insert(now, g_memdup2(&both[0], sizeof both[0]),
                        g_memdup2(&both[1], sizeof both[1]));
  }
  ew_sql_done(s);
  if (ew_sql_tell(problem, error))
    return now;
  g_hash_table_unref(now);
  return NULL;
}

static gint64 reading_of(GHashTable *now, gint64 pull) {
  const gint64 *reading = g_hash_table_lookup(now, &pull);
  return reading ? *reading : 1;
}

static void append_readings(GString *text, GArray *ids, GHashTable *now) {
  for (guint i = 0; i < ids->len; i++) {
    gint64 id = g_array_index(ids, gint64, i);
    g_string_append_printf(text, "%s%" G_GINT64_FORMAT ".%" G_GINT64_FORMAT, i ? "," : "", id,
                           reading_of(now, id));
  }
}

/* "8,10:9" -> "8.1,10.2:9.1", as they are now. */
static char *readings_of(struct ew_book *book, const char *pulls, GError **error) {
  g_autoptr(GHashTable) now = readings_now(book, error);
  if (!now)
    return NULL;
  g_autoptr(GArray) a = g_array_new(FALSE, FALSE, sizeof(gint64));
  g_autoptr(GArray) b = g_array_new(FALSE, FALSE, sizeof(gint64));
  ew_asked_read(pulls, a, b);
  GString *text = g_string_new(NULL);
  append_readings(text, a, now);
  if (b->len) {
    g_string_append_c(text, ':');
    append_readings(text, b, now);
  }
  return g_string_free(text, FALSE);
}

/* Walks "8.1,10.2:9.1"; whatever else stands there is stepped over. */
static gboolean is_earlier(const struct ew_verdict_row *row, GHashTable *now) {
  g_autoptr(GArray) a = g_array_new(FALSE, FALSE, sizeof(gint64));
  if (!row->readings) {
    ew_asked_read(row->pulls, a, a);
    for (guint i = 0; i < a->len; i++)
      if (reading_of(now, g_array_index(a, gint64, i)) > 1)
        return TRUE;
    return FALSE;
  }
  for (const char *at = row->readings; *at;) {
    char *end = ew_as_pointer(at);
    gint64 id = g_ascii_strtoll(at, &end, 10);
    if (end == at || *end != '.') {
      at = end == at ? at + 1 : end;
      continue;
    }
    at = end + 1;
    if (g_ascii_strtoll(at, &end, 10) < reading_of(now, id))
      return TRUE;
    at = end;
  }
  return FALSE;
}

/* ---- rows ---- */

gboolean ew_verdict_add(struct ew_book *book, const struct ew_verdict_row *r, GError **error) {
  g_assert(ew_book_is_writing(book));
  g_autofree char *now = ew_time_now();
  g_autofree char *engine =
      r->engine_id ? g_strdup_printf("%" G_GINT64_FORMAT, r->engine_id) : NULL;
  g_autofree char *readings =
      r->readings ? g_strdup(r->readings) : readings_of(book, r->pulls, error);
  struct ew_origin o;
  return readings && ew_origin_new(book, now, &o, error) &&
         ew_sql_run(DB, error,
                    "INSERT INTO verdict (at, engine_id, question, pair, pulls, says, "
                    "json, readings, " EW_ORIGIN_COLUMNS
                    ") VALUES (?, CAST(? AS INTEGER), ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                    "tttttttto", now, engine, r->question, r->pair, r->pulls, r->says, r->json,
                    readings, &o) &&
         ew_book_log(book, r->question, r->pulls, error);
}

gboolean ew_verdict_looks(struct ew_book *book, const char *pair, const char *pulls, int *looks,
                          GError **error) {
  gint64 others;
  gboolean good = ew_sql_number(
      DB, &others, error, "SELECT count(DISTINCT pulls) FROM verdict WHERE pair = ? AND pulls <> ?",
      "tt", pair, pulls);
  *looks = (int)others;
  return good;
}

EW_MESSAGE(one_pull, "book.pull", EW_NOTE, "pull {pulls}");
EW_MESSAGE(several_pulls, "book.pulls", EW_NOTE, "pulls {pulls}");
EW_MESSAGE(against, "book.against", EW_NOTE, "{one} against {other}");

static void append_ids(GString *text, const GArray *ids) {
  for (guint i = 0; i < ids->len; i++)
    g_string_append_printf(text, "%s%" G_GINT64_FORMAT, i ? "," : "",
                           g_array_index(ids, gint64, i));
}

char *ew_asked_write(const GArray *a, const GArray *b) {
  GString *text = g_string_new(NULL);
  append_ids(text, a);
  if (b->len) {
    g_string_append_c(text, ':');
    append_ids(text, b);
  }
  return g_string_free(text, FALSE);
}

void ew_asked_read(const char *text, GArray *a, GArray *b) {
  GArray *side = a;
  for (const char *at = text; *at;)
    if (g_ascii_isdigit(*at)) {
      char *end;
      gint64 id = (gint64)g_ascii_strtoull(at, &end, 10);
      g_array_append_val(side, id);
      at = end;
    } else {
      if (*at == ':')
        side = b;
      at++;
    }
}

static ew_message *side_message(const GArray *ids) {
  g_autoptr(GString) text = g_string_new(NULL);
  for (guint i = 0; i < ids->len; i++)
    g_string_append_printf(text, "%s%" G_GINT64_FORMAT, i ? ", " : "",
                           g_array_index(ids, gint64, i));
  return ew_message(ids->len == 1 ? &one_pull : &several_pulls, ew_say_text("pulls", text->str));
}

ew_message *ew_verdict_asked(const struct ew_verdict_row *row) {
  g_autoptr(GArray) a = g_array_new(FALSE, FALSE, sizeof(gint64));
  g_autoptr(GArray) b = g_array_new(FALSE, FALSE, sizeof(gint64));
  ew_asked_read(row->pulls, a, b);
  g_autoptr(ew_message) one = side_message(a), other = side_message(b);
  return b->len ? ew_message(&against, ew_say_message("one", one), ew_say_message("other", other))
                : g_steal_pointer(&one);
}

ew_message *ew_verdict_says(const struct ew_verdict_row *row) {
  ew_message *fact = *row->says == '{' ? ew_message_read(row->says, strlen(row->says), NULL) : NULL;
  return fact ? fact : ew_message_of_sentence(row->says); /* of an earlier program */
}

static void verdict_row_clear(struct ew_verdict_row *r) {
  char **texts[] = {&r->at, &r->question, &r->pair, &r->pulls, &r->says, &r->json, &r->readings};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    g_clear_pointer(texts[i], g_free);
}

GArray *ew_verdict_list(struct ew_book *book, gint64 engine_id, GError **error) {
  GArray *rows = g_array_new(FALSE, FALSE, sizeof(struct ew_verdict_row));
  g_array_set_clear_func(rows, (GDestroyNotify)verdict_row_clear);
  g_autoptr(GHashTable) now = readings_now(book, error);
  if (!now)
    return rows;
  struct ew_port_rows *s = ew_sql_query(DB, error,
                                        "SELECT id, engine_id, at, question, pair, pulls, says, "
                                        "json, readings FROM verdict WHERE ?1 = 0 "
                                        "OR engine_id = ?1 ORDER BY id",
                                        "i", engine_id);
  while (ew_sql_next(s, error)) {
    struct ew_verdict_row row = {ew_sql_int(s, 0),  ew_sql_int(s, 1),
                                 ew_sql_text(s, 2), ew_sql_text(s, 3),
                                 ew_sql_text(s, 4), ew_sql_text(s, 5),
                                 ew_sql_text(s, 6), ew_sql_text(s, 7),
                                 ew_sql_text(s, 8), FALSE};
    row.earlier = is_earlier(&row, now);
    g_array_append_val(rows, row);
  }
  ew_sql_done(s);
  return rows;
}
