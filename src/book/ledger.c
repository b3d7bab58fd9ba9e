/* Hours, heat cycles and seconds above each speed, summed over stored raw of one engine in the order of measuring. A
 * live recording is walked block by block; recordings cut out of one count as pulls and not as time. O(rows of the
 * engine). */
#include "book/ledger.h"
#include "base/error.h"
#include "book/sql.h"
#include "book/stream.h"
#include "book/store.h"
#include "book/write.h"
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

/* What one recording did to the engine: sums, and how often it got hot when it began cold [0] and hot [1]. The cost is in
 * the reading of raw, O(samples), so it is kept once it is known (table `life`), with the reduction that found it. */
struct life {
  struct ew_ledger sums;
  int cycles[2];
  gboolean hot[2]; /* at its end */
  gboolean ran;    /* it has an end from which a stop is counted: */
  double length_s;
};

static void heat_oil(struct life *life, double oil_k) {
  for (int k = 0; k < 2; k++)
    if (oil_k < COLD_K)
      life->hot[k] = FALSE;
    else if (oil_k > HOT_K && !life->hot[k]) {
      life->hot[k] = TRUE;
      life->cycles[k]++;
    }
}

/* Without oil temperature an engine that runs is taken to get hot. */
static void heat_end(struct life *life, gboolean oil, double length_s) {
  if (!oil)
    heat_oil(life, HOT_K + 1);
  life->ran = TRUE;
  life->length_s = length_s;
}

static void count_heat(struct life *life, const struct ew_series *series) {
  g_assert(series->rows > 0);
  const double *oil = ew_series_values(series, EW_CHANNEL_OIL_TEMPERATURE);
  for (gsize i = 0; oil && i < series->rows; i++)
    heat_oil(life, oil[i]);
  heat_end(life, oil != NULL, series->time_s[series->rows - 1]);
}

/* A live recording is walked block by block: it may be a whole day. Its pulls stand in recordings of
 * their own, cut out of it, whose seconds are not counted again. */
