/* Live recordings in the book: what was appended is there, and only with its commit; and the practice
 * engine is the same from the same seed. */
#include "near.h"
#include "book/recompute.h"
#include "book/sql.h"
#include "book/write.h"
#include "book/sqlite/sqlite.h"
#include "book/stream.h"
#include "book/verify.h"
#include "cell/live_engine.h"
#include "cell/pull_watch.h"
#include <glib/gstdio.h>
#include <stdlib.h>

static char *new_path(void) {
  char *folder = g_dir_make_tmp("ew-stream-XXXXXX", NULL);
  char *path = g_build_filename(folder, "a.book", NULL);
  g_free(folder);
  return path;
}

static void drop(char *path) {
  g_autofree char *folder = g_path_get_dirname(path);
  for (const char *const *end = (const char *const[]){"", "-wal", "-shm", NULL}; *end; end++) {
    g_autofree char *name = g_strconcat(path, *end, NULL);
    g_unlink(name);
  }
  g_rmdir(folder);
  g_free(path);
}

static gint64 begin(struct ew_book *book) {
  char *names[] = {(char *)"RPM", (char *)"Torque"}, *units[] = {(char *)"rpm", (char *)"N·m"};
  struct ew_stream_facts facts = {0, "test", "test:", "power", names, units, 2};
  g_autoptr(GError) error = NULL;
  gint64 id = ew_stream_begin(book, &facts, &error);
  assert_int_not_equal(id, 0);
  return id;
}

static void test_appended_is_there(void **state) {
  (void)state;
  char *path = new_path();
  struct ew_book *book = ew_book_open(path, TRUE, NULL);
  assert_true(ew_book_live(book, TRUE, NULL));
  assert_true(ew_book_begin(book, NULL));
  gint64 id = begin(book);
  const double rows[] = {0, 1000, 0.1, 0.5, 2000, NAN};
  assert_true(ew_stream_append(book, id, 0, rows, 2, 3, NULL));
  assert_true(ew_book_commit(book, NULL));
  assert_true(ew_book_begin(book, NULL));
  assert_true(ew_stream_append(book, id, 1, rows, 2, 3, NULL));
  ew_book_rollback(book); /* this block was never acknowledged */
  gint64 stored;
  assert_true(ew_stream_rows(book, id, &stored, NULL) && stored == 2);
  g_autoptr(GBytes) table = ew_stream_table(book, id, NULL);
  gsize size;
  const char *text = g_bytes_get_data(table, &size);
  const char *want = "Time [s],RPM [rpm],Torque [N·m]\n0,1000,0.1\n0.5,2000,\n";
  assert_int_equal(size, strlen(want));
  assert_memory_equal(text, want, size);
  g_autoptr(GArray) open = ew_stream_unfinished(book, NULL);
  assert_int_equal(open->len, 1);
  struct ew_verification v;
  assert_true(ew_book_verify(book, NULL, &v, NULL));
  assert_true(v.whole);
  assert_int_equal(g_array_index(v.rows, struct ew_verified_recording, 0).rows, 2);
  ew_verification_clear(&v);
  ew_book_close(book);
  drop(path);
}

static gboolean collect(const double *values, gsize rows, gsize columns, gpointer user) {
  g_array_append_vals(user, values, (guint)(rows * columns));
  return TRUE;
}

/* Rows around a time, across blocks, and when the sender's clock went back within a block. */
static void test_rows_between(void **state) {
  (void)state;
  char *path = new_path();
  struct ew_book *book = ew_book_open(path, TRUE, NULL);
  assert_true(ew_book_begin(book, NULL));
  gint64 id = begin(book);
  const double first[] = {0, 10, 0, 1, 11, 0, 2, 12, 0}, second[] = {3, 13, 0, 4, 14, 0},
               third[] = {9, 19, 0, 10, 20, 0, 2.5, 25, 0};
  assert_true(ew_stream_append(book, id, 0, first, 3, 3, NULL));
  assert_true(ew_stream_append(book, id, 1, second, 2, 3, NULL));
  assert_true(ew_stream_append(book, id, 2, third, 3, 3, NULL));
  assert_true(ew_book_commit(book, NULL));
  const struct {
    double from, to, want[6];
    int count;
  } asked[] = {{1, 3, {11, 12, 13, 25}, 4},
               {3.5, 9.5, {14, 19}, 2},
               {5, 8, {0}, 0},
               {-1, 0, {10}, 1},
               {10, 99, {20}, 1}};
  for (gsize k = 0; k < G_N_ELEMENTS(asked); k++) {
    g_autoptr(GArray) found = g_array_new(FALSE, FALSE, sizeof(double));
    assert_true(ew_stream_between(book, id, asked[k].from, asked[k].to, collect, found, NULL));
    assert_int_equal(found->len, 3 * asked[k].count);
    for (int i = 0; i < asked[k].count; i++)
      assert_near(g_array_index(found, double, 3 * i + 1), asked[k].want[i], 0);
  }
  ew_book_close(book);
  drop(path);
}

