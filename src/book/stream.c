/* Blocks of live recordings: appended, walked in order, cut by time, and written out as a text table. At most twenty
 * million figures are ever taken into memory at once; whole streams are walked block by block. What a block holds:
 * stream.h. */
#include "book/stream.h"
#include "base/as_pointer.h"
#include "base/error.h"
#include "base/json_writer.h"
#include "base/node.h"
#include "base/number.h"
#include "book/origin.h"
#include "book/sql.h"
#include "book/store.h"
#include "book/thinned.h"
#include "book/write.h"
#include <glib/gstdio.h>
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#define DB           ew_book_port(book)
#define FIGURES_MOST 20000000

gboolean ew_book_live(struct ew_book *book, gboolean power, GError **error) {
  return DB->class->durable(DB, power, error);
}

gboolean ew_book_checkpoint(struct ew_book *book, gboolean all, GError **error) {
  return DB->class->checkpoint(DB, all, error);
}

static char *channels_json(const struct ew_stream_facts *facts) {
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open_array(&json, NULL);
  for (guint i = 0; i < facts->channels; i++) {
    ew_json_open(&json, NULL);
    ew_json_text(&json, "name", facts->names[i]);
    ew_json_text(&json, "unit", facts->units[i]);
    ew_json_close(&json);
  }
  ew_json_close_array(&json);
  return g_string_free(json.text, FALSE);
}

char *ew_stream_head(const char *began_at, const char *source, const char *channels) {
  return g_strdup_printf("live %s from %s: %s\n", began_at, source, channels);
}

gint64 ew_stream_begin(struct ew_book *book, const struct ew_stream_facts *facts, GError **error) {
  g_assert(facts->source && facts->name && facts->durability);
  g_assert(ew_book_is_writing(book));
  g_autofree char *now = ew_time_now();
  g_autofree char *channels = channels_json(facts);
  g_autofree char *head = ew_stream_head(now, facts->source, channels);
  g_autoptr(GBytes) bytes = g_bytes_new(head, strlen(head));
  g_autofree char *digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);
  struct ew_recording_row row = {.engine_id = facts->engine_id,
                                 .channels = facts->channels,
                                 .name = ew_as_pointer(facts->name),
                                 .sha256 = digest,
                                 .bytes = bytes};
  gint64 id = ew_recording_add(book, &row, NAN, error);
  if (id && ew_sql_run(DB, error,
                       "INSERT INTO stream (recording_id, source, channels, durability, began_at) "
                       "VALUES (?, ?, ?, ?, ?)",
                       "itttt", id, facts->source, channels, facts->durability, now))
    return id;
  return 0;
}

gboolean ew_stream_append(struct ew_book *book, gint64 id, gint64 sequence, const double *values,
                          gsize rows, gsize columns, GError **error) {
  g_assert(id > 0 && sequence >= 0 && rows > 0 && columns > 0);
  g_assert(ew_book_is_writing(book));
  gsize size = rows * columns * sizeof(double);
  const void *bytes = values;
#if G_BYTE_ORDER == G_BIG_ENDIAN
  g_autofree guint64 *swapped = g_memdup2(values, size);
  for (gsize i = 0; i < rows * columns; i++)
    swapped[i] = GUINT64_TO_LE(swapped[i]);
  bytes = swapped;
#endif
  g_autofree char *digest = g_compute_checksum_for_data(G_CHECKSUM_SHA256, bytes, size);
  g_autofree char *now = ew_time_now();
  return ew_sql_run(DB, error,
                    "INSERT INTO stream_block (recording_id, sequence, rows, first_s, last_s, "
                    "stored_at, bytes, sha256) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                    "iiiddtbt", id, sequence, (gint64)rows, values[0], values[(rows - 1) * columns],
                    now, bytes, size, digest);
}

gboolean ew_stream_rows(struct ew_book *book, gint64 id, gint64 *rows, GError **error) {
  return ew_sql_number(DB, rows, error,
                       "SELECT CAST(coalesce(sum(1.0 * rows), 0) AS INTEGER) FROM (SELECT rows "
                       "FROM stream_block WHERE recording_id = ?1 UNION ALL SELECT rows FROM "
                       "thinned WHERE recording_id = ?1) AS q",
                       "i", id);
}

