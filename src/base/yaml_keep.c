/* Edits of a text: where everything stands (libyaml's marks), which bytes change, and the result read again and
 * compared with what was wanted, remarks included. Where that doesn't hold, the text is written again, with the
 * remarks under it. */
#include "base/yaml_keep.h"
#include "base/json_writer.h"
#include <string.h>
#include <yaml.h>

/* A value and where its bytes stand. `flow`: written in brackets, or a block of lines (| and >). */
struct place {
  enum ew_node_kind kind;
  char *key, *text;
  gsize key_start, start, end; /* bytes; end: after the last byte of the value */
  guint column;                /* of the keys of a map */
  gboolean flow, lines;
  GPtrArray *children; /* struct place* */
};

struct edit {
  gsize start, end;
  char *text;
};

struct keeping {
  const char *text;
  gsize size;
  gsize *byte_of; /* of each character: libyaml counts characters */
  gsize characters;
  guint8 *inside; /* 1 where a key or a scalar stands: a # there is no remark */
  yaml_parser_t parser;
  GArray *edits; /* struct edit */
};

/* ---- writing ---- */

/* A JSON text is a double-quoted text of YAML, too. */
static void write_quoted(GString *out, const char *text) {
  struct ew_json json = {.text = out};
  ew_json_text(&json, NULL, text ? text : "");
}

static void write_flow(GString *out, const struct ew_node *node) {
  if (node->kind == EW_NODE_SCALAR) {
    write_quoted(out, node->text);
    return;
  }
  g_string_append_c(out, node->kind == EW_NODE_LIST ? '[' : '{');
  for (guint i = 0; i < node->children->len; i++) {
    const struct ew_node *child = node->children->pdata[i];
    g_string_append(out, i ? ", " : "");
    if (node->kind == EW_NODE_MAP)
      g_string_append_printf(out, "%s: ", child->key);
    write_flow(out, child);
  }
  g_string_append_c(out, node->kind == EW_NODE_LIST ? ']' : '}');
}

static void write_block(GString *out, const struct ew_node *map, guint indent) {
  for (guint i = 0; i < map->children->len; i++) {
    const struct ew_node *child = map->children->pdata[i];
    g_string_append_printf(out, "%*s%s:", (int)indent, "", child->key);
    if (child->kind == EW_NODE_MAP && child->children->len) {
      g_string_append_c(out, '\n');
      write_block(out, child, indent + 2);
      continue;
    }
    g_string_append_c(out, ' ');
    write_flow(out, child);
    g_string_append_c(out, '\n');
  }
}

char *ew_yaml_write(const struct ew_node *map) {
  GString *out = g_string_new(NULL);
  write_block(out, map, 0);
  return g_string_free(out, FALSE);
}

/* As a person would write it, where that is beyond doubt. */
static char *scalar_text(const char *text) {
  gboolean plain = g_ascii_isalnum(text[0]) && !g_str_has_suffix(text, " ");
  for (const char *c = text; *c; c++)
    plain &= g_ascii_isalnum(*c) || strchr(" ._/+-", *c);
  if (plain)
    return g_strdup(text);
  GString *out = g_string_new(NULL);
  write_quoted(out, text);
  return g_string_free(out, FALSE);
}

gboolean ew_node_equal(const struct ew_node *a, const struct ew_node *b) {
  if (!a || !b || a->kind != b->kind)
    return FALSE;
  if (a->kind == EW_NODE_SCALAR)
    return g_strcmp0(a->text, b->text) == 0;
  if (a->children->len != b->children->len)
    return FALSE;
  for (guint i = 0; i < a->children->len; i++) {
    const struct ew_node *one = a->children->pdata[i];
    const struct ew_node *other =
        a->kind == EW_NODE_MAP ? ew_node_member(b, one->key) : b->children->pdata[i];
    if (!ew_node_equal(one, other))
      return FALSE;
  }
  return TRUE;
}

/* ---- where everything stands ---- */

static void place_free(gpointer data) {
  struct place *p = data;
  if (!p)
    return;
  g_free(p->key);
  g_free(p->text);
  if (p->children)
    g_ptr_array_unref(p->children);
  g_free(p);
}

static gsize byte_at(const struct keeping *k, const yaml_mark_t *mark) {
  return mark->index <= k->characters ? k->byte_of[mark->index] : k->size;
}

