/* Builds with all their records and files. */
#include "base/error.h"
#include "book/keep.h"
#include "book/sql.h"
#include "book/write.h"
#include <string.h>

struct ask {
  const struct ew_new_build *builds;
  gsize count;
  struct ew_kept_builds *kept;
};

/* The engine of the book stays as it is; only one that it does not have is added. */
static gboolean settle_engine(struct ew_book *book, const struct ew_new_build *n,
                              struct ew_engine_row *row, GError **error) {
  if (n->engine)
    return ew_engine_get(book, n->engine, row, error);
  if (!ew_engine_find(book, n->engine_name, row, error))
    return FALSE;
  if (n->engine_added)
    *n->engine_added = !row->id;
  return row->id || (ew_engine_add(book, n->engine_name, n->engine_yaml, error) &&
                     ew_engine_get(book, n->engine_name, row, error));
}

static gint64 settle_build(struct ew_book *book, const struct ew_new_build *n, gint64 engine_id,
                           GError **error) {
  GError *problem = NULL;
  g_autoptr(GArray) rows = ew_build_list(book, engine_id, &problem);
  if (problem) {
    ew_sql_tell(problem, error);
    return 0;
  }
  for (guint i = n->anew ? 0 : rows->len; i-- > 0;) {
    const struct ew_build_row *row = &g_array_index(rows, struct ew_build_row, i);
    if (strcmp(row->name, n->name) == 0)
      return row->id;
  }
  return ew_build_start(book, engine_id, n->name, error);
}

static gboolean keep_records(struct ew_book *book, const struct ew_build *build,
                             struct ew_kept_builds *kept, GError **error) {
  for (int k = 0; k < EW_BUILD_KINDS_COUNT; k++)
    for (guint i = 0; i < build->records[k]->len; i++) {
      const struct ew_build_mark *mark = build->records[k]->pdata[i];
      gboolean is_new;
      if (mark->id)
        continue; /* it was there */
      if (!ew_build_keep(book, build->id, k, mark, &is_new, error))
        return FALSE;
      kept->added += is_new;
      kept->there += !is_new;
    }
  return TRUE;
}

static gboolean keep_files(struct ew_book *book, const struct ew_new_build *n, gint64 build_id,
                           GError **error) {
  const struct ew_owner owner = {EW_OWNER_BUILD, build_id, NULL};
  gboolean good = TRUE;
  for (gsize i = 0; good && i < n->files_count; i++)
    good = ew_attachment_add(book, &owner, n->files[i].name, n->files[i].bytes, n->files[i].note,
                             NULL, error) != 0;
  return good;
}

static gboolean keep_build(struct ew_book *book, const struct ew_new_build *n,
                           struct ew_kept_builds *kept, GError **error) {
  struct ew_engine_row engine = {0};
  if (!settle_engine(book, n, &engine, error))
    return FALSE;
  gint64 id = settle_build(book, n, engine.id, error);
  g_autoptr(ew_build) build = id ? ew_build_load(book, id, error) : NULL;
  gboolean good = build && n->fill(build, &engine, n->user, error) &&
                  keep_records(book, build, kept, error) && keep_files(book, n, id, error);
  ew_engine_row_clear(&engine);
  return good;
}

static gboolean body(struct ew_book *book, gpointer user, GError **error) {
  const struct ask *a = user;
  *a->kept = (struct ew_kept_builds){0};
  gboolean good = TRUE;
  for (gsize i = 0; good && i < a->count; i++)
    good = keep_build(book, &a->builds[i], a->kept, error);
  return good;
}

gboolean ew_keep_builds(struct ew_book *book, const struct ew_new_build *builds, gsize count,
                        struct ew_kept_builds *kept, GError **error) {
  struct ask a = {builds, count, kept};
  return ew_book_write(book, body, &a, error);
}
