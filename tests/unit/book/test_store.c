#include "shop.h"

static int count(struct ew_book *book, const char *sql) {
  sqlite3_stmt *s;
  assert_int_equal(sqlite3_prepare_v2(ew_sqlite_handle(ew_book_port(book)), sql, -1, &s, NULL),
                   SQLITE_OK);
  assert_int_equal(sqlite3_step(s), SQLITE_ROW);
  int value = sqlite3_column_int(s, 0);
  sqlite3_finalize(s);
  return value;
}

static gint64 add_engine(struct ew_book *book, const char *name, const char *yaml) {
  const struct ew_new_engine new = {.name = name, .yaml = yaml};
  return ew_keep_engine(book, &new, NULL);
}

static gboolean put_map(struct ew_book *book, const char *yaml) {
  return ew_book_begin(book, NULL) && ew_channel_map_put(book, "source", yaml, NULL) &&
         ew_book_commit(book, NULL);
}

/* Somebody else is about to lay out the same new book: he has begun to write, and ends a moment later. */
static gpointer end_his_turn(gpointer other) {
  sqlite3_sleep(200);
  assert_int_equal(sqlite3_exec(other, "COMMIT", NULL, NULL, NULL), SQLITE_OK);
  sqlite3_close(other);
  return NULL;
}

static void another_lays_it_out(void **state) {
  (void)state;
  struct shop s = shop_new();
  sqlite3 *other;
  assert_int_equal(sqlite3_open(s.path, &other), SQLITE_OK);
  assert_int_equal(sqlite3_exec(other, "BEGIN IMMEDIATE", NULL, NULL, NULL), SQLITE_OK);
  GThread *turn = g_thread_new("turn", end_his_turn, other);
  struct ew_book *book = open_book(s.path, TRUE);
  g_thread_join(turn);
  assert_int_equal(count(book, "SELECT count(*) FROM engine"), 0);
  ew_book_close(book);
  shop_clear(&s);
}

static void recordings_and_pulls(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  g_autofree char *one = sweep_text(1), *two = sweep_text(2);
  assert_true(keep_recording(book, one, NULL) && keep_recording(book, two, NULL));
  struct ew_recording_row row;
  assert_true(ew_recording_get(book, 1, &row, NULL));
  gsize size;
  const char *bytes = g_bytes_get_data(row.bytes, &size);
  assert_true(size == strlen(one) && memcmp(bytes, one, size) == 0); /* as it came */
  g_autofree char *digest = g_compute_checksum_for_string(G_CHECKSUM_SHA256, one, -1);
  assert_string_equal(row.sha256, digest);
  gint64 id;
  gboolean has, none;
  assert_true(ew_recording_find(book, digest, &id, NULL) && id == 1);
  assert_true(ew_recording_find(book, "none", &id, NULL) && id == 0);
  assert_true(ew_recording_has_pulls(book, 1, &has, NULL) && has);
  assert_true(ew_recording_has_pulls(book, 99, &none, NULL) && !none);
  ew_recording_row_clear(&row);
  g_autoptr(GError) error = NULL;
  assert_false(ew_recording_get(book, 99, &row, &error));
  expect_refused(error, "99", "no such recording");
  g_clear_error(&error);
  g_autoptr(GArray) pulls = ew_pull_list(book, 0, NULL);
  assert_int_equal(pulls->len, 2);
  assert_int_equal(g_array_index(pulls, struct ew_pull_row, 0).id, 1);
  for (guint most = 0; most <= 3; most++) { /* the end of that list, in its order */
    g_autoptr(GArray) newest = ew_pull_newest(book, 0, most, NULL);
    assert_int_equal(newest->len, MIN(most, 2));
    for (guint i = 0; i < newest->len; i++)
      assert_int_equal(g_array_index(newest, struct ew_pull_row, i).id,
                       g_array_index(pulls, struct ew_pull_row, pulls->len - newest->len + i).id);
  }
  gint64 pulls_count, of_none;
  assert_true(ew_pull_count(book, 0, &pulls_count, NULL) && pulls_count == 2);
  assert_true(ew_pull_count(book, 99, &of_none, NULL) && of_none == 0);
  gboolean real;
  assert_true(ew_pull_any_real(book, 0, &real, NULL) && real);
  assert_true(ew_pull_any_real(book, 99, &real, NULL) && !real);
  struct ew_pull_row pull;
  assert_false(ew_pull_get(book, 77, &pull, &error));
  expect_refused(error, "77|pull list", "no such pull");
  assert_true(ew_keep_discard(book, 1, "cable slipped", NULL) && ew_pull_get(book, 1, &pull, NULL));
  assert_string_equal(pull.discarded, "cable slipped");
  ew_pull_row_clear(&pull);
  assert_true(ew_keep_discard(book, 1, "", NULL) && ew_pull_get(book, 1, &pull, NULL));
  assert_null(pull.discarded);
  ew_pull_row_clear(&pull);
  ew_book_close(book);
  shop_clear(&s);
}

