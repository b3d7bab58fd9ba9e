#include "base/json_writer.h"
#include "unit.h"
#include <math.h>

static void write_row(const void *row, struct ew_json *json) {
  ew_json_integer(json, "i", *(const gint64 *)row);
}

/* RFC 8259: strings 7, numbers 6. */
static void a_document(void **state) {
  (void)state;
  struct ew_json json = {.text = g_string_new(NULL)};
  const double figures[] = {1, 0.5, NAN};
  g_autoptr(GPtrArray) texts = g_ptr_array_new();
  g_ptr_array_add(texts, (gpointer) "a\tb");
  g_autoptr(GArray) rows = g_array_new(FALSE, FALSE, sizeof(gint64));
  const gint64 numbers[] = {0, 1};
  g_array_append_vals(rows, numbers, 2);
  ew_json_open(&json, NULL);
  ew_json_number(&json, "x", 0.1);
  ew_json_number(&json, "none", INFINITY);
  ew_json_integer(&json, "n", -7);
  ew_json_boolean(&json, "yes", TRUE);
  ew_json_text(&json, "t", "say \"5\\6\"\n\x01 N·m");
  ew_json_text(&json, "null", NULL);
  ew_json_numbers(&json, "list", figures, 3);
  ew_json_texts(&json, "texts", texts);
  ew_json_rows(&json, "rows", rows, write_row);
  ew_json_rows(&json, "no_rows", NULL, write_row);
  ew_json_open(&json, "empty");
  ew_json_close(&json);
  ew_json_close(&json);
  assert_string_equal(json.text->str,
                      "{\"x\":0.1,\"none\":null,\"n\":-7,\"yes\":true,"
                      "\"t\":\"say \\\"5\\\\6\\\"\\n\\u0001 N·m\",\"null\":null,"
                      "\"list\":[1,0.5,null],\"texts\":[\"a\\u0009b\"],"
                      "\"rows\":[{\"i\":0},{\"i\":1}],\"no_rows\":[],\"empty\":{}}");
  g_string_free(json.text, TRUE);
}

static void holds_to_printf(double value, int figures) {
  struct ew_json json = {.text = g_string_new(NULL), .figures = figures};
  char *wanted = g_strdup_printf("[%.*g]", figures, value); /* the tests run in the C locale */
  ew_json_numbers(&json, NULL, &value, 1);
  assert_string_equal(json.text->str, wanted);
  g_string_free(json.text, TRUE);
  g_free(wanted);
}

/* ISO C17 7.21.6.1: what %.Ng writes, byte for byte, whichever way it is made: edges, ties, and magnitudes at random. */
static void figures_are_those_of_printf(void **state) {
  (void)state;
  static const double edges[] = {0,
                                 -0.0,
                                 1,
                                 -1,
                                 0.1,
                                 0.01,
                                 0.001,
                                 1e-4,
                                 9.99999999e-5,
                                 0.5,
                                 2500,
                                 -6500.5,
                                 999999999,
                                 1e9,
                                 99999999.95,
                                 0.999999999,
                                 0.9999999996,
                                 9.5,
                                 1.5,
                                 0.25,
                                 1234.5,
                                 2.5e-4,
                                 1e22,
                                 123456.75,
                                 1.00000000049,
                                 1e300,
                                 5e-324,
                                 -1e-9,
                                 100000000.5};
  for (gsize i = 0; i < G_N_ELEMENTS(edges); i++)
    for (int figures = 1; figures <= 17; figures++)
      holds_to_printf(edges[i], figures);
  g_autoptr(GRand) random = g_rand_new_with_seed(20261201);
  for (int k = 0; k < 200000; k++) {
    double power = pow(10, g_rand_double_range(random, -7, 12));
    double value = g_rand_double_range(random, -1, 1) * power;
    if (k % 3 == 0) /* as rounded figures are, where the digits end in noughts or in a five */
      value = round(value * 1e3) / 1e3;
    holds_to_printf(value, k % 2 ? 9 : 1 + k % 12);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(a_document),
                                     cmocka_unit_test(figures_are_those_of_printf)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
