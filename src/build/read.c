/* Reading build records and build files, over the field tables. */
#include "build/position.h"
#include "base/as_pointer.h"
#include "base/error.h"
#include "build/doubt.h"
#include "base/suggest.h"
#include "base/words.h"
#include <math.h>
#include <string.h>

struct ew_build *ew_build_new(void) {
  struct ew_build *build = g_new0(struct ew_build, 1);
  for (int k = 0; k < EW_BUILD_KINDS_COUNT; k++)
    build->records[k] = g_ptr_array_new();
  return build;
}

void ew_build_free(struct ew_build *build) {
  if (!build)
    return;
  for (int k = 0; k < EW_BUILD_KINDS_COUNT; k++) {
    for (guint i = 0; i < build->records[k]->len; i++)
      ew_build_record_free(k, build->records[k]->pdata[i]);
    g_ptr_array_unref(build->records[k]);
  }
  g_free(build);
}

static const struct ew_fields *table_of(enum ew_build_kind kind, const void *record) {
  if (kind == EW_BUILD_ITEM) {
    const struct ew_build_item *item = record;
    return ew_build_fields(kind, item->quantity, item->times != EW_TIMES_NONE);
  }
  if (kind == EW_BUILD_MEASURE)
    return ew_build_fields(kind, ((const struct ew_build_measure *)record)->quantity, FALSE);
  return ew_build_fields(kind, EW_KINDS_COUNT, FALSE);
}

void ew_build_record_free(enum ew_build_kind kind, void *record) {
  if (!record)
    return;
  ew_fields_clear(ew_build_fields(kind, EW_KINDS_COUNT, FALSE), record);
  g_free(record);
}

char *ew_build_record_yaml(enum ew_build_kind kind, const void *record) {
  return ew_fields_write_yaml(table_of(kind, record), record);
}

void ew_build_record_json(enum ew_build_kind kind, const void *record, struct ew_json *json) {
  const struct ew_build_mark *mark = record;
  if (mark->id)
    ew_json_integer(json, "id", mark->id);
  ew_fields_write_json(table_of(kind, record), record, json);
}

const struct ew_build_facts *ew_build_facts_of(const struct ew_build *build) {
  static const struct ew_build_facts none = {0};
  const GPtrArray *all = build->records[EW_BUILD_FACTS];
  return all->len ? all->pdata[all->len - 1] : &none;
}

/* The last of that name counts, so that a later template goes before an earlier one. */
const struct ew_build_item *ew_build_item_of(const struct ew_build *build, const char *name) {
  const GPtrArray *all = build ? build->records[EW_BUILD_ITEM] : NULL;
  for (guint i = all ? all->len : 0; name && i-- > 0;) {
    const struct ew_build_item *item = all->pdata[i];
    if (g_ascii_strcasecmp(item->item, name) == 0)
      return item;
  }
  return NULL;
}

gboolean ew_build_is(const struct ew_build *build, const char *name, const char *key) {
  const struct ew_build_item *item = ew_build_item_of(build, name);
  return g_ascii_strcasecmp(item && item->known_as ? item->known_as : name, key) == 0;
}

const struct ew_build_item *ew_build_item_known(const struct ew_build *build, const char *key) {
  const GPtrArray *all = build->records[EW_BUILD_ITEM];
  for (guint i = all->len; i-- > 0;) {
    const struct ew_build_item *item = all->pdata[i];
    if (g_ascii_strcasecmp(item->known_as ? item->known_as : item->item, key) == 0)
      return item;
  }
  return NULL;
}

static const char *member_text(const struct ew_node *map, const char *key) {
  const struct ew_node *node = ew_node_member(map, key);
  return node && node->kind == EW_NODE_SCALAR ? node->text : NULL;
}

static gboolean refuse_item(const struct ew_build *build, const char *name, const char *where,
                            GError **error) {
  g_autoptr(GPtrArray) names = g_ptr_array_new();
  const struct ew_build_item *item;
  if (build)
    EW_BUILD_EACH(build, ITEM, struct ew_build_item, item, i)
  g_ptr_array_add(names, item->item);
  const char *near =
      names->len ? ew_suggest(name, (const char *const *)names->pdata, names->len) : NULL;
  if (near)
    return ew_refuse(
        error,
        "%s: the template has no item '%s'; did you mean '%s'? To measure it anyway, give "
        "'kind' (length, torque, ...)",
        where, name, near);
  return ew_refuse(error,
                   "%s: the template has no item '%s'; to measure it anyway, give 'kind' (length, "
                   "torque, ...)",
                   where, name);
}

