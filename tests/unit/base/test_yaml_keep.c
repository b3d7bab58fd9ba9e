/* A YAML text changed in place: values follow, remarks stay. Each result is read again by ew_node, which
 * stands on libyaml. */
#include "base/yaml_keep.h"
#include "unit.h"

static void rows(void **state) {
  (void)state;
  const struct {
    const char *says, *text, *wanted,
        *becomes; /* becomes NULL: only meaning and remarks are looked at */
  } rows[] = {
      {"nothing changes", "# a\nbore: 86 mm # b\n", "bore: 86 mm\n", "# a\nbore: 86 mm # b\n"},
      {"a value", "bore: 86 mm   # measured hot\n", "bore: 87 mm\n",
       "bore: 87 mm   # measured hot\n"},
      {"a value of another unit", "bore: 86 mm # x\n", "bore: 3.4\"\n", "bore: \"3.4\\\"\" # x\n"},
      {"letters that are no ASCII before it", "name: Größe µ # ä\nbore: 86 mm # ö\n",
       "name: Größe µ\nbore: 87 mm\n", "name: Größe µ # ä\nbore: 87 mm # ö\n"},
      {"a group", "cam: # own\n  lift: 9 mm # at the valve\n  # below\nbore: 1 mm\n",
       "cam: {lift: 10 mm}\nbore: 1 mm\n",
       "cam: # own\n  lift: 10 mm # at the valve\n  # below\nbore: 1 mm\n"},
      {"a new field", "cam:\n  lift: 9 mm # r\nbore: 1 mm\n",
       "cam: {lift: 9 mm, lobe: x}\nbore: 1 mm\nfuel: E85\n",
       "cam:\n  lift: 9 mm # r\n  lobe: \"x\"\nbore: 1 mm\nfuel: \"E85\"\n"},
      {"a new group", "bore: 1 mm", "bore: 1 mm\ncam: {lift: 9 mm}\n",
       "bore: 1 mm\ncam:\n  lift: \"9 mm\""},
      {"a field that goes", "a: 1\nb: 2\nc: 3\n", "a: 1\nc: 3\n", "a: 1\nc: 3\n"},
      {"its remark stays", "a: 1\nb: 2 # why\nc: 3\n", "a: 1\nc: 3\n", NULL},
      {"a group that goes, with its remarks", "a: 1\ng: # own\n  x: 1 # one\n  # two\n  y: 2\n",
       "a: 1\n", NULL},
      {"a list", "l: [1, 2] # cc\n", "l: [1, 3]\n", "l: [\"1\", \"3\"] # cc\n"},
      {"a list with remarks inside", "l:\n  - 1 # one\n  - 2 # two\nz: 1\n", "l: [1, 3]\nz: 1\n",
       NULL},
      {"a # in a text", "n: \"a # b\" # c\nm: x#y # d\n", "n: e\nm: x#y\n",
       "n: e # c\nm: x#y # d\n"},
      {"an empty value", "a: # later\nb: 1\n", "a: 5\nb: 1\n", NULL},
      {"a value that empties", "a: 5 # now\nb: 1\n", "a: \"\"\nb: 1\n", "a: \"\" # now\nb: 1\n"},
      {"a text of lines", "a: |\n  one # no remark\n  two\nb: 1 # r\n", "a: short\nb: 1\n", NULL},
      {"a map in brackets", "c: {x: 1, y: 2} # r\n", "c: {x: 3}\n", "c: {x: \"3\"} # r\n"},
      {"all in brackets", "{a: 1} # r\n", "a: 2\n", NULL},
      {"no YAML at all", "a: [ # r\n", "a: 2\n", NULL},
      {"a group becomes a text", "a:\n  x: 1 # r\nb: 2\n", "a: z\nb: 2\n", NULL},
      {"the same remark twice", "a: 1 # r\nb: 2 # r\n", "a: 3\n", NULL},
      {"ends of line of another system", "a: 1 # r\r\nb: 2\r\n", "a: 3\r\nb: 2\r\n", NULL},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(ew_node) wanted =
        ew_node_parse("wanted", rows[i].wanted, strlen(rows[i].wanted), NULL);
    assert_non_null(wanted);
    g_autofree char *kept = ew_yaml_keep(rows[i].text, wanted);
    g_autoptr(ew_node) read = ew_node_parse("kept", kept, strlen(kept), NULL);
    expect(ew_node_equal(read, wanted), rows[i].says, "%s", kept);
    if (rows[i].becomes)
      expect(strcmp(kept, rows[i].becomes) == 0, rows[i].says, "%s", kept);
  }
}

/* Every remark, wherever it stood, after every way of changing: counted by its own word. */
static void no_remark_is_lost(void **state) {
  (void)state;
  const char *text = "# r0\na: 1 # r1\ng: # r2\n  x: 1 # r3\n  # r4\n  y: [1, # r5\n    2] # r6\n"
                     "l: # r7\n  - 1 # r8\n  - 2\n# r9\n";
  const char *wanted[] = {"a: 2\n",        "g: {x: 2, y: [1]}\n",   "l: [3]\n",
                          "a: 1\nl: []\n", "g: {z: 1}\nnew: yes\n", "other: {b: c}\n",
                          "a: [1]\ng: 1\n"};
  for (gsize i = 0; i < G_N_ELEMENTS(wanted); i++) {
    g_autoptr(ew_node) node = ew_node_parse("wanted", wanted[i], strlen(wanted[i]), NULL);
    g_autofree char *kept = ew_yaml_keep(text, node);
    g_autoptr(ew_node) read = ew_node_parse("kept", kept, strlen(kept), NULL);
    expect(ew_node_equal(read, node), wanted[i], "%s", kept);
    for (int r = 0; r < 10; r++) {
      g_autofree char *word = g_strdup_printf("# r%d", r);
      expect(strstr(kept, word) != NULL, word, "%s", kept);
    }
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(rows), cmocka_unit_test(no_remark_is_lost)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
