/* What is read from a kept answer, and what of an answer that another program, or nobody, wrote. */
#include "desk/behind.h"
#include "unit.h"
#include <string.h>

static struct ew_behind *read_one(const char *question, const char *pulls, const char *json) {
  char *texts[3] = {g_strdup(question), g_strdup(pulls), g_strdup(json)};
  const struct ew_verdict_row row = {.question = texts[0], .pulls = texts[1], .json = texts[2]};
  struct ew_behind *b = ew_behind_read(&row);
  for (int i = 0; i < 3; i++)
    g_free(texts[i]);
  return b;
}

static const struct ew_behind_pull *pull_at(const struct ew_behind *b, guint i) {
  assert_true(i < b->pulls->len);
  return &g_array_index(b->pulls, struct ew_behind_pull, i);
}

static void a_comparison(void **state) {
  (void)state;
  g_autoptr(ew_behind) b = read_one(
      "compare", "5,7:6",
      "{\"weights\": [{\"side\": \"a\", \"pull\": 5, \"position\": 0, \"weight\": -0.5},"
      " {\"side\": \"b\", \"pull\": 6, \"position\": 1, \"weight\": 1},"
      " {\"side\": \"a\", \"pull\": null, \"position\": 2, \"weight\": -0.5}],"
      " \"notes\": [{\"id\": \"test.note\", \"arguments\": {}}],"
      " \"whole_day\": {\"says\": {\"id\": \"test.day\", \"arguments\": {}}, \"notes\": []},"
      " \"next\": {\"says\": {\"id\": \"test.next\", \"arguments\": {}}, \"why\": []}}");
  assert_true(b->a->len == 2 && b->b->len == 1 && b->pulls->len == 3 && !b->is_sweep);
  assert_true(pull_at(b, 1)->id == 6 && pull_at(b, 1)->side == 1 && pull_at(b, 2)->id == 0);
  assert_true(b->notes->len == 1 && b->day && b->next && b->assumed->len == 0);
  g_autofree char *weights = ew_behind_weights(b);
  assert_string_equal(weights, "A 5 -0.50; B 6 +1.00; A -0.50");
}

/* An earlier program told what it weighed and took out of a difference that it refused. */
static void a_refusal(void **state) {
  (void)state;
  static const char *const verdicts[] = {"not comparable", "same"};
  for (gsize i = 0; i < G_N_ELEMENTS(verdicts); i++) {
    g_autofree char *json = g_strdup_printf(
        "{\"verdict\": \"%s\","
        " \"weights\": [{\"side\": \"a\", \"pull\": 5, \"position\": 0, \"weight\": -1}],"
        " \"notes\": [{\"id\": \"judge.conditions-differ\", \"arguments\": {}},"
        " {\"id\": \"test.note\", \"arguments\": {}}]}",
        verdicts[i]);
    g_autoptr(ew_behind) b = read_one("compare", "5:6", json);
    expect(b->pulls->len == i && b->notes->len == 1 + i, verdicts[i], "%u pulls, %u notes",
           b->pulls->len, b->notes->len);
  }
}

static void a_sweep(void **state) {
  (void)state;
  g_autoptr(ew_behind) b =
      read_one("spark sweep", "8,9,10:",
               "{\"pulls\": {\"setting\": [26, 28, 30],"
               " \"moves_best_by_per_cent\": [-0.41, 0.02, null]},"
               " \"narrowing\": {\"id\": \"test.narrow\", \"arguments\": {}},"
               " \"narrowing_costs\": [{\"id\": \"test.cost\", \"arguments\": {}}]}");
  assert_true(b->is_sweep && b->pulls->len == 3 && b->next && b->next_why->len == 1);
  expect_near(pull_at(b, 1)->setting, 28, 0, "its setting");
  g_autofree char *weights = ew_behind_weights(b);
  assert_string_equal(weights, "8 at 26.0: -0.41; 9 at 28.0: +0.02");
}

/* Of an earlier program, cut short, or of nobody: what can be read is, the rest is left out. */
static void whatever_stands_there(void **state) {
  (void)state;
  static const char *const rows[] = {
      NULL,
      "",
      "{",
      "[]",
      "7",
      "{\"weights\": 7, \"notes\": {}, \"whole_day\": [], \"next\": \"x\"}",
      "{\"weights\": [7, null, [], {\"side\": \"c\", \"pull\": \"x\", \"weight\": \"heavy\"}]}",
      "{\"weights\": [{\"side\": null, \"pull\": -4, \"weight\": 1e999}]}",
      "{\"weights\": [{\"side\": [], \"pull\": 1e300, \"weight\": {}}]}",
      "{\"pulls\": {\"setting\": 3, \"moves_best_by_per_cent\": [1]}}",
      "{\"notes\": [{\"id\": 3}, {}, null, {\"id\": \"x\", \"arguments\": []}]}",
  };
  static const char *const questions[] = {"compare", "spark sweep", "mixture sweep", "step-up",
                                          "something else"};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++)
    for (gsize k = 0; k < G_N_ELEMENTS(questions); k++) {
      g_autoptr(ew_behind) b = read_one(questions[k], k % 2 ? "" : "1,2:x3", rows[i]);
      g_autoptr(GPtrArray) texts = ew_behind_texts(b, EW_UNITS_US);
      struct ew_json json = {.text = g_string_new(NULL)};
      ew_json_open(&json, NULL);
      ew_behind_write_json(b, EW_UNITS_SI, &json);
      ew_json_close(&json);
      assert_true(texts && json.text->len > 20);
      for (guint p = 0; p < b->pulls->len; p++)
        assert_true(pull_at(b, p)->id >= 0 && pull_at(b, p)->side >= -1 && pull_at(b, p)->side < 2);
      g_string_free(json.text, TRUE);
    }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(a_comparison), cmocka_unit_test(a_refusal),
                                     cmocka_unit_test(a_sweep),
                                     cmocka_unit_test(whatever_stands_there)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
