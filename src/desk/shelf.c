/* The shop's shelf, read and kept: see the header. */
#include "desk/shelf.h"
#include "base/error.h"
#include "base/number.h"
#include "book/keep.h"
#include "book/store.h"
#include "desk/vary.h"
#include <math.h>
#include <string.h>

#define KEY       "shelf"
#define NAME_MOST 80 /* letters */

/* ---- parts ---- */

static void field_clear(gpointer data) {
  struct ew_shelf_field *f = data;
  g_free(f->name);
  g_free(f->value);
}

static void part_free(gpointer data) {
  struct ew_shelf_part *p = data;
  g_free(p->place);
  g_free(p->name);
  g_free(p->code);
  g_array_unref(p->field);
  g_free(p);
}

GPtrArray *ew_shelf_new(void) {
  return g_ptr_array_new_with_free_func(part_free);
}

static const struct ew_shelf_part *part_at(const GPtrArray *shelf, guint i) {
  return g_ptr_array_index(shelf, i);
}

static const struct ew_shelf_field *field_at(const struct ew_shelf_part *p, guint i) {
  return &g_array_index(p->field, struct ew_shelf_field, i);
}

static int index_of(const GPtrArray *shelf, const char *place, const char *name) {
  for (guint i = 0; i < shelf->len; i++)
    if (strcmp(part_at(shelf, i)->place, place) == 0 && strcmp(part_at(shelf, i)->name, name) == 0)
      return (int)i;
  return -1;
}

const struct ew_shelf_part *ew_shelf_find(const GPtrArray *shelf, const char *place,
                                          const char *name) {
  int i = index_of(shelf, place, name);
  return i < 0 ? NULL : part_at(shelf, (guint)i);
}

static struct ew_shelf_part *part_new(const char *place, const char *name) {
  struct ew_shelf_part *p = g_new0(struct ew_shelf_part, 1);
  *p = (struct ew_shelf_part){.place = g_strstrip(g_strdup(place)),
                              .name = g_strstrip(g_strdup(name)),
                              .price = NAN,
                              .table_price = NAN,
                              .field = g_array_new(FALSE, FALSE, sizeof(struct ew_shelf_field))};
  g_array_set_clear_func(p->field, field_clear);
  return p;
}

static gboolean is_name(const char *name) {
  glong letters = g_utf8_strlen(name, -1);
  gboolean good = letters >= 1 && letters <= NAME_MOST;
  for (const char *at = name; *at; at = g_utf8_next_char(at))
    good &= g_unichar_isprint(g_utf8_get_char(at)) != 0;
  return good;
}

/* A field that the engine's file has, with one figure of its kind. */
static gboolean set_field(struct ew_shelf_part *p, const char *name, const char *value,
                          GError **error) {
  g_autoptr(GArray) changes = ew_variations_new();
  g_autofree char *whole = g_strdup_printf("%s=%s", name, value);
  for (guint i = 0; i < p->field->len; i++)
    if (strcmp(field_at(p, i)->name, name) == 0)
      return ew_refuse(error, "%s: %s is set twice", p->name, name);
  if (!ew_variation_parse(whole, changes, error))
    return FALSE;
  if (changes->len != 1)
    return ew_refuse(error, "%s: '%s': one figure each", name, value);
  struct ew_shelf_field f = {g_strdup(name), g_strdup(value)};
  g_array_append_val(p->field, f);
  return TRUE;
}

static gboolean set_price(struct ew_shelf_part *p, const char *text, GError **error) {
  if (!ew_quantity_parse("price", text, EW_KIND_NUMBER, &p->price, error))
    return FALSE;
  return (p->price >= 0 && isfinite(p->price)) ||
         ew_refuse(error, "price of %s: '%s'; give a figure from 0 up", p->name, text);
}

/* What can be said of a part only when all of it was read. */
static gboolean finish(const GPtrArray *shelf, const struct ew_shelf_part *p, GError **error) {
  if (!is_name(p->place) || !is_name(p->name))
    return ew_refuse(error, "a part has a place and a name, of 1 to %d letters", NAME_MOST);
  if (p->field->len == 0)
    return ew_refuse(error, "%s: it sets no field of the engine's file", p->name);
  if (index_of(shelf, p->place, p->name) >= 0)
    return ew_refuse(error, "%s: %s is given twice", p->place, p->name);
  return shelf->len < EW_SHELF_MOST ||
         ew_refuse(error, "the shelf holds %d parts at most", EW_SHELF_MOST);
}

