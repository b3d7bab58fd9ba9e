/* libyaml's events into a tree, with the limits of node.h checked as it grows: a hostile file is refused when it
 * crosses one, not after it was read. A key that occurs twice is refused. */
#include "base/node.h"
#include "base/as_pointer.h"
#include "base/node_change.h"
#include "base/error.h"
#include "base/language.h"
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <yaml.h>

#define MAX_DEPTH 32
#define MAX_BYTES (4u << 20)
#define MAX_NODES 200000u

void ew_node_free(struct ew_node *node) {
  if (!node)
    return;
  g_free(node->key);
  g_free(node->text);
  if (node->children)
    g_ptr_array_unref(node->children);
  g_free(node);
}

struct ew_node *ew_node_member_of(struct ew_node *map, const char *key) {
  for (guint i = 0; map && map->kind == EW_NODE_MAP && i < map->children->len; i++) {
    struct ew_node *child = g_ptr_array_index(map->children, i);
    if (strcmp(child->key, key) == 0)
      return child;
  }
  return NULL;
}

const struct ew_node *ew_node_member(const struct ew_node *map, const char *key) {
  return ew_node_member_of(ew_as_pointer(map), key);
}

struct reading {
  const char *name;
  yaml_parser_t parser;
  guint nodes;
  GError **error;
};

static struct ew_node *refuse(struct reading *reading, gsize line, const char *what) {
  ew_refuse(reading->error, "%s, line %zu: %s", reading->name, line + 1, ew_tr(what));
  return NULL;
}

static gboolean next_event(struct reading *reading, yaml_event_t *event) {
  if (yaml_parser_parse(&reading->parser, event))
    return TRUE;
  gsize line = reading->parser.problem_mark.line;
  return ew_refuse(reading->error, "%s, line %zu: not valid YAML: %s", reading->name, line + 1,
                   reading->parser.problem ? reading->parser.problem : "?");
}

static struct ew_node *build(struct reading *reading, yaml_event_t *event, guint depth);

static struct ew_node *new_node(enum ew_node_kind kind, const yaml_event_t *event) {
  struct ew_node *node = g_new0(struct ew_node, 1);
  node->kind = kind;
  node->line = (guint)event->start_mark.line + 1;
  if (kind != EW_NODE_SCALAR)
    node->children = g_ptr_array_new_with_free_func((GDestroyNotify)ew_node_free);
  return node;
}

/* The members of a map or the items of a list, up to its end event. */
static gboolean fill(struct reading *reading, struct ew_node *node, guint depth) {
  g_autoptr(GHashTable) seen = g_hash_table_new(g_str_hash, g_str_equal);
  for (;;) {
    yaml_event_t event;
    if (!next_event(reading, &event))
      return FALSE;
    if (event.type == YAML_MAPPING_END_EVENT || event.type == YAML_SEQUENCE_END_EVENT) {
      yaml_event_delete(&event);
      return TRUE;
    }
    g_autofree char *key = NULL;
    if (node->kind == EW_NODE_MAP) {
      gsize line = event.start_mark.line;
      gboolean plain = event.type == YAML_SCALAR_EVENT;
      if (plain)
        key = g_strndup((char *)event.data.scalar.value, event.data.scalar.length);
      yaml_event_delete(&event);
      if (!plain || strlen(key) > 120)
        return refuse(reading, line, EW_TEXT("a key must be a short plain word")) != NULL;
      if (g_hash_table_contains(seen, key)) {
        return ew_refuse(reading->error, "%s, line %zu: '%s' is given twice: keep one",
                         reading->name, line + 1, key);
      }
      if (!next_event(reading, &event))
        return FALSE;
    }
    struct ew_node *child = build(reading, &event, depth + 1);
    if (!child)
      return FALSE;
    child->key = g_steal_pointer(&key);
    g_assert((child->key != NULL) == (node->kind == EW_NODE_MAP));
    if (child->key)
      g_hash_table_add(seen, child->key);
    g_ptr_array_add(node->children, child);
  }
}

static struct ew_node *build_scalar(struct reading *reading, yaml_event_t *event) {
  gsize line = event->start_mark.line;
  if (memchr(event->data.scalar.value, 0, event->data.scalar.length))
    return refuse(reading, line, EW_TEXT("the text contains a NUL byte"));
  struct ew_node *node = new_node(EW_NODE_SCALAR, event);
  node->text = g_strndup((char *)event->data.scalar.value, event->data.scalar.length);
  node->quoted = event->data.scalar.style != YAML_PLAIN_SCALAR_STYLE;
  return node;
}

