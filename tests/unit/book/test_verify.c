#include "shop.h"
#include "book/backup.h"

/* One thing is changed behind the book's back; verify names it. */
static void what_was_changed_is_found(void **state) {
  (void)state;
  static const struct {
    const char *says, *sql, *words;
  } rows[] = {
      {"a byte of raw",
       "UPDATE recording SET bytes = CAST(replace(CAST(bytes AS TEXT), '3000', '3001') "
       "AS BLOB) WHERE id = 1",
       "recording 1"},
      {"the digest of raw", "UPDATE recording SET sha256 = 'x' || substr(sha256, 2)",
       "recording 1"},
      {"a byte of a curve",
       "UPDATE curve SET bytes = CAST(substr(bytes, 1, 200) || x'00112233' || "
       "substr(bytes, 205) AS BLOB)",
       "pull 1"},
      {"a curve cut short", "UPDATE curve SET bytes = substr(bytes, 1, 100)", "pull 1"},
      {"the method of a curve", "UPDATE curve SET method = replace(method, '400 rpm', '300 rpm')",
       "pull 1"},
      {"a method that is none", "UPDATE curve SET method = 'moon: 1'", "pull 1"},
      {"a curve that is gone", "DELETE FROM curve", "pull 1"},
      {"a recording that is gone", "PRAGMA foreign_keys = OFF; DELETE FROM recording", "point"},
      {"a part that is not there", "UPDATE pull SET part = 7", "pull 1"},
  };
  g_autofree char *text = sweep_text(1);
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct shop s = shop_new();
    struct ew_book *book = open_book(s.path, TRUE);
    assert_true(keep_recording(book, text, NULL));
    assert_true(is_whole(book, NULL, NULL));
    ew_book_close(book);
    run_sql(s.path, rows[i].sql);
    book = open_book(s.path, FALSE);
    g_autofree char *problem = NULL;
    expect(!is_whole(book, NULL, &problem), rows[i].says, "whole");
    expect(problem && strstr(problem, rows[i].words), rows[i].says, "%s", problem);
    ew_book_close(book);
    shop_clear(&s);
  }
}

/* Of several files the one whose bytes changed is named by its number. */
static void a_changed_file_is_named(void **state) {
  (void)state;
  for (gint64 changed = 1; changed <= 3; changed++) {
    struct shop s = shop_new();
    struct ew_book *book = open_book(s.path, TRUE);
    g_autofree char *text = sweep_text(1);
    assert_true(keep_recording(book, text, NULL));
    const struct ew_owner owner = {EW_OWNER_PULL, 1, NULL};
    for (int i = 1; i <= 3; i++) {
      g_autofree char *name = g_strdup_printf("%d.txt", i);
      g_autoptr(GBytes) bytes = g_bytes_new(name, strlen(name));
      g_autoptr(GError) error = NULL;
      gint64 id = ew_keep_attachment(book, &owner, name, bytes, NULL, NULL, &error);
      expect(id == i, "numbered as they come", "%s", error ? error->message : "another number");
    }
    assert_true(is_whole(book, NULL, NULL));
    ew_book_close(book);
    g_autofree char *sql = g_strdup_printf(
        "UPDATE attachment SET bytes = x'414243' WHERE id = %" G_GINT64_FORMAT, changed);
    run_sql(s.path, sql);
    book = open_book(s.path, FALSE);
    g_autofree char *problem = NULL,
                    *want = g_strdup_printf("attachment %" G_GINT64_FORMAT ":", changed);
    expect(!is_whole(book, NULL, &problem), "a changed file", "whole");
    expect(problem && g_str_has_prefix(problem, want), "its number", "%s", problem);
    ew_book_close(book);
    shop_clear(&s);
  }
}

static void backups(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE), *writer = open_book(s.path, FALSE);
  g_autofree char *text = sweep_text(1), *more = sweep_text(2);
  assert_true(keep_recording(book, text, NULL));
  g_autofree char *copy = g_build_filename(s.folder, "copy.book", NULL);
  g_autoptr(GError) error = NULL;
  assert_true(ew_book_begin(writer, NULL)); /* open, and being written to */
  assert_true(ew_setting_set(writer, "shop", "half done", NULL));
  assert_true(ew_book_backup(book, copy, NULL, &error));
  assert_true(ew_book_commit(writer, NULL));
  assert_true(keep_recording(writer, more, NULL));
  struct ew_book *second = open_book(copy, FALSE);
  int recordings;
  assert_true(is_whole(second, &recordings, NULL));
  assert_int_equal(recordings, 1);
  assert_null(setting_of(second, "shop")); /* what was not committed is not in it */
  assert_false(ew_book_backup(book, copy, NULL, &error));
  expect_refused(error, "copy.book|already", "over a file");
  g_clear_error(&error);
  g_autofree char *nowhere = g_build_filename(s.folder, "no", "copy.book", NULL);
  assert_false(ew_book_backup(book, nowhere, NULL, &error));
  assert_non_null(error);
  g_autoptr(GDir) all = g_dir_open(s.folder, 0, NULL);
  for (const char *name; (name = g_dir_read_name(all));)
    expect(!strstr(name, ".part"), name, "a part was left");
  ew_book_close(second);
  ew_book_close(book);
  ew_book_close(writer);
  shop_clear(&s);
}

static void an_empty_book_is_whole(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  int recordings;
  assert_true(is_whole(book, &recordings, NULL) && recordings == 0);
  ew_book_close(book);
  shop_clear(&s);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(what_was_changed_is_found), cmocka_unit_test(a_changed_file_is_named),
      cmocka_unit_test(backups), cmocka_unit_test(an_empty_book_is_whole)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
