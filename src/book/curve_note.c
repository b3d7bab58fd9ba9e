/* Notes on curves: rows of `found` whose text is an object, written and read here alone. */
#include "book/curve_note.h"
#include "base/error.h"
#include "base/json_writer.h"
#include "base/node.h"
#include "base/number.h"
#include "book/found.h"
#include "book/origin.h"
#include "book/sql.h"
#include "book/store.h"
#include "book/write.h"
#include <math.h>
#include <string.h>

#define DB ew_book_port(book)

/* ---- the object ---- */

static char *object_of(double speed_rpm, const char *text) {
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  ew_json_number(&json, "speed_rpm", speed_rpm);
  ew_json_text(&json, "text", text);
  ew_json_close(&json);
  return g_string_free(json.text, FALSE);
}

static const char *text_of(const struct ew_node *map, const char *key) {
  const struct ew_node *member = map ? ew_node_member(map, key) : NULL;
  return member && member->kind == EW_NODE_SCALAR ? member->text : NULL;
}

/* A row of a book from elsewhere can hold anything. */
static gboolean read_object(const char *object, struct ew_curve_note *note, GError **error) {
  g_autoptr(ew_node) map = ew_node_parse("note", object, strlen(object), NULL);
  const char *speed = text_of(map, "speed_rpm"), *text = text_of(map, "text");
  if (!speed || !text || !ew_number_parse(speed, &note->speed_rpm) ||
      !(note->speed_rpm > 0 && isfinite(note->speed_rpm)))
    return ew_refuse(error,
                     "note %" G_GINT64_FORMAT " on the curve of pull %" G_GINT64_FORMAT
                     " holds no speed and text: the book was written elsewhere",
                     note->id, note->pull_id);
  note->text = g_strdup(text);
  return TRUE;
}

/* ---- rows ---- */

static void note_clear(void *data) {
  struct ew_curve_note *n = data;
  char *texts[] = {n->at, n->who, n->text, n->withdrawn};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    g_free(texts[i]);
}

static gint by_speed(gconstpointer a, gconstpointer b) {
  const struct ew_curve_note *p = a, *q = b;
  gint pulls = (p->pull_id > q->pull_id) - (p->pull_id < q->pull_id);
  gint speeds = (p->speed_rpm > q->speed_rpm) - (p->speed_rpm < q->speed_rpm);
  return pulls ? pulls : speeds ? speeds : (p->id > q->id) - (p->id < q->id);
}

GArray *ew_curve_note_list(struct ew_book *book, gint64 pull_id, GError **error) {
  GError *problem = NULL;
  g_autoptr(GArray) found = ew_found_list(book, EW_CURVE_NOTE, pull_id, &problem);
  g_autoptr(GArray) notes = g_array_new(FALSE, TRUE, sizeof(struct ew_curve_note));
  g_array_set_clear_func(notes, note_clear);
  for (guint i = 0; !problem && i < found->len; i++) {
    const struct ew_found_row *row = &g_array_index(found, struct ew_found_row, i);
    struct ew_curve_note note = {.id = row->id, .pull_id = row->owner_id};
    if (!read_object(row->text, &note, &problem))
      break;
    note.at = g_strdup(row->at);
    note.who = g_strdup(row->who);
    note.withdrawn = g_strdup(row->withdrawn);
    g_array_append_val(notes, note);
  }
  if (problem) {
    g_propagate_error(error, problem);
    return NULL;
  }
  g_array_sort(notes, by_speed);
  return g_steal_pointer(&notes);
}

/* ---- writing ---- */

static gboolean is_blank(const char *text) {
  return !text || strspn(text, " \t\r\n") == strlen(text);
}

