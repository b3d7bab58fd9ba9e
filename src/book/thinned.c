/* Runs are read as blocks are (stream.c): a book may come from anybody, so no figure is believed before its bytes are of that size. */
#include "book/thinned.h"
#include "base/error.h"
#include "base/json_writer.h"
#include "base/node.h"
#include "base/number.h"
#include "book/sql.h"
#include "book/store.h"
#include <math.h>
#include <string.h>

#define DB         ew_book_port(book)
#define WHOLE_MOST (100 * 365.25 * 86400)
#define EVERY_MOST 3600.0
#define AROUND     86400.0

/* ---- the rule ---- */

static gboolean within(const char *what, double value, double most, const char *least,
                       const char *greatest, GError **error) {
  return (value > 0 && value <= most) ||
         ew_refuse(error, "%s: give more than 0 and at most %s, such as %s", what, greatest, least);
}

gboolean ew_thin_rule_check(const struct ew_thin_rule *rule, GError **error) {
  return within("--idle-whole", rule->whole_s, WHOLE_MOST, "90 d", "36525 d", error) &&
         within("--idle-rate", 1 / rule->period_s, 1e6, "1 Hz", "1 MHz", error) &&
         (rule->period_s <= EVERY_MOST ||
          ew_refuse(error, "--idle-rate: less than one row an hour says nothing; give 1 Hz or "
                           "0.1 Hz")) &&
         within("--idle-around", rule->around_s, AROUND, "60 s", "1 d", error);
}

char *ew_thin_rule_write(const struct ew_thin_rule *rule) {
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  ew_json_number(&json, "whole_s", rule->whole_s);
  ew_json_number(&json, "period_s", rule->period_s);
  ew_json_number(&json, "around_s", rule->around_s);
  ew_json_close(&json);
  return g_string_free(json.text, FALSE);
}

static double member(const struct ew_node *root, const char *name) {
  const struct ew_node *node = ew_node_member(root, name);
  return node && node->kind == EW_NODE_SCALAR ? g_ascii_strtod(node->text, NULL) : (double)NAN;
}

gboolean ew_thin_rule_get(struct ew_book *book, struct ew_thin_rule *rule, gboolean *stands,
                          GError **error) {
  g_autofree char *text = NULL;
  *rule = (struct ew_thin_rule){NAN, NAN, NAN};
  *stands = FALSE;
  if (!ew_setting_get(book, EW_THIN_SETTING, &text, error))
    return FALSE;
  if (!text || !*text)
    return TRUE;
  g_autoptr(ew_node) root = ew_node_parse(EW_THIN_SETTING, text, strlen(text), NULL);
  if (root)
    *rule = (struct ew_thin_rule){member(root, "whole_s"), member(root, "period_s"),
                                  member(root, "around_s")};
  *stands = root && ew_thin_rule_check(rule, NULL);
  return *stands || ew_refuse(error, "the book's rule for idle samples can't be read: set it again "
                                     "with 'book set --idle-whole'");
}

/* ---- runs ---- */

void ew_thinned_clear(void *data) {
  struct ew_thinned_row *row = data;
  g_free(row->stored_from);
  g_free(row->stored_to);
  g_free(row->blocks_sha256);
  g_free(row->sha256);
  g_free(row->at);
  g_free(row->who);
}

GArray *ew_thinned_list(struct ew_book *book, gint64 recording_id, GError **error) {
  GError *problem = NULL;
  GArray *rows = g_array_new(FALSE, FALSE, sizeof(struct ew_thinned_row));
  g_array_set_clear_func(rows, ew_thinned_clear);
  struct ew_port_rows *s = ew_sql_query(
      DB, &problem,
      "SELECT t.id, t.thinning_id, t.recording_id, t.first_block, t.last_block, t.source_rows, "
      "t.source_bytes, t.rows, length(t.bytes), t.first_s, t.last_s, t.stored_from, t.stored_to, "
      "t.blocks_sha256, t.sha256, n.at, n.who, n.whole_s, n.period_s, n.around_s FROM thinned t "
      "JOIN thinning n ON n.id = t.thinning_id WHERE t.recording_id = ? ORDER BY t.first_block",
      "i", recording_id);
  while (ew_sql_next(s, &problem)) {
    struct ew_thinned_row row = {
        .id = ew_sql_int(s, 0),
        .thinning_id = ew_sql_int(s, 1),
        .recording_id = ew_sql_int(s, 2),
        .first_block = ew_sql_int(s, 3),
        .last_block = ew_sql_int(s, 4),
        .source_rows = ew_sql_int(s, 5),
        .source_bytes = ew_sql_int(s, 6),
        .rows = ew_sql_int(s, 7),
        .size = ew_sql_int(s, 8),
        .first_s = ew_sql_double(s, 9),
        .last_s = ew_sql_double(s, 10),
        .stored_from = ew_sql_text(s, 11),
        .stored_to = ew_sql_text(s, 12),
        .blocks_sha256 = ew_sql_text(s, 13),
        .sha256 = ew_sql_text(s, 14),
        .at = ew_sql_text(s, 15),
        .who = ew_sql_text(s, 16),
        .rule = {ew_sql_double(s, 17), ew_sql_double(s, 18), ew_sql_double(s, 19)}};
    g_array_append_val(rows, row);
  }
  ew_sql_done(s);
  if (ew_sql_tell(problem, error))
    return rows;
  g_array_unref(rows);
  return NULL;
}

