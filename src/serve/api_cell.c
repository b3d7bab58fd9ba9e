/* The cell's record, from the page: inertias, arm, the absorber's plate. It holds for pulls to come; those that were
 * run with a wrong one are amended (`cell amend`). */
#include "base/error.h"
#include "book/keep.h"
#include "desk/sets.h"
#include "serve/service.h"

gboolean ew_api_cell(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                     GError **error) {
  struct ew_desk desk = {0};
  (void)r;
  if (!ew_desk_open(&desk, s->book, error)) {
    ew_desk_clear(&desk);
    return FALSE;
  }
  ew_json_open_array(&reply->json, "groups");
  ew_service_write_fields("cell", "Cell", &ew_bench_fields, &reply->json);
  ew_json_close_array(&reply->json);
  ew_json_open(&reply->json, "typed");
  for (gsize i = 0; i < ew_bench_fields.count; i++) {
    g_autofree char *value = ew_field_typed(&ew_bench_fields.fields[i], &desk.bench);
    if (value)
      ew_json_text(&reply->json, ew_bench_fields.fields[i].name, value);
  }
  ew_json_close(&reply->json);
  ew_desk_clear(&desk);
  return TRUE;
}

/* "arm=400 mm" of each that is typed; NULL with *error. */
static char **sets_of(const ew_node *body, GError **error) {
  const struct ew_node *typed = ew_node_member(body, "typed");
  if (!typed || typed->kind != EW_NODE_MAP || typed->children->len == 0) {
    ew_refuse(error, "typed: write {\"arm\": \"400 mm\"}");
    return NULL;
  }
  g_autoptr(GPtrArray) sets = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < typed->children->len; i++) {
    const struct ew_node *one = typed->children->pdata[i];
    if (!one->text) {
      ew_refuse(error, "typed: '%.40s' needs a text, for example \"400 mm\"", one->key);
      return NULL;
    }
    g_ptr_array_add(sets, g_strdup_printf("%s=%s", one->key, one->text));
  }
  g_ptr_array_add(sets, NULL);
  return (char **)g_ptr_array_free(g_steal_pointer(&sets), FALSE);
}

gboolean ew_api_cell_put(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                         GError **error) {
  struct ew_desk desk = {0};
  g_autoptr(ew_node) body = ew_request_json(r, error);
  g_auto(GStrv) sets = body ? sets_of(body, error) : NULL;
  gboolean good =
      sets && ew_desk_open(&desk, s->book, error) &&
      ew_apply_record_sets(&ew_bench_fields, &desk.bench, (const char *const *)sets, error);
  g_autofree char *yaml = good ? ew_fields_write_yaml(&ew_bench_fields, &desk.bench) : NULL;
  const struct ew_setting one = {.key = "cell", .value = yaml};
  good = good && ew_keep_settings(s->book, &one, 1, error);
  ew_desk_clear(&desk);
  reply->changed = good;
  return good;
}