struct walking {
  struct life *life;
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
    heat_oil(w->life, ew_to_inside(w->oil_unit, values[r * columns + w->oil]));
  g_assert(count > 0 && w->column < columns && w->oil < columns);
  if (isnan(w->first_time_s))
    w->first_time_s = values[0];
  w->last_time_s = time_s[count - 1];
  w->last_rpm = speed[count - 1];
  ew_ledger_add(&w->life->sums, time_s, speed, count);
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

static gboolean live_life(struct ew_book *book, gint64 id, struct life *life, GError **error) {
  g_auto(GStrv) headings = ew_stream_headings(book, id, error);
  struct walking walking = {.life = life, .first_time_s = NAN, .last_time_s = NAN, .last_rpm = NAN};
  if (!headings)
    return FALSE;
  life->sums.recordings = 1;
  find_columns(&walking, headings);
  if (!walking.column)
    return TRUE;
  gboolean good = ew_stream_each(book, id, walk_block, &walking, error);
  if (life->sums.running_s > 0)
    heat_end(life, walking.oil != 0, walking.last_time_s - walking.first_time_s);
  return good;
}

static gboolean file_life(struct ew_book *book, gint64 id, gboolean cut, struct life *life,
                          GError **error) {
  struct ew_recording_row row;
  if (!ew_recording_get(book, id, &row, error))
    return FALSE;
  struct ew_method method;
  struct ew_bench bench;
  ew_method_defaults(&method);
  ew_bench_defaults(&bench);
  struct ew_reduce_facts facts = {.method = &method, .bench = &bench};
  const char *yaml = row.channel_map;
  g_autoptr(ew_node) root = yaml ? ew_node_parse("channel map", yaml, strlen(yaml), NULL) : NULL;
  struct ew_channel_map *map = root ? ew_channel_map_read(root, "channel map", NULL) : NULL;
  struct ew_processed *p = ew_recording_process(&row, map, &facts, NULL);
  const double *speed = p ? ew_series_values(p->series, EW_CHANNEL_SPEED) : NULL;
  life->sums.recordings = !cut;
  life->sums.pulls = p ? (int)p->curves->len : 0;
  if (p && speed && p->series->timed && !cut) {
    ew_ledger_add(&life->sums, p->series->time_s, speed, p->series->rows);
    count_heat(life, p->series);
  }
  ew_processed_free(p);
  ew_channel_map_free(map);
  ew_recording_row_clear(&row);
  return TRUE;
}

/* ---- kept ---- */

/* Of a recording that was thinned it is kept with that, and is never worked out again: its samples are means since. NULL: it is whole. */
static gboolean frozen(struct ew_book *book, gint64 id, char **json, GError **error) {
  GError *problem = NULL;
  struct ew_port_rows *s =
      ew_sql_query(ew_book_port(book), &problem,
                   "SELECT life FROM thinning WHERE recording_id = ? ORDER BY id LIMIT 1", "i", id);
  *json = ew_sql_next(s, &problem) ? ew_sql_text(s, 0) : NULL;
  ew_sql_done(s);
  return ew_sql_tell(problem, error);
}

static char *life_to_json(const struct life *life) {
  struct ew_json json = {.text = g_string_new(NULL)};
  const double whole[] = {life->sums.recordings, life->sums.pulls, life->cycles[0], life->cycles[1],
                          life->hot[0],          life->hot[1],     life->ran};
  ew_json_open(&json, NULL);
  ew_json_number(&json, "running_s", life->sums.running_s);
  ew_json_number(&json, "highest_rpm", life->sums.highest_rpm);
  ew_json_number(&json, "length_s", life->length_s);
  ew_json_numbers(&json, "above_s", life->sums.above_s, EW_LEDGER_SPEEDS);
  ew_json_numbers(&json, "counts", whole, G_N_ELEMENTS(whole));
  ew_json_close(&json);
  return g_string_free(json.text, FALSE);
}

static gboolean number_of(const struct ew_node *node, double *value) {
  *value = node && node->kind == EW_NODE_SCALAR ? g_ascii_strtod(node->text, NULL) : (double)NAN;
  return isfinite(*value) && *value >= 0;
}

static gboolean numbers_of(const struct ew_node *list, double *values, guint count) {
  gboolean good = list && list->kind == EW_NODE_LIST && list->children->len == count;
  for (guint i = 0; good && i < count; i++)
    good = number_of(g_ptr_array_index(list->children, i), &values[i]) && values[i] < 1e6;
  return good;
}

/* FALSE: it is not what this program keeps, and is worked out again. */
static gboolean life_from_json(const char *json, struct life *life) {
  g_autoptr(ew_node) root = ew_node_parse("life", json, strlen(json), NULL);
  double whole[7];
  *life = (struct life){0};
  if (!root || !number_of(ew_node_member(root, "running_s"), &life->sums.running_s) ||
      !number_of(ew_node_member(root, "highest_rpm"), &life->sums.highest_rpm) ||
      !number_of(ew_node_member(root, "length_s"), &life->length_s) ||
      !numbers_of(ew_node_member(root, "above_s"), life->sums.above_s, EW_LEDGER_SPEEDS) ||
      !numbers_of(ew_node_member(root, "counts"), whole, G_N_ELEMENTS(whole)))
    return FALSE;
  life->sums.recordings = (int)whole[0];
  life->sums.pulls = (int)whole[1];
  for (int k = 0; k < 2; k++) {
    life->cycles[k] = (int)whole[2 + k];
    life->hot[k] = whole[4 + k] != 0;
  }
  life->ran = whole[6] != 0;
  return TRUE;
}

gboolean ew_ledger_life(struct ew_book *book, gint64 id, char **json, GError **error) {
  struct life life = {.hot = {FALSE, TRUE}};
  if (!frozen(book, id, json, error) || *json)
    return *json != NULL;
  if (!live_life(book, id, &life, error))
    return FALSE;
  *json = life_to_json(&life);
  return TRUE;
}

gboolean ew_ledger_is_life(const char *json) {
  struct life life;
  return life_from_json(json, &life);
}

struct line { /* of the book: one recording */
  gint64 id;
  double began; /* Unix seconds; NaN: not known */
  gboolean live, ended, cut, known;
  struct life life;
};

/* In the order in which they were measured. NULL with *error. */
static GArray *lines_of(struct ew_book *book, gint64 engine_id, GError **error) {
  GError *problem = NULL;
  GArray *lines = g_array_new(FALSE, TRUE, sizeof(struct line));
  struct ew_port_rows *s = ew_sql_query(
      ew_book_port(book), &problem,
      "SELECT r.id, coalesce(r.measured_at, r.added_at) AS began, (SELECT CASE WHEN ended_at IS "
      "NULL THEN 1 ELSE 2 END FROM stream s WHERE s.recording_id = r.id), EXISTS (SELECT 1 FROM "
      "stream_pull c WHERE c.cut_id = r.id), (SELECT nullif(json, '') FROM life l WHERE "
      "l.recording_id = r.id "
      "AND l.reduction = ?2) FROM recording r WHERE ?1 = 0 OR r.engine_id = ?1 ORDER BY began, "
      "r.id",
      "ii", engine_id, (gint64)EW_REDUCTION);
  while (ew_sql_next(s, &problem)) {
    gint64 live = ew_sql_int(s, 2);
    const char *json = ew_sql_peek(s, 4);
    struct line line = {.id = ew_sql_int(s, 0),
                        .began = ew_time_parse(ew_sql_peek(s, 1)),
                        .live = live != 0,
                        .ended = live != 1,
                        .cut = ew_sql_int(s, 3) != 0};
    line.known = line.ended && json && life_from_json(json, &line.life);
    g_array_append_val(lines, line);
  }
  ew_sql_done(s);
  if (!problem)
    return lines;
  g_array_unref(lines);
  ew_sql_tell(problem, error);
  return NULL;
}

/* FALSE with *error. */
static gboolean work_out(struct ew_book *book, struct line *line, GError **error) {
  g_autofree char *kept = NULL;
  line->life = (struct life){.hot = {FALSE, TRUE}};
  if (!line->live)
    return file_life(book, line->id, line->cut, &line->life, error);
  if (!frozen(book, line->id, &kept, error))
    return FALSE;
  if (!kept)
    return live_life(book, line->id, &line->life, error);
  return life_from_json(kept, &line->life) ||
         ew_refuse(error,
                   "live recording %" G_GINT64_FORMAT
                   ": what it did to the engine was kept when it "
                   "was thinned, and can't be read: the book is damaged; take it from a backup",
                   line->id);
}

static gboolean keep_lives(struct ew_book *book, gpointer user, GError **error) {
  g_assert(ew_book_is_writing(book));
  const GArray *lines = user;
  gboolean good = TRUE;
  for (guint i = 0; good && i < lines->len; i++) {
    const struct line *line = &g_array_index(lines, struct line, i);
    g_autofree char *json = life_to_json(&line->life);
    good = line->known || !line->ended ||
           ew_sql_run(ew_book_port(book), error,
                      "INSERT INTO life (recording_id, reduction, json) VALUES (?, ?, ?) ON "
                      "CONFLICT(recording_id) DO UPDATE SET reduction = excluded.reduction, json = "
                      "excluded.json",
                      "iit", line->id, (gint64)EW_REDUCTION, json);
  }
  return good;
}

/* A long stop before a recording made the engine cold. */
static void add_line(struct ew_ledger *ledger, const struct line *line, gboolean *hot,
                     double *last_end) {
  const struct life *life = &line->life;
  int from = line->began - *last_end <= STOP_S && *hot;
  ledger->recordings += life->sums.recordings;
  ledger->pulls += life->sums.pulls;
  ledger->running_s += life->sums.running_s;
  ledger->highest_rpm = fmax(ledger->highest_rpm, life->sums.highest_rpm);
  for (int k = 0; k < EW_LEDGER_SPEEDS; k++)
    ledger->above_s[k] += life->sums.above_s[k];
  if (!life->ran)
    return;
  ledger->heat_cycles += life->cycles[from];
  *hot = life->hot[from];
  *last_end = line->began + life->length_s;
}

gboolean ew_ledger_read(struct ew_book *book, gint64 engine_id, struct ew_ledger *ledger,
                        GError **error) {
  g_autoptr(GArray) lines = lines_of(book, engine_id, error);
  gboolean good = lines != NULL, news = FALSE, hot = FALSE;
  double last_end = NAN;
  *ledger = (struct ew_ledger){0};
  for (guint i = 0; good && i < lines->len; i++) {
    struct line *line = &g_array_index(lines, struct line, i);
    news |= !line->known && line->ended;
    if (!line->known)
      good = work_out(book, line, error);
    add_line(ledger, line, &hot, &last_end);
  }
  if (good && news && !ew_book_is_read_only(book)) /* what can't be kept is worked out again */
    ew_book_write(book, keep_lives, lines, NULL);
  return good;
}
