/* Live recordings in the book: what was appended is there, and only with its commit; and the practice
 * engine is the same from the same seed. */
#include "near.h"
#include "book/recompute.h"
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
  assert_int_equal(ew_stream_rows(book, id), 2);
  g_autoptr(GBytes) table = ew_stream_table(book, id, NULL);
  gsize size;
  const char *text = g_bytes_get_data(table, &size);
  const char *want = "Time [s],RPM [rpm],Torque [N·m]\n0,1000,0.1\n0.5,2000,\n";
  assert_int_equal(size, strlen(want));
  assert_memory_equal(text, want, size);
  g_autoptr(GArray) open = ew_stream_unfinished(book, NULL);
  assert_int_equal(open->len, 1);
  struct ew_verification v;
  assert_true(ew_book_verify(book, &v, NULL));
  assert_true(v.whole);
  assert_int_equal(g_array_index(v.rows, struct ew_verified_recording, 0).rows, 2);
  ew_verification_clear(&v);
  ew_book_close(book);
  drop(path);
}

static void test_same_seed_same_engine(void **state) {
  (void)state;
  g_autoptr(ew_live_engine) a = ew_live_engine_new(5, 100), b = ew_live_engine_new(5, 100);
  g_free(ew_live_engine_command(a, "sweep 2500 6500 300"));
  g_free(ew_live_engine_command(b, "sweep 2500 6500 300"));
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
  g_free(ew_live_engine_command(engine, "sweep 2500 6500 300"));
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
      cmocka_unit_test(test_appended_is_there),
      cmocka_unit_test(test_same_seed_same_engine),
      cmocka_unit_test(test_sweep_rate),
      cmocka_unit_test(test_pull_watch),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
