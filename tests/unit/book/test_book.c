#include "shop.h"
#include <fcntl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>
#include "book/book_file.h"
#include "book/sqlite/schema.h"

static void opening(void **state) {
  (void)state;
  struct shop s = shop_new();
  g_autoptr(GError) error = NULL;
  assert_null(ew_book_open(s.path, FALSE, &error));
  expect_refused(error, "shop.book|book new", "no book there");
  g_clear_error(&error);
  g_autofree char *deep = g_build_filename(s.folder, "new", "shop.book", NULL);
  struct ew_book *book = open_book(deep, TRUE); /* its folder too */
  assert_string_equal(ew_book_path(book), deep);
  ew_book_close(book);
  ew_book_close(open_book(deep, FALSE));
  g_autofree char *inner = g_path_get_dirname(deep);
  assert_null(ew_book_open(inner, TRUE, &error));
  expect_refused(error, "regular file", "a folder");
  g_clear_error(&error);
  g_unlink(deep);
  g_rmdir(inner);
  shop_clear(&s);
}

/* The writer of a book is known by its machine and its file for good: half a digest of the machine's id, made here by GLib's checksum once
 * more. If a later program wrote it otherwise, every book would begin a new writer on the day of the upgrade. */
static void a_writer_is_known_again(void **state) {
  (void)state;
  struct shop s = shop_new();
  ew_book_close(open_book(s.path, TRUE));
  g_autofree char *id = NULL;
  if (!g_file_get_contents("/etc/machine-id", &id, NULL, NULL))
    id = g_strdup(g_get_host_name());
  g_autofree char *text = g_strdup_printf("enginewright writer %s", g_strstrip(id));
  g_autofree char *sum = g_compute_checksum_for_string(G_CHECKSUM_SHA256, text, -1);
  for (int opened = 0; opened < 2; opened++) {
    struct ew_book *book = open_book(s.path, FALSE);
    assert_true(ew_keep_setting(book, "shop", opened ? "two" : "one", NULL));
    struct ew_port_rows *rows =
        ew_sql_query(ew_book_port(book), NULL, "SELECT place FROM writer", "");
    assert_true(ew_sql_next(rows, NULL));
    g_autofree char *place = ew_sql_text(rows, 0);
    expect(strlen(place) > 33 && strncmp(place, sum, 32) == 0 && place[32] == ' ', "half a digest",
           "%s of %s", place, sum);
    expect(!ew_sql_next(rows, NULL), "one writer", "another one");
    ew_sql_done(rows);
    ew_book_close(book);
  }
  shop_clear(&s);
}

/* After a new step: the first text is the one to write into src/book/sqlite/schema_check.c. */
static void the_schema_is_the_one_that_was_written_down(void **state) {
  (void)state;
  g_autofree char *made = ew_schema_digest_made();
  assert_string_equal(made, ew_schema_digest_kept);
}

static void what_is_no_book(void **state) {
  (void)state;
  struct shop s = shop_new();
  g_autofree char *junk = g_strnfill(5000, 'x');
  static const struct {
    const char *says, *sql, *words;
  } rows[] = {
      {"a text", NULL, "not a book"},
      {"a database of somebody else", "CREATE TABLE a (b)", "not a book of this program"},
      {"a marked version of somebody else", "PRAGMA user_version = 3",
       "not a book of this program"},
      {"a newer schema",
       "PRAGMA application_id = 1163349297; PRAGMA user_version = 9999;"
       "CREATE TABLE a (b)",
       "newer version|9999"},
  };
  assert_int_equal(EW_SCHEMA_APPLICATION_ID, 1163349297);
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_unlink(s.path);
    if (rows[i].sql)
      run_sql(s.path, rows[i].sql);
    else
      assert_true(g_file_set_contents(s.path, junk, -1, NULL));
    g_autofree char *before = NULL, *after = NULL;
    gsize size, later;
    assert_true(g_file_get_contents(s.path, &before, &size, NULL));
    g_autoptr(GError) error = NULL;
    struct ew_book *book = ew_book_open(s.path, FALSE, &error);
    expect(book == NULL, rows[i].says, "opened");
    expect_refused(error, rows[i].words, rows[i].says);
    expect(strstr(error->message, "shop.book"), rows[i].says, "%s", error->message);
    if (!rows[i].sql) { /* not a byte of it was touched */
      assert_true(g_file_get_contents(s.path, &after, &later, NULL));
      assert_true(size == later && memcmp(before, after, size) == 0);
    }
  }
  shop_clear(&s);
}