static void count_characters(struct keeping *k) {
  k->byte_of = g_new0(gsize, k->size + 1);
  for (gsize i = 0; i < k->size; i++)
    if (((guchar)k->text[i] & 0xc0) != 0x80)
      k->byte_of[k->characters++] = i;
  k->byte_of[k->characters] = k->size;
  g_assert(k->characters <= k->size);
}

static gboolean next(struct keeping *k, yaml_event_t *event) {
  return yaml_parser_parse(&k->parser, event) != 0;
}

static struct place *read_place(struct keeping *k, const yaml_event_t *event);

/* Up to the end event; a map's children come as key, value. */
static gboolean read_children(struct keeping *k, struct place *p, yaml_event_type_t last) {
  for (;;) {
    yaml_event_t event;
    if (!next(k, &event))
      return FALSE;
    if (event.type == last) {
      if (p->flow)
        p->end = byte_at(k, &event.end_mark);
      yaml_event_delete(&event);
      return TRUE;
    }
    char *key = NULL;
    gsize key_start = byte_at(k, &event.start_mark);
    if (p->kind == EW_NODE_MAP) {
      if (p->children->len == 0)
        p->column = (guint)event.start_mark.column;
      key = event.type == YAML_SCALAR_EVENT ? g_strdup((char *)event.data.scalar.value) : NULL;
      memset(k->inside + key_start, 1, byte_at(k, &event.end_mark) - key_start);
      yaml_event_delete(&event);
      if (!key || !next(k, &event)) {
        g_free(key);
        return FALSE;
      }
    }
    struct place *child = read_place(k, &event);
    yaml_event_delete(&event);
    if (!child) {
      g_free(key);
      return FALSE;
    }
    child->key = key;
    child->key_start = key_start;
    g_ptr_array_add(p->children, child);
    if (!p->flow)
      p->end = child->end; /* the end event of a block stands behind the remarks after it */
  }
}

static struct place *read_place(struct keeping *k, const yaml_event_t *event) {
  struct place *p = g_new0(struct place, 1);
  p->start = byte_at(k, &event->start_mark);
  p->end = byte_at(k, &event->end_mark);
  gboolean good = TRUE;
  g_assert(p->start <= p->end && p->end <= k->size);
  if (event->type == YAML_SCALAR_EVENT) {
    p->kind = EW_NODE_SCALAR;
    p->text = g_strdup((char *)event->data.scalar.value);
    p->lines = event->data.scalar.style == YAML_LITERAL_SCALAR_STYLE ||
               event->data.scalar.style == YAML_FOLDED_SCALAR_STYLE;
    memset(k->inside + p->start, 1, p->end - p->start);
  } else if (event->type == YAML_MAPPING_START_EVENT) {
    p->kind = EW_NODE_MAP;
    p->flow = event->data.mapping_start.style == YAML_FLOW_MAPPING_STYLE;
    p->children = g_ptr_array_new_with_free_func(place_free);
    good = read_children(k, p, YAML_MAPPING_END_EVENT);
  } else if (event->type == YAML_SEQUENCE_START_EVENT) {
    p->kind = EW_NODE_LIST;
    p->flow = event->data.sequence_start.style == YAML_FLOW_SEQUENCE_STYLE;
    p->children = g_ptr_array_new_with_free_func(place_free);
    good = read_children(k, p, YAML_SEQUENCE_END_EVENT);
  } else
    good = FALSE;
  if (!good)
    g_clear_pointer(&p, place_free);
  return p;
}

static struct place *read_text(struct keeping *k) {
  struct place *root = NULL;
  yaml_parser_set_input_string(&k->parser, (const unsigned char *)k->text, k->size);
  for (gboolean going = TRUE; going && !root;) {
    yaml_event_t event;
    if (!next(k, &event))
      return NULL;
    going = event.type == YAML_STREAM_START_EVENT || event.type == YAML_DOCUMENT_START_EVENT;
    if (!going)
      root = read_place(k, &event);
    yaml_event_delete(&event);
  }
  return root;
}

/* ---- remarks ---- */

static gsize line_end(const struct keeping *k, gsize at) {
  const char *end = memchr(k->text + at, '\n', k->size - at);
  return end ? (gsize)(end - k->text) : k->size;
}

