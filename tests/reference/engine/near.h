/* What the tests of this folder share: comparing doubles, and an engine from YAML text. */
#pragma once
#include "../near.h"
#include "engine/engine.h"

/* The engine of a YAML text; the test fails when it is refused. Clear it with ew_engine_clear. */
static inline struct ew_engine engine_of(const char *yaml) {
  g_autoptr(GError) error = NULL;
  struct ew_engine engine;
  g_autoptr(ew_node) tree = ew_node_parse("test", yaml, strlen(yaml), &error);
  assert_true_says(tree && ew_engine_read(tree, "test", &engine, &error),
                   error ? error->message : "no tree");
  return engine;
}