/* Every stored byte of a live recording stands under its digest: one bit that has turned is found. */
static void test_damage_is_found(void **state) {
  (void)state;
  char *path = new_path();
  struct ew_book *book = ew_book_open(path, TRUE, NULL);
  assert_true(ew_book_begin(book, NULL));
  gint64 id = begin(book);
  const double rows[] = {0, 1000, 0.1, 0.5, 2000, 0.2};
  for (int k = 0; k < 3; k++)
    assert_true(ew_stream_append(book, id, k, rows, 2, 3, NULL));
  assert_true(ew_stream_end(book, id, "stopped", NULL));
  assert_true(ew_book_commit(book, NULL));
  const char *const damage[] = {"UPDATE stream_block SET bytes = zeroblob(48) WHERE sequence = 1",
                                "DELETE FROM stream_block WHERE sequence = 1",
                                "DELETE FROM stream_block WHERE sequence = 2"};
  const char *const says[] = {"does not have its digest", "a block is missing",
                              "ended with 6 rows"};
  for (int k = 0; k < 3; k++) {
    struct ew_verification v;
    assert_true(ew_book_verify(book, NULL, &v, NULL));
    assert_true(v.whole);
    ew_verification_clear(&v);
    assert_int_equal(
        sqlite3_exec(ew_sqlite_handle(ew_book_port(book)), "SAVEPOINT d", NULL, NULL, NULL), 0);
    assert_int_equal(
        sqlite3_exec(ew_sqlite_handle(ew_book_port(book)), damage[k], NULL, NULL, NULL), 0);
    assert_true(ew_book_verify(book, NULL, &v, NULL));
    assert_false(v.whole);
    assert_non_null(strstr(g_ptr_array_index(v.problems, 0), says[k]));
    ew_verification_clear(&v);
    assert_int_equal(
        sqlite3_exec(ew_sqlite_handle(ew_book_port(book)), "ROLLBACK TO d; RELEASE d", 0, 0, 0), 0);
  }
  ew_book_close(book);
  drop(path);
}

static void test_same_seed_same_engine(void **state) {
  (void)state;
  g_autoptr(ew_live_engine) a = ew_live_engine_new(5, 100), b = ew_live_engine_new(5, 100);
  ew_message_free(ew_live_engine_command(a, "sweep 2500 6500 300"));
  ew_message_free(ew_live_engine_command(b, "sweep 2500 6500 300"));
  double x[EW_LIVE_ENGINE_CHANNELS], y[EW_LIVE_ENGINE_CHANNELS];
  for (int i = 0; i < 3000; i++) {
    ew_live_engine_step(a, x);
    ew_live_engine_step(b, y);
    assert_memory_equal(x, y, sizeof x);
  }
}

/* The absorber holds what it is told: 300 rpm/s within 3 % in the middle of a sweep. */
static void test_sweep_rate(void **state) {
  (void)state;
  g_autoptr(ew_live_engine) engine = ew_live_engine_new(1, 100);
  ew_message_free(ew_live_engine_command(engine, "sweep 2500 6500 300"));
  double values[EW_LIVE_ENGINE_CHANNELS], from = NAN, to = NAN, sum = 0;
  for (int i = 0; i < 3000; i++) {
    ew_live_engine_step(engine, values);
    if (values[3] > 90 && values[1] > 4000 && isnan(from))
      from = ew_live_engine_time_s(engine);
    if (values[3] > 90 && values[1] > 6000 && isnan(to))
      to = ew_live_engine_time_s(engine);
    sum += values[2];
  }
  assert_near(2000 / (to - from), 300, 9);
  assert_true(sum > 0);
}

static void test_pull_watch(void **state) {
  (void)state;
  struct ew_pull_watch watch = {0};
  ew_pull_watch_reset(&watch);
  guint began = 0, ended = 0;
  for (int i = 0; i < 3000; i++) {
    double t = i * 0.01, load = t > 5 && t < 15 ? 1.0 : 0.1;
    if (i == 800)
      load = NAN; /* one lost sample */
    enum ew_pull_news news = ew_pull_watch_step(&watch, t, 3000 + 100 * t, load, NAN);
    began += news == EW_PULL_BEGAN;
    ended += news == EW_PULL_ENDED;
  }
  assert_int_equal(began, 1);
  assert_int_equal(ended, 1);
  assert_near(watch.from_s, 5.01, 0.011);
  assert_near(watch.to_s, 15, 0.011);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_appended_is_there), cmocka_unit_test(test_rows_between),
      cmocka_unit_test(test_damage_is_found),   cmocka_unit_test(test_same_seed_same_engine),
      cmocka_unit_test(test_sweep_rate),        cmocka_unit_test(test_pull_watch),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
