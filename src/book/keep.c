/* The short verbs of keep.h: a struct of what was asked, a body that does it inside the transaction, the verb.
 * Recordings, live rows and builds have files of their own. */
#include "book/keep.h"
#include "base/error.h"
#include "book/engines.h"
#include "book/curve_note.h"
#include "book/found.h"
#include "book/note.h"
#include "book/write.h"

/* ---- settings ---- */
struct settings_ask {
  const struct ew_setting *settings;
  gsize count;
};

static gboolean is_still(const char *what, const char *now, const char *was, GError **error) {
  if (g_strcmp0(now, was) == 0)
    return TRUE;
  return ew_answer_no(error, "%s: somebody else changed it in the meantime; look at theirs first",
                      what);
}

static gboolean keep_one(struct ew_book *book, const struct ew_setting *s, GError **error) {
  g_autofree char *now = NULL;
  if (s->when != EW_SETTING_ALWAYS && !ew_setting_get(book, s->key, &now, error))
    return FALSE;
  if (s->when == EW_SETTING_UNLESS_SET && now && *now)
    return TRUE;
  return (s->when != EW_SETTING_IF_STILL || is_still(s->key, now, s->was, error)) &&
         ew_setting_set(book, s->key, s->value, error);
}

static gboolean settings_body(struct ew_book *book, gpointer user, GError **error) {
  const struct settings_ask *a = user;
  gboolean good = TRUE;
  for (gsize i = 0; good && i < a->count; i++)
    good = keep_one(book, &a->settings[i], error);
  return good;
}

gboolean ew_keep_settings(struct ew_book *book, const struct ew_setting *settings, gsize count,
                          GError **error) {
  struct settings_ask a = {settings, count};
  return count == 0 || ew_book_write(book, settings_body, &a, error);
}

gboolean ew_keep_setting(struct ew_book *book, const char *key, const char *value, GError **error) {
  const struct ew_setting one = {.key = key, .value = value};
  return ew_keep_settings(book, &one, 1, error);
}

struct texts_ask {
  const char *const *texts;
};

static gboolean log_body(struct ew_book *book, gpointer user, GError **error) {
  const struct texts_ask *a = user;
  return ew_book_log(book, a->texts[0], a->texts[1], error);
}

gboolean ew_keep_log(struct ew_book *book, const char *what, const char *detail, GError **error) {
  const char *const texts[] = {what, detail};
  struct texts_ask a = {texts};
  return ew_book_write(book, log_body, &a, error);
}

struct calibration_ask {
  const struct ew_calibration_row *row;
};

static gboolean calibration_body(struct ew_book *book, gpointer user, GError **error) {
  return ew_calibration_add(book, ((struct calibration_ask *)user)->row, error);
}

gboolean ew_keep_calibration(struct ew_book *book, const struct ew_calibration_row *row,
                             GError **error) {
  struct calibration_ask a = {row};
  return ew_book_write(book, calibration_body, &a, error);
}

/* ---- engines ---- */
struct engine_ask {
  const struct ew_new_engine *engine;
  gint64 id;
};

static gboolean engine_body(struct ew_book *book, gpointer user, GError **error) {
  struct engine_ask *a = user;
  const struct ew_new_engine *e = a->engine;
  struct settings_ask settings = {e->settings, e->settings_count};
  if (e->if_still) {
    struct ew_engine_row row;
    gboolean still =
        ew_engine_find(book, e->name, &row, error) && is_still(e->name, row.yaml, e->was, error);
    ew_engine_row_clear(&row);
    if (!still)
      return FALSE;
  }
  a->id = ew_engine_add(book, e->name, e->yaml, error);
  return a->id && settings_body(book, &settings, error);
}

gint64 ew_keep_engine(struct ew_book *book, const struct ew_new_engine *engine, GError **error) {
  struct engine_ask a = {engine, 0};
  return ew_book_write(book, engine_body, &a, error) ? a.id : 0;
}

struct in_cell_ask {
  gint64 id, *before;
};