static gboolean find_quantity(enum ew_build_kind kind, const struct ew_node *map, const char *where,
                              const struct ew_build *build, enum ew_kind *quantity,
                              gboolean *factors, GError **error) {
  const char *name = member_text(map, "kind");
  const char *times = member_text(map, "times");
  *factors = kind == EW_BUILD_ITEM && times && strcmp(times, "none") != 0;
  *quantity = EW_KINDS_COUNT;
  if (kind != EW_BUILD_ITEM && kind != EW_BUILD_MEASURE)
    return TRUE;
  const char *item_name = member_text(map, "item");
  if (!item_name || !*item_name)
    return ew_refuse(error, "%s: 'item' is missing: what was measured?", where);
  const struct ew_build_item *item =
      kind == EW_BUILD_MEASURE ? ew_build_item_of(build, item_name) : NULL;
  if (!name && item) {
    *quantity = item->quantity;
    return TRUE;
  }
  if (!name && kind == EW_BUILD_MEASURE)
    return refuse_item(build, item_name, where, error);
  *quantity = ew_build_quantity(name ? name : "length");
  return *quantity != EW_KINDS_COUNT ||
         ew_refuse(error,
                   "%s: kind '%s' is not one of length, force, torque, volume, mass, volume flow, "
                   "pressure, angle, ratio, area",
                   where, name);
}

static gboolean good_date(const char *at) {
  return strlen(at) >= 10 && g_ascii_isdigit(at[0]) && g_ascii_isdigit(at[3]) && at[4] == '-' &&
         at[7] == '-' && g_ascii_isdigit(at[9]) && atoi(at + 5) >= 1 && atoi(at + 5) <= 12 &&
         atoi(at + 8) >= 1 && atoi(at + 8) <= 31 && (at[10] == 0 || at[10] == 'T' || at[10] == ' ');
}

static gboolean settle_place(char **place, enum ew_build_by by, const struct ew_engine *engine,
                             const struct ew_build *build, const char *where, GError **error) {
  int mains = build ? ew_build_facts_of(build)->mains : 0;
  char *plain = ew_build_position(*place, by, engine, mains, where, error);
  if (!plain)
    return FALSE;
  g_free(*place);
  *place = plain;
  return TRUE;
}

static gboolean settle_measure(struct ew_build_measure *m, const char *where,
                               const struct ew_build *build, const struct ew_engine *engine,
                               GError **error) {
  const struct ew_build_item *item = ew_build_item_of(build, m->item);
  if (item && item->quantity != m->quantity)
    return ew_refuse(error, "%s: '%s' is measured as %s, not %s", where, m->item,
                     ew_build_quantity_name(item->quantity), ew_build_quantity_name(m->quantity));
  if (item && item->larger)
    return ew_refuse(error, "%s: '%s' is the difference between '%s' and '%s': measure those",
                     where, m->item, item->larger, item->smaller);
  if (!m->readings || m->readings->len == 0)
    return ew_refuse(error, "%s: '%s' has no readings", where, m->item);
  if (m->low > m->high)
    return ew_refuse(error, "%s: the low limit of '%s' is above its high one", where, m->item);
  if (!m->kind)
    m->kind = g_strdup(ew_build_quantity_name(m->quantity));
  if (item && strcmp(item->item, m->item) != 0) {
    g_free(m->item);
    m->item = g_strdup(item->item);
  }
  return settle_place(&m->position, item ? (enum ew_build_by)item->by : EW_BY_FREE, engine, build,
                      where, error);
}

static gboolean settle_item(struct ew_build_item *item, const char *where, GError **error) {
  if (item->low > item->high)
    return ew_refuse(error, "%s: the low limit of '%s' is above its high one", where, item->item);
  if ((item->larger != NULL) != (item->smaller != NULL))
    return ew_refuse(error, "%s: '%s' needs both 'larger' and 'smaller', or neither", where,
                     item->item);
  return TRUE;
}

