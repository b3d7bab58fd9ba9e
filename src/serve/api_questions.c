/* The questions: was that better, where is the best setting, may the limit go up? */
#include "base/error.h"
#include "base/number.h"
#include "desk/question.h"
#include "serve/service.h"
#include <math.h>
#include <string.h>

static GPtrArray *pulls_new(void) {
  return g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
}

gboolean ew_service_load_list(const struct ew_desk *desk, const struct ew_node *body,
                              const char *key, GPtrArray *into, GError **error) {
  const struct ew_node *list = ew_node_member(body, key);
  if (!list || list->kind != EW_NODE_LIST || list->children->len == 0)
    return ew_refuse(error, "%s: give a list of pull numbers, for example [12, 14]", key);
  if (list->children->len > 60)
    return ew_refuse(error, "%s: more than 60 pulls", key);
  for (guint i = 0; i < list->children->len; i++) {
    const struct ew_node *item = g_ptr_array_index(list->children, i);
    if (!item->text || strchr(item->text, ',') || !ew_service_load(desk, item->text, into, error))
      return item->text && !strchr(item->text, ',')
                 ? FALSE
                 : ew_refuse(error, "%s: give pull numbers", key);
  }
  return TRUE;
}

static gboolean read_share(const struct ew_node *body, const char *key, double otherwise,
                           double *value, GError **error) {
  const struct ew_node *node = ew_node_member(body, key);
  *value = otherwise;
  if (!node)
    return TRUE;
  gboolean good = node->kind == EW_NODE_SCALAR &&
                  (node->number ? ew_number_parse(node->text, value)
                                : ew_quantity_parse(key, node->text, EW_KIND_RATIO, value, error));
  if (good && *value >= 0 && *value <= 0.2)
    return TRUE;
  g_clear_error(error);
  return ew_refuse(error, "%s: give a share from 0 to 20 %%", key);
}

/* "despite": what may differ on purpose, "engine,cell". */
static gboolean read_despite(const struct ew_node *body, guint *despite, GError **error) {
  const char *text = ew_node_text(body, "despite");
  return !text || ew_despite_read(text, despite, error);
}

static gboolean keeps(const struct ew_node *body) {
  return g_strcmp0(ew_node_text(body, "keep"), "yes") == 0;
}

gboolean ew_api_compare(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                        GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body)
    return FALSE;
  g_autoptr(GPtrArray) a = pulls_new(), b = pulls_new();
  struct ew_desk desk = {0};
  struct ew_question_options q = {.level = -1,
                                  .band_low_rpm = NAN,
                                  .band_high_rpm = NAN,
                                  .keep = keeps(body),
                                  .rested = g_strcmp0(ew_node_text(body, "rested"), "yes") == 0,
                                  .named_only =
                                      g_strcmp0(ew_node_text(body, "named_only"), "yes") == 0};
  gboolean good = read_share(body, "margin", 0.01, &q.margin, error) &&
                  read_despite(body, &q.despite, error) && ew_desk_open(&desk, s->book, error) &&
                  ew_service_load_list(&desk, body, "a", a, error) &&
                  ew_service_load_list(&desk, body, "b", b, error);
  struct ew_comparison *c = good ? ew_ask_compare(&desk, a, b, NULL, NULL, &q, error) : NULL;
  if (c)
    ew_comparison_write_json(c, &reply->json);
  good = c != NULL;
  reply->changed = good && q.keep;
  ew_comparison_free(c);
  ew_desk_clear(&desk);
  return good;
}

gboolean ew_api_sweep(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                      GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body)
    return FALSE;
  const char *what = ew_node_text(body, "setting");
  gboolean spark = g_strcmp0(what, "spark") == 0;
  if (!spark && g_strcmp0(what, "mixture") != 0)
    return ew_refuse(error, "setting: give spark or mixture");
  g_autoptr(GPtrArray) pulls = pulls_new();
  struct ew_desk desk = {0};
  double margin;
  guint despite = 0;
  gboolean good = read_share(body, "margin", 0.005, &margin, error) &&
                  read_despite(body, &despite, error) && ew_desk_open(&desk, s->book, error) &&
                  ew_service_load_list(&desk, body, "pulls", pulls, error);
  struct ew_sweep *sweep =
      good ? ew_ask_sweep(&desk, pulls, spark ? EW_SWEEP_SPARK : EW_SWEEP_MIXTURE, margin,
                          spark ? 2 : 0.01, NULL, NULL, despite, keeps(body), error)
           : NULL;
  if (sweep)
    ew_sweep_write_json(sweep, &reply->json);
  good = sweep != NULL;
  reply->changed = good && keeps(body);
  ew_sweep_free(sweep);
  ew_desk_clear(&desk);
  return good;
}

gboolean ew_api_step_up(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                        GError **error) {
  struct ew_desk desk = {0};
  struct ew_loaded *pull =
      ew_desk_open(&desk, s->book, error) ? ew_desk_load_id(&desk, r->id, error) : NULL;
  struct ew_step_up *step = pull ? ew_ask_step_up(&desk, pull, NULL, NAN, FALSE, error) : NULL;
  if (step)
    ew_step_up_write_json(step, &reply->json);
  gboolean good = step != NULL;
  ew_step_up_free(step);
  ew_loaded_free(pull);
  ew_desk_clear(&desk);
  return good;
}