static gboolean in_cell_body(struct ew_book *book, gpointer user, GError **error) {
  const struct in_cell_ask *a = user;
  g_autofree char *id = g_strdup_printf("%" G_GINT64_FORMAT, a->id);
  struct ew_engine_row row, before = {0};
  gboolean good =
      ew_engine_get(book, id, &row, error) && ew_engine_find(book, NULL, &before, error);
  *a->before = before.id;
  good = good && ew_engine_put_in_cell(book, row.name, error);
  ew_engine_row_clear(&row);
  ew_engine_row_clear(&before);
  return good;
}

gboolean ew_keep_engine_in_cell(struct ew_book *book, gint64 id, gint64 *before, GError **error) {
  struct in_cell_ask a = {id, before};
  return ew_book_write(book, in_cell_body, &a, error);
}

/* ---- pulls and answers ---- */
struct why_ask {
  gint64 id;
  const char *why;
};

static gboolean discard_body(struct ew_book *book, gpointer user, GError **error) {
  const struct why_ask *a = user;
  struct ew_pull_row row;
  if (!ew_pull_get(book, a->id, &row, error))
    return FALSE;
  ew_pull_row_clear(&row);
  return ew_pull_discard(book, a->id, a->why, error);
}

gboolean ew_keep_discard(struct ew_book *book, gint64 pull_id, const char *reason, GError **error) {
  struct why_ask a = {pull_id, reason};
  return ew_book_write(book, discard_body, &a, error);
}

struct answer_ask {
  const struct ew_verdict_row *row;
};

static gboolean answer_body(struct ew_book *book, gpointer user, GError **error) {
  return ew_verdict_add(book, ((struct answer_ask *)user)->row, error);
}

gboolean ew_keep_answer(struct ew_book *book, const struct ew_verdict_row *row, GError **error) {
  struct answer_ask a = {row};
  return ew_book_write(book, answer_body, &a, error);
}

/* ---- photos, files, notes, what was found ---- */
struct attachment_ask {
  const struct ew_owner *owner;
  const char *name, *note, *taken_at;
  GBytes *bytes;
  gint64 id;
};

static gboolean attachment_body(struct ew_book *book, gpointer user, GError **error) {
  struct attachment_ask *a = user;
  a->id = ew_attachment_add(book, a->owner, a->name, a->bytes, a->note, a->taken_at, error);
  return a->id != 0;
}

gint64 ew_keep_attachment(struct ew_book *book, const struct ew_owner *owner, const char *name,
                          GBytes *bytes, const char *note, const char *taken_at, GError **error) {
  struct attachment_ask a = {owner, name, note, taken_at, bytes, 0};
  return ew_book_write(book, attachment_body, &a, error) ? a.id : 0;
}

static gboolean attachment_withdrawn_body(struct ew_book *book, gpointer user, GError **error) {
  const struct why_ask *a = user;
  return ew_attachment_withdraw(book, a->id, a->why, error);
}

gboolean ew_keep_attachment_withdrawn(struct ew_book *book, gint64 id, const char *why,
                                      GError **error) {
  struct why_ask a = {id, why};
  return ew_book_write(book, attachment_withdrawn_body, &a, error);
}

struct note_ask {
  const char *at, *text;
  gboolean *added;
  gint64 id;
};

static gboolean note_body(struct ew_book *book, gpointer user, GError **error) {
  struct note_ask *a = user;
  a->id = ew_note_add(book, a->at, a->text, a->added, error);
  return a->id != 0;
}

gint64 ew_keep_note(struct ew_book *book, const char *at, const char *text, gboolean *added,
                    GError **error) {
  struct note_ask a = {at, text, added, 0};
  return ew_book_write(book, note_body, &a, error) ? a.id : 0;
}

static gboolean note_withdrawn_body(struct ew_book *book, gpointer user, GError **error) {
  const struct why_ask *a = user;
  return ew_note_withdraw(book, a->id, a->why, error);
}

gboolean ew_keep_note_withdrawn(struct ew_book *book, gint64 id, const char *why, GError **error) {
  struct why_ask a = {id, why};
  return ew_book_write(book, note_withdrawn_body, &a, error);
}