gboolean ew_stream_end(struct ew_book *book, gint64 id, const char *how, GError **error) {
  g_assert(ew_book_is_writing(book));
  g_autofree char *now = ew_time_now();
  g_autofree char *detail = g_strdup_printf("recording %" G_GINT64_FORMAT ": %s", id, how);
  gint64 rows;
  return ew_stream_rows(book, id, &rows, error) &&
         ew_sql_run(DB, error,
                    "UPDATE stream SET ended_at = ?, how = ?, rows = ? WHERE recording_id = ?",
                    "ttii", now, how, rows, id) &&
         ew_book_log(book, "recording ended", detail, error);
}

static void stream_row_clear(struct ew_stream_row *row) {
  g_free(row->source);
  g_free(row->began_at);
  g_free(row->ended_at);
  g_free(row->last_stored_at);
  g_free(row->how);
  g_free(row->durability);
}

static GArray *list_streams(struct ew_book *book, gboolean all, GError **error) {
  GArray *rows = g_array_new(FALSE, FALSE, sizeof(struct ew_stream_row));
  g_array_set_clear_func(rows, (GDestroyNotify)stream_row_clear);
  struct ew_port_rows *s = ew_sql_query(
      DB, error,
      "SELECT s.recording_id, s.source, s.began_at, count(b.id) + (SELECT "
      "CAST(coalesce(sum(1.0 + t.last_block - t.first_block), 0) AS INTEGER) FROM thinned t WHERE "
      "t.recording_id = s.recording_id), CAST(coalesce(sum(1.0 * b.rows), 0) AS INTEGER), "
      "max(b.stored_at), max(b.last_s), s.ended_at, s.how, s.durability, (SELECT "
      "CAST(coalesce(sum(1.0 * t.source_rows), 0) AS INTEGER) FROM thinned t WHERE t.recording_id "
      "= "
      "s.recording_id), (SELECT CAST(coalesce(sum(1.0 * t.rows), 0) AS INTEGER) FROM thinned t "
      "WHERE t.recording_id = s.recording_id) FROM stream s LEFT JOIN "
      "stream_block b ON b.recording_id = s.recording_id "
      "WHERE ? OR s.ended_at IS NULL GROUP BY s.recording_id ORDER BY s.recording_id",
      "i", (gint64)all);
  while (ew_sql_next(s, error)) {
    struct ew_stream_row row = {.id = ew_sql_int(s, 0),
                                .source = ew_sql_text(s, 1),
                                .began_at = ew_sql_text(s, 2),
                                .blocks = ew_sql_int(s, 3),
                                .rows = ew_sql_int(s, 4) + ew_sql_int(s, 10),
                                .thinned_rows = ew_sql_int(s, 10),
                                .thinned_to = ew_sql_int(s, 11),
                                .last_stored_at = ew_sql_text(s, 5),
                                .last_s = ew_sql_double(s, 6),
                                .ended_at = ew_sql_text(s, 7),
                                .how = ew_sql_text(s, 8),
                                .durability = ew_sql_text(s, 9)};
    g_array_append_val(rows, row);
  }
  ew_sql_done(s);
  return rows;
}

GArray *ew_stream_unfinished(struct ew_book *book, GError **error) {
  return list_streams(book, FALSE, error);
}

GArray *ew_stream_list(struct ew_book *book, GError **error) {
  return list_streams(book, TRUE, error);
}

gboolean ew_stream_is(struct ew_book *book, gint64 id, gboolean *is, GError **error) {
  return ew_sql_is(DB, is, error, "SELECT count(*) FROM stream WHERE recording_id = ?", "i", id);
}

