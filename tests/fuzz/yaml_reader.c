/* Any text as each of the records that people write in YAML. */
#include "engine/engine.h"
#include "pull/bench.h"
#include "pull/channel_map.h"
#include "pull/method.h"
#include "pull/setup.h"
#include <stdint.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void read_records(const struct ew_node *root) {
  struct ew_engine engine;
  struct ew_setup setup;
  struct ew_method method;
  struct ew_bench bench;
  if (ew_engine_read(root, "fuzz", &engine, NULL))
    ew_engine_clear(&engine);
  if (ew_fields_read(&ew_setup_fields, root, "fuzz", NULL, &setup, NULL)) {
    g_autofree char *yaml = ew_fields_write_yaml(&ew_setup_fields, &setup);
    ew_setup_clear(&setup);
  }
  if (ew_fields_read(&ew_method_fields, root, "fuzz", NULL, &method, NULL))
    ew_fields_clear(&ew_method_fields, &method);
  if (ew_fields_read(&ew_bench_fields, root, "fuzz", NULL, &bench, NULL))
    ew_fields_clear(&ew_bench_fields, &bench);
  ew_channel_map_free(ew_channel_map_read(root, "fuzz", NULL));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  g_autoptr(GError) error = NULL;
  struct ew_node *root = ew_node_parse("fuzz", (const char *)data, size, &error);
  g_assert((root == NULL) == (error != NULL));
  if (root)
    read_records(root);
  ew_node_free(root);
  return 0;
}

/* udunits2 leaks a few bytes on a bad parse. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void) {
  return "leak:libudunits2\n";
}
