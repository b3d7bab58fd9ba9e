/* A desk is shared: a file that is added is read with a copy of it. */
#include "unit.h"
#include "desk/add.h"
#include <glib/gstdio.h>

static void adding_leaves_the_desk_as_it_was(void **state) {
  (void)state;
  g_autoptr(GError) error = NULL;
  g_autofree char *folder = g_dir_make_tmp("enginewright-desk-XXXXXX", NULL);
  g_autofree char *path = g_build_filename(folder, "shop.book", NULL);
  struct ew_book *book = ew_book_open(path, TRUE, &error);
  expect(book, "a book is made", "%s", error ? error->message : "");
  struct ew_desk desk;
  assert_true(ew_desk_open(&desk, book, &error));
  GString *text = g_string_new("Time [s],RPM,Load [N·m]\n");
  for (int i = 0; i < 50; i++)
    g_string_append_printf(text, "%d,%d,%d\n", i, 1000 + i % 3, 10 + i % 2);
  g_autoptr(GBytes) bytes = g_string_free_to_bytes(text);
  const char *const sets[] = {"spark=30 deg", NULL};
  struct ew_method method = desk.method;
  method.standard = EW_STANDARD_NONE;
  struct ew_add_options options = {
      .sets = sets, .method = &method, .channel_map = "channels:\n  torque: {column: Load}\n"};
  struct ew_added added;
  gboolean good = ew_add_bytes(&desk, bytes, "one.csv", &options, &added, &error);
  expect(good, "the file is taken", "%s", error ? error->message : "");
  expect(isnan(desk.setup.spark_deg), "the desk's set-up stays its own", "%g",
         desk.setup.spark_deg);
  expect(desk.method.standard != EW_STANDARD_NONE, "so does its method", "%d",
         desk.method.standard);
  expect(!desk.channel_map, "and it has no channel map", "%s", desk.channel_map);
  ew_added_clear(&added);
  ew_desk_clear(&desk);
  ew_book_close(book);
  GDir *dir = g_dir_open(folder, 0, NULL);
  for (const char *name; (name = g_dir_read_name(dir));) {
    g_autofree char *one = g_build_filename(folder, name, NULL);
    g_unlink(one);
  }
  g_dir_close(dir);
  g_rmdir(folder);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(adding_leaves_the_desk_as_it_was)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
