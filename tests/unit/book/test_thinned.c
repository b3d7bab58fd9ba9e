/* Runs that stand for idle samples: what is in a row of one, what stays beside them, and rules that are none. */
#include "shop.h"
#include "book/keep.h"
#include "book/verify.h"
#include <math.h>

#define COLUMNS 3 /* time and two channels */
#define ROWS    20
#define STEP_S  0.05 /* so a block is a second long */

static const struct ew_thin_rule rule = {1, 1, 1e-6};

static gint64 begin(struct ew_book *book) {
  char *names[] = {(char *)"Oil pressure", (char *)"Gear"}, *units[] = {(char *)"bar", (char *)""};
  const struct ew_stream_facts facts = {0, "idle", "tcp:", "power", names, units, 2};
  gint64 id = ew_stream_begin(book, &facts, NULL);
  assert_true(id > 0);
  return id;
}

static void fill(double *rows, gint64 block) {
  for (int i = 0; i < ROWS; i++) {
    rows[COLUMNS * i] = (double)block + STEP_S * i;
    rows[COLUMNS * i + 1] = 3 + 0.01 * i;
    rows[COLUMNS * i + 2] = NAN;
  }
}

/* `change` may spoil a block before it is stored. */
static gint64 record(struct ew_book *book, int blocks, void (*change)(gint64 block, double *rows)) {
  double rows[COLUMNS * ROWS];
  assert_true(ew_book_begin(book, NULL));
  gint64 id = begin(book);
  for (gint64 b = 0; b < blocks; b++) {
    fill(rows, b);
    if (change)
      change(b, rows);
    assert_true(ew_stream_append(book, id, b, rows, ROWS, COLUMNS, NULL));
  }
  assert_true(ew_stream_end(book, id, "ended", NULL) && ew_book_commit(book, NULL));
  return id;
}

static struct ew_thin_done thin(struct ew_book *book, gint64 id) {
  struct ew_thin_done done;
  g_autoptr(GError) error = NULL;
  expect(ew_keep_thinned(book, id, &rule, 1e11, &done, &error), "thinned", "%s",
         error ? error->message : "");
  return done;
}

static void stays_whole(struct ew_book *book) {
  struct ew_verification v;
  assert_true(ew_book_verify(book, NULL, &v, NULL));
  expect(v.whole, "whole", "%s", v.problems->len ? (char *)g_ptr_array_index(v.problems, 0) : "");
  ew_verification_clear(&v);
}

static gint64 number(struct ew_book *book, const char *sql) {
  gint64 value;
  assert_true(ew_sql_number(ew_book_port(book), &value, NULL, sql, ""));
  return value;
}

static void spoil(gint64 block, double *rows) {
  if (block == 2)
    rows[COLUMNS * 7 + 1] = 77.5;
  if (block == 3) {
    rows[COLUMNS * 4 + 1] = (double)-INFINITY;
    rows[COLUMNS * 5 + 2] = 4;
    rows[COLUMNS * 6 + 2] = 2;
  }
}

static gboolean collect(const double *values, gsize rows, gsize columns, gpointer user) {
  g_array_append_vals(user, values, (guint)(rows * columns));
  return TRUE;
}

static void mean_least_greatest(void **state) {
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  (void)state;
  gint64 id = record(book, 8, spoil);
  struct ew_thin_done done = thin(book, id);
  assert_int_equal(done.state, EW_THIN_THINNED);
  assert_int_equal(done.runs, 1);
  assert_int_equal(done.source_rows, 6 * ROWS);
  assert_int_equal(done.after, 6);
  g_autoptr(GArray) wide = g_array_new(FALSE, FALSE, sizeof(double));
  assert_true(ew_thinned_each(book, id, collect, wide, NULL));
  const double *row = (const double *)(void *)wide->data;
  gsize width = ew_thinned_columns(COLUMNS);
  assert_int_equal(wide->len, 6 * width);
  for (int i = 0; i < 6; i++, row += width) {
    assert_true(fabs(row[0] - (1 + i + STEP_S * (ROWS - 1) / 2)) < 1e-9 && row[1] == ROWS);
    assert_true(row[3] == (i == 2 ? (double)-INFINITY : 3) && row[4] == (i == 1 ? 77.5 : 3.19));
    if (i == 2)
      assert_true(isinf(row[2]) && row[5] == 3 && row[6] == 2 && row[7] == 4);
    else
      assert_true(isnan(row[5]) && isnan(row[6]) && isnan(row[7]));
  }
  g_autoptr(GArray) all = g_array_new(FALSE, FALSE, sizeof(double));
  gint64 rows;
  assert_true(ew_stream_each(book, id, collect, all, NULL) &&
              ew_stream_rows(book, id, &rows, NULL));
  assert_int_equal(rows, 2 * ROWS + 6);
  assert_int_equal(all->len, COLUMNS * (2 * ROWS + 6));
  for (guint i = COLUMNS; i < all->len; i += COLUMNS)
    assert_true(g_array_index(all, double, i) > g_array_index(all, double, i - COLUMNS));
  stays_whole(book);
  assert_int_equal(thin(book, id).state, EW_THIN_NOTHING);
  ew_book_close(book);
  shop_clear(&s);
}

