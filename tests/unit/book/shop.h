/* A book in a folder of its own, with one recording and its pull, for the tests of this room. */
#pragma once
#include "../pull/recording.h"
#include <glib/gstdio.h>
#include "book/keep.h"
#include "book/sql.h"
#include "book/write.h"
#include "book/sqlite/sqlite.h"
#include "book/curve_blob.h"
#include "book/recompute.h"
#include "book/store.h"
#include "book/verify.h"

struct shop {
  char *folder, *path;
};

static inline struct shop shop_new(void) {
  g_setenv("EW_USER", "tester", TRUE);
  struct shop s = {g_dir_make_tmp("ew-book-XXXXXX", NULL), NULL};
  s.path = g_build_filename(s.folder, "shop.book", NULL);
  return s;
}

static inline void shop_clear(struct shop *s) {
  g_autoptr(GDir) all = g_dir_open(s->folder, 0, NULL);
  for (const char *name; all && (name = g_dir_read_name(all));) {
    g_autofree char *path = g_build_filename(s->folder, name, NULL);
    g_unlink(path);
  }
  g_rmdir(s->folder);
  g_free(s->folder);
  g_free(s->path);
}

/* The book; the test fails when it does not open. */
static inline struct ew_book *open_book(const char *path, gboolean create) {
  g_autoptr(GError) error = NULL;
  struct ew_book *book = ew_book_open(path, create, &error);
  expect(book != NULL, path, "%s", error ? error->message : "");
  return book;
}

/* NULL when it is not set. */
static inline char *setting_of(struct ew_book *book, const char *key) {
  g_autoptr(GError) error = NULL;
  char *value;
  expect(ew_setting_get(book, key, &value, &error), key, "%s", error->message);
  return value;
}

static inline char *sweep_text(double gain_seed) {
  struct recording r = recording_new(TRUE);
  g_rand_set_seed(r.random, (guint32)gain_seed);
  r.noise_n_m = 0.5;
  sweep(&r, 2500, 6500, 400);
  char *text = g_strdup(r.text->str);
  recording_clear(&r);
  return text;
}

/* Recording, pulls and curves in one transaction, as the desk does it. */
static inline gboolean keep_recording(struct ew_book *book, const char *text, GError **error) {
  struct facts *f = facts_new();
  struct ew_processed *p = process_text(text, f, "to be kept");
  g_autoptr(GBytes) bytes = g_bytes_new(text, strlen(text));
  g_autofree char *sha256 = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);
  struct ew_recording_row row = {.rows = (gint64)p->series->rows,
                                 .channels = p->series->channels_count,
                                 .name = (char *)"run.csv",
                                 .sha256 = sha256,
                                 .bytes = bytes};
  gboolean good = ew_book_begin(book, error);
  gint64 id = good ? ew_recording_add(book, &row, 10, error) : 0;
  good = id != 0;
  for (guint i = 0; good && i < p->curves->len; i++) {
    const struct ew_curve *c = curve_of(p, i);
    struct ew_pull_row pull = {.recording_id = id,
                               .part = (int)i,
                               .run = 1,
                               .mounting = 1,
                               .kind = (char *)"sweep",
                               .at = (char *)"2026-06-12T10:00:00Z",
                               .day = (char *)"2026-06-12",
                               .purpose = (char *)"pull",
                               .setup = (char *)"",
                               .top_rpm = c->high_rpm,
                               .band_mean_n_m = c->band_mean_n_m};
    gint64 pull_id = ew_pull_add(book, &pull, error);
    g_autoptr(GBytes) curve = ew_curve_to_bytes(c);
    g_autofree char *digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, curve);
    g_autofree char *method = ew_fields_write_yaml(&ew_method_fields, &f->method);
    g_autofree char *cell = ew_fields_write_yaml(&ew_bench_fields, &f->bench);
    struct ew_curve_row stored = {method, cell, (char *)"", digest, curve};
    good = pull_id != 0 && ew_curve_put(book, pull_id, &stored, error);
  }
  good = good && ew_book_commit(book, error);
  if (!good)
    ew_book_rollback(book);
  ew_processed_free(p);
  facts_free(f);
  return good;
}

/* Whole? With how many recordings? The test fails when the check itself does. */
static inline gboolean is_whole(struct ew_book *book, int *recordings, char **first_problem) {
  struct ew_verification v;
  g_autoptr(GError) error = NULL;
  expect(ew_book_verify(book, NULL, &v, &error), "verify", "%s", error->message);
  gboolean whole = v.whole;
  if (recordings)
    *recordings = v.recordings;
  if (first_problem)
    *first_problem = v.problems->len ? g_strdup(g_ptr_array_index(v.problems, 0)) : NULL;
  ew_verification_clear(&v);
  return whole;
}

static inline void run_sql(const char *path, const char *sql) {
  sqlite3 *db;
  assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
  char *problem = NULL;
  sqlite3_exec(db, sql, NULL, NULL, &problem);
  expect(problem == NULL, sql, "%s", problem);
  sqlite3_close(db);
}
