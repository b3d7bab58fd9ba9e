/* Amendments: the former reading is copied by the store itself, so that not a bit of it passes through this program. */
#include "book/amend.h"
#include "base/error.h"
#include "book/found.h"
#include "book/hold.h"
#include "book/origin.h"
#include "book/sql.h"
#include "book/write.h"
#include <string.h>

#define DB ew_book_port(book)

static gboolean is_blank(const char *text) {
  return !text || strspn(text, " \t\r\n") == strlen(text);
}

static gboolean check_words(const char *who, const char *reason, GError **error) {
  if (is_blank(reason))
    return ew_refuse(error, "reason: say in a few words why; an amendment is kept with its reason");
  if (strlen(reason) > EW_AMEND_REASON_BYTES)
    return ew_refuse(error, "reason: %zu bytes, and at most %u are kept: shorten it",
                     strlen(reason), EW_AMEND_REASON_BYTES);
  return !who || strlen(who) <= EW_WHO_BYTES ||
         ew_refuse(error, "who: %zu bytes, and at most %u are kept", strlen(who), EW_WHO_BYTES);
}

/* Is it still what the new reading was computed from? */
static gboolean check_still(struct ew_book *book, const struct ew_pull_row *row, GError **error) {
  gint64 now;
  if (!ew_sql_number(DB, &now, error, "SELECT reading FROM pull WHERE id = ?", "i", row->id))
    return FALSE;
  if (now == 0)
    return ew_refuse_with(error, EW_REMEDY_LIST_PULLS, "there is no pull %lld in this book",
                          (long long)row->id);
  if (now == row->reading)
    return TRUE;
  ew_refuse(error,
            "pull %" G_GINT64_FORMAT " was amended meanwhile (reading %" G_GINT64_FORMAT
            ", and you saw reading %" G_GINT64_FORMAT
            "): look at it again, then amend it if it is still wrong",
            row->id, now, row->reading);
  return FALSE;
}

static gboolean keep_former(struct ew_book *book, gint64 id, GError **error) {
  return ew_sql_run(
      DB, error,
      "INSERT INTO former (pull_id, reading, part, kind, at, day, engine_id, run, mounting, "
      "purpose, setup, changed, discarded, told, top_rpm, band_mean_n_m, channel_map, recorder, "
      "clock, measured_at, method, cell_record, engine, calibration, bytes, digest, program, "
      "reduction) "
      "SELECT p.id, p.reading, p.part, p.kind, p.at, p.day, p.engine_id, p.run, p.mounting, "
      "p.purpose, p.setup, p.changed, p.discarded, p.told, p.top_rpm, p.band_mean_n_m, "
      "r.channel_map, r.recorder, r.clock, r.measured_at, c.method, c.cell, c.engine, "
      "c.calibration, c.bytes, c.digest, c.program, c.reduction FROM pull p JOIN curve c ON "
      "c.pull_id = p.id "
      "JOIN recording r ON r.id = p.recording_id WHERE p.id = ?",
      "i", id);
}

static gboolean write_pull(struct ew_book *book, const struct ew_amended_pull *pull,
                           GError **error) {
  g_assert(pull->row->id > 0 && pull->row->at);
  const struct ew_pull_row *r = pull->row;
  char day[EW_DAY_SIZE];
  g_autofree char *engine =
      r->engine_id ? g_strdup_printf("%" G_GINT64_FORMAT, r->engine_id) : NULL;
  return ew_book_day(book, r->at, day, error) &&
         ew_sql_run(DB, error,
                    "UPDATE pull SET part = ?, kind = ?, at = ?, day = ?, engine_id = CAST(? AS "
                    "INTEGER), run = ?, mounting = ?, purpose = ?, setup = ?, changed = ?, told = "
                    "?, top_rpm = ?, band_mean_n_m = ?, reading = reading + 1 WHERE id = ?",
                    "itttt"
                    "iitttt"
                    "ddi",
                    (gint64)r->part, r->kind, r->at, day, engine, (gint64)r->run,
                    (gint64)r->mounting, r->purpose, r->setup, r->changed, r->told ? r->told : "[]",
                    r->top_rpm, r->band_mean_n_m, r->id) &&
         (!pull->discard || ew_sql_run(DB, error, "UPDATE pull SET discarded = ? WHERE id = ?",
                                       "ti", r->discarded, r->id));
}

static char *lines_of(const GPtrArray *messages) {
  GString *text = g_string_new(NULL);
  for (guint i = 0; i < messages->len; i++) {
    g_autofree char *line = ew_message_write(messages->pdata[i]);
    g_string_append_printf(text, "%s%s", i ? "\n" : "", line);
  }
  return g_string_free(text, FALSE);
}