static gboolean take(GPtrArray *shelf, struct ew_shelf_part *p, gboolean good, const char *where,
                     guint line, GError **error) {
  good = good && finish(shelf, p, error);
  if (good)
    g_ptr_array_add(shelf, p);
  else {
    g_prefix_error(error, "%s, line %u: ", where, line);
    part_free(p);
  }
  return good;
}

/* ---- a list ---- */

static const char *text_of(const struct ew_node *map, const char *key) {
  const struct ew_node *one = map->kind == EW_NODE_MAP ? ew_node_member(map, key) : NULL;
  return one && one->kind == EW_NODE_SCALAR ? one->text : NULL;
}

static gboolean read_part(const struct ew_node *map, struct ew_shelf_part *p, GError **error) {
  const struct ew_node *set = map->kind == EW_NODE_MAP ? ew_node_member(map, "set") : NULL;
  const char *price = text_of(map, "price");
  if (!set || set->kind != EW_NODE_MAP)
    return ew_refuse(error, "%s: say in 'set' which fields it sets", p->name);
  for (guint i = 0; i < map->children->len; i++) {
    const char *key = ((struct ew_node *)g_ptr_array_index(map->children, i))->key;
    if (strcmp(key, "name") != 0 && strcmp(key, "price") != 0 && strcmp(key, "set") != 0)
      return ew_refuse(error, "'%s' is not one of name, price, set", key);
  }
  for (guint i = 0; i < set->children->len; i++) {
    const struct ew_node *one = g_ptr_array_index(set->children, i);
    if (one->kind != EW_NODE_SCALAR)
      return ew_refuse(error, "%s: write one figure", one->key);
    if (!set_field(p, one->key, one->text, error))
      return FALSE;
  }
  return !price || set_price(p, price, error);
}

gboolean ew_shelf_read(const struct ew_node *list, const char *where, GPtrArray *shelf,
                       GError **error) {
  if (list->kind == EW_NODE_MAP && ew_node_member(list, "shelf"))
    list = ew_node_member(list, "shelf");
  if (list->kind != EW_NODE_LIST)
    return ew_refuse(error, "%s, line %u: write a list of places, each with its parts", where,
                     list->line);
  for (guint i = 0; i < list->children->len; i++) {
    const struct ew_node *one = g_ptr_array_index(list->children, i);
    const char *place = text_of(one, "place");
    const struct ew_node *parts = one->kind == EW_NODE_MAP ? ew_node_member(one, "parts") : NULL;
    if (!place || !parts || parts->kind != EW_NODE_LIST)
      return ew_refuse(error, "%s, line %u: say which place, and its parts", where, one->line);
    for (guint k = 0; k < parts->children->len; k++) {
      const struct ew_node *map = g_ptr_array_index(parts->children, k);
      const char *name = text_of(map, "name");
      struct ew_shelf_part *p = part_new(place, name ? name : "");
      if (!take(shelf, p, read_part(map, p, error), where, map->line, error))
        return FALSE;
    }
  }
  return TRUE;
}

/* ---- a table: RFC 4180, and semicolons where the first line has one ---- */

/* One cell from *at on, with its quotes taken off; *at then is behind its separator or at the line's end. g_free. */
static char *next_cell(const char **at, char separator) {
  GString *cell = g_string_new(NULL);
  gboolean quoted = **at == '"';
  for (*at += quoted; **at; (*at)++) {
    if (quoted && **at == '"' && (*at)[1] == '"')
      (*at)++;
    else if (quoted && **at == '"') {
      quoted = FALSE;
      continue;
    } else if (!quoted && (**at == separator || **at == '\n' || **at == '\r'))
      break;
    g_string_append_c(cell, **at);
  }
  if (**at == separator)
    (*at)++;
  return g_strstrip(g_string_free(cell, FALSE));
}