/* Remarks that begin in [from, to), each a text from its # to the end of its line. */
static GPtrArray *remarks(const struct keeping *k, gsize from, gsize to) {
  GPtrArray *found = g_ptr_array_new_with_free_func(g_free);
  for (gsize i = from; i < to; i++) {
    if (k->text[i] != '#' || k->inside[i] || (i > 0 && !g_ascii_isspace(k->text[i - 1])))
      continue;
    gsize end = line_end(k, i);
    g_ptr_array_add(found, g_strchomp(g_strndup(k->text + i, end - i)));
    i = end;
  }
  return found;
}

/* ---- what changes ---- */

static void add_edit(struct keeping *k, gsize start, gsize end, char *text) {
  struct edit e = {start, end, text};
  g_assert(text && start <= end && end <= k->size);
  g_array_append_val(k->edits, e);
}

/* The bytes of [start, end) become `text`; remarks among them go to lines of their own behind it. */
static void replace(struct keeping *k, gsize start, gsize end, const char *text) {
  g_autoptr(GPtrArray) inner = remarks(k, start, end);
  if (*text && start > 0 && !g_ascii_isspace(k->text[start - 1]) &&
      !strchr("[{", k->text[start - 1]))
    add_edit(k, start, end, g_strconcat(" ", text, NULL));
  else
    add_edit(k, start, end, g_strdup(text));
  if (inner->len == 0)
    return;
  GString *lines = g_string_new(NULL);
  for (guint i = 0; i < inner->len; i++)
    g_string_append_printf(lines, "\n%s", (char *)inner->pdata[i]);
  gsize at = line_end(k, end);
  add_edit(k, at, at, g_string_free(lines, FALSE));
}

static void drop(struct keeping *k, const struct place *p) {
  gsize start = p->key_start, end = p->end, after = line_end(k, end);
  while (start > 0 && k->text[start - 1] == ' ')
    start--;
  gboolean alone = start == 0 || k->text[start - 1] == '\n';
  for (gsize i = end; i < after; i++)
    alone &= g_ascii_isspace(k->text[i]);
  g_autoptr(GPtrArray) inner = remarks(k, start, end);
  if (alone && inner->len == 0 && after < k->size && !p->lines)
    add_edit(k, start, after + 1, g_strdup(""));
  else
    replace(k, p->key_start, p->end, "");
}

static gboolean same(const struct place *p, const struct ew_node *node) {
  if (p->kind != node->kind)
    return FALSE;
  if (p->kind == EW_NODE_SCALAR)
    return strcmp(p->text, node->text ? node->text : "") == 0;
  if (p->children->len != node->children->len)
    return FALSE;
  for (guint i = 0; i < p->children->len; i++) {
    const struct place *child = p->children->pdata[i];
    const struct ew_node *other =
        p->kind == EW_NODE_MAP ? ew_node_member(node, child->key) : node->children->pdata[i];
    if (!other || !same(child, other))
      return FALSE;
  }
  return TRUE;
}

static const struct place *child_of(const struct place *map, const char *key) {
  for (guint i = 0; i < map->children->len; i++)
    if (strcmp(((struct place *)map->children->pdata[i])->key, key) == 0)
      return map->children->pdata[i];
  return NULL;
}

static void change_map(struct keeping *k, const struct place *map, const struct ew_node *wanted);

static void change(struct keeping *k, const struct place *p, const struct ew_node *wanted) {
  if (same(p, wanted))
    return;
  if (p->kind == EW_NODE_MAP && wanted->kind == EW_NODE_MAP && !p->flow && wanted->children->len) {
    change_map(k, p, wanted);
    return;
  }
  if (p->kind == EW_NODE_SCALAR && wanted->kind == EW_NODE_SCALAR && !p->lines) {
    g_autofree char *text = scalar_text(wanted->text ? wanted->text : "");
    replace(k, p->start, p->end, text);
    return;
  }
  GString *out = g_string_new(NULL);
  write_flow(out, wanted);
  if (p->lines)
    g_string_append_c(out, '\n');
  replace(k, p->start, p->end, out->str);
  g_string_free(out, TRUE);
}