/* The source's clock goes back within block 3; block 5 has no time. */
static void odd_times(gint64 block, double *rows) {
  if (block == 3)
    rows[COLUMNS * (ROWS - 1)] = 1;
  for (int i = 0; block == 5 && i < ROWS; i++)
    rows[COLUMNS * i] = NAN;
}

static void what_has_no_place_in_time_stays(void **state) {
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  (void)state;
  gint64 id = record(book, 9, odd_times);
  struct ew_thin_done done = thin(book, id);
  assert_int_equal(done.runs, 3);
  assert_int_equal(done.source_rows, 5 * ROWS);
  assert_int_equal(number(book, "SELECT count(*) FROM stream_block WHERE sequence IN (0, 3, 5, 8)"),
                   4);
  assert_int_equal(number(book, "SELECT count(*) FROM stream_block"), 4);
  stays_whole(book);
  ew_book_close(book);
  shop_clear(&s);
}

/* A pull of rows 10 to 44 from block 3 on, whose times say that it was elsewhere. */
static void what_a_pull_was_cut_out_of_stays(void **state) {
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  (void)state;
  gint64 id = record(book, 9, NULL);
  const struct ew_cut_place place = {.block = 3, .skip = 10, .rows = 35};
  g_autoptr(ew_frames) frames = ew_cut_frames(book, id, &place, NULL);
  g_autoptr(GBytes) file = ew_frames_text(frames, NULL), line = ew_cut_line();
  g_autofree char *digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, file);
  const struct ew_recording_row row = {
      .rows = 35, .channels = 3, .name = (char *)"cut", .sha256 = digest, .bytes = line};
  assert_true(ew_book_begin(book, NULL));
  gint64 cut = ew_recording_add(book, &row, 1, NULL);
  assert_true(cut > 0 && ew_stream_pull_add(book, id, cut, 500, 510, "[]", &place, NULL) &&
              ew_book_commit(book, NULL));
  struct ew_thin_done done = thin(book, id);
  assert_int_equal(done.runs, 2);
  assert_int_equal(
      number(book, "SELECT count(*) FROM stream_block WHERE sequence IN (0, 3, 4, 5, 8)"), 5);
  assert_int_equal(number(book, "SELECT count(*) FROM stream_block"), 5);
  stays_whole(book);
  ew_book_close(book);
  shop_clear(&s);
}

/* The highest number of a block stays taken: a block that comes later is not taken for one that went. */
static void no_number_is_given_twice(void **state) {
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  (void)state;
  gint64 id = record(book, 9, NULL);
  gint64 highest = number(book, "SELECT max(id) FROM stream_block");
  thin(book, id);
  record(book, 1, NULL);
  assert_int_equal(number(book, "SELECT max(id) FROM stream_block"), highest + 1);
  ew_book_close(book);
  shop_clear(&s);
}

static void rules_that_are_none(void **state) {
  static const struct ew_thin_rule wrong[] = {
      {0, 1, 1},  {-1, 1, 1},  {NAN, 1, 1},      {INFINITY, 1, 1}, {1e12, 1, 1}, {1, 0, 1},
      {1, -1, 1}, {1, NAN, 1}, {1, INFINITY, 1}, {1, 3601, 1},     {1, 1e-9, 1}, {1, 1, 0},
      {1, 1, -1}, {1, 1, NAN}, {1, 1, INFINITY}, {1, 1, 86400.001}};
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(wrong); i++) {
    g_autoptr(GError) error = NULL;
    expect(!ew_thin_rule_check(&wrong[i], &error) && error, "refused", "%zu", i);
  }
  assert_true(ew_thin_rule_check(&rule, NULL));
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(mean_least_greatest),
      cmocka_unit_test(what_has_no_place_in_time_stays),
      cmocka_unit_test(what_a_pull_was_cut_out_of_stays),
      cmocka_unit_test(no_number_is_given_twice),
      cmocka_unit_test(rules_that_are_none),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