/* Cells of a line; *at then is at the next one. */
static GPtrArray *next_line(const char **at, char separator) {
  GPtrArray *cells = g_ptr_array_new_with_free_func(g_free);
  while (**at && **at != '\n' && **at != '\r')
    g_ptr_array_add(cells, next_cell(at, separator));
  if (**at == '\r')
    (*at)++;
  if (**at == '\n')
    (*at)++;
  return cells;
}

static const char *cell_at(const GPtrArray *line, guint i) {
  return i < line->len ? g_ptr_array_index(line, i) : "";
}

static gboolean read_row(const GPtrArray *head, const GPtrArray *line, struct ew_shelf_part *p,
                         GError **error) {
  if (line->len > head->len)
    return ew_refuse(error, "%u cells under %u heads", line->len, head->len);
  if (*cell_at(line, 2) && !set_price(p, cell_at(line, 2), error))
    return FALSE;
  for (guint i = 3; i < head->len; i++)
    if (*cell_at(line, i) && !set_field(p, cell_at(head, i), cell_at(line, i), error))
      return FALSE;
  return TRUE;
}

gboolean ew_shelf_read_table(const char *text, const char *where, GPtrArray *shelf,
                             GError **error) {
  static const char *const heads[] = {"place", "name", "price"};
  gsize first = strcspn(text, "\n");
  const char *at = text + (g_str_has_prefix(text, "\xEF\xBB\xBF") ? 3 : 0);
  char separator = memchr(text, ';', first) ? ';' : ',';
  if (!g_utf8_validate(text, -1, NULL))
    return ew_refuse(error, "%s: write it in UTF-8", where);
  g_autoptr(GPtrArray) head = next_line(&at, separator);
  for (guint i = 0; i < G_N_ELEMENTS(heads); i++)
    if (strcmp(cell_at(head, i), heads[i]) != 0)
      return ew_refuse(error,
                       "%s, line 1: the columns are place, name, price, and then the fields that "
                       "parts set; '%s' is the name of column %u",
                       where, cell_at(head, i), i + 1);
  for (guint number = 2; *at; number++) {
    g_autoptr(GPtrArray) line = next_line(&at, separator);
    if (line->len == 0)
      continue;
    struct ew_shelf_part *p = part_new(cell_at(line, 0), cell_at(line, 1));
    if (!take(shelf, p, read_row(head, line, p, error), where, number, error))
      return FALSE;
  }
  return TRUE;
}

/* ---- added, removed ---- */

static gboolean is_same(const struct ew_shelf_part *a, const struct ew_shelf_part *b) {
  gboolean same = a->field->len == b->field->len &&
                  (a->price == b->price || (isnan(a->price) && isnan(b->price)));
  for (guint i = 0; same && i < a->field->len; i++) {
    gboolean found = FALSE;
    for (guint k = 0; k < b->field->len; k++)
      found |= strcmp(field_at(a, i)->name, field_at(b, k)->name) == 0 &&
               strcmp(field_at(a, i)->value, field_at(b, k)->value) == 0;
    same = found;
  }
  return same;
}

/* The fields are the same, so it is the price that is not. */
static gboolean refuse_other(const struct ew_shelf_part *old, const struct ew_shelf_part *new,
                             GError **error) {
  char before[EW_NUMBER_SIZE], now[EW_NUMBER_SIZE];
  if (old->price != new->price && !isnan(old->price) && !isnan(new->price))
    return ew_refuse(error,
                     "%s: %s is on the shelf for %s, and would be for %s: --replace if that is "
                     "what it costs now",
                     new->place, new->name, ew_number_shown(old->price, 2, before),
                     ew_number_shown(new->price, 2, now));
  return ew_refuse(error,
                   "%s: %s is on the shelf with other figures: give it another name, or --replace",
                   new->place, new->name);
}

