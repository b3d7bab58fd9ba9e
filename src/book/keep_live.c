/* What a recorder hands over, twenty times a second: rows of its sources, marks, trips, settings. */
#include "book/keep.h"
#include "book/write.h"
#include <math.h>

#define BLOCK_ROWS 4096

struct ask {
  struct ew_live_part *parts;
  const struct ew_live_note *notes;
  gsize parts_count, notes_count;
};

static gboolean keep_part(struct ew_book *book, struct ew_live_part *p, GError **error) {
  g_assert(p->columns > 0 && (p->rows == 0 || p->values));
  p->kept_sequence = p->sequence;
  p->kept_id = p->id ? p->id : ew_stream_begin(book, p->facts, error);
  if (!p->kept_id)
    return FALSE;
  for (gsize at = 0; at < p->rows; at += BLOCK_ROWS)
    if (!ew_stream_append(book, p->kept_id, p->kept_sequence++, p->values + at * p->columns,
                          MIN(p->rows - at, BLOCK_ROWS), p->columns, error))
      return FALSE;
  g_assert(p->kept_sequence >= p->sequence);
  return !p->end || ew_stream_end(book, p->kept_id, p->end, error);
}

/* Its recording: from this transaction, or an earlier one; 0 while no row of it was stored. */
static gint64 id_of(const struct ew_live_place *place) {
  return place->part ? place->part->kept_id : place->recording_id;
}

/* The row is written on the clock of the first recording that it has a time on. */
static gboolean keep_trip(struct ew_book *book, const struct ew_live_note *n, GError **error) {
  g_assert(n->trip && n->places_count > 0);
  g_autofree struct ew_trip_time *times = g_new0(struct ew_trip_time, n->places_count + 1);
  struct ew_trip_row row = *n->trip;
  row.recording_id = 0;
  for (gsize i = 0; i < n->places_count; i++) {
    times[i] = (struct ew_trip_time){id_of(&n->places[i]), n->places[i].time_s};
    if (row.recording_id || !times[i].recording_id || isnan(times[i].time_s))
      continue;
    row.recording_id = times[i].recording_id;
    row.from_s += times[i].time_s - row.time_s;
    row.to_s += times[i].time_s - row.time_s;
    row.time_s = times[i].time_s;
  }
  /* without any recording there was no sample that could trip */
  return !row.recording_id || ew_trip_add(book, &row, times, n->places_count, error);
}

static gboolean keep_note(struct ew_book *book, const struct ew_live_note *n, GError **error) {
  g_assert(!n->key || n->text);
  if (n->key)
    return ew_setting_set(book, n->key, n->text, error);
  if (n->trip)
    return keep_trip(book, n, error);
  gint64 id = n->places_count ? id_of(&n->places[0]) : 0;
  return !id || ew_mark_add(book, id, n->places[0].time_s, n->text, error);
}

static gboolean body(struct ew_book *book, gpointer user, GError **error) {
  const struct ask *a = user;
  gboolean good = TRUE;
  for (gsize i = 0; good && i < a->parts_count; i++)
    good = keep_part(book, &a->parts[i], error);
  for (gsize i = 0; good && i < a->notes_count; i++)
    good = keep_note(book, &a->notes[i], error);
  return good;
}

gboolean ew_keep_live(struct ew_book *book, struct ew_live_part *parts, gsize parts_count,
                      const struct ew_live_note *notes, gsize notes_count, GError **error) {
  struct ask a = {parts, notes, parts_count, notes_count};
  return ew_book_write(book, body, &a, error);
}
