/* A note has its place on a curve: the speed is held to what the stored curve spans, so that it can be drawn there. */
#include "desk/curve_note.h"
#include "base/error.h"
#include "base/units.h"
#include "book/curve_blob.h"
#include "book/keep.h"
#include "book/store.h"
#include <math.h>

static gboolean within_curve(struct ew_book *book, gint64 pull_id, double speed_rpm,
                             GError **error) {
  struct ew_curve_row row;
  if (!ew_curve_get(book, pull_id, &row, error))
    return FALSE;
  gsize size;
  const void *bytes = g_bytes_get_data(row.bytes, &size);
  struct ew_curve *curve = ew_curve_from_bytes(bytes, size);
  ew_curve_row_clear(&row);
  if (!curve)
    return ew_fail(error, "the stored curve of pull %" G_GINT64_FORMAT " cannot be read", pull_id);
  gboolean good = curve->points > 0 && speed_rpm >= curve->speed_rpm[0] &&
                  speed_rpm <= curve->speed_rpm[curve->points - 1];
  if (!good)
    ew_refuse(error,
              "speed: %.0f rpm is not on the curve of pull %" G_GINT64_FORMAT
              ", which runs from %.0f to %.0f rpm",
              speed_rpm, pull_id, curve->low_rpm, curve->high_rpm);
  ew_curve_free(curve);
  return good;
}

gint64 ew_write_curve_note(struct ew_book *book, gint64 pull_id, const char *speed,
                           const char *text, const char *who, gboolean *added, GError **error) {
  double speed_rpm;
  struct ew_pull_row pull;
  *added = FALSE;
  if (!speed || !*speed) {
    ew_refuse(error, "speed: give the speed of the note, such as 4250 rpm");
    return 0;
  }
  if (!ew_pull_get(book, pull_id, &pull, error))
    return 0;
  ew_pull_row_clear(&pull);
  if (!ew_quantity_parse("speed", speed, EW_KIND_ROTATIONAL_SPEED, &speed_rpm, error) ||
      !within_curve(book, pull_id, speed_rpm, error))
    return 0;
  return ew_keep_curve_note(book, pull_id, speed_rpm, text, who, added, error);
}

static void write_note(const void *row, struct ew_json *json) {
  const struct ew_curve_note *n = row;
  ew_json_integer(json, "id", n->id);
  ew_json_integer(json, "pull", n->pull_id);
  ew_json_number(json, "speed_rpm", n->speed_rpm);
  ew_json_text(json, "text", n->text);
  ew_json_text(json, "at", n->at);
  ew_json_text(json, "who", n->who);
  ew_json_text(json, "taken_back", n->withdrawn);
}

gboolean ew_curve_notes_json(struct ew_book *book, gint64 pull_id, const char *key,
                             struct ew_json *json, GError **error) {
  g_autoptr(GArray) notes = ew_curve_note_list(book, pull_id, error);
  if (notes)
    ew_json_rows(json, key, notes, write_note);
  return notes != NULL;
}
