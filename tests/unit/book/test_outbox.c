/* What leaves the cell: each row that a transaction writes is noted with it, once, or not at all; what is noted makes the same
 * book again elsewhere; a book that was copied, or put back, never writes on under a name that another has. */
#include "shop.h"
#include "book/ship.h"
#include "book/sqlite/shipped.h"
#include <math.h>

#define SHOP "postgresql://shop.example/weir"

static gint64 count(struct ew_book *book, const char *sql) {
  gint64 value;
  g_autoptr(GError) error = NULL;
  expect(ew_sql_number(ew_book_port(book), &value, &error, sql, ""), sql, "%s",
         error ? error->message : "");
  return value;
}

static void join(struct ew_book *book) {
  g_autoptr(GError) error = NULL;
  expect(ew_keep_join(book, SHOP, &error), "joins", "%s", error ? error->message : "");
}

static void every_table_leaves_or_stays(void **state) {
  static const char *const stays[] = {"figures", "life", "outbox", "shop"};
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  (void)state;
  struct ew_port_rows *rows = ew_sql_query(
      ew_book_port(book), NULL, "SELECT name FROM sqlite_schema WHERE type = 'table'", "");
  int leave = 0;
  while (ew_sql_next(rows, NULL)) {
    const char *name = ew_sql_peek(rows, 0);
    gboolean kept = FALSE;
    for (gsize i = 0; i < G_N_ELEMENTS(stays); i++)
      kept |= strcmp(stays[i], name) == 0;
    expect(kept != (ew_shipped_find(name) >= 0), name, "neither or both");
    leave += !kept;
  }
  ew_sql_done(rows);
  assert_int_equal(leave, ew_shipped_count);
  ew_book_close(book);
  shop_clear(&s);
}

static void who_belongs_to_none_notes_nothing(void **state) {
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  (void)state;
  assert_true(ew_keep_setting(book, "shop", "Weir Lane", NULL));
  assert_int_equal(count(book, "SELECT count(*) FROM outbox"), 0);
  g_autoptr(GArray) lines = ew_ship_lines(book, NULL);
  assert_int_equal(lines->len, 0);
  ew_book_close(book);
  shop_clear(&s);
}

static gboolean sets_twice(struct ew_book *book, gpointer user, GError **error) {
  return ew_setting_set(book, "paper", "a4", error) &&
         ew_setting_set(book, "paper", "letter", error) &&
         (*(gboolean *)user || ew_refuse(error, "not this time"));
}

static void noted_once_or_not_at_all(void **state) {
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  gboolean good = FALSE;
  (void)state;
  join(book);
  gint64 before = count(book, "SELECT max(seq) FROM outbox");
  assert_false(ew_book_write(book, sets_twice, &good, NULL));
  assert_int_equal(count(book, "SELECT max(seq) FROM outbox"), before);
  good = TRUE;
  assert_true(ew_book_write(book, sets_twice, &good, NULL));
  /* the setting once, two lines of the log, one mark */
  assert_int_equal(count(book, "SELECT max(seq) FROM outbox"), before + 3);
  g_autofree char *same = g_strdup_printf(
      "SELECT count(DISTINCT mark) FROM outbox WHERE seq > %" G_GINT64_FORMAT, before);
  assert_int_equal(count(book, same), 1);
  assert_int_equal(
      count(book, "SELECT count(*) FROM outbox WHERE what = 'setting' AND key = 'paper'"), 1);
  ew_book_close(book);
  shop_clear(&s);
}

/* Another program that writes to the same book joins it; the connection that was open before notes from then on. */
static void noted_by_who_was_there_before(void **state) {
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE), *other = open_book(s.path, FALSE);
  (void)state;
  assert_true(ew_keep_setting(other, "paper", "a4", NULL));
  join(book);
  gint64 before = count(book, "SELECT max(seq) FROM outbox");
  assert_true(ew_keep_setting(other, "paper", "letter", NULL));
  assert_int_equal(count(book, "SELECT max(seq) FROM outbox"), before + 2);
  ew_book_close(other);
  ew_book_close(book);
  shop_clear(&s);
}

/* ---- the same book again ---- */

struct sending {
  struct ew_book *from;
  gint64 after, reached;
};

static gboolean into(const struct ew_letter *letter, gpointer user, GError **error) {
  return ew_copy_put(user, letter, error);
}

static gboolean send_all(struct ew_book *copy, gpointer user, GError **error) {
  struct sending *sending = user;
  return ew_ship_read(sending->from, sending->after, G_MAXINT64, G_MAXINT, G_MAXSIZE, into, copy,
                      &sending->reached, error);
}