static gint64 add_row(struct ew_book *book, const struct ew_amended_pull *pull, const char *who,
                      const char *reason, GError **error) {
  g_assert(pull->changes->len > 0 && !is_blank(reason));
  g_autofree char *changes = lines_of(pull->changes), *now = ew_time_now();
  g_autofree char *undoes =
      pull->undoes ? g_strdup_printf("%" G_GINT64_FORMAT, pull->undoes) : NULL;
  struct ew_origin o;
  if (!ew_origin_new(book, now, &o, error))
    return 0;
  return ew_sql_insert(DB, error,
                       "INSERT INTO amendment (pull_id, reading, at, who, reason, changes, "
                       "undoes, " EW_ORIGIN_COLUMNS
                       ") VALUES (?, ?, ?, ?, ?, ?, CAST(? AS INTEGER), ?, ?, ?, ?) RETURNING id",
                       "iittttto", pull->row->id, pull->row->reading + 1, now, who, reason, changes,
                       undoes, &o);
}

static gboolean amend_one(struct ew_book *book, const struct ew_amended_pull *pull, const char *who,
                          const char *reason, GArray *ids, GError **error) {
  gint64 id = pull->row->id;
  if (!write_pull(book, pull, error) || !ew_curve_put(book, id, pull->curve, error))
    return FALSE;
  gint64 amendment = add_row(book, pull, who, reason, error);
  g_array_append_val(ids, amendment);
  g_autofree char *detail =
      g_strdup_printf("pull %" G_GINT64_FORMAT ", reading %" G_GINT64_FORMAT ": %s", id,
                      pull->row->reading + 1, reason);
  return amendment && ew_hold_amended(book, id, amendment, who, reason, error) &&
         (!pull->findings || ew_hold_add(book, id, pull->findings, NULL, error)) &&
         ew_book_log(book, "amendment", detail, error);
}

gboolean ew_amend_pulls(struct ew_book *book, const struct ew_amended_pull *pulls, gsize count,
                        const char *who, const char *reason, GArray *ids, GError **error) {
  g_assert(ew_book_is_writing(book));
  if (!check_words(who, reason, error))
    return FALSE;
  const char *by = is_blank(who) ? ew_book_who() : who;
  g_autofree char *plain = g_strstrip(g_strdup(reason));
  gboolean good = TRUE;
  for (gsize i = 0; good && i < count; i++) {
    g_assert(pulls[i].changes->len > 0);
    gint64 id = pulls[i].row->id;
    good = check_still(book, pulls[i].row, error) && keep_former(book, id, error) &&
           /* parts may change places, and two pulls of a recording can't have one */
           ew_sql_run(DB, error, "UPDATE pull SET part = -id WHERE id = ?", "i", id);
  }
  for (gsize i = 0; good && i < count; i++)
    good = amend_one(book, &pulls[i], by, plain, ids, error);
  return good;
}

gboolean ew_amend_recording(struct ew_book *book, const struct ew_recording_row *r,
                            GError **error) {
  g_assert(ew_book_is_writing(book));
  g_autofree char *engine =
      r->engine_id ? g_strdup_printf("%" G_GINT64_FORMAT, r->engine_id) : NULL;
  g_autofree char *detail = g_strdup_printf("recording %" G_GINT64_FORMAT, r->id);
  char day[EW_DAY_SIZE];
  return ew_book_day(book, r->measured_at ? r->measured_at : r->added_at, day, error) &&
         ew_sql_run(DB, error,
                    "UPDATE recording SET engine_id = CAST(? AS INTEGER), channel_map = ?, rows = "
                    "?, channels = ?, measured_at = ?, recorder = ?, clock = ?, day = ? WHERE id = "
                    "?",
                    "ttiitttti", engine, r->channel_map, r->rows, r->channels, r->measured_at,
                    r->recorder, r->clock, day, r->id) &&
         ew_sql_run(DB, error,
                    "UPDATE recording SET engine_id = CAST(? AS INTEGER) WHERE id IN (SELECT "
                    "recording_id FROM stream_pull WHERE cut_id = ?)",
                    "ti", engine, r->id) &&
         ew_sql_run(DB, error,
                    "DELETE FROM life WHERE recording_id = ?1 OR recording_id IN (SELECT "
                    "recording_id FROM stream_pull WHERE cut_id = ?1)",
                    "i", r->id) &&
         ew_book_log(book, "amended recording", detail, error);
}

/* ---- reading ---- */
static void amendment_row_clear(struct ew_amendment_row *r) {
  char **texts[] = {&r->at, &r->who, &r->reason, &r->changes};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    g_clear_pointer(texts[i], g_free);
}