/* One value from its first event on; the event is deleted. */
static struct ew_node *build(struct reading *reading, yaml_event_t *event, guint depth) {
  gsize line = event->start_mark.line;
  yaml_char_t *anchor = NULL, *tag = NULL;
  struct ew_node *node = NULL;
  if (depth > MAX_DEPTH || ++reading->nodes > MAX_NODES)
    refuse(reading, line,
           depth > MAX_DEPTH ? EW_TEXT("nested deeper than 32 levels")
                             : EW_TEXT("more than 200,000 values"));
  else if (event->type == YAML_ALIAS_EVENT)
    refuse(reading, line, EW_TEXT("aliases (*name) are not accepted: write the value out"));
  else if (event->type == YAML_SCALAR_EVENT) {
    anchor = event->data.scalar.anchor, tag = event->data.scalar.tag;
    if (!anchor && !tag)
      node = build_scalar(reading, event);
  } else {
    gboolean map = event->type == YAML_MAPPING_START_EVENT;
    anchor = map ? event->data.mapping_start.anchor : event->data.sequence_start.anchor;
    tag = map ? event->data.mapping_start.tag : event->data.sequence_start.tag;
    if (!anchor && !tag) {
      node = new_node(map ? EW_NODE_MAP : EW_NODE_LIST, event);
      if (!fill(reading, node, depth)) {
        ew_node_free(node);
        node = NULL;
      }
    }
  }
  if (anchor || tag)
    refuse(reading, line,
           EW_TEXT("anchors (&name) and tags (!name) are not accepted: write the value out"));
  yaml_event_delete(event);
  return node;
}

static gboolean expect(struct reading *reading, yaml_event_type_t type, const char *otherwise) {
  yaml_event_t event;
  if (!next_event(reading, &event))
    return FALSE;
  gboolean good = event.type == type;
  gsize line = event.start_mark.line;
  yaml_event_delete(&event);
  return good ? TRUE : refuse(reading, line, otherwise) != NULL;
}

static struct ew_node *parse_document(struct reading *reading) {
  if (!expect(reading, YAML_STREAM_START_EVENT, EW_TEXT("not valid YAML")) ||
      !expect(reading, YAML_DOCUMENT_START_EVENT, EW_TEXT("the file is empty")))
    return NULL;
  yaml_event_t event;
  if (!next_event(reading, &event))
    return NULL;
  struct ew_node *root = build(reading, &event, 0);
  if (root && expect(reading, YAML_DOCUMENT_END_EVENT, EW_TEXT("not valid YAML")) &&
      expect(reading, YAML_STREAM_END_EVENT,
             EW_TEXT("a second document follows: write one to a file")))
    return root;
  ew_node_free(root);
  return NULL;
}

struct ew_node *ew_node_parse(const char *name, const char *text, gsize size, GError **error) {
  struct reading reading = {.name = name, .error = error};
  if (size > MAX_BYTES) {
    ew_refuse(error, "%s: %zu bytes; the most that is read is 4 MB: is it the right file?", name,
              size);
    return NULL;
  }
  if (!yaml_parser_initialize(&reading.parser)) {
    ew_fail(error, "out of memory for the YAML reader");
    return NULL;
  }
  yaml_parser_set_input_string(&reading.parser, (const unsigned char *)text, size);
  struct ew_node *root = parse_document(&reading);
  yaml_parser_delete(&reading.parser);
  return root;
}

struct ew_node *ew_node_read(const char *path, GError **error) {
  struct stat facts;
  if (stat(path, &facts) != 0) {
    ew_refuse(error, "%s: %s", path, g_strerror(errno));
    return NULL;
  }
  if (!S_ISREG(facts.st_mode)) {
    ew_refuse(error, "%s: not a regular file", path);
    return NULL;
  }
  if (facts.st_size > MAX_BYTES) {
    ew_refuse(error, "%s: larger than 4 MB: is it the right file?", path);
    return NULL;
  }
  g_autofree char *text = NULL;
  gsize size;
  g_autoptr(GError) problem = NULL;
  if (!g_file_get_contents(path, &text, &size, &problem)) {
    ew_refuse(error, "%s", problem->message);
    return NULL;
  }
  return ew_node_parse(path, text, size, error);
}

/* ---- made ---- */

static struct ew_node *new_child(struct ew_node *map, enum ew_node_kind kind, const char *key) {
  struct ew_node *node = g_new0(struct ew_node, 1);
  node->kind = kind;
  node->key = g_strdup(key);
  node->line = 1;
  if (kind != EW_NODE_SCALAR)
    node->children = g_ptr_array_new_with_free_func((GDestroyNotify)ew_node_free);
  if (map)
    g_ptr_array_add(map->children, node);
  return node;
}

struct ew_node *ew_node_new_map(void) {
  return new_child(NULL, EW_NODE_MAP, NULL);
}

void ew_node_put(struct ew_node *map, const char *key, const char *text) {
  if (text)
    new_child(map, EW_NODE_SCALAR, key)->text = g_strdup(text);
}

void ew_node_put_list(struct ew_node *map, const char *key, const char *const *texts) {
  struct ew_node *list = new_child(map, EW_NODE_LIST, key);
  for (int i = 0; texts[i]; i++)
    ew_node_put(list, NULL, texts[i]);
}
