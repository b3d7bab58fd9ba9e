/* Rows of jobs. Only added and withdrawn, so that a count of rows tells whether anything changed. */
#include "book/job.h"
#include "base/error.h"
#include "base/suggest.h"
#include "book/keep.h"
#include "book/origin.h"
#include "book/sql.h"
#include "book/write.h"
#include <string.h>

#define DB        ew_book_port(book)
#define NAME_MOST 200 /* bytes */
#define COLUMNS   "SELECT id, kind, yaml, at, who, lines, day FROM job_record WHERE "

static void job_row_clear(void *data) {
  struct ew_job_row *row = data;
  g_free(row->name);
  g_free(row->at);
  g_free(row->day);
}

GArray *ew_job_list(struct ew_book *book, GError **error) {
  GArray *rows = g_array_new(FALSE, TRUE, sizeof(struct ew_job_row));
  GError *problem = NULL;
  g_array_set_clear_func(rows, job_row_clear);
  struct ew_port_rows *s =
      ew_sql_query(DB, &problem, "SELECT id, name, at, day FROM job ORDER BY id", "");
  while (ew_sql_next(s, &problem)) {
    struct ew_job_row row = {ew_sql_int(s, 0), ew_sql_text(s, 1), ew_sql_text(s, 2),
                             ew_sql_text(s, 3)};
    g_array_append_val(rows, row);
  }
  ew_sql_done(s);
  if (ew_sql_tell(problem, error))
    return rows;
  g_array_unref(rows);
  return NULL;
}

gboolean ew_job_count(struct ew_book *book, gint64 job_id, enum ew_job_kind kind, gint64 *count,
                      GError **error) {
  return ew_sql_number(DB, count, error,
                       "SELECT count(*) FROM job_record WHERE coalesce(job_id, 0) = ? AND kind = ?",
                       "it", job_id, ew_job_kind_key(kind));
}

static gboolean load_lines(struct ew_job_mark *mark, const char *text, const char *where,
                           GError **error) {
  if (!text)
    return TRUE;
  mark->lines = ew_job_lines_read(text, strlen(text), where, EW_JOB_LINES_WHOLE, NULL, error);
  return mark->lines != NULL;
}

static gboolean load_row(struct ew_job *job, struct ew_port_rows *s, GError **error) {
  enum ew_job_kind kind;
  const char *yaml = ew_sql_peek(s, 2);
  g_autofree char *where = g_strdup_printf("job record %" G_GINT64_FORMAT, ew_sql_int(s, 0)),
                  *lines = ew_sql_text(s, 5);
  if (!ew_job_kind_find(ew_sql_peek(s, 1), &kind))
    return ew_refuse(error, "%s is not of a known kind", where);
  g_autoptr(ew_node) node =
      ew_node_parse(where, *yaml ? yaml : "{}", *yaml ? strlen(yaml) : 2, error);
  struct ew_job_mark *mark = node ? ew_job_record_parse(kind, node, where, error) : NULL;
  if (!mark || !load_lines(mark, lines, where, error) ||
      !ew_job_record_check(kind, mark, where, error)) {
    ew_job_record_free(kind, mark);
    return FALSE;
  }
  mark->id = ew_sql_int(s, 0);
  if (!mark->at)
    mark->at = ew_sql_text(s, 3);
  if (!mark->who)
    mark->who = ew_sql_text(s, 4);
  g_strlcpy(mark->day, ew_sql_peek(s, 6), sizeof mark->day);
  g_ptr_array_add(job->records[kind], mark);
  return TRUE;
}

static gboolean load_head(struct ew_book *book, struct ew_job *job, GError **error) {
  GError *problem = NULL;
  struct ew_port_rows *s =
      ew_sql_query(DB, &problem, "SELECT name, at, day FROM job WHERE id = ?", "i", job->id);
  gboolean there = ew_sql_next(s, &problem);
  if (there) {
    job->name = ew_sql_text(s, 0);
    job->at = ew_sql_text(s, 1);
    g_strlcpy(job->day, ew_sql_peek(s, 2), sizeof job->day);
  }
  ew_sql_done(s);
  return ew_sql_tell(problem, error) &&
         (there || ew_refuse(error, "there is no job %" G_GINT64_FORMAT " in this book", job->id));
}

struct ew_job *ew_job_load(struct ew_book *book, gint64 id, GError **error) {
  g_autoptr(ew_job) job = ew_job_new();
  job->id = id;
  if (id && !load_head(book, job, error))
    return NULL;
  GError *problem = NULL;
  struct ew_port_rows *s =
      id ? ew_sql_query(DB, &problem, COLUMNS "job_id = ? AND withdrawn IS NULL ORDER BY id", "i",
                        id)
         : ew_sql_query(DB, &problem,
                        COLUMNS "job_id IS NULL AND withdrawn IS NULL ORDER BY id DESC LIMIT 1",
                        "");
  while (!problem && ew_sql_next(s, &problem))
    load_row(job, s, &problem);
  ew_sql_done(s);
  return ew_sql_tell(problem, error) ? g_steal_pointer(&job) : NULL;
}

/* 0: none of them. */
static gint64 id_of(const GArray *rows, const char *name) {
  gint64 id = 0;
  char *end = NULL;
  guint64 number = g_ascii_strtoull(name, &end, 10);
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_job_row *row = &g_array_index(rows, struct ew_job_row, i);
    if (g_ascii_strcasecmp(row->name, name) == 0 ||
        (!id && g_ascii_isdigit(*name) && !*end && number == (guint64)row->id))
      id = row->id;
  }
  return id;
}

