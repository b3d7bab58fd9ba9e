/* What the tests of this folder share: comparing doubles, and an engine from YAML text. */
#pragma once
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <math.h>
#include <string.h>
#include "engine/engine.h"

static inline void near_at(double got, double want, double tolerance, const char *what,
                           const char *file, int line) {
  if (!(fabs(got - want) <= tolerance)) {
    print_error("%s: got %.10g, wanted %.10g within %.3g\n", what, got, want, tolerance);
    _fail(file, line);
  }
}
#define assert_near(got, want, tolerance) near_at(got, want, tolerance, #got, __FILE__, __LINE__)
#define assert_relative(got, want, part)                                                           \
  near_at(got, want, fabs((double)(want)) * (part), #got, __FILE__, __LINE__)
#define assert_true_says(truth, says)                                                              \
  do {                                                                                             \
    if (!(truth)) {                                                                                \
      print_error("%s\n", says);                                                                   \
      _fail(__FILE__, __LINE__);                                                                   \
    }                                                                                              \
  } while (0)

/* The engine of a YAML text; the test fails when it is refused. Clear it with ew_engine_clear. */
static inline struct ew_engine engine_of(const char *yaml) {
  g_autoptr(GError) error = NULL;
  struct ew_engine engine;
  g_autoptr(ew_node) tree = ew_node_parse("test", yaml, strlen(yaml), &error);
  assert_true_says(tree && ew_engine_read(tree, "test", &engine, &error),
                   error ? error->message : "no tree");
  return engine;
}
