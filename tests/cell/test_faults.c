/* Disks that fail: through a VFS of our own each write or sync fails at a point that moves on, as full, as
 * an I/O error in the middle of a write, or as a failed sync; what stood in the files at that moment
 * is opened again. Every acknowledged row must be there and the book whole; rows that were not
 * acknowledged may be there. SQLite's own documentation of its VFS (sqlite.org/vfs.html) is the
 * source of the interface. */
#include "faulty_disk.h"
#include "near.h"
#include "book/sql.h"
#include "book/write.h"
#include "book/stream.h"
#include "book/verify.h"
#include "book/store.h"
#include "desk/record_store.h"
#include <glib/gstdio.h>
#include <unistd.h>

static void copy_file(const char *from, const char *to, const char *end) {
  g_autofree char *a = g_strconcat(from, end, NULL), *b = g_strconcat(to, end, NULL), *data = NULL;
  gsize size;
  if (g_file_get_contents(a, &data, &size, NULL))
    assert_true(g_file_set_contents(b, data, (gssize)size, NULL));
}

static void drop(const char *path) {
  for (const char *const *end = (const char *const[]){"", "-wal", "-shm", NULL}; *end; end++) {
    g_autofree char *name = g_strconcat(path, *end, NULL);
    g_unlink(name);
  }
}

/* Appends until something fails or 40 blocks are in; returns the rows acknowledged. */
static gint64 append(struct ew_book *book, gint64 *id) {
  char *names[] = {(char *)"Number"}, *units[] = {(char *)""};
  struct ew_stream_facts facts = {0, "t", "test:", "power", names, units, 1};
  gint64 acknowledged = 0;
  *id = 0;
  if (!ew_book_begin(book, NULL))
    return 0;
  *id = ew_stream_begin(book, &facts, NULL);
  if (!*id || !ew_book_commit(book, NULL)) {
    ew_book_rollback(book);
    return 0;
  }
  for (gint64 block = 0; block < 40; block++) {
    double rows[100];
    for (int i = 0; i < 50; i++) {
      rows[2 * i] = (double)(block * 50 + i) / 100;
      rows[2 * i + 1] = (double)(block * 50 + i);
    }
    if (!ew_book_begin(book, NULL) || !ew_stream_append(book, *id, block, rows, 50, 2, NULL) ||
        !ew_book_commit(book, NULL)) {
      ew_book_rollback(book);
      return acknowledged;
    }
    acknowledged += 50;
    if (block % 10 == 9)
      ew_book_checkpoint(book, FALSE, NULL);
  }
  return acknowledged;
}

struct counting {
  gint64 next;
  gboolean in_order;
};
static gboolean count(const double *values, gsize rows, gsize columns, gpointer user) {
  struct counting *c = user;
  for (gsize i = 0; i < rows; i++)
    c->in_order &= values[i * columns + 1] == (double)c->next++;
  return TRUE;
}

static void reopened_is_whole(const char *path, gint64 id, gint64 acknowledged, int kind,
                              int point) {
  g_autoptr(GError) error = NULL;
  struct ew_book *book = ew_book_open(path, FALSE, &error);
  struct ew_verification v;
  struct counting c = {0, TRUE};
  if (!book || !ew_book_verify(book, NULL, &v, &error))
    fail_msg("fault %d at %d: %s", kind, point, error->message);
  if (!v.whole)
    fail_msg("fault %d at %d: not whole: %s", kind, point,
             (char *)g_ptr_array_index(v.problems, 0));
  if (acknowledged) {
    assert_true(ew_stream_each(book, id, count, &c, NULL));
    if (c.next < acknowledged || !c.in_order)
      fail_msg("fault %d at %d: %d rows acknowledged, %d there", kind, point, (int)acknowledged,
               (int)c.next);
  }
  ew_verification_clear(&v);
  ew_book_close(book);
}

static void test_nothing_acknowledged_is_lost(void **state) {
  (void)state;
  install();
  g_autofree char *folder = g_dir_make_tmp("ew-faults-XXXXXX", NULL);
  g_autofree char *path = g_build_filename(folder, "a.book", NULL);
  g_autofree char *image = g_build_filename(folder, "image.book", NULL);
  int tripped = 0;
  for (int kind = FULL; kind <= SYNC; kind++)
    for (int point = 0; point < 60; point++) {
      set_fault(NONE, 0, 0);
      struct ew_book *book = ew_book_open(path, TRUE, NULL);
      assert_true(ew_book_live(book, TRUE, NULL));
      gint64 id;
      set_fault(kind, kind == SYNC ? point / 2 : point * 4, G_MAXINT);
      gint64 acknowledged = append(book, &id);
      tripped += fault.failed > 0;
      copy_file(path, image, "");
      copy_file(path, image, "-wal"); /* as they stand at the moment of the fault */
      set_fault(NONE, 0, 0);
      reopened_is_whole(image, id, acknowledged, kind, point);
      ew_book_close(book);
      drop(image);
      drop(path);
    }
  print_message("%d faults tripped of 180\n", tripped);
  assert_true(tripped > 120);
  g_rmdir(folder);
}