static gboolean need(const char *text, const char *field, const char *where, GError **error) {
  return (text && *text) || ew_refuse(error, "%s: '%s' is missing", where, field);
}

static gboolean settle_tick(struct ew_build_tick *tick, const char *where,
                            const struct ew_build *build, GError **error) {
  g_autoptr(GPtrArray) names = g_ptr_array_new();
  const struct ew_build_step *step;
  gboolean list = FALSE;
  if (tick->state != 0 && !tick->mark.note)
    return ew_refuse(error, "%s: 'note' is missing: say why '%s' is marked '%s'", where, tick->step,
                     ew_build_state_names[tick->state]);
  EW_BUILD_EACH(build, STEP, struct ew_build_step, step, i) {
    if (g_ascii_strcasecmp(step->list, tick->list) != 0)
      continue;
    list = TRUE;
    if (g_ascii_strcasecmp(step->step, tick->step) == 0)
      return TRUE;
    g_ptr_array_add(names, step->step);
  }
  if (!list)
    return ew_refuse(error, "%s: this build has no checklist '%s'", where, tick->list);
  const char *near = ew_suggest(tick->step, (const char *const *)names->pdata, names->len);
  for (guint i = 0; !near && i < names->len; i++)
    if (g_str_match_string(tick->step, names->pdata[i], TRUE))
      near = names->pdata[i];
  if (near)
    return ew_refuse(error, "%s: checklist '%s' has no step '%s'; did you mean '%s'?", where,
                     tick->list, tick->step, near);
  return ew_refuse(error, "%s: checklist '%s' has no step '%s'", where, tick->list, tick->step);
}

static gboolean settle(enum ew_build_kind kind, void *record, const char *where,
                       const struct ew_build *build, const struct ew_engine *engine,
                       GError **error) {
  const struct ew_build_mark *mark = record;
  if (mark->at && !good_date(mark->at))
    return ew_refuse(error, "%s: at '%s' is not a date; write 2026-03-14", where, mark->at);
  switch (kind) {
  case EW_BUILD_AGREED: return need(((struct ew_build_agreed *)record)->what, "what", where, error);
  case EW_BUILD_ITEM: return settle_item(record, where, error);
  case EW_BUILD_STEP:
    return need(((struct ew_build_step *)record)->list, "list", where, error) &&
           need(((struct ew_build_step *)record)->step, "step", where, error);
  case EW_BUILD_MEASURE: return settle_measure(record, where, build, engine, error);
  case EW_BUILD_LASH: {
    struct ew_build_lash *lash = record;
    if (isnan(lash->cold_m) && isnan(lash->hot_m))
      return ew_refuse(error, "%s: give the lash 'cold', 'hot' or both", where);
    return settle_place(&lash->valve, EW_BY_VALVE, engine, build, where, error);
  }
  case EW_BUILD_PART: return need(((struct ew_build_part *)record)->part, "part", where, error);
  case EW_BUILD_TORQUE:
    return need(((struct ew_build_torque *)record)->fastener, "fastener", where, error);
  case EW_BUILD_TICK:
    return need(((struct ew_build_tick *)record)->list, "list", where, error) &&
           need(((struct ew_build_tick *)record)->step, "step", where, error) &&
           settle_tick(record, where, build, error);
  case EW_BUILD_SEEN:
    return need(((struct ew_build_seen *)record)->what, "what", where, error) &&
           need(((struct ew_build_seen *)record)->says, "says", where, error);
  case EW_BUILD_AFTER: return need(((struct ew_build_after *)record)->what, "what", where, error);
  case EW_BUILD_FACTS: return TRUE;
  case EW_BUILD_KINDS_COUNT: break;
  }
  g_assert_not_reached();
}

static void *read_raw(enum ew_build_kind kind, const struct ew_node *map, const char *where,
                      const char *const *others, const struct ew_build *build, GError **error) {
  enum ew_kind quantity;
  gboolean factors;
  if (map->kind != EW_NODE_MAP) {
    ew_refuse(error, "%s, line %u: expected a map of fields", where, map->line);
    return NULL;
  }
  if (!find_quantity(kind, map, where, build, &quantity, &factors, error))
    return NULL;
  const struct ew_fields *table = ew_build_fields(kind, quantity, factors);
  void *record = g_malloc0(table->size);
  if (!ew_fields_read(table, map, where, others, record, error)) {
    g_free(record);
    return NULL;
  }
  if (kind == EW_BUILD_ITEM)
    ((struct ew_build_item *)record)->quantity = quantity;
  if (kind == EW_BUILD_MEASURE)
    ((struct ew_build_measure *)record)->quantity = quantity;
  return record;
}