static void two_at_once(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *one = open_book(s.path, TRUE), *two = open_book(s.path, FALSE);
  assert_true(ew_book_begin(one, NULL));
  assert_true(ew_setting_set(one, "shop", "A", NULL));
  assert_null(setting_of(two, "shop")); /* not seen before it is done */
  assert_true(ew_book_commit(one, NULL));
  g_autofree char *seen = setting_of(two, "shop");
  assert_string_equal(seen, "A");
  assert_true(ew_book_begin(one, NULL));
  assert_true(ew_setting_set(one, "shop", "B", NULL));
  ew_book_rollback(one);
  g_autofree char *still = setting_of(two, "shop");
  assert_string_equal(still, "A");
  ew_book_rollback(one); /* without a transaction it does nothing */
  ew_book_close(one);
  ew_book_close(two);
  ew_book_close(NULL);
  shop_clear(&s);
}

static void times(void **state) {
  (void)state;
  g_autofree char *now = ew_time_now();
  assert_true(g_str_has_suffix(now, "Z") && !isnan(ew_time_parse(now)));
  expect_near(ew_time_parse("2026-06-12T14:03:22.250Z"), 1781273002.25, 1e-6, "a fraction");
  expect_near(ew_time_parse("2026-06-12T16:03:22+02:00"), 1781273002, 1e-6, "a zone");
  assert_true(isnan(ew_time_parse("yesterday")) && isnan(ew_time_parse(NULL)) &&
              isnan(ew_time_parse("")));
}

/* A file that may not be written: in a child without root's rights, which tells by its exit code. */
static void a_file_that_is_read_only(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  g_autofree char *text = sweep_text(1);
  assert_true(keep_recording(book, text, NULL));
  ew_book_close(book);
  assert_int_equal(chmod(s.path, 0444), 0);
  assert_int_equal(chmod(s.folder, 0555), 0);
  pid_t child = fork();
  if (child == 0) {
    if (geteuid() == 0 && setuid(65534) != 0)
      _exit(9);
    GError *error = NULL;
    struct ew_book *locked = ew_book_open(s.path, FALSE, &error);
    gboolean kept = locked && ew_book_begin(locked, &error) &&
                    ew_setting_set(locked, "shop", "X", &error) && ew_book_commit(locked, &error);
    _exit(kept ? 1 : error && *error->message ? 0 : 2);
  }
  int status;
  assert_int_equal(waitpid(child, &status, 0), child);
  assert_int_equal(chmod(s.folder, 0755), 0);
  assert_int_equal(chmod(s.path, 0644), 0);
  assert_true(WIFEXITED(status));
  assert_int_equal(WEXITSTATUS(status), 0);
  book = open_book(s.path, FALSE);
  assert_null(setting_of(book, "shop"));
  int recordings;
  assert_true(is_whole(book, &recordings, NULL) && recordings == 1);
  ew_book_close(book);
  shop_clear(&s);
}

/* Whether another process is kept from writing to this file by SQLite's shared lock of this one (its file format, "Locking": 510 bytes
 * from 0x40000002 on). */
static gboolean is_locked_for_others(const char *path) {
  pid_t child = fork();
  if (child == 0) {
    struct flock lock = {
        .l_type = F_WRLCK, .l_whence = SEEK_SET, .l_start = 0x40000002, .l_len = 510};
    int file = open(path, O_RDWR);
    _exit(file < 0 || fcntl(file, F_GETLK, &lock) != 0 ? 9 : lock.l_type != F_UNLCK);
  }
  int status;
  assert_int_equal(waitpid(child, &status, 0), child);
  assert_true(WIFEXITED(status) && WEXITSTATUS(status) <= 1);
  return WEXITSTATUS(status) == 1;
}

/* A second opening looked for the log just before the first made it. Its look must not take the first one's locks: the next program to
 * end removed the log then, and what was written to it was lost. */
static void a_look_takes_no_locks(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  g_assert_true(ew_keep_setting(book, "shop", "first", NULL));
  assert_true(is_locked_for_others(s.path));
  g_autofree char *log = g_strconcat(s.path, "-wal", NULL),
                  *aside = g_strconcat(s.path, "-aside", NULL);
  assert_int_equal(rename(log, aside), 0);
  assert_int_equal(ew_book_file_look(s.path, NULL), 1);
  assert_int_equal(rename(aside, log), 0);
  assert_true(is_locked_for_others(s.path));
  ew_book_close(book);
  shop_clear(&s);
}

static guint descriptors(void) {
  g_autoptr(GDir) dir = g_dir_open("/proc/self/fd", 0, NULL);
  guint count = 0;
  for (; g_dir_read_name(dir); count++)
    ;
  return count;
}