gsize ew_thinned_columns(gsize columns) {
  g_assert(columns > 0);
  return 2 + 3 * (columns - 1);
}

gboolean ew_thinned_is(gint64 rows, gsize size, gsize columns) {
  return ew_stream_is_block(rows, size, ew_thinned_columns(columns));
}

static double number_at(const void *bytes, gsize index) {
  guint64 little;
  double value;
  memcpy(&little, (const char *)bytes + index * sizeof little, sizeof little);
  little = GUINT64_FROM_LE(little);
  memcpy(&value, &little, sizeof value);
  return value;
}

void ew_thinned_means(const void *bytes, gsize rows, gsize columns, double *means) {
  gsize wide = ew_thinned_columns(columns);
  for (gsize r = 0; r < rows; r++) {
    means[r * columns] = number_at(bytes, r * wide);
    for (gsize c = 1; c < columns; c++)
      means[r * columns + c] = number_at(bytes, r * wide + 2 + 3 * (c - 1));
  }
}

char *ew_thinned_digest(const char *head, const struct ew_thinned_row *row, const void *bytes) {
  char first[EW_NUMBER_SIZE], last[EW_NUMBER_SIZE];
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  g_autofree char *text = g_strdup_printf(
      "%s %" G_GINT64_FORMAT " %" G_GINT64_FORMAT " %" G_GINT64_FORMAT " %" G_GINT64_FORMAT
      " %" G_GINT64_FORMAT " %s %s %s %s %s\n",
      head, row->first_block, row->last_block, row->source_rows, row->source_bytes, row->rows,
      ew_number_write(row->first_s, first), ew_number_write(row->last_s, last), row->stored_from,
      row->stored_to, row->blocks_sha256);
  g_checksum_update(sum, (const guchar *)text, (gssize)strlen(text));
  g_checksum_update(sum, bytes, (gssize)row->size);
  return g_strdup(g_checksum_get_string(sum));
}

/* Mean, least, greatest: all there or none; opposite infinities have no mean. */
static gboolean is_sound_channel(double mean, double least, double greatest) {
  if (isnan(least) || isnan(greatest))
    return isnan(least) && isnan(greatest) && isnan(mean);
  return (mean >= least && mean <= greatest) || (isnan(mean) && isinf(least) && isinf(greatest));
}

gboolean ew_thinned_is_sound(const struct ew_thinned_row *row, const void *bytes, gsize columns) {
  gsize wide = ew_thinned_columns(columns);
  double left = (double)row->source_rows;
  gboolean sound = row->first_block > 0 && row->last_block >= row->first_block &&
                   ew_thinned_is(row->rows, (gsize)row->size, columns);
  for (gsize r = 0; sound && r < (gsize)row->rows; r++) {
    double time_s = number_at(bytes, r * wide), count = number_at(bytes, r * wide + 1);
    sound = count >= 1 && count <= left && floor(count) == count && isfinite(time_s);
    left -= count;
    for (gsize c = 2; sound && c < wide; c += 3)
      sound = is_sound_channel(number_at(bytes, r * wide + c), number_at(bytes, r * wide + c + 1),
                               number_at(bytes, r * wide + c + 2));
  }
  return sound && left == 0;
}

