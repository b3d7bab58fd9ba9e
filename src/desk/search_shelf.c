/* Parts that a question chooses from: as it says what each sets, or by name from the shop's shelf (shelf.h). */
#include "base/error.h"
#include "desk/search_question_parts.h"
#include "desk/shelf.h"
#include "desk/vary.h"
#include <math.h>
#include <string.h>

static void part_free(gpointer data) {
  struct ew_search_part *p = data;
  g_free(p->name);
  g_array_unref(p->set);
  g_free(p);
}

static gboolean read_part(struct ew_search_axis *a, const struct ew_node *map, const char *where,
                          GError **error) {
  static const char *const keys[] = {"name", "price", "set", NULL};
  if (!ew_question_knows(map, keys, where, error))
    return FALSE;
  struct ew_search_part *p = g_new0(struct ew_search_part, 1);
  p->set = ew_variations_new();
  g_ptr_array_add(a->parts, p);
  const struct ew_node *set = ew_node_member(map, "set");
  if (!ew_question_text(map, "name") || !set || set->kind != EW_NODE_MAP)
    return ew_refuse(error, "%s, line %u: a part of %s has a name, and in 'set' the fields it sets",
                     where, map->line, a->name);
  p->name = g_strdup(ew_question_text(map, "name"));
  if (!ew_question_quantity(map, "price", EW_KIND_NUMBER, NAN, where, &p->price, error))
    return FALSE;
  if (p->price < 0)
    return ew_refuse(error, "%s, line %u: price of %s: less than nothing", where, map->line,
                     p->name);
  for (guint i = 0; i < set->children->len; i++) {
    const struct ew_node *one = g_ptr_array_index(set->children, i);
    struct ew_variation v;
    if (one->kind != EW_NODE_SCALAR)
      return ew_refuse(error, "%s, line %u: %s: write one figure", where, one->line, one->key);
    if (!ew_question_change(one->key, one->text, &v, error))
      return ew_question_at(error, where, one);
    g_array_append_val(p->set, v);
  }
  return TRUE;
}

/* ---- the shop's shelf ---- */

static gboolean take_part(struct ew_search_axis *a, const struct ew_shelf_part *from,
                          GError **error) {
  struct ew_search_part *p = g_new0(struct ew_search_part, 1);
  *p = (struct ew_search_part){g_strdup(from->name), from->price, ew_variations_new()};
  g_ptr_array_add(a->parts, p);
  for (guint i = 0; i < from->field->len; i++) {
    const struct ew_shelf_field *f = &g_array_index(from->field, struct ew_shelf_field, i);
    struct ew_variation v;
    if (!ew_question_change(f->name, f->value, &v, error))
      return FALSE;
    g_array_append_val(p->set, v);
  }
  return TRUE;
}

/* By its name, or with what it is. */
static gboolean named_part(const struct ew_search_question *q, struct ew_search_axis *a,
                           const struct ew_node *node, const char *where, GError **error) {
  if (node->kind != EW_NODE_SCALAR)
    return read_part(a, node, where, error);
  const struct ew_shelf_part *p = q->shelf ? ew_shelf_find(q->shelf, a->name, node->text) : NULL;
  if (p)
    return take_part(a, p, error) || ew_question_at(error, where, node);
  return q->shelf
             ? ew_refuse(error,
                         "%s, line %u: %s: '%s' is not on the book's shelf; 'shelf list' shows "
                         "what is, or say here what it sets",
                         where, node->line, a->name, node->text)
             : ew_refuse(error,
                         "%s, line %u: %s: '%s' is only a name; give --book, or say what it "
                         "sets",
                         where, node->line, a->name, node->text);
}

static gboolean all_parts(const struct ew_search_question *q, struct ew_search_axis *a,
                          const struct ew_node *node, const char *where, GError **error) {
  for (guint i = 0; q->shelf && i < q->shelf->len; i++) {
    const struct ew_shelf_part *p = g_ptr_array_index(q->shelf, i);
    if (strcmp(p->place, a->name) == 0 && !take_part(a, p, error))
      return ew_question_at(error, where, node);
  }
  return a->parts->len > 0 ||
         ew_refuse(error, "%s, line %u: parts: all: the book's shelf has none for %s", where,
                   node->line, a->name);
}

static gboolean read_parts(const struct ew_search_question *q, struct ew_search_axis *a,
                           const struct ew_node *parts, const char *where, GError **error) {
  if (parts->kind == EW_NODE_SCALAR && g_strcmp0(parts->text, "all") == 0)
    return all_parts(q, a, parts, where, error);
  if (parts->kind != EW_NODE_LIST)
    return ew_refuse(error, "%s, line %u: parts: a list, or all", where, parts->line);
  for (guint i = 0; i < parts->children->len; i++)
    if (!named_part(q, a, g_ptr_array_index(parts->children, i), where, error))
      return FALSE;
  return TRUE;
}

static gboolean distinct_parts(const struct ew_search_axis *a, const struct ew_node *map,
                               const char *where, GError **error) {
  for (guint i = 0; i < a->parts->len; i++)
    for (guint k = 0; k < i; k++) {
      const struct ew_search_part *p = g_ptr_array_index(a->parts, i),
                                  *other = g_ptr_array_index(a->parts, k);
      if (strcmp(p->name, other->name) == 0)
        return ew_refuse(error, "%s, line %u: %s: '%s' is there twice", where, map->line, a->name,
                         p->name);
    }
  return TRUE;
}

gboolean ew_question_place(struct ew_search_question *q, const struct ew_node *map,
                           const char *where, GError **error) {
  static const char *const keys[] = {"place", "parts", NULL};
  if (!ew_question_knows(map, keys, where, error))
    return FALSE;
  const struct ew_node *parts = ew_node_member(map, "parts");
  struct ew_search_axis *a = g_new0(struct ew_search_axis, 1);
  g_ptr_array_add(q->axes, a);
  a->kind = EW_AXIS_PARTS;
  a->name = g_strdup(ew_question_text(map, "place"));
  a->parts = g_ptr_array_new_with_free_func(part_free);
  if (!a->name || !parts)
    return ew_refuse(error, "%s, line %u: the shelf: say which place, and its parts", where,
                     map->line);
  if (!read_parts(q, a, parts, where, error) || !distinct_parts(a, map, where, error))
    return FALSE;
  a->places = (int)a->parts->len;
  return (a->places >= 1 && a->places <= EW_PLACES_MOST) ||
         ew_refuse(error, "%s, line %u: %s: %d parts; give 1 to %d", where, map->line, a->name,
                   a->places, EW_PLACES_MOST);
}

gboolean ew_search_question_names_parts(const struct ew_node *root) {
  const struct ew_node *shelf = root->kind == EW_NODE_MAP ? ew_node_member(root, "shelf") : NULL;
  for (guint i = 0; shelf && shelf->children && i < shelf->children->len; i++) {
    const struct ew_node *place = g_ptr_array_index(shelf->children, i);
    const struct ew_node *parts =
        place->kind == EW_NODE_MAP ? ew_node_member(place, "parts") : NULL;
    if (parts && parts->kind == EW_NODE_SCALAR)
      return TRUE;
    for (guint k = 0; parts && k < parts->children->len; k++)
      if (((struct ew_node *)g_ptr_array_index(parts->children, k))->kind == EW_NODE_SCALAR)
        return TRUE;
  }
  return FALSE;
}