static GArray *list(struct ew_book *book, const char *where, gint64 id, GError **error) {
  GArray *rows = g_array_new(FALSE, TRUE, sizeof(struct ew_amendment_row));
  g_array_set_clear_func(rows, (GDestroyNotify)amendment_row_clear);
  g_autofree char *sql =
      g_strconcat("SELECT id, pull_id, reading, undoes, at, who, reason, changes FROM amendment ",
                  where, " ORDER BY id", NULL);
  struct ew_port_rows *s = ew_sql_query(DB, error, sql, "i", id);
  while (ew_sql_next(s, error)) {
    struct ew_amendment_row row = {ew_sql_int(s, 0),  ew_sql_int(s, 1),  ew_sql_int(s, 2),
                                   ew_sql_int(s, 3),  ew_sql_text(s, 4), ew_sql_text(s, 5),
                                   ew_sql_text(s, 6), ew_sql_text(s, 7)};
    g_array_append_val(rows, row);
  }
  ew_sql_done(s);
  return rows;
}

GArray *ew_amendment_list(struct ew_book *book, gint64 pull_id, GError **error) {
  return list(book, "WHERE ?1 = 0 OR pull_id = ?1", pull_id, error);
}

GPtrArray *ew_amendment_changes(const struct ew_amendment_row *row) {
  GPtrArray *messages = ew_messages_new();
  g_auto(GStrv) lines = g_strsplit(row->changes, "\n", -1);
  for (guint i = 0; lines[i]; i++)
    if (*lines[i]) {
      ew_message *m = ew_message_read(lines[i], strlen(lines[i]), NULL);
      ew_messages_add(messages, m ? m : ew_message_of_sentence(lines[i]));
    }
  return messages;
}

static void take_former(struct ew_port_rows *s, struct ew_former_row *row) {
  *row = (struct ew_former_row){.pull = {.id = ew_sql_int(s, 0),
                                         .reading = ew_sql_int(s, 1),
                                         .part = (int)ew_sql_int(s, 2),
                                         .kind = ew_sql_text(s, 3),
                                         .at = ew_sql_text(s, 4),
                                         .day = ew_sql_text(s, 5),
                                         .engine_id = ew_sql_int(s, 6),
                                         .run = (int)ew_sql_int(s, 7),
                                         .mounting = (int)ew_sql_int(s, 8),
                                         .purpose = ew_sql_text(s, 9),
                                         .setup = ew_sql_text(s, 10),
                                         .changed = ew_sql_text(s, 11),
                                         .discarded = ew_sql_text(s, 12),
                                         .told = ew_sql_text(s, 13),
                                         .top_rpm = ew_sql_double(s, 14),
                                         .band_mean_n_m = ew_sql_double(s, 15),
                                         .recording_id = ew_sql_int(s, 27)},
                                .channel_map = ew_sql_text(s, 16),
                                .recorder = ew_sql_text(s, 17),
                                .clock = ew_sql_text(s, 18),
                                .measured_at = ew_sql_text(s, 19),
                                .curve = {.method = ew_sql_text(s, 20),
                                          .cell = ew_sql_text(s, 21),
                                          .engine = ew_sql_text(s, 22),
                                          .calibration = ew_sql_text(s, 23),
                                          .bytes = ew_sql_blob(s, 24),
                                          .digest = ew_sql_text(s, 25),
                                          .program = ew_sql_text(s, 26),
                                          .reduction = ew_sql_int(s, 28)}};
}

gboolean ew_former_get(struct ew_book *book, gint64 pull_id, gint64 reading,
                       struct ew_former_row *row, GError **error) {
  *row = (struct ew_former_row){0};
  GError *problem = NULL;
  struct ew_port_rows *s = ew_sql_query(
      DB, &problem,
      "SELECT f.pull_id, f.reading, f.part, f.kind, f.at, f.day, f.engine_id, f.run, f.mounting, "
      "f.purpose, f.setup, f.changed, f.discarded, f.told, f.top_rpm, f.band_mean_n_m, "
      "f.channel_map, f.recorder, f.clock, f.measured_at, f.method, f.cell_record, f.engine, "
      "f.calibration, f.bytes, f.digest, f.program, p.recording_id, f.reduction FROM former f JOIN "
      "pull p ON "
      "p.id = f.pull_id WHERE f.pull_id = ? AND f.reading = ?",
      "ii", pull_id, reading);
  gboolean found = ew_sql_next(s, &problem);
  if (found)
    take_former(s, row);
  ew_sql_done(s);
  return ew_sql_tell(problem, error) &&
         (found || ew_refuse(error,
                             "pull %" G_GINT64_FORMAT " has no former reading %" G_GINT64_FORMAT
                             " in this book",
                             pull_id, reading));
}

void ew_former_row_clear(struct ew_former_row *row) {
  ew_pull_row_clear(&row->pull);
  ew_curve_row_clear(&row->curve);
  char **texts[] = {&row->channel_map, &row->recorder, &row->clock, &row->measured_at};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    g_clear_pointer(texts[i], g_free);
}