struct curve_note_ask {
  gint64 pull_id, id;
  double speed_rpm;
  const char *text, *who;
  gboolean *added;
};

static gboolean curve_note_body(struct ew_book *book, gpointer user, GError **error) {
  struct curve_note_ask *a = user;
  a->id = ew_curve_note_add(book, a->pull_id, a->speed_rpm, a->text, a->who, a->added, error);
  return a->id != 0;
}

gint64 ew_keep_curve_note(struct ew_book *book, gint64 pull_id, double speed_rpm, const char *text,
                          const char *who, gboolean *added, GError **error) {
  struct curve_note_ask a = {pull_id, 0, speed_rpm, text, who, added};
  return ew_book_write(book, curve_note_body, &a, error) ? a.id : 0;
}

static gboolean curve_note_withdrawn_body(struct ew_book *book, gpointer user, GError **error) {
  const struct why_ask *a = user;
  return ew_curve_note_withdraw(book, a->id, a->why, error);
}

gboolean ew_keep_curve_note_withdrawn(struct ew_book *book, gint64 id, const char *why,
                                      GError **error) {
  struct why_ask a = {id, why};
  return ew_book_write(book, curve_note_withdrawn_body, &a, error);
}

struct found_ask {
  const char *belongs, *text, *who;
  const gint64 *owners;
  gsize count;
  gboolean withdraw; /* `text` is the reason */
};

static gboolean found_body(struct ew_book *book, gpointer user, GError **error) {
  const struct found_ask *a = user;
  gboolean good = TRUE;
  for (gsize i = 0; good && i < a->count; i++)
    good = a->withdraw ? ew_found_withdraw(book, a->belongs, a->owners[i], a->text, error)
                       : ew_found_add(book, a->belongs, a->owners[i], a->text, a->who, error) != 0;
  return good;
}

gboolean ew_keep_found(struct ew_book *book, const char *belongs, const gint64 *owners, gsize count,
                       const char *text, const char *who, GError **error) {
  struct found_ask a = {belongs, text, who, owners, count, FALSE};
  return ew_book_write(book, found_body, &a, error);
}

gboolean ew_keep_found_withdrawn(struct ew_book *book, const char *belongs, const gint64 *owners,
                                 gsize count, const char *why, GError **error) {
  struct found_ask a = {belongs, why, NULL, owners, count, TRUE};
  return ew_book_write(book, found_body, &a, error);
}

/* ---- build records (their files: keep_build.c) ---- */
struct record_ask {
  gint64 build_id;
  enum ew_build_kind kind;
  const void *record;
  struct ew_kept_record *kept;
};

static gboolean record_body(struct ew_book *book, gpointer user, GError **error) {
  const struct record_ask *a = user;
  return ew_build_keep(book, a->build_id, a->kind, a->record, &a->kept->added, error) &&
         ew_build_record_id(book, a->build_id, a->kind, a->record, &a->kept->id, error);
}

gboolean ew_keep_build_record(struct ew_book *book, gint64 build_id, enum ew_build_kind kind,
                              const void *record, struct ew_kept_record *kept, GError **error) {
  struct record_ask a = {build_id, kind, record, kept};
  return ew_book_write(book, record_body, &a, error);
}

static gboolean build_withdrawn_body(struct ew_book *book, gpointer user, GError **error) {
  const struct why_ask *a = user;
  return ew_build_withdraw(book, a->id, a->why, error);
}

gboolean ew_keep_build_withdrawn(struct ew_book *book, gint64 record_id, const char *why,
                                 GError **error) {
  struct why_ask a = {record_id, why};
  return ew_book_write(book, build_withdrawn_body, &a, error);
}

/* ---- a live recording that nobody ended ---- */
static gboolean live_end_body(struct ew_book *book, gpointer user, GError **error) {
  const struct why_ask *a = user;
  return ew_stream_end(book, a->id, a->why, error);
}

gboolean ew_keep_live_end(struct ew_book *book, gint64 id, const char *how, GError **error) {
  struct why_ask a = {id, how};
  return ew_book_write(book, live_end_body, &a, error);
}