/* FALSE: `take` ended it, or *problem. */
static gboolean take_run(struct ew_port_rows *s, gint64 id, gsize columns, ew_stream_take take,
                         gpointer user, GError **problem) {
  gsize size;
  const void *bytes = ew_sql_bytes(s, 1, &size);
  if (!ew_thinned_is(ew_sql_int(s, 0), size, columns))
    return ew_refuse(problem,
                     "live recording %" G_GINT64_FORMAT ": a thinned run does not hold the rows "
                     "that it says: the book is damaged; take it from a backup",
                     id);
  g_autofree double *values = g_new(double, size / sizeof(double));
  for (gsize i = 0; i < size / sizeof(double); i++)
    values[i] = number_at(bytes, i);
  return take(values, (gsize)ew_sql_int(s, 0), ew_thinned_columns(columns), user);
}

gboolean ew_thinned_each(struct ew_book *book, gint64 id, ew_stream_take take, gpointer user,
                         GError **error) {
  GError *problem = NULL;
  g_auto(GStrv) headings = ew_stream_headings(book, id, error);
  if (!headings)
    return FALSE;
  struct ew_port_rows *s = ew_sql_query(
      DB, &problem, "SELECT rows, bytes FROM thinned WHERE recording_id = ? ORDER BY first_block",
      "i", id);
  while (ew_sql_next(s, &problem) && take_run(s, id, g_strv_length(headings), take, user, &problem))
    ;
  ew_sql_done(s);
  return ew_sql_tell(problem, error);
}

/* ---- what is said of them ---- */

gboolean ew_thinned_sum(struct ew_book *book, struct ew_thin_sum *sum, GError **error) {
  GError *problem = NULL;
  *sum = (struct ew_thin_sum){0};
  struct ew_port_rows *s = ew_sql_query(
      DB, &problem,
      "SELECT count(DISTINCT recording_id), count(*), CAST(coalesce(sum(1.0 * source_rows), 0) AS "
      "INTEGER), CAST(coalesce(sum(1.0 * rows), 0) AS INTEGER), CAST(coalesce(sum(1.0 * "
      "source_bytes), 0) AS INTEGER), CAST(coalesce(sum(1.0 * length(bytes)), 0) AS INTEGER) FROM "
      "thinned",
      "");
  if (ew_sql_next(s, &problem))
    *sum = (struct ew_thin_sum){ew_sql_int(s, 0), ew_sql_int(s, 1), ew_sql_int(s, 2),
                                ew_sql_int(s, 3), ew_sql_int(s, 4), ew_sql_int(s, 5)};
  ew_sql_done(s);
  return ew_sql_tell(problem, error);
}

void ew_thinned_around_clear(struct ew_thinned_around *around) {
  g_clear_pointer(&around->at, g_free);
  g_clear_pointer(&around->who, g_free);
}

static void note_run(struct ew_thinned_around *a, const struct ew_thinned_row *run, double from_s,
                     double to_s) {
  if (run->last_s <= from_s)
    a->before_s = from_s - run->last_s; /* runs come in order: the last before it is the nearest */
  else if (run->first_s >= to_s && isnan(a->after_s))
    a->after_s = run->first_s - to_s;
  a->rule = run->rule;
  g_free(a->at);
  g_free(a->who);
  a->at = g_strdup(run->at);
  a->who = g_strdup(run->who);
}

gboolean ew_thinned_near(struct ew_book *book, gint64 cut_id, struct ew_thinned_around *around,
                         GError **error) {
  GError *problem = NULL;
  double from_s = NAN, to_s = NAN;
  *around = (struct ew_thinned_around){.before_s = NAN, .after_s = NAN};
  struct ew_port_rows *s = ew_sql_query(
      DB, &problem, "SELECT recording_id, from_s, to_s FROM stream_pull WHERE cut_id = ?", "i",
      cut_id);
  if (ew_sql_next(s, &problem)) {
    around->stream_id = ew_sql_int(s, 0);
    from_s = ew_sql_double(s, 1);
    to_s = ew_sql_double(s, 2);
  }
  ew_sql_done(s);
  if (!ew_sql_tell(problem, error))
    return FALSE;
  g_autoptr(GArray) runs =
      around->stream_id ? ew_thinned_list(book, around->stream_id, error) : NULL;
  if (around->stream_id && !runs)
    return FALSE;
  for (guint i = 0; runs && i < runs->len; i++)
    note_run(around, &g_array_index(runs, struct ew_thinned_row, i), from_s, to_s);
  if (!around->at)
    around->stream_id = 0;
  return TRUE;
}