void *ew_build_record_parse(enum ew_build_kind kind, const struct ew_node *map, const char *where,
                            const struct ew_build *build, GError **error) {
  return read_raw(kind, map, where, NULL, build, error);
}

void *ew_build_record_read(enum ew_build_kind kind, const struct ew_node *map, const char *where,
                           const struct ew_build *build, const struct ew_engine *engine,
                           GError **error) {
  void *record = read_raw(kind, map, where, NULL, build, error);
  if (record && (!settle(kind, record, where, build, engine, error) ||
                 !ew_build_plausible(kind, record, where, build, engine, error))) {
    ew_build_record_free(kind, record);
    return NULL;
  }
  return record;
}

static gboolean parse_readings(const struct ew_node *node, const char *where, enum ew_kind quantity,
                               GArray *into, GError **error) {
  guint count = node->kind == EW_NODE_LIST ? node->children->len : 1;
  for (guint i = 0; i < count; i++) {
    const struct ew_node *one = node->kind == EW_NODE_LIST ? node->children->pdata[i] : node;
    double value;
    if (one->kind != EW_NODE_SCALAR)
      return ew_refuse(error, "%s, line %u: expected a reading or a list of readings", where,
                       one->line);
    g_autofree char *field = ew_words("%s, line %u", where, one->line);
    if (!ew_quantity_parse(field, one->text, quantity, &value, error))
      return FALSE;
    g_array_append_val(into, value);
  }
  return TRUE;
}

/* `each:`: one record a place, all else alike. */
static gboolean read_each(const struct ew_node *map, const char *where,
                          const struct ew_engine *engine, struct ew_build *build, GError **error) {
  static const char *const others[] = {"each", NULL};
  const struct ew_node *each = ew_node_member(map, "each");
  if (each->kind != EW_NODE_MAP)
    return ew_refuse(error, "%s, line %u: 'each' is a map of places to readings", where,
                     each->line);
  for (guint i = 0; i < each->children->len; i++) {
    const struct ew_node *one = each->children->pdata[i];
    struct ew_build_measure *m = read_raw(EW_BUILD_MEASURE, map, where, others, build, error);
    if (!m)
      return FALSE;
    g_free(m->position);
    m->position = g_strdup(one->key);
    if (!m->readings)
      m->readings = g_array_new(FALSE, FALSE, sizeof(double));
    if (!parse_readings(one, where, m->quantity, m->readings, error) ||
        !settle(EW_BUILD_MEASURE, m, where, build, engine, error) ||
        !ew_build_plausible(EW_BUILD_MEASURE, m, where, build, engine, error)) {
      ew_build_record_free(EW_BUILD_MEASURE, m);
      return FALSE;
    }
    g_ptr_array_add(build->records[EW_BUILD_MEASURE], m);
  }
  return TRUE;
}

static gboolean read_list(enum ew_build_kind kind, const struct ew_node *list, const char *where,
                          const struct ew_engine *engine, struct ew_build *build, GError **error) {
  if (list->kind != EW_NODE_LIST)
    return ew_refuse(error, "%s, line %u: '%s' is a list", where, list->line, list->key);
  for (guint i = 0; i < list->children->len; i++) {
    const struct ew_node *one = list->children->pdata[i];
    g_autofree char *place =
        ew_words("%s, line %u (%s)", where, one->line, ew_build_kind_key(kind));
    if (kind == EW_BUILD_MEASURE && ew_node_member(one, "each")) {
      if (!read_each(one, place, engine, build, error))
        return FALSE;
      continue;
    }
    void *record = ew_build_record_read(kind, one, place, build, engine, error);
    if (!record)
      return FALSE;
    g_ptr_array_add(build->records[kind], record);
  }
  return TRUE;
}

