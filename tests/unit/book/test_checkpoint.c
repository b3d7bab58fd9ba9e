/* The write-ahead log stays short while two read in turns without a pause, and nothing written is lost; one that reads on is not waited for
 * at each turn, and holds back only the length of the log. */
#include "book/sqlite/checkpoint.h"
#include "unit.h"
#include <glib/gstdio.h>

#define ROW     65536
#define ROWS    1200 /* 75 MB */
#define BETWEEN 8    /* rows from checkpoint to checkpoint */

static char *folder, *path;

static sqlite3 *opened(void) {
  sqlite3 *db = NULL;
  assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
  assert_int_equal(sqlite3_busy_timeout(db, 5000), SQLITE_OK);
  return db;
}

static void do_sql(sqlite3 *db, const char *sql) {
  expect(sqlite3_exec(db, sql, NULL, NULL, NULL) == SQLITE_OK, sql, "%s", sqlite3_errmsg(db));
}

static gint64 log_bytes(void) {
  g_autofree char *log = g_strconcat(path, "-wal", NULL);
  GStatBuf found;
  return g_stat(log, &found) == 0 ? found.st_size : 0;
}

static int set_up(void **state) {
  (void)state;
  folder = g_dir_make_tmp("enginewright-log-XXXXXX", NULL);
  path = g_build_filename(folder, "a.book", NULL);
  sqlite3 *db = opened();
  do_sql(db, "PRAGMA journal_mode = WAL; PRAGMA synchronous = OFF; CREATE TABLE t (b BLOB)");
  return sqlite3_close(db);
}

static int tear_down(void **state) {
  (void)state;
  for (const char *const *end = (const char *[]){"", "-wal", "-shm", NULL}; *end; end++) {
    g_autofree char *name = g_strconcat(path, *end, NULL);
    g_remove(name);
  }
  g_rmdir(folder);
  g_free(folder);
  g_free(path);
  return 0;
}

struct reader {
  gint *over, *turn; /* atomic */
  gint mine;
};

/* Lets the other begin before it ends its own reading: at every moment one of them reads. */
static gpointer read_on(gpointer user) {
  struct reader *r = user;
  sqlite3 *db = opened();
  do_sql(db, "BEGIN; SELECT count(*) FROM t");
  while (!g_atomic_int_get(r->over)) {
    if (g_atomic_int_get(r->turn) % 2 == r->mine) {
      do_sql(db, "COMMIT");
      do_sql(db, "BEGIN; SELECT count(*) FROM t");
      g_atomic_int_inc(r->turn);
    }
    g_usleep(500);
  }
  do_sql(db, "COMMIT");
  sqlite3_close(db);
  return NULL;
}

static gint64 longest_while_writing(sqlite3 *db, sqlite3 *checker, int *beginnings) {
  struct ew_checkpoints kept = {.wait_ms = 5000};
  gint64 longest = 0;
  do_sql(db, "PRAGMA synchronous = OFF; PRAGMA wal_autocheckpoint = 0");
  do_sql(checker, "PRAGMA synchronous = OFF; PRAGMA wal_autocheckpoint = 0");
  for (int i = 0; i < ROWS; i++) {
    g_autofree char *sql = g_strdup_printf("INSERT INTO t VALUES (randomblob(%d))", ROW);
    do_sql(db, sql);
    if (i % BETWEEN == 0) {
      int how = ew_sqlite_checkpoint(checker, &kept, FALSE);
      expect(how == SQLITE_OK || how == SQLITE_BUSY, "a checkpoint", "%d", how);
      *beginnings += how == SQLITE_BUSY;
    }
    longest = MAX(longest, log_bytes());
  }
  return longest;
}

static void others_read_in_turns(void **state) {
  (void)state;
  gint over = 0, turn = 0;
  struct reader one = {&over, &turn, 0}, two = {&over, &turn, 1};
  GThread *first = g_thread_new("one", read_on, &one), *second = g_thread_new("two", read_on, &two);
  sqlite3 *db = opened(), *checker = opened();
  int busy = 0;
  gint64 longest = longest_while_writing(db, checker, &busy);
  g_atomic_int_set(&over, 1);
  g_thread_join(first);
  g_thread_join(second);
  expect(longest < 2 * (gint64)EW_LOG_MOST, "the log stays short", "%" G_GINT64_FORMAT " bytes",
         longest);
  expect(g_atomic_int_get(&turn) > 20, "the others read all the while", "%d", turn);
  sqlite3_stmt *s = NULL;
  assert_int_equal(sqlite3_prepare_v2(db, "SELECT count(*), sum(length(b)) FROM t", -1, &s, NULL),
                   SQLITE_OK);
  assert_int_equal(sqlite3_step(s), SQLITE_ROW);
  assert_int_equal(sqlite3_column_int(s, 0), ROWS);
  assert_int_equal(sqlite3_column_int64(s, 1), (gint64)ROWS * ROW);
  sqlite3_finalize(s);
  sqlite3_close(checker);
  sqlite3_close(db);
}

static void one_reads_on(void **state) {
  (void)state;
  sqlite3 *reader = opened(), *db = opened(), *checker = opened();
  do_sql(db, "INSERT INTO t VALUES (1)");
  do_sql(reader, "BEGIN; SELECT count(*) FROM t");
  int busy = 0;
  gint64 longest = longest_while_writing(db, checker, &busy);
  gint64 written = (gint64)ROWS * ROW;
  expect(longest > written, "all stays in the log", "%" G_GINT64_FORMAT, longest);
  /* from EW_LOG_MOST on, once each eighth of it */
  expect(busy >= 10 && busy <= 8 * (longest / EW_LOG_MOST), "it is not waited for at each turn",
         "%d times", busy);
  do_sql(reader, "COMMIT");
  struct ew_checkpoints kept = {.wait_ms = 5000};
  assert_int_equal(ew_sqlite_checkpoint(checker, &kept, FALSE), SQLITE_OK);
  gint64 before = log_bytes();
  do_sql(db, "INSERT INTO t VALUES (2)");
  expect(log_bytes() == before, "the log begins again", "%" G_GINT64_FORMAT, log_bytes());
  assert_int_equal(ew_sqlite_checkpoint(checker, &kept, TRUE), SQLITE_OK);
  expect(log_bytes() == 0, "and is emptied when all is asked for", "%" G_GINT64_FORMAT,
         log_bytes());
  sqlite3_close(reader);
  sqlite3_close(checker);
  sqlite3_close(db);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test_setup_teardown(others_read_in_turns, set_up, tear_down),
      cmocka_unit_test_setup_teardown(one_reads_on, set_up, tear_down)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
