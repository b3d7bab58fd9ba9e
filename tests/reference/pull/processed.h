/* A table of steady points through the program's one path, for the tests of this folder. */
#pragma once
#include "../near.h"
#include "pull/process.h"

/* Ends the test when the bytes are refused. Engine, set-up and map may be NULL. */
static inline struct ew_processed *processed_with(const char *text, const struct ew_method *method,
                                                  const struct ew_engine *engine,
                                                  const struct ew_setup *setup,
                                                  const struct ew_channel_map *map) {
  g_autoptr(GError) error = NULL;
  struct ew_bench bench;
  ew_bench_defaults(&bench);
  struct ew_reduce_facts facts = {method, &bench, engine, setup};
  struct ew_processed *processed = ew_process(text, strlen(text), "table", map, &facts, &error);
  assert_true_says(processed != NULL, error ? error->message : "no message");
  ew_fields_clear(&ew_bench_fields, &bench);
  return processed;
}

static inline struct ew_processed *processed_as_observed(const char *text,
                                                         const struct ew_channel_map *map) {
  struct ew_method method;
  ew_method_defaults(&method);
  method.standard = EW_STANDARD_NONE;
  return processed_with(text, &method, NULL, NULL, map);
}

static inline const struct ew_curve *only_curve(const struct ew_processed *processed) {
  assert_int_equal(processed->curves->len, 1);
  return g_ptr_array_index(processed->curves, 0);
}
