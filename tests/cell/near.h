/* What the tests of this folder share. */
#pragma once
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <math.h>
#include <string.h>

static inline void near_at(double got, double want, double tolerance, const char *what,
                           const char *file, int line) {
  if (!(fabs(got - want) <= tolerance)) {
    print_error("%s: got %.10g, wanted %.10g within %.3g\n", what, got, want, tolerance);
    _fail(file, line);
  }
}
#define assert_near(got, want, tolerance) near_at(got, want, tolerance, #got, __FILE__, __LINE__)
