/* Kept answers: what was added is found, torn, damaged and foreign records are left alone and counted,
 * writers share a file, and the work grows with what is added and not with what is there. */
#include "desk/vary_keep.h"
#include "unit.h"
#include <glib/gstdio.h>
#include <sys/stat.h>

static char *path;

static int set_up(void **state) {
  (void)state;
  g_autofree char *folder = g_dir_make_tmp("ew-keep-XXXXXX", NULL);
  path = g_build_filename(folder, "kept", NULL);
  return 0;
}

static int tear_down(void **state) {
  (void)state;
  g_autofree char *folder = g_path_get_dirname(path);
  g_unlink(path);
  g_rmdir(folder);
  g_free(path);
  return 0;
}

static struct ew_kept_file *opened(void) {
  g_autoptr(GError) error = NULL;
  struct ew_kept_file *keep = ew_vary_keep_open(path, &error);
  expect(keep, "opened", "%s", error ? error->message : "");
  return keep;
}

static void add(struct ew_kept_file *keep, const char *key, double lower) {
  double torque[] = {101.25, NAN};
  struct ew_kept_row row = {key, "lambda\t0.80", {lower, 2, 0.1, 0.2, NAN, 95, TRUE, 2, torque}};
  g_autoptr(GError) error = NULL;
  expect(ew_vary_keep_add(keep, &row, 1, &error), "added", "%s", error ? error->message : "");
}

/* NULL: not found. Good until the next call. */
static const struct ew_kept_answer *found(struct ew_kept_file *keep, const char *key, int speeds) {
  static double torque[4];
  static struct ew_kept_answer answer;
  answer = (struct ew_kept_answer){.torque_n_m = torque};
  return ew_vary_keep_find(keep, key, speeds, &answer) ? &answer : NULL;
}

static char *bytes(void) {
  char *text;
  assert_true(g_file_get_contents(path, &text, NULL, NULL));
  return text;
}

static void put(const char *text, gssize count) {
  FILE *file = fopen(path, "wb"); /* in place: the writers keep it open */
  assert_non_null(file);
  fwrite(text, 1, count < 0 ? strlen(text) : (gsize)count, file);
  fclose(file);
}

static void found_again(void **state) {
  (void)state;
  struct ew_kept_file *keep = opened();
  add(keep, "aa", 0.1 + 0.2);
  add(keep, "bb", -1e-300);
  ew_kept_file_close(keep);
  keep = opened();
  const struct ew_kept_answer *a = found(keep, "aa", 2);
  assert_non_null(a);
  assert_true(a->lower == 0.1 + 0.2 && a->octane == 95 && a->converged && isnan(a->worst_knock));
  assert_true(a->torque_n_m[0] == 101.25 && isnan(a->torque_n_m[1]));
  assert_true(found(keep, "bb", 2)->lower == -1e-300);
  assert_null(found(keep, "bb", 3)); /* of other speeds */
  assert_null(found(keep, "cc", 2));
  struct ew_kept_counts counts = ew_kept_file_count(keep);
  assert_true(counts.records == 2 && counts.taken == 2 && !counts.damaged && !counts.torn);
  ew_kept_file_close(keep);
}

/* Cut off anywhere: whole records before it count, and what is added next stands on a line of its own. */
static void torn_anywhere(void **state) {
  (void)state;
  struct ew_kept_file *keep = opened();
  add(keep, "aa", 1);
  g_autofree char *one = bytes();
  add(keep, "bb", 2);
  ew_kept_file_close(keep);
  g_autofree char *two = bytes();
  for (gsize length = 0; length <= strlen(two); length++) {
    put(two, (gssize)length);
    keep = opened();
    gboolean first = length >= strlen(one), second = length == strlen(two);
    assert_int_equal(found(keep, "aa", 2) != NULL, first);
    assert_int_equal(found(keep, "bb", 2) != NULL, second);
    add(keep, "aa", 1);
    add(keep, "bb", 2);
    ew_kept_file_close(keep);
    g_autofree char *now = bytes();
    assert_string_equal(now, two);
  }
}