/* Every change has who, when and what. */
static void the_change_log(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  g_autofree char *text = sweep_text(1);
  int before = count(book, "SELECT count(*) FROM change_log");
  assert_true(keep_recording(book, text, NULL));
  assert_true(ew_keep_setting(book, "shop", "X", NULL));
  assert_true(add_engine(book, "four", "name: four\n") == 1);
  assert_true(ew_keep_discard(book, 1, "why", NULL));
  assert_true(put_map(book, "channels: {}\n"));
  struct ew_verdict_row v = {.question = (char *)"compare",
                             .pair = (char *)"p",
                             .pulls = (char *)"1 against 2",
                             .says = (char *)"same",
                             .json = (char *)"{}"};
  assert_true(ew_keep_answer(book, &v, NULL));
  struct ew_calibration_row c = {.kind = (char *)"zero", .json = (char *)"{}", .value = 0.1};
  assert_true(ew_keep_calibration(book, &c, NULL));
  assert_true(count(book, "SELECT count(*) FROM change_log") - before >= 7);
  assert_int_equal(count(book,
                         "SELECT count(*) FROM change_log WHERE who <> 'tester' OR at NOT LIKE "
                         "'20__-__-__T%Z' OR what = '' OR detail IS NULL"),
                   0);
  static const char *const whats[] = {"recording", "setting", "engine", "discard"};
  for (gsize i = 0; i < G_N_ELEMENTS(whats); i++) {
    g_autofree char *sql =
        g_strdup_printf("SELECT count(*) FROM change_log WHERE what = '%s'", whats[i]);
    expect(count(book, sql) >= 1, whats[i], "not logged");
  }
  ew_book_close(book);
  shop_clear(&s);
}

static void refused(gboolean good, GError **error) {
  assert_false(good);
  assert_int_equal((*error)->code, EW_ERROR_INPUT);
  g_clear_error(error);
}

static void engines_by_id_and_name(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  struct ew_engine_row row;
  GError *error = NULL;
  assert_true(ew_engine_find(book, NULL, &row, NULL) && row.id == 0 && !row.name);
  refused(ew_engine_get(book, NULL, &row, &error), &error);
  assert_int_equal(add_engine(book, "four", "name: four\n"), 1);
  assert_int_equal(add_engine(book, "six", "name: six\n"), 2);
  assert_int_equal(add_engine(book, "four", "name: four\nbore: 1 m\n"), 1); /* anew */
  assert_true(ew_engine_get(book, NULL, &row, NULL) && row.id == 2);
  ew_engine_row_clear(&row);
  assert_true(ew_engine_get(book, "1", &row, NULL));
  assert_non_null(strstr(row.yaml, "bore"));
  ew_engine_row_clear(&row);
  assert_true(ew_engine_get(book, "six", &row, NULL) && row.id == 2);
  ew_engine_row_clear(&row);
  refused(ew_engine_get(book, "seven'; DROP TABLE engine; --", &row, &error), &error);
  assert_true(ew_engine_get(book, "six", &row, NULL));
  ew_engine_row_clear(&row);
  ew_book_close(book);
  shop_clear(&s);
}

static int looks_at(struct ew_book *book, const char *pair, const char *pulls) {
  int looks;
  assert_true(ew_verdict_looks(book, pair, pulls, &looks, NULL));
  return looks;
}

static void looks(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  const char *pulls[] = {"1:2", "1:2", "1,3:2,4"};
  int want[] = {0, 0, 1};
  for (int i = 0; i < 3; i++) {
    assert_int_equal(looks_at(book, "pair", pulls[i]), want[i]);
    struct ew_verdict_row v = {.question = (char *)"compare",
                               .pair = (char *)"pair",
                               .pulls = (char *)pulls[i],
                               .says = (char *)"x",
                               .json = (char *)"{}"};
    assert_true(ew_keep_answer(book, &v, NULL));
  }
  assert_int_equal(looks_at(book, "pair", "others"), 2);
  assert_int_equal(looks_at(book, "another pair", "others"), 0);
  ew_book_close(book);
  shop_clear(&s);
}

static ew_message *overdue(struct ew_book *book) {
  ew_message *message;
  assert_true(ew_calibration_overdue(book, &message, NULL));
  return message;
}

static void calibrations_and_maps(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  g_autoptr(ew_message) none = overdue(book);
  assert_string_equal(ew_message_id(none), "book.not-calibrated");
  struct ew_calibration_row c = {.kind = (char *)"calibration",
                                 .json = (char *)"{}",
                                 .value = 1.01,
                                 .valid_until = (char *)"2000-01-01T00:00:00Z"};
  assert_true(ew_keep_calibration(book, &c, NULL));
  g_autoptr(ew_message) expired = overdue(book);
  assert_string_equal(ew_message_id(expired), "book.calibration-expired");
  assert_string_equal(ew_message_argument(expired, "day")->text, "2000-01-01");
  c.valid_until = (char *)"2999-01-01T00:00:00Z";
  assert_true(ew_keep_calibration(book, &c, NULL));
  assert_null(overdue(book));
  g_autoptr(GArray) rows = ew_calibration_list(book, "calibration", NULL);
  assert_int_equal(rows->len, 2);
  g_autoptr(GArray) zeros = ew_calibration_list(book, "zero", NULL);
  assert_int_equal(zeros->len, 0);
  g_autofree char *unknown = NULL, *map = NULL;
  assert_true(ew_channel_map_get(book, "source", &unknown, NULL));
  assert_null(unknown);
  assert_true(put_map(book, "a") && put_map(book, "b"));
  assert_true(ew_channel_map_get(book, "source", &map, NULL));
  assert_string_equal(map, "b");
  ew_book_close(book);
  shop_clear(&s);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(another_lays_it_out),
                                     cmocka_unit_test(recordings_and_pulls),
                                     cmocka_unit_test(the_change_log),
                                     cmocka_unit_test(engines_by_id_and_name),
                                     cmocka_unit_test(looks),
                                     cmocka_unit_test(calibrations_and_maps)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
