/* Any text as a quantity of any kind: refused with a message, or a finite figure. */
#include "base/units.h"
#include <math.h>
#include <stdint.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  if (size < 1)
    return 0;
  g_autofree char *text = g_strndup((const char *)data + 1, size - 1);
  double inside;
  g_autoptr(GError) error = NULL;
  enum ew_kind kind = (enum ew_kind)(data[0] % EW_KINDS_COUNT);
  gboolean good = ew_quantity_parse("field", text, kind, &inside, &error);
  g_assert(good == (error == NULL));
  g_assert(!good || isfinite(inside));
  struct ew_unit unit;
  if (ew_unit_recognise(text, &unit))
    g_assert(unit.kind < EW_KINDS_COUNT && isfinite(unit.scale));
  return 0;
}

/* udunits2 leaks a few bytes on a bad parse. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void) {
  return "leak:libudunits2\n";
}
