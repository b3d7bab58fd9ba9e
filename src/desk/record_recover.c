/* record_recover.h: the rows behind the last cut, read back through the calibration that the session wrote beside them. */
#include "desk/record_recover.h"
#include "base/words.h"
#include "book/keep.h"
#include "desk/add.h"
#include "pull/plausible_kinds.h"
#include <math.h>
#include <string.h>

/* The end of the last pull that was kept of it; before all time: none. */
static gboolean last_cut(struct ew_book *book, gint64 stream, double *to_s, GError **error) {
  GError *problem = NULL;
  g_autoptr(GArray) cuts = ew_stream_pull_list(book, stream, &problem);
  *to_s = -INFINITY;
  for (guint i = 0; !problem && i < cuts->len; i++)
    *to_s = fmax(*to_s, g_array_index(cuts, struct ew_stream_pull_row, i).to_s);
  if (problem)
    g_propagate_error(error, problem);
  return problem == NULL;
}

struct rest {
  double after_s, from_s, to_s;
  gint64 before, rows; /* up to the cut, behind it */
};

static gboolean count_rows(const double *values, gsize rows, gsize columns, gpointer user) {
  struct rest *r = user;
  for (gsize i = 0; i < rows; i++) {
    double time = values[i * columns];
    if (r->rows == 0 && !(time > r->after_s)) {
      r->before++;
      continue;
    }
    r->from_s = r->rows++ == 0 ? time : r->from_s;
    r->to_s = time;
  }
  return TRUE;
}

/* The calibration that the session wrote down with its rows, to be freed; NULL: the source sent figures. */
static gboolean read_sensors(struct ew_book *book, gint64 stream, char **yaml, GError **error) {
  GError *problem = NULL;
  g_autoptr(GArray) marks = ew_mark_list(book, stream, &problem);
  *yaml = NULL;
  for (guint i = 0; !problem && i < marks->len && !*yaml; i++) {
    const struct ew_mark_row *mark = &g_array_index(marks, struct ew_mark_row, i);
    if (ew_mark_is_calibration(mark))
      *yaml = g_strdup(mark->text + strlen(EW_MARK_SENSORS));
  }
  if (problem)
    g_propagate_error(error, problem);
  return problem == NULL;
}

/* Is there a pull in these rows? Without one nothing is stored: the session's own recording counts its hours. */
static gboolean has_pull(struct ew_desk *desk, const struct ew_frames *frames, const char *name) {
  struct ew_processed *found = ew_desk_process_frames(desk, frames, name, NULL);
  gboolean any = found && found->curves->len > 0;
  ew_processed_free(found);
  return any;
}

static GArray *add_rest(struct ew_book *book, struct ew_desk *desk,
                        const struct ew_stream_row *stream, const struct ew_new_cut *cut,
                        GError **error) {
  struct ew_recording_row row;
  if (!ew_recording_facts(book, stream->id, &row, error))
    return NULL;
  g_autofree char *name = ew_exact("live %" G_GINT64_FORMAT ", %.1f to %.1f s, recovered",
                                   stream->id, cut->from_s, cut->to_s);
  g_autofree char *engine =
      row.engine_id ? g_strdup_printf("%" G_GINT64_FORMAT, row.engine_id) : NULL;
  ew_recording_row_clear(&row);
  if (!has_pull(desk, cut->frames, name))
    return g_array_new(FALSE, FALSE, sizeof(gint64));
  g_autoptr(ew_message) doubt = ew_message_about(ew_message_plain(&ew_doubt_recovered), "set-up");
  struct ew_add_options options = {
      .engine = engine,
      .name = name,
      .cut = cut,
      .stamp_s = ew_instant(stream->last_stored_at ? stream->last_stored_at : stream->began_at),
      .doubt = doubt};
  struct ew_added added;
  if (!ew_add_cut(desk, name, &options, &added, error))
    return NULL;
  GArray *pulls = g_array_ref(added.pull_ids);
  ew_added_clear(&added);
  return pulls;
}

/* How many rows lie behind the last cut, and from when to when. */
static gboolean find_rest(struct ew_book *book, const struct ew_stream_row *stream, struct rest *r,
                          GError **error) {
  *r = (struct rest){.from_s = NAN, .to_s = NAN};
  if (!last_cut(book, stream->id, &r->after_s, error) ||
      !ew_stream_each(book, stream->id, count_rows, r, error))
    return FALSE;
  g_assert(r->before >= 0 && r->rows >= 0);
  return TRUE;
}

GArray *ew_recover_pulls(struct ew_book *book, const struct ew_stream_row *stream, GError **error) {
  struct rest r;
  struct ew_cut_place place;
  g_autofree char *sensors = NULL;
  if (!find_rest(book, stream, &r, error))
    return NULL;
  if (r.rows < 2)
    return g_array_new(FALSE, FALSE, sizeof(gint64));
  struct ew_cut_anchor anchor = {stream->blocks, r.before + r.rows};
  struct ew_desk desk = {0};
  if (!read_sensors(book, stream->id, &sensors, error) ||
      !ew_cut_find(book, stream->id, &anchor, r.before, r.rows, &place, error))
    return NULL;
  place.sensors = sensors;
  g_autoptr(ew_frames) frames = ew_cut_frames(book, stream->id, &place, error);
  struct ew_new_cut cut = {stream->id, r.from_s, r.to_s, NULL, frames, &place};
  GArray *pulls = frames && ew_desk_open(&desk, book, error)
                      ? add_rest(book, &desk, stream, &cut, error)
                      : NULL;
  ew_desk_clear(&desk);
  return pulls;
}
