#include "sample_book.h"
#include "book/stream.h"
#include "book/store.h"
#include "desk/build.h"
#include "desk/day.h"
#include <glib/gstdio.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char steps[] =
    "steps:\n"
    "  - pull: {label: a, from: 2500 rpm, to: 4500 rpm, oil: 80 degC, spark: 26 deg, lambda: "
    "0.88}\n"
    "  - pull: {label: a, to: 4500 rpm}\n"
    "  - pull: {label: b, to: 4500 rpm, spark: 28 deg, changed: \"two degrees more\"}\n"
    "  - pull: {label: a, to: 4500 rpm, spark: 26 deg, changed: \"back\"}\n"
    "  - compare: [a, b]\n";

static char *folder;

static void drop_tree(const char *path) {
  g_autoptr(GDir) dir = g_dir_open(path, 0, NULL);
  for (const char *name; dir && (name = g_dir_read_name(dir));) {
    g_autofree char *inner = g_build_filename(path, name, NULL);
    if (g_file_test(inner, G_FILE_TEST_IS_DIR))
      drop_tree(inner);
    else
      g_unlink(inner);
  }
  g_rmdir(path);
}

char *ew_sample_folder(void) {
  if (!folder) {
    folder = g_strdup("/dev/shm/ew-fuzz-XXXXXX");
    if (g_getenv("TMPDIR") || !g_mkdtemp(folder)) {
      g_free(folder);
      folder = g_dir_make_tmp("ew-fuzz-XXXXXX", NULL);
    }
    g_assert(folder);
    g_setenv("XDG_CONFIG_HOME", folder, TRUE); /* this machine's own files are not the person's */
  }
  return folder;
}

static char *day_script(void) {
  char *text;
  g_assert(g_file_get_contents(EW_EXAMPLES "/days/hill-climb-six.yaml", &text, NULL, NULL));
  char *at = strstr(text, "\nsteps:");
  g_assert(at);
  at[1] = 0;
  char *script = g_strconcat(text, steps, NULL);
  g_free(text);
  return script;
}

static void make_day(const struct ew_sample *s) {
  g_autoptr(GError) error = NULL;
  g_autofree char *text = day_script();
  struct ew_build_loaded loaded;
  g_autoptr(ew_node) script = ew_node_parse("day", text, strlen(text), &error);
  struct ew_book *book = ew_book_open(s->path, TRUE, &error);
  if (!script || !book || !ew_run_demo(book, script, "day", NULL, NULL, NULL, &error) ||
      !ew_build_load_file(book, EW_EXAMPLES "/build/hill-climb-six.yaml", &loaded, &error))
    g_error("the sample book: %s", error->message);
  ew_book_checkpoint(book, TRUE, NULL);
  ew_book_close(book);
}

/* A day takes a second to make, under sanitizers and on a busy machine twenty: EW_SAMPLE_BOOK names a file that keeps it from one
 * process to the next. Whoever changes the program removes it (script/fuzz does at its start). */
static void make(struct ew_sample *s) {
  const char *kept = g_getenv("EW_SAMPLE_BOOK");
  if (kept && g_file_get_contents(kept, (char **)&s->image, &s->size, NULL))
    return;
  make_day(s);
  g_assert(g_file_get_contents(s->path, (char **)&s->image, &s->size, NULL));
  if (kept)
    g_assert(g_file_set_contents(kept, (const char *)s->image, (gssize)s->size, NULL));
}

const struct ew_sample *ew_sample_book(void) {
  static struct ew_sample sample;
  if (!sample.image) {
    sample.folder = ew_sample_folder();
    sample.path = g_build_filename(sample.folder, "fuzz.book", NULL);
    make(&sample);
  }
  return &sample;
}

/* Not g_file_set_contents, which waits for the disk. */
void ew_sample_put(const struct ew_sample *sample, const guint8 *image) {
  static const char *const ends[] = {"-wal", "-shm", "-recorder", ".practice"};
  for (gsize i = 0; i < G_N_ELEMENTS(ends); i++) {
    g_autofree char *beside = g_strconcat(sample->path, ends[i], NULL);
    g_unlink(beside);
  }
  g_autofree char *backups = g_strconcat(sample->path, ".backups", NULL);
  drop_tree(backups);
  FILE *file = fopen(sample->path, "wb");
  g_assert(file && fwrite(image, 1, sample->size, file) == sample->size && fclose(file) == 0);
}

