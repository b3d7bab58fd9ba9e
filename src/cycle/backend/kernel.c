/* Which set of vector kernels runs: the widest that this machine has, or the one that ENGINEWRIGHT_SIMD names; a
 * name that isn't there is refused. All sets give the same bits. */
#include "cycle/backend/kernel.h"
#include "base/cpu.h"
#include <string.h>

extern const struct ew_kernel ew_kernel_set_base;
extern const struct ew_kernel ew_kernel_set_single_base;
#ifdef EW_HAVE_LEVELS
extern const struct ew_kernel ew_kernel_set_avx2, ew_kernel_set_avx512;
extern const struct ew_kernel ew_kernel_set_single_avx2, ew_kernel_set_single_avx512;
#elif defined(EW_HAVE_NEON)
extern const struct ew_kernel ew_kernel_set_neon;
#endif

static const struct ew_kernel *widest_single(void) {
#ifdef EW_HAVE_LEVELS
  if (ew_cpu_has_avx512())
    return &ew_kernel_set_single_avx512;
  if (ew_cpu_has_avx2())
    return &ew_kernel_set_single_avx2;
#endif
  return &ew_kernel_set_single_base;
}

/* Best last. */
static int available(const struct ew_kernel **found) {
  int n = 0;
  found[n++] = &ew_kernel_set_base;
#ifdef EW_HAVE_LEVELS
  if (ew_cpu_has_avx2())
    found[n++] = &ew_kernel_set_avx2;
  if (ew_cpu_has_avx512())
    found[n++] = &ew_kernel_set_avx512;
#elif defined(EW_HAVE_NEON)
  found[n++] = &ew_kernel_set_neon;
#endif
  return n;
}

const struct ew_kernel *ew_kernel_named(const char *name) {
  const struct ew_kernel *found[3];
  if (strcmp(name, "single") == 0)
    return widest_single();
  int n = available(found);
  for (int i = 0; i < n; i++)
    if (strcmp(found[i]->name, name) == 0)
      return found[i];
  return NULL;
}