/* Time and channels: what every block has, a row. 0 with *error when the book contradicts itself. */
static gsize columns_of(struct ew_book *book, gint64 id, GError **error) {
  gint64 channels;
  g_auto(GStrv) headings = ew_stream_headings(book, id, error);
  if (!headings ||
      !ew_sql_number(DB, &channels, error, "SELECT channels FROM recording WHERE id = ?", "i", id))
    return 0;
  gsize columns = g_strv_length(headings);
  if (channels == (gint64)columns - 1)
    return columns;
  ew_refuse(error,
            "live recording %" G_GINT64_FORMAT " has %" G_GINT64_FORMAT
            " channels and names %zu: the book is damaged; take it from a backup",
            id, channels, columns - 1);
  return 0;
}

/* Divided, not multiplied: any number of rows may stand there. */
gboolean ew_stream_is_block(gint64 rows, gsize size, gsize columns) {
  g_assert(columns > 0);
  gsize row = columns * sizeof(double);
  return rows > 0 && size % row == 0 && (guint64)rows == size / row;
}

/* What one row of stream_block or of thinned holds: as it was measured, or its means. NULL: not the rows that it says. */
static double *values_of(struct ew_port_rows *s, gsize columns) {
  gsize size;
  const void *bytes = ew_sql_bytes(s, 1, &size);
  gint64 rows = ew_sql_int(s, 0);
  if (ew_sql_int(s, 2)) {
    double *means = ew_thinned_is(rows, size, columns) ? g_new(double, (gsize)rows *columns) : NULL;
    if (means)
      ew_thinned_means(bytes, (gsize)rows, columns, means);
    return means;
  }
  guint64 *values = ew_stream_is_block(rows, size, columns) ? g_memdup2(bytes, size) : NULL;
  for (gsize i = 0; values && i < (gsize)rows * columns; i++)
    values[i] = GUINT64_FROM_LE(values[i]);
  return (double *)(void *)values;
}

/* Blocks that may hold such a time, and thinned runs, a row of means each period; a sender's clock may have gone back within a
 * block. */
static gboolean each_block(struct ew_book *book, gint64 id, double from_s, double to_s,
                           ew_stream_take take, gpointer user, GError **error) {
  GError *problem = NULL;
  gsize columns = columns_of(book, id, error);
  if (!columns)
    return FALSE;
  struct ew_port_rows *s =
      ew_sql_query(DB, &problem,
                   "SELECT rows, bytes, 0, sequence FROM stream_block WHERE recording_id = ?1 AND "
                   "((last_s >= ?2 AND first_s <= ?3) OR last_s < first_s OR ?2 IS NULL) "
                   "UNION ALL SELECT rows, bytes, 1, first_block FROM thinned WHERE recording_id = "
                   "?1 AND ((last_s >= ?2 AND first_s <= ?3) OR ?2 IS NULL) ORDER BY 4",
                   "idd", id, from_s, to_s);
  gboolean more = TRUE;
  while (more && ew_sql_next(s, &problem)) {
    g_autofree double *values = values_of(s, columns);
    if (!values) {
      ew_refuse(&problem,
                "live recording %" G_GINT64_FORMAT ": a block does not hold the rows that it says: "
                "the book is damaged; take it from a backup",
                id);
      break;
    }
    more = take(values, (gsize)ew_sql_int(s, 0), columns, user);
  }
  ew_sql_done(s);
  return ew_sql_tell(problem, error);
}

gboolean ew_stream_each(struct ew_book *book, gint64 id, ew_stream_take take, gpointer user,
                        GError **error) {
  return each_block(book, id, NAN, NAN, take, user, error);
}

struct window {
  double from_s, to_s;
  ew_stream_take take;
  gpointer user;
};

static gboolean take_window(const double *values, gsize rows, gsize columns, gpointer user) {
  const struct window *w = user;
  gboolean more = TRUE;
  for (gsize at = 0, begin = 0; more && at <= rows; at++) {
    double time_s = at < rows ? values[at * columns] : (double)NAN;
    if (time_s >= w->from_s && time_s <= w->to_s)
      continue;
    if (at > begin)
      more = w->take(values + begin * columns, at - begin, columns, w->user);
    begin = at + 1;
  }
  g_assert(columns > 0);
  return more;
}

