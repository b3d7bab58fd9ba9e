/* What this machine's processor can do, asked feature by feature: clang 14 knows no levels by name.
 * FALSE on other machines than x86-64. */
#pragma once
#include <glib.h>

static inline gboolean ew_cpu_has_avx2(void) {
#ifdef __x86_64__
  return __builtin_cpu_supports("avx2") && __builtin_cpu_supports("bmi") &&
         __builtin_cpu_supports("bmi2") && __builtin_cpu_supports("fma");
#else
  return FALSE;
#endif
}

static inline gboolean ew_cpu_has_avx512(void) {
#ifdef __x86_64__
  return ew_cpu_has_avx2() && __builtin_cpu_supports("avx512f") &&
         __builtin_cpu_supports("avx512bw") && __builtin_cpu_supports("avx512cd") &&
         __builtin_cpu_supports("avx512dq") && __builtin_cpu_supports("avx512vl");
#else
  return FALSE;
#endif
}
