/* The table of backends, and which one is used. */
#include "base/error.h"
#include "cycle/backend/cpu.h"
#include "cycle/backend/opencl.h"
#include <string.h>

static gboolean always(void) {
  return TRUE;
}

/* All vector levels run the same source in the same order of operations: the same bits. */
#define CPU_LEVEL(level, possible)                                                                 \
  static const struct ew_cycle_backend level = {                                                   \
      #level, 0, possible, ew_cpu_open, ew_cpu_load, ew_cpu_step, ew_cpu_effort, ew_cpu_close};
CPU_LEVEL(base, always)
#ifdef EW_HAVE_LEVELS
static gboolean has_avx2(void) {
  return ew_kernel_named("avx2") != NULL;
}
static gboolean has_avx512(void) {
  return ew_kernel_named("avx512") != NULL;
}
CPU_LEVEL(avx2, has_avx2)
CPU_LEVEL(avx512, has_avx512)
#elif defined(EW_HAVE_NEON)
CPU_LEVEL(neon, always)
#endif

/* Cells and ends in single precision: for a search, which ranks. Of 360 runs of three engines torque was off by 2e-6 at most; a run that settles a cycle
 * earlier or later differs by what runs are settled to, 1e-3. */
#define SINGLE_TOLERANCE 1e-3
/* In vectors of the processor twice as wide (vector_single.h). */
static const struct ew_cycle_backend single = {
    "single",    SINGLE_TOLERANCE, always,        ew_cpu_open,
    ew_cpu_load, ew_cpu_step,      ew_cpu_effort, ew_cpu_close,
};

/* The processor's own sources, compiled for the device with contraction off: the same bits. */
static const struct ew_cycle_backend opencl = {"opencl",
                                               0,
                                               ew_opencl_here,
                                               ew_opencl_open,
                                               ew_opencl_load,
                                               ew_opencl_step,
                                               ew_opencl_effort,
                                               ew_opencl_close,
                                               ew_opencl_open_many,
                                               ew_opencl_step_many};

static const struct ew_cycle_backend opencl_single = {
    "opencl-single",     SINGLE_TOLERANCE,   ew_opencl_single_here, ew_opencl_open,
    ew_opencl_load,      ew_opencl_step,     ew_opencl_effort,      ew_opencl_close,
    ew_opencl_open_many, ew_opencl_step_many};

const struct ew_cycle_backend *const ew_cycle_backends[] = {&base,
#ifdef EW_HAVE_LEVELS
                                                            &avx2,   &avx512,
#elif defined(EW_HAVE_NEON)
                                                            &neon,
#endif
                                                            &single, &opencl, &opencl_single, NULL};

const struct ew_cycle_backend *ew_cycle_backend_named(const char *name) {
  for (int i = 0; ew_cycle_backends[i]; i++)
    if (strcmp(ew_cycle_backends[i]->name, name) == 0)
      return ew_cycle_backends[i]->here() ? ew_cycle_backends[i] : NULL;
  return NULL;
}

const struct ew_cycle_backend *ew_cycle_backend_choose(GError **error) {
  const char *wanted = g_getenv("ENGINEWRIGHT_SIMD");
  const struct ew_cycle_backend *best = NULL;
  g_autoptr(GString) names = g_string_new(NULL);
  for (int i = 0; ew_cycle_backends[i]; i++)
    if (!ew_cycle_backends[i]->step_many && ew_cycle_backends[i]->here()) {
      best = ew_cycle_backends[i]->tolerance > 0 ? best : ew_cycle_backends[i];
      g_string_append_printf(names, "%s%s", names->len ? ", " : "", ew_cycle_backends[i]->name);
    }
  if (!wanted || !*wanted)
    return best;
  const struct ew_cycle_backend *backend = ew_cycle_backend_named(wanted);
  if (!backend && g_str_has_prefix(wanted, opencl.name))
    ew_refuse(error, "ENGINEWRIGHT_SIMD is '%s', but %s: set one of %s or unset it", wanted,
              ew_opencl_why_not(), names->str);
  else if (!backend)
    ew_refuse(error,
              "ENGINEWRIGHT_SIMD is '%s'; this machine can do %s: set one of these or unset it",
              wanted, names->str);
  return backend;
}