static void copied(struct ew_book *from, struct ew_book *copy, gint64 after) {
  struct sending sending = {from, after, 0};
  g_autoptr(GError) error = NULL;
  expect(ew_keep_copy(copy, SHOP, send_all, &sending, &error), "copies", "%s",
         error ? error->message : "");
}

/* Every column of every row of a table, in one text. */
static char *all_of(struct ew_book *book, const char *table) {
  GString *text = g_string_new(NULL);
  g_autofree char *sql = g_strdup_printf("SELECT * FROM %s ORDER BY 1, 2", table);
  struct ew_port_rows *rows = ew_sql_query(ew_book_port(book), NULL, sql, "");
  while (ew_sql_next(rows, NULL)) {
    for (int i = 0; i < rows->port->class->columns(rows); i++) {
      gsize size;
      const guchar *bytes = rows->port->class->bytes(rows, i, &size);
      g_autofree char *digest = g_compute_checksum_for_data(G_CHECKSUM_SHA256, bytes, size);
      g_string_append_printf(text, "%s%s ", rows->port->class->is_null(rows, i) ? "null" : "",
                             digest);
    }
    g_string_append_c(text, '\n');
  }
  ew_sql_done(rows);
  return g_string_free(text, FALSE);
}

static void same_books(struct ew_book *a, struct ew_book *b) {
  for (int i = 0; i < ew_shipped_count; i++) {
    g_autofree char *one = all_of(a, ew_shipped_tables[i].name),
                    *other = all_of(b, ew_shipped_tables[i].name);
    expect(strcmp(one, other) == 0, ew_shipped_tables[i].name, "%s\n%s", one, other);
  }
}

static void makes_the_same_book(void **state) {
  struct shop s = shop_new(), t = shop_new();
  struct ew_book *book = open_book(s.path, TRUE), *copy = open_book(t.path, TRUE);
  (void)state;
  g_autofree char *text = sweep_text(7);
  assert_true(keep_recording(book, text, NULL));
  assert_true(ew_keep_setting(book, "engine_in_cell", "an engine", NULL));
  join(book);
  copied(book, copy, 0);
  same_books(book, copy);
  /* what comes after: a new engine takes the setting away; a pull is discarded */
  gint64 after = count(book, "SELECT max(seq) FROM outbox");
  const struct ew_new_engine engine = {.name = "a new one", .yaml = "name: a new one\n"};
  assert_true(ew_keep_engine(book, &engine, NULL));
  assert_true(ew_keep_discard(book, 1, "slipped", NULL));
  copied(book, copy, after);
  same_books(book, copy);
  assert_null(setting_of(copy, "engine_in_cell"));
  ew_book_close(copy);
  copy = open_book(t.path, FALSE);
  assert_true(ew_book_is_read_only(copy));
  g_autoptr(GError) error = NULL;
  assert_false(ew_keep_setting(copy, "paper", "a4", &error));
  assert_non_null(strstr(error->message, "copy that was read from the shop"));
  assert_false(ew_keep_join(copy, SHOP, NULL));
  /* the cell's disk is lost: the copy goes on, as a writer of its own */
  assert_true(ew_keep_adopt(copy, NULL));
  assert_true(ew_keep_setting(copy, "paper", "letter", NULL));
  g_autoptr(GArray) lines = ew_ship_lines(copy, NULL);
  assert_int_equal(lines->len, 2);
  assert_int_equal(g_array_index(lines, struct ew_ship_line, 1).first,
                   g_array_index(lines, struct ew_ship_line, 0).last + 1);
  ew_book_close(copy);
  ew_book_close(book);
  shop_clear(&s);
  shop_clear(&t);
}

static gboolean puts_bad(struct ew_book *copy, gpointer user, GError **error) {
  return ew_copy_put(copy, user, error);
}

static void what_a_shop_may_not_say(void **state) {
  static const struct {
    const char *what, *body;
  } rows[] = {{"sqlite_schema", "{\"row\":{\"name\":\"x\"}}"},
              {"outbox", "{\"row\":{\"seq\":1}}"},
              {"setting", "{\"row\":{\"key) VALUES ('a'); --\":\"x\"}}"},
              {"setting", "{\"row\":{\"key\":\"a\",\"value\":\"b\",\"more\":1}}"},
              {"setting", "{\"row\":{\"key\":\"a\",\"key\":\"b\",\"value\":\"c\"}}"},
              {"setting", "{\"row\":{}}"},
              {"setting", "{}"},
              {"setting", "nonsense"},
              {"engine", "{\"row\":{\"id\":1,\"name\":\"a\",\"yaml\":{\"sha256\":\"00\"}}}"},
              {"pull", "{\"gone\":true}"}};
  struct shop s = shop_new();
  struct ew_book *copy = open_book(s.path, TRUE);
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_letter letter = {.seq = 1,
                               .mark = 1,
                               .name = {.what = rows[i].what, .key = "a"},
                               .row = {.body = (char *)(gsize)rows[i].body}};
    g_autoptr(GError) error = NULL;
    expect(!ew_keep_copy(copy, SHOP, puts_bad, &letter, &error) && error, rows[i].body, "taken");
  }
  assert_int_equal(count(copy, "SELECT count(*) FROM outbox"), 0);
  assert_int_equal(count(copy, "SELECT count(*) FROM shop"), 0);
  ew_book_close(copy);
  shop_clear(&s);
}

