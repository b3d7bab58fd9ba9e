#include "book/ledger.h"
#include "book/sql.h"
#include "book/stream.h"
#include "book/store.h"
#include <math.h>
#include <string.h>

void ew_ledger_add(struct ew_ledger *ledger, const double *time, const double *speed, gsize n) {
  for (gsize i = 1; i < n; i++) {
    double step = time[i] - time[i - 1];
    if (!(speed[i] > 300) || !(step > 0) || step > 5)
      continue;
    ledger->running_s += step;
    ledger->highest_rpm = fmax(ledger->highest_rpm, speed[i]);
    for (int k = 0; k < EW_LEDGER_SPEEDS && speed[i] > 500 * k; k++)
      ledger->above_s[k] += step;
  }
}

static void count_heat(struct ew_ledger *ledger, const struct ew_series *series, gboolean *hot,
                       double at, double *last_end) {
  const double *oil = ew_series_values(series, EW_CHANNEL_OIL_TEMPERATURE);
  double end = at + series->time_s[series->rows - 1];
  if (!oil && !isnan(at) && (isnan(*last_end) || at - *last_end > 7200))
    ledger->heat_cycles++;
  for (gsize i = 0; oil && i < series->rows; i++) {
    if (oil[i] < 318)
      *hot = FALSE;
    else if (oil[i] > 343 && !*hot) {
      *hot = TRUE;
      ledger->heat_cycles++;
    }
  }
  *last_end = end;
}

/* A live recording is walked block by block: it may be a whole day. Its pulls stand in recordings of
 * their own, cut out of it, whose seconds are not counted again. */
struct walking {
  struct ew_ledger *ledger;
  guint column;
  double last_time_s, last_rpm;
};

static gboolean walk_block(const double *values, gsize rows, gsize columns, gpointer user) {
  struct walking *w = user;
  g_autofree double *time_s = g_new(double, rows + 1), *speed = g_new(double, rows + 1);
  gsize count = 0;
  if (!isnan(w->last_time_s) && w->last_time_s < values[0]) {
    time_s[count] = w->last_time_s;
    speed[count++] = w->last_rpm;
  }
  for (gsize r = 0; r < rows; r++) {
    if (count && !(values[r * columns] > time_s[count - 1]))
      continue;
    time_s[count] = values[r * columns];
    speed[count++] = values[r * columns + w->column];
  }
  w->last_time_s = time_s[count - 1];
  w->last_rpm = speed[count - 1];
  ew_ledger_add(w->ledger, time_s, speed, count);
  return TRUE;
}

static gboolean add_stream(struct ew_book *book, gint64 id, struct ew_ledger *ledger,
                           GError **error) {
  g_auto(GStrv) headings = ew_stream_headings(book, id, error);
  struct walking walking = {ledger, 0, NAN, NAN};
  ledger->recordings++;
  for (guint i = 1; headings && headings[i] && !walking.column; i++) {
    int strength, index;
    char *unit = strrchr(headings[i], '[');
    if (unit)
      *unit = 0;
    if (ew_channel_by_name(headings[i], &strength, &index) == EW_CHANNEL_SPEED)
      walking.column = i;
  }
  return headings && (!walking.column || ew_stream_each(book, id, walk_block, &walking, error));
}

gboolean ew_ledger_read(struct ew_book *book, gint64 engine_id, struct ew_ledger *ledger,
                        GError **error) {
  *ledger = (struct ew_ledger){0};
  struct ew_method method;
  struct ew_bench bench;
  ew_method_defaults(&method);
  ew_bench_defaults(&bench);
  struct ew_reduce_facts facts = {.method = &method, .bench = &bench};
  gboolean hot = FALSE, good = TRUE;
  double last_end = NAN;
  sqlite3_stmt *s = ew_sql_query(
      ew_book_handle(book), error,
      "SELECT bytes, name, channel_map, added_at, id, EXISTS (SELECT 1 FROM stream WHERE "
      "recording_id = id), EXISTS (SELECT 1 FROM stream_pull WHERE cut_id = id) FROM recording "
      "WHERE ?1 = 0 OR engine_id = ?1 ORDER BY id",
      "i", engine_id);
  while (good && ew_sql_next(s, error)) {
    gboolean cut = sqlite3_column_int(s, 6);
    if (sqlite3_column_int(s, 5)) {
      good = add_stream(book, sqlite3_column_int64(s, 4), ledger, error);
      continue;
    }
    const char *yaml = (const char *)sqlite3_column_text(s, 2);
    g_autoptr(ew_node) root = yaml ? ew_node_parse("channel map", yaml, strlen(yaml), error) : NULL;
    struct ew_channel_map *map = root ? ew_channel_map_read(root, "channel map", error) : NULL;
    struct ew_processed *p =
        ew_process(sqlite3_column_blob(s, 0), (gsize)sqlite3_column_bytes(s, 0),
                   (const char *)sqlite3_column_text(s, 1), map, &facts, NULL);
    const double *speed = p ? ew_series_values(p->series, EW_CHANNEL_SPEED) : NULL;
    ledger->recordings += !cut;
    if (p && speed && p->series->timed && !cut) {
      ew_ledger_add(ledger, p->series->time_s, speed, p->series->rows);
      count_heat(ledger, p->series, &hot, ew_time_parse((const char *)sqlite3_column_text(s, 3)),
                 &last_end);
    }
    if (p)
      ledger->pulls += (int)p->curves->len;
    ew_processed_free(p);
    ew_channel_map_free(map);
  }
  sqlite3_finalize(s);
  if (ledger->heat_cycles == 0 && ledger->running_s > 0)
    ledger->heat_cycles = 1;
  return good;
}
