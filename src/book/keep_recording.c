/* A recording with its pulls: is it known, did another pull come first, then all of it or nothing. */
#include "base/error.h"
#include "book/change.h"
#include "book/figures.h"
#include "book/keep.h"
#include "book/sql.h"
#include "book/write.h"
#include <string.h>

struct ask {
  struct ew_new_recording *new;
  struct ew_kept_recording *kept;
};

/* A fact of the station, an amendment of an earlier pull, a calibration: what came between is carried and applied too. */
static gboolean nothing_came(struct ew_book *book, const struct ew_last_kept *before,
                             gboolean *still, GError **error) {
  struct ew_last_kept now;
  if (!before)
    return TRUE;
  if (!ew_book_last_kept(book, &now, error))
    return FALSE;
  *still = now.change == before->change && now.recording == before->recording &&
           now.pull == before->pull;
  return TRUE;
}

/* Is the pull that the set-up was carried forward from still the engine's last, are those that it moves where they were, and was
 * nothing else kept meanwhile? */
static gboolean is_still_last(struct ew_book *book, const struct ew_new_recording *n,
                              gboolean *still, GError **error) {
  struct ew_pull_row now;
  GError *problem = NULL;
  ew_pull_last(book, n->row.engine_id, &now, &problem);
  *still = now.id == n->last->id && now.run == n->last->run && now.mounting == n->last->mounting &&
           g_strcmp0(now.setup, n->last->setup) == 0;
  ew_pull_row_clear(&now);
  return ew_sql_tell(problem, error) &&
         (!*still || ew_pulls_unmoved(book, n->moved, n->moved_count, still, error)) &&
         (!*still || nothing_came(book, n->before, still, error));
}

static gboolean add_pulls(struct ew_book *book, const struct ask *a, GError **error) {
  for (gsize i = 0; i < a->new->pulls_count; i++) {
    struct ew_pull_row row = a->new->pulls[i].row;
    row.recording_id = a->kept->id;
    gint64 id = ew_pull_add(book, &row, error);
    const GPtrArray *findings = a->new->pulls[i].findings;
    if (!id || !ew_curve_put(book, id, &a->new->pulls[i].curve, error) ||
        (findings && !ew_hold_add(book, id, findings, NULL, error)))
      return FALSE;
    g_array_append_val(a->kept->pull_ids, id);
  }
  return TRUE;
}

/* Later pulls whose run or mounting this one began. Each is logged with what it was. */
static gboolean move_pulls(struct ew_book *book, const struct ew_new_recording *n, GError **error) {
  for (gsize i = 0; i < n->moved_count; i++)
    if (!ew_pull_move(book, &n->moved[i], error))
      return FALSE;
  return TRUE;
}

static const struct ew_cut_place *place_of(const struct ew_new_recording *n) {
  return n->cut ? n->cut->place : NULL;
}

static gint64 add_recording(struct ew_book *book, const struct ew_new_recording *n,
                            GError **error) {
  struct ew_recording_row row = n->row;
  g_autoptr(GBytes) line = place_of(n) ? ew_cut_line() : NULL;
  if (line)
    row.bytes = line;
  return ew_recording_add(book, &row, n->run_s, error);
}

static gboolean add_all(struct ew_book *book, const struct ask *a, GError **error) {
  const struct ew_new_recording *n = a->new;
  if (a->kept->id == 0)
    a->kept->id = add_recording(book, n, error);
  else if (!ew_recording_reread(book, a->kept->id, &n->row, error))
    return FALSE;
  return a->kept->id && (!n->figures || ew_figures_put(book, a->kept->id, n->figures, error)) &&
         add_pulls(book, a, error) && (n->pulls_count == 0 || move_pulls(book, n, error)) &&
         (!n->map_source || ew_channel_map_put(book, n->map_source, n->map, error));
}

/* `is_new`: the recording was added now. One that the book had before has its bytes, or a place of its own. */
static gboolean link_cut(struct ew_book *book, const struct ask *a, gboolean is_new,
                         GError **error) {
  const struct ew_new_cut *c = a->new->cut;
  return !c ||
         ew_stream_pull_add(book, c->recording_id, a->kept->id, c->from_s, c->to_s,
                            c->near_json ? c->near_json : "[]", is_new ? c->place : NULL, error);
}

/* Known by its bytes, else by its figures. One that had no pulls before may give some now, with a channel map. */
static gboolean find_known(struct ew_book *book, const struct ask *a, gboolean *reread,
                           GError **error) {
  const struct ew_new_recording *n = a->new;
  gint64 id, like = 0;
  gboolean has_pulls = FALSE;
  if (!ew_recording_find(book, n->row.sha256, &id, error) ||
      (id && !ew_recording_has_pulls(book, id, &has_pulls, error)) ||
      (!id && n->figures &&
       !ew_figures_find(book, n->figures, n->row.rows, n->row.channels, &like, error)))
    return FALSE;
  *reread = id && n->pulls_count > 0 && !has_pulls;
  a->kept->known_bytes = id && !*reread;
  a->kept->known_figures = like != 0;
  a->kept->id = id ? id : like;
  return TRUE;
}

static gboolean body(struct ew_book *book, gpointer user, GError **error) {
  const struct ask *a = user;
  gboolean still, reread;
  g_array_set_size(a->kept->pull_ids, 0);
  if (!is_still_last(book, a->new, &still, error))
    return FALSE;
  a->kept->stale = !still && !a->new->prepare;
  if (a->kept->stale)
    return TRUE;
  if ((!still && !a->new->prepare(a->new, a->new->user, error)) ||
      !find_known(book, a, &reread, error))
    return FALSE;
  gboolean is_new = a->kept->id == 0;
  return ((!is_new && !reread) || add_all(book, a, error)) && link_cut(book, a, is_new, error);
}

gboolean ew_keep_recording(struct ew_book *book, struct ew_new_recording *recording,
                           struct ew_kept_recording *kept, GError **error) {
  *kept = (struct ew_kept_recording){.pull_ids = g_array_new(FALSE, FALSE, sizeof(gint64))};
  struct ask a = {recording, kept};
  if (ew_book_write(book, body, &a, error))
    return TRUE;
  g_clear_pointer(&kept->pull_ids, g_array_unref);
  return FALSE;
}
