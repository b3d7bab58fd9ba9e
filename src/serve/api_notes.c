/* Notes of a test day, and the marks that were set while recording. A note is known by its time and text,
 * so a tablet may send again what it is not sure of. */
#include "base/error.h"
#include "book/keep.h"
#include "book/note.h"
#include "book/stream.h"
#include "desk/attach.h"
#include "serve/service.h"
#include <string.h>

static void write_notes(const GArray *rows, struct ew_json *json) {
  ew_json_open_array(json, "notes");
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_note_row *n = &g_array_index(rows, struct ew_note_row, i);
    ew_json_open(json, NULL);
    ew_json_integer(json, "id", n->id);
    ew_json_text(json, "at", n->at);
    ew_json_text(json, "who", n->who);
    ew_json_text(json, "text", n->text);
    ew_json_text(json, "taken_back", n->withdrawn);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

/* Marks that hold the calibration used are records of the program, not of a person. */
static void write_marks(struct ew_book *book, const char *day, struct ew_json *json) {
  g_autoptr(GArray) streams = ew_stream_list(book, NULL);
  ew_json_open_array(json, "marks");
  for (guint i = 0; streams && i < streams->len; i++) {
    gint64 id = g_array_index(streams, struct ew_stream_row, i).id;
    g_autoptr(GArray) marks = ew_mark_list(book, id, NULL);
    for (guint k = 0; marks && k < marks->len; k++) {
      const struct ew_mark_row *m = &g_array_index(marks, struct ew_mark_row, k);
      if (!ew_book_is_day(book, m->at, day) || ew_mark_is_calibration(m))
        continue;
      ew_json_open(json, NULL);
      ew_json_integer(json, "recording_id", id);
      ew_json_text(json, "at", m->at);
      ew_json_number(json, "time_s", m->time_s);
      ew_json_text(json, "text", m->text);
      ew_json_close(json);
    }
  }
  ew_json_close_array(json);
}

gboolean ew_api_notes(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                      GError **error) {
  const char *asked = ew_request_query(r, "day");
  g_autofree char *day = asked ? g_strdup(asked) : ew_desk_day(s->book, error);
  g_autoptr(GError) problem = NULL;
  if (!day)
    return FALSE;
  if (strlen(day) != 10)
    return ew_refuse(error, "day: '%.40s' is not a date such as 2026-11-25", day);
  g_autoptr(GArray) rows = ew_note_list(s->book, day, &problem);
  if (problem) {
    g_propagate_error(error, g_steal_pointer(&problem));
    return FALSE;
  }
  ew_json_text(&reply->json, "day", day);
  write_notes(rows, &reply->json);
  write_marks(s->book, day, &reply->json);
  return TRUE;
}

gboolean ew_api_note_add(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                         GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  gboolean added = FALSE;
  if (!body)
    return FALSE;
  const char *at = ew_node_text(body, "at");
  if (!at)
    return ew_refuse(error, "at: give the time of the note, so that it is not kept twice");
  gint64 id = ew_keep_note(s->book, at, ew_node_text(body, "text"), &added, error);
  if (!id)
    return FALSE;
  ew_json_integer(&reply->json, "id", id);
  ew_json_boolean(&reply->json, "added", added);
  reply->changed = added;
  return TRUE;
}

gboolean ew_api_note_withdraw(struct ew_service *s, const struct ew_request *r,
                              struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body)
    return FALSE;
  gboolean back = ew_node_member(body, "put_back") != NULL;
  if (!ew_keep_note_withdrawn(s->book, r->id, back ? NULL : "taken back", error))
    return FALSE;
  reply->changed = TRUE;
  return TRUE;
}
