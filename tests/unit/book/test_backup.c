/* The lock of an unfinished copy: taken by somebody who sweeps, removed by him, or not to be had at all. flock(2) is ours here. */
#include "book/backup.h"
#include "book/book.h"
#include <errno.h>
#include <glib/gstdio.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <cmocka.h>

static enum { AS_IT_IS, SWEPT_ONCE, REMOVED_ONCE, NO_LOCKS } mode;
static guint parts; /* how many locks of parts were asked for */

int flock(int file, int how) {
  char link[64], name[4096];
  g_snprintf(link, sizeof link, "/proc/self/fd/%d", file);
  gssize size = readlink(link, name, sizeof name - 1);
  name[MAX(size, 0)] = 0;
  if (!strstr(name, ".part-") || mode == AS_IT_IS)
    return (int)syscall(SYS_flock, file, how);
  parts++;
  if (mode == NO_LOCKS || (mode == SWEPT_ONCE && parts == 1)) {
    errno = mode == NO_LOCKS ? ENOLCK : EWOULDBLOCK;
    if (mode == SWEPT_ONCE)
      g_unlink(name); /* as he does that has the lock */
    return -1;
  }
  if (mode == REMOVED_ONCE && parts == 1)
    g_unlink(name);
  return (int)syscall(SYS_flock, file, how);
}

static guint files_in(const char *folder) {
  g_autoptr(GDir) dir = g_dir_open(folder, 0, NULL);
  guint count = 0;
  while (g_dir_read_name(dir))
    count++;
  return count;
}

static gboolean back_up(const char *folder, const char *to, GError **error) {
  g_autofree char *path = g_build_filename(folder, "first.book", NULL);
  struct ew_book *book = ew_book_open(path, TRUE, error);
  g_assert_nonnull(book);
  gboolean good = ew_book_backup(book, to, NULL, error);
  ew_book_close(book);
  return good;
}

static void test_backups(void **state) {
  static const struct {
    const char *says;
    int mode;
    gboolean good;
    guint locks;
  } rows[] = {
      {"nobody disturbs", AS_IT_IS, TRUE, 0},
      {"somebody who sweeps has the lock, and removes it", SWEPT_ONCE, TRUE, 2},
      {"it was removed before the lock", REMOVED_ONCE, TRUE, 2},
      {"a disk without locks is refused, and nothing is left", NO_LOCKS, FALSE, 1},
  };
  (void)state;
  g_autofree char *folder = g_dir_make_tmp("backup-XXXXXX", NULL);
  g_autofree char *copies = g_build_filename(folder, "copies", NULL);
  g_mkdir(copies, 0700);
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GError) error = NULL;
    g_autofree char *name = g_strdup_printf("copy-%zu.book", i);
    g_autofree char *to = g_build_filename(copies, name, NULL);
    mode = rows[i].mode;
    parts = 0;
    guint before = files_in(copies);
    gboolean good = back_up(folder, to, &error);
    mode = AS_IT_IS;
    if (good != rows[i].good || parts != rows[i].locks ||
        files_in(copies) != before + (rows[i].good ? 1 : 0))
      fail_msg("%s: %s, %u locks, %u files", rows[i].says, error ? error->message : "stored", parts,
               files_in(copies) - before);
    if (good) {
      struct ew_book *copy = ew_book_open(to, FALSE, &error);
      assert_non_null(copy);
      ew_book_close(copy);
      assert_int_equal(files_in(copies), before + 1); /* opened and closed, it is one file */
    }
  }
  g_autofree char *command = g_strdup_printf("rm -r '%s'", folder);
  assert_int_equal(system(command), 0);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_backups)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