struct ew_job *ew_job_get(struct ew_book *book, const char *name, GError **error) {
  g_autoptr(GArray) rows = ew_job_list(book, error);
  if (!rows)
    return NULL;
  gint64 id = id_of(rows, name);
  if (id)
    return ew_job_load(book, id, error);
  g_autoptr(GPtrArray) names = g_ptr_array_new();
  for (guint i = 0; i < rows->len; i++)
    g_ptr_array_add(names, g_array_index(rows, struct ew_job_row, i).name);
  const char *near =
      names->len ? ew_suggest(name, (const char *const *)names->pdata, names->len) : NULL;
  if (near)
    ew_refuse(error, "there is no job '%.60s'; did you mean '%s'?", name, near);
  else
    ew_refuse(error, "there is no job '%.60s'; 'job list' names them", name);
  return NULL;
}

gboolean ew_job_record_find(struct ew_book *book, gint64 record_id, gint64 *job_id,
                            enum ew_job_kind *kind, GError **error) {
  GError *problem = NULL;
  struct ew_port_rows *s = ew_sql_query(
      DB, &problem,
      "SELECT coalesce(job_id, 0), kind FROM job_record WHERE id = ? AND withdrawn IS NULL", "i",
      record_id);
  gboolean there = ew_sql_next(s, &problem);
  if (there) {
    *job_id = ew_sql_int(s, 0);
    there = ew_job_kind_find(ew_sql_peek(s, 1), kind);
  }
  ew_sql_done(s);
  return ew_sql_tell(problem, error) &&
         (there || ew_refuse(error, "there is no active job record %" G_GINT64_FORMAT, record_id));
}

/* ---- verbs ---- */

struct job_ask {
  const char *name, *at;
  gint64 id;
};

static gboolean name_is_good(struct ew_book *book, const char *name, GError **error) {
  gsize length = strlen(name);
  if (length == 0 || length > NAME_MOST || name[strspn(name, " \t\n")] == 0 ||
      name[strspn(name, "0123456789")] == 0)
    return ew_refuse(error,
                     "name '%.40s': give the job a name of at most %d bytes that is not a number",
                     name, NAME_MOST);
  g_autoptr(GArray) rows = ew_job_list(book, error);
  gint64 other = rows ? id_of(rows, name) : 0;
  return rows && (!other || ew_refuse(error,
                                      "name '%s': job %" G_GINT64_FORMAT
                                      " has this name already; 'job wish' amends it",
                                      name, other));
}

static gboolean job_body(struct ew_book *book, gpointer user, GError **error) {
  struct job_ask *a = user;
  g_autofree char *now = ew_time_now();
  const char *at = a->at ? a->at : now;
  struct ew_origin o;
  a->id = 0;
  if (!name_is_good(book, a->name, error) || !ew_origin_new(book, at, &o, error))
    return FALSE;
  a->id = ew_sql_insert(DB, error,
                        "INSERT INTO job (name, at, who, " EW_ORIGIN_COLUMNS
                        ") VALUES (?, ?, ?, ?, ?, ?, ?) RETURNING id",
                        "ttto", a->name, at, ew_book_who(), &o);
  return a->id && ew_book_log(book, "job", a->name, error);
}

gint64 ew_keep_job(struct ew_book *book, const char *name, const char *at, GError **error) {
  struct job_ask a = {name, at, 0};
  return ew_book_write(book, job_body, &a, error) ? a.id : 0;
}

struct record_ask {
  gint64 job_id;
  enum ew_job_kind kind;
  const void *record;
  gint64 id;
};

static gboolean record_body(struct ew_book *book, gpointer user, GError **error) {
  struct record_ask *a = user;
  const struct ew_job_mark *mark = a->record;
  const char *key = ew_job_kind_key(a->kind);
  g_autofree char *yaml = ew_job_record_yaml(a->kind, a->record), *now = ew_time_now(),
                  *lines = mark->lines && mark->lines->len ? ew_job_lines_write(mark->lines) : NULL;
  const char *at = mark->at ? mark->at : now;
  struct ew_origin o;
  if (!ew_origin_new(book, at, &o, error))
    return FALSE;
  a->id =
      ew_sql_insert(DB, error,
                    "INSERT INTO job_record (job_id, kind, at, who, yaml, lines, " EW_ORIGIN_COLUMNS
                    ") VALUES (nullif(?, 0), ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
                    "itttt"
                    "to",
                    a->job_id, key, at, mark->who ? mark->who : ew_book_who(), yaml, lines, &o);
  g_autofree char *what = g_strdup_printf("job %s", key);
  return a->id && ew_book_log(book, what, yaml, error);
}

gboolean ew_keep_job_record(struct ew_book *book, gint64 job_id, enum ew_job_kind kind,
                            void *record, GError **error) {
  struct record_ask a = {job_id, kind, record, 0};
  if (!ew_book_write(book, record_body, &a, error))
    return FALSE;
  ((struct ew_job_mark *)record)->id = a.id;
  return TRUE;
}

struct why_ask {
  gint64 id;
  const char *why;
};

static gboolean withdrawn_body(struct ew_book *book, gpointer user, GError **error) {
  const struct why_ask *a = user;
  gint64 job_id;
  enum ew_job_kind kind;
  g_autofree char *detail = g_strdup_printf("job record %" G_GINT64_FORMAT ": %s", a->id, a->why);
  return ew_job_record_find(book, a->id, &job_id, &kind, error) &&
         ew_sql_run(DB, error, "UPDATE job_record SET withdrawn = ? WHERE id = ?", "ti", a->why,
                    a->id) &&
         ew_book_log(book, "withdraw", detail, error);
}

gboolean ew_keep_job_withdrawn(struct ew_book *book, gint64 record_id, const char *why,
                               GError **error) {
  struct why_ask a = {record_id, why};
  return ew_book_write(book, withdrawn_body, &a, error);
}