static void left_alone(void **state) {
  (void)state;
  struct ew_kept_file *keep = opened();
  add(keep, "aa", 1);
  add(keep, "bb", 2);
  ew_kept_file_close(keep);
  g_autofree char *good = bytes();
  g_autofree char *bad = g_strdup(good);
  strstr(bad, "bb")[0] = 'c';
  put(bad, -1);
  keep = opened();
  assert_null(found(keep, "bb", 2));
  assert_null(found(keep, "cb", 2));
  assert_non_null(found(keep, "aa", 2));
  assert_int_equal(ew_kept_file_count(keep).damaged, 1);
  add(keep, "bb", 2); /* appended: the damaged one stays where it is */
  ew_kept_file_close(keep);
  g_autofree char *after = bytes();
  assert_true(g_str_has_prefix(after, bad) && strlen(after) > strlen(bad));
  /* A record of other physics, whole. */
  const char *line = "1\tdd\t1\tlambda 0.80\t1\t2\t0\t0\t0\t95\t1\t100\t100";
  g_autofree char *sum = g_compute_checksum_for_string(G_CHECKSUM_SHA256, line, -1);
  g_autofree char *older = g_strdup_printf("%s%s\t%.16s\n", good, line, sum);
  put(older, -1);
  keep = opened();
  assert_null(found(keep, "dd", 2));
  assert_int_equal(ew_kept_file_count(keep).older, 1);
  assert_int_equal(ew_kept_file_count(keep).records, 2);
  ew_kept_file_close(keep);
}

static void somebody_elses_file(void **state) {
  (void)state;
  static const char *const files[] = {"name: six\ncylinders: 6\n", "x",
                                      "# variants of abcdef\na\t1\n",
                                      "# enginewright variants 2\n"};
  for (gsize i = 0; i < G_N_ELEMENTS(files); i++) {
    g_autoptr(GError) error = NULL;
    put(files[i], -1);
    assert_null(ew_vary_keep_open(path, &error));
    expect_refused(error, "another file", files[i]);
    g_autofree char *now = bytes();
    assert_string_equal(now, files[i]);
  }
  g_autoptr(GError) error = NULL;
  g_autofree char *folder = g_path_get_dirname(path);
  assert_null(ew_vary_keep_open(folder, &error));
  expect_refused(error, "--keep", "a folder");
  g_unlink(path);
  assert_int_equal(mkfifo(path, 0600), 0);
  g_clear_error(&error);
  assert_null(ew_vary_keep_open(path, &error));
  expect_refused(error, "regular", "a pipe");
}

/* Two at once: each sees what the other added, and no key is written twice. */
static void shared(void **state) {
  (void)state;
  struct ew_kept_file *one = opened(), *two = opened();
  add(one, "aa", 1);
  add(two, "aa", 1);
  add(two, "bb", 2);
  add(one, "bb", 2);
  add(one, "cc", 3);
  assert_non_null(found(one, "bb", 2));
  ew_kept_file_close(one);
  ew_kept_file_close(two);
  g_autofree char *text = bytes();
  g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
  assert_int_equal(g_strv_length(lines), 5); /* head, three, and what is behind the last newline */
}

/* Operations, not time. */
static void growth_is_linear(void **state) {
  (void)state;
  gint64 before = 0;
  for (int n = 100; n <= 10000; n *= 10) {
    g_unlink(path);
    struct ew_kept_file *keep = opened();
    for (int i = 0; i < n; i += 10) {
      struct ew_kept_row rows[10];
      char keys[10][16];
      double torque = 1;
      for (int k = 0; k < 10; k++) {
        g_snprintf(keys[k], sizeof keys[k], "key %d", i + k);
        assert_null(found(keep, keys[k], 1));
        rows[k] = (struct ew_kept_row){keys[k], "x", {.speeds = 1, .torque_n_m = &torque}};
      }
      assert_true(ew_vary_keep_add(keep, rows, 10, NULL));
    }
    struct ew_kept_counts counts = ew_kept_file_count(keep);
    assert_int_equal(counts.records, n);
    assert_int_equal(counts.look_ups, 3 * n); /* sought, new?, and read back into the table */
    assert_true(!before || counts.look_ups == 10 * before);
    before = counts.look_ups;
    ew_kept_file_close(keep);
  }
}

int main(void) {
#define TEST(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)
  const struct CMUnitTest tests[] = {TEST(found_again), TEST(torn_anywhere),
                                     TEST(left_alone),  TEST(somebody_elses_file),
                                     TEST(shared),      TEST(growth_is_linear)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
