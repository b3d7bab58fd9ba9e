#include "base/node.h"
#include "unit.h"
#include <glib/gstdio.h>

static void a_tree(void **state) {
  (void)state;
  const char *text = "# a comment\nname: \"a: b\"\nbore: 86 mm\nlist: [1, two, {x: 3}]\n"
                     "group:\n  inner: yes\n  empty:\n";
  g_autoptr(GError) error = NULL;
  g_autoptr(ew_node) root = ew_node_parse("file", text, strlen(text), &error);
  assert_non_null(root);
  assert_int_equal(root->kind, EW_NODE_MAP);
  const struct ew_node *name = ew_node_member(root, "name"), *list = ew_node_member(root, "list");
  assert_string_equal(name->text, "a: b");
  assert_true(name->quoted && name->line == 2);
  assert_false(ew_node_member(root, "bore")->quoted);
  assert_int_equal(list->children->len, 3);
  assert_string_equal(((struct ew_node *)list->children->pdata[1])->text, "two");
  const struct ew_node *group = ew_node_member(root, "group");
  assert_string_equal(ew_node_member(group, "inner")->text, "yes");
  assert_string_equal(ew_node_member(group, "empty")->text, "");
  assert_null(ew_node_member(root, "inner"));
  assert_null(ew_node_member(name, "x"));
  assert_null(ew_node_member(NULL, "x"));
}

static char *levels(int depth) {
  GString *text = g_string_new("a: ");
  for (int i = 0; i < depth; i++)
    g_string_append_c(text, '[');
  for (int i = 0; i < depth; i++)
    g_string_append_c(text, ']');
  return g_string_free(text, FALSE);
}

static void refusals(void **state) {
  (void)state;
  g_autofree char *deep = levels(33), *abyss = levels(100000);
  g_autofree char *wide = g_malloc(600003);
  memset(wide, 0, 600003);
  memset(wide, '[', 1);
  for (int i = 1; i < 600000; i += 2)
    memcpy(wide + i, "1,", 2);
  strcat(wide, "]");
  const struct {
    const char *says, *text, *words;
  } rows[] = {
      {"an empty file", "", "file|empty"},
      {"a comment alone", "# nothing\n", "empty"},
      {"33 levels", deep, "32 levels"},
      {"100,000 levels", abyss, "32 levels"},
      {"an alias", "a: &x 1\nb: *x\n", "line 1|anchors"},
      {"an alias alone", "b: *x\n", "alias"},
      {"a tag", "a: !!binary aGk=\n", "line 1|tags"},
      {"a tag of a map", "a: !x {b: 1}\n", "tags"},
      {"a merge key", "a: {b: 1}\nc:\n  <<: *a\n", "alias"},
      {"a key twice", "a: 1\nb: 2\na: 3\n", "line 3|'a'|given twice"},
      {"a list as a key", "[1, 2]: 3\n", "key"},
      {"a map as a key", "? {a: 1}\n: 3\n", "key"},
      {"two documents", "a: 1\n---\nb: 2\n", "second document"},
      {"a tab that indents", "a:\n\tb: 1\n", "not valid YAML|line 2"},
      {"a bracket left open", "a: [1, 2\n", "not valid YAML"},
      {"a quote left open", "a: \"x\n", "not valid YAML"},
      {"200,001 values", wide, "200,000"},
      {"control characters", "a: \x01\n", "not valid YAML"},
      {"bytes that are no UTF-8", "a: \xc3\x28\n", "not valid YAML"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GError) error = NULL;
    g_autoptr(ew_node) root = ew_node_parse("file", rows[i].text, strlen(rows[i].text), &error);
    expect(root == NULL, rows[i].says, "a tree");
    expect_refused(error, rows[i].words, rows[i].says);
  }
  g_autoptr(GError) error = NULL;
  assert_null(ew_node_parse("file", "a: \"\\0\"\n", 8, &error));
  expect_refused(error, "NUL", "a NUL byte by its escape");
}

static void exactly_32_levels(void **state) {
  (void)state;
  g_autofree char *text = levels(32);
  g_autoptr(GError) error = NULL;
  g_autoptr(ew_node) root = ew_node_parse("file", text, strlen(text), &error);
  expect(root != NULL, "32 levels are read", "%s", error ? error->message : "");
}

/* A key of 120 bytes is the longest. */
static void long_keys(void **state) {
  (void)state;
  for (gsize length = 119; length <= 121; length++) {
    g_autofree char *key = g_strnfill(length, 'k'), *text = g_strconcat(key, ": 1\n", NULL);
    g_autoptr(GError) error = NULL;
    g_autoptr(ew_node) root = ew_node_parse("file", text, strlen(text), &error);
    expect((root != NULL) == (length <= 120), "keys up to 120 bytes", "%zu: %s", length,
           error ? error->message : "read");
    if (!root)
      expect_refused(error, "line 1|short plain word", "a key of 121 bytes");
    else
      assert_string_equal(ew_node_member(root, key)->text, "1");
  }
}

static void files(void **state) {
  (void)state;
  g_autofree char *folder = g_dir_make_tmp("ew-node-XXXXXX", NULL);
  g_autofree char *path = g_build_filename(folder, "big.yaml", NULL);
  g_autofree char *big = g_strnfill((4u << 20) + 1, ' ');
  memcpy(big, "a: 1\n", 5);
  assert_true(g_file_set_contents(path, big, (gssize)strlen(big), NULL));
  g_autoptr(GError) error = NULL;
  assert_null(ew_node_read(path, &error));
  expect_refused(error, "big.yaml|4 MB", "more than 4 MB");
  g_clear_error(&error);
  assert_true(g_file_set_contents(path, big, 4 << 20, NULL));
  g_autoptr(ew_node) root = ew_node_read(path, &error);
  expect(root != NULL, "4 MB are read", "%s", error ? error->message : "");
  assert_null(ew_node_read(folder, &error));
  expect_refused(error, "not a regular file", "a folder");
  g_clear_error(&error);
  g_unlink(path);
  assert_null(ew_node_read(path, &error));
  expect_refused(error, "big.yaml|No such file", "a missing file");
  g_rmdir(folder);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(a_tree), cmocka_unit_test(refusals),
                                     cmocka_unit_test(exactly_32_levels),
                                     cmocka_unit_test(long_keys), cmocka_unit_test(files)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
