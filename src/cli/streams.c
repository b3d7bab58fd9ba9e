/* Live recordings into a folder as open files: live-00012.csv with every row, and beside it live-00012.json with
 * source, pulls, marks and trips; of what was thinned the means stand in that table, and mean, least and greatest in
 * live-00012-thinned.csv. O(rows); one stream at a time is walked, none is held. */
#include "cli/streams.h"
#include "base/error.h"
#include "base/number.h"
#include "book/cut.h"
#include "book/thinned.h"
#include "desk/trip.h"
#include <math.h>

static void write_pull(const void *row, struct ew_json *json) {
  const struct ew_stream_pull_row *p = row;
  ew_json_integer(json, "cut_recording_id", p->cut_id);
  ew_json_number(json, "from_s", p->from_s);
  ew_json_number(json, "to_s", p->to_s);
  ew_json_text(json, "near", p->near_json);
}

static void write_mark(const void *row, struct ew_json *json) {
  const struct ew_mark_row *m = row;
  ew_json_text(json, "at", m->at);
  ew_json_number(json, "time_s", m->time_s);
  ew_json_text(json, "text", m->text);
}

static void write_run(const void *row, struct ew_json *json) {
  const struct ew_thinned_row *t = row;
  ew_json_number(json, "from_s", t->first_s);
  ew_json_number(json, "to_s", t->last_s);
  ew_json_text(json, "stored_from", t->stored_from);
  ew_json_text(json, "stored_to", t->stored_to);
  ew_json_integer(json, "first_block", t->first_block);
  ew_json_integer(json, "last_block", t->last_block);
  ew_json_integer(json, "source_rows", t->source_rows);
  ew_json_integer(json, "rows", t->rows);
  ew_json_number(json, "period_s", t->rule.period_s);
  ew_json_text(json, "blocks_sha256", t->blocks_sha256);
  ew_json_text(json, "at", t->at);
  ew_json_text(json, "who", t->who);
}

static void trips_json(const GArray *trips, gint64 id, struct ew_json *json) {
  ew_json_open_array(json, "trips");
  for (guint i = 0; i < trips->len; i++) {
    const struct ew_trip_row *t = &g_array_index(trips, struct ew_trip_row, i);
    if (t->recording_id != id)
      continue;
    ew_json_open(json, NULL);
    ew_trip_row_json(t, json);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static char *facts_json(struct ew_book *book, const struct ew_stream_row *s, const GArray *trips,
                        GError **error) {
  GError *problem = NULL;
  g_autoptr(GArray) pulls = ew_stream_pull_list(book, s->id, &problem);
  g_autoptr(GArray) marks = problem ? NULL : ew_mark_list(book, s->id, &problem);
  g_autoptr(GArray) runs = problem ? NULL : ew_thinned_list(book, s->id, &problem);
  struct ew_json json = ew_answer_begin();
  ew_json_integer(&json, "id", s->id);
  ew_json_text(&json, "source", s->source);
  ew_json_text(&json, "durability", s->durability);
  ew_json_text(&json, "began_at", s->began_at);
  ew_json_text(&json, "ended_at", s->ended_at);
  ew_json_text(&json, "how", s->how);
  ew_json_integer(&json, "rows", s->rows);
  ew_json_rows(&json, "pulls", pulls, write_pull);
  ew_json_rows(&json, "marks", marks, write_mark);
  trips_json(trips, s->id, &json);
  ew_json_integer(&json, "rows_thinned", s->thinned_rows);
  ew_json_integer(&json, "rows_after", s->thinned_to);
  ew_json_rows(&json, "thinned", runs, write_run);
  ew_json_close(&json);
  char *text = g_string_free(json.text, FALSE);
  if (!problem)
    return text;
  g_propagate_error(error, problem);
  g_free(text);
  return NULL;
}

/* ---- what was thinned: live-00012-thinned.csv ---- */

static gboolean add_rows(const double *values, gsize rows, gsize columns, gpointer user) {
  char buffer[EW_NUMBER_SIZE];
  g_assert(rows == 0 || (values && columns > 0));
  for (gsize i = 0; i < rows * columns; i++) {
    if (!isnan(values[i]))
      g_string_append(user, ew_number_write(values[i], buffer));
    g_string_append_c(user, (i + 1) % columns ? ',' : '\n');
  }
  return TRUE;
}

/* A row for each in the place of others: when, for how many, and of each channel mean, least and greatest. */
static gboolean write_thinned(struct ew_book *book, const struct ew_stream_row *s,
                              const char *folder, GError **error) {
  if (!s->thinned_to)
    return TRUE;
  struct ew_source_channels channels;
  if (!ew_stream_channels(book, s->id, &channels, error))
    return FALSE;
  g_autofree char *path =
      g_strdup_printf("%s/live-%05" G_GINT64_FORMAT "-thinned.csv", folder, s->id);
  GString *text = g_string_new("Time [s],Samples");
  for (guint i = 0; i < channels.count; i++) {
    g_autofree char *name = g_strdelimit(g_strdup(channels.names[i]), ",\n\r\"", ' ');
    static const char *const which[] = {"mean", "least", "greatest"};
    for (gsize k = 0; k < G_N_ELEMENTS(which); k++)
      g_string_append_printf(text, *channels.units[i] ? ",%s %s [%s]" : ",%s %s%s", name, which[k],
                             channels.units[i]);
  }
  g_string_append_c(text, '\n');
  ew_source_channels_clear(&channels);
  gboolean good = ew_thinned_each(book, s->id, add_rows, text, error) &&
                  g_file_set_contents(path, text->str, (gssize)text->len, error);
  g_string_free(text, TRUE);
  return good;
}

gboolean ew_export_streams(struct ew_book *book, const char *folder, guint *count,
                           struct ew_steps *steps, GError **error) {
  GError *problem = NULL;
  g_autoptr(GArray) streams = ew_stream_list(book, &problem);
  g_autoptr(GArray) trips = problem ? NULL : ew_trip_list(book, &problem);
  for (guint i = 0; !problem && i < streams->len; i++) {
    const struct ew_stream_row *s = &g_array_index(streams, struct ew_stream_row, i);
    g_autofree char *table = g_strdup_printf("%s/live-%05" G_GINT64_FORMAT ".csv", folder, s->id);
    g_autofree char *facts = g_strdup_printf("%s/live-%05" G_GINT64_FORMAT ".json", folder, s->id);
    g_autofree char *text = facts_json(book, s, trips, &problem);
    if (text && ew_stream_write(book, s->id, table, &problem) &&
        write_thinned(book, s, folder, &problem))
      g_file_set_contents(facts, text, -1, &problem);
    ew_step(steps);
  }
  *count = streams->len;
  if (!problem)
    return TRUE;
  g_propagate_error(error, problem);
  return FALSE;
}
