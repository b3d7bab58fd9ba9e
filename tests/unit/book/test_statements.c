/* Statements kept between uses: the same one for the same text, a bound, no lock while they wait, never a value of the last time. */
#include "book/sqlite/statements.h"
#include "unit.h"
#include <glib.h>
#include <glib/gstdio.h>

static sqlite3 *opened(const char *path) {
  sqlite3 *db = NULL;
  assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
  return db;
}

static void do_sql(sqlite3 *db, const char *sql) {
  assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
}

static void the_same(void **state) {
  (void)state;
  sqlite3 *db = opened(":memory:");
  struct ew_statements kept = {0};
  sqlite3_stmt *first = ew_statement_take(&kept, db, "SELECT ?");
  sqlite3_stmt *second = ew_statement_take(&kept, db, "SELECT ?");
  expect(first && second && first != second, "one in use is not handed out again", "%p",
         (void *)first);
  assert_int_equal(sqlite3_bind_int(first, 1, 7), SQLITE_OK);
  assert_int_equal(sqlite3_step(first), SQLITE_ROW);
  ew_statement_give(&kept, first);
  ew_statement_give(&kept, second);
  assert_int_equal(kept.count, 1);
  sqlite3_stmt *again = ew_statement_take(&kept, db, "SELECT ?");
  expect(again == first, "the one that waits", "%p", (void *)again);
  assert_int_equal(sqlite3_step(again), SQLITE_ROW);
  expect(sqlite3_column_type(again, 0) == SQLITE_NULL, "a value of the last time is forgotten",
         "%d", sqlite3_column_int(again, 0));
  ew_statement_give(&kept, again);
  ew_statement_give(&kept, ew_statement_take(&kept, db, "PRAGMA data_version"));
  assert_int_equal(kept.count, 1);
  expect(!ew_statement_take(&kept, db, "SELECT nothing FROM nowhere"), "a fault is a fault", "%d",
         0);
  ew_statement_give(&kept, NULL);
  ew_statements_clear(&kept);
  assert_int_equal(sqlite3_close(db), SQLITE_OK); /* which refuses while a statement is left */
}

static void a_bound(void **state) {
  (void)state;
  sqlite3 *db = opened(":memory:");
  struct ew_statements kept = {0};
  for (int i = 0; i < 3 * EW_STATEMENTS_KEPT; i++) {
    g_autofree char *sql = g_strdup_printf("SELECT %d", i);
    ew_statement_give(&kept, ew_statement_take(&kept, db, sql));
    assert_true(kept.count <= EW_STATEMENTS_KEPT);
  }
  assert_int_equal(kept.count, EW_STATEMENTS_KEPT);
  assert_string_equal(sqlite3_sql(kept.waiting[0]), "SELECT 191");
  assert_string_equal(sqlite3_sql(kept.waiting[EW_STATEMENTS_KEPT - 1]), "SELECT 128");
  ew_statements_clear(&kept);
  assert_int_equal(sqlite3_close(db), SQLITE_OK);
}

static void no_lock(void **state) {
  (void)state;
  g_autofree char *folder = g_dir_make_tmp("ew-statements-XXXXXX", NULL),
                  *path = g_build_filename(folder, "one", NULL);
  sqlite3 *reader = opened(path), *writer = opened(path);
  do_sql(reader, "CREATE TABLE t (a); INSERT INTO t VALUES (1), (2)");
  struct ew_statements kept = {0};
  sqlite3_stmt *half = ew_statement_take(&kept, reader, "SELECT a FROM t");
  assert_int_equal(sqlite3_step(half), SQLITE_ROW); /* one of two rows, then it is left */
  expect(sqlite3_exec(writer, "DELETE FROM t", NULL, NULL, NULL) == SQLITE_BUSY,
         "while it is read nobody writes (no log in this file)", "%s", sqlite3_errmsg(writer));
  ew_statement_give(&kept, half);
  do_sql(writer, "ALTER TABLE t ADD COLUMN b; DELETE FROM t; INSERT INTO t VALUES (5, 6)");
  half = ew_statement_take(&kept, reader, "SELECT a FROM t"); /* of tables that have changed */
  assert_int_equal(sqlite3_step(half), SQLITE_ROW);
  assert_int_equal(sqlite3_column_int(half, 0), 5);
  ew_statement_give(&kept, half);
  ew_statements_clear(&kept);
  assert_int_equal(sqlite3_close(reader), SQLITE_OK);
  assert_int_equal(sqlite3_close(writer), SQLITE_OK);
  g_unlink(path);
  g_rmdir(folder);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(the_same), cmocka_unit_test(a_bound),
                                     cmocka_unit_test(no_lock)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