gboolean ew_shelf_add(GPtrArray *shelf, GPtrArray *more, gboolean replace,
                      struct ew_shelf_added *added, GError **error) {
  *added = (struct ew_shelf_added){0};
  while (more->len > 0) {
    struct ew_shelf_part *p = g_ptr_array_steal_index(more, 0);
    int at = index_of(shelf, p->place, p->name);
    gboolean same = at >= 0 && is_same(part_at(shelf, (guint)at), p);
    if (at >= 0 && !same && !replace) {
      refuse_other(part_at(shelf, (guint)at), p, error);
      part_free(p);
      return FALSE;
    }
    added->added += at < 0;
    added->same += same;
    added->replaced += at >= 0 && !same;
    if (at >= 0)
      g_ptr_array_remove_index(shelf, (guint)at);
    g_ptr_array_insert(shelf, at, p);
  }
  return shelf->len <= EW_SHELF_MOST ||
         ew_refuse(error, "the shelf holds %d parts at most", EW_SHELF_MOST);
}

gboolean ew_shelf_remove(GPtrArray *shelf, const char *place, const char *name, GError **error) {
  int at = index_of(shelf, place, name);
  GString *all = g_string_new(NULL);
  for (guint i = 0; at < 0 && i < shelf->len; i++)
    g_string_append_printf(all, "%s%s: %s", i ? ", " : "", part_at(shelf, i)->place,
                           part_at(shelf, i)->name);
  gboolean good = at >= 0 || ew_refuse(error, "%s: %s: no such part on the shelf; it holds %s",
                                       place, name, all->len ? all->str : "-");
  g_string_free(all, TRUE);
  if (good)
    g_ptr_array_remove_index(shelf, (guint)at);
  return good;
}

/* ---- kept ---- */

static void write_part(const struct ew_shelf_part *p, struct ew_json *json) {
  ew_json_open(json, NULL);
  ew_json_text(json, "name", p->name);
  if (!isnan(p->price))
    ew_json_number(json, "price", p->price);
  if (p->code) {
    ew_json_text(json, "code", p->code);
    ew_json_number(json, "table_price", p->table_price);
  }
  ew_json_open(json, "set");
  for (guint i = 0; i < p->field->len; i++)
    ew_json_text(json, field_at(p, i)->name, field_at(p, i)->value);
  ew_json_close(json);
  ew_json_close(json);
}

/* Places in the order in which they first came. O(parts²). */
void ew_shelf_write_json(const GPtrArray *shelf, struct ew_json *json) {
  ew_json_open_array(json, "shelf");
  for (guint i = 0; i < shelf->len; i++) {
    gboolean first = TRUE;
    for (guint k = 0; k < i; k++)
      first &= strcmp(part_at(shelf, k)->place, part_at(shelf, i)->place) != 0;
    if (!first)
      continue;
    ew_json_open(json, NULL);
    ew_json_text(json, "place", part_at(shelf, i)->place);
    ew_json_open_array(json, "parts");
    for (guint k = i; k < shelf->len; k++)
      if (strcmp(part_at(shelf, k)->place, part_at(shelf, i)->place) == 0)
        write_part(part_at(shelf, k), json);
    ew_json_close_array(json);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

GPtrArray *ew_shelf_load(struct ew_book *book, char **was, GError **error) {
  g_autofree char *text = NULL;
  g_autoptr(GPtrArray) shelf = ew_shelf_new();
  if (!ew_setting_get(book, KEY, &text, error))
    return NULL;
  if (text) {
    g_autoptr(ew_node) root = ew_node_parse(KEY, text, strlen(text), error);
    if (!root || !ew_shelf_read(root, KEY, shelf, error))
      return NULL;
  }
  if (was)
    *was = g_steal_pointer(&text);
  return g_steal_pointer(&shelf);
}

gboolean ew_shelf_keep(struct ew_book *book, const GPtrArray *shelf, const char *was,
                       GError **error) {
  struct ew_json json = {.text = g_string_new(NULL)};
  for (guint i = 0; i < shelf->len; i++)
    g_assert(!part_at(shelf, i)->code); /* what the table says is not the shelf's */
  ew_json_open(&json, NULL);
  ew_shelf_write_json(shelf, &json);
  ew_json_close(&json);
  struct ew_setting one = {
      .key = KEY, .value = json.text->str, .when = EW_SETTING_IF_STILL, .was = was};
  gboolean good = ew_keep_settings(book, &one, 1, error);
  g_string_free(json.text, TRUE);
  return good;
}