gboolean ew_stream_between(struct ew_book *book, gint64 id, double from_s, double to_s,
                           ew_stream_take take, gpointer user, GError **error) {
  struct window window = {from_s, to_s, take, user};
  return each_block(book, id, from_s, to_s, take_window, &window, error);
}

char **ew_stream_headings_of(char *const *names, char *const *units, guint channels) {
  char **headings = g_new0(char *, channels + 2);
  headings[0] = g_strdup("Time [s]");
  for (guint i = 0; i < channels; i++) {
    headings[i + 1] =
        *units[i] ? g_strdup_printf("%s [%s]", names[i], units[i]) : g_strdup(names[i]);
    g_strdelimit(headings[i + 1], ",\n\r\"", ' ');
  }
  return headings;
}

static gboolean channels_in(const struct ew_node *root, gint64 id,
                            struct ew_source_channels *channels, GError **error) {
  guint count = root->children ? root->children->len : 0;
  gboolean good = count > 0;
  *channels =
      (struct ew_source_channels){count, g_new0(char *, count + 1), g_new0(char *, count + 1)};
  for (guint i = 0; good && i < count; i++) {
    const struct ew_node *one = g_ptr_array_index(root->children, i);
    const struct ew_node *name = ew_node_member(one, "name"), *unit = ew_node_member(one, "unit");
    good = name && unit && name->text && unit->text;
    channels->names[i] = g_strdup(good ? name->text : "");
    channels->units[i] = g_strdup(good ? unit->text : "");
  }
  if (good)
    return TRUE;
  ew_source_channels_clear(channels);
  return ew_refuse(error,
                   "live recording %" G_GINT64_FORMAT " does not name its channels: the book is "
                   "damaged; take it from a backup",
                   id);
}

gboolean ew_stream_channels(struct ew_book *book, gint64 id, struct ew_source_channels *channels,
                            GError **error) {
  *channels = (struct ew_source_channels){0};
  struct ew_port_rows *s =
      ew_sql_query(DB, error, "SELECT channels FROM stream WHERE recording_id = ?", "i", id);
  g_autofree char *json = ew_sql_next(s, error) ? ew_sql_text(s, 0) : NULL;
  ew_sql_done(s);
  if (!json) {
    if (error && !*error)
      ew_refuse(error, "there is no live recording %" G_GINT64_FORMAT " in this book", id);
    return FALSE;
  }
  g_autoptr(ew_node) root = ew_node_parse("channels", json, strlen(json), error);
  return root && channels_in(root, id, channels, error);
}

char **ew_stream_headings(struct ew_book *book, gint64 id, GError **error) {
  struct ew_source_channels channels;
  if (!ew_stream_channels(book, id, &channels, error))
    return NULL;
  char **headings = ew_stream_headings_of(channels.names, channels.units, channels.count);
  ew_source_channels_clear(&channels);
  return headings;
}

static void table_rows(GString *text, const double *values, gsize rows, gsize columns) {
  g_assert(columns > 0 && (rows == 0 || values));
  char buffer[EW_NUMBER_SIZE];
  for (gsize r = 0; r < rows; r++)
    for (gsize c = 0; c < columns; c++) {
      double value = values[r * columns + c];
      if (!isnan(value))
        g_string_append(text, ew_number_write(value, buffer));
      g_string_append_c(text, c + 1 < columns ? ',' : '\n');
    }
}

static GString *table_head(char *const *headings) {
  GString *text = g_string_sized_new(65536);
  for (int i = 0; headings[i]; i++)
    g_string_append_printf(text, "%s%s", i ? "," : "", headings[i]);
  g_string_append_c(text, '\n');
  return text;
}

static gboolean take_rows(const double *values, gsize rows, gsize columns, gpointer user) {
  table_rows(user, values, rows, columns);
  return TRUE;
}