/* One checklist: `list`, `before` and `steps` of texts or of maps with `step` and `caution`. */
static gboolean read_checklist(const struct ew_node *map, const char *where, struct ew_build *build,
                               GError **error) {
  static const char *const others[] = {"steps", NULL}, *const outer[] = {"list", "before", NULL};
  const struct ew_node *steps = ew_node_member(map, "steps");
  if (!steps || steps->kind != EW_NODE_LIST)
    return ew_refuse(error, "%s, line %u: a checklist has 'list' and 'steps'", where, map->line);
  for (guint i = 0; i < steps->children->len; i++) {
    const struct ew_node *one = steps->children->pdata[i];
    struct ew_build_step *step = read_raw(EW_BUILD_STEP, map, where, others, build, error);
    if (!step)
      return FALSE;
    g_ptr_array_add(build->records[EW_BUILD_STEP], step);
    g_free(step->step);
    step->step = NULL;
    if (one->kind == EW_NODE_SCALAR)
      step->step = g_strdup(one->text);
    else {
      struct ew_build_step *inner = read_raw(EW_BUILD_STEP, one, where, outer, build, error);
      if (!inner)
        return FALSE;
      step->step = g_steal_pointer(&inner->step);
      g_free(step->caution);
      step->caution = g_steal_pointer(&inner->caution);
      ew_build_record_free(EW_BUILD_STEP, inner);
    }
    if (!settle(EW_BUILD_STEP, step, where, build, NULL, error))
      return FALSE;
  }
  return TRUE;
}

static gboolean read_checklists(const struct ew_node *lists, const char *where,
                                struct ew_build *build, GError **error) {
  if (lists->kind != EW_NODE_LIST)
    return ew_refuse(error, "%s, line %u: 'lists' is a list of checklists", where, lists->line);
  for (guint i = 0; i < lists->children->len; i++)
    if (!read_checklist(lists->children->pdata[i], where, build, error))
      return FALSE;
  return TRUE;
}

gboolean ew_build_read_template(const struct ew_node *root, const char *where,
                                const struct ew_engine *engine, struct ew_build *build,
                                GError **error) {
  if (root->kind != EW_NODE_MAP)
    return ew_refuse(error, "%s: a template has 'items' or 'lists'", where);
  for (guint i = 0; i < root->children->len; i++) {
    const struct ew_node *one = root->children->pdata[i];
    gboolean good =
        strcmp(one->key, "items") == 0 ? read_list(EW_BUILD_ITEM, one, where, engine, build, error)
        : strcmp(one->key, "lists") == 0
            ? read_checklists(one, where, build, error)
            : ew_refuse(error,
                        "%s, line %u: '%s' is not a part of a template, which has 'items' and "
                        "'lists'",
                        where, one->line, one->key);
    if (!good)
      return FALSE;
  }
  return TRUE;
}

static gboolean read_facts(const struct ew_node *root, const char *where, const char *const *others,
                           struct ew_build *build, GError **error) {
  g_autoptr(GPtrArray) leave = g_ptr_array_new();
  for (int k = 1; k < EW_BUILD_KINDS_COUNT; k++)
    g_ptr_array_add(leave, ew_as_pointer(ew_build_kind_key(k)));
  g_ptr_array_add(leave, (gpointer) "lists");
  for (int i = 0; others && others[i]; i++)
    g_ptr_array_add(leave, ew_as_pointer(others[i]));
  g_ptr_array_add(leave, NULL);
  void *facts =
      read_raw(EW_BUILD_FACTS, root, where, (const char *const *)leave->pdata, build, error);
  if (!facts)
    return FALSE;
  g_ptr_array_add(build->records[EW_BUILD_FACTS], facts);
  return settle(EW_BUILD_FACTS, facts, where, build, NULL, error);
}

gboolean ew_build_read_file(const struct ew_node *root, const char *where,
                            const struct ew_engine *engine, const char *const *others,
                            struct ew_build *build, GError **error) {
  if (!read_facts(root, where, others, build, error))
    return FALSE;
  const struct ew_node *lists = ew_node_member(root, "lists");
  if (lists && !read_checklists(lists, where, build, error))
    return FALSE;
  for (int k = 1; k < EW_BUILD_KINDS_COUNT; k++) {
    const struct ew_node *list = ew_node_member(root, ew_build_kind_key(k));
    if (list && !read_list(k, list, where, engine, build, error))
      return FALSE;
  }
  return TRUE;
}