/* The lock of a book that was removed is not kept; that of one that is there, or is held, is. */
static void removed_books_leave_nothing_open(void **state) {
  (void)state;
  struct shop s = shop_new();
  guint before = descriptors();
  struct ew_book_lock *held = NULL;
  for (int i = 0; i < 60; i++) {
    g_autoptr(GError) error = NULL;
    ew_book_close(open_book(s.path, TRUE));
    struct ew_book_lock *lock = ew_book_lock_take(s.path, &error);
    assert_non_null(lock);
    assert_true(ew_book_lock_is_held(s.path));
    if (i == 0)
      held = lock;
    else
      ew_book_lock_release(lock);
    ew_book_file_remove(s.path);
  }
  assert_in_range(descriptors(), before, before + 3);
  ew_book_lock_release(held); /* not freed meanwhile */
  shop_clear(&s);
}

/* The disk fills up at every page in turn: all of the import is there, or nothing. */
static void a_disk_that_fills_up(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  g_autofree char *text = sweep_text(1);
  int failures = 0, recordings = 0;
  gboolean kept = FALSE;
  for (int more = 0; more < 200 && !kept; more++) {
    sqlite3_stmt *statement;
    sqlite3_prepare_v2(ew_sqlite_handle(ew_book_port(book)), "PRAGMA page_count", -1, &statement,
                       NULL);
    sqlite3_step(statement);
    int pages = sqlite3_column_int(statement, 0);
    sqlite3_finalize(statement);
    g_autofree char *limit = g_strdup_printf("PRAGMA max_page_count = %d", pages + more);
    sqlite3_exec(ew_sqlite_handle(ew_book_port(book)), limit, NULL, NULL, NULL);
    g_autoptr(GError) error = NULL;
    kept = keep_recording(book, text, &error);
    failures += !kept;
    expect(kept || (error && *error->message), "a failure says so", "nothing");
    assert_true(is_whole(book, &recordings, NULL));
    assert_int_equal(recordings, kept ? 1 : 0);
  }
  assert_true(kept && failures >= 3);
  ew_book_close(book);
  shop_clear(&s);
}

static gboolean two_settings(struct ew_book *book, gpointer good, GError **error) {
  return ew_keep_setting(book, "shop", "first", error) &&
         ew_keep_setting(book, "terms", "second", error) &&
         (*(int *)good || ew_refuse(error, "no more"));
}

/* Verbs within a whole are steps of it; a whole that fails keeps none. */
static void a_whole(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  for (int good = 0; good < 2; good++) {
    assert_int_equal(ew_book_as_one(book, two_settings, &good, NULL), good);
    g_autofree char *after = setting_of(book, "shop"), *also = setting_of(book, "terms");
    assert_true(good ? after && also : !after && !also);
  }
  ew_book_close(book);
  shop_clear(&s);
}

/* A verb that failed within a whole fails the whole, whatever its body answers. */
static gboolean swallow(struct ew_book *book, gpointer user, GError **error) {
  (void)user, (void)error;
  return ew_keep_setting(book, "shop", "first", NULL) && !ew_keep_discard(book, 99, "none", NULL);
}

static gboolean lose_it(struct ew_book *book, gpointer user, GError **error) {
  (void)user;
  sqlite3_exec(ew_sqlite_handle(ew_book_port(book)), "ROLLBACK", NULL, NULL, NULL);
  return ew_keep_setting(book, "shop", "first", error);
}

/* SQLite gives the transaction up when the disk is full: no later step may begin one of its own. */
static void a_whole_on_a_full_disk(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  g_autoptr(GError) error = NULL, swallowed = NULL;
  assert_false(ew_book_as_one(book, lose_it, NULL, &error));
  assert_non_null(strstr(error->message, "rolled back"));
  assert_false(ew_book_as_one(book, swallow, NULL, &swallowed));
  assert_non_null(swallowed);
  g_autofree char *nothing = setting_of(book, "shop");
  assert_null(nothing);
  assert_true(ew_keep_setting(book, "shop", "again", NULL));
  ew_book_close(book);
  shop_clear(&s);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(opening),
                                     cmocka_unit_test(a_writer_is_known_again),
                                     cmocka_unit_test(what_is_no_book),
                                     cmocka_unit_test(two_at_once),
                                     cmocka_unit_test(times),
                                     cmocka_unit_test(a_file_that_is_read_only),
                                     cmocka_unit_test(a_look_takes_no_locks),
                                     cmocka_unit_test(removed_books_leave_nothing_open),
                                     cmocka_unit_test(a_whole),
                                     cmocka_unit_test(a_whole_on_a_full_disk),
                                     cmocka_unit_test(the_schema_is_the_one_that_was_written_down),
                                     cmocka_unit_test(a_disk_that_fills_up)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