static void append_new(struct keeping *k, const struct place *map, const struct ew_node *wanted) {
  GString *out = g_string_new(NULL);
  for (guint i = 0; i < wanted->children->len; i++) {
    struct ew_node *child = wanted->children->pdata[i];
    if (child_of(map, child->key))
      continue;
    struct ew_node one = {.kind = EW_NODE_MAP, .children = g_ptr_array_new()};
    g_ptr_array_add(one.children, child);
    g_string_append_c(out, '\n');
    write_block(out, &one, map->column);
    g_string_truncate(out, out->len - 1);
    g_ptr_array_unref(one.children);
  }
  gsize at = line_end(k, map->end);
  if (out->len)
    add_edit(k, at, at, g_string_free(out, FALSE));
  else
    g_string_free(out, TRUE);
}

static void change_map(struct keeping *k, const struct place *map, const struct ew_node *wanted) {
  for (guint i = 0; i < map->children->len; i++) {
    const struct place *child = map->children->pdata[i];
    const struct ew_node *to = ew_node_member(wanted, child->key);
    if (to)
      change(k, child, to);
    else
      drop(k, child);
  }
  append_new(k, map, wanted);
}

static int by_start(gconstpointer a, gconstpointer b) {
  const struct edit *one = a, *other = b;
  return one->start != other->start ? (one->start > other->start) - (one->start < other->start)
                                    : (one->end > other->end) - (one->end < other->end);
}

static char *apply(struct keeping *k) {
  GString *out = g_string_new(NULL);
  gsize at = 0;
  g_array_sort(k->edits, by_start);
  for (guint i = 0; i < k->edits->len; i++) {
    const struct edit *e = &g_array_index(k->edits, struct edit, i);
    if (e->start > at)
      g_string_append_len(out, k->text + at, (gssize)(e->start - at));
    g_string_append(out, e->text);
    at = MAX(at, e->end);
  }
  g_string_append_len(out, k->text + at, (gssize)(k->size - at));
  return g_string_free(out, FALSE);
}

/* ---- the whole ---- */

static struct place *open_text(struct keeping *k, const char *text) {
  *k = (struct keeping){.text = text, .size = strlen(text)};
  k->inside = g_malloc0(k->size + 1);
  k->edits = g_array_new(FALSE, FALSE, sizeof(struct edit));
  count_characters(k);
  yaml_parser_initialize(&k->parser);
  return read_text(k);
}

static void close_text(struct keeping *k) {
  for (guint i = 0; i < k->edits->len; i++)
    g_free(g_array_index(k->edits, struct edit, i).text);
  g_array_unref(k->edits);
  g_free(k->byte_of);
  g_free(k->inside);
  yaml_parser_delete(&k->parser);
}

/* Those of `had` that `now` lacks; each counts once. */
static GPtrArray *missing(const GPtrArray *had, const char *now) {
  struct keeping k;
  place_free(open_text(&k, now));
  g_autoptr(GPtrArray) have = remarks(&k, 0, k.size);
  close_text(&k);
  GPtrArray *lost = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < had->len; i++) {
    gboolean found = FALSE;
    for (guint j = 0; j < have->len && !found; j++)
      if (strcmp(have->pdata[j], had->pdata[i]) == 0) {
        g_ptr_array_remove_index_fast(have, j);
        found = TRUE;
      }
    if (!found)
      g_ptr_array_add(lost, g_strdup(had->pdata[i]));
  }
  return lost;
}

/* Is it what was asked for, with every remark? */
static gboolean holds(const char *text, const struct ew_node *wanted, const GPtrArray *had) {
  g_autoptr(ew_node) root = ew_node_parse("kept", text, strlen(text), NULL);
  g_autoptr(GPtrArray) lost = missing(had, text);
  return ew_node_equal(root, wanted) && lost->len == 0;
}

char *ew_yaml_keep(const char *text, const struct ew_node *wanted) {
  struct keeping k;
  struct place *root = open_text(&k, text);
  g_autoptr(GPtrArray) had = remarks(&k, 0, k.size);
  g_autofree char *in_place = NULL;
  if (root && root->kind == EW_NODE_MAP && !root->flow) {
    change_map(&k, root, wanted);
    in_place = apply(&k);
  }
  place_free(root);
  close_text(&k);
  if (in_place && holds(in_place, wanted, had))
    return g_steal_pointer(&in_place);
  g_autofree char *anew = ew_yaml_write(wanted);
  GString *out = g_string_new(anew);
  for (guint i = 0; i < had->len; i++)
    g_string_append_printf(out, "%s\n", (char *)had->pdata[i]);
  return g_string_free(out, FALSE);
}
