#include "base/labels.h"
#include "unit.h"

static char *with_case(const char *word, int how) {
  if (how == 2)
    return g_ascii_strup(word, -1);
  char *text = g_strdup(word);
  if (how == 1)
    text[0] = g_ascii_toupper(text[0]);
  return text;
}

static void every_pair_goes_there_and_back(void **state) {
  (void)state;
  for (gsize i = 0; i < ew_label_pairs_count; i++)
    for (int how = 0; how < 3; how++) {
      g_autofree char *british = with_case(ew_label_pairs[i].word[EW_LABELS_BRITISH], how),
                      *american = with_case(ew_label_pairs[i].word[EW_LABELS_AMERICAN], how),
                      *one = g_strdup_printf("the %s, then", british),
                      *other = g_strdup_printf("the %s, then", american),
                      *there = ew_labels_put(one, EW_LABELS_AMERICAN),
                      *back = ew_labels_put(there, EW_LABELS_BRITISH),
                      *again = ew_labels_put(there, EW_LABELS_AMERICAN);
      expect(strcmp(there, other) == 0, one, "%s", there);
      expect(strcmp(back, one) == 0, other, "%s", back);
      expect(strcmp(again, there) == 0, there, "put twice: %s", again);
    }
}

/* tests/unit/base/label_cases.txt: a text and what it becomes, apart by a tab. The page is held to the same. */
static void shared_cases(void **state) {
  (void)state;
  g_autofree char *path = g_build_filename(g_getenv("EW_UNIT_DATA"), "label_cases.txt", NULL),
                  *text = NULL;
  assert_true(g_file_get_contents(path, &text, NULL, NULL));
  g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
  int count = 0;
  for (int i = 0; lines[i]; i++) {
    g_auto(GStrv) row = g_strsplit(lines[i], "\t", 2);
    if (!row[0] || !row[1] || lines[i][0] == '#')
      continue;
    g_autofree char *got = ew_labels_put(row[0], EW_LABELS_AMERICAN);
    expect(strcmp(got, row[1]) == 0, row[0], "%s", got);
    count++;
  }
  assert_true(count >= 15);
}

static void what_is_no_text(void **state) {
  (void)state;
  g_autofree char *broken = ew_labels_put("\xffinlet inlet\xff inlet", EW_LABELS_AMERICAN),
                  *none = ew_labels_put("", EW_LABELS_AMERICAN);
  assert_string_equal(broken, "\xffinlet inlet\xff intake");
  assert_string_equal(none, "");
}

static void names(void **state) {
  (void)state;
  enum ew_labels labels;
  assert_true(ew_labels_find("american", &labels) && labels == EW_LABELS_AMERICAN);
  assert_true(ew_labels_find("british", &labels) && labels == EW_LABELS_BRITISH);
  assert_true(ew_labels_find(NULL, &labels) && labels == EW_LABELS_BRITISH);
  assert_false(ew_labels_find("scots", &labels));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(every_pair_goes_there_and_back),
                                     cmocka_unit_test(shared_cases),
                                     cmocka_unit_test(what_is_no_text), cmocka_unit_test(names)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
