#include "base/json_writer.h"
#include "unit.h"

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

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(a_document)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
