/* Hours, heat cycles and seconds above each speed, summed over stored raw of one engine in the order of measuring. A
 * live recording is walked block by block; recordings cut out of one count as pulls and not as time. O(rows of the
 * engine). */
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

#define COLD_K 318  /* 45 °C */
#define HOT_K  343  /* 70 °C */
#define STOP_S 7200 /* after so long an engine is cold again; common practice, no source */

/* Between recordings, in the order in which they were measured. */
struct heat {
  struct ew_ledger *ledger;
  gboolean hot;
  double last_end; /* Unix seconds; NaN: the first one, or its time is not known */
};

/* A recording begins at `at` (NaN: not known): a long stop before it made the engine cold. */
static void heat_begin(struct heat *h, double at) {
  if (!(at - h->last_end <= STOP_S))
    h->hot = FALSE;
}

static void heat_oil(struct heat *h, double oil_k) {
  if (oil_k < COLD_K)
    h->hot = FALSE;
  else if (oil_k > HOT_K && !h->hot) {
    h->hot = TRUE;
    h->ledger->heat_cycles++;
  }
}

/* Without oil temperature an engine that runs is taken to get hot. */
static void heat_end(struct heat *h, gboolean oil, double end) {
  if (!oil)
    heat_oil(h, HOT_K + 1);
  h->last_end = end;
}

static void count_heat(struct heat *h, const struct ew_series *series, double at) {
  const double *oil = ew_series_values(series, EW_CHANNEL_OIL_TEMPERATURE);
  heat_begin(h, at);
  for (gsize i = 0; oil && i < series->rows; i++)
    heat_oil(h, oil[i]);
  heat_end(h, oil != NULL, at + series->time_s[series->rows - 1]);
}

/* A live recording is walked block by block: it may be a whole day. Its pulls stand in recordings of
 * their own, cut out of it, whose seconds are not counted again. */
struct walking {
  struct ew_ledger *ledger;
  struct heat *heat;
  guint column, oil; /* of speed and oil temperature; 0: none */
  struct ew_unit oil_unit;
  double first_time_s, last_time_s, last_rpm;
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
  for (gsize r = 0; w->oil && r < rows; r++)
    heat_oil(w->heat, ew_to_inside(w->oil_unit, values[r * columns + w->oil]));
  if (isnan(w->first_time_s))
    w->first_time_s = values[0];
  w->last_time_s = time_s[count - 1];
  w->last_rpm = speed[count - 1];
  ew_ledger_add(w->ledger, time_s, speed, count);
  return TRUE;
}

/* Which column is what, by its heading: "Oil temperature [degC]". */
static void find_columns(struct walking *w, char **headings) {
  for (guint i = 1; headings[i]; i++) {
    int strength, index;
    char *bracket = strrchr(headings[i], '[');
    g_autofree char *unit = bracket ? g_strdup(bracket + 1) : NULL;
    if (bracket)
      *bracket = 0;
    enum ew_channel channel = ew_channel_by_name(headings[i], &strength, &index);
    if (channel == EW_CHANNEL_SPEED && !w->column)
      w->column = i;
    if (channel == EW_CHANNEL_OIL_TEMPERATURE && !w->oil && unit &&
        ew_unit_parse("", g_strdelimit(unit, "]", 0), EW_KIND_TEMPERATURE, &w->oil_unit, NULL))
      w->oil = i;
  }
}

static gboolean add_stream(struct ew_book *book, gint64 id, double at, struct heat *heat,
                           GError **error) {
  g_auto(GStrv) headings = ew_stream_headings(book, id, error);
  struct walking walking = {.ledger = heat->ledger,
                            .heat = heat,
                            .first_time_s = NAN,
                            .last_time_s = NAN,
                            .last_rpm = NAN};
  if (!headings)
    return FALSE;
  heat->ledger->recordings++;
  find_columns(&walking, headings);
  if (!walking.column)
    return TRUE;
  double before = heat->ledger->running_s;
  heat_begin(heat, at);
  gboolean good = ew_stream_each(book, id, walk_block, &walking, error);
  if (heat->ledger->running_s > before)
    heat_end(heat, walking.oil != 0, at + walking.last_time_s - walking.first_time_s);
  return good;
}

gboolean ew_ledger_read(struct ew_book *book, gint64 engine_id, struct ew_ledger *ledger,
                        GError **error) {
  *ledger = (struct ew_ledger){0};
  struct ew_method method;
  struct ew_bench bench;
  ew_method_defaults(&method);
  ew_bench_defaults(&bench);
  struct ew_reduce_facts facts = {.method = &method, .bench = &bench};
  struct heat heat = {ledger, FALSE, NAN};
  gboolean good = TRUE;
  struct ew_port_rows *s = ew_sql_query(
      ew_book_port(book), error,
      "SELECT bytes, name, channel_map, coalesce(measured_at, added_at) AS began, id, EXISTS "
      "(SELECT 1 FROM stream WHERE recording_id = id), EXISTS (SELECT 1 FROM stream_pull WHERE "
      "cut_id = id) FROM recording WHERE ?1 = 0 OR engine_id = ?1 ORDER BY began, id",
      "i", engine_id);
  while (good && ew_sql_next(s, error)) {
    gboolean cut = (int)ew_sql_int(s, 6);
    g_autofree char *began = ew_sql_text(s, 3), *yaml = ew_sql_text(s, 2),
                    *name = ew_sql_text(s, 1);
    if ((int)ew_sql_int(s, 5)) {
      good = add_stream(book, ew_sql_int(s, 4), ew_time_parse(began), &heat, error);
      continue;
    }
    g_autoptr(ew_node) root = yaml ? ew_node_parse("channel map", yaml, strlen(yaml), error) : NULL;
    struct ew_channel_map *map = root ? ew_channel_map_read(root, "channel map", error) : NULL;
    gsize size;
    const void *bytes = ew_sql_bytes(s, 0, &size);
    struct ew_processed *p = ew_process(bytes, size, name, map, &facts, NULL);
    const double *speed = p ? ew_series_values(p->series, EW_CHANNEL_SPEED) : NULL;
    ledger->recordings += !cut;
    if (p && speed && p->series->timed && !cut) {
      ew_ledger_add(ledger, p->series->time_s, speed, p->series->rows);
      count_heat(&heat, p->series, ew_time_parse(began));
    }
    if (p)
      ledger->pulls += (int)p->curves->len;
    ew_processed_free(p);
    ew_channel_map_free(map);
  }
  ew_sql_done(s);
  return good;
}
