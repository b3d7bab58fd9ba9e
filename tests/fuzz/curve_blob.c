/* Any bytes as a stored curve: a curve that reads back to itself, or nothing. */
#include "book/curve_blob.h"
#include <stdint.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  struct ew_curve *curve = ew_curve_from_bytes(data, size);
  if (!curve)
    return 0;
  g_autoptr(GBytes) bytes = ew_curve_to_bytes(curve);
  g_assert(ew_curve_has_bytes(curve, bytes));
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  ew_curve_write_json(curve, &json);
  ew_json_close(&json);
  g_string_free(json.text, TRUE);
  ew_curve_free(curve);
  return 0;
}
