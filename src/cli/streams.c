/* Live recordings into a folder as open files: live-00012.csv with every row, and beside it live-00012.json with
 * source, pulls, marks and trips. O(rows); one stream at a time is walked, none is held. */
#include "cli/streams.h"
#include "base/error.h"
#include "book/cut.h"
#include "desk/trip.h"

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
  ew_json_close(&json);
  char *text = g_string_free(json.text, FALSE);
  if (!problem)
    return text;
  g_propagate_error(error, problem);
  g_free(text);
  return NULL;
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
    if (text && ew_stream_write(book, s->id, table, &problem))
      g_file_set_contents(facts, text, -1, &problem);
    ew_step(steps);
  }
  *count = streams->len;
  if (!problem)
    return TRUE;
  g_propagate_error(error, problem);
  return FALSE;
}