void ew_sample_change_bytes(guint8 *image, gsize image_size, const uint8_t *data, size_t size) {
  while (size >= 5) {
    gsize at = (gsize)data[0] << 16 | (gsize)data[1] << 8 | data[2], count = 1 + data[3] % 9;
    if (data[3] & 0x80) /* within a page's head */
      at = at % (image_size / 4096) * 4096 + (data[3] >> 1) % 120;
    at %= image_size;
    data += 4;
    size -= 4;
    count = MIN(MIN(count, size), image_size - at);
    memcpy(image + at, data, count);
    data += count;
    size -= count;
  }
}

/* NULL: there is none, or the changes of bytes left nothing that SQLite reads. */
static char *pick(sqlite3 *db, const char *sql, const char *of, uint8_t which) {
  sqlite3_stmt *all = NULL;
  g_autoptr(GPtrArray) names = g_ptr_array_new_with_free_func(g_free);
  if (sqlite3_prepare_v2(db, sql, -1, &all, NULL) == SQLITE_OK && of)
    sqlite3_bind_text(all, 1, of, -1, SQLITE_STATIC);
  while (all && sqlite3_step(all) == SQLITE_ROW)
    g_ptr_array_add(names, g_strdup((const char *)sqlite3_column_text(all, 0)));
  sqlite3_finalize(all);
  return names->len ? g_strdup(g_ptr_array_index(names, which % names->len)) : NULL;
}

/* What stands in the place of a value; %1 is what stood there, ?1 a text, ?2 a number. */
static const char *const ways[] = {
    "?1",
    "?2",
    "NULL",
    "9e999",
    "-9e999",
    "-9223372036854775807",
    "''",
    "substr(%1, 1, ?2)",
    "substr(%1, 1, ?2) || ?1 || substr(%1, ?2 + length(?1) + 1)",
    "substr(%1, 1, ?2) || ?1 || substr(%1, ?2 + 1)",
    "%1 * ?2",
    "-%1",
    "%1 + ?2",
    "CAST(substr(%1, 1, ?2 * 8) || ?1 || substr(%1, ?2 * 8 + length(?1) + 1) AS BLOB)",
    "replace(%1, ?1, '1e308')",
    "replace(%1, ?1, ?2)",
};

static void change_value(sqlite3 *db, const uint8_t *how, const char *text, int size) {
  g_autofree char *table =
      pick(db, "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%'",
           NULL, how[0]);
  g_autofree char *column =
      table ? pick(db, "SELECT name FROM pragma_table_info(?1)", table, how[1]) : NULL;
  if (!column)
    return;
  g_auto(GStrv) parts = g_strsplit(ways[how[3] % G_N_ELEMENTS(ways)], "%1", -1);
  g_autofree char *value = g_strjoinv(column, parts);
  g_autofree char *sql =
      g_strdup_printf("UPDATE %s SET %s = %s WHERE rowid IN (SELECT rowid FROM %s LIMIT 1 OFFSET "
                      "%d %% max(1, (SELECT count(*) FROM %s)))",
                      table, column, value, table, how[2], table);
  sqlite3_stmt *update = NULL;
  if (sqlite3_prepare_v2(db, sql, -1, &update, NULL) == SQLITE_OK) {
    sqlite3_bind_text(update, 1, text, size, SQLITE_STATIC);
    sqlite3_bind_int(update, 2, (signed char)how[4] * (how[3] & 0x80 ? 37 : 1));
    sqlite3_step(update);
  }
  sqlite3_finalize(update);
}

void ew_sample_change_values(const char *path, const uint8_t *data, size_t size) {
  sqlite3 *db;
  g_assert(sqlite3_open(path, &db) == SQLITE_OK);
  sqlite3_exec(db, "PRAGMA synchronous = OFF; PRAGMA foreign_keys = OFF; BEGIN", NULL, NULL, NULL);
  for (int changes = 0; size >= 6 && changes < 20; changes++) {
    size_t length = MIN(data[5] % 32u, size - 6);
    change_value(db, data, (const char *)data + 6, (int)length);
    data += 6 + length;
    size -= 6 + length;
  }
  sqlite3_exec(db, "COMMIT; PRAGMA wal_checkpoint(TRUNCATE)", NULL, NULL, NULL);
  sqlite3_close(db);
}