/* ---- copied, and put back ---- */

static void file_copy(const char *from, const char *to) {
  g_autofree char *bytes = NULL;
  gsize size;
  assert_true(g_file_get_contents(from, &bytes, &size, NULL));
  FILE *file = fopen(to, "wb"); /* over what is there: the same inode */
  assert_true(file && fwrite(bytes, 1, size, file) == size && fclose(file) == 0);
}

static char *last_writer(struct ew_book *book, gint64 *first) {
  g_autoptr(GArray) lines = ew_ship_lines(book, NULL);
  const struct ew_ship_line *last = &g_array_index(lines, struct ew_ship_line, lines->len - 1);
  *first = last->first;
  return g_strdup(last->writer);
}

static void a_copy_begins_a_line(void **state) {
  struct shop s = shop_new();
  gint64 first;
  (void)state;
  struct ew_book *book = open_book(s.path, TRUE);
  join(book);
  gint64 last = count(book, "SELECT max(seq) FROM outbox");
  g_autofree char *original = last_writer(book, &first);
  ew_book_close(book);
  g_autofree char *path = g_build_filename(s.folder, "copy.book", NULL);
  file_copy(s.path, path);
  struct ew_book *copy = open_book(path, FALSE);
  assert_true(ew_keep_setting(copy, "paper", "a4", NULL));
  g_autofree char *second = last_writer(copy, &first);
  assert_string_not_equal(original, second);
  assert_int_equal(first, last + 1);
  ew_book_close(copy);
  /* and carried back over the first file: neither is taken up again */
  file_copy(path, s.path);
  book = open_book(s.path, FALSE);
  assert_true(ew_keep_setting(book, "paper", "letter", NULL));
  g_autofree char *third = last_writer(book, &first);
  assert_string_not_equal(third, original);
  assert_string_not_equal(third, second);
  assert_int_equal(first, count(book, "SELECT min(seq) FROM outbox WHERE mark = (SELECT mark FROM "
                                      "outbox ORDER BY seq DESC LIMIT 1)"));
  ew_book_close(book);
  shop_clear(&s);
}

/* A backup put back over the file is the same writer with other changes: told by the marks, ended by a fork. */
static void a_fork(void **state) {
  struct shop s = shop_new();
  gint64 first, mark[2];
  (void)state;
  struct ew_book *book = open_book(s.path, TRUE);
  join(book);
  ew_book_close(book);
  g_autofree char *backup = g_build_filename(s.folder, "backup.book", NULL);
  file_copy(s.path, backup);
  for (int i = 0; i < 2; i++) {
    book = open_book(s.path, FALSE);
    gint64 last = count(book, "SELECT max(seq) FROM outbox");
    assert_true(ew_keep_setting(book, "paper", i ? "a4" : "letter", NULL));
    assert_true(ew_ship_mark(book, last + 1, &mark[i], NULL));
    if (i == 1) {
      g_autofree char *before = last_writer(book, &first);
      assert_int_equal(first, 1);
      assert_true(ew_keep_fork(book, last, NULL));
      g_autofree char *after = last_writer(book, &first);
      assert_string_not_equal(before, after);
      assert_int_equal(first, last + 1);
      g_autofree char *writes = g_strdup(after);
      assert_true(ew_keep_setting(book, "paper", "letter", NULL));
      g_autofree char *still = last_writer(book, &first);
      assert_string_equal(writes, still);
    }
    ew_book_close(book);
    file_copy(backup, s.path);
  }
  assert_true(mark[0] != mark[1]);
  shop_clear(&s);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_table_leaves_or_stays),
      cmocka_unit_test(who_belongs_to_none_notes_nothing),
      cmocka_unit_test(noted_once_or_not_at_all),
      cmocka_unit_test(noted_by_who_was_there_before),
      cmocka_unit_test(makes_the_same_book),
      cmocka_unit_test(what_a_shop_may_not_say),
      cmocka_unit_test(a_copy_begins_a_line),
      cmocka_unit_test(a_fork),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