struct told {
  gint failed, good, lost, slow, fast;
};
static void says(enum ew_store_news news, const struct ew_section *section, const ew_message *why,
                 gpointer user) {
  struct told *t = user;
  (void)section, (void)why;
  if (news == EW_STORE_FAILED)
    g_atomic_int_inc(&t->failed);
  if (news == EW_STORE_GOOD_AGAIN)
    g_atomic_int_inc(&t->good);
  if (news == EW_STORE_LOST)
    g_atomic_int_inc(&t->lost);
  if (news == EW_STORE_SLOW)
    g_atomic_int_inc(&t->slow);
  if (news == EW_STORE_FAST_AGAIN)
    g_atomic_int_inc(&t->fast);
}

/* A disk that is full for a while: told at once, and every row is there when it takes some again. */
static void test_full_for_a_while(void **state) {
  (void)state;
  install();
  set_fault(NONE, 0, 0);
  g_autofree char *folder = g_dir_make_tmp("ew-faults-XXXXXX", NULL);
  g_autofree char *path = g_build_filename(folder, "a.book", NULL);
  ew_book_close(ew_book_open(path, TRUE, NULL));
  struct told told = {0};
  struct ew_store_options options = {.path = path, .power = TRUE};
  struct ew_store *store = ew_store_open(&options, says, &told, NULL);
  char *names[] = {(char *)"Number"}, *units[] = {(char *)""};
  struct ew_source_channels channels = {1, names, units};
  struct ew_section *section = ew_store_section(store, "test:", &channels);
  for (int i = 0; i < 2000; i++) {
    double value = i;
    if (i == 300)
      set_fault(FULL, 0, 3);
    ew_store_append(store, section, i / 1000.0, ew_monotonic_s(), &value);
    if (i % 100 == 0)
      g_usleep(30000);
  }
  assert_true(ew_store_close(store, "stopped", NULL));
  assert_true(told.failed >= 1);
  assert_int_equal(told.failed, told.good);
  assert_int_equal(told.lost, 0);
  set_fault(NONE, 0, 0);
  struct ew_book *book = ew_book_open(path, FALSE, NULL);
  struct counting c = {0, TRUE};
  assert_true(ew_stream_each(book, 1, count, &c, NULL));
  assert_int_equal(c.next, 2000);
  assert_true(c.in_order);
  ew_book_close(book);
  drop(path);
  g_rmdir(folder);
}

/* A disk whose sync does not come back: no commit has failed, and yet it is told, once, with what waits;
 * meanwhile rows are taken without a wait; when the disk keeps up again that is told too. */
static void test_slow_disk(void **state) {
  (void)state;
  install();
  set_fault(NONE, 0, 0);
  g_autofree char *folder = g_dir_make_tmp("ew-faults-XXXXXX", NULL);
  g_autofree char *path = g_build_filename(folder, "a.book", NULL);
  ew_book_close(ew_book_open(path, TRUE, NULL));
  struct told told = {0};
  struct ew_store_options options = {.path = path, .power = TRUE, .slow_s = 0.05};
  struct ew_store *store = ew_store_open(&options, says, &told, NULL);
  char *names[] = {(char *)"Number"}, *units[] = {(char *)""};
  struct ew_source_channels channels = {1, names, units};
  struct ew_section *section = ew_store_section(store, "test:", &channels);
  set_stall(TRUE);
  int rows = 0;
  /* a busy machine may be told to be slow, and over it, before the sync stands: what counts is from there on */
  for (double value = 0; !(somebody_waits() && told.slow == told.fast + 1) && rows < 60000;
       rows++, value++) {
    ew_store_append(store, section, rows / 1000.0, ew_monotonic_s(), &value);
    ew_store_watch(store, ew_monotonic_s());
    g_usleep(1000);
  }
  assert_true(somebody_waits());
  int slow = told.slow, fast = told.fast;
  assert_int_equal(slow, fast + 1);
  for (int i = 0; i < 500; i++, rows++) { /* it still stands: taken, and not told again */
    double value = rows;
    ew_store_append(store, section, rows / 1000.0, ew_monotonic_s(), &value);
    ew_store_watch(store, ew_monotonic_s());
  }
  assert_int_equal(told.slow, slow);
  assert_int_equal(told.fast, fast);
  assert_int_equal(told.failed + told.lost, 0);
  set_stall(FALSE);
  for (int i = 0; i < 60000 && told.fast < told.slow; i++) {
    ew_store_watch(store, ew_monotonic_s());
    g_usleep(1000);
  }
  assert_int_equal(told.fast, told.slow);
  assert_int_equal(told.failed, 0);
  assert_true(ew_store_close(store, "stopped", NULL));
  struct ew_book *book = ew_book_open(path, FALSE, NULL);
  struct counting c = {0, TRUE};
  assert_true(ew_stream_each(book, 1, count, &c, NULL));
  assert_int_equal(c.next, rows);
  assert_true(c.in_order);
  ew_book_close(book);
  drop(path);
  g_rmdir(folder);
}