GBytes *ew_stream_table(struct ew_book *book, gint64 id, GError **error) {
  g_auto(GStrv) headings = ew_stream_headings(book, id, error);
  if (!headings)
    return NULL;
  gint64 rows;
  if (!ew_stream_rows(book, id, &rows, error))
    return NULL;
  if (rows > FIGURES_MOST / (gint64)g_strv_length(headings)) {
    ew_refuse(error,
              "live recording %" G_GINT64_FORMAT " holds %" G_GINT64_FORMAT
              " rows of %u figures: too many for one table; ask for its pulls instead",
              id, rows, g_strv_length(headings));
    return NULL;
  }
  GString *text = table_head(headings);
  if (ew_stream_each(book, id, take_rows, text, error))
    return g_string_free_to_bytes(text);
  g_string_free(text, TRUE);
  return NULL;
}

struct writing {
  FILE *file;
  GString *text;
  int problem;
};

static gboolean write_rows(const double *values, gsize rows, gsize columns, gpointer user) {
  struct writing *w = user;
  table_rows(w->text, values, rows, columns);
  if (fwrite(w->text->str, 1, w->text->len, w->file) != w->text->len)
    w->problem = errno;
  g_string_truncate(w->text, 0);
  return w->problem == 0;
}

/* Under another name first: what is cut short does not pass for the whole. */
gboolean ew_stream_write(struct ew_book *book, gint64 id, const char *path, GError **error) {
  g_auto(GStrv) headings = ew_stream_headings(book, id, error);
  if (!headings)
    return FALSE;
  g_autofree char *part = g_strconcat(path, ".part", NULL);
  struct writing w = {fopen(part, "wb"), table_head(headings), 0};
  if (!w.file)
    w.problem = errno;
  gboolean good =
      w.file && write_rows(NULL, 0, 1, &w) && ew_stream_each(book, id, write_rows, &w, error);
  if (w.file && fclose(w.file) != 0 && !w.problem)
    w.problem = errno;
  if (good && !w.problem && g_rename(part, path) != 0)
    w.problem = errno;
  g_string_free(w.text, TRUE);
  if (w.problem && (!error || !*error))
    ew_fail(error, "%s: %s", path, g_strerror(w.problem));
  if (!good || w.problem)
    g_unlink(part);
  return good && !w.problem;
}

gboolean ew_mark_add(struct ew_book *book, gint64 id, double time_s, const char *text,
                     GError **error) {
  g_assert(id > 0 && text);
  g_assert(ew_book_is_writing(book));
  g_autofree char *now = ew_time_now();
  struct ew_origin o;
  gboolean ours = g_str_has_prefix(text, EW_MARK_SENSORS);
  g_autofree char *detail = g_strdup_printf("recording %" G_GINT64_FORMAT ": %s", id,
                                            ours ? "the calibration used" : text);
  return ew_origin_new(book, now, &o, error) &&
         ew_sql_run(DB, error,
                    "INSERT INTO mark (recording_id, at, time_s, text, " EW_ORIGIN_COLUMNS
                    ") VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                    "itdto", id, now, time_s, text, &o) &&
         ew_book_log(book, "mark", detail, error);
}

gboolean ew_mark_is_calibration(const struct ew_mark_row *row) {
  return g_str_has_prefix(row->text, EW_MARK_SENSORS);
}

static void mark_clear(struct ew_mark_row *row) {
  g_free(row->at);
  g_free(row->text);
}

GArray *ew_mark_list(struct ew_book *book, gint64 id, GError **error) {
  GArray *rows = g_array_new(FALSE, FALSE, sizeof(struct ew_mark_row));
  g_array_set_clear_func(rows, (GDestroyNotify)mark_clear);
  struct ew_port_rows *s = ew_sql_query(
      DB, error, "SELECT time_s, at, text FROM mark WHERE recording_id = ? ORDER BY id", "i", id);
  while (ew_sql_next(s, error)) {
    struct ew_mark_row row = {id, ew_sql_double(s, 0), ew_sql_text(s, 1), ew_sql_text(s, 2)};
    g_array_append_val(rows, row);
  }
  ew_sql_done(s);
  return rows;
}
