/* Any bytes as a table and as a recording: no crash, no leak, no endless loop; counts must add up. */
#include "pull/process.h"
#include <stdint.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  struct ew_method method;
  struct ew_bench bench;
  ew_method_defaults(&method);
  ew_bench_defaults(&bench);
  struct ew_reduce_facts facts = {.method = &method, .bench = &bench};
  g_autoptr(GError) error = NULL;
  struct ew_processed *processed = ew_process(data, size, "fuzz", NULL, &facts, &error);
  g_assert((processed == NULL) == (error != NULL));
  if (processed) {
    g_assert(processed->curves->len == processed->segments->len);
    for (guint c = 0; c < processed->layout->columns->len; c++) {
      const struct ew_column *column = g_ptr_array_index(processed->layout->columns, c);
      g_assert(g_utf8_validate(column->name, -1, NULL));
    }
  }
  ew_processed_free(processed);
  ew_fields_clear(&ew_bench_fields, &bench);
  return 0;
}

/* udunits2 leaks a few bytes on a bad parse. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void) {
  return "leak:libudunits2\n";
}
