/* Two marks of a book: what must change them, and what must not. */
#include "shop.h"
#include "book/change.h"
#include "book/found.h"
#include "book/trip.h"

static void run_here(struct ew_book *book, const char *sql) {
  char *problem = NULL;
  sqlite3_exec(ew_sqlite_handle(ew_book_port(book)), sql, NULL, NULL, &problem);
  expect(!problem, sql, "%s", problem);
}

/* The pulls that history is learned from: one in which something tripped counts no more, whoever finds what. */
static void a_trip_and_what_was_found_change_the_pulls(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  g_autofree char *one = sweep_text(1), *two = sweep_text(2);
  assert_true(keep_recording(book, one, NULL) && keep_recording(book, two, NULL));
  run_here(book, "INSERT INTO stream (recording_id, source, channels, durability, began_at) VALUES "
                 "(2, 'line:test', '', 'full', '2026-06-12T10:00:00Z')");
  g_autofree char *before = ew_pulls_digest(book);
  g_autofree char *same = ew_pulls_digest(book);
  assert_string_equal(before, same);

  const struct ew_trip_row row = {.recording_id = 2,
                                  .time_s = 5,
                                  .from_s = 4,
                                  .to_s = 6,
                                  .value = 1e5,
                                  .bound = 2e5,
                                  .name = (char *)"oil",
                                  .action = (char *)"shut down",
                                  .says = (char *)"oil pressure lost"};
  assert_true(ew_book_begin(book, NULL) && ew_trip_add(book, &row, NULL, 0, NULL) &&
              ew_book_commit(book, NULL));
  g_autofree char *tripped = ew_pulls_digest(book);
  assert_string_not_equal(tripped, before);

  /* the pull that it lies in is cut out of the stream afterwards */
  run_here(book,
           "INSERT INTO stream_pull (recording_id, cut_id, from_s, to_s, near) VALUES (2, 1, 1, "
           "9, '')");
  g_autofree char *cut = ew_pulls_digest(book);
  assert_string_not_equal(cut, tripped);

  assert_true(ew_book_begin(book, NULL) &&
              ew_found_add(book, EW_FOUND_TRIP, 1, "a loose hose", "the fitter", NULL) != 0 &&
              ew_book_commit(book, NULL));
  g_autofree char *found = ew_pulls_digest(book);
  assert_string_not_equal(found, cut);
  assert_true(ew_book_begin(book, NULL) &&
              ew_found_withdraw(book, EW_FOUND_TRIP, 1, "another hose", NULL) &&
              ew_book_commit(book, NULL));
  g_autofree char *back = ew_pulls_digest(book);
  assert_string_not_equal(back, found);

  /* a setting of the shop is no pull's */
  assert_true(ew_keep_setting(book, "shop", "X", NULL));
  g_autofree char *still = ew_pulls_digest(book);
  assert_string_equal(still, back);
  ew_book_close(book);
  shop_clear(&s);
}

static int end_it(void *user) {
  (void)user;
  return 1;
}

/* A mark that can't be read is no mark: zeros would be the same the next time, whatever changed between. */
static void a_mark_that_cannot_be_read_is_like_no_other(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  struct ew_port *port = ew_book_port(book);
  struct ew_change good = ew_book_change(book);
  assert_true(good.known && ew_change_is_same(good, ew_book_change(book)));
  port->class->watch(port, end_it, NULL, 1);
  g_autoptr(GError) error = NULL;
  struct ew_port_change change;
  assert_false(port->class->change(port, &change, &error));
  assert_non_null(error);
  struct ew_change bad = ew_book_change(book);
  assert_false(ew_change_is_same(bad, ew_book_change(book)) || ew_change_is_same(bad, good));
  assert_null(ew_sql_take_unheard());
  assert_null(ew_book_change_but_blocks(book));
  g_autoptr(GError) unheard = ew_sql_take_unheard();
  assert_non_null(unheard);
  port->class->watch(port, NULL, NULL, 0);
  assert_true(ew_change_is_same(good, ew_book_change(book)));
  ew_book_close(book);
  shop_clear(&s);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(a_mark_that_cannot_be_read_is_like_no_other),
                                     cmocka_unit_test(a_trip_and_what_was_found_change_the_pulls)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