/* A source that sends its header, and its first row much later: what was noted meanwhile (the calibration used is) belongs to
 * the recording that then begins, in its order; a source that never sends a row leaves nothing. */
static void test_marks_wait_for_their_recording(void **state) {
  (void)state;
  install();
  set_fault(NONE, 0, 0);
  g_autofree char *folder = g_dir_make_tmp("ew-faults-XXXXXX", NULL);
  g_autofree char *path = g_build_filename(folder, "a.book", NULL);
  ew_book_close(ew_book_open(path, TRUE, NULL));
  struct told told = {0};
  struct ew_store_options options = {.path = path, .power = TRUE};
  struct ew_store *store = ew_store_open(&options, says, &told, NULL);
  char *names[] = {(char *)"Number"}, *units[] = {(char *)""};
  struct ew_source_channels channels = {1, names, units};
  struct ew_section *section = ew_store_section(store, "test:", &channels),
                    *silent = ew_store_section(store, "silent:", &channels);
  ew_store_mark(store, silent, 0, "of nothing");
  ew_store_mark(store, section, 0, EW_MARK_SENSORS "sensors: []");
  ew_store_mark(store, section, 0, "second");
  ew_store_setting(store, "shop", "Bench"); /* what needs no recording does not wait */
  struct ew_book *book = ew_book_open(path, FALSE, NULL);
  g_autofree char *shop = NULL;
  for (int i = 0; i < 10000 && !shop; i++) { /* the thread has looked at the marks by then */
    assert_true(ew_setting_get(book, "shop", &shop, NULL));
    g_usleep(1000);
  }
  assert_string_equal(shop, "Bench");
  double value = 1;
  ew_store_append(store, section, 0, ew_monotonic_s(), &value);
  assert_true(ew_store_close(store, "stopped", NULL));
  g_autoptr(GArray) marks = ew_mark_list(book, 1, NULL);
  assert_int_equal(marks->len, 2);
  assert_true(ew_mark_is_calibration(&g_array_index(marks, struct ew_mark_row, 0)));
  assert_string_equal(g_array_index(marks, struct ew_mark_row, 1).text, "second");
  g_autoptr(GArray) streams = ew_stream_list(book, NULL);
  assert_int_equal(streams->len, 1);
  ew_book_close(book);
  drop(path);
  g_rmdir(folder);
}

/* A disk that takes nothing, and little memory: rows are given up and said to be, none is made up. */
static void test_memory_is_bounded(void **state) {
  (void)state;
  install();
  set_fault(NONE, 0, 0);
  g_autofree char *folder = g_dir_make_tmp("ew-faults-XXXXXX", NULL);
  g_autofree char *path = g_build_filename(folder, "a.book", NULL);
  ew_book_close(ew_book_open(path, TRUE, NULL));
  struct told told = {0};
  struct ew_store_options options = {.path = path, .power = TRUE, .pending_most = 16000};
  struct ew_store *store = ew_store_open(&options, says, &told, NULL);
  char *names[] = {(char *)"Number"}, *units[] = {(char *)""};
  struct ew_source_channels channels = {1, names, units};
  struct ew_section *section = ew_store_section(store, "test:", &channels);
  set_fault(FULL, 0, 2);
  for (int i = 0; i < 5000; i++) {
    double value = i;
    ew_store_append(store, section, i / 1000.0, ew_monotonic_s(), &value);
  }
  g_autoptr(GError) error = NULL;
  assert_false(ew_store_close(store, "stopped", &error));
  assert_non_null(strstr(error->message, "could not be stored"));
  assert_int_equal(told.lost, 1);
  set_fault(NONE, 0, 0);
  struct ew_book *book = ew_book_open(path, FALSE, NULL);
  struct counting c = {0, TRUE};
  assert_true(ew_stream_each(book, 1, count, &c, NULL));
  assert_true(c.in_order && c.next >= 1000 && c.next < 5000);
  ew_book_close(book);
  drop(path);
  g_rmdir(folder);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_nothing_acknowledged_is_lost), cmocka_unit_test(test_full_for_a_while),
      cmocka_unit_test(test_slow_disk), cmocka_unit_test(test_marks_wait_for_their_recording),
      cmocka_unit_test(test_memory_is_bounded)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
