/* Files of this machine: mode 0600, whole or not at all, and nothing taken that others could have written.
 * Outside source: POSIX permission bits as stat(2) gives them. */
#include "base/machine.h"
#include "unit.h"
#include <glib/gstdio.h>
#include <sys/stat.h>
#include <unistd.h>

static char *folder;

static int fresh(void **state) {
  (void)state;
  folder = g_dir_make_tmp("ew-machine-XXXXXX", NULL);
  g_setenv("XDG_CONFIG_HOME", folder, TRUE);
  return folder == NULL;
}

static mode_t mode_of(const char *path) {
  struct stat about;
  assert_int_equal(lstat(path, &about), 0);
  return about.st_mode & 0777;
}

static void written_and_read(void **state) {
  (void)state;
  g_autofree char *text = NULL, *path = ew_machine_path("one"), *house = ew_machine_path(NULL);
  assert_true(ew_machine_read("one", &text, NULL));
  assert_null(text);
  assert_true(ew_machine_write("one", "first", NULL));
  assert_true(ew_machine_write("one", "second", NULL));
  assert_true(ew_machine_read("one", &text, NULL));
  assert_string_equal(text, "second");
  assert_int_equal(mode_of(path), 0600);
  assert_int_equal(mode_of(house), 0700);
  g_autoptr(GDir) dir = g_dir_open(house, 0, NULL);
  assert_string_equal(g_dir_read_name(dir), "one");
  assert_null(g_dir_read_name(dir)); /* no half of a file is left */
}

static void refused(const char *name, const char *word) {
  g_autoptr(GError) error = NULL;
  g_autofree char *text = NULL;
  assert_false(ew_machine_read(name, &text, &error));
  assert_null(text);
  assert_non_null(strstr(error->message, word));
}

static void others_prove_nothing(void **state) {
  (void)state;
  g_autofree char *path = ew_machine_path("two"), *link_path = ew_machine_path("link"),
                  *twin = ew_machine_path("twin"), *house = ew_machine_path(NULL);
  assert_true(ew_machine_write("two", "x", NULL));
  assert_int_equal(chmod(path, 0640), 0);
  refused("two", "chmod 600");
  assert_int_equal(chmod(path, 0600), 0);
  assert_int_equal(symlink(path, link_path), 0);
  refused("link", "can't be opened");
  assert_int_equal(link(path, twin), 0);
  refused("two", "single link");
  assert_int_equal(unlink(twin), 0);
  assert_int_equal(chmod(house, 0777), 0);
  refused("two", "chmod 700");
  assert_false(ew_machine_write("two", "y", NULL));
  assert_int_equal(chmod(house, 0700), 0);
}

static void identity_and_chance(void **state) {
  (void)state;
  g_autofree char *one = ew_machine_identity(), *again = ew_machine_identity(),
                  *chance = ew_machine_random(32), *other = ew_machine_random(32);
  assert_string_equal(one, again);
  assert_int_equal(strlen(one), 64);
  assert_int_equal(strlen(chance), 64);
  assert_string_not_equal(chance, other);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(written_and_read),
                                     cmocka_unit_test(others_prove_nothing),
                                     cmocka_unit_test(identity_and_chance)};
  return cmocka_run_group_tests(tests, fresh, NULL);
}
