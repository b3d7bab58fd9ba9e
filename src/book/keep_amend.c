/* Holds, amendments and profiles of recorders as verbs. */
#include "base/error.h"
#include "book/keep.h"
#include "book/write.h"

/* ---- held ---- */
struct hold_ask {
  gint64 pull_id;
  const GPtrArray *findings;
  guint *added;
};

static gboolean hold_body(struct ew_book *book, gpointer user, GError **error) {
  const struct hold_ask *a = user;
  struct ew_pull_row row;
  if (!ew_pull_get(book, a->pull_id, &row, error))
    return FALSE;
  ew_pull_row_clear(&row);
  return ew_hold_add(book, a->pull_id, a->findings, a->added, error);
}

gboolean ew_keep_hold(struct ew_book *book, gint64 pull_id, const GPtrArray *findings, guint *added,
                      GError **error) {
  struct hold_ask a = {pull_id, findings, added};
  return ew_book_write(book, hold_body, &a, error);
}

struct right_ask {
  const gint64 *pulls;
  gsize count;
  const char *who, *reason;
};

static gboolean right_body(struct ew_book *book, gpointer user, GError **error) {
  const struct right_ask *a = user;
  gboolean good = TRUE;
  for (gsize i = 0; good && i < a->count; i++)
    good = ew_hold_right(book, a->pulls[i], a->who, a->reason, error);
  return good;
}

gboolean ew_keep_right(struct ew_book *book, const gint64 *pulls, gsize count, const char *who,
                       const char *reason, GError **error) {
  struct right_ask a = {pulls, count, who, reason};
  return ew_book_write(book, right_body, &a, error);
}

/* ---- amended ---- */
struct amend_ask {
  const struct ew_new_amendment *new;
  GArray *ids, *more;
  guint more_before; /* of other recordings */
};

static gboolean add_more(struct ew_book *book, const struct amend_ask *a, GError **error) {
  for (gsize i = 0; i < a->new->more_count; i++) {
    const struct ew_new_pull *pull = &a->new->more[i];
    gint64 id = ew_pull_add(book, &pull->row, error);
    if (!id || !ew_curve_put(book, id, &pull->curve, error) ||
        (pull->findings && !ew_hold_add(book, id, pull->findings, NULL, error)))
      return FALSE;
    if (a->more)
      g_array_append_val(a->more, id);
  }
  return TRUE;
}

static gboolean move_others(struct ew_book *book, const struct ew_new_amendment *n,
                            GError **error) {
  gboolean still;
  if (!ew_pulls_unmoved(book, n->moved, n->moved_count, &still, error))
    return FALSE;
  if (!still)
    return ew_refuse(error, "a pull that ran before or after it was given another run or mounting "
                            "meanwhile: ask for the amendment again");
  for (gsize i = 0; i < n->moved_count; i++)
    if (!ew_pull_move(book, &n->moved[i], error))
      return FALSE;
  return TRUE;
}

static gboolean amend_body(struct ew_book *book, gpointer user, GError **error) {
  const struct amend_ask *a = user;
  const struct ew_new_amendment *n = a->new;
  g_array_set_size(a->ids, 0);
  if (a->more)
    g_array_set_size(a->more, a->more_before);
  return ew_amend_pulls(book, n->pulls, n->pulls_count, n->who, n->reason, a->ids, error) &&
         (!n->recording || ew_amend_recording(book, n->recording, error)) &&
         (!n->map_source ||
          ew_channel_map_put(book, n->map_source, n->recording->channel_map, error)) &&
         (!n->recorder || ew_recorder_add(book, n->recorder, n->profile, n->who, error)) &&
         move_others(book, n, error) && add_more(book, a, error);
}

gboolean ew_keep_amendment(struct ew_book *book, const struct ew_new_amendment *amendment,
                           GArray *ids, GArray *more, GError **error) {
  struct amend_ask a = {amendment, ids, more, more ? more->len : 0};
  return ew_book_write(book, amend_body, &a, error);
}

/* ---- recorders ---- */
struct recorder_ask {
  const char *name, *yaml, *who, *fingerprint, *why;
  gint64 id;
};

static gboolean recorder_body(struct ew_book *book, gpointer user, GError **error) {
  struct recorder_ask *a = user;
  a->id = ew_recorder_add(book, a->name, a->yaml, a->who, error);
  return a->id && (!a->fingerprint || ew_recorder_mark(book, a->fingerprint, a->name, error));
}

gint64 ew_keep_recorder(struct ew_book *book, const char *name, const char *yaml, const char *who,
                        const char *fingerprint, GError **error) {
  struct recorder_ask a = {name, yaml, who, fingerprint, NULL, 0};
  return ew_book_write(book, recorder_body, &a, error) ? a.id : 0;
}

static gboolean recorder_withdrawn_body(struct ew_book *book, gpointer user, GError **error) {
  const struct recorder_ask *a = user;
  return ew_recorder_withdraw(book, a->name, a->why, error);
}

gboolean ew_keep_recorder_withdrawn(struct ew_book *book, const char *name, const char *why,
                                    GError **error) {
  struct recorder_ask a = {name, NULL, NULL, NULL, why, 0};
  return ew_book_write(book, recorder_withdrawn_body, &a, error);
}

static gboolean recorder_mark_body(struct ew_book *book, gpointer user, GError **error) {
  const struct recorder_ask *a = user;
  return ew_recorder_mark(book, a->fingerprint, a->name, error);
}

gboolean ew_keep_recorder_mark(struct ew_book *book, const char *fingerprint, const char *name,
                               GError **error) {
  struct recorder_ask a = {name, NULL, NULL, fingerprint, NULL, 0};
  return ew_book_write(book, recorder_mark_body, &a, error);
}