static gboolean check_note(double speed_rpm, const char *text, const char *who, GError **error) {
  if (!(speed_rpm > 0 && isfinite(speed_rpm)))
    return ew_refuse(error, "speed: give the speed of the note, such as 4250 rpm");
  if (is_blank(text))
    return ew_refuse(error, "text: write what the note says");
  if (strlen(text) > EW_CURVE_NOTE_BYTES || !g_utf8_validate(text, -1, NULL))
    return ew_refuse(error, "text: %zu bytes, and at most %u of UTF-8 are kept: shorten it",
                     strlen(text), EW_CURVE_NOTE_BYTES);
  return !who || strlen(who) <= EW_WHO_BYTES ||
         ew_refuse(error, "who: %zu bytes, and at most %u are kept", strlen(who), EW_WHO_BYTES);
}

/* The id of the same note, still active; 0: none, and room for one more; -1 with *error. */
static gint64 same_note(struct ew_book *book, gint64 pull_id, double speed_rpm, const char *text,
                        GError **error) {
  g_autoptr(GArray) notes = ew_curve_note_list(book, pull_id, error);
  guint active = 0;
  if (!notes)
    return -1;
  for (guint i = 0; i < notes->len; i++) {
    const struct ew_curve_note *n = &g_array_index(notes, struct ew_curve_note, i);
    if (!n->withdrawn && n->speed_rpm == speed_rpm && strcmp(n->text, text) == 0)
      return n->id;
    active += n->withdrawn == NULL;
  }
  if (active < EW_CURVE_NOTES_MOST)
    return 0;
  ew_refuse(error,
            "the curve of pull %" G_GINT64_FORMAT " has %u notes, and there is room for no more: "
            "take one back first",
            pull_id, active);
  return -1;
}

gint64 ew_curve_note_add(struct ew_book *book, gint64 pull_id, double speed_rpm, const char *text,
                         const char *who, gboolean *added, GError **error) {
  g_assert(ew_book_is_writing(book));
  *added = FALSE;
  struct ew_pull_row pull;
  if (!check_note(speed_rpm, text, who, error) || !ew_pull_get(book, pull_id, &pull, error))
    return 0;
  ew_pull_row_clear(&pull);
  g_autofree char *plain = g_strstrip(g_strdup(text));
  gint64 there = same_note(book, pull_id, speed_rpm, plain, error);
  if (there)
    return MAX(there, 0);
  g_autofree char *object = object_of(speed_rpm, plain), *now = ew_time_now();
  g_autofree char *detail = g_strdup_printf("pull %" G_GINT64_FORMAT ": %s", pull_id, plain);
  struct ew_origin o;
  if (!ew_origin_new(book, now, &o, error))
    return 0;
  gint64 id = ew_sql_insert(
      DB, error,
      "INSERT INTO found (belongs, owner_id, at, who, text, " EW_ORIGIN_COLUMNS
      ") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
      "tittto", EW_CURVE_NOTE, pull_id, now, is_blank(who) ? ew_book_who() : who, object, &o);
  *added = id != 0;
  return id && ew_book_log(book, "note on a curve", detail, error) ? id : 0;
}

gboolean ew_curve_note_withdraw(struct ew_book *book, gint64 id, const char *why, GError **error) {
  g_assert(ew_book_is_writing(book));
  if (is_blank(why))
    return ew_refuse(error, "give a reason: what is withdrawn keeps its place with it");
  gint64 known, active;
  if (!ew_sql_number(DB, &known, error, "SELECT count(*) FROM found WHERE id = ? AND belongs = ?",
                     "it", id, EW_CURVE_NOTE) ||
      !ew_sql_number(DB, &active, error,
                     "SELECT count(*) FROM found WHERE id = ? AND belongs = ? AND withdrawn IS "
                     "NULL",
                     "it", id, EW_CURVE_NOTE))
    return FALSE;
  if (!known)
    return ew_refuse(error, "there is no note %" G_GINT64_FORMAT " on a curve in this book", id);
  if (!active)
    return ew_refuse(error, "note %" G_GINT64_FORMAT " was taken back before", id);
  g_autofree char *detail = g_strdup_printf("note %" G_GINT64_FORMAT ": %s", id, why);
  return ew_sql_run(DB, error, "UPDATE found SET withdrawn = ? WHERE id = ?", "ti", why, id) &&
         ew_book_log(book, "take back a note on a curve", detail, error);
}
