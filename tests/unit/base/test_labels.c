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

static void what_is_left(void **state) {
  (void)state;
  static const struct {
    const char *text, *want;
  } rows[] = {{"Inlet's centreline; INLET", "Intake's centerline; INTAKE"},
              {"cam.inlet_duration: 'petrol' is none", "cam.inlet_duration: 'petrol' is none"},
              {"--inlet-lash, lash_inlet=0.2, inlet=3", "--inlet-lash, lash_inlet=0.2, inlet=3"},
              {"petrolhead, decentre, inletted", "petrolhead, decentre, inletted"},
              {"(inlet) inlet/exhaust", "(intake) intake/exhaust"},
              {"\xc3\xa9inlet inlet\xc3\xa9", "\xc3\xa9inlet inlet\xc3\xa9"},
              {"", ""}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autofree char *got = ew_labels_put(rows[i].text, EW_LABELS_AMERICAN);
    expect(strcmp(got, rows[i].want) == 0, rows[i].text, "%s", got);
  }
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
                                     cmocka_unit_test(what_is_left), cmocka_unit_test(names)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
